//! Two cues that can run together, where a rule asks something of the one and reads what the other moves.

use super::grid::{Grid, Place, without};
use super::{Rule, told};
use crate::proof::crew::{Crew, gathered};
use crate::proof::maps::{CueMap, Stretch, gaps, joined, runnable, ways_past};
use crate::proof::plan::Plan;
use crate::proof::remedy::Edit;
use crate::proof::together::Starts;
use crate::show::{CueId, Finding, InterlockId, Show};

/// s; starts within less are those of one line.
const SAME: f64 = 1e-6;

/// What is found of one rule.
pub struct Beside<'a> {
    pub map: &'a CueMap,
    pub rule: Rule,
    /// Whether a rule that only refuses is asked of a follow, or everything else.
    pub refuses: bool,
    /// The starts at which it is let go, and then false at some time; apart and in order.
    pub starts: Vec<Stretch>,
    /// No start that the list allows is any better.
    pub always: bool,
    /// On one of those starts.
    pub place: Place,
}

/// Errors, with what may settle them, for pairs that a chain ties and pairs without a good start; notes for what a hand times.
pub fn find_beside(
    show: &Show,
    plan: &Plan,
    known: &[(CueId, Rule)],
    crew: &dyn Crew,
) -> Vec<(Finding, Option<Vec<Edit>>)> {
    let starts = Starts::new(show, plan);
    let list = &plan.maps.list;
    let found = gathered(crew, list.len(), |at| {
        let map = &list[at];
        let cues = [map.pair.first, map.pair.second];
        let rules = (0..show.interlocks.len()).map(|index| Rule::Interlock(InterlockId::new(index)));
        let rules = rules.chain(cues.map(Rule::Needs));
        let told = |rule: &Rule| !cues.iter().any(|&cue| known.contains(&(cue, *rule)));
        let one = |rule: Rule| {
            let grid = Grid::new(show, plan, cues, rule)?;
            let found = judge(show, map, rule, &grid)?;
            let edits = ways_past(show, &starts, map, &found.starts);
            let tied = found.map.pair.tied();
            if tied || found.always {
                return Some((told::beside(show, &starts, &found), Some(edits)));
            }
            let fix = edits.first().map(|edit| edit.words(show));
            Some((told::by_hand(show, &found, fix), None))
        };
        rules.filter(told).filter_map(one).collect::<Vec<_>>()
    });
    found.into_iter().flatten().collect()
}

fn judge<'a>(show: &Show, map: &'a CueMap, rule: Rule, grid: &Grid) -> Option<Beside<'a>> {
    let blocked = grid.blocked();
    if map.pair.tied() {
        // A follow may come ticks late.
        let (from, to) = (map.pair.from, map.pair.to);
        let met = blocked.iter().find(|stretch| stretch.from + SAME < to && from < stretch.to - SAME)?;
        let start = (from.max(met.from) + to.min(met.to)) / 2.0;
        let place = grid.first_on(start)?;
        return Some(Beside { map, rule, refuses: grid.refuses(), starts: blocked, always: true, place });
    }
    let open = map.open();
    let blocked: Vec<Stretch> =
        runnable(map, &blocked).into_iter().filter(|stretch| stretch.to - stretch.from > SAME).collect();
    // Once the other has ended a hand may always fire.
    let ends = map.pair.to < map.durations[0] - SAME;
    let better = gaps(&joined(blocked.clone()), open).iter().any(|gap| gap.to - gap.from > SAME);
    let always = ends && !better && !blocked.is_empty();
    // What a caller fires is refused there; what follows breaks its chain.
    let by_go = show.cue(map.pair.second).after.is_none();
    let starts = if by_go && !always { without(&blocked, &grid.refused()) } else { blocked };
    let longest = starts.iter().max_by(|a, b| (a.to - a.from).total_cmp(&(b.to - b.from)))?;
    let place = grid.first_on((longest.from + longest.to) / 2.0)?;
    Some(Beside { map, rule, refuses: grid.refuses(), starts, always, place })
}
