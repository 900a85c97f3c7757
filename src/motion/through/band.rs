//! Symmetric positive definite systems of narrow band.

/// The lower band: entry `d` of row `i` is that of column `i - d`.
pub struct Band<const W: usize> {
    rows: Vec<[f64; W]>,
}

impl<const W: usize> Band<W> {
    pub fn zero(size: usize) -> Band<W> {
        Band { rows: vec![[0.0; W]; size] }
    }

    /// Adds to an entry on or below the diagonal; what lies above is its mirror.
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        self.rows[row][row - column] += value;
    }

    /// The solution for one right side, by Cholesky's factors; `None` where the matrix is not positive definite.
    pub fn solve(mut self, mut right: Vec<f64>) -> Option<Vec<f64>> {
        let size = self.rows.len();
        for row in 0..size {
            let first = row.saturating_sub(W - 1);
            for column in first..=row {
                let shared = first.max(column.saturating_sub(W - 1))..column;
                let sum: f64 = shared.map(|at| self.rows[row][row - at] * self.rows[column][column - at]).sum();
                let value = self.rows[row][row - column] - sum;
                if column < row {
                    self.rows[row][row - column] = value / self.rows[column][0];
                } else if value > 0.0 {
                    self.rows[row][0] = value.sqrt();
                } else {
                    return None;
                }
            }
            let sum: f64 = (first..row).map(|at| self.rows[row][row - at] * right[at]).sum();
            right[row] = (right[row] - sum) / self.rows[row][0];
        }
        for row in (0..size).rev() {
            let below = row + 1..size.min(row + W);
            let sum: f64 = below.map(|at| self.rows[at][at - row] * right[at]).sum();
            right[row] = (right[row] - sum) / self.rows[row][0];
        }
        Some(right)
    }
}
