//! The independent simulator: plays a sequence on named facts. It shares no code with the search.

use crate::check::Unmet;
use crate::library::{Effect, Level, Library, Need, Reach, Step};
use crate::situation::{Facts, Place, Situation, State, StepUse};
use serde::Serialize;
use std::fmt;

/// Where and how a sequence first breaks.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Breach {
    /// A use that makes no sense: unknown step or group, wrong kind, groups missing or not wanted.
    Use {
        /// Position in the sequence.
        index: usize,
        /// What is wrong.
        what: String,
        /// What to do.
        remedy: String,
    },
    /// A need of a step does not hold.
    Need {
        /// Position in the sequence.
        index: usize,
        /// Step by id.
        step: String,
        /// Where.
        place: Place,
        /// The need, with its fact, its rule and the harm.
        need: Box<Need>,
        /// The fact's level there.
        level: u8,
    },
    /// All steps are valid, and goals are still open.
    Unfinished(Vec<Unmet>),
}

impl fmt::Display for Breach {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Use { index, what, remedy } => write!(f, "Step {}: {what} {remedy}", index + 1),
            Self::Need { index, step, place, need, .. } => {
                write!(f, "Step {} ({step}) on {place}: {}: {}", index + 1, need.fact, need.harm)
            }
            Self::Unfinished(open) => {
                write!(f, "Not finished: ")?;
                for (i, unmet) in open.iter().enumerate() {
                    write!(f, "{}{}", if i > 0 { "; " } else { "" }, unmet.text)?;
                }
                Ok(())
            }
        }
    }
}

impl std::error::Error for Breach {}

/// Plays a whole sequence: every need must hold, every goal be met at the end.
///
/// # Errors
/// The first breach, or the goals left open.
pub fn simulate(library: &Library, situation: &Situation, uses: &[StepUse]) -> Result<State, Breach> {
    let state = advance(library, situation, uses)?;
    let open = open_goals(library, situation, &state);
    if open.is_empty() { Ok(state) } else { Err(Breach::Unfinished(open)) }
}

/// Plays the first steps of a job: every need must hold, goals are not looked at.
///
/// # Errors
/// The first breach.
pub fn advance(library: &Library, situation: &Situation, uses: &[StepUse]) -> Result<State, Breach> {
    let mut state = start(library, situation);
    for (index, used) in uses.iter().enumerate() {
        let step = sense(library, situation, index, used)?;
        if let Some(breach) = breaches(library, situation, &state, index, used, step).into_iter().next() {
            return Err(breach);
        }
        apply(library, situation, &mut state, used, step);
    }
    Ok(state)
}

/// The state at the start, with a place for every room that the steps use.
pub(crate) fn start(library: &Library, situation: &Situation) -> State {
    let mut state = situation.state();
    for step in &library.steps {
        state.rooms.entry(situation.room_for(step.room).to_owned()).or_default();
    }
    state
}

/// The step of a use, when the use makes sense.
pub(crate) fn sense<'a>(
    library: &'a Library,
    situation: &Situation,
    index: usize,
    used: &StepUse,
) -> Result<&'a Step, Breach> {
    let no = |what: String, remedy: &str| Err(Breach::Use { index, what, remedy: remedy.to_owned() });
    let Some(step) = library.step(&used.step) else {
        return no(format!("There is no step '{}'.", used.step), "Take a step from the library.");
    };
    if step.level != Level::Surface {
        if !used.groups.is_empty() {
            return no(format!("'{}' is done once for the whole car.", step.title), "Name no surfaces.");
        }
        return Ok(step);
    }
    if used.groups.is_empty() {
        return no(format!("'{}' names no surface.", step.title), "Say on which surfaces it is done.");
    }
    for (i, id) in used.groups.iter().enumerate() {
        let Some(group) = situation.groups.iter().find(|g| g.id == *id) else {
            return no(format!("There is no surface '{id}'."), "Name surfaces of this car.");
        };
        if !step.kinds.contains(&group.kind) {
            return no(
                format!("'{}' is not for {} ({id}).", step.title, group.kind),
                "Take this surface off the step.",
            );
        }
        if used.groups[..i].contains(id) {
            return no(format!("'{id}' is named twice in '{}'.", step.title), "Name it once.");
        }
    }
    Ok(step)
}

/// Every need of a step that does not hold.
pub(crate) fn breaches(
    library: &Library,
    situation: &Situation,
    state: &State,
    index: usize,
    used: &StepUse,
    step: &Step,
) -> Vec<Breach> {
    let mut found = Vec::new();
    for need in &step.needs {
        for (place, facts) in places(library, situation, state, used, step, &need.fact, &need.reach) {
            let level = facts.level(&need.fact);
            if !need.allows(level) {
                found.push(Breach::Need {
                    index,
                    step: step.id.clone(),
                    place,
                    need: Box::new(need.clone()),
                    level,
                });
            }
        }
    }
    found
}

fn places<'a>(
    library: &Library,
    situation: &Situation,
    state: &'a State,
    used: &StepUse,
    step: &Step,
    fact: &str,
    reach: &Reach,
) -> Vec<(Place, &'a Facts)> {
    let level = library.fact(fact).map_or(Level::Car, |f| f.level);
    let room = situation.room_for(step.room);
    match level {
        Level::Car => vec![(Place::Car, &state.car)],
        Level::Room => state
            .rooms
            .iter()
            .filter(|(id, _)| *reach != Reach::Here || *id == room)
            .map(|(id, facts)| (Place::Room(id.clone()), facts))
            .collect(),
        Level::Surface => situation
            .groups
            .iter()
            .filter(|g| match reach {
                Reach::Here => used.groups.contains(&g.id),
                Reach::Every => true,
                Reach::EveryOf(kind) => g.kind == *kind,
            })
            .filter_map(|g| Some((Place::Group(g.id.clone()), state.groups.get(&g.id)?)))
            .collect(),
    }
}

/// Applies what a step changes, whether its needs hold or not.
pub(crate) fn apply(
    library: &Library,
    situation: &Situation,
    state: &mut State,
    used: &StepUse,
    step: &Step,
) {
    let room = situation.room_for(step.room);
    for Effect { fact, change, reach } in &step.effects {
        let turn = |facts: &mut Facts| facts.set(fact, change.of(facts.level(fact)));
        match library.fact(fact).map_or(Level::Car, |f| f.level) {
            Level::Car => turn(&mut state.car),
            Level::Room => {
                state
                    .rooms
                    .iter_mut()
                    .filter(|(id, _)| *reach != Reach::Here || *id == room)
                    .for_each(|(_, f)| turn(f));
            }
            Level::Surface => {
                for group in &situation.groups {
                    let reached = match reach {
                        Reach::Here => used.groups.contains(&group.id),
                        Reach::Every => true,
                        Reach::EveryOf(kind) => group.kind == *kind,
                    };
                    if let (true, Some(facts)) = (reached, state.groups.get_mut(&group.id)) {
                        turn(facts);
                    }
                }
            }
        }
    }
}

/// The goals that a state leaves open.
pub(crate) fn open_goals(library: &Library, situation: &Situation, state: &State) -> Vec<Unmet> {
    let mut open = Vec::new();
    for want in &situation.wants {
        let Some(goal) = library.goal(&want.goal) else { continue };
        for need in &goal.wants {
            let Some(fact) = library.fact(&need.fact) else { continue };
            let looked_at: Vec<(Place, u8)> = match (fact.level, &need.reach, &want.place) {
                (Level::Car, _, _) => vec![(Place::Car, state.car.level(&fact.id))],
                (Level::Room, _, _) => {
                    state.rooms.iter().map(|(id, f)| (Place::Room(id.clone()), f.level(&fact.id))).collect()
                }
                (Level::Surface, Reach::Here, Place::Group(id)) => {
                    let level = state.groups.get(id).map_or(0, |f| f.level(&fact.id));
                    vec![(Place::Group(id.clone()), level)]
                }
                (Level::Surface, reach, _) => situation
                    .groups
                    .iter()
                    .filter(|g| !matches!(reach, Reach::EveryOf(kind) if g.kind != *kind))
                    .filter_map(|g| {
                        Some((Place::Group(g.id.clone()), state.groups.get(&g.id)?.level(&fact.id)))
                    })
                    .collect(),
            };
            for (place, level) in looked_at {
                if !need.allows(level) {
                    let text = format!(
                        "{}: {} is still at '{}'",
                        goal.title,
                        situation.name_of(&place),
                        fact.at(level)
                    );
                    let unmet = Unmet {
                        place,
                        goal: goal.id.clone(),
                        fact: fact.id.clone(),
                        level,
                        harm: need.harm.clone(),
                        text,
                    };
                    if !open.contains(&unmet) {
                        open.push(unmet);
                    }
                }
            }
        }
    }
    open
}
