//! A situation as the search sees it: classes of equal surfaces, facts packed in words, steps that can help.

use crate::library::{Change, Level, Library, Need, Reach, Step};
use crate::situation::{Facts, Group, Place, Situation};
use crate::word::{Range, Turn, layout, turn};
use std::collections::{BTreeMap, BTreeSet};
use units::{Area, Duration};

/// Working time in whole units of 1e-8 minutes: rates per m² are rounded to 1e-4 minutes, areas to 1 cm²,
/// so that sums and multiples are exact and ties are ties.
pub(crate) type Ticks = u64;

/// Ticks in a minute.
pub(crate) const TICKS: f64 = 1e8;
/// Ticks per m² and minute, and units of area per m².
const PARTS: f64 = 1e4;

/// A condition or a change on a word of the shared state: word 0 is the car, then the rooms.
pub(crate) type Shared<T> = Vec<(usize, T)>;

/// What a step asks of and does to one class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Local {
    /// Needs on the class; those on all surfaces too, as far as they look at it.
    pub(crate) needs: Vec<Range>,
    pub(crate) turn: Turn,
    /// Time that the class adds to a use, for each part of its [`Class::scale`]; 0 for steps on the car or
    /// a room.
    pub(crate) rate: Ticks,
}

/// A step that can help, ready for the search.
#[derive(Clone, Debug)]
pub(crate) struct GroundStep {
    /// Index in the library.
    pub(crate) index: usize,
    /// Done to surfaces: chosen class by class.
    pub(crate) surface: bool,
    /// Time of a use before any class joins; the whole time for a step on the car or a room.
    pub(crate) fixed: Ticks,
    /// Needs on the car and rooms.
    pub(crate) shared_needs: Shared<Range>,
    /// Changes of the car and rooms.
    pub(crate) shared_turns: Shared<Turn>,
    /// Needs on all surfaces, as bits over the distinct conditions of that sort.
    pub(crate) every_needs: u128,
    /// By class; for a step on the car: classes that it changes.
    pub(crate) local: Vec<Option<Local>>,
}

/// Surfaces of equal kind, state and order.
#[derive(Clone, Debug)]
pub(crate) struct Class {
    /// Groups of the situation, by index.
    pub(crate) groups: Vec<usize>,
    /// Facts that matter, packed.
    pub(crate) start: u128,
    /// Multiplier of all rates: the area, when no step counts items; else 1.
    pub(crate) scale: u64,
    /// What must hold at the end.
    pub(crate) goals: Vec<Range>,
    /// Conditions on all surfaces that look at this class, by bit.
    pub(crate) every: Vec<(usize, Range)>,
}

/// The whole problem.
#[derive(Clone, Debug)]
pub(crate) struct Ground {
    pub(crate) classes: Vec<Class>,
    pub(crate) steps: Vec<GroundStep>,
    pub(crate) shared_start: Vec<u128>,
    pub(crate) shared_goals: Shared<Range>,
    /// Surfaces of equal kind, state and order may be moved as one. Times go with their areas, so what is
    /// best for one is best for all, unless a use on one of them alone could serve the car or a room.
    pub(crate) teams: bool,
}

/// Where a condition looks: the car, any room, or a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Spot {
    Car,
    Rooms,
    Class(usize),
}

/// Conditions that matter, by spot and fact: sets of (least, most).
type Conditions = BTreeMap<(Spot, usize), BTreeSet<(u8, u8)>>;

impl Ground {
    /// Grounds a situation without flaws.
    pub(crate) fn new(library: &Library, situation: &Situation) -> Self {
        Grounder::new(library, situation).ground()
    }

    /// Whether a use of `later` right after one of `earlier` may have to stay after it: it looks at what the
    /// other changes, or breaks what the other needs, or both change one fact differently.
    pub(crate) fn ordered(&self, earlier: &GroundStep, later: &GroundStep) -> bool {
        let shared = earlier.shared_turns.iter().any(|(word, turn)| {
            later.shared_needs.iter().any(|(w, n)| w == word && turn.touches(*n))
                || later.shared_turns.iter().any(|(w, t)| w == word && turn.clashes(t))
        }) || later
            .shared_turns
            .iter()
            .any(|(word, turn)| earlier.shared_needs.iter().any(|(w, n)| w == word && turn.may_break(*n)));
        shared
            || self.classes.iter().enumerate().any(|(c, class)| {
                let looks = |step: &GroundStep, hit: &dyn Fn(Range) -> bool| {
                    step.local[c].iter().flat_map(|l| &l.needs).any(|n| hit(*n))
                        || class.every.iter().any(|(i, n)| step.every_needs >> i & 1 == 1 && hit(*n))
                };
                let first = earlier.local[c].as_ref().map(|l| &l.turn);
                let second = later.local[c].as_ref().map(|l| &l.turn);
                first.is_some_and(|t| looks(later, &|n| t.touches(n)))
                    || second.is_some_and(|t| looks(earlier, &|n| t.may_break(n)))
                    || first.zip(second).is_some_and(|(a, b)| a.clashes(b))
            })
    }
}

struct Grounder<'a> {
    library: &'a Library,
    situation: &'a Situation,
    teams: bool,
    layout: Vec<(u32, u8)>,
    rooms: Vec<String>,
    members: Vec<Vec<usize>>,
    class_goals: Vec<Vec<&'a Need>>,
    car_goals: Vec<&'a Need>,
    conditions: Conditions,
    /// By library step: helps at all, and by class.
    helps: Vec<(bool, Vec<bool>)>,
}

impl<'a> Grounder<'a> {
    fn new(library: &'a Library, situation: &'a Situation) -> Self {
        let mut rooms: BTreeSet<String> = situation.rooms.iter().map(|r| r.id.clone()).collect();
        rooms.extend(library.steps.iter().map(|s| situation.room_for(s.room).to_owned()));
        let wanted = |place: &Place| -> Vec<&'a Need> {
            let mut needs: Vec<&Need> = Vec::new();
            for want in situation.wants.iter().filter(|w| w.place == *place) {
                needs.extend(library.goal(&want.goal).into_iter().flat_map(|g| &g.wants));
            }
            needs
        };
        let teams = !surfaces_serve_the_car(library);
        let mut merged: BTreeMap<(&str, &Facts, BTreeSet<&str>, u64, u64), usize> = BTreeMap::new();
        let mut members: Vec<Vec<usize>> = Vec::new();
        let mut class_goals = Vec::new();
        let mut car_goals = wanted(&Place::Car);
        for (i, group) in situation.groups.iter().enumerate() {
            let place = Place::Group(group.id.clone());
            let goals = situation
                .wants
                .iter()
                .filter(|w| w.place == place)
                .map(|w| w.goal.as_str())
                .collect::<BTreeSet<_>>();
            // where steps count items, times go with areas only among equals
            let counts =
                library.steps.iter().any(|s| s.per_item > Duration::ZERO && s.kinds.contains(&group.kind));
            let apart = match (teams, counts) {
                (false, _) => (1, i as u64),
                (true, true) => (area_parts(group.area), u64::from(group.items)),
                (true, false) => (0, 0),
            };
            let class =
                *merged.entry((&group.kind, &group.facts, goals, apart.0, apart.1)).or_insert(members.len());
            if class == members.len() {
                let (here, wide): (Vec<&Need>, Vec<&Need>) = wanted(&place).into_iter().partition(|n| {
                    n.reach == Reach::Here && library.fact(&n.fact).is_some_and(|f| f.level == Level::Surface)
                });
                members.push(Vec::new());
                class_goals.push(here);
                car_goals.extend(wide);
            }
            members[class].push(i);
        }
        Self {
            library,
            situation,
            teams,
            layout: layout(library),
            rooms: rooms.into_iter().collect(),
            helps: vec![(false, vec![false; members.len()]); library.steps.len()],
            members,
            class_goals,
            car_goals,
            conditions: Conditions::new(),
        }
    }

    fn ground(mut self) -> Ground {
        self.relevance();
        let mut every: Vec<(usize, u8, u8, Reach)> = Vec::new();
        let mut shared_goals = Vec::new();
        for need in self.car_goals.clone() {
            match self.level(&need.fact) {
                Level::Surface => {}
                Level::Car => shared_goals.push((0, self.range(need))),
                Level::Room => shared_goals.extend((0..self.rooms.len()).map(|r| (r + 1, self.range(need)))),
            }
        }
        let steps: Vec<GroundStep> = (0..self.library.steps.len())
            .filter(|&i| self.helps[i].0)
            .map(|i| self.step(i, &mut every))
            .collect();
        let classes = (0..self.members.len()).map(|c| self.class(c, &every)).collect();
        let mut shared_start = vec![self.pack(&self.situation.car, Level::Car, Spot::Car)];
        for id in &self.rooms {
            let facts = self
                .situation
                .rooms
                .iter()
                .find(|r| r.id == *id)
                .map(|r| r.facts.clone())
                .unwrap_or_default();
            shared_start.push(self.pack(&facts, Level::Room, Spot::Rooms));
        }
        Ground { classes, steps, shared_start, shared_goals, teams: self.teams }
    }

    fn level(&self, fact: &str) -> Level {
        self.library.fact(fact).map_or(Level::Car, |f| f.level)
    }

    fn fact(&self, id: &str) -> usize {
        self.library.fact_index.get(id).copied().unwrap_or(0)
    }

    fn kind(&self, class: usize) -> &'a str {
        &self.situation.groups[self.members[class][0]].kind
    }

    /// Spots that a need or effect of a step looks at; `class` is where it works, if on a surface.
    fn spots(&self, fact: &str, reach: &Reach, class: Option<usize>) -> Vec<Spot> {
        match self.level(fact) {
            Level::Car => vec![Spot::Car],
            Level::Room => vec![Spot::Rooms],
            Level::Surface => match reach {
                Reach::Here => class.map(Spot::Class).into_iter().collect(),
                Reach::Every => (0..self.members.len()).map(Spot::Class).collect(),
                Reach::EveryOf(kind) => {
                    (0..self.members.len()).filter(|&c| self.kind(c) == kind).map(Spot::Class).collect()
                }
            },
        }
    }

    /// Works back from the goals: which conditions matter, which steps can help to meet one.
    fn relevance(&mut self) {
        for class in 0..self.members.len() {
            for need in self.class_goals[class].clone() {
                self.demand(need, Some(class));
            }
        }
        for need in self.car_goals.clone() {
            self.demand(need, None);
        }
        loop {
            let before: usize = self.conditions.values().map(BTreeSet::len).sum();
            for (i, step) in self.library.steps.iter().enumerate() {
                match step.level {
                    Level::Surface => {
                        for class in 0..self.members.len() {
                            if step.kinds.iter().any(|k| k == self.kind(class))
                                && self.can_help(step, Some(class))
                            {
                                self.helps[i].0 = true;
                                self.helps[i].1[class] = true;
                                step.needs.iter().for_each(|n| self.demand(n, Some(class)));
                            }
                        }
                    }
                    Level::Car | Level::Room if self.can_help(step, None) => {
                        self.helps[i].0 = true;
                        step.needs.iter().for_each(|n| self.demand(n, None));
                    }
                    Level::Car | Level::Room => {}
                }
            }
            let after: usize = self.conditions.values().map(BTreeSet::len).sum();
            if after == before {
                break;
            }
        }
    }

    fn demand(&mut self, need: &Need, class: Option<usize>) {
        let fact = self.fact(&need.fact);
        for spot in self.spots(&need.fact, &need.reach, class) {
            self.conditions.entry((spot, fact)).or_default().insert((need.least, need.most));
        }
    }

    fn can_help(&self, step: &Step, class: Option<usize>) -> bool {
        step.effects.iter().any(|effect| {
            let fact = self.fact(&effect.fact);
            let top = self.library.facts[fact].top();
            self.spots(&effect.fact, &effect.reach, class).into_iter().any(|spot| {
                self.conditions.get(&(spot, fact)).is_some_and(|set| {
                    set.iter().any(|&(least, most)| match effect.change {
                        // a grade that is not wanted may still be on the way to one that is
                        Change::To(n) => (least > 0 && n > 0) || (n < top && most < top),
                        Change::Down => most < top,
                    })
                })
            })
        })
    }

    fn range(&self, need: &Need) -> Range {
        let (shift, mask) = self.layout[self.fact(&need.fact)];
        Range { shift, mask, least: need.least, most: need.most }
    }

    fn matters(&self, spot: Spot, fact: usize) -> bool {
        self.conditions.contains_key(&(spot, fact))
    }

    fn pack(&self, facts: &Facts, level: Level, spot: Spot) -> u128 {
        let mut word = 0;
        for (i, fact) in self.library.facts.iter().enumerate() {
            if fact.level == level && self.matters(spot, i) {
                word |= u128::from(facts.level(&fact.id)) << self.layout[i].0;
            }
        }
        word
    }

    fn class(&self, class: usize, every: &[(usize, u8, u8, Reach)]) -> Class {
        let group = &self.situation.groups[self.members[class][0]];
        let mut goals: Vec<Range> = self.class_goals[class].iter().map(|n| self.range(n)).collect();
        for need in self.car_goals.iter().filter(|n| self.level(&n.fact) == Level::Surface) {
            if self.spots(&need.fact, &need.reach, None).contains(&Spot::Class(class)) {
                goals.push(self.range(need));
            }
        }
        goals.sort_unstable();
        goals.dedup();
        let looks = |reach: &Reach| match reach {
            Reach::EveryOf(kind) => *kind == group.kind,
            _ => true,
        };
        let every = every
            .iter()
            .enumerate()
            .filter(|(_, (.., reach))| looks(reach))
            .map(|(i, &(fact, least, most, _))| {
                let (shift, mask) = self.layout[fact];
                (i, Range { shift, mask, least, most })
            })
            .collect();
        let start = self.pack(&group.facts, Level::Surface, Spot::Class(class));
        let scale = if self.by_area(class) { area_parts(self.area(class)) } else { 1 };
        Class { groups: self.members[class].clone(), start, scale, goals, every }
    }

    fn step(&self, index: usize, every: &mut Vec<(usize, u8, u8, Reach)>) -> GroundStep {
        let step = &self.library.steps[index];
        let surface = step.level == Level::Surface;
        let room =
            self.rooms.iter().position(|r| r == self.situation.room_for(step.room)).map_or(0, |i| i + 1);
        let words = |level: Level, reach: &Reach| match level {
            Level::Car => 0..1,
            Level::Room if *reach == Reach::Here => room..room + 1,
            Level::Room => 1..self.rooms.len() + 1,
            Level::Surface => 0..0,
        };
        let mut every_needs = 0u128;
        let mut shared_needs = Vec::new();
        for need in &step.needs {
            let level = self.level(&need.fact);
            if level == Level::Surface && need.reach != Reach::Here {
                let key = (self.fact(&need.fact), need.least, need.most, need.reach.clone());
                let at = every.iter().position(|k| *k == key).unwrap_or_else(|| {
                    every.push(key);
                    every.len() - 1
                });
                // at most 128: the library is held to that on load
                every_needs |= 1 << at;
            }
            shared_needs.extend(words(level, &need.reach).map(|w| (w, self.range(need))));
        }
        let mut turns: BTreeMap<usize, Turn> = BTreeMap::new();
        for effect in &step.effects {
            let (level, fact) = (self.level(&effect.fact), self.fact(&effect.fact));
            let spot = if level == Level::Car { Spot::Car } else { Spot::Rooms };
            if level != Level::Surface && self.matters(spot, fact) {
                for word in words(level, &effect.reach) {
                    turn(turns.entry(word).or_default(), self.layout[fact], effect.change);
                }
            }
        }
        let local = (0..self.members.len()).map(|c| self.local(step, index, c)).collect();
        let on_kinds = |g: &&Group| step.kinds.contains(&g.kind);
        let whole: (Area, u32) = if surface {
            (Area::ZERO, 0)
        } else {
            let counted = self.situation.groups.iter().filter(on_kinds);
            (counted.clone().map(|g| g.area).sum(), counted.map(|g| g.items).sum())
        };
        GroundStep {
            index,
            surface,
            fixed: ticks(step.time(whole.0, whole.1).as_minutes()),
            shared_needs,
            shared_turns: turns.into_iter().collect(),
            every_needs,
            local,
        }
    }

    fn area(&self, class: usize) -> Area {
        self.members[class].iter().map(|&g| self.situation.groups[g].area).sum()
    }

    /// No step that can help the class counts its items, so that all its times go with its area.
    fn by_area(&self, class: usize) -> bool {
        let steps = self.library.steps.iter().enumerate();
        steps
            .filter(|(i, s)| s.level == Level::Surface && self.helps[*i].1[class])
            .all(|(_, s)| s.per_item == Duration::ZERO)
    }

    fn local(&self, step: &Step, index: usize, class: usize) -> Option<Local> {
        let surface = step.level == Level::Surface;
        if surface && !self.helps[index].1[class] {
            return None;
        }
        let mut change = Turn::default();
        let mut touched = false;
        for effect in &step.effects {
            let fact = self.fact(&effect.fact);
            let reached = self.level(&effect.fact) == Level::Surface
                && self.spots(&effect.fact, &effect.reach, Some(class)).contains(&Spot::Class(class));
            if reached && self.matters(Spot::Class(class), fact) {
                turn(&mut change, self.layout[fact], effect.change);
                touched = true;
            }
        }
        if !surface && !touched {
            return None;
        }
        let on_class = |n: &&Need| {
            self.level(&n.fact) == Level::Surface
                && self.spots(&n.fact, &n.reach, Some(class)).contains(&Spot::Class(class))
        };
        let needs = step.needs.iter().filter(on_class).map(|n| self.range(n)).collect();
        let rate = match surface {
            false => 0,
            true if self.by_area(class) => ticks(step.per_m2.as_minutes() / PARTS),
            true => {
                let items: u64 =
                    self.members[class].iter().map(|&g| u64::from(self.situation.groups[g].items)).sum();
                let per_area = ticks(step.per_m2.as_minutes() / PARTS) * area_parts(self.area(class));
                per_area + ticks(step.per_item.as_minutes()) * items
            }
        };
        Some(Local { needs, turn: change, rate })
    }
}

/// Whether some step on surfaces brings the car or a room what a step or goal asks for.
fn surfaces_serve_the_car(library: &Library) -> bool {
    let asks =
        || library.steps.iter().flat_map(|s| &s.needs).chain(library.goals.iter().flat_map(|g| &g.wants));
    let lowered = |fact: &str| {
        library.steps.iter().flat_map(|s| &s.effects).any(|e| e.fact == fact && e.change == Change::Down)
    };
    let on_surfaces = library.steps.iter().filter(|s| s.level == Level::Surface).flat_map(|s| &s.effects);
    on_surfaces.filter(|e| library.fact(&e.fact).is_some_and(|f| f.level != Level::Surface)).any(|e| match e
        .change
    {
        Change::To(n) => lowered(&e.fact) || asks().any(|need| need.fact == e.fact && need.allows(n)),
        Change::Down => true,
    })
}

fn area_parts(area: Area) -> u64 {
    (area.as_m2() * PARTS).round() as u64
}

fn ticks(minutes: f64) -> Ticks {
    (minutes * TICKS).round() as Ticks
}
