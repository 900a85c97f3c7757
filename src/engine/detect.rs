//! Faults found: what each rig reports, held against what it was told.
//!
//! ```text
//!                under power                         without
//!   told to move   lags: Following, Stuck, Reversed    -
//!   told to stop   runs away from it: RunsOn           -
//!   told to stand  leaves its place: Creeps            leaves its place: MovesUnpowered, BrakeSlip
//!   always         NonFinite, Jump, OverTravel; of the rig LinkLost, LateReports, Drive, Swapped
//! ```
//!
//! A rig within its limits gives none of them: noise is outlasted, backlash and lag lie within tolerance and lag limit.

use super::event::EventKind;
use super::fault::Fault;
use super::io::TickInput;
use super::tick::Engine;
use crate::show::{Axis, AxisId, Nanos, RigId, Show};

/// A rig that was told to enable has this long to do so.
const ENABLE_TIME: Nanos = Nanos(1_000_000_000);
/// A loop that is later than this part of the shortest link time-out is answered with a hold, and later than all of it
/// with a stop. Reports older than this part of their own are late.
const LATE_PART: i64 = 2;
/// Reports that were late are called so for this long, s, so that a link on the edge is one warning.
const LATE_FOR: f64 = 1.0;
/// What is measured must say it for so long, s, where a single reading could be noise.
const INSIST: f64 = 0.02;
/// After the setpoints have come to rest, an axis has this long to be there, s.
const SETTLE: f64 = 1.5;
/// Without power an axis that has moved is called moving until it has stood for so long, s.
const QUIET: f64 = 2.0;
/// The part of its rated speed below which an axis counts as standing here.
const SLOW: f64 = 0.02;
/// No axis is faster than this many times its rated speed.
const FASTEST: f64 = 2.0;
/// The part of its lag limit at which an axis that runs backwards is told from one that lags.
const BACKWARDS_PART: f64 = 0.5;
/// How many lag limits away an axis that was told to stop is not stopping.
const RUNS_ON_PART: f64 = 2.0;

/// The faults of this tick and of the one before. There is room for all that can be at once.
#[derive(Clone, Debug)]
pub struct Faults {
    pub present: Vec<Fault>,
    before: Vec<Fault>,
    rigs: Vec<RigWatch>,
    axes: Vec<AxisWatch>,
}

#[derive(Clone, Copy, Debug, Default)]
struct RigWatch {
    /// s for which its reports are still called late.
    late_for: f64,
    /// As it was when the show was armed.
    simulated: bool,
    /// Its power goes once the setpoints rest, whatever it reports until then.
    loses_power: bool,
}

/// Times in s.
#[derive(Clone, Copy, Debug, Default)]
struct AxisWatch {
    /// What was last heard: position, and the age it then had.
    heard: Option<(f64, Nanos)>,
    /// For how long it has stood, run backwards, run on, stood outside its travel, stood off its setpoint.
    standing: f64,
    backwards: f64,
    running_on: f64,
    outside: f64,
    off: f64,
    /// For how long its setpoint has rested under power.
    setpoint_rests: f64,
    /// Where it stands without power, once it does.
    anchor: Option<f64>,
    /// For how long it has been away from the anchor, and since when it has not left it again.
    away: f64,
    quiet: Option<f64>,
    /// Until it is acknowledged.
    jumped: bool,
}

/// One axis in this tick.
#[derive(Clone, Copy)]
struct Seen<'a> {
    axis: &'a Axis,
    position: f64,
    speed: f64,
    at_rest: bool,
    /// Measured less told.
    lag: f64,
    told_speed: f64,
}

impl Faults {
    pub fn new(show: &Show) -> Faults {
        let most = 4 * show.rigs.len() + 8 * show.axes.len() + 4;
        Faults {
            present: Vec::with_capacity(most),
            before: Vec::with_capacity(most),
            rigs: vec![RigWatch::default(); show.rigs.len()],
            axes: vec![AxisWatch::default(); show.axes.len()],
        }
    }

    /// Goes on where the faults of the same machines stood. Takes no memory.
    pub fn follow(&mut self, old: &Faults) {
        self.present.clone_from(&old.present);
        self.before.clone_from(&old.before);
        self.rigs.copy_from_slice(&old.rigs);
        self.axes.copy_from_slice(&old.axes);
    }

    /// A reset says that what stood until then was looked at.
    pub fn acknowledge(&mut self) {
        for axis in &mut self.axes {
            axis.jumped = false;
        }
        for rig in &mut self.rigs {
            rig.loses_power = false;
        }
    }

    /// Takes the rig's power once the setpoints rest.
    pub fn condemn(&mut self, rig: RigId) {
        self.rigs[rig.index()].loses_power = true;
    }

    pub fn condemned(&self, rig: RigId) -> bool {
        self.rigs[rig.index()].loses_power
    }

    /// What is simulated is fixed here, by `RigId`.
    pub fn arm(&mut self, simulated: impl Iterator<Item = bool>) {
        for (watch, simulated) in self.rigs.iter_mut().zip(simulated) {
            watch.simulated = simulated;
        }
    }

    /// An axis takes hold where it stands.
    pub fn take_hold(&mut self, axis: AxisId) {
        let watch = &mut self.axes[axis.index()];
        (watch.setpoint_rests, watch.off) = (0.0, 0.0);
    }

    pub fn add(&mut self, fault: Fault) {
        if !self.present.contains(&fault) {
            self.present.push(fault);
        }
    }
}

impl Engine {
    /// Phase 4: every fault of this tick.
    pub(super) fn find_faults(&mut self, input: &TickInput<'_>) {
        let Faults { present, before, .. } = &mut self.faults;
        std::mem::swap(present, before);
        present.clear();
        let woke = Nanos(self.period.0.saturating_add((input.late.0.saturating_sub(self.late.0)).max(0)));
        for rig in self.show.rig_ids() {
            self.find_rig_faults(rig, woke);
        }
        let link_timeout =
            self.show.rigs.iter().map(|rig| rig.link_timeout).min().unwrap_or(Nanos::from_millis(200));
        if input.late > link_timeout {
            self.faults.add(Fault::OverrunStop);
        } else if input.late.0 > link_timeout.0 / LATE_PART {
            self.faults.add(Fault::OverrunHold);
        }
        if self.breach.is_some() {
            self.faults.add(Fault::Engine);
        }
        for index in 0..self.faults.present.len() {
            let fault = self.faults.present[index];
            if !self.faults.before.contains(&fault) {
                self.outbox.event(EventKind::Fault { fault });
            }
        }
        self.late = input.late;
    }

    /// `woke`: the time since the last tick.
    fn find_rig_faults(&mut self, rig: RigId, woke: Nanos) {
        let sense = self.world.rigs[rig.index()];
        if self.armed && sense.simulated != self.faults.rigs[rig.index()].simulated {
            self.faults.add(Fault::Swapped(rig));
        }
        let link_timeout = self.show.rig(rig).link_timeout;
        if sense.age > link_timeout {
            // Before the first report there is nothing to lose yet, but arming asks for a pose.
            if sense.age != Nanos::NEVER || self.armed {
                self.faults.add(Fault::LinkLost(rig));
            }
            return;
        }
        self.find_late_reports(rig, sense.age.0 > link_timeout.0 / LATE_PART);
        let powered = self.commands[rig.index()].enable;
        let told = Nanos(self.period.0.saturating_mul((self.tick - self.enabled_at[rig.index()]) as i64));
        if sense.fault || (powered && !sense.enabled && told > ENABLE_TIME) {
            self.faults.add(Fault::Drive(rig));
        }
        for axis in self.show.rig(rig).axis_ids() {
            self.find_axis_faults(axis, powered, woke);
        }
    }

    fn find_axis_faults(&mut self, id: AxisId, powered: bool, woke: Nanos) {
        let axis = self.show.axis(id);
        let (measured, told) = (self.world.axes[id.index()], self.setpoints[id.index()]);
        let watch = &mut self.faults.axes[id.index()];
        if !measured.position.is_finite() || !measured.speed.is_finite() {
            *watch = AxisWatch { jumped: watch.jumped, ..AxisWatch::default() };
            self.faults.add(Fault::NonFinite(id));
            return;
        }
        let seen = Seen {
            axis,
            position: measured.position,
            speed: measured.speed,
            at_rest: measured.at_rest,
            lag: measured.position - told.position,
            told_speed: told.speed,
        };
        let stopping = self.latch.is_latched() || !self.armed;
        let tick = self.period.seconds();
        let jumped = watch.jump(seen, self.world.rigs[axis.rig.index()].age, woke).then_some(Fault::Jump(id));
        let moved =
            if powered { watch.under_power(id, seen, stopping, tick) } else { watch.without_power(id, seen, tick) };
        let outside = (self.armed && watch.outside(seen, tick)).then_some(Fault::OverTravel(id));
        for fault in [jumped, moved, outside].into_iter().flatten() {
            self.faults.add(fault);
        }
    }

    fn find_late_reports(&mut self, rig: RigId, late: bool) {
        let watch = &mut self.faults.rigs[rig.index()];
        watch.late_for = if late { LATE_FOR } else { watch.late_for - self.period.seconds() };
        if watch.late_for > 0.0 {
            self.faults.add(Fault::LateReports(rig));
        }
    }
}

/// A time that runs while something is so, and begins anew when it is not.
fn run(time: &mut f64, is_so: bool, tick: f64) -> f64 {
    *time = if is_so { *time + tick } else { 0.0 };
    *time
}

impl AxisWatch {
    /// Whether the reading made a step, now or since it was last acknowledged. Steps within tolerance are not seen.
    fn jump(&mut self, seen: Seen<'_>, age: Nanos, woke: Nanos) -> bool {
        if let Some((before, then)) = self.heard {
            let elapsed = Nanos(woke.0.saturating_add(then.0).saturating_sub(age.0)).seconds().max(0.0);
            let most = FASTEST * seen.axis.rated_speed * elapsed + seen.axis.tolerance;
            let step = seen.position - before;
            if step.abs() > most {
                self.jumped = true;
                // The reading moved, not the axis.
                self.anchor = self.anchor.map(|anchor| anchor + step);
            }
        }
        self.heard = Some((seen.position, age));
        self.jumped
    }

    /// Told to move, to stop or to stand, with the drive on.
    fn under_power(&mut self, id: AxisId, seen: Seen<'_>, stopping: bool, tick: f64) -> Option<Fault> {
        let Axis { lag_limit, tolerance, rated_speed, .. } = *seen.axis;
        (self.anchor, self.quiet, self.away) = (None, None, 0.0);
        let (lag, slow) = (seen.lag.abs(), SLOW * rated_speed);
        let moves = seen.speed.abs() > slow;
        let standing = run(&mut self.standing, !moves, tick);
        let against = moves && seen.speed * seen.told_speed < 0.0 && lag > BACKWARDS_PART * lag_limit;
        let backwards = run(&mut self.backwards, against, tick);
        let away = stopping && moves && seen.lag * seen.speed > 0.0 && lag > RUNS_ON_PART * lag_limit;
        let running_on = run(&mut self.running_on, away, tick);
        let rests = run(&mut self.setpoint_rests, seen.told_speed == 0.0, tick);
        let off = run(&mut self.off, rests > SETTLE && lag > tolerance, tick);
        if running_on > INSIST {
            Some(Fault::RunsOn(id))
        } else if backwards > INSIST {
            Some(Fault::Reversed(id))
        } else if lag > lag_limit && seen.told_speed != 0.0 && standing > INSIST {
            Some(Fault::Stuck(id))
        } else if lag > lag_limit {
            Some(Fault::Following(id))
        } else {
            (off > INSIST).then_some(Fault::Creeps(id))
        }
    }

    /// Held by its brakes, once they have brought it to rest.
    fn without_power(&mut self, id: AxisId, seen: Seen<'_>, tick: f64) -> Option<Fault> {
        (self.standing, self.backwards, self.running_on) = (0.0, 0.0, 0.0);
        (self.setpoint_rests, self.off) = (0.0, 0.0);
        let Some(anchor) = self.anchor else {
            self.anchor = seen.at_rest.then_some(seen.position);
            return None;
        };
        if run(&mut self.away, (seen.position - anchor).abs() > seen.axis.tolerance, tick) > INSIST {
            (self.anchor, self.away, self.quiet) = (Some(seen.position), 0.0, Some(0.0));
        }
        let quiet = self.quiet.as_mut()?;
        *quiet += tick;
        if *quiet > QUIET && seen.at_rest {
            self.quiet = None;
        }
        Some(if seen.axis.gravity { Fault::BrakeSlip(id) } else { Fault::MovesUnpowered(id) })
    }

    fn outside(&mut self, seen: Seen<'_>, tick: f64) -> bool {
        let ([low, high], tolerance) = (seen.axis.reach(), seen.axis.tolerance);
        let beyond = seen.position < low - tolerance || seen.position > high + tolerance;
        run(&mut self.outside, beyond, tick) > INSIST
    }
}
