//! Who has a rig in hand: taken, handed over, given back, lost; and what of it a cue is refused for.

use crate::hall::carts::{cue, east, hall, west};
use crate::hall::held::{SHAPE, accept, give_back, owner, reasons, speed, take, told};
use crate::hall::{CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::rig::SimFault;
use bellwire::show::{CueState, Nanos};

const THIRD: ClientId = ClientId(3);

#[test]
fn a_rig_is_in_one_clients_hands_until_it_is_given_back() {
    let mut hall = hall("", &cue("1", &east(2.0, 4.0)));
    let east = hall.rig("east");
    assert_eq!(hall.ask(take(&hall, "east")), Ok(Accepted::Done));
    assert_eq!(owner(&hall, "east"), Owner::Client(CALLER));
    assert_eq!(owner(&hall, "west"), Owner::Nobody);
    let busy = Reason::RigInHand { rig: east, client: CALLER };
    assert_eq!(reasons(hall.ask_as(OTHER, take(&hall, "east"))), [busy]);
    assert_eq!(reasons(hall.ask_as(OTHER, give_back(&hall, "east"))), [busy]);
    assert_eq!(hall.standby("1"), [busy], "a cue of the rig is not ready");
    assert_eq!(reasons(hall.go("1")), [busy], "nor fired");
    assert_eq!(hall.ask(give_back(&hall, "east")), Ok(Accepted::Done));
    assert_eq!(owner(&hall, "east"), Owner::Nobody);
    assert_eq!(reasons(hall.ask(give_back(&hall, "east"))), [Reason::NotInHand { rig: east }]);
    hall.fire("1");
    assert_eq!(owner(&hall, "east"), Owner::Cue(hall.cue("1")));
    assert_eq!(
        told(&hall),
        [
            HandEvent::Taken { rig: east, client: CALLER, sticks: CALLER },
            HandEvent::GivenBack { rig: east, client: CALLER, lost: false }
        ]
    );
    let mut caller = hall.request(CALLER, take(&hall, "west"));
    caller.role = Role::Caller;
    let answer = hall.tick(&[caller]).remove(0).outcome;
    assert_eq!(reasons(answer), [Reason::Role { needs: Role::Operator, has: Role::Caller }]);
}

#[test]
fn a_rig_that_a_cue_moves_or_that_rides_on_one_is_not_taken() {
    let mut hall = hall("", &cue("1", &east(2.0, 4.0)));
    hall.fire("1");
    hall.run(0.5);
    let cue = hall.cue("1");
    let owned = Reason::AxisOwned { axis: hall.axis("east.travel"), owner: Owner::Cue(cue) };
    assert_eq!(reasons(hall.ask(take(&hall, "east"))), [owned]);
    let head = hall.rig("head");
    assert_eq!(reasons(hall.ask(take(&hall, "head"))), [Reason::RigShared { rig: head, cue }]);
    assert_eq!(hall.ask(take(&hall, "west")), Ok(Accepted::Done));
    hall.ask(Verb::Hold { cue: None }).unwrap();
    hall.run(3.0);
    assert_eq!(reasons(hall.ask(take(&hall, "east"))), [owned], "a held cue keeps what it owns");
    hall.ask(Verb::Resume { cue: None }).unwrap();
    hall.run_until("1", CueState::Done, 6.0);
    hall.take("head");
    let busy = Reason::RigInHand { rig: head, client: CALLER };
    let cue = hall.cue("1");
    let standby = hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false });
    let Ok(Accepted::Standby { reasons, .. }) = standby else { panic!("{standby:?}") };
    assert!(reasons.reasons.contains(&busy), "what rides on it is in hand: {reasons:?}");
}

#[test]
fn a_rig_goes_from_hand_to_hand_by_offer_and_accept() {
    let mut hall = hall("", "");
    let east = hall.rig("east");
    hall.take("east");
    assert_eq!(reasons(hall.ask_as(OTHER, accept(&hall, "east"))), [Reason::NotOffered { rig: east }]);
    assert_eq!(hall.ask(Verb::HandOver { rig: east, to: Some(OTHER) }), Ok(Accepted::Done));
    let status = |hall: &Hall| hall.status.rigs[east.index()].hand.unwrap();
    assert_eq!((status(&hall).client, status(&hall).offered), (CALLER, Some(OTHER)));
    assert_eq!(hall.ask(Verb::HandOver { rig: east, to: None }), Ok(Accepted::Done));
    assert_eq!(reasons(hall.ask_as(OTHER, accept(&hall, "east"))), [Reason::NotOffered { rig: east }]);

    // An offer that nobody takes lapses.
    hall.ask(Verb::HandOver { rig: east, to: Some(OTHER) }).unwrap();
    hall.run(29.9);
    assert_eq!(status(&hall).offered, Some(OTHER));
    hall.run(0.2);
    assert_eq!(status(&hall).offered, None);
    assert_eq!(reasons(hall.ask_as(OTHER, accept(&hall, "east"))), [Reason::NotOffered { rig: east }]);

    // Handed over in motion, it comes to rest, and only the other's sticks count from then on, once they were at zero.
    hall.hold_stick("east.travel", 0.5, 1.5);
    hall.ask(Verb::HandOver { rig: east, to: Some(OTHER) }).unwrap();
    assert_eq!(hall.ask_as(OTHER, accept(&hall, "east")), Ok(Accepted::Done));
    assert_eq!(status(&hall), HandStatus { client: OTHER, sticks: OTHER, offered: None, ..status(&hall) });
    hall.hold_stick("east.travel", 0.5, 1.5);
    assert_eq!(speed(&mut hall, "east.travel"), 0.0, "the first one's stick is not heeded");
    hall.push(OTHER, "east.travel", 0.0);
    hall.tick(&[]);
    hall.push(OTHER, "east.travel", -0.5);
    hall.run(0.1);
    assert!(speed(&mut hall, "east.travel") < 0.0);
    assert_eq!(reasons(hall.ask(give_back(&hall, "east"))), [Reason::RigInHand { rig: east, client: OTHER }]);
}

#[test]
fn who_is_lost_lets_go_and_the_rig_is_nobodys_once_it_stands() {
    let mut hall = hall("", "");
    hall.take("east");
    hall.hold_stick("east.travel", 1.0, 1.5);
    hall.ask(Verb::ClientLost { leased: false }).unwrap();
    assert_eq!(owner(&hall, "east"), Owner::Client(CALLER), "it moves still");
    hall.hold_stick("east.travel", 1.0, 2.0);
    assert_eq!(owner(&hall, "east"), Owner::Nobody);
    assert_eq!(speed(&mut hall, "east.travel"), 0.0);
    let lost = HandEvent::GivenBack { rig: hall.rig("east"), client: CALLER, lost: true };
    assert!(told(&hall).contains(&lost));
}

/// Hands that have gone could never give it back, and nobody else may: so it is nobody's, whoever drives it.
#[test]
fn whose_rig_another_drives_may_not_leave_it_behind() {
    for leased in [false, true] {
        let mut hall = hall("", "");
        let (east, axis) = (hall.rig("east"), hall.axis("east.travel"));
        let to_sticks = Verb::Hand { rig: east, sticks: Some(OTHER), shape: SHAPE };
        assert_eq!(hall.ask(to_sticks.clone()), Ok(Accepted::Done));
        drive(&mut hall, OTHER, 0.0, 0.1);
        drive(&mut hall, OTHER, 0.5, 1.5);
        assert!((speed(&mut hall, "east.travel") - 0.5).abs() < 1e-9);
        hall.ask(Verb::ClientLost { leased }).unwrap();
        let hand = hall.status.rigs[east.index()].hand.expect("it moves still");
        assert!(hand.let_go && owner(&hall, "east") == Owner::Client(CALLER));
        // Pushed on, its sticks keep nothing moving: 0.5 m/s under 1 m/s² and 4 m/s³ are 0.75 s to rest.
        drive(&mut hall, OTHER, 0.5, 0.8);
        assert_eq!(speed(&mut hall, "east.travel"), 0.0, "leased: {leased}");
        assert_eq!(owner(&hall, "east"), Owner::Nobody);
        assert!(told(&hall).contains(&HandEvent::GivenBack { rig: east, client: CALLER, lost: true }));
        assert!(told(&hall).contains(&HandEvent::Ignored { axis, client: OTHER, why: NoStick::NotInHand }));

        // Any operator has it from here; a link lost that has nothing in hand takes nothing from them.
        assert_eq!(hall.ask_as(THIRD, to_sticks.clone()), Ok(Accepted::Done));
        hall.ask(Verb::ClientLost { leased }).unwrap();
        hall.ask_as(OTHER, Verb::ClientLost { leased }).unwrap();
        drive(&mut hall, OTHER, 0.0, 0.1);
        drive(&mut hall, OTHER, -0.5, 0.5);
        assert_eq!(owner(&hall, "east"), Owner::Client(THIRD));
        assert!(speed(&mut hall, "east.travel") < 0.0, "driven for the third");
    }
}

/// Neither a fault, a stop nor a loop that is late keeps a rig in hands that have gone.
#[test]
fn whatever_else_is_wrong_a_rig_whose_client_is_lost_is_nobodys_once_it_stands() {
    let wrongs: [fn(&mut Hall); 4] = [
        |hall| hall.press_stop(),
        |hall| hall.faults.inject(SimFault::LinkLost(hall.rig("east"))),
        |hall| hall.faults.inject(SimFault::Stuck(hall.axis("east.travel"))),
        |hall| hall.late = Nanos::from_millis(120),
    ];
    for (number, wrong) in wrongs.into_iter().enumerate() {
        let mut hall = hall("", "");
        let rig = hall.rig("east");
        hall.ask(Verb::Hand { rig, sticks: Some(OTHER), shape: SHAPE }).unwrap();
        drive(&mut hall, OTHER, 0.0, 0.1);
        drive(&mut hall, OTHER, 0.5, 1.0);
        wrong(&mut hall);
        hall.run(0.1);
        hall.ask(Verb::ClientLost { leased: false }).unwrap();
        hall.run(2.0);
        assert_eq!(owner(&hall, "east"), Owner::Nobody, "{number}");
    }
}

/// Keeps the travel of east's stick where a client has it.
fn drive(hall: &mut Hall, client: ClientId, value: f64, seconds: f64) {
    for _ in 0..(seconds / 0.05).round() as usize {
        hall.push(client, "east.travel", value);
        hall.run(0.05);
    }
}

/// A follow takes no rig out of anybody's hands: its chain breaks, and the rig stays where it is held.
#[test]
fn neither_a_go_nor_a_follow_moves_a_rig_in_hand() {
    let follow = "after = { cue = \"1\", from = \"end\", wait = 0.5 }\n".to_owned() + &east(2.0, 4.0);
    let mut hall = hall("", &(cue("1", &west(2.0, 4.0)) + &cue("2", &follow) + &cue("3", &east(0.0, 4.0))));
    hall.fire("1");
    hall.take("east");
    hall.hold_stick("east.travel", 0.0, 5.5);
    assert_eq!((hall.state("1"), hall.state("2")), (CueState::Done, CueState::Idle));
    let busy = Reason::RigInHand { rig: hall.rig("east"), client: CALLER };
    let refused = |event: &Event| match &event.kind {
        EventKind::Refused { cue, reasons, .. } => Some((*cue, reasons.reasons.to_vec())),
        _ => None,
    };
    let follow = Some(hall.cue("2"));
    let told: Vec<_> = hall.events.iter().filter_map(refused).collect();
    assert_eq!(told, [(follow, vec![busy])], "once, and with whose hands");
    assert_eq!(hall.setpoint("east.travel"), 0.0);

    // By hand as little, though it be on standby.
    assert_eq!(hall.standby("2"), [busy]);
    assert!(reasons(hall.go("2")).contains(&busy));
    hall.run(0.5);
    assert_eq!((hall.state("2"), hall.setpoint("east.travel")), (CueState::Standby, 0.0));
    hall.ask(give_back(&hall, "east")).unwrap();
    hall.run(0.2);
    assert_eq!(hall.go("2"), Ok(Accepted::Done));
    hall.run_until("2", CueState::Done, 5.0);
    assert!((hall.setpoint("east.travel") - 2.0).abs() < 1e-6);
}
