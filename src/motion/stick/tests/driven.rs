//! Random hands on random axes: every tick within its limits, every brake within what was told of it.

use proptest::prelude::*;

use super::*;

fn magnitude(decades: f64) -> impl Strategy<Value = f64> {
    (-decades..decades).prop_map(|decade| 10_f64.powf(decade))
}

/// What a hand asks for during some ticks.
#[derive(Clone, Copy, Debug)]
enum Asked {
    /// A share of full speed.
    Stick(f64),
    /// A share of the travel.
    Dial(f64),
    /// The stick again, with less room: from one share of the travel to another.
    Narrowed(f64, f64, f64),
    Brake,
}

fn asked() -> impl Strategy<Value = Asked> {
    let share = prop_oneof![Just(0.0), Just(1.0), Just(-1.0), -1.0..1.0_f64, -1e-6..1e-6_f64];
    let narrowed = (-1.0..1.0_f64, 0.0..1.0_f64, 0.0..1.0_f64);
    prop_oneof![
        4 => share.prop_map(Asked::Stick),
        2 => prop_oneof![Just(0.0), Just(1.0), 0.0..1.0_f64].prop_map(Asked::Dial),
        1 => narrowed.prop_map(|(share, from, to)| Asked::Narrowed(share, from, to)),
        1 => Just(Asked::Brake),
    ]
}

#[derive(Clone, Debug)]
struct Evening {
    run: Limits,
    stop: Limits,
    travel: Range,
    glide: f64,
    period: f64,
    start: f64,
    hand: Vec<(Asked, u32)>,
}

/// Axes whose limits are some decades around that of a full change of speed in a second.
fn evening(decades: f64, most_ticks: u32) -> impl Strategy<Value = Evening> {
    let axis = (magnitude(decades), magnitude(1.0), magnitude(1.0), 1.0..4.0_f64, 1.0..8.0_f64);
    let room = (magnitude(1.5), -3.0..3.0_f64, 0.0..=1.0_f64);
    let time = (prop_oneof![Just(0.0), 0.01..4.0_f64], prop::sample::select(vec![0.001, 0.002, 0.005, 0.02]));
    let hand = prop::collection::vec((asked(), 1..most_ticks), 1..10);
    (axis, room, time, hand).prop_map(
        |((speed, a, j, harder, sharper), (width, off, start), (glide, period), hand)| {
            let run = limits(speed, speed * a, speed * a * j);
            let stop = limits(speed, run.acceleration * harder, run.jerk * sharper);
            let width = width * speed;
            let travel = span(off * width, off * width + width);
            Evening { run, stop, travel, glide, period, start: travel.low + start * width, hand }
        },
    )
}

impl Evening {
    fn room(&self, from: f64, to: f64) -> Range {
        let width = self.travel.high - self.travel.low;
        Range::of(self.travel.low + from * width, self.travel.low + to * width)
    }

    fn ticks(&self, mut judge: impl FnMut(&Follower, State, Step)) -> State {
        let follower = Follower::new(self.run, self.glide, self.period).unwrap();
        let mut state = State::at_rest(self.start);
        for (asked, ticks) in &self.hand {
            for _ in 0..*ticks {
                let step = match *asked {
                    Asked::Stick(share) => follower.step(state, follower.speed_for(share, 1.0), self.travel),
                    Asked::Dial(share) => {
                        follower.approach(state, self.room(0.0, share).high, self.run.speed, self.travel)
                    }
                    Asked::Narrowed(share, from, to) => {
                        follower.step(state, follower.speed_for(share, 1.0), self.room(from, to))
                    }
                    Asked::Brake => follower.brake(state),
                }
                .unwrap();
                judge(&follower, state, step);
                state = State::of(step.setpoint);
            }
        }
        state
    }

    /// What is rounding of a position here.
    fn rounding(&self) -> f64 {
        1e-9 * (self.travel.high - self.travel.low) + 1e-14 * self.travel.most()
    }

    /// Two states one tick apart: within the limits, and no further apart than they allow.
    fn judge(&self, before: State, step: Step) {
        let (now, tick) = (step.setpoint, self.period);
        let Limits { speed, acceleration, jerk } = self.run;
        let within = |found: f64, limit: f64, rounding: f64| {
            assert!(found.abs() <= limit * (1.0 + 1e-7) + rounding, "{found} of {limit}: {before:?} {now:?}");
        };
        assert!(self.travel.low <= now.position && now.position <= self.travel.high, "{before:?} {now:?}");
        within(now.speed, speed, 0.0);
        within(now.acceleration, acceleration, 0.0);
        within(now.jerk, jerk, 0.0);
        within(now.acceleration - before.acceleration, jerk * tick, 1e-9 * acceleration);
        let kept = before.speed + before.acceleration * tick;
        within(now.speed - kept, jerk * tick * tick / 2.0, 1e-9 * speed);
        let kept = before.position + before.speed * tick + before.acceleration * tick * tick / 2.0;
        within(now.position - kept, jerk * tick * tick * tick / 6.0, self.rounding());
        for passed in [before.position, now.position] {
            assert!(step.passes.low <= passed && passed <= step.passes.high, "{before:?} {step:?}");
        }
    }
}

fn holds(outer: Range, inner: Range, rounding: f64) {
    assert!(outer.low - rounding <= inner.low && inner.high <= outer.high + rounding, "{inner:?} in {outer:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn no_tick_breaks_a_limit_and_every_rest_is_inside_the_travel(evening in evening(0.7, 200)) {
        evening.ticks(|_, before, step| {
            evening.judge(before, step);
            holds(evening.travel, step.passes, evening.rounding());
        });
    }

    #[test]
    fn nor_on_tiny_and_huge_axes(evening in evening(8.0, 60)) {
        evening.ticks(|_, before, step| {
            evening.judge(before, step);
            holds(evening.travel, step.passes, evening.rounding());
        });
    }

    /// Braked after any tick, under either limits and to the end, it stays within what was told after that tick, and goes one
    /// way.
    #[test]
    fn every_brake_stays_within_the_coast_that_was_told(evening in evening(0.7, 40)) {
        let mut count = 0_u32;
        let bounds = [evening.run, evening.stop].map(|limits| crate::motion::Bounds::both_ways(limits).unwrap());
        evening.ticks(|_, _, step| {
            count += 1;
            if !count.is_multiple_of(16) {
                return;
            }
            for bounds in &bounds {
                let mut state = State::of(step.setpoint);
                let way = state.speed.signum();
                let mut told = coast(state, bounds).unwrap();
                holds(step.passes, told, evening.rounding());
                while state.speed != 0.0 || state.acceleration != 0.0 {
                    let braked = brake(state, bounds, evening.period).unwrap();
                    holds(told, braked.passes, evening.rounding());
                    assert!(way * braked.setpoint.speed >= -1e-8 * evening.run.speed, "{state:?} {braked:?}");
                    state = State::of(braked.setpoint);
                    told = coast(state, bounds).unwrap();
                    holds(braked.passes, told, evening.rounding());
                }
            }
        });
    }

    /// A hand that lets go leaves the axis at rest: once what was begun is taken away, half a glide, it takes a glide, or as
    /// long as its limits do.
    #[test]
    fn let_go_it_comes_to_rest(evening in evening(0.7, 100)) {
        let mut evening = evening;
        let Limits { speed, acceleration, jerk } = evening.run;
        let seconds = 1.5 * evening.glide + 2.0 * (speed / acceleration + acceleration / jerk);
        evening.hand.push((Asked::Stick(0.0), (seconds / evening.period) as u32 + 4));
        let end = evening.ticks(|_, _, _| ());
        prop_assert_eq!((end.speed, end.acceleration), (0.0, 0.0));
    }

    #[test]
    fn no_number_is_too_strange(n in prop::array::uniform12(any::<f64>())) {
        let [p, v, a, speed, acceleration, jerk, glide, period, wanted, low, high, target] = n;
        let state = State { position: p, speed: v, acceleration: a };
        let sane = limits(1.0, 2.0, 3.0);
        for limits in [limits(speed.abs(), acceleration.abs(), jerk.abs()), sane] {
            if let Ok(follower) = Follower::new(limits, glide.abs(), period.abs()) {
                let _ = follower.step(state, wanted, span(low, high));
                let _ = follower.approach(state, target, wanted.abs(), span(low, high));
                let _ = follower.brake(state);
            }
        }
    }
}

#[test]
fn numbers_that_are_none_are_refused() {
    let follower = Follower::new(limits(1.0, 2.0, 3.0), 0.0, 0.002).unwrap();
    let room = span(-1.0, 1.0);
    for wrong in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(follower.step(State::default(), wrong, room).is_err());
        assert!(follower.approach(State::default(), wrong, 1.0, room).is_err());
        assert!(follower.step(State { speed: wrong, ..State::default() }, 0.5, room).is_err());
        assert!(follower.step(State { position: wrong, ..State::default() }, 0.5, room).is_err());
        assert!(follower.brake(State { acceleration: wrong, ..State::default() }).is_err());
    }
}
