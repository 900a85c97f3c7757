//! `[lens]` of rigs/NAME.toml: which way a rig looks, and what the positions of its lens axes stand for.

use super::ranges::{Coordinate, Entry, Millimetres};
use super::rig_file::Direction;
use crate::show::decode::{At, Name, record};

record! {
    /// What a rig looks with: a camera, a lantern. It hangs in the frame of the rig's last axis.
    Lens, "a lens" {
        /// The two axes that aim it, the one nearer the base first. Default: the last two that turn.
        aim: Option<At<[At<Name>; 2]>>,
        /// Which way it looks: the optical axis, as a direction in the frame of the rig's last axis. Default x.
        forward: Option<At<Direction>>,
        /// m, from where it looks, in that frame. Default [0, 0, 0].
        at: Option<[Coordinate; 3]>,
        /// mm, width of the picture behind the lens. Default 36.
        sensor: Option<Millimetres>,
        /// mm, of the largest spot that still counts as sharp. Default 0.03.
        circle_of_confusion: Option<Millimetres>,
        /// Focus: positions to metres.
        focus: Option<At<LensRing>>,
        /// Zoom: positions to mm of focal length.
        zoom: Option<At<LensRing>>,
        /// Iris: positions to f-numbers.
        iris: Option<At<LensRing>>,
    }
}

record! {
    /// What the positions of a lens axis stand for.
    LensRing, "a ring of a lens" {
        /// The axis of this rig.
        axis: At<Name>,
        /// Rows of a position and what it stands for. Positions rise; what they stand for rises all along, or falls all along.
        table: At<Vec<[Entry; 2]>>,
    }
}
