//! Conditions to trees over the show's atoms.

use super::Resolver;
use crate::show::decode::At;
use crate::show::finding::{Code, Finding};
use crate::show::id::AtomId;
use crate::show::model::{Atom, Condition};
use crate::show::source::Place;
use crate::show::written;

/// Conditions within conditions.
const DEPTH_MAX: usize = 16;

impl Resolver<'_> {
    /// `None` if any part of it could not be read or resolved, which has been reported.
    pub fn condition(&mut self, written: &At<written::Condition>) -> Option<Condition> {
        self.condition_at(written, 0)
    }

    fn condition_at(&mut self, written: &At<written::Condition>, depth: usize) -> Option<Condition> {
        use written::Condition as Written;
        if depth > DEPTH_MAX {
            let message = format!("expected at most {DEPTH_MAX} conditions within each other, found more");
            self.found.push(Finding::new(Code::BadValue, message).at(written.place).fix("make it simpler"));
            return None;
        }
        let atom = match &written.value {
            Written::All(group) => {
                return self.group(&group.all.0, depth).map(Condition::All);
            }
            Written::Any(group) => {
                return self.group(&group.any.0, depth).map(Condition::Any);
            }
            Written::Not(not) => {
                let inner = self.condition_at(&not.not, depth + 1)?;
                return Some(Condition::Not(Box::new(inner)));
            }
            Written::Above(leaf) => {
                Atom::Above { axis: self.names.axis(&leaf.axis, self.found)?, limit: leaf.above.0 }
            }
            Written::Below(leaf) => {
                Atom::Below { axis: self.names.axis(&leaf.axis, self.found)?, limit: leaf.below.0 }
            }
            Written::Within(leaf) => {
                let axis = self.names.axis(&leaf.axis, self.found);
                let [from, to] = leaf.within.value.map(|end| end.0);
                let modulo = leaf.modulo.as_ref().map(|modulo| modulo.value.0);
                self.require_interval(from, to, modulo, leaf.within.place);
                Atom::Within { axis: axis?, from, to, modulo }
            }
            Written::At(leaf) => {
                let rig = self.names.rig(&leaf.rig, self.found)?;
                let mark = leaf.at.value.0.clone();
                let pose = self.names.mark(rig, &mark, leaf.at.place, self.found)?;
                Atom::At { rig, mark, pose }
            }
            Written::Input(leaf) => {
                Atom::Input(self.names.input(&leaf.input.value.0, leaf.input.place, self.found)?)
            }
            Written::CueIn(leaf) => {
                Atom::CueState { cue: self.names.cue(&leaf.cue, self.found)?, state: leaf.state }
            }
            Written::CuePast(leaf) => {
                Atom::CuePast { cue: self.names.cue(&leaf.cue, self.found)?, time: leaf.past.0 }
            }
            Written::Unread => return None,
        };
        self.atoms.push(atom);
        // Too many atoms are refused once all have been counted; until then any index will do.
        Some(Condition::Atom(AtomId((self.atoms.len() - 1).min(usize::from(u16::MAX)) as u16)))
    }

    fn group(&mut self, written: &[At<written::Condition>], depth: usize) -> Option<Vec<Condition>> {
        // Every part is resolved, so that each of its mistakes is told.
        let parts: Vec<Option<Condition>> = written.iter().map(|part| self.condition_at(part, depth + 1)).collect();
        parts.into_iter().collect()
    }

    fn require_interval(&mut self, from: f64, to: f64, modulo: Option<f64>, place: Place) {
        if from > to {
            let message = format!("`within`: expected low, then high, found {from} and {to}");
            self.found.push(Finding::new(Code::BadValue, message).at(place).fix("write the lower end first"));
        }
        if let Some(modulo) = modulo
            && to - from >= modulo
        {
            let message = format!("`within`: expected less than one turn of {modulo}, found {}", to - from);
            let finding = Finding::new(Code::BadValue, message).at(place).against(to - from, modulo);
            self.found.push(finding.fix("every position is within a whole turn: make it narrower"));
        }
    }
}
