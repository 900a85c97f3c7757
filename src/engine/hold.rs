//! Who holds the running cues, and when they may go on.

use arrayvec::ArrayVec;

use super::reason::{Reason, Refusal};
use super::request::ClientId;

/// Clients that hold at once at most; a further one is refused, since its hold could not be counted.
pub const HOLDS_MAX: usize = 16;
/// Room for the machine's own hold, for that of one that has gone, and for a hand that let go of what it drove.
const OTHERS_MAX: usize = 4;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holder {
    /// Only this client can release it.
    Client(ClientId),
    /// A condition, a lost link or a late loop: any resume releases it, if what it asks is proved again.
    Machine,
    /// A client that has gone: any resume releases it.
    Gone,
}

#[derive(Clone, Debug, Default)]
pub struct Holds {
    holders: ArrayVec<Holder, { HOLDS_MAX + OTHERS_MAX }>,
}

impl Holds {
    pub fn any(&self) -> bool {
        !self.holders.is_empty()
    }

    /// Whether this client's hold can be counted.
    pub fn has_room_for(&self, client: ClientId) -> bool {
        self.holders.contains(&Holder::Client(client)) || self.holders.len() < HOLDS_MAX
    }

    /// True if this holder is new.
    pub fn add(&mut self, holder: Holder) -> bool {
        !self.holders.contains(&holder) && self.holders.try_push(holder).is_ok()
    }

    /// Takes this client's hold back and those that anyone may release, unless another client holds.
    pub fn release(&mut self, client: ClientId) -> Result<(), Refusal> {
        self.holders.retain(|holder| *holder != Holder::Client(client));
        let mut refusal = Refusal::default();
        for holder in &self.holders {
            match holder {
                Holder::Client(other) => refusal.push(Reason::HeldBy { client: *other }),
                Holder::Machine | Holder::Gone => {}
            }
        }
        if !refusal.is_empty() {
            return Err(refusal);
        }
        self.holders.clear();
        Ok(())
    }

    pub fn client_gone(&mut self, client: ClientId) {
        let held = self.holders.iter().position(|holder| *holder == Holder::Client(client));
        if let Some(index) = held {
            self.holders.remove(index);
            self.add(Holder::Gone);
        }
    }

    pub fn clear(&mut self) {
        self.holders.clear();
    }
}
