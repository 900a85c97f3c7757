//! What changed of the cues, and conditions spelt out.

use std::sync::Arc;

use super::{Change, CuePart, Subject};
use crate::show::id::AxisId;
use crate::show::list::{After, Aim, AimedAt, Cue, Move, Playing};
use crate::show::model::{Atom, Condition, Show};
use crate::show::takes::Take;

pub fn tell(old: &Show, new: &Show, told: &mut Vec<Change>) {
    for cue in &old.cues {
        if new.find_cue(&cue.number).is_none() {
            told.push(of(cue, CuePart::Gone, format!("cue {} ({}) is gone", cue.number, cue.name)));
        }
    }
    for cue in &new.cues {
        match old.find_cue(&cue.number) {
            None => told.push(of(cue, CuePart::New, format!("cue {} ({}) is new", cue.number, cue.name))),
            Some(id) => tell_cue(old, old.cue(id), new, cue, told),
        }
    }
}

fn of(cue: &Cue, part: CuePart, text: String) -> Change {
    Change::new(Subject::Cue { number: cue.number.clone(), part }, text)
}

fn tell_cue(old: &Show, before: &Cue, new: &Show, cue: &Cue, told: &mut Vec<Change>) {
    let number = &cue.number;
    let mut tell = |part: CuePart, text: String| told.push(of(cue, part, format!("cue {number}: {text}")));
    if before.name != cue.name {
        tell(CuePart::Words, format!("{} is now called {}", before.name, cue.name));
    }
    let (mut was, mut now) = (moves(old, before), moves(new, cue));
    was.sort();
    now.sort();
    if was != now {
        let only = |these: &[String], those: &[String]| -> String {
            let other = these.iter().filter(|step| !those.contains(step)).cloned().collect::<Vec<_>>();
            if other.is_empty() { "nothing else".into() } else { other.join("; ") }
        };
        tell(CuePart::Moves, format!("now moves {} (was {})", only(&now, &was), only(&was, &now)));
    }
    for take in recorded_anew(before, cue) {
        tell(CuePart::Moves, format!("take {take} is another recording"));
    }
    let (was, now) = (start(old, before), start(new, cue));
    if was != now {
        tell(CuePart::Start, format!("now starts {now} (was {was})"));
    }
    let (was, now) = (needs(old, before), needs(new, cue));
    if was != now {
        tell(CuePart::Start, format!("now needs {now} (was {was})"));
    }
    if before.on_link_loss != cue.on_link_loss {
        tell(CuePart::Start, "what a lost link does changed".into());
    }
    let words = |cue: &Cue| (cue.page.clone(), cue.call.clone(), cue.watch.clone(), cue.notes.clone(), cue.gap);
    if words(before) != words(cue) {
        tell(CuePart::Words, "its notes for people changed".into());
    }
}

/// The moves of a cue as they are written: where a mark went is another change, told once.
fn moves(show: &Show, cue: &Cue) -> Vec<String> {
    let part = |step: &Move| {
        let axis = |&(axis, value): &(AxisId, f64)| {
            let axis = show.axis(axis);
            format!("{} {value}{}", axis.name, axis.unit.sign())
        };
        let to = match &step.mark {
            Some(mark) => mark.clone(),
            None => step.to.iter().map(axis).collect::<Vec<_>>().join(", "),
        };
        let round =
            step.round.iter().map(|&(axis, way)| format!(", {} {} round", show.axis(axis).name, way.word()));
        let through: Vec<&str> = step.via.iter().map(|via| via.mark.as_str()).collect();
        let through = if through.is_empty() { String::new() } else { format!(", through {}", through.join(", ")) };
        let to = to + &round.collect::<String>() + &through;
        let by = if step.by { "by" } else { "to" };
        let shape = if step.softness > 0.0 { format!(", shape {}", step.softness) } else { String::new() };
        let time = step.time.map_or_else(String::new, |time| format!(" in {time} s"));
        let delay = if step.delay > 0.0 { format!(" after {} s", step.delay) } else { String::new() };
        if let Some(playing) = &step.playing {
            return format!("{} by {}{delay}", show.rig(step.rig).name, played(playing));
        }
        let to = if to.is_empty() { to } else { format!(" {by} {to}") };
        let aim = step.aim.as_ref().map_or_else(String::new, |aim| spelt_aim(show, aim));
        format!("{}{to}{time}{delay}{shape}{aim}", show.rig(step.rig).name)
    };
    cue.moves.iter().map(part).collect()
}

/// All that a cue says of an aim.
fn spelt_aim(show: &Show, aim: &Aim) -> String {
    let ease = aim.ease.map_or_else(String::new, |ease| format!(" within {ease} s"));
    let of = match aim.at {
        AimedAt::Point(_) => String::new(),
        AimedAt::Body { rig, axis, point } => {
            let name = axis.map_or_else(|| show.rig(rig).name.clone(), |axis| show.axis_name(axis));
            format!(", [{}, {}, {}] of {name}", point.x, point.y, point.z)
        }
    };
    format!(", {}{of}{ease}", show.aimed(aim))
}

/// A take and how it is played.
fn played(playing: &Playing) -> String {
    let stretch =
        if playing.stretch == 1.0 { String::new() } else { format!(", stretched by {}", playing.stretch) };
    let enter = if playing.enter > 0.0 { format!(", entered at {} s", playing.enter) } else { String::new() };
    format!("take {}{stretch}{enter}", playing.take.name)
}

/// The takes of a cue that are not the recordings that they were under their names.
fn recorded_anew<'a>(before: &Cue, cue: &'a Cue) -> impl Iterator<Item = &'a str> {
    let played = |cue: &'a Cue| cue.moves.iter().filter_map(|step| step.playing.as_ref());
    let old: Vec<Arc<Take>> =
        before.moves.iter().filter_map(|step| step.playing.as_ref()).map(|playing| playing.take.clone()).collect();
    let anew = move |take: &Take| old.iter().any(|was| was.name == take.name && !was.same_recording(take));
    played(cue).map(|playing| &*playing.take).filter(move |take| anew(take)).map(|take| take.name.as_str())
}

/// What starts a cue, spelt out.
fn start(show: &Show, cue: &Cue) -> String {
    match &cue.after {
        None => "on a GO".into(),
        Some(After::Start { cue, wait }) => format!("{wait} s after the start of cue {}", show.number_of(*cue)),
        Some(After::End { cue, wait }) => format!("{wait} s after the end of cue {}", show.number_of(*cue)),
        Some(After::When(when)) => format!("when {}", spelt(show, when)),
    }
}

fn needs(show: &Show, cue: &Cue) -> String {
    cue.needs.as_ref().map_or_else(|| "nothing".into(), |needs| spelt(show, needs))
}

/// A condition with every name written out, since an edit elsewhere may shift the numbers of atoms and cues. Of a mark
/// the name alone: where it went is another change, told once.
pub fn spelt(show: &Show, condition: &Condition) -> String {
    spelt_by(show, condition, &|_| String::new())
}

/// The same with the pose of every mark: equal for two conditions that ask the same.
pub fn spelt_whole(show: &Show, condition: &Condition) -> String {
    spelt_by(show, condition, &|pose| {
        let axes = pose.iter().map(|&(axis, value)| format!("{} {value}", show.axis_name(axis)));
        format!(" ({})", axes.collect::<Vec<_>>().join(", "))
    })
}

/// How the pose of a mark is told.
type Spell<'a> = &'a dyn Fn(&[(AxisId, f64)]) -> String;

fn spelt_by(show: &Show, condition: &Condition, spell: Spell) -> String {
    let all = |parts: &[Condition]| -> String {
        parts.iter().map(|part| spelt_by(show, part, spell)).collect::<Vec<_>>().join(", ")
    };
    match condition {
        Condition::All(parts) => format!("all ({})", all(parts)),
        Condition::Any(parts) => format!("any ({})", all(parts)),
        Condition::Not(part) => format!("not ({})", spelt_by(show, part, spell)),
        Condition::Atom(id) => match &show.atoms[id.index()] {
            Atom::CueState { cue, state } => format!("cue {} {}", show.number_of(*cue), state.word()),
            Atom::CuePast { cue, time } => format!("cue {} past {time}", show.number_of(*cue)),
            Atom::Input(input) => format!("input {}", show.inputs[input.index()].name),
            Atom::Above { axis, limit } => format!("{} above {limit}", show.axis_name(*axis)),
            Atom::Below { axis, limit } => format!("{} below {limit}", show.axis_name(*axis)),
            Atom::Within { axis, from, to, modulo } => {
                format!("{} within {from} to {to} modulo {modulo:?}", show.axis_name(*axis))
            }
            Atom::At { rig, mark, pose } => format!("{} at {mark}{}", show.rig(*rig).name, spell(pose)),
        },
    }
}
