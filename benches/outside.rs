//! What a plan of motion costs against other people's planners, on the same cases: `cargo bench --bench outside` plans and writes
//! the cases with our times to `target/motion-times.jsonl` (or the file that is named), then `benches/outside.py` asks the others.
//!
//! Moves from rest to rest of 1, 6 and 17 axes together; passages between moving states of as many axes, each by itself; ways of
//! three axes through ten marks; takes of a minute.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Instant;

use bellwire::motion::{
    Bounds, Ceiling, Part, Passage, Path, Profile, State, Through, Trace, Verified, perform, through,
};
use bellwire::rig::Chance;
use bellwire::show::Limits;
use serde_json::{Value, json};

const AXES: [usize; 3] = [1, 6, 17];
const CASES: usize = 2000;
/// Of each; the least of their times is the plan's own, the others those of the machine.
const RUNS: usize = 5;
const WAYS: usize = 100;
const WAY_RUNS: usize = 3;
const MARKS: usize = 10;
const WAY_AXES: usize = 3;
const TAKES: usize = 12;
/// s, and what a sample of it is off at the most.
const TAKE: f64 = 60.0;
const NOISE: f64 = 1e-3;

fn main() {
    // A bench is started with arguments of its own, such as --bench.
    let named = std::env::args().skip(1).find(|argument| !argument.starts_with('-'));
    let file = named.unwrap_or_else(|| concat!(env!("CARGO_MANIFEST_DIR"), "/target/motion-times.jsonl").into());
    let mut chance = Chance::new(17);
    let mut lines = String::new();
    for axes in AXES {
        let moves = (0..CASES).map(|_| timed_move(axes, &mut chance)).collect();
        let passages = (0..CASES).map(|_| timed_passages(axes, &mut chance)).collect();
        tell(&format!("move of {axes}"), moves, &mut lines);
        tell(&format!("passages of {axes}"), passages, &mut lines);
    }
    tell("take of a minute", (0..TAKES).map(|_| timed_take(&mut chance)).collect(), &mut lines);
    tell("way of ten marks", (0..WAYS).map(|_| timed_way(&mut chance)).collect(), &mut lines);
    std::fs::write(&file, lines).unwrap_or_else(|error| panic!("{file}: {error}"));
    println!("written to {file}; now: tests/.venv/bin/python benches/outside.py {file}");
}

fn tell(name: &str, cases: Vec<(f64, Value)>, lines: &mut String) {
    let mut times: Vec<f64> = cases.iter().map(|(seconds, _)| seconds * 1e6).collect();
    times.sort_by(f64::total_cmp);
    println!("{name:<18} median {:9.2} µs, p99 {:9.2} µs", times[times.len() / 2], times[times.len() * 99 / 100]);
    for (seconds, case) in cases {
        writeln!(lines, "{}", json!({ "name": name, "seconds": seconds, "case": case })).expect("text");
    }
}

/// s, the least of so many runs, and what the last gave.
fn timed<T>(runs: usize, plan: impl Fn() -> T) -> (f64, T) {
    let run = || {
        let begin = Instant::now();
        let planned = black_box(plan());
        (begin.elapsed().as_secs_f64(), planned)
    };
    (1..runs).map(|_| run()).fold(run(), |best, next| if next.0 < best.0 { next } else { best })
}

/// Of a slider's size, and of machines half and twice as fast.
fn limits(chance: &mut Chance) -> Limits {
    let mut size = |most: f64| most * (0.25 + chance.uniform());
    Limits { speed: size(1.0), acceleration: size(1.0), jerk: size(4.0) }
}

fn signed(chance: &mut Chance) -> f64 {
    2.0 * chance.uniform() - 1.0
}

fn timed_move(axes: usize, chance: &mut Chance) -> (f64, Value) {
    let axes: Vec<(f64, Limits)> = (0..axes).map(|_| (3.0 * signed(chance), limits(chance))).collect();
    let (seconds, profile) = timed(RUNS, || {
        let each = black_box(&axes).iter().map(|&(way, limits)| Ceiling::over(limits, way));
        Profile::fastest(each.reduce(Ceiling::least).expect("an axis"))
    });
    let axes: Vec<Value> =
        axes.iter().map(|&(way, limits)| axis_case([0.0, 0.0, 0.0], [way, 0.0, 0.0], limits)).collect();
    (seconds, json!({ "axes": axes, "duration": profile.duration() }))
}

fn timed_passages(axes: usize, chance: &mut Chance) -> (f64, Value) {
    let mut cases = Vec::with_capacity(axes);
    while cases.len() < axes {
        let limits = limits(chance);
        let mut end = || State {
            position: 3.0 * signed(chance),
            speed: limits.speed * signed(chance),
            acceleration: limits.acceleration * signed(chance),
        };
        let (from, to) = (end(), end());
        let bounds = Bounds::both_ways(limits).expect("limits of a slider");
        if Passage::quickest(from, to, &bounds).is_ok() {
            cases.push((from, to, limits, bounds));
        }
    }
    let (seconds, longest) = timed(RUNS, || {
        let durations =
            black_box(&cases).iter().map(|(from, to, _, bounds)| match Passage::verified(*from, *to, bounds) {
                Ok(Verified::Arrives(passage)) => passage.duration(),
                other => panic!("{other:?}"),
            });
        durations.fold(0.0, f64::max)
    });
    let state = |State { position, speed, acceleration }: State| [position, speed, acceleration];
    let axes: Vec<Value> =
        cases.iter().map(|&(from, to, limits, _)| axis_case(state(from), state(to), limits)).collect();
    (seconds, json!({ "axes": axes, "duration": longest }))
}

fn axis_case(from: [f64; 3], to: [f64; 3], limits: Limits) -> Value {
    json!({ "from": from, "to": to, "limits": [limits.speed, limits.acceleration, limits.jerk] })
}

/// Axes of machines as they are: full speed takes them through their travel in 2 to 20 s, is reached in 0.3 to 3 s, and its
/// acceleration in 0.1 to 1 s.
fn timed_way(chance: &mut Chance) -> (f64, Value) {
    let mut decades = |from: f64, to: f64| 10_f64.powf(from + (to - from) * chance.uniform());
    let limits = |across: f64, rise: f64, onset: f64| {
        let speed = 2.0 / across;
        Ceiling { speed, acceleration: speed / rise, jerk: speed / rise / onset }
    };
    let limits: Vec<Ceiling> =
        (0..WAY_AXES).map(|_| limits(decades(0.3, 1.3), decades(-0.5, 0.5), decades(-1.0, 0.0))).collect();
    let axes: Vec<Through> = limits
        .into_iter()
        .map(|limits| Through {
            at: (0..MARKS + 2).map(|_| Some(0.9 * signed(chance))).collect(),
            limits,
            travel: [-1.0, 1.0],
        })
        .collect();
    let (seconds, way) = timed(WAY_RUNS, || through(black_box(&axes)).expect("a way"));
    let each: Vec<Value> = axes
        .iter()
        .map(|Through { at, limits, .. }| json!({ "at": at, "limits": [limits.speed, limits.acceleration, limits.jerk] }))
        .collect();
    (seconds, json!({ "axes": each, "times": way.times, "duration": way.curves[0].duration() }))
}

/// A slider's performance of three waves, 50 samples a second, unevenly.
fn timed_take(chance: &mut Chance) -> (f64, Value) {
    let limits = Limits { speed: 2.0, acceleration: 4.0, jerk: 20.0 };
    let waves: Vec<[f64; 3]> =
        (0..3).map(|_| [0.4 * chance.uniform(), 3.0 + 9.0 * chance.uniform(), TAU * chance.uniform()]).collect();
    let (mut times, mut values) = (vec![0.0], Vec::new());
    while times[times.len() - 1] < TAKE {
        times.push(times[times.len() - 1] + 0.018 + 0.004 * chance.uniform());
    }
    for time in &times {
        let motion: f64 =
            waves.iter().map(|[most, period, phase]| most * (TAU * time / period + phase).sin()).sum();
        values.push(motion + NOISE * signed(chance));
    }
    let trace = Trace { values: &values, tolerance: 0.01, travel: [-3.0, 3.0] };
    let (seconds, take) =
        timed(RUNS, || perform(black_box(&times), &[Part { trace, limits }], 0.0).expect("a take"));
    (seconds, json!({ "times": times, "values": values, "duration": take.phrase.duration() }))
}
