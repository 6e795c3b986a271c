//! How thickness at one place goes with thickness at another.

/// A place on the panel in millimeters from its corner; `None`: somewhere on the panel.
pub(crate) type Place = Option<(f64, f64)>;

/// Correlation at distance `r` with correlation length `length` (Matérn, ν = 3/2; Rasmussen and
/// Williams 2006, equation 4.17): continuous with a slope, rougher than a spline, as paint is.
pub(crate) fn matern(r: f64, length: f64) -> f64 {
    let x = 3f64.sqrt() * r / length;
    (1.0 + x) * (-x).exp()
}

/// The rectangle of a panel's drawing, the panel's outline in it, and the correlation over it.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    pub width: f64,
    pub height: f64,
    /// Outline in millimeters; empty: the whole rectangle.
    pub outline: Vec<(f64, f64)>,
}

/// Points of the grid that stands for "somewhere on the panel", across and down.
const SOMEWHERE: (usize, usize) = (7, 5);

impl Sheet {
    /// Whether a place lies on the panel, by the parity of crossings to its left.
    pub fn holds(&self, (x, y): (f64, f64)) -> bool {
        let next = self.outline.iter().skip(1).chain(self.outline.first());
        let crossed = |((ax, ay), (bx, by)): (&(f64, f64), &(f64, f64))| {
            (*ay > y) != (*by > y) && ax + (y - ay) / (by - ay) * (bx - ax) < x
        };
        self.outline.len() < 3 || self.outline.iter().zip(next).filter(|e| crossed(*e)).count() % 2 == 1
    }

    /// Correlation between two places. A reading taken somewhere goes with a place as the average
    /// over the panel does; two such readings lie apart.
    pub fn correlation(&self, a: Place, b: Place, length: f64) -> f64 {
        match (a, b) {
            (Some(a), Some(b)) => matern((a.0 - b.0).hypot(a.1 - b.1), length),
            (Some(p), None) | (None, Some(p)) => self.mean(|q| matern((p.0 - q.0).hypot(p.1 - q.1), length)),
            (None, None) => self.mean(|p| self.mean(|q| matern((p.0 - q.0).hypot(p.1 - q.1), length))),
        }
    }

    fn mean(&self, f: impl Fn((f64, f64)) -> f64) -> f64 {
        let (columns, rows) = SOMEWHERE;
        let at = |i: usize| {
            let (u, v) = (i % columns, i / columns);
            f(((u as f64 + 0.5) / columns as f64 * self.width, (v as f64 + 0.5) / rows as f64 * self.height))
        };
        (0..columns * rows).map(at).sum::<f64>() / (columns * rows) as f64
    }

    /// A regular grid that takes in the edges, row by row.
    pub fn grid(&self, columns: usize, rows: usize) -> Vec<(f64, f64)> {
        let share = |i: usize, n: usize| if n > 1 { i as f64 / (n - 1) as f64 } else { 0.5 };
        (0..columns * rows)
            .map(|i| (share(i % columns, columns) * self.width, share(i / columns, rows) * self.height))
            .collect()
    }
}
