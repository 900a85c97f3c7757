//! The least change of one cue that lets it pass.

use super::Edit;
use crate::proof::bodies::Stagehand;
use crate::proof::clearance::{BRACKET, Group, Other, Short, keeps_margins};
use crate::proof::memory::{Content, Memory};
use crate::proof::plan::{CuePlan, Plan};
use crate::proof::stalls::{self, Bearing, Further, Groups, SharedBrakes};
use crate::proof::stops::Stops;
use crate::proof::timeline::plan_cue;
use crate::show::{CueId, RigId, Show};

/// s, to which a delay or a time is told.
const STEP: f64 = 0.1;
/// Delays, and times, tried from none to the longest, before the least is narrowed down.
const TRIES: usize = 16;

/// What may settle it: of the delays the shortest, of the times the one that adds least, and the margin.
pub fn edits(show: &Show, plan: &Plan, cue: CueId, short: &Short, memory: &Memory) -> Vec<Edit> {
    let machines = Content::of_machines(show);
    let groups = Groups::new(show, plan, &machines);
    let trial = Trial { show, plan, cue, short, further: groups.further(&[cue]), groups: &groups, memory };
    let steps = 0..show.cue(cue).moves.len();
    let moves: Vec<usize> = steps.filter(|&step| trial.concerns(show.cue(cue).moves[step].rig)).collect();
    let mut edits = Vec::new();
    // Where only one of the two moves, it passes the other whenever it does.
    if moves.len() > 1 {
        let delays = moves.iter().filter_map(|&step| trial.least_delay(step));
        let times = moves.iter().filter_map(|&step| trial.least_time(step));
        let least = |found: &mut dyn Iterator<Item = (f64, Edit)>| {
            found.min_by(|(a, _), (b, _)| a.total_cmp(b)).map(|(_, edit)| edit)
        };
        edits.extend(least(&mut { delays }));
        edits.extend(least(&mut { times }));
    }
    edits.extend(trial.margin());
    edits
}

struct Trial<'a> {
    show: &'a Show,
    plan: &'a Plan,
    cue: CueId,
    short: &'a Short,
    /// Whom it may share its rate with, as the show is.
    further: Vec<Further<'a>>,
    groups: &'a Groups<'a>,
    memory: &'a Memory,
}

impl Trial<'_> {
    /// Whether a rig, or what it carries or rides on, is one of the two.
    fn concerns(&self, rig: RigId) -> bool {
        let with = |other: RigId| rig == other || self.show.same_carriage(rig, other);
        let Group { rig: one, other, .. } = self.short.group;
        with(one) || matches!(other, Other::Rig(other) if with(other))
    }

    /// Whether the two keep clear in the cue as edited, all rigs well or one stalled.
    fn passes(&self, edit: &Edit) -> bool {
        let show = edit.applied(self.show);
        let mut told = Vec::new();
        let planned = plan_cue(&show, self.cue, &self.plan.cue(self.cue).start, &self.plan.cues, &mut told);
        let Group { rig, other, .. } = self.short.group;
        let hand = Stagehand::new(&show);
        let content = Content::of_machines(&show).kind("trial").margins(&show, &hand.moved_rigs(&planned));
        let content = self.groups.with(content, &self.further).cue(&planned).also(match other {
            Other::Rig(other) => [0.0, rig.index() as f64, other.index() as f64],
            Other::Zone(zone) => [1.0, rig.index() as f64, zone as f64],
        });
        self.memory.trial(content, || self.keeps_clear(&hand, &planned))
    }

    fn keeps_clear(&self, hand: &Stagehand, planned: &CuePlan) -> bool {
        let same = |other: &Group| self.short.group.is_same(other);
        let stops = Stops::of(hand.show, planned);
        let bearing = Bearing::new(hand.show, planned);
        let brakes = SharedBrakes::new(&bearing, &self.further);
        let shared = (!self.further.is_empty()).then_some(&brakes);
        keeps_margins(hand, planned, &same)
            && !stalls::within(hand, planned, &stops, shared).iter().any(|(_, short)| same(&short.group))
    }

    /// s that it adds, with the edit.
    fn least_delay(&self, step: usize) -> Option<(f64, Edit)> {
        let cue = self.cue;
        let now = self.show.cue(cue).moves[step].delay;
        let edit = |more: f64| Edit::Delay { cue, step, delay: tenths(now + more) };
        // Once all else has ended a later start changes nothing.
        self.least(self.plan.cue(cue).duration - now, edit)
    }

    fn least_time(&self, step: usize) -> Option<(f64, Edit)> {
        let cue = self.cue;
        let now = self.plan.cue(cue).moves[step].duration();
        let edit = |more: f64| match &self.show.cue(cue).moves[step].playing {
            None => Edit::Time { cue, step, time: tenths(now + more) },
            Some(playing) => {
                let stretch = hundredths(playing.stretch * (now + more) / now);
                Edit::Stretch { cue, step, stretch }
            }
        };
        self.least(2.0 * now, edit)
    }

    fn least(&self, most: f64, edit: impl Fn(f64) -> Edit) -> Option<(f64, Edit)> {
        let stride = tenths((most / TRIES as f64).max(STEP));
        let tries = (most / stride).ceil() as usize;
        let passing = (1..=tries).map(|at| stride * at as f64).find(|&more| self.passes(&edit(more)))?;
        // A stride below it did not pass; in between it is halved.
        let (mut too_little, mut least) = (passing - stride, passing);
        while least - too_little > 1.5 * STEP {
            let middle = tenths((too_little + least) / 2.0);
            if self.passes(&edit(middle)) { least = middle } else { too_little = middle }
        }
        Some((least, edit(least)))
    }

    /// The greatest margin that it keeps, in whole centimetres.
    fn margin(&self) -> Option<Edit> {
        let margin = ((self.short.closest.value - BRACKET) * 100.0).floor() / 100.0;
        let Group { rig, other, .. } = self.short.group;
        let edit = match other {
            Other::Rig(other) => Edit::PairMargin { rigs: [rig, other], margin },
            Other::Zone(zone) => Edit::ZoneMargin { zone, margin },
        };
        (margin > 0.0 && self.passes(&edit)).then_some(edit)
    }
}

/// In whole hundredths, and no less.
fn hundredths(factor: f64) -> f64 {
    (factor * 100.0 - 1e-6).ceil() / 100.0
}

/// In whole tenths, and no less.
fn tenths(seconds: f64) -> f64 {
    (seconds * 10.0 - 1e-6).ceil() / 10.0
}
