//! Two cues along one line of their map, proved as one cue is: by halving.

use serde::{Deserialize, Serialize};

use super::lines::{Stretch, through};
use super::{Cell, Couple, CueMap, couples, parties};
use crate::proof::bodies::{Cast, Paper, Span, Stagehand};
use crate::proof::clearance::{BRACKET, Party, SLACK, bound_apart};
use crate::stage::Sweep;

/// s; a span this short that is not proved is told as not proved.
const FINEST: f64 = 1e-5;
/// Spans looked at along one line at most.
const LOOKS_MAX: usize = 100_000;
/// Lines tried for the one on which two cues come nearest.
const LINES_MAX: usize = 6;

/// Where two cues come too near.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Nearest {
    /// m
    pub value: f64,
    /// m, that must remain.
    pub margin: f64,
    /// s, of each cue's own time.
    pub times: [f64; 2],
    pub parties: [Party; 2],
    /// Whether it was seen; else it could only not be proved that they keep clear.
    pub seen: bool,
}

/// Along the lines that can be run: the nearest that the two come, if it is too near.
pub fn worst(hand: &Stagehand, casts: [&Cast; 2], map: &CueMap) -> Option<Nearest> {
    let [first, second] = map.durations;
    let open = map.open();
    if map.cells.is_empty() {
        return None;
    }
    if map.pair.tied() {
        let late = map.pair.to - map.pair.from;
        let met = |stretch: &Stretch| stretch.from <= map.pair.to && map.pair.from <= stretch.to;
        return map.blocked.iter().any(met).then(|| along(hand, casts, map.pair.from, late)).flatten();
    }
    let mut lines: Vec<(&Cell, f64)> = Vec::new();
    for cell in &map.cells {
        let passing = through(cell, first, second);
        let (from, to) = (passing.from.max(open.from), passing.to.min(open.to));
        if from <= to {
            let middle = cell.first.middle() - cell.second.middle();
            lines.push((cell, middle.clamp(from, to)));
        }
    }
    lines.sort_by(|(a, _), (b, _)| a.value.total_cmp(&b.value));
    let tried = lines.iter().step_by(1 + lines.len() / LINES_MAX);
    let seen = tried.filter_map(|&(_, start)| along(hand, casts, start, 0.0));
    let not_proved = lines.first().map(|(cell, _)| Nearest {
        value: cell.value,
        margin: cell.margin,
        times: [cell.first.middle(), cell.second.middle()],
        parties: cell.parties,
        seen: cell.seen(),
    });
    seen.min_by(|a, b| a.value.total_cmp(&b.value)).or(not_proved)
}

/// With the second started when the first is at `start` s, or up to `late` s later: the nearest that they come, if
/// it is too near.
pub fn along(hand: &Stagehand, casts: [&Cast; 2], start: f64, late: f64) -> Option<Nearest> {
    let couples = couples(hand, casts);
    let mut walk = Walk {
        hand,
        casts,
        start,
        late,
        papers: casts.map(Cast::paper),
        sweeps: [Vec::new(), Vec::new()],
        nearest: None,
        looks: 0,
    };
    for part in parts(casts.map(Cast::duration), start, late) {
        walk.look(part, &couples);
    }
    walk.nearest
}

/// The second's clock, parted where either begins or ends beside the other: across such a time the middles of the two
/// spans would lie beside the line, at times that never come together.
fn parts([first, second]: [f64; 2], start: f64, late: f64) -> Vec<Span> {
    let end = second.max(first - start);
    let mut turns = vec![0.0, second, -start - late, -start, first - start - late, first - start, end];
    turns.retain(|turn| (0.0..=end).contains(turn));
    turns.sort_by(f64::total_cmp);
    let parts = turns.windows(2).map(|turn| Span { from: turn[0], to: turn[1] });
    parts.filter(|part| part.length() > 0.0).collect()
}

struct Walk<'a> {
    hand: &'a Stagehand<'a>,
    casts: [&'a Cast<'a>; 2],
    start: f64,
    late: f64,
    papers: [Paper; 2],
    sweeps: [Vec<Sweep>; 2],
    nearest: Option<Nearest>,
    looks: usize,
}

impl Walk<'_> {
    /// `span` is of the second's clock.
    fn look(&mut self, span: Span, open: &[Couple]) {
        self.looks += 1;
        let spans = self.spans(span);
        for side in [0, 1] {
            self.casts[side].over(spans[side], &mut self.papers[side], &mut self.sweeps[side]);
        }
        let left: Vec<Couple> =
            open.iter().filter(|couple| !self.settled(couple, spans.map(Span::middle))).copied().collect();
        if left.is_empty() {
            return;
        }
        if span.length() <= FINEST || self.looks > LOOKS_MAX {
            if self.nearest.is_none() {
                self.nearest = Some(self.note(&left[0], left[0].margin, spans.map(Span::middle), false));
            }
            return;
        }
        for half in span.halves() {
            self.look(half, &left);
        }
    }

    fn spans(&self, span: Span) -> [Span; 2] {
        let [first, second] = self.casts.map(Cast::duration);
        let within = |from: f64, to: f64, end: f64| Span { from: from.clamp(0.0, end), to: to.clamp(0.0, end) };
        let (from, to) = (self.start + span.from, self.start + span.to + self.late);
        [within(from, to, first), within(span.from, span.to, second)]
    }

    fn settled(&mut self, couple: &Couple, times: [f64; 2]) -> bool {
        let margin = couple.margin - SLACK;
        let enough = |nearest: &Option<Nearest>| match nearest {
            Some(nearest) if nearest.seen => margin.min(nearest.value - BRACKET),
            Some(_) | None => margin,
        };
        let needed = enough(&self.nearest);
        if needed <= 0.0 {
            return true;
        }
        let [a, b] = [0, 1].map(|side| &self.sweeps[side][couple.bodies[side]]);
        let bound = bound_apart(a, b, needed);
        if bound.least >= needed {
            return true;
        }
        let value = bound.middle.max(0.0);
        if value < margin && self.nearest.is_none_or(|nearest| !nearest.seen || value < nearest.value) {
            self.nearest = Some(self.note(couple, value, times, true));
        }
        let needed = enough(&self.nearest);
        needed <= 0.0 || bound.least >= needed
    }

    fn note(&self, couple: &Couple, value: f64, times: [f64; 2], seen: bool) -> Nearest {
        Nearest { value, margin: couple.margin, times, parties: parties(self.hand, self.casts, couple), seen }
    }
}
