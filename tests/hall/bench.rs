//! The bench show in virtual time, its rigs at hand to be made to fail.

use std::sync::Arc;

use bellwire::engine::*;
use bellwire::proof::prove;
use bellwire::rig::{Cycle, Driver, SimFaults, open};
use bellwire::show::{AxisId, CueId, CueState, Nanos, RigId, Show};

/// The engine and its rigs, and what came of the last tick.
pub struct Bench {
    pub show: Arc<Show>,
    pub cycle: Cycle,
    pub faults: SimFaults,
    pub status: Status,
    pub events: Vec<Event>,
    pub commands: Vec<RigCommand>,
    pub stop: StopCalls,
    pub late: Nanos,
    asked: u64,
}

impl Bench {
    pub fn new() -> Bench {
        Bench::with(|_| {})
    }

    /// Armed, after a change to the show.
    pub fn with(change: impl FnOnce(&mut Show)) -> Bench {
        let mut bench = Bench::disarmed(change, |_| {}, |_, driver| driver);
        bench.arm();
        bench
    }

    /// Armed, with drivers of the test's own.
    pub fn driven_by(drive: impl Fn(RigId, Box<dyn Driver>) -> Box<dyn Driver>) -> Bench {
        let mut bench = Bench::disarmed(|_| {}, |_| {}, drive);
        bench.arm();
        bench
    }

    /// Disarmed. What is changed after the proof nobody has proved.
    pub fn disarmed(
        change: impl FnOnce(&mut Show),
        change_after_the_proof: impl FnOnce(&mut Show),
        drive: impl Fn(RigId, Box<dyn Driver>) -> Box<dyn Driver>,
    ) -> Bench {
        let mut show = super::read(&super::folder("tests/outside/bench"));
        change(&mut show);
        let plan = Arc::new(prove(&show).plan);
        change_after_the_proof(&mut show);
        let show = Arc::new(show);
        let engine = Engine::new(show.clone(), plan);
        let (drivers, faults) = open(&show, 11);
        let drivers = show.rig_ids().zip(drivers).map(|(rig, driver)| drive(rig, driver)).collect();
        let mut bench = Bench {
            cycle: Cycle::new(&show, engine, drivers, faults.clone()),
            faults,
            status: Status::at_rest(&show),
            events: Vec::new(),
            commands: Vec::new(),
            stop: StopCalls::default(),
            late: Nanos::ZERO,
            asked: 0,
            show,
        };
        bench.run(0.5);
        bench
    }

    pub fn arm(&mut self) {
        self.accepted(Verb::Arm);
        self.run(2.0);
    }

    fn turn(&mut self, requests: &[Request]) -> Vec<Answer> {
        let output = self.cycle.turn(self.stop, requests, self.late);
        self.status.clone_from(output.status);
        self.events.extend_from_slice(output.events);
        self.commands = output.rigs.to_vec();
        output.answers.to_vec()
    }

    pub fn tick(&mut self) {
        self.turn(&[]);
    }

    /// One tick for which the loop wakes late.
    pub fn tick_late(&mut self, millis: i64) {
        self.late = Nanos::from_millis(millis);
        self.tick();
        self.late = Nanos::ZERO;
    }

    pub fn press_stop(&mut self) {
        self.stop.generations[0] += 1;
        self.tick();
    }

    pub fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds / self.show.settings.tick.seconds()).round() as u32 {
            self.tick();
        }
    }

    /// Each request is answered in its own tick.
    pub fn answer(&mut self, verb: Verb) -> Result<Accepted, Refusal> {
        self.asked += 1;
        let id = RequestId(self.asked);
        let request =
            Request { id, client: ClientId(1), role: Role::Operator, edition: 0, key: None, age: None, verb };
        let answers = self.turn(&[request]);
        assert_eq!(answers.len(), 1, "one answer for one request");
        answers[0].outcome.clone()
    }

    pub fn ask(&mut self, verb: Verb) -> bool {
        self.answer(verb).is_ok()
    }

    pub fn accepted(&mut self, verb: Verb) {
        let answer = self.answer(verb.clone());
        assert!(answer.is_ok(), "{verb:?}: {answer:?}");
    }

    /// The reasons of a refusal.
    pub fn refused(&mut self, verb: Verb) -> Vec<Reason> {
        self.answer(verb).expect_err("it was accepted").reasons.to_vec()
    }

    pub fn standby(&mut self, cue: usize) -> Vec<Reason> {
        match self.answer(Verb::Standby { cues: [CueId::new(cue)].into_iter().collect(), skip: true }) {
            Ok(Accepted::Standby { reasons, .. }) => reasons.reasons.to_vec(),
            other => panic!("{other:?}"),
        }
    }

    pub fn fire(&mut self, cue: usize) {
        assert_eq!(self.standby(cue), []);
        self.accepted(Verb::Go { cue: None });
    }

    pub fn rig(&self, name: &str) -> RigId {
        self.show.rig_ids().find(|&rig| self.show.rig(rig).name == name).expect("a rig of the bench")
    }

    /// The first axis of a rig.
    pub fn axis(&self, rig: &str) -> AxisId {
        self.show.rig(self.rig(rig)).axis_ids().next().expect("an axis")
    }

    pub fn measured(&self, axis: AxisId) -> f64 {
        self.status.axes[axis.index()].position.expect("measured")
    }

    pub fn setpoints(&self) -> Vec<f64> {
        self.status.axes.iter().map(|axis| axis.setpoint).collect()
    }

    pub fn causes(&self) -> Vec<Cause> {
        self.status.stopped.iter().flat_map(|stopped| stopped.causes.iter().map(|&(cause, _)| cause)).collect()
    }

    /// The tick in which a fault was told.
    pub fn told(&self, fault: Fault) -> Option<u64> {
        let told = EventKind::Fault { fault };
        self.events.iter().find(|event| event.kind == told).map(|event| event.tick)
    }

    pub fn powered(&self, rig: RigId) -> bool {
        self.commands[rig.index()].enable
    }

    /// Runs until a fault is told, for so many seconds at most.
    pub fn run_until_told(&mut self, fault: Fault, seconds: f64) {
        for _ in 0..(seconds / self.show.settings.tick.seconds()) as u32 {
            if self.told(fault).is_some() {
                return;
            }
            self.tick();
        }
        panic!("{fault:?} is not told: {:?}", self.events.iter().map(|event| &event.kind).collect::<Vec<_>>());
    }

    pub fn sloop_in_full_motion(&mut self) -> AxisId {
        self.fire(0);
        self.run(1.5);
        let axis = self.axis("sloop");
        let speed = self.status.axes[axis.index()].speed.expect("measured");
        assert!(speed > 0.5, "{speed}");
        axis
    }

    /// Latched by this fault, all setpoints at rest, the cue stopped, and no GO taken.
    pub fn assert_stopped_by(&mut self, fault: Fault) {
        assert!(self.causes().contains(&Cause::Fault(fault)), "{:?}", self.causes());
        self.run(2.0);
        assert_eq!(self.status.cues[0], CueState::Stopped);
        let before = self.setpoints();
        self.run(0.5);
        assert_eq!(before, self.setpoints());
        assert!(!self.ask(Verb::Standby { cues: [CueId(0)].into_iter().collect(), skip: true }) || !self.go());
    }

    pub fn go(&mut self) -> bool {
        self.ask(Verb::Go { cue: None })
    }

    /// The fault is mended: reset is taken, and nothing moves.
    pub fn assert_resets(&mut self) {
        self.faults.heal();
        self.run(1.0);
        self.accepted(Verb::Reset);
        assert_eq!(self.status.stopped, None);
        self.run(0.5);
        let before = self.setpoints();
        self.run(1.0);
        assert_eq!(before, self.setpoints());
        let moving = self.status.axes.iter().filter(|axis| axis.state == AxisState::Moving).count();
        assert_eq!(moving, 0);
    }
}
