//! rigs/NAME.toml: one rig (machine), its axes base to tip, its bodies and its marks.

use std::borrow::Cow;

use glam::DVec3;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::lens_table::Lens;
use super::ranges::{
    Age, Blur, Component, Coordinate, Facing, Glide, Length, Limit, Position, Seconds, Share, Turns,
};
use super::shape::Shape;
use crate::show::decode::{
    At, AtLeastOne, Decode, Found, Map, Name, Node, Text, Title, choice, read_word, record, words,
};
use crate::show::model::{self, JointKind};
use crate::show::units::Unit;

record! {
    /// rigs/NAME.toml: one rig (machine); NAME is its name.
    RigFile, "a rig" {
        /// What kind of machine it is, in your own words.
        kind: Title,
        /// Where its base stands, m: in stage axes, or in the frame it rides on.
        at: [Coordinate; 3],
        /// Turn of its base about z, degrees, anticlockwise seen from above. Default 0.
        facing: Option<Facing>,
        /// `rig.axis` on whose frame the whole rig rides. Default: the stage.
        on: Option<At<Text>>,
        /// What moves it. Default: a simulated rig.
        driver: Option<Driver>,
        /// The machine is not in the room: where its simulation stands, nothing stands in the way of real rigs. Default
        /// false: it stands somewhere, and nobody knows where, so no cue moves a real rig's bodies while it is simulated.
        absent: Option<bool>,
        /// Bodies on its base. Default: none.
        bodies: Option<Vec<At<Shape>>>,
        /// Its axes, base to tip; at least one.
        axes as "axis": AtLeastOne<At<Axis>>,
        /// What it looks with. Default: it looks along x of the frame of its last axis, and nothing is known of its lens.
        lens: Option<At<Lens>>,
        /// Named poses: for each, positions of some or all axes.
        marks: Option<Map<At<Map<At<Position>>>>>,
        /// IEC 60204-1 stop category of its controlled stop: 1, then power is removed; 2, power is kept.
        /// Default 2; must be written if an axis has `gravity`.
        stop_category: Option<StopCategory>,
        /// s without word from the rig that are a fault. Default 0.2.
        link_timeout: Option<Age>,
    }
}

record! {
    /// What moves a rig.
    Driver, "a driver" {
        /// A simulated rig: no machine moves.
        sim: Sim,
    }
}

record! {
    /// How far from ideal a simulated rig is.
    Sim, "a simulated rig" {
        /// s, time constant of its following. Default 0.03.
        lag: Option<Seconds>,
        /// Standard deviation of the measured position, in each axis's unit. Default 0.
        noise: Option<Blur>,
        /// Full width of the dead zone between drive and axis, in each axis's unit. Default 0.
        backlash: Option<Blur>,
    }
}

record! {
    /// One driven degree of freedom.
    Axis, "an axis" {
        /// The axis's name, one in its rig.
        name: At<Name>,
        /// Unit of everything about it: m or mm (a slide), deg or turn (a turn), percent (no joint).
        unit: At<Unit>,
        /// Surveyed soft limits, low then high, in its unit.
        travel: At<[Position; 2]>,
        /// Whether its travel was surveyed. Default true. While it is false the travel is provisional, and nothing moves the
        /// axis but a slow jog by hand.
        surveyed: Option<bool>,
        /// How far its cables let it turn, least then most, in whole turns from its zero. Default: as far as its travel.
        winding: Option<At<[Turns; 2]>>,
        /// Where it stands when the show opens.
        start: At<Position>,
        /// Rated speed, unit/s.
        speed: At<Limit>,
        /// unit/s².
        acceleration: At<Limit>,
        /// unit/s³.
        jerk: At<Limit>,
        /// While stopping, unit/s²; at least `acceleration`. Default 1.5 times it.
        stop_acceleration: Option<At<Limit>>,
        /// While stopping, unit/s³; at least `jerk`. Default 4 times it.
        stop_jerk: Option<At<Limit>>,
        /// The part of the rated speed that it may use; scales nothing else. Default 1.
        share: Option<Share>,
        /// How slowly it follows a hand: the least time, s, of a change from rest to full speed. Default 0, as fast as its
        /// limits allow.
        glide: Option<Glide>,
        /// How far from a pose it may stand and still be there. Default 0.01 m, 10 mm, 0.5 deg, 0.002 turn or
        /// 1 percent.
        tolerance: Option<Length>,
        /// Following error that is a fault. Default: its way in 0.1 s at rated speed, and at least 0.02 m, 20 mm,
        /// 1 deg, 0.005 turn or 2 percent.
        lag_limit: Option<Length>,
        /// Whether a load falls when power is removed without a brake. Default false.
        gravity: Option<bool>,
        /// What a position of the axis does to the frames after it. Default: nothing.
        joint: Option<At<Joint>>,
        /// Bodies in the frame that its joint reaches. Default: none.
        bodies: Option<Vec<At<Shape>>>,
    }
}

choice! {
    /// What a position of an axis does: the frame moves to `at`, then turns about or slides along a direction.
    /// Positive turns are right-handed.
    Joint, "a joint" {
        /// For deg and turn.
        Turn(TurnJoint) by ["turn"],
        /// For m and mm.
        Slide(SlideJoint) by ["slide"],
    }
}

record! {
    /// A joint that turns.
    TurnJoint, "a joint that turns" {
        /// What it turns about.
        turn: At<Direction>,
        /// m, in the frame before it.
        at: [Coordinate; 3],
        /// Whether the axes after it keep the orientation from before it (a levelled head). Default false.
        level: Option<bool>,
    }
}

record! {
    /// A joint that slides.
    SlideJoint, "a joint that slides" {
        /// What it slides along.
        slide: At<Direction>,
        /// m, in the frame before it.
        at: [Coordinate; 3],
        /// Whether the axes after it keep the orientation from before it. Default false.
        level: Option<bool>,
    }
}

/// Direction of a joint, in the frame before it: x, y, z, or a vector of any length above zero.
#[derive(Clone, Debug, JsonSchema)]
#[schemars(untagged)]
pub enum Direction {
    /// Along an axis of the frame.
    Along(Along),
    /// Along a vector.
    Vector([Component; 3]),
}

impl Direction {
    /// As a unit vector; `None` of one that has no length, or was not read.
    pub fn unit_vector(&self) -> Option<DVec3> {
        match self {
            Direction::Along(Along::X) => Some(DVec3::X),
            Direction::Along(Along::Y) => Some(DVec3::Y),
            Direction::Along(Along::Z) => Some(DVec3::Z),
            Direction::Vector(vector) => {
                let vector = DVec3::new(vector[0].0, vector[1].0, vector[2].0);
                // Scaled first, so that a tiny vector keeps its direction.
                let direction = (vector / vector.abs().max_element()).normalize();
                direction.is_finite().then_some(direction)
            }
        }
    }
}

impl Joint {
    /// `None` if it was not read, or has no direction.
    pub fn resolved(&self) -> Option<model::Joint> {
        let (kind, direction, at, level) = match self {
            Joint::Turn(joint) => (JointKind::Turn, &joint.turn, &joint.at, joint.level),
            Joint::Slide(joint) => (JointKind::Slide, &joint.slide, &joint.at, joint.level),
            Joint::Unread => return None,
        };
        let at = DVec3::new(at[0].0, at[1].0, at[2].0);
        Some(model::Joint { kind, direction: direction.value.unit_vector()?, at, level: level.unwrap_or(false) })
    }
}

/// An axis of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    X,
    Y,
    Z,
}

impl Decode for Direction {
    fn expected() -> String {
        format!("{}, or a direction [x, y, z]", Along::expected())
    }

    fn stand_in() -> Self {
        Direction::Along(Along::Z)
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        if node.value.is_array() {
            Direction::Vector(Decode::decode(node, found))
        } else if node.value.is_str() {
            read_word(node, Along::WORDS, found).map_or_else(Self::stand_in, Direction::Along)
        } else {
            found.wrong(node)
        }
    }
}

/// IEC 60204-1 stop category of a controlled stop, 1 or 2.
#[derive(Clone, Copy, Debug)]
pub struct StopCategory(pub model::StopCategory);

impl Decode for StopCategory {
    fn expected() -> String {
        "1 (power is removed after the stop) or 2 (power is kept)".into()
    }

    fn stand_in() -> Self {
        StopCategory(model::StopCategory::Two)
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        match node.value.as_integer().map(|integer| (integer.as_str(), integer.radix())) {
            Some(("1", 10)) => StopCategory(model::StopCategory::One),
            Some(("2", 10)) => StopCategory(model::StopCategory::Two),
            Some(_) | None => found.wrong(node),
        }
    }
}

impl JsonSchema for StopCategory {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "StopCategory".into()
    }

    fn json_schema(_generator: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "enum": [1, 2] })
    }
}

words! {
    Along { "x" = Along::X, "y" = Along::Y, "z" = Along::Z }
    Unit {
        "m" = Unit::Metre,
        "mm" = Unit::Millimetre,
        "deg" = Unit::Degree,
        "turn" = Unit::Turn,
        "percent" = Unit::Percent,
    }
}
