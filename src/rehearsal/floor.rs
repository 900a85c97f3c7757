//! The floor: the engine and its simulated rigs in virtual time, the sensors that feed it, and everyone's eyes on it.

use std::ops::ControlFlow;
use std::sync::Arc;

use super::record::{Ending, Options, Refused};
use super::watch::Watch;
use crate::engine::{
    Accepted, ClientId, Engine, Refusal, Request, RequestId, Status, StickSample, StopCalls, StopLane, Verb,
};
use crate::journal;
use crate::proof::Plan;
use crate::rig::{self, Cycle};
use crate::show::{InputId, Nanos, Role, Show};

/// Who speaks on the floor.
pub const CALLER: ClientId = ClientId(1);
pub const OPERATOR: ClientId = ClientId(2);
const SENSORS: ClientId = ClientId(3);
pub const HANDS: ClientId = ClientId(4);

/// Of the rigs' noise where no seed is given; the same each time, so that a rehearsal can be repeated.
const NOISE_SEED: u64 = 1;
/// An input is supplied anew after this part of the time for which it is believed.
const FRESH_PART: i64 = 3;

/// Who a client of a rehearsal is, for sentences.
pub fn client(id: ClientId) -> String {
    match id {
        CALLER => "the caller".into(),
        OPERATOR => "an operator".into(),
        SENSORS => "the sensors".into(),
        HANDS => "an operator with a rig in hand".into(),
        ClientId(other) => format!("client {other}"),
    }
}

/// Where a rehearsal is, told after every tick.
#[derive(Clone, Copy, Debug)]
pub struct Beat {
    /// Virtual time since the first tick.
    pub time: Nanos,
    /// Cues that have come to their end, or will not any more.
    pub settled: usize,
    pub cues: usize,
}

/// Goes on, or ends the rehearsal.
pub type Flow<T = ()> = ControlFlow<Ending, T>;

/// Paces a rehearsal: called after every tick, it may take its time, and ends the rehearsal by breaking off.
pub type Pace<'a> = &'a mut dyn FnMut(Beat) -> ControlFlow<()>;

struct Sensor {
    input: InputId,
    /// Ticks between two words of it.
    every: u64,
}

pub struct Floor<'a> {
    pub show: Arc<Show>,
    pub watch: Watch,
    /// Cues settled and cues of this rehearsal, for whoever paces it.
    pub settled: (usize, usize),
    cycle: Cycle,
    stop: StopCalls,
    sensors: Vec<Sensor>,
    requests: Vec<Request>,
    last_request: u64,
    ticks: u64,
    /// The tick in which the show was armed.
    armed: u64,
    fingerprint: u64,
    pace: Pace<'a>,
}

impl<'a> Floor<'a> {
    pub fn new(show: &Arc<Show>, plan: &Arc<Plan>, options: &Options, pace: Pace<'a>) -> Floor<'a> {
        let (drivers, faults) = rig::open(&standing(show, plan, options), options.seed.unwrap_or(NOISE_SEED));
        let engine = Engine::new(show.clone(), plan.clone());
        let mut cycle = Cycle::new(show, engine, drivers, faults);
        if let Some(script) = &options.faults {
            cycle.follow_script(script.clone());
        }
        let tick = show.settings.tick.0.max(1);
        let inputs = show.inputs.iter().enumerate().map(|(index, input)| (InputId::new(index), input));
        let spoken = inputs.filter(|(id, _)| !options.without.contains(id));
        let sensors = spoken
            .map(|(input, written)| (input, (written.max_age.0 / FRESH_PART / tick).clamp(1, i64::MAX) as u64));
        Floor {
            cycle,
            watch: Watch::new(show, plan, options.master),
            settled: (0, 0),
            stop: StopCalls::default(),
            sensors: sensors.map(|(input, every)| Sensor { input, every }).collect(),
            requests: Vec::new(),
            last_request: 0,
            ticks: 0,
            armed: 0,
            fingerprint: 0xcbf2_9ce4_8422_2325,
            pace,
            show: show.clone(),
        }
    }

    pub fn status(&self) -> &Status {
        self.cycle.engine().status()
    }

    pub fn ticks(&self) -> u64 {
        self.ticks
    }

    pub fn fingerprint(&self) -> u64 {
        self.fingerprint
    }

    /// s of virtual time since arming, at the end of the last tick.
    pub fn time(&self) -> f64 {
        (self.ticks - self.armed) as f64 * self.period()
    }

    /// s.
    pub fn period(&self) -> f64 {
        self.show.settings.tick.seconds()
    }

    /// A refusal with the state it was given in.
    pub fn seeing(&self, reasons: Refusal) -> Box<Refused> {
        Box::new(Refused { reasons, seen: self.status().clone() })
    }

    /// One tick in which nobody asks for anything.
    pub fn tick(&mut self) -> Flow {
        self.turn(None).map_continue(|_| ())
    }

    pub fn wait(&mut self, seconds: f64) -> Flow {
        let until = self.ticks + (seconds / self.period()).ceil() as u64;
        while self.ticks < until {
            self.tick()?;
        }
        Flow::Continue(())
    }

    /// One tick with a request, and its answer.
    pub fn ask(&mut self, client: ClientId, verb: Verb) -> Flow<Result<Accepted, Refusal>> {
        self.turn(Some((client, verb))).map_continue(|outcome| outcome.unwrap_or(Ok(Accepted::Done)))
    }

    /// What sticks and dials say in the next tick.
    pub fn say(&mut self, sticks: &[StickSample]) {
        self.cycle.hear(sticks);
    }

    pub fn press_stop(&mut self, lane: StopLane) -> Flow {
        let index = StopLane::ALL.iter().position(|known| *known == lane).unwrap_or(0);
        self.stop.generations[index] = self.stop.generations[index].wrapping_add(1);
        self.tick()
    }

    /// From here on time is counted.
    pub fn set_zero(&mut self) {
        self.armed = self.ticks;
    }

    fn turn(&mut self, asked: Option<(ClientId, Verb)>) -> Flow<Option<Result<Accepted, Refusal>>> {
        self.requests.clear();
        for index in 0..self.sensors.len() {
            let Sensor { input, every } = self.sensors[index];
            if self.ticks.is_multiple_of(every) {
                self.request(SENSORS, Verb::Input { input, value: true });
            }
        }
        let asks = asked.is_some();
        if let Some((client, verb)) = asked {
            self.request(client, verb);
        }
        self.ticks += 1;
        let time = (self.ticks - self.armed) as f64 * self.period();
        let output = self.cycle.turn(self.stop, &self.requests, Nanos::ZERO);
        self.fingerprint = (self.fingerprint ^ journal::digest(&output)).wrapping_mul(0x0100_0000_01b3);
        self.watch.take(time, output.setpoints, output.events);
        let answer = output.answers.last().filter(|_| asks).map(|answer| answer.outcome.clone());
        let engine = self.cycle.engine();
        // A rate that is a little under the master belongs to a start a little off, and is no interruption.
        let full_rate = 0.95 * engine.status().master;
        self.watch.look(time, engine.status(), engine.regimes(), self.cycle.reports().1, full_rate);
        if let Some(breach) = engine.broken() {
            return Flow::Break(Ending::Broken(breach));
        }
        let (settled, cues) = self.settled;
        let now = Nanos(self.show.settings.tick.0.saturating_mul(self.ticks as i64));
        match (self.pace)(Beat { time: now, settled, cues }) {
            ControlFlow::Continue(()) => Flow::Continue(answer),
            ControlFlow::Break(()) => Flow::Break(Ending::Interrupted),
        }
    }

    fn request(&mut self, client: ClientId, verb: Verb) {
        self.last_request += 1;
        let id = RequestId(self.last_request);
        let edition = self.status().edition;
        self.requests.push(Request { id, client, role: Role::Operator, edition, key: None, age: None, verb });
    }
}

/// The show with every axis starting where the list has it before the first cue.
fn standing(show: &Show, plan: &Plan, options: &Options) -> Show {
    let mut show = show.clone();
    if let Some(from) = options.from {
        for (axis, &stands) in show.axes.iter_mut().zip(&plan.cue(from).start) {
            axis.start = stands;
        }
    }
    show
}
