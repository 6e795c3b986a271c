//! Genetic search over activity lists, every schedule justified and read again as a list
//! (Hartmann 1998; Valls, Ballestín and Quintanilla 2008).

use super::network::Network;
use super::serial::Builder;
use effort::Effort;
use units::Sequence;

/// Members, and children mixed by time instead of by place. On J120, 40 members end a little worse after 2 s, and every child mixed too.
const POPULATION: usize = 200;
const MIXED: f64 = 0.2;

struct Member {
    order: Vec<u32>,
    starts: Vec<i32>,
    makespan: i32,
    /// Work times start, summed: of schedules as long, the one with more room at its end is worth more.
    moment: i64,
}

pub(super) struct Genetic<'a, B> {
    net: &'a Network<'a>,
    builder: B,
    chance: Sequence,
    members: Vec<Member>,
    pub best: Vec<i32>,
    pub makespan: i32,
    stale: usize,
    /// Orders tried to begin with, and how many of them came to no schedule.
    tries: u64,
    failed: u64,
    /// Whether the next fresh population keeps the best.
    fresh: bool,
}

impl<'a, B: Builder> Genetic<'a, B> {
    pub fn new(net: &'a Network<'a>, builder: B, chance: Sequence) -> Self {
        Self {
            net,
            builder,
            chance,
            members: Vec::new(),
            best: Vec::new(),
            makespan: i32::MAX,
            stale: 0,
            tries: 0,
            failed: 0,
            fresh: B::PATIENCE > 10_000,
        }
    }

    /// Searches until the bound is met or `share` of the effort is used.
    pub fn run(&mut self, bound: i32, share: f64, effort: &Effort) {
        let mut order = vec![0u32; self.net.n];
        let mut first = true;
        while self.makespan > bound && (first || (effort.goes_on() && effort.used() < share)) {
            first = false;
            if self.members.len() < POPULATION {
                self.beginner(&mut order);
            } else {
                self.child(&mut order);
            }
            let before = self.makespan;
            self.add(&order);
            effort.spend(3 * self.net.n as u64);
            self.stale = if self.makespan < before { 0 } else { self.stale + 1 };
            if self.stale > B::PATIENCE {
                // A fresh population keeps the best, but every other time not even that.
                self.stale = 0;
                self.members.sort_by_key(|m| m.makespan);
                self.members.truncate(usize::from(self.fresh));
                self.fresh = !self.fresh;
            }
        }
    }

    /// Takes in a schedule found elsewhere as it is.
    pub fn take(&mut self, starts: &[i32]) {
        self.builder.set(starts);
        self.makespan = starts[self.net.sink];
        self.best = starts.to_vec();
        self.join(starts.to_vec(), self.makespan);
    }

    /// Takes in a schedule found elsewhere, made anew from its order.
    pub fn learn(&mut self, starts: &[i32]) {
        self.builder.set(starts);
        let mut order = Vec::new();
        self.builder.order(&mut order);
        self.add(&order);
    }

    fn add(&mut self, order: &[u32]) {
        if !self.builder.build(order) {
            self.failed += u64::from(self.members.len() < POPULATION);
            return;
        }
        let makespan = self.builder.justify();
        let starts = self.builder.starts().to_vec();
        if makespan < self.makespan {
            self.makespan = makespan;
            self.best.clone_from(&starts);
        }
        self.join(starts, makespan);
    }

    fn join(&mut self, starts: Vec<i32>, makespan: i32) {
        let work = |i: usize| (self.net.share[i] * 1000.0) as i64 * i64::from(self.net.duration[i]);
        let moment =
            (0..self.net.n).fold(0i64, |m, i| m.saturating_add(work(i).saturating_mul(i64::from(starts[i]))));
        let mut member = Member { order: Vec::new(), starts, makespan, moment };
        self.builder.order(&mut member.order);
        if self.members.len() < POPULATION {
            self.members.push(member);
            return;
        }
        if self.members.iter().any(|m| m.makespan == makespan && m.starts == member.starts) {
            return;
        }
        let worst = (0..self.members.len())
            .max_by_key(|&k| (self.members[k].makespan, self.members[k].moment))
            .unwrap_or(0);
        if (self.members[worst].makespan, self.members[worst].moment) >= (makespan, member.moment) {
            self.members[worst] = member;
        }
    }

    /// An order to begin with: drawn by chance, or where those seldom come to a schedule, near a known one.
    fn beginner(&mut self, order: &mut Vec<u32>) {
        self.tries += 1;
        if self.members.is_empty() || 3 * self.failed < self.tries {
            self.builder.draw(&mut self.chance, order);
            return;
        }
        let known = self.chance.below(self.members.len());
        let blur = 2 + self.chance.below(1 + self.makespan.max(0) as usize / 8);
        let keys: Vec<i32> =
            self.members[known].starts.iter().map(|s| s + self.chance.below(blur) as i32).collect();
        self.builder.order_by(&keys, order);
    }

    fn tournament(&mut self) -> usize {
        let (a, b) = (self.chance.below(self.members.len()), self.chance.below(self.members.len()));
        if (self.members[a].makespan, self.members[a].moment)
            <= (self.members[b].makespan, self.members[b].moment)
        {
            a
        } else {
            b
        }
    }

    /// A child of two members: inside some stretch of time the order of one, outside that of the other.
    fn child(&mut self, order: &mut Vec<u32>) {
        let n = self.net.n;
        let (mother, father) = (self.tournament(), self.tournament());
        if self.chance.uniform() < MIXED {
            self.mixed_child(mother, father, order);
        } else {
            let (mut p, mut q) = (self.chance.below(n), self.chance.below(n));
            if p > q {
                std::mem::swap(&mut p, &mut q);
            }
            let mut used = vec![false; n];
            order.clear();
            let mother = &self.members[mother].order;
            let father = &self.members[father].order;
            let (outer, inner) = if self.chance.below(2) == 0 { (mother, father) } else { (father, mother) };
            let mut take = |order: &mut Vec<u32>, list: &[u32], until: usize| {
                for &i in list {
                    if order.len() >= until {
                        break;
                    }
                    if !std::mem::replace(&mut used[i as usize], true) {
                        order.push(i);
                    }
                }
            };
            take(order, outer, p);
            take(order, inner, q);
            take(order, outer, n);
        }
        if self.chance.below(2) == 0 {
            self.move_one(order);
        }
    }

    /// Activities that run while the mother uses much of the resources keep her times; the others take
    /// the father's (after the peak crossover of Valls, Ballestín and Quintanilla 2008).
    fn mixed_child(&mut self, mother: usize, father: usize, order: &mut Vec<u32>) {
        let n = self.net.n;
        let (her, his) = (&self.members[mother], &self.members[father]);
        let span = her.makespan.max(1) as usize;
        let mut load = vec![0f64; span + 1];
        for i in 0..n {
            let share = self.net.share[i];
            for t in her.starts[i]..(her.starts[i] + self.net.duration[i]).min(span as i32) {
                load[t as usize] += share;
            }
        }
        let top = load.iter().copied().fold(0.0, f64::max);
        let level = top * self.chance.between(0.6, 1.0);
        let keys: Vec<i32> = (0..n)
            .map(|i| {
                let run = her.starts[i]..(her.starts[i] + self.net.duration[i].max(1)).min(span as i32);
                let peak = run.clone().any(|t| load[t as usize] >= level);
                if peak { her.starts[i] } else { his.starts[i] }
            })
            .collect();
        self.builder.order_by(&keys, order);
    }

    fn move_one(&mut self, order: &mut [u32]) {
        let n = order.len();
        let at = self.chance.below(n);
        let i = order[at] as usize;
        let reach = 1 + self.chance.below(n / 4 + 1);
        if self.chance.below(2) == 0 {
            let mut to = at;
            while to > 0 && at - to < reach && !self.builder.before(order[to - 1] as usize, i) {
                to -= 1;
            }
            order[to..=at].rotate_right(1);
        } else {
            let mut to = at;
            while to + 1 < n && to - at < reach && !self.builder.before(i, order[to + 1] as usize) {
                to += 1;
            }
            order[at..=to].rotate_left(1);
        }
    }
}
