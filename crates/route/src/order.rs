//! What depends on what in a sequence: the order that matters, apart from the order of the list.

use crate::library::{Change, Level, Library, Need, Reach};
use crate::situation::{Place, Situation, StepUse};
use std::collections::BTreeMap;

/// A fact at a place, numbered.
pub(crate) type Cell = usize;

/// What a use reads and writes.
#[derive(Default)]
pub(crate) struct Touch<'a> {
    pub(crate) reads: Vec<(Cell, &'a Need)>,
    pub(crate) writes: Vec<Write>,
}

/// A change of a cell and its levels before and after.
#[derive(Clone, Copy)]
pub(crate) struct Write {
    pub(crate) cell: Cell,
    change: Change,
    pub(crate) before: u8,
    pub(crate) after: u8,
}

/// A goal's condition on a cell.
pub(crate) struct Wish<'a> {
    pub(crate) cell: Cell,
    pub(crate) need: &'a Need,
    pub(crate) goal: &'a str,
}

/// A sequence played through, with all that its uses touch.
pub(crate) struct Trace<'a> {
    library: &'a Library,
    places: Vec<Place>,
    pub(crate) touches: Vec<Touch<'a>>,
    pub(crate) wishes: Vec<Wish<'a>>,
}

impl<'a> Trace<'a> {
    /// Plays a sequence whose uses make sense.
    pub(crate) fn new(library: &'a Library, situation: &'a Situation, uses: &[StepUse]) -> Self {
        let state = crate::simulate::start(library, situation);
        let mut places = vec![Place::Car];
        let mut levels = vec![state.car.clone()];
        for (id, facts) in &state.rooms {
            places.push(Place::Room(id.clone()));
            levels.push(facts.clone());
        }
        let first_group = places.len();
        for group in &situation.groups {
            places.push(Place::Group(group.id.clone()));
            levels.push(group.facts.clone());
        }
        let width = library.facts.len();
        let mut cells = vec![0u8; places.len() * width];
        for (p, facts) in levels.iter().enumerate() {
            for (id, level) in facts.iter() {
                if let Some(f) = library.fact_index.get(id) {
                    cells[p * width + f] = level;
                }
            }
        }
        let room_at: BTreeMap<&str, usize> =
            state.rooms.keys().enumerate().map(|(i, id)| (id.as_str(), i + 1)).collect();
        let group_at: BTreeMap<&str, usize> =
            situation.groups.iter().enumerate().map(|(i, g)| (g.id.as_str(), first_group + i)).collect();
        let reached = |fact: &str, reach: &Reach, here: &[usize], room: usize| -> (usize, Vec<usize>) {
            let f = library.fact_index.get(fact).copied().unwrap_or(0);
            let at = match (library.facts[f].level, reach) {
                (Level::Car, _) => vec![0],
                (Level::Room, Reach::Here) => vec![room],
                (Level::Room, _) => (1..first_group).collect(),
                (Level::Surface, Reach::Here) => here.to_vec(),
                (Level::Surface, Reach::Every) => (first_group..places.len()).collect(),
                (Level::Surface, Reach::EveryOf(kind)) => {
                    let of_kind = situation.groups.iter().enumerate().filter(|(_, g)| g.kind == *kind);
                    of_kind.map(|(i, _)| first_group + i).collect()
                }
            };
            (f, at)
        };
        let mut touches = Vec::new();
        for used in uses {
            let mut touch = Touch::default();
            if let Some(step) = library.step(&used.step) {
                let room = room_at.get(situation.room_for(step.room)).copied().unwrap_or(0);
                let here: Vec<usize> =
                    used.groups.iter().filter_map(|g| group_at.get(g.as_str()).copied()).collect();
                for need in &step.needs {
                    let (f, at) = reached(&need.fact, &need.reach, &here, room);
                    touch.reads.extend(at.into_iter().map(|p| (p * width + f, need)));
                }
                for effect in &step.effects {
                    let (f, at) = reached(&effect.fact, &effect.reach, &here, room);
                    for cell in at.into_iter().map(|p| p * width + f) {
                        let before = cells[cell];
                        cells[cell] = effect.change.of(before);
                        touch.writes.push(Write { cell, change: effect.change, before, after: cells[cell] });
                    }
                }
            }
            touches.push(touch);
        }
        let mut wishes = Vec::new();
        for want in &situation.wants {
            let here: Vec<usize> = match &want.place {
                Place::Group(id) => group_at.get(id.as_str()).copied().into_iter().collect(),
                _ => Vec::new(),
            };
            let Some(goal) = library.goal(&want.goal) else { continue };
            for need in &goal.wants {
                let room_wide = library.fact(&need.fact).is_some_and(|f| f.level == Level::Room);
                let reach = if room_wide { &Reach::Every } else { &need.reach };
                let (f, at) = reached(&need.fact, reach, &here, 0);
                wishes.extend(at.into_iter().map(|p| Wish { cell: p * width + f, need, goal: &goal.id }));
            }
        }
        Self { library, places, touches, wishes }
    }

    /// The place of a cell.
    pub(crate) fn place(&self, cell: Cell) -> &Place {
        &self.places[cell / self.library.facts.len()]
    }

    /// The fact of a cell.
    pub(crate) fn fact(&self, cell: Cell) -> &'a crate::library::Fact {
        &self.library.facts[cell % self.library.facts.len()]
    }

    /// For each use, the earlier ones that must stay before it. Every order that keeps these links plays
    /// through to the same end: writers that differ keep their order, so each need finds the same level.
    pub(crate) fn links(&self) -> Vec<Vec<usize>> {
        let mut links = vec![Vec::new(); self.touches.len()];
        let mut readers: BTreeMap<Cell, Vec<(usize, &Need)>> = BTreeMap::new();
        let mut writers: BTreeMap<Cell, Vec<(usize, Write)>> = BTreeMap::new();
        let read_ever = self.read_ever();
        for (j, touch) in self.touches.iter().enumerate() {
            for &(cell, need) in &touch.reads {
                for &(i, write) in writers.get(&cell).into_iter().flatten() {
                    let keeps = matches!(write.change, Change::To(_))
                        && need.allows(write.before)
                        && need.allows(write.after);
                    if !keeps {
                        links[j].push(i);
                    }
                }
            }
            for write in touch.writes.iter().filter(|w| read_ever.contains(&w.cell)) {
                for &(i, need) in readers.get(&write.cell).into_iter().flatten() {
                    let harmless = match write.change {
                        Change::To(n) => need.allows(n),
                        Change::Down => need.least == 0,
                    };
                    if !harmless {
                        links[j].push(i);
                    }
                }
                for &(i, earlier) in writers.get(&write.cell).into_iter().flatten() {
                    if earlier.change == Change::Down || earlier.change != write.change {
                        links[j].push(i);
                    }
                }
            }
            for &(cell, need) in &touch.reads {
                readers.entry(cell).or_default().push((j, need));
            }
            for &write in touch.writes.iter().filter(|w| read_ever.contains(&w.cell)) {
                writers.entry(write.cell).or_default().push((j, write));
            }
            links[j].retain(|&i| i != j);
            links[j].sort_unstable();
            links[j].dedup();
        }
        links
    }

    fn read_ever(&self) -> std::collections::BTreeSet<Cell> {
        let reads = self.touches.iter().flat_map(|t| t.reads.iter().map(|r| r.0));
        reads.chain(self.wishes.iter().map(|w| w.cell)).collect()
    }

    /// The first later use that takes away something that use `i` left.
    pub(crate) fn answer(&self, i: usize) -> Option<usize> {
        let left = |cell: Cell| self.touches[i].writes.iter().any(|w| w.cell == cell && w.after > w.before);
        let takes = |t: &Touch<'_>| t.writes.iter().any(|w| w.after < w.before && left(w.cell));
        (i + 1..self.touches.len()).find(|&j| takes(&self.touches[j]))
    }
}

/// Drops links that others imply; `links[j]` holds indices below `j`.
pub(crate) fn reduce(links: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let n = links.len();
    let mut before = vec![vec![false; n]; n];
    for (j, own) in links.iter().enumerate() {
        for &i in own {
            let (earlier, later) = before.split_at_mut(j);
            later[0][i] = true;
            later[0].iter_mut().zip(&earlier[i]).for_each(|(all, more)| *all |= more);
        }
    }
    let implied = |i: usize, j: usize| links[j].iter().any(|&k| k != i && before[k][i]);
    (0..n).map(|j| links[j].iter().copied().filter(|&i| !implied(i, j)).collect()).collect()
}

/// The order that keeps all links and otherwise follows `rank`: positions in the old list, in new order.
pub(crate) fn natural(links: &[Vec<usize>], rank: impl Fn(usize) -> usize) -> Vec<usize> {
    let mut placed = vec![false; links.len()];
    let mut order = Vec::with_capacity(links.len());
    while order.len() < links.len() {
        let free = (0..links.len()).filter(|&j| !placed[j] && links[j].iter().all(|&i| placed[i]));
        let Some(next) = free.min_by_key(|&j| (rank(j), j)) else { break };
        placed[next] = true;
        order.push(next);
    }
    order
}
