//! What people are told of a clearance that falls short.

use super::concern::{Other, Party};
use super::search::Short;
use crate::proof::shown;
use crate::show::{Code, CueId, Finding, Keep, Show};

/// What comes too near to what, where and when; `of` is what it is that lasts: "cue", "take".
pub fn keeps(show: &Show, short: &Short, of: &str) -> String {
    let (closest, margin) = (&short.closest, short.group.margin);
    let [mover, other] = closest.parties.map(|party| party.name(show));
    let time = format!("{:.1} s into the {of}", closest.time);
    let keeps = match closest.parties[1] {
        Party::Zone(zone) if show.zones[zone].keep == Keep::In => {
            let name = &show.zones[zone].name;
            if closest.value == 0.0 {
                format!("{mover} leaves the zone '{name}' {time}")
            } else {
                format!("{mover} comes within {} m of leaving the zone '{name}' {time}", shown(closest.value))
            }
        }
        Party::Zone(zone) => {
            told_apart(&mover, &format!("the zone '{}'", show.zones[zone].name), closest.value, &time)
        }
        Party::Body { .. } => told_apart(&mover, &other, closest.value, &time),
    };
    let keeps = if short.seen { keeps } else { format!("not proved that this is clear: {keeps}") };
    let place = closest.place;
    format!("{keeps}, at x {:.1}, y {:.1}, z {:.1}; expected at least {margin} m", place.x, place.y, place.z)
}

pub fn finding(show: &Show, id: CueId, short: &Short) -> Finding {
    let cue = show.cue(id);
    let (closest, margin) = (&short.closest, short.group.margin);
    let message = format!("cue {}: {}", cue.number, keeps(show, short, "cue"));
    let step =
        cue.moves.iter().find(|step| matches!(closest.parties[0], Party::Body { rig, .. } if rig == step.rig));
    let mut finding = Finding::new(Code::Clearance, message)
        .at(step.map_or(cue.place, |step| step.place))
        .cue(&cue.number)
        .rig(&show.rig(short.group.rig).name)
        .time(closest.time)
        .against(closest.value, margin);
    if let Other::Rig(rig) = short.group.other {
        finding = finding.rig(&show.rig(rig).name);
    }
    finding.fix(way_out(show, short))
}

fn told_apart(mover: &str, other: &str, value: f64, time: &str) -> String {
    if value == 0.0 {
        format!("{mover} touches {other} {time}, start tolerances counted")
    } else {
        format!("{mover} comes within {} m of {other} {time}", shown(value))
    }
}

fn way_out(show: &Show, short: &Short) -> String {
    let rig = &show.rig(short.group.rig).name;
    match short.group.other {
        Other::Rig(other) => {
            let other = &show.rig(other).name;
            format!(
                "lead {rig} round {other}, or move {other} away before this cue; if they may pass so near, write a \
                 [[pair]] of the two with a smaller margin"
            )
        }
        Other::Zone(zone) => match show.zones[zone].keep {
            Keep::Out => format!("lead {rig} round the zone, or give the zone a smaller margin"),
            Keep::In => format!("keep {rig} inside the zone, or give the zone a smaller margin"),
        },
    }
}
