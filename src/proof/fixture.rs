//! Cues made by hand and looked at by sampling, for the tests of this room.

use super::plan::{AxisPath, CuePlan, MovePlan};
use crate::motion::Profile;
use crate::show::{RigId, Show};
use crate::stage::{Stage, Strays, gap};

/// A cue of `time` s that takes every axis from `from` to `to`, each rig by itself.
pub fn plan(show: &Show, time: f64, from: &[f64], to: &[f64]) -> CuePlan {
    let step = |rig: RigId| MovePlan {
        rig,
        delay: 0.0,
        profile: Profile::idle(time),
        axes: show
            .rig(rig)
            .axis_ids()
            .map(|axis| AxisPath::straight(axis, from[axis.index()], to[axis.index()]))
            .collect(),
        passes: Vec::new(),
    };
    let moves = show.rig_ids().map(step).collect();
    CuePlan { duration: time, start: from.to_vec(), end: to.to_vec(), moves, ..CuePlan::EMPTY }
}

/// The least distance of bodies of different rigs at a pose.
pub fn sampled(show: &Show, stage: &Stage, pose: &[f64]) -> f64 {
    let none = vec![0.0; pose.len()];
    let mut frames = Vec::new();
    stage.frames(pose, &mut frames);
    let strays = Strays { motion: &none, tolerance: &none };
    let sweeps: Vec<_> = stage.bodies().iter().map(|body| (body.rig, stage.sweep(body, &frames, strays))).collect();
    let mut least = f64::INFINITY;
    for (index, (rig, a)) in sweeps.iter().enumerate() {
        for (other, b) in &sweeps[..index] {
            if !show.same_carriage(*rig, *other) {
                least = least.min(gap(&a.solid, &b.solid).distance.max(0.0));
            }
        }
    }
    least
}
