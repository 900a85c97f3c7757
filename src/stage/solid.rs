//! Bodies as distances see them: a core, and a radius around it.

use glam::{DMat3, DVec3};

use super::frame::Frame;
use crate::show::Shape;

/// A point, a segment or a block, in the world, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Core {
    Point(DVec3),
    Segment([DVec3; 2]),
    /// Its columns are the unit edges; `half` is half of each edge's length.
    Block {
        centre: DVec3,
        edges: DMat3,
        half: DVec3,
    },
}

/// Everything within `radius` of its core: a sphere, a capsule, or with radius 0 a box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Solid {
    pub core: Core,
    pub radius: f64,
}

/// A line of the world; `direction` is a unit vector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    pub origin: DVec3,
    pub direction: DVec3,
}

impl Line {
    fn distance_squared(&self, point: DVec3) -> f64 {
        let away = point - self.origin;
        (away - self.direction * away.dot(self.direction)).length_squared()
    }
}

impl Solid {
    /// A body where its frame has it.
    pub fn new(shape: &Shape, frame: &Frame) -> Solid {
        match *shape {
            Shape::Capsule { from, to, radius } => {
                Solid { core: Core::Segment([frame.carry(from), frame.carry(to)]), radius }
            }
            Shape::Sphere { at, radius } => Solid { core: Core::Point(frame.carry(at)), radius },
            Shape::Box { min, max } => Solid {
                core: Core::Block {
                    centre: frame.carry((min + max) / 2.0),
                    edges: DMat3::from_quat(frame.turn),
                    half: (max - min) / 2.0,
                },
                radius: 0.0,
            },
        }
    }

    /// A box that stands square to the stage.
    pub fn upright(min: DVec3, max: DVec3) -> Solid {
        Solid::new(&Shape::Box { min, max }, &Frame::WORLD)
    }

    /// The centre and the radius of a ball that holds it.
    pub fn ball(&self) -> (DVec3, f64) {
        match self.core {
            Core::Point(at) => (at, self.radius),
            Core::Segment([from, to]) => ((from + to) / 2.0, from.distance(to) / 2.0 + self.radius),
            Core::Block { centre, half, .. } => (centre, half.length() + self.radius),
        }
    }

    /// Half of its width along a unit vector, seen from the centre of its ball.
    pub fn reach(&self, direction: DVec3) -> f64 {
        self.core.reach(direction) + self.radius
    }
}

impl Core {
    pub fn centre(&self) -> DVec3 {
        match *self {
            Core::Point(at) => at,
            Core::Segment([from, to]) => (from + to) / 2.0,
            Core::Block { centre, .. } => centre,
        }
    }

    /// The most that a point of it lies from its centre along a vector, times the vector's length.
    pub fn reach(&self, along: DVec3) -> f64 {
        match *self {
            Core::Point(_) => 0.0,
            Core::Segment([from, to]) => ((to - from) / 2.0).dot(along).abs(),
            Core::Block { edges, half, .. } => (edges.transpose() * along).abs().dot(half),
        }
    }

    /// How far its farthest point lies from a line: at an end or a corner, the distance being convex.
    pub fn farthest_from(&self, line: &Line) -> f64 {
        let squared = match *self {
            Core::Point(at) => line.distance_squared(at),
            Core::Segment([from, to]) => line.distance_squared(from).max(line.distance_squared(to)),
            Core::Block { centre, edges, half } => {
                let side = edges * DMat3::from_diagonal(half);
                let corner = |bits: usize| {
                    let sign = |bit: usize| if bits >> bit & 1 == 0 { -1.0 } else { 1.0 };
                    centre + side * DVec3::new(sign(0), sign(1), sign(2))
                };
                (0..8).map(|bits| line.distance_squared(corner(bits))).fold(0.0, f64::max)
            }
        };
        squared.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn brick() -> Solid {
        let frame = Frame::WORLD.moved(DVec3::new(1.0, 0.0, 0.0)).turned(DVec3::Z, std::f64::consts::FRAC_PI_2);
        Solid::new(&Shape::Box { min: DVec3::new(0.0, 0.0, 0.0), max: DVec3::new(2.0, 1.0, 3.0) }, &frame)
    }

    #[test]
    fn a_box_is_where_its_frame_turns_it() {
        let (centre, radius) = brick().ball();
        assert!(centre.distance(DVec3::new(0.5, 1.0, 1.5)) < 1e-12);
        assert!((radius - (1.0 + 0.25 + 2.25_f64).sqrt()).abs() < 1e-12);
        assert!((brick().reach(DVec3::X) - 0.5).abs() < 1e-12);
        assert!((brick().reach(DVec3::Y) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_farthest_point_is_an_end_or_a_corner() {
        let upright = Line { origin: DVec3::ZERO, direction: DVec3::Z };
        assert!((brick().core.farthest_from(&upright) - 5.0_f64.sqrt()).abs() < 1e-12);
        let bar = Core::Segment([DVec3::new(-3.0, 0.0, 5.0), DVec3::new(1.0, 1.0, 0.0)]);
        assert!((bar.farthest_from(&upright) - 3.0).abs() < 1e-12);
        assert_eq!(Core::Point(DVec3::new(3.0, 4.0, 9.0)).farthest_from(&upright), 5.0);
    }
}
