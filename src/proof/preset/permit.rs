//! Whether an interlock permits a leg: the walk along it that a GO takes ([`look_along`]), with all other rigs where they
//! stand meanwhile.

use arrayvec::ArrayVec;

use super::ground::Other;
use super::probe::{Answer, Question};
use super::way::at_mark;
use super::{Bar, Forbids, Proviso, Task};
use crate::motion::Profile;
use crate::proof::along::{look_along, moves_guarded, path_of};
use crate::proof::course::ceiling;
use crate::proof::plan::{AxisPath, CuePlan, MovePlan};
use crate::show::{Atom, AtomId, AxisId, InterlockId, RigId, Show, Truth};

/// Room for one leg as a plan of its own.
#[derive(Clone, Debug)]
pub struct Permit {
    leg: CuePlan,
}

impl Permit {
    pub fn new(show: &Show) -> Permit {
        let starts: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let widest = show.rigs.iter().map(|rig| rig.axes.len()).max().unwrap_or(0);
        let step = |rig: RigId| MovePlan {
            rig,
            delay: 0.0,
            profile: Profile::NOTHING,
            axes: Vec::with_capacity(widest),
            passes: Vec::new(),
        };
        let moves = show.rig_ids().take(1).map(step).collect();
        Permit { leg: CuePlan { start: starts, moves, ..CuePlan::EMPTY } }
    }

    /// Where the interlock forbids the leg first. Takes no memory.
    pub fn bar(&mut self, show: &Show, task: &Task, question: Question, id: InterlockId) -> Answer {
        let needs = &show.interlocks[id.index()].needs;
        let rig = task.order[usize::from(question.place)];
        for part in parts(question) {
            self.take_up(show, task, question, part);
            let mut first: Option<(f64, AtomId)> = None;
            let followed = self.look(show, id, &mut |time| {
                if first.is_none_or(|(found, _)| time < found) {
                    let decider = needs.decider(&|atom| self.truth(show, atom, time));
                    let forbids =
                        decider.filter(|_| needs.judge(&|atom| self.truth(show, atom, time)) == Truth::False);
                    first = forbids.map(|atom| (time, atom)).or(first);
                }
            });
            if let Some((time, atom)) = first {
                let stands = axis_of(show, atom).map(|axis| self.position(axis, time));
                return Some(Bar { rig, by: Forbids::Interlock { interlock: id, atom, stands } });
            }
            if !followed {
                return Some(Bar { rig, by: Forbids::Unfollowed { interlock: id } });
            }
        }
        None
    }

    /// Looks wherever something that the interlock guards moves as it is guarded; false if it changes too often.
    fn look(&self, show: &Show, id: InterlockId, look: &mut dyn FnMut(f64)) -> bool {
        let interlock = &show.interlocks[id.index()];
        let guarded = |time: f64| interlock.guards.iter().any(|&guard| moves_guarded(&self.leg, guard, time, 1.0));
        look_along(show, &interlock.needs, &self.leg, [0.0, self.leg.duration], &mut |time| {
            if (0.0..=self.leg.duration).contains(&time) && guarded(time) {
                look(time);
            }
        })
    }

    /// Lays out one part of the leg, everything else where it stands meanwhile.
    fn take_up(&mut self, show: &Show, task: &Task, question: Question, part: Part) {
        let rig = task.order[usize::from(question.place)];
        for axis in show.axis_ids() {
            let gone = question.gone & task.bit(show.axis(axis).rig) != 0;
            self.leg.start[axis.index()] = if gone { task.to[axis.index()] } else { task.from[axis.index()] };
        }
        let step = &mut self.leg.moves[0];
        step.rig = rig;
        step.axes.clear();
        for axis in show.rig(rig).axis_ids() {
            let (from, to) = (task.from[axis.index()], task.to[axis.index()]);
            let [begin, end] = match part {
                Part::Straight => [from, to],
                Part::ToMark(mark) => [from, at_mark(show, rig, mark, axis, from)],
                Part::FromMark(mark) => [at_mark(show, rig, mark, axis, from), to],
            };
            self.leg.start[axis.index()] = begin;
            if begin != end {
                step.axes.push(AxisPath::straight(axis, begin, end));
            }
        }
        let pace = ceiling(show, &step.axes, AxisPath::ends, |axis| axis.run).map(Profile::fastest);
        step.profile = pace.map_or(Profile::NOTHING, |fastest| fastest.stretched(1.0 / show.settings.return_rate));
        self.leg.duration = step.end();
    }

    fn position(&self, axis: AxisId, time: f64) -> f64 {
        match path_of(&self.leg, axis) {
            Some((step, path)) => step.at(path, time).position,
            None => self.leg.start[axis.index()],
        }
    }

    fn truth(&self, show: &Show, atom: AtomId, time: f64) -> Truth {
        let position = |axis: AxisId| Some(self.position(axis, time));
        show.atoms[atom.index()].of_pose(show, &position).unwrap_or(Truth::Unknown)
    }
}

/// Of a leg: the whole, or to and from the mark that it goes through.
#[derive(Clone, Copy, Debug)]
enum Part {
    Straight,
    ToMark(usize),
    FromMark(usize),
}

fn parts(question: Question) -> ArrayVec<Part, 2> {
    match usize::from(question.way).checked_sub(1) {
        None => [Part::Straight].into_iter().collect(),
        Some(mark) => [Part::ToMark(mark), Part::FromMark(mark)].into_iter().collect(),
    }
}

fn axis_of(show: &Show, atom: AtomId) -> Option<AxisId> {
    match &show.atoms[atom.index()] {
        Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => Some(*axis),
        Atom::At { .. } | Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => None,
    }
}

/// Adds what an interlock still asks of a leg that its poses permit.
pub fn provisos(show: &Show, task: &Task, question: Question, provisos: &mut Vec<Proviso>) {
    let Other::Interlock(interlock) = question.other else { return };
    let rig = task.order[usize::from(question.place)];
    let mut permit = Permit::new(show);
    for part in parts(question) {
        permit.take_up(show, task, question, part);
        permit.look(show, interlock, &mut |time| {
            let needs = &show.interlocks[interlock.index()].needs;
            let open = needs.left_open(&|atom| permit.truth(show, atom, time));
            let proviso = open.map(|needs| Proviso { rig, interlock, needs });
            provisos.extend(proviso.filter(|proviso| !provisos.contains(proviso)));
        });
    }
}
