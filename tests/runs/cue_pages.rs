//! What the pages of the cue book claim, each shown on its own show.

use crate::hall::{CALLER, Hall, OTHER, folder, read};
use bellwire::engine::{Accepted, Reason, Request, RequestId, Verb};
use bellwire::proof::{CuePlan, prove};
use bellwire::show::{self, Code, CueState, Keep, Nanos};
use bellwire::stage::{Placed, Stage, WorldShape};
use glam::DVec3;

/// A page's show, armed, its sensors well.
fn open(page: &str) -> Hall {
    let mut hall = Hall::open(read(&folder("cues").join(page)));
    hall.let_sensors_speak();
    hall.arm();
    hall
}

/// The page's show with the first `from` of a file replaced.
fn edited(page: &str, file: &str, from: &str, to: &str) -> show::Show {
    let copy = tempfile::tempdir().unwrap();
    let page = folder("cues").join(page);
    for part in ["", "rigs", "cues", "takes"] {
        std::fs::create_dir_all(copy.path().join(part)).unwrap();
        for entry in std::fs::read_dir(page.join(part)).into_iter().flatten().map(|entry| entry.unwrap().path()) {
            if entry.is_file() {
                std::fs::copy(&entry, copy.path().join(part).join(entry.file_name().unwrap())).unwrap();
            }
        }
    }
    let path = copy.path().join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "{file} has no {from:?}");
    std::fs::write(&path, text.replacen(from, to, 1)).unwrap();
    read(copy.path())
}

fn hold(hall: &mut Hall) {
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(3.0);
    assert!(!hall.setpoints_move());
}

#[test]
fn several_on_standby_are_fired_in_their_order_alone() {
    let mut hall = open("standby-several");
    let cues = ["1", "2", "3"].map(|number| hall.cue(number));
    hall.ask(Verb::Standby { cues: cues.into_iter().collect(), skip: false }).unwrap();
    let ready = |hall: &Hall| hall.status.standby.iter().map(|entry| entry.ready).collect::<Vec<_>>();
    assert_eq!(ready(&hall), [true, false, false]);
    let refusal = hall.go("2").expect_err("2 is not the first");
    assert!(matches!(refusal.reasons[..], [Reason::NotOnStandby { .. }]), "{refusal:?}");
    hall.go("1").unwrap();
    hall.run(0.2);
    assert_eq!(ready(&hall), [true, false]);
    let refusal = hall.go("2").expect_err("within the guard time");
    assert!(matches!(refusal.reasons[..], [Reason::Bounce { .. }]), "{refusal:?}");
    hall.run(0.4);
    hall.go("2").unwrap();
    hall.run(0.6);
    hall.go("3").unwrap();
    assert_eq!(["1", "2", "3"].map(|number| hall.state(number)), [CueState::Running; 3]);
}

#[test]
fn a_follow_on_a_condition_comes_with_the_measured_place() {
    let mut hall = open("follow-when");
    hall.fire("1");
    while hall.state("2") != CueState::Running {
        assert!(hall.status.axes[hall.axis("hoist.height").index()].position.unwrap() < 2.81);
        hall.tick(&[]);
    }
    assert!(hall.setpoint("hoist.height") > 2.75);
    assert_eq!(hall.state("1"), CueState::Running);

    let mut hall = open("follow-when");
    hall.fire("1");
    hall.run(2.0);
    hold(&mut hall);
    hall.run(10.0);
    assert_eq!(hall.state("2"), CueState::Waiting, "a hold holds it back too");
}

#[test]
fn a_wheel_that_is_not_home_is_told_the_short_way_round() {
    let hall = open("relative-turn");
    for (number, end) in [("1", 120.0), ("2", 240.0), ("3", 360.0), ("4", 0.0)] {
        assert_eq!(hall.plan.cue(hall.cue(number)).end[hall.axis("carousel.turn").index()], end, "cue {number}");
    }
    let short = edited("relative-turn", "cues/thirds.toml", "turn = 120.0", "turn = 118.0");
    let proof = prove(&short);
    let found: Vec<_> = proof.findings.iter().filter(|finding| finding.code == Code::StartPose).collect();
    let [finding] = found[..] else { panic!("{:#?}", proof.findings) };
    assert_eq!(finding.value, Some(-2.0));
}

/// Minimum jerk: peaks of 1.875 D/T and (10/√3) D/T² (Flash and Hogan, 1985), D = 2 m in T = 8 s, as the rig itself goes.
#[test]
fn a_soft_move_has_the_peaks_of_minimum_jerk_and_needs_the_time_for_them() {
    let mut hall = open("soft-move");
    for (number, [speed, acceleration]) in [("1", [0.3333, 0.5]), ("2", [0.3, 0.5]), ("3", [0.46875, 0.180_42])] {
        hall.fire(number);
        let (tick, mut peaks) = (hall.show.settings.tick.seconds(), [0.0_f64; 2]);
        let mut before = [hall.setpoint("plover.travel"); 2];
        while hall.status.cues[hall.cue(number).index()] != CueState::Done {
            hall.run(tick);
            let now = hall.setpoint("plover.travel");
            let speeds = [(now - before[1]) / tick, (before[1] - before[0]) / tick];
            peaks = [peaks[0].max(speeds[0].abs()), peaks[1].max(((speeds[0] - speeds[1]) / tick).abs())];
            before = [before[1], now];
        }
        if number == "3" {
            assert!((peaks[0] - speed).abs() < 2e-3 && (peaks[1] - acceleration).abs() < 2e-3, "{peaks:?}");
        } else {
            assert!(peaks[0] >= speed - 2e-3 && peaks[0] < 0.46 && peaks[1] <= acceleration, "{number}: {peaks:?}");
        }
    }
    let hurried = edited("soft-move", "cues/dissolve.toml", "shape = 1.0\ntime = 8.0", "shape = 1.0\ntime = 7.0");
    let proof = prove(&hurried);
    let [finding] = &proof.findings[..] else { panic!("{:#?}", proof.findings) };
    // 1.875 · 2 m at 0.5 m/s.
    assert_eq!(finding.code, Code::TooFast);
    assert!((finding.value.unwrap() - 7.5).abs() < 0.01, "{finding:?}");
}

#[test]
fn a_way_round_makes_one_position_of_a_mark_and_the_cable_counts_its_turns() {
    let hall = open("way-round");
    for (number, end) in [("1", -90.0), ("2", 180.0), ("3", 450.0), ("4", 0.0)] {
        assert_eq!(hall.plan.cue(hall.cue(number)).end[hall.axis("vane.turn").index()], end, "cue {number}");
    }
    let shorter = edited("way-round", "rigs/vane.toml", "winding = [-0.5, 1.25]", "winding = [-0.5, 1.0]");
    let proof = prove(&shorter);
    let [finding] = &proof.findings[..] else { panic!("{:#?}", proof.findings) };
    assert_eq!((finding.code, finding.value, finding.limit), (Code::Winding, Some(1.25), Some(1.0)));
}

/// m, the least between the two capsules that a show has, by points of the one beside the other at many instants of a cue.
fn sampled(show: &show::Show, plan: &CuePlan) -> f64 {
    let (stage, mut placed, mut pose) = (Stage::new(show), Vec::new(), plan.start.clone());
    let mut least = f64::INFINITY;
    for instant in 0..=800 {
        plan.pose_at(plan.duration * f64::from(instant) / 800.0, &mut pose);
        stage.place(&pose, &mut placed);
        let capsule = |body: &Placed| match body.shape {
            WorldShape::Capsule { from, to, radius } => Some((from, to, radius)),
            WorldShape::Sphere { .. } | WorldShape::Box { .. } => None,
        };
        let [(from, to, radius), (low, high, other)] = placed.iter().filter_map(capsule).collect::<Vec<_>>()[..]
        else {
            panic!("two capsules were expected");
        };
        for part in 0..=200 {
            let point = from.lerp(to, f64::from(part) / 200.0);
            let along = ((point - low).dot(high - low) / (high - low).length_squared()).clamp(0.0, 1.0);
            least = least.min(point.distance(low.lerp(high, along)) - radius - other);
        }
    }
    least
}

/// Where the curve and the straight line differ, the check proves the curve.
#[test]
fn a_way_through_marks_is_proved_where_it_goes() {
    let codes = |show: &show::Show| -> Vec<Code> {
        prove(show).findings.iter().filter(|finding| finding.cues == ["1"]).map(|finding| finding.code).collect()
    };
    let (rig, cues) = ("rigs/palm.toml", "cues/flight.toml");
    let straight = "via = [\"over-ferns\", \"over-palm\"]";
    let page = read(&folder("cues/through-marks"));
    let proof = prove(&page);
    assert!(proof.findings.is_empty(), "{:#?}", proof.findings);
    let (proved, seen) = (proof.closest[0].as_ref().unwrap().value, sampled(&page, &proof.plan.cues[0]));
    // The proof grows bodies by the start tolerances: half a degree at the end of an arm of four metres.
    assert!(proved <= seen && proved > seen - 0.15, "{proved}, {seen}");
    assert_eq!(
        codes(&edited("through-marks", cues, straight, "")),
        [Code::Clearance],
        "straight it is in the palm"
    );
    let palm = "{ capsule = { from = [0.0, 0.0, 0.3], to = [0.0, 0.0, 2.2], radius = 0.3 } }";
    let lamp = "{ sphere = { at = [0.0, -0.45, 3.75], radius = 0.2 } }";
    assert_eq!(codes(&edited("through-marks", rig, palm, lamp)), [Code::Clearance], "on its curve it is in a lamp");
    let hurried = prove(&edited("through-marks", cues, "time = 16.0", "time = 13.0"));
    let [finding] = &hurried.findings[..] else { panic!("{:#?}", hurried.findings) };
    assert_eq!((finding.code, finding.limit), (Code::TooFast, Some(13.0)));
    assert!(finding.value.is_some_and(|least| least > 13.2 && least < 13.5), "{:?}", finding.value);
}

#[test]
fn marks_are_passed_without_stopping_and_a_stop_leaves_the_rig_on_its_curve() {
    let mut hall = open("through-marks");
    let axes = ["bittern.swing", "bittern.boom", "bittern.zoom"];
    let step = hall.plan.cue(hall.cue("1")).moves[0].clone();
    for (time, pose) in step.passes.iter().zip([[-25.0, 30.0], [5.0, 40.0]]) {
        let at: Vec<_> = step.axes.iter().map(|path| step.at(path, *time)).collect();
        assert_eq!([at[0].position, at[1].position], pose);
        assert!(at[0].speed > 1.0 && at[2].speed > 1.0, "{at:?}");
    }
    hall.fire("1");
    hall.run(4.0);
    hold(&mut hall);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run(3.0);
    hall.press_stop();
    hall.run_to_standstill();
    assert_eq!(hall.state("1"), CueState::Stopped);
    // Wherever along the curve it stands: a swing that is so far has the boom where the curve has it.
    let (swing, boom) = (hall.setpoint(axes[0]), hall.setpoint(axes[1]));
    let (mut early, mut late) = (0.0, step.duration());
    for _ in 0..50 {
        let middle = (early + late) / 2.0;
        if step.at(&step.axes[0], middle).position < swing { early = middle } else { late = middle }
    }
    assert!(early > 4.0 && early < 12.0, "{early}");
    assert!((step.at(&step.axes[1], early).position - boom).abs() < 0.05, "{boom} at {early} s");
    hall.ask(Verb::Reset).unwrap();
    hall.run(0.2);
    hall.fire("1");
    hall.run_until("1", CueState::Done, 16.0);
    assert_eq!(axes.map(|axis| hall.setpoint(axis)), [35.0, 8.0, 70.0]);
}

#[test]
fn needs_refuse_until_the_other_cue_is_so_far() {
    let mut hall = open("needs");
    hall.fire("1");
    hall.run(3.0);
    assert!(matches!(hall.standby("2")[..], [Reason::Needs { .. }]));
    assert!(hall.go("2").is_err());
    hall.run_until("1", CueState::Done, 5.0);
    hall.fire("2");
    hall.run(4.0);
    assert!(matches!(hall.standby("3")[..], [Reason::Needs { .. }]));
    hall.run(1.1);
    hall.fire("3");
    assert_eq!(hall.state("2"), CueState::Running, "they run together, parted by five seconds");

    // An acknowledged skip acknowledges the order alone.
    let mut hall = open("needs");
    let cue = hall.cue("2");
    let standby = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: true });
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = standby else { panic!("{standby:?}") };
    assert!(reasons.reasons.iter().any(|reason| matches!(reason, Reason::Needs { .. })), "{reasons:?}");
}

#[test]
fn a_hold_keeps_the_barges_together_and_all_who_held_must_resume() {
    let mut hall = open("hold-resume");
    hall.fire("1");
    hall.run(5.0);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.ask_as(OTHER, Verb::Hold { cue: None }).unwrap();
    while hall.setpoints_move() {
        let apart = hall.setpoint("heavy.travel") - hall.setpoint("light.travel");
        // What their start was off fades along the way.
        assert!(apart.abs() < 0.002, "{apart}");
    }
    assert!(hall.refused(Verb::Resume { cue: None }).contains(&Reason::HeldBy { client: OTHER }));
    hall.run(0.5);
    assert!(!hall.setpoints_move());
    hall.ask_as(OTHER, Verb::Resume { cue: None }).unwrap();
    hall.run_until("1", CueState::Done, 9.0);
    assert_eq!(hall.setpoint("light.travel"), 4.0);
}

#[test]
fn a_return_goes_back_at_half_of_the_speed_and_the_cue_can_be_fired_anew() {
    let mut hall = open("return");
    hall.fire("1");
    hall.run(6.0);
    hold(&mut hall);
    let cue = hall.cue("1");
    hall.ask(Verb::Return { cue, held: false }).unwrap();
    assert!(!hall.setpoints_move(), "the way back waits for its GO");
    hall.run(0.5);
    hall.go("1").unwrap();
    let mut fastest: f64 = 0.0;
    while hall.state("1") == CueState::Returning {
        fastest = fastest.min(hall.status.rate);
        hall.tick(&[]);
    }
    assert!((fastest + 0.5).abs() < 1e-9, "{fastest}");
    assert!((hall.setpoint("ladder.travel")).abs() < 0.005);
    assert!((hall.setpoint("ladder.basket") - 0.5).abs() < 0.005);
    hall.run(0.5);
    hall.fire("1");
}

#[test]
fn half_of_the_master_takes_twice_the_time_of_moves_and_waits() {
    let mut hall = open("master");
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    hall.fire("1");
    hall.run(5.9);
    assert_eq!(hall.state("2"), CueState::Waiting);
    hall.run(0.2);
    assert_eq!(hall.state("2"), CueState::Running);
    hall.run(7.8);
    assert_eq!(hall.state("1"), CueState::Running);
    hall.run(0.2);
    assert_eq!(hall.state("1"), CueState::Done);
    hall.run_until("2", CueState::Done, 4.1);
}

#[test]
fn a_lost_lease_holds_one_cue_and_lets_the_other_finish() {
    let mut hall = open("link-loss");
    hall.fire("1");
    hall.run(3.0);
    hall.ask_as(CALLER, Verb::ClientLost { leased: true }).unwrap();
    hall.run(3.0);
    assert_eq!(hall.state("1"), CueState::Holding);
    assert!(!hall.setpoints_move());
    hall.ask_as(OTHER, Verb::Resume { cue: None }).unwrap();
    hall.run_until("1", CueState::Done, 14.0);
    hall.fire("2");
    hall.run(2.0);
    hall.ask_as(CALLER, Verb::ClientLost { leased: true }).unwrap();
    hall.run_until("2", CueState::Done, 5.1);
}

/// Where the camera on the arm's tip begins and ends, with the boom at 35 degrees.
fn camera(show: &show::Show) -> [[f64; 3]; 2] {
    let mut placed = Vec::new();
    Stage::new(show).place(&[0.0, 35.0, 0.0], &mut placed);
    let WorldShape::Capsule { from, to, .. } = placed.last().unwrap().shape else { panic!("{placed:?}") };
    [from.to_array(), to.to_array()]
}

#[test]
fn a_levelled_head_stays_level_while_its_place_goes_with_the_arm() {
    let [back, front] = camera(&read(&folder("cues/levelled-head")));
    assert!((front[2] - back[2]).abs() < 1e-12, "{back:?} {front:?}");
    let height = 1.2 + 4.0 * 35.0_f64.to_radians().sin() - 0.3;
    assert!((front[2] - height).abs() < 1e-9, "{front:?}");
    let bare = edited("levelled-head", "rigs/stork.toml", ", level = true", "");
    let [back, front] = camera(&bare);
    assert!((front[2] - back[2] - 0.7 * 35.0_f64.to_radians().sin()).abs() < 1e-9, "without it the head tips");
}

#[test]
fn a_riding_head_goes_with_its_wagon_and_is_not_moved_beside_it_by_another_cue() {
    let mut hall = open("riding-rig");
    let stage = Stage::new(&hall.show);
    let head = |wagon: f64| {
        let mut pose = vec![0.0; hall.show.axes.len()];
        pose[hall.axis("wagon.travel").index()] = wagon;
        let mut placed = Vec::new();
        stage.place(&pose, &mut placed);
        let body = placed.iter().find(|body| body.rig == hall.rig("owl")).unwrap();
        let WorldShape::Capsule { from, .. } = body.shape else { panic!("{body:?}") };
        from.x
    };
    assert!((head(5.0) - head(0.0) - 5.0).abs() < 1e-12);
    hall.fire("1");
    hall.run(1.0);
    let cue = hall.cue("2");
    let standby = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false });
    let Ok(Accepted::Standby { ready: false, reasons, .. }) = standby else { panic!("{standby:?}") };
    assert!(reasons.reasons.iter().any(|reason| matches!(reason, Reason::RigShared { .. })), "{reasons:?}");
    hall.run_until("1", CueState::Done, 4.0);
    hall.fire("2");
    hall.run_until("2", CueState::Done, 13.1);
}

#[test]
fn zones_and_pairs_have_their_rigs_and_margins() {
    let show = read(&folder("cues/zones-pairs"));
    let margin = |name: &str| {
        let zone = show.zones.iter().find(|zone| zone.name == name).unwrap();
        (zone.keep == Keep::In, zone.margin)
    };
    assert_eq!(margin("front row"), (false, 0.2));
    assert_eq!(margin("furnace door"), (false, 0.4));
    assert_eq!(margin("lamp's shaft"), (true, 0.2));
    assert_eq!(show.pairs.len(), 1);
    assert_eq!(show.pairs[0].margin, 0.1);
    assert!(show.pairs[0].because.is_some());
    let named = |name: &str| show.zones.iter().find(|zone| zone.name == name).unwrap().rigs.len();
    assert_eq!([named("furnace door"), named("lamp's shaft")], [1, 1]);
}

#[test]
fn a_foot_on_the_mat_stops_the_wall_until_a_reset() {
    let mut hall = open("tripping-input");
    hall.fire("1");
    hall.run(5.0);
    let input = hall.sensors[0].0;
    hall.ask(Verb::Input { input, value: false }).unwrap();
    hall.tick(&[]);
    assert!(hall.status.stopped.is_some());
    hall.run_to_standstill();
    hall.run(1.0);
    assert!(hall.status.inputs[0].tripped, "the mat says true again, and is not believed");
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));
    hall.run(1.0);
    assert!(!hall.setpoints_move() && !hall.status.inputs[0].tripped);

    // While a foot still stands on it the reset has its cause to name.
    let mut hall = open("tripping-input");
    hall.fire("1");
    hall.run(5.0);
    hall.sensors[0].1 = false;
    hall.run(0.2);
    hall.run_to_standstill();
    hall.refused(Verb::Reset);
    hall.sensors[0].1 = true;
    hall.run(0.2);
    assert_eq!(hall.ask(Verb::Reset), Ok(Accepted::Done));

    // Silence stops as well, but trips nothing.
    let mut hall = open("tripping-input");
    hall.fire("1");
    hall.run(5.0);
    hall.sensors.clear();
    hall.run(1.0);
    assert!(hall.status.stopped.is_some() && !hall.status.inputs[0].tripped);
}

#[test]
fn a_go_must_name_its_cue_and_be_fresh() {
    let mut hall = open("named-go");
    assert!(hall.standby("1").is_empty());
    assert!(matches!(hall.refused(Verb::Go { cue: None })[..], [Reason::NameTheCue { .. }]));
    let other = Some(hall.cue("2"));
    assert!(matches!(hall.refused(Verb::Go { cue: other })[..], [Reason::NotOnStandby { .. }]));
    let named = hall.request(CALLER, Verb::Go { cue: Some(hall.cue("1")) });
    let late = Request { id: RequestId(9_000), age: Some(Nanos::from_seconds(0.3)), ..named.clone() };
    let refusal = hall.tick(&[late])[0].outcome.clone().expect_err("it is too old");
    assert!(matches!(refusal.reasons[..], [Reason::TooOld { .. }]), "{refusal:?}");
    let fresh = Request { id: RequestId(9_001), age: Some(Nanos::from_seconds(0.2)), ..named };
    assert_eq!(hall.tick(&[fresh])[0].outcome, Ok(Accepted::Done));
}

#[test]
fn a_mark_moves_every_cue_that_goes_there_and_a_part_of_one_leaves_the_rest() {
    let hall = open("marks");
    let end = |hall: &Hall, number: &str| {
        let end = &hall.plan.cue(hall.cue(number)).end;
        ["finch.travel", "finch.pan", "finch.zoom"].map(|axis| end[hall.axis(axis).index()])
    };
    assert_eq!(end(&hall, "1"), [2.6, 40.0, 60.0]);
    assert_eq!(end(&hall, "2"), [2.6, 40.0, 5.0]);
    let moved = Hall::open(edited("marks", "rigs/finch.toml", "travel = 2.6", "travel = 2.8"));
    for number in ["1", "3"] {
        assert_eq!(end(&moved, number), [2.8, 40.0, 60.0], "cue {number}");
    }
    // And a list that does not leave the rig at the mark is told so.
    let astray = edited("marks", "cues/loft.toml", "to = \"easel\"\ntime = 4.0", "to = \"door\"\ntime = 8.0");
    assert!(prove(&astray).findings.iter().any(|finding| finding.code == Code::StartPose));
}

#[test]
fn a_take_is_played_as_it_was_recorded_and_entered_where_it_was() {
    let mut hall = open("take");
    let playing = |hall: &Hall, number: &str| hall.show.cue(hall.cue(number)).moves[0].playing.clone().unwrap();
    let take = playing(&hall, "2").take;
    // It begins on the move and ends at rest.
    let run_in = hall.plan.cue(hall.cue("2")).duration - take.length();
    assert!((0.3..1.5).contains(&run_in), "{run_in}");
    hall.fire("1");
    hall.run_until("1", CueState::Done, 5.0);
    hall.fire("2");
    let recorded = |column: usize, time: f64| {
        let next = take.times.partition_point(|&sample| sample < take.times[0] + time);
        take.columns[column].values[next]
    };
    for second in 1..10 {
        hall.run(1.0);
        let time = f64::from(second) - run_in;
        if time > run_in {
            // Within tolerance, and what it goes from one sample to the next.
            let off = hall.setpoint("dotterel.travel") - recorded(0, time);
            assert!(off.abs() < 0.01 + 0.3 * 0.05, "{second} s: off by {off} m");
            let off = hall.setpoint("dotterel.pan") - recorded(1, time);
            assert!(off.abs() < 0.5 + 13.0 * 0.05, "{second} s: off by {off} degrees");
        }
    }
    hall.run_until("2", CueState::Done, 2.0);
    hall.fire("3");
    hall.run_until("3", CueState::Done, 8.0);
    let duration = hall.plan.cue(hall.cue("4")).duration;
    let run_in = duration / 1.5 - (take.length() - 3.0);
    assert!((0.05..1.5).contains(&run_in), "{run_in}");
    assert!((hall.setpoint("dotterel.travel") - recorded(0, 3.0)).abs() < 0.01 + 0.3 * 0.05);
    hall.fire("4");
    hall.run_until("4", CueState::Done, duration + 0.1);
    assert!((hall.setpoint("dotterel.travel") - take.columns[0].values.last().unwrap()).abs() < 0.01);

    let hasty = prove(&edited("take", "cues/pier.toml", "take = \"walk\"", "take = \"walk\"\nstretch = 0.5"));
    let found: Vec<_> = hasty.findings.iter().filter(|finding| finding.code == Code::Take).collect();
    assert!(
        matches!(found[..], [finding] if finding.limit == Some(0.5) && finding.value.unwrap() > 0.6),
        "{found:?}"
    );
    let astray = prove(&edited("take", "cues/pier.toml", "to = \"lamp\"", "to = \"gate\""));
    assert!(astray.findings.iter().any(|finding| finding.code == Code::StartPose));
}

/// Degrees between what the head of the estuary looks along and the middle of the ferry, both as they are set now.
fn off_the_ferry(hall: &Hall) -> f64 {
    let at = |axis: &str| hall.setpoint(axis);
    let (pan, tilt) = (at("petrel.pan").to_radians(), at("petrel.tilt").to_radians());
    let along = DVec3::new(pan.cos() * tilt.cos(), pan.sin() * tilt.cos(), tilt.sin());
    let lens = DVec3::new(-2.0 + at("petrel.travel"), -4.0, 1.3);
    along.angle_between(DVec3::new(-3.0 + at("ferry.travel"), 2.0, 0.475) - lens).to_degrees()
}

/// The two never come near each other, and share their rate all the same: what the one looks at the other moves.
#[test]
fn an_aimed_camera_is_on_its_target_through_hold_master_and_stop() {
    let mut hall = open("aim");
    hall.fire("1");
    hall.run_until("1", CueState::Done, 13.0);
    hall.fire("2");
    hall.run_until("3", CueState::Running, 3.0);
    hall.run(4.2);
    let watched = |hall: &mut Hall, seconds: f64| {
        let mut farthest = 0.0_f64;
        for _ in 0..(seconds / 0.05) as usize {
            hall.run(0.05);
            farthest = farthest.max(off_the_ferry(hall));
        }
        // 0.05, and what the encoders' noise gave it as a start.
        assert!(farthest < 0.06, "{farthest} degrees off");
    };
    watched(&mut hall, 1.0);
    let cue = Some(hall.cue("3"));
    hall.ask(Verb::Hold { cue }).unwrap();
    watched(&mut hall, 2.0);
    assert_eq!((hall.state("2"), hall.state("3")), (CueState::Holding, CueState::Holding));
    hall.ask(Verb::Resume { cue }).unwrap();
    watched(&mut hall, 2.0);
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    watched(&mut hall, 2.0);
    hall.press_stop();
    watched(&mut hall, 2.0);
    assert!(!hall.setpoints_move());
}
