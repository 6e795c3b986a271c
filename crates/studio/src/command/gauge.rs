//! The shop's gauges: calibration foils and gauge studies.

use crate::refusal::Refusal;
use crate::studio::{Stamp, Studio};
use job::{FoilReading, GaugeCheck, GaugeStudy, ShopEvent, StudyReading};
use paint::{Foil, Rejected};

impl Studio {
    /// Keeps foils read with a gauge, from CSV text; from now on its readings are taken without the offset they show.
    ///
    /// # Errors
    /// When a row cannot be read, fewer than three foils were read, or the gauge has no name.
    pub fn check_gauge(&self, stamp: &Stamp, gauge: &str, csv: &str) -> Result<(), Refusal> {
        let gauge = named(gauge)?;
        let (foils, rejected) = paint::parse_foils(csv);
        whole(&rejected)?;
        paint::check_gauge(&foils).map_err(|e| {
            Refusal::invalid(
                format!("The foils cannot be used: {e}"),
                "Read at least three foils, better each of them twice.",
            )
        })?;
        let foil = |f: &Foil| FoilReading { nominal: f.nominal, read: f.read };
        let foils: Vec<FoilReading> = foils.iter().map(foil).collect();
        self.decide_shop(stamp, |_, now| {
            let check =
                GaugeCheck { gauge: gauge.clone(), at: now, by: stamp.by.clone(), foils: foils.clone() };
            Ok(vec![ShopEvent::GaugeChecked { check }])
        })
    }

    /// Keeps a gauge study, from CSV text.
    ///
    /// # Errors
    /// When a row cannot be read, the study is not complete, or the gauge has no name.
    pub fn study_gauge(&self, stamp: &Stamp, gauge: &str, csv: &str) -> Result<(), Refusal> {
        let gauge = named(gauge)?;
        let (readings, rejected) = paint::parse_study(csv);
        whole(&rejected)?;
        paint::gauge_study(&readings).map_err(|e| {
            Refusal::invalid(
                format!("The study cannot be evaluated: {e}"),
                "Everybody reads every spot equally often: at least two people, two spots, twice.",
            )
        })?;
        let readings: Vec<StudyReading> = readings
            .into_iter()
            .map(|r| StudyReading { operator: r.operator, part: r.part, reading: r.value })
            .collect();
        self.decide_shop(stamp, |_, now| {
            let (by, readings) = (stamp.by.clone(), readings.clone());
            let study = GaugeStudy { gauge: gauge.clone(), at: now, by, readings };
            Ok(vec![ShopEvent::GaugeStudied { study }])
        })
    }
}

fn named(gauge: &str) -> Result<String, Refusal> {
    match gauge.trim() {
        "" => Err(Refusal::invalid("The gauge has no name", "Write the name that its readings carry.")),
        name => Ok(name.to_owned()),
    }
}

/// A calibration with rows left out would be another one: every row must be readable.
fn whole(rejected: &[Rejected]) -> Result<(), Refusal> {
    match rejected.first() {
        None => Ok(()),
        Some(first) => Err(Refusal::invalid(
            format!("Line {}: {}", first.line, first.reason),
            "Mend the line and send the table again.",
        )),
    }
}
