//! The correction plan: passes from coarse to fine under the clear coat's budget.

use crate::settings::Spread;
use crate::survey::PanelEstimate;
use serde::{Deserialize, Serialize};
use units::{Area, Duration, Thickness};

/// What a method is for, from mild to severe.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MethodKind {
    /// Finishing polish.
    Finishing,
    /// Medium polish.
    Medium,
    /// Cutting compound.
    Cutting,
    /// Damp sanding.
    Sanding,
}

/// How warm a method makes the paint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Heat {
    /// Hand-warm at most.
    Low,
    /// Warm: check by hand between passes.
    Medium,
    /// Hot on edges and on plastic: let it cool between passes.
    High,
}

/// What one pass takes off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Removal {
    /// Mean per pass.
    pub mean: Thickness,
    /// How unsure that mean is on this paint (standard deviation, shared by all passes of the method).
    pub unsure: Thickness,
    /// How passes differ from each other (standard deviation).
    pub scatter: Thickness,
}

/// A way to correct paint, from the shop's table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Method {
    /// Short name used in plans.
    pub id: String,
    /// Name shown to people.
    pub name: String,
    /// What it is for.
    pub kind: MethodKind,
    /// What one pass takes off.
    pub removal_per_pass: Removal,
    /// Depth of the marks it leaves itself.
    pub leaves_mark: Thickness,
    /// Working time for one pass over one square meter.
    pub time_per_m2: Duration,
    /// How warm it makes the paint.
    pub heat: Heat,
}

/// What a plan is asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanRequest {
    /// The panel, as the survey found it.
    pub estimate: PanelEstimate,
    /// Depth of the marks to be taken out.
    pub mark: Thickness,
    /// Deepest mark that may remain (the wanted finish).
    pub wanted: Thickness,
    /// Area to be worked.
    pub area: Area,
    /// Methods to choose from.
    pub methods: Vec<Method>,
    /// At an edge or on a body line: less of the allowance may be used.
    pub near_edge: bool,
    /// Share of the allowance left at edges and body lines.
    pub edge_share: f64,
    /// Least clear coat that must stay.
    pub floor: Thickness,
    /// What is left of the lifetime allowance.
    pub allowance_left: Thickness,
    /// Accepted risk of going below the floor.
    pub alpha: f64,
    /// Most passes of one method.
    pub max_passes: u32,
}

/// Passes of one method.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanStep {
    /// The method's id.
    pub method: String,
    /// The method's name.
    pub name: String,
    /// Number of passes.
    pub passes: u32,
    /// What these passes take off together.
    pub removal: Spread,
    /// Working time.
    pub time: Duration,
    /// Deepest mark after these passes, by expected removal.
    pub mark_after: Thickness,
}

/// A sequence of passes, coarse to fine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Correction {
    /// Passes in order of work.
    pub steps: Vec<PlanStep>,
    /// What they take off together.
    pub removal: Spread,
    /// Probability that the thinnest place ends below the floor.
    pub risk: f64,
    /// Working time.
    pub time: Duration,
    /// Deepest mark that remains, by expected removal.
    pub remaining_mark: Thickness,
    /// Probability that the marks which were there are down to the wanted finish after these passes; below
    /// one half for a finish that is only the best safe one.
    pub finish_chance: f64,
}

/// One choice on the front of removal against remaining mark.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FrontPoint {
    /// Expected removal.
    pub removal: Thickness,
    /// Deepest mark that remains.
    pub remaining_mark: Thickness,
    /// Least working time for it.
    pub time: Duration,
    /// Probability that the thinnest place ends below the floor.
    pub risk: f64,
    /// Whether floor and allowance permit it.
    pub safe: bool,
}

/// Why marks are left as they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LeaveReason {
    /// Matte finish: never machine polished.
    Matte,
    /// Too great a risk of going below the floor.
    Floor,
    /// The lifetime allowance does not allow it.
    Allowance,
    /// No method in the table reaches the wanted finish.
    NoMethod,
    /// Something in the request cannot be used.
    BadRequest,
}

/// The wanted finish cannot be had safely.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeaveIt {
    /// Why.
    pub reason: LeaveReason,
    /// Why, in plain words with figures.
    pub words: String,
    /// What to do instead.
    pub hint: String,
    /// The finest finish that floor and allowance permit, if any pass is permitted.
    pub best_safe: Option<Correction>,
}

/// What to do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Advice {
    /// The marks are already within the wanted finish.
    NothingToDo,
    /// Work in these passes.
    Correct(Correction),
    /// Leave it, or take the best safe finish.
    LeaveIt(LeaveIt),
}

/// The plan for one panel or place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CorrectionPlan {
    /// The panel.
    pub panel: String,
    /// What to do.
    pub advice: Advice,
    /// Deepest mark that may remain, as it was asked for.
    pub wanted: Thickness,
    /// Most that floor and allowance leave to be taken here, zero at least.
    pub most: Thickness,
    /// Removal against remaining mark, least removal first.
    pub front: Vec<FrontPoint>,
    /// Cautions that apply, in plain words.
    pub cautions: Vec<String>,
}

/// What a verification found wrong.
#[derive(Clone, Debug, PartialEq, thiserror::Error, Serialize, Deserialize)]
#[error("{0}")]
pub struct PlanFlaw(pub String);
