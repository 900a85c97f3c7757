//! The claims of `src/engine/stop.rs`, each under the name that stands beside it there.

use std::sync::Arc;

use crate::hall::ideal::Ideal;
use crate::hall::{self, CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::proof;
use bellwire::rig::SimFault;
use bellwire::show::{CueState, Nanos};

/// The drill, armed, its sensors well.
fn drill() -> Hall {
    let mut hall = Hall::open(hall::read(&hall::folder("tests/drill")));
    hall.sensors = (0..hall.show.inputs.len()).map(|index| (bellwire::show::InputId::new(index), true)).collect();
    hall.arm();
    hall
}

fn stops(hall: &Hall) -> usize {
    hall.events.iter().filter(|event| matches!(event.kind, EventKind::Stop { .. })).count()
}

fn standstills(hall: &Hall) -> Vec<Event> {
    hall.events.iter().filter(|event| matches!(event.kind, EventKind::Standstill { .. })).cloned().collect()
}

/// Every state that a show can be in, by the way that leads there.
#[expect(clippy::type_complexity, reason = "a name for it would say no more")]
fn states() -> Vec<(&'static str, fn(&mut Hall))> {
    vec![
        ("armed", |_| {}),
        ("disarmed", |hall| {
            hall.ask(Verb::Disarm).unwrap();
        }),
        ("standby", |hall| {
            hall.standby("1");
        }),
        ("running", |hall| {
            hall.fire("1");
            hall.run(1.0);
        }),
        ("running and waiting", |hall| {
            hall.fire("1");
            hall.run(0.3);
        }),
        ("two cues running", |hall| {
            hall.fire("1");
            hall.run(0.9);
        }),
        ("slowing for a hold", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.ask(Verb::Hold { cue: None }).unwrap();
            hall.run(0.1);
        }),
        ("held at rest", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.ask(Verb::Hold { cue: None }).unwrap();
            hall.run(2.0);
        }),
        ("speeding up after a hold", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.ask(Verb::Hold { cue: None }).unwrap();
            hall.run(2.0);
            hall.ask(Verb::Resume { cue: None }).unwrap();
            hall.run(0.15);
        }),
        ("returning", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.ask(Verb::Hold { cue: None }).unwrap();
            hall.run(2.0);
            let cue = hall.cue("1");
            hall.ask(Verb::Return { cue, held: true }).unwrap();
            hall.run(0.3);
        }),
        ("slower by the master", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.ask(Verb::Master { value: 0.3 }).unwrap();
            hall.run(0.05);
        }),
        ("disarming", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.ask(Verb::Disarm).unwrap();
        }),
        ("stopped", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.press_stop();
        }),
        ("stopped and reset", |hall| {
            hall.fire("1");
            hall.run(1.0);
            hall.press_stop();
            hall.run_to_standstill();
            hall.ask(Verb::Reset).unwrap();
        }),
    ]
}

#[test]
fn stop_in_every_state() {
    for (state, lead) in states() {
        let mut hall = drill();
        lead(&mut hall);
        hall.press_stop();
        assert!(hall.status.stopped.is_some(), "{state}: not latched in the tick of the stop");
        let bound = 1.2;
        hall.run(bound);
        assert!(!hall.setpoints_move(), "{state}: moves {bound} s after the stop");
        hall.run_to_standstill();
        assert!(hall.status.waiting.is_empty() && hall.status.standby.is_empty(), "{state}: something still waits");
    }
}

#[test]
fn a_lane_pressed_often_is_one_stop() {
    let mut hall = drill();
    hall.stop.generations[0] = u32::MAX;
    hall.tick(&[]);
    // Round past the end of its numbers, and a thousand times at once: still one stop a lane.
    hall.stop.generations[0] = 999;
    hall.stop.generations[3] = 77;
    hall.tick(&[]);
    assert_eq!(stops(&hall), 2);
    let causes: Vec<Cause> = hall.status.stopped.unwrap().causes.iter().map(|(cause, _)| *cause).collect();
    assert_eq!(causes, [Cause::Request(StopLane::StopPort), Cause::Request(StopLane::Http)]);
}

/// The stop at each tick of a cue, held against the bound that the check computed before.
#[test]
fn stop_at_every_tick_of_a_run() {
    let show = Arc::new(hall::read(&hall::folder("demo-show")));
    let plan = Arc::new(proof::prove(&show).plan);
    let cue = show.find_cue(&"1".parse().unwrap()).unwrap();
    let mut running = Ideal::new(&show, &plan);
    for _ in 0..100 {
        running.tick(&[]);
    }
    running.tick(&[Verb::Arm]);
    running.tick(&[Verb::Standby { cues: [cue].into_iter().collect(), skip: true }]);
    running.tick(&[Verb::Go { cue: Some(cue) }]);
    let bound = plan.cue(cue).stop_time;
    let tick = show.settings.tick.seconds();
    let (mut ticks_run, mut stopped) = (0, 0);
    let mut longest = 0.0_f64;
    while running.tick(&[]).cues[cue.index()] == CueState::Running {
        // Every third tick, to be done within seconds.
        ticks_run += 1;
        if ticks_run % 3 != 0 {
            continue;
        }
        let mut branch = running.clone();
        branch.stop.generations[1] += 1;
        let latched = branch.tick(&[]).stopped.is_some();
        assert!(latched, "not latched");
        let mut ticks = 1;
        while !branch.at_rest() {
            branch.tick(&[]);
            ticks += 1;
            assert!(f64::from(ticks) * tick <= bound + 2.0 * tick, "slower than the check's {bound} s");
        }
        longest = longest.max(f64::from(ticks) * tick);
        stopped += 1;
    }
    assert!(stopped > 500, "only {stopped} stops were tried");
    println!("{stopped} stops, the longest {longest:.3} s, the check's bound {bound:.3} s");
}

#[test]
fn stop_beats_every_request_in_every_order() {
    let requests = |hall: &mut Hall| {
        let cue = hall.cue("1");
        [
            Verb::Go { cue: Some(cue) },
            Verb::Resume { cue: None },
            Verb::Reset,
            Verb::Arm,
            Verb::Standby { cues: [cue].into_iter().collect(), skip: true },
        ]
    };
    let mut orders: Vec<Vec<usize>> = vec![vec![]];
    for _ in 0..5 {
        orders = orders
            .into_iter()
            .flat_map(|order| {
                let rest: Vec<usize> = (0..5).filter(|index| !order.contains(index)).collect();
                rest.into_iter().map(move |index| order.iter().copied().chain([index]).collect())
            })
            .collect();
    }
    assert_eq!(orders.len(), 120);
    let mut hall = drill();
    hall.standby("1");
    hall.run(0.1);
    for order in orders {
        let verbs = requests(&mut hall);
        let asked: Vec<Request> = order.iter().map(|&index| hall.request(CALLER, verbs[index].clone())).collect();
        hall.stop.generations[2] += 1;
        let answers = hall.tick(&asked);
        assert_eq!(answers.len(), 5);
        let go = asked.iter().position(|request| matches!(request.verb, Verb::Go { .. })).unwrap();
        let refusal = answers[go].outcome.clone().unwrap_err();
        assert!(refusal.reasons.contains(&Reason::Stopped), "{order:?}: {refusal:?}");
        assert!(hall.status.running.is_empty(), "{order:?}");
        assert!(hall.status.stopped.is_some(), "{order:?}: a reset in the tick of the stop cleared it");
        assert!(!hall.setpoints_move(), "{order:?}");
        hall.run_to_standstill();
        hall.ask(Verb::Reset).unwrap();
        let cue = hall.cue("1");
        let _ = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: true });
    }
}

#[test]
fn reset_waits_for_standstill() {
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.2);
    hall.press_stop();
    let reasons = hall.refused(Verb::Reset);
    assert!(reasons.iter().any(|reason| matches!(reason, Reason::NotStandingStill { .. })), "{reasons:?}");
    assert!(hall.status.stopped.is_some());
    hall.run_to_standstill();
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    assert!(hall.status.stopped.is_none());
}

#[test]
fn reset_is_refused_while_a_cause_remains() {
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.0);
    let rig = hall.rig("mast");
    hall.faults.inject(SimFault::LinkLost(rig));
    hall.run(3.0);
    let reasons = hall.refused(Verb::Reset);
    assert!(reasons.contains(&Reason::Cause(Cause::Fault(Fault::LinkLost(rig)))), "{reasons:?}");
    hall.faults.heal();
    hall.run(1.0);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
}

#[test]
fn stop_during_each_fault() {
    let faults: [fn(&Hall) -> SimFault; 8] = [
        |hall| SimFault::LinkLost(hall.rig("cart")),
        |hall| SimFault::Mute(hall.rig("cart")),
        |hall| SimFault::LateReports(hall.rig("cart"), Nanos::from_millis(120)),
        |hall| SimFault::Stuck(hall.axis("cart.travel")),
        |hall| SimFault::Reversed(hall.axis("cart.travel")),
        |hall| SimFault::Drift(hall.axis("cart.travel"), 0.05),
        |hall| SimFault::Jump(hall.axis("cart.travel"), 0.5),
        |hall| SimFault::NonFinite(hall.axis("cart.tray")),
    ];
    for (index, fault) in faults.iter().enumerate() {
        for wait in [0.004, 0.05, 0.3] {
            let mut hall = drill();
            hall.fire("1");
            hall.run(1.0);
            hall.faults.inject(fault(&hall));
            hall.run(wait);
            hall.press_stop();
            assert!(hall.status.stopped.is_some(), "fault {index}");
            hall.run(1.2);
            assert!(!hall.setpoints_move(), "fault {index} after {wait} s: setpoints still move");
            hall.run(2.0);
            // The second part of the answer comes, and does not claim rest where none was measured.
            let said = standstills(&hall);
            assert!(!said.is_empty(), "fault {index}: nothing was said of standstill");
        }
    }
}

#[test]
fn a_rig_that_does_not_stop_is_disabled() {
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.0);
    let axis = hall.axis("cart.travel");
    hall.faults.inject(SimFault::Drift(axis, 0.2));
    hall.press_stop();
    hall.run(4.0);
    let said = standstills(&hall);
    assert!(
        matches!(said.first().map(|event| &event.kind), Some(EventKind::Standstill { at_rest: false, axis: Some(at) }) if *at == axis),
        "{said:?}"
    );
    let cart = hall.rig("cart");
    let command = hall.last_commands[cart.index()];
    assert!(!command.enable && !command.heartbeat, "{command:?}");
}

#[test]
fn standstill_is_said_when_it_is_measured() {
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.0);
    hall.press_stop();
    let mut setpoints_rested = None;
    for _ in 0..2000 {
        if !standstills(&hall).is_empty() {
            break;
        }
        if !hall.setpoints_move() && setpoints_rested.is_none() {
            setpoints_rested = Some(hall.status.tick);
        }
    }
    let said = standstills(&hall);
    assert_eq!(said.len(), 1);
    let rested = setpoints_rested.expect("said before even the setpoints were at rest");
    assert!(said[0].tick > rested, "said with the setpoints, not with the measurement");
    let measured = hall.cycle.reports().1[hall.axis("cart.travel").index()];
    assert!(measured.speed.abs() < 0.01, "{measured:?}");
}

#[test]
fn nothing_moves_after_reset_without_a_new_go() {
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.0);
    hall.press_stop();
    hall.run_to_standstill();
    let go = hall.events.iter().filter(|event| matches!(event.kind, EventKind::Go { .. })).count();
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    assert_eq!(hall.ask(Verb::Resume { cue: None }).unwrap_err().reasons[0], Reason::NothingRunning);
    for _ in 0..2500 {
        assert!(!hall.setpoints_move());
    }
    assert_eq!(hall.events.iter().filter(|event| matches!(event.kind, EventKind::Go { .. })).count(), go);
    // A fresh standby and GO carry on from where it stopped.
    assert!(hall.standby("1").is_empty());
    let from = hall.status.standby[0].from;
    assert!(from > 0.5, "carried on from {from}");
    hall.go("1").unwrap();
    hall.run_until("1", CueState::Done, 4.0);
    assert_eq!(hall.setpoint("cart.travel"), 1.5);
}

#[test]
fn silence_stops() {
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.0);
    let rig = hall.rig("eye");
    hall.faults.inject(SimFault::Mute(rig));
    hall.run(0.25);
    let by = hall.status.stopped.as_ref().map(|stopped| stopped.by);
    assert_eq!(by, Some(Cause::Fault(Fault::LinkLost(rig))));

    // A loop that comes late holds first, and stops when it is later still.
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.0);
    hall.late = Nanos::from_millis(120);
    hall.tick(&[]);
    hall.late = Nanos::ZERO;
    assert!(hall.status.held && hall.status.stopped.is_none());
    hall.late = Nanos::from_millis(220);
    hall.tick(&[]);
    let by = hall.status.stopped.as_ref().map(|stopped| stopped.by);
    assert_eq!(by, Some(Cause::Fault(Fault::OverrunStop)));
}

#[test]
fn a_second_stop_changes_nothing() {
    let run = |second: Option<u32>| {
        let mut hall = drill();
        hall.fire("1");
        hall.run(1.0);
        hall.press_stop();
        let mut path = Vec::new();
        for tick in 0..400 {
            if second.is_some_and(|every| tick % every == 0) {
                hall.stop.generations[1] += 1;
            }
            let _ = hall.ask_as(OTHER, Verb::Hold { cue: None });
            path.push(hall.setpoint("cart.travel"));
        }
        path
    };
    let once = run(None);
    assert_eq!(once, run(Some(1)));
    assert_eq!(once, run(Some(7)));
}
