//! The bodies that a cue moves, over any part of its time.

use serde::{Deserialize, Serialize};

use super::memory::Content;
use super::plan::CuePlan;
use crate::show::{RigId, Show};
use crate::stage::{Body, Frame, Stage, Strays, Sweep};

/// What does not change from cue to cue.
pub struct Stagehand<'a> {
    pub show: &'a Show,
    pub stage: Stage,
    /// By `AxisId`.
    tolerance: Vec<f64>,
    /// By `RigId`, and `RigId` again.
    margins: Vec<Vec<Option<f64>>>,
    /// By `AxisId`, and `RigId`: whether the axis carries a body of the rig.
    carries: Vec<Vec<bool>>,
}

impl<'a> Stagehand<'a> {
    pub fn new(show: &'a Show) -> Stagehand<'a> {
        let tolerance = show.axes.iter().map(|axis| axis.tolerance).collect();
        let margins = show.rig_ids().map(|a| show.rig_ids().map(|b| margin(show, a, b)).collect()).collect();
        let stage = Stage::new(show);
        let mut carries = vec![vec![false; show.rigs.len()]; show.axes.len()];
        for body in stage.bodies() {
            body.carriers.iter().for_each(|carrier| carries[carrier.axis.index()][body.rig.index()] = true);
        }
        Stagehand { show, stage, tolerance, margins, carries }
    }

    /// m, that must remain between two rigs; `None` if one rides on the other.
    pub fn margin(&self, a: RigId, b: RigId) -> Option<f64> {
        self.margins[a.index()][b.index()]
    }

    pub fn body(&self, index: usize) -> &Body {
        &self.stage.bodies()[index]
    }

    /// By `RigId`: whether a cue moves a body of it.
    pub fn moved_rigs(&self, plan: &CuePlan) -> Vec<bool> {
        let mut moved = vec![false; self.show.rigs.len()];
        for path in plan.moves.iter().flat_map(|step| &step.axes).filter(|path| path.moves()) {
            moved.iter_mut().zip(&self.carries[path.axis.index()]).for_each(|(moved, carries)| *moved |= carries);
        }
        moved
    }
}

/// m, that must remain between two rigs; `None` if one rides on the other.
pub fn margin(show: &Show, a: RigId, b: RigId) -> Option<f64> {
    let pair = show.pairs.iter().find(|pair| pair.rigs == [a, b] || pair.rigs == [b, a]);
    (!show.same_carriage(a, b)).then(|| pair.map_or(show.settings.margin, |pair| pair.margin))
}

/// A cue's bodies: those that it moves, and where it finds all others.
pub struct Cast<'a> {
    hand: &'a Stagehand<'a>,
    plan: &'a CuePlan,
    /// Indices into the bodies of the stage, in order.
    pub moved: Vec<usize>,
    /// Rigs with a body that is moved, and what they ride on, carriers first.
    rigs: Vec<RigId>,
    /// At the start of the cue, by `AxisId`.
    frames: Vec<Frame>,
}

/// A part of a cue's time, s.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Span {
    pub from: f64,
    pub to: f64,
}

impl Span {
    pub fn middle(self) -> f64 {
        (self.from + self.to) / 2.0
    }

    pub fn length(self) -> f64 {
        self.to - self.from
    }

    pub fn halves(self) -> [Span; 2] {
        [Span { to: self.middle(), ..self }, Span { from: self.middle(), ..self }]
    }

    pub fn instant(time: f64) -> Span {
        Span { from: time, to: time }
    }
}

impl<'a> Cast<'a> {
    pub fn new(hand: &'a Stagehand<'a>, plan: &'a CuePlan) -> Cast<'a> {
        let show = hand.show;
        let moves = plan.moved_axes();
        let is_moved = |body: &Body| body.carriers.iter().any(|carrier| moves[carrier.axis.index()]);
        let bodies = hand.stage.bodies().iter().enumerate();
        let moved: Vec<usize> = bodies.filter(|(_, body)| is_moved(body)).map(|(index, _)| index).collect();
        let carries = |rig: RigId| moved.iter().any(|&body| show.carriers(hand.body(body).rig).any(|of| of == rig));
        let rigs = hand.stage.order().iter().copied().filter(|&rig| carries(rig)).collect();
        let mut frames = Vec::new();
        hand.stage.frames(&plan.start, &mut frames);
        Cast { hand, plan, moved, rigs, frames }
    }

    /// Adds everything that decides where its bodies are: its path, and where it finds the rigs that it moves and what
    /// those ride on.
    pub fn content(&self, content: Content) -> Content {
        let show = self.hand.show;
        let axes = self.rigs.iter().flat_map(|&rig| show.rig(rig).axis_ids());
        let stands: Vec<f64> = axes.flat_map(|axis| [axis.index() as f64, self.plan.start[axis.index()]]).collect();
        content.path(self.plan).also([stands.len() as f64]).also(stands)
    }

    /// s
    pub fn duration(&self) -> f64 {
        self.plan.duration
    }

    /// The bodies of these rigs that the cue does not move, where it finds them, with their indices.
    pub fn still(&self, wanted: impl Fn(RigId) -> bool) -> Vec<(usize, Sweep)> {
        let none = vec![0.0; self.plan.start.len()];
        let strays = Strays { motion: &none, tolerance: &self.hand.tolerance };
        let bodies = self.hand.stage.bodies().iter().enumerate();
        let still = bodies.filter(|(index, body)| self.moved.binary_search(index).is_err() && wanted(body.rig));
        still.map(|(index, body)| (index, self.hand.stage.sweep(body, &self.frames, strays))).collect()
    }

    /// Room for [`Cast::over`].
    pub fn paper(&self) -> Paper {
        Paper {
            frames: self.frames.clone(),
            pose: self.plan.start.clone(),
            motion: vec![0.0; self.plan.start.len()],
        }
    }

    /// The moved bodies at the middle of a span, with how far they get from there within it, in the order of
    /// `moved`, written over `sweeps`.
    pub fn over(&self, span: Span, paper: &mut Paper, sweeps: &mut Vec<Sweep>) {
        self.over_by(|_| span, paper, sweeps);
    }

    /// The same where not every rig is in the same part of the cue's time.
    pub fn over_by(&self, span: impl Fn(RigId) -> Span, paper: &mut Paper, sweeps: &mut Vec<Sweep>) {
        self.plan.pose_by(|rig| span(rig).middle(), &mut paper.pose);
        self.plan.strays(span, &mut paper.motion);
        self.hand.stage.frames_of(&self.rigs, &paper.pose, &mut paper.frames);
        let strays = Strays { motion: &paper.motion, tolerance: &self.hand.tolerance };
        sweeps.clear();
        sweeps.extend(
            self.moved.iter().map(|&body| self.hand.stage.sweep(self.hand.body(body), &paper.frames, strays)),
        );
    }
}

/// What is written on while a pose is worked out.
pub struct Paper {
    frames: Vec<Frame>,
    pose: Vec<f64>,
    motion: Vec<f64>,
}
