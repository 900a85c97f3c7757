//! A take as a drawing: its samples and the path that is played, what the path leaves of them, and the limits.

use maud::{Markup, html};

use super::{HEAD, LEFT, LINE, Moved, PLOTS, RIGHT, STYLE, WIDTH, across, dots, label, nearest, seconds, strips};
use crate::proof::CuePlan;
use crate::report::take::{TakePart, TakeTold};
use crate::show::{AxisId, Show};

/// Of the box that shows what the path leaves of an axis's samples.
const TALL: f64 = 56.0;
const ROW: f64 = TALL + 20.0;
const NAMES: f64 = 22.0;

/// An axis that is played, with its samples: when each is played, s, and its value.
struct Traced<'a> {
    part: &'a TakePart,
    index: usize,
    samples: Vec<(f64, f64)>,
}

impl Traced<'_> {
    fn axis(&self) -> AxisId {
        self.part.playing.columns[self.index].0
    }

    /// How far each sample is from the path that is played.
    fn left(&self) -> Vec<(f64, f64)> {
        let Some((step, _)) = &self.part.played else { return Vec::new() };
        let off = |&(time, value): &(f64, f64)| (time, value - step.at(&step.axes[self.index], time).position);
        self.samples.iter().map(off).collect()
    }
}

/// Of the parts that are paths, at the pace at which they would be played.
pub fn take_svg(told: TakeTold) -> String {
    let show = told.show;
    let traced: Vec<Traced> = told.parts.iter().flat_map(|part| traced(told, part)).collect();
    let moved: Vec<Moved> = traced.iter().filter_map(moved).collect();
    let duration = moved.iter().map(|one| one.step.duration()).fold(0.0, f64::max);
    let plan = CuePlan { duration, ..CuePlan::EMPTY };
    let rows = strips::height(moved.len());
    let below = HEAD + rows + nearest::HEIGHT;
    let height = below + NAMES + ROW * traced.len() as f64 + 2.0 * LINE;
    let (length, count) = (told.take.length(), told.take.times.len());
    let facts = format!("{}: recorded in {length:.2} s, {count} samples; played in {duration:.2} s", show.name);
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDTH} {height:.0}")) width=(WIDTH) height=(format!("{height:.0}")) {
            title { "Take " (told.take.name) }
            style { (maud::PreEscaped(STYLE)) }
            rect width=(WIDTH) height=(format!("{height:.0}")) fill="#fff" {}
            text.title x=(LEFT) y="36" { "Take " (told.take.name) }
            text.dim x=(LEFT) y="58" { (facts) }
            path.rule d=(format!("M{LEFT} 68H{}", WIDTH - RIGHT)) {}
            @if moved.is_empty() {
                text x=(LEFT) y=(HEAD + LINE) { "It is no path that could be drawn." }
            } @else {
                (strips::draw(show, &plan, &moved, HEAD))
                (nearest::draw(show, &plan, &moved, HEAD + rows, "it could be played faster"))
                (left_over(show, duration, &traced, below))
            }
        }
    };
    format!("{}\n", drawing.into_string())
}

fn traced<'a>(told: TakeTold<'a>, part: &'a TakePart) -> Vec<Traced<'a>> {
    let Some((step, rendition)) = &part.played else { return Vec::new() };
    let performance = &rendition.performance;
    // Played more slowly if its limits ask for it.
    let stretch = step.duration() / performance.phrase.duration();
    let played: Vec<f64> =
        told.take.times.iter().map(|time| stretch * performance.played(time - told.take.times[0])).collect();
    let trace = |(index, &(_, column)): (usize, &(AxisId, usize))| {
        let values = told.take.columns[column].values.iter().copied();
        Traced { part, index, samples: played.iter().copied().zip(values).collect() }
    };
    part.playing.columns.iter().enumerate().map(trace).collect()
}

fn moved<'a>(traced: &'a Traced<'a>) -> Option<Moved<'a>> {
    let (step, _) = traced.part.played.as_ref()?;
    Some(Moved { step, path: &step.axes[traced.index], samples: &traced.samples })
}

/// What the path leaves of each axis's samples, within the tolerance on both sides.
fn left_over(show: &Show, duration: f64, traced: &[Traced<'_>], top: f64) -> Markup {
    let width = WIDTH - RIGHT - PLOTS;
    let bottom = top + NAMES + ROW * traced.len() as f64;
    html! {
        (label("dim", PLOTS, top + 14.0, "Samples beside the path: between the dashed lines they are within the tolerance of their axis."))
        @for (row, one) in traced.iter().enumerate() {
            @let axis = show.axis(one.axis());
            @let box_top = top + NAMES + ROW * row as f64;
            @let up = |value: f64| box_top + TALL * (0.5 - 0.42 * value / axis.tolerance);
            (label("axis", LEFT, box_top + 16.0, &show.rig(axis.rig).name))
            (label("axis", LEFT, box_top + 32.0, &axis.name))
            path.frame d=(format!("M{PLOTS} {box_top:.1}h{width}v{TALL}h{:.1}z", -width)) {}
            @for (class, at) in [("limit", axis.tolerance), ("zero", 0.0), ("limit", -axis.tolerance)] {
                path class=(class) d=(format!("M{PLOTS} {:.1}h{width}", up(at))) {}
            }
            @let left = one.left();
            path.dots d=(dots(left.iter().map(|&(time, off)| (across(time, duration, PLOTS, width), up(off))))) {}
            @let words = format!("±{}{}", axis.tolerance, axis.unit.sign());
            (label("dim small end", PLOTS - 6.0, up(-axis.tolerance) + 4.0, &words))
        }
        @for at in seconds(duration, 20) {
            (label("dim small mid", across(at, duration, PLOTS, width), bottom, &format!("{at}")))
        }
    }
}
