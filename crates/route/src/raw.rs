//! The library file as written, with the place of everything that can be wrong in itself.

use crate::library::{Air, Level, RoomKind, Skill};
use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawLibrary {
    #[serde(default)]
    pub(crate) every_step: RawEveryStep,
    #[serde(default)]
    pub(crate) kind: Vec<RawKind>,
    #[serde(default)]
    pub(crate) fact: Vec<RawFact>,
    #[serde(default)]
    pub(crate) rule: Vec<RawNeed>,
    #[serde(default)]
    pub(crate) step: Vec<RawStep>,
    #[serde(default)]
    pub(crate) goal: Vec<RawGoal>,
    #[serde(default)]
    pub(crate) caution: Vec<RawCaution>,
    #[serde(default)]
    pub(crate) care: Vec<RawCare>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawEveryStep {
    /// Facts that any step undoes, unless it is `quiet` or brings them itself.
    #[serde(default)]
    pub(crate) clears: Vec<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawKind {
    pub(crate) id: Spanned<String>,
    pub(crate) name: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawFact {
    pub(crate) id: Spanned<String>,
    pub(crate) level: Level,
    pub(crate) name: String,
    pub(crate) text: String,
    #[serde(default)]
    pub(crate) grades: Vec<String>,
    #[serde(default)]
    pub(crate) found: bool,
    #[serde(default)]
    pub(crate) stays: bool,
}

/// A condition with its harm: a named rule, or a need of one step or goal.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawNeed {
    /// Of a rule only.
    pub(crate) id: Option<Spanned<String>>,
    absent: Option<Spanned<String>>,
    present: Option<Spanned<String>>,
    at_most: Option<Spanned<String>>,
    at_least: Option<Spanned<String>>,
    pub(crate) harm: Spanned<String>,
}

/// What a need asks of its fact.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Asked {
    Absent,
    Present,
    AtMost,
    AtLeast,
}

impl RawNeed {
    /// The conditions that were written; a sound need has one.
    pub(crate) fn conditions(&self) -> Vec<(Asked, &Spanned<String>)> {
        let all = [
            (Asked::Absent, &self.absent),
            (Asked::Present, &self.present),
            (Asked::AtMost, &self.at_most),
            (Asked::AtLeast, &self.at_least),
        ];
        all.into_iter().filter_map(|(asked, at)| Some((asked, at.as_ref()?))).collect()
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawProduct {
    pub(crate) name: Spanned<String>,
    #[serde(default)]
    pub(crate) ml: f64,
    #[serde(default)]
    pub(crate) ml_per_m2: f64,
    #[serde(default)]
    pub(crate) ml_per_item: f64,
    pub(crate) dilution: Option<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawWait {
    #[serde(default)]
    pub(crate) least_minutes: f64,
    pub(crate) most_minutes: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawStep {
    pub(crate) id: Spanned<String>,
    pub(crate) title: Spanned<String>,
    pub(crate) level: Level,
    #[serde(default)]
    pub(crate) kinds: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) rules: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) needs: Vec<RawNeed>,
    #[serde(default)]
    pub(crate) clears: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) lowers: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) adds: Vec<Spanned<String>>,
    pub(crate) minutes: Option<Spanned<f64>>,
    pub(crate) minutes_per_m2: Option<Spanned<f64>>,
    pub(crate) minutes_per_item: Option<Spanned<f64>>,
    pub(crate) people: Option<Spanned<u8>>,
    pub(crate) skill: Skill,
    pub(crate) room: RoomKind,
    pub(crate) air: Air,
    #[serde(default)]
    pub(crate) tools: Vec<String>,
    #[serde(default)]
    pub(crate) products: Vec<RawProduct>,
    pub(crate) wait: Option<Spanned<RawWait>>,
    #[serde(default)]
    pub(crate) cautions: Vec<Spanned<String>>,
    #[serde(default)]
    pub(crate) pictures: Vec<String>,
    pub(crate) check: Option<String>,
    #[serde(default)]
    pub(crate) removes_clear_coat: bool,
    #[serde(default)]
    pub(crate) quiet: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawGoal {
    pub(crate) id: Spanned<String>,
    pub(crate) title: String,
    pub(crate) level: Level,
    #[serde(default)]
    pub(crate) kinds: Vec<Spanned<String>>,
    pub(crate) wants: Vec<RawNeed>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawCaution {
    pub(crate) id: Spanned<String>,
    pub(crate) text: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawCare {
    pub(crate) id: Spanned<String>,
    pub(crate) what: String,
    #[serde(default)]
    pub(crate) kinds: Vec<Spanned<String>>,
    pub(crate) fact: Option<Spanned<String>>,
    pub(crate) least_days: f64,
    pub(crate) most_days: f64,
    pub(crate) source: String,
}
