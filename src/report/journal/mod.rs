//! The report of a show, gathered from its journal as it is read.

mod delays;
mod document;
mod text;

pub use document::journal_json;
pub use text::journal_text;

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::engine::{ClientId, Event, EventKind};
use crate::journal::{Entry, Header, Seen, Told};
use crate::show::{AxisId, CueId, CueState, Nanos, Show};
use crate::wire::words::Words;
pub use delays::Delays;
use delays::Following;

/// One run of a cue, from its GO to its end.
#[derive(Clone, Debug, PartialEq)]
pub struct CueRun {
    pub cue: CueId,
    pub number: String,
    pub name: String,
    /// Wall clock, since 1970.
    pub at: Nanos,
    pub tick: u64,
    /// A client's name, or that it followed another cue.
    pub by: String,
    /// s, the cue's own at full rate, and what it took, holds and all; `None` while it runs.
    pub planned: f64,
    pub taken: Option<f64>,
    /// s, spent at rest on a hold.
    pub held: f64,
    /// How it ended: `None` if the journal ends before.
    pub end: Option<CueState>,
    pub delays: Delays,
}

/// Something that people look for afterwards, with what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Incident {
    pub kind: Kind,
    pub at: Nanos,
    pub tick: u64,
    pub text: String,
    /// s: of a stop until everything was measured at rest, of a hold until it was resumed.
    pub lasted: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    Refused,
    Stop,
    Hold,
    Fault,
    /// Armed, disarmed, reset, master, dropped standbys, lost links.
    Other,
}

/// One request, and what was answered.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    pub at: Nanos,
    pub tick: u64,
    pub client: String,
    pub verb: &'static str,
    pub accepted: bool,
    pub reasons: Vec<String>,
    /// From `sent` to our socket, and from there to the tick.
    pub network: Option<Nanos>,
    pub waited: Option<Nanos>,
}

/// One line of everything that happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    pub at: Nanos,
    pub tick: u64,
    pub text: String,
}

/// What [`crate::journal::replay`] shows, gathered.
#[derive(Default)]
pub struct JournalReport {
    pub header: Option<Header>,
    /// Name and hash, of the show that ran last.
    pub show: Option<(String, String)>,
    pub runs: Vec<CueRun>,
    pub incidents: Vec<Incident>,
    pub requests: Vec<Asked>,
    pub lines: Vec<Line>,
    pub last_tick: u64,
    clients: BTreeMap<ClientId, String>,
    /// A tick and its wall clock.
    anchor: (u64, Nanos),
    period: Nanos,
    pressed: BTreeMap<u64, ClientId>,
    following: Vec<Following>,
    setpoints: Vec<f64>,
    /// Of the stop that is latched: standstill was measured, and what adds itself to it finds it so.
    at_rest: bool,
    /// When the cue before was fired by hand.
    last_go: Option<Nanos>,
    /// Cues that hold, and since which tick.
    holding: BTreeMap<CueId, u64>,
    /// Holds that last, by their place among the incidents, with the cue that each is of; without one, of everything.
    holds: Vec<(usize, Option<CueId>)>,
}

impl JournalReport {
    /// Takes in the next thing of the journal.
    pub fn see(&mut self, seen: &Seen<'_>) {
        match seen.told {
            Told::Begun(header) => {
                self.anchor = (1, header.started);
                self.header = Some(header.clone());
            }
            Told::Show(files) => {
                self.show = Some((files.name.clone(), files.hash.clone()));
                if let Some(show) = seen.show {
                    self.period = show.settings.tick;
                    self.setpoints = show.axes.iter().map(|axis| axis.start).collect();
                }
            }
            Told::Client { client, name } => drop(self.clients.insert(client, name.to_owned())),
            Told::Clock { tick, wall } => self.anchor = (tick, wall),
            Told::Pressed { tick, client } => drop(self.pressed.insert(tick, client)),
            Told::Tick(entry) => self.tick(entry, seen),
            Told::Gap(_) | Told::Unread { .. } | Told::Trouble(_) => self.following.clear(),
            Told::Ended => {}
        }
    }

    /// The wall clock as a tick began, since 1970.
    pub fn at(&self, tick: u64) -> Nanos {
        let ticks = tick as i64 - self.anchor.0 as i64;
        self.anchor.1.saturating_add(Nanos(ticks.saturating_mul(self.period.0)))
    }

    fn tick(&mut self, entry: &Entry, seen: &Seen<'_>) {
        self.last_tick = entry.tick;
        if let Some(show) = seen.show {
            self.asked(entry, show);
            for event in &entry.events {
                self.event(event, entry, show, seen);
            }
        }
        if let Some(output) = seen.output {
            let mut following = std::mem::take(&mut self.following);
            following.retain_mut(|one| !one.tick(entry, output, self.period, &mut self.runs));
            self.following = following;
            for (before, now) in self.setpoints.iter_mut().zip(output.setpoints) {
                *before = now.position;
            }
        }
    }

    fn asked(&mut self, entry: &Entry, show: &Show) {
        let name = |client: ClientId| self.name(client);
        let words = Words::new(show, &name);
        let asked = entry.requests.iter().enumerate().map(|(index, request)| {
            let answer = entry.answers.iter().find(|answer| answer.id == request.id);
            let refusal = answer.and_then(|answer| answer.outcome.as_ref().err());
            Asked {
                at: self.at(entry.tick),
                tick: entry.tick,
                client: name(request.client),
                verb: request.verb.word(),
                accepted: answer.is_some_and(|answer| answer.outcome.is_ok()),
                reasons: refusal.map(|refusal| words.refusal(refusal)).unwrap_or_default(),
                network: request.age,
                waited: entry.waited.get(index).copied().flatten(),
            }
        });
        let asked: Vec<Asked> = asked.collect();
        self.requests.extend(asked);
    }

    fn name(&self, client: ClientId) -> String {
        self.clients.get(&client).cloned().unwrap_or_else(|| format!("client {}", client.0))
    }

    fn event(&mut self, event: &Event, entry: &Entry, show: &Arc<Show>, seen: &Seen<'_>) {
        let clients = std::mem::take(&mut self.clients);
        let name =
            |client: ClientId| clients.get(&client).cloned().unwrap_or_else(|| format!("client {}", client.0));
        let words = Words::new(show, &name);
        let mut text = words.event(&event.kind);
        if let (EventKind::Stop { .. }, Some(&client)) = (&event.kind, self.pressed.get(&entry.tick)) {
            text = format!("{text} by {}", name(client));
        }
        let at = self.at(entry.tick);
        self.lines.push(Line { at, tick: entry.tick, text: text.clone() });
        match &event.kind {
            EventKind::Go { cue, by } => {
                let by_name = by.map_or_else(|| "follow".to_owned(), name);
                self.go(*cue, *by, by_name, planned(*cue, seen), entry, show);
                let run = self.runs.len() - 1;
                self.following.push(Following::new(run, show, moved(*cue, seen, show), entry, &self.setpoints));
            }
            EventKind::Cue { cue, state } => self.state(*cue, *state, entry.tick),
            EventKind::Standstill { at_rest: true, .. } => {
                self.at_rest = true;
                self.close(Kind::Stop, entry.tick);
            }
            EventKind::Stop { .. } => {
                self.end_holds(|_| true, entry.tick);
                self.incident(Kind::Stop, at, entry.tick, text);
                if self.at_rest {
                    self.close(Kind::Stop, entry.tick);
                }
            }
            EventKind::Standstill { at_rest: false, .. }
            | EventKind::Fault { .. }
            | EventKind::SimFault { .. }
            | EventKind::Journal { .. } => {
                self.incident(Kind::Fault, at, entry.tick, text);
            }
            EventKind::Held { cue, .. } => {
                self.holds.push((self.incidents.len(), *cue));
                self.incident(Kind::Hold, at, entry.tick, text);
            }
            EventKind::Refused { .. } => self.incident(Kind::Refused, at, entry.tick, text),
            EventKind::Reset => {
                self.at_rest = false;
                self.incident(Kind::Other, at, entry.tick, text);
            }
            EventKind::Dropped { .. }
            | EventKind::Armed { .. }
            | EventKind::PartSimulated { .. }
            | EventKind::Master { .. }
            | EventKind::Placed { .. }
            | EventKind::Offered { .. }
            | EventKind::Replaced { .. }
            | EventKind::ClientLost { .. }
            | EventKind::Hand(_) => self.incident(Kind::Other, at, entry.tick, text),
            EventKind::Standby { .. } | EventKind::Interlock { .. } | EventKind::Input { .. } => {}
        }
        self.clients = clients;
    }

    fn go(&mut self, cue: CueId, by: Option<ClientId>, name: String, planned: f64, entry: &Entry, show: &Show) {
        let at = self.at(entry.tick);
        // A preset is on no list.
        let written = show.listed(cue);
        let mut delays = Delays::default();
        if let Some(client) = by {
            let asked =
                entry.requests.iter().position(|request| request.client == client && request.verb.word() == "go");
            if let Some(index) = asked {
                delays.network = entry.requests[index].age;
                delays.waited = entry.waited.get(index).copied().flatten();
            }
            let since = self.last_go.map(|last| Nanos(at.0 - last.0));
            delays.caller = written
                .and_then(|cue| cue.gap)
                .zip(since)
                .map(|(gap, since)| Nanos(since.0 - Nanos::from_seconds(gap).0));
            self.last_go = Some(at);
        }
        self.runs.push(CueRun {
            cue,
            number: show.number_of(cue),
            name: written.map_or_else(|| "to a cue's start".to_owned(), |cue| cue.name.clone()),
            at,
            tick: entry.tick,
            by: name,
            planned,
            taken: None,
            held: 0.0,
            end: None,
            delays,
        });
    }

    fn state(&mut self, cue: CueId, state: CueState, tick: u64) {
        let seconds = |from: u64| (tick - from) as f64 * self.period.seconds();
        let open = self.runs.iter_mut().rev().find(|run| run.cue == cue && run.end.is_none());
        if let (Some(run), Some(since)) = (open, self.holding.remove(&cue)) {
            run.held += seconds(since);
        }
        match state {
            CueState::Running | CueState::Returning => {
                self.end_holds(|of| of.is_none_or(|of| of == cue), tick);
            }
            CueState::Done | CueState::Stopped | CueState::Idle => {
                let open = self.runs.iter_mut().rev().find(|run| run.cue == cue && run.end.is_none());
                if let Some(run) = open {
                    run.end = Some(state);
                    run.taken = Some(seconds(run.tick));
                }
                self.end_holds(|of| of == Some(cue), tick);
            }
            CueState::Holding => drop(self.holding.insert(cue, tick)),
            CueState::Standby | CueState::Waiting => {}
        }
    }

    fn incident(&mut self, kind: Kind, at: Nanos, tick: u64, text: String) {
        self.incidents.push(Incident { kind, at, tick, text, lasted: None });
    }

    /// What was begun and has come to its end in this tick.
    fn close(&mut self, kind: Kind, tick: u64) {
        let period = self.period.seconds();
        for incident in self.incidents.iter_mut().filter(|one| one.kind == kind && one.lasted.is_none()) {
            incident.lasted = Some((tick - incident.tick) as f64 * period);
        }
    }

    fn end_holds(&mut self, ends: impl Fn(Option<CueId>) -> bool, tick: u64) {
        let period = self.period.seconds();
        for (at, _) in self.holds.extract_if(.., |(_, of)| ends(*of)) {
            let incident = &mut self.incidents[at];
            incident.lasted = Some((tick - incident.tick) as f64 * period);
        }
    }
}

/// s, as the engine had it when the cue was fired: of a preset nothing else knows.
fn planned(cue: CueId, seen: &Seen<'_>) -> f64 {
    let running = seen.output.and_then(|output| output.status.running.iter().find(|running| running.cue == cue));
    running.map_or(0.0, |running| running.duration)
}

/// The axes that a cue moves; of a preset, all that it may.
fn moved(cue: CueId, seen: &Seen<'_>, show: &Show) -> Vec<AxisId> {
    match seen.plan.and_then(|plan| plan.cues.get(cue.index())) {
        Some(plan) => {
            let paths = plan.moves.iter().flat_map(|step| &step.axes);
            paths.filter(|path| path.moves()).map(|path| path.axis).collect()
        }
        None => show.axis_ids().collect(),
    }
}
