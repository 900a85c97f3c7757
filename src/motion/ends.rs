//! The travel that the ends of an axis leave: a stop from top speed must fit between it and them.

use super::ramp::Ramp;
use crate::show::Limits;

/// The way of an axis from its top speed to rest under these limits, in its own unit: the double-S of Biagiotti and
/// Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, section 3.4.
pub fn stopping_way(stop: Limits) -> f64 {
    Ramp::new(stop.speed, 0.0, 0.0, stop.acceleration, stop.jerk).distance()
}

/// The travel between two ends that an axis has been jogged to, low then high: shorter at both by the way of a stop, and
/// rounded inwards to `decimals`. `None` if that leaves nothing.
pub fn travel_between([low, high]: [f64; 2], stop: Limits, decimals: u32) -> Option<[f64; 2]> {
    let way = stopping_way(stop);
    let scale = libm::pow(10.0, f64::from(decimals));
    // A decimal that is there already stays, whatever its last bit says.
    let up = |value: f64| (value * scale - ROUNDING).ceil() / scale;
    let travel = [up(low + way), -up(way - high)];
    (travel[0] < travel[1]).then_some(travel)
}

/// Of the last decimal.
const ROUNDING: f64 = 1e-6;

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn the_stop_that_fits_is_the_published_one() {
        // Double-S d = (v/2)(v/a + a/j) for 1.2/0.8/2; v·√(v/j) for 0.2/1/1; 30/60/240 in degrees.
        let way = |speed, acceleration, jerk| stopping_way(Limits { speed, acceleration, jerk });
        assert!((way(1.2, 0.8, 2.0) - 1.14).abs() < 1e-12);
        assert!((way(0.2, 1.0, 1.0) - 0.0894427).abs() < 1e-7);
        assert!((way(30.0, 60.0, 240.0) - 11.25).abs() < 1e-12);
        let stop = Limits { speed: 1.2, acceleration: 0.8, jerk: 2.0 };
        assert_eq!(travel_between([-2.0, 3.0], stop, 3), Some([-0.86, 1.86]));
        assert_eq!(travel_between([-2.0004, 3.0006], stop, 3), Some([-0.86, 1.86]));
        assert_eq!(travel_between([0.0, 2.28], stop, 3), None);
    }

    proptest! {
        #[test]
        fn an_axis_that_stops_from_its_travel_stays_between_its_ends(
            low in -1e3..1e3_f64, width in 0.01..1e3_f64, speed in 0.01..100.0_f64, acceleration in 0.01..100.0_f64,
            jerk in 0.01..1e3_f64, decimals in 0..5_u32,
        ) {
            let (ends, stop) = ([low, low + width], Limits { speed, acceleration, jerk });
            let way = stopping_way(stop);
            let grain = 0.1_f64.powi(decimals as i32);
            match travel_between(ends, stop, decimals) {
                Some([from, to]) => {
                    prop_assert!(from - way >= ends[0] - 1e-6 * grain - 1e-9 && to + way <= ends[1] + 1e-6 * grain + 1e-9);
                    // And no more is given away than the rounding.
                    prop_assert!(from - way <= ends[0] + grain + 1e-9 && to + way >= ends[1] - grain - 1e-9);
                }
                None => prop_assert!(width - 2.0 * way <= 2.0 * grain + 1e-9),
            }
        }
    }
}
