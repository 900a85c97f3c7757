//! show.toml: the room and what holds for the whole show.

use super::condition::Condition;
use super::ranges::{Age, Factor, GlideFactor, Margin, Seconds, Tick};
use super::shape::Block;
use crate::show::decode::{At, AtLeastOne, Text, Title, record, words};
use crate::show::model::{Direction, Keep, Otherwise};

record! {
    /// show.toml: the settings of the show, its zones, pairs, inputs and interlocks.
    ShowFile, "show.toml" {
        /// What holds for the whole show.
        show: Settings,
        /// Volumes that rigs must stay out of, or in.
        zones as "zone": Option<Vec<At<Zone>>>,
        /// Pairs of rigs with a margin of their own.
        pairs as "pair": Option<Vec<At<Pair>>>,
        /// Switches and sensors that reach the show from outside.
        inputs as "input": Option<Vec<At<Input>>>,
        /// Conditions without which some motion may not start or go on.
        interlocks as "interlock": Option<Vec<At<Interlock>>>,
    }
}

record! {
    /// What holds for the whole show.
    Settings, "[show]" {
        /// The show's name.
        name: Title,
        /// s between setpoints. Default 0.002.
        tick: Option<Tick>,
        /// m, the clearance that must remain between any two bodies.
        margin: Margin,
        /// s, from a rig's stall to the first effect of the stop of its group.
        react: Seconds,
        /// s after a GO in which another is taken for a bounce. Default 0.5.
        guard: Option<Seconds>,
        /// s; a request whose `sent` is older is refused. Default 0.3.
        trigger_age: Option<Age>,
        /// Rate at which a cue returns. Default 0.5.
        return_rate: Option<Factor>,
        /// Factor on the glide of every axis in hand. Default 1.
        glide: Option<GlideFactor>,
        /// Whether a GO from outside must name its cue. Default false.
        named_go: Option<bool>,
    }
}

record! {
    /// A volume that rigs must stay out of, or in.
    Zone, "a zone" {
        /// The zone's name.
        name: At<Title>,
        /// Whether rigs stay out of it or in it.
        keep: Keep,
        /// The volume, in stage axes.
        block as "box": At<Block>,
        /// The rigs it is for. Default: all rigs.
        rigs: Option<Vec<At<Text>>>,
        /// m. Default: the show's margin.
        margin: Option<Margin>,
    }
}

record! {
    /// Another margin for two rigs.
    Pair, "a pair" {
        /// Names of the two rigs.
        rigs: [At<Text>; 2],
        /// m.
        margin: Margin,
        /// Why it may be another.
        because: Option<Text>,
    }
}

record! {
    /// A switch or sensor value that reaches the show from outside.
    Input, "an input" {
        /// The input's name.
        name: At<Title>,
        /// s; an older value is unknown.
        max_age: Age,
        /// Whether, once false, it stays false until reset. Default false.
        trips: Option<bool>,
        /// IP address of the only sender that may set it. Default: anyone who may set inputs.
        source: Option<At<Text>>,
    }
}

record! {
    /// A condition without which some motion may not start or go on.
    Interlock, "an interlock" {
        /// The interlock's name.
        name: At<Title>,
        /// What it guards: names of rigs (all their axes), or `rig.axis`.
        guards: AtLeastOne<At<Text>>,
        /// Guard only motion in the axis's own positive (up) or negative (down) direction; with `rig.axis` only.
        /// Default: both.
        direction: Option<At<Direction>>,
        /// The condition.
        needs: At<Condition>,
        /// What happens when the condition is not true.
        otherwise: Otherwise,
    }
}

words! {
    Keep { "out" = Keep::Out, "in" = Keep::In }
    Direction { "up" = Direction::Up, "down" = Direction::Down }
    Otherwise { "refuse" = Otherwise::Refuse, "hold" = Otherwise::Hold, "stop" = Otherwise::Stop }
}
