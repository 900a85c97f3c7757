//! Moves that keep a lens on a point: what pan, tilt and focus do, and what stands against it.
//!
//! The other axes go their own way first. Then the axes that aim are asked, look by look over the move, how they must stand
//! so that the point is on the optical axis ([`track`]); what is off as the move begins fades, and what it must lose of its
//! speed as it ends comes up; and a spline of pieces of constant jerk goes through the looks, twice as many of them until
//! it keeps to all between ([`crate::motion::traced`]). So these axes follow curves as those of a take do, and everything
//! that is proved, braked and taken up along a curve is along them.

mod hunt;
mod remedy;
mod scene;
mod seen;
#[cfg(test)]
mod tests;
mod told;
mod track;
mod unknown;

pub use scene::leans_on;
pub use seen::{OnPoint, Seen, Sightline};
pub use unknown::find_unknown;

use hunt::Hunt;
use scene::{Scene, carriers};
use told::Told;
use track::Lost;

use super::pace::told_untimed;
use super::plan::{AxisPath, CuePlan, MovePlan};
use crate::show::{Aim, AxisId, CueId, Finding, Move, Show};
use crate::stage::Stage;

/// s that a move is looked at over which no time would let be aimed.
const ANY_TIME: f64 = 10.0;

/// How nearly the least time of an aimed move is found, and told, where no `time` is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Untimed {
    /// In hundredths, as people write it, and never less than what was tried.
    AsWritten,
    /// To a millisecond, to be compared with another.
    Exact,
}

/// One move that is aimed, of a cue whose moves are otherwise planned.
#[derive(Clone, Copy)]
pub struct Aimed<'a> {
    pub show: &'a Show,
    pub id: CueId,
    /// Which of the cue's moves.
    pub index: usize,
    pub written: &'a Move,
    pub aim: &'a Aim,
    pub untimed: Untimed,
    /// The expected pose before the cue, by `AxisId`.
    pub start: &'a [f64],
    /// Of the cues before it.
    pub earlier: &'a [CuePlan],
}

/// Why a move cannot be aimed as it is written.
#[derive(Clone, Debug, PartialEq)]
enum Wrong {
    /// The rig has nothing to aim by.
    Axes,
    Lost(Lost),
    /// An axis leaves its travel, s of the move.
    Travel {
        axis: AxisId,
        time: f64,
        position: f64,
    },
    /// A limit is broken most, s of the move; and how near to its pole the head then looks, degrees.
    Limit {
        axis: AxisId,
        bound: Bound,
        time: f64,
        found: f64,
        limit: f64,
        from_pole: f64,
    },
    /// What it looks at, or its lens, goes where this axis goes, which a move aims that is written after it.
    Later {
        axis: AxisId,
    },
    /// Not seen.
    Unverified {
        axis: AxisId,
    },
}

/// Which limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Bound {
    Speed,
    Acceleration,
    Jerk,
}

/// Adds the axes that aim to the moves of a cue; tells what stands against it. Where it cannot be done they stand still.
pub fn plan_aimed(aimed: Aimed<'_>, moves: &mut [MovePlan], findings: &mut Vec<Finding>) {
    let (stage, Aimed { index, aim, start, .. }) = (Stage::new(aimed.show), aimed);
    match aimed.try_plan(&stage, moves, findings) {
        Ok(paths) => moves[index].axes.extend(paths),
        Err(finding) => {
            findings.push(*finding);
            let stands = |axis: AxisId| AxisPath::straight(axis, start[axis.index()], start[axis.index()]);
            moves[index].axes.extend(aim.moved().map(stands));
        }
    }
}

impl Aimed<'_> {
    /// Without a `time` the move is given the least in which it can be aimed.
    fn try_plan(
        self,
        stage: &Stage,
        moves: &mut [MovePlan],
        findings: &mut Vec<Finding>,
    ) -> Result<Vec<AxisPath>, Box<Finding>> {
        let Aimed { show, id, index, written, aim, .. } = self;
        let told = Told { aimed: self };
        let says = |wrong: &Wrong, moves: &[MovePlan]| Box::new(told.wrong(wrong, moves[index].delay));
        if let Some(axis) = self.aimed_later() {
            return Err(says(&Wrong::Later { axis }, moves));
        }
        let scene = Scene::new((show, stage), id, (written.rig, aim), self.start, self.earlier);
        let scene = scene.ok_or_else(|| says(&Wrong::Axes, moves))?;
        let hunt = Hunt::new(self, &scene, moves).map_err(|wrong| says(&wrong, moves))?;
        if written.time.is_none() {
            match hunt.least_time(moves, aim.ease) {
                Some(step) => {
                    findings.push(told_untimed(show, id, written, step.duration()));
                    moves[index] = step;
                }
                // What is wrong with it is wrong at any time; at this one it is told.
                None => moves.clone_from_slice(&hunt.replanned(moves, moves[index].duration().max(ANY_TIME))),
            }
        }
        hunt.paths(moves, aim.ease).map_err(|wrong| {
            let mut finding = says(&wrong, moves);
            if let Wrong::Limit { from_pole, .. } = wrong {
                finding.fix = Some(told::remedies(&hunt.remedies(moves), from_pole));
            }
            finding
        })
    }

    /// An axis that an aim of the same cue moves which is planned after this one.
    fn aimed_later(self) -> Option<AxisId> {
        let carriers = carriers(self.show, self.written.rig, self.aim);
        let later = self.show.cue(self.id).moves.iter().skip(self.index + 1);
        let mut aimed = later.filter_map(|step| step.aim.as_ref()).flat_map(Aim::moved);
        aimed.find(|axis| carriers.contains(axis))
    }
}
