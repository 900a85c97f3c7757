//! The reading half of a WebSocket: calls to requests, and the lease.

use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::extract::ws::{Message, WebSocket, close_code};
use futures_util::StreamExt;
use futures_util::stream::SplitStream;
use jiff::Timestamp;
use serde_json::json;
use tokio::sync::watch;
use tokio::time::Instant;
use tokio_tungstenite::tungstenite::{self, error::ProtocolError};

use super::{End, Outbox, Standing, Wants};
use crate::daemon::book::Book;
use crate::daemon::house::House;
use crate::daemon::hub::{Asked, Client, Outcome};
use crate::daemon::{playback, reload, survey};
use crate::engine::{Key, Reason, Refusal, Role, StopLane, Verb};
use crate::show::Nanos;
use crate::wire::rpc::{self, Call, Error, Frame, Id, Reply};
use crate::wire::{Ask, Barred, Misheard, PlayAsk, Subscribe, SurveyAsk, TakeAsk};

/// Without any sign of life, answers to our pings among them, a client is gone.
const IDLE_MAX: Duration = Duration::from_secs(30);

pub(super) struct Listener {
    house: Arc<House>,
    client: Client,
    /// Where the client is.
    ip: IpAddr,
    standing: Standing,
    outbox: Outbox,
    wants: watch::Sender<Wants>,
    /// The client's link counts as lost when no text came from it for so long. Pings do not count: a browser answers
    /// them for a page that is frozen.
    lease: Option<Duration>,
    last_text: Instant,
    last_sign: Instant,
    lost: bool,
}

impl Listener {
    pub(super) fn new(
        house: Arc<House>,
        client: Client,
        ip: IpAddr,
        standing: Standing,
        outbox: Outbox,
        wants: watch::Sender<Wants>,
    ) -> Listener {
        let now = Instant::now();
        Listener {
            house,
            client,
            ip,
            standing,
            outbox,
            wants,
            lease: None,
            last_text: now,
            last_sign: now,
            lost: false,
        }
    }

    pub(super) async fn run(&mut self, stream: &mut SplitStream<WebSocket>) -> End {
        loop {
            match tokio::time::timeout_at(self.next_deadline(), stream.next()).await {
                Err(_) if self.last_sign + IDLE_MAX <= Instant::now() => return End::Gone,
                Err(_) => self.lose().await,
                Ok(None) => return End::Gone,
                Ok(Some(Err(error))) => return self.broken(error),
                Ok(Some(Ok(Message::Text(text)))) => self.hear(text.as_str()),
                Ok(Some(Ok(Message::Ping(_) | Message::Pong(_)))) => self.last_sign = Instant::now(),
                Ok(Some(Ok(Message::Close(_)))) => return End::Gone,
                Ok(Some(Ok(Message::Binary(_)))) => {
                    return End::Close { code: close_code::UNSUPPORTED, reason: "only text frames are taken" };
                }
            }
        }
    }

    /// After the connection has ended.
    pub(super) async fn leave(self) {
        self.house.hub.lose(&self.client, self.lease.is_some() && !self.lost).await;
    }

    fn next_deadline(&self) -> Instant {
        let idle = self.last_sign + IDLE_MAX;
        match self.lease {
            Some(lease) if !self.lost => idle.min(self.last_text + lease),
            Some(_) | None => idle,
        }
    }

    /// The lease has run out. The next text takes it up again.
    async fn lose(&mut self) {
        if self.lease.is_some() && !self.lost {
            self.lost = true;
            self.house.hub.lose(&self.client, true).await;
        }
    }

    /// A client that vanishes is no news; one that sends what is no WebSocket, or too much of it, is.
    fn broken(&self, error: axum::Error) -> End {
        let Ok(error) = error.into_inner().downcast::<tungstenite::Error>() else { return End::Gone };
        let (kind, code, reason) = match *error {
            tungstenite::Error::Protocol(ProtocolError::ResetWithoutClosingHandshake) => return End::Gone,
            tungstenite::Error::Protocol(_) => {
                ("websocket protocol", close_code::PROTOCOL, "not a WebSocket frame")
            }
            tungstenite::Error::Utf8(_) => ("websocket text", close_code::INVALID, "the text is not UTF-8"),
            tungstenite::Error::Capacity(_) => ("websocket too long", close_code::SIZE, "the frame is too long"),
            _ => return End::Gone,
        };
        self.house.counters.reject(kind, &self.client.name, &error);
        End::Close { code, reason }
    }

    fn hear(&mut self, text: &str) {
        let now = Instant::now();
        (self.last_text, self.last_sign, self.lost) = (now, now, false);
        let book = self.house.book();
        let frame = rpc::decode(text, &book.names);
        let calls = match &frame {
            Frame::One(call) => std::slice::from_ref(call),
            Frame::Batch(calls) => calls,
        };
        // Before anything else in the frame, wherever it stands.
        if calls.iter().any(|call| matches!(call.ask, Ok(Ask::Stop))) {
            self.house.stop.press(StopLane::Rpc, Some(self.client.id));
            self.want(|wants| wants.standstill = true);
        }
        match frame {
            Frame::One(call) => {
                let outbox = self.outbox.clone();
                self.take(&book, call, Box::new(move |reply| outbox.send(reply.text())));
            }
            Frame::Batch(calls) => self.take_batch(&book, calls),
        }
    }

    fn take_batch(&mut self, book: &Arc<Book>, calls: Vec<Call>) {
        let awaited = calls.iter().filter(|call| call.id.is_some()).count();
        let gathered = Arc::new(Mutex::new(Vec::with_capacity(awaited)));
        for call in calls {
            let (outbox, gathered) = (self.outbox.clone(), gathered.clone());
            self.take(
                book,
                call,
                Box::new(move |reply| {
                    let mut replies = gathered.lock().unwrap_or_else(PoisonError::into_inner);
                    replies.push(reply);
                    if replies.len() == awaited
                        && let Some(text) = rpc::batch(std::mem::take(&mut replies))
                    {
                        outbox.send(text);
                    }
                }),
            );
        }
    }

    /// Carries out one call. `back` is called once; never for a notification, to which nobody waits for an answer.
    fn take(&mut self, book: &Arc<Book>, call: Call, back: Box<dyn FnOnce(Reply) + Send>) {
        let Call { id, key, sent, ask } = call;
        let back = move |reply: &dyn Fn(&Id) -> Reply| {
            if let Some(id) = &id {
                back(reply(id));
            }
        };
        if !matches!(ask, Ok(Ask::Stop))
            && let Err(why) = self.may_ask(matches!(ask, Ok(Ask::Stick { .. })))
        {
            self.house.counters.reject(why.counter(), &self.client.name, &why);
            return back(&|id| Reply::error(id, &Error::from(why.clone())));
        }
        match ask {
            Err(error) => {
                let kind = error.counter().unwrap_or("names");
                let why = if error.reasons.is_empty() { error.message.clone() } else { error.reasons.join("; ") };
                self.house.counters.reject(kind, &self.client.name, &why);
                back(&|id| Reply::error(id, &error));
            }
            Ok(Ask::Stop) => back(&Reply::taken),
            Ok(Ask::Status) => {
                let status = self.house.status_json(false);
                back(&|id| Reply::result(id, status.clone()));
            }
            Ok(Ask::Reload { accept: None }) => self.look_for_edits(back),
            Ok(Ask::Reload { accept: Some(hash) }) => {
                if let Err(reasons) = self.operator() {
                    return back(&|id| Reply::error(id, &Error::refused(reasons.clone())));
                }
                let told = Box::new(move |taken: Result<(), Vec<String>>| {
                    back(&|id| match &taken {
                        Ok(()) => Reply::result(id, json!({ "accepted": true })),
                        Err(reasons) => Reply::error(id, &Error::refused(reasons.clone())),
                    });
                });
                self.house.reload.accept(&self.house, &hash, told);
            }
            Ok(Ask::Take(asked)) => self.record(asked, key, back),
            Ok(Ask::Play(asked)) => self.play(asked, (key, sent), back),
            Ok(Ask::Survey(asked)) => self.survey(book.clone(), asked, back),
            Ok(Ask::Subscribe(subscribe)) => {
                self.subscribe(subscribe);
                let client = self.client.name.clone();
                back(&|id| Reply::subscribed(id, subscribe.hz, &client));
            }
            Ok(Ask::Verb(verb)) => self.request(book, Ok(verb), (key, sent), back),
            Ok(Ask::Hand(asked)) => {
                let verb = asked.verb(|name| self.house.hub.find(name));
                self.request(book, verb, (key, sent), back);
            }
            Ok(Ask::Stick { axis, kind, value }) => {
                let heard = self.house.hear_stick(&self.client, axis, kind, value);
                back(&|id| match &heard {
                    Ok(()) => Reply::result(id, json!({ "accepted": true })),
                    Err(reasons) => Reply::error(id, &Error::refused(reasons.clone())),
                });
            }
            // OSC's own; JSON-RPC has no such method.
            Ok(Ask::Watch { .. } | Ask::Unwatch) => {}
        }
    }

    /// Sends a request to the engine, if it names whom it may and comes from where it may.
    fn request(
        &self,
        book: &Book,
        verb: Result<Verb, Misheard>,
        (key, sent): (Option<Key>, Option<Timestamp>),
        back: impl FnOnce(&dyn Fn(&Id) -> Reply) + Send + 'static,
    ) {
        let believed = verb.and_then(|verb| self.house.believe(book, &verb, self.ip).map(|()| verb));
        let verb = match believed {
            Ok(verb) => verb,
            Err(why) => {
                self.house.counters.reject(why.counter(), &self.client.name, &why);
                return back(&|id| Reply::error(id, &Error::from(why.clone())));
            }
        };
        let age = self.age(sent);
        let house = self.house.clone();
        let reply = move |outcome| {
            let blame = if for_its_age(&outcome) { house.wall.blame() } else { None };
            house.tell(|words| back(&|id| Reply::outcome(id, &outcome, &words).with_reason(&blame)));
        };
        self.house.hub.ask(&self.client, Asked { verb, edition: book.edition, key, age }, Box::new(reply));
    }

    fn look_for_edits(&self, back: impl FnOnce(&dyn Fn(&Id) -> Reply) + Send + 'static) {
        let (house, client) = (self.house.clone(), self.client.clone());
        tokio::spawn(async move {
            let looked = reload::offer(house, client).await;
            back(&|id| match &looked {
                Ok(looked) => Reply::result(id, looked.json()),
                Err(reasons) => Reply::error(id, &Error::refused(reasons.clone())),
            });
        });
    }

    /// The disk may let it wait.
    fn record(&self, asked: TakeAsk, key: Option<Key>, back: impl FnOnce(&dyn Fn(&Id) -> Reply) + Send + 'static) {
        if let Err(reasons) = self.operator() {
            return back(&|id| Reply::error(id, &Error::refused(reasons.clone())));
        }
        let (house, by) = (self.house.clone(), (self.client.id, key));
        tokio::task::spawn_blocking(move || {
            let done = house.recordings.ask(&house.book().show, by, asked);
            back(&|id| match &done {
                Ok(done) => Reply::result(id, done.clone()),
                Err(why) => Reply::error(id, &Error::refused(vec![why.clone()])),
            });
        });
    }

    /// The disk and the proof may let it wait.
    fn survey(&self, book: Arc<Book>, asked: SurveyAsk, back: impl FnOnce(&dyn Fn(&Id) -> Reply) + Send + 'static) {
        if let Err(reasons) = self.operator() {
            return back(&|id| Reply::error(id, &Error::refused(reasons.clone())));
        }
        let (house, client) = (self.house.clone(), self.client.clone());
        tokio::spawn(async move {
            let done = survey::ask(house, client, book, asked).await;
            back(&|id| match &done {
                Ok(told) => Reply::result(id, told.clone()),
                Err(reasons) => Reply::error(id, &Error::refused(reasons.clone())),
            });
        });
    }

    /// Plans the take where nobody waits, and then asks the engine.
    fn play(
        &self,
        asked: PlayAsk,
        (key, sent): (Option<Key>, Option<Timestamp>),
        back: impl FnOnce(&dyn Fn(&Id) -> Reply) + Send + 'static,
    ) {
        if let Err(reasons) = self.operator() {
            return back(&|id| Reply::error(id, &Error::refused(reasons.clone())));
        }
        let (house, client) = (self.house.clone(), self.client.clone());
        let age = self.age(sent);
        tokio::task::spawn_blocking(move || playback::play(&house, &client, (key, age), &asked, Box::new(back)));
    }

    /// How long ago a request was sent.
    fn age(&self, sent: Option<Timestamp>) -> Option<Nanos> {
        sent.map(|sent| self.house.wall.age(Nanos(i64::try_from(sent.as_nanosecond()).unwrap_or(i64::MAX))))
    }

    /// Whether anything but a stop is taken from this client now. Sticks have a pace of their own.
    fn may_ask(&self, stick: bool) -> Result<(), Barred> {
        match &self.standing {
            Standing::StopOnly(why) => Err(why.clone()),
            Standing::In(pass) if !self.house.gate.stands(pass, self.ip) => Err(Barred::WrongToken),
            Standing::In(_) if stick => self.house.gate.pace_of_sticks(self.client.id),
            Standing::In(_) => self.house.gate.pace(self.client.id),
        }
    }

    fn operator(&self) -> Result<(), Vec<String>> {
        let (needs, has) = (Role::Operator, self.client.role);
        if has >= needs { Ok(()) } else { Err(self.house.reasons(&Refusal::one(Reason::Role { needs, has }))) }
    }

    fn subscribe(&mut self, subscribe: Subscribe) {
        let Subscribe { hz, lease, stage } = subscribe;
        self.lease = lease.map(|lease| Duration::from_nanos(lease.0.unsigned_abs()));
        self.want(|wants| *wants = Wants { hz, stage, events: hz > 0.0, standstill: wants.standstill });
    }

    /// A client that renews its lease by subscribing again, as before, changes nothing.
    fn want(&self, change: impl FnOnce(&mut Wants)) {
        self.wants.send_if_modified(|wants| {
            let before = *wants;
            change(wants);
            *wants != before
        });
    }
}

/// Whether a request was refused by the age that its `sent` gave it.
fn for_its_age(outcome: &Outcome) -> bool {
    let by_age = |reason: &Reason| matches!(reason, Reason::TooOld { .. } | Reason::FromTheFuture { .. });
    outcome.as_ref().is_err_and(|refusal| refusal.reasons.iter().any(by_age))
}
