//! What a plan of motion costs, as ratios within one run: `cargo bench --bench motion`.
//!
//! A passage from any state to any state, for 1, 6 and 17 axes, planned alone and planned with its verification, against a
//! bare change of speed for as many axes: the closed form that the engine uses in every tick of a stop. A tick of 24 axes in hand
//! against the same: on their way, and as they come to rest at the ends of their travel.

use std::hint::black_box;
use std::time::Instant;

use bellwire::motion::{Bounds, Follower, Passage, Ramp, Range, State};
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
            println!("    {name:<22} {median:8.2} µs {late:8.2} µs   {:5.1} bare ones", median / bare.0);
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
        println!("    {name:<26} {median:8.2} µs {late:8.2} µs   {:5.1} bare ones", median / bare.0);
    }
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
