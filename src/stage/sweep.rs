//! How far a body can be from where it is, while its joints stray from where they are.
//!
//! Take the joints to their new places one after the other from the base to the tip. Each finds everything beyond it
//! as it was, only carried along as a whole. So a turn by δ displaces no point of the core by more than ρ·δ, ρ being the
//! farthest of the core from the axis; a slide displaces it by δ; a level turn by the radius of the point that it
//! turns, times δ. The sum bounds the displacement of every point, and so the change of any distance.
//!
//! Along one direction n the same goes more sharply: what matters to a plane across n that keeps two bodies apart is
//! how far either can come towards it. Here the joints go from the tip to the base, so that each turns about an axis
//! that still stands where it stood. A turn moves a point at r from its axis w by at most
//! |(n × w)·r|·δ + |n × w|·ρ·δ²/2 along n, where the joints beyond have lengthened r by no more than was found for them;
//! a slide along s moves it by |n·s|·δ. A wagon that rolls over a flush lift comes no nearer to it.

use glam::DVec3;

use super::carriers::{Carrier, Carries};
use super::frame::Frame;
use super::solid::{Line, Solid};

/// How far each axis may be from its place: by `AxisId`, in the axis's own unit.
#[derive(Clone, Copy, Debug)]
pub struct Strays<'a> {
    /// Over the interval that is looked at.
    pub motion: &'a [f64],
    /// What the start of a cue may be off.
    pub tolerance: &'a [f64],
}

/// A body where a pose has it, with what its joints can do to it.
#[derive(Clone, Debug)]
pub struct Sweep {
    pub solid: Solid,
    /// m, how far the motion of the interval can take any point of it.
    pub shift: f64,
    /// m, how far the tolerances can take any point of it.
    pub growth: f64,
    joints: Vec<Swing>,
}

/// One joint, from the tip.
#[derive(Clone, Copy, Debug)]
struct Swing {
    carries: Carries,
    line: Line,
    /// Of a level joint: from the line to the point that it turns.
    arm: DVec3,
    /// m, the farthest of the core from the line, or the length of the arm.
    radius: f64,
    motion: f64,
    tolerance: f64,
    /// m, what the joints beyond can do: by their tolerances alone, and with their motion.
    beyond: [f64; 2],
}

impl Sweep {
    /// `carriers` from base to tip, `frames` by `AxisId`.
    pub fn new(solid: Solid, carriers: &[Carrier], frames: &[Frame], strays: Strays) -> Sweep {
        let mut sweep = Sweep { solid, shift: 0.0, growth: 0.0, joints: Vec::with_capacity(carriers.len()) };
        sweep.lay(solid, carriers, frames, strays);
        sweep
    }

    /// The same, written over another look at the same body: takes no memory.
    pub fn lay(&mut self, solid: Solid, carriers: &[Carrier], frames: &[Frame], strays: Strays) {
        (self.solid, self.shift, self.growth) = (solid, 0.0, 0.0);
        self.joints.clear();
        for carrier in carriers.iter().rev() {
            let frame = &frames[carrier.axis.index()];
            let line = Line { origin: frame.origin, direction: frame.turn * carrier.direction };
            let motion = strays.motion[carrier.axis.index()] * carrier.scale;
            let tolerance = strays.tolerance[carrier.axis.index()] * carrier.scale;
            let (arm, radius) = match carrier.carries {
                Carries::Turned => (DVec3::ZERO, solid.core.farthest_from(&line)),
                Carries::Slid => (DVec3::ZERO, 0.0),
                Carries::Level(point) => {
                    let arm = frame.turn * point;
                    (arm, arm.reject_from_normalized(line.direction).length())
                }
            };
            let beyond = [self.growth, self.shift + self.growth];
            let swing = Swing { carries: carrier.carries, line, arm, radius, motion, tolerance, beyond };
            self.shift += swing.way(motion);
            self.growth += swing.way(tolerance);
            self.joints.push(swing);
        }
    }

    /// A body that nothing moves.
    pub fn still(solid: Solid) -> Sweep {
        Sweep { solid, shift: 0.0, growth: 0.0, joints: Vec::new() }
    }

    /// m, the farthest that the body can come along a unit vector, by motion and tolerance together.
    pub fn along(&self, direction: DVec3) -> f64 {
        let stray = |joint: &Swing| joint.motion + joint.tolerance;
        let far = self.joints.iter().map(|joint| joint.along(self, direction, stray(joint), joint.beyond[1]));
        far.sum::<f64>().min(self.shift + self.growth)
    }

    /// m, the same by motion alone, from where the pose has it.
    pub fn shift_along(&self, direction: DVec3) -> f64 {
        let beyond = |joint: &Swing| joint.beyond[1] - joint.beyond[0];
        let far = self.joints.iter().map(|joint| joint.along(self, direction, joint.motion, beyond(joint)));
        far.sum::<f64>().min(self.shift)
    }

    /// m, the same by tolerance alone, where the pose has it.
    pub fn growth_along(&self, direction: DVec3) -> f64 {
        self.joints.iter().map(|joint| joint.along(self, direction, joint.tolerance, joint.beyond[0])).sum()
    }
}

impl Swing {
    /// m, how far a stray of this joint takes any point of the body.
    fn way(&self, stray: f64) -> f64 {
        match self.carries {
            // Half a turn takes a point across the circle; further it cannot get.
            Carries::Turned | Carries::Level(_) => self.radius * stray.min(2.0),
            Carries::Slid => stray,
        }
    }

    fn along(&self, sweep: &Sweep, direction: DVec3, stray: f64, beyond: f64) -> f64 {
        if stray == 0.0 {
            return 0.0;
        }
        let across = direction.cross(self.line.direction);
        let bend = across.length() * stray * stray / 2.0;
        match self.carries {
            Carries::Turned => {
                let core = &sweep.solid.core;
                let lever = across.dot(core.centre() - self.line.origin).abs() + core.reach(across);
                (lever + across.length() * beyond) * stray + (self.radius + beyond) * bend
            }
            Carries::Slid => direction.dot(self.line.direction).abs() * stray,
            Carries::Level(_) => across.dot(self.arm).abs() * stray + self.radius * bend,
        }
    }
}

#[cfg(test)]
mod tests;
