//! What happened, each once and in order.

use serde::{Deserialize, Serialize};

use super::fault::{Cause, Fault};
use super::in_hand::HandEvent;
use super::refusal::Refusal;
use super::request::{ClientId, RequestId};
use super::sim_fault::SimFault;
use crate::show::{AxisId, CueId, CueState, InputId, InterlockId, Truth};

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// From 1, without gaps.
    pub seq: u64,
    pub tick: u64,
    pub kind: EventKind,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EventKind {
    /// A cue came on standby.
    Standby {
        cue: CueId,
        ready: bool,
    },
    /// A standby was dropped: its pose drifted or an interlock changed.
    Dropped {
        cue: CueId,
        reasons: Refusal,
    },
    Go {
        cue: CueId,
        by: Option<ClientId>,
    },
    /// A request was refused, or (without `request`) a follow, which breaks its chain.
    Refused {
        request: Option<RequestId>,
        client: Option<ClientId>,
        cue: Option<CueId>,
        reasons: Refusal,
    },
    Cue {
        cue: CueId,
        state: CueState,
    },
    /// A cue was held with all that shares its rate, or without one everything: by a client, or by a condition, which the
    /// reasons name.
    Held {
        cue: Option<CueId>,
        by: Option<ClientId>,
        reasons: Refusal,
    },
    Stop {
        cause: Cause,
    },
    /// Measured at rest, or overdue and which axis is not.
    Standstill {
        at_rest: bool,
        axis: Option<AxisId>,
    },
    Reset,
    Armed {
        armed: bool,
    },
    /// Armed with so many rigs simulated, and the others not.
    PartSimulated {
        simulated: u16,
        rigs: u16,
    },
    Fault {
        fault: Fault,
    },
    Interlock {
        interlock: InterlockId,
        truth: Truth,
    },
    Input {
        input: InputId,
        value: bool,
    },
    Master {
        value: f64,
    },
    /// The list was set as if every cue before this one were done.
    Placed {
        cue: CueId,
        by: ClientId,
    },
    /// The files of the show have changed; an operator may accept them.
    Offered {
        differences: u32,
    },
    /// An edit was accepted: this is the show from now on.
    Replaced {
        edition: u32,
        armed: bool,
    },
    ClientLost {
        client: ClientId,
    },
    /// The journal that is to be kept is not, or is again.
    Journal {
        kept: bool,
    },
    /// A simulated rig fails on request from here on, or no longer.
    SimFault {
        fault: SimFault,
        on: bool,
        by: ClientId,
    },
    Hand(HandEvent),
}
