//! What a rig carries at its end to look with: which way it looks, and what the positions of its lens axes stand for.

use glam::DVec3;

use super::id::AxisId;
use super::source::Place;

/// Hangs in the frame of the rig's last axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Lens {
    /// m, from where it looks.
    pub at: DVec3,
    /// Unit vector: the optical axis, away from the camera.
    pub forward: DVec3,
    /// The two axes that aim it, the one nearer the base first, where the file names them.
    pub aim: Option<[AxisId; 2]>,
    /// mm, width of the picture behind the lens.
    pub sensor: f64,
    /// mm, of the largest spot that still counts as sharp (circle of confusion).
    pub confusion: f64,
    /// To metres.
    pub focus: Option<Ring>,
    /// To mm of focal length.
    pub zoom: Option<Ring>,
    /// To f-numbers.
    pub iris: Option<Ring>,
    pub place: Place,
}

impl Lens {
    /// Of a rig that says nothing of its lens: along x of its last frame, from the origin of it.
    pub const PLAIN: Lens = Lens {
        at: DVec3::ZERO,
        forward: DVec3::X,
        aim: None,
        sensor: 36.0,
        confusion: 0.03,
        focus: None,
        zoom: None,
        iris: None,
        place: Place { file: 0, start: 0, end: 0 },
    };
}

/// A lens axis, and what its positions stand for.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring {
    pub axis: AxisId,
    pub table: Table,
}

/// On which scale the values of a table lie evenly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// Distances: a lens is moved nearly in proportion to the reciprocal of the distance that it is focused at (1/f = 1/s + 1/s').
    Reciprocal,
    /// Focal lengths and f-numbers: equal steps enlarge the picture, or dim it, by equal factors.
    Logarithm,
}

impl Scale {
    fn of(self, value: f64) -> f64 {
        match self {
            Scale::Reciprocal => 1.0 / value,
            Scale::Logarithm => libm::log(value),
        }
    }

    fn back(self, level: f64) -> f64 {
        match self {
            Scale::Reciprocal => 1.0 / level,
            Scale::Logarithm => libm::exp(level),
        }
    }
}

/// Positions of a lens axis, in its unit, against what they stand for; between its rows a curve without a kink that never
/// turns back: the monotone cubic of F. Fritsch and J. Butland, "A method for constructing local monotone piecewise cubic
/// interpolants", SIAM Journal on Scientific and Statistical Computing 5, 1984. A position can be asked for a value, and a
/// value for a position; each is the other's inverse.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    scale: Scale,
    /// By rising level: level on the scale, position, and the slope of the position by the level.
    rows: Vec<[f64; 3]>,
}

impl Table {
    /// Of rows of position and value. Positions rise, values rise or fall, all above zero; `None` if they do not, or are fewer
    /// than two.
    pub fn new(scale: Scale, written: &[[f64; 2]]) -> Option<Table> {
        let mut rows: Vec<[f64; 3]> =
            written.iter().map(|&[position, value]| [scale.of(value), position, 0.0]).collect();
        if rows.len() < 2 || written.iter().any(|row| !(row[1] > 0.0 && row[1].is_finite() && row[0].is_finite())) {
            return None;
        }
        if rows[0][0] > rows[1][0] {
            rows.reverse();
        }
        let rises = |of: usize| rows.windows(2).all(|pair| pair[0][of] < pair[1][of]);
        let falls = rows.windows(2).all(|pair| pair[0][1] > pair[1][1]);
        if !rises(0) || !(rises(1) || falls) {
            return None;
        }
        set_slopes(&mut rows);
        Some(Table { scale, rows })
    }

    /// The least and the greatest value that it knows.
    pub fn values(&self) -> [f64; 2] {
        let [first, last] = [self.rows[0], self.rows[self.rows.len() - 1]].map(|row| self.scale.back(row[0]));
        [first.min(last), first.max(last)]
    }

    /// Where the axis stands for a value; beyond the ends of the table, at its end.
    pub fn position(&self, value: f64) -> f64 {
        let [first, .., last] = &self.rows[..] else { return 0.0 };
        let level = self.scale.of(value).clamp(first[0], last[0]);
        let after = self.rows.partition_point(|row| row[0] < level).clamp(1, self.rows.len() - 1);
        between(self.rows[after - 1], self.rows[after], level)
    }

    /// What a position stands for; beyond the ends of the table, what its end does.
    pub fn value(&self, position: f64) -> f64 {
        let [first, .., last] = &self.rows[..] else { return 0.0 };
        let rises = first[1] < last[1];
        let [mut low, mut high] = [first[0], last[0]];
        let at = |level: f64| self.position(self.scale.back(level));
        if (position <= first[1]) == rises {
            return self.scale.back(low);
        }
        if (position >= last[1]) == rises {
            return self.scale.back(high);
        }
        // As often as a number can be halved before nothing of the table is left between the two.
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if (at(middle) < position) == rises { low = middle } else { high = middle }
        }
        self.scale.back(f64::midpoint(low, high))
    }
}

/// By the rule of Fritsch and Butland: where the chords to both sides go one way, their harmonic mean, weighted by their
/// lengths; at the ends that of the chord. Then no piece turns back.
fn set_slopes(rows: &mut [[f64; 3]]) {
    let chords: Vec<[f64; 2]> = rows
        .windows(2)
        .map(|pair| {
            let length = pair[1][0] - pair[0][0];
            [length, (pair[1][1] - pair[0][1]) / length]
        })
        .collect();
    let last = rows.len() - 1;
    rows[0][2] = chords[0][1];
    rows[last][2] = chords[last - 1][1];
    for (row, pair) in rows[1..last].iter_mut().zip(chords.windows(2)) {
        let [[before, one], [after, other]] = [pair[0], pair[1]];
        let [w, v] = [2.0 * after + before, after + 2.0 * before];
        row[2] = (w + v) / (w / one + v / other);
    }
}

/// The cubic through two rows, with their slopes.
fn between(from: [f64; 3], to: [f64; 3], level: f64) -> f64 {
    let length = to[0] - from[0];
    let u = (level - from[0]) / length;
    let rest = 1.0 - u;
    let (square, rest_square) = (u * u, rest * rest);
    from[1] * rest_square * (1.0 + 2.0 * u)
        + to[1] * square * (3.0 - 2.0 * u)
        + length * u * rest * (from[2] * rest - to[2] * u)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn focus() -> Table {
        Table::new(Scale::Reciprocal, &[[0.0, 0.6], [50.0, 3.0], [100.0, 30.0]]).unwrap()
    }

    #[test]
    fn a_table_gives_its_rows_both_ways() {
        for [position, metres] in [[0.0, 0.6], [50.0, 3.0], [100.0, 30.0]] {
            assert!((focus().position(metres) - position).abs() < 1e-12);
            assert!((focus().value(position) - metres).abs() < 1e-9 * metres);
        }
        assert_eq!((focus().position(0.1), focus().position(500.0)), (0.0, 100.0));
        assert_eq!(focus().values().map(|end| (end * 1e6).round() / 1e6), [0.6, 30.0]);
        assert!((focus().value(-5.0) - 0.6).abs() < 1e-12 && (focus().value(105.0) - 30.0).abs() < 1e-9);
    }

    /// Two rows: a straight line in the reciprocal of the distance, half way between 1 m and 4 m at 1.6 m.
    #[test]
    fn focus_lies_evenly_in_the_reciprocal_and_zoom_in_the_logarithm() {
        let focus = Table::new(Scale::Reciprocal, &[[0.0, 1.0], [100.0, 4.0]]).unwrap();
        assert!((focus.position(1.6) - 50.0).abs() < 1e-12);
        let zoom = Table::new(Scale::Logarithm, &[[0.0, 20.0], [100.0, 80.0]]).unwrap();
        assert!((zoom.value(50.0) - 40.0).abs() < 1e-9);
        // Iris: wide open at the high end.
        let iris = Table::new(Scale::Logarithm, &[[0.0, 16.0], [100.0, 4.0]]).unwrap();
        assert!((iris.value(50.0) - 8.0).abs() < 1e-9 && (iris.position(8.0) - 50.0).abs() < 1e-12);
    }

    #[test]
    fn rows_that_turn_back_are_no_table() {
        let table = |rows: &[[f64; 2]]| Table::new(Scale::Reciprocal, rows);
        assert!(table(&[[0.0, 1.0]]).is_none() && table(&[]).is_none());
        assert!(table(&[[0.0, 1.0], [50.0, 3.0], [100.0, 2.0]]).is_none());
        assert!(table(&[[0.0, 1.0], [50.0, 3.0], [40.0, 9.0]]).is_none());
        assert!(table(&[[0.0, 1.0], [50.0, 1.0]]).is_none() && table(&[[0.0, 0.0], [50.0, 1.0]]).is_none());
        assert!(table(&[[0.0, f64::NAN], [50.0, 1.0]]).is_none());
    }

    proptest! {
        #[test]
        fn both_ways_are_inverse_and_neither_turns_back(
            steps in prop::collection::vec((0.1..50.0_f64, 0.05..3.0_f64), 2..8), falls in any::<bool>(), share in 0.0..1.0_f64,
        ) {
            let mut rows = vec![[0.0, 0.5]];
            for (way, factor) in steps {
                let [position, value] = rows[rows.len() - 1];
                rows.push([position + way, value * (1.0 + factor)]);
            }
            if falls {
                let values: Vec<f64> = rows.iter().rev().map(|row| row[1]).collect();
                rows.iter_mut().zip(values).for_each(|(row, value)| row[1] = value);
            }
            for scale in [Scale::Reciprocal, Scale::Logarithm] {
                let table = Table::new(scale, &rows).unwrap();
                let end = rows[rows.len() - 1][0];
                let position = share * end;
                prop_assert!((table.position(table.value(position)) - position).abs() < 1e-6 * end);
                let positions: Vec<f64> = (0..=50).map(|k| table.value(end * f64::from(k) / 50.0)).collect();
                prop_assert!(positions.windows(2).all(|pair| (pair[0] < pair[1]) != falls), "{positions:?}");
            }
        }
    }
}
