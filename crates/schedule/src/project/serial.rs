//! Serial schedule generation, forward and backward, and the two together: double justification
//! (Valls, Ballestín and Quintanilla 2005). For projects without maximum lags.

use super::network::Network;
use super::profile::Profile;

/// The network seen from one end: lags into an activity from those placed before it.
struct Side {
    first: Vec<u32>,
    lags: Vec<(u32, i32)>,
}

impl Side {
    fn new(lists: &[Vec<(usize, i32)>], lag: impl Fn(usize, usize, i32) -> i32) -> Self {
        let mut side = Self { first: vec![0], lags: Vec::new() };
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
    pub starts: Vec<i32>,
    mirror: Vec<i32>,
    keys: Vec<u64>,
    order: Vec<u32>,
}

impl<'a> Serial<'a> {
    pub fn new(net: &'a Network<'a>) -> Self {
        let d = &net.duration;
        Self {
            net,
            forward: Side::new(&net.into, |_, _, w| w),
            // start(j) >= start(i) + w, seen from the end: i follows j by w + d(j) - d(i).
            backward: Side::new(&net.out, |i, j, w| w + d[j] - d[i]),
            profile: Profile::new(net),
            starts: vec![0; net.n],
            mirror: vec![0; net.n],
            keys: vec![0; net.n],
            order: (0..net.n as u32).collect(),
        }
    }

    /// Left-justified schedule of an order in which lags go forward. Returns its makespan.
    pub fn schedule(&mut self, order: &[u32]) -> i32 {
        place(self.net, &self.forward, &mut self.profile, order, &mut self.starts);
        self.starts[self.net.sink]
    }

    /// Justifies the last schedule to the right and to the left again; never longer than before.
    pub fn justify(&mut self) -> i32 {
        let n = self.net.n;
        let d = &self.net.duration;
        let end = (0..n).map(|i| self.starts[i] + d[i]).max().unwrap_or(0);
        // Late ends first; of equal ends the later start, so that followers go before.
        for i in 0..n {
            let (e, s) = (self.starts[i] + d[i], self.starts[i]);
            self.keys[i] = ((end - e) as u64) << 42 | ((end - s) as u64) << 20 | i as u64;
        }
        sort_by_keys(&self.backward, &mut self.keys, &mut self.order);
        place(self.net, &self.backward, &mut self.profile, &self.order, &mut self.mirror);
        for i in 0..n {
            self.keys[i] = ((end - self.mirror[i] - d[i] + (1 << 20)) as u64) << 32 | i as u64;
        }
        sort_by_keys(&self.forward, &mut self.keys, &mut self.order);
        place(self.net, &self.forward, &mut self.profile, &self.order, &mut self.starts);
        self.starts[self.net.sink]
    }

    /// The order of starts of the last schedule.
    pub fn order(&mut self, into: &mut Vec<u32>) {
        for i in 0..self.net.n {
            self.keys[i] = (self.starts[i] as u64) << 32 | i as u64;
        }
        sort_by_keys(&self.forward, &mut self.keys, &mut self.order);
        into.clone_from(&self.order);
    }
}

/// Sorts activities by key, the number in its low 20 bits; lags of nothing between equal keys are put
/// right by moving followers behind.
fn sort_by_keys(side: &Side, keys: &mut [u64], order: &mut [u32]) {
    order.copy_from_slice(&(0..keys.len() as u32).collect::<Vec<_>>());
    order.sort_unstable_by_key(|&i| keys[i as usize]);
    for (at, &i) in order.iter().enumerate() {
        keys[i as usize] = at as u64;
    }
    // A follower before its leader happens only between equal times.
    let broken =
        order.iter().any(|&i| side.into(i as usize).iter().any(|l| keys[l.0 as usize] > keys[i as usize]));
    if broken {
        let n = order.len();
        let mut done = vec![false; n];
        let mut sorted = Vec::with_capacity(n);
        for &i in order.iter() {
            visit(i, side, &mut done, &mut sorted);
        }
        order.copy_from_slice(&sorted);
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
