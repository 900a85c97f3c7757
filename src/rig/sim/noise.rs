//! Measurement noise that is the same for the same seed on every machine.

use crate::show::AxisId;

/// The generator SplitMix64: Steele, Lea and Flood, *Fast Splittable Pseudorandom Number Generators*, 2014.
#[derive(Clone, Debug)]
pub struct Noise {
    state: u64,
}

/// Uniform numbers that are summed for a normal one.
const SUMMED: u32 = 12;

impl Noise {
    pub fn new(seed: u64, axis: AxisId) -> Noise {
        let mut noise = Noise { state: seed };
        let start = noise.next();
        let mut noise = Noise { state: start ^ u64::from(axis.0) };
        Noise { state: noise.next() }
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut word = self.state;
        word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        word ^ (word >> 31)
    }

    /// From 0 to below 1.
    fn uniform(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Of mean 0 and standard deviation 1, within ±6: the sum of twelve uniform numbers, whose variance is 1.
    pub fn normal(&mut self) -> f64 {
        (0..SUMMED).map(|_| self.uniform()).sum::<f64>() - f64::from(SUMMED) / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generator_gives_the_published_sequence() {
        // Seed 1234567: the first outputs of the authors' reference program (splitmix64.c, Vigna).
        let mut noise = Noise { state: 1_234_567 };
        assert_eq!(noise.next(), 6_457_827_717_110_365_317);
        assert_eq!(noise.next(), 3_203_168_211_198_807_973);
    }

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
