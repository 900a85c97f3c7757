//! Distances by the tests' own code, which knows corners and radii alone: the shortest way between two convex hulls is the point
//! nearest to nothing of all differences of their points, found by walking towards the farthest of them again and again
//! (Gilbert 1966). Slow, simple, and of no kin to what it judges.

use bellwire::show::{Keep, Show, Zone};
use bellwire::stage::{Placed, Stage, WorldShape};
use glam::DVec3;

/// m, by which a distance may be off.
pub const OFF: f64 = 2e-3;
/// Steps, after which it is as it is.
const STEPS: usize = 4000;

/// What a body is the hull of, and the radius around that.
fn corners(shape: &WorldShape) -> (Vec<DVec3>, f64) {
    match *shape {
        WorldShape::Sphere { at, radius } => (vec![at], radius),
        WorldShape::Capsule { from, to, radius } => (vec![from, to], radius),
        WorldShape::Box { corners } => (corners.to_vec(), 0.0),
    }
}

fn of_zone(zone: &Zone) -> (Vec<DVec3>, f64) {
    let pick = |bits: usize, bit: usize, low: f64, high: f64| if bits >> bit & 1 == 0 { low } else { high };
    let corner = |bits| {
        DVec3::new(
            pick(bits, 0, zone.min.x, zone.max.x),
            pick(bits, 1, zone.min.y, zone.max.y),
            pick(bits, 2, zone.min.z, zone.max.z),
        )
    };
    ((0..8).map(corner).collect(), 0.0)
}

fn farthest(points: &[DVec3], along: DVec3) -> DVec3 {
    points.iter().copied().max_by(|a, b| a.dot(along).total_cmp(&b.dot(along))).unwrap()
}

/// m, not below zero; too great by [`OFF`] at most. `enough` or more need not be told exactly.
fn distance(a: &(Vec<DVec3>, f64), b: &(Vec<DVec3>, f64), enough: f64) -> f64 {
    let radii = a.1 + b.1;
    let mut at = a.0[0] - b.0[0];
    for _ in 0..STEPS {
        let length = at.length();
        if length <= radii {
            return 0.0;
        }
        let next = farthest(&a.0, -at) - farthest(&b.0, at);
        // No difference lies before the plane through `next` across the way.
        let least = next.dot(at) / length;
        if least - radii >= enough || length - least <= OFF {
            return length - radii;
        }
        let way = next - at;
        at += way * (-at.dot(way) / way.length_squared()).clamp(0.0, 1.0);
    }
    (at.length() - radii).max(0.0)
}

/// Whether something of these poses comes nearer than it may: what, how near, and the margin.
pub fn too_near(show: &Show, stage: &Stage, pose: &[f64]) -> Option<(String, f64, f64)> {
    let mut placed: Vec<Placed> = Vec::new();
    stage.place(pose, &mut placed);
    let hulls: Vec<_> = placed.iter().map(|body| corners(&body.shape)).collect();
    let name = |at: usize| show.rig(placed[at].rig).name.clone();
    for (one, hull) in hulls.iter().enumerate() {
        for (other, beside) in hulls.iter().enumerate().skip(one + 1) {
            let rigs = [placed[one].rig, placed[other].rig];
            if show.same_carriage(rigs[0], rigs[1]) {
                continue;
            }
            let pair = show.pairs.iter().find(|pair| pair.rigs == rigs || pair.rigs == [rigs[1], rigs[0]]);
            let margin = pair.map_or(show.settings.margin, |pair| pair.margin);
            let found = distance(hull, beside, margin);
            if found < margin - OFF {
                return Some((format!("{} and {}", name(one), name(other)), found, margin));
            }
        }
        for zone in show.zones.iter().filter(|zone| zone.keep == Keep::Out && zone.rigs.contains(&placed[one].rig))
        {
            let found = distance(hull, &of_zone(zone), zone.margin);
            if found < zone.margin - OFF {
                return Some((format!("{} and {}", name(one), zone.name), found, zone.margin));
            }
        }
    }
    None
}
