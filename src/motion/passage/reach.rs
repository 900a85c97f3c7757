//! The farthest that an axis can come in each time: one curve, from the least time on.
//!
//! For a fixed time the passages between two speeds and accelerations form a convex set, so that the distances they
//! cover fill an interval. Its upper end is reached by jerks up, down, up, held at the limits in between (Pontryagin:
//! the costate of the acceleration is a parabola that opens upwards). All of these passages make one curve over the
//! acceleration at which the last `up` begins, the *dip*. With the *peak* at which the `down` begins, peak² - dip² is
//! the same along the curve, since the change of speed is given. How far the dip lies below the final acceleration is
//! the parameter here, the *offset*:
//!
//! ```text
//!  acceleration   _peak_
//!               /        \                       to_acceleration
//!             /            \                   /
//!  from_acceleration         \______cruise   /        (a cruise only at the greatest speed)
//!                                        \_/
//!                                        dip
//! ```
//!
//! Along the curve time grows with the offset, and the slope of distance over time is the Hamiltonian of the problem (the
//! envelope theorem), known in closed form: v + peak (peak - dip) / 2 J, v the speed where the `down` begins. So Newton's method
//! needs no derivatives of polynomials, and the shape of the curve is known. Once the dip is below zero the slope grows, so
//! that distance falls, if at all, before it rises for good; a cruise then adds to it at the greatest speed. While the dip
//! is above zero the slope first shrinks, then grows (`steepest_fall`), so that a crest may come first.

use super::task::{STROKES, Stroke, Task};

/// Distances nearer than this share of what is covered are equal.
const NEAR: f64 = 1e-12;
/// Speeds nearer than this share of themselves are.
const NEAR_SPEED: f64 = 1e-14;
/// Newton's method within a bracket takes a handful of steps; halving the bracket alone would take 60.
const STEPS: usize = 100;

/// One passage of the curve.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// How far the dip lies below the final acceleration: the parameter.
    offset: f64,
    /// How far it lies below zero.
    depth: f64,
    peak: f64,
    dip: f64,
    /// Up, at the peak, down, at the dip, up; s.
    times: [f64; 5],
    pub distance: f64,
    /// Of distance over time.
    pub slope: f64,
    /// Of time over depth.
    pace: f64,
    /// What is covered without regard to signs, for rounding.
    covered: f64,
}

impl Point {
    /// Whether this is the distance of a task, but for rounding.
    pub fn meets(&self, task: &Task) -> bool {
        (self.distance - task.distance).abs() <= NEAR * self.covered + task.rounding
    }
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Reach {
    task: Task,
    /// Limits on acceleration and jerk as sizes: upwards, downwards.
    top: f64,
    bottom: f64,
    up: f64,
    down: f64,
    /// Speed by squared acceleration, of a rise and a fall together.
    weight: f64,
    /// The least peak² on the curve; if the final acceleration is above zero it is peak² - dip².
    least_square: f64,
    /// peak² - from_acceleration², where the curve begins.
    first_rise: f64,
}

impl Reach {
    pub fn new(task: Task) -> Reach {
        let (top, bottom) = (task.bounds.acceleration().high, -task.bounds.acceleration().low);
        let (up, down) = (task.bounds.jerk().high, -task.bounds.jerk().low);
        let weight = 0.5 / up + 0.5 / down;
        let (begin, end) = (task.from_acceleration, task.to_acceleration);
        let gain = task.to_speed - task.from_speed;
        let first_rise = (gain + (end - begin) * (end + begin) / (2.0 * down)) / weight;
        // Where the dip is at zero or, if the curve begins below that, at its beginning.
        let from_end = if end > 0.0 { -end * end / (2.0 * up) } else { end * end / (2.0 * down) };
        let mut least_square = (gain + begin * begin / (2.0 * up) + from_end) / weight;
        let speeds = task.from_speed.abs() + task.to_speed.abs() + weight * (begin * begin + end * end);
        if begin <= 0.0 && least_square * weight <= NEAR_SPEED * speeds {
            // Both ends coast at one speed. The root of a rounding error would be a peak, and so large a change that a moving
            // target which is just met would be missed.
            least_square = 0.0;
        }
        Reach { task, top, bottom, up, down, weight, least_square, first_rise }
    }

    /// Where the curve begins: the final acceleration is reached from the peak.
    pub fn start(&self) -> Point {
        self.at(0.0)
    }

    /// Where the greatest speed is reached; beyond it the axis cruises.
    pub fn fastest(&self) -> Point {
        let (speed, end) = (self.task.to_speed, self.task.to_acceleration);
        let most = self.task.bounds.speed().high;
        let depth = ((most - speed + end * end / (2.0 * self.up)) / self.weight).max(0.0).sqrt();
        let offset = if end < 0.0 {
            let square = (most - speed - end * end / (2.0 * self.down)) / self.weight;
            square / (depth - end)
        } else {
            depth + end
        };
        self.at(offset.max(0.0))
    }

    /// Where the peak is where the passage begins, with the dip above zero: no first rise is left.
    pub fn level(&self) -> Point {
        let end = self.task.to_acceleration;
        self.at((end - (end * end - self.first_rise).max(0.0).sqrt()).max(0.0))
    }

    fn at(&self, offset: f64) -> Point {
        let Reach { top, bottom, up, down, weight, .. } = *self;
        let (begin, end) = (self.task.from_acceleration, self.task.to_acceleration);
        let depth = offset - end;
        // peak² - from_acceleration²; the peak may be so near that the difference of the two would cancel.
        let rise = self.first_rise + offset * (offset - 2.0 * end);
        let over_least = if end > 0.0 { depth * depth } else { offset * (offset - 2.0 * end) };
        let square = (over_least + self.least_square).max(0.0);
        let free_peak = square.sqrt();
        let (peak, first, top_time) = if free_peak > top {
            (top, top - begin, weight * (square - top * top) / top)
        } else if begin > 0.0 {
            (free_peak, rise / (free_peak + begin), 0.0)
        } else {
            (free_peak, free_peak - begin, 0.0)
        };
        let (dip, last, bottom_time) = if depth > bottom {
            (-bottom, end + bottom, weight * (depth - bottom) * (depth + bottom) / bottom)
        } else {
            (-depth, offset, 0.0)
        };
        // Speeds may be known too roughly to tell a peak from what it rises from; the acceleration does not jump.
        let least = begin.max(dip);
        let (peak, first) = if peak < least { (least, least - begin) } else { (peak, first) };
        let times = [(first / up).max(0.0), top_time, ((peak - dip) / down).max(0.0), bottom_time, last / up];
        let ends = [begin, peak, peak, dip, dip, end];
        let (mut speed, mut distance, mut covered) = (self.task.from_speed, 0.0, 0.0);
        let mut peak_end_speed = speed;
        for (index, time) in times.into_iter().enumerate() {
            let (a, b) = (ends[index], ends[index + 1]);
            let bend = time * time * (2.0 * a + b) / 6.0;
            distance += speed * time + bend;
            covered += speed.abs() * time + bend.abs();
            speed += time * (a + b) / 2.0;
            if index == 1 {
                peak_end_speed = speed;
            }
        }
        let slope = peak_end_speed + peak * (peak - dip) / (2.0 * down);
        let rising = if peak > 0.0 { depth / peak } else { 1.0 };
        let pace = 2.0 * weight * (rising + (depth / bottom).max(1.0));
        Point { offset, depth, peak, dip, times, distance, slope, pace, covered }
    }

    /// The first point between two at which the distance of the task is reached, if it is. At the first it must not be reached yet.
    pub fn first_to_reach(&self, low: &Point, high: &Point) -> Option<Point> {
        let distance = self.task.distance;
        let mut low = *low;
        if low.depth < 0.0 && low.slope > 0.0 {
            let end = self.task.to_acceleration;
            let fall = self.at((end - self.steepest_fall()).clamp(low.offset, high.offset.min(end)));
            if fall.slope < 0.0 {
                // The curve rises to a crest and falls before it rises for good.
                let crest = self.crest(&low, &fall);
                if crest.distance >= distance {
                    return Some(self.crossing(distance, &low, &crest));
                }
                low = fall;
            }
        }
        if high.distance >= distance {
            Some(self.crossing(distance, &low, high))
        } else {
            high.meets(&self.task).then_some(*high)
        }
    }

    /// The dip, not below zero, at which the slope is least: where its derivative changes sign.
    fn steepest_fall(&self) -> f64 {
        let gap = self.least_square;
        let ratio = 1.0 + self.down / self.up;
        let spread = ratio + (ratio * ratio - 1.0).sqrt();
        let free = (gap.max(0.0) / (spread * spread - 1.0)).sqrt();
        let held_from = (self.top * self.top - gap).max(0.0).sqrt();
        if free <= held_from { free } else { held_from.max(self.top / (4.0 * self.weight * self.down)) }
    }

    /// Where the slope passes zero, from above to below.
    fn crest(&self, low: &Point, high: &Point) -> Point {
        let (mut rising, mut falling) = (*low, high.offset);
        loop {
            let middle = rising.offset + (falling - rising.offset) / 2.0;
            if middle <= rising.offset || middle >= falling {
                return rising;
            }
            let point = self.at(middle);
            if point.slope > 0.0 {
                rising = point;
            } else {
                falling = middle;
            }
        }
    }

    /// The one point between two at which the distance is reached: Newton's method, kept within a bracket.
    fn crossing(&self, distance: f64, low: &Point, high: &Point) -> Point {
        let (mut short, mut far) = (low.offset, high.offset);
        let mut point = self.at(self.guess(distance - low.distance, low).clamp(short, far));
        for _ in 0..STEPS {
            let missing = distance - point.distance;
            // Nearer than it can be computed.
            if missing.abs() <= 4.0 * f64::EPSILON * point.covered {
                break;
            }
            if missing > 0.0 {
                short = point.offset;
            } else {
                far = point.offset;
            }
            let newton = point.offset + missing / (point.slope * point.pace);
            let next = if newton > short && newton < far { newton } else { short + (far - short) / 2.0 };
            if next <= short || next >= far || (next - point.offset).abs() <= 1e-16 * point.offset {
                break;
            }
            point = self.at(next);
        }
        point
    }

    /// An offset that is about right: what is missing grows with the cube of the depth while accelerations are free, with
    /// its fourth power once they are held, and first of all with the slope where it begins.
    fn guess(&self, missing: f64, low: &Point) -> f64 {
        let missing = missing.max(0.0);
        let cube = 8.0 * self.weight * self.weight;
        let free = libm::cbrt(missing / cube);
        let held = (2.0 * missing / (1.0 / self.top + 1.0 / self.bottom)).sqrt() / self.weight;
        let growth = low.slope * low.pace;
        let from = low.offset.max(self.task.to_acceleration);
        let depth = free.min(held.sqrt());
        if growth > 0.0 { from + depth.min(missing / growth) } else { from + depth.max((-growth / cube).sqrt()) }
    }

    /// Its strokes, with a cruise where the acceleration passes zero.
    pub fn strokes(&self, point: &Point, cruise: f64) -> [Stroke; STROKES] {
        let [rise, top, _, bottom, end] = point.times;
        let (up, down) = (self.up, -self.down);
        let Point { peak, dip, .. } = *point;
        let middle = dip.max(0.0);
        [
            Stroke { time: rise, jerk: up, begin: self.task.from_acceleration, end: peak },
            Stroke::hold(peak, top),
            Stroke::change(peak, middle, down),
            Stroke::hold(middle, cruise),
            Stroke::change(middle, dip, down),
            Stroke::hold(dip, bottom),
            Stroke { time: end, jerk: up, begin: dip, end: self.task.to_acceleration },
        ]
    }
}
