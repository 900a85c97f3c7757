//! What the lens of a move sees along it, for people and for other programs.

use super::scene::Scene;
use crate::proof::plan::{CuePlan, MovePlan};
use crate::show::{CueId, RigId, Show};
use crate::stage::{Frame, Look, Stage, look};

/// At one time of a move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// s of the cue.
    pub time: f64,
    pub look: Look,
    /// Of a move that is aimed.
    pub aimed: Option<OnPoint>,
}

/// How the point is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnPoint {
    /// m, from the lens.
    pub distance: f64,
    /// Degrees from the optical axis.
    pub off: f64,
}

/// The lens of one move of a cue, to be looked through at any time of it.
pub struct Sightline<'a> {
    show: &'a Show,
    stage: &'a Stage,
    plan: &'a CuePlan,
    step: &'a MovePlan,
    /// Of a move that is aimed.
    scene: Option<Scene<'a>>,
    pose: Vec<f64>,
    frames: Vec<Frame>,
}

impl<'a> Sightline<'a> {
    /// Of the cue's move of that index. `None` where it is not aimed and moves no ring of a lens, or where nothing is known of
    /// the lens.
    pub fn of(
        (show, stage): (&'a Show, &'a Stage),
        plans: &'a [CuePlan],
        id: CueId,
        index: usize,
    ) -> Option<Sightline<'a>> {
        let (plan, written) = (&plans[id.index()], &show.cue(id).moves[index]);
        let step = &plan.moves[index];
        let lens = show.rig(written.rig).lens.as_ref()?;
        let mut rings = [&lens.focus, &lens.zoom, &lens.iris].into_iter().flatten();
        let turns = rings.any(|ring| step.axes.iter().any(|path| path.axis == ring.axis && path.moves()));
        if !turns && written.aim.is_none() {
            return None;
        }
        let of = |aim| Scene::new((show, stage), id, (written.rig, aim), &plan.start, plans);
        let scene = written.aim.as_ref().and_then(of);
        Some(Sightline { show, stage, plan, step, scene, pose: plan.start.clone(), frames: Vec::new() })
    }

    /// Whose lens it is.
    pub fn rig(&self) -> RigId {
        self.step.rig
    }

    /// Whether the lens is kept on a point.
    pub fn is_aimed(&self) -> bool {
        self.scene.is_some()
    }

    /// At `time` s of the cue.
    pub fn at(&mut self, time: f64) -> Option<Seen> {
        self.plan.pose_at(time, &mut self.pose);
        let point = self.scene.as_ref().map(|scene| {
            let mut slate = scene.slate();
            let point = scene.set(&self.plan.moves, time, &mut slate);
            // What it is tied to has moved what carries the lens, too.
            self.pose.copy_from_slice(&slate.pose);
            self.step.put(time, &mut self.pose);
            point
        });
        self.stage.frames(&self.pose, &mut self.frames);
        let look = look(self.show, self.step.rig, &self.pose, &self.frames)?;
        let on =
            |point| OnPoint { distance: look.sight.from.distance(point), off: look.sight.off(point).to_degrees() };
        Some(Seen { time, look, aimed: point.map(on) })
    }

    /// At so many even times of the move, from its beginning to its end.
    pub fn along(&mut self, times: usize) -> Vec<Seen> {
        let (delay, duration) = (self.step.delay, self.step.duration());
        let even = |at: usize| delay + duration * at as f64 / (times - 1) as f64;
        (0..times).filter_map(|at| self.at(even(at))).collect()
    }
}
