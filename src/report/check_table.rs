//! The cue list after a check, for people.

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

use super::check_json::NOT_SEEN;
use super::counted;
use super::lines::{COLUMNS, wrapped};
use super::starts::starts_in_short;
use crate::proof::Proof;
use crate::show::Show;

/// The show in a line, its cues in a table, and what the check has not seen.
pub fn check_table(show: &Show, proof: &Proof) -> String {
    let counts = [
        counted(show.rigs.len(), "rig", "rigs"),
        counted(show.axes.len(), "axis", "axes"),
        counted(show.cues.len(), "cue", "cues"),
    ];
    let counts = counts.join(", ");
    let cues = cues(show, proof).trim_fmt();
    let not_seen = wrapped("not seen: ", &NOT_SEEN.join(", "));
    format!("{}: {counts}\nhash {}\n\n{cues}\n\n{not_seen}", show.name, show.hash)
}

fn cues(show: &Show, proof: &Proof) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Dynamic).set_width(COLUMNS as u16);
    table.set_header(["cue", "name", "starts on", "takes", "stops in", "paced by"]);
    for id in show.cue_ids() {
        let (cue, plan) = (show.cue(id), proof.plan.cue(id));
        table.add_row([
            cue.number.to_string(),
            cue.name.clone(),
            starts_in_short(show, id),
            format!("{:.2} s", plan.duration),
            format!("{:.2} s", plan.stop_time),
            plan.bottleneck.map(|axis| show.axis_name(axis)).unwrap_or_default(),
        ]);
    }
    for column in [3, 4] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}
