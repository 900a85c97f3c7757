//! Small linear programmes: the least of a linear cost within linear bounds.
//!
//! By the interior-point method of Mehrotra, "On the implementation of a primal-dual interior point method", 1992, with dense normal
//! equations: of a few dozen variables no other comes so surely to the end in so few steps. It takes no memory but the stack's.

use super::effort::Effort;

/// Variables of every programme.
pub(super) const VARIABLES: usize = 21;
/// Bounds at most, besides those of each variable.
pub(super) const ROWS: usize = 400;
/// Steps at most.
const STEPS: usize = 18;
/// The part of the greatest cost by which the answer may be off.
const CLOSED: f64 = 1e-3;
/// The part of the way to the next bound that a step goes.
const SHORT: f64 = 0.98;
/// Multiplications that are counted as a look, though they take some three times as long; and rows that are multiplied at once, which
/// is quicker.
const LOOK: usize = 450;
const AT_ONCE: usize = 4;

pub(super) type Row = [f64; VARIABLES];

/// The least of `cost·x` with `row·x ≤ room` for each row, and `low ≤ x ≤ high`. At 0 every bound must leave room.
pub(super) struct Programme<'a> {
    pub cost: Row,
    pub rows: &'a [(Row, f64)],
    pub low: Row,
    pub high: Row,
}

/// One bound: a row, or the upper or the lower one of a variable.
#[derive(Clone, Copy)]
enum Place {
    Row(usize),
    High(usize),
    Low(usize),
}

/// A number for every bound.
struct Bounds {
    rows: [f64; ROWS],
    high: Row,
    low: Row,
}

impl Bounds {
    fn at(&self, place: Place) -> f64 {
        match place {
            Place::Row(row) => self.rows[row],
            Place::High(at) => self.high[at],
            Place::Low(at) => self.low[at],
        }
    }
}

/// A step of the variables, by how much every bound draws nearer, and its price dearer.
struct Step {
    way: Row,
    nearer: Bounds,
    dearer: Bounds,
}

/// What is left to every bound, and what its price is.
struct State {
    left: Bounds,
    price: Bounds,
}

impl Programme<'_> {
    /// `None` where the effort is spent or the numbers give out.
    pub fn least(&self, effort: &Effort) -> Option<Row> {
        let mut x = [0.0; VARIABLES];
        let left = self.each(|place| match place {
            Place::Row(row) => self.rows[row].1,
            Place::High(at) => self.high[at],
            Place::Low(at) => -self.low[at],
        });
        let count = (self.rows.len() + 2 * VARIABLES) as f64;
        let scale = most(&self.cost);
        let price = self.each(|place| scale / (count.sqrt() * left.at(place).max(0.05)));
        let mut state = State { left, price };
        for _ in 0..STEPS {
            let State { left, price } = &state;
            let gap = self.sum(|place| left.at(place) * price.at(place)) / count;
            let mut unpaid = self.across(price);
            unpaid.iter_mut().zip(self.cost).for_each(|(unpaid, cost)| *unpaid += cost);
            if gap * count < CLOSED * scale && most(&unpaid) < CLOSED * scale {
                break;
            }
            effort.spend(self.work() / LOOK)?;
            let factor = self.factored(&state)?;
            // First straight at the bounds; how far that goes tells how far from them to keep.
            let straight = self.each(|place| left.at(place) * price.at(place));
            let Step { nearer, dearer, .. } = self.towards(&state, &factor, &unpaid, &straight);
            let (far, dear) = self.reach(&state, &nearer, &dearer);
            let ahead = self.sum(|place| {
                (left.at(place) - far * nearer.at(place)) * (price.at(place) + dear * dearer.at(place))
            });
            let ahead = ahead / (count * gap);
            let middle = ahead * ahead * ahead * gap;
            let bent =
                self.each(|place| left.at(place) * price.at(place) - nearer.at(place) * dearer.at(place) - middle);
            let Step { way, nearer, dearer } = self.towards(&state, &factor, &unpaid, &bent);
            let (far, dear) = self.reach(&state, &nearer, &dearer);
            x.iter_mut().zip(way).for_each(|(x, way)| *x += far * way);
            state = State {
                left: self.each(|place| left.at(place) - far * nearer.at(place)),
                price: self.each(|place| price.at(place) + dear * dearer.at(place)),
            };
        }
        x.iter().all(|value| value.is_finite()).then_some(x)
    }

    /// Multiplications that a step takes, about.
    fn work(&self) -> usize {
        VARIABLES * VARIABLES * (self.rows.len() + VARIABLES / 6 + 16)
    }

    fn places(&self) -> impl Iterator<Item = Place> {
        let variables = (0..VARIABLES).flat_map(|at| [Place::High(at), Place::Low(at)]);
        (0..self.rows.len()).map(Place::Row).chain(variables)
    }

    fn each(&self, value: impl Fn(Place) -> f64) -> Bounds {
        let mut bounds = Bounds { rows: [0.0; ROWS], high: [0.0; VARIABLES], low: [0.0; VARIABLES] };
        for place in self.places() {
            match place {
                Place::Row(row) => bounds.rows[row] = value(place),
                Place::High(at) => bounds.high[at] = value(place),
                Place::Low(at) => bounds.low[at] = value(place),
            }
        }
        bounds
    }

    fn sum(&self, value: impl Fn(Place) -> f64) -> f64 {
        self.places().map(value).sum()
    }

    /// What the prices of all bounds come to for each variable.
    fn across(&self, prices: &Bounds) -> Row {
        let mut sums = [0.0; VARIABLES];
        for ((row, _), price) in self.rows.iter().zip(prices.rows) {
            sums.iter_mut().zip(row).for_each(|(sum, value)| *sum += value * price);
        }
        for (at, sum) in sums.iter_mut().enumerate() {
            *sum += prices.high[at] - prices.low[at];
        }
        sums
    }

    /// The step by Newton's method that takes what is off from the product of room and price of every bound.
    fn towards(&self, state: &State, factor: &[Row; VARIABLES], unpaid: &Row, off: &Bounds) -> Step {
        let State { left, price } = state;
        let pulled = self.across(&self.each(|place| off.at(place) / left.at(place)));
        let mut way = [0.0; VARIABLES];
        for (at, way) in way.iter_mut().enumerate() {
            *way = pulled[at] - unpaid[at];
        }
        solve(factor, &mut way);
        let nearer = self.each(|place| match place {
            Place::Row(row) => dot(&self.rows[row].0, &way),
            Place::High(at) => way[at],
            Place::Low(at) => -way[at],
        });
        let dearer = self.each(|place| (price.at(place) * nearer.at(place) - off.at(place)) / left.at(place));
        Step { way, nearer, dearer }
    }

    /// How much of a step may be taken until a bound is met, and until a price is nothing.
    fn reach(&self, state: &State, nearer: &Bounds, dearer: &Bounds) -> (f64, f64) {
        let within = |now: &Bounds, less: &dyn Fn(Place) -> f64| {
            let times = self.places().filter(|&place| less(place) > 0.0).map(|place| now.at(place) / less(place));
            (SHORT * times.fold(f64::INFINITY, f64::min)).min(1.0)
        };
        (within(&state.left, &|place| nearer.at(place)), within(&state.price, &|place| -dearer.at(place)))
    }

    /// The matrix of the normal equations, by Cholesky's factor.
    fn factored(&self, State { left, price }: &State) -> Option<[Row; VARIABLES]> {
        let mut matrix = [[0.0; VARIABLES]; VARIABLES];
        let weight = |row: usize| price.rows[row] / left.rows[row];
        let (fours, rest) = self.rows.as_chunks::<AT_ONCE>();
        for (index, four) in fours.iter().enumerate() {
            let weights: [f64; AT_ONCE] = std::array::from_fn(|row| weight(AT_ONCE * index + row));
            add(&mut matrix, four, weights);
        }
        for (index, one) in rest.iter().enumerate() {
            add(&mut matrix, &[*one], [weight(AT_ONCE * fours.len() + index)]);
        }
        for at in 0..VARIABLES {
            matrix[at][at] += price.high[at] / left.high[at] + price.low[at] / left.low[at];
            for other in 0..=at {
                let value = matrix[at][other] - dot(&matrix[at][..other], &matrix[other][..other]);
                if other < at {
                    matrix[at][other] = value / matrix[other][other];
                } else if value > 0.0 && value.is_finite() {
                    matrix[at][at] = value.sqrt();
                } else {
                    return None;
                }
            }
        }
        Some(matrix)
    }
}

/// Adds the product of each row with itself, so often.
fn add<const COUNT: usize>(matrix: &mut [Row; VARIABLES], rows: &[(Row, f64); COUNT], weights: [f64; COUNT]) {
    for (at, line) in matrix.iter_mut().enumerate() {
        let weighted: [f64; COUNT] = std::array::from_fn(|index| weights[index] * rows[index].0[at]);
        for (column, sum) in line.iter_mut().enumerate() {
            *sum += weighted.iter().zip(rows).map(|(weighted, (row, _))| weighted * row[column]).sum::<f64>();
        }
    }
}

fn most(row: &Row) -> f64 {
    row.iter().fold(0.0, |most, value| most.max(value.abs()))
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

/// By Cholesky's factor, in place.
fn solve(factor: &[Row; VARIABLES], right: &mut Row) {
    for at in 0..VARIABLES {
        right[at] = (right[at] - dot(&factor[at][..at], &right[..at])) / factor[at][at];
    }
    for at in (0..VARIABLES).rev() {
        right[at] /= factor[at][at];
        let value = right[at];
        right[..at].iter_mut().zip(&factor[at]).for_each(|(right, below)| *right -= below * value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn least(cost: Row, rows: &[(Row, f64)], reach: f64) -> Option<Row> {
        let programme = Programme { cost, rows, low: [-reach; VARIABLES], high: [reach; VARIABLES] };
        programme.least(&Effort::of(u32::MAX))
    }

    fn row(entries: &[(usize, f64)]) -> Row {
        let mut row = [0.0; VARIABLES];
        entries.iter().for_each(|&(at, value)| row[at] = value);
        row
    }

    /// Dantzig's way to draw them: what each of two goods earns, and three rooms that they share; by hand 2 and 6.
    #[test]
    fn a_corner_of_three_rows_is_found() {
        let rows = [(row(&[(0, 1.0)]), 4.0), (row(&[(1, 2.0)]), 12.0), (row(&[(0, 3.0), (1, 2.0)]), 18.0)];
        let found = least(row(&[(0, -3.0), (1, -5.0)]), &rows, 100.0).unwrap();
        assert!((found[0] - 2.0).abs() < 0.01 && (found[1] - 6.0).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn without_a_row_each_variable_goes_to_its_own_bound() {
        let mut cost = [1.0; VARIABLES];
        cost[3] = -2.0;
        let found = least(cost, &[], 0.25).unwrap();
        for (at, value) in found.into_iter().enumerate() {
            let wanted = if at == 3 { 0.25 } else { -0.25 };
            assert!((value - wanted).abs() < 1e-3, "{at}: {value}");
        }
    }

    /// No point that keeps the bounds is better, of many that are tried.
    #[test]
    fn none_of_many_points_that_keep_the_bounds_is_better() {
        let mut seed = 1_u64;
        let mut part = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
        };
        for _ in 0..20 {
            let cost: Row = std::array::from_fn(|_| part());
            let rows: Vec<(Row, f64)> =
                (0..60).map(|_| (std::array::from_fn(|_| part()), 0.2 + part().abs())).collect();
            let found = least(cost, &rows, 1.0).unwrap();
            let keeps = |x: &Row| rows.iter().all(|(row, room)| dot(row, x) <= *room);
            assert!(keeps(&found) && most(&found) <= 1.0);
            for _ in 0..300 {
                // From there any way that lowers the cost, a little.
                let step: Row = std::array::from_fn(|_| 0.02 * part());
                let there: Row = std::array::from_fn(|at| found[at] + step[at]);
                let lower = dot(&cost, &step) < -5e-3;
                assert!(!lower || !keeps(&there) || most(&there) > 1.0);
            }
        }
    }

    #[test]
    fn it_stops_where_the_effort_is_spent() {
        let programme =
            Programme { cost: [1.0; VARIABLES], rows: &[], low: [-1.0; VARIABLES], high: [1.0; VARIABLES] };
        assert!(programme.least(&Effort::of(5)).is_none());
    }
}
