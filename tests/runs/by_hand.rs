//! Hold-to-run: a preset of real rigs moves only while an operator keeps asking, and a button that stays pressed starts
//! nothing.

use crate::hall::carts::{cue, east, west};
use crate::hall::real::Real;
use crate::hall::{self, CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::show::{CueId, RigId};

const GATE: &str = "[[input]]\nname = \"gate\"\nmax_age = 0.5\n[[interlock]]\nname = \"gate\"\nguards = [\"west\"]\n\
                    needs = { input = \"gate\" }\notherwise = \"hold\"\n";

/// Two cues leave the carts elsewhere. `real` names the rigs that are not simulated.
fn hall(settings: &str, real: &[&str]) -> (Hall, CueId) {
    let show = hall::carts::show(
        settings,
        &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(-1.0, 2.5)) + &cue("3", &east(0.5, 2.5))),
    );
    let is_real: Vec<bool> = show.rigs.iter().map(|rig| real.contains(&rig.name.as_str())).collect();
    let mut hall = Hall::driven_by(show, |rig: RigId, driver| match is_real[rig.index()] {
        true => Box::new(Real(driver)),
        false => driver,
    });
    hall.arm();
    hall.run(0.1);
    let three = hall.cue("3");
    (hall, three)
}

fn press(hall: &mut Hall, client: ClientId, role: Role, to: CueId) -> Result<Accepted, Refusal> {
    let mut request = hall.request(client, Verb::Preset { cue: to, held: true });
    request.role = role;
    hall.tick(&[request])[0].outcome.clone()
}

/// Keeps the button pressed for so many seconds, as the panel does; the last answer.
fn keep(hall: &mut Hall, client: ClientId, to: CueId, seconds: f64) -> Result<Accepted, Refusal> {
    let mut last = press(hall, client, Role::Operator, to);
    for _ in 0..(seconds / 0.2) as u32 {
        hall.run(0.2);
        last = press(hall, client, Role::Operator, to);
    }
    last
}

fn refused(outcome: Result<Accepted, Refusal>) -> Vec<Reason> {
    outcome.expect_err("refused").reasons.to_vec()
}

#[test]
fn a_preset_of_a_real_rig_is_taken_by_no_go() {
    let (mut hall, three) = hall("", &["west"]);
    let west = hall.rig("west");
    let by_hand = Reason::HoldToRun { rig: west };
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = hall.ask(Verb::Preset { cue: three, held: false })
    else {
        panic!("ready")
    };
    assert_eq!(reasons.reasons[..], [by_hand]);
    hall.tick(&[]);
    assert!(hall.status.way.as_ref().is_some_and(|way| way.by_hand), "so that a panel can offer the button");
    assert_eq!(refused(hall.ask(Verb::Go { cue: None })), [by_hand]);
    assert!(!hall.setpoints_move());
}

#[test]
fn where_only_simulated_rigs_have_to_move_a_go_does() {
    let (mut hall, _) = hall("", &["west"]);
    let two = hall.cue("2");
    assert!(matches!(hall.ask(Verb::Preset { cue: two, held: false }), Ok(Accepted::Standby { ready: true, .. })));
    hall.tick(&[]);
    assert!(hall.status.way.as_ref().is_some_and(|way| !way.by_hand));
    assert_eq!(hall.ask(Verb::Go { cue: None }), Ok(Accepted::Done));
    hall.run(1.0);
    assert!(hall.setpoints_move());
}

#[test]
fn only_an_operator_holds_the_button() {
    for role in [Role::Observer, Role::Caller] {
        let (mut hall, three) = hall("", &["west"]);
        let reasons = refused(press(&mut hall, CALLER, role, three));
        assert!(matches!(reasons[..], [Reason::Role { .. }]), "{reasons:?}");
        hall.run(0.5);
        assert!(!hall.setpoints_move());
    }
}

#[test]
fn it_runs_while_the_button_is_held_rests_when_it_is_let_go_and_goes_on_to_its_end() {
    let (mut hall, three) = hall("", &["east", "west"]);
    assert_eq!(keep(&mut hall, CALLER, three, 2.0), Ok(Accepted::Done));
    assert!(hall.setpoints_move());
    // The lease runs out 0.6 s after the last asking, and what moves then brakes.
    hall.run(0.55);
    assert!(hall.setpoints_move());
    hall.run(0.6);
    assert!(!hall.setpoints_move(), "the hand has let go");
    // Only the hand makes it go on: a resume does not.
    let real = refused(hall.ask(Verb::Resume { cue: None }));
    assert!(matches!(real[..], [Reason::HoldToRun { .. }]), "{real:?}");
    for _ in 0..100 {
        if hall.status.running.is_empty() {
            break;
        }
        assert_eq!(press(&mut hall, CALLER, Role::Operator, three), Ok(Accepted::Done));
        hall.run(0.2);
    }
    assert!((hall.setpoint("east.travel") - 1.0).abs() < 1e-9, "{}", hall.setpoint("east.travel"));
    assert!((hall.setpoint("west.travel") + 1.0).abs() < 1e-9, "{}", hall.setpoint("west.travel"));
    hall.run(1.0);
    assert!(matches!(refused(press(&mut hall, CALLER, Role::Operator, three))[..], [Reason::AlreadyThere { .. }]));
}

#[test]
fn it_rests_when_the_client_is_lost_and_another_operator_goes_on() {
    let (mut hall, three) = hall("", &["east", "west"]);
    keep(&mut hall, CALLER, three, 1.6).unwrap();
    assert!(refused(press(&mut hall, OTHER, Role::Operator, three)).contains(&Reason::HeldBy { client: CALLER }));
    hall.ask(Verb::ClientLost { leased: true }).unwrap();
    hall.run(0.5);
    assert!(!hall.setpoints_move(), "at once, whatever is left of the lease");
    hall.run(0.6);
    assert_eq!(keep(&mut hall, OTHER, three, 0.6), Ok(Accepted::Done));
    assert!(hall.setpoints_move());
}

#[test]
fn a_button_held_through_a_stop_and_its_reset_moves_nothing() {
    let (mut hall, three) = hall("", &["east", "west"]);
    keep(&mut hall, CALLER, three, 1.6).unwrap();
    hall.press_stop();
    hall.run_to_standstill();
    assert!(keep(&mut hall, CALLER, three, 0.6).is_err());
    hall.ask_as(OTHER, Verb::Reset).unwrap();
    assert_eq!(refused(keep(&mut hall, CALLER, three, 2.0)), [Reason::LetGo]);
    assert!(!hall.setpoints_move());
    hall.run(0.7);
    assert_eq!(keep(&mut hall, CALLER, three, 0.6), Ok(Accepted::Done), "let go of and pressed anew");
    assert!(hall.setpoints_move());
}

#[test]
fn a_stop_and_a_reset_between_two_askings_leave_nothing_moving() {
    let (mut hall, three) = hall("", &["east", "west"]);
    // So early that hardly anything moves yet, and everything stands a moment later.
    press(&mut hall, CALLER, Role::Operator, three).unwrap();
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask_as(OTHER, Verb::Reset).unwrap();
    assert_eq!(refused(press(&mut hall, CALLER, Role::Operator, three)), [Reason::LetGo]);
}

#[test]
fn a_button_held_while_the_show_is_armed_moves_nothing() {
    let (mut hall, three) = hall("", &["east", "west"]);
    hall.ask(Verb::Disarm).unwrap();
    hall.run(0.2);
    assert!(refused(keep(&mut hall, CALLER, three, 0.4)).contains(&Reason::LetGo));
    hall.ask_as(OTHER, Verb::Arm).unwrap();
    assert_eq!(refused(keep(&mut hall, CALLER, three, 1.0)), [Reason::LetGo]);
    assert!(!hall.setpoints_move());
}

#[test]
fn a_condition_that_turns_true_again_under_a_held_button_resumes_nothing() {
    let (mut hall, three) = hall(GATE, &["east", "west"]);
    hall.let_sensors_speak();
    hall.run(0.2);
    while hall.setpoint("west.travel") > -0.1 {
        keep(&mut hall, CALLER, three, 0.2).unwrap();
    }
    let gate = hall.sensors[0].0;
    hall.sensors[0].1 = false;
    hall.run(0.15);
    hall.sensors[0].1 = true;
    // True again before the button asks the next time, while it still brakes.
    hall.ask_as(OTHER, Verb::Input { input: gate, value: true }).unwrap();
    assert_eq!(refused(keep(&mut hall, CALLER, three, 1.0)), [Reason::LetGo]);
    assert!(!hall.setpoints_move());
    hall.run(0.7);
    assert_eq!(keep(&mut hall, CALLER, three, 0.4), Ok(Accepted::Done));
    assert!(hall.setpoints_move());
}

#[test]
fn a_hold_is_not_undone_by_the_same_operators_other_finger() {
    let (mut hall, three) = hall("", &["east", "west"]);
    keep(&mut hall, CALLER, three, 1.6).unwrap();
    hall.ask(Verb::Hold { cue: None }).unwrap();
    assert_eq!(refused(keep(&mut hall, CALLER, three, 1.0)), [Reason::LetGo]);
    assert!(!hall.setpoints_move());
}

#[test]
fn a_return_by_hand_heeds_a_hold_in_the_same_way() {
    let (mut hall, _) = hall("", &["east", "west"]);
    let one = hall.cue("1");
    hall.fire("1");
    hall.run(1.2);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(1.0);
    let back = Verb::Return { cue: one, held: true };
    hall.ask(back.clone()).unwrap();
    hall.run(0.3);
    assert!(hall.setpoints_move());
    hall.ask(Verb::Hold { cue: None }).unwrap();
    for _ in 0..10 {
        assert_eq!(refused(hall.ask(back.clone())), [Reason::LetGo]);
        hall.run(0.2);
    }
    assert!(!hall.setpoints_move());
    hall.run(0.7);
    hall.ask(back).unwrap();
    hall.run(0.3);
    assert!(hall.setpoints_move());
}
