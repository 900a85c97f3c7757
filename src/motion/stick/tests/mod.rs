//! Motion by hand against published values, and against a judge of its own that sees nothing but ticks.

mod driven;
mod ends;

use super::response::logarithmic;
use super::*;
use crate::motion::{Range, State};
use crate::show::Limits;

fn limits(speed: f64, acceleration: f64, jerk: f64) -> Limits {
    Limits { speed, acceleration, jerk }
}

fn span(low: f64, high: f64) -> Range {
    Range { low, high }
}

fn close(found: f64, expected: f64, rounding: f64) {
    assert!((found - expected).abs() <= rounding, "found {found}, expected {expected}");
}

/// The law of a logarithmic potentiometer, b = (1/m − 1)²: values computed from it by hand.
#[test]
fn the_logarithmic_law_has_its_published_values() {
    for (middle, at, expected) in [
        (0.10, 0.25, 0.025),
        (0.10, 0.5, 0.10),
        (0.10, 0.75, 0.325),
        (0.15, 0.25, 0.044_372),
        (0.15, 0.75, 0.401_444),
    ] {
        close(logarithmic(at, middle), expected, 5e-7);
    }
    for middle in [0.10, 0.15] {
        assert_eq!((logarithmic(0.0, middle), logarithmic(1.0, middle)), (0.0, 1.0));
    }
}

#[test]
fn a_response_is_odd_and_reaches_both_ends() {
    for (dead_band, taper) in [(0.0, 0.0), (0.1, 0.0), (0.05, 0.3), (0.2, 1.0), (0.99, 0.5)] {
        let response = Response::new(dead_band, taper, false).unwrap();
        let reversed = Response::new(dead_band, taper, true).unwrap();
        assert_eq!((response.shaped(1.0), response.shaped(-1.0)), (Some(1.0), Some(-1.0)));
        assert_eq!((reversed.shaped(1.0), reversed.shaped(-1.0)), (Some(-1.0), Some(1.0)));
        let mut last = 0.0;
        for step in 0..=1000 {
            let x = f64::from(step) / 1000.0;
            let y = response.shaped(x).unwrap();
            assert_eq!(response.shaped(-x), Some(-y));
            assert_eq!(reversed.shaped(x), Some(-y));
            assert!(y >= last && y - last < 0.001 * 4.5 / (1.0 - dead_band), "{x}: from {last} to {y}");
            assert!(x > dead_band || y == 0.0);
            last = y;
        }
    }
}

/// y = sign(x)(|x| − d)/(1 − d), and a bend between the line and the logarithm.
#[test]
fn the_dead_band_is_rescaled_and_the_taper_lies_between() {
    let flat = Response::new(0.2, 0.0, false).unwrap();
    close(flat.shaped(0.6).unwrap(), 0.5, 1e-15);
    close(flat.shaped(-0.4).unwrap(), -0.25, 1e-15);
    let bent = Response::new(0.0, 0.3, false).unwrap();
    close(bent.shaped(0.5).unwrap(), 0.7 * 0.5 + 0.3 * 0.1, 1e-12);
}

#[test]
fn what_is_no_stick_moves_nothing() {
    let response = Response::new(0.1, 0.3, false).unwrap();
    for x in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.000_001, -2.0, 1e300] {
        assert_eq!(response.shaped(x), None);
    }
    for tiny in [0.0, -0.0, f64::MIN_POSITIVE, 5e-324] {
        assert_eq!(response.shaped(tiny), Some(0.0));
    }
    for wrong in [f64::NAN, -0.1, 1.0, f64::INFINITY] {
        assert!(matches!(Response::new(wrong, 0.0, false), Err(Unusable::DeadBand { .. })));
    }
    for wrong in [f64::NAN, -0.1, 1.1] {
        assert!(matches!(Response::new(0.0, wrong, false), Err(Unusable::Taper { .. })));
    }
}

/// Common practice: a master of half over a share of half gives a quarter; rated 0.8 m/s with a share of 0.4, never
/// above 0.32.
#[test]
fn share_and_master_multiply() {
    let follower = Follower::new(limits(0.8 * 0.5, 1.0, 4.0), 0.0, 0.002).unwrap();
    close(follower.speed_for(1.0, 0.5), 0.8 * 0.25, 1e-15);
    let slow = Follower::new(limits(0.8 * 0.4, 1.0, 4.0), 0.0, 0.002).unwrap();
    let mut state = State::default();
    for _ in 0..2000 {
        let next = slow.step(state, 1e9, span(-1e3, 1e3)).unwrap().setpoint;
        assert!(next.speed <= 0.32 * (1.0 + 1e-12));
        state = State::of(next);
    }
    close(state.speed, 0.32, 1e-12);
}

/// From rest to full speed takes the glide, a quarter of it half of that, and the axis's own limits where they are slower.
#[test]
fn a_glide_is_the_time_of_a_full_change() {
    let time = |glide: f64, part: f64| {
        let follower = Follower::new(limits(2.0, 10.0, 100.0), glide, 0.002).unwrap();
        let mut state = State::default();
        let ticks = (1..5000).find(|_| {
            state = State::of(follower.step(state, 2.0 * part, span(-1e3, 1e3)).unwrap().setpoint);
            state.speed == 2.0 * part && state.acceleration == 0.0
        });
        f64::from(ticks.unwrap()) * 0.002
    };
    close(time(1.0, 1.0), 1.0, 0.0021);
    close(time(3.0, -1.0), 3.0, 0.0021);
    close(time(2.0, 0.25), 1.0, 0.0021);
    // 2/10 s at the greatest acceleration and 10/100 s of jerk.
    close(time(0.0, 1.0), 0.3, 0.0021);
    close(time(0.05, 1.0), 0.3, 0.0021);
}

#[test]
fn a_dial_does_nothing_until_it_has_passed_where_its_axis_stands() {
    let travel = span(-10.0, 30.0);
    let mut dial = Dial::default();
    assert_eq!(dial.target(travel), None);
    assert!(!dial.turn(0.9, 0.0, travel) && !dial.turn(0.3, 0.0, travel));
    assert_eq!(dial.target(travel), None);
    assert!(dial.turn(0.2, 0.0, travel));
    assert_eq!(dial.target(travel), Some(-2.0));
    for wrong in [f64::NAN, 1.5, -0.1, f64::INFINITY] {
        dial.turn(wrong, 0.0, travel);
        assert_eq!(dial.target(travel), Some(-2.0));
    }
    dial.turn(1.0, 0.0, travel);
    assert_eq!(dial.target(travel), Some(30.0));
    dial.let_go();
    assert!(!dial.turn(1.0, 0.0, travel));
    // One that stands where its axis does needs not be passed.
    dial.let_go();
    assert!(dial.turn(0.2505, 0.0, travel));
    // An axis at its end, and a dial that only comes to the end.
    dial.let_go();
    assert!(!dial.turn(0.5, 30.0, travel));
    assert!(dial.turn(1.0, 30.0, travel));
}
