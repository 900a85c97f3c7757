//! What a simulated rig does wrong reaches the engine by the road that a real rig's faults would take, and stops the
//! show. In virtual time, on the bench show.

use std::path::Path;
use std::sync::Arc;

use bellwire::engine::{
    AxisState, Cause, ClientId, Engine, Fault, Request, RequestId, Role, Status, StopCalls, Verb,
};
use bellwire::proof::prove;
use bellwire::rig::{Cycle, SimFault, SimFaults, open};
use bellwire::show::{self, AxisId, CueId, CueState, Driver, Nanos, RigId, Show, SimSettings};

/// The engine and its simulated rigs, and the status after the last tick.
struct Bench {
    show: Arc<Show>,
    cycle: Cycle,
    faults: SimFaults,
    status: Status,
    asked: u64,
}

impl Bench {
    fn new() -> Bench {
        Bench::with(|_| {})
    }

    /// Armed, after a change to the show.
    fn with(change: impl FnOnce(&mut Show)) -> Bench {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/bench");
        let reading = show::read(&folder);
        let mut show = reading.show.unwrap_or_else(|| panic!("{:?}", reading.findings));
        change(&mut show);
        let show = Arc::new(show);
        let engine = Engine::new(show.clone(), Arc::new(prove(&show).plan));
        let (drivers, faults) = open(&show, 11);
        let status = Status::at_rest(&show);
        let mut bench = Bench { cycle: Cycle::new(&show, engine, drivers), show, faults, status, asked: 0 };
        bench.run(0.5);
        bench.accepted(Verb::Arm);
        bench.run(0.2);
        bench
    }

    fn turn(&mut self, requests: &[Request]) -> Vec<bool> {
        let output = self.cycle.turn(StopCalls::default(), requests, Nanos::ZERO);
        self.status.clone_from(output.status);
        output.answers.iter().map(|answer| answer.outcome.is_ok()).collect()
    }

    fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds / self.show.settings.tick.seconds()) as u32 {
            self.turn(&[]);
        }
    }

    /// Whether a request was accepted; each is answered in its own tick.
    fn ask(&mut self, verb: Verb) -> bool {
        self.asked += 1;
        let id = RequestId(self.asked);
        let request =
            Request { id, client: ClientId(1), role: Role::Operator, edition: 0, key: None, age: None, verb };
        let answers = self.turn(&[request]);
        assert_eq!(answers.len(), 1, "one answer for one request");
        answers[0]
    }

    fn accepted(&mut self, verb: Verb) {
        assert!(self.ask(verb.clone()), "{verb:?} is refused: {:?}", self.status);
    }

    fn fire(&mut self, cue: usize) {
        self.accepted(Verb::Standby { cues: [CueId::new(cue)].into_iter().collect(), skip: true });
        self.accepted(Verb::Go { cue: None });
    }

    fn rig(&self, name: &str) -> RigId {
        self.show.rig_ids().find(|&rig| self.show.rig(rig).name == name).expect("a rig of the bench")
    }

    /// The first axis of a rig.
    fn axis(&self, rig: &str) -> AxisId {
        self.show.rig(self.rig(rig)).axis_ids().next().expect("an axis")
    }

    fn setpoints(&self) -> Vec<f64> {
        self.status.axes.iter().map(|axis| axis.setpoint).collect()
    }

    fn causes(&self) -> Vec<Cause> {
        self.status.stopped.iter().flat_map(|stopped| stopped.causes.iter().map(|&(cause, _)| cause)).collect()
    }

    fn sloop_in_full_motion(&mut self) -> AxisId {
        self.fire(0);
        self.run(1.5);
        let axis = self.axis("sloop");
        let speed = self.status.axes[axis.index()].speed.expect("measured");
        assert!(speed > 0.5, "{speed}");
        axis
    }

    /// Latched by this fault, all setpoints at rest, the cue stopped.
    fn assert_stopped_by(&mut self, fault: Fault) {
        assert!(self.causes().contains(&Cause::Fault(fault)), "{:?}", self.causes());
        self.run(2.0);
        assert_eq!(self.status.cues[0], CueState::Stopped);
        let before = self.setpoints();
        self.run(0.5);
        assert_eq!(before, self.setpoints());
        assert!(!self.ask(Verb::Standby { cues: [CueId(0)].into_iter().collect(), skip: true }) || !self.go());
    }

    fn go(&mut self) -> bool {
        self.ask(Verb::Go { cue: None })
    }

    /// The fault is gone: reset is taken, and nothing moves.
    fn assert_resets(&mut self) {
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

#[test]
fn rigs_that_are_not_ideal_run_a_cue_to_its_end() {
    let mut bench = Bench::with(|show| {
        for rig in &mut show.rigs {
            rig.driver = Driver::Sim(SimSettings { lag: 0.05, noise: 0.0005, backlash: 0.002 });
        }
    });
    bench.fire(0);
    bench.run(3.5);
    assert_eq!(bench.status.cues[0], CueState::Done);
    assert_eq!(bench.status.stopped, None);
    let measured = bench.status.axes[bench.axis("sloop").index()].position.expect("measured");
    assert!((measured - 1.5).abs() < 0.005, "{measured}");
}

#[test]
fn a_lost_link_stops_the_show() {
    for mute in [false, true] {
        let mut bench = Bench::new();
        bench.sloop_in_full_motion();
        let rig = bench.rig("sloop");
        bench.faults.inject(if mute { SimFault::Mute(rig) } else { SimFault::LinkLost(rig) });
        // The time-out is 0.2 s, counted from the newest report, which is 4 ms old.
        bench.run(0.19);
        assert_eq!(bench.status.stopped, None);
        bench.run(0.02);
        bench.assert_stopped_by(Fault::LinkLost(rig));
        assert!(!bench.ask(Verb::Reset), "refused while the rig is silent");
        bench.assert_resets();
    }
}

#[test]
fn a_silent_rig_is_never_said_to_stand_still() {
    let mut bench = Bench::new();
    bench.sloop_in_full_motion();
    bench.faults.inject(SimFault::LinkLost(bench.rig("sloop")));
    bench.run(5.0);
    let stopped = bench.status.stopped.clone().expect("stopped");
    assert!(!stopped.standstill);
}

#[test]
fn a_stuck_axis_stops_the_show() {
    let mut bench = Bench::new();
    let axis = bench.sloop_in_full_motion();
    bench.faults.inject(SimFault::Stuck(axis));
    // At most 0.3 m of lag at 0.75 m/s.
    bench.run(0.5);
    bench.assert_stopped_by(Fault::Following(axis));
    bench.assert_resets();
}

#[test]
fn an_encoder_that_jumps_stops_the_show() {
    let mut bench = Bench::new();
    let axis = bench.sloop_in_full_motion();
    bench.faults.inject(SimFault::Jump(axis, -0.8));
    bench.run(0.02);
    bench.assert_stopped_by(Fault::Following(axis));
    assert!(!bench.ask(Verb::Reset), "refused while the axis is under power and off its setpoint");
    bench.accepted(Verb::Disarm);
    bench.assert_resets();
}

#[test]
fn an_axis_that_runs_the_wrong_way_stops_the_show() {
    let mut bench = Bench::new();
    let axis = bench.axis("sloop");
    bench.faults.inject(SimFault::Reversed(axis));
    bench.fire(0);
    bench.run(1.5);
    bench.assert_stopped_by(Fault::Following(axis));
    let measured = bench.status.axes[axis.index()].position.expect("measured");
    assert!(measured > -0.6, "it was stopped before it got far: {measured}");
}

#[test]
fn a_reading_that_is_no_number_stops_the_show() {
    let mut bench = Bench::new();
    let axis = bench.sloop_in_full_motion();
    bench.faults.inject(SimFault::NonFinite(axis));
    bench.run(0.02);
    bench.assert_stopped_by(Fault::NonFinite(axis));
    assert_eq!(bench.status.axes[axis.index()].position, None);
    assert!(!bench.ask(Verb::Reset), "refused while the axis is not read");
    bench.assert_resets();
}

#[test]
fn reports_that_come_late_but_in_time_do_not() {
    let mut bench = Bench::with(|show| show.axes.iter_mut().for_each(|axis| axis.lag_limit = 10.0));
    bench.faults.inject(SimFault::LateReports(bench.rig("sloop"), Nanos::from_millis(150)));
    bench.fire(0);
    bench.run(3.5);
    assert_eq!(bench.status.cues[0], CueState::Done);
    assert_eq!(bench.status.stopped, None);
}

#[test]
fn one_rigs_fault_stops_all_that_run() {
    let mut bench = Bench::new();
    bench.sloop_in_full_motion();
    // The head was never in the cue; the machine is one all the same.
    bench.faults.inject(SimFault::NonFinite(bench.axis("pike")));
    bench.run(0.02);
    bench.assert_stopped_by(Fault::NonFinite(bench.axis("pike")));
    bench.assert_resets();
}

#[test]
fn a_faulty_rig_keeps_a_show_from_moving_at_all() {
    let mut bench = Bench::new();
    bench.faults.inject(SimFault::LinkLost(bench.rig("lantern")));
    bench.run(0.5);
    assert!(bench.status.stopped.is_some());
    assert!(!bench.go());
    bench.assert_resets();
}
