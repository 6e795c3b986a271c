//! The non-central t distribution.

use crate::normal::normal_cdf;
use crate::quadrature::integrate;
use crate::student_t::student_t_cdf;

/// Probability that (Z + δ) / √(χ²/ν) is at most `t`: Z standard normal, χ² with ν = `df` degrees
/// of freedom, δ = `delta`. NaN unless df > 0.
///
/// P = ∫ Φ(t s − δ) f(s) ds, where f is the density of s = √(χ²/ν), by Gauss–Legendre between breaks
/// set where f or Φ turn. Nothing in it under- or overflows, unlike the series of Lenth (1989,
/// Applied Statistics algorithm AS 243), which loses its first term at δ > 38. Absolute error about
/// 1e-13.
pub fn noncentral_t_cdf(t: f64, df: f64, delta: f64) -> f64 {
    if t.is_nan() || delta.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if delta == 0.0 {
        return student_t_cdf(t, df);
    }
    if t == f64::INFINITY {
        return 1.0;
    }
    if t == f64::NEG_INFINITY {
        return 0.0;
    }
    if t < 0.0 {
        // P(T ≤ t; δ) = P(T ≥ −t; −δ)
        return 1.0 - noncentral_t_cdf(-t, df, -delta);
    }
    // Up to a factor; dividing by its own integral also takes out what quadrature and edges miss.
    let peak = if df > 1.0 { ((df - 1.0) / df).sqrt() } else { 1.0 };
    let height = |s: f64| (df - 1.0) * (s / peak).ln() - 0.5 * df * (s * s - peak * peak);
    let density = |s: f64| height(s).exp();
    let (low, high) = (edge(df, -1.0), edge(df, 1.0));
    let mut breaks: Vec<f64> = (0..=8).map(|i| low + (high - low) * f64::from(i) / 8.0).collect();
    if t > 0.0 {
        breaks.extend([-9.0, -5.0, -2.0, 0.0, 2.0, 5.0, 9.0].map(|z| (delta + z) / t));
    }
    breaks.retain(|s| (low..=high).contains(s));
    breaks.sort_by(f64::total_cmp);
    let whole = integrate(density, &breaks);
    (integrate(|s| normal_cdf(t * s - delta) * density(s), &breaks) / whole).clamp(0.0, 1.0)
}

/// Where the density of √(χ²/ν) has fallen below 1e-20 of its peak, on the side of `sign`.
fn edge(df: f64, sign: f64) -> f64 {
    let peak = if df > 1.0 { ((df - 1.0) / df).sqrt() } else { 0.0 };
    let height = |s: f64| (df - 1.0) * s.ln() - 0.5 * df * s * s;
    let top = if peak > 0.0 { height(peak) } else { 0.0 };
    let step = 1.0 / df.sqrt().max(1.0);
    let mut s = peak;
    // With one degree of freedom or fewer the density does not fall towards zero.
    while s > 0.0 || sign > 0.0 {
        s += sign * step;
        if s <= 0.0 {
            return if df < 1.0 { 1e-14 } else { 0.0 };
        }
        if height(s) < top - 46.0 {
            return s;
        }
    }
    if df < 1.0 { 1e-14 } else { 0.0 }
}
