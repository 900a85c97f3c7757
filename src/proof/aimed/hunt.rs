//! The way of the axes that aim, over a move as its other axes go: looked for, made of curves, held against every limit.

use std::sync::Arc;

use super::scene::Scene;
use super::track::{Pursuit, Track};
use super::{Aimed, Bound, Wrong};
use crate::motion::{Ceiling, Curve, PARTS, Path, traced, verify_curve};
use crate::proof::plan::{AxisPath, MovePlan};
use crate::show::{AxisId, Limits, Ring};

/// Degrees that each axis may be off what keeps the point on the optical axis, between the looks that its curve goes through.
const OFF_DEGREES: f64 = 0.01;
/// The part of its tolerance that a lens axis may be off.
const OFF_FOCUS: f64 = 0.1;
/// s of a piece, at first, and the least.
const PIECE: f64 = 0.25;
const PIECE_LEAST: f64 = 2.5e-3;
/// Where a curve that only nearly follows asks for so much more time than it has, it is not looked at more nearly.
const FAR_OVER: f64 = 1.2;
/// Of a move, at first.
const PIECES_LEAST: usize = 12;
const PIECES_MOST: usize = 200;
/// The part of a move in which the point is reached, where it does not say.
pub const EASE: f64 = 0.25;
/// The search for the way of the axes that aim, over the move as its other axes go, and over longer ones.
pub struct Hunt<'a> {
    pub aimed: Aimed<'a>,
    scene: &'a Scene<'a>,
    focus: Option<&'a Ring>,
    /// Positions of pan and tilt that look at the point as the move begins, the nearest first: whatever time it takes.
    ways: Vec<[f64; 2]>,
}

impl<'a> Hunt<'a> {
    pub fn new(aimed: Aimed<'a>, scene: &'a Scene<'a>, moves: &[MovePlan]) -> Result<Hunt<'a>, Wrong> {
        let lens = aimed.show.rig(aimed.written.rig).lens.as_ref();
        let focus = aimed.aim.focus.and(lens.and_then(|lens| lens.focus.as_ref()));
        let mut hunt = Hunt { aimed, scene, focus, ways: Vec::new() };
        let mut ways = hunt.pursuit(moves).ways().map_err(Wrong::Lost)?;
        ways.sort_by(|a, b| hunt.nearness(*a).total_cmp(&hunt.nearness(*b)));
        // Where some lie within reach no other is worth a look; where none does the nearest tells what is wrong.
        if ways.iter().any(|way| hunt.within_reach(*way)) {
            ways.retain(|way| hunt.within_reach(*way));
        }
        hunt.ways = ways;
        Ok(hunt)
    }

    fn pursuit<'m>(&'m self, moves: &'m [MovePlan]) -> Pursuit<'m> {
        let step = &moves[self.aimed.index];
        Pursuit { scene: self.scene, moves, begins: step.delay, lasts: step.duration(), focus: self.focus }
    }

    /// What the axes that aim do over the move as it is planned otherwise.
    pub fn paths(&self, moves: &[MovePlan], ease: Option<f64>) -> Result<Vec<AxisPath>, Wrong> {
        let pursuit = self.pursuit(moves);
        let mut first = None;
        for &way in &self.ways {
            match self.along(&pursuit, way, ease) {
                Ok(paths) => return Ok(paths),
                Err(wrong) => first = first.or(Some(wrong)),
            }
        }
        Err(first.unwrap_or(Wrong::Axes))
    }

    fn within_reach(&self, way: [f64; 2]) -> bool {
        self.aimed.aim.axes.iter().zip(way).all(|(&axis, at)| {
            let ([low, high], whole) = (self.aimed.show.axis(axis).reach(), self.whole(axis));
            // The first place at or above the low end.
            at + ((low - at) / whole).ceil() * whole <= high
        })
    }

    /// How far the axes have to turn for a way, in time at full speed, the nearest whole turns of it.
    fn nearness(&self, way: [f64; 2]) -> f64 {
        let far = self.aimed.aim.axes.iter().zip(way).map(|(&axis, at)| {
            let (run, off) = (self.aimed.show.axis(axis).run, at - self.aimed.start[axis.index()]);
            let whole = self.whole(axis);
            (off - whole * (off / whole).round()).abs() / run.speed
        });
        far.fold(0.0, f64::max)
    }

    fn whole(&self, axis: AxisId) -> f64 {
        self.aimed.show.axis(axis).unit.whole_turn().unwrap_or(f64::INFINITY)
    }

    /// By one way, with as many looks as it takes.
    fn along(&self, pursuit: &Pursuit, way: [f64; 2], ease: Option<f64>) -> Result<Vec<AxisPath>, Wrong> {
        let lasts = pursuit.lasts;
        let mut pieces = ((lasts / PIECE).ceil() as usize).clamp(PIECES_LEAST, PIECES_MOST);
        loop {
            let mut track = pursuit.track(way, PARTS * pieces).map_err(Wrong::Lost)?;
            let from: Vec<f64> = track.axes.iter().map(|axis| self.aimed.start[axis.index()]).collect();
            let ease = Self::ease(&track, ease, lasts);
            let turned = self.turned(&mut track, &from, ease, lasts)?;
            let traced: Vec<(Curve, f64)> = turned.iter().map(|positions| traced(positions, lasts)).collect();
            let curve = |(curve, _): &(Curve, f64)| curve.clone();
            let far_over = |((curve, _), &axis): (&(Curve, f64), &AxisId)| {
                broken_most(curve, self.aimed.show.axis(axis).run).is_some_and(|(stretch, _)| stretch > FAR_OVER)
            };
            if traced.iter().zip(&track.axes).any(far_over) {
                // No nearer look would bring that within its limits.
                return self.within_limits(pursuit, &track.axes, traced.iter().map(curve).collect());
            }
            let keeps = traced.iter().zip(&track.axes).all(|((_, off), &axis)| *off <= self.may_be_off(axis));
            if !keeps && lasts / pieces as f64 > PIECE_LEAST {
                pieces *= 2;
                continue;
            }
            return self.within_limits(pursuit, &track.axes, traced.iter().map(curve).collect());
        }
    }

    fn ease(track: &Track, written: Option<f64>, lasts: f64) -> f64 {
        let most = if track.goes_on() { lasts / 2.0 } else { lasts };
        let ease = written.unwrap_or(if track.stands() { lasts } else { EASE * lasts });
        ease.min(most)
    }

    /// Degrees, or the lens's own unit.
    fn may_be_off(&self, axis: AxisId) -> f64 {
        match self.aimed.show.axis(axis).unit.whole_turn() {
            Some(whole) => OFF_DEGREES * whole / 360.0,
            None => OFF_FOCUS * self.aimed.show.axis(axis).tolerance,
        }
    }

    /// The whole turns of each axis that take it the shortest way that stays inside its reach.
    fn turned(&self, track: &mut Track, from: &[f64], ease: f64, lasts: f64) -> Result<Vec<Vec<f64>>, Wrong> {
        let mut turned = Vec::with_capacity(from.len());
        for index in 0..from.len() {
            let axis = track.axes[index];
            let whole = self.whole(axis);
            let begins = track.positions[index][0];
            let nearest = if whole.is_finite() { ((from[index] - begins) / whole).round() * whole } else { 0.0 };
            let mut shifts = vec![nearest];
            if whole.is_finite() {
                let longer = if begins + nearest < from[index] { whole } else { -whole };
                shifts.extend([nearest + longer, nearest - longer]);
            }
            let mut first = None;
            let mut found = None;
            for shift in shifts {
                let mut by = vec![0.0; from.len()];
                by[index] = shift;
                track.turned(&by);
                let eased = track.eased(from, ease, lasts).swap_remove(index);
                match self.stays(axis, &eased, lasts) {
                    Ok(()) => {
                        found = Some(eased);
                        break;
                    }
                    Err(wrong) => first = first.or(Some(wrong)),
                }
                by[index] = -shift;
                track.turned(&by);
            }
            turned.push(found.ok_or_else(|| first.unwrap_or(Wrong::Axes))?);
        }
        Ok(turned)
    }

    fn stays(&self, axis: AxisId, positions: &[f64], lasts: f64) -> Result<(), Wrong> {
        let [low, high] = self.aimed.show.axis(axis).reach();
        let beyond = |at: f64| (low - at).max(at - high);
        let (look, &position) = positions
            .iter()
            .enumerate()
            .max_by(|(_, a), (_, b)| beyond(**a).total_cmp(&beyond(**b)))
            .unwrap_or((0, &low));
        if beyond(position) <= 0.0 {
            return Ok(());
        }
        let time = lasts * look as f64 / (positions.len() - 1) as f64;
        Err(Wrong::Travel { axis, time, position })
    }

    /// Every limit of every axis, by the exact extremes of its curve.
    fn within_limits(
        &self,
        pursuit: &Pursuit,
        axes: &[AxisId],
        curves: Vec<Curve>,
    ) -> Result<Vec<AxisPath>, Wrong> {
        let mut paths = Vec::with_capacity(axes.len());
        for (&axis, curve) in axes.iter().zip(curves) {
            let of = self.aimed.show.axis(axis);
            if let Some((_, (bound, time, found, limit))) = broken_most(&curve, of.run) {
                let from_pole = self.pole_angle(pursuit, time);
                return Err(Wrong::Limit { axis, bound, time, found, limit, from_pole });
            }
            let range = curve.positions(0.0, curve.duration());
            let [low, high] = of.reach();
            if verify_curve(&curve, Ceiling::of(of.run)).is_err() || range.low < low || range.high > high {
                return Err(Wrong::Unverified { axis });
            }
            let [from, to] = [0.0, curve.duration()].map(|time| curve.at(time).position);
            paths.push(AxisPath { axis, from, to, curve: Some(Arc::new(curve)) });
        }
        Ok(paths)
    }

    /// Degrees between the way to the point and the line that the head turns about, at that instant.
    fn pole_angle(&self, pursuit: &Pursuit, time: f64) -> f64 {
        let Pursuit { scene, moves, begins, .. } = *pursuit;
        let mut slate = scene.slate();
        let point = scene.set(moves, begins + time, &mut slate);
        let sight = scene.camera.sight(scene.stage, &slate.pose, &mut slate.frames);
        scene.camera.pole_angle(&slate.frames, &sight, point)
    }
}

/// Which limit is broken, when, what was found, and what is allowed.
type Broken = (Bound, f64, f64, f64);

/// The limit that asks for the most time, where one is broken, after the factor on the time that it asks for.
fn broken_most(curve: &Curve, run: Limits) -> Option<(f64, Broken)> {
    let mut worst: Option<(f64, Broken)> = None;
    for pair in curve.knots().windows(2) {
        let state = pair[0].state;
        let turning = (-state.acceleration / state.jerk).clamp(0.0, pair[1].time - pair[0].time);
        let fastest = if turning.is_finite() { turning } else { 0.0 };
        let speed = state.after(fastest).speed.abs();
        let (acceleration, jerk) = (state.acceleration.abs(), state.jerk.abs());
        let gain = (acceleration / run.acceleration).sqrt();
        let asked = [
            (speed / run.speed, (Bound::Speed, pair[0].time + fastest, speed, run.speed)),
            (gain, (Bound::Acceleration, pair[0].time, acceleration, run.acceleration)),
            (libm::cbrt(jerk / run.jerk), (Bound::Jerk, pair[0].time, jerk, run.jerk)),
        ];
        for (stretch, broken) in asked {
            if stretch > worst.map_or(1.0 + 1e-9, |(most, _)| most) {
                worst = Some((stretch, broken));
            }
        }
    }
    worst
}
