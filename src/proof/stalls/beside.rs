//! Stalls while two cues run together, read off their map.
//!
//! With the later started when the earlier is at g, the two are at (τA, τA − g). If a rig of A stalls there, B goes on to
//! (τA, τA − g + u), with u up to how far it coasts: to places of the map that the line does not pass. So a cell that is
//! not clear stands in the way of the starts whose lines pass it, and of those whose lines pass within a coast of it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::bearing::Bearing;
use super::brakes::Brakes;
use super::coast::{Way, notice};
use super::further::{Further, told};
use crate::proof::bodies::Span;
use crate::proof::clearance::Party;
use crate::proof::maps::{Cell, CueMap, Stretch, gaps, joined};
use crate::proof::plan::CuePlan;
use crate::show::{CueId, RigId, Show};

/// Times that the place where a brake begins is narrowed down.
const TIGHTENINGS: usize = 3;
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
        let shared = self.coasts(self.further).stalls(map);
        if self.further.is_empty() || shared.worst.is_none() {
            return shared;
        }
        let alone = self.coasts(&[]).stalls(map);
        let worst = alone.worst.or(shared.worst.map(|worst| StallBeside { is_shared: true, ..worst }));
        Stalls { blocked: shared.blocked, worst, further: Vec::new() }
    }

    /// Of the further cues those by which a coast into the place of a stall becomes longer; if none by itself does it, all.
    pub fn lengthening(&self, map: &CueMap, stall: &StallBeside) -> Vec<CueId> {
        let is_place = |cell: &&Cell| {
            [cell.first.middle(), cell.second.middle()] == stall.times && cell.parties == stall.parties
        };
        let Some(cell) = map.cells.iter().find(is_place) else { return Vec::new() };
        let stretches = |further: &[Further]| [0, 1].map(|side| self.coasts(further).stretch(cell, side));
        let alone = stretches(&[]);
        let lengthens = |further: &&Further| stretches(std::slice::from_ref(further)) != alone;
        told(self.further, lengthens)
    }

    fn coasts<'b>(&'b self, further: &'b [Further<'b>]) -> Coasts<'b> {
        let brakes = Brakes::new(self.bearings, further);
        Coasts { show: self.show, plans: self.plans, brakes, noticed: BTreeMap::new() }
    }
}

/// How far either goes on once the other has stalled.
struct Coasts<'a> {
    show: &'a Show,
    plans: [&'a CuePlan; 2],
    brakes: Brakes<'a>,
    /// By side and span.
    noticed: BTreeMap<(usize, u64, u64), [f64; 2]>,
}

impl Coasts<'_> {
    fn stalls(&mut self, map: &CueMap) -> Stalls {
        let fired = gaps(&map.blocked, map.open());
        let mut grown = map.blocked.clone();
        let mut worst: Option<StallBeside> = None;
        for cell in &map.cells {
            for side in [0, 1] {
                let stretch = self.stretch(cell, side);
                grown.push(stretch);
                let met = |gap: &Stretch| {
                    let (from, to) = (stretch.from.max(gap.from), stretch.to.min(gap.to));
                    to - from >= if map.pair.tied() { 0.0 } else { SLIVER }
                };
                let worse = worst.is_none_or(|worst| (cell.seen(), -cell.value) > (worst.seen, -worst.value));
                if let (true, true, Some(rig)) = (worse, fired.iter().any(met), cell.parties[side].rig()) {
                    let times = [cell.first.middle(), cell.second.middle()];
                    let (Cell { value, margin, parties, .. }, seen) = (*cell, cell.seen());
                    worst = Some(StallBeside { rig, value, margin, times, parties, seen, is_shared: false });
                }
            }
        }
        Stalls { blocked: joined(grown), worst, further: Vec::new() }
    }

    /// The starts of which a stall on one side leads into the cell.
    fn stretch(&mut self, cell: &Cell, side: usize) -> Stretch {
        let (stands, goes) = if side == 0 { (cell.first, cell.second) } else { (cell.second, cell.first) };
        let [soon, late] = self.noticed(side, stands);
        let [on, behind] = [(Way::Forth, soon), (Way::Back, late)].map(|(way, noticed)| {
            let stalled = match way {
                Way::Forth => Span { to: stands.to + noticed, ..stands },
                Way::Back => Span { from: stands.from - noticed, ..stands },
            };
            // The brake ends in the cell at the latest, so it begins no farther before it than it is long: of all brakes
            // at first, then of those that begin near enough.
            let mut brake = f64::INFINITY;
            for _ in 0..=TIGHTENINGS {
                let other = match way {
                    Way::Forth => Span { from: goes.from - brake, ..goes },
                    Way::Back => Span { to: goes.to + brake, ..goes },
                };
                brake = self.brakes.longest(way, side, stalled, other);
            }
            noticed + brake
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

    /// How long it takes, forth and back, until a stall within a span is noticed.
    fn noticed(&mut self, side: usize, span: Span) -> [f64; 2] {
        let (show, plan) = (self.show, self.plans[side]);
        *self.noticed.entry((side, span.from.to_bits(), span.to.to_bits())).or_insert_with(|| {
            [Way::Forth, Way::Back].map(|way| {
                let rigs = plan.moves.iter().map(|step| step.rig);
                rigs.map(|rig| notice(show, plan, rig, span, way)).fold(0.0, f64::max)
            })
        })
    }
}
