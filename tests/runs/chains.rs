//! Follows, waits and the order of the list: what hangs on what, and what undoes it.

use crate::hall::carts::{begins, cue, east, hall, standby_of, west};
use crate::hall::{self, CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::show::{CueState, InputId, Show};

fn zoom(to: f64, time: f64) -> String {
    format!("move = [{{ rig = \"head\", to = {{ zoom = {to:?} }}, time = {time:?} }}]")
}

fn after(of: &str, from: &str, wait: f64, what: &str) -> String {
    format!("after = {{ cue = \"{of}\", from = \"{from}\", wait = {wait:?} }}\n{what}")
}

/// The own time of a running cue, s.
fn own_time(hall: &Hall, number: &str) -> f64 {
    let cue = hall.cue(number);
    hall.status.running.iter().find(|running| running.cue == cue).expect("it runs").time
}

/// The reasons for which a follow was refused.
fn broken_chain(hall: &Hall, number: &str) -> Vec<Reason> {
    let broken = hall.cue(number);
    let told = hall.events.iter().find_map(|event| match &event.kind {
        EventKind::Refused { request: None, cue: Some(cue), reasons, .. } if *cue == broken => Some(reasons),
        _ => None,
    });
    told.expect("nobody was told that the chain broke").reasons.to_vec()
}

#[test]
fn a_wait_from_the_start_counts_the_leading_cues_own_time() {
    let cues = cue("1", &east(2.0, 5.0)) + &cue("2", &after("1", "start", 2.0, &west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run(0.6);
    hall.ask(Verb::Master { value: 0.4 }).unwrap();
    hall.run(1.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(3.0);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run(0.8);
    hall.ask(Verb::Master { value: 1.0 }).unwrap();
    hall.run_until("2", CueState::Running, 6.0);
    // Whatever the rate did on the way.
    let (time, tick) = (own_time(&hall, "1"), hall.show.settings.tick.seconds());
    assert!((time - 2.0).abs() <= tick + 1e-9, "{time}");
    let begun = begins(&hall, &["1", "2"])[1];
    assert!(begun > 4.5, "a hold and a slower master took no time: {begun}");
}

#[test]
fn a_wait_longer_than_its_leading_cue_goes_on_when_that_has_ended() {
    let cues = cue("1", &east(1.0, 2.5)) + &cue("2", &after("1", "start", 4.0, &west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run_until("2", CueState::Running, 5.0);
    hall::carts::about(&begins(&hall, &["1", "2"]), &[0.0, 4.0]);
}

#[test]
fn a_hold_pauses_a_wait_while_nothing_runs() {
    let cues = cue("1", &east(1.0, 2.5)) + &cue("2", &after("1", "end", 1.0, &west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run_until("1", CueState::Done, 3.0);
    hall.run(0.4);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(3.0);
    assert_eq!(hall.state("2"), CueState::Waiting);
    let left = hall.status.waiting[0].left.unwrap();
    assert!((left - 0.6).abs() < 0.01, "{left}");
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run(0.55);
    assert_eq!(hall.state("2"), CueState::Waiting);
    hall.run(0.1);
    assert_eq!(hall.state("2"), CueState::Running);
}

#[test]
fn a_condition_that_turns_true_during_a_hold_fires_nothing_until_the_resume() {
    let cues = cue("1", &east(2.0, 5.0))
        + &cue("2", &format!("after = {{ when = {{ input = \"ok\" }} }}\n{}", west(1.0, 2.5)));
    let mut hall = hall("[[input]]\nname = \"ok\"\nmax_age = 0.5\n", &cues);
    hall.fire("1");
    hall.run(1.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(0.1);
    hall.sensors = vec![(InputId(0), true)];
    hall.run(2.0);
    assert_eq!(["1", "2"].map(|n| hall.state(n)), [CueState::Holding, CueState::Waiting]);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.tick(&[]);
    assert_eq!(hall.state("2"), CueState::Running);
}

#[test]
fn the_master_scales_the_delay_of_a_move() {
    let delayed = east(1.0, 2.5).replace("time =", "delay = 1.0, time =");
    let moves_after = |master: f64| {
        let mut hall = hall("", &cue("1", &delayed));
        hall.ask(Verb::Master { value: master }).unwrap();
        hall.fire("1");
        let begun = hall.status.tick;
        let stands = hall.setpoint("east.travel");
        while hall.setpoint("east.travel") == stands {
            hall.tick(&[]);
        }
        (hall.status.tick - begun) as f64 * hall.show.settings.tick.seconds()
    };
    let (whole, quarter) = (moves_after(1.0), moves_after(0.25));
    assert!((whole - 1.0).abs() < 0.02 && (quarter - 4.0).abs() < 0.05, "{whole} {quarter}");
}

#[test]
fn a_follow_needs_no_standby_and_consumes_none() {
    let cues = cue("1", &east(1.0, 3.0))
        + &cue("2", &after("1", "start", 1.0, &west(1.0, 2.5)))
        + &cue("3", &zoom(40.0, 1.5));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run(0.5);
    hall.standby("3");
    hall.run_until("2", CueState::Running, 1.0);
    assert_eq!(hall.state("3"), CueState::Standby);
    // Nor does it begin a guard time of its own.
    assert_eq!(hall.go("3"), Ok(Accepted::Done));
}

#[test]
fn a_follow_whose_axis_is_taken_is_refused_as_a_go_is_and_comes_no_later() {
    let cues = cue("1", &zoom(40.0, 2.0))
        + &cue("2", &west(1.0, 6.0))
        + &cue("3", &after("1", "end", 0.5, &west(0.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.fire("2");
    hall.run(3.0);
    assert_eq!(["1", "2", "3"].map(|n| hall.state(n)), [CueState::Done, CueState::Running, CueState::Idle]);
    let owned = Reason::AxisOwned { axis: hall.axis("west.travel"), owner: Owner::Cue(hall.cue("2")) };
    let told = broken_chain(&hall, "3");
    assert!(told.contains(&owned), "{told:?}");
    hall.run_until("2", CueState::Done, 5.0);
    hall.run(3.0);
    assert_eq!(hall.state("3"), CueState::Idle, "it was queued");
    assert_eq!(hall.setpoint("west.travel"), 1.0);
}

#[test]
fn a_follow_whose_rig_stands_elsewhere_breaks_the_chain_with_the_error_of_its_axis() {
    let cues = cue("1", &zoom(40.0, 2.0))
        + &cue("2", &west(1.0, 2.5))
        + &cue("3", &after("2", "end", 0.5, &zoom(60.0, 2.0)))
        + &cue("4", &after("3", "end", 0.5, &west(0.0, 2.5)));
    let mut hall = hall("", &cues);
    // The first is passed over: nothing brings the zoom to where the third takes it from.
    standby_of(&mut hall, &["2"], true);
    hall.go("2").unwrap();
    let axis = hall.axis("head.zoom");
    hall.run(6.0);
    assert_eq!(hall.status.stopped, None);
    assert_eq!(["2", "3", "4"].map(|n| hall.state(n)), [CueState::Done, CueState::Idle, CueState::Idle]);
    let told = broken_chain(&hall, "3");
    assert!(
        matches!(told[..], [Reason::StartPose { axis: at, expected: 40.0, measured, .. }] if at == axis && measured < 1.0),
        "{told:?}"
    );
}

#[test]
fn a_stop_unhangs_every_follow() {
    let cues = cue("1", &east(1.0, 3.0)) + &cue("2", &after("1", "start", 1.0, &west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run(0.5);
    hall.press_stop();
    assert_eq!(hall.state("2"), CueState::Idle);
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.run(3.0);
    assert_eq!(["1", "2"].map(|n| hall.state(n)), [CueState::Stopped, CueState::Idle]);
}

#[test]
fn a_follow_of_the_end_comes_after_a_cue_that_was_carried_on() {
    let cues = cue("1", &east(1.0, 3.0)) + &cue("2", &after("1", "end", 0.5, &west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run(1.0);
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.fire("1");
    hall.run_until("2", CueState::Running, 5.0);
    assert_eq!(hall.setpoint("east.travel"), 1.0);
}

#[test]
fn what_lay_ahead_of_a_stopped_cue_hangs_on_it_again_when_it_is_carried_on() {
    let above = "after = { when = { axis = \"east.travel\", above = 1.5 } }";
    let cues = cue("1", &east(2.0, 5.0))
        + &cue("2", &format!("{above}\n{}", west(1.0, 2.5)))
        + &cue("3", &after("1", "start", 0.4, &zoom(20.0, 1.5)))
        + &cue("4", &after("1", "start", 3.0, &zoom(40.0, 1.5)));
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run(2.0);
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.run(5.0);
    assert_eq!(["2", "4"].map(|n| hall.state(n)), [CueState::Idle; 2], "nothing starts by itself");
    hall.fire("1");
    hall.run_until("4", CueState::Running, 5.0);
    // It counts the leading cue's own time, the stop and its brake included.
    let (time, tick) = (own_time(&hall, "1"), hall.show.settings.tick.seconds());
    assert!((time - 3.0).abs() <= tick + 1e-9, "{time}");
    hall.run_until("2", CueState::Done, 6.0);
    let fired = |number: &str| {
        let cue = hall.cue(number);
        hall.events.iter().filter(|event| matches!(event.kind, EventKind::Go { cue: at, .. } if at == cue)).count()
    };
    assert_eq!(["1", "2", "3", "4"].map(fired), [2, 1, 1, 1], "what had fired before the stop fires no more");
}

#[test]
fn what_was_done_before_a_stop_stays_done_when_its_leading_cue_is_carried_on() {
    let needs = format!("needs = {{ cue = \"2\", state = \"done\" }}\n{}", west(1.0, 2.5));
    let cues =
        cue("1", &east(2.0, 5.0)) + &cue("2", &after("1", "start", 0.2, &zoom(20.0, 1.5))) + &cue("3", &needs);
    let mut hall = hall("", &cues);
    hall.fire("1");
    hall.run_until("2", CueState::Done, 3.0);
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.fire("1");
    hall.run_until("1", CueState::Done, 6.0);
    assert_eq!(hall.state("2"), CueState::Done);
    hall.run(0.2);
    assert_eq!(hall.standby("3"), []);
}

#[test]
fn going_back_in_the_list_forgets_what_was_stopped_after_it() {
    let cues = cue("1", &zoom(40.0, 1.5)) + &cue("2", &zoom(60.0, 1.5)) + &cue("3", &west(1.0, 2.5));
    let mut hall = hall("", &cues);
    ["1", "2"].iter().for_each(|number| {
        hall.fire(number);
        hall.run_until(number, CueState::Done, 3.0);
    });
    hall.fire("3");
    hall.run(1.0);
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    assert_eq!(hall.state("3"), CueState::Stopped);
    hall.standby("2");
    assert_eq!(hall.state("3"), CueState::Idle);
}

#[test]
fn going_back_in_the_list_undoes_what_was_done_for_the_conditions_of_others() {
    let cues = cue("1", &east(1.0, 2.5))
        + &cue("2", &east(0.0, 2.5))
        + &cue("3", &format!("needs = {{ cue = \"2\", state = \"done\" }}\n{}", west(1.0, 2.5)));
    let mut hall = hall("", &cues);
    for number in ["1", "2"] {
        hall.fire(number);
        hall.run_until(number, CueState::Done, 2.7);
    }
    hall.run(0.1);
    assert!(hall.standby("3").is_empty());
    hall.standby("1");
    hall.run(0.1);
    let reasons = standby_of(&mut hall, &["3"], true);
    let Accepted::Standby { reasons, .. } = reasons else { panic!() };
    assert!(
        matches!(reasons.reasons[..], [Reason::Needs { truth: Truth::False, .. }]),
        "2 counts as done though the list was taken back before it: {reasons:?}"
    );
}

#[test]
fn going_back_in_the_list_unhangs_the_follows_of_later_cues() {
    let cues = cue("1", &east(1.0, 2.5))
        + &cue("2", &west(1.0, 2.5))
        + &cue("3", &after("2", "end", 2.0, &zoom(40.0, 1.5)));
    let mut hall = hall("", &cues);
    for number in ["1", "2"] {
        hall.fire(number);
        hall.run_until(number, CueState::Done, 2.7);
    }
    assert_eq!(hall.state("3"), CueState::Waiting);
    hall.standby("1");
    assert_eq!(["1", "2", "3"].map(|n| hall.state(n)), [CueState::Standby, CueState::Idle, CueState::Idle]);
    for _ in 0..2000 {
        assert!(!hall.setpoints_move(), "a follow came though the list was taken back before it");
    }
}

#[test]
fn a_standby_before_or_after_a_follow_leaves_it_waiting_for_its_leading_cue() {
    let cues = cue("1", &east(1.0, 2.5))
        + &cue("2", &zoom(40.0, 1.5))
        + &cue("3", &after("1", "end", 1.0, &west(1.0, 2.5)))
        + &cue("4", &zoom(0.0, 1.5));
    for called in ["1", "2", "4"] {
        let mut hall = hall("", &cues);
        hall.fire("1");
        hall.run(0.5);
        let asked = hall.cue(called);
        let running = hall.ask(Verb::Standby { cues: [asked].into_iter().collect(), skip: true });
        assert_eq!(running.is_err(), called == "1", "{called}: {running:?}");
        assert_eq!(hall.state("3"), CueState::Waiting, "{called}");
        hall.run_until("3", CueState::Running, 4.0);
    }
}

#[test]
fn the_second_of_several_becomes_ready_when_the_first_is_done() {
    let cues = cue("1", &east(1.0, 2.5)) + &cue("2", &east(0.0, 2.5));
    let mut hall = hall("", &cues);
    let accepted = standby_of(&mut hall, &["1", "2"], false);
    let Accepted::Standby { ready: false, cue, reasons } = accepted else { panic!("{accepted:?}") };
    assert_eq!(cue, hall.cue("2"), "the first that is not ready is named");
    assert!(matches!(reasons.reasons[0], Reason::StartPose { .. }), "{reasons:?}");
    hall.go("1").unwrap();
    hall.run(1.0);
    assert!(hall.go("2").is_err());
    hall.run_until("1", CueState::Done, 3.0);
    hall.run(0.3);
    assert!(hall.status.standby[0].ready, "{:?}", hall.status.standby);
    assert_eq!(hall.go("2"), Ok(Accepted::Done));
}

#[test]
fn a_gap_in_the_order_given_must_be_acknowledged_too() {
    let cues = cue("1", &east(1.0, 2.5)) + &cue("1.5", &zoom(40.0, 1.5)) + &cue("2", &west(1.0, 2.5));
    let mut hall = hall("", &cues);
    standby_of(&mut hall, &["1", "2"], false);
    let gap = Reason::Skips { first: hall.cue("1.5"), count: 1 };
    assert!(hall.status.standby[0].ready, "{:?}", hall.status.standby);
    assert!(hall.status.standby[1].reasons.reasons.contains(&gap), "{:?}", hall.status.standby);
}

#[test]
fn a_cue_takes_all_of_its_axes_or_none() {
    let both = "move = [{ rig = \"east\", to = { travel = 2.0 }, time = 3.5 }, \
                { rig = \"west\", to = { travel = 1.0 }, time = 3.0 }]";
    let mut hall = hall("", &(cue("1", &east(1.0, 5.0)) + &cue("2", both)));
    hall.fire("1");
    hall.run(0.5);
    hall.standby("2");
    assert!(hall.go("2").is_err());
    hall.run_until("1", CueState::Done, 6.0);
    assert_eq!(hall.setpoint("west.travel"), hall.plan.cue(hall.cue("2")).start[hall.axis("west.travel").index()]);
    assert_eq!(hall.status.rigs[hall.rig("west").index()].owner, Owner::Nobody);
    hall.run(0.3);
    hall.go("2").unwrap();
    hall.tick(&[]);
    let two = Owner::Cue(hall.cue("2"));
    let owners = ["east", "west"].map(|rig| hall.status.rigs[hall.rig(rig).index()].owner);
    assert_eq!(owners, [two, two]);
}

/// Carts by the dozen, each with a cue; the last follows the one before it.
fn fleet(carts: usize) -> Show {
    let cart = hall::carts::EAST.replace("bodies =", "# bodies =");
    let names: Vec<String> = (0..carts).map(|n| format!("rigs/c{n:02}.toml")).collect();
    let one = |n: usize| {
        let what = format!("move = [{{ rig = \"c{n:02}\", to = {{ travel = 2.0 }}, time = 30.0 }}]");
        let follows = n + 1 == carts;
        cue(&(n + 1).to_string(), &if follows { after(&n.to_string(), "start", 2.0, &what) } else { what })
    };
    let cues: String = (0..carts).map(one).collect();
    let mut files: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), cart.as_str())).collect();
    files.push(("show.toml", "[show]\nname = \"Fleet\"\nmargin = 0.1\nreact = 0.1\nguard = 0.02\n"));
    files.push(("cues/all.toml", &cues));
    hall::show_of(&files)
}

#[test]
fn a_cue_too_many_is_refused_and_a_follow_too_many_says_why() {
    // Sixteen run at once at most: the follow of the sixteenth is one too many.
    let mut hall = Hall::open(fleet(17));
    hall.arm();
    for number in 1..=16 {
        hall.fire(&number.to_string());
    }
    hall.run(2.5);
    assert_eq!((hall.state("16"), hall.state("17")), (CueState::Running, CueState::Idle));
    assert_eq!(broken_chain(&hall, "17"), [Reason::TooMany { limit: 16 }]);
    hall.standby("17");
    let seventeen = hall.cue("17");
    assert_eq!(hall.refused(Verb::Go { cue: Some(seventeen) }), [Reason::TooMany { limit: 16 }]);
    assert_eq!(hall.state("16"), CueState::Running, "the cues that run are not troubled");
}

#[test]
fn a_key_that_comes_late_again_still_gets_the_first_answer() {
    let mut hall = hall("trigger_age = 0.3", &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5))));
    standby_of(&mut hall, &["1", "2"], false);
    let mut go = hall.request(CALLER, Verb::Go { cue: None });
    go.key = Some(Key(5));
    assert_eq!(hall.tick(&[go.clone()])[0].outcome, Ok(Accepted::Done));
    hall.run(0.5);
    let late = Request { id: RequestId(9_000), age: Some(bellwire::show::Nanos::from_seconds(2.0)), ..go };
    assert_eq!(hall.tick(&[late])[0].outcome, Ok(Accepted::Done));
    assert_eq!(hall.state("2"), CueState::Standby);
    // A refusal is remembered as well: what was refused once does not happen later by a repeat.
    let mut hold = hall.request(OTHER, Verb::Resume { cue: None });
    hold.key = Some(Key(6));
    assert!(hall.tick(&[hold.clone()])[0].outcome.is_err());
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.ask_as(CALLER, Verb::ClientLost { leased: false }).unwrap();
    let again = Request { id: RequestId(9_001), ..hold };
    assert!(hall.tick(&[again])[0].outcome.is_err());
    assert_eq!(hall.state("1"), CueState::Holding);
}

#[test]
fn two_keys_of_one_tick_are_one_request() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5))));
    standby_of(&mut hall, &["1", "2"], false);
    let mut go = hall.request(CALLER, Verb::Go { cue: None });
    go.key = Some(Key(7));
    let again = Request { id: RequestId(9_000), ..go.clone() };
    let answers = hall.tick(&[go, again]);
    assert!(answers.iter().all(|answer| answer.outcome == Ok(Accepted::Done)), "{answers:?}");
    assert_eq!((hall.state("1"), hall.state("2")), (CueState::Running, CueState::Standby));
}

#[test]
fn many_gos_in_one_tick_fire_one_cue() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5))));
    standby_of(&mut hall, &["1", "2"], false);
    let gos: Vec<Request> = (0..40).map(|_| hall.request(CALLER, Verb::Go { cue: None })).collect();
    let answers = hall.tick(&gos);
    let accepted = answers.iter().filter(|answer| answer.outcome.is_ok()).count();
    assert_eq!((answers.len(), accepted), (40, 1));
    assert_eq!((hall.state("1"), hall.state("2")), (CueState::Running, CueState::Standby));
}

#[test]
fn an_input_of_a_caller_is_taken_and_of_an_observer_not() {
    let mut hall = hall("[[input]]\nname = \"ok\"\nmax_age = 0.5\n", &cue("1", &east(1.0, 2.5)));
    let one = hall.cue("1");
    for verb in [
        Verb::Input { input: InputId(0), value: true },
        Verb::Return { cue: one, held: true },
        Verb::Resume { cue: None },
    ] {
        let mut request = hall.request(CALLER, verb);
        request.role = Role::Observer;
        let outcome = hall.tick(&[request])[0].outcome.clone();
        let role = Reason::Role { needs: Role::Caller, has: Role::Observer };
        assert_eq!(outcome.unwrap_err().reasons[..], [role]);
    }
    assert_eq!(hall.status.inputs[0].value, None);
}
