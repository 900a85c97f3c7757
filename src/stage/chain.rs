//! Joint chains: a pose of all axes to frames and bodies.

use glam::DVec3;

use super::carriers::{Carriage, Carrier};
use super::frame::Frame;
use super::shape::WorldShape;
use super::solid::Solid;
use super::sweep::{Strays, Sweep};
use crate::show::{Axis, AxisId, Displacement, Joint, JointKind, Metres, Radians, RigId, Shape, Show, Unit};

/// The chains of all rigs of a show.
#[derive(Clone, Debug)]
pub struct Stage {
    /// By `RigId`.
    chains: Vec<Chain>,
    /// Carriers before what rides on them.
    order: Vec<RigId>,
    axes: usize,
    bodies: Vec<Body>,
}

/// One body of one rig.
#[derive(Clone, Debug)]
pub struct Body {
    pub rig: RigId,
    /// The axis that it hangs on; `None` for a body on the base.
    pub axis: Option<AxisId>,
    /// Index into the bodies of the axis or of the base.
    pub index: usize,
    pub shape: Shape,
    /// Every joint that carries it, those of mounts included, base to tip.
    pub carriers: Vec<Carrier>,
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
        let chains: Vec<Chain> = show.rig_ids().map(|rig| Chain::new(show, rig)).collect();
        let bodies = bodies(&chains, &Carriage::new(show, &order));
        Stage { chains, order, axes: show.axes.len(), bodies }
    }

    /// Every body of the show: by `RigId`, the base first, then base to tip.
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// The frame in which the bodies of each axis hang, by `AxisId`, written over `frames`. `pose` holds a position
    /// for each axis of the show, by `AxisId`, in the axis's own unit.
    pub fn frames(&self, pose: &[f64], frames: &mut Vec<Frame>) {
        frames.clear();
        frames.resize(self.axes, Frame::WORLD);
        self.frames_of(&self.order, pose, frames);
    }

    /// The frames of these rigs alone, in their places in `frames`; those of what they ride on must be there, or
    /// come before them in `rigs`.
    pub fn frames_of(&self, rigs: &[RigId], pose: &[f64], frames: &mut [Frame]) {
        for rig in rigs {
            let chain = &self.chains[rig.index()];
            let mut along = Along::from(chain.base(frames));
            for link in &chain.links {
                frames[link.axis.index()] = along.pass(link, pose[link.axis.index()]);
            }
        }
    }

    /// Where the base of a rig is.
    pub fn base(&self, rig: RigId, frames: &[Frame]) -> Frame {
        self.chains[rig.index()].base(frames)
    }

    /// Carriers before what rides on them.
    pub fn order(&self) -> &[RigId] {
        &self.order
    }

    /// Every body of every rig, written over `placed`, in the order of [`Stage::bodies`]. `pose` as for
    /// [`Stage::frames`].
    pub fn place(&self, pose: &[f64], placed: &mut Vec<Placed>) {
        let mut frames = Vec::new();
        self.frames(pose, &mut frames);
        placed.clear();
        placed.extend(self.bodies.iter().map(|body| Placed {
            rig: body.rig,
            axis: body.axis,
            body: body.index,
            shape: WorldShape::new(&body.shape, &self.frame_of(body, &frames)),
        }));
    }

    /// A body where `frames` have it, and how far it may be from there.
    pub fn sweep(&self, body: &Body, frames: &[Frame], strays: Strays) -> Sweep {
        let solid = Solid::new(&body.shape, &self.frame_of(body, frames));
        Sweep::new(solid, &body.carriers, frames, strays)
    }

    /// The same, written over an earlier look at the same body: takes no memory.
    pub fn sweep_again(&self, body: &Body, frames: &[Frame], strays: Strays, sweep: &mut Sweep) {
        sweep.lay(Solid::new(&body.shape, &self.frame_of(body, frames)), &body.carriers, frames, strays);
    }

    fn frame_of(&self, body: &Body, frames: &[Frame]) -> Frame {
        body.axis.map_or_else(|| self.chains[body.rig.index()].base(frames), |axis| frames[axis.index()])
    }
}

/// All bodies: by `RigId`, the base first, then base to tip.
fn bodies(chains: &[Chain], carriage: &Carriage) -> Vec<Body> {
    let mut bodies = Vec::new();
    for (index, chain) in chains.iter().enumerate() {
        let mut hang = |axis: Option<AxisId>, shapes: &[Shape], carriers: &[Carrier]| {
            bodies.extend(shapes.iter().enumerate().map(|(at, shape)| Body {
                rig: RigId::new(index),
                axis,
                index: at,
                shape: shape.clone(),
                carriers: carriers.to_vec(),
            }));
        };
        hang(None, &chain.bodies, &carriage.bases[index]);
        for link in &chain.links {
            hang(Some(link.axis), &link.bodies, &carriage.axes[link.axis.index()]);
        }
    }
    bodies
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
