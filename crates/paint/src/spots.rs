//! Readings of a panel turned into observations: repeats merged, noise and offsets attached.

use crate::field::{Place, Sheet};
use crate::readings::Reading;
use crate::settings::GaugeSettings;
use units::Thickness;

/// What an observation is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Layer {
    /// Total thickness.
    Total,
    /// Clear coat alone, by a layered reading.
    Clear,
}

/// One spot: the mean of its repeats by one gauge.
#[derive(Clone, Debug)]
pub(crate) struct Observation {
    pub layer: Layer,
    pub place: Place,
    /// Mean value, µm.
    pub value: f64,
    /// Variance of its noise, µm².
    pub noise: f64,
    /// Number of the gauge, for the offset its readings share.
    pub gauge: usize,
    /// Repeats merged.
    repeats: usize,
    spot: Option<String>,
}

/// Turns readings into observations, in the order of their first reading.
pub(crate) fn observations(readings: &[&Reading], sheet: &Sheet, gauge: &GaugeSettings) -> Vec<Observation> {
    let mut gauges: Vec<Option<&str>> = Vec::new();
    let mut all: Vec<Observation> = Vec::new();
    for reading in readings {
        let name = reading.gauge.as_deref();
        let number = gauges.iter().position(|g| *g == name).unwrap_or_else(|| {
            gauges.push(name);
            gauges.len() - 1
        });
        // A place that is no place leaves the reading somewhere on the panel.
        let at = reading.at.filter(|(u, v)| u.is_finite() && v.is_finite());
        let place = at.map(|(u, v)| (u.clamp(0.0, 1.0) * sheet.width, v.clamp(0.0, 1.0) * sheet.height));
        let mut add = |layer: Layer, value: f64, sd: f64| {
            let same = |o: &&mut Observation| {
                o.layer == layer
                    && o.gauge == number
                    && o.place == place
                    && o.spot == reading.spot
                    && (place.is_some() || reading.spot.is_some())
            };
            match all.iter_mut().find(same) {
                Some(o) => o.merge(value, sd * sd),
                None => all.push(Observation {
                    layer,
                    place,
                    value,
                    noise: sd * sd,
                    gauge: number,
                    repeats: 1,
                    spot: reading.spot.clone(),
                }),
            }
        };
        let total = reading.value.as_um();
        add(Layer::Total, total, gauge.fixed.as_um() + gauge.relative * total);
        if let Some(clear) = reading.clear.filter(|c| c.is_finite() && *c > Thickness::ZERO) {
            add(Layer::Clear, clear.as_um(), gauge.layered_sd.as_um());
        }
    }
    all
}

impl Observation {
    fn merge(&mut self, value: f64, noise: f64) {
        let before = self.repeats as f64;
        let after = before + 1.0;
        self.value += (value - self.value) / after;
        // Variance of a mean: the sum of the variances over the square of their number.
        self.noise = (self.noise * before * before + noise) / (after * after);
        self.repeats += 1;
    }
}
