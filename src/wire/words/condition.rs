//! Conditions as people say them, and what was found of one.

use super::Words;
use super::numbers::{plain, seconds, span};
use crate::engine::Truth;
use crate::show::{Atom, AtomId, AxisId, Condition, CueId, CueState, InputId, Nanos, RigId};

impl Words<'_> {
    /// "skiff.travel below -3.3 m and input 'cellar gate closed'".
    pub fn condition(&self, condition: &Condition) -> String {
        match condition {
            Condition::Atom(atom) => self.atom(*atom),
            Condition::All(parts) => self.joined(parts, " and ", "always"),
            Condition::Any(parts) => self.joined(parts, " or ", "never"),
            Condition::Not(part) => format!("not {}", self.part(part)),
        }
    }

    fn joined(&self, parts: &[Condition], word: &str, none: &str) -> String {
        match parts {
            [] => none.into(),
            [only] => self.condition(only),
            several => several.iter().map(|part| self.part(part)).collect::<Vec<_>>().join(word),
        }
    }

    /// A part of a longer condition, in brackets where it could be misread.
    fn part(&self, part: &Condition) -> String {
        match part {
            Condition::All(parts) | Condition::Any(parts) if parts.len() > 1 => {
                format!("({})", self.condition(part))
            }
            Condition::All(_) | Condition::Any(_) | Condition::Atom(_) | Condition::Not(_) => self.condition(part),
        }
    }

    fn atom(&self, atom: AtomId) -> String {
        match &self.show.atoms[atom.index()] {
            Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => {
                format!("{} {}", self.axis(*axis), self.region(atom))
            }
            Atom::At { rig, mark, .. } => format!("{} at '{mark}'", self.show.rig(*rig).name),
            Atom::Input(input) => self.input(*input),
            Atom::CueState { cue, state } => format!("{} {}", self.cue(*cue), state_words(*state)),
            Atom::CuePast { cue, time } => format!("{} past {}", self.cue(*cue), seconds(*time)),
        }
    }

    /// The axis whose position a leaf asks for.
    pub(super) fn axis_of(&self, atom: AtomId) -> Option<AxisId> {
        match &self.show.atoms[atom.index()] {
            Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => Some(*axis),
            Atom::At { .. } | Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => None,
        }
    }

    /// Where a condition on a position wants it.
    fn region(&self, atom: AtomId) -> String {
        match &self.show.atoms[atom.index()] {
            Atom::Above { axis, limit } => format!("above {}", self.position(*axis, *limit)),
            Atom::Below { axis, limit } => format!("below {}", self.position(*axis, *limit)),
            Atom::Within { axis, from, to, modulo } => {
                let from = plain(*from, self.show.axis(*axis).unit);
                let to = self.position(*axis, *to);
                match modulo {
                    Some(modulo) => format!("within {from} to {to} (modulo {})", self.position(*axis, *modulo)),
                    None => format!("within {from} to {to}"),
                }
            }
            Atom::At { mark, .. } => format!("at '{mark}'"),
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => String::new(),
        }
    }

    /// One leaf of a condition as it stands, with what was measured or heard if that is known here.
    pub(crate) fn found(&self, atom: AtomId, truth: Truth) -> String {
        let beside = match &self.show.atoms[atom.index()] {
            Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => {
                self.measured(*axis).filter(|_| truth != Truth::Unknown).map(|at| self.position(*axis, at))
            }
            Atom::At { pose, .. } => self.off_mark(pose).filter(|_| truth == Truth::False),
            Atom::Input(input) => self.heard(*input, truth),
            Atom::CueState { cue, .. } => self.cue_state(*cue).filter(|_| truth == Truth::False),
            Atom::CuePast { cue, .. } => self.cue_time(*cue).filter(|_| truth == Truth::False),
        };
        let stands = self.stands(atom, truth);
        match beside {
            Some(beside) => format!("{stands} ({beside})"),
            None => stands,
        }
    }

    /// One leaf of a condition, with its truth.
    pub(crate) fn stands(&self, atom: AtomId, truth: Truth) -> String {
        let not = match truth {
            Truth::True => "",
            Truth::False => "not ",
            Truth::Unknown => return self.unknown(atom),
        };
        match &self.show.atoms[atom.index()] {
            Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => {
                format!("{} is {not}{}", self.axis(*axis), self.region(atom))
            }
            Atom::At { rig, mark, .. } => format!("{} is {not}at '{mark}'", self.show.rig(*rig).name),
            Atom::Input(input) => format!("{} is {}", self.input(*input), truth.word()),
            Atom::CueState { cue, state } => format!("{} is {not}{}", self.cue(*cue), state_words(*state)),
            Atom::CuePast { cue, time } => format!("{} is {not}past {}", self.cue(*cue), seconds(*time)),
        }
    }

    fn unknown(&self, atom: AtomId) -> String {
        match &self.show.atoms[atom.index()] {
            Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => {
                let (name, region) = (self.axis(*axis), self.region(atom));
                format!("whether {name} is {region} is unknown: {}", self.why_unknown(self.show.axis(*axis).rig))
            }
            Atom::At { rig, mark, .. } => {
                let name = &self.show.rig(*rig).name;
                format!("whether {name} is at '{mark}' is unknown: {}", self.why_unknown(*rig))
            }
            Atom::Input(input) => format!("{} is unknown", self.input(*input)),
            Atom::CueState { .. } | Atom::CuePast { .. } => format!("whether {} is unknown", self.atom(atom)),
        }
    }

    /// Why no position of a rig counts: it has none, or none that is real.
    fn why_unknown(&self, rig: RigId) -> String {
        let pretended = self.status.is_some_and(|status| {
            let known = |axis: AxisId| status.axes[axis.index()].position.is_some();
            status.rigs[rig.index()].simulated && self.show.rig(rig).axis_ids().all(known)
        });
        if pretended { "it is simulated".into() } else { "it has no fresh position".into() }
    }

    /// The axis that is farthest from a mark, in its own tolerances.
    fn off_mark(&self, pose: &[(AxisId, f64)]) -> Option<String> {
        let status = self.status?;
        let off = |&(axis, target): &(AxisId, f64)| {
            let at = status.axes[axis.index()].position?;
            Some((axis, target, at, (at - target).abs() / self.show.axis(axis).tolerance))
        };
        let (axis, target, at, _) = pose.iter().filter_map(off).max_by(|a, b| a.3.total_cmp(&b.3))?;
        let (name, at, target) = (self.axis(axis), self.position(axis, at), self.position(axis, target));
        Some(format!("{name} stands at {at}, the mark is at {target}"))
    }

    fn heard(&self, input: InputId, truth: Truth) -> Option<String> {
        let found = &self.status?.inputs[input.index()];
        match truth {
            Truth::Unknown if found.age == Nanos::NEVER => Some("never heard".into()),
            Truth::Unknown => {
                let limit = span(self.show.inputs[input.index()].max_age);
                Some(format!("last heard {} ago, the limit is {limit}", span(found.age)))
            }
            Truth::False if found.tripped => Some("it tripped: reset once it is true again".into()),
            Truth::False | Truth::True => None,
        }
    }

    fn cue_state(&self, cue: CueId) -> Option<String> {
        Some(format!("it is {}", state_words(self.status?.cues[cue.index()])))
    }

    fn cue_time(&self, cue: CueId) -> Option<String> {
        let running = self.status?.running.iter().find(|running| running.cue == cue);
        match running {
            Some(running) => Some(format!("it is at {}", seconds(running.time))),
            None => self.cue_state(cue),
        }
    }
}

/// "on standby" where "standby" would be no English.
pub(super) fn state_words(state: CueState) -> &'static str {
    match state {
        CueState::Standby => "on standby",
        CueState::Idle
        | CueState::Waiting
        | CueState::Running
        | CueState::Holding
        | CueState::Returning
        | CueState::Done
        | CueState::Stopped => state.word(),
    }
}
