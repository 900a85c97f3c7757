//! How the axes that aim must stand at every instant so that the point is on the optical axis.

use super::scene::{Scene, Slate};
use crate::motion::{Sample, fade};
use crate::proof::plan::MovePlan;
use crate::show::{AxisId, Ring};
use crate::stage::Astray;

/// s; between three looks of which the speed and the acceleration at an end are made.
const BESIDE: f64 = 1e-3;
/// Degrees; from one look to the next no head turns farther, unless it passes its pole.
const LEAP: f64 = 20.0;
/// In each axis's unit; what turns less does not.
const STILL: f64 = 1e-6;

/// Where it cannot be followed, s of the move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lost {
    Astray {
        why: Astray,
        time: f64,
    },
    /// m away, of which the table of focus knows nothing.
    OutOfFocus {
        distance: f64,
        time: f64,
    },
}

/// The positions of pan, tilt and, where it is kept too, focus, at looks that lie evenly over the move.
pub struct Track {
    pub axes: Vec<AxisId>,
    /// By axis, then by look.
    pub positions: Vec<Vec<f64>>,
    /// By axis, their speeds and accelerations as the move begins and as it ends, did they follow the point.
    ends: Vec<[Sample; 2]>,
}

/// One move of a cue, over whose time the point is followed.
pub struct Pursuit<'a> {
    pub scene: &'a Scene<'a>,
    /// All moves of the cue.
    pub moves: &'a [MovePlan],
    /// s of the cue, at which the move begins, and how long it lasts.
    pub begins: f64,
    pub lasts: f64,
    pub focus: Option<&'a Ring>,
}

impl Pursuit<'_> {
    /// By so many looks after the first, from where the axes of a way stand.
    ///
    /// # Errors
    /// Where it is lost.
    pub fn track(&self, way: [f64; 2], looks: usize) -> Result<Track, Lost> {
        let mut slate = self.scene.slate();
        self.stand(&mut slate, way);
        let mut axes = self.scene.camera.axes.to_vec();
        axes.extend(self.focus.map(|ring| ring.axis));
        let mut positions = vec![Vec::with_capacity(looks + 1); axes.len()];
        let before = self.beside(&mut slate, 0.0)?;
        self.stand(&mut slate, way);
        for look in 0..=looks {
            let found = self.look(self.lasts * look as f64 / looks as f64, &mut slate)?;
            positions.iter_mut().zip(found).for_each(|(positions, at)| positions.push(at));
        }
        let after = self.beside(&mut slate, self.lasts)?;
        let ends = before.into_iter().zip(after).map(|(before, after)| [before, after]).collect();
        Ok(Track { axes, positions, ends })
    }

    fn stand(&self, slate: &mut Slate, way: [f64; 2]) {
        self.scene.camera.axes.iter().zip(way).for_each(|(axis, at)| slate.pose[axis.index()] = at);
    }

    /// All ways to look at it as the move begins.
    pub fn ways(&self) -> Result<Vec<[f64; 2]>, Lost> {
        let mut slate = self.scene.slate();
        let point = self.scene.set(self.moves, self.begins, &mut slate);
        let Slate { pose, frames } = &mut slate;
        let ways = self.scene.camera.ways(self.scene.stage, pose, frames, point);
        ways.map_err(|why| Lost::Astray { why, time: 0.0 })
    }

    /// The positions at `time` s of the move, from where the axes stand.
    fn look(&self, time: f64, slate: &mut Slate) -> Result<Vec<f64>, Lost> {
        let Scene { camera, stage, show, .. } = self.scene;
        let stood = camera.axes.map(|axis| slate.pose[axis.index()]);
        let point = self.scene.set(self.moves, self.begins + time, slate);
        let lost = |why| Lost::Astray { why, time };
        let sight = camera.aim(stage, &mut slate.pose, &mut slate.frames, point).map_err(lost)?;
        let mut found: Vec<f64> = camera.axes.iter().map(|axis| slate.pose[axis.index()]).collect();
        for ((axis, before), now) in camera.axes.iter().zip(stood).zip(&found) {
            let whole = show.axis(*axis).unit.whole_turn().unwrap_or(360.0);
            if time > 0.0 && (now - before).abs() > whole * LEAP / 360.0 {
                return Err(lost(Astray::Pole));
            }
        }
        if let Some(ring) = self.focus {
            let distance = sight.from.distance(point);
            let [nearest, farthest] = ring.table.values();
            // What a table was measured at is in it.
            if !(nearest * (1.0 - 1e-9)..=farthest * (1.0 + 1e-9)).contains(&distance) {
                return Err(Lost::OutOfFocus { distance, time });
            }
            found.push(ring.table.position(distance));
        }
        Ok(found)
    }

    /// Speed and acceleration at one instant.
    fn beside(&self, slate: &mut Slate, time: f64) -> Result<Vec<Sample>, Lost> {
        let mut looks = Vec::with_capacity(3);
        for at in [time - BESIDE, time, time + BESIDE] {
            looks.push(self.look(at, slate).map_err(|lost| lost.at(time))?);
        }
        let sample = |axis: usize| {
            let [before, here, after] = [0, 1, 2].map(|look: usize| looks[look][axis]);
            let speed = (after - before) / (2.0 * BESIDE);
            let acceleration = (before - 2.0 * here + after) / (BESIDE * BESIDE);
            Sample { position: here, speed, acceleration, jerk: 0.0 }
        };
        Ok((0..looks[0].len()).map(sample).collect())
    }
}

impl Lost {
    fn at(self, time: f64) -> Lost {
        match self {
            Lost::Astray { why, .. } => Lost::Astray { why, time },
            Lost::OutOfFocus { distance, .. } => Lost::OutOfFocus { distance, time },
        }
    }
}

impl Track {
    /// The same, whole turns of each axis away.
    pub fn turned(&mut self, by: &[f64]) {
        for (positions, by) in self.positions.iter_mut().zip(by) {
            positions.iter_mut().for_each(|at| *at += by);
        }
        for (ends, by) in self.ends.iter_mut().zip(by) {
            ends.iter_mut().for_each(|end| end.position += by);
        }
    }

    /// Whether neither the lens nor the point moves.
    pub fn stands(&self) -> bool {
        self.positions.iter().all(|positions| positions.iter().all(|at| (at - positions[0]).abs() < STILL))
    }

    /// Whether the point goes on as the move ends.
    pub fn goes_on(&self) -> bool {
        self.ends.iter().any(|[_, end]| end.speed.abs() > STILL)
    }

    /// Made to begin where the axes stand and to end at rest: what is off as it begins, in place, speed and acceleration, fades
    /// within `ease` s, and what it must lose of its speed comes up within as long before the end. Between them it is on the
    /// point; as it ends, again.
    pub fn eased(&self, from: &[f64], ease: f64, lasts: f64) -> Vec<Vec<f64>> {
        let looks = self.positions[0].len() - 1;
        let eased = self.positions.iter().zip(&self.ends).zip(from).map(|((positions, [begin, end]), from)| {
            let off = Sample {
                position: from - begin.position,
                speed: -begin.speed,
                acceleration: -begin.acceleration,
                jerk: 0.0,
            };
            // Looked at backwards in time, a speed is its opposite.
            let rest = Sample { position: 0.0, speed: end.speed, acceleration: -end.acceleration, jerk: 0.0 };
            let at = |(look, position): (usize, &f64)| {
                if look == 0 {
                    // To the last digit.
                    return *from;
                }
                let time = lasts * look as f64 / looks as f64;
                position + fade(off, ease, time) + fade(rest, ease, lasts - time)
            };
            positions.iter().enumerate().map(at).collect()
        });
        eased.collect()
    }
}
