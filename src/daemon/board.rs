//! The newest status, for whoever looks.

use std::sync::{Mutex, PoisonError};

use crate::engine::Status;

/// The reading end of the buffer that the tick thread fills; the lock is among readers alone.
pub struct Board {
    latest: Mutex<triple_buffer::Output<Status>>,
}

impl Board {
    pub fn new(latest: triple_buffer::Output<Status>) -> Board {
        Board { latest: Mutex::new(latest) }
    }

    pub fn status(&self) -> Status {
        self.latest.lock().unwrap_or_else(PoisonError::into_inner).read().clone()
    }
}
