//! The berth of a rig in hand: joint positions, an interval of each, anywhere within which it is proved clear.
//!
//! A rig that follows a hand has no path to be proved. But an axis that is given a room ([`crate::motion::Follower`]) can at any
//! moment be braked to rest within it. So the room is proved, and not the way: anywhere in its berth, whatever the axes do there
//! and however they are braked, the rig keeps every margin from what stands, from the zones, from the berths of other rigs in
//! hand, and from all that running cues still have before them. A berth is enlarged by a slab along one axis at a time once that
//! is proved, and may be made smaller at any time. That nothing is entered from which the brake would lead into trouble is the
//! idea of Fraichard and Asama, *Inevitable collision states*, Advanced Robotics 18, 2004; that what is planned next may always be
//! the brake that was proved before, is the recursive feasibility of predictive control.
//!
//! The proof is by halving, as in [`super::clearance`]: of the box of joint positions, and beside a cue of its remaining time
//! too. All memory is taken when a show is loaded, and the looks are counted.

mod floor;

use arrayvec::ArrayVec;
use floor::{Floor, Kept};

use super::bodies::Span;
use super::clearance::{Bound, Party, bare_apart, bare_zone, bound_apart, bound_zone};
use super::plan::CuePlan;
use super::preset::{Ground, Near};
use crate::show::{AxisId, RigId, Show};
use crate::stage::{Frame, Line, Strays, Sweep};

/// Joints of one rig along which a box is halved; further ones are taken whole.
const JOINTS_MAX: usize = 8;
/// Boxes that wait to be looked at.
const OPEN_MAX: usize = 64;
/// m, s: a box in which nothing moves by more is not halved again, nor a span that is shorter.
const FINEST: f64 = 1e-3;
const SHORTEST: f64 = 1e-4;

/// Where each axis may be, by `AxisId`, in its own unit; of one that stands both ends are one.
#[derive(Clone, Debug)]
pub struct Reach {
    pub low: Vec<f64>,
    pub high: Vec<f64>,
    /// What an axis may be off its place: its tolerance, or nothing where its setpoint is what counts.
    pub off: Vec<f64>,
}

/// A cue under way, and the part of its own time that it may still run through, s.
#[derive(Clone, Copy, Debug)]
pub struct Goer<'a> {
    pub plan: &'a CuePlan,
    pub from: f64,
    pub to: f64,
}

/// Whether a box of joint positions is clear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Clear {
    Yes,
    /// Something in it is nearer than it may be, or cannot be proved not to be.
    No(Near),
    /// The looks gave out first.
    Unknown,
}

/// A part of a box, and of the time of a cue.
#[derive(Clone, Copy, Debug)]
struct Cell {
    low: [f64; JOINTS_MAX],
    high: [f64; JOINTS_MAX],
    span: Span,
}

/// Proves berths. Takes memory only when it is made.
#[derive(Clone, Debug)]
pub struct Berths {
    ground: Ground,
    /// By `RigId`: its joints that carry bodies.
    joints: Vec<ArrayVec<AxisId, JOINTS_MAX>>,
    /// By `AxisId`: m by which a unit of it moves what it carries, about.
    levers: Vec<f64>,
    /// By `RigId`, then by the other rig, and past those by zone.
    floors: Vec<Vec<Floor>>,
    open: ArrayVec<Cell, OPEN_MAX>,
    /// Bodies that stand, or that a cue moves.
    others: Vec<usize>,
    /// Rigs whose frames a look needs, carriers first.
    rigs: Vec<RigId>,
    pose: Vec<f64>,
    motion: Vec<f64>,
    frames: Vec<Frame>,
    /// By index of the body.
    sweeps: Vec<Sweep>,
}

impl Berths {
    pub fn new(show: &Show) -> Berths {
        let ground = Ground::new(show);
        let pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let none = vec![0.0; pose.len()];
        let mut frames = Vec::new();
        ground.stage.frames(&pose, &mut frames);
        let strays = Strays { motion: &none, tolerance: &none };
        let bodies = ground.stage.bodies();
        let mut levers = vec![0.0_f64; pose.len()];
        let sweeps: Vec<Sweep> = bodies.iter().map(|body| ground.stage.sweep(body, &frames, strays)).collect();
        for (body, sweep) in bodies.iter().zip(&sweeps) {
            for carrier in &body.carriers {
                let frame = &frames[carrier.axis.index()];
                let line = Line { origin: frame.origin, direction: frame.turn * carrier.direction };
                let lever = &mut levers[carrier.axis.index()];
                // A slide moves all by as much; of a turn the farthest point counts, and at least a little of it.
                let reach = sweep.solid.core.farthest_from(&line).max(0.1);
                let slides = matches!(carrier.carries, crate::stage::Carries::Slid);
                *lever = lever.max(carrier.scale * if slides { 1.0 } else { reach });
            }
        }
        let joints = show
            .rigs
            .iter()
            .map(|rig| rig.axis_ids().filter(|axis| levers[axis.index()] > 0.0).take(JOINTS_MAX).collect());
        Berths {
            joints: joints.collect(),
            floors: vec![vec![Floor::MARGIN; show.rigs.len() + show.zones.len()]; show.rigs.len()],
            open: ArrayVec::new(),
            others: Vec::with_capacity(bodies.len()),
            rigs: Vec::with_capacity(2 * show.rigs.len()),
            levers,
            motion: none,
            pose,
            frames,
            sweeps,
            ground,
        }
    }

    /// m by which a unit of an axis moves what it carries, about; 0 if that is no body.
    pub fn lever(&self, axis: AxisId) -> f64 {
        self.levers[axis.index()]
    }

    /// Whether a rig moves bodies that could meet anything.
    pub fn concerns(&self, rig: RigId) -> bool {
        !self.ground.moved(rig).is_empty()
    }

    /// Whether the bodies that a rig moves are clear of everything while each axis is anywhere within `reach`; at most so many
    /// looks are taken, and taken off.
    pub fn clear<'a>(
        &mut self,
        show: &Show,
        rig: RigId,
        reach: &Reach,
        goers: impl Iterator<Item = Goer<'a>> + Clone,
        looks: &mut usize,
    ) -> Clear {
        if self.ground.moved(rig).is_empty() {
            return Clear::Yes;
        }
        self.lay_out(reach);
        self.stand(rig, goers.clone());
        let instant = Span::instant(0.0);
        let beside_what_stands = self.search(show, rig, reach, instant, None, looks);
        goers.fold(beside_what_stands, |found, goer| match found {
            Clear::Yes => self.beside(show, rig, reach, goer, looks),
            Clear::No(_) | Clear::Unknown => found,
        })
    }

    /// The same of what a cue moves alone.
    pub fn clear_beside(&mut self, show: &Show, rig: RigId, reach: &Reach, goer: Goer, looks: &mut usize) -> Clear {
        self.lay_out(reach);
        self.beside(show, rig, reach, goer, looks)
    }

    fn beside(&mut self, show: &Show, rig: RigId, reach: &Reach, goer: Goer, looks: &mut usize) -> Clear {
        if !self.call_on(show, rig, &goer) {
            return Clear::Yes;
        }
        let span = Span { from: goer.from, to: goer.to.max(goer.from) };
        self.search(show, rig, reach, span, Some(goer), looks)
    }

    /// Takes in how near a rig stands to everything: where that is nearer than the margin it may go on, as long as it comes no
    /// nearer; by a millimetre at most, and that once only.
    pub fn settle(&mut self, show: &Show, rig: RigId, reach: &Reach) {
        if self.ground.moved(rig).is_empty() {
            return;
        }
        self.lay_out(reach);
        self.stand(rig, std::iter::empty());
        self.place(rig, None, reach.off.as_slice());
        for slot in 0..self.floors[rig.index()].len() {
            let found = self.nearest(show, rig, slot);
            let floor = &mut self.floors[rig.index()][slot];
            *floor = found.map_or(Floor::MARGIN, |(distance, margin)| floor.settled(distance, margin));
        }
    }

    /// In other hands it is asked anew how near a rig stands.
    pub fn forget(&mut self, rig: RigId) {
        self.floors[rig.index()].fill(Floor::MARGIN);
    }

    /// Every axis in the middle of where it may be.
    fn lay_out(&mut self, reach: &Reach) {
        for index in 0..self.pose.len() {
            let (low, high) = (reach.low[index], reach.high[index]);
            self.pose[index] = (low + high) / 2.0;
            self.motion[index] = (high - low) / 2.0;
        }
        self.ground.stage.frames_of(self.ground.stage.order(), &self.pose, &mut self.frames);
        let strays = Strays { motion: &self.motion, tolerance: &reach.off };
        for (body, sweep) in self.ground.stage.bodies().iter().zip(&mut self.sweeps) {
            self.ground.stage.sweep_again(body, &self.frames, strays, sweep);
        }
    }

    /// The bodies of other rigs that no cue moves.
    fn stand<'a>(&mut self, rig: RigId, goers: impl Iterator<Item = Goer<'a>> + Clone) {
        let moved = self.ground.moved(rig);
        let bodies = self.ground.stage.bodies().iter().enumerate();
        let still = bodies.filter(|(index, body)| {
            let goes = |goer: Goer| body.carriers.iter().any(|carrier| moves(goer.plan, carrier.axis));
            !moved.contains(index) && !goers.clone().any(goes)
        });
        self.others.clear();
        self.others.extend(still.map(|(index, _)| index));
        self.rigs.clear();
        self.rigs.extend_from_slice(self.ground.under_moved(rig));
    }

    /// The bodies that a cue moves; false if there are none that a rig could meet.
    fn call_on(&mut self, show: &Show, rig: RigId, goer: &Goer) -> bool {
        let bodies = self.ground.stage.bodies();
        let moved = self.ground.moved(rig);
        self.others.clear();
        self.others.extend(bodies.iter().enumerate().filter_map(|(index, body)| {
            let goes = body.carriers.iter().any(|carrier| moves(goer.plan, carrier.axis));
            (goes && !moved.contains(&index)).then_some(index)
        }));
        let (ground, others) = (&self.ground, &self.others);
        let under =
            |rig: RigId| others.iter().any(|&body| show.carriers(bodies[body].rig).any(|carrier| carrier == rig));
        self.rigs.clear();
        let needed = |&&one: &&RigId| ground.under_moved(rig).contains(&one) || under(one);
        self.rigs.extend(ground.stage.order().iter().filter(needed));
        !self.others.is_empty()
    }

    /// Halves the box, and the span beside a cue, until all of it is clear, or some of it is not.
    fn search(
        &mut self,
        show: &Show,
        rig: RigId,
        reach: &Reach,
        span: Span,
        goer: Option<Goer>,
        looks: &mut usize,
    ) -> Clear {
        let mut whole = Cell { low: [0.0; JOINTS_MAX], high: [0.0; JOINTS_MAX], span };
        for (at, axis) in self.joints[rig.index()].iter().enumerate() {
            (whole.low[at], whole.high[at]) = (reach.low[axis.index()], reach.high[axis.index()]);
        }
        self.open.clear();
        self.open.push(whole);
        let mut doubt = None;
        while let Some(cell) = self.open.pop() {
            if *looks == 0 {
                return doubt.map_or(Clear::Unknown, Clear::No);
            }
            *looks -= 1;
            self.lay(rig, &cell, goer);
            self.place(rig, goer, &reach.off);
            let Some((near, seen)) = self.short(show, rig, goer.is_none()) else { continue };
            if seen || !self.halve(rig, &cell, goer.is_some()) {
                return Clear::No(near);
            }
            doubt = Some(near);
        }
        Clear::Yes
    }

    /// The middle of a cell, and how far it goes from there.
    fn lay(&mut self, rig: RigId, cell: &Cell, goer: Option<Goer>) {
        for (at, axis) in self.joints[rig.index()].iter().enumerate() {
            self.pose[axis.index()] = (cell.low[at] + cell.high[at]) / 2.0;
            self.motion[axis.index()] = (cell.high[at] - cell.low[at]) / 2.0;
        }
        for step in goer.iter().flat_map(|goer| &goer.plan.moves) {
            for path in &step.axes {
                let here = step.at(path, cell.span.middle()).position;
                let range = step.positions(path, cell.span.from, cell.span.to);
                self.pose[path.axis.index()] = here;
                self.motion[path.axis.index()] = (here - range.low).max(range.high - here).max(0.0);
            }
        }
    }

    /// The bodies that a rig moves, and those of a cue, as they are laid out.
    fn place(&mut self, rig: RigId, goer: Option<Goer>, off: &[f64]) {
        self.ground.stage.frames_of(&self.rigs, &self.pose, &mut self.frames);
        let strays = Strays { motion: &self.motion, tolerance: off };
        let going: &[usize] = if goer.is_some() { &self.others } else { &[] };
        for &body in self.ground.moved(rig).iter().chain(going) {
            let carried = &self.ground.stage.bodies()[body];
            self.ground.stage.sweep_again(carried, &self.frames, strays, &mut self.sweeps[body]);
        }
    }

    /// Something that is not proved to keep its distance; and whether it was seen not to.
    fn short(&self, show: &Show, rig: RigId, zones: bool) -> Option<(Near, bool)> {
        let of_rig = &self.floors[rig.index()];
        let mut doubt: Option<(Near, bool)> = None;
        let mut heed = |bound: Bound, bare: Option<f64>, kept: Kept, parties: [Party; 2]| {
            let seen = bound.middle < kept.grown;
            let short = bound.least < kept.grown || bare.is_some_and(|bare| bare < kept.bare);
            if short && (seen || doubt.is_none()) {
                doubt = Some((Near { parties, distance: bound.middle.max(0.0), margin: kept.margin }, seen));
            }
            seen
        };
        for &mover in self.ground.moved(rig) {
            let carried = &self.ground.stage.bodies()[mover];
            let sweep = &self.sweeps[mover];
            for &other in &self.others {
                let body = &self.ground.stage.bodies()[other];
                let Some(margin) = self.ground.margin(carried.rig, body.rig) else { continue };
                let kept = of_rig[body.rig.index()].kept(margin);
                if kept.is_nothing() {
                    continue;
                }
                let bound = bound_apart(sweep, &self.sweeps[other], kept.grown);
                let bare = kept.is_lowered().then(|| bare_apart(sweep, &self.sweeps[other]));
                if heed(bound, bare, kept, [Party::of(carried), Party::of(body)]) {
                    return doubt;
                }
            }
            let guarded = show.zones.iter().enumerate().filter(|(_, zone)| zone.rigs.contains(&carried.rig));
            for (at, zone) in guarded.filter(|_| zones) {
                let kept = of_rig[show.rigs.len() + at].kept(zone.margin);
                if kept.is_nothing() {
                    continue;
                }
                let bound = bound_zone(zone, &self.ground.zones[at], sweep, kept.grown);
                let bare = kept.is_lowered().then(|| bare_zone(zone, &self.ground.zones[at], sweep));
                if heed(bound, bare, kept, [Party::of(carried), Party::Zone(at)]) {
                    return doubt;
                }
            }
        }
        doubt
    }

    /// The least clearance to one rig or zone as everything is laid out, with tolerances and without, and the margin.
    fn nearest(&self, show: &Show, rig: RigId, slot: usize) -> Option<(Floor, f64)> {
        let mut least: Option<(Floor, f64)> = None;
        let mut heed = |grown: f64, bare: f64, margin: f64| {
            let found = Floor { grown: grown.max(0.0), bare: bare.max(0.0) };
            least = Some(least.map_or((found, margin), |(least, margin)| (least.or_less(found), margin)));
        };
        for &mover in self.ground.moved(rig) {
            let carried = &self.ground.stage.bodies()[mover];
            if let Some(zone) = slot.checked_sub(show.rigs.len()).map(|at| (at, &show.zones[at])) {
                let (at, zone) = zone;
                if zone.rigs.contains(&carried.rig) {
                    let (block, sweep) = (&self.ground.zones[at], &self.sweeps[mover]);
                    let bound = bound_zone(zone, block, sweep, f64::INFINITY);
                    heed(bound.middle, bound.most - sweep.shift, zone.margin);
                }
                continue;
            }
            let margin = self.ground.margin(carried.rig, RigId::new(slot));
            for &other in self.ground.bodies(RigId::new(slot)).iter().filter(|other| self.others.contains(other)) {
                if let Some(margin) = margin {
                    let (sweep, beside) = (&self.sweeps[mover], &self.sweeps[other]);
                    let bound = bound_apart(sweep, beside, f64::INFINITY);
                    heed(bound.middle, bound.most - sweep.shift - beside.shift, margin);
                }
            }
        }
        least
    }

    /// Puts the halves of a cell on the heap, cut where it goes farthest; false if it is not to be halved any more.
    fn halve(&mut self, rig: RigId, cell: &Cell, beside_cue: bool) -> bool {
        let joints = self.joints[rig.index()].iter().enumerate();
        let ways = joints.map(|(at, axis)| (at, self.levers[axis.index()] * (cell.high[at] - cell.low[at])));
        let (at, way) = ways.max_by(|(_, a), (_, b)| a.total_cmp(b)).unwrap_or((0, 0.0));
        let going = self.others.iter().map(|&other| 2.0 * self.sweeps[other].shift);
        let going = if beside_cue { going.fold(0.0, f64::max) } else { 0.0 };
        if self.open.len() + 2 > OPEN_MAX {
            return false;
        }
        if going > way && going > FINEST && cell.span.length() > SHORTEST {
            let [early, late] = cell.span.halves();
            self.open.extend([Cell { span: late, ..*cell }, Cell { span: early, ..*cell }]);
            return true;
        }
        if way <= FINEST {
            return false;
        }
        let middle = (cell.low[at] + cell.high[at]) / 2.0;
        let [mut lower, mut upper] = [*cell; 2];
        (lower.high[at], upper.low[at]) = (middle, middle);
        self.open.extend([lower, upper]);
        true
    }
}

/// Whether a cue moves an axis.
fn moves(plan: &CuePlan, axis: AxisId) -> bool {
    plan.moves.iter().flat_map(|step| &step.axes).any(|path| path.axis == axis && path.moves())
}
