//! Genetic search over activity lists, every schedule justified and read again as a list
//! (Hartmann 1998; Valls, Ballestín and Quintanilla 2008).

use super::network::Network;
use super::serial::Serial;
use effort::Effort;
use units::Sequence;

const POPULATION: usize = 40;

struct Member {
    order: Vec<u32>,
    starts: Vec<i32>,
    makespan: i32,
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
            if self.stale > 4000 {
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
        let mut member = Member { order: Vec::new(), starts: self.serial.starts.clone(), makespan };
        self.serial.order(&mut member.order);
        if self.members.len() < POPULATION {
            self.members.push(member);
            return;
        }
        if self.members.iter().any(|m| m.makespan == makespan && m.starts == member.starts) {
            return;
        }
        let worst = (0..POPULATION).max_by_key(|&k| self.members[k].makespan).unwrap_or(0);
        if self.members[worst].makespan >= makespan {
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
        if self.members[a].makespan <= self.members[b].makespan { a } else { b }
    }

    /// Two-point crossover of lists, then a few activities moved within their limits.
    fn child(&mut self, order: &mut Vec<u32>) {
        let n = self.net.n;
        let (mother, father) = (self.tournament(), self.tournament());
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
        let moves = self.chance.below(4);
        for _ in 0..moves {
            self.move_one(order);
        }
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
