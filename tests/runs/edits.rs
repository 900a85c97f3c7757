//! An edited show in the place of the one that runs: only at rest, and nothing is forgotten that must be remembered.

use crate::hall;
use crate::hall::CALLER;
use crate::hall::carts::{CARTS, cue, east, hall, show, west};
use bellwire::engine::*;
use bellwire::show::{CueState, InputId};

const GATE: &str = "[[input]]\nname = \"gate\"\nmax_age = 5.0\ntrips = true\n";

fn cues() -> String {
    cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5)) + &cue("3", &west(2.0, 2.5))
}

/// With 1.5 put between 1 and 2.
fn edited() -> String {
    cues() + &cue("1.5", "move = [{ rig = \"head\", to = { pan = 30.0 }, time = 2.0 }]")
}

#[test]
fn an_edit_is_taken_in_at_rest_and_the_list_goes_on() {
    let mut hall = hall("", &cues());
    hall.fire("1");
    hall.run_until("1", CueState::Done, 3.0);
    let before = hall.setpoint("east.travel");
    assert_eq!(hall.replace(show("", &edited())), Ok(2));
    hall.tick(&[]);
    assert!(hall.events.iter().any(|event| matches!(event.kind, EventKind::Replaced { edition: 2, armed: true })));
    assert_eq!((hall.status.edition, hall.status.armed), (2, true));
    assert_eq!(hall.setpoint("east.travel"), before, "nothing moved");
    assert_eq!(hall.state("1"), CueState::Done);
    let numbers: Vec<u64> = hall.events.iter().map(|event| event.seq).collect();
    assert!(numbers.windows(2).all(|two| two[1] == two[0] + 1), "events are counted on");
    for number in ["1.5", "2", "3"] {
        hall.fire(number);
        hall.run_until(number, CueState::Done, 3.0);
    }
}

#[test]
fn a_running_cue_a_waiting_follow_and_a_stop_each_put_an_edit_off() {
    let follow = cues()
        + &cue(
            "4",
            "after = { cue = \"1\", from = \"end\", wait = 3.0 }\nmove = [{ rig = \"east\", to = { travel = 0.0 }, time = 2.5 }]",
        );
    let mut hall = hall("", &follow);
    hall.fire("1");
    hall.run(0.5);
    let refused = |hall: &mut hall::Hall| hall.replace(show("", &edited())).unwrap_err().reasons.to_vec();
    assert!(refused(&mut hall).iter().any(|reason| matches!(reason, Reason::CueRunning { .. })));
    hall.run_until("1", CueState::Done, 3.0);
    assert!(refused(&mut hall).iter().any(|reason| matches!(reason, Reason::CueWaiting { .. })));
    hall.press_stop();
    hall.run_to_standstill();
    assert_eq!(refused(&mut hall), [Reason::Stopped]);
    hall.ask(Verb::Reset).unwrap();
    assert_eq!(hall.replace(show("", &edited())), Ok(2));
}

#[test]
fn what_stood_on_standby_is_dropped_by_an_edit() {
    let mut hall = hall("", &cues());
    hall.standby("1");
    hall.replace(show("", &edited())).unwrap();
    hall.tick(&[]);
    assert!(hall.status.standby.is_empty());
    assert_eq!(hall.refused(Verb::Go { cue: None }), [Reason::NothingOnStandby]);
}

#[test]
fn an_edit_of_limits_or_travel_disarms_and_one_of_the_machines_is_refused() {
    let with_rig = |from: &str, to: &str| {
        let head = "[show]\nname = \"Carts\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n";
        let files: Vec<(&str, String)> = CARTS
            .iter()
            .map(|&(path, text)| {
                (path, if path == "rigs/west.toml" { text.replacen(from, to, 1) } else { text.to_owned() })
            })
            .chain([("show.toml", head.to_owned()), ("cues/all.toml", cues())])
            .collect();
        let files: Vec<(&str, &str)> = files.iter().map(|(path, text)| (*path, text.as_str())).collect();
        hall::show_of(&files)
    };
    let mut hall = hall("", &cues());
    let more = "name = \"lift\"\nunit = \"m\"\ntravel = [0.0, 1.0]\nstart = 0.0\nspeed = 0.1\nacceleration = 0.1\njerk = 1.0\n";
    let refusal = hall.replace(with_rig("[marks]", &format!("[[axis]]\n{more}[marks]"))).unwrap_err();
    assert_eq!(refusal.reasons[..], [Reason::OtherMachines]);
    hall.replace(with_rig("travel = [-3.0, 3.0]", "travel = [-2.5, 3.0]")).unwrap();
    hall.tick(&[]);
    assert!(!hall.status.armed, "new limits are looked at before anything moves");
    assert_eq!(hall.ask(Verb::Arm), Ok(Accepted::Done));
}

#[test]
fn a_request_that_was_read_in_the_old_show_is_not_taken_for_another_cue() {
    let mut hall = hall("", &cues());
    let two = hall.cue("2");
    hall.replace(show("", &edited())).unwrap();
    // The number of cue 2 in the old list is that of 1.5 in the new one.
    let mut old = hall.request(CALLER, Verb::Standby { cues: [two].into_iter().collect(), skip: true });
    old.edition = 1;
    let answers = hall.tick(&[old.clone()]);
    assert!(matches!(&answers[0].outcome, Err(refusal) if refusal.reasons[..] == [Reason::ShowReplaced]));
    let mut arm = hall.request(CALLER, Verb::Disarm);
    arm.edition = 1;
    assert_eq!(hall.tick(&[arm])[0].outcome, Ok(Accepted::Done), "what names nothing is as good as before");
}

/// As after a survey, at the very end that was taught: nothing may stand outside its travel, not for a tick. The show from before
/// still has it there, and a hand brings it inside.
#[test]
fn an_edit_of_a_travel_waits_until_its_axis_stands_inside() {
    let narrow = || {
        let mut files: Vec<(&str, String)> = CARTS.iter().map(|&(path, text)| (path, text.to_owned())).collect();
        files[0].1 = files[0].1.replace("travel = [-3.0, 3.0]", "travel = [-3.0, 2.5]");
        let head = "[show]\nname = \"Carts\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n";
        files.extend([("show.toml", head.to_owned()), ("cues/all.toml", cues())]);
        let files: Vec<(&str, &str)> = files.iter().map(|(path, text)| (*path, text.as_str())).collect();
        hall::show_of(&files)
    };
    let mut hall = hall("", &cues());
    let (rig, axis) = (hall.rig("east"), hall.axis("east.travel"));
    hall.take("east");
    hall.hold_stick("east.travel", 1.0, 5.0);
    hall.ask(Verb::GiveBack { rig }).unwrap();
    hall.run(0.5);
    let stands = hall.setpoint("east.travel");
    assert!(stands > 2.9, "{stands}");
    let outside = Reason::OutsideTravel { axis, measured: stands, low: -3.0, high: 2.5 };
    assert_eq!(hall.replace(narrow()).unwrap_err().reasons.as_slice(), [outside]);
    assert!(hall.status.armed, "the show from before goes on");
    hall.take("east");
    hall.hold_stick("east.travel", -1.0, 1.5);
    hall.ask(Verb::GiveBack { rig }).unwrap();
    hall.run(1.5);
    assert_eq!(hall.replace(narrow()), Ok(2));
    hall.run(0.5);
    assert_eq!((hall.status.armed, &hall.status.stopped), (false, &None), "new limits disarm");
    assert_eq!(hall.ask(Verb::Arm), Ok(Accepted::Done));
}

#[test]
fn a_stop_pressed_before_an_edit_is_not_pressed_again_by_it() {
    let mut hall = hall("", &cues());
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.replace(show("", &edited())).unwrap();
    hall.run(0.1);
    assert_eq!(hall.status.stopped, None);
    hall.press_stop();
    assert!(hall.status.stopped.is_some());
}

#[test]
fn a_repeat_of_a_request_from_before_an_edit_has_no_second_effect() {
    let mut hall = hall("", &cues());
    let mut request = hall.request(CALLER, Verb::Master { value: 0.5 });
    request.key = Some(Key(77));
    assert_eq!(hall.tick(std::slice::from_ref(&request))[0].outcome, Ok(Accepted::Done));
    hall.ask(Verb::Master { value: 1.0 }).unwrap();
    hall.replace(show("", &edited())).unwrap();
    let again = Request { id: RequestId(9_999), ..request };
    assert_eq!(hall.tick(&[again])[0].outcome, Ok(Accepted::Done));
    assert_eq!(hall.status.master, 1.0);
}

#[test]
fn an_input_keeps_its_value_its_age_and_its_trip_through_an_edit() {
    let mut hall = hall(GATE, &cues());
    hall.ask(Verb::Input { input: InputId(0), value: false }).unwrap();
    hall.run(1.0);
    let another = format!("[[input]]\nname = \"another\"\nmax_age = 1.0\n{GATE}");
    hall.replace(show(&another, &edited())).unwrap();
    hall.tick(&[]);
    let gate = &hall.status.inputs[1];
    assert_eq!((gate.value, gate.tripped), (Some(false), true));
    assert!(gate.age.seconds() > 0.9, "{:?}", gate.age);
    assert_eq!(hall.status.inputs[0].value, None);
}
