//! What a cue needs to have run, and what a skip would break.
//!
//! A cue rests on an earlier one that it follows or names in its `needs`, that brought its own rigs to where it starts, that
//! put a rig where an interlock wants it, or that took a rig out of its way. A GO looks at all of these: at what is written, at
//! where every rig with bodies stands, and at the bodies. A rig of its own must stand within tolerance, and where it follows a
//! curve along an end of its travel, not even anywhere within that. What stands elsewhere than the list leaves it, and not in the way,
//! is none: the engine proves the cue live from there. Of some rigs it does not, so a cue rests on what put them
//! where they are: those that it moves, those that ride with them, and the partner of a pair with a lesser margin; and of
//! any, if a stall could part a rig that it moves from another on which that rides.
//!
//! One thing none of these tells. A `[[pair]]` lets two rigs come nearer than the show's margin for a reason, such as a
//! wagon that rolls over a flush lift, and the reason holds where the list has them. With the lift down the wagon keeps
//! clear of it more than ever, and rolls over an open hole. So if the cue that flushed the lift can be skipped, with
//! nothing written to refuse the wagon then, that is told.
//!
//! A skip leaves an axis elsewhere only if nothing moved that axis between the skipped cue and this one. So of all earlier
//! cues those alone have to be weighed that moved some axis last, or that this cue names; the rest leave it as it is.

mod told;
mod weighing;

use super::bodies::Stagehand;
use super::clearance::Closest;
use super::crew::{Crew, gathered};
use super::memory::{Content, Memory};
use super::plan::Plan;
use crate::show::{AxisId, CueId, Finding, InterlockId};
use weighing::Weighing;

pub use weighing::Passes;

/// Why a cue needs another to have run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rests {
    /// It is fired by it.
    Follows,
    /// Its `needs` are false without it.
    Needs,
    /// It moves this axis from where the other leaves it.
    Start(AxisId),
    /// The interlock is false along its way without it.
    Interlock(InterlockId),
    /// It wants this axis, which it does not move itself, where the other leaves it: no live proof says anything of it.
    Stands(AxisId),
    /// It would come so near without it.
    Near(Closest),
}

/// Of the whole list.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Skips {
    /// By `CueId`: the earlier cues that it needs to have run, each with the first reason.
    pub rests_on: Vec<Vec<(CueId, Rests)>>,
    /// By `CueId`: the later cues that cannot run if it is skipped and nothing is preset: those that rest on it, those
    /// that rest on them, and so on.
    pub breaks: Vec<Vec<CueId>>,
}

pub fn weigh(
    hand: &Stagehand,
    plan: &Plan,
    crew: &dyn Crew,
    known: (&Content, &Memory),
    findings: &mut Vec<Finding>,
) -> Skips {
    crew.begin("skips");
    let movers = last_movers(plan);
    let weighed = gathered(crew, plan.cues.len(), |cue| {
        Weighing { hand, plan, cue: CueId::new(cue), movers: &movers[cue] }.all(known)
    });
    let (rests_on, loose): (Vec<_>, Vec<_>) = weighed.into_iter().unzip();
    let breaks: Vec<Vec<CueId>> = hand.show.cue_ids().map(|cue| broken_by(&rests_on, cue)).collect();
    for loose in loose.into_iter().flatten() {
        if breaks[loose.skipped.index()].binary_search(&loose.cue).is_err() {
            findings.push(told::finding(hand.show, plan, loose));
        }
    }
    Skips { rests_on, breaks }
}

/// By `CueId`, then by `AxisId`: the cue that moved the axis last before.
fn last_movers(plan: &Plan) -> Vec<Vec<Option<CueId>>> {
    let axes = plan.cues.first().map_or(0, |plan| plan.start.len());
    let mut now = vec![None; axes];
    let mut movers = Vec::with_capacity(plan.cues.len());
    for (cue, plan) in plan.cues.iter().enumerate() {
        movers.push(now.clone());
        for (axis, moved) in plan.moved_axes().into_iter().enumerate() {
            if moved {
                now[axis] = Some(CueId::new(cue));
            }
        }
    }
    movers
}

/// The later cues, in order.
fn broken_by(rests_on: &[Vec<(CueId, Rests)>], skipped: CueId) -> Vec<CueId> {
    let mut broken = vec![false; rests_on.len()];
    broken[skipped.index()] = true;
    let mut later = Vec::new();
    for (index, rests) in rests_on.iter().enumerate().skip(skipped.index() + 1) {
        if rests.iter().any(|(on, _)| broken[on.index()]) {
            broken[index] = true;
            later.push(CueId::new(index));
        }
    }
    later
}

/// A cue that passes near another rig as a pair lets it, which a skip leaves elsewhere.
struct Loose {
    cue: CueId,
    skipped: CueId,
    pair: Closest,
    /// Of the other rig.
    axis: AxisId,
    /// Where everything stands when the two are nearest in the list, with the other rig left elsewhere.
    pose: Vec<f64>,
}
