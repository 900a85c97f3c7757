//! What starts a cue, for people.

use crate::engine::ClientId;
use crate::show::{After, CueId, Show};
use crate::wire::words::{Words, seconds};

/// "GO", "1 end + 2.0 s", or "condition": for a column.
pub fn starts_in_short(show: &Show, id: CueId) -> String {
    match &show.cue(id).after {
        None => "GO".into(),
        Some(After::Start { cue, wait }) => format!("{} start + {}", show.cue(*cue).number, seconds(*wait)),
        Some(After::End { cue, wait }) => format!("{} end + {}", show.cue(*cue).number, seconds(*wait)),
        Some(After::When(_)) => "condition".into(),
    }
}

/// "on a GO", "2.0 s after the end of cue 1", "when input 'deck clear' is true": in full.
pub fn starts(show: &Show, id: CueId) -> String {
    match &show.cue(id).after {
        None => "on a GO".into(),
        Some(After::Start { cue, wait }) => {
            format!("{} after the start of cue {}", seconds(*wait), show.cue(*cue).number)
        }
        Some(After::End { cue, wait }) => {
            format!("{} after the end of cue {}", seconds(*wait), show.cue(*cue).number)
        }
        Some(After::When(condition)) => {
            let nobody = |_: ClientId| String::new();
            format!("once this is true: {}", Words::new(show, &nobody).condition(condition))
        }
    }
}
