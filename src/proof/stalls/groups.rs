//! Who may brake at one rate with whom, for all of a list.

use std::sync::OnceLock;

use super::bearing::Bearing;
use super::beside::{Both, Stalls};
use super::brakes::SharedBrakes;
use super::coast::Way;
use super::further::{Further, told};
use super::within::{coast, within};
use crate::proof::bodies::Stagehand;
use crate::proof::clearance::Short;
use crate::proof::crew::{Crew, gathered};
use crate::proof::maps::CueMap;
use crate::proof::memory::{Content, Key, Memory};
use crate::proof::plan::Plan;
use crate::proof::sharing::Sharing;
use crate::proof::stops::Stops;
use crate::show::{CueId, RigId, Show};

/// By the maps of a plan.
pub struct Groups<'a> {
    show: &'a Show,
    plan: &'a Plan,
    sharing: Sharing,
    machines: &'a Content,
    /// By `CueId`, looked at when asked for.
    bearings: Vec<OnceLock<Bearing>>,
    contents: Vec<OnceLock<Key>>,
}

/// A stall within a cue that brings two rigs too near, with the cues at whose rate it runs then, if it takes any.
pub struct StallWithin {
    pub rig: RigId,
    pub short: Short,
    pub further: Vec<CueId>,
}

impl<'a> Groups<'a> {
    pub fn new(show: &'a Show, plan: &'a Plan, machines: &'a Content) -> Groups<'a> {
        let sharing = Sharing::new(show, plan);
        let bearings = plan.cues.iter().map(|_| OnceLock::new()).collect();
        let contents = plan.cues.iter().map(|_| OnceLock::new()).collect();
        Groups { show, plan, sharing, machines, bearings, contents }
    }

    fn bearing(&self, cue: CueId) -> &Bearing {
        self.bearings[cue.index()].get_or_init(|| Bearing::new(self.show, self.plan.cue(cue)))
    }

    fn content(&self, cue: CueId) -> &Key {
        let path = || self.machines.kind("bearing").path(self.plan.cue(cue)).key();
        self.contents[cue.index()].get_or_init(path)
    }

    /// Those that may share the rate of some.
    pub fn further(&self, cues: &[CueId]) -> Vec<Further<'_>> {
        let known = (&self.plan.maps, &self.sharing);
        let further = self.sharing.further(cues).into_iter();
        further.filter_map(|cue| Further::new(known, (cue, self.bearing(cue)), cues)).collect()
    }

    /// Those that may share the rate of one of two that run together, or of both.
    fn further_of_two(&self, cues: [CueId; 2]) -> Vec<Further<'_>> {
        let mut all = self.further(&cues);
        for (at, other) in [(0, cues[1]), (1, cues[0])] {
            let of_one = self.further(&[other]);
            let is_known =
                |one: &Further| all.iter().any(|known| known.once_ended.is_none() && known.cue == one.cue);
            let comes_later = |one: &Further| one.cue != cues[at] && !is_known(one);
            let later: Vec<Further> =
                of_one.into_iter().filter(comes_later).map(|one| one.once_ended(at)).collect();
            all.extend(later);
        }
        all
    }

    /// With everything of the further cues that a proof depends on.
    pub fn with(&self, content: Content, further: &[Further]) -> Content {
        further.iter().fold(content, |content, one| {
            let ends = one.ahead.iter().flat_map(|ahead| {
                [ahead.len() as f64].into_iter().chain(ahead.iter().flat_map(|one| [one.from, one.to]))
            });
            let once_ended = one.once_ended.map_or(0.0, |other| 1.0 + other as f64);
            content.with(self.content(one.cue)).also(ends).also([once_ended])
        })
    }

    /// Stalls of all pairs of cues, by their maps, which `known` tells apart from others.
    pub fn beside(&self, known: &[Key], crew: &dyn Crew, memory: &Memory) -> Vec<Stalls> {
        let list = &self.plan.maps.list;
        gathered(crew, list.len(), |at| match list[at].cells[..] {
            [] => Stalls::default(),
            [..] => self.pair(&list[at], &known[at], memory),
        })
    }

    fn pair(&self, map: &CueMap, known: &Key, memory: &Memory) -> Stalls {
        let cues = [map.pair.first, map.pair.second];
        let further = self.further_of_two(cues);
        let plans = cues.map(|cue| self.plan.cue(cue));
        let both = Both { show: self.show, plans, bearings: cues.map(|cue| self.bearing(cue)), further: &further };
        let content = self.with(self.machines.kind("beside").with(known), &further);
        let stalls = memory.beside(content, || both.stalls(map));
        let further = match &stalls.worst {
            Some(worst) if worst.is_shared => both.lengthening(map, worst),
            Some(_) | None => Vec::new(),
        };
        Stalls { further, ..stalls }
    }

    /// Stalls within a cue: where it runs by itself, and those that only a longer brake at one rate with others brings too near.
    pub fn within(
        &self,
        hand: &Stagehand,
        (cue, stops): (CueId, &Stops),
        content: impl Fn(&str) -> Content,
        memory: &Memory,
    ) -> Vec<StallWithin> {
        let plan = self.plan.cue(cue);
        let alone = memory.stall(content("stall"), || within(hand, plan, stops, None));
        let alone = alone.into_iter().map(|(rig, short)| StallWithin { rig, short, further: Vec::new() });
        let mut found: Vec<StallWithin> = alone.collect();
        let further = self.further(&[cue]);
        if further.is_empty() {
            return found;
        }
        let brakes = SharedBrakes::new(self.bearing(cue), &further);
        let content = self.with(content("stall beside"), &further);
        for (rig, short) in memory.stall(content, || within(hand, plan, stops, Some(&brakes))) {
            if !found.iter().any(|known| known.short.group.is_same(&short.group)) {
                let further = self.lengthening(cue, stops, &further, (rig, &short));
                found.push(StallWithin { rig, short, further });
            }
        }
        found
    }

    /// Of the further cues those by which a coast becomes longer; if none by itself does it, all.
    fn lengthening(
        &self,
        cue: CueId,
        stops: &Stops,
        further: &[Further],
        (rig, short): (RigId, &Short),
    ) -> Vec<CueId> {
        let way = if short.later < 0.0 { Way::Back } else { Way::Forth };
        let place = (rig, short.closest.time, way);
        let coasts = |shared: Option<&SharedBrakes>| coast(self.show, self.plan.cue(cue), stops, shared, place);
        let alone = coasts(None);
        let lengthens = |further: &&Further| {
            let brakes = SharedBrakes::new(self.bearing(cue), std::slice::from_ref(further));
            coasts(Some(&brakes)) > alone
        };
        told(further, lengthens)
    }
}
