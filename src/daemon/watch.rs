//! The thread that watches the tick loop and can stop the rigs without it.
//!
//! It looks at the loop's count of ticks. If that has not moved for the limit, it presses the stop (which a loop that
//! comes back reads first) and has the rigs' heartbeat withheld, so that the rigs' own watchdogs act while the loop
//! does not.
//!
//! The limit is 100 ms or 20 ticks, whichever is longer: a laptop that swaps or compiles makes threads wait for tens
//! of milliseconds without anything being wrong, and a lateness below the limit is the engine's own to answer, which
//! sees it in every tick. If the watch itself slept far too long, the whole machine stood still; then the loop is
//! given the limit afresh before it is blamed.

use std::sync::Arc;
use std::time::Duration;

use super::clock;
use super::pulse::Pulse;
use super::stop_road::StopRoad;
use crate::engine::StopLane;
use crate::show::Nanos;

const LIMIT_LEAST: Nanos = Nanos(100_000_000);
const LIMIT_TICKS: i64 = 20;
/// How long the loop must run again before the heartbeat is given back; the stop stays latched.
const RECOVERY: Nanos = Nanos(1_000_000_000);

/// What the watch thinks of the loop. Time is handed in.
///
/// ```text
/// well ── no progress for the limit ──> stalled ── progress ──> coming back ── RECOVERY ──> well
///                                          ↑───── no progress ──────┘
/// ```
#[derive(Debug)]
pub struct Watch {
    limit: Nanos,
    beats: u64,
    /// When the count last moved, as far as the watch was awake to see.
    moved: Nanos,
    looked: Nanos,
    state: Watching,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Watching {
    Well,
    Stalled,
    ComingBack { since: Nanos },
}

/// What is to be done after a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    Nothing,
    /// Press, and withhold the heartbeat.
    Stalled {
        silent: Nanos,
    },
    /// Give the heartbeat back.
    Recovered,
}

impl Watch {
    pub fn new(tick: Nanos, now: Nanos) -> Watch {
        let limit = LIMIT_LEAST.max(Nanos(LIMIT_TICKS * tick.0));
        Watch { limit, beats: 0, moved: now, looked: now, state: Watching::Well }
    }

    /// How often to look.
    pub fn interval(&self) -> Duration {
        Duration::from_nanos(self.limit.0.unsigned_abs() / 10)
    }

    pub fn look(&mut self, now: Nanos, beats: u64) -> Verdict {
        let overslept = now.0 - self.looked.0 > self.limit.0 / 2;
        self.looked = now;
        let progress = beats != self.beats;
        self.beats = beats;
        if progress || overslept {
            self.moved = now;
        }
        let silent = Nanos(now.0 - self.moved.0);
        match self.state {
            Watching::Well | Watching::ComingBack { .. } if silent > self.limit => {
                self.state = Watching::Stalled;
                Verdict::Stalled { silent }
            }
            Watching::Stalled if progress => {
                self.state = Watching::ComingBack { since: now };
                Verdict::Nothing
            }
            Watching::ComingBack { since } if now.0 - since.0 > RECOVERY.0 => {
                self.state = Watching::Well;
                Verdict::Recovered
            }
            Watching::Well | Watching::Stalled | Watching::ComingBack { .. } => Verdict::Nothing,
        }
    }
}

/// Runs until the loop is asked to end.
pub fn run(tick: Nanos, pulse: &Arc<Pulse>, stop: &Arc<StopRoad>) {
    let mut watch = Watch::new(tick, clock::now());
    while !pulse.asked_to_end() {
        std::thread::sleep(watch.interval());
        match watch.look(clock::now(), pulse.beats()) {
            Verdict::Nothing => {}
            Verdict::Stalled { silent } => {
                stop.press(StopLane::Watch, None);
                pulse.set_cut(true);
                tracing::error!(
                    "the tick loop has made no progress for {silent}: stop pressed, and the rigs' heartbeat withheld"
                );
            }
            Verdict::Recovered => {
                pulse.set_cut(false);
                tracing::warn!("the tick loop runs again; the stop stays latched until a reset");
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TICK: Nanos = Nanos(2_000_000);
    const LOOK: i64 = 10_000_000;

    fn at(look: i64) -> Nanos {
        Nanos(look * LOOK)
    }

    /// Nineteen looks at a loop that does not move.
    fn stall(watch: &mut Watch) {
        let verdicts: Vec<_> = (1..20).map(|look| watch.look(at(look), 1)).collect();
        assert!(verdicts.iter().any(|verdict| matches!(verdict, Verdict::Stalled { .. })));
    }

    #[test]
    fn a_running_loop_is_left_alone() {
        let mut watch = Watch::new(TICK, at(0));
        for look in 1..1000 {
            assert_eq!(watch.look(at(look), look as u64 * 5), Verdict::Nothing);
        }
    }

    #[test]
    fn a_silent_loop_is_stopped_once_just_after_the_limit() {
        let mut watch = Watch::new(TICK, at(0));
        let verdicts: Vec<_> = (1..40).map(|look| watch.look(at(look), 1)).collect();
        // Progress is seen at the first look, 10 ms; 100 ms later the limit is reached, and then passed.
        assert_eq!(verdicts.iter().position(|verdict| *verdict != Verdict::Nothing), Some(11));
        assert_eq!(verdicts[11], Verdict::Stalled { silent: Nanos(110_000_000) });
        assert_eq!(verdicts.iter().filter(|verdict| **verdict != Verdict::Nothing).count(), 1);
    }

    #[test]
    fn the_heartbeat_comes_back_only_after_a_second_of_running() {
        let mut watch = Watch::new(TICK, at(0));
        stall(&mut watch);
        let verdicts: Vec<_> = (20..200).map(|look| watch.look(at(look), look as u64)).collect();
        assert_eq!(verdicts.iter().position(|verdict| *verdict == Verdict::Recovered), Some(101));
    }

    #[test]
    fn a_loop_that_stalls_while_coming_back_is_stopped_again() {
        let mut watch = Watch::new(TICK, at(0));
        stall(&mut watch);
        watch.look(at(20), 2);
        let again = (21..60).map(|look| watch.look(at(look), 2)).find(|verdict| *verdict != Verdict::Nothing);
        assert!(matches!(again, Some(Verdict::Stalled { .. })));
    }

    #[test]
    fn a_machine_that_stood_still_is_not_the_loops_fault() {
        let mut watch = Watch::new(TICK, at(0));
        assert_eq!(watch.look(at(1), 1), Verdict::Nothing);
        assert_eq!(watch.look(at(500), 1), Verdict::Nothing);
        assert_eq!(watch.look(at(501), 2), Verdict::Nothing);
    }

    #[test]
    fn a_long_tick_has_a_longer_limit() {
        assert_eq!(Watch::new(Nanos(20_000_000), at(0)).limit, Nanos(400_000_000));
    }
}
