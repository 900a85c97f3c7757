//! Measurement noise that is the same for the same seed on every machine.

use crate::rig::chance::Chance;
use crate::show::AxisId;

/// Normally distributed, a sequence of its own for each axis.
#[derive(Clone, Debug)]
pub struct Noise {
    chance: Chance,
}

/// Uniform numbers that are summed for a normal one.
const SUMMED: u32 = 12;

impl Noise {
    pub fn new(seed: u64, axis: AxisId) -> Noise {
        let start = Chance::new(seed).word();
        let seed = Chance::new(start ^ u64::from(axis.0)).word();
        Noise { chance: Chance::new(seed) }
    }

    /// Of mean 0 and standard deviation 1, within ±6: the sum of twelve uniform numbers, whose variance is 1.
    pub fn normal(&mut self) -> f64 {
        (0..SUMMED).map(|_| self.chance.uniform()).sum::<f64>() - f64::from(SUMMED) / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_normal_enough() {
        let mut noise = Noise::new(7, AxisId(3));
        let samples: Vec<f64> = (0..20_000).map(|_| noise.normal()).collect();
        let mean = samples.iter().sum::<f64>() / samples.len() as f64;
        let variance = samples.iter().map(|sample| sample * sample).sum::<f64>() / samples.len() as f64;
        let within_one = samples.iter().filter(|sample| sample.abs() < 1.0).count() as f64 / samples.len() as f64;
        assert!(mean.abs() < 0.03, "mean {mean}");
        assert!((variance - 1.0).abs() < 0.05, "variance {variance}");
        assert!((within_one - 0.683).abs() < 0.02, "within one deviation {within_one}");
    }

    #[test]
    fn axes_and_seeds_differ_and_repeat() {
        let first = |seed, axis| Noise::new(seed, AxisId(axis)).normal().to_bits();
        assert_eq!(first(1, 1), first(1, 1));
        assert_ne!(first(1, 1), first(1, 2));
        assert_ne!(first(1, 1), first(2, 1));
    }
}
