//! Which joints carry a frame, and how a point in it moves when one of them does.

use glam::DVec3;

use crate::show::{AxisId, Displacement, Joint, JointKind, Metres, Radians, RigId, Show, Unit};

/// A joint that carries a frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carrier {
    pub axis: AxisId,
    /// Unit vector in the frame of the axis.
    pub direction: DVec3,
    pub carries: Carries,
    /// Metres or radians a unit of the axis.
    pub scale: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Carries {
    /// Turned about the axis as a whole.
    Turned,
    /// Moved along it.
    Slid,
    /// Beyond a level joint: moved as this point of the axis's frame is, keeping its orientation.
    Level(DVec3),
}

/// The carriers of the frame of each axis, base to tip, by `AxisId`; and of the base of each rig, by `RigId`.
pub struct Carriage {
    pub axes: Vec<Vec<Carrier>>,
    pub bases: Vec<Vec<Carrier>>,
}

impl Carriage {
    /// `order` holds carriers before what rides on them.
    pub fn new(show: &Show, order: &[RigId]) -> Carriage {
        let mut carriage =
            Carriage { axes: vec![Vec::new(); show.axes.len()], bases: vec![Vec::new(); show.rigs.len()] };
        for &rig in order {
            let base = show.rig(rig).mount.map_or_else(Vec::new, |axis| carriage.axes[axis.index()].clone());
            carriage.bases[rig.index()].clone_from(&base);
            carriage.pass_links(show, rig, base);
        }
        carriage
    }

    /// The same way from base to tip as `chain::Along` goes.
    fn pass_links(&mut self, show: &Show, rig: RigId, base: Vec<Carrier>) {
        // What carries the orientation that the next joint has; and the level joint whose frame has its place.
        let mut level = base;
        let mut swung: Option<(AxisId, Joint, Unit)> = None;
        for id in show.rig(rig).axis_ids() {
            let axis = show.axis(id);
            let Some(joint) = &axis.joint else {
                self.axes[id.index()].clone_from(&level);
                continue;
            };
            if let Some((before, by, unit)) = swung.take() {
                level.push(carrier(before, &by, unit, Carries::Level(joint.at)));
            }
            let mut reached = level.clone();
            let carries = match joint.kind {
                JointKind::Turn => Carries::Turned,
                JointKind::Slide => Carries::Slid,
            };
            reached.push(carrier(id, joint, axis.unit, carries));
            self.axes[id.index()].clone_from(&reached);
            match (joint.kind, joint.level) {
                (JointKind::Turn, true) => swung = Some((id, joint.clone(), axis.unit)),
                (JointKind::Turn, false) | (JointKind::Slide, _) => level = reached,
            }
        }
    }
}

fn carrier(axis: AxisId, joint: &Joint, unit: Unit, carries: Carries) -> Carrier {
    let scale = match unit.displacement(1.0) {
        Displacement::Slide(Metres(scale)) | Displacement::Turn(Radians(scale)) => scale,
        Displacement::None => 0.0,
    };
    Carrier { axis, direction: joint.direction, carries, scale }
}
