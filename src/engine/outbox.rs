//! What the engine says in one tick. The room is made at the start, for more than a tick can fill.

use super::event::{Event, EventKind};
use super::refusal::Refusal;
use super::request::{Accepted, Answer, Request};
use crate::show::CueId;

/// Requests taken in one tick; the shell hands over no more.
pub const REQUESTS_MAX: usize = 64;
/// Events of one tick: a request brings a few, and each cue, input and interlock may change.
const EVENTS_PER_REQUEST: usize = 8;

#[derive(Clone, Debug)]
pub struct Outbox {
    pub answers: Vec<Answer>,
    pub events: Vec<Event>,
    seq: u64,
    tick: u64,
}

impl Outbox {
    pub fn new(changing: usize) -> Outbox {
        Outbox {
            answers: Vec::with_capacity(REQUESTS_MAX),
            events: Vec::with_capacity(REQUESTS_MAX * EVENTS_PER_REQUEST + 2 * changing + 64),
            seq: 0,
            tick: 0,
        }
    }

    /// Goes on counting where another left off.
    pub fn follow(&mut self, before: &Outbox) {
        self.seq = before.seq;
    }

    pub fn begin(&mut self, tick: u64) {
        self.answers.clear();
        self.events.clear();
        self.tick = tick;
    }

    pub fn event(&mut self, kind: EventKind) {
        self.seq += 1;
        self.events.push(Event { seq: self.seq, tick: self.tick, kind });
    }

    pub fn answer(&mut self, request: &Request, outcome: Result<Accepted, Refusal>, cue: Option<CueId>) {
        if let Err(reasons) = &outcome {
            self.event(EventKind::Refused {
                request: Some(request.id),
                client: Some(request.client),
                cue,
                reasons: reasons.clone(),
            });
        }
        self.answers.push(Answer { id: request.id, client: request.client, outcome });
    }
}
