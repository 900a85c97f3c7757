//! A take that is played back at once, by no cue: its path from its first pose, proved among the rigs where they stand.
//!
//! What is proved is what is proved of a cue by itself: limits and travel along the path, every stop, the clearance of its
//! bodies of each other, of the zones and of everything that stands, tolerances counted. What people can move meanwhile, the
//! engine looks at as it does beside a cue. It keeps in a journal as the numbers of its path, so that a replay needs
//! neither the take nor the plan that was made of it.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::bodies::Stagehand;
use super::clearance::{self, clearance};
use super::plan::{AxisPath, CuePlan, MovePlan};
use super::rendition::take_alone;
use super::stalls;
use super::stops::Stops;
use crate::motion::{Curve, Knot, Profile, Sample};
use crate::show::{AxisId, Code, Finding, Playing, RigId, Severity, Show};

/// A take with its proof, ready for an engine. A copy is the same path: it takes no memory.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Written", into = "Written")]
pub struct Playback {
    plan: Arc<CuePlan>,
}

impl Playback {
    /// Its start has the rigs of the take in its first pose, and all others where they were proved to stand.
    pub fn plan(&self) -> &CuePlan {
        &self.plan
    }

    /// Whether anybody else has a copy.
    pub fn is_shared(&self) -> bool {
        Arc::strong_count(&self.plan) > 1
    }

    /// Whether it is a way of the rigs of this show.
    pub fn fits(&self, show: &Show) -> bool {
        let fits = |step: &MovePlan| {
            let axes = step
                .axes
                .iter()
                .all(|path| path.axis.index() < show.axes.len() && show.axis(path.axis).rig == step.rig);
            step.rig.index() < show.rigs.len() && axes
        };
        self.plan.start.len() == show.axes.len() && self.plan.moves.iter().all(fits)
    }
}

/// The numbers of it.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Written {
    start: Vec<f64>,
    stop_time: f64,
    moves: Vec<WrittenMove>,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
struct WrittenMove {
    rig: RigId,
    /// s
    duration: f64,
    axes: Vec<(AxisId, Vec<[f64; 5]>)>,
}

impl From<Playback> for Written {
    fn from(playback: Playback) -> Written {
        let knots = |curve: &Curve| -> Vec<[f64; 5]> {
            let knot =
                |Knot { time, state }: &Knot| [*time, state.position, state.speed, state.acceleration, state.jerk];
            curve.knots().iter().map(knot).collect()
        };
        let written = |step: &MovePlan| WrittenMove {
            rig: step.rig,
            duration: step.duration(),
            axes: step
                .axes
                .iter()
                .map(|path| (path.axis, path.curve.as_deref().map(knots).unwrap_or_default()))
                .collect(),
        };
        let CuePlan { start, stop_time, moves, .. } = &*playback.plan;
        Written { moves: moves.iter().map(written).collect(), start: start.clone(), stop_time: *stop_time }
    }
}

impl TryFrom<Written> for Playback {
    type Error = &'static str;

    /// # Errors
    /// Numbers that are no curves.
    fn try_from(written: Written) -> Result<Playback, &'static str> {
        let Written { start, stop_time, moves } = written;
        let moves = moves.into_iter().map(read).collect::<Result<Vec<MovePlan>, _>>()?;
        let mut end = start.clone();
        for path in moves.iter().flat_map(|step| &step.axes) {
            *end.get_mut(path.axis.index()).ok_or("an axis that has no place")? = path.to;
        }
        let duration = moves.iter().map(MovePlan::end).fold(0.0, f64::max);
        Ok(Playback { plan: Arc::new(CuePlan { duration, stop_time, bottleneck: None, start, end, moves }) })
    }
}

fn read(WrittenMove { rig, duration, axes }: WrittenMove) -> Result<MovePlan, &'static str> {
    let read = |(axis, knots): (AxisId, Vec<[f64; 5]>)| {
        let rise = knots.first().is_some_and(|first| first[0] == 0.0) && knots.is_sorted_by(|a, b| a[0] < b[0]);
        if knots.len() < 2 || !rise || knots.as_flattened().iter().any(|value| !value.is_finite()) {
            return Err("knots that are no curve");
        }
        let knot = |[time, position, speed, acceleration, jerk]: [f64; 5]| Knot {
            time,
            state: Sample { position, speed, acceleration, jerk },
        };
        let [from, to] = [0, knots.len() - 1].map(|end| knots[end][1]);
        let curve = Some(Arc::new(Curve::new(knots.into_iter().map(knot).collect())));
        Ok(AxisPath { axis, from, to, curve })
    };
    if !(duration.is_finite() && duration > 0.0) {
        return Err("a way without a time");
    }
    let axes = axes.into_iter().map(read).collect::<Result<Vec<AxisPath>, _>>()?;
    Ok(MovePlan { rig, delay: 0.0, profile: Profile::idle(duration), axes, passes: Vec::new() })
}

/// What there is to say of one that may be played.
#[derive(Clone, Debug)]
pub struct Playable {
    pub playback: Playback,
    /// The factor on its time, maybe a little more than was asked for.
    pub stretch: f64,
    /// For people: what a proof of a cue would warn of.
    pub cautions: Vec<String>,
}

/// Why a take is not played back, for people.
#[derive(Clone, Debug, PartialEq)]
pub struct Unplayable {
    pub reasons: Vec<String>,
    /// The least stretch, if a greater one than was asked for is all that it lacks.
    pub stretch: Option<f64>,
}

/// Plans and proves a take on all of its rigs, `stretch` times as long as it was recorded, where everything else `stands` (by
/// `AxisId`).
///
/// # Errors
/// What a check would tell as an error of a cue that plays it.
pub fn plan_playback(
    show: &Show,
    mut parts: Vec<(RigId, Playing)>,
    stretch: f64,
    stands: &[f64],
) -> Result<Playable, Unplayable> {
    let mut stretch = stretch;
    let mut made = moves(show, &mut parts, stretch, stands);
    if made.is_only_too_quick() && made.least <= stretch * NEARLY {
        stretch = made.least;
        made = moves(show, &mut parts, stretch, stands);
    }
    let slower = made.is_only_too_quick().then_some(made.least);
    let Made { moves, errors, .. } = made;
    if !errors.is_empty() {
        // What a cue would have to write helps nobody here.
        let said = |finding: Finding| match finding.fix.filter(|_| slower.is_none()) {
            Some(fix) => format!("{}: {fix}", finding.message),
            None => finding.message,
        };
        return Err(Unplayable { reasons: errors.into_iter().map(said).collect(), stretch: slower });
    }
    let playback = written(stands, moves)?;
    prove(show, playback, stretch)
}

/// Where the rigs stand decides a little how much stretch a take asks for: so much more than was asked for is given.
const NEARLY: f64 = 1.01;

/// What a take makes its rigs do.
struct Made {
    moves: Vec<MovePlan>,
    /// At which it keeps every limit.
    least: f64,
    errors: Vec<Finding>,
}

impl Made {
    /// Whether it lacks nothing but time.
    fn is_only_too_quick(&self) -> bool {
        let is_slow = |finding: &Finding| finding.code == Code::Take && finding.value.is_some();
        !self.errors.is_empty() && self.errors.iter().all(is_slow)
    }
}

fn moves(show: &Show, parts: &mut [(RigId, Playing)], stretch: f64, stands: &[f64]) -> Made {
    parts.iter_mut().for_each(|(_, playing)| playing.stretch = stretch);
    let mut made = Made { moves: Vec::new(), least: 0.0, errors: Vec::new() };
    for (rig, playing) in parts.iter() {
        let (played, findings) = take_alone(show, (*rig, playing), parts, Some(stands));
        made.errors.extend(findings.into_iter().filter(|finding| finding.severity == Severity::Error));
        if let Some((plan, rendition)) = played {
            made.least = made.least.max(rendition.least());
            made.moves.push(plan);
        }
    }
    made
}

/// From the pose in which everything else stands.
fn written(stands: &[f64], moves: Vec<MovePlan>) -> Result<Playback, Unplayable> {
    let mut start = stands.to_vec();
    for path in moves.iter().flat_map(|step| &step.axes) {
        start[path.axis.index()] = path.from;
    }
    let plan = CuePlan { start, moves, ..CuePlan::EMPTY };
    // By the same numbers as a replay reads.
    Playback::try_from(Written::from(Playback { plan: Arc::new(plan) }))
        .map_err(|why| Unplayable { reasons: vec![format!("its path could not be planned: {why}")], stretch: None })
}

fn prove(show: &Show, playback: Playback, stretch: f64) -> Result<Playable, Unplayable> {
    let hand = Stagehand::new(show);
    let short = clearance(&hand, &playback.plan).short;
    if !short.is_empty() {
        let reasons = short.iter().map(|short| clearance::keeps(show, short, "take")).collect();
        return Err(Unplayable { reasons, stretch: None });
    }
    let stops = Stops::of(show, &playback.plan);
    let stalls = stalls::within(&hand, &playback.plan, &stops, None);
    let cautions = stalls.iter().map(|(rig, short)| stalls::says_within(show, *rig, short, "take")).collect();
    let plan = CuePlan { stop_time: stops.longest(), ..(*playback.plan).clone() };
    Ok(Playable { playback: Playback { plan: Arc::new(plan) }, stretch, cautions })
}
