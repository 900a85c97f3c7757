//! Presets are proved before they are offered: the order that is clear is taken, and where there is none that is said.

use crate::hall::apart::too_near;
use crate::hall::carts::{EAST, cue, east, show, standby_of, west};
use crate::hall::{self, Hall, show_of};
use bellwire::engine::*;
use bellwire::proof::{Forbids, Near, Plan, PresetPlanner, Progress, prove, who_goes};
use bellwire::rig::SimFault;
use bellwire::show::{CueId, CueState, InputId, Nanos, RigId, Show};
use bellwire::stage::Stage;

const HEAD: &str = "[show]\nname = \"One rail\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n";

/// Two carts on one rail: west stands at the left end of it when the show opens, east at 0.
fn one_rail(cues: &str) -> Hall {
    let west = EAST.replace("start = 0.0", "start = -2.0");
    let files = [("rigs/east.toml", EAST), ("rigs/west.toml", &west), ("show.toml", HEAD), ("cues/all.toml", cues)];
    let mut hall = Hall::open(show_of(&files));
    hall.arm();
    hall
}

fn preset_to(hall: &mut Hall, number: &str) -> Result<Accepted, Refusal> {
    let cue = hall.cue(number);
    hall.ask(Verb::Preset { cue, held: false })
}

fn legs(hall: &Hall) -> Vec<String> {
    let way = hall.status.way.clone().expect("a way is shown");
    way.legs.iter().map(|leg| hall.show.rig(leg.rig).name.clone()).collect()
}

fn run_to_end(hall: &mut Hall, mut look: impl FnMut(&Hall)) {
    for _ in 0..400_000 {
        hall.tick(&[]);
        if hall.status.running.is_empty() {
            return;
        }
        look(hall);
    }
    panic!("still running: {:?}", hall.status.running);
}

/// The list moves east first, out of the way; but from the end of the list back to its top west must go first.
fn there_and_back() -> String {
    cue("1", &east(2.5, 4.0)) + &cue("2", &west(1.0, 5.0)) + &cue("3", &east(2.0, 2.0)) + &cue("4", &west(0.5, 2.0))
}

#[test]
fn an_order_that_would_collide_is_not_taken() {
    let mut hall = one_rail(&there_and_back());
    for number in ["1", "2"] {
        hall.fire(number);
        hall.run_until(number, CueState::Done, 6.0);
    }
    // Neither has moved before cue 1: by the list east would go first, and into west.
    let Ok(Accepted::Standby { ready: true, .. }) = preset_to(&mut hall, "1") else { panic!("not ready") };
    assert_eq!(legs(&hall), ["west", "east"]);
    hall.ask(Verb::Go { cue: None }).unwrap();
    let mut nearest = f64::INFINITY;
    run_to_end(&mut hall, |hall| {
        nearest = nearest.min(hall.setpoint("east.travel") - hall.setpoint("west.travel") - 0.6);
    });
    assert!(nearest >= 0.1, "{nearest} m");
    assert_eq!((hall.setpoint("east.travel"), hall.setpoint("west.travel")), (0.0, -2.0));
}

#[test]
fn where_the_list_itself_is_clear_its_order_is_kept() {
    let mut hall = one_rail(&there_and_back());
    preset_to(&mut hall, "3").unwrap();
    assert_eq!(legs(&hall), ["east", "west"], "as 1 and 2 moved them");
}

/// East has to come back to 0, and west to the left end of the rail, past it.
fn changed_places() -> Hall {
    let Hall { show, .. } = one_rail(&there_and_back());
    Hall::standing(Show::clone(&show), vec![-2.0, 1.0])
}

#[test]
fn where_no_order_is_clear_the_bodies_that_forbid_it_are_told() {
    let mut hall = changed_places();
    let first = hall.cue("1");
    let refused = hall.refused(Verb::Preset { cue: first, held: false });
    let [Reason::NoWay { cue, bar }, ..] = refused[..] else { panic!("{refused:?}") };
    let Forbids::Near(Near { parties, distance, margin }) = bar.by else { panic!("{bar:?}") };
    assert_eq!((cue, bar.rig, margin), (first, hall.rig("west"), 0.1));
    assert_eq!(parties.map(|party| party.name(&hall.show)), ["west/travel/0", "east/travel/0"]);
    assert_eq!(distance, 0.0, "it would run into it");
    assert!(matches!(hall.refused(Verb::Preset { cue: first, held: true })[0], Reason::NoWay { .. }));
    hall.run(1.0);
    assert!(!hall.setpoints_move());
    // On standby the cue says so too, and no preset is offered.
    let Accepted::Standby { ready: false, .. } = standby_of(&mut hall, &["1"], false) else { panic!() };
    hall.run(0.1);
    let reasons = &hall.status.standby[0].reasons.reasons;
    assert!(matches!(reasons[0], Reason::NoWay { .. }) && reasons[1].offers_preset(), "{reasons:?}");
    assert!(hall.go("1").is_err());
}

/// East goes back only with the gate closed and west out of the way; the list takes west there, and `last` it moves west.
fn guarded(last: f64) -> Hall {
    let interlock = "[[input]]\nname = \"gate\"\nmax_age = 0.5\n[[interlock]]\nname = \"way clear\"\n\
                     guards = [\"east.travel\"]\ndirection = \"down\"\notherwise = \"stop\"\n\
                     needs = { all = [{ input = \"gate\" }, { axis = \"west.travel\", above = 1.0 }] }\n";
    let head = "move = [{ rig = \"head\", to = { pan = 30.0 }, time = 2.0 }]";
    let cues =
        cue("1", &west(2.0, 5.0)) + &cue("2", &east(-1.0, 4.0)) + &cue("3", &west(last, 5.0)) + &cue("4", head);
    let mut hall = Hall::open(show(interlock, &cues));
    hall.arm();
    hall
}

#[test]
fn an_order_that_an_interlock_permits_is_taken_and_carried_to_its_end() {
    let mut hall = guarded(2.5);
    // The list moved west last; but with west where it stands the interlock would stop east.
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = preset_to(&mut hall, "4") else { panic!("ready") };
    assert_eq!(legs(&hall), ["west", "east"]);
    // What no pose decides is named.
    let gate = |reason: &Reason| matches!(reason, Reason::Interlock { truth: Truth::Unknown, .. });
    assert!(reasons.reasons.len() == 1 && gate(&reasons.reasons[0]), "{reasons:?}");
    hall.sensors = vec![(InputId::new(0), true)];
    hall.run(0.3);
    assert_eq!(hall.ask(Verb::Go { cue: None }), Ok(Accepted::Done));
    run_to_end(&mut hall, |_| {});
    assert!(hall.status.stopped.is_none());
    assert_eq!((hall.setpoint("east.travel"), hall.setpoint("west.travel")), (-1.0, 2.5));
}

#[test]
fn where_interlocks_permit_no_order_the_condition_that_fails_is_told() {
    let mut hall = guarded(0.5);
    hall.sensors = vec![(InputId::new(0), true)];
    let fourth = hall.cue("4");
    let refused = hall.refused(Verb::Preset { cue: fourth, held: false });
    let [Reason::NoWay { bar, .. }] = refused[..] else { panic!("{refused:?}") };
    let Forbids::Interlock { stands, .. } = bar.by else { panic!("{bar:?}") };
    assert_eq!((bar.rig, stands), (hall.rig("east"), Some(0.5)));
    let said = bellwire::wire::words::Words::new(&hall.show, &|_| String::new()).reason(&refused[0]);
    let expected = "no preset: east cannot go, since interlock 'way clear' forbids it: then west.travel is not above 1.0 m \
                    (0.5 m)";
    assert_eq!(said, expected);
}

#[test]
fn a_way_is_worked_out_a_portion_each_tick_before_it_is_offered() {
    let show = hall::read(&hall::folder("demo-show"));
    let pose = prove(&show).plan.cue(show.find_cue(&"19".parse().unwrap()).unwrap()).start.clone();
    let mut hall = Hall::standing(show, pose);
    standby_of(&mut hall, &["5"], true);
    let mut ticks = 0;
    while hall.status.standby[0].reasons.reasons.iter().any(Reason::withholds_preset) {
        let reason = hall.status.standby[0].reasons.reasons[0];
        assert_eq!(reason, Reason::WayInWork { cue: hall.cue("5") }, "before all other reasons");
        hall.tick(&[]);
        ticks += 1;
        assert!(ticks < 500, "{reason:?}");
    }
    assert!(ticks > 1, "it takes more than one tick's portion");
    assert!(hall.status.standby[0].reasons.reasons.iter().any(Reason::offers_preset));
    // What was worked out is there at once.
    assert!(matches!(preset_to(&mut hall, "5"), Ok(Accepted::Standby { ready: true, .. })));
}

#[test]
fn a_rig_that_has_moved_since_takes_the_way_off_standby_and_it_is_worked_out_anew() {
    let mut hall = one_rail(&there_and_back());
    hall.fire("1");
    hall.run_until("1", CueState::Done, 6.0);
    let Ok(Accepted::Standby { ready: true, .. }) = preset_to(&mut hall, "1") else { panic!("not ready") };
    assert_eq!(legs(&hall), ["east"]);
    hall.run(0.5);
    // West, which was to stay where it is, drifts.
    let west = hall.axis("west.travel");
    hall.faults.inject(SimFault::Drift(west, 0.1));
    hall.run(0.5);
    hall.faults.heal();
    assert!(hall.status.standby.is_empty(), "{:?}", hall.status.standby);
    assert!(hall.ask(Verb::Go { cue: None }).is_err());
    hall.press_stop();
    hall.run_to_standstill();
    hall.ask(Verb::Reset).unwrap();
    hall.run(0.5);
    let Ok(Accepted::Standby { ready: true, .. }) = preset_to(&mut hall, "1") else { panic!("not ready") };
    assert_eq!(legs(&hall), ["east", "west"]);
}

/// A mulberry of our own: the same numbers on every machine.
struct Chance(u32);

impl Chance {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x6d2b_79f5);
        let mut mixed = (self.0 ^ self.0 >> 15).wrapping_mul(1 | self.0);
        mixed ^= mixed.wrapping_add((mixed ^ mixed >> 7).wrapping_mul(61 | mixed));
        (mixed ^ mixed >> 14) as usize % end
    }
}

/// Each rig where some cue finds it; and a cue to go to.
fn somewhere(show: &Show, plan: &Plan, chance: &mut Chance) -> (Vec<f64>, CueId) {
    let mut pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
    for rig in show.rig_ids() {
        let found = &plan.cue(CueId::new(chance.below(show.cues.len()))).start;
        for axis in show.rig(rig).axis_ids() {
            pose[axis.index()] = found[axis.index()];
        }
    }
    (pose, CueId::new(chance.below(show.cues.len())))
}

/// The rigs one after the other to where the cue finds them: the first place that is too near by the tests' own code.
fn sampled(
    show: &Show,
    stage: &Stage,
    mut pose: Vec<f64>,
    goal: &[f64],
    order: impl Iterator<Item = (RigId, Option<usize>)>,
) -> Option<(String, f64, f64)> {
    for (rig, via) in order {
        let mut corner = pose.clone();
        if let Some(mark) = via {
            show.rig(rig).marks[mark].pose.iter().for_each(|(axis, at)| corner[axis.index()] = *at);
        }
        for (ends, steps) in [(&corner[..], if via.is_some() { 60 } else { 0 }), (goal, 60)] {
            let begin = pose.clone();
            for step in 1..=steps {
                for axis in show.rig(rig).axis_ids().map(|axis| axis.index()) {
                    pose[axis] = begin[axis] + f64::from(step) / f64::from(steps) * (ends[axis] - begin[axis]);
                }
                if let Some(found) = too_near(show, stage, &pose) {
                    return Some(found);
                }
            }
        }
    }
    None
}

#[test]
fn no_order_that_is_found_comes_too_near_by_other_geometry_and_orders_that_are_not_do() {
    let mut show = hall::read(&hall::folder("demo-show"));
    let (plan, stage) = (prove(&show).plan, Stage::new(&show));
    // Of bodies alone.
    show.interlocks.clear();
    let mut planner = PresetPlanner::new(&show);
    let mut chance = Chance(20);
    let (mut found, mut barred, mut other_order, mut by_marks) = (0, 0, 0, 0);
    for _ in 0..120 {
        let (pose, to) = somewhere(&show, &plan, &mut chance);
        if too_near(&show, &stage, &pose).is_some() {
            continue;
        }
        let goal = &plan.cue(to).start;
        let preferred = who_goes(&show, &plan, &pose, to);
        planner.begin(&pose, goal, &preferred);
        let straight = || preferred.iter().map(|&rig| (rig, None));
        if planner.finish(&show) == Progress::Barred {
            barred += 1;
            assert!(sampled(&show, &stage, pose, goal, straight()).is_some(), "the list's order is clear");
            continue;
        }
        found += 1;
        let legs: Vec<_> = planner.legs().map(|leg| (leg.rig, leg.via)).collect();
        let near = sampled(&show, &stage, pose.clone(), goal, legs.iter().copied());
        assert_eq!(near, None, "{legs:?}");
        by_marks += usize::from(legs.iter().any(|(_, via)| via.is_some()));
        if !legs.iter().copied().eq(straight()) {
            other_order += 1;
            assert!(sampled(&show, &stage, pose, goal, straight()).is_some(), "the list's order is clear");
        }
    }
    println!("{found} found, of them {other_order} in another order, {by_marks} through marks; {barred} barred");
    assert!(found >= 40 && other_order >= 5 && by_marks >= 1, "{found}, {other_order}, {by_marks}");
}

#[test]
fn every_preset_that_is_offered_is_accepted_and_keeps_its_margins_to_its_end() {
    let mut show = hall::read(&hall::folder("demo-show"));
    // Whatever the tick: with a long one many can be carried to their ends.
    show.settings.tick = Nanos::from_seconds(0.02);
    let (proof, stage) = (prove(&show), Stage::new(&show));
    let (mut planner, mut chance) = (PresetPlanner::new(&show), Chance(33));
    let free = Show { interlocks: Vec::new(), ..show.clone() };
    let mut unguarded = PresetPlanner::new(&free);
    let (mut run, mut by_interlock) = (0, 0);
    while run < 24 {
        let (pose, to) = somewhere(&show, &proof.plan, &mut chance);
        let order = who_goes(&show, &proof.plan, &pose, to);
        let stage_machines = ["skiff", "tide"].map(|name| show.rigs.iter().position(|rig| rig.name == name));
        let guarded = stage_machines.iter().all(|at| order.contains(&RigId::new(at.unwrap())));
        if order.is_empty() || too_near(&show, &stage, &pose).is_some() || (run >= 4 && !guarded) {
            continue;
        }
        let goal = &proof.plan.cue(to).start;
        planner.begin(&pose, goal, &order);
        if planner.finish(&show) == Progress::Barred {
            continue;
        }
        unguarded.begin(&pose, goal, &order);
        unguarded.finish(&free);
        by_interlock += usize::from(!planner.legs().eq(unguarded.legs()));
        run += 1;
        let mut hall = Hall::standing_in(show.clone(), proof.clone(), pose);
        let asked = hall.ask(Verb::Preset { cue: to, held: false });
        hall.run(0.6);
        assert_eq!(hall.ask(Verb::Go { cue: None }), Ok(Accepted::Done), "to {to:?}: {asked:?}");
        let mut pose: Vec<f64> = Vec::new();
        run_to_end(&mut hall, |hall| {
            assert_eq!(hall.status.stopped, None);
            if hall.status.tick % 4 == 0 {
                pose.clear();
                pose.extend(hall.status.axes.iter().map(|axis| axis.setpoint));
                assert_eq!(too_near(&hall.show, &stage, &pose), None, "to {to:?}");
            }
        });
    }
    println!("{by_interlock} in another order than without interlocks");
    assert!(by_interlock >= 2, "{by_interlock}");
}
