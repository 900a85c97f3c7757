//! Into the end of the travel, and to where a dial stands: in the least time, and exactly there.

use proptest::prelude::*;

use super::*;
use crate::motion::{Bounds, Passage};

/// The ticks until an axis is at rest at its target, and its state then.
fn ticks_to_rest(mut next: impl FnMut(State) -> State, from: State, most: u32) -> (u32, State) {
    let mut state = from;
    for tick in 1..=most {
        state = next(state);
        if state.speed == 0.0 && state.acceleration == 0.0 {
            return (tick, state);
        }
    }
    panic!("not at rest after {most} ticks: {state:?}");
}

fn axis() -> impl Strategy<Value = (Limits, f64, f64, f64)> {
    let decade = || (-1.0..1.0_f64).prop_map(|decade| 10_f64.powf(decade));
    let period = prop::sample::select(vec![0.001, 0.002, 0.01, 0.02]);
    (decade(), decade(), decade(), decade(), 0.0..0.95_f64, period).prop_map(|(v, a, j, width, start, period)| {
        (limits(v, v * a, v * a * j), width * v, start * width * v, period)
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// A full stick takes the axis to the end in the least time there is, up to two ticks, and holds it there.
    #[test]
    fn a_full_stick_comes_to_rest_at_the_end_as_soon_as_can_be((limits, width, start, period) in axis(), mirrored: bool) {
        let way = if mirrored { -1.0 } else { 1.0 };
        let room = Range::of(0.0, way * width);
        let follower = Follower::new(limits, 0.0, period).unwrap();
        let from = State::at_rest(way * start);
        let best = Passage::quickest(from, State::at_rest(way * width), &Bounds::both_ways(limits).unwrap()).unwrap();
        let least = (best.duration() / period) as u32;
        let mut farthest = 0.0_f64;
        let next = |state| {
            let now = State::of(follower.step(state, way * limits.speed, room).unwrap().setpoint);
            farthest = farthest.max(now.position.abs());
            now
        };
        let (ticks, end) = ticks_to_rest(next, from, least + 3);
        prop_assert!(ticks + 1 >= least, "{} ticks, though {} is the least", ticks, least);
        prop_assert!(farthest <= width && end.position.abs() >= width * (1.0 - 1e-6), "{:?} of {}", end, width);
        let held = follower.step(end, way * limits.speed, room).unwrap().setpoint;
        prop_assert_eq!(State::of(held), end);
    }

    /// A dial takes its axis where it stands in the least time, up to two ticks.
    #[test]
    fn a_dial_is_followed_as_soon_as_can_be((limits, width, start, period) in axis(), to in 0.0..1.0_f64) {
        let follower = Follower::new(limits, 0.0, period).unwrap();
        let (from, target) = (State::at_rest(start), to * width);
        let best = Passage::quickest(from, State::at_rest(target), &Bounds::both_ways(limits).unwrap()).unwrap();
        let next = |state| State::of(follower.approach(state, target, limits.speed, span(0.0, width)).unwrap().setpoint);
        let (_, end) = ticks_to_rest(next, from, (best.duration() / period) as u32 + 3);
        prop_assert!((end.position - target).abs() <= 1e-8 * width, "{:?}, not {}", end, target);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    /// With any glide and any part of the stick, too, if not as soon; so it does after the glide was turned up on the way.
    #[test]
    fn a_gliding_axis_comes_to_rest_at_the_end_too(
        (limits, width, start, period) in axis(), glide in 0.0..5.0_f64, part in 0.1..1.0_f64, turned_up: bool,
    ) {
        let soft = Follower::new(limits, glide, period).unwrap();
        let first = if turned_up { Follower::new(limits, 0.0, period).unwrap() } else { soft };
        let mut state = State::at_rest(start);
        let mut farthest = 0.0_f64;
        let seconds = width / (limits.speed * part) + 4.0 * (glide + limits.speed / limits.acceleration)
            + 4.0 * limits.acceleration / limits.jerk;
        let ticks = (seconds / period) as u32;
        for tick in 0..ticks {
            let follower = if tick < ticks / 8 { &first } else { &soft };
            state = State::of(follower.step(state, part * limits.speed, span(0.0, width)).unwrap().setpoint);
            farthest = farthest.max(state.position);
        }
        prop_assert!(farthest <= width);
        prop_assert!(width - state.position <= 1e-6 * width && state.speed == 0.0, "{:?} of {}", state, width);
    }
}

/// A dial that moves on while it is followed, back and forth: the axis ends where the dial does.
#[test]
fn a_dial_that_moves_is_followed_to_where_it_ends() {
    let follower = Follower::new(limits(40.0, 80.0, 320.0), 0.0, 0.002).unwrap();
    let travel = span(0.0, 100.0);
    let mut state = State::at_rest(50.0);
    for tick in 0..4000_u32 {
        let target = if tick < 3000 { 50.0 + 50.0 * (f64::from(tick) * 0.004).sin() } else { 20.0 };
        state = State::of(follower.approach(state, target, 40.0, travel).unwrap().setpoint);
        assert!((0.0..=100.0).contains(&state.position));
    }
    close(state.position, 20.0, 1e-6);
    assert_eq!(state.speed, 0.0);
}

/// A hand that pushes against an end, from outside its travel: the axis is let in, no further out, and not by itself.
#[test]
fn an_axis_outside_its_travel_is_let_in_and_no_further_out() {
    let follower = Follower::new(limits(0.5, 1.0, 4.0), 0.0, 0.002).unwrap();
    let travel = span(0.0, 3.0);
    let outside = State::at_rest(3.02);
    for speed in [0.5, 0.0] {
        assert_eq!(State::of(follower.step(outside, speed, travel).unwrap().setpoint), outside);
    }
    let mut state = outside;
    for _ in 0..200 {
        let next = State::of(follower.step(state, -0.5, travel).unwrap().setpoint);
        assert!(next.position <= state.position);
        state = next;
    }
    assert!(state.position < 3.0);
}

/// Room that is taken away under way: the axis brakes as its running limits allow.
#[test]
fn room_that_is_gone_makes_it_brake() {
    let follower = Follower::new(limits(0.5, 1.0, 4.0), 2.0, 0.002).unwrap();
    let mut state = State::default();
    for _ in 0..2000 {
        state = State::of(follower.step(state, 0.5, span(-1.0, 30.0)).unwrap().setpoint);
    }
    let gone = span(-1.0, state.position + 0.01);
    let told = coast(state, follower.bounds()).unwrap();
    let next = |state| State::of(follower.step(state, 0.5, gone).unwrap().setpoint);
    let (ticks, end) = ticks_to_rest(next, state, 1000);
    close(end.position, told.high, 1e-9);
    // 0.5 m/s at 1 m/s², and a quarter of a second of jerk.
    close(f64::from(ticks) * 0.002, 0.75, 0.0021);
}
