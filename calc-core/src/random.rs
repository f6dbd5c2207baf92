//! Reproducible random numbers: the caller gives the seed, equal seeds give equal numbers.

use std::f64::consts::PI;

/// SplitMix64: one addition and three mixing steps for each number.
///
/// G. L. Steele, D. Lea and C. H. Flood, Fast splittable pseudorandom number generators, OOPSLA 2014, figure 16 (constants
/// from memory, compared with the same recurrence in numpy).
#[derive(Debug, Clone, Copy)]
pub struct Random {
    state: u64,
    /// Normal numbers come in pairs: the second, until it is asked for.
    spare: Option<f64>,
}

/// What the state grows by from number to number.
const STEP: u64 = 0x9E37_79B9_7F4A_7C15;

impl Random {
    /// The numbers of this seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self { state: seed, spare: None }
    }

    /// The same numbers without the first `count`; a normal number that waits for its turn is forgotten.
    #[must_use]
    pub const fn skip(self, count: u64) -> Self {
        Self { state: self.state.wrapping_add(count.wrapping_mul(STEP)), spare: None }
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(STEP);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// From 0 to 1, the latter excluded, in steps of 2^-53.
    pub fn uniform(&mut self) -> f64 {
        const UNIT: f64 = 1.0 / (1_u64 << 53) as f64;
        (self.next() >> 11) as f64 * UNIT
    }

    /// Mean 0, standard deviation 1: G. E. P. Box and M. E. Muller, Annals of Mathematical Statistics 29 (1958), the cosine
    /// of each pair and then its sine.
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        // One less a uniform number is never zero, so the logarithm is finite.
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        let (sine, cosine) = (2.0 * PI * self.uniform()).sin_cos();
        self.spare = Some(radius * sine);
        radius * cosine
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sequence_of_seed_zero_is_the_published_one() {
        // First number of seed 0 as the authors' reference code gives it (from memory).
        assert_eq!(Random::new(0).next(), 0xE220_A839_7B1D_CDAF);
    }

    #[test]
    fn skipping_is_the_same_as_drawing_and_throwing_away() {
        let mut drawn = Random::new(3);
        for _ in 0..10 {
            drawn.next();
        }
        assert_eq!(drawn.next(), Random::new(3).skip(10).next());
    }

    #[test]
    fn moments_are_those_of_the_distributions() {
        const COUNT: usize = 200_000;
        let moments = |draw: fn(&mut Random) -> f64| {
            let mut random = Random::new(7);
            let numbers: Vec<f64> = (0..COUNT).map(|_| draw(&mut random)).collect();
            let mean = numbers.iter().sum::<f64>() / COUNT as f64;
            let square = numbers.iter().map(|number| (number - mean).powi(2)).sum::<f64>() / COUNT as f64;
            (mean, square)
        };
        let (mean, square) = moments(Random::uniform);
        assert!((mean - 0.5).abs() < 0.003 && (square - 1.0 / 12.0).abs() < 0.001);
        let (mean, square) = moments(Random::normal);
        assert!(mean.abs() < 0.01 && (square - 1.0).abs() < 0.02);
    }
}
