//! Interlocks on poses and rigs in hand: a hand stops before it would make one untrue, and leads out of where one is not true.

use std::sync::LazyLock;

use crate::hall::carts::{self, cue, east};
use crate::hall::{CALLER, Hall, OTHER, folder, read};
use bellwire::engine::*;
use bellwire::proof::{self, Proof};
use bellwire::show::{InputId, Show};
use bellwire::wire::words::Words;

static SALT_LANTERN: LazyLock<(Show, Proof)> = LazyLock::new(|| {
    let show = read(&folder("demo-show"));
    let proof = proof::prove(&show);
    (show, proof)
});

/// m: beyond these the wagon needs no deck under it.
const FIRM: f64 = 3.3;

/// The demo show with some axes elsewhere than at its start.
fn demo(elsewhere: &[(&str, f64)]) -> Hall {
    let (show, proof) = &*SALT_LANTERN;
    let mut pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
    for &(name, at) in elsewhere {
        let (rig, axis) = name.split_once('.').unwrap();
        let rig = show.rigs.iter().find(|other| other.name == rig).unwrap();
        let axis = rig.axis_ids().find(|&id| show.axis(id).name == axis).unwrap();
        pose[axis.index()] = at;
    }
    Hall::standing_in(show.clone(), proof.clone(), pose)
}

/// The demo show where the list has it before a cue.
fn before(number: &str) -> Hall {
    let (show, proof) = &*SALT_LANTERN;
    let cue = show.find_cue(&number.parse().unwrap()).unwrap();
    let mut hall = Hall::standing_in(show.clone(), proof.clone(), proof.plan.cue(cue).start.clone());
    assert_eq!(hall.ask(Verb::Place { cue }), Ok(Accepted::Done));
    hall
}

fn take_as(hall: &mut Hall, client: ClientId, rig: &str) {
    let shape = StickShape { dead_band: 0.0, taper: 0.0 };
    let verb = Verb::Hand { rig: hall.rig(rig), sticks: None, shape };
    assert_eq!(hall.ask_as(client, verb), Ok(Accepted::Done));
    let axes: Vec<String> =
        hall.show.rig(hall.rig(rig)).axis_ids().map(|id| hall.show.axis(id).name.clone()).collect();
    for axis in axes {
        hall.push(client, &format!("{rig}.{axis}"), 0.0);
        hall.tick(&[]);
    }
}

/// Sticks held for so long, and what must be so after each tick.
fn hold(hall: &mut Hall, sticks: &[(ClientId, &str, f64)], seconds: f64, mut see: impl FnMut(&Hall)) {
    let ticks = (seconds / hall.show.settings.tick.seconds()).round() as u64;
    for tick in 0..ticks {
        if tick.is_multiple_of(20) {
            sticks.iter().for_each(|&(client, axis, value)| hall.push(client, axis, value));
        }
        hall.tick(&[]);
        see(hall);
    }
}

fn goes_on(hall: &Hall) {
    assert!(hall.status.stopped.is_none(), "{:?}", hall.status.stopped);
}

fn measured(hall: &Hall, axis: &str) -> f64 {
    hall.status.axes[hall.axis(axis).index()].position.unwrap()
}

fn speed(hall: &mut Hall, axis: &str) -> f64 {
    let before = hall.setpoint(axis);
    hall.tick(&[]);
    (hall.setpoint(axis) - before) / hall.show.settings.tick.seconds()
}

fn barred(hall: &Hall, rig: &str) -> Option<String> {
    let barred = hall.status.rigs[hall.rig(rig).index()].hand?.barred?;
    Some(hall.show.interlocks[barred.index()].name.clone())
}

fn told_barred(hall: &Hall) -> usize {
    hall.events.iter().filter(|event| matches!(event.kind, EventKind::Hand(HandEvent::Barred { .. }))).count()
}

fn words(hall: &Hall, refusal: &Refusal) -> Vec<String> {
    let clients = |client: ClientId| format!("client {}", client.0);
    Words::new(&hall.show, &clients).seeing(&hall.status).refusal(refusal)
}

/// Its way down is guarded while the wagon stands over it; coming to rest on its way up, rounding leaves it some speed, of either sign.
#[test]
fn a_lift_that_comes_to_rest_on_its_way_up_under_the_wagon_stops_nothing() {
    let mut hall = demo(&[("tide.height", -1.2), ("skiff.travel", -1.6)]);
    take_as(&mut hall, CALLER, "tide");
    let lowest = hall.setpoint("tide.height");
    let mut rests = 0;
    for pulse in 0..120 {
        let stick = 0.03 + 0.11 * f64::from(pulse % 9);
        hold(&mut hall, &[(CALLER, "tide.height", stick)], 0.1 + 0.02 * f64::from(pulse % 7), goes_on);
        hold(&mut hall, &[(CALLER, "tide.height", 0.0)], 1.5, goes_on);
        rests += u32::from(speed(&mut hall, "tide.height") == 0.0);
    }
    assert_eq!(rests, 120);
    assert!(hall.setpoint("tide.height") > lowest + 0.1, "{}", hall.setpoint("tide.height"));
}

#[test]
fn a_wagon_in_hand_stops_before_the_open_hatch_at_every_speed_and_from_both_sides() {
    for stick in [1.0, 0.6, 0.2, 0.05] {
        for side in [-1.0, 1.0] {
            let stands = side * 5.0;
            let mut hall = demo(&[("tide.height", -1.2), ("skiff.travel", stands)]);
            take_as(&mut hall, CALLER, "skiff");
            take_as(&mut hall, OTHER, "minnow");
            let sticks = [(CALLER, "skiff.travel", -side * stick), (OTHER, "minnow.pan", 0.1)];
            let (mut fastest, mut last) = (0.0_f64, hall.setpoint("skiff.travel"));
            let seconds = 12.0 + 1.7 / (0.4 * stick);
            hold(&mut hall, &sticks, seconds, |hall| {
                goes_on(hall);
                let at = hall.setpoint("skiff.travel");
                assert!((at - last) * side <= 1e-12, "it does not turn back");
                (fastest, last) = (fastest.max((at - last).abs() / 0.002), at);
                assert!(measured(hall, "skiff.travel") * side > FIRM, "stick {stick}: {at}");
            });
            assert!((fastest - 0.4 * stick).abs() < 1e-6, "until then nothing is felt: {fastest}");
            let tolerance = hall.show.axis(hall.axis("skiff.travel")).tolerance;
            let short = hall.setpoint("skiff.travel") * side - FIRM;
            assert!((tolerance..tolerance + 1e-4).contains(&short), "stick {stick}: rests {short} m short of it");
            assert_eq!(barred(&hall, "skiff").as_deref(), Some("wagon on firm deck"));
            assert_eq!(told_barred(&hall), 1);
            assert!(hall.setpoint("minnow.pan") > 5.0, "what else is in hand is free");
            // It stands, though the stick is pushed on; back it goes at once.
            hold(&mut hall, &sticks[..1], 1.0, goes_on);
            assert_eq!(hall.setpoint("skiff.travel"), last);
            hold(&mut hall, &[(CALLER, "skiff.travel", side)], 2.0, goes_on);
            assert!(hall.setpoint("skiff.travel") * side > FIRM + 0.2);
            assert_eq!(barred(&hall, "skiff"), None);
        }
    }
}

#[test]
fn a_dial_is_let_go_of_where_an_interlock_ends_its_way() {
    let mut hall = demo(&[("tide.height", -1.2), ("skiff.travel", -6.0)]);
    take_as(&mut hall, CALLER, "skiff");
    let place = |at: f64| (at + 7.5) / 13.0;
    for value in [place(-6.0), place(0.0)] {
        hall.turn_dial(CALLER, "skiff.travel", value);
        hall.tick(&[]);
    }
    for _ in 0..8000 {
        hall.tick(&[]);
        goes_on(&hall);
        assert!(measured(&hall, "skiff.travel") < -FIRM);
    }
    let stands = hall.setpoint("skiff.travel");
    assert!(stands > -FIRM - 0.1 && barred(&hall, "skiff").is_some(), "{stands}");
    // The deck comes up under it: the dial has to be picked up anew.
    take_as(&mut hall, OTHER, "tide");
    hold(&mut hall, &[(OTHER, "tide.height", 1.0)], 14.0, goes_on);
    assert!(measured(&hall, "tide.height") > -0.005);
    hall.turn_dial(CALLER, "skiff.travel", place(0.5));
    hall.run(2.0);
    assert_eq!(hall.setpoint("skiff.travel"), stands);
}

/// Whatever two hands do at the same time, neither takes the deck from under the wagon, nor the wagon from its deck.
#[test]
fn of_two_in_hand_whoever_moves_first_has_the_room() {
    let (mut waited, mut passed) = (0, 0);
    for start in 0..12 {
        let mut hall = demo(&[("skiff.travel", -4.2)]);
        take_as(&mut hall, CALLER, "skiff");
        take_as(&mut hall, OTHER, "tide");
        let wagon = [(CALLER, "skiff.travel", 1.0)];
        let both = [wagon[0], (OTHER, "tide.height", -1.0)];
        hold(&mut hall, &wagon, 0.02 + 0.28 * f64::from(start), goes_on);
        hold(&mut hall, &both, 8.0, goes_on);
        let (wagon, lift) = (hall.setpoint("skiff.travel"), hall.setpoint("tide.height"));
        assert!(wagon < -FIRM || lift == 0.0, "wagon at {wagon}, lift at {lift}");
        waited += usize::from(wagon < -FIRM && barred(&hall, "skiff").is_some());
        passed += usize::from(wagon > -FIRM && barred(&hall, "tide").is_some());
    }
    assert!(waited >= 3 && passed >= 3, "the wagon waited {waited} times, and the lift {passed} times");
}

#[test]
fn beside_a_cue_a_hand_keeps_off_what_that_still_needs() {
    let mut hall = before("5");
    hall.fire("5");
    take_as(&mut hall, OTHER, "skiff");
    for _ in 0..18 {
        hold(&mut hall, &[(OTHER, "skiff.travel", 1.0)], 1.0, goes_on);
    }
    assert_eq!(hall.state("5"), bellwire::show::CueState::Done);
    assert!(measured(&hall, "skiff.travel") < -FIRM && hall.setpoint("skiff.travel") > -FIRM - 0.1);
    assert!(barred(&hall, "skiff").is_some());
}

#[test]
fn a_cue_does_not_go_while_a_hand_may_still_break_what_it_needs() {
    let (mut hand, mut dropped, mut went) = (0, 0, 0);
    for wait in 0..9 {
        let mut hall = before("5");
        assert_eq!(hall.standby("5"), []);
        take_as(&mut hall, OTHER, "skiff");
        hold(&mut hall, &[(OTHER, "skiff.travel", 1.0)], 8.4 + 0.35 * f64::from(wait), goes_on);
        let cue = hall.cue("5");
        match hall.ask(Verb::Go { cue: Some(cue) }) {
            Ok(_) => went += 1,
            Err(refusal) => {
                let of_hand = |reason: &Reason| matches!(reason, Reason::HandMoves { .. });
                let gone = |reason: &Reason| matches!(reason, Reason::NotOnStandby { .. });
                hand += usize::from(refusal.reasons.iter().any(of_hand));
                dropped += usize::from(refusal.reasons.iter().any(gone));
            }
        }
        hold(&mut hall, &[(OTHER, "skiff.travel", 1.0)], 6.0, goes_on);
    }
    assert!(went >= 2 && hand >= 2 && dropped >= 2, "went {went}, refused {hand}, dropped {dropped}");
}

#[test]
fn a_wagon_on_an_open_hatch_is_led_out_slowly_by_the_nearer_side_and_goes_no_deeper() {
    let mut hall = demo(&[("tide.height", -1.2), ("skiff.travel", -1.0)]);
    goes_on(&hall);
    take_as(&mut hall, CALLER, "skiff");
    let mut last = hall.setpoint("skiff.travel");
    hold(&mut hall, &[(CALLER, "skiff.travel", 1.0)], 3.0, |hall| {
        goes_on(hall);
        assert_eq!(hall.setpoint("skiff.travel"), last, "never deeper in");
    });
    assert_eq!(barred(&hall, "skiff").as_deref(), Some("wagon on firm deck"));
    hold(&mut hall, &[(CALLER, "skiff.travel", -1.0)], 65.0, |hall| {
        goes_on(hall);
        let at = hall.setpoint("skiff.travel");
        assert!(at <= last && last - at <= 0.04 * 0.002 * (1.0 + 1e-6), "slowly, and outwards: {last} to {at}");
        last = at;
    });
    assert!(measured(&hall, "skiff.travel") < -FIRM, "it is out: {last}");
    hold(&mut hall, &[(CALLER, "skiff.travel", 0.0)], 0.5, goes_on);
    hold(&mut hall, &[(CALLER, "skiff.travel", -1.0)], 3.0, goes_on);
    assert!((speed(&mut hall, "skiff.travel") + 0.4).abs() < 1e-6, "let go of once, it goes as usual");
}

#[test]
fn what_leads_out_is_told_where_a_cue_or_a_preset_is_refused() {
    let mut hall = demo(&[("tide.height", -2.4), ("skiff.travel", -1.0)]);
    let cue = hall.cue("14");
    assert_eq!(hall.ask(Verb::Place { cue }), Ok(Accepted::Done));
    hall.standby("14");
    hall.run(3.0);
    let standby = hall.status.standby[0].reasons.clone();
    let told = words(&hall, &standby).join("\n");
    let out =
        "the way out of interlock 'wagon on firm deck': take skiff in hand and push skiff.travel down to -3.3";
    assert!(told.contains(out) && told.contains("or take tide in hand and push tide.height up to"), "{told}");
    let refused = hall.ask(Verb::Preset { cue, held: false }).expect_err("no way");
    let told = words(&hall, &refused).join("\n");
    assert!(told.contains("no preset: skiff cannot go") && told.contains(out), "{told}");
}

/// Under an interlock that lets east stand in the middle only while an input says so.
fn middle(needs: &str, cues: &str) -> Hall {
    let settings = format!(
        "[[input]]\nname = \"deck\"\nmax_age = 0.5\n[[interlock]]\nname = \"deck\"\nguards = [\"east.travel\"]\n\
         needs = {needs}\notherwise = \"stop\"\n"
    );
    let mut hall = carts::hall(&settings, cues);
    hall.let_sensors_speak();
    hall.run(0.2);
    hall
}

const DECK: &str = "{ any = [{ input = \"deck\" }, { axis = \"east.travel\", below = -1.0 }, { axis = \"east.travel\", above = 1.0 }] }";

/// Stopped at 0.4 m or so under way in hand, since the deck is gone.
fn stopped_in_the_middle(needs: &str, cues: &str) -> Hall {
    let mut hall = middle(needs, cues);
    hall.take("east");
    hall.hold_stick("east.travel", 0.5, 1.0);
    hall.sensors[0].1 = false;
    hall.hold_stick("east.travel", 0.5, 0.2);
    let stopped = hall.status.stopped.as_ref().expect("stopped");
    assert!(matches!(stopped.by, Cause::Interlock(_)), "{stopped:?}");
    hall.run_to_standstill();
    hall
}

#[test]
fn a_stop_by_an_interlock_on_poses_is_reset_and_left_by_hand_alone() {
    let mut hall = stopped_in_the_middle(DECK, &cue("1", &east(2.0, 4.0)));
    let stands = hall.setpoint("east.travel");
    assert!((0.2..0.6).contains(&stands), "{stands}");
    let cause = hall.status.stopped.as_ref().unwrap().causes[0];
    assert!(cause.1, "the cause stands");
    assert_eq!(hall.status.ways_out.len(), 1, "{:?}", hall.status.ways_out);
    let WayOut { axis, to, .. } = hall.status.ways_out[0];
    assert_eq!((axis, to), (hall.axis("east.travel"), 1.02));
    // With the stick held through the reset.
    hall.hold_stick("east.travel", 1.0, 0.2);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.hold_stick("east.travel", 1.0, 1.0);
    assert_eq!(
        hall.setpoint("east.travel"),
        stands,
        "a reset moves nothing, nor does a stick that was held through it"
    );
    // No cue leads out of it.
    hall.standby("1");
    let refused = hall.refused(Verb::Go { cue: None });
    assert!(refused.iter().any(|reason| matches!(reason, Reason::Interlock { .. })), "{refused:?}");
    hall.hold_stick("east.travel", 0.0, 0.1);
    hall.hold_stick("east.travel", -1.0, 2.0);
    assert_eq!(hall.setpoint("east.travel"), stands, "deeper in it does not go");
    hall.hold_stick("east.travel", 0.0, 0.1);
    hall.hold_stick("east.travel", 1.0, 1.0);
    assert!((speed(&mut hall, "east.travel") - 0.1).abs() < 1e-6);
    // Turned round under way, it stands, and goes on outwards only.
    hall.hold_stick("east.travel", -1.0, 2.0);
    assert_eq!(speed(&mut hall, "east.travel"), 0.0);
    hall.hold_stick("east.travel", 0.0, 0.1);
    hall.hold_stick("east.travel", 1.0, 9.0);
    goes_on(&hall);
    assert!(measured(&hall, "east.travel") > 1.0);
    assert_eq!(hall.status.ways_out.len(), 0);
    // Back in it does not go.
    hall.hold_stick("east.travel", 0.0, 0.1);
    hall.hold_stick("east.travel", -1.0, 9.0);
    goes_on(&hall);
    assert!((hall.setpoint("east.travel") - 1.02).abs() < 1e-4, "{}", hall.setpoint("east.travel"));
}

#[test]
fn a_reset_waits_as_ever_for_what_no_hand_ends() {
    let needs = "{ all = [{ input = \"deck\" }, { axis = \"east.travel\", below = 2.0 }] }";
    let mut hall = stopped_in_the_middle(needs, "");
    assert_eq!(hall.status.ways_out.len(), 0);
    let reasons = hall.refused(Verb::Reset);
    assert!(matches!(reasons[..], [Reason::Cause(Cause::Interlock(_))]), "{reasons:?}");
    hall.sensors[0].1 = true;
    hall.run(0.2);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
}

#[test]
fn a_fast_axis_from_under_which_an_interlock_goes_is_stopped_whichever_way_it_goes() {
    for way in [-1.0, 1.0] {
        let mut hall = middle(DECK, "");
        hall.take("east");
        hall.hold_stick("east.travel", way, 1.1);
        hall.sensors = vec![(InputId::new(0), false)];
        hall.hold_stick("east.travel", way, 0.2);
        assert!(hall.status.stopped.is_some(), "way {way}");
    }
}

/// Two axes that only together make it true: each goes as far as it gains.
#[test]
fn each_axis_is_led_as_far_as_it_gains_by_itself() {
    let settings = "[[interlock]]\nname = \"both\"\nguards = [\"east.travel\", \"west.travel\"]\notherwise = \"stop\"\n\
                    needs = { all = [{ axis = \"east.travel\", above = 0.2 }, { axis = \"west.travel\", below = -0.2 }] }\n";
    let mut hall = carts::hall(settings, "");
    hall.take("east");
    hall.take("west");
    for axis in ["east.travel", "west.travel"] {
        let out = if axis == "east.travel" { 1.0 } else { -1.0 };
        hall.hold_stick(axis, -out, 0.5);
        assert_eq!(hall.setpoint(axis), 0.0);
        hall.hold_stick(axis, 0.0, 0.1);
        hall.hold_stick(axis, out, 5.0);
        goes_on(&hall);
        assert!(hall.setpoint(axis) * out > 0.2, "{axis} at {}", hall.setpoint(axis));
    }
    assert!(
        (hall.setpoint("east.travel") - 0.22).abs() < 1e-4,
        "alone it gains nothing beyond: {}",
        hall.setpoint("east.travel")
    );
    assert!(hall.status.interlocks[0].permits());
}
