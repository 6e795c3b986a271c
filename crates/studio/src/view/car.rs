//! A car's page: what stands on every sheet of it.

use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of, broken, zone_of};
use crate::times::Times;
use body::Body;
use jiff::{Timestamp, tz::TimeZone};
use job::{CarHistory, Drive, Job, JobId, PaintFinish, Shop, Stage, StepState, VisitState};
use std::sync::Arc;

/// A car as it is named in lists and on bays.
#[derive(Clone, Debug, PartialEq)]
pub struct CarTag {
    /// Its job.
    pub id: JobId,
    /// What people call it.
    pub name: String,
    /// Plate.
    pub plate: String,
    /// Color in words.
    pub color: String,
    /// Body style.
    pub body: String,
}

impl CarTag {
    /// The tag of a job's car.
    pub fn of(id: &JobId, job: &Job) -> Self {
        let car = &job.car;
        let name = if car.name.is_empty() { format!("{} {}", car.color, car.body) } else { car.name.clone() };
        Self {
            id: id.clone(),
            name: name.trim().to_owned(),
            plate: car.plate.clone(),
            color: car.color.clone(),
            body: car.body.clone(),
        }
    }
}

/// How far a stage is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StageState {
    /// Behind.
    Done,
    /// Now.
    Now,
    /// Ahead.
    Ahead,
}

/// A stage on the line of stages.
#[derive(Clone, Debug, PartialEq)]
pub struct StageMark {
    /// Which.
    pub stage: Stage,
    /// How far.
    pub state: StageState,
    /// In a word or two: `signed`, `2 panels left`, `May 23`.
    pub note: String,
}

/// A caution: general, and no substitute for the product's data sheet, the maker's instructions, local law or a
/// licensed trade.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Caution {
    /// In two or three words.
    pub title: String,
    /// At most three short sentences.
    pub text: String,
}

/// What stands on every sheet of a car's page.
#[derive(Clone)]
pub struct CarView {
    /// Its job.
    pub tag: CarTag,
    /// Version of the job's stream: goes back with forms that overwrite.
    pub version: u64,
    /// The job.
    pub job: Arc<Job>,
    /// The car over all its jobs.
    pub history: Arc<CarHistory>,
    /// The shop.
    pub shop: Arc<Shop>,
    /// The drawing of its body.
    pub body: &'static Body,
    /// The line of stages.
    pub stages: Vec<StageMark>,
    /// When the plan that people know has it ready; none without such a plan.
    pub ready: Option<Timestamp>,
    /// How late that is against the promise, in words; none when it is not.
    pub late: Option<String>,
    /// Cautions of the car as a whole (high voltage, matte paint, sensors).
    pub cautions: Vec<Caution>,
    /// Now.
    pub now: Timestamp,
    /// The shop's time zone.
    pub zone: TimeZone,
    /// Hash of the journal's newest row when this was read: the record's seal.
    pub seal: String,
}

impl Studio {
    /// What stands on every sheet of a car's page.
    ///
    /// # Errors
    /// When there is no such job or the journal cannot be read.
    pub fn car_view(&self, id: &JobId) -> Result<CarView, Refusal> {
        let entry = self.job(id)?;
        let shop = self.shop()?;
        let job = entry.job.clone();
        let zone = zone_of(&shop);
        let ready = shop.plan.iter().filter(|b| b.job == *id).map(|b| b.to).max();
        let late = ready
            .zip(job.promised)
            .filter(|(r, p)| job.is_open() && r > p)
            .map(|(r, p)| engine::minutes_in_words(r.duration_since(p).as_secs() as f64 / 60.0));
        Ok(CarView {
            tag: CarTag::of(id, &job),
            version: entry.version,
            history: self.history(&job.car.plate)?,
            body: body_of(&job),
            stages: stages(&job, &Times::of(&shop)),
            ready,
            late,
            cautions: cautions(&job),
            now: self.now(),
            seal: self.journal().seal().map_err(broken)?.to_string(),
            zone,
            shop,
            job,
        })
    }
}

fn stages(job: &Job, times: &Times) -> Vec<StageMark> {
    let now = job.stage();
    let day = |t: Timestamp| times.short(times.day_of(t));
    Stage::ALL
        .into_iter()
        .map(|stage| {
            let state = match stage.cmp(&now) {
                std::cmp::Ordering::Less => StageState::Done,
                std::cmp::Ordering::Equal => StageState::Now,
                std::cmp::Ordering::Greater => StageState::Ahead,
            };
            let done = state == StageState::Done;
            let count = job.work.values().filter(|r| r.state == StepState::Done).count();
            let note = match stage {
                Stage::Arrival if done => "signed".to_owned(),
                Stage::Survey if job.survey_closed.is_some() => "closed".to_owned(),
                Stage::Offer if job.acceptance.is_some() => "agreed".to_owned(),
                Stage::Offer if !job.offers.is_empty() => "waits".to_owned(),
                Stage::Route if job.route.is_some() => {
                    let open = job.open_steps().count();
                    format!("{open} to do")
                }
                Stage::Film if job.order.film == job::Coverage::None => "none".to_owned(),
                Stage::Film if job.cut.is_some() => "laid out".to_owned(),
                Stage::Work if count > 0 => format!("{count} done"),
                Stage::Handover => match (&job.handover, job.promised) {
                    (Some(h), _) => day(h.at),
                    (None, Some(p)) => day(p),
                    (None, None) => String::new(),
                },
                Stage::Visits => {
                    let next = job.visits.iter().filter(|v| v.state == VisitState::Due).map(|v| v.due).min();
                    next.map(|d| times.short(d)).unwrap_or_default()
                }
                _ if state == StageState::Now => "now".to_owned(),
                _ => String::new(),
            };
            StageMark { stage, state, note }
        })
        .collect()
}

/// Cautions of the car as a whole. General cautions; makers' instructions, local law and licensed trades come first.
fn cautions(job: &Job) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if job.car.drive != Drive::Combustion {
        cautions.push(Caution {
            title: "High voltage".into(),
            text: "No pressure washing into charge port or high-voltage parts. It moves without a sound; keep the key away from the car. Orange cables are for licensed technicians.".into(),
        });
    }
    match job.car.paint {
        PaintFinish::Matte => cautions.push(Caution {
            title: "Matte finish".into(),
            text: "Never polished by machine: the gloss would stay. Clean and protect only.".into(),
        }),
        PaintFinish::SingleStage => cautions.push(Caution {
            title: "Single-stage paint".into(),
            text: "Correction takes color, and the pad shows it. Test spot first, finest method first."
                .into(),
        }),
        PaintFinish::Clear => {}
    }
    cautions
}
