//! Where requests of all roads meet on their way to the engine, and answers part again.
//!
//! Every request is answered exactly once: its answer is a [`Reply`], which can be called only once, and is either
//! called at once with a refusal or kept until the engine's answer comes. What any one link can keep under way is
//! bounded, and so is the whole; a link that asks for more is refused, the others notice nothing.

use std::collections::{BTreeMap, HashMap};
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use serde_json::Value;
use tokio::sync::oneshot;

use super::clock;
use super::journal::{Note, Notes};
use super::tally::Tally;
use super::tick_loop::IN_FLIGHT_MAX;
use crate::engine::{Accepted, Answer, ClientId, Key, Reason, Refusal, Request, RequestId, Role, Verb};
use crate::show::Nanos;
use crate::wire::Misheard;

/// Unanswered requests of one link at most.
pub const PENDING_MAX: usize = 32;
/// Clients whose names are remembered, for the words of status and events; beyond that, of those only that are linked.
const NAMES_MAX: usize = 4096;

/// Until the loss of a client, for which there was no room, is told again.
const TELL_AGAIN: Duration = Duration::from_millis(20);

/// What an answer says.
pub type Outcome = Result<Accepted, Refusal>;

/// Takes an answer to the client that waits for it. Called once, on a thread that must not be kept waiting.
pub type Reply = Box<dyn FnOnce(Outcome) + Send>;

/// One connection, or one sender of datagrams. Bounds are by link, so that a link that floods harms no other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LinkId(u64);

/// Who asks, and over which link. Several links may be one client: what it holds it may release over any of them.
#[derive(Clone, Debug)]
pub struct Client {
    pub id: ClientId,
    pub link: LinkId,
    pub role: Role,
    /// Such as `osc 127.0.0.1`.
    pub name: Arc<str>,
}

/// What a client asks, and what it said about the asking.
#[derive(Clone, Debug)]
pub struct Asked {
    pub verb: Verb,
    /// Of the show whose names it used; 0 if it names nothing of a show.
    pub edition: u32,
    pub key: Option<Key>,
    /// How old it was when it arrived, if it said when it was sent.
    pub age: Option<Nanos>,
}

impl Asked {
    pub fn now(verb: Verb) -> Asked {
        Asked::of(0, verb)
    }

    pub fn of(edition: u32, verb: Verb) -> Asked {
        Asked { verb, edition, key: None, age: None }
    }
}

pub struct Hub {
    inner: Mutex<Inner>,
    /// To the journal's scribe, if one is kept.
    notes: OnceLock<Notes>,
    pub counted: Counted,
}

/// What was asked, and what became of it.
#[derive(Debug, Default)]
pub struct Counted {
    /// By the word of the verb, accepted or not.
    pub requests: Tally<(&'static str, bool)>,
    /// By [`reason_kind`]. A refusal can have several reasons.
    pub reasons: Tally<String>,
}

struct Inner {
    requests: rtrb::Producer<Request>,
    last_request: u64,
    pending: HashMap<RequestId, Pending>,
    clients: BTreeMap<ClientId, Arc<str>>,
    last_client: u32,
    last_link: u64,
}

struct Pending {
    link: LinkId,
    verb: &'static str,
    reply: Reply,
}

impl Counted {
    fn answer(&self, verb: &'static str, outcome: &Outcome) {
        self.requests.add((verb, outcome.is_ok()));
        if let Err(refusal) = outcome {
            self.refusal(refusal);
        }
    }

    pub fn refusal(&self, refusal: &Refusal) {
        refusal.reasons.iter().for_each(|reason| self.reasons.add(reason_kind(reason)));
    }
}

/// The word that a reason has in the journal: `not-armed`, `start-pose`.
fn reason_kind(reason: &Reason) -> String {
    match serde_json::to_value(reason) {
        Ok(Value::String(kind)) => kind,
        Ok(Value::Object(with_details)) => {
            with_details.into_iter().next().map_or_else(String::new, |(kind, _)| kind)
        }
        Ok(_) | Err(_) => String::new(),
    }
}

impl Hub {
    /// `requests` is the way into the tick thread, with room for [`IN_FLIGHT_MAX`].
    pub fn new(requests: rtrb::Producer<Request>) -> Hub {
        let inner = Inner {
            requests,
            last_request: 0,
            pending: HashMap::new(),
            clients: BTreeMap::new(),
            last_client: 0,
            last_link: 0,
        };
        Hub { inner: Mutex::new(inner), notes: OnceLock::new(), counted: Counted::default() }
    }

    /// A new link of the client of this name; a name that is known is the client that it was.
    pub fn link(&self, name: &str, role: Role) -> Client {
        let mut inner = self.lock();
        let link = inner.next_link();
        let known = inner.last_client;
        let (id, name) = inner.client(name);
        if inner.last_client != known {
            self.note(|| Note::Client { client: id, name: name.to_string() });
        }
        Client { id, link, role, name }
    }

    pub fn name_of(&self, client: ClientId) -> String {
        let inner = self.lock();
        inner.clients.get(&client).map_or_else(|| format!("client {}", client.0), |name| name.to_string())
    }

    /// The client of this name. A sender of OSC may be named before it has said anything.
    ///
    /// # Errors
    /// A name that nobody here has.
    pub fn find(&self, name: &str) -> Result<ClientId, Misheard> {
        let known = |inner: &Inner| inner.clients.iter().find(|(_, known)| &***known == name).map(|(&id, _)| id);
        let found = known(&self.lock());
        let is_sender = || name.strip_prefix("osc ").is_some_and(|address| address.parse::<IpAddr>().is_ok());
        match found {
            Some(client) => Ok(client),
            None if is_sender() => Ok(self.link(name, Role::Observer).id),
            None => {
                let clients: Vec<String> = self.lock().clients.values().map(|name| name.to_string()).collect();
                Err(Misheard::unknown("there is no client", name, &clients))
            }
        }
    }

    /// Sends a request on its way. The reply is called exactly once: now if there is no room, else with the engine's
    /// answer.
    pub fn ask(&self, client: &Client, asked: Asked, reply: Reply) {
        let verb = asked.verb.word();
        tracing::debug!(verb, client = &*client.name, "{} asks: {verb}", client.name);
        let at = clock::now();
        let arrived = |request| self.note(|| Note::Arrived { request, at });
        // The lock is given back before the reply is called, which may ask again.
        let admitted = self.lock().admit(client, asked, reply, arrived);
        if let Err((reply, limit)) = admitted {
            let outcome = Err(Refusal::one(Reason::TooMany { limit }));
            self.counted.answer(verb, &outcome);
            reply(outcome);
        }
    }

    /// From now on names and arrivals are told to the journal.
    pub fn tell(&self, notes: Notes) {
        let _ = self.notes.set(notes);
    }

    fn note(&self, note: impl FnOnce() -> Note) {
        if let Some(notes) = self.notes.get() {
            notes.send(note());
        }
    }

    /// Takes the engine's answer to the one who waits.
    pub fn answer(&self, answer: Answer) {
        let pending = self.lock().pending.remove(&answer.id);
        match pending {
            Some(Pending { verb, reply, .. }) => {
                self.counted.answer(verb, &answer.outcome);
                reply(answer.outcome);
            }
            None => tracing::error!("request {} was answered twice, or never asked", answer.id.0),
        }
    }

    /// Tells the engine that a link has ended, or with `leased` that its lease ran out. It must learn of it: while
    /// there is no room, again and again.
    pub async fn lose(&self, client: &Client, leased: bool) {
        loop {
            // A link of its own, since the lost one's may be full of what it asked. The client is the one that it was, though
            // its name be forgotten: what it has in hand is nobody's then.
            let of_its_own = Client { link: self.lock().next_link(), ..client.clone() };
            let (told, answered) = oneshot::channel();
            let reply = Box::new(move |outcome: Outcome| drop(told.send(outcome)));
            self.ask(&of_its_own, Asked::now(Verb::ClientLost { leased }), reply);
            match answered.await {
                Ok(Err(refusal))
                    if refusal.reasons.iter().any(|reason| matches!(reason, Reason::TooMany { .. })) =>
                {
                    tokio::time::sleep(TELL_AGAIN).await;
                }
                Ok(_) | Err(_) => return,
            }
        }
    }

    /// What a request under way asks.
    pub fn verb_of(&self, request: RequestId) -> Option<&'static str> {
        self.lock().pending.get(&request).map(|pending| pending.verb)
    }

    /// Requests under way now.
    pub fn in_flight(&self) -> usize {
        self.lock().pending.len()
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Inner {
    fn next_link(&mut self) -> LinkId {
        self.last_link += 1;
        LinkId(self.last_link)
    }

    fn client(&mut self, name: &str) -> (ClientId, Arc<str>) {
        if let Some((&id, known)) = self.clients.iter().find(|(_, known)| &***known == name) {
            return (id, known.clone());
        }
        self.last_client += 1;
        let (id, name) = (ClientId(self.last_client), Arc::<str>::from(name));
        self.clients.insert(id, name.clone());
        // Who is still linked keeps its name, by which others hand a rig over to it.
        let gone = |(&id, name): (&ClientId, &Arc<str>)| (Arc::strong_count(name) == 1).then_some(id);
        if self.clients.len() > NAMES_MAX
            && let Some(oldest) = self.clients.iter().find_map(gone)
        {
            self.clients.remove(&oldest);
        }
        (id, name)
    }

    /// Gives the reply back, with the limit that was reached, if there is no room. `arrived` is told the number before
    /// the tick thread can have it.
    fn admit(
        &mut self,
        client: &Client,
        asked: Asked,
        reply: Reply,
        arrived: impl FnOnce(RequestId),
    ) -> Result<(), (Reply, u32)> {
        let of_link = self.pending.values().filter(|pending| pending.link == client.link).count();
        if of_link >= PENDING_MAX {
            return Err((reply, PENDING_MAX as u32));
        }
        if self.pending.len() >= IN_FLIGHT_MAX {
            return Err((reply, IN_FLIGHT_MAX as u32));
        }
        let id = RequestId(self.last_request + 1);
        let Asked { verb, edition, key, age } = asked;
        let word = verb.word();
        let request = Request { id, client: client.id, role: client.role, edition, key, age, verb };
        if self.requests.is_full() {
            return Err((reply, IN_FLIGHT_MAX as u32));
        }
        arrived(id);
        let _ = self.requests.push(request);
        self.last_request = id.0;
        self.pending.insert(id, Pending { link: client.link, verb: word, reply });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};

    use super::*;

    fn hub(room: usize) -> (Hub, rtrb::Consumer<Request>) {
        let (requests, taken) = rtrb::RingBuffer::new(room);
        (Hub::new(requests), taken)
    }

    /// Counts accepted and refused apart.
    #[derive(Default)]
    struct Tally {
        accepted: AtomicUsize,
        refused: AtomicUsize,
    }

    impl Tally {
        fn reply(self: &Arc<Tally>) -> Reply {
            let tally = self.clone();
            Box::new(move |outcome| {
                let count = if outcome.is_ok() { &tally.accepted } else { &tally.refused };
                count.fetch_add(1, Ordering::Relaxed);
            })
        }

        fn read(&self) -> (usize, usize) {
            (self.accepted.load(Ordering::Relaxed), self.refused.load(Ordering::Relaxed))
        }
    }

    fn answer_all(hub: &Hub, taken: &mut rtrb::Consumer<Request>) {
        while let Ok(request) = taken.pop() {
            hub.answer(Answer { id: request.id, client: request.client, outcome: Ok(Accepted::Done) });
        }
    }

    #[test]
    fn every_request_is_answered_once_also_those_without_room() {
        let (hub, mut taken) = hub(IN_FLIGHT_MAX);
        let tally = Arc::new(Tally::default());
        let client = hub.link("a", Role::Caller);
        (0..100).for_each(|_| hub.ask(&client, Asked::now(Verb::Go { cue: None }), tally.reply()));
        assert_eq!(tally.read(), (0, 100 - PENDING_MAX));
        answer_all(&hub, &mut taken);
        assert_eq!(tally.read(), (PENDING_MAX, 100 - PENDING_MAX));
        assert_eq!(hub.in_flight(), 0);
    }

    #[test]
    fn a_client_that_floods_leaves_room_for_another() {
        let (hub, mut taken) = hub(IN_FLIGHT_MAX);
        let (flood, other) = (Arc::new(Tally::default()), Arc::new(Tally::default()));
        let flooding = hub.link("flooding", Role::Caller);
        (0..10_000).for_each(|_| hub.ask(&flooding, Asked::now(Verb::Arm), flood.reply()));
        hub.ask(&hub.link("other", Role::Operator), Asked::now(Verb::Disarm), other.reply());
        answer_all(&hub, &mut taken);
        assert_eq!(other.read(), (1, 0));
    }

    #[test]
    fn many_clients_together_stay_below_what_the_tick_thread_was_promised() {
        let (hub, mut taken) = hub(IN_FLIGHT_MAX);
        let tally = Arc::new(Tally::default());
        for client in 0..50 {
            let client = hub.link(&client.to_string(), Role::Caller);
            (0..PENDING_MAX).for_each(|_| hub.ask(&client, Asked::now(Verb::Arm), tally.reply()));
        }
        assert_eq!(hub.in_flight(), IN_FLIGHT_MAX);
        answer_all(&hub, &mut taken);
        assert_eq!(tally.read(), (IN_FLIGHT_MAX, 50 * PENDING_MAX - IN_FLIGHT_MAX));
    }

    #[test]
    fn a_refused_request_uses_no_number() {
        let (hub, mut taken) = hub(1);
        let tally = Arc::new(Tally::default());
        let client = hub.link("a", Role::Caller);
        (0..3).for_each(|_| hub.ask(&client, Asked::now(Verb::Arm), tally.reply()));
        assert_eq!(taken.pop().expect("the first").id, RequestId(1));
        hub.ask(&client, Asked::now(Verb::Arm), tally.reply());
        assert_eq!(taken.pop().expect("the fourth").id, RequestId(2));
    }

    #[test]
    fn a_name_is_one_client_and_names_do_not_pile_up() {
        let (hub, _taken) = hub(1);
        let first = hub.link("osc 127.0.0.1", Role::Caller).id;
        assert_eq!(hub.link("osc 127.0.0.1", Role::Caller).id, first);
        assert_eq!(hub.name_of(first), "osc 127.0.0.1");
        (0..2 * NAMES_MAX).for_each(|other| drop(hub.link(&other.to_string(), Role::Caller)));
        assert!(hub.lock().clients.len() <= NAMES_MAX);
        assert_eq!(hub.name_of(first), format!("client {}", first.0));
    }

    #[tokio::test]
    async fn who_is_lost_is_the_client_that_it_was_however_many_came_since() {
        let (hub, mut taken) = hub(IN_FLIGHT_MAX);
        let long_here = hub.link("long here", Role::Operator);
        (0..2 * NAMES_MAX).for_each(|other| drop(hub.link(&other.to_string(), Role::Caller)));
        assert_eq!(hub.name_of(long_here.id), "long here");
        let answered = async {
            let told = loop {
                match taken.pop() {
                    Ok(request) => break request,
                    Err(_) => tokio::task::yield_now().await,
                }
            };
            hub.answer(Answer { id: told.id, client: told.client, outcome: Ok(Accepted::Done) });
            told
        };
        let ((), told) = tokio::join!(hub.lose(&long_here, false), answered);
        assert_eq!((told.client, told.verb), (long_here.id, Verb::ClientLost { leased: false }));
    }
}
