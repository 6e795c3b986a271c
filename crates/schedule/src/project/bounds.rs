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

fn exclusion(net: &Network<'_>) -> i32 {
    let mut best = 0;
    for set in cliques(net) {
        let work: i32 = set.iter().map(|&i| net.duration[i]).sum();
        let head = set.iter().map(|&i| net.heads[i]).min().unwrap_or(0);
        let tail = set.iter().map(|&i| net.tails[i] - net.duration[i]).min().unwrap_or(0);
        best = best.max(head + work + tail);
    }
    best
}

/// Sets of activities of which no two can run together, found greedily, one from every activity.
pub(super) fn cliques(net: &Network<'_>) -> Vec<Vec<usize>> {
    let candidates: Vec<usize> = (0..net.n).filter(|&i| net.duration[i] > 0 && net.tails[i] > NONE).collect();
    if candidates.len() > 400 {
        return Vec::new();
    }
    let before = reach(net);
    let apart = |i: usize, j: usize| net.exclude(i, j) || before[i][j] || before[j][i];
    let mut found = Vec::new();
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
        set.sort();
        // A set held apart by lags alone says nothing new.
        let open = |i: usize, j: usize| !before[i][j] && !before[j][i];
        if set.iter().enumerate().any(|(k, &i)| set[k + 1..].iter().any(|&j| open(i, j))) {
            found.push(set);
        }
    }
    found.sort();
    found.dedup();
    found
}

/// Which activity ends before which starts, by lags alone.
fn reach(net: &Network<'_>) -> Vec<Vec<bool>> {
    let way = net.ways();
    let n = net.n;
    (0..n).map(|i| (0..n).map(|j| i != j && way[i * n + j] >= net.duration[i]).collect()).collect()
}
