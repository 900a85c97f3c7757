//! Where bodies are: joint chains and shapes.
//!
//! A rig (machine) is a chain of joints from its base to its tip. The base frame stands in the world, or rides in
//! the frame of another rig's axis: translated by `at`, then turned about z by `facing`. Each axis with a joint
//! translates by the joint's `at` and turns about, or slides along, the joint's direction by the axis's position;
//! its bodies hang in the frame so reached. Turns are right-handed: a boom that rises with positive values turns
//! about [0, −1, 0].
//!
//! After a joint that is `level`, as at a jib's tip, the next joint is still found where the turned frame carries
//! it, but everything from there on has the orientation from before the turn.
//!
//! Sines and cosines are those of the `libm` crate, so that a pose gives the same bodies on every machine.

mod camera;
mod carriers;
mod chain;
mod frame;
mod look;
mod nearest;
mod optics;
mod shape;
mod solid;
mod sweep;

#[cfg(test)]
pub(crate) mod fixture;
#[cfg(test)]
pub(crate) mod random;

pub use camera::{Astray, Camera, NEAREST, Sight};
pub use carriers::{Carrier, Carries};
pub use chain::{Body, Placed, Stage};
pub use frame::Frame;
pub use look::{Look, look};
pub use nearest::{Gap, gap};
pub use optics::{Depth, Setting, field_of_view};
pub use shape::WorldShape;
pub use solid::{Core, Line, Solid};
pub use sweep::{Strays, Sweep};
