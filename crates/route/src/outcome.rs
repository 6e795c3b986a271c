//! What the engine answers: a route with its reasons, or why there is none.

use crate::library::{Air, RoomKind, Skill, Wait};
use crate::situation::{Place, StepUse};
use serde::Serialize;
use units::{Duration, Volume};

/// The answer of [`crate::derive`].
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// A route that the independent simulator accepts.
    Found(Route),
    /// No route, with the reason and a hint.
    None(NoRoute),
}

/// Steps in a valid sequence.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Route {
    /// The steps; list order is one valid order, `after` says which other orders are as good.
    pub steps: Vec<RouteStep>,
    /// Working time of all steps, waits apart.
    pub cost: Duration,
    /// No route of less working time than this exists.
    pub bound: Duration,
    /// Cost and bound meet: this route is proved to take least working time.
    pub proven: bool,
}

impl Route {
    /// The bare sequence, for the simulator and the checker.
    pub fn uses(&self) -> Vec<StepUse> {
        self.steps.iter().map(|s| StepUse { step: s.step.clone(), groups: s.groups.clone() }).collect()
    }

    /// Ready mix and concentrate of each product over the whole route, by name.
    pub fn products(&self) -> Vec<ProductUse> {
        let mut total: Vec<ProductUse> = Vec::new();
        for product in self.steps.iter().flat_map(|s| &s.products) {
            match total.iter_mut().find(|p| p.name == product.name) {
                Some(sum) => {
                    sum.mix += product.mix;
                    sum.concentrate += product.concentrate;
                }
                None => total.push(product.clone()),
            }
        }
        total.sort_by(|a, b| a.name.cmp(&b.name));
        total
    }
}

/// One step of a route.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RouteStep {
    /// Step by id.
    pub step: String,
    /// What to do.
    pub title: String,
    /// Groups worked on, by id; empty for a step on the car or a room.
    pub groups: Vec<String>,
    /// Panels of these groups.
    pub panels: Vec<String>,
    /// Time on the clock.
    pub minutes: Duration,
    /// People at it at the same time.
    pub people: u8,
    /// What they must be able to do.
    pub skill: Skill,
    /// Where it is done.
    pub room: RoomKind,
    /// What it does to the air.
    pub air: Air,
    /// Kinds of tool that it holds, one of each.
    pub tools: Vec<String>,
    /// What it uses.
    pub products: Vec<ProductUse>,
    /// The wait after it.
    pub wait: Wait,
    /// Earlier steps of this list that it depends on, by index: enough that any order that keeps
    /// them is valid. Links implied by others are left out.
    pub after: Vec<usize>,
    /// Waits between earlier steps and this one: every `after` link, and links with a longest wait.
    pub lags: Vec<Lag>,
    /// What it is for.
    pub why: Vec<Reason>,
    /// Ids of the cautions that apply.
    pub cautions: Vec<String>,
    /// Pictures wanted for the record.
    pub pictures: Vec<String>,
    /// What is checked and signed after it.
    pub check: Option<String>,
    /// Takes clear coat that never comes back.
    pub removes_clear_coat: bool,
}

/// A wait between the end of an earlier step and the start of a later one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lag {
    /// The earlier step, by index.
    pub after: usize,
    /// Least wait.
    pub least: Duration,
    /// Longest wait, when there is one.
    pub most: Option<Duration>,
}

/// How much of a product a step takes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProductUse {
    /// What it is.
    pub name: String,
    /// Ready mix.
    pub mix: Volume,
    /// Concentrate in it.
    pub concentrate: Volume,
}

/// What a step is for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reason {
    /// Where the fact changes.
    pub place: Place,
    /// The fact by id.
    pub fact: String,
    /// Its level before and after the step.
    pub change: (u8, u8),
    /// Who needs it.
    pub purpose: Purpose,
    /// The harm that it prevents, or the goal's title.
    pub harm: String,
    /// All of it in a sentence for people.
    pub text: String,
}

/// Who needs what a step does.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    /// A later step of the route, by index.
    Step(usize),
    /// A goal, by id.
    Goal(String),
}

/// Why there is no route.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NoRoute {
    /// The kind of trouble.
    pub why: Why,
    /// The reason, for people.
    pub reason: String,
    /// What would help.
    pub hint: String,
    /// What stands in the way, one by one.
    pub obstacles: Vec<Obstacle>,
}

/// The kinds of trouble.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// The situation does not fit the library.
    Situation,
    /// No sequence of steps reaches a goal.
    Unreachable,
    /// The effort was used up before a route was found.
    Effort,
    /// Somebody pressed cancel.
    Cancelled,
    /// The search gave a route that the simulator refuses: a defect of this program.
    Refused,
}

/// Something that stands in the way of a goal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Obstacle {
    /// Where.
    pub place: Place,
    /// The goal or step that is blocked, for people.
    pub blocked: String,
    /// The fact by id.
    pub fact: String,
    /// What is wrong, for people.
    pub text: String,
}
