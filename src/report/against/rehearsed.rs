//! What of a show was rehearsed as it is now, by the journals of its runs.

use crate::journal::{Ran, Runs};
use crate::proof::{Fingerprint, Part, Proof};
use crate::show::{CueId, Show};

/// The journals that were looked into.
#[derive(Clone, Debug, Default)]
pub struct Journals {
    /// Where they were looked for, for people.
    pub folders: Vec<String>,
    pub kept: Vec<Kept>,
    /// What could not be read, or not wholly, each in a sentence.
    pub troubles: Vec<String>,
}

/// One journal.
#[derive(Clone, Debug)]
pub struct Kept {
    pub file: String,
    pub runs: Runs,
}

impl Journals {
    /// Those of this show, by its name then or now.
    pub fn of<'a>(&'a self, names: &'a [&str]) -> impl Iterator<Item = &'a Kept> {
        self.kept.iter().filter(|kept| kept.runs.shows.iter().any(|show| names.contains(&show.as_str())))
    }
}

/// What the journals tell of one cue of the show as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Rehearsed {
    /// The run that proves most of it, with the file of its journal; `None` if it never ran to its end as it is.
    pub best: Option<(Ran, String)>,
    /// If there is none: when it last ran as it was, and what differs since.
    pub before: Option<(Ran, Vec<Part>)>,
}

/// By `CueId`. Any show counts in which a cue with the same fingerprint ran; a run of the cue as it was is looked for by
/// its number, in shows of these names.
pub fn rehearsed(show: &Show, proof: &Proof, names: &[&str], journals: &Journals) -> Vec<Rehearsed> {
    let all: Vec<(&Ran, &str)> =
        journals.kept.iter().flat_map(|kept| kept.runs.ran.iter().map(|ran| (ran, kept.file.as_str()))).collect();
    let of = |id: CueId| {
        let fingerprint = Fingerprint::of(show, id, proof.plan.cue(id));
        let number = show.number_of(id);
        let same = all.iter().filter(|(ran, _)| ran.fingerprint == fingerprint);
        let best = same.max_by(|(a, _), (b, _)| worth(a).total_cmp(&worth(b)).then(a.at.cmp(&b.at)));
        let earlier = all.iter().filter(|(ran, _)| ran.number == number && names.contains(&ran.show.as_str()));
        let before = earlier.max_by_key(|(ran, _)| ran.at);
        let before = before.filter(|_| best.is_none());
        Rehearsed {
            best: best.map(|&(ran, file)| (ran.clone(), file.to_owned())),
            before: before.map(|(ran, _)| ((*ran).clone(), fingerprint.parts_beside(&ran.fingerprint))),
        }
    };
    show.cue_ids().map(of).collect()
}

/// How much a run proves: real rigs first, then full speed, then one go.
fn worth(ran: &Ran) -> f64 {
    let simulated = ran.simulated.len() as f64;
    10.0 * ran.pace - 100.0 * simulated - if ran.interrupted { 1.0 } else { 0.0 }
}
