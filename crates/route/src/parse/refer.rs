//! Conditions and changes as they are written: facts, grades, places.

use super::Reader;
use crate::library::{Change, Effect, Fact, Level, Need, Reach, Rule};
use crate::raw::{Asked, RawNeed};
use toml::Spanned;

impl Reader<'_> {
    /// Reads `fact`, `fact=grade`, `fact@every`, `fact@kind`, `fact=grade@kind`.
    pub(super) fn reference(&mut self, at: &Spanned<String>) -> Option<(usize, Option<u8>, Reach)> {
        let text = at.get_ref().as_str();
        let (head, reach) = text.split_once('@').map_or((text, None), |(h, r)| (h, Some(r)));
        let (id, grade) = head.split_once('=').map_or((head, None), |(i, g)| (i, Some(g)));
        let Some(&index) = self.library.fact_index.get(id) else {
            let near = nearest(id, self.library.facts.iter().map(|f| f.id.as_str()));
            self.flaw(at, format!("There is no fact '{id}'."), near);
            return None;
        };
        let fact = &self.library.facts[index];
        let level = match grade {
            None => None,
            Some(g) => {
                let level =
                    g.parse().ok().or_else(|| fact.grades.iter().position(|n| n == g).map(|i| i as u8 + 1));
                if level.is_none_or(|n| n > fact.top()) {
                    let known =
                        if fact.grades.is_empty() { "none".to_owned() } else { fact.grades.join(", ") };
                    self.flaw(at, format!("'{id}' has no grade '{g}'."), format!("Its grades: {known}."));
                    return None;
                }
                level
            }
        };
        let surface = fact.level == Level::Surface;
        let reach = match reach {
            None => Reach::Here,
            Some("every") => Reach::Every,
            Some(kind) if !surface => {
                self.flaw(
                    at,
                    format!("'{id}' is no fact of surfaces, so '@{kind}' means nothing."),
                    "Leave it out.",
                );
                return None;
            }
            Some(kind) => {
                let kind = kind.to_owned();
                self.known_kind(at, &kind)?;
                Reach::EveryOf(kind)
            }
        };
        Some((index, level, reach))
    }

    pub(super) fn known_kind(&mut self, at: &Spanned<String>, kind: &str) -> Option<()> {
        if self.library.kinds.iter().any(|k| k.id == kind) {
            return Some(());
        }
        let near = nearest(kind, self.library.kinds.iter().map(|k| k.id.as_str()));
        self.flaw(at, format!("There is no kind of surface '{kind}'."), near);
        None
    }

    pub(super) fn rule(&mut self, raw: RawNeed) {
        let Some(id) = raw.id.clone() else {
            self.flaw(&raw.harm, "The rule has no id.".into(), "Name it, so that steps can refer to it.");
            return;
        };
        let taken = self.library.rules.iter().any(|r| r.id == *id.get_ref());
        self.once(taken, &id, "rule");
        if let Some((mut need, _)) = self.condition(&raw) {
            need.rule = Some(id.get_ref().clone());
            self.library.rules.push(Rule { id: id.into_inner(), need });
        }
    }

    /// A need of a step or goal, and its line.
    pub(super) fn need(&mut self, raw: &RawNeed) -> Option<(Need, usize)> {
        if let Some(id) = &raw.id {
            self.flaw(
                id,
                "A need of one step has no id.".into(),
                "Write a [[rule]], and name it in 'rules'.",
            );
        }
        self.condition(raw)
    }

    fn condition(&mut self, raw: &RawNeed) -> Option<(Need, usize)> {
        if raw.harm.get_ref().trim().is_empty() {
            let remedy = "Say what goes wrong when the need is not kept.";
            self.flaw(&raw.harm, "The harm is empty.".into(), remedy);
        }
        let conditions = raw.conditions();
        let [(asked, at)] = conditions[..] else {
            let at = conditions.first().map_or(&raw.harm, |c| c.1);
            let remedy = "Give exactly one of absent, present, at_most, at_least.";
            self.flaw(at, format!("The need has {} conditions.", conditions.len()), remedy);
            return None;
        };
        let (index, level, reach) = self.reference(at)?;
        let (id, top) = (self.library.facts[index].id.clone(), self.library.facts[index].top());
        let (least, most) = match (asked, level) {
            (Asked::Absent, None) => (0, 0),
            (Asked::Present, None) => (1, top),
            (Asked::AtMost, Some(n)) => (0, n),
            (Asked::AtLeast, Some(n)) => (n, top),
            _ => {
                let remedy = "Write a grade, as in 'marks=swirls', with at_most and at_least only.";
                self.flaw(at, format!("'{}' does not fit its condition.", at.get_ref()), remedy);
                return None;
            }
        };
        let line = self.line(at);
        Some((Need { fact: id, least, most, reach, harm: raw.harm.get_ref().clone(), rule: None }, line))
    }

    pub(super) fn effect(
        &mut self,
        at: &Spanned<String>,
        change: impl Fn(&Fact, Option<u8>) -> Change,
    ) -> Option<Effect> {
        let (index, level, reach) = self.reference(at)?;
        let fact = &self.library.facts[index];
        Some(Effect { fact: fact.id.clone(), change: change(fact, level), reach })
    }
}

/// "Did you mean": the known name that shares the longest start, or the list of all.
pub(super) fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str> + Clone) -> String {
    let shared = |k: &str| k.bytes().zip(name.bytes()).take_while(|(a, b)| a == b).count();
    match known.clone().max_by_key(|k| shared(k)).filter(|k| shared(k) >= 3) {
        Some(near) => format!("Did you mean '{near}'?"),
        None => format!("Known: {}.", known.collect::<Vec<_>>().join(", ")),
    }
}
