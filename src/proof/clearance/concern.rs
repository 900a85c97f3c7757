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

impl Group {
    /// Whether it is of the same two.
    pub fn is_same(&self, other: &Group) -> bool {
        (self.rig, self.other) == (other.rig, other.other)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Other {
    Rig(RigId),
    Zone(usize),
}

/// What a cue has to keep apart.
pub struct Concerns<'a> {
    hand: &'a Stagehand<'a>,
    wanted: &'a dyn Fn(&Group) -> bool,
    pub list: Vec<Concern>,
    pub groups: Vec<Group>,
}

impl<'a> Concerns<'a> {
    /// Of the groups that are wanted; with the bodies that stand still, as far as they are in one, and their indices.
    pub fn of(
        hand: &'a Stagehand<'a>,
        cast: &Cast,
        wanted: &'a dyn Fn(&Group) -> bool,
    ) -> (Concerns<'a>, Vec<(usize, Sweep)>) {
        let mut concerns = Concerns { hand, wanted, list: Vec::new(), groups: Vec::new() };
        let rig_of = |body: usize| hand.body(body).rig;
        let mut movers: Vec<RigId> = cast.moved.iter().map(|&body| rig_of(body)).collect();
        movers.dedup();
        let still = cast.still(|rig| movers.iter().any(|&mover| concerns.wants(mover, rig)));
        for (mover, &body) in cast.moved.iter().enumerate() {
            let rig = rig_of(body);
            for (at, &other) in cast.moved.iter().enumerate().skip(mover + 1) {
                concerns.add_pair(mover, rig, Against::Moved(at), rig_of(other));
            }
            for (at, (other, _)) in still.iter().enumerate() {
                concerns.add_pair(mover, rig, Against::Still(at), rig_of(*other));
            }
            for (at, zone) in hand.show.zones.iter().enumerate().filter(|(_, zone)| zone.rigs.contains(&rig)) {
                concerns.add(mover, Against::Zone(at), Group { rig, other: Other::Zone(at), margin: zone.margin });
            }
        }
        (concerns, still)
    }

    /// Whether two rigs may form a group, whichever way round.
    fn wants(&self, one: RigId, other: RigId) -> bool {
        let group = |rig: RigId, other: RigId, margin: f64| Group { rig, other: Other::Rig(other), margin };
        let margin = self.hand.margin(one, other);
        margin.is_some_and(|margin| {
            (self.wanted)(&group(one, other, margin)) || (self.wanted)(&group(other, one, margin))
        })
    }

    fn add_pair(&mut self, mover: usize, rig: RigId, against: Against, other: RigId) {
        if let Some(margin) = self.hand.margin(rig, other) {
            self.add(mover, against, Group { rig, other: Other::Rig(other), margin });
        }
    }

    /// A group is named as it comes up first.
    fn add(&mut self, mover: usize, against: Against, group: Group) {
        let turned = |known: &Group| known.other == Other::Rig(group.rig) && Other::Rig(known.rig) == group.other;
        let same = |known: &Group| known.rig == group.rig && known.other == group.other;
        let known = self.groups.iter().position(|known| same(known) || turned(known));
        let at = known.or_else(|| {
            (self.wanted)(&group).then(|| {
                self.groups.push(group);
                self.groups.len() - 1
            })
        });
        self.list.extend(at.map(|group| Concern { mover, against, group }));
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

/// m, the clearance of two bodies at any instant is no less, tolerances apart.
pub fn bare_apart(a: &Sweep, b: &Sweep) -> f64 {
    let gap = gap(&a.solid, &b.solid);
    let shifts = gap.direction.map_or(a.shift + b.shift, |way| a.shift_along(way) + b.shift_along(way));
    gap.distance - shifts
}

/// m, the same of a body and a zone.
pub fn bare_zone(zone: &Zone, block: &Sweep, a: &Sweep) -> f64 {
    match zone.keep {
        Keep::Out => bare_apart(a, block),
        Keep::In => {
            let normals = DVec3::AXES.into_iter().flat_map(|axis| [axis, -axis]);
            let reach = |normal: DVec3| a.solid.core.centre().dot(normal) + a.solid.reach(normal);
            let inward = |normal: DVec3| corner_along(zone, normal) - reach(normal) - a.shift_along(normal);
            normals.map(inward).fold(f64::INFINITY, f64::min)
        }
    }
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
