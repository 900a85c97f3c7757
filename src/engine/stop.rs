//! The stop. (Being built.)

use serde::{Deserialize, Serialize};

use super::fault::StopLane;

/// The generation of each lane of [`StopLane::ALL`], as read at the start of the tick. A lane that has moved on
/// since the last tick is a stop; how often it was pressed does not matter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct StopCalls {
    pub generations: [u32; StopLane::ALL.len()],
}
