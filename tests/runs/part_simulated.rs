//! A show of which a part is simulated: only a real pose counts for a real rig.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};

use crate::hall;
use crate::hall::Hall;
use crate::hall::bench::Bench;
use crate::hall::carts::{EAST, WEST, cue, east};
use crate::hall::real::Real;
use bellwire::engine::*;
use bellwire::rig::Driver;
use bellwire::show::{CueState, Nanos, RigId, Truth};

/// A show of these rig files, of which `real` are not simulated; a rig of `absent` is not in the room while it is.
fn driven(settings: &str, cues: &str, rigs: &[(&str, &str)], real: &[&str], absent: &[&str]) -> Hall {
    let show = format!("[show]\nname = \"Part\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n{settings}");
    let written = rigs.iter().map(|(name, file)| {
        let mark = if absent.contains(name) { "absent = true\n[[axis]]" } else { "[[axis]]" };
        (format!("rigs/{name}.toml"), file.replacen("[[axis]]", mark, 1))
    });
    let written: Vec<(String, String)> = written.collect();
    let mut files: Vec<(&str, &str)> = vec![("show.toml", &show), ("cues/all.toml", cues)];
    files.extend(written.iter().map(|(path, file)| (path.as_str(), file.as_str())));
    let show = hall::show_of(&files);
    let is_real: Vec<bool> = show.rigs.iter().map(|rig| real.contains(&rig.name.as_str())).collect();
    let mut hall = Hall::driven_by(show, |rig, driver| match is_real[rig.index()] {
        true => Box::new(Real(driver)),
        false => driver,
    });
    hall.arm();
    hall
}

/// Two carts; west guards east, or a cue of east needs it. What is simulated is not in the room.
fn hall(settings: &str, needs: &str, real: &[&str]) -> Hall {
    let cues = cue("1", &format!("{needs}\n{}", east(2.0, 5.0)));
    driven(settings, &cues, &[("east", EAST), ("west", WEST)], real, &["east", "west"])
}

const INTERLOCK: &str = "[[interlock]]\nname = \"west clear\"\nguards = [\"east.travel\"]\n\
    needs = { axis = \"west.travel\", below = 0.5 }\notherwise = \"stop\"\n";
const NEEDS: &str = "needs = { axis = \"west.travel\", below = 0.5 }";

fn rig(hall: &Hall, name: &str) -> RigId {
    hall.rig(name)
}

#[test]
fn a_simulated_pose_satisfies_no_interlock_of_a_real_rig() {
    let mut hall = hall(INTERLOCK, "", &["east"]);
    assert_eq!(hall.status.interlocks[0], Truth::Unknown);
    let reasons = hall.standby("1");
    let simulated = Reason::Simulated { rig: rig(&hall, "west"), real: rig(&hall, "east") };
    assert!(reasons.contains(&simulated), "{reasons:?}");
    assert!(matches!(reasons[0], Reason::Interlock { truth: Truth::Unknown, .. }), "{reasons:?}");
    assert!(hall.go("1").is_err());
}

#[test]
fn a_simulated_pose_satisfies_no_needs_of_a_cue_that_moves_a_real_rig() {
    let mut hall = hall("", NEEDS, &["east"]);
    let reasons = hall.standby("1");
    let simulated = Reason::Simulated { rig: rig(&hall, "west"), real: rig(&hall, "east") };
    assert!(reasons.contains(&simulated), "{reasons:?}");
    assert!(hall.go("1").is_err());
}

#[test]
fn what_guards_simulated_rigs_counts_every_pose_and_a_real_pose_counts_for_all() {
    for real in [&[][..], &["west"], &["east", "west"]] {
        for (settings, needs) in [(INTERLOCK, ""), ("", NEEDS)] {
            let mut hall = hall(settings, needs, real);
            hall.fire("1");
            hall.run_until("1", CueState::Done, 6.0);
        }
    }
}

#[test]
fn which_rigs_are_simulated_is_told_at_arming_and_shown() {
    let part = hall("", "", &["east"]);
    let told = EventKind::PartSimulated { simulated: 1, rigs: 2 };
    assert!(part.events.iter().any(|event| event.kind == told));
    let shown: Vec<bool> = part.status.rigs.iter().map(|rig| rig.simulated).collect();
    assert_eq!(shown, part.show.rig_ids().map(|id| part.show.rig(id).name == "west").collect::<Vec<_>>());
    for real in [&[][..], &["east", "west"]] {
        let whole = hall("", "", real);
        assert!(!whole.events.iter().any(|event| matches!(event.kind, EventKind::PartSimulated { .. })));
        assert!(whole.status.rigs.iter().all(|rig| rig.simulated == real.is_empty()));
    }
}

#[test]
fn the_bench_runs_on_rigs_that_say_they_are_real() {
    let mut bench = Bench::driven_by(|_, driver| Box::new(Real(driver)));
    bench.fire(0);
    bench.run(3.5);
    assert_eq!(bench.status.cues[0], CueState::Done);
    assert!(bench.status.rigs.iter().all(|rig| !rig.simulated));
}

const HEAD: &str = hall::carts::HEAD;

/// A lamp on the cart east.
const LAMP: &str = r#"
kind = "lamp"
at = [0.0, 0.0, 0.8]
on = "east.travel"
[[axis]]
name = "pan"
unit = "deg"
travel = [-90.0, 90.0]
start = 0.0
speed = 60.0
acceleration = 120.0
jerk = 600.0
joint = { turn = "z", at = [0.0, 0.0, 0.0] }
bodies = [{ capsule = { from = [0.0, 0.0, 0.0], to = [0.2, 0.0, 0.0], radius = 0.05 } }]
"#;

fn unplaced(hall: &Hall, name: &str, real: &str) -> Reason {
    Reason::Unplaced { rig: hall.rig(name), real: hall.rig(real) }
}

#[test]
fn no_real_body_moves_while_a_simulated_machine_may_stand_anywhere() {
    let carts = [("east", EAST), ("west", WEST)];
    let cues = cue("1", &east(2.0, 5.0));
    let mut hall = driven("", &cues, &carts, &["east"], &[]);
    // In the simulation west stands just where the list has it.
    assert_eq!(hall.standby("1"), [unplaced(&hall, "west", "east")]);
    assert!(hall.go("1").is_err());
    let mut hall = driven("", &cues, &carts, &["east"], &["west"]);
    hall.fire("1");
    hall.run_until("1", CueState::Done, 6.0);
}

#[test]
fn a_machine_that_is_driven_is_in_the_room_whatever_its_file_says() {
    let cues = cue("1", &east(2.0, 5.0));
    let mut hall = driven("", &cues, &[("east", EAST), ("west", WEST)], &["east", "west"], &["west"]);
    hall.fire("1");
    hall.run_until("1", CueState::Done, 6.0);
}

#[test]
fn a_cue_that_moves_a_simulated_machine_along_is_no_better_for_a_real_one() {
    let both = "move = [{ rig = \"east\", to = { travel = 2.0 }, time = 5.0 }, { rig = \"west\", to = { travel = 1.0 }, time = 5.0 }]";
    let mut hall = driven("", &cue("1", both), &[("east", EAST), ("west", WEST)], &["east"], &[]);
    assert_eq!(hall.standby("1"), [unplaced(&hall, "west", "east")]);
}

#[test]
fn what_moves_no_body_is_in_nobodys_way() {
    let zoom = "move = [{ rig = \"head\", to = { zoom = 50.0 }, time = 3.0 }]";
    let rigs = [("east", EAST), ("west", WEST), ("head", HEAD)];
    let mut hall = driven("", &cue("1", zoom), &rigs, &["head"], &[]);
    hall.fire("1");
    hall.run_until("1", CueState::Done, 4.0);
}

#[test]
fn what_rides_on_a_simulated_machine_stands_nobody_knows_where() {
    let pan = "move = [{ rig = \"lamp\", to = { pan = 50.0 }, time = 3.0 }]";
    let rigs = [("east", EAST), ("lamp", LAMP)];
    for absent in [&[][..], &["east"]] {
        let mut hall = driven("", &cue("1", pan), &rigs, &["lamp"], absent);
        assert_eq!(hall.standby("1"), [unplaced(&hall, "east", "lamp")], "{absent:?}");
    }
}

/// Real until it is told otherwise, as when a crew unplugs a machine between two cues.
struct Unplugged(Box<dyn Driver>, Arc<AtomicBool>);

impl Driver for Unplugged {
    fn simulated(&self) -> bool {
        self.1.load(Relaxed)
    }

    fn read(&mut self, now: Nanos, axes: &mut [AxisReport]) -> RigReport {
        RigReport { simulated: self.simulated(), ..self.0.read(now, axes) }
    }

    fn write(&mut self, now: Nanos, command: RigCommand, setpoints: &[Setpoint]) {
        self.0.write(now, command, setpoints);
    }
}

#[test]
fn a_stopped_cue_goes_neither_on_nor_back_past_a_machine_that_is_simulated_by_then() {
    let unplugged = Arc::new(AtomicBool::new(false));
    let show = hall::carts::show("", &cue("1", &east(2.0, 5.0)));
    let west = show.rig_ids().find(|&rig| show.rig(rig).name == "west");
    let mut hall = Hall::driven_by(show, |rig, driver| match Some(rig) == west {
        true => Box::new(Unplugged(driver, unplugged.clone())),
        false => Box::new(Real(driver)),
    });
    hall.arm();
    hall.fire("1");
    hall.run(2.0);
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Disarm).unwrap();
    unplugged.store(true, Relaxed);
    hall.run(0.5);
    hall.ask(Verb::Reset).unwrap();
    hall.arm();
    assert_eq!(hall.standby("1"), [unplaced(&hall, "west", "east")]);
    let one = hall.cue("1");
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = hall.ask(Verb::Return { cue: one, held: false })
    else {
        panic!("ready to go back")
    };
    assert_eq!(reasons.reasons[..], [unplaced(&hall, "west", "east")]);
}
