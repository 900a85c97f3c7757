//! Which cues go by one clock: no group of the running engine has a member with which the proof of stalls does not count.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::hall;
use crate::hall::crossing::{cue, files};
use crate::hall::ideal::Ideal;
use crate::hall::show_of;
use bellwire::engine::Verb;
use bellwire::proof::{Plan, Sharing, prove};
use bellwire::rig::Chance;
use bellwire::show::{CueId, CueState, Show};

/// Two carts, each on a rail of its own, clear of all else.
fn cart(lane: f64) -> String {
    format!(
        "kind = \"cart\"\nat = [0.0, {lane:?}, 0.0]\n[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [-1.0, 6.0]\nstart = 0.0\n\
         speed = 1.0\nacceleration = 1.0\njerk = 2.0\ntolerance = 0.01\njoint = {{ slide = \"x\", at = [0.0, 0.0, 0.0] }}\n\
         bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n"
    )
}

/// Cues of rigs that cross each other's ways and of some that do not, a good part of them follows.
fn tangled(seed: u64) -> Show {
    let mut chance = Chance::new(seed);
    let rigs = [
        ("boom", "reach", 4.0),
        ("lamp", "height", 5.0),
        ("vane", "turn", 180.0),
        ("east", "way", 5.0),
        ("west", "way", 5.0),
    ];
    let mut cues = String::new();
    for number in 1..=14 {
        let (rig, axis, most) = rigs[(chance.uniform() * 5.0) as usize];
        let from = ["start", "end"][usize::from(chance.uniform() < 0.4)];
        let leader = (number as f64 - 1.0 - 3.0 * chance.uniform()).ceil().max(1.0);
        let follows = number > 1 && chance.uniform() < 0.45;
        let wait = chance.between(0.0, 5.0);
        let after = format!("after = {{ cue = \"{leader}\", from = \"{from}\", wait = {wait:.1} }}");
        let more = if follows { after.as_str() } else { "" };
        cues += &cue(&number.to_string(), more, rig, axis, most * chance.uniform(), 6.0 + 6.0 * chance.uniform());
    }
    let carts = [cart(12.0), cart(24.0)];
    let mut files = files(&cues);
    files.extend([("rigs/east.toml", carts[0].as_str()), ("rigs/west.toml", carts[1].as_str())]);
    show_of(&files)
}

/// By the cues that are held with one: what runs in its group.
fn group(ideal: &Ideal, of: CueId) -> BTreeSet<CueId> {
    let mut held = ideal.clone();
    if held.ask(Verb::Hold { cue: Some(of) }).is_err() {
        return BTreeSet::new();
    }
    let running = held.run(2).running;
    let holding = running.iter().filter(|running| running.state == CueState::Holding);
    holding.map(|running| running.cue).collect()
}

/// The most of a group that was seen, and each that the proof does not count with.
fn unexpected(show: Show, seed: u64) -> (usize, usize, Vec<String>) {
    let plan = Arc::new(prove(&show).plan);
    let (sharing, show) = (Sharing::new(&show, &plan), Arc::new(show));
    let (mut chance, mut ideal) = (Chance::new(seed), Ideal::before(&show, &plan, CueId::new(0), true));
    let (mut several, mut most, mut wrong) = (0, 0, Vec::new());
    let mut next = 0;
    for _ in 0..600 {
        let go = CueId::new(next);
        if next < show.cues.len() && show.cue(go).after.is_some() {
            next += 1;
        } else if next < show.cues.len() && chance.uniform() < 0.15 {
            let standby = ideal.ask(Verb::Standby { cues: [go].into_iter().collect(), skip: false });
            next += usize::from(standby.is_ok() && ideal.ask(Verb::Go { cue: Some(go) }).is_ok());
        }
        let running = ideal.run((chance.between(0.02, 0.4) / 0.002) as u64).running;
        for one in running.iter().map(|running| running.cue) {
            let group = group(&ideal, one);
            (several, most) = (several + usize::from(group.len() > 2), most.max(group.len()));
            check(&show, &plan, &sharing, (one, &group), &mut wrong);
        }
    }
    (several, most, wrong)
}

fn check(
    show: &Show,
    plan: &Plan,
    sharing: &Sharing,
    (one, group): (CueId, &BTreeSet<CueId>),
    wrong: &mut Vec<String>,
) {
    let told = |cues: &[CueId]| sharing.further(cues).into_iter().collect::<BTreeSet<_>>();
    let number = |cue: CueId| show.cue(cue).number.to_string();
    let beside_one = told(&[one]);
    for &other in group.iter().filter(|&&other| other != one) {
        if !beside_one.contains(&other) {
            wrong.push(format!("{} with {}", number(one), number(other)));
        }
        let linked = !plan.maps.clear_all_over(one, other);
        let beside_two = told(&[one, other]);
        for &third in group.iter().filter(|&&third| linked && third != one && third != other) {
            if !beside_two.contains(&third) {
                wrong.push(format!("{} and {} with {}", number(one), number(other), number(third)));
            }
        }
    }
}

#[test]
fn no_group_of_the_engine_has_a_member_that_the_proof_does_not_expect() {
    let (mut several, mut most) = (0, 0);
    let demo = || hall::read(&hall::folder("demo-show"));
    let shows = (0..24).map(|seed| (tangled(seed), seed)).chain((0..2).map(|seed| (demo(), seed)));
    for (show, seed) in shows {
        let name = show.name.clone();
        let (more, found, wrong) = unexpected(show, seed);
        assert!(wrong.is_empty(), "{name}, seed {seed}: {wrong:?}");
        (several, most) = (several + more, most.max(found));
    }
    assert!(several > 200 && most >= 4, "{several} groups of more than two, {most} in the largest");
}
