//! Joint chains: a pose of all axes to frames and bodies.

use glam::DVec3;

use super::frame::Frame;
use super::shape::WorldShape;
use crate::show::{Axis, AxisId, Displacement, Joint, JointKind, Metres, Radians, RigId, Shape, Show, Unit};

/// The chains of all rigs of a show.
#[derive(Clone, Debug)]
pub struct Stage {
    /// By `RigId`.
    chains: Vec<Chain>,
    /// Carriers before what rides on them.
    order: Vec<RigId>,
    axes: usize,
}

/// One body of one rig, where a pose puts it.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    pub rig: RigId,
    /// The axis that it hangs on; `None` for a body on the base.
    pub axis: Option<AxisId>,
    /// Index into the bodies of the axis or of the base.
    pub body: usize,
    pub shape: WorldShape,
}

#[derive(Clone, Debug)]
struct Chain {
    at: DVec3,
    /// Radians about z.
    facing: f64,
    mount: Option<AxisId>,
    bodies: Vec<Shape>,
    links: Vec<Link>,
}

#[derive(Clone, Debug)]
struct Link {
    axis: AxisId,
    unit: Unit,
    joint: Option<Joint>,
    bodies: Vec<Shape>,
}

impl Stage {
    pub fn new(show: &Show) -> Stage {
        let mut order: Vec<RigId> = show.rig_ids().collect();
        // A chain of carriers longer than there are rigs would be a ring, which no show that was read has.
        order.sort_by_key(|&rig| show.carriers(rig).take(show.rigs.len() + 1).count());
        let chains = show.rig_ids().map(|rig| Chain::new(show, rig)).collect();
        Stage { chains, order, axes: show.axes.len() }
    }

    /// The frame in which the bodies of each axis hang, by `AxisId`, written over `frames`. `pose` holds a position
    /// for each axis of the show, by `AxisId`, in the axis's own unit.
    pub fn frames(&self, pose: &[f64], frames: &mut Vec<Frame>) {
        frames.clear();
        frames.resize(self.axes, Frame::WORLD);
        for rig in &self.order {
            let chain = &self.chains[rig.index()];
            let mut along = Along::from(chain.base(frames));
            for link in &chain.links {
                frames[link.axis.index()] = along.pass(link, pose[link.axis.index()]);
            }
        }
    }

    /// Every body of every rig, written over `placed`: by `RigId`, the base first, then base to tip. `pose` as for
    /// [`Stage::frames`].
    pub fn place(&self, pose: &[f64], placed: &mut Vec<Placed>) {
        let mut frames = Vec::new();
        self.frames(pose, &mut frames);
        placed.clear();
        for (index, chain) in self.chains.iter().enumerate() {
            let rig = RigId::new(index);
            let base = chain.base(&frames);
            placed.extend(hang(rig, None, &chain.bodies, base));
            for link in &chain.links {
                placed.extend(hang(rig, Some(link.axis), &link.bodies, frames[link.axis.index()]));
            }
        }
    }
}

fn hang(rig: RigId, axis: Option<AxisId>, bodies: &[Shape], frame: Frame) -> impl Iterator<Item = Placed> + '_ {
    bodies.iter().enumerate().map(move |(body, shape)| Placed {
        rig,
        axis,
        body,
        shape: WorldShape::new(shape, &frame),
    })
}

impl Chain {
    fn new(show: &Show, rig: RigId) -> Chain {
        let rig = show.rig(rig);
        Chain {
            at: rig.at,
            facing: rig.facing.to_radians(),
            mount: rig.mount,
            bodies: rig.bodies.clone(),
            links: rig.axis_ids().map(|axis| Link::new(axis, show.axis(axis))).collect(),
        }
    }

    /// `frames` must hold that of the mounting axis.
    fn base(&self, frames: &[Frame]) -> Frame {
        let ground = self.mount.map_or(Frame::WORLD, |axis| frames[axis.index()]);
        ground.moved(self.at).turned(DVec3::Z, self.facing)
    }
}

impl Link {
    fn new(id: AxisId, axis: &Axis) -> Link {
        Link { axis: id, unit: axis.unit, joint: axis.joint.clone(), bodies: axis.bodies.clone() }
    }
}

/// On the way from base to tip.
struct Along {
    /// Where the next joint's place is measured.
    reach: Frame,
    /// What the next joint and all after it are oriented by; differs from `reach` just after a level joint.
    level: Frame,
}

impl From<Frame> for Along {
    fn from(base: Frame) -> Along {
        Along { reach: base, level: base }
    }
}

impl Along {
    /// Goes over one link; gives the frame in which its bodies hang.
    fn pass(&mut self, link: &Link, position: f64) -> Frame {
        let Some(joint) = &link.joint else { return self.level };
        let before = Frame { turn: self.level.turn, origin: self.reach.carry(joint.at) };
        let reached = match (joint.kind, link.unit.displacement(position)) {
            (JointKind::Turn, Displacement::Turn(Radians(angle))) => before.turned(joint.direction, angle),
            (JointKind::Slide, Displacement::Slide(Metres(way))) => before.moved(joint.direction * way),
            // The reader of show files refuses a joint that does not suit its unit.
            (JointKind::Turn, Displacement::Slide(_) | Displacement::None)
            | (JointKind::Slide, Displacement::Turn(_) | Displacement::None) => before,
        };
        self.reach = reached;
        self.level = if joint.level { Frame { turn: before.turn, ..reached } } else { reached };
        reached
    }
}

#[cfg(test)]
mod tests;
