//! A map for hands as it is written: every key once, with its meaning, its range and its default.

use crate::show::decode::{At, Name, Text, Title, numbers, record};
use crate::show::written::Coordinate;

numbers! {
    /// Of a stick's travel.
    DeadBand = 0.0 to 0.9, "part of the stick's travel";
    /// Of a stick's response.
    Taper = 0.0 to 1.0, "from linear to logarithmic";
}

record! {
    /// What the sticks, dials and buttons of a device drive. `bellwire hand` shows the names of whatever is moved or pressed.
    MapFile, "a map for hands" {
        /// A part of the name that the device gives itself. Default: any device will do.
        device: Option<Title>,
        /// The button without which nothing moves: hold to run.
        hold: At<Text>,
        /// A button that stops everything; it is no emergency stop.
        stop: Option<At<Text>>,
        /// A button that goes on to the next layer.
        next: Option<At<Text>>,
        /// Layers, where there are more axes than sticks: a stick or a dial drives in its own layer alone. The first is that
        /// which it begins in.
        layers as "layer": Option<Vec<At<Layer>>>,
        /// What sets the speed of an axis: it goes as long as the stick is pushed.
        sticks as "stick": Option<Vec<At<Stick>>>,
        /// What sets the place of an axis, from the low end of its travel to the high one.
        dials as "dial": Option<Vec<At<Dial>>>,
        /// Buttons that have the focus of a rig in hand follow something.
        focuses as "focus": Option<Vec<At<Focus>>>,
    }
}

record! {
    /// A button that has the focus of a rig follow the distance to something; pressed again, or with the button to hold let go, it
    /// follows nothing. One of `on` and `at`.
    Focus, "a button of the focus" {
        /// The button.
        button: At<Text>,
        /// The rig with the lens.
        rig: At<Name>,
        /// Another rig, the middle of its bodies.
        on: Option<At<Name>>,
        /// A point: x, y, z in m.
        at: Option<[Coordinate; 3]>,
    }
}

record! {
    /// A set of axes for the same few sticks.
    Layer, "a layer" {
        /// Its name.
        name: At<Name>,
        /// A button that goes to it.
        button: Option<At<Text>>,
    }
}

record! {
    /// What sets the speed of an axis.
    Stick, "a stick" {
        /// What is pushed: "x", "y", "rx", "ry", "hat0x" and so on.
        from: At<Text>,
        /// What it drives: "rig.axis".
        to: At<Text>,
        /// The layer in which it drives. Default: in every one.
        layer: Option<At<Name>>,
        /// Whether it drives the other way round. Default false.
        reversed: Option<bool>,
        /// The part of its travel, to either side of its centre, that asks for nothing. Default 0.1.
        dead_band: Option<DeadBand>,
        /// How far its response bends from linear, 0, to logarithmic, 1. Default 0.3.
        taper: Option<Taper>,
    }
}

record! {
    /// What sets the place of an axis.
    Dial, "a dial" {
        /// What is turned: "z", "rz", "throttle", "wheel" and so on.
        from: At<Text>,
        /// What it drives: "rig.axis".
        to: At<Text>,
        /// The layer in which it drives. Default: in every one.
        layer: Option<At<Name>>,
        /// Whether its one end is the other. Default false.
        reversed: Option<bool>,
    }
}
