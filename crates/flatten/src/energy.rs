//! What a map costs, as a function of each singular value of its derivative: value, first and second derivative.

/// A cost of one singular value.
pub trait Energy {
    /// The cost, with its first and second derivative.
    fn at(&self, s: f64) -> [f64; 3];

    /// The cost alone.
    fn value(&self, s: f64) -> f64 {
        self.at(s)[0]
    }
}

/// s² + 1/s² (symmetric Dirichlet; Smith and Schaefer 2015): average stretch, both ways alike; infinite at a flip.
pub struct SymmetricDirichlet;

impl Energy for SymmetricDirichlet {
    #[inline]
    fn at(&self, s: f64) -> [f64; 3] {
        let i = 1.0 / s;
        let q = i * i;
        [s * s + q, 2.0 * s - 2.0 * q * i, 2.0 + 6.0 * q * q]
    }

    #[inline]
    fn value(&self, s: f64) -> f64 {
        let q = s * s;
        q + 1.0 / q
    }
}

/// (|ln s| / m)ᵖ: as p grows, the worst stretch alone counts. A little of p = 2 keeps what is not the worst in place.
pub struct Worst {
    /// The exponent, even.
    pub power: i32,
    /// The present maximum of |ln s|.
    pub largest: f64,
    /// Weight of the quadratic part.
    pub stay: f64,
}

impl Energy for Worst {
    #[inline]
    fn at(&self, s: f64) -> [f64; 3] {
        let (m, p) = (self.largest, f64::from(self.power));
        let x = s.ln() / m;
        let low = x.powi(self.power - 2);
        let (a, b) = (low * x * x + self.stay * x * x, (p * low + 2.0 * self.stay) * x);
        let c = p * (p - 1.0) * low + 2.0 * self.stay;
        let i = 1.0 / s;
        [a, b * i / m, (c / m - b) * i * i / m]
    }

    #[inline]
    fn value(&self, s: f64) -> f64 {
        let x = s.ln() / self.largest;
        let q = x * x;
        q.powi(self.power / 2) + self.stay * q
    }
}

/// What film bears: with r = 1/s − 1 its stretch when laid, r² (1 + (r / limit)²²); compression costs `stiff` (s − 1)².
pub struct Film {
    /// The most it should be stretched, as a fraction.
    pub limit: f64,
    /// How much worse than stretch compression is.
    pub stiff: f64,
}

impl Energy for Film {
    #[inline]
    fn at(&self, s: f64) -> [f64; 3] {
        if s >= 1.0 {
            let d = s - 1.0;
            return [self.stiff * d * d, 2.0 * self.stiff * d, 2.0 * self.stiff];
        }
        let i = 1.0 / s;
        let r = i - 1.0;
        let w = (r / self.limit).powi(22);
        // In r: value, slope, bend; then through dr/ds = −1/s², d²r/ds² = 2/s³.
        let (a, b, c) = (r * r * (1.0 + w), r * (2.0 + 24.0 * w), 2.0 + 24.0 * 23.0 * w);
        let q = i * i;
        [a, -b * q, c * q * q + 2.0 * b * q * i]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(energy: &impl Energy, s: f64) {
        let h = 1e-5;
        let [_, d, dd] = energy.at(s);
        let (up, down) = (energy.at(s + h), energy.at(s - h));
        let (slope, bend) = ((up[0] - down[0]) / (2.0 * h), (up[1] - down[1]) / (2.0 * h));
        assert!((slope - d).abs() <= 1e-4 * (1.0 + d.abs()), "slope at {s}: {d}, by differences {slope}");
        assert!((bend - dd).abs() <= 1e-4 * (1.0 + dd.abs()), "bend at {s}: {dd}, by differences {bend}");
        assert!((energy.value(s) - energy.at(s)[0]).abs() <= 1e-12 * (1.0 + energy.value(s)));
    }

    #[test]
    fn derivatives_agree_with_differences() {
        for s in [0.7, 0.97, 0.985, 1.012, 1.2] {
            check(&SymmetricDirichlet, s);
            check(&Worst { power: 8, largest: 0.2, stay: 1e-3 }, s);
            check(&Film { limit: 0.3, stiff: 100.0 }, s);
        }
        check(&Worst { power: 64, largest: 0.4, stay: 1e-3 }, 0.7);
    }
}
