//! What is told of rigs in hand.

use serde::{Deserialize, Serialize};

use super::{Found, NoStick};
use crate::engine::ClientId;
use crate::proof::Near;
use crate::show::{AimedAt, AxisId, InterlockId, RigId};

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum HandEvent {
    /// A client has a rig in hand from here on, and these sticks drive it.
    Taken { rig: RigId, client: ClientId, sticks: ClientId },
    /// A rig in hand was offered to another client; or, to nobody, is no longer.
    Offered { rig: RigId, from: ClientId, to: Option<ClientId> },
    /// A rig that was in hand is nobody's; `lost` if its client has gone.
    GivenBack { rig: RigId, client: ClientId, lost: bool },
    /// What a stick or a dial said was not believed: told once, until something is.
    Ignored { axis: AxisId, client: ClientId, why: NoStick },
    /// It stands since it would come too near to something.
    Stopped { rig: RigId, near: Near },
    /// A trial is over.
    Tried { axis: AxisId, found: Found },
    /// Its focus follows this from here on, or nothing any more.
    Focus { rig: RigId, on: Option<AimedAt> },
    /// Its focus has come to rest: where its lens is, or what it follows, is not known.
    FocusLost { rig: RigId },
    /// It stands since an interlock would not permit it further on.
    Barred { rig: RigId, interlock: InterlockId },
}
