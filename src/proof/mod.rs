//! The cue list proved: expected poses, timelines, clearances, findings.

mod against;
mod aimed;
mod along;
mod bent;
mod berth;
mod blocked;
mod bodies;
mod bonds;
mod clearance;
mod course;
mod crew;
mod elsewhere;
mod ensemble;
#[cfg(test)]
mod fixture;
mod follows;
mod instants;
mod interlocks;
mod maps;
mod memory;
mod one_axis;
mod pace;
mod plan;
mod playback;
mod played;
mod preset;
mod relation;
mod remedy;
mod rendition;
mod sharing;
mod skips;
mod spare;
mod stalls;
mod start_pose;
mod stops;
mod survey;
#[cfg(test)]
mod tests;
mod through;
mod timeline;
mod together;
mod turns;
mod unsurveyed;

pub use against::{
    Against, CueDiffers, Fingerprint, Moved, Part, Rested, Side, WindowDiffers, compare, new_findings,
};
pub use aimed::{OnPoint, Seen, Sightline, leans_on};
pub use along::{look_along, moves_guarded, path_of};
pub use bent::{Bent, room};
pub use berth::{Berths, Clear, Goer, Reach};
pub use blocked::Rule;
pub use bonds::{Bonds, Stage};
pub use clearance::{Closest, Party};
pub use course::{STARTS, courses, push_courses, push_courses_to_stop};
pub use crew::{Alone, Crew};
pub use elsewhere::{Approach, LiveProof, Standing, Verdict};
pub use follows::meet;
pub use maps::{Cell, Company, CueMap, Maps, Obstacle, Stretch, Window};
pub use memory::Memory;
pub use one_axis::OneAxis;
pub use plan::{AxisPath, CuePlan, MovePlan, Plan};
pub use playback::{Playable, Playback, Unplayable, plan_playback};
pub use preset::{
    Bar, Forbids, Near, PRESET_RIGS_MAX, PresetLeg, PresetPlanner, Progress, Proviso, empty_way, who_goes,
    who_has_to_go,
};
pub use rendition::{Rendition, Tight, rendition, take_alone};
pub use sharing::Sharing;
pub use skips::{Rests, Skips};
pub use spare::{Bound, Saving, Spare, spare};
pub use stops::{Given, Going, Onward, PresetBack, Shut, Stop, Stops, Then, look_onward, look_onward_thoroughly};
pub use survey::{AxisSurvey, Surveying, effect, of_axis, survey};
pub use timeline::timelines;
pub use together::{Apart, Together};

use bodies::Stagehand;
use crew::gathered;
use memory::{Content, Key};
use remedy::{Of, Wanted};
use stalls::{Groups, StallWithin, Stalls};

use crate::show::{Code, CueId, Finding, Reading, Show};

/// What the check found out about a show that reads well.
#[derive(Clone, Debug)]
pub struct Proof {
    pub plan: Plan,
    /// By `CueId`, where each cue comes nearest to anything; `None` for one that moves no body that could.
    pub closest: Vec<Option<Closest>>,
    pub skips: Skips,
    /// By `CueId`.
    pub stops: Vec<Stops>,
    pub findings: Vec<Finding>,
}

/// Plans every cue from where the cues before it leave the rigs, and looks for what cannot be run.
pub fn prove(show: &Show) -> Proof {
    prove_with(show, &Alone)
}

/// The same, with many at work.
pub fn prove_with(show: &Show, crew: &dyn Crew) -> Proof {
    prove_from(show, crew, &Memory::default())
}

/// The same, taking from earlier proofs what has not changed since. What it proves anew is kept.
pub fn prove_from(show: &Show, crew: &dyn Crew, memory: &Memory) -> Proof {
    let Found { mut proof, wanted } = found(show, crew, memory);
    if !wanted.is_empty() {
        remedy::seek(show, &mut proof, &wanted, crew, memory);
    }
    proof
}

/// What reading the show and proving it found, in the order of places.
pub fn all_findings(reading: &Reading, proof: Option<&Proof>) -> Vec<Finding> {
    let proved = proof.into_iter().flat_map(|proof| &proof.findings);
    let mut findings: Vec<Finding> = reading.findings.iter().chain(proved).cloned().collect();
    findings.sort_by_key(|finding| finding.place.map(|place| (place.file, place.start)));
    findings
}

/// A proof, and which of its findings ask for a fix.
struct Found {
    proof: Proof,
    wanted: Vec<Wanted>,
}

fn found(show: &Show, crew: &dyn Crew, memory: &Memory) -> Found {
    let mut findings = Vec::new();
    let machines = Content::of_machines(show);
    let (cues, stops) = plan_list(show, crew, (&machines, memory), &mut findings);
    let mut plan = Plan { cues, maps: Maps::default() };
    follows::find_bad_chains(show, &mut findings);
    follows::find_clashes(show, &plan, &mut findings);
    interlocks::find_cycles(show, &plan, &mut findings);
    unsurveyed::find(show, &plan, &mut findings);
    let known_false = blocked::find_alone(show, &plan, &mut findings);
    let hand = Stagehand::new(show);
    let mut wanted = Vec::new();
    let mut want = |findings: &mut Vec<Finding>, finding: Finding, of: Option<Of>| {
        wanted.extend(of.map(|of| Wanted { finding: findings.len(), of }));
        findings.push(finding);
    };
    let clear = prove_alone(&hand, &plan, crew, (&machines, memory));
    let (maps, keys) = maps::draw(&hand, &plan, crew, (&machines, memory));
    plan.maps = maps;
    let (within, beside) = prove_stalls(&hand, (&plan, &stops), &keys, crew, (&machines, memory));
    plan.maps.list.iter_mut().zip(beside).for_each(|(map, stalls)| map.stalls = stalls);
    let mut closest = Vec::with_capacity(clear.len());
    for (cue, (clear, stalls)) in show.cue_ids().zip(clear.into_iter().zip(within)) {
        closest.push(clear.closest);
        for short in clear.short {
            let finding = clearance::told(show, cue, &short);
            want(&mut findings, finding, Some(Of::Cue { cue, short, further: Vec::new() }));
        }
        for stall in stalls {
            let (finding, StallWithin { short, further, .. }) = (stalls::told_within(show, cue, &stall), stall);
            want(&mut findings, finding, Some(Of::Cue { cue, short, further }));
        }
    }
    let skips = skips::weigh(&hand, &plan, crew, (&machines, memory), &mut findings);
    for (finding, edits) in maps::tell(show, &plan) {
        want(&mut findings, finding, Some(Of::Pair(edits)));
    }
    aimed::find_unknown(show, &plan, crew, &mut findings);
    for (finding, edits) in blocked::find_beside(show, &plan, &known_false, crew) {
        want(&mut findings, finding, edits.map(Of::Pair));
    }
    Found { proof: Proof { plan, closest, skips, stops, findings }, wanted }
}

/// Every cue from where the cues before it leave the rigs, and its stops.
fn plan_list(
    show: &Show,
    crew: &dyn Crew,
    (machines, memory): (&Content, &Memory),
    findings: &mut Vec<Finding>,
) -> (Vec<CuePlan>, Vec<Stops>) {
    let mut pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
    let mut cues = Vec::with_capacity(show.cues.len());
    for id in show.cue_ids() {
        find_double_moves(show, id, findings);
        start_pose::find_false_needs(show, id, &pose, findings);
        let plan = timeline::plan_cue(show, id, &pose, &cues, findings);
        pose.clone_from(&plan.end);
        cues.push(plan);
    }
    crew.begin("stops");
    let stops = gathered(crew, cues.len(), |cue| {
        let content = machines.kind("stop").path(&cues[cue]);
        memory.stop(content, || Stops::of(show, &cues[cue]))
    });
    cues.iter_mut().zip(&stops).for_each(|(cue, stops)| cue.stop_time = stops.longest());
    (cues, stops)
}

/// The clearance of each cue by itself.
fn prove_alone(
    hand: &Stagehand,
    plan: &Plan,
    crew: &dyn Crew,
    (machines, memory): (&Content, &Memory),
) -> Vec<clearance::Found> {
    crew.begin("cues by themselves");
    gathered(crew, plan.cues.len(), |cue| {
        let plan = &plan.cues[cue];
        memory.cue(of_cue(hand, plan, machines, "cue"), || clearance::clearance(hand, plan))
    })
}

/// What stalls, within each cue and of each pair of cues, whose maps `keys` tell apart.
fn prove_stalls(
    hand: &Stagehand,
    (plan, stops): (&Plan, &[Stops]),
    keys: &[Key],
    crew: &dyn Crew,
    (machines, memory): (&Content, &Memory),
) -> (Vec<Vec<StallWithin>>, Vec<Stalls>) {
    crew.begin("stalls");
    let groups = Groups::new(hand.show, plan, machines);
    let within = gathered(crew, plan.cues.len(), |cue| {
        let content = |kind: &str| of_cue(hand, &plan.cues[cue], machines, kind);
        groups.within(hand, (CueId::new(cue), &stops[cue]), content, memory)
    });
    (within, groups.beside(keys, crew, memory))
}

/// Everything that a proof of one cue by itself depends on.
fn of_cue(hand: &Stagehand, plan: &CuePlan, machines: &Content, kind: &str) -> Content {
    machines.kind(kind).margins(hand.show, &hand.moved_rigs(plan)).cue(plan)
}

/// Two moves of one cue that own one axis.
fn find_double_moves(show: &Show, id: CueId, findings: &mut Vec<Finding>) {
    let cue = show.cue(id);
    for (index, second) in cue.moves.iter().enumerate() {
        for first in &cue.moves[..index] {
            let Some(axis) = second.axes().find(|axis| first.axes().any(|other| other == *axis)) else { continue };
            let name = show.axis_name(axis);
            let message = format!("cue {}: two of its moves own {name}", cue.number);
            findings.push(
                Finding::new(Code::Ownership, message)
                    .at(second.place)
                    .cue(&cue.number)
                    .rig(&show.rig(second.rig).name)
                    .axis(name)
                    .fix("leave the axis out of one of them, or make two cues"),
            );
        }
    }
}

/// With as many digits as help people.
fn shown(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}
