//! The rule by which a recorded axis becomes a smooth curve.
//!
//! Of all cubic splines on the knots it is the one of the least squared jerk of which no sample is farther off than the
//! axis's tolerance, nor all of them, in the root mean square, than a tenth of that, or than their own noise where that is
//! more. That is the smoothing spline of Reinsch ("Smoothing by spline functions", Numerische Mathematik 10, 1967) with the
//! jerk in the place of the curvature; his multiplier is found by halving.
//!
//! Knots stand a tenth of a second apart, which follows a hand and not its tremor; half of that, and so on, only where
//! a sample would be too far off else.

use super::noise::{glitch, noise};
use super::spline::{Deviation, Fitting, Knots, Rests, Spline};

/// s, between knots; halved as often as needed.
const SPACING: f64 = 0.1;
const HALVINGS: u32 = 3;
/// With fewer samples to a piece a glitch would pass for motion.
const SAMPLES_A_PIECE: f64 = 2.0;
/// Of a spline.
const PIECES_LEAST: usize = 8;
/// Of the tolerance, that samples may be off in the root mean square.
const MEAN_SHARE: f64 = 0.1;
/// The same where the knots cannot follow the samples so closely, against the least that they can.
const MEAN_RESERVE: f64 = 1.1;
/// Powers of ten of the penalty, against the weight of the samples: from one that fits all that the knots can, to one
/// that leaves a parabola.
const PENALTIES: [f64; 2] = [-7.0, 8.0];
const PENALTY_HALVINGS: usize = 24;
/// Where one sample is too far off though the mean is not, the penalty falls by this power of ten until none is.
const PENALTY_STEP: f64 = 0.2;

/// One axis of a recording, in its own unit.
#[derive(Clone, Copy, Debug)]
pub struct Trace<'a> {
    /// Beside the times.
    pub values: &'a [f64],
    pub tolerance: f64,
    /// The curve is kept within it, if the samples are but for the tolerance.
    pub travel: [f64; 2],
}

/// Why a recorded axis is no curve; the sample that shows it, by its index.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rough {
    /// It is so far from where the samples beside it have the axis.
    Glitch { sample: usize, off: f64 },
    /// All of them scatter, by this standard deviation.
    Noise { sample: usize, deviation: f64 },
    /// No spline on the closest knots comes nearer to it than this.
    Beyond { sample: usize, off: f64 },
}

impl Trace<'_> {
    /// The standard deviation of its noise, if there is no glitch in it; `times` rise from 0.
    pub fn noise(&self, times: &[f64]) -> Result<f64, Rough> {
        let noise = noise(times, self.values);
        match glitch(times, self.values, self.tolerance, noise) {
            Some((sample, off)) => Err(Rough::Glitch { sample, off }),
            None => Ok(noise),
        }
    }

    fn hull(&self) -> Option<[f64; 2]> {
        let [low, high] = self.travel;
        let near = |value: &f64| (low - self.tolerance..=high + self.tolerance).contains(value);
        self.values.iter().all(near).then_some(self.travel)
    }
}

/// The knots to try, one after the other.
pub fn knots(times: &[f64]) -> impl Iterator<Item = Knots> {
    let duration = times[times.len() - 1];
    let closest = SAMPLES_A_PIECE * duration / (times.len() - 1) as f64;
    let tried = (0..=HALVINGS).map(move |halvings| {
        let wanted = (SPACING / f64::from(1 << halvings)).max(closest);
        let pieces = ((duration / wanted).ceil() as usize).max(PIECES_LEAST);
        Knots { spacing: duration / pieces as f64, pieces }
    });
    let mut last = 0;
    tried.filter(move |knots| std::mem::replace(&mut last, knots.pieces) != knots.pieces)
}

/// The curve on such knots, or how far it is from the samples at best.
pub fn smooth(times: &[f64], trace: Trace, noise: f64, knots: Knots, rests: Rests) -> Result<Spline, Deviation> {
    let fitting = Fitting::new(times, trace.values, knots, rests, trace.hull());
    let at = |power: f64| {
        let spline = fitting.spline(libm::pow(10.0, power));
        let off = fitting.deviation(&spline);
        (spline, off)
    };
    let [mut low, mut high] = PENALTIES;
    let closest = at(low);
    if closest.1.most > trace.tolerance {
        return Err(closest.1);
    }
    let mean = noise.max(MEAN_SHARE * trace.tolerance).max(MEAN_RESERVE * closest.1.mean);
    for _ in 0..PENALTY_HALVINGS {
        let middle = f64::midpoint(low, high);
        if at(middle).1.mean <= mean { low = middle } else { high = middle }
    }
    while low > PENALTIES[0] {
        let (spline, off) = at(low);
        if off.most <= trace.tolerance {
            return Ok(spline);
        }
        low -= PENALTY_STEP;
    }
    Ok(closest.0)
}
