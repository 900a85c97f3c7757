//! What a cue needs to have run, and what a skip would break.
//!
//! A cue rests on an earlier one that it follows or names in its `needs`, that brought its own rigs to where it starts, that
//! put a rig where an interlock wants it, or that took a rig out of its way. A GO looks at all of these: at what is written, at
//! where every rig with bodies stands, and at the bodies.
//!
//! One thing none of these tells. A `[[pair]]` lets two rigs come nearer than the show's margin for a reason, such as a
//! wagon that rolls over a flush lift, and the reason holds where the list has them. With the lift down the wagon keeps
//! clear of it more than ever, and rolls over an open hole. So if the cue that flushed the lift can be skipped, with
//! nothing written to refuse the wagon then, that is told.

use super::along::{look_along, moves_guarded};
use super::bodies::Stagehand;
use super::clearance::{Closest, Group, Other, clearance_of};
use super::crew::{Crew, gathered};
use super::plan::{CuePlan, Plan};
use super::shown;
use crate::show::{
    After, Atom, AtomId, AxisId, Code, Condition, CueId, CueState, Finding, Interlock, InterlockId, RigId, Show,
    Truth,
};

/// Why a cue needs another to have run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rests {
    /// It is fired by it.
    Follows,
    /// Its `needs` are false without it.
    Needs,
    /// It moves this axis from where the other leaves it.
    Start(AxisId),
    /// The interlock is false along its way without it.
    Interlock(InterlockId),
    /// It would come so near without it.
    Near(Closest),
}

/// Of the whole list.
#[derive(Clone, Debug, Default)]
pub struct Skips {
    /// By `CueId`: the earlier cues that it needs to have run, each with the first reason.
    pub rests_on: Vec<Vec<(CueId, Rests)>>,
    /// By `CueId`: the later cues that cannot run if it is skipped and nothing is preset: those that rest on it, those
    /// that rest on them, and so on.
    pub breaks: Vec<Vec<CueId>>,
}

pub fn weigh(hand: &Stagehand, plan: &Plan, crew: &dyn Crew, findings: &mut Vec<Finding>) -> Skips {
    crew.begin("skips");
    let weighed = gathered(crew, plan.cues.len(), |cue| Weighing { hand, plan, cue: CueId::new(cue) }.all());
    let (rests_on, loose): (Vec<_>, Vec<_>) = weighed.into_iter().unzip();
    let breaks: Vec<Vec<CueId>> = hand.show.cue_ids().map(|cue| broken_by(&rests_on, cue)).collect();
    for Loose { cue, skipped, pair, axis, pose } in loose.into_iter().flatten() {
        if !breaks[skipped.index()].contains(&cue) {
            findings.push(told(hand.show, plan, cue, skipped, &pair, axis).posed(pose));
        }
    }
    Skips { rests_on, breaks }
}

fn broken_by(rests_on: &[Vec<(CueId, Rests)>], skipped: CueId) -> Vec<CueId> {
    let mut broken = vec![skipped];
    for (index, rests) in rests_on.iter().enumerate().skip(skipped.index() + 1) {
        if rests.iter().any(|(on, _)| broken.contains(on)) {
            broken.push(CueId::new(index));
        }
    }
    broken.remove(0);
    broken
}

/// A cue that passes near another rig as a pair lets it, which a skip leaves elsewhere.
struct Loose {
    cue: CueId,
    skipped: CueId,
    pair: Closest,
    /// Of the other rig.
    axis: AxisId,
    /// Where everything stands when the two are nearest in the list, with the other rig left elsewhere.
    pose: Vec<f64>,
}

/// Of one cue.
struct Weighing<'a> {
    hand: &'a Stagehand<'a>,
    plan: &'a Plan,
    cue: CueId,
}

impl Weighing<'_> {
    fn all(&self) -> (Vec<(CueId, Rests)>, Vec<Loose>) {
        let (mut rests_on, mut loose) = (Vec::new(), Vec::new());
        for skipped in self.hand.show.cue_ids().take_while(|&before| before < self.cue) {
            let left = self.left_by(skipped);
            match self.rests_on(skipped, &left) {
                Some(rests) => rests_on.push((skipped, rests)),
                None => loose.extend(self.loose_without(skipped, &left)),
            }
        }
        (rests_on, loose)
    }

    fn planned(&self) -> &CuePlan {
        self.plan.cue(self.cue)
    }

    /// The axes that the skipped cue would have brought to where this one finds them, if that is elsewhere.
    fn left_by(&self, skipped: CueId) -> Vec<AxisId> {
        let show = self.hand.show;
        let between = &self.plan.cues[skipped.index() + 1..self.cue.index()];
        let moved = |plan: &CuePlan, axis: AxisId| {
            plan.moves.iter().any(|step| step.axes.iter().any(|path| path.axis == axis && path.moves()))
        };
        let before = self.plan.cue(skipped);
        let elsewhere = |axis: AxisId| {
            let off = (before.start[axis.index()] - self.planned().start[axis.index()]).abs();
            off > show.axis(axis).tolerance
        };
        let left = |&axis: &AxisId| {
            moved(before, axis) && elsewhere(axis) && !between.iter().any(|plan| moved(plan, axis))
        };
        show.axis_ids().filter(left).collect()
    }

    fn rests_on(&self, skipped: CueId, left: &[AxisId]) -> Option<Rests> {
        let show = self.hand.show;
        let cue = show.cue(self.cue);
        let follows = match cue.after.as_ref() {
            Some(After::Start { cue, .. } | After::End { cue, .. }) => *cue == skipped,
            Some(After::When(_)) | None => false,
        };
        if follows {
            return Some(Rests::Follows);
        }
        let pose = self.pose_without(skipped, left);
        let conditions = cue.needs.iter().chain(match cue.after.as_ref() {
            Some(After::When(condition)) => Some(condition),
            Some(After::Start { .. } | After::End { .. }) | None => None,
        });
        if conditions.into_iter().any(|needs| self.refuses(needs, skipped, &pose)) {
            return Some(Rests::Needs);
        }
        let own =
            |axis: &AxisId| self.planned().moves.iter().any(|step| step.axes.iter().any(|path| path.axis == *axis));
        if let Some(&axis) = left.iter().find(|axis| own(axis)) {
            return Some(Rests::Start(axis));
        }
        if left.is_empty() {
            return None;
        }
        if let Some(interlock) = self.interlock_refuses(skipped, &pose) {
            return Some(Rests::Interlock(interlock));
        }
        let found = clearance_of(self.hand, &CuePlan { start: pose, ..self.planned().clone() }, |group| {
            touches(show, group, left)
        });
        let nearest = found.short.iter().map(|short| short.closest).min_by(|a, b| a.value.total_cmp(&b.value));
        nearest.map(Rests::Near)
    }

    /// By `AxisId`: where the cue would find everything.
    fn pose_without(&self, skipped: CueId, left: &[AxisId]) -> Vec<f64> {
        let mut pose = self.planned().start.clone();
        left.iter().for_each(|axis| pose[axis.index()] = self.plan.cue(skipped).start[axis.index()]);
        pose
    }

    /// Whether the condition is false at the GO, whatever the inputs say.
    fn refuses(&self, condition: &Condition, skipped: CueId, pose: &[f64]) -> bool {
        condition.judge(&|atom| self.truth(atom, skipped, pose)) == Truth::False
    }

    fn truth(&self, atom: AtomId, skipped: CueId, pose: &[f64]) -> Truth {
        let show = self.hand.show;
        match &show.atoms[atom.index()] {
            Atom::CueState { cue, state: CueState::Done } => self.ran(*cue, skipped),
            Atom::CuePast { cue, .. } => self.ran(*cue, skipped),
            Atom::CueState { .. } | Atom::Input(_) => Truth::Unknown,
            atom @ (Atom::Above { .. } | Atom::Below { .. } | Atom::Within { .. } | Atom::At { .. }) => {
                atom.of_pose(show, &|axis| Some(pose[axis.index()])).unwrap_or(Truth::Unknown)
            }
        }
    }

    /// Cues after this one, and this one itself, have not run in any case.
    fn ran(&self, cue: CueId, skipped: CueId) -> Truth {
        if cue < self.cue { Truth::of(cue != skipped) } else { Truth::Unknown }
    }

    fn interlock_refuses(&self, skipped: CueId, pose: &[f64]) -> Option<InterlockId> {
        let show = self.hand.show;
        let plan = CuePlan { start: pose.to_vec(), ..self.planned().clone() };
        let refuses = |interlock: &Interlock| {
            let (mut now, mut refused) = (pose.to_vec(), false);
            let mut look = |time: f64| {
                let guarded = || interlock.guards.iter().any(|&guard| moves_guarded(&plan, guard, time, 1.0));
                if !refused && (0.0..=plan.duration).contains(&time) && guarded() {
                    plan.pose_at(time, &mut now);
                    refused = self.refuses(&interlock.needs, skipped, &now);
                }
            };
            look_along(show, &interlock.needs, &plan, [0.0, plan.duration], &mut look);
            refused
        };
        show.interlocks.iter().position(refuses).map(InterlockId::new)
    }

    /// Whether the cue passes a rig that is left elsewhere as near as only a pair lets it.
    fn loose_without(&self, skipped: CueId, left: &[AxisId]) -> Option<Loose> {
        let show = self.hand.show;
        let lesser = |group: &Group| group.margin < show.settings.margin && matches!(group.other, Other::Rig(_));
        if left.is_empty() || show.pairs.is_empty() {
            return None;
        }
        let found =
            clearance_of(self.hand, self.planned(), |group| lesser(group) && touches(show, group, left)).closest?;
        let rigs = found.parties.map(|party| party.rig());
        let axis = left.iter().find(|axis| rigs.contains(&Some(show.axis(**axis).rig)))?;
        let skipping = CuePlan { start: self.pose_without(skipped, left), ..self.planned().clone() };
        let mut pose = skipping.start.clone();
        skipping.pose_at(found.time, &mut pose);
        (found.value < show.settings.margin).then_some(Loose {
            cue: self.cue,
            skipped,
            pair: found,
            axis: *axis,
            pose,
        })
    }
}

/// Whether a group is of a rig with one of these axes, or of one that rides with it.
fn touches(show: &Show, group: &Group, left: &[AxisId]) -> bool {
    let of = |rig: RigId| left.iter().any(|&axis| show.same_carriage(show.axis(axis).rig, rig));
    of(group.rig) || matches!(group.other, Other::Rig(other) if of(other))
}

fn told(show: &Show, plan: &Plan, cue: CueId, skipped: CueId, pair: &Closest, axis: AxisId) -> Finding {
    let [number, passed] = [cue, skipped].map(|cue| &show.cue(cue).number);
    let [one, other] = pair.parties.map(|party| party.name(show));
    let because = show
        .pairs
        .iter()
        .filter(|listed| pair.parties.iter().all(|party| party.rig().is_some_and(|rig| listed.rigs.contains(&rig))))
        .find_map(|listed| listed.because.as_deref());
    let reason = because.map_or_else(|| "as their pair lets them".to_owned(), |because| format!("since {because}"));
    let (name, unit) = (show.axis_name(axis), show.axis(axis).unit.sign());
    let [expected, found] = [cue, skipped].map(|cue| shown(plan.cue(cue).start[axis.index()]));
    let message = format!(
        "cue {number} can be fired with cue {passed} skipped, and nothing written refuses it: {one} passes {other} as near \
         as {} m, {reason}; but then {name} stands at {found}{unit}, not at {expected}{unit}",
        shown(pair.value)
    );
    let condition = format!("{{ cue = \"{passed}\", state = \"done\" }}");
    let fix = match show.cue(cue).needs {
        None => format!("write in cue {number}: needs = {condition}; or guard the way by an interlock on {name}"),
        Some(_) => format!(
            "add to the needs of cue {number}, in an `all`: {condition}; or guard the way by an interlock on {name}"
        ),
    };
    let mut finding = Finding::new(Code::Skip, message)
        .at(show.cue(cue).place)
        .also(show.cue(skipped).place, "with this cue skipped")
        .cue(number)
        .cue(passed)
        .axis(name)
        .time(pair.time)
        .against(pair.value, show.settings.margin)
        .fix(fix);
    for rig in pair.parties.iter().filter_map(|party| party.rig()) {
        finding = finding.rig(&show.rig(rig).name);
    }
    finding
}
