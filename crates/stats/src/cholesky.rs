//! Cholesky factor of a small dense matrix (up to about a thousand rows).

/// A symmetric matrix of which the lower triangle is kept, row by row in full rows.
#[derive(Clone, Debug, PartialEq)]
pub struct SquareMatrix {
    n: usize,
    values: Vec<f64>,
}

impl SquareMatrix {
    /// From its entries; asked for `column <= row` only.
    pub fn symmetric(n: usize, mut entry: impl FnMut(usize, usize) -> f64) -> Self {
        let mut values = vec![0.0; n * n];
        for row in 0..n {
            for column in 0..=row {
                values[row * n + column] = entry(row, column);
            }
        }
        Self { n, values }
    }

    /// Number of rows.
    pub fn n(&self) -> usize {
        self.n
    }

    /// Adds to an entry of the diagonal.
    pub fn add_to_diagonal(&mut self, row: usize, value: f64) {
        self.values[row * self.n + row] += value;
    }
}

/// The lower factor L with L Lᵀ = A.
#[derive(Clone, Debug, PartialEq)]
pub struct Cholesky {
    n: usize,
    lower: Vec<f64>,
}

impl Cholesky {
    /// Factors a symmetric matrix; `None` unless it is positive definite.
    pub fn of(matrix: SquareMatrix) -> Option<Self> {
        let SquareMatrix { n, values: mut a } = matrix;
        for row in 0..n {
            let (above, rest) = a.split_at_mut(row * n);
            let this = &mut rest[..n];
            for column in 0..row {
                let other = &above[column * n..column * n + n];
                this[column] = (this[column] - dot(&this[..column], &other[..column])) / other[column];
            }
            let square = this[row] - dot(&this[..row], &this[..row]);
            if square.is_nan() || square <= 0.0 {
                return None;
            }
            this[row] = square.sqrt();
        }
        Some(Self { n, lower: a })
    }

    /// Number of rows.
    pub fn n(&self) -> usize {
        self.n
    }

    /// Row of the factor, up to and with the diagonal.
    fn row(&self, row: usize) -> &[f64] {
        &self.lower[row * self.n..row * self.n + row + 1]
    }

    /// Solves L x = b in place.
    pub fn solve_lower(&self, b: &mut [f64]) {
        for i in 0..self.n {
            let row = self.row(i);
            b[i] = (b[i] - dot(&row[..i], &b[..i])) / row[i];
        }
    }

    /// Solves Lᵀ x = b in place.
    pub fn solve_upper(&self, b: &mut [f64]) {
        for i in (0..self.n).rev() {
            let row = self.row(i);
            let x = b[i] / row[i];
            b[i] = x;
            for (entry, l) in b[..i].iter_mut().zip(row) {
                *entry -= l * x;
            }
        }
    }

    /// Solves A x = b in place.
    pub fn solve(&self, b: &mut [f64]) {
        self.solve_lower(b);
        self.solve_upper(b);
    }

    /// L z, which has covariance A when z is standard normal.
    pub fn lower_times(&self, z: &[f64]) -> Vec<f64> {
        (0..self.n).map(|i| dot(self.row(i), &z[..=i])).collect()
    }

    /// Logarithm of the determinant of A.
    pub fn ln_det(&self) -> f64 {
        2.0 * (0..self.n).map(|i| self.lower[i * self.n + i].ln()).sum::<f64>()
    }
}

/// Scalar product of two equally long vectors, in eight running sums, which the compiler turns into
/// vector instructions.
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    const LANES: usize = 8;
    let (mut a, mut b) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let mut sums = [0.0; LANES];
    for (x, y) in (&mut a).zip(&mut b) {
        for lane in 0..LANES {
            sums[lane] += x[lane] * y[lane];
        }
    }
    let rest: f64 = a.remainder().iter().zip(b.remainder()).map(|(x, y)| x * y).sum();
    sums.iter().sum::<f64>() + rest
}
