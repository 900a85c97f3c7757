//! The stop, so that a reader can believe it. Each claim is shown by the test it names, in `tests/runs/stop.rs`.
//!
//! 1. One lane a road: a coalescing generation, never a queue. `a_lane_pressed_often_is_one_stop`
//! 2. First in the tick, unconditional. `stop_in_every_state`, `stop_at_every_tick_of_a_run`
//! 3. It beats every other request of the tick, in any order. `stop_beats_every_request_in_every_order`
//! 4. Latched by one function, cleared by one, with a token that only this file makes: at rest, no cause but one that forbids
//!    all but a hand that leads out of it, asked for.
//!    `reset_waits_for_standstill`, `reset_is_refused_while_a_cause_remains`
//! 5. It cannot fail: a rig that is silent or tells nonsense is disabled. `stop_during_each_fault`
//! 6. Overdue means the next rung: the rig is disabled, its heartbeat withheld. `a_rig_that_does_not_stop_is_disabled`
//! 7. Standstill is said when it is measured. `standstill_is_said_when_it_is_measured`
//! 8. Nothing goes on by itself. `nothing_moves_after_reset_without_a_new_go`
//! 9. Silence stops: a lost link, a late loop. `silence_stops`
//! 10. A second stop never lengthens the first. `a_second_stop_changes_nothing`

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};

use super::fault::{Cause, StopLane};
use super::reason::Reason;
use super::refusal::Refusal;
use super::status::Stopped;
use crate::show::AxisId;

/// The generation of each lane of [`StopLane::ALL`], as read at the start of the tick. A lane that has moved on
/// since the last tick is a stop; how often it was pressed does not matter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct StopCalls {
    pub generations: [u32; StopLane::ALL.len()],
}

/// The latch. `stopped` is `Some` from the first cause until a reset.
#[derive(Clone, Debug, Default)]
pub struct StopLatch {
    seen: StopCalls,
    stopped: Option<Stopped>,
}

/// Only [`StopLatch::permit`] makes one, only [`StopLatch::clear`] takes it.
#[derive(Debug)]
pub struct ResetToken(());

impl StopLatch {
    /// The lanes that were pressed since the last tick.
    pub fn read(&mut self, calls: StopCalls) -> impl Iterator<Item = StopLane> + use<> {
        let before = std::mem::replace(&mut self.seen, calls);
        let pressed = move |(index, lane): (usize, StopLane)| {
            (calls.generations[index] != before.generations[index]).then_some(lane)
        };
        StopLane::ALL.into_iter().enumerate().filter_map(pressed)
    }

    /// Latches, or adds the cause to a stop that is latched already; true if the cause is new.
    pub fn latch(&mut self, cause: Cause) -> bool {
        let stopped =
            self.stopped.get_or_insert_with(|| Stopped { by: cause, causes: ArrayVec::new(), standstill: false });
        if stopped.causes.iter().any(|(known, _)| *known == cause) {
            return false;
        }
        if !stopped.causes.is_full() {
            stopped.causes.push((cause, true));
            return true;
        }
        // What is past gives its room to what stands now, but for the first, which tells what began it. Where all of them
        // stand none is told besides: it would be found anew in every tick, and a reset is refused as it is.
        let past = stopped.causes.iter_mut().skip(1).find(|(_, stands)| !stands);
        past.map(|place| *place = (cause, true)).is_some()
    }

    pub fn stopped(&self) -> Option<&Stopped> {
        self.stopped.as_ref()
    }

    pub fn is_latched(&self) -> bool {
        self.stopped.is_some()
    }

    /// Marks each cause as standing still or past, and whether every axis is measured at rest.
    pub fn observe(&mut self, stands: impl Fn(Cause) -> bool, standstill: bool) {
        if let Some(stopped) = &mut self.stopped {
            for (cause, present) in &mut stopped.causes {
                *present = stands(*cause);
            }
            stopped.standstill = standstill;
        }
    }

    /// The token for a reset: standstill measured and said, and no cause left. `moving` is an axis that is not at
    /// rest, or not heard of. Out of what `is_left_by_hand` a hand leads once the latch is clear, and nothing else: there the
    /// cause goes on forbidding what it guards, and without a reset nobody could ever end it.
    pub fn permit(
        &self,
        moving: Option<AxisId>,
        is_left_by_hand: impl Fn(Cause) -> bool,
    ) -> Result<ResetToken, Refusal> {
        let mut refusal = Refusal::default();
        if let Some(stopped) = &self.stopped {
            for (cause, present) in &stopped.causes {
                if *present && !is_left_by_hand(*cause) {
                    refusal.push(Reason::Cause(*cause));
                }
            }
            match moving {
                Some(axis) => refusal.push(Reason::NotStandingStill { axis }),
                None if !stopped.standstill => refusal.push(Reason::StandstillPending),
                None => {}
            }
        }
        if refusal.is_empty() { Ok(ResetToken(())) } else { Err(refusal) }
    }

    /// Clears the latch. It starts nothing.
    pub fn clear(&mut self, _token: ResetToken) {
        self.stopped = None;
    }
}

#[cfg(test)]
mod tests {
    use super::super::fault::Fault;
    use super::super::status::CAUSES_MAX;
    use super::*;

    #[test]
    fn a_cause_beyond_the_room_is_told_once_and_when_there_is_room() {
        let slips = |index: usize| Cause::Fault(Fault::BrakeSlip(AxisId::new(index)));
        let mut latch = StopLatch::default();
        assert!((0..CAUSES_MAX).all(|index| latch.latch(slips(index))));
        let further = slips(CAUSES_MAX);
        assert!(!latch.latch(further) && !latch.latch(further));
        let present = |past: usize| move |cause: Cause| cause != slips(past);
        latch.observe(present(0), true);
        assert!(!latch.latch(further), "what began it stays");
        latch.observe(present(3), true);
        assert!(latch.latch(further) && !latch.latch(further));
        let stopped = latch.stopped().unwrap();
        assert_eq!((stopped.by, stopped.causes[0].0, stopped.causes[3]), (slips(0), slips(0), (further, true)));
        assert!(latch.permit(None, |_| false).is_err());
    }
}
