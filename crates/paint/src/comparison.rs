//! Before and after: what a correction really took, and what goes into the ledger.

use crate::readings::Reading;
use crate::settings::Spread;
use crate::survey::Interval;
use serde::{Deserialize, Serialize};
use stats::{one_sample, summary};
use std::collections::BTreeMap;
use units::Thickness;

/// What a correction took from one panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// The panel.
    pub panel: String,
    /// Spots read both before and after.
    pub spots: usize,
    /// Mean removal over these spots with its standard error; `None` below two spots.
    pub measured: Option<Spread>,
    /// Two-sided 95 % t interval of the removal.
    pub interval: Option<Interval>,
    /// One-sided p value that nothing was removed.
    pub p: Option<f64>,
    /// What goes into the ledger: measurement and plan weighed by their certainty, never below zero.
    pub booked: Spread,
    /// Where the booked figure comes from, in plain words.
    pub words: String,
}

/// Compares the readings of one panel before and after, spot by spot: by the spot's name where both have
/// one, else by place. `planned` is what the passes were expected to take.
///
/// Without two spots read both times, the planned removal is booked, and without a plan nothing can be.
pub fn compare(panel: &str, before: &[Reading], after: &[Reading], planned: Option<Spread>) -> Comparison {
    let (first, second) = (by_spot(panel, before), by_spot(panel, after));
    let taken: Vec<f64> =
        first.iter().filter_map(|(spot, b)| second.get(spot).map(|a| mean(b) - mean(a))).collect();
    let test = one_sample(&taken, 0.0).ok();
    let measured = summary(&taken).ok().filter(|s| s.n > 1).map(|s| {
        // Equal differences have no spread of their own; rounding to whole micrometers has.
        Spread::um(s.mean, (s.sd / (s.n as f64).sqrt()).max(0.05))
    });
    let (booked, words) = match (measured, planned) {
        (Some(m), Some(p)) => (weighed(m, p), "measured and planned removal, weighed by their certainty"),
        (Some(m), None) => (m, "measured removal"),
        (None, Some(p)) => (p, "planned removal: fewer than two spots were read before and after"),
        (None, None) => (Spread::default(), "nothing is known: read the same spots before and after"),
    };
    let booked = Spread { mean: booked.mean.max(Thickness::ZERO), ..booked };
    Comparison {
        panel: panel.to_owned(),
        spots: taken.len(),
        measured,
        interval: test.and_then(|t| t.interval(0.95).ok()).map(|b| Interval {
            low: Thickness::um(b.low),
            high: Thickness::um(b.high),
            confidence: 0.95,
        }),
        p: test.map(|t| t.p_above()),
        booked,
        words: words.to_owned(),
    }
}

/// A spot's name, or its place by bits.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum SpotKey<'a> {
    Name(&'a str),
    Place(u64, u64),
}

fn by_spot<'a>(panel: &str, readings: &'a [Reading]) -> BTreeMap<SpotKey<'a>, Vec<f64>> {
    let mut spots: BTreeMap<SpotKey<'a>, Vec<f64>> = BTreeMap::new();
    for reading in readings.iter().filter(|r| r.panel == panel && r.value.is_finite()) {
        let key = match (&reading.spot, reading.at) {
            (Some(name), _) => SpotKey::Name(name),
            (None, Some((u, v))) => SpotKey::Place(u.to_bits(), v.to_bits()),
            (None, None) => continue,
        };
        spots.entry(key).or_default().push(reading.value.as_um());
    }
    spots
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Product of two normals: weights are the inverse variances.
fn weighed(a: Spread, b: Spread) -> Spread {
    let weight = |s: Spread| 1.0 / s.sd.as_um().max(1e-3).powi(2);
    let (wa, wb) = (weight(a), weight(b));
    Spread::um((wa * a.mean.as_um() + wb * b.mean.as_um()) / (wa + wb), (1.0 / (wa + wb)).sqrt())
}
