//! Which cues can come to go by one clock with others, as the engine takes them together ([`super::bonds`]).
//!
//! All of a group are under way at the same time, and each hangs on another: two that run, by their map or by a lens; one that
//! runs and a follow that waits; two follows that wait. So from the cues that are asked about it is gone from one to the next, as
//! long as each can be under way beside those, and beside the one that it hangs on.

use super::bonds::{Bonds, Stage};
use super::plan::Plan;
use super::relation::{CueSet, Relation};
use super::together::{Sequence, Starts};
use crate::show::{After, CueId, Show};

pub struct Sharing {
    cues: usize,
    sequence: Sequence,
    /// Both can run.
    run: Relation,
    /// The first can run while the second, a follow, waits.
    wait: Relation,
    /// Both can run, and share a rate then.
    run_with: Relation,
    /// The first can run and the second wait, and belong together then.
    run_with_waiting: Relation,
    /// The same, seen from the follow.
    wait_with_running: Relation,
    /// Both can wait, and belong together then.
    wait_with_waiting: Relation,
}

/// A follow that its leader's clock brings.
struct Follow {
    cue: CueId,
    leader: CueId,
}

fn follows(show: &Show) -> Vec<Follow> {
    let of = |cue: CueId| match show.cue(cue).after.as_ref()? {
        After::Start { cue: leader, .. } | After::End { cue: leader, .. } => Some(Follow { cue, leader: *leader }),
        After::When(_) => None,
    };
    show.cue_ids().filter_map(of).collect()
}

impl Sharing {
    /// By the maps of a plan.
    pub fn new(show: &Show, plan: &Plan) -> Sharing {
        let (bonds, sequence) = (Bonds::new(show, plan), Sequence::of(&Starts::new(show, plan)));
        let none = || Relation::none(show.cues.len());
        let mut sharing = Sharing {
            cues: show.cues.len(),
            sequence,
            run: none(),
            wait: none(),
            run_with: none(),
            run_with_waiting: none(),
            wait_with_running: none(),
            wait_with_waiting: none(),
        };
        for pair in plan.maps.list.iter().map(|map| map.pair) {
            for (one, other) in [(pair.first, pair.second), (pair.second, pair.first)] {
                sharing.run.set(one, other, true);
                sharing.run_with.set(one, other, bonds.bind((one, Stage::Runs), (other, Stage::Runs)));
            }
        }
        let follows = follows(show);
        for Follow { cue, leader } in &follows {
            let beside: Vec<CueId> = show
                .cue_ids()
                .filter(|one| one != cue && sharing.sequence.can_wait_beside(*cue, *leader, *one))
                .collect();
            for one in beside {
                let bound = one == *leader || bonds.bind((one, Stage::Runs), (*cue, Stage::Comes));
                sharing.wait.set(one, *cue, true);
                sharing.run_with_waiting.set(one, *cue, bound);
                sharing.wait_with_running.set(*cue, one, bound);
            }
            for Follow { cue: other, leader: of_other } in &follows {
                let can_wait = |cue, leader| sharing.sequence.can_wait_with(cue, leader);
                let both = can_wait(*cue, *of_other) && can_wait(*other, *leader);
                let bound = both && cue != other && bonds.bind((*cue, Stage::Comes), (*other, Stage::Comes));
                sharing.wait_with_waiting.set(*cue, *other, bound);
            }
        }
        sharing
    }

    /// Whether a cue begins no sooner than another.
    pub fn is_after(&self, cue: CueId, other: CueId) -> bool {
        self.sequence.is_after(cue, other)
    }

    /// Those that can share the rate of some cues that run at the same time, in the order of the list.
    pub fn further(&self, cues: &[CueId]) -> Vec<CueId> {
        let beside = |relation: &Relation| {
            let sets = cues.iter().map(|&cue| relation.of(cue));
            sets.reduce(|one, other| one.and(&other)).unwrap_or_else(|| CueSet::none(self.cues))
        };
        let (mut run, mut wait) = (beside(&self.run), beside(&self.wait));
        let mut found = CueSet::none(self.cues);
        let mut todo: Vec<(CueId, bool)> = cues.iter().map(|&cue| (cue, true)).collect();
        while let Some((cue, runs)) = todo.pop() {
            let [to_running, to_waiting] = if runs {
                [&self.run_with, &self.run_with_waiting]
            } else {
                [&self.wait_with_running, &self.wait_with_waiting]
            };
            let (running, waiting) = (to_running.of(cue).and(&run), to_waiting.of(cue).and(&wait));
            todo.extend(running.each().map(|cue| (cue, true)).chain(waiting.each().map(|cue| (cue, false))));
            (run, wait) = (run.without(&running), wait.without(&waiting));
            found = found.or(&running);
        }
        found.each().collect()
    }
}
