//! The tick thread's end of the journal: what a tick was, into rings that never grow.

use std::sync::Arc;
use std::thread::Thread;

use super::keeping::Keeping;
use crate::daemon::clock;
use crate::engine::{Answer, AxisReport, Event, Request, RigReport, StickSample, StopCalls, TickInput};
use crate::journal::{Turned, digest};
use crate::rig::Exchange;
use crate::show::{Nanos, Show};

/// Ticks that wait for the scribe at most: four seconds of a tick of 2 ms.
const TICKS_MAX: usize = 2048;
/// Requests, samples of sticks, answers and events that wait at most, of each.
const WORDS_MAX: usize = 2048;

/// One tick, but for what lies in the other self.
#[derive(Clone, Copy, Debug)]
struct Head {
    tick: u64,
    /// When the tick began, on the monotonic clock.
    at: Nanos,
    stop: StopCalls,
    late: Nanos,
    unrecorded: bool,
    replaced: bool,
    digest: u64,
    requests: usize,
    sticks: usize,
    rigs: usize,
    axes: usize,
    answers: usize,
    events: usize,
}

/// Writes ticks. Takes no memory and never waits; what finds no room is lost, and said to be.
pub struct Pen {
    heads: rtrb::Producer<Head>,
    requests: rtrb::Producer<Request>,
    sticks: rtrb::Producer<StickSample>,
    rigs: rtrb::Producer<RigReport>,
    axes: rtrb::Producer<AxisReport>,
    answers: rtrb::Producer<Answer>,
    events: rtrb::Producer<Event>,
    keeping: Arc<Keeping>,
    /// The next tick is the first of another show.
    replaced: bool,
    /// To be woken when somebody waits for an answer. Unparking it takes no lock.
    scribe: Option<Thread>,
}

/// The scribe's end: one page a tick.
pub struct Pages {
    heads: rtrb::Consumer<Head>,
    requests: rtrb::Consumer<Request>,
    sticks: rtrb::Consumer<StickSample>,
    rigs: rtrb::Consumer<RigReport>,
    axes: rtrb::Consumer<AxisReport>,
    answers: rtrb::Consumer<Answer>,
    events: rtrb::Consumer<Event>,
}

/// One tick, as the scribe takes it out. Lent again and again for its memory.
#[derive(Default)]
pub struct Page {
    pub tick: u64,
    /// When the tick began, on the monotonic clock.
    pub at: Nanos,
    stop: StopCalls,
    late: Nanos,
    unrecorded: bool,
    /// The first tick of another show.
    pub replaced: bool,
    digest: u64,
    pub requests: Vec<Request>,
    sticks: Vec<StickSample>,
    rigs: Vec<RigReport>,
    axes: Vec<AxisReport>,
    pub answers: Vec<Answer>,
    pub events: Vec<Event>,
}

/// Both ends, with room for a show of this size.
pub fn pen(show: &Show, keeping: Arc<Keeping>) -> (Pen, Pages) {
    let (heads_in, heads) = rtrb::RingBuffer::new(TICKS_MAX);
    let (requests_in, requests) = rtrb::RingBuffer::new(WORDS_MAX);
    let (sticks_in, sticks) = rtrb::RingBuffer::new(WORDS_MAX);
    let (rigs_in, rigs) = rtrb::RingBuffer::new(TICKS_MAX * show.rigs.len());
    let (axes_in, axes) = rtrb::RingBuffer::new(TICKS_MAX * show.axes.len());
    let (answers_in, answers) = rtrb::RingBuffer::new(WORDS_MAX);
    let (events_in, events) = rtrb::RingBuffer::new(WORDS_MAX);
    let pen = Pen {
        heads: heads_in,
        requests: requests_in,
        sticks: sticks_in,
        rigs: rigs_in,
        axes: axes_in,
        answers: answers_in,
        events: events_in,
        keeping,
        replaced: false,
        scribe: None,
    };
    (pen, Pages { heads, requests, sticks, rigs, axes, answers, events })
}

impl Pen {
    /// Whom to wake when something was said.
    pub fn set_scribe(&mut self, scribe: Thread) {
        self.scribe = Some(scribe);
    }

    /// The next tick is the first of the show that was laid out last.
    pub fn turn_over(&mut self) {
        self.replaced = true;
    }

    /// One tick, which began at `at`.
    pub fn write(&mut self, at: Nanos, exchange: &Exchange<'_>) {
        let Exchange { input, output } = exchange;
        let room = self.requests.slots() >= input.requests.len()
            && self.sticks.slots() >= input.sticks.len()
            && self.rigs.slots() >= input.rigs.len()
            && self.axes.slots() >= input.axes.len()
            && self.answers.slots() >= output.answers.len()
            && self.events.slots() >= output.events.len()
            && self.heads.slots() > 0;
        if !room {
            self.keeping.overflow();
            return;
        }
        push_all(&mut self.requests, input.requests);
        push_all(&mut self.sticks, input.sticks);
        push_all(&mut self.rigs, input.rigs);
        push_all(&mut self.axes, input.axes);
        push_all(&mut self.answers, output.answers);
        push_all(&mut self.events, output.events);
        let head = Head {
            tick: output.status.tick,
            at,
            stop: input.stop,
            late: input.late,
            unrecorded: input.unrecorded,
            replaced: std::mem::take(&mut self.replaced),
            digest: digest(output),
            requests: input.requests.len(),
            sticks: input.sticks.len(),
            rigs: input.rigs.len(),
            axes: input.axes.len(),
            answers: output.answers.len(),
            events: output.events.len(),
        };
        // Last, so that whoever takes it out finds all the rest.
        let _ = self.heads.push(head);
        let spoke = head.answers + head.events > 0;
        if let Some(scribe) = self.scribe.as_ref().filter(|_| spoke) {
            scribe.unpark();
        }
    }
}

/// There is room: it was asked for before.
fn push_all<T: Clone>(ring: &mut rtrb::Producer<T>, items: &[T]) {
    if let Ok(chunk) = ring.write_chunk_uninit(items.len()) {
        chunk.fill_from_iter(items.iter().cloned());
    }
}

fn take_all<T>(ring: &mut rtrb::Consumer<T>, count: usize, into: &mut Vec<T>) {
    into.clear();
    if let Ok(chunk) = ring.read_chunk(count) {
        into.extend(chunk);
    }
}

impl Pages {
    /// The tick thread has ended, and writes no more.
    pub fn is_abandoned(&self) -> bool {
        self.heads.is_abandoned()
    }

    /// Takes the next tick out; false if there is none.
    pub fn next(&mut self, page: &mut Page) -> bool {
        let Ok(head) = self.heads.pop() else { return false };
        take_all(&mut self.requests, head.requests, &mut page.requests);
        take_all(&mut self.sticks, head.sticks, &mut page.sticks);
        take_all(&mut self.rigs, head.rigs, &mut page.rigs);
        take_all(&mut self.axes, head.axes, &mut page.axes);
        take_all(&mut self.answers, head.answers, &mut page.answers);
        take_all(&mut self.events, head.events, &mut page.events);
        (page.tick, page.at, page.digest) = (head.tick, head.at, head.digest);
        (page.stop, page.late, page.unrecorded) = (head.stop, head.late, head.unrecorded);
        page.replaced = head.replaced;
        true
    }
}

impl Page {
    /// For the recorder; `waited` beside the requests.
    pub fn turned<'a>(&'a self, waited: &'a [Nanos]) -> Turned<'a> {
        let Page { stop, late, unrecorded, .. } = *self;
        let (requests, sticks, rigs, axes) = (&self.requests, &self.sticks, &self.rigs, &self.axes);
        let input = TickInput { stop, requests, sticks, rigs, axes, late, unrecorded };
        let (answers, events) = (&self.answers, &self.events);
        Turned { tick: self.tick, input, waited, answers, events, digest: self.digest }
    }

    /// The wall clock as the tick began, as far as both clocks have run alike since.
    pub fn wall(&self) -> Nanos {
        Nanos(clock::wall().0 - (clock::now().0 - self.at.0))
    }
}
