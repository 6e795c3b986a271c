//! Where seams pay: film and hours now, expected renewals later, seam length in sight.

use crate::error::within;
use crate::seam_costs::Costs;
use crate::seam_search::{all_plans, search};
use crate::{DamageRate, PriceError};
use effort::Effort;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use units::{Area, Duration, Explained, Length, Money};

/// A part of the car on which damage is alike, such as the flared part behind a wheel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Zone {
    /// As people call it.
    pub name: String,
    /// How often film on it is damaged.
    pub rate: DamageRate,
}

/// The smallest part of the surface that candidate seams can set apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// As people call it.
    pub name: String,
    /// Its zone, by number.
    pub zone: usize,
    /// Film on the car.
    pub area: Area,
    /// From where to where along the roll when laid flat beside the others.
    pub along: (Length, Length),
    /// From where to where across.
    pub across: (Length, Length),
}

/// A line on which a seam could lie, between two sections.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CandidateSeam {
    /// The sections on its two sides, by number.
    pub between: (usize, usize),
    /// Its length.
    pub length: Length,
    /// The part of it that is seen from where people stand.
    pub in_sight: Length,
}

/// A piece that has really been nested: its film is used instead of the rectangle on a strip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NestedPiece {
    /// Its sections, by number.
    pub sections: Vec<usize>,
    /// Film it uses up, the value of its offcuts taken off as area.
    pub film: Area,
}

/// What pieces cost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeamPrices {
    /// Widths of the rolls.
    pub rolls: Vec<Length>,
    /// Film beyond the piece on each side, for trimming.
    pub trim: Length,
    /// A square meter of film.
    pub film_m2: Money,
    /// What an offcut is worth, as a share of fresh film, 0 to 1.
    pub offcut_value: f64,
    /// An hour of labor with all it carries.
    pub labor_hour: Money,
    /// Fitting, each piece.
    pub per_piece: Duration,
    /// Fitting, each m².
    pub per_m2: Duration,
    /// Working the edge of a seam, each meter.
    pub per_seam_m: Duration,
    /// Taking old film off, each m².
    pub removal_m2: Duration,
    /// Around each renewal: booking, washing, handover.
    pub per_renewal: Duration,
    /// Mean flaws a m² that force a fresh start while fitting; a piece of A m² takes e^(flaws × A) goes.
    pub flaws_m2: f64,
    /// How far ahead is looked.
    pub horizon: Duration,
    /// Interest a year, 0.03 for 3 %.
    pub interest: f64,
    /// The customer's own price for not seeing a meter of seam.
    pub unseen_m: Money,
}

/// Sections, candidate seams and what they cost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeamProblem {
    /// At most 64.
    pub sections: Vec<Section>,
    /// Where seams may lie. Sections without a candidate seam between them are not joined there either.
    pub seams: Vec<CandidateSeam>,
    /// Zones.
    pub zones: Vec<Zone>,
    /// Pieces that have been nested.
    pub nested: Vec<NestedPiece>,
    /// Prices.
    pub prices: SeamPrices,
}

/// One piece of film in a plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PieceOutlook {
    /// Its sections, by number.
    pub sections: Vec<usize>,
    /// Film on the car.
    pub area: Area,
    /// Film used up.
    pub film: Area,
    /// Film and hours now, fresh starts counted.
    pub install: Money,
    /// Renewing it alone, once.
    pub renewal: Money,
    /// Mean number of renewals over the horizon.
    pub renewals: f64,
}

/// A choice of seams, with what it costs over the years. Estimates, rounded to cents only for reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeamPlan {
    /// Chosen seams, by number.
    pub seams: Vec<usize>,
    /// Pieces, each with its outlook.
    pub pieces: Vec<PieceOutlook>,
    /// Film and hours now, seams worked.
    pub install: Money,
    /// Present value of the expected renewals.
    pub renewals: Money,
    /// Mean number of renewals over the horizon.
    pub expected_renewals: f64,
    /// Seams that are seen.
    pub in_sight: Length,
    /// What the customer's price makes of that.
    pub sight: Money,
    /// All three.
    pub total: Money,
}

/// The best choice of seams.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SeamChoice {
    /// The cheapest plan found; `None` when no plan fits the rolls.
    pub best: Option<SeamPlan>,
    /// One plan without any seam, for comparison; `None` when such a piece fits no roll.
    pub seamless: Option<SeamPlan>,
    /// Whether no plan can be cheaper. `false` only when stopped early.
    pub proven: bool,
    /// What to do when there is no plan, or the search was stopped.
    pub hint: Option<String>,
    /// How it was computed.
    pub explained: Explained,
}

/// Up to this many candidate seams every choice is looked at; above, branch and bound.
pub const EXHAUSTIVE_SEAMS: usize = 12;

/// The cheapest choice of seams: Σ install + Σ λ R (1 − e^(−rT))/r + seam in sight × the customer's price.
///
/// Every choice is reckoned up to 12 candidate seams; above, branch and bound with the same answer. Effort: one step
/// for each choice or branch; stopped early, the best so far comes back unproven.
///
/// # Errors
/// When sections, seams or prices make no sense.
pub fn choose_seams(problem: &SeamProblem, effort: &Effort) -> Result<SeamChoice, PriceError> {
    problem.check()?;
    let costs = Costs::new(problem);
    let found = if problem.seams.len() <= EXHAUSTIVE_SEAMS {
        let (plans, proven) = all_plans(&costs, effort);
        let best = plans.into_iter().min_by(|a, b| costs.total(a).total_cmp(&costs.total(b)));
        (best, proven)
    } else {
        search(&costs, effort)
    };
    let best = found.0.map(|pieces| problem.plan(&costs, &pieces)).transpose()?;
    if let Some(plan) = &best {
        plan.verify(problem)?;
    }
    let whole = costs.components();
    let seamless = costs.feasible(&whole).then(|| problem.plan(&costs, &whole)).transpose()?;
    let hint = match (&best, found.1) {
        (None, true) => {
            Some("No choice of seams fits the rolls: add a candidate seam or a wider roll.".into())
        }
        (_, false) => Some("Stopped early: allow more effort to be sure of the cheapest plan.".into()),
        _ => None,
    };
    Ok(SeamChoice { seamless, proven: found.1, hint, explained: problem.explained(best.as_ref()), best })
}

/// A given choice of seams, reckoned: what has been agreed, or what the drawing has.
///
/// # Errors
/// When sections, seams or prices make no sense, a seam is none of the candidates, or a piece fits no roll.
pub fn seam_plan(problem: &SeamProblem, chosen: &[usize]) -> Result<SeamPlan, PriceError> {
    problem.check()?;
    let most = problem.seams.len();
    let mut mask = 0u64;
    for seam in chosen {
        within(
            "the chosen seams",
            "a seam",
            *seam as f64,
            0.0,
            most as f64 - 1.0,
            "the number of a candidate seam",
        )?;
        mask |= 1 << seam;
    }
    let costs = Costs::new(problem);
    let pieces = costs.pieces_of(mask);
    if !costs.feasible(&pieces) {
        return Err(PriceError::Amount("a choice of seams with a piece that fits no roll".into()));
    }
    let plan = problem.plan(&costs, &pieces)?;
    plan.verify(problem)?;
    Ok(plan)
}

/// Plans none of which is beaten in price now, renewals and seam in sight at once; the cheapest now comes first.
///
/// All such plans up to 12 candidate seams. Above, those that are best for some price of seam in sight, from nothing
/// to eight times the customer's (or to 800 a meter when that is nothing).
///
/// # Errors
/// As [`choose_seams`].
pub fn seam_front(problem: &SeamProblem, effort: &Effort) -> Result<Vec<SeamPlan>, PriceError> {
    problem.check()?;
    let costs = Costs::new(problem);
    let plans = if problem.seams.len() <= EXHAUSTIVE_SEAMS {
        all_plans(&costs, effort).0
    } else {
        let own = if problem.prices.unseen_m > Money::ZERO {
            problem.prices.unseen_m
        } else {
            Money::cents(10_000)
        };
        let eighths = [0i64, 1, 2, 4, 6, 8, 12, 16, 32, 64];
        let mut found = BTreeSet::new();
        for e in eighths {
            let mut priced = problem.clone();
            priced.prices.unseen_m = own * rust_decimal::Decimal::new(e * 125, 3);
            found.extend(search(&Costs::new(&priced), effort).0);
        }
        found.into_iter().collect()
    };
    // by the length in sight, not its price: a customer who does not mind today may tomorrow
    let rate = |p: Vec<u64>| {
        let (install, renewals, _) = costs.parts(&p);
        ((install, renewals, costs.in_sight(&p)), p)
    };
    let mut rated: Vec<_> = plans.into_iter().map(rate).collect();
    rated.sort_by(|a, b| a.0.0.total_cmp(&b.0.0).then(a.0.1.total_cmp(&b.0.1)).then(a.0.2.total_cmp(&b.0.2)));
    let mut kept: Vec<(f64, f64, f64)> = Vec::new();
    let mut front = Vec::new();
    for (parts, pieces) in rated {
        // sorted by the first, so only what is kept can beat it
        if !kept.iter().any(|k| k.0 <= parts.0 && k.1 <= parts.1 && k.2 <= parts.2) {
            kept.push(parts);
            front.push(problem.plan(&costs, &pieces)?);
        }
    }
    Ok(front)
}

/// The plan of a front that is cheapest when a meter of seam in sight is priced anew: a slider needs no search.
pub fn cheapest_at(front: &[SeamPlan], unseen_m: Money) -> Option<&SeamPlan> {
    front.iter().min_by_key(|plan| plan.total_at(unseen_m))
}

impl SeamProblem {
    fn check(&self) -> Result<(), PriceError> {
        let n = self.sections.len();
        within("seams", "the number of sections", n as f64, 1.0, 64.0, "1 to 64")?;
        for s in &self.sections {
            let place = format!("section '{}'", s.name);
            let area = within(&place, "the area in m²", s.area.as_m2(), 0.0, 100.0, "0 to 100 m²")?;
            let (l, h) = (s.along.1 - s.along.0, s.across.1 - s.across.0);
            within(&place, "the length in m", l.as_m(), 0.0, 100.0, "an end after the start")?;
            within(&place, "the height in m", h.as_m(), 0.0, 100.0, "an end after the start")?;
            within(
                &place,
                "the area in m²",
                area,
                0.0,
                (l * h).as_m2() * (1.0 + 1e-9),
                "no more than length × height",
            )?;
            within(
                &place,
                "the zone",
                s.zone as f64,
                0.0,
                self.zones.len() as f64 - 1.0,
                "the number of a zone",
            )?;
        }
        for (i, seam) in self.seams.iter().enumerate() {
            let place = format!("candidate seam {i}");
            for side in [seam.between.0, seam.between.1] {
                within(&place, "a section", side as f64, 0.0, n as f64 - 1.0, "the number of a section")?;
            }
            if seam.between.0 == seam.between.1 {
                return Err(PriceError::Value {
                    place,
                    what: "the other side",
                    got: "the same section".into(),
                    allowed: "two sections",
                });
            }
            let length = within(&place, "the length in m", seam.length.as_m(), 0.0, 100.0, "0 to 100 m")?;
            within(
                &place,
                "the length in sight",
                seam.in_sight.as_m(),
                0.0,
                length,
                "no more than the length",
            )?;
        }
        for piece in &self.nested {
            for s in &piece.sections {
                within(
                    "a nested piece",
                    "a section",
                    *s as f64,
                    0.0,
                    n as f64 - 1.0,
                    "the number of a section",
                )?;
            }
            let area: f64 =
                piece.sections.iter().filter_map(|i| self.sections.get(*i)).map(|s| s.area.as_m2()).sum();
            let place = "a nested piece";
            within(
                place,
                "its film in m²",
                piece.film.as_m2(),
                area * (1.0 - 1e-9),
                1e4,
                "at least the area it covers",
            )?;
        }
        self.prices.check()
    }

    fn plan(&self, costs: &Costs, pieces: &[u64]) -> Result<SeamPlan, PriceError> {
        let money = |v: f64| Money::from_estimate(v).ok_or_else(|| PriceError::Amount("a seam plan".into()));
        let seams = costs.cut(pieces);
        let (install, renewals, sight) = costs.parts(pieces);
        let pieces = pieces.iter().map(|p| {
            let piece = costs.piece(*p);
            Ok(PieceOutlook {
                sections: (0..self.sections.len()).filter(|i| p >> i & 1 == 1).collect(),
                area: Area::m2(piece.area),
                film: Area::m2(piece.film),
                install: money(piece.install)?,
                renewal: money(piece.renewal)?,
                renewals: piece.rate * costs.years(),
            })
        });
        let pieces = pieces.collect::<Result<Vec<_>, PriceError>>()?;
        Ok(SeamPlan {
            in_sight: seams.iter().map(|s| self.seams[*s].in_sight).sum(),
            expected_renewals: pieces.iter().map(|p| p.renewals).sum(),
            seams,
            pieces,
            install: money(install)?,
            renewals: money(renewals)?,
            sight: money(sight)?,
            total: money(install + renewals + sight)?,
        })
    }

    fn explained(&self, best: Option<&SeamPlan>) -> Explained {
        let p = &self.prices;
        let mut explained = Explained::new(
            "Seam plan",
            "Σ install + Σ λ × renewal × (1 − e^(−rT))/r + seam in sight × the customer's price; a piece is renewed whole",
            "prices and flaws set by the shop; damage rates from its claims",
        )
        .with("candidate seams", self.seams.len().to_string())
        .with("horizon", format!("{:.1} years", p.horizon.as_days() / 365.25))
        .with("interest", format!("{:.1} %", p.interest * 100.0))
        .with("a meter of seam not seen", p.unseen_m.amount().to_string());
        if let Some(plan) = best {
            let cents = |m: Money| m.rounded(2, units::Rounding::HalfUp).amount().to_string();
            explained = explained
                .with("install", cents(plan.install))
                .with("renewals", cents(plan.renewals))
                .with("sight", cents(plan.sight));
        }
        explained
    }
}

impl SeamPrices {
    fn check(&self) -> Result<(), PriceError> {
        let place = "the prices of seams";
        within(
            place,
            "the number of roll widths",
            self.rolls.len() as f64,
            1.0,
            50.0,
            "at least one roll width",
        )?;
        for w in &self.rolls {
            within(place, "a roll width in mm", w.as_mm(), 10.0, 5000.0, "10 to 5000 mm")?;
        }
        within(place, "the trim in mm", self.trim.as_mm(), 0.0, 500.0, "0 to 500 mm")?;
        within(place, "the value of offcuts", self.offcut_value, 0.0, 1.0, "a share from 0 to 1")?;
        within(place, "the flaws a m²", self.flaws_m2, 0.0, 2.0, "0 to 2")?;
        within(place, "the horizon in years", self.horizon.as_days() / 365.25, 0.0, 50.0, "0 to 50 years")?;
        within(place, "the interest", self.interest, 0.0, 0.5, "a share from 0 to 0.5")?;
        for t in [self.per_piece, self.per_m2, self.per_seam_m, self.removal_m2, self.per_renewal] {
            within(place, "a time in hours", t.as_hours(), 0.0, 1000.0, "0 to 1000 hours")?;
        }
        for m in [self.film_m2, self.labor_hour, self.unseen_m] {
            crate::rules::payable("a price of the seam plan", m)?;
        }
        Ok(())
    }
}

impl SeamPlan {
    /// Its total at another price of a meter of seam in sight.
    pub fn total_at(&self, unseen_m: Money) -> Money {
        let sight = Money::from_estimate(unseen_m.as_estimate() * self.in_sight.as_m()).unwrap_or_default();
        self.install + self.renewals + sight
    }

    /// Checks the plan against its problem without the engine's own sums: every section in one piece, pieces hold
    /// together without crossing a chosen seam, chosen seams lie between pieces, and the parts add up.
    ///
    /// # Errors
    /// Where it is wrong.
    pub fn verify(&self, problem: &SeamProblem) -> Result<(), PriceError> {
        let flaw = |what: &str| Err(PriceError::Amount(format!("a seam plan that is wrong: {what}")));
        let mut owner = vec![None; problem.sections.len()];
        for (p, piece) in self.pieces.iter().enumerate() {
            for s in &piece.sections {
                if owner.get(*s) != Some(&None) {
                    return flaw("a section in two pieces or in none");
                }
                owner[*s] = Some(p);
            }
        }
        if owner.contains(&None) {
            return flaw("a section without film");
        }
        for (i, seam) in problem.seams.iter().enumerate() {
            if (owner[seam.between.0] != owner[seam.between.1]) != self.seams.contains(&i) {
                return flaw("a seam inside a piece, or two pieces without one");
            }
        }
        for (p, piece) in self.pieces.iter().enumerate() {
            let mut reached = vec![piece.sections[0]];
            let mut i = 0;
            while i < reached.len() {
                for seam in problem
                    .seams
                    .iter()
                    .filter(|s| owner[s.between.0] == Some(p) && owner[s.between.1] == Some(p))
                {
                    for (from, to) in [seam.between, (seam.between.1, seam.between.0)] {
                        if from == reached[i] && !reached.contains(&to) {
                            reached.push(to);
                        }
                    }
                }
                i += 1;
            }
            if reached.len() != piece.sections.len() {
                return flaw("a piece that does not hold together");
            }
        }
        let gap = self.total - self.install - self.renewals - self.sight;
        if gap.as_estimate().abs() > 0.001 {
            return flaw("parts that do not add up");
        }
        Ok(())
    }
}
