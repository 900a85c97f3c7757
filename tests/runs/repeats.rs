//! Requests that come twice, late, or in another order: whatever a network does to them, a cue fires once.

use crate::hall::carts::{about, begins, cue, east, hall, standby_of, west};
use crate::hall::{CALLER, Hall, OTHER};
use bellwire::engine::*;
use bellwire::show::{CueState, Nanos};
use proptest::prelude::*;

const HOUR: Nanos = Nanos(3_600_000_000_000);

fn two_cues() -> Hall {
    hall("", &(cue("1", &east(1.0, 2.5)) + &cue("2", &west(1.0, 2.5))))
}

/// How often each of the two cues was fired.
fn fired(hall: &Hall) -> [usize; 2] {
    ["1", "2"].map(|number| {
        let cue = hall.cue(number);
        hall.events.iter().filter(|event| matches!(event.kind, EventKind::Go { cue: at, .. } if at == cue)).count()
    })
}

/// What a caller sends for an evening of two cues, each with its key.
fn evening(hall: &mut Hall, keyed: bool) -> Vec<Request> {
    let mut requests = Vec::new();
    for number in ["1", "2"] {
        let cue = hall.cue(number);
        let standby = Verb::Standby { cues: [cue].into_iter().collect(), skip: number == "2" };
        for verb in [standby, Verb::Go { cue: Some(cue) }] {
            let mut request = hall.request(CALLER, verb);
            request.key = keyed.then_some(Key(request.id.0));
            requests.push(request);
        }
    }
    requests
}

/// The same request under another number, as the daemon gives it to a datagram that came twice.
fn again(request: &Request, id: u64) -> Request {
    Request { id: RequestId(100_000 + id), ..request.clone() }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// Any choice of the evening's requests, any of them any number of times, in any order, at any distance.
    #[test]
    fn no_network_makes_two_of_one_cue(
        keyed: bool,
        arrivals in prop::collection::vec((0usize..4, prop_oneof![Just(0.0), 0.0..0.4, 2.0..4.0]), 1..24),
    ) {
        let mut hall = two_cues();
        let evening = evening(&mut hall, keyed);
        let mut standbys = [false; 2];
        for (id, &(which, pause)) in arrivals.iter().enumerate() {
            let outcome = hall.tick(&[again(&evening[which], id as u64)])[0].outcome.clone();
            let cue = which / 2;
            match which % 2 {
                0 => standbys[cue] |= outcome.is_ok(),
                _ => prop_assert!(outcome.is_err() || standbys[cue], "a GO before its standby was accepted"),
            }
            hall.run(pause);
        }
        let fired = fired(&hall);
        prop_assert!(fired[0] <= 1 && fired[1] <= 1, "{fired:?}");
    }
}

#[test]
fn in_their_order_they_fire_both() {
    let mut hall = two_cues();
    for (id, request) in evening(&mut hall, true).iter().enumerate() {
        assert!(hall.tick(&[again(request, id as u64)])[0].outcome.is_ok());
        hall.run(3.0);
    }
    assert_eq!(fired(&hall), [1, 1]);
}

#[test]
fn a_key_is_remembered_past_many_others_and_is_its_clients_own() {
    let mut hall = two_cues();
    standby_of(&mut hall, &["1"], false);
    let mut go = hall.request(CALLER, Verb::Go { cue: None });
    go.key = Some(Key(1));
    assert!(hall.tick(&[go.clone()])[0].outcome.is_ok());
    for key in 0..200 {
        let mut other = hall.request(OTHER, Verb::Resume { cue: None });
        other.key = Some(Key(1000 + key));
        hall.tick(&[other]);
    }
    assert_eq!(hall.tick(&[again(&go, 1)])[0].outcome, Ok(Accepted::Done));
    let foreign = Request { client: OTHER, ..again(&go, 2) };
    assert!(hall.tick(&[foreign])[0].outcome.is_err());
    assert_eq!(fired(&hall), [1, 0]);
}

/// Only the age of a request rests on the wall clock, and the daemon hands that in. With the clock an hour off either way
/// requests are refused, and nothing else is touched: waits, moves and the guard run as they would.
#[test]
fn an_hour_on_the_wall_clock_moves_no_wait() {
    let chain = cue("1", &east(1.0, 2.5))
        + &cue("2", &format!("after = {{ cue = \"1\", from = \"end\", wait = 0.5 }}\n{}", west(1.0, 2.5)));
    let times = [None, Some(HOUR), Some(Nanos(-HOUR.0))].map(|age| {
        let mut hall = hall("", &chain);
        standby_of(&mut hall, &["1"], false);
        hall.go("1").expect("fired");
        while hall.state("2") != CueState::Done {
            if let Some(age) = age {
                let mut late = hall.request(CALLER, Verb::Hold { cue: None });
                late.age = Some(age);
                let [answer] = &hall.tick(&[late])[..] else { panic!("one answer") };
                let reasons = &answer.outcome.as_ref().expect_err("refused").reasons;
                assert!(
                    matches!(reasons[..], [Reason::TooOld { .. } | Reason::FromTheFuture { .. }]),
                    "{reasons:?}"
                );
            } else {
                hall.tick(&[]);
            }
        }
        (begins(&hall, &["1", "2"]), hall.status.tick)
    });
    about(&times[0].0, &[0.0, 3.0]);
    assert_eq!(times[0], times[1]);
    assert_eq!(times[0], times[2]);
}

/// The stop has no age: it comes by a road on which nothing is dated, and in the tick of any number of refused requests.
#[test]
fn a_stop_among_stale_requests_is_taken() {
    let mut hall = two_cues();
    standby_of(&mut hall, &["1"], false);
    hall.go("1").expect("fired");
    hall.run(0.5);
    let stale: Vec<Request> =
        (0..64).map(|_| Request { age: Some(HOUR), ..hall.request(CALLER, Verb::Resume { cue: None }) }).collect();
    hall.stop.generations[0] += 1;
    assert!(hall.tick(&stale).iter().all(|answer| answer.outcome.is_err()));
    assert!(hall.status.stopped.is_some());
}
