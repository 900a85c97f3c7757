use proptest::prelude::*;

use super::alone::find_alone;
use super::grid::Grid;
use super::*;
use crate::proof::maps::{Maps, Stretch};
use crate::proof::plan::{CuePlan, Plan};
use crate::proof::{Proof, prove, timelines};
use crate::show::fixture::show_of;
use crate::show::{Atom, AtomId, AxisId, Code, Direction, Finding, Guard, Severity, Truth};

/// A wagon that rolls over a lift, and a wheel upstage; none has a body.
const RIGS: [(&str, &str, &str, &str); 3] = [
    ("wagon", "travel", "m", "-4.0, 4.0"),
    ("lift", "height", "m", "-3.0, 3.0"),
    ("wheel", "turn", "deg", "-10.0, 730.0"),
];

fn read(more: &str, cues: &str) -> Show {
    let head = format!("[show]\nname = \"Locks\"\nmargin = 0.1\nreact = 0.1\n{more}");
    let mut rigs = Vec::new();
    for (rig, axis, unit, travel) in RIGS {
        let (speed, joint) = if unit == "m" { (1.0, "slide = \"x\"") } else { (60.0, "turn = \"z\"") };
        let text = format!(
            "kind = \"machine\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"{axis}\"\nunit = \"{unit}\"\ntravel = [{travel}]\n\
             start = 0.0\nspeed = {speed:?}\nacceleration = {speed:?}\njerk = {:?}\njoint = {{ {joint}, at = [0.0, 0.0, 0.0] }}\n",
            speed * 4.0
        );
        rigs.push((format!("rigs/{rig}.toml"), text));
    }
    let rigs = rigs.iter().map(|(path, text)| (path.as_str(), text.as_str()));
    let files: Vec<_> = rigs.chain([("show.toml", head.as_str()), ("cues/all.toml", cues)]).collect();
    show_of(&files)
}

fn cue(number: &str, more: &str, rig: &str, to: f64, time: f64) -> String {
    let axis = RIGS.iter().find(|(name, ..)| *name == rig).unwrap().1;
    format!(
        "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{more}\n\
         move = [{{ rig = \"{rig}\", to = {{ {axis} = {to:?} }}, time = {time:?} }}]\n"
    )
}

/// The lift may go down only with the wagon beyond 2 m.
fn lift_needs_wagon_beyond(otherwise: &str) -> String {
    format!(
        "[[interlock]]\nname = \"wagon beyond\"\nguards = [\"lift.height\"]\ndirection = \"down\"\n\
         needs = {{ axis = \"wagon.travel\", above = 2.0 }}\notherwise = \"{otherwise}\"\n"
    )
}

fn blocked(proof: &Proof) -> Vec<&Finding> {
    let others = |finding: &&Finding| finding.code != Code::InterlockBlocked;
    assert_eq!(proof.findings.iter().find(others), None);
    proof.findings.iter().collect()
}

#[test]
fn what_a_cue_needs_of_its_own_path_is_followed_to_its_end() {
    let wheel = |needs: &str| read("", &cue("27", &format!("needs = {needs}"), "wheel", 180.0, 20.0));
    let home = "{ axis = \"wheel.turn\", within = [-0.1, 0.1], modulo = 360.0 }";
    let show = wheel(home);
    let proof = prove(&show);
    let [finding] = blocked(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert_eq!((finding.severity, &finding.cues[..]), (Severity::Error, &["27".to_owned()][..]));
    let mut pose = proof.plan.cues[0].start.clone();
    proof.plan.cues[0].pose_at(finding.time.unwrap(), &mut pose);
    assert!((pose[wheel_turn(&show).index()] - 0.1).abs() < 1e-4, "{pose:?}");
    assert!(finding.message.starts_with("cue 27: what cue 27 needs is false"), "{}", finding.message);
    assert!(finding.fix.as_ref().unwrap().contains("held"));
    // Asked at its GO alone; and the other way about, where it is past its start too soon.
    let proof = prove(&wheel(&format!("{{ any = [{home}, {{ cue = \"27\", past = 0.1 }}] }}")));
    assert_eq!(blocked(&proof).len(), 0);
    let proof = prove(&wheel("{ not = { cue = \"27\", past = 12.5 } }"));
    let [finding] = blocked(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert!((finding.time.unwrap() - 12.5).abs() < 1e-6);
    // What is false from the start is told once, as that.
    let proof = prove(&wheel("{ axis = \"wheel.turn\", above = 90.0 }"));
    assert!(matches!(&proof.findings[..], [finding] if finding.code == Code::StartPose));
}

fn wheel_turn(show: &Show) -> AxisId {
    show.axis_ids().find(|&axis| show.axis_name(axis) == "wheel.turn").unwrap()
}

#[test]
fn a_follow_that_runs_into_an_interlock_is_an_error_with_the_wait_that_settles_it() {
    // The wagon rolls beyond in 10 s, passing 2 m half-way; the lift follows too soon.
    let show = |wait: &str| {
        let after = format!("after = {{ cue = \"1\", from = \"start\", wait = {wait} }}");
        read(
            &lift_needs_wagon_beyond("stop"),
            &(cue("1", "", "wagon", 4.0, 10.0) + &cue("2", &after, "lift", -2.0, 6.0)),
        )
    };
    let proof = prove(&show("3.0"));
    let [finding] = blocked(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert_eq!((finding.severity, &finding.cues[..]), (Severity::Error, &["1".to_owned(), "2".into()][..]));
    let [time, other] = [finding.time.unwrap(), finding.other_time.unwrap()];
    assert!((time - 3.0).abs() < 0.01 && other.abs() < 0.01, "{time} {other}");
    assert!(
        finding.message.starts_with("cue 2 starts 3.0 s into cue 1 and leads to a stop"),
        "{}",
        finding.message
    );
    assert!(finding.message.contains("expected wagon.travel above 2 m, found"), "{}", finding.message);
    // At 5 s the wagon is just there: by symmetry of the move.
    let fix = finding.fix.as_ref().unwrap();
    assert!(fix.contains("wait = 5.0 in cue 2") || fix.contains("wait = 5.1 in cue 2"), "{fix}");
    let settled = fix.split("wait = ").nth(1).unwrap().split(' ').next().unwrap();
    assert_eq!(blocked(&prove(&show(settled))).len(), 0);
    assert_eq!(blocked(&prove(&show("4.8"))).len(), 1);
    // Upwards nothing is guarded.
    let after = "after = { cue = \"1\", from = \"start\", wait = 3.0 }";
    let cues = cue("1", "", "wagon", 4.0, 10.0) + &cue("2", after, "lift", 2.0, 6.0);
    assert_eq!(blocked(&prove(&read(&lift_needs_wagon_beyond("stop"), &cues))).len(), 0);
}

#[test]
fn a_follow_that_is_refused_at_its_start_is_an_error_too() {
    let show = |wait: f64| {
        let after = format!("after = {{ cue = \"1\", from = \"start\", wait = {wait:?} }}");
        let cues = cue("1", "", "wagon", 4.0, 10.0) + &cue("2", &after, "lift", -2.0, 6.0);
        read(&lift_needs_wagon_beyond("refuse"), &cues)
    };
    let proof = prove(&show(4.5));
    let [finding] = blocked(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert!(finding.message.contains("is refused, which breaks its chain"), "{}", finding.message);
    assert_eq!(blocked(&prove(&show(5.1))).len(), 0);
}

#[test]
fn a_cue_whose_go_is_let_through_and_then_stops_everything_is_noted_with_its_starts() {
    // Beyond at first, the wagon comes back from 4 m to 0 in 10 s and passes 2 m at 5 s; the lift goes down for 6 s.
    let back = |more: &str| {
        let cues = cue("1", "", "wagon", 4.0, 10.0)
            + &cue("2", "needs = { cue = \"1\", state = \"done\" }", "lift", -2.0, 6.0)
            + &cue("3", more, "wagon", 0.0, 10.0);
        read(&lift_needs_wagon_beyond("hold"), &cues)
    };
    let proof = prove(&back(""));
    let [finding] = blocked(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert_eq!((finding.severity, &finding.cues[..]), (Severity::Note, &["2".to_owned(), "3".into()][..]));
    // Started in the first second of the lift, the wagon passes 2 m before that has ended.
    let said = "cue 3 leads to a hold of cue 2 if it starts in its first 1.0 s: interlock 'wagon beyond' is false";
    assert!(finding.message.starts_with(said), "{}", finding.message);
    let fix = finding.fix.as_ref().unwrap();
    assert!(fix.contains("needs = { cue = \"2\", past = 1.0 }") || fix.contains("past = 1.1"), "{fix}");
    let line = fix.split_once(": ").unwrap().1;
    assert_eq!(blocked(&prove(&back(line))).len(), 0);
}

#[test]
fn what_a_go_itself_refuses_is_not_told() {
    // The lift is called while the wagon still rolls beyond: refused until it is there.
    let cues = cue("1", "", "wagon", 4.0, 10.0) + &cue("2", "", "lift", -2.0, 6.0);
    assert_eq!(blocked(&prove(&read(&lift_needs_wagon_beyond("stop"), &cues))).len(), 0);
    let needs = "needs = { axis = \"wagon.travel\", above = 2.0 }";
    let cues = cue("1", "", "wagon", 4.0, 10.0) + &cue("2", needs, "lift", -2.0, 6.0);
    assert_eq!(blocked(&prove(&read("", &cues))).len(), 0);
}

#[test]
fn what_a_follow_needs_of_its_leader_is_held_against_the_line_of_the_two() {
    // By the list the wagon stands at 3 m when cue 2 starts; by their chain it has hardly begun.
    let more =
        "after = { cue = \"1\", from = \"start\", wait = 1.0 }\nneeds = { axis = \"wagon.travel\", above = 2.0 }";
    let proof = prove(&read("", &(cue("1", "", "wagon", 3.0, 10.0) + &cue("2", more, "lift", -2.0, 4.0))));
    let [finding] = blocked(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert!(
        finding.message.contains("leads to its own hold: what cue 2 needs is false 1.0 s into cue 1"),
        "{}",
        finding.message
    );
}

#[test]
fn what_a_cue_between_two_moves_is_not_known_beside_them() {
    let more = "[[interlock]]\nname = \"wheel home\"\nguards = [\"lift.height\"]\n\
                needs = { any = [{ axis = \"wagon.travel\", above = 2.0 }, { axis = \"wheel.turn\", within = [80.0, 100.0] }] }\n\
                otherwise = \"stop\"\n";
    let pair = |between: &str| {
        let cues = cue("1", "", "wagon", 3.0, 10.0) + between + &cue("3", "", "lift", -2.0, 4.0);
        let show = read(more, &cues);
        let plan = Plan { cues: timelines(&show), maps: Maps::default() };
        let last = CueId::new(show.cues.len() - 1);
        Grid::new(&show, &plan, [CueId::new(0), last], Rule::Interlock(InterlockId::new(0)))
            .unwrap()
            .blocked()
            .len()
    };
    assert_eq!(pair(""), 1);
    assert_eq!(pair(&cue("2", "", "wheel", 20.0, 5.0)), 0);
}

/// A leaf on one of the three axes.
fn any_atom() -> impl Strategy<Value = Atom> {
    let limit = |axis: usize| if axis == 2 { 0.0..400.0 } else { -3.0..3.0 };
    (0..3usize, 0..4usize).prop_flat_map(move |(axis, kind)| {
        (limit(axis), 0.01..1.0f64).prop_map(move |(value, width)| {
            let axis = AxisId::new(axis);
            match kind {
                0 => Atom::Above { axis, limit: value },
                1 => Atom::Below { axis, limit: value },
                2 => Atom::Within { axis, from: value, to: value + width, modulo: None },
                _ => Atom::Within { axis, from: value, to: value + width, modulo: Some(1.5 + width) },
            }
        })
    })
}

fn any_condition() -> impl Strategy<Value = Condition> {
    let leaf = (0..4usize).prop_map(|at| Condition::Atom(AtomId::new(at)));
    leaf.prop_recursive(3, 8, 3, |part| {
        prop_oneof![
            prop::collection::vec(part.clone(), 1..3).prop_map(Condition::All),
            prop::collection::vec(part.clone(), 1..3).prop_map(Condition::Any),
            part.prop_map(|part| Condition::Not(Box::new(part))),
        ]
    })
}

prop_compose! {
    /// Two cues of one and of two rigs, under one interlock on a condition of four leaves.
    fn any_show()(
        to in prop::array::uniform2(-2.9..2.9f64),
        delays in prop::array::uniform2(0.0..3.0f64),
        turn in 30.0..400.0f64,
        atoms in prop::collection::vec(any_atom(), 4),
        needs in any_condition(),
        guard in (0..3usize, prop::option::of(prop_oneof![Just(Direction::Up), Just(Direction::Down)])),
    ) -> Show {
        let cues = format!(
            "[[cue]]\nnumber = \"1\"\nname = \"1\"\nmove = [{{ rig = \"wagon\", to = {{ travel = {:?} }}, time = 8.0, delay = {:?} }}]\n\
             [[cue]]\nnumber = \"2\"\nname = \"2\"\nmove = [{{ rig = \"lift\", to = {{ height = {:?} }}, time = 7.0, delay = {:?} }}, \
             {{ rig = \"wheel\", to = {{ turn = {turn:?} }}, time = 12.0 }}]\n",
            to[0], delays[0], to[1], delays[1]
        );
        let mut show = read(&lift_needs_wagon_beyond("stop"), &cues);
        // The rigs are read in the order of their names.
        let order = ["wagon.travel", "lift.height", "wheel.turn"]
            .map(|name| show.axis_ids().find(|&axis| show.axis_name(axis) == name).unwrap());
        let placed = |axis: AxisId| order[axis.index()];
        show.atoms = atoms.into_iter().map(|atom| match atom {
            Atom::Above { axis, limit } => Atom::Above { axis: placed(axis), limit },
            Atom::Below { axis, limit } => Atom::Below { axis: placed(axis), limit },
            Atom::Within { axis, from, to, modulo } => Atom::Within { axis: placed(axis), from, to, modulo },
            other => other,
        }).collect();
        show.interlocks[0].needs = needs;
        show.interlocks[0].guards = vec![Guard { axis: order[guard.0], direction: guard.1 }];
        show
    }
}

/// Whether the axis moves as it is guarded, by a difference of positions.
fn goes(plan: &CuePlan, guard: Guard, time: f64) -> bool {
    let at = |time: f64| {
        let mut pose = plan.start.clone();
        plan.pose_at(time, &mut pose);
        pose[guard.axis.index()]
    };
    let [before, after] = [at(time) - at(time - 1e-4), at(time + 1e-4) - at(time)];
    match guard.direction {
        None => before * after > 0.0,
        Some(Direction::Up) => before > 0.0 && after > 0.0,
        Some(Direction::Down) => before < 0.0 && after < 0.0,
    }
}

/// Whether, with the second started at `start` s, the interlock is false at `time` s of the first, at a time of the two
/// that neither knows alone.
fn is_false(show: &Show, plans: [&CuePlan; 2], start: f64, time: f64) -> bool {
    let interlock = &show.interlocks[0];
    let own = [time, time - start];
    let guarded = (0..2).any(|side| {
        (0.0..=plans[side].duration).contains(&own[side])
            && interlock.guards.iter().any(|&guard| goes(plans[side], guard, own[side]))
    });
    if own[0] > plans[0].duration || own[1] < 0.0 || !guarded {
        return false;
    }
    let mut poses = plans.map(|plan| plan.start.clone());
    (0..2).for_each(|side| plans[side].pose_at(own[side], &mut poses[side]));
    let moved = plans[0].moved_axes();
    let at = |axis: AxisId| Some(poses[usize::from(!moved[axis.index()])][axis.index()]);
    let judged = |atom: AtomId| show.atoms[atom.index()].of_pose(show, &at).unwrap();
    interlock.needs.judge(&judged) == Truth::False
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(160))]

    #[test]
    fn starts_at_which_an_interlock_is_false_are_those_that_samples_find(show in any_show()) {
        let plan = Plan { cues: timelines(&show), maps: Maps::default() };
        let plans = [&plan.cues[0], &plan.cues[1]];
        let rule = Rule::Interlock(InterlockId::new(0));
        let Some(grid) = Grid::new(&show, &plan, [CueId::new(0), CueId::new(1)], rule) else { return Ok(()) };
        let blocked = grid.blocked();
        for part in 0..24 {
            let [first, second] = plans.map(|plan| plan.duration);
            let start = -second + (first + second) * (f64::from(part) + 0.5) / 24.0;
            let (from, to) = (start.min(0.0), (start + second).max(first));
            let mut samples = (0..6000).map(|at| from + (to - from) * (f64::from(at) + 0.5) / 6000.0);
            if samples.any(|time| is_false(&show, plans, start, time)) {
                let near = |stretch: &Stretch| stretch.from - 1e-6 < start && start < stretch.to + 1e-6;
                prop_assert!(blocked.iter().any(near), "samples find {start} blocked, not in {blocked:?}");
            }
            // And nothing else: the place that it names is false, a moment later at most.
            if let Some(place) = grid.first_on(start) {
                prop_assert!(blocked.iter().any(|stretch| stretch.from < start && start < stretch.to));
                let mut moments = [1e-7, 1e-6, 1e-5, 1e-4, 2e-3].map(|moment| place.times[0] + moment).into_iter();
                prop_assert!(moments.any(|time| is_false(&show, plans, start, time)), "{start} {:?}", place.times);
            }
        }
    }

    #[test]
    fn the_first_time_that_a_cue_by_itself_finds_it_false_is_that_of_samples(show in any_show()) {
        let plan = Plan { cues: timelines(&show), maps: Maps::default() };
        let mut findings = Vec::new();
        find_alone(&show, &plan, &mut findings);
        for (index, cue) in plan.cues.iter().enumerate() {
            let number = (index + 1).to_string();
            let told = findings.iter().find(|finding| finding.cues == [number.clone()]).map(|finding| finding.time.unwrap());
            let samples = (0..8000).map(|at| cue.duration * (f64::from(at) + 0.5) / 8000.0);
            let is_false = |&time: &f64| {
                let mut pose = cue.start.clone();
                cue.pose_at(time, &mut pose);
                let at = |axis: AxisId| Some(pose[axis.index()]);
                let judged = |atom: AtomId| show.atoms[atom.index()].of_pose(&show, &at).unwrap();
                goes(cue, show.interlocks[0].guards[0], time) && show.interlocks[0].needs.judge(&judged) == Truth::False
            };
            if let Some(seen) = samples.into_iter().find(is_false) {
                let told = told.expect("samples find it false");
                prop_assert!(told < seen + 1e-3, "told {told}, seen {seen}");
                // And not before: there it is true or nothing guarded moves.
                prop_assert!(is_false(&told) || is_false(&(told + 2e-3)), "told {told}");
            }
        }
    }
}
