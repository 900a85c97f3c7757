//! How a take is played, for those who look at it.

use super::ensemble::{company, parts, perform_with};
use super::plan::MovePlan;
use super::played::Played;
use crate::motion::{Derivative, Part, Peak, Performance, tightest};
use crate::show::{AxisId, CueId, Finding, Playing, RigId, Show};

/// How a take is played.
#[derive(Clone, Debug, PartialEq)]
pub struct Rendition {
    /// At the pace of the recording.
    pub performance: Performance,
    /// s, that the run-in and the run-out add, as played.
    pub added: [f64; 2],
    /// The limit that asks for the most time; `None` if no axis moves.
    pub tightest: Option<Tight>,
    /// How far the sample that is farthest from the path is, of each axis in its own unit.
    pub farthest: Vec<(AxisId, f64)>,
    /// The standard deviation of what is not motion in the samples, of each axis in its own unit.
    pub noises: Vec<f64>,
}

/// The limit that asks for the most time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tight {
    pub axis: AxisId,
    pub limit: Derivative,
    /// The value of the peak, at the pace of the recording, and when: s of the recording.
    pub peak: Peak,
    /// The least stretch at which every axis keeps its limits.
    pub stretch: f64,
}

impl Rendition {
    /// The least stretch at which every axis keeps its limits; 0 if none moves.
    pub fn least(&self) -> f64 {
        self.tightest.map_or(0.0, |tight| tight.stretch)
    }

    /// The highest speed, acceleration and jerk of an axis, at the pace of the recording, and when: s of the recording.
    pub fn peaks(&self, index: usize) -> [Peak; 3] {
        self.performance.phrase.peaks(index).map(|peak| Peak { time: self.performance.recorded(peak.time), ..peak })
    }
}

/// How a cue plays a take on a rig; `None` if it is no path.
pub fn rendition(show: &Show, cue: CueId, playing: &Playing) -> Option<Rendition> {
    let parts = parts(show, playing);
    let performance = perform_with(show, playing, company(show, cue, playing)).ok()?;
    Some(told(playing, &parts, performance))
}

/// A take by itself on one of its rigs, played by no cue: its path from its own first pose, as fast as its limits allow if not
/// as it was recorded, and what stands against it. Neither, if it is no path. `all` is the whole of it, rig by rig.
/// Where everything `stands`, by `AxisId`, it begins, as far as that is its first pose within tolerance.
pub fn take_alone(
    show: &Show,
    (rig, playing): (RigId, &Playing),
    all: &[(RigId, Playing)],
    stands: Option<&[f64]>,
) -> (Option<(MovePlan, Rendition)>, Vec<Finding>) {
    let played = Played { show, cue: None, rig, delay: 0.0, playing };
    let mut findings = Vec::new();
    played.keep_survey(&mut findings);
    let parts = parts(show, playing);
    match perform_with(show, playing, all.iter().map(|(_, playing)| playing)) {
        Ok(performance) => {
            let aside = stands.map(|stands| played.near(&performance, stands));
            let performance = match aside {
                Some(aside) => played.begun(performance, &aside),
                None => performance,
            };
            let (plan, _) = played.at_its_pace(&performance, &parts, &mut findings);
            (Some((plan, told(playing, &parts, performance))), findings)
        }
        Err((index, rough)) => {
            findings.push(played.rough(index, rough));
            (None, findings)
        }
    }
}

fn told(playing: &Playing, parts: &[Part], performance: Performance) -> Rendition {
    let times: Vec<f64> = playing.take.times.iter().map(|time| time - playing.take.times[0]).collect();
    let farthest = playing.columns.iter().enumerate().map(|(index, &(axis, column))| {
        let samples = times.iter().zip(&playing.take.columns[column].values);
        let played = samples.filter(|(time, _)| **time >= performance.entered);
        let off = played
            .map(|(&time, value)| (performance.phrase.at(index, performance.played(time)).position - value).abs());
        (axis, off.fold(0.0, f64::max))
    });
    let farthest = farthest.collect();
    // One that has a glitch is no path.
    let noises = parts.iter().map(|part| part.trace.noise(&times).unwrap_or(f64::NAN)).collect();
    let tight = tightest(&performance.phrase, parts).map(|tight| Tight {
        axis: playing.columns[tight.axis].0,
        limit: tight.limit,
        peak: Peak { time: performance.recorded(tight.peak.time), ..tight.peak },
        stretch: tight.stretch,
    });
    let added = performance.added.map(|added| added * playing.stretch);
    Rendition { performance, added, tightest: tight, farthest, noises }
}
