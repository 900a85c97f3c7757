//! A lens at the end of a chain of joints: where it looks from and which way, and how the two axes that aim it must stand so
//! that a point lies on its optical axis.
//!
//! The two axes may be any two turns of any chain, off each other's middle and off the lens. So their positions are found by
//! the method of Gauss and Newton on the angle between the optical axis and the point, with the exact derivatives of a turn
//! (the velocity of a point that turns about an axis: ω × r). It ends within a few steps, to the last digits.

use glam::DVec3;

use super::chain::Stage;
use super::frame::Frame;
use crate::show::{AxisId, Lens, RigId, Show};

/// m; a point nearer to the lens than this has no direction.
pub const NEAREST: f64 = 0.01;
/// The sine of the least angle between what is looked at and the first of the axes: nearer to it, that one turns without end.
const POLE: f64 = 0.01;
/// Radians; a step goes no farther.
const STEP: f64 = 0.5;
/// Radians; so little off the point is on it.
const THERE: f64 = 1e-11;
const STEPS: usize = 60;
/// Times that a step is cut to a third.
const CUTS: usize = 8;
/// Places of each axis that a search for all ways begins at.
const PLACES: i32 = 6;

/// A camera, or whatever else looks one way.
#[derive(Clone, Debug)]
pub struct Camera {
    /// The rig, after what it rides on.
    rigs: Vec<RigId>,
    /// Pan and tilt, whatever they are called.
    pub axes: [AxisId; 2],
    /// Of each, its direction in its own frame, and its unit in radians.
    turns: [(DVec3, f64); 2],
    last: AxisId,
    lens: Lens,
}

/// Where a camera looks from, and which way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    pub from: DVec3,
    /// Unit vector.
    pub along: DVec3,
}

impl Sight {
    /// Radians between the optical axis and a point.
    pub fn off(&self, point: DVec3) -> f64 {
        let to = point - self.from;
        libm::atan2(self.along.cross(to).length(), self.along.dot(to))
    }
}

/// Why a camera cannot be aimed at a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Astray {
    /// It is where the lens is.
    AtLens,
    /// It lies in line with the first of the axes that aim.
    Pole,
    /// No position of the two looks there.
    Blind,
}

impl Camera {
    /// `None` where the axes are none that turn.
    pub fn new(show: &Show, rig: RigId, axes: [AxisId; 2]) -> Option<Camera> {
        let turn = |axis: AxisId| {
            let (joint, unit) = (show.axis(axis).joint.as_ref()?, show.axis(axis).unit);
            Some((joint.direction, std::f64::consts::TAU / unit.whole_turn()?))
        };
        let mut rigs: Vec<RigId> = show.carriers(rig).collect();
        rigs.reverse();
        Some(Camera {
            rigs,
            axes,
            turns: [turn(axes[0])?, turn(axes[1])?],
            last: show.rig(rig).axis_ids().last()?,
            lens: show.rig(rig).lens.clone().unwrap_or(Lens::PLAIN),
        })
    }

    /// Where it looks in a pose; `frames` is written over for its rig and what that rides on.
    pub fn sight(&self, stage: &Stage, pose: &[f64], frames: &mut [Frame]) -> Sight {
        stage.frames_of(&self.rigs, pose, frames);
        self.sight_in(frames)
    }

    fn sight_in(&self, frames: &[Frame]) -> Sight {
        Sight::of(&self.lens, &frames[self.last.index()])
    }

    /// Turns the two axes in `pose` from where they stand until a point lies on the optical axis.
    ///
    /// # Errors
    /// Why they cannot; `pose` is then left somewhere.
    pub fn aim(
        &self,
        stage: &Stage,
        pose: &mut [f64],
        frames: &mut [Frame],
        point: DVec3,
    ) -> Result<Sight, Astray> {
        let mut sight = self.sight(stage, pose, frames);
        for _ in 0..STEPS {
            if sight.from.distance(point) < NEAREST {
                return Err(Astray::AtLens);
            }
            let step = self.step(frames, &sight, point)?;
            if sight.off(point) < THERE {
                return Ok(sight);
            }
            sight = self.nearer(stage, pose, frames, (&sight, point), step).ok_or(Astray::Blind)?;
        }
        Err(Astray::Blind)
    }

    /// Goes a step, or as much of it as brings the optical axis nearer to the point.
    fn nearer(
        &self,
        stage: &Stage,
        pose: &mut [f64],
        frames: &mut [Frame],
        (sight, point): (&Sight, DVec3),
        step: [f64; 2],
    ) -> Option<Sight> {
        let before = self.axes.map(|axis| pose[axis.index()]);
        let mut share = (STEP / step[0].abs().max(step[1].abs())).min(1.0);
        for _ in 0..CUTS {
            for which in [0, 1] {
                pose[self.axes[which].index()] = before[which] + share * step[which] / self.turns[which].1;
            }
            let next = self.sight(stage, pose, frames);
            if next.off(point) < sight.off(point) {
                return Some(next);
            }
            share /= 3.0;
        }
        None
    }

    /// The step of Gauss and Newton, radians.
    fn step(&self, frames: &[Frame], sight: &Sight, point: DVec3) -> Result<[f64; 2], Astray> {
        let to = point - sight.from;
        let (distance, to) = (to.length(), to.normalize());
        // Zero where the point lies on the optical axis, before the lens or behind it: there any step is as good.
        let miss = sight.along.cross(to);
        let behind = sight.along.dot(to) < 0.0 && miss.length() < 1e-3;
        let slopes = [0, 1].map(|which| {
            let frame = frames[self.axes[which].index()];
            let about = frame.turn * self.turns[which].0;
            let moved = about.cross(sight.from - frame.origin);
            let swung = -(moved - to * to.dot(moved)) / distance;
            about.cross(sight.along).cross(to) + sight.along.cross(swung)
        });
        let [a, b, c] = [slopes[0].dot(slopes[0]), slopes[0].dot(slopes[1]), slopes[1].dot(slopes[1])];
        let determinant = a * c - b * b;
        if behind {
            return Ok([STEP, STEP]);
        }
        if determinant <= (POLE * POLE) * c.max(a) * c.max(a) {
            return Err(Astray::Pole);
        }
        let [r, s] = slopes.map(|slope| -slope.dot(miss));
        Ok([(c * r - b * s) / determinant, (a * s - b * r) / determinant])
    }

    /// All that a point can be looked at by, whole turns apart left out: positions of the two axes. Most heads have two, of
    /// which one lies over the top.
    ///
    /// # Errors
    /// Why there is none.
    pub fn ways(
        &self,
        stage: &Stage,
        pose: &[f64],
        frames: &mut [Frame],
        point: DVec3,
    ) -> Result<Vec<[f64; 2]>, Astray> {
        let mut ways: Vec<[f64; 2]> = Vec::new();
        let mut astray = Astray::Blind;
        let mut pose = pose.to_vec();
        let starts = |which: usize| {
            let turn = std::f64::consts::TAU / self.turns[which].1;
            (0..PLACES).map(move |place| f64::from(place) * turn / f64::from(PLACES))
        };
        for pan in starts(0) {
            for tilt in starts(1) {
                self.axes.iter().zip([pan, tilt]).for_each(|(axis, at)| pose[axis.index()] = at);
                match self.aim(stage, &mut pose, frames, point) {
                    Ok(_) => {
                        let found = self.axes.map(|axis| pose[axis.index()]);
                        if !ways.iter().any(|way| self.same(*way, found)) {
                            ways.push(found);
                        }
                    }
                    Err(why @ (Astray::AtLens | Astray::Pole)) => astray = why,
                    Err(Astray::Blind) => {}
                }
            }
        }
        if ways.is_empty() { Err(astray) } else { Ok(ways) }
    }

    /// But for whole turns.
    fn same(&self, one: [f64; 2], other: [f64; 2]) -> bool {
        [0, 1].into_iter().all(|which| {
            let apart = (one[which] - other[which]) * self.turns[which].1 / std::f64::consts::TAU;
            (apart - apart.round()).abs() < 1e-6
        })
    }

    /// Degrees between the way to a point and the line that the first of its axes turns about: near 0 that one has to turn fast.
    pub fn pole_angle(&self, frames: &[Frame], sight: &Sight, point: DVec3) -> f64 {
        let about = frames[self.axes[0].index()].turn * self.turns[0].0;
        let to = point - sight.from;
        libm::atan2(about.cross(to).length(), about.dot(to).abs()).to_degrees()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::{Shape, Unit};
    use crate::stage::fixture::{add_axis, add_rig, empty_show, slide, turn};
    use proptest::prelude::*;

    /// A head on a slider: pan about z, tilt about −y, looking along x; as most are.
    fn head(facing: f64) -> (Show, Camera) {
        let mut show = empty_show();
        let rig = add_rig(&mut show, DVec3::new(1.0, 2.0, 0.5), facing, None);
        let none: Vec<Shape> = Vec::new();
        add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), none.clone());
        let pan = add_axis(&mut show, Unit::Degree, turn(DVec3::Z, DVec3::new(0.0, 0.0, 1.0)), none.clone());
        let tilt = add_axis(&mut show, Unit::Degree, turn(DVec3::NEG_Y, DVec3::ZERO), none.clone());
        add_axis(&mut show, Unit::Percent, None, none);
        let camera = Camera::new(&show, rig, [pan, tilt]).unwrap();
        (show, camera)
    }

    fn frames(show: &Show) -> Vec<Frame> {
        vec![Frame::WORLD; show.axes.len()]
    }

    /// From (1, 2, 1.5): 3 m along x and 4 m along y, 5 m up: pan atan2(4, 3), tilt 45°.
    #[test]
    fn a_level_head_pans_to_the_bearing_and_tilts_to_the_elevation() {
        let (show, camera) = head(0.0);
        let stage = Stage::new(&show);
        let mut pose = vec![0.0; 4];
        let sight = camera.aim(&stage, &mut pose, &mut frames(&show), DVec3::new(4.0, 6.0, 6.5)).unwrap();
        assert!((pose[1] - 4.0_f64.atan2(3.0).to_degrees()).abs() < 1e-9, "{pose:?}");
        assert!((pose[2] - 45.0).abs() < 1e-9, "{pose:?}");
        assert_eq!(sight.from, DVec3::new(1.0, 2.0, 1.5));
    }

    #[test]
    fn a_head_has_two_ways_to_look_at_a_point_one_over_the_top() {
        let (show, camera) = head(90.0);
        let stage = Stage::new(&show);
        let ways = camera.ways(&stage, &[0.0; 4], &mut frames(&show), DVec3::new(1.0, 7.0, 1.5)).unwrap();
        let folded = |at: f64| at - 360.0 * (at / 360.0).round();
        let mut found: Vec<[i64; 2]> =
            ways.iter().map(|way| way.map(|at| folded(at).round().abs() as i64)).collect();
        found.sort_unstable();
        assert_eq!(found, [[0, 0], [180, 180]]);
    }

    #[test]
    fn what_has_no_direction_is_told_and_never_divided_by() {
        let (show, camera) = head(0.0);
        let stage = Stage::new(&show);
        let aim = |point: DVec3| camera.aim(&stage, &mut [0.0, 0.0, 45.0, 0.0], &mut frames(&show), point);
        assert_eq!(aim(DVec3::new(1.0, 2.0, 1.5)), Err(Astray::AtLens));
        assert_eq!(aim(DVec3::new(1.0, 2.0, 9.0)), Err(Astray::Pole), "straight above");
    }

    prop_compose! {
        fn vector(most: f64)(x in -most..most, y in -most..most, z in -most..most) -> DVec3 { DVec3::new(x, y, z) }
    }

    proptest! {
        /// Any two turns, off each other and off the lens. Whatever is answered is on the point.
        #[test]
        fn whatever_the_chain_an_answer_is_on_the_point(
            first in vector(1.0), second in vector(1.0), forward in vector(1.0),
            at in vector(0.3), between in vector(0.5), off in vector(0.2), point in vector(8.0),
            start in [-200.0..200.0_f64, -200.0..200.0_f64],
        ) {
            prop_assume!([first, second, forward].iter().all(|way| way.length() > 0.1));
            let mut show = empty_show();
            let rig = add_rig(&mut show, at, 30.0, None);
            let pan = add_axis(&mut show, Unit::Degree, turn(first.normalize(), at), Vec::new());
            let tilt = add_axis(&mut show, Unit::Turn, turn(second.normalize(), between), Vec::new());
            show.rigs[0].lens = Some(Lens { at: off, forward: forward.normalize(), ..Lens::PLAIN });
            let (stage, camera) = (Stage::new(&show), Camera::new(&show, rig, [pan, tilt]).unwrap());
            let mut pose = vec![start[0], start[1] / 360.0];
            let mut frames = frames(&show);
            if let Ok(sight) = camera.aim(&stage, &mut pose, &mut frames, point) {
                // By the definition of a frame, not by what aimed it.
                let mut all = Vec::new();
                stage.frames(&pose, &mut all);
                let (from, ahead) = (all[1].carry(off), all[1].carry(off + forward.normalize()));
                let along = (point - from).normalize();
                prop_assert!((ahead - from - along).length() < 1e-9, "{sight:?} {pose:?}");
            }
        }
    }
}
