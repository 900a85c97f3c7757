//! The life of a cue, as a professional expects it: standby, GO, follows, order, overlap, master.

use crate::hall::carts::{EAST, WEST, about, begins, cue, east, hall, show, standby_of, west};
use crate::hall::{self, CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::proof::prove;
use bellwire::show::{Code, CueId, CueState, InputId, Nanos};

#[test]
fn standby_moves_nothing_and_go_fires_only_the_standby_cue() {
    let mut hall = hall("", &(cue("1", &east(1.0, 3.0)) + &cue("2", &west(1.0, 3.0))));
    assert!(hall.standby("1").is_empty());
    for _ in 0..200 {
        assert!(!hall.setpoints_move());
    }
    assert_eq!(hall.state("1"), CueState::Standby);
    let (one, two) = (hall.cue("1"), hall.cue("2"));
    let reasons = hall.refused(Verb::Go { cue: Some(two) });
    assert_eq!(reasons, [Reason::NotOnStandby { asked: two, standby: Some(one) }]);
    assert_eq!(hall.go("1"), Ok(Accepted::Done));
    hall.run_until("1", CueState::Done, 3.2);
    assert_eq!(hall.setpoint("east.travel"), 1.0);
    // The standby is consumed once.
    hall.run(0.5);
    assert_eq!(hall.refused(Verb::Go { cue: None }), [Reason::NothingOnStandby]);
}

#[test]
fn several_stand_by_in_order_and_each_go_fires_the_first() {
    let mut hall =
        hall("", &(cue("1", &east(1.0, 2.5)) + &cue("1.5", &west(1.0, 2.5)) + &cue("2", &east(0.0, 2.5))));
    standby_of(&mut hall, &["1", "1.5"], false);
    hall.ask(Verb::Go { cue: None }).unwrap();
    assert_eq!((hall.state("1"), hall.state("1.5")), (CueState::Running, CueState::Standby));
    hall.run(0.3);
    hall.ask(Verb::Go { cue: None }).unwrap();
    assert_eq!((hall.state("1"), hall.state("1.5")), (CueState::Running, CueState::Running));
}

#[test]
fn a_second_go_within_the_guard_time_is_a_bounce() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5))));
    standby_of(&mut hall, &["1", "2"], false);
    hall.ask(Verb::Go { cue: None }).unwrap();
    hall.run(0.1);
    assert!(matches!(hall.refused(Verb::Go { cue: None })[..], [Reason::Bounce { .. }]));
    assert_eq!(hall.state("2"), CueState::Standby);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: None }).unwrap();
}

#[test]
fn a_go_must_name_its_cue_where_the_show_says_so() {
    let mut hall = hall("named_go = true", &cue("1", &east(1.0, 2.5)));
    hall.standby("1");
    let one = hall.cue("1");
    assert_eq!(hall.refused(Verb::Go { cue: None }), [Reason::NameTheCue { standby: one }]);
    assert_eq!(hall.go("1"), Ok(Accepted::Done));
}

#[test]
fn a_passed_over_cue_must_be_acknowledged() {
    // 12.9 leaves east where it stands, so that passing over it leaves every rig where the list does.
    let cues = cue("12.9", &east(0.0, 2.5)) + &cue("12.10", &west(1.0, 2.5)) + &cue("13", &west(2.0, 3.5));
    let mut hall = hall("", &cues);
    let first = hall.cue("12.9");
    // 12.10 comes after 12.9.
    let reasons = hall.standby("12.10");
    assert!(reasons.contains(&Reason::Skips { first, count: 1 }), "{reasons:?}");
    assert!(hall.go("12.10").is_err());
    let accepted = standby_of(&mut hall, &["12.10"], true);
    assert!(matches!(accepted, Accepted::Standby { ready: true, .. }), "{accepted:?}");
    assert_eq!(hall.go("12.10"), Ok(Accepted::Done));
}

#[test]
fn going_back_in_the_list_makes_the_later_cues_idle_again() {
    let cues = cue("1", &east(1.0, 2.5)) + &cue("2", &east(0.0, 2.5)) + &cue("3", &west(1.0, 2.5));
    let mut hall = hall("", &cues);
    for number in ["1", "2", "3"] {
        hall.fire(number);
        hall.run_until(number, CueState::Done, 2.7);
    }
    hall.standby("2");
    assert_eq!(["1", "2", "3"].map(|n| hall.state(n)), [CueState::Done, CueState::Standby, CueState::Idle]);
}

#[test]
fn a_wrong_start_pose_is_refused_axis_by_axis() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &east(2.0, 2.5))));
    let accepted = standby_of(&mut hall, &["2"], true);
    let Accepted::Standby { ready: false, reasons, .. } = accepted else { panic!("{accepted:?}") };
    let axis = hall.axis("east.travel");
    assert!(
        reasons.reasons.iter().any(|reason| matches!(reason, Reason::StartPose { axis: at, expected, .. } if *at == axis && *expected == 1.0)),
        "{reasons:?}"
    );
    assert!(hall.go("2").is_err());
}

#[test]
fn a_rig_in_the_way_of_a_cue_that_leaves_it_alone_must_stand_where_the_list_leaves_it() {
    let mut hall = beside_each_other();
    let reasons = hall.standby("2");
    let axis = hall.axis("east.travel");
    assert!(
        reasons.iter().any(|reason| matches!(reason, Reason::NearElsewhere { axis: at, .. } if *at == axis)),
        "{reasons:?}"
    );
}

#[test]
fn an_error_of_the_start_fades_and_the_cue_lands_exactly() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &east(0.0, 2.5))));
    hall.fire("1");
    hall.run_until("1", CueState::Done, 2.7);
    // The brake slips by most of the tolerance while the power is off.
    hall.ask(Verb::Disarm).unwrap();
    hall.run(0.3);
    let axis = hall.axis("east.travel");
    hall.faults.inject(bellwire::rig::SimFault::BrakeSlip(axis, -0.015));
    hall.run(1.0);
    hall.faults.heal();
    hall.run(0.5);
    hall.ask(Verb::Arm).unwrap();
    let stands = hall.setpoint("east.travel");
    assert!((stands - 0.985).abs() < 0.003, "{stands}");
    hall.fire("2");
    hall.run_until("2", CueState::Done, 3.0);
    assert_eq!(hall.setpoint("east.travel"), 0.0);
}

#[test]
fn cues_that_own_different_rigs_overlap_and_those_of_one_rig_do_not() {
    let pan = "move = [{ rig = \"head\", to = { pan = 30.0 }, time = 2.0 }]";
    let zoom = "move = [{ rig = \"head\", to = { zoom = 30.0 }, time = 2.0 }]";
    let cues = cue("1", &east(2.0, 5.0)) + &cue("2", &west(1.0, 2.5)) + &cue("3", zoom) + &cue("4", pan);
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run(0.3);
    hall.fire("2");
    hall.fire("3");
    assert_eq!(["1", "2", "3"].map(|n| hall.state(n)), [CueState::Running; 3]);
    // The head rides on the cart that moves: its own joint may not move as well.
    hall.run(0.3);
    let reasons = hall.standby("4");
    let (head, one) = (hall.rig("head"), hall.cue("1"));
    assert!(reasons.contains(&Reason::RigShared { rig: head, cue: one }), "{reasons:?}");
    hall.run_until("1", CueState::Done, 6.0);
    assert!(hall.status.standby[0].ready, "{:?}", hall.status.standby[0].reasons);
}

#[test]
fn one_axis_has_one_owner_and_nothing_is_queued() {
    let mut hall = hall("", &(cue("1", &east(1.0, 3.0)) + &cue("2", &east(2.0, 3.5))));
    hall.fire("1");
    hall.run(0.5);
    let reasons = hall.standby("2");
    let (axis, one) = (hall.axis("east.travel"), hall.cue("1"));
    assert!(reasons.contains(&Reason::AxisOwned { axis, owner: Owner::Cue(one) }), "{reasons:?}");
    assert!(hall.go("2").is_err());
    hall.run_until("1", CueState::Done, 4.0);
    hall.run(1.0);
    assert_eq!(hall.state("2"), CueState::Standby);
    assert_eq!(hall.setpoint("east.travel"), 1.0);
}

fn follows() -> String {
    cue("1", &east(1.0, 3.0))
        + &cue("2", &format!("after = {{ cue = \"1\", from = \"start\", wait = 1.0 }}\n{}", west(1.0, 2.5)))
        + &cue(
            "3",
            "after = { cue = \"1\", from = \"end\", wait = 0.5 }\nmove = [{ rig = \"head\", to = { zoom = 40.0 }, time = 1.5 }]",
        )
}

#[test]
fn follows_come_by_themselves_from_start_and_end() {
    let mut hall = hall("", &follows());
    hall.fire("1");
    assert_eq!(["2", "3"].map(|n| hall.state(n)), [CueState::Waiting; 2]);
    hall.run_until("3", CueState::Done, 6.0);
    about(&begins(&hall, &["1", "2", "3"]), &[0.0, 1.0, 3.5]);
    assert_eq!(hall.state("2"), CueState::Done);
}

#[test]
fn the_master_scales_moves_and_waits_alike() {
    let mut hall = hall("", &follows());
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    hall.fire("1");
    hall.run_until("3", CueState::Done, 12.0);
    about(&begins(&hall, &["1", "2", "3"]), &[0.0, 2.0, 7.0]);
}

#[test]
fn a_hold_pauses_waits() {
    let mut hall = hall("", &follows());
    hall.fire("1");
    hall.run(0.5);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(4.0);
    assert_eq!(hall.state("2"), CueState::Waiting);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run_until("3", CueState::Done, 8.0);
    let begun = begins(&hall, &["1", "2", "3"]);
    assert!(begun[1] > 4.5, "{begun:?}");
    // From the start of 1 to its end and half a second more, both on its own time: the follows keep their distance.
    let one = hall.plan.cue(hall.cue("1")).duration;
    assert!((begun[2] - begun[1] - (one + 0.5 - 1.0)).abs() < 0.5, "{begun:?}");
}

#[test]
fn a_follow_that_is_refused_breaks_its_chain() {
    let chain = cue("1", &east(1.0, 2.5))
        + &cue(
            "2",
            &format!(
                "after = {{ cue = \"1\", from = \"start\", wait = 0.5 }}\nneeds = {{ input = \"ok\" }}\n{}",
                west(1.0, 2.5)
            ),
        )
        + &cue(
            "3",
            "after = { cue = \"2\", from = \"end\", wait = 0.1 }\nmove = [{ rig = \"head\", to = { zoom = 40.0 }, time = 1.5 }]",
        );
    let mut hall = hall("[[input]]\nname = \"ok\"\nmax_age = 0.5\n", &chain);
    hall.fire("1");
    hall.run(4.0);
    assert_eq!(["1", "2", "3"].map(|n| hall.state(n)), [CueState::Done, CueState::Idle, CueState::Idle]);
    let two = hall.cue("2");
    let told = hall.events.iter().find_map(|event| match &event.kind {
        EventKind::Refused { request: None, cue: Some(cue), reasons, .. } if *cue == two => Some(reasons.clone()),
        _ => None,
    });
    let told = told.expect("nobody was told that the chain broke");
    assert!(matches!(told.reasons[0], Reason::Needs { truth: Truth::Unknown, .. }), "{told:?}");
}

#[test]
fn a_follow_of_a_condition_comes_when_it_turns_true() {
    let cues = cue("1", &east(2.0, 4.0))
        + &cue("2", &format!("after = {{ when = {{ axis = \"east.travel\", above = 1.0 }} }}\n{}", west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run_until("2", CueState::Running, 4.0);
    let at = hall.setpoint("east.travel");
    assert!((0.95..1.15).contains(&at), "{at}");
}

#[test]
fn interlocks_are_looked_at_along_the_whole_path() {
    // Nobody has said that the gate is shut, which the check cannot know: so it has nothing to tell.
    let interlock = |otherwise: &str| {
        format!(
            "[[input]]\nname = \"gate shut\"\nmax_age = 1.0\n\
             [[interlock]]\nname = \"east first\"\nguards = [\"west.travel\"]\ndirection = \"up\"\n\
             needs = {{ any = [{{ axis = \"east.travel\", below = 1.0 }}, {{ input = \"gate shut\" }}] }}\n\
             otherwise = \"{otherwise}\"\n"
        )
    };
    let both = "move = [{ rig = \"east\", to = { travel = 2.0 }, time = 3.5 }, \
                { rig = \"west\", to = { travel = 1.0 }, time = 3.0, delay = 2.5 }]";
    for otherwise in ["refuse", "hold", "stop"] {
        let mut hall = hall(&interlock(otherwise), &(cue("1", both) + &cue("2", &west(-1.0, 4.0))));
        let reasons = hall.standby("1");
        // True now, but not when west begins to move.
        let [Reason::InterlockAlong { truth: Truth::False, time, .. }] = reasons[..] else { panic!("{reasons:?}") };
        assert!((2.4..3.0).contains(&time), "{time}");
        assert!(hall.go("1").is_err());
    }
}

#[test]
fn a_repeated_key_gets_the_first_answer_and_does_nothing() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5))));
    standby_of(&mut hall, &["1", "2"], false);
    let mut go = hall.request(CALLER, Verb::Go { cue: None });
    go.key = Some(Key(77));
    assert_eq!(hall.tick(&[go.clone()])[0].outcome, Ok(Accepted::Done));
    hall.run(0.5);
    let again = Request { id: RequestId(9_000), ..go.clone() };
    assert_eq!(hall.tick(&[again])[0].outcome, Ok(Accepted::Done));
    assert_eq!(hall.state("2"), CueState::Standby, "the repeat fired the next cue");
    // The same key of another client is another request.
    let other = Request { id: RequestId(9_001), client: OTHER, ..go };
    assert_eq!(hall.tick(&[other])[0].outcome, Ok(Accepted::Done));
    assert_eq!(hall.state("2"), CueState::Running);
}

#[test]
fn an_old_trigger_and_one_from_the_future_are_refused() {
    let mut hall = hall("trigger_age = 0.3", &cue("1", &east(1.0, 2.5)));
    hall.standby("1");
    for (age, fine) in [(0.31, false), (-0.31, false), (3600.0, false), (-3600.0, false), (0.29, true)] {
        let mut go = hall.request(CALLER, Verb::Go { cue: None });
        go.age = Some(Nanos::from_seconds(age));
        let outcome = hall.tick(&[go])[0].outcome.clone();
        assert_eq!(outcome.is_ok(), fine, "{age}: {outcome:?}");
    }
}

#[test]
fn each_role_may_do_what_it_may() {
    let mut hall = hall("", &cue("1", &east(1.0, 2.5)));
    let one: CueId = hall.cue("1");
    let verbs = [
        (Verb::Standby { cues: [one].into_iter().collect(), skip: false }, Role::Caller),
        (Verb::Go { cue: None }, Role::Caller),
        (Verb::Hold { cue: None }, Role::Caller),
        (Verb::Arm, Role::Operator),
        (Verb::Disarm, Role::Operator),
        (Verb::Reset, Role::Operator),
        (Verb::Master { value: 0.5 }, Role::Operator),
    ];
    for (verb, needs) in verbs {
        for has in [Role::Observer, Role::Caller, Role::Operator] {
            let mut request = hall.request(CALLER, verb.clone());
            request.role = has;
            let outcome = hall.tick(&[request])[0].outcome.clone();
            let by_role = outcome
                .as_ref()
                .err()
                .is_some_and(|refusal| refusal.reasons.contains(&Reason::Role { needs, has }));
            assert_eq!(by_role, has < needs, "{verb:?} by {has:?}: {outcome:?}");
        }
    }
}

#[test]
fn a_new_engine_is_disarmed_and_moves_nothing() {
    let mut hall = Hall::open(show("", &cue("1", &east(1.0, 2.5))));
    hall.run(0.5);
    assert!(!hall.status.armed);
    let reasons = hall.standby("1");
    assert_eq!(reasons, [Reason::NotArmed]);
    assert!(hall.go("1").is_err());
    for _ in 0..500 {
        assert!(!hall.setpoints_move());
    }
}

#[test]
fn the_master_takes_a_number_from_nothing_to_one() {
    let mut hall = hall("", &cue("1", &east(1.0, 2.5)));
    for value in [f64::NAN, f64::INFINITY, -0.01, 1.01, f64::NEG_INFINITY] {
        assert_eq!(hall.refused(Verb::Master { value }), [Reason::MasterRange], "{value}");
    }
    for value in [0.0, f64::MIN_POSITIVE, 1.0] {
        assert_eq!(hall.ask(Verb::Master { value }), Ok(Accepted::Done), "{value}");
    }
}

/// Biagiotti and Melchiorri, 2008, section 3.4.5: at a rate of s, speed falls by s and acceleration by s².
#[test]
fn at_half_speed_speed_is_a_half_and_acceleration_a_quarter() {
    let peaks = |master: f64| {
        let mut hall = hall("", &cue("1", &east(2.0, 3.5)));
        hall.ask(Verb::Master { value: master }).unwrap();
        hall.fire("1");
        let dt = hall.show.settings.tick.seconds();
        let (mut speed, mut acceleration) = (0.0_f64, 0.0_f64);
        let (mut a, mut b) = (0.0, 0.0);
        while hall.state("1") == CueState::Running {
            hall.tick(&[]);
            let c = hall.setpoint("east.travel");
            speed = speed.max((c - b) / dt);
            acceleration = acceleration.max((c - 2.0 * b + a) / (dt * dt));
            (a, b) = (b, c);
        }
        (speed, acceleration)
    };
    let (whole, half) = (peaks(1.0), peaks(0.5));
    assert!((half.0 / whole.0 - 0.5).abs() < 1e-3, "{half:?} {whole:?}");
    assert!((half.1 / whole.1 - 0.25).abs() < 1e-2, "{half:?} {whole:?}");
}

#[test]
fn what_is_too_much_for_one_tick_is_answered_all_the_same() {
    let mut hall = hall("[[input]]\nname = \"ok\"\nmax_age = 0.5\n", &cue("1", &east(1.0, 2.5)));
    let requests: Vec<Request> =
        (0..60).map(|n| hall.request(CALLER, Verb::Input { input: InputId(0), value: n % 2 == 0 })).collect();
    let answers = hall.tick(&requests);
    assert_eq!(
        answers.iter().map(|answer| answer.id).collect::<Vec<_>>(),
        requests.iter().map(|r| r.id).collect::<Vec<_>>()
    );
}

#[test]
fn a_refusal_on_the_way_is_seen_however_short_the_stretch() {
    let band = |low: f64, high: f64, lit: &str| {
        format!(
            "[[input]]\nname = \"beam lit\"\nmax_age = 1.0\n[[interlock]]\nname = \"not through the beam\"\n\
             guards = [\"west.travel\"]\notherwise = \"refuse\"\n\
             needs = {{ not = {{ all = [{{ axis = \"west.travel\", within = [{low:?}, {high:?}] }}{lit}] }} }}\n"
        )
    };
    let cues = cue("1", &west(2.0, 3.5));
    // A centimetre, a hundredth of a millimetre, and at either end of a way of two metres.
    for (low, high) in [(1.0, 1.01), (0.731, 0.73101), (0.02, 0.0201), (1.98, 1.9801)] {
        // With no input to ask the check sees it too; of an input it knows nothing.
        let told = prove(&show(&band(low, high, ""), &cues)).findings;
        assert!(matches!(&told[..], [finding] if finding.code == Code::InterlockBlocked), "{low}: {told:#?}");
        let mut hall = hall(&band(low, high, ", { input = \"beam lit\" }"), &cues);
        let reasons = hall.standby("1");
        assert!(matches!(reasons[..], [Reason::InterlockAlong { truth: Truth::True, .. }]), "{low}: {reasons:?}");
        assert!(hall.go("1").is_err(), "{low}");
    }
    let mut hall = hall(&band(2.1, 2.2, ""), &cues);
    assert!(hall.standby("1").is_empty(), "beyond its way");
}

/// Two rails so near that the carts cannot pass; the list takes east away before west comes by.
fn beside_each_other() -> Hall {
    let west_rig =
        WEST.replace("at = [0.0, 4.0, 0.0]", "at = [0.0, 0.5, 0.0]").replace("start = 0.0", "start = -2.0");
    let head = "[show]\nname = \"Carts\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n";
    let cues = cue("1", &east(2.5, 4.0)) + &cue("2", &west(1.0, 4.5));
    let files =
        [("rigs/east.toml", EAST), ("rigs/west.toml", &west_rig), ("show.toml", head), ("cues/all.toml", &cues)];
    let mut hall = Hall::open(hall::show_of(&files));
    hall.arm();
    hall
}

#[test]
fn a_skip_acknowledges_the_order_and_not_where_a_body_stands() {
    let mut hall = beside_each_other();
    let accepted = standby_of(&mut hall, &["2"], true);
    let Accepted::Standby { ready: false, reasons, .. } = accepted else { panic!("{accepted:?}") };
    let axis = hall.axis("east.travel");
    let [Reason::NearElsewhere { axis: at, approach, .. }] = reasons.reasons[..] else { panic!("{reasons:?}") };
    assert_eq!((at, approach.distance, approach.margin), (axis, 0.0, 0.1));
    assert!(hall.go("2").is_err());
}

#[test]
fn a_rig_that_is_elsewhere_and_not_in_the_way_keeps_no_cue() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(2.0, 3.5))));
    let accepted = standby_of(&mut hall, &["2"], true);
    assert!(matches!(accepted, Accepted::Standby { ready: true, .. }), "{accepted:?}");
    assert_eq!(hall.go("2"), Ok(Accepted::Done));
}
