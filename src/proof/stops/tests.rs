//! What is told of stops, on a cart that goes 2 m up in 5 s.

use super::*;
use crate::proof::{Proof, Rule, prove};
use crate::show::fixture::show_of;
use crate::show::{CueId, InterlockId, Truth};

const CART: &str = r#"
kind = "cart"
at = [0.0, 0.0, 0.0]
[[axis]]
name = "travel"
unit = "m"
travel = [-2.0, 3.0]
start = 0.0
speed = 1.0
acceleration = 1.0
jerk = 4.0
joint = { slide = "x", at = [0.0, 0.0, 0.0] }
"#;

fn show(settings: &str, cues: &str) -> Show {
    let head = format!("[show]\nname = \"Stops\"\nmargin = 0.1\nreact = 0.1\n{settings}");
    show_of(&[("show.toml", head.as_str()), ("rigs/cart.toml", CART), ("cues/all.toml", cues)])
}

fn cue(more: &str, to: f64, time: f64) -> String {
    format!(
        "[[cue]]\nnumber = \"1\"\nname = \"1\"\n{more}\nmove = [{{ rig = \"cart\", to = {{ travel = {to:?} }}, time = \
         {time:?} }}]\n"
    )
}

fn lock(direction: &str, needs: &str) -> String {
    format!(
        "[[input]]\nname = \"gate\"\nmax_age = 0.5\n[[interlock]]\nname = \"lock\"\nguards = [\"cart.travel\"]\n\
         direction = \"{direction}\"\nneeds = {needs}\notherwise = \"stop\"\n"
    )
}

fn onward(show: &Show) -> (Proof, Vec<Onward>) {
    let proof = prove(show);
    let spans = look_onward_thoroughly(show, &proof.plan, CueId::new(0), &proof.stops[0]);
    (proof, spans)
}

fn ways(span: &Onward) -> [&Going; 2] {
    match &span.then {
        Then::Stands { resume, back, .. } => [resume, back],
        Then::Ended => panic!("{span:?}"),
    }
}

const LOCK: Rule = Rule::Interlock(InterlockId(0));

#[test]
fn a_cue_that_nothing_guards_goes_on_and_back_from_everywhere() {
    let (proof, spans) = onward(&show("", &cue("", 2.0, 5.0)));
    let [stands] = &spans[..] else { panic!("{spans:?}") };
    assert_eq!(ways(stands), [&Going::FREE, &Going::FREE]);
    let duration = proof.plan.cues[0].duration;
    assert_eq!((stands.from, stands.to, stands.rests[1]), (0.0, duration, duration));
}

#[test]
fn the_way_back_is_shut_from_where_an_interlock_of_its_direction_is_false_there_or_farther_back() {
    // Half-way is 2.5 s into it.
    for (needs, shut_below) in [("below = 1.0", false), ("above = 1.0", true)] {
        let (_, spans) =
            onward(&show(&lock("down", &format!("{{ axis = \"cart.travel\", {needs} }}")), &cue("", 2.0, 5.0)));
        let goings: Vec<[&Going; 2]> = spans.iter().filter(|span| span.then != Then::Ended).map(ways).collect();
        assert!(goings.iter().all(|[on, _]| **on == Going::FREE), "{spans:?}");
        let shut: Vec<Option<f64>> = goings
            .iter()
            .filter_map(|[_, back]| match back {
                Going::Shut(Shut::False { rule: LOCK, leaf: Some((_, Truth::False)), time }) => Some(*time),
                Going::Shut(_) => panic!("{back:?}"),
                Going::Open(given) => {
                    assert!(given.is_empty());
                    None
                }
            })
            .collect();
        match (shut_below, &shut[..]) {
            // From below 1 m it is false where it stands, from above as the way comes there.
            (true, [None, Some(time)]) => assert!((time - 2.5).abs() < 1e-3, "{time}"),
            (false, [None]) => {
                let open = spans.iter().find(|span| span.then != Then::Ended && ways(span)[1].is_open()).unwrap();
                assert!((open.rests[1] - 2.5).abs() < 0.1 && open.rests[0] < 0.1, "{spans:?}");
            }
            _ => panic!("{needs}: {spans:?}"),
        }
    }
}

#[test]
fn what_no_pose_decides_is_given_and_told_once() {
    let needs = "{ all = [{ input = \"gate\" }, { any = [{ axis = \"cart.travel\", above = 5.0 }, { input = \"gate\" }] }] }";
    let show = show(&lock("down", needs), &cue("needs = { input = \"gate\" }", 2.0, 5.0));
    let (_, spans) = onward(&show);
    for going in ways(&spans[0]) {
        let Going::Open(given) = going else { panic!("{going:?}") };
        assert_eq!(given.len(), 1, "{given:?}");
    }
}

#[test]
fn where_neither_way_is_open_the_preset_to_the_start_is_told_with_its_time() {
    let (_, spans) = onward(&show("", &cue("needs = { axis = \"cart.travel\", below = 1.0 }", 2.0, 5.0)));
    let stuck = spans.iter().find(|span| span.rests[0] > 2.5 && span.then != Then::Ended).unwrap();
    let Then::Stands { resume, back, preset: Some(PresetBack::Found { takes, given }) } = &stuck.then else {
        panic!("{spans:?}")
    };
    assert!(!resume.is_open() && !back.is_open() && given.is_empty());
    // At half speed; from the farthest place it is no longer than the whole way.
    assert!(*takes > 2.0 && *takes < 10.0, "{takes}");
    // Before that it goes back, and no preset is looked for.
    assert!(matches!(&spans[0].then, Then::Stands { resume: Going::Shut(_), back: Going::Open(_), preset: None }));
    // A lock on the way down shuts the preset too.
    let lock = lock("down", "{ axis = \"cart.travel\", below = -1.0 }");
    let (_, spans) = onward(&show(&lock, &cue("needs = { axis = \"cart.travel\", below = 1.0 }", 2.0, 5.0)));
    let shut = |span: &&Onward| {
        matches!(&span.then, Then::Stands { preset: Some(PresetBack::Shut(_) | PresetBack::Barred(_)), .. })
    };
    assert!(spans.iter().any(|span| shut(&span)), "{spans:?}");
}

/// Held against fresh plans at times between those of the table: the bound that is told of them.
#[test]
fn no_stop_between_two_of_the_table_goes_beyond_the_bound() {
    for (to, time) in [(2.0, 5.0), (2.0, 3.2), (0.3, 2.0), (-1.5, 9.0)] {
        let show = show("", &cue("", to, time));
        let (proof, _) = onward(&show);
        let (plan, stops) = (&proof.plan.cues[0], &proof.stops[0]);
        for look in 0..400 {
            let asked = plan.duration * (f64::from(look) + 0.37) / 400.0;
            let stop = stops.at(&show, plan, asked).unwrap();
            assert!(stop.takes <= stops.longest(), "{stop:?}");
            assert!(stop.rests - asked <= stops.way(asked, asked), "{stop:?}");
        }
        let (worst, looks) = stops.worst_tick(&show, plan, &crate::proof::Alone).unwrap();
        assert_eq!(looks, (plan.duration / 0.002).floor() as usize + 1);
        assert!(worst.takes <= stops.longest() && worst.takes >= 0.99 * stops.worst().unwrap().takes);
    }
}
