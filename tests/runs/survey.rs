//! A rig in hand for a survey: it goes slowly, an axis without a survey moves so alone, and what is tried of an axis tells of
//! reversed signs, crossed cables, play and jams.

use crate::hall::carts::{self, cue, east};
use crate::hall::{self, CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::show::{self, Show};

const SHAPE: StickShape = StickShape { dead_band: 0.0, taper: 0.0 };

/// The carts, with what is changed of the files of their rigs.
fn show_with(changes: &[(&str, &str, &str)]) -> Show {
    let head = "[show]\nname = \"Carts\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n";
    let mut files: Vec<(&str, String)> = carts::CARTS.iter().map(|&(path, text)| (path, text.to_owned())).collect();
    files.push(("show.toml", head.to_owned()));
    files.push(("cues/all.toml", cue("1", &east(2.0, 4.0))));
    for (path, from, to) in changes {
        let (_, text) = files.iter_mut().find(|(name, _)| name == path).expect("a file of the show");
        assert!(text.contains(from), "{path} has no {from}");
        *text = text.replacen(from, to, 1);
    }
    let files: Vec<(&str, &str)> = files.iter().map(|(path, text)| (*path, text.as_str())).collect();
    hall::show_of(&files)
}

fn opened(changes: &[(&str, &str, &str)]) -> Hall {
    let mut hall = Hall::open(show_with(changes));
    hall.arm();
    hall
}

const UNSURVEYED: (&str, &str, &str) =
    ("rigs/east.toml", "travel = [-3.0, 3.0]\n", "travel = [-3.0, 3.0]\nsurveyed = false\n");

fn survey(hall: &mut Hall, rig: &str) {
    let rig = hall.rig(rig);
    assert_eq!(hall.ask(Verb::Survey { rig, sticks: None, shape: SHAPE }), Ok(Accepted::Done));
    for axis in hall.show.rig(rig).axis_ids() {
        hall.cycle.hear(&[StickSample { client: CALLER, axis, kind: StickKind::Stick, value: 0.0 }]);
    }
    hall.tick(&[]);
}

fn trial(hall: &mut Hall, axis: &str, trial: Trial) -> Result<Accepted, Refusal> {
    let axis = hall.axis(axis);
    hall.ask(Verb::Trial { axis, trial })
}

fn press(hall: &mut Hall, axis: &str, on: bool) {
    let sample =
        StickSample { client: CALLER, axis: hall.axis(axis), kind: StickKind::Run, value: f64::from(u8::from(on)) };
    hall.cycle.hear(&[sample]);
}

fn status(hall: &Hall, axis: &str) -> TrialStatus {
    let rig = hall.show.axis(hall.axis(axis)).rig;
    hall.status.rigs[rig.index()].hand.and_then(|hand| hand.trial).expect("a trial")
}

/// Holds the button until something is found, or for so long, s.
fn hold(hall: &mut Hall, axis: &str, seconds: f64) -> Option<Found> {
    press(hall, axis, false);
    hall.tick(&[]);
    let ticks = (seconds / hall.show.settings.tick.seconds()).round() as u64;
    for tick in 0..ticks {
        if tick.is_multiple_of(20) {
            press(hall, axis, true);
        }
        hall.tick(&[]);
        assert!(hall.status.stopped.is_none(), "{:?}", hall.status.stopped);
        let TrialStatus { done, of, found, .. } = status(hall, axis);
        if done == of {
            press(hall, axis, false);
            hall.tick(&[]);
            return found;
        }
    }
    None
}

fn signed(hall: &mut Hall, axis: &str) -> (Sign, f64, f64, Option<String>) {
    trial(hall, axis, Trial::Sign).unwrap();
    match hold(hall, axis, 30.0) {
        Some(Found::Sign { commanded, measured, sign, other }) => {
            (sign, commanded, measured, other.map(|(axis, _)| hall.show.axis_name(axis)))
        }
        other => panic!("{other:?}: {:?}", status(hall, axis)),
    }
}

fn reasons(outcome: Result<Accepted, Refusal>) -> Vec<Reason> {
    outcome.expect_err("refused").reasons.to_vec()
}

#[test]
fn in_a_survey_a_stick_jogs_at_a_tenth_of_the_speed_and_silence_ends_it() {
    let mut hall = opened(&[]);
    survey(&mut hall, "east");
    hall.hold_stick("east.travel", 1.0, 2.0);
    let before = hall.setpoint("east.travel");
    hall.tick(&[]);
    let speed = (hall.setpoint("east.travel") - before) / hall.show.settings.tick.seconds();
    assert!((speed - 0.1).abs() < 1e-9, "{speed}");
    // Silent for 150 ms it brakes at once: 0.1 m/s under 4 m/s³ are 0.32 s to rest.
    hall.run(0.16);
    let before = hall.setpoint("east.travel");
    hall.tick(&[]);
    let slower = (hall.setpoint("east.travel") - before) / hall.show.settings.tick.seconds();
    assert!(slower < 0.1, "{slower}");
    hall.run(0.34);
    assert!(!hall.setpoints_move());
    let hand = hall.status.rigs[hall.rig("east").index()].hand.unwrap();
    assert!(hand.survey);
    // In hand as usual it goes at full speed again, and a dial drives it; in a survey none does.
    hall.turn_dial(CALLER, "east.travel", 1.0);
    hall.run(0.5);
    let axis = hall.axis("east.travel");
    let ignored = |hall: &Hall, why| {
        let told = EventKind::Hand(HandEvent::Ignored { axis, client: CALLER, why });
        hall.events.iter().any(|event| event.kind == told)
    };
    assert!(ignored(&hall, NoStick::NotNow));
    hall.take("east");
    hall.hold_stick("east.travel", 1.0, 1.4);
    let before = hall.setpoint("east.travel");
    hall.tick(&[]);
    assert!(hall.setpoint("east.travel") - before > 0.9 * hall.show.settings.tick.seconds());
}

#[test]
fn an_axis_without_a_survey_is_moved_by_nothing_but_a_jog_within_its_provisional_travel() {
    let mut hall = opened(&[UNSURVEYED]);
    let axis = hall.axis("east.travel");
    assert_eq!(hall.standby("1"), [Reason::Unsurveyed { axis }]);
    assert_eq!(reasons(hall.go("1")), [Reason::Unsurveyed { axis }]);
    hall.take("east");
    hall.hold_stick("east.travel", 1.0, 1.0);
    hall.turn_dial(CALLER, "east.travel", 0.5);
    hall.run(0.5);
    assert_eq!(hall.setpoint("east.travel"), 0.0);
    let why = NoStick::Unsurveyed;
    let told = EventKind::Hand(HandEvent::Ignored { axis, client: CALLER, why });
    assert!(hall.events.iter().any(|event| event.kind == told));
    survey(&mut hall, "east");
    hall.hold_stick("east.travel", -1.0, 35.0);
    assert!((hall.setpoint("east.travel") + 3.0).abs() < 1e-6, "{}", hall.setpoint("east.travel"));
    // Handed over it is a survey still.
    let rig = hall.rig("east");
    hall.ask(Verb::HandOver { rig, to: Some(OTHER) }).unwrap();
    hall.ask_as(OTHER, Verb::Accept { rig, sticks: None, shape: SHAPE }).unwrap();
    assert!(hall.status.rigs[rig.index()].hand.unwrap().survey);
}

#[test]
fn a_preset_moves_no_axis_without_a_survey() {
    let mut hall = opened(&[UNSURVEYED]);
    let (axis, cue, rig) = (hall.axis("east.travel"), hall.cue("1"), hall.rig("east"));
    survey(&mut hall, "east");
    hall.hold_stick("east.travel", 1.0, 5.0);
    hall.ask(Verb::GiveBack { rig }).unwrap();
    hall.run(1.0);
    assert!(hall.standby("1").contains(&Reason::Unsurveyed { axis }));
    hall.run(0.5);
    let asked = hall.ask(Verb::Preset { cue, held: false });
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = asked else { panic!("{asked:?}") };
    assert!(reasons.reasons.contains(&Reason::Unsurveyed { axis }), "{reasons:?}");
    assert!(hall.ask(Verb::Go { cue: None }).is_err());
    assert!(!hall.setpoints_move());
}

#[test]
fn what_is_measured_is_held_against_what_is_commanded() {
    let mut hall = opened(&[]);
    survey(&mut hall, "east");
    let (sign, commanded, measured, other) = signed(&mut hall, "east.travel");
    assert_eq!((sign, other), (Sign::Agrees, None));
    assert!(commanded > 0.0 && (measured - commanded).abs() < 1e-4, "{commanded} {measured}");
    assert!(hall.setpoint("east.travel").abs() < 1e-6, "it stands where it stood");

    let axis = hall.axis("east.travel");
    hall.faults.inject(SimFault::Reversed(axis));
    let (sign, _, measured, _) = signed(&mut hall, "east.travel");
    assert_eq!(sign, Sign::Reversed);
    assert!((measured + commanded).abs() < 1e-4, "{measured}");
    hall.faults.end(SimFault::Reversed(axis));

    hall.faults.inject(SimFault::Stuck(axis));
    assert_eq!(signed(&mut hall, "east.travel").0, Sign::DidNotMove);
    hall.faults.end(SimFault::Stuck(axis));
    assert_eq!(signed(&mut hall, "east.travel").0, Sign::Agrees);
}

#[test]
fn crossed_cables_are_told_and_a_stray_axis_beside_a_sound_one() {
    let mut hall = opened(&[
        ("rigs/head.toml", "start = 0.0", "start = 10.0"),
        ("rigs/head.toml", "start = 0.0", "start = 50.0"),
    ]);
    survey(&mut hall, "head");
    let (pan, zoom) = (hall.axis("head.pan"), hall.axis("head.zoom"));
    assert_eq!(signed(&mut hall, "head.pan").0, Sign::Agrees);
    hall.faults.inject(SimFault::Crossed(pan));
    let (sign, _, measured, other) = signed(&mut hall, "head.pan");
    assert_eq!((sign, other.as_deref()), (Sign::Swapped, Some("head.zoom")));
    assert!(measured.abs() < 1e-3);
    let (sign, _, _, other) = signed(&mut hall, "head.zoom");
    assert_eq!((sign, other.as_deref()), (Sign::Swapped, Some("head.pan")));
    hall.faults.end(SimFault::Crossed(pan));
    hall.faults.inject(SimFault::Drift(zoom, 0.3));
    let (sign, _, _, other) = signed(&mut hall, "head.pan");
    assert_eq!((sign, other.as_deref()), (Sign::Agrees, Some("head.zoom")));
}

#[test]
fn play_is_told_as_the_reversal_value_and_noise_as_spread() {
    let sim = "kind = \"cart\"\ndriver = { sim = { backlash = 0.006, noise = 0.0005 } }\n";
    let mut hall = opened(&[("rigs/east.toml", "kind = \"cart\"\n", sim)]);
    survey(&mut hall, "east");
    trial(&mut hall, "east.travel", Trial::Repeat { at: Some(0.5), times: 5 }).unwrap();
    let Some(Found::Repeat { at, figures, tolerance }) = hold(&mut hall, "east.travel", 200.0) else {
        panic!("{:?}", status(&hall, "east.travel"))
    };
    assert_eq!((at, tolerance, figures.approaches), (0.5, 0.02, 5));
    // Going up the axis hangs behind its drive by half of the play, going down it is ahead by as much.
    assert!((figures.reversal + 0.006).abs() < 3e-4, "{figures:?}");
    assert!((figures.means[0] + 0.003).abs() < 2e-4 && (figures.means[1] - 0.003).abs() < 2e-4, "{figures:?}");
    // 100 readings of 0.5 mm each are known to 0.05 mm; four of those is the spread.
    assert!(figures.repeatability.iter().all(|spread| (1e-5..6e-4).contains(spread)), "{figures:?}");
    assert!(figures.bidirectional > 0.006 && figures.farthest < tolerance);
    // The sign is told all the same: the play is taken up first.
    assert_eq!(signed(&mut hall, "east.travel").0, Sign::Agrees);
}

#[test]
fn a_trial_that_is_let_go_of_waits_and_does_again_what_it_was_about() {
    let mut hall = opened(&[]);
    survey(&mut hall, "east");
    trial(&mut hall, "east.travel", Trial::Repeat { at: None, times: 2 }).unwrap();
    // As it settles at the place, before it is measured there.
    assert!(hold(&mut hall, "east.travel", 2.6).is_none());
    assert_eq!(status(&hall, "east.travel").done, 1);
    hall.run(0.7);
    assert!(!hall.setpoints_move() && !status(&hall, "east.travel").runs);
    assert_eq!(status(&hall, "east.travel").done, 0, "the approach is made anew");
    // What was pressed all the while counts for nothing: it has to be let go of first.
    for _ in 0..50 {
        press(&mut hall, "east.travel", true);
        hall.run(0.02);
    }
    assert!(!status(&hall, "east.travel").runs);
    assert!(hold(&mut hall, "east.travel", 60.0).is_some());
    // Its way home goes as slowly.
    hall.hold_stick("east.travel", 1.0, 5.0);
    hall.hold_stick("east.travel", 0.0, 1.0);
    trial(&mut hall, "east.travel", Trial::Home).unwrap();
    let Some(Found::Home { home, measured }) = hold(&mut hall, "east.travel", 30.0) else { panic!("not home") };
    assert_eq!(home, 0.0);
    assert!(measured.abs() < 1e-4 && hall.setpoint("east.travel").abs() < 1e-6);
}

#[test]
fn a_stop_ends_what_is_tried_and_only_whoever_has_the_rig_in_a_survey_tries_it() {
    let mut hall = opened(&[]);
    let rig = hall.rig("east");
    assert_eq!(reasons(trial(&mut hall, "east.travel", Trial::Sign)), [Reason::NotInHand { rig }]);
    hall.take("east");
    assert_eq!(reasons(trial(&mut hall, "east.travel", Trial::Sign)), [Reason::NotSurveyed { rig }]);
    survey(&mut hall, "east");
    let axis = hall.axis("east.travel");
    let asked = hall.ask_as(OTHER, Verb::Trial { axis, trial: Trial::Home });
    assert_eq!(reasons(asked), [Reason::RigInHand { rig, client: CALLER }]);
    let near = Trial::Repeat { at: Some(2.99), times: 3 };
    let reason = Reason::NoRunUp { axis, at: 2.99, needs: 4.0 * 0.02 };
    assert_eq!(reasons(trial(&mut hall, "east.travel", near)), [reason]);
    trial(&mut hall, "east.travel", Trial::Repeat { at: Some(1.0), times: 3 }).unwrap();
    assert!(hold(&mut hall, "east.travel", 3.0).is_none());
    assert!(hall.setpoints_move());
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    for _ in 0..50 {
        press(&mut hall, "east.travel", true);
        hall.run(0.02);
    }
    assert!(!hall.setpoints_move(), "a button that stays pressed starts nothing");
    assert!(hold(&mut hall, "east.travel", 3.0).is_none());
    assert!(hall.setpoints_move());
    hall.ask(Verb::GiveBack { rig }).unwrap();
    hall.run(1.0);
    assert_eq!(hall.status.rigs[rig.index()].hand, None);
}

#[test]
fn a_check_tells_which_cues_an_axis_without_a_survey_keeps() {
    let show = show_with(&[
        UNSURVEYED,
        ("rigs/west.toml", "travel = [-3.0, 3.0]\n", "travel = [-3.0, 3.0]\nsurveyed = false\n"),
    ]);
    let proof = bellwire::proof::prove(&show);
    let told: Vec<_> = proof.findings.iter().filter(|one| one.code == show::Code::Unsurveyed).collect();
    assert_eq!(told.len(), 2);
    assert_eq!((told[0].severity, &told[0].cues[..]), (show::Severity::Warning, &["1".to_owned()][..]));
    assert_eq!((told[1].severity, told[1].cues.len()), (show::Severity::Note, 0));
}
