//! Which standard brakes a cue bears, from anywhere within each span of its time.
//!
//! Its moves are taken as they may run from wherever its rigs stand within their start tolerances: a way that is longer by so much
//! leaves less of each limit, and an error of a curve fades along it with up to as much, over all of the move or, where it has to
//! be gone sooner, over the first part of it.

use std::sync::atomic::{AtomicU64, Ordering};

use super::coast::Way;
use crate::motion::{
    Bears, Ceiling, Extremes, Fade, Path, Profile, Range, SHAPES, Standard, Track, told_beforehand,
};
use crate::proof::bent::{for_a_fade, room};
use crate::proof::bodies::Span;
use crate::proof::plan::CuePlan;
use crate::show::Show;

/// s, of the spans at most.
const SPAN: f64 = 0.25;

/// Of one cue; looked at when asked for, by whoever asks first.
pub struct Bearing {
    /// s
    pub duration: f64,
    /// s, from one of its instants to the next.
    pub spacing: f64,
    lines: Vec<Line>,
    spans: usize,
    return_rate: f64,
    /// By way, run of spans and shape: of each brake whether it is known, and whether it is borne, bit by bit. The run at `i` is
    /// made of those at `2i` and `2i + 1`; from the number of spans on a run is one span.
    known: Vec<[AtomicU64; 2]>,
}

/// From the first to the last span of some that follow each other.
pub type Spans = [usize; 2];

/// A path under way from `begins` s of the cue on.
struct Line {
    path: Track,
    fade: Profile,
    begins: f64,
    stop: Ceiling,
    /// In the axis's own unit, the error of its start at most; nothing where the limits allow for it.
    off: f64,
}

/// One line in one direction.
struct Along<'a> {
    line: &'a Line,
    rate: f64,
}

impl Bears for Along<'_> {
    fn extremes(&self, from: f64, to: f64) -> Extremes {
        let path = self.line.path.extremes(from, to);
        if self.line.off == 0.0 {
            return path;
        }
        let (fade, off) = (self.line.fade.extremes(from, to), Range::of(-self.line.off, self.line.off));
        Extremes {
            speed: path.speed.plus(fade.speed.times(off)),
            acceleration: path.acceleration.plus(fade.acceleration.times(off)),
            jerk: path.jerk.plus(fade.jerk.times(off)),
        }
    }

    fn limits(&self) -> Ceiling {
        told_beforehand(self.line.stop)
    }

    fn rate(&self) -> f64 {
        self.rate
    }
}

impl Bearing {
    pub fn new(show: &Show, plan: &CuePlan) -> Bearing {
        let spans = (plan.duration / SPAN).ceil().max(1.0) as usize;
        Bearing {
            duration: plan.duration,
            spacing: plan.duration / plan.parts() as f64,
            lines: lines(show, plan),
            spans,
            return_rate: show.settings.return_rate,
            known: (0..2 * 2 * spans * SHAPES.len()).map(|_| Default::default()).collect(),
        }
    }

    pub fn spans(&self) -> usize {
        self.spans
    }

    /// s, the first and the last time of one.
    pub fn span(&self, index: usize) -> [f64; 2] {
        [index, index + 1].map(|end| self.duration * end as f64 / self.spans as f64)
    }

    /// The first and the last span that have to do with a part of the cue's time; what is outside of it counts as its start or
    /// its end.
    pub fn around(&self, part: Span) -> Spans {
        let within = |time: f64| (time / self.duration * self.spans as f64).clamp(0.0, self.spans as f64);
        let last = self.spans - 1;
        [(within(part.from).floor() as usize).min(last), (within(part.to).ceil() as usize).clamp(1, last + 1) - 1]
    }

    /// Whether everything of the cue bears a brake that begins anywhere within some spans.
    pub fn bears(&self, way: Way, spans: Spans, brake: Standard) -> bool {
        self.runs(spans).all(|run| self.run_bears(way, run, brake))
    }

    /// The runs that make up a row of spans, as in a segment tree (Bentley 1977); a single one is by itself.
    pub fn runs(&self, [first, last]: Spans) -> impl Iterator<Item = usize> {
        let (mut from, mut to) = (first + self.spans, last + self.spans + 1);
        std::iter::from_fn(move || {
            while from < to && from.is_multiple_of(2) && to.is_multiple_of(2) {
                (from, to) = (from / 2, to / 2);
            }
            if from >= to {
                None
            } else if from % 2 == 1 {
                from += 1;
                Some(from - 1)
            } else {
                to -= 1;
                Some(to)
            }
        })
    }

    /// Of each brake of a shape, bit by bit, whether it may be borne from anywhere in a run, by all that is known.
    pub fn may_bear(&self, way: Way, run: usize, shape: usize) -> u64 {
        let [known, borne] = self.words(way, run, shape);
        // In this order: what is borne is written before it is known.
        let known = known.load(Ordering::Acquire);
        !known | borne.load(Ordering::Relaxed)
    }

    fn words(&self, way: Way, run: usize, shape: usize) -> &[AtomicU64; 2] {
        &self.known[(way.index() * 2 * self.spans + run) * SHAPES.len() + shape]
    }

    /// The same of a run.
    pub fn run_bears(&self, way: Way, run: usize, brake: Standard) -> bool {
        let [known, borne] = self.words(way, run, brake.shape);
        let bit = 1 << brake.rung;
        // What is borne is written before it is known. Who comes between looks for himself, and finds the same.
        if known.load(Ordering::Acquire) & bit != 0 {
            return borne.load(Ordering::Relaxed) & bit != 0;
        }
        let bears = if run < self.spans {
            [2 * run, 2 * run + 1].into_iter().all(|half| self.run_bears(way, half, brake))
        } else {
            let rate = match way {
                Way::Forth => 1.0,
                Way::Back => -self.return_rate,
            };
            let starts = self.span(run - self.spans);
            let bears = |line: &Line| Along { line, rate }.bears(brake, starts.map(|time| time - line.begins));
            self.lines.iter().all(bears)
        };
        if bears {
            borne.fetch_or(bit, Ordering::Relaxed);
        }
        known.fetch_or(bit, Ordering::Release);
        bears
    }
}

fn lines(show: &Show, plan: &CuePlan) -> Vec<Line> {
    let mut lines = Vec::new();
    for step in &plan.moves {
        let straight = step.axes.iter().filter(|path| path.curve.is_none()).map(|path| {
            let axis = show.axis(path.axis);
            Ceiling::over(axis.stop, (path.to - path.from).abs() + axis.tolerance)
        });
        let fade = step.profile;
        if let Some(stop) = straight.reduce(Ceiling::least) {
            lines.push(Line { path: Track::Straight(fade), fade, begins: step.delay, stop, off: 0.0 });
        }
        for path in &step.axes {
            let Some(curve) = &path.curve else { continue };
            let axis = show.axis(path.axis);
            let (begins, stop) = (step.delay, Ceiling::of(axis.stop));
            for (fade, off) in Fade::of_starts(curve, axis.tolerance, room(axis), for_a_fade(axis)) {
                let path = Track::Curved { curve: curve.clone(), fade: Fade::NONE };
                lines.push(Line { path, fade, begins, stop, off });
            }
        }
    }
    lines
}
