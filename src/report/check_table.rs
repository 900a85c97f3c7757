//! The cue list after a check, for people.

use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table, presets};

use super::check_json::NOT_SEEN;
use super::counted;
use super::lines::{COLUMNS, wrapped};
use super::onward::shut_in_words;
use super::starts::starts_in_short;
use crate::proof::{CueMap, Proof, Stretch};
use crate::show::Show;

/// Columns of the table.
const NAME: usize = 1;
const STARTS: usize = 2;
const NUMBERS: [usize; 3] = [3, 4, 5];

/// Stops that do not go on, or not back, told at most.
const SHUT_MAX: usize = 8;

/// The show in a line, its cues in a table, and what the check has not seen.
pub fn check_table(show: &Show, proof: &Proof) -> String {
    let counts = [
        counted(show.rigs.len(), "rig", "rigs"),
        counted(show.axes.len(), "axis", "axes"),
        counted(show.cues.len(), "cue", "cues"),
    ];
    let counts = counts.join(", ");
    let cues = cues(show, proof).trim_fmt();
    let together = together(show, proof) + &shut(show, proof);
    let not_seen = wrapped("not seen: ", &NOT_SEEN.join(", "));
    format!("{}: {counts}\nhash {}\n\n{cues}\n\n{together}\n{not_seen}", show.name, show.hash)
}

/// How many pairs of cues can run together, and when the later may be fired where that is not always.
fn together(show: &Show, proof: &Proof) -> String {
    let maps = &proof.plan.maps.list;
    let bound: Vec<&CueMap> = maps.iter().filter(|map| !map.is_free()).collect();
    let pairs = counted(maps.len(), "pair of cues", "pairs of cues");
    let mut text = match (maps.len(), bound.len()) {
        (0, _) => "no two cues can run together\n".to_owned(),
        (_, 0) => format!("{pairs} can run together, clear at any timing\n"),
        (all, some) => {
            format!("{pairs} can run together, {} of them clear at any timing; else fire cue\n", all - some)
        }
    };
    for map in bound {
        text.push_str(&spans_line(show, map));
    }
    text
}

/// Of the stops that leave a cue where it does not go on, or not back, what can be done.
fn shut(show: &Show, proof: &Proof) -> String {
    let mut lines = Vec::new();
    for id in show.cue_ids() {
        let told = shut_in_words(show, proof, id).into_iter();
        lines.extend(
            told.map(|[when, what]| wrapped("  ", &format!("{} stopped {when}: {what}", show.cue(id).number))),
        );
    }
    if lines.is_empty() {
        return String::new();
    }
    let more = lines.len().saturating_sub(SHUT_MAX);
    let mut text = "\nnot every stopped cue goes on and back from where it then stands; cue\n".to_owned();
    lines.iter().take(SHUT_MAX).for_each(|line| text.push_str(line));
    if more > 0 {
        text.push_str(&wrapped("  ", &format!("and {more} more: `check --json` has them all")));
    }
    text
}

fn spans_line(show: &Show, map: &CueMap) -> String {
    let [first, second] = [map.pair.first, map.pair.second].map(|cue| show.cue(cue).number.to_string());
    let span = |stretch: &Stretch| format!("{:.1} to {:.1} s", stretch.from, stretch.to);
    let spans: Vec<String> = map.clear().iter().map(span).collect();
    let when = if spans.is_empty() { "not at all".to_owned() } else { spans.join(", ") };
    let safe = safety([map.hold_safe_from(), map.stall_safe_from()]);
    wrapped("  ", &format!("{second} while {first} runs: {when} into it{safe}"))
}

/// From when a hold of either alone, and a stall, are safe; nothing where both always are.
pub(super) fn safety(from: [Option<f64>; 2]) -> String {
    match from {
        [Some(0.0), Some(0.0)] => String::new(),
        [hold, stall] => format!("; a hold of either alone is {}, a stall {}", safe_from(hold), safe_from(stall)),
    }
}

fn safe_from(time: Option<f64>) -> String {
    match time {
        Some(0.0) => "always safe".to_owned(),
        Some(from) => format!("safe from {from:.1} s"),
        None => "never safe".to_owned(),
    }
}

fn cues(show: &Show, proof: &Proof) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Dynamic).set_width(COLUMNS as u16);
    table.set_header(["cue", "name", "starts on", "takes", "stops in", "clear by", "paced by"]);
    for id in show.cue_ids() {
        let (cue, plan) = (show.cue(id), proof.plan.cue(id));
        table.add_row([
            cue.number.to_string(),
            cue.name.clone(),
            starts_in_short(show, id),
            format!("{:.2} s", plan.duration),
            format!("{:.2} s", plan.stop_time),
            proof.closest[id.index()].map_or_else(String::new, |closest| format!("{:.2} m", closest.value)),
            plan.bottleneck.map(|axis| show.axis_name(axis)).unwrap_or_default(),
        ]);
    }
    // Where the lines are too short, names and starts are broken, never a number or an axis.
    for (index, column) in table.column_iter_mut().enumerate() {
        column.set_padding((0, 1));
        if ![NAME, STARTS].contains(&index) {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
        if NUMBERS.contains(&index) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}
