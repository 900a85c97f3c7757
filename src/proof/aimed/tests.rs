//! Aimed moves: on the point by an independent forward kinematics, within every limit, and told where they cannot be.

use glam::DVec3;
use proptest::prelude::*;

use crate::motion::{Ceiling, Path, verify_curve};
use crate::proof::{Bound, CuePlan, Proof, prove, spare, timelines};
use crate::show::fixture::{reading_of, show_of};
use crate::show::{Code, CueId, Finding, Severity, Show};

/// Degrees that a lens may be off its point.
const OFF: f64 = 0.05;

/// A head on a slider along x, 1.2 m above the deck; pan and tilt start where they are told to.
fn slider(starts: [f64; 2], more: &str) -> String {
    let [pan, tilt] = starts;
    format!(
        "kind = \"slider\"\nat = [-2.0, -3.0, 0.2]\nfacing = 0.0\n{more}\n\
         [[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [0.0, 4.0]\nstart = 0.0\nspeed = 1.0\nacceleration = 1.0\njerk = 2.0\n\
         joint = {{ slide = \"x\", at = [0.0, 0.0, 0.0] }}\n\
         [[axis]]\nname = \"pan\"\nunit = \"deg\"\ntravel = [-170.0, 350.0]\nstart = {pan:?}\nspeed = 40.0\nacceleration = 60.0\n\
         jerk = 300.0\njoint = {{ turn = \"z\", at = [0.0, 0.0, 1.0] }}\n\
         bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.2 }} }}]\n\
         [[axis]]\nname = \"tilt\"\nunit = \"deg\"\ntravel = [-80.0, 80.0]\nstart = {tilt:?}\nspeed = 30.0\nacceleration = 60.0\n\
         jerk = 300.0\njoint = {{ turn = [0.0, -1.0, 0.0], at = [0.0, 0.0, 0.0] }}\n\
         [[axis]]\nname = \"focus\"\nunit = \"percent\"\ntravel = [0.0, 100.0]\nstart = 20.0\nspeed = 60.0\nacceleration = 150.0\n\
         jerk = 600.0\n"
    )
}

const LENS: &str =
    "[lens]\nfocus = { axis = \"focus\", table = [[0.0, 0.5], [30.0, 1.5], [70.0, 5.0], [100.0, 60.0]] }\n";

/// A cart along y, whose body's middle stands 0.6 m above the deck.
const CART: &str = "kind = \"cart\"\nat = [1.0, 0.0, 0.0]\n\
                    [[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [-1.0, 6.0]\nstart = 0.0\nspeed = 0.6\nacceleration = 0.5\n\
                    jerk = 1.0\njoint = { slide = \"y\", at = [0.0, 0.0, 0.0] }\n\
                    bodies = [{ box = { min = [-0.2, -0.2, 0.2], max = [0.2, 0.2, 1.0] } }]\n";

fn cue(number: &str, more: &str, step: &str) -> String {
    format!("[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{more}\nmove = [{step}]\n")
}

fn files(starts: [f64; 2], cues: &str) -> [(&'static str, String); 4] {
    [
        ("show.toml", "[show]\nname = \"Aims\"\nmargin = 0.1\nreact = 0.1\n".to_owned()),
        ("rigs/cam.toml", slider(starts, "").to_owned() + LENS),
        ("rigs/cart.toml", CART.to_owned()),
        ("cues/all.toml", cues.to_owned()),
    ]
}

fn proved(starts: [f64; 2], cues: &str) -> (Show, Proof) {
    let show = show_of(&files(starts, cues));
    let proof = prove(&show);
    (show, proof)
}

fn only(findings: &[Finding]) -> &Finding {
    let [finding] = findings else { panic!("{findings:#?}") };
    finding
}

/// Degrees between what the camera of [`slider`] looks along and a point, by the sines and cosines of a head.
fn off(way: f64, pan: f64, tilt: f64, point: DVec3) -> f64 {
    let (pan, tilt) = (pan.to_radians(), tilt.to_radians());
    let along = DVec3::new(pan.cos() * tilt.cos(), pan.sin() * tilt.cos(), tilt.sin());
    along.angle_between(point - DVec3::new(-2.0 + way, -3.0, 1.2)).to_degrees()
}

fn position(plan: &CuePlan, axis: usize, time: f64) -> f64 {
    let mut pose = plan.start.clone();
    plan.pose_at(time, &mut pose);
    pose[axis]
}

/// The farthest off that it is between two times, in steps that no look falls on.
fn farthest(plan: &CuePlan, [from, to]: [f64; 2], point: impl Fn(f64) -> DVec3) -> f64 {
    let times = (0..=1777).map(|step| from + (to - from) * f64::from(step) / 1777.0);
    times
        .map(|time| off(position(plan, 0, time), position(plan, 1, time), position(plan, 2, time), point(time)))
        .fold(0.0, f64::max)
}

fn begins_and_ends_at_rest(show: &Show, plan: &CuePlan, cam: usize) {
    let step = &plan.moves[cam];
    for path in step.axes.iter().filter(|path| path.curve.is_some()) {
        let (curve, run) = (path.curve.as_ref().unwrap(), show.axis(path.axis).run);
        assert_eq!(verify_curve(curve, Ceiling::of(run)), Ok(()), "{}", show.axis_name(path.axis));
        assert_eq!(curve.at(0.0).position, plan.start[path.axis.index()]);
        let last = curve.knots().last().unwrap().state;
        assert_eq!((last.speed, last.acceleration), (0.0, 0.0));
    }
}

#[test]
fn a_lens_is_on_its_point_from_its_ease_on_and_ends_at_rest_on_it() {
    let step = "{ rig = \"cam\", to = { way = 4.0 }, time = 12.0, aim = { at = [0.5, 1.0, 2.0], focus = true } }";
    let (show, proof) = proved([0.0, 0.0], &cue("1", "", step));
    assert_eq!(proof.findings, []);
    let (plan, point) = (&proof.plan.cues[0], DVec3::new(0.5, 1.0, 2.0));
    begins_and_ends_at_rest(&show, plan, 0);
    assert!(farthest(plan, [0.0, 0.1], |_| point) > 50.0, "it begins where the list left it");
    assert!(farthest(plan, [3.0, 12.0], |_| point) < OFF);
    // Focus by the table, in the reciprocal of the distance, and that by the rows themselves where it stands at one.
    let distance = |time: f64| point.distance(DVec3::new(-2.0 + position(plan, 0, time), -3.0, 1.2));
    let ring = show.rigs[0].lens.as_ref().unwrap().focus.as_ref().unwrap();
    for step in 0..=900 {
        let time = 3.0 + f64::from(step) * 0.01;
        let wanted = ring.table.position(distance(time));
        assert!((position(plan, 3, time) - wanted).abs() < 0.15, "{time}: {}", position(plan, 3, time) - wanted);
    }
    assert_eq!(plan.duration, 12.0);
}

/// Once on the point, the next cue is on it at every instant.
#[test]
fn a_second_aim_at_the_same_point_never_leaves_it() {
    let aim = "time = 9.0, aim = { at = [0.5, 1.0, 2.0] }";
    let cues = cue("1", "", &format!("{{ rig = \"cam\", to = {{ way = 1.5 }}, {aim} }}"))
        + &cue("2", "", &format!("{{ rig = \"cam\", to = {{ way = 3.5 }}, {aim} }}"));
    let (_, proof) = proved([60.0, 0.0], &cues);
    assert_eq!(proof.findings, []);
    let second = &proof.plan.cues[1];
    assert!(farthest(second, [0.0, 9.0], |_| DVec3::new(0.5, 1.0, 2.0)) < OFF);
    assert_eq!(proof.plan.cues[0].end[1..3], second.start[1..3]);
}

#[test]
fn without_to_the_lens_alone_turns_and_takes_all_the_time_for_it() {
    let step = "{ rig = \"cam\", time = 6.0, aim = { at = [-2.0, 3.0, 1.2] } }";
    let (_, proof) = proved([0.0, 0.0], &cue("1", "", step));
    assert_eq!(proof.findings, []);
    let plan = &proof.plan.cues[0];
    assert!((position(plan, 1, 3.0) - 45.0).abs() < 0.1, "half the way in half the time");
    assert!((plan.end[1] - 90.0).abs() < 1e-6 && plan.end[2].abs() < 1e-6, "{:?}", plan.end);
    // Untimed it is as fast as pan and tilt can.
    let (show, proof) = proved([0.0, 0.0], &cue("1", "", "{ rig = \"cam\", aim = { at = [-2.0, 3.0, 1.2] } }"));
    assert_eq!(only(&proof.findings).code, Code::Untimed);
    let curve = proof.plan.cues[0].moves[0].axes[0].curve.as_ref().unwrap();
    assert!(curve.peaks().speed > 0.97 * show.axes[1].run.speed, "{:?}", curve.peaks());
}

#[test]
fn pan_goes_the_shortest_way_that_its_travel_allows() {
    let aim = |x: f64, y: f64| format!("{{ rig = \"cam\", time = 20.0, aim = {{ at = [{x:?}, {y:?}, 1.2] }} }}");
    // From 200°: to the bearing −170°, which is 190°.
    let (_, proof) = proved([200.0, 0.0], &cue("1", "", &aim(-2.0 - 5.671_281_8, -4.0)));
    assert_eq!(proof.findings, []);
    assert!((proof.plan.cues[0].end[1] - 190.0).abs() < 1e-3, "{:?}", proof.plan.cues[0].end);
    // From −160°: to the bearing 170° by 330°, since −190° is outside the travel.
    let (_, proof) = proved([-160.0, 0.0], &cue("1", "", &aim(-2.0 - 5.671_281_8, -2.0)));
    assert_eq!(proof.findings, []);
    assert!((proof.plan.cues[0].end[1] - 170.0).abs() < 1e-3, "{:?}", proof.plan.cues[0].end);
}

/// What the finding says to write is tried.
#[test]
fn what_asks_too_much_of_the_head_is_told_with_what_would_do() {
    let step = |time: &str| {
        format!("{{ rig = \"cam\", to = {{ way = 4.0 }}, time = {time}, aim = {{ at = [0.3, -2.4, 1.2] }} }}")
    };
    // From wherever the search begins.
    for written in ["5.6", "5.8", "6.0", "6.4"] {
        let (_, proof) = proved([0.0, 0.0], &cue("1", "", &step(written)));
        let finding = only(&proof.findings);
        assert!([Code::Speed, Code::Acceleration, Code::Jerk].contains(&finding.code), "{finding:?}");
        assert_eq!((&finding.axes[..], finding.severity), (&["cam.pan".to_owned()][..], Severity::Error));
        assert!((0.0..=6.4).contains(&finding.time.unwrap()) && finding.value > finding.limit, "{finding:?}");
        let fix = finding.fix.as_deref().unwrap();
        let time = fix.split("write time = ").nth(1).unwrap().split(' ').next().unwrap();
        assert_eq!(proved([0.0, 0.0], &cue("1", "", &step(time))).1.findings, [], "{fix}");
        let shorter = format!("{:.2}", time.parse::<f64>().unwrap() - 0.02);
        assert_ne!(proved([0.0, 0.0], &cue("1", "", &step(&shorter))).1.findings, [], "{written} s: {fix}");
    }
}

/// Whichever of its axes comes nearest to a limit, those that aim it counted.
#[test]
fn an_aimed_move_is_paced_by_what_turns_or_by_what_goes() {
    let paced = |to: &str, time: &str, at: &str| {
        let step = format!("{{ rig = \"cam\"{to}{time}, aim = {{ at = {at} }} }}");
        let (show, proof) = proved([0.0, 0.0], &cue("1", "", &step));
        assert!(proof.findings.iter().all(|finding| finding.severity == Severity::Note), "{:#?}", proof.findings);
        proof.plan.cues[0].bottleneck.map(|axis| show.axis_name(axis))
    };
    let (behind, before) = ("[-2.0, 3.0, 1.2]", "[90.0, -3.0, 1.2]");
    assert_eq!(paced("", ", time = 6.0", behind).as_deref(), Some("cam.pan"));
    assert_eq!(paced("", "", behind).as_deref(), Some("cam.pan"), "as fast as it can turn");
    assert_eq!(paced(", to = { way = 0.5 }", ", time = 20.0", behind).as_deref(), Some("cam.pan"));
    // It looks along its way, and has nothing to turn.
    assert_eq!(paced(", to = { way = 4.0 }", ", time = 6.0", before).as_deref(), Some("cam.way"));
}

/// The least time, and what a tenth more of the speed of pan saves of it, by writing them and the limit into the files.
#[test]
fn what_an_aimed_move_could_spare_is_so_when_it_is_written() {
    let proved_at = |time: f64, speed: f64| {
        let step = format!(
            "{{ rig = \"cam\", to = {{ way = 1.0 }}, time = {time:.3}, aim = {{ at = [-2.0, 3.0, 1.2] }} }}"
        );
        let mut files = files([-60.0, 0.0], &cue("1", "", &step));
        files[1].1 = files[1].1.replace("speed = 40.0", &format!("speed = {speed:?}"));
        show_of(&files)
    };
    let passes = |time: f64, speed: f64| prove(&proved_at(time, speed)).findings.is_empty();
    let show = proved_at(32.0, 40.0);
    let [spare] = &spare(&show, CueId::new(0), &timelines(&show))[..] else { panic!() };
    assert!(passes(spare.least + 0.001, 40.0) && !passes(spare.least - 0.003, 40.0), "{spare:?}");
    let [saving] = spare.savings[..] else { panic!("nothing but pan holds it up: {spare:?}") };
    assert_eq!((show.axis_name(saving.axis).as_str(), saving.bound), ("cam.pan", Bound::Speed));
    let least = spare.least - saving.seconds;
    assert!(passes(least + 0.003, 44.0) && !passes(least - 0.003, 44.0), "{spare:?}");
}

#[test]
fn a_longer_ease_is_told_where_it_would_do() {
    let step = |ease: &str| {
        format!("{{ rig = \"cam\", to = {{ way = 1.0 }}, time = 10.0, aim = {{ at = [-2.0, 3.0, 1.2]{ease} }} }}")
    };
    let (_, proof) = proved([-100.0, 0.0], &cue("1", "", &step(", ease = 2.0")));
    let fix = only(&proof.findings).fix.as_deref().unwrap();
    let ease = fix.strip_prefix("write ease = ").unwrap().split(' ').next().unwrap();
    assert_eq!(proved([-100.0, 0.0], &cue("1", "", &step(&format!(", ease = {ease}")))).1.findings, [], "{fix}");
}

#[test]
fn a_point_at_the_lens_or_straight_above_it_is_a_finding() {
    for (at, time, says) in [
        ("[0.0, -3.0, 1.2]", 12.0, "found it where the lens is"),
        ("[0.0, -3.0, 6.0]", 12.0, "found it on that line"),
        ("[0.0, -2.0, 6.0]", 6.0, "from the line that the head turns about"),
    ] {
        let step = format!("{{ rig = \"cam\", to = {{ way = 4.0 }}, time = {time:?}, aim = {{ at = {at} }} }}");
        let (_, proof) = proved([0.0, 70.0], &cue("1", "", &step));
        let finding = proof.findings.iter().find(|finding| finding.message.contains(says));
        let finding = finding.unwrap_or_else(|| panic!("{at}: {:#?}", proof.findings));
        assert!((finding.time.unwrap() - time / 2.0).abs() < 1.5, "{finding:?}");
        assert!(
            finding.fix.as_deref().unwrap().contains("to one side") || says.contains("the lens"),
            "{finding:?}"
        );
    }
}

#[test]
fn a_point_beyond_the_travel_or_the_table_of_focus_is_a_finding() {
    let step = |at: &str, focus: bool| {
        format!("{{ rig = \"cam\", to = {{ way = 1.0 }}, time = 12.0, aim = {{ at = {at}, focus = {focus} }} }}")
    };
    let (_, proof) = proved([0.0, 0.0], &cue("1", "", &step("[-2.0, -2.7, 9.0]", false)));
    let finding = only(&proof.findings);
    assert_eq!((finding.code, &finding.axes[..]), (Code::Travel, &["cam.tilt".to_owned()][..]), "{finding:?}");
    let (_, proof) = proved([0.0, 0.0], &cue("1", "", &step("[90.0, 0.0, 2.0]", true)));
    let finding = only(&proof.findings);
    assert_eq!((finding.code, &finding.axes[..]), (Code::Travel, &["cam.focus".to_owned()][..]), "{finding:?}");
}

const CART_GOES: &str = "{ rig = \"cart\", to = { way = 5.0 }, time = 14.0 }";

fn cart(way: f64) -> DVec3 {
    DVec3::new(1.0, way, 0.6)
}

#[test]
fn a_body_that_the_same_cue_moves_is_followed_all_the_way() {
    let step = "{ rig = \"cam\", to = { way = 2.0 }, time = 16.0, aim = { rig = \"cart\" } }, ";
    let (show, proof) = proved([0.0, 0.0], &cue("1", "", &(step.to_owned() + CART_GOES)));
    assert_eq!(proof.findings, []);
    let plan = &proof.plan.cues[0];
    begins_and_ends_at_rest(&show, plan, 0);
    assert!(farthest(plan, [4.0, 16.0], |time| cart(position(plan, 4, time))) < OFF);
}

/// By the follow its time is known: 5 s into the cart's own cue the camera's begins. As it ends the cart still goes on.
#[test]
fn a_body_that_the_cue_before_it_moves_is_followed_by_its_time() {
    let follow = "after = { cue = \"1\", from = \"start\", wait = 5.0 }";
    let step =
        "{ rig = \"cam\", to = { way = 2.0 }, time = 7.0, aim = { rig = \"cart\", axis = \"way\", ease = 2.0 } }";
    let (show, proof) = proved([60.0, 0.0], &(cue("1", "", CART_GOES) + &cue("2", follow, step)));
    assert_eq!(proof.findings, []);
    let [first, second] = &proof.plan.cues[..] else { panic!() };
    begins_and_ends_at_rest(&show, second, 0);
    let there = |time: f64| cart(position(first, 4, 5.0 + time));
    assert!(there(7.0).y - there(6.9).y > 0.01, "it still goes on");
    assert!(farthest(second, [2.0, 5.0], there) < OFF);
    assert!(farthest(second, [5.0, 7.0], there) < 5.0, "it comes to rest beside it");
    assert!(farthest(second, [7.0, 7.0], there) < OFF, "and ends on it");
}

#[test]
fn what_a_hand_can_move_meanwhile_is_told() {
    let step = "{ rig = \"cam\", to = { way = 2.0 }, time = 7.0, aim = { rig = \"cart\" } }";
    for (more, warned) in [("", true), ("needs = { cue = \"1\", state = \"done\" }", false)] {
        let (_, proof) = proved([60.0, 0.0], &(cue("1", "", CART_GOES) + &cue("2", more, step)));
        let loud: Vec<&Finding> =
            proof.findings.iter().filter(|finding| finding.severity == Severity::Warning).collect();
        assert_eq!(loud.len(), usize::from(warned), "{:#?}", proof.findings);
        assert!(loud.iter().all(|finding| finding.cues == ["2", "1"] && finding.axes == ["cart.way"]));
        // It is planned at where the list leaves the cart.
        assert!(farthest(&proof.plan.cues[1], [2.0, 7.0], |_| cart(5.0)) < OFF);
    }
}

/// Every mistake of the files has its finding, at its place.
#[test]
fn what_cannot_be_aimed_is_told_where_it_is_written() {
    let told = |step: &str, says: &str| {
        let reading = reading_of(&files([0.0, 0.0], &cue("1", "", step)));
        assert!(reading.show.is_none(), "{step}");
        let finding = only(&reading.findings);
        assert!(finding.message.contains(says), "{}", finding.message);
        assert!(finding.place.is_some() && finding.fix.is_some(), "{finding:?}");
    };
    let at = "aim = { at = [0.0, 0.0, 0.0]";
    told(&format!("{{ rig = \"cart\", to = {{ way = 1.0 }}, {at} }} }}"), "two axes that turn");
    told(&format!("{{ rig = \"cam\", to = {{ pan = 1.0 }}, {at} }} }}"), "expected nothing of cam.pan");
    told("{ rig = \"cam\", to = { way = 1.0 }, aim = { rig = \"cam\" } }", "found itself");
    told("{ rig = \"cam\", to = { way = 1.0 }, aim = { rig = \"cat\" } }", "there is no rig");
    told("{ rig = \"cam\", to = { way = 1.0 }, aim = { rig = \"cart\", axis = \"weg\" } }", "has no axis");
    told("{ rig = \"cam\", to = { way = 1.0 }, aim = { focus = true } }", "one of `at` or `rig`");
    told(&format!("{{ rig = \"cam\", to = {{ way = 1.0 }}, time = 3.0, {at}, ease = 4.0 }} }}"), "`ease`");
    told("{ rig = \"cam\", time = 3.0 }", "expected either `to` or `take`");
}

prop_compose! {
    fn any_show()(
        [pan, tilt] in [-170.0..350.0_f64, -80.0..80.0_f64], point in [-6.0..6.0_f64, -6.0..6.0_f64, -1.0..6.0_f64],
        way in 0.0..4.0_f64, time in prop::option::of(0.2..15.0_f64), ease in prop::option::of(0.0..15.0_f64),
        moving in any::<bool>(), focus in any::<bool>(), delay in 0.0..2.0_f64,
    ) -> Show {
        let ease = ease.map_or(String::new(), |ease| format!(", ease = {:?}", time.map_or(ease, |time| ease.min(time))));
        let time = time.map_or(String::new(), |time| format!(", time = {time:?}"));
        let [x, y, z] = point;
        let at = if moving { "rig = \"cart\"".to_owned() } else { format!("at = [{x:?}, {y:?}, {z:?}]") };
        let step = format!(
            "{{ rig = \"cam\", to = {{ way = {way:?} }}{time}, delay = {delay:?}, aim = {{ {at}, focus = {focus}{ease} }} }}, "
        );
        show_of(&files([pan, tilt], &cue("1", "", &(step + CART_GOES))))
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Nothing panics, no limit is broken, and what is planned without an error is on the point as it ends.
    #[test]
    fn whatever_is_asked_is_aimed_within_every_limit_or_told(show in any_show()) {
        let mut findings = Vec::new();
        let start: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let plan = crate::proof::timeline::plan_cue(&show, CueId::new(0), &start, &[], &mut findings);
        begins_and_ends_at_rest(&show, &plan, 0);
        let step = &plan.moves[0];
        prop_assert_eq!(step.axes.len(), 3 + usize::from(show.cues[0].moves[0].aim.as_ref().unwrap().focus.is_some()));
        prop_assert!(plan.leaves_travel(&show).is_none() || !findings.is_empty());
        if findings.iter().all(|finding| finding.severity == Severity::Note) {
            let point = match show.cues[0].moves[0].aim.as_ref().unwrap().at {
                crate::show::AimedAt::Point(point) => point,
                crate::show::AimedAt::Body { .. } => cart(position(&plan, 4, step.end())),
            };
            prop_assert!(farthest(&plan, [step.end(), step.end()], |_| point) < OFF);
        }
        prop_assert_eq!(&timelines(&show)[0].end, &plan.end);
    }
}
