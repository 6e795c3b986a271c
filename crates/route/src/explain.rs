//! Why each step of a route is there, and what stands in the way where there is no route.

use crate::library::{Fact, Level, Library, Need, Reach, Step};
use crate::order::{Cell, Trace, Write};
use crate::outcome::{Obstacle, Purpose, Reason};
use crate::situation::{Group, Place, Situation, StepUse};
use std::collections::{BTreeMap, BTreeSet};

/// The reasons of each use of a valid sequence.
pub(crate) fn reasons(
    library: &Library,
    situation: &Situation,
    trace: &Trace<'_>,
    uses: &[StepUse],
) -> Vec<Vec<Reason>> {
    let mut readers: BTreeMap<Cell, Vec<(usize, &Need)>> = BTreeMap::new();
    let mut writers: BTreeMap<Cell, Vec<(usize, Write)>> = BTreeMap::new();
    for (j, touch) in trace.touches.iter().enumerate() {
        touch.reads.iter().for_each(|&(cell, need)| readers.entry(cell).or_default().push((j, need)));
        touch.writes.iter().for_each(|&w| writers.entry(w.cell).or_default().push((j, w)));
    }
    let mut all = Vec::new();
    for (i, touch) in trace.touches.iter().enumerate() {
        let mut found: BTreeMap<(&str, Purpose), (Write, &Need, usize)> = BTreeMap::new();
        for &write in touch.writes.iter().filter(|w| w.before != w.after) {
            let undone = writers
                .get(&write.cell)
                .into_iter()
                .flatten()
                .find(|(k, w)| *k > i && away(w.after, write))
                .map_or(usize::MAX, |(k, _)| *k);
            let mut note = |purpose: Purpose, need| {
                let entry =
                    found.entry((trace.fact(write.cell).id.as_str(), purpose)).or_insert((write, need, 0));
                entry.2 += 1;
            };
            for &(j, need) in readers.get(&write.cell).into_iter().flatten() {
                if j > i && j <= undone && serves(write, need) {
                    note(Purpose::Step(j), need);
                    break;
                }
            }
            for wish in trace.wishes.iter().filter(|w| w.cell == write.cell) {
                if undone == usize::MAX && serves(write, wish.need) {
                    note(Purpose::Goal(wish.goal.to_owned()), wish.need);
                }
            }
        }
        let told = |((fact, purpose), (write, need, places)): ((&str, Purpose), (Write, &Need, usize))| {
            let place = trace.place(write.cell).clone();
            let on = match (&place, places) {
                (Place::Car, _) => String::new(),
                (place, 1) => format!(" ({})", situation.name_of(place)),
                (place, n) => format!(" ({} and {} more)", situation.name_of(place), n - 1),
            };
            let text = tell(library, trace.fact(write.cell), write, &on, &purpose, need, uses);
            let (fact, change) = (fact.to_owned(), (write.before, write.after));
            Reason { place, fact, change, purpose, harm: need.harm.clone(), text }
        };
        let mut reasons: Vec<Reason> = found.into_iter().map(told).collect();
        reasons.sort_by(|a, b| (&a.purpose, &a.fact).cmp(&(&b.purpose, &b.fact)));
        all.push(reasons);
    }
    all
}

/// Whether a change brings a level that a need refused nearer to what it allows.
fn serves(write: Write, need: &Need) -> bool {
    !need.allows(write.before)
        && (need.allows(write.after)
            || (write.before > need.most && write.after < write.before)
            || (write.before < need.least && write.after > write.before))
}

/// Whether a later level goes back behind what a change had reached.
fn away(later: u8, write: Write) -> bool {
    if write.after < write.before { later >= write.before } else { later <= write.before }
}

fn tell(
    library: &Library,
    fact: &Fact,
    write: Write,
    on: &str,
    purpose: &Purpose,
    need: &Need,
    uses: &[StepUse],
) -> String {
    let change = if write.after == 0 {
        format!("Takes away {}", fact.at(write.before))
    } else if write.after < write.before {
        format!("Brings {} down to {}", fact.at(write.before), fact.at(write.after))
    } else {
        format!("Brings {}", fact.at(write.after))
    };
    match purpose {
        Purpose::Step(j) => {
            let title = library.step(&uses[*j].step).map_or(uses[*j].step.as_str(), |s| &s.title);
            format!("{change}{on} before '{title}'. Otherwise: {}.", need.harm)
        }
        Purpose::Goal(id) => {
            let title = library.goal(id).map_or(id.as_str(), |g| &g.title);
            format!("{change}{on} for '{title}'. Otherwise: {}.", need.harm)
        }
    }
}

/// Why goals are out of reach: what no sequence can bring about even if nothing were ever undone.
pub(crate) fn obstacles(library: &Library, situation: &Situation) -> Vec<Obstacle> {
    Relaxed::new(library, situation).obstacles()
}

/// Levels that each fact can reach at each place when nothing is ever undone, as bits.
struct Relaxed<'a> {
    library: &'a Library,
    situation: &'a Situation,
    reach: BTreeMap<Place, BTreeMap<&'a str, u8>>,
    found: Vec<Obstacle>,
    seen: BTreeSet<(Place, String, u8, u8)>,
}

impl<'a> Relaxed<'a> {
    fn new(library: &'a Library, situation: &'a Situation) -> Self {
        let mut relaxed =
            Self { library, situation, reach: BTreeMap::new(), found: Vec::new(), seen: BTreeSet::new() };
        let state = crate::simulate::start(library, situation);
        for fact in &library.facts {
            let mut start = |place: Place, level: u8| {
                relaxed.reach.entry(place).or_default().insert(fact.id.as_str(), 1 << level);
            };
            match fact.level {
                Level::Car => start(Place::Car, state.car.level(&fact.id)),
                Level::Room => {
                    state.rooms.iter().for_each(|(id, f)| start(Place::Room(id.clone()), f.level(&fact.id)));
                }
                Level::Surface => {
                    let groups = &situation.groups;
                    groups.iter().for_each(|g| start(Place::Group(g.id.clone()), g.facts.level(&fact.id)));
                }
            }
        }
        while relaxed.grow() {}
        relaxed
    }

    fn grow(&mut self) -> bool {
        let mut grown = false;
        for step in &self.library.steps {
            for group in self.workplaces(step) {
                if step.needs.iter().any(|n| self.lacking(step, group, n).is_some()) {
                    continue;
                }
                for effect in &step.effects {
                    for place in self.places(step, group, &effect.fact, &effect.reach) {
                        if let Some(levels) =
                            self.reach.get_mut(&place).and_then(|f| f.get_mut(effect.fact.as_str()))
                        {
                            let after = (0..4)
                                .filter(|l| *levels >> l & 1 == 1)
                                .fold(*levels, |all, l| all | 1 << effect.change.of(l));
                            grown |= after != *levels;
                            *levels = after;
                        }
                    }
                }
            }
        }
        grown
    }

    fn workplaces(&self, step: &Step) -> Vec<Option<&'a Group>> {
        match step.level {
            Level::Surface => {
                self.situation.groups.iter().filter(|g| step.kinds.contains(&g.kind)).map(Some).collect()
            }
            _ => vec![None],
        }
    }

    fn places(&self, step: &Step, group: Option<&Group>, fact: &str, reach: &Reach) -> Vec<Place> {
        match self.library.fact(fact).map_or(Level::Car, |f| f.level) {
            Level::Car => vec![Place::Car],
            Level::Room if *reach == Reach::Here => {
                vec![Place::Room(self.situation.room_for(step.room).to_owned())]
            }
            Level::Room => self.reach.keys().filter(|p| matches!(p, Place::Room(_))).cloned().collect(),
            Level::Surface => self
                .situation
                .groups
                .iter()
                .filter(|g| match reach {
                    Reach::Here => group.is_some_and(|here| here.id == g.id),
                    Reach::Every => true,
                    Reach::EveryOf(kind) => g.kind == *kind,
                })
                .map(|g| Place::Group(g.id.clone()))
                .collect(),
        }
    }

    fn lacking(&self, step: &Step, group: Option<&Group>, need: &Need) -> Option<Place> {
        self.places(step, group, &need.fact, &need.reach).into_iter().find(|p| !self.allowed(p, need))
    }

    fn allowed(&self, place: &Place, need: &Need) -> bool {
        let levels = self.reach.get(place).and_then(|f| f.get(need.fact.as_str())).copied().unwrap_or(0);
        (need.least..=need.most).any(|l| levels >> l & 1 == 1)
    }

    fn obstacles(mut self) -> Vec<Obstacle> {
        for want in &self.situation.wants {
            let Some(goal) = self.library.goal(&want.goal) else { continue };
            for need in &goal.wants {
                let places = match (&want.place, self.library.fact(&need.fact).map(|f| f.level)) {
                    (Place::Group(id), Some(Level::Surface)) if need.reach == Reach::Here => {
                        vec![Place::Group(id.clone())]
                    }
                    _ => self
                        .library
                        .steps
                        .first()
                        .map_or_else(Vec::new, |s| self.places(s, None, &need.fact, &wide(&need.reach))),
                };
                for place in places.into_iter().filter(|p| !self.allowed(p, need)).collect::<Vec<_>>() {
                    self.blame(&place, need, &goal.title, 0);
                }
            }
        }
        self.found
    }

    /// Follows an unmet need back to what nothing can change.
    fn blame(&mut self, place: &Place, need: &'a Need, blocked: &str, depth: usize) {
        if depth > 12 || !self.seen.insert((place.clone(), need.fact.clone(), need.least, need.most)) {
            return;
        }
        let library = self.library;
        let mut ways = 0;
        for step in &library.steps {
            let brings = |e: &crate::library::Effect| {
                e.fact == need.fact
                    && (0..4).any(|l| {
                        !need.allows(l)
                            && (need.allows(e.change.of(l)) || e.change.of(l) < l && l > need.most)
                    })
            };
            for group in self.workplaces(step) {
                let here = step
                    .effects
                    .iter()
                    .any(|e| brings(e) && self.places(step, group, &e.fact, &e.reach).contains(place));
                if !here {
                    continue;
                }
                ways += 1;
                let lacking: Vec<(Place, &'a Need)> =
                    step.needs.iter().filter_map(|n| Some((self.lacking(step, group, n)?, n))).collect();
                for (at, lack) in lacking {
                    self.blame(&at, lack, &step.title, depth + 1);
                }
            }
        }
        if ways == 0 {
            let name = library.fact(&need.fact).map_or(need.fact.as_str(), |f| f.name.as_str());
            let place_name = self.situation.name_of(place);
            let text = if need.least > 0 {
                format!(
                    "'{blocked}' needs {name} on {place_name}, and no step brings it there. {}.",
                    need.harm
                )
            } else {
                format!(
                    "'{blocked}' is not possible with {name} on {place_name}, and no step takes it away. {}.",
                    need.harm
                )
            };
            self.found.push(Obstacle {
                place: place.clone(),
                blocked: blocked.to_owned(),
                fact: need.fact.clone(),
                text,
            });
        }
    }
}

fn wide(reach: &Reach) -> Reach {
    match reach {
        Reach::Here => Reach::Every,
        other => other.clone(),
    }
}
