//! Which running cues share a rate: those whose map is not wholly clear, and no others.
//!
//! The boom is drawn away and the lamp comes down where it was, so that these two are bound to each other. The far cart
//! has a rail of its own, clear of both; only the bridge, last in the list, passes over the boom's way and the far cart's.

use crate::hall::{CALLER, Hall, OTHER, show_of};
use bellwire::engine::*;
use bellwire::show::{CueState, InputId};

/// Without it the far cart is held.
const GATE: InputId = InputId(0);

fn rig(at: &str, along: &str, start: f64) -> String {
    format!(
        "kind = \"machine\"\nat = {at}\n[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [-1.0, 16.0]\nstart = {start:?}\n\
         speed = 1.0\nacceleration = 1.0\njerk = 2.0\ntolerance = 0.01\njoint = {{ slide = \"{along}\", at = [0.0, 0.0, 0.0] }}\n\
         bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n"
    )
}

fn cue(number: &str, more: &str, rig: &str, to: f64, time: f64) -> String {
    format!(
        "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{more}\n\
         move = [{{ rig = \"{rig}\", to = {{ way = {to:?} }}, time = {time:?} }}]\n"
    )
}

/// `lamp` is what is written more of its cue.
fn open(lamp: &str) -> Hall {
    let cues = cue("1", "", "boom", 4.0, 14.0)
        + &cue("1.5", "", "far", 5.5, 8.0)
        + &cue("2", lamp, "lamp", 1.0, 8.0)
        + &cue("3", "", "bridge", 15.0, 18.0);
    let mut hall = Hall::open(show_of(&[
        (
            "show.toml",
            "[show]\nname = \"Groups\"\nmargin = 0.3\nreact = 0.1\nguard = 0.1\n\
             [[input]]\nname = \"gate\"\nmax_age = 60.0\n\
             [[interlock]]\nname = \"gate shut\"\nguards = [\"far.way\"]\nneeds = { input = \"gate\" }\notherwise = \"hold\"\n",
        ),
        ("rigs/boom.toml", &rig("[0.0, 0.0, 1.5]", "x", 0.0)),
        ("rigs/bridge.toml", &rig("[2.0, -3.0, 0.75]", "y", 0.0)),
        ("rigs/far.toml", &rig("[0.0, 9.0, 0.0]", "x", 0.0)),
        ("rigs/lamp.toml", &rig("[0.0, 0.0, 0.0]", "z", 5.0)),
        ("cues/all.toml", &cues),
    ]));
    hall.arm();
    hall.ask(Verb::Input { input: GATE, value: true }).unwrap();
    hall
}

/// All three under way.
fn all_under_way() -> Hall {
    let mut hall = open("");
    hall.fire("1");
    hall.run(6.5);
    hall.fire("1.5");
    hall.run(0.5);
    hall.fire("2");
    hall.run(2.5);
    hall
}

fn running(hall: &Hall, number: &str) -> Running {
    let cue = hall.cue(number);
    *hall.status.running.iter().find(|running| running.cue == cue).unwrap_or_else(|| panic!("{number} runs"))
}

fn hold(hall: &mut Hall, number: &str) {
    let cue = hall.cue(number);
    assert_eq!(hall.ask(Verb::Hold { cue: Some(cue) }), Ok(Accepted::Done));
}

fn resume(hall: &mut Hall, number: &str) {
    let cue = hall.cue(number);
    assert_eq!(hall.ask(Verb::Resume { cue: Some(cue) }), Ok(Accepted::Done));
}

fn rates(hall: &Hall, numbers: [&str; 3]) -> [f64; 3] {
    numbers.map(|number| running(hall, number).rate)
}

/// After a stop of all three.
fn stopped() -> Hall {
    let mut hall = all_under_way();
    hall.press_stop();
    hall.run_to_standstill();
    assert_eq!(["1", "1.5", "2"].map(|n| hall.state(n)), [CueState::Stopped; 3]);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.run(0.3);
    hall
}

/// s until a cue is at rest.
fn rests_after(hall: &mut Hall, number: &str) -> f64 {
    let begun = hall.status.tick;
    while running(hall, number).rate != 0.0 {
        hall.tick(&[]);
    }
    (hall.status.tick - begun) as f64 * hall.show.settings.tick.seconds()
}

#[test]
fn a_hold_of_a_cue_leaves_those_that_are_clear_of_it_at_their_rate() {
    let mut hall = all_under_way();
    hold(&mut hall, "1.5");
    for _ in 0..500 {
        hall.tick(&[]);
        assert_eq!(running(&hall, "1").rate, 1.0);
        assert_eq!(running(&hall, "2").rate, 1.0);
    }
    assert_eq!(running(&hall, "1.5").rate, 0.0);
    assert_eq!(["1", "2", "1.5"].map(|n| hall.state(n)), [CueState::Running, CueState::Running, CueState::Holding]);
    resume(&mut hall, "1.5");
    assert_eq!(hall.state("1.5"), CueState::Running);
    hall.run_until("1.5", CueState::Done, 8.0);
}

#[test]
fn what_brakes_alone_brakes_as_if_it_ran_alone() {
    let alone = |number: &str| {
        let mut hall = open("");
        hall.fire("1");
        hall.run(8.0);
        hall.fire("1.5");
        hall.run(2.5);
        hold(&mut hall, number);
        rests_after(&mut hall, number)
    };
    let both = || {
        let mut hall = open("");
        hall.fire("1");
        hall.run(8.0);
        hall.fire("1.5");
        hall.run(2.5);
        let bound = hall.status.stop_bound;
        hall.press_stop();
        let begun = hall.status.tick;
        let mut rests = [None, None];
        while rests.contains(&None) {
            hall.tick(&[]);
            for (rest, number) in rests.iter_mut().zip(["1", "1.5"]) {
                if rest.is_none() && running(&hall, number).rate == 0.0 {
                    *rest = Some((hall.status.tick - begun) as f64 * hall.show.settings.tick.seconds());
                }
            }
        }
        (rests.map(Option::unwrap), bound)
    };
    let (rests, bound) = both();
    for (rest, number) in rests.iter().zip(["1", "1.5"]) {
        assert!((rest - alone(number)).abs() < 0.005, "{number}: {rest} s, alone {} s", alone(number));
    }
    assert!((rests[0] - rests[1]).abs() > 0.05, "they brake alike: {rests:?}");
    let longest = rests[0].max(rests[1]);
    assert!((longest - bound).abs() < 0.1, "told {bound} s, took {rests:?}");
}

#[test]
fn cues_that_are_bound_stay_on_their_line_through_hold_master_resume_and_return() {
    let mut hall = all_under_way();
    let offset = |hall: &Hall| running(hall, "1").time - running(hall, "2").time;
    let line = offset(&hall);
    let follow = |hall: &mut Hall, ticks: usize| {
        for _ in 0..ticks {
            hall.tick(&[]);
            assert!((offset(hall) - line).abs() < 1e-9, "off the line by {}", offset(hall) - line);
            assert_eq!(running(hall, "1").rate, running(hall, "2").rate);
        }
    };
    hold(&mut hall, "2");
    follow(&mut hall, 700);
    assert_eq!(running(&hall, "1").rate, 0.0);
    assert_eq!(running(&hall, "1.5").rate, 1.0);
    resume(&mut hall, "1");
    follow(&mut hall, 200);
    hall.ask(Verb::Master { value: 0.4 }).unwrap();
    follow(&mut hall, 400);
    hold(&mut hall, "1");
    follow(&mut hall, 700);
    let cue = hall.cue("1");
    for _ in 0..20 {
        assert_eq!(hall.ask(Verb::Return { cue, held: true }), Ok(Accepted::Done));
        follow(&mut hall, 50);
    }
    assert!(running(&hall, "2").rate < 0.0);
    assert_eq!(hall.state("1"), CueState::Returning);
    assert_eq!(hall.state("1.5"), CueState::Running);
}

#[test]
fn an_interlock_that_falls_holds_its_cue_and_nothing_that_is_clear_of_it() {
    let mut hall = all_under_way();
    hall.ask(Verb::Input { input: GATE, value: false }).unwrap();
    hall.run(1.5);
    assert_eq!(rates(&hall, ["1", "2", "1.5"]), [1.0, 1.0, 0.0]);
    hall.ask(Verb::Input { input: GATE, value: true }).unwrap();
    hall.run(1.0);
    assert_eq!(running(&hall, "1.5").rate, 0.0, "a condition that turned true set it going");
    assert_eq!(hall.ask_as(OTHER, Verb::Resume { cue: None }), Ok(Accepted::Done));
    hall.run(2.0);
    assert!(running(&hall, "1.5").rate > 0.0);
}

#[test]
fn a_bare_hold_holds_all_and_one_may_be_let_go_of_it() {
    let mut hall = all_under_way();
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(2.0);
    assert_eq!(rates(&hall, ["1", "2", "1.5"]), [0.0; 3]);
    resume(&mut hall, "1.5");
    hall.run(1.0);
    assert_eq!(["1", "2", "1.5"].map(|n| hall.state(n)), [CueState::Holding, CueState::Holding, CueState::Running]);
    assert_eq!(running(&hall, "1").rate, 0.0);
    assert!(running(&hall, "1.5").rate > 0.0);
    assert_eq!(hall.ask(Verb::Resume { cue: None }), Ok(Accepted::Done));
    hall.run_until("1", CueState::Done, 12.0);
}

#[test]
fn a_hold_outlives_the_cue_that_it_named() {
    let mut hall = all_under_way();
    // So late that the boom comes to its end while the two slow down.
    while running(&hall, "1").time < 13.85 {
        hall.tick(&[]);
    }
    hold(&mut hall, "1");
    hall.run(2.5);
    assert_eq!(hall.state("1"), CueState::Done);
    assert_eq!(running(&hall, "2").rate, 0.0);
    assert_eq!(hall.state("2"), CueState::Holding);
}

#[test]
fn no_cue_starts_beside_one_that_is_held_and_bound_to_it() {
    let mut hall = open("");
    hall.fire("1");
    hall.run(7.5);
    hold(&mut hall, "1");
    hall.run(2.0);
    let cue = hall.cue("1");
    assert!(hall.standby("2").contains(&Reason::HeldBeside { cue }));
    assert!(hall.go("2").is_err());
    hall.fire("1.5");
    hall.run(1.0);
    assert_eq!((running(&hall, "1").rate, running(&hall, "1.5").rate), (0.0, 1.0));
}

#[test]
fn a_hold_pauses_the_waits_of_its_group_and_no_others() {
    let mut hall = open("after = { cue = \"1\", from = \"start\", wait = 9.0 }");
    hall.fire("1");
    hall.run(2.0);
    hall.fire("1.5");
    hall.run(1.0);
    hold(&mut hall, "1.5");
    let left = |hall: &Hall| hall.status.waiting[0].left.unwrap();
    let before = left(&hall);
    hall.run(1.0);
    assert!((before - left(&hall) - 1.0).abs() < 0.01, "the wait stood for a cue that is no matter of it");
    hold(&mut hall, "1");
    hall.run(2.0);
    let before = left(&hall);
    hall.run(1.0);
    assert_eq!(before, left(&hall));
}

#[test]
fn a_third_that_is_bound_to_two_makes_them_one_group_as_long_as_it_is_under_way() {
    let mut hall = all_under_way();
    hall.fire("3");
    hall.run(1.0);
    hold(&mut hall, "1.5");
    assert_eq!(["1", "1.5", "2", "3"].map(|n| hall.state(n)), [CueState::Holding; 4]);
    hall.run(2.5);
    assert_eq!(rates(&hall, ["1.5", "2", "3"]), [0.0; 3]);
    resume(&mut hall, "3");
    hall.run_until("1.5", CueState::Done, 8.0);
    // What bound the lamp and the bridge has ended.
    hold(&mut hall, "3");
    assert_eq!(["2", "3"].map(|n| hall.state(n)), [CueState::Running, CueState::Holding]);
}

#[test]
fn who_binds_groups_that_run_at_several_rates_stands_at_its_start_until_they_agree() {
    let mut hall = open("");
    hall.fire("1");
    hall.run(6.5);
    hall.fire("1.5");
    hall.run(0.3);
    hall.fire("2");
    hall.run(1.0);
    hold(&mut hall, "1.5");
    hall.run(1.5);
    hall.standby("3");
    let cue = hall.cue("1.5");
    assert_eq!(hall.go("3"), Err(Refusal::one(Reason::HeldBeside { cue })));
    resume(&mut hall, "1.5");
    assert_eq!(hall.go("3"), Ok(Accepted::Done));
    assert!(running(&hall, "1.5").rate < 1.0);
    while running(&hall, "1.5").rate < 1.0 {
        let of = |number| running(&hall, number);
        assert_eq!((of("1").rate, of("3").rate, of("3").time), (1.0, 0.0, 0.0));
        hall.tick(&[]);
    }
    hall.run(0.5);
    let begun = running(&hall, "3").time;
    assert!(begun > 0.4, "{begun}");
    // From then on they brake together.
    hold(&mut hall, "1");
    while running(&hall, "1").rate != 0.0 {
        let [one, far, bridge] = rates(&hall, ["1", "1.5", "3"]);
        assert_eq!((one, one), (far, bridge));
        hall.tick(&[]);
    }
}

#[test]
fn a_follow_that_is_still_to_come_binds_what_it_will_meet_to_the_cue_that_it_follows() {
    // The lamp comes by the far cart's clock, and was proved beside the boom by that.
    let mut hall = open("after = { cue = \"1.5\", from = \"start\", wait = 1.5 }");
    hall.fire("1");
    hall.run(6.5);
    hall.fire("1.5");
    hold(&mut hall, "1.5");
    assert_eq!(["1", "1.5"].map(|n| hall.state(n)), [CueState::Holding; 2]);
    hall.run(2.0);
    let left = hall.status.waiting[0].left;
    hall.run(1.0);
    assert_eq!(hall.status.waiting[0].left, left, "the wait of what is held went on");
    resume(&mut hall, "1");
    hall.run_until("2", CueState::Running, 5.0);
    // It has come: now the far cart is no matter of theirs.
    hold(&mut hall, "1.5");
    assert_eq!(["1", "2", "1.5"].map(|n| hall.state(n)), [CueState::Running, CueState::Running, CueState::Holding]);
}

#[test]
fn the_master_slows_every_group() {
    let mut hall = all_under_way();
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    hall.run(2.0);
    assert_eq!(rates(&hall, ["1", "2", "1.5"]), [0.5; 3]);
}

#[test]
fn a_lost_link_holds_what_its_client_fired_and_nothing_that_is_clear_of_it() {
    let mut hall = open("");
    hall.fire("1");
    hall.run(6.5);
    assert_eq!(hall.standby("1.5"), []);
    let far = hall.cue("1.5");
    assert_eq!(hall.ask_as(OTHER, Verb::Go { cue: Some(far) }), Ok(Accepted::Done));
    hall.run(1.0);
    hall.ask_as(OTHER, Verb::ClientLost { leased: true }).unwrap();
    assert_eq!(["1", "1.5"].map(|n| hall.state(n)), [CueState::Running, CueState::Holding]);
    hall.ask_as(CALLER, Verb::ClientLost { leased: true }).unwrap();
    assert_eq!(["1", "1.5"].map(|n| hall.state(n)), [CueState::Holding; 2]);
}

#[test]
fn who_held_one_group_is_not_asked_for_the_other() {
    let mut hall = all_under_way();
    let (boom, far) = (hall.cue("1"), hall.cue("1.5"));
    hall.ask_as(OTHER, Verb::Hold { cue: Some(far) }).unwrap();
    hold(&mut hall, "2");
    let by_other = Refusal::one(Reason::HeldBy { client: OTHER });
    assert_eq!(hall.ask(Verb::Resume { cue: Some(far) }), Err(by_other.clone()));
    assert_eq!(hall.ask(Verb::Resume { cue: None }), Err(by_other));
    hall.run(1.5);
    assert_eq!(rates(&hall, ["1", "2", "1.5"]), [0.0; 3], "a refused resume set something going");
    assert_eq!(hall.ask(Verb::Resume { cue: Some(boom) }), Ok(Accepted::Done));
    assert_eq!(["1", "2", "1.5"].map(|n| hall.state(n)), [CueState::Running, CueState::Running, CueState::Holding]);
}

#[test]
fn one_standby_and_one_go_carry_on_the_stopped_group_that_they_name() {
    let mut hall = stopped();
    hall.fire("1.5");
    hall.run(0.5);
    assert_eq!(["1", "2", "1.5"].map(|n| hall.state(n)), [CueState::Stopped, CueState::Stopped, CueState::Running]);
    let line = running(&hall, "1").time - running(&hall, "2").time;
    hall.fire("2");
    for _ in 0..1000 {
        hall.tick(&[]);
        let (boom, lamp) = (running(&hall, "1"), running(&hall, "2"));
        assert!((boom.time - lamp.time - line).abs() < 1e-9);
        assert_eq!(boom.rate, lamp.rate);
    }
    assert_eq!(["1", "2", "1.5"].map(|n| hall.state(n)), [CueState::Running; 3]);
    // Which of the two groups ends first is a matter of how far each had come.
    ["1", "2", "1.5"].iter().for_each(|number| hall.run_until(number, CueState::Done, 12.0));
}

#[test]
fn a_stopped_group_goes_back_alone_and_the_other_is_carried_on() {
    let mut hall = stopped();
    let cue = hall.cue("2");
    while hall.status.running.iter().any(|running| running.cue == cue) {
        assert_eq!(hall.ask(Verb::Return { cue, held: true }), Ok(Accepted::Done));
        assert_eq!(hall.state("1.5"), CueState::Stopped);
        hall.run(0.3);
    }
    assert_eq!(["1", "2"].map(|n| hall.state(n)), [CueState::Idle; 2]);
    assert!(hall.setpoint("boom.way").abs() < 1e-9 && (hall.setpoint("lamp.way") - 5.0).abs() < 1e-9);
    // The boom no longer stands where the far cart was fired beside it; but that is clear of all of the boom's way.
    hall.run(0.3);
    hall.fire("1.5");
    hall.run_until("1.5", CueState::Done, 8.0);
}

#[test]
fn one_hand_drives_one_group() {
    let mut hall = stopped();
    let (boom, far) = (hall.cue("1"), hall.cue("1.5"));
    hall.ask(Verb::Return { cue: boom, held: true }).unwrap();
    hall.run(0.3);
    assert_eq!(["1", "2"].map(|n| hall.state(n)), [CueState::Returning; 2]);
    hall.ask(Verb::Return { cue: far, held: true }).unwrap();
    assert_eq!(["1", "1.5"].map(|n| hall.state(n)), [CueState::Holding, CueState::Returning]);
}

#[test]
fn a_stop_brings_to_rest_and_a_go_carries_on_together_what_a_follow_to_come_binds() {
    let mut hall = open("after = { cue = \"1.5\", from = \"start\", wait = 3.0 }");
    hall.fire("1");
    hall.run(6.5);
    hall.fire("1.5");
    hall.run(1.5);
    hall.press_stop();
    while hall.status.rate != 0.0 {
        assert_eq!(running(&hall, "1").rate, running(&hall, "1.5").rate);
        hall.tick(&[]);
    }
    hall.run_to_standstill();
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.run(0.3);
    hall.fire("1.5");
    assert_eq!(["1", "1.5"].map(|n| hall.state(n)), [CueState::Running; 2]);
    hall.run_until("2", CueState::Running, 4.0);
    hall.run_until("2", CueState::Done, 10.0);
}
