//! Where labels go: so that none lies on another.

/// An upright box on a drawing, in its units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rect {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) w: f64,
    pub(super) h: f64,
}

impl Rect {
    /// Around a center.
    pub(super) fn around(x: f64, y: f64, w: f64, h: f64) -> Self {
        Self { x: x - w / 2.0, y: y - h / 2.0, w, h }
    }

    /// Larger on every side.
    pub(super) fn grown(self, by: f64) -> Self {
        Self { x: self.x - by, y: self.y - by, w: self.w + 2.0 * by, h: self.h + 2.0 * by }
    }

    /// Whether two boxes share area.
    pub(super) fn meets(&self, other: &Self) -> bool {
        self.x < other.x + other.w
            && other.x < self.x + self.w
            && self.y < other.y + other.h
            && other.y < self.y + self.h
    }

    /// Whether another box lies inside.
    pub(super) fn holds(&self, other: &Self) -> bool {
        other.x >= self.x
            && other.y >= self.y
            && other.x + other.w <= self.x + self.w
            && other.y + other.h <= self.y + self.h
    }
}

/// Chooses one candidate for each label so that the sum of costs is small: every label in turn takes
/// its cheapest candidate in view of the others, until nothing changes or eight rounds are over.
///
/// `cost(label, candidate, others)` sees the candidates that the other labels hold now (none for those
/// not placed yet); `None` for a label without candidates. The order and the outcome are fixed by the
/// input alone.
pub(super) fn settle<C: Copy>(
    candidates: &[Vec<C>],
    cost: impl Fn(usize, C, &[(usize, C)]) -> f64,
) -> Vec<Option<C>> {
    let mut held: Vec<Option<C>> = vec![None; candidates.len()];
    let mut at: Vec<Option<usize>> = vec![None; candidates.len()];
    for _ in 0..8 {
        let mut changed = false;
        for (label, choices) in candidates.iter().enumerate() {
            let others: Vec<(usize, C)> = held
                .iter()
                .enumerate()
                .filter(|(i, _)| *i != label)
                .filter_map(|(i, c)| c.map(|c| (i, c)))
                .collect();
            let best = choices
                .iter()
                .enumerate()
                .map(|(k, c)| (k, *c, cost(label, *c, &others)))
                .min_by(|a, b| a.2.total_cmp(&b.2));
            if let Some((k, c, _)) = best
                && at[label] != Some(k)
            {
                (held[label], at[label], changed) = (Some(c), Some(k), true);
            }
        }
        if !changed {
            break;
        }
    }
    held
}

/// Whether two straight lines cross, ends included.
pub(super) fn crosses(a: [f64; 4], b: [f64; 4]) -> bool {
    let side = |l: [f64; 4], x: f64, y: f64| (l[2] - l[0]) * (y - l[1]) - (l[3] - l[1]) * (x - l[0]);
    side(a, b[0], b[1]) * side(a, b[2], b[3]) <= 0.0 && side(b, a[0], a[1]) * side(b, a[2], a[3]) <= 0.0
}

/// Distance of a point from a straight line between two points.
pub(super) fn off_line(l: [f64; 4], x: f64, y: f64) -> f64 {
    let (dx, dy) = (l[2] - l[0], l[3] - l[1]);
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 { (((x - l[0]) * dx + (y - l[1]) * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (l[0] + t * dx - x).hypot(l[1] + t * dy - y)
}
