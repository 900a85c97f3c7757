//! Stalls: a rig stops dead while others run on until the stop has brought them to rest. What was proved is held against
//! the running engine, with simulated rigs that are made to stall, and judged by geometry of the tests' own.

use crate::hall::apart::too_near;
use crate::hall::{Hall, show_of};
use bellwire::engine::Verb;
use bellwire::proof::prove;
use bellwire::rig::{Chance, SimFault};
use bellwire::show::{Code, Finding, Severity, Show};
use bellwire::stage::Stage;

const HEAD: &str = "[show]\nname = \"Stalls\"\nmargin = 0.3\nreact = 0.1\nguard = 0.1\n";
/// m, that simulated rigs may be off their setpoints.
const LAG: f64 = 0.02;

/// A machine on a slide, its ball or bar at the given height.
fn rig(at: &str, axis: &str, along: &str, start: f64, body: &str) -> String {
    format!(
        "kind = \"machine\"\nat = {at}\ndriver = {{ sim = {{ lag = 0.0, noise = 0.0, backlash = 0.0 }} }}\n\
         [[axis]]\nname = \"{axis}\"\nunit = \"m\"\ntravel = [-10.0, 10.0]\nstart = {start:?}\n\
         speed = 1.0\nacceleration = 1.0\njerk = 2.0\ntolerance = 0.001\nlag_limit = 0.1\n\
         joint = {{ slide = \"{along}\", at = [0.0, 0.0, 0.0] }}\nbodies = [{body}]\n"
    )
}

const BALL: &str = "{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }";
const BAR: &str = "{ capsule = { from = [-0.5, 0.0, 0.0], to = [0.5, 0.0, 0.0], radius = 0.2 } }";

fn cue(number: &str, more: &str, moves: &[(&str, &str, f64, f64)]) -> String {
    let moves = moves
        .iter()
        .map(|(rig, axis, to, time)| format!("{{ rig = \"{rig}\", to = {{ {axis} = {to:?} }}, time = {time:?} }}"));
    let moves: Vec<String> = moves.collect();
    format!("[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{more}\nmove = [{}]\n", moves.join(", "))
}

/// The boom is drawn away in 14 s, and the lamp comes down where it was.
fn away_and_down(more: &str) -> Show {
    let cues = cue("1", "", &[("boom", "reach", 4.0, 14.0)]) + &cue("2", more, &[("lamp", "height", 1.0, 6.0)]);
    show_of(&[
        ("show.toml", HEAD),
        ("rigs/boom.toml", &rig("[0.0, 0.0, 1.5]", "reach", "x", 0.0, BAR)),
        ("rigs/lamp.toml", &rig("[0.0, 0.0, 0.0]", "height", "z", 5.0, BALL)),
        ("cues/all.toml", &cues),
    ])
}

/// Two wagons on one track in one cue, the second `gap` m behind the first.
fn convoy(gap: f64) -> Show {
    let cues = cue("1", "", &[("lead", "way", 8.0, 11.0), ("tail", "way", 8.0 - gap, 11.0)]);
    show_of(&[
        ("show.toml", HEAD),
        ("rigs/lead.toml", &rig("[0.0, 0.0, 0.0]", "way", "x", 0.0, BALL)),
        ("rigs/tail.toml", &rig("[0.0, 0.0, 0.0]", "way", "x", -gap, BALL)),
        ("cues/all.toml", &cues),
    ])
}

fn warnings(show: &Show) -> Vec<Finding> {
    prove(show).findings.into_iter().filter(|finding| finding.severity != Severity::Note).collect()
}

/// Runs until all stands, or for 20 s; how near the rigs really came to each other, of the times they were too near.
fn nearest(hall: &mut Hall) -> Option<f64> {
    let mut judged = Show::clone(&hall.show);
    judged.settings.margin -= LAG;
    let stage = Stage::new(&judged);
    let mut nearest: Option<f64> = None;
    for tick in 0..10_000 {
        hall.tick(&[]);
        if tick % 10 == 0 {
            let pose: Vec<f64> = hall.status.axes.iter().map(|axis| axis.position.unwrap()).collect();
            if let Some((_, found, _)) = too_near(&judged, &stage, &pose) {
                nearest = Some(nearest.map_or(found, |nearest| nearest.min(found)));
            }
            if tick > 100 && hall.status.stopped.as_ref().is_some_and(|stopped| stopped.standstill) {
                break;
            }
        }
    }
    nearest
}

/// Cue 2 is fired `go` s into cue 1, and an axis stalls `stall` s into it.
fn stalled(show: &Show, go: f64, stall: f64, axis: &str) -> Option<f64> {
    let mut hall = Hall::open(show.clone());
    hall.arm();
    hall.fire("1");
    let axis = hall.axis(axis);
    let stuck = SimFault::Stuck(axis);
    if stall < go {
        hall.run(stall);
        hall.faults.inject(stuck);
        hall.run(go - stall);
        hall.standby("2");
        // Refused, if the stall was noticed by then.
        hall.go("2").ok();
    } else {
        hall.run(go);
        hall.fire("2");
        hall.run(stall - go);
        hall.faults.inject(stuck);
    }
    nearest(&mut hall)
}

#[test]
fn a_start_that_is_safe_from_stalls_is_so_whatever_stalls_and_when() {
    let open = away_and_down("");
    let [overlap] = &warnings(&open)[..] else { panic!("{:?}", warnings(&open)) };
    let line = overlap.fix.as_ref().unwrap().split_once(": ").unwrap().1.to_owned();
    let show = away_and_down(&line);
    assert_eq!(warnings(&show), [], "the line that the check tells settles it");
    let past: f64 = line.split("past = ").nth(1).unwrap().trim_end_matches([' ', '}']).parse().unwrap();
    let mut chance = Chance::new(7);
    for case in 0..40 {
        let (go, axis) = (chance.between(past + 0.02, 13.0), ["boom.reach", "lamp.height"][case % 2]);
        let stall = chance.between((go - 1.0).max(0.1), go + 6.0);
        let found = stalled(&show, go, stall, axis);
        assert_eq!(found, None, "{axis} stalls {stall:.2} s into it, 2 fired {go:.2} s into it");
    }
}

#[test]
fn a_start_that_is_clear_but_not_safe_from_stalls_comes_too_near_in_the_engine_as_the_check_says() {
    let proof = prove(&away_and_down(""));
    let map = &proof.plan.maps.list[0];
    let (clear, safe) = (map.clear()[0].from, map.stall_safe_from().unwrap());
    assert!(safe - clear > 0.5, "{clear} {safe}");
    let go = clear + 0.1;
    let show = away_and_down(&format!("needs = {{ cue = \"1\", past = {:?} }}", (10.0 * clear).ceil() / 10.0));
    let [stall] = &warnings(&show)[..] else { panic!("{:?}", warnings(&show)) };
    assert_eq!((stall.code, stall.severity), (Code::Stall, Severity::Warning));
    let near = (0..60).filter_map(|step| stalled(&show, go, go + 0.1 * f64::from(step), "boom.reach"));
    let near = near.min_by(f64::total_cmp).expect("some stall of the boom brings the lamp upon it");
    assert!(near < 0.2, "{near}");
}

#[test]
fn a_convoy_that_passes_is_safe_wherever_one_stalls_and_one_that_does_not_is_not() {
    let came_near = |gap: f64| {
        let show = convoy(gap);
        let cases = (0..25).flat_map(|step| [("lead.way", step), ("tail.way", step)]);
        let near = cases.filter_map(|(axis, step)| {
            let mut hall = Hall::open(show.clone());
            hall.arm();
            hall.fire("1");
            hall.run(0.1 + 0.42 * f64::from(step));
            let axis = hall.axis(axis);
            hall.faults.inject(SimFault::Stuck(axis));
            nearest(&mut hall)
        });
        (warnings(&show), near.min_by(f64::total_cmp))
    };
    let (told, near) = came_near(1.3);
    let [stall] = &told[..] else { panic!("{told:?}") };
    let near = near.expect("the tail runs into the lead");
    assert_eq!((stall.code, &stall.rigs), (Code::Stall, &vec!["lead".to_owned(), "tail".to_owned()]));
    assert!(stall.value.unwrap() <= near + LAG, "{stall:?} told, {near} found");
    let (told, near) = came_near(2.6);
    assert_eq!((told, near), (vec![], None));
}

/// Beside the two of [`away_and_down`] a heavy wagon rolls out from under the lamp for 24 s, and takes 3 s to brake. It is fired first.
fn beside_a_wagon(needs: [&str; 2]) -> Show {
    let wagon = rig("[0.0, 0.0, 0.3]", "way", "x", 0.0, BALL).replace(
        "speed = 1.0\nacceleration = 1.0\njerk = 2.0",
        "speed = 1.0\nacceleration = 0.1\njerk = 0.1\nstop_acceleration = 0.15\nstop_jerk = 0.3",
    );
    let cues = cue("1", "", &[("wagon", "way", -8.0, 24.0)])
        + &cue("2", needs[0], &[("boom", "reach", 4.0, 14.0)])
        + &cue("3", needs[1], &[("lamp", "height", 1.0, 6.0)]);
    show_of(&[
        ("show.toml", HEAD),
        ("rigs/boom.toml", &rig("[0.0, 0.0, 1.5]", "reach", "x", 0.0, BAR)),
        ("rigs/lamp.toml", &rig("[0.0, 0.0, 0.0]", "height", "z", 5.0, BALL)),
        ("rigs/wagon.toml", &wagon),
        ("cues/all.toml", &cues),
    ])
}

/// The three are fired one after the other, the boom `boom` s into the wagon's way and the lamp `lamp` s into the boom's, all at a
/// rate; an axis stalls so many s after that. `None` if a cue was refused.
fn three(show: &Show, rate: f64, [boom, lamp, stall]: [f64; 3], axis: &str) -> Option<Option<f64>> {
    let mut hall = Hall::open(show.clone());
    hall.arm();
    hall.ask(Verb::Master { value: rate }).unwrap();
    hall.fire("1");
    for (number, after) in [("2", boom), ("3", lamp)] {
        hall.run(after / rate);
        hall.standby(number);
        hall.go(number).ok()?;
    }
    hall.run(stall / rate);
    let axis = hall.axis(axis);
    hall.faults.inject(SimFault::Stuck(axis));
    Some(nearest(&mut hall))
}

/// The lamp would have stood in time beside the boom alone. At one rate with the wagon, beside which it must not stop short of its
/// line, it comes down upon the boom: the check tells that, and what parts the three, or starts the lamp late enough.
#[test]
fn a_stall_beside_a_further_cue_that_brakes_slowly_is_found_and_what_the_check_tells_settles_it() {
    let line = |finding: &Finding| finding.fix.as_ref().unwrap().split_once(": ").unwrap().1.to_owned();
    let [overlap] = &warnings(&away_and_down(""))[..] else { panic!("one overlap") };
    let alone = line(overlap).replace("cue = \"1\"", "cue = \"2\"");
    let show = beside_a_wagon(["", &alone]);
    let found = warnings(&show);
    let [stall] = &found[..] else { panic!("{found:#?}") };
    assert_eq!(stall.code, Code::Stall);
    assert!(
        stall.message.starts_with("cues 2 and 3 run together beside cue 1, which lengthens the brake"),
        "{stall:?}"
    );
    assert_eq!(stall.cues.iter().map(ToString::to_string).collect::<Vec<_>>(), ["2", "3", "1"]);
    let past =
        |line: &str| -> f64 { line.split("past = ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap() };
    let go = past(&alone) + 0.05;
    let near =
        (0..30).filter_map(|step| three(&show, 1.0, [8.0, go, 0.1 * f64::from(step)], "boom.reach").unwrap());
    let near = near.min_by(f64::total_cmp).expect("some stall of the boom brings the lamp upon it");
    assert!(near < 0.2 && stall.value.unwrap() <= near + LAG, "{near}, {stall:?}");

    let fix = stall.fix.as_ref().unwrap();
    let ways: Vec<&str> = fix.split(", or ").collect();
    let done = "{ cue = \"1\", state = \"done\" }";
    assert!(ways[0].starts_with("add to the needs of cue 3") && past(ways[0]) > go + 1.0, "{fix}");
    assert!(ways[1..].contains(&&*format!("write in cue 2: needs = {done}")), "{fix}");
    let late = format!("needs = {{ cue = \"2\", past = {:?} }}", past(ways[0]));
    let settled = [beside_a_wagon(["", &late]), beside_a_wagon([&format!("needs = {done}"), &alone])];
    assert_eq!(settled.each_ref().map(warnings), [vec![], vec![]]);
    let (mut chance, mut together) = (Chance::new(11), 0);
    for case in 0..60 {
        let boom = chance.between(0.1, 20.0);
        let lamp = past(&late) + 0.02 + if case % 3 == 0 { 0.0 } else { chance.between(0.0, 3.0) };
        let times = [boom, lamp, chance.between(0.0, 6.0)];
        let rate = [1.0, 1.0, 0.8, 0.5][case % 4];
        let axis = ["boom.reach", "boom.reach", "lamp.height", "wagon.way"][(case / 4) % 4];
        let Some(found) = three(&settled[0], rate, times, axis) else { continue };
        assert_eq!(found, None, "{axis} stalls, {times:?} at the rate {rate}");
        together += 1;
    }
    assert!(together > 40, "{together}");
}
