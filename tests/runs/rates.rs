//! Every control is the rate of a cue: which limits a change keeps, what it scales, and what it leaves as it is.
//!
//! Everything is measured from the setpoints alone, by finite differences.

use crate::hall::carts::{EAST, WEST, cue, east, hall, west};
use crate::hall::{CALLER, Hall, show_of};
use bellwire::engine::*;
use bellwire::show::{CueState, Limits};

/// Room for what finite differences make of a change of jerk, as a part of the limit.
const ROOM: f64 = 1.001;

/// The setpoints of one axis, tick by tick.
struct Trace {
    tick: f64,
    positions: Vec<f64>,
}

/// The greatest magnitudes of a trace.
#[derive(Debug)]
struct Peaks {
    speed: f64,
    acceleration: f64,
    jerk: f64,
    /// The most braking on a way up.
    loss: f64,
}

impl Trace {
    fn of(hall: &mut Hall, axis: &str, seconds: f64) -> Trace {
        let tick = hall.show.settings.tick.seconds();
        let mut positions = vec![hall.setpoint(axis)];
        for _ in 0..(seconds / tick).round() as usize {
            hall.tick(&[]);
            positions.push(hall.setpoint(axis));
        }
        Trace { tick, positions }
    }

    fn peaks(&self) -> Peaks {
        let most = |values: &dyn Fn(&[f64]) -> f64, length: usize| {
            self.positions.windows(length).map(values).fold(0.0_f64, f64::max)
        };
        let bend = |p: &[f64]| (p[2] - 2.0 * p[1] + p[0]) / self.tick.powi(2);
        Peaks {
            speed: most(&|p| (p[1] - p[0]).abs() / self.tick, 2),
            acceleration: most(&|p| bend(p).abs(), 3),
            jerk: most(&|p| (p[3] - 3.0 * p[2] + 3.0 * p[1] - p[0]).abs() / self.tick.powi(3), 4),
            loss: most(&|p| -bend(p), 3),
        }
    }

    /// s, until it moves no more.
    fn rests_after(&self) -> f64 {
        let end = self.positions.last().unwrap();
        self.positions
            .iter()
            .rposition(|position| position != end)
            .map_or(0.0, |last| (last + 1) as f64 * self.tick)
    }
}

fn limits(hall: &Hall) -> (Limits, Limits) {
    let axis = hall.show.axis(hall.axis("east.travel"));
    (axis.run, axis.stop)
}

/// A cue that runs at its rated speed for seconds on end.
fn cruising(master: f64) -> Hall {
    let mut hall = hall("", &cue("1", &east(3.0, 4.25)));
    hall.ask(Verb::Master { value: master }).unwrap();
    hall.fire("1");
    hall.run(2.1 / master);
    hall
}

#[test]
fn a_hold_slows_with_the_stopping_limits() {
    let mut hall = cruising(1.0);
    let (run, stop) = limits(&hall);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    let trace = Trace::of(&mut hall, "east.travel", 2.0);
    let peaks = trace.peaks();
    assert!(peaks.loss > 1.05 * run.acceleration, "softer than a hold may be: {peaks:?}");
    assert!(peaks.loss <= ROOM * stop.acceleration && peaks.jerk <= ROOM * stop.jerk, "{peaks:?}");
    assert!(!hall.setpoints_move());
}

#[test]
fn a_resume_and_a_rise_of_the_master_keep_the_running_limits() {
    let mut hall = cruising(1.0);
    let (run, _) = limits(&hall);
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(2.0);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    let peaks = Trace::of(&mut hall, "east.travel", 4.0).peaks();
    assert_eq!(hall.state("1"), CueState::Done);
    assert!(peaks.acceleration <= ROOM * run.acceleration && peaks.jerk <= ROOM * run.jerk, "{peaks:?}");

    let mut hall = cruising(0.2);
    hall.ask(Verb::Master { value: 1.0 }).unwrap();
    let peaks = Trace::of(&mut hall, "east.travel", 4.0).peaks();
    assert!(peaks.speed > 0.9 * run.speed, "it did not rise: {peaks:?}");
    assert!(peaks.acceleration <= ROOM * run.acceleration && peaks.jerk <= ROOM * run.jerk, "{peaks:?}");
}

/// Biagiotti and Melchiorri, 2008, section 3.4.5: at a rate of s, speed falls by s, acceleration by s², jerk by s³.
#[test]
fn reduced_speed_scales_speed_acceleration_and_jerk_by_its_powers() {
    let peaks = |master: f64| {
        let mut hall = hall("", &cue("1", &east(2.0, 3.5)));
        hall.ask(Verb::Master { value: master }).unwrap();
        hall.fire("1");
        Trace::of(&mut hall, "east.travel", 3.6 / master).peaks()
    };
    let whole = peaks(1.0);
    for s in [0.5, 0.25] {
        let slow = peaks(s);
        for (found, expected) in [
            (slow.speed / whole.speed, s),
            (slow.acceleration / whole.acceleration, s.powi(2)),
            (slow.jerk / whole.jerk, s.powi(3)),
        ] {
            assert!((found / expected - 1.0).abs() < 0.01, "at {s}: found {found}, expected {expected}");
        }
    }
}

#[test]
fn a_cue_at_half_speed_ends_where_it_ends_at_full_speed() {
    for master in [1.0, 0.5, 0.1] {
        let mut hall = hall("", &cue("1", &east(1.0, 2.5)));
        hall.ask(Verb::Master { value: master }).unwrap();
        hall.fire("1");
        let begun = hall.status.tick;
        hall.run_until("1", CueState::Done, 2.6 / master);
        assert_eq!(hall.setpoint("east.travel"), 1.0);
        let took = (hall.status.tick - begun) as f64 * hall.show.settings.tick.seconds();
        assert!((took - 2.5 / master).abs() < 0.02, "{took}");
    }
}

#[test]
fn a_stop_is_not_softened_by_the_master() {
    // A time of the same pose, at full speed and at half of it.
    let stop = |master: f64| {
        let mut hall = cruising(master);
        let (from, (run, _)) = (hall.setpoint("east.travel"), limits(&hall));
        hall.stop.generations[0] += 1;
        let trace = Trace::of(&mut hall, "east.travel", 4.0);
        assert!((from - 1.5).abs() < 0.2, "{from}");
        (trace.rests_after(), trace.peaks(), run)
    };
    let ((whole, _, _), (half, peaks, run)) = (stop(1.0), stop(0.5));
    assert!(half < 0.8 * whole, "half the speed took {half} s to stop, the whole {whole} s");
    assert!(peaks.loss > 1.05 * run.acceleration, "the stop was softened: {peaks:?}");
}

#[test]
fn no_stop_takes_longer_than_the_check_said_and_one_takes_as_long() {
    let show = || cue("1", &east(3.0, 4.25));
    let promised = {
        let hall = hall("", &show());
        hall.plan.cue(hall.cue("1")).stop_time
    };
    let mut longest = 0.0_f64;
    for step in 0..60 {
        let mut hall = hall("", &show());
        hall.fire("1");
        hall.run(4.25 * f64::from(step) / 60.0);
        hall.stop.generations[0] += 1;
        let took = Trace::of(&mut hall, "east.travel", promised + 0.5).rests_after();
        assert!(took <= promised + 2.0 * hall.show.settings.tick.seconds(), "step {step}: {took} > {promised}");
        longest = longest.max(took);
    }
    assert!(longest > 0.9 * promised, "{promised} s were promised, {longest} s were the longest");
}

#[test]
fn the_axes_of_a_move_keep_their_proportion_through_a_stop() {
    let look = "move = [{ rig = \"head\", to = { pan = 60.0, zoom = 80.0 }, time = 3.0 }]";
    for at in [0.3, 0.9, 1.5, 2.2, 2.7] {
        let mut hall = hall("", &cue("1", look));
        hall.fire("1");
        let from = ["head.pan", "head.zoom"].map(|axis| hall.setpoint(axis));
        hall.run(at);
        hall.stop.generations[0] += 1;
        for _ in 0..600 {
            hall.tick(&[]);
            let pan = (hall.setpoint("head.pan") - from[0]) / (60.0 - from[0]);
            let zoom = (hall.setpoint("head.zoom") - from[1]) / (80.0 - from[1]);
            assert!((pan - zoom).abs() < 1e-9 && pan > 0.0 && pan < 1.0, "{at}: {pan} {zoom}");
        }
        hall.run_to_standstill();
    }
}

/// The own times of the two cues of a group, s.
fn apart(hall: &Hall) -> f64 {
    let time = |number: &str| {
        let cue = hall.cue(number);
        hall.status.running.iter().find(|running| running.cue == cue).expect("it runs").time
    };
    time("1") - time("2")
}

/// The carts, the western one on the rail of the other and behind it: which could run into it, so that the two share a rate.
fn bound(cues: &str) -> Hall {
    let behind = WEST.replace("at = [0.0, 4.0, 0.0]", "at = [-1.5, 0.0, 0.0]");
    assert_ne!(behind, WEST);
    let head = "[show]\nname = \"Carts\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n";
    let files =
        [("show.toml", head), ("rigs/east.toml", EAST), ("rigs/west.toml", &behind), ("cues/all.toml", cues)];
    let mut hall = Hall::open(show_of(&files));
    hall.arm();
    hall
}

#[test]
fn cues_that_run_together_keep_their_distance_in_time_through_everything() {
    let mut hall = bound(&(cue("1", &east(3.0, 8.0)) + &cue("2", &west(2.0, 7.0))));
    hall.fire("1");
    hall.run(1.0);
    hall.fire("2");
    hall.run(1.5);
    let distance = apart(&hall);
    let keeps = |hall: &Hall, what: &str| {
        let now = apart(hall);
        assert!((now - distance).abs() < 1e-9, "{what}: {now} instead of {distance}");
    };
    hall.ask(Verb::Master { value: 0.5 }).unwrap();
    hall.run(0.5);
    keeps(&hall, "master");
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(0.1);
    keeps(&hall, "slowing for a hold");
    hall.run(1.5);
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run(0.3);
    keeps(&hall, "resume");
    hall.press_stop();
    hall.run(0.1);
    keeps(&hall, "stop");
    hall.run_to_standstill();
    keeps(&hall, "standstill");
    hall.ask(Verb::Reset).unwrap();
    hall.fire("1");
    hall.run(0.5);
    keeps(&hall, "carried on by one GO");
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(1.5);
    let two = hall.cue("2");
    hall.ask(Verb::Return { cue: two, held: true }).unwrap();
    hall.run(0.4);
    assert_eq!(["1", "2"].map(|n| hall.state(n)), [CueState::Returning; 2]);
    keeps(&hall, "return");
}

#[test]
fn the_error_of_a_start_fades_without_a_limit_broken() {
    let mut hall = hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &east(3.0, 3.25))));
    let axis = hall.axis("east.travel");
    hall.fire("1");
    hall.run_until("1", CueState::Done, 2.6);
    hall.ask(Verb::Disarm).unwrap();
    hall.run(0.3);
    hall.faults.inject(bellwire::rig::SimFault::BrakeSlip(axis, -0.015));
    hall.run(1.0);
    hall.faults.heal();
    hall.run(0.5);
    hall.ask(Verb::Arm).unwrap();
    hall.standby("2");
    let stands = hall.setpoint("east.travel");
    assert!(stands < 0.99, "it has not slipped: {stands}");
    hall.go("2").unwrap();
    // 2 m in the least time, and 15 mm more to go: it takes a little longer and asks no more of the axis.
    let trace = Trace::of(&mut hall, "east.travel", 3.5);
    let (run, _) = limits(&hall);
    let peaks = trace.peaks();
    assert!(peaks.speed <= ROOM * run.speed && peaks.acceleration <= ROOM * run.acceleration, "{peaks:?}");
    assert!(peaks.jerk <= ROOM * run.jerk, "{peaks:?}");
    assert_eq!(*trace.positions.last().unwrap(), 3.0);
    assert!(trace.positions[1] - stands < 1e-3, "the error was caught up at once");
}

#[test]
fn a_return_keeps_the_running_limits_and_its_rate() {
    let mut hall = cruising(1.0);
    let start = hall.plan.cue(hall.cue("1")).start[hall.axis("east.travel").index()];
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(2.0);
    let one = hall.cue("1");
    hall.ask_as(CALLER, Verb::Return { cue: one, held: false }).unwrap();
    hall.run(0.3);
    hall.go("1").unwrap();
    let peaks = Trace::of(&mut hall, "east.travel", 8.0).peaks();
    let (run, _) = limits(&hall);
    let most = hall.show.settings.return_rate * run.speed;
    assert!((0.9 * most..=ROOM * most).contains(&peaks.speed), "{peaks:?}");
    assert!(peaks.acceleration <= ROOM * run.acceleration && peaks.jerk <= ROOM * run.jerk, "{peaks:?}");
    assert_eq!(hall.state("1"), CueState::Idle);
    assert!((hall.setpoint("east.travel") - start).abs() < 0.005);
}
