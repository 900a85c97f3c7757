//! Axes over time: limits, profiles, the rate of a running cue.

mod profile;
mod ramp;
mod rate;
#[cfg(test)]
mod tests;
mod verify;

pub use profile::{Ceiling, PIECES, Profile, Sample};
pub use ramp::Ramp;
pub use rate::{Course, Extremes, Path, Range, Regime, change_rate, keeps_limits};
pub use verify::{Violation, verify_profile, verify_ramp};
