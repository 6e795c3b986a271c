//! Root of a function of one variable.

/// A root of `f` between `low` and `high`, where `f` must change sign; `None` when it does not.
///
/// Brent's method (R. P. Brent, Algorithms for Minimization without Derivatives, 1973, chapter 4):
/// bisection made faster by secant and inverse quadratic steps. Stops when the bracket is as small
/// as `tolerance` or the spacing of floating-point numbers.
pub fn root(f: impl Fn(f64) -> f64, low: f64, high: f64, tolerance: f64) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || fa.signum() == fb.signum() {
        return None;
    }
    let (mut c, mut fc) = (a, fa);
    let (mut d, mut e) = (b - a, b - a);
    for _ in 0..200 {
        if fb.signum() == fc.signum() {
            (c, fc) = (a, fa);
            d = b - a;
            e = d;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let smallest = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance;
        let half = 0.5 * (c - b);
        if half.abs() <= smallest || fb == 0.0 {
            return Some(b);
        }
        if e.abs() >= smallest && fa.abs() > fb.abs() {
            let s = fb / fa;
            let (mut p, mut q) = if a == c {
                (2.0 * half * s, 1.0 - s)
            } else {
                let (q, r) = (fa / fc, fb / fc);
                (s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)), (q - 1.0) * (r - 1.0) * (s - 1.0))
            };
            if p > 0.0 {
                q = -q;
            } else {
                p = -p;
            }
            if 2.0 * p < (3.0 * half * q - (smallest * q).abs()).min((e * q).abs()) {
                e = d;
                d = p / q;
            } else {
                d = half;
                e = d;
            }
        } else {
            d = half;
            e = d;
        }
        (a, fa) = (b, fb);
        b += if d.abs() > smallest { d } else { smallest.copysign(half) };
        fb = f(b);
        if fb.is_nan() {
            return None;
        }
    }
    Some(b)
}

/// Root of a rising function to the right of `low`, doubling the step until it is bracketed.
pub(crate) fn root_above(f: impl Fn(f64) -> f64, low: f64, step: f64, tolerance: f64) -> Option<f64> {
    let (mut from, mut step) = (low, step);
    for _ in 0..100 {
        let to = from + step;
        if f(to) >= 0.0 {
            return root(f, from, to, tolerance);
        }
        from = to;
        step *= 2.0;
    }
    None
}
