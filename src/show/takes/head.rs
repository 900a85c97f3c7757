//! The head of a take: when it was recorded, and under which survey.
//!
//! ```text
//! #: recorded = 2026-11-26T19:30:00Z
//! #: survey = "5e0c1b8a93f2"
//! #: axes."minnow.travel" = { unit = "m", travel = [0.0, 3.0], joint = { slide = "x", at = [0.0, 0.0, 0.35] } }
//! time,minnow.travel
//! ```
//!
//! Lines over the columns that begin with `#:` are TOML; to every other program that reads such tables they are comments. A
//! take without them is played as it is. What is written of an axis is what gives its recorded positions their meaning: the
//! unit, the ends of its travel (from which its zero is known), the direction and place of its joint. How fast it may go,
//! how near it must come and what hangs on it may change without making a recorded position another place.

use glam::DVec3;
use sha2::{Digest, Sha256};

use super::Take;
use crate::show::decode::Found;
use crate::show::finding::{Code, Finding};
use crate::show::model::{Axis, Joint, JointKind};
use crate::show::read::parse;
use crate::show::source::Place;
use crate::show::units::Unit;
use crate::show::written::TakeHead;

/// Begins a line of the head.
const MARK: &str = "#:";
/// Of a hash, in hexadecimal: enough to tell one survey from the next.
const HASH_DIGITS: usize = 12;
/// In m, in the unit of an axis or as a part of 1; what differs by less is written with other digits.
const ROUNDING: f64 = 1e-9;

/// What of an axis gives a recorded position its meaning.
#[derive(Clone, Debug, PartialEq)]
pub struct Surveyed {
    pub unit: Unit,
    pub travel: [f64; 2],
    pub joint: Option<Joint>,
}

impl Surveyed {
    /// As the axis is surveyed now.
    pub fn of(axis: &Axis) -> Surveyed {
        Surveyed { unit: axis.unit, travel: axis.travel, joint: axis.joint.clone() }
    }

    /// What is otherwise now, each in words; nothing if a recorded position is the same place still.
    pub fn differences(&self, now: &Surveyed) -> Vec<String> {
        let mut told = Vec::new();
        if self.unit != now.unit {
            told.push(format!("its unit was {} and is {}", self.unit.word(), now.unit.word()));
        }
        let [was, is] = [self, now].map(|one| one.travel);
        if was.iter().zip(is).any(|(was, is)| (was - is).abs() > ROUNDING) {
            let ends = |one: &Surveyed| {
                let ([low, high], sign) = (one.travel, one.unit.sign());
                format!("{low}{sign} to {high}{sign}")
            };
            told.push(format!("its travel was {} and is {}", ends(self), ends(now)));
        }
        match (&self.joint, &now.joint) {
            (None, None) => {}
            (None, Some(_)) => told.push("it had no joint and has one".into()),
            (Some(_), None) => told.push("it had a joint and has none".into()),
            (Some(was), Some(is)) => told.extend(joint_differences(was, is)),
        }
        told
    }

    /// As TOML.
    fn written(&self) -> String {
        let [low, high] = self.travel;
        let joint = self.joint.as_ref().map_or_else(String::new, |joint| {
            let key = match joint.kind {
                JointKind::Turn => "turn",
                JointKind::Slide => "slide",
            };
            let level = if joint.level { ", level = true" } else { "" };
            format!(", joint = {{ {key} = {}, at = {}{level} }}", direction(joint.direction), vector(joint.at))
        });
        format!("{{ unit = \"{}\", travel = [{low:?}, {high:?}]{joint} }}", self.unit.word())
    }
}

fn joint_differences(was: &Joint, is: &Joint) -> Vec<String> {
    let mut told = Vec::new();
    let verb = |joint: &Joint| match joint.kind {
        JointKind::Turn => "turn",
        JointKind::Slide => "slide",
    };
    let about = |joint: &Joint| match joint.kind {
        JointKind::Turn => format!("about {}", vector(joint.direction)),
        JointKind::Slide => format!("along {}", vector(joint.direction)),
    };
    let apart = |a: DVec3, b: DVec3| (a - b).abs().max_element() > ROUNDING;
    if was.kind == is.kind && apart(was.direction, is.direction) && !apart(was.direction, -is.direction) {
        told.push("its direction is reversed".into());
    } else if was.kind != is.kind || apart(was.direction, is.direction) {
        told.push(format!("its joint did {} {} and does {} {}", verb(was), about(was), verb(is), about(is)));
    }
    if apart(was.at, is.at) {
        told.push(format!("its joint was at {} m and is at {} m", vector(was.at), vector(is.at)));
    }
    if was.level != is.level {
        let kept = |joint: &Joint| if joint.level { "level" } else { "not level" };
        told.push(format!("what it carries was kept {} and is kept {}", kept(was), kept(is)));
    }
    told
}

fn vector(vector: DVec3) -> String {
    format!("[{:?}, {:?}, {:?}]", vector.x + 0.0, vector.y + 0.0, vector.z + 0.0)
}

/// By its letter, where that is all that it is.
fn direction(direction: DVec3) -> String {
    let letters = [(DVec3::X, "\"x\""), (DVec3::Y, "\"y\""), (DVec3::Z, "\"z\"")];
    let letter = letters.into_iter().find(|(along, _)| *along == direction);
    letter.map_or_else(|| vector(direction), |(_, letter)| letter.to_owned())
}

/// Of what the columns of a take were surveyed as, by their names: equal if nothing of it differs.
pub fn survey_hash<'a>(axes: impl IntoIterator<Item = (&'a str, &'a Surveyed)>) -> String {
    let mut lines: Vec<String> =
        axes.into_iter().map(|(name, axis)| format!("{name} {}\n", axis.written())).collect();
    lines.sort();
    let hash = Sha256::digest(lines.concat());
    let digits: String = hash.iter().map(|byte| format!("{byte:02x}")).collect();
    digits[..HASH_DIGITS].to_owned()
}

/// The lines of a head. `recorded` is a time by RFC 3339; each axis stands under the name of its column.
pub fn head(recorded: Option<&str>, axes: &[(&str, Surveyed)]) -> String {
    let mut text = String::new();
    if let Some(recorded) = recorded {
        text.push_str(&format!("{MARK} recorded = {recorded}\n"));
    }
    if !axes.is_empty() {
        let hash = survey_hash(axes.iter().map(|(name, axis)| (*name, axis)));
        text.push_str(&format!("{MARK} survey = \"{hash}\"\n"));
    }
    for (name, axis) in axes {
        text.push_str(&format!("{MARK} axes.{} = {}\n", quoted(name), axis.written()));
    }
    text
}

/// A basic string of TOML. A name has no control characters in it.
fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('\\', "\\\\").replace('"', "\\\""))
}

/// Whether a line over the columns belongs to the head.
pub fn is_of_head(line: &str) -> bool {
    line.trim_start_matches('\u{feff}').trim_start().starts_with(MARK)
}

/// Reads the head out of what stands over the columns of a take, into the take; whose columns are known.
pub fn read_head(over: &str, place: Place, take: &mut Take) -> Vec<Finding> {
    let text = bared(over);
    if text.trim().is_empty() {
        return Vec::new();
    }
    let mut found = Found::default();
    let (head, torn) = parse::<TakeHead>(&text, place, false, &mut found);
    take.recorded = head.recorded.map(|moment| moment.0).filter(|moment| !moment.is_empty());
    for (name, axis) in head.axes.into_iter().flat_map(|axes| axes.0) {
        let joint = axis.value.joint.as_ref();
        let surveyed = Surveyed {
            unit: axis.value.unit,
            travel: axis.value.travel.map(|end| end.0),
            joint: joint.and_then(|joint| joint.resolved()),
        };
        match take.columns.iter_mut().find(|column| column.name == name.value) {
            Some(column) => column.surveyed = Some((surveyed, name.place)),
            None => {
                let known: Vec<&str> = take.columns.iter().map(|column| column.name.as_str()).collect();
                found.unknown("the head tells of an axis that is no column,", &name.value, name.place, known);
            }
        }
    }
    if let (Some(written), false, []) = (&head.survey, torn, &found.findings[..]) {
        let is = take.survey_hash().unwrap_or_default();
        if written.value.0 != is {
            let was = &written.value.0;
            let message = format!(
                "the head of a take: expected the survey {is}, by the axes that it tells of, found {was:?}"
            );
            let fix = "a head is written by a recording: take it from a copy, or remove it if the take still means the same";
            found.push(Finding::new(Code::BadValue, message).at(written.place).fix(fix));
        }
    }
    found.finish()
}

/// The head alone, each character of it where it was: everything else is made blank.
fn bared(over: &str) -> String {
    let blank =
        |piece: &str| -> String { piece.bytes().map(|byte| if byte == b'\n' { '\n' } else { ' ' }).collect() };
    let line = |line: &str| match line.find(MARK).filter(|_| is_of_head(line)) {
        Some(at) => blank(&line[..at + MARK.len()]) + &line[at + MARK.len()..],
        None => blank(line),
    };
    over.split_inclusive('\n').map(line).collect()
}
