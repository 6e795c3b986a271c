//! What the shop's own history says of times, removal and damage, beside what was believed before.

use crate::engine::{self, learn};
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use job::FilmZone;

/// A kind of step.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeRow {
    /// The step.
    pub title: String,
    /// Its time in the library: whatever it is done on, each square meter of that, each item of it.
    pub library: (units::Duration, units::Duration, units::Duration),
    /// Finished steps that were learnt from.
    pub finished: usize,
    /// Of these, so far out that they were drawn in.
    pub outliers: usize,
    /// How many times the library's time it takes here.
    pub factor: f64,
    /// 95 % bounds of that.
    pub bounds: (f64, f64),
    /// Log standard deviation of one step around its rate.
    pub spread: f64,
}

/// A correction method.
#[derive(Clone, Debug, PartialEq)]
pub struct RemovalRow {
    /// The method.
    pub name: String,
    /// Removal per pass in the table and on paint that was not tried yet, µm: mean and standard deviation.
    pub before: (f64, f64),
    /// The same with test spots.
    pub now: (f64, f64),
    /// Test spots.
    pub spots: usize,
}

/// A film zone.
#[derive(Clone, Debug, PartialEq)]
pub struct DamageRow {
    /// The zone.
    pub zone: FilmZone,
    /// Rate believed, per m² and year.
    pub before: f64,
    /// Rate now.
    pub now: f64,
    /// 95 % bounds of it.
    pub bounds: Option<(f64, f64)>,
    /// The shop's claims.
    pub claims: u32,
    /// The shop's film, m²·years.
    pub exposure: f64,
}

/// All that was learnt.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LearnedView {
    /// Times by kind of step: those with finished steps first.
    pub times: Vec<TimeRow>,
    /// Finished steps that were not timed.
    pub left_out: usize,
    /// Finished steps that were timed.
    pub timed: usize,
    /// Pace, mishaps: each explained.
    pub figures: Vec<Figure>,
    /// Removal by method.
    pub removal: Vec<RemovalRow>,
    /// Damage by zone.
    pub damage: Vec<DamageRow>,
}

impl Studio {
    /// What was learnt, as prices rest on it now.
    ///
    /// # Errors
    /// When the step library is broken or settings make no sense.
    pub fn learned_view(&self) -> Result<LearnedView, Refusal> {
        let shop = self.shop()?;
        let library = engine::route::library(self, &shop)?;
        let learn::Times { model, timed, left_out } = learn::times(self, &shop)?;
        let evidence = model.evidence();
        let mut times: Vec<TimeRow> = library
            .steps()
            .iter()
            .filter_map(|step| {
                let known = evidence.get(&step.id)?;
                let (low, high) = model.interval(&step.id, 0.95)?;
                Some(TimeRow {
                    title: step.title.clone(),
                    library: (step.fixed, step.per_m2, step.per_item),
                    finished: known.finished,
                    outliers: known.outliers,
                    factor: known.learned.as_minutes(),
                    bounds: (low.as_minutes(), high.as_minutes()),
                    spread: known.learned_spread,
                })
            })
            .collect();
        times.sort_by_key(|t| std::cmp::Reverse(t.finished));
        let (pace, deviation) = model.pace();
        let mut figures = vec![
            Figure::new("Pace of the shop", format!("{pace:.2}"), "× the library")
                .plus_minus(format!("{:.2}", pace * 1.96 * deviation))
                .by(
                    "log-normal; every kind of step with finished steps tells it, weighed by how sure it is",
                    "Finished steps of this shop; before any: settings, common practice, no source",
                )
                .from("Finished steps learnt from", used(timed, shop.settings.estimates.learn_times))
                .from(
                    "Finished but not timed (under a fifth or over five times the planned time)",
                    left_out.to_string(),
                ),
        ];
        if let Some(mishaps) = model.mishaps() {
            figures.push(
                Figure::new("Something goes wrong", format!("{:.1}", mishaps.chance * 100.0), "% of steps")
                    .by(
                        "Beta prior and finished steps, each a mishap by its chance (expectation and maximization)",
                        "Finished steps of this shop; prior: common practice, no source",
                    )
                    .from("Such a step takes", format!("{:.1} times as long", mishaps.times))
                    .from("Finished steps that look like one", format!("{:.1}", model.suspected())),
            );
        }
        let removal = learn::methods(self, &shop, None)?
            .into_iter()
            .zip(engine::paint::methods(&shop))
            .map(|((now, spots), before)| {
                let of =
                    |m: &paint::Method| (m.removal_per_pass.mean.as_um(), m.removal_per_pass.unsure.as_um());
                RemovalRow { name: before.name.clone(), before: of(&before), now: of(&now), spots }
            })
            .collect();
        let damage = learn::damage(self, &shop)?
            .into_iter()
            .map(|(zone, d)| DamageRow {
                zone,
                before: d.prior.per_m2_year(),
                now: d.now.per_m2_year(),
                bounds: d.now.interval(0.95),
                claims: d.claims,
                exposure: d.exposure.as_m2_years(),
            })
            .collect();
        Ok(LearnedView { times, left_out, timed, figures, removal, damage })
    }
}

fn used(timed: usize, on: bool) -> String {
    if on { timed.to_string() } else { format!("none of {timed}: switched off") }
}
