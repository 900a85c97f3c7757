//! Each row of the table from fault to reaction, injected end to end: told, answered and cleared as the row says.

use crate::hall::bench::Bench;
use bellwire::engine::*;
use bellwire::rig::{Driver, SimFault};
use bellwire::show::{CueState, Nanos, Show};

/// A bench to the tick in which a fault of this kind was told, while a cue ran or after it was stopped.
fn story(kind: FaultKind) -> (Bench, Fault) {
    // So close that a rig which runs on is found while it should brake.
    let close = |show: &mut Show| show.axes.iter_mut().for_each(|axis| axis.lag_limit = 0.1);
    let mut bench = if kind == FaultKind::RunsOn { Bench::with(close) } else { Bench::new() };
    let (sloop, pike, lantern) = (bench.rig("sloop"), bench.axis("pike"), bench.axis("lantern"));
    if let FaultKind::Reversed = kind {
        bench.faults.inject(SimFault::Reversed(bench.axis("sloop")));
        bench.fire(0);
    } else {
        bench.sloop_in_full_motion();
    }
    let axis = bench.axis("sloop");
    let fault = match kind {
        FaultKind::LateReports => {
            bench.faults.inject(SimFault::LateReports(bench.rig("pike"), Nanos::from_millis(120)));
            Fault::LateReports(bench.rig("pike"))
        }
        FaultKind::OverrunHold => {
            bench.tick_late(120);
            Fault::OverrunHold
        }
        FaultKind::OverrunStop => {
            bench.tick_late(220);
            Fault::OverrunStop
        }
        FaultKind::MovesUnpowered => {
            without_power(&mut bench, SimFault::NonFinite(pike));
            bench.faults.inject(SimFault::BrakeSlip(pike, 1.0));
            Fault::MovesUnpowered(pike)
        }
        FaultKind::BrakeSlip => {
            without_power(&mut bench, SimFault::NonFinite(lantern));
            bench.faults.inject(SimFault::BrakeSlip(lantern, -0.05));
            Fault::BrakeSlip(lantern)
        }
        FaultKind::Following => {
            bench.faults.inject(SimFault::Drift(axis, -0.4));
            Fault::Following(axis)
        }
        FaultKind::Stuck => {
            bench.faults.inject(SimFault::Stuck(axis));
            Fault::Stuck(axis)
        }
        FaultKind::Reversed => Fault::Reversed(axis),
        FaultKind::RunsOn => {
            bench.faults.inject(SimFault::IgnoresStop(sloop));
            bench.press_stop();
            Fault::RunsOn(axis)
        }
        FaultKind::Creeps => {
            bench.faults.inject(SimFault::Drift(pike, 1.0));
            Fault::Creeps(pike)
        }
        FaultKind::Jump => {
            bench.faults.inject(SimFault::Jump(axis, 0.5));
            Fault::Jump(axis)
        }
        FaultKind::NonFinite => {
            bench.faults.inject(SimFault::NonFinite(axis));
            Fault::NonFinite(axis)
        }
        FaultKind::LinkLost => {
            bench.faults.inject(SimFault::LinkLost(sloop));
            Fault::LinkLost(sloop)
        }
        FaultKind::Drive => {
            bench.faults.inject(SimFault::Drive(sloop));
            Fault::Drive(sloop)
        }
        FaultKind::OverTravel => return over_travel(),
        FaultKind::Swapped => return swapped(),
        FaultKind::Engine => return broken(),
    };
    bench.run_until_told(fault, 2.0);
    (bench, fault)
}

/// A fault that is over, and its rig at rest on its brakes.
fn without_power(bench: &mut Bench, fault: SimFault) {
    bench.faults.inject(fault);
    bench.run(2.0);
    bench.faults.heal();
    bench.run(1.0);
    assert!(bench.status.stopped.is_some());
}

/// It stands at the end of its travel, and slips out of it.
fn over_travel() -> (Bench, Fault) {
    let mut bench = Bench::with(|show| show.axes.iter_mut().for_each(|axis| axis.start = axis.travel[1]));
    let axis = bench.axis("sloop");
    bench.faults.inject(SimFault::Drift(axis, 0.1));
    bench.run_until_told(Fault::OverTravel(axis), 1.0);
    (bench, Fault::OverTravel(axis))
}

/// Simulated for the first so many reads, and real from then on.
struct Swaps {
    inner: Box<dyn Driver>,
    reads: u32,
}

impl Driver for Swaps {
    fn simulated(&self) -> bool {
        self.reads < 2000
    }

    fn read(&mut self, now: Nanos, axes: &mut [AxisReport]) -> RigReport {
        self.reads += 1;
        RigReport { simulated: self.simulated(), ..self.inner.read(now, axes) }
    }

    fn write(&mut self, now: Nanos, command: RigCommand, setpoints: &[Setpoint]) {
        self.inner.write(now, command, setpoints);
    }
}

fn swapped() -> (Bench, Fault) {
    let mut bench =
        Bench::driven_by(|rig, inner| if rig.0 == 0 { Box::new(Swaps { inner, reads: 0 }) } else { inner });
    bench.fire(0);
    let fault = Fault::Swapped(bench.show.rig_ids().next().unwrap());
    bench.run_until_told(fault, 4.0);
    (bench, fault)
}

/// A travel that was cut behind the back of the proof: the engine sees that its setpoints leave it.
fn broken() -> (Bench, Fault) {
    let cut = |show: &mut Show| {
        for axis in &mut show.axes {
            axis.travel[1] = axis.start + 0.5;
        }
    };
    let mut bench = Bench::disarmed(|_| {}, cut, |_, driver| driver);
    bench.arm();
    bench.fire(0);
    bench.run_until_told(Fault::Engine, 3.0);
    (bench, Fault::Engine)
}

#[test]
fn each_fault_is_answered_as_its_row_says() {
    for kind in FaultKind::ALL {
        let (mut bench, fault) = story(kind);
        println!("{kind:?}");
        assert_eq!(fault.kind(), kind);
        assert_eq!(bench.told(fault), Some(bench.status.tick), "told in the tick in which it is found");
        let rigs: Vec<_> =
            bench.show.rig_ids().filter(|&rig| fault.rig(&bench.show).is_none_or(|at| at == rig)).collect();
        let powered = |bench: &Bench| rigs.iter().any(|&rig| bench.powered(rig));
        let latched = bench.causes().contains(&Cause::Fault(fault));
        match kind.rule().reaction {
            Reaction::Warn => assert!(!latched && !bench.status.held && powered(&bench), "{kind:?}"),
            Reaction::Hold => assert!(!latched && bench.status.held && powered(&bench), "{kind:?}"),
            Reaction::Stop => assert!(latched, "{kind:?}"),
            Reaction::StopThenDisable => {
                assert!(latched && powered(&bench), "{kind:?}");
                bench.run(1.5);
                assert!(!powered(&bench), "{kind:?}: power stays on");
            }
            Reaction::Disable => {
                assert!(latched && !powered(&bench), "{kind:?}");
                assert!(rigs.iter().all(|rig| !bench.commands[rig.index()].heartbeat), "{kind:?}");
            }
        }
    }
}

#[test]
fn each_fault_is_cleared_as_its_row_says() {
    for kind in FaultKind::ALL {
        let (mut bench, fault) = story(kind);
        println!("{kind:?}");
        let cause = Reason::Cause(Cause::Fault(fault));
        match kind.rule().clears {
            Clears::Alone => {
                bench.faults.heal();
                bench.run(1.5);
                assert!(bench.status.faults.is_empty() && bench.status.cues[0] == CueState::Done);
            }
            Clears::Resume => {
                bench.run(1.0);
                assert!(bench.status.faults.is_empty() && bench.status.held, "nothing goes on by itself");
                bench.accepted(Verb::Resume { cue: None });
                bench.run(0.1);
                assert_eq!(bench.status.cues[0], CueState::Running);
            }
            Clears::Reset => {
                bench.run(0.5);
                // The loop was late in one tick, and that is over.
                assert!(bench.refused(Verb::Reset).contains(&cause) || kind == FaultKind::OverrunStop);
                mend(&mut bench, kind);
                bench.run(3.0);
                bench.accepted(Verb::Reset);
            }
            Clears::ResetWithoutPower => {
                bench.run(0.5);
                bench.faults.heal();
                bench.run(3.0);
                assert!(!bench.status.faults.contains(&fault), "{kind:?}: without power it cannot stand");
                bench.accepted(Verb::Reset);
            }
            Clears::Acknowledged => {
                bench.run(3.0);
                assert!(bench.status.faults.contains(&fault), "{kind:?}: nobody has looked at it");
                assert!(bench.powered(bench.rig("pike")) && !bench.powered(bench.rig("sloop")));
                bench.accepted(Verb::Reset);
            }
            Clears::Disarm => {
                bench.run(3.0);
                assert!(bench.refused(Verb::Reset).contains(&cause));
                bench.accepted(Verb::Disarm);
                bench.tick();
                bench.accepted(Verb::Reset);
                bench.arm();
            }
            Clears::NewStart => {
                bench.faults.heal();
                bench.run(3.0);
                assert!(bench.refused(Verb::Reset).contains(&cause));
                continue;
            }
        }
        bench.run(1.0);
        assert!(
            bench.status.stopped.is_none() && bench.status.faults.is_empty(),
            "{kind:?}: {:?}",
            bench.status.faults
        );
        let before = bench.setpoints();
        bench.run(1.0);
        let moved = before != bench.setpoints();
        assert!(!moved || kind.rule().clears == Clears::Resume, "{kind:?}: something moves by itself");
    }
}

/// What a crew does before a reset.
fn mend(bench: &mut Bench, kind: FaultKind) {
    bench.faults.heal();
    if kind == FaultKind::OverTravel {
        let axis = bench.axis("sloop");
        bench.run(2.5);
        assert!(!bench.ask(Verb::Reset), "it stands outside still");
        // Pushed inside by hand.
        bench.faults.inject(SimFault::BrakeSlip(axis, -0.1));
        bench.run(2.0);
        bench.faults.heal();
    }
}
