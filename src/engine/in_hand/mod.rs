//! Rigs in hand: driven live by sticks and dials, each by one client.
//!
//! ```text
//!              hand                     given back, client lost, disarmed
//!   nobody's ─────────▶ in hand ─────────────────────────────────────────▶ let go
//!      ▲                 │   ▲                                               │
//!      │        hand_over│   │accept, by whom it was offered to              │
//!      │                 └───┘                                               │
//!      └───────────────────────── all its axes at rest ◀─────────────────────┘
//! ```
//!
//! A rig is taken whole, armed or not, and moves only while the show is armed and nothing is stopped. Nothing that stays pushed
//! starts anything: whenever a rig is taken or handed over, the show armed or reset, and whenever something else than its stick
//! has brought an axis to rest, the stick counts only after it has been at zero, and a dial only after it has been picked up anew.
//! A bare hold is of cues, and does not touch what is in hand: who holds the stick lets go of it.

mod beside;
mod drive;
mod fence;
mod focus;
mod gauge;
mod interlocks;
mod lane;
mod lever;
mod near;
mod owner;
mod survey;
mod told;
mod trial;

pub use focus::{FocusOn, FocusState, FocusStatus};
pub use lane::{NoStick, STICKS_MAX, StickKind, StickSample, StickShape};
pub use told::HandEvent;
pub use trial::{Found, Sign, Trial, TrialStatus};

use beside::Ruling;
use focus::Focuses;
use gauge::Gauges;
use lever::Lever;
use trial::Course;

use super::request::ClientId;
use crate::proof::{Berths, Reach};
use crate::show::{InterlockId, Show};

/// A rig in hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grip {
    pub client: ClientId,
    /// Whose sticks and dials are believed: those of this one client alone.
    pub sticks: ClientId,
    pub shape: StickShape,
    /// It is in hand for a survey: everything goes slowly, axes without a survey too.
    pub survey: bool,
    pub offer: Option<Offer>,
    /// It comes to rest, and is nobody's then.
    pub let_go: bool,
    /// Because its client was lost.
    pub lost: bool,
    /// Its berth is clear of everything as it stands.
    pub proved: bool,
}

/// A rig offered to another client, until it accepts, or until a tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Offer {
    pub to: ClientId,
    pub until: u64,
}

#[derive(Clone, Debug)]
pub struct InHand {
    /// By `RigId`.
    pub grips: Vec<Option<Grip>>,
    /// By `AxisId`.
    pub levers: Vec<Lever>,
    pub berths: Berths,
    /// Where each axis may be until it rests: in hand, the berth of its rig; else where it stands.
    pub reach: Reach,
    pub ruling: Option<Ruling>,
    /// By `RigId`: what is tried of it, and what was measured for that.
    trials: Vec<Option<Course>>,
    gauges: Vec<Gauges>,
    pub focuses: Focuses,
    /// By `AxisId`: the interlocks that ask where it is.
    asked_by: Vec<Vec<InterlockId>>,
}

impl InHand {
    pub fn new(show: &Show) -> InHand {
        let levers =
            show.axes.iter().map(|axis| Lever::new(axis, show.settings.glide, show.settings.tick)).collect();
        InHand {
            grips: vec![None; show.rigs.len()],
            levers,
            berths: Berths::new(show),
            reach: InHand::reach_at_start(show),
            ruling: None,
            trials: vec![None; show.rigs.len()],
            gauges: vec![Gauges::new(show.axes.len()); show.rigs.len()],
            focuses: Focuses::new(show),
            asked_by: fence::interlocks_on(show),
        }
    }
}
