//! The problem with ids replaced by places in lists, and what can be worked out before any search.

use super::pattern::Pattern;
use crate::problem::{Air, JobId, PersonId, Problem, RoomId, State, Task, TaskId, ToolId};
use std::collections::BTreeMap;

/// Far enough in the future to mean never, near enough to add to.
pub(super) const FAR: i32 = i32::MAX / 4;

/// People wanted from a set: any `count` of those in `able`.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) struct Want {
    pub able: u64,
    pub count: u32,
}

/// What is already decided about a task.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Fixed {
    No,
    /// Pinned by a person; an empty crew or missing room is still open.
    Pin {
        start: i32,
        people: u64,
        room: Option<usize>,
    },
    /// Has happened or goes on.
    Fact {
        start: i32,
        pieces: Vec<(i32, i32)>,
        people: u64,
        room: Option<usize>,
        done: bool,
    },
}

#[derive(Clone)]
pub(super) struct Job {
    /// Place in the list of jobs.
    pub job: usize,
    pub work: i32,
    pub wants: Vec<Want>,
    /// For every set of wants, who could fill it and how many it takes (Hall 1935).
    pub halls: Vec<Want>,
    pub crew: u32,
    pub needs_room: bool,
    pub rooms: u64,
    pub air: Air,
    pub tools: Vec<(usize, u8)>,
    pub splittable: bool,
    pub holds: bool,
    pub earliest: i32,
    pub fixed: Fixed,
    /// Patterns by which it may pause, when it may.
    pub patterns: Vec<usize>,
    /// Table of starts allowed by calendars alone, when it needs people and may not pause.
    pub table: Option<usize>,
    /// Start, people and room in the previous plan.
    pub previous: Option<(i32, u64, Option<usize>)>,
}

/// `start(to) >= end(from) + least`, and when `most` is given `start(to) <= end(from) + most`.
#[derive(Clone, Copy)]
pub(super) struct Link {
    pub from: usize,
    pub to: usize,
    pub least: Option<i32>,
    pub most: Option<i32>,
}

pub(super) struct Model<'a> {
    pub problem: &'a Problem,
    pub horizon: i32,
    pub now: i32,
    pub tasks: Vec<Job>,
    pub links: Vec<Link>,
    /// Links that touch each task.
    pub touching: Vec<Vec<usize>>,
    /// Tasks tied by maximum lags into cycles, each in an order of starts; most are alone.
    pub blocks: Vec<Vec<usize>>,
    pub block_of: Vec<usize>,
    /// Blocks that must come before each block, and after.
    pub before: Vec<Vec<usize>>,
    pub after: Vec<Vec<usize>>,
    pub jobs: Vec<JobId>,
    pub dues: Vec<(usize, i32, i64)>,
    pub calendars: Vec<usize>,
    pub patterns: Vec<Pattern>,
    /// Per table and slot, the first start from there on that calendars allow.
    pub tables: Vec<Vec<i32>>,
    /// Per slot, who works.
    pub working: Vec<u64>,
    /// Per slot, which rooms are not closed.
    pub unlocked: Vec<u64>,
    /// How many kinds of need each person could fill: the more, the more sparingly used.
    pub versatility: Vec<u32>,
    /// The same for rooms.
    pub room_versatility: Vec<u32>,
    pub groups: Vec<usize>,
    pub group_count: usize,
    /// Rooms of each air group.
    pub group_rooms: Vec<u64>,
}

pub(super) fn index<I: Ord + Copy>(ids: impl Iterator<Item = I>) -> BTreeMap<I, usize> {
    ids.enumerate().map(|(i, id)| (id, i)).collect()
}

impl<'a> Model<'a> {
    pub fn new(problem: &'a Problem) -> Self {
        let horizon = problem.horizon.0;
        let tasks = index(problem.tasks.iter().map(|t| t.id));
        let mut links = Vec::new();
        for lag in &problem.lags {
            let least = (lag.least > crate::Lag::NO_LEAST).then_some(lag.least);
            links.push(Link { from: tasks[&lag.from], to: tasks[&lag.to], least, most: lag.most });
        }
        let mut jobs: Vec<JobId> = problem.tasks.iter().map(|t| t.job).collect();
        jobs.sort();
        jobs.dedup();
        let mut groups: Vec<u32> = problem.rooms.iter().map(|r| r.air_group).collect();
        groups.sort();
        groups.dedup();
        let group_of = |g: u32| groups.binary_search(&g).unwrap_or(0);
        let mut group_rooms = vec![0u64; groups.len()];
        for (r, room) in problem.rooms.iter().enumerate() {
            group_rooms[group_of(room.air_group)] |= 1 << r;
        }
        let mut model = Self {
            problem,
            horizon,
            now: problem.now.0,
            tasks: Vec::new(),
            touching: vec![Vec::new(); problem.tasks.len()],
            blocks: Vec::new(),
            block_of: Vec::new(),
            before: Vec::new(),
            after: Vec::new(),
            dues: Vec::new(),
            calendars: Vec::new(),
            patterns: Vec::new(),
            tables: Vec::new(),
            working: vec![0; horizon as usize],
            unlocked: vec![0; horizon as usize],
            versatility: vec![0; problem.people.len()],
            room_versatility: problem.rooms.iter().map(|r| r.kinds.len() as u32).collect(),
            groups: problem.rooms.iter().map(|r| group_of(r.air_group)).collect(),
            group_count: groups.len(),
            group_rooms,
            jobs,
            links,
        };
        for due in &problem.dues {
            let job = model.jobs.binary_search(&due.job).unwrap_or(0);
            model.dues.push((job, due.by.0, i64::from(due.weight)));
        }
        for (i, link) in model.links.iter().enumerate() {
            model.touching[link.from].push(i);
            if link.to != link.from {
                model.touching[link.to].push(i);
            }
        }
        model.read_calendars();
        model.read_tasks();
        model.find_blocks();
        model
    }

    fn read_calendars(&mut self) {
        for (p, person) in self.problem.people.iter().enumerate() {
            let pattern = Pattern::of(&person.calendar, self.horizon);
            for (t, works) in pattern.works.iter().enumerate() {
                if *works {
                    self.working[t] |= 1 << p;
                }
            }
            let known = self.patterns.iter().position(|x| *x == pattern);
            self.calendars.push(known.unwrap_or(self.patterns.len()));
            if known.is_none() {
                self.patterns.push(pattern);
            }
        }
        for (r, room) in self.problem.rooms.iter().enumerate() {
            for cell in &mut self.unlocked {
                *cell |= 1 << r;
            }
            for s in &room.closed {
                for t in s.start.0.max(0)..s.end.0.min(self.horizon) {
                    self.unlocked[t as usize] &= !(1 << r);
                }
            }
        }
    }

    fn read_tasks(&mut self) {
        let problem = self.problem;
        let people = index(problem.people.iter().map(|p| p.id));
        let rooms = index(problem.rooms.iter().map(|r| r.id));
        let tools = index(problem.tools.iter().map(|t| t.id));
        let known: BTreeMap<TaskId, &crate::Placement> =
            problem.previous.iter().flat_map(|p| &p.placements).map(|p| (p.task, p)).collect();
        let mut pairs: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        let mut tables: BTreeMap<(Vec<(u64, u32)>, i32), usize> = BTreeMap::new();
        for task in &problem.tasks {
            let mut job = self.read_task(task, &people, &rooms, &tools);
            job.previous = known.get(&task.id).map(|p| {
                let mask = p.people.iter().filter_map(|id| people.get(id)).fold(0, |m, i| m | 1 << i);
                (p.start.0, mask, p.room.and_then(|r| rooms.get(&r).copied()))
            });
            if job.crew > 0 && job.splittable {
                job.patterns = self.patterns_for(&job, &mut pairs);
            } else if job.crew > 0 && job.work > 0 {
                let key = (job.wants.iter().map(|w| (w.able, w.count)).collect(), job.work);
                let next = self.tables.len();
                let table = *tables.entry(key).or_insert(next);
                if table == next {
                    let starts = self.allowed_starts(&job);
                    self.tables.push(starts);
                }
                job.table = Some(table);
            }
            for want in &job.wants {
                for p in 0..problem.people.len() {
                    self.versatility[p] += u32::from(want.able >> p & 1 == 1 && want.able.count_ones() < 64);
                }
            }
            self.tasks.push(job);
        }
    }

    fn read_task(
        &self,
        task: &Task,
        people: &BTreeMap<PersonId, usize>,
        rooms: &BTreeMap<RoomId, usize>,
        tools: &BTreeMap<ToolId, usize>,
    ) -> Job {
        let problem = self.problem;
        let mut wants: Vec<Want> = Vec::new();
        for need in task.crew.iter().filter(|n| n.count > 0) {
            let able = problem.people.iter().enumerate().filter(|(_, p)| match &need.skill {
                Some(skill) => p.skills.contains(skill),
                None => true,
            });
            let able = able.fold(0u64, |m, (i, _)| m | 1 << i);
            match wants.iter_mut().find(|w| w.able == able) {
                Some(same) => same.count += need.count,
                None => wants.push(Want { able, count: need.count }),
            }
        }
        wants.sort_by_key(|w| (w.able.count_ones(), w.able));
        let mask = |ids: &[PersonId]| ids.iter().fold(0u64, |m, id| m | 1 << people[id]);
        let fixed = match &task.state {
            State::Free => Fixed::No,
            State::Pinned { start, people, room } => {
                Fixed::Pin { start: start.0, people: mask(people), room: room.map(|r| rooms[&r]) }
            }
            State::Running { since, people, room } => {
                let crew = mask(people);
                let pieces = self.running_pieces(task, since.0, crew);
                Fixed::Fact {
                    start: since.0,
                    pieces,
                    people: crew,
                    room: room.map(|r| rooms[&r]),
                    done: false,
                }
            }
            State::Done { span } => Fixed::Fact {
                start: span.start.0,
                pieces: vec![(span.start.0, span.end.0)],
                people: 0,
                room: None,
                done: true,
            },
        };
        let fit =
            problem.rooms.iter().enumerate().filter(|(_, r)| r.kinds.iter().any(|k| task.rooms.contains(k)));
        let mut needs: BTreeMap<usize, u32> = BTreeMap::new();
        for n in &task.tools {
            *needs.entry(tools[&n.tool]).or_default() += n.count;
        }
        Job {
            job: self.jobs.binary_search(&task.job).unwrap_or(0),
            work: task.work as i32,
            crew: wants.iter().map(|w| w.count).sum(),
            halls: halls(&wants),
            wants,
            needs_room: !task.rooms.is_empty(),
            rooms: fit.fold(0, |m, (i, _)| m | 1 << i),
            air: task.air,
            tools: needs.into_iter().filter(|n| n.1 > 0).map(|(k, c)| (k, c.min(255) as u8)).collect(),
            splittable: task.splittable,
            holds: task.holds_room,
            earliest: task.earliest.0.max(self.now).max(0),
            fixed,
            patterns: Vec::new(),
            table: None,
            previous: None,
        }
    }

    /// How a task that is going on will go on: without pause, or over the working time of its people.
    fn running_pieces(&self, task: &Task, since: i32, crew: u64) -> Vec<(i32, i32)> {
        let mut pieces: Vec<(i32, i32)> = Vec::new();
        let (mut left, mut t) = (task.work as i32, since);
        let horizon = self.horizon;
        while left > 0 {
            let known = t >= 0 && t < horizon;
            let pause = task.splittable && known && t > since && self.working[t as usize] & crew != crew;
            if !pause {
                match pieces.last_mut() {
                    Some(last) if last.1 == t => last.1 = t + 1,
                    _ => pieces.push((t, t + 1)),
                }
                left -= 1;
            }
            t += 1;
        }
        pieces
    }

    /// The calendars of those who could be in the crew, and what crews of several have in common.
    fn patterns_for(&mut self, job: &Job, pairs: &mut BTreeMap<(usize, usize), usize>) -> Vec<usize> {
        let able = job.wants.iter().fold(0, |m, w| m | w.able);
        let mut found: Vec<usize> = (0..self.problem.people.len())
            .filter(|p| able >> p & 1 == 1)
            .map(|p| self.calendars[p])
            .collect();
        found.sort();
        found.dedup();
        let alone = found.clone();
        for _ in 1..job.crew.min(alone.len() as u32) {
            for a in found.clone() {
                for &b in &alone {
                    let both = *pairs.entry((a, b)).or_insert_with(|| {
                        let both = self.patterns[a].and(&self.patterns[b]);
                        self.patterns.iter().position(|x| *x == both).unwrap_or_else(|| {
                            self.patterns.push(both);
                            self.patterns.len() - 1
                        })
                    });
                    found.push(both);
                }
            }
            found.sort();
            found.dedup();
            if found.len() > 100 {
                break;
            }
        }
        found
    }

    /// Per slot, the first start from there on at which enough people work throughout.
    fn allowed_starts(&self, job: &Job) -> Vec<i32> {
        let (h, d) = (self.horizon, job.work);
        let mut next = vec![FAR; h as usize + 1];
        // Runs of each person's working time, counted from the right.
        let mut run = vec![0i32; self.problem.people.len()];
        for t in (0..h).rev() {
            let mut free = 0u64;
            for (p, length) in run.iter_mut().enumerate() {
                *length = if self.working[t as usize] >> p & 1 == 1 { *length + 1 } else { 0 };
                if *length >= d {
                    free |= 1 << p;
                }
            }
            next[t as usize] = if enough(&job.halls, free) { t } else { next[t as usize + 1] };
        }
        next
    }

    /// Strong components of "cannot start before": alone, or tied together by maximum lags.
    fn find_blocks(&mut self) {
        let n = self.tasks.len();
        let mut out: Vec<Vec<usize>> = vec![Vec::new(); n];
        for link in &self.links {
            if link.least.is_some() {
                out[link.from].push(link.to);
            }
            if link.most.is_some() {
                out[link.to].push(link.from);
            }
        }
        for edges in &mut out {
            edges.sort();
            edges.dedup();
        }
        let components = crate::graph::components(&out);
        self.block_of = vec![0; n];
        for (b, members) in components.iter().enumerate() {
            for &i in members {
                self.block_of[i] = b;
            }
        }
        self.before = vec![Vec::new(); components.len()];
        self.after = vec![Vec::new(); components.len()];
        for (i, edges) in out.iter().enumerate() {
            for &j in edges {
                let (a, b) = (self.block_of[i], self.block_of[j]);
                if a != b {
                    self.after[a].push(b);
                    self.before[b].push(a);
                }
            }
        }
        for list in self.before.iter_mut().chain(&mut self.after) {
            list.sort();
            list.dedup();
        }
        self.blocks = components.into_iter().map(|members| self.order_of_starts(members)).collect();
    }

    /// Members of a block, each after those that it follows by a minimum lag (ties by number).
    fn order_of_starts(&self, mut members: Vec<usize>) -> Vec<usize> {
        members.sort();
        let mut order = Vec::with_capacity(members.len());
        while !members.is_empty() {
            let waits = |i: usize| {
                self.touching[i].iter().map(|&l| self.links[l]).any(|l| {
                    l.to == i
                        && l.from != i
                        && members.contains(&l.from)
                        && l.least.is_some_and(|x| x + self.tasks[l.from].work > 0)
                })
            };
            let at = (0..members.len()).find(|&k| !waits(members[k])).unwrap_or(0);
            order.push(members.remove(at));
        }
        order
    }
}

/// Whether people `free` can fill the wants.
pub(super) fn enough(halls: &[Want], free: u64) -> bool {
    halls.iter().all(|h| (free & h.able).count_ones() >= h.count)
}

/// Hall's condition for every set of wants that some other does not imply.
fn halls(wants: &[Want]) -> Vec<Want> {
    let mut all: Vec<Want> = Vec::new();
    let k = wants.len().min(12);
    for set in 1u32..1 << k {
        let mut hall = Want { able: 0, count: 0 };
        for (i, want) in wants.iter().take(k).enumerate() {
            if set >> i & 1 == 1 {
                hall.able |= want.able;
                hall.count += want.count;
            }
        }
        all.push(hall);
    }
    let mut kept: Vec<Want> = Vec::new();
    for (i, a) in all.iter().enumerate() {
        let implied = all.iter().enumerate().any(|(j, b)| {
            i != j
                && b.able & !a.able == 0
                && b.count >= a.count
                && (b.able != a.able || b.count != a.count || j < i)
        });
        if !implied {
            kept.push(*a);
        }
    }
    kept
}
