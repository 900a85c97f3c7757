//! Which group everything under way belongs to, told anew whenever something has come or gone.
//!
//! What runs and what waits, and apart from that what a stop has left on its path with what hung on it, are taken
//! together as [`crate::proof::Bonds`] binds them, and each follow with the cue that it follows. While a stop brakes, nothing is
//! told anew: what it found together comes to rest together.

use arrayvec::ArrayVec;

use super::fire::Wait;
use super::groups::Member;
use super::hold::UnderWay;
use super::status::{RUNNING_MAX, WAITING_MAX};
use super::tick::Engine;
use crate::proof::{Bonds, Stage};
use crate::show::CueId;

/// Something under way.
#[derive(Clone, Copy, Debug)]
struct Node {
    cue: CueId,
    stage: Stage,
    /// The cue that it follows, if it waits.
    leader: Option<CueId>,
    group: CueId,
}

type Nodes = ArrayVec<Node, { RUNNING_MAX + WAITING_MAX }>;

/// Tells each node its group, named by one of its cues.
fn tell(nodes: &mut [Node], bonds: &Bonds) {
    for later in 1..nodes.len() {
        for earlier in 0..later {
            let (one, other) = (nodes[earlier], nodes[later]);
            let follows = other.leader == Some(one.cue) || one.leader == Some(other.cue);
            let bound = follows || bonds.bind((one.cue, one.stage), (other.cue, other.stage));
            if bound && one.group != other.group {
                let of_other = nodes.iter_mut().filter(|node| node.group == other.group);
                of_other.for_each(|node| node.group = one.group);
            }
        }
    }
}

impl Engine {
    /// Tells everything that runs or waits its group; and forgets the holds of what does neither any longer.
    pub(super) fn regroup(&mut self) {
        if self.latch.is_latched() || !self.armed {
            return;
        }
        let mut nodes = self.nodes(&self.groups.members, &self.waits);
        tell(&mut nodes, &self.bonds);
        let groups = nodes.iter().map(|node| node.group);
        let places = self.groups.members.iter_mut().map(|member| &mut member.group);
        places.chain(self.waits.iter_mut().map(|wait| &mut wait.group)).zip(groups).for_each(|(at, it)| *at = it);
        self.holds.keep(|cue| nodes.iter().any(|node| node.cue == cue));
        self.groups.part();
    }

    /// The same of what was stopped; what hangs on none of it is forgotten.
    pub(super) fn regroup_parked(&mut self) {
        let mut waits = std::mem::take(&mut self.parked_waits);
        waits.retain(|wait| self.leading(wait.cue).is_some_and(|cue| self.groups.parked_member(cue).is_some()));
        self.parked_waits = waits;
        let mut nodes = self.nodes(&self.groups.parked, &self.parked_waits);
        tell(&mut nodes, &self.bonds);
        let groups = nodes.iter().map(|node| node.group);
        let places = self.groups.parked.iter_mut().map(|member| &mut member.group);
        let of_waits = self.parked_waits.iter_mut().map(|wait| &mut wait.group);
        places.chain(of_waits).zip(groups).for_each(|(at, it)| *at = it);
    }

    fn nodes(&self, members: &[Member], waits: &[Wait]) -> Nodes {
        let run = members.iter().map(|member| (member.cue, Stage::Runs, None));
        let wait = waits.iter().map(|wait| (wait.cue, wait.stage(), self.leading(wait.cue)));
        run.chain(wait).map(|(cue, stage, leader)| Node { cue, stage, leader, group: cue }).collect()
    }

    /// The group of a cue that runs or waits.
    pub(super) fn group_of(&self, cue: CueId) -> Option<CueId> {
        let waits = || self.waits.iter().find(|wait| wait.cue == cue).map(|wait| wait.group);
        self.groups.member(cue).map(|member| member.group).or_else(waits)
    }

    /// All cues that run or wait, with their groups.
    fn under_way(&self) -> impl Iterator<Item = (CueId, CueId)> + Clone + '_ {
        let run = self.groups.members.iter().map(|member| (member.cue, member.group));
        run.chain(self.waits.iter().map(|wait| (wait.cue, wait.group)))
    }

    /// The cues that a request for this one is about: its group; without one, everything.
    pub(super) fn concerned(&self, cue: Option<CueId>) -> UnderWay {
        let group = cue.map(|cue| self.group_of(cue));
        let concerned = self.under_way().filter(|&(_, one)| group.is_none_or(|group| group == Some(one)));
        concerned.map(|(cue, _)| cue).collect()
    }

    /// Whether a cue that runs or waits is held, with its group.
    pub(super) fn is_held(&self, cue: CueId) -> bool {
        let Some(group) = self.group_of(cue) else { return false };
        self.under_way().any(|(one, of)| of == group && self.holds.on(one))
    }

    /// What a cue would be bound to, did it start now, and that is held or goes back.
    pub(super) fn slowed_beside(&self, cue: CueId) -> Option<CueId> {
        let bound = |other: CueId, stage: Stage| self.bonds.bind((cue, Stage::Comes), (other, stage));
        let slowed = |member: &&Member| member.returning || self.is_held(member.cue);
        let mut runs = self.groups.members.iter().filter(|member| bound(member.cue, Stage::Runs));
        let waits = self.waits.iter().filter(|wait| bound(wait.cue, wait.stage()));
        let waiting = || waits.map(|wait| wait.cue).find(|&wait| self.is_held(wait));
        runs.find(slowed).map(|member| member.cue).or_else(waiting)
    }
}
