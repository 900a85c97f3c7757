//! What an edit of the show changed.

mod cues;
mod rigs;
mod room;
mod used;

use super::id::CueId;
use super::model::{Axis, Rig, Show};
use super::number::CueNumber;
pub use cues::spelt_whole;
pub use used::used_in;

/// One difference between two readings of a show.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    pub subject: Subject,
    /// For people: what changed, with before and after where these are short.
    pub text: String,
    /// The cues of the new show that use it: they go to a mark, move an axis, name an input, or move what an interlock
    /// guards. Empty for what belongs to the whole show, and for a cue itself.
    pub used_in: Vec<CueId>,
}

/// What was edited, by the names that people gave it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Subject {
    /// A key of `[show]`.
    Setting(&'static str),
    Zone(String),
    /// Two rigs, in either order.
    Pair([String; 2]),
    Input(String),
    Interlock(String),
    /// The rig as a whole: whether it is there, where it stands, its bodies, its driver.
    Rig(String),
    Axis {
        rig: String,
        axis: String,
        part: AxisPart,
    },
    Mark {
        rig: String,
        mark: String,
    },
    Cue {
        number: CueNumber,
        part: CuePart,
    },
}

/// What of an axis was edited.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AxisPart {
    New,
    Gone,
    Travel,
    /// Running or stopping limits, the share in them.
    Limits,
    /// Where it is when the show opens.
    Start,
    /// Unit, joint, bodies, tolerances.
    Build,
}

/// What of a cue was edited.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CuePart {
    New,
    Gone,
    /// Where to, in which time, after which delay.
    Moves,
    /// What starts it, what it needs, what a lost link does.
    Start,
    /// Its name and notes: what is for people alone.
    Words,
}

impl Subject {
    /// For scripts.
    pub fn word(&self) -> &'static str {
        match self {
            Subject::Setting(_) => "setting",
            Subject::Zone(_) => "zone",
            Subject::Pair(_) => "pair",
            Subject::Input(_) => "input",
            Subject::Interlock(_) => "interlock",
            Subject::Rig(_) => "rig",
            Subject::Axis { .. } => "axis",
            Subject::Mark { .. } => "mark",
            Subject::Cue { .. } => "cue",
        }
    }
}

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
        && a.surveyed == b.surveyed
        && a.run == b.run
        && a.stop == b.stop
        && a.tolerance == b.tolerance
        && a.lag_limit == b.lag_limit
        && a.gravity == b.gravity
        && a.joint == b.joint
        && a.bodies == b.bodies
}

/// Every difference, in the order: the show's own settings, rigs, cues. Empty if nothing that the show means has changed.
pub fn changes(old: &Show, new: &Show) -> Vec<Change> {
    let mut told = Vec::new();
    room::tell(old, new, &mut told);
    rigs::tell(old, new, &mut told);
    cues::tell(old, new, &mut told);
    for change in &mut told {
        change.used_in = used_in(new, &change.subject);
    }
    told
}

/// The same, each in a sentence that also says where the thing is used.
pub fn differences(old: &Show, new: &Show) -> Vec<String> {
    changes(old, new).iter().map(|change| change.sentence(new)).collect()
}

impl Change {
    fn new(subject: Subject, text: impl Into<String>) -> Change {
        Change { subject, text: text.into(), used_in: Vec::new() }
    }

    /// With the cues of the new show that use it, for a mark.
    fn sentence(&self, new: &Show) -> String {
        match (&self.subject, &self.used_in[..]) {
            (Subject::Mark { .. }, [_, ..]) => format!("{}; used in {}", self.text, new.called(&self.used_in)),
            (_, _) => self.text.clone(),
        }
    }
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
        for part in ["", "rigs", "cues", "takes"] {
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
        assert_eq!(told, ["interlock 'extra' is new"]);
    }

    #[test]
    fn a_travel_is_told_before_and_after() {
        let told = edited("rigs/heron.toml", "[-75.0, 10.0]", "[-74.0, 10.0]");
        assert_eq!(told, ["axis heron.swing: travel -75 to 10 becomes -74 to 10"]);
    }
}
