//! A piece of paper: metres to places on it, and words that keep out of each other's way.

use glam::DVec2;

/// Places on paper a line; drawn at about its natural size on a phone and in half the width of a page.
pub const WIDTH: f64 = 360.0;
const HEIGHT_MAX: f64 = 330.0;
const HEIGHT_MIN: f64 = 150.0;

/// A window on the stage, to scale.
#[derive(Clone, Copy, Debug)]
pub struct Sheet {
    /// m, the corner at the lower left.
    low: DVec2,
    /// Places on paper a metre.
    pub scale: f64,
    pub height: f64,
}

impl Sheet {
    /// That shows everything between two corners, m.
    pub fn showing(low: DVec2, high: DVec2) -> Sheet {
        let size = (high - low).max(DVec2::splat(1e-3));
        let scale = (WIDTH / size.x).min(HEIGHT_MAX / size.y);
        let height = (size.y * scale).clamp(HEIGHT_MIN, HEIGHT_MAX);
        let shown = DVec2::new(WIDTH, height) / scale;
        Sheet { low: (low + high - shown) / 2.0, scale, height }
    }

    /// m: the window that it shows.
    pub fn window(&self) -> [DVec2; 2] {
        [self.low, self.low + DVec2::new(WIDTH, self.height) / self.scale]
    }

    pub fn at(&self, point: DVec2) -> DVec2 {
        let from = (point - self.low) * self.scale;
        DVec2::new(from.x, self.height - from.y)
    }
}

/// Of a line of small type.
pub const LETTER: f64 = 5.4;
const LINE: f64 = 11.0;

/// Words on paper, none over another.
pub struct Labels {
    size: DVec2,
    taken: Vec<[DVec2; 2]>,
}

impl Labels {
    pub fn new(size: DVec2) -> Labels {
        Labels { size, taken: Vec::new() }
    }

    /// Keeps a place free.
    pub fn reserve(&mut self, low: DVec2, high: DVec2) {
        self.taken.push([low, high]);
    }

    /// Where a text may begin (its baseline's left end) as near to a place as there is room, no nearer than `away`.
    pub fn place(&mut self, text: &str, near: DVec2, away: f64) -> Option<DVec2> {
        let size = DVec2::new(LETTER * text.chars().count() as f64 + 2.0, LINE);
        let rings = (0..9).map(|ring| away + 9.0 * f64::from(ring));
        let centres = rings.flat_map(|ring| {
            (0..12).map(move |hour| {
                let angle = f64::from(hour) * std::f64::consts::PI / 6.0 - std::f64::consts::FRAC_PI_2;
                near + DVec2::new(angle.cos() * (ring + size.x / 2.0), angle.sin() * (ring + LINE / 2.0))
            })
        });
        let inside = |low: &DVec2| low.cmpge(DVec2::splat(2.0)).all() && (*low + size).cmple(self.size - 2.0).all();
        let free = |low: &DVec2| {
            let high = *low + size;
            let meets = |[a, b]: &[DVec2; 2]| low.cmplt(*b).all() && a.cmplt(high).all();
            !self.taken.iter().any(meets)
        };
        let low = centres.map(|centre| centre - size / 2.0).find(|low| inside(low) && free(low))?;
        self.reserve(low, low + size);
        Some(low + DVec2::new(1.0, LINE - 2.5))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_to_scale_and_shows_all_of_it() {
        let sheet = Sheet::showing(DVec2::new(-2.0, 1.0), DVec2::new(7.0, 4.0));
        assert!((sheet.scale - 40.0).abs() < 1e-9);
        assert!((sheet.height - 150.0).abs() < 1e-9, "shallow ones get some height");
        let [a, b] = [DVec2::new(-2.0, 1.0), DVec2::new(7.0, 4.0)].map(|point| sheet.at(point));
        assert!((b - a).abs_diff_eq(DVec2::new(360.0, -120.0), 1e-9), "{a} {b}");
        assert!(a.y < sheet.height && b.y > 0.0);
    }

    #[test]
    fn words_find_room_beside_each_other_or_are_left_out() {
        let mut labels = Labels::new(DVec2::new(200.0, 100.0));
        let places: Vec<DVec2> =
            (0..40).map_while(|_| labels.place("minnow", DVec2::new(100.0, 50.0), 4.0)).collect();
        assert!(places.len() > 5 && places.len() < 40, "{}", places.len());
        let apart = |a: &DVec2, b: &DVec2| (a.x - b.x).abs() >= 6.0 * LETTER || (a.y - b.y).abs() >= LINE - 1e-9;
        for (index, one) in places.iter().enumerate() {
            assert!(one.x >= 0.0 && one.x + 6.0 * LETTER <= 200.0 && one.y <= 100.0);
            assert!(places[index + 1..].iter().all(|other| apart(one, other)));
        }
    }
}
