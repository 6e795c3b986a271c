//! The checker for sequences edited by hand: every broken rule, what is still open, the nearest valid order.

use crate::derive::{derive, shorten};
use crate::library::{Library, Need};
use crate::outcome::Outcome;
use crate::simulate::{Breach, apply, breaches, open_goals, sense, simulate, start};
use crate::situation::{Place, Situation, State, StepUse};
use effort::Effort;
use serde::Serialize;

/// Effort for the search for missing steps.
const REPAIR: u64 = 20_000;

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
    /// No order with fewer moved steps is valid: every such order was tried. Otherwise it is a good one.
    pub proved: bool,
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
    let holds = broken.is_empty() && open.is_empty();
    let nearest = if holds { None } else { nearest(library, situation, uses, !broken.is_empty()) };
    Verdict { broken, open, nearest, end: state }
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
fn remedy(library: &Library, need: &Need, level: u8) -> String {
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

/// The nearest valid order. First every move of one step, nearest first; in short sequences every move of two;
/// then the steps taken in the given order as soon as each is valid, with the missing ones put in before the
/// first that cannot go on and at the end. The first two are exact; the last is a good order, not proved the
/// nearest.
fn nearest(library: &Library, situation: &Situation, uses: &[StepUse], disordered: bool) -> Option<Nearest> {
    let sound: Vec<StepUse> = uses
        .iter()
        .enumerate()
        .filter(|(i, u)| sense(library, situation, *i, u).is_ok())
        .map(|(_, u)| u.clone())
        .collect();
    let moved = if disordered && sound.len() == uses.len() {
        let holds = |order: &[StepUse]| simulate(library, situation, order).is_ok();
        one_move(uses, holds).or_else(|| {
            // Every pair of moves: looked through only where that takes no time to speak of.
            let first = (uses.len() <= MOST_FOR_TWO).then(|| moves(uses)).into_iter().flatten();
            first.into_iter().find_map(|order| one_move(&order, holds))
        })
    } else {
        None
    };
    let proved = moved.is_some();
    let order = moved.or_else(|| rebuilt(library, situation, &sound))?;
    simulate(library, situation, &order).ok()?;
    let changes = changes(library, uses, &order);
    Some(Nearest { uses: order, changes, proved })
}

/// Longest sequence of which every move of two steps is tried.
const MOST_FOR_TWO: usize = 14;

/// Every sequence one move away, nearest moves first.
fn moves(uses: &[StepUse]) -> impl Iterator<Item = Vec<StepUse>> + '_ {
    (1..uses.len()).flat_map(move |distance| {
        (0..uses.len()).flat_map(move |from| {
            [from.checked_sub(distance), Some(from + distance)]
                .into_iter()
                .flatten()
                .filter(|to| *to < uses.len())
                .map(move |to| {
                    let mut moved = uses.to_vec();
                    let used = moved.remove(from);
                    moved.insert(to, used);
                    moved
                })
        })
    })
}

fn one_move(uses: &[StepUse], holds: impl Fn(&[StepUse]) -> bool) -> Option<Vec<StepUse>> {
    moves(uses).find(|order| holds(order))
}

/// Takes the steps in the given order, each as soon as it is valid and still changes something; what is
/// missing comes from the search.
fn rebuilt(library: &Library, situation: &Situation, uses: &[StepUse]) -> Option<Vec<StepUse>> {
    let mut left: Vec<StepUse> = uses.to_vec();
    let mut order: Vec<StepUse> = Vec::new();
    let mut state = start(library, situation);
    while !left.is_empty() {
        let free = left.iter().position(|used| {
            sense(library, situation, 0, used)
                .is_ok_and(|step| breaches(library, situation, &state, 0, used, step).is_empty())
        });
        let Some(free) = free else { break };
        let used = left.remove(free);
        let step = library.step(&used.step)?;
        let mut after = state.clone();
        apply(library, situation, &mut after, &used, step);
        if after != state {
            order.push(used);
            state = after;
        }
    }
    let rest = situation.at(&state);
    match derive(library, &rest, &Effort::steps(REPAIR)) {
        Outcome::Found(route) => {
            order.extend(route.uses());
            shorten(library, situation, &mut order);
            Some(order)
        }
        Outcome::None(_) => match derive(library, situation, &Effort::steps(REPAIR)) {
            Outcome::Found(route) => Some(route.uses()),
            Outcome::None(_) => None,
        },
    }
}

/// What differs between two orders, for people: the steps outside a longest common run of both.
fn changes(library: &Library, old: &[StepUse], new: &[StepUse]) -> Vec<String> {
    let title = |u: &StepUse| library.step(&u.step).map_or_else(|| u.step.clone(), |s| s.title.clone());
    let mut common = vec![vec![0usize; new.len() + 1]; old.len() + 1];
    for i in (0..old.len()).rev() {
        for j in (0..new.len()).rev() {
            common[i][j] = if old[i] == new[j] {
                common[i + 1][j + 1] + 1
            } else {
                common[i + 1][j].max(common[i][j + 1])
            };
        }
    }
    let (mut i, mut j) = (0, 0);
    let (mut out, mut came): (Vec<&StepUse>, Vec<(usize, &StepUse)>) = (Vec::new(), Vec::new());
    while i < old.len() || j < new.len() {
        if i < old.len() && j < new.len() && old[i] == new[j] {
            i += 1;
            j += 1;
        } else if j == new.len() || (i < old.len() && common[i + 1][j] >= common[i][j + 1]) {
            out.push(&old[i]);
            i += 1;
        } else {
            came.push((j, &new[j]));
            j += 1;
        }
    }
    let mut told = Vec::new();
    for (j, used) in came {
        let place = match j.checked_sub(1) {
            Some(before) => format!("after '{}'", title(&new[before])),
            None => "to the start".to_owned(),
        };
        match out.iter().position(|o| *o == used) {
            Some(at) => {
                out.remove(at);
                told.push(format!("Move '{}' {place}.", title(used)));
            }
            None => told.push(format!("Put in '{}' {place}.", title(used))),
        }
    }
    told.extend(out.into_iter().map(|used| format!("Leave out '{}'.", title(used))));
    told
}
