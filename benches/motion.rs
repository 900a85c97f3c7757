//! What a plan of motion costs, as ratios within one run: `cargo bench --bench motion`.
//!
//! A passage from any state to any state, for 1, 6 and 17 axes, planned alone and planned with its verification, against a
//! bare change of speed for as many axes: the closed form that the engine uses in every tick of a stop. A tick of 24 axes in hand
//! against the same: on their way, and as they come to rest at the ends of their travel. A change of rate of moves of any kind, planned
//! in a hurry and to its end: what it takes at most is counted by `motion::rate`'s tests, and is here in time.

use std::hint::black_box;
use std::time::Instant;

use bellwire::motion::{
    Bounds, Ceiling, Course, Follower, Passage, Profile, Ramp, Range, Regime, State, change_at_once, change_rate,
};
use bellwire::show::Limits;

const ROUNDS: usize = 20_000;

fn main() {
    println!("A passage, median and 99th percentile");
    for axes in [1, 6, 17] {
        let cases = cases(ROUNDS + axes);
        let bare = times(&cases, axes, |(from, _, limits, _)| {
            black_box(Ramp::new(from.speed, from.acceleration, 0.0, limits.acceleration, limits.jerk));
        });
        println!("\n  {axes} {}", if axes == 1 { "axis" } else { "axes" });
        let show = |name: &str, (median, late): (f64, f64)| {
            println!("    {name:<22} {median:8.2} µs {late:8.2} µs   {}", ratios((median, late), bare));
        };
        show("bare change of speed", bare);
        let stop = times(&cases, axes, |(from, _, _, bounds)| {
            let _ = black_box(Passage::stop(*from, bounds));
        });
        let plan = times(&cases, axes, |(from, to, _, bounds)| {
            let _ = black_box(Passage::quickest(*from, *to, bounds));
        });
        let verified = times(&cases, axes, |(from, to, _, bounds)| {
            let _ = black_box(Passage::verified(*from, *to, bounds));
        });
        show("stop", stop);
        show("passage", plan);
        show("passage, verified", verified);
    }
    in_hand();
    rates();
}

/// Of the medians, and of the 99th percentiles.
fn ratios(of: (f64, f64), bare: (f64, f64)) -> String {
    format!("{:5.1} bare ones, {:5.1} at the 99th", of.0 / bare.0, of.1 / bare.1)
}

const IN_HAND: usize = 24;

/// One tick of as many axes with full sticks: in the middle of their travel, and where each is about to come to rest at its
/// end, which takes a passage.
fn in_hand() {
    let limits = Limits { speed: 0.8, acceleration: 0.8, jerk: 3.0 };
    let follower = Follower::new(limits, 1.0, 0.002).expect("limits of a slider");
    let room = Range { low: 0.0, high: 3.0 };
    let mut way = vec![State::at_rest(0.0)];
    for _ in 0..5000 {
        let from = way[way.len() - 1];
        let next = follower.step(from, 0.8, room).expect("a state").setpoint;
        way.push(State { position: next.position, speed: next.speed, acceleration: next.acceleration });
    }
    let moving = |state: &State| state.speed > 0.0;
    // Where it brakes before the end, a full stick no longer rules.
    let landing: Vec<State> =
        way.iter().copied().filter(|state| moving(state) && state.acceleration < 0.0).collect();
    let under_way: Vec<State> =
        way.iter().copied().filter(|state| moving(state) && state.acceleration >= 0.0).collect();
    println!("\n  a tick of {IN_HAND} axes in hand");
    let tick = |states: &[State], plan: &dyn Fn(State)| {
        let cases: Vec<State> = states.iter().copied().cycle().take(ROUNDS).collect();
        let mut times: Vec<f64> = cases
            .chunks_exact(IN_HAND)
            .map(|axes| {
                let begin = Instant::now();
                axes.iter().copied().for_each(plan);
                begin.elapsed().as_secs_f64() * 1e6
            })
            .collect();
        median_and_late(&mut times)
    };
    let bare = tick(&under_way, &|from| {
        black_box(Ramp::new(from.speed, from.acceleration, 0.8, limits.acceleration, limits.jerk));
    });
    let follow = |from: State| {
        let _ = black_box(follower.step(from, 0.8, room));
    };
    for (name, (median, late)) in [
        ("bare change of speed", bare),
        ("under way", tick(&under_way, &follow)),
        ("coming to rest at its end", tick(&landing, &follow)),
    ] {
        println!("    {name:<26} {median:8.2} µs {late:8.2} µs   {}", ratios((median, late), bare));
    }
}

const MOVES: [(usize, u64); 5] = [(1, 400), (3, 400), (6, 200), (16, 100), (64, 40)];

fn rates() {
    println!("\n  a change of rate, median, 99th percentile and longest");
    for (count, seeds) in MOVES {
        let cases: Vec<Vec<Course>> = (0..seeds).map(|seed| moves(seed, count)).collect();
        let stop = |courses: &Vec<Course>| change_at_once(courses, 1.0, 0.0, 0.0, Regime::Stopping, 1).is_some();
        let whole = |courses: &Vec<Course>| change_rate(courses, 1.0, 0.0, 0.0, Regime::Stopping).is_some();
        let back = |courses: &Vec<Course>| change_rate(courses, 0.0, 0.0, -0.5, Regime::Running).is_some();
        let resume = |courses: &Vec<Course>| change_rate(courses, 0.0, 0.0, 1.0, Regime::Running).is_some();
        let show = |name: &str, plan: &dyn Fn(&Vec<Course>) -> bool| {
            let mut times: Vec<f64> = cases
                .iter()
                .map(|courses| {
                    let begin = Instant::now();
                    black_box(plan(courses));
                    begin.elapsed().as_secs_f64() * 1e6
                })
                .collect();
            let (median, late) = median_and_late(&mut times);
            println!("    {count:2} moves, {name:<20} {median:8.1} {late:8.1} {:8.1} µs", times[times.len() - 1]);
        };
        show("stop, in a hurry", &stop);
        show("stop", &whole);
        show("return", &back);
        show("resume", &resume);
    }
}

/// Moves at some instant of them: of any lengths, limits and delays, with reserves for stopping of 1 to 4.
fn moves(seed: u64, count: usize) -> Vec<Course> {
    let mut seed = seed.wrapping_mul(7919) + count as u64;
    let mut between = |low: f64, high: f64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((seed >> 33) as f64 / f64::from(1_u32 << 31))
    };
    let long = between(2.0, 25.0);
    let mut courses: Vec<Course> = Vec::new();
    for _ in 0..count {
        let speed = 1.0 / (long * between(0.4, 1.0));
        let acceleration = speed / between(0.3, 3.0);
        let run = Ceiling { speed, acceleration, jerk: acceleration / between(0.1, 1.5) };
        let stop = Ceiling {
            acceleration: run.acceleration * between(1.0, 4.0),
            jerk: run.jerk * between(1.0, 4.0),
            ..run
        };
        let path = Profile::fastest(run);
        let delay = if count == 1 { 0.0 } else { between(0.0, 0.5) * path.duration() };
        courses.push(Course { path, time: -delay, run, stop });
    }
    let end = courses.iter().map(|course| course.path.duration() - course.time).fold(0.0, f64::max);
    let now = between(0.0, 0.98) * end;
    courses.iter_mut().for_each(|course| course.time += now);
    courses
}

type Case = (State, State, Limits, Bounds);

/// Moving to moving, of the size of a slider's limits.
fn cases(count: usize) -> Vec<Case> {
    let mut seed = 1_u64;
    let mut part = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as f64 / f64::from(1_u32 << 31) * 2.0 - 1.0
    };
    let mut cases = Vec::with_capacity(count);
    while cases.len() < count {
        let limits =
            Limits { speed: 0.8 + 0.5 * part(), acceleration: 0.8 + 0.5 * part(), jerk: 3.0 + 2.0 * part() };
        let mut state = |way: f64| State {
            position: way * part(),
            speed: limits.speed * part(),
            acceleration: limits.acceleration * part(),
        };
        let (from, to) = (state(3.0), state(3.0));
        let bounds = Bounds::both_ways(limits).expect("limits of a slider");
        if Passage::quickest(from, to, &bounds).is_ok() {
            cases.push((from, to, limits, bounds));
        }
    }
    cases
}

/// µs, median and 99th percentile, for as many axes at once.
fn times(cases: &[Case], axes: usize, plan: impl Fn(&Case)) -> (f64, f64) {
    let mut times: Vec<f64> = cases
        .windows(axes)
        .map(|axes| {
            let begin = Instant::now();
            axes.iter().for_each(&plan);
            begin.elapsed().as_secs_f64() * 1e6
        })
        .collect();
    median_and_late(&mut times)
}

fn median_and_late(times: &mut [f64]) -> (f64, f64) {
    times.sort_by(f64::total_cmp);
    (times[times.len() / 2], times[times.len() * 99 / 100])
}
