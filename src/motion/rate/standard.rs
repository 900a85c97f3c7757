//! Standard brakes, of which it can be told beforehand who bears them.
//!
//! How a brake of several courses comes out that is searched for no table tells, since they come together in any state. A
//! standard brake is a plain ramp of the rate, of one of a few shapes and lengths: along the cues' own time it is the same at every
//! rate, and a course bears it or not whatever runs beside it. So who knows which ones each course bears, from anywhere within a
//! span of its time, knows one that all of them bear; and who takes no brake that goes farther than the shortest of those
//! ([`no_farther`]) stops within it.
//!
//! At the rate ρ a course feels ρ² of the acceleration and ρ³ of the jerk that it would feel at full rate. What is borne is bounded
//! by interval arithmetic (Moore, *Interval Analysis*, 1966) over all starts at once; a part of a span bears whatever the span does.

use super::change::Change;
use super::path::{Extremes, Path};
use super::range::Range;
use super::{Course, Regime};
use crate::motion::profile::Ceiling;
use crate::motion::ramp::Ramp;

/// Lengths of a brake of one shape.
pub const RUNGS: usize = 64;
/// The parts of its time that the first and the last phase of a brake take. The last is for cues that slow down by themselves.
/// None is on the whole slower than half the rate from which it begins: by that whoever takes one tells how long it takes at most.
pub const SHAPES: [(f64, f64); 3] = [(0.15, 0.15), (0.3, 0.3), (0.6, 0.15)];
/// s, the shortest at full rate, and from each to the next.
const SHORTEST: f64 = 0.1;
const LONGER: f64 = 1.1;
const TIMES: [f64; RUNGS] = {
    let mut times = [SHORTEST; RUNGS];
    let mut rung = 1;
    while rung < RUNGS {
        times[rung] = times[rung - 1] * LONGER;
        rung += 1;
    }
    times
};
/// s of the cues' own time, by shape and rung: the longer takes the longer way.
const WAYS: [[f64; RUNGS]; SHAPES.len()] = {
    let mut ways = [[0.0; RUNGS]; SHAPES.len()];
    let mut shape = 0;
    while shape < SHAPES.len() {
        let (onset, release) = SHAPES[shape];
        let steepest = 1.0 / (1.0 - (onset + release) / 2.0);
        let ends = onset + steepest * (release * release - onset * onset) / 6.0;
        let part = ends + (1.0 - onset - release) * (1.0 + steepest * (release - onset) / 2.0) / 2.0;
        let mut rung = 0;
        while rung < RUNGS {
            ways[shape][rung] = TIMES[rung] * part;
            rung += 1;
        }
        shape += 1;
    }
    ways
};
/// Halvings of a phase.
const HALVINGS: u32 = 4;
/// As a part of a limit: so much more than rounding is kept from it where brakes are told beforehand.
const ROUNDING: f64 = 1e-9;

/// One of the standard brakes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standard {
    /// Index into [`SHAPES`].
    pub shape: usize,
    /// Below [`RUNGS`], the longer the more.
    pub rung: usize,
}

/// A course as a standard brake meets it.
pub trait Bears {
    /// Bounds on the derivatives of its path between two times of it.
    fn extremes(&self, from: f64, to: f64) -> Extremes;

    /// The stopping limits, speed left out: a brake adds none.
    fn limits(&self) -> Ceiling;

    /// The highest rate at which it goes, below zero on its way back.
    fn rate(&self) -> f64;

    /// Whether it bears a standard brake that begins anywhere between two times of its path, from that rate or a lower one.
    fn bears(&self, brake: Standard, starts: [f64; 2]) -> bool {
        let (ramp, way) = (brake.ramp(1.0), self.rate().signum());
        let rate = self.rate().abs();
        let limits = self.limits();
        let limits = [limits.acceleration / (rate * rate), limits.jerk / (rate * rate * rate)];
        let [onset, steady, release] = ramp.times();
        let ends = [0.0, onset, onset + steady, onset + steady + release];
        // What is not borne shows soonest where a phase begins.
        ends[..3].iter().all(|&time| self.keeps(&ramp, [time; 2], [starts[0]; 2], way, limits, 0))
            && ends.array_windows().all(|&phase| self.keeps(&ramp, phase, starts, way, limits, HALVINGS))
    }

    /// The same of a part of the brake within one of its phases.
    fn keeps(
        &self,
        ramp: &Ramp,
        part: [f64; 2],
        starts: [f64; 2],
        way: f64,
        limits: [f64; 2],
        halvings: u32,
    ) -> bool {
        let ([first, last], middle) = (part.map(|time| ramp.at(time)), (part[0] + part[1]) / 2.0);
        let gone = Range::of(way * first.position, way * last.position);
        let path = self.extremes(starts[0] + gone.low, starts[1] + gone.high);
        let rate = Range::of(first.speed, last.speed);
        let drift = Range::of(first.acceleration, last.acceleration).scaled(way);
        let bend = way * ramp.at(middle).jerk;
        let square = rate.square();
        let acceleration = path.acceleration.times(square).plus(path.speed.times(drift));
        let curved = path.acceleration.times(rate).times(drift).scaled(3.0 * way);
        let jerk = path.jerk.times(square).times(rate).scaled(way).plus(curved).plus(path.speed.scaled(bend));
        if acceleration.most() <= limits[0] && jerk.most() <= limits[1] {
            return true;
        }
        halvings > 0
            && [[part[0], middle], [middle, part[1]]]
                .into_iter()
                .all(|half| self.keeps(ramp, half, starts, way, limits, halvings - 1))
    }
}

impl Standard {
    /// From one steady rate.
    fn ramp(self, rate: f64) -> Ramp {
        let (time, (onset, release)) = (TIMES[self.rung], SHAPES[self.shape]);
        let limit = 1.0 / (time * (1.0 - (onset + release) / 2.0));
        let (square, cube) = (rate * rate, (rate * rate * rate).abs());
        Ramp::skewed(rate, 0.0, 0.0, square * limit, cube * limit / (onset * time), cube * limit / (release * time))
    }

    /// s of the cues' own time, at any rate.
    pub fn way(self) -> f64 {
        WAYS[self.shape][self.rung]
    }

    /// How many of a shape go less far than so many s.
    pub fn shorter(shape: usize, way: f64) -> usize {
        WAYS[shape].partition_point(|shorter| *shorter < way)
    }

    /// From that steady rate.
    pub fn change(self, rate: f64) -> Change {
        Change::along(&self.ramp(rate))
    }
}

/// A course that brakes from a steady rate, now.
struct Now<'a, P> {
    course: &'a Course<P>,
    rate: f64,
}

impl<P: Path> Bears for Now<'_, P> {
    fn extremes(&self, from: f64, to: f64) -> Extremes {
        self.course.path.extremes(from, to)
    }

    fn limits(&self) -> Ceiling {
        self.course.ceiling(Regime::Stopping).times(1.0 + ROUNDING)
    }

    fn rate(&self) -> f64 {
        self.rate
    }
}

/// Of the brake that was found from a steady rate, and the standard ones that all courses bear: the one found, unless one of those
/// goes less far.
pub fn no_farther<P: Path>(courses: &[Course<P>], rate: f64, found: Option<Change>) -> Option<Change> {
    let mut way = found.map_or(f64::INFINITY, |change| change.distance().abs());
    let mut best = None;
    for shape in 0..SHAPES.len() {
        let mut rungs = (0..Standard::shorter(shape, way)).map(|rung| Standard { shape, rung });
        let borne =
            |brake: &Standard| courses.iter().all(|course| Now { course, rate }.bears(*brake, [course.time; 2]));
        if let Some(brake) = rungs.find(borne) {
            (way, best) = (brake.way(), Some(brake));
        }
    }
    best.map(|brake| brake.change(rate)).or(found)
}

/// Less by what is rounding, for whoever tells beforehand what is borne.
pub fn told_beforehand(limits: Ceiling) -> Ceiling {
    limits.times(1.0 - ROUNDING)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::Profile;
    use crate::motion::rate::keeps_limits;

    fn standards() -> impl Iterator<Item = Standard> {
        (0..SHAPES.len()).flat_map(|shape| (0..RUNGS).map(move |rung| Standard { shape, rung }))
    }

    #[test]
    fn a_standard_brake_goes_one_way_at_every_rate() {
        for brake in standards() {
            for rate in [1.0, 0.4, -0.5] {
                let change = brake.change(rate);
                assert!(
                    (change.distance() - rate.signum() * brake.way()).abs() < 1e-9 * brake.way(),
                    "{brake:?} {rate}"
                );
                let whole = brake.change(1.0).duration();
                assert!(whole <= 2.0 * brake.way() * (1.0 + 1e-9), "{brake:?} takes {whole} s");
                assert!((change.duration() * rate.abs() - whole).abs() < 1e-9 * whole);
            }
        }
    }

    /// What is borne keeps every limit, by the check of every other change too; what is not mostly breaks one.
    #[test]
    fn what_is_borne_keeps_the_limits() {
        let run = Ceiling { speed: 0.1, acceleration: 0.05, jerk: 0.1 };
        let (mut borne, mut kept) = (0, 0);
        for reserve in [1.02, 1.5, 3.0] {
            let stop = Ceiling { speed: 0.1, acceleration: reserve * 0.05, jerk: reserve * 0.1 };
            let path = Profile::fastest(run);
            for (part, rate) in (0..40).flat_map(|part| [1.0, 0.6, -0.5].map(|rate| (part, rate))) {
                let course = Course { path, time: path.duration() * f64::from(part) / 40.0, run, stop };
                for brake in standards().filter(|brake| brake.rung % 8 == 0) {
                    let keeps = keeps_limits(&[course], &brake.change(rate), Regime::Stopping);
                    let bears = Now { course: &course, rate }.bears(brake, [course.time; 2]);
                    assert!(keeps || !bears, "{brake:?} at {part}, rate {rate}, reserve {reserve}");
                    (borne, kept) = (borne + usize::from(bears), kept + usize::from(keeps));
                }
            }
        }
        assert!(borne > 500 && 10 * borne > 9 * kept, "{borne} borne, {kept} kept");
    }

    /// Whatever a stretch of starts bears, each start in it does.
    #[test]
    fn what_a_span_bears_every_start_in_it_bears() {
        let run = Ceiling { speed: 0.1, acceleration: 0.05, jerk: 0.1 };
        let path = Profile::fastest(run);
        let stop = Ceiling { speed: 0.1, acceleration: 0.06, jerk: 0.2 };
        let mut borne = 0;
        for span in 0..40 {
            let [from, to] = [span, span + 1].map(|end| path.duration() * f64::from(end) / 40.0);
            for brake in standards() {
                let course = Course { path, time: from, run, stop };
                if (Now { course: &course, rate: 1.0 }).bears(brake, [from, to]) {
                    borne += 1;
                    for part in 0..=4 {
                        let time = from + (to - from) * f64::from(part) / 4.0;
                        assert!(Now { course: &course, rate: 0.8 }.bears(brake, [time; 2]), "{brake:?} at {time}");
                    }
                }
            }
        }
        assert!(borne > 500, "{borne}");
    }
}
