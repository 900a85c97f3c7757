//! What people are told of a rule that the list makes false.

use super::Rule;
use super::alone::False;
use super::beside::Beside;
use crate::proof::maps::{planned, told_starts};
use crate::proof::plan::CuePlan;
use crate::proof::start_pose;
use crate::proof::together::Starts;
use crate::show::{Code, Cue, CueId, CueNumber, Finding, Guard, Otherwise, Severity, Show};

/// Of one cue by itself.
pub fn alone(show: &Show, cue: CueId, plan: &CuePlan, rule: Rule, found: &False) -> Finding {
    let cue = show.cue(cue);
    let what = start_pose::told(show, found.atom, &found.pose);
    let message = format!("cue {}: {} is false {}: {what}", cue.number, named(show, rule), when(found.time));
    let fix = match (rule, otherwise(show, rule)) {
        (Rule::Needs(_), _) => {
            "it would be held there: change the path or the condition; if that matters at the GO alone, let it be an `any` \
             of the condition and of the cue itself past 0.1"
        }
        (Rule::Interlock(_), Otherwise::Refuse) => {
            "its GO would be refused: change where the cues before leave the rig, or the interlock"
        }
        (Rule::Interlock(_), Otherwise::Hold) => {
            "it would be held there: change where the rigs are by then, or the interlock"
        }
        (Rule::Interlock(_), Otherwise::Stop) => {
            "everything would be stopped there: change where the rigs are by then, or the interlock"
        }
    };
    let finding = Finding::new(Code::InterlockBlocked, message).time(found.time).fix(fix);
    placed(show, finding.cue(&cue.number), cue, &plan.moved_axes(), rule)
}

/// Of two that a chain ties, or that no start of a hand lets pass.
pub fn beside(show: &Show, starts: &Starts, found: &Beside) -> Finding {
    let [first, second] = numbers(show, found);
    let start = planned(starts, found.map);
    let comes = comes(show, found);
    let when = match (found.map.pair.tied(), start >= 0.0) {
        (true, true) => format!("cue {second} starts {start:.1} s into cue {first} and {comes}"),
        (true, false) => format!("cue {first} starts {:.1} s into cue {second} and {comes}", -start),
        (false, _) => {
            format!("cue {second} {comes}{} at every start that the list allows", beside_whom(show, found))
        }
    };
    finding(show, found, format!("{when}: {}", place(show, found)))
}

/// Of two that a hand times: some timing is fine.
pub fn by_hand(show: &Show, found: &Beside, fix: Option<String>) -> Finding {
    let [_, second] = numbers(show, found);
    let (comes, beside) = (comes(show, found), beside_whom(show, found));
    let when = told_starts(&found.starts, found.map);
    let message = format!("cue {second} {comes}{beside} if it starts {when}: {}", place(show, found));
    let mut finding = finding(show, found, message);
    finding.severity = Severity::Note;
    finding.fix = fix;
    finding
}

fn comes(show: &Show, found: &Beside) -> String {
    match (found.refuses, otherwise(show, found.rule)) {
        (true, _) => "is refused, which breaks its chain,".to_owned(),
        (false, Otherwise::Stop) => "leads to a stop of everything".to_owned(),
        (false, Otherwise::Hold | Otherwise::Refuse) => match held(show, found) {
            [true, false] => format!("leads to a hold of cue {}", numbers(show, found)[0]),
            [false, true] => "leads to its own hold".to_owned(),
            [true, true] | [false, false] => "leads to a hold of both".to_owned(),
        },
    }
}

/// Beside which cue, where that is not said by whom it holds.
fn beside_whom(show: &Show, found: &Beside) -> String {
    let holds = !found.refuses && otherwise(show, found.rule) != Otherwise::Stop;
    let said = holds && held(show, found) == [true, false];
    if said { String::new() } else { format!(" beside cue {}", numbers(show, found)[0]) }
}

/// Which of the two the rule holds: both where they share a rate, which cues that are clear of each other all over do not.
fn held(show: &Show, found: &Beside) -> [bool; 2] {
    let concerned = |cue: CueId| match found.rule {
        Rule::Needs(of) => of == cue,
        Rule::Interlock(id) => {
            let guards = &show.interlocks[id.index()].guards;
            let moves =
                |guard: &Guard| show.cue(cue).moves.iter().any(|step| step.rig == show.axis(guard.axis).rig);
            guards.iter().any(moves)
        }
    };
    [found.map.pair.first, found.map.pair.second].map(|cue| !found.map.cells.is_empty() || concerned(cue))
}

fn place(show: &Show, found: &Beside) -> String {
    let [first, second] = numbers(show, found);
    let [time, other_time] = times(found);
    format!(
        "{} is false {time:.1} s into cue {first} and {other_time:.1} s into cue {second}: {}",
        named(show, found.rule),
        start_pose::told(show, found.place.atom, &found.place.pose)
    )
}

fn finding(show: &Show, found: &Beside, message: String) -> Finding {
    let pair = found.map.pair;
    let (first, second) = (show.cue(pair.first), show.cue(pair.second));
    let [time, other_time] = times(found);
    let mut finding =
        Finding::new(Code::InterlockBlocked, message).cue(&first.number).cue(&second.number).time(time);
    finding.other_time = Some(other_time);
    placed(show, finding, second, &vec![true; show.axes.len()], found.rule)
}

/// s; what stands before its start or after its end is there at that instant.
fn times(found: &Beside) -> [f64; 2] {
    [0, 1].map(|side| found.place.times[side].clamp(0.0, found.map.durations[side]))
}

fn numbers<'a>(show: &'a Show, found: &Beside) -> [&'a CueNumber; 2] {
    [found.map.pair.first, found.map.pair.second].map(|cue| &show.cue(cue).number)
}

/// Where to look in the files, and whose motion it is.
fn placed(show: &Show, finding: Finding, cue: &Cue, moved: &[bool], rule: Rule) -> Finding {
    let Rule::Interlock(id) = rule else { return finding.at(cue.place) };
    let interlock = &show.interlocks[id.index()];
    let guard = interlock.guards.iter().find(|guard: &&Guard| moved[guard.axis.index()]);
    let step = guard.and_then(|guard| cue.moves.iter().find(|step| step.rig == show.axis(guard.axis).rig));
    let finding = finding.at(step.map_or(cue.place, |step| step.place)).also(interlock.place, "this interlock");
    match guard {
        Some(guard) => finding.rig(&show.rig(show.axis(guard.axis).rig).name).axis(show.axis_name(guard.axis)),
        None => finding,
    }
}

fn named(show: &Show, rule: Rule) -> String {
    match rule {
        Rule::Interlock(id) => format!("interlock '{}'", show.interlocks[id.index()].name),
        Rule::Needs(cue) => format!("what cue {} needs", show.cue(cue).number),
    }
}

fn otherwise(show: &Show, rule: Rule) -> Otherwise {
    match rule {
        Rule::Interlock(id) => show.interlocks[id.index()].otherwise,
        Rule::Needs(_) => Otherwise::Hold,
    }
}

fn when(time: f64) -> String {
    if time < 0.05 { "as it starts".to_owned() } else { format!("{time:.1} s into it") }
}
