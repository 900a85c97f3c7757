//! Rigs in hand: what their sticks and dials do.

use crate::hall::carts::{cue, east, hall, west};
use crate::hall::held::{SHAPE, give_back, owner, reasons, speed, take, told};
use crate::hall::{self, CALLER, Hall, OTHER, apart};
use bellwire::engine::*;
use bellwire::show::{CueState, Nanos};
use bellwire::stage::Stage;

#[test]
fn a_stick_asks_for_its_share_of_the_speed_under_the_master() {
    let mut hall = hall("", "");
    hall.take("east");
    hall.hold_stick("east.travel", 0.4, 1.5);
    assert!((speed(&mut hall, "east.travel") - 0.4).abs() < 1e-9);
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    hall.hold_stick("east.travel", 0.4, 1.0);
    assert!((speed(&mut hall, "east.travel") - 0.2).abs() < 1e-9, "a master of 50 % over 40 % gives 20 %");
    hall.hold_stick("east.travel", -1.0, 2.0);
    assert!((speed(&mut hall, "east.travel") + 0.5).abs() < 1e-9);
    hall.ask(Verb::Master { value: 1.0 }).unwrap();
    // At the end of its travel it stops, exactly there.
    hall.hold_stick("east.travel", -1.0, 6.0);
    let short = hall.setpoint("east.travel") + 3.0;
    assert!((0.0..1e-6).contains(&short), "{short}");
    assert_eq!(speed(&mut hall, "east.travel"), 0.0);
}

/// An axis rated 0.8 m/s with a share of 0.4 never passes 0.32 m/s, and a master of 50 % over that gives half of it (common practice).
#[test]
fn a_share_bounds_what_a_full_stick_asks_for_and_the_master_is_over_it() {
    let shared = ball("[0.0, 0.0, 1.0]", "x", 0.0).replace("speed = 1.0", "speed = 0.8\nshare = 0.4");
    let mut hall = hall_of(&[("cart", shared)], "");
    hall.take("cart");
    let mut fastest: f64 = 0.0;
    for _ in 0..100 {
        hall.hold_stick("cart.way", 1.0, 0.02);
        fastest = fastest.max(speed(&mut hall, "cart.way"));
    }
    assert!((fastest - 0.32).abs() < 1e-9, "{fastest}");
    hall.hold_stick("cart.way", 0.5, 1.0);
    assert!((speed(&mut hall, "cart.way") - 0.16).abs() < 1e-9, "half a stick");
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    hall.hold_stick("cart.way", 1.0, 1.0);
    assert!((speed(&mut hall, "cart.way") - 0.16).abs() < 1e-9, "half a master");
    hall.hold_stick("cart.way", -0.5, 2.0);
    assert!((speed(&mut hall, "cart.way") + 0.08).abs() < 1e-9, "half of both");
}

#[test]
fn nothing_but_a_fresh_number_from_the_one_named_source_moves_anything() {
    let mut hall = hall("", "");
    let rig = hall.rig("east");
    hall.ask(Verb::Hand { rig, sticks: Some(OTHER), shape: SHAPE }).unwrap();
    hall.push(OTHER, "east.travel", 0.0);
    hall.tick(&[]);
    hall.hold_stick("east.travel", 1.0, 0.5);
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1.0001, -2.0, f64::MAX] {
        hall.push(OTHER, "east.travel", value);
        hall.turn_dial(OTHER, "east.travel", value);
        hall.run(0.05);
    }
    assert_eq!(hall.setpoint("east.travel"), 0.0);
    let axis = hall.axis("east.travel");
    let ignored = |client, why| HandEvent::Ignored { axis, client, why };
    let told: Vec<HandEvent> = told(&hall).into_iter().skip(1).collect();
    assert_eq!(told, [ignored(CALLER, NoStick::NotInHand), ignored(OTHER, NoStick::NoSuchValue)], "each once");

    // Silence for more than 150 ms is zero, and what comes then counts only after it has been at zero.
    for _ in 0..8 {
        hall.push(OTHER, "east.travel", 0.5);
        hall.run(0.14);
    }
    assert!((speed(&mut hall, "east.travel") - 0.5).abs() < 1e-9, "told in time");
    // 0.16 s after its last word it brakes.
    hall.run(0.02);
    let slower = speed(&mut hall, "east.travel");
    let slowest = speed(&mut hall, "east.travel");
    assert!(slowest < slower && slower < 0.5, "{slower}, then {slowest}: it brakes as soon as 150 ms have gone");
    hall.run(1.5);
    let stands = hall.setpoint("east.travel");
    assert_eq!(speed(&mut hall, "east.travel"), 0.0);
    for _ in 0..10 {
        hall.push(OTHER, "east.travel", 0.5);
        hall.run(0.05);
    }
    assert_eq!(hall.setpoint("east.travel"), stands, "a stream that stalled and goes on starts nothing");
    hall.push(OTHER, "east.travel", 0.0);
    hall.tick(&[]);
    hall.push(OTHER, "east.travel", 0.5);
    hall.run(0.1);
    assert!(hall.setpoint("east.travel") > stands);
}

#[test]
fn of_a_burst_the_newest_counts() {
    let mut hall = hall("", "");
    hall.take("east");
    let small = [1.0, 0.7, -0.9, 0.1];
    // More than one tick takes in, of one axis: only the last is left of them.
    let large: Vec<f64> = (0..500).map(|step| f64::from(step % 7) / 7.0).chain([-0.3]).collect();
    for burst in [&small[..], &large] {
        // A stream that stalls and bursts, again and again.
        for _ in 0..30 {
            burst.iter().for_each(|&value| hall.push(CALLER, "east.travel", value));
            hall.run(0.05);
        }
        let newest = burst[burst.len() - 1];
        let now = speed(&mut hall, "east.travel");
        assert!((now - newest).abs() < 1e-9, "{now} where the newest of {} says {newest}", burst.len());
    }
}

#[test]
fn a_stick_that_is_pushed_when_its_rig_is_taken_or_the_show_armed_or_reset_starts_nothing() {
    let mut hall = hall("", "");
    assert_eq!(hall.ask(take(&hall, "east")), Ok(Accepted::Done));
    hall.hold_stick("east.travel", 1.0, 0.5);
    assert_eq!(hall.setpoint("east.travel"), 0.0, "pushed when taken");
    hall.hold_stick("east.travel", 0.0, 0.1);
    hall.hold_stick("east.travel", 0.8, 1.0);
    assert!(speed(&mut hall, "east.travel") > 0.0);
    hall.press_stop();
    hall.hold_stick("east.travel", 0.8, 2.0);
    let stands = hall.setpoint("east.travel");
    hall.ask(Verb::Reset).unwrap();
    hall.hold_stick("east.travel", 0.8, 1.0);
    assert_eq!(hall.setpoint("east.travel"), stands, "pushed over a stop and its reset");
    assert_eq!(owner(&hall, "east"), Owner::Client(CALLER), "it stays in hand");
    hall.hold_stick("east.travel", 0.0, 0.1);
    hall.hold_stick("east.travel", -0.8, 1.0);
    assert!(speed(&mut hall, "east.travel") < 0.0);

    hall.ask(Verb::Disarm).unwrap();
    hall.hold_stick("east.travel", -0.8, 2.0);
    assert_eq!(owner(&hall, "east"), Owner::Nobody, "disarmed, it is given back");
    assert_eq!(hall.ask(take(&hall, "east")), Ok(Accepted::Done), "and may be taken again");
    hall.hold_stick("east.travel", 0.0, 0.2);
    let stands = hall.setpoint("east.travel");
    hall.hold_stick("east.travel", -0.8, 0.5);
    assert_eq!(hall.setpoint("east.travel"), stands, "but not moved");
    hall.ask(Verb::Arm).unwrap();
    let stands = hall.setpoint("east.travel");
    hall.hold_stick("east.travel", -0.8, 0.5);
    assert_eq!(hall.setpoint("east.travel"), stands, "pushed when armed");
}

#[test]
fn a_stop_brakes_what_is_in_hand_within_the_bound_that_is_shown() {
    for pushed in [0.3, 0.55, 0.7, 1.0] {
        let mut hall = hall("", "");
        hall.take("east");
        // While it speeds up as well as at speed.
        hall.hold_stick("east.travel", 1.0, pushed);
        let tick = hall.show.settings.tick.seconds();
        // The bound that is shown is some ticks old: until then it may have become a little faster.
        let bound = hall.status.stop_bound + 0.1;
        assert!(hall.status.stop_bound > 0.0);
        let begun = hall.setpoint("east.travel");
        hall.press_stop();
        let mut took = tick;
        while hall.setpoints_move() {
            took += tick;
        }
        assert!(took <= bound, "{took} > {bound}");
        // Stopping limits: 1.5 m/s² and 16 m/s³.
        assert!(hall.setpoint("east.travel") - begun < 0.75, "{}", hall.setpoint("east.travel") - begun);
        hall.run_to_standstill();
    }
}

#[test]
fn a_dial_takes_its_axis_along_once_it_has_passed_where_that_stands() {
    let mut hall = hall("", "");
    hall.take("east");
    // The cart stands in the middle of its travel.
    for value in [0.9, 0.8, 0.6] {
        hall.turn_dial(CALLER, "east.travel", value);
        hall.run(0.2);
        assert_eq!(hall.setpoint("east.travel"), 0.0, "not picked up at {value}");
    }
    hall.turn_dial(CALLER, "east.travel", 0.45);
    hall.run(2.0);
    assert!((hall.setpoint("east.travel") + 0.3).abs() < 1e-6, "{}", hall.setpoint("east.travel"));
    hall.turn_dial(CALLER, "east.travel", 1.0);
    hall.run(8.0);
    assert!((hall.setpoint("east.travel") - 3.0).abs() < 1e-6);
    // A stop leaves the dial to be picked up anew.
    hall.turn_dial(CALLER, "east.travel", 0.0);
    hall.run(1.0);
    hall.press_stop();
    hall.run_to_standstill();
    hall.run(0.2);
    hall.ask(Verb::Reset).unwrap();
    let stands = hall.setpoint("east.travel");
    hall.run(0.5);
    hall.turn_dial(CALLER, "east.travel", 0.01);
    hall.run(0.5);
    assert_eq!(hall.setpoint("east.travel"), stands);
    hall.turn_dial(CALLER, "east.travel", 1.0);
    hall.run(3.0);
    assert!(hall.setpoint("east.travel") > stands);
}

#[test]
fn a_dead_band_asks_for_nothing_and_counts_as_zero() {
    let mut hall = hall("", "");
    let rig = hall.rig("east");
    let shape = StickShape { dead_band: 0.1, taper: 0.5 };
    hall.ask(Verb::Hand { rig, sticks: None, shape }).unwrap();
    hall.hold_stick("east.travel", 0.09, 0.5);
    assert_eq!(hall.setpoint("east.travel"), 0.0);
    hall.hold_stick("east.travel", 0.11, 0.5);
    assert!(hall.setpoint("east.travel") > 0.0, "the dead-band was its zero");
    for shape in [StickShape { dead_band: 1.0, taper: 0.0 }, StickShape { dead_band: 0.0, taper: f64::NAN }] {
        assert_eq!(reasons(hall.ask(Verb::Hand { rig, sticks: None, shape })), [Reason::StickShape]);
    }
}

const DOWN: &str = r#"
[[input]]
name = "way clear"
max_age = 0.5
[[interlock]]
name = "west of the door"
guards = ["east.travel"]
direction = "down"
needs = { input = "way clear" }
otherwise = "OTHERWISE"
"#;

#[test]
fn an_interlock_brakes_the_way_that_it_guards_and_never_sets_going() {
    for otherwise in ["refuse", "hold"] {
        let mut hall = hall(&DOWN.replace("OTHERWISE", otherwise), "");
        hall.take("east");
        hall.hold_stick("east.travel", -0.5, 0.5);
        assert_eq!(hall.setpoint("east.travel"), 0.0, "{otherwise}: the input was never seen");
        hall.hold_stick("east.travel", 0.5, 1.0);
        assert!(speed(&mut hall, "east.travel") > 0.0, "{otherwise}: the other way is free");
        hall.let_sensors_speak();
        hall.hold_stick("east.travel", 0.0, 0.5);
        hall.hold_stick("east.travel", -0.5, 1.0);
        assert!(speed(&mut hall, "east.travel") < 0.0);
        hall.sensors[0].1 = false;
        hall.hold_stick("east.travel", -0.5, 1.5);
        assert_eq!(speed(&mut hall, "east.travel"), 0.0);
        let stands = hall.setpoint("east.travel");
        hall.sensors[0].1 = true;
        hall.hold_stick("east.travel", -0.5, 1.0);
        assert_eq!(hall.setpoint("east.travel"), stands, "{otherwise}: true again, and it stands");
        hall.hold_stick("east.travel", 0.0, 0.1);
        hall.hold_stick("east.travel", -0.5, 0.5);
        assert!(hall.setpoint("east.travel") < stands);
        assert!(hall.status.stopped.is_none());
    }
}

#[test]
fn an_interlock_that_stops_stops_everything_once_the_axis_moves_as_it_guards() {
    let mut hall = hall(&DOWN.replace("OTHERWISE", "stop"), "");
    hall.let_sensors_speak();
    hall.run(0.2);
    hall.take("east");
    hall.hold_stick("east.travel", -0.5, 1.0);
    hall.sensors[0].1 = false;
    hall.hold_stick("east.travel", -0.5, 0.3);
    let stopped = hall.status.stopped.as_ref().expect("stopped");
    assert!(matches!(stopped.by, Cause::Interlock(_)));
    hall.run_to_standstill();
}

#[test]
fn a_late_loop_brakes_what_is_in_hand_and_a_bare_hold_does_not() {
    let mut hall = hall("", &cue("1", &west(2.0, 8.0)));
    hall.take("east");
    hall.fire("1");
    hall.hold_stick("east.travel", 0.3, 1.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.hold_stick("east.travel", 0.3, 0.5);
    assert!((speed(&mut hall, "east.travel") - 0.3).abs() < 1e-9, "a bare hold is of cues");
    hall.late = Nanos::from_millis(120);
    hall.hold_stick("east.travel", 0.3, 1.0);
    assert_eq!(speed(&mut hall, "east.travel"), 0.0);
    hall.late = Nanos::ZERO;
    hall.hold_stick("east.travel", 0.3, 0.5);
    assert_eq!(speed(&mut hall, "east.travel"), 0.0, "on time again, and it stands");
}

#[test]
fn a_stopped_cue_gives_its_place_up_when_its_rig_is_moved_by_hand() {
    let mut hall = hall("", &cue("1", &east(2.0, 4.0)));
    hall.fire("1");
    hall.run(1.5);
    hall.press_stop();
    hall.run_to_standstill();
    hall.run(0.2);
    hall.ask(Verb::Reset).unwrap();
    hall.take("east");
    assert_eq!(hall.state("1"), CueState::Stopped, "taken, not moved");
    hall.hold_stick("east.travel", -0.2, 0.5);
    assert_eq!(hall.state("1"), CueState::Idle);
}

#[test]
fn an_edit_waits_until_every_rig_is_given_back() {
    let mut hall = hall("", "");
    let edited = hall::carts::show("", "");
    hall.take("east");
    let busy = Reason::RigInHand { rig: hall.rig("east"), client: CALLER };
    assert_eq!(hall.replace(edited.clone()).expect_err("in hand").reasons.as_slice(), [busy]);
    hall.ask(give_back(&hall, "east")).unwrap();
    hall.run(0.1);
    assert_eq!(hall.replace(edited), Ok(2));
}

/// A rig of one axis along which a ball of 0.3 m radius slides.
fn ball(at: &str, along: &str, start: f64) -> String {
    format!(
        "kind = \"ball\"\nat = {at}\n[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [0.0, 6.0]\nstart = {start:?}\n\
         speed = 1.0\nacceleration = 1.0\njerk = 4.0\ntolerance = 0.01\n\
         joint = {{ slide = \"{along}\", at = [0.0, 0.0, 0.0] }}\n\
         bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n"
    )
}

/// A crane of two joints with an arm of 3 m.
const CRANE: &str = r#"
kind = "crane"
at = [0.0, 0.0, 1.0]
[[axis]]
name = "swing"
unit = "deg"
travel = [-120.0, 120.0]
start = 0.0
speed = 20.0
acceleration = 20.0
jerk = 60.0
joint = { turn = "z", at = [0.0, 0.0, 0.0] }
[[axis]]
name = "boom"
unit = "deg"
travel = [-30.0, 60.0]
start = 20.0
speed = 15.0
acceleration = 15.0
jerk = 60.0
joint = { turn = [0.0, -1.0, 0.0], at = [0.0, 0.0, 0.0] }
bodies = [{ capsule = { from = [0.0, 0.0, 0.0], to = [3.0, 0.0, 0.0], radius = 0.1 } }]
[[axis]]
name = "zoom"
unit = "percent"
travel = [0.0, 100.0]
start = 0.0
speed = 50.0
acceleration = 200.0
jerk = 1000.0
"#;

fn hall_of(rigs: &[(&str, String)], more: &str) -> Hall {
    hall_with(rigs, more, "")
}

fn hall_with(rigs: &[(&str, String)], more: &str, cues: &str) -> Hall {
    let head = format!("[show]\nname = \"Near\"\nmargin = 0.2\nreact = 0.1\nguard = 0.2\n{more}");
    let mut files = vec![("show.toml".to_owned(), head), ("cues/all.toml".to_owned(), cues.to_owned())];
    files.extend(rigs.iter().map(|(name, text)| (format!("rigs/{name}.toml"), text.clone())));
    let files: Vec<(&str, &str)> = files.iter().map(|(path, text)| (path.as_str(), text.as_str())).collect();
    let mut hall = Hall::open(hall::show_of(&files));
    hall.arm();
    hall
}

/// Holds sticks where they are, and has every setpoint judged by independent geometry.
fn hold(hall: &mut Hall, stage: &Stage, sticks: &[(ClientId, &str, f64)], seconds: f64) {
    let ticks = (seconds / hall.show.settings.tick.seconds()).round() as u64;
    for tick in 0..ticks {
        if tick.is_multiple_of(20) {
            sticks.iter().for_each(|&(client, axis, value)| hall.push(client, axis, value));
        }
        hall.tick(&[]);
        if tick.is_multiple_of(4) || tick + 1 == ticks {
            let pose: Vec<f64> = hall.status.axes.iter().map(|axis| axis.setpoint).collect();
            assert_eq!(apart::too_near(&hall.show, stage, &pose), None, "tick {tick}");
        }
    }
}

fn near(hall: &Hall, rig: &str) -> Option<[String; 2]> {
    let near = hall.status.rigs[hall.rig(rig).index()].hand.unwrap().near?;
    Some(near.parties.map(|party| party.name(&hall.show)))
}

#[test]
fn at_full_stick_a_rig_comes_to_rest_a_hair_before_the_margin_and_leads_away_at_once() {
    let mut hall =
        hall_of(&[("boom", ball("[0.0, 0.0, 1.0]", "x", 0.0)), ("post", ball("[4.0, 0.0, 1.0]", "z", 0.0))], "");
    let stage = Stage::new(&hall.show);
    hall.take("boom");
    // Between the two balls 4 m less both radii, the margin, and what the post may be off its place across the way: nothing.
    let most = 4.0 - 0.6 - 0.2;
    let mut fastest: f64 = 0.0;
    for _ in 0..80 {
        hold(&mut hall, &stage, &[(CALLER, "boom.way", 1.0)], 0.1);
        let now = speed(&mut hall, "boom.way");
        assert!(now >= -1e-9, "it does not turn back: {now}");
        fastest = fastest.max(now);
    }
    assert!((fastest - 1.0).abs() < 1e-9, "until then nothing is felt: {fastest}");
    let short = most - hall.setpoint("boom.way");
    assert!((0.0..0.015).contains(&short), "{short} m short of it");
    assert_eq!(near(&hall, "boom"), Some(["boom/way/0".into(), "post/way/0".into()]));
    let stands = hall.setpoint("boom.way");
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 1.0)], 1.0);
    assert_eq!(hall.setpoint("boom.way"), stands, "it stands and does not tremble");
    hold(&mut hall, &stage, &[(CALLER, "boom.way", -1.0)], 1.0);
    assert!(hall.setpoint("boom.way") < stands - 0.3);
    assert_eq!(near(&hall, "boom"), None);
    let tells = told(&hall).into_iter().filter(|told| matches!(told, HandEvent::Stopped { .. })).count();
    assert_eq!(tells, 1);
}

#[test]
fn a_crane_slides_along_what_it_may_not_touch_axis_by_axis() {
    let zone =
        "[[zone]]\nname = \"balcony\"\nkeep = \"out\"\nbox = { min = [-3.0, 1.5, 0.0], max = [4.0, 3.0, 1.6] }\n";
    let mut hall = hall_of(&[("crane", CRANE.to_owned())], zone);
    let stage = Stage::new(&hall.show);
    hall.take("crane");
    // Level with the balcony it swings towards it, and stops before it.
    hold(&mut hall, &stage, &[(CALLER, "crane.boom", -1.0)], 1.2);
    hold(&mut hall, &stage, &[(CALLER, "crane.swing", 0.6), (CALLER, "crane.boom", 0.0)], 6.0);
    assert_eq!(near(&hall, "crane"), Some(["crane/boom/0".into(), "zone/balcony".into()]));
    let at = hall.setpoint("crane.swing");
    assert!((10.0..40.0).contains(&at), "{at}");
    // The boom goes up by itself while the swing is still pushed; once high enough, the swing goes on, after it was let go of.
    hold(
        &mut hall,
        &stage,
        &[(CALLER, "crane.swing", 0.6), (CALLER, "crane.boom", 1.0), (CALLER, "crane.zoom", 1.0)],
        3.5,
    );
    assert!(hall.setpoint("crane.boom") > 35.0, "{}", hall.setpoint("crane.boom"));
    assert!((hall.setpoint("crane.zoom") - 100.0).abs() < 1e-6, "a lens is in nobody's way");
    assert_eq!(hall.setpoint("crane.swing"), at);
    hold(&mut hall, &stage, &[(CALLER, "crane.swing", 0.0), (CALLER, "crane.boom", 0.0)], 0.2);
    hold(&mut hall, &stage, &[(CALLER, "crane.swing", 0.6)], 4.0);
    assert!(hall.setpoint("crane.swing") > at + 20.0);
    // And down onto it.
    hold(&mut hall, &stage, &[(CALLER, "crane.swing", 0.0), (CALLER, "crane.boom", -1.0)], 6.0);
    let poses = (hall.setpoint("crane.swing"), hall.setpoint("crane.boom"), at);
    assert!(hall.setpoint("crane.boom") > 0.0, "{poses:?}");
}

#[test]
fn two_in_hand_stay_clear_of_each_other_whatever_both_do() {
    let mut hall = hall_of(
        &[
            ("boom", ball("[0.0, 0.0, 1.0]", "x", 0.0)),
            ("lamp", ball("[6.0, 0.0, 1.0]", "x", 0.0).replace("[0.0, 6.0]", "[-6.0, 0.0]")),
        ],
        "",
    );
    let stage = Stage::new(&hall.show);
    hall.take("boom");
    hall.ask_as(OTHER, take(&hall, "lamp")).unwrap();
    hall.push(OTHER, "lamp.way", 0.0);
    hall.tick(&[]);
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 1.0), (OTHER, "lamp.way", -0.7)], 8.0);
    let between = 6.0 + hall.setpoint("lamp.way") - hall.setpoint("boom.way") - 0.6;
    assert!((0.2..0.25).contains(&between), "{between}");
    // One is pushed on, the other gives way, and the first may follow.
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 0.0), (OTHER, "lamp.way", 0.5)], 0.5);
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 1.0), (OTHER, "lamp.way", 0.3)], 4.0);
    let between = 6.0 + hall.setpoint("lamp.way") - hall.setpoint("boom.way") - 0.6;
    assert!((0.2..1.0).contains(&between), "{between}");
}

/// A boom in hand at the height to which a lamp comes down in cue 1, and goes up again in cue 2.
fn boom_and_lamp() -> Hall {
    let lamp = |number: &str, to: f64, time: f64| {
        cue(number, &format!("move = [{{ rig = \"lamp\", to = {{ way = {to:?} }}, time = {time:?} }}]"))
    };
    let mut hall = hall_with(
        &[("boom", ball("[0.0, 0.0, 1.0]", "x", 0.0)), ("lamp", ball("[4.0, 0.0, 0.0]", "z", 4.0))],
        "",
        &(lamp("1", 1.0, 8.0) + &lamp("2", 4.0, 8.0)),
    );
    hall.take("boom");
    hall
}

#[test]
fn beside_a_running_cue_a_rig_in_hand_keeps_out_of_what_is_left_of_its_way() {
    let mut hall = boom_and_lamp();
    let stage = Stage::new(&hall.show);
    let cue = hall.cue("1");
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 0.3)], 1.5);
    // It moves, and the cue is clear of where it may come to rest.
    let standby = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false });
    assert!(matches!(standby, Ok(Accepted::Standby { ready: true, .. })), "{standby:?}");
    hall.push(CALLER, "boom.way", 0.3);
    assert_eq!(hall.go("1"), Ok(Accepted::Done));
    // The lamp hangs high above still, but this is where it will come.
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 1.0)], 5.5);
    let at = hall.setpoint("boom.way");
    assert!((3.1..3.2).contains(&at), "{at}");
    assert_eq!(near(&hall, "boom"), Some(["boom/way/0".into(), "lamp/way/0".into()]));
    hall.run_until("1", CueState::Done, 4.0);
    // On its way up it leaves the room below it free, as soon as it has passed.
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 0.0)], 0.3);
    hold(&mut hall, &stage, &[(CALLER, "boom.way", -0.2)], 0.5);
    let cue = hall.cue("2");
    hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false }).unwrap();
    hall.push(CALLER, "boom.way", -0.2);
    assert_eq!(hall.go("2"), Ok(Accepted::Done));
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 0.0)], 0.3);
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 0.4)], 0.8);
    assert!(hall.setpoint("boom.way") < 3.25, "the lamp is too low yet: {}", hall.setpoint("boom.way"));
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 0.0)], 3.5);
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 1.0)], 3.0);
    assert!(hall.setpoint("boom.way") > 4.5, "{}", hall.setpoint("boom.way"));
}

#[test]
fn a_cue_is_not_fired_onto_what_moves_in_hand() {
    let mut hall = boom_and_lamp();
    let stage = Stage::new(&hall.show);
    let cue = hall.cue("1");
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 1.0)], 3.6);
    hold(&mut hall, &stage, &[(CALLER, "boom.way", 0.1)], 1.5);
    let at = hall.setpoint("boom.way");
    assert!((3.0..5.0).contains(&at), "below the lamp: {at}");
    let standby = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false });
    let Ok(Accepted::Standby { reasons, .. }) = standby else { panic!("{standby:?}") };
    let [Reason::NearHand { client: CALLER, near }] = reasons.reasons[..] else { panic!("{reasons:?}") };
    assert_eq!(near.parties.map(|party| party.name(&hall.show)), ["boom/way/0", "lamp/way/0"]);
    assert_eq!(reasons_of_go(&mut hall, "1").len(), 1);
    // It does not drop, and is ready once the boom has gone on.
    hold(&mut hall, &stage, &[(CALLER, "boom.way", -1.0)], 2.5);
    assert!(hall.status.standby[0].ready, "{:?}", hall.status.standby[0].reasons);
}

fn reasons_of_go(hall: &mut Hall, number: &str) -> Vec<Reason> {
    reasons(hall.go(number))
}

/// With a glide of 2 s, from rest to full speed takes so long, and let go of, so long to rest again; the room keeps up. The axis's
/// own times the show's factor is what is felt.
#[test]
fn a_glide_is_felt_among_bodies_too() {
    for (own, factor) in [(2.0, ""), (1.0, "glide = 2.0\n"), (4.0, "glide = 0.5\n")] {
        let glide = format!("[[axis]]\nglide = {own:?}\n");
        let soft = ball("[0.0, 0.0, 1.0]", "x", 0.0).replace("[[axis]]\n", &glide);
        let mut hall = hall_of(&[("east", soft)], factor);
        hall.take("east");
        let full = hall.show.axis(hall.axis("east.way")).run.speed;
        hall.hold_stick("east.way", 1.0, 1.9);
        let before = speed(&mut hall, "east.way");
        hall.hold_stick("east.way", 1.0, 0.3);
        let at_full = speed(&mut hall, "east.way");
        assert!(
            before < full && at_full >= full * (1.0 - 1e-9),
            "{own} {factor}: {before} and {at_full} of {full}"
        );
        hall.hold_stick("east.way", 0.0, 1.0);
        let half = speed(&mut hall, "east.way");
        assert!(
            (half - full / 2.0).abs() < 0.02 * full,
            "{own} {factor}: {half} of {full} after half of the glide"
        );
        hall.hold_stick("east.way", 0.0, 1.1);
        assert_eq!(speed(&mut hall, "east.way"), 0.0, "{own} {factor}");
    }
}
