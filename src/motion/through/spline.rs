//! Cubic B-splines: de Boor, *A Practical Guide to Splines*, 1978.

/// Those of cells of any length; as if the first and the last cell went on beyond the ends.
pub struct Basis {
    /// The ends of the cells, with three more before and after.
    knots: Vec<f64>,
}

/// Position, speed and acceleration by the spline's own parameter.
pub type Node = [f64; 3];

impl Basis {
    /// Of the cells between these, in order.
    pub fn new(ends: &[f64]) -> Basis {
        let cells = ends.len() - 1;
        let (first, last) = (ends[1] - ends[0], ends[cells] - ends[cells - 1]);
        let before = (1..=3).rev().map(|by| ends[0] - first * f64::from(by));
        let after = (1..=3).map(|by| ends[cells] + last * f64::from(by));
        Basis { knots: before.chain(ends.iter().copied()).chain(after).collect() }
    }

    pub fn cells(&self) -> usize {
        self.knots.len() - 7
    }

    pub fn coefficients(&self) -> usize {
        self.cells() + 3
    }

    /// The length of a cell.
    pub fn length(&self, cell: usize) -> f64 {
        self.knots[cell + 4] - self.knots[cell + 3]
    }

    /// What coefficients `node`, `node + 1` and `node + 2` weigh in the position at a node, and in the acceleration.
    pub fn weights(&self, node: usize) -> [[f64; 3]; 2] {
        let Reach { near, left, right, back, fore } = self.reach(node);
        let (before, after) = (fore * fore / (near * left), back * back / (near * right));
        let (lower, upper) = (6.0 / (near * left), 6.0 / (near * right));
        [[before, 1.0 - before - after, after], [lower, -lower - upper, upper]]
    }

    /// The spline at a node. By differences: where its coefficients are alike it stands still, to the last digit.
    pub fn node(&self, node: usize, coefficients: &[f64]) -> Node {
        let Reach { near, left, right, back, fore } = self.reach(node);
        let own = coefficients[node + 1];
        let (lower, upper) = (own - coefficients[node], coefficients[node + 2] - own);
        let position = own - lower * (fore * fore / (near * left)) + upper * (back * back / (near * right));
        // The coefficients of the derivative.
        let (lower, upper) = (3.0 * lower / left, 3.0 * upper / right);
        [position, (fore * lower + back * upper) / near, 2.0 * (upper - lower) / near]
    }

    fn reach(&self, node: usize) -> Reach {
        let at = &self.knots[node + 1..node + 6];
        Reach {
            near: at[3] - at[1],
            left: at[3] - at[0],
            right: at[4] - at[1],
            back: at[2] - at[1],
            fore: at[3] - at[2],
        }
    }
}

/// Lengths around a node: of the cells beside it, both; with one more before; with one more after; each of the two.
struct Reach {
    near: f64,
    left: f64,
    right: f64,
    back: f64,
    fore: f64,
}
