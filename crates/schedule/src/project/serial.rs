//! Serial schedule generation, forward and backward, and the two together: double justification
//! (Valls, Ballestín and Quintanilla 2005). For projects without maximum lags.

use super::network::Network;
use super::profile::Profile;
use units::Sequence;

/// Makes schedules from orders of activities.
pub(super) trait Builder {
    /// Children without a better one after which a population is given up.
    const PATIENCE: usize;
    /// Starts of the last schedule.
    fn starts(&self) -> &[i32];
    /// Takes over a schedule made elsewhere, to be read as an order.
    fn set(&mut self, starts: &[i32]);
    /// The schedule of an order, everything as early as it can; false when none was found.
    fn build(&mut self, order: &[u32]) -> bool;
    /// Justifies the last schedule to the right and to the left again; never longer than before. Returns
    /// its makespan.
    fn justify(&mut self) -> i32;
    /// The order of `keys` (not negative), leaders before followers.
    fn order_by(&mut self, keys: &[i32], into: &mut Vec<u32>);
    /// Whether `i` has to stand before `j` in an order.
    fn before(&self, i: usize, j: usize) -> bool;
    /// An order by chance, urgent activities more often first.
    fn draw(&mut self, chance: &mut Sequence, into: &mut Vec<u32>);
    /// The order of starts of the last schedule.
    fn order(&mut self, into: &mut Vec<u32>) {
        let starts = self.starts().to_vec();
        self.order_by(&starts, into);
    }
}

/// The network seen from one end: lags into an activity from those placed before it.
struct Side {
    /// Activities, leaders before followers.
    topological: Vec<u32>,
    first: Vec<u32>,
    lags: Vec<(u32, i32)>,
}

impl Side {
    fn new(
        lists: &[Vec<(usize, i32)>],
        topological: Vec<u32>,
        lag: impl Fn(usize, usize, i32) -> i32,
    ) -> Self {
        let mut side = Self { topological, first: vec![0], lags: Vec::new() };
        for (i, list) in lists.iter().enumerate() {
            side.lags.extend(list.iter().map(|&(j, w)| (j as u32, lag(i, j, w))));
            side.first.push(side.lags.len() as u32);
        }
        side
    }

    fn into(&self, i: usize) -> &[(u32, i32)] {
        &self.lags[self.first[i] as usize..self.first[i + 1] as usize]
    }
}

pub(super) struct Serial<'a> {
    net: &'a Network<'a>,
    forward: Side,
    backward: Side,
    profile: Profile,
    /// Starts of the last schedule, and its mirror image.
    starts: Vec<i32>,
    mirror: Vec<i32>,
    keys: Vec<i32>,
    sorter: Sorter,
    order: Vec<u32>,
}

impl<'a> Serial<'a> {
    pub fn new(net: &'a Network<'a>) -> Self {
        let d = &net.duration;
        let order: Vec<u32> = net.order.iter().flatten().map(|i| *i as u32).collect();
        let reverse: Vec<u32> = order.iter().rev().copied().collect();
        Self {
            net,
            forward: Side::new(&net.into, order, |_, _, w| w),
            // start(j) >= start(i) + w, seen from the end: i follows j by w + d(j) - d(i).
            backward: Side::new(&net.out, reverse, |i, j, w| w + d[j] - d[i]),
            profile: Profile::new(net),
            starts: vec![0; net.n],
            mirror: vec![0; net.n],
            keys: vec![0; net.n],
            sorter: Sorter::default(),
            order: (0..net.n as u32).collect(),
        }
    }
}

impl Builder for Serial<'_> {
    const PATIENCE: usize = 20_000;

    fn starts(&self) -> &[i32] {
        &self.starts
    }

    fn set(&mut self, starts: &[i32]) {
        self.starts.copy_from_slice(starts);
    }

    fn build(&mut self, order: &[u32]) -> bool {
        place(self.net, &self.forward, &mut self.profile, order, &mut self.starts);
        true
    }

    fn justify(&mut self) -> i32 {
        let d = &self.net.duration;
        let end = self.starts.iter().zip(d).map(|(s, d)| s + d).max().unwrap_or(0);
        // Seen from the end, what ends last comes first.
        for (key, (s, d)) in self.keys.iter_mut().zip(self.starts.iter().zip(d)) {
            *key = end - s - d;
        }
        self.sorter.sort(&self.keys, &self.backward, &mut self.order);
        place(self.net, &self.backward, &mut self.profile, &self.order, &mut self.mirror);
        let turned = self.mirror.iter().zip(d).map(|(m, d)| m + d).max().unwrap_or(0);
        for (key, (m, d)) in self.keys.iter_mut().zip(self.mirror.iter().zip(d)) {
            *key = turned - m - d;
        }
        self.sorter.sort(&self.keys, &self.forward, &mut self.order);
        place(self.net, &self.forward, &mut self.profile, &self.order, &mut self.starts);
        self.starts[self.net.sink]
    }

    fn order_by(&mut self, keys: &[i32], into: &mut Vec<u32>) {
        self.sorter.sort(keys, &self.forward, into);
    }

    fn before(&self, i: usize, j: usize) -> bool {
        self.net.into[j].iter().any(|l| l.0 == i)
    }

    /// Biased random sampling by latest start (Kolisch and Hartmann 1999).
    fn draw(&mut self, chance: &mut Sequence, into: &mut Vec<u32>) {
        let net = self.net;
        let mut waiting: Vec<usize> = net.into.iter().map(Vec::len).collect();
        let mut ready: Vec<u32> = (0..net.n as u32).filter(|&i| waiting[i as usize] == 0).collect();
        into.clear();
        while !ready.is_empty() {
            let least = ready.iter().map(|&i| net.tails[i as usize]).min().unwrap_or(0);
            let weight = |i: u32| {
                let regret = f64::from(net.tails[i as usize] - least + 1);
                regret * regret
            };
            let total: f64 = ready.iter().map(|&i| weight(i)).sum();
            let mut pick = chance.uniform() * total;
            let mut at = 0;
            while at + 1 < ready.len() && pick >= weight(ready[at]) {
                pick -= weight(ready[at]);
                at += 1;
            }
            let i = ready.swap_remove(at);
            into.push(i);
            for &(j, _) in &net.out[i as usize] {
                waiting[j] -= 1;
                if waiting[j] == 0 {
                    ready.push(j as u32);
                }
            }
        }
    }
}

/// Sorts activities by times: by counting, since times are small.
#[derive(Default)]
struct Sorter {
    counts: Vec<u32>,
    place: Vec<u32>,
}

impl Sorter {
    /// Activities by key; of equal keys leaders go first. Followers with smaller keys than their leaders
    /// are moved behind them.
    fn sort(&mut self, keys: &[i32], side: &Side, order: &mut Vec<u32>) {
        let n = keys.len();
        let top = keys.iter().copied().max().unwrap_or(0).max(0) as usize;
        self.counts.clear();
        self.counts.resize(top + 2, 0);
        for key in keys {
            self.counts[*key as usize + 1] += 1;
        }
        for k in 1..self.counts.len() {
            self.counts[k] += self.counts[k - 1];
        }
        order.resize(n, 0);
        self.place.resize(n, 0);
        for &i in &side.topological {
            let slot = &mut self.counts[keys[i as usize] as usize];
            order[*slot as usize] = i;
            self.place[i as usize] = *slot;
            *slot += 1;
        }
        let place = &self.place;
        let behind = |i: u32| side.into(i as usize).iter().any(|l| place[l.0 as usize] > place[i as usize]);
        if order.iter().any(|&i| behind(i)) {
            let mut done = vec![false; n];
            let mut sorted = Vec::with_capacity(n);
            for &i in order.iter() {
                visit(i, side, &mut done, &mut sorted);
            }
            order.copy_from_slice(&sorted);
        }
    }
}

fn visit(i: u32, side: &Side, done: &mut [bool], sorted: &mut Vec<u32>) {
    let mut stack = vec![(i, 0)];
    while let Some(&mut (v, ref mut next)) = stack.last_mut() {
        if done[v as usize] {
            stack.pop();
            continue;
        }
        match side.into(v as usize).get(*next) {
            Some(&(u, _)) => {
                *next += 1;
                if !done[u as usize] {
                    stack.push((u, 0));
                }
            }
            None => {
                done[v as usize] = true;
                sorted.push(v);
                stack.pop();
            }
        }
    }
}

fn place(net: &Network<'_>, side: &Side, profile: &mut Profile, order: &[u32], starts: &mut [i32]) {
    profile.clear();
    for &i in order {
        let i = i as usize;
        let mut from = 0;
        for &(j, lag) in side.into(i) {
            from = from.max(starts[j as usize] + lag);
        }
        let t = profile.first_fit(&net.needs[i], net.duration[i], from);
        profile.take(&net.needs[i], net.duration[i], t);
        starts[i] = t;
    }
}
