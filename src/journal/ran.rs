//! Which cues a run took to their end, and how: what it rehearsed.
//!
//! Nothing is replayed: what happened stands in the journal, tick by tick, and the show that it happened to as well.

use std::collections::BTreeMap;

use super::entry::Entry;
use super::read::{NotAJournal, Told, read};
use super::record::ShowFiles;
use crate::engine::{Event, EventKind};
use crate::proof::{Fingerprint, timelines};
use crate::show::{self, CueId, CueState, Nanos, Show};

/// One run of a cue from its GO to its end.
#[derive(Clone, Debug, PartialEq)]
pub struct Ran {
    /// Name of the show.
    pub show: String,
    pub number: String,
    /// Of the cue as it was then.
    pub fingerprint: Fingerprint,
    /// Wall clock of its GO, since 1970.
    pub at: Nanos,
    /// s east of Greenwich, where it ran.
    pub offset: i32,
    /// How many rigs it moved, and which of them were simulated, by their names.
    pub rigs: usize,
    pub simulated: Vec<String>,
    /// The least part of full speed, 0 to 1, that it was run at.
    pub pace: f64,
    /// It was held, taken back or stopped on its way, and carried on.
    pub interrupted: bool,
}

impl Ran {
    /// On real rigs, at full speed, in one go.
    pub fn is_whole(&self) -> bool {
        self.simulated.is_empty() && self.pace == 1.0 && !self.interrupted
    }
}

/// What a journal tells of this.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Runs {
    /// Names of the shows that ran, each once.
    pub shows: Vec<String>,
    pub ran: Vec<Ran>,
    /// A show in it does not read in this version: what it ran is not counted.
    pub unread_show: bool,
    /// Ticks are missing or damaged: a cue that ran then is not counted.
    pub broken: bool,
}

/// A cue may take so much longer than planned before it counts as slower: ticks, and a start that was a little off.
const SLOWER: f64 = 1.02;
/// s
const LATER: f64 = 0.1;

/// Reads them from the bytes of a journal.
///
/// # Errors
/// The bytes do not begin as a journal does.
pub fn runs(bytes: &[u8]) -> Result<Runs, NotAJournal> {
    let mut reader = Reader { master: 1.0, ..Reader::default() };
    read(bytes, |told| reader.take(told))?;
    Ok(reader.runs)
}

#[derive(Default)]
struct Reader {
    runs: Runs,
    stage: Option<Stage>,
    open: BTreeMap<CueId, Open>,
    master: f64,
    offset: i32,
    /// A tick and its wall clock.
    anchor: (u64, Nanos),
}

/// The show that runs.
struct Stage {
    show: Show,
    /// By `CueId`.
    fingerprints: Vec<Fingerprint>,
    /// s, by `CueId`.
    durations: Vec<f64>,
}

/// A cue on its way.
struct Open {
    tick: u64,
    at: Nanos,
    rigs: usize,
    simulated: Vec<String>,
    pace: f64,
    interrupted: bool,
}

impl Reader {
    fn take(&mut self, told: Told<'_>) {
        match told {
            Told::Begun(header) => {
                self.anchor = (1, header.started);
                self.offset = header.offset;
            }
            Told::Show(files) => self.show(files),
            Told::Clock { tick, wall } => self.anchor = (tick, wall),
            Told::Tick(entry) => entry.events.iter().for_each(|event| self.event(event, entry)),
            Told::Gap(_) | Told::Unread { .. } => self.lose(),
            // What a crash tears off is the end of the run.
            Told::Trouble(super::Trouble::Torn { .. }) => self.open.clear(),
            Told::Trouble(_) => self.lose(),
            Told::Client { .. } | Told::Pressed { .. } | Told::Ended => {}
        }
    }

    /// What happened meanwhile is not known. If the master was lowered, a later cue shows it by how long it takes.
    fn lose(&mut self) {
        self.open.clear();
        self.runs.broken = true;
    }

    fn show(&mut self, files: &ShowFiles) {
        self.open.clear();
        if !self.runs.shows.contains(&files.name) {
            self.runs.shows.push(files.name.clone());
        }
        let reading = files.files().map(|files| show::read_files(&files));
        let Some(show) = reading.and_then(|reading| reading.show) else {
            self.stage = None;
            self.runs.unread_show = true;
            return;
        };
        let plans = timelines(&show);
        let fingerprints = show.cue_ids().map(|id| Fingerprint::of(&show, id, &plans[id.index()])).collect();
        let durations = plans.iter().map(|plan| plan.duration).collect();
        self.stage = Some(Stage { show, fingerprints, durations });
    }

    fn event(&mut self, event: &Event, entry: &Entry) {
        match &event.kind {
            EventKind::Go { cue, .. } => self.go(*cue, entry),
            EventKind::Cue { cue, state } => self.state(*cue, *state, entry.tick),
            EventKind::Master { value } => {
                self.master = *value;
                self.open.values_mut().for_each(|open| open.pace = open.pace.min(*value));
            }
            // The list is set as if its cues had run.
            EventKind::Placed { .. } => self.open.clear(),
            EventKind::Standby { .. }
            | EventKind::Dropped { .. }
            | EventKind::Refused { .. }
            | EventKind::Held { .. }
            | EventKind::Stop { .. }
            | EventKind::Standstill { .. }
            | EventKind::Reset
            | EventKind::Armed { .. }
            | EventKind::PartSimulated { .. }
            | EventKind::Fault { .. }
            | EventKind::Interlock { .. }
            | EventKind::Input { .. }
            | EventKind::Offered { .. }
            | EventKind::Replaced { .. }
            | EventKind::ClientLost { .. }
            | EventKind::Journal { .. }
            | EventKind::SimFault { .. }
            | EventKind::Hand(_) => {}
        }
    }

    fn go(&mut self, cue: CueId, entry: &Entry) {
        let Some(Stage { show, .. }) = &self.stage else { return };
        // A preset is on no list.
        let Some(written) = show.listed(cue) else { return };
        // A cue that was stopped goes on from there.
        if let Some(stopped) = self.open.get_mut(&cue) {
            stopped.pace = stopped.pace.min(self.master);
            return;
        }
        let simulated = |rig: &show::RigId| entry.rigs.get(rig.index()).is_some_and(|report| report.simulated);
        let mut rigs: Vec<show::RigId> = written.moves.iter().map(|step| step.rig).collect();
        rigs.sort();
        rigs.dedup();
        let ticks = entry.tick.saturating_sub(self.anchor.0) as i64;
        let at = self.anchor.1.saturating_add(Nanos(ticks.saturating_mul(show.settings.tick.0)));
        let simulated = rigs.iter().filter(|rig| simulated(rig)).map(|&rig| show.rig(rig).name.clone()).collect();
        let (rigs, pace) = (rigs.len(), self.master);
        self.open.insert(cue, Open { tick: entry.tick, at, rigs, simulated, pace, interrupted: false });
    }

    fn state(&mut self, cue: CueId, state: CueState, tick: u64) {
        match state {
            CueState::Done => self.done(cue, tick),
            CueState::Holding | CueState::Returning | CueState::Stopped => {
                if let Some(open) = self.open.get_mut(&cue) {
                    open.interrupted = true;
                }
            }
            CueState::Idle => drop(self.open.remove(&cue)),
            CueState::Standby | CueState::Waiting | CueState::Running => {}
        }
    }

    fn done(&mut self, cue: CueId, tick: u64) {
        let (Some(open), Some(stage)) = (self.open.remove(&cue), &self.stage) else { return };
        let planned = stage.durations[cue.index()];
        let taken = tick.saturating_sub(open.tick) as f64 * stage.show.settings.tick.seconds();
        let mut pace = open.pace;
        if !open.interrupted && taken > planned * SLOWER + LATER {
            // The master had not got to where it was asked, or something else slowed the rate that all share.
            pace = pace.min(planned / taken);
        }
        self.runs.ran.push(Ran {
            show: stage.show.name.clone(),
            number: stage.show.number_of(cue),
            fingerprint: stage.fingerprints[cue.index()],
            at: open.at,
            offset: self.offset,
            rigs: open.rigs,
            simulated: open.simulated,
            pace,
            interrupted: open.interrupted,
        });
    }
}
