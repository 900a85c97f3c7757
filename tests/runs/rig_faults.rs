//! What a simulated rig does wrong reaches the engine by the road that a real rig's faults would take, and is answered.
//! In virtual time, on the bench show. The table as a whole is told in `fault_table.rs`.

use crate::hall::bench::Bench;
use bellwire::engine::*;
use bellwire::rig::SimFault;
use bellwire::show::{CueState, Driver, Nanos, SimSettings};

#[test]
fn rigs_that_are_not_ideal_run_a_cue_to_its_end() {
    let mut bench = Bench::with(|show| {
        for rig in &mut show.rigs {
            rig.driver = Driver::Sim(SimSettings { lag: 0.05, noise: 0.0005, backlash: 0.002 });
        }
    });
    bench.fire(0);
    bench.run(3.5);
    assert_eq!(bench.status.cues[0], CueState::Done);
    assert_eq!(bench.status.stopped, None);
    let measured = bench.status.axes[bench.axis("sloop").index()].position.expect("measured");
    assert!((measured - 1.5).abs() < 0.005, "{measured}");
}

#[test]
fn a_lost_link_stops_the_show() {
    for mute in [false, true] {
        let mut bench = Bench::new();
        bench.sloop_in_full_motion();
        let rig = bench.rig("sloop");
        bench.faults.inject(if mute { SimFault::Mute(rig) } else { SimFault::LinkLost(rig) });
        // The time-out is 0.2 s, counted from the newest report, which is 4 ms old.
        bench.run(0.19);
        assert_eq!(bench.status.stopped, None);
        bench.run(0.02);
        bench.assert_stopped_by(Fault::LinkLost(rig));
        assert!(!bench.ask(Verb::Reset), "refused while the rig is silent");
        bench.assert_resets();
    }
}

#[test]
fn a_silent_rig_is_never_said_to_stand_still() {
    let mut bench = Bench::new();
    bench.sloop_in_full_motion();
    bench.faults.inject(SimFault::LinkLost(bench.rig("sloop")));
    bench.run(5.0);
    let stopped = bench.status.stopped.clone().expect("stopped");
    assert!(!stopped.standstill);
}

#[test]
fn a_jam_that_lets_go_does_not_leap_to_its_setpoint() {
    let mut bench = Bench::new();
    let axis = bench.sloop_in_full_motion();
    bench.faults.inject(SimFault::Stuck(axis));
    bench.run(0.5);
    bench.assert_stopped_by(Fault::Stuck(axis));
    let (jammed_at, setpoint) = (bench.measured(axis), bench.setpoints()[axis.index()]);
    assert!(setpoint - jammed_at > 0.3, "{setpoint} {jammed_at}");
    bench.faults.heal();
    bench.run(1.0);
    assert!((bench.measured(axis) - jammed_at).abs() < 0.005, "its power is off");
    bench.assert_resets();
    assert!((bench.measured(axis) - jammed_at).abs() < 0.005, "it takes hold where it stands");
    assert!((bench.setpoints()[axis.index()] - jammed_at).abs() < 0.005);
}

/// It lags without standing: the drive still obeys, and is braked before it loses its power.
#[test]
fn an_axis_that_lags_is_braked_on_its_path_and_then_loses_its_power() {
    let mut bench = Bench::new();
    let axis = bench.sloop_in_full_motion();
    let rig = bench.rig("sloop");
    bench.faults.inject(SimFault::Drift(axis, -0.4));
    bench.run_until_told(Fault::Following(axis), 1.5);
    bench.faults.heal();
    let mut before = bench.setpoints();
    let mut braked = 0;
    loop {
        let powered = bench.powered(rig);
        bench.tick();
        let now = bench.setpoints();
        if now == before {
            break;
        }
        assert!(powered, "its power went while it was braked");
        (before, braked) = (now, braked + 1);
    }
    assert!(braked > 50, "braked for {braked} ticks");
    bench.run(0.01);
    assert!(!bench.powered(rig));
    bench.assert_stopped_by(Fault::Following(axis));
    bench.assert_resets();
}

#[test]
fn an_encoder_that_jumps_stops_the_show_and_a_reset_takes_what_is_measured() {
    let mut bench = Bench::new();
    let axis = bench.sloop_in_full_motion();
    let rig = bench.rig("sloop");
    bench.faults.inject(SimFault::Jump(axis, -0.8));
    bench.run(0.02);
    assert!(!bench.powered(rig), "what is measured is not to be believed");
    bench.assert_stopped_by(Fault::Jump(axis));
    assert!(bench.status.faults.contains(&Fault::Jump(axis)), "until somebody has looked at it");
    let measured = bench.measured(axis);
    bench.assert_resets();
    assert!(bench.status.faults.is_empty());
    assert!((bench.setpoints()[axis.index()] - measured).abs() < 0.005);
    let reasons = bench.standby(0);
    let off_path = |reason: &Reason| matches!(reason, Reason::OffPath { axis: at, .. } | Reason::StartPose { axis: at, .. } if *at == axis);
    assert!(reasons.iter().any(off_path), "{reasons:?}");
}

#[test]
fn a_jump_of_a_disarmed_rig_is_acknowledged_before_it_is_armed() {
    let mut bench = Bench::disarmed(|_| {}, |_| {}, |_, driver| driver);
    let axis = bench.axis("sloop");
    bench.faults.inject(SimFault::Jump(axis, 0.5));
    bench.run(0.5);
    assert_eq!(bench.status.stopped, None, "nothing could move");
    assert_eq!(bench.refused(Verb::Arm), [Reason::Cause(Cause::Fault(Fault::Jump(axis)))]);
    bench.accepted(Verb::Reset);
    bench.tick();
    bench.arm();
}

#[test]
fn an_axis_that_runs_the_wrong_way_stops_the_show() {
    let mut bench = Bench::new();
    let axis = bench.axis("sloop");
    bench.faults.inject(SimFault::Reversed(axis));
    bench.fire(0);
    bench.run_until_told(Fault::Reversed(axis), 1.5);
    let measured = bench.measured(axis);
    assert!(measured < -0.05 && measured > -0.15, "told from a lag before it got far: {measured}");
    bench.assert_stopped_by(Fault::Reversed(axis));
    assert!(bench.measured(axis) > -0.3, "{}", bench.measured(axis));
    bench.assert_resets();
}

#[test]
fn a_rig_that_ignores_the_stop_loses_its_power() {
    let mut bench = Bench::with(|show| show.axes.iter_mut().for_each(|axis| axis.lag_limit = 0.1));
    let axis = bench.sloop_in_full_motion();
    let rig = bench.rig("sloop");
    bench.faults.inject(SimFault::IgnoresStop(rig));
    bench.press_stop();
    bench.run_until_told(Fault::RunsOn(axis), 2.0);
    assert!(!bench.powered(rig), "at once");
    let run_on = bench.measured(axis) - bench.setpoints()[axis.index()];
    assert!(run_on < 0.25, "twice its lag limit and not much more: {run_on}");
    bench.assert_stopped_by(Fault::RunsOn(axis));
    bench.assert_resets();
}

#[test]
fn an_axis_that_meets_a_hard_end_inside_its_travel_is_stuck() {
    let mut bench = Bench::new();
    let axis = bench.axis("sloop");
    bench.faults.inject(SimFault::WrongEnd(axis, 2.4));
    bench.fire(0);
    bench.run_until_told(Fault::Stuck(axis), 3.0);
    assert!((bench.measured(axis) - 0.6).abs() < 0.01, "{}", bench.measured(axis));
    bench.assert_stopped_by(Fault::Stuck(axis));
    bench.assert_resets();
}

#[test]
fn motion_while_standing_stops_the_show() {
    let mut bench = Bench::new();
    bench.sloop_in_full_motion();
    let axis = bench.axis("pike");
    bench.faults.inject(SimFault::Drift(axis, -1.0));
    bench.run_until_told(Fault::Creeps(axis), 1.0);
    bench.assert_stopped_by(Fault::Creeps(axis));
    // It goes on, brakes or not: that keeps the stop latched.
    assert_eq!(bench.refused(Verb::Reset)[0], Reason::NotStandingStill { axis });
    bench.faults.heal();
    bench.run(2.5);
    bench.assert_resets();
}

#[test]
fn a_load_that_sinks_through_its_brake_is_told_before_anybody_arms() {
    let mut bench = Bench::disarmed(|_| {}, |_| {}, |_, driver| driver);
    let axis = bench.axis("lantern");
    bench.faults.inject(SimFault::BrakeSlip(axis, -0.01));
    bench.run_until_told(Fault::BrakeSlip(axis), 4.0);
    assert_eq!(bench.status.stopped, None);
    let cause = Reason::Cause(Cause::Fault(Fault::BrakeSlip(axis)));
    assert!(bench.refused(Verb::Arm).contains(&cause));
    bench.faults.heal();
    bench.run(1.0);
    assert!(bench.refused(Verb::Arm).contains(&cause), "it has not stood for long");
    bench.run(1.5);
    bench.arm();
}

#[test]
fn a_reading_that_is_no_number_stops_the_show() {
    let mut bench = Bench::new();
    let axis = bench.sloop_in_full_motion();
    bench.faults.inject(SimFault::NonFinite(axis));
    bench.run(0.02);
    bench.assert_stopped_by(Fault::NonFinite(axis));
    assert_eq!(bench.status.axes[axis.index()].position, None);
    assert!(!bench.ask(Verb::Reset), "refused while the axis is not read");
    bench.assert_resets();
}

#[test]
fn reports_that_come_late_but_in_time_are_a_warning() {
    let mut bench = Bench::with(|show| show.axes.iter_mut().for_each(|axis| axis.lag_limit = 10.0));
    let rig = bench.rig("sloop");
    bench.faults.inject(SimFault::LateReports(rig, Nanos::from_millis(150)));
    bench.run_until_told(Fault::LateReports(rig), 0.5);
    bench.fire(0);
    bench.run(3.5);
    assert_eq!(bench.status.cues[0], CueState::Done);
    assert_eq!(bench.status.stopped, None);
    assert_eq!(bench.status.faults.as_slice(), [Fault::LateReports(rig)]);
    let told = |event: &&Event| event.kind == EventKind::Fault { fault: Fault::LateReports(rig) };
    assert_eq!(bench.events.iter().filter(told).count(), 1, "a warning, not a flood");
    bench.faults.heal();
    bench.run(2.0);
    assert!(bench.status.faults.is_empty());
}

#[test]
fn one_rigs_fault_stops_all_that_run() {
    let mut bench = Bench::new();
    bench.sloop_in_full_motion();
    // The head was never in the cue; the machine is one all the same.
    bench.faults.inject(SimFault::NonFinite(bench.axis("pike")));
    bench.run(0.02);
    bench.assert_stopped_by(Fault::NonFinite(bench.axis("pike")));
    bench.assert_resets();
}

#[test]
fn a_faulty_rig_keeps_a_show_from_moving_at_all() {
    let mut bench = Bench::new();
    bench.faults.inject(SimFault::LinkLost(bench.rig("lantern")));
    bench.run(0.5);
    assert!(bench.status.stopped.is_some());
    assert!(!bench.go());
    bench.assert_resets();
}
