//! What people and scripts look at after a check or a rehearsal.

mod access_table;
mod against;
mod cautions;
mod check_json;
mod check_page;
mod check_table;
mod fault_table;
mod findings;
mod journal;
mod lines;
mod onward;
mod page;
mod plan_csv;
mod plan_json;
mod plan_stops;
mod plan_svg;
mod plan_text;
mod plot;
mod preset;
mod rehearsal_json;
mod rehearsal_page;
mod rehearsal_table;
mod rehearsal_words;
mod starts;
mod survey;
mod take;

pub use access_table::access_table;
pub use against::{Comparison, Journals, Kept, Version, against_json, against_text, not_compared_json, rehearsed};
pub use cautions::CAUTIONS;
pub use check_json::{NOT_SEEN, check_json};
pub use check_page::check_page;
pub use check_table::check_table;
pub use fault_table::{fault_json, fault_table};
pub use findings::{line, render_findings, summary};
pub use journal::{JournalReport, journal_json, journal_text};
pub use plan_csv::{ROWS_MAX, TooManyRows, plan_csv};
pub use plan_json::{CueMotion, plan_json};
pub use plan_stops::{CueStops, stops_csv, stops_json, stops_text};
pub use plan_svg::{plan_svg, take_svg};
pub use plan_text::plan_text;
pub use preset::{preset_json, preset_text};
pub use rehearsal_json::rehearsal_json;
pub use rehearsal_page::rehearsal_page;
pub use rehearsal_table::rehearsal_table;
pub use rehearsal_words::{clock, verdict};
pub use survey::{SurveyTold, survey_json, survey_text, travels_text};
pub use take::{TakePart, TakeTold, cue_lines, take_csv, take_json, take_preview, take_text, takes_text};

/// For other programs: to nine decimals, and never minus zero.
fn rounded(value: f64) -> f64 {
    (value * 1e9).round() / 1e9 + 0.0
}

/// "1 cue", "2 cues".
fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
