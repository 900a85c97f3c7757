//! One cue in both versions.

use super::because::{because, unproven_because};
use super::fingerprint::{Fingerprint, Part};
use super::{Pairing, Side};
use crate::proof::{Closest, Rests, Stretch, Window};
use crate::show::{AxisId, Change, CueId};

/// In an axis's own unit; less is rounding.
const POSE: f64 = 1e-6;
/// s
const TIME: f64 = 1e-3;
/// m; the least clearance is found to a millimetre.
const NEARER: f64 = 2e-3;
/// s
const WINDOW: f64 = 1e-2;

/// What differs of a cue; what does not is empty or `None`. Before, then now, throughout.
#[derive(Clone, Debug, PartialEq)]
pub struct CueDiffers {
    pub was: CueId,
    pub now: CueId,
    /// Axes that it finds, or leaves, elsewhere.
    pub start: Vec<Moved>,
    pub end: Vec<Moved>,
    /// s
    pub duration: Option<[f64; 2]>,
    /// s
    pub stop_time: Option<[f64; 2]>,
    pub closest: Option<[Option<Closest>; 2]>,
    pub windows: Vec<WindowDiffers>,
    /// What it needs to have run now, and did not; what it needed, and needs no longer.
    pub rests_on: Vec<Rested>,
    pub rests_no_more_on: Vec<Rested>,
    /// What of it has to be rehearsed again.
    pub unproven: Vec<Part>,
    /// Indices into [`super::Against::changes`]: the edits that plainly led to the differences, to what is unproven.
    pub because: Vec<usize>,
    pub unproven_because: Vec<usize>,
}

/// An axis that is elsewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Of the new show.
    pub axis: AxisId,
    pub was: f64,
    pub now: f64,
}

/// When it may be fired while another cue runs.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowDiffers {
    /// The other's number in the new show, or in the old if it is gone.
    pub after: String,
    /// s, of the other's own time; `None`: the two were, or are, not found to run together.
    pub was: Option<Vec<Stretch>>,
    pub now: Option<Vec<Stretch>>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Rested {
    /// The other's number in the new show, or in the old if it is gone.
    pub on: String,
    /// With the ids of the version that has it.
    pub why: Rests,
}

/// What differs of a cue; `None` if nothing does.
pub fn differs(found: &Pairing<'_>, changes: &[Change], was: CueId, now: CueId) -> Option<CueDiffers> {
    let (old, new) = (found.old, found.new);
    let (before, after) = (old.proof.plan.cue(was), new.proof.plan.cue(now));
    let elsewhere = |was: &[f64], now: &[f64]| -> Vec<Moved> {
        let axes = new.show.axis_ids().filter_map(|axis| {
            let before = found.axes[axis.index()]?;
            Some(Moved { axis, was: was[before.index()], now: now[axis.index()] })
        });
        axes.filter(|moved| (moved.was - moved.now).abs() > POSE).collect()
    };
    let time = |was: f64, now: f64| ((was - now).abs() > TIME).then_some([was, now]);
    let fingerprint = |side: Side<'_>, id: CueId| Fingerprint::of(side.show, id, side.proof.plan.cue(id));
    let [rests_on, rests_no_more_on] = rests(found, was, now);
    let mut differs = CueDiffers {
        was,
        now,
        start: elsewhere(&before.start, &after.start),
        end: elsewhere(&before.end, &after.end),
        duration: time(before.duration, after.duration),
        stop_time: time(before.stop_time, after.stop_time),
        closest: closest(old.proof.closest[was.index()], new.proof.closest[now.index()]),
        windows: windows(found, was, now),
        rests_on,
        rests_no_more_on,
        unproven: fingerprint(new, now).parts_beside(&fingerprint(old, was)),
        because: Vec::new(),
        unproven_because: Vec::new(),
    };
    if differs.is_empty() {
        return None;
    }
    differs.because = because(found, changes, &differs);
    differs.unproven_because = unproven_because(found, changes, &differs);
    Some(differs)
}

impl CueDiffers {
    fn is_empty(&self) -> bool {
        self.start.is_empty() && self.end.is_empty() && self.unproven.is_empty() && self.is_only_elsewhere()
    }

    /// Nothing differs but where axes are, if that.
    pub(super) fn is_only_elsewhere(&self) -> bool {
        self.duration.is_none()
            && self.stop_time.is_none()
            && self.closest.is_none()
            && self.windows.is_empty()
            && self.rests_on.is_empty()
            && self.rests_no_more_on.is_empty()
    }
}

fn closest(was: Option<Closest>, now: Option<Closest>) -> Option<[Option<Closest>; 2]> {
    let differs = match (was, now) {
        (Some(was), Some(now)) => (was.value - now.value).abs() > NEARER,
        (Some(_), None) | (None, Some(_)) => true,
        (None, None) => false,
    };
    differs.then_some([was, now])
}

fn windows(found: &Pairing<'_>, was: CueId, now: CueId) -> Vec<WindowDiffers> {
    let told = |windows: Vec<Window>, name: &dyn Fn(CueId) -> String| -> Vec<(String, Vec<Stretch>)> {
        windows.into_iter().map(|window| (name(window.after), window.clear)).collect()
    };
    let before = told(found.old.proof.plan.maps.windows(was), &|id| found.number_now(id));
    let after = told(found.new.proof.plan.maps.windows(now), &|id| found.new.show.number_of(id));
    let of = |windows: &[(String, Vec<Stretch>)], number: &String| {
        windows.iter().find(|(other, _)| other == number).map(|(_, clear)| clear.clone())
    };
    let mut differing = Vec::new();
    for (number, clear) in &after {
        let was = of(&before, number);
        if !was.as_ref().is_some_and(|was| same_stretches(was, clear)) {
            differing.push(WindowDiffers { after: number.clone(), was, now: Some(clear.clone()) });
        }
    }
    for (number, clear) in before {
        if of(&after, &number).is_none() {
            differing.push(WindowDiffers { after: number, was: Some(clear), now: None });
        }
    }
    differing
}

fn same_stretches(was: &[Stretch], now: &[Stretch]) -> bool {
    let same = |a: &Stretch, b: &Stretch| (a.from - b.from).abs() <= WINDOW && (a.to - b.to).abs() <= WINDOW;
    was.len() == now.len() && was.iter().zip(now).all(|(a, b)| same(a, b))
}

/// What it rests on only now, and only before.
fn rests(found: &Pairing<'_>, was: CueId, now: CueId) -> [Vec<Rested>; 2] {
    let rested = |side: Side<'_>, id: CueId, name: &dyn Fn(CueId) -> String| -> Vec<Rested> {
        side.proof.skips.rests_on[id.index()].iter().map(|&(on, why)| Rested { on: name(on), why }).collect()
    };
    let before = rested(found.old, was, &|id| found.number_now(id));
    let after = rested(found.new, now, &|id| found.new.show.number_of(id));
    let without = |these: &[Rested], those: &[Rested]| -> Vec<Rested> {
        these.iter().filter(|one| !those.iter().any(|other| other.on == one.on)).cloned().collect()
    };
    [without(&after, &before), without(&before, &after)]
}
