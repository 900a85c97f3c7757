//! Hold-to-run: what moves only while somebody keeps asking for it.
//!
//! ```text
//!            press            asked again in time
//!   nobody ─────────> a hand ────────────────────┐
//!     ↑                 │ ↑                      │
//!     │   let go, lost  │ └──────────────────────┘
//!     ├─────────────────┤
//!     └── in vain <─────┘ refused; held by anybody or anything; stopped; disarmed
//! ```
//!
//! A button that stays pressed starts nothing: once its asking was refused, or what it drove was held or stopped, it
//! counts again only after it was let go of. So neither a reset nor a condition that turns true again sets anything going.

use arrayvec::ArrayVec;

use super::hold::Holder;
use super::reason::Reason;
use super::refusal::Refusal;
use super::request::{Accepted, ClientId, HELD_LEASE, Request};
use super::tick::Engine;
use crate::show::CueId;

/// Keeps a return or a preset going by asking for it again and again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hand {
    pub client: ClientId,
    /// The tick at which it is taken for gone unless it asks again.
    pub until: u64,
    /// The cue that it asks to be moved, with its group.
    pub cue: CueId,
}

/// Hands that press in vain, remembered at most; a further one takes the place of the oldest.
const IN_VAIN_MAX: usize = 8;

/// Hands whose button does not count until they have let go of it.
#[derive(Clone, Debug, Default)]
pub struct InVain {
    hands: ArrayVec<Hand, IN_VAIN_MAX>,
}

impl InVain {
    fn presses(&self, client: ClientId, tick: u64) -> bool {
        self.hands.iter().any(|hand| hand.client == client && tick < hand.until)
    }

    fn note(&mut self, hand: Hand) {
        self.hands.retain(|other| other.client != hand.client);
        if self.hands.is_full() {
            self.hands.remove(0);
        }
        self.hands.push(hand);
    }
}

impl Engine {
    /// One asking of a button that is held; `act` does what it asks.
    pub(super) fn by_hand(
        &mut self,
        request: &Request,
        cue: CueId,
        act: impl FnOnce(&mut Engine) -> Result<Accepted, Refusal>,
    ) -> Result<Accepted, Refusal> {
        let client = request.client;
        if self.hand.is_some_and(|hand| hand.client == client && self.is_held(hand.cue)) {
            self.drop_hand();
        }
        let outcome =
            if self.in_vain.presses(client, self.tick) { Err(Refusal::one(Reason::LetGo)) } else { act(self) };
        if outcome.is_err() {
            self.in_vain.note(self.hand_of(client, cue));
        }
        outcome
    }

    /// It drives from now on, or goes on. There is one hand: what another drove, or this one elsewhere, is let go of.
    pub(super) fn take_hand(&mut self, client: ClientId, cue: CueId) {
        let elsewhere = self.hand.filter(|hand| self.group_of(hand.cue) != self.group_of(cue));
        if let Some(hand) = elsewhere.filter(|hand| self.driven_by_hand(hand.cue)) {
            self.hold_for(Holder::Client(hand.client), Some(hand.cue), Refusal::default());
        }
        self.hand = Some(self.hand_of(client, cue));
    }

    fn hand_of(&self, client: ClientId, cue: CueId) -> Hand {
        let ticks = HELD_LEASE.0 / self.period.0.max(1);
        Hand { client, until: self.tick + ticks as u64, cue }
    }

    /// What it drove no longer moves, and not by its will: it has to let go first.
    pub(super) fn drop_hand(&mut self) {
        if let Some(hand) = self.hand.take() {
            self.in_vain.note(self.hand_of(hand.client, hand.cue));
        }
    }

    /// A hand that has let go keeps nothing moving.
    pub(super) fn miss_hand(&mut self) {
        let Some(hand) = self.hand.take_if(|hand| self.tick >= hand.until) else { return };
        if self.driven_by_hand(hand.cue) {
            self.hold_for(Holder::Client(hand.client), Some(hand.cue), Refusal::default());
        }
    }

    /// A hand that is gone keeps nothing moving; since it cannot release its hold, anyone may.
    pub(super) fn lose_hand(&mut self, client: ClientId) {
        let Some(hand) = self.hand.take_if(|hand| hand.client == client) else { return };
        if self.driven_by_hand(hand.cue) {
            self.hold_for(Holder::Gone, Some(hand.cue), Refusal::one(Reason::LinkLost { client }));
        }
    }

    fn driven_by_hand(&self, cue: CueId) -> bool {
        self.groups.member(cue).is_some_and(|member| member.returning || cue == self.show.preset_id())
    }
}
