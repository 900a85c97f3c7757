//! The live proof: what is left of a cue against rigs that stand where the check knows nothing of them.
//!
//! The check has proved a cue against everything where the list leaves it. Of rigs that are elsewhere, and that nothing
//! takes out of given bounds while the cue runs, the same is proved here: by halving the cue's time, as in the check, with
//! the bodies of both grown by what their tolerances can move them, and those that stand by all of their bounds. What the
//! cue moves, and what carries that, stands where the list has it, so zones, and the bodies that the cue moves among
//! themselves, are as the check saw them. Nothing here depends on when the cue comes by, so holds, stops, a way back and the
//! stall of one of its rigs are covered too; but a rig that rides on another which the cue moves as well may be parted
//! from it by a stall, and of such a cue nothing is proved.
//!
//! All memory is taken when a show is loaded, and the work is done in portions, so that the engine proves live.

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};

use super::bodies::{Span, margin};
use super::clearance::{BRACKET, Party, SLACK, bound_apart};
use super::plan::CuePlan;
use crate::show::{AxisId, RigId, Show};
use crate::stage::{Body, Frame, Stage, Strays, Sweep};

/// m, by which the clearance that is told may be less than it is.
const TOLD: f64 = 0.01;
/// Looks after which it is enough to know that the margin is kept.
const FINE_LOOKS: usize = 2048;
/// Looks for one proof at most; what is left is not proved.
const LOOKS_MAX: usize = 8192;
/// s; a span this short that is not proved never will be.
const FINEST: f64 = 1e-5;
/// Instants looked at first, so that it is known early how near things come.
const FIRST_LOOKS: usize = 8;
/// Spans that wait to be looked at: one of each length, and the first ones.
const OPEN_MAX: usize = 64;

/// What a live proof has come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    Working,
    /// All along the margin is kept; m, that the cue stays away at least from everything that it is proved beside.
    Clear {
        by: f64,
    },
    Near(Approach),
    /// It could not be told; what is not proved does not run.
    Unproved,
}

impl Verdict {
    /// Of two things that stand: the worse of both.
    pub fn and(self, other: Verdict) -> Verdict {
        match (self, other) {
            (Verdict::Near(one), Verdict::Near(two)) => {
                Verdict::Near(if two.distance < one.distance { two } else { one })
            }
            (near @ Verdict::Near(_), _) | (_, near @ Verdict::Near(_)) => near,
            (Verdict::Working, _) | (_, Verdict::Working) => Verdict::Working,
            (Verdict::Unproved, _) | (_, Verdict::Unproved) => Verdict::Unproved,
            (Verdict::Clear { by: one }, Verdict::Clear { by: two }) => Verdict::Clear { by: one.min(two) },
        }
    }
}

/// Where a cue comes too near to what stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Approach {
    /// Of what the cue moves, of what stands.
    pub parties: [Party; 2],
    /// s, of the cue.
    pub time: f64,
    /// m; that must remain.
    pub distance: f64,
    pub margin: f64,
}

/// Rigs beside a cue, and the bounds that they keep while it runs.
#[derive(Clone, Copy, Debug)]
pub struct Standing<'a> {
    /// By `AxisId`, each in its own unit: the middle of its bounds; of all axes that the rigs ride on too.
    pub at: &'a [f64],
    /// By `AxisId`, each in its own unit: how far it may be from there either way, its tolerance apart.
    pub strays: &'a [f64],
    /// By `RigId`: whose bodies are looked at. None of them rides on what the cue moves, nor carries it.
    pub rigs: &'a [bool],
}

/// Proves one thing after the other. Takes memory only when it is made.
#[derive(Clone, Debug)]
pub struct LiveProof {
    stage: Stage,
    /// By `AxisId`.
    tolerance: Vec<f64>,
    /// By `RigId`, and `RigId` again.
    margins: Vec<Vec<Option<f64>>>,
    /// Indices of the bodies that the cue moves, and of those that stand.
    movers: Vec<usize>,
    still: Vec<usize>,
    /// Rigs whose frames decide where the movers are, carriers first.
    rigs: Vec<RigId>,
    /// By `RigId`: what is known of those that stand.
    known: Vec<Known>,
    open: ArrayVec<Span, OPEN_MAX>,
    looks: usize,
    /// Whether it is worth while to know how far what is clear is so.
    tells: bool,
    /// m, the least clearance seen, and what every span that is settled keeps.
    least: f64,
    kept: f64,
    works: bool,
    pose: Vec<f64>,
    motion: Vec<f64>,
    frames: Vec<Frame>,
    /// By index of the body.
    sweeps: Vec<Sweep>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Known {
    /// The nearest that was seen, too near.
    found: Option<Approach>,
    /// Something of it could not be proved, and is not looked at any further.
    given_up: bool,
    /// In the present look.
    unsettled: bool,
}

impl LiveProof {
    pub fn new(show: &Show) -> LiveProof {
        let stage = Stage::new(show);
        let pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let none = vec![0.0; pose.len()];
        let mut frames = Vec::new();
        stage.frames(&pose, &mut frames);
        let strays = Strays { motion: &none, tolerance: &none };
        let room = || Vec::with_capacity(stage.bodies().len());
        LiveProof {
            tolerance: show.axes.iter().map(|axis| axis.tolerance).collect(),
            margins: show.rig_ids().map(|a| show.rig_ids().map(|b| margin(show, a, b)).collect()).collect(),
            movers: room(),
            still: room(),
            rigs: Vec::with_capacity(show.rigs.len()),
            known: vec![Known::default(); show.rigs.len()],
            open: ArrayVec::new(),
            looks: 0,
            tells: false,
            least: f64::INFINITY,
            kept: f64::INFINITY,
            works: false,
            sweeps: stage.bodies().iter().map(|body| stage.sweep(body, &frames, strays)).collect(),
            motion: none,
            pose,
            frames,
            stage,
        }
    }

    /// Takes up a cue, from one time of it to another, s, against what stands beside it.
    pub fn begin(&mut self, show: &Show, plan: &CuePlan, [from, to]: [f64; 2], standing: Standing) {
        (self.looks, self.least, self.kept, self.works) = (0, f64::INFINITY, f64::INFINITY, true);
        self.tells = standing.strays.iter().all(|&stray| stray == 0.0);
        self.known.fill(Known::default());
        self.cast(plan, standing);
        let (stage, movers) = (&self.stage, &self.movers);
        let carries = |rig: RigId| {
            movers.iter().any(|&body| show.carriers(stage.bodies()[body].rig).any(|carrier| carrier == rig))
        };
        self.rigs.clear();
        self.rigs.extend(stage.order().iter().copied().filter(|&rig| carries(rig)));
        self.open.clear();
        if movers.iter().any(|&body| is_parted(show, plan, &stage.bodies()[body])) {
            self.give_up();
            return;
        }
        self.open.push(Span { from, to });
        let instants = (0..=FIRST_LOOKS).map(|look| from + (to - from) * look as f64 / FIRST_LOOKS as f64);
        self.open.extend(instants.map(Span::instant));
    }

    /// Who moves and who stands, and lays out what stands.
    fn cast(&mut self, plan: &CuePlan, standing: Standing) {
        self.pose.copy_from_slice(standing.at);
        self.stage.frames_of(self.stage.order(), &self.pose, &mut self.frames);
        let strays = Strays { motion: standing.strays, tolerance: &self.tolerance };
        self.movers.clear();
        self.still.clear();
        for (index, body) in self.stage.bodies().iter().enumerate() {
            if body.carriers.iter().any(|carrier| moves(plan, carrier.axis)) {
                self.movers.push(index);
            } else if standing.rigs[body.rig.index()] {
                self.still.push(index);
                self.stage.sweep_again(body, &self.frames, strays, &mut self.sweeps[index]);
            }
        }
    }

    /// Works on until it has looked at so many pairs of bodies, or some more to end a look. `plan` is that which it was
    /// begun with. What it comes to does not depend on the portions.
    pub fn advance(&mut self, plan: &CuePlan, pairs: usize) -> Verdict {
        let price = (self.movers.len() * self.still.len()).max(1);
        let mut left = pairs;
        while self.works && left > 0 {
            left = left.saturating_sub(price);
            match self.open.pop() {
                Some(span) => self.look(plan, span),
                None => self.works = false,
            }
        }
        self.verdict()
    }

    /// Of all that stands: the nearest of what is too near.
    pub fn verdict(&self) -> Verdict {
        let found = self.known.iter().filter_map(|known| known.found);
        match found.min_by(|a, b| a.distance.total_cmp(&b.distance)) {
            _ if self.works => Verdict::Working,
            Some(approach) => Verdict::Near(approach),
            None if self.known.iter().any(|known| known.given_up) => Verdict::Unproved,
            None => Verdict::Clear { by: self.kept },
        }
    }

    /// Of one rig that stands.
    pub fn beside(&self, rig: RigId) -> Verdict {
        match self.known[rig.index()] {
            _ if self.works => Verdict::Working,
            Known { found: Some(approach), .. } => Verdict::Near(approach),
            Known { given_up: true, .. } => Verdict::Unproved,
            Known { found: None, given_up: false, .. } => Verdict::Clear { by: self.kept },
        }
    }

    fn look(&mut self, plan: &CuePlan, span: Span) {
        self.looks += 1;
        self.lay(plan, span);
        self.known.iter_mut().for_each(|known| known.unsettled = false);
        for mover in 0..self.movers.len() {
            for still in 0..self.still.len() {
                self.settle(self.movers[mover], self.still[still], span);
            }
        }
        if self.known.iter().any(|known| known.unsettled) {
            self.halve(span);
        }
    }

    fn lay(&mut self, plan: &CuePlan, span: Span) {
        plan.pose_at(span.middle(), &mut self.pose);
        plan.strays(|_| span, &mut self.motion);
        self.stage.frames_of(&self.rigs, &self.pose, &mut self.frames);
        let strays = Strays { motion: &self.motion, tolerance: &self.tolerance };
        for &mover in &self.movers {
            self.stage.sweep_again(&self.stage.bodies()[mover], &self.frames, strays, &mut self.sweeps[mover]);
        }
    }

    /// Whether two keep their margin over the span, and come no nearer than was seen; else their span is unsettled.
    fn settle(&mut self, mover: usize, still: usize, span: Span) {
        let [one, other] = [mover, still].map(|at| &self.stage.bodies()[at]);
        let Some(margin) = self.margins[one.rig.index()][other.rig.index()] else { return };
        let (parties, rig) = ([one, other].map(Party::of), other.rig);
        let needed = self.needed(rig, margin);
        if needed <= 0.0 || self.known[rig.index()].given_up {
            return;
        }
        let bound = bound_apart(&self.sweeps[mover], &self.sweeps[still], needed);
        if bound.least < needed {
            let approach = Approach { parties, time: span.middle(), distance: bound.middle.max(0.0), margin };
            self.least = self.least.min(approach.distance);
            let known = &mut self.known[rig.index()];
            let is_nearer = known.found.is_none_or(|found| approach.distance < found.distance);
            if approach.distance < margin - SLACK && is_nearer {
                known.found = Some(approach);
            }
            let needed = self.needed(rig, margin);
            if needed > 0.0 && bound.least < needed {
                self.known[rig.index()].unsettled = true;
                return;
            }
        }
        self.kept = self.kept.min(bound.least);
    }

    /// m, what a bound must be for nothing more to be told of it.
    fn needed(&self, rig: RigId, margin: f64) -> f64 {
        let enough = margin - SLACK;
        match self.known[rig.index()].found {
            Some(found) => enough.min(found.distance - BRACKET),
            None if self.tells && self.looks < FINE_LOOKS => enough.max(self.least - TOLD),
            None => enough,
        }
    }

    fn halve(&mut self, span: Span) {
        if span.length() <= FINEST {
            for known in self.known.iter_mut().filter(|known| known.unsettled) {
                known.given_up = true;
            }
        } else if self.looks >= LOOKS_MAX || self.open.len() + 2 > OPEN_MAX {
            self.give_up();
        } else {
            let [early, late] = span.halves();
            self.open.extend([late, early]);
        }
    }

    fn give_up(&mut self) {
        self.open.clear();
        self.known.iter_mut().for_each(|known| known.given_up = true);
    }
}

fn moves(plan: &CuePlan, axis: AxisId) -> bool {
    plan.moves.iter().flat_map(|step| &step.axes).any(|path| path.axis == axis && path.moves())
}

/// Whether two rigs that the cue moves both carry a body, so that a stall of one leaves it where the cue never takes it.
pub fn is_parted(show: &Show, plan: &CuePlan, body: &Body) -> bool {
    let mut movers = body.carriers.iter().filter(|carrier| moves(plan, carrier.axis));
    let first = movers.next().map(|carrier| show.axis(carrier.axis).rig);
    movers.any(|carrier| Some(show.axis(carrier.axis).rig) != first)
}

#[cfg(test)]
mod tests;
