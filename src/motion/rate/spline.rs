//! A change of rate as a spline that is mended round by round, for where no plan goes on to its end.
//!
//! Where an axis turns round r'' does nothing to it, and its jerk binds r' itself. A drive that comes there too fast cannot be released
//! any more, and what may be driven before shows only from behind. So here the whole change is held at once: a cubic spline of equal
//! pieces over its time, both ends as they must be. In each round every limit is made straight about the change as it is, with the
//! jerks that the paths have near there, and a linear programme tells a step within a region of trust that makes it quicker, or break
//! less: sequential linear programming with an exact penalty (Nocedal and Wright, *Numerical Optimization*, 2006, chapters 17 and
//! 18; of motions along paths Debrouwere et al., "Time-optimal path following for robots with convex-concave constraints using sequential
//! convex programming", 2013). What comes of it is checked like any other change.

use arrayvec::ArrayVec;

use super::basis::{AT, Basis, COEFFICIENTS, Coefficients, INSTANTS, PIECES, WAYS, knot};
use super::cells::felt;
use super::change::{CHANGE_PIECES, Change, Piece};
use super::effort::Effort;
use super::linear::{Programme, ROWS, Row, VARIABLES};
use super::path::Path;
use super::piece::kept;
use super::range::Range;
use super::wanted::QUICKEST;
use super::{Course, Regime};
use crate::motion::profile::{Ceiling, Sample};

/// Variables of a step: the coefficients that are not as the change begins and ends, the time, and what is broken at most.
const FREE: usize = COEFFICIENTS - 4;
const TIME: usize = FREE;
const BROKEN: usize = FREE + 1;
const COUNT: usize = FREE + 2;
const _: () = assert!(COUNT == VARIABLES);
/// To break all of a limit is as bad as to take so many times as long.
const PENALTY: f64 = 10.0;
/// How far the first step may go, any, and the last that is of use.
const TRUST: f64 = 0.25;
const TRUST_MOST: f64 = 0.4;
const TRUST_LEAST: f64 = 2e-3;
/// A limit is in sight of a step if it comes as near as this part of what the step could do to it at most, or nearer than this.
const IN_SIGHT: f64 = 0.2;
const NEAR: f64 = 0.04;
/// As in the planner: kept from every limit at first, and at most.
const MARGIN: f64 = 1e-2;
const MARGIN_MOST: f64 = 0.05;
const MORE_CAREFUL: f64 = 1.7;
/// What may be broken beyond that and yet pass the check.
const SLIGHT: f64 = 2e-3;
/// What it takes to hold a course against its limits at an instant, in looks.
const LOOKS: usize = 2;
/// A round that is to change less of the time than this part is not worth another.
const WORTH: f64 = 1e-2;

/// What a change is to be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Goal {
    pub from: Sample,
    pub to: f64,
    pub regime: Regime,
}

/// A change under way.
#[derive(Clone, Debug)]
pub(super) struct Spline {
    goal: Goal,
    coefficients: Coefficients,
    /// s.
    time: f64,
    /// How far a step may go: of the rate, and as a part of the time.
    trust: f64,
    margin: f64,
    /// As a part of a limit; unknown at first.
    broken: Option<f64>,
    /// At each instant a path has all the jerks that it has within this part of the way to the next instants.
    about: f64,
    /// How far each instant was moved along the cues' own time by the last step, s: changes of a path's jerk are looked out for as far.
    shifts: [f64; INSTANTS],
}

/// What is to become of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Next {
    /// Another round.
    Mend,
    /// It may keep all limits; then another round may be of use,
    Check,
    /// or hardly any more.
    CheckLast,
    /// Nothing will come of it.
    GiveUp,
}

/// By how much a value changes with what it depends on.
struct By {
    rate: f64,
    /// The first two derivatives of the rate by the part of the time that is over.
    slope: f64,
    bend: f64,
    time: f64,
    /// Where on the path it is.
    place: f64,
}

/// What one axis feels at one instant.
struct Bound<'a> {
    /// Of what is allowed, less 1.
    broken: f64,
    /// As parts of what is allowed.
    by: By,
    basis: &'a Basis,
    ways: &'a Coefficients,
}

impl Spline {
    /// Of that time, s, and a rate over it.
    pub fn like(goal: Goal, time: f64, rate: impl Fn(f64) -> f64) -> Spline {
        let mut coefficients = [goal.to; COEFFICIENTS];
        for (index, value) in coefficients[..COEFFICIENTS - 2].iter_mut().enumerate() {
            // At the mean of its knots (Schoenberg, "On spline functions", 1967).
            *value = rate((knot(index + 1) + knot(index + 2) + knot(index + 3)) / 3.0 * time);
        }
        let (trust, margin) = (TRUST, MARGIN);
        let (broken, about, shifts) = (None, 1.0, [0.0; INSTANTS]);
        let mut spline = Spline { goal, coefficients, time, trust, margin, broken, about, shifts };
        spline.begin();
        spline
    }

    /// Up or down evenly.
    pub fn ramp(goal: Goal, time: f64) -> Spline {
        let (from, rise) = (goal.from.speed, goal.to - goal.from.speed);
        let rate = |at: f64| from + rise * (at / time) * (at / time) * (3.0 - 2.0 * at / time);
        Spline::like(goal, time, rate)
    }

    fn begin(&mut self) {
        self.coefficients[0] = self.goal.from.speed;
        self.coefficients[1] = self.goal.from.speed + self.goal.from.acceleration * self.time * ONSET;
    }

    pub fn change(&self) -> Change {
        let length = self.time / PIECES as f64;
        let bend = |end: usize| AT[2 * end].bend(&self.coefficients) / (self.time * self.time);
        let pieces: ArrayVec<Piece, CHANGE_PIECES> = (0..PIECES)
            .map(|piece| (bend(piece), bend(piece + 1)))
            .map(|(bend, last)| Piece { time: length, bend, twist: (last - bend) / length })
            .collect();
        Change::through(self.goal.from.speed, self.goal.from.acceleration, self.goal.to, &pieces)
    }

    /// Keeps more from the limits, for what it strays between the instants. False where it is too much.
    pub fn more_careful(&mut self) -> bool {
        self.margin *= MORE_CAREFUL;
        self.broken = None;
        self.trust = self.trust.max(TRUST / 4.0);
        self.margin < MARGIN_MOST
    }

    /// Takes changes of a path's jerk to be as sharp as they are, though what is between two instants is less sure then. False the
    /// second time.
    pub fn finer(&mut self) -> bool {
        let first = self.about == 1.0;
        (self.about, self.broken) = (0.5, None);
        self.trust = self.trust.max(TRUST / 4.0);
        first
    }

    /// One round; `None` where the effort is spent.
    pub fn mend<P: Path>(&mut self, courses: &[Course<P>], effort: &Effort) -> Option<Next> {
        let still = [0.0; INSTANTS];
        let before = match self.broken {
            Some(broken) => broken,
            None => self.look(courses, &still, effort, |_| ())?,
        };
        self.broken = Some(before);
        let mut rows = ArrayVec::<(Row, f64), ROWS>::new();
        let mut too_many = false;
        let reach = self.trust * self.span();
        let foreseen = self.look(courses, &self.shifts, effort, |bound| {
            let row = self.row(&bound);
            let most: f64 = row[..TIME].iter().map(|by| by.abs()).sum();
            let most = reach * most + self.trust * row[TIME].abs();
            if bound.broken + IN_SIGHT * most + NEAR > 0.0 {
                too_many |= rows.try_push((row, -bound.broken)).is_err();
            }
        })?;
        if too_many {
            return Some(self.trust_less(2.0));
        }
        let Some(step) = self.step(&mut rows, foreseen, effort)? else { return Some(self.trust_less(2.0)) };
        let promised = self.gain(&step) + PENALTY * (foreseen - step[BROKEN].max(0.0));
        let mut next = self.stepped(&step);
        let after = next.look(courses, &still, effort, |_| ())?;
        let (mut here, there) = (self.places(), next.places());
        here.iter_mut().zip(there).for_each(|(here, there)| *here = (there - *here).abs());
        (self.shifts, next.shifts, next.broken) = (here, here, Some(after));
        let gained = (self.cost() - next.cost()) / self.time + PENALTY * (before - after);
        let farthest = step[..FREE].iter().fold(0.0, |most: f64, step| most.max(step.abs())) / self.span();
        let farthest = farthest.max(step[TIME].abs());
        let steady = self.gain(&step).abs() < WORTH && farthest < 0.9 * self.trust;
        if gained <= 0.01 * promised {
            // What was no farther anyway is tried at half of that.
            self.trust = self.trust.min(1.5 * farthest);
            let less = self.trust_less(3.0);
            return Some(if steady && before < SLIGHT { Next::CheckLast } else { less });
        }
        next.trust = if gained > 0.7 * promised {
            (1.5 * self.trust).min(TRUST_MOST)
        } else if gained > 0.2 * promised {
            self.trust
        } else {
            self.trust / 2.0
        };
        *self = next;
        Some(match (after < SLIGHT, steady) {
            (false, _) => Next::Mend,
            (true, false) => Next::Check,
            (true, true) => Next::CheckLast,
        })
    }

    fn trust_less(&mut self, times: f64) -> Next {
        self.trust /= times;
        if self.trust > TRUST_LEAST { Next::Mend } else { Next::GiveUp }
    }

    /// The lowest and the highest rate that it may come to.
    fn rates(&self) -> [f64; 2] {
        let Goal { from, to, .. } = self.goal;
        let (low, high) = (from.speed.min(to).min(0.0), from.speed.max(to).max(0.0));
        // What still goes the other way overshoots, but is never faster than planned.
        let overshoots = from.acceleration * (to - from.speed) < 0.0;
        if overshoots { [low.min(-1.0), high.max(1.0)] } else { [low, high] }
    }

    fn span(&self) -> f64 {
        let [low, high] = self.rates();
        high - low
    }

    /// What is to be least, s: the time of a stop, or by how much the cues' own time falls behind the clock.
    fn cost(&self) -> f64 {
        if self.goal.to == 0.0 { self.time } else { self.time - self.places()[INSTANTS - 1].abs() }
    }

    /// How much less that becomes by a step, as a part of the time.
    fn gain(&self, step: &Row) -> f64 {
        self.prices()[..BROKEN].iter().zip(step).map(|(price, step)| -price * step).sum()
    }

    fn prices(&self) -> Row {
        let mut prices = [0.0; VARIABLES];
        prices[TIME] = self.cost() / self.time;
        prices[BROKEN] = PENALTY;
        if self.goal.to != 0.0 {
            for (price, way) in prices[..FREE].iter_mut().zip(&WAYS[INSTANTS - 1][2..]) {
                *price = -self.goal.to.signum() * way;
            }
        }
        prices
    }

    /// How a bound changes with each variable of a step.
    fn row(&self, bound: &Bound) -> Row {
        let Bound { by, basis, ways, .. } = bound;
        let along = by.place * self.time;
        let place: f64 = self.coefficients.iter().zip(*ways).map(|(value, way)| value * way).sum();
        let mut all = ways.map(|way| along * way);
        for index in 0..4 {
            all[basis.first + index] +=
                by.rate * basis.value[index] + by.slope * basis.slope[index] + by.bend * basis.bend[index];
        }
        let mut row = [0.0; VARIABLES];
        row[..FREE].copy_from_slice(&all[2..2 + FREE]);
        // The second coefficient moves with the time.
        row[TIME] = self.time * (by.time + by.place * place + all[1] * self.goal.from.acceleration * ONSET);
        row[BROKEN] = -1.0;
        row
    }

    /// The step that a linear programme tells; what it leaves broken is its last variable.
    fn step(&self, rows: &mut [(Row, f64)], foreseen: f64, effort: &Effort) -> Option<Option<Row>> {
        // Where so much is broken every bound leaves room at first.
        let allowed = foreseen + 0.05;
        rows.iter_mut().for_each(|(_, room)| *room += allowed);
        let ([lowest, highest], reach) = (self.rates(), self.trust * self.span());
        let (mut low, mut high) = ([-reach; VARIABLES], [reach; VARIABLES]);
        for (index, value) in self.coefficients[2..2 + FREE].iter().enumerate() {
            low[index] = low[index].max(lowest - value).min(-1e-6);
            high[index] = high[index].min(highest - value).max(1e-6);
        }
        (low[TIME], high[TIME]) = ((-self.trust).max(QUICKEST / self.time - 1.0).min(-1e-6), self.trust);
        (low[BROKEN], high[BROKEN]) = (-allowed, 1.0);
        let programme = Programme { cost: self.prices(), rows, low, high };
        let Some(mut step) = programme.least(effort) else {
            return if effort.is_spent() { None } else { Some(None) };
        };
        step[BROKEN] += allowed;
        Some(Some(step))
    }

    fn stepped(&self, step: &Row) -> Spline {
        let [low, high] = self.rates();
        let mut next = self.clone();
        for (value, step) in next.coefficients[2..2 + FREE].iter_mut().zip(step) {
            *value = (*value + step).clamp(low, high);
        }
        next.time *= 1.0 + step[TIME];
        next.begin();
        next
    }

    /// How far the cues' own time has gone at each instant, s.
    fn places(&self) -> [f64; INSTANTS] {
        let way =
            |ways: &Coefficients| self.coefficients.iter().zip(ways).map(|(value, way)| value * way).sum::<f64>();
        std::array::from_fn(|instant| self.time * way(&WAYS[instant]))
    }

    /// Shows every bound of every course at every instant, with the jerks that a path has about there and as many s farther. The part of
    /// a limit that is broken at most.
    fn look<P: Path>(
        &self,
        courses: &[Course<P>],
        shifts: &[f64; INSTANTS],
        effort: &Effort,
        mut show: impl FnMut(Bound),
    ) -> Option<f64> {
        let places = self.places();
        let mut most: f64 = 0.0;
        for (instant, &place) in places.iter().enumerate() {
            let (basis, ways) = (&AT[instant], &WAYS[instant]);
            let rate = Sample {
                position: place,
                speed: basis.value(&self.coefficients),
                acceleration: basis.slope(&self.coefficients) / self.time,
                jerk: basis.bend(&self.coefficients) / (self.time * self.time),
            };
            let [before, after] = [instant.saturating_sub(1), (instant + 1).min(INSTANTS - 1)];
            let near = [before, after].map(|next| place + self.about * (places[next] - place));
            let near = Range::of(near[0], near[1]);
            let near = Range { low: near.low - shifts[instant], high: near.high + shifts[instant] };
            for course in courses {
                effort.spend(LOOKS)?;
                let path = course.path.at(course.time + place);
                let jerks = jerks(course, near, effort)?;
                self.feel(course, rate, path, jerks, |broken, by| {
                    most = most.max(broken);
                    show(Bound { broken, by, basis, ways });
                });
            }
        }
        Some(most)
    }

    /// What one axis feels at one instant, held against its limits.
    fn feel<P: Path>(
        &self,
        course: &Course<P>,
        rate: Sample,
        path: Sample,
        jerks: Range,
        mut show: impl FnMut(f64, By),
    ) {
        let steady = felt(path, path.jerk, Sample { speed: rate.speed, ..Sample::default() });
        let Ceiling { acceleration, jerk, .. } = course.ceiling(self.goal.regime);
        let part = 1.0 - self.margin;
        let acceleration = kept(acceleration, part, steady.acceleration.abs());
        let jerk = kept(jerk, part, steady.jerk.abs());
        let mut both = |value: f64, limit: f64, by: &By| {
            for limit in [limit, -limit] {
                let By { rate, slope, bend, time, place } = *by;
                let [rate, slope, bend, time, place] = [rate, slope, bend, time, place].map(|by| by / limit);
                show(value / limit - 1.0, By { rate, slope, bend, time, place });
            }
        };
        let (r, drift, bend, time) = (rate.speed, rate.acceleration, rate.jerk, self.time);
        let (q1, q2, q3) = (path.speed, path.acceleration, (jerks.low + jerks.high) / 2.0);
        // How it begins is not for this to say.
        if rate.position != 0.0 {
            let by = By {
                rate: 2.0 * q2 * r,
                slope: q1 / time,
                bend: 0.0,
                time: -q1 * drift / time,
                place: q3 * r * r + q2 * drift,
            };
            both(q2 * r * r + q1 * drift, acceleration, &by);
        }
        for (q3, shown) in [(jerks.low, true), (jerks.high, jerks.high != jerks.low)] {
            let (curved, plain) = (3.0 * q2 * r * drift, q1 * bend);
            let by = By {
                rate: 3.0 * (q3 * r * r + q2 * drift),
                slope: 3.0 * q2 * r / time,
                bend: q1 / (time * time),
                time: -(curved + 2.0 * plain) / time,
                place: 3.0 * q3 * r * drift + q2 * bend,
            };
            if shown {
                both(q3 * r * r * r + curved + plain, jerk, &by);
            }
        }
    }
}

/// By this part of the time, times r', the second coefficient lies beyond the first.
const ONSET: f64 = 1.0 / (3 * PIECES) as f64;

/// The jerks of a path over a stretch of the cues' own time from now.
fn jerks<P: Path>(course: &Course<P>, near: Range, effort: &Effort) -> Option<Range> {
    let (mut at, end) = (course.time + near.low, course.time + near.high);
    let mut jerks = None::<Range>;
    loop {
        effort.spend(1)?;
        let next = course.path.change_after(at).min(end);
        let jerk = course.path.at((at + next) / 2.0).jerk;
        let all = jerks.map_or(Range::of(jerk, jerk), |jerks| jerks.with(jerk));
        if next >= end {
            return Some(all);
        }
        (at, jerks) = (next, Some(all));
    }
}
