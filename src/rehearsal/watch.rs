//! Eyes on everything: what each cue took, how near its axes came to their limits, when its state changed.

use super::record::{AxisRecord, CueRecord, Outcome, Peaks};
use super::track::{Point, Track};
use crate::engine::{AxisReport, Event, EventKind, Setpoint, Status};
use crate::motion::Regime;
use crate::proof::Plan;
use crate::show::{AxisId, CueId, CueState, Show};

pub struct Watch {
    /// By `CueId`, the slot of the preset last.
    pub cues: Vec<CueRecord>,
    pub events: Vec<(f64, Event)>,
    pub tracks: Vec<Track>,
    /// By `CueId`: from its GO until it is done or back at its start, a stop between included.
    under_way: Vec<bool>,
    /// Setpoints of this tick and of the one before, by `AxisId`.
    now: Vec<Setpoint>,
    before: Vec<Setpoint>,
    tick: f64,
}

impl Watch {
    pub fn new(show: &Show, plan: &Plan, master: f64) -> Watch {
        let tick = show.settings.tick.seconds();
        let cue = |cue: CueId| {
            let moved = plan.cue(cue).moves.iter().flat_map(|step| step.axes.iter().map(|path| path.axis));
            let mut axes: Vec<AxisId> = moved.collect();
            axes.sort();
            axes.dedup();
            record(cue, axes.into_iter(), plan.cue(cue).duration / master)
        };
        let preset = record(show.preset_id(), show.axis_ids(), 0.0);
        Watch {
            cues: show.cue_ids().map(cue).chain([preset]).collect(),
            events: Vec::new(),
            tracks: show.axes.iter().map(|_| Track::new(tick)).collect(),
            under_way: vec![false; show.cues.len() + 1],
            now: vec![Setpoint::default(); show.axes.len()],
            before: vec![Setpoint::default(); show.axes.len()],
            tick,
        }
    }

    pub fn is_under_way(&self, cue: CueId) -> bool {
        self.under_way[cue.index()]
    }

    /// What the engine gave out in the tick that ends at `time`.
    pub fn take(&mut self, time: f64, setpoints: &[Setpoint], events: &[Event]) {
        std::mem::swap(&mut self.now, &mut self.before);
        self.now.copy_from_slice(setpoints);
        for event in events {
            self.note(time, &event.kind);
            self.events.push((time, event.clone()));
        }
    }

    fn note(&mut self, time: f64, kind: &EventKind) {
        match kind {
            EventKind::Go { cue, .. } => {
                // A cue that is carried on had its GO before.
                if !std::mem::replace(&mut self.under_way[cue.index()], true) {
                    let record = &mut self.cues[cue.index()];
                    // A GO moves its cue within its tick; a follow is fired at the end of one.
                    let follows = record.states.last().is_some_and(|(_, state)| *state == CueState::Waiting);
                    let fired = if follows { time } else { time - self.tick };
                    (record.fired, record.ended, record.interrupted) = (Some(fired), None, 0.0);
                }
            }
            EventKind::Cue { cue, state } => self.enter(time, *cue, *state),
            EventKind::Standby { .. }
            | EventKind::Dropped { .. }
            | EventKind::Refused { .. }
            | EventKind::Held { .. }
            | EventKind::Stop { .. }
            | EventKind::Standstill { .. }
            | EventKind::Reset
            | EventKind::Armed { .. }
            | EventKind::PartSimulated { .. }
            | EventKind::Fault { .. }
            | EventKind::Interlock { .. }
            | EventKind::Input { .. }
            | EventKind::Master { .. }
            | EventKind::Placed { .. }
            | EventKind::Offered { .. }
            | EventKind::Replaced { .. }
            | EventKind::ClientLost { .. }
            | EventKind::Journal { .. }
            | EventKind::SimFault { .. }
            | EventKind::Hand(_) => {}
        }
    }

    fn enter(&mut self, time: f64, cue: CueId, state: CueState) {
        let record = &mut self.cues[cue.index()];
        record.states.push((time, state));
        match state {
            CueState::Done => {
                self.under_way[cue.index()] = false;
                record.ended = Some(time);
                record.outcome = Outcome::Done;
            }
            CueState::Idle => {
                self.under_way[cue.index()] = false;
            }
            CueState::Standby
            | CueState::Waiting
            | CueState::Running
            | CueState::Holding
            | CueState::Returning
            | CueState::Stopped => {}
        }
    }

    /// What can be seen once the tick is over; `measured` is what the rigs reported at its beginning.
    pub fn look(
        &mut self,
        time: f64,
        status: &Status,
        regimes: &[Regime],
        measured: &[AxisReport],
        full_rate: f64,
    ) {
        let mut moving = false;
        for running in &status.running {
            let record = &mut self.cues[running.cue.index()];
            record.stop_bound = record.stop_bound.max(status.stop_bound);
            moving |= running.rate != 0.0;
            for axis in &mut record.axes {
                let index = axis.axis.index();
                let Setpoint { speed, acceleration, jerk, .. } = self.now[index];
                let peaks = Peaks { speed: speed.abs(), acceleration: acceleration.abs(), jerk: jerk.abs() };
                match regimes[index] {
                    Regime::Running => axis.running.raise(peaks),
                    Regime::Stopping => axis.stopping.raise(peaks),
                }
                let lag = (measured[index].position - self.before[index].position).abs();
                if lag.is_finite() {
                    axis.lag = axis.lag.max(lag);
                }
            }
        }
        for (cue, _) in self.under_way.iter().enumerate().filter(|(_, under_way)| **under_way) {
            let runs = status.running.iter().any(|running| {
                running.cue.index() == cue && running.state == CueState::Running && running.rate >= full_rate
            });
            // A follow that was fired in this very tick begins with the next.
            if !runs && self.cues[cue].fired != Some(time) {
                self.cues[cue].interrupted += self.tick;
            }
        }
        self.draw(time, moving);
    }

    fn draw(&mut self, time: f64, moving: bool) {
        for (track, setpoint) in self.tracks.iter_mut().zip(&self.now) {
            if moving {
                track.take(Point { time, position: setpoint.position, speed: setpoint.speed });
            } else {
                track.pause();
            }
        }
    }
}

fn record(cue: CueId, axes: impl Iterator<Item = AxisId>, planned: f64) -> CueRecord {
    CueRecord {
        cue,
        outcome: Outcome::NotReached,
        due: None,
        fired: None,
        ended: None,
        planned,
        interrupted: 0.0,
        states: Vec::new(),
        axes: axes.map(AxisRecord::new).collect(),
        stop_bound: 0.0,
    }
}
