//! Presets, and the list placed anew: the ways back to where a show goes on from.

use crate::hall::carts::{cue, east, hall, standby_of, west};
use crate::hall::{CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::show::CueState;

/// Three cues that leave both carts elsewhere, and the head turned.
fn cues() -> String {
    let head = "move = [{ rig = \"head\", to = { pan = 30.0 }, time = 2.0 }]";
    cue("1", &east(1.0, 2.5)) + &cue("2", &west(-1.0, 2.5)) + &cue("3", head) + &cue("4", &east(0.5, 2.5))
}

fn preset_to(hall: &mut Hall, number: &str) -> Result<Accepted, Refusal> {
    let cue = hall.cue(number);
    hall.ask(Verb::Preset { cue, held: false })
}

/// The preset's own state is in no list: it runs as long as something does.
fn run_to_end(hall: &mut Hall, seconds: f64) {
    for _ in 0..(seconds / hall.show.settings.tick.seconds()) as u64 {
        hall.tick(&[]);
        if hall.status.running.is_empty() {
            return;
        }
    }
    panic!("still running: {:?}", hall.status.running);
}

/// Per tick, which rigs moved, by their first axis.
fn rigs_that_move(hall: &mut Hall) -> Vec<&'static str> {
    let names = ["east.travel", "west.travel", "head.pan"];
    let before = names.map(|name| hall.setpoint(name));
    hall.tick(&[]);
    names
        .into_iter()
        .zip(before)
        .filter(|(name, before)| hall.setpoint(name) != *before)
        .map(|(name, _)| name)
        .collect()
}

#[test]
fn a_preset_brings_every_rig_to_where_the_cue_starts() {
    let mut hall = hall("", &cues());
    let Ok(Accepted::Standby { ready: true, .. }) = preset_to(&mut hall, "4") else { panic!("not ready") };
    assert_eq!(hall.ask(Verb::Go { cue: None }), Ok(Accepted::Done));
    run_to_end(&mut hall, 60.0);
    for (axis, expected) in [("east.travel", 1.0), ("west.travel", -1.0), ("head.pan", 30.0)] {
        assert!((hall.setpoint(axis) - expected).abs() < 1e-9, "{axis}: {}", hall.setpoint(axis));
    }
    hall.run(1.0);
    let accepted = standby_of(&mut hall, &["4"], true);
    assert!(matches!(accepted, Accepted::Standby { ready: true, .. }), "{accepted:?}");
    hall.go("4").unwrap();
    hall.run_until("4", CueState::Done, 3.0);
}

#[test]
fn one_rig_moves_at_a_time_in_the_order_in_which_the_list_moved_them() {
    let mut hall = hall("", &cues());
    preset_to(&mut hall, "4").unwrap();
    let way = hall.status.way.clone().expect("a way is shown");
    let names: Vec<&str> = way.legs.iter().map(|leg| hall.show.rig(leg.rig).name.as_str()).collect();
    assert_eq!(names, ["east", "west", "head"]);
    assert!(way.legs.windows(2).all(|two| two[0].until < two[1].from && two[0].from < two[0].until));
    hall.ask(Verb::Go { cue: None }).unwrap();
    let mut order: Vec<&str> = Vec::new();
    while !hall.status.running.is_empty() {
        let moving = rigs_that_move(&mut hall);
        assert!(moving.len() <= 1, "{moving:?} move together");
        if let Some(rig) = moving.first()
            && order.last() != Some(rig)
        {
            order.push(rig);
        }
    }
    assert_eq!(order, ["east.travel", "west.travel", "head.pan"]);
    assert_eq!(hall.status.way, None, "a way that was gone is no longer shown");
}

#[test]
fn a_preset_is_as_slow_as_a_return() {
    let mut hall = hall("return_rate = 0.25", &cues());
    preset_to(&mut hall, "2").unwrap();
    hall.ask(Verb::Go { cue: None }).unwrap();
    let (mut before, mut fastest) = (hall.setpoint("east.travel"), 0.0_f64);
    while !hall.status.running.is_empty() {
        hall.tick(&[]);
        let now = hall.setpoint("east.travel");
        fastest = fastest.max((now - before).abs() / hall.show.settings.tick.seconds());
        before = now;
    }
    // A metre at 1 m/s and 1 m/s² peaks at 0.8 m/s or so; a quarter of that.
    assert!(fastest > 0.15 && fastest <= 0.25, "{fastest} m/s");
}

#[test]
fn where_a_pose_is_wrong_a_preset_is_offered_and_mends_it() {
    let mut hall = hall("", &cues());
    let Accepted::Standby { reasons, .. } = standby_of(&mut hall, &["4"], true) else { panic!() };
    assert!(reasons.reasons.iter().any(Reason::offers_preset), "{reasons:?}");
    assert!(!Reason::NotArmed.offers_preset());
}

#[test]
fn a_preset_to_where_everything_stands_is_refused_as_needless() {
    let mut hall = hall("", &cues());
    let one = hall.cue("1");
    assert_eq!(hall.refused(Verb::Preset { cue: one, held: false }), [Reason::AlreadyThere { cue: one }]);
}

#[test]
fn no_preset_while_a_cue_runs_and_no_cue_while_a_preset_runs() {
    let mut hall = hall("", &cues());
    hall.fire("1");
    hall.run(0.5);
    let four = hall.cue("4");
    assert!(matches!(hall.refused(Verb::Preset { cue: four, held: false })[..], [Reason::CueRunning { .. }]));
    hall.run_until("1", CueState::Done, 3.0);
    preset_to(&mut hall, "4").unwrap();
    hall.run(0.3);
    hall.ask(Verb::Go { cue: None }).unwrap();
    hall.run(0.5);
    let preset = hall.show.preset_id();
    let reasons = hall.standby("2");
    assert!(
        reasons.iter().any(|reason| matches!(reason, Reason::CueRunning { cue, .. } if *cue == preset)),
        "{reasons:?}"
    );
}

#[test]
fn a_preset_holds_resumes_and_stops_like_a_cue() {
    let mut hall = hall("", &cues());
    preset_to(&mut hall, "4").unwrap();
    hall.ask(Verb::Go { cue: None }).unwrap();
    hall.run(1.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(2.0);
    assert!(!hall.setpoints_move());
    assert_eq!(hall.status.running[0].state, CueState::Holding);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run(1.0);
    assert!(hall.setpoints_move());
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.run(1.0);
    assert!(!hall.setpoints_move(), "nothing goes on by itself");
    // From where it was stopped, a new one.
    preset_to(&mut hall, "4").unwrap();
    hall.ask(Verb::Go { cue: None }).unwrap();
    run_to_end(&mut hall, 60.0);
    assert!((hall.setpoint("west.travel") + 1.0).abs() < 1e-9);
}

#[test]
fn an_interlock_forbids_a_preset_as_it_forbids_a_cue() {
    let lock = "[[input]]\nname = \"gate\"\nmax_age = 0.5\n[[interlock]]\nname = \"gate\"\nguards = [\"west\"]\n\
                needs = { input = \"gate\" }\notherwise = \"stop\"\n";
    let mut hall = hall(lock, &cues());
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = preset_to(&mut hall, "4") else { panic!("ready") };
    assert!(matches!(reasons.reasons[..], [Reason::Interlock { .. }]), "{reasons:?}");
    assert!(hall.ask(Verb::Go { cue: None }).is_err());
}

#[test]
fn a_hand_drives_a_preset_only_while_it_keeps_asking() {
    let mut hall = hall("", &cues());
    let cue = hall.cue("4");
    let hold = |hall: &mut Hall, seconds: f64| {
        for _ in 0..(seconds / 0.3) as u32 {
            hall.ask(Verb::Preset { cue, held: true }).unwrap();
            hall.run(0.3);
        }
    };
    hold(&mut hall, 1.2);
    assert!(hall.setpoints_move());
    hall.run(2.0);
    assert!(!hall.setpoints_move(), "the hand has let go");
    // Another may not take it up while it is the first one's; a caller never.
    assert!(hall.ask_as(OTHER, Verb::Preset { cue, held: true }).is_err());
    let mut request = hall.request(CALLER, Verb::Preset { cue, held: true });
    request.role = Role::Caller;
    let answers = hall.tick(&[request]);
    assert!(matches!(&answers[0].outcome, Err(refusal) if matches!(refusal.reasons[..], [Reason::Role { .. }])));
    hold(&mut hall, 30.0_f64.min(6.0));
    assert!(hall.setpoints_move());
    hall.ask(Verb::ClientLost { leased: false }).unwrap();
    hall.run(2.0);
    assert!(!hall.setpoints_move(), "a hand that is gone moves nothing");
}

#[test]
fn the_list_is_placed_after_a_restart_and_nothing_moves() {
    let mut hall = hall("", &cues());
    let three = hall.cue("3");
    assert_eq!(hall.ask(Verb::Place { cue: three }), Ok(Accepted::Done));
    assert!(!hall.setpoints_move());
    assert_eq!(
        ["1", "2", "3", "4"].map(|number| hall.state(number)),
        [CueState::Done, CueState::Done, CueState::Idle, CueState::Idle]
    );
    // The rigs are not where the list would have left them: a preset, and then the cue without a skip.
    let reasons = hall.standby("3");
    assert!(reasons.iter().all(Reason::offers_preset) && !reasons.is_empty(), "{reasons:?}");
    preset_to(&mut hall, "3").unwrap();
    hall.ask(Verb::Go { cue: None }).unwrap();
    run_to_end(&mut hall, 60.0);
    hall.fire("3");
}

#[test]
fn the_list_is_not_placed_while_anything_runs_or_is_stopped() {
    let mut hall = hall("", &cues());
    hall.fire("1");
    hall.run(0.5);
    let three = hall.cue("3");
    assert!(matches!(hall.refused(Verb::Place { cue: three })[..], [Reason::CueRunning { .. }]));
    hall.press_stop();
    hall.run_to_standstill();
    assert!(hall.refused(Verb::Place { cue: three }).contains(&Reason::Stopped));
}
