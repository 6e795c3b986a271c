//! What the readings of one panel say about its paint: a mixture over kinds of finish and over how
//! strongly and how far thickness wanders, each part a conditioned Gaussian field.

use crate::condition::{Levelled, Link, Observed, Two};
use crate::field::{Place, Sheet};
use crate::prior::Expected;
use crate::settings::{FieldSettings, GaugeSettings};
use crate::spots::{Layer, Observation};
use stats::SquareMatrix;
use std::cell::LazyCell;

/// Observations looked at in the first, coarse look at spread and length.
const FIRST_LOOK: usize = 48;
/// Grid of the first look: spreads and lengths.
const SPREADS: usize = 16;
const LENGTHS: usize = 5;
/// Kinds of finish less likely than this are left out: a hundredth of the risk that bounds speak of.
const UNLIKELY: f64 = 1e-4;
/// Kinds less likely than this are looked at with their likeliest spread and length only.
const RARE: f64 = 0.02;
/// Parts with less than this share of their kind are dropped, their weight left to the kind's other parts.
const LIGHT: f64 = 0.01;

/// Share of a place's total thickness, and of its clear coat, in the two levels.
const TOTAL: Two = [1.0, 0.0];
const CLEAR: Two = [0.0, 1.0];

/// One part of the mixture.
pub(crate) struct Part {
    pub weight: f64,
    /// Standard deviation of the total over the panel, µm.
    pub within: f64,
    /// Correlation length, mm.
    pub length: f64,
    /// Share of the clear coat in the variance over the panel.
    clear_share: f64,
    observed: Observed,
    pub levels: Levelled,
}

/// The mixture.
pub(crate) struct Posterior {
    pub sheet: Sheet,
    pub observations: Vec<Observation>,
    pub parts: Vec<Part>,
    /// Probability of each kind, in the order of the priors.
    pub kinds: [f64; 4],
}

/// A spread and a length, as logarithms, with the weight of its node.
#[derive(Clone, Copy)]
struct Node {
    spread: f64,
    length: f64,
    ln_weight: f64,
}

/// Prior of spread and length as normals of their logarithms.
#[derive(Clone, Copy)]
struct HyperPrior {
    spread_sd: f64,
    length_mean: f64,
    length_sd: f64,
    length_low: f64,
    length_high: f64,
}

impl Posterior {
    /// Conditions the priors on the observations.
    pub fn new(
        sheet: Sheet,
        observations: Vec<Observation>,
        expected: &[Expected; 4],
        field: &FieldSettings,
        gauge: &GaugeSettings,
    ) -> Self {
        let offset = gauge.offset_sd.as_um().powi(2);
        let hyper = HyperPrior::of(field);
        let stride = observations.len().div_ceil(FIRST_LOOK).max(1);
        let few: Vec<Observation> = observations.iter().step_by(stride).cloned().collect();
        let looks = first_look(&sheet, &few, expected, hyper, offset);
        let all = Builder { sheet: &sheet, observations: &observations, offset };
        let rough = shares(&looks.iter().map(|l| l.ln_evidence).collect::<Vec<_>>());
        let (mut parts, mut ln_kinds) = (Vec::new(), [f64::NEG_INFINITY; 4]);
        for (k, (kind, look)) in expected.iter().zip(&looks).enumerate() {
            if rough[k] < UNLIKELY {
                continue;
            }
            let (mut sum, mut of_kind) = (Vec::new(), Vec::new());
            for node in look.nodes(rough[k] >= RARE) {
                let length = node.length.clamp(hyper.length_low, hyper.length_high);
                let (within, length) = (node.spread.exp(), length.exp());
                let Some(observed) = all.observed(within, length, kind.clear_share) else { continue };
                let levels = observed.levels(&kind.levels);
                let ln_weight = kind.share.ln()
                    + levels.log_evidence
                    + hyper.ln_density(node, kind.within)
                    + node.ln_weight;
                sum.push(ln_weight);
                of_kind.push(Part {
                    weight: 0.0,
                    within,
                    length,
                    clear_share: kind.clear_share,
                    observed,
                    levels,
                });
            }
            ln_kinds[k] = ln_sum(&sum);
            for (part, weight) in of_kind.iter_mut().zip(shares(&sum)) {
                part.weight = weight;
            }
            of_kind.retain(|p: &Part| p.weight >= LIGHT);
            let kept: f64 = of_kind.iter().map(|p| p.weight).sum();
            parts.extend(of_kind.into_iter().map(|p| (k, Part { weight: p.weight / kept, ..p })));
        }
        // The grid of the first look weighs the kinds better than five nodes do, if it saw everything.
        let close = if stride == 1 { of_kinds_kept(&rough) } else { shares(&ln_kinds) };
        let parts = parts.into_iter().map(|(k, p)| Part { weight: p.weight * close[k], ..p }).collect();
        // Kinds left out keep the probability of the first look.
        let left_out: f64 = rough.iter().filter(|r| **r < UNLIKELY).sum();
        let kinds =
            std::array::from_fn(|k| if rough[k] < UNLIKELY { rough[k] } else { close[k] * (1.0 - left_out) });
        Self { sheet, observations, parts, kinds }
    }

    /// The likeliest part.
    pub fn likeliest(&self) -> Option<&Part> {
        self.parts.iter().fold(None, |best: Option<&Part>, p| match best {
            Some(b) if b.weight >= p.weight => Some(b),
            _ => Some(p),
        })
    }
}

impl Part {
    /// Links a place's clear coat to the observations.
    pub fn clear_at(&self, posterior: &Posterior, at: (f64, f64)) -> Link {
        let covariance = self.covariances(posterior, at, |_| self.clear_share);
        self.observed.link(covariance, CLEAR)
    }

    /// Links a place's total thickness to the observations.
    pub fn total_at(&self, posterior: &Posterior, at: (f64, f64)) -> Link {
        let share = |layer: Layer| if layer == Layer::Total { 1.0 } else { self.clear_share };
        self.observed.link(self.covariances(posterior, at, share), TOTAL)
    }

    /// Covariance of a place with every observation, by the share of the field that they have in common.
    fn covariances(&self, posterior: &Posterior, at: (f64, f64), share: impl Fn(Layer) -> f64) -> Vec<f64> {
        let sheet = &posterior.sheet;
        // Readings without a place all go with this one alike.
        let loose = LazyCell::new(|| self.between(sheet, Some(at), None));
        let between =
            |place: Place| if place.is_none() { *loose } else { self.between(sheet, Some(at), place) };
        posterior.observations.iter().map(|o| share(o.layer) * between(o.place)).collect()
    }

    /// Both links of a place: total thickness, clear coat.
    pub fn both_at(&self, posterior: &Posterior, at: (f64, f64)) -> (Link, Link) {
        let total = self.total_at(posterior, at);
        // Without layered readings the clear coat goes with every observation as a share of the total does.
        let clear = if posterior.observations.iter().any(|o| o.layer == Layer::Clear) {
            self.clear_at(posterior, at)
        } else {
            total.scaled(self.clear_share, TOTAL, CLEAR)
        };
        (total, clear)
    }

    /// Prior covariance of clear coat at two places, levels apart.
    pub fn clear_prior(&self, sheet: &Sheet, a: (f64, f64), b: (f64, f64)) -> f64 {
        self.clear_share * self.between(sheet, Some(a), Some(b))
    }

    /// Prior covariance of total thickness at two places, levels apart.
    pub fn total_prior(&self, sheet: &Sheet, a: (f64, f64), b: (f64, f64)) -> f64 {
        self.between(sheet, Some(a), Some(b))
    }

    fn between(&self, sheet: &Sheet, a: Place, b: Place) -> f64 {
        self.within * self.within * sheet.correlation(a, b, self.length)
    }
}

/// Builds the covariance of the observations for a spread, a length and a clear share.
struct Builder<'a> {
    sheet: &'a Sheet,
    observations: &'a [Observation],
    /// Variance of the offset that readings of one gauge share.
    offset: f64,
}

impl Builder<'_> {
    fn observed(&self, within: f64, length: f64, clear_share: f64) -> Option<Observed> {
        let o = self.observations;
        let variance = within * within;
        let any_loose = o.iter().any(|x| x.place.is_none());
        let with_loose =
            |place: Place| if any_loose { self.sheet.correlation(place, None, length) } else { 0.0 };
        let loose: Vec<f64> = o.iter().map(|x| x.place.map_or(0.0, |at| with_loose(Some(at)))).collect();
        let apart = with_loose(None);
        let matrix = SquareMatrix::symmetric(o.len(), |i, j| {
            let (a, b) = (&o[i], &o[j]);
            let correlation = match (a.place, b.place) {
                _ if i == j => 1.0,
                (None, None) => apart,
                (Some(_), None) => loose[i],
                (None, Some(_)) => loose[j],
                (a, b) => self.sheet.correlation(a, b, length),
            };
            let totals = a.layer == Layer::Total && b.layer == Layer::Total;
            let shared = if totals && a.gauge == b.gauge { self.offset } else { 0.0 };
            let field = if totals { variance } else { clear_share * variance };
            field * correlation + shared + if i == j { a.noise } else { 0.0 }
        });
        let values: Vec<f64> = o.iter().map(|x| x.value).collect();
        let level: Vec<usize> = o.iter().map(|x| usize::from(x.layer == Layer::Clear)).collect();
        Observed::new(&values, &level, matrix)
    }
}

/// What the first look says about one kind: its evidence, and where spread and length lie.
struct Look {
    ln_evidence: f64,
    mean: [f64; 2],
    /// Lower Cholesky factor of their covariance.
    root: [f64; 3],
}

impl Look {
    /// Five nodes around the mean (the mean and ±√3 along each axis: exact to degree three, and to four along
    /// each axis), or the mean alone, each with the logarithm of its weight over the density it
    /// was drawn with.
    fn nodes(&self, closely: bool) -> Vec<Node> {
        let [a, b, c] = self.root;
        if !closely {
            return vec![Node { spread: self.mean[0], length: self.mean[1], ln_weight: (a * c).ln() }];
        }
        let far = 3f64.sqrt();
        let rule = [(0.0, 0.0, 1.0 / 3.0), (-far, 0.0, 1.0 / 6.0), (far, 0.0, 1.0 / 6.0)];
        let rest = [(0.0, -far, 1.0 / 6.0), (0.0, far, 1.0 / 6.0)];
        rule.into_iter()
            .chain(rest)
            .map(|(z0, z1, w)| Node {
                spread: self.mean[0] + a * z0,
                length: self.mean[1] + b * z0 + c * z1,
                ln_weight: (w * a * c).ln() + 0.5 * (z0 * z0 + z1 * z1),
            })
            .collect()
    }
}

/// Evidence over a coarse grid of spreads and lengths, with few observations.
fn first_look(
    sheet: &Sheet,
    observations: &[Observation],
    expected: &[Expected; 4],
    hyper: HyperPrior,
    offset: f64,
) -> Vec<Look> {
    let builder = Builder { sheet, observations, offset };
    let layered = observations.iter().any(|o| o.layer == Layer::Clear);
    let medians = || expected.iter().map(|k| k.within.ln());
    let low = medians().fold(f64::INFINITY, f64::min) - 2.5 * hyper.spread_sd;
    let high = medians().fold(f64::NEG_INFINITY, f64::max) + 2.5 * hyper.spread_sd;
    let mut tables: Vec<Vec<(Node, f64)>> = vec![Vec::new(); expected.len()];
    for i in 0..SPREADS {
        for j in 0..LENGTHS {
            let z = 4.0 * j as f64 / (LENGTHS - 1) as f64 - 2.0;
            let node = Node {
                spread: low + (high - low) * i as f64 / (SPREADS - 1) as f64,
                length: (hyper.length_mean + z * hyper.length_sd).clamp(hyper.length_low, hyper.length_high),
                ln_weight: 0.0,
            };
            let mut shared = None;
            for (kind, table) in expected.iter().zip(&mut tables) {
                // Without layered readings the covariance is the same for every kind of finish.
                if layered || shared.is_none() {
                    shared = builder.observed(node.spread.exp(), node.length.exp(), kind.clear_share);
                }
                let Some(observed) = &shared else { continue };
                let evidence = observed.levels(&kind.levels).log_evidence;
                table.push((node, kind.share.ln() + evidence + hyper.ln_density(node, kind.within)));
            }
        }
    }
    // What a grid cannot resolve is not taken for certain.
    let least = [((high - low) / SPREADS as f64).powi(2) / 12.0, (hyper.length_sd / 2.0).powi(2) / 12.0];
    tables.iter().map(|table| summarize(table, least)).collect()
}

fn summarize(table: &[(Node, f64)], least: [f64; 2]) -> Look {
    let ln: Vec<f64> = table.iter().map(|t| t.1).collect();
    let weights = shares(&ln);
    let average =
        |f: &dyn Fn(&Node) -> f64| table.iter().zip(&weights).map(|((n, _), w)| w * f(n)).sum::<f64>();
    let mean = [average(&|n| n.spread), average(&|n| n.length)];
    let spread = average(&|n| (n.spread - mean[0]).powi(2)).max(least[0]);
    let length = average(&|n| (n.length - mean[1]).powi(2)).max(least[1]);
    let both = average(&|n| (n.spread - mean[0]) * (n.length - mean[1]));
    let a = spread.sqrt();
    let b = both / a;
    let c = (length - b * b).max(0.1 * length).sqrt();
    Look { ln_evidence: ln_sum(&ln), mean, root: [a, b, c] }
}

impl HyperPrior {
    fn of(field: &FieldSettings) -> Self {
        // A factor of 1 would leave no spread at all, which a quadrature cannot stand on.
        let sd = |factor: f64| factor.ln().max(0.01);
        Self {
            spread_sd: sd(field.spread_factor),
            length_mean: field.length.as_mm().ln(),
            length_sd: sd(field.length_factor),
            length_low: field.shortest.as_mm().ln(),
            length_high: field.longest.as_mm().ln(),
        }
    }

    /// Logarithm of the prior density, up to a constant that all kinds share.
    fn ln_density(&self, node: Node, within: f64) -> f64 {
        let a = (node.spread - within.ln()) / self.spread_sd;
        let b = (node.length - self.length_mean) / self.length_sd;
        -0.5 * (a * a + b * b)
    }
}

/// The rough shares without the kinds left out.
fn of_kinds_kept(rough: &[f64]) -> Vec<f64> {
    let kept = |share: f64| if share < UNLIKELY { 0.0 } else { share };
    let whole: f64 = rough.iter().map(|r| kept(*r)).sum();
    rough.iter().map(|r| kept(*r) / whole).collect()
}

/// Weights that sum to one, from their logarithms.
fn shares(ln: &[f64]) -> Vec<f64> {
    let whole = ln_sum(ln);
    ln.iter().map(|x| if x.is_finite() { (x - whole).exp() } else { 0.0 }).collect()
}

/// Logarithm of a sum, from logarithms; −∞ for nothing.
fn ln_sum(ln: &[f64]) -> f64 {
    let most = ln.iter().copied().filter(|x| x.is_finite()).fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + ln.iter().filter(|x| x.is_finite()).map(|x| (x - most).exp()).sum::<f64>().ln()
}
