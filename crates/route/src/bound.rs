//! Lower bounds on what is left to do, from each class of surfaces alone and from the car and rooms alone.
//!
//! A route's cost splits into the time that each class adds to the uses it joins, and the fixed time of
//! uses. The first is bounded class by class by shortest paths in the class's own space of states, and
//! adds up. The second is shared: for each family of steps it is at least what the neediest class needs.
//! Steps on the car and rooms are bounded by landmarks: achievers of what a needed step or goal lacks,
//! and restorers of the goals that a needed step breaks. All three are sums over disjoint parts of the
//! cost, so their sum never exceeds the true rest (additive disjoint pattern databases: Korf and Felner
//! 2002; landmarks: Hoffmann, Porteous and Sebastia 2004).

use crate::ground::{Class, Ground, Range, Ticks};
use std::collections::{BTreeMap, HashMap, VecDeque};
use std::hash::{BuildHasherDefault, DefaultHasher};

/// No transition, or no way to the goal.
pub(crate) const NONE: u32 = u32::MAX;
const FAR: Ticks = Ticks::MAX;
/// Most marks that a class may carry, in the bits above its facts.
const MOST_MARKS: usize = 16;
const FIRST_MARK: usize = 128 - MOST_MARKS;
/// Most states that one class may reach before the problem counts as too wide.
const MOST_STATES: usize = 60_000;

/// All states that classes with the same steps and goals can reach, with what is left from each.
pub(crate) struct Space {
    steps: usize,
    /// By step: what a class adds to a use, for each part of its scale.
    pub(crate) rate: Vec<Ticks>,
    /// By state and step: the state after, or [`NONE`].
    next: Vec<u32>,
    /// By state: conditions on all surfaces that hold here.
    pub(crate) every: Vec<u128>,
    /// By state: goals all met.
    pub(crate) done: Vec<bool>,
    /// By state: least time that a class still adds, for each part of its scale; [`FAR`] when the goal is
    /// out of reach.
    rest: Vec<Ticks>,
    /// By state and step: least number of uses still to join.
    uses: Vec<u8>,
    /// By state and wide family: least fixed time still to pay in that family.
    family: Vec<Ticks>,
    /// By state: what goals and sure steps still lack, as bits over [`Bound::wishes`].
    wishes: Vec<u128>,
}

impl Space {
    /// The state after a step, or [`NONE`] when its needs do not hold or it is not for this class.
    pub(crate) fn next(&self, state: u32, step: usize) -> u32 {
        self.next[state as usize * self.steps + step]
    }

    /// The goal can be reached from here.
    pub(crate) fn alive(&self, state: u32) -> bool {
        self.rest[state as usize] < FAR
    }

    fn uses(&self, state: u32) -> &[u8] {
        &self.uses[state as usize * self.steps..(state as usize + 1) * self.steps]
    }
}

/// A class as the search moves it.
#[derive(Clone, Copy)]
pub(crate) struct Mover {
    /// Its space, by index.
    pub(crate) space: usize,
    /// Its state at the start.
    pub(crate) start: u32,
    /// Multiplier of rates.
    pub(crate) scale: u64,
}

/// A condition on a word of the shared state and the steps that can bring it about.
struct Wanted {
    word: usize,
    range: Range,
    achievers: u128,
}

/// What was worked out before, by shared state (numbered by its search), sure steps and wishes.
pub(crate) type Memo = HashMap<(u32, u128, u128), Forced, BuildHasherDefault<DefaultHasher>>;

/// What the shared state forces, for one shared state and one set of sure steps.
#[derive(Clone, Default)]
pub(crate) struct Forced {
    /// Steps that must be used at least once.
    once: u128,
    /// Steps that must be used at least twice.
    twice: u128,
    /// Fixed time of sets of steps of which one must be used, disjoint from all else.
    either: Ticks,
}

/// The bound for a grounded problem.
pub(crate) struct Bound {
    pub(crate) spaces: Vec<Space>,
    /// By class.
    pub(crate) movers: Vec<Mover>,
    fixed: Vec<Ticks>,
    /// Families of steps that can stand in for each other; their members are bounded together.
    pub(crate) families: Vec<u128>,
    in_family: u128,
    /// For each goal and need of a class: the steps that can bring it about.
    wishes: Vec<u128>,
    wanted: Vec<Wanted>,
    /// By step: needs on the shared state, as indices in `wanted`.
    needs: Vec<Vec<usize>>,
    /// By step: goals on the shared state that it breaks, as indices in `wanted`.
    breaks: Vec<Vec<usize>>,
    goals: Vec<usize>,
}

/// What must hold on a class all at once at some moment.
type Mark = Vec<Range>;

/// A class can reach more states than the search keeps.
pub(crate) struct TooWide {
    /// The class.
    pub(crate) class: usize,
}

/// The step whose use is open, and the classes that may still join it, as bits.
pub(crate) type Open = Option<(usize, u128)>;

impl Bound {
    /// Explores every class. Where a step that every route needs asks something of a class on the way, the
    /// class gets a mark for having been there and must end with it; found in rounds, since marks can make
    /// more steps sure.
    pub(crate) fn new(ground: &Ground) -> Result<Self, TooWide> {
        let mut marks = vec![Vec::new(); ground.classes.len()];
        loop {
            let bound = Self::with_marks(ground, &marks)?;
            if !bound.mark(ground, &mut marks) {
                return Ok(bound);
            }
        }
    }

    /// Adds what sure steps ask of classes at the start; says whether anything is new.
    fn mark(&self, ground: &Ground, marks: &mut [Vec<Mark>]) -> bool {
        let starts: Vec<u32> = self.movers.iter().map(|m| m.start).collect();
        let mut memo = Memo::default();
        if self.rest(&starts, 0, &ground.shared_start, None, &mut memo).is_none() {
            return false;
        }
        let mut new = false;
        for s in memo.values().flat_map(|forced| ones(forced.once)) {
            for (class, marks) in ground.classes.iter().zip(marks.iter_mut()) {
                let asked = class.every.iter().filter(|(i, _)| ground.steps[s].every_needs >> i & 1 == 1);
                let mut mark: Mark = asked.map(|(_, range)| *range).collect();
                mark.sort_unstable();
                let open = mark.iter().any(|r| !r.holds(class.start));
                if open && marks.len() < MOST_MARKS && !marks.contains(&mark) {
                    marks.push(mark);
                    new = true;
                }
            }
        }
        new
    }

    fn with_marks(ground: &Ground, marks: &[Vec<Mark>]) -> Result<Self, TooWide> {
        let mut wishes = Vec::new();
        let mut spaces: Vec<Space> = Vec::new();
        let mut first_of: Vec<usize> = Vec::new();
        let mut movers: Vec<Mover> = Vec::new();
        for (c, class) in ground.classes.iter().enumerate() {
            let same = |&f: &usize| marks[f] == marks[c] && alike(ground, f, c);
            let space = first_of.iter().position(same).unwrap_or(first_of.len());
            if space == first_of.len() {
                first_of.push(c);
            }
            movers.push(Mover { space, start: 0, scale: class.scale });
        }
        for (space, &first) in first_of.iter().enumerate() {
            let members: Vec<usize> = (0..movers.len()).filter(|&c| movers[c].space == space).collect();
            let starts: Vec<u128> = members.iter().map(|&c| ground.classes[c].start).collect();
            let explored = explore(ground, first, &starts, &marks[first], &mut wishes);
            let (found, at) = explored.ok_or(TooWide { class: first })?;
            members.iter().zip(at).for_each(|(&c, start)| movers[c].start = start);
            spaces.push(found);
        }
        let families = families(ground, &spaces, &movers);
        for (space, &first) in spaces.iter_mut().zip(&first_of) {
            weigh_families(ground, first, space, &families);
        }
        let mut bound = Self {
            spaces,
            movers,
            fixed: ground.steps.iter().map(|s| s.fixed).collect(),
            in_family: families.iter().fold(0, |a, f| a | f),
            families,
            wishes,
            wanted: Vec::new(),
            needs: Vec::new(),
            breaks: Vec::new(),
            goals: Vec::new(),
        };
        bound.goals = ground.shared_goals.iter().map(|&(w, r)| bound.want(ground, w, r)).collect();
        for step in &ground.steps {
            let needs = step.shared_needs.iter().map(|&(w, r)| bound.want(ground, w, r)).collect();
            bound.needs.push(needs);
            let broken = |&g: &usize| {
                let goal = &bound.wanted[g];
                step.shared_turns.iter().any(|(w, t)| *w == goal.word && t.breaks(goal.range))
            };
            let broken = bound.goals.iter().copied().filter(broken).collect();
            bound.breaks.push(broken);
        }
        Ok(bound)
    }

    fn want(&mut self, ground: &Ground, word: usize, range: Range) -> usize {
        if let Some(known) = self.wanted.iter().position(|w| w.word == word && w.range == range) {
            return known;
        }
        let mut achievers = 0;
        for (i, step) in ground.steps.iter().enumerate() {
            if step.shared_turns.iter().any(|(w, t)| *w == word && t.can_bring(range)) {
                achievers |= 1 << i;
            }
        }
        self.wanted.push(Wanted { word, range, achievers });
        self.wanted.len() - 1
    }

    /// Least cost still to pay from a state; `None` when a goal is out of reach.
    pub(crate) fn rest(
        &self,
        classes: &[u32],
        shared_id: u32,
        shared: &[u128],
        open: Open,
        memo: &mut Memo,
    ) -> Option<Ticks> {
        let steps = self.fixed.len();
        let mut rest = 0;
        let mut uses = [0u8; 128];
        let mut wishes = 0u128;
        let mut open_uses = 0u8;
        for (c, (mover, &state)) in self.movers.iter().zip(classes).enumerate() {
            let space = &self.spaces[mover.space];
            let own = space.rest[state as usize];
            if own == FAR {
                return None;
            }
            rest += own * mover.scale;
            let row = space.uses(state);
            for (count, own) in uses[..steps].iter_mut().zip(row) {
                *count = (*count).max(*own);
            }
            let mut open_wishes = space.wishes[state as usize];
            if let Some((step, may)) = open {
                // a class that may still join the open use needs one use less
                let may_join = may >> c & 1 == 1;
                open_uses = open_uses.max(row[step].saturating_sub(u8::from(may_join)));
                if may_join {
                    open_wishes &= !ones(open_wishes)
                        .filter(|&i| self.wishes[i] >> step & 1 == 1)
                        .fold(0, |a, i| a | 1 << i);
                }
            }
            wishes |= open_wishes;
        }
        if let Some((step, _)) = open {
            uses[step] = open_uses;
        }
        let sure = uses[..steps].iter().enumerate().fold(0u128, |all, (s, &n)| all | u128::from(n > 0) << s);
        for (f, &family) in self.families.iter().enumerate() {
            let own = |(c, (mover, &state)): (usize, (&Mover, &u32))| {
                let paid = self.spaces[mover.space].family[state as usize * self.families.len() + f];
                match open {
                    Some((step, may)) if may >> c & 1 == 1 && family >> step & 1 == 1 => {
                        paid.saturating_sub(self.fixed[step])
                    }
                    _ => paid,
                }
            };
            rest += self.movers.iter().zip(classes).enumerate().map(own).max().unwrap_or(0);
        }
        let forced =
            memo.entry((shared_id, sure, wishes)).or_insert_with(|| self.force(shared, sure, wishes));
        for (step, &count) in uses[..steps].iter().enumerate() {
            if self.in_family >> step & 1 == 0 {
                let least = (forced.once >> step & 1) as u8 + (forced.twice >> step & 1) as u8;
                rest += self.fixed[step] * Ticks::from(count.max(least));
            }
        }
        Some(rest + forced.either)
    }

    /// Works out what must be used because sure steps lack or break something on the car or in a room.
    fn force(&self, shared: &[u128], sure: u128, wishes: u128) -> Forced {
        let mut forced = Forced { once: sure, ..Forced::default() };
        let mut sets: Vec<u128> = Vec::new();
        let mut work: Vec<u128> = ones(sure).map(|s| 1 << s).collect();
        work.extend(ones(wishes).map(|w| self.wishes[w]).filter(|set| *set != 0));
        let missing = |w: usize| !self.wanted[w].range.holds(shared[self.wanted[w].word]);
        let mut demand = |achievers: u128, forced: &mut Forced, work: &mut Vec<u128>| {
            if achievers.count_ones() == 1 {
                if forced.once & achievers == 0 {
                    forced.once |= achievers;
                    work.push(achievers);
                }
            } else if achievers != 0 && !sets.contains(&achievers) {
                sets.push(achievers);
                work.push(achievers);
            }
        };
        for &goal in self.goals.iter().filter(|&&g| missing(g)) {
            demand(self.wanted[goal].achievers, &mut forced, &mut work);
        }
        while let Some(set) = work.pop() {
            let mut members = ones(set);
            let Some(first) = members.next() else { continue };
            let others: Vec<usize> = members.collect();
            let before: Vec<usize> = self.needs[first]
                .iter()
                .copied()
                .filter(|n| missing(*n) && others.iter().all(|&s| self.needs[s].contains(n)))
                .collect();
            let after: Vec<usize> = self.breaks[first]
                .iter()
                .copied()
                .filter(|g| others.iter().all(|&s| self.breaks[s].contains(g)))
                .collect();
            for &lack in before.iter().chain(&after) {
                demand(
                    self.wanted[lack].achievers & !(if before.contains(&lack) { set } else { 0 }),
                    &mut forced,
                    &mut work,
                );
            }
            for (b, a) in before.iter().flat_map(|b| after.iter().map(move |a| (b, a))) {
                let (b, a) = (self.wanted[*b].achievers & !set, self.wanted[*a].achievers);
                if b.count_ones() == 1 && a == b {
                    forced.twice |= b;
                }
            }
        }
        let mut taken = forced.once | self.in_family;
        sets.sort_unstable_by_key(|s| (s.count_ones(), *s));
        for set in sets.into_iter().filter(|s| *s != 0) {
            if set & taken == 0 {
                taken |= set;
                forced.either += ones(set).map(|s| self.fixed[s]).min().unwrap_or(0);
            }
        }
        forced
    }
}

fn ones(mut set: u128) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        (set != 0).then(|| {
            let i = set.trailing_zeros() as usize;
            set &= set - 1;
            i
        })
    })
}

/// Two classes with the same steps, rates and goals.
fn alike(ground: &Ground, a: usize, b: usize) -> bool {
    let (x, y) = (&ground.classes[a], &ground.classes[b]);
    x.goals == y.goals && x.every == y.every && ground.steps.iter().all(|s| s.local[a] == s.local[b])
}

/// Finds all states of classes that are alike and, by searches back from the goals, what is left from each.
fn explore(
    ground: &Ground,
    c: usize,
    starts: &[u128],
    marks: &[Mark],
    wishes: &mut Vec<u128>,
) -> Option<(Space, Vec<u32>)> {
    let marked = |state: u128| {
        let there = marks.iter().enumerate().filter(|(_, m)| m.iter().all(|r| r.holds(state)));
        there.fold(state, |all, (i, _)| all | 1 << (FIRST_MARK + i))
    };
    let all_marks = (0..marks.len()).fold(0u128, |all, i| all | 1 << (FIRST_MARK + i));
    let class = &ground.classes[c];
    let steps = ground.steps.len();
    let mut states: Vec<u128> = Vec::new();
    let mut index: BTreeMap<u128, u32> = BTreeMap::new();
    let mut at_start = Vec::new();
    for start in starts.iter().map(|&s| marked(s)) {
        at_start.push(*index.entry(start).or_insert_with(|| {
            states.push(start);
            states.len() as u32 - 1
        }));
    }
    let mut next: Vec<u32> = Vec::new();
    let mut at = 0;
    while at < states.len() {
        let state = states[at];
        for step in &ground.steps {
            let local = step.local[c].as_ref().filter(|l| l.needs.iter().all(|n| n.holds(state)));
            next.push(match local {
                None => NONE,
                Some(local) => {
                    let after = marked(local.turn.of(state));
                    *index.entry(after).or_insert_with(|| {
                        states.push(after);
                        states.len() as u32 - 1
                    })
                }
            });
        }
        at += 1;
        if states.len() > MOST_STATES {
            return None;
        }
    }
    let mut wish = |range: Range| {
        let brings =
            |s: &crate::ground::GroundStep| s.local[c].as_ref().is_some_and(|l| l.turn.can_bring(range));
        let set = ground
            .steps
            .iter()
            .enumerate()
            .filter(|(_, s)| brings(s))
            .fold(0u128, |all, (s, _)| all | 1 << s);
        let at = wishes.iter().position(|w| *w == set).unwrap_or(wishes.len());
        if at == wishes.len() && at < 128 {
            wishes.push(set);
        }
        // beyond 128 distinct wishes the bound only loses strength
        if at < 128 { 1u128 << at } else { 0 }
    };
    let goal_wishes: Vec<(Range, u128)> = class.goals.iter().map(|&g| (g, wish(g))).collect();
    let step_wishes: Vec<Vec<(Range, u128)>> = ground
        .steps
        .iter()
        .map(|s| s.local[c].iter().flat_map(|l| &l.needs).map(|&n| (n, wish(n))).collect())
        .collect();
    let rate: Vec<Ticks> = ground.steps.iter().map(|s| s.local[c].as_ref().map_or(0, |l| l.rate)).collect();
    let mut space = Space {
        steps,
        rate,
        next,
        every: states.iter().map(|&s| every_holds(class, s)).collect(),
        done: states
            .iter()
            .map(|&s| s & all_marks == all_marks && class.goals.iter().all(|g| g.holds(s)))
            .collect(),
        rest: Vec::new(),
        uses: vec![0; states.len() * steps],
        family: Vec::new(),
        wishes: Vec::new(),
    };
    let back = back_links(&space);
    space.rest = shortest(&space, &back, &space.rate);
    for s in (0..steps).filter(|&s| ground.steps[s].local[c].is_some()) {
        for (state, count) in fewest(&space, &back, 1 << s).into_iter().enumerate() {
            space.uses[state * steps + s] = count;
        }
    }
    let unmet = |ranges: &[(Range, u128)], state: u128| {
        ranges.iter().filter(|(r, _)| !r.holds(state)).fold(0, |all, (_, bit)| all | bit)
    };
    space.wishes = (0..states.len())
        .map(|i| {
            let sure =
                space.uses(i as u32).iter().enumerate().filter(|(_, n)| **n > 0 && space.rest[i] < FAR);
            sure.fold(unmet(&goal_wishes, states[i]), |all, (s, _)| all | unmet(&step_wishes[s], states[i]))
        })
        .collect();
    Some((space, at_start))
}

fn every_holds(class: &Class, state: u128) -> u128 {
    let broken = class.every.iter().filter(|(_, r)| !r.holds(state)).fold(0u128, |a, (i, _)| a | 1 << i);
    !broken
}

/// For each state, the states before it and the steps between, in one list with offsets.
struct Back {
    from: Vec<usize>,
    links: Vec<(u32, u32)>,
}

fn back_links(space: &Space) -> Back {
    let states = space.done.len();
    let mut from = vec![0usize; states + 1];
    let real = |i: usize| {
        (space.next[i] != NONE && space.next[i] as usize != i / space.steps).then(|| space.next[i])
    };
    for i in 0..space.next.len() {
        if let Some(to) = real(i) {
            from[to as usize + 1] += 1;
        }
    }
    for i in 0..states {
        from[i + 1] += from[i];
    }
    let mut fill = from.clone();
    let mut links = vec![(0, 0); from[states]];
    for i in 0..space.next.len() {
        if let Some(to) = real(i) {
            links[fill[to as usize]] = ((i / space.steps) as u32, (i % space.steps) as u32);
            fill[to as usize] += 1;
        }
    }
    Back { from, links }
}

/// Least sum of step weights from each state to a goal state (Dijkstra, backwards).
fn shortest(space: &Space, back: &Back, weight: &[Ticks]) -> Vec<Ticks> {
    let mut rest = vec![FAR; space.done.len()];
    let mut heap = std::collections::BinaryHeap::new();
    for (state, _) in space.done.iter().enumerate().filter(|(_, d)| **d) {
        rest[state] = 0;
        heap.push((std::cmp::Reverse(0), state));
    }
    while let Some((std::cmp::Reverse(cost), state)) = heap.pop() {
        if cost > rest[state] {
            continue;
        }
        for &(before, step) in &back.links[back.from[state]..back.from[state + 1]] {
            let through = cost + weight[step as usize];
            if through < rest[before as usize] {
                rest[before as usize] = through;
                heap.push((std::cmp::Reverse(through), before as usize));
            }
        }
    }
    rest
}

/// Fewest uses of the steps of a set from each state to a goal state (zero-one search, backwards).
fn fewest(space: &Space, back: &Back, set: u128) -> Vec<u8> {
    let mut rest = vec![u8::MAX; space.done.len()];
    let mut queue = VecDeque::new();
    for (state, _) in space.done.iter().enumerate().filter(|(_, d)| **d) {
        rest[state] = 0;
        queue.push_back((0u8, state));
    }
    while let Some((count, state)) = queue.pop_front() {
        if count > rest[state] {
            continue;
        }
        for &(before, step) in &back.links[back.from[state]..back.from[state + 1]] {
            let counts = set >> step & 1 == 1;
            let through = count.saturating_add(u8::from(counts));
            if through < rest[before as usize] {
                rest[before as usize] = through;
                if counts {
                    queue.push_back((through, before as usize));
                } else {
                    queue.push_front((through, before as usize));
                }
            }
        }
    }
    rest
}

/// Surface steps that can stand in for each other at the start: none of them sure, and changing the same
/// fact of the same class. Any partition gives a valid bound; this one loses little.
fn families(ground: &Ground, spaces: &[Space], movers: &[Mover]) -> Vec<u128> {
    let sure = |s: usize| {
        movers
            .iter()
            .map(|m| (&spaces[m.space], m.start))
            .any(|(space, at)| space.alive(at) && space.uses(at)[s] > 0)
    };
    let open: Vec<usize> = (0..ground.steps.len()).filter(|&s| ground.steps[s].surface && !sure(s)).collect();
    let mut families: Vec<u128> = Vec::new();
    for (c, class) in ground.classes.iter().enumerate() {
        let mut ranges: Vec<Range> = class.goals.clone();
        ranges.extend(
            ground.steps.iter().filter_map(|s| s.local[c].as_ref()).flat_map(|l| l.needs.iter().copied()),
        );
        ranges.sort_unstable();
        ranges.dedup();
        for range in ranges.into_iter().filter(|r| !r.holds(class.start)) {
            let brings =
                |&&s: &&usize| ground.steps[s].local[c].as_ref().is_some_and(|l| l.turn.can_bring(range));
            let mut set = open.iter().filter(brings).fold(0u128, |a, s| a | 1 << s);
            if set.count_ones() > 1 {
                families.retain(|f| {
                    let joins = f & set != 0;
                    if joins {
                        set |= f;
                    }
                    !joins
                });
                families.push(set);
            }
        }
    }
    families.sort_unstable();
    families
}

fn weigh_families(ground: &Ground, c: usize, space: &mut Space, families: &[u128]) {
    let back = back_links(space);
    let mut family = vec![0; space.done.len() * families.len()];
    for (f, set) in families.iter().enumerate() {
        let member = |s: usize| set >> s & 1 == 1 && ground.steps[s].local[c].is_some();
        if (0..ground.steps.len()).any(member) {
            let weight: Vec<Ticks> =
                ground.steps.iter().enumerate().map(|(s, g)| if member(s) { g.fixed } else { 0 }).collect();
            for (state, rest) in shortest(space, &back, &weight).into_iter().enumerate() {
                family[state * families.len() + f] = rest;
            }
        }
    }
    space.family = family;
}
