//! Two versions of a show, each read and proved: what an edit changed, and from which edit it comes.
//!
//! Cues are the same if they have the same number; one that only got another number is told as that. Rigs and axes are
//! the same if they have the same name, and findings if they say the same of the same cues, rigs and axes, wherever in
//! the files they stand.

mod because;
mod cue;
mod fingerprint;
#[cfg(test)]
mod tests;

pub use cue::{CueDiffers, Moved, Rested, WindowDiffers};
pub use fingerprint::{Fingerprint, Part};

use super::Proof;
use crate::show::{AxisId, Change, Cue, CueId, Finding, RigId, Severity, Show, changes};

/// One version.
#[derive(Clone, Copy)]
pub struct Side<'a> {
    pub show: &'a Show,
    pub proof: &'a Proof,
    /// Of reading and proof.
    pub findings: &'a [Finding],
}

/// What the new version has otherwise than the old.
#[derive(Clone, Debug, Default)]
pub struct Against {
    pub changes: Vec<Change>,
    /// Of the new show.
    pub added: Vec<CueId>,
    /// Of the old show.
    pub removed: Vec<CueId>,
    /// Of the old show, of the new: called by another number and otherwise alike.
    pub renumbered: Vec<[CueId; 2]>,
    /// The cues of both that differ, in the order of the new list.
    pub cues: Vec<CueDiffers>,
    /// Indices into the findings of the new version, of the old.
    pub new_findings: Vec<usize>,
    pub gone_findings: Vec<usize>,
}

impl Against {
    /// Nothing that the show means has changed.
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
            && self.cues.is_empty()
            && self.new_findings.is_empty()
            && self.gone_findings.is_empty()
    }
}

/// Compares two versions.
pub fn compare(old: Side<'_>, new: Side<'_>) -> Against {
    let found = Pairing::new(old, new);
    let changes = changes(old.show, new.show);
    let both = new.show.cue_ids().filter_map(|now| found.before(now).map(|was| (was, now)));
    let cues = both.filter_map(|(was, now)| cue::differs(&found, &changes, was, now)).collect();
    let (new_findings, gone_findings) = sort_findings(&found);
    let before: Vec<CueId> = found.cues.iter().flatten().copied().collect();
    Against {
        changes,
        added: new.show.cue_ids().filter(|&now| found.before(now).is_none()).collect(),
        removed: old.show.cue_ids().filter(|was| !before.contains(was)).collect(),
        renumbered: new
            .show
            .cue_ids()
            .filter_map(|now| found.before(now).map(|was| [was, now]))
            .filter(|[was, now]| old.show.cue(*was).number != new.show.cue(*now).number)
            .collect(),
        cues,
        new_findings,
        gone_findings,
    }
}

/// What is the same thing in both.
struct Pairing<'a> {
    old: Side<'a>,
    new: Side<'a>,
    /// By `CueId` of the new show.
    cues: Vec<Option<CueId>>,
    /// By `AxisId` of the new show.
    axes: Vec<Option<AxisId>>,
}

impl<'a> Pairing<'a> {
    fn new(old: Side<'a>, new: Side<'a>) -> Pairing<'a> {
        let by_number = |id: CueId| old.show.find_cue(&new.show.cue(id).number);
        let mut cues: Vec<Option<CueId>> = new.show.cue_ids().map(by_number).collect();
        let gone: Vec<CueId> =
            old.show.cue_ids().filter(|&id| new.show.find_cue(&old.show.cue(id).number).is_none()).collect();
        for now in new.show.cue_ids().filter(|id| by_number(*id).is_none()) {
            let alike = |was: &CueId| same_but_number(old.show, old.show.cue(*was), new.show, new.show.cue(now));
            // Of two that are alike nobody knows which became which.
            let mut like = gone.iter().copied().filter(alike);
            let twins = new.show.cue_ids().filter(|id| by_number(*id).is_none());
            let twins =
                twins.filter(|&id| same_but_number(new.show, new.show.cue(id), new.show, new.show.cue(now)));
            if let (Some(was), None, 1) = (like.next(), like.next(), twins.count()) {
                cues[now.index()] = Some(was);
            }
        }
        let named = |id: AxisId| {
            let name = new.show.axis_name(id);
            old.show.axis_ids().find(|&was| old.show.axis_name(was) == name)
        };
        Pairing { old, new, cues, axes: new.show.axis_ids().map(named).collect() }
    }

    /// The same cue in the old show.
    fn before(&self, now: CueId) -> Option<CueId> {
        self.cues[now.index()]
    }

    /// The same cue in the new show.
    fn after(&self, was: CueId) -> Option<CueId> {
        self.cues.iter().position(|before| *before == Some(was)).map(CueId::new)
    }

    /// The number in the new show of a cue of the old; its own if it is gone.
    fn number_now(&self, was: CueId) -> String {
        match self.after(was) {
            Some(now) => self.new.show.number_of(now),
            None => self.old.show.number_of(was),
        }
    }
}

/// Called alike, and doing the same.
fn same_but_number(old: &Show, was: &Cue, new: &Show, now: &Cue) -> bool {
    let moves = |show: &Show, cue: &Cue| -> Vec<String> {
        let rig = |id: RigId| show.rig(id).name.clone();
        let told = cue.moves.iter().map(|step| {
            let at = |&(axis, value): &(AxisId, f64)| (show.axis_name(axis), value);
            let to: Vec<_> = step.to.iter().map(at).collect();
            let round: Vec<_> = step.round.iter().map(|&(axis, way)| (show.axis_name(axis), way)).collect();
            let played = step.playing.as_ref().map(|playing| (&playing.take.name, playing.enter, playing.stretch));
            let how =
                format!("{:?} {:?} {} {} {round:?} {}", step.mark, step.time, step.delay, step.by, step.softness);
            let via: Vec<Vec<_>> = step.via.iter().map(|via| via.pose.iter().map(at).collect()).collect();
            let aim = step.aim.as_ref().map(|aim| show.aimed(aim));
            let how = format!("{how} {played:?} {via:?} {aim:?}");
            format!("{} {to:?} {how}", rig(step.rig))
        });
        told.collect()
    };
    was.name == now.name && !now.name.is_empty() && moves(old, was) == moves(new, now)
}

/// Which findings of the new version are new, and which of the old are gone.
fn sort_findings(found: &Pairing<'_>) -> (Vec<usize>, Vec<usize>) {
    let renamed = |number: &String| {
        let was = found.old.show.cue_ids().find(|&id| found.old.show.number_of(id) == *number);
        was.map_or_else(|| number.clone(), |was| found.number_now(was))
    };
    let mut before: Vec<Option<Said>> = found
        .old
        .findings
        .iter()
        .map(|finding| Some(Said::of(finding, finding.cues.iter().map(renamed).collect())))
        .collect();
    let mut new = Vec::new();
    for (index, finding) in found.new.findings.iter().enumerate() {
        let said = Said::of(finding, finding.cues.clone());
        match before.iter_mut().find(|one| one.as_ref() == Some(&said)) {
            Some(same) => *same = None,
            None => new.push(index),
        }
    }
    let gone = before.iter().enumerate().filter(|(_, said)| said.is_some()).map(|(index, _)| index).collect();
    (new, gone)
}

/// Which findings were not there before, by their index, of two readings with the same cues: for those that cannot be proved.
pub fn new_findings(before: &[Finding], now: &[Finding]) -> Vec<usize> {
    let said = |finding: &Finding| Said::of(finding, finding.cues.clone());
    let mut before: Vec<Said> = before.iter().map(said).collect();
    let mut new = Vec::new();
    for (index, finding) in now.iter().enumerate() {
        match before.iter().position(|one| *one == said(finding)) {
            Some(same) => drop(before.swap_remove(same)),
            None => new.push(index),
        }
    }
    new
}

/// What makes two findings the same.
#[derive(PartialEq)]
struct Said {
    code: &'static str,
    severity: Severity,
    cues: Vec<String>,
    rigs: Vec<String>,
    axes: Vec<String>,
    /// Of a finding that names none of these, nothing else tells it from others.
    message: Option<String>,
}

impl Said {
    fn of(finding: &Finding, cues: Vec<String>) -> Said {
        let names_nothing = finding.cues.is_empty() && finding.rigs.is_empty() && finding.axes.is_empty();
        Said {
            code: finding.code.word(),
            severity: finding.severity,
            cues,
            rigs: finding.rigs.clone(),
            axes: finding.axes.clone(),
            message: names_nothing.then(|| finding.message.clone()),
        }
    }
}
