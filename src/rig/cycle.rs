//! One turn of the control loop: read every rig, tick the engine, write to every rig.

use arrayvec::ArrayVec;

use crate::engine::{AxisReport, Engine, RigReport, STICKS_MAX, StickSample, StopCalls, TickInput, TickOutput};
use crate::engine::{Refusal, Request, RigCommand, Setpoint};
use crate::rig::{Driver, FaultScript, SimFaults};
use crate::show::{Nanos, Show};
use std::ops::Range;

/// The engine and its drivers, turned once a tick by whoever keeps the time: the tick thread against the clock,
/// a rehearsal or a test as fast as it can.
///
/// Time here is what the drivers are told: it begins at zero with the first turn and advances by one tick a turn.
/// Where the loop woke late by whole ticks, the drivers' time advances by so many more, since a machine does not
/// wait for us. Allocates only when made.
pub struct Cycle {
    engine: Engine,
    drivers: Vec<Box<dyn Driver>>,
    /// The axes of each rig within `axes`, by `RigId`.
    spans: Vec<Range<usize>>,
    rigs: Vec<RigReport>,
    axes: Vec<AxisReport>,
    tick: Nanos,
    /// Real time of this turn, in whole ticks and the rest that is none yet.
    now: Nanos,
    rest: Nanos,
    late: Nanos,
    begun: bool,
    withheld: bool,
    unrecorded: bool,
    /// For the next turn, and of this one.
    heard: ArrayVec<StickSample, STICKS_MAX>,
    sticks: ArrayVec<StickSample, STICKS_MAX>,
    faults: SimFaults,
    script: Option<FaultScript>,
}

/// One turn, whole: what the engine was given, and what it gave.
#[derive(Clone, Copy, Debug)]
pub struct Exchange<'a> {
    pub input: TickInput<'a>,
    pub output: TickOutput<'a>,
}

impl Cycle {
    /// `drivers` by `RigId` and the handle that makes the simulated ones fail, as [`crate::rig::open`] gives them.
    ///
    /// # Panics
    /// Unless there is one driver for each rig of the show.
    pub fn new(show: &Show, engine: Engine, drivers: Vec<Box<dyn Driver>>, faults: SimFaults) -> Cycle {
        assert_eq!(drivers.len(), show.rigs.len(), "each rig has one driver");
        Cycle {
            engine,
            drivers,
            spans: show.rigs.iter().map(|rig| usize::from(rig.axes.start)..usize::from(rig.axes.end)).collect(),
            rigs: vec![
                RigReport { age: Nanos::NEVER, enabled: false, fault: false, simulated: false };
                show.rigs.len()
            ],
            axes: show.axes.iter().map(|axis| AxisReport { position: axis.start, speed: 0.0 }).collect(),
            tick: show.settings.tick,
            now: Nanos::ZERO,
            rest: Nanos::ZERO,
            late: Nanos::ZERO,
            begun: false,
            withheld: false,
            unrecorded: false,
            heard: ArrayVec::new(),
            sticks: ArrayVec::new(),
            faults,
            script: None,
        }
    }

    /// Makes simulated rigs fail as the script says from here on.
    pub fn follow_script(&mut self, script: FaultScript) {
        self.script = Some(script);
    }

    /// The faults of the simulated rigs.
    pub fn faults(&self) -> &SimFaults {
        &self.faults
    }

    /// How far the script has come, if there is one.
    pub fn script(&self) -> Option<&FaultScript> {
        self.script.as_ref()
    }

    /// One tick. `stop` and `requests` are what arrived since the last turn; `late` is by how much the loop woke
    /// after its deadline, zero in virtual time.
    pub fn turn<'a>(&'a mut self, stop: StopCalls, requests: &'a [Request], late: Nanos) -> TickOutput<'a> {
        self.exchange(stop, requests, late).output
    }

    /// Like [`Cycle::turn`], for whoever keeps a journal.
    pub fn exchange<'a>(&'a mut self, stop: StopCalls, requests: &'a [Request], late: Nanos) -> Exchange<'a> {
        self.advance(late);
        for ((driver, span), report) in self.drivers.iter_mut().zip(&self.spans).zip(&mut self.rigs) {
            *report = driver.read(self.now, &mut self.axes[span.clone()]);
        }
        let unrecorded = self.unrecorded;
        self.sticks = std::mem::take(&mut self.heard);
        let input = TickInput {
            stop,
            requests,
            sticks: &self.sticks,
            rigs: &self.rigs,
            axes: &self.axes,
            late,
            unrecorded,
        };
        let output = self.engine.tick(input);
        let commands = output
            .rigs
            .iter()
            .map(|&command| RigCommand { heartbeat: command.heartbeat && !self.withheld, ..command });
        write_all(&mut self.drivers, &self.spans, self.now, commands, output.setpoints);
        for event in output.events {
            self.faults.heed(&event.kind);
        }
        if let Some(script) = &mut self.script {
            script.turn(output.status, &self.faults);
        }
        Exchange { input, output }
    }

    /// Puts the engine of an edited show in the place of the one that runs, if it may be now. Gives the other one back, and
    /// the new edition.
    pub fn replace(&mut self, mut next: Box<Engine>) -> (Box<Engine>, Result<u32, Refusal>) {
        if let Err(refusal) = self.engine.may_be_followed_by(&next) {
            return (next, Err(refusal));
        }
        next.take_over(&self.engine);
        std::mem::swap(&mut self.engine, &mut next);
        let edition = self.engine.edition();
        (next, Ok(edition))
    }

    /// The engine, for those who watch it.
    pub fn engine(&self) -> &Engine {
        &self.engine
    }

    /// Withholds the heartbeat of every rig, or gives it back to the engine's will: the last thing that whoever
    /// watches this loop can do, since each rig's own watchdog then stops it.
    pub fn withhold_heartbeat(&mut self, withhold: bool) {
        self.withheld = withhold;
    }

    /// What sticks and dials said, for the next turn. Of more than [`STICKS_MAX`] samples the newest are heard.
    pub fn hear(&mut self, sticks: &[StickSample]) {
        for &sample in sticks {
            if self.heard.is_full() {
                self.heard.remove(0);
            }
            self.heard.push(sample);
        }
    }

    /// Tells the engine from the next turn on whether the journal that is to be kept is not.
    pub fn set_unrecorded(&mut self, unrecorded: bool) {
        self.unrecorded = unrecorded;
    }

    /// Whether no machine moves, by `RigId`.
    pub fn simulated(&self) -> impl Iterator<Item = bool> + '_ {
        self.drivers.iter().map(|driver| driver.simulated())
    }

    /// The reports that the last turn gave to the engine, by `RigId` and by `AxisId`.
    pub fn reports(&self) -> (&[RigReport], &[AxisReport]) {
        (&self.rigs, &self.axes)
    }

    /// The drivers' time of the last turn.
    pub fn now(&self) -> Nanos {
        self.now
    }

    fn advance(&mut self, late: Nanos) {
        // From deadline to deadline it is one tick, but for the first.
        let tick = if self.begun { self.tick.0 } else { 0 };
        let real = tick.saturating_add(late.0).saturating_sub(self.late.0);
        // Less than no time means that the loop gave up catching up and set itself a new deadline.
        let elapsed = if real < 0 { tick } else { real };
        self.begun = true;
        self.late = late;
        self.rest = self.rest.saturating_add(Nanos(elapsed));
        let whole = self.rest.0 - self.rest.0 % self.tick.0;
        self.rest.0 -= whole;
        self.now = self.now.saturating_add(Nanos(whole));
    }
}

fn write_all(
    drivers: &mut [Box<dyn Driver>],
    spans: &[Range<usize>],
    now: Nanos,
    commands: impl Iterator<Item = RigCommand>,
    setpoints: &[Setpoint],
) {
    for ((driver, span), command) in drivers.iter_mut().zip(spans).zip(commands) {
        driver.write(now, command, &setpoints[span.clone()]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::Plan;
    use crate::rig::open;
    use crate::show::Unit;
    use crate::stage::fixture::{add_axis, add_rig, empty_show};
    use glam::DVec3;
    use std::sync::Arc;

    /// Two rigs of one and two axes, at 2 ms.
    fn cycle() -> Cycle {
        let mut show = empty_show();
        for axes in [1, 2] {
            add_rig(&mut show, DVec3::ZERO, 0.0, None);
            for _ in 0..axes {
                let axis = add_axis(&mut show, Unit::Metre, None, vec![]);
                show.axes[axis.index()].start = f64::from(axis.0) + 1.0;
            }
        }
        let show = Arc::new(show);
        let engine = Engine::new(show.clone(), Arc::new(Plan::default()));
        {
            let (drivers, faults) = open(&show, 1);
            Cycle::new(&show, engine, drivers, faults)
        }
    }

    fn turn(cycle: &mut Cycle, late_micros: i64) -> i64 {
        cycle.turn(StopCalls::default(), &[], Nanos(late_micros * 1000));
        cycle.now().0 / 1_000_000
    }

    #[test]
    fn time_begins_at_zero_and_goes_by_ticks() {
        let mut cycle = cycle();
        let times: Vec<i64> = (0..4).map(|_| turn(&mut cycle, 0)).collect();
        assert_eq!(times, [0, 2, 4, 6]);
    }

    #[test]
    fn a_little_late_is_not_late_for_the_rigs() {
        let mut cycle = cycle();
        let times: Vec<i64> = [60, 900, 20, 1999, 0, 130].map(|late| turn(&mut cycle, late)).into();
        assert_eq!(times, [0, 2, 4, 6, 8, 10]);
    }

    #[test]
    fn whole_ticks_lost_are_made_up_once() {
        let mut cycle = cycle();
        // 7 ms late, then the loop hurries through the deadlines it missed, until it is on time again.
        let times: Vec<i64> = [0, 7000, 5000, 3000, 1000, 0, 0].map(|late| turn(&mut cycle, late)).into();
        assert_eq!(times, [0, 8, 8, 8, 8, 10, 12]);
    }

    #[test]
    fn a_loop_that_sets_itself_a_new_deadline_goes_on_from_there() {
        let mut cycle = cycle();
        let times: Vec<i64> = [0, 500_000, 0, 0].map(|late| turn(&mut cycle, late)).into();
        assert_eq!(times, [0, 502, 504, 506]);
    }

    #[test]
    fn each_rig_reads_its_own_axes() {
        let mut cycle = cycle();
        for _ in 0..5 {
            turn(&mut cycle, 0);
        }
        let (rigs, axes) = cycle.reports();
        assert!(rigs.iter().all(|rig| rig.age == Nanos::from_millis(4)));
        assert_eq!(axes.iter().map(|axis| axis.position).collect::<Vec<_>>(), [1.0, 2.0, 3.0]);
    }
}
