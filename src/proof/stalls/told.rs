//! What people are told of a stall.

use super::beside::{StallBeside, Stalls};
use super::groups::StallWithin;
use crate::proof::clearance::{Other, Short};
use crate::proof::shown;
use crate::show::{Code, CueId, Finding, RigId, Show};

/// What comes too near if a rig stalls; `of` is what it is that lasts: "cue", "take".
pub fn says_within(show: &Show, rig: RigId, short: &Short, of: &str) -> String {
    let closest = &short.closest;
    let [mover, other] = closest.parties.map(|party| party.name(show));
    let how =
        if short.later < 0.0 { format!("as the {of} is taken back") } else { "before the others stand".into() };
    format!(
        "if {} stalls {:.1} s into the {of}, {} {:.1} s later, {how}; expected at least {} m",
        show.rig(rig).name,
        closest.time,
        comes(&mover, &other, closest.value, short.seen),
        short.later.abs(),
        short.group.margin
    )
}

/// Of one cue.
pub fn told_within(show: &Show, id: CueId, stall: &StallWithin) -> Finding {
    let StallWithin { rig, short, further } = stall;
    let (cue, rig) = (show.cue(id), *rig);
    let closest = &short.closest;
    let name = &show.rig(rig).name;
    let message =
        format!("cue {}{}: {}", cue.number, told_further(show, further), says_within(show, rig, short, "cue"));
    let step = cue.moves.iter().find(|step| step.rig == rig);
    let mut finding = Finding::new(Code::Stall, message)
        .at(step.map_or(cue.place, |step| step.place))
        .cue(&cue.number)
        .rig(name)
        .time(closest.time)
        .against(closest.value, short.group.margin);
    finding.other_time = Some(closest.time + short.later);
    for party in closest.parties.iter().filter_map(|party| party.rig()).filter(|&party| party != rig) {
        finding = finding.rig(&show.rig(party).name);
    }
    let others = match short.group.other {
        Other::Rig(other) => {
            let other = if other == rig { short.group.rig } else { other };
            format!("let {} and {name} move one after the other", show.rig(other).name)
        }
        Other::Zone(_) => format!("let what {name} carries move after it"),
    };
    with_further(show, finding, further).fix(others)
}

/// Of two cues.
pub fn told_beside(show: &Show, [first, second]: [CueId; 2], stall: &StallBeside, stalls: &Stalls) -> Finding {
    let [one, other] = [first, second].map(|cue| show.cue(cue));
    let name = &show.rig(stall.rig).name;
    let [a, b] = stall.parties.map(|party| party.name(show));
    let message = format!(
        "cues {} and {} run together{}: if {name} stalls, {} before the others stand, {:.1} s into cue {} and {:.1} s \
         into cue {}; expected at least {} m",
        one.number,
        other.number,
        told_further(show, &stalls.further),
        comes(&a, &b, stall.value, stall.seen),
        stall.times[0],
        one.number,
        stall.times[1],
        other.number,
        stall.margin
    );
    let mut finding = Finding::new(Code::Stall, message)
        .at(other.place)
        .also(one.place, "with this cue")
        .cue(&one.number)
        .cue(&other.number)
        .rig(name)
        .time(stall.times[0])
        .against(stall.value, stall.margin);
    finding.other_time = Some(stall.times[1]);
    for rig in stall.parties.iter().filter_map(|party| party.rig()).filter(|&rig| rig != stall.rig) {
        finding = finding.rig(&show.rig(rig).name);
    }
    with_further(show, finding, &stalls.further)
}

/// The cues beside which a brake is longer.
fn told_further(show: &Show, further: &[CueId]) -> String {
    let numbers: Vec<String> = further.iter().map(|&cue| show.cue(cue).number.to_string()).collect();
    match &numbers[..] {
        [] => String::new(),
        [one] => format!(" beside cue {one}, which lengthens the brake that they share"),
        [most @ .., last] => {
            format!(" beside cues {} and {last}, which lengthen the brake that they share", most.join(", "))
        }
    }
}

fn with_further(show: &Show, finding: Finding, further: &[CueId]) -> Finding {
    further
        .iter()
        .map(|&cue| show.cue(cue))
        .fold(finding, |finding, cue| finding.also(cue.place, "at one rate with this cue").cue(&cue.number))
}

fn comes(one: &str, other: &str, value: f64, seen: bool) -> String {
    if !seen {
        format!("it is not proved that {one} keeps clear of {other}")
    } else if value == 0.0 {
        format!("{one} touches {other}")
    } else {
        format!("{one} comes within {} m of {other}", shown(value))
    }
}
