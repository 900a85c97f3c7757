//! Which cues have to share one rate, from the maps and the follows, once and for all.
//!
//! Two cues that run stand on one line of their map and must not leave it: they are linked, unless the map is clear all
//! over. So are two of which one keeps a lens on what the other moves. A follow starts by the clock of the cue that it follows, and what hangs on it by its own: on which line it will
//! meet another was proved from there. So a follow that is still to come is bound, with all that follows it, to whatever
//! it will be linked with. A follow of a condition is not: no clock brings it, and it is weighed as a GO is.

use super::aimed::leans_on;
use super::plan::Plan;
use super::relation::Relation;
use crate::show::{After, CueId, Show};

/// How far a cue has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    Runs,
    /// Its start, and that of what follows it, is still to come.
    Comes,
    /// It waits for a condition: nobody's clock brings it.
    Waits,
}

#[derive(Clone, Debug)]
pub struct Bonds {
    /// Neither is clear of the other all over, or no map knows the two together.
    linked: Relation,
    /// The first runs, and is linked with the second or with anything that follows that.
    awaited: Relation,
    /// The first or anything that follows it is linked with the second or anything that follows that.
    to_come: Relation,
}

impl Bonds {
    pub fn new(show: &Show, plan: &Plan) -> Bonds {
        let count = show.cues.len();
        let cues = || (0..count).map(CueId::new);
        let moves = |cue: CueId| plan.cue(cue).duration > 0.0;
        let mut linked = Relation::none(count);
        for (one, other) in cues().flat_map(|one| cues().map(move |other| (one, other))) {
            linked.set(one, other, one != other && moves(one) && moves(other));
        }
        for map in plan.maps.list.iter().filter(|map| map.cells.is_empty()) {
            linked.set(map.pair.first, map.pair.second, false);
            linked.set(map.pair.second, map.pair.first, false);
        }
        // What a lens is kept on goes by the clock of the cue that moves it: at two rates it would be looked past.
        for cue in cues() {
            for leader in leans_on(show, &plan.cues, cue) {
                linked.set(cue, leader, true);
                linked.set(leader, cue, true);
            }
        }
        // Follows stand behind what they follow, so that from the end each finds those of its follows told already.
        let follows = follows(show);
        let mut awaited = linked.clone();
        for coming in cues().rev() {
            for &follow in &follows[coming.index()] {
                cues().for_each(|one| awaited.join((one, coming), (one, follow)));
            }
        }
        let mut to_come = awaited.clone();
        for coming in cues().rev() {
            for &follow in &follows[coming.index()] {
                cues().for_each(|other| to_come.join((coming, other), (follow, other)));
            }
        }
        Bonds { linked, awaited, to_come }
    }

    /// Whether two cues under way have to share one rate.
    pub fn bind(&self, (one, at): (CueId, Stage), (other, beside): (CueId, Stage)) -> bool {
        match (at, beside) {
            (Stage::Waits, _) | (_, Stage::Waits) => false,
            (Stage::Runs, Stage::Runs) => self.linked.get(one, other),
            (Stage::Runs, Stage::Comes) => self.awaited.get(one, other),
            (Stage::Comes, Stage::Runs) => self.awaited.get(other, one),
            (Stage::Comes, Stage::Comes) => self.to_come.get(one, other),
        }
    }
}

/// By `CueId`: the cues that follow it by its clock.
fn follows(show: &Show) -> Vec<Vec<CueId>> {
    let mut follows = vec![Vec::new(); show.cues.len()];
    for cue in show.cue_ids() {
        match &show.cue(cue).after {
            Some(After::Start { cue: leader, .. } | After::End { cue: leader, .. }) => {
                follows[leader.index()].push(cue);
            }
            Some(After::When(_)) | None => {}
        }
    }
    follows
}

#[cfg(test)]
mod tests {
    use super::Stage::{Comes, Runs, Waits};
    use super::*;
    use crate::proof::prove;
    use crate::show::fixture::show_of;

    /// The boom is drawn away, and at the end of a chain on two rails of their own the lamp comes down where it was.
    fn chain() -> (Show, Plan) {
        let rig = |at: &str, along: &str, start: f64| {
            format!(
                "kind = \"machine\"\nat = {at}\n[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [0.0, 6.0]\nstart = {start:?}\n\
                 speed = 1.0\nacceleration = 1.0\njerk = 2.0\njoint = {{ slide = \"{along}\", at = [0.0, 0.0, 0.0] }}\n\
                 bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n"
            )
        };
        let cue = |number: usize, rig: &str, to: f64, after: &str| {
            format!(
                "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{after}\n\
                 move = [{{ rig = \"{rig}\", to = {{ way = {to:?} }}, time = 14.0 }}]\n"
            )
        };
        let cues = cue(1, "boom", 4.0, "")
            + &cue(2, "east", 2.0, "")
            + &cue(3, "west", 2.0, "after = { cue = \"2\", from = \"start\", wait = 5.0 }")
            + &cue(4, "lamp", 1.0, "after = { cue = \"3\", from = \"start\", wait = 5.0 }");
        let show = show_of(&[
            ("show.toml", "[show]\nname = \"Chain\"\nmargin = 0.3\nreact = 0.1\n".to_owned()),
            ("rigs/boom.toml", rig("[0.0, 0.0, 1.5]", "x", 0.0)),
            ("rigs/lamp.toml", rig("[0.0, 0.0, 0.0]", "z", 5.0)),
            ("rigs/east.toml", rig("[0.0, 9.0, 0.0]", "x", 0.0)),
            ("rigs/west.toml", rig("[0.0, 18.0, 0.0]", "x", 0.0)),
            ("cues/all.toml", cues),
        ]);
        let plan = prove(&show).plan;
        (show, plan)
    }

    #[test]
    fn a_cue_to_come_is_bound_to_whatever_the_last_of_its_chain_will_be_linked_with() {
        let (show, plan) = chain();
        let bonds = Bonds::new(&show, &plan);
        let bind = |one: usize, at: Stage, other: usize, beside: Stage| {
            let [one, other] = [one, other].map(|number| CueId::new(number - 1));
            assert_eq!(bonds.bind((one, at), (other, beside)), bonds.bind((other, beside), (one, at)));
            bonds.bind((one, at), (other, beside))
        };
        assert!(bind(1, Runs, 4, Runs), "the lamp comes down on the boom");
        assert!(!bind(1, Runs, 2, Runs) && !bind(1, Runs, 3, Runs) && !bind(2, Runs, 3, Runs));
        assert!(bind(1, Runs, 2, Comes) && bind(1, Runs, 3, Comes) && bind(1, Comes, 2, Comes));
        assert!(!bind(2, Runs, 3, Comes) && !bind(1, Comes, 2, Runs), "nothing of theirs meets");
        assert!(!bind(1, Runs, 4, Waits), "no clock brings it");
        assert!(!bind(1, Runs, 5, Runs), "a preset is in no pair");
    }
}
