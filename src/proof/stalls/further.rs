//! The further cues of a group: those that may brake at one rate with one cue or two, and where in their time they can be then.
//!
//! Of two that are linked by their map it is known how far they can be apart: they share a rate from the start of the later on,
//! which is no sooner than that of the earlier in the list where that begins first, and at none that is blocked. What is clear of
//! a cue all over may have gone at a rate of its own until something bound the two, and can be anywhere. A cue that stalls shortly
//! before its end may have ended, by its clock, before that is noticed; what comes only then counts too.

use std::collections::BTreeSet;

use super::bearing::{Bearing, Spans};
use crate::proof::bodies::Span;
use crate::proof::maps::{Maps, Stretch, gaps};
use crate::proof::sharing::Sharing;
use crate::show::CueId;

/// s; clocks that are told apart by less are not.
const ROUNDING: f64 = 1e-6;

const WHOLE: Stretch = Stretch { from: f64::NEG_INFINITY, to: f64::INFINITY };

/// A cue that may share the rate of some others.
pub struct Further<'a> {
    pub cue: CueId,
    pub bearing: &'a Bearing,
    /// By the others: how much farther along that one can be than this, s; empty if the two cannot run together.
    pub ahead: Vec<Vec<Stretch>>,
    /// Which of the others must have ended before, if it cannot share a rate with all of them.
    pub once_ended: Option<usize>,
}

impl<'a> Further<'a> {
    /// `None` if the cue cannot run with one of the others.
    pub fn new(
        (maps, sharing): (&Maps, &Sharing),
        (cue, bearing): (CueId, &'a Bearing),
        others: &[CueId],
    ) -> Option<Further<'a>> {
        let ahead: Vec<Vec<Stretch>> = others.iter().map(|&other| ahead(maps, sharing, cue, other)).collect();
        let together = ahead.iter().all(|ahead| !ahead.is_empty());
        together.then_some(Further { cue, bearing, ahead, once_ended: None })
    }

    /// Of one that can share the rate of one of two, seen from both, once the other of them has ended.
    pub fn once_ended(mut self, other: usize) -> Further<'a> {
        self.ahead.insert(other, vec![WHOLE]);
        Further { once_ended: Some(other), ..self }
    }

    /// From where to where it can be while each of the others is within some spans of its time; what is before that or after it
    /// counts to the first or the last. `None` if it cannot be under way then.
    pub fn spans(&self, others: &[(&Bearing, Spans)]) -> Option<Spans> {
        let is_last = |at: usize| others[at].1[1] + 1 == others[at].0.spans();
        let mut part = Span { from: 0.0, to: self.bearing.duration };
        for (&(bearing, [first, last]), ahead) in others.iter().zip(&self.ahead) {
            let from = if first == 0 { f64::NEG_INFINITY } else { bearing.span(first)[0] };
            let to = if last + 1 == bearing.spans() { f64::INFINITY } else { bearing.span(last)[1] };
            let within = |stretch: &Stretch| {
                let from = part.from.max(from - stretch.to - ROUNDING);
                let to = part.to.min(to - stretch.from + ROUNDING);
                (from <= to).then_some(Span { from, to })
            };
            let hull = |one: Span, other: Span| Span { from: one.from.min(other.from), to: one.to.max(other.to) };
            part = ahead.iter().filter_map(within).reduce(hull)?;
        }
        self.once_ended.is_none_or(is_last).then(|| self.bearing.around(part))
    }
}

/// Those of some that lengthen a brake by themselves, in the order of the list; if none does, all.
pub fn told<'a>(further: &'a [Further<'a>], lengthens: impl Fn(&&'a Further<'a>) -> bool) -> Vec<CueId> {
    let cues = |which: &dyn Fn(&&'a Further<'a>) -> bool| -> BTreeSet<CueId> {
        further.iter().filter(|one| which(one)).map(|one| one.cue).collect()
    };
    let by_itself = cues(&lengthens);
    let all = if by_itself.is_empty() { cues(&|_| true) } else { by_itself };
    all.into_iter().collect()
}

/// How much farther along another cue can be than a cue that shares its rate, s.
fn ahead(maps: &Maps, sharing: &Sharing, cue: CueId, other: CueId) -> Vec<Stretch> {
    let Some(map) = maps.of(cue.min(other), cue.max(other)) else { return Vec::new() };
    if map.cells.is_empty() {
        return vec![WHOLE];
    }
    let ([first, second], pair) = (map.durations, map.pair);
    // The starts of the second, s after the first's.
    let from = if sharing.is_after(pair.second, pair.first) { 0.0 } else { -second };
    let to = if sharing.is_after(pair.first, pair.second) { 0.0 } else { first };
    let starts = gaps(&map.blocked, Stretch { from, to });
    if other < cue {
        return starts;
    }
    starts.iter().map(|start| Stretch { from: -start.to, to: -start.from }).collect()
}
