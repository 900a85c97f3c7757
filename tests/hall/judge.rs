//! A judge of every setpoint of every tick, who takes nothing from the product but the show as it was read.
//!
//! Where bodies are he works out by matrices from how a show folder describes joints; how far apart they are, by
//! [`super::apart`]. What has moved since he last measured two bodies can have brought them nearer by no more than their own
//! corners went, since every point of a hull goes no farther than the farthest of its corners: so each pair is measured again
//! only when that could have used up what it had to spare, and nothing is missed in between.

use bellwire::show::{AxisId, JointKind, Keep, RigId, Shape, Show, Unit};
use glam::{DMat3, DVec3};

use super::apart::{EXACT, Hull, distance, of_zone};

/// m, that is measured exactly; what is farther is farther.
const MEASURED: f64 = 3.0;

/// A body in the frame that it hangs on.
struct Limb {
    rig: RigId,
    /// `None`: on the base.
    axis: Option<AxisId>,
    points: Vec<DVec3>,
    radius: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Other {
    /// Index of a limb.
    Limb(usize),
    /// Index of a zone to stay out of, or in.
    Out(usize),
    In(usize),
}

/// Two things that must keep a margin.
struct Pairing {
    limb: usize,
    other: Other,
    margin: f64,
    /// What it may not fall below: the margin, or as near as it was put when power came on.
    floor: f64,
    /// m, when it was measured last, and how far both had gone by then.
    found: f64,
    gone: f64,
}

/// Something nearer than it may be.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    pub tick: u64,
    pub between: [String; 2],
    pub distance: f64,
    pub margin: f64,
}

impl Breach {
    /// m below the margin.
    pub fn depth(&self) -> f64 {
        self.margin - self.distance
    }
}

pub struct Judge {
    show: Show,
    limbs: Vec<Limb>,
    zones: Vec<Hull>,
    pairings: Vec<Pairing>,
    pose: Vec<f64>,
    /// By limb: in the world, and m that its corners have gone since the beginning.
    hulls: Vec<Hull>,
    gone: Vec<f64>,
    /// Measurements, so that nobody thinks that there were none.
    pub measured: u64,
    /// m below the margin, at most, at which something was put as power came on.
    pub put_nearer: f64,
}

fn points(shape: &Shape) -> (Vec<DVec3>, f64) {
    match *shape {
        Shape::Sphere { at, radius } => (vec![at], radius),
        Shape::Capsule { from, to, radius } => (vec![from, to], radius),
        Shape::Box { min, max } => {
            let corner = |bits: u8| {
                let pick = |bit: u8, low: f64, high: f64| if bits >> bit & 1 == 0 { low } else { high };
                DVec3::new(pick(0, min.x, max.x), pick(1, min.y, max.y), pick(2, min.z, max.z))
            };
            ((0..8).map(corner).collect(), 0.0)
        }
    }
}

fn limbs(show: &Show) -> Vec<Limb> {
    let mut limbs = Vec::new();
    for rig in show.rig_ids() {
        let mut hang = |axis: Option<AxisId>, shapes: &[Shape]| {
            for shape in shapes {
                let (points, radius) = points(shape);
                limbs.push(Limb { rig, axis, points, radius });
            }
        };
        hang(None, &show.rig(rig).bodies);
        show.rig(rig).axis_ids().for_each(|axis| hang(Some(axis), &show.axis(axis).bodies));
    }
    limbs
}

/// About a unit vector, right-handed: Rodrigues' formula.
fn turned(about: DVec3, radians: f64) -> DMat3 {
    let cross = DMat3::from_cols(
        DVec3::new(0.0, about.z, -about.y),
        DVec3::new(-about.z, 0.0, about.x),
        DVec3::new(about.y, -about.x, 0.0),
    );
    DMat3::IDENTITY + cross * radians.sin() + cross * cross * (1.0 - radians.cos())
}

/// Where the base of a rig is, and the frames of its axes, base to tip: origin and orientation.
fn frames(show: &Show, rig: RigId, pose: &[f64]) -> Vec<(DVec3, DMat3)> {
    let machine = show.rig(rig);
    let (ground, lies) = machine.mount.map_or((DVec3::ZERO, DMat3::IDENTITY), |axis| {
        let carrier = show.axis(axis).rig;
        let at = show.rig(carrier).axis_ids().position(|own| own == axis).unwrap();
        frames(show, carrier, pose)[at + 1]
    });
    let base = (ground + lies * machine.at, lies * turned(DVec3::Z, machine.facing.to_radians()));
    let mut all = vec![base];
    // A levelled joint turns what hangs on it, and the place of the next, but not the orientation of what comes after.
    let (mut reached, mut level) = (base, base.1);
    for axis in machine.axis_ids() {
        let (written, position) = (show.axis(axis), pose[axis.index()]);
        let Some(joint) = &written.joint else {
            all.push((reached.0, level));
            continue;
        };
        let origin = reached.0 + reached.1 * joint.at;
        reached = match (joint.kind, written.unit) {
            (JointKind::Turn, Unit::Degree) => (origin, level * turned(joint.direction, position.to_radians())),
            (JointKind::Turn, Unit::Turn) => {
                (origin, level * turned(joint.direction, position * std::f64::consts::TAU))
            }
            (JointKind::Slide, Unit::Metre) => (origin + level * (joint.direction * position), level),
            (JointKind::Slide, Unit::Millimetre) => (origin + level * (joint.direction * position / 1000.0), level),
            (kind, unit) => panic!("a joint that cannot {kind:?} by {unit:?}"),
        };
        level = if joint.level { level } else { reached.1 };
        all.push(reached);
    }
    all
}

impl Judge {
    pub fn new(show: &Show) -> Judge {
        let limbs = limbs(show);
        let pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let mut judge = Judge {
            hulls: limbs.iter().map(|limb| (limb.points.clone(), limb.radius)).collect(),
            gone: vec![0.0; limbs.len()],
            zones: show.zones.iter().map(of_zone).collect(),
            pairings: pairings(show, &limbs),
            show: show.clone(),
            pose,
            limbs,
            measured: 0,
            put_nearer: 0.0,
        };
        for rig in show.rig_ids() {
            judge.lay(rig);
        }
        judge
    }

    /// Puts the limbs of a rig where the pose has them.
    fn lay(&mut self, rig: RigId) {
        let frames = frames(&self.show, rig, &self.pose);
        let first = self.show.rig(rig).axes.start;
        for (index, limb) in self.limbs.iter().enumerate().filter(|(_, limb)| limb.rig == rig) {
            let (origin, turn) = frames[limb.axis.map_or(0, |axis| axis.index() - usize::from(first) + 1)];
            let mut farthest = 0.0_f64;
            for (point, was) in limb.points.iter().zip(&mut self.hulls[index].0) {
                let is = origin + turn * *point;
                farthest = farthest.max(was.distance_squared(is));
                *was = is;
            }
            self.gone[index] += farthest.sqrt();
        }
    }

    /// Looks at where everything is told to be, and tells what is farthest below its margin. `put`: some of it was not driven there, but put where it was measured.
    pub fn look(&mut self, tick: u64, pose: &[f64], put: bool) -> Option<Breach> {
        for rig in self.show.rig_ids() {
            let moves = |rig: RigId| {
                self.show.rig(rig).axis_ids().any(|axis| self.pose[axis.index()] != pose[axis.index()])
            };
            if self.show.carriers(rig).any(moves) || moves(rig) {
                let was = std::mem::replace(&mut self.pose, pose.to_vec());
                self.lay(rig);
                self.pose = was;
            }
        }
        self.pose.copy_from_slice(pose);
        let mut deepest: Option<Breach> = None;
        for at in 0..self.pairings.len() {
            let Pairing { limb, other, margin, floor, found, gone } = self.pairings[at];
            let beside = if let Other::Limb(other) = other { self.gone[other] } else { 0.0 };
            let now = self.gone[limb] + beside;
            if found - (now - gone) >= floor.max(margin) && found > 0.0 {
                continue;
            }
            self.measured += 1;
            let found = self.measure(at, MEASURED);
            let pairing = &mut self.pairings[at];
            (pairing.found, pairing.gone) = (found, now);
            if found >= margin - EXACT {
                pairing.floor = margin;
            } else if put {
                // From there a rig in hand may come nearer by a millimetre, and that once.
                pairing.floor = pairing.floor.min(found - 1e-3);
                self.put_nearer = self.put_nearer.max(margin - found);
            } else if found < floor - EXACT {
                let breach = Breach { tick, between: self.names(at), distance: found, margin };
                deepest = if deepest.as_ref().is_none_or(|was| was.depth() < breach.depth()) {
                    Some(breach)
                } else {
                    deepest
                };
            }
        }
        deepest
    }

    fn measure(&self, at: usize, enough: f64) -> f64 {
        let Pairing { limb, other, .. } = self.pairings[at];
        let hull = &self.hulls[limb];
        match other {
            Other::Limb(other) => distance(hull, &self.hulls[other], enough),
            Other::Out(zone) => distance(hull, &self.zones[zone], enough),
            Other::In(zone) => {
                let zone = &self.show.zones[zone];
                let inward = |point: &DVec3| (*point - zone.min).min(zone.max - *point).min_element() - hull.1;
                hull.0.iter().map(inward).fold(f64::INFINITY, f64::min).max(0.0)
            }
        }
    }

    /// m by which the corners of a limb go when each axis that carries it is off by so much, added up over the axes.
    fn strays(&self, limb: usize, off: &[f64]) -> f64 {
        let Limb { rig, axis, ref points, .. } = self.limbs[limb];
        let at = |pose: &[f64]| {
            let first = self.show.rig(rig).axes.start;
            let (origin, turn) =
                frames(&self.show, rig, pose)[axis.map_or(0, |axis| axis.index() - usize::from(first) + 1)];
            points.iter().map(|point| origin + turn * *point).collect::<Vec<_>>()
        };
        let carriers = self.show.carriers(rig).chain([rig]).flat_map(|rig| self.show.rig(rig).axis_ids());
        let goes = carriers.filter(|axis| off[axis.index()] > 0.0).map(|axis| {
            let beside = |way: f64| {
                let mut pose = self.pose.clone();
                pose[axis.index()] += way * off[axis.index()];
                at(&pose)
            };
            let (low, high) = (beside(-1.0), beside(1.0));
            low.iter().zip(&high).map(|(low, high)| low.distance(*high) / 2.0).fold(0.0, f64::max)
        });
        goes.sum()
    }

    fn names(&self, at: usize) -> [String; 2] {
        let Pairing { limb, other, .. } = self.pairings[at];
        let rig = |limb: usize| self.show.rig(self.limbs[limb].rig).name.clone();
        let beside = match other {
            Other::Limb(other) => rig(other),
            Other::Out(zone) | Other::In(zone) => self.show.zones[zone].name.clone(),
        };
        [rig(limb), beside]
    }

    /// m to spare between a rig and another, or a zone, were these the positions; infinite if nothing of them must keep apart.
    pub fn spare(&mut self, rig: RigId, beside: Beside, pose: &[f64]) -> f64 {
        self.spare_within(rig, beside, pose, &vec![0.0; pose.len()])
    }

    /// The same, were each axis anywhere within `off` of there, by as much as that can bring two limbs nearer: no less than what each
    /// axis by itself moves their corners.
    pub fn spare_within(&mut self, rig: RigId, beside: Beside, pose: &[f64], off: &[f64]) -> f64 {
        let (hulls, gone, was) = (self.hulls.clone(), self.gone.clone(), self.pose.clone());
        self.pose.copy_from_slice(pose);
        for one in self.show.rig_ids().collect::<Vec<_>>() {
            self.lay(one);
        }
        let concerns = |pairing: &Pairing| match (pairing.other, beside) {
            (Other::Limb(other), Beside::Rig(beside)) => {
                let rigs = [self.limbs[pairing.limb].rig, self.limbs[other].rig];
                rigs == [rig, beside] || rigs == [beside, rig]
            }
            (Other::Out(zone) | Other::In(zone), Beside::Zone(beside)) => {
                zone == beside && self.limbs[pairing.limb].rig == rig
            }
            (Other::Limb(_), Beside::Zone(_)) | (Other::Out(_) | Other::In(_), Beside::Rig(_)) => false,
        };
        let pairings = self.pairings.iter().enumerate().filter(|(_, pairing)| concerns(pairing));
        let spare = pairings.map(|(at, pairing)| {
            let other = if let Other::Limb(other) = pairing.other { Some(other) } else { None };
            let strays = [Some(pairing.limb), other].into_iter().flatten().map(|limb| self.strays(limb, off));
            self.measure(at, f64::INFINITY) - pairing.margin - strays.sum::<f64>()
        });
        let least = spare.fold(f64::INFINITY, f64::min);
        (self.hulls, self.gone, self.pose) = (hulls, gone, was);
        least
    }
}

/// What a rig may come near.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    Rig(RigId),
    Zone(usize),
}

/// Every two things that must keep apart, of which one can move.
fn pairings(show: &Show, limbs: &[Limb]) -> Vec<Pairing> {
    let mut all = Vec::new();
    let mut pair = |limb: usize, other: Other, margin: f64| {
        all.push(Pairing { limb, other, margin, floor: margin, found: 0.0, gone: 0.0 });
    };
    for (one, limb) in limbs.iter().enumerate() {
        for (other, beside) in limbs.iter().enumerate().skip(one + 1) {
            let rigs = [limb.rig, beside.rig];
            let pair_of = show.pairs.iter().find(|pair| pair.rigs == rigs || pair.rigs == [rigs[1], rigs[0]]);
            let stand = [limb, beside].iter().all(|one| one.axis.is_none() && show.rig(one.rig).mount.is_none());
            if !show.same_carriage(rigs[0], rigs[1]) && !stand {
                pair(one, Other::Limb(other), pair_of.map_or(show.settings.margin, |pair| pair.margin));
            }
        }
        let rides = limb.axis.is_some() || show.rig(limb.rig).mount.is_some();
        for (at, zone) in show.zones.iter().enumerate().filter(|(_, zone)| rides && zone.rigs.contains(&limb.rig)) {
            pair(one, if zone.keep == Keep::Out { Other::Out(at) } else { Other::In(at) }, zone.margin);
        }
    }
    all
}
