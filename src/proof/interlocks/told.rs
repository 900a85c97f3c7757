//! What people are told of interlocks that wait on each other.

use super::deadlock::{Deadlock, Witness};
use crate::proof::shown;
use crate::show::{AxisId, Code, Finding, InterlockId, Show};

/// `way` goes from the first member along what it waits on.
pub fn deadlock(show: &Show, way: &[InterlockId], found: &Deadlock) -> Finding {
    let stands = |&(axis, at): &(AxisId, f64)| {
        format!("{} at {}{}", show.axis_name(axis), shown(at), show.axis(axis).unit.sign())
    };
    let stands = listed(found.pose.iter().map(stands).collect());
    let place = match found.found {
        Witness::Opening => format!("where the show opens, with {stands}"),
        Witness::After(cue) => format!("where cue {} leaves the rigs, with {stands}", show.cue(cue).number),
        Witness::Made => format!("with {stands}"),
    };
    let message = format!(
        "{}; {place}, none of them is true, and no motion that is still permitted makes one true",
        circle(show, way)
    );
    let mut finding = finding(show, &found.members, message);
    finding.stands = found.pose.iter().map(|&(axis, at)| (show.axis_name(axis), shown(at))).collect();
    finding
}

/// Of a circle that has too many thresholds for all their places to be looked at.
pub fn unsearched(show: &Show, way: &[InterlockId]) -> Finding {
    let message = format!(
        "{}; whether there is a place at which none of them can be made true is not known: they have too many thresholds",
        circle(show, way)
    );
    finding(show, way, message)
}

fn circle(show: &Show, way: &[InterlockId]) -> String {
    let name = |id: &InterlockId| format!("'{}'", show.interlocks[id.index()].name);
    let names: Vec<String> = way.iter().chain(way.first()).map(name).collect();
    format!("interlocks wait on each other: {}", names.join(" waits on "))
}

fn finding(show: &Show, members: &[InterlockId], message: String) -> Finding {
    let first = &show.interlocks[members[0].index()];
    let mut finding = Finding::new(Code::InterlockCycle, message)
        .at(first.place)
        .fix("leave one way out: a direction that is not guarded, or an `any` with the axis itself");
    let mut axes: Vec<AxisId> =
        members.iter().flat_map(|id| show.interlocks[id.index()].guards.iter().map(|guard| guard.axis)).collect();
    axes.sort_unstable();
    axes.dedup();
    for axis in axes {
        finding = finding.axis(show.axis_name(axis));
    }
    finding
}

fn listed(parts: Vec<String>) -> String {
    match &parts[..] {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
