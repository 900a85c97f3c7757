//! The cue list planned, on small shows.

use super::*;
use crate::motion::Profile;
use crate::show::fixture::show_of;
use crate::show::{Limits, Severity};

const CART: &str = r#"
kind = "cart"
at = [0.0, 0.0, 0.0]
[[axis]]
name = "travel"
unit = "m"
travel = [-2.0, 2.0]
start = 0.5
speed = 0.5
acceleration = 0.5
jerk = 1.0
joint = { slide = "x", at = [0.0, 0.0, 0.0] }
"#;

const WHEEL: &str = r#"
kind = "revolve"
at = [0.0, 4.0, 0.0]
[[axis]]
name = "turn"
unit = "deg"
travel = [-10.0, 730.0]
start = 0.0
speed = 20.0
acceleration = 20.0
jerk = 40.0
joint = { turn = "z", at = [0.0, 0.0, 0.0] }
"#;

const HEAD: &str = r#"
kind = "head"
at = [0.0, 0.0, 0.5]
on = "cart.travel"
[[axis]]
name = "pan"
unit = "deg"
travel = [-90.0, 90.0]
start = 0.0
speed = 30.0
acceleration = 40.0
jerk = 120.0
joint = { turn = "z", at = [0.0, 0.0, 0.0] }
"#;

fn show(more: &str, cues: &str) -> Show {
    let head = format!("[show]\nname = \"Plans\"\nmargin = 0.1\nreact = 0.1\n{more}");
    show_of(&[
        ("show.toml", head.as_str()),
        ("rigs/cart.toml", CART),
        ("rigs/wheel.toml", WHEEL),
        ("rigs/head.toml", HEAD),
        ("cues/all.toml", cues),
    ])
}

fn cue(number: &str, rest: &str) -> String {
    format!("[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{rest}\n")
}

fn cart(to: f64, rest: &str) -> String {
    format!("move = [{{ rig = \"cart\", to = {{ travel = {to:?} }}{rest} }}]")
}

fn wheel(to: f64, rest: &str) -> String {
    format!("move = [{{ rig = \"wheel\", to = {{ turn = {to:?} }}{rest} }}]")
}

fn codes(proof: &Proof) -> Vec<Code> {
    proof.findings.iter().map(|finding| finding.code).collect()
}

fn only(proof: &Proof, code: Code) -> &Finding {
    assert_eq!(codes(proof), [code], "{:#?}", proof.findings);
    &proof.findings[0]
}

#[test]
fn each_cue_starts_where_the_list_leaves_the_rigs() {
    let cues = cue("1", &cart(1.5, ", time = 6.0"))
        + &cue("2", &wheel(90.0, ", time = 9.0"))
        + &cue("3", &cart(-0.25, ", by = true, time = 3.0"));
    let show = show("", &cues);
    let proof = prove(&show);
    assert!(proof.findings.is_empty(), "{:#?}", proof.findings);
    let at = |pose: &[f64]| {
        ["cart.travel", "wheel.turn"]
            .map(|name| pose[show.axis_ids().find(|&axis| show.axis_name(axis) == name).unwrap().index()])
    };
    let [one, two, three] = &proof.plan.cues[..] else { panic!() };
    assert_eq!((at(&one.start), at(&one.end)), ([0.5, 0.0], [1.5, 0.0]));
    assert_eq!((at(&two.start), at(&two.end)), ([1.5, 0.0], [1.5, 90.0]));
    assert_eq!((at(&three.start), at(&three.end)), ([1.5, 90.0], [1.25, 90.0]));
    let durations = proof.plan.cues.iter().map(|plan| plan.duration);
    assert!(durations.zip([6.0, 9.0, 3.0]).all(|(found, written)| (found - written).abs() < 1e-9));
}

/// 2 m at 0.5, 0.5, 1 take 5.5 s (double-S, Biagiotti and Melchiorri, 2008, section 3.4).
#[test]
fn a_move_that_is_too_fast_is_told_the_least_time() {
    let show = show("", &cue("1", &cart(-1.5, ", time = 5.4")));
    let proof = prove(&show);
    let finding = only(&proof, Code::TooFast);
    assert!((finding.value.unwrap() - 5.5).abs() < 1e-6);
    assert_eq!((finding.limit, &finding.axes[..]), (Some(5.4), &["cart.travel".to_owned()][..]));
    assert_eq!(finding.fix.as_deref(), Some("write time = 5.5 or more"));
}

#[test]
fn a_move_without_time_is_as_fast_as_it_can_be_and_noted() {
    let show = show("", &cue("1", &cart(-1.5, "")));
    let proof = prove(&show);
    assert_eq!(only(&proof, Code::Untimed).severity, Severity::Note);
    assert!((proof.plan.cues[0].duration - 5.5).abs() < 1e-6);
}

#[test]
fn a_move_that_goes_nowhere_lasts_its_time_or_nothing() {
    let show = show("", &(cue("1", &cart(0.5, ", time = 4.0")) + &cue("2", &cart(0.5, ""))));
    let proof = prove(&show);
    assert_eq!([proof.plan.cues[0].duration, proof.plan.cues[1].duration], [4.0, 0.0]);
    assert_eq!(codes(&proof), []);
}

#[test]
fn a_delay_moves_the_end_of_the_cue() {
    let show = show("", &cue("1", &cart(1.0, ", time = 4.0, delay = 1.5")));
    assert!((prove(&show).plan.cues[0].duration - 5.5).abs() < 1e-9);
}

/// s, the least in which an axis at `speed` that gains `gain` can be brought to rest: jerk to the most braking that
/// is needed or allowed, stay there, jerk back. The last phases of the double-S of Biagiotti and Melchiorri, 2008,
/// section 3.4, from any state.
fn least_stop(speed: f64, gain: f64, limits: Limits) -> f64 {
    let (most, jerk) = (limits.acceleration, limits.jerk);
    let peak = (jerk * speed + gain * gain / 2.0).max(0.0).sqrt();
    if peak <= most {
        return (gain + 2.0 * peak) / jerk;
    }
    let at_most = (speed + (gain * gain - 2.0 * most * most) / (2.0 * jerk)) / most;
    (gain + 2.0 * most) / jerk + at_most
}

/// The longest of the least stops over every millisecond of a move of one axis.
fn longest_least_stop(profile: &Profile, way: f64, limits: Limits) -> f64 {
    let times = (0..(profile.duration() * 1000.0) as usize).map(|ms| ms as f64 / 1000.0);
    let least = times.map(|time| {
        let now = profile.at(time);
        least_stop(now.speed * way, now.acceleration * way, limits)
    });
    least.fold(0.0, f64::max)
}

#[test]
fn the_longest_stop_is_no_shorter_than_an_ideal_one_and_not_much_longer() {
    for (to, time) in [(-1.5, 5.5), (-1.5, 9.0), (1.5, 4.5), (0.9, 3.0)] {
        let show = show("", &cue("1", &cart(to, &format!(", time = {time:?}"))));
        let plan = &prove(&show).plan.cues[0];
        let axis = show.axis_ids().find(|&axis| show.axis_name(axis) == "cart.travel").unwrap();
        let ideal = longest_least_stop(&plan.moves[0].profile, (to - 0.5_f64).abs(), show.axis(axis).stop);
        let found = plan.stop_time;
        assert!((ideal - 1e-3..=1.5 * ideal).contains(&found), "to {to} in {time} s: {found} against {ideal}");
    }
}

#[test]
fn a_cue_stops_as_late_as_the_slowest_of_its_moves() {
    let both = "move = [{ rig = \"cart\", to = { travel = 1.5 }, time = 5.0 }, \
                { rig = \"wheel\", to = { turn = 90.0 }, time = 6.0 }]";
    let stop = |cues: &str| prove(&show("", &cue("1", cues))).plan.cues[0].stop_time;
    let (one, other) = (stop(&cart(1.5, ", time = 5.0")), stop(&wheel(90.0, ", time = 6.0")));
    assert!(stop(both) >= one.max(other) - 0.02, "{} {one} {other}", stop(both));
    // What goes nowhere has nothing to slow.
    assert_eq!(stop(&cart(0.5, ", time = 4.0")), 0.0);
}

#[test]
fn the_bottleneck_is_the_axis_that_sets_the_pace_of_the_move_that_ends_last() {
    let both = "move = [{ rig = \"cart\", to = { travel = 1.5 }, time = 5.0 }, \
                { rig = \"wheel\", to = { turn = 90.0 }, time = 6.0 }]";
    let show = show("", &(cue("1", both) + &cue("2", &cart(1.5, ", time = 2.0"))));
    let plan = prove(&show).plan;
    assert_eq!(plan.cues[0].bottleneck.map(|axis| show.axis_name(axis)), Some("wheel.turn".to_owned()));
    assert_eq!(plan.cues[1].bottleneck, None);
}

#[test]
fn a_change_that_leaves_travel_is_found() {
    let show = show("", &cue("1", &cart(2.0, ", by = true, time = 9.0")));
    let proof = prove(&show);
    let finding = only(&proof, Code::Travel);
    assert_eq!((finding.value, finding.limit), (Some(2.5), Some(2.0)));
}

#[test]
fn two_moves_of_one_cue_may_not_own_one_axis() {
    let twice = "move = [{ rig = \"cart\", to = { travel = 1.0 }, time = 5.0 }, \
                 { rig = \"cart\", to = { travel = 0.0 }, time = 5.0, delay = 6.0 }]";
    let show = show("", &cue("1", twice));
    assert!(codes(&prove(&show)).contains(&Code::Ownership));
}

#[test]
fn cues_that_must_overlap_may_not_own_one_axis() {
    let after = "after = { cue = \"1\", from = \"start\", wait = 2.0 }\n";
    let early = show(
        "",
        &(cue("1", &cart(1.5, ", time = 6.0")) + &cue("2", &(after.to_owned() + &cart(0.0, ", time = 6.0")))),
    );
    assert_eq!(only(&prove(&early), Code::Ownership).cues, ["1", "2"]);
    let late = after.replace("2.0", "6.0");
    let late = show("", &(cue("1", &cart(1.5, ", time = 6.0")) + &cue("2", &(late + &cart(0.0, ", time = 6.0")))));
    assert_eq!(codes(&prove(&late)), []);
}

#[test]
fn a_rig_and_what_rides_on_it_are_one_for_overlap() {
    let pan = "after = { cue = \"1\", from = \"start\", wait = 1.0 }\n\
               move = [{ rig = \"head\", to = { pan = 40.0 }, time = 4.0 }]";
    let show = show("", &(cue("1", &cart(1.5, ", time = 6.0")) + &cue("2", pan)));
    only(&prove(&show), Code::Ownership);
}

#[test]
fn follows_in_a_circle_or_of_a_later_cue_are_found() {
    let follow = |of: &str| format!("after = {{ cue = \"{of}\", from = \"end\", wait = 1.0 }}\n");
    let circle = show(
        "",
        &(cue("1", &(follow("2") + &cart(1.5, ", time = 6.0")))
            + &cue("2", &(follow("1") + &cart(0.0, ", time = 6.0")))),
    );
    assert!(codes(&prove(&circle)).iter().all(|&code| code == Code::Follow));
    let later = show(
        "",
        &(cue("1", &(follow("2") + &cart(1.5, ", time = 6.0"))) + &cue("2", &wheel(90.0, ", time = 9.0"))),
    );
    assert_eq!(only(&prove(&later), Code::Follow).cues, ["1", "2"]);
}

const DEADLOCK: &str = r#"
[[interlock]]
name = "cart off the wheel"
guards = ["wheel.turn"]
needs = { axis = "cart.travel", below = 0.0 }
otherwise = "stop"
[[interlock]]
name = "wheel at its mark"
guards = ["cart.travel"]
needs = { axis = "wheel.turn", within = [80.0, 100.0] }
otherwise = "stop"
"#;

#[test]
fn interlocks_that_wait_on_each_other_are_found_and_a_way_out_is_not_a_circle() {
    let cues = cue("1", "move = [{ rig = \"head\", to = { pan = 10.0 }, time = 6.0 }]");
    let proof = prove(&show(DEADLOCK, &cues));
    let finding = only(&proof, Code::InterlockCycle);
    assert!(finding.message.contains("cart off the wheel") && finding.message.contains("wheel at its mark"));
    let stands = [("cart.travel".to_owned(), 0.5), ("wheel.turn".to_owned(), 0.0)];
    assert_eq!(finding.stands, stands);
    let place = "where the show opens, with cart.travel at 0.5 m and wheel.turn at 0°, none of them is true";
    assert!(finding.message.contains(place), "{}", finding.message);
    // Free to go down alone, the wheel never comes up to its mark.
    let free_down = |axis: &str| {
        let guards = format!("guards = [\"{axis}\"]");
        DEADLOCK.replacen(&guards, &format!("{guards}\ndirection = \"up\""), 1)
    };
    assert_eq!(only(&prove(&show(&free_down("wheel.turn"), &cues)), Code::InterlockCycle).stands, stands);
    // The cart can leave the wheel that way, wherever the two stand.
    assert_eq!(codes(&prove(&show(&free_down("cart.travel"), &cues))), []);
}

#[test]
fn a_condition_on_the_own_pose_is_held_against_the_list() {
    // As soon as it runs it leaves that place, so that from then on only its having begun is asked.
    let needs = "needs = { any = [{ axis = \"wheel.turn\", within = [-0.1, 0.1], modulo = 360.0 }, { cue = \"27\", past = 0.1 }] }\n";
    let cues = |end: f64| {
        cue("23", &wheel(end, ", time = 40.0"))
            + &cue("27", &(needs.to_owned() + &wheel(-180.0, ", by = true, time = 30.0")))
    };
    let proof = prove(&show("", &cues(358.6)));
    let finding = only(&proof, Code::StartPose);
    // The short way round.
    assert!((finding.value.unwrap() + 1.4).abs() < 1e-9, "{finding:?}");
    assert_eq!(codes(&prove(&show("", &cues(360.0)))), []);
}

/// Guards the cart as it goes up its travel.
fn interlock(needs: &str, direction: &str, otherwise: &str) -> String {
    format!(
        "[[interlock]]\nname = \"wheel aside\"\nguards = [\"cart.travel\"]\n{direction}\nneeds = {needs}\notherwise = \"{otherwise}\"\n"
    )
}

#[test]
fn an_interlock_that_the_list_makes_false_is_told_with_where_and_when() {
    let blocked = |more: &str, cues: &str| {
        let proof = prove(&show(more, cues));
        let found = proof.findings.into_iter().filter(|finding| finding.severity != Severity::Note);
        found.collect::<Vec<_>>()
    };
    let up = "direction = \"up\"";
    let aside = "{ axis = \"wheel.turn\", within = [80.0, 100.0], modulo = 360.0 }";
    let turned = |to: f64| cue("1", &wheel(to, ", time = 60.0")) + &cue("2", &cart(2.0, ", time = 20.0"));
    assert_eq!(blocked(&interlock(aside, up, "stop"), &turned(90.0)), []);
    let told = blocked(&interlock(aside, up, "stop"), &turned(70.0));
    let [finding] = &told[..] else { panic!("{told:#?}") };
    assert_eq!((finding.code, finding.severity), (Code::InterlockBlocked, Severity::Error));
    assert_eq!((&finding.cues[..], &finding.axes[..]), (&["2".into()][..], &["cart.travel".into()][..]));
    let said = "cue 2: interlock 'wheel aside' is false as it starts: expected wheel.turn within 80 to 100 modulo 360°, found 70°";
    assert_eq!(finding.message, said);
    // The other way it is free; an input that nobody knows yet is no fault of the list.
    assert_eq!(blocked(&interlock(aside, "direction = \"down\"", "stop"), &turned(70.0)), []);
    let input =
        "[[input]]\nname = \"clear\"\nmax_age = 1.0\n".to_owned() + &interlock("{ input = \"clear\" }", up, "stop");
    assert_eq!(blocked(&input, &turned(70.0)), []);
}

#[test]
fn an_interlock_is_followed_along_the_way_as_a_go_looks_along_it() {
    let alone = cue("1", &cart(2.0, ", time = 20.0"));
    let below = "{ axis = \"cart.travel\", below = 1.5 }";
    let found = |otherwise: &str| prove(&show(&interlock(below, "", otherwise), &alone)).findings;
    let [finding] = &found("hold")[..] else { panic!("{:#?}", found("hold")) };
    assert_eq!(finding.code, Code::InterlockBlocked);
    // The place is where the plan passes the threshold, found by the curve itself.
    let plan = prove(&show("", &alone)).plan;
    let mut pose = plan.cues[0].start.clone();
    plan.cues[0].pose_at(finding.time.unwrap(), &mut pose);
    assert!((pose[0] - 1.5).abs() < 1e-6, "{pose:?}");
    // A GO looks as far ahead for one that only refuses.
    let [refused] = &found("refuse")[..] else { panic!("{:#?}", found("refuse")) };
    assert_eq!((refused.code, refused.time), (Code::InterlockBlocked, finding.time));
    assert!(refused.fix.as_ref().unwrap().starts_with("its GO would be refused"), "{:?}", refused.fix);
}
