//! What is left over and worth keeping.

use crate::{Container, ContainerKind, Instance, Layout};
use plane::{Bounds, Outline, Point};
use serde::{Deserialize, Serialize};
use units::Length;

/// The shop's rule for remainders worth keeping.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RemainderRule {
    /// The shorter side at least.
    pub short_side: Length,
    /// The longer side at least.
    pub long_side: Length,
}

/// An empty rectangle in the used part of a roll, or in a used offcut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remainder {
    /// The roll or offcut it comes from.
    pub container: String,
    /// Where it lies there.
    pub outline: Outline,
    /// Its side along x.
    pub length: Length,
    /// Its side along y.
    pub width: Length,
}

/// Empty rectangles worth keeping, largest first, apart from each other and from all pieces and bad spots by the gap.
/// Found on a grid, so up to two cells (a twentieth of the short side, 2 to 10 mm) smaller than they could be.
pub fn remainders(instance: &Instance, layout: &Layout, rule: &RemainderRule) -> Vec<Remainder> {
    let cell = (rule.short_side.as_mm() / 20.0).clamp(2.0, 10.0);
    let mut found = Vec::new();
    for container in &instance.containers {
        let Some(mut grid) = Grid::of(instance, layout, container, cell) else { continue };
        while let Some(rectangle) = grid.largest(rule) {
            grid.block_box(rectangle, instance.gap.as_mm());
            found.extend(remainder(container, rectangle));
        }
    }
    let area = |r: &Remainder| r.length.as_mm() * r.width.as_mm();
    found.sort_by(|a, b| area(b).total_cmp(&area(a)));
    found
}

fn remainder(container: &Container, b: Bounds) -> Option<Remainder> {
    let corners = vec![b.low, Point::mm(b.high.x, b.low.y), b.high, Point::mm(b.low.x, b.high.y)];
    let outline = Outline::new(corners).ok()?;
    Some(Remainder { container: container.id.clone(), outline, length: b.width(), width: b.height() })
}

/// Cells of a container; a cell is taken when anything comes near it.
struct Grid {
    origin: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    taken: Vec<bool>,
}

/// Most cells of a grid; larger containers get coarser ones.
const MOST_CELLS: f64 = 4e6;

impl Grid {
    /// None for a container that is not used.
    fn of(instance: &Instance, layout: &Layout, container: &Container, cell: f64) -> Option<Self> {
        let pieces: Vec<Outline> = layout
            .placements
            .iter()
            .filter(|p| p.container == container.id)
            .filter_map(|p| Some(instance.pieces.iter().find(|q| q.id == p.piece)?.outline.placed(&p.pose)))
            .collect();
        if pieces.is_empty() {
            return None;
        }
        let (ContainerKind::Roll { bad_spots, .. } | ContainerKind::Offcut { bad_spots, .. }) =
            &container.kind;
        let bounds = match &container.kind {
            ContainerKind::Roll { width, .. } => {
                let length = layout.used.iter().find(|u| u.container == container.id)?.length;
                Bounds { low: Point::default(), high: Point::mm(length.as_mm(), width.as_mm()) }
            }
            ContainerKind::Offcut { outline, .. } => outline.bounds(),
        };
        let area = bounds.width().as_mm() * bounds.height().as_mm();
        let cell = cell.max((area / MOST_CELLS).sqrt());
        let count = |length: Length| (length.as_mm() / cell + 1e-9).floor() as usize;
        let (columns, rows) = (count(bounds.width()), count(bounds.height()));
        let mut grid = Self { origin: bounds.low, cell, columns, rows, taken: vec![false; columns * rows] };
        // a cell meets a shape only where its middle is within half a diagonal of it
        let reach = Length::mm(cell * std::f64::consts::FRAC_1_SQRT_2);
        for block in pieces.iter().chain(bad_spots) {
            grid.mark(&block.grown(instance.gap + reach), true);
        }
        if let ContainerKind::Offcut { outline, .. } = &container.kind {
            let mut inside = Self { taken: vec![false; columns * rows], ..grid };
            for part in outline.shrunk(reach) {
                inside.mark(&part, true);
            }
            grid.taken.iter_mut().zip(&inside.taken).for_each(|(t, i)| *t |= !i);
        }
        Some(grid)
    }

    fn middle(&self, row: usize) -> f64 {
        self.origin.y + (row as f64 + 0.5) * self.cell
    }

    /// Sets all cells whose middle lies inside.
    fn mark(&mut self, outline: &Outline, value: bool) {
        for row in 0..self.rows {
            let y = self.middle(row);
            let mut cuts: Vec<f64> = outline
                .edges()
                .filter(|(a, b)| (a.y > y) != (b.y > y))
                .map(|(a, b)| a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x))
                .collect();
            cuts.sort_by(f64::total_cmp);
            for pair in cuts.chunks_exact(2) {
                let column =
                    |x: f64| ((x - self.origin.x) / self.cell - 0.5).clamp(-1.0, self.columns as f64);
                let (from, to) = (column(pair[0]).ceil() as usize, column(pair[1]).floor());
                for c in from..((to + 1.0) as usize).min(self.columns) {
                    self.taken[row * self.columns + c] = value;
                }
            }
        }
    }

    fn block_box(&mut self, b: Bounds, gap: f64) {
        for row in 0..self.rows {
            for column in 0..self.columns {
                let low = Point::mm(
                    self.origin.x + column as f64 * self.cell,
                    self.origin.y + row as f64 * self.cell,
                );
                let high = low + Point::mm(self.cell, self.cell);
                let apart = low.x >= b.high.x + gap
                    || high.x <= b.low.x - gap
                    || low.y >= b.high.y + gap
                    || high.y <= b.low.y - gap;
                self.taken[row * self.columns + column] |= !apart;
            }
        }
    }

    /// The largest free rectangle that the rule keeps: bars under a skyline, row by row.
    fn largest(&self, rule: &RemainderRule) -> Option<Bounds> {
        let mut best: Option<(usize, [usize; 4])> = None;
        let mut heights = vec![0usize; self.columns];
        for row in 0..self.rows {
            for (c, h) in heights.iter_mut().enumerate() {
                *h = if self.taken[row * self.columns + c] { 0 } else { *h + 1 };
            }
            let mut stack: Vec<(usize, usize)> = Vec::new();
            for c in 0..=self.columns {
                let height = heights.get(c).copied().unwrap_or(0);
                let mut left = c;
                while let Some(&(start, h)) = stack.last() {
                    if h <= height {
                        break;
                    }
                    stack.pop();
                    left = start;
                    let kept = self.kept(c - start, h, rule);
                    if kept && best.is_none_or(|(area, _)| (c - start) * h > area) {
                        best = Some(((c - start) * h, [start, row + 1 - h, c, row + 1]));
                    }
                }
                if height > 0 && stack.last().is_none_or(|(_, h)| *h < height) {
                    stack.push((left, height));
                }
            }
        }
        let at = |c: usize, r: usize| self.origin + Point::mm(c as f64 * self.cell, r as f64 * self.cell);
        best.map(|(_, [c0, r0, c1, r1])| Bounds { low: at(c0, r0), high: at(c1, r1) })
    }

    fn kept(&self, columns: usize, rows: usize, rule: &RemainderRule) -> bool {
        let (short, long) = (columns.min(rows) as f64 * self.cell, columns.max(rows) as f64 * self.cell);
        short > 0.0 && short >= rule.short_side.as_mm() && long >= rule.long_side.as_mm()
    }
}
