//! What all roads share, once, for the life of the process.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::ws::Utf8Bytes;
use serde_json::{Value, json};

use super::age::WallWatch;
use super::board::Board;
use super::book::{Book, Shelf};
use super::clock;
use super::counters::Counters;
use super::events::Events;
use super::gate::Gate;
use super::hub::{Client, Hub};
use super::journal::Keeping;
use super::playback::Playbacks;
use super::present::Present;
use super::pulse::Pulse;
use super::recording::Recordings;
use super::reload::Reload;
use super::sticks::Sticks;
use super::stop_port::Rubbish;
use super::stop_road::StopRoad;
use super::survey::Surveys;
use crate::engine::{
    Cause, ClientId, Event, EventKind, Reason, Refusal, Role, Status, StickKind, StickSample, Verb,
};
use crate::proof::Plan;
use crate::rig::{SimFault, SimFaults};
use crate::show::{AxisId, CueId, Nanos, RigId, Show};
use crate::stage::{Look, Placed, look};
use crate::wire::words::Words;
use crate::wire::{Misheard, believes, cue_json, event_json, rpc, show_json, status_json};

/// A status made for one client does for all that ask within this time.
const FRESH: Nanos = Nanos(10_000_000);
/// Instants of a cue at which its bodies are shown.
const TRACES: u32 = 24;

pub struct House {
    pub shelf: Shelf,
    pub stop: Arc<StopRoad>,
    pub hub: Arc<Hub>,
    pub present: Arc<Present>,
    pub sticks: Sticks,
    pub reload: Reload,
    pub events: Events,
    pub board: Board,
    pub recordings: Recordings,
    pub surveys: Surveys,
    pub playbacks: Playbacks,
    faults: Option<SimFaults>,
    pub pulse: Arc<Pulse>,
    pub keeping: Arc<Keeping>,
    pub counters: Arc<Counters>,
    pub gate: Gate,
    pub wall: WallWatch,
    pub stop_port_rubbish: Arc<Rubbish>,
    started: Nanos,
    client_name: Box<dyn Fn(ClientId) -> String + Send + Sync>,
    frames: Mutex<Frames>,
}

/// Our ends of what leads to the tick thread and back.
pub struct Ends {
    pub hub: Hub,
    pub sticks: Sticks,
    pub reload: Reload,
    pub board: Board,
    pub recordings: Recordings,
    pub faults: Option<SimFaults>,
}

/// The notifications made last, without and with the stage.
#[derive(Default)]
struct Frames {
    seq: u64,
    made: [Option<(Nanos, Utf8Bytes)>; 2],
}

impl House {
    pub fn new(show: Arc<Show>, plan: Arc<Plan>, ends: Ends, gate: Gate, keeping: Arc<Keeping>) -> House {
        let Ends { hub, sticks, reload, board, recordings, faults } = ends;
        let hub = Arc::new(hub);
        let naming = hub.clone();
        House {
            shelf: Shelf::new(Book::new(1, show, plan)),
            stop: Arc::default(),
            hub,
            present: Arc::default(),
            sticks,
            reload,
            events: Events::default(),
            board,
            recordings,
            surveys: Surveys::default(),
            playbacks: Playbacks::default(),
            faults,
            pulse: Arc::default(),
            keeping,
            counters: Arc::default(),
            gate,
            wall: WallWatch::default(),
            stop_port_rubbish: Arc::default(),
            started: clock::now(),
            client_name: Box::new(move |client| naming.name_of(client)),
            frames: Mutex::default(),
        }
    }

    /// The show in force.
    pub fn book(&self) -> Arc<Book> {
        self.shelf.open()
    }

    /// Sentences about the show of this book.
    pub fn words<'a>(&'a self, book: &'a Book) -> Words<'a> {
        Words::new(&book.show, &*self.client_name)
    }

    /// What `told` says with the words of the show in force, which tell what was found.
    pub fn tell<Told>(&self, told: impl FnOnce(Words<'_>) -> Told) -> Told {
        let (book, status) = (self.book(), self.board.status());
        let words = self.words(&book);
        told(if status.edition == book.edition { words.seeing(&status) } else { words })
    }

    /// A refusal in sentences that tell what was found.
    pub fn reasons(&self, refusal: &Refusal) -> Vec<String> {
        self.tell(|words| words.refusal(refusal))
    }

    /// Whether a request may come from this address: an input is believed from its one named source.
    ///
    /// # Errors
    /// Another source than the show file names.
    pub fn believe(&self, book: &Book, verb: &Verb, sender: IpAddr) -> Result<(), Misheard> {
        match verb {
            Verb::Input { input, .. } => believes(&book.show.inputs[input.index()], sender),
            Verb::Standby { .. }
            | Verb::Go { .. }
            | Verb::Hold { .. }
            | Verb::Resume { .. }
            | Verb::Return { .. }
            | Verb::Preset { .. }
            | Verb::Play { .. }
            | Verb::Place { .. }
            | Verb::Offer { .. }
            | Verb::Reset
            | Verb::Arm
            | Verb::Disarm
            | Verb::Master { .. }
            | Verb::ClientLost { .. }
            | Verb::SimFault { .. }
            | Verb::Hand { .. }
            | Verb::HandOver { .. }
            | Verb::Accept { .. }
            | Verb::GiveBack { .. }
            | Verb::Survey { .. }
            | Verb::Trial { .. }
            | Verb::Focus { .. } => Ok(()),
        }
    }

    /// Puts what a stick or a dial says on its lane to the engine, which judges whose it heeds.
    ///
    /// # Errors
    /// Sentences: who may only look on moves nothing.
    pub fn hear_stick(
        &self,
        client: &Client,
        axis: AxisId,
        kind: StickKind,
        value: f64,
    ) -> Result<(), Vec<String>> {
        let (needs, has) = (Role::Caller, client.role);
        if has < needs {
            return Err(self.reasons(&Refusal::one(Reason::Role { needs, has })));
        }
        self.sticks.put(StickSample { client: client.id, axis, kind, value });
        Ok(())
    }

    /// s, since the daemon started.
    pub fn time(&self) -> f64 {
        Nanos(clock::now().0 - self.started.0).seconds()
    }

    /// Takes the engine's event to everyone. Who asked for a stop is known only here.
    pub fn announce(&self, event: Event) {
        let mut json = event_json(&event, self.time(), &self.words(&self.book()));
        if let EventKind::Stop { cause: Cause::Request(lane) } = event.kind
            && let Some(client) = self.stop.pressed_by(lane)
        {
            let name = self.hub.name_of(client);
            json["text"] = format!("{} by {name}", json["text"].as_str().unwrap_or("STOP")).into();
            json["client"] = name.into();
        }
        if let EventKind::Refused { request, reasons, .. } = &event.kind {
            match request {
                Some(request) => json["verb"] = self.hub.verb_of(*request).into(),
                // What was asked is counted where it was asked; nobody asked for a follow.
                None => self.hub.counted.refusal(reasons),
            }
        }
        self.events.announce(event, &json);
    }

    /// The contract's status, with the bodies of all rigs if asked.
    pub fn status_json(&self, stage: bool) -> Value {
        let seq = {
            let mut frames = self.frames.lock().unwrap_or_else(PoisonError::into_inner);
            frames.seq += 1;
            frames.seq
        };
        let status = self.board.status();
        let book = self.shelf.of(&status);
        let mut json = status_json(seq, self.time(), &status, &self.words(&book));
        let injected = self.injected();
        for (rig, written) in book.show.rig_ids().zip(&book.show.rigs) {
            let of_rig = injected.iter().filter(|fault| fault.rig(&book.show) == Some(rig));
            json["rigs"][&written.name]["injected"] =
                of_rig.map(|&fault| self.words(&book).sim_fault(fault)).collect();
            json["rigs"][&written.name]["taught"] = self.surveys.json(&book, rig);
        }
        json["clients"] = self.present.json();
        json["loop"] = self.loop_json();
        json["clock"] = self.clock_json();
        json["edit"] = self.reload.offer().map_or(Value::Null, |offer| offer.json());
        json["journal"] = self.journal_json();
        json["take"] = self.recordings.json(&book.show);
        json["playback"] = self.playbacks.json(book.edition);
        json["counters"] = self.counts().into_iter().map(|(kind, count)| (kind.to_owned(), json!(count))).collect();
        if stage {
            let pose = measured(&book, &status);
            json["stage"] = stage_json(&book, &pose, &|_| true);
            json["looks"] = looks_json(&book, &pose);
        }
        json
    }

    /// The faults that simulated rigs are asked to show now, in the order of rigs, then of axes.
    pub fn injected(&self) -> Vec<SimFault> {
        self.faults.iter().flat_map(SimFaults::present).collect()
    }

    /// The status as a notification, perhaps some milliseconds old.
    pub fn status_notification(&self, stage: bool) -> Utf8Bytes {
        let now = clock::now();
        if let Some((made, frame)) = &self.lock_frames().made[usize::from(stage)]
            && now.0 - made.0 < FRESH.0
        {
            return frame.clone();
        }
        let frame = Utf8Bytes::from(rpc::notification("status", &self.status_json(stage)));
        self.lock_frames().made[usize::from(stage)] = Some((now, frame.clone()));
        frame
    }

    pub fn show_json(&self) -> Value {
        let book = self.book();
        show_json(&book.plan, &self.words(&book))
    }

    /// One cue's motion, and where it takes the bodies of the rigs that move and of those that ride on them.
    pub fn cue_json(&self, book: &Book, cue: CueId) -> Value {
        let plan = book.plan.cue(cue);
        let mut json = cue_json(cue, plan, &self.words(book));
        let moves = |rig| book.show.carriers(rig).any(|carrier| plan.moves.iter().any(|step| step.rig == carrier));
        let mut pose = vec![0.0; book.show.axes.len()];
        let samples = if plan.duration > 0.0 { TRACES } else { 1 };
        let traces = (0..samples).map(|sample| {
            let time = plan.duration * f64::from(sample) / f64::from(TRACES - 1);
            plan.pose_at(time, &mut pose);
            json!({ "time": time, "stage": stage_json(book, &pose, &moves) })
        });
        json["traces"] = traces.collect();
        json
    }

    /// Every kind of input that was turned away, and how often.
    pub fn counts(&self) -> BTreeMap<&'static str, u64> {
        let mut counts: BTreeMap<_, _> = self.counters.read().into_iter().collect();
        for (kind, count) in
            [("stop port rubbish", self.stop_port_rubbish.count()), ("events lost", self.pulse.events_lost())]
        {
            if count > 0 {
                counts.insert(kind, count);
            }
        }
        counts
    }

    fn lock_frames(&self) -> std::sync::MutexGuard<'_, Frames> {
        self.frames.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn loop_json(&self) -> Value {
        let figures = self.pulse.lateness.figures();
        json!({
            "tick": self.book().show.settings.tick.seconds(),
            "late_p99_ms": figures.p99.seconds() * 1e3,
            "late_max_ms": figures.max.seconds() * 1e3,
            "overruns": figures.overruns,
            "real_time": self.pulse.real_time(),
        })
    }

    /// Whether the wall clock was set while we ran; what was sent with a time is judged by it.
    fn clock_json(&self) -> Value {
        let (steps, last) = self.wall.stepped();
        let last = last.map(|last| json!({ "by": last.by.seconds(), "ago": last.ago.seconds() }));
        json!({ "steps": steps, "last": last })
    }

    /// Null if none is kept.
    fn journal_json(&self) -> Value {
        let keeping = &self.keeping;
        keeping.path().map_or(Value::Null, |path| {
            json!({
                "file": path.display().to_string(),
                "kept": !keeping.fails(),
                "why": keeping.why(),
                "bytes": keeping.bytes(),
                "lost_ticks": keeping.lost(),
            })
        })
    }
}

/// Where the axes are; where one was never heard, where the show says that it starts.
fn measured(book: &Book, status: &Status) -> Vec<f64> {
    let axes = book.show.axes.iter().zip(&status.axes);
    axes.map(|(axis, found)| found.position.unwrap_or(axis.start)).collect()
}

fn stage_json(book: &Book, pose: &[f64], wanted: &dyn Fn(RigId) -> bool) -> Value {
    let mut placed: Vec<Placed> = Vec::new();
    book.stage.place(pose, &mut placed);
    let mut rigs = serde_json::Map::new();
    for body in placed.into_iter().filter(|body| wanted(body.rig)) {
        let shapes = rigs.entry(book.show.rig(body.rig).name.clone()).or_insert_with(|| json!([]));
        if let (Value::Array(shapes), Ok(shape)) = (shapes, serde_json::to_value(&body.shape)) {
            shapes.push(shape);
        }
    }
    Value::Object(rigs)
}

/// What each rig with a lens sees: from where and which way; across how many degrees, and focused how many metres away.
fn looks_json(book: &Book, pose: &[f64]) -> Value {
    let mut frames = Vec::new();
    book.stage.frames(pose, &mut frames);
    let looks = book.show.rig_ids().filter_map(|rig| {
        let Look { sight, view, focus, .. } = look(&book.show, rig, pose, &frames)?;
        let told = json!({ "from": sight.from, "along": sight.along, "view": view, "focus": focus });
        Some((book.show.rig(rig).name.clone(), told))
    });
    Value::Object(looks.collect())
}
