//! What no schedule can beat: critical path, energy, activities that exclude each other.

use super::network::{NONE, Network};

pub(super) fn lower_bound(net: &Network<'_>) -> i32 {
    net.heads[net.sink].max(energy(net)).max(exclusion(net))
}

/// For every resource: earliest head, work over capacity, least tail, over nested sets by head and tail.
fn energy(net: &Network<'_>) -> i32 {
    let mut best = 0;
    for (k, &capacity) in net.project.capacities.iter().enumerate() {
        let users: Vec<usize> = (0..net.n)
            .filter(|&i| net.project.activities[i].uses[k] > 0 && net.duration[i] > 0 && net.tails[i] > NONE)
            .collect();
        if capacity <= 0 {
            continue;
        }
        let mut heads: Vec<i32> = users.iter().map(|&i| net.heads[i]).collect();
        heads.sort();
        heads.dedup();
        // After an activity ends the sink waits for its tail beyond its own duration.
        let rest = |i: usize| net.tails[i] - net.duration[i];
        let mut by_tail = users.clone();
        by_tail.sort_by_key(|&i| -rest(i));
        for &head in &heads {
            let mut work = 0i64;
            for &i in by_tail.iter().filter(|&&i| net.heads[i] >= head) {
                work += i64::from(net.duration[i]) * i64::from(net.project.activities[i].uses[k]);
                let periods = (work + i64::from(capacity) - 1) / i64::from(capacity);
                best = best.max(head + periods as i32 + rest(i));
            }
        }
    }
    best
}

/// Sets of activities of which no two can run together, found greedily.
fn exclusion(net: &Network<'_>) -> i32 {
    let candidates: Vec<usize> = (0..net.n).filter(|&i| net.duration[i] > 0 && net.tails[i] > NONE).collect();
    if candidates.len() > 400 {
        return 0;
    }
    let before = reach(net);
    let apart = |i: usize, j: usize| net.exclude(i, j) || before[i][j] || before[j][i];
    let mut best = 0;
    for &seed in &candidates {
        let mut set = vec![seed];
        let mut rest: Vec<usize> =
            candidates.iter().copied().filter(|&j| j != seed && apart(seed, j)).collect();
        rest.sort_by_key(|&j| (-net.duration[j], j));
        for j in rest {
            if set.iter().all(|&i| apart(i, j)) {
                set.push(j);
            }
        }
        let work: i32 = set.iter().map(|&i| net.duration[i]).sum();
        let head = set.iter().map(|&i| net.heads[i]).min().unwrap_or(0);
        let tail = set.iter().map(|&i| net.tails[i] - net.duration[i]).min().unwrap_or(0);
        best = best.max(head + work + tail);
    }
    best
}

/// Which activity ends before which starts, by lags alone.
fn reach(net: &Network<'_>) -> Vec<Vec<bool>> {
    let mut before = vec![vec![false; net.n]; net.n];
    let order: Vec<usize> = net.order.clone().unwrap_or_default();
    for &i in order.iter().rev() {
        for &(j, lag) in &net.out[i] {
            if lag >= net.duration[i] {
                before[i][j] = true;
                let follows = before[j].clone();
                for (mine, theirs) in before[i].iter_mut().zip(follows) {
                    *mine |= theirs;
                }
            }
        }
    }
    before
}
