//! Bodies, in metres, in the frame they hang on.

use super::ranges::{Coordinate, Radius};
use crate::show::decode::{At, choice, record};

choice! {
    /// A body, in metres, in the frame it hangs on.
    Shape, "a body" {
        /// All points within the radius of a line.
        Capsule(CapsuleBody) by ["capsule"],
        /// All points within the radius of a point.
        Sphere(SphereBody) by ["sphere"],
        /// A block along the axes of its frame.
        Box(BoxBody) by ["box"],
    }
}

record! {
    /// A body that is a capsule.
    CapsuleBody, "a capsule" {
        /// The capsule.
        capsule: Capsule,
    }
}

record! {
    /// A body that is a sphere.
    SphereBody, "a sphere" {
        /// The sphere.
        sphere: Sphere,
    }
}

record! {
    /// A body that is a box.
    BoxBody, "a box" {
        /// The box.
        block as "box": At<Block>,
    }
}

record! {
    /// All points within `radius` of the line from `from` to `to`.
    Capsule, "a capsule" {
        /// One end of its line, m.
        from: [Coordinate; 3],
        /// The other end, m.
        to: [Coordinate; 3],
        /// m.
        radius: Radius,
    }
}

record! {
    /// All points within `radius` of `at`.
    Sphere, "a sphere" {
        /// Its middle, m.
        at: [Coordinate; 3],
        /// m.
        radius: Radius,
    }
}

record! {
    /// A block along the axes of its frame.
    Block, "a box" {
        /// Its corner of least x, y and z, m.
        min: [Coordinate; 3],
        /// Its corner of greatest x, y and z, m.
        max: [Coordinate; 3],
    }
}
