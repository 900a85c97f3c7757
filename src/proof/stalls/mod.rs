//! One rig stops dead anywhere on its path, and the others go on until the group's stop has brought them to rest.
//!
//! Not covered: a rig of which only some axes jam, and a stall while a third cue brakes with the two of a map, since
//! three together may take longer to rest.

mod beside;
mod coast;
#[cfg(test)]
mod tests;
mod told;
mod within;

pub use beside::{Stalls, beside};
#[cfg(test)]
pub use coast::{Way, notice};
pub use told::{told_beside, told_within};
pub use within::within;
