//! Operators who press everything in any order, on rigs that fail: after every tick the invariants hold.
//!
//! `BELLWIRE_SIMULATIONS=N` sets the number of runs, `BELLWIRE_SEED=N` the seed of all of them. A run that fails is
//! shrunk and kept as a file of operations under `tests/regressions/`, which is played again ever after.

use std::path::{Path, PathBuf};

use crate::hall::{self, Hall, apart};
use bellwire::engine::*;
use bellwire::journal;
use bellwire::rig::SimFault;
use bellwire::show::{AxisId, CueId, CueState, Direction, InputId, Nanos, Otherwise, RigId, Show};
use bellwire::stage::Stage;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestError, TestRng, TestRunner};
use serde::{Deserialize, Serialize};

/// Evenings with hands on the demo show.
const HAND_RUNS: u64 = 3;
/// Ticks from one look at all clearances to the next.
const JUDGED_EVERY: u64 = 40;

/// One thing that somebody does, or that happens. Numbers are taken modulo what there is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
enum Act {
    Wait(u16),
    Standby {
        cues: Vec<u8>,
        skip: bool,
    },
    Go(Option<u8>),
    GoWhatStands,
    Hold(Option<u8>),
    Resume,
    Return {
        cue: u8,
        held: bool,
    },
    /// The way to a cue's start: on standby and fired, or by hand for so many ticks.
    Preset {
        cue: u8,
        by_hand: Option<u16>,
        /// Whoever asked for it sees it to its end.
        #[serde(default)]
        to_its_end: bool,
    },
    Place(u8),
    Stop(u8),
    Reset,
    Arm,
    Disarm,
    Master(f64),
    Input {
        input: u8,
        value: bool,
    },
    Sensors(bool),
    ClientLost(bool),
    Fault {
        kind: u8,
        at: u8,
    },
    Heal,
    /// What a crew does after a fault: mend it, look at the sensors, reset, arm, master up.
    Recover,
    /// Puts what was stopped on standby and fires it, or takes it back.
    CarryOn {
        back: bool,
    },
    Late(u16),
    /// The same request again, with the key of the first.
    Repeat,
    /// Sent too long ago.
    Stale,
    /// A rig in hand, driven by the asking client's sticks, or by those of a third.
    Take {
        rig: u8,
        by_another: bool,
    },
    GiveBack(u8),
    /// Offered to another, who accepts it or not.
    HandOver {
        rig: u8,
        accepted: bool,
    },
    /// Sticks and dials of what is in hand, of one client or of whoever drives it, said again for so many ticks.
    Sticks {
        said: Vec<(u8, f64)>,
        dial: bool,
        stranger: bool,
        from_zero: bool,
        ticks: u16,
    },
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Doing {
    client: u8,
    act: Act,
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        8 => (1..900_u16).prop_map(Act::Wait),
        4 => (900..4000_u16).prop_map(Act::Wait),
        3 => (prop::collection::vec(0..12_u8, 1..3), any::<bool>()).prop_map(|(cues, skip)| Act::Standby { cues, skip }),
        2 => prop::option::of(0..12_u8).prop_map(Act::Go),
        9 => Just(Act::GoWhatStands),
        5 => Just(Act::Recover),
        3 => any::<bool>().prop_map(|back| Act::CarryOn { back }),
        2 => prop::option::of(0..12_u8).prop_map(Act::Hold),
        3 => Just(Act::Resume),
        2 => (0..12_u8, any::<bool>()).prop_map(|(cue, held)| Act::Return { cue, held }),
        3 => (0..12_u8, prop::option::of(1..400_u16), any::<bool>())
            .prop_map(|(cue, by_hand, to_its_end)| Act::Preset { cue, by_hand, to_its_end }),
        1 => (0..12_u8).prop_map(Act::Place),
        1 => (0..6_u8).prop_map(Act::Stop),
        2 => Just(Act::Reset),
        2 => Just(Act::Arm),
        1 => Just(Act::Disarm),
        2 => prop_oneof![0.0..1.0_f64, Just(0.0), Just(1.0), Just(f64::NAN), Just(-3.0)].prop_map(Act::Master),
        2 => (0..4_u8, any::<bool>()).prop_map(|(input, value)| Act::Input { input, value }),
        1 => any::<bool>().prop_map(Act::Sensors),
        1 => any::<bool>().prop_map(Act::ClientLost),
        1 => (0..9_u8, any::<u8>()).prop_map(|(kind, at)| Act::Fault { kind, at }),
        2 => Just(Act::Heal),
        1 => (0..400_u16).prop_map(Act::Late),
        1 => Just(Act::Repeat),
        1 => Just(Act::Stale),
    ]
}

fn doing() -> impl Strategy<Value = Doing> {
    (1..4_u8, act()).prop_map(|(client, act)| Doing { client, act })
}

fn evening() -> impl Strategy<Value = Vec<Doing>> {
    prop::collection::vec(doing(), 20..160)
}

/// Hands on every rig, beside cues, with all that may come between; on rigs that obey.
fn hand_act() -> impl Strategy<Value = Act> {
    let value = prop_oneof![
        6 => -1.0..1.0_f64,
        9 => Just(1.0),
        9 => Just(-1.0),
        1 => Just(0.0),
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(-1.5),
        1 => Just(f64::MIN_POSITIVE / 8.0),
    ];
    let said = prop::collection::vec((any::<u8>(), value), 1..8);
    let sticks = (said, 0..8_u8, 0..12_u8, 0..6_u8, 10..1500_u16);
    prop_oneof![
        4 => (1..400_u16).prop_map(Act::Wait),
        8 => (0..8_u8, 0..4_u8).prop_map(|(rig, by)| Act::Take { rig, by_another: by == 0 }),
        24 => sticks.prop_map(|(said, dial, stranger, from_zero, ticks)| Act::Sticks {
            said,
            dial: dial == 0,
            stranger: stranger == 0,
            from_zero: from_zero != 0,
            ticks,
        }),
        1 => (0..8_u8).prop_map(Act::GiveBack),
        1 => (0..8_u8, any::<bool>()).prop_map(|(rig, accepted)| Act::HandOver { rig, accepted }),
        4 => Just(Act::GoWhatStands),
        1 => prop::option::of(0..12_u8).prop_map(Act::Hold),
        2 => Just(Act::Resume),
        1 => (0..12_u8, any::<bool>()).prop_map(|(cue, held)| Act::Return { cue, held }),
        1 => any::<bool>().prop_map(|back| Act::CarryOn { back }),
        1 => (0..12_u8, prop::option::of(1..400_u16), any::<bool>())
            .prop_map(|(cue, by_hand, to_its_end)| Act::Preset { cue, by_hand, to_its_end }),
        1 => (0..6_u8).prop_map(Act::Stop),
        5 => Just(Act::Recover),
        1 => Just(Act::Disarm),
        1 => prop_oneof![0.0..1.0_f64, Just(0.0), Just(1.0)].prop_map(Act::Master),
        1 => any::<bool>().prop_map(Act::Sensors),
        1 => any::<bool>().prop_map(Act::ClientLost),
        1 => (0..120_u16).prop_map(Act::Late),
        1 => Just(Act::Repeat),
    ]
}

fn hands() -> impl Strategy<Value = Vec<Doing>> {
    prop::collection::vec((1..4_u8, hand_act()).prop_map(|(client, act)| Doing { client, act }), 20..60)
}

/// One evening with the watchers that see more than the engine's own.
struct Evening {
    hall: Hall,
    /// Of the tick before: interlocks that did not permit.
    forbidden: Vec<bool>,
    before: Vec<f64>,
    repeated: Option<Request>,
    /// To judge clearances, where every rig obeys.
    stage: Option<Stage>,
    /// Ticks in which something moved in hand.
    driven: u64,
}

impl Evening {
    fn new(folder: &Path, seed: u64) -> Evening {
        let mut hall = Hall::open_with(hall::read(folder), seed);
        hall.record(folder);
        let interlocks = hall.show.interlocks.len();
        let before = hall.status.axes.iter().map(|axis| axis.setpoint).collect();
        Evening { hall, forbidden: vec![false; interlocks], before, repeated: None, stage: None, driven: 0 }
    }

    fn tick(&mut self, requests: Vec<Request>) -> Vec<Answer> {
        let answers = self.hall.tick(&requests);
        for request in &requests {
            let count = answers.iter().filter(|answer| answer.id == request.id).count();
            assert_eq!(count, 1, "invariant 7: {request:?}");
        }
        self.watch();
        answers
    }

    /// What moves must belong to a cue that is under way, and must be permitted or braking.
    fn watch(&mut self) {
        let status = &self.hall.status;
        let show = self.hall.show.clone();
        let mut driven = false;
        for (index, axis) in status.axes.iter().enumerate() {
            let way = axis.setpoint - self.before[index];
            if way == 0.0 || self.hall.just_enabled() {
                continue;
            }
            let id = AxisId::new(index);
            let rig = show.axis(id).rig;
            let given_back = |event: &&Event| {
                let of_rig =
                    matches!(event.kind, EventKind::Hand(HandEvent::GivenBack { rig: of, .. }) if of == rig);
                event.tick == status.tick && of_rig
            };
            // The engine itself looks after what interlocks forbid here, since it alone knows what brakes.
            if status.rigs[rig.index()].hand.is_some()
                || self.hall.events.iter().rev().take(40).any(|e| given_back(&e))
            {
                driven = true;
                continue;
            }
            let owned = |cue: CueId| {
                if cue == show.preset_id() {
                    return true;
                }
                let moves = &self.hall.plan.cue(cue).moves;
                moves.iter().any(|step| step.axes.iter().any(|path| path.axis == id))
            };
            // A cue that ended in this very tick is no longer listed.
            let just_done = |event: &&Event| {
                event.tick == status.tick && matches!(event.kind, EventKind::Cue { cue, .. } if owned(cue))
            };
            let under_way = status.running.iter().any(|running| owned(running.cue))
                || self.hall.events.iter().rev().take(40).any(|event| just_done(&event));
            assert!(under_way, "tick {}: {} moves and no cue owns it", status.tick, show.axis_name(id));
            for (interlock, &forbidden) in self.forbidden.iter().enumerate() {
                let rule = &show.interlocks[interlock];
                let guards = rule.guards.iter().any(|guard| {
                    let this_way = match guard.direction {
                        None => true,
                        Some(Direction::Up) => way > 0.0,
                        Some(Direction::Down) => way < 0.0,
                    };
                    guard.axis == id && this_way
                });
                let bites = rule.otherwise != Otherwise::Refuse && forbidden && guards;
                let free = |running: &Running| {
                    owned(running.cue) && matches!(running.state, CueState::Running | CueState::Returning)
                };
                let held = status.held && !status.running.iter().any(free);
                let braking = held || status.stopped.is_some() || !status.armed;
                assert!(!bites || braking, "tick {}: invariant 5: '{}' is ignored", status.tick, rule.name);
            }
        }
        self.before = status.axes.iter().map(|axis| axis.setpoint).collect();
        self.driven += u64::from(driven);
        if let Some(stage) = self.stage.as_ref().filter(|_| driven && status.tick.is_multiple_of(JUDGED_EVERY)) {
            let near = apart::too_near(&show, stage, &self.before);
            assert_eq!(near, None, "tick {}: invariant 9", status.tick);
        }
        self.forbidden = status.interlocks.iter().map(|truth| !truth.permits()).collect();
    }

    fn send(&mut self, client: u8, verb: Verb) {
        let mut request = self.hall.request(ClientId(u32::from(client)), verb);
        request.key = Some(Key(request.id.0));
        self.repeated = Some(request.clone());
        self.tick(vec![request]);
    }

    fn cue(&self, index: u8) -> CueId {
        CueId::new(usize::from(index) % self.hall.show.cues.len())
    }

    fn perform(&mut self, doing: &Doing) {
        let client = doing.client;
        match &doing.act {
            Act::Wait(ticks) => {
                for _ in 0..*ticks {
                    self.tick(Vec::new());
                }
            }
            Act::Standby { cues, skip } => {
                let cues = cues.iter().map(|&cue| self.cue(cue)).collect();
                self.send(client, Verb::Standby { cues, skip: *skip });
            }
            Act::Go(cue) => self.send(client, Verb::Go { cue: cue.map(|cue| self.cue(cue)) }),
            Act::GoWhatStands => {
                let next = self.next_cue();
                // Past the guard time, as a person would be.
                self.perform(&Doing { client, act: Act::Wait(251) });
                if self.hall.status.standby.is_empty() {
                    self.send(client, Verb::Standby { cues: [next].into_iter().collect(), skip: false });
                }
                self.send(client, Verb::Go { cue: None });
            }
            Act::Hold(cue) => self.send(client, Verb::Hold { cue: cue.map(|cue| self.cue(cue)) }),
            Act::Resume => {
                // The third asks for one cue by its name.
                let held = self.hall.status.running.iter().find(|one| one.state == CueState::Holding);
                let cue = held.map(|held| held.cue).filter(|_| client == 3);
                self.send(client, Verb::Resume { cue });
            }
            Act::Return { cue, held } => {
                let running = self.hall.status.running.first().map(|running| running.cue);
                let cue = running.unwrap_or_else(|| self.cue(*cue));
                self.send(client, Verb::Return { cue, held: *held });
            }
            Act::Preset { cue, by_hand, to_its_end } => {
                self.preset(client, self.cue(*cue), *by_hand);
                if *to_its_end {
                    self.watch_preset();
                }
            }
            Act::Place(cue) => self.send(client, Verb::Place { cue: self.cue(*cue) }),
            Act::Stop(lane) => {
                self.hall.stop.generations[usize::from(*lane)] += 1;
                self.tick(Vec::new());
            }
            Act::Reset => self.send(client, Verb::Reset),
            Act::Arm => self.send(client, Verb::Arm),
            Act::Disarm => self.send(client, Verb::Disarm),
            Act::Master(value) => self.send(client, Verb::Master { value: *value }),
            Act::Input { input, value } => {
                let input = InputId::new(usize::from(*input) % self.hall.show.inputs.len());
                self.send(client, Verb::Input { input, value: *value });
            }
            Act::Sensors(on) => {
                let all = (0..self.hall.show.inputs.len()).map(|index| (InputId::new(index), true));
                self.hall.sensors = if *on { all.collect() } else { Vec::new() };
            }
            Act::ClientLost(leased) => self.send(client, Verb::ClientLost { leased: *leased }),
            Act::Fault { kind, at } => self.hall.faults.inject(fault(&self.hall.show, *kind, *at)),
            Act::Heal => self.hall.faults.heal(),
            Act::Recover => self.recover(client),
            Act::CarryOn { back } => self.carry_on(client, *back),
            Act::Late(millis) => {
                self.hall.late = Nanos::from_millis(i64::from(*millis));
                self.tick(Vec::new());
                self.hall.late = Nanos::ZERO;
            }
            Act::Repeat => self.repeat(),
            Act::Take { rig, by_another } => {
                let sticks = by_another.then_some(ClientId(u32::from(client % 3) + 1));
                let shape = StickShape { dead_band: 0.05, taper: f64::from(*rig) / 8.0 };
                self.send(client, Verb::Hand { rig: self.rig(*rig), sticks, shape });
            }
            Act::GiveBack(rig) => self.send(client, Verb::GiveBack { rig: self.rig(*rig) }),
            Act::HandOver { rig, accepted } => {
                let (rig, other) = (self.rig(*rig), client % 3 + 1);
                self.send(client, Verb::HandOver { rig, to: Some(ClientId(u32::from(other))) });
                if *accepted {
                    self.send(other, Verb::Accept { rig, sticks: None, shape: StickShape::default() });
                }
            }
            Act::Sticks { said, dial, stranger, from_zero, ticks } => {
                let stranger = stranger.then_some(ClientId(u32::from(client)));
                self.push(said, (*dial, *from_zero), stranger, *ticks);
            }
            Act::Stale => {
                let mut request = self.hall.request(ClientId(u32::from(client)), Verb::Go { cue: None });
                request.age = Some(Nanos::from_millis(10_000));
                let answers = self.tick(vec![request]);
                assert!(answers[0].outcome.is_err(), "a GO sent ten seconds ago was taken");
            }
        }
    }

    fn rig(&self, index: u8) -> RigId {
        RigId::new(usize::from(index) % self.hall.show.rigs.len())
    }

    /// What is said of axes in hand is said by whoever drives them, unless by a stranger.
    fn push(
        &mut self,
        said: &[(u8, f64)],
        (dial, from_zero): (bool, bool),
        stranger: Option<ClientId>,
        ticks: u16,
    ) {
        let hand = |status: &Status, axis: AxisId, show: &Show| status.rigs[show.axis(axis).rig.index()].hand;
        for tick in 0..ticks {
            let show = self.hall.show.clone();
            let in_hand: Vec<AxisId> =
                show.axis_ids().filter(|&axis| hand(&self.hall.status, axis, &show).is_some()).collect();
            if !in_hand.is_empty() && tick.is_multiple_of(25) {
                for &(index, value) in said {
                    let axis = in_hand[usize::from(index) % in_hand.len()];
                    let client = stranger.or(hand(&self.hall.status, axis, &show).map(|hand| hand.sticks));
                    let Some(client) = client else { continue };
                    // Now and then in one burst.
                    let zero = StickSample { client, axis, kind: StickKind::Stick, value: 0.0 };
                    if tick == 0 && from_zero {
                        self.hall.cycle.hear(&[zero]);
                        self.tick(Vec::new());
                    }
                    let sample = if dial {
                        StickSample { kind: StickKind::Dial, value: value.abs(), ..zero }
                    } else {
                        StickSample { value, ..zero }
                    };
                    self.hall.cycle.hear(&[sample]);
                }
            }
            self.tick(Vec::new());
        }
    }

    fn preset(&mut self, client: u8, cue: CueId, by_hand: Option<u16>) {
        let Some(ticks) = by_hand else {
            self.send(client, Verb::Preset { cue, held: false });
            self.perform(&Doing { client, act: Act::Wait(260) });
            return self.send(client, Verb::Go { cue: None });
        };
        for _ in 0..ticks / 40 + 1 {
            self.send(client, Verb::Preset { cue, held: true });
            self.perform(&Doing { client, act: Act::Wait(40) });
        }
    }

    /// While it runs, for two minutes at most.
    fn watch_preset(&mut self) {
        let preset = self.hall.show.preset_id();
        for _ in 0..60_000 {
            let mut running = self.hall.status.running.iter();
            if !running.any(|one| one.cue == preset && one.state == CueState::Running) {
                break;
            }
            self.tick(Vec::new());
        }
    }

    fn recover(&mut self, client: u8) {
        self.hall.faults.heal();
        self.perform(&Doing { client, act: Act::Sensors(true) });
        self.perform(&Doing { client, act: Act::Wait(800) });
        for verb in [Verb::Reset, Verb::Arm, Verb::Master { value: 1.0 }] {
            self.send(client, verb);
        }
        self.perform(&Doing { client, act: Act::Wait(100) });
    }

    fn carry_on(&mut self, client: u8, back: bool) {
        let Some(cue) = self.hall.status.running.first().map(|running| running.cue) else { return };
        if back {
            self.send(client, Verb::Return { cue, held: false });
        } else {
            self.send(client, Verb::Standby { cues: [cue].into_iter().collect(), skip: false });
        }
        self.perform(&Doing { client, act: Act::Wait(260) });
        self.send(client, Verb::Go { cue: Some(cue) });
    }

    /// The cue after the last that was run, so that the random operator gets somewhere.
    fn next_cue(&self) -> CueId {
        let idle = CueState::Idle;
        let last = self.hall.status.cues.iter().rposition(|&state| state != idle);
        let next = last.map_or(0, |last| last + 1) % self.hall.show.cues.len();
        CueId::new(next)
    }

    fn repeat(&mut self) {
        let Some(first) = self.repeated.clone() else { return };
        let again = Request { id: self.hall.request(first.client, first.verb.clone()).id, ..first };
        let go_before = self.hall.events.iter().filter(|event| matches!(event.kind, EventKind::Go { .. })).count();
        self.tick(vec![again]);
        let tick = self.hall.status.tick;
        let by_request = |event: &&Event| {
            event.tick == tick
                && matches!(
                    event.kind,
                    EventKind::Go { by: Some(_), .. } | EventKind::Armed { .. } | EventKind::Reset
                )
        };
        let follows = self.hall.events.iter().filter(|event| matches!(event.kind, EventKind::Go { .. })).count();
        // A follow may have come due in the same tick; nothing else may have happened.
        let effects = self.hall.events.iter().rev().take(60).filter(by_request).count();
        assert!(effects == 0 || follows > go_before, "a repeated key had a second effect");
    }
}

fn fault(show: &Show, kind: u8, at: u8) -> SimFault {
    let rig = RigId::new(usize::from(at) % show.rigs.len());
    let axis = AxisId::new(usize::from(at) % show.axes.len());
    let tolerance = show.axis(axis).tolerance;
    match kind {
        0 => SimFault::LinkLost(rig),
        1 => SimFault::Mute(rig),
        2 => SimFault::LateReports(rig, Nanos::from_millis(150)),
        3 => SimFault::Stuck(axis),
        4 => SimFault::Reversed(axis),
        5 => SimFault::Drift(axis, tolerance),
        6 => SimFault::BrakeSlip(axis, tolerance),
        7 => SimFault::Jump(axis, 3.0 * tolerance),
        _ => SimFault::NonFinite(axis),
    }
}

/// What happened in one evening, to see that the operators got somewhere.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    gone: usize,
    done: usize,
    held: usize,
    returned: usize,
    carried_on: usize,
    preset: usize,
    stopped: usize,
    reset: usize,
    /// Rigs taken in hand, rigs that stopped before something, ticks in which something moved in hand.
    taken: usize,
    blocked: usize,
    driven: u64,
}

impl Tally {
    fn with(self, other: Tally) -> Tally {
        Tally {
            gone: self.gone + other.gone,
            done: self.done + other.done,
            held: self.held + other.held,
            returned: self.returned + other.returned,
            carried_on: self.carried_on + other.carried_on,
            preset: self.preset + other.preset,
            stopped: self.stopped + other.stopped,
            reset: self.reset + other.reset,
            taken: self.taken + other.taken,
            blocked: self.blocked + other.blocked,
            driven: self.driven + other.driven,
        }
    }

    fn count(&mut self, preset: CueId, events: &[Event]) {
        let mut stopped_once = Vec::new();
        for event in events {
            match &event.kind {
                EventKind::Cue { cue, state: CueState::Done } if *cue == preset => self.preset += 1,
                EventKind::Go { cue, .. } => {
                    self.gone += 1;
                    self.carried_on += usize::from(stopped_once.contains(cue));
                }
                EventKind::Cue { state: CueState::Done, .. } => self.done += 1,
                EventKind::Cue { cue, state: CueState::Stopped } => stopped_once.push(*cue),
                EventKind::Cue { state: CueState::Returning, .. } => self.returned += 1,
                EventKind::Held { .. } => self.held += 1,
                EventKind::Stop { .. } => self.stopped += 1,
                EventKind::Reset => self.reset += 1,
                EventKind::Hand(HandEvent::Taken { .. }) => self.taken += 1,
                EventKind::Hand(HandEvent::Stopped { .. }) => self.blocked += 1,
                _ => {}
            }
        }
    }
}

fn play(show: &str, doings: &[Doing], seed: u64) -> Tally {
    let mut evening = Evening::new(&hall::folder(show), seed);
    let obeys = !doings.iter().any(|doing| matches!(doing.act, Act::Fault { .. }));
    let hands = doings.iter().any(|doing| matches!(doing.act, Act::Take { .. }));
    evening.stage = (obeys && hands).then(|| Stage::new(&evening.hall.show));
    let inputs = evening.hall.show.inputs.len();
    evening.hall.sensors = (0..inputs).map(|index| (InputId::new(index), true)).collect();
    for _ in 0..150 {
        evening.tick(Vec::new());
    }
    evening.send(1, Verb::Arm);
    for doing in doings {
        evening.perform(doing);
    }
    // Whatever happened: a stop now brings everything to rest, within its bound (invariant 3 is the engine's own
    // assertion), and nothing moves after it.
    evening.hall.stop.generations[2] += 1;
    for _ in 0..8000 {
        evening.tick(Vec::new());
    }
    let before: Vec<f64> = evening.before.clone();
    evening.tick(Vec::new());
    assert_eq!(before, evening.before, "invariant 4: something moves long after the stop");
    let told = evening.hall.events.iter().rev().find(|event| matches!(event.kind, EventKind::Standstill { .. }));
    assert!(told.is_some(), "the second part of the stop's answer never came");
    let journal = evening.hall.journal();
    let verdict = journal::replay(&journal, |_| {}).expect("a journal");
    assert!(verdict.is_sound() && verdict.ended, "invariant 8: {verdict:?}");
    assert_eq!(verdict.replayed, evening.hall.status.tick, "invariant 8: every tick is in the journal");
    let mut tally = Tally::default();
    tally.count(evening.hall.show.preset_id(), &evening.hall.events);
    tally.driven = evening.driven;
    tally
}

fn regressions() -> PathBuf {
    hall::folder("tests/regressions")
}

#[derive(Serialize, Deserialize)]
struct Kept {
    show: String,
    seed: u64,
    doings: Vec<Doing>,
}

#[test]
fn random_operators_of_the_demo_show_break_no_invariant() {
    let total = simulate("demo-show", 32, evening());
    got_somewhere(total, 32);
}

#[test]
fn random_operators_of_the_drill_break_no_invariant() {
    let total = simulate("tests/drill", 96, evening());
    got_somewhere(total, 96);
}

#[test]
fn random_hands_on_the_demo_show_break_no_invariant_and_come_near_nothing() {
    let total = simulate("demo-show", HAND_RUNS, hands());
    println!("{total:?}");
    let runs = HAND_RUNS as usize;
    if asked("BELLWIRE_SIMULATIONS").is_none() {
        assert!(total.taken > runs && total.driven > 1000 * HAND_RUNS);
    }
}

fn asked(name: &str) -> Option<u64> {
    std::env::var(name).ok().map(|text| text.parse().unwrap())
}

fn simulate(show: &str, runs: u64, evening: impl Strategy<Value = Vec<Doing>>) -> Tally {
    let runs = asked("BELLWIRE_SIMULATIONS").unwrap_or(runs);
    let seed = asked("BELLWIRE_SEED").unwrap_or(20_261_125);
    println!("{show}: seed {seed}, {runs} runs");
    let config =
        Config { cases: runs as u32, failure_persistence: None, max_shrink_iters: 400, ..Config::default() };
    let mut bytes = [0_u8; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    let mut runner = TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &bytes));
    let total = std::cell::Cell::new(Tally::default());
    let result = runner.run(&evening, |doings| {
        let played = std::panic::catch_unwind(|| play(show, &doings, seed));
        played.map(|tally| total.set(total.get().with(tally))).map_err(|panic| {
            let text = panic
                .downcast_ref::<String>()
                .cloned()
                .or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()));
            TestCaseError::fail(text.unwrap_or_default())
        })
    });
    if let Err(TestError::Fail(reason, doings)) = result {
        let name = format!("{}-{seed}", show.replace('/', "-"));
        let mut files = (doings.len()..).map(|number| regressions().join(format!("{name}-{number}.json")));
        let kept = files.find(|file| !file.exists()).unwrap();
        let text = serde_json::to_string_pretty(&Kept { show: show.to_owned(), seed, doings }).unwrap();
        std::fs::write(&kept, text).unwrap();
        panic!("seed {seed}: {reason}\nkept in {}", kept.display());
    }
    total.get()
}

/// Operators who get nowhere prove nothing.
fn got_somewhere(total: Tally, runs: u64) {
    let Tally { gone, done, held, returned, carried_on, preset, stopped, reset, .. } = total;
    println!("{total:?}");
    let runs = asked("BELLWIRE_SIMULATIONS").unwrap_or(runs);
    if runs >= 32 {
        let runs = runs as usize;
        assert!(gone > runs && done > runs / 2 && held > runs / 8 && stopped > runs && reset > runs / 2);
        assert!(returned > runs / 16 && carried_on > runs / 16 && preset > runs / 16);
    }
}

#[test]
fn what_failed_once_does_not_fail_again() {
    let files = std::fs::read_dir(regressions()).unwrap().map(|entry| entry.unwrap().path());
    for path in files.filter(|path| path.extension().is_some_and(|ext| ext == "json")) {
        println!("{}", path.display());
        let kept: Kept = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        play(&kept.show, &kept.doings, kept.seed);
    }
}
