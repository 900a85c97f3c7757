//! The rehearsal: the whole cue list on the same engine and simulated rigs, in virtual time, as fast as it goes.
//!
//! A caller puts each cue on standby and gives its GO; every input of the show is supplied as true. With a seed, the
//! caller calls at random times, operators hold, resume, return and stop at random, and hands drive rigs that no cue has. The invariants of the engine
//! are checked at every tick, and the same show and options give the same rehearsal, to the bit.

#![expect(clippy::result_large_err, reason = "a refusal is of fixed size, since the engine does not allocate")]

mod caller;
mod floor;
mod hands;
mod operator;
mod record;
mod track;
mod watch;

pub use floor::{Beat, Pace, client};
pub use record::{AxisRecord, CueRecord, Ending, Options, Outcome, Peaks, Refused, Rehearsal};
pub use track::{Point, Track};

use std::ops::ControlFlow;
use std::sync::Arc;

use caller::Caller;
use floor::{Floor, Flow, OPERATOR};

use crate::engine::Verb;
use crate::proof::Plan;
use crate::show::{CueId, Show};

/// s until the rigs have been heard, and have been seen to stand.
const BEFORE_ARMING: f64 = 0.4;

/// Rehearses a show whose check found no error. `pace` is called after every tick: it may wait, if a rehearsal is to
/// take as long as the show, and may end it.
pub fn rehearse(show: &Arc<Show>, plan: &Arc<Plan>, options: &Options, pace: Pace<'_>) -> Rehearsal {
    let mut floor = Floor::new(show, plan, options, pace);
    let ending = match scope(show, options) {
        Some(scope) => run(&mut floor, options, scope),
        None => Flow::Continue(()),
    };
    let (length, ticks, fingerprint) = (floor.time(), floor.ticks(), floor.fingerprint());
    let mut cues = floor.watch.cues;
    let preset = cues.pop().map_or_else(Vec::new, |slot| slot.axes);
    match scope(show, options) {
        Some([first, last]) => {
            cues.truncate(last.index() + 1);
            cues.drain(..first.index());
        }
        None => cues.clear(),
    }
    Rehearsal {
        options: options.clone(),
        ending: match ending {
            ControlFlow::Continue(()) => Ending::Complete,
            ControlFlow::Break(ending) => ending,
        },
        cues,
        preset,
        events: floor.watch.events,
        tracks: floor.watch.tracks,
        length,
        ticks,
        fingerprint,
    }
}

/// The first and the last cue; `None` if there is none.
fn scope(show: &Show, options: &Options) -> Option<[CueId; 2]> {
    let last = CueId::new(show.cues.len().checked_sub(1)?);
    let (first, last) = (options.from.unwrap_or(CueId::new(0)), options.to.unwrap_or(last));
    (first <= last).then_some([first, last])
}

fn run(floor: &mut Floor<'_>, options: &Options, scope: [CueId; 2]) -> Flow {
    floor.settled = (0, scope[1].index() + 1 - scope[0].index());
    floor.wait(BEFORE_ARMING)?;
    if let Err(reasons) = floor.ask(OPERATOR, Verb::Arm)? {
        return ControlFlow::Break(Ending::NotArmed(floor.seeing(reasons)));
    }
    floor.set_zero();
    if let Some(cue) = options.from {
        floor.ask(OPERATOR, Verb::Place { cue })?.ok();
    }
    if options.master != 1.0 {
        floor.ask(OPERATOR, Verb::Master { value: options.master })?.ok();
    }
    let mut caller = Caller::new(floor, options, scope);
    let ending = caller.call_all();
    caller.settle();
    ending
}
