//! Which cues can be running together, and when the one can start by the other's clock.
//!
//! Running cues share one rate, so the difference of their starts can be told in their own times. What holds a start
//! back, lower bounds all: a GO comes after the GOs before it in the list; a follow stands at its place after its
//! leader; a cue finds its rigs where the list leaves them, so it waits for the end of an earlier cue of the same axes
//! or carriage; and `needs` wait for what they name. A bound for every cue, as seen from one of them, is the longest
//! way through these: as in a simple temporal network (Dechter, Meiri and Pearl 1991), in the order of the list.
//!
//! The guard time between two GOs does not count: at a low master hardly any of a cue's own time passes in it. Nor
//! does a skip: what is fired out of order is proved when it is asked for, or refused.

mod sequence;

pub use sequence::Sequence;

use super::crew::{Crew, gathered};
use super::follows::meet;
use super::plan::Plan;
use crate::show::{After, Atom, AxisId, Condition, CueId, CueState, Show};

/// s; starts that lie less apart are at the same time.
const SAME: f64 = 1e-9;
/// s; a hand's timing is no finer. The ticks by which the follows of a chain may be late add up to less.
const TIED: f64 = 0.1;

/// Why a cue cannot start before another has ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Apart {
    /// Both own this axis.
    Axis(AxisId),
    /// They own these joints of one rig, or of what it rides on.
    Carriage(AxisId, AxisId),
    /// It `needs` the other.
    Needs,
    /// It follows the other, or waits for a GO that comes after it.
    Order,
    /// It waits for this cue, which waits for the other.
    Behind(CueId),
}

/// Two cues that can be running together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Together {
    /// The earlier in the list.
    pub first: CueId,
    pub second: CueId,
    /// s: from the start of the first to that of the second; within these, below zero if the second starts before.
    pub from: f64,
    pub to: f64,
}

impl Together {
    /// Whether a chain of follows ties the two, so that no hand can change their timing.
    pub fn tied(&self) -> bool {
        self.to - self.from <= TIED
    }
}

/// A lower bound on the start of a cue, as seen from another's, and what sets it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Least {
    time: f64,
    why: Apart,
    /// The cue that is waited for.
    of: CueId,
}

impl Least {
    const NONE: Least = Least { time: f64::NEG_INFINITY, why: Apart::Order, of: CueId(0) };

    fn raise(&mut self, time: f64, why: Apart, of: CueId) {
        if time > self.time {
            *self = Least { time, why, of };
        }
    }

    /// Why it is apart from the cue that it was seen from.
    fn apart_from(&self, origin: CueId) -> Apart {
        if self.of == origin { self.why } else { Apart::Behind(self.of) }
    }
}

/// Earlier cues that a cue waits for, with why: for each of its axes and carriages the last that had it.
struct Waits {
    /// By `CueId`.
    for_axes: Vec<Vec<(CueId, Apart)>>,
}

impl Waits {
    fn new(show: &Show, plan: &Plan) -> Waits {
        let owned = |cue: CueId| -> Vec<AxisId> {
            plan.cue(cue).moves.iter().flat_map(|step| step.axes.iter().map(|path| path.axis)).collect()
        };
        let mut last: Vec<Vec<(CueId, AxisId)>> = vec![Vec::new(); show.axes.len()];
        let mut for_axes = Vec::with_capacity(show.cues.len());
        for cue in show.cue_ids() {
            let mut waits: Vec<(CueId, Apart)> = Vec::new();
            let axes = owned(cue);
            for &axis in &axes {
                for &(other, their) in &last[axis.index()] {
                    let why = if their == axis { Apart::Axis(axis) } else { Apart::Carriage(axis, their) };
                    if !waits.iter().any(|(known, _)| *known == other) {
                        waits.push((other, why));
                    }
                }
            }
            for axis in axes {
                for met in show.axis_ids().filter(|&met| meet(show, axis, met)) {
                    last[met.index()].retain(|(other, _)| *other == cue);
                    last[met.index()].push((cue, axis));
                }
            }
            for_axes.push(waits);
        }
        Waits { for_axes }
    }
}

/// The whole list, seen from every cue.
pub struct Starts<'a> {
    show: &'a Show,
    plan: &'a Plan,
    waits: Waits,
}

impl<'a> Starts<'a> {
    pub fn new(show: &'a Show, plan: &'a Plan) -> Starts<'a> {
        Starts { show, plan, waits: Waits::new(show, plan) }
    }

    fn duration(&self, cue: CueId) -> f64 {
        self.plan.cue(cue).duration
    }

    /// The cue that ties this one to it, and how much later this one starts.
    fn leader(&self, cue: CueId) -> Option<(CueId, f64)> {
        let (leader, later) = match self.show.cue(cue).after.as_ref()? {
            After::Start { cue: leader, wait } => (*leader, *wait),
            After::End { cue: leader, wait } => (*leader, self.duration(*leader) + wait),
            After::When(_) => return None,
        };
        // Any other chain was found bad.
        (leader < cue).then_some((leader, later))
    }

    /// The first of the chain of a cue, and how much later than it the cue starts.
    pub fn chain(&self, cue: CueId) -> (CueId, f64) {
        let (mut head, mut later) = (cue, 0.0);
        while let Some((leader, wait)) = self.leader(head) {
            (head, later) = (leader, later + wait);
        }
        (head, later)
    }

    /// Lower bounds on the starts of all cues, s from the start of one, by `CueId`.
    fn seen_from(&self, origin: CueId) -> Vec<Least> {
        let mut least = vec![Least::NONE; self.show.cues.len()];
        least[origin.index()].time = 0.0;
        // What leads to the origin is tied to it; but each follow may come a tick late.
        let (mut at, mut before) = (origin, 0.0);
        while let Some((leader, wait)) = self.leader(at) {
            (at, before) = (leader, before - wait - self.show.settings.tick.seconds());
            least[at.index()].time = before;
        }
        let mut last_go: Option<CueId> = None;
        for cue in self.show.cue_ids() {
            if least[cue.index()].time == f64::NEG_INFINITY {
                let found = self.least_of(cue, last_go, &least);
                least[cue.index()] = found;
            }
            if self.show.cue(cue).after.is_none() && least[cue.index()].time > f64::NEG_INFINITY {
                last_go = Some(cue);
            }
        }
        least
    }

    fn least_of(&self, cue: CueId, last_go: Option<CueId>, least: &[Least]) -> Least {
        let mut found = Least::NONE;
        let of = |cue: CueId| least[cue.index()].time;
        match (&self.show.cue(cue).after, self.leader(cue)) {
            (_, Some((leader, later))) => found.raise(of(leader) + later, Apart::Order, leader),
            (Some(After::When(condition)), None) => {
                // It waits from the start of the cue before it in the list.
                if let Some(before) = cue.index().checked_sub(1).map(CueId::new) {
                    found.raise(of(before), Apart::Order, before);
                }
                self.raise_by(condition, least, &mut found);
            }
            (None, None) => {
                if let Some(go) = last_go {
                    found.raise(of(go), Apart::Order, go);
                }
            }
            (Some(After::Start { .. } | After::End { .. }), None) => {}
        }
        for &(other, why) in &self.waits.for_axes[cue.index()] {
            found.raise(of(other) + self.duration(other), why, other);
        }
        if let Some(needs) = &self.show.cue(cue).needs {
            self.raise_by(needs, least, &mut found);
        }
        found
    }

    fn raise_by(&self, condition: &Condition, least: &[Least], found: &mut Least) {
        if let Some((time, of)) = self.earliest(condition, least) {
            found.raise(time, Apart::Needs, of);
        }
    }

    /// When a condition can first be true, as far as another cue decides it, and which.
    fn earliest(&self, condition: &Condition, least: &[Least]) -> Option<(f64, CueId)> {
        let sooner = |a: &(f64, CueId), b: &(f64, CueId)| a.0.total_cmp(&b.0);
        match condition {
            Condition::Atom(id) => match &self.show.atoms[id.index()] {
                Atom::CueState { cue, state: CueState::Done } => {
                    Some((least[cue.index()].time + self.duration(*cue), *cue))
                }
                Atom::CuePast { cue, time } => {
                    Some((least[cue.index()].time + time.min(self.duration(*cue)), *cue))
                }
                Atom::CueState { .. }
                | Atom::Above { .. }
                | Atom::Below { .. }
                | Atom::Within { .. }
                | Atom::At { .. }
                | Atom::Input(_) => None,
            },
            Condition::All(parts) => parts.iter().filter_map(|part| self.earliest(part, least)).max_by(sooner),
            Condition::Any(parts) => {
                let each: Option<Vec<_>> = parts.iter().map(|part| self.earliest(part, least)).collect();
                each?.into_iter().min_by(sooner)
            }
            Condition::Not(_) => None,
        }
    }

    /// Every pair of cues, judged.
    pub fn pairs(&self, crew: &dyn Crew) -> Pairs {
        let seen = gathered(crew, self.show.cues.len(), |cue| self.seen_from(CueId::new(cue)));
        let mut pairs = Pairs { together: Vec::new(), apart: vec![Vec::new(); seen.len()] };
        for first in self.show.cue_ids() {
            for second in self.show.cue_ids().skip(first.index() + 1) {
                let (forth, back) = (seen[first.index()][second.index()], seen[second.index()][first.index()]);
                if self.duration(first) == 0.0 || self.duration(second) == 0.0 {
                    continue;
                }
                let why = if forth.time >= self.duration(first) - SAME {
                    forth.apart_from(first)
                } else {
                    // Also where the second is over before the first begins: by its own proof it finds the first's rigs
                    // where that leaves them, and only the edge of their map knows them where they really stand.
                    pairs.together.push(Together { first, second, from: forth.time, to: -back.time });
                    continue;
                };
                // What holds a cue back holds those behind it too, which need not be told of each.
                match why {
                    Apart::Behind(_) => {}
                    Apart::Axis(_) | Apart::Carriage(..) | Apart::Needs | Apart::Order => {
                        pairs.apart[second.index()].push((first, why));
                    }
                }
            }
        }
        pairs
    }
}

/// Every pair of cues: those that can be running together, by the first, then the second; and for each cue those
/// before it in the list that cannot, where the reason lies between the two.
#[derive(Clone, Debug)]
pub struct Pairs {
    pub together: Vec<Together>,
    /// By `CueId` of the later in the list.
    pub apart: Vec<Vec<(CueId, Apart)>>,
}
