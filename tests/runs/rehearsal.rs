//! Rehearsals: the whole list on the same engine, clean where the show is, and honest where it is not.

use std::ops::ControlFlow;
use std::sync::Arc;

use crate::hall::apart::too_near;
use crate::hall::crossing::{HEAD, crossings, files};
use crate::hall::{folder, read, show_of};
use bellwire::engine::{Event, EventKind, HandEvent, Reason};
use bellwire::proof::{self, Plan};
use bellwire::rehearsal::{self, CueRecord, Ending, Options, Outcome, Rehearsal};
use bellwire::rig::{Chance, FaultScript, Injection, SimFault, When};
use bellwire::show::{AxisId, CueId, CueState, InputId, Nanos, RigId, Severity, Show};
use bellwire::stage::Stage;

struct Stack {
    show: Arc<Show>,
    plan: Arc<Plan>,
}

impl Stack {
    fn new(show: Show) -> Stack {
        let proof = proof::prove(&show);
        let error = proof.findings.iter().find(|finding| finding.severity == Severity::Error);
        assert_eq!(error, None, "a show with errors is not rehearsed");
        Stack { show: Arc::new(show), plan: Arc::new(proof.plan) }
    }

    fn demo() -> Stack {
        Stack::new(read(&folder("demo-show")))
    }

    fn rehearse(&self, options: &Options) -> Rehearsal {
        let rehearsal = rehearsal::rehearse(&self.show, &self.plan, options, &mut |_| ControlFlow::Continue(()));
        self.judge(&rehearsal);
        rehearsal
    }

    /// No peak of any cue is above the limit that applied to it.
    fn judge(&self, rehearsal: &Rehearsal) {
        assert!(!matches!(rehearsal.ending, Ending::Broken(_)), "{:?}", rehearsal.ending);
        for record in rehearsal.axes(&self.show) {
            let axis = self.show.axis(record.axis);
            let name = self.show.axis_name(record.axis);
            assert!(record.running.most_of(axis.run) <= 1.0 + 1e-6, "{name}: {record:?}");
            assert!(record.stopping.most_of(axis.stop) <= 1.0 + 1e-6, "{name}: {record:?}");
        }
    }

    fn record<'a>(&self, rehearsal: &'a Rehearsal, number: &str) -> &'a CueRecord {
        let cue = self.show.find_cue(&number.parse().unwrap()).unwrap();
        rehearsal.cues.iter().find(|record| record.cue == cue).unwrap()
    }
}

fn told(stack: &Stack, rehearsal: &Rehearsal) -> Vec<String> {
    let reasons = |outcome: &Outcome| match outcome {
        Outcome::Refused(refused) => format!("{:?}", refused.reasons),
        _ => String::new(),
    };
    let tell = |record: &CueRecord| {
        let number = &stack.show.cue(record.cue).number;
        format!("{number} {} {}", record.outcome.word(), reasons(&record.outcome))
    };
    rehearsal.cues.iter().map(tell).collect()
}

fn brisk() -> Options {
    Options { gaps: false, ..Options::default() }
}

#[test]
fn the_demo_show_rehearses_clean_and_takes_what_was_planned() {
    let stack = Stack::demo();
    let rehearsal = stack.rehearse(&Options::default());
    assert!(rehearsal.is_clean(), "{:#?}", told(&stack, &rehearsal));
    assert!(matches!(rehearsal.ending, Ending::Complete));
    let tick = stack.show.settings.tick.seconds();
    for record in &rehearsal.cues {
        let cue = stack.show.cue(record.cue);
        let off = record.taken().unwrap() - record.planned;
        assert!((-1e-9..=tick + 1e-9).contains(&off), "cue {} takes {off} s more than planned", cue.number);
        assert_eq!(record.interrupted, 0.0);
        assert!(record.stop_bound > 0.0);
        let states: Vec<CueState> = record.states.iter().map(|(_, state)| *state).collect();
        let first = if cue.after.is_some() { CueState::Waiting } else { CueState::Standby };
        // A standby given early is dropped, and given again, where an interlock changes while the cue before it runs.
        let drops = |event: &Event| matches!(&event.kind, EventKind::Dropped { cue, .. } if *cue == record.cue);
        let dropped = rehearsal.events.iter().filter(|(_, event)| drops(event)).count();
        let expected: Vec<CueState> = [first, CueState::Idle].repeat(dropped);
        let expected = [expected, vec![first, CueState::Running, CueState::Done]].concat();
        assert_eq!(states, expected, "cue {}", cue.number);
        for axis in &record.axes {
            let limit = stack.show.axis(axis.axis).lag_limit;
            assert!(axis.lag > 0.0 && axis.lag < limit, "{axis:?}");
            assert!(axis.running.speed > 0.0 && axis.running.jerk > 0.0, "{axis:?}");
            assert_eq!(axis.stopping.speed, 0.0, "nothing was braked");
        }
    }
}

#[test]
fn the_caller_keeps_to_the_gaps_and_without_them_calls_at_once() {
    let stack = Stack::demo();
    let [kept, not] = [Options::default(), brisk()].map(|options| stack.rehearse(&options));
    let gap = stack.record(&kept, "4").fired.unwrap() - stack.record(&kept, "3").fired.unwrap();
    assert!((gap - 90.0).abs() < 0.01, "{gap}");
    let pause = stack.record(&not, "4").fired.unwrap() - stack.record(&not, "3").ended.unwrap();
    assert!(pause < 3.0, "{pause}");
    assert!(not.is_clean());
    assert!(not.act().unwrap() < kept.act().unwrap() / 2.0);
}

#[test]
fn a_lower_master_takes_longer_and_reaches_less() {
    let stack = Stack::demo();
    let [full, half] = [1.0, 0.5].map(|master| stack.rehearse(&Options { master, ..brisk() }));
    assert!(half.is_clean(), "{:#?}", told(&stack, &half));
    for (full, half) in full.cues.iter().zip(&half.cues) {
        assert!((half.taken().unwrap() - 2.0 * full.planned).abs() < 0.01);
        for (full, half) in full.axes.iter().zip(&half.axes) {
            assert!((half.running.speed - full.running.speed / 2.0).abs() < 0.02 * full.running.speed);
            assert!((half.running.jerk - full.running.jerk / 8.0).abs() < 0.02 * full.running.jerk);
        }
    }
}

#[test]
fn an_input_that_stays_silent_is_the_reason_that_is_given() {
    let stack = Stack::demo();
    let gate = stack.show.inputs.iter().position(|input| input.name == "cellar gate closed").unwrap();
    let rehearsal = stack.rehearse(&Options { without: vec![InputId::new(gate)], ..brisk() });
    assert!(!rehearsal.is_clean());
    let Outcome::Refused(refused) = &stack.record(&rehearsal, "5").outcome else {
        panic!("{:#?}", told(&stack, &rehearsal))
    };
    assert!(matches!(refused.reasons.reasons[..], [Reason::Interlock { .. }]), "{refused:?}");
    // Its follow has nobody to follow; all others are still run.
    assert!(matches!(stack.record(&rehearsal, "6").outcome, Outcome::NoLeader { .. }));
    assert!(matches!(stack.record(&rehearsal, "7").outcome, Outcome::Done | Outcome::Refused(_)));
}

const CART: &str = "kind = \"cart\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"m\"\n\
    travel = [0.0, 5.0]\nstart = 0.0\nspeed = 1.0\nacceleration = 1.0\njerk = 2.0\n\
    joint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\n\
    bodies = [{ sphere = { at = [0.0, 0.0, 0.5], radius = 0.2 } }]\n";

/// A cart, a word that cue 2 needs, and whatever else the cues are to have.
fn cart(cues: &str) -> Stack {
    let show = "[show]\nname = \"Cart\"\nmargin = 0.1\nreact = 0.1\n[[input]]\nname = \"word\"\nmax_age = 0.5\n";
    Stack::new(show_of(&[("show.toml", show), ("rigs/cart.toml", CART), ("cues/all.toml", cues)]))
}

const THREE: &str = "[[cue]]\nnumber = \"1\"\nname = \"Out\"\nmove = [{ rig = \"cart\", to = { travel = 1.0 } }]\n\
    [[cue]]\nnumber = \"2\"\nname = \"On\"\nneeds = { input = \"word\" }\n\
    move = [{ rig = \"cart\", to = { travel = 2.0 } }]\n\
    [[cue]]\nnumber = \"3\"\nname = \"Home\"\nmove = [{ rig = \"cart\", to = { travel = 0.0 } }]\n";

#[test]
fn after_a_refused_cue_the_next_finds_its_rig_elsewhere() {
    let stack = cart(THREE);
    assert!(stack.rehearse(&brisk()).is_clean());
    let rehearsal = stack.rehearse(&Options { without: vec![InputId::new(0)], ..brisk() });
    assert!(matches!(stack.record(&rehearsal, "1").outcome, Outcome::Done));
    let reasons = |number: &str| match &stack.record(&rehearsal, number).outcome {
        Outcome::Refused(refused) => refused.reasons.reasons.to_vec(),
        other => panic!("{number}: {other:?}"),
    };
    assert!(matches!(reasons("2")[..], [Reason::Needs { .. }]));
    assert!(matches!(reasons("3")[..], [Reason::StartPose { expected: 2.0, .. }]), "{:?}", reasons("3"));
}

#[test]
fn a_follow_whose_condition_never_comes_is_told() {
    let follow = "[[cue]]\nnumber = \"4\"\nname = \"Never\"\nafter = { when = { axis = \"cart.travel\", above = 4.0 } }\n\
        move = [{ rig = \"cart\", to = { travel = 1.0 } }]\n\
        [[cue]]\nnumber = \"5\"\nname = \"Nor this\"\nafter = { cue = \"4\", from = \"end\", wait = 1.0 }\n\
        move = [{ rig = \"cart\", to = { travel = 0.0 } }]\n";
    let stack = cart(&format!("{THREE}{follow}"));
    let rehearsal = stack.rehearse(&brisk());
    assert!(!rehearsal.is_clean());
    assert!(matches!(stack.record(&rehearsal, "3").outcome, Outcome::Done));
    assert!(
        matches!(stack.record(&rehearsal, "4").outcome, Outcome::NoCondition),
        "{:#?}",
        told(&stack, &rehearsal)
    );
    assert!(matches!(stack.record(&rehearsal, "5").outcome, Outcome::NoLeader { .. }));
}

#[test]
fn a_part_of_the_list_begins_where_the_list_has_the_rigs() {
    let stack = Stack::demo();
    let cue = |number: &str| stack.show.find_cue(&number.parse().unwrap());
    let rehearsal = stack.rehearse(&Options { from: cue("3"), to: cue("7"), ..brisk() });
    assert!(rehearsal.is_clean(), "{:#?}", told(&stack, &rehearsal));
    assert_eq!(rehearsal.cues.len(), 5);
    // From a follow on, somebody has to call it.
    assert!(stack.rehearse(&Options { from: cue("6"), to: cue("7"), ..brisk() }).is_clean());
}

#[test]
fn a_fault_stops_the_show_and_a_crew_carries_it_on() {
    let stack = cart(THREE);
    let rig = RigId::new(0);
    let lost = |lasts: Option<Nanos>| {
        let when = When::Past { cue: CueId::new(1), time: 0.5 };
        let injection = Injection { fault: SimFault::LinkLost(rig), when, lasts, began: None, ended: None };
        Options { faults: Some(FaultScript::new(vec![injection], stack.show.settings.tick)), ..brisk() }
    };
    // It heals: the crew resets, presets the cart, which its watchdog stopped beside the path, and the cue is called
    // again. A fault it was, all the same.
    let mended = stack.rehearse(&lost(Some(Nanos::from_millis(1500))));
    assert!(matches!(mended.ending, Ending::Complete), "{:?}", mended.ending);
    assert!(
        mended.cues.iter().all(|record| matches!(record.outcome, Outcome::Done)),
        "{:#?}",
        told(&stack, &mended)
    );
    assert!(mended.was_stopped_by_fault() && !mended.is_clean());
    let stopped = stack.record(&mended, "2");
    assert!(stopped.states.iter().any(|(_, state)| *state == CueState::Stopped), "{:?}", stopped.states);
    assert!(mended.preset[0].running.speed > 0.0, "{:?}", mended.preset);
    // It does not: nothing is fired any more.
    let lasting = stack.rehearse(&lost(None));
    assert!(matches!(lasting.ending, Ending::Stopped(_)), "{:?}", lasting.ending);
    assert!(matches!(stack.record(&lasting, "2").outcome, Outcome::OnItsWay));
    assert!(matches!(stack.record(&lasting, "3").outcome, Outcome::NotReached));
}

#[test]
fn whoever_paces_it_can_end_it() {
    let stack = Stack::demo();
    let mut beats = 0;
    let rehearsal = rehearsal::rehearse(&stack.show, &stack.plan, &brisk(), &mut |beat| {
        beats += 1;
        assert_eq!(beat.cues, stack.show.cues.len());
        if beat.time.seconds() < 10.0 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    });
    assert_eq!(rehearsal.ticks, beats);
    assert!(matches!(rehearsal.ending, Ending::Interrupted) && !rehearsal.is_clean());
    assert!(matches!(rehearsal.cues.last().unwrap().outcome, Outcome::NotReached));
}

#[test]
fn a_seed_tells_the_same_story_to_the_bit_and_another_seed_another() {
    let stack = Stack::demo();
    let tell = |seed: Option<u64>| stack.rehearse(&Options { seed, ..brisk() });
    let [first, again, other] = [Some(7), Some(7), Some(8)].map(tell);
    assert_eq!((first.fingerprint, first.ticks), (again.fingerprint, again.ticks));
    assert_eq!(format!("{:?}", first.cues), format!("{:?}", again.cues));
    assert_ne!(first.fingerprint, other.fingerprint);
    let [plain, twin] = [None, None].map(tell);
    assert_eq!(plain.fingerprint, twin.fingerprint);
}

/// What random operators did to a show, over all seeds.
#[derive(Debug, Default)]
struct Tally {
    clean: usize,
    held: usize,
    stopped: usize,
    returned: usize,
    masters: usize,
    refused: usize,
    in_hand: usize,
}

#[test]
fn random_operators_break_nothing_and_the_show_goes_on() {
    let seeds: u64 = std::env::var("BELLWIRE_SIMULATIONS").ok().and_then(|text| text.parse().ok()).unwrap_or(6);
    let drill = Stack::new(read(&folder("tests/drill")));
    let follow = Stack::new(read(&folder("cues/follow")));
    let demo = Stack::demo();
    let mut tally = Tally::default();
    for seed in 0..seeds {
        for (name, stack) in [("drill", &drill), ("follow", &follow), ("demo", &demo)] {
            let rehearsal = stack.rehearse(&Options { seed: Some(seed), ..brisk() });
            let told = told(stack, &rehearsal);
            assert!(
                matches!(rehearsal.ending, Ending::Complete),
                "{name}, seed {seed}: {:?} {told:#?}",
                rehearsal.ending
            );
            tally.clean += usize::from(rehearsal.is_clean());
            if !rehearsal.is_clean() {
                println!("{name}, seed {seed}: {told:#?}");
            }
            for (_, event) in &rehearsal.events {
                match &event.kind {
                    EventKind::Held { .. } => tally.held += 1,
                    EventKind::Stop { .. } => tally.stopped += 1,
                    EventKind::Cue { state: CueState::Returning, .. } => tally.returned += 1,
                    EventKind::Master { .. } => tally.masters += 1,
                    EventKind::Refused { .. } => tally.refused += 1,
                    EventKind::Hand(HandEvent::Taken { .. }) => tally.in_hand += 1,
                    _ => {}
                }
            }
        }
    }
    println!("{tally:?}");
    let runs = 3 * seeds as usize;
    assert!(tally.clean * 10 >= runs * 8, "only {} of {runs} came to the end of the list: {tally:?}", tally.clean);
    for (what, count) in [
        ("holds", tally.held),
        ("stops", tally.stopped),
        ("returns", tally.returned),
        ("masters", tally.masters),
        ("refusals", tally.refused),
        ("rigs in hand", tally.in_hand),
    ] {
        assert!(count * 2 >= seeds as usize, "few {what}: {tally:?}");
    }
}

/// Three rigs that cross each other's ways, called at random; each of them stalls somewhere.
fn stalling(stack: &Stack, seed: u64) -> Options {
    let (mut chance, cues) = (Chance::new(seed), stack.show.cues.len());
    let stall = |axis: usize| Injection {
        fault: SimFault::Stuck(AxisId::new(axis)),
        when: When::Past {
            cue: CueId::new((chance.uniform() * cues as f64) as usize),
            time: chance.between(0.5, 5.0),
        },
        lasts: Some(Nanos::from_millis(3000)),
        began: None,
        ended: None,
    };
    let stalls = (0..stack.show.axes.len()).map(stall).collect();
    Options { seed: Some(seed), faults: Some(FaultScript::new(stalls, stack.show.settings.tick)), ..brisk() }
}

/// How many of the poses to which the rigs were told to go bring something too near.
fn near(stack: &Stack, rehearsal: &Rehearsal) -> [usize; 2] {
    let stage = Stage::new(&stack.show);
    let poses = rehearsal.tracks.iter().map(|track| track.points.len()).min().unwrap();
    let pose = |at: usize| -> Vec<f64> { rehearsal.tracks.iter().map(|track| track.points[at].position).collect() };
    [poses, (0..poses).filter(|&at| too_near(&stack.show, &stage, &pose(at)).is_some()).count()]
}

#[test]
fn random_calls_stalls_and_stops_bring_nothing_too_near_and_without_maps_they_do() {
    let (head, cues) = (HEAD.to_owned() + "tick = 0.02\n", crossings());
    let mut all = files(&cues);
    all[0].1 = &head;
    let mut stack = Stack::new(show_of(&all));
    let mut told = [[0; 3]; 2];
    for told in &mut told {
        for seed in 0..6 {
            let rehearsal = stack.rehearse(&stalling(&stack, seed));
            let [poses, near] = near(&stack, &rehearsal);
            let stalled = rehearsal.was_stopped_by_fault();
            *told = [told[0] + poses, told[1] + near, told[2] + usize::from(stalled)];
        }
        // Whoever takes the maps away has two cues run together at any timing.
        let mut plan = Plan::clone(&stack.plan);
        plan.maps.list.iter_mut().for_each(|map| map.blocked.clear());
        stack.plan = Arc::new(plan);
    }
    let [[poses, near, stalls], [_, without, _]] = told;
    assert!(poses > 6000 && stalls >= 4, "{poses} poses, {stalls} stalls");
    assert!(near == 0 && without > 20, "{near} poses are too near; without maps {without}");
}
