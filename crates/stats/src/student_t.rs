//! Student's t distribution.

use crate::normal::{normal_cdf, normal_quantile};
use crate::root::root_above;
use statrs::function::beta::checked_beta_reg;

/// Degrees of freedom from which t and normal differ by less than rounding.
const AS_GOOD_AS_NORMAL: f64 = 1e15;

/// Probability of at most `t` with `df` degrees of freedom (any positive number); NaN otherwise.
pub fn student_t_cdf(t: f64, df: f64) -> f64 {
    if t.is_nan() || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    let tail = upper_tail(t.abs(), df);
    if t > 0.0 { 1.0 - tail } else { tail }
}

/// The `t` with `student_t_cdf(t, df) = p`; −∞ and ∞ at 0 and 1, NaN outside.
pub fn student_t_quantile(p: f64, df: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || df.is_nan() || df <= 0.0 {
        return f64::NAN;
    }
    if p == 0.5 {
        return 0.0;
    }
    let tail = p.min(1.0 - p);
    let t = if tail == 0.0 {
        f64::INFINITY
    } else {
        // The logarithm of the tail is close to linear where the tail itself is flat.
        root_above(|t| tail.ln() - upper_tail(t, df).ln(), 0.0, -normal_quantile(tail), 0.0)
            .unwrap_or(f64::INFINITY)
    };
    if p < 0.5 { -t } else { t }
}

/// P(T > t) for t ≥ 0.
fn upper_tail(t: f64, df: f64) -> f64 {
    if t.is_infinite() {
        return 0.0;
    }
    if df >= AS_GOOD_AS_NORMAL {
        return normal_cdf(-t);
    }
    0.5 * checked_beta_reg(0.5 * df, 0.5, df / (df + t * t)).unwrap_or(f64::NAN)
}
