//! What the shop's own history says of times, removal and damage, beside what was believed before.

use crate::engine::sides::{zone_at, zone_shares};
use crate::refusal::Refusal;
use crate::studio::{JobEntry, Studio, body_of};
use ::price::{AreaYears, Belief, DamageRate, Finished, MishapPrior, PriceError, TimeModel, TimePrior};
use jiff::Timestamp;
use job::{CarHistory, FilmZone, Job, Shop, StepState};
use std::collections::BTreeMap;
use std::sync::Arc;
use units::{Area, Duration};

/// A finished step whose clock says less than this share of its planned time, or more than its inverse, was not timed: it
/// was tapped afterwards, or its clock was left running. Common practice, no source.
const TIMED: f64 = 0.2;

/// Where the priors of times come from.
const TIMES_SOURCE: &str =
    "Step library and settings: common practice, no source, until the shop's own finished steps say better";

/// Finished steps as the engine learns from them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timed {
    /// Steps that were timed: quantity is the planned minutes.
    pub finished: Vec<Finished>,
    /// Steps that were finished but not timed.
    pub left_out: usize,
}

/// Finished steps of these jobs that the step library still has.
pub fn timed<'a>(jobs: impl IntoIterator<Item = &'a Job>, known: impl Fn(&str) -> bool) -> Timed {
    let mut timed = Timed::default();
    for record in jobs.into_iter().flat_map(|j| j.work.values()).filter(|r| r.state == StepState::Done) {
        let planned = record.planned.work.as_minutes();
        if !known(&record.planned.step) || planned < 1.0 {
            continue;
        }
        // a step that is done runs no more: no moment is needed to close its last stretch
        let took = record.worked(Timestamp::UNIX_EPOCH);
        if !(TIMED..=1.0 / TIMED).contains(&(took.as_minutes() / planned)) {
            timed.left_out += 1;
            continue;
        }
        timed.finished.push(Finished {
            step: record.planned.step.clone(),
            quantity: planned,
            condition: 1.0,
            took,
        });
    }
    timed
}

/// Times of all steps of the library: the library's own, moved by finished steps unless that is switched off.
///
/// # Errors
/// When the step library is broken or settings make no sense.
pub fn times(studio: &Studio, shop: &Shop) -> Result<(Arc<TimeModel>, Timed), Refusal> {
    let library = super::route::library(studio, shop)?;
    let e = &shop.settings.estimates;
    let jobs = studio.jobs()?;
    let seen = timed(jobs.iter().map(|j| &*j.job), |step| library.step(step).is_some());
    // The library's own minutes are the unit, so that a learnt rate is a factor on them.
    let prior = TimePrior::new("planned minute", Duration::minutes(1.0), e.spread, TIMES_SOURCE);
    let priors: BTreeMap<String, TimePrior> =
        library.steps().iter().map(|s| (s.id.clone(), prior.clone())).collect();
    let belief = Belief {
        pace: e.pace,
        mishaps: (e.mishap_share > 0.0).then(|| MishapPrior {
            share: e.mishap_share,
            times: e.mishap_times,
            ..MishapPrior::default()
        }),
    };
    let finished: &[Finished] = if e.learn_times { &seen.finished } else { &[] };
    let inputs = (&priors, finished, &belief);
    let model: Arc<Result<TimeModel, PriceError>> =
        studio.results.get("times", &inputs, || TimeModel::learn_with(&priors, finished, &belief));
    match &*model {
        Ok(model) => Ok((Arc::new(model.clone()), seen)),
        Err(e) => Err(Refusal::invalid(e.to_string(), "Change it under shop, what we learnt.")),
    }
}

/// How often film on a zone is damaged: believed, and with the shop's own claims.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZoneDamage {
    /// The belief.
    pub prior: DamageRate,
    /// What prices rest on now.
    pub now: DamageRate,
    /// The shop's own claims.
    pub claims: u32,
    /// The shop's own film, m²·years.
    pub exposure: AreaYears,
}

/// Damage rates of all zones. Claims count on panels with film of the same job; film counts from the day it was laid
/// until it came off.
///
/// # Errors
/// When the journal cannot be read or a belief makes no sense.
pub fn damage(studio: &Studio, shop: &Shop) -> Result<BTreeMap<FilmZone, ZoneDamage>, Refusal> {
    let now = studio.now();
    let mut own: BTreeMap<FilmZone, (f64, f64)> = BTreeMap::new();
    for entry in studio.jobs()? {
        let history = studio.history(&entry.job.car.plate)?;
        expose(&entry, &history, now, &mut own);
    }
    let wrong = |e: PriceError| Refusal::invalid(e.to_string(), "Change it under shop, what we learnt.");
    FilmZone::ALL
        .into_iter()
        .map(|zone| {
            let e = &shop.settings.estimates;
            let belief = e.zone(zone);
            let prior = DamageRate::prior(
                belief.a_m2_year * belief.worth_m2_years,
                AreaYears::m2_years(belief.worth_m2_years),
            )
            .map_err(wrong)?;
            let (claims, m2_years) = own.get(&zone).copied().unwrap_or_default();
            let (claims, exposure) = (claims.round() as u32, AreaYears::m2_years(m2_years));
            let now = if e.learn_damage { prior.learn(claims, exposure).map_err(wrong)? } else { prior };
            Ok((zone, ZoneDamage { prior, now, claims, exposure }))
        })
        .collect()
}

/// Adds a job's claims and film in use to the zones.
fn expose(entry: &JobEntry, history: &CarHistory, now: Timestamp, own: &mut BTreeMap<FilmZone, (f64, f64)>) {
    let body = body_of(&entry.job);
    let pieces = |panel: &job::PanelId| entry.job.laid.iter().filter(|p| p.panel == *panel).count().max(1);
    for film in history.film.iter().filter(|f| f.job == entry.id) {
        let panel = &film.piece.panel;
        let until = film.off.as_ref().map_or(now, |(day, _)| {
            day.at(12, 0, 0, 0).to_zoned_datetime(jiff::tz::TimeZone::UTC).map_or(now, |z| z.timestamp())
        });
        let days = until.duration_since(film.piece.at).as_secs_f64().max(0.0) / 86_400.0;
        // several pieces on a panel share its area
        let area = body.panel(panel.as_str()).map_or(Area::ZERO, |p| p.area) / pieces(panel) as f64;
        for (zone, share) in zone_shares(body, panel.as_str()) {
            let used = AreaYears::of(area * share, Duration::days(days)).as_m2_years();
            own.entry(zone).or_default().1 += used;
        }
    }
    for claim in &entry.job.claims {
        if !entry.job.laid.iter().any(|p| p.panel == claim.panel) {
            continue;
        }
        // a claim with its spot counts in the zone where it lies; without one, where damage gathers
        let shares = zone_shares(body, claim.panel.as_str());
        let gathers = || shares.into_iter().map(|s| s.0).max_by_key(|zone| rank(*zone));
        let spot = claim.spot.and_then(|[u, v]| zone_at(body, claim.panel.as_str(), u, v));
        if let Some(zone) = spot.or_else(gathers) {
            own.entry(zone).or_default().0 += 1.0;
        }
    }
}

/// Where on a panel of several zones a claim most likely lies.
fn rank(zone: FilmZone) -> u8 {
    match zone {
        FilmZone::Nose => 3,
        FilmZone::BehindWheels => 2,
        FilmZone::Sides => 1,
        FilmZone::Upper => 0,
    }
}

/// What test spots on other cars say of the shop's correction methods.
///
/// # Errors
/// When the journal cannot be read.
pub fn methods(
    studio: &Studio,
    shop: &Shop,
    here: Option<&Job>,
) -> Result<Vec<(::paint::Method, usize)>, Refusal> {
    let table = super::paint::methods(shop);
    let mut seen: BTreeMap<String, Vec<::paint::Spread>> = BTreeMap::new();
    if shop.settings.estimates.learn_removal {
        for entry in studio.jobs()? {
            // a car's own spots speak for themselves
            if here.is_some_and(|j| j.booked == entry.job.booked && j.car.plate == entry.job.car.plate) {
                continue;
            }
            for (spot, said) in super::paint::test_spots(&entry.job, shop) {
                if let Some(measured) = said.and_then(|s| s.measured) {
                    seen.entry(spot.method).or_default().push(measured);
                }
            }
        }
    }
    Ok(table
        .iter()
        .map(|m| {
            let spots = seen.get(&m.name).map_or(&[][..], Vec::as_slice);
            (::paint::from_other_cars(m, spots), spots.len())
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::{PlannedStep, Span, StepNo, StepRecord};

    fn done(no: u32, step: &str, planned: f64, took: f64) -> (StepNo, StepRecord) {
        let at = |minutes: f64| Timestamp::from_second((minutes * 60.0) as i64).unwrap_or_default();
        let record = StepRecord {
            planned: PlannedStep {
                step: step.into(),
                work: Duration::minutes(planned),
                ..Default::default()
            },
            state: StepState::Done,
            spans: vec![Span { from: at(0.0), to: Some(at(took)), by: "Mei".into() }],
            ..Default::default()
        };
        (StepNo(no), record)
    }

    #[test]
    fn steps_tapped_afterwards_or_left_running_teach_nothing() {
        let mut job = Job::default();
        job.work.extend([
            done(1, "wash", 60.0, 75.0),
            done(2, "wash", 60.0, 1.0),
            done(3, "wash", 60.0, 900.0),
            done(4, "gone", 60.0, 60.0),
        ]);
        let mut running = done(5, "wash", 60.0, 60.0);
        running.1.state = StepState::Running;
        job.work.extend([running]);
        let seen = timed([&job], |step| step == "wash");
        assert_eq!((seen.finished.len(), seen.left_out), (1, 2));
        assert_eq!(seen.finished[0].took, Duration::minutes(75.0));
        assert!((seen.finished[0].quantity - 60.0).abs() < 1e-9);
    }
}
