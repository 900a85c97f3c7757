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
/// and the second at its own. Of one cue with two times the first rig stands where the first has it, while all others
/// went on to the second.
fn pose(show: &Show, proof: &Proof, finding: &Finding) -> Option<Vec<f64>> {
    let time = finding.time?;
    if finding.pose.is_some() {
        return finding.pose.clone();
    }
    let cues = cues(show, finding);
    let first = proof.plan.cue(*cues.first()?);
    let mut pose = first.start.clone();
    first.pose_at(time, &mut pose);
    match (cues.get(1), finding.other_time) {
        (Some(&second), Some(other_time)) => lay_over(proof.plan.cue(second), other_time, &mut pose),
        (None, Some(other_time)) => {
            let stalled = pose.clone();
            first.pose_at(other_time, &mut pose);
            let axes = rigs(show, finding).first().map(|&rig| show.rig(rig).axis_ids());
            axes.into_iter().flatten().for_each(|axis| pose[axis.index()] = stalled[axis.index()]);
        }
        (_, None) => {}
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::prove;
    use crate::show;
    use std::path::Path;

    fn demo() -> Show {
        show::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show")).show.expect("the demo show reads")
    }

    fn name(show: &Show, stage: &Stage, body: usize) -> String {
        let body = &stage.bodies()[body];
        let on = body.axis.map_or("base", |axis| show.axis(axis).name.as_str());
        format!("{}/{on}/{}", show.rig(body.rig).name, body.index)
    }

    fn other_name(show: &Show, stage: &Stage, other: Other) -> String {
        match other {
            Other::Body(body) => name(show, stage, body),
            Other::Zone(zone) => format!("'{}'", show.zones[zone].name),
        }
    }

    /// With a margin that many cues break: the scene measures between the bodies that the finding names, and gets what
    /// it says, but for the start tolerances that the finding counts.
    #[test]
    fn a_scene_shows_the_bodies_and_the_distance_that_the_finding_tells() {
        let mut show = demo();
        show.settings.margin = 0.6;
        show.zones.iter_mut().for_each(|zone| zone.margin = 0.6);
        let (proof, stage) = (prove(&show), Stage::new(&show));
        let told = proof.findings.iter().filter(|finding| finding.code == Code::Clearance);
        let mut seen = 0;
        for finding in told {
            let scene = scene(&show, &proof, &stage, finding).expect("it has an instant");
            let gap = scene.gap.expect("it is of a distance");
            let value = finding.value.unwrap();
            assert!(
                gap.distance >= value - 1e-6 && gap.distance < value + 0.1,
                "{} {}",
                gap.distance,
                finding.message
            );
            for party in [name(&show, &stage, gap.body), other_name(&show, &stage, gap.other)] {
                assert!(finding.message.contains(&party), "{party}: {}", finding.message);
            }
            assert!((gap.points[0].distance(gap.points[1]) - gap.distance).abs() < 1e-9);
            seen += 1;
        }
        assert!(seen > 10, "{seen}");
    }

    #[test]
    fn of_two_cues_each_stands_at_its_own_time() {
        let mut show = demo();
        let falls = show.cue_ids().find(|&cue| show.cue(cue).name == "The lamp falls").unwrap();
        show.cues[falls.index()].needs = None;
        let (proof, stage) = (prove(&show), Stage::new(&show));
        let finding = proof.findings.iter().find(|finding| finding.code == Code::Overlap).unwrap();
        let scene = scene(&show, &proof, &stage, finding).unwrap();
        assert_eq!((finding.value, scene.gap.map(|gap| gap.distance)), (Some(0.0), Some(0.0)));
    }

    #[test]
    fn of_one_cue_with_two_times_the_stalled_rig_stands_at_the_first() {
        let show = demo();
        let (proof, stage) = (prove(&show), Stage::new(&show));
        let home = show.cue_ids().find(|&cue| show.cue(cue).name == "All home").unwrap();
        let rig = |name: &str| show.rig_ids().find(|&rig| show.rig(rig).name == name).unwrap();
        let at = |time: f64| bodies_at(&show, &proof, &stage, home, time);
        let mut finding = Finding::new(Code::Stall, "").cue("33").rig("heron").rig("skiff").time(5.0);
        finding.other_time = Some(9.0);
        let scene = scene(&show, &proof, &stage, &finding).unwrap();
        for (index, (of, solid)) in scene.bodies.iter().enumerate() {
            let time = if *of == rig("heron") { 5.0 } else { 9.0 };
            assert_eq!(*solid, at(time)[index].1, "{}", show.rig(*of).name);
        }
        assert_ne!(at(5.0), at(9.0));
    }

    fn bodies_at(show: &Show, proof: &Proof, stage: &Stage, cue: CueId, time: f64) -> Vec<(RigId, Solid)> {
        let mut pose = proof.plan.cue(cue).start.clone();
        proof.plan.cue(cue).pose_at(time, &mut pose);
        bodies(show, stage, &pose)
    }

    #[test]
    fn a_pose_of_its_own_is_taken_before_the_plan() {
        let show = demo();
        let (proof, stage) = (prove(&show), Stage::new(&show));
        let height = show.axis_ids().find(|&axis| show.axis_name(axis) == "tide.height").unwrap();
        let mut pose = proof.plan.cues[0].start.clone();
        let at_deck = Finding::new(Code::Skip, "").cue("1").rig("tide").rig("skiff").time(0.0).posed(pose.clone());
        pose[height.index()] -= 1.0;
        let below = Finding::new(Code::Skip, "").cue("1").rig("tide").rig("skiff").time(0.0).posed(pose);
        let distance = |finding| scene(&show, &proof, &stage, finding).unwrap().gap.unwrap().distance;
        assert!(distance(&below) > distance(&at_deck));
        let timeless = Finding::new(Code::Stall, "").cue("1").rig("tide");
        assert!(scene(&show, &proof, &stage, &timeless).is_none());
    }
}
