//! Seeded randomness: the only source of chance that an engine may use.

use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde::{Deserialize, Serialize};

/// The start of a random sequence. Same seed, same sequence, on every machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seed(pub u64);

impl Default for Seed {
    fn default() -> Self {
        Self(1)
    }
}

impl Seed {
    /// The sequence that starts here.
    pub fn sequence(self) -> Sequence {
        Sequence { source: Pcg64Mcg::seed_from_u64(self.0), spare: None }
    }

    /// An unrelated seed for part `n` of a task, so that parts can run in any order.
    pub fn part(self, n: u64) -> Self {
        // SplitMix64 (Steele, Lea, Flood 2014): one step of mixing over seed and part number.
        let mut z = self.0 ^ n.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        Self(z ^ (z >> 31))
    }
}

/// A random sequence (PCG-64 MCG).
#[derive(Clone, Debug)]
pub struct Sequence {
    source: Pcg64Mcg,
    spare: Option<f64>,
}

impl Sequence {
    /// Next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.source.next_u64()
    }

    /// Uniform in [0, 1).
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in [low, high).
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Uniform whole number below `n`; 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        // Lemire (2019), without the rejection step: the bias is below n / 2^64.
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }

    /// Standard normal (polar method of Marsaglia and Bray 1964).
    pub fn normal(&mut self) -> f64 {
        if let Some(z) = self.spare.take() {
            return z;
        }
        loop {
            let (u, v) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let f = (-2.0 * s.ln() / s).sqrt();
                self.spare = Some(v * f);
                return u * f;
            }
        }
    }

    /// Shuffles in place (Fisher and Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_sequence_and_parts_differ() {
        let draw = |s: Seed| (0..8).map(|_| s.sequence().bits()).collect::<Vec<_>>();
        assert_eq!(draw(Seed(7)), draw(Seed(7)));
        assert_ne!(Seed(7).part(0), Seed(7).part(1));
        assert_ne!(Seed(7).part(0), Seed(8).part(0));
    }

    #[test]
    fn normal_draws_have_mean_zero_and_unit_variance() {
        let mut s = Seed(3).sequence();
        let n = 200_000;
        let x: Vec<f64> = (0..n).map(|_| s.normal()).collect();
        let mean = x.iter().sum::<f64>() / n as f64;
        let var = x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n as f64;
        // five standard errors
        assert!(mean.abs() < 5.0 / (n as f64).sqrt());
        assert!((var - 1.0).abs() < 5.0 * (2.0 / n as f64).sqrt());
    }

    #[test]
    fn below_stays_below_and_reaches_everything() {
        let mut s = Seed(5).sequence();
        let mut seen = [false; 7];
        for _ in 0..1000 {
            seen[s.below(7)] = true;
        }
        assert!(seen.iter().all(|x| *x));
    }
}
