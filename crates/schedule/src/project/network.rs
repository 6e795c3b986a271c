//! A project with its lags read: heads, tails, and packed uses of resources.

use super::{Arc, Project};
use crate::graph::{Edge, components, longest_paths};

/// No path.
pub(super) const NONE: i32 = i32::MIN / 4;

/// Resources share one word four at a time; the top bit of each lane stays clear.
pub(super) const LANES: usize = 4;

pub(super) struct Network<'a> {
    pub project: &'a Project,
    pub n: usize,
    pub sink: usize,
    pub duration: Vec<i32>,
    /// Words of uses per activity: place of the word and its lanes.
    pub needs: Vec<Vec<(usize, u64)>>,
    /// Capacities, packed the same way.
    pub full: Vec<u64>,
    /// Lags into and out of every activity.
    pub into: Vec<Vec<(usize, i32)>>,
    pub out: Vec<Vec<(usize, i32)>>,
    /// Earliest starts by lags.
    pub heads: Vec<i32>,
    /// Longest path from start to start of the sink; [`NONE`] without one.
    pub tails: Vec<i32>,
    /// Activities in an order in which lags go forward, when there are no cycles.
    pub order: Option<Vec<usize>>,
    /// Share of all resources that each activity uses while it runs.
    pub share: Vec<f64>,
    /// A time by which everything can be over, when lags are only minimum lags.
    pub horizon: i32,
}

impl<'a> Network<'a> {
    /// Reads the lags; on a contradiction, the cycle of activities.
    pub fn new(project: &'a Project) -> Result<Self, Vec<usize>> {
        let n = project.activities.len();
        let duration: Vec<i32> = project.activities.iter().map(|a| a.duration).collect();
        let edges: Vec<Edge> =
            project.arcs.iter().map(|a| Edge { from: a.from, to: a.to, weight: i64::from(a.lag) }).collect();
        let mut heads = vec![0i64; n];
        longest_paths(&mut heads, &edges)?;
        let backward: Vec<Edge> =
            edges.iter().map(|e| Edge { from: e.to, to: e.from, weight: e.weight }).collect();
        const LOW: i64 = i64::MIN / 4;
        let mut tails = vec![LOW; n];
        let sink = n - 1;
        tails[sink] = 0;
        longest_paths(&mut tails, &backward)?;
        let mut into = vec![Vec::new(); n];
        let mut out = vec![Vec::new(); n];
        let mut horizon = duration.iter().map(|d| i64::from(*d)).sum::<i64>();
        for &Arc { from, to, lag } in &project.arcs {
            into[to].push((from, lag));
            out[from].push((to, lag));
            horizon += i64::from(lag.max(0));
        }
        let mut needs = Vec::with_capacity(n);
        for activity in &project.activities {
            needs.push(pack(&activity.uses).into_iter().enumerate().filter(|w| w.1 != 0).collect());
        }
        let order = forward_order(&out);
        Ok(Self {
            project,
            n,
            sink,
            duration,
            needs,
            full: pack(&project.capacities),
            into,
            out,
            heads: heads.into_iter().map(|h| h as i32).collect(),
            tails: tails.into_iter().map(|t| if t < LOW / 2 { NONE } else { t as i32 }).collect(),
            order,
            share: project.activities.iter().map(|a| share(&a.uses, &project.capacities)).collect(),
            horizon: horizon.clamp(1, 50_000_000) as i32,
        })
    }

    /// Longest ways from start to start, row by row; [`NONE`] without one.
    pub fn ways(&self) -> Vec<i32> {
        let n = self.n;
        let mut way = vec![NONE; n * n];
        for i in 0..n {
            way[i * n + i] = 0;
        }
        for arc in &self.project.arcs {
            let cell = &mut way[arc.from * n + arc.to];
            *cell = (*cell).max(arc.lag);
        }
        // Floyd and Warshall, on longest paths.
        for k in 0..n {
            let through = way[k * n..(k + 1) * n].to_vec();
            for row in way.chunks_mut(n) {
                let to_k = row[k];
                if to_k > NONE {
                    for (cell, rest) in row.iter_mut().zip(&through) {
                        if *rest > NONE {
                            *cell = (*cell).max(to_k + rest);
                        }
                    }
                }
            }
        }
        way
    }

    /// Uses more than there is, for any length of time: never possible.
    pub fn impossible(&self) -> bool {
        self.project.activities.iter().any(|a| {
            a.duration > 0 && a.uses.iter().zip(&self.project.capacities).any(|(used, there)| used > there)
        })
    }

    /// Whether two activities can never run at the same time.
    pub fn exclude(&self, i: usize, j: usize) -> bool {
        let (a, b) = (&self.project.activities[i], &self.project.activities[j]);
        a.duration > 0
            && b.duration > 0
            && a.uses.iter().zip(&b.uses).zip(&self.project.capacities).any(|((x, y), c)| x + y > *c)
    }
}

fn share(uses: &[i32], capacities: &[i32]) -> f64 {
    uses.iter().zip(capacities).filter(|x| *x.1 > 0).map(|(u, c)| f64::from(*u) / f64::from(*c)).sum()
}

fn pack(values: &[i32]) -> Vec<u64> {
    values
        .chunks(LANES)
        .map(|lanes| lanes.iter().enumerate().fold(0u64, |w, (i, v)| w | (*v as u64 & 0x7fff) << (16 * i)))
        .collect()
}

fn forward_order(out: &[Vec<(usize, i32)>]) -> Option<Vec<usize>> {
    let edges: Vec<Vec<usize>> = out.iter().map(|list| list.iter().map(|e| e.0).collect()).collect();
    let found = components(&edges);
    let alone = found.iter().all(|c| c.len() == 1);
    alone.then(|| found.into_iter().flatten().collect())
}
