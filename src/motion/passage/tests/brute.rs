//! Time-optimality by brute force: from one end to a speed and an acceleration in between, over a grid of both, and on
//! to the other end, each by the quickest change. Nothing of it is shared with the planner.

use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;

use super::*;

const GRID: i32 = 48;

/// Up to three strokes from a speed and an acceleration to others, first towards `way`: their times and jerks.
fn change(from: [f64; 2], to: [f64; 2], bounds: &Bounds, way: f64) -> Option<[[f64; 2]; 3]> {
    let seen = if way > 0.0 { *bounds } else { bounds.mirrored() };
    let ([v0, a0], [v1, a1]) = (from.map(|x| way * x), to.map(|x| way * x));
    let (up, down, top) = (seen.jerk().high, -seen.jerk().low, seen.acceleration().high);
    let square = (v1 - v0 + a0 * a0 / (2.0 * up) + a1 * a1 / (2.0 * down)) / (0.5 / up + 0.5 / down);
    if square < a0.max(a1).max(0.0).powi(2) {
        return None;
    }
    let peak = square.sqrt().min(top);
    let hold = (square - peak * peak) * (0.5 / up + 0.5 / down) / peak.max(1e-12);
    Some([[(peak - a0) / up, way * up], [hold, 0.0], [(peak - a1) / down, -way * down]])
}

/// Over strokes: time, distance, and whether the speed keeps its bounds.
fn drive(strokes: &[[f64; 2]], speed: f64, acceleration: f64, bounds: &Bounds) -> (f64, f64, bool) {
    let mut now = state(0.0, speed, acceleration).with_jerk(0.0);
    let (mut time, mut well) = (0.0, true);
    for [length, jerk] in strokes {
        now.jerk = *jerk;
        let turn = -now.acceleration / jerk;
        if turn > 0.0 && turn < *length {
            well &= holds(bounds.speed(), now.after(turn).speed * (1.0 - 1e-9));
        }
        now = now.after(*length);
        well &= holds(bounds.speed(), now.speed * (1.0 - 1e-9));
        time += length;
    }
    (time, now.position, well)
}

/// The least time over the grid: where two neighbours lie on either side of the distance, or by a cruise between the two
/// halves.
fn least(from: State, to: State, bounds: &Bounds) -> f64 {
    let (begin, end) = ([from.speed, from.acceleration], [to.speed, to.acceleration]);
    let distance = to.position - from.position;
    let part = |n: i32, span: Range| span.low + (span.high - span.low) * f64::from(n) / f64::from(GRID);
    let mut best = f64::INFINITY;
    for (way, back) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
        let across =
            (0..=GRID).map(|n| part(n, bounds.acceleration())).chain([0.0, from.acceleration, to.acceleration]);
        for acceleration in across {
            let mut last: Option<(f64, f64)> = None;
            for n in 0..=4 * GRID {
                let speed = part(n, Range { low: bounds.speed().low * 4.0, high: bounds.speed().high * 4.0 }) / 4.0;
                let speed = speed.clamp(bounds.speed().low, bounds.speed().high);
                let half = |a, b, way| change(a, b, bounds, way);
                let halves = (half(begin, [speed, acceleration], way), half([speed, acceleration], end, back));
                let (Some(there), Some(on)) = halves else {
                    last = None;
                    continue;
                };
                let strokes = [there[0], there[1], there[2], on[0], on[1], on[2]];
                let (time, covered, well) = drive(&strokes, from.speed, from.acceleration, bounds);
                if !well {
                    last = None;
                    continue;
                }
                let missing = distance - covered;
                if acceleration == 0.0 && missing / speed >= 0.0 {
                    best = best.min(time + missing / speed);
                }
                if let Some((before, missed)) = last
                    && missed * missing <= 0.0
                    && missed != missing
                {
                    best = best.min(before.max(time));
                }
                last = Some((time, missing));
            }
        }
    }
    best
}

/// A few hundred cases, unequal limits among them: no passage of the grid is quicker than the plan, and the best is near.
#[test]
fn nothing_that_brute_force_finds_is_quicker() {
    let size = || (-0.7..0.7_f64).prop_map(|decade| 10_f64.powf(decade));
    let spans = || (size(), size()).prop_map(|(least, most)| span(least, most));
    let shares = proptest::array::uniform4(-1.0..1.0_f64);
    let strategy = (spans(), spans(), spans(), shares, -4.0..4.0_f64);
    let mut runner = TestRunner::deterministic();
    let (mut compared, mut near) = (0, 0);
    while compared < 150 {
        let (v, a, j, [v0, a0, v1, a1], way) = strategy.new_tree(&mut runner).unwrap().current();
        let bounds = Bounds::new(v, a, j).unwrap();
        let of = |share: f64, span: Range| if share < 0.0 { -share * span.low } else { share * span.high };
        let (from, to) = (state(0.0, of(v0, v), of(a0, a)), state(way, of(v1, v), of(a1, a)));
        let starts_within = holds(v, bounds.coasts_at(from.speed, from.acceleration));
        let Ok(passage) = Passage::quickest(from, to, &bounds) else { continue };
        if !starts_within {
            continue;
        }
        compared += 1;
        let (planned, found) = (passage.duration(), least(from, to, &bounds));
        assert!(found >= planned - 1e-6, "{found} is quicker than {planned}: {from:?} {to:?} {bounds:?}");
        near += i32::from(found <= 1.03 * planned);
    }
    // A search that finds nothing proves nothing.
    assert!(near * 10 >= compared * 9, "{near} of {compared}");
}

/// Where distance over time rises, falls and rises again, three passages can cover one distance: the first is taken. The
/// acceleration rises from 0, is held or not, falls to a dip and rises to 1; every dip is tried.
#[test]
fn the_first_of_three_passages_is_taken() {
    for (speed, gain, top) in [(-0.7, 1.0, 10.0), (-0.49, 1.0, 10.0), (-2.2, 2.5, 1.0), (-1.96, 2.5, 1.0)] {
        let limits = bounds(10.0, top, 1.0);
        let along = |dip: f64| {
            let square = gain - 0.5 + dip * dip;
            let peak = square.sqrt().min(top);
            let hold = (square - peak * peak) / peak;
            drive(&[[peak, 1.0], [hold, 0.0], [peak - dip, -1.0], [1.0 - dip, 1.0]], speed, 0.0, &limits)
        };
        let tried: Vec<_> = (0..=40_000).map(|n| along(1.0 - f64::from(n) / 40_000.0)).collect();
        let falls = tried.windows(2).any(|pair| pair[1].1 < pair[0].1);
        assert!(falls, "{speed}: a curve that only rises proves nothing");
        let farthest = tried.iter().map(|found| found.1).fold(f64::NEG_INFINITY, f64::max);
        for part in 1..200 {
            let distance = tried[0].1 + f64::from(part) / 200.0 * (farthest - tried[0].1);
            let first = tried.iter().find(|found| found.1 >= distance).unwrap().0;
            let passage = quickest(state(0.0, speed, 0.0), state(distance, speed + gain, 1.0), &limits);
            // Just before it falls, distance hardly grows with time.
            assert!(
                (passage.duration() - first).abs() < 2e-3,
                "{speed} {distance}: {} {first}",
                passage.duration()
            );
        }
    }
}
