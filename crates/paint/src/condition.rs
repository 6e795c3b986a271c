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
    /// The link of a point whose covariance with every observation is `share` times this point's. `own` and
    /// `other` are the shares of this point and the other in each level.
    pub fn scaled(&self, share: f64, own: Two, other: Two) -> Self {
        let direct = |l: usize| other[l] - share * (own[l] - self.direct[l]);
        Self {
            weighted: share * self.weighted,
            reduced: self.reduced.iter().map(|x| share * x).collect(),
            direct: [direct(0), direct(1)],
        }
    }

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::field::matern;

    /// The documentation points of PyKrige, and the places predicted.
    const POINTS: [(f64, f64, f64); 5] =
        [(0.3, 1.2, 0.47), (1.9, 0.6, 0.56), (1.1, 3.2, 0.74), (3.3, 4.4, 1.47), (4.7, 3.8, 1.74)];
    const TARGETS: [(f64, f64); 2] = [(2.0, 2.0), (4.0, 1.0)];

    /// Belongs to no level.
    const NONE: usize = 2;
    const ANY: Levels = Levels { mean: [0.0; 2], precision: [[1.0, 0.0], [0.0, 1.0]] };
    /// A level that may be anything: ordinary kriging.
    const FLAT: Levels = Levels { mean: [0.0; 2], precision: [[0.0, 0.0], [0.0, 1.0]] };

    type Covariance = Box<dyn Fn(f64) -> f64>;

    struct Case {
        points: Vec<(f64, f64, f64)>,
        covariance: Covariance,
        /// Variance of the noise of each observation.
        noise: f64,
        level: usize,
        prior: Levels,
    }

    impl Case {
        /// Log evidence, and mean and variance (noise left out) at each target.
        fn solve(&self, targets: &[(f64, f64)]) -> (f64, Vec<(f64, f64)>) {
            let p = &self.points;
            let apart = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1);
            let matrix = SquareMatrix::symmetric(p.len(), |i, j| {
                let noise = if i == j { self.noise } else { 0.0 };
                (self.covariance)(apart((p[i].0, p[i].1), (p[j].0, p[j].1))) + noise
            });
            let values: Vec<f64> = p.iter().map(|x| x.2).collect();
            let observed = Observed::new(&values, &vec![self.level; p.len()], matrix).unwrap();
            let levels = observed.levels(&self.prior);
            let own = if self.level == NONE { [0.0, 0.0] } else { [1.0, 0.0] };
            let at = |t: &(f64, f64)| {
                let link =
                    observed.link(p.iter().map(|x| (self.covariance)(apart((x.0, x.1), *t))).collect(), own);
                (link.mean(&levels), link.covariance(&link, (self.covariance)(0.0), &levels))
            };
            (levels.log_evidence, targets.iter().map(at).collect())
        }
    }

    #[track_caller]
    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected} ± {tolerance}");
    }

    /// scikit-learn 1.9.1, GaussianProcessRegressor, alpha = 0.01, no optimizer, no mean.
    #[test]
    fn gaussian_process_equals_scikit_learn() {
        let rbf = |r: f64| (-0.5 * (r / 1.5).powi(2)).exp();
        let five_halves = |r: f64| {
            let x = 5f64.sqrt() * r / 1.5;
            (1.0 + x + x * x / 3.0) * (-x).exp()
        };
        let cases: [(Covariance, [f64; 5]); 3] = [
            (Box::new(rbf), [0.7838704052, 0.4182590331, 0.5860023225, 0.9048574418, -6.0164259439]),
            (
                Box::new(|r| matern(r, 1.5)),
                [0.6867666197, 0.4086743633, 0.7523928538, 0.9439172457, -6.2957586128],
            ),
            (Box::new(five_halves), [0.7165830218, 0.4081102353, 0.7051413694, 0.9357024458, -6.2116363836]),
        ];
        for (covariance, [m0, m1, s0, s1, lml]) in cases {
            let case = Case { points: POINTS.to_vec(), covariance, noise: 0.01, level: NONE, prior: ANY };
            let (evidence, at) = case.solve(&TARGETS);
            close(at[0].0, m0, 1e-9);
            close(at[1].0, m1, 1e-9);
            close(at[0].1.sqrt(), s0, 1e-9);
            close(at[1].1.sqrt(), s1, 1e-9);
            close(evidence, lml, 1e-9);
        }
    }

    /// PyKrige 1.7.3, ordinary kriging. Its models written as covariances: sill − γ(h), the nugget as noise;
    /// its variance is that of a reading, so the nugget is added. Its exponential falls as exp(−3 h/a),
    /// its gaussian as exp(−(7 h / (4 a))²).
    #[test]
    fn ordinary_kriging_equals_pykrige() {
        let partial = 1.4;
        let spherical = move |h: f64| {
            if h < 4.0 { partial * (1.0 - 1.5 * h / 4.0 + 0.5 * (h / 4.0).powi(3)) } else { 0.0 }
        };
        // A linear variogram has no covariance; any constant above its values serves, and drops out.
        let linear = |h: f64| 50.0 - 0.5 * h;
        let cases: [(Covariance, [f64; 4]); 4] = [
            (Box::new(linear), [0.7877553238, 1.0576569480, 0.8360912657, 1.5660586010]),
            (Box::new(spherical), [0.7331275440, 1.0021107749, 0.9537503554, 1.6124548091]),
            (
                Box::new(move |h| partial * (-3.0 * h / 4.0).exp()),
                [0.8188409048, 0.9950153606, 1.2453846139, 1.6282034898],
            ),
            (
                Box::new(move |h| partial * (-(7.0 * h / 16.0).powi(2)).exp()),
                [0.6947017988, 1.0237324885, 0.5436459450, 1.3362415015],
            ),
        ];
        for (covariance, [z0, z1, v0, v1]) in cases {
            let case = Case { points: POINTS.to_vec(), covariance, noise: 0.1, level: 0, prior: FLAT };
            let (_, at) = case.solve(&TARGETS);
            close(at[0].0, z0, 1e-9);
            close(at[1].0, z1, 1e-9);
            close(at[0].1 + 0.1, v0, 1e-9);
            close(at[1].1 + 0.1, v1, 1e-9);
        }
    }

    /// Without noise a reading is met exactly. DIFFERENCE: PyKrige meets readings exactly with a nugget,
    /// too; here a nugget is noise, and the paint under a reading stays uncertain.
    #[test]
    fn kriging_without_noise_meets_its_data() {
        let spherical =
            |h: f64| if h < 4.0 { 1.5 * (1.0 - 1.5 * h / 4.0 + 0.5 * (h / 4.0).powi(3)) } else { 0.0 };
        let case = Case {
            points: POINTS.to_vec(),
            covariance: Box::new(spherical),
            noise: 0.0,
            level: 0,
            prior: FLAT,
        };
        let (_, at) = case.solve(&[(1.1, 3.2)]);
        close(at[0].0, 0.74, 1e-12);
        close(at[0].1, 0.0, 1e-12);
    }

    /// Largest differences between a file of fields solved by scikit-learn and this module, by field: readings, mean,
    /// standard deviation, log marginal likelihood.
    fn differences(text: &str) -> Vec<(String, usize, [f64; 3])> {
        let rows: Vec<Vec<&str>> = text.lines().skip(1).map(|l| l.split(',').collect()).collect();
        let number = |t: &str| t.parse::<f64>().unwrap();
        let solve = |set: &str| {
            let of = |what: &str| rows.iter().filter(|r| r[0] == set && r[1] == what).collect::<Vec<_>>();
            let kernel = of("kernel")[0];
            let (variance, length, noise, lml) =
                (number(kernel[2]), number(kernel[3]), number(kernel[4]), number(kernel[5]));
            let case = Case {
                points: of("point").iter().map(|r| (number(r[2]), number(r[3]), number(r[4]))).collect(),
                covariance: Box::new(move |r| variance * matern(r, length)),
                noise,
                level: NONE,
                prior: ANY,
            };
            let targets = of("target");
            let places: Vec<(f64, f64)> = targets.iter().map(|r| (number(r[2]), number(r[3]))).collect();
            let (evidence, at) = case.solve(&places);
            let worst = |d: &mut dyn Iterator<Item = f64>| d.fold(0.0, |a: f64, b| a.max(b.abs()));
            let mean = worst(&mut targets.iter().zip(&at).map(|(r, a)| a.0 - number(r[4])));
            let sd = worst(&mut targets.iter().zip(&at).map(|(r, a)| a.1.sqrt() - number(r[5])));
            assert!(at.len() >= 6 && at.len() == targets.len());
            (set.to_owned(), of("point").len(), [mean, sd, (evidence - lml).abs()])
        };
        ["small", "medium", "large"].map(solve).to_vec()
    }

    /// Three data sets of our own, run side by side in scikit-learn (see `tests/data/SOURCE.md`).
    #[test]
    fn larger_fields_equal_scikit_learn() {
        for (set, _, [mean, sd, lml]) in differences(include_str!("../tests/data/gp_sklearn.csv")) {
            assert!(mean < 1e-8 && sd < 1e-8 && lml < 1e-8, "{set}: {mean} {sd} {lml}");
        }
    }

    /// Fields drawn and solved by scikit-learn a moment ago: `cargo xtask bench paint`.
    #[test]
    #[ignore = "the benchmark draws the fields and hands their file over"]
    fn fields_of_a_file_equal_scikit_learn() {
        let path = std::env::var_os("GP_FIELDS").expect("run by `cargo xtask bench paint`");
        for (set, n, [mean, sd, lml]) in differences(&std::fs::read_to_string(path).unwrap()) {
            println!("{set}: n {n}, mean {mean:e}, sd {sd:e}, likelihood {lml:e}");
            assert!(mean < 1e-8 && sd < 1e-8 && lml < 1e-8);
        }
    }

    /// The level's evidence is that of a field with the level's variance added everywhere.
    #[test]
    fn a_level_is_a_constant_added_to_the_covariance() {
        let whole = Case {
            points: POINTS.iter().map(|p| (p.0, p.1, p.2 - 0.9)).collect(),
            covariance: Box::new(|r| matern(r, 1.5) + 0.25),
            noise: 0.01,
            level: NONE,
            prior: ANY,
        };
        let apart = Case {
            points: POINTS.to_vec(),
            covariance: Box::new(|r| matern(r, 1.5)),
            noise: 0.01,
            level: 0,
            prior: Levels { mean: [0.9, 0.0], precision: [[4.0, 0.0], [0.0, 1.0]] },
        };
        let ((a, at_a), (b, at_b)) = (whole.solve(&TARGETS), apart.solve(&TARGETS));
        close(a, b, 1e-11);
        for (x, y) in at_a.iter().zip(at_b) {
            close(x.0 + 0.9, y.0, 1e-11);
            close(x.1, y.1, 1e-11);
        }
    }
}
