//! One thing said in the log, and the shapes that it can take on a line.
//!
//! | shape | for | looks like |
//! | --- | --- | --- |
//! | text | people | `2026-11-25T19:30:00.000Z INFO cue 12 GO by command line` |
//! | text for a journal | `journalctl`, which keeps the time and the level itself | `<6>cue 12 GO by command line` |
//! | JSON | programs | `{"time":"...","level":"info","message":"cue 12 GO by command line","kind":"go","cue":"12"}` |
//!
//! The sentence says everything; the fields say it again for programs, and so they are on JSON lines alone. A line is
//! never more than one line, whatever a stranger's name holds.

use std::fmt::{Debug, Write};

use jiff::Timestamp;
use serde_json::{Map, Value};
use tracing::field::{Field, Visit};
use tracing::{Event, Level};

use crate::daemon::clock;

/// How lines look.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum LogFormat {
    /// A sentence a line, for people
    Text,
    /// One JSON object a line, for programs
    Json,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shape {
    pub format: LogFormat,
    /// Standard error belongs to the journal of the service manager: each line begins with its level, as sd-daemon(3)
    /// has it, and text leaves the time to the journal.
    pub journal: bool,
}

/// One thing said.
#[derive(Clone, Debug)]
pub struct Said {
    time: Timestamp,
    level: Level,
    message: String,
    fields: Map<String, Value>,
}

impl Said {
    pub fn of(event: &Event<'_>) -> Said {
        let mut said = Said::plain(*event.metadata().level(), String::new());
        event.record(&mut said);
        said
    }

    pub fn plain(level: Level, message: String) -> Said {
        let time = Timestamp::from_nanosecond(i128::from(clock::wall().0)).unwrap_or(Timestamp::UNIX_EPOCH);
        Said { time, level, message, fields: Map::new() }
    }

    fn put(&mut self, field: &Field, value: Value) {
        self.fields.insert(field.name().to_owned(), value);
    }
}

impl Visit for Said {
    fn record_str(&mut self, field: &Field, value: &str) {
        match field.name() {
            "message" => value.clone_into(&mut self.message),
            _ => self.put(field, value.into()),
        }
    }

    fn record_bool(&mut self, field: &Field, value: bool) {
        self.put(field, value.into());
    }

    fn record_i64(&mut self, field: &Field, value: i64) {
        self.put(field, value.into());
    }

    fn record_u64(&mut self, field: &Field, value: u64) {
        self.put(field, value.into());
    }

    fn record_f64(&mut self, field: &Field, value: f64) {
        self.put(field, value.into());
    }

    fn record_debug(&mut self, field: &Field, value: &dyn Debug) {
        let text = format!("{value:?}");
        match field.name() {
            "message" => self.message = text,
            _ => self.put(field, text.into()),
        }
    }
}

impl Shape {
    /// With its end of line.
    pub fn line(self, said: &Said) -> String {
        let mut line = if self.journal { format!("<{}>", priority(said.level)) } else { String::new() };
        match self.format {
            LogFormat::Json => line.push_str(&json(said)),
            LogFormat::Text => {
                if !self.journal {
                    // Writing into a string does not fail.
                    let _ = write!(line, "{} {:5} ", time(said), said.level);
                }
                push_on_one_line(&mut line, &said.message);
            }
        }
        line.push('\n');
        line
    }
}

fn json(said: &Said) -> String {
    let mut object = Map::new();
    object.insert("time".into(), time(said).into());
    object.insert("level".into(), said.level.as_str().to_ascii_lowercase().into());
    object.insert("message".into(), said.message.as_str().into());
    object.extend(said.fields.clone());
    Value::Object(object).to_string()
}

/// RFC 3339, to the millisecond.
fn time(said: &Said) -> String {
    said.time.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string()
}

/// The syslog level of a line: 3 is an error, 4 a warning, 6 information, 7 for debugging; source: sd-daemon(3).
fn priority(level: Level) -> u8 {
    match level {
        Level::ERROR => 3,
        Level::WARN => 4,
        Level::INFO => 6,
        Level::DEBUG | Level::TRACE => 7,
    }
}

/// Names and reasons can come from strangers: nothing in them begins a line of its own or speaks to the terminal.
fn push_on_one_line(line: &mut String, text: &str) {
    for character in text.chars() {
        if character.is_control() {
            line.extend(character.escape_default());
        } else {
            line.push(character);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(level: Level, message: &str) -> Said {
        let fields = [("cue".to_owned(), Value::from("12.5"))].into_iter().collect();
        let time = "2026-11-25T19:30:00.0256Z".parse().expect("a time");
        Said { time, level, message: message.to_owned(), fields }
    }

    fn line(format: LogFormat, journal: bool, said: &Said) -> String {
        Shape { format, journal }.line(said)
    }

    #[test]
    fn text_has_time_level_and_sentence_and_no_fields() {
        let said = said(Level::WARN, "the link to heron is lost");
        assert_eq!(
            line(LogFormat::Text, false, &said),
            "2026-11-25T19:30:00.025Z WARN  the link to heron is lost\n"
        );
    }

    #[test]
    fn text_for_a_journal_has_the_level_of_sd_daemon_alone() {
        for (level, prefix) in
            [(Level::ERROR, "<3>"), (Level::WARN, "<4>"), (Level::INFO, "<6>"), (Level::DEBUG, "<7>")]
        {
            assert_eq!(line(LogFormat::Text, true, &said(level, "armed")), format!("{prefix}armed\n"));
        }
    }

    #[test]
    fn json_is_one_object_with_the_fields() {
        let line = line(LogFormat::Json, false, &said(Level::INFO, "cue 12.5 \"GO\"\nby a"));
        assert_eq!(line.matches('\n').count(), 1);
        let object: Value = serde_json::from_str(&line).expect("one JSON object");
        let expected = serde_json::json!({
            "time": "2026-11-25T19:30:00.025Z", "level": "info", "message": "cue 12.5 \"GO\"\nby a", "cue": "12.5",
        });
        assert_eq!(object, expected);
    }

    #[test]
    fn a_strangers_name_begins_no_line_and_moves_no_cursor() {
        let line = line(LogFormat::Text, true, &said(Level::INFO, "a\n<3>forged\u{1b}[2J"));
        assert_eq!(line, "<6>a\\n<3>forged\\u{1b}[2J\n");
    }
}
