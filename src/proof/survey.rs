//! A survey of a rig's axes: what is asked of each, the rig's file with it, and what it makes of the show.

use super::against::{Side, compare, new_findings};
use super::crew::Crew;
use super::memory::Memory;
use super::{all_findings, prove_from};
use crate::motion::{stopping_way, travel_between};
use crate::show::{
    AxisPart, AxisWritten, CueId, Finding, Reading, Rewrite, Severity, Show, Subject, rewritten, used_in,
};

/// What is asked of one axis, in its own unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Surveying {
    /// The ends that it was jogged to, low then high: its travel becomes what lies between, less the way of a stop at either.
    /// Where only one is known, the other end of the travel stays. Its home, too, where that is given.
    Ends { ends: [Option<f64>; 2], home: Option<f64> },
    /// The travel itself.
    Travel([f64; 2]),
    /// It is no longer surveyed; with a provisional travel, in which it may be jogged from then on.
    Clear(Option<[f64; 2]>),
}

/// One axis that was surveyed.
#[derive(Clone, Debug)]
pub struct AxisSurvey {
    /// As it was.
    pub axis: AxisWritten,
    /// The ends that it was jogged to, if its travel is found from them.
    pub ends: Option<[Option<f64>; 2]>,
    pub travel: [f64; 2],
    pub home: f64,
    pub surveyed: bool,
}

impl AxisSurvey {
    /// Whether what depends on the axis has to be proved again.
    pub fn differs(&self) -> bool {
        self.travel != self.axis.travel || self.home != self.axis.start || self.surveyed != self.axis.surveyed
    }
}

/// What is asked of each axis, and the file with all of it.
///
/// # Errors
/// A sentence: no such axis, one that is named twice, ends that leave nothing, a file that cannot be written.
pub fn survey(
    rig: &str,
    axes: &[AxisWritten],
    text: &str,
    asked: &[(String, Surveying)],
) -> Result<(Vec<AxisSurvey>, String), String> {
    let mut text = text.to_owned();
    let mut surveys: Vec<AxisSurvey> = Vec::new();
    for (name, asked) in asked {
        let named = |axis: &&AxisWritten| axis.name == *name;
        let Some(axis) = axes.iter().find(named).filter(|_| surveys.iter().all(|one| one.axis.name != *name))
        else {
            let known: Vec<&str> = axes.iter().map(|axis| axis.name.as_str()).collect();
            return Err(format!("{name}: expected an axis of {rig}, each once: {}", known.join(", ")));
        };
        let one = of_axis(axis, *asked)?;
        let rewrite = Rewrite {
            travel: Some(one.travel),
            surveyed: Some(one.surveyed),
            start: changed(axis.start, one.home),
        };
        text = rewritten(&text, name, rewrite).map_err(|error| error.to_string())?;
        surveys.push(one);
    }
    Ok((surveys, text))
}

fn changed(was: f64, now: f64) -> Option<f64> {
    (was != now).then_some(now)
}

/// What a survey makes of an axis.
///
/// # Errors
/// A sentence.
pub fn of_axis(axis: &AxisWritten, asked: Surveying) -> Result<AxisSurvey, String> {
    let same = AxisSurvey {
        axis: axis.clone(),
        ends: None,
        travel: axis.travel,
        home: axis.start,
        surveyed: axis.surveyed,
    };
    match asked {
        Surveying::Travel(travel) => Ok(AxisSurvey { travel, surveyed: true, ..same }),
        Surveying::Clear(travel) => {
            Ok(AxisSurvey { travel: travel.unwrap_or(axis.travel), surveyed: false, ..same })
        }
        Surveying::Ends { ends, home } => {
            let home = home.map_or(axis.start, |home| rounded(home, axis));
            let same = AxisSurvey { home, ..same };
            if ends == [None, None] {
                return Ok(same);
            }
            let travel = between(axis, ends)?;
            Ok(AxisSurvey { ends: Some(ends), travel, surveyed: true, ..same })
        }
    }
}

fn rounded(value: f64, axis: &AxisWritten) -> f64 {
    let scale = libm::pow(10.0, f64::from(axis.unit.survey_decimals()));
    (value * scale).round() / scale
}

fn between(axis: &AxisWritten, ends: [Option<f64>; 2]) -> Result<[f64; 2], String> {
    let (name, sign, way) = (&axis.name, axis.unit.sign(), stopping_way(axis.stop));
    if !axis.surveyed && ends.contains(&None) {
        let (known, other) = if ends[0].is_some() { ("lower", "upper") } else { ("upper", "lower") };
        return Err(format!(
            "{name}: it is not surveyed, and only its {known} end is set: jog it to its {other} end too"
        ));
    }
    let [low, high] = axis.travel;
    // An end that stays is where a stop from the travel's end would take it.
    let whole = [ends[0].unwrap_or(low - way), ends[1].unwrap_or(high + way)];
    if whole[0] >= whole[1] {
        return Err(format!(
            "{name}: expected its lower end below its upper, found {:.3}{sign} and {:.3}{sign}",
            whole[0], whole[1]
        ));
    }
    let travel = travel_between(whole, axis.stop, axis.unit.survey_decimals()).ok_or_else(|| {
        format!(
            "{name}: its ends are {:.3}{sign} apart, and a stop from its top speed takes {way:.3}{sign}, at either: nothing is \
             left. Lower its `share`, or set the travel itself with --set",
            whole[1] - whole[0]
        )
    })?;
    Ok([if ends[0].is_some() { travel[0] } else { low }, if ends[1].is_some() { travel[1] } else { high }])
}

/// The errors and warnings that were not there before, and the cues whose proof no longer counts.
pub fn effect(
    (rig, surveys): (&str, &[AxisSurvey]),
    (old, new): (&Reading, &Reading),
    crew: &dyn Crew,
    memory: &Memory,
) -> (Vec<Finding>, Vec<CueId>) {
    let worth = |finding: &Finding| finding.severity != Severity::Note;
    let (Some(was), Some(now)) = (&old.show, &new.show) else {
        let fresh = new_findings(&old.findings, &new.findings).into_iter().map(|index| new.findings[index].clone());
        let of_axes =
            new.show.as_ref().or(old.show.as_ref()).map_or_else(Vec::new, |show| using(rig, show, surveys));
        return (fresh.filter(worth).collect(), of_axes);
    };
    let [old_proof, new_proof] = [was, now].map(|show| prove_from(show, crew, memory));
    let (old_findings, new_findings) = (all_findings(old, Some(&old_proof)), all_findings(new, Some(&new_proof)));
    let against = compare(
        Side { show: was, proof: &old_proof, findings: &old_findings },
        Side { show: now, proof: &new_proof, findings: &new_findings },
    );
    let fresh = against.new_findings.iter().map(|&index| new_findings[index].clone()).filter(worth);
    let unproved = against.cues.iter().filter(|cue| !cue.unproven.is_empty()).map(|cue| cue.now);
    (fresh.collect(), unproved.collect())
}

/// The cues that use an axis whose survey is another now, where nothing can be proved.
fn using(rig: &str, show: &Show, surveys: &[AxisSurvey]) -> Vec<CueId> {
    let subject = |one: &AxisSurvey| Subject::Axis {
        rig: rig.to_owned(),
        axis: one.axis.name.clone(),
        part: AxisPart::Travel,
    };
    let moved = surveys.iter().filter(|one| one.differs());
    let mut cues: Vec<CueId> = moved.flat_map(|one| used_in(show, &subject(one))).collect();
    cues.sort();
    cues.dedup();
    cues
}
