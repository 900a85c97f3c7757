//! Cues beside rigs in hand.
//!
//! A rig in hand that stands is to a cue what any rig is that stands: where the list leaves it, or proved beside the cue where it
//! is. One that moves is proved to be clear of all of the cue within its berth, as the cue is fired; a cue that goes on, or back,
//! waits until it stands. From then on its berth is enlarged only where it keeps clear of what the cue has still before it.

use super::InHand;
use crate::engine::reason::Reason;
use crate::engine::refusal::Refusal;
use crate::engine::tick::Engine;
use crate::proof::{Clear, Goer};
use crate::show::{AxisId, CueId, RigId};

/// Looks at once, when a cue is fired.
const LOOKS_AT_ONCE: usize = 512;
/// Ticks for which what was found is good enough to be shown, and after which it is found anew.
const SHOWN_TICKS: u64 = 50;
const AGAIN_TICKS: u64 = 25;

/// Whether a cue is clear of what moves in hand.
#[derive(Clone, Copy, Debug)]
pub struct Ruling {
    cue: CueId,
    tick: u64,
    /// Not of this rig.
    found: Option<(RigId, Clear)>,
}

impl Engine {
    /// Whether bodies of a rig move in somebody's hands.
    pub(in crate::engine) fn moves_in_hand(&self, rig: RigId) -> bool {
        self.grip(rig).is_some() && self.in_hand.berths.concerns(rig) && !self.bodies_rest_in_hand(rig)
    }

    /// Finds out whether a cue that starts now is clear of what moves in hand.
    pub(in crate::engine) fn rule_on_hands(&mut self, cue: CueId) {
        let mut looks = LOOKS_AT_ONCE;
        let mut found = None;
        for rig in self.show.rig_ids() {
            if found.is_some() || !self.moves_in_hand(rig) {
                continue;
            }
            let plan = self.plan.cue(cue);
            let goer = Goer { plan, from: 0.0, to: plan.duration };
            let InHand { berths, reach, .. } = &mut self.in_hand;
            let clear = berths.clear_beside(&self.show, rig, reach, goer, &mut looks);
            found = (clear != Clear::Yes).then_some((rig, clear));
        }
        self.in_hand.ruling = Some(Ruling { cue, tick: self.tick, found });
    }

    /// The same now and then for the cue that is first on standby, for eyes.
    pub(in crate::engine) fn look_at_hands(&mut self) {
        let Some(cue) = self.standby.first().map(|entry| entry.cue) else { return };
        let fresh = |ruling: &Ruling| ruling.cue == cue && self.tick < ruling.tick + AGAIN_TICKS;
        if !self.in_hand.ruling.as_ref().is_some_and(fresh)
            && self.show.rig_ids().any(|rig| self.moves_in_hand(rig))
        {
            self.rule_on_hands(cue);
        }
    }

    /// What moves in hand, and is not proved to be clear of the whole cue.
    pub(in crate::engine) fn hand_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        let good = |ruling: &&Ruling| ruling.cue == cue && self.tick <= ruling.tick + SHOWN_TICKS;
        let ruling = self.in_hand.ruling.as_ref().filter(good);
        for (rig, grip) in self.grips().filter(|&(rig, _)| self.moves_in_hand(rig)) {
            match ruling.map(|ruling| ruling.found) {
                Some(None) => {}
                Some(Some((of, Clear::No(near)))) if of == rig => {
                    refusal.push(Reason::NearHand { client: grip.client, near });
                }
                Some(Some(_)) | None => refusal.push(Reason::HandMoves { rig, client: grip.client }),
            }
        }
    }

    /// What moves in hand, beside a cue that goes on or back from where it is.
    pub(in crate::engine) fn moving_hand_reasons(&self, refusal: &mut Refusal) {
        for (rig, grip) in self.grips().filter(|&(rig, _)| self.moves_in_hand(rig)) {
            refusal.push(Reason::HandMoves { rig, client: grip.client });
        }
    }

    pub(in crate::engine) fn axis_moves_in_hand(&self, axis: AxisId) -> bool {
        self.moves_in_hand(self.show.axis(axis).rig)
    }
}
