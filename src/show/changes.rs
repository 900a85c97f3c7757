//! What an edit of the show changed.

use super::model::{After, Atom, Axis, Condition, Cue, Interlock, Move, Rig, Show};

/// The same rigs and axes in the same order on the same drivers, at the same tick: what runs can go on with them.
pub fn same_wiring(old: &Show, new: &Show) -> bool {
    let same_axis = |a: &Axis, b: &Axis| a.name == b.name && a.rig == b.rig && a.unit == b.unit;
    let same_rig = |a: &Rig, b: &Rig| {
        a.name == b.name && a.axes == b.axes && a.driver == b.driver && a.link_timeout == b.link_timeout
    };
    old.settings.tick == new.settings.tick
        && old.rigs.len() == new.rigs.len()
        && old.axes.len() == new.axes.len()
        && old.rigs.iter().zip(&new.rigs).all(|(a, b)| same_rig(a, b))
        && old.axes.iter().zip(&new.axes).all(|(a, b)| same_axis(a, b))
}

/// The same wiring, and every rig with the same limits, travel and bodies in the same place.
pub fn same_machines(old: &Show, new: &Show) -> bool {
    same_wiring(old, new)
        && old.rigs.iter().zip(&new.rigs).all(|(a, b)| same_rig(a, b))
        && old.axes.iter().zip(&new.axes).all(|(a, b)| same_axis(a, b))
}

fn same_rig(a: &Rig, b: &Rig) -> bool {
    a.at == b.at
        && a.facing == b.facing
        && a.mount == b.mount
        && a.absent == b.absent
        && a.bodies == b.bodies
        && a.stop_category == b.stop_category
}

fn same_axis(a: &Axis, b: &Axis) -> bool {
    a.travel == b.travel
        && a.run == b.run
        && a.stop == b.stop
        && a.tolerance == b.tolerance
        && a.lag_limit == b.lag_limit
        && a.gravity == b.gravity
        && a.joint == b.joint
        && a.bodies == b.bodies
}

/// Each difference in a sentence, in the order: the show's own settings, rigs, cues. Empty if nothing that the show
/// means has changed.
pub fn differences(old: &Show, new: &Show) -> Vec<String> {
    let mut told = Vec::new();
    tell_settings(old, new, &mut told);
    tell_rigs(old, new, &mut told);
    tell_cues(old, new, &mut told);
    told
}

fn tell_settings(old: &Show, new: &Show, told: &mut Vec<String>) {
    let mut compare = |what: &str, same: bool| {
        if !same {
            told.push(format!("{what} changed"));
        }
    };
    compare("the name of the show", old.name == new.name);
    let (a, b) = (&old.settings, &new.settings);
    compare("the tick", a.tick == b.tick);
    compare("the margin", a.margin == b.margin);
    compare("react", a.react == b.react);
    compare("the GO guard time", a.guard == b.guard);
    compare("the trigger age", a.trigger_age == b.trigger_age);
    compare("the return rate", a.return_rate == b.return_rate);
    compare("named_go", a.named_go == b.named_go);
    compare("the zones", zones(old) == zones(new));
    compare("the pairs", pairs(old) == pairs(new));
    compare("the inputs", inputs(old) == inputs(new));
    compare("the interlocks", interlocks(old) == interlocks(new));
}

fn zones(show: &Show) -> Vec<impl PartialEq + '_> {
    show.zones.iter().map(|zone| (&zone.name, zone.keep, zone.min, zone.max, &zone.rigs, zone.margin)).collect()
}

fn pairs(show: &Show) -> Vec<impl PartialEq + '_> {
    show.pairs.iter().map(|pair| (pair.rigs, pair.margin, &pair.because)).collect()
}

fn inputs(show: &Show) -> Vec<impl PartialEq + '_> {
    show.inputs.iter().map(|input| (&input.name, input.max_age, input.trips, &input.source)).collect()
}

fn interlocks(show: &Show) -> Vec<impl PartialEq + '_> {
    let of = |one: &Interlock| (one.name.clone(), one.guards.clone(), spelt(show, &one.needs), one.otherwise);
    show.interlocks.iter().map(of).collect()
}

/// A condition with every name written out, since an edit elsewhere may shift the numbers of atoms and cues.
fn spelt(show: &Show, condition: &Condition) -> String {
    let all = |parts: &[Condition]| -> String {
        parts.iter().map(|part| spelt(show, part)).collect::<Vec<_>>().join(", ")
    };
    match condition {
        Condition::All(parts) => format!("all ({})", all(parts)),
        Condition::Any(parts) => format!("any ({})", all(parts)),
        Condition::Not(part) => format!("not ({})", spelt(show, part)),
        Condition::Atom(id) => match &show.atoms[id.index()] {
            Atom::CueState { cue, state } => format!("cue {} {}", show.number_of(*cue), state.word()),
            Atom::CuePast { cue, time } => format!("cue {} past {time}", show.number_of(*cue)),
            Atom::Input(input) => format!("input {}", show.inputs[input.index()].name),
            Atom::Above { axis, limit } => format!("{} above {limit}", show.axis_name(*axis)),
            Atom::Below { axis, limit } => format!("{} below {limit}", show.axis_name(*axis)),
            Atom::Within { axis, from, to, modulo } => {
                format!("{} within {from} to {to} modulo {modulo:?}", show.axis_name(*axis))
            }
            Atom::At { rig, mark, pose } => format!("{} at {mark} {pose:?}", show.rig(*rig).name),
        },
    }
}

fn tell_rigs(old: &Show, new: &Show, told: &mut Vec<String>) {
    for rig in &old.rigs {
        if !new.rigs.iter().any(|other| other.name == rig.name) {
            told.push(format!("rig {} is gone", rig.name));
        }
    }
    for rig in &new.rigs {
        let Some(before) = old.rigs.iter().find(|other| other.name == rig.name) else {
            told.push(format!("rig {} is new", rig.name));
            continue;
        };
        if !same_rig(before, rig) {
            told.push(format!(
                "rig {}: where it stands, whether it is absent, its bodies or its stop category changed",
                rig.name
            ));
        }
        if before.driver != rig.driver || before.link_timeout != rig.link_timeout {
            told.push(format!("rig {}: its driver changed", rig.name));
        }
        tell_axes(old, before, new, rig, told);
        tell_marks(before, rig, told);
    }
}

fn tell_axes(old: &Show, before: &Rig, new: &Show, rig: &Rig, told: &mut Vec<String>) {
    let find = |show: &Show, rig: &Rig, name: &str| {
        rig.axis_ids().map(|id| show.axis(id).clone()).find(|axis| axis.name == name)
    };
    for id in before.axis_ids() {
        let name = &old.axis(id).name;
        if find(new, rig, name).is_none() {
            told.push(format!("axis {}.{name} is gone", rig.name));
        }
    }
    for id in rig.axis_ids() {
        let axis = new.axis(id);
        let name = new.axis_name(id);
        let Some(was) = find(old, before, &axis.name) else {
            told.push(format!("axis {name} is new"));
            continue;
        };
        if was.travel != axis.travel {
            let ([a, b], [c, d]) = (was.travel, axis.travel);
            told.push(format!("axis {name}: travel {a} to {b} becomes {c} to {d}"));
        }
        if was.run != axis.run || was.stop != axis.stop {
            told.push(format!("axis {name}: its limits changed"));
        }
        if was.start != axis.start {
            told.push(format!("axis {name}: start {} becomes {}", was.start, axis.start));
        }
        let same_rest = was.unit == axis.unit
            && was.tolerance == axis.tolerance
            && was.lag_limit == axis.lag_limit
            && was.gravity == axis.gravity
            && was.joint == axis.joint
            && was.bodies == axis.bodies;
        if !same_rest {
            told.push(format!("axis {name}: its joint, bodies or tolerances changed"));
        }
    }
}

fn tell_marks(before: &Rig, rig: &Rig, told: &mut Vec<String>) {
    for mark in &before.marks {
        match rig.mark(&mark.name) {
            None => told.push(format!("mark {} of {} is gone", mark.name, rig.name)),
            Some(now) if now.pose != mark.pose => told.push(format!("mark {} of {} moved", mark.name, rig.name)),
            Some(_) => {}
        }
    }
    for mark in &rig.marks {
        if before.mark(&mark.name).is_none() {
            told.push(format!("mark {} of {} is new", mark.name, rig.name));
        }
    }
}

fn tell_cues(old: &Show, new: &Show, told: &mut Vec<String>) {
    for cue in &old.cues {
        if new.find_cue(&cue.number).is_none() {
            told.push(format!("cue {} ({}) is gone", cue.number, cue.name));
        }
    }
    for cue in &new.cues {
        match old.find_cue(&cue.number) {
            None => told.push(format!("cue {} ({}) is new", cue.number, cue.name)),
            Some(id) => tell_cue(old, old.cue(id), new, cue, told),
        }
    }
}

fn tell_cue(old: &Show, before: &Cue, new: &Show, cue: &Cue, told: &mut Vec<String>) {
    let number = &cue.number;
    if before.name != cue.name {
        told.push(format!("cue {number}: {} is now called {}", before.name, cue.name));
    }
    let moves = |show: &Show, cue: &Cue| -> Vec<String> {
        let part = |step: &Move| {
            let to: Vec<String> =
                step.to.iter().map(|&(axis, value)| format!("{} {value}", show.axis_name(axis))).collect();
            format!("{to:?} {:?} {} {}", step.time, step.delay, step.by)
        };
        cue.moves.iter().map(part).collect()
    };
    if moves(old, before) != moves(new, cue) {
        told.push(format!("cue {number}: what it moves changed"));
    }
    if starts(old, before) != starts(new, cue) {
        told.push(format!("cue {number}: what starts it, or what it needs, changed"));
    }
    if before.on_link_loss != cue.on_link_loss {
        told.push(format!("cue {number}: what a lost link does changed"));
    }
    let words = |cue: &Cue| (cue.page.clone(), cue.call.clone(), cue.watch.clone(), cue.notes.clone(), cue.gap);
    if words(before) != words(cue) {
        told.push(format!("cue {number}: its notes for people changed"));
    }
}

/// What starts a cue and what it needs, spelt out.
fn starts(show: &Show, cue: &Cue) -> String {
    let after = match &cue.after {
        None => String::new(),
        Some(After::Start { cue, wait }) => format!("start {} {wait}", show.number_of(*cue)),
        Some(After::End { cue, wait }) => format!("end {} {wait}", show.number_of(*cue)),
        Some(After::When(when)) => format!("when {}", spelt(show, when)),
    };
    let needs = cue.needs.as_ref().map_or_else(String::new, |needs| spelt(show, needs));
    format!("{after} needs {needs}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::read;
    use std::fs;

    /// The differences that an edit of one file of the demo show makes, `from` replaced by `to`.
    fn edited(file: &str, from: &str, to: &str) -> Vec<String> {
        let demo = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show");
        let folder = tempfile::tempdir().expect("a folder");
        for part in ["", "rigs", "cues"] {
            fs::create_dir_all(folder.path().join(part)).expect("a folder");
            for entry in fs::read_dir(demo.join(part)).expect("the demo show").flatten() {
                if entry.path().is_file() {
                    fs::copy(entry.path(), folder.path().join(part).join(entry.file_name())).expect("copied");
                }
            }
        }
        let old = read(folder.path()).show.expect("the demo show reads well");
        let path = folder.path().join(file);
        let text = fs::read_to_string(&path).expect("the file");
        assert!(text.contains(from), "{file} has no {from:?}");
        fs::write(&path, text.replacen(from, to, 1)).expect("written");
        let new = read(folder.path()).show.expect("the edited show reads well");
        differences(&old, &new)
    }

    #[test]
    fn a_comment_is_no_difference() {
        assert!(edited("show.toml", "[show]", "# A remark.\n[show]").is_empty());
    }

    #[test]
    fn an_inserted_interlock_shifts_nothing_else() {
        let told = edited(
            "show.toml",
            "[[interlock]]",
            "[[interlock]]\nname = \"extra\"\nguards = [\"heron\"]\nneeds = { axis = \"heron.boom\", above = -4.5 }\notherwise = \"hold\"\n\n[[interlock]]",
        );
        assert_eq!(told, ["the interlocks changed"]);
    }

    #[test]
    fn a_travel_is_told_before_and_after() {
        let told = edited("rigs/heron.toml", "[-75.0, 10.0]", "[-74.0, 10.0]");
        assert_eq!(told, ["axis heron.swing: travel -75 to 10 becomes -74 to 10"]);
    }
}
