//! A check on one page, for paper and phone: what was found, the running order, the maps, the act on a ruler.

mod map_drawing;
mod order;
mod ruler;
mod scene;
mod schedule;
mod sheet;
mod stage_drawing;
mod told;
mod view;
mod windows;

use maud::html;

use super::check_json::NOT_SEEN;
use super::counted;
use super::findings::summary;
use super::page::{Head, page};
use super::rehearsal_words::clock;
use crate::proof::Proof;
use crate::show::{Finding, Reading, Severity, Show};
use schedule::{Slot, length, motion, schedule};

const STYLE: &str = include_str!("../check_page.css");

/// The page, whole: nothing is fetched by it. `folder` stands at its head where the show has no name to tell; `made`
/// says when, for people. `proof` is there if the show is; `findings` are those of reading and proof.
pub fn check_page(
    reading: &Reading,
    proof: Option<&Proof>,
    findings: &[Finding],
    folder: &str,
    made: &str,
) -> String {
    let show = reading.show.as_ref().zip(proof);
    let slots = show.map(|(show, proof)| schedule(show, &proof.plan));
    let serious = findings.iter().any(|finding| finding.severity != Severity::Note);
    let head = Head {
        title: show.map_or(folder, |(show, _)| show.name.as_str()),
        kicker: format!("check, {made}"),
        verdict: verdict(show.map(|(show, _)| show), findings),
        good: show.is_some() && !serious,
        facts: facts(reading, show, slots.as_deref()),
        style: STYLE,
    };
    let (found, drawn) = told::findings(reading, proof, findings);
    let body = html! {
        (stage_drawing::patterns())
        (found)
        @if let (Some((show, proof)), Some(slots)) = (show, &slots) {
            (order::running_order(show, proof, slots))
            (ruler::ruler(show, &proof.plan, slots))
            (windows::maps(show, &proof.plan.maps, &drawn))
        }
    };
    page(&head, &body, &NOT_SEEN.map(str::to_owned))
}

fn verdict(show: Option<&Show>, findings: &[Finding]) -> String {
    let serious: Vec<Finding> =
        findings.iter().filter(|finding| finding.severity != Severity::Note).cloned().collect();
    match (show, serious.is_empty()) {
        (None, _) => format!(
            "NOT proved: {}; the files do not read as a show, so nothing more was looked at.",
            summary(findings)
        ),
        (Some(_), true) => {
            "Clean: no error and no warning. Every cue is proved clear over its whole time, from where the \
                            list leaves the rigs."
                .to_owned()
        }
        (Some(_), false) => format!("NOT clean: {}.", summary(&serious)),
    }
}

fn facts(reading: &Reading, show: Option<(&Show, &Proof)>, slots: Option<&[Slot]>) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    if let (Some((show, proof)), Some(slots)) = (show, slots) {
        let counts = [
            counted(show.rigs.len(), "rig (machine)", "rigs (machines)"),
            counted(show.axes.len(), "axis", "axes"),
            counted(show.cues.len(), "cue", "cues"),
        ];
        facts.push(("the show", counts.join(", ")));
        facts.push(("first GO to last end", clock(length(slots))));
        facts.push(("with anything in motion", clock(motion(show, &proof.plan, slots))));
        facts.push(("margin", format!("{} m", show.settings.margin)));
    }
    facts.extend(reading.hash.clone().map(|hash| ("hash of the show", hash)));
    facts
}
