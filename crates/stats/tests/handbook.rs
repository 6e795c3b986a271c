//! Values from handbooks, certified data sets and reference libraries, each with its source.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use stats::*;
use std::path::Path;

#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected} ± {tolerance}");
}

#[track_caller]
fn close_relative(found: f64, expected: f64, tolerance: f64) {
    close(found, expected, tolerance * expected.abs());
}

fn data(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name)).unwrap()
}

fn numbers(text: &str) -> Vec<f64> {
    text.split_whitespace().map(|x| x.parse().unwrap()).collect()
}

/// Certified mean, sd and lag-1 autocorrelation from the head of a StRD file, and its data.
fn strd(name: &str) -> ([f64; 3], Vec<f64>) {
    let text = data(&format!("nist_strd/{name}.dat"));
    let certified = |head: &str| {
        let line = text.lines().find(|l| l.trim_start().starts_with(head)).unwrap();
        line.rsplit(':').next().unwrap().split_whitespace().next().unwrap().parse::<f64>().unwrap()
    };
    let head = [
        certified("Sample Mean"),
        certified("Sample Standard Deviation"),
        certified("Sample Autocorrelation"),
    ];
    let body = text.rsplit("---------").next().unwrap();
    (head, numbers(body))
}

/// NIST StRD, univariate: certified values. Mean to 1e-14, sd to 1e-12 except where the decimal
/// data themselves are not representable (NumAcc3 1e-9, NumAcc4 1e-7).
#[test]
fn summaries_equal_the_certified_values_of_nist() {
    for (name, n, sd_tolerance) in [
        ("Lew", 200, 1e-12),
        ("Lottery", 218, 1e-12),
        ("Mavro", 50, 1e-12),
        ("Michelso", 100, 1e-12),
        ("NumAcc1", 3, 1e-12),
        ("NumAcc2", 1001, 1e-12),
        ("NumAcc3", 1001, 1e-9),
        ("NumAcc4", 1001, 1e-7),
    ] {
        let ([mean, sd, lag1], values) = strd(name);
        let s = summary(&values).unwrap();
        assert_eq!(s.n, n, "{name}");
        close_relative(s.mean, mean, 1e-14);
        close_relative(s.sd, sd, sd_tolerance);
        close_relative(s.lag1, lag1, 1e-7);
        if sd_tolerance < 1e-11 {
            close_relative(s.lag1, lag1, 1e-11);
        }
    }
}

/// The one-pass formula that a summary must not use: with NumPy's pairwise sums it gives 0.09937 on
/// NumAcc3 and a negative variance on NumAcc4; with plain running sums it is 7 % off on NumAcc3.
#[test]
fn the_one_pass_formula_would_fail_the_same_data() {
    let one_pass = |name: &str| {
        let values = strd(name).1;
        let n = values.len() as f64;
        let (sum, squares) = values.iter().fold((0.0, 0.0), |(s, q), x| (s + x, q + x * x));
        (squares - sum * sum / n) / (n - 1.0)
    };
    assert!((one_pass("NumAcc3").sqrt() - 0.1).abs() > 5e-4);
    let variance = one_pass("NumAcc4");
    assert!(variance < 0.0 || (variance.sqrt() - 0.1).abs() > 0.05, "{variance}");
}

/// NIST StRD, analysis of variance, SiRstv: certified F, sums of squares, residual sd.
#[test]
fn one_way_table_equals_the_certified_values_of_nist() {
    let text = data("nist_strd/SiRstvt.dat");
    let body = text.rsplit("3          4          5").next().unwrap();
    let values = numbers(body);
    assert_eq!(values.len(), 25);
    let groups: Vec<Vec<f64>> = (0..5).map(|g| values.iter().skip(g).step_by(5).copied().collect()).collect();
    let table = one_way(&groups).unwrap();
    close_relative(table.f, 1.18046237440255, 1e-9);
    close_relative(table.between, 5.11462616e-2, 1e-9);
    close_relative(table.within, 2.1663656e-1, 1e-9);
    close_relative((table.within / table.within_df).sqrt(), 1.04076068334656e-1, 1e-9);
    assert_eq!((table.between_df, table.within_df), (4.0, 20.0));
    close(table.p, 0.3494474934, 1e-9); // SciPy
}

/// NIST/SEMATECH e-Handbook 7.2.6.3 (n = 43, 90 %, 99 %); exact values by SciPy's non-central t.
#[test]
fn one_sided_tolerance_factors() {
    close(one_sided_factor_approximate(43, 0.90, 0.99).unwrap(), 1.8751896, 1e-6);
    close(one_sided_factor(43, 0.90, 0.99).unwrap(), 1.873954, 1e-6);
    // Natrella, NBS Handbook 91, Table A-7 prints these to three figures.
    for (n, coverage, exact) in [
        (10, 0.90, 2.354640),
        (10, 0.95, 2.910963),
        (10, 0.99, 3.981118),
        (5, 0.95, 4.202681),
        (3, 0.95, 7.655900),
        (20, 0.95, 2.396002),
        (30, 0.95, 2.219838),
        (50, 0.95, 2.064993),
        (100, 0.95, 1.926539),
    ] {
        close(one_sided_factor(n, coverage, 0.95).unwrap(), exact, 1e-6);
    }
    // The approximation is 25 % off at n = 3.
    close(one_sided_factor_approximate(3, 0.95, 0.95).unwrap(), 9.584, 1e-3);
}

/// NIST/SEMATECH e-Handbook 7.2.6.3 (Howe); exact values by numerical integration in SciPy.
#[test]
fn two_sided_tolerance_factors() {
    close(two_sided_factor_howe(43, 0.90, 0.99).unwrap(), 2.2173159, 1e-6);
    close(two_sided_factor(43, 0.90, 0.99).unwrap(), 2.222825, 2e-6);
    for (n, exact, howe) in [(10, 3.393429, 3.381913), (20, 2.760346, 2.752285), (30, 2.554893, 2.549635)] {
        close(two_sided_factor(n, 0.95, 0.95).unwrap(), exact, 2e-6);
        close(two_sided_factor_howe(n, 0.95, 0.95).unwrap(), howe, 1e-6);
    }
}

/// NIST/SEMATECH e-Handbook 1.3.5.2, ZARR13.
#[test]
fn interval_of_a_mean() {
    let s = Summary { n: 195, mean: 9.261460, sd: 0.02278881, lag1: 0.0 };
    let i = mean_interval_of(&s, 0.95).unwrap();
    close(i.low, 9.258242, 1e-6);
    close(i.high, 9.264679, 1e-6);
    close((s.mean - 5.0) / (s.sd / 195f64.sqrt()), 2611.284, 1e-3);
}

/// NIST/SEMATECH e-Handbook 7.2.2 (recalled); values by SciPy.
#[test]
fn one_sample_t() {
    let counts = [50.0, 48.0, 44.0, 56.0, 61.0, 52.0, 53.0, 55.0, 67.0, 51.0];
    let test = one_sample(&counts, 50.0).unwrap();
    close(summary(&counts).unwrap().sd, 6.566751, 1e-6);
    close(test.t, 1.7817680, 1e-7);
    close(test.p_two_sided(), 0.1084729, 1e-7);
}

/// NIST/SEMATECH e-Handbook 1.3.5.3, AUTO83B: T = −12.62059 pooled, −12.94627 by Welch.
#[test]
fn two_sample_t() {
    let (a, b) = (
        Summary { n: 249, mean: 20.14458, sd: 6.41470, lag1: 0.0 },
        Summary { n: 79, mean: 30.48101, sd: 6.10771, lag1: 0.0 },
    );
    let test = pooled_of(&a, &b).unwrap();
    close(test.t, -12.62059, 1e-5);
    assert_eq!(test.df, 326.0);
    close(test.error / (1.0 / 249.0 + 1.0 / 79.0f64).sqrt(), 6.342600, 1e-5);
    close(welch_of(&a, &b).unwrap().t, -12.946268, 1e-6);
}

/// "Student" (1908), Biometrika 6, sleep data; values by SciPy.
#[test]
fn paired_t_and_welch_on_the_sleep_data() {
    let a = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    let b = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let test = paired(&a, &b).unwrap();
    close(test.difference, -1.58, 1e-12);
    close(test.error * 10f64.sqrt(), 1.2299955, 1e-7);
    close(test.t, -4.0621277, 1e-7);
    close(test.p_two_sided(), 0.00283289, 1e-8);
    let i = test.interval(0.95).unwrap();
    close(i.low, -2.4598858, 1e-7);
    close(i.high, -0.7001142, 1e-7);
    let test = welch(&a, &b).unwrap();
    close(test.t, -1.8608135, 1e-7);
    close(test.df, 17.776474, 1e-6);
    close(test.p_two_sided(), 0.07939414, 1e-8);
    let i = test.interval(0.95).unwrap();
    close(i.low, -3.3654832, 1e-7);
    close(i.high, 0.2054832, 1e-7);
}

/// R `power.t.test` examples (0.8689528, 22.02110, 17.84713; R ignores the far tail); exact values by statsmodels.
#[test]
fn power_and_sample_size() {
    close(two_sample_power(20.0, 1.0, 0.05, Sides::Two).unwrap(), 0.86895303, 1e-8);
    close(two_sample_n(1.0, 0.05, 0.90, Sides::Two).unwrap(), 22.021088, 2e-6);
    close(two_sample_n(1.0, 0.05, 0.90, Sides::Two).unwrap(), 22.02110, 2e-5);
    close(two_sample_n(1.0, 0.05, 0.90, Sides::One).unwrap(), 17.847120, 2e-6);
    close(one_sample_n(1.0, 0.05, 0.95, Sides::One).unwrap(), 12.3205, 5e-5);
    close(one_sample_n(1.0, 0.05, 0.95, Sides::Two).unwrap(), 15.0631, 5e-5);
    let n = one_sample_n(0.4, 0.01, 0.8, Sides::Two).unwrap();
    close(one_sample_power(n, 0.4, 0.01, Sides::Two).unwrap(), 0.8, 1e-9);
}

/// NIST/SEMATECH e-Handbook 1.3.6.7 tables; six decimals by SciPy.
#[test]
fn quantiles_of_t_and_chi_squared() {
    for (df, t) in [(4.0, 2.776445), (9.0, 2.262157), (19.0, 2.093024), (29.0, 2.045230)] {
        close(student_t_quantile(0.975, df), t, 1e-6);
        close(student_t_quantile(0.025, df), -t, 1e-6);
    }
    close(chi_squared_quantile(0.025, 9.0), 2.700389, 1e-6);
    close(chi_squared_quantile(0.975, 9.0), 19.022768, 1e-6);
}

/// F. Garwood (1936), Biometrika 28, by the chi-squared identity in SciPy.
#[test]
fn poisson_intervals() {
    for (count, low, high) in [
        (0, 0.0, 3.688879),
        (1, 0.025318, 5.571643),
        (5, 1.623486, 11.668332),
        (10, 4.795389, 18.390356),
        (25, 16.178682, 36.904932),
    ] {
        let i = poisson_interval(count, 0.95).unwrap();
        close(i.low, low, 1e-6);
        close(i.high, high, 1e-6);
    }
}

/// NIST/SEMATECH e-Handbook 1.3.5.17.1 (Tietjen and Moore 1972): G = 2.4687, one-sided critical value 2.032.
#[test]
fn grubbs_test_names_its_side() {
    let uranium = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
    let test = grubbs(&uranium, GrubbsSide::Upper, 0.05).unwrap();
    assert_eq!(test.at, 7);
    close(test.g, 2.468765, 1e-6);
    close(test.critical, 2.031652, 1e-6);
    assert!(test.is_outlier());
    close(grubbs(&uranium, GrubbsSide::Both, 0.05).unwrap().critical, 2.126645, 1e-6);
    assert!(!grubbs(&uranium, GrubbsSide::Lower, 0.05).unwrap().is_outlier());
}

/// ASTM E178 / Grubbs and Beck 1972, one-sided 5 %; two-sided 5 % by the same formula (SciPy).
#[test]
fn grubbs_critical_values() {
    let one = [1.1531, 1.4625, 1.6714, 1.8221, 1.9381, 2.0317, 2.1096, 2.1761, 2.4090, 2.5566, 2.7451];
    for (n, critical) in [3, 4, 5, 6, 7, 8, 9, 10, 15, 20, 30].into_iter().zip(one) {
        close(grubbs_critical(n, GrubbsSide::Lower, 0.05).unwrap(), critical, 5e-5);
    }
    let two = [1.1543, 1.4813, 1.7150, 1.8871, 2.0200, 2.1266, 2.2150, 2.2900];
    for (n, critical) in (3..=10).zip(two) {
        close(grubbs_critical(n, GrubbsSide::Both, 0.05).unwrap(), critical, 5e-5);
    }
}

fn aiag() -> Vec<GaugeReading> {
    let text = data("grr_aiag_10x3x3.csv");
    let row = |line: &str| {
        let f: Vec<&str> = line.split(',').collect();
        GaugeReading { operator: f[0].into(), part: f[1].into(), value: f[3].trim().parse().unwrap() }
    };
    text.lines().skip(1).map(row).collect()
}

/// AIAG, Measurement Systems Analysis, 4th ed. (2010): published sums of squares 3.1673, 88.3619,
/// 0.3590, 2.7589, 94.6471; more digits by NumPy.
#[test]
fn gauge_study_by_anova() {
    let study = by_anova(&aiag()).unwrap();
    assert_eq!(study.method, GaugeMethod::AnovaPooled);
    for (found, expected) in
        study.squares.unwrap().into_iter().zip([3.1672622, 88.3619344, 0.3589822, 2.7589333, 94.6471122])
    {
        close(found, expected, 1e-6);
    }
    close(study.interaction_f.unwrap(), 0.4337, 5e-5);
    close(study.repeatability, 0.199933, 1e-6);
    close(study.reproducibility, 0.226838, 1e-6);
    close(study.gauge, 0.302372, 1e-6);
    close(study.part, 1.042327, 1e-6);
    close(study.total, 1.085300, 1e-6);
    close(100.0 * study.share, 27.861, 5e-4);
    close(study.categories, 4.86, 5e-3);
}

/// The same data by the other published method: 26.7 % and 5 categories instead of 27.9 % and 4.
#[test]
fn gauge_study_by_average_and_range() {
    let study = by_average_range(&aiag()).unwrap();
    assert_eq!(study.method, GaugeMethod::AverageRange);
    // The constants K1, K2, K3 are printed to four digits, so the results agree to that.
    close_relative(study.repeatability, 0.201857, 2e-4);
    close_relative(study.reproducibility, 0.229667, 2e-4);
    close_relative(study.gauge, 0.305766, 2e-4);
    close_relative(study.part, 1.104596, 2e-4);
    close_relative(study.total, 1.146135, 2e-4);
    close(100.0 * study.share, 26.68, 1e-2);
    close(study.categories, 5.09, 5e-3);
}

fn freireich(group: &str) -> Vec<Lifetime> {
    let text = data("km_6mp_freireich.csv");
    let rows =
        text.lines().skip(1).map(|l| l.split(',').collect::<Vec<_>>()).filter(|f| f[2].trim() == group);
    rows.map(|f| Lifetime { time: f[0].parse().unwrap(), ended: f[1] == "1" }).collect()
}

/// Freireich et al. (1963), Blood 21; values by lifelines 0.30.3.
#[test]
fn survival_of_the_6mp_arm() {
    let km = KaplanMeier::of(&freireich("6MP")).unwrap();
    let expected = [
        (6.0, 0.857143, 0.142857),
        (7.0, 0.806723, 0.201681),
        (10.0, 0.752941, 0.268347),
        (13.0, 0.690196, 0.351681),
        (16.0, 0.627451, 0.442590),
        (22.0, 0.537815, 0.585447),
        (23.0, 0.448179, 0.752114),
    ];
    assert_eq!(km.steps.len(), expected.len());
    for (step, (time, survival, hazard)) in km.steps.iter().zip(expected) {
        assert_eq!(step.time, time);
        close(step.survival, survival, 1e-6);
        close(step.hazard, hazard, 1e-6);
    }
    assert_eq!(km.median(), Some(23.0));
    for (time, low, high) in
        [(6.0, 0.619718, 0.951552), (10.0, 0.503200, 0.889362), (23.0, 0.188052, 0.680143)]
    {
        let i = km.interval(time, 0.95).unwrap();
        close(i.low, low, 1e-6);
        close(i.high, high, 1e-6);
    }
}

/// Control arm of the same trial: S(10) = 8/21, standard error 0.106 (Cox and Oakes, Table 1.1); log-rank
/// χ² = 16.79 (Kleinbaum and Klein, recalled), more digits by lifelines.
#[test]
fn the_arms_of_the_trial_differ() {
    let placebo: Vec<Lifetime> = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
        .map(|t| Lifetime { time: f64::from(t), ended: true })
        .to_vec();
    let km = KaplanMeier::of(&placebo).unwrap();
    close(km.survival(10.0), 8.0 / 21.0, 1e-12);
    close(km.error(10.0), 0.106, 5e-4);
    let test = log_rank(&freireich("6MP"), &placebo).unwrap();
    close(test.chi_squared, 16.792941, 1e-6);
    close(test.p, 4.16881e-5, 1e-10);
}

/// Data set of lifelines (163 lifetimes); values by lifelines 0.30.3.
#[test]
fn survival_of_a_larger_sample() {
    let text = data("waltons_lifelines.csv");
    let rows = text.lines().skip(1).map(|l| l.split(',').collect::<Vec<_>>());
    let all: Vec<_> = rows.map(|f| Lifetime { time: f[0].parse().unwrap(), ended: f[1] == "1" }).collect();
    assert_eq!(all.len(), 163);
    let km = KaplanMeier::of(&all).unwrap();
    assert_eq!(km.median(), Some(56.0));
    close(km.survival(20.0), 0.9136503, 1e-7);
    close(km.survival(60.0), 0.3115236, 1e-7);
}

/// Johnson, Ott and Dogucu, Bayes Rules!, chapter 5; Gelman et al., Bayesian Data Analysis 3rd ed.,
/// section 2.6 (prints 0.86, 0.30; 1.32, 0.93); Hoff, A First Course in Bayesian Statistical Methods, chapter 3.
#[test]
fn rates_learned_from_counts() {
    let mut rate = GammaRate::new(10.0, 2.0).unwrap();
    for count in [6, 2, 2, 1] {
        rate = rate.after(count, 1.0).unwrap();
    }
    assert_eq!(rate, GammaRate::new(21.0, 6.0).unwrap());
    assert_eq!(rate.mean(), 3.5);
    let rate = GammaRate::new(3.0, 5.0).unwrap().after(3, 2.0).unwrap();
    close(rate.mean(), 0.857143, 1e-6);
    close(rate.above(1.0), 0.300708, 1e-6);
    let i = rate.interval(0.95).unwrap();
    close(i.low, 0.314556, 1e-6);
    close(i.high, 1.666905, 1e-6);
    let rate = GammaRate::new(3.0, 5.0).unwrap().after(30, 20.0).unwrap();
    close(rate.mean(), 1.32, 1e-12);
    close(rate.above(1.0), 0.928544, 1e-6);
    let rate = GammaRate::new(2.0, 1.0).unwrap().after(217, 111.0).unwrap();
    let i = rate.interval(0.95).unwrap();
    close(rate.mean(), 1.955357, 1e-6);
    close(i.low, 1.704943, 1e-6);
    close(i.high, 2.222679, 1e-6);
}
