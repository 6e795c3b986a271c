//! The least clear coat over a panel: a distribution, not a number.

use crate::condition::Link;
use crate::field::Sheet;
use crate::posterior::{Part, Posterior};
use crate::settings::Spread;
use serde::{Deserialize, Serialize};
use stats::{Cholesky, SquareMatrix, normal_cdf, root};
use std::collections::BTreeMap;
use units::{Seed, Thickness};

/// One normal part of a mixture.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct MixturePart {
    /// Share of the part; shares sum to one.
    pub share: f64,
    /// Its normal distribution.
    pub normal: Spread,
}

/// Distribution of the least clear coat over a panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeastClear {
    /// Mean.
    pub mean: Thickness,
    /// Standard deviation.
    pub sd: Thickness,
    /// One-sided lower bound; never below zero.
    pub lower: Thickness,
    /// Confidence of the bound.
    pub confidence: f64,
    /// The distribution as a mixture of normals.
    pub mixture: Vec<MixturePart>,
}

impl LeastClear {
    /// From the parts of a mixture.
    pub(crate) fn of(mixture: Vec<MixturePart>, confidence: f64) -> Self {
        let over = |f: &dyn Fn(&Spread) -> f64| mixture.iter().map(|p| p.share * f(&p.normal)).sum::<f64>();
        let mean = over(&|s| s.mean.as_um());
        let variance = over(&|s| s.sd.as_um().powi(2) + (s.mean.as_um() - mean).powi(2));
        let mut least = Self {
            mean: Thickness::um(mean),
            sd: Thickness::um(variance.sqrt()),
            lower: Thickness::ZERO,
            confidence,
            mixture,
        };
        least.lower = least.quantile(1.0 - confidence).max(Thickness::ZERO);
        least
    }

    /// Probability that the least clear coat is below `thickness`.
    pub fn below(&self, thickness: Thickness) -> f64 {
        self.below_after(Spread { mean: Thickness::ZERO, sd: Thickness::ZERO }, thickness)
    }

    /// Probability that it is below `floor` once `removal` has been taken off everywhere.
    pub fn below_after(&self, removal: Spread, floor: Thickness) -> f64 {
        self.mixture
            .iter()
            .map(|p| {
                let gap = (floor + removal.mean - p.normal.mean).as_um();
                p.share * normal_cdf(gap / p.normal.sd.as_um().hypot(removal.sd.as_um()).max(1e-9))
            })
            .sum()
    }

    /// The thickness below which the least clear coat lies with probability `p` (0 to 1).
    pub fn quantile(&self, p: f64) -> Thickness {
        if self.mixture.is_empty() {
            // Nothing is known: nothing is promised.
            return Thickness::ZERO;
        }
        let ends = self.mixture.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), part| {
            let (mean, sd) = (part.normal.mean.as_um(), part.normal.sd.as_um());
            (low.min(mean - 9.0 * sd), high.max(mean + 9.0 * sd))
        });
        let miss = |um: f64| self.below(Thickness::um(um)) - p;
        Thickness::um(root(miss, ends.0, ends.1, 1e-6).unwrap_or(if p < 0.5 { ends.0 } else { ends.1 }))
    }
}

/// The clear coat on a grid over the panel, and the least of it.
pub(crate) struct OverPanel {
    /// Mean clear coat of the panel.
    pub clear: Spread,
    pub least: Vec<MixturePart>,
    /// Grid points in millimeters, and how often each was the thinnest.
    pub thinnest: Vec<((f64, f64), f64)>,
}

/// Points of the coarse grid on which the least is looked for, and points added where it is likely.
const COARSE: f64 = 96.0;
const ADDED: usize = 80;
/// Draws over all parts, draws of the first look, and least number of draws of one part; all even.
const DRAWS: f64 = 512.0;
const FIRST: usize = 128;
const FEWEST: usize = 12;

/// Looks for the least clear coat over the panel in draws of the conditioned field.
///
/// A first look at the likeliest part on a coarse grid shows where the panel may be thinnest; there the
/// grid is halved. The draws leave out the largest uncertainty that is common to the whole panel; it is
/// put back exactly, as the standard deviation of each normal part (Rao–Blackwell), so that a far
/// quantile does not hang on a handful of draws.
pub(crate) fn over_panel(posterior: &Posterior, seed: Seed) -> OverPanel {
    let lattice = Lattice::over(posterior);
    let coarse = lattice.coarse();
    let mut worker =
        Worker::on(posterior, coarse.iter().map(|node| lattice.place(*node)).collect(), coarse.len());
    if let Some(part) = posterior.likeliest() {
        worker.draw(part, FIRST, seed);
        let nodes = lattice.refined(&coarse, &worker.thinnest);
        worker =
            Worker::on(posterior, nodes.into_iter().map(|node| lattice.place(node)).collect(), coarse.len());
    }
    let (mut mean, mut square) = (0.0, 0.0);
    for (number, part) in (1..).zip(&posterior.parts) {
        let draws = ((DRAWS * part.weight).ceil() as usize).max(FEWEST).next_multiple_of(2);
        let (m, v) = worker.draw(part, draws, seed.part(number));
        mean += part.weight * m;
        square += part.weight * (v + m * m);
    }
    let clear = Spread::um(mean, (square - mean * mean).max(0.0).sqrt());
    OverPanel {
        clear,
        least: condense(worker.atoms),
        thinnest: worker.grid.into_iter().zip(worker.thinnest).collect(),
    }
}

/// Coarse nodes on a panel below which its outline is left aside.
const NARROW: usize = 12;

/// A node of the lattice: column and row, in half steps of the coarse grid.
type Node = (usize, usize);

/// A coarse grid over the panel, edges included, and the half steps between its points.
struct Lattice<'a> {
    sheet: &'a Sheet,
    columns: usize,
    rows: usize,
}

impl<'a> Lattice<'a> {
    fn over(posterior: &'a Posterior) -> Self {
        let sheet = &posterior.sheet;
        let (width, height) = (sheet.width, sheet.height);
        let columns = (COARSE * width / height).sqrt().round().clamp(4.0, 20.0) as usize;
        let rows = ((COARSE / columns as f64).round() as usize).max(4);
        Self { sheet, columns, rows }
    }

    /// The coarse nodes that lie on the panel; a panel too narrow for the grid is taken as its rectangle.
    fn coarse(&self) -> Vec<Node> {
        let all = (0..self.columns * self.rows).map(|i| (2 * (i % self.columns), 2 * (i / self.columns)));
        let on_panel: Vec<Node> = all.clone().filter(|n| self.sheet.holds(self.place(*n))).collect();
        if on_panel.len() < NARROW { all.collect() } else { on_panel }
    }

    fn place(&self, (column, row): Node) -> (f64, f64) {
        let share = |i: usize, n: usize| i as f64 / (2 * (n - 1)) as f64;
        (share(column, self.columns) * self.sheet.width, share(row, self.rows) * self.sheet.height)
    }

    /// The coarse nodes, followed by half steps around those that were most often the thinnest.
    fn refined(&self, coarse: &[Node], thinnest: &[f64]) -> Vec<Node> {
        let mut order: Vec<usize> = (0..coarse.len()).collect();
        order.sort_by(|a, b| thinnest[*b].total_cmp(&thinnest[*a]));
        let mut nodes = coarse.to_vec();
        for at in order {
            let (column, row) = coarse[at];
            for r in row.saturating_sub(1)..=(row + 1).min(2 * self.rows - 2) {
                for c in column.saturating_sub(1)..=(column + 1).min(2 * self.columns - 2) {
                    let on_panel = self.sheet.holds(self.place((c, r)));
                    if on_panel && !nodes.contains(&(c, r)) {
                        nodes.push((c, r));
                    }
                }
            }
            if nodes.len() >= coarse.len() + ADDED {
                break;
            }
        }
        nodes
    }
}

struct Worker<'a> {
    posterior: &'a Posterior,
    grid: Vec<(f64, f64)>,
    /// Number of points at the head of the grid that stand evenly over the panel.
    even: usize,
    /// Share, mean, standard deviation.
    atoms: Vec<(f64, f64, f64)>,
    thinnest: Vec<f64>,
}

impl<'a> Worker<'a> {
    fn on(posterior: &'a Posterior, grid: Vec<(f64, f64)>, even: usize) -> Self {
        Self { posterior, thinnest: vec![0.0; grid.len()], grid, even, atoms: Vec::new() }
    }

    /// Draws the least of one part, an even number of times; returns mean and variance of the panel's mean clear coat.
    fn draw(&mut self, part: &Part, draws: usize, seed: Seed) -> (f64, f64) {
        let n = self.grid.len();
        let links: Vec<Link> = self.grid.iter().map(|at| part.clear_at(self.posterior, *at)).collect();
        let means: Vec<f64> = links.iter().map(|l| l.mean(&part.levels)).collect();
        let sheet = &self.posterior.sheet;
        // A millionth of the field's variance keeps the factor from breaking on rounding.
        let jitter = 1e-6 * part.within * part.within;
        let mut average = 0.0;
        let mut entries = Vec::with_capacity(n * (n + 1) / 2);
        for i in 0..n {
            for j in 0..=i {
                let prior = part.clear_prior(sheet, self.grid[i], self.grid[j]);
                let c = links[i].covariance(&links[j], prior, &part.levels);
                if i < self.even {
                    average += if i == j { c } else { 2.0 * c };
                }
                entries.push(c + if i == j { jitter } else { 0.0 });
            }
        }
        let even = self.even as f64;
        let panel = (means[..self.even].iter().sum::<f64>() / even, average / (even * even));
        let matrix = |less: f64| SquareMatrix::symmetric(n, |i, j| entries[i * (i + 1) / 2 + j] - less);
        let Some(factor) = Cholesky::of(matrix(0.0)) else { return panel };
        let mut ones = vec![1.0; n];
        factor.solve_lower(&mut ones);
        // The largest s² for which the covariance less s² everywhere is one still: 1 / (1ᵀ C⁻¹ 1).
        let common = 0.98 / ones.iter().map(|x| x * x).sum::<f64>();
        let (factor, common) = match Cholesky::of(matrix(common)) {
            Some(rest) => (rest, common),
            None => (factor, 0.0),
        };
        let sd = common.sqrt().max(1e-3);
        let share = part.weight / draws as f64;
        let mut chance = seed.sequence();
        for _ in 0..draws / 2 {
            let z: Vec<f64> = (0..n).map(|_| chance.normal()).collect();
            let wander = factor.lower_times(&z);
            for sign in [1.0, -1.0] {
                let (at, least) = means
                    .iter()
                    .zip(&wander)
                    .map(|(m, w)| m + sign * w)
                    .enumerate()
                    .fold((0, f64::INFINITY), |best, x| if x.1 < best.1 { x } else { best });
                self.thinnest[at] += share;
                self.atoms.push((share, least, sd));
            }
        }
        panel
    }
}

/// Merges normal parts that are close to each other in mean and spread, keeping mean and variance.
fn condense(atoms: Vec<(f64, f64, f64)>) -> Vec<MixturePart> {
    let mut bins: BTreeMap<(i64, i64), (f64, f64, f64)> = BTreeMap::new();
    for (share, mean, sd) in atoms {
        // A quarter of the part's own spread wide: the merged part is a normal again to fourth order.
        let class = (sd.ln() / 0.1).floor();
        let width = 0.25 * (0.1 * class).exp();
        let bin = bins.entry((class as i64, (mean / width).floor() as i64)).or_default();
        bin.0 += share;
        bin.1 += share * mean;
        bin.2 += share * (sd * sd + mean * mean);
    }
    bins.into_values()
        .map(|(share, first, second)| {
            let mean = first / share;
            MixturePart { share, normal: Spread::um(mean, (second / share - mean * mean).max(0.0).sqrt()) }
        })
        .collect()
}
