use super::*;
use crate::motion::{Ceiling, Course, Profile, Regime, Track, change_rate, no_farther};
use crate::proof::bent::Bent;
use crate::proof::course::{courses, push_courses};
use crate::proof::fixture;
use crate::proof::maps::Stretch;
use crate::proof::plan::{AxisPath, CuePlan};
use crate::show::{CueId, Limits, Show, Unit};
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
    let mut brakes = Brakes::new([&bearings[0], &bearings[1]], &[]);
    let spacing = brakes.spacing();
    let begins = |side: usize| bearings[side].around(begins(way, Span::instant(times[side]), spacing));
    spacing + brakes.of_each(way, [begins(0), begins(1)])
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

/// The third of a seed, at whose rate the first two may go, in places drawn by chance.
fn further<'a>(bearing: &'a Bearing, chance: &mut impl FnMut() -> f64) -> Further<'a> {
    let mut ahead = || {
        let from = bearing.duration * (chance() - 0.7);
        vec![Stretch { from, to: from + bearing.duration * chance() }]
    };
    let ahead = vec![ahead(), ahead()];
    Further { cue: CueId(2), bearing, ahead, once_ended: (chance() < 0.3).then_some(0) }
}

/// A bound on what leads somewhere is one on each place that does, and what is found is what a search of every place finds.
#[test]
fn no_place_goes_farther_than_is_told_of_all_and_none_that_matters_is_passed_over() {
    let (mut narrower, mut lengthened) = (0, 0);
    for seed in 0..60 {
        let [(show, plans), (other_show, others)] = [pair(seed, 0.6), pair(seed + 500, 0.6)];
        let bearings = plans.each_ref().map(|plan| Bearing::new(&show, plan));
        let third = Bearing::new(&other_show, &others[0]);
        let mut chance = chance(seed + 3000);
        let further = [further(&third, &mut chance)];
        let mut brakes = Brakes::new(bearings.each_ref(), &further);
        let mut alone = Brakes::new(bearings.each_ref(), &[]);
        for way in [Way::Forth, Way::Back] {
            for side in [0, 1] {
                let mut part = |side: usize, long: f64| {
                    let from = bearings[side].duration * chance();
                    Span { from, to: from + long * chance() }
                };
                let leads = Leads { way, side, stalled: part(side, 0.6), into: part(1 - side, 0.6) };
                let (found, plain) = (brakes.longest(leads), searched(&mut brakes, leads));
                assert!(found >= plain.least && found <= plain.few, "seed {seed}: {found}, {plain:?}");
                let (bound, most) = (brakes.bound(leads), brakes.most(way));
                assert!(
                    found <= bound && bound <= most && plain.all <= most,
                    "seed {seed}: {found} {bound} {most}"
                );
                narrower += usize::from(found < most);
                lengthened += usize::from(alone.longest(leads) < found);
            }
        }
    }
    assert!(narrower > 60, "{narrower} less than the bound of all");
    assert!(lengthened > 20, "{lengthened} lengthened by a further cue");
}

/// By every place: of all that may begin anywhere, what few tightenings leave of that, and what any number of them does.
#[derive(Debug)]
struct Searched {
    all: f64,
    few: f64,
    least: f64,
}

fn searched(brakes: &mut Brakes, leads: Leads) -> Searched {
    let mut longest = |brake: f64| {
        let [first, second] = brakes.places(leads, brake).map(|[first, last]| first..=last);
        let mut longest: f64 = 0.0;
        for one in first {
            for other in second.clone() {
                longest = longest.max(brakes.of_all(leads.way, [[one; 2], [other; 2]]));
            }
        }
        brakes.spacing() + longest
    };
    let all = longest(f64::INFINITY);
    let few = (0..TIGHTENINGS).fold(all, |brake, _| longest(brake));
    let mut least = few;
    while longest(least) < least {
        least = longest(least);
    }
    Searched { all, few, least }
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
