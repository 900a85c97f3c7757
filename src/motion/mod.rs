//! Axes over time: limits, profiles, the rate of a running cue.

mod profile;

pub use profile::{Ceiling, PIECES, Profile, Sample};
