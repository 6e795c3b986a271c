//! Directed graphs: strong components and longest paths.

/// Strong components in an order in which edges go forward (Tarjan 1972, without recursion).
pub(crate) fn components(out: &[Vec<usize>]) -> Vec<Vec<usize>> {
    const NEW: usize = usize::MAX;
    let n = out.len();
    let (mut index, mut low, mut on) = (vec![NEW; n], vec![0; n], vec![false; n]);
    let (mut stack, mut found, mut next) = (Vec::new(), Vec::new(), 0);
    for root in 0..n {
        if index[root] != NEW {
            continue;
        }
        let mut work = vec![(root, 0)];
        while let Some(&mut (v, ref mut edge)) = work.last_mut() {
            if *edge == 0 {
                index[v] = next;
                low[v] = next;
                next += 1;
                stack.push(v);
                on[v] = true;
            }
            if let Some(&w) = out[v].get(*edge) {
                *edge += 1;
                if index[w] == NEW {
                    work.push((w, 0));
                } else if on[w] {
                    low[v] = low[v].min(index[w]);
                }
                continue;
            }
            work.pop();
            if let Some(&(parent, _)) = work.last() {
                low[parent] = low[parent].min(low[v]);
            }
            if low[v] == index[v] {
                let at = stack.iter().rposition(|&x| x == v).unwrap_or(0);
                let members = stack.split_off(at);
                for &m in &members {
                    on[m] = false;
                }
                found.push(members);
            }
        }
    }
    found.reverse();
    found
}

/// An edge of a graph of lower bounds: `value(to) >= value(from) + weight`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Edge {
    pub from: usize,
    pub to: usize,
    pub weight: i64,
}

/// Raises `value` until every edge holds; on a positive cycle, its nodes in order.
pub(crate) fn longest_paths(value: &mut [i64], edges: &[Edge]) -> Result<(), Vec<usize>> {
    let n = value.len();
    let mut parent = vec![usize::MAX; n];
    for round in 0..=n {
        let mut last = None;
        for e in edges {
            if value[e.from] + e.weight > value[e.to] {
                value[e.to] = value[e.from] + e.weight;
                parent[e.to] = e.from;
                last = Some(e.to);
            }
        }
        let Some(mut v) = last else { return Ok(()) };
        if round == n {
            for _ in 0..n {
                v = parent[v];
            }
            let mut cycle = vec![v];
            let mut u = parent[v];
            while u != v {
                cycle.push(u);
                u = parent[u];
            }
            cycle.reverse();
            return Err(cycle);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn components_come_in_the_order_of_edges() {
        let out = vec![vec![1], vec![2], vec![1, 3], vec![], vec![0]];
        let mut found = components(&out);
        for c in &mut found {
            c.sort();
        }
        assert_eq!(found, [vec![4], vec![0], vec![1, 2], vec![3]]);
    }

    #[test]
    fn a_positive_cycle_is_shown_in_order() {
        let e = |from, to, weight| Edge { from, to, weight };
        let mut value = vec![0; 4];
        assert_eq!(longest_paths(&mut value, &[e(0, 1, 3), e(1, 2, 4), e(2, 1, -4)]), Ok(()));
        assert_eq!(value, [0, 3, 7, 0]);
        let cycle =
            longest_paths(&mut value, &[e(0, 1, 3), e(1, 2, 4), e(2, 3, 0), e(3, 1, -3)]).unwrap_err();
        let at = cycle.iter().position(|v| *v == 1).unwrap();
        let turned: Vec<usize> = (0..3).map(|k| cycle[(at + k) % 3]).collect();
        assert_eq!(turned, [1, 2, 3]);
    }
}
