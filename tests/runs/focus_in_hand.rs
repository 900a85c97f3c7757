//! Focus that follows distance while a rig is in hand: judged by kinematics of the test's own.

use crate::hall::{CALLER, Hall, OTHER, show_of};
use bellwire::engine::*;
use bellwire::rig::SimFault;
use bellwire::show::{AimedAt, Nanos};
use glam::DVec3;

const HEAD: &str = "[show]\nname = \"Focus\"\nmargin = 0.1\nreact = 0.1\n";

/// A slider along x with pan, tilt and a lens 0.2 m before the head; its table is a straight line in the reciprocal of the distance.
const CAM: &str = "kind = \"slider\"\nat = [0.0, 0.0, 1.0]\n\
    [[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [0.0, 4.0]\nstart = 0.0\nspeed = 1.0\nacceleration = 1.0\njerk = 4.0\n\
    joint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\nbodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.2 } }]\n\
    [[axis]]\nname = \"pan\"\nunit = \"deg\"\ntravel = [-170.0, 170.0]\nstart = 0.0\nspeed = 40.0\nacceleration = 60.0\njerk = 300.0\n\
    joint = { turn = \"z\", at = [0.0, 0.0, 0.3] }\n\
    [[axis]]\nname = \"tilt\"\nunit = \"deg\"\ntravel = [-60.0, 60.0]\nstart = 0.0\nspeed = 40.0\nacceleration = 60.0\njerk = 300.0\n\
    joint = { turn = [0.0, -1.0, 0.0], at = [0.0, 0.0, 0.0] }\n\
    [[axis]]\nname = \"focus\"\nunit = \"percent\"\ntravel = [0.0, 100.0]\nstart = 20.0\nspeed = SPEED\nacceleration = 200.0\njerk = 1000.0\n\
    tolerance = 0.5\n\
    [lens]\nat = [0.2, 0.0, 0.1]\nfocus = { axis = \"focus\", table = [[0.0, 0.5], [100.0, 20.0]] }\n";

const CART: &str = "kind = \"cart\"\nat = [0.0, 5.0, 0.0]\n\
    [[axis]]\nname = \"travel\"\nunit = \"m\"\ntravel = [-3.0, 3.0]\nstart = 0.0\nspeed = 0.8\nacceleration = 0.8\njerk = 3.0\n\
    joint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\n\
    bodies = [{ box = { min = [-0.5, -0.5, 0.0], max = [0.5, 0.5, 1.6] } }]\n";

const RIDER: &str = "kind = \"flag\"\nat = [0.0, 0.0, 0.5]\non = \"cam.way\"\n\
    [[axis]]\nname = \"turn\"\nunit = \"deg\"\ntravel = [-90.0, 90.0]\nstart = 0.0\nspeed = 30.0\nacceleration = 60.0\njerk = 300.0\n\
    joint = { turn = \"z\", at = [0.0, 0.0, 0.0] }\n";

fn hall(speed: &str) -> Hall {
    let cam = CAM.replace("SPEED", speed);
    let files =
        [("show.toml", HEAD), ("rigs/cam.toml", &cam), ("rigs/cart.toml", CART), ("rigs/rider.toml", RIDER)];
    let mut hall = Hall::open(show_of(&files));
    hall.arm();
    hall.take("cam");
    hall
}

fn focus(hall: &Hall, on: Option<FocusOn>) -> Verb {
    Verb::Focus { rig: hall.rig("cam"), on }
}

fn on_cart(hall: &Hall) -> FocusOn {
    FocusOn::Rig { rig: hall.rig("cart"), axis: None, point: None }
}

fn status(hall: &Hall) -> FocusStatus {
    hall.status.rigs[hall.rig("cam").index()].hand.unwrap().focus.expect("it follows something")
}

/// m, from the lens to a point, by sines and cosines.
fn distance(hall: &Hall, point: DVec3) -> f64 {
    let [way, pan, tilt] = ["cam.way", "cam.pan", "cam.tilt"].map(|axis| hall.setpoint(axis));
    let (pan, tilt) = (pan.to_radians(), tilt.to_radians());
    let (ahead, up) = (0.2 * tilt.cos() - 0.1 * tilt.sin(), 0.2 * tilt.sin() + 0.1 * tilt.cos());
    let lens = DVec3::new(way + ahead * pan.cos(), ahead * pan.sin(), 1.3 + up);
    lens.distance(point)
}

/// Of the table: a straight line in 1/m from 0 % at 0.5 m to 100 % at 20 m.
fn place(metres: f64) -> f64 {
    100.0 * (2.0 - 1.0 / metres) / (2.0 - 0.05)
}

fn off(hall: &Hall, point: DVec3) -> f64 {
    hall.setpoint("cam.focus") - place(distance(hall, point))
}

fn say(hall: &mut Hall, sticks: &[(&str, f64)], seconds: f64, mut look: impl FnMut(&Hall)) {
    for tick in 0..(seconds / hall.show.settings.tick.seconds()) as usize {
        if tick.is_multiple_of(10) {
            sticks.iter().for_each(|&(axis, value)| hall.push(CALLER, axis, value));
        }
        hall.tick(&[]);
        look(hall);
    }
}

/// The middle of the cart's box.
fn cart(hall: &Hall) -> DVec3 {
    DVec3::new(hall.setpoint("cart.travel"), 5.0, 0.8)
}

#[test]
fn focus_keeps_the_distance_to_a_point_and_to_a_moving_body_while_the_rig_is_driven() {
    let mut hall = hall("200.0");
    let point = DVec3::new(2.0, 2.5, 1.5);
    assert_eq!(hall.ask(focus(&hall, Some(FocusOn::Point(point)))), Ok(Accepted::Done));
    hall.run(1.5);
    assert!(off(&hall, point).abs() < 1e-3, "{}", off(&hall, point));
    let mut worst = 0.0_f64;
    let sticks = [("cam.way", 0.8), ("cam.pan", 0.5), ("cam.tilt", -0.3)];
    say(&mut hall, &sticks, 3.0, |hall| worst = worst.max(off(hall, point).abs()));
    // It is never farther behind than a few thousandths of the travel, while that turns by a third of it.
    assert!(worst < 0.5 && status(&hall).state == FocusState::Follows, "{worst} {:?}", status(&hall));
    assert!((status(&hall).distance - distance(&hall, point)).abs() < 1e-3);

    hall.take("cart");
    assert_eq!(hall.ask(focus(&hall, Some(on_cart(&hall)))), Ok(Accepted::Done));
    hall.run(1.0);
    let (before, mut worst) = (hall.setpoint("cam.focus"), 0.0_f64);
    let sticks = [("cart.travel", -1.0), ("cam.way", -0.5), ("cam.pan", -0.4)];
    say(&mut hall, &sticks, 3.0, |hall| worst = worst.max(off(hall, cart(hall)).abs()));
    assert!(worst < 0.5, "{worst}");
    assert!((hall.setpoint("cam.focus") - before).abs() > 0.3, "the distance has changed");
    assert!(matches!(status(&hall).on, AimedAt::Body { point, .. } if point == DVec3::new(0.0, 0.0, 0.8)));
    // No more of it.
    assert_eq!(hall.ask(focus(&hall, None)), Ok(Accepted::Done));
    hall.run(1.0);
    let stands = hall.setpoint("cam.focus");
    say(&mut hall, &[("cart.travel", 1.0)], 2.0, |_| {});
    assert_eq!(hall.setpoint("cam.focus"), stands);
}

#[test]
fn the_dial_is_an_offset_and_what_a_pushed_stick_leaves_is_one_too() {
    let mut hall = hall("200.0");
    let point = DVec3::new(0.2, 4.0, 1.4);
    hall.ask(focus(&hall, Some(FocusOn::Point(point)))).unwrap();
    hall.run(1.0);
    // Wherever it stands, its first word changes nothing.
    hall.turn_dial(CALLER, "cam.focus", 0.9);
    hall.run(0.5);
    assert!(off(&hall, point).abs() < 1e-3);
    hall.turn_dial(CALLER, "cam.focus", 0.85);
    say(&mut hall, &[("cam.way", 0.5)], 1.5, |_| {});
    say(&mut hall, &[("cam.way", 0.0)], 1.5, |_| {});
    assert!((off(&hall, point) + 5.0).abs() < 1e-3, "{}", off(&hall, point));
    hall.push(CALLER, "cam.focus", 0.0);
    say(&mut hall, &[("cam.focus", -0.1)], 0.4, |_| {});
    say(&mut hall, &[("cam.focus", 0.0)], 1.0, |_| {});
    let left = status(&hall).offset;
    assert!(left < -8.0 && (off(&hall, point) - left).abs() < 1e-3, "{left} {}", off(&hall, point));
    // Whose sticks do not count, his dial does not.
    hall.turn_dial(OTHER, "cam.focus", 0.1);
    hall.turn_dial(OTHER, "cam.focus", 0.9);
    hall.run(0.5);
    assert_eq!(status(&hall).offset, left);
}

#[test]
fn a_focus_too_slow_for_it_lags_within_its_limits_and_says_so() {
    let mut hall = hall("2.0");
    let point = DVec3::new(2.0, 0.9, 1.4);
    hall.ask(focus(&hall, Some(FocusOn::Point(point)))).unwrap();
    assert!(hall.status.rigs[hall.rig("cam").index()].hand.is_some());
    hall.run(0.1);
    assert_eq!(status(&hall).state, FocusState::Lags);
    hall.run(45.0);
    assert_eq!(status(&hall).state, FocusState::Follows);
    let mut lagged = 0.0_f64;
    say(&mut hall, &[("cam.way", 1.0)], 1.5, |hall| {
        let focus = status(hall);
        lagged = lagged.max(focus.off.abs());
        assert_eq!(focus.state == FocusState::Lags, focus.off.abs() > 0.5, "{focus:?}");
        assert!((focus.off - off(hall, point)).abs() < 0.2, "{focus:?} {}", off(hall, point));
    });
    assert!(lagged > 5.0, "{lagged}");
    // Beyond the table it stands at its end.
    hall.ask(focus(&hall, Some(FocusOn::Point(DVec3::new(2.0, 90.0, 1.4))))).unwrap();
    hall.run(50.0);
    assert_eq!((status(&hall).state, hall.setpoint("cam.focus").round()), (FocusState::Beyond, 100.0));
}

#[test]
fn nothing_sets_a_focus_going_again_but_being_asked_again() {
    let mut hall = hall("200.0");
    let near = FocusOn::Point(DVec3::new(0.2, 1.0, 1.4));
    let far = FocusOn::Point(DVec3::new(0.2, 8.0, 1.4));
    hall.ask(focus(&hall, Some(near))).unwrap();
    hall.run(1.0);
    hall.ask(focus(&hall, Some(far))).unwrap();
    hall.run(0.1);
    hall.press_stop();
    hall.run_to_standstill();
    hall.run(0.2);
    let stands = hall.setpoint("cam.focus");
    hall.ask(Verb::Reset).unwrap();
    hall.run(1.0);
    assert_eq!((status(&hall).state, hall.setpoint("cam.focus")), (FocusState::Waits, stands));
    hall.ask(focus(&hall, Some(far))).unwrap();
    hall.run(1.5);
    assert_eq!(status(&hall).state, FocusState::Follows);

    // In other hands, and in nobody's, it follows nothing.
    hall.ask(Verb::HandOver { rig: hall.rig("cam"), to: Some(OTHER) }).unwrap();
    let shape = StickShape::default();
    hall.ask_as(OTHER, Verb::Accept { rig: hall.rig("cam"), sticks: None, shape }).unwrap();
    assert_eq!(hall.status.rigs[hall.rig("cam").index()].hand.unwrap().focus, None);
}

#[test]
fn a_target_that_is_not_known_any_more_lets_the_focus_rest_until_it_is_asked_again() {
    let mut hall = hall("200.0");
    hall.ask(focus(&hall, Some(on_cart(&hall)))).unwrap();
    hall.run(1.0);
    let cart = hall.rig("cart");
    hall.faults.inject(SimFault::LateReports(cart, Nanos::from_millis(10_000)));
    hall.run(1.5);
    let lost = |event: &Event| matches!(event.kind, EventKind::Hand(HandEvent::FocusLost { .. }));
    let state = status(&hall).state;
    assert!(matches!(state, FocusState::Lost | FocusState::Waits), "{state:?}");
    assert_eq!(state == FocusState::Lost, hall.events.iter().any(lost));
    hall.faults.heal();
    hall.run(1.0);
    assert_eq!(status(&hall).state, state, "known again, and it waits");
}

#[test]
fn what_cannot_be_followed_is_refused() {
    let mut hall = hall("200.0");
    let point = Some(FocusOn::Point(DVec3::new(1.0, 1.0, 1.0)));
    let (cam, cart, rider) = (hall.rig("cam"), hall.rig("cart"), hall.rig("rider"));
    assert_eq!(hall.refused(Verb::Focus { rig: cart, on: point }), [Reason::NotInHand { rig: cart }]);
    hall.take("cart");
    assert_eq!(hall.refused(Verb::Focus { rig: cart, on: point }), [Reason::NoFocus { rig: cart }]);
    for other in [cam, rider] {
        let on = Some(FocusOn::Rig { rig: other, axis: None, point: None });
        assert_eq!(hall.refused(Verb::Focus { rig: cam, on }), [Reason::FocusOnItself { rig: cam, other }]);
    }
    let asked = hall.ask_as(OTHER, focus(&hall, point));
    assert_eq!(asked.unwrap_err().reasons[..], [Reason::RigInHand { rig: cam, client: CALLER }]);
}

#[test]
fn a_survey_keeps_no_focus() {
    let mut hall = hall("200.0");
    let (rig, shape) = (hall.rig("cam"), StickShape::default());
    let point = Some(FocusOn::Point(DVec3::new(1.0, 1.0, 1.0)));
    assert!(hall.ask(focus(&hall, point)).is_ok());
    assert!(hall.ask(Verb::GiveBack { rig }).is_ok());
    hall.run(0.1);
    assert!(hall.ask(Verb::Survey { rig, sticks: None, shape }).is_ok());
    assert_eq!(hall.status.rigs[rig.index()].hand.unwrap().focus, None);
    assert_eq!(hall.refused(focus(&hall, point)), [Reason::InSurvey { rig }]);
}
