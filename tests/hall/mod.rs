//! A hall in virtual time: a show, its engine and its simulated rigs, with hands on every control.
//!
//! After each tick the setpoints are judged here once more, by finite differences of the positions alone, so that
//! the engine's own view of its derivatives is not taken on trust.

#![allow(dead_code, reason = "each test file uses its own part of the hall")]
#![allow(clippy::result_large_err, reason = "a refusal is of fixed size, since the engine does not allocate")]

pub mod apart;
pub mod bench;
pub mod carts;
pub mod crossing;
pub mod held;
pub mod ideal;
pub mod judge;
pub mod real;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use bellwire::engine::*;
use bellwire::journal::{Header, Recorder, ShowFiles, Turned};
use bellwire::proof::{self, Plan};
use bellwire::rig::{self, Cycle, Driver, Exchange, SimFaults};
use bellwire::show::{self, AxisId, CueId, CueState, InputId, Nanos, RigId, Show};

pub const CALLER: ClientId = ClientId(1);
pub const OTHER: ClientId = ClientId(2);
/// s
const SENSORS_EVERY: f64 = 0.1;

pub struct Hall {
    pub show: Arc<Show>,
    pub plan: Arc<Plan>,
    pub cycle: Cycle,
    pub faults: SimFaults,
    pub stop: StopCalls,
    pub events: Vec<Event>,
    pub status: Status,
    /// Inputs that are sent again and again, as a sensor does.
    pub sensors: Vec<(InputId, bool)>,
    next_request: u64,
    history: Vec<Vec<f64>>,
    /// By `AxisId`: for so many ticks more its differences may show what a brake did.
    stopping_ticks: Vec<usize>,
    pub late: Nanos,
    /// Of the whole run, if it is asked for.
    pub recorder: Option<Recorder>,
    /// Of the last tick.
    pub last_commands: Vec<RigCommand>,
}

/// Where the rigs stand when the hall opens.
enum Stand<'a> {
    AtStart,
    /// Where the list has them before this cue.
    Before(&'a str),
    /// By `AxisId`.
    At(Vec<f64>),
}

/// A folder of the project.
pub fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

pub fn read(path: &Path) -> Show {
    let reading = show::read(path);
    reading.show.unwrap_or_else(|| panic!("{}: {:#?}", path.display(), reading.findings))
}

/// Writes a show into a fresh folder and reads it.
pub fn show_of(files: &[(&str, &str)]) -> Show {
    let folder = tempfile::tempdir().unwrap();
    for (path, text) in files {
        let path = folder.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    read(folder.path())
}

impl Hall {
    pub fn open(show: Show) -> Hall {
        Hall::open_with(show, 1)
    }

    pub fn open_with(show: Show, seed: u64) -> Hall {
        Hall::open_before(show, seed, Stand::AtStart, |_, driver| driver)
    }

    /// The rigs stand anywhere: positions by `AxisId`. Armed, the sensors well.
    pub fn standing(show: Show, pose: Vec<f64>) -> Hall {
        let proof = proof::prove(&show);
        Hall::standing_in(show, proof, pose)
    }

    /// The same of a show that was proved already.
    pub fn standing_in(show: Show, proof: proof::Proof, pose: Vec<f64>) -> Hall {
        let mut hall = Hall::of(show, proof, 1, Stand::At(pose), |_, driver| driver);
        hall.let_sensors_speak();
        hall.arm();
        hall
    }

    /// With an engine that is told that any two cues may run together at any timing.
    pub fn open_without_maps(show: Show) -> Hall {
        let mut hall = Hall::open(show);
        let mut plan = Plan::clone(&hall.plan);
        for map in &mut plan.maps.list {
            map.blocked.clear();
        }
        hall.plan = Arc::new(plan);
        let (drivers, faults) = rig::open(&hall.show, 1);
        let engine = Engine::new(hall.show.clone(), hall.plan.clone());
        (hall.cycle, hall.faults) = (Cycle::new(&hall.show, engine, drivers, faults.clone()), faults);
        hall
    }

    /// With drivers of the test's own.
    pub fn driven_by(show: Show, drive: impl Fn(RigId, Box<dyn Driver>) -> Box<dyn Driver>) -> Hall {
        Hall::open_before(show, 1, Stand::AtStart, drive)
    }

    fn open_before(
        show: Show,
        seed: u64,
        stand: Stand,
        drive: impl Fn(RigId, Box<dyn Driver>) -> Box<dyn Driver>,
    ) -> Hall {
        let proof = proof::prove(&show);
        let error = proof.findings.iter().find(|finding| finding.severity == show::Severity::Error);
        assert_eq!(error, None, "a show with errors is not run");
        Hall::of(show, proof, seed, stand, drive)
    }

    /// Of a show whose only errors are of this one code: to see what would come of it.
    pub fn open_despite(show: Show, code: show::Code) -> Hall {
        let proof = proof::prove(&show);
        let errors = proof.findings.iter().filter(|finding| finding.severity == show::Severity::Error);
        let codes: Vec<show::Code> = errors.map(|finding| finding.code).collect();
        assert!(!codes.is_empty() && codes.iter().all(|&found| found == code), "{:#?}", proof.findings);
        let mut hall = Hall::of(show, proof, 1, Stand::AtStart, |_, driver| driver);
        hall.arm();
        hall
    }

    fn of(
        show: Show,
        proof: proof::Proof,
        seed: u64,
        stand: Stand,
        drive: impl Fn(RigId, Box<dyn Driver>) -> Box<dyn Driver>,
    ) -> Hall {
        let show = Arc::new(show);
        let plan = Arc::new(proof.plan);
        let mut standing = Show::clone(&show);
        let pose = match stand {
            Stand::AtStart => show.axes.iter().map(|axis| axis.start).collect(),
            Stand::Before(number) => {
                let before = show.find_cue(&number.parse().unwrap()).unwrap_or_else(|| panic!("no cue {number}"));
                plan.cue(before).start.clone()
            }
            Stand::At(pose) => pose,
        };
        for (axis, stands) in standing.axes.iter_mut().zip(pose) {
            axis.start = stands;
        }
        let (drivers, faults) = rig::open(&standing, seed);
        let drivers = show.rig_ids().zip(drivers).map(|(rig, driver)| drive(rig, driver)).collect();
        let engine = Engine::new(show.clone(), plan.clone());
        let cycle = Cycle::new(&show, engine, drivers, faults.clone());
        let status = Status::at_rest(&show);
        let stopping_ticks = vec![0; show.axes.len()];
        Hall {
            show,
            plan,
            cycle,
            faults,
            stop: StopCalls::default(),
            events: Vec::new(),
            status,
            sensors: Vec::new(),
            next_request: 1,
            history: Vec::new(),
            stopping_ticks,
            late: Nanos::ZERO,
            recorder: None,
            last_commands: Vec::new(),
        }
    }

    /// From the first tick on, a journal of everything; taken with [`Hall::journal`].
    pub fn record(&mut self, folder: &Path) {
        assert_eq!(self.status.tick, 0, "a journal begins with the run");
        let header = Header {
            run: "00000000000000000000000000000001".into(),
            started: Nanos(0),
            offset: 0,
            program: env!("CARGO_PKG_VERSION").into(),
            seed: 1,
            rehearsal: true,
        };
        let files = show::read(folder).sources.files;
        self.recorder = Some(Recorder::new(header, ShowFiles::new(&self.show.name, &self.show.hash, &files)));
    }

    /// The run's journal, ended.
    pub fn journal(&mut self) -> Vec<u8> {
        let mut recorder = self.recorder.take().expect("a run that is recorded");
        recorder.end();
        recorder.take()
    }

    /// The demo show, armed, its sensors well.
    pub fn demo() -> Hall {
        let mut hall = Hall::open(read(&folder("demo-show")));
        hall.let_sensors_speak();
        hall.arm();
        hall
    }

    /// The demo show, armed, its sensors well, with every cue before this one done.
    pub fn demo_at(number: &str) -> Hall {
        let mut hall = Hall::open_before(read(&folder("demo-show")), 1, Stand::Before(number), |_, driver| driver);
        hall.let_sensors_speak();
        hall.arm();
        let cue = hall.cue(number);
        assert_eq!(hall.ask(Verb::Place { cue }), Ok(Accepted::Done));
        hall
    }

    /// Every input of the show is told true again and again.
    pub fn let_sensors_speak(&mut self) {
        self.sensors = (0..self.show.inputs.len()).map(|index| (InputId::new(index), true)).collect();
    }

    pub fn arm(&mut self) {
        self.run(0.3);
        assert_eq!(self.ask(Verb::Arm), Ok(Accepted::Done));
    }

    pub fn cue(&self, number: &str) -> CueId {
        self.show.find_cue(&number.parse().unwrap()).unwrap_or_else(|| panic!("no cue {number}"))
    }

    pub fn rig(&self, name: &str) -> RigId {
        self.show.rig_ids().find(|&rig| self.show.rig(rig).name == name).unwrap()
    }

    pub fn axis(&self, name: &str) -> AxisId {
        self.show.axis_ids().find(|&axis| self.show.axis_name(axis) == name).unwrap_or_else(|| panic!("no {name}"))
    }

    pub fn state(&self, number: &str) -> CueState {
        self.status.cues[self.cue(number).index()]
    }

    pub fn setpoint(&self, axis: &str) -> f64 {
        self.status.axes[self.axis(axis).index()].setpoint
    }

    pub fn request(&mut self, client: ClientId, verb: Verb) -> Request {
        self.next_request += 1;
        Request {
            id: RequestId(self.next_request),
            client,
            role: Role::Operator,
            edition: 0,
            key: None,
            age: None,
            verb,
        }
    }

    /// One tick with these requests; their answers.
    pub fn tick(&mut self, requests: &[Request]) -> Vec<Answer> {
        let mut all: Vec<Request> = Vec::new();
        let every = (SENSORS_EVERY / self.show.settings.tick.seconds()).round() as u64;
        if self.status.tick.is_multiple_of(every) {
            for (input, value) in self.sensors.clone() {
                all.push(self.request(ClientId(900), Verb::Input { input, value }));
            }
        }
        let own = all.len();
        all.extend_from_slice(requests);
        let Exchange { input, output } = self.cycle.exchange(self.stop, &all, self.late);
        if let Some(recorder) = &mut self.recorder {
            recorder.turn(&Turned::new(input, &output));
        }
        self.events.extend_from_slice(output.events);
        self.status = output.status.clone();
        let answers: Vec<Answer> = output.answers[own..].to_vec();
        self.last_commands = output.rigs.to_vec();
        let positions: Vec<f64> = output.setpoints.iter().map(|setpoint| setpoint.position).collect();
        self.judge(positions);
        answers
    }

    /// Invariants 1 and 2 from outside: no limit is broken by the positions themselves.
    fn judge(&mut self, positions: Vec<f64>) {
        if let Some(breach) = self.cycle.engine().broken() {
            panic!("tick {}: {breach:?}", self.status.tick);
        }
        let calm = self.history.last().is_some_and(|last| *last == positions);
        self.history.push(positions);
        if self.history.len() > 4 {
            self.history.remove(0);
        }
        let slowing = self.show.axis_ids().map(|axis| self.slows(axis)).collect::<Vec<_>>();
        for (ticks, slows) in self.stopping_ticks.iter_mut().zip(slowing) {
            *ticks = if slows { 4 } else { ticks.saturating_sub(1) };
        }
        if calm || self.history.len() < 4 || self.just_enabled() {
            return;
        }
        let dt = self.show.settings.tick.seconds();
        for (index, axis) in self.show.axes.iter().enumerate() {
            let [a, b, c, d] = [0, 1, 2, 3].map(|back| self.history[back][index]);
            let limits = if self.stopping_ticks[index] > 0 { axis.stop } else { axis.run };
            let noise = axis.travel.iter().fold(1.0_f64, |most, end| most.max(end.abs())) * 1e-15;
            let speed = (d - c).abs() / dt;
            let acceleration = (d - 2.0 * c + b).abs() / (dt * dt);
            let jerk = (d - 3.0 * c + 3.0 * b - a).abs() / (dt * dt * dt);
            let name = self.show.axis_name(AxisId::new(index));
            let tick = self.status.tick;
            assert!(speed <= limits.speed * 1.0001, "tick {tick} {name}: speed {speed}");
            let allowed = limits.acceleration * 1.0001 + 8.0 * noise / (dt * dt);
            assert!(acceleration <= allowed, "tick {tick} {name}: acceleration {acceleration} > {allowed}");
            let allowed = limits.jerk * 1.001 + 16.0 * noise / (dt * dt * dt);
            assert!(jerk <= allowed, "tick {tick} {name}: jerk {jerk} > {allowed}");
        }
    }

    /// Whether its cue does not run at its full rate, so that it may be braking.
    fn slows(&self, axis: AxisId) -> bool {
        let slots = [self.show.preset_id(), self.show.take_id()];
        let moves = |cue: CueId| {
            let of_plan = self.plan.cues.get(cue.index()).into_iter().flat_map(|cue| &cue.moves);
            slots.contains(&cue) || of_plan.flat_map(|step| &step.axes).any(|path| path.axis == axis)
        };
        let mut of_axis = self.status.running.iter().filter(|running| moves(running.cue));
        // What is in hand brakes so when everything stops.
        let stopping = self.status.stopped.is_some() || !self.status.armed;
        let in_hand = self.status.rigs[self.show.axis(axis).rig.index()].hand.is_some();
        (stopping && in_hand) || of_axis.any(|running| running.state != CueState::Running || running.rate < 1.0)
    }

    /// On enabling, a setpoint is put where its axis is measured: that is no motion.
    pub fn just_enabled(&self) -> bool {
        let tick = self.status.tick;
        let recent = |event: &&Event| event.tick + 3 >= tick;
        self.events
            .iter()
            .rev()
            .take_while(recent)
            .any(|event| matches!(event.kind, EventKind::Armed { armed: true } | EventKind::Reset))
    }

    pub fn ask(&mut self, verb: Verb) -> Result<Accepted, Refusal> {
        self.ask_as(CALLER, verb)
    }

    pub fn ask_as(&mut self, client: ClientId, verb: Verb) -> Result<Accepted, Refusal> {
        let request = self.request(client, verb);
        let id = request.id;
        let answers = self.tick(&[request]);
        assert_eq!(answers.len(), 1, "one request, one answer");
        assert_eq!(answers[0].id, id);
        answers[0].outcome.clone()
    }

    pub fn refused(&mut self, verb: Verb) -> Vec<Reason> {
        match self.ask(verb.clone()) {
            Err(refusal) => refusal.reasons.to_vec(),
            Ok(accepted) => panic!("{verb:?} was accepted: {accepted:?}"),
        }
    }

    pub fn standby(&mut self, number: &str) -> Vec<Reason> {
        let cue = self.cue(number);
        match self.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false }) {
            Ok(Accepted::Standby { reasons, .. }) => reasons.reasons.to_vec(),
            other => panic!("standby {number}: {other:?}"),
        }
    }

    pub fn go(&mut self, number: &str) -> Result<Accepted, Refusal> {
        let cue = self.cue(number);
        self.ask(Verb::Go { cue: Some(cue) })
    }

    /// Standby and GO of a cue that must be ready.
    pub fn fire(&mut self, number: &str) {
        self.run(self.show.settings.guard.seconds());
        let reasons = self.standby(number);
        assert!(reasons.is_empty(), "cue {number} is not ready: {reasons:?}");
        assert_eq!(self.go(number), Ok(Accepted::Done), "GO {number}");
    }

    /// An edited show, read elsewhere, in the place of the one that runs.
    pub fn replace(&mut self, show: Show) -> Result<u32, Refusal> {
        let show = Arc::new(show);
        let plan = Arc::new(proof::prove(&show).plan);
        let next = Box::new(Engine::new(show.clone(), plan.clone()));
        let (_, outcome) = self.cycle.replace(next);
        if outcome.is_ok() {
            (self.show, self.plan) = (show, plan);
        }
        outcome
    }

    pub fn press_stop(&mut self) {
        self.stop.generations[0] += 1;
        self.tick(&[]);
    }

    pub fn run(&mut self, seconds: f64) {
        let ticks = (seconds / self.show.settings.tick.seconds()).round() as u64;
        for _ in 0..ticks {
            self.tick(&[]);
        }
    }

    /// What a stick of this client says, in the next tick.
    pub fn push(&mut self, client: ClientId, axis: &str, value: f64) {
        let (axis, kind) = (self.axis(axis), StickKind::Stick);
        self.cycle.hear(&[StickSample { client, axis, kind, value }]);
    }

    /// The same of a dial.
    pub fn turn_dial(&mut self, client: ClientId, axis: &str, value: f64) {
        let (axis, kind) = (self.axis(axis), StickKind::Dial);
        self.cycle.hear(&[StickSample { client, axis, kind, value }]);
    }

    /// A stick of the caller held there for so long, which says so again and again.
    pub fn hold_stick(&mut self, axis: &str, value: f64, seconds: f64) {
        let ticks = (seconds / self.show.settings.tick.seconds()).round() as u64;
        for tick in 0..ticks {
            if tick.is_multiple_of(10) {
                self.push(CALLER, axis, value);
            }
            self.tick(&[]);
        }
    }

    /// Takes a rig in the caller's hands, with sticks as they are, and their axes at zero.
    pub fn take(&mut self, rig: &str) {
        let rig = self.rig(rig);
        let shape = StickShape { dead_band: 0.0, taper: 0.0 };
        assert_eq!(self.ask(Verb::Hand { rig, sticks: None, shape }), Ok(Accepted::Done));
        for axis in self.show.rig(rig).axis_ids() {
            self.cycle.hear(&[StickSample { client: CALLER, axis, kind: StickKind::Stick, value: 0.0 }]);
        }
        self.tick(&[]);
    }

    /// Runs until the cue has this state, for so many seconds at most.
    pub fn run_until(&mut self, number: &str, state: CueState, seconds: f64) {
        let ticks = (seconds / self.show.settings.tick.seconds()).round() as u64;
        for _ in 0..ticks {
            if self.state(number) == state {
                return;
            }
            self.tick(&[]);
        }
        panic!(
            "cue {number} is {:?}, not {state:?}, after {seconds} s: {:?}",
            self.state(number),
            self.status.running
        );
    }

    pub fn setpoints_move(&mut self) -> bool {
        let before: Vec<f64> = self.status.axes.iter().map(|axis| axis.setpoint).collect();
        self.tick(&[]);
        before.iter().zip(&self.status.axes).any(|(before, axis)| *before != axis.setpoint)
    }

    /// Stopped, at rest, measured.
    pub fn run_to_standstill(&mut self) {
        for _ in 0..5000 {
            if self.status.stopped.as_ref().is_some_and(|stopped| stopped.standstill) {
                return;
            }
            self.tick(&[]);
        }
        panic!("no standstill: {:?}", self.status.stopped);
    }
}
