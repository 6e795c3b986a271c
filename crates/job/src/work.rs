//! The route sheet and what was done of it.

use crate::{PanelId, PictureId, Signature, StepNo};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::{Area, Duration, Volume};

/// How much of a product a step uses.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ProductUse {
    /// The product.
    pub product: String,
    /// Concentrate or product as sold.
    #[serde(rename = "amount_ml")]
    pub amount: Volume,
    /// Parts of water to one part of product; none when used as it is.
    pub parts_water: Option<f64>,
}

/// One step of the route as planned.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PlannedStep {
    /// Its number within the job.
    pub no: StepNo,
    /// The step in the step library.
    pub step: String,
    /// What to do.
    pub title: String,
    /// On which panels; empty for the whole car or the room.
    pub panels: Vec<PanelId>,
    /// Area worked on.
    #[serde(rename = "area_m2")]
    pub area: Area,
    /// Planned work.
    #[serde(rename = "work_min")]
    pub work: Duration,
    /// Skill wanted; none when nobody is needed.
    pub skill: Option<String>,
    /// People wanted.
    pub people: u32,
    /// Kind of room.
    pub room: String,
    /// `dusty`, `clean` or `neutral`.
    pub air: String,
    /// Kinds of tool that it holds, one of each; those of which the shop has few are planned.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tools: Vec<String>,
    /// Products.
    pub products: Vec<ProductUse>,
    /// Steps that must be over first, with the least and most wait after each.
    pub after: Vec<After>,
    /// Wait after it before the next step may begin: dwell, dry, cure, rest.
    #[serde(rename = "wait_min")]
    pub wait: Duration,
    /// Cautions that apply, in words.
    pub cautions: Vec<String>,
    /// Why it is here, in words.
    pub why: Vec<String>,
    /// Pictures wanted.
    pub pictures: bool,
    /// Whether somebody signs that it was checked.
    pub check: bool,
}

/// A step that must be over before another begins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct After {
    /// The earlier step.
    pub step: StepNo,
    /// Least time between its end and the start of the later one.
    #[serde(rename = "least_min")]
    pub least: Duration,
    /// Most time between them.
    #[serde(rename = "most_min")]
    pub most: Option<Duration>,
}

/// A broken rule that somebody took upon themselves.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Override {
    /// The rule and the harm, in words.
    pub rule: String,
    /// Why it is broken all the same.
    pub reason: String,
    /// Who takes it on.
    pub signed: Signature,
}

/// The steps of a job, in order.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RouteSheet {
    /// When it was set.
    pub at: Timestamp,
    /// The steps.
    pub steps: Vec<PlannedStep>,
    /// Rules broken by decision.
    pub overrides: Vec<Override>,
}

/// A stretch of work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// From.
    pub from: Timestamp,
    /// To; none while it runs.
    pub to: Option<Timestamp>,
    /// Who.
    pub by: String,
}

/// A lot that was used in a step.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LotUse {
    /// The product.
    pub product: String,
    /// Its lot.
    pub lot: String,
    /// How much.
    #[serde(rename = "amount_ml")]
    pub amount: Volume,
}

/// Where a step stands.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StepState {
    /// Not begun.
    #[default]
    Todo,
    /// Somebody is at it.
    Running,
    /// Begun and left.
    Paused,
    /// Finished.
    Done,
    /// Not done, and why.
    Dropped(String),
}

/// What was done of a step.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct StepRecord {
    /// The step as it was planned when it began.
    pub planned: PlannedStep,
    /// Where it stands.
    pub state: StepState,
    /// When and by whom it was worked on.
    pub spans: Vec<Span>,
    /// Lots used.
    pub lots: Vec<LotUse>,
    /// Notes.
    pub notes: Vec<String>,
    /// What was looked at and found in order, in words, by whoever finished it.
    pub checked: Vec<String>,
    /// Pictures.
    pub pictures: Vec<PictureId>,
}

impl StepRecord {
    /// Time worked so far; a running stretch counts up to `now`.
    pub fn worked(&self, now: Timestamp) -> Duration {
        self.spans
            .iter()
            .map(|s| Duration::seconds(s.to.unwrap_or(now).duration_since(s.from).as_secs_f64().max(0.0)))
            .sum()
    }
}
