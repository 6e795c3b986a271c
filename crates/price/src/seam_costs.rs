//! Costs of pieces, in floats: estimates for comparing plans, never money on an invoice.

use crate::SeamProblem;
use std::collections::BTreeMap;

/// Days in a year.
const YEAR_DAYS: f64 = 365.25;

/// A problem with all sums prepared. Pieces are sets of sections as bits.
pub(crate) struct Costs {
    sections: Vec<Part>,
    seams: Vec<Line>,
    /// Neighbors of each section.
    neighbors: Vec<u64>,
    nested: BTreeMap<u64, f64>,
    rolls: Vec<f64>,
    trim: f64,
    offcut_value: f64,
    film: f64,
    per_piece: f64,
    per_m2: f64,
    removal_m2: f64,
    per_renewal: f64,
    flaws: f64,
    years: f64,
    annuity: f64,
}

/// A candidate seam.
struct Line {
    /// Both sections as bits.
    sides: u64,
    /// Cost of working it.
    worked: f64,
    /// Its length in sight, m, and what the customer's price makes of it.
    seen: f64,
    sight: f64,
}

#[derive(Clone, Copy)]
struct Part {
    area: f64,
    rate: f64,
    bounds: [f64; 4],
}

/// One piece, reckoned.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    pub(crate) area: f64,
    pub(crate) film: f64,
    /// Claims a year.
    pub(crate) rate: f64,
    pub(crate) install: f64,
    pub(crate) renewal: f64,
    /// Install and the present value of its renewals; infinite when no roll holds it.
    pub(crate) total: f64,
}

impl Costs {
    pub(crate) fn new(problem: &SeamProblem) -> Self {
        let p = &problem.prices;
        let wage = p.labor_hour.as_estimate();
        let sight = p.unseen_m.as_estimate();
        let years = p.horizon.as_days() / YEAR_DAYS;
        let mut neighbors = vec![0; problem.sections.len()];
        for seam in &problem.seams {
            let (a, b) = seam.between;
            neighbors[a] |= 1u64 << b;
            neighbors[b] |= 1u64 << a;
        }
        Self {
            sections: problem
                .sections
                .iter()
                .map(|s| Part {
                    area: s.area.as_m2(),
                    rate: s.area.as_m2() * problem.zones[s.zone].rate.per_m2_year(),
                    bounds: [s.along.0.as_m(), s.along.1.as_m(), s.across.0.as_m(), s.across.1.as_m()],
                })
                .collect(),
            seams: problem
                .seams
                .iter()
                .map(|s| Line {
                    sides: 1u64 << s.between.0 | 1u64 << s.between.1,
                    worked: s.length.as_m() * p.per_seam_m.as_hours() * wage,
                    seen: s.in_sight.as_m(),
                    sight: s.in_sight.as_m() * sight,
                })
                .collect(),
            neighbors,
            nested: problem
                .nested
                .iter()
                .map(|n| (n.sections.iter().fold(0, |m, s| m | 1u64 << (s & 63)), n.film.as_m2()))
                .collect(),
            rolls: p.rolls.iter().map(|w| w.as_m()).collect(),
            trim: p.trim.as_m(),
            offcut_value: p.offcut_value,
            film: p.film_m2.as_estimate(),
            per_piece: p.per_piece.as_hours() * wage,
            per_m2: p.per_m2.as_hours() * wage,
            removal_m2: p.removal_m2.as_hours() * wage,
            per_renewal: p.per_renewal.as_hours() * wage,
            flaws: p.flaws_m2,
            years,
            // continuous interest; without interest a year is a year
            annuity: if p.interest > 1e-12 { -(-p.interest * years).exp_m1() / p.interest } else { years },
        }
    }

    pub(crate) fn years(&self) -> f64 {
        self.years
    }

    pub(crate) fn all(&self) -> u64 {
        u64::MAX >> (64 - self.sections.len())
    }

    pub(crate) fn neighbors(&self, piece: u64) -> u64 {
        bits(piece).fold(0, |m, i| m | self.neighbors[i]) & !piece
    }

    pub(crate) fn piece(&self, set: u64) -> Piece {
        let (mut area, mut rate) = (0.0, 0.0);
        let mut box_ = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
        for i in bits(set) {
            let part = &self.sections[i];
            area += part.area;
            rate += part.rate;
            for side in [0, 2] {
                box_[side] = box_[side].min(part.bounds[side]);
                box_[side + 1] = box_[side + 1].max(part.bounds[side + 1]);
            }
        }
        let film = self
            .nested
            .get(&set)
            .copied()
            .unwrap_or_else(|| self.strip(box_[1] - box_[0], box_[3] - box_[2]));
        // sections may overlap in their rectangles; film is never less than what it covers
        let film = film.max(area);
        self.priced(area, rate, film)
    }

    /// The same with no film wasted: less than any real piece costs, and rising faster than its parts when joined
    /// (supermodular), which the search builds on.
    pub(crate) fn lean(&self, set: u64) -> f64 {
        let (area, rate) = self.sums(set);
        self.priced(area, rate, area).total
    }

    /// The same with no film at all.
    pub(crate) fn labor(&self, set: u64) -> f64 {
        let (area, rate) = self.sums(set);
        self.priced(area, rate, 0.0).total
    }

    fn sums(&self, set: u64) -> (f64, f64) {
        bits(set).fold((0.0, 0.0), |(a, r), i| (a + self.sections[i].area, r + self.sections[i].rate))
    }

    /// Whether a larger piece around this one was nested for itself: its film may be less than this one's rectangle.
    pub(crate) fn nested_beyond(&self, piece: u64) -> bool {
        self.nested.keys().any(|n| n & piece == piece && *n != piece)
    }

    /// What each piece costs at least for being one more, whatever its size.
    pub(crate) fn one_more(&self) -> f64 {
        self.per_piece
    }

    fn priced(&self, area: f64, rate: f64, film: f64) -> Piece {
        let goes = (self.flaws * area).exp();
        let install = goes * (film * self.film + self.per_piece + self.per_m2 * area);
        let renewal = install + self.removal_m2 * area + self.per_renewal;
        let total = if film.is_finite() { install + rate * renewal * self.annuity } else { f64::INFINITY };
        Piece { area, film, rate, install, renewal, total }
    }

    /// Film of a rectangle on the roll that suits it best, offcuts valued; infinite when none is wide enough.
    fn strip(&self, length: f64, height: f64) -> f64 {
        let (l, h) = (length + 2.0 * self.trim, height + 2.0 * self.trim);
        let mut least = f64::INFINITY;
        for (along, across) in [(l, h), (h, l)] {
            for roll in self.rolls.iter().filter(|w| **w >= across - 1e-9) {
                let offcut = (roll - across).max(0.0) * along;
                least = least.min(along * roll - self.offcut_value * offcut);
            }
        }
        least
    }

    /// Cost of all seams between two sets.
    pub(crate) fn between(&self, a: u64, b: u64) -> f64 {
        let between = self.seams.iter().filter(|s| s.sides & a != 0 && s.sides & b != 0);
        between.map(|s| s.worked + s.sight).sum()
    }

    /// Seams that run between different pieces, by number.
    pub(crate) fn cut(&self, pieces: &[u64]) -> Vec<usize> {
        let inside = |sides: u64| pieces.iter().any(|p| sides & p == sides);
        (0..self.seams.len()).filter(|i| !inside(self.seams[*i].sides)).collect()
    }

    /// Install with seams worked; renewals; sight.
    pub(crate) fn parts(&self, pieces: &[u64]) -> (f64, f64, f64) {
        let (mut install, mut renewals, mut sight) = (0.0, 0.0, 0.0);
        for p in pieces {
            let piece = self.piece(*p);
            install += piece.install;
            renewals += piece.rate * piece.renewal * self.annuity;
        }
        for i in self.cut(pieces) {
            install += self.seams[i].worked;
            sight += self.seams[i].sight;
        }
        (install, renewals, sight)
    }

    /// Seam in sight, m.
    pub(crate) fn in_sight(&self, pieces: &[u64]) -> f64 {
        self.cut(pieces).into_iter().map(|i| self.seams[i].seen).sum()
    }

    pub(crate) fn total(&self, pieces: &[u64]) -> f64 {
        let (install, renewals, sight) = self.parts(pieces);
        install + renewals + sight
    }

    pub(crate) fn feasible(&self, pieces: &[u64]) -> bool {
        pieces.iter().all(|p| self.piece(*p).total.is_finite())
    }

    /// Whether a piece fits a roll, or one that holds it might because it was nested for itself.
    pub(crate) fn may_grow(&self, piece: u64) -> bool {
        self.piece(piece).total.is_finite() || self.nested_beyond(piece)
    }

    pub(crate) fn seam_count(&self) -> usize {
        self.seams.len()
    }

    /// The pieces when the seams with set bits are chosen; sorted by their first section.
    pub(crate) fn pieces_of(&self, chosen: u64) -> Vec<u64> {
        let mut neighbors = vec![0u64; self.sections.len()];
        for (i, Line { sides, .. }) in self.seams.iter().enumerate() {
            if chosen >> i & 1 == 0 {
                for s in bits(*sides) {
                    neighbors[s] |= sides & !(1u64 << s);
                }
            }
        }
        components(self.all(), &neighbors)
    }

    /// Connected parts of a set, joined wherever a candidate seam would lie.
    pub(crate) fn split(&self, set: u64) -> Vec<u64> {
        components(set, &self.neighbors)
    }

    /// The pieces when no seam is chosen.
    pub(crate) fn components(&self) -> Vec<u64> {
        self.split(self.all())
    }
}

/// The set bits, lowest first.
pub(crate) fn bits(mut set: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        (set != 0).then(|| {
            let i = set.trailing_zeros() as usize;
            set &= set - 1;
            i
        })
    })
}

fn components(set: u64, neighbors: &[u64]) -> Vec<u64> {
    let mut left = set;
    let mut found = Vec::new();
    while left != 0 {
        let mut part = left & left.wrapping_neg();
        let mut edge = part;
        while edge != 0 {
            let reached = bits(edge).fold(0, |m, i| m | neighbors[i]) & left & !part;
            part |= reached;
            edge = reached;
        }
        left &= !part;
        found.push(part);
    }
    found
}
