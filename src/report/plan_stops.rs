//! The stops of one cue: when and where it stands, asked to at any time of it, and what can be done from there.

use std::fmt::Write;

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use serde_json::{Value, json};

use super::check_json::{document, pose};
use super::lines::{COLUMNS, wrapped};
use super::onward::{onward_json, then_words};
use super::plan_csv::{ROWS_MAX, TooManyRows};
use super::rounded;
use crate::engine::ClientId;
use crate::proof::{CuePlan, Going, Onward, Stop, Stops, Then};
use crate::show::{AxisId, CueId, Finding, Reading, Show};
use crate::wire::words::{Words, amount};

/// Rows of the table for people, unless they ask for more.
const ROWS: usize = 12;
/// Axes side by side in a table for people.
const ABREAST: usize = 4;

/// What is known of one cue's stops.
#[derive(Clone, Copy)]
pub struct CueStops<'a> {
    pub show: &'a Show,
    pub cue: CueId,
    pub plan: &'a CuePlan,
    pub stops: &'a Stops,
    /// The longest of so many that were looked at; see [`Stops::worst_tick`].
    pub longest: Option<(Stop, usize)>,
    pub onward: &'a [Onward],
}

impl CueStops<'_> {
    /// A stop every so many s, the last at the end of the cue; none of a cue that goes nowhere.
    fn every(self, every: f64) -> Result<Vec<Stop>, TooManyRows> {
        let rows = (self.plan.duration / every).ceil();
        if rows > ROWS_MAX {
            return Err(TooManyRows { rows });
        }
        let times = (0..rows as u64).map(|row| row as f64 * every).chain([self.plan.duration]);
        Ok(times.filter_map(|time| self.stops.at(self.show, self.plan, time)).collect())
    }

    fn pose(self, stop: &Stop) -> Vec<f64> {
        let mut pose = self.plan.start.clone();
        self.plan.pose_at(stop.rests, &mut pose);
        pose
    }

    fn ways_after(self, stop: &Stop) -> [&'static str; 2] {
        let word = |going: &Going| match going {
            Going::Open(given) if given.is_empty() => "yes",
            Going::Open(_) => "given",
            Going::Shut(_) => "no",
        };
        let span = self.onward.iter().find(|span| stop.asked < span.to).or(self.onward.last());
        match span.map(|span| &span.then).filter(|_| stop.rests < self.plan.duration) {
            Some(Then::Stands { resume, back, .. }) => [word(resume), word(back)],
            Some(Then::Ended) | None => ["ended"; 2],
        }
    }
}

/// Where the cue stands after a stop every `every` s, or at a dozen times of it and the longest; then what can be done
/// from there.
///
/// # Errors
/// [`TooManyRows`] if `every` is too short for the cue.
pub fn stops_text(told: CueStops, every: Option<f64>) -> Result<String, TooManyRows> {
    let CueStops { show, plan, stops, .. } = told;
    let cue = show.cue(told.cue);
    let mut text = format!("cue {}, {}: stopped on its way of {:.2} s\n", cue.number, cue.name, plan.duration);
    if stops.list.is_empty() {
        text.push_str("  it moves nothing: there is nothing to stop\n");
        return Ok(text);
    }
    let rows = told.every(every.unwrap_or(plan.duration / ROWS as f64))?;
    for step in &plan.moves {
        let moved: Vec<AxisId> = step.axes.iter().filter(|path| path.moves()).map(|path| path.axis).collect();
        for part in moved.chunks(ABREAST) {
            text.push_str(&format!("\n{}\n{}\n", show.rig(step.rig).name, table(told, part, &rows).trim_fmt()));
        }
    }
    let nobody = |_: ClientId| String::new();
    let words = Words::new(show, &nobody);
    text.push_str("\nasked at\n");
    for span in told.onward.iter().filter(|span| span.to - span.from >= SHORTEST) {
        let head = format!("  {:<15}", format!("{:.1} to {:.1} s", span.from, span.to));
        text.push_str(&wrapped(&head, &then_words(&words, &span.then)));
    }
    text.push('\n');
    if let Some((_, looks)) = told.longest {
        text.push_str(&wrapped("", &format!("the longest is that of {looks} looked at, a tick or more apart")));
    }
    let stays = match plan.leaves_travel(show) {
        None => "a stop is a brake along the path: it ends on it, within the travel of every axis".to_owned(),
        Some(axis) => {
            format!("a stop is a brake along the path, which leaves the travel of {}", show.axis_name(axis))
        }
    };
    text.push_str(&wrapped("", &stays));
    NOTES.iter().for_each(|note| text.push_str(&wrapped("", note)));
    Ok(text)
}

/// s; a span that ends as it begins is no line for people.
const SHORTEST: f64 = 0.05;
const NOTES: [&str; 2] = [
    "told at full rate and of the cue by itself, its rigs anywhere within tolerance as it was fired, all else where the \
     list leaves it; cues that run together brake on one rate, within the limits of all their axes, along what was proved \
     clear of the two",
    "a stopped cue goes on by reset, standby and GO, and back by reset, return and GO; a held one by resume, or by return \
     and GO",
];

fn table(told: CueStops, moved: &[AxisId], rows: &[Stop]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Dynamic).set_width(COLUMNS as u16);
    let names = moved.iter().map(|&axis| told.show.axis(axis).name.clone());
    let heads = ["", "asked at", "takes", "stands at"].map(str::to_owned);
    table.set_header(heads.into_iter().chain(names));
    let mut row = |name: &str, stop: &Stop| {
        let pose = told.pose(stop);
        let stands = moved.iter().map(|axis| amount(pose[axis.index()], told.show.axis(*axis).unit));
        let [asked, takes, rests] = [stop.asked, stop.takes, stop.rests].map(|time| format!("{time:.2} s"));
        table.add_row([name.to_owned(), asked, takes, rests].into_iter().chain(stands));
    };
    rows.iter().for_each(|stop| row("", stop));
    told.longest.into_iter().for_each(|(stop, _)| row("longest", &stop));
    table.column_iter_mut().skip(1).for_each(|column| column.set_cell_alignment(CellAlignment::Right));
    table
}

/// Comma-separated values with a header: `asked`, `takes` and `rests` in s, `resume` and `return`, then where each axis of
/// the cue stands, in its unit. A row every `every` s (above zero), and a last one at the end of the cue. The ways on and
/// back are `yes`, `given` (if what no pose decides is true), `no`, or `ended`.
///
/// # Errors
/// [`TooManyRows`] if `every` is too short for the cue.
pub fn stops_csv(told: CueStops, every: f64) -> Result<String, TooManyRows> {
    let axes: Vec<_> = told.plan.moves.iter().flat_map(|step| &step.axes).map(|path| path.axis).collect();
    let mut table = String::from("asked,takes,rests,resume,return");
    // Writing to a string cannot fail.
    for &axis in &axes {
        let _ = write!(table, ",{}", told.show.axis_name(axis));
    }
    table.push('\n');
    for stop in told.every(every)? {
        let [resume, back] = told.ways_after(&stop);
        let [asked, takes, rests] = [stop.asked, stop.takes, stop.rests].map(rounded);
        let _ = write!(table, "{asked},{takes},{rests},{resume},{back}");
        let pose = told.pose(&stop);
        for axis in &axes {
            let _ = write!(table, ",{}", rounded(pose[axis.index()]));
        }
        table.push('\n');
    }
    Ok(table)
}

/// One document, also when the show does not read well: then nothing is told, and `findings` say why. The stops are those
/// of the table that the proof works with, or one every `every` s.
///
/// # Errors
/// [`TooManyRows`] if `every` is too short for the cue.
pub fn stops_json(
    reading: &Reading,
    told: Option<CueStops>,
    every: Option<f64>,
    findings: &[Finding],
) -> Result<Value, TooManyRows> {
    let tells = json!({
        "cue": null, "duration": null, "leaves_travel": null, "worst_stop": null, "stops": [], "spans": [],
    });
    let mut document = document(reading, tells, findings);
    let Some(told) = told else { return Ok(document) };
    let nobody = |_: ClientId| String::new();
    let list = every.map_or_else(|| Ok(told.stops.list.clone()), |every| told.every(every))?;
    document["cue"] = told.show.cue(told.cue).number.to_string().into();
    document["duration"] = rounded(told.plan.duration).into();
    document["leaves_travel"] = told.plan.leaves_travel(told.show).map(|axis| told.show.axis_name(axis)).into();
    document["worst_stop"] = told.longest.map_or(Value::Null, |(stop, _)| stop_json(told, &stop));
    document["stops"] = list.iter().map(|stop| stop_json(told, stop)).collect();
    document["spans"] = onward_json(&Words::new(told.show, &nobody), told.onward);
    Ok(document)
}

fn stop_json(told: CueStops, stop: &Stop) -> Value {
    let [asked, takes, rests] = [stop.asked, stop.takes, stop.rests].map(rounded);
    json!({ "asked": asked, "takes": takes, "rests": rests, "pose": Value::Object(pose(told.show, &told.pose(stop))) })
}
