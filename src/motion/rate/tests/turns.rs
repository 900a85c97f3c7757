//! Stops along curves on which axes turn round. There r'' does nothing to the axis that turns, and its jerk binds r' itself.

use super::super::wanted::least_time;
use super::super::*;
use super::Seeded;
use crate::motion::profile::Sample;
use crate::motion::{Curve, Through, through};

/// Two axes through three marks, with little more for stopping than for running: what the curve itself needs leaves little.
fn courses(from: &mut Seeded) -> Vec<Course<Curve>> {
    let mut axis = || {
        let acceleration = from.between(0.2, 1.0);
        let limits = Ceiling { speed: 0.4, acceleration, jerk: acceleration / from.between(0.2, 1.0) };
        Through { at: (0..5).map(|_| Some(from.between(-0.9, 0.9))).collect(), limits, travel: [-1.0, 1.0] }
    };
    let axes = [axis(), axis()];
    let way = through(&axes).unwrap();
    let mut course = |(axis, path): (&Through, Curve)| {
        let run = axis.limits;
        let stop = Ceiling {
            acceleration: run.acceleration * from.between(1.0, 1.5),
            jerk: run.jerk * from.between(1.0, 1.5),
            ..run
        };
        Course { path, time: 0.0, run, stop }
    };
    axes.iter().zip(way.curves).map(&mut course).collect()
}

#[test]
fn stops_where_axes_turn_round_keep_every_limit_and_are_seldom_drawn_out() {
    let (mut drawn_out, mut all) = (Vec::new(), 0);
    for seed in 0..12_u64 {
        let mut from = Seeded(seed.wrapping_mul(7919) + 3);
        let courses = courses(&mut from);
        let whole = courses[0].path.duration();
        for part in 1..25 {
            let time = whole * f64::from(part) / 25.0;
            let courses: Vec<_> = courses.iter().map(|course| Course { time, ..course.clone() }).collect();
            let change = change_rate(&courses, 1.0, 0.0, 0.0, Regime::Stopping).unwrap();
            let begin = Sample { speed: 1.0, ..Sample::default() };
            let least = least_time(&courses, begin, 0.0, Regime::Stopping).min(whole - time);
            assert!(keeps_limits(&courses, &change, Regime::Stopping), "{seed}, {part}");
            all += 1;
            if change.duration() > 2.0 * least + 0.02 {
                drawn_out.push((seed, part, change.duration(), least));
            }
        }
    }
    // Without splines there are 13.
    assert!(all == 288 && drawn_out.len() <= 6, "{drawn_out:?}");
}
