//! Takes as they are recorded: samples off the tick, into a file that grows.
//!
//! ```text
//!   tick thread ── Reel ──> ring ──> recorder thread ── write ──> takes/.recording.csv ── once a second ──> disk
//!   clients ── prime, record, keep, discard ──> Desk ──┘                  └── keep ──> takes/NAME.csv
//! ```
//!
//! The name begins with a dot, so that no reader of the show looks at it before it is kept. If this process is killed, the
//! next start of the show finds it, up to the line that was cut: it waits as if it had just been recorded, and nothing else is
//! primed before somebody has kept or discarded it.

mod folder;
mod reel;
mod repeats;
mod tape;

use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::Builder;
use std::time::Duration;

use serde_json::{Value, json};

pub use folder::Folder;
pub use reel::Reel;

use super::clock;
use super::house::House;
use super::takes;
use crate::engine::{ClientId, Key};
use crate::show::{Nanos, Recorder, RecorderError, Recording, Show, Take};
use crate::wire::TakeAsk;
use reel::{Samples, reel};
use repeats::Repeats;
use tape::{Tape, left};

/// Between two looks at the ring.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// What a crash of the machine may cost.
const SYNC_EVERY: Nanos = Nanos(900_000_000);

const NO_FOLDER: &str = "this daemon was not started from a show folder";

/// What takes are recorded with.
pub struct Recordings {
    desk: Mutex<Desk>,
    /// Held while something is carried out, so that a repeat waits for its answer.
    repeats: Mutex<Repeats>,
    /// Samples are of use: read by the tick thread.
    wanted: Arc<AtomicBool>,
}

struct Desk {
    samples: Samples,
    recorder: Recorder,
    /// `takes/` of the show.
    folder: Option<Folder>,
    tape: Option<Tape>,
    /// Of a take that an earlier run left unfinished: its rigs, as they are called in it.
    unfinished: Option<Vec<String>>,
    /// The name that it will be kept under, if none else is given.
    name: Option<String>,
    /// Why it cannot be written, for people.
    trouble: Option<String>,
}

impl Recordings {
    /// With the end that belongs to the tick thread.
    pub fn begin(show: &Show) -> (Recordings, Reel) {
        let wanted = Arc::new(AtomicBool::new(false));
        let (reel, samples) = reel(show, wanted.clone());
        let desk = Desk {
            samples,
            recorder: Recorder::default(),
            folder: None,
            tape: None,
            unfinished: None,
            name: None,
            trouble: None,
        };
        (Recordings { desk: Mutex::new(desk), repeats: Mutex::default(), wanted }, reel)
    }

    /// Takes go into this show; what an earlier run left unfinished waits to be kept or discarded.
    pub fn set_folder(&self, show: &Path) {
        let folder = Folder::of(show);
        let mut desk = self.lock();
        match left(&folder) {
            Ok(Some((tape, take))) => {
                let rigs = rigs_of(&take);
                tracing::warn!(
                    "an unfinished take of {} is there, {:.1} s long: keep it under a name, or discard it",
                    rigs.join(" and "),
                    take.length()
                );
                desk.recorder = Recorder::left(Nanos::from_seconds(take.length()));
                (desk.tape, desk.unfinished) = (Some(tape), Some(rigs));
            }
            Ok(None) => {}
            Err(error) => tracing::warn!("whether there is an unfinished take could not be read: {error}"),
        }
        desk.folder = Some(folder);
    }

    /// Where the takes of the show lie.
    ///
    /// # Errors
    /// This daemon runs no show of a folder; for people.
    pub fn folder(&self) -> Result<Folder, String> {
        self.lock().folder.clone().ok_or_else(|| NO_FOLDER.to_owned())
    }

    /// Does what a client asks, unless it is a repeat. May wait for the disk.
    ///
    /// # Errors
    /// Why it was not done, for people.
    pub fn ask(&self, show: &Show, by: (ClientId, Option<Key>), asked: TakeAsk) -> Result<Value, String> {
        let mut repeats = self.repeats.lock().unwrap_or_else(PoisonError::into_inner);
        repeats.once(by, || self.carry_out(show, asked))
    }

    fn carry_out(&self, show: &Show, asked: TakeAsk) -> Result<Value, String> {
        let mut desk = self.lock();
        // What is on its way belongs to what was so far.
        desk.listen();
        let done = match asked {
            TakeAsk::Prime { rigs, name } => desk.prime(show, &rigs, name),
            TakeAsk::Record { on } => desk.recorder.record(on).map_err(|why| why.to_string()),
            TakeAsk::Keep { name } => {
                let (name, folder) = desk.keep(name)?;
                drop(desk);
                let lines = takes::lines(&folder, show, &name);
                return Ok(json!({ "accepted": true, "take": name, "lines": lines }));
            }
            TakeAsk::Discard => desk.discard(),
            TakeAsk::Trim { take, ends, name } => {
                let folder = desk.folder.clone().ok_or(NO_FOLDER)?;
                drop(desk);
                takes::trim(&folder, &take, ends, &name).map_err(|reasons| reasons.join("; "))?;
                let lines = takes::lines(&folder, show, &name);
                return Ok(json!({ "accepted": true, "take": name, "lines": lines }));
            }
        };
        let live = matches!(desk.recorder.state(), Recording::Primed | Recording::Recording);
        self.wanted.store(live, Ordering::Release);
        done.map(|()| json!({ "accepted": true }))
    }

    /// The state of it, in the status.
    pub fn json(&self, show: &Show) -> Value {
        let desk = self.lock();
        let rigs = desk.recorder.rigs().iter().map(|&rig| show.rig(rig).name.clone());
        let unfinished = desk.unfinished.clone();
        json!({
            "state": desk.recorder.state().word(),
            "unfinished": unfinished.is_some(),
            "rigs": unfinished.unwrap_or_else(|| rigs.collect()),
            "name": desk.name,
            "elapsed": desk.recorder.elapsed().seconds(),
            "trouble": desk.trouble,
        })
    }

    fn lock(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Desk {
    fn prime(&mut self, show: &Show, rigs: &[String], name: Option<String>) -> Result<(), String> {
        let folder = self.folder.as_ref().ok_or(NO_FOLDER)?;
        if let Some(name) = &name {
            folder.free(name)?;
        }
        let find = |name: &String| {
            let found = show.rig_ids().find(|&rig| show.rig(rig).name == *name);
            found.ok_or_else(|| format!("there is no rig '{name}'"))
        };
        let rigs = rigs.iter().map(find).collect::<Result<Vec<_>, String>>()?;
        self.recorder.prime(show, &rigs).map_err(|why| why.to_string())?;
        (self.name, self.trouble) = (name, None);
        Ok(())
    }

    fn keep(&mut self, name: Option<String>) -> Result<(String, Folder), String> {
        let folder = self.folder.clone().ok_or(NO_FOLDER)?;
        if self.recorder.state() != Recording::Stopped {
            return Err(RecorderError::NotStopped(self.recorder.state()).to_string());
        }
        let tape = self.tape.as_mut().ok_or("nothing was written of it: discard it")?;
        let name = name.or_else(|| self.name.clone()).unwrap_or_else(|| folder.next_name());
        tape.keep(&folder, &name)?;
        (self.tape, self.name, self.unfinished) = (None, None, None);
        let _ = self.recorder.settle();
        tracing::info!(take = name, "take {name} is kept");
        Ok((name, folder))
    }

    fn discard(&mut self) -> Result<(), String> {
        self.recorder.settle().map_err(|why| why.to_string())?;
        (self.name, self.unfinished) = (None, None);
        self.tape.take().map_or(Ok(()), |tape| tape.discard())
    }

    /// Takes the samples that wait, and writes what comes of them. What the disk refuses ends the take: what is written of it
    /// can be kept.
    fn listen(&mut self) {
        let mut lines = String::new();
        self.samples.drain(|at, pose| self.recorder.sample(at, pose, &mut lines));
        if lines.is_empty() {
            return;
        }
        let begun = match (&mut self.tape, &self.folder) {
            (Some(tape), _) => Ok(tape),
            (None, Some(folder)) => {
                let recorded = jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string();
                Tape::begin(folder, &self.recorder.head(&recorded)).map(|tape| self.tape.insert(tape))
            }
            (None, None) => return,
        };
        if let Err(error) = begun.and_then(|tape| tape.write(&lines)) {
            tracing::warn!("a take cannot be written: {error}");
            self.trouble = Some(format!("the take cannot be written: {error}"));
            let _ = self.recorder.record(false);
        }
    }
}

/// Of the columns that name one, each once.
fn rigs_of(take: &Take) -> Vec<String> {
    let mut rigs: Vec<String> = Vec::new();
    for (rig, _) in take.columns.iter().filter_map(|column| column.name.split_once('.')) {
        if !rigs.iter().any(|known| known == rig) {
            rigs.push(rig.to_owned());
        }
    }
    rigs
}

/// Starts the thread that writes until the show ends.
///
/// # Errors
/// No thread.
pub fn write(house: &Arc<House>) -> io::Result<()> {
    let house = house.clone();
    Builder::new().name("recorder".to_owned()).spawn(move || run(&house))?;
    Ok(())
}

fn run(house: &House) {
    let mut synced = clock::now();
    while !house.pulse.asked_to_end() {
        std::thread::sleep(LOOK_EVERY);
        let handle = {
            let mut desk = house.recordings.lock();
            desk.listen();
            desk.tape.as_ref().and_then(Tape::handle)
        };
        // Not under the lock: a slow disk keeps nobody who only asks how it stands.
        if clock::now().0 - synced.0 >= SYNC_EVERY.0 {
            synced = clock::now();
            if let Some(Err(error)) = handle.map(|file| file.sync_data()) {
                tracing::warn!("a take could not be brought onto the disk: {error}");
            }
        }
    }
}
