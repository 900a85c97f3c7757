use glam::DVec3;

use super::{Words, amount, seconds};
use crate::engine::{
    Cause, ClientId, EventKind, Fault, Found, HandEvent, Owner, Reason, Refusal, RequestId, Role, Running, Sign,
    SimFault, Status, StopLane,
};
use crate::motion::{Approaches, Side};
use crate::proof::{Approach, Near, Party};
use crate::show::{AtomId, Condition, CueId, CueState, InputId, InterlockId, Nanos, RigId, Show, Truth, Unit};
use crate::stage::fixture::turn;
use crate::wire::sample::{self, AT_QUAY, BELOW, EIGHT_DONE, GATE, PAST, SWING, TRAVEL, WRAPPED};

const EIGHT: CueId = CueId(0);
const NINE: CueId = CueId(1);
const TWELVE_FIVE: CueId = CueId(3);
const CLEAR_OF_WAGON: InterlockId = InterlockId(0);

/// heron.swing at -43.2°, skiff.travel at -1.2 m; cue 8 runs, at 3.25 s; nothing was heard of the inputs.
fn status(show: &Show) -> Status {
    let mut status = Status::at_rest(show);
    status.axes[SWING.index()].position = Some(-43.2);
    status.axes[TRAVEL.index()].position = Some(-1.2);
    status.cues[EIGHT.index()] = CueState::Running;
    status.running.push(Running {
        cue: EIGHT,
        state: CueState::Running,
        time: 3.25,
        duration: 18.0,
        rate: 1.0,
        left: 14.75,
    });
    status
}

fn says(reason: Reason, sentence: &str) {
    let show = sample::show();
    let status = status(&show);
    assert_eq!(Words::new(&show, &sample::client).seeing(&status).reason(&reason), sentence);
}

#[test]
fn numbers_have_the_digits_that_the_eye_can_use() {
    assert_eq!(amount(-43.2, Unit::Degree), "-43.2°");
    assert_eq!(amount(-50.0, Unit::Degree), "-50.0°");
    assert_eq!(amount(3.412_34, Unit::Metre), "3.412 m");
    assert_eq!(amount(-0.000_4, Unit::Metre), "0.0 m");
    assert_eq!(amount(1234.56, Unit::Millimetre), "1234.6 mm");
    assert_eq!(amount(50.0, Unit::Percent), "50.0 %");
    assert_eq!(amount(2.125, Unit::Turn), "2.125 turns");
    assert_eq!(amount(f64::NAN, Unit::Metre), "unknown m");
    assert_eq!(seconds(9.0), "9.0 s");
    assert_eq!(seconds(0.854), "0.85 s");
    assert_eq!(super::numbers::span(Nanos::NEVER), "never");
}

#[test]
fn a_simulated_fault_says_of_which_rig_it_is_and_who_asked_for_it() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let event = |fault, on| words.event(&EventKind::SimFault { fault, on, by: ClientId(7) });
    let drift = SimFault::Drift(TRAVEL, -0.4);
    let by = sample::client(ClientId(7));
    let begun = format!("{by} injects a fault into the simulated skiff: drift of travel, -0.4 m/s");
    assert_eq!(event(drift, true), begun);
    assert_eq!(event(drift, false), format!("{by} ends a fault of the simulated skiff: drift of travel"));
    assert_eq!(words.sim_fault(SimFault::LateReports(RigId(0), Nanos::from_millis(150))), "late, 0.15 s");
    assert_eq!(words.sim_fault(SimFault::Jump(SWING, 12.0)), "jump of swing, 12.0°");
    assert_eq!(words.sim_fault(SimFault::NonFinite(SWING)), "not-a-number of swing");
    says(Reason::RealRig { rig: RigId(0) }, "heron is real: only a simulated rig is made to fail");
}

#[test]
fn a_machine_that_may_stand_anywhere_is_told_with_what_to_do() {
    says(
        Reason::Unplaced { rig: RigId(1), real: RigId(0) },
        "skiff is simulated, so nobody knows where its machine stands, and heron is real: drive skiff as well, or write \
         `absent = true` in rigs/skiff.toml if it is not in the room",
    );
}

#[test]
fn rigs_in_hand_say_who_has_them_and_what_is_in_the_way() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let (rig, client, sticks) = (RigId(1), ClientId(7), ClientId(8));
    let event = |told| words.event(&EventKind::Hand(told));
    let own = HandEvent::Taken { rig, client, sticks: client };
    assert_eq!(event(own), "skiff is in the hands of panel 7");
    let by_another = HandEvent::Taken { rig, client, sticks };
    assert_eq!(event(by_another), "skiff is in the hands of panel 7, driven by the sticks of panel 8");
    let offered = HandEvent::Offered { rig, from: client, to: Some(sticks) };
    assert_eq!(event(offered), "panel 7 offers skiff to panel 8, who may accept it");
    let lost = HandEvent::GivenBack { rig, client, lost: true };
    assert_eq!(event(lost), "skiff is in nobody's hands: the link to panel 7 is lost");
    let parties = [Party::Body { rig, axis: Some(TRAVEL), index: 0 }, Party::Zone(0)];
    let near = Near { parties, distance: 0.087, margin: 0.1 };
    assert_eq!(
        event(HandEvent::Stopped { rig, near }),
        "skiff goes no further: skiff/travel/0 would come within 0.09 m of zone/orchestra pit; at least 0.1 m must remain"
    );
    says(
        Reason::RigInHand { rig, client },
        "skiff is in the hands of panel 7: ask them to give it back, or to hand it over; it is free too once their link ends, \
         or after a disarm",
    );
    says(
        Reason::NearHand { client, near: Near { distance: 0.0, ..near } },
        "skiff/travel/0 would touch zone/orchestra pit; at least 0.1 m must remain; it is in the hands of panel 7: wait until \
         it is out of the way",
    );
}

#[test]
fn a_survey_says_what_it_found_and_what_to_do() {
    let mut show = sample::show();
    let told = |show: &Show, found: &Found| Words::new(show, &sample::client).survey_found(SWING, found);
    let agrees = Found::Sign { commanded: 0.2, measured: 0.1996, sign: Sign::Agrees, other: None };
    let without_joint = told(&show, &agrees);
    assert!(
        without_joint
            .ends_with("turn it round at the drive, motor and encoder both: it has no joint to turn round")
    );
    show.axes[SWING.index()].joint = turn(DVec3::Z, DVec3::ZERO);
    let found = |found: Found| told(&show, &found);
    let sign = |sign, measured: f64, other| found(Found::Sign { commanded: 0.2, measured, sign, other });
    assert_eq!(
        sign(Sign::Agrees, 0.1996, None),
        "heron.swing went +0.200° when it was told to go +0.200°: command and measurement agree. If the machine itself went the \
         wrong way, turn the direction of its joint round in rigs/heron.toml"
    );
    assert_eq!(
        sign(Sign::Swapped, 0.0, Some((TRAVEL, 0.02))),
        "heron.swing did not move when it was told to go +0.200°, and skiff.travel moved by +0.0200 m: their cables are \
         SWAPPED; put them right before anything else moves"
    );
    assert!(sign(Sign::DidNotMove, 0.0, None).contains("look at its brake"));
    assert!(sign(Sign::WrongSize, 0.9, None).contains("NOT as far"));
    let mut approaches = Approaches::default();
    for _ in 0..3 {
        approaches.add(Side::Below, -0.125);
        approaches.add(Side::Above, 0.125);
    }
    let figures = approaches.positioning().unwrap();
    assert_eq!(
        found(Found::Repeat { at: -12.5, figures, tolerance: 0.5 }),
        "heron.swing at -12.5°, 3 approaches from either side: it comes within 0.12°, within its tolerance of 0.5°; \
         repeatability 0.0° from below, 0.0° from above, 0.25° from both; reversal -0.25°"
    );
    assert!(found(Found::Repeat { at: 0.0, figures, tolerance: 0.1 }).contains("NOT within its tolerance of 0.1°"));
    assert_eq!(
        found(Found::Home { home: -50.0, measured: -49.99 }),
        "heron.swing is at its home -50.0°, measured at -49.99°"
    );
    says(
        Reason::Unsurveyed { axis: SWING },
        "heron.swing is not surveyed, and nothing moves it but a slow jog: survey it first",
    );
    let rig = show.axis(TRAVEL).rig;
    says(Reason::NotSurveyed { rig }, "skiff is not in hand for a survey: take it so first");
    says(
        Reason::NoRunUp { axis: SWING, at: 999.0, needs: 2.0 },
        "heron.swing cannot be approached at 999.0° from both sides: an approach is 2.0° long, and the travel is -1000.0° to \
         1000.0°; choose a place further inside",
    );
}

#[test]
fn poses_say_what_stands_where_and_where_it_should() {
    says(
        Reason::StartPose { axis: SWING, expected: -50.0, measured: -43.2, tolerance: 0.5 },
        "heron.swing stands at -43.2°, the cue starts at -50.0° (tolerance 0.5°): bring it there first",
    );
    says(
        Reason::OtherPose { axis: TRAVEL, expected: -3.3, measured: -1.2, tolerance: 0.02 },
        "skiff.travel stands at -1.2 m, the cue list leaves it at -3.3 m (tolerance 0.02 m): bring it there first",
    );
    let show = sample::show();
    let bodies = [SWING, TRAVEL].map(|axis| Party::Body { rig: show.axis(axis).rig, axis: Some(axis), index: 0 });
    let near = |distance| {
        let approach = Approach { parties: bodies, time: 4.2, distance, margin: 0.3 };
        Reason::NearElsewhere { axis: TRAVEL, expected: -3.3, measured: -1.2, approach }
    };
    says(
        near(0.118),
        "skiff.travel stands at -1.2 m, the cue list leaves it at -3.3 m: as it stands, heron/swing/0 would come within \
         0.12 m of skiff/travel/0, 4.2 s along; expected at least 0.3 m: bring it there first",
    );
    says(
        near(0.0),
        "skiff.travel stands at -1.2 m, the cue list leaves it at -3.3 m: as it stands, heron/swing/0 would touch \
         skiff/travel/0, 4.2 s along; expected at least 0.3 m: bring it there first",
    );
    says(
        Reason::OffPath { axis: SWING, expected: -50.0, measured: -43.2, tolerance: 0.5 },
        "heron.swing stands at -43.2°, the path goes on from -50.0° (tolerance 0.5°): bring it there first",
    );
    says(
        Reason::LeavesTravel { axis: TRAVEL, expected: 3.9997, stands: 4.0, end: 4.0 },
        "skiff.travel stands at 4.0 m, 0.0003 m beside its path, which is at 4.0 m: that is within tolerance, but the path comes \
         so near the end of the travel (4.0 m) that skiff.travel would pass that before it is on it: preset it, which brings \
         it there exactly",
    );
    says(
        Reason::PoseUnknown { axis: SWING },
        "heron.swing has no fresh measured position: check the rig's link and power",
    );
}

#[test]
fn interlocks_and_needs_say_which_part_is_wanting_and_what_was_found() {
    let interlock = |atom, truth| Reason::Interlock { interlock: CLEAR_OF_WAGON, atom, truth };
    says(
        interlock(GATE, Truth::Unknown),
        "interlock 'lift clear of wagon': input 'cellar gate closed' is unknown (never heard)",
    );
    says(
        interlock(BELOW, Truth::False),
        "interlock 'lift clear of wagon': skiff.travel is not below -3.3 m (-1.2 m)",
    );
    says(
        Reason::InterlockAlong { interlock: CLEAR_OF_WAGON, atom: BELOW, truth: Truth::False, time: 4.5 },
        "interlock 'lift clear of wagon': at 4.5 s along the path, skiff.travel is not below -3.3 m",
    );
    let needs = |atom, truth| Reason::Needs { cue: NINE, atom, truth };
    says(needs(EIGHT_DONE, Truth::False), "cue 9 needs more: cue 8 is not done (it is running)");
    says(needs(PAST, Truth::False), "cue 9 needs more: cue 8 is not past 9.0 s (it is at 3.25 s)");
    says(
        needs(AT_QUAY, Truth::False),
        "cue 9 needs more: heron is not at 'quay-high' (heron.swing stands at -43.2°, the mark is at -35.0°)",
    );
    says(
        needs(WRAPPED, Truth::Unknown),
        "cue 9 needs more: whether heron.swing is within -0.1 to 0.1° (modulo 360.0°) is unknown: it is simulated",
    );
    let show = sample::show();
    let mut silent = status(&show);
    silent.axes[SWING.index()].position = None;
    assert_eq!(
        Words::new(&show, &sample::client).seeing(&silent).reason(&needs(WRAPPED, Truth::Unknown)),
        "cue 9 needs more: whether heron.swing is within -0.1 to 0.1° (modulo 360.0°) is unknown: it has no fresh position",
    );
    // Under a "not" it is the truth of a part that stands in the way.
    says(needs(EIGHT_DONE, Truth::True), "cue 9 needs more: cue 8 is done");
}

#[test]
fn a_stale_and_a_tripped_input_tell_their_age_and_what_to_do() {
    let show = sample::show();
    let mut status = status(&show);
    status.inputs[0].value = Some(true);
    status.inputs[0].age = Nanos::from_millis(3200);
    let reason = Reason::Needs { cue: NINE, atom: GATE, truth: Truth::Unknown };
    let stale =
        "cue 9 needs more: input 'cellar gate closed' is unknown (last heard 3.2 s ago, the limit is 0.5 s)";
    assert_eq!(Words::new(&show, &sample::client).seeing(&status).reason(&reason), stale);
    status.inputs[0].tripped = true;
    let reason = Reason::Needs { cue: NINE, atom: GATE, truth: Truth::False };
    let tripped = "cue 9 needs more: input 'cellar gate closed' is false (it tripped: reset once it is true again)";
    assert_eq!(Words::new(&show, &sample::client).seeing(&status).reason(&reason), tripped);
}

#[test]
fn conditions_read_as_they_are_meant() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let leaf = |atom: AtomId| Condition::Atom(atom);
    let all = Condition::All(vec![leaf(BELOW), leaf(GATE)]);
    assert_eq!(words.condition(&all), "skiff.travel below -3.3 m and input 'cellar gate closed'");
    let nested = Condition::Any(vec![all.clone(), Condition::Not(Box::new(leaf(EIGHT_DONE)))]);
    let text = "(skiff.travel below -3.3 m and input 'cellar gate closed') or not cue 8 done";
    assert_eq!(words.condition(&nested), text);
    assert_eq!(
        words.condition(&Condition::Not(Box::new(all))),
        "not (skiff.travel below -3.3 m and input 'cellar gate closed')"
    );
    assert_eq!(words.condition(&Condition::All(vec![leaf(AT_QUAY)])), "heron at 'quay-high'");
    assert_eq!(words.condition(&leaf(PAST)), "cue 8 past 9.0 s");
    assert_eq!(words.condition(&Condition::All(vec![])), "always");
    assert_eq!(words.condition(&Condition::Any(vec![])), "never");
}

#[test]
fn requests_out_of_order_say_what_to_do() {
    let ms = Nanos::from_millis;
    says(Reason::NotArmed, "the show is not armed: arm it first");
    says(Reason::Stopped, "the stop is latched: reset it first");
    says(
        Reason::NotOnStandby { asked: TWELVE_FIVE, standby: Some(NINE) },
        "cue 12.5 was asked for, cue 9 is on standby: put cue 12.5 on standby first",
    );
    says(
        Reason::NotOnStandby { asked: TWELVE_FIVE, standby: None },
        "cue 12.5 was asked for, nothing is on standby: put cue 12.5 on standby first",
    );
    says(
        Reason::NameTheCue { standby: TWELVE_FIVE },
        "a GO from outside must name its cue in this show: expected \"12.5\", found no name",
    );
    says(
        Reason::Bounce { since: ms(210), guard: ms(500) },
        "the last GO was 0.21 s ago, and one within 0.5 s is taken for a bounce: GO again if it is meant",
    );
    says(
        Reason::TooOld { age: ms(850), limit: ms(300) },
        "sent 0.85 s ago, the limit is 0.3 s: send it again if it is still meant",
    );
    says(
        Reason::Role { needs: Role::Operator, has: Role::Caller },
        "this takes an operator, the sender is a caller",
    );
    says(
        Reason::AxisOwned { axis: SWING, owner: Owner::Cue(EIGHT) },
        "heron.swing is moved by cue 8: wait until it is free",
    );
    says(
        Reason::Skips { first: NINE, count: 3 },
        "3 cues would be passed over, from cue 9 on: fire what comes first, or acknowledge the skip",
    );
    says(
        Reason::Skips { first: NINE, count: 1 },
        "cue 9 would be passed over: fire what comes first, or acknowledge the skip",
    );
    says(Reason::HeldBy { client: ClientId(2) }, "panel 2 holds and has not released");
}

#[test]
fn causes_and_faults_point_at_the_machine() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let cause = |cause| words.cause(&cause);
    assert_eq!(cause(Cause::Request(StopLane::Osc)), "stop asked for over OSC");
    assert_eq!(
        cause(Cause::Interlock(CLEAR_OF_WAGON)),
        "interlock 'lift clear of wagon' stops: it needs skiff.travel below -3.3 m and input 'cellar gate closed'"
    );
    assert_eq!(
        cause(Cause::Fault(Fault::LinkLost(RigId(1)))),
        "skiff: no report within 0.2 s: check its link and power"
    );
    assert_eq!(
        words.fault(Fault::Following(SWING)),
        "heron.swing lags its setpoint by more than 1.0°: look for a jam or an overload"
    );
}

#[test]
fn a_refusal_counts_what_found_no_room() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let refusal = |more| Refusal { more, ..Refusal::one(Reason::NotArmed) };
    assert_eq!(words.refusal(&refusal(0)).len(), 1);
    assert_eq!(words.refusal(&refusal(1))[1], "and one reason more");
    assert_eq!(words.refusal(&refusal(4))[1], "and 4 reasons more");
}

#[test]
fn events_are_sentences() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let reasons = || Refusal::one(Reason::NotArmed);
    let go = EventKind::Go { cue: TWELVE_FIVE, by: Some(ClientId(1)) };
    assert_eq!(words.event(&go), "cue 12.5 GO by panel 1");
    let refused = EventKind::Refused {
        request: Some(RequestId(4)),
        client: Some(ClientId(1)),
        cue: Some(EIGHT),
        reasons: reasons(),
    };
    assert_eq!(words.event(&refused), "cue 8 refused to panel 1: the show is not armed: arm it first");
    let broken = EventKind::Refused { request: None, client: None, cue: Some(EIGHT), reasons: reasons() };
    assert_eq!(
        words.event(&broken),
        "cue 8 refused to follow, its chain is broken: the show is not armed: arm it first"
    );
    let stop = EventKind::Stop { cause: Cause::Request(StopLane::StopPort) };
    assert_eq!(words.event(&stop), "STOP: stop asked for on the stop port");
    let overdue = EventKind::Standstill { at_rest: false, axis: Some(SWING) };
    assert_eq!(words.event(&overdue), "heron.swing is NOT at rest in time: look at the machine");
    let held = EventKind::Held { cue: None, by: None, reasons: reasons() };
    assert_eq!(words.event(&held), "the running cues are held: the show is not armed: arm it first");
    let held = EventKind::Held { cue: Some(EIGHT), by: Some(ClientId(3)), reasons: Refusal::default() };
    assert_eq!(words.event(&held), "cue 8 is held by panel 3, with all that shares its rate");
    assert_eq!(words.event(&EventKind::Cue { cue: EIGHT, state: CueState::Standby }), "cue 8 is on standby");
    assert_eq!(words.event(&EventKind::Master { value: 0.5 }), "master at 50.0 %");
    let input = EventKind::Input { input: InputId(1), value: false };
    assert_eq!(words.event(&input), "input 'deck clear' is false");
    let lost = EventKind::ClientLost { client: ClientId(3) };
    assert_eq!(words.event(&lost), "the link to panel 3 is lost");
}
