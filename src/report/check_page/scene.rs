//! What is drawn of a finding: where everything stands at its instant, and between what the gap is.

use glam::DVec3;

use crate::proof::{CuePlan, Proof};
use crate::show::{Code, CueId, CueNumber, Finding, Keep, RigId, Show};
use crate::stage::{Frame, Solid, Stage, Strays, gap};

/// The stage at one instant.
pub struct Scene {
    /// Every body of the show, by `RigId`.
    pub bodies: Vec<(RigId, Solid)>,
    /// The rigs that the finding is of.
    pub rigs: Vec<RigId>,
    /// Where the two are nearest, if it is of a distance.
    pub gap: Option<Between>,
}

/// The nearest of what the finding is of, at that instant.
pub struct Between {
    /// Index into the bodies of the scene.
    pub body: usize,
    pub other: Other,
    /// m, of the bodies as they are drawn; 0 where they overlap.
    pub distance: f64,
    /// Where it is measured, on the surface of each.
    pub points: [DVec3; 2],
    /// From the first to the second, a unit vector; `None` where they meet.
    pub direction: Option<DVec3>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Other {
    /// Index into the bodies of the scene.
    Body(usize),
    /// Index into `Show::zones`.
    Zone(usize),
}

impl Between {
    pub fn middle(&self) -> DVec3 {
        (self.points[0] + self.points[1]) / 2.0
    }
}

/// `None` for a finding without an instant, or of no rig.
pub fn scene(show: &Show, proof: &Proof, stage: &Stage, finding: &Finding) -> Option<Scene> {
    let pose = pose(show, proof, finding)?;
    let rigs = rigs(show, finding);
    if rigs.is_empty() {
        return None;
    }
    let bodies = bodies(show, stage, &pose);
    let of_distance = matches!(finding.code, Code::Clearance | Code::Overlap | Code::Stall | Code::Skip);
    let gap = if of_distance { between(show, &bodies, &rigs) } else { None };
    let seen = bodies.iter().any(|(rig, _)| rigs.contains(rig));
    seen.then_some(Scene { bodies, rigs, gap })
}

/// The cues that a finding is of, as far as the show has them.
pub fn cues(show: &Show, finding: &Finding) -> Vec<CueId> {
    let known = |text: &String| text.parse::<CueNumber>().ok().and_then(|number| show.find_cue(&number));
    finding.cues.iter().filter_map(known).collect()
}

fn rigs(show: &Show, finding: &Finding) -> Vec<RigId> {
    let mut rigs: Vec<RigId> = Vec::new();
    for name in &finding.rigs {
        let known = show.rig_ids().find(|&rig| show.rig(rig).name == *name);
        rigs.extend(known.filter(|rig| !rigs.contains(rig)));
    }
    rigs
}

/// By `AxisId`: as the finding says; else the first cue at its time, from where the list has everything before it,
/// and the second at its own.
fn pose(show: &Show, proof: &Proof, finding: &Finding) -> Option<Vec<f64>> {
    let time = finding.time?;
    if finding.pose.is_some() {
        return finding.pose.clone();
    }
    let cues = cues(show, finding);
    let first = proof.plan.cue(*cues.first()?);
    let mut pose = first.start.clone();
    first.pose_at(time, &mut pose);
    if let (Some(&second), Some(other_time)) = (cues.get(1), finding.other_time) {
        lay_over(proof.plan.cue(second), other_time, &mut pose);
    }
    Some(pose)
}

fn lay_over(plan: &CuePlan, time: f64, pose: &mut [f64]) {
    let mut at = plan.start.clone();
    plan.pose_at(time, &mut at);
    for path in plan.moves.iter().flat_map(|step| &step.axes) {
        pose[path.axis.index()] = at[path.axis.index()];
    }
}

fn bodies(show: &Show, stage: &Stage, pose: &[f64]) -> Vec<(RigId, Solid)> {
    let mut frames: Vec<Frame> = Vec::new();
    stage.frames(pose, &mut frames);
    let none = vec![0.0; show.axes.len()];
    let strays = Strays { motion: &none, tolerance: &none };
    stage.bodies().iter().map(|body| (body.rig, stage.sweep(body, &frames, strays).solid)).collect()
}

/// Between the rigs of the finding, or its one rig and the zones that this must heed.
fn between(show: &Show, bodies: &[(RigId, Solid)], rigs: &[RigId]) -> Option<Between> {
    let mut nearest: Option<Between> = None;
    let mut take = |found: Between| {
        if nearest.as_ref().is_none_or(|known| found.distance < known.distance) {
            nearest = Some(found);
        }
    };
    let of_finding = || bodies.iter().enumerate().filter(|(_, (rig, _))| rigs.contains(rig));
    for (at, (rig, solid)) in of_finding() {
        for (other, (other_rig, other_solid)) in of_finding().filter(|(other, _)| *other > at) {
            if !show.same_carriage(*rig, *other_rig) {
                take(apart(at, solid, Other::Body(other), other_solid));
            }
        }
        for (index, zone) in show.zones.iter().enumerate().filter(|_| rigs.len() == 1) {
            match zone.keep {
                Keep::Out if zone.rigs.contains(rig) => {
                    take(apart(at, solid, Other::Zone(index), &Solid::upright(zone.min, zone.max)));
                }
                Keep::In if zone.rigs.contains(rig) => take(within(at, solid, index, zone.min, zone.max)),
                Keep::Out | Keep::In => {}
            }
        }
    }
    nearest
}

fn apart(body: usize, solid: &Solid, other: Other, other_solid: &Solid) -> Between {
    let gap = gap(solid, other_solid);
    let way = gap.direction.unwrap_or(DVec3::ZERO);
    let [from, to] = gap.points;
    let mut points = [from + way * solid.radius, to - way * other_solid.radius];
    if gap.distance <= 0.0 {
        points = [(points[0] + points[1]) / 2.0; 2];
    }
    Between { body, other, distance: gap.distance.max(0.0), points, direction: gap.direction }
}

/// To the nearest face of a zone that is to be kept in.
fn within(body: usize, solid: &Solid, zone: usize, min: DVec3, max: DVec3) -> Between {
    let faces = DVec3::AXES.into_iter().flat_map(|axis| [axis, -axis]).map(|normal| {
        let face = (min * normal).max(max * normal).dot(DVec3::ONE);
        let tip = solid.core.centre().dot(normal) + solid.reach(normal);
        (normal, face - tip, tip)
    });
    let (normal, inward, tip) = faces.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((DVec3::Z, f64::INFINITY, 0.0));
    let centre = solid.core.centre();
    let from = centre + normal * (tip - centre.dot(normal));
    let points = [from, from + normal * inward];
    Between { body, other: Other::Zone(zone), distance: inward.max(0.0), points, direction: Some(normal) }
}
