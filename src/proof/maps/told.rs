//! What people are told of two cues that come too near, and the line that settles it.

use super::CueMap;
use super::line::Nearest;
use super::lines::{Stretch, gaps};
use crate::proof::remedy::Edit;
use crate::proof::shown;
use crate::proof::stalls::told_beside;
use crate::proof::together::Starts;
use crate::show::{After, Code, CueId, Finding, Severity, Show};

/// s
const SLIVER: f64 = 0.1;

pub fn overlap(show: &Show, starts: &Starts, map: &CueMap) -> Option<Finding> {
    let nearest = map.nearest.as_ref()?;
    let [first, second] = [map.pair.first, map.pair.second].map(|cue| show.cue(cue));
    let message = format!("{}: {}", timing(show, starts, map), meeting(show, map, nearest));
    let mut finding = Finding::new(Code::Overlap, message)
        .at(second.place)
        .also(first.place, "with this cue")
        .cue(&first.number)
        .cue(&second.number)
        .time(nearest.times[0])
        .against(nearest.value, nearest.margin);
    finding.other_time = Some(nearest.times[1]);
    if map.pair.tied() {
        finding.severity = Severity::Error;
    }
    for party in nearest.parties {
        if let Some(rig) = party.rig() {
            finding = finding.rig(&show.rig(rig).name);
        }
    }
    Some(finding)
}

/// A stall that brings the two too near at a timing that is clear without it.
pub fn stall(show: &Show, map: &CueMap) -> Option<Finding> {
    let stall = map.stalls.worst.as_ref()?;
    Some(told_beside(show, [map.pair.first, map.pair.second], stall, &map.stalls))
}

/// When the second must start for the two to come too near.
fn timing(show: &Show, starts: &Starts, map: &CueMap) -> String {
    let [first, second] = [map.pair.first, map.pair.second].map(|cue| &show.cue(cue).number);
    if map.pair.tied() {
        let from = planned(starts, map);
        return if from >= 0.0 {
            format!("cue {second} starts {from:.1} s into cue {first} and comes too near to it")
        } else {
            format!("cue {first} starts {:.1} s into cue {second} and comes too near to it", -from)
        };
    }
    let when = told_starts(&runnable(map, &map.blocked), map);
    format!("cue {second} comes too near to cue {first} if it starts {when}")
}

/// Of slivers that no caller could hit only the longest is told.
pub fn told_starts(starts: &[Stretch], map: &CueMap) -> String {
    let longest = starts.iter().map(|stretch| stretch.to - stretch.from).fold(0.0, f64::max);
    let telling = starts.iter().filter(|stretch| stretch.to - stretch.from >= longest.min(SLIVER));
    let told: Vec<String> = telling.map(|stretch| told_stretch(stretch, map)).collect();
    told.join(" or ")
}

/// s, from the start of the first to that of the second, by their chain alone.
pub fn planned(starts: &Starts, map: &CueMap) -> f64 {
    let ((head, first), (other_head, second)) = (starts.chain(map.pair.first), starts.chain(map.pair.second));
    if head == other_head { second - first } else { map.pair.from }
}

fn told_stretch(stretch: &Stretch, map: &CueMap) -> String {
    if stretch.from < 0.0 && stretch.to < 0.0 {
        return format!("{:.1} s to {:.1} s before it", -stretch.from, -stretch.to);
    }
    if stretch.from < 0.0 {
        return format!("from {:.1} s before it to {:.1} s into it", -stretch.from, stretch.to);
    }
    match (stretch.from <= 0.05, stretch.to >= map.durations[0] - 0.05) {
        (true, true) => "while that runs".to_owned(),
        (true, false) => format!("in its first {:.1} s", stretch.to),
        (false, true) => format!("later than {:.1} s into it", stretch.from),
        (false, false) => format!("{:.1} s to {:.1} s into it", stretch.from, stretch.to),
    }
}

/// What is blocked of the starts that can be run.
pub fn runnable(map: &CueMap, blocked: &[Stretch]) -> Vec<Stretch> {
    let Stretch { from: low, to: high } = map.open();
    let within = |stretch: &Stretch| {
        let (from, to) = (stretch.from.max(low), stretch.to.min(high));
        (from <= to).then_some(Stretch { from, to })
    };
    blocked.iter().filter_map(within).collect()
}

fn meeting(show: &Show, map: &CueMap, nearest: &Nearest) -> String {
    let [first, second] = [map.pair.first, map.pair.second].map(|cue| &show.cue(cue).number);
    let [one, other] = nearest.parties.map(|party| party.name(show));
    let [time, other_time] = nearest.times;
    let how = if !nearest.seen {
        format!("not proved that {one} and {other} keep clear")
    } else if nearest.value == 0.0 {
        format!("{one} touches {other}")
    } else {
        format!("{one} comes within {} m of {other}", shown(nearest.value))
    };
    format!(
        "{how} {time:.1} s into cue {first} and {other_time:.1} s into cue {second}; expected at least {} m",
        nearest.margin
    )
}

/// What to write, by the map; it leaves no start at which the two, or the two with a stall, are not proved clear. Or what keeps a
/// further cue away, if a stall takes one.
pub fn ways_out(show: &Show, starts: &Starts, map: &CueMap) -> Vec<Edit> {
    let mut ways = ways_past(show, starts, map, &map.stalls.blocked);
    if let [further] = map.stalls.further[..] {
        ways.extend([map.pair.first, map.pair.second].into_iter().filter_map(|cue| apart(starts, cue, further)));
    }
    ways
}

/// That the later of two cues waits until the earlier is done; `None` if one of their chains brings both.
pub fn apart(starts: &Starts, one: CueId, other: CueId) -> Option<Edit> {
    let (first, second) = (one.min(other), one.max(other));
    let needs = |cue: CueId, other: CueId| (cue > other).then_some(Edit::Needs { cue, other, past: None });
    needs(starts.chain(second).0, first).or_else(|| needs(starts.chain(first).0, second))
}

/// The same of any blocked starts, apart and in order.
pub fn ways_past(show: &Show, starts: &Starts, map: &CueMap, blocked: &[Stretch]) -> Vec<Edit> {
    if map.pair.tied() {
        return later_follow(show, starts, map, blocked);
    }
    let blocked = runnable(map, blocked);
    let (first, second) = (map.pair.first, map.pair.second);
    let ((first_head, first_later), (second_head, second_later)) = (starts.chain(first), starts.chain(second));
    vec![if second_head > first {
        let last = blocked.last().map_or(f64::INFINITY, |stretch| stretch.to);
        needs(second_head, first, last - second_later, map.durations[0])
    } else if first_head > second_head {
        // The second comes by itself; the first is fired while that waits or runs.
        let last = blocked.first().map_or(f64::INFINITY, |stretch| -stretch.from);
        needs(first_head, second, last - first_later, map.durations[1])
    } else {
        Edit::FollowEnd { cue: second, of: first }
    }]
}

/// That a cue waits until the other is past a time, or done.
fn needs(cue: CueId, other: CueId, past: f64, duration: f64) -> Edit {
    let past = (past.max(0.0) * 10.0 - 1e-6).ceil() / 10.0 + 0.0;
    Edit::Needs { cue, other, past: (past < duration).then_some(past) }
}

/// A later start for the one of a chain that starts later.
fn later_follow(show: &Show, starts: &Starts, map: &CueMap, blocked: &[Stretch]) -> Vec<Edit> {
    // Of the one that starts earlier; the map is seen from the first.
    let planned = planned(starts, map);
    let turned = planned < 0.0;
    let (earlier, later) =
        if turned { (map.pair.second, map.pair.first) } else { (map.pair.first, map.pair.second) };
    let (start, end) = (planned.abs(), map.durations[usize::from(turned)]);
    let mut clear: Vec<Stretch> = if turned {
        let within = Stretch { from: -end, to: -start };
        gaps(blocked, within).iter().rev().map(|gap| Stretch { from: -gap.to, to: -gap.from }).collect()
    } else {
        gaps(blocked, Stretch { from: start, to: end })
    };
    clear.retain(|gap| gap.from > start && gap.to - gap.from > 0.1);
    let at = clear.first().map(|gap| (gap.from * 10.0 - 1e-6).ceil() / 10.0).filter(|&at| at < end);
    let wait = match (&show.cue(later).after, at) {
        (Some(After::Start { cue, wait }), Some(at)) if *cue == earlier || *wait > 0.0 => {
            Some(Edit::Wait { cue: later, wait: shown(wait + at - start) })
        }
        (Some(After::Start { .. } | After::End { .. } | After::When(_)) | None, _) => None,
    };
    wait.into_iter().chain([Edit::FollowEnd { cue: later, of: earlier }]).collect()
}
