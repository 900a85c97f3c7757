//! The thread on which the show runs.
//!
//! It wakes at absolute deadlines, reads the stop road before anything else, takes what requests have arrived, lets
//! the cycle run once and passes on what came of it. Nothing here waits: requests and words travel through rings
//! whose other ends belong to other threads, and the status is left in a buffer for whoever looks.
//!
//! ```text
//!   stop road ──┐                       ┌── words (answers, events) ──> post thread ──> clients
//!   requests ───┴──> [ tick: cycle ] ───┴── status (newest only) ────> whoever reads
//! ```

use std::sync::Arc;
use std::thread::Thread;

use arrayvec::ArrayVec;
use rustix::mm::MlockAllFlags;
use rustix::process::{Resource, getrlimit};
use thread_priority::unix::{
    RealtimeThreadSchedulePolicy, ThreadSchedulePolicy, set_thread_priority_and_policy, thread_native_id,
};
use thread_priority::{ThreadPriority, ThreadPriorityValue};

use super::clock;
use super::journal::{Keeping, Pen};
use super::pulse::Pulse;
use super::recording::Reel;
use super::status_copy::copy_status;
use super::sticks::StickReader;
use super::stop_road::StopRoad;
use crate::engine::{Answer, Engine, Event, Refusal, Request, Status, StickSample, StopCalls, TickOutput};
use crate::rig::{Exchange, SimFaults};
use crate::show::Nanos;

/// Requests that are under way, from their listener until their answer, at most. The hub keeps this promise.
pub const IN_FLIGHT_MAX: usize = 512;
/// Requests that one tick takes in. The rest waits for the next, so that a flood cannot make a tick late.
pub const REQUESTS_A_TICK: usize = 16;
/// Events on their way out at most.
pub const EVENTS_MAX: usize = 2048;

/// One word of the engine, on its way out.
#[derive(Debug)]
pub enum Word {
    Answer(Answer, Due),
    Event(Event),
    /// The show was replaced, and words from here on are of this edition; or why it was not. The engine that is no longer
    /// needed goes with it, so that its memory is given back elsewhere.
    Edited {
        engine: Box<Engine>,
        outcome: Result<u32, Refusal>,
    },
}

/// An answer follows the record of its tick, but not later than this.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Due {
    pub tick: u64,
    pub latest: Nanos,
}

/// How long an answer waits for its record at most: a slow disk is not felt.
const ANSWER_WITHIN: Nanos = Nanos(30_000_000);
/// The grain of the lateness that the engine is told, which answers tens of milliseconds: so that in a journal most ticks
/// are as late as the one before.
const LATE_GRAIN: i64 = 1_000_000;

/// What the loop turns: the engine with its drivers, or in a test something that misbehaves.
pub trait Turn: Send {
    fn turn<'a>(
        &'a mut self,
        stop: StopCalls,
        requests: &'a [Request],
        late: Nanos,
        shell: Shell<'_>,
    ) -> Exchange<'a>;

    /// Puts the engine of an edited show in the place of the one that runs, if it may be now. Gives the other one back, and
    /// the new edition.
    fn replace(&mut self, next: Box<Engine>) -> (Box<Engine>, Result<u32, Refusal>);

    /// The faults that its simulated rigs are asked to show; `None` if it has no such rigs.
    fn faults(&self) -> Option<SimFaults>;
}

/// What the shell knows of itself in this tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shell<'a> {
    /// What sticks and dials said since the last tick.
    pub sticks: &'a [StickSample],
    /// Withhold the heartbeat of every rig.
    pub cut: bool,
    /// The journal that is to be kept is not.
    pub unrecorded: bool,
}

/// The ends of the rings and buffers that belong to the tick thread, and what it shares.
pub struct TickLoop<T> {
    pub cycle: T,
    pub tick: Nanos,
    pub stop: Arc<StopRoad>,
    pub pulse: Arc<Pulse>,
    pub requests: rtrb::Consumer<Request>,
    pub sticks: StickReader,
    /// Engines of edited shows.
    pub engines: rtrb::Consumer<Box<Engine>>,
    pub words: rtrb::Producer<Word>,
    pub status: triple_buffer::Input<Status>,
    /// `None`: no journal is kept.
    pub pen: Option<Pen>,
    /// `None`: no take can be recorded.
    pub reel: Option<Reel>,
    pub keeping: Arc<Keeping>,
    /// The thread that carries the words on. Unparking it takes no lock.
    pub post: Thread,
}

impl<T: Turn> TickLoop<T> {
    /// Runs until asked to end.
    pub fn run(mut self) {
        let mut taken = Vec::with_capacity(REQUESTS_A_TICK);
        let mut deadline = clock::now().saturating_add(self.tick);
        while !self.pulse.asked_to_end() {
            clock::sleep_until(deadline);
            let now = clock::now();
            let late = Nanos((now.0 - deadline.0).max(0));
            self.pulse.lateness.add(late);
            self.step(now, Nanos(late.0 - late.0 % LATE_GRAIN), &mut taken);
            self.pulse.beat();
            deadline = self.next_deadline(deadline);
        }
    }

    /// One tick, begun at `now`. `taken` is only lent, for its memory.
    fn step(&mut self, now: Nanos, late: Nanos, taken: &mut Vec<Request>) {
        let stop = self.stop.read();
        taken.clear();
        while taken.len() < REQUESTS_A_TICK
            && let Ok(request) = self.requests.pop()
        {
            taken.push(request);
        }
        if let Ok(next) = self.engines.pop() {
            // The one tick that may take memory, for a status of other lengths: nothing runs.
            let (engine, outcome) = self.cycle.replace(next);
            if let (Some(pen), Ok(_)) = (&mut self.pen, &outcome) {
                pen.turn_over();
            }
            let told = self.words.push(Word::Edited { engine, outcome });
            debug_assert!(told.is_ok(), "events leave room for answers, and so for this");
        }
        let mut sticks = ArrayVec::new();
        self.sticks.read(&mut sticks);
        let shell = Shell { sticks: &sticks, cut: self.pulse.cut(), unrecorded: self.keeping.fails() };
        let exchange = self.cycle.turn(stop, taken, late, shell);
        if let Some(pen) = &mut self.pen {
            pen.write(now, &exchange);
        }
        if let Some(reel) = &mut self.reel {
            reel.write(exchange.output.setpoints);
        }
        let output = exchange.output;
        copy_status(self.status.input_buffer_mut(), output.status);
        self.status.publish();
        let spoke = send_words(&mut self.words, &output, now, &self.pulse);
        if spoke {
            self.post.unpark();
        }
    }

    /// The next deadline of the same rhythm that lies ahead. Those that passed while the loop was busy are left out:
    /// a burst of ticks to catch up would run the show faster than its clock.
    fn next_deadline(&self, last: Nanos) -> Nanos {
        let next = last.saturating_add(self.tick);
        let behind = clock::now().0 - next.0;
        if behind < 0 {
            return next;
        }
        let missed = behind / self.tick.0 + 1;
        self.pulse.lateness.add_overruns(missed as u64);
        Nanos(next.0 + missed * self.tick.0)
    }
}

/// Answers always find room: the ring is longer than events may fill it by as many answers as can be under way.
fn send_words(words: &mut rtrb::Producer<Word>, output: &TickOutput<'_>, now: Nanos, pulse: &Pulse) -> bool {
    let due = Due { tick: output.status.tick, latest: now.saturating_add(ANSWER_WITHIN) };
    for event in output.events {
        if words.slots() <= IN_FLIGHT_MAX + 1 || words.push(Word::Event(event.clone())).is_err() {
            pulse.lose_event();
        }
    }
    for answer in output.answers {
        let sent = words.push(Word::Answer(answer.clone(), due));
        debug_assert!(sent.is_ok(), "more answers than requests under way");
    }
    !output.events.is_empty() || !output.answers.is_empty()
}

/// A ring long enough for [`send_words`], and for one edit.
pub fn word_ring() -> (rtrb::Producer<Word>, rtrb::Consumer<Word>) {
    rtrb::RingBuffer::new(EVENTS_MAX + IN_FLIGHT_MAX + 1)
}

/// Keeps the memory of the process in place, where permitted, so that no tick waits for a page.
pub fn lock_memory() -> Result<(), String> {
    // Under a finite limit, locking what is yet to come would make a later allocation fail; better a late tick.
    let unlimited = getrlimit(Resource::Memlock).current.is_none();
    let flags = if unlimited {
        MlockAllFlags::CURRENT | MlockAllFlags::FUTURE | MlockAllFlags::ONFAULT
    } else {
        MlockAllFlags::CURRENT
    };
    rustix::mm::mlockall(flags).map_err(|error| error.to_string())
}

/// Above what an ordinary thread can have, and apart, so that the tick goes before the stop port.
pub const TICK_PRIORITY: u8 = 70;
pub const STOP_PORT_PRIORITY: u8 = 60;

/// Puts the calling thread before all ordinary ones, where permitted. `priority`: 0 to 99.
pub fn take_real_time_priority(priority: u8) -> Result<(), String> {
    let priority = ThreadPriorityValue::try_from(priority).map_err(|error| error.to_string())?;
    set_thread_priority_and_policy(
        thread_native_id(),
        ThreadPriority::Crossplatform(priority),
        ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo),
    )
    .map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::engine::{Accepted, ClientId, EventKind, RequestId, Role, StopLane, TickInput, Verb};

    const TICK: Nanos = Nanos(2_000_000);

    /// Answers every request, counts, and dawdles where it is told to.
    struct Echo {
        status: Status,
        answers: Vec<Answer>,
        events: Vec<Event>,
        dawdle_at: u64,
    }

    impl Turn for Echo {
        fn turn<'a>(
            &'a mut self,
            stop: StopCalls,
            requests: &'a [Request],
            late: Nanos,
            _: Shell<'_>,
        ) -> Exchange<'a> {
            self.status.tick += 1;
            self.status.rate = f64::from(stop.generations[0]);
            self.status.stop_bound = late.seconds();
            if self.status.tick == self.dawdle_at {
                std::thread::sleep(Duration::from_millis(15));
            }
            let answer =
                |request: &Request| Answer { id: request.id, client: request.client, outcome: Ok(Accepted::Done) };
            self.answers = requests.iter().map(answer).collect();
            let input = TickInput { stop, requests, sticks: &[], rigs: &[], axes: &[], late, unrecorded: false };
            let (answers, events, status) = (&self.answers, &self.events, &self.status);
            Exchange { input, output: TickOutput { rigs: &[], setpoints: &[], answers, events, status } }
        }

        fn replace(&mut self, next: Box<Engine>) -> (Box<Engine>, Result<u32, Refusal>) {
            (next, Err(Refusal::default()))
        }

        fn faults(&self) -> Option<SimFaults> {
            None
        }
    }

    fn empty_status() -> Status {
        Status {
            edition: 1,
            tick: 0,
            armed: false,
            master: 1.0,
            rate: 0.0,
            stop_bound: 0.0,
            held: false,
            stopped: None,
            faults: Default::default(),
            standby: Default::default(),
            running: Default::default(),
            waiting: Default::default(),
            way: None,
            cues: Vec::new(),
            rigs: Vec::new(),
            axes: Vec::new(),
            inputs: Vec::new(),
            interlocks: Vec::new(),
            ways_out: Default::default(),
        }
    }

    struct Outside {
        stop: Arc<StopRoad>,
        pulse: Arc<Pulse>,
        requests: rtrb::Producer<Request>,
        words: rtrb::Consumer<Word>,
        status: triple_buffer::Output<Status>,
    }

    fn echo_loop(events: usize, dawdle_at: u64) -> (TickLoop<Echo>, Outside) {
        let event = Event { seq: 1, tick: 1, kind: EventKind::Reset };
        let cycle = Echo { status: empty_status(), answers: Vec::new(), events: vec![event; events], dawdle_at };
        let (stop, pulse) = (Arc::new(StopRoad::new()), Arc::new(Pulse::default()));
        let (requests_in, requests) = rtrb::RingBuffer::new(IN_FLIGHT_MAX);
        let (_, engines) = rtrb::RingBuffer::new(1);
        let (words, words_out) = word_ring();
        let (status, status_out) = triple_buffer::triple_buffer(&empty_status());
        let post = std::thread::current();
        let this = TickLoop {
            cycle,
            tick: TICK,
            stop: stop.clone(),
            pulse: pulse.clone(),
            requests,
            sticks: crate::daemon::sticks::sticks().1,
            engines,
            words,
            status,
            pen: None,
            reel: None,
            keeping: Arc::default(),
            post,
        };
        (this, Outside { stop, pulse, requests: requests_in, words: words_out, status: status_out })
    }

    fn request(id: u64) -> Request {
        let client = ClientId(1);
        Request {
            id: RequestId(id),
            client,
            role: Role::Operator,
            edition: 0,
            key: None,
            age: None,
            verb: Verb::Arm,
        }
    }

    #[test]
    fn a_stop_is_seen_by_the_very_next_tick_though_the_queue_is_full() {
        let (mut this, mut outside) = echo_loop(0, 0);
        (0..).map_while(|id| outside.requests.push(request(id)).ok()).count();
        outside.stop.press(StopLane::ALL[0], None);
        this.step(Nanos::ZERO, Nanos::ZERO, &mut Vec::with_capacity(REQUESTS_A_TICK));
        assert_eq!(outside.status.read().rate, 1.0);
        assert_eq!(outside.words.slots(), REQUESTS_A_TICK, "the queue is worked off bit by bit");
    }

    #[test]
    fn no_answer_is_lost_while_nobody_collects_the_events() {
        let (mut this, mut outside) = echo_loop(100, 0);
        let mut taken = Vec::with_capacity(REQUESTS_A_TICK);
        (0..100).for_each(|_| this.step(Nanos::ZERO, Nanos::ZERO, &mut taken));
        assert!(outside.pulse.events_lost() > 0);
        for id in 0..IN_FLIGHT_MAX as u64 {
            outside.requests.push(request(id)).expect("the ring holds what may be under way");
        }
        (0..IN_FLIGHT_MAX / REQUESTS_A_TICK).for_each(|_| this.step(Nanos::ZERO, Nanos::ZERO, &mut taken));
        let mut answered = Vec::new();
        while let Ok(word) = outside.words.pop() {
            match word {
                Word::Answer(answer, _) => answered.push(answer.id.0),
                Word::Event(_) | Word::Edited { .. } => {}
            }
        }
        assert_eq!(answered, (0..IN_FLIGHT_MAX as u64).collect::<Vec<_>>());
    }

    #[test]
    fn a_tick_that_dawdles_leaves_ticks_out_and_keeps_the_rhythm() {
        let (this, mut outside) = echo_loop(0, 5);
        let pulse = outside.pulse.clone();
        let started = clock::now();
        let thread = std::thread::spawn(move || this.run());
        while pulse.beats() < 40 {
            std::thread::sleep(Duration::from_millis(1));
        }
        pulse.ask_to_end();
        thread.join().expect("the loop ends when asked to");
        let ticks = pulse.beats() as i64;
        let overruns = pulse.lateness.figures().overruns as i64;
        assert!(overruns >= 6, "15 ms are more than six ticks; left out: {overruns}");
        // Ticks done and ticks left out together are the time that has passed: nothing was caught up.
        let spent = clock::now().0 - started.0;
        assert!((ticks + overruns) * TICK.0 <= spent + TICK.0, "{ticks} + {overruns} in {spent} ns");
        assert_eq!(outside.status.read().tick, ticks as u64);
    }
}
