//! What a lens shows: how wide, and from how near to how far sharply. A thin lens, as the usual tables have it.

/// A lens as it is set. Lengths of the lens in mm, distances in m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// mm
    pub focal: f64,
    /// f-number
    pub stop: f64,
    /// mm, of the largest spot that still counts as sharp.
    pub confusion: f64,
}

/// From how near to how far a picture is sharp, m; `far` is infinite from the hyperfocal distance on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    pub near: f64,
    pub far: f64,
}

/// Angle that a picture `sensor` mm wide sees through a focal length in mm, degrees: 2·atan(w / 2f).
pub fn field_of_view(sensor: f64, focal: f64) -> f64 {
    (2.0 * libm::atan(sensor / (2.0 * focal))).to_degrees()
}

impl Setting {
    /// m, the nearest focus from which everything behind is sharp: H = f²/(N·c) + f (Greenleaf, *Photographic Optics*, 1950).
    pub fn hyperfocal(self) -> f64 {
        (self.focal * self.focal / (self.stop * self.confusion) + self.focal) / 1000.0
    }

    /// Focused at `distance` m: s(H − f)/(H + s − 2f) and s(H − f)/(H − s) (Greenleaf, 1950).
    pub fn depth(self, distance: f64) -> Depth {
        let (hyperfocal, focal) = (self.hyperfocal(), self.focal / 1000.0);
        let reach = distance * (hyperfocal - focal);
        let far = if distance < hyperfocal { reach / (hyperfocal - distance) } else { f64::INFINITY };
        Depth { near: reach / (hyperfocal + distance - 2.0 * focal), far }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, expected: f64, within: f64) {
        assert!((found - expected).abs() <= within, "found {found}, expected {expected}");
    }

    /// 2·atan(w/2f), computed apart for full frame.
    #[test]
    fn the_field_of_view_is_that_of_the_published_formula() {
        near(field_of_view(36.0, 50.0), 39.597_753, 5e-7);
        near(field_of_view(36.0, 24.0), 73.739_795, 5e-7);
    }

    /// Greenleaf's formulas at f 50 mm, N 8, c 0.03 mm, s 5 m.
    #[test]
    fn the_depth_of_field_is_that_of_the_published_formulas() {
        let setting = Setting { focal: 50.0, stop: 8.0, confusion: 0.03 };
        near(setting.hyperfocal(), 10.466_667, 5e-7);
        let Depth { near: sharp_from, far } = setting.depth(5.0);
        near(sharp_from, 3.389_371, 5e-7);
        near(far, 9.527_439, 5e-7);
    }

    /// What the hyperfocal distance is for: far without end, near at half of it.
    #[test]
    fn from_the_hyperfocal_distance_on_there_is_no_far_end() {
        let setting = Setting { focal: 24.0, stop: 4.0, confusion: 0.03 };
        let hyperfocal = setting.hyperfocal();
        assert_eq!(setting.depth(hyperfocal).far, f64::INFINITY);
        assert_eq!(setting.depth(100.0).far, f64::INFINITY);
        near(setting.depth(hyperfocal).near, hyperfocal / 2.0, 1e-9);
    }
}
