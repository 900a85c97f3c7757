//! Seeded changes of the rate of one to three moves at once: stops, returns and resumes. Each keeps every limit here, and is
//! written down for an outside judge of how soon it could be over, if `BELLWIRE_RATE_CASES` names a file
//! (`tests/outside/test_rates.py` reads it). `BELLWIRE_RATES` is the number of cases of each kind, if hundreds are wanted.

use std::fmt::Write as _;
use std::sync::Arc;

use bellwire::motion::{
    Ceiling, Change, Course, Fade, Path, Piece, Profile, Regime, Through, Track, change_at_once, change_rate,
    keeps_limits, through,
};
use serde_json::{Value, json};

const CASES: u64 = 40;
/// s, from one try to the next where the new rate is not met: the engine's tick is that or shorter.
const TICK: f64 = 0.01;
/// What is not met then is taken if no more than this part of what was left is left.
const NEARER: f64 = 0.9;

/// Numbers from a seed, the same everywhere.
struct Seeded(u64);

impl Seeded {
    fn part(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mixed = (self.0 ^ (self.0 >> 33)).wrapping_mul(0xff51_afd7_ed55_8ccd);
        ((mixed ^ (mixed >> 33)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.part()
    }

    /// As likely in each tenfold.
    fn spread(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// Running limits with a reserve for stopping of 1 to 4.
    fn stopping(&mut self, run: Ceiling) -> Ceiling {
        Ceiling {
            acceleration: run.acceleration * self.spread(1.0, 4.0),
            jerk: run.jerk * self.spread(1.0, 4.0),
            ..run
        }
    }

    /// A move in proportion: of any length and limits, half of them softer than these.
    fn straight(&mut self, long: f64) -> Course<Track> {
        let speed = 1.0 / (long * self.between(0.4, 1.0));
        let acceleration = speed / self.spread(0.3, 3.0);
        let run = Ceiling { speed, acceleration, jerk: acceleration / self.spread(0.1, 1.5) };
        let softer = if self.part() < 0.5 { 1.0 } else { self.between(1.0, 1.6) };
        let path = Track::Straight(Profile::fastest(run).stretched(softer));
        Course { path, time: 0.0, run, stop: self.stopping(run) }
    }

    /// A move of two axes through marks, each along its curve.
    fn curved(&mut self, long: f64) -> Vec<Course<Track>> {
        let marks = 1 + (3.0 * self.part()) as usize;
        let axis = |from: &mut Seeded| {
            let speed = 2.0 / (long * from.between(0.4, 1.0));
            let acceleration = speed / from.spread(0.3, 3.0);
            let limits = Ceiling { speed, acceleration, jerk: acceleration / from.spread(0.1, 1.5) };
            let at = (0..marks + 2).map(|_| Some(from.between(-0.9, 0.9))).collect();
            Through { at, limits, travel: [-1.0, 1.0] }
        };
        let axes = [axis(self), axis(self)];
        let way = through(&axes).unwrap();
        let course = |(axis, curve): (&Through, _)| Course {
            path: Track::Curved { curve: Arc::new(curve), fade: Fade::NONE },
            time: 0.0,
            run: axis.limits,
            stop: self.stopping(axis.limits),
        };
        axes.iter().zip(way.curves).map(course).collect()
    }

    /// `count` moves at some instant of them, later ones after a delay. The last may go through marks.
    fn moves(&mut self, count: u64) -> Vec<Course<Track>> {
        let long = self.spread(2.0, 25.0);
        let marks = self.part() < 0.3;
        let mut courses = Vec::new();
        for index in 0..count {
            let mut move_ = if marks && index + 1 == count { self.curved(long) } else { vec![self.straight(long)] };
            let delay = if index == 0 { 0.0 } else { self.between(0.0, 0.5) * move_[0].path.duration() };
            move_.iter_mut().for_each(|course| course.time = -delay);
            courses.append(&mut move_);
        }
        let now = self.between(0.02, 0.98) * left(&courses);
        courses.iter_mut().for_each(|course| course.time += now);
        courses
    }
}

/// s of the cues' own time, until every path has ended.
fn left(courses: &[Course<Track>]) -> f64 {
    courses.iter().map(|course| course.path.duration() - course.time).fold(0.0, f64::max)
}

fn farther(courses: &[Course<Track>], way: f64) -> Vec<Course<Track>> {
    courses.iter().map(|course| Course { time: course.time + way, ..course.clone() }).collect()
}

/// The first `time` s of a change.
fn until(change: &Change, time: f64) -> Vec<Piece> {
    let mut left = time;
    let mut cut = Vec::new();
    for piece in change.pieces() {
        cut.push(Piece { time: piece.time.min(left), ..*piece });
        left -= piece.time.min(left);
    }
    cut
}

/// From rest to the rate `to`. Where that is not met it is tried again tick by tick, as the engine does.
fn resumed(courses: &[Course<Track>], to: f64) -> Vec<Piece> {
    let mut change = change_rate(courses, 0.0, 0.0, to, Regime::Running).unwrap();
    assert!(keeps_limits(courses, &change, Regime::Running));
    let (mut begun, mut since, mut pieces) = (0.0, 0.0, Vec::new());
    while change.to_rate() != to {
        since += TICK;
        let now = change.at(since);
        if begun + now.position >= left(courses) {
            break;
        }
        let there = farther(courses, begun + now.position);
        let next = change_at_once(&there, now.speed, now.acceleration, to, Regime::Running, 1);
        let off = |change: &Change| to - change.to_rate();
        if let Some(next) = next.filter(|next| off(next) < NEARER * off(&change)) {
            assert!(keeps_limits(&there, &next, Regime::Running));
            pieces.extend(until(&change, since));
            let rests = (since - change.duration()).max(0.0);
            pieces.push(Piece { time: rests, ..Piece::default() });
            (change, begun, since) = (next, begun + now.position, 0.0);
        }
    }
    pieces.extend(change.pieces());
    pieces
}

/// Kinds of change; `None` where there is nothing to change from.
fn case(kind: &str, seed: u64) -> Option<Value> {
    let mut from = Seeded(seed.wrapping_mul(7919) + 17);
    let mut courses = from.moves(1 + seed % 3);
    let (mut rate, mut drift, mut to) = (0.0, 0.0, 0.0);
    let regime = if kind.starts_with("stop") { Regime::Stopping } else { Regime::Running };
    match kind {
        "stop" => rate = 1.0,
        "stop-slow" => rate = from.between(0.2, 0.9),
        "stop-return" => rate = -0.5,
        "stop-resume" => {
            let resume = change_rate(&courses, 0.0, 0.0, 1.0, Regime::Running)?;
            let now = resume.at(from.between(0.1, 0.9) * resume.duration());
            courses = farther(&courses, now.position);
            (rate, drift) = (now.speed, now.acceleration);
        }
        "return" => to = -0.5,
        "resume-slow" => to = 0.5,
        "resume" => to = 1.0,
        _ => panic!("{kind}"),
    }
    let pieces = if to == 1.0 {
        resumed(&courses, to)
    } else {
        let change = change_rate(&courses, rate, drift, to, regime).unwrap();
        // One that goes on to where every path ends is as the paths are: there is nothing to be proved anew.
        let runs_out = change.pieces() == [Piece { time: change.duration(), ..Piece::default() }];
        assert!(runs_out || keeps_limits(&courses, &change, regime), "{kind} {seed}");
        change.pieces().to_vec()
    };
    let written = courses.iter().map(|course| {
        let limits = if regime == Regime::Stopping { course.stop } else { course.run };
        json!({ "knots": knots(&course.path), "time": course.time,
            "limits": [limits.speed, limits.acceleration, limits.jerk] })
    });
    let written: Vec<_> = written.collect();
    let pieces: Vec<_> = pieces.iter().map(|piece| [piece.time, piece.bend, piece.twist]).collect();
    Some(
        json!({ "kind": kind, "seed": seed, "moves": 1 + seed % 3, "courses": written, "rate": rate, "drift": drift,
        "to": to, "pieces": pieces }),
    )
}

/// Time, position, speed, acceleration and jerk wherever the jerk changes; the last is the end.
fn knots(path: &Track) -> Vec<[f64; 5]> {
    let mut knots = Vec::new();
    let mut time = 0.0;
    while time < f64::INFINITY {
        let next = path.change_after(time);
        let (state, jerk) =
            (path.at(time), path.at(if next.is_finite() { (time + next) / 2.0 } else { time }).jerk);
        knots.push([time, state.position, state.speed, state.acceleration, jerk]);
        time = next;
    }
    knots
}

#[test]
fn every_change_keeps_its_limits_and_is_written_down() {
    let count = std::env::var("BELLWIRE_RATES").map_or(CASES, |count| count.parse().unwrap());
    let mut text = String::new();
    for kind in ["stop", "stop-slow", "stop-return", "stop-resume", "return", "resume-slow", "resume"] {
        for case in (0..count).filter_map(|seed| case(kind, seed)) {
            writeln!(text, "{case}").unwrap();
        }
    }
    if let Ok(path) = std::env::var("BELLWIRE_RATE_CASES") {
        std::fs::write(&path, text).unwrap_or_else(|error| panic!("{path}: {error}"));
    }
}
