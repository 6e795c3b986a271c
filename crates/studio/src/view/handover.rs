//! Handover: what was done, with proof, and what comes after.

use crate::engine;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of, zone_of};
use crate::view::Caution;
use jiff::{Timestamp, civil::Date};
use job::{
    CarHistory, ChangeState, CoatTarget, Coverage, CutState, Finish, Job, JobId, LaidPiece, Moment, PanelId,
    Removal, Shop, StepRecord, StepState,
};
use paint::{Comparison, PanelEstimate, Spread};
use std::collections::{BTreeMap, BTreeSet};
use units::Thickness;

/// A panel before and after correction.
#[derive(Clone, Debug)]
pub struct CorrectedPanel {
    /// Its id.
    pub id: String,
    /// Its name.
    pub title: String,
    /// Mean total before, and half-width of its 95 % range.
    pub before: Option<(Thickness, Thickness)>,
    /// Mean total after, and half-width of its 95 % range.
    pub after: Option<(Thickness, Thickness)>,
    /// Clear coat taken in this job.
    pub taken: Figure,
    /// Least clear coat that is left.
    pub left: Option<Figure>,
}

/// A lot that was used.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LotRow {
    /// Product or film.
    pub product: String,
    /// Lot or batch.
    pub lot: String,
    /// In which steps or on which panels.
    pub used: String,
}

/// Advice and dates after the handover.
#[derive(Clone, Debug, PartialEq)]
pub struct CareRow {
    /// What.
    pub what: String,
    /// From when.
    pub due: Option<Date>,
    /// How and why.
    pub advice: String,
}

/// The handover sheet.
#[derive(Clone, Debug, Default)]
pub struct HandoverView {
    /// Panels before and after.
    pub panels: Vec<CorrectedPanel>,
    /// Film on the car.
    pub film: Vec<LaidPiece>,
    /// Lots used.
    pub lots: Vec<LotRow>,
    /// Steps done.
    pub done: Vec<StepRecord>,
    /// Advice and next visits.
    pub care: Vec<CareRow>,
    /// Cautions for the customer.
    pub cautions: Vec<Caution>,
    /// What stands in the way of handing over; empty when nothing does.
    pub missing: Vec<String>,
    /// What the final check goes through.
    pub checks: Vec<String>,
    /// Warranty text of the shop.
    pub warranty: String,
}

impl Studio {
    /// The handover sheet.
    ///
    /// # Errors
    /// When there is no such job or the step library is broken.
    pub fn handover_view(&self, id: &JobId) -> Result<HandoverView, Refusal> {
        let entry = self.job(id)?;
        let job = &*entry.job;
        let shop = self.shop()?;
        let history = self.history(&job.car.plate)?;
        let done: Vec<StepRecord> =
            job.work.values().filter(|r| r.state == StepState::Done).cloned().collect();
        let panels = corrected(self, job, &history, &shop)?;
        let now = job.handover.as_ref().map_or_else(|| self.now(), |h| h.at);
        Ok(HandoverView {
            panels,
            film: job.laid.clone(),
            lots: lots(job),
            care: care(job, &shop, now)?,
            cautions: customer_cautions(job),
            missing: missing(job),
            checks: checks(job),
            warranty: shop.settings.warranty.clone(),
            done,
        })
    }
}

/// Panels that a finished step took clear coat from, with passes by step.
fn worked(studio: &Studio, job: &Job, shop: &Shop) -> Result<BTreeSet<PanelId>, Refusal> {
    let library = engine::route::library(studio, shop)?;
    Ok(job
        .work
        .values()
        .filter(|r| r.state == StepState::Done)
        .filter(|r| library.step(&r.planned.step).is_some_and(|s| s.removes_clear_coat))
        .flat_map(|r| r.planned.panels.iter().cloned())
        .collect())
}

fn corrected(
    studio: &Studio,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
) -> Result<Vec<CorrectedPanel>, Refusal> {
    let before = engine::paint::survey(studio, job, history, shop, Moment::Before)?;
    let after = engine::paint::survey(studio, job, history, shop, Moment::After)?;
    let removed = removal_map(studio, job, history, shop)?;
    let mut rows = Vec::new();
    for panel in engine::paint::painted(body_of(job)) {
        let id: PanelId = panel.id.into();
        let Some(removed) = removed.get(&id) else { continue };
        let taken = removed.booked.mean;
        let left = before.panel(panel.id).map(|e| {
            let left = e.least_clear.lower - taken;
            let figure = Figure::new("Least clear coat left", format!("{:.0}", left.as_um()), "µm")
                .by("lower bound before − clear coat taken", "Survey before correction")
                .from("Lower bound before", format!("{:.1} µm", e.least_clear.lower.as_um()));
            if left < shop.settings.floor { figure.warn("below the floor") } else { figure }
        });
        rows.push(CorrectedPanel {
            id: panel.id.to_owned(),
            title: panel.title.to_owned(),
            before: mean(before.panel(panel.id)),
            after: mean(after.panel(panel.id)),
            taken: removed.figure(),
            left,
        });
    }
    Ok(rows)
}

fn mean(estimate: Option<&PanelEstimate>) -> Option<(Thickness, Thickness)> {
    let total = estimate?.total.as_ref()?;
    let half = total.interval.map_or(Thickness::ZERO, |i| (i.high - i.low) / 2.0);
    Some((total.mean, half))
}

/// Clear coat taken from a panel in this job.
pub(crate) struct Removed {
    /// What goes into the car's ledger.
    pub booked: Spread,
    /// Spots that were read before and after; fewer than two: the means of the panel were compared, or nothing.
    comparison: Comparison,
    /// What the passes were expected to take.
    planned: Option<Spread>,
    /// Whether readings after correction stand behind it.
    pub measured: bool,
}

impl Removed {
    /// What was taken, with the way it was found.
    pub fn figure(&self) -> Figure {
        let spread = |s: Spread| format!("{:.1} ± {:.1} µm", s.mean.as_um(), 1.96 * s.sd.as_um());
        let figure = Figure::new("Clear coat taken", format!("{:.1}", self.booked.mean.as_um()), "µm")
            .plus_minus(format!("{:.1}", 1.96 * self.booked.sd.as_um()));
        let paired = self.comparison.measured;
        let mut figure = match (paired, self.measured) {
            (Some(paired), _) => figure
                .by(
                    "mean of the differences, spot by spot, weighed with what the passes were expected to take by their certainty",
                    "Paired t interval (Student 1908); readings before and after correction",
                )
                .from("Spots read before and after", self.comparison.spots.to_string())
                .from("Measured", spread(paired)),
            (None, true) => figure.by(
                "mean before − mean after; ± from both spreads: fewer than two spots were read both times",
                "Readings before and after correction",
            ),
            (None, false) => figure
                .by("expected removal of the passes done", "Correction plan: not measured after")
                .warn("reckoned, not measured"),
        };
        if let Some(planned) = self.planned {
            figure = figure.from("Expected of the passes", spread(planned));
        }
        if let Some(p) = self.comparison.p {
            figure = figure
                .from("Chance of such differences had nothing been taken", format!("{:.1} %", 100.0 * p));
        }
        figure
    }
}

/// Clear coat taken in this job by panel.
pub(crate) fn removal_map(
    studio: &Studio,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
) -> Result<BTreeMap<PanelId, Removed>, Refusal> {
    let before = engine::paint::survey(studio, job, history, shop, Moment::Before)?;
    let after = engine::paint::survey(studio, job, history, shop, Moment::After)?;
    let read = |moment| engine::paint::readings(job, shop, moment);
    let (read_before, read_after) = (read(Moment::Before), read(Moment::After));
    let body = body_of(job);
    let mut map = BTreeMap::new();
    for id in worked(studio, job, shop)? {
        let Some(panel) = body.panel(id.as_str()) else { continue };
        let finish = if job.order.finish == Finish::Clean { Finish::Gloss } else { job.order.finish };
        let planned = before
            .panel(panel.id)
            .and_then(|e| engine::paint::correction(studio, job, shop, finish, e, panel))
            .and_then(|plan| engine::paint::planned_removal(&plan));
        let comparison = ::paint::compare(panel.id, &read_before, &read_after, planned);
        let paired = comparison.measured.is_some();
        let unpaired = || means_compared(before.panel(panel.id)?, after.panel(panel.id)?);
        let booked = if paired { Some(comparison.booked) } else { unpaired().or(planned) };
        let measured = paired || unpaired().is_some();
        if let Some(booked) = booked.filter(|b| measured || b.mean > Thickness::ZERO) {
            map.insert(id, Removed { booked, comparison, planned, measured });
        }
    }
    Ok(map)
}

/// Difference of two means that were not read at the same spots.
fn means_compared(before: &PanelEstimate, after: &PanelEstimate) -> Option<Spread> {
    let read = |e: &PanelEstimate| {
        let total = e.total.as_ref()?;
        Some((total.mean, total.sd?.as_um().powi(2) / e.n as f64))
    };
    let ((m0, v0), (m1, v1)) = (read(before)?, read(after)?);
    Some(Spread { mean: (m0 - m1).max(Thickness::ZERO), sd: Thickness::um((v0 + v1).sqrt()) })
}

/// Clear coat taken in this job, for the car's ledger.
pub(crate) fn removals(
    studio: &Studio,
    id: &JobId,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
    now: Timestamp,
) -> Result<Vec<(PanelId, Removal)>, Refusal> {
    let on = now.to_zoned_datetime(zone_of(shop)).date();
    let map = removal_map(studio, job, history, shop)?;
    let removal = |r: Removed| Removal {
        job: id.clone(),
        on,
        taken: r.booked.mean,
        sd: r.booked.sd,
        measured: r.measured,
    };
    Ok(map.into_iter().map(|(panel, removed)| (panel, removal(removed))).collect())
}

fn lots(job: &Job) -> Vec<LotRow> {
    let mut rows: BTreeMap<(String, String), BTreeSet<String>> = BTreeMap::new();
    for record in job.work.values() {
        for used in &record.lots {
            let key = (used.product.clone(), used.lot.clone());
            rows.entry(key).or_default().insert(record.planned.title.clone());
        }
    }
    for piece in &job.laid {
        let key = (format!("Film from {}", piece.roll), piece.lot.clone());
        rows.entry(key).or_default().insert(piece.panel.title());
    }
    rows.into_iter()
        .map(|((product, lot), used)| LotRow {
            product,
            lot,
            used: used.into_iter().collect::<Vec<_>>().join(", "),
        })
        .collect()
}

/// Advice for the customer. Common practice, no source; the makers' sheets come first.
fn care(job: &Job, shop: &Shop, now: Timestamp) -> Result<Vec<CareRow>, Refusal> {
    let mut rows = Vec::new();
    let mut advise = |what: &str, advice: &str| {
        rows.push(CareRow { what: what.to_owned(), due: None, advice: advice.to_owned() });
    };
    if !job.laid.is_empty() || job.order.film != Coverage::None {
        advise(
            "First week",
            "No washing, no pressure washer on edges. Small water pockets dry by themselves; do not press on them.",
        );
        advise(
            "Washing film",
            "By hand, with two buckets and a soft mitt. Keep the pressure washer a forearm's length from edges and seams.",
        );
    }
    if job
        .order
        .coatings
        .iter()
        .any(|c| matches!(c, CoatTarget::Paint | CoatTarget::Film | CoatTarget::Wheels | CoatTarget::Glass))
    {
        advise("Coating", "No water for a day, no shampoo for a week. Take bird lime off the same day.");
    }
    if job.order.coatings.contains(&CoatTarget::Leather) {
        advise(
            "Leather",
            "Wipe with a soft damp cloth. The coating wears on the driver's seat first and is renewed sooner than those outside.",
        );
    }
    advise(
        "Any time",
        "No automatic brushes. Polishing takes clear coat that never comes back: ask first, we keep the ledger.",
    );
    let visits =
        if job.handover.is_some() { job.visits.clone() } else { engine::route::visits(job, shop, now)? };
    rows.extend(visits.into_iter().map(|v| CareRow {
        what: v.what,
        due: Some(v.due),
        advice: String::new(),
    }));
    Ok(rows)
}

fn customer_cautions(job: &Job) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if job.laid.iter().any(|p| p.panel.as_str().ends_with("bumper")) {
        cautions.push(Caution {
            title: "Driver assistance".into(),
            text: "Film lies on a bumper. If a warning of a sensor or radar lights up, have it looked at before relying on it.".into(),
        });
    }
    if job.order.coatings.contains(&CoatTarget::Wheels) || job.order.finish > Finish::Clean {
        cautions.push(Caution {
            title: "Brakes".into(),
            text: "After washing, brake gently a few times before you rely on full braking.".into(),
        });
    }
    cautions
}

fn missing(job: &Job) -> Vec<String> {
    let mut missing = Vec::new();
    if job.handover.is_some() {
        return missing;
    }
    if job.acceptance.is_none() {
        missing.push("The customer has not agreed to an offer.".to_owned());
    }
    if let Some(change) = job.open_change() {
        missing.push(format!("Change order {} waits for the customer.", change.no));
    }
    if !job.route_follows_consent() {
        missing.push("The route was not set after the customer agreed.".to_owned());
    }
    let open: Vec<String> = job.open_steps().map(|s| s.title.clone()).collect();
    match open.as_slice() {
        [] => {}
        [one] => missing.push(format!("A step is open: {one}.")),
        [first, ..] => missing.push(format!("{} steps are open, the next is: {first}.", open.len())),
    }
    if job.cut.as_ref().is_some_and(|c| c.state == CutState::Reserved) {
        missing.push("Film is set aside but not booked as cut.".to_owned());
    }
    missing
}

fn checks(job: &Job) -> Vec<String> {
    let mut checks = vec![
        "Walked round under light with the arrival record in hand".to_owned(),
        "Keys and belongings given back".to_owned(),
        "Customer shown what was done and what was left".to_owned(),
    ];
    if !job.laid.is_empty() {
        checks.push("Film edges lie flat, no dust, no fingers".to_owned());
    }
    if job.changes.iter().any(|c| matches!(c.state, ChangeState::Agreed(_))) {
        checks.push("Agreed changes explained on the bill".to_owned());
    }
    checks.push("Brakes tested after the last water".to_owned());
    checks
}
