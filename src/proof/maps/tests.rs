use glam::DVec3;
use proptest::prelude::*;

use super::*;
use crate::motion::{Regime, change_rate, no_farther};
use crate::proof::bodies::Span;
use crate::proof::course::courses;
use crate::proof::fixture::{plan, sampled};
use crate::proof::plan::CuePlan;
use crate::proof::stalls::{Bearing, Both, Way, notice};
use crate::proof::{Proof, prove};
use crate::show::fixture::show_of;
use crate::show::{Code, RigId, Severity, Show};
use crate::stage::Stage;
use crate::stage::fixture::{add_rig, empty_show};
use crate::stage::random::{add_links, links, own};

const MARGIN: f64 = 0.3;

/// A boom that reaches over the stage and is drawn away to the side; a lamp that comes down where it was; a wagon far
/// upstage.
const RIGS: [(&str, &str); 3] = [
    (
        "boom",
        "at = [0.0, 0.0, 1.5]\n[[axis]]\nname = \"reach\"\nunit = \"m\"\ntravel = [-1.0, 6.0]\nstart = 0.0\n\
         speed = 1.0\nacceleration = 1.0\njerk = 2.0\njoint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\n\
         bodies = [{ capsule = { from = [-0.5, 0.0, 0.0], to = [0.5, 0.0, 0.0], radius = 0.2 } }]\n",
    ),
    (
        "lamp",
        "at = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"height\"\nunit = \"m\"\ntravel = [0.0, 6.0]\nstart = 5.0\n\
         speed = 1.0\nacceleration = 1.0\njerk = 2.0\njoint = { slide = \"z\", at = [0.0, 0.0, 0.0] }\n\
         bodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]\n",
    ),
    (
        "wagon",
        "at = [0.0, 30.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"m\"\ntravel = [-3.0, 3.0]\nstart = 0.0\n\
         speed = 1.0\nacceleration = 1.0\njerk = 2.0\njoint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\n\
         bodies = [{ box = { min = [-1.0, -1.0, 0.0], max = [1.0, 1.0, 1.0] } }]\n",
    ),
];

fn read(cues: &str) -> Show {
    let head = format!("[show]\nname = \"Two at once\"\nmargin = {MARGIN}\nreact = 0.1\n");
    let rig = |(name, text): &(&str, &str)| (format!("rigs/{name}.toml"), format!("kind = \"machine\"\n{text}"));
    let rigs = RIGS.each_ref().map(rig);
    let rigs = rigs.iter().map(|(path, text)| (path.as_str(), text.as_str()));
    let files: Vec<_> = rigs.chain([("show.toml", head.as_str()), ("cues/all.toml", cues)]).collect();
    show_of(&files)
}

fn cue(number: &str, more: &str, rig: &str, axis: &str, to: f64, time: f64) -> String {
    format!(
        "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{more}\n\
         move = [{{ rig = \"{rig}\", to = {{ {axis} = {to:?} }}, time = {time:?} }}]\n"
    )
}

/// The boom is drawn away in 14 s, the lamp comes down in 6 s.
fn away_and_down(more: &str) -> Show {
    read(&(cue("21", "", "boom", "reach", 4.0, 14.0) + &cue("21.5", more, "lamp", "height", 1.0, 6.0)))
}

fn overlaps(proof: &Proof) -> Vec<&Finding> {
    assert!(proof.findings.iter().all(|finding| finding.code == Code::Overlap), "{:#?}", proof.findings);
    proof.findings.iter().collect()
}

/// What a fix says to write, without who has to.
fn line_of(fix: &str) -> &str {
    fix.split_once(": ").map_or(fix, |(_, line)| line)
}

#[test]
fn two_cues_that_pass_alone_come_too_near_together_and_the_line_told_settles_it() {
    let proof = prove(&away_and_down(""));
    let [finding] = overlaps(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert_eq!(finding.severity, Severity::Warning);
    assert_eq!(finding.cues, ["21", "21.5"]);
    assert_eq!(finding.rigs, ["boom", "lamp"]);
    assert!(finding.value.unwrap() < MARGIN && finding.limit == Some(MARGIN));
    assert!(finding.time.unwrap() > 0.0 && finding.other_time.unwrap() > 0.0);
    // With the line that it tells nothing is left to say, and a tenth of a second less is too little.
    let needs = line_of(finding.fix.as_ref().unwrap());
    let past: f64 = needs.split("past = ").nth(1).unwrap().trim_end_matches([' ', '}']).parse().unwrap();
    assert!(past > 0.5 && past < 13.0, "{needs}");
    let settled = prove(&away_and_down(needs));
    assert_eq!(overlaps(&settled).len(), 0);
    let clear = settled.plan.maps.list[0].clear();
    assert_eq!((clear.len(), clear[0].from, clear[0].to), (1, past, 14.0));
    // Then a stall brings them too near; and earlier still they come so by themselves.
    let earlier =
        |by: f64| prove(&away_and_down(&needs.replace(&format!("{past:?}"), &format!("{:?}", past - by))));
    let [stall] = &earlier(0.2).findings[..] else { panic!("a stall") };
    assert_eq!(
        (stall.code, stall.severity, &stall.fix),
        (Code::Stall, Severity::Warning, &Some(told_in_all(needs)))
    );
    assert!(stall.message.contains("if boom stalls"), "{}", stall.message);
    let safe = settled.plan.maps.list[0].stall_safe_from().unwrap();
    assert!(safe <= past && safe > past - 0.11, "{safe} of {past}");
    assert_eq!(overlaps(&earlier(1.5)).len(), 1);
}

fn told_in_all(needs: &str) -> String {
    format!("add to the needs of cue 21.5, in an `all`: {}", needs.trim_start_matches("needs = "))
}

#[test]
fn a_follow_that_runs_into_it_is_an_error_and_a_later_one_passes() {
    let follow =
        |wait: &str| away_and_down(&format!("after = {{ cue = \"21\", from = \"start\", wait = {wait} }}"));
    let proof = prove(&follow("0.0"));
    let [finding] = overlaps(&proof)[..] else { panic!("{:#?}", proof.findings) };
    assert_eq!(finding.severity, Severity::Error);
    let fix = finding.fix.as_ref().unwrap();
    let wait = fix.split("wait = ").nth(1).unwrap().split(' ').next().unwrap();
    assert_eq!(overlaps(&prove(&follow(wait))).len(), 0, "{fix}");
}

#[test]
fn a_cue_that_needs_the_other_done_is_apart_from_it() {
    let proof = prove(&away_and_down("needs = { cue = \"21\", state = \"done\" }"));
    assert_eq!(overlaps(&proof).len(), 0);
    assert!(proof.plan.maps.list.is_empty());
    assert_eq!(proof.plan.maps.apart[1], [(CueId(0), Apart::Needs)]);
    // What one of two conditions waits for, the other need not.
    let either = "needs = { any = [{ cue = \"21\", state = \"done\" }, { axis = \"lamp.height\", above = 1.0 }] }";
    assert_eq!(overlaps(&prove(&away_and_down(either))).len(), 1);
}

#[test]
fn cues_of_one_axis_and_what_comes_after_them_are_apart() {
    let cues = cue("1", "", "boom", "reach", 4.0, 14.0)
        + &cue("2", "", "wagon", "travel", 1.0, 5.0)
        + &cue("3", "", "boom", "reach", 0.5, 14.0)
        + &cue("4", "", "wagon", "travel", 0.0, 5.0);
    let maps = prove(&read(&cues)).plan.maps;
    let pairs: Vec<_> = maps.list.iter().map(|map| (map.pair.first.0, map.pair.second.0)).collect();
    assert_eq!(pairs, [(0, 1), (1, 2), (2, 3)]);
    let show = read(&cues);
    let boom = show.axis_ids().find(|&axis| show.axis_name(axis) == "boom.reach").unwrap();
    assert_eq!(maps.apart[2], [(CueId(0), Apart::Axis(boom))]);
    assert!(maps.list.iter().all(|map| map.cells.is_empty() && map.hold_safe_from() == Some(0.0)));
}

#[test]
fn a_follow_may_start_after_a_later_cue_is_fired() {
    let follow = "after = { cue = \"1\", from = \"start\", wait = 6.0 }";
    let cues = cue("1", "", "wagon", "travel", 1.0, 12.0)
        + &cue("2", follow, "boom", "reach", 4.0, 4.0)
        + &cue("3", "", "lamp", "height", 1.0, 5.0);
    let maps = prove(&read(&cues)).plan.maps;
    let map = maps.of(CueId(1), CueId(2)).unwrap();
    assert_eq!((map.pair.from, map.pair.to), (-6.002, f64::INFINITY));
    assert!(!map.pair.tied());
    assert!(!map.clear_turned().is_empty());
    let tied = maps.of(CueId(0), CueId(1)).unwrap();
    // A follow comes with the first tick at or after its time.
    assert_eq!((tied.pair.from, tied.pair.to, tied.pair.tied()), (6.0, 6.002, true));
}

#[test]
fn once_hold_safe_no_hold_of_either_leads_into_a_blocked_place() {
    let proof = prove(&away_and_down(""));
    let map = &proof.plan.maps.list[0];
    let safe = map.hold_safe_from().unwrap();
    assert!(safe > 0.5 && map.clear()[0].from <= safe);
    assert!(map.cells.iter().all(|cell| cell.first.to <= safe));
    // The lamp may be fired and the boom held at once: only where it has left is that clear.
    assert!(map.in_the_way(safe + 0.1).is_none() && map.in_the_way(0.5).is_some());
}

/// Two random rigs, each moved by its own cue.
fn two_rigs() -> impl Strategy<Value = (Show, [CuePlan; 2])> {
    let numbers = || prop::collection::vec(-1.0..1.0_f64, 8);
    (links(), links(), prop::array::uniform3(-1.5..1.5_f64), numbers(), numbers()).prop_map(
        |(one, other, at, from, way)| {
            let mut show = empty_show();
            show.settings.margin = 0.1;
            add_rig(&mut show, DVec3::ZERO, 0.0, None);
            add_links(&mut show, &one);
            add_rig(&mut show, DVec3::from(at) * 2.0, 40.0, None);
            add_links(&mut show, &other);
            for axis in &mut show.axes {
                axis.tolerance = own(axis, 0.005);
            }
            let own = |index: usize, share: f64| own(&show.axes[index], share);
            let start: Vec<f64> = (0..show.axes.len()).map(|i| own(i, from[i])).collect();
            let plans = [0, 1].map(|rig| {
                let mut end = start.clone();
                for index in show.rigs[rig].axes.clone().map(usize::from) {
                    end[index] += own(index, 1.5 * way[index]);
                }
                let mut plan = plan(&show, 2.0 + rig as f64, &start, &end);
                plan.moves.retain(|step| step.rig.index() == rig);
                plan
            });
            (show, plans)
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// No sample outside the cells is too near, no sample inside a blocked cell is clear, and no line that is told to
    /// be clear passes a place that is too near.
    #[test]
    fn no_sample_belies_a_map((show, plans) in two_rigs(), off in prop::collection::vec(-1.0..1.0_f64, 8)) {
        let hand = Stagehand::new(&show);
        let casts = [Cast::new(&hand, &plans[0]), Cast::new(&hand, &plans[1])];
        let casts = [&casts[0], &casts[1]];
        let pair = Together { first: CueId(0), second: CueId(1), from: f64::NEG_INFINITY, to: f64::INFINITY };
        let bearings = plans.each_ref().map(|plan| Bearing::new(&show, plan));
        let durations = casts.map(Cast::duration);
        let Drawn { cells, blocked, nearest } = draw_one(&hand, pair, casts);
        let mut map = CueMap { pair, durations, cells, blocked, nearest, stalls: Stalls::default() };
        let both = Both { show: &show, plans: plans.each_ref(), bearings: bearings.each_ref(), further: &[] };
        map.stalls = both.stalls(&map);
        let stage = Stage::new(&show);
        let (mut one, mut other) = (vec![0.0; show.axes.len()], vec![0.0; show.axes.len()]);
        let mut distance = |times: [f64; 2], off: &[f64]| {
            plans[0].pose_at(times[0], &mut one);
            plans[1].pose_at(times[1], &mut other);
            for (index, axis) in show.axes.iter().enumerate() {
                let moved = if axis.rig.index() == 0 { one[index] } else { other[index] };
                one[index] = moved + off[index] * axis.tolerance;
            }
            sampled(&show, &stage, &one)
        };
        let bodies_move = casts.iter().zip(0..).all(|(cast, rig)| {
            let of_rig = hand.stage.bodies().iter().filter(|body| body.rig.index() == rig).count();
            cast.moved.len() == of_rig
        });
        prop_assume!(bodies_move);
        let within = |span: Span, time: f64| span.from <= time && time <= span.to;
        for a in 0..=24 {
            for b in 0..=24 {
                let times = [durations[0] * f64::from(a) / 24.0, durations[1] * f64::from(b) / 24.0];
                let cell = map.cells.iter().find(|cell| within(cell.first, times[0]) && within(cell.second, times[1]));
                match cell {
                    None => prop_assert!(distance(times, &off) >= 0.1 - 1e-6, "{times:?}"),
                    Some(cell) if cell.blocked => prop_assert!(distance(times, &[0.0; 8]) < 0.1, "{times:?}"),
                    Some(_) => {}
                }
            }
        }
        for start in -30..=20 {
            let start = f64::from(start) / 10.0;
            // A line may be proved by the map, or by itself.
            let blocked = map.blocked.iter().any(|stretch| stretch.from <= start && start <= stretch.to);
            if blocked && line::along(&hand, casts, start, 0.0).is_some() {
                continue;
            }
            for step in 0..60 {
                let time = 0.1 * f64::from(step);
                let times = [(time + start).clamp(0.0, durations[0]), time.min(durations[1])];
                prop_assert!(distance(times, &off) >= 0.1 - 1e-6, "start {start}, {times:?}");
            }
        }
        // One rig stands, the other coasts on from there: no place that it gets to is too near.
        for start in (-15..=10).map(|start| f64::from(start) / 5.0) {
            if map.stalls.blocked.iter().any(|stretch| stretch.from <= start && start <= stretch.to) {
                continue;
            }
            for (step, stalled) in (0..20).flat_map(|step| [(step, 0), (step, 1)]) {
                let first = durations[0] * f64::from(step) / 20.0;
                let at = [first, first - start];
                let noticed =
                    notice(&show, &plans[stalled], RigId::new(stalled), Span::instant(at[stalled]), Way::Forth);
                // The stalled one runs; the other does, or will before the stall is noticed.
                let [own, other] = [at[stalled], at[1 - stalled]];
                if !(0.0..=durations[stalled]).contains(&own) || other + noticed < 0.0 {
                    continue;
                }
                let brakes = at.map(|time| time + noticed);
                let both: Vec<_> = [0, 1]
                    .into_iter()
                    .flat_map(|cue| courses(&show, &plans[cue], brakes[cue].clamp(0.0, durations[cue])))
                    .collect();
                let found = change_rate(&both, 1.0, 0.0, 0.0, Regime::Stopping);
                let Some(brake) = no_farther(&both, 1.0, found) else { continue };
                for part in 0..=8 {
                    let later = other + (noticed + brake.distance()) * f64::from(part) / 8.0;
                    let mut times = at;
                    times[1 - stalled] = later.clamp(0.0, durations[1 - stalled]);
                    prop_assert!(distance(times, &off) >= 0.1 - 1e-6, "start {start}, {stalled} stalls at {at:?}, {times:?}");
                }
            }
        }
    }
}
