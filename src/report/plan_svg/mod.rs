//! One cue's motion as a drawing: each axis against its limits, which limit is nearest where, and what more of each would
//! save. SVG of ours, on its own: it opens in any browser and prints.

mod nearest;
mod strips;
mod take;

pub use take::take_svg;

use maud::{Markup, html};

use super::plan_text::passed;
use super::starts::starts;
use crate::proof::{AxisPath, CuePlan, MovePlan, Plan, Spare};
use crate::show::{CueId, Show};

/// Of the sheet, in its own units.
const WIDTH: f64 = 1120.0;
const LEFT: f64 = 24.0;
/// Where the time axes begin and how much of the sheet they take.
const PLOTS: f64 = 112.0;
const RIGHT: f64 = 24.0;
const HEAD: f64 = 78.0;
const LINE: f64 = 17.0;

/// Samples of a curve, evenly spread; each change of jerk is seen from both sides beside them.
const SAMPLES: usize = 800;

/// Dots of a recording in one box at most.
const DOTS: usize = 4000;

const STYLE: &str = "text{font:12px Seravek,Candara,Ubuntu,'Noto Sans','DejaVu Sans',sans-serif;fill:#14202e}\
    .title{font:600 24px 'Iowan Old Style','Palatino Linotype',Palatino,'Book Antiqua',Georgia,serif}\
    .axis{font-weight:600}.dim{fill:#53616f}.small{font-size:10.5px}.end{text-anchor:end}.mid{text-anchor:middle}\
    path{fill:none;stroke:#14202e;stroke-width:1.5}.frame{stroke:#c9d1d6;stroke-width:1}.zero{stroke:#c9d1d6;stroke-width:1}\
    .limit{stroke:#b3141d;stroke-width:1;stroke-dasharray:5 3}.travel{stroke:#53616f;stroke-width:1;stroke-dasharray:1 3}\
    .curve{stroke:#1f5f9e}.near{fill:#dfe8ea;stroke:none}.at{fill:#b3141d;stroke:none}.rule{stroke:#14202e;stroke-width:1.5}\
    .mark{stroke:#14202e;stroke-width:7;stroke-linecap:round}.dots{stroke:#53616f;stroke-width:2;stroke-linecap:round}";

/// An axis that the cue moves, and its move.
#[derive(Clone, Copy)]
struct Moved<'a> {
    step: &'a MovePlan,
    path: &'a AxisPath,
    /// What was recorded of it: time of the cue, position.
    samples: &'a [(f64, f64)],
}

/// `spare` is of the cue's moves, in the order of the plan.
pub fn plan_svg(show: &Show, id: CueId, plan: &Plan, spare: &[Spare]) -> String {
    let (cue, plan) = (show.cue(id), plan.cue(id));
    let moved: Vec<Moved> = plan
        .moves
        .iter()
        .flat_map(|step| {
            step.axes.iter().filter(|path| path.moves()).map(move |path| Moved { step, path, samples: &[] })
        })
        .collect();
    let (rows, below) = (strips::height(moved.len()), nearest::HEIGHT);
    let told = savings(show, id, plan, spare);
    let height = HEAD + rows + below + LINE * (told.len() as f64 + 2.5);
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDTH} {height:.0}")) width=(WIDTH) height=(format!("{height:.0}")) {
            title { "Cue " (cue.number) ", " (cue.name) }
            style { (maud::PreEscaped(STYLE)) }
            rect width=(WIDTH) height=(format!("{height:.0}")) fill="#fff" {}
            text.title x=(LEFT) y="36" { "Cue " (cue.number) ", " (cue.name) }
            text.dim x=(LEFT) y="58" { (facts(show, id, plan)) }
            path.rule d=(format!("M{LEFT} 68H{}", WIDTH - RIGHT)) {}
            @if moved.is_empty() {
                text x=(LEFT) y=(HEAD + LINE) { "Nothing moves." }
            } @else {
                (strips::draw(show, plan, &moved, HEAD))
                (nearest::draw(show, plan, &moved, HEAD + rows, "the cue is given more time than it needs"))
                @for (index, line) in told.iter().enumerate() {
                    text.small[index > 0] x=(LEFT) y=(HEAD + rows + below + LINE * (index as f64 + 1.0)) { (line) }
                }
            }
        }
    };
    format!("{}\n", drawing.into_string())
}

fn facts(show: &Show, id: CueId, plan: &CuePlan) -> String {
    let paced = plan.bottleneck.map_or_else(String::new, |axis| format!(", paced by {}", show.axis_name(axis)));
    format!(
        "{}: starts {}, takes {:.2} s, stops in {:.2} s at most{paced}",
        show.name,
        starts(show, id),
        plan.duration,
        plan.stop_time
    )
}

/// A heading, then a line for each move, and one for the marks that it goes through.
fn savings(show: &Show, id: CueId, plan: &CuePlan, spare: &[Spare]) -> Vec<String> {
    let head =
        "What the limits cost: the least time of each move, and what a tenth more of a limit would take off that.";
    let mut told = vec![head.to_owned()];
    for ((step, written), spare) in plan.moves.iter().zip(&show.cue(id).moves).zip(spare) {
        let rig = &show.rig(step.rig).name;
        told.push(format!("{rig}: {}", spare_words(show, step, spare)));
        if !step.passes.is_empty() {
            told.push(format!("{rig} goes{}, where the dots are.", passed(written, step)));
        }
    }
    told
}

/// "planned 6.00 s, at least 4.21 s; a tenth more speed of swing saves 0.30 s, acceleration of swing 0.08 s".
pub fn spare_words(show: &Show, step: &MovePlan, spare: &Spare) -> String {
    let saved: Vec<String> = spare
        .savings
        .iter()
        .map(|saving| format!("{} of {} {:.2} s", saving.bound.word(), show.axis(saving.axis).name, saving.seconds))
        .collect();
    let saved = match &saved[..] {
        [] => "a tenth more of any one limit saves nothing".into(),
        [..] => format!("a tenth more saves: {}", saved.join(", ")),
    };
    format!("planned {:.2} s, at least {:.2} s; {saved}", step.duration(), spare.least)
}

/// The times at which a cue is looked at, s, rising: evenly spread, and each change of jerk from both sides.
fn times(plan: &CuePlan, moved: &[Moved<'_>]) -> Vec<f64> {
    let mut times: Vec<f64> = (0..=SAMPLES).map(|i| plan.duration * i as f64 / SAMPLES as f64).collect();
    for Moved { step, path, .. } in moved {
        let changes = step.changes(path).flat_map(|at| [at - 1e-7, at + 1e-7]);
        times.extend(changes.filter(|at| (0.0..=plan.duration).contains(at)));
    }
    times.sort_by(f64::total_cmp);
    times
}

/// From the time of a cue, s, into a box that begins at `left` and is `width` wide.
fn across(time: f64, duration: f64, left: f64, width: f64) -> f64 {
    left + width * time / duration.max(1e-9)
}

/// Whole seconds to be written beside a time axis: at most about `most` of them, and the end.
fn seconds(duration: f64, most: usize) -> Vec<f64> {
    let step = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0]
        .into_iter()
        .find(|step| duration / step <= most as f64)
        .unwrap_or(7200.0);
    (0..).map(|index| f64::from(index) * step).take_while(|at| *at <= duration + 1e-9).collect()
}

/// Points of a curve as a path.
fn line(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut text = String::new();
    for (index, (x, y)) in points.enumerate() {
        text.push_str(&format!("{}{x:.1} {y:.1}", if index == 0 { "M" } else { "L" }));
    }
    text
}

/// Points of a recording, each by itself; of very many, every so many.
fn dots(points: impl ExactSizeIterator<Item = (f64, f64)>) -> String {
    let every = points.len().div_ceil(DOTS).max(1);
    points.step_by(every).map(|(x, y)| format!("M{x:.1} {y:.1}h0")).collect()
}

fn label(class: &'static str, x: f64, y: f64, words: &str) -> Markup {
    html! { text class=(class) x=(format!("{x:.1}")) y=(format!("{y:.1}")) { (words) } }
}
