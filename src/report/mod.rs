//! What people and scripts look at after a check.

mod access_table;
mod check_json;
mod check_table;
mod fault_table;
mod findings;
mod journal;
mod lines;
mod plan_csv;
mod plan_text;
mod starts;

pub use access_table::access_table;
pub use check_json::{NOT_SEEN, check_json};
pub use check_table::check_table;
pub use fault_table::{fault_json, fault_table};
pub use findings::{line, render_findings, summary};
pub use journal::{JournalReport, journal_json, journal_text};
pub use plan_csv::{ROWS_MAX, TooManyRows, plan_csv};
pub use plan_text::plan_text;

/// For other programs: to nine decimals, and never minus zero.
fn rounded(value: f64) -> f64 {
    (value * 1e9).round() / 1e9 + 0.0
}
