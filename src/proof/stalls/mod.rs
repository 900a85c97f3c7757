//! One rig stops dead anywhere on its path, and the others go on until the group's stop has brought them to rest.
//!
//! The brake is planned by the engine's own search at the instants of the cue, which bound every stop between them
//! ([`super::stops`]). Of two cues together the bound is the shortest standard brake that both bear ([`bearing`]), which no group
//! exceeds, at whatever rate it runs and from wherever its rigs stood within their tolerances as it was fired.
//!
//! A group brakes together, and may take longer to rest than one cue by itself, or the two of a map. So the brake must be borne by
//! whatever may share their rate ([`Groups`]), wherever in its time that can be then ([`further`]). What is clear of it all over
//! brakes by itself.
//!
//! Not covered: a rig of which only some axes jam.

mod back;
mod bearing;
mod beside;
mod brakes;
mod coast;
mod further;
mod groups;
#[cfg(test)]
mod tests;
mod told;
mod within;

pub use bearing::Bearing;
#[cfg(test)]
pub use beside::Both;
pub use beside::Stalls;
pub use brakes::SharedBrakes;
#[cfg(test)]
pub use coast::{Way, notice};
pub use further::Further;
pub use groups::{Groups, StallWithin};
pub use told::{says_within, told_beside, told_within};
pub use within::within;
