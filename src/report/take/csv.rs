//! A take and its path as a table for other programs.

use std::fmt::Write;

use super::TakeTold;
use crate::motion::Sample;
use crate::report::rounded;

/// Comma-separated values with a header: `time` in s of the recording, then of each axis what was recorded, and the position,
/// speed and acceleration of its path as it is played there, in its unit and per s and s². A row a sample.
pub fn take_csv(told: TakeTold) -> String {
    let mut table = String::from("time");
    // Writing to a string cannot fail.
    for part in told.parts.iter().filter(|part| part.played.is_some()) {
        for &(axis, _) in &part.playing.columns {
            let name = told.show.axis_name(axis);
            let _ = write!(table, ",{name} recorded,{name} position,{name} speed,{name} acceleration");
        }
    }
    table.push('\n');
    for (sample, time) in told.take.times.iter().enumerate() {
        let time = time - told.take.times[0];
        let _ = write!(table, "{}", rounded(time));
        for part in told.parts {
            let Some((_, rendition)) = &part.played else { continue };
            let played = rendition.performance.played(time);
            for (index, &(_, column)) in part.playing.columns.iter().enumerate() {
                let recorded = told.take.columns[column].values[sample];
                let Sample { position, speed, acceleration, .. } = rendition.performance.phrase.at(index, played);
                let [position, speed, acceleration] = [position, speed, acceleration].map(rounded);
                let _ = write!(table, ",{recorded},{position},{speed},{acceleration}");
            }
        }
        table.push('\n');
    }
    table
}
