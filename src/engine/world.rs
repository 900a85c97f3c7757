//! What is known of the rigs and the inputs in this tick: measured, with its age, and never assumed.

use super::io::{RigReport, TickInput};
use crate::show::{
    Atom, AtomId, Axis, AxisId, CueId, CueState, Input, InputId, InterlockId, Nanos, RigId, Show, Truth,
};

/// Rest is judged from the means of two windows of this length, s, one after the other, so that noise does not hide
/// motion, nor feign it.
const REST_WINDOW: f64 = 0.1;
/// The part of its tolerance by which a resting axis's mean may wander from window to window; twice as much, and it
/// is no longer at rest.
const REST_WANDER: f64 = 0.05;
/// The part of its rated speed that still counts as rest.
const REST_SPEED: f64 = 0.002;
/// The part of its tolerance by which a single reading may leave the mean before rest is over at once.
const REST_JUMP: f64 = 0.5;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisSense {
    pub position: f64,
    pub speed: f64,
    /// Heard of within the link time-out, and finite.
    pub known: bool,
    pub at_rest: bool,
    window: RestWindow,
}

/// The mean of the last full window, and the one that fills.
#[derive(Clone, Copy, Debug, PartialEq)]
struct RestWindow {
    mean: f64,
    sum: f64,
    count: u32,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RigSense {
    pub age: Nanos,
    pub enabled: bool,
    pub fault: bool,
    /// No machine stands behind its poses.
    pub simulated: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InputSense {
    pub value: Option<bool>,
    pub set_at: u64,
    pub tripped: bool,
}

#[derive(Clone, Debug)]
pub struct World {
    pub axes: Vec<AxisSense>,
    pub rigs: Vec<RigSense>,
    pub inputs: Vec<InputSense>,
    /// By `AtomId`, judged once a tick.
    pub atoms: Vec<Truth>,
    /// By `InterlockId`.
    pub interlocks: Vec<Truth>,
}

impl AxisSense {
    /// Not a number compares false, so that what is unknown is never at rest.
    fn judge_rest(&mut self, axis: &Axis, tick: f64) {
        let window = &mut self.window;
        if !self.known {
            (self.at_rest, *window) = (false, RestWindow { mean: f64::NAN, sum: 0.0, count: 0 });
            return;
        }
        self.at_rest &= (self.position - window.mean).abs() <= REST_JUMP * axis.tolerance;
        window.sum += self.position;
        window.count += 1;
        if f64::from(window.count) * tick >= REST_WINDOW {
            let mean = window.sum / f64::from(window.count);
            let allowance = REST_WANDER * axis.tolerance + REST_SPEED * axis.rated_speed * REST_WINDOW;
            let wandered = (mean - window.mean).abs();
            self.at_rest = wandered <= allowance || (self.at_rest && wandered <= 2.0 * allowance);
            *window = RestWindow { mean, sum: 0.0, count: 0 };
        }
    }
}

impl World {
    pub fn new(show: &Show) -> World {
        let axis = AxisSense {
            position: f64::NAN,
            speed: f64::NAN,
            known: false,
            at_rest: false,
            window: RestWindow { mean: f64::NAN, sum: 0.0, count: 0 },
        };
        World {
            axes: vec![axis; show.axes.len()],
            rigs: vec![
                RigSense { age: Nanos::NEVER, enabled: false, fault: false, simulated: false };
                show.rigs.len()
            ],
            inputs: vec![InputSense { value: None, set_at: 0, tripped: false }; show.inputs.len()],
            atoms: vec![Truth::Unknown; show.atoms.len()],
            interlocks: vec![Truth::Unknown; show.interlocks.len()],
        }
    }

    /// Knows what another knew of the same rigs, and of the inputs that both shows have.
    pub fn follow(&mut self, show: &Show, before: &World, old: &Show) {
        self.axes.copy_from_slice(&before.axes);
        self.rigs.copy_from_slice(&before.rigs);
        for (input, sense) in show.inputs.iter().zip(&mut self.inputs) {
            if let Some(index) = old.inputs.iter().position(|other| other.name == input.name) {
                *sense = before.inputs[index];
            }
        }
    }

    /// Takes in the reports of this tick.
    pub fn feel(&mut self, show: &Show, input: &TickInput<'_>) {
        for (sense, report) in self.rigs.iter_mut().zip(input.rigs) {
            let RigReport { age, enabled, fault, simulated } = *report;
            *sense = RigSense { age, enabled, fault, simulated };
        }
        for (index, report) in input.axes.iter().enumerate() {
            let axis = &show.axes[index];
            let fresh = self.rigs[axis.rig.index()].age <= show.rig(axis.rig).link_timeout;
            let sense = &mut self.axes[index];
            sense.position = report.position;
            sense.speed = report.speed;
            sense.known = fresh && report.position.is_finite() && report.speed.is_finite();
            sense.judge_rest(axis, show.settings.tick.seconds());
        }
    }

    pub fn position(&self, axis: AxisId) -> Option<f64> {
        let sense = &self.axes[axis.index()];
        sense.known.then_some(sense.position)
    }

    /// An axis that is not measured at rest, if there is one.
    pub fn moving_axis(&self) -> Option<AxisId> {
        self.axes.iter().position(|sense| !sense.known || !sense.at_rest).map(AxisId::new)
    }

    pub fn rig_at_rest(&self, show: &Show, rig: RigId) -> bool {
        show.rig(rig).axis_ids().all(|axis| self.axes[axis.index()].at_rest)
    }

    pub fn input_age(&self, id: InputId, tick: u64, period: Nanos) -> Nanos {
        let sense = &self.inputs[id.index()];
        match sense.value {
            Some(_) => Nanos(period.0.saturating_mul((tick - sense.set_at) as i64)),
            None => Nanos::NEVER,
        }
    }

    pub fn input_truth(&self, inputs: &[Input], id: InputId, tick: u64, period: Nanos) -> Truth {
        match self.inputs[id.index()].tripped {
            true => Truth::False,
            false => self.last_word(inputs, id, tick, period),
        }
    }

    /// What an input says now, tripped or not.
    fn last_word(&self, inputs: &[Input], id: InputId, tick: u64, period: Nanos) -> Truth {
        match self.inputs[id.index()].value {
            Some(value) if self.input_age(id, tick, period) <= inputs[id.index()].max_age => Truth::of(value),
            Some(_) | None => Truth::Unknown,
        }
    }

    /// A reset frees the inputs that had tripped, but for those that are false even now.
    pub fn free_tripped(&mut self) {
        for sense in &mut self.inputs {
            sense.tripped &= sense.value == Some(false);
        }
    }

    /// Whether an interlock permits once a reset has freed the inputs that tripped: what trips may not stand in the way
    /// of the only request that ends it.
    pub fn permits_after_reset(&self, show: &Show, id: InterlockId, tick: u64) -> bool {
        show.interlocks[id.index()].needs.judge(&|atom| self.after_reset(show, atom, tick)).permits()
    }

    /// A leaf of a condition once a reset has freed the inputs that tripped.
    pub fn after_reset(&self, show: &Show, id: AtomId, tick: u64) -> Truth {
        match &show.atoms[id.index()] {
            Atom::Input(input) => self.last_word(&show.inputs, *input, tick, show.settings.tick),
            Atom::CueState { .. }
            | Atom::CuePast { .. }
            | Atom::Above { .. }
            | Atom::Below { .. }
            | Atom::Within { .. }
            | Atom::At { .. } => self.atom(id),
        }
    }

    /// Judges every atom and interlock. `cue` gives a cue's state and its own time.
    pub fn judge(&mut self, show: &Show, tick: u64, cue: impl Fn(CueId) -> (CueState, Option<f64>)) {
        for index in 0..show.atoms.len() {
            self.atoms[index] = self.judge_atom(show, &show.atoms[index], tick, &cue);
        }
        for (index, interlock) in show.interlocks.iter().enumerate() {
            let real = self.real_guarded(show, interlock);
            self.interlocks[index] = interlock.needs.judge(&|atom| self.counts_for(show, real, atom));
        }
    }

    fn judge_atom(
        &self,
        show: &Show,
        atom: &Atom,
        tick: u64,
        cue_now: &impl Fn(CueId) -> (CueState, Option<f64>),
    ) -> Truth {
        match atom {
            Atom::Input(id) => self.input_truth(&show.inputs, *id, tick, show.settings.tick),
            Atom::CueState { cue, state } => Truth::of(cue_now(*cue).0 == *state),
            Atom::CuePast { cue, time } => {
                let (state, own) = cue_now(*cue);
                Truth::of(state == CueState::Done || own.is_some_and(|own| own > *time))
            }
            Atom::Above { .. } | Atom::Below { .. } | Atom::Within { .. } | Atom::At { .. } => {
                atom.of_pose(show, &|axis| self.position(axis)).unwrap_or(Truth::Unknown)
            }
        }
    }

    pub fn atom(&self, id: AtomId) -> Truth {
        self.atoms[id.index()]
    }
}
