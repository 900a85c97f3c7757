//! What of a cue a rehearsal proves: two versions of a cue with the same fingerprint run alike.
//!
//! It knows rigs, axes and cues by their names, and takes nothing from the rest of the list but where that leaves what
//! the cue moves. So an edit elsewhere, however it shifts the list, leaves the fingerprint as it was.

use sha2::{Digest, Sha256};

use crate::proof::plan::CuePlan;
use crate::show::{After, CueId, RigId, Show, spelt_whole};

/// SHA-256 of each part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fingerprint {
    /// Where its rigs start, their ways and times: whatever marks and earlier cues make of them.
    path: [u8; 32],
    /// The rigs that it moves and those that carry them: where they stand, survey, limits, tolerances, bodies.
    rigs: [u8; 32],
    /// What starts it, what it needs, and the interlocks that guard what it moves.
    conditions: [u8; 32],
}

/// What differs between two fingerprints.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    Path,
    Rigs,
    Conditions,
}

impl Part {
    /// For scripts.
    pub fn word(self) -> &'static str {
        match self {
            Part::Path => "path",
            Part::Rigs => "rigs",
            Part::Conditions => "conditions",
        }
    }
}

impl Fingerprint {
    /// Of a cue as it is planned.
    pub fn of(show: &Show, id: CueId, plan: &CuePlan) -> Fingerprint {
        let rigs = with_carriers(show, plan);
        let path = path(show, plan, &rigs);
        Fingerprint {
            path: digest(&path),
            rigs: digest(&survey(show, &rigs)),
            conditions: digest(&conditions(show, id, plan)),
        }
    }

    /// In which parts the two differ; nothing if they are equal.
    pub fn parts_beside(&self, other: &Fingerprint) -> Vec<Part> {
        let parts = [
            (Part::Path, self.path == other.path),
            (Part::Rigs, self.rigs == other.rigs),
            (Part::Conditions, self.conditions == other.conditions),
        ];
        parts.into_iter().filter(|(_, same)| !same).map(|(part, _)| part).collect()
    }
}

fn digest(words: &[String]) -> [u8; 32] {
    let mut hasher = Sha256::new();
    for word in words {
        hasher.update((word.len() as u64).to_le_bytes());
        hasher.update(word);
    }
    hasher.finalize().into()
}

/// To a billionth: sums of the same numbers in another order count as the same.
fn number(value: f64) -> String {
    format!("{:.9}", (value * 1e9).round() / 1e9 + 0.0)
}

/// By their names, so that the order of files does not count.
fn with_carriers(show: &Show, plan: &CuePlan) -> Vec<RigId> {
    let mut rigs: Vec<RigId> = plan.moves.iter().flat_map(|step| show.carriers(step.rig)).collect();
    rigs.sort_by_key(|&rig| &show.rig(rig).name);
    rigs.dedup();
    rigs
}

fn path(show: &Show, plan: &CuePlan, rigs: &[RigId]) -> Vec<String> {
    let mut words = Vec::new();
    for axis in rigs.iter().flat_map(|&rig| show.rig(rig).axis_ids()) {
        words.push(format!("{} {}", show.axis_name(axis), number(plan.start[axis.index()])));
    }
    for step in &plan.moves {
        words.push(format!("{} after {}", show.rig(step.rig).name, number(step.delay)));
        // The breaks of a profile tell all of it.
        words.extend(step.profile.breaks().map(number));
        for path in &step.axes {
            words.push(format!("{} to {}", show.axis_name(path.axis), number(path.to)));
            // Where a curve is at its changes of jerk tells all of it.
            let knots = path.curve.iter().flat_map(|curve| curve.knots());
            words.extend(knots.flat_map(|knot| [number(knot.time), number(knot.state.position)]));
        }
    }
    words
}

fn survey(show: &Show, rigs: &[RigId]) -> Vec<String> {
    let mut words = Vec::new();
    for rig in rigs.iter().map(|&rig| show.rig(rig)) {
        let mount = rig.mount.map(|axis| show.axis_name(axis));
        words.push(format!("{:?}", (&rig.name, rig.at, rig.facing, mount, &rig.bodies)));
        words.push(format!("{:?}", (rig.stop_category, rig.link_timeout)));
        for axis in rig.axis_ids().map(|id| show.axis(id)) {
            words.push(format!("{:?}", (&axis.name, axis.unit, axis.reach(), axis.run, axis.stop, axis.tolerance)));
            words.push(format!("{:?}", (axis.lag_limit, axis.gravity, &axis.joint, &axis.bodies)));
            if !axis.surveyed {
                words.push("not surveyed".to_owned());
            }
        }
    }
    words
}

fn conditions(show: &Show, id: CueId, plan: &CuePlan) -> Vec<String> {
    let cue = show.cue(id);
    let after = match &cue.after {
        None => "a GO".into(),
        Some(After::Start { cue, wait }) => format!("{wait} after the start of {}", show.number_of(*cue)),
        Some(After::End { cue, wait }) => format!("{wait} after the end of {}", show.number_of(*cue)),
        Some(After::When(condition)) => spelt_whole(show, condition),
    };
    let needs = cue.needs.as_ref().map(|needs| spelt_whole(show, needs));
    let mut words = vec![after, format!("{needs:?} {:?}", cue.on_link_loss)];
    let owned = |axis| plan.moves.iter().any(|step| step.axes.iter().any(|path| path.axis == axis));
    for interlock in &show.interlocks {
        for guard in interlock.guards.iter().filter(|guard| owned(guard.axis)) {
            words.push(format!("{} {:?}", show.axis_name(guard.axis), guard.direction));
            words.push(format!("{} {:?}", spelt_whole(show, &interlock.needs), interlock.otherwise));
        }
    }
    words
}
