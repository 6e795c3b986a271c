//! Serial schedule generation with maximum lags: a task that comes too late for one placed before it takes
//! that one out again (Franck, Neumann and Schwindt 2001), and double justification that moves one task at
//! a time within its lags (after Ballestín, Barrios and Valls 2011).

use super::network::{NONE, Network};
use super::profile::Profile;
use super::serial::Builder;
use units::Sequence;

/// Tasks taken out again in one schedule before it is given up, per task of the project.
const TAKEN_OUT: usize = 3;

/// Further than any time.
const FAR: i32 = i32::MAX / 4;

pub(super) struct Lagged<'a> {
    net: &'a Network<'a>,
    n: usize,
    /// Longest ways between starts, row by row, and the same from the other end.
    way: Vec<i32>,
    back: Vec<i32>,
    /// What must be placed before each task, as a list.
    leaders: Vec<Vec<u32>>,
    followers: Vec<Vec<u32>>,
    profile: Profile,
    starts: Vec<i32>,
    earliest: Vec<i32>,
    latest: Vec<i32>,
    floor: Vec<i32>,
    placed: Vec<bool>,
    waiting: Vec<u32>,
    rank: Vec<u32>,
    order: Vec<u32>,
}

impl<'a> Lagged<'a> {
    pub fn new(net: &'a Network<'a>) -> Self {
        let n = net.n;
        let way = net.ways();
        let mut back = vec![NONE; n * n];
        for i in 0..n {
            for j in 0..n {
                back[j * n + i] = way[i * n + j];
            }
        }
        let (mut leaders, mut followers) = (vec![Vec::new(); n], vec![Vec::new(); n]);
        for i in 0..n {
            for j in 0..n {
                let (there, here) = (way[i * n + j], way[j * n + i]);
                if i != j && (there > 0 || (there == 0 && here < 0)) {
                    leaders[j].push(i as u32);
                    followers[i].push(j as u32);
                }
            }
        }
        Self {
            net,
            n,
            way,
            back,
            leaders,
            followers,
            profile: Profile::new(net),
            starts: vec![0; n],
            earliest: vec![0; n],
            latest: vec![0; n],
            floor: vec![0; n],
            placed: vec![false; n],
            waiting: vec![0; n],
            rank: vec![0; n],
            order: (0..n as u32).collect(),
        }
    }

    fn place(&mut self, i: usize, t: i32) {
        self.starts[i] = t;
        self.placed[i] = true;
        self.profile.take(&self.net.needs[i], self.net.duration[i], t);
        self.narrow(i, t);
        for &j in &self.followers[i] {
            self.waiting[j as usize] -= 1;
        }
    }

    /// What a start means for all other starts.
    fn narrow(&mut self, i: usize, t: i32) {
        let row = i * self.n..(i + 1) * self.n;
        for (e, w) in self.earliest.iter_mut().zip(&self.way[row.clone()]) {
            *e = (*e).max(t + w);
        }
        for (l, w) in self.latest.iter_mut().zip(&self.back[row]) {
            *l = (*l).min(t - w);
        }
    }

    /// Takes tasks out so that `i` can start at `t`; false when nothing placed stands in its way.
    fn take_out(&mut self, i: usize, t: i32) -> usize {
        let mut from = FAR;
        for j in (0..self.n).filter(|&j| self.placed[j]) {
            let way = self.way[i * self.n + j];
            if way > NONE && self.starts[j] < t + way {
                self.floor[j] = self.floor[j].max(t + way);
                from = from.min(self.starts[j]);
            }
        }
        let mut out = 0;
        for j in 0..self.n {
            if self.placed[j] && self.starts[j] >= from {
                self.placed[j] = false;
                out += 1;
                self.profile.give(&self.net.needs[j], self.net.duration[j], self.starts[j]);
                for &k in &self.followers[j] {
                    self.waiting[k as usize] += 1;
                }
            }
        }
        if out > 0 {
            self.earliest.copy_from_slice(&self.floor);
            self.latest.fill(FAR);
            for j in 0..self.n {
                if self.placed[j] {
                    self.narrow(j, self.starts[j]);
                }
            }
        }
        out
    }

    /// Moves tasks one by one, from the last end on, as late as lags and resources allow with all others
    /// where they are; then, from the first start on, as early. Every step keeps a sound schedule sound.
    fn shift(&mut self) {
        let net = self.net;
        let order = &mut self.order;
        let end = self.starts[net.sink];
        order.sort_unstable_by_key(|&i| (-(self.starts[i as usize] + net.duration[i as usize]), i));
        for &i in order.iter() {
            let i = i as usize;
            if i == net.sink {
                continue;
            }
            // Nothing may push the sink, or end after it where it did not.
            let mut until = (end - net.duration[i]).max(self.starts[i]);
            for &(j, lag) in &net.out[i] {
                until = until.min(self.starts[j] - lag);
            }
            if until > self.starts[i] {
                self.profile.give(&net.needs[i], net.duration[i], self.starts[i]);
                let t = self.profile.last_fit(&net.needs[i], net.duration[i], self.starts[i], until);
                self.profile.take(&net.needs[i], net.duration[i], t);
                self.starts[i] = t;
            }
        }
        order.sort_unstable_by_key(|&i| (self.starts[i as usize], i));
        for &i in order.iter() {
            let i = i as usize;
            let mut from = 0;
            for &(j, lag) in &net.into[i] {
                from = from.max(self.starts[j] + lag);
            }
            if from < self.starts[i] {
                self.profile.give(&net.needs[i], net.duration[i], self.starts[i]);
                let t = self.profile.first_fit(&net.needs[i], net.duration[i], from);
                self.profile.take(&net.needs[i], net.duration[i], t);
                self.starts[i] = t;
            }
        }
    }
}

impl Builder for Lagged<'_> {
    /// On the UBO sets populations come to a standstill early, and far from each other.
    const PATIENCE: usize = 4_000;

    fn starts(&self) -> &[i32] {
        &self.starts
    }

    fn set(&mut self, starts: &[i32]) {
        self.starts.copy_from_slice(starts);
    }

    fn build(&mut self, order: &[u32]) -> bool {
        let n = self.n;
        self.profile.clear();
        self.placed.fill(false);
        self.floor.copy_from_slice(&self.net.heads);
        self.earliest.copy_from_slice(&self.net.heads);
        self.latest.fill(FAR);
        for (count, list) in self.waiting.iter_mut().zip(&self.leaders) {
            *count = list.len() as u32;
        }
        for (k, &i) in order.iter().enumerate() {
            self.rank[i as usize] = k as u32;
        }
        let mut out = 0;
        let mut left = n;
        // Everything before this place in the order is placed.
        let mut first = 0;
        while left > 0 {
            while first < n && self.placed[order[first] as usize] {
                first += 1;
            }
            let next = order[first..]
                .iter()
                .copied()
                .find(|&i| !self.placed[i as usize] && self.waiting[i as usize] == 0);
            let Some(i) = next.map(|i| i as usize) else { return false };
            let t = self.profile.first_fit(&self.net.needs[i], self.net.duration[i], self.earliest[i]);
            if t <= self.latest[i] {
                self.place(i, t);
                left -= 1;
                continue;
            }
            let taken = self.take_out(i, t);
            out += taken.max(1);
            if taken == 0 || out > TAKEN_OUT * n {
                return false;
            }
            left += taken;
            first = 0;
        }
        true
    }

    fn justify(&mut self) -> i32 {
        let before = self.starts[self.net.sink];
        self.shift();
        if self.starts[self.net.sink] < before {
            self.shift();
        }
        self.starts[self.net.sink]
    }

    fn order_by(&mut self, keys: &[i32], into: &mut Vec<u32>) {
        into.clear();
        into.extend(0..self.n as u32);
        into.sort_by_key(|&i| (keys[i as usize], i));
    }

    fn before(&self, i: usize, j: usize) -> bool {
        self.leaders[j].contains(&(i as u32))
    }

    fn draw(&mut self, chance: &mut Sequence, into: &mut Vec<u32>) {
        // Latest starts, blurred.
        let longest = self.net.heads[self.net.sink].max(1);
        let blur = (chance.uniform().powi(2) * f64::from(longest) * 1.5) as usize + 1;
        let late = |i: usize| if self.net.tails[i] > NONE { longest - self.net.tails[i] } else { longest };
        let keys: Vec<i32> = (0..self.n).map(|i| late(i) + chance.below(blur) as i32).collect();
        self.order_by(&keys, into);
    }
}
