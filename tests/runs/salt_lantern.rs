//! Salt Lantern whole: every cue in its order and its time, and what must be refused on the way.

use crate::hall::{self, Hall, folder, read};
use crate::spoilt::Copy;
use bellwire::engine::{Accepted, EventKind, Reason, Verb};
use bellwire::proof::{CuePlan, Rests, prove, timelines};
use bellwire::show::{After, Code, CueId, CueState, Finding, Severity};
use glam::DVec3;

/// The running order: each cue with the s that it takes.
const LIST: [(&str, f64); 34] = [
    ("1", 8.0),
    ("2", 9.0),
    ("3", 10.0),
    ("4", 18.0),
    ("5", 16.0),
    ("6", 7.0),
    ("7", 18.0),
    ("8", 18.0),
    ("9", 9.0),
    ("10", 8.0),
    ("11", 24.0),
    ("12", 7.0),
    ("13", 5.0),
    ("14", 16.0),
    ("15", 16.0),
    ("16", 34.0),
    ("17", 20.0),
    ("18", 10.0),
    ("19", 20.0),
    ("20", 9.0),
    ("21", 14.0),
    ("21.5", 6.0),
    ("22", 7.0),
    ("23", 16.0),
    ("24", 34.0),
    ("25", 9.0),
    ("26", 7.0),
    ("27", 26.0),
    ("28", 9.0),
    ("29", 14.0),
    ("30", 8.0),
    ("31", 12.0),
    ("32", 11.0),
    ("33", 30.0),
];

#[test]
fn the_list_is_the_running_order_and_moves_for_eight_minutes() {
    let hall = Hall::demo();
    let planned: Vec<(String, f64)> = hall
        .show
        .cues
        .iter()
        .zip(&hall.plan.cues)
        .map(|(cue, plan)| (cue.number.to_string(), plan.duration))
        .collect();
    assert_eq!(planned.len(), LIST.len());
    for ((number, planned), (expected, seconds)) in planned.iter().zip(LIST) {
        assert_eq!(number, expected);
        assert!((planned - seconds).abs() < 1e-9, "cue {number} takes {planned} s, not {seconds}");
    }
    let motion: f64 = planned.iter().map(|(_, seconds)| seconds).sum();
    assert!((motion - 485.0).abs() < 1e-6, "{motion} s of motion");
    let calling: f64 = hall.show.cues.iter().filter_map(|cue| cue.gap).sum();
    assert!((1380.0..1620.0).contains(&calling), "about 25 minutes of calling, not {calling} s");
}

#[test]
fn every_cue_runs_in_its_order_and_takes_its_planned_time() {
    let mut hall = Hall::demo();
    let show = hall.show.clone();
    for (id, cue) in show.cue_ids().zip(&show.cues) {
        let number = cue.number.to_string();
        if cue.after.is_some() {
            continue;
        }
        if number == "21.5" {
            // Called while Heron still goes: its `needs` permits from 9 s on.
            hall.run(9.0);
            hall.fire(&number);
        } else {
            run_until_all_before_are_done(&mut hall, id);
            hall.fire(&number);
        }
    }
    hall.run_until("33", CueState::Done, 31.0);
    for (id, cue) in show.cue_ids().zip(&show.cues) {
        assert_eq!(hall.status.cues[id.index()], CueState::Done, "cue {}", cue.number);
        let off = taken(&hall, id) - hall.plan.cue(id).duration;
        let tick = show.settings.tick.seconds();
        // Running and done are told in whole ticks.
        assert!(off.abs() <= tick + 1e-9, "cue {} takes {off} s more than planned", cue.number);
    }
    let refused = hall.events.iter().find(|event| matches!(event.kind, EventKind::Refused { .. }));
    assert_eq!(refused, None);
    for (axis, end) in show.axis_ids().zip(&hall.plan.cues.last().unwrap().end) {
        let stands = hall.status.axes[axis.index()].setpoint;
        // Lenses that no cue moves stand where they were measured at arming.
        assert!((stands - end).abs() <= show.axis(axis).tolerance, "{}: {stands}", show.axis_name(axis));
        assert!((end - show.axis(axis).start).abs() < 1e-9, "the house opens on {} tomorrow", show.axis_name(axis));
    }
}

/// 21 aside, whose way home cue 21.5 falls into.
fn run_until_all_before_are_done(hall: &mut Hall, cue: CueId) {
    let numbers: Vec<String> = hall.show.cues[..cue.index()].iter().map(|cue| cue.number.to_string()).collect();
    for number in numbers {
        hall.run_until(&number, CueState::Done, 60.0);
    }
}

/// s from running to done.
fn taken(hall: &Hall, wanted: CueId) -> f64 {
    let at = |wanted_state: CueState| {
        let event = hall.events.iter().find(|event| match event.kind {
            EventKind::Cue { cue, state } => cue == wanted && state == wanted_state,
            _ => false,
        });
        event.unwrap().tick as f64
    };
    (at(CueState::Done) - at(CueState::Running)) * hall.show.settings.tick.seconds()
}

/// The reasons against a cue that is called though others were passed over, which the caller acknowledges.
fn reasons_after_a_skip(hall: &mut Hall, number: &str) -> Vec<Reason> {
    let cue = hall.cue(number);
    let reasons = match hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: true }) {
        Ok(Accepted::Standby { ready: false, reasons, .. }) => reasons.reasons.to_vec(),
        other => panic!("standby {number}: {other:?}"),
    };
    assert!(hall.go(number).is_err(), "cue {number} goes");
    hall.run(1.0);
    assert!(!hall.setpoints_move());
    reasons
}

fn needs_of(hall: &Hall, number: &str) -> impl Fn(&Reason) -> bool + use<> {
    let wanted = hall.cue(number);
    move |reason| matches!(*reason, Reason::Needs { cue, .. } if cue == wanted)
}

#[test]
fn the_skiff_does_not_land_while_the_tide_is_out() {
    let mut hall = Hall::demo_at("14");
    let reasons = reasons_after_a_skip(&mut hall, "16");
    assert!(reasons.iter().any(needs_of(&hall, "16")), "{reasons:?}");
    // The wagon's interlock says so too, and so does the list: it leaves the lift at deck.
    assert!(reasons.iter().any(|reason| matches!(reason, Reason::InterlockAlong { .. })), "{reasons:?}");
    let tide = hall.axis("tide.height");
    let elsewhere = |reason: &Reason| matches!(*reason, Reason::OtherPose { axis, .. } if axis == tide);
    assert!(reasons.iter().any(elsewhere), "{reasons:?}");
}

#[test]
fn nothing_casts_off_below_a_lamp_that_has_not_been_hauled() {
    let mut hall = Hall::demo_at("22");
    let reasons = reasons_after_a_skip(&mut hall, "24");
    assert!(reasons.iter().any(needs_of(&hall, "24")), "{reasons:?}");
}

#[test]
fn heron_does_not_go_over_the_quay_before_the_lamp_has_gone() {
    let mut hall = Hall::demo_at("8");
    hall.fire("8");
    hall.run(9.0);
    let reasons = hall.standby("9");
    assert!(matches!(*reasons, [Reason::Needs { .. }]), "{reasons:?}");
    assert!(hall.go("9").is_err());
    hall.run_until("8", CueState::Done, 10.0);
    hall.fire("9");
}

#[test]
fn the_lamp_does_not_pass_where_heron_still_stands() {
    let mut hall = Hall::demo_at("5");
    hall.fire("5");
    hall.fire("7");
    // Heron waits for its follow; the wheel and the lift go on.
    let reasons = hall.standby("8");
    assert!(matches!(*reasons, [Reason::Needs { .. }]), "{reasons:?}");
}

#[test]
fn the_lamp_falls_only_behind_heron() {
    let mut hall = Hall::demo_at("21");
    hall.fire("21");
    hall.run(8.0);
    let reasons = hall.standby("21.5");
    assert!(matches!(*reasons, [Reason::Needs { .. }]), "{reasons:?}");
    assert!(hall.go("21.5").is_err());
    hall.run(1.1);
    hall.fire("21.5");
    assert_eq!(hall.state("21"), CueState::Running);
    hall.run_until("21.5", CueState::Done, 6.1);
}

#[test]
fn the_long_view_waits_for_the_lamp_to_be_home() {
    let mut hall = Hall::demo_at("28");
    hall.fire("28");
    hall.run(4.0);
    let reasons = hall.standby("30");
    assert!(matches!(*reasons, [Reason::Needs { .. }]), "{reasons:?}");
}

#[test]
fn without_the_word_of_the_cellar_the_lift_moves_neither_way() {
    for number in ["5", "14", "25"] {
        let mut hall = Hall::demo_at(number);
        hall.sensors.clear();
        hall.run(1.0);
        let reasons = hall.standby(number);
        assert_eq!(reasons.len(), 1, "cue {number}: {reasons:?}");
        assert!(hall.go(number).is_err(), "cue {number}");
    }
}

#[test]
fn a_cue_out_of_its_order_is_told_what_it_passes_over() {
    let mut hall = Hall::demo_at("11");
    let reasons = hall.standby("14");
    let first = hall.cue("11");
    assert!(matches!(reasons[0], Reason::Skips { first: found, count: 3 } if found == first), "{reasons:?}");
}

#[test]
fn the_wheel_that_has_left_the_turn_may_be_held_and_go_on() {
    let mut hall = Hall::demo_at("27");
    hall.fire("27");
    hall.run(8.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(3.0);
    assert!(!hall.setpoints_move());
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run_until("27", CueState::Done, 24.0);
    assert_eq!(hall.setpoint("millwheel.turn"), 180.0);
}

/// Cue 17, by the sines and cosines of a levelled jib: the middle of the skiff, which 16 drives meanwhile, lies on the optical axis
/// once the head has come to her and until it comes to rest, and again as it does.
#[test]
fn heron_watches_the_skiff_in() {
    let show = read(&folder("demo-show"));
    let plans = timelines(&show);
    let cue = |number: &str| show.find_cue(&number.parse().unwrap()).unwrap();
    let axis = |name: &str| show.axis_ids().find(|&axis| show.axis_name(axis) == name).unwrap().index();
    let (lands, watches) = (&plans[cue("16").index()], &plans[cue("17").index()]);
    let at = |plan: &CuePlan, name: &str, time: f64| {
        let mut pose = plan.start.clone();
        plan.pose_at(time, &mut pose);
        pose[axis(name)]
    };
    let off = |time: f64| {
        let angle = |name: &str| at(watches, name, time).to_radians();
        let (swing, boom) = (angle("heron.swing") + 90.0_f64.to_radians(), angle("heron.boom"));
        let way = |bearing: f64, height: f64| {
            DVec3::new(bearing.cos() * height.cos(), bearing.sin() * height.cos(), height.sin())
        };
        let lens = DVec3::new(-4.0, -5.2, 1.4) + 6.0 * way(swing, boom);
        let skiff = DVec3::new(at(lands, "skiff.travel", 6.0 + time), 1.2, 0.585);
        let along = way(swing + angle("heron.pan"), angle("heron.tilt"));
        (along.angle_between(skiff - lens).to_degrees(), lens.distance(skiff))
    };
    let farthest = |from: f64, to: f64| {
        (0..=997).map(|k| off(from + (to - from) * f64::from(k) / 997.0).0).fold(0.0, f64::max)
    };
    assert!(off(0.0).0 > 20.0, "the list leaves the head elsewhere");
    // Coming to her takes pan nearly as fast as it may go; the swing takes less than a quarter of its speed.
    assert_eq!(watches.bottleneck.map(|axis| show.axis_name(axis)).as_deref(), Some("heron.pan"));
    assert!(farthest(5.0, 15.0) < 0.05, "{}", farthest(5.0, 15.0));
    assert!(farthest(15.0, 20.0) < 4.0 && off(20.0).0 < 0.05, "{}", farthest(15.0, 20.0));
    // Focus, where a row of the lens's table was measured: at 4 m.
    let distances = (0..10_000).map(|k| 5.0 + f64::from(k) * 1e-3);
    let passing = distances.filter(|&time| (off(time).1 - 4.0).abs() < 2e-3);
    let focused: Vec<f64> = passing.map(|time| at(watches, "heron.focus", time)).collect();
    assert!(!focused.is_empty() && focused.iter().all(|focus| (focus - 62.0).abs() < 0.15), "{focused:?}");
}

/// Cue 12 goes up and aside by a mark clear of the quay, and does not stop there.
#[test]
fn heron_lifts_past_its_mark_without_stopping() {
    let show = read(&folder("demo-show"));
    let plans = timelines(&show);
    let plan = &plans[show.find_cue(&"12".parse().unwrap()).unwrap().index()];
    let [step] = &plan.moves[..] else { panic!("{plan:?}") };
    let [passed] = step.passes[..] else { panic!("one mark on its way: {:?}", step.passes) };
    assert!((1.0..6.0).contains(&passed), "{passed} s");
    for (name, position) in [("heron.swing", -8.0), ("heron.boom", 30.0)] {
        let path = step.axes.iter().find(|path| show.axis_name(path.axis) == name).unwrap();
        let there = step.at(path, step.delay + passed);
        assert_eq!(there.position, position, "{name}");
        assert!(there.speed.abs() > 0.5, "{name} goes at {} deg/s as it passes", there.speed);
    }
}

#[test]
fn the_follows_are_those_of_the_running_order() {
    let hall = Hall::demo();
    let told = |id: CueId| {
        let cue = hall.show.cue(id);
        let lead = |leading: CueId| hall.show.cue(leading).number.to_string();
        match cue.after.as_ref()? {
            After::Start { cue: leading, wait } => {
                Some(format!("{}: {} start + {wait}", cue.number, lead(*leading)))
            }
            After::End { cue: leading, wait } => Some(format!("{}: {} end + {wait}", cue.number, lead(*leading))),
            After::When(_) => panic!("cue {} follows a condition", cue.number),
        }
    };
    let follows: Vec<String> = hall.show.cue_ids().filter_map(told).collect();
    let expected = [
        "2: 1 end + 2",
        "6: 5 start + 6",
        "10: 9 end + 1",
        "13: 12 start + 1",
        "15: 14 start + 4",
        "17: 16 start + 6",
        "26: 25 start + 4",
        "29: 28 start + 3",
    ];
    assert_eq!(follows, expected);
}

/// Everything that a check of the copy has to say, notes apart.
fn found_in(copy: &Copy) -> Vec<Finding> {
    let show = copy.read().show.unwrap();
    let findings = prove(&show).findings;
    findings.into_iter().filter(|finding| finding.severity != Severity::Note).collect()
}

const LAMP_NEEDS: &str = "needs = { cue = \"21\", past = 9.0 }\n";

#[test]
fn the_trap_of_the_lamp_is_found_with_the_line_that_settles_it() {
    let [finding] = &found_in(&Copy::new().with_trap("lamp-too-soon"))[..] else { panic!() };
    assert_eq!((finding.code, finding.severity), (Code::Overlap, Severity::Warning));
    assert_eq!(
        (&finding.cues[..], &finding.rigs[..]),
        (&["21".into(), "21.5".into()][..], &["heron".into(), "gull".into()][..])
    );
    assert_eq!((finding.value, finding.limit), (Some(0.0), Some(0.3)));
    // As blocked as a search by sampling found it before there was a proof: a GO in the first 2.5 s. The line leaves
    // room for a heron that stalls as it makes way.
    let blocked = finding.message.split("in its first ").nth(1).unwrap().split(' ').next().unwrap();
    assert!((2.5..3.0).contains(&blocked.parse().unwrap()), "{}", finding.message);
    let fix = finding.fix.as_deref().unwrap();
    let line = fix.strip_prefix("write in cue 21.5: ").unwrap();
    let past: f64 = line.split("past = ").nth(1).unwrap().trim_end_matches([' ', '}']).parse().unwrap();
    assert!((3.5..4.5).contains(&past), "{fix}");
    let mended = Copy::new().edit("cues/inserts.toml", LAMP_NEEDS, &format!("{line}\n"));
    assert_eq!(found_in(&mended), []);
}

#[test]
fn the_lamp_that_follows_heron_at_once_is_an_error() {
    let [finding] = &found_in(&Copy::new().with_trap("lamp-with-heron"))[..] else { panic!() };
    assert_eq!((finding.code, finding.severity), (Code::Overlap, Severity::Error));
}

#[test]
fn the_trap_of_the_wagon_is_a_skip_that_nothing_refuses() {
    let [finding] = &found_in(&Copy::new().with_trap("wagon-over-the-hole"))[..] else { panic!() };
    assert_eq!((finding.code, finding.severity), (Code::Skip, Severity::Warning));
    assert_eq!(finding.cues, ["16", "14"]);
    assert!(finding.rigs.contains(&"skiff".into()) && finding.rigs.contains(&"tide".into()), "{finding:?}");
    // The line settles it; so does either of what the trap leaves out.
    let line = finding.fix.as_ref().unwrap().split("`all`: ").nth(1).unwrap().split(';').next().unwrap();
    let asked = "all = [{ input = \"deck clear\" }]";
    let with_line =
        |copy: Copy| copy.edit("cues/act2.toml", asked, &format!("all = [{line}, {{ input = \"deck clear\" }}]"));
    assert_eq!(found_in(&with_line(Copy::new().with_trap("wagon-over-the-hole"))), []);
    let needs =
        "all = [{ cue = \"14\", state = \"done\" }, { rig = \"tide\", at = \"deck\" }, { input = \"deck clear\" }]";
    let interlock_alone = Copy::new().edit("cues/act2.toml", needs, asked);
    assert_eq!(found_in(&interlock_alone), []);
    let show = interlock_alone.read().show.unwrap();
    let [cue, before] = ["16", "14"].map(|number| show.find_cue(&number.parse().unwrap()).unwrap());
    let rests = &prove(&show).skips.rests_on[cue.index()];
    assert!(matches!(rests[..], [(on, Rests::Interlock(_))] if on == before), "{rests:?}");
}

#[test]
fn cues_that_share_space_and_are_parted_by_their_needs_are_no_trap() {
    assert_eq!(found_in(&Copy::new()), []);
    let parted = Copy::new().edit("cues/act1.toml", "needs = { cue = \"8\", state = \"done\" }\n", "");
    let [finding] = &found_in(&parted)[..] else {
        panic!("8 and 9 do not share space, so the decoy shows nothing")
    };
    assert_eq!((finding.code, &finding.cues[..]), (Code::Overlap, &["8".into(), "9".into()][..]));
}

#[test]
fn the_trap_of_the_short_turn_is_found_with_its_error_the_short_way_round() {
    let found = found_in(&Copy::new().with_trap("short-of-the-turn"));
    let [finding] = &found[..] else { panic!("{found:#?}") };
    assert_eq!(finding.code, Code::StartPose);
    assert!((finding.value.unwrap() + 1.4).abs() < 1e-9, "{finding:?}");
}

#[test]
fn a_longer_show_winds_the_cable_up_unless_the_mill_is_unwound() {
    let encore = "\n[[cue]]\nnumber = \"32.5\"\nname = \"Mill once more\"\n[[cue.move]]\nrig = \"millwheel\"\n\
                  to = { turn = 200.0 }\nby = true\ntime = 28.0\n";
    let longer = || {
        let copy = Copy::new();
        let inserts = std::fs::read_to_string(copy.path("cues/inserts.toml")).unwrap();
        std::fs::write(copy.path("cues/inserts.toml"), inserts + encore).unwrap();
        // From so far round it takes longer to come home.
        copy.edit("cues/act4.toml", "to = \"quay-side\"\ntime = 30.0", "to = \"quay-side\"\ntime = 60.0")
    };
    assert_eq!(found_in(&longer()), []);
    // Left where the storm leaves it, the wheel is a turn further on; its travel would allow that.
    let found = found_in(&longer().edit("cues/act4.toml", "to = { turn = -180.0 }", "to = { turn = 0.0 }"));
    let [finding] = &found[..] else { panic!("{found:#?}") };
    assert_eq!((finding.code, &finding.cues[..]), (Code::Winding, &["32.5".to_owned()][..]));
    assert!((finding.value.unwrap() - 560.0 / 360.0).abs() < 1e-9 && finding.limit == Some(1.5), "{finding:?}");
}

#[test]
fn the_trap_of_the_wavering_hand_is_found_with_the_least_stretch_and_where_it_is() {
    let found = found_in(&Copy::new().with_trap("unsteady-crossing"));
    let [finding] = &found[..] else { panic!("{found:#?}") };
    assert_eq!((finding.code, finding.severity), (Code::Take, Severity::Error));
    assert_eq!((&finding.cues[..], &finding.axes[..]), (&["11".into()][..], &["minnow.travel".into()][..]));
    // The cube root of 1.9 m/s³ over the 1.5 that are allowed.
    assert!((finding.value.unwrap() - 1.0820).abs() < 5e-5, "{finding:?}");
    assert_eq!(finding.limit, Some(1.0));
    assert!((14.0..16.6).contains(&finding.time.unwrap()), "{finding:?}");
    assert!(finding.message.contains("1.5 m/s³ at most, found 1.9 m/s³"), "{}", finding.message);
    let line = finding.fix.as_deref().unwrap().strip_prefix("write ").unwrap().split(" or more").next().unwrap();
    let stretched = Copy::new().with_trap("unsteady-crossing").edit(
        "cues/act2.toml",
        "take = \"crossing\"\n",
        &format!("take = \"crossing\"\n{line}\n"),
    );
    assert_eq!(found_in(&stretched), []);
}

/// Lines of the show's file that the trap's does not have, and the other way round.
fn changed(trap: &str, file: &str) -> [Vec<String>; 2] {
    let lines = |path: String| -> Vec<String> {
        std::fs::read_to_string(hall::folder(&path)).unwrap().lines().map(str::to_owned).collect()
    };
    let (sound, trapped) = (lines(format!("demo-show/{file}")), lines(format!("demo-show/traps/{trap}/{file}")));
    let without = |a: &[String], b: &[String]| a.iter().filter(|line| !b.contains(line)).cloned().collect();
    [without(&sound, &trapped), without(&trapped, &sound)]
}

#[test]
fn a_trap_changes_nothing_but_its_mistake() {
    // Beside the comment at its head.
    let [lost, new] = changed("short-of-the-turn", "cues/act3.toml");
    assert_eq!((lost.len(), &new[1..]), (2, &["to = { turn = 358.6 }".to_owned()][..]));
    let [lost, new] = changed("wagon-over-the-hole", "cues/act2.toml");
    assert_eq!((lost.len(), new.len()), (3, 2), "{lost:?} {new:?}");
    let [lost, new] = changed("wagon-over-the-hole", "show.toml");
    assert!(new.len() == 1 && lost.contains(&"name = \"wagon on firm deck\"".into()), "{lost:?} {new:?}");
    let [lost, new] = changed("lamp-too-soon", "cues/inserts.toml");
    assert_eq!((&lost[1..], new.len()), (&[LAMP_NEEDS.trim().to_owned()][..], 1));
    let [lost, new] = changed("lamp-with-heron", "cues/inserts.toml");
    let follow = "after = { cue = \"21\", from = \"start\", wait = 0.0 }";
    assert_eq!((&lost[1..], &new[1..]), (&[LAMP_NEEDS.trim().to_owned()][..], &[follow.to_owned()][..]));
    let [lost, new] = changed("unsteady-crossing", "takes/crossing.csv");
    assert_eq!(lost.len(), new.len());
    let time = |line: &String| line.split(',').next().unwrap().parse::<f64>().unwrap();
    assert!(new[1..].iter().all(|line| (14.0..16.6).contains(&time(line))), "{new:?}");
}
