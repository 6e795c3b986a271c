//! Shortest ways over a surface.
//!
//! A first way along edges (Dijkstra) lies in a strip of triangles. Unfolded into the plane, the shortest way within the
//! strip is found by a funnel (Lee and Preparata 1984); where it bends about a vertex with less than a half turn on the
//! other side, the strip is led around that side instead (Xin and Wang 2007). Each change makes the way shorter; what is
//! left at the end bends nowhere but at vertices with at least a half turn on both sides: a geodesic.

use super::cut::{Step, Work};
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};
use std::f64::consts::PI;

/// Changes of the strip at most; each takes time of its length.
const CHANGES: usize = 20_000;

/// An edge that the way crosses, its ends to the left and right of it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Gate {
    left: u32,
    right: u32,
}

type Flat = [f64; 2];

/// A shortest way from one vertex to another, without the first vertex; none where no way leads there.
pub(super) fn shortest(work: &Work, from: u32, to: u32) -> Option<Vec<Step>> {
    if from == to {
        return Some(Vec::new());
    }
    let along = along_edges(work, from, to)?;
    let mut gates = strip(work, &along);
    for _ in 0..CHANGES {
        trim(&mut gates, from, to);
        let (flat, pulled) = pull(work, &gates, from, to);
        let Some((at, on_left)) = best_bend(work, &gates, &flat, &pulled) else {
            return Some(steps(&gates, &flat, &pulled, to));
        };
        if !lead_around(work, &mut gates, at, on_left, from, to) {
            return Some(steps(&gates, &flat, &pulled, to));
        }
    }
    trim(&mut gates, from, to);
    let (flat, pulled) = pull(work, &gates, from, to);
    Some(steps(&gates, &flat, &pulled, to))
}

fn along_edges(work: &Work, from: u32, to: u32) -> Option<Vec<u32>> {
    let mut near: Vec<Vec<u32>> = vec![Vec::new(); work.vertices.len()];
    for [a, b, c] in &work.triangles {
        for (p, q) in [(*a, *b), (*b, *c), (*c, *a)] {
            near[p as usize].push(q);
            near[q as usize].push(p);
        }
    }
    let mut best = vec![f64::INFINITY; work.vertices.len()];
    let mut back = vec![u32::MAX; work.vertices.len()];
    let mut open = BinaryHeap::new();
    best[from as usize] = 0.0;
    // lengths are not negative, so their bits order as they do
    open.push(Reverse((0u64, from)));
    while let Some(Reverse((bits, v))) = open.pop() {
        let so_far = f64::from_bits(bits);
        if v == to {
            break;
        }
        if so_far > best[v as usize] {
            continue;
        }
        for &w in &near[v as usize] {
            let length = so_far + work.length(v, w);
            if length < best[w as usize] {
                best[w as usize] = length;
                back[w as usize] = v;
                open.push(Reverse((length.to_bits(), w)));
            }
        }
    }
    let mut way = vec![to];
    while *way.last()? != from {
        let v = back[*way.last()? as usize];
        if v == u32::MAX {
            return None;
        }
        way.push(v);
    }
    way.reverse();
    Some(way)
}

/// Vertices around `v` from `p` on, turning left (counterclockwise seen from outside) or right, until `q`; none where
/// the rim lies between.
fn around(work: &Work, v: u32, p: u32, q: u32, left: bool) -> Option<Vec<u32>> {
    let mut met = vec![p];
    let mut at = p;
    while at != q || met.len() == 1 {
        at = if left { work.opposite(v, at)? } else { work.opposite(at, v)? };
        met.push(at);
        if at == q {
            break;
        }
        if at == p || met.len() > work.triangles.len() + 2 {
            return None;
        }
    }
    Some(met)
}

fn corner(work: &Work, v: u32, p: u32, q: u32) -> f64 {
    use crate::mesh::{cross, dot, norm, sub};
    let [v, p, q] = [v, p, q].map(|i| work.vertices[i as usize]);
    let (a, b) = (sub(p, v), sub(q, v));
    norm(cross(a, b)).atan2(dot(a, b))
}

fn angle(work: &Work, v: u32, fan: &[u32]) -> f64 {
    fan.windows(2).map(|w| corner(work, v, w[0], w[1])).sum()
}

/// Gates of a strip beside a way along edges: at each vertex on the side with the smaller angle.
fn strip(work: &Work, along: &[u32]) -> Vec<Gate> {
    let mut gates: Vec<Gate> = Vec::new();
    // the side on which the strip lies now: whether the vertices of the way are to its left
    let mut side: Option<bool> = None;
    for w in along.windows(3) {
        let [u, v, x] = [w[0], w[1], w[2]];
        // turning right from the way's end to its start leads over the left side of the way
        let over_left = around(work, v, u, x, false);
        let over_right = around(work, v, u, x, true);
        let size = |fan: &Option<Vec<u32>>| fan.as_ref().map_or(f64::INFINITY, |f| angle(work, v, f));
        let right = size(&over_right) <= size(&over_left);
        let Some(fan) = (if right { over_right } else { over_left }) else { continue };
        if side.is_some_and(|s| s != right) {
            // from one side of the edge u–v to the other: over the edge itself
            gates.push(if right { Gate { left: v, right: u } } else { Gate { left: u, right: v } });
        }
        side = Some(right);
        for p in &fan[1..fan.len() - 1] {
            gates.push(if right { Gate { left: v, right: *p } } else { Gate { left: *p, right: v } });
        }
    }
    gates
}

/// Drops gates that hang on the start or the end: the way need not cross them.
fn trim(gates: &mut Vec<Gate>, from: u32, to: u32) {
    let holds = |g: &Gate, v: u32| g.left == v || g.right == v;
    let skip = gates.iter().rposition(|g| holds(g, from)).map_or(0, |i| i + 1);
    gates.drain(..skip);
    if let Some(first) = gates.iter().position(|g| holds(g, to)) {
        gates.truncate(first);
    }
}

/// A vertex that the pulled way touches.
#[derive(Clone, Copy, Debug)]
struct Touch {
    at: Flat,
    /// The gate at which it is touched.
    gate: usize,
    /// Whether it is the gate's left end.
    left: bool,
}

struct Unfolded {
    from: Flat,
    to: Flat,
    gates: Vec<[Flat; 2]>,
}

/// Unfolds the strip and pulls the way tight in it.
fn pull(work: &Work, gates: &[Gate], from: u32, to: u32) -> (Unfolded, Vec<Touch>) {
    let flat = unfold(work, gates, from, to);
    let touches = funnel(&flat);
    (flat, touches)
}

fn unfold(work: &Work, gates: &[Gate], from: u32, to: u32) -> Unfolded {
    let Some(first) = gates.first() else {
        return Unfolded { from: [0.0; 2], to: [work.length(from, to), 0.0], gates: Vec::new() };
    };
    // the first gate lies across x: left end up, its triangle with the start behind it
    let mut flat = Vec::with_capacity(gates.len());
    let mut ends = [[0.0, work.length(first.left, first.right)], [0.0; 2]];
    let start = beside(work, *first, ends, from, false);
    flat.push(ends);
    for w in gates.windows(2) {
        let (now, next) = (w[0], w[1]);
        let (new, keeps_left) = if next.left == now.left { (next.right, true) } else { (next.left, false) };
        let place = beside(work, now, ends, new, true);
        ends = if keeps_left { [ends[0], place] } else { [place, ends[1]] };
        flat.push(ends);
    }
    let end = beside(work, gates[gates.len() - 1], ends, to, true);
    Unfolded { from: start, to: end, gates: flat }
}

/// Where a vertex comes to lie beside an unfolded edge, ahead of it or behind, by its distances from both ends.
fn beside(work: &Work, gate: Gate, [left, right]: [Flat; 2], vertex: u32, ahead: bool) -> Flat {
    let along = [left[0] - right[0], left[1] - right[1]];
    let length = along[0].hypot(along[1]).max(f64::MIN_POSITIVE);
    let (l, r) = (work.length(gate.left, vertex), work.length(gate.right, vertex));
    let x = (r * r - l * l + length * length) / (2.0 * length);
    let y = (r * r - x * x).max(0.0).sqrt() * if ahead { 1.0 } else { -1.0 };
    let unit = [along[0] / length, along[1] / length];
    // ahead lies to the right of the direction from the right end to the left end
    [right[0] + unit[0] * x + unit[1] * y, right[1] + unit[1] * x - unit[0] * y]
}

fn turn(a: Flat, b: Flat, c: Flat) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn funnel(flat: &Unfolded) -> Vec<Touch> {
    let n = flat.gates.len();
    let mut touches = Vec::new();
    let mut apex = flat.from;
    let (mut left, mut right) = (flat.from, flat.from);
    let (mut left_at, mut right_at) = (0, 0);
    let mut i = 0;
    let mut guard = 0;
    while i <= n {
        guard += 1;
        if guard > 4 * (n + 4) * (n + 4) {
            break;
        }
        if i == n {
            // the end: seen from the apex, or about the side that hides it
            let bend = if turn(apex, left, flat.to) > 0.0 {
                Some((left, left_at, true))
            } else if turn(apex, right, flat.to) < 0.0 {
                Some((right, right_at, false))
            } else {
                None
            };
            let Some((at, gate, on_left)) = bend else { break };
            touches.push(Touch { at, gate, left: on_left });
            apex = at;
            i = gate + 1;
            (left, right) = (apex, apex);
            (left_at, right_at) = (gate, gate);
            skip(flat, &mut i, apex, on_left);
            continue;
        }
        let [l, r] = flat.gates[i];
        // the right side moves in
        if turn(apex, right, r) >= 0.0 {
            if apex == right || turn(apex, left, r) < 0.0 {
                right = r;
                right_at = i;
            } else {
                touches.push(Touch { at: left, gate: left_at, left: true });
                apex = left;
                i = left_at + 1;
                (left, right) = (apex, apex);
                (left_at, right_at) = (i - 1, i - 1);
                skip(flat, &mut i, apex, true);
                continue;
            }
        }
        // the left side moves in
        if turn(apex, left, l) <= 0.0 {
            if apex == left || turn(apex, right, l) > 0.0 {
                left = l;
                left_at = i;
            } else {
                touches.push(Touch { at: right, gate: right_at, left: false });
                apex = right;
                i = right_at + 1;
                (left, right) = (apex, apex);
                (left_at, right_at) = (i - 1, i - 1);
                skip(flat, &mut i, apex, false);
                continue;
            }
        }
        i += 1;
    }
    touches
}

/// Passes over gates that hang on the new apex.
fn skip(flat: &Unfolded, i: &mut usize, apex: Flat, left: bool) {
    while *i < flat.gates.len() && flat.gates[*i][usize::from(!left)] == apex {
        *i += 1;
    }
}

/// The touched vertex with the smallest angle on its other side, if that is less than a half turn.
fn best_bend(work: &Work, gates: &[Gate], flat: &Unfolded, touches: &[Touch]) -> Option<(usize, bool)> {
    let mut best: Option<(f64, usize, bool)> = None;
    let mut whole: HashMap<u32, Option<f64>> = HashMap::new();
    for (k, touch) in touches.iter().enumerate() {
        let before = if k == 0 { flat.from } else { touches[k - 1].at };
        let after = touches.get(k + 1).map_or(flat.to, |t| t.at);
        let v = if touch.left { gates[touch.gate].left } else { gates[touch.gate].right };
        let other = if touch.left { gates[touch.gate].right } else { gates[touch.gate].left };
        let full = *whole
            .entry(v)
            .or_insert_with(|| around(work, v, other, other, true).map(|f| angle(work, v, &f)));
        let Some(full) = full else { continue };
        let (u, w) = (
            [touch.at[0] - before[0], touch.at[1] - before[1]],
            [after[0] - touch.at[0], after[1] - touch.at[1]],
        );
        let bend = (u[0] * w[1] - u[1] * w[0]).abs().atan2(u[0] * w[0] + u[1] * w[1]);
        let there = full - PI - bend;
        if there < PI - 1e-9 && best.is_none_or(|(b, _, _)| there < b) {
            best = Some((there, touch.gate, touch.left));
        }
    }
    best.map(|(_, gate, left)| (gate, left))
}

/// Leads the strip around the other side of a vertex; false where the rim lies there.
fn lead_around(work: &Work, gates: &mut Vec<Gate>, at: usize, on_left: bool, from: u32, to: u32) -> bool {
    let end = |g: &Gate| if on_left { g.left } else { g.right };
    let v = end(&gates[at]);
    let first = (0..=at).rev().take_while(|i| end(&gates[*i]) == v).last().unwrap_or(at);
    let last = (at..gates.len()).take_while(|i| end(&gates[*i]) == v).last().unwrap_or(at);
    // the corner before the run and the one after it, on the side of the vertex
    let p = if first == 0 { from } else { end(&gates[first - 1]) };
    let q = if last + 1 == gates.len() { to } else { end(&gates[last + 1]) };
    let make = |w: u32| if on_left { Gate { left: w, right: v } } else { Gate { left: v, right: w } };
    if p == q {
        // the strip turns about the vertex almost wholly: over the one edge that is left
        drop(gates.splice(first..=last, [make(p)]));
        return true;
    }
    let Some(fan) = around(work, v, p, q, !on_left) else { return false };
    let mut new: Vec<Gate> = fan.iter().map(|w| make(*w)).collect();
    if first == 0 {
        new.remove(0);
    }
    if last + 1 == gates.len() {
        new.pop();
    }
    drop(gates.splice(first..=last, new));
    true
}

/// The pulled way as steps over the surface.
fn steps(gates: &[Gate], flat: &Unfolded, touches: &[Touch], to: u32) -> Vec<Step> {
    let mut way = Vec::new();
    let mut k = 0;
    let mut from = flat.from;
    for (i, gate) in gates.iter().enumerate() {
        while k < touches.len() && touches[k].gate < i {
            from = touches[k].at;
            k += 1;
        }
        let next = touches.get(k).map_or(flat.to, |t| t.at);
        let [l, r] = flat.gates[i];
        // where from → next crosses l → r
        let (a, b) = (turn(from, next, l), turn(from, next, r));
        let share = if (a - b).abs() > 0.0 { (a / (a - b)).clamp(0.0, 1.0) } else { 0.5 };
        let step = if share <= 1e-3 {
            Step::Vertex(gate.left)
        } else if share >= 1.0 - 1e-3 {
            Step::Vertex(gate.right)
        } else {
            Step::Edge(gate.left, gate.right, share)
        };
        if way.last() != Some(&step) {
            way.push(step);
        }
    }
    if way.last() != Some(&Step::Vertex(to)) {
        way.push(Step::Vertex(to));
    }
    way
}
