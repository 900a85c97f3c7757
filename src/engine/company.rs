//! Cues beside each other: whether their maps let one start, or go back, while others are under way.
//!
//! Running cues share one rate, so from the start of the later on they stand on one line of their map. What is not on
//! it: a cue that waits at its start to be taken into the rate, and what has ended meanwhile. The first is looked at
//! again as it is taken in; the second where a cue goes back.

use arrayvec::ArrayVec;

use super::group::Member;
use super::reason::{Reason, Refusal};
use super::tick::Engine;
use crate::proof::{Company, Plan, Stretch};
use crate::show::CueId;

/// Clear spans that are told of a standby.
pub const SPANS_MAX: usize = 4;
/// s; a span shorter than this is none for a hand.
const SHORTEST: f64 = 0.1;
/// Blocked stretches that are kept while the clear ones are looked for.
const BLOCKED_MAX: usize = 32;

/// When a standby may be fired, s of the show's clock from now; `to` is `None` where nothing ends it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClearSpan {
    pub from: f64,
    pub to: Option<f64>,
}

/// Whether a cue moves anything at all.
fn moves(plan: &Plan, cue: CueId) -> bool {
    plan.cue(cue).duration > 0.0
}

/// What the maps say of a cue that starts while another is at `time` s.
pub fn company(plan: &Plan, cue: CueId, other: CueId, time: f64) -> Company {
    if moves(plan, cue) && moves(plan, other) { plan.maps.company(cue, other, time) } else { Company::Clear }
}

/// Whether a member that stands at its start may join those that run.
pub fn may_join(plan: &Plan, member: &Member, members: &[Member]) -> bool {
    let beside = members.iter().filter(|other| other.joined && other.cue != member.cue);
    beside.into_iter().all(|other| company(plan, member.cue, other.cue, other.time) == Company::Clear)
}

impl Engine {
    /// Cues that run or wait and come too near if this one starts now, or of which that is not proved.
    pub(super) fn company_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        for member in self.group.members.iter().filter(|member| member.cue != cue) {
            self.beside(cue, member.cue, member.time, refusal);
        }
        // One that waits may never come: it must be clear of all of this one where it stands.
        for wait in self.waits.iter().filter(|wait| wait.cue < cue && self.moves_bodies(wait.cue)) {
            self.beside(cue, wait.cue, -self.plan.cue(cue).duration, refusal);
        }
    }

    fn beside(&self, cue: CueId, other: CueId, time: f64, refusal: &mut Refusal) {
        match company(&self.plan, cue, other, time) {
            Company::Clear => {}
            // Where the list keeps two apart, what does so says more.
            Company::Unproved if !refusal.is_empty() => {}
            Company::Unproved => refusal.push(Reason::NotProvedTogether { cue: other }),
            Company::Blocked(obstacle) => refusal.push(Reason::InTheWay {
                cue: other,
                time: time.max(0.0),
                bodies: obstacle.parties,
                distance: obstacle.distance,
                margin: obstacle.margin,
                clears: obstacle.clears,
            }),
        }
    }

    fn moves_bodies(&self, cue: CueId) -> bool {
        self.axes_of(cue).any(|axis| self.show.axis(axis).joint.is_some())
    }

    /// What has ended since a cue was fired stands elsewhere than when the cue passed here.
    pub(super) fn ended_since_reasons(&self, member: &Member, refusal: &mut Refusal) {
        for other in self.show.cue_ids() {
            let since = self.done[other.index()] && self.done_at[other.index()] >= member.fired_at;
            if since && other != member.cue {
                self.beside(member.cue, other, self.plan.cue(other).duration, refusal);
            }
        }
    }

    /// When a standby may be fired beside what runs; nothing to tell if that is always.
    pub(super) fn clear_spans(&self, cue: CueId) -> ArrayVec<ClearSpan, SPANS_MAX> {
        let mut blocked: ArrayVec<Stretch, BLOCKED_MAX> = ArrayVec::new();
        for member in self.group.members.iter().filter(|member| member.cue != cue) {
            let (other, duration) = (member.cue, self.plan.cue(member.cue).duration);
            if moves(&self.plan, cue) && moves(&self.plan, other) {
                self.plan.maps.blocked_ahead(cue, other, member.time, duration, |stretch| {
                    // Full it takes the rest into its last, which is the safe way to be wrong.
                    if let Err(full) = blocked.try_push(stretch)
                        && let Some(last) = blocked.last_mut()
                    {
                        let left = full.element();
                        *last = Stretch { from: last.from.min(left.from), to: last.to.max(left.to) };
                    }
                });
            }
        }
        blocked.sort_unstable_by(|a, b| a.from.total_cmp(&b.from));
        let (mut spans, mut from) = (ArrayVec::new(), 0.0_f64);
        for stretch in &blocked {
            if stretch.from - from >= SHORTEST && !spans.is_full() {
                spans.push(ClearSpan { from, to: Some(stretch.from) });
            }
            from = from.max(stretch.to);
        }
        if !blocked.is_empty() && !spans.is_full() {
            spans.push(ClearSpan { from, to: None });
        }
        spans
    }
}
