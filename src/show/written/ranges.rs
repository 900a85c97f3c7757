//! The ranges of written numbers. They are wide: what they refuse is a slip of the unit, damage or nonsense.

use crate::show::decode::numbers;

numbers! {
    /// Position, travel or change of an axis, in its unit.
    Position = -1e6 to 1e6, "in the axis's unit";
    /// Turns of a cable about its axis.
    Turns = -1e4 to 1e4, "whole turns";
    /// Limit of speed, acceleration or jerk, in the axis's unit per s, s² or s³.
    Limit = 1e-6 to 1e9, "in the axis's unit per s, s² or s³, above zero";
    /// Tolerance or following error, in the axis's unit.
    Length = 1e-6 to 1e6, "in the axis's unit, above zero";
    /// Noise or backlash, in the axis's unit.
    Blur = 0.0 to 1e6, "in the axis's unit";
    /// Part of the rated speed that an axis may use.
    Share = 0.001 to 1.0, "part of the rated speed";
    /// How slowly a hand is followed.
    Glide = 0.0 to 30.0, "seconds";
    /// Factor on the glide of every axis.
    GlideFactor = 0.0 to 10.0, "factor on every axis's glide";
    /// Factor on the show's clock.
    Factor = 0.001 to 1.0, "factor on the show's clock";
    /// Stretch of a take.
    Stretch = 0.1 to 100.0, "factor on the time";
    /// From time-optimal to minimum jerk.
    Softness = 0.0 to 1.0, "from sharp to soft";
    /// Span of time.
    Seconds = 0.0 to 86400.0, "seconds";
    /// Age at which something is no longer believed.
    Age = 0.001 to 86400.0, "seconds, above zero";
    /// Length of a tick.
    Tick = 0.001 to 0.02, "seconds";
    /// Clearance.
    Margin = 0.0 to 20.0, "metres";
    /// Place on the stage.
    Coordinate = -500.0 to 500.0, "metres";
    /// Component of a direction.
    Component = -1e6 to 1e6, "any length will do";
    /// Radius of a body.
    Radius = 0.0001 to 50.0, "metres, above zero";
    /// Turn about z, anticlockwise seen from above.
    Facing = -360.0 to 360.0, "degrees";
    /// Of a lens: width of a picture, or of a spot in it.
    Millimetres = 1e-4 to 1e3, "millimetres, above zero";
    /// Of a lens's table: a position of its axis, or what that stands for.
    Entry = -1e6 to 1e6, "a position, or what it stands for";
    /// Length of a full turn.
    Modulus = 1e-6 to 1e6, "in the axis's unit, above zero";
}
