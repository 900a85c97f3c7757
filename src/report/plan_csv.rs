//! One cue's motion as a table for other programs.

use std::fmt::Write;

use super::rounded;
use crate::motion::Sample;
use crate::proof::CuePlan;
use crate::show::Show;

/// Rows of a table at most; more than an hour at every millisecond.
pub const ROWS_MAX: f64 = 5e6;

/// The rows would be more than [`ROWS_MAX`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TooManyRows {
    pub rows: f64,
}

/// Comma-separated values with a header: `time` in s, then position, speed and acceleration of each axis of the
/// cue, in its unit and per s and s². A row every `every` s (above zero), and a last one at the end of the cue.
///
/// # Errors
/// [`TooManyRows`] if `every` is too short for the cue.
pub fn plan_csv(show: &Show, plan: &CuePlan, every: f64) -> Result<String, TooManyRows> {
    let rows = (plan.duration / every).ceil();
    if rows > ROWS_MAX {
        return Err(TooManyRows { rows });
    }
    let mut table = String::from("time");
    for path in plan.moves.iter().flat_map(|step| &step.axes) {
        let name = show.axis_name(path.axis);
        let _ = write!(table, ",{name} position,{name} speed,{name} acceleration");
    }
    table.push('\n');
    for row in 0..rows as u64 {
        write_row(&mut table, plan, row as f64 * every);
    }
    write_row(&mut table, plan, plan.duration);
    Ok(table)
}

fn write_row(table: &mut String, plan: &CuePlan, time: f64) {
    // Writing to a string cannot fail.
    let _ = write!(table, "{}", rounded(time));
    for step in &plan.moves {
        for path in &step.axes {
            let Sample { position, speed, acceleration, .. } = step.at(path, time);
            let _ = write!(table, ",{},{},{}", rounded(position), rounded(speed), rounded(acceleration));
        }
    }
    table.push('\n');
}
