//! Bodies in the world.

use glam::DVec3;
use serde::Serialize;

use super::frame::Frame;
use crate::show::Shape;

/// A body in world coordinates, m.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum WorldShape {
    Capsule {
        from: DVec3,
        to: DVec3,
        radius: f64,
    },
    Sphere {
        at: DVec3,
        radius: f64,
    },
    /// The corners as bits count: bit 0 of the index set takes the greater x of the box's own frame, bit 1 the
    /// greater y, bit 2 the greater z.
    Box {
        corners: [DVec3; 8],
    },
}

impl WorldShape {
    pub fn new(shape: &Shape, frame: &Frame) -> WorldShape {
        match *shape {
            Shape::Capsule { from, to, radius } => {
                WorldShape::Capsule { from: frame.carry(from), to: frame.carry(to), radius }
            }
            Shape::Sphere { at, radius } => WorldShape::Sphere { at: frame.carry(at), radius },
            Shape::Box { min, max } => WorldShape::Box {
                corners: std::array::from_fn(|corner| {
                    let pick = |bit: usize, low, high| if corner >> bit & 1 == 0 { low } else { high };
                    let corner = DVec3::new(pick(0, min.x, max.x), pick(1, min.y, max.y), pick(2, min.z, max.z));
                    frame.carry(corner)
                }),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn as_json(shape: Shape) -> serde_json::Value {
        serde_json::to_value(WorldShape::new(&shape, &Frame::WORLD)).unwrap()
    }

    #[test]
    fn is_written_as_the_wire_says() {
        let (a, b) = (DVec3::ZERO, DVec3::new(1.0, 2.0, 3.0));
        assert_eq!(
            as_json(Shape::Capsule { from: a, to: b, radius: 0.5 }),
            json!({"capsule": {"from": [0.0, 0.0, 0.0], "to": [1.0, 2.0, 3.0], "radius": 0.5}})
        );
        assert_eq!(
            as_json(Shape::Sphere { at: b, radius: 0.5 }),
            json!({"sphere": {"at": [1.0, 2.0, 3.0], "radius": 0.5}})
        );
        assert_eq!(
            as_json(Shape::Box { min: a, max: b }),
            json!({"box": {"corners": [
                [0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 2.0, 0.0], [1.0, 2.0, 0.0],
                [0.0, 0.0, 3.0], [1.0, 0.0, 3.0], [0.0, 2.0, 3.0], [1.0, 2.0, 3.0],
            ]}})
        );
    }
}
