//! Distances by the tests' own code, which knows corners and radii alone: the shortest way between two convex hulls is the point
//! nearest to nothing of all differences of their points. It is found as P. Wolfe did in "Finding the nearest point in a
//! polytope", Mathematical Programming 11, 1976: exactly, with a bound that proves it. Simple, and of no kin to what it judges.

use bellwire::show::{Keep, Show, Zone};
use bellwire::stage::{Placed, Stage, WorldShape};
use glam::DVec3;

/// m, by which a distance may be off.
pub const EXACT: f64 = 1e-5;
/// m, by which something may be too near in poses that are judged one by one.
pub const OFF: f64 = 2e-3;
/// Steps, after which something is wrong with the search itself.
const STEPS: usize = 200;

/// A convex hull of points, and the radius around it.
pub type Hull = (Vec<DVec3>, f64);

/// What a body is the hull of, and the radius around that.
fn corners(shape: &WorldShape) -> Hull {
    match *shape {
        WorldShape::Sphere { at, radius } => (vec![at], radius),
        WorldShape::Capsule { from, to, radius } => (vec![from, to], radius),
        WorldShape::Box { corners } => (corners.to_vec(), 0.0),
    }
}

pub fn of_zone(zone: &Zone) -> Hull {
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

/// The weights, of sum 1, with which points on a plane, a line or alone make the point of theirs that is nearest to nothing.
fn weights(points: &[DVec3]) -> Vec<f64> {
    // Normal equations of the edges from the last of them, by elimination with pivots.
    let [edges @ .., last] = points else { return Vec::new() };
    let size = edges.len();
    let edge = |at: usize| edges[at] - *last;
    let mut rows: Vec<Vec<f64>> = (0..size)
        .map(|row| (0..size).map(|column| edge(row).dot(edge(column))).chain([-edge(row).dot(*last)]).collect())
        .collect();
    for column in 0..size {
        let pivot =
            (column..size).max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs())).unwrap();
        rows.swap(column, pivot);
        if rows[column][column].abs() < 1e-18 {
            continue;
        }
        for row in (0..size).filter(|&row| row != column) {
            let share = rows[row][column] / rows[column][column];
            let taken = rows[column].clone();
            rows[row].iter_mut().zip(taken).for_each(|(value, taken)| *value -= share * taken);
        }
    }
    let weight = |at: usize| if rows[at][at].abs() < 1e-18 { 0.0 } else { rows[at][size] / rows[at][at] };
    let mut found: Vec<f64> = (0..size).map(weight).collect();
    found.push(1.0 - found.iter().sum::<f64>());
    found
}

/// m, not below zero; off by [`EXACT`] at most. `enough` or more need not be told exactly, but is never told too great.
pub fn distance(a: &Hull, b: &Hull, enough: f64) -> f64 {
    let radii = a.1 + b.1;
    let mut of = vec![a.0[0] - b.0[0]];
    let mut shares = vec![1.0];
    for _ in 0..STEPS {
        let at: DVec3 = of.iter().zip(&shares).map(|(point, share)| *point * *share).sum();
        let length = at.length();
        if length <= radii.max(1e-9) {
            return 0.0;
        }
        let next = farthest(&a.0, -at) - farthest(&b.0, at);
        // No difference lies before the plane through `next` across the way.
        let least = next.dot(at) / length;
        if least - radii >= enough || length - least <= EXACT / 2.0 {
            return (least - radii).max(0.0);
        }
        of.push(next);
        shares.push(0.0);
        loop {
            let wanted = weights(&of);
            if wanted.iter().all(|&share| share > -1e-12) {
                shares = wanted.iter().map(|share| share.max(0.0)).collect();
                break;
            }
            // As far that way as no share falls below nothing; what has none is of no use.
            let cut = shares.iter().zip(&wanted).filter(|(_, wanted)| **wanted <= -1e-12);
            let far = cut.map(|(share, wanted)| share / (share - wanted)).fold(1.0, f64::min);
            shares.iter_mut().zip(&wanted).for_each(|(share, wanted)| *share += far * (wanted - *share));
            let kept: Vec<bool> = shares.iter().map(|&share| share > 1e-12).collect();
            let mut keeps = kept.iter();
            of.retain(|_| *keeps.next().unwrap());
            shares.retain(|&share| share > 1e-12);
        }
    }
    panic!("no nearest point of {a:?} and {b:?}")
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
