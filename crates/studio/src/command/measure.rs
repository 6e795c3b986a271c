//! Readings, and closing the survey.

use super::book::{known_panel, signer, still_open};
use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Before, Stamp, Studio};
use body::Style;
use job::{Job, JobEvent, JobId, Material, Moment, Place, Reading, Signature, TestSpot};
use paint::{Defaults, Rejected};
use units::Thickness;

/// What came of a file of readings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadingsAnswer {
    /// Rows taken in.
    pub kept: usize,
    /// Rows left out, with line and reason.
    pub rejected: Vec<Rejected>,
}

impl Studio {
    /// Takes readings in from CSV text. Bad rows are named by line and left out, the rest is kept.
    ///
    /// # Errors
    /// When nothing in it can be used.
    pub fn measure_csv(
        &self,
        id: &JobId,
        stamp: &Stamp,
        csv: &str,
        moment: Moment,
    ) -> Result<ReadingsAnswer, Refusal> {
        let entry = self.job(id)?;
        let (readings, rejected) = read_csv(&entry.job, csv, moment);
        if readings.is_empty() {
            let first =
                rejected.first().map(|r| format!(" Line {}: {}", r.line, r.reason)).unwrap_or_default();
            return Err(Refusal::invalid(
                format!("No reading can be used.{first}"),
                "The first line names the columns: panel, reading_um (or reading_mil), and u, v where known.",
            ));
        }
        self.measure(id, stamp, &readings)?;
        Ok(ReadingsAnswer { kept: readings.len(), rejected })
    }

    /// Takes readings in.
    ///
    /// # Errors
    /// When one of them names an unknown panel or is out of range.
    pub fn measure(&self, id: &JobId, stamp: &Stamp, readings: &[Reading]) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            for reading in readings {
                super::finding::check_place(job, &reading.place)?;
                if !(reading.total.as_um() > 0.0 && reading.total.as_um() <= 5000.0) {
                    return Err(Refusal::invalid(
                        format!("{} µm is no thickness of paint", reading.total.as_um()),
                        "Check unit and decimal mark.",
                    )
                    .at(reading.place.panel.title()));
                }
            }
            Ok(JobEvent::Measured { readings: readings.to_vec() }.into())
        })
    }

    /// Takes back all readings of a panel, to read it again. They stay in the record.
    ///
    /// # Errors
    /// When there are none, or no reason is given.
    pub fn withdraw_readings(
        &self,
        id: &JobId,
        stamp: &Stamp,
        place: &Place,
        moment: Moment,
        why: &str,
    ) -> Result<u64, Refusal> {
        if why.trim().is_empty() {
            return Err(Refusal::invalid("No reason is given", "Say why the readings are taken back."));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            if !job.readings_at(moment).any(|r| r.place.panel == place.panel) {
                return Err(Refusal::not_found(format!("{} has no readings", place.panel.title()), ""));
            }
            let why = why.trim().to_owned();
            Ok(JobEvent::ReadingsWithdrawn { place: place.clone(), moment, why }.into())
        })
    }

    /// Keeps a test spot: what a method took on a small area of this car, read before and after.
    ///
    /// # Errors
    /// When panel or method are unknown, no pass was made, or a reading is out of range.
    pub fn test_spot(&self, id: &JobId, stamp: &Stamp, spot: &TestSpot) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, shop, now, .. }| {
            still_open(job)?;
            let style = Style::from_name(&job.car.body).unwrap_or(Style::Saloon);
            known_panel(style, &spot.panel)?;
            let methods = engine::paint::methods(shop);
            if !methods.iter().any(|m| m.name == spot.method) {
                let known: Vec<&str> = methods.iter().map(|m| m.name.as_str()).collect();
                return Err(Refusal::not_found(
                    format!("There is no method '{}'", spot.method),
                    format!("Use one of: {}.", known.join(", ")),
                ));
            }
            if !(1..=20).contains(&spot.passes) {
                return Err(Refusal::invalid("A test spot has 1 to 20 passes", "Say how many were made."));
            }
            if spot.pairs.len() < 2 {
                return Err(Refusal::invalid(
                    "Fewer than two places were read before and after",
                    "Read at least two places, each before and after: one line for each, such as 121 119.5.",
                ));
            }
            let sound = |t: Thickness| t.as_um() > 0.0 && t.as_um() <= 5000.0;
            if let Some(pair) = spot.pairs.iter().find(|p| !sound(p.before) || !sound(p.after)) {
                return Err(Refusal::invalid(
                    format!("{} and {} µm are no readings of paint", pair.before.as_um(), pair.after.as_um()),
                    "Check unit and decimal mark.",
                ));
            }
            let spot = TestSpot { at: now, by: stamp.by.clone(), ..spot.clone() };
            Ok(JobEvent::TestSpotted { spot }.into())
        })
    }

    /// Takes a test spot back. It stays in the record.
    ///
    /// # Errors
    /// When there is none such, or no reason is given.
    pub fn withdraw_test_spot(
        &self,
        id: &JobId,
        stamp: &Stamp,
        index: usize,
        why: &str,
    ) -> Result<u64, Refusal> {
        let why = why.trim();
        if why.is_empty() {
            return Err(Refusal::invalid("No reason is given", "Say why the test spot is taken back."));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            if index >= job.test_spots.len() {
                return Err(Refusal::not_found("There is no such test spot", "Open the page again."));
            }
            Ok(JobEvent::TestSpotWithdrawn { index, why: why.to_owned() }.into())
        })
    }

    /// Closes the survey: what was found and read stands as the ground of the offer.
    ///
    /// # Errors
    /// When the arrival is not signed, a readable panel has too few readings, or no name is given.
    pub fn close_survey(&self, id: &JobId, stamp: &Stamp, name: &str) -> Result<u64, Refusal> {
        let name = signer(name)?;
        let missing = self.survey_view(id)?.missing;
        if !missing.is_empty() {
            return Err(Refusal::not_yet("The survey cannot be closed yet", missing.join(" ")));
        }
        self.decide(id, stamp, |Before { now, .. }| {
            Ok(JobEvent::SurveyClosed { signed: Signature { name: name.clone(), at: now } }.into())
        })
    }
}

/// Reads CSV text for a job: rows with unknown panels are left out too, by line.
pub(crate) fn read_csv(job: &Job, csv: &str, moment: Moment) -> (Vec<Reading>, Vec<Rejected>) {
    let imported = paint::parse_csv(csv, &Defaults::default());
    let style = Style::from_name(&job.car.body).unwrap_or(Style::Saloon);
    let mut rejected = imported.rejected;
    let mut kept = Vec::new();
    for (reading, line) in imported.readings.iter().zip(imported.lines) {
        match known_panel(style, &reading.panel.as_str().into()) {
            Ok(()) => kept.push(engine::paint::reading_back(reading, moment)),
            Err(refusal) => rejected.push(Rejected { line, reason: refusal.to_string() }),
        }
    }
    rejected.sort_by_key(|r| r.line);
    (kept, rejected)
}

/// What the paint engine calls the material.
pub(crate) fn substrate(material: Material) -> paint::Substrate {
    match material {
        Material::Steel => paint::Substrate::Steel,
        Material::Aluminum => paint::Substrate::Aluminum,
        Material::Plastic => paint::Substrate::Plastic,
        Material::Composite => paint::Substrate::Composite,
        Material::Glass => paint::Substrate::Unknown,
    }
}
