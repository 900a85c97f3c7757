//! What a take costs to make a path of, and how smooth it is: `cargo bench --bench take`.
//!
//! A performance of 60 s at 50 Hz, at rest at both ends and cut out of motion, of one axis and of three. The bare baseline is
//! a moving average over the same samples, which a spreadsheet could do: it has no knowledge of limits, and its jerk is what
//! is left of the noise.

use std::f64::consts::TAU;
use std::hint::black_box;
use std::time::Instant;

use bellwire::motion::{Part, Trace, perform};
use bellwire::rig::Chance;
use bellwire::show::Limits;

const RUNS: usize = 400;
const LIMITS: Limits = Limits { speed: 0.6, acceleration: 0.6, jerk: 3.0 };
const NOISE: f64 = 0.0005;
/// Samples in the moving average.
const WINDOW: usize = 9;

fn main() {
    println!("A take of 60 s, µs\n");
    println!("                          median      p99    moving average    ratio  of p99");
    for (name, at_rest) in [("at rest at both ends", true), ("cut out of motion", false)] {
        for axes in [1, 3] {
            let (times, columns) = recorded(at_rest, axes);
            let part =
                |values| Part { trace: Trace { values, tolerance: 0.01, travel: [0.0, 3.0] }, limits: LIMITS };
            let parts: Vec<Part> = columns.iter().map(|values| part(values)).collect();
            let [median, p99] = timed(|| drop(black_box(perform(black_box(&times), &parts, 0.0))));
            let [bare, bare_p99] =
                timed(|| columns.iter().for_each(|values| drop(black_box(averaged(black_box(values))))));
            let ratios = format!("{:8.0} {:7.0}", median / bare, p99 / bare_p99);
            println!("  {name:<20} {axes}  {median:8.1} {p99:8.1} {bare:17.2} {ratios}");
        }
    }
    let (times, columns) = recorded(true, 1);
    let part = Part { trace: Trace { values: &columns[0], tolerance: 0.01, travel: [0.0, 3.0] }, limits: LIMITS };
    let path = perform(&times, &[part], 0.0).expect("a take").phrase;
    let [_, _, jerk] = path.peaks(0);
    let rough = averaged(&columns[0]);
    let differences = rough.windows(4).map(|four| (four[3] - 3.0 * four[2] + 3.0 * four[1] - four[0]).abs());
    let left = differences.fold(0.0, f64::max) / 0.02_f64.powi(3);
    println!("\nThe greatest jerk: {:.2} m/s³ of the path, {left:.0} of the moving average", jerk.value);
}

/// Times, and the values of each axis.
fn recorded(at_rest: bool, axes: usize) -> (Vec<f64>, Vec<Vec<f64>>) {
    let mut chance = Chance::new(60);
    let mut times = vec![0.0];
    while times[times.len() - 1] < 60.0 {
        times.push(times[times.len() - 1] + 0.018 + 0.004 * chance.uniform());
    }
    let ease = |x: f64| x * x * x * (10.0 - 15.0 * x + 6.0 * x * x);
    let mut column = |axis: usize| {
        let motion = |time: f64| {
            let held =
                if at_rest { ease((time / 3.0).min(1.0)) * ease(((60.1 - time) / 3.0).min(1.0)) } else { 1.0 };
            1.5 + held * (0.6 * (TAU * time / (11.0 + axis as f64)).sin() + 0.2 * (TAU * time / 4.3).sin())
        };
        times.iter().map(|&time| motion(time) + NOISE * (chance.uniform() + chance.uniform() - 1.0) * 2.4).collect()
    };
    let columns = (0..axes).map(&mut column).collect();
    (times, columns)
}

fn averaged(values: &[f64]) -> Vec<f64> {
    values.windows(WINDOW).map(|window| window.iter().sum::<f64>() / WINDOW as f64).collect()
}

/// Median and p99, µs.
fn timed(mut work: impl FnMut()) -> [f64; 2] {
    let mut took: Vec<f64> = (0..RUNS)
        .map(|_| {
            let begun = Instant::now();
            work();
            begun.elapsed().as_secs_f64() * 1e6
        })
        .collect();
    took.sort_by(f64::total_cmp);
    [took[RUNS / 2], took[RUNS * 99 / 100]]
}
