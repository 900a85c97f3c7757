//! What the check says of interlocks and needs, held against the running engine.

mod hall;

use bellwire::engine::*;
use bellwire::proof::prove;
use bellwire::show::{Code, CueState, Finding, Severity, Show};
use hall::Hall;
use hall::carts::{cue, east, show, west};

fn interlock(guards: &str, needs: &str, otherwise: &str) -> String {
    format!("[[interlock]]\nname = \"lock\"\nguards = [{guards}]\nneeds = {needs}\notherwise = \"{otherwise}\"\n")
}

fn told(show: &Show) -> Vec<Finding> {
    prove(show).findings.into_iter().filter(|finding| finding.code == Code::InterlockBlocked).collect()
}

#[test]
fn a_cue_whose_interlock_turns_false_on_its_way_is_refused_at_the_time_that_is_told() {
    let shown = || {
        show(&interlock("\"east\"", "{ axis = \"east.travel\", below = 1.0 }", "hold"), &cue("1", &east(2.0, 5.0)))
    };
    let [finding] = &told(&shown())[..] else { panic!("nothing is told") };
    let mut hall = Hall::open_despite(shown(), Code::InterlockBlocked);
    let reasons = hall.standby("1");
    let [Reason::InterlockAlong { truth: Truth::False, time, .. }] = reasons[..] else { panic!("{reasons:?}") };
    assert!((time - finding.time.unwrap()).abs() < 1e-3, "{time} {finding:?}");
    assert!(hall.go("1").is_err());
}

#[test]
fn a_cue_whose_own_needs_turn_false_on_its_way_is_held_when_the_check_says() {
    let needs = "needs = { axis = \"east.travel\", below = 1.0 }\n";
    let shown = || show("", &cue("1", &(needs.to_owned() + &east(2.0, 5.0))));
    let [finding] = &told(&shown())[..] else { panic!("nothing is told") };
    let mut hall = Hall::open_despite(shown(), Code::InterlockBlocked);
    hall.fire("1");
    hall.run(finding.time.unwrap() - 0.1);
    assert_eq!(hall.state("1"), CueState::Running);
    hall.run(0.3);
    assert_eq!(hall.state("1"), CueState::Holding);
}

/// West moves under the interlock for 6 s; east passes what that asks 2 s into its 4 s.
fn beside(otherwise: &str, more: &str) -> Show {
    let settings = interlock("\"west\"", "{ axis = \"east.travel\", below = 1.0 }", otherwise);
    show(&settings, &(cue("1", &west(2.0, 6.0)) + &cue("2", &(more.to_owned() + &east(2.0, 4.0)))))
}

#[test]
fn a_go_beside_another_cue_stops_or_holds_them_at_the_starts_that_are_told_and_at_no_others() {
    for otherwise in ["stop", "hold"] {
        let [finding] = &told(&beside(otherwise, ""))[..] else { panic!("nothing is told") };
        assert_eq!(finding.severity, Severity::Note);
        assert!(finding.message.contains("if it starts in its first 4.0 s"), "{}", finding.message);
        for (start, spoilt) in [(0.5, true), (2.0, true), (3.8, true), (4.2, false), (5.5, false)] {
            let mut hall = Hall::open(beside(otherwise, ""));
            hall.arm();
            hall.fire("1");
            hall.run(start - hall.show.settings.guard.seconds());
            hall.fire("2");
            hall.run(7.0);
            let stopped = hall.status.stopped.is_some();
            let held = hall.state("2") == CueState::Holding;
            assert_eq!(
                (stopped, held),
                (spoilt && otherwise == "stop", spoilt && otherwise == "hold"),
                "{start} s"
            );
            assert_eq!(hall.state("2") == CueState::Done, !spoilt, "{start} s");
        }
    }
}

#[test]
fn the_line_that_is_told_lets_no_start_run_into_the_interlock() {
    let [finding] = &told(&beside("stop", ""))[..] else { panic!("nothing is told") };
    let line = finding.fix.as_ref().unwrap().strip_prefix("write in cue 2: ").unwrap();
    let mended = || beside("stop", &format!("{line}\n"));
    assert_eq!(told(&mended()), []);
    let mut hall = Hall::open(mended());
    hall.arm();
    hall.fire("1");
    // As soon as it lets her.
    while !hall.standby("2").is_empty() {
        hall.run(0.02);
    }
    assert_eq!(hall.go("2"), Ok(Accepted::Done));
    hall.run_until("2", CueState::Done, 6.0);
    assert!(hall.status.stopped.is_none());
}
