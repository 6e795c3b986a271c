//! Symmetric systems over the vertices of a mesh, one or two unknowns at each: the pattern and the symbolic factor are
//! made once, the numbers as often as wanted. Factors by faer (supernodal Cholesky, minimum-degree ordering).

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::LltRegularization;
use faer::perm::PermRef;
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, LltRef, SymbolicCholesky, SymmetricOrdering, factorize_symbolic_cholesky,
};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Conj, MatMut, Par, Side};

/// The pairs of corners of a triangle, in the order in which blocks are added.
pub const PAIRS: [(usize, usize); 6] = [(0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (2, 0)];

/// Where the block of a pair of corners lies among the values: its two columns, and whether it lies transposed.
#[derive(Clone, Copy, Debug)]
struct Slot {
    first: u32,
    second: u32,
    turned: bool,
}

/// A symmetric matrix with `unknowns` rows for each vertex, and its Cholesky factor.
pub struct System {
    unknowns: usize,
    columns: Vec<u32>,
    rows: Vec<u32>,
    slots: Vec<[Slot; 6]>,
    diagonal: Vec<u32>,
    values: Vec<f64>,
    symbolic: SymbolicCholesky<u32>,
    factor: Vec<f64>,
    factor_memory: MemBuffer,
    solve_memory: MemBuffer,
}

/// The matrix is not positive definite, or there is not enough memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotSolvable;

impl System {
    /// The pattern of the triangles over `vertices` vertices, `unknowns` (1 or 2) at each.
    pub fn new(vertices: usize, triangles: &[[u32; 3]], unknowns: usize) -> Result<Self, NotSolvable> {
        let graph = Graph::new(vertices, triangles);
        let order = graph.order()?;
        let (columns, rows) = graph.expanded(unknowns);
        let (forward, inverse) = expand_order(&order, unknowns);
        let size = vertices * unknowns;
        let pattern = SymbolicSparseColMatRef::new_checked(size, size, &columns, None, &rows);
        let symbolic = factorize_symbolic_cholesky(
            pattern,
            Side::Lower,
            SymmetricOrdering::Custom(PermRef::new_checked(&forward, &inverse, size)),
            CholeskySymbolicParams::default(),
        )
        .map_err(|_| NotSolvable)?;
        let factor_memory =
            MemBuffer::new(symbolic.factorize_numeric_llt_scratch::<f64>(Par::Seq, Default::default()));
        let solve_memory = MemBuffer::new(symbolic.solve_in_place_scratch::<f64>(1, Par::Seq));
        let factor = vec![0.0; symbolic.len_val()];
        let slots = triangles.iter().map(|t| graph.slots(*t, unknowns, &columns)).collect();
        let diagonal = (0..size).map(|c| columns[c]).collect();
        let values = vec![0.0; rows.len()];
        Ok(Self {
            unknowns,
            columns,
            rows,
            slots,
            diagonal,
            values,
            symbolic,
            factor,
            factor_memory,
            solve_memory,
        })
    }

    /// All values to zero.
    pub fn clear(&mut self) {
        self.values.fill(0.0);
    }

    /// Adds a number for each pair of corners of a triangle (one unknown a vertex).
    pub fn add_scalars(&mut self, triangle: usize, entries: [f64; 6]) {
        debug_assert_eq!(self.unknowns, 1);
        for (slot, entry) in self.slots[triangle].iter().zip(entries) {
            self.values[slot.first as usize] += entry;
        }
    }

    /// Sets every entry from the rows of a symmetric matrix of the same pattern (one unknown a vertex).
    pub fn set_rows<'r>(&mut self, row: impl Fn(usize) -> &'r [(u32, f64)]) {
        debug_assert_eq!(self.unknowns, 1);
        for column in 0..self.diagonal.len() {
            let entries = row(column);
            for k in self.columns[column] as usize..self.columns[column + 1] as usize {
                let place = entries.binary_search_by_key(&self.rows[k], |e| e.0);
                self.values[k] = place.map_or(0.0, |p| entries[p].1);
            }
        }
    }

    /// Adds a block \[row\]\[column\] for each of the [`PAIRS`] of a triangle (two unknowns a vertex).
    #[inline]
    pub fn add_blocks(&mut self, triangle: usize, blocks: &[[[f64; 2]; 2]; 6]) {
        debug_assert_eq!(self.unknowns, 2);
        let slots = &self.slots[triangle];
        for k in 0..3 {
            let (first, second) = (slots[k].first as usize, slots[k].second as usize);
            self.values[first] += blocks[k][0][0];
            self.values[first + 1] += blocks[k][1][0];
            self.values[second] += blocks[k][1][1];
        }
        for k in 3..6 {
            let (first, second) = (slots[k].first as usize, slots[k].second as usize);
            let b = &blocks[k];
            let (ab, ba) = if slots[k].turned { (b[0][1], b[1][0]) } else { (b[1][0], b[0][1]) };
            self.values[first] += b[0][0];
            self.values[first + 1] += ab;
            self.values[second] += ba;
            self.values[second + 1] += b[1][1];
        }
    }

    /// Adds to an entry of the diagonal.
    pub fn add_diagonal(&mut self, row: usize, by: f64) {
        self.values[self.diagonal[row] as usize] += by;
    }

    /// Mean of the diagonal.
    pub fn mean_diagonal(&self) -> f64 {
        self.diagonal.iter().map(|&d| self.values[d as usize]).sum::<f64>() / self.diagonal.len() as f64
    }

    /// Holds unknowns at what `x` says: their rows and columns become those of the unit matrix, the right-hand side
    /// follows.
    pub fn hold(&mut self, held: &[bool], x: &[f64], right: &mut [f64]) {
        for column in 0..held.len() {
            for k in self.columns[column]..self.columns[column + 1] {
                let (k, row) = (k as usize, self.rows[k as usize] as usize);
                if row == column {
                    if held[row] {
                        self.values[k] = 1.0;
                    }
                } else if held[row] || held[column] {
                    if !held[row] {
                        right[row] -= self.values[k] * x[column];
                    } else if !held[column] {
                        right[column] -= self.values[k] * x[row];
                    }
                    self.values[k] = 0.0;
                }
            }
        }
        for (row, held) in held.iter().enumerate() {
            if *held {
                right[row] = x[row];
            }
        }
    }

    /// Factors the values as they are.
    pub fn factorize(&mut self) -> Result<(), NotSolvable> {
        let size = self.diagonal.len();
        let pattern = SymbolicSparseColMatRef::new_checked(size, size, &self.columns, None, &self.rows);
        self.symbolic
            .factorize_numeric_llt(
                &mut self.factor,
                SparseColMatRef::new(pattern, &self.values),
                Side::Lower,
                LltRegularization::default(),
                Par::Seq,
                MemStack::new(&mut self.factor_memory),
                Default::default(),
            )
            .map(|_| ())
            .map_err(|_| NotSolvable)
    }

    /// Solves with the last factor, in place.
    pub fn solve(&mut self, right: &mut [f64]) {
        let size = right.len();
        LltRef::new(&self.symbolic, &self.factor).solve_in_place_with_conj(
            Conj::No,
            MatMut::from_column_major_slice_mut(right, size, 1),
            Par::Seq,
            MemStack::new(&mut self.solve_memory),
        );
    }
}

/// For each vertex, itself and its neighbors with a greater number, in order.
struct Graph {
    starts: Vec<u32>,
    greater: Vec<u32>,
}

impl Graph {
    fn new(vertices: usize, triangles: &[[u32; 3]]) -> Self {
        let mut starts = vec![0u32; vertices + 1];
        let sides = || triangles.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]);
        for (a, b) in sides() {
            starts[a.min(b) as usize + 1] += 1;
        }
        for v in 0..vertices {
            starts[v + 1] += starts[v] + 1;
        }
        let mut fill = starts.clone();
        let mut all = vec![0u32; starts[vertices] as usize];
        let mut put = |v: u32, n: u32| {
            all[fill[v as usize] as usize] = n;
            fill[v as usize] += 1;
        };
        (0..vertices as u32).for_each(|v| put(v, v));
        sides().for_each(|(a, b)| put(a.min(b), a.max(b)));
        let (mut greater, mut tidy) = (Vec::with_capacity(all.len()), vec![0]);
        for v in 0..vertices {
            let list = &mut all[starts[v] as usize..starts[v + 1] as usize];
            list.sort_unstable();
            let from = greater.len();
            for &mut n in list {
                if greater.len() == from || greater.last() != Some(&n) {
                    greater.push(n);
                }
            }
            tidy.push(greater.len() as u32);
        }
        Self { starts: tidy, greater }
    }

    /// Order of elimination by minimum degree.
    fn order(&self) -> Result<Vec<u32>, NotSolvable> {
        let size = self.starts.len() - 1;
        let pattern = SymbolicSparseColMatRef::new_checked(size, size, &self.starts, None, &self.greater);
        let symbolic = factorize_symbolic_cholesky(
            pattern,
            Side::Lower,
            SymmetricOrdering::Amd,
            CholeskySymbolicParams::default(),
        )
        .map_err(|_| NotSolvable)?;
        Ok(symbolic.perm().map_or_else(|| (0..size as u32).collect(), |p| p.arrays().0.to_vec()))
    }

    /// Columns and rows of the lower triangle with `unknowns` rows for each vertex.
    fn expanded(&self, unknowns: usize) -> (Vec<u32>, Vec<u32>) {
        if unknowns == 1 {
            return (self.starts.clone(), self.greater.clone());
        }
        let (mut columns, mut rows) = (vec![0], Vec::with_capacity(4 * self.greater.len()));
        for v in 0..self.starts.len() - 1 {
            let list = &self.greater[self.starts[v] as usize..self.starts[v + 1] as usize];
            rows.extend(list.iter().flat_map(|&n| [2 * n, 2 * n + 1]));
            columns.push(rows.len() as u32);
            rows.extend(list.iter().flat_map(|&n| [2 * n, 2 * n + 1]).skip(1));
            columns.push(rows.len() as u32);
        }
        (columns, rows)
    }

    fn slots(&self, triangle: [u32; 3], unknowns: usize, columns: &[u32]) -> [Slot; 6] {
        PAIRS.map(|(p, q)| {
            let (a, b) = (triangle[p], triangle[q]);
            let (low, high) = (a.min(b) as usize, a.max(b));
            let list = &self.greater[self.starts[low] as usize..self.starts[low + 1] as usize];
            let place = list.partition_point(|&n| n < high) as u32;
            let turned = a < b;
            if unknowns == 1 {
                return Slot { first: columns[low] + place, second: 0, turned };
            }
            let second = columns[2 * low + 1] + (2 * place).saturating_sub(1);
            Slot { first: columns[2 * low] + 2 * place, second, turned }
        })
    }
}

fn expand_order(order: &[u32], unknowns: usize) -> (Vec<u32>, Vec<u32>) {
    let forward: Vec<u32> =
        order.iter().flat_map(|&v| (0..unknowns as u32).map(move |k| v * unknowns as u32 + k)).collect();
    let mut inverse = vec![0; forward.len()];
    for (place, &row) in forward.iter().enumerate() {
        inverse[row as usize] = place as u32;
    }
    (forward, inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(system: &System, x: &[f64]) -> Vec<f64> {
        let mut y = vec![0.0; x.len()];
        for column in 0..x.len() {
            for k in system.columns[column]..system.columns[column + 1] {
                let (value, row) = (system.values[k as usize], system.rows[k as usize] as usize);
                y[row] += value * x[column];
                if row != column {
                    y[column] += value * x[row];
                }
            }
        }
        y
    }

    #[test]
    fn a_system_of_two_unknowns_is_solved() {
        let triangles = [[0, 1, 2], [2, 1, 3], [3, 4, 2]];
        let mut system = System::new(5, &triangles, 2).unwrap();
        for t in 0..3 {
            // A block of its own for each pair; the diagonal strong enough to be definite.
            let blocks = std::array::from_fn(|k| {
                let z = (t * 6 + k) as f64 * 0.01;
                if k < 3 { [[4.0 + z, 0.3], [0.3, 5.0]] } else { [[0.2 + z, 0.5], [-0.4, 0.1]] }
            });
            system.add_blocks(t, &blocks);
        }
        let x: Vec<f64> = (0..10).map(|k| f64::from(k * k) - 20.0).collect();
        let mut y = times(&system, &x);
        // The block of corners 0 and 1 of the first triangle: row of vertex 0, column of vertex 1.
        let unit: Vec<f64> = (0..10).map(|k| if k == 3 { 1.0 } else { 0.0 }).collect();
        assert!((times(&system, &unit)[0] - 0.5).abs() < 1e-15);
        system.factorize().unwrap();
        system.solve(&mut y);
        assert!(x.iter().zip(&y).all(|(a, b)| (a - b).abs() < 1e-10));
    }

    #[test]
    fn held_unknowns_stay() {
        let mut system = System::new(3, &[[0, 1, 2]], 1).unwrap();
        system.add_scalars(0, [2.0, 2.0, 2.0, -1.0, -1.0, -1.0]);
        let (x, mut right) = ([5.0, 0.0, 0.0], vec![0.0, 1.0, 1.0]);
        system.hold(&[true, false, false], &x, &mut right);
        system.factorize().unwrap();
        system.solve(&mut right);
        assert!(right.iter().zip([5.0, 6.0, 6.0]).all(|(a, b)| (a - b).abs() < 1e-12));
    }

    #[test]
    fn an_indefinite_matrix_is_told() {
        let mut system = System::new(3, &[[0, 1, 2]], 1).unwrap();
        system.add_scalars(0, [1.0, -1.0, 1.0, 0.0, 0.0, 0.0]);
        assert_eq!(system.factorize(), Err(NotSolvable));
    }
}
