//! A change of speed in the least time, jerk-limited: how an axis stops, and how the rate of running cues changes.
//!
//! Closed form. From a speed and an acceleration to another speed and none, the acceleration rises to a peak, may
//! stay there, and falls to zero (the velocity case of Biagiotti and Melchiorri, 2008, section 3.4). It is total:
//! for any finite state and positive limits there is an answer, also where the acceleration begins above its limit.

use super::profile::Sample;

/// Three phases of constant jerk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    from: Sample,
    to_speed: f64,
    phases: [Phase; 3],
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Phase {
    time: f64,
    jerk: f64,
}

impl Ramp {
    /// From `speed` and `acceleration` to `to_speed`, within a limit on acceleration and one on jerk, both above
    /// zero. The units are those of the speed, per s and s². An acceleration above its limit is first brought to
    /// it.
    pub fn new(speed: f64, acceleration: f64, to_speed: f64, limit: f64, jerk: f64) -> Ramp {
        Ramp::skewed(speed, acceleration, to_speed, limit, jerk, jerk)
    }

    /// Like [`Ramp::new`], with one jerk for the first phase and another for the last.
    pub fn skewed(speed: f64, acceleration: f64, to_speed: f64, limit: f64, onset: f64, release: f64) -> Ramp {
        let from = Sample { position: 0.0, speed, acceleration, jerk: 0.0 };
        // Where the speed would end if the acceleration were taken away at once decides the direction.
        let ends_at = |jerk: f64| speed + acceleration * acceleration.abs() / (2.0 * jerk);
        let untouched = ends_at(release);
        let between = (to_speed - untouched) * (to_speed - ends_at(onset)) <= 0.0;
        if onset > release && acceleration != 0.0 && between {
            // Too near for the one jerk and too far for the other: one between them takes the acceleration away.
            let time = 2.0 * (to_speed - speed) / acceleration;
            let only = Phase { time, jerk: -acceleration / time };
            return Ramp { from, to_speed, phases: [only, Phase::default(), Phase::default()] };
        }
        let way = if to_speed >= untouched { 1.0 } else { -1.0 };
        let rise = way * (to_speed - speed);
        let begin = way * acceleration;
        // The peak of a change without a steady phase: rise = (peak² - begin²) / 2 onset + peak² / 2 release.
        let square = (2.0 * rise * onset + begin * begin) * release / (onset + release);
        let peak = square.max(0.0).sqrt().max(begin).max(0.0);
        let phases = if peak <= limit {
            [
                Phase { time: (peak - begin) / onset, jerk: onset },
                Phase::default(),
                Phase { time: peak / release, jerk: -release },
            ]
        } else {
            // One that begins above the limit falls to it as fast as it may, so as not to gain too much on the way.
            let toward = if begin > limit { -release } else { onset };
            let first = (limit - begin) / toward;
            let gained = (begin + limit) / 2.0 * first + limit * limit / (2.0 * release);
            [
                Phase { time: first, jerk: toward },
                Phase { time: ((rise - gained) / limit).max(0.0), jerk: 0.0 },
                Phase { time: limit / release, jerk: -release },
            ]
        };
        Ramp {
            from,
            to_speed,
            phases: phases.map(|phase| Phase { time: phase.time.max(0.0), jerk: way * phase.jerk }),
        }
    }

    /// No change at all.
    pub fn steady(speed: f64) -> Ramp {
        Ramp { from: Sample { speed, ..Sample::default() }, to_speed: speed, phases: [Phase::default(); 3] }
    }

    /// s.
    pub fn duration(&self) -> f64 {
        self.phases[0].time + self.phases[1].time + self.phases[2].time
    }

    pub fn to_speed(&self) -> f64 {
        self.to_speed
    }

    /// The lengths of its phases, s.
    pub fn times(&self) -> [f64; 3] {
        self.phases.map(|phase| phase.time)
    }

    /// At `time` s from its start: the way since then (`position`) and its derivatives; afterwards at the new
    /// speed.
    pub fn at(&self, time: f64) -> Sample {
        let mut left = time.max(0.0);
        let mut state = self.from;
        for phase in self.phases {
            state.jerk = phase.jerk;
            if left < phase.time {
                return state.after(left);
            }
            state = state.after(phase.time);
            left -= phase.time;
        }
        Sample { position: state.position + self.to_speed * left, speed: self.to_speed, ..Sample::default() }
    }

    /// The way until the new speed is reached.
    pub fn distance(&self) -> f64 {
        self.at(self.duration()).position
    }

    /// Begins `time` s into this ramp; what is left of it.
    pub fn rest_from(&self, time: f64) -> Ramp {
        let mut left = time.max(0.0);
        let mut phases = self.phases;
        for phase in &mut phases {
            let passed = phase.time.min(left);
            phase.time -= passed;
            left -= passed;
        }
        let now = self.at(time);
        Ramp { from: Sample { position: 0.0, ..now }, to_speed: self.to_speed, phases }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stopping values computed from the double-S formulas of Biagiotti and Melchiorri, section 3.4.
    #[test]
    fn stops_take_the_published_times_and_ways() {
        for (speed, acceleration, limit, jerk, time, way) in [
            (1.2, 0.0, 0.8, 2.0, 1.9, 1.14),
            (0.2, 0.0, 1.0, 1.0, 0.894_427_2, 0.089_442_7),
            (30.0, 0.0, 60.0, 240.0, 0.75, 11.25),
            (1.0, 0.6, 0.8, 2.0, 2.0625, 1.278_562_5),
        ] {
            let stop = Ramp::new(speed, acceleration, 0.0, limit, jerk);
            assert!((stop.duration() - time).abs() < 1e-6, "{speed} {acceleration}: {}", stop.duration());
            assert!((stop.distance() - way).abs() < 1e-6, "{speed} {acceleration}: {}", stop.distance());
        }
    }

    /// Whatever it begins with, it arrives: at its speed, with no acceleration left, and nothing jumps as it ends.
    #[test]
    fn every_ramp_ends_where_it_says() {
        let part = |index: u32, of: u32| f64::from(index) / f64::from(of);
        for case in 0..20_000_u32 {
            let speed = part(case % 11, 5) - 1.0;
            let acceleration = 3.0 * (part(case / 11 % 13, 6) - 1.0);
            let to_speed = part(case / 143 % 17, 8) - 1.0;
            let (onset, release) = [(8.0, 2.0), (2.0, 8.0), (3.0, 3.0), (5.0, 4.9)][(case / 2431 % 4) as usize];
            let limit = [0.4, 1.5, 4.0][(case / 9724 % 3) as usize];
            let ramp = Ramp::skewed(speed, acceleration, to_speed, limit, onset, release);
            let end = ramp.at(ramp.duration() - 1e-9);
            let shown = format!("{speed} {acceleration} {to_speed} {limit} {onset} {release}: {end:?}");
            assert!((end.speed - to_speed).abs() < 1e-7, "{shown}");
            assert!(end.acceleration.abs() < 1e-6, "{shown}");
            assert!(end.jerk.abs() <= onset.max(release) * (1.0 + 1e-9), "{shown}");
        }
    }

    /// The same source: braking while accelerating, the speed peaks first.
    #[test]
    fn braking_while_accelerating_peaks_at_the_published_speed() {
        let stop = Ramp::new(1.0, 0.6, 0.0, 0.8, 2.0);
        let peak = (0..4000).map(|i| stop.at(f64::from(i) * 0.0005).speed).fold(0.0, f64::max);
        assert!((peak - 1.09).abs() < 1e-6, "{peak}");
    }

    #[test]
    fn an_acceleration_above_its_limit_is_brought_back_and_the_speed_is_met() {
        let ramp = Ramp::new(0.0, 3.0, 10.0, 1.0, 2.0);
        let end = ramp.at(ramp.duration());
        assert_eq!((end.speed, end.acceleration), (10.0, 0.0));
        let before = ramp.at(ramp.duration() - 1e-9);
        assert!((before.speed - 10.0).abs() < 1e-6 && before.acceleration.abs() < 1e-6);
        assert!(ramp.at(1.0).acceleration <= 1.0 + 1e-12);
    }

    #[test]
    fn the_rest_of_a_ramp_goes_on_where_it_was_cut() {
        let ramp = Ramp::new(1.0, -0.3, 0.0, 0.8, 2.0);
        for cut in [0.0, 0.1, 0.5, 1.0, 3.0] {
            let (rest, at_cut) = (ramp.rest_from(cut), ramp.at(cut).position);
            for later in [0.0, 0.2, 0.9, 2.0] {
                let (a, b) = (ramp.at(cut + later), rest.at(later));
                assert!((a.position - at_cut - b.position).abs() < 1e-12);
                assert!((a.speed - b.speed).abs() < 1e-12 && (a.acceleration - b.acceleration).abs() < 1e-12);
            }
        }
    }
}
