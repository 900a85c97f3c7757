//! How far two cues that run together go on once they brake, from any two times of theirs.
//!
//! How the search comes out for two in any two of their states no table tells. But a group takes no brake that goes farther than the
//! shortest of the standard brakes that all of it bear (`motion::no_farther`); and that is known of each cue by itself, from
//! anywhere within each span of its time ([`Bearing`]). So of two spans the shortest that both bear is a bound, at every rate; it
//! may begin at the next instant of either. Who shares their rate must bear it too, wherever it can be then ([`Further`]).
//!
//! The longest on a part of a row or a column is read off a sparse table: the longest of every run of places whose number
//! is a power of two, two of which cover any part (Bender and Farach-Colton, *The LCA Problem Revisited*, 2000).

use std::cell::OnceCell;

use super::bearing::Bearing;
use super::coast::Way;
use super::further::Further;
use crate::motion::{RUNGS, SHAPES, Standard};
use crate::proof::bodies::Span;

/// Of two cues, and of those that may share their rate.
pub struct Brakes<'a> {
    bearings: [&'a Bearing; 2],
    chorus: Chorus<'a>,
    /// By way and side, then by the span of that cue: along all spans of the other.
    lines: [[Vec<Option<Longest>>; 2]; 2],
}

impl<'a> Brakes<'a> {
    pub fn new(bearings: [&'a Bearing; 2], further: &'a [Further<'a>]) -> Brakes<'a> {
        let lines = || bearings.map(|bearing| (0..bearing.spans()).map(|_| None).collect());
        Brakes { bearings, chorus: Chorus::of(further), lines: [lines(), lines()] }
    }

    /// s of the cues' own times: the most that a brake goes on that begins while the cue on one side is in one part of its time
    /// and the other in another.
    pub fn longest(&mut self, way: Way, side: usize, here: Span, there: Span) -> f64 {
        let spacing = self.bearings[0].spacing.max(self.bearings[1].spacing);
        let here = self.bearings[side].around(begins(way, here, spacing));
        let there = self.bearings[1 - side].around(begins(way, there, spacing));
        spacing + (here[0]..=here[1]).map(|span| self.line(way, side, span).over(there)).fold(0.0, f64::max)
    }

    fn line(&mut self, way: Way, side: usize, span: usize) -> &Longest {
        let direction = match way {
            Way::Forth => 0,
            Way::Back => 1,
        };
        if self.lines[direction][side][span].is_none() {
            let along = |other: usize| if side == 0 { [span, other] } else { [other, span] };
            let [first, second] = self.bearings;
            let mut way_from =
                |[one, other]: [usize; 2]| self.chorus.shortest_way(way, &[(first, one), (second, other)]);
            let ways = (0..self.bearings[1 - side].spans()).map(|other| way_from(along(other))).collect();
            self.lines[direction][side][span] = Some(Longest::of(ways));
        }
        self.lines[direction][side][span].get_or_insert_default()
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
        let line = match way {
            Way::Forth => &self.lines[0],
            Way::Back => &self.lines[1],
        };
        let ways = || {
            let mut chorus = Chorus::of(self.further);
            (0..self.bearing.spans()).map(|span| chorus.shortest_way(way, &[(self.bearing, span)])).collect()
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

    /// The shortest that all bear, from anywhere within a span of each of some cues, and wherever the further ones can be then; at
    /// most all run to where they end.
    fn shortest_way(&mut self, way: Way, cues: &[(&Bearing, usize)]) -> f64 {
        let left = cues.iter().map(|(bearing, span)| match way {
            Way::Forth => bearing.duration - bearing.span(*span)[0],
            Way::Back => bearing.span(*span)[1],
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
    fn shortest_of(&mut self, way: Way, cues: &[(&Bearing, usize)], shape: usize, before: usize) -> Option<usize> {
        let mut open = if before < RUNGS { (1 << before) - 1 } else { u64::MAX };
        loop {
            // Whatever is known already not to be borne by one of them is passed over at once.
            for (bearing, span) in cues {
                open &= bearing.may_bear(way, bearing.spans() + span, shape);
            }
            for &(one, run) in &self.there {
                open &= self.further[one].bearing.may_bear(way, run, shape);
            }
            if open == 0 {
                return None;
            }
            let rung = open.trailing_zeros() as usize;
            let brake = Standard { shape, rung };
            if !cues.iter().all(|(bearing, span)| bearing.bears(way, [*span; 2], brake)) {
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
    fn tell_where(&mut self, cues: &[(&Bearing, usize)]) {
        if std::mem::replace(&mut self.is_told, true) {
            return;
        }
        for (index, one) in self.further.iter().enumerate() {
            let runs = one.spans(cues).into_iter().flat_map(|spans| one.bearing.runs(spans));
            self.there.extend(runs.map(|run| (index, run)));
        }
    }

    /// Whether all bear it wherever they are; of the most is known already. Where a cue ends, there may be more of them.
    fn may_be_anywhere(&mut self, way: Way, brake: Standard, cues: &[(&Bearing, usize)]) -> bool {
        let comes_then = |one: &Further| one.once_ended.is_some();
        if cues.iter().any(|(bearing, span)| span + 1 == bearing.spans()) && self.further.iter().any(comes_then) {
            return false;
        }
        let direction = match way {
            Way::Forth => 0,
            Way::Back => 1,
        };
        let [known, borne] = &mut self.anywhere[direction][brake.shape];
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{Ceiling, Course, Profile, Regime, Track, change_rate, no_farther};
    use crate::proof::bent::Bent;
    use crate::proof::course::{courses, push_courses};
    use crate::proof::fixture;
    use crate::proof::plan::{AxisPath, CuePlan};
    use crate::show::{Limits, Show, Unit};
    use crate::stage::fixture::{add_axis, add_rig, empty_show, slide};
    use glam::DVec3;
    use proptest::prelude::*;

    /// Numbers from 0 to 1 from a seed, the same everywhere.
    fn chance(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) + 1;
        move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            ((state ^ (state >> 33)) >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    /// Two slides, a cue for each, and stopping limits above what the cues reach by at most `reserve`, as a part.
    fn pair(seed: u64, reserve: f64) -> (Show, [CuePlan; 2]) {
        let mut chance = chance(seed);
        let mut show = empty_show();
        for _ in 0..2 {
            add_rig(&mut show, DVec3::ZERO, 0.0, None);
            add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), Vec::new());
        }
        let long = 2.0 + 6.0 * chance();
        let plans = [0, 1].map(|rig| {
            let way = 1.0 + 4.0 * chance();
            let mut plan = fixture::plan(&show, 1.0, &[0.0; 2], &[way; 2]);
            plan.moves.retain(|step| step.rig.index() == rig);
            let speed = 1.0 / (long * (0.4 + 0.6 * chance()));
            let acceleration = speed / (0.3 + 2.0 * chance());
            let peaks = Ceiling { speed, acceleration, jerk: acceleration / (0.1 + chance()) };
            plan.moves[0].profile = Profile::fastest(peaks);
            plan.moves[0].delay = 0.5 * chance();
            plan.duration = plan.moves[0].end();
            let axis = &mut show.axes[rig];
            axis.run = Limits { speed: speed * way, acceleration: acceleration * way, jerk: peaks.jerk * way };
            axis.stop = Limits {
                acceleration: axis.run.acceleration * (1.0 + reserve * chance()),
                jerk: axis.run.jerk * (1.0 + reserve * chance()),
                ..axis.run
            };
            axis.tolerance = 0.004 * way * chance();
            plan
        });
        (show, plans)
    }

    fn told(show: &Show, plans: &[CuePlan; 2], way: Way, times: [f64; 2]) -> f64 {
        let bearings = plans.each_ref().map(|plan| Bearing::new(show, plan));
        Brakes::new([&bearings[0], &bearings[1]], &[]).longest(
            way,
            0,
            Span::instant(times[0]),
            Span::instant(times[1]),
        )
    }

    /// How far a brake goes before both have ended.
    fn goes(courses: &[Course<Track>], rate: f64, standard: bool) -> f64 {
        let found = change_rate(courses, rate, 0.0, 0.0, Regime::Stopping);
        let brake = if standard { no_farther(courses, rate, found) } else { found };
        let left = |course: &Course<Track>| {
            if rate > 0.0 { course.path.duration() - course.time } else { course.time }
        };
        use crate::motion::Path;
        let left = courses.iter().map(left).fold(0.0, f64::max);
        brake.map_or(left, |brake| brake.distance().abs().min(left))
    }

    fn at(show: &Show, plans: &[CuePlan; 2], times: [f64; 2]) -> Vec<Course<Track>> {
        [0, 1].into_iter().flat_map(|side| courses(show, &plans[side], times[side])).collect()
    }

    /// From where each stands within its tolerance as it is fired; and the rate at which the two then run.
    fn fired(show: &Show, plans: &[CuePlan; 2], times: [f64; 2], off: [f64; 2]) -> (Vec<Course<Track>>, f64) {
        let mut courses = Vec::new();
        for (side, plan) in plans.iter().enumerate() {
            let from = off[side] * show.axes[side].tolerance;
            let runs = |path: &AxisPath| Bent::straight([path.from + from, path.to]);
            push_courses(show, &plan.moves[0], runs, times[side], &mut courses);
        }
        let pace = |course: &Course<Track>| Course::pace(&course.path, course.run, 0.0, f64::INFINITY);
        let pace = courses.iter().map(pace).fold(1.0, f64::min);
        (courses, pace)
    }

    /// With hardly any reserve the search comes out in steps. A table of it on a grid of a quarter of a second with a tenth to spare
    /// is passed now and then; the standard brakes never are, also where the two began off their marks, or run more slowly, or go
    /// back.
    #[test]
    fn no_brake_of_two_goes_farther_than_is_told_of_them_however_little_reserve_there_is() {
        let (mut hard, mut short) = (0, 0);
        for seed in 0..240 {
            let (show, plans) = pair(seed, 0.1);
            let mut chance = chance(seed + 1000);
            for _ in 0..4 {
                let times = plans.each_ref().map(|plan| plan.duration * chance());
                let off = [2.0 * chance() - 1.0, 2.0 * chance() - 1.0];
                let bound = told(&show, &plans, Way::Forth, times);
                for (off, slower) in [([0.0; 2], 1.0), (off, 1.0), (off, 0.3 + 0.7 * chance())] {
                    let (courses, pace) = fired(&show, &plans, times, off);
                    let goes = goes(&courses, slower * pace, true);
                    assert!(goes <= bound + 1e-9, "seed {seed} at {times:?}, off {off:?}: {goes} m, told {bound}");
                }
                let back = told(&show, &plans, Way::Back, times);
                let goes_back = goes(&fired(&show, &plans, times, off).0, -show.settings.return_rate, true);
                assert!(goes_back <= back + 1e-9, "seed {seed} back at {times:?}: {goes_back}, told {back}");
                let grid = |time: f64, next: f64| ((time / 0.25).floor() + next) * 0.25;
                let around = [[0.0, 0.0], [0.0, 1.0], [1.0, 0.0], [1.0, 1.0]].map(|next| {
                    let times = [grid(times[0], next[0]), grid(times[1], next[1])];
                    goes(&at(&show, &plans, times), 1.0, false)
                });
                let found = goes(&at(&show, &plans, times), 1.0, false);
                hard += usize::from(found > 1.1 * around.into_iter().fold(0.0, f64::max));
                short += usize::from(bound < plans[0].duration.max(plans[1].duration) / 2.0);
            }
        }
        assert!(hard >= 3, "{hard} of them pass a table of the search");
        assert!(short >= 100, "{short} are told to stop in less than half of the longer cue");
    }

    /// With the usual reserve what is told is near what the search finds.
    #[test]
    fn with_reserve_the_bound_is_near_the_brake_that_is_found() {
        let mut ratios = Vec::new();
        for seed in 0..120 {
            let (mut show, plans) = pair(seed, 0.0);
            for axis in &mut show.axes {
                let run = axis.run;
                axis.stop = Limits { acceleration: 1.5 * run.acceleration, jerk: 4.0 * run.jerk, ..run };
            }
            let mut chance = chance(seed + 2000);
            let times = plans.each_ref().map(|plan| plan.duration * (0.2 + 0.5 * chance()));
            let found = goes(&at(&show, &plans, times), 1.0, false);
            ratios.push(told(&show, &plans, Way::Forth, times) / found);
        }
        ratios.sort_by(f64::total_cmp);
        assert!(ratios[60] < 1.4 && ratios[108] < 2.0, "{ratios:?}");
    }

    proptest! {
        #[test]
        fn the_longest_of_a_part_is_that_of_its_places(
            row in prop::collection::vec(0.0..9.0_f64, 1..40), ends: [prop::sample::Index; 2],
        ) {
            let [one, other] = ends.map(|end| end.index(row.len()));
            let (first, last) = (one.min(other), one.max(other));
            let greatest = row[first..=last].iter().copied().fold(0.0, f64::max);
            prop_assert_eq!(Longest::of(row).over([first, last]), greatest);
        }
    }
}
