//! Position, speed, acceleration and jerk of each axis beside each other, with what limits them.

use maud::{Markup, html};

use super::{LEFT, Moved, PLOTS, RIGHT, WIDTH, across, dots, label, line, seconds, times};
use crate::motion::Sample;
use crate::proof::{Bound, CuePlan};
use crate::show::Show;
use crate::wire::words::amount;

const GAP: f64 = 16.0;
const TALL: f64 = 84.0;
const ROW: f64 = TALL + 24.0;
/// For the names of the columns.
const NAMES: f64 = 22.0;

/// Of all rows, with the scale below them.
pub fn height(rows: usize) -> f64 {
    NAMES + ROW * rows as f64 + 20.0
}

const COLUMNS: [&str; 4] = ["position", "speed", "acceleration", "jerk"];

pub fn draw(show: &Show, plan: &CuePlan, moved: &[Moved<'_>], top: f64) -> Markup {
    let times = times(plan, moved);
    let width = (WIDTH - RIGHT - PLOTS - 3.0 * GAP) / 4.0;
    let left = |column: usize| PLOTS + column as f64 * (width + GAP);
    let bottom = top + NAMES + ROW * moved.len() as f64;
    html! {
        @for (column, name) in COLUMNS.into_iter().enumerate() {
            (label("dim", left(column), top + 14.0, name))
            @for at in seconds(plan.duration, 6) {
                (label("dim small mid", across(at, plan.duration, left(column), width), bottom, &format!("{at}")))
            }
            (label("dim small end", left(column) + width, bottom + 12.0, "s"))
        }
        @for (row, one) in moved.iter().enumerate() {
            @let y = top + NAMES + ROW * row as f64;
            (label("axis", LEFT, y + 16.0, &show.rig(one.step.rig).name))
            (label("axis", LEFT, y + 32.0, &show.axis(one.path.axis).name))
            @for column in 0..COLUMNS.len() {
                (strip(show, plan, *one, column, &times, [left(column), y, width]))
            }
        }
    }
}

/// What is drawn of an axis: its values, the range of the box, and the lines of its limits.
struct Strip {
    value: fn(Sample) -> f64,
    range: [f64; 2],
    /// The class of each line, and its value.
    lines: Vec<(&'static str, f64)>,
    words: String,
}

fn strip_of(show: &Show, Moved { step, path, .. }: Moved<'_>, column: usize) -> Strip {
    let axis = show.axis(path.axis);
    let sign = axis.unit.sign();
    let bounded = |value: fn(Sample) -> f64, bound: Bound, found: f64, per: &str| {
        let limit = bound.of(axis.run);
        let lines = vec![("limit", limit), ("limit", -limit), ("zero", 0.0)];
        let words = format!("{:.3}{sign}/{per}, {:.0} % of {limit}", found, 100.0 * found / limit);
        Strip { value, range: [-limit, limit], lines, words }
    };
    let peaks = step.peaks(path);
    match column {
        0 => {
            let way = step.positions(path, step.delay, step.end());
            let [low, high] = axis.reach();
            let room = 0.15 * (way.high - way.low).max(1e-6);
            let [from, to, least, most] = [path.from, path.to, low, high].map(|at| amount(at, axis.unit));
            let words = format!("{from} to {to}, travel {least} to {most}");
            let lines = vec![("travel", low), ("travel", high)];
            Strip { value: |at| at.position, range: [way.low - room, way.high + room], lines, words }
        }
        1 => bounded(|at| at.speed, Bound::Speed, peaks.speed, "s"),
        2 => bounded(|at| at.acceleration, Bound::Acceleration, peaks.acceleration, "s²"),
        _ => bounded(|at| at.jerk, Bound::Jerk, peaks.jerk, "s³"),
    }
}

fn strip(
    show: &Show,
    plan: &CuePlan,
    one: Moved<'_>,
    column: usize,
    times: &[f64],
    [left, top, width]: [f64; 3],
) -> Markup {
    let Strip { value, range: [low, high], lines, words } = strip_of(show, one, column);
    let up = |value: f64| top + TALL * (0.94 - 0.88 * (value - low) / (high - low).max(1e-12));
    let inside = |value: f64| (low..=high).contains(&value);
    let points = times
        .iter()
        .map(|&time| (across(time, plan.duration, left, width), up(value(one.step.at(one.path, time)))));
    html! {
        path.frame d=(format!("M{left:.1} {top:.1}h{width:.1}v{TALL}h{:.1}z", -width)) {}
        @for (class, at) in lines.into_iter().filter(|(_, at)| inside(*at)) {
            path class=(class) d=(format!("M{left:.1} {:.1}h{width:.1}", up(at))) {}
        }
        @if column == 0 && !one.samples.is_empty() {
            @let recorded = one.samples.iter().map(|&(time, value)| (across(time, plan.duration, left, width), up(value)));
            path.dots d=(dots(recorded)) {}
        }
        path.curve d=(line(points)) {}
        @if column == 0 {
            @for time in one.step.passes.iter().map(|passed| one.step.delay + passed) {
                @let (x, y) = (across(time, plan.duration, left, width), up(value(one.step.at(one.path, time))));
                path.mark d=(format!("M{x:.1} {y:.1}h0")) {}
            }
        }
        (label("dim small", left, top + TALL + 12.0, &words))
    }
}
