//! The shop's gauges: what foils and studies say of them.

use crate::engine;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use jiff::Timestamp;
use job::{GaugeCheck, GaugeStudy};
use std::collections::BTreeSet;

/// One gauge.
#[derive(Clone, Debug)]
pub struct GaugeView {
    /// Its name.
    pub name: String,
    /// Foils read last: when, by whom, and the figures that follow.
    pub check: Option<(Timestamp, String, Vec<Figure>)>,
    /// The last study: when, by whom, and its figures by each method.
    pub study: Option<(Timestamp, String, Vec<paint::StudyResult>)>,
}

impl Studio {
    /// Gauges with foils or a study, by name.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn gauges_view(&self) -> Result<Vec<GaugeView>, Refusal> {
        let shop = self.shop()?;
        let names: BTreeSet<&String> = shop.gauges.keys().chain(shop.gauge_studies.keys()).collect();
        let view = |name: &String| GaugeView {
            name: name.clone(),
            check: shop.gauges.get(name).map(|c| (c.at, c.by.clone(), figures(c))),
            study: shop.gauge_studies.get(name).map(|s| (s.at, s.by.clone(), studied(s))),
        };
        Ok(names.into_iter().map(view).collect())
    }
}

fn figures(check: &GaugeCheck) -> Vec<Figure> {
    let Some(said) = engine::paint::gauge_check(check) else { return Vec::new() };
    let offset = said.offset;
    let mut reads = Figure::new("Offset", format!("{:+.1}", offset.mean.as_um()), "µm")
        .plus_minus(format!("{:.1}", 1.96 * offset.sd.as_um()))
        .by(
            "mean of read − nominal over the foils; readings of this gauge are taken without it",
            "Readings of the foils",
        )
        .from("Foil readings", said.n.to_string());
    if offset.mean.as_um().abs() > 1.96 * offset.sd.as_um() {
        reads = reads.from("Sure to be an offset", "yes, its 95 % range leaves out zero");
    }
    let scatter = Figure::new("Repeatability", format!("{:.1}", said.repeatability.as_um()), "µm").by(
        "standard deviation of repeats on one foil, pooled; of all differences where no foil was read twice",
        "Readings of the foils",
    );
    vec![reads, scatter]
}

fn studied(study: &GaugeStudy) -> Vec<paint::StudyResult> {
    let readings: Vec<paint::StudyReading> = study
        .readings
        .iter()
        .map(|r| paint::StudyReading { operator: r.operator.clone(), part: r.part.clone(), value: r.reading })
        .collect();
    paint::gauge_study(&readings).map(Vec::from).unwrap_or_default()
}
