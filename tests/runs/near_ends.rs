//! Cues along curves that come near the ends of their travel, fired and taken up from wherever their axes stand within
//! tolerance: no axis leaves its travel, breaks a limit or gets farther from its path than it stood; and what
//! may not go from there goes after the preset that is offered.
//!
//! The travels of the curved axes are cut down to what the cue covers, or to a little more, after it was planned.

use std::f64::consts::PI;
use std::sync::Arc;

use crate::hall::ideal::Ideal;
use crate::hall::{Hall, show_of};
use bellwire::engine::*;
use bellwire::motion::Path;
use bellwire::proof::{AxisPath, MovePlan, Plan, prove};
use bellwire::show::{AxisId, CueId, Severity, Show};

const HEAD: &str =
    "[show]\nname = \"Near ends\"\nmargin = 0.1\nreact = 0.1\nguard = 0.02\ntick = 0.01\nreturn_rate = 0.6\n";

const CART: &str = r#"kind = "cart"
at = [0.0, 0.0, 0.0]
stop_category = 1
[[axis]]
name = "travel"
unit = "m"
travel = [-3.0, 3.0]
start = 0.0
speed = 1.0
acceleration = 1.0
jerk = 4.0
joint = { slide = "x", at = [0.0, 0.0, 0.0] }
[[axis]]
name = "lift"
unit = "m"
travel = [-3.0, 3.0]
start = 0.0
speed = 1.0
acceleration = 1.0
jerk = 4.0
joint = { slide = "z", at = [0.0, 0.0, 0.0] }
[marks]
low = { travel = -0.9, lift = 0.4 }
high = { travel = 0.8, lift = 1.1 }
home = { travel = 0.2, lift = 0.3 }
"#;

/// Pan and tilt aim the lens.
const CAM: &str = r#"kind = "slider"
at = [-2.0, -6.0, 0.2]
stop_category = 1
[[axis]]
name = "way"
unit = "m"
travel = [0.0, 4.0]
start = 0.0
speed = 1.0
acceleration = 1.0
jerk = 2.0
joint = { slide = "x", at = [0.0, 0.0, 0.0] }
[[axis]]
name = "pan"
unit = "deg"
travel = [-170.0, 350.0]
start = 90.0
speed = 40.0
acceleration = 60.0
jerk = 300.0
joint = { turn = "z", at = [0.0, 0.0, 1.0] }
[[axis]]
name = "tilt"
unit = "deg"
travel = [-80.0, 80.0]
start = 0.0
speed = 30.0
acceleration = 60.0
jerk = 300.0
joint = { turn = [0.0, -1.0, 0.0], at = [0.0, 0.0, 0.0] }
"#;

const CUES: &str = r#"[[cue]]
number = "0.5"
name = "Away"
move = [{ rig = "cam", to = { way = 0.5 }, time = 3.0 }]
[[cue]]
number = "0.6"
name = "Take after it"
after = { cue = "0.5", from = "start", wait = 0.5 }
move = [{ rig = "cart", take = "hand" }]
[[cue]]
number = "1"
name = "Take"
move = [{ rig = "cart", take = "hand" }]
[[cue]]
number = "2"
name = "Via"
move = [{ rig = "cart", via = ["high", "low", "high"], to = "home", time = 14.0, delay = 0.5 }]
[[cue]]
number = "3"
name = "Soft"
move = [{ rig = "cart", to = { travel = 0.23, lift = 1.0 }, shape = 0.8, time = 4.0 }]
[[cue]]
number = "4"
name = "Aim"
move = [{ rig = "cam", to = { way = 4.0 }, time = 12.0, aim = { at = [0.5, -3.5, 1.5], ease = 3.0 } }]
"#;

/// s of the take.
const TAKE: f64 = 12.0;

/// It comes to one end of its travel at once, half a second after it begins, and to the other several times later; the lift the other
/// way round.
fn take() -> String {
    let at = |u: f64| {
        let soon = (u * TAKE).min(1.0);
        let later =
            (PI * u).sin().powi(2) * (0.15 * (1.0 - (6.0 * PI * u).cos()) + 0.1 * (3.0 * PI * u).sin().powi(2));
        0.02 * (PI * soon).sin().powi(2) - later
    };
    let sample = |k: u32| {
        let u = f64::from(k) / (TAKE * 50.0);
        format!("{:.3},{:.6},{:.6}\n", u * TAKE, at(u), -at(u))
    };
    (0..=600).map(sample).fold("time,travel,lift\n".to_owned(), |text, line| text + &line)
}

/// Read and planned, with travels to spare.
fn planned() -> (Show, Arc<Plan>) {
    let take = take();
    let files = [
        ("show.toml", HEAD),
        ("rigs/cart.toml", CART),
        ("rigs/cam.toml", CAM),
        ("takes/hand.csv", &take),
        ("cues/all.toml", CUES),
    ];
    let show = show_of(&files);
    let proof = prove(&show);
    let errors = proof.findings.iter().find(|finding| finding.severity == Severity::Error);
    assert_eq!(errors, None);
    (show, Arc::new(proof.plan))
}

/// Numbers from 0 to 1 from a seed, the same everywhere.
fn chance(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) + 1;
    move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state ^ (state >> 33)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

fn curved(plan: &Plan, cue: CueId) -> impl Iterator<Item = (&MovePlan, &AxisPath)> {
    let steps = plan.cue(cue).moves.iter();
    steps.flat_map(|step| step.axes.iter().filter(|path| path.curve.is_some()).map(move |path| (step, path)))
}

/// How much of an error is left when so much of its time is gone: four equal stretches of constant jerk, up, down, down and up.
fn left(part: f64) -> f64 {
    let rise = |x: f64| {
        if x < 0.25 { 32.0 / 6.0 * x.powi(3) } else { 0.5 - 2.0 * (0.5 - x) + 32.0 / 6.0 * (0.5 - x).powi(3) }
    };
    if part >= 1.0 {
        0.0
    } else if part <= 0.5 {
        1.0 - rise(part.max(0.0))
    } else {
        rise(1.0 - part)
    }
}

/// Whether an error that fades over all that is left of a curve takes the axis out of its travel.
fn leaves(show: &Show, path: &AxisPath, off: f64, now: f64, goal: f64) -> bool {
    let [low, high] = show.axis(path.axis).travel;
    let curve = path.curve.as_ref().unwrap();
    (0..=2000).any(|look| {
        let part = f64::from(look) / 2000.0;
        let at = curve.at(now + part * (goal - now)).position + off * left(part);
        at < low - 1e-9 || at > high + 1e-9
    })
}

/// What happened in all cases.
#[derive(Debug, Default)]
struct Tally {
    refused: u32,
    /// Ready though an error that fades over all of the move would have left the travel.
    sooner: u32,
    refused_on_path: u32,
    taken_up: u32,
    /// Taken up likewise.
    taken_up_sooner: u32,
    resume_refused: u32,
}

struct Stage {
    ideal: Ideal,
    plan: Arc<Plan>,
    cue: CueId,
    /// The setpoints of the last ticks.
    history: Vec<Vec<f64>>,
    /// Since it was fired, something braked.
    disturbed: bool,
    status: Status,
}

impl Stage {
    fn tick(&mut self, verbs: &[Verb]) {
        self.status = self.ideal.tick(verbs);
        self.judge();
    }

    fn ask(&mut self, verb: Verb) -> Result<Accepted, Refusal> {
        let answer = self.ideal.ask(verb);
        self.status = self.ideal.engine.status().clone();
        self.judge();
        answer
    }

    fn run(&mut self, ticks: usize) {
        (0..ticks).for_each(|_| self.tick(&[]));
    }

    /// Everything by the positions alone.
    fn judge(&mut self) {
        let (show, dt) = (self.ideal.show.clone(), self.ideal.show.settings.tick.seconds());
        let positions: Vec<f64> = self.ideal.setpoints.iter().map(|setpoint| setpoint.position).collect();
        self.history.push(positions);
        if self.history.len() > 4 {
            self.history.remove(0);
        }
        let running = self.status.running.iter().find(|running| running.cue == self.cue).cloned();
        for (index, axis) in show.axes.iter().enumerate() {
            let (id, now) = (AxisId::new(index), self.history.last().unwrap()[index]);
            let name = show.axis_name(id);
            let [low, high] = axis.travel;
            assert!(low - 1e-8 <= now && now <= high + 1e-8, "{name} at {now} m, {low} to {high}");
            let of_cue = self.plan.cue(self.cue).moves.iter();
            let mut paths = of_cue.flat_map(|step| step.axes.iter().map(move |path| (step, path)));
            if let (Some(running), Some((step, path))) = (&running, paths.find(|(_, path)| path.axis == id)) {
                let off = now - step.at(path, running.time).position;
                assert!(off.abs() <= axis.tolerance + 1e-9, "{name} is {off} off its path");
            }
            let [a, b, c, d] = self.history.as_slice() else { continue };
            let [a, b, c, d] = [a, b, c, d].map(|at| at[index]);
            let limits = if self.disturbed || running.is_none() { axis.stop } else { axis.run };
            let [speed, bend, jerk] =
                [(d - c) / dt, (d - 2.0 * c + b) / dt.powi(2), (d - 3.0 * c + 3.0 * b - a) / dt.powi(3)];
            assert!(speed.abs() <= limits.speed * 1.0001, "{name}: {speed}");
            assert!(bend.abs() <= limits.acceleration * 1.0001 + 1e-9, "{name}: {bend}");
            assert!(
                jerk.abs() <= limits.jerk * 1.001 + 1e-6,
                "{name}: {jerk} {:?} {:?} {}",
                self.history,
                self.status.running,
                self.status.tick
            );
        }
    }

    /// The reasons against it, once its live proof and the like are done.
    fn standby(&mut self) -> Vec<Reason> {
        let verb = Verb::Standby { cues: [self.cue].into_iter().collect(), skip: true };
        self.settle(verb)
    }

    fn settle(&mut self, verb: Verb) -> Vec<Reason> {
        self.run(5);
        self.ask(verb).unwrap_or_else(|refusal| panic!("{refusal:?}"));
        for _ in 0..200 {
            self.tick(&[]);
            let reasons = &self.status.standby[0].reasons.reasons;
            if !reasons.iter().any(|reason| matches!(reason, Reason::WayInWork { .. })) {
                return reasons.to_vec();
            }
        }
        panic!("{:?}", self.status.standby)
    }

    fn go(&mut self) {
        self.run(3);
        self.ask(Verb::Go { cue: None }).unwrap_or_else(|refusal| panic!("{refusal:?}"));
    }

    /// The preset that was offered, and then it is ready.
    fn preset(&mut self) {
        assert!(
            self.status.standby.is_empty()
                || self.status.standby[0].reasons.reasons.iter().any(Reason::offers_preset)
        );
        self.disturbed = true;
        assert_eq!(self.settle(Verb::Preset { cue: self.cue, held: false }), []);
        self.go();
        self.run_to_end();
        let starts = curved(&self.plan, self.cue).map(|(_, path)| (path.axis, path.from));
        for (axis, from) in starts.collect::<Vec<_>>() {
            assert!((self.ideal.setpoints[axis.index()].position - from).abs() < 1e-8, "it is to be exact");
        }
        assert_eq!(self.standby(), []);
        self.disturbed = false;
    }

    fn run_to_end(&mut self) {
        for _ in 0..40_000 {
            self.tick(&[]);
            if self.status.running.is_empty() {
                return;
            }
        }
        panic!("{:?}", self.status.running)
    }

    fn run_to_rest(&mut self) {
        for _ in 0..5000 {
            self.tick(&[]);
            if self.ideal.at_rest() {
                self.run(30);
                return;
            }
        }
        panic!("no rest")
    }

    /// The cue's own time, s.
    fn time(&self) -> f64 {
        self.status.running.first().map_or(0.0, |running| running.time)
    }

    /// Whether some axis that goes on to one end of its curve from where it stands would leave its travel were its error to fade
    /// over all of the way that is left.
    fn would_leave(&self, time: f64, forward: bool) -> bool {
        curved(&self.plan, self.cue).any(|(step, path)| {
            let whole = path.curve.as_ref().unwrap().duration();
            let now = (time - step.delay).clamp(0.0, whole);
            let off = self.ideal.measured(path.axis) - path.curve.as_ref().unwrap().at(now).position;
            off.abs() > 1e-9 && leaves(&self.ideal.show, path, off, now, if forward { whole } else { 0.0 })
        })
    }
}

/// The travels of a cue's curves cut down, its rigs beside their start, everything else where it is before `first`.
fn beside_the_start(
    show: &Show,
    plan: &Arc<Plan>,
    cue: CueId,
    first: CueId,
    chance: &mut impl FnMut() -> f64,
) -> Stage {
    let (mut show, mut pose) = (show.clone(), plan.cue(first).start.clone());
    for (_, path) in curved(plan, cue) {
        let curve = path.curve.as_ref().unwrap();
        let (way, axis) = (curve.positions(0.0, curve.duration()), &mut show.axes[path.axis.index()]);
        let mut spare = || if chance() < 0.5 { 0.0 } else { axis.tolerance * chance() };
        axis.travel = [way.low - spare(), way.high + spare()];
        let part = if chance() < 0.3 { (2.0 * chance() - 1.0).signum() } else { 2.0 * chance() - 1.0 };
        axis.start = (path.from + 0.999 * part * axis.tolerance).clamp(axis.travel[0], axis.travel[1]);
        pose[path.axis.index()] = axis.start;
    }
    let ideal = Ideal::standing(&Arc::new(show), plan, first, true, &pose);
    let status = ideal.engine.status().clone();
    Stage { ideal, plan: plan.clone(), cue, history: Vec::new(), disturbed: false, status }
}

/// Of one cue: its travels cut down, its rigs beside their start, fired; stopped or held somewhere, and taken up.
fn play(show: &Show, plan: &Arc<Plan>, number: &str, seed: u64, tally: &mut Tally) {
    let mut chance = chance(seed);
    let cue = show.find_cue(&number.parse().unwrap()).unwrap();
    let mut stage = beside_the_start(show, plan, cue, cue, &mut chance);
    let leaves = stage.would_leave(0.0, true);
    let reasons = stage.standby();
    if !reasons.is_empty() {
        assert!(reasons.iter().all(|reason| matches!(reason, Reason::LeavesTravel { .. })), "{reasons:?}");
        assert!(leaves, "from there it is fine: {reasons:?}");
        tally.refused += 1;
        stage.preset();
    } else if leaves {
        tally.sooner += 1;
    }
    stage.go();
    let share = chance();
    stage.run((share * plan.cue(cue).duration / 0.01) as usize);
    if stage.status.running.is_empty() {
        return;
    }
    let forward = chance() < 0.5;
    if chance() < 0.4 {
        hold(&mut stage, forward, &mut chance, tally);
    } else {
        stop(&mut stage, forward, &mut chance, tally);
    }
}

fn hold(stage: &mut Stage, forward: bool, chance: &mut impl FnMut() -> f64, tally: &mut Tally) {
    stage.disturbed = true;
    stage.tick(&[Verb::Hold { cue: None }]);
    stage.run_to_rest();
    if stage.status.running.is_empty() {
        return;
    }
    if forward {
        stage.tick(&[Verb::Resume { cue: None }]);
    } else {
        let verb = Verb::Return { cue: stage.cue, held: false };
        assert_eq!(stage.settle(verb.clone()), [], "it came that way");
        stage.go();
        // Held on its way back it may go on, or go back.
        stage.run((chance() * 300.0) as usize);
        if stage.time() > 0.0 {
            stage.tick(&[Verb::Hold { cue: None }]);
            stage.run_to_rest();
        }
        if stage.time() > 0.0 {
            match stage.ask(Verb::Resume { cue: None }) {
                Ok(_) => {}
                Err(refusal) => {
                    let reasons = refusal.reasons;
                    assert!(
                        reasons.iter().all(|reason| matches!(reason, Reason::LeavesTravel { .. })),
                        "{reasons:?}"
                    );
                    tally.resume_refused += 1;
                    assert_eq!(stage.settle(verb), [], "it can always go back");
                    stage.go();
                }
            }
        }
    }
    stage.run_to_end();
}

fn stop(stage: &mut Stage, forward: bool, chance: &mut impl FnMut() -> f64, tally: &mut Tally) {
    stage.disturbed = true;
    stage.ideal.stop.generations[0] += 1;
    stage.tick(&[]);
    let mut time = stage.time();
    while !stage.status.stopped.as_ref().is_some_and(|stopped| stopped.standstill) {
        time = stage.status.running.first().map_or(time, |running| running.time);
        stage.tick(&[]);
    }
    stage.run(30);
    // Without power it sags, or somebody leans on it.
    let paths: Vec<(AxisId, f64)> =
        curved(&stage.plan, stage.cue).map(|(step, path)| (path.axis, step.at(path, time).position)).collect();
    for (axis, planned) in paths {
        let (written, stands) = (stage.ideal.show.axis(axis), stage.ideal.measured(axis));
        let [low, high] = written.travel;
        let there = (planned + (2.0 * chance() - 1.0) * written.tolerance).clamp(low, high);
        if chance() < 0.6 && (there - stands).abs() < 0.95 * written.tolerance {
            stage.ideal.nudge(axis, there - stands);
        }
    }
    stage.run(30);
    // What is put where it is measured does not go there.
    stage.history.clear();
    stage.tick(&[Verb::Reset]);
    stage.run(30);
    let leaves = stage.would_leave(time, forward);
    let reasons =
        if forward { stage.standby() } else { stage.settle(Verb::Return { cue: stage.cue, held: false }) };
    if reasons.is_empty() {
        tally.taken_up += 1;
        tally.taken_up_sooner += u32::from(leaves);
        stage.go();
        stage.run_to_end();
        return;
    }
    let known = |reason: &Reason| matches!(reason, Reason::LeavesTravel { .. } | Reason::OffPath { .. });
    assert!(reasons.iter().all(known), "{reasons:?}");
    tally.refused_on_path += 1;
    stage.preset();
    stage.go();
    stage.run_to_end();
}

fn play_all(number: &str, seeds: u64) -> Tally {
    let (show, plan) = planned();
    let mut tally = Tally::default();
    for seed in 0..seeds {
        println!("cue {number}, seed {seed}");
        play(&show, &plan, number, seed, &mut tally);
    }
    println!("{tally:?}");
    assert!(tally.taken_up > 0, "{tally:?}");
    tally
}

#[test]
fn a_take_from_beside_its_start_never_leaves_its_travel() {
    let tally = play_all("1", 60);
    assert!(tally.refused + tally.sooner > 10 && tally.taken_up_sooner > 0, "{tally:?}");
}

#[test]
fn a_move_through_marks_from_beside_its_start_never_leaves_its_travel() {
    let tally = play_all("2", 60);
    assert!(tally.sooner > 5 && tally.taken_up_sooner > 0, "{tally:?}");
}

#[test]
fn a_soft_move_from_beside_its_start_never_leaves_its_travel() {
    let tally = play_all("3", 60);
    // It goes one way: fired from beside its start, within tolerance, it never needed its error to be gone sooner.
    assert!(tally.refused + tally.sooner == 0 && tally.taken_up > 20, "{tally:?}");
}

#[test]
fn an_aimed_move_from_beside_its_start_never_leaves_its_travel() {
    let tally = play_all("4", 60);
    assert!(tally.refused + tally.sooner > 5, "{tally:?}");
}

#[test]
fn a_follow_that_may_not_begin_from_where_its_rig_stands_breaks_its_chain_and_nothing_else() {
    let (show, plan) = planned();
    let [first, follow] = ["0.5", "0.6"].map(|number| show.find_cue(&number.parse().unwrap()).unwrap());
    let (mut broken, mut began) = (0, 0);
    for seed in 0..12 {
        let mut stage = beside_the_start(&show, &plan, follow, first, &mut chance(seed));
        let by_itself = stage.standby();
        stage.cue = first;
        assert_eq!(stage.standby(), []);
        stage.go();
        let mut refused = None;
        for _ in 0..60 {
            stage.tick(&[]);
            refused = refused.or(stage.ideal.events.iter().find_map(|event| match &event.kind {
                EventKind::Refused { cue: Some(cue), reasons, .. } if *cue == follow => Some(reasons.clone()),
                _ => None,
            }));
        }
        assert_eq!(refused.map_or(Vec::new(), |refusal| refusal.reasons.to_vec()), by_itself, "seed {seed}");
        let runs = stage.status.running.iter().any(|running| running.cue == follow);
        assert_eq!(runs, by_itself.is_empty());
        assert!(stage.status.running.iter().any(|running| running.cue == first), "that goes on");
        if runs {
            began += 1
        } else {
            broken += 1
        }
        stage.cue = follow;
        stage.run_to_end();
    }
    assert!(broken > 0 && began > 0, "{broken} broken, {began} begun");
}

/// What the caller reads: which axis, where it stands, where its path is, which end, and what to do.
#[test]
fn from_the_end_of_its_travel_a_cue_is_refused_with_the_way_out() {
    let (show, plan) = planned();
    let cue = show.find_cue(&"1".parse().unwrap()).unwrap();
    let mut found = 0;
    for seed in 0..30 {
        let mut stage = beside_the_start(&show, &plan, cue, cue, &mut chance(seed));
        let Some(reason) = stage.standby().first().copied() else { continue };
        let Reason::LeavesTravel { axis, expected, stands, end } = reason else { panic!("{reason:?}") };
        let written = stage.ideal.show.axis(axis);
        assert!(written.travel.contains(&end) && (stands > expected) == (end == written.travel[1]));
        assert!((stands - expected).abs() <= written.tolerance && stands == stage.ideal.measured(axis));
        let reasons = stage.ask(Verb::Go { cue: None }).unwrap_err().reasons;
        assert!(reasons.contains(&reason), "{reasons:?}");
        assert!(
            reason.offers_preset() && !stage.status.standby[0].reasons.reasons.iter().any(Reason::withholds_preset)
        );
        found += 1;
    }
    assert!(found > 2, "{found}");
}

/// m: where a cart stands beside the start of a way that leads to the end of its travel and back.
const BESIDE: f64 = 0.0095;

/// A cart that stands within its tolerance of where that way starts, and a cue that would have put it there.
fn skipped(time: &str) -> Show {
    let cart = format!(
        "kind = \"cart\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"m\"\ntravel = [-3.0, 0.0099]\n\
         start = {BESIDE}\nspeed = 1.0\nacceleration = 1.0\njerk = 4.0\njoint = {{ slide = \"x\", at = [0.0, 0.0, 0.0] }}\n\
         [marks]\nend = {{ travel = 0.0099 }}\n"
    );
    let cues = format!(
        "[[cue]]\nnumber = \"1\"\nname = \"To its place\"\n\
         move = [{{ rig = \"cart\", to = {{ travel = 0.0 }}, time = 2.0 }}]\n\
         [[cue]]\nnumber = \"2\"\nname = \"Past the end\"\n\
         move = [{{ rig = \"cart\", via = [\"end\"], to = {{ travel = -1.0 }}{time} }}]\n"
    );
    show_of(&[("show.toml", HEAD), ("rigs/cart.toml", &cart), ("cues/all.toml", &cues)])
}

/// A skip that the check lets pass is one that a GO accepts, and the other way round, though the cart stands within its tolerance: from
/// there it may go only if it is slow enough to come to its way before the end of the travel.
#[test]
fn a_skip_is_let_pass_where_a_go_from_there_is() {
    let least = prove(&skipped("")).plan.cues[1].duration;
    for (time, passes) in [(String::new(), false), (format!(", time = {}", 4.0 * least), true)] {
        let show = skipped(&time);
        let proof = prove(&show);
        assert!(proof.findings.iter().all(|finding| finding.severity == Severity::Note), "{:#?}", proof.findings);
        let (first, second) = (CueId::new(0), CueId::new(1));
        let rests: Vec<CueId> = proof.skips.rests_on[second.index()].iter().map(|(on, _)| *on).collect();
        assert_eq!(rests, if passes { vec![] } else { vec![first] }, "{least} s at least{time}");
        let mut hall = Hall::standing_in(show, proof, vec![BESIDE]);
        let answer = hall.ask(Verb::Standby { cues: [second].into_iter().collect(), skip: true }).unwrap();
        let Accepted::Standby { reasons, .. } = answer else { panic!("{answer:?}") };
        let refused = reasons.reasons.iter().any(|reason| matches!(reason, Reason::LeavesTravel { .. }));
        assert_eq!((refused, reasons.is_empty()), (!passes, passes), "{reasons:?}");
        hall.run(0.2);
        assert_eq!(hall.ask(Verb::Go { cue: Some(second) }).is_ok(), passes);
    }
}
