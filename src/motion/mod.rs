//! Axes over time: limits, profiles, curves, takes, passages from any state, the rate of a running cue, motion by hand.

mod clamped;
mod curve;
mod ends;
mod fade;
mod passage;
mod positioning;
mod profile;
mod ramp;
mod rate;
mod soft;
mod stick;
mod take;
#[cfg(test)]
mod tests;
mod through;
mod traced;
mod track;
mod verify;

pub use curve::{Curve, Knot, Turn};
pub use ends::{stopping_way, travel_between};
pub use fade::Fade;
pub use passage::{Bounds, Impossible, Limit, PASSAGE_PIECES, Passage, State, Verified};
pub use positioning::{APPROACHES_LEAST, APPROACHES_MAX, Approaches, Positioning, Side};
pub use profile::{Ceiling, PIECES, Profile, Sample};
pub use ramp::Ramp;
pub use rate::{Bears, Change, Course, Extremes, Path, Piece, RUNGS, Range, Regime, SHAPES, Search, Standard};
pub use rate::{change_at_once, change_rate, keeps_limits, level, no_farther, no_worse, told_beforehand};
pub use soft::{least_time, soft};
pub use stick::{Dial, Follower, Response, Step, Unusable, brake, coast};
pub use take::{Derivative, Part, Peak, Performance, Phrase, Rough, Tightest, Trace, perform, tightest};
pub use through::{Through, Way, through};
pub use traced::{PARTS, fade, traced};
pub use track::Track;
pub use verify::{Violation, verify_curve, verify_passage, verify_profile, verify_ramp};
