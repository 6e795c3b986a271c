//! What the shop's own history says of times, removal and damage, beside what was believed before.

use crate::engine::sides::{zone_at, zone_shares};
use crate::refusal::Refusal;
use crate::studio::{Studio, body_named, body_of};
use ::price::{AreaYears, Belief, DamageRate, Finished, MishapPrior, PriceError, TimeModel, TimePrior};
use jiff::Timestamp;
use job::{CarHistory, FilmZone, Job, JobId, PanelId, Shop, StepState};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;
use units::{Area, Duration};

/// A finished step whose clock says less than this share of its planned time, or more than its inverse, was not timed: it
/// was tapped afterwards, or its clock was left running. Common practice, no source.
const TIMED: f64 = 0.2;

/// Where the priors of times come from.
const TIMES_SOURCE: &str =
    "Step library and settings: common practice, no source, until the shop's own finished steps say better";

/// Finished steps as the engine learns from them: those that were timed, with planned minutes as their quantity, and how
/// many were not.
#[derive(Debug, Default)]
struct Timed {
    finished: Vec<Finished>,
    left_out: usize,
}

/// A finished step as a job tells it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Done {
    step: String,
    #[serde(with = "exact")]
    planned: Duration,
    #[serde(with = "exact")]
    took: Duration,
}

/// Film that was laid under a job, and what was claimed of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Filmed {
    /// The car's plate.
    pub(crate) plate: String,
    body: String,
    laid: Vec<PanelId>,
    /// Panel, and zone of the spot where that is known.
    claims: Vec<(PanelId, Option<FilmZone>)>,
}

/// What a job teaches.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(crate) struct Lessons {
    done: Vec<Done>,
    film: Option<Filmed>,
    /// Whether a correction method was tried on it.
    pub(crate) tested: bool,
}

impl Lessons {
    /// What a job teaches as it stands.
    pub(crate) fn of(job: &Job) -> Self {
        let finished = job.work.values().filter(|r| r.state == StepState::Done);
        let done = finished.map(|record| Done {
            step: record.planned.step.clone(),
            planned: record.planned.work,
            // a step that is done runs no more: no moment is needed to close its last stretch
            took: record.worked(Timestamp::UNIX_EPOCH),
        });
        // a body takes a while to draw: only where a spot asks for it
        let claimed = |c: &job::Claim| {
            let zone = c.spot.and_then(|[u, v]| zone_at(body_of(job), c.panel.as_str(), u, v));
            (c.panel.clone(), zone)
        };
        let film = Filmed {
            plate: job.car.plate.clone(),
            body: job.car.body.clone(),
            laid: job.laid.iter().map(|p| p.panel.clone()).collect(),
            claims: job.claims.iter().map(claimed).collect(),
        };
        Self {
            done: done.collect(),
            film: (!film.laid.is_empty()).then_some(film),
            tested: !job.test_spots.is_empty(),
        }
    }
}

/// Minutes as their bits: read back they are the same number.
mod exact {
    use serde::{Deserialize, Deserializer, Serializer};
    use units::Duration;

    pub(super) fn serialize<S: Serializer>(time: &Duration, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_u64(time.as_minutes().to_bits())
    }

    pub(super) fn deserialize<'a, D: Deserializer<'a>>(from: D) -> Result<Duration, D::Error> {
        u64::deserialize(from).map(|bits| Duration::minutes(f64::from_bits(bits)))
    }
}

/// Every finished step of the shop.
#[derive(Debug, Default)]
pub(crate) struct AllDone {
    /// Another one whenever the steps are not the same.
    stamp: u64,
    steps: Vec<Done>,
}

/// What all jobs teach.
#[derive(Debug, Default)]
pub(crate) struct Past {
    by_job: BTreeMap<JobId, Lessons>,
    /// Every finished step; none when a job has taught something else since.
    all: Option<Arc<AllDone>>,
    stamp: u64,
}

impl Past {
    /// Takes in what a job teaches now.
    pub(crate) fn learn(&mut self, id: &JobId, lessons: Lessons) {
        let known = self.by_job.insert(id.clone(), lessons);
        let done = self.by_job.get(id).map_or(&[][..], |l| &l.done);
        if known.map_or(!done.is_empty(), |k| k.done != done) {
            self.all = None;
        }
    }

    /// What a job teaches.
    pub(crate) fn of(&self, id: &JobId) -> Option<&Lessons> {
        self.by_job.get(id)
    }

    /// Every finished step.
    pub(crate) fn all(&mut self) -> Arc<AllDone> {
        if let Some(all) = &self.all {
            return all.clone();
        }
        self.stamp += 1;
        let steps = self.by_job.values().flat_map(|l| &l.done).cloned().collect();
        let all = Arc::new(AllDone { stamp: self.stamp, steps });
        self.all = Some(all.clone());
        all
    }

    /// Jobs on which a correction method was tried.
    pub(crate) fn tested(&self) -> Vec<JobId> {
        self.by_job.iter().filter(|(_, l)| l.tested).map(|(id, _)| id.clone()).collect()
    }

    /// Jobs under which film was laid.
    pub(crate) fn filmed(&self) -> Vec<(JobId, Filmed)> {
        self.by_job.iter().filter_map(|(id, l)| Some((id.clone(), l.film.clone()?))).collect()
    }
}

/// Finished steps that the step library still has, as the engine learns from them.
fn timed(steps: &[Done], known: impl Fn(&str) -> bool) -> Timed {
    let mut timed = Timed::default();
    for Done { step, planned, took } in steps {
        let planned = planned.as_minutes();
        if !known(step) || planned < 1.0 {
            continue;
        }
        if !(TIMED..=1.0 / TIMED).contains(&(took.as_minutes() / planned)) {
            timed.left_out += 1;
            continue;
        }
        timed.finished.push(Finished { step: step.clone(), quantity: planned, condition: 1.0, took: *took });
    }
    timed
}

/// The times of all steps, and what they were learnt from.
#[derive(Clone, Debug)]
pub struct Times {
    /// The model.
    pub model: Arc<TimeModel>,
    /// Finished steps that were timed, whether they are learnt from or not.
    pub timed: usize,
    /// Steps that were finished but not timed.
    pub left_out: usize,
}

/// Times of all steps of the library: the library's own, moved by finished steps unless that is switched off.
///
/// # Errors
/// When the step library is broken or settings make no sense.
pub fn times(studio: &Studio, shop: &Shop) -> Result<Times, Refusal> {
    let library = super::route::library(studio, shop)?;
    let e = &shop.settings.estimates;
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
    let past = studio.finished_steps()?;
    // the stamp stands for the finished steps: they may be many thousands
    let inputs = (past.stamp, &priors, e.learn_times, &belief);
    let times: Arc<Result<Times, PriceError>> = studio.results.get("times", &inputs, || {
        let seen = timed(&past.steps, |step| priors.contains_key(step));
        let learnt: &[Finished] = if e.learn_times { &seen.finished } else { &[] };
        let model = Arc::new(TimeModel::learn_with(&priors, learnt, &belief)?);
        Ok(Times { model, timed: seen.finished.len(), left_out: seen.left_out })
    });
    match &*times {
        Ok(times) => Ok(times.clone()),
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
    for (id, filmed, history) in studio.filmed()? {
        expose(&id, &filmed, &history, now, &mut own);
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
fn expose(
    id: &JobId,
    filmed: &Filmed,
    history: &CarHistory,
    now: Timestamp,
    own: &mut BTreeMap<FilmZone, (f64, f64)>,
) {
    let body = body_named(&filmed.body);
    let pieces = |panel: &PanelId| filmed.laid.iter().filter(|p| *p == panel).count().max(1);
    for film in history.film.iter().filter(|f| f.job == *id) {
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
    let on_film = filmed.claims.iter().filter(|(panel, _)| filmed.laid.contains(panel));
    for (panel, zone) in on_film {
        // a claim with its spot counts in the zone where it lies; without one, where damage gathers
        let shares = zone_shares(body, panel.as_str());
        let gathers = || shares.into_iter().map(|s| s.0).max_by_key(|zone| rank(*zone));
        if let Some(zone) = zone.or_else(gathers) {
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
        for entry in studio.tested_jobs()? {
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
        let seen = timed(&Lessons::of(&job).done, |step| step == "wash");
        assert_eq!((seen.finished.len(), seen.left_out), (1, 2));
        assert_eq!(seen.finished[0].took, Duration::minutes(75.0));
        assert!((seen.finished[0].quantity - 60.0).abs() < 1e-9);
    }
}
