//! An edited show: read, offered with its differences, and brought into force when an operator accepts it.
//!
//! ```text
//!   files ── look ──> offer ── accept ──> new engine ── ring ──> tick thread: between two ticks, at rest
//!                                                                     │
//!   answer, book turned <── post thread <── words, in their order <───┘
//! ```
//!
//! An edit with an error in it leaves the old show in force, and so does one that nobody accepts. access.toml is no part of
//! the show: whom it lets in is taken in as soon as it is read, so that a token that was removed ends at once.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use notify::{RecursiveMode, Watcher};
use serde_json::{Value, json};
use tokio::runtime::Handle;

use super::book::Book;
use super::gate::Gate;
use super::house::House;
use super::hub::{Asked, Client};
use crate::engine::{Engine, Reason, Refusal, Role, Verb};
use crate::journal::ShowFiles;
use crate::proof::{Alone, Memory, Plan, prove_from};
use crate::report;
use crate::show::access::read_access;
use crate::show::{self, Severity, Show, differences, same_machines, same_wiring};

/// Editors write a file in several steps: the files are read once they have been left alone for so long.
const SETTLED: Duration = Duration::from_millis(400);

/// Takes the answer to an acceptance: done, or the reasons why not.
pub type Told = Box<dyn FnOnce(Result<(), Vec<String>>) + Send>;

pub struct Reload {
    desk: Mutex<Desk>,
}

struct Desk {
    folder: Option<PathBuf>,
    offer: Option<Arc<Offer>>,
    engines: rtrb::Producer<Box<Engine>>,
    waiting: Option<Told>,
    /// Of the newest book.
    edition: u32,
    watcher: Option<notify::RecommendedWatcher>,
    /// Of what was proved of the files before.
    memory: Arc<Memory>,
}

/// What the files say now.
pub struct Looked {
    /// `None` if they say of the show what is in force already.
    pub offer: Option<Arc<Offer>>,
    /// access.toml lets in others than before, from now on.
    pub access: bool,
}

impl Looked {
    pub fn json(&self) -> Value {
        let unchanged = self.offer.is_none() && !self.access;
        let edit = self.offer.as_ref().map(|offer| offer.json());
        json!({ "unchanged": unchanged, "edit": edit, "access": self.access })
    }
}

/// An edit that may be accepted.
pub struct Offer {
    hash: String,
    /// For the journal.
    files: ShowFiles,
    show: Arc<Show>,
    plan: Arc<Plan>,
    differences: Vec<String>,
    /// Warnings and notes.
    findings: Vec<String>,
    /// It changes what only a new start takes in.
    restart: bool,
    /// It changes limits, travel or bodies, and leaves the show disarmed.
    disarms: bool,
}

impl Offer {
    pub fn json(&self) -> Value {
        json!({
            "hash": self.hash,
            "differences": self.differences,
            "findings": self.findings,
            "restart": self.restart,
            "disarms": self.disarms,
        })
    }
}

impl Reload {
    /// `engines` is the way into the tick thread.
    pub fn new(engines: rtrb::Producer<Box<Engine>>) -> Reload {
        let desk = Desk {
            folder: None,
            offer: None,
            engines,
            waiting: None,
            edition: 1,
            watcher: None,
            memory: Arc::default(),
        };
        Reload { desk: Mutex::new(desk) }
    }

    /// From where edits are read.
    pub fn set_folder(&self, folder: PathBuf) {
        self.lock().folder = Some(folder);
    }

    pub fn folder(&self) -> Option<PathBuf> {
        self.lock().folder.clone()
    }

    /// Of what was proved of the files before.
    pub fn memory(&self) -> Arc<Memory> {
        self.lock().memory.clone()
    }

    pub fn offer(&self) -> Option<Arc<Offer>> {
        self.lock().offer.clone()
    }

    /// Reads the files. May take a while: not for a thread that others wait for.
    ///
    /// # Errors
    /// The errors in the files, each with its place; what was offered before is withdrawn.
    pub fn look(&self, house: &House) -> Result<Looked, Vec<String>> {
        let memory = self.lock().memory.clone();
        let Some(folder) = self.lock().folder.clone() else {
            return Err(vec!["this daemon was not started from a show folder".into()]);
        };
        let access = let_in(&folder, &house.gate);
        let read = read(&folder, &house.book(), &memory);
        self.lock().offer = read.as_ref().ok().cloned().flatten();
        match (read, access) {
            (Ok(offer), Ok(access)) => Ok(Looked { offer, access }),
            (Err(errors), Ok(_)) | (Ok(_), Err(errors)) => Err(errors),
            (Err(errors), Err(of_access)) => Err([errors, of_access].concat()),
        }
    }

    /// Brings the edit of this hash into force, if it was the one offered. `told` is called once.
    pub fn accept(&self, house: &House, hash: &str, told: Told) {
        match self.send(house, hash) {
            Ok(mut desk) => desk.waiting = Some(told),
            Err(reasons) => told(Err(reasons)),
        }
    }

    fn send(&self, house: &House, hash: &str) -> Result<MutexGuard<'_, Desk>, Vec<String>> {
        let refused = |why: &str| Err(vec![why.to_owned()]);
        let mut desk = self.lock();
        if desk.waiting.is_some() {
            return refused("another edit is being taken in just now: try again");
        }
        let Some(offer) = desk.offer.clone() else {
            return refused("no edit is on offer: ask for a reload first, and look at what it changes");
        };
        // A beginning that can be told from others does, since people type it.
        if hash.len() < 6 || !offer.hash.starts_with(hash) {
            return refused(&format!(
                "the edit on offer is {}, not {hash}: the files have changed again; look at what they change now",
                &offer.hash[..12.min(offer.hash.len())]
            ));
        }
        if offer.restart {
            return Err(house.reasons(&Refusal::one(Reason::OtherMachines)));
        }
        let edition = desk.edition + 1;
        house.shelf.lay_out(Arc::new(Book::new(edition, offer.show.clone(), offer.plan.clone())));
        house.keeping.lay_out(offer.files.clone());
        let next = Box::new(Engine::new(offer.show.clone(), offer.plan.clone()));
        if desk.engines.push(next).is_err() {
            return refused("another edit is being taken in just now: try again");
        }
        Ok(desk)
    }

    /// On the post thread, when the tick thread has taken the edit in, or has not.
    pub fn finish(&self, house: &House, outcome: Result<u32, Refusal>) {
        let (told, result) = {
            let mut desk = self.lock();
            let result = match outcome {
                Ok(edition) => {
                    (desk.edition, desk.offer) = (edition, None);
                    house.shelf.turn_to(edition);
                    Ok(())
                }
                Err(refusal) => Err(house.reasons(&refusal)),
            };
            (desk.waiting.take(), result)
        };
        if let Some(told) = told {
            told(result);
        }
    }

    fn lock(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Puts access.toml in force, if it lets in others than before. With an error in it the old one stays.
fn let_in(folder: &Path, gate: &Gate) -> Result<bool, Vec<String>> {
    let reading = read_access(folder);
    let Some(access) = reading.access else {
        return Err(reading.findings.iter().map(|one| report::line(one, &reading.sources)).collect());
    };
    if access == **gate.access() {
        return Ok(false);
    }
    gate.replace(access);
    tracing::info!("access.toml has changed and is in force");
    Ok(true)
}

fn read(folder: &Path, book: &Book, memory: &Memory) -> Result<Option<Arc<Offer>>, Vec<String>> {
    let reading = show::read(folder);
    let proof = reading.show.as_ref().map(|show| prove_from(show, &Alone, memory));
    memory.turn();
    let mut findings = reading.findings.clone();
    findings.extend(proof.iter().flat_map(|proof| proof.findings.clone()));
    let told = |wanted: &dyn Fn(Severity) -> bool| -> Vec<String> {
        findings.iter().filter(|one| wanted(one.severity)).map(|one| report::line(one, &reading.sources)).collect()
    };
    let errors = told(&|severity| severity == Severity::Error);
    let (Some(show), Some(proof), true) = (reading.show, proof, errors.is_empty()) else { return Err(errors) };
    let in_force = &book.show;
    if show.hash == in_force.hash {
        return Ok(None);
    }
    Ok(Some(Arc::new(Offer {
        hash: show.hash.clone(),
        files: ShowFiles::new(&show.name, &show.hash, &reading.sources.files),
        differences: differences(in_force, &show),
        findings: told(&|severity| severity != Severity::Error),
        restart: !same_wiring(in_force, &show),
        disarms: !same_machines(in_force, &show),
        plan: Arc::new(proof.plan),
        show: Arc::new(show),
    })))
}

/// Reads the files and, if the show has changed, says so to everyone. Gives what they say.
///
/// # Errors
/// The client's role, the errors in the files.
pub async fn offer(house: Arc<House>, client: Client) -> Result<Looked, Vec<String>> {
    if client.role < Role::Operator {
        return Err(house.reasons(&Refusal::one(Reason::Role { needs: Role::Operator, has: client.role })));
    }
    let of_house = house.clone();
    let looked = tokio::task::spawn_blocking(move || of_house.reload.look(&of_house)).await;
    let looked = looked.unwrap_or_else(|_| Err(vec!["the files could not be read".into()]))?;
    if let Some(offer) = &looked.offer {
        let differences = u32::try_from(offer.differences.len()).unwrap_or(u32::MAX);
        let hash = u64::from_str_radix(&offer.hash[..16.min(offer.hash.len())], 16).unwrap_or(0);
        house.hub.ask(&client, Asked::now(Verb::Offer { hash, differences }), Box::new(|_| {}));
    }
    Ok(looked)
}

/// Offers every edit of the folder by itself, from now on. Accepting stays with people.
///
/// # Errors
/// The folder cannot be watched.
pub fn watch(house: &Arc<House>, runtime: &Handle, folder: &Path) -> notify::Result<()> {
    let (changed, mut changes) = tokio::sync::mpsc::channel(1);
    let mut watcher = notify::recommended_watcher(move |event: notify::Result<notify::Event>| {
        // Reading a file is an event of some systems too, and we read them all.
        if event.is_ok_and(|event| !event.kind.is_access()) {
            // Full: it is known already that something has changed.
            let _ = changed.try_send(());
        }
    })?;
    watcher.watch(folder, RecursiveMode::Recursive)?;
    house.reload.lock().watcher = Some(watcher);
    let house = house.clone();
    runtime.spawn(async move {
        let client = house.hub.link("show files", Role::Operator);
        while changes.recv().await.is_some() {
            while let Ok(Some(())) = tokio::time::timeout(SETTLED, changes.recv()).await {}
            match offer(house.clone(), client.clone()).await {
                Ok(_) => {}
                Err(errors) => {
                    tracing::warn!(
                        "the edited show is not offered, the old one stays in force: {}",
                        errors.first().map_or("", String::as_str)
                    );
                }
            }
        }
    });
    Ok(())
}
