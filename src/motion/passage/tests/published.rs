use super::*;

fn duration(from: State, to: State, bounds: &Bounds) -> f64 {
    quickest(from, to, bounds).duration()
}

fn peak_speed(passage: &Passage) -> f64 {
    passage.pieces().map(|(begin, _)| begin.speed).fold(0.0, f64::max)
}

/// Biagiotti and Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, section 3.4: examples 3.9 and
/// 3.10, from a moving start; durations also from ruckig 0.19.
#[test]
fn published_examples_from_a_moving_start() {
    let limits = bounds(5.0, 10.0, 30.0);
    let passage = quickest(state(0.0, 1.0, 0.0), State::at_rest(10.0), &limits);
    close(passage.duration(), 2.71, 1e-6);
    let times: Vec<f64> = passage.pieces().map(|(_, time)| time).skip(RUN_IN).collect();
    close(times[..3].iter().sum(), 0.733_333_3, 1e-6);
    close(times[3], 1.143_333_3, 1e-6);
    close(times[4..].iter().sum(), 0.833_333_3, 1e-6);

    let limits = bounds(10.0, 10.0, 30.0);
    let passage = quickest(state(0.0, 1.0, 0.0), State::at_rest(10.0), &limits);
    let times: Vec<f64> = passage.pieces().map(|(_, time)| time).skip(RUN_IN).collect();
    close(times[..3].iter().sum(), 1.074_690_0, 1e-6);
    close(times[4..].iter().sum(), 1.174_690_0, 1e-6);
    close(peak_speed(&passage), 8.413_567_0, 1e-6);
}

/// Examples 3.11 and 3.12 of the book end where they should but not in the least time; the optima are those of ruckig 0.19.
#[test]
fn the_optimum_of_the_two_examples_that_the_book_takes_slower() {
    let limits = bounds(10.0, 10.0, 30.0);
    close(duration(state(0.0, 7.0, 0.0), State::at_rest(10.0), &limits), 1.780_445_8, 1e-6);
    close(duration(state(0.0, 7.5, 0.0), State::at_rest(10.0), &limits), 1.754_215_1, 1e-6);
}

/// From rest to rest it is the double-S profile: the same source.
#[test]
fn published_profiles_from_rest_to_rest() {
    for ([way, v, a, j], time) in [
        ([2.0, 0.5, 0.5, 1.0], 5.5),
        ([2.0, 0.2, 1.0, 1.0], 10.894_427_2),
        ([0.3, 1.0, 0.5, 1.0], 2.127_882_1),
        ([0.05, 1.0, 1.0, 2.0], 0.928_317_8),
        ([90.0, 30.0, 40.0, 120.0], 4.083_333_3),
        ([10.0, 10.0, 20.0, 30.0], 2.201_284_8),
    ] {
        for way in [way, -way] {
            close(duration(State::default(), State::at_rest(way), &bounds(v, a, j)), time, 1e-6);
        }
    }
}

/// Stopping values from the double-S formulas of the same section; the last while it still speeds up.
#[test]
fn published_stops() {
    for ([speed, acceleration, limit, jerk], time, way) in [
        ([1.2, 0.0, 0.8, 2.0], 1.9, 1.14),
        ([0.2, 0.0, 1.0, 1.0], 0.894_427_2, 0.089_442_7),
        ([30.0, 0.0, 60.0, 240.0], 0.75, 11.25),
        ([1.0, 0.6, 0.8, 2.0], 2.0625, 1.278_562_5),
    ] {
        let (from, limits) = (state(3.0, speed, acceleration), bounds(100.0, limit, jerk));
        let stop = Passage::stop(from, &limits).unwrap();
        assert_eq!(verify_passage(&stop, from, None, &limits), Ok(()));
        close(stop.duration(), time, 1e-6);
        close(stop.to().position - 3.0, way, 1e-6);
        // Nothing is quicker, also where the place is given: where the stop ends.
        close(duration(from, stop.to(), &limits), time, 1e-6);
    }
}

/// A stop is the change of speed that [`Ramp`](crate::motion::Ramp) makes, also where it begins beyond the limits.
#[test]
fn a_stop_with_equal_limits_is_a_ramp() {
    for case in 0..2000_u32 {
        let part = |index: u32, of: u32| f64::from(index % of) / f64::from(of - 1) * 2.0 - 1.0;
        let (speed, acceleration) = (3.0 * part(case, 11), 4.0 * part(case / 11, 13));
        let (limit, jerk) = ([0.4, 1.5, 4.0][(case / 143 % 3) as usize], [0.5, 3.0][(case / 429 % 2) as usize]);
        let (from, limits) = (state(0.0, speed, acceleration), bounds(1.0, limit, jerk));
        let stop = Passage::stop(from, &limits).unwrap();
        assert_eq!(verify_passage(&stop, from, None, &limits), Ok(()), "{from:?} {limits:?}");
        let ramp = crate::motion::Ramp::new(speed, acceleration, 0.0, limit, jerk);
        close(stop.duration(), ramp.duration(), 1e-9);
        close(stop.to().position, ramp.distance(), 1e-9);
        close(stop.at(0.6 * stop.duration()).speed, ramp.at(0.6 * ramp.duration()).speed, 1e-9);
    }
}

/// Where it takes longer to be a tenth nearer: between what can be reached while the acceleration keeps its sign, and what
/// can after it has passed zero, there is nothing. Both ends by hand: from 0 to 0.5 per s at 1 per s² each, jerk 1.
#[test]
fn a_moving_target_may_be_out_of_reach_for_a_while() {
    let limits = bounds(100.0, 10.0, 1.0);
    let from = state(0.0, 0.0, 1.0);
    let time = |position: f64| duration(from, state(position, 0.5, 1.0), &limits);
    // Up and down: a peak of √1.5. Down and up: a dip of √0.5. Then down through zero to -√0.5.
    let (peak, dip) = (1.5_f64.sqrt(), 0.5_f64.sqrt());
    let (quick, slow, late) = (2.0 * (peak - 1.0), 2.0 * (1.0 - dip), 2.0 * (1.0 + dip));
    // Both are their own mirror image in time, so that half of the gain is made in half of the time.
    close(time(0.25 * quick), quick, 1e-9);
    close(time(0.25 * slow), slow, 1e-9);
    close(time(0.25 * late), late, 1e-9);
    assert!(time(0.25 * slow + 1e-3) > slow + 1.0);
    assert!(time(0.25 * late - 1e-3) > late);
}
