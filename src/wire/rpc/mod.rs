//! JSON-RPC 2.0 in text frames: what `/rpc` takes and gives.
//!
//! A frame is first read strictly (one value, no key twice, bounded in size and depth), then each call in it is
//! taken on its own. A call whose method is `stop` is a stop whatever else it holds.

mod call;
mod hand;
mod params;
mod recording;
mod reply;
mod strict;
mod survey;
#[cfg(test)]
mod tests;

pub use call::{Call, Frame, Id, decode};
pub use reply::{Error, Reply, batch, notification};
pub use strict::DEPTH_MAX;

/// The longest text frame, in bytes.
pub const TEXT_MAX: usize = 64 * 1024;
/// Calls of one batch.
pub const BATCH_MAX: usize = 32;
/// The longest `key`, in bytes.
pub const KEY_MAX: usize = 128;
