//! What the check says of interlocks and needs, and of what can be done after a stop, held against the running engine.

use std::sync::Arc;

use crate::hall;
use crate::hall::Hall;
use crate::hall::carts::{cue, east, show, west};
use crate::hall::ideal::Ideal;
use bellwire::engine::*;
use bellwire::proof::{Going, PresetBack, Proof, Then, look_onward, prove};
use bellwire::rig::Chance;
use bellwire::show::{Code, CueId, CueState, Finding, Severity, Show};

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
fn a_go_beside_another_cue_stops_all_or_holds_what_is_guarded_at_the_starts_that_are_told_and_at_no_others() {
    for otherwise in ["stop", "hold"] {
        let [finding] = &told(&beside(otherwise, ""))[..] else { panic!("nothing is told") };
        assert_eq!(finding.severity, Severity::Note);
        let what = if otherwise == "stop" { "a stop of everything beside cue 1" } else { "a hold of cue 1" };
        let said = format!("cue 2 leads to {what} if it starts in its first 4.0 s");
        assert!(finding.message.starts_with(&said), "{}", finding.message);
        for (start, spoilt) in [(0.5, true), (2.0, true), (3.8, true), (4.2, false), (5.5, false)] {
            let mut hall = Hall::open(beside(otherwise, ""));
            hall.arm();
            hall.fire("1");
            hall.run(start - hall.show.settings.guard.seconds());
            hall.fire("2");
            hall.run(7.0);
            let stopped = hall.status.stopped.is_some();
            // The two are clear of each other all over: who is not guarded goes on.
            let held = hall.state("1") == CueState::Holding;
            assert_eq!(
                (stopped, held),
                (spoilt && otherwise == "stop", spoilt && otherwise == "hold"),
                "{start} s"
            );
            assert_eq!(hall.state("2") == CueState::Done, !stopped, "{start} s");
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

/// s; so near to where what can be done changes, the check tells the worse.
const BESIDE: f64 = 0.06;

/// How often each way was found open, and shut.
#[derive(Default, Debug)]
struct Seen {
    on: [usize; 2],
    back: [usize; 2],
    presets: usize,
}

/// Stops a cue, run by itself, at seeded ticks of it; holds place and time of every standstill, and what comes of going on
/// and of going back, against what the check tells.
fn stop_anywhere(show: &Arc<Show>, proof: &Proof, cue: CueId, inputs: bool, looks: u64, seen: &mut Seen) {
    let (plan, stops, tick) = (proof.plan.cue(cue), &proof.stops[cue.index()], show.settings.tick.seconds());
    let onward = look_onward(show, &proof.plan, cue, stops);
    assert!(onward.windows(2).all(|pair| pair[0].to == pair[1].from) && onward[0].from == 0.0, "{onward:?}");
    let mut running = fired(show, proof, cue, inputs);
    let mut chance = Chance::new(cue.index() as u64 + looks);
    let mut ticks: Vec<u64> = (0..looks).map(|_| (plan.duration * chance.uniform() / tick) as u64 + 1).collect();
    ticks.sort_unstable();
    let mut passed = 0;
    for at in ticks.into_iter().filter(|at| *at > 1) {
        let status = if at > passed { running.run(at - passed) } else { running.engine.status().clone() };
        passed = passed.max(at);
        let Some(member) = status.running.first().filter(|member| member.state == CueState::Running) else { break };
        let asked = member.time;
        let told = stops.at(show, plan, asked).unwrap();
        let mut stopped = running.clone();
        stopped.stop.generations[1] += 1;
        let mut took = 0.0;
        while took == 0.0 || !stopped.at_rest() {
            stopped.run(1);
            took += tick;
        }
        assert!((took - told.takes).abs() <= 2.0 * tick, "asked at {asked}: {took} s, told {told:?}");
        let mut pose = plan.start.clone();
        plan.pose_at(told.rests, &mut pose);
        for (axis, (setpoint, told)) in show.axes.iter().zip(stopped.setpoints.iter().zip(&pose)) {
            assert!((setpoint.position - told).abs() < 1e-6, "asked at {asked}: {} {told}", setpoint.position);
            assert!((axis.travel[0]..=axis.travel[1]).contains(&setpoint.position), "{}", axis.name);
        }
        let inside = |from: f64, to: f64| from + BESIDE < asked && asked < to - BESIDE;
        let Some(span) = onward.iter().find(|span| inside(span.from, span.to)) else { continue };
        let Then::Stands { resume, back, preset } = &span.then else { continue };
        settle(&mut stopped);
        let (on, was_back) = (goes_on(stopped.clone(), cue), goes_back(stopped.clone(), cue, plan.duration));
        let open = |going: &Going| match going {
            Going::Open(given) => given.is_empty() || inputs,
            Going::Shut(_) => false,
        };
        assert_eq!(on, open(resume), "asked at {asked}: resume {span:?}");
        assert_eq!(was_back, open(back), "asked at {asked}: return {span:?}");
        seen.on[usize::from(on)] += 1;
        seen.back[usize::from(was_back)] += 1;
        if let Some(PresetBack::Found { takes, .. }) = preset {
            let took = presets(fired(show, proof, cue, inputs), at, cue, &plan.start);
            assert!(took <= takes + 0.1, "{took} s, told {takes} s");
            seen.presets += 1;
        }
    }
}

fn fired(show: &Arc<Show>, proof: &Proof, cue: CueId, inputs: bool) -> Ideal {
    let mut ideal = Ideal::before(show, &Arc::new(proof.plan.clone()), cue, inputs);
    ideal.tick(&[Verb::Standby { cues: [cue].into_iter().collect(), skip: true }]);
    ideal.tick(&[Verb::Go { cue: Some(cue) }]);
    ideal
}

/// Stopped, at rest and reset.
fn settle(stopped: &mut Ideal) {
    stopped.run(400);
    stopped.tick(&[Verb::Reset]);
    stopped.run(300);
}

/// Carried on by standby and GO, it comes to its end.
fn goes_on(mut stopped: Ideal, cue: CueId) -> bool {
    let standby = stopped.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: true });
    assert!(standby.is_ok(), "{standby:?}");
    stopped.ask(Verb::Go { cue: Some(cue) }).is_ok() && ends_as(&mut stopped, cue, CueState::Done)
}

/// Taken back by return and GO, it comes to its start.
fn goes_back(mut stopped: Ideal, cue: CueId, duration: f64) -> bool {
    let back = stopped.ask(Verb::Return { cue, held: false });
    let ready = matches!(back, Ok(Accepted::Standby { ready: true, .. }));
    assert!(duration > 0.0 && back.is_ok(), "{back:?}");
    ready && stopped.ask(Verb::Go { cue: Some(cue) }).is_ok() && ends_as(&mut stopped, cue, CueState::Idle)
}

fn ends_as(stopped: &mut Ideal, cue: CueId, state: CueState) -> bool {
    for _ in 0..400 {
        let status = stopped.run(100);
        match status.cues[cue.index()] {
            CueState::Running | CueState::Returning | CueState::Standby => {}
            CueState::Idle | CueState::Waiting | CueState::Holding | CueState::Done | CueState::Stopped => {
                return status.cues[cue.index()] == state && status.stopped.is_none();
            }
        }
    }
    panic!("{:?}", stopped.engine.status().running);
}

/// s that the preset to where the cue starts takes after a stop at that tick. Of a cue that was just fired: a copy of an
/// engine has no room to plan a preset in.
fn presets(mut stopped: Ideal, at: u64, cue: CueId, start: &[f64]) -> f64 {
    stopped.run(at);
    stopped.stop.generations[1] += 1;
    stopped.run(1500);
    settle(&mut stopped);
    stopped.tick(&[Verb::Preset { cue, held: false }]);
    stopped.run(200);
    stopped.tick(&[Verb::Go { cue: None }]);
    let mut took = 0.0;
    while !stopped.engine.status().running.is_empty() {
        stopped.run(1);
        took += stopped.show.settings.tick.seconds();
        assert!(took < 100.0);
    }
    for (setpoint, start) in stopped.setpoints.iter().zip(start) {
        assert!((setpoint.position - start).abs() < 1e-6);
    }
    took
}

/// Cue 1 takes east 2 m up in 5 s, under an interlock on its way back, or with needs of its own.
#[test]
fn after_a_stop_anywhere_a_cue_goes_on_or_back_where_the_check_says_and_only_there() {
    let lock = |needs: &str, otherwise: &str| {
        let lock = interlock("\"east.travel\"", needs, otherwise);
        lock.replace("needs =", "direction = \"down\"\nneeds =")
    };
    let gate = "[[input]]\nname = \"gate\"\nmax_age = 0.5\n";
    let past = "{ any = [{ axis = \"east.travel\", below = 0.2 }, { cue = \"1\", past = 2.0 }] }";
    let mut all = Seen::default();
    for (settings, needs) in [
        (String::new(), ""),
        (lock("{ axis = \"west.travel\", above = 1.0 }", "stop"), ""),
        (lock("{ axis = \"east.travel\", below = 1.0 }", "hold"), ""),
        (lock("{ axis = \"east.travel\", above = 0.5 }", "stop"), ""),
        (lock(past, "hold"), ""),
        (lock(past, "refuse"), ""),
        (gate.to_owned() + &lock("{ input = \"gate\" }", "hold"), ""),
        (
            String::new(),
            "needs = { any = [{ axis = \"east.travel\", below = 1.0 }, { cue = \"1\", past = 1.5 }] }\n",
        ),
        (String::new(), "needs = { axis = \"east.travel\", below = 1.0 }\n"),
    ] {
        let show = Arc::new(show(&settings, &cue("1", &(needs.to_owned() + &east(2.0, 5.0)))));
        let proof = prove(&show);
        for inputs in [true, false].into_iter().filter(|inputs| *inputs || settings.contains("gate")) {
            let mut seen = Seen::default();
            // It is held half-way: the stops that leave it beyond are asked for just before.
            let looks = if needs.contains("below = 1.0 }\n") { 80 } else { 12 };
            stop_anywhere(&show, &proof, CueId::new(0), inputs, looks, &mut seen);
            assert!(seen.on[0] + seen.on[1] > 4, "{settings}{needs}: {seen:?}");
            all.on = [0, 1].map(|open| all.on[open] + seen.on[open]);
            all.back = [0, 1].map(|open| all.back[open] + seen.back[open]);
            all.presets += seen.presets;
        }
    }
    assert!(all.on.iter().chain(&all.back).all(|&count| count > 5) && all.presets > 0, "{all:?}");
}

/// Cues that nothing follows from their start, so that each is stopped by itself.
#[test]
fn after_a_stop_anywhere_salt_lantern_goes_on_or_back_where_the_check_says() {
    let show = Arc::new(hall::read(&hall::folder("demo-show")));
    let proof = prove(&show);
    let mut seen = Seen::default();
    for number in ["3", "18", "32"] {
        let cue = show.find_cue(&number.parse().unwrap()).unwrap();
        stop_anywhere(&show, &proof, cue, true, 3, &mut seen);
    }
    assert!(seen.on[1] > 6 && seen.back[1] > 6, "{seen:?}");
}
