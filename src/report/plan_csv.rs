//! One cue's motion as a table for other programs.

use std::fmt::Write;

use super::rounded;
use crate::motion::Sample;
use crate::proof::{CuePlan, Sightline};
use crate::show::{CueId, Show};
use crate::stage::Stage;

/// Rows of a table at most; more than an hour at every millisecond.
pub const ROWS_MAX: f64 = 5e6;

/// The rows would be more than [`ROWS_MAX`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TooManyRows {
    pub rows: f64,
}

/// Comma-separated values with a header: `time` in s, then position, speed and acceleration of each axis of the
/// cue, in its unit and per s and s². Then, of each lens that the cue aims or sets, what its tables tell: how far the point is off its
/// axis, degrees, and from it, m, where it is aimed; where it is focused, from where to where it is sharp (`inf` without end), m,
/// and its field of view, degrees. A row every `every` s (above zero), and a last one at the end of the cue.
///
/// # Errors
/// [`TooManyRows`] if `every` is too short for the cue.
pub fn plan_csv(show: &Show, plans: &[CuePlan], id: CueId, every: f64) -> Result<String, TooManyRows> {
    let plan = &plans[id.index()];
    let rows = (plan.duration / every).ceil();
    if rows > ROWS_MAX {
        return Err(TooManyRows { rows });
    }
    let stage = Stage::new(show);
    let mut lenses: Vec<Sightline> =
        (0..plan.moves.len()).filter_map(|index| Sightline::of((show, &stage), plans, id, index)).collect();
    let mut table = header(show, plan, &lenses);
    for row in 0..rows as u64 {
        write_row(&mut table, plan, &mut lenses, row as f64 * every);
    }
    write_row(&mut table, plan, &mut lenses, plan.duration);
    Ok(table)
}

// Writing to a string cannot fail.

fn header(show: &Show, plan: &CuePlan, lenses: &[Sightline]) -> String {
    let mut header = String::from("time");
    for path in plan.moves.iter().flat_map(|step| &step.axes) {
        let name = show.axis_name(path.axis);
        let _ = write!(header, ",{name} position,{name} speed,{name} acceleration");
    }
    for lens in lenses {
        let name = &show.rig(lens.rig()).name;
        if lens.is_aimed() {
            let _ = write!(header, ",{name} off,{name} distance");
        }
        let _ = write!(header, ",{name} focus,{name} near,{name} far,{name} view");
    }
    header.push('\n');
    header
}

fn write_row(table: &mut String, plan: &CuePlan, lenses: &mut [Sightline], time: f64) {
    let _ = write!(table, "{}", rounded(time));
    for step in &plan.moves {
        for path in &step.axes {
            let Sample { position, speed, acceleration, .. } = step.at(path, time);
            let _ = write!(table, ",{},{},{}", rounded(position), rounded(speed), rounded(acceleration));
        }
    }
    for lens in lenses {
        let (is_aimed, seen) = (lens.is_aimed(), lens.at(time));
        let aimed = seen.and_then(|seen| seen.aimed);
        let look = seen.map(|seen| seen.look);
        let depth = look.and_then(|look| look.depth);
        if is_aimed {
            write_known(table, [aimed.map(|on| on.off), aimed.map(|on| on.distance)]);
        }
        let (focus, view) = (look.and_then(|look| look.focus), look.and_then(|look| look.view));
        write_known(table, [focus, depth.map(|depth| depth.near), depth.map(|depth| depth.far), view]);
    }
    table.push('\n');
}

/// What no table tells is left empty.
fn write_known<const N: usize>(table: &mut String, values: [Option<f64>; N]) {
    for value in values {
        let _ = match value {
            Some(value) => write!(table, ",{}", rounded(value)),
            None => write!(table, ","),
        };
    }
}
