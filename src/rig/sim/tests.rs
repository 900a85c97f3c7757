use super::*;
use crate::engine::SimFault;
use crate::rig::{Driver, open};
use crate::show;
use crate::show::Unit;
use crate::stage::fixture::{add_axis, add_rig, empty_show};
use glam::DVec3;

const AXIS: AxisId = AxisId(0);
const RIG: RigId = RigId(0);
const RUN: RigCommand = RigCommand { enable: true, heartbeat: true };
const OFF: RigCommand = RigCommand { enable: false, heartbeat: true };
const SILENT: RigCommand = RigCommand { enable: true, heartbeat: false };

/// One rig of one axis in degrees, turned by hand.
struct Bench {
    driver: Box<dyn Driver>,
    faults: SimFaults,
    travel: [f64; 2],
    tick: Nanos,
    now: Nanos,
    report: RigReport,
    axis: AxisReport,
}

impl Bench {
    fn new() -> Bench {
        Bench::of(2, SimSettings { lag: 0.03, noise: 0.0, backlash: 0.0 }, 1)
    }

    fn of(tick_millis: i64, settings: SimSettings, seed: u64) -> Bench {
        let mut show = empty_show();
        show.settings.tick = Nanos::from_millis(tick_millis);
        add_rig(&mut show, DVec3::ZERO, 0.0, None);
        add_axis(&mut show, Unit::Degree, None, vec![]);
        show.rigs[0].driver = show::Driver::Sim(settings);
        let (mut drivers, faults) = open(&show, seed);
        Bench {
            driver: drivers.remove(0),
            faults,
            travel: show.axes[0].travel,
            tick: show.settings.tick,
            now: Nanos(-show.settings.tick.0),
            report: RigReport { age: Nanos::NEVER, enabled: false, fault: false, simulated: true },
            axis: AxisReport { position: 0.0, speed: 0.0 },
        }
    }

    fn turn(&mut self, command: RigCommand, position: f64) {
        self.now = self.now.saturating_add(self.tick);
        self.report = self.driver.read(self.now, std::slice::from_mut(&mut self.axis));
        let setpoint = Setpoint { position, ..Setpoint::default() };
        self.driver.write(self.now, command, &[setpoint]);
    }

    fn rest(&mut self, command: RigCommand, position: f64, seconds: f64) {
        for _ in 0..(seconds / self.tick.seconds()).round() as u32 {
            self.turn(command, position);
        }
    }

    /// At `speed` from `from`; gives the last setpoint.
    fn ramp(&mut self, from: f64, speed: f64, seconds: f64) -> f64 {
        let ticks = (seconds / self.tick.seconds()).round() as u32;
        let at = |tick: u32| from + speed * f64::from(tick) * self.tick.seconds();
        let last = at(ticks);
        for position in (1..=ticks).map(at).collect::<Vec<_>>() {
            self.turn(RUN, position);
        }
        last
    }

    /// With power on and moving at 10 degrees a second; gives the setpoint.
    fn moving(&mut self) -> f64 {
        self.rest(RUN, 0.0, 0.1);
        self.ramp(0.0, 10.0, 1.0)
    }
}

fn assert_near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "found {found}, expected {expected} within {within}");
}

#[test]
fn is_silent_until_its_first_report_has_travelled() {
    let mut bench = Bench::new();
    bench.turn(OFF, 0.0);
    assert_eq!(bench.report.age, Nanos::NEVER);
    bench.turn(OFF, 0.0);
    bench.turn(OFF, 0.0);
    assert_eq!(bench.report.age, LINK_DELAY);
    assert!(!bench.report.enabled && !bench.report.fault);
}

#[test]
fn the_delay_is_rounded_up_to_whole_ticks() {
    for (tick, age) in [(1, 4), (2, 4), (3, 6), (20, 20)] {
        let mut bench = Bench::of(tick, SimSettings { lag: 0.03, noise: 0.0, backlash: 0.0 }, 1);
        bench.rest(OFF, 0.0, 0.1);
        assert_eq!(bench.report.age, Nanos::from_millis(age));
    }
}

#[test]
fn trails_by_its_lag_and_the_link_both_ways() {
    let mut bench = Bench::new();
    let setpoint = bench.moving();
    // The newest setpoint is meant for the end of the tick; the reading is of what was told two delays ago.
    let trail = 0.03 + 2.0 * LINK_DELAY.seconds() + bench.tick.seconds();
    assert_near(bench.axis.position, setpoint - 10.0 * trail, 0.001);
    assert_near(bench.axis.speed, 10.0, 0.01);
    assert!(bench.report.enabled);
}

#[test]
fn arrives_and_stands() {
    let mut bench = Bench::new();
    let setpoint = bench.moving();
    bench.rest(RUN, setpoint, 1.0);
    assert_eq!(bench.axis, AxisReport { position: setpoint, speed: 0.0 });
}

#[test]
fn without_power_it_holds() {
    let mut bench = Bench::new();
    bench.rest(OFF, 45.0, 1.0);
    assert_eq!(bench.axis.position, 0.0);
    assert!(!bench.report.enabled);
}

#[test]
fn power_taken_at_speed_leaves_it_to_the_brakes() {
    let mut bench = Bench::new();
    let setpoint = bench.moving();
    bench.rest(OFF, setpoint, 1.0);
    let held = bench.axis.position;
    // 10²/(2·30) = 1.667 degrees at twice the stopping acceleration, and what the delays and the lag leave.
    assert_near(held, setpoint - 0.3 + 1.667, 0.1);
    assert!(!bench.report.enabled && !bench.report.fault);
    bench.rest(OFF, setpoint + 50.0, 1.0);
    assert_eq!(bench.axis, AxisReport { position: held, speed: 0.0 });
}

#[test]
fn its_own_watchdog_brakes_it_when_the_heartbeat_stays_away() {
    let mut bench = Bench::new();
    let setpoint = bench.moving();
    bench.rest(SILENT, setpoint, 0.19);
    assert!(bench.report.enabled, "not before the link time-out of 0.2 s");
    bench.rest(SILENT, setpoint, 1.0);
    assert!(!bench.report.enabled && bench.report.fault);
    assert_eq!(bench.axis.speed, 0.0);
    let held = bench.axis.position;
    // A heartbeat alone brings nothing back: first the power must be let go.
    bench.rest(RUN, setpoint + 5.0, 0.5);
    assert!(!bench.report.enabled && bench.report.fault);
    bench.rest(OFF, held, 0.1);
    assert!(!bench.report.fault);
    bench.rest(RUN, held, 0.5);
    assert!(bench.report.enabled && !bench.report.fault);
    assert_near(bench.axis.position, held, 0.001);
}

#[test]
fn its_watchdog_acts_when_the_loop_stands_still() {
    let mut bench = Bench::new();
    bench.moving();
    // No turn for 0.5 s.
    bench.now = bench.now.saturating_add(Nanos::from_millis(500));
    bench.turn(RUN, 10.0);
    assert!(bench.report.fault);
    assert_eq!(bench.axis.speed, 0.0);
}

#[test]
fn a_setpoint_that_is_no_position_ends_in_a_fault_at_rest() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, -2e9] {
        let mut bench = Bench::new();
        let setpoint = bench.moving();
        bench.turn(RUN, bad);
        bench.rest(RUN, setpoint, 1.0);
        assert!(bench.report.fault, "{bad}");
        assert_near(bench.axis.position, setpoint, 10.0);
        assert_eq!(bench.axis.speed, 0.0);
        // Nor does it take power on one.
        bench.rest(OFF, bad, 0.1);
        bench.rest(RUN, bad, 0.1);
        assert!(!bench.report.enabled, "{bad}");
    }
}

#[test]
fn the_dead_zone_is_crossed_before_the_axis_follows() {
    let mut bench = Bench::of(2, SimSettings { lag: 0.03, noise: 0.0, backlash: 0.4 }, 1);
    bench.rest(RUN, 0.0, 0.1);
    bench.ramp(0.0, 10.0, 1.0);
    bench.rest(RUN, 10.0, 1.0);
    assert_near(bench.axis.position, 9.8, 0.001);
    bench.ramp(10.0, -10.0, 0.03);
    bench.rest(RUN, 9.7, 1.0);
    assert_near(bench.axis.position, 9.8, 0.001);
    bench.ramp(9.7, -10.0, 0.97);
    bench.rest(RUN, 0.0, 1.0);
    assert_near(bench.axis.position, 0.2, 0.001);
}

#[test]
fn readings_are_whole_steps() {
    let mut bench = Bench::of(2, SimSettings { lag: 0.03, noise: 0.05, backlash: 0.0 }, 1);
    for _ in 0..500 {
        bench.turn(RUN, 1.234_567);
        let steps = bench.axis.position * 1000.0;
        assert_near(steps, steps.round(), 1e-6);
    }
}

#[test]
fn the_same_seed_reads_the_same() {
    let readings = |seed| {
        let mut bench = Bench::of(2, SimSettings { lag: 0.03, noise: 0.05, backlash: 0.1 }, seed);
        (0..300)
            .map(|tick| {
                bench.turn(RUN, f64::from(tick) * 0.01);
                bench.axis.position.to_bits()
            })
            .collect::<Vec<_>>()
    };
    assert_eq!(readings(5), readings(5));
    assert_ne!(readings(5), readings(6));
}

#[test]
fn a_lost_link_ages_and_the_rig_brakes_itself() {
    let mut bench = Bench::new();
    let setpoint = bench.moving();
    bench.faults.inject(SimFault::LinkLost(RIG));
    bench.rest(RUN, setpoint, 1.0);
    assert_near(bench.report.age.seconds(), 1.0, 0.01);
    bench.faults.heal();
    bench.rest(RUN, setpoint, 0.1);
    assert!(bench.report.fault && !bench.report.enabled);
    assert_eq!(bench.axis.speed, 0.0);
}

#[test]
fn a_mute_rig_goes_on_unseen() {
    let mut bench = Bench::new();
    bench.moving();
    bench.faults.inject(SimFault::Mute(RIG));
    bench.rest(RUN, 20.0, 1.0);
    assert_near(bench.axis.position, 9.5, 0.2);
    assert!(bench.report.age > Nanos::from_millis(900));
    bench.faults.heal();
    bench.rest(RUN, 20.0, 0.1);
    assert_near(bench.axis.position, 20.0, 0.01);
    assert!(bench.report.enabled && !bench.report.fault);
}

#[test]
fn late_reports_age_and_stay_in_order() {
    let mut bench = Bench::new();
    bench.moving();
    bench.faults.inject(SimFault::LateReports(RIG, Nanos::from_millis(100)));
    bench.rest(RUN, 10.0, 0.5);
    assert_eq!(bench.report.age, Nanos::from_millis(104));
    bench.faults.heal();
    let mut last = bench.report.age;
    for _ in 0..200 {
        bench.turn(RUN, 10.0);
        assert!(bench.report.age <= last.saturating_add(bench.tick));
        last = bench.report.age;
    }
    assert_eq!(last, LINK_DELAY);
}

#[test]
fn a_stuck_axis_stays_while_its_rig_reports() {
    let mut bench = Bench::new();
    let setpoint = bench.moving();
    bench.faults.inject(SimFault::Stuck(AXIS));
    bench.ramp(setpoint, 10.0, 0.5);
    assert_near(bench.axis.position, 9.65, 0.1);
    assert_eq!(bench.axis.speed, 0.0);
    assert_eq!(bench.report.age, LINK_DELAY);
}

#[test]
fn a_reversed_axis_runs_back_from_where_it_stood() {
    let mut bench = Bench::new();
    bench.rest(RUN, 0.0, 0.1);
    bench.ramp(0.0, 10.0, 0.5);
    bench.rest(RUN, 5.0, 0.5);
    bench.faults.inject(SimFault::Reversed(AXIS));
    bench.ramp(5.0, 10.0, 0.2);
    bench.rest(RUN, 7.0, 0.5);
    assert_near(bench.axis.position, 3.0, 0.001);
}

#[test]
fn a_drifting_axis_slips_steadily() {
    let mut bench = Bench::new();
    bench.rest(RUN, 0.0, 0.1);
    bench.faults.inject(SimFault::Drift(AXIS, -0.2));
    bench.rest(RUN, 0.0, 2.0);
    assert_near(bench.axis.position, -0.4, 0.01);
}

#[test]
fn a_slipping_brake_lets_go_only_without_power() {
    let mut bench = Bench::new();
    bench.rest(RUN, 0.0, 0.1);
    bench.faults.inject(SimFault::BrakeSlip(AXIS, -0.5));
    bench.rest(RUN, 0.0, 1.0);
    assert_eq!(bench.axis.position, 0.0);
    bench.rest(OFF, 0.0, 1.0);
    assert_near(bench.axis.position, -0.5, 0.01);
}

#[test]
fn the_encoder_jumps_once() {
    let mut bench = Bench::new();
    bench.rest(RUN, 0.0, 0.1);
    bench.faults.inject(SimFault::Jump(AXIS, 3.5));
    bench.rest(RUN, 0.0, 0.5);
    assert_eq!(bench.axis.position, 3.5);
}

#[test]
fn a_reading_can_be_no_number() {
    let mut bench = Bench::new();
    bench.faults.inject(SimFault::NonFinite(AXIS));
    bench.rest(RUN, 0.0, 0.1);
    assert!(bench.axis.position.is_nan() && bench.axis.speed.is_nan());
    bench.faults.heal();
    bench.rest(RUN, 0.0, 0.1);
    assert_eq!(bench.axis.position, 0.0);
}

#[test]
fn a_rig_that_ignores_the_stop_keeps_its_speed_until_its_power_goes() {
    let mut bench = Bench::new();
    let reached = bench.ramp(0.0, 4.0, 1.0);
    bench.faults.inject(SimFault::IgnoresStop(RIG));
    bench.rest(RUN, reached, 0.5);
    assert!((bench.axis.speed - 4.0).abs() < 0.05, "{}", bench.axis.speed);
    assert!(bench.axis.position > reached + 1.5, "{}", bench.axis.position);
    bench.rest(OFF, reached, 2.0);
    assert_eq!(bench.axis.speed, 0.0);
}

#[test]
fn a_fault_of_the_drive_brakes_it_and_stays_until_it_is_mended() {
    let mut bench = Bench::new();
    let reached = bench.ramp(0.0, 4.0, 1.0);
    bench.faults.inject(SimFault::Drive(RIG));
    bench.rest(RUN, reached, 2.0);
    assert!(bench.report.fault && bench.axis.speed == 0.0);
    bench.rest(OFF, reached, 0.5);
    assert!(bench.report.fault, "it is not mended yet");
    bench.faults.end(SimFault::Drive(RIG));
    bench.rest(OFF, reached, 0.5);
    assert!(!bench.report.fault);
}

#[test]
fn a_wrong_end_holds_an_axis_up_inside_its_travel() {
    let mut bench = Bench::new();
    let [_, high] = bench.travel;
    bench.faults.inject(SimFault::WrongEnd(AXIS, 1.0));
    bench.rest(RUN, high, 1.0);
    assert!((bench.axis.position - (high - 1.0)).abs() < 0.01, "{}", bench.axis.position);
    // From beyond an end, where it stood when the survey went wrong, it goes back freely and no further out.
    bench.faults.end(SimFault::WrongEnd(AXIS, 0.0));
    bench.rest(RUN, high, 1.0);
    bench.faults.inject(SimFault::WrongEnd(AXIS, 1.0));
    bench.rest(RUN, high + 1.0, 0.5);
    assert!((bench.axis.position - high).abs() < 0.01, "{}", bench.axis.position);
    bench.rest(RUN, high - 2.0, 1.0);
    assert!((bench.axis.position - (high - 2.0)).abs() < 0.01, "{}", bench.axis.position);
}

#[test]
fn what_is_injected_is_told_until_it_is_ended() {
    let bench = Bench::new();
    let all = [
        SimFault::LinkLost(RIG),
        SimFault::LateReports(RIG, Nanos::from_millis(20)),
        SimFault::Stuck(AXIS),
        SimFault::Drift(AXIS, -0.5),
    ];
    all.iter().for_each(|&fault| bench.faults.inject(fault));
    assert_eq!(bench.faults.present().collect::<Vec<_>>(), all);
    bench.faults.end(SimFault::Stuck(AXIS));
    assert!(!bench.faults.present().any(|fault| fault == SimFault::Stuck(AXIS)));
    bench.faults.heal();
    assert_eq!(bench.faults.present().count(), 0);
}
