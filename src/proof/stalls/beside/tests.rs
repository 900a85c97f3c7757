use super::*;
use crate::proof::memory::Content;
use crate::proof::prove;
use crate::proof::stalls::Groups;
use crate::show::fixture::show_of;

/// A boom over the stage, two lamps that come down where it passes, the one with no reserve to brake, and a wagon.
const RIGS: [(&str, &str, &str); 4] = [
    (
        "boom",
        "at = [0.0, 0.0, 1.5]",
        "joint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\nbodies = [{ capsule = { from = [-0.5, 0.0, 0.0], to = [0.5, 0.0, 0.0], radius = 0.2 } }]",
    ),
    (
        "near",
        "at = [0.0, 0.0, 0.0]",
        "joint = { slide = \"z\", at = [0.0, 0.0, 0.0] }\nbodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]",
    ),
    (
        "far",
        "at = [2.5, 0.0, 0.0]",
        "joint = { slide = \"z\", at = [0.0, 0.0, 0.0] }\nbodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]",
    ),
    (
        "wagon",
        "at = [2.5, 0.4, 0.4]",
        "joint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\nbodies = [{ box = { min = [-0.5, -0.2, 0.0], max = [0.5, 0.2, 0.4] } }]",
    ),
];

/// A cue for each, in times and over ways of which `more` says how much more they are.
fn room(more: [f64; 4]) -> Show {
    let rig = |(name, at, joint): &(&str, &str, &str)| {
        let axis = "[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [-2.0, 8.0]\nspeed = 2.0\nacceleration = 1.0\njerk = 2.0";
        let stop = if *name == "near" { "stop_acceleration = 1.0\nstop_jerk = 2.0" } else { "" };
        let start = if *name == "near" || *name == "far" { 5.0 } else { 0.0 };
        (
            format!("rigs/{name}.toml"),
            format!("kind = \"machine\"\n{at}\n{axis}\nstart = {start:?}\n{stop}\n{joint}\n"),
        )
    };
    let cue = |index: usize, to: f64, time: f64| {
        let (number, rig) = (index + 1, RIGS[index].0);
        let to = to + 0.3 * more[index];
        let time = time * (1.0 + more[index]);
        format!(
            "[[cue]]\nnumber = \"{number}\"\nname = \"{rig}\"\nmove = [{{ rig = \"{rig}\", to = {{ way = {to:.3} }}, time = {time:.2} }}]\n"
        )
    };
    let cues = cue(0, 4.0, 12.0) + &cue(1, 1.0, 4.8) + &cue(2, 1.2, 7.0) + &cue(3, -1.5, 9.0);
    let mut files: Vec<(String, String)> = RIGS.iter().map(rig).collect();
    files.push(("show.toml".into(), "[show]\nname = \"Room\"\nmargin = 0.2\nreact = 0.1\n".into()));
    files.push(("cues/all.toml".into(), cues));
    let files: Vec<(&str, &str)> = files.iter().map(|(path, text)| (path.as_str(), text.as_str())).collect();
    show_of(&files)
}

/// Every cell looked at closely, in order.
fn plain(both: &Both, further: &[Further], map: &CueMap) -> (Vec<Stretch>, Option<StallBeside>) {
    let mut coasts = both.coasts(further);
    let fired = gaps(&map.blocked, map.open());
    let mut grown = map.blocked.clone();
    let mut worst: Option<StallBeside> = None;
    for cell in &map.cells {
        for side in [0, 1] {
            let stretch = coasts.stretch(cell, side, both.noticed_in(cell, side), Brakes::longest);
            grown.push(stretch);
            let least = if map.pair.tied() { 0.0 } else { SLIVER };
            let met = |gap: &Stretch| stretch.to.min(gap.to) - stretch.from.max(gap.from) >= least;
            let worse = worst.is_none_or(|worst| (cell.seen(), -cell.value) > (worst.seen, -worst.value));
            if let (true, true, Some(rig)) = (worse, fired.iter().any(met), cell.parties[side].rig()) {
                let times = [cell.first.middle(), cell.second.middle()];
                let (Cell { value, margin, parties, .. }, seen) = (*cell, cell.seen());
                worst = Some(StallBeside { rig, value, margin, times, parties, seen, is_shared: false });
            }
        }
    }
    (joined(grown), worst)
}

#[test]
fn what_is_passed_over_by_a_bound_would_change_nothing() {
    let (mut alone, mut beside, mut cells) = (0, 0, 0);
    for seed in 0..2_u32 {
        let part = |by: u32| f64::from((seed * by) % 7) / 7.0;
        let show = room([part(1), part(2), part(3), part(5)]);
        let plan = prove(&show).plan;
        let machines = Content::of_machines(&show);
        let groups = Groups::new(&show, &plan, &machines);
        let bearings: Vec<Bearing> = plan.cues.iter().map(|cue| Bearing::new(&show, cue)).collect();
        for map in plan.maps.list.iter().filter(|map| !map.cells.is_empty()) {
            let cues = [map.pair.first, map.pair.second];
            let further = groups.further(&cues);
            let both = Both {
                show: &show,
                plans: cues.map(|cue| plan.cue(cue)),
                bearings: cues.map(|cue| &bearings[cue.index()]),
                further: &further,
            };
            let mut compared = |map: &CueMap| {
                let found = both.stalls(map);
                let (blocked, shared) = plain(&both, &further, map);
                let (of_two, by_themselves) = plain(&both, &[], map);
                let shared = shared.map(|worst| StallBeside { is_shared: !further.is_empty(), ..worst });
                assert_eq!(found.blocked, blocked, "seed {seed}, {cues:?}");
                assert_eq!(found.worst, by_themselves.or(shared), "seed {seed}, {cues:?}");
                cells += map.cells.len();
                alone += usize::from(by_themselves.is_some());
                beside += usize::from(found.worst.is_some_and(|worst| worst.is_shared));
                [of_two, blocked]
            };
            let [of_two, blocked] = compared(map);
            // Where the second is held back beyond what a stall of the two leads into, only a longer brake does.
            let longer = of_two.iter().find(|one| !covered(&[**one], blocked[0]) && one.to + 0.3 < blocked[0].to);
            if let Some(one) = longer {
                let mut map = map.clone();
                map.pair.from = one.to + 0.1;
                compared(&map);
            }
        }
    }
    assert!(
        cells > 1000 && alone > 0 && beside > 0,
        "{cells} cells; {alone} by themselves, {beside} beside others"
    );
}
