//! How old a request is that says when it was sent.
//!
//! Nothing else in the house rests on the wall clock, which anybody may set: waits, guards and leases run on monotonic
//! time. So a step of the wall clock can only make a request seem older or younger than it is. Seeming older, it is
//! refused, which is safe, and the refusal says why. Seeming younger, a GO that was long under way would be let
//! through: so for a while after the clock has gone back, every request counts as sent before that, by the old clock.

use std::sync::{Mutex, PoisonError};

use super::clock;
use crate::show::Nanos;

/// The wall clock may run this much away from the monotonic one between two looks; it is slewed by less.
const SLEW_MAX: Nanos = Nanos(100_000_000);
/// What was sent before the clock went back has arrived after so long, or does not arrive any more.
const UNDER_WAY_MAX: Nanos = Nanos(60_000_000_000);
/// A pair of readings that took longer than this is taken again: what lay between them would look like a step.
const READING_MAX: Nanos = Nanos(2_000_000);

/// Watches the wall clock against the monotonic one.
#[derive(Debug, Default)]
pub struct WallWatch {
    steps: Mutex<Steps>,
}

/// How the wall clock was set lately.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stepped {
    /// By how much, last; below zero, back.
    pub by: Nanos,
    pub ago: Nanos,
}

impl WallWatch {
    /// Looks at the clocks, and says so in the log if the wall clock has stepped.
    pub fn look(&self) {
        let (now, wall) = readings();
        let step = self.lock(|steps| steps.look(now, wall));
        if let Some(by) = step {
            let way = if by.0 < 0 { "back" } else { "forward" };
            tracing::warn!(
                "this machine's clock went {way} by {:.3} s: a request that carries `sent` may be refused until both \
                 clocks agree; the show's own times are not touched",
                by.seconds().abs()
            );
        }
    }

    /// The age of a request, by what it says of itself; below zero if it claims the future.
    pub fn age(&self, sent: Nanos) -> Nanos {
        self.look();
        let (now, wall) = readings();
        self.lock(|steps| steps.age(sent, now, wall))
    }

    /// How often the clock was set since the start, and the last time.
    pub fn stepped(&self) -> (u64, Option<Stepped>) {
        let now = clock::now();
        self.lock(|steps| (steps.count, steps.last(now)))
    }

    /// A further reason for a request that was refused for its age, if the clock may be to blame.
    pub fn blame(&self) -> Option<String> {
        let Stepped { by, ago } = self.stepped().1.filter(|stepped| stepped.ago.0 < UNDER_WAY_MAX.0)?;
        Some(format!(
            "this machine's clock was set by {:+.3} s only {:.0} s ago, so the age of a request is in doubt: ask without \
             `sent`, or wait until both clocks agree",
            by.seconds(),
            ago.seconds()
        ))
    }

    fn lock<T>(&self, work: impl FnOnce(&mut Steps) -> T) -> T {
        work(&mut self.steps.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// Both clocks at one instant, as nearly as they can be read.
fn readings() -> (Nanos, Nanos) {
    const TRIES: u32 = 5;
    let mut before = clock::now();
    for _ in 1..TRIES {
        let wall = clock::wall();
        let after = clock::now();
        if after.0 - before.0 < READING_MAX.0 {
            return (before, wall);
        }
        before = after;
    }
    (before, clock::wall())
}

/// The pure part: times are handed in.
#[derive(Debug, Default)]
struct Steps {
    /// Of the wall clock before the monotonic one, when last looked at.
    ahead: Option<Nanos>,
    count: u64,
    /// The last step and when it was seen, on the monotonic clock.
    last: Option<(Nanos, Nanos)>,
    /// By how much the clock went back in all, of those steps after which something sent before may still arrive.
    back: Nanos,
    back_until: Nanos,
}

impl Steps {
    /// Gives the step, if there was one since the last look.
    fn look(&mut self, now: Nanos, wall: Nanos) -> Option<Nanos> {
        let ahead = Nanos(wall.0.saturating_sub(now.0));
        let by = Nanos(ahead.0.saturating_sub(self.ahead.replace(ahead)?.0));
        if by.0.saturating_abs() <= SLEW_MAX.0 {
            return None;
        }
        self.count += 1;
        self.last = Some((by, now));
        if by.0 < 0 {
            let before = if now.0 < self.back_until.0 { self.back } else { Nanos::ZERO };
            self.back = Nanos(before.0.saturating_sub(by.0));
            self.back_until = now.saturating_add(UNDER_WAY_MAX);
        }
        Some(by)
    }

    fn age(&self, sent: Nanos, now: Nanos, wall: Nanos) -> Nanos {
        let by_wall = Nanos(wall.0.saturating_sub(sent.0));
        if now.0 < self.back_until.0 { by_wall.saturating_add(self.back) } else { by_wall }
    }

    fn last(&self, now: Nanos) -> Option<Stepped> {
        self.last.map(|(by, at)| Stepped { by, ago: Nanos(now.0 - at.0) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: f64 = 3600.0;

    /// A machine's clocks, and a client whose own clock is right.
    struct Clocks {
        now: f64,
        /// Of the machine's wall clock before the right time.
        wrong: f64,
        steps: Steps,
    }

    impl Clocks {
        fn new(wrong: f64) -> Clocks {
            let mut clocks = Clocks { now: 1000.0, wrong, steps: Steps::default() };
            clocks.look();
            clocks
        }

        fn right(&self) -> f64 {
            1.8e9 + self.now
        }

        fn wall(&self) -> Nanos {
            Nanos::from_seconds(self.right() + self.wrong)
        }

        fn look(&mut self) -> Option<f64> {
            let (now, wall) = (Nanos::from_seconds(self.now), self.wall());
            self.steps.look(now, wall).map(Nanos::seconds)
        }

        fn pass(&mut self, seconds: f64) -> Option<f64> {
            self.now += seconds;
            self.look()
        }

        fn step(&mut self, by: f64) -> Option<f64> {
            self.wrong += by;
            self.look()
        }

        /// Of a request that a client with the right time sent so long ago.
        fn age(&self, ago: f64) -> f64 {
            let sent = Nanos::from_seconds(self.right() - ago);
            self.steps.age(sent, Nanos::from_seconds(self.now), self.wall()).seconds()
        }
    }

    fn near(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-3, "{found} is not {expected}");
    }

    #[test]
    fn clocks_that_agree_give_the_age() {
        let mut clocks = Clocks::new(0.0);
        for _ in 0..10_000 {
            assert_eq!(clocks.pass(0.5), None);
        }
        near(clocks.age(0.2), 0.2);
        near(clocks.age(-0.2), -0.2);
    }

    #[test]
    fn a_clock_that_is_slewed_has_not_stepped() {
        let mut clocks = Clocks::new(-2.0);
        for _ in 0..100 {
            clocks.wrong += 0.02;
            assert_eq!(clocks.pass(0.5), None);
        }
        near(clocks.age(0.2), 0.2);
    }

    #[test]
    fn an_hour_forward_makes_requests_too_old_and_is_told() {
        let mut clocks = Clocks::new(0.0);
        near(clocks.step(HOUR).expect("a step"), HOUR);
        near(clocks.age(0.0), HOUR);
        assert_eq!(clocks.steps.count, 1);
        clocks.pass(12.0);
        near(clocks.steps.last(Nanos::from_seconds(clocks.now)).expect("told").ago.seconds(), 12.0);
    }

    /// The one that would be dangerous: a GO of two seconds ago, and a clock that went back by two seconds.
    #[test]
    fn a_clock_that_went_back_makes_no_stale_request_fresh() {
        let mut clocks = Clocks::new(0.0);
        near(clocks.step(-2.0).expect("a step"), -2.0);
        near(clocks.age(2.0), 2.0);
        near(clocks.age(0.0), 0.0);
        clocks.pass(59.0);
        near(clocks.age(2.0), 2.0);
        clocks.pass(2.0);
        near(clocks.age(0.0), -2.0);
    }

    #[test]
    fn a_fast_clock_that_is_put_right_is_doubted_for_a_minute() {
        let mut clocks = Clocks::new(HOUR);
        clocks.step(-HOUR);
        near(clocks.age(0.0), HOUR);
        clocks.pass(61.0);
        near(clocks.age(0.0), 0.0);
    }

    #[test]
    fn steps_back_add_up() {
        let mut clocks = Clocks::new(0.0);
        for _ in 0..3 {
            clocks.step(-2.0);
            clocks.pass(20.0);
        }
        near(clocks.age(6.0), 6.0);
        assert_eq!(clocks.steps.count, 3);
    }

    #[test]
    fn nonsense_from_a_clock_or_a_client_does_not_overflow() {
        let mut steps = Steps::default();
        steps.look(Nanos(0), Nanos(i64::MAX));
        steps.look(Nanos(1), Nanos(i64::MIN));
        assert_eq!(steps.age(Nanos(i64::MIN), Nanos(1), Nanos(i64::MAX)), Nanos(i64::MAX));
        steps.age(Nanos(i64::MAX), Nanos(1), Nanos(i64::MIN));
    }

    #[test]
    fn the_clocks_of_this_machine_stand_still_enough_to_be_compared() {
        let watch = WallWatch::default();
        for _ in 0..50 {
            watch.look();
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
        assert_eq!(watch.stepped(), (0, None));
        let age = watch.age(clock::wall()).seconds();
        assert!((0.0..1.0).contains(&age), "{age}");
    }
}
