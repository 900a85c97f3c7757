//! Who holds which of the running and waiting cues, and when they may go on.

use arrayvec::ArrayVec;

use super::reason::Reason;
use super::refusal::Refusal;
use super::request::ClientId;
use super::status::{RUNNING_MAX, WAITING_MAX};
use crate::show::CueId;

/// Clients that hold at once at most; a further one is refused, since its hold could not be counted.
pub const HOLDS_MAX: usize = 16;
/// Room for the machine's own hold, for that of one that has gone, and for a hand that let go of what it drove.
const OTHERS_MAX: usize = 4;

/// Cues that run or wait.
pub type UnderWay = ArrayVec<CueId, { RUNNING_MAX + WAITING_MAX }>;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holder {
    /// Only this client can release it.
    Client(ClientId),
    /// A condition, a lost link or a late loop: any resume releases it, if what it asks is proved again.
    Machine,
    /// A client that has gone: any resume releases it.
    Gone,
}

impl Holder {
    /// Whether this client can not release it.
    fn is_another(self, client: ClientId) -> bool {
        match self {
            Holder::Client(other) => other != client,
            Holder::Machine | Holder::Gone => false,
        }
    }
}

/// What one holds.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Hold {
    holder: Holder,
    cues: UnderWay,
    /// Asked of everything that runs: then nothing new is to start either.
    bare: bool,
}

#[derive(Clone, Debug, Default)]
pub struct Holds {
    list: ArrayVec<Hold, { HOLDS_MAX + OTHERS_MAX }>,
}

impl Holds {
    pub fn any(&self) -> bool {
        !self.list.is_empty()
    }

    pub fn on(&self, cue: CueId) -> bool {
        self.list.iter().any(|hold| hold.cues.contains(&cue))
    }

    /// Whether a hold of everything stands, if only for a part of it.
    pub fn bare(&self) -> bool {
        self.list.iter().any(|hold| hold.bare)
    }

    /// Whether this client's hold can be counted.
    pub fn has_room_for(&self, client: ClientId) -> bool {
        self.list.iter().any(|hold| hold.holder == Holder::Client(client)) || self.list.len() < HOLDS_MAX
    }

    /// True if something of it is new.
    pub fn add(&mut self, holder: Holder, cues: &[CueId], bare: bool) -> bool {
        let known = self.list.iter().position(|hold| hold.holder == holder);
        let index = known.unwrap_or(self.list.len());
        if known.is_none() && self.list.try_push(Hold { holder, cues: UnderWay::new(), bare }).is_err() {
            return false;
        }
        let hold = &mut self.list[index];
        let before = hold.clone();
        hold.bare |= bare;
        for cue in cues {
            if !hold.cues.contains(cue) {
                // What ran or waited when it was held is forgotten as it ends: there is room for all that do now.
                hold.cues.push(*cue);
            }
        }
        known.is_none() || *hold != before
    }

    /// Takes this client's hold of `cues` back, and those that anyone may release.
    ///
    /// # Errors
    /// Another client holds one of them. Then this one gives up only what another holds too, so that nothing moves.
    pub fn release(&mut self, client: ClientId, cues: &[CueId]) -> Result<(), Refusal> {
        let mut refusal = Refusal::default();
        let mut held_by_others = UnderWay::new();
        for hold in self.list.iter().filter(|hold| hold.holder.is_another(client)) {
            let mut concerned = cues.iter().filter(|cue| hold.cues.contains(cue)).peekable();
            if let (Holder::Client(client), Some(_)) = (hold.holder, concerned.peek()) {
                refusal.push(Reason::HeldBy { client });
            }
            for cue in concerned {
                if !held_by_others.contains(cue) {
                    held_by_others.push(*cue);
                }
            }
        }
        if refusal.is_empty() {
            self.keep(|cue| !cues.contains(&cue));
            return Ok(());
        }
        for hold in self.list.iter_mut().filter(|hold| hold.holder == Holder::Client(client)) {
            hold.cues.retain(|cue| !held_by_others.contains(cue));
        }
        self.keep(|_| true);
        Err(refusal)
    }

    pub fn client_gone(&mut self, client: ClientId) {
        let held = self.list.iter().position(|hold| hold.holder == Holder::Client(client));
        if let Some(index) = held {
            let hold = self.list.remove(index);
            self.add(Holder::Gone, &hold.cues, hold.bare);
        }
    }

    /// Forgets the holds of all other cues; and who holds none any longer.
    pub fn keep(&mut self, there: impl Fn(CueId) -> bool) {
        self.list.iter_mut().for_each(|hold| hold.cues.retain(|cue| there(*cue)));
        self.list.retain(|hold| !hold.cues.is_empty());
    }

    pub fn clear(&mut self) {
        self.list.clear();
    }
}
