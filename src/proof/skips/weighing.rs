//! One cue, and the earlier ones that could be skipped.

use serde::{Deserialize, Serialize};

use super::{Loose, Rests};
use crate::proof::along::{look_along, moves_guarded, path_of};
use crate::proof::bodies::Stagehand;
use crate::proof::clearance::{Closest, Group, Other, clearance_of, keeps_margins};
use crate::proof::elsewhere::is_parted;
use crate::proof::memory::{Content, Memory};
use crate::proof::plan::{AxisPath, CuePlan, Plan};
use crate::show::{
    After, Atom, AtomId, AxisId, Condition, Cue, CueId, CueState, Interlock, InterlockId, Pair, RigId, Show, Truth,
};

/// Of one cue.
pub struct Weighing<'a> {
    pub hand: &'a Stagehand<'a>,
    pub plan: &'a Plan,
    pub cue: CueId,
    /// By `AxisId`: the cue that moved it last before this one.
    pub movers: &'a [Option<CueId>],
}

/// A skip that nothing written refuses.
struct Skip {
    skipped: CueId,
    /// The axes that it leaves elsewhere, at least one.
    left: Vec<AxisId>,
    /// By `AxisId`: where the cue would find everything.
    pose: Vec<f64>,
}

/// How near a cue comes to what a skip leaves elsewhere.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub enum Passes {
    /// Nearer than the margin.
    Short(Closest),
    /// It keeps the margin; in the list it passes there as near as only a pair lets it.
    Loose(Closest),
    Clear,
}

impl Weighing<'_> {
    pub fn all(&self, known: (&Content, &Memory)) -> (Vec<(CueId, Rests)>, Vec<Loose>) {
        let (mut rests_on, mut open, mut loose) = (Vec::new(), Vec::new(), Vec::new());
        // A skip of any other changes nothing for the cue, and is refused only by what refuses the cue in any case.
        let mut changes = self.named();
        changes.extend(self.movers.iter().flatten());
        changes.sort_unstable();
        changes.dedup();
        let in_any_case = self.needs_refuse(None, &self.planned().start);
        for skipped in self.hand.show.cue_ids().take_while(|&before| before < self.cue) {
            if changes.binary_search(&skipped).is_err() {
                rests_on.extend(in_any_case.then_some((skipped, Rests::Needs)));
                continue;
            }
            let left = self.left_by(skipped);
            let pose = self.pose_without(skipped, &left);
            match self.refused_by_writing(skipped, &left, &pose) {
                Some(rests) => rests_on.push((skipped, rests)),
                None if left.is_empty() => {}
                None => open.push(Skip { skipped, left, pose }),
            }
        }
        let passes = self.pass(&open, known);
        let mut bodies = self.hand.stage.bodies().iter();
        let parts = !open.is_empty() && bodies.any(|body| is_parted(self.hand.show, self.planned(), body));
        for (skip, passes) in open.into_iter().zip(passes) {
            let (skipped, stands) = (skip.skipped, |axis| (skip.skipped, Rests::Stands(axis)));
            match (passes, self.beyond_live_proof(&skip.left, parts)) {
                (Passes::Short(nearest), _) => rests_on.push((skipped, Rests::Near(nearest))),
                (Passes::Loose(_) | Passes::Clear, Some(axis)) => rests_on.push(stands(axis)),
                (Passes::Loose(found), None) => match self.loose(&skip, found) {
                    Some(found) => loose.push(found),
                    None => rests_on.extend(self.partner_of(&skip.left).map(stands)),
                },
                (Passes::Clear, None) => rests_on.extend(self.partner_of(&skip.left).map(stands)),
            }
        }
        rests_on.sort_by_key(|(on, _)| *on);
        (rests_on, loose)
    }

    fn planned(&self) -> &CuePlan {
        self.plan.cue(self.cue)
    }

    fn written(&self) -> &Cue {
        self.hand.show.cue(self.cue)
    }

    /// The cue that it follows.
    fn follows(&self) -> Option<CueId> {
        match self.written().after {
            Some(After::Start { cue, .. } | After::End { cue, .. }) => Some(cue),
            Some(After::When(_)) | None => None,
        }
    }

    /// What must be true at its GO.
    fn conditions(&self) -> impl Iterator<Item = &Condition> {
        let when = match self.written().after.as_ref() {
            Some(After::When(condition)) => Some(condition),
            Some(After::Start { .. } | After::End { .. }) | None => None,
        };
        self.written().needs.iter().chain(when)
    }

    /// The cues that it names.
    fn named(&self) -> Vec<CueId> {
        let show = self.hand.show;
        let named = |atom: AtomId| match show.atoms[atom.index()] {
            Atom::CueState { cue, .. } | Atom::CuePast { cue, .. } => Some(cue),
            Atom::Input(_) | Atom::Above { .. } | Atom::Below { .. } | Atom::Within { .. } | Atom::At { .. } => {
                None
            }
        };
        self.follows().into_iter().chain(self.conditions().flat_map(Condition::atoms).filter_map(named)).collect()
    }

    /// The axes that the skipped cue would have brought to where this one finds them, if that is elsewhere.
    fn left_by(&self, skipped: CueId) -> Vec<AxisId> {
        let (before, now) = (&self.plan.cue(skipped).start, &self.planned().start);
        let elsewhere =
            |axis: AxisId| (before[axis.index()] - now[axis.index()]).abs() > self.hand.show.axis(axis).tolerance;
        let moved = self.movers.iter().enumerate().filter(|(_, mover)| **mover == Some(skipped));
        moved.map(|(axis, _)| AxisId::new(axis)).filter(|&axis| elsewhere(axis)).collect()
    }

    /// By `AxisId`: where the cue would find everything.
    fn pose_without(&self, skipped: CueId, left: &[AxisId]) -> Vec<f64> {
        let mut pose = self.planned().start.clone();
        left.iter().for_each(|axis| pose[axis.index()] = self.plan.cue(skipped).start[axis.index()]);
        pose
    }

    /// What is written, or where its own rigs would stand, refuses the cue without the skipped one.
    fn refused_by_writing(&self, skipped: CueId, left: &[AxisId], pose: &[f64]) -> Option<Rests> {
        if self.follows() == Some(skipped) {
            return Some(Rests::Follows);
        }
        if self.needs_refuse(Some(skipped), pose) {
            return Some(Rests::Needs);
        }
        if let Some(&axis) = left.iter().find(|axis| path_of(self.planned(), **axis).is_some()) {
            return Some(Rests::Start(axis));
        }
        if let Some(axis) = self.not_begun_without(skipped) {
            return Some(Rests::Start(axis));
        }
        if left.is_empty() {
            return None;
        }
        self.interlock_refuses(skipped, pose).map(Rests::Interlock)
    }

    /// An axis of its own that the skipped cue leaves within its tolerance, but from where the curve that it is to follow would leave
    /// the travel: a GO refuses that as well.
    fn not_begun_without(&self, skipped: CueId) -> Option<AxisId> {
        let before = &self.plan.cue(skipped).start;
        let paths = self.planned().moves.iter().flat_map(|step| &step.axes);
        let left = paths.filter(|path| self.movers[path.axis.index()] == Some(skipped));
        let begun =
            |path: &&AxisPath| path.begun(self.hand.show.axis(path.axis), before[path.axis.index()]).is_some();
        left.filter(|path| !begun(path)).map(|path| path.axis).next()
    }

    fn moves_any(&self, of: impl Fn(RigId) -> bool) -> bool {
        self.planned().moves.iter().any(|step| !step.axes.is_empty() && of(step.rig))
    }

    /// Whether a joint carries bodies.
    fn counts(&self, axis: AxisId) -> bool {
        let mut bodies = self.hand.stage.bodies().iter();
        let rig = self.hand.show.axis(axis).rig;
        let carries = |top: RigId| self.hand.show.carriers(top).any(|carrier| carrier == rig);
        self.hand.show.axis(axis).joint.is_some() && bodies.any(|body| carries(body.rig))
    }

    /// One of these axes, of a rig that the cue moves or that rides with one; or any, of a cue whose rigs a stall `parts`.
    fn beyond_live_proof(&self, left: &[AxisId], parts: bool) -> Option<AxisId> {
        let show = self.hand.show;
        let rides = |axis: &AxisId| self.moves_any(|moved| show.same_carriage(moved, show.axis(*axis).rig));
        left.iter().copied().find(|axis| self.counts(*axis) && (parts || rides(axis)))
    }

    /// One of these axes, of a rig that a pair lets nearer to what the cue moves than the show's margin.
    fn partner_of(&self, left: &[AxisId]) -> Option<AxisId> {
        let show = self.hand.show;
        let carried_by = |top: RigId, rig: RigId| show.carriers(top).any(|carrier| carrier == rig);
        let lesser = || show.pairs.iter().filter(|pair| pair.margin < show.settings.margin);
        let meets = |[one, other]: [RigId; 2], rig: RigId| {
            carried_by(one, rig) && self.moves_any(|moved| carried_by(other, moved))
        };
        let partner = |axis: &AxisId| {
            let rig = show.axis(*axis).rig;
            lesser().any(|pair| meets(pair.rigs, rig) || meets([pair.rigs[1], pair.rigs[0]], rig))
        };
        left.iter().copied().find(|axis| self.counts(*axis) && partner(axis))
    }

    fn needs_refuse(&self, skipped: Option<CueId>, pose: &[f64]) -> bool {
        self.conditions().any(|needs| self.refuses(needs, skipped, pose))
    }

    /// Whether the condition is false at the GO, whatever the inputs say.
    fn refuses(&self, condition: &Condition, skipped: Option<CueId>, pose: &[f64]) -> bool {
        condition.judge(&|atom| self.truth(atom, skipped, pose)) == Truth::False
    }

    fn truth(&self, atom: AtomId, skipped: Option<CueId>, pose: &[f64]) -> Truth {
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
    fn ran(&self, cue: CueId, skipped: Option<CueId>) -> Truth {
        if cue < self.cue { Truth::of(Some(cue) != skipped) } else { Truth::Unknown }
    }

    fn interlock_refuses(&self, skipped: CueId, pose: &[f64]) -> Option<InterlockId> {
        let show = self.hand.show;
        let moves = |axis: AxisId| path_of(self.planned(), axis).is_some_and(|(_, path)| path.moves());
        let guards = |interlock: &Interlock| interlock.guards.iter().any(|guard| moves(guard.axis));
        if !show.interlocks.iter().any(guards) {
            return None;
        }
        let plan = CuePlan { start: pose.to_vec(), ..self.planned().clone() };
        let refuses = |interlock: &Interlock| {
            let (mut now, mut refused) = (pose.to_vec(), false);
            let mut look = |time: f64| {
                let guarded = || interlock.guards.iter().any(|&guard| moves_guarded(&plan, guard, time, 1.0));
                if !refused && (0.0..=plan.duration).contains(&time) && guarded() {
                    plan.pose_at(time, &mut now);
                    refused = self.refuses(&interlock.needs, Some(skipped), &now);
                }
            };
            look_along(show, &interlock.needs, &plan, [0.0, plan.duration], &mut look);
            refused
        };
        show.interlocks.iter().position(|interlock| guards(interlock) && refuses(interlock)).map(InterlockId::new)
    }

    /// How the cue passes what each of the skips leaves elsewhere; all of a cue are remembered together.
    fn pass(&self, skips: &[Skip], (machines, memory): (&Content, &Memory)) -> Vec<Passes> {
        if skips.is_empty() {
            return Vec::new();
        }
        let moved = self.hand.moved_rigs(self.planned());
        let content = machines.kind("skips").margins(self.hand.show, &moved).cue(self.planned());
        let content = skips.iter().fold(content, |content, skip| {
            let left = skip.left.iter().flat_map(|axis| [axis.index() as f64, skip.pose[axis.index()]]);
            content.also([skip.left.len() as f64]).also(left)
        });
        memory.skips(content, || skips.iter().map(|skip| self.passes(skip)).collect())
    }

    fn passes(&self, skip: &Skip) -> Passes {
        let (show, left) = (self.hand.show, &skip.left);
        let without = CuePlan { start: skip.pose.clone(), ..self.planned().clone() };
        let touched = |group: &Group| touches(show, group, left);
        if !keeps_margins(self.hand, &without, &touched) {
            let short = clearance_of(self.hand, &without, &touched).short;
            let nearest = short.iter().map(|short| short.closest).min_by(|a, b| a.value.total_cmp(&b.value));
            if let Some(nearest) = nearest {
                return Passes::Short(nearest);
            }
        }
        self.passes_loosely(left).map_or(Passes::Clear, Passes::Loose)
    }

    /// Where the cue passes a rig that is left elsewhere as near as only a pair lets it.
    fn passes_loosely(&self, left: &[AxisId]) -> Option<Closest> {
        let show = self.hand.show;
        let lets =
            |pair: &Pair| pair.margin < show.settings.margin && pair.rigs.iter().any(|&rig| rides(show, rig, left));
        if !show.pairs.iter().any(lets) {
            return None;
        }
        let lesser = |group: &Group| group.margin < show.settings.margin && matches!(group.other, Other::Rig(_));
        let found = clearance_of(self.hand, self.planned(), &|group| lesser(group) && touches(show, group, left));
        found.closest.filter(|closest| closest.value < show.settings.margin)
    }

    fn loose(&self, skip: &Skip, found: Closest) -> Option<Loose> {
        let rigs = found.parties.map(|party| party.rig());
        let axis = skip.left.iter().find(|axis| rigs.contains(&Some(self.hand.show.axis(**axis).rig)))?;
        let without = CuePlan { start: skip.pose.clone(), ..self.planned().clone() };
        let mut pose = skip.pose.clone();
        without.pose_at(found.time, &mut pose);
        Some(Loose { cue: self.cue, skipped: skip.skipped, pair: found, axis: *axis, pose })
    }
}

/// Whether a group is of a rig with one of these axes, or of one that rides with it.
fn touches(show: &Show, group: &Group, left: &[AxisId]) -> bool {
    rides(show, group.rig, left) || matches!(group.other, Other::Rig(other) if rides(show, other, left))
}

fn rides(show: &Show, rig: RigId, axes: &[AxisId]) -> bool {
    axes.iter().any(|&axis| show.same_carriage(show.axis(axis).rig, rig))
}
