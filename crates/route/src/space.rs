//! All states that a class of surfaces can reach, and what is left from each by searches back from its goals.

use crate::ground::{Class, Ground, Local, Ticks};
use crate::word::Range;
use rustc_hash::FxHashMap;

/// No transition, or no way to the goal.
pub(crate) const NONE: u32 = u32::MAX;
pub(crate) const FAR: Ticks = Ticks::MAX;
/// Most marks that a class may carry, in the bits above its facts.
pub(crate) const MOST_MARKS: usize = 16;
const FIRST_MARK: usize = 128 - MOST_MARKS;
/// Most states that one class may reach before the problem counts as too wide.
const MOST_STATES: usize = 60_000;

/// What must hold on a class all at once at some moment.
pub(crate) type Mark = Vec<Range>;

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
    pub(crate) rest: Vec<Ticks>,
    /// By state and step: least number of uses still to join.
    uses: Vec<u8>,
    /// By state and wide family: least fixed time still to pay in that family.
    pub(crate) family: Vec<Ticks>,
    /// By state: what goals and sure steps still lack, as bits over the wishes of the bound.
    pub(crate) wishes: Vec<u128>,
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

    pub(crate) fn uses(&self, state: u32) -> &[u8] {
        &self.uses[state as usize * self.steps..(state as usize + 1) * self.steps]
    }
}

/// Finds all states of classes that are alike and, by searches back from the goals, what is left from each.
pub(crate) fn explore(
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
    let mut index: FxHashMap<u128, u32> = FxHashMap::default();
    let mut at_start = Vec::new();
    for start in starts.iter().map(|&s| marked(s)) {
        at_start.push(*index.entry(start).or_insert_with(|| {
            states.push(start);
            states.len() as u32 - 1
        }));
    }
    let mut next: Vec<u32> = Vec::new();
    let mut at = 0;
    let locals: Vec<Option<&Local>> = ground.steps.iter().map(|s| s.local[c].as_ref()).collect();
    while at < states.len() {
        let state = states[at];
        for local in &locals {
            let local = local.filter(|l| l.needs.iter().all(|n| n.holds(state)));
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
    count_uses(&mut space, &back);
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

/// Most uses of one step that are counted; beyond, the bound only loses strength.
const MOST_USES: usize = 8;

/// Fewest uses of each step from each state to a goal state, for all steps at once: one bit a step says whether the goal
/// can be reached with so many uses of it.
fn count_uses(space: &mut Space, back: &Back) {
    let states = space.done.len();
    let mut within: Vec<u128> = space.done.iter().map(|d| if *d { u128::MAX } else { 0 }).collect();
    let mut work: Vec<u32> = (0..states as u32).filter(|s| space.done[*s as usize]).collect();
    for _ in 0..MOST_USES {
        while let Some(state) = work.pop() {
            let there = within[state as usize];
            for &(before, step) in &back.links[back.from[state as usize]..back.from[state as usize + 1]] {
                let known = &mut within[before as usize];
                let new = there & !(1 << step) & !*known;
                if new != 0 {
                    *known |= new;
                    work.push(before);
                }
            }
        }
        let mut all = true;
        for (state, reached) in
            within.iter().enumerate().filter(|(s, r)| **r != u128::MAX && space.rest[*s] < FAR)
        {
            all = false;
            let row = &mut space.uses[state * space.steps..(state + 1) * space.steps];
            row.iter_mut().enumerate().for_each(|(s, n)| *n += u8::from(reached >> s & 1 == 0));
        }
        if all {
            return;
        }
        // One more use: across the links of the step itself.
        let before = within.clone();
        for (state, reached) in before.iter().enumerate() {
            for &(earlier, step) in &back.links[back.from[state]..back.from[state + 1]] {
                let known = &mut within[earlier as usize];
                if reached & !*known & (1 << step) != 0 {
                    *known |= 1 << step;
                    work.push(earlier);
                }
            }
        }
    }
}

/// Least fixed time still to pay in each family, from each state.
pub(crate) fn weigh_families(ground: &Ground, c: usize, space: &mut Space, families: &[u128]) {
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
