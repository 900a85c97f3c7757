//! A run lived again: the engine over the inputs of its journal, held against what was recorded.

use std::fmt;
use std::sync::Arc;

use serde::Serialize;

use super::entry::{Entry, digest};
use super::frame::Trouble;
use super::octets::put_item;
use super::read::{NotAJournal, Told, read};
use super::record::{Gap, Header, ShowFiles};
use crate::engine::{Engine, TickOutput};
use crate::proof::{self, Plan};
use crate::show::{self, Show};

/// What of a tick's outputs was another in the replay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Setpoints or commands.
    Setpoints {
        recorded: u64,
        replayed: u64,
    },
    Answers,
    Events,
}

/// The first tick whose replay gave other outputs than the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Difference {
    /// From 1.
    pub tick: u64,
    pub what: What,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.what {
            What::Setpoints { recorded, replayed } => write!(
                f,
                "tick {}: the run gave setpoints of digest {recorded:016x}, the replay {replayed:016x}",
                self.tick
            ),
            What::Answers => write!(f, "tick {}: the replay answers otherwise than the run did", self.tick),
            What::Events => write!(f, "tick {}: other things happen in the replay than in the run", self.tick),
        }
    }
}

/// Why a replay cannot go on, though more ticks may follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// Ticks are missing: [`Verdict::gaps`] and [`Verdict::troubles`] say which.
    Missing,
    /// The show of the journal does not read without errors in this version.
    Show,
    /// The show has another hash than the journal says.
    Hash,
}

/// How far a journal is whole, and its replay the same.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verdict {
    pub header: Option<Header>,
    /// Of the file, and how many of them were replayed with the same outputs.
    pub ticks: u64,
    pub replayed: u64,
    pub difference: Option<Difference>,
    /// From which tick on the replay could not go on, and why.
    pub lost: Option<(u64, Lost)>,
    pub gaps: Vec<Gap>,
    pub troubles: Vec<Trouble>,
    /// The run ended as it should, and said so.
    pub ended: bool,
}

impl Verdict {
    /// Nothing is missing but what a crash may take: the end of the last record. And the replay gave the same.
    pub fn is_sound(&self) -> bool {
        let torn = |trouble: &Trouble| matches!(trouble, Trouble::Torn { .. });
        self.header.is_some()
            && self.difference.is_none()
            && self.lost.is_none()
            && self.gaps.is_empty()
            && self.troubles.iter().all(torn)
    }
}

/// One thing told by a journal, and beside a tick what the engine gave in the replay, as long as that lasts.
#[derive(Debug)]
pub struct Seen<'a> {
    pub told: Told<'a>,
    pub output: Option<&'a TickOutput<'a>>,
    /// The show that ran; `None` before it is told, and if it does not read.
    pub show: Option<&'a Arc<Show>>,
    pub plan: Option<&'a Arc<Plan>>,
}

/// Replays a journal from its bytes alone, and shows everything in it to `watch`.
///
/// # Errors
/// The bytes do not begin as a journal does.
pub fn replay(bytes: &[u8], mut watch: impl FnMut(Seen<'_>)) -> Result<Verdict, NotAJournal> {
    let mut replay = Replay::default();
    read(bytes, |told| replay.take(told, &mut watch))?;
    Ok(replay.verdict)
}

#[derive(Default)]
struct Replay {
    verdict: Verdict,
    engine: Option<Engine>,
    show: Option<(Arc<Show>, Arc<Plan>)>,
    /// Ticks must follow each other.
    last: u64,
}

impl Replay {
    fn take(&mut self, told: Told<'_>, watch: &mut impl FnMut(Seen<'_>)) {
        match told {
            Told::Begun(header) => self.verdict.header = Some(header.clone()),
            Told::Show(files) => self.open(files),
            Told::Tick(entry) => return self.tick(entry, watch),
            Told::Gap(gap) => {
                self.lose(gap.first, Lost::Missing);
                self.verdict.gaps.push(gap.clone());
                self.last = gap.last;
            }
            Told::Unread { first, last } => {
                self.lose(first, Lost::Missing);
                self.last = last;
            }
            Told::Trouble(trouble) => {
                if !matches!(trouble, Trouble::Torn { .. }) {
                    self.lose(self.last + 1, Lost::Missing);
                }
                self.verdict.troubles.push(trouble);
            }
            Told::Ended => self.verdict.ended = true,
            Told::Client { .. } | Told::Clock { .. } | Told::Pressed { .. } => {}
        }
        self.show_to(watch, told, None);
    }

    fn show_to(&self, watch: &mut impl FnMut(Seen<'_>), told: Told<'_>, output: Option<&TickOutput<'_>>) {
        let (show, plan) = self.show.as_ref().map(|(show, plan)| (show, plan)).unzip();
        watch(Seen { told, output, show, plan });
    }

    /// The show of the run, or the one that takes its place.
    fn open(&mut self, files: &ShowFiles) {
        let reading = files.files().map(|files| show::read_files(&files));
        let Some(show) = reading.and_then(|reading| reading.show) else {
            self.show = None;
            return self.lose(self.last + 1, Lost::Show);
        };
        let same = show.hash == files.hash;
        let plan = Arc::new(proof::prove(&show).plan);
        let show = Arc::new(show);
        self.show = Some((show.clone(), plan.clone()));
        if !same {
            return self.lose(self.last + 1, Lost::Hash);
        }
        let mut engine = Engine::new(show, plan);
        match self.engine.take() {
            Some(before) => engine.take_over(&before),
            None if self.last == 0 => {}
            // Where the engine before was lost, so is what it knew.
            None => return,
        }
        self.engine = Some(engine);
    }

    fn tick(&mut self, entry: &Entry, watch: &mut impl FnMut(Seen<'_>)) {
        self.verdict.ticks += 1;
        if entry.tick != self.last + 1 {
            self.lose(self.last + 1, Lost::Missing);
        }
        self.last = entry.tick;
        let sizes = self.show.as_ref().map(|(show, _)| (show.rigs.len(), show.axes.len()));
        if sizes != Some((entry.rigs.len(), entry.axes.len())) {
            self.lose(entry.tick, Lost::Show);
        }
        let Some(mut engine) = self.engine.take() else { return self.show_to(watch, Told::Tick(entry), None) };
        let output = engine.tick(entry.input());
        match difference(entry, &output) {
            None => self.verdict.replayed += 1,
            Some(what) => {
                self.verdict.difference.get_or_insert(Difference { tick: entry.tick, what });
            }
        }
        self.show_to(watch, Told::Tick(entry), Some(&output));
        self.engine = Some(engine);
    }

    fn lose(&mut self, tick: u64, why: Lost) {
        self.engine = None;
        self.verdict.lost.get_or_insert((tick, why));
    }
}

/// By their octets: what is not a number differs from itself otherwise.
fn difference(entry: &Entry, output: &TickOutput<'_>) -> Option<What> {
    let (recorded, replayed) = (entry.digest, digest(output));
    if recorded != replayed {
        Some(What::Setpoints { recorded, replayed })
    } else if octets(&entry.answers) != octets(output.answers) {
        Some(What::Answers)
    } else if octets(&entry.events) != octets(output.events) {
        Some(What::Events)
    } else {
        None
    }
}

fn octets(items: &[impl Serialize]) -> Vec<u8> {
    let mut octets = Vec::new();
    items.iter().for_each(|item| put_item(&mut octets, item));
    octets
}
