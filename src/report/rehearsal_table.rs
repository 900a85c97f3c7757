//! A rehearsal, for people at a terminal.

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

use super::cautions::CAUTIONS;
use super::counted;
use super::lines::{COLUMNS, wrapped};
use super::rehearsal_words::{clock, incidents, not_proved, outcome_in_short, reasons};
use crate::rehearsal::{AxisRecord, CueRecord, Outcome, Rehearsal};
use crate::show::Show;

/// Incidents that are told one by one at most; the page tells all of them.
const INCIDENTS_MAX: usize = 40;

/// The running order with what was planned and taken, the axes against their limits, what was refused and why, what
/// came between, and what is not proved. Fits 80 columns.
pub fn rehearsal_table(show: &Show, rehearsal: &Rehearsal) -> String {
    let mut text = format!("{}, rehearsed on simulated rigs (machines)\nhash {}\n", show.name, show.hash);
    text.push_str(&conditions(rehearsal));
    text.push_str(&format!("\n{}\n", running_order(show, rehearsal).trim_fmt()));
    if rehearsal.cues.iter().any(|record| record.fired.is_some()) {
        text.push_str(&format!("\n{}\n", axes(show, rehearsal).trim_fmt()));
    }
    text.push_str(&not_run(show, rehearsal));
    text.push_str(&between(show, rehearsal));
    if let Some(act) = rehearsal.act() {
        text.push_str(&format!("\nthe act takes {} from the first GO to the last end\n", clock(act)));
    }
    text.push_str("\nThis rehearsal does not prove\n");
    for line in not_proved(Some(show), &rehearsal.options) {
        text.push_str(&wrapped("  - ", &line));
    }
    text.push('\n');
    for caution in CAUTIONS {
        text.push_str(&wrapped("caution ", caution));
    }
    text
}

/// The master, the seed and the faults, if there are any.
fn conditions(rehearsal: &Rehearsal) -> String {
    let options = &rehearsal.options;
    let mut told = Vec::new();
    if options.master < 1.0 {
        told.push(format!("master {:.0} %: dynamic limits not proved", 100.0 * options.master));
    }
    told.extend(options.seed.map(|seed| {
        let hands = counted(rehearsal.taken_in_hand(), "rig", "rigs");
        format!("called at random, operators at random, {hands} taken in hand, seed {seed}")
    }));
    told.extend(
        options
            .faults
            .as_ref()
            .map(|script| format!("{} injected by file", counted(script.injections().len(), "fault", "faults"))),
    );
    told.iter().map(|line| format!("{line}\n")).collect()
}

fn table(header: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Dynamic).set_width(COLUMNS as u16);
    table.set_header(header.iter().copied());
    table
}

fn running_order(show: &Show, rehearsal: &Rehearsal) -> Table {
    let mut table = table(&["cue", "name", "GO at", "planned", "taken", "nearest to a limit", "stops in"]);
    for record in &rehearsal.cues {
        let cue = show.cue(record.cue);
        table.add_row([
            cue.number.to_string(),
            cue.name.clone(),
            record.fired.map(clock).unwrap_or_default(),
            format!("{:.2} s", record.planned),
            taken(record),
            nearest(show, record),
            record.fired.map(|_| format!("{:.2} s", record.stop_bound)).unwrap_or_default(),
        ]);
    }
    for column in [2, 3, 4, 6] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

fn taken(record: &CueRecord) -> String {
    match (&record.outcome, record.taken()) {
        (Outcome::Done, Some(taken)) => format!("{taken:.2} s"),
        (outcome, _) => outcome_in_short(outcome).into(),
    }
}

/// "heron.swing 62 %": the axis that came nearest to one of its limits.
fn nearest(show: &Show, record: &CueRecord) -> String {
    let most = |axis: &AxisRecord| {
        let limits = show.axis(axis.axis);
        let (running, stopping) = (axis.running.most_of(limits.run), axis.stopping.most_of(limits.stop));
        (running.max(stopping), axis.axis)
    };
    let nearest = record.axes.iter().map(most).max_by(|a, b| a.0.total_cmp(&b.0));
    match nearest {
        Some((part, axis)) if part > 0.0 => format!("{} {:.0} %", show.axis_name(axis), 100.0 * part),
        Some(_) | None => String::new(),
    }
}

/// Each axis that moved: its peaks as parts of its limits, running and (where it was braked) stopping.
fn axes(show: &Show, rehearsal: &Rehearsal) -> Table {
    let mut table = table(&["axis", "top speed", "of limit", "acceleration", "jerk", "braking", "lag"]);
    for record in rehearsal.axes(show).iter().filter(|record| moved(record)) {
        let axis = show.axis(record.axis);
        let part = |value: f64, limit: f64| format!("{:.0} %", 100.0 * value / limit);
        let braking = record.stopping.most_of(axis.stop);
        table.add_row([
            show.axis_name(record.axis),
            format!("{:.3}{}/s", record.running.speed.max(record.stopping.speed), axis.unit.sign()),
            part(record.running.speed, axis.run.speed),
            part(record.running.acceleration, axis.run.acceleration),
            part(record.running.jerk, axis.run.jerk),
            if braking > 0.0 { part(braking, 1.0) } else { String::new() },
            part(record.lag, axis.lag_limit),
        ]);
    }
    table.column_iter_mut().skip(1).for_each(|column| column.set_cell_alignment(CellAlignment::Right));
    table
}

pub(super) fn moved(record: &AxisRecord) -> bool {
    record.running.speed.max(record.stopping.speed) > 0.0
}

fn not_run(show: &Show, rehearsal: &Rehearsal) -> String {
    let mut text = String::new();
    for record in &rehearsal.cues {
        let head = format!("  cue {}  ", show.cue(record.cue).number);
        let reasons = reasons(show, record);
        for (index, reason) in reasons.iter().enumerate() {
            let head = if index == 0 { head.clone() } else { " ".repeat(head.chars().count()) };
            text.push_str(&wrapped(&head, reason));
        }
    }
    if text.is_empty() { text } else { format!("\nNot run to their ends\n{text}") }
}

fn between(show: &Show, rehearsal: &Rehearsal) -> String {
    let incidents = incidents(show, rehearsal);
    if incidents.is_empty() {
        return String::new();
    }
    let mut text = String::from("\nWhat came between\n");
    for (time, sentence) in incidents.iter().take(INCIDENTS_MAX) {
        text.push_str(&wrapped(&format!("{:>9}  ", clock(*time)), sentence));
    }
    if let Some(more) = incidents.len().checked_sub(INCIDENTS_MAX).filter(|more| *more > 0) {
        text.push_str(&format!("           and {more} more: --report FILE.html tells all of them\n"));
    }
    text
}
