//! Axes over time: limits, profiles, the rate of a running cue.

mod profile;
mod ramp;
#[cfg(test)]
mod tests;
mod verify;

pub use profile::{Ceiling, PIECES, Profile, Sample};
pub use ramp::Ramp;
pub use verify::{Violation, verify_profile, verify_ramp};
