//! Where a lens and what it is kept on are at every instant of a cue.

use glam::DVec3;

use crate::proof::plan::{CuePlan, MovePlan};
use crate::show::{After, Aim, AimedAt, AxisId, CueId, RigId, Show};
use crate::stage::{Camera, Frame, Stage};

/// The cues that a cue is tied to by follows from a start, and how much later it starts than each, s; the first of them first.
/// The clock of each is known as long as this one runs, since all of them go at one rate.
pub fn tied(show: &Show, id: CueId) -> Vec<(CueId, f64)> {
    let mut tied = Vec::new();
    let (mut at, mut later) = (id, 0.0);
    while let Some(After::Start { cue, wait }) = &show.cue(at).after {
        if *cue >= at {
            // A chain that was found bad.
            break;
        }
        (at, later) = (*cue, later + wait);
        tied.push((at, later));
    }
    tied.reverse();
    tied
}

/// Every axis that carries the lens but for those that aim it, and every axis that carries what it is kept on.
pub fn carriers(show: &Show, rig: RigId, aim: &Aim) -> Vec<AxisId> {
    let joints = |rig: RigId| show.rig(rig).axis_ids().filter(|&axis| show.axis(axis).joint.is_some());
    let chain = |rig: RigId, tip: Option<AxisId>| -> Vec<AxisId> {
        let mut axes: Vec<AxisId> =
            tip.map_or_else(Vec::new, |tip| joints(rig).filter(|&axis| axis <= tip).collect());
        let mut at = rig;
        while let Some(mount) = show.rig(at).mount {
            at = show.axis(mount).rig;
            axes.extend(joints(at).filter(|&axis| axis <= mount));
        }
        axes
    };
    let mut axes = chain(rig, show.rig(rig).axis_ids().last());
    axes.retain(|axis| !aim.axes.contains(axis));
    if let AimedAt::Body { rig, axis, .. } = aim.at {
        axes.extend(chain(rig, axis));
    }
    axes
}

/// The cues that a cue is tied to and that move what it aims at, or its lens: they must keep one rate.
pub fn leans_on(show: &Show, plans: &[CuePlan], id: CueId) -> Vec<CueId> {
    let aims = show.cue(id).moves.iter().filter_map(|step| step.aim.as_ref().map(|aim| (step.rig, aim)));
    let carriers: Vec<AxisId> = aims.flat_map(|(rig, aim)| carriers(show, rig, aim)).collect();
    let leaders = tied(show, id).into_iter().map(|(leader, _)| leader);
    let moves = |leader: &CueId| {
        let moved = plans.get(leader.index()).map_or_else(Vec::new, CuePlan::moved_axes);
        carriers.iter().any(|axis| moved.get(axis.index()) == Some(&true))
    };
    leaders.filter(moves).collect()
}

/// One cue, seen from the lens of one of its moves.
pub struct Scene<'a> {
    pub show: &'a Show,
    pub stage: &'a Stage,
    pub camera: Camera,
    pub aim: &'a Aim,
    /// What is known of the cue: its start, and its other moves.
    pub start: &'a [f64],
    /// Those that it is tied to, and how much later it starts.
    pub tied: Vec<(&'a CuePlan, f64)>,
    /// What carries the point, carriers first.
    rigs: Vec<RigId>,
}

/// What is written on while a scene is looked at.
pub struct Slate {
    pub pose: Vec<f64>,
    pub frames: Vec<Frame>,
}

impl<'a> Scene<'a> {
    /// `earlier` holds the plans of the cues before this one. `None` where the rig has nothing to aim by.
    pub fn new(
        (show, stage): (&'a Show, &'a Stage),
        id: CueId,
        (rig, aim): (RigId, &'a Aim),
        start: &'a [f64],
        earlier: &'a [CuePlan],
    ) -> Option<Scene<'a>> {
        let mut rigs: Vec<RigId> = match aim.at {
            AimedAt::Point(_) => Vec::new(),
            AimedAt::Body { rig, .. } => show.carriers(rig).collect(),
        };
        rigs.reverse();
        let tied = tied(show, id).into_iter();
        let tied = tied.filter_map(|(cue, later)| earlier.get(cue.index()).map(|plan| (plan, later))).collect();
        Some(Scene { show, stage, camera: Camera::new(show, rig, aim.axes)?, aim, start, tied, rigs })
    }

    pub fn slate(&self) -> Slate {
        Slate { pose: self.start.to_vec(), frames: vec![Frame::WORLD; self.show.axes.len()] }
    }

    /// Everything at `time` s of the cue but the axes that aim, which are left as they are; and where the point is, m.
    pub fn set(&self, moves: &[MovePlan], time: f64, slate: &mut Slate) -> DVec3 {
        let kept = self.camera.axes.map(|axis| slate.pose[axis.index()]);
        slate.pose.copy_from_slice(self.start);
        for (plan, later) in &self.tied {
            plan.moves.iter().for_each(|step| step.put(time + later, &mut slate.pose));
        }
        moves.iter().for_each(|step| step.put(time, &mut slate.pose));
        self.camera.axes.iter().zip(kept).for_each(|(axis, at)| slate.pose[axis.index()] = at);
        match self.aim.at {
            AimedAt::Point(point) => point,
            AimedAt::Body { rig, axis, point } => {
                self.stage.frames_of(&self.rigs, &slate.pose, &mut slate.frames);
                let frame = match axis {
                    Some(axis) => slate.frames[axis.index()],
                    None => self.stage.base(rig, &slate.frames),
                };
                frame.carry(point)
            }
        }
    }
}
