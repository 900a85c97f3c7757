//! Cues beside each other: a GO is weighed against what runs, from the proof's maps.
//!
//! The random evenings write down where every rig was told to stand, if `BELLWIRE_POSES` names a file;
//! `tests/outside/test_fcl.py` judges each pose by geometry of its own, and that the same evenings without the maps
//! bring bodies together.

use std::fmt::Write as _;

use crate::hall::crossing::{VANE, crossings, cue, files};
use crate::hall::{Hall, show_of};
use bellwire::engine::*;
use bellwire::proof::Party;
use bellwire::rig::{Chance, SimFault};
use bellwire::show::{CueState, Show};

/// The boom is drawn away in 14 s, and the lamp comes down where it was.
fn away_and_down(more: &str) -> String {
    cue("21", "", "boom", "reach", 4.0, 14.0) + &cue("21.5", more, "lamp", "height", 1.0, 6.0)
}

fn open(cues: &str) -> Hall {
    let mut hall = Hall::open(show_of(&files(cues)));
    hall.arm();
    hall
}

fn party(hall: &Hall, rig: &str, axis: &str) -> Party {
    Party::Body { rig: hall.rig(rig), axis: Some(hall.axis(axis)), index: 0 }
}

#[test]
fn a_go_into_a_blocked_place_is_refused_with_the_bodies_and_when_it_clears() {
    let mut hall = open(&away_and_down(""));
    hall.fire("21");
    hall.run(0.5);
    let reasons = hall.standby("21.5");
    let [Reason::InTheWay { cue, time, bodies, distance, margin, clears: Some(clears) }] = reasons[..] else {
        panic!("{reasons:?}")
    };
    assert_eq!((cue, margin), (hall.cue("21"), 0.3));
    assert_eq!(bodies, [party(&hall, "lamp", "lamp.height"), party(&hall, "boom", "boom.reach")]);
    assert!(distance < 0.3 && (0.5..1.0).contains(&time) && clears > time && clears < 13.0, "{reasons:?}");
    assert!(matches!(hall.go("21.5").unwrap_err().reasons[..], [Reason::InTheWay { .. }]));
    // The standby tells when: from now on, by the show's own clock.
    let span = hall.status.standby[0].clear[0];
    let now = hall.status.running[0].time;
    assert!((span.from - (clears - now)).abs() < 0.01 && span.to.is_none(), "{span:?} at {now}");
    hall.run(span.from - 0.05);
    assert!(hall.go("21.5").is_err());
    hall.run(0.06);
    assert!(hall.status.standby[0].ready);
    assert_eq!(hall.go("21.5"), Ok(Accepted::Done));
    hall.run_until("21.5", CueState::Done, 10.0);
}

#[test]
fn a_master_that_slows_the_running_cue_moves_the_moment_with_it() {
    let mut hall = open(&away_and_down(""));
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    hall.fire("21");
    hall.run(1.2);
    let reasons = hall.standby("21.5");
    let [Reason::InTheWay { time, .. }] = reasons[..] else { panic!("{reasons:?}") };
    assert!((0.5..0.7).contains(&time), "half of what has passed: {time}");
}

#[test]
fn a_follow_into_a_blocked_place_breaks_its_chain_and_says_so() {
    let mut hall = open(&away_and_down("after = { when = { axis = \"boom.reach\", above = 0.001 } }"));
    hall.fire("21");
    hall.run(5.0);
    assert_eq!(hall.state("21.5"), CueState::Idle);
    let broken = hall.events.iter().find_map(|event| match &event.kind {
        EventKind::Refused { cue: Some(cue), reasons, .. } if *cue == hall.cue("21.5") => Some(reasons.clone()),
        _ => None,
    });
    assert!(matches!(broken.unwrap().reasons[..], [Reason::InTheWay { .. }]));
}

#[test]
fn a_cue_that_waits_for_its_follow_is_in_the_way_where_it_stands() {
    // The vane stands over the boom's way until its follow comes; the boom may not go before.
    let cues = cue("1", "", "lamp", "height", 4.0, 6.0)
        + &cue("2", "after = { cue = \"1\", from = \"start\", wait = 5.0 }", "vane", "turn", -90.0, 6.0)
        + &cue("3", "", "boom", "reach", 2.0, 6.0);
    let vane = VANE.replace("start = 0.0", "start = 90.0").replace("travel = [-200.0", "travel = [-100.0");
    let mut all = files(&cues);
    all[3].1 = &vane;
    let mut hall = Hall::open(show_of(&all));
    hall.arm();
    hall.fire("1");
    let reasons = hall.standby("3");
    assert!(matches!(reasons[..], [Reason::InTheWay { cue, .. }] if cue == hall.cue("2")), "{reasons:?}");
    hall.run_until("2", CueState::Done, 13.0);
    hall.fire("3");
}

#[test]
fn cues_that_the_list_keeps_apart_do_not_run_together_out_of_order() {
    // Only the axis of cue 3 keeps 2 and 4 apart; fired out of order nothing would.
    let cues = cue("1", "", "vane", "turn", -90.0, 6.0)
        + &cue("2", "", "boom", "reach", 2.0, 12.0)
        + &cue("3", "", "boom", "reach", 1.9, 3.0)
        + &cue("4", "", "lamp", "height", 4.0, 3.0);
    let mut hall = open(&cues);
    hall.fire("1");
    hall.run_until("1", CueState::Done, 8.0);
    hall.fire("2");
    hall.run(1.0);
    let cue = hall.cue("4");
    let refused = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: true });
    let Ok(Accepted::Standby { reasons, .. }) = refused else { panic!("{refused:?}") };
    assert!(
        matches!(reasons.reasons[..], [Reason::NotProvedTogether { cue }] if cue == hall.cue("2")),
        "{reasons:?}"
    );
    assert!(hall.go("4").is_err());
}

#[test]
fn a_return_is_refused_where_what_has_ended_since_stands_in_the_way() {
    let mut hall = open(&away_and_down(""));
    hall.fire("21");
    hall.run(7.0);
    hall.fire("21.5");
    hall.run_until("21.5", CueState::Done, 7.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(2.0);
    assert_eq!(hall.state("21"), CueState::Holding, "the boom is still on its way");
    let cue = hall.cue("21");
    let reasons = hall.refused(Verb::Return { cue, held: true });
    assert!(matches!(reasons[..], [Reason::InTheWay { cue, .. }] if cue == hall.cue("21.5")), "{reasons:?}");
    assert_eq!(hall.ask(Verb::Resume { cue: None }), Ok(Accepted::Done));
    hall.run_until("21", CueState::Done, 10.0);
}

#[test]
fn to_go_back_in_the_list_does_not_hide_what_has_ended_since() {
    let mut hall = open(&away_and_down(""));
    hall.fire("21");
    hall.run(7.0);
    hall.fire("21.5");
    hall.run_until("21.5", CueState::Done, 7.0);
    // The lamp stands no less in the way for that its cue counts as idle again.
    hall.standby("21.5");
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(2.0);
    let cue = hall.cue("21");
    let reasons = hall.refused(Verb::Return { cue, held: true });
    assert!(matches!(reasons[..], [Reason::InTheWay { cue, .. }] if cue == hall.cue("21.5")), "{reasons:?}");
}

#[test]
fn a_stopped_cue_goes_neither_on_nor_back_past_a_rig_that_has_slipped_since() {
    let mut hall = open(&away_and_down(""));
    hall.fire("21");
    hall.run(4.0);
    hall.press_stop();
    hall.run(2.0);
    let lamp = hall.axis("lamp.height");
    let slip = SimFault::Drift(lamp, -0.4);
    hall.faults.inject(slip);
    hall.run(5.0);
    hall.faults.end(slip);
    hall.run(0.5);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.run(1.0);
    let of_lamp = |reasons: &[Reason]| {
        reasons.iter().any(|reason| matches!(reason, Reason::OtherPose { axis, .. } if *axis == lamp))
    };
    let reasons = hall.standby("21");
    assert!(of_lamp(&reasons), "{reasons:?}");
    assert!(hall.go("21").is_err());
    let cue = hall.cue("21");
    let reasons = hall.refused(Verb::Return { cue, held: true });
    assert!(of_lamp(&reasons), "{reasons:?}");
}

#[test]
fn a_stopped_cue_is_given_up_when_another_starts_that_is_not_proved_clear_of_all_of_it() {
    // The boom was stopped before it had gone anywhere, and where it stands the vane may turn over its way.
    let cues = cue("1", "", "boom", "reach", 3.8, 14.0)
        + &cue("2", "", "boom", "reach", 0.0, 14.0)
        + &cue("3", "", "vane", "turn", 90.0, 9.0);
    let mut hall = open(&cues);
    hall.fire("1");
    hall.run(0.2);
    hall.press_stop();
    hall.run(1.0);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.run(0.5);
    assert_eq!(hall.state("1"), CueState::Stopped);
    let skipped = hall.cue("3");
    hall.ask(Verb::Standby { cues: [skipped].into_iter().collect(), skip: true }).unwrap();
    assert_eq!(hall.go("3"), Ok(Accepted::Done));
    hall.run_until("3", CueState::Done, 12.0);
    let reasons = hall.standby("1");
    assert!(reasons.iter().any(|reason| matches!(reason, Reason::NearElsewhere { .. })), "{reasons:?}");
    assert!(hall.go("1").is_err());
}

/// Every group that was stopped, by a standby and a GO of its own.
fn carry_on(hall: &mut Hall) {
    let stopped = |hall: &Hall| hall.status.running.iter().find(|one| one.state == CueState::Stopped).copied();
    while let Some(Running { cue, .. }) = stopped(hall) {
        hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: true }).ok();
        if hall.ask(Verb::Go { cue: Some(cue) }).is_err() {
            return;
        }
        hall.run(0.15);
    }
}

/// What is held goes back while somebody asks for it, but not as far as to its start, which would leave the list.
fn go_back_a_little(hall: &mut Hall, chance: &mut Chance) {
    let held = hall.status.running.iter().find(|one| one.state == CueState::Holding && one.rate == 0.0);
    let far = hall.status.running.iter().all(|one| one.time > 1.5);
    let Some(Running { cue, .. }) = held.copied().filter(|_| far) else { return };
    for _ in 0..(chance.uniform() * 4.0) as usize {
        if hall.ask(Verb::Return { cue, held: true }).is_err() {
            return;
        }
        hall.run(0.3);
    }
}

/// Somebody calls the list as fast as it lets them, others hold, stop, slow and go back: where every rig was told to
/// stand, whenever two cues were under way.
fn evening(mut hall: Hall, seed: u64, poses: &mut Vec<Vec<f64>>) -> usize {
    let mut chance = Chance::new(seed);
    let cues: Vec<String> = hall.show.cue_ids().map(|cue| hall.show.cue(cue).number.to_string()).collect();
    let (mut next, mut together, mut refused) = (0, 0, 0);
    while next < cues.len() && refused < 400 {
        let seconds = chance.between(0.02, 1.5);
        let ticks = (seconds / hall.show.settings.tick.seconds()) as usize;
        for tick in 0..ticks {
            hall.tick(&[]);
            let under_way = hall.status.running.len() >= 2;
            together += usize::from(under_way);
            if under_way && tick % 20 == 0 {
                poses.push(hall.status.axes.iter().map(|axis| axis.setpoint).collect());
            }
        }
        match (chance.uniform() * 12.0) as u32 {
            0 => _ = hall.ask(Verb::Hold { cue: None }),
            1 => {
                hall.press_stop();
                hall.run(2.5);
                hall.ask(Verb::Reset).ok();
                hall.run(0.6);
                carry_on(&mut hall);
            }
            2 => {
                let value = chance.between(0.3, 1.0);
                hall.ask(Verb::Master { value }).unwrap();
            }
            // One alone is held, and with it whatever shares its rate; one alone may go on, or a little way back.
            3 => {
                if let Some(cue) = hall.status.running.last().map(|running| running.cue) {
                    hall.ask(Verb::Hold { cue: Some(cue) }).ok();
                }
            }
            4 => {
                if let Some(cue) = hall.status.running.first().map(|running| running.cue) {
                    hall.ask(Verb::Resume { cue: Some(cue) }).ok();
                }
            }
            5 => go_back_a_little(&mut hall, &mut chance),
            _ => {
                hall.ask(Verb::Resume { cue: None }).ok();
                let cue = hall.cue(&cues[next]);
                let standby = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false });
                let gone = standby.is_ok() && hall.ask(Verb::Go { cue: Some(cue) }).is_ok();
                next += usize::from(gone);
                refused = if gone { 0 } else { refused + 1 };
            }
        }
    }
    assert_eq!(next, cues.len(), "the list was called to its end");
    together
}

fn write_down(told: &mut String, kind: &str, rigs: &[(&str, &str)], show: &Show, poses: &[Vec<f64>]) {
    let rigs: serde_json::Map<_, _> = rigs
        .iter()
        .filter_map(|(path, text)| Some((path.strip_prefix("rigs/")?.strip_suffix(".toml")?, *text)))
        .map(|(name, text)| (name.to_owned(), text.into()))
        .collect();
    let axes: Vec<String> = show.axis_ids().map(|axis| show.axis_name(axis)).collect();
    let line = serde_json::json!({
        "kind": kind, "rigs": rigs, "axes": axes, "margin": show.settings.margin, "poses": poses,
    });
    writeln!(told, "{line}").unwrap();
}

#[test]
fn random_evenings_keep_to_the_maps() {
    let cues = crossings();
    let files = files(&cues);
    let mut told = String::new();
    for (kind, maps) in [("with maps", true), ("without maps", false)] {
        let (mut poses, mut together) = (Vec::new(), 0);
        for seed in 0..12 {
            let mut hall =
                if maps { Hall::open(show_of(&files)) } else { Hall::open_without_maps(show_of(&files)) };
            hall.arm();
            together += evening(hall, seed, &mut poses);
        }
        assert!(together > 20_000, "{kind}: cues ran beside each other for {together} ticks only");
        write_down(&mut told, kind, &files, &show_of(&files), &poses);
    }
    if let Ok(path) = std::env::var("BELLWIRE_POSES") {
        std::fs::write(path, told).unwrap();
    }
}
