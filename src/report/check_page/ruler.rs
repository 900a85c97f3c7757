//! The act on a ruler: what runs when, if every call comes as the list has it.

use maud::{Markup, html};

use super::schedule::{Slot, length, motion};
use crate::proof::Plan;
use crate::report::rehearsal_words::{clock, minutes};
use crate::show::{After, RigId, Show};

/// s on a line of the ruler: the shortest that holds the act, else the longest; of an act that would take more lines
/// than this, a multiple.
const LINES: [f64; 3] = [30.0, 60.0, 180.0];
const LINES_MAX: f64 = 40.0;
/// Numbers stand at least so far apart, as a part of a line.
const LABEL: f64 = 0.075;

/// One move on its lane, s from the first GO.
struct Bar {
    rig: RigId,
    from: f64,
    to: f64,
    cue: String,
}

pub fn ruler(show: &Show, plan: &Plan, slots: &[Slot]) -> Markup {
    let act = length(slots);
    let bars = bars(show, plan, slots);
    let [.., longest] = LINES;
    let line = LINES.into_iter().find(|line| *line >= act).unwrap_or(longest);
    let line = line * (act / (line * LINES_MAX)).ceil().max(1.0);
    let lines = (act / line).ceil().max(1.0) as usize;
    html! {
        section {
            h2 { "The act on a ruler" }
            p.note {
                (clock(act)) " from the first GO to the last end, " (clock(motion(show, plan, slots)))
                " of that with anything in motion, if every call comes its gap after the one before, or where none is \
                 written as soon as everything has ended. Lines on which nothing moves are left out."
                @if show.cues.iter().any(|cue| matches!(cue.after, Some(After::When(_)))) {
                    " A follow of a condition may start later than it is drawn."
                }
            }
            @for at in 0..lines { (one_line(show, &bars, at as f64 * line, line)) }
        }
    }
}

fn bars(show: &Show, plan: &Plan, slots: &[Slot]) -> Vec<Bar> {
    let mut bars = Vec::new();
    for id in show.cue_ids() {
        for step in &plan.cue(id).moves {
            let begins = slots[id.index()].from;
            let (from, to) = (begins + step.delay, begins + step.end());
            bars.push(Bar { rig: step.rig, from, to, cue: show.cue(id).number.to_string() });
        }
    }
    bars.sort_by(|a, b| a.from.total_cmp(&b.from));
    bars
}

fn one_line(show: &Show, bars: &[Bar], from: f64, length: f64) -> Markup {
    let to = from + length;
    let within: Vec<&Bar> = bars.iter().filter(|bar| bar.from < to && bar.to > from).collect();
    if within.is_empty() {
        return html! {};
    }
    let place = |time: f64| format!("{:.2}%", 100.0 * ((time - from) / length).clamp(0.0, 1.0));
    let marks = (0..6).map(|sixth| from + length * f64::from(sixth) / 6.0);
    html! {
        div.ruler {
            @for rig in show.rig_ids().filter(|rig| within.iter().any(|bar| bar.rig == *rig)) {
                @let lane: Vec<&&Bar> = within.iter().filter(|bar| bar.rig == rig).collect();
                span.rig-of { (show.rig(rig).name) }
                div.lane {
                    @for bar in &lane {
                        @let (left, right) = (bar.from.max(from), bar.to.min(to));
                        i style={ "left:" (place(left)) ";width:" (format!("{:.2}%", 100.0 * (right - left) / length)) } {}
                    }
                    @for (time, cue) in numbers(&lane, from, length) { b style={ "left:" (place(time)) } { (cue) } }
                }
            }
            div.marks { @for time in marks { span style={ "left:" (place(time)) } { (minutes(time)) } } }
        }
    }
}

/// The numbers of cues that begin on the line, and of one that goes on from the line before; those left out that would
/// stand in another.
fn numbers<'a>(lane: &[&&'a Bar], from: f64, length: f64) -> Vec<(f64, &'a str)> {
    let mut last = f64::NEG_INFINITY;
    let mut shown = Vec::new();
    for bar in lane {
        // A number does not hang over the end of the line.
        let time = bar.from.clamp(from, from + length * (1.0 - LABEL / 2.0));
        if time >= last + LABEL * length {
            last = time;
            shown.push((time, bar.cue.as_str()));
        }
    }
    shown
}
