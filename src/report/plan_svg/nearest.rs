//! Which limit a cue is nearest to at each time, and how near.

use maud::{Markup, html};

use super::{LEFT, Moved, PLOTS, RIGHT, WIDTH, across, label, line, seconds, times};
use crate::proof::{Bound, CuePlan};
use crate::show::Show;

pub const HEIGHT: f64 = 164.0;
const TALL: f64 = 70.0;
/// Of the band below the box, and from one row of names below that to the next.
const BAND: f64 = 5.0;
const NAMES: f64 = 12.0;
/// Names that would cover each other stand in rows.
const ROWS: usize = 3;
/// A part of a limit from which it is said to be reached.
const REACHED: f64 = 0.995;
/// A letter takes at most so much of the sheet.
const LETTER: f64 = 5.8;
/// A span that is narrower than this on the sheet has its name only where it is pointed at.
const NARROW: f64 = 3.0;

/// One limit of one axis, the nearest of all for a while.
struct Span {
    from: f64,
    to: f64,
    /// Into the moved axes.
    axis: usize,
    bound: Bound,
    /// The greatest part of the limit that is taken.
    most: f64,
}

/// The nearest limit at a time: whose, which, and the part of it that is taken.
fn nearest(show: &Show, moved: &[Moved<'_>], time: f64) -> (usize, Bound, f64) {
    let parts = moved.iter().enumerate().flat_map(|(index, Moved { step, path, .. })| {
        let (at, limits) = (step.at(path, time), show.axis(path.axis).run);
        Bound::ALL.map(|bound| {
            let value = match bound {
                Bound::Speed => at.speed,
                Bound::Acceleration => at.acceleration,
                Bound::Jerk => at.jerk,
            };
            (index, bound, value.abs() / bound.of(limits))
        })
    });
    // Of two that are equally near the first is told, so that the name does not flicker.
    parts.reduce(|best, next| if next.2 > best.2 + 1e-6 { next } else { best }).unwrap_or((0, Bound::Speed, 0.0))
}

fn spans(found: &[(f64, (usize, Bound, f64))]) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    for pair in found.windows(2) {
        let (from, (axis, bound, part)) = pair[0];
        match spans.last_mut() {
            Some(span) if span.axis == axis && span.bound == bound => {
                (span.to, span.most) = (pair[1].0, span.most.max(part));
            }
            Some(_) | None => spans.push(Span { from, to: pair[1].0, axis, bound, most: part }),
        }
    }
    spans
}

/// A name below the band: where it stands, in which row, and of what span.
struct Name {
    span: usize,
    row: usize,
    left: f64,
}

/// Names for as many spans as there is room for, the widest first, each in the first row where it covers no other.
fn names(spans: &[Span], x: impl Fn(f64) -> f64, words: impl Fn(&Span) -> String) -> Vec<Name> {
    let wide = |span: &Span| x(span.to) - x(span.from);
    let mut order: Vec<usize> = (0..spans.len()).filter(|&span| wide(&spans[span]) >= NARROW).collect();
    order.sort_by(|&a, &b| wide(&spans[b]).total_cmp(&wide(&spans[a])));
    let mut taken: [Vec<[f64; 2]>; ROWS] = Default::default();
    let mut names = Vec::new();
    for span in order {
        let length = LETTER * words(&spans[span]).len() as f64;
        let left = x(spans[span].from).min(WIDTH - length);
        let covers = |[from, to]: &[f64; 2]| left < *to && *from < left + length;
        if let Some(row) = taken.iter().position(|row| !row.iter().any(covers)) {
            taken[row].push([left, left + length]);
            names.push(Name { span, row, left });
        }
    }
    names
}

/// `spare` says why no limit is reached, where none is.
pub fn draw(show: &Show, plan: &CuePlan, moved: &[Moved<'_>], top: f64, spare: &str) -> Markup {
    let found: Vec<_> = times(plan, moved).into_iter().map(|time| (time, nearest(show, moved, time))).collect();
    let width = WIDTH - RIGHT - PLOTS;
    let x = |time: f64| across(time, plan.duration, PLOTS, width);
    let box_top = top + 26.0;
    let up = |part: f64| box_top + TALL * (1.0 - part.min(1.05));
    let most = found.iter().map(|(_, (_, _, part))| *part).fold(0.0, f64::max);
    let heading = if most > REACHED {
        "Nearest limit: where the band is red, it is reached, and the move could not be faster there.".to_owned()
    } else {
        format!("Nearest limit: never more than {:.0} % of it, since {spare}.", 100.0 * most)
    };
    let (spans, band) = (spans(&found), box_top + TALL + 3.0);
    let words = |span: &Span| format!("{} {}", show.axis_name(moved[span.axis].path.axis), span.bound.word());
    html! {
        (label("dim", PLOTS, top + 14.0, &heading))
        (label("axis", LEFT, box_top + 16.0, "all axes"))
        (label("dim small end", PLOTS - 6.0, up(1.0) + 4.0, "100 %"))
        (label("dim small end", PLOTS - 6.0, up(0.0), "0"))
        path.frame d=(format!("M{PLOTS} {box_top:.1}h{width}v{TALL}h{:.1}z", -width)) {}
        path.limit d=(format!("M{PLOTS} {:.1}h{width}", up(1.0))) {}
        path.curve d=(line(found.iter().map(|(time, (_, _, part))| (x(*time), up(*part))))) {}
        @for span in &spans {
            @let (left, right) = (x(span.from), x(span.to));
            rect class=(if span.most > REACHED { "at" } else { "near" }) x=(format!("{left:.1}")) y=(format!("{band:.1}"))
                width=(format!("{:.1}", (right - left - 1.0).max(0.3))) height=(BAND) {
                title { (format!("{}, {:.2} s to {:.2} s: {:.0} %", words(span), span.from, span.to, 100.0 * span.most)) }
            }
        }
        @for Name { span, row, left } in names(&spans, x, words) {
            @let below = band + BAND + NAMES * (row as f64 + 1.0);
            @if row > 0 {
                path.frame d=(format!("M{:.1} {:.1}V{below:.1}", x(spans[span].from), band + BAND)) {}
            }
            (label("small", left + if row > 0 { 2.0 } else { 0.0 }, below, &words(&spans[span])))
        }
        @for at in seconds(plan.duration, 20) {
            (label("dim small mid", x(at), band + BAND + NAMES * (ROWS as f64 + 1.0) + 2.0, &format!("{at}")))
        }
    }
}
