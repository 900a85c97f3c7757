//! Chance that is the same for the same seed on every machine.

/// The generator SplitMix64: Steele, Lea and Flood, *Fast Splittable Pseudorandom Number Generators*, 2014.
#[derive(Clone, Debug)]
pub struct Chance {
    state: u64,
}

impl Chance {
    pub fn new(seed: u64) -> Chance {
        Chance { state: seed }
    }

    pub fn word(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut word = self.state;
        word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        word ^ (word >> 31)
    }

    /// From 0 to below 1.
    pub fn uniform(&mut self) -> f64 {
        (self.word() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From `least` to below `most`.
    pub fn between(&mut self, least: f64, most: f64) -> f64 {
        least + self.uniform() * (most - least)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generator_gives_the_published_sequence() {
        // Seed 1234567: the first outputs of the authors' reference program (splitmix64.c, Vigna).
        let mut chance = Chance::new(1_234_567);
        assert_eq!(chance.word(), 6_457_827_717_110_365_317);
        assert_eq!(chance.word(), 3_203_168_211_198_807_973);
    }
}
