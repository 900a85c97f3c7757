//! Rigs that stand elsewhere than the list leaves them, beside a cue that does not move them.
//!
//! The check knows nothing of them there. So the cue is proved live from where they stand, a portion each tick, as soon as
//! it is on standby or waits as a follow; what was ruled holds as long as they stand there, within tolerance and at rest.
//! While the cue runs they are held there as everything that stands is: one that leaves its place is a fault, and stops
//! all. A cue that would move one is weighed by its map against the path of the one that runs, as ever.
//!
//! Not of every rig can this be said. What the cue moves, what rides on that or carries it, and what moves with the rigs
//! of cues under way must be where their proofs have it; what a cue that comes before it is about to move will not stay.
//! Nor can it of the partner of a `[[pair]]` with a margin below the show's: why those two may come so near holds where
//! the list has them, and no clearance tells whether it holds elsewhere.

use super::readiness::Start;
use super::reason::Reason;
use super::refusal::Refusal;
use super::tick::Engine;
use crate::proof::{LiveProof, Plan, Standing, Verdict};
use crate::show::{AxisId, CueId, RigId, Show};

/// Pairs of bodies that a live proof may look at in a tick, and at once when a cue is put on standby or a follow is due.
const PORTION: usize = 1024;
const AT_ONCE: usize = 8192;

/// Live proofs: the one in work, and what was found of each cue.
#[derive(Clone, Debug)]
pub struct Rulings {
    proof: LiveProof,
    proving: Option<CueId>,
    /// By `CueId`.
    of: Vec<Ruling>,
    /// By `RigId`: whether it has bodies, or carries some.
    carries_bodies: Vec<bool>,
    /// By `RigId`, to write on: whether its bodies are elsewhere.
    elsewhere: Vec<bool>,
    /// By `AxisId`: they stand.
    strays: Vec<f64>,
}

#[derive(Clone, Debug)]
struct Ruling {
    /// By `RigId`, of those that stood elsewhere.
    beside: Vec<Verdict>,
    /// What it was proved from, by `AxisId`: where an axis stood elsewhere, or where the list has it.
    stands: Vec<f64>,
}

impl Rulings {
    pub fn new(show: &Show, plan: &Plan) -> Rulings {
        let has_bodies = |rig: RigId| {
            let rig = show.rig(rig);
            !rig.bodies.is_empty() || rig.axis_ids().any(|axis| !show.axis(axis).bodies.is_empty())
        };
        let carries = |rig: RigId| show.rig_ids().any(|top| has_bodies(top) && carried_by(show, top, rig));
        let ruling = Ruling { beside: vec![Verdict::Working; show.rigs.len()], stands: vec![0.0; show.axes.len()] };
        Rulings {
            proof: LiveProof::new(show),
            proving: None,
            of: vec![ruling; plan.cues.len()],
            carries_bodies: show.rig_ids().map(carries).collect(),
            elsewhere: vec![false; show.rigs.len()],
            strays: vec![0.0; show.axes.len()],
        }
    }
}

impl Rulings {
    /// Of a cue whose plan has become another.
    pub fn forget(&mut self, cue: CueId) {
        self.of[cue.index()].beside.fill(Verdict::Working);
        self.of[cue.index()].stands.fill(f64::NAN);
        if self.proving == Some(cue) {
            self.proving = None;
        }
    }
}

/// Whether a rig is another, or rides on it.
fn carried_by(show: &Show, top: RigId, rig: RigId) -> bool {
    show.carriers(top).any(|carrier| carrier == rig)
}

/// For eyes: a rig that stands elsewhere, which a cue is proved clear of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aside {
    /// The first of its axes that is off.
    pub axis: AxisId,
    pub expected: f64,
    pub measured: f64,
    /// m, that the cue stays away at least from all rigs that stand elsewhere.
    pub by: f64,
}

impl Engine {
    /// Rigs with bodies that the cue does not move must stand where the list leaves them, or where the cue is proved live,
    /// unless a cue that runs has them, or one that waits and comes before it in the list: those are looked at by their
    /// maps.
    pub(super) fn other_pose_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        for axis in self.axes_with_bodies().filter(|&axis| !self.is_taken(cue, axis)) {
            let Some(measured) = self.world.position(axis) else {
                refusal.push(Reason::PoseUnknown { axis });
                continue;
            };
            if !self.is_off(cue, axis) {
                continue;
            }
            let (expected, tolerance) = (self.listed_at(cue, axis), self.show.axis(axis).tolerance);
            let rig = self.show.axis(axis).rig;
            match self.ruled(cue, rig) {
                Verdict::Clear { .. } if self.world.rig_at_rest(&self.show, rig) => {}
                Verdict::Clear { .. } => refusal.push(Reason::NotStandingStill { axis }),
                Verdict::Near(approach) => {
                    // One cause, however many of its axes are off.
                    if self.first_off(cue, rig) == Some(axis) {
                        refusal.push(Reason::NearElsewhere { axis, expected, measured, approach });
                    }
                }
                Verdict::Working | Verdict::Unproved => {
                    refusal.push(Reason::OtherPose { axis, expected, measured, tolerance });
                }
            }
        }
    }

    /// Joints of rigs that have bodies, or carry some.
    pub(super) fn axes_with_bodies(&self) -> impl Iterator<Item = AxisId> + '_ {
        let carries = |axis: &AxisId| self.rulings.carries_bodies[self.show.axis(*axis).rig.index()];
        self.show.axis_ids().filter(move |axis| carries(axis) && self.show.axis(*axis).joint.is_some())
    }

    fn listed_at(&self, cue: CueId, axis: AxisId) -> f64 {
        self.plan.cue(cue).start[axis.index()]
    }

    fn measured_at(&self, axis: AxisId, position: f64) -> bool {
        let measured = self.world.position(axis);
        measured.is_some_and(|measured| (measured - position).abs() <= self.show.axis(axis).tolerance)
    }

    /// Whether an axis stands elsewhere than the list leaves it before the cue.
    fn is_off(&self, cue: CueId, axis: AxisId) -> bool {
        self.show.axis(axis).joint.is_some() && !self.measured_at(axis, self.listed_at(cue, axis))
    }

    fn first_off(&self, cue: CueId, rig: RigId) -> Option<AxisId> {
        self.show.rig(rig).axis_ids().find(|&axis| self.is_off(cue, axis))
    }

    /// Whether an axis is looked at by the maps: the cue's own, those of cues that run, and of those that wait, come before
    /// it in the list, and find it where they start.
    fn is_taken(&self, cue: CueId, axis: AxisId) -> bool {
        let runs = self.groups.members.iter().any(|member| self.owns(member.cue, axis));
        let mut waits = self.waits.iter().filter(|wait| wait.cue < cue && self.owns(wait.cue, axis));
        // What moves in hand is proved where it is.
        let by_hand = self.axis_moves_in_hand(axis);
        self.owns(cue, axis)
            || by_hand
            || runs
            || waits.any(|wait| self.measured_at(axis, self.listed_at(wait.cue, axis)))
    }

    /// Cues that move rigs while this one does, or are to before.
    fn company_of(&self, cue: CueId) -> impl Iterator<Item = CueId> + '_ {
        let running = self.groups.members.iter().map(|member| member.cue);
        let waiting = self.waits.iter().map(|wait| wait.cue);
        let before = self.standby.iter().map(|entry| entry.cue).take_while(move |&entry| entry != cue);
        running.chain(waiting).chain(before)
    }

    fn moves_of(&self, cue: CueId) -> impl Iterator<Item = RigId> + '_ {
        self.plan.cue(cue).moves.iter().filter(|step| !step.axes.is_empty()).map(|step| step.rig)
    }

    /// Whether a live proof can say anything of the rig beside this cue.
    fn may_stand_elsewhere(&self, cue: CueId, rig: RigId) -> bool {
        let show = &self.show;
        let rides = |moved: RigId| show.same_carriage(moved, rig);
        if self.moves_of(cue).any(rides) || self.company_of(cue).any(|other| self.moves_of(other).any(rides)) {
            return false;
        }
        if show.rig_ids().any(|other| rides(other) && self.moves_in_hand(other)) {
            return false;
        }
        let lesser = show.pairs.iter().filter(|pair| pair.margin < show.settings.margin);
        let meets = |[one, other]: [RigId; 2]| {
            carried_by(show, one, rig) && self.moves_of(cue).any(|moved| carried_by(show, other, moved))
        };
        !lesser.map(|pair| pair.rigs).any(|rigs| meets(rigs) || meets([rigs[1], rigs[0]]))
    }

    /// Whether the rig stands elsewhere than the list leaves it before the cue, and may.
    fn is_loose(&self, cue: CueId, rig: RigId) -> bool {
        let off = |axis: AxisId| self.is_off(cue, axis) && !self.is_taken(cue, axis);
        self.rulings.carries_bodies[rig.index()]
            && self.show.rig(rig).axis_ids().any(off)
            && self.may_stand_elsewhere(cue, rig)
    }

    /// Whether a rig, what it rides on and what rides on it stand where the cue was proved from, within tolerance.
    fn stands_as_ruled(&self, cue: CueId, rig: RigId) -> bool {
        let stands = &self.rulings.of[cue.index()].stands;
        let of_rig = |axis: &AxisId| self.show.same_carriage(self.show.axis(*axis).rig, rig);
        self.axes_with_bodies().filter(of_rig).all(|axis| self.measured_at(axis, stands[axis.index()]))
    }

    /// What was found of the cue beside a rig, and what rides on that, where they stand now.
    fn found_beside(&self, cue: CueId, rig: RigId) -> Verdict {
        if !self.stands_as_ruled(cue, rig) {
            return Verdict::Working;
        }
        let riders = self.show.rig_ids().filter(|&top| carried_by(&self.show, top, rig));
        let found = riders.map(|top| self.rulings.of[cue.index()].beside[top.index()]);
        found.reduce(Verdict::and).unwrap_or(Verdict::Working)
    }

    /// The same of a rig of which a live proof can still say something.
    fn ruled(&self, cue: CueId, rig: RigId) -> Verdict {
        if self.may_stand_elsewhere(cue, rig) { self.found_beside(cue, rig) } else { Verdict::Unproved }
    }

    /// Whether the whole of a cue was proved clear of a rig where that stands now.
    pub(super) fn is_proved_beside(&self, cue: CueId, rig: RigId) -> bool {
        matches!(self.found_beside(cue, rig), Verdict::Clear { .. })
    }

    /// Each tick: a portion of the proof that the first standby lacks, or else a later one or a follow.
    pub(super) fn work_on_live_proof(&mut self) {
        let from_top = |start: Start| matches!(start, Start::Top { .. });
        let standby = self.standby.iter().filter(|entry| from_top(entry.start)).map(|entry| entry.cue);
        let lacking = standby.chain(self.waits.iter().map(|wait| wait.cue)).find(|&cue| self.lacks_ruling(cue));
        if let Some(cue) = lacking {
            self.prove_live(cue, PORTION);
        }
    }

    /// As far as it can be told at once.
    pub(super) fn prove_at_once(&mut self, cue: CueId) {
        if self.lacks_ruling(cue) {
            self.prove_live(cue, AT_ONCE);
        }
    }

    /// Whether something stands elsewhere, all of it at rest, that the cue was not proved beside.
    fn lacks_ruling(&self, cue: CueId) -> bool {
        let mut lacks = false;
        for rig in self.show.rig_ids().filter(|&rig| self.is_loose(cue, rig)) {
            if !self.world.rig_at_rest(&self.show, rig) {
                return false;
            }
            lacks |= self.found_beside(cue, rig) == Verdict::Working;
        }
        lacks
    }

    fn prove_live(&mut self, cue: CueId, pairs: usize) {
        if self.rulings.proving != Some(cue) || !self.is_begun(cue) {
            self.begin_live_proof(cue);
        }
        let Rulings { proof, proving, of, .. } = &mut self.rulings;
        if proof.advance(&self.plan.cues[cue.index()], pairs) != Verdict::Working {
            let beside = of[cue.index()].beside.iter_mut().zip(self.show.rig_ids());
            beside.for_each(|(verdict, rig)| *verdict = proof.beside(rig));
            *proving = None;
        }
    }

    /// Whether the proof in work is of everything that stands elsewhere, where it stands now.
    fn is_begun(&self, cue: CueId) -> bool {
        let mut loose = self.show.rig_ids().filter(|&rig| self.is_loose(cue, rig));
        loose.all(|rig| self.rulings.elsewhere[rig.index()] && self.stands_as_ruled(cue, rig))
    }

    fn begin_live_proof(&mut self, cue: CueId) {
        for axis in self.show.axis_ids() {
            let loose = self.is_loose(cue, self.show.axis(axis).rig);
            // What stands right within its tolerance is taken to stand where the list has it, as in the check.
            let elsewhere = self.world.position(axis).filter(|_| loose && self.is_off(cue, axis));
            let stands = elsewhere.map_or(self.listed_at(cue, axis), |measured| self.held_at(axis, measured));
            self.rulings.of[cue.index()].stands[axis.index()] = stands;
        }
        for rig in self.show.rig_ids() {
            let elsewhere = self.show.carriers(rig).any(|carrier| self.is_loose(cue, carrier));
            self.rulings.elsewhere[rig.index()] = elsewhere;
        }
        self.rulings.of[cue.index()].beside.fill(Verdict::Working);
        self.rulings.proving = Some(cue);
        let Rulings { proof, of, elsewhere, strays, .. } = &mut self.rulings;
        let standing = Standing { at: &of[cue.index()].stands, strays, rigs: elsewhere };
        let plan = self.plan.cue(cue);
        proof.begin(&self.show, plan, [0.0, plan.duration], standing);
    }

    /// Where its drive holds an axis that stands, which is where the faults watch it; if it is there.
    fn held_at(&self, axis: AxisId, measured: f64) -> f64 {
        let setpoint = self.setpoints[axis.index()].position;
        if self.measured_at(axis, setpoint) { setpoint } else { measured }
    }

    /// Of a cue that may go: the first rig that stands elsewhere.
    pub(super) fn aside(&self, cue: CueId) -> Option<Aside> {
        let rig = self.show.rig_ids().find(|&rig| self.is_loose(cue, rig))?;
        let Verdict::Clear { by } = self.ruled(cue, rig) else { return None };
        let axis = self.first_off(cue, rig)?;
        Some(Aside { axis, expected: self.listed_at(cue, axis), measured: self.world.position(axis)?, by })
    }
}
