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

/// An empty part of the used length of a roll, or of a used offcut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remainder {
    /// The roll or offcut it comes from.
    pub container: String,
    /// Where it lies there: what is free around the rectangle, without necks narrower than the short side; the
    /// rectangle alone where that is nearly all.
    pub outline: Outline,
    /// The largest rectangle in it that was found.
    pub rectangle: Bounds,
}

/// A remainder takes the outline of what is free when that has so much more area than the rectangle.
const WORTH_AN_OUTLINE: f64 = 1.1;
/// Kept from pieces beside the gap, mm, so that the outline may be drawn with fewer points.
const SPARE: f64 = 2.0;
/// Half the neck that a remainder may have at the least, as a share of the rule's short side.
const NECK: f64 = 0.49;

/// Empty parts worth keeping, largest first, apart from each other and from all pieces and bad spots by the gap; each
/// holds a rectangle that the rule keeps. The rectangles are found on a grid, so up to two cells (a twentieth of the
/// short side, 2 to 10 mm) smaller than they could be.
pub fn remainders(instance: &Instance, layout: &Layout, rule: &RemainderRule) -> Vec<Remainder> {
    let cell = (rule.short_side.as_mm() / 20.0).clamp(2.0, 10.0);
    let mut found: Vec<Remainder> = Vec::new();
    for container in &instance.containers {
        let Some(used) = Used::of(instance, layout, container) else { continue };
        let mut grid = Grid::of(&used, instance.gap, cell);
        let parts = used.free_parts(instance.gap, rule);
        let mut kept: Vec<Outline> = Vec::new();
        while let Some(rectangle) = grid.largest(rule) {
            let Some(plain) = outline_of(rectangle) else { break };
            let outline = parts
                .iter()
                .find(|part| part.contains(rectangle.center()))
                .and_then(|part| used.remainder(part, &plain, instance.gap, &kept))
                .unwrap_or(plain);
            grid.block(&outline, instance.gap);
            kept.push(outline.clone());
            found.push(Remainder { container: container.id.clone(), outline, rectangle });
        }
    }
    found.sort_by(|a, b| b.outline.area().total_cmp(&a.outline.area()));
    found
}

fn outline_of(b: Bounds) -> Option<Outline> {
    Outline::new(vec![b.low, Point::mm(b.high.x, b.low.y), b.high, Point::mm(b.low.x, b.high.y)]).ok()
}

/// The part of a container that a layout uses.
struct Used {
    outline: Outline,
    /// Pieces and bad spots.
    blocks: Vec<Outline>,
}

impl Used {
    /// None for a container that holds no piece.
    fn of(instance: &Instance, layout: &Layout, container: &Container) -> Option<Self> {
        let mut blocks: Vec<Outline> = layout
            .placements
            .iter()
            .filter(|p| p.container == container.id)
            .filter_map(|p| Some(instance.pieces.iter().find(|q| q.id == p.piece)?.outline.placed(&p.pose)))
            .collect();
        if blocks.is_empty() {
            return None;
        }
        let (ContainerKind::Roll { bad_spots, .. } | ContainerKind::Offcut { bad_spots, .. }) =
            &container.kind;
        blocks.extend(bad_spots.iter().cloned());
        let outline = match &container.kind {
            ContainerKind::Roll { width, .. } => {
                let length = layout.used.iter().find(|u| u.container == container.id)?.length;
                let high = Point::mm(length.as_mm(), width.as_mm());
                outline_of(Bounds { low: Point::default(), high })?
            }
            ContainerKind::Offcut { outline, .. } => outline.clone(),
        };
        Some(Self { outline, blocks })
    }

    /// What is free and has no neck narrower than the rule's short side, in parts without holes.
    fn free_parts(&self, gap: Length, rule: &RemainderRule) -> Vec<Outline> {
        let radius = rule.short_side * NECK;
        if radius <= Length::ZERO {
            return Vec::new();
        }
        let away: Vec<Outline> =
            self.blocks.iter().map(|b| b.grown(gap + Length::mm(SPARE) + radius)).collect();
        let inner = self.outline.shrunk(radius);
        let cores = inner.iter().flat_map(|part| part.whole_without(&away));
        cores.map(|core| core.grown(radius)).collect()
    }

    /// A free part with the rectangle found in it; none where it would gain little, or come too near to anything.
    fn remainder(&self, part: &Outline, plain: &Outline, gap: Length, kept: &[Outline]) -> Option<Outline> {
        let joined = Outline::joined(&[part.clone(), plain.clone()]);
        let [whole] = &joined[..] else { return None };
        let outline = whole.simplified(Length::mm(SPARE / 2.0)).common(&self.outline).into_iter().next()?;
        let apart = |other: &Outline| !outline.meets(other) && outline.distance(other) >= gap;
        (outline.area() >= plain.area() * WORTH_AN_OUTLINE
            && self.blocks.iter().all(apart)
            && kept.iter().all(apart))
        .then_some(outline)
    }
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
    fn of(used: &Used, gap: Length, cell: f64) -> Self {
        let bounds = used.outline.bounds();
        let area = bounds.width().as_mm() * bounds.height().as_mm();
        let cell = cell.max((area / MOST_CELLS).sqrt());
        let count = |length: Length| (length.as_mm() / cell + 1e-9).floor() as usize;
        let (columns, rows) = (count(bounds.width()), count(bounds.height()));
        let mut grid = Self { origin: bounds.low, cell, columns, rows, taken: vec![false; columns * rows] };
        for block in &used.blocks {
            grid.block(block, gap);
        }
        // a rectangle's own cells lie inside it
        if used.outline.area() < bounds.width() * bounds.height() * (1.0 - 1e-9) {
            let mut inside = Self { taken: vec![false; columns * rows], ..grid };
            for part in used.outline.shrunk(grid.reach()) {
                inside.mark(&part, true);
            }
            grid.taken.iter_mut().zip(&inside.taken).for_each(|(t, i)| *t |= !i);
        }
        grid
    }

    /// A cell meets a shape only where its middle is within half a diagonal of it.
    fn reach(&self) -> Length {
        Length::mm(self.cell * std::f64::consts::FRAC_1_SQRT_2)
    }

    /// Takes the cells that come nearer than the gap.
    fn block(&mut self, outline: &Outline, gap: Length) {
        self.mark(&outline.grown(gap + self.reach()), true);
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
