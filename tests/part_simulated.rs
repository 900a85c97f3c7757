//! A show of which a part is simulated: only a real pose counts for a real rig.

mod hall;

use bellwire::engine::*;
use bellwire::show::{CueState, RigId, Truth};
use hall::Hall;
use hall::bench::Bench;
use hall::carts::{EAST, WEST};
use hall::real::Real;

/// Two carts; west guards east, or a cue of east needs it. `real` names those that are not simulated.
fn hall(settings: &str, needs: &str, real: &[&str]) -> Hall {
    let show = format!("[show]\nname = \"Part\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n{settings}");
    let cues = format!(
        "[[cue]]\nnumber = \"1\"\nname = \"East\"\n{needs}\n\
         move = [{{ rig = \"east\", to = {{ travel = 2.0 }}, time = 5.0 }}]\n"
    );
    let show = hall::show_of(&[
        ("show.toml", &show),
        ("cues/all.toml", &cues),
        ("rigs/east.toml", EAST),
        ("rigs/west.toml", WEST),
    ]);
    let name = |rig: RigId| show.rig(rig).name.clone();
    let is_real: Vec<bool> = show.rig_ids().map(|rig| real.contains(&name(rig).as_str())).collect();
    let mut hall = Hall::driven_by(show, |rig, driver| match is_real[rig.index()] {
        true => Box::new(Real(driver)),
        false => driver,
    });
    hall.arm();
    hall
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
