//! Stalls while two cues run together, read off their map.
//!
//! With the later started when the earlier is at g, the two are at (τA, τA − g). If a rig of A stalls there, B goes on to
//! (τA, τA − g + u), with u up to how far it coasts: to places of the map that the line does not pass. So a cell that is
//! not clear stands in the way of the starts whose lines pass it, and of those whose lines pass within a coast of it.

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::bearing::Bearing;
use super::brakes::{Brakes, Leads};
use super::coast::{Way, notice};
use super::further::{Further, told};
use crate::proof::bodies::Span;
use crate::proof::clearance::Party;
use crate::proof::maps::{Cell, CueMap, Stretch, gaps, joined};
use crate::proof::plan::CuePlan;
use crate::show::{CueId, RigId, Show};

/// s; starts of a hand that are nearer to each other than this are one.
const SLIVER: f64 = 0.1;

/// A stall that brings two cues too near.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct StallBeside {
    pub rig: RigId,
    /// m, how near they come; that must remain.
    pub value: f64,
    pub margin: f64,
    /// s, of each cue's own time.
    pub times: [f64; 2],
    pub parties: [Party; 2],
    /// Whether it was seen; else it could only not be proved that they keep clear.
    pub seen: bool,
    /// Whether it takes a further cue, beside which the two brake more slowly.
    pub is_shared: bool,
}

/// What a stall adds to a map.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stalls {
    /// Starts of the second at which the two, or the two with a stall, are not proved clear; apart and in order.
    pub blocked: Vec<Stretch>,
    /// The worst of starts that are clear without a stall; of such as need no further cue, if there is one.
    pub worst: Option<StallBeside>,
    /// The further cues that the worst takes.
    #[serde(skip)]
    pub further: Vec<CueId>,
}

/// Two cues, and those that may share their rate.
pub struct Both<'a> {
    pub show: &'a Show,
    pub plans: [&'a CuePlan; 2],
    pub bearings: [&'a Bearing; 2],
    pub further: &'a [Further<'a>],
}

impl Both<'_> {
    pub fn stalls(&self, map: &CueMap) -> Stalls {
        let noticed = self.noticed(map);
        let mut shared = self.coasts(self.further);
        let blocked = shared.blocked(map, &noticed);
        if self.further.is_empty() {
            return Stalls { blocked, worst: shared.worst(map, &noticed), further: Vec::new() };
        }
        let alone = self.coasts(&[]).worst(map, &noticed);
        let beside = || shared.worst(map, &noticed).map(|worst| StallBeside { is_shared: true, ..worst });
        Stalls { blocked, worst: alone.or_else(beside), further: Vec::new() }
    }

    /// Of the further cues those by which a coast into the place of a stall becomes longer; if none by itself does it, all.
    pub fn lengthening(&self, map: &CueMap, stall: &StallBeside) -> Vec<CueId> {
        let is_place = |cell: &&Cell| {
            [cell.first.middle(), cell.second.middle()] == stall.times && cell.parties == stall.parties
        };
        let Some(cell) = map.cells.iter().find(is_place) else { return Vec::new() };
        let noticed = [0, 1].map(|side| self.noticed_in(cell, side));
        let stretches = |further: &[Further]| {
            let mut coasts = self.coasts(further);
            [0, 1].map(|side| coasts.stretch(cell, side, noticed[side], Brakes::longest))
        };
        let alone = stretches(&[]);
        let lengthens = |further: &&Further| stretches(std::slice::from_ref(further)) != alone;
        told(self.further, lengthens)
    }

    fn coasts<'b>(&'b self, further: &'b [Further<'b>]) -> Coasts<'b> {
        Coasts { brakes: Brakes::new(self.bearings, further) }
    }

    /// By cell, then side.
    fn noticed(&self, map: &CueMap) -> Vec<[Noticed; 2]> {
        let mut known: BTreeMap<(usize, u64, u64), Noticed> = BTreeMap::new();
        let mut of_cell = |cell: &Cell, side: usize| {
            let span = stands_and_goes(cell, side)[0];
            let noticed = || self.noticed_in(cell, side);
            *known.entry((side, span.from.to_bits(), span.to.to_bits())).or_insert_with(noticed)
        };
        map.cells.iter().map(|cell| [0, 1].map(|side| of_cell(cell, side))).collect()
    }

    fn noticed_in(&self, cell: &Cell, side: usize) -> Noticed {
        let ([span, _], plan) = (stands_and_goes(cell, side), self.plans[side]);
        [Way::Forth, Way::Back].map(|way| {
            let rigs = plan.moves.iter().map(|step| step.rig);
            rigs.map(|rig| notice(self.show, plan, rig, span, way)).fold(0.0, f64::max)
        })
    }
}

/// s, how long it takes, forth and back, until a stall on one side of a cell is noticed.
type Noticed = [f64; 2];

/// How far a brake goes on that leads somewhere, or a bound on that.
type Goes<'a> = fn(&mut Brakes<'a>, Leads) -> f64;

/// Where the one stands that stalls, and what the other goes on into.
fn stands_and_goes(cell: &Cell, side: usize) -> [Span; 2] {
    if side == 0 { [cell.first, cell.second] } else { [cell.second, cell.first] }
}

/// How far either goes on once the other has stalled.
struct Coasts<'a> {
    brakes: Brakes<'a>,
}

impl<'a> Coasts<'a> {
    /// Starts at which the two are not proved clear, or not with a stall.
    fn blocked(&mut self, map: &CueMap, noticed: &[[Noticed; 2]]) -> Vec<Stretch> {
        let mut grown = joined(map.blocked.clone());
        let mut open = Vec::new();
        for (cell, noticed) in map.cells.iter().zip(noticed) {
            for side in [0, 1] {
                let most = self.stretch(cell, side, noticed[side], |brakes, leads| brakes.most(leads.way));
                if !covered(&grown, most) {
                    open.push((outside(&grown, most), most, cell, side, noticed[side]));
                }
            }
        }
        // By what reaches farthest the rest is covered for the most part, and need not be looked at closely.
        open.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (_, most, cell, side, noticed) in open {
            if covered(&grown, most) || covered(&grown, self.stretch(cell, side, noticed, Brakes::bound)) {
                continue;
            }
            grown.push(self.stretch(cell, side, noticed, Brakes::longest));
            grown = joined(grown);
        }
        grown
    }

    /// The worst of starts that are clear without a stall.
    fn worst(&mut self, map: &CueMap, noticed: &[[Noticed; 2]]) -> Option<StallBeside> {
        let fired = gaps(&map.blocked, map.open());
        let shortest = if map.pair.tied() { 0.0 } else { SLIVER };
        let met = |stretch: Stretch| {
            fired.iter().any(|gap| stretch.to.min(gap.to) - stretch.from.max(gap.from) >= shortest)
        };
        let mut worst_first: Vec<(&Cell, &[Noticed; 2])> = map.cells.iter().zip(noticed).collect();
        worst_first.sort_by(|(a, _), (b, _)| b.seen().cmp(&a.seen()).then(a.value.total_cmp(&b.value)));
        let bounds: [Goes; 3] = [|brakes, leads| brakes.most(leads.way), Brakes::bound, Brakes::longest];
        for (cell, noticed) in worst_first {
            for side in [0, 1] {
                let Some(rig) = cell.parties[side].rig() else { continue };
                let leads = |goes: &Goes<'a>| met(self.stretch(cell, side, noticed[side], *goes));
                if bounds.iter().all(leads) {
                    let times = [cell.first.middle(), cell.second.middle()];
                    let (Cell { value, margin, parties, .. }, seen) = (*cell, cell.seen());
                    return Some(StallBeside { rig, value, margin, times, parties, seen, is_shared: false });
                }
            }
        }
        None
    }

    /// The starts of which a stall on one side leads into the cell; or more than those, if more is told of the brakes than they go.
    fn stretch(&mut self, cell: &Cell, side: usize, [soon, late]: Noticed, goes: Goes<'a>) -> Stretch {
        let [stands, into] = stands_and_goes(cell, side);
        let [on, behind] = [(Way::Forth, soon), (Way::Back, late)].map(|(way, noticed)| {
            let stalled = match way {
                Way::Forth => Span { to: stands.to + noticed, ..stands },
                Way::Back => Span { from: stands.from - noticed, ..stands },
            };
            noticed + goes(&mut self.brakes, Leads { way, side, stalled, into })
        });
        let (first, second) = (cell.first, cell.second);
        // The other runs on: the line that was left starts that much later if the first stalls, earlier if the second
        // does; taken back, the other way round. Once the stall is noticed no other cue starts.
        let (from, to) = (first.from - second.to, first.to - second.from);
        if side == 0 {
            Stretch { from: from - behind, to: (to + on).min(first.to + soon) }
        } else {
            Stretch { from: (from - on).max(-second.to - soon), to: to + behind }
        }
    }
}

/// Whether a stretch adds nothing to some that are apart and in order.
fn covered(blocked: &[Stretch], stretch: Stretch) -> bool {
    let last = blocked.partition_point(|one| one.to < stretch.to);
    blocked.get(last).is_some_and(|one| one.from <= stretch.from)
}

/// s, how much it adds to them.
fn outside(blocked: &[Stretch], stretch: Stretch) -> f64 {
    gaps(blocked, stretch).iter().map(|gap| gap.to - gap.from).sum()
}
