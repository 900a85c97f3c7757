//! The time to standstill that is told in every tick is kept by a stop in the next, whatever the groups are about then.
//!
//! Three rails side by side. The boom and the lamp are bound to each other, so that they brake on one clock; the far cart has one of its
//! own.

use std::sync::Arc;

use crate::hall::ideal::Ideal;
use crate::hall::show_of;
use bellwire::engine::*;
use bellwire::proof;
use bellwire::show::Show;

fn show() -> Show {
    let rig = |at: &str, along: &str, start: f64| {
        format!(
            "kind = \"machine\"\nat = {at}\n[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [-1.0, 16.0]\nstart = {start:?}\n\
             speed = 1.0\nacceleration = 1.0\njerk = 2.0\ntolerance = 0.01\njoint = {{ slide = \"{along}\", at = [0.0, 0.0, 0.0] }}\n\
             bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n"
        )
    };
    let cue = |number: &str, rig: &str, to: f64, time: &str| {
        format!(
            "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n\
             move = [{{ rig = \"{rig}\", to = {{ way = {to:?} }}{time} }}]\n"
        )
    };
    let cues =
        cue("1", "boom", 4.0, ", time = 6.0") + &cue("2", "far", 5.5, "") + &cue("3", "lamp", 1.0, ", time = 5.0");
    show_of(&[
        ("show.toml", "[show]\nname = \"Told\"\nmargin = 0.3\nreact = 0.1\nguard = 0.0\n"),
        ("rigs/boom.toml", &rig("[0.0, 0.0, 1.5]", "x", 0.0)),
        ("rigs/far.toml", &rig("[0.0, 9.0, 0.0]", "x", 0.0)),
        ("rigs/lamp.toml", &rig("[0.0, 0.0, 0.0]", "z", 5.0)),
        ("cues/all.toml", &cues),
    ])
}

/// What is asked for, and at which tick.
fn requests(show: &Show) -> Vec<(u64, Verb)> {
    let cue = |number: &str| show.find_cue(&number.parse().unwrap()).unwrap();
    let standby = |number: &str| Verb::Standby { cues: [cue(number)].into_iter().collect(), skip: true };
    let go = |number: &str| Verb::Go { cue: Some(cue(number)) };
    vec![
        (10, standby("1")),
        (20, go("1")),
        (700, standby("2")),
        (710, go("2")),
        (1000, Verb::Master { value: 0.6 }),
        (1400, Verb::Master { value: 1.0 }),
        (1700, Verb::Hold { cue: None }),
        (2400, Verb::Resume { cue: None }),
        (3300, standby("3")),
        (3310, go("3")),
        (3700, Verb::Hold { cue: Some(cue("3")) }),
        (3760, Verb::Resume { cue: Some(cue("3")) }),
    ]
}

#[test]
fn a_stop_takes_no_longer_than_was_told_in_the_tick_before() {
    let show = Arc::new(show());
    let plan = Arc::new(proof::prove(&show).plan);
    let mut running = Ideal::new(&show, &plan);
    running.run(200);
    running.tick(&[Verb::Arm]);
    let tick = show.settings.tick.seconds();
    let mut asked = requests(&show).into_iter().peekable();
    let (mut stops, mut least_left) = (0, f64::INFINITY);
    for now in 0..5000 {
        let verbs: Vec<Verb> =
            std::iter::from_fn(|| asked.next_if(|(at, _)| *at == now)).map(|(_, verb)| verb).collect();
        let told = running.tick(&verbs).stop_bound;
        // Denser where something has just been asked for.
        if now % 40 > 8 && now % 5 != 0 {
            continue;
        }
        let mut branch = running.clone();
        branch.stop.generations[1] += 1;
        let mut ticks = 0;
        while !branch.at_rest() || ticks == 0 {
            branch.tick(&[]);
            ticks += 1;
            assert!(f64::from(ticks) * tick < told + 2.5 * tick, "at {now}: told {told} s");
        }
        stops += usize::from(ticks > 10);
        if ticks > 10 {
            least_left = least_left.min(told - f64::from(ticks) * tick);
        }
    }
    assert!(asked.next().is_none());
    // What is told is not far from what is taken, either.
    assert!(stops > 1000 && least_left < 0.01, "{stops} stops, {least_left} s to spare at the least");
}
