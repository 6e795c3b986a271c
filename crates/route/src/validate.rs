//! What only shows when the whole library is read: needs that nothing can meet, facts that nothing takes away.

use crate::library::{Change, Level, Library, Need, Reach};
use std::collections::BTreeMap;

/// Lines of a step and of its needs, for messages.
pub(crate) struct NeedLines {
    pub(crate) step: usize,
    pub(crate) needs: Vec<usize>,
}

/// Bits that the search keeps for all facts of a level together.
const ROOM: [(Level, usize, &str); 3] =
    [(Level::Surface, 112, "surfaces"), (Level::Car, 64, "the car"), (Level::Room, 32, "rooms")];

/// Bits for a fact: one without grades, two with.
pub(crate) fn bits(top: u8) -> usize {
    if top > 1 { 2 } else { 1 }
}

/// Reports every flaw as line, what and remedy.
pub(crate) fn validate(
    library: &Library,
    lines: &[NeedLines],
    goals: &[usize],
    report: &mut dyn FnMut(usize, String, String),
) {
    for (level, limit, name) in ROOM {
        let sum: usize = library.facts.iter().filter(|f| f.level == level).map(|f| bits(f.top())).sum();
        if sum > limit {
            report(
                1,
                format!("The facts of {name} take {sum} places."),
                format!("At most {limit}: a fact takes one, with grades two."),
            );
        }
    }
    let wide = library.steps.iter().flat_map(|s| &s.needs).filter(|n| n.reach != Reach::Here);
    let mut wide: Vec<_> = wide.map(|n| (&n.fact, n.least, n.most, &n.reach)).collect();
    wide.sort();
    wide.dedup();
    for (count, what) in [(wide.len(), "needs on every surface"), (library.steps.len(), "steps")] {
        if count > 128 {
            report(1, format!("The library has {count} {what}."), "At most 128.".into());
        }
    }
    if library.steps.is_empty() {
        report(
            1,
            "The library has no steps.".into(),
            "Start from the library that comes with the program.".into(),
        );
    }
    contradictions(library, lines, report);
    unreachable(library, lines, goals, report);
    stuck(library, lines, report);
}

/// Two needs of one step that cannot hold together.
fn contradictions(library: &Library, lines: &[NeedLines], report: &mut dyn FnMut(usize, String, String)) {
    for (step, at) in library.steps.iter().zip(lines) {
        for (i, a) in step.needs.iter().enumerate() {
            for b in &step.needs[..i] {
                if a.fact == b.fact && a.reach == b.reach && (a.least > b.most || b.least > a.most) {
                    report(
                        at.needs[i],
                        format!("'{}' needs '{}' in two ways that exclude each other.", step.id, a.fact),
                        "Drop one of the needs.".into(),
                    );
                }
            }
        }
    }
}

/// Needs that a fact be there, when nothing found and no step that can be taken brings it.
fn unreachable(
    library: &Library,
    lines: &[NeedLines],
    goals: &[usize],
    report: &mut dyn FnMut(usize, String, String),
) {
    let mut highest: BTreeMap<&str, u8> =
        library.facts.iter().map(|f| (f.id.as_str(), if f.found { f.top() } else { 0 })).collect();
    loop {
        let mut grown = false;
        for step in &library.steps {
            if step.needs.iter().all(|n| reached(&highest, n)) {
                for effect in &step.effects {
                    if let (Change::To(n), Some(top)) = (effect.change, highest.get_mut(effect.fact.as_str()))
                    {
                        grown |= n > *top;
                        *top = n.max(*top);
                    }
                }
            }
        }
        if !grown {
            break;
        }
    }
    let remedy = |fact: &str| format!("Add a step that brings '{fact}', or mark the fact 'found = true'.");
    for (step, at) in library.steps.iter().zip(lines) {
        for (need, line) in step.needs.iter().zip(&at.needs).filter(|(n, _)| !reached(&highest, n)) {
            report(
                *line,
                format!("'{}' needs '{}', which nothing brings.", step.id, need.fact),
                remedy(&need.fact),
            );
        }
    }
    for (goal, line) in library.goals.iter().zip(goals) {
        for want in goal.wants.iter().filter(|w| !reached(&highest, w)) {
            report(
                *line,
                format!("The goal '{}' wants '{}', which nothing brings.", goal.id, want.fact),
                remedy(&want.fact),
            );
        }
    }
}

fn reached(highest: &BTreeMap<&str, u8>, need: &Need) -> bool {
    highest.get(need.fact.as_str()).is_some_and(|top| *top >= need.least)
}

/// Facts that a step brings, something wants away, and no step takes away.
fn stuck(library: &Library, lines: &[NeedLines], report: &mut dyn FnMut(usize, String, String)) {
    for (step, at) in library.steps.iter().zip(lines) {
        for effect in &step.effects {
            let Change::To(level @ 1..) = effect.change else { continue };
            let Some(fact) = library.fact(&effect.fact) else { continue };
            let goes = library
                .steps
                .iter()
                .flat_map(|s| &s.effects)
                .any(|e| e.fact == fact.id && e.change.of(level) < level);
            let unwanted =
                library.goals.iter().flat_map(|g| &g.wants).any(|n| n.fact == fact.id && level > n.most);
            if unwanted && !goes && !fact.stays && effect.reach != Reach::Every {
                report(
                    at.step,
                    format!(
                        "'{}' brings '{}', which a goal wants away and no step takes away.",
                        step.id, fact.id
                    ),
                    "Add a step that clears it, or mark the fact 'stays = true'.".into(),
                );
            }
        }
    }
}
