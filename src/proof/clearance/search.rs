//! The search over a cue's time.

use super::concern::{Against, Bound, Concern, Concerns, Group, Party, bound_apart, bound_zone, zone_block};
use super::{BRACKET, SLACK};
use crate::proof::bodies::{Cast, Paper, Span, Stagehand};
use crate::proof::plan::CuePlan;
use crate::stage::{Sweep, gap};
use glam::DVec3;
use serde::{Deserialize, Serialize};

/// Instants looked at first, so that the search knows early how near things come.
const FIRST_LOOKS: usize = 16;
/// s; a span this short that is not proved is told as not proved.
const FINEST: f64 = 1e-5;
/// Spans looked at in one cue at most; what is left is told as not proved, unless it was seen to fall short already: then it is told
/// where it was nearest of what was looked at.
const LOOKS_MAX: usize = 200_000;

/// Where two things are nearest over a cue.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Closest {
    /// m, of the bodies grown by the start tolerances; no instant of the cue has less by more than a millimetre, unless the looks gave
    /// out.
    pub value: f64,
    /// s, of the cue's own time.
    pub time: f64,
    /// The first is a body that the cue moves.
    pub parties: [Party; 2],
    /// Halfway between them, in the world.
    pub place: DVec3,
}

/// Two rigs, or a rig and a zone, whose clearance falls short.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Short {
    pub group: Group,
    pub closest: Closest,
    /// s, from the time of that to where the other rigs are in the cue; 0 where all are at one time of it.
    pub later: f64,
    /// Whether they were seen to come too near; else it could only not be proved that they do not.
    pub seen: bool,
}

/// What a cue keeps clear.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Found {
    pub closest: Option<Closest>,
    pub short: Vec<Short>,
}

/// Of one cue, all its bodies against all others and the zones.
pub fn clearance(hand: &Stagehand, plan: &CuePlan) -> Found {
    clearance_of(hand, plan, &|_| true)
}

/// The same of some pairs of rigs, and of rigs and zones, alone.
pub fn clearance_of(hand: &Stagehand, plan: &CuePlan, wanted: &dyn Fn(&Group) -> bool) -> Found {
    let mut search = Search::of(hand, plan, wanted);
    if !search.concerns.list.is_empty() {
        search.run(plan.duration);
    }
    search.found()
}

/// Whether some of these keep their margins all along, which is known sooner than how near they come.
pub fn keeps_margins(hand: &Stagehand, plan: &CuePlan, wanted: &dyn Fn(&Group) -> bool) -> bool {
    let mut search = Search::of(hand, plan, wanted);
    search.only_short();
    let open = std::mem::take(&mut search.concerns.list);
    if !open.is_empty() {
        search.look(Span { from: 0.0, to: plan.duration }, &open);
    }
    search.found().short.is_empty()
}

/// A part of what is searched: a span of the cue's time, or more than that.
pub trait Part: Copy {
    /// Lays out the moved bodies at its middle, with how far they get from there within it.
    fn lay(self, cast: &Cast, paper: &mut Paper, sweeps: &mut Vec<Sweep>);
    /// s, of the cue, at its middle; and how much later the other rigs are there.
    fn middle(self) -> [f64; 2];
    fn halves(self) -> [Self; 2];
    /// Whether it is not to be halved again.
    fn is_finest(self) -> bool;
    /// Whether its middle can come about; else what is seen there says nothing.
    fn is_real(self) -> bool {
        true
    }
    /// Whether there is nothing in it.
    fn is_void(self) -> bool {
        false
    }
}

impl Part for Span {
    fn lay(self, cast: &Cast, paper: &mut Paper, sweeps: &mut Vec<Sweep>) {
        cast.over(self, paper, sweeps);
    }

    fn middle(self) -> [f64; 2] {
        [Span::middle(self), 0.0]
    }

    fn halves(self) -> [Span; 2] {
        Span::halves(self)
    }

    fn is_finest(self) -> bool {
        self.length() <= FINEST
    }
}

/// What is known of one group, and how much later the other rigs are there.
struct Known {
    closest: Option<(Closest, f64)>,
    unproved: Option<(Closest, f64)>,
}

/// Of one cue.
pub struct Search<'a> {
    hand: &'a Stagehand<'a>,
    pub cast: Cast<'a>,
    still: Vec<(usize, Sweep)>,
    /// By zone.
    zones: Vec<Sweep>,
    pub concerns: Concerns<'a>,
    /// By group.
    known: Vec<Known>,
    /// m, the least clearance found in any group.
    least: f64,
    paper: Paper,
    /// The moved bodies over the span that is looked at.
    sweeps: Vec<Sweep>,
    looks: usize,
}

impl<'a> Search<'a> {
    pub fn new(hand: &'a Stagehand<'a>, plan: &'a CuePlan) -> Search<'a> {
        Search::of(hand, plan, &|_| true)
    }

    fn of(hand: &'a Stagehand<'a>, plan: &'a CuePlan, wanted: &'a dyn Fn(&Group) -> bool) -> Search<'a> {
        let cast = Cast::new(hand, plan);
        let (concerns, still) = Concerns::of(hand, &cast, wanted);
        let known = concerns.groups.iter().map(|_| Known { closest: None, unproved: None }).collect();
        Search {
            hand,
            paper: cast.paper(),
            cast,
            still,
            zones: hand.show.zones.iter().map(zone_block).collect(),
            concerns,
            known,
            least: f64::INFINITY,
            sweeps: Vec::new(),
            looks: 0,
        }
    }

    fn run(&mut self, duration: f64) {
        let all: Vec<Concern> = self.concerns.list.clone();
        for look in 0..=FIRST_LOOKS {
            let instant = Span::instant(duration * look as f64 / FIRST_LOOKS as f64);
            instant.lay(&self.cast, &mut self.paper, &mut self.sweeps);
            for concern in &all {
                self.settle(concern, instant);
            }
        }
        self.look(Span { from: 0.0, to: duration }, &all);
    }

    /// Only what falls short is wanted, not the least clearance of all.
    pub fn only_short(&mut self) {
        self.least = f64::NEG_INFINITY;
    }

    pub fn look(&mut self, part: impl Part, open: &[Concern]) {
        if part.is_void() {
            return;
        }
        self.looks += 1;
        part.lay(&self.cast, &mut self.paper, &mut self.sweeps);
        let open: Vec<Concern> = open.iter().filter(|concern| !self.settle(concern, part)).copied().collect();
        if open.is_empty() {
            return;
        }
        if part.is_finest() || self.looks > LOOKS_MAX {
            let [time, later] = part.middle();
            for concern in &open {
                let value = self.bound(concern, f64::INFINITY).middle.max(0.0);
                self.known[concern.group].unproved = Some((self.closest(concern, value, time), later));
            }
            return;
        }
        for half in part.halves() {
            self.look(half, &open);
        }
    }

    /// Whether the span holds nothing more to know about the concern: it keeps its margin, or it is known already how
    /// far it falls short; and nothing in it is the nearest of the cue.
    fn settle(&mut self, concern: &Concern, part: impl Part) -> bool {
        let enough = self.enough(concern);
        // A clearance is never below zero.
        if enough <= 0.0 {
            return true;
        }
        let bound = self.bound(concern, enough);
        if bound.least >= enough {
            return true;
        }
        let value = bound.middle.max(0.0);
        let known = &self.known[concern.group].closest;
        if known.is_none_or(|(closest, _)| value < closest.value) && part.is_real() {
            let [time, later] = part.middle();
            self.known[concern.group].closest = Some((self.closest(concern, value, time), later));
            self.least = self.least.min(value);
        }
        let enough = self.enough(concern);
        enough <= 0.0 || bound.least >= enough
    }

    fn enough(&self, concern: &Concern) -> f64 {
        let margin = self.concerns.groups[concern.group].margin - SLACK;
        let found = self.known[concern.group].closest.map_or(f64::INFINITY, |(closest, _)| closest.value);
        let of_group = if found < margin { found - BRACKET } else { margin };
        of_group.max(self.least - BRACKET)
    }

    fn bound(&self, concern: &Concern, enough: f64) -> Bound {
        let mover = &self.sweeps[concern.mover];
        match concern.against {
            Against::Moved(other) => bound_apart(mover, &self.sweeps[other], enough),
            Against::Still(other) => bound_apart(mover, &self.still[other].1, enough),
            Against::Zone(zone) => bound_zone(&self.hand.show.zones[zone], &self.zones[zone], mover, enough),
        }
    }

    fn closest(&self, concern: &Concern, value: f64, time: f64) -> Closest {
        let mover = &self.sweeps[concern.mover];
        let party = |body: usize| Party::of(self.hand.body(body));
        let (other, sweep) = match concern.against {
            Against::Moved(other) => (party(self.cast.moved[other]), &self.sweeps[other]),
            Against::Still(other) => (party(self.still[other].0), &self.still[other].1),
            Against::Zone(zone) => (Party::Zone(zone), &self.zones[zone]),
        };
        let [from, to] = gap(&mover.solid, &sweep.solid).points;
        let parties = [party(self.cast.moved[concern.mover]), other];
        Closest { value, time, parties, place: (from + to) / 2.0 }
    }

    pub fn found(self) -> Found {
        let closest = self.known.iter().filter_map(|known| known.closest);
        let closest = closest.map(|(closest, _)| closest).min_by(|a, b| a.value.total_cmp(&b.value));
        let groups = self.concerns.groups.into_iter().zip(self.known);
        let short = groups.filter_map(|(group, known)| {
            let seen = known.closest.filter(|(closest, _)| closest.value < group.margin - SLACK);
            let (closest, later) = seen.or(known.unproved)?;
            Some(Short { group, closest, later, seen: seen.is_some() })
        });
        Found { closest, short: short.collect() }
    }
}
