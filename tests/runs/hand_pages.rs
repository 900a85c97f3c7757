//! What the pages of the cue book claim of hands: a rig driven beside a cue, and a take that a hand performs.

use crate::hall::{self, CALLER, Hall, folder};
use bellwire::engine::{EventKind, HandEvent, Reason, Verb};
use bellwire::proof::{Party, prove};
use bellwire::show::hand::{FocusTo, read_map_beside};
use bellwire::show::{Code, CueState, Nanos, Recorder, Severity, read};

fn open(page: &str) -> Hall {
    let mut hall = Hall::open(hall::read(&folder("cues").join(page)));
    hall.arm();
    hall
}

/// The wren's place along its rail where its camera has the margin beside the basket's rope, m: two balls of 0.3 m, 0.2 m apart.
const BEFORE_THE_ROPE: f64 = 2.0 - 0.3 - 0.3 - 0.2;

#[test]
fn a_rig_in_hand_stops_before_where_a_running_cue_is_going_to_be() {
    let mut hall = open("by-hand");
    let (wren, basket) = (hall.rig("wren"), hall.rig("basket"));
    hall.take("wren");
    hall.fire("1");
    hall.hold_stick("wren.travel", 0.0, 0.1);
    hall.hold_stick("wren.travel", 1.0, 5.0);
    let stopped = |event: &bellwire::engine::Event| match &event.kind {
        EventKind::Hand(HandEvent::Stopped { rig, near }) if *rig == wren => Some(near.parties[1]),
        _ => None,
    };
    let before = hall.events.iter().find_map(stopped);
    assert!(matches!(before, Some(Party::Body { rig, .. }) if rig == basket), "{before:?}");
    let rests = hall.setpoint("wren.travel");
    assert!((BEFORE_THE_ROPE - 0.03..=BEFORE_THE_ROPE).contains(&rests), "it rests at {rests}");
    assert!(hall.setpoint("basket.height") > 2.5, "the basket hangs high above it still");
    // It goes on pushing, and nothing comes of it.
    hall.hold_stick("wren.travel", 1.0, 2.0);
    assert_eq!(hall.setpoint("wren.travel"), rests);
    hall.run_until("1", CueState::Done, 12.0 - 7.1 + 0.05);
    assert!((hall.setpoint("basket.height") - 1.0).abs() < 1e-6, "the cue went on as if nobody were there");

    // Where it stands its tolerance is too much for the next cue, until it is driven back a little.
    let near = |reason: &Reason| matches!(reason, Reason::NearElsewhere { .. });
    assert!(hall.standby("2").iter().all(near) && !hall.standby("2").is_empty(), "{:?}", hall.standby("2"));
    hall.hold_stick("wren.travel", 0.0, 0.1);
    hall.hold_stick("wren.travel", -1.0, 1.0);
    hall.run(1.5);
    hall.fire("2");
    hall.run_until("2", CueState::Done, 9.05);
    hall.hold_stick("wren.travel", 0.0, 0.1);
    hall.hold_stick("wren.travel", 1.0, 6.0);
    assert!(hall.setpoint("wren.travel") > 3.0, "the way is clear");
}

#[test]
fn the_map_of_the_page_fits_its_show_and_is_what_the_page_says() {
    let page = folder("cues/by-hand");
    let show = hall::read(&page);
    let reading = read_map_beside(&page, Some(&show)).expect("it lies in the folder");
    assert!(reading.findings.is_empty(), "{:?}", reading.findings);
    let map = reading.map.unwrap();
    let layers: Vec<&str> = map.layers.iter().map(|layer| layer.name.as_deref().unwrap_or_default()).collect();
    assert_eq!(layers, ["carriage", "head"]);
    let drives: Vec<String> = map.drives.iter().map(|drive| format!("{}.{}", drive.rig, drive.axis)).collect();
    assert_eq!(drives, ["wren.travel", "wren.pan", "wren.tilt", "wren.focus"]);
    assert!(matches!(&map.focuses[..], [one] if one.rig == "wren" && one.on == FocusTo::Rig("basket".to_owned())));
}

#[test]
fn the_focus_of_a_rig_in_hand_keeps_on_the_basket() {
    let mut hall = open("by-hand");
    let (wren, basket) = (hall.rig("wren"), hall.rig("basket"));
    hall.take("wren");
    let on = bellwire::engine::FocusOn::Rig { rig: basket, axis: None, point: None };
    hall.ask(Verb::Focus { rig: wren, on: Some(on) }).unwrap();
    hall.fire("1");
    hall.run(2.0);
    let focus = |hall: &Hall| hall.status.rigs[wren.index()].hand.unwrap().focus.unwrap();
    // The lens is 1 m up, and 2 m before the rope.
    let distance = |hall: &Hall| (2.0_f64).hypot(hall.setpoint("basket.height") - 1.0);
    let far = hall.setpoint("wren.focus");
    assert!((focus(&hall).distance - distance(&hall)).abs() < 0.01, "{:?}", focus(&hall));
    hall.run(10.5);
    assert!((focus(&hall).distance - 2.0).abs() < 0.01, "{:?}", focus(&hall));
    assert!(hall.setpoint("wren.focus") < far - 5.0, "it came nearer");
}

/// The flight of `cues/perform/pad.txt`, in so many seconds of each: both sticks, sideways and away.
const FLIGHT: [(f64, f64, f64); 6] =
    [(0.4, 0.7, 0.0), (1.8, 0.7, 0.7), (1.4, 0.7, -0.5), (1.2, 0.7, 0.5), (0.8, 0.7, 0.0), (1.5, 0.0, 0.0)];

/// Flies it and records it as the daemon does, fifty times a second.
fn performed(hall: &mut Hall) -> String {
    let (show, kite) = (hall.show.clone(), hall.rig("kite"));
    let mut recorder = Recorder::default();
    recorder.prime(&show, &[kite]).unwrap();
    hall.take("kite");
    let mut lines = recorder.head("2026-11-26T20:00:00Z");
    let every = (0.02 / show.settings.tick.seconds()) as u64;
    hall.hold_stick("kite.traverse", 0.0, 0.1);
    hall.hold_stick("kite.height", 0.0, 0.1);
    for (seconds, sideways, away) in FLIGHT {
        for _ in 0..(seconds / 0.02) as u64 {
            hall.push(CALLER, "kite.traverse", sideways);
            hall.push(CALLER, "kite.height", away);
            (0..every).for_each(|_| _ = hall.tick(&[]));
            let pose: Vec<f64> = hall.status.axes.iter().map(|axis| axis.setpoint).collect();
            recorder.sample(Nanos::from_seconds(hall.status.tick as f64 * 0.02 / every as f64), &pose, &mut lines);
        }
    }
    recorder.record(false).unwrap();
    let rig = kite;
    hall.ask(Verb::GiveBack { rig }).unwrap();
    lines
}

#[test]
fn a_take_that_a_hand_performs_is_played_by_the_cue_as_it_was_flown() {
    let mut hall = open("perform");
    hall.fire("1");
    hall.run_until("1", CueState::Done, 6.05);
    let from = ["kite.traverse", "kite.height"].map(|axis| hall.setpoint(axis));
    let take = performed(&mut hall);
    let flown = ["kite.traverse", "kite.height"].map(|axis| hall.setpoint(axis));
    assert!(flown[0] > from[0] + 1.5 && flown[1] > from[1] + 0.3, "{flown:?}");

    let page = tempfile::tempdir().unwrap();
    for part in ["show.toml", "rigs/kite.toml", "cues/dunes.toml"] {
        std::fs::create_dir_all(page.path().join(part).parent().unwrap()).unwrap();
        std::fs::copy(folder("cues/perform").join(part), page.path().join(part)).unwrap();
    }
    std::fs::create_dir(page.path().join("takes")).unwrap();
    std::fs::write(page.path().join("takes/gust.csv"), &take).unwrap();
    // A hand at the limits may ask for a little more than they: the check tells how much slower it must go.
    let cues = page.path().join("cues/dunes.toml");
    let text = std::fs::read_to_string(&cues).unwrap();
    let findings = prove(&hall::read(page.path())).findings;
    let least = findings.iter().find(|finding| finding.code == Code::Take).and_then(|finding| finding.value);
    assert!(findings.iter().all(|finding| finding.code == Code::Take), "{findings:#?}");
    if let Some(least) = least {
        assert!((1.0..1.2).contains(&least), "{least}");
        let slower = text.replace("stretch = 1.02", &format!("stretch = {:.3}", least + 1e-3));
        assert_ne!(slower, text);
        std::fs::write(&cues, slower).unwrap();
    }
    let again = read(page.path());
    assert!(again.findings.iter().all(|finding| finding.severity == Severity::Note), "{:?}", again.findings);

    let mut played = Hall::open(again.show.unwrap());
    played.arm();
    played.fire("1");
    played.run_until("1", CueState::Done, 6.05);
    let duration = played.plan.cue(played.cue("2")).duration;
    played.fire("2");
    played.run_until("2", CueState::Done, duration + 0.05);
    for (axis, flown) in ["kite.traverse", "kite.height"].iter().zip(flown) {
        assert!(
            (played.setpoint(axis) - flown).abs() < 0.01,
            "{axis} ends at {}, not {flown}",
            played.setpoint(axis)
        );
    }
}

/// The take of the page is one that was performed, and plays from the mark where the hand began.
#[test]
fn the_take_of_the_page_is_played_as_it_was_kept_and_needs_its_start() {
    let mut hall = open("perform");
    assert!(
        hall.standby("2").iter().any(|reason| matches!(reason, Reason::StartPose { .. })),
        "it starts on the hill"
    );
    hall.fire("1");
    hall.run_until("1", CueState::Done, 6.05);
    hall.fire("2");
    let duration = hall.plan.cue(hall.cue("2")).duration;
    hall.run_until("2", CueState::Done, duration + 0.05);
    let take = &hall.show.cue(hall.cue("2")).moves[0].playing.as_ref().unwrap().take;
    for (axis, column) in ["kite.traverse", "kite.height"].iter().zip(&take.columns) {
        assert!((hall.setpoint(axis) - column.values.last().unwrap()).abs() < 0.01, "{axis}");
    }
}
