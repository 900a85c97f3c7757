//! Takes that are played back at once: planned from where the rigs stand, put on standby, fired by a GO; and everything that
//! must forbid it.

use std::f64::consts::PI;
use std::sync::Arc;

use crate::hall::{self, Hall, read};
use bellwire::engine::*;
use bellwire::journal::replay;
use bellwire::proof::{Playable, Playback, Unplayable, plan_playback};
use bellwire::show::{self, CueState, Place, cast, read_take};

const SHOW: &str = "[show]\nname = \"Played back\"\nmargin = 0.3\nreact = 0.1\nguard = 0.1\n\
                    [[input]]\nname = \"rail clear\"\nmax_age = 0.5\n\
                    [[interlock]]\nname = \"rail\"\nguards = [\"east.travel\"]\nneeds = { input = \"rail clear\" }\notherwise = \"hold\"\n";

/// Carts in lanes along x, each with a sphere of 0.3 m, that begin at so much.
fn cart(lane: f64, start: f64) -> String {
    format!(
        "kind = \"cart\"\nat = [0.0, {lane:?}, 0.0]\ndriver = {{ sim = {{}} }}\n[[axis]]\nname = \"travel\"\nunit = \"m\"\n\
         travel = [-4.0, 4.0]\nstart = {start:?}\nspeed = 1.0\nacceleration = 1.0\njerk = 4.0\n\
         joint = {{ slide = \"x\", at = [0.0, 0.0, 0.0] }}\nbodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n"
    )
}

const CUES: &str = "[[cue]]\nnumber = \"1\"\nname = \"Away\"\nmove = [{ rig = \"east\", to = { travel = 0.8 }, time = 3.0 }]\n\
                    [[cue]]\nnumber = \"2\"\nname = \"Far\"\nmove = [{ rig = \"far\", to = { travel = 1.0 }, time = 6.0 }]\n";

/// East and west run in lanes two metres apart, far beyond both.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let files = [
        ("show.toml", SHOW.to_owned()),
        ("rigs/east.toml", cart(0.0, 0.0)),
        ("rigs/west.toml", cart(2.0, 0.0)),
        ("rigs/far.toml", cart(9.0, 0.0)),
        ("cues/all.toml", CUES.to_owned()),
    ];
    for (path, text) in files {
        let path = folder.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    folder
}

fn hall() -> (tempfile::TempDir, Hall) {
    let folder = folder();
    let mut hall = Hall::open(read(folder.path()));
    hall.record(folder.path());
    hall.let_sensors_speak();
    hall.arm();
    (folder, hall)
}

/// East out by `way` m and back, in 6 s between a second of rest at both ends; west the other way.
fn duet(from: f64, way: f64) -> String {
    duet_of([from, 0.0], way)
}

fn duet_of([east, west]: [f64; 2], way: f64) -> String {
    let sample = |k: u32| {
        let time = f64::from(k) * 0.02;
        let x = ((time - 1.0) / 6.0).clamp(0.0, 1.0);
        // At rest at both ends, to the jerk.
        let out = way * (PI * x).sin().powi(4);
        format!("{time:.3},{:.6},{:.6}\n", east + out, west - out)
    };
    (0..=400).map(sample).fold("time,east.travel,west.travel\n".to_owned(), |text, line| text + &line)
}

/// Only there, with the least jerk.
fn solo(from: f64, way: f64, seconds: f64) -> String {
    let sample = |k: u32| {
        let time = f64::from(k) * 0.02;
        format!("{time:.3},{:.6}\n", from + least_jerk(way, seconds, time))
    };
    let samples = ((seconds + 1.0) * 50.0) as u32;
    (0..=samples).map(sample).fold("time,east.travel\n".to_owned(), |text, line| text + &line)
}

/// After half a second of rest: the way of least jerk from rest to rest (Flash and Hogan, 1985).
fn least_jerk(way: f64, seconds: f64, time: f64) -> f64 {
    let x = ((time - 0.5) / seconds).clamp(0.0, 1.0);
    way * x * x * x * (10.0 - 15.0 * x + 6.0 * x * x)
}

fn planned(hall: &Hall, take: &str, stretch: f64) -> Result<Playable, Unplayable> {
    let (take, findings) = read_take("hand", take, Place::default());
    assert_eq!(findings, []);
    let parts = cast(&hall.show, &Arc::new(take), None).unwrap();
    let stands: Vec<f64> = hall.status.axes.iter().map(|axis| axis.setpoint).collect();
    plan_playback(&hall.show, parts, stretch, &stands)
}

fn play(hall: &mut Hall, take: &str) -> Result<Accepted, Refusal> {
    let playback = planned(hall, take, 1.0).unwrap_or_else(|why| panic!("{why:?}")).playback;
    hall.ask(Verb::Play { playback })
}

fn reasons(answer: Result<Accepted, Refusal>) -> Vec<Reason> {
    match answer {
        Ok(Accepted::Standby { reasons, .. }) => reasons.reasons.to_vec(),
        other => panic!("{other:?}"),
    }
}

/// A smooth path passes by its samples within a part of the tolerance, 0.01 m.
fn is_at(hall: &Hall, axis: &str, wanted: f64) {
    let found = hall.setpoint(axis);
    assert!((found - wanted).abs() < 5e-3, "{axis} is at {found}, not at {wanted}");
}

fn run_to_end(hall: &mut Hall, seconds: f64) {
    for _ in 0..(seconds / hall.show.settings.tick.seconds()) as u64 {
        hall.tick(&[]);
        if hall.status.running.is_empty() {
            return;
        }
    }
    panic!("still running: {:?}", hall.status.running);
}

#[test]
fn a_take_is_played_along_its_path_to_the_tick_and_the_run_replays_to_the_bit() {
    let (_folder, mut hall) = hall();
    let take = solo(0.0, 1.5, 4.0);
    let playback = planned(&hall, &take, 1.0).unwrap().playback;
    assert_eq!(reasons(hall.ask(Verb::Play { playback: playback.clone() })), []);
    let slot = hall.show.take_id();
    hall.run(0.2);
    assert_eq!(hall.ask(Verb::Go { cue: Some(slot) }), Ok(Accepted::Done));
    let step = &playback.plan().moves[0];
    let mut worst: f64 = 0.0;
    while let Some(running) = hall.status.running.first().cloned() {
        let planned = step.at(&step.axes[0], running.time).position;
        assert!((hall.setpoint("east.travel") - planned).abs() < 1e-9, "{} s", running.time);
        worst = worst.max((hall.setpoint("east.travel") - least_jerk(1.5, 4.0, running.time)).abs());
        hall.tick(&[]);
    }
    // Of a signal that is known, whatever the plan says of itself: within the tolerance of a take, 0.01 m.
    println!("farthest from the signal {worst:.6} m");
    assert!(worst <= 0.01 && worst > 0.0, "{worst}");
    is_at(&hall, "east.travel", 1.5);
    // As it stands at its end, its start is elsewhere: a second time it is not ready.
    hall.run(0.5);
    assert!(matches!(
        reasons(hall.ask(Verb::Standby { cues: [slot].into_iter().collect(), skip: false }))[..],
        [Reason::StartPose { .. }]
    ));
    let verdict = replay(&hall.journal(), |_| {}).unwrap();
    assert!(verdict.is_sound() && verdict.ended && verdict.replayed == verdict.ticks, "{verdict:?}");
}

#[test]
fn what_stands_elsewhere_is_brought_to_its_first_pose_by_a_preset_and_then_it_plays() {
    let (_folder, mut hall) = hall();
    let slot = hall.show.take_id();
    let why = reasons(play(&mut hall, &solo(-1.0, 1.5, 4.0)));
    assert!(why.iter().any(Reason::offers_preset), "{why:?}");
    assert!(hall.ask(Verb::Go { cue: Some(slot) }).is_err());
    assert!(matches!(hall.ask(Verb::Preset { cue: slot, held: false }), Ok(Accepted::Standby { ready: true, .. })));
    hall.run(0.2);
    hall.ask(Verb::Go { cue: None }).unwrap();
    run_to_end(&mut hall, 30.0);
    is_at(&hall, "east.travel", -1.0);
    assert_eq!(hall.setpoint("west.travel"), 0.0, "nobody else was taken along");
    hall.run(0.5);
    assert_eq!(reasons(hall.ask(Verb::Standby { cues: [slot].into_iter().collect(), skip: false })), []);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    run_to_end(&mut hall, 10.0);
    is_at(&hall, "east.travel", 0.5);
}

#[test]
fn hold_return_stop_and_disarm_act_on_it_as_on_a_cue() {
    let (_folder, mut hall) = hall();
    let slot = hall.show.take_id();
    assert_eq!(reasons(play(&mut hall, &solo(0.0, 1.5, 4.0))), []);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    hall.run(2.0);
    hall.ask(Verb::Hold { cue: Some(slot) }).unwrap();
    hall.run(2.0);
    assert!(!hall.setpoints_move());
    let held = hall.setpoint("east.travel");
    assert!(held > 0.1 && held < 1.4, "{held}");
    hall.ask(Verb::Return { cue: slot, held: false }).unwrap();
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    run_to_end(&mut hall, 20.0);
    is_at(&hall, "east.travel", 0.0);
    hall.run(0.5);
    assert_eq!(reasons(play(&mut hall, &solo(0.0, 1.5, 4.0))), []);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    hall.run(2.0);
    hall.press_stop();
    hall.run_to_standstill();
    // Another take goes where that one was stopped; what was stopped is given up, and not taken for the new one.
    hall.ask(Verb::Reset).unwrap();
    hall.run(0.5);
    let here = hall.setpoint("east.travel");
    assert_eq!(reasons(play(&mut hall, &solo(here, -0.2, 3.0))), []);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    run_to_end(&mut hall, 10.0);
    is_at(&hall, "east.travel", here - 0.2);
}

#[test]
fn an_interlock_an_owner_and_a_cue_under_way_forbid_it() {
    let (_folder, mut hall) = hall();
    let slot = hall.show.take_id();
    assert_eq!(hall.refused(Verb::Standby { cues: [slot].into_iter().collect(), skip: false }), [Reason::NoTake]);
    assert_eq!(reasons(play(&mut hall, &solo(0.0, 1.5, 4.0))), []);
    hall.sensors[0].1 = false;
    hall.run(0.3);
    let refused = hall.refused(Verb::Go { cue: Some(slot) });
    assert!(matches!(refused[..], [Reason::Interlock { .. }] | [Reason::NotOnStandby { .. }]), "{refused:?}");
    let why = reasons(play(&mut hall, &solo(0.0, 1.5, 4.0)));
    assert!(matches!(why[..], [Reason::Interlock { .. }]), "{why:?}");
    hall.sensors[0].1 = true;
    hall.run(0.5);
    hall.take("east");
    let why = reasons(play(&mut hall, &solo(0.0, 1.5, 4.0)));
    assert!(why.iter().any(|why| matches!(why, Reason::RigInHand { .. })), "{why:?}");
    hall.ask(Verb::GiveBack { rig: hall.rig("east") }).unwrap();
    hall.run(0.5);
    hall.ask(Verb::Standby { cues: [hall.cue("2")].into_iter().collect(), skip: true }).unwrap();
    hall.run(0.2);
    hall.go("2").unwrap();
    hall.run(0.5);
    let playback = planned(&hall, &solo(0.0, 1.5, 4.0), 1.0).unwrap().playback;
    assert!(matches!(hall.refused(Verb::Play { playback })[..], [Reason::CueRunning { .. }]));
    hall.run_until("2", CueState::Done, 10.0);
    // And while it is played back, no cue goes.
    assert_eq!(reasons(play(&mut hall, &solo(0.0, 1.5, 4.0))), []);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    hall.run(0.5);
    let why = hall.standby("1");
    assert!(why.contains(&Reason::CueRunning { cue: slot, state: CueState::Running }), "{why:?}");
}

#[test]
fn a_rig_that_has_left_its_place_since_is_proved_live_and_one_in_the_way_refuses_it() {
    let mut text = cart(0.0, 3.0);
    text = text.replace("radius = 0.3", "radius = 0.5");
    let show = hall::show_of(&[
        ("show.toml", SHOW),
        ("rigs/east.toml", &cart(0.0, 0.0)),
        (
            "rigs/gate.toml",
            &text
                .replace("slide = \"x\"", "slide = \"y\"")
                .replace("at = [0.0, 0.0, 0.0]\ndriver", "at = [2.5, 0.0, 0.0]\ndriver"),
        ),
        (
            "cues/all.toml",
            "[[cue]]\nnumber = \"1\"\nname = \"Shut\"\nmove = [{ rig = \"gate\", to = { travel = 0.7 }, time = 6.0 }]\n",
        ),
    ]);
    let mut hall = Hall::open(show);
    hall.let_sensors_speak();
    hall.arm();
    let take = solo(0.0, 2.0, 5.0);
    assert_eq!(reasons(play(&mut hall, &take)), []);
    let slot = hall.show.take_id();
    let open = planned(&hall, &take, 1.0).unwrap().playback;
    hall.fire("1");
    hall.run_until("1", CueState::Done, 10.0);
    hall.run(0.5);
    // It was planned while the gate was open: the engine finds it shut.
    let why = reasons(hall.ask(Verb::Play { playback: open }));
    assert!(matches!(why[..], [Reason::NearElsewhere { .. }]), "{why:?}");
    assert!(hall.ask(Verb::Go { cue: Some(slot) }).is_err());
    // And what is planned now is refused with the place.
    let Err(Unplayable { reasons, stretch: None }) = planned(&hall, &take, 1.0) else { panic!("it is proved") };
    assert!(reasons[0].starts_with("east/travel/0 comes within"), "{reasons:?}");
    assert!(reasons[0].contains("gate/travel/0") && reasons[0].contains("s into the take"), "{reasons:?}");
}

#[test]
fn a_take_that_breaks_a_limit_is_offered_its_least_stretch_and_another_survey_is_told() {
    let (_folder, hall) = hall();
    // 3 m in 4 s: 1.875·D/T = 1.406 m/s of 1 (Flash and Hogan, 1985), 5.7735·D/T² = 1.083 of 1, 60·D/T³ = 2.81 of 4.
    let Err(Unplayable { reasons, stretch: Some(least) }) = planned(&hall, &solo(0.0, 3.0, 4.0), 1.0) else {
        panic!("it is played")
    };
    assert!((least - 1.406).abs() < 0.005, "{least}: {reasons:?}");
    assert!(reasons[0].contains("asks too much of east.travel: expected a speed of 1 m/s at most"), "{reasons:?}");
    let playable = planned(&hall, &solo(0.0, 3.0, 4.0), least).unwrap();
    assert!(playable.playback.plan().duration > 5.0 * 1.4);
    let joint = "joint = { slide = [1.0, 0.0, 0.0], at = [0.0, 0.0, 0.0] }";
    let surveyed =
        |travel: &str| format!("#: axes.\"east.travel\" = {{ unit = \"m\", travel = {travel}, {joint} }}\n");
    assert!(planned(&hall, &(surveyed("[-4.0, 4.0]") + &solo(0.0, 1.0, 4.0)), 1.0).is_ok());
    let Err(Unplayable { reasons, stretch: None }) =
        planned(&hall, &(surveyed("[-3.5, 4.5]") + &solo(0.0, 1.0, 4.0)), 1.0)
    else {
        panic!("it is played")
    };
    assert!(reasons[0].contains("its travel was -3.5 m to 4.5 m and is -4 m to 4 m"), "{reasons:?}");
}

#[test]
fn a_take_from_the_end_of_the_travel_is_played_from_there_and_never_leaves_it() {
    let show = hall::show_of(&[
        ("show.toml", SHOW),
        ("rigs/east.toml", &cart(0.0, -4.0)),
        (
            "cues/all.toml",
            "[[cue]]\nnumber = \"1\"\nname = \"1\"\nmove = [{ rig = \"east\", to = { travel = -1.0 }, time = 9.0 }]\n",
        ),
    ]);
    let mut hall = Hall::open(show);
    hall.let_sensors_speak();
    hall.arm();
    let slot = hall.show.take_id();
    let out_and_back = |k: u32| {
        let x = ((f64::from(k) * 0.02 - 1.0) / 6.0).clamp(0.0, 1.0);
        format!("{:.3},{:.6}\n", f64::from(k) * 0.02, -4.0 + 0.5 * (PI * x).sin().powi(4))
    };
    let take: String = (0..=400).map(out_and_back).fold("time,east.travel\n".to_owned(), |text, line| text + &line);
    let playback = planned(&hall, &take, 1.5).unwrap_or_else(|why| panic!("{why:?}")).playback;
    assert_eq!(reasons(hall.ask(Verb::Play { playback })), []);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    run_to_end(&mut hall, 30.0);
    hall.run(0.5);
    // From that end it may also be fired as it was planned from elsewhere, within tolerance: the two errors fade inside.
    let (read, _) = read_take("hand", &take, Place::default());
    let parts = cast(&hall.show, &Arc::new(read), None).unwrap();
    let playback = plan_playback(&hall.show, parts, 1.5, &[-3.995]).unwrap().playback;
    assert_eq!(reasons(hall.ask(Verb::Play { playback })), []);
    hall.run(0.2);
    hall.ask(Verb::Go { cue: Some(slot) }).unwrap();
    run_to_end(&mut hall, 30.0);
}

#[test]
fn rigs_that_were_recorded_together_come_too_near_in_the_take_itself() {
    let (_folder, hall) = hall();
    assert!(planned(&hall, &duet(0.0, 1.0), 1.2).is_ok(), "their lanes are far apart");
    let show = hall::show_of(&[
        ("show.toml", SHOW),
        ("rigs/east.toml", &cart(0.0, 0.0)),
        ("rigs/west.toml", &cart(0.0, 1.5)),
        (
            "cues/all.toml",
            "[[cue]]\nnumber = \"1\"\nname = \"1\"\nmove = [{ rig = \"east\", to = { travel = -1.0 }, time = 9.0 }]\n",
        ),
    ]);
    let mut hall = Hall::open(show);
    hall.let_sensors_speak();
    hall.arm();
    let Err(Unplayable { reasons, .. }) = planned(&hall, &duet_of([0.0, 1.5], 0.5), 1.5) else {
        panic!("it is proved")
    };
    assert!(reasons[0].contains("east/travel/0 comes within") || reasons[0].contains("touches"), "{reasons:?}");
}

#[test]
fn what_a_journal_keeps_of_it_is_the_same_path_and_rubbish_is_none() {
    let (_folder, hall) = hall();
    let playback = planned(&hall, &duet(0.0, 1.0), 1.2).unwrap().playback;
    let kept: Playback = postcard::from_bytes(&postcard::to_stdvec(&playback).unwrap()).unwrap();
    assert_eq!(kept, playback);
    let written = serde_json::to_string(&playback).unwrap();
    assert!(playback.fits(&hall.show));
    for (from, to) in
        [("[[0.0,", "[[1.0,"), ("\"duration\":", "\"duration\":-"), ("\"start\":[", "\"start\":[],\"x\":[")]
    {
        let spoilt = written.replacen(from, to, 1);
        assert_ne!(spoilt, written, "{from} is not there");
        assert!(serde_json::from_str::<Playback>(&spoilt).is_err(), "{from} as {to}");
    }
    let other = read_show_of_two();
    assert!(!playback.fits(&other), "a show of fewer axes");
}

fn read_show_of_two() -> show::Show {
    hall::show_of(&[
        ("show.toml", "[show]\nname = \"Two\"\nmargin = 0.3\nreact = 0.1\n"),
        ("rigs/east.toml", &cart(0.0, 0.0)),
    ])
}
