//! Cues beside rigs that stand elsewhere than the list leaves them: a live proof from where they are says whether one may go.

use crate::hall::apart::too_near;
use crate::hall::crossing::{HEAD, crossings, cue, files};
use crate::hall::{Hall, show_of};
use bellwire::engine::*;
use bellwire::rig::{Chance, SimFault};
use bellwire::show::CueState;
use bellwire::stage::Stage;
use bellwire::wire::words::Words;

/// One cue, of the boom; the lamp stands so high, and the vane so far round, in a list that leaves them at 5 m and at 0°.
fn elsewhere(more: &str, lamp: f64, vane: f64) -> Hall {
    let (head, cues) = (HEAD.to_owned() + more, cue("1", "", "boom", "reach", 4.0, 8.0));
    let mut all = files(&cues);
    all[0].1 = &head;
    Hall::standing(show_of(&all), vec![0.0, lamp, vane])
}

#[test]
fn a_cue_goes_past_what_stands_elsewhere_if_it_is_clear_of_it_there_and_not_else() {
    let mut chance = Chance::new(5);
    let (mut went, mut near, mut doubted) = (0, 0, 0);
    for round in 0..40 {
        let (lamp, vane) = (chance.between(0.0, 6.0), chance.between(-180.0, 180.0));
        let mut hall = elsewhere("", lamp, vane);
        hall.standby("1");
        hall.run(0.1);
        let stage = Stage::new(&hall.show);
        let at = |step: i32| too_near(&hall.show, &stage, &[f64::from(step) / 50.0, lamp, vane]);
        let sampled = (0..=200).find_map(at);
        let reasons = hall.status.standby[0].reasons.reasons.clone();
        if hall.go("1").is_err() {
            let told = reasons.iter().any(|reason| matches!(reason, Reason::NearElsewhere { .. }));
            assert!(told, "{lamp} {vane}: {reasons:?}");
            near += 1;
            // Between what tolerances can take off the way and the margin samples see nothing.
            doubted += usize::from(sampled.is_none());
            continue;
        }
        assert_eq!(sampled, None, "{lamp} {vane}");
        went += 1;
        if round % 10 == 0 {
            hall.run_until("1", CueState::Done, 9.0);
        }
    }
    assert!(went >= 8 && near >= 8 && doubted <= 3, "{went} went, {near} did not, {doubted} in doubt");
}

#[test]
fn what_stands_elsewhere_is_told_with_how_far_it_is_clear_and_drops_the_standby_once_it_moves() {
    let mut hall = elsewhere("", 5.5, 0.0);
    assert_eq!(hall.standby("1"), []);
    let aside = hall.status.standby[0].aside.expect("a note");
    // 4 m less both radii and the lamp's tolerance, and told to a centimetre.
    assert!((3.479..3.491).contains(&aside.by), "{}", aside.by);
    let said = Words::new(&hall.show, &|_| String::new()).aside(hall.cue("1"), &aside);
    let (begin, end) =
        ("cue 1 may go: lamp.height is not where the list leaves it (5.5", "but the way is clear by 3.48 m");
    assert!(said.starts_with(begin) && said.contains(end), "{said}");
    hall.run(0.3);
    let slip = SimFault::Drift(hall.axis("lamp.height"), -0.1);
    hall.faults.inject(slip);
    hall.run(0.5);
    assert!(hall.status.standby.is_empty(), "{:?}", hall.status.standby);
    assert!(hall.go("1").is_err());
}

#[test]
fn a_cue_that_went_past_what_stands_elsewhere_goes_back_past_it_too() {
    let mut hall = elsewhere("", 5.5, -90.0);
    hall.fire("1");
    hall.run(3.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(2.0);
    let cue = hall.cue("1");
    assert_eq!(hall.ask(Verb::Return { cue, held: true }), Ok(Accepted::Done));
}

#[test]
fn the_partner_of_a_lesser_pair_must_stand_where_the_list_leaves_it_however_clear_it_is() {
    let pair =
        "[[pair]]\nrigs = [\"boom\", \"lamp\"]\nmargin = 0.05\nbecause = \"the lamp hangs in the boom's fork\"\n";
    let mut hall = elsewhere(pair, 5.5, -90.0);
    hall.standby("1");
    hall.run(0.5);
    let reasons = &hall.status.standby[0].reasons.reasons[..];
    assert!(
        matches!(reasons, [Reason::OtherPose { axis, .. }] if *axis == hall.axis("lamp.height")),
        "{reasons:?}"
    );
    assert!(hall.go("1").is_err());
    // Any other rig may.
    assert_eq!(elsewhere(pair, 5.0, -90.0).standby("1"), []);
}

/// The boom is drawn away; the lamp is let down where it was, from higher up than where it hangs at first.
fn away_and_down(lamp: f64) -> Hall {
    let cues = cue("1", "", "boom", "reach", 4.0, 20.0)
        + &cue("2", "", "lamp", "height", 6.0, 3.0)
        + &cue("3", "", "lamp", "height", 1.0, 7.0);
    Hall::standing(show_of(&files(&cues)), vec![0.0, lamp, 0.0])
}

fn told(hall: &Hall) -> Vec<f64> {
    hall.status.axes.iter().map(|axis| axis.setpoint).collect()
}

fn standby(hall: &mut Hall, number: &str) -> Vec<Reason> {
    let cues = [hall.cue(number)].into_iter().collect();
    hall.ask(Verb::Standby { cues, skip: true }).ok();
    hall.status.standby.first().map_or(Vec::new(), |entry| entry.reasons.reasons.to_vec())
}

#[test]
fn a_cue_that_moves_what_another_goes_past_is_weighed_against_that_one() {
    // The lamp hangs where cue 3 takes it from, above where the list has it beside cue 1.
    let mut hall = away_and_down(6.0);
    hall.fire("1");
    hall.run(0.5);
    let reasons = standby(&mut hall, "3");
    assert!(matches!(reasons[..], [Reason::InTheWay { clears: Some(_), .. }]), "{reasons:?}");
    assert!(hall.go("3").is_err());
    hall.run(hall.status.standby[0].clear[0].from + 0.02);
    assert_eq!(hall.go("3"), Ok(Accepted::Done));
    let stage = Stage::new(&hall.show);
    while hall.state("3") != CueState::Done {
        hall.tick(&[]);
        assert_eq!(too_near(&hall.show, &stage, &told(&hall)), None);
    }
}

#[test]
fn what_leaves_its_place_while_a_cue_goes_past_it_stops_everything() {
    let mut hall = away_and_down(5.5);
    hall.fire("1");
    hall.run(1.0);
    let slip = SimFault::Drift(hall.axis("lamp.height"), -0.02);
    hall.faults.inject(slip);
    hall.run(2.0);
    let stopped = hall.status.stopped.as_ref().expect("a stop");
    assert_eq!(stopped.by, Cause::Fault(Fault::Creeps(hall.axis("lamp.height"))));
}

#[test]
fn a_stopped_cue_goes_on_past_what_stands_elsewhere_as_long_as_it_does() {
    for slips in [false, true] {
        let mut hall = away_and_down(5.5);
        hall.fire("1");
        hall.run(3.0);
        hall.press_stop();
        hall.run(2.5);
        if slips {
            let lamp = hall.axis("lamp.height");
            hall.faults.inject(SimFault::Drift(lamp, -0.1));
            hall.run(1.0);
            hall.faults.end(SimFault::Drift(lamp, -0.1));
            hall.run(4.0);
        }
        assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
        hall.run(0.6);
        let reasons = standby(&mut hall, "1");
        if slips {
            assert!(matches!(reasons[..], [Reason::OtherPose { .. }]), "{reasons:?}");
        } else {
            assert_eq!((reasons, hall.go("1")), (vec![], Ok(Accepted::Done)));
        }
    }
}

/// The vane waits to turn through the boom's way, and stands across it already.
#[test]
fn what_a_follow_is_to_move_and_will_not_find_at_its_start_is_in_the_way_of_others() {
    let cues = cue("1", "", "lamp", "height", 6.0, 3.0)
        + &cue("2", "after = { cue = \"1\", from = \"end\", wait = 60.0 }", "vane", "turn", 180.0, 8.0)
        + &cue("3", "", "boom", "reach", 4.0, 8.0);
    for (vane, ready) in [(0.0, true), (90.0, false)] {
        let mut hall = Hall::standing(show_of(&files(&cues)), vec![0.0, 5.0, vane]);
        hall.fire("1");
        hall.run_until("1", CueState::Done, 5.0);
        assert_eq!(hall.status.waiting.len(), 1);
        let reasons = standby(&mut hall, "3");
        let turn = hall.axis("vane.turn");
        match reasons[..] {
            [] => assert!(ready, "it comes to the vane"),
            [Reason::OtherPose { axis, .. }] => assert!(!ready && axis == turn, "{reasons:?}"),
            _ => panic!("{reasons:?}"),
        }
        assert_eq!(hall.go("3").is_ok(), ready);
    }
}

#[test]
fn what_an_interlock_asks_of_a_rig_is_asked_of_where_it_stands() {
    let interlock = "[[interlock]]\nname = \"lamp up\"\nguards = [\"boom.reach\"]\notherwise = \"stop\"\n\
                     needs = { axis = \"lamp.height\", above = 4.0 }\n";
    let mut hall = elsewhere(interlock, 3.5, 0.0);
    let reasons = hall.standby("1");
    assert!(matches!(reasons[..], [Reason::Interlock { .. }]), "{reasons:?}");
    assert_eq!(elsewhere(interlock, 4.5, 0.0).standby("1"), []);
    assert_eq!(elsewhere("", 3.5, 0.0).standby("1"), []);
}

/// What somebody did who calls the list in any order and takes every skip.
#[derive(Default)]
struct Disorder {
    /// Cues that went past a rig that stood elsewhere; that did not, since they would come too near.
    passed: usize,
    kept: usize,
}

fn disorder(seed: u64, did: &mut Disorder) {
    let (head, cues) = (HEAD.to_owned() + "tick = 0.01\n", crossings());
    let mut all = files(&cues);
    all[0].1 = &head;
    let mut hall = Hall::open(show_of(&all));
    hall.arm();
    let (stage, mut chance) = (Stage::new(&hall.show), Chance::new(seed));
    let numbers: Vec<String> = hall.show.cues.iter().map(|cue| cue.number.to_string()).collect();
    for _ in 0..100 {
        match (chance.uniform() * 10.0) as u32 {
            0 => _ = hall.ask(Verb::Hold { cue: None }),
            1 => {
                hall.press_stop();
                hall.run(2.5);
                hall.ask(Verb::Reset).ok();
                hall.run(0.6);
            }
            2 | 3 => {
                hall.ask(Verb::Resume { cue: None }).ok();
                if let Some(one) = hall.status.running.first().copied().filter(|one| one.rate == 0.0) {
                    hall.ask(Verb::Return { cue: one.cue, held: true }).ok();
                }
            }
            4 => {
                let cue = hall.cue(&numbers[(chance.uniform() * 12.0) as usize]);
                if hall.ask(Verb::Preset { cue, held: false }).is_ok() {
                    hall.run(0.5);
                    hall.ask(Verb::Go { cue: None }).ok();
                    run(&mut hall, &stage, 5.0);
                }
            }
            _ => {
                hall.ask(Verb::Resume { cue: None }).ok();
                let number = &numbers[(chance.uniform() * 12.0) as usize];
                let reasons = standby(&mut hall, number);
                let near = |reason: &Reason| matches!(reason, Reason::NearElsewhere { .. });
                did.kept += usize::from(reasons.iter().any(near));
                let aside = hall.status.standby.first().is_some_and(|entry| entry.aside.is_some());
                did.passed += usize::from(hall.go(number).is_ok() && aside);
            }
        }
        run(&mut hall, &stage, chance.between(0.1, 3.0));
    }
}

fn run(hall: &mut Hall, stage: &Stage, seconds: f64) {
    for tick in 0..(seconds / hall.show.settings.tick.seconds()) as usize {
        hall.tick(&[]);
        if tick % 10 == 0 {
            assert_eq!(too_near(&hall.show, stage, &told(hall)), None, "tick {}", hall.status.tick);
        }
    }
}

#[test]
fn a_list_that_is_called_in_any_order_brings_nothing_too_near() {
    let mut did = Disorder::default();
    (0..2).for_each(|seed| disorder(seed, &mut did));
    assert!(did.passed > 5 && did.kept > 5, "{} passed, {} did not", did.passed, did.kept);
}
