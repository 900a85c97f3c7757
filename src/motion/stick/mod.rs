//! Motion by hand: what a stick or a dial says, and how its axis follows.
//!
//! A [`Response`] shapes what a stick says, a [`Dial`] waits to be picked up, and a [`Follower`] takes the axis from tick to
//! tick towards the speed or the position that they ask for.

mod brake;
mod dial;
mod follower;
mod response;
#[cfg(test)]
mod tests;

pub use brake::{Step, brake, coast};
pub use dial::Dial;
pub use follower::Follower;
pub use response::{Response, Unusable};
