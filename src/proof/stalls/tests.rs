use glam::DVec3;
use proptest::prelude::*;

use super::back::BrakesBack;
use super::coast::{Way, notice};
use super::within;
use crate::motion::{Regime, change_rate};
use crate::proof::bodies::{Span, Stagehand};
use crate::proof::clearance::{BRACKET, Short, clearance};
use crate::proof::course::courses;
use crate::proof::fixture::{plan, sampled};
use crate::proof::plan::CuePlan;
use crate::proof::stops::Stops;
use crate::show::{RigId, Shape, Show, Unit};
use crate::stage::Stage;
use crate::stage::fixture::{add_axis, add_rig, empty_show, slide, turn};

fn ball() -> Vec<Shape> {
    vec![Shape::Sphere { at: DVec3::ZERO, radius: 0.25 }]
}

/// Two wagons on one track, the second `gap` m behind the first, and both go 8 m; a lag of 0.2 m is noticed.
fn convoy(gap: f64, time: f64) -> (Show, CuePlan) {
    let mut show = empty_show();
    for _ in 0..2 {
        add_rig(&mut show, DVec3::ZERO, 0.0, None);
        add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), ball());
    }
    show.axes.iter_mut().for_each(|axis| (axis.tolerance, axis.lag_limit) = (0.0, 0.2));
    let plan = plan(&show, time, &[0.0, -gap], &[8.0, 8.0 - gap]);
    (show, plan)
}

fn stalls(show: &Show, plan: &CuePlan) -> Vec<(RigId, Short)> {
    within(&Stagehand::new(show), plan, &Stops::of(show, plan), None)
}

/// By small steps of both times, from nothing but the poses.
fn stepped(show: &Show, plan: &CuePlan, rig: RigId, way: Way) -> f64 {
    let stage = Stage::new(show);
    let (mut pose, mut least) = (plan.start.clone(), f64::INFINITY);
    let brakes = BrakesBack::new(show, plan);
    for step in 0..=200 {
        let at = plan.duration * f64::from(step) / 200.0;
        let noticed = notice(show, plan, rig, Span::instant(at), way);
        let most = noticed
            + match way {
                Way::Forth => {
                    let brakes = courses(show, plan, at + noticed);
                    change_rate(&brakes, 1.0, 0.0, 0.0, Regime::Stopping).map_or(0.0, |ramp| ramp.distance())
                }
                Way::Back => brakes.longest(rig, Span::instant(at)),
            };
        for later in 0..=20 {
            let others = match way {
                Way::Forth => (at + most * f64::from(later) / 20.0).min(plan.duration),
                Way::Back => (at - most * f64::from(later) / 20.0).max(0.0),
            };
            plan.pose_by(|of| if of == rig { at } else { others }, &mut pose);
            least = least.min(sampled(show, &stage, &pose));
        }
    }
    least
}

#[test]
fn who_follows_too_near_runs_into_one_that_stalls() {
    let (show, plan) = convoy(1.2, 8.0);
    let hand = Stagehand::new(&show);
    assert!(clearance(&hand, &plan).short.is_empty(), "as planned they keep their distance");
    let found = stalls(&show, &plan);
    let [(rig, short)] = &found[..] else { panic!("{found:?}") };
    assert_eq!((*rig, short.seen), (RigId(0), true), "the first in the convoy");
    let least = stepped(&show, &plan, RigId(0), Way::Forth);
    assert!(short.closest.value <= least + BRACKET && short.closest.value >= least - 0.05, "{short:?}, {least}");
    // The place that is told is one where it happens.
    let mut pose = plan.start.clone();
    let others = short.closest.time + short.later;
    plan.pose_by(|of| if of == RigId(0) { short.closest.time } else { others }, &mut pose);
    assert!((sampled(&show, &Stage::new(&show), &pose) - short.closest.value).abs() < 1e-9);
    // With room to brake there is nothing to tell.
    let (show, plan) = convoy(2.0, 8.0);
    assert!(stalls(&show, &plan).is_empty());
}

#[test]
fn taken_back_who_goes_before_is_run_into_by_who_comes_after() {
    // Too slow for the way forth, where the second has room: at half of the rate the first comes back upon it.
    let (mut show, plan) = convoy(1.4, 8.0);
    show.settings.return_rate = 1.0;
    let found = stalls(&show, &plan);
    let [(rig, short)] = &found[..] else { panic!("{found:?}") };
    let stalled = [Way::Forth, Way::Back].map(|way| stepped(&show, &plan, *rig, way));
    assert!(short.closest.value <= stalled[0].min(stalled[1]) + BRACKET, "{short:?}, {stalled:?}");
    let back = stepped(&show, &plan, RigId(1), Way::Back);
    assert!(back < show.settings.margin, "{back}");
}

#[test]
fn what_a_stalled_wagon_carries_goes_on_without_it() {
    // An arm on a wagon swings out behind a post only after the wagon has passed it.
    let mut show = empty_show();
    show.settings.margin = 0.2;
    add_rig(&mut show, DVec3::ZERO, 0.0, None);
    let wagon = add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), Vec::new());
    add_rig(&mut show, DVec3::ZERO, 0.0, Some(wagon));
    let arm = Shape::Capsule { from: DVec3::ZERO, to: DVec3::new(2.0, 0.0, 0.0), radius: 0.1 };
    add_axis(&mut show, Unit::Degree, turn(DVec3::Z, DVec3::ZERO), vec![arm]);
    add_rig(&mut show, DVec3::new(3.0, 1.6, 0.0), 0.0, None);
    show.rigs[2].bodies = vec![Shape::Sphere { at: DVec3::ZERO, radius: 0.2 }];
    show.axes.iter_mut().for_each(|axis| axis.tolerance = 0.0);
    let early = plan(&show, 8.0, &[0.0, 0.0], &[9.0, 90.0]);
    assert!(clearance(&Stagehand::new(&show), &early).short.is_empty());
    let found = stalls(&show, &early);
    assert!(matches!(&found[..], [(RigId(0) | RigId(1), short)] if short.seen), "{found:?}");
    for rig in [RigId(0), RigId(1)] {
        let least = [Way::Forth, Way::Back].map(|way| stepped(&show, &early, rig, way));
        assert!(found[0].1.closest.value <= least[0].min(least[1]) + BRACKET, "{rig:?}: {least:?}");
    }
}

#[test]
fn a_stall_is_noticed_by_its_lag_and_never_sooner_than_the_show_reacts() {
    let (show, plan) = convoy(3.0, 8.0);
    let noticed = |at: f64| notice(&show, &plan, RigId(0), Span::instant(at), Way::Forth);
    let position = |at: f64| {
        let mut pose = plan.start.clone();
        plan.pose_at(at, &mut pose);
        pose[0]
    };
    for at in [0.0, 0.5, 2.0, 5.0, 6.0] {
        let lag = position(at + noticed(at)) - position(at);
        assert!(lag >= 0.2 - 1e-9, "at {at}: {lag}");
        assert!((lag - 0.2).abs() < 1e-6 || (noticed(at) - 0.2).abs() < 1e-9, "at {at}: {lag}, {}", noticed(at));
    }
    // So near its end it never lags by so much: it is where it should be but for its lag.
    assert!((noticed(7.9) - 0.2).abs() < 1e-9, "the link's time-out");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Whatever two rigs do in one cue, no stall that is stepped through comes nearer than is told.
    #[test]
    fn no_step_lies_below_what_is_proved(
        ways in prop::collection::vec(-4.0..4.0_f64, 4),
        starts in prop::collection::vec(-2.0..2.0_f64, 4),
        time in 4.0..9.0_f64,
        lag in 0.05..0.6_f64,
    ) {
        let mut show = empty_show();
        for at in [DVec3::ZERO, DVec3::new(1.0, 1.2, 0.3)] {
            add_rig(&mut show, at, 30.0, None);
            add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), Vec::new());
            add_axis(&mut show, Unit::Metre, slide(DVec3::Y, DVec3::ZERO), ball());
        }
        for axis in &mut show.axes {
            (axis.tolerance, axis.lag_limit) = (0.0, lag);
        }
        let ends: Vec<f64> = starts.iter().zip(&ways).map(|(start, way)| start + way).collect();
        let plan = plan(&show, time, &starts, &ends);
        let found = stalls(&show, &plan);
        let told = found.iter().map(|(_, short)| short.closest.value).fold(show.settings.margin, f64::min);
        for rig in [RigId(0), RigId(1)] {
            for way in [Way::Forth, Way::Back] {
                let least = stepped(&show, &plan, rig, way);
                prop_assert!(least >= told - BRACKET - 1e-9, "{rig:?} {way:?}: {least} below {told}");
            }
        }
    }
}
