//! Two things that must stay apart, and how near they can come.

use glam::DVec3;
use serde::{Deserialize, Serialize};

use crate::proof::bodies::{Cast, Stagehand};
use crate::show::{AxisId, Keep, RigId, Show, Zone};
use crate::stage::{Body, Solid, Sweep, gap};

/// What a clearance is measured to or from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Party {
    Body {
        rig: RigId,
        /// `None`: on the base.
        axis: Option<AxisId>,
        index: usize,
    },
    /// Index into `Show::zones`.
    Zone(usize),
}

impl Party {
    pub fn of(body: &Body) -> Party {
        Party::Body { rig: body.rig, axis: body.axis, index: body.index }
    }

    pub fn rig(&self) -> Option<RigId> {
        match self {
            Party::Body { rig, .. } => Some(*rig),
            Party::Zone(_) => None,
        }
    }

    /// `rig/axis/body`, `rig/base/body` or `zone/name`, as the contract writes bodies.
    pub fn name(&self, show: &Show) -> String {
        match self {
            Party::Body { rig, axis, index } => {
                let on = axis.map_or("base", |axis| show.axis(axis).name.as_str());
                format!("{}/{on}/{index}", show.rig(*rig).name)
            }
            Party::Zone(zone) => format!("zone/{}", show.zones[*zone].name),
        }
    }
}

/// The other side of a concern.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Against {
    /// Index into the moved bodies.
    Moved(usize),
    /// Index into the bodies that stand still.
    Still(usize),
    /// Index into `Show::zones`.
    Zone(usize),
}

/// A body that the cue moves, and what it must keep clear of.
#[derive(Clone, Copy, Debug)]
pub struct Concern {
    /// Index into the moved bodies.
    pub mover: usize,
    pub against: Against,
    /// The concerns of two rigs, or of a rig and a zone, form one group; a show's people are told one thing of it.
    pub group: usize,
}

/// Two rigs, or a rig and a zone.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Group {
    pub rig: RigId,
    pub other: Other,
    /// m
    pub margin: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Other {
    Rig(RigId),
    Zone(usize),
}

/// Everything that a cue has to keep apart.
pub struct Concerns {
    pub list: Vec<Concern>,
    pub groups: Vec<Group>,
}

impl Concerns {
    pub fn of(hand: &Stagehand, cast: &Cast, still: &[(usize, Sweep)]) -> Concerns {
        let mut concerns = Concerns { list: Vec::new(), groups: Vec::new() };
        let rig_of = |body: usize| hand.body(body).rig;
        for (mover, &body) in cast.moved.iter().enumerate() {
            let rig = rig_of(body);
            for (at, &other) in cast.moved.iter().enumerate().skip(mover + 1) {
                concerns.add_pair(hand, mover, rig, Against::Moved(at), rig_of(other));
            }
            for (at, (other, _)) in still.iter().enumerate() {
                concerns.add_pair(hand, mover, rig, Against::Still(at), rig_of(*other));
            }
            for (at, zone) in hand.show.zones.iter().enumerate().filter(|(_, zone)| zone.rigs.contains(&rig)) {
                let group = concerns.group(rig, Other::Zone(at), zone.margin);
                concerns.list.push(Concern { mover, against: Against::Zone(at), group });
            }
        }
        concerns
    }

    fn add_pair(&mut self, hand: &Stagehand, mover: usize, rig: RigId, against: Against, other: RigId) {
        if let Some(margin) = hand.margin(rig, other) {
            let group = self.group(rig, Other::Rig(other), margin);
            self.list.push(Concern { mover, against, group });
        }
    }

    fn group(&mut self, rig: RigId, other: Other, margin: f64) -> usize {
        let turned = |group: &Group| group.other == Other::Rig(rig) && Other::Rig(group.rig) == other;
        let known =
            self.groups.iter().position(|group| (group.rig == rig && group.other == other) || turned(group));
        known.unwrap_or_else(|| {
            self.groups.push(Group { rig, other, margin });
            self.groups.len() - 1
        })
    }
}

/// How near two things come within a span.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// m, the clearance at any instant is no less; below zero says nothing.
    pub least: f64,
    /// m, the clearance at the middle of the span; infinite where it was not worked out, `least` being enough.
    pub middle: f64,
    /// m, the bodies themselves come at least as near as this at every instant, tolerances apart.
    pub most: f64,
}

/// Of two bodies. `enough` is what the caller needs `least` to be: where a coarse look shows it, no other is taken.
pub fn bound_apart(a: &Sweep, b: &Sweep, enough: f64) -> Bound {
    let (strays, shifts) = (a.shift + a.growth + b.shift + b.growth, a.shift + b.shift);
    let ((at_a, radius_a), (at_b, radius_b)) = (a.solid.ball(), b.solid.ball());
    let coarse = at_a.distance(at_b) - radius_a - radius_b - strays;
    if coarse >= enough {
        return Bound { least: coarse, middle: f64::INFINITY, most: f64::INFINITY };
    }
    let gap = gap(&a.solid, &b.solid);
    let mut bound = Bound {
        least: gap.distance - strays,
        middle: gap.distance - a.growth - b.growth,
        most: gap.distance + shifts,
    };
    if let (true, Some(direction)) = (bound.least < enough, gap.direction) {
        bound.least = bound.least.max(gap.distance - a.along(direction) - b.along(direction));
        let growth = a.growth_along(direction) + b.growth_along(direction);
        bound.middle = bound.middle.max(gap.distance - growth);
    }
    bound
}

/// Of a body in a zone to keep in: over the faces, the inward distance of its extreme point.
pub fn bound_within(zone: &Zone, a: &Sweep) -> Bound {
    let mut bound = Bound { least: f64::INFINITY, middle: f64::INFINITY, most: f64::INFINITY };
    let centre = a.solid.core.centre();
    for normal in DVec3::AXES.into_iter().flat_map(|axis| [axis, -axis]) {
        let reach = centre.dot(normal) + a.solid.reach(normal);
        let inward = corner_along(zone, normal) - reach;
        bound.least = bound.least.min(inward - a.along(normal));
        bound.middle = bound.middle.min(inward - a.growth_along(normal));
        bound.most = bound.most.min(inward + a.shift);
    }
    bound
}

/// How far the zone goes along a normal of one of its faces.
fn corner_along(zone: &Zone, normal: DVec3) -> f64 {
    (zone.min * normal).max(zone.max * normal).dot(DVec3::ONE)
}

/// A zone's own place, for those to keep out.
pub fn zone_block(zone: &Zone) -> Sweep {
    Sweep::still(Solid::upright(zone.min, zone.max))
}

/// Of a body and a zone.
pub fn bound_zone(zone: &Zone, block: &Sweep, a: &Sweep, enough: f64) -> Bound {
    match zone.keep {
        Keep::Out => bound_apart(a, block, enough),
        Keep::In => bound_within(zone, a),
    }
}
