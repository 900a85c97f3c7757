//! Bodies seen from one side, every one by its exact outline.

use glam::{DVec2, DVec3};

use crate::stage::{Core, Solid};

/// From where the stage is seen: two unit vectors of it, square to each other, that lie to the right and up on paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    pub right: DVec3,
    pub up: DVec3,
}

/// A direction with less of its length than this across the stage is upright.
const UPRIGHT: f64 = 0.05;
/// A direction of the floor with less of it across the stage runs up and down stage.
const ASIDE: f64 = 0.1;

impl View {
    /// From above, the audience at the bottom.
    pub const PLAN: View = View { right: DVec3::X, up: DVec3::Y };

    /// From the side, along the floor and square to `along`, so that this is seen at full length; `None` if it is
    /// upright and every side shows that.
    pub fn section(along: DVec3) -> Option<View> {
        let flat = along.with_z(0.0);
        if flat.length() <= UPRIGHT * along.length() {
            return None;
        }
        let right = flat.normalize();
        // Stage left to the right, as from the house; else upstage.
        let turned = if right.x.abs() > ASIDE { right.x < 0.0 } else { right.y < 0.0 };
        Some(View { right: if turned { -right } else { right }, up: DVec3::Z })
    }

    /// Where whoever sees it so looks to.
    pub fn depth(&self) -> DVec3 {
        self.up.cross(self.right)
    }

    pub fn point(&self, point: DVec3) -> DVec2 {
        DVec2::new(point.dot(self.right), point.dot(self.up))
    }

    pub fn outline(&self, solid: &Solid) -> Outline {
        match solid.core {
            Core::Point(at) => Outline::Round { ends: [self.point(at); 2], radius: solid.radius },
            Core::Segment(ends) => Outline::Round { ends: ends.map(|end| self.point(end)), radius: solid.radius },
            Core::Block { centre, edges, half } => {
                let corner = |bits: usize| {
                    let sign = |bit: usize| if bits >> bit & 1 == 0 { -1.0 } else { 1.0 };
                    self.point(centre + edges * (half * DVec3::new(sign(0), sign(1), sign(2))))
                };
                Outline::Polygon(hull((0..8).map(corner).collect()))
            }
        }
    }
}

/// What a body covers, seen from one side, m.
#[derive(Clone, Debug, PartialEq)]
pub enum Outline {
    /// Everything within `radius` of a line, or of a point where both ends are one.
    Round { ends: [DVec2; 2], radius: f64 },
    /// Convex, anticlockwise.
    Polygon(Vec<DVec2>),
}

impl Outline {
    /// The least and the greatest x and y.
    pub fn bounds(&self) -> [DVec2; 2] {
        let (points, radius): (&[DVec2], f64) = match self {
            Outline::Round { ends, radius } => (ends, *radius),
            Outline::Polygon(corners) => (corners, 0.0),
        };
        let low = points.iter().copied().fold(DVec2::INFINITY, DVec2::min);
        let high = points.iter().copied().fold(DVec2::NEG_INFINITY, DVec2::max);
        [low - radius, high + radius]
    }

    /// As the data of an SVG path, of points on paper where y goes down; `scale` is paper a metre.
    pub fn path(&self, scale: f64, at: impl Fn(DVec2) -> DVec2) -> String {
        match self {
            Outline::Round { ends, radius } => stadium(ends.map(at), radius * scale),
            Outline::Polygon(corners) => {
                let corners: Vec<String> =
                    corners.iter().map(|&corner| at(corner)).map(|p| format!("{:.1} {:.1}", p.x, p.y)).collect();
                format!("M{}Z", corners.join("L"))
            }
        }
    }
}

fn stadium([from, to]: [DVec2; 2], radius: f64) -> String {
    // A circle has no direction; any will do.
    let side = (to - from).try_normalize().unwrap_or(DVec2::X).perp() * radius;
    let [a, b, c, d] = [from + side, to + side, to - side, from - side];
    format!(
        "M{:.1} {:.1}L{:.1} {:.1}A{radius:.1} {radius:.1} 0 0 0 {:.1} {:.1}L{:.1} {:.1}A{radius:.1} {radius:.1} 0 0 0 \
         {:.1} {:.1}Z",
        a.x, a.y, b.x, b.y, c.x, c.y, d.x, d.y, a.x, a.y
    )
}

/// The convex hull, anticlockwise: Andrew's monotone chain (*Another efficient algorithm for convex hulls in two
/// dimensions*, 1979).
fn hull(mut points: Vec<DVec2>) -> Vec<DVec2> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let half = |points: &mut dyn Iterator<Item = DVec2>| {
        let mut chain: Vec<DVec2> = Vec::new();
        for point in points {
            while let [.., before, last] = chain.as_slice()
                && (last - before).perp_dot(point - last) <= 1e-12
            {
                chain.pop();
            }
            chain.push(point);
        }
        chain.pop();
        chain
    };
    let mut around = half(&mut points.iter().copied());
    around.extend(half(&mut points.iter().rev().copied()));
    around
}

/// Where a direction of the floor points to, as it is said on stage.
pub fn stage_word(direction: DVec3) -> &'static str {
    const WORDS: [&str; 8] = [
        "stage left",
        "upstage left",
        "upstage",
        "upstage right",
        "stage right",
        "downstage right",
        "downstage",
        "downstage left",
    ];
    let eighths = direction.y.atan2(direction.x) / std::f64::consts::FRAC_PI_4;
    WORDS[(eighths.round() as i64).rem_euclid(8) as usize]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::Shape;
    use crate::stage::Frame;
    use proptest::prelude::*;

    fn close(a: DVec2, b: DVec2) -> bool {
        a.distance(b) < 1e-9
    }

    /// The most that it reaches in a direction of the paper.
    fn reach(outline: &Outline, direction: DVec2) -> f64 {
        let most = |points: &[DVec2]| points.iter().map(|point| point.dot(direction)).fold(f64::MIN, f64::max);
        match outline {
            Outline::Round { ends, radius } => most(ends) + radius,
            Outline::Polygon(corners) => most(corners),
        }
    }

    #[test]
    fn an_upright_box_is_a_rectangle_from_above_and_from_the_side() {
        let solid = Solid::upright(DVec3::new(1.0, 2.0, 0.0), DVec3::new(4.0, 3.0, 5.0));
        let Outline::Polygon(corners) = View::PLAN.outline(&solid) else { panic!("a box has corners") };
        let expected = [[1.0, 2.0], [4.0, 2.0], [4.0, 3.0], [1.0, 3.0]].map(DVec2::from_array);
        assert_eq!(corners.len(), 4);
        assert!(expected.iter().all(|one| corners.iter().any(|other| close(*one, *other))), "{corners:?}");
        // From the side at 45 degrees its width is that of its diagonal: (3 + 1) / √2.
        let view = View::section(DVec3::new(1.0, 1.0, 0.0)).unwrap();
        let [low, high] = view.outline(&solid).bounds();
        assert!(close(high - low, DVec2::new(4.0 / 2.0_f64.sqrt(), 5.0)), "{low} {high}");
    }

    #[test]
    fn a_tilted_cube_is_a_hexagon_along_its_diagonal() {
        let solid = Solid::upright(DVec3::splat(-1.0), DVec3::splat(1.0));
        let right = DVec3::new(1.0, -1.0, 0.0).normalize();
        let up = DVec3::ONE.normalize().cross(right);
        let Outline::Polygon(corners) = View { right, up }.outline(&solid) else { panic!("a box has corners") };
        assert_eq!(corners.len(), 6);
        // Its corners lie √(8/3) from the middle.
        assert!(corners.iter().all(|corner| (corner.length() - (8.0_f64 / 3.0).sqrt()).abs() < 1e-9));
    }

    #[test]
    fn an_outline_is_written_as_it_is_seen() {
        let ball = Outline::Round { ends: [DVec2::new(1.0, 2.0); 2], radius: 0.5 };
        let at = |point: DVec2| DVec2::new(10.0 * point.x, 100.0 - 10.0 * point.y);
        assert_eq!(
            ball.path(10.0, at),
            "M10.0 85.0L10.0 85.0A5.0 5.0 0 0 0 10.0 75.0L10.0 75.0A5.0 5.0 0 0 0 10.0 85.0Z"
        );
        let bar = Outline::Round { ends: [DVec2::ZERO, DVec2::new(2.0, 0.0)], radius: 0.5 };
        let path = bar.path(10.0, at);
        assert_eq!(path, "M0.0 105.0L20.0 105.0A5.0 5.0 0 0 0 20.0 95.0L0.0 95.0A5.0 5.0 0 0 0 0.0 105.0Z");
    }

    #[test]
    fn a_section_shows_its_direction_at_full_length_and_the_stage_as_the_house_does() {
        let along = DVec3::new(-3.0, 4.0, 1.0);
        let view = View::section(along).unwrap();
        assert!((view.point(along).length() - along.length()).abs() < 1e-12);
        assert!(view.right.x > 0.0 && view.up == DVec3::Z);
        assert_eq!(View::section(DVec3::new(0.0, -2.0, 0.3)).unwrap().right, DVec3::Y);
        assert_eq!(View::section(DVec3::new(0.01, 0.0, 1.0)), None);
        assert_eq!(
            [DVec3::X, DVec3::NEG_Y, DVec3::new(-1.0, 1.1, 0.0)].map(stage_word),
            ["stage left", "downstage", "upstage right"]
        );
    }

    fn shape() -> impl Strategy<Value = Shape> {
        let point = || prop::array::uniform3(-3.0..3.0_f64).prop_map(DVec3::from_array);
        let radius = 0.01..1.0_f64;
        prop_oneof![
            (point(), point(), radius.clone()).prop_map(|(from, to, radius)| Shape::Capsule { from, to, radius }),
            (point(), radius).prop_map(|(at, radius)| Shape::Sphere { at, radius }),
            (point(), prop::array::uniform3(0.01..2.0_f64))
                .prop_map(|(min, size)| Shape::Box { min, max: min + DVec3::from_array(size) }),
        ]
    }

    proptest! {
        /// Seen from anywhere, an outline reaches exactly as far as the body does, whichever way.
        #[test]
        fn an_outline_covers_the_body_and_no_more(
            shape in shape(), turn in 0.0..6.3_f64, tilt in 0.0..6.3_f64, side in 0.0..6.3_f64, way in 0.0..6.3_f64,
        ) {
            let frame = Frame::WORLD.turned(DVec3::Z, turn).turned(DVec3::X, tilt);
            let solid = Solid::new(&shape, &frame);
            let section = View::section(DVec3::new(side.cos(), side.sin(), 0.0)).unwrap();
            for view in [View::PLAN, section] {
                let direction = DVec2::new(way.cos(), way.sin());
                let across = view.right * direction.x + view.up * direction.y;
                let expected = solid.core.centre().dot(across) + solid.reach(across);
                prop_assert!((reach(&view.outline(&solid), direction) - expected).abs() < 1e-9);
                let [low, high] = view.outline(&solid).bounds();
                prop_assert!((reach(&view.outline(&solid), DVec2::X) - high.x).abs() < 1e-9);
                prop_assert!((reach(&view.outline(&solid), DVec2::NEG_Y) + low.y).abs() < 1e-9);
            }
        }
    }
}
