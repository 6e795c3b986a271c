//! The checker for sequences edited by hand: every broken rule, what is still open, the nearest valid order.

use crate::library::Library;
use crate::simulate::{Breach, apply, breaches, open_goals, sense, start};
use crate::situation::{Place, Situation, State, StepUse};
use serde::Serialize;

/// What a sequence is worth.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// Every broken rule, in the order of the steps.
    pub broken: Vec<Broken>,
    /// Goals left open at the end.
    pub open: Vec<Unmet>,
    /// The nearest valid order, when the sequence is not valid and one was found.
    pub nearest: Option<Nearest>,
    /// The state at the end, broken rules or not: what an override leaves behind.
    pub end: State,
}

impl Verdict {
    /// No rule broken and nothing left open.
    pub fn holds(&self) -> bool {
        self.broken.is_empty() && self.open.is_empty()
    }
}

/// One broken rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Broken {
    /// Position of the step in the sequence, from 0.
    pub index: usize,
    /// Step by id.
    pub step: String,
    /// Its title, or its id when the library does not have it.
    pub title: String,
    /// Where.
    pub place: Place,
    /// The fact by id; empty when the use itself makes no sense.
    pub fact: String,
    /// The named rule of the library, when it is one.
    pub rule: Option<String>,
    /// The harm.
    pub harm: String,
    /// What to do.
    pub remedy: String,
}

/// A goal left open.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Unmet {
    /// Where.
    pub place: Place,
    /// Goal by id.
    pub goal: String,
    /// The fact by id.
    pub fact: String,
    /// Its level.
    pub level: u8,
    /// Why the goal asks for it.
    pub harm: String,
    /// For people.
    pub text: String,
}

/// A valid order near an edited one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Nearest {
    /// The order.
    pub uses: Vec<StepUse>,
    /// How it differs, one sentence each: what moved, came in, was left out.
    pub changes: Vec<String>,
}

/// Judges a sequence.
pub fn check(library: &Library, situation: &Situation, uses: &[StepUse]) -> Verdict {
    let mut state = start(library, situation);
    let mut broken = Vec::new();
    for (index, used) in uses.iter().enumerate() {
        match sense(library, situation, index, used) {
            Err(breach) => broken.extend(told(library, used, breach)),
            Ok(step) => {
                for breach in breaches(library, situation, &state, index, used, step) {
                    broken.extend(told(library, used, breach));
                }
                apply(library, situation, &mut state, used, step);
            }
        }
    }
    let open = open_goals(library, situation, &state);
    Verdict { broken, open, nearest: None, end: state }
}

fn told(library: &Library, used: &StepUse, breach: Breach) -> Option<Broken> {
    let title = library.step(&used.step).map_or_else(|| used.step.clone(), |s| s.title.clone());
    match breach {
        Breach::Use { index, what, remedy } => Some(Broken {
            index,
            step: used.step.clone(),
            title,
            place: Place::Car,
            fact: String::new(),
            rule: None,
            harm: what,
            remedy,
        }),
        Breach::Need { index, step, place, need, level } => {
            let remedy = remedy(library, &need, level);
            Some(Broken {
                index,
                step,
                title,
                place,
                fact: need.fact,
                rule: need.rule,
                harm: need.harm,
                remedy,
            })
        }
        Breach::Unfinished(_) => None,
    }
}

/// Steps that bring a fact from a level to where a need wants it.
fn remedy(library: &Library, need: &crate::library::Need, level: u8) -> String {
    let titles: Vec<String> = library
        .steps
        .iter()
        .filter(|s| {
            s.effects.iter().any(|e| {
                let after = e.change.of(level);
                e.fact == need.fact
                    && after != level
                    && (need.allows(after) || (level > need.most && after < level))
            })
        })
        .map(|s| format!("'{}'", s.title))
        .collect();
    match titles.as_slice() {
        [] => "No step of the library changes that: leave this step out, or agree on another outcome."
            .to_owned(),
        some => format!("First: {}.", some.join(" or ")),
    }
}
