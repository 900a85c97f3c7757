//! After start-up the engine and the simulated rigs take no memory: every kind of tick is counted.
//!
//! The only unsafe code of the project is the counting allocator here: `GlobalAlloc` is an unsafe trait, and each call
//! is handed to the system's allocator as it came.
#![allow(unsafe_code, reason = "a counting allocator cannot be written without it")]

mod hall;

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::f64::consts::PI;
use std::sync::Arc;

use bellwire::daemon::{Keeping, Page, Pages, Pen, pen};
use bellwire::engine::*;
use bellwire::proof::{self, Playback, plan_playback};
use bellwire::rig::{self, Cycle, SimFault};
use bellwire::show::{AxisId, InputId, Nanos, Place, Show, cast, read_take};

thread_local! {
    static COUNT: Cell<u64> = const { Cell::new(0) };
}

struct Counting;

unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let _ = COUNT.try_with(|count| count.set(count.get() + 1));
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        unsafe { System.dealloc(pointer, layout) }
    }

    unsafe fn realloc(&self, pointer: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        let _ = COUNT.try_with(|count| count.set(count.get() + 1));
        unsafe { System.realloc(pointer, layout, size) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

struct Counted {
    cycle: Cycle,
    /// The journal's end in the tick thread, and the end that is read elsewhere.
    pen: Pen,
    pages: Pages,
    page: Page,
    stop: StopCalls,
    next: u64,
    ticks: u64,
}

impl Counted {
    fn turn(&mut self, verbs: &[Verb]) {
        let requests: Vec<Request> = verbs
            .iter()
            .map(|verb| {
                self.next += 1;
                let id = RequestId(self.next);
                let key = Some(Key(self.next));
                let verb = verb.clone();
                Request { id, client: ClientId(7), role: Role::Operator, edition: 0, key, age: None, verb }
            })
            .collect();
        let before = COUNT.get();
        let exchange = self.cycle.exchange(self.stop, &requests, Nanos::ZERO);
        self.pen.write(Nanos::ZERO, &exchange);
        let taken = COUNT.get() - before;
        let output = exchange.output;
        let events: Vec<String> = output.events.iter().map(|event| format!("{:?}", event.kind)).collect();
        assert_eq!(taken, 0, "tick {} took memory {taken} times: {verbs:?} {events:?}", self.ticks);
        self.ticks += 1;
        // Now and then nobody collects what is written, until the rings are full.
        if self.ticks % 10_000 > 4_000 {
            while self.pages.next(&mut self.page) {}
        }
    }

    /// Every axis of the show pushed, or its dial turned, for so many ticks.
    fn drive(&mut self, axes: usize, value: f64, ticks: usize) {
        for tick in 0..ticks {
            if tick % 20 == 0 {
                let client = ClientId(7);
                let sample = |index: usize| {
                    let (axis, dial) = (AxisId::new(index), index % 5 == 4);
                    let kind = if dial { StickKind::Dial } else { StickKind::Stick };
                    StickSample { client, axis, kind, value: if dial { value.abs() } else { value } }
                };
                self.cycle.hear(&(0..axes).map(sample).collect::<Vec<_>>());
            }
            self.run(1);
        }
    }

    fn run(&mut self, ticks: usize) {
        for tick in 0..ticks {
            let sensors = [0, 1, 2].map(|index| Verb::Input { input: InputId::new(index), value: true });
            self.turn(if tick % 50 == 0 { &sensors } else { &[] });
        }
    }
}

/// A take of minnow's slider by so much and back, from where it stands, proved where everything stands.
fn take_of_minnow(counted: &Counted, show: &Show, way: f64) -> Playback {
    let status = counted.cycle.engine().status();
    let travel = show.axis_ids().find(|&axis| show.axis_name(axis) == "minnow.travel").unwrap();
    let from = status.axes[travel.index()].setpoint;
    let sample = |k: u32| {
        let x = ((f64::from(k) * 0.02 - 1.0) / 6.0).clamp(0.0, 1.0);
        format!("{:.3},{:.6}\n", f64::from(k) * 0.02, from + way * (PI * x).sin().powi(4))
    };
    let text = (0..=400).map(sample).fold("time,minnow.travel\n".to_owned(), |text, line| text + &line);
    let (take, findings) = read_take("hand", &text, Place::default());
    assert_eq!(findings, []);
    let parts = cast(show, &Arc::new(take), None).unwrap();
    let stands: Vec<f64> = status.axes.iter().map(|axis| axis.setpoint).collect();
    plan_playback(show, parts, 1.5, &stands).unwrap_or_else(|why| panic!("{why:?}")).playback
}

#[test]
fn a_tick_takes_no_memory() {
    let show = Arc::new(hall::read(&hall::folder("demo-show")));
    let plan = Arc::new(proof::prove(&show).plan);
    let (drivers, faults) = rig::open(&show, 1);
    let cycle = Cycle::new(&show, Engine::new(show.clone(), plan), drivers, faults);
    let keeping = Arc::new(Keeping::of("run.journal".as_ref()));
    let (pen, pages) = pen(&show, keeping.clone());
    let page = Page::default();
    let mut counted = Counted { cycle, pen, pages, page, stop: StopCalls::default(), next: 0, ticks: 0 };
    let cue = |number: &str| show.find_cue(&number.parse().unwrap()).unwrap();
    let standby = |number: &str| Verb::Standby { cues: [cue(number)].into_iter().collect(), skip: true };
    counted.run(200);
    counted.turn(&[Verb::Arm]);
    // Cues from far down the list: everything stands elsewhere, and is proved live.
    for number in ["9", "16", "30"] {
        counted.turn(&[standby(number)]);
        counted.run(300);
        let reasons = &counted.cycle.engine().status().standby[0].reasons.reasons;
        // The rigs that it moves have to stand where it begins, in all their axes.
        let moved = |axis: AxisId| show.cue(cue(number)).moves.iter().any(|step| step.rig == show.axis(axis).rig);
        let unproved =
            reasons.iter().any(|reason| matches!(reason, Reason::OtherPose { axis, .. } if !moved(*axis)));
        assert!(!unproved, "{number}: {reasons:?}");
    }
    counted.turn(&[standby("1")]);
    counted.turn(&[Verb::Go { cue: None }, Verb::Go { cue: None }]);
    counted.run(1500);
    counted.turn(&[Verb::Hold { cue: None }]);
    counted.run(800);
    counted.turn(&[Verb::Resume { cue: None }]);
    counted.run(500);
    counted.turn(&[Verb::Master { value: 0.5 }]);
    counted.run(500);
    counted.stop.generations[0] += 1;
    counted.run(1500);
    counted.turn(&[Verb::Reset]);
    counted.turn(&[standby("1")]);
    counted.turn(&[Verb::Go { cue: None }, Verb::Master { value: 1.0 }]);
    counted.run(5000);
    counted.turn(&[standby("5"), Verb::Go { cue: Some(cue("5")) }]);
    counted.run(6000);
    let fault = SimFault::LinkLost(show.rig_ids().next().unwrap());
    counted.turn(&[Verb::SimFault { fault, on: true }]);
    counted.run(1500);
    counted.turn(&[Verb::SimFault { fault, on: false }]);
    counted.run(500);
    counted.turn(&[Verb::Reset, Verb::Disarm, Verb::Arm, Verb::Return { cue: cue("5"), held: true }]);
    counted.run(500);
    counted.stop.generations[0] += 1;
    counted.run(1500);
    counted.turn(&[Verb::Reset, Verb::Place { cue: cue("4") }]);
    counted.turn(&[Verb::Preset { cue: cue("1"), held: false }]);
    counted.turn(&[Verb::Go { cue: None }]);
    counted.run(4000);
    counted.turn(&[Verb::Hold { cue: None }]);
    counted.run(800);
    counted.turn(&[Verb::Resume { cue: None }]);
    counted.run(40_000);
    // Each ends where it began.
    let takes = [0.3, 0.2].map(|way| take_of_minnow(&counted, &show, way));
    for playback in &takes {
        counted.turn(&[Verb::Play { playback: playback.clone() }]);
        assert!(counted.cycle.engine().status().standby[0].ready, "{:?}", counted.cycle.engine().status().standby);
        counted.run(300);
        counted.turn(&[Verb::Go { cue: Some(show.take_id()) }]);
        assert_eq!(counted.cycle.engine().status().running.len(), 1);
        counted.run(1500);
        counted.turn(&[Verb::Hold { cue: None }]);
        counted.run(800);
        counted.turn(&[Verb::Resume { cue: None }]);
        counted.run(8000);
        assert!(counted.cycle.engine().status().running.is_empty());
    }
    let hands: Vec<Verb> =
        show.rig_ids().map(|rig| Verb::Hand { rig, sticks: None, shape: StickShape::default() }).collect();
    counted.turn(&hands);
    for value in [0.0, 1.0, 0.0, -1.0, 0.3, f64::NAN] {
        counted.drive(show.axes.len(), value, 700);
    }
    counted.stop.generations[1] += 1;
    counted.run(1500);
    counted.turn(&[Verb::Reset]);
    counted.turn(&show.rig_ids().map(|rig| Verb::GiveBack { rig }).collect::<Vec<_>>());
    assert!(counted.ticks > 55_000);
    assert!(keeping.fails(), "the rings were full once, and that was seen");
}
