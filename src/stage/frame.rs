//! A place and an orientation.

use glam::{DQuat, DVec3};

/// A rigid motion: turn, then translate. Metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    pub turn: DQuat,
    pub origin: DVec3,
}

impl Frame {
    /// Of the stage itself: +x stage left, +y upstage, +z up.
    pub const WORLD: Frame = Frame { turn: DQuat::IDENTITY, origin: DVec3::ZERO };

    /// A point of this frame, in the world.
    pub fn carry(&self, point: DVec3) -> DVec3 {
        self.origin + self.turn * point
    }

    /// Moved by `by`, a vector of this frame.
    pub fn moved(self, by: DVec3) -> Frame {
        Frame { origin: self.carry(by), ..self }
    }

    /// Turned about its own origin, right-handed about the unit vector `about` of this frame.
    pub fn turned(self, about: DVec3, radians: f64) -> Frame {
        let (sine, cosine) = libm::sincos(radians / 2.0);
        let (x, y, z) = (about * sine).into();
        Frame { turn: self.turn * DQuat::from_xyzw(x, y, z, cosine), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(a: DVec3, b: DVec3) -> bool {
        a.distance(b) <= 1e-9 * (1.0 + a.length())
    }

    #[test]
    fn turns_are_right_handed() {
        let quarter = std::f64::consts::FRAC_PI_2;
        let about = |axis| Frame::WORLD.turned(axis, quarter);
        assert!(close(about(DVec3::Z).carry(DVec3::X), DVec3::Y));
        assert!(close(about(DVec3::X).carry(DVec3::Y), DVec3::Z));
        assert!(close(about(DVec3::Y).carry(DVec3::Z), DVec3::X));
    }

    #[test]
    fn the_order_is_translate_then_turn_in_the_frame_reached() {
        let frame = Frame::WORLD.moved(DVec3::X).turned(DVec3::Z, std::f64::consts::FRAC_PI_2).moved(DVec3::X);
        assert!(close(frame.origin, DVec3::new(1.0, 1.0, 0.0)));
    }

    prop_compose! {
        fn vector()(x in -50.0..50.0, y in -50.0..50.0, z in -50.0..50.0) -> DVec3 {
            DVec3::new(x, y, z)
        }
    }

    prop_compose! {
        fn direction()(v in vector().prop_filter("has a direction", |v| v.length() > 1e-3)) -> DVec3 {
            v.normalize()
        }
    }

    proptest! {
        #[test]
        fn frames_keep_lengths(
            steps in prop::collection::vec((vector(), direction(), -50.0..50.0), 1..8),
            a in vector(),
            b in vector(),
        ) {
            let frame = steps.iter().fold(Frame::WORLD, |frame, &(by, about, angle)| {
                frame.moved(by).turned(about, angle)
            });
            let apart = frame.carry(a).distance(frame.carry(b));
            prop_assert!((apart - a.distance(b)).abs() < 1e-9);
        }

        #[test]
        fn a_turn_and_its_opposite_are_nothing(about in direction(), angle in -50.0..50.0, point in vector()) {
            let back = Frame::WORLD.turned(about, angle).turned(about, -angle);
            prop_assert!(close(back.carry(point), point));
        }

        #[test]
        fn a_turn_leaves_its_own_axis_where_it_is(about in direction(), angle in -50.0..50.0) {
            prop_assert!(close(Frame::WORLD.turned(about, angle).carry(about), about));
        }
    }
}
