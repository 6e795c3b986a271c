//! Identities, two ways that must agree, and bad input.

#![allow(
    clippy::unwrap_used,
    clippy::approx_constant,
    reason = "a test fails by panicking; tables print rounded constants"
)]

use stats::*;

#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected} ± {tolerance}");
}

#[test]
fn quantile_and_cdf_undo_each_other() {
    for p in [1e-12, 1e-6, 0.001, 0.025, 0.3, 0.5, 0.7, 0.99, 0.9999] {
        close(normal_cdf(normal_quantile(p)), p, 1e-15 + 1e-13 * p);
        for df in [0.7, 1.0, 2.0, 3.5, 17.776, 200.0, 1e6] {
            // a million degrees of freedom: ln Γ of the library leaves 4e-10
            let relative = if df > 1e3 { 1e-9 } else { 1e-12 };
            close(student_t_cdf(student_t_quantile(p, df), df), p, 1e-15 + relative * p);
            close(chi_squared_cdf(chi_squared_quantile(p, df), df), p, 1e-15 + relative * p);
        }
    }
    // closed forms: one degree of freedom is Cauchy, two have an algebraic quantile
    close(student_t_quantile(0.75, 1.0), 1.0, 1e-13);
    close(student_t_quantile(0.9, 2.0), 0.8 / (2.0f64 * 0.9 * 0.1).sqrt(), 1e-12);
}

/// At t = 0 the probability is Φ(−δ), whatever the degrees of freedom; with many of them T is normal around δ.
#[test]
fn noncentral_t_meets_its_closed_forms() {
    for df in [1.0, 2.0, 5.5, 40.0, 1000.0] {
        for delta in [-3.0, -0.5, 0.5, 2.0, 6.0] {
            close(noncentral_t_cdf(0.0, df, delta), normal_cdf(-delta), 1e-13);
            close(noncentral_t_cdf(1.7, df, delta) + noncentral_t_cdf(-1.7, df, -delta), 1.0, 1e-13);
        }
        close(noncentral_t_cdf(1.3, df, 1e-9), student_t_cdf(1.3, df), 1e-8);
    }
    close(noncentral_t_cdf(3.0, 1e7, 2.0), normal_cdf(1.0), 1e-6);
}

/// Recursion over degrees of freedom with one degree of freedom by brute-force integration over χ²:
/// T ≤ t ⇔ Z ≤ t s − δ, here by the midpoint rule on 200,000 equal-probability cells of χ².
#[test]
fn noncentral_t_equals_brute_force() {
    for (t, df, delta) in [(2.0, 4.0, 1.0), (12.0, 9.0, 7.36), (-1.0, 3.0, 0.5), (60.0, 499.0, 52.0)] {
        let cells = 20_000;
        let brute: f64 = (0..cells)
            .map(|i| {
                let chi2 = chi_squared_quantile((f64::from(i) + 0.5) / f64::from(cells), df);
                normal_cdf(t * (chi2 / df).sqrt() - delta)
            })
            .sum::<f64>()
            / f64::from(cells);
        close(noncentral_t_cdf(t, df, delta), brute, 1e-5);
    }
}

/// Where the usual series loses its first term (δ > 38) the factor still tends to its normal limit.
#[test]
fn tolerance_factor_of_a_large_sample() {
    let n = 20_000;
    let z = normal_quantile(0.99);
    // k ≈ z + z_conf √(1/n + z²/(2n)): the large-sample limit
    let limit = z + normal_quantile(0.99) * ((1.0 + 0.5 * z * z) / f64::from(n)).sqrt();
    close(one_sided_factor(n as usize, 0.99, 0.99).unwrap(), limit, 1e-3);
    assert!(one_sided_factor(2, 0.99, 0.99).unwrap() > 100.0);
    assert!(one_sided_factor(5, 0.5, 0.05).unwrap() < 0.0);
}

#[test]
fn lognormal_from_moments_and_from_quantiles() {
    let l = LogNormal::from_mean_sd(5.0, 2.0).unwrap();
    close(l.mean(), 5.0, 1e-12);
    close(l.sd(), 2.0, 1e-12);
    close(l.cdf(l.quantile(0.8)), 0.8, 1e-12);
    let q = LogNormal::from_quantiles((0.1, 2.0), (0.9, 8.0)).unwrap();
    close(q.quantile(0.1), 2.0, 1e-12);
    close(q.quantile(0.9), 8.0, 1e-12);
}

/// Hyndman and Fan (1996), definition 7, as R's default: quantile(1:4, .3) = 1.9.
#[test]
fn sample_quantile() {
    close(quantile(&[4.0, 1.0, 3.0, 2.0], 0.3).unwrap(), 1.9, 1e-12);
    close(quantile(&[4.0, 1.0, 3.0, 2.0], 1.0).unwrap(), 4.0, 0.0);
}

/// Duncan (1986), Table D3: published constants of the range, here through a study whose ranges are known.
#[test]
fn range_constants_are_those_of_the_tables() {
    let study = |operators: usize, parts: usize, trials: usize| -> Vec<GaugeReading> {
        let mut out = Vec::new();
        for o in 0..operators {
            for p in 0..parts {
                for t in 0..trials {
                    out.push(GaugeReading {
                        operator: o.to_string(),
                        part: p.to_string(),
                        value: t as f64 / (trials - 1) as f64 + 100.0 * p as f64 / (parts - 1) as f64,
                    });
                }
            }
        }
        out
    };
    // every range of trials is 1, of parts 100: EV = 1/d2, PV = 100/d2*
    for (trials, k1) in [(2, 0.8862), (3, 0.5908)] {
        close(by_average_range(&study(2, 2, trials)).unwrap().repeatability, k1, 5e-5);
    }
    let k3 = [0.7071, 0.5231, 0.4467, 0.4030, 0.3742, 0.3534, 0.3375, 0.3249, 0.3146];
    for (parts, k3) in (2..=10).zip(k3) {
        close(by_average_range(&study(2, parts, 2)).unwrap().part, 100.0 * k3, 6e-3);
    }
}

#[test]
fn cholesky_solves_and_knows_its_determinant() {
    let n = 37;
    let entry =
        |i: usize, j: usize| (-(i as f64 - j as f64).abs() / 9.0).exp() + if i == j { 0.1 } else { 0.0 };
    let factor = Cholesky::of(SquareMatrix::symmetric(n, entry)).unwrap();
    let wanted: Vec<f64> = (0..n).map(|i| (i as f64).sin()).collect();
    let mut b: Vec<f64> = (0..n).map(|i| (0..n).map(|j| entry(i, j) * wanted[j]).sum()).collect();
    factor.solve(&mut b);
    for (x, w) in b.iter().zip(&wanted) {
        close(*x, *w, 1e-12);
    }
    // |A| of [[4, 2], [2, 3]] = 8
    let two = Cholesky::of(SquareMatrix::symmetric(2, |i, j| [[4.0, 2.0], [2.0, 3.0]][i][j])).unwrap();
    close(two.ln_det(), 8f64.ln(), 1e-14);
    assert_eq!(two.lower_times(&[1.0, 0.0]), [2.0, 1.0]);
    assert!(Cholesky::of(SquareMatrix::symmetric(2, |i, j| [[1.0, 2.0], [2.0, 1.0]][i][j])).is_none());
}

#[test]
fn bad_input_is_an_answer() {
    assert_eq!(summary(&[]), Err(StatsError::TooFew { needed: 1, got: 0 }));
    assert_eq!(summary(&[1.0, f64::NAN]), Err(StatsError::NotFinite { at: 1 }));
    assert_eq!(one_sample(&[2.0, 2.0], 1.0), Err(StatsError::NoSpread));
    assert!(mean_interval(&[1.0], 0.95).is_err());
    assert!(one_sided_factor(1, 0.9, 0.9).is_err());
    assert!(one_sided_factor(5, 1.0, 0.9).is_err());
    assert!(grubbs(&[1.0, 1.0, 1.0], GrubbsSide::Both, 0.05).is_err());
    assert!(GammaRate::new(0.0, 1.0).is_err());
    assert!(KaplanMeier::of(&[Lifetime { time: -1.0, ended: true }]).is_err());
    assert!(two_sample_n(0.0, 0.05, 0.9, Sides::Two).is_err());
    let odd = GaugeReading { operator: "A".into(), part: "1".into(), value: 1.0 };
    assert!(by_anova(&[odd]).is_err());
    assert!(student_t_quantile(1.5, 3.0).is_nan() && chi_squared_quantile(0.5, -1.0).is_nan());
}
