//! Takes that are played back at once: read and planned here, off the tick thread, then handed to the engine with a request.
//!
//! The engine takes no memory and gives none back, so every path that it was given is kept here until it has let go of it.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use serde_json::{Value, json};

use super::book::Book;
use super::house::House;
use super::hub::{Asked, Client, Outcome};
use super::recording::Folder;
use super::takes;
use crate::engine::{Key, Status, Verb};
use crate::proof::{Playable, Playback, Unplayable, plan_playback};
use crate::show::Nanos;
use crate::wire::PlayAsk;
use crate::wire::rpc::{Error, Id, Reply};

/// Why a take was not played back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Refused {
    pub reasons: Vec<String>,
    /// With which it might be.
    pub stretch: Option<f64>,
}

impl From<Vec<String>> for Refused {
    fn from(reasons: Vec<String>) -> Refused {
        Refused { reasons, stretch: None }
    }
}

#[derive(Default)]
pub struct Playbacks {
    desk: Mutex<Desk>,
}

#[derive(Default)]
struct Desk {
    /// What the engine was given and may have still.
    given: Vec<Playback>,
    loaded: Option<Loaded>,
}

/// The take that the engine has ready, or had last.
#[derive(Clone, Debug)]
pub struct Loaded {
    take: String,
    stretch: f64,
    duration: f64,
    cautions: Vec<String>,
    edition: u32,
}

impl Playbacks {
    /// Plans and proves a take from where everything stands. Takes some time.
    ///
    /// # Errors
    /// Why it cannot be played back, for people.
    pub fn plan(
        &self,
        folder: &Folder,
        book: &Book,
        status: &Status,
        asked: &PlayAsk,
    ) -> Result<(Verb, Loaded), Refused> {
        let PlayAsk { take, stretch, rig } = asked;
        let read = takes::read(folder, take)?;
        let parts = takes::parts(&book.show, &read, rig.as_deref())?;
        let stands = stands(book, status)?;
        let stretch = stretch.unwrap_or(1.0);
        let planned = plan_playback(&book.show, parts, stretch, &stands);
        let Playable { playback, stretch, cautions } = planned.map_err(|Unplayable { reasons, stretch }| {
            let mut refused = Refused { reasons, stretch: stretch.map(rounded_up) };
            if let Some(stretch) = refused.stretch {
                refused.reasons.push(format!("played back {stretch} times as long it keeps its limits"));
            }
            refused
        })?;
        let loaded = Loaded {
            take: take.clone(),
            stretch,
            duration: playback.plan().duration,
            cautions,
            edition: book.edition,
        };
        let mut desk = self.lock();
        // One of which nobody else has a copy was refused, or replaced.
        desk.given.retain(Playback::is_shared);
        desk.given.push(playback.clone());
        Ok((Verb::Play { playback }, loaded))
    }

    /// The engine has it ready.
    pub fn load(&self, loaded: Loaded) {
        self.lock().loaded = Some(loaded);
    }

    /// In the status: which take stands ready or runs under the number "take".
    pub fn json(&self, edition: u32) -> Value {
        let desk = self.lock();
        let loaded = desk.loaded.as_ref().filter(|loaded| loaded.edition == edition);
        loaded.map_or(Value::Null, |Loaded { take, stretch, duration, cautions, .. }| {
            json!({ "take": take, "stretch": stretch, "duration": duration, "cautions": cautions })
        })
    }

    fn lock(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Takes the answer to the client that waits for it.
pub type Back = Box<dyn FnOnce(&dyn Fn(&Id) -> Reply) + Send>;

/// Plans what a client asks for and sends it to the engine; `back` is called once. Takes some time. What it is refused for
/// here is no request of the engine, so it may be asked again under the same key.
pub fn play(
    house: &Arc<House>,
    client: &Client,
    (key, age): (Option<Key>, Option<Nanos>),
    asked: &PlayAsk,
    back: Back,
) {
    let (book, status) = (house.book(), house.board.status());
    let planned = house.recordings.folder().map_err(|why| Refused::from(vec![why]));
    let planned = planned.and_then(|folder| house.playbacks.plan(&folder, &book, &status, asked));
    let (verb, loaded) = match planned {
        Ok(planned) => planned,
        Err(Refused { reasons, stretch }) => {
            tracing::info!("{}: take {} is not played back: {}", client.name, asked.take, reasons.join("; "));
            let error = Error { stretch, ..Error::refused(reasons) };
            return back(&|id| Reply::error(id, &error));
        }
    };
    let of_house = house.clone();
    let reply = move |outcome: Outcome| {
        if outcome.is_ok() {
            of_house.playbacks.load(loaded);
        }
        of_house.tell(|words| back(&|id| Reply::outcome(id, &outcome, &words)));
    };
    house.hub.ask(client, Asked { verb, edition: book.edition, key, age }, Box::new(reply));
}

/// To four decimals, never a little less.
fn rounded_up(value: f64) -> f64 {
    (value * 1e4).ceil() / 1e4
}

/// Where everything stands, by `AxisId`: where its drive holds it, if it is measured there.
fn stands(book: &Book, status: &Status) -> Result<Vec<f64>, Vec<String>> {
    if status.edition != book.edition {
        return Err(vec!["an edited show came into force just now: ask again".into()]);
    }
    let mut unknown = Vec::new();
    let stands = book.show.axis_ids().zip(&status.axes).map(|(axis, told)| {
        let position = told.position.unwrap_or_else(|| {
            unknown.push(format!("the pose of {} is not known", book.show.axis_name(axis)));
            f64::NAN
        });
        let near = (position - told.setpoint).abs() <= book.show.axis(axis).tolerance;
        if near { told.setpoint } else { position }
    });
    let stands = stands.collect();
    if unknown.is_empty() { Ok(stands) } else { Err(unknown) }
}
