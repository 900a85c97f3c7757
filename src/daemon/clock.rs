//! The two clocks of the process. Everything above this folder is handed its time.

use rustix::thread::ClockId;
use rustix::time::Timespec;

use crate::show::Nanos;

const SECOND: i64 = 1_000_000_000;

/// Monotonic time, from an arbitrary origin. Nobody can set it, so no deadline ever jumps.
pub fn now() -> Nanos {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
    Nanos(time.tv_sec * SECOND + time.tv_nsec)
}

/// Time since 1970, which anybody may set. Only the age of a request that says when it was sent rests on it; journal and
/// log write it down.
pub fn wall() -> Nanos {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::Realtime);
    Nanos(time.tv_sec * SECOND + time.tv_nsec)
}

/// Sleeps until an instant of the monotonic clock; returns at once if it has passed.
///
/// The deadline is absolute, so the time that the caller's work took does not add to the period.
pub fn sleep_until(deadline: Nanos) {
    let request = Timespec { tv_sec: deadline.0.div_euclid(SECOND), tv_nsec: deadline.0.rem_euclid(SECOND) };
    while let Err(error) = rustix::thread::clock_nanosleep_absolute(ClockId::Monotonic, &request) {
        // A signal that the process handles elsewhere wakes the sleeper early.
        if error != rustix::io::Errno::INTR {
            std::thread::sleep(std::time::Duration::from_millis(1));
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sleeping_ends_not_before_the_deadline() {
        let deadline = now().saturating_add(Nanos::from_millis(3));
        sleep_until(deadline);
        assert!(now() >= deadline);
    }

    #[test]
    fn a_deadline_that_has_passed_does_not_sleep() {
        let start = now();
        sleep_until(Nanos(start.0 - SECOND));
        assert!(now().0 - start.0 < SECOND / 2);
    }
}
