//! The times of a cue at which its brakes are planned, evenly spread, and which of them need not be.
//!
//! While everything of a cue goes at a steady speed, or stands, it brakes alike from wherever it is. So of each such stretch one
//! place is planned, for all others of it from which the brake would end in the stretch too.

use crate::proof::bodies::Span;
use crate::proof::plan::CuePlan;

/// Of an axis in its own unit per s² or s³: so little is rounding.
const NOTHING: f64 = 1e-9;

/// Of one cue, from its start to its end.
pub struct Places {
    /// s, between one and the next.
    pub spacing: f64,
    /// s
    pub duration: f64,
    pub list: Vec<Place>,
}

/// A time of a cue.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// s
    pub time: f64,
    /// The first and the last place of the steady stretch that it lies in; itself if it lies in none.
    pub alike: [usize; 2],
    /// s, that stretch; of no length if there is none.
    pub steady: Span,
}

impl Places {
    pub fn new(plan: &CuePlan, spacing: f64) -> Places {
        let steady = steady(plan);
        let times = (0..=(plan.duration / spacing).ceil() as usize).map(|place| spacing * place as f64);
        let times: Vec<f64> = times.map(|time| time.min(plan.duration)).collect();
        let place = |(index, &time): (usize, &f64)| {
            let within = |stretch: &&Span| stretch.from <= time && time < stretch.to;
            steady.iter().find(within).map_or(
                Place { time, alike: [index; 2], steady: Span::instant(time) },
                |&stretch| {
                    let first = times.partition_point(|&time| time < stretch.from);
                    let last = times.partition_point(|&time| time < stretch.to) - 1;
                    Place { time, alike: [first, last], steady: stretch }
                },
            )
        };
        let list = times.iter().enumerate().map(place).collect();
        Places { spacing, duration: plan.duration, list }
    }

    /// The first and the last around a span of the cue's time; what is outside of it counts as its start or its end.
    pub fn around(&self, span: Span) -> [usize; 2] {
        let place = |time: f64| time.clamp(0.0, self.duration) / self.spacing;
        [place(span.from).floor() as usize, place(span.to).ceil() as usize]
    }
}

/// The stretches of a cue's time in which every axis goes at a steady speed, or stands; the last goes on for ever.
fn steady(plan: &CuePlan) -> Vec<Span> {
    let paths = || plan.moves.iter().flat_map(|step| step.axes.iter().map(move |path| (step, path)));
    let mut cuts: Vec<f64> = paths().flat_map(|(step, path)| step.changes(path)).collect();
    cuts.extend([0.0, plan.duration]);
    cuts.retain(|cut| (0.0..=plan.duration).contains(cut));
    cuts.sort_by(f64::total_cmp);
    let is_steady = |stretch: &Span| {
        paths().all(|(step, path)| {
            let middle = step.at(path, stretch.middle());
            middle.acceleration.abs() <= NOTHING && middle.jerk.abs() <= NOTHING
        })
    };
    let stretches = cuts.windows(2).map(|ends| Span { from: ends[0], to: ends[1] }).filter(is_steady);
    stretches.chain([Span { from: plan.duration, to: f64::INFINITY }]).collect()
}
