//! NURBS curves (Piegl and Tiller, *The NURBS Book*, 1997: algorithms A2.1 and A4.1, by de Boor's recursion).

use crate::Point;

/// Largest degree that is read.
const MOST_DEGREE: usize = 12;
/// Most points that a curve is split into.
const MOST_POINTS: usize = 100_000;

pub(super) struct Spline {
    pub degree: usize,
    pub knots: Vec<f64>,
    /// Empty where all are 1.
    pub weights: Vec<f64>,
    pub controls: Vec<Point>,
}

impl Spline {
    /// Points along the curve, ends included; none when knots and controls do not make a curve.
    pub(super) fn flattened(&self, tolerance: f64) -> Option<Vec<Point>> {
        let (p, n) = (self.degree, self.controls.len());
        let sound = (1..=MOST_DEGREE).contains(&p)
            && n > p
            && self.knots.len() == n + p + 1
            && (self.weights.is_empty() || self.weights.len() == n)
            && self.weights.iter().all(|w| *w > 0.0)
            && self.knots.iter().all(|k| k.is_finite())
            && self.controls.iter().all(|c| c.is_finite())
            && self.knots.is_sorted();
        if !sound || self.knots[p] >= self.knots[n] {
            return None;
        }
        let mut out = vec![self.at(self.knots[p], p)];
        for span in p..n {
            let (from, to) = (self.knots[span], self.knots[span + 1]);
            if to > from {
                self.halve(
                    &mut out,
                    span,
                    [from, to],
                    [self.at(from, span), self.at(to, span)],
                    tolerance,
                    0,
                );
            }
        }
        Some(out)
    }

    /// Halves until the curve's points at the quarters lie near the chord.
    fn halve(
        &self,
        out: &mut Vec<Point>,
        span: usize,
        [t0, t1]: [f64; 2],
        [a, b]: [Point; 2],
        tolerance: f64,
        depth: u32,
    ) {
        let at = |share: f64| self.at(t0 + (t1 - t0) * share, span);
        let middle = at(0.5);
        let off = [at(0.25), middle, at(0.75)]
            .into_iter()
            .map(|q| if a == b { (q - a).norm() } else { crate::simple::point_segment(q, a, b) })
            .fold(0.0, f64::max);
        // the first halvings are always made, so that no bend hides between the probes
        if (depth >= 2 && off <= tolerance / 2.0) || depth >= 16 || out.len() > MOST_POINTS {
            return out.push(b);
        }
        let half = (t0 + t1) / 2.0;
        self.halve(out, span, [t0, half], [a, middle], tolerance, depth + 1);
        self.halve(out, span, [half, t1], [middle, b], tolerance, depth + 1);
    }

    fn at(&self, t: f64, span: usize) -> Point {
        let p = self.degree;
        let weight = |i: usize| self.weights.get(i).copied().unwrap_or(1.0);
        // homogeneous: x·w, y·w, w
        let mut d: Vec<[f64; 3]> = (0..=p)
            .map(|j| {
                let i = span - p + j;
                let w = weight(i);
                [self.controls[i].x * w, self.controls[i].y * w, w]
            })
            .collect();
        for r in 1..=p {
            for j in (r..=p).rev() {
                let (low, high) = (self.knots[span - p + j], self.knots[span + 1 + j - r]);
                let share = if high > low { (t - low) / (high - low) } else { 0.0 };
                d[j] = [0, 1, 2].map(|k| d[j - 1][k] * (1.0 - share) + d[j][k] * share);
            }
        }
        Point::mm(d[p][0] / d[p][2], d[p][1] / d[p][2])
    }
}
