//! The report for people, on 80 columns.

use comfy_table::{CellAlignment, Table, presets};
use jiff::Timestamp;
use jiff::tz::{Offset, TimeZone};

use super::{CueRun, JournalReport, Kind};
use crate::journal::{Lost, Trouble, Verdict};
use crate::report::lines::wrapped;
use crate::show::{CueState, Nanos};

/// Of a hash or a run's number, what a person compares.
const SHORT: usize = 12;

/// The whole report; with `events` everything that happened, line by line, at its end.
pub fn journal_text(report: &JournalReport, verdict: &Verdict, bytes: usize, events: bool) -> String {
    let mut text = head(report, verdict, bytes);
    text.push_str(&verdict_text(verdict, bytes));
    if report.runs.is_empty() {
        text.push_str("\nno cue was fired\n");
    } else {
        text.push_str(&format!("\n{}\n", cues(report).trim_fmt()));
        if let Some(table) = delays(report) {
            text.push_str(&format!("\nwho was late, ms\n{}\n{DELAYS}", table.trim_fmt()));
        }
    }
    for (kind, title) in [
        (Kind::Refused, "refused"),
        (Kind::Stop, "stops"),
        (Kind::Hold, "holds"),
        (Kind::Fault, "faults"),
        (Kind::Other, "besides"),
    ] {
        text.push_str(&incidents(report, kind, title));
    }
    if events {
        text.push_str("\neverything\n");
        for line in &report.lines {
            text.push_str(&wrapped(&format!("  {}  ", clock(report, line.at)), &line.text));
        }
    }
    text
}

const DELAYS: &str = "\
caller: against the planned gap; network: from `sent` to our socket, as true as
the clocks agree; waited: from the socket to the tick; setpoint: from the tick
to the first setpoint that moves; rig: how far the axis trails its setpoint
";

fn head(report: &JournalReport, verdict: &Verdict, bytes: usize) -> String {
    let (show, hash) = report.show.clone().unwrap_or_else(|| ("unknown show".into(), String::new()));
    let Some(header) = &report.header else { return format!("{show}\n") };
    let started = zoned(report, header.started).map(|time| time.strftime("%A %d %B %Y").to_string());
    let kind = if header.rehearsal { "rehearsal in virtual time, " } else { "" };
    let until = report.at(report.last_tick);
    let mut text = format!("{show}, {kind}{}\n", started.unwrap_or_default());
    text.push_str(&format!("run {}, show {}, bellwire {}\n", short(&header.run), short(&hash), header.program));
    text.push_str(&format!(
        "{} to {}, {} ticks in {}\n\n",
        clock(report, header.started),
        clock(report, until),
        verdict.ticks,
        size(bytes)
    ));
    text
}

fn verdict_text(verdict: &Verdict, bytes: usize) -> String {
    let mut text = String::new();
    let mut say = |head: &str, what: &str| text.push_str(&wrapped(&format!("{head:<10}"), what));
    let all = verdict.replayed == verdict.ticks;
    if all && verdict.difference.is_none() && verdict.lost.is_none() {
        say("replay", &format!("the same to the bit in all {} ticks", verdict.ticks));
    } else {
        say("replay", &format!("the same to the bit in {} of {} ticks", verdict.replayed, verdict.ticks));
    }
    if let Some(difference) = verdict.difference {
        say("DIFFERS", &format!("first at {difference}: keep the journal, and report it"));
    }
    if let Some((tick, why)) = verdict.lost {
        say("NOT PROVED", &format!("from tick {tick} on: {}", lost(why)));
    }
    for gap in &verdict.gaps {
        let count = gap.last.saturating_sub(gap.first).saturating_add(1);
        say("GAP", &format!("ticks {} to {} ({count}) were not kept: {}", gap.first, gap.last, gap.why));
    }
    for trouble in &verdict.troubles {
        let (head, what) = trouble_text(*trouble, bytes);
        say(head, &what);
    }
    match (verdict.ended, verdict.troubles.iter().any(|trouble| matches!(trouble, Trouble::Torn { .. }))) {
        (true, _) => say("end", "the run ended as it should"),
        (false, true) => say("end", "the run ended without a word: it was killed, or lost its power"),
        (false, false) => say("end", "the run still goes on, or it was killed between two records"),
    }
    text
}

pub(super) fn lost(why: Lost) -> &'static str {
    match why {
        Lost::Missing => "ticks are missing, and a replay cannot leave any out",
        Lost::Show => "this version of bellwire does not read its show: use the version that wrote it",
        Lost::Hash => "the show inside has another hash than the journal says",
    }
}

pub(super) fn trouble_text(trouble: Trouble, bytes: usize) -> (&'static str, String) {
    match trouble {
        Trouble::Torn { at } => (
            "torn",
            format!("the last record, from byte {at} on, is not whole ({} bytes): a crash leaves that", bytes - at),
        ),
        Trouble::Damaged { at, until } => (
            "DAMAGED",
            format!("bytes {at} to {until} are not what was written: the file was changed or its disk fails"),
        ),
        Trouble::Missing { at, frames: 1 } => ("MISSING", format!("a record is missing before byte {at}")),
        Trouble::Missing { at, frames } => ("MISSING", format!("{frames} records are missing before byte {at}")),
        Trouble::Strange { at } => {
            ("STRANGE", format!("the record at byte {at} is whole, but this version does not know what it says"))
        }
    }
}

fn cues(report: &JournalReport) -> Table {
    let mut table = table(["cue", "name", "at", "by", "planned", "took", "end"]);
    for run in &report.runs {
        table.add_row([
            run.number.clone(),
            run.name.chars().take(20).collect(),
            clock(report, run.at),
            run.by.chars().take(18).collect(),
            format!("{:.2}", run.planned),
            run.taken.map(|taken| format!("{taken:.2}")).unwrap_or_default(),
            end(run),
        ]);
    }
    right(&mut table, &[4, 5]);
    table
}

fn end(run: &CueRun) -> String {
    let word = match run.end {
        None => "under way",
        Some(CueState::Done) => "done",
        Some(CueState::Stopped) => "STOPPED",
        Some(CueState::Idle) => "went back",
        Some(
            CueState::Standby | CueState::Waiting | CueState::Running | CueState::Holding | CueState::Returning,
        ) => "under way",
    };
    if run.held > 0.0 { format!("{word}, held {:.1}", run.held) } else { word.to_owned() }
}

fn delays(report: &JournalReport) -> Option<Table> {
    let mut table = table(["cue", "at", "caller", "network", "waited", "setpoint", "rig"]);
    let mut any = false;
    for run in &report.runs {
        let delays = run.delays;
        any |= delays != super::Delays::default();
        let parts = [delays.caller, delays.network, delays.waited, delays.setpoint, delays.rig];
        let [caller, network, waited, setpoint, rig] = parts.map(millis);
        table.add_row([run.number.clone(), clock(report, run.at), caller, network, waited, setpoint, rig]);
    }
    right(&mut table, &[2, 3, 4, 5, 6]);
    any.then_some(table)
}

fn incidents(report: &JournalReport, kind: Kind, title: &str) -> String {
    let mut text = String::new();
    for incident in report.incidents.iter().filter(|incident| incident.kind == kind) {
        if text.is_empty() {
            text = format!("\n{title}\n");
        }
        let lasted = match (kind, incident.lasted) {
            (Kind::Stop, Some(0.0)) => "; all was at rest".to_owned(),
            (Kind::Stop, Some(lasted)) => format!("; all at rest after {lasted:.2} s"),
            (Kind::Stop, None) => "; standstill was not measured".to_owned(),
            (Kind::Hold, Some(lasted)) => format!("; for {lasted:.2} s"),
            (Kind::Hold | Kind::Refused | Kind::Fault | Kind::Other, _) => String::new(),
        };
        text.push_str(&wrapped(
            &format!("  {}  ", clock(report, incident.at)),
            &format!("{}{lasted}", incident.text),
        ));
    }
    text
}

fn table<const COLUMNS: usize>(header: [&str; COLUMNS]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(header);
    table
}

fn right(table: &mut Table, columns: &[usize]) {
    for &column in columns {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}

fn millis(delay: Option<Nanos>) -> String {
    delay.map(|delay| format!("{:.1}", delay.seconds() * 1e3)).unwrap_or_default()
}

fn zoned(report: &JournalReport, at: Nanos) -> Option<jiff::ZonedDateTime> {
    let offset = Offset::from_seconds(report.header.as_ref()?.offset).ok()?;
    Some(Timestamp::from_nanosecond(i128::from(at.0)).ok()?.to_zoned_datetime(TimeZone::fixed(offset)))
}

/// "19:30:07.2", where the run took place.
fn clock(report: &JournalReport, at: Nanos) -> String {
    let time = zoned(report, at)
        .map(|time| format!("{}.{}", time.strftime("%H:%M:%S"), time.subsec_nanosecond() / 100_000_000));
    time.unwrap_or_else(|| "unknown".to_owned())
}

fn short(digits: &str) -> &str {
    digits.get(..SHORT).unwrap_or(digits)
}

fn size(bytes: usize) -> String {
    if bytes < 1_000_000 {
        format!("{:.1} kB", bytes as f64 / 1e3)
    } else {
        format!("{:.1} MB", bytes as f64 / 1e6)
    }
}
