//! Hands at random: somebody takes a rig that no cue has, drives it about, brings it back to where it stood, and gives it back.

use super::floor::{Floor, Flow, HANDS};
use crate::engine::{Owner, StickKind, StickSample, StickShape, Verb};
use crate::rig::Chance;
use crate::show::{After, AxisId, CueId, RigId};

/// s of running motion from one rig in hand to the next, and for how long it is driven about.
const CALM: [f64; 2] = [15.0, 60.0];
const DRIVEN: [f64; 2] = [0.5, 5.0];
/// s: a stick says again where it is, its hand changes its mind, a dial is picked up anew.
const SAYS: f64 = 0.05;
const MIND: f64 = 0.6;
const ANEW: f64 = 2.0;
/// s for which it is tried to bring a rig back, and to give it back.
const PATIENCE: f64 = 120.0;
/// Of an axis's tolerance, what is back.
const BACK: f64 = 0.1;

pub struct Hands {
    chance: Chance,
    /// s of running motion until the next.
    calm: f64,
}

impl Hands {
    pub fn new(seed: u64) -> Hands {
        // A sequence of its own.
        let mut chance = Chance::new(Chance::new(seed ^ 0x4a9d_51c7).word());
        let calm = chance.between(CALM[0], CALM[1]);
        Hands { chance, calm }
    }

    /// Takes a rig in hand beside what runs, if it is time. True if it was not brought back to where it stood.
    pub fn act(&mut self, floor: &mut Floor<'_>) -> Flow<bool> {
        if !floor.status().running.iter().any(|running| running.rate != 0.0) {
            return Flow::Continue(false);
        }
        self.calm -= floor.period();
        // Nobody has a rig in hand while a follow may come.
        if self.calm > 0.0 || a_follow_may_come(floor) {
            return Flow::Continue(false);
        }
        self.calm = self.chance.between(CALM[0], CALM[1]);
        let free: Vec<RigId> = floor.show.rig_ids().filter(|&rig| is_free(floor, rig)).collect();
        let drawn = (self.chance.uniform() * free.len() as f64) as usize;
        let Some(&rig) = free.get(drawn) else { return Flow::Continue(false) };
        let taken = floor.ask(HANDS, Verb::Hand { rig, sticks: None, shape: StickShape::default() })?;
        if taken.is_err() {
            return Flow::Continue(false);
        }
        let axes: Vec<AxisId> =
            floor.show.rig(rig).axis_ids().filter(|&axis| floor.show.axis(axis).surveyed).collect();
        let stood: Vec<f64> = axes.iter().map(|&axis| setpoint(floor, axis)).collect();
        self.drive(floor, &axes)?;
        let is_back = bring_back(floor, &axes, &stood)?;
        give_back(floor, rig)?;
        Flow::Continue(!is_back)
    }

    fn drive(&mut self, floor: &mut Floor<'_>, axes: &[AxisId]) -> Flow {
        say(floor, axes, StickKind::Stick, |_| 0.0);
        floor.tick()?;
        let end = floor.time() + self.chance.between(DRIVEN[0], DRIVEN[1]);
        while floor.time() < end {
            let sticks: Vec<f64> = axes.iter().map(|_| self.push()).collect();
            let until = end.min(floor.time() + self.chance.between(0.5, 1.5) * MIND);
            while floor.time() < until {
                say(floor, axes, StickKind::Stick, |index| sticks[index]);
                floor.wait(SAYS)?;
            }
        }
        // Now and then the sticks fall silent, pushed as they are.
        if self.chance.uniform() < 0.8 {
            say(floor, axes, StickKind::Stick, |_| 0.0);
        }
        floor.wait(0.2)
    }

    /// Of one stick: full, or anything, or let go of.
    fn push(&mut self) -> f64 {
        match (self.chance.uniform() * 4.0) as usize {
            0 => 0.0,
            1 => self.chance.between(-1.0, 1.0).signum(),
            _ => self.chance.between(-1.0, 1.0),
        }
    }
}

/// By dials, each picked up where its axis stands; true once all are where they stood.
fn bring_back(floor: &mut Floor<'_>, axes: &[AxisId], stood: &[f64]) -> Flow<bool> {
    let until = floor.time() + PATIENCE;
    let share = |floor: &Floor<'_>, axis: AxisId, at: f64| {
        let [low, high] = floor.show.axis(axis).reach();
        ((at - low) / (high - low)).clamp(0.0, 1.0)
    };
    while floor.time() < until && floor.status().stopped.is_none() {
        let rests = axes.iter().map(|&axis| setpoint(floor, axis)).collect::<Vec<_>>();
        let off = |(index, &axis): (usize, &AxisId)| {
            (rests[index] - stood[index]).abs() > BACK * floor.show.axis(axis).tolerance
        };
        if !axes.iter().enumerate().any(off) {
            return Flow::Continue(true);
        }
        say(floor, axes, StickKind::Stick, |_| 0.0);
        floor.tick()?;
        let here: Vec<f64> = axes.iter().map(|&axis| share(floor, axis, setpoint(floor, axis))).collect();
        say(floor, axes, StickKind::Dial, |index| here[index]);
        floor.tick()?;
        let home: Vec<f64> = axes.iter().zip(stood).map(|(&axis, &at)| share(floor, axis, at)).collect();
        let again = floor.time() + ANEW;
        while floor.time() < again && floor.status().stopped.is_none() {
            say(floor, axes, StickKind::Dial, |index| home[index]);
            floor.wait(SAYS)?;
        }
    }
    Flow::Continue(false)
}

/// Waits until it is nobody's, and the rig has come to where its setpoint stands.
fn give_back(floor: &mut Floor<'_>, rig: RigId) -> Flow {
    floor.ask(HANDS, Verb::GiveBack { rig })?.ok();
    let until = floor.time() + PATIENCE;
    while floor.status().rigs[rig.index()].hand.is_some() && floor.time() < until {
        floor.tick()?;
    }
    floor.wait(0.5)
}

fn say(floor: &mut Floor<'_>, axes: &[AxisId], kind: StickKind, value: impl Fn(usize) -> f64) {
    let samples = axes.iter().enumerate();
    let samples: Vec<StickSample> =
        samples.map(|(index, &axis)| StickSample { client: HANDS, axis, kind, value: value(index) }).collect();
    floor.say(&samples);
}

fn setpoint(floor: &Floor<'_>, axis: AxisId) -> f64 {
    floor.status().axes[axis.index()].setpoint
}

fn is_free(floor: &Floor<'_>, rig: RigId) -> bool {
    floor.status().rigs[rig.index()].owner == Owner::Nobody
}

/// A cue waits for what it follows, or follows one that runs.
fn a_follow_may_come(floor: &Floor<'_>) -> bool {
    let status = floor.status();
    let runs = |cue: CueId| status.running.iter().any(|running| running.cue == cue);
    let may_come = |cue: CueId| match &floor.show.cue(cue).after {
        Some(After::Start { cue: leading, .. } | After::End { cue: leading, .. }) => runs(*leading),
        Some(After::When(_)) => true,
        None => false,
    };
    !status.waiting.is_empty() || floor.show.cue_ids().any(|cue| may_come(cue) && !runs(cue))
}
