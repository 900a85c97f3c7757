//! What a plan of motion costs, as ratios within one run: `cargo bench --bench motion`.
//!
//! A passage from any state to any state, for 1, 6 and 17 axes, planned alone and planned with its verification, against a
//! bare change of speed for as many axes: the closed form that the engine uses in every tick of a stop.

use std::hint::black_box;
use std::time::Instant;

use bellwire::motion::{Bounds, Passage, Ramp, State};
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
    times.sort_by(f64::total_cmp);
    (times[times.len() / 2], times[times.len() * 99 / 100])
}
