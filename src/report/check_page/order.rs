//! The running order, with all that the check found out about each cue.

use maud::{Markup, html};

use super::schedule::Slot;
use super::windows;
use crate::proof::Proof;
use crate::report::check_json::rests_words;
use crate::report::onward::shut_in_words;
use crate::report::rehearsal_words::minutes;
use crate::report::starts::starts_in_short;
use crate::show::{CueId, Show};

/// Lines of one kind under a cue at most; what is more is counted.
const LINES_MAX: usize = 8;

pub fn running_order(show: &Show, proof: &Proof, slots: &[Slot]) -> Markup {
    html! {
        section {
            h2 { "Running order" }
            p.note {
                "GO in minutes and seconds, if every call comes as the list has it. “Stops in” is the longest that a stop \
                 at any time of the cue takes to standstill. “Clear by” is the least clearance over the whole cue, start \
                 tolerances counted, with the two bodies and the time of the cue. A window is told where a cue may not be \
                 fired at every time of an earlier one that can still be running."
            }
            table.order {
                thead { tr {
                    th { "cue" } th { "name" } th { "starts on" } th.n { "GO" } th.n { "takes" } th.n { "stops in" }
                    th.n { "clear by" }
                } }
                @for id in show.cue_ids() { (row(show, proof, slots, id)) }
            }
        }
    }
}

fn row(show: &Show, proof: &Proof, slots: &[Slot], id: CueId) -> Markup {
    let (cue, plan) = (show.cue(id), proof.plan.cue(id));
    let closest = proof.closest[id.index()].as_ref();
    let more = more(show, proof, id);
    let seconds = |value: f64| format!("{value:.2} s");
    html! {
        tbody.cue {
            tr {
                td.no { (cue.number) }
                td.name { (cue.name) }
                td data-of="starts on" { (starts_in_short(show, id)) }
                td.n data-of="GO" { (minutes(slots[id.index()].from)) }
                td.n data-of="takes" { (seconds(plan.duration)) }
                td.n data-of="stops in" { (seconds(plan.stop_time)) }
                td.n data-of="clear by" { (closest.map(|closest| format!("{:.2} m", closest.value)).unwrap_or_default()) }
            }
            @if !more.is_empty() {
                tr { td.more colspan="7" { @for (head, text) in &more { div { b { (head) } " " (text) } } } }
            }
        }
    }
}

/// What does not fit a column, each with its head.
fn more(show: &Show, proof: &Proof, id: CueId) -> Vec<(String, String)> {
    let mut more = Vec::new();
    if let Some(closest) = &proof.closest[id.index()] {
        let [one, other] = closest.parties.map(|party| party.name(show));
        more.push(("nearest:".to_owned(), format!("{one} to {other}, {:.1} s into it", closest.time)));
    }
    let shut = shut_in_words(show, proof, id).into_iter().take(LINES_MAX);
    more.extend(shut.map(|[when, what]| (format!("stopped {when}:"), what)));
    let windows = windows::of_cue(show, proof, id);
    let left = windows.len().saturating_sub(LINES_MAX);
    more.extend(windows.into_iter().take(LINES_MAX));
    if left > 0 {
        more.push(("and".to_owned(), format!("windows beside {left} cues more: `check --json` has them all")));
    }
    let rests = &proof.skips.rests_on[id.index()];
    let told = |(on, why): &(CueId, _)| format!("cue {} ({})", show.cue(*on).number, rests_words(show, why));
    let mut words: Vec<String> = rests.iter().take(LINES_MAX).map(told).collect();
    if rests.len() > LINES_MAX {
        words.push(format!("{} cues more", rests.len() - LINES_MAX));
    }
    if !words.is_empty() {
        more.push(("rests on".to_owned(), words.join("; ")));
    }
    more
}
