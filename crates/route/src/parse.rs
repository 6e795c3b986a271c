//! From TOML to a library, with the line of every flaw.

mod refer;

use crate::library::{
    CareInterval, Caution, Change, Dilution, Effect, Fact, Goal, Kind, Level, Library, LibraryFlaw, Product,
    Reach, Step, Wait,
};
use crate::raw::{RawCare, RawFact, RawGoal, RawLibrary, RawProduct, RawStep};
use crate::validate::{NeedLines, validate};
use refer::nearest;
use std::collections::BTreeMap;
use toml::Spanned;
use units::{Duration, Volume};

/// Longest time that anything in the library may take, in minutes: two days of work.
const LONGEST_MINUTES: f64 = 2880.0;
/// Longest wait, in minutes: sixty days.
const LONGEST_WAIT: f64 = 86_400.0;

/// Reads and validates.
pub(crate) fn parse(text: &str, origin: &str) -> Result<Library, Vec<LibraryFlaw>> {
    let raw: RawLibrary = toml::from_str(text).map_err(|error| {
        let line = error.span().map_or(1, |span| line_at(text, span.start));
        let what = format!("{}.", error.message().trim_end_matches('.'));
        vec![LibraryFlaw { origin: origin.to_owned(), line, what, remedy: "Correct the file there.".into() }]
    })?;
    Reader { text, origin, flaws: Vec::new(), library: empty(), every_clears: Vec::new() }.read(raw)
}

fn empty() -> Library {
    Library {
        kinds: Vec::new(),
        facts: Vec::new(),
        rules: Vec::new(),
        steps: Vec::new(),
        goals: Vec::new(),
        cautions: Vec::new(),
        care: Vec::new(),
        fact_index: BTreeMap::new(),
        step_index: BTreeMap::new(),
        goal_index: BTreeMap::new(),
    }
}

/// How an entry of a list changes its fact, given the grade written with it.
type ReadChange = fn(&Fact, Option<u8>) -> Change;

fn line_at(text: &str, offset: usize) -> usize {
    text.as_bytes().iter().take(offset).filter(|b| **b == b'\n').count() + 1
}

struct Reader<'a> {
    text: &'a str,
    origin: &'a str,
    flaws: Vec<LibraryFlaw>,
    library: Library,
    every_clears: Vec<Effect>,
}

impl Reader<'_> {
    fn read(mut self, raw: RawLibrary) -> Result<Library, Vec<LibraryFlaw>> {
        for kind in raw.kind {
            let taken = self.library.kinds.iter().any(|k| k.id == *kind.id.get_ref());
            self.once(taken, &kind.id, "kind of surface");
            self.library.kinds.push(Kind { id: kind.id.into_inner(), name: kind.name });
        }
        for fact in raw.fact {
            self.fact(fact);
        }
        for caution in raw.caution {
            let taken = self.library.cautions.iter().any(|c| c.id == *caution.id.get_ref());
            self.once(taken, &caution.id, "caution");
            self.library.cautions.push(Caution { id: caution.id.into_inner(), text: caution.text });
        }
        for rule in raw.rule {
            self.rule(rule);
        }
        for clear in &raw.every_step.clears {
            if let Some(effect) = self.effect(clear, |_, _| Change::To(0)) {
                self.every_clears.push(effect);
            }
        }
        let mut lines = Vec::new();
        for step in raw.step {
            self.step(step, &mut lines);
        }
        let mut goal_lines = Vec::new();
        for goal in raw.goal {
            goal_lines.push(self.line(&goal.id));
            self.goal(goal);
        }
        for care in raw.care {
            self.care(care);
        }
        validate(&self.library, &lines, &goal_lines, &mut |line, what, remedy| {
            self.flaws.push(LibraryFlaw { origin: self.origin.to_owned(), line, what, remedy });
        });
        if self.flaws.is_empty() {
            Ok(self.library)
        } else {
            self.flaws.sort_by_key(|f| f.line);
            Err(self.flaws)
        }
    }

    fn line<T>(&self, at: &Spanned<T>) -> usize {
        line_at(self.text, at.span().start)
    }

    fn flaw<T>(&mut self, at: &Spanned<T>, what: String, remedy: impl Into<String>) {
        let line = self.line(at);
        self.flaws.push(LibraryFlaw { origin: self.origin.to_owned(), line, what, remedy: remedy.into() });
    }

    fn once(&mut self, taken: bool, id: &Spanned<String>, what: &str) {
        if taken {
            self.flaw(id, format!("The {what} '{}' is there twice.", id.get_ref()), "Give it another id.");
        }
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
        if id.get_ref().is_empty() || !id.get_ref().chars().all(plain) {
            self.flaw(
                id,
                format!("'{}' is no id.", id.get_ref()),
                "Use small letters, digits and underscores.",
            );
        }
    }

    fn fact(&mut self, raw: RawFact) {
        let id = raw.id.get_ref().clone();
        self.once(self.library.fact_index.contains_key(&id), &raw.id, "fact");
        if raw.grades.len() == 1 || raw.grades.len() > 3 {
            self.flaw(
                &raw.id,
                format!("The fact '{id}' has {} grades.", raw.grades.len()),
                "Give none, two or three.",
            );
        }
        self.library.fact_index.insert(id.clone(), self.library.facts.len());
        self.library.facts.push(Fact {
            id,
            level: raw.level,
            name: raw.name,
            text: raw.text,
            grades: raw.grades,
            found: raw.found,
            stays: raw.stays,
        });
    }

    fn minutes(&mut self, at: Option<&Spanned<f64>>) -> f64 {
        let Some(at) = at else { return 0.0 };
        let minutes = *at.get_ref();
        if minutes.is_finite() && (0.0..=LONGEST_MINUTES).contains(&minutes) {
            return minutes;
        }
        self.flaw(at, format!("{minutes} minutes make no sense."), format!("Give 0 to {LONGEST_MINUTES}."));
        0.0
    }

    fn step(&mut self, raw: RawStep, lines: &mut Vec<NeedLines>) {
        let id = raw.id.get_ref().clone();
        self.once(self.library.step_index.contains_key(&id), &raw.id, "step");
        if raw.title.get_ref().trim().is_empty() {
            self.flaw(&raw.title, format!("The step '{id}' has no title."), "Say what to do.");
        }
        if raw.level == Level::Surface && raw.kinds.is_empty() {
            self.flaw(
                &raw.id,
                format!("The step '{id}' names no kinds of surface."),
                "List them in 'kinds'.",
            );
        }
        for kind in &raw.kinds {
            self.known_kind(kind, kind.get_ref());
        }
        let mut need_lines = NeedLines { step: self.line(&raw.id), needs: Vec::new() };
        let mut needs = Vec::new();
        for rule in &raw.rules {
            match self.library.rules.iter().find(|r| r.id == *rule.get_ref()) {
                Some(found) => {
                    needs.push(found.need.clone());
                    need_lines.needs.push(self.line(rule));
                }
                None => {
                    let near = nearest(rule.get_ref(), self.library.rules.iter().map(|r| r.id.as_str()));
                    self.flaw(rule, format!("There is no rule '{}'.", rule.get_ref()), near);
                }
            }
        }
        for need in &raw.needs {
            if let Some((need, line)) = self.need(need) {
                needs.push(need);
                need_lines.needs.push(line);
            }
        }
        let mut effects: Vec<Effect> = Vec::new();
        let lists: [(&[Spanned<String>], ReadChange); 3] = [
            (&raw.clears, |_, _| Change::To(0)),
            (&raw.lowers, |_, _| Change::Down),
            (&raw.adds, |fact, level| Change::To(level.unwrap_or(fact.top()))),
        ];
        for (list, change) in lists {
            for at in list {
                let Some(effect) = self.effect(at, change) else { continue };
                if effects.iter().any(|e| e.fact == effect.fact && overlap(&e.reach, &effect.reach)) {
                    self.flaw(
                        at,
                        format!("'{id}' changes '{}' twice.", effect.fact),
                        "Keep one of the changes.",
                    );
                }
                self.effect_level(at, raw.level, &effect);
                effects.push(effect);
            }
        }
        if !raw.quiet {
            for effect in &self.every_clears {
                if !effects.iter().any(|e| e.fact == effect.fact) {
                    effects.push(effect.clone());
                }
            }
        }
        let fixed = self.minutes(raw.minutes.as_ref());
        let per_m2 = self.minutes(raw.minutes_per_m2.as_ref());
        let per_item = self.minutes(raw.minutes_per_item.as_ref());
        if fixed + per_m2 + per_item <= 0.0 {
            self.flaw(
                &raw.id,
                format!("The step '{id}' takes no time."),
                "Give minutes, minutes_per_m2 or _per_item.",
            );
        }
        let people = raw.people.as_ref().map_or(1, |p| *p.get_ref());
        if let Some(at) = raw.people.as_ref().filter(|p| !(1..=8).contains(p.get_ref())) {
            self.flaw(at, format!("'{id}' takes {people} people."), "Give 1 to 8.");
        }
        for caution in &raw.cautions {
            if !self.library.cautions.iter().any(|c| c.id == *caution.get_ref()) {
                let near = nearest(caution.get_ref(), self.library.cautions.iter().map(|c| c.id.as_str()));
                self.flaw(caution, format!("There is no caution '{}'.", caution.get_ref()), near);
            }
        }
        let products = raw.products.into_iter().map(|p| self.product(p)).collect();
        let wait = self.wait(raw.wait.as_ref());
        self.library.step_index.insert(id.clone(), self.library.steps.len());
        self.library.steps.push(Step {
            id,
            title: raw.title.into_inner(),
            level: raw.level,
            kinds: raw.kinds.into_iter().map(Spanned::into_inner).collect(),
            needs,
            effects,
            fixed: Duration::minutes(fixed),
            per_m2: Duration::minutes(per_m2),
            per_item: Duration::minutes(per_item),
            people,
            skill: raw.skill,
            room: raw.room,
            air: raw.air,
            tools: raw.tools,
            products,
            wait,
            cautions: raw.cautions.into_iter().map(Spanned::into_inner).collect(),
            pictures: raw.pictures,
            check: raw.check,
            removes_clear_coat: raw.removes_clear_coat,
        });
        lines.push(need_lines);
    }

    fn effect_level(&mut self, at: &Spanned<String>, level: Level, effect: &Effect) {
        let surface_fact = self.library.fact(&effect.fact).is_some_and(|f| f.level == Level::Surface);
        match (level, surface_fact, &effect.reach) {
            (Level::Surface, true, Reach::Every | Reach::EveryOf(_)) => self.flaw(
                at,
                format!("A step on surfaces changes '{}' where it does not work.", effect.fact),
                "Make it a step on the car, or use a fact of the car.",
            ),
            (Level::Car | Level::Room, true, Reach::Here) => self.flaw(
                at,
                format!("A step on the car or a room has no surface for '{}'.", effect.fact),
                format!("Write '{}@every' or name a kind.", effect.fact),
            ),
            _ => {}
        }
    }

    fn product(&mut self, raw: RawProduct) -> Product {
        let mut amount = |ml: f64| {
            if ml.is_finite() && (0.0..=1e6).contains(&ml) {
                return Volume::ml(ml);
            }
            self.flaw(&raw.name, format!("{ml} mL make no sense."), "Give 0 or more.");
            Volume::ZERO
        };
        let (each_use, per_m2, per_item) = (amount(raw.ml), amount(raw.ml_per_m2), amount(raw.ml_per_item));
        let mut water = 0.0;
        if let Some(at) = &raw.dilution {
            let parts = at.get_ref().split_once(':').filter(|(one, _)| one.trim() == "1");
            match parts.and_then(|(_, w)| w.trim().parse::<f64>().ok()).filter(|w| w.is_finite() && *w >= 0.0)
            {
                Some(w) => water = w,
                None => {
                    let remedy = "Write one part of concentrate to parts of water, as in '1:10'.";
                    self.flaw(at, format!("'{}' is no dilution.", at.get_ref()), remedy);
                }
            }
        }
        Product { name: raw.name.into_inner(), each_use, per_m2, per_item, dilution: Dilution { water } }
    }

    fn wait(&mut self, raw: Option<&Spanned<crate::raw::RawWait>>) -> Wait {
        let Some(at) = raw else { return Wait::default() };
        let (least, most) = (at.get_ref().least_minutes, at.get_ref().most_minutes);
        let sound = |m: f64| m.is_finite() && (0.0..=LONGEST_WAIT).contains(&m);
        if !sound(least) || !most.is_none_or(|m| sound(m) && m >= least) {
            let remedy = format!("Give 0 to {LONGEST_WAIT} minutes, the most not below the least.");
            self.flaw(at, "The wait makes no sense.".into(), remedy);
            return Wait::default();
        }
        Wait { least: Duration::minutes(least), most: most.map(Duration::minutes) }
    }

    fn goal(&mut self, raw: RawGoal) {
        let id = raw.id.get_ref().clone();
        self.once(self.library.goal_index.contains_key(&id), &raw.id, "goal");
        if raw.level == Level::Room {
            self.flaw(
                &raw.id,
                format!("The goal '{id}' is for a room."),
                "Goals are for surfaces or the car.",
            );
        }
        if raw.wants.is_empty() {
            self.flaw(&raw.id, format!("The goal '{id}' wants nothing."), "Say what must hold at the end.");
        }
        for kind in &raw.kinds {
            self.known_kind(kind, kind.get_ref());
        }
        let mut wants = Vec::new();
        for want in &raw.wants {
            let Some((want, _)) = self.need(want) else { continue };
            let surface = self.library.fact(&want.fact).is_some_and(|f| f.level == Level::Surface);
            if raw.level == Level::Car && surface && want.reach == Reach::Here {
                let what =
                    format!("The goal '{id}' is for the car and looks at '{}' of surfaces.", want.fact);
                self.flaw(&raw.id, what, format!("Write '{}@every' or name a kind.", want.fact));
            }
            wants.push(want);
        }
        self.library.goal_index.insert(id.clone(), self.library.goals.len());
        let kinds = raw.kinds.into_iter().map(Spanned::into_inner).collect();
        self.library.goals.push(Goal { id, title: raw.title, level: raw.level, kinds, wants });
    }

    fn care(&mut self, raw: RawCare) {
        let taken = self.library.care.iter().any(|c| c.id == *raw.id.get_ref());
        self.once(taken, &raw.id, "care interval");
        for kind in &raw.kinds {
            self.known_kind(kind, kind.get_ref());
        }
        let fact = raw
            .fact
            .as_ref()
            .and_then(|at| self.reference(at))
            .map(|(i, _, _)| self.library.facts[i].id.clone());
        let sound = |d: f64| d.is_finite() && (0.0..=36_500.0).contains(&d);
        if !(sound(raw.least_days)
            && sound(raw.most_days)
            && raw.least_days <= raw.most_days
            && raw.most_days > 0.0)
        {
            self.flaw(
                &raw.id,
                "The interval makes no sense.".into(),
                "Give days, the most not below the least.",
            );
        }
        self.library.care.push(CareInterval {
            id: raw.id.into_inner(),
            what: raw.what,
            kinds: raw.kinds.into_iter().map(Spanned::into_inner).collect(),
            fact,
            least: Duration::days(raw.least_days),
            most: Duration::days(raw.most_days),
            source: raw.source,
        });
    }
}

fn overlap(a: &Reach, b: &Reach) -> bool {
    match (a, b) {
        (Reach::EveryOf(a), Reach::EveryOf(b)) => a == b,
        _ => true,
    }
}
