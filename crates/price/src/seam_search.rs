//! The cheapest way to cut sections into pieces: every choice, or branch and bound.

use crate::seam_costs::{Costs, bits};
use effort::Effort;
use std::collections::BTreeMap;

/// Every feasible plan, and whether all were reached. A seam with one piece on both sides is no plan of its own.
pub(crate) fn all_plans(costs: &Costs, effort: &Effort) -> (Vec<Vec<u64>>, bool) {
    let mut plans = Vec::new();
    for chosen in 0..1u64 << costs.seam_count() {
        if !effort.spend(1) {
            return (plans, false);
        }
        let pieces = costs.pieces_of(chosen);
        let needless = bits(chosen).count() != costs.cut(&pieces).len();
        if !needless && costs.feasible(&pieces) {
            plans.push(pieces);
        }
    }
    (plans, true)
}

/// The cheapest plan and whether that is proven; `None` when none is feasible (or none was found in time).
///
/// Branch and bound over the piece that holds the first section of what is left. A set of sections that hang together
/// is solved once and kept. A branch is a piece in growth; it is left when even the least it can still cost is no
/// better than what is known:
/// - the piece itself costs at least its lean cost (no film wasted), which rises faster than its parts; or its real
///   cost so far, when what joins it is counted without film;
/// - a part of the rest that the piece may no longer reach costs exactly its own optimum;
/// - a part that it may still reach costs either the seams towards it and its own optimum, or, joined, at least its
///   lean sections and what joining the nearest of them adds.
pub(crate) fn search(costs: &Costs, effort: &Effort) -> (Option<Vec<u64>>, bool) {
    let mut searcher = Searcher {
        costs,
        effort,
        lean: BTreeMap::new(),
        known: BTreeMap::new(),
        joined: BTreeMap::new(),
        stopped: false,
    };
    if bits(costs.all()).any(|i| !costs.may_grow(1u64 << i)) {
        return (None, true);
    }
    let mut pieces = Vec::new();
    let mut feasible = true;
    for part in costs.components() {
        let cost = searcher.best(part);
        if searcher.stopped {
            break;
        }
        feasible &= cost.is_finite();
        searcher.collect(part, &mut pieces);
    }
    if searcher.stopped {
        return (greedy(costs), false);
    }
    pieces.sort_by_key(|p| p.trailing_zeros());
    (feasible.then_some(pieces), true)
}

struct Searcher<'a> {
    costs: &'a Costs,
    effort: &'a Effort,
    lean: BTreeMap<u64, f64>,
    /// Set → its cheapest cost and the piece that holds its first section.
    known: BTreeMap<u64, (f64, u64)>,
    /// (Set, its section at the edge, what is counted) → least cost when joined through that section to a piece outside.
    joined: BTreeMap<(u64, usize, Counted), f64>,
    stopped: bool,
}

/// What a bound counts of sections that are still to join.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Counted {
    /// Labor, and film to the size of the section.
    Lean,
    /// Labor alone.
    Labor,
}

/// A piece in growth within a set.
struct Growth {
    set: u64,
    piece: u64,
    /// Neighbors that are settled to lie outside.
    apart: u64,
    best: (f64, u64),
}

impl Searcher<'_> {
    /// Cheapest cost of a set that hangs together; infinite when it cannot be done.
    fn best(&mut self, set: u64) -> f64 {
        if let Some(found) = self.known.get(&set) {
            return found.0;
        }
        let first = set & set.wrapping_neg();
        let mut growth = Growth { set, piece: first, apart: 0, best: (f64::INFINITY, 0) };
        self.grow(&mut growth);
        if !self.stopped {
            self.known.insert(set, growth.best);
        }
        growth.best.0
    }

    fn grow(&mut self, growth: &mut Growth) {
        if !self.effort.spend(1) {
            self.stopped = true;
        }
        if self.stopped || self.least(growth) >= growth.best.0 {
            return;
        }
        let open = self.costs.neighbors(growth.piece) & growth.set & !growth.apart;
        if open == 0 {
            return self.close(growth);
        }
        let next = open & open.wrapping_neg();
        growth.apart |= next;
        self.grow(growth);
        growth.apart &= !next;
        let piece = growth.piece | next;
        // a piece that fits no roll never does again by growing, unless it was nested for itself
        if self.costs.may_grow(piece) {
            growth.piece = piece;
            self.grow(growth);
            growth.piece &= !next;
        }
    }

    /// The piece is complete: its real cost, its seams, and the optimum of all that is left.
    fn close(&mut self, growth: &mut Growth) {
        let rest = growth.set & !growth.piece;
        let mut cost = self.costs.piece(growth.piece).total + self.costs.between(growth.piece, rest);
        for part in self.costs.split(rest) {
            if cost >= growth.best.0 {
                return;
            }
            cost += self.best(part);
        }
        if cost < growth.best.0 && !self.stopped {
            growth.best = (cost, growth.piece);
        }
    }

    /// The least that this growth can still cost: the larger of two bounds, one that counts no waste and one that
    /// takes the film of the rectangle so far and lets what joins it lie in its waste for nothing.
    fn least(&mut self, growth: &Growth) -> f64 {
        let lean = self.least_by(growth, Counted::Lean);
        if lean >= growth.best.0 || self.costs.nested_beyond(growth.piece) {
            return lean;
        }
        lean.max(self.least_by(growth, Counted::Labor))
    }

    fn least_by(&mut self, growth: &Growth, counted: Counted) -> f64 {
        let (piece, apart) = (growth.piece, growth.apart);
        let mut least = match counted {
            Counted::Lean => self.lean(piece),
            Counted::Labor => self.costs.piece(piece).total,
        };
        for part in self.costs.split(growth.set & !piece) {
            if least >= growth.best.0 {
                break;
            }
            let edge = self.costs.neighbors(piece) & part;
            let parted = self.costs.between(piece, part) + self.best(part);
            least += if edge & !apart == 0 {
                parted
            } else {
                let settled = self.costs.between(piece, part & apart);
                let joined = bits(edge & !apart)
                    .map(|i| self.adds(piece, i, counted) + self.joined(part, i, edge, counted))
                    .fold(f64::INFINITY, f64::min);
                parted.min(settled + joined)
            };
        }
        least
    }

    /// The least that a part costs when it is joined to a piece outside through section `i`, without what joining
    /// `i` itself adds. Only when `i` is the one way in is more known than the sum of its sections.
    fn joined(&mut self, part: u64, i: usize, edge: u64, counted: Counted) -> f64 {
        if edge != 1u64 << i {
            return bits(part).map(|s| self.bare(s, counted)).sum();
        }
        if let Some(known) = self.joined.get(&(part, i, counted)) {
            return *known;
        }
        let own = 1u64 << i;
        let mut least = self.bare(i, counted);
        for branch in self.costs.split(part & !own) {
            let inner = self.costs.neighbors(own) & branch;
            let parted = self.costs.between(own, branch) + self.best(branch);
            let joined = bits(inner)
                .map(|j| self.adds(own, j, counted) + self.joined(branch, j, inner, counted))
                .fold(f64::INFINITY, f64::min);
            least += parted.min(joined);
        }
        self.joined.insert((part, i, counted), least);
        least
    }

    /// What a section costs at least inside a piece, without that of being a piece of its own.
    fn bare(&mut self, i: usize, counted: Counted) -> f64 {
        match counted {
            Counted::Lean => self.lean(1u64 << i) - self.costs.one_more(),
            Counted::Labor => self.costs.labor(1u64 << i) - self.costs.one_more(),
        }
    }

    /// What joining section `i` to a piece adds beyond both.
    fn adds(&mut self, piece: u64, i: usize, counted: Counted) -> f64 {
        let joined = piece | 1u64 << i;
        match counted {
            Counted::Lean => self.lean(joined) - self.lean(piece) - self.bare(i, counted),
            Counted::Labor => self.costs.labor(joined) - self.costs.labor(piece) - self.bare(i, counted),
        }
    }

    fn lean(&mut self, set: u64) -> f64 {
        let costs = self.costs;
        *self.lean.entry(set).or_insert_with(|| costs.lean(set))
    }

    fn collect(&self, set: u64, pieces: &mut Vec<u64>) {
        if let Some((_, piece)) = self.known.get(&set).filter(|(cost, _)| cost.is_finite()) {
            pieces.push(*piece);
            for part in self.costs.split(set & !piece) {
                self.collect(part, pieces);
            }
        }
    }
}

/// A good plan soon, for when the search was stopped: sections alone, joined two by two while that pays.
fn greedy(costs: &Costs) -> Option<Vec<u64>> {
    let mut pieces: Vec<u64> = bits(costs.all()).map(|i| 1u64 << i).collect();
    loop {
        let mut best = (-1e-9, 0, 0);
        for a in 0..pieces.len() {
            for b in a + 1..pieces.len() {
                if costs.neighbors(pieces[a]) & pieces[b] == 0 {
                    continue;
                }
                let cost = |p: u64| costs.piece(p).total;
                let change = cost(pieces[a] | pieces[b])
                    - cost(pieces[a])
                    - cost(pieces[b])
                    - costs.between(pieces[a], pieces[b]);
                if change < best.0 {
                    best = (change, a, b);
                }
            }
        }
        if best.0 >= -1e-9 {
            break;
        }
        let joined = pieces.remove(best.2);
        pieces[best.1] |= joined;
    }
    pieces.sort_by_key(|p| p.trailing_zeros());
    costs.feasible(&pieces).then_some(pieces)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{AreaYears, CandidateSeam, DamageRate, NestedPiece, SeamPrices, SeamProblem, Section, Zone};
    use units::{Area, Duration, Length, Money, Seed, Sequence};

    /// Made problems: chains, trees and grids of sections, with rolls that are sometimes too narrow, pieces nested
    /// for themselves, seams that cost something or nothing.
    pub(super) fn made(
        random: &mut Sequence,
        sections: usize,
        most_seams: usize,
        shape: usize,
    ) -> SeamProblem {
        let rows = if shape == 2 { 2 + random.below(2) } else { 1 };
        let mut made = Vec::new();
        for i in 0..sections {
            let (column, row) = ((i / rows) as f64, (i % rows) as f64);
            let (mut l, mut h) = (random.between(0.2, 0.7), random.between(0.15, 0.5));
            // now and then a section is wider than any roll
            if random.below(150) == 0 {
                (l, h) = (l + 1.6, h + 1.6);
            }
            let low = random.between(0.0, 0.2) + 0.5 * row;
            made.push(Section {
                name: format!("s{i}"),
                zone: random.below(3),
                area: Area::m2(l * h * random.between(0.6, 1.0)),
                along: (Length::m(0.7 * column), Length::m(0.7 * column + l)),
                across: (Length::m(low), Length::m(low + h)),
            });
        }
        let mut pairs = Vec::new();
        for i in 1..sections {
            match shape {
                0 => pairs.push((i - 1, i)),
                1 => pairs.push((random.below(i), i)),
                _ => {
                    if i >= rows {
                        pairs.push((i - rows, i));
                    }
                    if i % rows != 0 {
                        pairs.push((i - 1, i));
                    }
                }
            }
        }
        pairs.truncate(most_seams);
        let seams = pairs
            .iter()
            .map(|&between| {
                let length = random.between(0.1, 0.8);
                CandidateSeam {
                    between,
                    length: Length::m(length),
                    in_sight: Length::m(length * random.below(3) as f64 / 2.0),
                }
            })
            .collect();
        let zones = (0..3)
            .map(|i| Zone {
                name: format!("z{i}"),
                rate: DamageRate::prior(
                    random.between(0.2, 3.0),
                    AreaYears::m2_years(random.between(2.0, 40.0)),
                )
                .unwrap(),
            })
            .collect();
        let mut nested = Vec::new();
        for &(a, b) in &pairs {
            if random.below(4) == 0 {
                let area: f64 = made[a].area.as_m2() + made[b].area.as_m2();
                nested.push(NestedPiece {
                    sections: vec![a, b],
                    film: Area::m2(area * random.between(1.0, 1.5)),
                });
            }
        }
        let wide = random.between(0.8, 1.6);
        let prices = SeamPrices {
            rolls: vec![Length::m(0.61), Length::m(wide)],
            trim: Length::mm(15.0),
            film_m2: Money::cents(6000),
            offcut_value: random.between(0.0, 0.5),
            labor_hour: Money::cents(7000),
            per_piece: Duration::hours(random.between(0.1, 0.6)),
            per_m2: Duration::hours(random.between(0.5, 2.0)),
            per_seam_m: Duration::hours(random.between(0.0, 0.3)),
            removal_m2: Duration::hours(0.7),
            per_renewal: Duration::hours(random.between(0.5, 2.0)),
            flaws_m2: random.between(0.0, 0.4),
            horizon: Duration::days(365.25 * random.between(2.0, 10.0)),
            interest: 0.03,
            unseen_m: Money::cents((random.below(4) * 5000) as i64),
        };
        SeamProblem { sections: made, seams, zones, nested, prices }
    }

    #[test]
    fn every_choice_and_branch_and_bound_agree_on_500_made_problems() {
        let mut random = Seed(77).sequence();
        let (mut infeasible, mut with_seams, mut without) = (0, 0, 0);
        for case in 0..500 {
            let sections = 3 + random.below(8);
            let problem = made(&mut random, sections, 12, case % 3);
            let costs = Costs::new(&problem);
            let (plans, all) = all_plans(&costs, &Effort::steps(1 << 20));
            assert!(all);
            let least = plans.iter().map(|p| costs.total(p)).fold(f64::INFINITY, f64::min);
            let (found, proven) = search(&costs, &Effort::steps(1 << 24));
            assert!(proven, "case {case}");
            match found {
                None => {
                    infeasible += 1;
                    assert!(plans.is_empty(), "case {case}: {} plans", plans.len());
                }
                Some(pieces) => {
                    let cost = costs.total(&pieces);
                    assert!((cost - least).abs() <= 1e-9 * least, "case {case}: {cost}, least {least}");
                    assert!(
                        plans.contains(&pieces) || plans.iter().any(|p| (costs.total(p) - cost).abs() < 1e-9)
                    );
                    if costs.cut(&pieces).is_empty() { without += 1 } else { with_seams += 1 }
                }
            }
        }
        // the problems are of all sorts, or agreement would say little
        assert!(infeasible > 5 && with_seams > 100 && without > 20, "{infeasible} {with_seams} {without}");
    }

    #[test]
    fn stopped_early_there_is_a_plan_but_no_proof() {
        let problem = made(&mut Seed(5).sequence(), 31, 30, 1);
        let costs = Costs::new(&problem);
        let (found, proven) = search(&costs, &Effort::steps(3));
        assert!(!proven);
        let best = search(&costs, &Effort::steps(1 << 24)).0.unwrap();
        assert!(costs.total(&found.unwrap()) >= costs.total(&best) - 1e-9);
    }

    #[test]
    #[ignore = "prints a measurement; run with --ignored --nocapture in an idle shop"]
    #[allow(clippy::disallowed_methods, reason = "measures")]
    fn thirty_candidate_seams() {
        for shape in 0..3 {
            for seed in 0..60 {
                // a grid of two or three rows reaches 30 seams with fewer sections
                let sections = if shape == 2 { 22 } else { 31 };
                let problem = made(&mut Seed(1000 + seed).sequence(), sections, 30, shape);
                let costs = Costs::new(&problem);
                let effort = Effort::steps(1 << 40);
                let start = std::time::Instant::now();
                let (found, proven) = search(&costs, &effort);
                println!(
                    "shape {shape} seed {seed}: {:.3} s, seams {}, proven {proven}, steps {}, pieces {:?}",
                    start.elapsed().as_secs_f64(),
                    problem.seams.len(),
                    effort.spent(),
                    found.map(|p| p.len())
                );
            }
        }
    }
}
