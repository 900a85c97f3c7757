//! What has begun, and what has ended, whenever a cue begins: by the order of the list alone, whatever the rates are at which the
//! cues went meanwhile.

use super::Starts;
use crate::proof::relation::{CueSet, Relation};
use crate::show::{After, Atom, Condition, CueId, CueState};

/// Of all cues of a list that is called in its order.
#[derive(Clone, Debug)]
pub struct Sequence {
    /// A cue begins no sooner than any of these.
    begun: Relation,
    /// A cue begins no sooner than any of these has ended.
    ended: Relation,
}

/// Of one cue.
struct Before {
    begun: CueSet,
    ended: CueSet,
}

impl Before {
    fn or(self, other: &Before) -> Before {
        Before { begun: self.begun.or(&other.begun), ended: self.ended.or(&other.ended) }
    }
}

impl Sequence {
    pub fn of(starts: &Starts) -> Sequence {
        let count = starts.show.cues.len();
        let mut sequence = Sequence { begun: Relation::none(count), ended: Relation::none(count) };
        let mut last_go = None;
        for cue in starts.show.cue_ids() {
            let before = sequence.before(starts, cue, last_go);
            sequence.begun.put(cue, &before.begun);
            sequence.ended.put(cue, &before.ended);
            if starts.show.cue(cue).after.is_none() {
                last_go = Some(cue);
            }
        }
        sequence
    }

    /// Whether a cue begins no sooner than another.
    pub fn is_after(&self, cue: CueId, other: CueId) -> bool {
        self.begun.get(cue, other)
    }

    /// Whether a follow that hangs on a cue can wait while another runs.
    pub fn can_wait_beside(&self, follow: CueId, leader: CueId, other: CueId) -> bool {
        !self.ended.get(leader, other) && !self.begun.get(other, follow)
    }

    /// Whether a follow can wait at the same time as another, which hangs on a leader.
    pub fn can_wait_with(&self, follow: CueId, leader: CueId) -> bool {
        !self.begun.get(leader, follow)
    }

    fn since_start(&self, other: CueId) -> Before {
        Before { begun: self.begun.of(other).with(other), ended: self.ended.of(other) }
    }

    fn since_end(&self, other: CueId) -> Before {
        Before { begun: self.begun.of(other).with(other), ended: self.ended.of(other).with(other) }
    }

    fn before(&self, starts: &Starts, cue: CueId, last_go: Option<CueId>) -> Before {
        let written = starts.show.cue(cue);
        let mut all: Vec<Before> = Vec::new();
        match (&written.after, starts.leader(cue)) {
            (Some(After::End { .. }), Some((leader, _))) => all.push(self.since_end(leader)),
            (Some(After::Start { .. }), Some((leader, _))) => all.push(self.since_start(leader)),
            (Some(After::When(condition)), _) => {
                // It waits from the start of the cue before it in the list.
                all.extend(cue.index().checked_sub(1).map(|before| self.since_start(CueId::new(before))));
                all.extend(self.of_condition(starts, condition, cue));
            }
            (None, _) => all.extend(last_go.map(|go| self.since_start(go))),
            // Any other chain was found bad.
            (Some(After::Start { .. } | After::End { .. }), None) => {}
        }
        all.extend(starts.waits.for_axes[cue.index()].iter().map(|&(other, _)| self.since_end(other)));
        all.extend(written.needs.as_ref().and_then(|needs| self.of_condition(starts, needs, cue)));
        let none = CueSet::none(starts.show.cues.len());
        all.iter().fold(Before { begun: none.clone(), ended: none }, Before::or)
    }

    /// What must be so for a condition to be true, as far as earlier cues decide it; `None` if that is nothing.
    fn of_condition(&self, starts: &Starts, condition: &Condition, cue: CueId) -> Option<Before> {
        let of = |part| self.of_condition(starts, part, cue);
        match condition {
            Condition::Atom(id) => match &starts.show.atoms[id.index()] {
                Atom::CueState { cue: other, state: CueState::Done } if *other < cue => {
                    Some(self.since_end(*other))
                }
                Atom::CuePast { cue: other, .. } if *other < cue => Some(self.since_start(*other)),
                Atom::CueState { .. }
                | Atom::CuePast { .. }
                | Atom::Above { .. }
                | Atom::Below { .. }
                | Atom::Within { .. }
                | Atom::At { .. }
                | Atom::Input(_) => None,
            },
            Condition::All(parts) => parts.iter().filter_map(of).reduce(|one, other| one.or(&other)),
            Condition::Any(parts) => {
                let each: Option<Vec<Before>> = parts.iter().map(of).collect();
                each?.into_iter().reduce(|one, other| Before {
                    begun: one.begun.and(&other.begun),
                    ended: one.ended.and(&other.ended),
                })
            }
            Condition::Not(_) => None,
        }
    }
}
