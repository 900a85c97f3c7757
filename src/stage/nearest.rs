//! Distances between bodies: closed forms, exact but for rounding.
//!
//! - Segment to segment: Ericson, *Real-Time Collision Detection*, 2005, section 5.1.9.
//! - Point to box: the point clamped in the box's own frame, section 5.1.4.1.
//! - Segment to box: half the derivative, along the segment, of the squared distance to the box is a line between any
//!   two of the at most six places where the segment passes a face's plane, and never falls, the distance to a convex
//!   set being convex. So its zero is found between two of them, without cases. (Eberly, *Distance Between a Line
//!   Segment and an Oriented Box*, Geometric Tools, treats the same by cases.)
//! - Box to box: of two convex polyhedra there is always a nearest pair with one point on an edge, and if they
//!   overlap an edge of one enters the other or lies in it. So it is the least over the edges of each to the other
//!   box, those edges left out that cannot be nearer than one found before.
//!
//! With coordinates within hundreds of metres a distance is exact to 1e-9 m, or where bodies touch to 1e-7 m (two
//! segments that nearly are parallel and nearly meet).

use arrayvec::ArrayVec;
use glam::{DMat3, DVec3};

use super::solid::{Core, Solid};

/// The distance of two bodies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// m, below zero where the bodies overlap by more than their cores do; 0 where a box overlaps something.
    pub distance: f64,
    /// Where the cores are nearest to each other: on the first, on the second.
    pub points: [DVec3; 2],
    /// From the first to the second, a unit vector; `None` where the cores meet.
    pub direction: Option<DVec3>,
}

/// Cores nearer than this have no direction to tell, m.
const MEET: f64 = 1e-9;

/// The distance of two bodies and where they are nearest.
pub fn gap(a: &Solid, b: &Solid) -> Gap {
    let points = nearest(&a.core, &b.core);
    let way = points[1] - points[0];
    let length = way.length();
    Gap { distance: length - a.radius - b.radius, points, direction: (length > MEET).then(|| way / length) }
}

/// A point of each core, nearest to each other.
fn nearest(a: &Core, b: &Core) -> [DVec3; 2] {
    match (a, b) {
        (Core::Point(p), Core::Point(q)) => [*p, *q],
        (Core::Point(p), Core::Segment(q)) => of_segments([*p, *p], *q),
        (Core::Segment(p), Core::Point(q)) => of_segments(*p, [*q, *q]),
        (Core::Segment(p), Core::Segment(q)) => of_segments(*p, *q),
        (Core::Point(p), Core::Block { centre, edges, half }) => {
            [*p, Block { centre: *centre, edges: *edges, half: *half }.nearest_to(*p)]
        }
        (Core::Segment(p), Core::Block { centre, edges, half }) => {
            Block { centre: *centre, edges: *edges, half: *half }.nearest_to_segment(*p)
        }
        (Core::Block { .. }, Core::Point(_) | Core::Segment(_)) => {
            let [q, p] = nearest(b, a);
            [p, q]
        }
        (
            Core::Block { centre, edges, half },
            Core::Block { centre: other_centre, edges: other_edges, half: other_half },
        ) => of_blocks(
            &Block { centre: *centre, edges: *edges, half: *half },
            &Block { centre: *other_centre, edges: *other_edges, half: *other_half },
        ),
    }
}

/// Ericson's `ClosestPtSegmentSegment`, which takes segments without length too.
fn of_segments([p1, q1]: [DVec3; 2], [p2, q2]: [DVec3; 2]) -> [DVec3; 2] {
    let (d1, d2, r) = (q1 - p1, q2 - p2, p1 - p2);
    let (a, e) = (d1.length_squared(), d2.length_squared());
    let (c, f) = (d1.dot(r), d2.dot(r));
    let (s, t) = if a == 0.0 && e == 0.0 {
        (0.0, 0.0)
    } else if a == 0.0 {
        (0.0, (f / e).clamp(0.0, 1.0))
    } else if e == 0.0 {
        ((-c / a).clamp(0.0, 1.0), 0.0)
    } else {
        let b = d1.dot(d2);
        let parallel = a * e - b * b;
        // Any point does for parallel segments; the other follows from it.
        let s = if parallel > 0.0 { ((b * f - c * e) / parallel).clamp(0.0, 1.0) } else { 0.0 };
        let t = (b * s + f) / e;
        if t < 0.0 {
            ((-c / a).clamp(0.0, 1.0), 0.0)
        } else if t > 1.0 {
            (((b - c) / a).clamp(0.0, 1.0), 1.0)
        } else {
            (s, t)
        }
    };
    [p1 + d1 * s, p2 + d2 * t]
}

struct Block {
    centre: DVec3,
    edges: DMat3,
    half: DVec3,
}

impl Block {
    fn inside(&self, point: DVec3) -> DVec3 {
        self.edges.transpose() * (point - self.centre)
    }

    fn outside(&self, point: DVec3) -> DVec3 {
        self.centre + self.edges * point
    }

    fn clamped(&self, point: DVec3) -> DVec3 {
        point.clamp(-self.half, self.half)
    }

    fn nearest_to(&self, point: DVec3) -> DVec3 {
        self.outside(self.clamped(self.inside(point)))
    }

    fn nearest_to_segment(&self, [from, to]: [DVec3; 2]) -> [DVec3; 2] {
        let (start, end) = (self.inside(from), self.inside(to));
        let way = end - start;
        let at = start + way * self.nearest_along(start, way);
        [self.outside(at), self.outside(self.clamped(at))]
    }

    /// How far along `way` from `start`, 0 to 1, both in the box's own frame.
    fn nearest_along(&self, start: DVec3, way: DVec3) -> f64 {
        let slope = |along: f64| {
            let point = start + way * along;
            way.dot(point - self.clamped(point))
        };
        let (mut low, mut low_slope) = (0.0, slope(0.0));
        let last_slope = slope(1.0);
        if low_slope >= 0.0 {
            return 0.0;
        }
        if last_slope <= 0.0 {
            return 1.0;
        }
        for at in self.passings(start, way) {
            let here = slope(at);
            if here >= 0.0 {
                return low + (at - low) * low_slope / (low_slope - here);
            }
            (low, low_slope) = (at, here);
        }
        low + (1.0 - low) * low_slope / (low_slope - last_slope)
    }

    /// Where the way passes the planes of the faces, in order.
    fn passings(&self, start: DVec3, way: DVec3) -> ArrayVec<f64, 6> {
        let mut found = ArrayVec::new();
        for axis in 0..3 {
            for side in [-self.half[axis], self.half[axis]] {
                let at = (side - start[axis]) / way[axis];
                // Not a number, where the way runs within the plane, lies between nothing.
                if at > 0.0 && at < 1.0 {
                    found.push(at);
                }
            }
        }
        found.sort_unstable_by(f64::total_cmp);
        found
    }

    /// Its twelve edges.
    fn edges(&self) -> impl Iterator<Item = [DVec3; 2]> + '_ {
        let side = self.edges * DMat3::from_diagonal(self.half);
        (0..12).map(move |edge| {
            let along = edge % 3;
            let sign = |bit: usize| if (edge / 3) >> bit & 1 == 0 { -1.0 } else { 1.0 };
            let across = side.col((along + 1) % 3) * sign(0) + side.col((along + 2) % 3) * sign(1);
            let middle = self.centre + across;
            [middle - side.col(along), middle + side.col(along)]
        })
    }
}

fn of_blocks(a: &Block, b: &Block) -> [DVec3; 2] {
    let mut best = [a.centre, b.centre];
    let mut least = f64::INFINITY;
    for (edged, solid, turned) in [(a, b, false), (b, a, true)] {
        for edge in edged.edges() {
            let middle = (edge[0] + edge[1]) / 2.0;
            let at_best = solid.nearest_to(middle).distance(middle) - edge[0].distance(edge[1]) / 2.0;
            if at_best >= least {
                continue;
            }
            let [p, q] = solid.nearest_to_segment(edge);
            let distance = p.distance(q);
            if distance < least {
                least = distance;
                best = if turned { [q, p] } else { [p, q] };
            }
        }
        if least == 0.0 {
            break;
        }
    }
    best
}

#[cfg(test)]
mod tests;
