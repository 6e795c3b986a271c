use crate::energy::Energy;
use crate::rest::{Rest, Svd};
use crate::sparse::{NotSolvable, PAIRS, System};

/// Flat positions of the vertices, mm.
pub type Flat = Vec<[f64; 2]>;

/// Projected Newton on energies of the singular values, without flips; the sparsity and the symbolic factor are made
/// once and serve all energies.
///
/// The Hessian of an element has four eigenvalues in closed form (Smith, de Goes and Kim 2019); those below zero are
/// set to zero. A step stops short of the first triangle that would lose its area (Smith and Schaefer 2015).
pub struct Newton<'a> {
    rest: &'a Rest,
    system: System,
    gradient: Vec<f64>,
    direction: Vec<f64>,
}

/// What one step did.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// Energy after it.
    pub after: f64,
    /// How much Newton's model promised for the whole step.
    pub promised: f64,
    /// Which part of the whole step was taken; zero if none helped.
    pub length: f64,
}

impl<'a> Newton<'a> {
    /// For maps of this surface.
    pub fn new(rest: &'a Rest) -> Result<Self, NotSolvable> {
        let system = System::new(rest.vertices, &rest.triangles, 2)?;
        let size = 2 * rest.vertices;
        Ok(Self { rest, system, gradient: vec![0.0; size], direction: vec![0.0; size] })
    }

    /// The system, for whoever else needs this pattern.
    pub fn system(&mut self) -> &mut System {
        &mut self.system
    }

    /// Mean energy over the area; infinite where a triangle is flipped.
    pub fn energy(&self, energy: &impl Energy, flat: &Flat) -> f64 {
        let mut sum = 0.0;
        for (t, share) in self.rest.share.iter().enumerate() {
            let j = self.rest.jacobian(t, flat);
            let (e, f) = (j[0][0] + j[1][1], j[0][0] - j[1][1]);
            let (g, h) = (j[1][0] + j[0][1], j[1][0] - j[0][1]);
            let (q, r) = ((e * e + h * h).sqrt() / 2.0, (f * f + g * g).sqrt() / 2.0);
            if q <= r {
                return f64::INFINITY;
            }
            sum += share * (energy.value(q + r) + energy.value(q - r));
        }
        sum
    }

    /// One step downhill, `flat` changed in place; `hold` is added to the diagonal as a share of its mean.
    pub fn step(&mut self, energy: &impl Energy, hold: f64, flat: &mut Flat) -> Result<Step, NotSolvable> {
        let before = self.assemble(energy, flat);
        let mean = self.system.mean_diagonal();
        (0..self.gradient.len()).for_each(|row| self.system.add_diagonal(row, hold * mean));
        self.system.factorize()?;
        self.direction.iter_mut().zip(&self.gradient).for_each(|(d, g)| *d = -g);
        self.system.solve(&mut self.direction);
        let slope: f64 = self.direction.iter().zip(&self.gradient).map(|(d, g)| d * g).sum();
        let flip = 0.9 * self.first_flip(flat);
        let mut length = flip.min(1.0);
        for _ in 0..40 {
            let mut trial = self.moved(flat, length);
            let mut after = self.energy(energy, &trial);
            if after <= before + 1e-4 * length * slope {
                // A high power is far from its quadratic model: the whole step takes a peak down by 1/(p − 1) only.
                while length >= 1.0 && 2.0 * length <= flip {
                    let further = self.moved(flat, 2.0 * length);
                    let energy = self.energy(energy, &further);
                    if energy >= after {
                        break;
                    }
                    (trial, after, length) = (further, energy, 2.0 * length);
                }
                *flat = trial;
                return Ok(Step { after, promised: -slope / 2.0, length });
            }
            length *= 0.5;
        }
        Ok(Step { after: before, promised: -slope / 2.0, length: 0.0 })
    }

    fn moved(&self, flat: &Flat, length: f64) -> Flat {
        let at = |(v, p): (usize, &[f64; 2])| [0, 1].map(|k| p[k] + length * self.direction[2 * v + k]);
        flat.iter().enumerate().map(at).collect()
    }

    fn assemble(&mut self, energy: &impl Energy, flat: &Flat) -> f64 {
        self.system.clear();
        self.gradient.fill(0.0);
        let mut sum = 0.0;
        for (t, &share) in self.rest.share.iter().enumerate() {
            let Svd { u, v, s } = Svd::of(self.rest.jacobian(t, flat));
            let ([a1, b1, c1], [a2, b2, c2]) = (energy.at(s[0]), energy.at(s[1]));
            sum += share * (a1 + a2);
            let along = share * c1.max(0.0);
            let over = share * c2.max(0.0);
            let twist = share * ((b1 + b2) / (s[0] + s[1])).max(0.0);
            let gap = s[0] - s[1];
            let flip = share * if gap > 1e-9 { (b1 - b2) / gap } else { c1 }.max(0.0);
            let (same, other) = ((twist + flip) / 2.0, (flip - twist) / 2.0);
            let g = self.rest.gradients[t].map(|g| [v[0] * g[0] + v[1] * g[1], v[0] * g[1] - v[1] * g[0]]);
            for k in 0..3 {
                let (x, y) = (share * b1 * g[k][0], share * b2 * g[k][1]);
                let row = 2 * self.rest.triangles[t][k] as usize;
                self.gradient[row] += u[0] * x - u[1] * y;
                self.gradient[row + 1] += u[1] * x + u[0] * y;
            }
            let [c, z] = u;
            let (cc, zz, cz) = (c * c, z * z, c * z);
            let blocks = PAIRS.map(|(i, j)| {
                let (g, h) = (g[i], g[j]);
                let (xx, yy) = (g[0] * h[0], g[1] * h[1]);
                let m00 = along * xx + same * yy;
                let m11 = over * yy + same * xx;
                let (m01, m10) = (other * g[1] * h[0], other * g[0] * h[1]);
                // U M Uᵀ
                let (sum, gap) = (m01 + m10, m00 - m11);
                [
                    [cc * m00 + zz * m11 - cz * sum, cz * gap + cc * m01 - zz * m10],
                    [cz * gap + cc * m10 - zz * m01, zz * m00 + cc * m11 + cz * sum],
                ]
            });
            self.system.add_blocks(t, &blocks);
        }
        sum
    }

    /// The least step at which a triangle loses its area: the least positive root of a quadratic for each.
    fn first_flip(&self, flat: &Flat) -> f64 {
        let mut least = f64::INFINITY;
        for corners in &self.rest.triangles {
            let [a, b, c] = corners.map(|v| flat[v as usize]);
            let [da, db, dc] =
                corners.map(|v| [self.direction[2 * v as usize], self.direction[2 * v as usize + 1]]);
            let (p, q) = ([b[0] - a[0], b[1] - a[1]], [c[0] - a[0], c[1] - a[1]]);
            let (dp, dq) = ([db[0] - da[0], db[1] - da[1]], [dc[0] - da[0], dc[1] - da[1]]);
            let k0 = p[0] * q[1] - p[1] * q[0];
            let k1 = p[0] * dq[1] - p[1] * dq[0] + dp[0] * q[1] - dp[1] * q[0];
            let k2 = dp[0] * dq[1] - dp[1] * dq[0];
            least = least.min(first_root(k2, k1, k0));
        }
        least
    }
}

/// The least positive root of a t² + b t + c for c > 0; infinite if there is none.
fn first_root(a: f64, b: f64, c: f64) -> f64 {
    let square = b * b - 4.0 * a * c;
    if square < 0.0 {
        return f64::INFINITY;
    }
    let root = square.sqrt();
    // 2c / (−b ± √…) stays exact where a vanishes.
    let (one, two) = (2.0 * c / (-b + root), 2.0 * c / (-b - root));
    [one, two].into_iter().filter(|t| *t > 0.0).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_are_found() {
        assert_eq!(first_root(1.0, -3.0, 2.0), 1.0);
        assert_eq!(first_root(0.0, -2.0, 1.0), 0.5);
        assert_eq!(first_root(1.0, 0.0, 1.0), f64::INFINITY);
        assert_eq!(first_root(0.0, 1.0, 1.0), f64::INFINITY);
        assert_eq!(first_root(-1.0, 0.0, 4.0), 2.0);
    }
}
