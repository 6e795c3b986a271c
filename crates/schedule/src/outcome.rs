//! Answers other than a plan: a problem that cannot be read, or that cannot be met, and why.

use crate::plan::Plan;
use crate::problem::{PersonId, RoomId, TaskId};
use serde::{Deserialize, Serialize};

/// What came of planning.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Outcome {
    /// A plan that passed its validator.
    Plan(Plan),
    /// It is proved that no plan exists.
    Infeasible(Why),
    /// No plan was found within the effort, and no proof that there is none.
    Unsettled(Why),
}

impl Outcome {
    /// The plan, if there is one.
    pub fn plan(&self) -> Option<&Plan> {
        match self {
            Self::Plan(plan) => Some(plan),
            Self::Infeasible(_) | Self::Unsettled(_) => None,
        }
    }
}

/// The reason in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum WhyKind {
    /// Lags around a cycle of tasks contradict each other.
    Cycle,
    /// A task needs people, a room or tools that the studio does not have.
    Missing,
    /// A task that may not be split is longer than any working span of those who could do it.
    TooLong,
    /// More work than time, for people, a room or a tool.
    Overload,
    /// What people pinned contradicts the rules.
    Pins,
    /// All possibilities were tried.
    Exhausted,
    /// The effort was spent.
    Effort,
}

/// Why there is no plan, and what would help.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Why {
    /// The reason in one word.
    pub kind: WhyKind,
    /// The reason in a sentence.
    pub reason: String,
    /// What would free it.
    pub hint: String,
    /// Tasks concerned, in the order of the reason (a cycle in order).
    pub tasks: Vec<TaskId>,
    /// People concerned.
    pub people: Vec<PersonId>,
    /// Rooms concerned.
    pub rooms: Vec<RoomId>,
}

impl Why {
    pub(crate) fn new(kind: WhyKind, reason: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            kind,
            reason: reason.into(),
            hint: hint.into(),
            tasks: Vec::new(),
            people: Vec::new(),
            rooms: Vec::new(),
        }
    }

    pub(crate) fn about(mut self, tasks: impl IntoIterator<Item = TaskId>) -> Self {
        self.tasks.extend(tasks);
        self
    }

    pub(crate) fn effort_spent() -> Self {
        Self::new(
            WhyKind::Effort,
            "No plan was found in the time given, and no proof that there is none.",
            "Give it more time, a longer horizon, or wider limits between tasks.",
        )
    }
}

/// A problem that cannot be read: where, what, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {what}; {remedy}")]
pub struct Fault {
    /// Where it is.
    pub place: String,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

impl Fault {
    pub(crate) fn new(place: impl Into<String>, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { place: place.into(), what: what.into(), remedy: remedy.into() }
    }
}
