//! Conditions: true, false or unknown; only true permits.

use super::cue_file::Number;
use super::ranges::{Modulus, Position, Seconds};
use crate::show::decode::{At, AtLeastOne, Text, Title, choice, record};
use crate::show::list::CueState;

choice! {
    /// A condition is true, false or unknown: unknown where an input or a measured position that it needs is stale
    /// or missing. Only true permits.
    Condition, "a condition" {
        /// An axis measured above a position.
        Above(AxisAbove) by ["axis", "above"],
        /// An axis measured below a position.
        Below(AxisBelow) by ["axis", "below"],
        /// An axis measured within two positions.
        Within(AxisWithin) by ["axis", "within"],
        /// A rig measured at one of its marks.
        At(RigAt) by ["rig", "at"],
        /// An input that is true and not stale.
        Input(InputTrue) by ["input"],
        /// A cue whose latest run is in a state.
        CueIn(CueIn) by ["cue", "state"],
        /// A cue past a time of its own, or done.
        CuePast(CuePast) by ["cue", "past"],
        /// All of several.
        All(AllOf) by ["all"],
        /// At least one of several.
        Any(AnyOf) by ["any"],
        /// The contrary; the contrary of unknown is unknown.
        Not(NotOf) by ["not"],
    }
}

record! {
    /// True while the axis is measured above the position.
    AxisAbove, "a condition on an axis" {
        /// `rig.axis`.
        axis: At<Text>,
        /// In the axis's unit.
        above: Position,
    }
}

record! {
    /// True while the axis is measured below the position.
    AxisBelow, "a condition on an axis" {
        /// `rig.axis`.
        axis: At<Text>,
        /// In the axis's unit.
        below: Position,
    }
}

record! {
    /// True while the axis is measured within two positions, ends included.
    AxisWithin, "a condition on an axis" {
        /// `rig.axis`.
        axis: At<Text>,
        /// Low, then high, in the axis's unit.
        within: At<[Position; 2]>,
        /// Whole turns of this length do not count: 360.0 for degrees. Default: every turn counts.
        modulo: Option<At<Modulus>>,
    }
}

record! {
    /// True while every axis of the mark is measured within its tolerance of it.
    RigAt, "a condition on a rig" {
        /// Name of the rig.
        rig: At<Text>,
        /// Name of one of its marks.
        at: At<Text>,
    }
}

record! {
    /// True while the input is, and is not older than its `max_age`.
    InputTrue, "a condition on an input" {
        /// Name of the input.
        input: At<Title>,
    }
}

record! {
    /// True while the latest run of the cue is in the state.
    CueIn, "a condition on a cue" {
        /// Number of the cue.
        cue: At<Number>,
        /// The state.
        state: CueState,
    }
}

record! {
    /// True once the cue's own time has passed, or the cue is done.
    CuePast, "a condition on a cue" {
        /// Number of the cue.
        cue: At<Number>,
        /// s, on the cue's own time.
        past: Seconds,
    }
}

record! {
    /// True if all are true; false if one is false.
    AllOf, "a condition" {
        /// At least one condition.
        all: AtLeastOne<At<Condition>>,
    }
}

record! {
    /// True if one is true; false if all are false.
    AnyOf, "a condition" {
        /// At least one condition.
        any: AtLeastOne<At<Condition>>,
    }
}

record! {
    /// True if the condition is false, false if it is true.
    NotOf, "a condition" {
        /// The condition.
        not: Box<At<Condition>>,
    }
}
