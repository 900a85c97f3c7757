//! What the lens of a move sees along it, for people.

use super::scene::Scene;
use crate::proof::plan::CuePlan;
use crate::show::{CueId, Show};
use crate::stage::{Look, Stage, look};

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

/// What the lens sees at so many even times of a move; nothing, where it is not aimed and moves no ring of a lens, or where nothing
/// is known of the lens.
pub fn seen(show: &Show, plans: &[CuePlan], id: CueId, index: usize, times: usize) -> Vec<Seen> {
    let (plan, written) = (&plans[id.index()], &show.cue(id).moves[index]);
    let step = &plan.moves[index];
    let lens = show.rig(written.rig).lens.as_ref();
    let mut rings = lens.iter().flat_map(|lens| [&lens.focus, &lens.zoom, &lens.iris]).flatten();
    let turns = rings.any(|ring| step.axes.iter().any(|path| path.axis == ring.axis && path.moves()));
    if !turns && written.aim.is_none() {
        return Vec::new();
    }
    let stage = Stage::new(show);
    let of = |aim| Scene::new((show, &stage), id, (written.rig, aim), &plan.start, plans);
    let scene = written.aim.as_ref().and_then(of);
    let mut pose = plan.start.clone();
    let mut frames = Vec::new();
    let even = |at: usize| step.delay + step.duration() * at as f64 / (times - 1) as f64;
    let looks = (0..times).map(even).filter_map(|time| {
        plan.pose_at(time, &mut pose);
        let point = scene.as_ref().map(|scene| {
            let mut slate = scene.slate();
            let point = scene.set(&plan.moves, time, &mut slate);
            // What it is tied to has moved what carries the lens, too.
            pose.copy_from_slice(&slate.pose);
            step.put(time, &mut pose);
            point
        });
        stage.frames(&pose, &mut frames);
        let look = look(show, written.rig, &pose, &frames)?;
        let on =
            |point| OnPoint { distance: look.sight.from.distance(point), off: look.sight.off(point).to_degrees() };
        Some(Seen { time, look, aimed: point.map(on) })
    });
    looks.collect()
}
