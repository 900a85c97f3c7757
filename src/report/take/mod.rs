//! What a take holds, and how it would be played.

mod csv;
mod document;
mod preview;
mod text;

pub use csv::take_csv;
pub use document::take_json;
pub use preview::{cue_lines, take_preview};
pub use text::{take_text, takes_text};

use crate::proof::{MovePlan, Rendition};
use crate::show::{CueId, Finding, Playing, RigId, Show, Take};

/// A step between two samples that is so many times the usual one is a gap.
const GAP: f64 = 2.5;

/// A take of a show, looked at.
#[derive(Clone, Copy)]
pub struct TakeTold<'a> {
    pub show: &'a Show,
    pub take: &'a Take,
    pub parts: &'a [TakePart],
    /// Against the take, by itself.
    pub findings: &'a [Finding],
}

/// What a take is to one of its rigs.
pub struct TakePart {
    pub rig: RigId,
    pub playing: Playing,
    /// `None` if it is no path.
    pub played: Option<(MovePlan, Rendition)>,
}

/// Where a recorder dropped samples.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Gap {
    /// s, from the first sample.
    at: f64,
    /// s
    length: f64,
}

impl TakeTold<'_> {
    /// The cues that play it, each once.
    fn cues(&self) -> Vec<CueId> {
        let mut cues: Vec<CueId> = self.show.playing(&self.take.name).map(|(cue, _)| cue).collect();
        cues.dedup();
        cues
    }

    /// s, the usual time between two samples: the median.
    fn step(&self) -> f64 {
        let mut steps: Vec<f64> = self.take.times.windows(2).map(|pair| pair[1] - pair[0]).collect();
        steps.sort_by(f64::total_cmp);
        steps.get(steps.len() / 2).copied().unwrap_or(0.0)
    }

    fn gaps(&self) -> Vec<Gap> {
        let (usual, times) = (self.step(), &self.take.times);
        let gap = |pair: &[f64]| Gap { at: pair[0] - times[0], length: pair[1] - pair[0] };
        times.windows(2).map(gap).filter(|gap| gap.length > GAP * usual).collect()
    }

    /// s, of the part that is played longest.
    fn played_in(&self) -> Option<f64> {
        self.parts.iter().filter_map(|part| part.played.as_ref()).map(|(step, _)| step.duration()).reduce(f64::max)
    }
}
