//! An exact search for small projects of plain precedence: tasks are started one after the other in the
//! order of their starts, and of two partial schedules of the same tasks the one that is nowhere later
//! stands for both (the cutset rule of Demeulemeester and Herroelen 1992, on the precedence tree of
//! Patterson, Słowiński, Talbot and Węglarz 1989).

use super::exact::Verdict;
use super::network::{NONE, Network};
use effort::Effort;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// Tasks of some length, at most. On 30 tasks every project of PSPLIB tried was settled within three seconds; on
/// 60 the search came to nothing in five, and cost the other solvers their time.
const MOST: usize = 40;

/// Partial schedules remembered, at most; more are searched without being compared.
const MEMORY: usize = 3_000_000;

/// Tasks that run at once and are remembered, at most.
const RUNNING: usize = 14;

/// A task of some length.
struct Task {
    /// Its place in the project.
    place: usize,
    duration: i32,
    /// Longest way from its start to the end.
    tail: i32,
    before: u64,
    uses: Vec<i32>,
}

/// A partial schedule once looked at: when the next task could start, and what runs on then.
struct Seen {
    since: i32,
    count: u8,
    running: [(u8, i32); RUNNING],
    next: u32,
}

/// One multiplication is enough: sets of tasks are well spread after it.
#[derive(Default)]
struct Mix(u64);

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        for b in bytes {
            self.write_u64(u64::from(*b));
        }
    }
    fn write_u64(&mut self, n: u64) {
        self.0 = (self.0 ^ n).wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(29);
    }
}

const NOBODY: u32 = u32::MAX;

pub(super) struct Tree<'a, 'e> {
    net: &'a Network<'a>,
    effort: &'e Effort,
    share: f64,
    tasks: Vec<Task>,
    /// Tasks by what comes after their end, most first.
    by_rest: Vec<usize>,
    all: u64,
    capacity: Vec<i32>,
    limit: i32,
    bound: i32,
    start: Vec<i32>,
    best: Option<Vec<i32>>,
    // looked up by key alone, never walked, so its order cannot show
    table: HashMap<u64, u32, BuildHasherDefault<Mix>>,
    seen: Vec<Seen>,
    nodes: u64,
    stopped: bool,
}

/// Where the search stands: which tasks have started, and what runs at the last start or later.
#[derive(Clone)]
struct Stand {
    started: u64,
    last: i32,
    last_task: usize,
    /// Tasks and their ends.
    running: Vec<(usize, i32)>,
}

impl<'a, 'e> Tree<'a, 'e> {
    /// The search, when it knows this kind of project: at most [`MOST`] tasks of some length, every lag the
    /// length of the task before it.
    pub fn new(net: &'a Network<'a>, bound: i32, share: f64, effort: &'e Effort) -> Option<Self> {
        net.order.as_ref()?;
        if net.project.arcs.iter().any(|a| a.lag != net.duration[a.from]) {
            return None;
        }
        let real: Vec<usize> = (0..net.n).filter(|&i| net.duration[i] > 0).collect();
        if real.is_empty() || real.len() > MOST || real.iter().any(|&i| net.tails[i] <= NONE) {
            return None;
        }
        let index: HashMap<usize, usize> = real.iter().enumerate().map(|(k, &i)| (i, k)).collect();
        // What ends before: through tasks without length, all the way.
        let mut before = vec![0u64; net.n];
        for &i in net.order.iter().flatten() {
            for &(j, _) in &net.into[i] {
                before[i] |= before[j] | index.get(&j).map_or(0, |k| 1 << k);
            }
        }
        let tasks: Vec<Task> = real
            .iter()
            .map(|&i| Task {
                place: i,
                duration: net.duration[i],
                tail: net.tails[i],
                before: before[i],
                uses: net.project.activities[i].uses.clone(),
            })
            .collect();
        let mut by_rest: Vec<usize> = (0..tasks.len()).collect();
        by_rest.sort_by_key(|&k| tasks[k].duration - tasks[k].tail);
        Some(Self {
            net,
            effort,
            share,
            all: (1 << real.len()) - 1,
            start: vec![0; tasks.len()],
            tasks,
            by_rest,
            capacity: net.project.capacities.clone(),
            limit: 0,
            bound,
            best: None,
            table: HashMap::default(),
            seen: Vec::new(),
            nodes: 0,
            stopped: false,
        })
    }

    /// Looks for schedules shorter than `best` until there is none or the effort is used.
    pub fn improve(mut self, best: &mut Option<Vec<i32>>) -> Verdict {
        let Some(known) = best.as_ref().map(|b| b[self.net.sink]) else { return Verdict::Open };
        self.limit = known - 1;
        self.go(&Stand { started: 0, last: 0, last_task: 0, running: Vec::new() });
        if let Some(found) = self.best.take() {
            *best = Some(found);
        }
        if self.stopped { Verdict::Open } else { Verdict::Closed }
    }

    fn go(&mut self, at: &Stand) {
        self.nodes += 1;
        if self.nodes.is_multiple_of(256) && (!self.effort.spend(256) || self.effort.used() >= self.share) {
            self.stopped = true;
        }
        if self.stopped || self.limit < self.bound {
            return;
        }
        if at.started == self.all {
            self.record();
            return;
        }
        let mut ready: Vec<(i32, usize)> = Vec::with_capacity(16);
        let (mut soonest, mut first_end) = (i32::MAX, i32::MAX);
        for k in 0..self.tasks.len() {
            let task = &self.tasks[k];
            if at.started >> k & 1 == 0 && task.before & !at.started == 0 {
                let s = self.earliest(at, k);
                if s + task.tail > self.limit {
                    return;
                }
                soonest = soonest.min(s);
                first_end = first_end.min(s + task.duration);
                ready.push((s, k));
            }
        }
        if self.too_much(at, soonest) || self.worse(at, soonest) {
            return;
        }
        // A task that starts when another could be over already leaves room for that other before it.
        ready.retain(|r| r.0 < first_end);
        ready.sort_by_key(|&(s, k)| (s, -self.tasks[k].tail, k));
        for (s, k) in ready {
            // Tasks that start together are taken in one order only.
            if at.started != 0 && s == at.last && k < at.last_task {
                continue;
            }
            self.start[k] = s;
            let mut running: Vec<(usize, i32)> = at.running.iter().copied().filter(|r| r.1 > s).collect();
            running.push((k, s + self.tasks[k].duration));
            self.go(&Stand { started: at.started | 1 << k, last: s, last_task: k, running });
        }
    }

    fn record(&mut self) {
        let mut starts = vec![0; self.net.n];
        for (k, task) in self.tasks.iter().enumerate() {
            starts[task.place] = self.start[k];
        }
        // Tasks without length, the sink among them, start as soon as they may.
        for &i in self.net.order.iter().flatten() {
            if self.net.duration[i] == 0 {
                starts[i] = self.net.into[i].iter().map(|&(j, lag)| starts[j] + lag).max().unwrap_or(0);
            }
        }
        self.limit = starts[self.net.sink] - 1;
        self.best = Some(starts);
    }

    /// The first time from the last start on at which a task fits among what runs.
    fn earliest(&self, at: &Stand, k: usize) -> i32 {
        let task = &self.tasks[k];
        let mut t = at.last;
        for &(j, end) in &at.running {
            if task.before >> j & 1 == 1 {
                t = t.max(end);
            }
        }
        loop {
            let mut next = i32::MAX;
            let fits = (0..self.capacity.len()).all(|r| {
                if task.uses[r] == 0 {
                    return true;
                }
                let mut used = task.uses[r];
                for &(j, end) in &at.running {
                    if end > t && self.tasks[j].uses[r] > 0 {
                        used += self.tasks[j].uses[r];
                        next = next.min(end);
                    }
                }
                used <= self.capacity[r]
            });
            if fits || next == i32::MAX {
                return t;
            }
            t = next;
        }
    }

    /// Whether a resource has more work left than time: over what must be over by some time.
    fn too_much(&self, at: &Stand, from: i32) -> bool {
        for (r, &capacity) in self.capacity.iter().enumerate() {
            let mut work = 0;
            for &k in &self.by_rest {
                let task = &self.tasks[k];
                if at.started >> k & 1 == 1 || task.uses[r] == 0 {
                    continue;
                }
                work += task.uses[r] * task.duration;
                let by = self.limit - (task.tail - task.duration);
                if work <= capacity * (by - from) {
                    let busy: i32 = at
                        .running
                        .iter()
                        .map(|&(j, end)| self.tasks[j].uses[r] * (end.min(by) - from).max(0))
                        .sum();
                    if work + busy <= capacity * (by - from) {
                        continue;
                    }
                }
                return true;
            }
        }
        false
    }

    /// Whether a partial schedule of the same tasks was nowhere later; remembers this one otherwise.
    fn worse(&mut self, at: &Stand, soonest: i32) -> bool {
        let first = self.table.get(&at.started).copied().unwrap_or(NOBODY);
        let mut link = first;
        while link != NOBODY {
            let seen = &self.seen[link as usize];
            if seen.since <= soonest
                && seen.running[..usize::from(seen.count)].iter().all(|&(j, end)| {
                    end <= soonest || at.running.iter().any(|r| r.0 == usize::from(j) && end <= r.1)
                })
            {
                return true;
            }
            link = seen.next;
        }
        let on: Vec<(usize, i32)> = at.running.iter().copied().filter(|r| r.1 > soonest).collect();
        if self.seen.len() < MEMORY && on.len() <= RUNNING {
            let mut running = [(0u8, 0i32); RUNNING];
            for (slot, (j, end)) in running.iter_mut().zip(&on) {
                *slot = (*j as u8, *end);
            }
            self.table.insert(at.started, self.seen.len() as u32);
            self.seen.push(Seen { since: soonest, count: on.len() as u8, running, next: first });
        }
        false
    }
}
