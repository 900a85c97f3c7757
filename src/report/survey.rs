//! A survey that was, or would be, written: what it makes of the travel, what no longer fits, what must be proved again.

use comfy_table::{CellAlignment, Table, presets};
use serde_json::{Value, json};

use super::check_json::finding_entry;
use super::findings::render_findings;
use super::lines::wrapped;
use super::rounded;
use crate::motion::stopping_way;
use crate::proof::AxisSurvey;
use crate::show::{AxisWritten, CueId, Finding, Reading, Show};
use crate::wire::words::amount;

/// What a survey comes to.
#[derive(Clone, Copy)]
pub struct SurveyTold<'a> {
    pub rig: &'a str,
    pub axes: &'a [AxisSurvey],
    /// The show with it.
    pub reading: &'a Reading,
    /// That were not there before.
    pub findings: &'a [Finding],
    /// The cues whose proof and rehearsal no longer count.
    pub unproved: &'a [CueId],
    /// By which they are called: the show with the survey, or else without it.
    pub called_by: Option<&'a Show>,
    pub written: bool,
}

/// The travel of every axis before and after, what breaks, and what has to be proved and rehearsed again.
pub fn survey_text(told: SurveyTold, colour: bool) -> String {
    let mut text = String::new();
    for one in told.axes {
        of_axis(told.rig, one, &mut text);
    }
    text.push_str("\nwhat no longer fits\n");
    if told.findings.is_empty() {
        text.push_str("  nothing: no error and no warning that was not there before\n");
    }
    text.push_str(&render_findings(told.findings, &told.reading.sources, colour));
    if told.reading.show.is_none() {
        text.push_str(&wrapped("  ", "until that is settled the show cannot be proved: there may be more"));
    }
    if let Some(show) = told.called_by {
        text.push_str("\nwhat must be proved and rehearsed again\n");
        text.push_str(&wrapped("  ", &show.called(told.unproved)));
    }
    text
}

fn of_axis(rig: &str, one: &AxisSurvey, text: &mut String) {
    let AxisSurvey { axis, ends, travel, home, surveyed } = one;
    let sign = axis.unit.sign();
    let span = |[low, high]: [f64; 2]| format!("{low}{sign} to {high}{sign}");
    let head = format!("{rig}.{}: ", axis.name);
    if *travel == axis.travel {
        text.push_str(&wrapped(&head, &format!("its travel stays {}", span(*travel))));
    } else {
        text.push_str(&wrapped(&head, &format!("travel {} becomes {}", span(axis.travel), span(*travel))));
    }
    let top = format!("{}/s", amount(axis.stop.speed, axis.unit));
    let way = amount(stopping_way(axis.stop), axis.unit);
    let inside = match ends {
        Some([Some(low), Some(high)]) => format!(", so much inside the ends {}", span([*low, *high])),
        Some([Some(end), None] | [None, Some(end)]) => format!(", so much inside the end {end}{sign}"),
        Some([None, None]) | None => String::new(),
    };
    text.push_str(&wrapped("  ", &format!("it stops within {way} from its top speed of {top}{inside}")));
    if *home != axis.start {
        text.push_str(&wrapped("  ", &format!("its home {}{sign} becomes {home}{sign}", axis.start)));
    }
    match (axis.surveyed, surveyed) {
        (false, true) => text.push_str(&wrapped("  ", "it is surveyed")),
        (_, false) => text.push_str(&wrapped("  ", "it is NOT surveyed: nothing moves it but a slow jog by hand")),
        (true, true) => {}
    }
}

/// The travel that every axis of a rig has, and how far it goes on in a stop.
pub fn travels_text(rig: &str, axes: &[AxisWritten]) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header([rig, "travel from", "to", "home", "top speed", "stops within", ""]);
    for axis in axes {
        let [low, high] = axis.travel.map(|end| amount(end, axis.unit));
        let top = format!("{}/s", amount(axis.stop.speed, axis.unit));
        let surveyed = if axis.surveyed { "" } else { "NOT surveyed" };
        let way = amount(stopping_way(axis.stop), axis.unit);
        table.add_row([axis.name.clone(), low, high, amount(axis.start, axis.unit), top, way, surveyed.to_owned()]);
    }
    table.column_iter_mut().skip(1).for_each(|column| column.set_cell_alignment(CellAlignment::Right));
    format!("{}\n", table.trim_fmt())
}

/// One document.
pub fn survey_json(told: SurveyTold) -> Value {
    let axis = |one: &AxisSurvey| {
        json!({
            "axis": format!("{}.{}", told.rig, one.axis.name),
            "unit": one.axis.unit.word(),
            "ends": one.ends,
            "stops_within": rounded(stopping_way(one.axis.stop)),
            "was": one.axis.travel,
            "travel": one.travel,
            "home": one.home,
            "surveyed": one.surveyed,
        })
    };
    let number = |&cue: &CueId| told.called_by.map(|show| show.number_of(cue));
    json!({
        "rig": told.rig,
        "axes": told.axes.iter().map(axis).collect::<Value>(),
        "written": told.written,
        "findings": told.findings.iter().map(|finding| json!(finding_entry(told.reading, finding))).collect::<Value>(),
        "unproved": told.unproved.iter().map(number).collect::<Value>(),
    })
}
