//! Stalls within one cue: proved as its clearance is, over two times at once.
//!
//! One rig stands where it is at s; the others, and what it carries or rides on as they move it, are at s + u, with u up
//! to how far they coast. Pairs whose bodies are all at one time are proved already.

use super::back::BrakesBack;
use super::brakes::SharedBrakes;
use super::coast::{Way, notice};
use crate::proof::bodies::{Cast, Paper, Span, Stagehand};
use crate::proof::clearance::{Against, Concern, Part, Search, Short};
use crate::proof::plan::CuePlan;
use crate::proof::stops::Stops;
use crate::show::{RigId, Show};
use crate::stage::Sweep;

/// s; the coast is worked out anew for parts of a cue of about this length.
const SLICE: f64 = 0.5;
/// Parts of a cue at most.
const SLICES_MAX: f64 = 128.0;
/// s; no finer.
const FINEST: f64 = 1e-4;

/// A cue of which one rig stalls.
struct Case<'a> {
    show: &'a Show,
    plan: &'a CuePlan,
    stops: &'a Stops,
    /// Where others may share its rate.
    shared: Option<&'a SharedBrakes<'a>>,
    rig: RigId,
    way: Way,
}

impl Case<'_> {
    /// s, the most that the others go on after a stall within a span; `back` is the most that their brake takes if
    /// the cue is taken back.
    fn coast(&self, at: Span, back: f64) -> f64 {
        let noticed = notice(self.show, self.plan, self.rig, at, self.way);
        let (alone, brakes) = match self.way {
            Way::Forth => (self.stops.way(at.from, at.to + noticed), Span { to: at.to + noticed, ..at }),
            Way::Back => (back, Span { from: at.from - noticed, ..at }),
        };
        noticed + self.shared.map_or(alone, |shared| shared.longest(self.way, brakes).max(alone))
    }

    /// The first parts of a search.
    fn slices(&self, brakes: &BrakesBack) -> impl Iterator<Item = Stall<'_>> {
        let slices = (self.plan.duration / SLICE).clamp(1.0, SLICES_MAX).ceil() as usize;
        let end = move |slice: usize| self.plan.duration * slice as f64 / slices as f64;
        (0..slices).map(move |slice| {
            let at = Span { from: end(slice), to: end(slice + 1) };
            let back = match self.way {
                Way::Forth => 0.0,
                Way::Back => brakes.longest(self.rig, at),
            };
            Stall { case: self, at, later: Span { from: 0.0, to: self.coast(at, back) }, back }
        })
    }
}

/// A rig that stalls within a span of the cue's time, the others going on from there by a span of times.
#[derive(Clone, Copy)]
struct Stall<'a> {
    case: &'a Case<'a>,
    at: Span,
    later: Span,
    /// s of the cue's own time.
    back: f64,
}

impl Stall<'_> {
    fn others(self) -> Span {
        let within = |time: f64| time.clamp(0.0, self.case.plan.duration);
        match self.case.way {
            Way::Forth => {
                Span { from: within(self.at.from + self.later.from), to: within(self.at.to + self.later.to) }
            }
            Way::Back => {
                Span { from: within(self.at.from - self.later.to), to: within(self.at.to - self.later.from) }
            }
        }
    }
}

impl Part for Stall<'_> {
    fn lay(self, cast: &Cast, paper: &mut Paper, sweeps: &mut Vec<Sweep>) {
        let others = self.others();
        cast.over_by(|rig| if rig == self.case.rig { self.at } else { others }, paper, sweeps);
    }

    fn middle(self) -> [f64; 2] {
        [self.at.middle(), self.others().middle() - self.at.middle()]
    }

    /// Of a shorter span it is known better how far the others coast.
    fn halves(self) -> [Self; 2] {
        if self.at.length() >= self.later.length() {
            self.at.halves().map(|at| {
                let coast = self.case.coast(at, self.back);
                Stall { at, later: Span { to: self.later.to.min(coast), ..self.later }, ..self }
            })
        } else {
            self.later.halves().map(|later| Stall { later, ..self })
        }
    }

    fn is_real(self) -> bool {
        let [at, later] = self.middle();
        later.abs() <= self.case.coast(Span::instant(at), self.back)
    }

    fn is_void(self) -> bool {
        self.later.from > self.later.to
    }

    fn is_finest(self) -> bool {
        self.at.length().max(self.later.length()) <= FINEST
    }
}

/// For each pair that comes too near, the rig whose stall brings it nearest: where the cue runs by itself, or at one rate with others.
pub fn within(
    hand: &Stagehand,
    plan: &CuePlan,
    stops: &Stops,
    shared: Option<&SharedBrakes>,
) -> Vec<(RigId, Short)> {
    let mut worst: Vec<(RigId, Short)> = Vec::new();
    let brakes = BrakesBack::new(hand.show, plan);
    for rig in moved_rigs(hand, plan) {
        let mut search = Search::new(hand, plan);
        let open = parted_by(hand, &search, plan, rig);
        if open.is_empty() {
            continue;
        }
        search.only_short();
        for way in [Way::Forth, Way::Back] {
            let case = Case { show: hand.show, plan, stops, shared, rig, way };
            case.slices(&brakes).for_each(|slice| search.look(slice, &open));
        }
        for short in search.found().short {
            let same = |known: &(RigId, Short)| {
                (known.1.group.rig, known.1.group.other) == (short.group.rig, short.group.other)
            };
            match worst.iter_mut().find(|known| same(known)) {
                Some(known) if short.closest.value < known.1.closest.value => *known = (rig, short),
                Some(_) => {}
                None => worst.push((rig, short)),
            }
        }
    }
    worst
}

/// How far the others go on at most once a rig stalls at a time of the cue.
pub fn coast(
    show: &Show,
    plan: &CuePlan,
    stops: &Stops,
    shared: Option<&SharedBrakes>,
    (rig, at, way): (RigId, f64, Way),
) -> f64 {
    let at = Span::instant(at);
    let case = Case { show, plan, stops, shared, rig, way };
    case.coast(at, BrakesBack::new(show, plan).longest(rig, at))
}

fn moved_rigs(hand: &Stagehand, plan: &CuePlan) -> Vec<RigId> {
    let moves = plan.moved_axes();
    let show = hand.show;
    let moved = |rig: &RigId| show.rig(*rig).axis_ids().any(|axis| moves[axis.index()]);
    show.rig_ids().filter(moved).collect()
}

/// The concerns of which the rig's stall leaves a part behind while the rest goes on.
fn parted_by(hand: &Stagehand, search: &Search, plan: &CuePlan, rig: RigId) -> Vec<Concern> {
    let moves = plan.moved_axes();
    let movers = |moved: usize| {
        let body = hand.body(search.cast.moved[moved]);
        let axes = body.carriers.iter().map(|carrier| carrier.axis).filter(|axis| moves[axis.index()]);
        axes.map(|axis| hand.show.axis(axis).rig)
    };
    let parted = |concern: &&Concern| {
        let other = match concern.against {
            Against::Moved(other) => Some(other),
            Against::Still(_) | Against::Zone(_) => None,
        };
        let mut stalls = movers(concern.mover).chain(other.into_iter().flat_map(movers)).map(|of| of == rig);
        let first = stalls.next();
        stalls.any(|stalls| Some(stalls) != first)
    };
    search.concerns.list.iter().filter(parted).copied().collect()
}
