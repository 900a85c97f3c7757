//! One question of the search: whether a leg is clear of one other thing, answered by halving, a look at a time; or
//! whether an interlock permits it.

use arrayvec::ArrayVec;

use super::ground::{Ground, Other};
use super::permit::Permit;
use super::way::at_mark;
use super::{Bar, Forbids, Near, Task};
use crate::proof::clearance::{BRACKET, Party, SLACK, bound_apart, bound_zone};
use crate::show::{AxisId, RigId, Show};
use crate::stage::{Frame, Strays, Sweep};

/// A part of a leg this short that is not proved counts as blocked.
const FINEST: f64 = 1.0 / (1 << 22) as f64;
/// Looks for one question at most; what is left counts as blocked.
const LOOKS_MAX: usize = 4096;
/// Parts that wait to be looked at: one of each length, and what there is at first.
const OPEN_MAX: usize = 32;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Question {
    /// Whose leg, by its place in the order.
    pub place: u8,
    /// 0: straight; else through the mark before this number.
    pub way: u16,
    pub other: Other,
    /// Which of the rigs that this depends on have gone.
    pub gone: u32,
}

/// Looks that a question to an interlock counts for.
const INTERLOCK_LOOKS: usize = 16;

/// Nothing is in the way, or this.
pub type Answer = Option<Bar>;

/// A part of a leg: from 0 to 1, and where it goes through a mark on to 2.
#[derive(Clone, Copy, Debug)]
struct Part {
    from: f64,
    to: f64,
}

#[derive(Clone, Debug)]
pub struct Probe {
    question: Option<Question>,
    open: ArrayVec<Part, OPEN_MAX>,
    found: Option<Near>,
    /// The last of which a part was not settled.
    doubt: Option<Near>,
    looks: usize,
    /// Indices of the bodies that the leg moves.
    movers: Vec<usize>,
    /// Whose frames are needed, carriers first.
    rigs: Vec<RigId>,
    pose: Vec<f64>,
    motion: Vec<f64>,
    frames: Vec<Frame>,
    /// By index of the body.
    sweeps: Vec<Sweep>,
    permit: Permit,
}

impl Probe {
    pub fn new(show: &Show) -> Probe {
        let stage = crate::stage::Stage::new(show);
        let pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let none = vec![0.0; pose.len()];
        let mut frames = Vec::new();
        stage.frames(&pose, &mut frames);
        let strays = Strays { motion: &none, tolerance: &none };
        Probe {
            question: None,
            open: ArrayVec::new(),
            found: None,
            doubt: None,
            looks: 0,
            movers: Vec::with_capacity(stage.bodies().len()),
            rigs: Vec::with_capacity(2 * show.rigs.len()),
            sweeps: stage.bodies().iter().map(|body| stage.sweep(body, &frames, strays)).collect(),
            motion: none,
            pose,
            frames,
            permit: Permit::new(show),
        }
    }

    pub fn is_open(&self) -> bool {
        self.question.is_some()
    }

    pub fn rest(&mut self) {
        self.question = None;
    }

    pub fn open(&mut self, show: &Show, ground: &Ground, task: &Task, question: Question) {
        let rig = task.order[usize::from(question.place)];
        (self.question, self.found, self.doubt, self.looks) = (Some(question), None, None, 0);
        self.movers.clear();
        self.rigs.clear();
        self.open.clear();
        if let Other::Interlock(_) = question.other {
            return;
        }
        for rig in ground.concerned(rig, question.other) {
            if !self.rigs.contains(&rig) {
                self.rigs.push(rig);
            }
        }
        for &body in ground.moved(rig) {
            let mut carriers = ground.stage.bodies()[body].carriers.iter();
            if carriers.any(|carrier| {
                show.axis(carrier.axis).rig == rig && changes(show, task, question, rig, carrier.axis)
            }) {
                self.movers.push(body);
            }
        }
        if self.movers.is_empty() {
            return;
        }
        let end = if question.way == 0 { 1.0 } else { 2.0 };
        if end > 1.0 {
            self.open.push(Part { from: 1.0, to: 2.0 });
        }
        self.open.push(Part { from: 0.0, to: 1.0 });
        // The ends first: a leg is barred most often where it begins or ends.
        self.open.extend([end, 0.0].map(|at| Part { from: at, to: at }));
    }

    /// How many looks the next one counts for.
    pub fn price(&self) -> usize {
        match self.question {
            Some(Question { other: Other::Interlock(_), .. }) => INTERLOCK_LOOKS,
            Some(_) | None => 1,
        }
    }

    /// Looks once; gives the answer when there is one.
    pub fn look(&mut self, show: &Show, ground: &Ground, task: &Task) -> Option<(Question, Answer)> {
        let question = self.question?;
        let rig = task.order[usize::from(question.place)];
        if let Other::Interlock(id) = question.other {
            self.question = None;
            return Some((question, self.permit.bar(show, task, question, id)));
        }
        let Some(part) = self.open.pop() else {
            self.question = None;
            return Some((question, self.found.map(|near| Bar { rig, by: Forbids::Near(near) })));
        };
        self.looks += 1;
        self.stand(show, task, question, rig, part);
        ground.stage.frames_of(&self.rigs, &self.pose, &mut self.frames);
        let strays = Strays { motion: &self.motion, tolerance: &ground.tolerance };
        let others: &[usize] = match question.other {
            Other::Rig(other) => ground.bodies(other),
            Other::Zones | Other::Interlock(_) => &[],
        };
        for &body in self.movers.iter().chain(others) {
            let carried = &ground.stage.bodies()[body];
            ground.stage.sweep_again(carried, &self.frames, strays, &mut self.sweeps[body]);
        }
        if !self.settled(show, ground, question.other) {
            self.halve(part);
        }
        None
    }

    fn stand(&mut self, show: &Show, task: &Task, question: Question, rig: RigId, part: Part) {
        self.motion.fill(0.0);
        for &stands in &self.rigs {
            let at = if question.gone & task.bit(stands) == 0 { &task.from } else { &task.to };
            for axis in show.rig(stands).axis_ids() {
                self.pose[axis.index()] = at[axis.index()];
            }
        }
        let middle = (part.from + part.to) / 2.0;
        for axis in show.rig(rig).axis_ids() {
            let (from, to) = (task.from[axis.index()], task.to[axis.index()]);
            let [begin, end] = match usize::from(question.way).checked_sub(1) {
                None => [from, to],
                Some(mark) => {
                    let corner = at_mark(show, rig, mark, axis, from);
                    if middle <= 1.0 { [from, corner] } else { [corner, to] }
                }
            };
            let along = if middle <= 1.0 { middle } else { middle - 1.0 };
            self.pose[axis.index()] = begin + along * (end - begin);
            self.motion[axis.index()] = (part.to - part.from) / 2.0 * (end - begin).abs();
        }
    }

    /// Whether all keep their margins over the part, or come no nearer than was found.
    fn settled(&mut self, show: &Show, ground: &Ground, other: Other) -> bool {
        let mut settled = true;
        for at in 0..self.movers.len() {
            let mover = self.movers[at];
            let owner = ground.stage.bodies()[mover].rig;
            match other {
                Other::Rig(other) => {
                    let Some(margin) = ground.margin(owner, other) else { continue };
                    for &body in ground.bodies(other) {
                        let (a, b) = (&self.sweeps[mover], &self.sweeps[body]);
                        let needed = needed(&self.found, margin);
                        let bound = (needed > 0.0).then(|| bound_apart(a, b, needed));
                        let party = Party::of(&ground.stage.bodies()[body]);
                        settled &= bound.is_none_or(|bound| {
                            self.heed(ground, [bound.least, bound.middle], margin, mover, party)
                        });
                    }
                }
                Other::Zones => {
                    for (at, zone) in show.zones.iter().enumerate().filter(|(_, zone)| zone.rigs.contains(&owner)) {
                        let needed = needed(&self.found, zone.margin);
                        let bound = (needed > 0.0)
                            .then(|| bound_zone(zone, &ground.zones[at], &self.sweeps[mover], needed));
                        settled &= bound.is_none_or(|bound| {
                            let near = [bound.least, bound.middle];
                            self.heed(ground, near, zone.margin, mover, Party::Zone(at))
                        });
                    }
                }
                Other::Interlock(_) => {}
            }
        }
        settled
    }

    /// Takes in how near two come over a part, and at its middle; whether nothing more is to be known of them in it.
    fn heed(
        &mut self,
        ground: &Ground,
        [least, middle]: [f64; 2],
        margin: f64,
        mover: usize,
        party: Party,
    ) -> bool {
        if least >= needed(&self.found, margin) {
            return true;
        }
        let distance = middle.max(0.0);
        let parties = [Party::of(&ground.stage.bodies()[mover]), party];
        let near = Near { parties, distance, margin };
        if distance < margin - SLACK && self.found.is_none_or(|found| distance < found.distance) {
            self.found = Some(near);
        }
        let needed = needed(&self.found, margin);
        let settled = needed <= 0.0 || least >= needed;
        if !settled {
            self.doubt = Some(near);
        }
        settled
    }

    fn halve(&mut self, part: Part) {
        let length = part.to - part.from;
        if length == 0.0 {
            return;
        }
        if length <= FINEST || self.looks >= LOOKS_MAX || self.open.len() + 2 > OPEN_MAX {
            self.open.clear();
            self.found = self.found.or(self.doubt);
            return;
        }
        let middle = (part.from + part.to) / 2.0;
        self.open.extend([Part { from: middle, ..part }, Part { to: middle, ..part }]);
    }
}

/// m, what a bound must be for nothing to be told of it.
fn needed(found: &Option<Near>, margin: f64) -> f64 {
    let enough = margin - SLACK;
    found.map_or(enough, |near| enough.min(near.distance - BRACKET))
}

/// Whether a leg takes an axis anywhere.
fn changes(show: &Show, task: &Task, question: Question, rig: RigId, axis: AxisId) -> bool {
    let (from, to) = (task.from[axis.index()], task.to[axis.index()]);
    let through = usize::from(question.way).checked_sub(1).map(|mark| at_mark(show, rig, mark, axis, from));
    from != to || through.is_some_and(|corner| corner != from)
}
