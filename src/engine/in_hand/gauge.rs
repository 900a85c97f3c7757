//! Readings of every axis, averaged over a while, and what moved between two of them.

use super::trial::{Sign, step_of};
use crate::engine::io::Setpoint;
use crate::show::{Axis, AxisId};

/// An axis has moved if by more than this part of the step of its own sign check, and by more than so many standard
/// deviations of what noise makes of the averages.
const MOVED_PART: f64 = 0.25;
const MOVED_DEVIATIONS: f64 = 6.0;
/// Less or more than this times what was commanded is another size.
const LESS: f64 = 0.5;
const MORE: f64 = 2.0;

/// Of one axis: the average, and the variance of that.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Gauge {
    pub mean: f64,
    variance: f64,
    /// Its setpoint all along; none if that moved.
    told: Option<f64>,
}

/// Sums that grow while it is measured.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    count: f64,
    /// The first reading, from which the others are counted so that nothing cancels.
    first: f64,
    sum: f64,
    squares: f64,
    told: Option<f64>,
}

/// By `AxisId`.
#[derive(Clone, Debug)]
pub struct Gauges {
    sums: Vec<Sum>,
    now: Vec<Gauge>,
    before: Vec<Gauge>,
}

impl Gauges {
    pub fn new(axes: usize) -> Gauges {
        let none = vec![Gauge::default(); axes];
        Gauges { sums: vec![Sum::default(); axes], now: none.clone(), before: none }
    }

    /// One more reading of every axis, or the first of a new row.
    pub fn read(&mut self, first: bool, measured: impl Iterator<Item = f64>, told: &[Setpoint]) {
        for ((sum, position), told) in self.sums.iter_mut().zip(measured).zip(told) {
            if first {
                *sum = Sum { first: position, told: Some(told.position), ..Sum::default() };
            }
            let from_first = position - sum.first;
            sum.count += 1.0;
            sum.sum += from_first;
            sum.squares += from_first * from_first;
            sum.told = sum.told.filter(|before| *before == told.position);
        }
    }

    /// The row is whole; the one before it is kept beside it.
    pub fn close(&mut self) {
        std::mem::swap(&mut self.now, &mut self.before);
        for (gauge, sum) in self.now.iter_mut().zip(&self.sums) {
            let count = sum.count.max(1.0);
            let mean = sum.sum / count;
            let variance = (sum.squares / count - mean * mean).max(0.0) / count;
            *gauge = Gauge { mean: sum.first + mean, variance, told: sum.told };
        }
    }

    pub fn now(&self, axis: AxisId) -> Gauge {
        self.now[axis.index()]
    }

    /// By how much an axis is measured elsewhere than before.
    pub fn moved(&self, axis: AxisId) -> f64 {
        self.now[axis.index()].mean - self.before[axis.index()].mean
    }

    /// Whether that is more than noise.
    fn has_moved(&self, axis: AxisId, of: &Axis) -> bool {
        let (now, before) = (self.now[axis.index()], self.before[axis.index()]);
        let noise = (now.variance + before.variance).sqrt();
        // What is no number has not moved.
        self.moved(axis).abs() > (MOVED_PART * step_of(of)).max(MOVED_DEVIATIONS * noise)
    }

    /// What an axis made of a command, and which other axis moved though nothing told it to.
    pub fn sign(&self, axis: AxisId, axes: &[Axis], commanded: f64) -> (Sign, Option<(AxisId, f64)>) {
        let stray = |other: &AxisId| {
            let (now, before) = (self.now[other.index()].told, self.before[other.index()].told);
            let stood = now.is_some() && now == before;
            *other != axis && stood && self.has_moved(*other, &axes[other.index()])
        };
        let other = (0..axes.len()).map(AxisId::new).find(stray).map(|other| (other, self.moved(other)));
        let way = self.moved(axis) / commanded;
        let sign = if !self.has_moved(axis, &axes[axis.index()]) {
            if other.is_some() { Sign::Swapped } else { Sign::DidNotMove }
        } else if way < 0.0 {
            Sign::Reversed
        } else if (LESS..=MORE).contains(&way) {
            Sign::Agrees
        } else {
            Sign::WrongSize
        };
        (sign, other)
    }
}
