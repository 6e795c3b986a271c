//! Genetic search over activity lists, every schedule justified and read again as a list
//! (Hartmann 1998; Valls, Ballestín and Quintanilla 2008).

use super::network::Network;
use super::serial::Serial;
use effort::Effort;
use units::Sequence;

/// Members, children mixed by time instead of by place, and children without a better one after which the
/// population is drawn afresh. On J120, 40 members end a little worse after 2 s, and every child mixed too.
const POPULATION: usize = 200;
const MIXED: f64 = 0.2;
const STALE: usize = 20_000;

struct Member {
    order: Vec<u32>,
    starts: Vec<i32>,
    makespan: i32,
    /// Work times start, summed: of schedules as long, the one with more room at its end is worth more.
    moment: i64,
}

pub(super) struct Genetic<'a> {
    net: &'a Network<'a>,
    serial: Serial<'a>,
    chance: Sequence,
    members: Vec<Member>,
    pub best: Vec<i32>,
    pub makespan: i32,
    stale: usize,
}

impl<'a> Genetic<'a> {
    pub fn new(net: &'a Network<'a>, chance: Sequence) -> Self {
        let serial = Serial::new(net);
        Self { net, serial, chance, members: Vec::new(), best: Vec::new(), makespan: i32::MAX, stale: 0 }
    }

    /// Searches until the bound is met or `share` of the effort is used.
    pub fn run(&mut self, bound: i32, share: f64, effort: &Effort) {
        let mut order = vec![0u32; self.net.n];
        let mut first = true;
        while self.makespan > bound && (first || (effort.goes_on() && effort.used() < share)) {
            first = false;
            if self.members.len() < POPULATION {
                self.sample(&mut order);
            } else {
                self.child(&mut order);
            }
            let before = self.makespan;
            self.add(&order);
            effort.spend(3 * self.net.n as u64);
            self.stale = if self.makespan < before { 0 } else { self.stale + 1 };
            if self.stale > STALE {
                // A fresh population keeps only the best.
                self.stale = 0;
                self.members.sort_by_key(|m| m.makespan);
                self.members.truncate(1);
            }
        }
    }

    /// Takes in a schedule found elsewhere.
    pub fn learn(&mut self, starts: &[i32]) {
        self.serial.starts.copy_from_slice(starts);
        let mut order = Vec::new();
        self.serial.order(&mut order);
        self.add(&order);
    }

    fn add(&mut self, order: &[u32]) {
        self.serial.schedule(order);
        let makespan = self.serial.justify();
        if makespan < self.makespan {
            self.makespan = makespan;
            self.best.clone_from(&self.serial.starts);
        }
        let starts = self.serial.starts.clone();
        let work = |i: usize| (self.net.share[i] * 1000.0) as i64 * i64::from(self.net.duration[i]);
        let moment =
            (0..self.net.n).fold(0i64, |m, i| m.saturating_add(work(i).saturating_mul(i64::from(starts[i]))));
        let mut member = Member { order: Vec::new(), starts, makespan, moment };
        self.serial.order(&mut member.order);
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

    /// Biased random sampling by latest start (Kolisch and Hartmann 1999).
    fn sample(&mut self, order: &mut [u32]) {
        let net = self.net;
        let mut waiting: Vec<usize> = net.into.iter().map(Vec::len).collect();
        let mut ready: Vec<u32> = (0..net.n as u32).filter(|&i| waiting[i as usize] == 0).collect();
        for slot in order.iter_mut() {
            let least = ready.iter().map(|&i| net.tails[i as usize]).min().unwrap_or(0);
            let weight = |i: u32| {
                let regret = f64::from(net.tails[i as usize] - least + 1);
                regret * regret
            };
            let total: f64 = ready.iter().map(|&i| weight(i)).sum();
            let mut pick = self.chance.uniform() * total;
            let mut at = 0;
            while at + 1 < ready.len() && pick >= weight(ready[at]) {
                pick -= weight(ready[at]);
                at += 1;
            }
            let i = ready.swap_remove(at);
            *slot = i;
            for &(j, _) in &net.out[i as usize] {
                waiting[j] -= 1;
                if waiting[j] == 0 {
                    ready.push(j as u32);
                }
            }
        }
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
        self.serial.order_by(&keys, order);
    }

    fn move_one(&mut self, order: &mut [u32]) {
        let n = order.len();
        let at = self.chance.below(n);
        let i = order[at] as usize;
        let reach = 1 + self.chance.below(n / 4 + 1);
        if self.chance.below(2) == 0 {
            let mut to = at;
            while to > 0 && at - to < reach && !self.net.into[i].iter().any(|l| l.0 == order[to - 1] as usize)
            {
                to -= 1;
            }
            order[to..=at].rotate_right(1);
        } else {
            let mut to = at;
            while to + 1 < n
                && to - at < reach
                && !self.net.out[i].iter().any(|l| l.0 == order[to + 1] as usize)
            {
                to += 1;
            }
            order[at..=to].rotate_left(1);
        }
    }
}
