//! Bands of equal thickness over a map, as rings to be filled.

use crate::map::PanelMap;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::Thickness;

/// Which figure of a map is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Surface {
    /// Mean total thickness.
    Total,
    /// Mean clear coat.
    Clear,
    /// Standard deviation of the clear coat.
    ClearSd,
}

/// A closed ring of places (u, v); the last goes with the first.
pub type Ring = Vec<(f64, f64)>;

/// The part of a panel between two levels.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Lower level; `None` below the lowest.
    pub low: Option<Thickness>,
    /// Upper level; `None` above the highest.
    pub high: Option<Thickness>,
    /// Rings to be filled together by the even-odd rule.
    pub rings: Vec<Ring>,
}

/// Bands a map is cut into at most.
const MOST_BANDS: f64 = 8.0;

impl PanelMap {
    /// Round levels through the range of a surface: at most seven of them, at steps of 1, 2 or 5 times a power of ten.
    pub fn levels(&self, surface: Surface) -> Vec<Thickness> {
        let values = self.values(surface);
        let low = values.iter().map(|t| t.as_um()).fold(f64::INFINITY, f64::min);
        let high = values.iter().map(|t| t.as_um()).fold(f64::NEG_INFINITY, f64::max);
        let range = high - low;
        if !range.is_finite() || range <= 0.0 {
            return Vec::new();
        }
        let magnitude = 10f64.powf((range / MOST_BANDS).log10().floor());
        let step =
            [1.0, 2.0, 5.0, 10.0].map(|m| m * magnitude).into_iter().find(|s| range / s < MOST_BANDS - 1.0);
        let step = step.unwrap_or(10.0 * magnitude);
        let first = (low / step).floor() as i64 + 1;
        (first..).map(|i| i as f64 * step).take_while(|level| *level < high).map(Thickness::um).collect()
    }

    /// The bands between ascending levels, lowest first; a band that is nowhere is left out.
    pub fn bands(&self, surface: Surface, levels: &[Thickness]) -> Vec<Band> {
        let ends = || levels.iter().copied().map(Some);
        let lows = std::iter::once(None).chain(ends());
        let highs = ends().chain(std::iter::once(None));
        lows.zip(highs)
            .map(|(low, high)| {
                let mut rings = self.below(surface, high);
                rings.extend(low.map(|level| self.below(surface, Some(level))).unwrap_or_default());
                Band { low, high, rings }
            })
            .filter(|band| !band.rings.is_empty())
            .collect()
    }

    /// Rings around everything below `level` (the whole panel for `None`), to be filled by the even-odd rule.
    pub fn below(&self, surface: Surface, level: Option<Thickness>) -> Vec<Ring> {
        match level {
            None => vec![vec![(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]],
            Some(level) => Tracer { map: self, values: self.values(surface), level: level.as_um() }.rings(),
        }
    }

    /// The figures of a surface, row by row.
    pub fn values(&self, surface: Surface) -> &[Thickness] {
        match surface {
            Surface::Total => &self.total_mean,
            Surface::Clear => &self.clear_mean,
            Surface::ClearSd => &self.clear_sd,
        }
    }
}

/// An edge between two neighboring points of the grid, by its upper or left point: `(row, column, goes down)`.
type Edge = (i64, i64, bool);

/// Marching squares (Lorensen and Cline 1987, in two dimensions) over the grid with a rim of "not below"
/// laid around it, so that every ring closes along the panel's edge.
struct Tracer<'a> {
    map: &'a PanelMap,
    values: &'a [Thickness],
    level: f64,
}

impl Tracer<'_> {
    fn rings(&self) -> Vec<Ring> {
        let mut next: BTreeMap<Edge, Edge> = BTreeMap::new();
        for row in -1..self.map.rows as i64 {
            for column in -1..self.map.columns as i64 {
                for (from, to) in self.cell(row, column) {
                    next.insert(from, to);
                }
            }
        }
        let mut rings = Vec::new();
        while let Some((first, _)) = next.first_key_value().map(|(a, b)| (*a, *b)) {
            let mut ring = Vec::new();
            let mut edge = first;
            while let Some(following) = next.remove(&edge) {
                let at = self.crossing(edge);
                if ring.last() != Some(&at) {
                    ring.push(at);
                }
                edge = following;
            }
            if ring.len() > 1 && ring.first() == ring.last() {
                ring.pop();
            }
            if ring.len() > 2 {
                rings.push(ring);
            }
        }
        rings
    }

    /// Height above the level; on the rim nothing is below.
    fn height(&self, row: i64, column: i64) -> f64 {
        let (rows, columns) = (self.map.rows as i64, self.map.columns as i64);
        if (0..rows).contains(&row) && (0..columns).contains(&column) {
            self.values[(row * columns + column) as usize].as_um() - self.level
        } else {
            f64::INFINITY
        }
    }

    /// Stretches of line through the cell right and below of a point, with what is below on one side.
    fn cell(&self, row: i64, column: i64) -> Vec<(Edge, Edge)> {
        let (top, left) = ((row, column, false), (row, column, true));
        let (bottom, right) = ((row + 1, column, false), (row, column + 1, true));
        let heights = [(row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column)]
            .map(|(r, c)| self.height(r, c));
        let below = heights.map(|h| h < 0.0);
        // Edges around the cell in order, each leading from corner i to corner i + 1.
        let around = [top, right, bottom, left];
        let crossed: Vec<usize> = (0..4).filter(|i| below[*i] != below[(i + 1) % 4]).collect();
        // A line goes from where one leaves what is below to where one enters it again.
        let leaves = |i: usize| below[i];
        match crossed[..] {
            [a, b] => vec![if leaves(a) { (around[a], around[b]) } else { (around[b], around[a]) }],
            [_, _, _, _] => {
                // A saddle: the middle decides whether the two corners below are joined.
                let joined = heights.iter().sum::<f64>() < 0.0;
                let shift = usize::from(!leaves(0));
                let (out_a, in_a, out_b, in_b) = (shift, (shift + 1) % 4, (shift + 2) % 4, (shift + 3) % 4);
                if joined {
                    vec![(around[out_a], around[in_a]), (around[out_b], around[in_b])]
                } else {
                    vec![(around[out_a], around[in_b]), (around[out_b], around[in_a])]
                }
            }
            _ => Vec::new(),
        }
    }

    /// Where the level crosses an edge.
    fn crossing(&self, (row, column, down): Edge) -> (f64, f64) {
        let other = if down { (row + 1, column) } else { (row, column + 1) };
        let (a, b) = (self.height(row, column), self.height(other.0, other.1));
        let (from, to) = (self.place(row, column), self.place(other.0, other.1));
        // Towards the rim the crossing lies on the panel's edge, where rim and last point meet.
        let share = if a.is_finite() && b.is_finite() { a / (a - b) } else { 0.0 };
        (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1))
    }

    /// Place of a point; the rim lies on the panel's edge.
    fn place(&self, row: i64, column: i64) -> (f64, f64) {
        let share = |i: i64, n: usize| (i.clamp(0, n as i64 - 1)) as f64 / (n - 1) as f64;
        (share(column, self.map.columns), share(row, self.map.rows))
    }
}
