//! What reaches the engine from outside, and the two words with which it answers.
//!
//! A stop is not here: it has its own road (`engine::stop`).

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};

use super::in_hand::{FocusOn, StickShape, Trial};
use super::refusal::Refusal;
use super::sim_fault::SimFault;
use crate::proof::Playback;
use crate::show::{AxisId, CueId, InputId, Nanos, RigId, Role};

/// Given by the daemon, rising through a run; every one is answered exactly once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RequestId(pub u64);

/// A connection, or the sender of datagrams from one address.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ClientId(pub u32);

/// A digest of the `key` that a client sent with a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Key(pub u64);

/// The cues of one standby request at most.
pub const STANDBY_MAX: usize = 16;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Request {
    pub id: RequestId,
    pub client: ClientId,
    pub role: Role,
    /// Of the show whose names it used; 0 if it names nothing of a show.
    pub edition: u32,
    pub key: Option<Key>,
    /// How old it was when it arrived, if it said when it was sent; negative if it claims the future.
    pub age: Option<Nanos>,
    pub verb: Verb,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verb {
    /// Replaces what stood on standby. `skip` acknowledges passing over cues.
    Standby {
        cues: ArrayVec<CueId, STANDBY_MAX>,
        skip: bool,
    },
    /// Fires the first standby cue (or the return that stands on standby).
    Go {
        cue: Option<CueId>,
    },
    /// `None`: all running cues.
    Hold {
        cue: Option<CueId>,
    },
    Resume {
        cue: Option<CueId>,
    },
    /// Puts the way back of a cue at rest on its path on standby, for a GO; with `held` it runs while it is
    /// repeated at least every [`HELD_LEASE`].
    Return {
        cue: CueId,
        held: bool,
    },
    /// Plans the way from where the rigs are measured to where a cue starts and puts it on standby, for a GO; with
    /// `held`, an operator's, it runs while it is repeated at least every [`HELD_LEASE`].
    Preset {
        cue: CueId,
        held: bool,
    },
    /// Lays a take that was planned and proved into its slot and puts it on standby, for a GO; comes from the daemon, which reads
    /// takes.
    Play {
        playback: Playback,
    },
    /// Sets the list as if every cue before this one were done; moves nothing.
    Place {
        cue: CueId,
    },
    /// Files that differ from the show in force; comes from the daemon.
    Offer {
        hash: u64,
        differences: u32,
    },
    Reset,
    Arm,
    Disarm,
    Master {
        value: f64,
    },
    /// `Input` needs the role of a caller.
    Input {
        input: InputId,
        value: bool,
    },
    /// A connection ended, or with `leased` its lease ran out; comes from the daemon. What it held anyone may
    /// release, and what it has in hand comes to rest and is nobody's; with a lease, cues that it fired hold unless they
    /// are written to finish.
    ClientLost {
        leased: bool,
    },
    /// Lets a simulated rig fail, or with `on` false no longer; of whatever size it was.
    SimFault {
        fault: SimFault,
        on: bool,
    },
    /// Takes a rig in hand. `sticks` is whose sticks and dials are believed; without it, the asking client's own.
    Hand {
        rig: RigId,
        sticks: Option<ClientId>,
        shape: StickShape,
    },
    /// Offers a rig in hand to another client for a while; without one, takes the offer back.
    HandOver {
        rig: RigId,
        to: Option<ClientId>,
    },
    /// Takes a rig that was offered.
    Accept {
        rig: RigId,
        sticks: Option<ClientId>,
        shape: StickShape,
    },
    /// Gives a rig in hand back: it comes to rest, and is nobody's then.
    GiveBack {
        rig: RigId,
    },
    /// Takes a rig in hand for a survey: everything goes slowly, axes without a survey too.
    Survey {
        rig: RigId,
        sticks: Option<ClientId>,
        shape: StickShape,
    },
    /// Has an axis of a rig that is in hand for a survey tried, while its button is held.
    Trial {
        axis: AxisId,
        trial: Trial,
    },
    /// Has the focus of a rig in hand follow the distance to something; without it, no more.
    Focus {
        rig: RigId,
        on: Option<FocusOn>,
    },
}

/// A hold-to-run request lasts this long after its last repeat.
pub const HELD_LEASE: Nanos = Nanos(600_000_000);

impl Verb {
    pub fn word(&self) -> &'static str {
        match self {
            Verb::Standby { .. } => "standby",
            Verb::Go { .. } => "go",
            Verb::Hold { .. } => "hold",
            Verb::Resume { .. } => "resume",
            Verb::Return { .. } => "return",
            Verb::Preset { .. } => "preset",
            Verb::Play { .. } => "play",
            Verb::Place { .. } => "place",
            Verb::Offer { .. } => "reload",
            Verb::Reset => "reset",
            Verb::Arm => "arm",
            Verb::Disarm => "disarm",
            Verb::Master { .. } => "master",
            Verb::Input { .. } => "input",
            Verb::ClientLost { .. } => "client lost",
            Verb::SimFault { .. } => "fault",
            Verb::Hand { .. } => "hand",
            Verb::HandOver { .. } => "hand_over",
            Verb::Accept { .. } => "accept",
            Verb::GiveBack { .. } => "give_back",
            Verb::Survey { .. } => "survey",
            Verb::Trial { .. } => "trial",
            Verb::Focus { .. } => "focus",
        }
    }

    /// Whether it names a cue, an input, a rig or an axis of the show.
    pub fn names_anything(&self) -> bool {
        match self {
            Verb::Standby { .. }
            | Verb::Return { .. }
            | Verb::Preset { .. }
            | Verb::Play { .. }
            | Verb::Place { .. }
            | Verb::Input { .. }
            | Verb::SimFault { .. }
            | Verb::Hand { .. }
            | Verb::HandOver { .. }
            | Verb::Accept { .. }
            | Verb::GiveBack { .. }
            | Verb::Survey { .. }
            | Verb::Trial { .. }
            | Verb::Focus { .. } => true,
            Verb::Go { cue } | Verb::Hold { cue } | Verb::Resume { cue } => cue.is_some(),
            Verb::Offer { .. }
            | Verb::Reset
            | Verb::Arm
            | Verb::Disarm
            | Verb::Master { .. }
            | Verb::ClientLost { .. } => false,
        }
    }

    /// The least role that may ask.
    pub fn role(&self) -> Role {
        match self {
            Verb::Standby { .. }
            | Verb::Go { .. }
            | Verb::Hold { .. }
            | Verb::Resume { .. }
            | Verb::Return { .. }
            | Verb::Preset { held: false, .. }
            // Only of a rig that its sticks drive, or that it has in hand.
            | Verb::Focus { .. }
            | Verb::Input { .. } => Role::Caller,
            // It moves real rigs on a way that is not proved.
            Verb::Preset { held: true, .. }
            // Nobody has checked it before.
            | Verb::Play { .. }
            | Verb::Place { .. }
            | Verb::Offer { .. }
            | Verb::Reset
            | Verb::Arm
            | Verb::Disarm
            | Verb::Master { .. }
            | Verb::SimFault { .. }
            | Verb::Hand { .. }
            | Verb::HandOver { .. }
            | Verb::Accept { .. }
            | Verb::GiveBack { .. }
            | Verb::Survey { .. }
            | Verb::Trial { .. } => Role::Operator,
            Verb::ClientLost { .. } => Role::Observer,
        }
    }
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    pub id: RequestId,
    pub client: ClientId,
    pub outcome: Result<Accepted, Refusal>,
}

/// What an accepted request has to add.
#[expect(clippy::large_enum_variant, reason = "of fixed size, since the engine does not allocate")]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Accepted {
    Done,
    /// The standby of cues; not ready says why, of the first cue that is not.
    Standby {
        ready: bool,
        cue: CueId,
        reasons: Refusal,
    },
}
