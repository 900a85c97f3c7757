//! The smallest fixes, each tried before it is told.
//!
//! Of a cue that comes too near by itself, or with a stall, these are looked for: the least delay of one move, the
//! least longer time of one move, the greatest margin that would pass. Of two cues it is the line that their map gives. Where a
//! further cue lengthens the brake that they share, that may be kept away instead.
//! The show is proved with it: it settles its finding and brings no other.

mod edit;
mod least;

pub use edit::Edit;

use super::bodies::Stagehand;
use super::clearance::Short;
use super::crew::Crew;
use super::maps::apart;
use super::memory::{Content, Memory};
use super::together::Starts;
use super::{Found, Proof, found, skips};
use crate::show::{CueId, Finding, Severity, Show};

/// Findings of one check whose fixes are tried; of more, nobody waits for the last.
const TRIED_MAX: usize = 12;

/// A finding, by its index, that asks for a fix.
#[derive(Clone, Debug)]
pub struct Wanted {
    pub finding: usize,
    pub of: Of,
}

#[derive(Clone, Debug)]
pub enum Of {
    /// A cue, its rigs all well or one stalled, by itself or at one rate with further cues.
    Cue { cue: CueId, short: Short, further: Vec<CueId> },
    /// Two cues, and what their map says settles it.
    Pair(Vec<Edit>),
}

/// Looks for the fixes and writes them into their findings.
pub fn seek(show: &Show, proof: &mut Proof, wanted: &[Wanted], crew: &dyn Crew, memory: &Memory) {
    crew.begin("fixes");
    for (at, Wanted { finding, of }) in wanted.iter().enumerate() {
        let trial = Trial { show, proof, finding: *finding, crew, memory };
        let tried = at < TRIED_MAX;
        let fix = match of {
            Of::Pair(edits) if tried => trial.of_pair(edits),
            Of::Pair(edits) => (!edits.is_empty()).then(|| in_words(show, edits)),
            Of::Cue { cue, short, further } if tried => trial.of_cue(*cue, short, further),
            // It keeps the advice that it has.
            Of::Cue { .. } => None,
        };
        if let Some(fix) = fix {
            proof.findings[*finding].fix = Some(fix);
        }
    }
}

fn in_words<'a>(show: &Show, edits: impl IntoIterator<Item = &'a Edit>) -> String {
    let words: Vec<String> = edits.into_iter().map(|edit| edit.words(show)).collect();
    words.join(", or ")
}

/// One finding of a show.
struct Trial<'a> {
    show: &'a Show,
    proof: &'a Proof,
    finding: usize,
    crew: &'a dyn Crew,
    memory: &'a Memory,
}

impl Trial<'_> {
    fn of_pair(&self, edits: &[Edit]) -> Option<String> {
        let settled: Vec<&Edit> = edits.iter().filter(|edit| self.settles(edit)).collect();
        if settled.is_empty() {
            let first = edits.first()?;
            return Some(format!("{}; that alone does not settle everything", first.words(self.show)));
        }
        Some(in_words(self.show, settled))
    }

    fn of_cue(&self, cue: CueId, short: &Short, further: &[CueId]) -> Option<String> {
        let mut edits = least::edits(self.show, &self.proof.plan, cue, short, self.memory);
        if let [further] = further[..] {
            edits.extend(apart(&Starts::new(self.show, &self.proof.plan), cue, further));
        }
        let settled: Vec<&Edit> = edits.iter().filter(|edit| self.settles(edit)).collect();
        let proved = if settled.len() > 1 { "each was proved to pass" } else { "proved to pass" };
        (!settled.is_empty()).then(|| format!("{}; {proved}", in_words(self.show, settled)))
    }

    /// Whether the show as edited no longer has the finding, and no error or warning that it had not.
    fn settles(&self, edit: &Edit) -> bool {
        let edited = edit.applied(self.show);
        let known = |other: &Finding| self.proof.findings.iter().any(|finding| same(finding, other));
        let brings_none =
            |found: &[Finding]| found.iter().filter(|found| found.severity != Severity::Note).all(known);
        match edit {
            // The cue passed with it. What kept a greater margin keeps a smaller one; but a skip may leave a pair that has
            // one of its own without the reason for it.
            Edit::PairMargin { .. } | Edit::ZoneMargin { .. } => {
                let mut found = Vec::new();
                let known = (&Content::of_machines(&edited), self.memory);
                skips::weigh(&Stagehand::new(&edited), &self.proof.plan, self.crew, known, &mut found);
                brings_none(&found)
            }
            Edit::Needs { .. }
            | Edit::Wait { .. }
            | Edit::FollowEnd { .. }
            | Edit::Delay { .. }
            | Edit::Time { .. }
            | Edit::Stretch { .. } => {
                let Found { proof, .. } = found(&edited, self.crew, self.memory);
                let wanted = &self.proof.findings[self.finding];
                !proof.findings.iter().any(|other| same(other, wanted)) && brings_none(&proof.findings)
            }
        }
    }
}

/// Whether two findings are of the same thing, wherever and however near.
fn same(one: &Finding, other: &Finding) -> bool {
    (one.code, &one.cues, &one.rigs, &one.axes) == (other.code, &other.cues, &other.rigs, &other.axes)
}
