//! Holds, returns, conditions and lost links: what interrupts a cue, and what lets it go on.

use crate::hall::{self, CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::show::{CueState, InputId};

/// The drill, armed, its sensors well, cue 1 a second under way.
fn under_way() -> Hall {
    let mut hall = drill();
    hall.fire("1");
    hall.run(1.0);
    hall
}

fn drill() -> Hall {
    let mut hall = Hall::open(hall::read(&hall::folder("tests/drill")));
    hall.sensors = vec![(InputId(0), true), (InputId(1), true)];
    hall.arm();
    hall
}

fn hold_to_rest(hall: &mut Hall) {
    hall.ask(Verb::Hold { cue: None }).unwrap();
    assert_eq!(hall.state("1"), CueState::Holding);
    hall.run(1.5);
    assert!(!hall.setpoints_move());
}

#[test]
fn a_hold_comes_to_rest_on_the_path_and_a_resume_carries_on() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    let (one, time) = (hall.cue("1"), hall.status.running[0].time);
    let mut pose = vec![0.0; hall.show.axes.len()];
    hall.plan.clone().cue(one).pose_at(time, &mut pose);
    let axis = hall.axis("cart.travel");
    // The start was measured, so that the path differs from the plan by what the noise made of it.
    assert!((hall.setpoint("cart.travel") - pose[axis.index()]).abs() < 0.005);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run_until("1", CueState::Done, 4.0);
    assert_eq!(hall.setpoint("cart.travel"), 1.5);
}

#[test]
fn a_hold_that_names_a_cue_leaves_one_that_is_clear_of_it_running() {
    let mut hall = under_way();
    assert_eq!(hall.state("1.5"), CueState::Running);
    let cue = hall.cue("1.5");
    hall.ask(Verb::Hold { cue: Some(cue) }).unwrap();
    assert_eq!(["1", "1.5"].map(|n| hall.state(n)), [CueState::Running, CueState::Holding]);
    let eight = hall.cue("8");
    assert_eq!(hall.refused(Verb::Hold { cue: Some(eight) }), [Reason::NotRunning { cue: eight }]);
}

#[test]
fn what_two_clients_hold_both_must_release() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    hall.ask_as(OTHER, Verb::Hold { cue: None }).unwrap();
    assert_eq!(hall.refused(Verb::Resume { cue: None }), [Reason::HeldBy { client: OTHER }]);
    hall.run(0.5);
    assert_eq!(hall.state("1"), CueState::Holding);
    assert_eq!(hall.ask_as(OTHER, Verb::Resume { cue: None }), Ok(Accepted::Done));
    assert_eq!(hall.state("1"), CueState::Running);
}

#[test]
fn a_client_that_has_gone_leaves_its_hold_to_whoever_resumes() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    assert!(hall.ask_as(OTHER, Verb::Resume { cue: None }).is_err());
    hall.ask_as(CALLER, Verb::ClientLost { leased: false }).unwrap();
    assert_eq!(hall.state("1"), CueState::Holding, "a lost link started something");
    assert_eq!(hall.ask_as(OTHER, Verb::Resume { cue: None }), Ok(Accepted::Done));
}

#[test]
fn nothing_is_held_and_nothing_resumed_where_nothing_runs() {
    let mut hall = drill();
    assert_eq!(hall.refused(Verb::Hold { cue: None }), [Reason::NothingRunning]);
    assert_eq!(hall.refused(Verb::Resume { cue: None }), [Reason::NothingRunning]);
    let mut hall = under_way();
    assert_eq!(hall.refused(Verb::Resume { cue: None }), [Reason::NotHolding]);
}

#[test]
fn no_cue_starts_beside_one_that_is_held() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    assert!(hall.standby("3").contains(&Reason::Held));
}

#[test]
fn a_lease_that_is_lost_holds_the_cues_of_its_client() {
    let mut hall = under_way();
    // Another client's link is no matter of this cue's.
    hall.ask_as(OTHER, Verb::ClientLost { leased: true }).unwrap();
    assert_eq!(hall.state("1"), CueState::Running);
    hall.ask_as(CALLER, Verb::ClientLost { leased: true }).unwrap();
    assert_eq!(hall.state("1"), CueState::Holding);
    hall.run(3.0);
    assert_eq!(hall.state("1"), CueState::Holding, "it went on by itself");
    assert_eq!(hall.ask_as(OTHER, Verb::Resume { cue: None }), Ok(Accepted::Done));
}

#[test]
fn a_cue_that_is_to_finish_does_so_without_its_client() {
    let mut hall = under_way();
    hall.run_until("1", CueState::Done, 4.0);
    hall.run_until("2", CueState::Done, 8.0);
    hall.run(0.5);
    hall.fire("3");
    hall.run_until("3", CueState::Done, 4.0);
    hall.fire("4");
    hall.run(0.5);
    hall.ask_as(CALLER, Verb::ClientLost { leased: true }).unwrap();
    // Cue 4 finishes, but its follow, which does not say so, makes the whole chain hold.
    let held = hall.status.held;
    assert!(held, "cue 5 waits, and holds on a lost link");
}

#[test]
fn a_return_stands_by_and_goes_back_on_a_go() {
    let mut hall = under_way();
    let one = hall.cue("1");
    assert!(matches!(hall.refused(Verb::Return { cue: one, held: false })[..], [Reason::NotAtRest { .. }, ..]));
    hold_to_rest(&mut hall);
    let accepted = hall.ask(Verb::Return { cue: one, held: false }).unwrap();
    assert!(matches!(accepted, Accepted::Standby { ready: true, .. }), "{accepted:?}");
    assert!(hall.status.standby[0].returning);
    assert!(!hall.setpoints_move(), "a return started without its GO");
    hall.run(0.3);
    hall.go("1").unwrap();
    assert_eq!(hall.state("1"), CueState::Returning);
    let from = hall.setpoint("cart.travel");
    hall.run(0.6);
    assert!(hall.setpoint("cart.travel") < from);
    assert!(hall.status.rate < 0.0 && hall.status.rate >= -0.5, "{}", hall.status.rate);
    hall.run_until("1", CueState::Idle, 8.0);
    assert!(hall.setpoint("cart.travel").abs() < 0.005);
    // Its follow is clear of it all over, and goes back on a GO of its own.
    let follow = hall.cue("1.5");
    assert_eq!(hall.state("1.5"), CueState::Holding);
    hall.ask(Verb::Return { cue: follow, held: false }).unwrap();
    hall.run(0.3);
    hall.go("1.5").unwrap();
    hall.run_until("1.5", CueState::Idle, 8.0);
    // From its start it can be fired anew.
    hall.run(0.5);
    hall.fire("1");
}

#[test]
fn a_return_in_the_hand_ends_when_the_hand_lets_go() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    let one = hall.cue("1");
    for _ in 0..5 {
        hall.ask(Verb::Return { cue: one, held: true }).unwrap();
        hall.run(0.2);
        assert_eq!(hall.state("1"), CueState::Returning);
    }
    hall.run(0.65);
    assert_eq!(hall.state("1"), CueState::Holding);
    hall.run(1.0);
    assert!(!hall.setpoints_move());
    // A resume goes forwards again.
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run_until("1", CueState::Done, 5.0);
    assert_eq!(hall.setpoint("cart.travel"), 1.5);
}

#[test]
fn a_resume_takes_nothing_on_that_still_slows_down_on_its_way_back() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    let one = hall.cue("1");
    for _ in 0..3 {
        hall.ask(Verb::Return { cue: one, held: true }).unwrap();
        hall.run(0.2);
    }
    hall.ask_as(OTHER, Verb::Hold { cue: None }).unwrap();
    assert_eq!(hall.refused(Verb::Return { cue: one, held: true }), [Reason::LetGo]);
    let resumed = hall.ask_as(OTHER, Verb::Resume { cue: None });
    assert_eq!(resumed, Err(Refusal::one(Reason::NotAtRest { cue: one })));
    hall.run(1.5);
    assert!(!hall.setpoints_move(), "it went back without a hand");
}

#[test]
fn a_stopped_cue_can_be_taken_back_after_the_reset() {
    let mut hall = under_way();
    hall.press_stop();
    hall.run_to_standstill();
    let one = hall.cue("1");
    assert!(hall.refused(Verb::Return { cue: one, held: true }).contains(&Reason::Stopped));
    hall.ask(Verb::Reset).unwrap();
    hall.run(0.5);
    hall.ask(Verb::Return { cue: one, held: false }).unwrap();
    hall.go("1").unwrap();
    hall.run_until("1", CueState::Idle, 8.0);
    assert!(hall.setpoint("cart.travel").abs() < 0.005);
}

#[test]
fn a_disarm_brings_to_rest_and_takes_power() {
    let mut hall = under_way();
    hall.ask(Verb::Disarm).unwrap();
    assert!(!hall.status.armed);
    assert!(hall.last_commands[hall.rig("cart").index()].enable, "power was cut in motion");
    hall.run(1.5);
    assert!(!hall.setpoints_move());
    assert!(!hall.last_commands.iter().any(|command| command.enable));
    assert_eq!(hall.state("1"), CueState::Stopped);
}

#[test]
fn an_interlock_that_holds_holds_and_does_not_let_go_by_itself() {
    let mut hall = under_way();
    hall.sensors[0].1 = false;
    hall.run(0.25);
    assert_eq!(hall.state("1"), CueState::Holding);
    let told = hall.events.iter().rev().find_map(|event| match &event.kind {
        EventKind::Held { by: None, reasons, .. } => Some(reasons.clone()),
        _ => None,
    });
    let told = told.expect("nobody was told why").reasons[0];
    assert!(matches!(told, Reason::Interlock { truth: Truth::False, .. }), "{told:?}");
    let refused = hall.refused(Verb::Resume { cue: None });
    assert!(matches!(refused[0], Reason::Interlock { .. }), "{refused:?}");
    hall.sensors[0].1 = true;
    hall.run(2.0);
    assert_eq!(hall.state("1"), CueState::Holding, "it went on by itself");
    assert_eq!(hall.ask(Verb::Resume { cue: None }), Ok(Accepted::Done));
    hall.run_until("1", CueState::Done, 5.0);
}

/// Up to cue 5, in which the mast goes down.
fn mast_going_down() -> Hall {
    let mut hall = drill();
    hall.fire("1");
    hall.run_until("2", CueState::Done, 10.0);
    for number in ["3", "4"] {
        hall.run(0.3);
        hall.fire(number);
        hall.run_until(number, CueState::Done, 5.0);
    }
    hall.run_until("5", CueState::Running, 2.0);
    hall.run(1.0);
    hall
}

#[test]
fn an_interlock_that_stops_stops_and_keeps_the_stop_while_it_is_false() {
    let mut hall = mast_going_down();
    hall.sensors.remove(1);
    hall.run(0.7);
    let by = hall.status.stopped.as_ref().map(|stopped| stopped.by);
    assert_eq!(by, Some(Cause::Interlock(bellwire::show::InterlockId(1))), "a silent sensor is unknown");
    hall.run_to_standstill();
    assert!(matches!(hall.refused(Verb::Reset)[..], [Reason::Cause(Cause::Interlock(_))]));
    hall.sensors.push((InputId(1), true));
    hall.run(0.3);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    // Stop category 1: power went at standstill, and the reset gave it back.
    assert!(hall.last_commands[hall.rig("mast").index()].enable);
}

#[test]
fn stop_category_1_takes_power_at_standstill() {
    let mut hall = mast_going_down();
    hall.press_stop();
    assert!(hall.last_commands[hall.rig("mast").index()].enable, "power was cut in motion");
    hall.run_to_standstill();
    hall.run(0.1);
    assert!(!hall.last_commands[hall.rig("mast").index()].enable);
    assert!(hall.last_commands[hall.rig("cart").index()].enable, "category 2 keeps its power");
}

#[test]
fn an_input_that_trips_stays_false_until_a_reset() {
    let mut hall = drill();
    hall.sensors[1].1 = false;
    hall.run(0.3);
    hall.sensors[1].1 = true;
    hall.run(0.5);
    assert_eq!((hall.status.inputs[1].truth, hall.status.inputs[1].tripped), (Truth::False, true));
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.run(0.3);
    assert_eq!((hall.status.inputs[1].truth, hall.status.inputs[1].tripped), (Truth::True, false));
}

#[test]
fn an_interlock_of_one_direction_lets_the_other_pass() {
    // Going up needs no edge: it guards only the way down.
    let mut hall = drill();
    hall.sensors.pop();
    hall.run(1.0);
    assert_eq!(hall.status.inputs[1].truth, Truth::Unknown);
    hall.fire("1");
    hall.run_until("2", CueState::Done, 8.0);
}

#[test]
fn a_standby_is_dropped_when_its_condition_changes_or_its_pose_drifts() {
    let mut hall = drill();
    hall.standby("1");
    hall.run(0.2);
    hall.sensors[0].1 = false;
    hall.run(0.3);
    assert!(hall.status.standby.is_empty());
    let dropped = hall.events.iter().any(|event| matches!(event.kind, EventKind::Dropped { .. }));
    assert!(dropped);
    hall.sensors[0].1 = true;
    hall.run(1.0);
    assert!(hall.status.standby.is_empty(), "it came back by itself");
    assert!(matches!(hall.refused(Verb::Go { cue: None })[..], [Reason::NothingOnStandby]));

    hall.standby("1");
    let axis = hall.axis("cart.travel");
    hall.faults.inject(bellwire::rig::SimFault::Drift(axis, 0.05));
    hall.run(1.5);
    assert!(hall.status.standby.is_empty(), "{:?}", hall.status.standby);
}

#[test]
fn arming_asks_for_rigs_that_are_heard_and_at_rest() {
    let mut hall = Hall::open(hall::read(&hall::folder("tests/drill")));
    let reasons = hall.refused(Verb::Arm);
    assert!(!reasons.is_empty(), "armed before any pose was read");
    hall.run(0.5);
    // Moving, as after a restart in the middle of a move.
    let axis = hall.axis("cart.travel");
    hall.faults.inject(bellwire::rig::SimFault::BrakeSlip(axis, 0.3));
    hall.run(0.4);
    let moves = Reason::Cause(Cause::Fault(Fault::MovesUnpowered(axis)));
    assert_eq!(hall.refused(Verb::Arm), [moves, Reason::NotStandingStill { axis }]);
    assert!(!hall.setpoints_move());
    hall.faults.heal();
    hall.run(1.5);
    assert_eq!(hall.refused(Verb::Arm), [moves], "it has not stood for long");
    hall.run(1.0);
    assert_eq!(hall.ask(Verb::Arm), Ok(Accepted::Done));
    assert_eq!(hall.refused(Verb::Arm), [Reason::AlreadyArmed]);
}

#[test]
fn a_hand_whose_link_is_lost_ends_its_return_and_leaves_it_to_others() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    let one = hall.cue("1");
    hall.ask(Verb::Return { cue: one, held: true }).unwrap();
    hall.run(0.2);
    hall.ask_as(CALLER, Verb::ClientLost { leased: false }).unwrap();
    assert_eq!(hall.state("1"), CueState::Holding, "it goes on without a hand");
    hall.run(1.5);
    assert!(!hall.setpoints_move());
    assert_eq!(hall.ask_as(OTHER, Verb::Resume { cue: None }), Ok(Accepted::Done), "nobody else can release it");
    hall.run_until("1", CueState::Done, 5.0);
}

#[test]
fn a_return_holds_when_the_link_of_whoever_fired_it_is_lost() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    hall.ask_as(CALLER, Verb::ClientLost { leased: false }).unwrap();
    let one = hall.cue("1");
    hall.ask_as(OTHER, Verb::Return { cue: one, held: false }).unwrap();
    hall.run(0.3);
    hall.ask_as(OTHER, Verb::Go { cue: Some(one) }).unwrap();
    hall.run(0.2);
    hall.ask_as(OTHER, Verb::ClientLost { leased: true }).unwrap();
    assert_eq!(hall.state("1"), CueState::Holding);
}

#[test]
fn one_hand_at_a_time_takes_a_cue_back() {
    let mut hall = under_way();
    hold_to_rest(&mut hall);
    let one = hall.cue("1");
    hall.ask(Verb::Return { cue: one, held: true }).unwrap();
    hall.run(0.3);
    let outcome = hall.ask_as(OTHER, Verb::Return { cue: one, held: true });
    assert!(matches!(outcome.unwrap_err().reasons[..], [Reason::NotAtRest { .. }]));
    // And the other's repeats do not keep it going.
    for _ in 0..4 {
        hall.run(0.1);
        let _ = hall.ask_as(OTHER, Verb::Return { cue: one, held: true });
    }
    assert_eq!(hall.state("1"), CueState::Holding);
}

#[test]
fn arming_again_carries_nothing_on() {
    // At once, while the rigs have hardly begun to move, and in the middle of a move.
    for lead in [0.02, 0.1, 1.0] {
        let mut hall = drill();
        hall.fire("1");
        hall.run(lead);
        let pair = [hall.request(CALLER, Verb::Disarm), hall.request(CALLER, Verb::Arm)];
        let answers = hall.tick(&pair);
        assert!(answers[0].outcome.is_ok());
        let refusal = answers[1].outcome.clone().expect_err("armed while a cue was still under way");
        assert!(refusal.reasons.contains(&Reason::NotAtRest { cue: hall.cue("1") }), "{lead}: {refusal:?}");
        hall.run(2.0);
        assert_eq!(hall.state("1"), CueState::Stopped, "{lead}");
        assert_eq!(hall.ask(Verb::Arm), Ok(Accepted::Done), "{lead}");
        for _ in 0..500 {
            assert!(!hall.setpoints_move(), "{lead}: it went on without a GO");
        }
    }
}

#[test]
fn a_cue_that_a_disarm_stopped_is_carried_on_by_a_fresh_go() {
    let mut hall = under_way();
    hall.ask(Verb::Disarm).unwrap();
    assert!(hall.refused(Verb::Resume { cue: None }).len() == 1);
    hall.run(2.0);
    hall.ask(Verb::Arm).unwrap();
    hall.fire("1");
    hall.run_until("1", CueState::Done, 4.0);
    assert_eq!(hall.setpoint("cart.travel"), 1.5);
}

#[test]
fn a_stopped_cue_whose_rig_has_left_its_path_is_not_carried_on() {
    let mut hall = under_way();
    hall.press_stop();
    hall.run_to_standstill();
    let axis = hall.axis("cart.travel");
    let tolerance = hall.show.axis(axis).tolerance;
    hall.ask(Verb::Disarm).unwrap();
    hall.run(0.3);
    hall.faults.inject(bellwire::rig::SimFault::BrakeSlip(axis, 2.0 * tolerance));
    hall.run(1.0);
    hall.faults.heal();
    hall.run(2.3);
    hall.ask(Verb::Reset).unwrap();
    hall.ask(Verb::Arm).unwrap();
    hall.run(0.3);
    let cues = [hall.cue("1")].into_iter().collect();
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = hall.ask(Verb::Standby { cues, skip: false }) else {
        panic!("{:?}", hall.status.standby);
    };
    assert!(
        reasons.reasons.iter().any(|reason| matches!(reason, Reason::OffPath { axis: at, .. } if *at == axis)),
        "{reasons:?}"
    );
    assert!(hall.go("1").is_err());
    let one = hall.cue("1");
    assert!(hall.ask(Verb::Return { cue: one, held: true }).is_err());
}

#[test]
fn a_hold_that_could_not_be_counted_is_refused() {
    let mut hall = under_way();
    for client in 1..=16 {
        hall.ask_as(ClientId(100 + client), Verb::Hold { cue: None }).unwrap();
    }
    let refused = hall.ask_as(ClientId(200), Verb::Hold { cue: None }).unwrap_err();
    assert_eq!(refused.reasons[..], [Reason::TooMany { limit: 16 }]);
    // One that is counted may ask again, and a place that is free is taken.
    hall.ask_as(ClientId(101), Verb::Hold { cue: None }).unwrap();
    let waits = hall.ask_as(ClientId(101), Verb::Resume { cue: None }).unwrap_err();
    assert_eq!(waits.reasons[0], Reason::HeldBy { client: ClientId(102) });
    hall.ask_as(ClientId(200), Verb::Hold { cue: None }).unwrap();
    let waits = hall.ask_as(ClientId(102), Verb::Resume { cue: None }).unwrap_err();
    assert!(waits.reasons.contains(&Reason::HeldBy { client: ClientId(200) }) || waits.more > 0, "{waits:?}");
}
