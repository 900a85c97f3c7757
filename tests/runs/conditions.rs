//! Conditions and interlocks: what each kind says, what it forbids, and when.

use crate::hall::carts::{cue, east, hall, standby_of, west};
use crate::hall::{CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::rig::SimFault;
use bellwire::show::{CueState, InputId};

const OK: &str = "[[input]]\nname = \"ok\"\nmax_age = 0.5\n";

fn set(hall: &mut Hall, value: bool) {
    hall.ask(Verb::Input { input: InputId(0), value }).unwrap();
}

/// Sent again and again from now on, as a sensor does.
fn sense(hall: &mut Hall, value: bool) {
    hall.sensors = vec![(InputId(0), value)];
    set(hall, value);
}

fn interlock(guards: &str, needs: &str, otherwise: &str) -> String {
    format!("[[interlock]]\nname = \"lock\"\nguards = [{guards}]\nneeds = {needs}\notherwise = \"{otherwise}\"\n")
}

/// What this condition is with both carts at 0 and the input never seen.
fn judged(condition: &str) -> Truth {
    let settings = OK.to_owned() + &interlock("\"head.zoom\"", condition, "refuse");
    let hall = hall(&settings, &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5))));
    hall.status.interlocks[0]
}

#[test]
fn each_kind_of_condition_is_true_false_or_unknown() {
    use Truth::{False, True, Unknown};
    let cases = [
        ("{ axis = \"west.travel\", above = -0.5 }", True),
        ("{ axis = \"west.travel\", above = 0.5 }", False),
        ("{ axis = \"west.travel\", below = 0.5 }", True),
        ("{ axis = \"west.travel\", below = -0.5 }", False),
        ("{ axis = \"west.travel\", within = [-0.1, 0.1] }", True),
        ("{ axis = \"west.travel\", within = [0.1, 0.2] }", False),
        ("{ axis = \"west.travel\", within = [1.9, 2.1], modulo = 2.0 }", True),
        ("{ axis = \"west.travel\", within = [0.9, 1.1], modulo = 2.0 }", False),
        ("{ rig = \"west\", at = \"middle\" }", True),
        ("{ rig = \"west\", at = \"out\" }", False),
        ("{ input = \"ok\" }", Unknown),
        ("{ not = { input = \"ok\" } }", Unknown),
        ("{ cue = \"2\", state = \"idle\" }", True),
        ("{ cue = \"2\", state = \"done\" }", False),
        ("{ cue = \"2\", past = 0.5 }", False),
        ("{ not = { cue = \"2\", past = 0.5 } }", True),
        ("{ all = [{ axis = \"west.travel\", above = -0.5 }, { input = \"ok\" }] }", Unknown),
        ("{ any = [{ axis = \"west.travel\", above = -0.5 }, { input = \"ok\" }] }", True),
        ("{ any = [{ axis = \"west.travel\", above = 0.5 }, { input = \"ok\" }] }", Unknown),
        ("{ all = [{ axis = \"west.travel\", above = 0.5 }, { input = \"ok\" }] }", False),
    ];
    for (condition, expected) in cases {
        assert_eq!(judged(condition), expected, "{condition}");
    }
}

#[test]
fn a_cue_is_past_a_time_while_it_runs_and_when_it_is_done() {
    let cues = cue("1", &east(1.0, 3.0))
        + &cue("2", &format!("needs = {{ cue = \"1\", past = 1.5 }}\n{}", west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run(1.0);
    assert!(matches!(hall.standby("2")[..], [Reason::Needs { truth: Truth::False, .. }]));
    hall.run(0.6);
    assert!(hall.status.standby[0].ready, "{:?}", hall.status.standby);
    hall.run_until("1", CueState::Done, 3.0);
    assert_eq!(hall.go("2"), Ok(Accepted::Done));
}

#[test]
fn an_input_older_than_its_age_is_unknown() {
    let mut hall = hall(OK, &cue("1", &format!("needs = {{ input = \"ok\" }}\n{}", east(1.0, 2.5))));
    assert_eq!(hall.status.inputs[0].truth, Truth::Unknown, "never seen");
    set(&mut hall, true);
    hall.run(0.48);
    assert_eq!(hall.status.inputs[0].truth, Truth::True);
    hall.run(0.04);
    assert_eq!(hall.status.inputs[0].truth, Truth::Unknown);
    assert!(matches!(hall.standby("1")[..], [Reason::Needs { truth: Truth::Unknown, .. }]));
    assert!(hall.go("1").is_err());
}

#[test]
fn needs_that_fail_on_the_way_hold_and_never_resume_by_themselves() {
    for stale in [false, true] {
        let mut hall = hall(OK, &cue("1", &format!("needs = {{ input = \"ok\" }}\n{}", east(2.0, 5.0))));
        sense(&mut hall, true);
        hall.fire("1");
        hall.run(1.5);
        if stale {
            hall.sensors.clear()
        } else {
            sense(&mut hall, false)
        }
        hall.run(0.6);
        assert_eq!(hall.state("1"), CueState::Holding, "stale: {stale}");
        hall.run(1.5);
        assert!(!hall.setpoints_move());
        let truth = if stale { Truth::Unknown } else { Truth::False };
        let refused = hall.refused(Verb::Resume { cue: None });
        assert!(matches!(refused[..], [Reason::Needs { truth: now, .. }] if now == truth), "{refused:?}");
        sense(&mut hall, true);
        for _ in 0..1000 {
            assert!(!hall.setpoints_move(), "it went on by itself");
        }
        assert_eq!(hall.ask_as(OTHER, Verb::Resume { cue: None }), Ok(Accepted::Done));
        hall.run_until("1", CueState::Done, 6.0);
        assert_eq!(hall.setpoint("east.travel"), 2.0);
    }
}

#[test]
fn an_input_that_chatters_holds_once_and_leaves_it_so() {
    let mut hall = hall(OK, &cue("1", &format!("needs = {{ input = \"ok\" }}\n{}", east(2.0, 5.0))));
    sense(&mut hall, true);
    hall.fire("1");
    hall.run(1.5);
    hall.sensors.clear();
    for tick in 0..400 {
        set(&mut hall, tick % 2 == 1);
    }
    let holds = hall.events.iter().filter(|event| matches!(event.kind, EventKind::Held { .. })).count();
    assert_eq!((holds, hall.state("1")), (1, CueState::Holding));
}

#[test]
fn an_interlock_that_refuses_looks_at_the_start_alone() {
    let settings = OK.to_owned() + &interlock("\"east.travel\"", "{ input = \"ok\" }", "refuse");
    let mut hall = hall(&settings, &cue("1", &east(2.0, 5.0)));
    set(&mut hall, false);
    assert!(matches!(hall.standby("1")[..], [Reason::Interlock { truth: Truth::False, .. }]));
    assert!(hall.go("1").is_err());
    set(&mut hall, true);
    hall.fire("1");
    hall.run(1.0);
    set(&mut hall, false);
    hall.run_until("1", CueState::Done, 5.0);
    assert_eq!(hall.setpoint("east.travel"), 2.0);
}

#[test]
fn an_interlock_guards_the_direction_of_the_motion_itself() {
    let up =
        interlock("\"west.travel\"", "{ input = \"ok\" }", "stop").replace("needs", "direction = \"up\"\nneeds");
    let settings = OK.to_owned() + &up;
    let out_and_back = cue("1", &west(-1.0, 2.5)) + &cue("2", &west(0.0, 2.5));
    let mut hall = hall(&settings, &out_and_back);
    set(&mut hall, false);
    // Down passes, whatever the input says; up is refused.
    hall.fire("1");
    hall.run_until("1", CueState::Done, 3.0);
    hall.run(0.2);
    assert!(matches!(hall.standby("2")[..], [Reason::Interlock { truth: Truth::Unknown, .. }]));
    sense(&mut hall, true);
    hall.fire("2");
    hall.run(1.0);
    sense(&mut hall, false);
    hall.tick(&[]);
    let by = hall.status.stopped.as_ref().map(|stopped| stopped.by);
    assert!(matches!(by, Some(Cause::Interlock(_))), "{by:?}");
}

#[test]
fn a_return_is_a_motion_the_other_way() {
    let down =
        interlock("\"east.travel\"", "{ input = \"ok\" }", "stop").replace("needs", "direction = \"down\"\nneeds");
    let settings = OK.to_owned() + &down;
    let mut hall = hall(&settings, &cue("1", &east(2.0, 5.0)));
    hall.fire("1");
    hall.run(2.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(1.5);
    let one = hall.cue("1");
    // The way out needed nothing; the way back does.
    let reasons = hall.refused(Verb::Return { cue: one, held: true });
    assert!(matches!(reasons[..], [Reason::Interlock { truth: Truth::Unknown, .. }]), "{reasons:?}");
    sense(&mut hall, true);
    hall.ask(Verb::Return { cue: one, held: false }).unwrap();
    hall.run(0.3);
    hall.go("1").unwrap();
    hall.run(0.5);
    sense(&mut hall, false);
    hall.tick(&[]);
    assert!(hall.status.stopped.is_some());
}

#[test]
fn a_guard_of_a_whole_rig_guards_each_of_its_axes_and_no_other_rig() {
    let settings = OK.to_owned() + &interlock("\"head\"", "{ input = \"ok\" }", "hold");
    let head = |axis: &str| format!("move = [{{ rig = \"head\", to = {{ {axis} = 30.0 }}, time = 2.0 }}]");
    for (what, guarded) in [(head("pan"), true), (head("zoom"), true), (east(1.0, 2.5), false)] {
        let mut hall = hall(&settings, &cue("1", &what));
        set(&mut hall, false);
        assert_eq!(hall.standby("1").is_empty(), !guarded, "{what}");
    }
}

#[test]
fn an_interlock_forbids_from_the_next_tick_on() {
    for otherwise in ["hold", "stop"] {
        let settings = OK.to_owned() + &interlock("\"east.travel\"", "{ input = \"ok\" }", otherwise);
        let mut hall = hall(&settings, &cue("1", &east(2.0, 5.0)));
        sense(&mut hall, true);
        hall.fire("1");
        hall.run(1.5);
        hall.sensors.clear();
        set(&mut hall, false);
        hall.tick(&[]);
        assert_eq!((hall.status.held, hall.status.stopped.is_some()), (otherwise == "hold", otherwise == "stop"));
    }
}

#[test]
fn an_interlock_on_a_pose_is_judged_by_what_is_measured() {
    // The setpoint of west stays at 0; its encoder says otherwise.
    let settings = interlock("\"east.travel\"", "{ axis = \"west.travel\", below = 0.004 }", "hold");
    let mut hall = hall(&settings, &cue("1", &east(2.0, 5.0)));
    hall.fire("1");
    hall.run(1.5);
    let axis = hall.axis("west.travel");
    // Within its tolerance: a longer jump is a fault of its own.
    hall.faults.inject(SimFault::Jump(axis, 0.008));
    hall.run(0.1);
    assert_eq!(hall.state("1"), CueState::Holding);
    assert_eq!(hall.setpoint("west.travel"), 0.0);
}

#[test]
fn a_standby_that_was_never_ready_is_not_dropped_and_becomes_ready() {
    let mut hall = hall(OK, &cue("1", &format!("needs = {{ input = \"ok\" }}\n{}", east(1.0, 2.5))));
    assert!(!hall.standby("1").is_empty());
    hall.run(1.0);
    assert_eq!(hall.state("1"), CueState::Standby);
    sense(&mut hall, true);
    hall.tick(&[]);
    assert!(hall.status.standby[0].ready);
    assert_eq!(hall.go("1"), Ok(Accepted::Done));
}

#[test]
fn go_judges_everything_anew() {
    // In the very tick of the GO the input turns false before it.
    let mut hall = hall(OK, &cue("1", &format!("needs = {{ input = \"ok\" }}\n{}", east(1.0, 2.5))));
    sense(&mut hall, true);
    hall.tick(&[]);
    assert!(hall.standby("1").is_empty());
    set(&mut hall, false);
    assert!(hall.go("1").is_err(), "fired on what the tick before had seen");
    assert_ne!(hall.state("1"), CueState::Running);
}

#[test]
fn a_tripped_input_is_freed_by_a_reset_though_nothing_is_stopped() {
    let trips = OK.to_owned() + "trips = true\n";
    let mut hall = hall(&trips, &cue("1", &format!("needs = {{ input = \"ok\" }}\n{}", east(1.0, 2.5))));
    sense(&mut hall, false);
    sense(&mut hall, true);
    hall.run(0.3);
    assert_eq!(hall.status.inputs[0].truth, Truth::False);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.tick(&[]);
    assert_eq!((hall.status.inputs[0].truth, hall.status.inputs[0].tripped), (Truth::True, false));
    assert!(hall.standby("1").is_empty());
}

#[test]
fn a_reset_does_not_free_an_input_that_is_still_false() {
    let mut hall = hall(&(OK.to_owned() + "trips = true\n"), &cue("1", &east(1.0, 2.5)));
    set(&mut hall, false);
    hall.ask(Verb::Reset).unwrap();
    set(&mut hall, true);
    assert_eq!(hall.status.inputs[0].truth, Truth::False, "it was false when it was reset");
    hall.ask(Verb::Reset).unwrap();
    hall.tick(&[]);
    assert_eq!(hall.status.inputs[0].truth, Truth::True);
}

#[test]
fn a_trip_that_stopped_the_show_stands_in_the_way_of_its_reset_only_while_it_is_false() {
    let settings = OK.to_owned() + "trips = true\n" + &interlock("\"east.travel\"", "{ input = \"ok\" }", "stop");
    let mut hall = hall(&settings, &cue("1", &east(2.0, 5.0)));
    sense(&mut hall, true);
    hall.tick(&[]);
    hall.fire("1");
    hall.run(1.0);
    sense(&mut hall, false);
    hall.run(0.1);
    hall.run_to_standstill();
    assert!(matches!(hall.refused(Verb::Reset)[..], [Reason::Cause(Cause::Interlock(_))]));
    hall.sensors.clear();
    hall.run(0.6);
    assert!(hall.ask(Verb::Reset).is_err(), "nobody says that it is true");
    sense(&mut hall, true);
    hall.tick(&[]);
    assert!(hall.status.inputs[0].tripped);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.run(0.5);
    assert!(!hall.status.inputs[0].tripped && !hall.setpoints_move());
}

#[test]
fn a_trip_only_answers_to_false_and_not_to_silence() {
    let mut hall = hall(&(OK.to_owned() + "trips = true\n"), &cue("1", &east(1.0, 2.5)));
    set(&mut hall, true);
    hall.run(1.0);
    assert_eq!((hall.status.inputs[0].truth, hall.status.inputs[0].tripped), (Truth::Unknown, false));
    set(&mut hall, true);
    hall.tick(&[]);
    assert_eq!(hall.status.inputs[0].truth, Truth::True);
}

#[test]
fn a_lost_link_is_a_matter_of_each_cue() {
    for (on_link_loss, state) in [("finish", CueState::Running), ("hold", CueState::Holding)] {
        let cues = cue("1", &format!("on_link_loss = \"{on_link_loss}\"\n{}", east(2.0, 5.0)));
        let mut hall = hall("", &cues);
        hall.fire("1");
        hall.run(1.0);
        // Without a lease a link that ends is nothing to the cue.
        hall.ask_as(CALLER, Verb::ClientLost { leased: false }).unwrap();
        assert_eq!(hall.state("1"), CueState::Running);
        hall.ask_as(CALLER, Verb::ClientLost { leased: true }).unwrap();
        assert_eq!(hall.state("1"), state);
    }
}

#[test]
fn an_unready_cue_gives_every_reason_at_once() {
    let settings = OK.to_owned() + &interlock("\"east.travel\"", "{ input = \"ok\" }", "hold");
    let cues = cue("1", &east(-1.0, 2.5)) + &cue("2", &format!("needs = {{ input = \"ok\" }}\n{}", east(1.0, 3.5)));
    let mut hall = hall(&settings, &cues);
    hall.ask(Verb::Disarm).unwrap();
    let Accepted::Standby { reasons, .. } = standby_of(&mut hall, &["2"], false) else { panic!() };
    let has = |what: fn(&Reason) -> bool| reasons.reasons.iter().any(what);
    assert!(has(|reason| matches!(reason, Reason::NotArmed)), "{reasons:?}");
    assert!(has(|reason| matches!(reason, Reason::Skips { count: 1, .. })), "{reasons:?}");
    assert!(has(|reason| matches!(reason, Reason::StartPose { .. })), "{reasons:?}");
    assert!(has(|reason| matches!(reason, Reason::Needs { .. })), "{reasons:?}");
    assert!(has(|reason| matches!(reason, Reason::Interlock { .. })), "{reasons:?}");
}
