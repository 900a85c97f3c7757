//! How far the brakes of the running engine go, held against what the check tells of them: where there is hardly any reserve, so that
//! what a search finds comes out in steps, and goes farther now and then.

use std::sync::Arc;

use crate::hall::ideal::Ideal;
use crate::hall::{self, show_of};
use bellwire::engine::{StopCalls, Verb};
use bellwire::motion::{Course, Path, Regime, Track, change_at_once, no_farther};
use bellwire::proof::{Plan, courses, prove};
use bellwire::rig::Chance;
use bellwire::show::{CueId, Show};

/// A ball on a rail, whose stopping limits are above its running ones by less than a tenth.
fn cart(chance: &mut Chance, start: f64, way: f64) -> String {
    let speed = way / chance.between(1.5, 6.0);
    let acceleration = speed / chance.between(0.3, 2.3);
    let jerk = acceleration / chance.between(0.1, 1.1);
    let stop = [acceleration, jerk].map(|limit| limit * chance.between(1.0, 1.1));
    format!(
        "kind = \"cart\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [-9.0, 19.0]\nstart = {start:?}\n\
         speed = {speed:?}\nacceleration = {acceleration:?}\njerk = {jerk:?}\nstop_acceleration = {:?}\nstop_jerk = {:?}\n\
         joint = {{ slide = \"x\", at = [0.0, 0.0, 0.0] }}\nbodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n",
        stop[0], stop[1]
    )
}

/// Two carts on one rail, the first of which would run into the second did that not go on: so the two share a rate.
fn convoy(seed: u64) -> (Arc<Show>, Arc<Plan>) {
    let mut chance = Chance::new(seed);
    let ways = [chance.between(1.5, 5.0), chance.between(1.0, 5.0)];
    let carts = [cart(&mut chance, 0.0, ways[0]), cart(&mut chance, 2.0, ways[1])];
    let cue = |number: usize, to: f64| {
        format!(
            "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\nmove = [{{ rig = \"cart{number}\", to = {{ way = {to:?} }} }}]\n"
        )
    };
    let show = show_of(&[
        ("show.toml", "[show]\nname = \"Convoy\"\nmargin = 0.3\nreact = 0.1\nguard = 0.0\n"),
        ("rigs/cart1.toml", &carts[0]),
        ("rigs/cart2.toml", &carts[1]),
        ("cues/all.toml", &(cue(1, ways[0]) + &cue(2, 2.0 + ways[1]))),
    ]);
    let mut plan = prove(&show).plan;
    assert!(!plan.maps.list[0].cells.is_empty(), "seed {seed}: the two are clear of each other all over");
    // It is about their brakes: they may start beside each other at any time.
    plan.maps.list[0].blocked.clear();
    (Arc::new(show), Arc::new(plan))
}

/// Of the cues under way, from where they are.
fn under_way(ideal: &Ideal, plan: &Plan) -> Vec<(CueId, f64)> {
    let running = ideal.engine.status().running.iter();
    running
        .map(|running| (running.cue, running.time))
        .filter(|(cue, time)| *time < plan.cue(*cue).duration)
        .collect()
}

/// A brake of several cues goes no farther than the shortest standard brake that all of them bear, by which the check bounds it.
#[test]
fn no_brake_of_the_engine_goes_farther_than_the_shortest_standard_one_even_where_its_best_does() {
    let (mut plain_is_farther, mut longer) = (0, Vec::new());
    for seed in 0..120 {
        let (show, plan) = convoy(seed);
        let mut chance = Chance::new(seed + 1000);
        let mut ideal = Ideal::before(&show, &plan, CueId::new(0), true);
        let begin = |ideal: &mut Ideal, cue: usize| {
            let cue = CueId::new(cue);
            let cues = [cue].into_iter().collect();
            ideal.ask(Verb::Standby { cues, skip: false }).unwrap();
            ideal.ask(Verb::Go { cue: Some(cue) }).unwrap();
        };
        begin(&mut ideal, 0);
        ideal.run(1 + (chance.between(0.0, 0.5) * plan.cues[0].duration / 0.002) as u64);
        begin(&mut ideal, 1);
        while under_way(&ideal, &plan).len() == 2 {
            ideal.run(1 + (chance.between(0.0, 0.1) / 0.002) as u64);
            let now = under_way(&ideal, &plan);
            if now.len() < 2 {
                break;
            }
            let both: Vec<Course<Track>> =
                now.iter().flat_map(|&(cue, time)| courses(&show, plan.cue(cue), time)).collect();
            let plain = change_at_once(&both, 1.0, 0.0, 0.0, Regime::Stopping, 1);
            let Some(standard) = no_farther(&both, 1.0, None) else { continue };
            if plain.is_some_and(|plain| plain.distance() <= 1.01 * standard.distance()) {
                continue;
            }
            plain_is_farther += 1;
            let mut stopped = ideal.clone();
            stopped.stop = StopCalls { generations: stopped.stop.generations.map(|one| one + 1) };
            stopped.run(1);
            while !stopped.at_rest() {
                stopped.run(1);
            }
            for (axis, (cue, time)) in now.iter().enumerate() {
                let step = &plan.cue(*cue).moves[0];
                let bound = step.at(&step.axes[0], time + standard.distance()).position;
                let stands = stopped.setpoints[axis].position;
                if stands > bound + 1e-9 {
                    longer.push((seed, *time, stands - bound));
                }
            }
        }
    }
    assert!(plain_is_farther >= 5, "{plain_is_farther} brakes would go farther");
    assert_eq!(longer, [], "of {plain_is_farther}: by so many m beyond the bound");
}

/// Two carts in one cue, each on a rail of its own.
fn duet(seed: u64) -> Show {
    let mut chance = Chance::new(seed);
    let ways = [chance.between(1.5, 5.0), chance.between(1.0, 5.0)];
    let carts = ways.map(|way| {
        let tolerance = format!("tolerance = {:?}\njoint = ", 0.01 * way * chance.uniform());
        cart(&mut chance, 0.0, way).replace("joint = ", &tolerance)
    });
    let moves = [0, 1].map(|cart| format!("{{ rig = \"cart{}\", to = {{ way = {:?} }} }}", cart + 1, ways[cart]));
    show_of(&[
        ("show.toml", "[show]\nname = \"Duet\"\nmargin = 0.3\nreact = 0.1\nguard = 0.0\n"),
        ("rigs/cart1.toml", &carts[0]),
        ("rigs/cart2.toml", &carts[1].replace("at = [0.0, 0.0, 0.0]\n[[", "at = [0.0, 9.0, 0.0]\n[[")),
        ("cues/all.toml", &format!("[[cue]]\nnumber = \"1\"\nname = \"1\"\nmove = [{}]\n", moves.join(", "))),
    ])
}

/// Every axis along a curve has travel for that and for a fifth of its tolerance.
fn with_hardly_any_travel(mut show: Show) -> Show {
    let plan = prove(&show).plan;
    for path in plan.cue(CueId::new(0)).moves.iter().flat_map(|step| &step.axes) {
        let Some(curve) = &path.curve else { continue };
        let (way, axis) = (curve.positions(0.0, curve.duration()), &mut show.axes[path.axis.index()]);
        axis.travel = [way.low - axis.tolerance / 5.0, way.high + axis.tolerance / 5.0];
    }
    show
}

/// Fires a cue with its rigs somewhere within their tolerances, at some rate, and stops copies of it: how often, and those that go
/// farther along the cue's own time than the table of its stops tells.
fn stops_of(show: Show, cue: CueId, seed: u64) -> (usize, Vec<String>) {
    let proof = prove(&show);
    let (stops, show, plan) = (&proof.stops[cue.index()], Arc::new(show), Arc::new(proof.plan.clone()));
    let (mut chance, mut looked, mut longer) = (Chance::new(seed), 0, Vec::new());
    for case in 0..4 {
        let mut pose = plan.cue(cue).start.clone();
        for (position, axis) in pose.iter_mut().zip(&show.axes) {
            let [low, high] = axis.travel;
            *position = (*position + axis.tolerance * chance.between(-0.99, 0.99)).clamp(low, high);
        }
        let mut ideal = Ideal::standing(&show, &plan, cue, true, &pose);
        let value = if case == 0 { chance.between(0.4, 1.0) } else { 1.0 };
        ideal.tick(&[Verb::Master { value }]);
        ideal.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false }).unwrap();
        if ideal.ask(Verb::Go { cue: Some(cue) }).is_err() {
            // From there it would leave its travel.
            continue;
        }
        // The brake of the first instant is worked out meanwhile.
        ideal.run(12);
        while let [(_, time)] = under_way(&ideal, &plan)[..] {
            let mut stopped = ideal.clone();
            stopped.stop = StopCalls { generations: stopped.stop.generations.map(|one| one + 1) };
            // Of its last tick, in which it comes to rest, nothing is told any longer.
            let mut stands = time;
            while let Some(running) = stopped.run(1).running.first().filter(|_| !stopped.at_rest()) {
                stands = running.time;
            }
            if stands > time + stops.way(time, time) + 1e-9 {
                longer.push(format!(
                    "seed {seed}, case {case}: from {time} to {stands} s, {:?}",
                    stops.way(time, time)
                ));
            }
            looked += 1;
            ideal.run(1 + (chance.between(0.0, 0.3) / 0.002) as u64);
        }
    }
    (looked, longer)
}

#[test]
fn no_stop_of_a_cue_by_itself_goes_farther_than_its_table_tells_from_wherever_its_rigs_stood() {
    let (mut looked, mut longer) = (0, Vec::new());
    for seed in 0..40 {
        let (looks, found) = stops_of(duet(seed), CueId::new(0), seed);
        looked += looks;
        longer.extend(found);
    }
    // And along curves, that a rig follows past its marks; also where errors have to fade sooner, for want of travel.
    let mut along_curves = 0;
    for seed in 0..8 {
        let show = hall::read(&hall::folder("cues/through-marks"));
        let show = if seed % 2 == 0 { show } else { with_hardly_any_travel(show) };
        let (looks, found) = stops_of(show, CueId::new(0), seed);
        (looked, along_curves) = (looked + looks, along_curves + looks);
        longer.extend(found);
    }
    assert!(looked > 1000 && along_curves > 100, "{looked} stops, {along_curves} along curves");
    assert!(longer.is_empty(), "{} of {looked}: {:#?}", longer.len(), &longer[..longer.len().min(5)]);
}
