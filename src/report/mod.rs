//! What people and scripts look at after a check.

mod check_json;
mod check_table;
mod findings;
mod plan_csv;
mod plan_text;

pub use check_json::{NOT_SEEN, check_json};
pub use check_table::check_table;
pub use findings::{render_findings, summary};
pub use plan_csv::{ROWS_MAX, TooManyRows, plan_csv};
pub use plan_text::plan_text;
