//! Names as clients write them, to the indices of the show.

use core::net::IpAddr;

use super::misheard::{Misheard, quoted};
use crate::show::{CueId, CueNumber, Input, InputId, Show};

/// The names that requests may use. Made once for a show; small, and shared by every road.
#[derive(Clone, Debug)]
pub struct Names {
    /// By `CueId`, rising.
    cues: Vec<CueNumber>,
    /// By `InputId`.
    inputs: Vec<String>,
}

impl Names {
    pub fn new(show: &Show) -> Names {
        Names {
            cues: show.cues.iter().map(|cue| cue.number.clone()).collect(),
            inputs: show.inputs.iter().map(|input| input.name.clone()).collect(),
        }
    }

    /// # Errors
    /// Text that is no cue number, or the number of no cue.
    pub fn cue(&self, text: &str) -> Result<CueId, Misheard> {
        let number: CueNumber = text.parse().map_err(|why| Misheard::NotACueNumber { asked: quoted(text), why })?;
        self.cues.binary_search(&number).map(CueId::new).map_err(|_| Misheard::UnknownCue {
            asked: quoted(text),
            nearest: nearest(text, self.cues.iter().map(CueNumber::to_string)),
        })
    }

    /// # Errors
    /// The name of no input.
    pub fn input(&self, name: &str) -> Result<InputId, Misheard> {
        let found = self.inputs.iter().position(|known| known == name).map(InputId::new);
        found.ok_or_else(|| Misheard::UnknownInput {
            asked: quoted(name),
            nearest: nearest(name, self.inputs.iter().cloned()),
        })
    }
}

/// Whether an input may be set from an address: an input is believed from its one named source.
///
/// # Errors
/// Another source than the one that the show file names.
pub fn believes(input: &Input, sender: IpAddr) -> Result<(), Misheard> {
    let sender = sender.to_canonical();
    match &input.source {
        None => Ok(()),
        Some(source) if source.parse::<IpAddr>().is_ok_and(|source| source.to_canonical() == sender) => Ok(()),
        Some(source) => Err(Misheard::ForeignSource {
            input: input.name.clone(),
            expected: source.clone(),
            found: sender.to_string(),
        }),
    }
}

/// The known name that a slip of the finger most likely meant, if any is near.
pub(crate) fn nearest<Name: AsRef<str>>(asked: &str, known: impl Iterator<Item = Name>) -> Option<Name> {
    const ASKED_MAX: usize = 100;
    if asked.len() > ASKED_MAX {
        return None;
    }
    let asked = asked.to_lowercase();
    let near = (asked.chars().count() / 3).max(1);
    known
        .map(|name| (strsim::damerau_levenshtein(&asked, &name.as_ref().to_lowercase()), name))
        .filter(|&(distance, _)| distance <= near)
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, name)| name)
}
