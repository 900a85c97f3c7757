//! How far two cues that run together go on once they brake, from any two times of theirs.
//!
//! How the search comes out for two in any two of their states no table tells. But a group takes no brake that goes farther than the
//! shortest of the standard brakes that all of it bear (`motion::no_farther`); and that is known of each cue by itself, from
//! anywhere within each span of its time ([`Bearing`]). So of two spans the shortest that both bear is a bound, at every rate; it
//! may begin at the next instant of either. Who shares their rate must bear it too, wherever it can be then ([`Further`]).
//!
//! Most pairs of spans need not be looked at: a brake that all bear from all of some places bounds those from each, so what cannot
//! matter by such a bound is passed over ([`Brakes::most`], [`Brakes::bound`]), and of the rest no more is looked at than from where a
//! brake may come that far.
//!
//! Of one cue the longest on a part of its spans is read off a sparse table: the longest of every run of places whose number
//! is a power of two, two of which cover any part (Bender and Farach-Colton, *The LCA Problem Revisited*, 2000).

#[cfg(test)]
mod tests;

use std::cell::OnceCell;

use super::bearing::{Bearing, Spans};
use super::coast::Way;
use super::further::Further;
use crate::motion::{RUNGS, SHAPES, Standard};
use crate::proof::bodies::Span;

/// Times that the place where a brake begins is narrowed down.
const TIGHTENINGS: usize = 3;

/// Of two cues, and of those that may share their rate.
pub struct Brakes<'a> {
    bearings: [&'a Bearing; 2],
    chorus: Chorus<'a>,
    /// By way, once it is known.
    most: [Option<f64>; 2],
    /// By way, then by the spans of the first and of the second cue, a row once it is asked for: the shortest that all bear, or
    /// below zero where it is not known yet.
    known: [Vec<Vec<f64>>; 2],
}

/// A stall and what it may lead into: the part of a cue's time in which that is noticed, of the cue on which side, and the part of
/// the other's that is led into.
#[derive(Clone, Copy)]
pub struct Leads {
    pub way: Way,
    pub side: usize,
    pub stalled: Span,
    pub into: Span,
}

impl<'a> Brakes<'a> {
    pub fn new(bearings: [&'a Bearing; 2], further: &'a [Further<'a>]) -> Brakes<'a> {
        let rows = || vec![Vec::new(); bearings[0].spans()];
        Brakes { bearings, chorus: Chorus::of(further), most: [None; 2], known: [rows(), rows()] }
    }

    /// s of the cues' own times: more than any brake goes on.
    pub fn most(&mut self, way: Way) -> f64 {
        if let Some(most) = self.most[way.index()] {
            return most;
        }
        let most = self.spacing() + self.of_all(way, self.bearings.map(|bearing| [0, bearing.spans() - 1]));
        *self.most[way.index()].insert(most)
    }

    /// The same of those that lead somewhere: by one that all of them bear.
    pub fn bound(&mut self, leads: Leads) -> f64 {
        let most = self.most(leads.way);
        self.narrowed(leads, most, Brakes::of_all)
    }

    /// The most that one of those goes on.
    pub fn longest(&mut self, leads: Leads) -> f64 {
        let bound = self.bound(leads);
        self.narrowed(leads, bound, Brakes::of_each)
    }

    /// A brake ends at the latest in what it leads into, so it begins no farther before that than it is long: none is longer than
    /// the longest of those that begin so near.
    fn narrowed(&mut self, leads: Leads, bound: f64, longest: impl Fn(&mut Self, Way, [Spans; 2]) -> f64) -> f64 {
        let mut brake = bound;
        for _ in 0..=TIGHTENINGS {
            let places = self.places(leads, brake);
            let narrower = self.spacing() + longest(self, leads.way, places);
            if narrower >= brake {
                break;
            }
            brake = narrower;
        }
        brake
    }

    /// Where each of the two can be when a brake begins that is no longer than so many s.
    fn places(&self, Leads { way, side, stalled, into }: Leads, brake: f64) -> [Spans; 2] {
        let other = match way {
            Way::Forth => Span { from: into.from - brake, ..into },
            Way::Back => Span { to: into.to + brake, ..into },
        };
        let around = |side: usize, part: Span| self.bearings[side].around(begins(way, part, self.spacing()));
        let [here, there] = [around(side, stalled), around(1 - side, other)];
        if side == 0 { [here, there] } else { [there, here] }
    }

    fn spacing(&self) -> f64 {
        self.bearings[0].spacing.max(self.bearings[1].spacing)
    }

    /// The shortest that all bear from all of some places.
    fn of_all(&mut self, way: Way, [first, second]: [Spans; 2]) -> f64 {
        self.chorus.shortest_way(way, &[(self.bearings[0], first), (self.bearings[1], second)])
    }

    /// The longest of the shortest from each of some places: no longer than one from all of them, so at that it is found.
    fn of_each(&mut self, way: Way, places: [Spans; 2]) -> f64 {
        let most = self.of_all(way, places);
        let [first, second] = places.map(|[first, last]| first..=last);
        let mut longest: f64 = 0.0;
        for (one, other) in first.flat_map(|one| second.clone().map(move |other| (one, other))) {
            longest = longest.max(self.shortest(way, [one, other]));
            if longest >= most {
                break;
            }
        }
        longest
    }

    /// From one span of each.
    fn shortest(&mut self, way: Way, [one, other]: [usize; 2]) -> f64 {
        let row = &mut self.known[way.index()][one];
        if row.is_empty() {
            row.resize(self.bearings[1].spans(), -1.0);
        }
        if row[other] < 0.0 {
            let shortest = self.of_all(way, [[one; 2], [other; 2]]);
            self.known[way.index()][one][other] = shortest;
        }
        self.known[way.index()][one][other]
    }
}

/// Of one cue, and of those that may share its rate.
pub struct SharedBrakes<'a> {
    bearing: &'a Bearing,
    further: &'a [Further<'a>],
    /// By way.
    lines: [OnceCell<Longest>; 2],
}

impl<'a> SharedBrakes<'a> {
    pub fn new(bearing: &'a Bearing, further: &'a [Further<'a>]) -> SharedBrakes<'a> {
        SharedBrakes { bearing, further, lines: Default::default() }
    }

    /// s of the cue's own time: the most that a brake goes on that begins while it is in a part of that.
    pub fn longest(&self, way: Way, part: Span) -> f64 {
        let line = &self.lines[way.index()];
        let ways = || {
            let mut chorus = Chorus::of(self.further);
            (0..self.bearing.spans()).map(|span| chorus.shortest_way(way, &[(self.bearing, [span; 2])])).collect()
        };
        let spacing = self.bearing.spacing;
        let spans = self.bearing.around(begins(way, part, spacing));
        spacing + line.get_or_init(|| Longest::of(ways())).over(spans)
    }
}

/// Where a brake may begin that is asked for in a part of a cue's time.
fn begins(way: Way, part: Span, spacing: f64) -> Span {
    match way {
        Way::Forth => Span { to: part.to + spacing, ..part },
        Way::Back => Span { from: part.from - spacing, ..part },
    }
}

/// The further cues of a group, as its brakes meet them.
struct Chorus<'a> {
    further: &'a [Further<'a>],
    /// s, of the longest of them.
    longest: f64,
    /// By way and shape: of each brake whether it is known, and whether all that can be there from the first bear it from
    /// anywhere, bit by bit.
    anywhere: [[[u64; 2]; SHAPES.len()]; 2],
    /// By index and run of spans: where they can be, if that is told.
    there: Vec<(usize, usize)>,
    is_told: bool,
}

impl<'a> Chorus<'a> {
    fn of(further: &'a [Further<'a>]) -> Chorus<'a> {
        let longest = further.iter().map(|one| one.bearing.duration).fold(0.0, f64::max);
        Chorus { further, longest, anywhere: Default::default(), there: Vec::new(), is_told: false }
    }

    /// The shortest that all bear, from anywhere within some spans of each of some cues, and wherever the further ones can be then;
    /// at most all run to where they end.
    fn shortest_way(&mut self, way: Way, cues: &[(&Bearing, Spans)]) -> f64 {
        let left = cues.iter().map(|(bearing, [first, last])| match way {
            Way::Forth => bearing.duration - bearing.span(*first)[0],
            Way::Back => bearing.span(*last)[1],
        });
        let mut shortest = left.fold(self.longest, f64::max);
        self.there.clear();
        self.is_told = false;
        for shape in 0..SHAPES.len() {
            let before = Standard::shorter(shape, shortest);
            if let Some(rung) = self.shortest_of(way, cues, shape, before) {
                shortest = Standard { shape, rung }.way();
            }
        }
        shortest
    }

    /// The first rung of a shape that all bear.
    fn shortest_of(&mut self, way: Way, cues: &[(&Bearing, Spans)], shape: usize, before: usize) -> Option<usize> {
        let mut open = if before < RUNGS { (1 << before) - 1 } else { u64::MAX };
        loop {
            // Whatever is known already not to be borne by one of them is passed over at once.
            for (bearing, spans) in cues {
                bearing.runs(*spans).for_each(|run| open &= bearing.may_bear(way, run, shape));
            }
            for &(one, run) in &self.there {
                open &= self.further[one].bearing.may_bear(way, run, shape);
            }
            if open == 0 {
                return None;
            }
            let rung = open.trailing_zeros() as usize;
            let brake = Standard { shape, rung };
            if !cues.iter().all(|(bearing, spans)| bearing.bears(way, *spans, brake)) {
                continue;
            }
            if self.may_be_anywhere(way, brake, cues) {
                return Some(rung);
            }
            self.tell_where(cues);
            if self.there.iter().all(|&(one, run)| self.further[one].bearing.run_bears(way, run, brake)) {
                return Some(rung);
            }
        }
    }

    /// Where the further ones can be, once for each place of the others.
    fn tell_where(&mut self, cues: &[(&Bearing, Spans)]) {
        if std::mem::replace(&mut self.is_told, true) {
            return;
        }
        for (index, one) in self.further.iter().enumerate() {
            let runs = one.spans(cues).into_iter().flat_map(|spans| one.bearing.runs(spans));
            self.there.extend(runs.map(|run| (index, run)));
        }
    }

    /// Whether all bear it wherever they are; of the most is known already. Where a cue ends, there may be more of them.
    fn may_be_anywhere(&mut self, way: Way, brake: Standard, cues: &[(&Bearing, Spans)]) -> bool {
        let comes_then = |one: &Further| one.once_ended.is_some();
        if cues.iter().any(|(bearing, [_, last])| last + 1 == bearing.spans())
            && self.further.iter().any(comes_then)
        {
            return false;
        }
        let [known, borne] = &mut self.anywhere[way.index()][brake.shape];
        let bit = 1 << brake.rung;
        if *known & bit == 0 {
            let bears =
                |one: &Further| comes_then(one) || one.bearing.bears(way, [0, one.bearing.spans() - 1], brake);
            *known |= bit;
            *borne |= if self.further.iter().all(bears) { bit } else { 0 };
        }
        *borne & bit != 0
    }
}

/// A row of numbers, and the greatest of every run of 1, 2, 4, 8... of them, by where it begins.
#[derive(Default)]
struct Longest(Vec<Vec<f64>>);

impl Longest {
    fn of(row: Vec<f64>) -> Longest {
        let mut runs = vec![row];
        for half in (0..).map(|level| 1 << level) {
            let below = &runs[runs.len() - 1];
            if below.len() <= half {
                break;
            }
            runs.push(below.iter().zip(&below[half..]).map(|(a, b)| a.max(*b)).collect());
        }
        Longest(runs)
    }

    /// The greatest from the first to the last of two places, both of which are in the row.
    fn over(&self, [first, last]: [usize; 2]) -> f64 {
        let level = (last + 1 - first).ilog2() as usize;
        let runs = &self.0[level];
        runs[first].max(runs[last + 1 - (1 << level)])
    }
}
