//! One piece of a change: the greatest r'' that every course allows throughout it.

use arrayvec::ArrayVec;

use super::cells::{Felt, felt, fifth, fourth, time_to};
use super::change::{Piece, flow};
use super::effort::Effort;
use super::path::Path;
use super::wanted::QUICKEST;
use super::{Course, Regime};
use crate::motion::profile::{Ceiling, Sample};

/// s; from a change of jerk nothing is asked nearer than this.
const BESIDE: f64 = 1e-7;
/// More than a piece bulges by what bends it most at its ends.
const BULGE: f64 = 1.1;
/// An acceleration that would be at its limit after this part of a piece slides along it.
const SLIDE: f64 = 0.05;
/// The part of what a steady rate leaves of a limit that is kept from it at most.
const ROOM: f64 = 0.15;
/// Tries at how long the last piece of a release is.
const ENDINGS: usize = 7;
/// Parts of its time by which it may be off from what it was worked out for: to be taken at once, and at all.
const ALIKE: f64 = 0.02;
const NEARLY: f64 = 0.2;
/// Times that a piece is shortened at most.
const SHORTENINGS: usize = 3;
/// A piece does not end at a change of jerk before this part of it.
const NEAR: f64 = 0.02;
/// A piece whose jerk strays from a straight line by more than twice this part of the limit is too long.
pub(super) const STRAYS: f64 = 0.04;
/// No matter how far.
const ANYWHERE: [f64; 2] = [f64::NEG_INFINITY, f64::INFINITY];
/// The greatest r'', per s², and r', per s, where no course says less: from rate to rate within `QUICKEST`.
const CONTROL: f64 = 4.0 / (QUICKEST * QUICKEST);
const DRIFT: f64 = 2.0 / QUICKEST;
/// Courses whose paths are kept in sight at once; those of more are looked up again and again.
const IN_SIGHT: usize = 16;

/// How pieces are made: the courses, and what is kept from their limits.
pub(super) struct Maker<'a, P> {
    pub courses: &'a [Course<P>],
    pub regime: Regime,
    /// Kept from every limit, as a part of it, for what the rounds leave.
    pub margin: f64,
    /// Looks at a piece until its r'' is right.
    pub rounds: usize,
    /// What all the looks may take.
    pub effort: &'a Effort,
}

/// What lies at an instant.
pub(super) struct Glance {
    /// The rate as a speed, without r''.
    pub state: Sample,
    paths: ArrayVec<Sample, IN_SIGHT>,
    /// The way to a change of jerk of any course, s of the cues' own time, that is too near to end a piece there,
    near: Option<f64>,
    /// and to the next.
    pub ahead: f64,
}

/// The greatest r'' to one side over one piece, and how far the jerk of any course then strays from a straight line, as a part
/// of its limit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub piece: Piece,
    pub strays: f64,
}

/// What of r'' is allowed.
#[derive(Clone, Copy, Debug)]
struct Allowed {
    low: f64,
    high: f64,
}

impl Allowed {
    const ANY: Allowed = Allowed { low: -CONTROL, high: CONTROL };

    /// Only values b that keep `value + slope·b` within `low` and `high`.
    fn keep(&mut self, value: f64, slope: f64, [low, high]: [f64; 2]) {
        let span = high - low;
        if slope.abs() * CONTROL <= 1e-6 * span {
            // The axis does not move: r'' does not matter to it, but what it feels may be too much already.
            if value > high + 0.01 * span || value < low - 0.01 * span {
                (self.low, self.high) = (f64::INFINITY, f64::NEG_INFINITY);
            }
            return;
        }
        let (a, b) = ((low - value) / slope, (high - value) / slope);
        self.low = self.low.max(a.min(b));
        self.high = self.high.min(a.max(b));
    }

    fn extreme(self, way: f64) -> Option<f64> {
        let slack = 1e-9 * (self.low.abs().min(self.high.abs())) + 1e-12;
        if self.low > self.high + slack {
            return None;
        }
        Some(if way > 0.0 { self.high } else { self.low })
    }
}

impl<P: Path> Maker<'_, P> {
    /// `step` s is about how long a piece will be. `None` once the effort is spent.
    pub fn glance(&self, state: Sample, step: f64) -> Option<Glance> {
        self.effort.spend(self.courses.len())?;
        let state = Sample { jerk: 0.0, ..state };
        let mut paths = ArrayVec::new();
        for course in self.courses {
            if paths.try_push(self.beside(course, state)).is_err() {
                break;
            }
        }
        let mut glance = Glance { state, paths, near: None, ahead: self.change(state, 0.0) };
        if glance.ahead.abs() < NEAR * step * state.speed.abs() {
            glance.near = Some(glance.ahead);
            glance.ahead = self.change(state, glance.ahead);
        }
        Some(glance)
    }

    /// The way to the first change of jerk of any course that lies farther than `beyond`, s of the cues' own time.
    fn change(&self, state: Sample, beyond: f64) -> f64 {
        let at = |course: &Course<P>| course.time + state.position;
        if ahead(state) > 0.0 {
            let changes = self
                .courses
                .iter()
                .map(|course| course.path.change_after(at(course) + beyond + BESIDE) - at(course));
            changes.fold(f64::INFINITY, f64::min)
        } else {
            let changes = self
                .courses
                .iter()
                .map(|course| course.path.change_before(at(course) + beyond - BESIDE) - at(course));
            changes.fold(f64::NEG_INFINITY, f64::max)
        }
    }

    /// The path of a course just ahead.
    fn beside(&self, course: &Course<P>, state: Sample) -> Sample {
        course.path.at(course.time + state.position + BESIDE * ahead(state))
    }

    fn path(&self, glance: &Glance, index: usize) -> Sample {
        glance.paths.get(index).copied().unwrap_or_else(|| self.beside(&self.courses[index], glance.state))
    }

    /// The greatest r'' to one side that the jerks allow now.
    pub fn greatest(&self, glance: &Glance, way: f64) -> Option<f64> {
        let mut allowed = Allowed::ANY;
        for (index, course) in self.courses.iter().enumerate() {
            let path = self.path(glance, index);
            let limit = self.limits(course, path, glance.state.speed).jerk(0.0);
            allowed.keep(felt(path, path.jerk, glance.state).jerk, path.speed, [-limit, limit]);
        }
        allowed.extreme(way)
    }

    /// The time that an acceleration would take to its limit with that r'', s.
    fn reaches(&self, glance: &Glance, bend: f64) -> f64 {
        let state = Sample { jerk: bend, ..glance.state };
        let by_drift = (DRIFT - state.acceleration * bend.signum()) / bend.abs();
        let times = self.courses.iter().enumerate().map(|(index, course)| {
            let path = self.path(glance, index);
            let now = felt(path, path.jerk, state);
            let limit = self.limits(course, path, state.speed).acceleration(0.0);
            (limit - now.acceleration * now.jerk.signum()) / now.jerk.abs()
        });
        times.fold(by_drift, f64::min)
    }

    /// The time in which the jerks bring the accelerations to what they are at the steady rate `to`, s.
    pub fn eased_in(&self, glance: &Glance, to: f64) -> f64 {
        let times = self.courses.iter().enumerate().map(|(index, course)| {
            let path = self.path(glance, index);
            let now = felt(path, path.jerk, glance.state).acceleration;
            (now - path.acceleration * to * to).abs() / course.ceiling(self.regime).jerk
        });
        times.fold(0.0, f64::max)
    }

    /// One piece of at most `time` s with the greatest r'' to one side, cut where a path's jerk changes or an acceleration
    /// comes to its limit.
    pub fn piece(&self, glance: &Glance, time: f64, way: f64) -> Option<Found> {
        let mut time = time;
        let reaches = self.reaches(glance, self.greatest(glance, way)?);
        if reaches < time && reaches > SLIDE * time {
            time = reaches;
        }
        let mut found = self.extreme(glance, time, way, ANYWHERE)?;
        for _ in 0..SHORTENINGS {
            if found.strays > 2.0 * STRAYS {
                time *= (STRAYS / found.strays).sqrt().max(0.25);
                found = self.extreme(glance, time, way, ANYWHERE)?;
            }
        }
        let way_of =
            |piece: Piece, time: f64| (piece.after(glance.state, time).position - glance.state.position).abs();
        if way_of(found.piece, time) > glance.ahead.abs() {
            let begin = |piece: Piece| Sample { jerk: piece.bend, ..glance.state };
            let until = time_to(begin(found.piece), found.piece.twist, time, glance.ahead);
            if until > 0.0 {
                let at = glance.state.position + glance.ahead;
                let reach = if glance.ahead > 0.0 { [f64::NEG_INFINITY, at] } else { [at, f64::INFINITY] };
                found = self.extreme(glance, until, way, reach)?;
                if way_of(found.piece, 1.2 * until) > glance.ahead.abs() {
                    found.piece.time = time_to(begin(found.piece), found.piece.twist, 1.2 * until, glance.ahead);
                }
            }
        }
        Some(found)
    }

    /// The last piece of a release: as long as it takes to bring r' to zero.
    pub fn ending(&self, glance: &Glance, first: Piece, way: f64) -> Option<Piece> {
        let ends = |piece: Piece| {
            let last = piece.bend + piece.time * piece.twist;
            let time = -2.0 * glance.state.acceleration / (piece.bend + last);
            Piece { time, twist: (last - piece.bend) / time, ..piece }
        };
        // What it may be at its ends depends on how long it is.
        let (mut piece, mut nearest) = (first, None::<(f64, Piece)>);
        for tried in 0..ENDINGS {
            let ended = ends(piece);
            if !(ended.time > 0.0 && ended.time.is_finite()) {
                break;
            }
            let off = (ended.time - piece.time).abs() / piece.time;
            if nearest.is_none_or(|(known, _)| off < known) {
                nearest = Some((off, ended));
            }
            if off <= ALIKE {
                break;
            }
            let time = if tried < 2 { ended.time } else { (ended.time + piece.time) / 2.0 };
            piece = self.extreme(glance, time, way, ANYWHERE)?.piece;
        }
        nearest.filter(|(off, _)| *off < NEARLY).map(|(_, piece)| piece)
    }

    /// The greatest r'' to one side at both ends of a piece of `time` s, for which the paths are asked within `reach` alone.
    fn extreme(&self, glance: &Glance, time: f64, way: f64, reach: [f64; 2]) -> Option<Found> {
        let from = glance.state;
        let (mut bend, mut last) = (0.0, 0.0);
        let (mut firsts, mut lasts) = (Bends::new(), Bends::new());
        let mut strays: f64 = 0.0;
        for round in 0..self.rounds {
            self.effort.spend(2 * self.courses.len())?;
            strays = 0.0;
            let begin = Sample { jerk: bend, ..from };
            let twist = (last - bend) / time;
            let mut allowed = Allowed::ANY;
            for (index, course) in self.courses.iter().enumerate() {
                let path = self.path(glance, index);
                let bends = [fourth(path, path.jerk, begin, twist), fifth(path, begin, twist)];
                let bulges = Bulges::of(bends, lasts.get(index).copied().unwrap_or(bends), time);
                keep(&mut firsts, index, bends);
                strays = strays.max(bulges.jerk[0].max(bulges.jerk[1]) / course.ceiling(self.regime).jerk);
                self.look_now(course, path, begin, time, &bulges, &mut allowed);
                if let Some(near) = glance.near {
                    // On either side of a change that is passed so soon.
                    let behind = course.path.at(course.time + from.position + near + BESIDE * ahead(from));
                    self.look_now(course, Sample { jerk: behind.jerk, ..path }, begin, time, &bulges, &mut allowed);
                }
            }
            bend = allowed.extreme(way)?;
            last = if round == 0 { bend } else { last };
            let twist = (last - bend) / time;
            let end = flow(Sample { jerk: bend, ..from }, twist, time);
            let there = end.position.clamp(reach[0], reach[1]) - BESIDE * ahead(from);
            let mut allowed = Allowed::ANY;
            allowed.keep(end.acceleration - end.jerk * time / 2.0, time / 2.0, [-DRIFT, DRIFT]);
            for (index, course) in self.courses.iter().enumerate() {
                let path = course.path.at(course.time + there);
                let bends = [fourth(path, path.jerk, end, twist), fifth(path, end, twist)];
                let bulges = Bulges::of(bends, firsts.get(index).copied().unwrap_or(bends), time);
                keep(&mut lasts, index, bends);
                strays = strays.max(bulges.jerk[0].max(bulges.jerk[1]) / course.ceiling(self.regime).jerk);
                self.look_ahead(course, path, end, time, &bulges, &mut allowed);
            }
            last = allowed.extreme(way)?;
        }
        Some(Found { piece: Piece { time, bend, twist: (last - bend) / time }, strays })
    }

    /// Narrows what is allowed at the begin of a piece of `time` s to what one course allows, about a piece that comes near.
    fn look_now(
        &self,
        course: &Course<P>,
        path: Sample,
        begin: Sample,
        time: f64,
        bulges: &Bulges,
        allowed: &mut Allowed,
    ) {
        let limits = self.limits(course, path, begin.speed);
        let now = felt(path, path.jerk, begin);
        // An acceleration that is near its limit comes to it by the end, its jerk falling to zero.
        let room = |left: f64, off: f64| (2.0 * left / time).min(limits.jerk(off));
        let low = room(now.acceleration + limits.acceleration(bulges.acceleration[0]), bulges.jerk[0]);
        let high = room(limits.acceleration(bulges.acceleration[1]) - now.acceleration, bulges.jerk[1]);
        allowed.keep(now.jerk - path.speed * begin.jerk, path.speed, [-low, high]);
    }

    /// The same at its end.
    fn look_ahead(
        &self,
        course: &Course<P>,
        path: Sample,
        end: Sample,
        time: f64,
        bulges: &Bulges,
        allowed: &mut Allowed,
    ) {
        let limits = self.limits(course, path, end.speed);
        let now = felt(path, path.jerk, end);
        let same_sign = |slope: f64, plain: f64| if slope * plain > 0.0 { slope } else { plain };
        let slope = same_sign(path.speed + 1.5 * path.acceleration * end.speed * time, path.speed);
        let jerks = [-limits.jerk(bulges.jerk[0]), limits.jerk(bulges.jerk[1])];
        allowed.keep(now.jerk - slope * end.jerk, slope, jerks);
        let plain = path.speed * time / 2.0;
        let slope = same_sign(plain + path.acceleration * end.speed * time * time / 3.0, plain);
        let [low, high] = bulges.acceleration.map(|bulge| limits.acceleration(bulge));
        allowed.keep(now.acceleration - slope * end.jerk, slope, [-low, high]);
    }

    /// The limits of a course where it goes at a steady rate.
    fn limits(&self, course: &Course<P>, path: Sample, rate: f64) -> Limits {
        let steady = felt(path, path.jerk, Sample { speed: rate, ..Sample::default() });
        Limits { full: course.ceiling(self.regime), part: 1.0 - self.margin, steady }
    }
}

/// Which way the cues' own time goes on, 1 or -1.
fn ahead(state: Sample) -> f64 {
    if state.speed != 0.0 { state.speed.signum() } else { state.acceleration.signum() }
}

/// The fourth and the fifth derivatives of the courses in sight at one end of a piece.
type Bends = ArrayVec<[f64; 2], IN_SIGHT>;

fn keep(list: &mut Bends, index: usize, bends: [f64; 2]) {
    if let Some(kept) = list.get_mut(index) {
        *kept = bends;
    } else if !list.is_full() {
        list.push(bends);
    }
}

/// How far acceleration and jerk bulge below and above their chords over a piece.
struct Bulges {
    acceleration: [f64; 2],
    jerk: [f64; 2],
}

impl Bulges {
    /// By their second derivatives at both ends of a piece of `time` s.
    fn of(one: [f64; 2], other: [f64; 2], time: f64) -> Bulges {
        let most = BULGE * time * time / 8.0;
        let bulge = |a: f64, b: f64| [most * a.max(b).max(0.0), -most * a.min(b).min(0.0)];
        Bulges { acceleration: bulge(one[0], other[0]), jerk: bulge(one[1], other[1]) }
    }
}

/// The limits of a course, less a margin; but what a steady rate asks is always allowed.
struct Limits {
    full: Ceiling,
    part: f64,
    steady: Felt,
}

impl Limits {
    fn acceleration(&self, off: f64) -> f64 {
        kept(self.full.acceleration, self.part, self.steady.acceleration.abs()) - off
    }

    fn jerk(&self, off: f64) -> f64 {
        kept(self.full.jerk, self.part, self.steady.jerk.abs()) - off
    }
}

/// A limit less a part of it; but never less by more than a part of what a steady rate leaves, so that a rate may near the one
/// at which nothing is left.
pub(super) fn kept(limit: f64, part: f64, steady: f64) -> f64 {
    let room = (limit - steady).max(0.0);
    limit.max(steady) - (limit * (1.0 - part)).min(ROOM * room)
}
