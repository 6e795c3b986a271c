//! A* over classes of surfaces, the car and the rooms, and a beam for when A* takes too long.
//!
//! A use of a step pays its fixed time once and then takes in classes one after the other, so that every
//! choice of classes is reached without listing all subsets. Classes that have come to the same state and
//! have the same way to go join together, where that loses nothing: see [`Ground::teams`].
//!
//! Steps on the car and rooms are taken just in time: any route can be rearranged, at the same cost, so that
//! each of them stands in an unbroken run of such steps before a use that must come after it, or at the end.
//! Only such routes are searched, which spares most of the orders that come to the same.

use crate::bound::{Bound, Memo, Open};
use crate::ground::{Ground, Ticks};
use crate::space::NONE;
use effort::Effort;
use rustc_hash::FxHashMap;
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::collections::hash_map::Entry;

/// A step by its ground index and the classes it takes in; none for a step on the car or a room.
pub(crate) type GroundUse = (usize, Vec<usize>);

/// How a search ended.
pub(crate) enum Found {
    /// A route; the best when it comes from [`Search::best_first`].
    Best(Vec<GroundUse>),
    /// The effort ran out: the least that any route can cost.
    Stopped(Ticks),
    /// There is no route.
    Nothing,
}

#[derive(Clone, PartialEq, Eq, Hash)]
struct Key {
    /// State of each class, then of the car and rooms.
    states: Box<[u32]>,
    open: Open,
    /// Steps on the car or a room that nothing has needed yet, as bits.
    owed: u128,
}

struct Node {
    key: Key,
    cost: Ticks,
    /// The bound on what is left.
    rest: Ticks,
    parent: u32,
    depth: u32,
    made: Made,
}

/// How a node was made from its parent.
#[derive(Clone, Copy)]
enum Made {
    /// It is the start.
    Start,
    /// A step on the car or a room.
    Whole(usize),
    /// Classes joined the use of a step; they are those whose state changed.
    Join { step: usize, opens: bool },
    /// The open use was closed.
    Close,
    /// A use for the sake of the car or a room, on one class alone.
    Lone(usize, usize),
}

/// Finds some good route: goes on from the `width` most promising states of each layer, the layers being
/// states that are equally many joins and uses from the start.
pub(crate) fn beam(ground: &Ground, bound: &Bound, width: usize, effort: &Effort) -> Found {
    Search::new(ground, bound).in_layers(width, effort)
}

impl Made {
    /// Among equals the deepest goes first, then the library's own order: it is close to a good route.
    fn rank(self) -> usize {
        match self {
            Self::Start | Self::Join { opens: false, .. } => 0,
            Self::Close => 1,
            Self::Whole(step) | Self::Lone(step, _) | Self::Join { step, .. } => step + 2,
        }
    }
}

/// A node in the queue: least estimate first, then the deepest, then the library's order, then the oldest.
type Ticket = (Ticks, Reverse<u32>, usize, u32);

/// A search that can go on where it stopped.
pub(crate) struct Search<'a> {
    ground: &'a Ground,
    /// By step: steps on the car or a room that must stay before it when they come before it.
    waits_for: Vec<u128>,
    /// Only joins that bring the goal nearer.
    onward: bool,
    bound: &'a Bound,
    shared: Vec<Vec<u128>>,
    shared_index: FxHashMap<Vec<u128>, u32>,
    nodes: Vec<Node>,
    // looked up by key alone, never walked, so its order cannot show
    best: FxHashMap<Key, u32>,
    memo: Memo,
    heap: BinaryHeap<Reverse<Ticket>>,
}

impl<'a> Search<'a> {
    pub(crate) fn new(ground: &'a Ground, bound: &'a Bound) -> Self {
        let waits_for = ground
            .steps
            .iter()
            .map(|later| {
                let earlier =
                    ground.steps.iter().enumerate().filter(|(_, e)| !e.surface && ground.ordered(e, later));
                earlier.fold(0, |all, (i, _)| all | 1 << i)
            })
            .collect();
        let mut search = Self {
            ground,
            waits_for,
            onward: false,
            bound,
            shared: Vec::new(),
            shared_index: FxHashMap::default(),
            nodes: Vec::new(),
            best: FxHashMap::default(),
            heap: BinaryHeap::new(),
            memo: Memo::default(),
        };
        let shared = search.intern(ground.shared_start.clone());
        let mut states: Vec<u32> = bound.movers.iter().map(|m| m.start).collect();
        states.push(shared);
        search.push(Key { states: states.into(), open: None, owed: 0 }, 0, NONE, Made::Start);
        search
    }

    /// Finds a route of least cost, until that share of the effort is used up.
    pub(crate) fn best_first(&mut self, share: f64, effort: &Effort) -> Found {
        while let Some(Reverse((estimate, _, _, at))) = self.heap.peek().copied() {
            if !self.current(at) {
                self.heap.pop();
                continue;
            }
            if self.done(at) {
                return Found::Best(self.uses(at));
            }
            if !effort.spend(1) || effort.used() >= share {
                return Found::Stopped(estimate);
            }
            self.heap.pop();
            self.expand(at);
        }
        Found::Nothing
    }

    fn in_layers(mut self, width: usize, effort: &Effort) -> Found {
        self.onward = true;
        loop {
            let mut layer: Vec<(Ticks, usize, u32)> =
                self.heap.drain().map(|Reverse((estimate, _, rank, at))| (estimate, rank, at)).collect();
            layer.retain(|&(.., at)| self.current(at));
            layer.sort_unstable();
            // half the places for states that owe a use to steps on the car: many of those come to nothing
            let mut places = [width; 2];
            layer.retain(|&(.., at)| {
                let place = &mut places[usize::from(self.nodes[at as usize].key.owed != 0)];
                let kept = *place > 0;
                if kept {
                    *place -= 1;
                } else {
                    // what is dropped may be found again from a later layer
                    self.best.remove(&self.nodes[at as usize].key);
                }
                kept
            });
            if layer.is_empty() {
                return Found::Nothing;
            }
            if let Some(&(.., at)) = layer.iter().find(|&&(.., at)| self.done(at)) {
                return Found::Best(self.uses(at));
            }
            for (estimate, _, at) in layer {
                if !effort.spend(1) {
                    return Found::Stopped(estimate);
                }
                self.expand(at);
            }
        }
    }

    /// No cheaper way to the same state was found since.
    fn current(&self, at: u32) -> bool {
        self.best.get(&self.nodes[at as usize].key) == Some(&at)
    }

    fn intern(&mut self, words: Vec<u128>) -> u32 {
        if let Some(&id) = self.shared_index.get(&words) {
            return id;
        }
        let id = self.shared.len() as u32;
        self.shared_index.insert(words.clone(), id);
        self.shared.push(words);
        id
    }

    fn push(&mut self, key: Key, cost: Ticks, parent: u32, made: Made) {
        let (classes, shared) = key.states.split_at(key.states.len() - 1);
        if self.best.get(&key).is_some_and(|&known| self.nodes[known as usize].cost <= cost) {
            return;
        }
        let words = &self.shared[shared[0] as usize];
        let Some(rest) = self.bound.rest(classes, shared[0], words, key.open, &mut self.memo) else { return };
        let joins = matches!(made, Made::Join { .. } | Made::Lone(..));
        if self.onward && joins && rest >= self.nodes[parent as usize].rest {
            return;
        }
        let id = self.nodes.len() as u32;
        match self.best.entry(key.clone()) {
            Entry::Occupied(mut known) => *known.get_mut() = id,
            Entry::Vacant(free) => {
                free.insert(id);
            }
        }
        let depth = if parent == NONE { 0 } else { self.nodes[parent as usize].depth + 1 };
        self.heap.push(Reverse((cost + rest, Reverse(depth), made.rank(), id)));
        self.nodes.push(Node { key, cost, rest, parent, depth, made });
    }

    fn done(&self, at: u32) -> bool {
        let key = &self.nodes[at as usize].key;
        let (classes, shared) = key.states.split_at(key.states.len() - 1);
        let shared = &self.shared[shared[0] as usize];
        key.open.is_none()
            && self
                .bound
                .movers
                .iter()
                .zip(classes)
                .all(|(m, &s)| self.bound.spaces[m.space].done[s as usize])
            && self.ground.shared_goals.iter().all(|(w, r)| r.holds(shared[*w]))
    }

    fn expand(&mut self, at: u32) {
        let Node { key, cost, .. } = &self.nodes[at as usize];
        let (key, cost) = (key.clone(), *cost);
        if let Some((step, may)) = key.open {
            self.join(at, &key, &key.states, cost, step, may);
            self.push(Key { states: key.states, open: None, owed: 0 }, cost, at, Made::Close);
            return;
        }
        let last = key.states.len() - 1;
        let every = self
            .bound
            .movers
            .iter()
            .zip(&key.states[..last])
            .fold(u128::MAX, |all, (m, &s)| all & self.bound.spaces[m.space].every[s as usize]);
        let timely = self.timely(&key.states[..last]);
        for (s, step) in self.ground.steps.iter().enumerate() {
            let shared = &self.shared[key.states[last] as usize];
            if step.every_needs & !every != 0 || !step.shared_needs.iter().all(|(w, r)| r.holds(shared[*w])) {
                continue;
            }
            let owed = key.owed & !self.waits_for[s];
            if if step.surface { owed != 0 } else { timely >> s & 1 == 0 } {
                continue;
            }
            let changed =
                step.shared_turns.iter().any(|(word, turn)| turn.of(shared[*word]) != shared[*word]);
            let mut states = key.states.clone();
            if changed {
                let mut words = shared.clone();
                for (word, turn) in &step.shared_turns {
                    words[*word] = turn.of(words[*word]);
                }
                states[last] = self.intern(words);
            }
            if step.surface {
                if changed {
                    self.lone(at, &states, cost + step.fixed, s);
                }
                self.join(at, &key, &states, cost + step.fixed, s, u128::MAX);
            } else {
                for c in 0..last {
                    let next = self.next(c, key.states[c], s);
                    if next != NONE {
                        states[c] = next;
                    }
                }
                if states != key.states {
                    let owed = owed | 1 << s;
                    self.push(Key { states, open: None, owed }, cost + step.fixed, at, Made::Whole(s));
                }
            }
        }
    }

    /// Steps on the car or a room that can stand in a run before a use which the classes are ready for. A
    /// step that changes classes itself may make them ready for anything.
    fn timely(&self, classes: &[u32]) -> u128 {
        let moves = |s: usize| {
            classes.iter().enumerate().any(|(c, &state)| {
                let next = self.next(c, state, s);
                next != NONE && next != state
            })
        };
        let mut ready = 0u128;
        for (s, step) in self.ground.steps.iter().enumerate() {
            if step.surface {
                // a use for the sake of the car alone changes no class
                let lone = || classes.iter().enumerate().any(|(c, &state)| self.next(c, state, s) == state);
                if moves(s) || (!step.shared_turns.is_empty() && lone()) {
                    ready |= 1 << s;
                }
            } else if moves(s) {
                return u128::MAX;
            }
        }
        if self.bound.movers.iter().zip(classes).all(|(m, &s)| self.bound.spaces[m.space].done[s as usize]) {
            return u128::MAX;
        }
        let mut timely = 0u128;
        loop {
            let mut grown = timely;
            for s in (0..self.ground.steps.len()).filter(|&s| (ready | timely) >> s & 1 == 1) {
                grown |= self.waits_for[s];
            }
            if grown == timely {
                return timely;
            }
            timely = grown;
        }
    }

    fn next(&self, class: usize, state: u32, step: usize) -> u32 {
        self.bound.spaces[self.bound.movers[class].space].next(state, step)
    }

    /// What a class adds to a use.
    fn time(&self, class: usize, step: usize) -> Ticks {
        let mover = self.bound.movers[class];
        self.bound.spaces[mover.space].rate[step] * mover.scale
    }

    /// Takes more classes into an open use: those in one state together, in the order of their first.
    fn join(&mut self, at: u32, key: &Key, states: &[u32], cost: Ticks, step: usize, may: u128) {
        let changes = |c: usize| {
            let next = self.next(c, states[c], step);
            (may >> c & 1 == 1 && next != NONE && next != states[c]).then_some(next)
        };
        let mut teams: Vec<(usize, u32, u32, u128)> = Vec::new();
        for (c, &state) in states[..states.len() - 1].iter().enumerate() {
            let Some(next) = changes(c) else { continue };
            let space = self.bound.movers[c].space;
            match teams.iter_mut().find(|t| self.ground.teams && t.0 == space && t.1 == state) {
                Some(team) => team.3 |= 1 << c,
                None => teams.push((space, state, next, 1 << c)),
            }
        }
        for (i, &(_, _, next, team)) in teams.iter().enumerate() {
            let mut after: Box<[u32]> = states.into();
            let mut time = cost;
            for c in (0..after.len() - 1).filter(|c| team >> c & 1 == 1) {
                after[c] = next;
                time += self.time(c, step);
            }
            let may = teams[i + 1..].iter().fold(0, |all, t| all | t.3);
            self.push(
                Key { states: after, open: Some((step, may)), owed: 0 },
                time,
                at,
                Made::Join { step, opens: key.open.is_none() },
            );
        }
    }

    /// A use for the sake of the car or a room alone. Classes that it does change would carry the use
    /// without this one, so it is closed at once.
    fn lone(&mut self, at: u32, states: &[u32], cost: Ticks, step: usize) {
        for c in 0..states.len() - 1 {
            if self.next(c, states[c], step) == states[c] {
                let cost = cost + self.time(c, step);
                self.push(Key { states: states.into(), open: None, owed: 0 }, cost, at, Made::Lone(step, c));
            }
        }
    }

    fn uses(&self, mut at: u32) -> Vec<GroundUse> {
        let mut uses: Vec<GroundUse> = Vec::new();
        let mut joined = Vec::new();
        loop {
            let node = &self.nodes[at as usize];
            match node.made {
                Made::Start => break,
                Made::Close => {}
                Made::Whole(step) => uses.push((step, Vec::new())),
                Made::Lone(step, class) => uses.push((step, vec![class])),
                Made::Join { step, opens } => {
                    let before = &self.nodes[node.parent as usize];
                    let classes = 0..node.key.states.len() - 1;
                    joined.extend(classes.filter(|&c| node.key.states[c] != before.key.states[c]));
                    if opens {
                        uses.push((step, std::mem::take(&mut joined)));
                    }
                }
            }
            at = node.parent;
        }
        uses.reverse();
        uses
    }
}
