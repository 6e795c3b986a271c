//! Conditioning of a Gaussian field with two unknown levels on observations: the linear algebra
//! behind every estimate here.
//!
//! Observation i is `level[i] + field(i) + noise(i)`; the first level is that of total thickness, the
//! second that of the clear coat. Field and noise together have the covariance A. The levels have a
//! normal prior of their own, kept apart from A so that one factor of A serves every prior: this is
//! the Gaussian process with explicit basis functions of Rasmussen and Williams (2006), Gaussian
//! Processes for Machine Learning, section 2.7; with no prior precision it is ordinary kriging.

use stats::{Cholesky, SquareMatrix, dot};
use std::f64::consts::PI;

/// A pair of figures, one for each level: total, clear.
pub(crate) type Two = [f64; 2];

/// Normal prior of the two levels, by its mean and precision (inverse covariance).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Levels {
    pub mean: Two,
    pub precision: [Two; 2],
}

/// Observations with the factor of their covariance.
pub(crate) struct Observed {
    factor: Cholesky,
    /// A⁻¹ y.
    weighted: Vec<f64>,
    /// A⁻¹ H, a column for each level.
    basis: [Vec<f64>; 2],
    /// Hᵀ A⁻¹ H.
    gram: [Two; 2],
    /// Hᵀ A⁻¹ y.
    pull: Two,
    /// yᵀ A⁻¹ y.
    square: f64,
}

/// The levels after the observations, and how likely the observations were.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Levelled {
    pub mean: Two,
    pub covariance: [Two; 2],
    /// Natural logarithm of the density of the observations; NaN under a flat prior.
    pub log_evidence: f64,
}

/// A point's link to the observations, ready for means and covariances.
pub(crate) struct Link {
    /// kᵀ A⁻¹ y.
    weighted: f64,
    /// L⁻¹ k.
    reduced: Vec<f64>,
    /// e − Hᵀ A⁻¹ k: what the point takes directly from the levels.
    direct: Two,
}

impl Observed {
    /// From values, the level each belongs to (0 or 1) and their covariance; `None` unless that is
    /// positive definite.
    pub fn new(values: &[f64], level: &[usize], covariance: SquareMatrix) -> Option<Self> {
        let factor = Cholesky::of(covariance)?;
        let solve = |mut b: Vec<f64>| {
            factor.solve(&mut b);
            b
        };
        let column =
            |which: usize| -> Vec<f64> { level.iter().map(|l| f64::from(u8::from(*l == which))).collect() };
        let weighted = solve(values.to_vec());
        let basis = [solve(column(0)), solve(column(1))];
        let over = |which: usize, of: &[f64]| {
            level.iter().zip(of).filter(|(l, _)| **l == which).map(|(_, x)| x).sum()
        };
        let gram = [[over(0, &basis[0]), over(0, &basis[1])], [over(1, &basis[0]), over(1, &basis[1])]];
        let pull = [over(0, &weighted), over(1, &weighted)];
        let square = dot(values, &weighted);
        Some(Self { factor, weighted, basis, gram, pull, square })
    }

    /// The levels given the observations under a prior.
    pub fn levels(&self, prior: &Levels) -> Levelled {
        let (p, g) = (prior.precision, self.gram);
        let posterior = [[p[0][0] + g[0][0], p[0][1] + g[0][1]], [p[1][0] + g[1][0], p[1][1] + g[1][1]]];
        let covariance = invert(posterior);
        let from_prior = times(p, prior.mean);
        let mean = times(covariance, [from_prior[0] + self.pull[0], from_prior[1] + self.pull[1]]);
        // Residuals from the prior mean, without building them: r = y − H m.
        let gm = times(g, prior.mean);
        let residual = self.square - 2.0 * pair_dot(prior.mean, self.pull) + pair_dot(prior.mean, gm);
        let u = [self.pull[0] - gm[0], self.pull[1] - gm[1]];
        let quadratic = residual - pair_dot(u, times(covariance, u));
        let n = self.weighted.len() as f64;
        let ln_det = self.factor.ln_det() + determinant(posterior).ln() - determinant(p).ln();
        Levelled { mean, covariance, log_evidence: -0.5 * (quadratic + ln_det + n * (2.0 * PI).ln()) }
    }

    /// Links a point by its covariance with each observation and its own share in each level.
    pub fn link(&self, covariance: Vec<f64>, own: Two) -> Link {
        let weighted = dot(&covariance, &self.weighted);
        let direct = [own[0] - dot(&covariance, &self.basis[0]), own[1] - dot(&covariance, &self.basis[1])];
        let mut reduced = covariance;
        self.factor.solve_lower(&mut reduced);
        Link { weighted, reduced, direct }
    }
}

impl Link {
    /// Mean at the point.
    pub fn mean(&self, levels: &Levelled) -> f64 {
        // own·L + kᵀ A⁻¹ (y − H L)
        self.weighted + pair_dot(self.direct, levels.mean)
    }

    /// Covariance of two points, given their prior covariance without the levels.
    pub fn covariance(&self, other: &Self, prior: f64, levels: &Levelled) -> f64 {
        prior - dot(&self.reduced, &other.reduced)
            + pair_dot(self.direct, times(levels.covariance, other.direct))
    }
}

fn pair_dot(a: Two, b: Two) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn times(m: [Two; 2], v: Two) -> Two {
    [pair_dot(m[0], v), pair_dot(m[1], v)]
}

fn determinant(m: [Two; 2]) -> f64 {
    m[0][0] * m[1][1] - m[0][1] * m[1][0]
}

/// Inverse of a 2 × 2 matrix.
pub(crate) fn invert(m: [Two; 2]) -> [Two; 2] {
    let d = determinant(m);
    [[m[1][1] / d, -m[0][1] / d], [-m[1][0] / d, m[0][0] / d]]
}
