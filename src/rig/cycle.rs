//! One turn of the control loop: read every rig, tick the engine, write to every rig.

use crate::engine::{AxisReport, Engine, RigReport, StopCalls, TickInput, TickOutput};
use crate::engine::{Request, RigCommand, Setpoint};
use crate::rig::Driver;
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
}

impl Cycle {
    /// `drivers` by `RigId`, as [`crate::rig::open`] gives them.
    ///
    /// # Panics
    /// Unless there is one driver for each rig of the show.
    pub fn new(show: &Show, engine: Engine, drivers: Vec<Box<dyn Driver>>) -> Cycle {
        assert_eq!(drivers.len(), show.rigs.len(), "each rig has one driver");
        Cycle {
            engine,
            drivers,
            spans: show.rigs.iter().map(|rig| usize::from(rig.axes.start)..usize::from(rig.axes.end)).collect(),
            rigs: vec![RigReport { age: Nanos::NEVER, enabled: false, fault: false }; show.rigs.len()],
            axes: show.axes.iter().map(|axis| AxisReport { position: axis.start, speed: 0.0 }).collect(),
            tick: show.settings.tick,
            now: Nanos::ZERO,
            rest: Nanos::ZERO,
            late: Nanos::ZERO,
            begun: false,
        }
    }

    /// One tick. `stop` and `requests` are what arrived since the last turn; `late` is by how much the loop woke
    /// after its deadline, zero in virtual time.
    pub fn turn(&mut self, stop: StopCalls, requests: &[Request], late: Nanos) -> TickOutput<'_> {
        self.advance(late);
        for ((driver, span), report) in self.drivers.iter_mut().zip(&self.spans).zip(&mut self.rigs) {
            *report = driver.read(self.now, &mut self.axes[span.clone()]);
        }
        let output = self.engine.tick(TickInput { stop, requests, rigs: &self.rigs, axes: &self.axes, late });
        write_all(&mut self.drivers, &self.spans, self.now, output.rigs, output.setpoints);
        output
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
        if !self.begun {
            self.begun = true;
            self.late = late;
            return;
        }
        let real = self.tick.0.saturating_add(late.0).saturating_sub(self.late.0);
        // Less than no time means that the loop gave up catching up and set itself a new deadline.
        let elapsed = if real < 0 { self.tick.0 } else { real };
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
    commands: &[RigCommand],
    setpoints: &[Setpoint],
) {
    for ((driver, span), command) in drivers.iter_mut().zip(spans).zip(commands) {
        driver.write(now, *command, &setpoints[span.clone()]);
    }
}
