//! The smallest fixes, each tried: the show is proved with it before it is told.
//!
//! Of a cue that comes too near by itself, or with a stall, these are looked for: the least delay of one move, the
//! least longer time of one move, the greatest margin that would pass. Of two cues it is the line that their map gives.
//! What is told settles its finding and brings no other.

mod edit;
mod least;

pub use edit::Edit;

use super::clearance::Short;
use super::crew::Crew;
use super::memory::Memory;
use super::{Found, Proof, found};
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
    /// A cue by itself, its rigs all well or one stalled.
    Cue { cue: CueId, short: Short },
    /// Two cues, and what their map says settles it: the first that does is told.
    Pair(Vec<Edit>),
}

/// Looks for the fixes and writes them into their findings.
pub fn seek(show: &Show, proof: &mut Proof, wanted: &[Wanted], crew: &dyn Crew, memory: &Memory) {
    crew.begin("fixes");
    for Wanted { finding, of } in wanted.iter().take(TRIED_MAX) {
        let settles = |edit: &Edit| settles(show, proof, *finding, edit, crew, memory);
        let fix = match of {
            Of::Pair(edits) => {
                let settled: Vec<String> =
                    edits.iter().filter(|&edit| settles(edit)).map(|edit| edit.words(show)).collect();
                match (settled.is_empty(), edits.first()) {
                    (false, _) => Some(settled.join(", or ")),
                    (true, Some(edit)) => {
                        Some(format!("{}; that alone does not settle everything", edit.words(show)))
                    }
                    (true, None) => None,
                }
            }
            Of::Cue { cue, short } => {
                let edits = least::edits(show, &proof.plan, *cue, short);
                // A smaller margin lets pass what passed before: there it is enough that the cue itself passes.
                let only_margin = |edit: &Edit| matches!(edit, Edit::PairMargin { .. } | Edit::ZoneMargin { .. });
                let settled = edits.iter().filter(|&edit| only_margin(edit) || settles(edit));
                let settled: Vec<String> = settled.map(|edit| edit.words(show)).collect();
                let proved = if settled.len() > 1 { "each was proved to pass" } else { "proved to pass" };
                (!settled.is_empty()).then(|| format!("{}; {proved}", settled.join(", or ")))
            }
        };
        if let Some(fix) = fix {
            proof.findings[*finding].fix = Some(fix);
        }
    }
}

/// Whether the show as edited no longer has the finding, and no error or warning that it had not.
fn settles(show: &Show, proof: &Proof, finding: usize, edit: &Edit, crew: &dyn Crew, memory: &Memory) -> bool {
    let Found { proof: edited, .. } = found(&edit.applied(show), crew, memory);
    let gone = !edited.findings.iter().any(|other| same(other, &proof.findings[finding]));
    let counts = |finding: &&Finding| finding.severity != Severity::Note;
    let known = |other: &Finding| proof.findings.iter().any(|finding| same(finding, other));
    gone && edited.findings.iter().filter(counts).all(known)
}

/// Whether two findings are of the same thing, wherever and however near.
fn same(one: &Finding, other: &Finding) -> bool {
    (one.code, &one.cues, &one.rigs, &one.axes) == (other.code, &other.cues, &other.rigs, &other.axes)
}
