//! Survey: findings and readings, panel by panel, and what they mean for the clear coat.

use crate::engine;
use crate::engine::paint::ClearContour;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of};
use job::{FindingKind, FindingNo, Job, JobId, Material, Moment, PanelId, Reading};
use paint::{CorrectionPlan, PanelEstimate};
use units::{Area, Length, Thickness};

/// A reading: its place on the panel where that is known, the total, and before or after correction.
pub type Spot = (Option<(f64, f64)>, Thickness, Moment);

/// One panel in the survey.
#[derive(Clone, Debug)]
pub struct PanelSurvey {
    /// Its id.
    pub id: String,
    /// Its name.
    pub title: String,
    /// Its area.
    pub area: Area,
    /// Width of its drawing.
    pub width: Length,
    /// Height of its drawing.
    pub height: Length,
    /// Whether a gauge can read it.
    pub readable: bool,
    /// Places and values of the readings: u, v, total; the place may be unknown.
    pub readings: Vec<Spot>,
    /// Which of the readings do not go with the rest.
    pub outliers: Vec<usize>,
    /// What the readings before correction say.
    pub estimate: Option<PanelEstimate>,
    /// The same in figures for reading: total, clear coat, least clear coat, removable.
    pub figures: Vec<Figure>,
    /// What to mind, loudly: words and what to do.
    pub warnings: Vec<(String, String)>,
    /// Findings on it.
    pub findings: Vec<FindingNo>,
    /// What may be corrected, under the order as it stands.
    pub correction: Option<CorrectionPlan>,
    /// The same for marks on its edges and body lines, when its face is marked too.
    pub edge_correction: Option<CorrectionPlan>,
    /// Contours of the clear coat before correction, the highest level first; empty without enough placed readings.
    pub contours: Vec<ClearContour>,
    /// Test spots on it with what they say; `None` when the method is no longer in the shop's table.
    pub test_spots: Vec<(usize, job::TestSpot, Option<paint::TestSpot>)>,
    /// What correction took, as far as it is known.
    pub taken: Option<Figure>,
}

/// The survey.
#[derive(Clone, Debug, Default)]
pub struct SurveyView {
    /// Painted panels of this body, in the order of the drawing.
    pub panels: Vec<PanelSurvey>,
    /// Why the survey cannot be closed yet: what is missing and what to do; empty when it can.
    pub missing: Vec<String>,
    /// Readings that name panels which this body does not have.
    pub unknown: Vec<String>,
    /// Methods that a test spot can be made with.
    pub methods: Vec<TestedMethod>,
}

/// A method as a test spot sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct TestedMethod {
    /// Its name.
    pub name: String,
    /// What a pass of it is expected to take.
    pub removal: Thickness,
    /// Places to be read before and after one pass so that this is told from the gauge's scatter.
    pub pairs: usize,
}

/// Usual total of paint where nothing was read yet. Common practice, no source.
const USUAL_TOTAL: Thickness = Thickness::um(120.0);

/// Mean total of the panels that were read.
fn mean_total(panels: &[PanelSurvey]) -> Thickness {
    let means: Vec<Thickness> =
        panels.iter().filter_map(|p| Some(p.estimate.as_ref()?.total.as_ref()?.mean)).collect();
    if means.is_empty() { USUAL_TOTAL } else { means.iter().copied().sum::<Thickness>() / means.len() as f64 }
}

/// Readings on a panel without which the survey is not closed. Common practice, no source.
const LEAST_READINGS: usize = 3;

/// Panels smaller than this may stay without readings.
const SMALL: Area = Area::m2(0.2);

impl Studio {
    /// The survey of a job.
    ///
    /// # Errors
    /// When there is no such job or the shop's settings cannot be used.
    pub fn survey_view(&self, id: &JobId) -> Result<SurveyView, Refusal> {
        let entry = self.job(id)?;
        let job = &*entry.job;
        let shop = self.shop()?;
        let history = self.history(&job.car.plate)?;
        let survey = engine::paint::survey(self, job, &history, &shop, Moment::Before)?;
        let settings = engine::paint::settings(&shop);
        let body = body_of(job);
        let spots = engine::paint::test_spots(job, &shop);
        let removed = super::handover::removal_map(self, job, &history, &shop)?;
        let panels: Vec<PanelSurvey> = engine::paint::painted(body)
            .map(|panel| {
                let estimate = survey.panel(panel.id).cloned();
                let correction = estimate
                    .as_ref()
                    .and_then(|e| engine::paint::correction(self, job, &shop, job.order.finish, e, panel));
                let on_panel = |r: &&Reading| r.place.panel.as_str() == panel.id;
                PanelSurvey {
                    id: panel.id.to_owned(),
                    title: panel.title.to_owned(),
                    area: panel.area,
                    width: panel.width,
                    height: panel.height,
                    readable: readable(job, body, panel),
                    readings: job
                        .readings
                        .iter()
                        .filter(on_panel)
                        .map(|r| (r.place.u.zip(r.place.v), r.total, r.moment))
                        .collect(),
                    outliers: outliers(job, panel.id, estimate.as_ref()),
                    figures: estimate
                        .as_ref()
                        .map(|e| engine::paint::figures(e, &settings))
                        .unwrap_or_default(),
                    warnings: estimate.as_ref().map(warnings).unwrap_or_default(),
                    findings: job
                        .standing()
                        .filter(|f| f.place.panel.as_str() == panel.id)
                        .map(|f| f.no)
                        .collect(),
                    edge_correction: estimate.as_ref().and_then(|e| {
                        engine::paint::edge_correction(self, job, &shop, job.order.finish, e, panel)
                    }),
                    correction,
                    contours: engine::paint::map(self, job, &history, &shop, panel.id, Moment::Before)
                        .map(|map| engine::paint::contours(&map, settings.floor))
                        .unwrap_or_default(),
                    test_spots: spots
                        .iter()
                        .enumerate()
                        .filter(|(_, (spot, _))| spot.panel.as_str() == panel.id)
                        .map(|(index, (spot, said))| (index, spot.clone(), said.clone()))
                        .collect(),
                    taken: removed.get(&PanelId::from(panel.id)).map(super::handover::Removed::figure),
                    estimate,
                }
            })
            .collect();
        let missing = missing(job, &panels);
        let level = mean_total(&panels);
        let methods = engine::paint::pairs_needed(self, job, &shop, level)
            .into_iter()
            .map(|(name, removal, pairs)| TestedMethod { name, removal, pairs })
            .collect();
        Ok(SurveyView { panels, missing, unknown: survey.unknown_panels.clone(), methods })
    }
}

/// Outliers by their place among all readings of the panel; the estimate counts them among the readings before correction.
fn outliers(job: &Job, panel: &str, estimate: Option<&PanelEstimate>) -> Vec<usize> {
    let named = |i: &usize| estimate.is_some_and(|e| e.outliers.iter().any(|o| o.reading == *i));
    let mut before = 0;
    let mut on_panel = 0;
    let mut found = Vec::new();
    for reading in &job.readings {
        let here = reading.place.panel.as_str() == panel;
        if reading.moment == Moment::Before {
            if here && named(&before) {
                found.push(on_panel);
            }
            before += 1;
        }
        on_panel += usize::from(here);
    }
    found
}

/// Whether a gauge can read a panel's paint.
fn readable(job: &Job, body: &body::Body, panel: &body::Panel) -> bool {
    matches!(engine::paint::material(job, body, &panel.id.into()), Material::Steel | Material::Aluminum)
}

/// What to mind; that no reading is possible on plastic is said only beside its figures, not again for every panel.
fn warnings(estimate: &PanelEstimate) -> Vec<(String, String)> {
    estimate.flags.iter().map(|f| (f.words().to_owned(), f.hint().to_owned())).collect()
}

fn missing(job: &Job, panels: &[PanelSurvey]) -> Vec<String> {
    let mut missing = Vec::new();
    if job.arrival.as_ref().is_none_or(|a| a.signed.is_none()) {
        missing.push("The arrival record is not signed: sign it first.".to_owned());
    }
    let filmed = |id: &str| {
        job.standing().any(|f| f.kind == FindingKind::OldFilm && f.place.panel.as_str() == id)
            || job.order.remove_film.iter().any(|p| p.as_str() == id)
    };
    let bare: Vec<&str> = panels
        .iter()
        .filter(|p| p.readable && p.area >= SMALL && !filmed(&p.id))
        .filter(|p| p.readings.iter().filter(|(_, _, m)| *m == Moment::Before).count() < LEAST_READINGS)
        .map(|p| p.title.as_str())
        .collect();
    if !bare.is_empty() {
        missing.push(format!(
            "Measure at least {LEAST_READINGS} spots on: {}. If a panel is plastic or composite, say so under the car.",
            bare.join(", ")
        ));
    }
    missing
}
