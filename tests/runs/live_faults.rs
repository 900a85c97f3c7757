//! Faults that an operator asks simulated rigs for while the show runs: who may, of which rigs, and that the run can be
//! lived again to the bit.

use crate::hall::real::Real;
use crate::hall::{self, CALLER, Hall};
use bellwire::engine::*;
use bellwire::journal::replay;
use bellwire::rig::{SimFault, SimFaultKind};
use bellwire::show::RigId;

fn bench() -> Hall {
    let folder = hall::folder("tests/outside/bench");
    let mut hall = Hall::open(hall::read(&folder));
    hall.record(&folder);
    hall.let_sensors_speak();
    hall.arm();
    // Power comes on with the next commands that arrive.
    hall.run(0.1);
    hall
}

fn inject(hall: &mut Hall, fault: SimFault, on: bool) -> Result<Accepted, Refusal> {
    hall.ask(Verb::SimFault { fault, on })
}

/// Of every kind, of the wagon or its one axis.
fn every_fault(hall: &Hall) -> Vec<SimFault> {
    let sloop = hall.rig("sloop");
    let of = |kind: SimFaultKind| {
        let size = kind.size().map(|_| 0.5);
        kind.of(sloop, &hall.show.rig(sloop).axes, None, size).unwrap()
    };
    SimFaultKind::ALL.map(of).to_vec()
}

#[test]
fn a_rig_fails_when_it_is_asked_to_and_no_longer_when_that_is_over() {
    let mut hall = bench();
    for fault in every_fault(&hall) {
        assert_eq!(inject(&mut hall, fault, true), Ok(Accepted::Done));
        let told = EventKind::SimFault { fault, on: true, by: CALLER };
        assert_eq!(hall.events.last().map(|event| &event.kind), Some(&told));
        assert_eq!(hall.faults.present().collect::<Vec<_>>(), [fault], "from this tick on");
        hall.tick(&[]);
        let lasts = fault.kind().lasts();
        assert_eq!(hall.faults.present().count(), usize::from(lasts), "{fault:?}");
        let sloop = hall.rig("sloop");
        let ending = fault.kind().ending(sloop, &hall.show.rig(sloop).axes, None).unwrap();
        assert_eq!(inject(&mut hall, ending, false), Ok(Accepted::Done), "whatever its size");
        assert_eq!(hall.faults.present().count(), 0, "{fault:?}");
    }
}

#[test]
fn only_an_operator_lets_a_rig_fail() {
    let mut hall = bench();
    let fault = SimFault::LinkLost(hall.rig("sloop"));
    for role in [Role::Observer, Role::Caller] {
        let mut request = hall.request(CALLER, Verb::SimFault { fault, on: true });
        request.role = role;
        let answers = hall.tick(&[request]);
        let needs = Reason::Role { needs: Role::Operator, has: role };
        assert_eq!(answers[0].outcome, Err(Refusal::one(needs)));
    }
    assert_eq!(hall.faults.present().count(), 0);
}

#[test]
fn a_real_rig_is_never_made_to_fail() {
    let show = hall::read(&hall::folder("tests/outside/bench"));
    let is_real = |show: &bellwire::show::Show, rig: RigId| show.rig(rig).name == "sloop";
    let names = show.clone();
    let mut hall = Hall::driven_by(show, |rig, driver| match is_real(&names, rig) {
        true => Box::new(Real(driver)),
        false => driver,
    });
    hall.run(0.1);
    let sloop = hall.rig("sloop");
    for fault in every_fault(&hall) {
        assert_eq!(inject(&mut hall, fault, true), Err(Refusal::one(Reason::RealRig { rig: sloop })));
    }
    assert_eq!(hall.faults.present().count(), 0);
    let pike = SimFault::Stuck(hall.axis("pike.pan"));
    assert_eq!(inject(&mut hall, pike, true), Ok(Accepted::Done), "the others are simulated all the same");
}

#[test]
fn a_repeat_of_the_same_key_jumps_no_second_time() {
    let mut hall = bench();
    let fault = SimFault::Jump(hall.axis("sloop.travel"), 0.1);
    for _ in 0..2 {
        let mut request = hall.request(CALLER, Verb::SimFault { fault, on: true });
        request.key = Some(Key(7));
        assert_eq!(hall.tick(&[request])[0].outcome, Ok(Accepted::Done));
        hall.run(0.1);
    }
    let stands = hall.status.axes[hall.axis("sloop.travel").index()].position.unwrap();
    assert!((stands - 0.1).abs() < 0.01, "{stands}");
}

#[test]
fn a_run_with_live_faults_replays_to_the_bit_and_tells_who_asked_for_them() {
    let mut hall = bench();
    let travel = hall.axis("sloop.travel");
    hall.fire("1");
    hall.run(1.0);
    inject(&mut hall, SimFault::Drift(travel, -0.4), true).unwrap();
    hall.run(1.5);
    assert!(hall.status.stopped.is_some(), "it lags more and more");
    // It slips whatever its brakes do, until that is over.
    inject(&mut hall, SimFault::Drift(travel, 1.0), false).unwrap();
    hall.run_to_standstill();
    hall.run(3.0);
    hall.ask(Verb::Reset).expect("the fault is over");
    hall.run(0.5);
    let bytes = hall.journal();
    let mut injected = Vec::new();
    let verdict = replay(&bytes, |seen| {
        if let bellwire::journal::Told::Tick(entry) = seen.told {
            let events = entry.events.iter().filter_map(|event| match event.kind {
                EventKind::SimFault { fault, on, by } => Some((fault.kind(), on, by)),
                _ => None,
            });
            injected.extend(events);
        }
    })
    .expect("a journal");
    assert!(verdict.is_sound(), "{verdict:?}");
    assert_eq!(verdict.replayed, verdict.ticks);
    assert_eq!(injected, [(SimFaultKind::Drift, true, CALLER), (SimFaultKind::Drift, false, CALLER)]);
}
