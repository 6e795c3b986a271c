//! Lower bounds on what is left to do, from each class of surfaces alone and from the car and rooms alone.
//!
//! A route's cost splits into the time that each class adds to the uses it joins, and the fixed time of
//! uses. The first is bounded class by class by shortest paths in the class's own space of states, and
//! adds up. The second is shared: for each family of steps it is at least what the neediest class needs.
//! Steps on the car and rooms are bounded by landmarks: achievers of what a needed step or goal lacks,
//! and restorers of the goals that a needed step breaks. All three are sums over disjoint parts of the
//! cost, so their sum never exceeds the true rest (additive disjoint pattern databases: Korf and Felner
//! 2002; landmarks: Hoffmann, Porteous and Sebastia 2004).

use crate::ground::{Ground, Ticks};
use crate::space::{FAR, MOST_MARKS, Mark, Space, explore, weigh_families};
use crate::word::Range;
use rustc_hash::FxHashMap;

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
pub(crate) type Memo = FxHashMap<(u32, u128, u128), Forced>;

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

/// What a space was explored for.
struct Explored {
    /// Classes that move in it.
    members: Vec<usize>,
    marks: Vec<Mark>,
    /// Where each member starts.
    starts: Vec<u32>,
    /// Families that it was weighed with.
    families: Vec<u128>,
}

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
        let mut wishes = Vec::new();
        let mut known = Vec::new();
        loop {
            let (bound, explored) = Self::with_marks(ground, &marks, &mut wishes, known)?;
            if !bound.mark(ground, &mut marks) {
                return Ok(bound);
            }
            // What no new mark touches is not explored again.
            known = explored.into_iter().zip(bound.spaces).collect();
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

    fn with_marks(
        ground: &Ground,
        marks: &[Vec<Mark>],
        wishes: &mut Vec<u128>,
        mut known: Vec<(Explored, Space)>,
    ) -> Result<(Self, Vec<Explored>), TooWide> {
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
        let mut explored = Vec::new();
        for (space, &first) in first_of.iter().enumerate() {
            let members: Vec<usize> = (0..movers.len()).filter(|&c| movers[c].space == space).collect();
            let same = |(k, _): &(Explored, Space)| k.members == members && k.marks == marks[first];
            let (info, found) = match known.iter().position(same) {
                Some(k) => known.swap_remove(k),
                None => {
                    let starts: Vec<u128> = members.iter().map(|&c| ground.classes[c].start).collect();
                    let found = explore(ground, first, &starts, &marks[first], wishes);
                    let (found, starts) = found.ok_or(TooWide { class: first })?;
                    (Explored { members, marks: marks[first].clone(), starts, families: Vec::new() }, found)
                }
            };
            info.members.iter().zip(&info.starts).for_each(|(&c, start)| movers[c].start = *start);
            spaces.push(found);
            explored.push(info);
        }
        let families = families(ground, &spaces, &movers);
        for (space, info) in spaces.iter_mut().zip(&mut explored) {
            if info.families != families {
                weigh_families(ground, info.members[0], space, &families);
                info.families.clone_from(&families);
            }
        }
        let mut bound = Self {
            spaces,
            movers,
            fixed: ground.steps.iter().map(|s| s.fixed).collect(),
            in_family: families.iter().fold(0, |a, f| a | f),
            families,
            wishes: wishes.clone(),
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
        Ok((bound, explored))
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
