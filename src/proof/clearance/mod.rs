//! Clearance of one cue over its whole time, proved and not sampled.
//!
//! Between the middle of a span of time and any other instant of it, two bodies come nearer by no more than both can
//! move ([`crate::stage::Sweep`]). So the span is clear if their distance at its middle, less that, is the margin or
//! more; else it is halved. The same search finds the least clearance: a span that cannot hold less than was found
//! already, to a millimetre, is not looked into any further.
//!
//! The clearance at an instant is the distance less what the start tolerances can take off it, along the way between
//! the two bodies.

mod concern;
mod search;
#[cfg(test)]
mod tests;
mod told;

pub use concern::{
    Against, Bound, Concern, Group, Other, Party, bare_apart, bare_zone, bound_apart, bound_zone, zone_block,
};
pub use search::{Closest, Found, Part, Search, Short, clearance, clearance_of, keeps_margins};
pub use told::{finding as told, keeps};

/// m: a rig parked at its margin passes, whatever the rounding; far less than any survey measures.
pub const SLACK: f64 = 1e-6;
/// m, between the least clearance that is told and what is proved.
pub const BRACKET: f64 = 1e-3;
