//! Where seams on the sides pay: parts of the car for the price engine, each piece nested alone, and its answer.

use super::sides::{self, Line, Part, Parted};
use super::{Case, film, learn};
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of};
use ::price::{
    CandidateSeam, NestedPiece, PriceError, SeamPlan, SeamPrices, SeamProblem, Section, Zone, seam_front,
    seam_plan,
};
use effort::Effort;
use job::{FilmZone, Order, PanelId, Roll, Shop};
use nest::{Config, Container, ContainerKind, Instance, Rotations};
use plane::{Outline, Point, Pose};
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use std::sync::Arc;
use units::{Area, Duration, Length, Money};

/// Steps of work for nesting one piece on one roll.
const NEST_EFFORT: u64 = 1500;

/// Steps for all choices of seams; a side has seven candidates, so 128 choices.
const FRONT_EFFORT: u64 = 1 << 20;

impl SideFront {
    /// The plan with these seams, by name, reckoned beside the others; none when a piece of it fits no roll.
    ///
    /// # Errors
    /// When prices or beliefs make no sense.
    pub fn of(&self, seams: &[String]) -> Result<Option<SeamPlan>, Refusal> {
        let chosen: Vec<usize> =
            (0..self.lines.len()).filter(|i| seams.contains(&self.lines[*i].name)).collect();
        match seam_plan(&self.problem, &chosen) {
            Ok(plan) => Ok(Some(plan)),
            Err(PriceError::Amount(_)) => Ok(None),
            Err(e) => Err(wrong(&e)),
        }
    }
}

/// A side of a car with all choices of seams that nothing beats.
#[derive(Clone, Debug)]
pub struct SideFront {
    /// The lines on which seams could lie, in the order of the problem.
    pub lines: Vec<Line>,
    /// Plans, the cheapest now first; for one side.
    pub plans: Vec<SeamPlan>,
    /// The plan without any of these seams.
    pub uncut: SeamPlan,
    /// How many sides are alike: money, renewals and lengths of a plan count so often.
    pub sides: f64,
    /// What was reckoned.
    pub problem: SeamProblem,
}

/// All choices of seams for the sides that an order covers; none when it covers none, or there is no roll.
///
/// # Errors
/// When prices or beliefs make no sense.
pub fn front(case: Case<'_>, order: &Order) -> Result<Option<Arc<SideFront>>, Refusal> {
    let Case { studio, job, shop, .. } = case;
    let Some((_, panels, sides)) = sides::sides_of(job, order) else { return Ok(None) };
    let parted = sides::parted(body_of(job), &panels);
    if parted.lines.is_empty() {
        return Ok(None);
    }
    let Some(problem) = problem(studio, shop, &parted)? else { return Ok(None) };
    let effort = || Effort::steps(FRONT_EFFORT);
    let result = studio.results.get("seam front", &problem, || {
        let plans = seam_front(&problem, &effort())?;
        Ok::<_, PriceError>((plans, seam_plan(&problem, &[])?))
    });
    match &*result {
        Ok((plans, uncut)) => Ok(Some(Arc::new(SideFront {
            lines: parted.lines,
            plans: plans.clone(),
            uncut: uncut.clone(),
            sides,
            problem,
        }))),
        Err(e) => Err(wrong(e)),
    }
}

/// What the film of an order is to expect over the years, under the seams chosen for the car; none without film or roll.
///
/// # Errors
/// When prices or beliefs make no sense.
pub fn outlook(case: Case<'_>, order: &Order) -> Result<Option<SeamPlan>, Refusal> {
    let Case { studio, job, shop, .. } = case;
    let parted = sides::parted(body_of(job), &film::covered(order, body_of(job)));
    if parted.parts.is_empty() {
        return Ok(None);
    }
    let Some(problem) = problem(studio, shop, &parted)? else { return Ok(None) };
    let wanted = job.sides.as_ref().map_or(&[][..], |s| s.seams.as_slice());
    let chosen: Vec<usize> =
        (0..parted.lines.len()).filter(|i| wanted.contains(&parted.lines[*i].name)).collect();
    let result = studio.results.get("seam plan", &(&problem, &chosen), || seam_plan(&problem, &chosen));
    match &*result {
        Ok(plan) => Ok(Some(plan.clone())),
        Err(e) => Err(wrong(e)),
    }
}

fn wrong(e: &PriceError) -> Refusal {
    Refusal::invalid(e.to_string(), "Change it under shop, prices or what we learnt.")
}

fn problem(studio: &Studio, shop: &Shop, parted: &Parted) -> Result<Option<SeamProblem>, Refusal> {
    let Some(prices) = prices(shop) else { return Ok(None) };
    let damage = learn::damage(studio, shop)?;
    let zones = FilmZone::ALL
        .iter()
        .filter_map(|z| Some(Zone { name: z.title().to_owned(), rate: damage.get(z)?.now }))
        .collect();
    let widest = prices.rolls.iter().copied().reduce(Length::max).unwrap_or(Length::ZERO);
    let room = widest - prices.trim * 2.0;
    let sections = sections(parted, room);
    let seams = parted.lines.iter().map(|l| CandidateSeam {
        between: l.between,
        length: l.length,
        in_sight: l.seen.min(l.length),
    });
    Ok(Some(SeamProblem {
        seams: seams.collect(),
        nested: nested(studio, shop, parted),
        sections,
        zones,
        prices,
    }))
}

/// Prices as the customer pays them: margin and tax in, so that they stand beside what not seeing a seam is worth to them.
fn prices(shop: &Shop) -> Option<SeamPrices> {
    let (p, e) = (&shop.settings.prices, &shop.settings.estimates);
    let share = |percent: f64| Decimal::from_f64_retain(percent / 100.0).unwrap_or_default().round_dp(6);
    let paid = |cost: Money| {
        let net = cost.amount().checked_div(Decimal::ONE - share(p.margin_percent).min(Decimal::new(95, 2)));
        Money::new(net.unwrap_or_default() * (Decimal::ONE + share(p.tax_percent)))
    };
    let mut rolls: Vec<Length> = shop.rolls.iter().map(|r| r.width - r.margin * 2.0).collect();
    rolls.sort_by(Length::total_cmp);
    rolls.dedup();
    rolls.retain(|w| *w > Length::mm(100.0));
    let film = shop.rolls.first()?.cost_m2;
    (!rolls.is_empty()).then(|| SeamPrices {
        rolls,
        trim: shop.settings.wrap,
        film_m2: paid(film),
        offcut_value: e.seams.offcut_value,
        labor_hour: paid(p.hour + p.consumables_hour),
        per_piece: e.seams.piece,
        per_m2: e.seams.m2,
        per_seam_m: e.seams.seam_m,
        removal_m2: e.seams.removal_m2,
        per_renewal: e.seams.renewal,
        flaws_m2: e.seams.flaws_m2,
        horizon: Duration::days(365.25 * e.years),
        interest: e.interest_percent / 100.0,
        unseen_m: e.seams.unseen_m,
    })
}

/// Parts as the engine wants them: where they lie beside the others of their panel, and no wider than a roll has room for
/// (what is wider is laid in strips).
fn sections(parted: &Parted, room: Length) -> Vec<Section> {
    let mut drawn: BTreeMap<&PanelId, (Area, Area)> = BTreeMap::new();
    for part in &parted.parts {
        let (real, seen) = drawn.entry(&part.panel).or_default();
        *real += part.area;
        *seen += part.outline.area();
    }
    parted
        .parts
        .iter()
        .map(|part| {
            let (real, seen) = drawn[&part.panel];
            let scale = (real / seen).max(0.0).sqrt();
            let high = panel_height(parted, &part.panel) * scale;
            let narrow = if high > room && room > Length::ZERO { room / high } else { 1.0 };
            section(part, scale, narrow)
        })
        .collect()
}

/// The smaller side of a panel's box, as drawn.
fn panel_height(parted: &Parted, panel: &PanelId) -> Length {
    let all = parted.parts.iter().filter(|p| p.panel == *panel).map(|p| p.outline.bounds());
    all.reduce(|a, b| a.and(b)).map_or(Length::ZERO, |b| b.width().min(b.height()))
}

fn section(part: &Part, scale: f64, narrow: f64) -> Section {
    let b = part.outline.bounds();
    let (wide, high) = (b.width(), b.height());
    // the shorter side is made to fit, the longer one grows by as much
    let (fx, fy) = if wide < high { (narrow, 1.0 / narrow) } else { (1.0 / narrow, narrow) };
    // a part that fills its box stays within it, whatever splinters were shared out to it
    let slack = (part.area / (wide * high * scale * scale)).max(1.0).sqrt();
    let at = |low: f64, size: Length, f: f64| {
        let from = Length::mm(low * scale * f);
        (from, from + size * (scale * f * slack * (1.0 + 1e-12)))
    };
    Section {
        name: format!("{} {}", part.panel, part.part).trim_end().to_owned(),
        zone: FilmZone::ALL.iter().position(|z| *z == part.zone).unwrap_or(0),
        area: part.area,
        along: at(b.low.x, wide, fx),
        across: at(b.low.y, high, fy),
    }
}

/// Every piece that seams can leave of a panel, nested alone on the roll that suits it best. A side that mirrors one that
/// was nested takes its figures.
fn nested(studio: &Studio, shop: &Shop, parted: &Parted) -> Vec<NestedPiece> {
    let mut known: BTreeMap<(String, Vec<&str>), Option<Area>> = BTreeMap::new();
    let mut all = Vec::new();
    let mut panels: Vec<&PanelId> = parted.lines.iter().map(|l| &parted.parts[l.between.0].panel).collect();
    panels.dedup();
    for panel in panels {
        let own: Vec<usize> = (0..parted.parts.len()).filter(|i| parted.parts[*i].panel == *panel).collect();
        let Some((main, rest)) = own.split_first() else { continue };
        let stays = (0..1usize << rest.len()).map(|mask| {
            let with = rest.iter().enumerate().filter(|(k, _)| mask >> k & 1 == 1).map(|(_, i)| *i);
            std::iter::once(*main).chain(with).collect::<Vec<usize>>()
        });
        let alone = rest.iter().map(|i| vec![*i]);
        let short = panel.as_str().split_once('_').map_or("", |(_, rest)| rest).to_owned();
        for set in stays.chain(alone) {
            let key = (short.clone(), set.iter().map(|i| parted.parts[*i].part).collect());
            let parts: Vec<&Part> = set.iter().map(|i| &parted.parts[*i]).collect();
            let film = *known.entry(key).or_insert_with(|| alone_on_roll(studio, shop, &parts));
            if let Some(film) = film {
                all.push(NestedPiece { sections: set, film });
            }
        }
    }
    all
}

/// Film that a piece takes alone, the value of its offcut taken off; none when it fits no roll.
fn alone_on_roll(studio: &Studio, shop: &Shop, parts: &[&Part]) -> Option<Area> {
    let drawn: Vec<&Outline> = parts.iter().map(|p| &p.outline).collect();
    let area: Area = parts.iter().map(|p| p.area).sum();
    let joined = sides::joined(&drawn)?;
    let scale = (area / joined.area()).max(0.0).sqrt();
    let scaled = joined.points().iter().map(|p| Point { x: p.x * scale, y: p.y * scale }).collect();
    let piece = Outline::new(scaled).ok()?.grown(shop.settings.wrap).simplified(Length::mm(2.0));
    let settings = (shop.settings.offcut_side, shop.settings.estimates.seams.offcut_value);
    let mut seen: Vec<(Length, Length)> = Vec::new();
    let film = shop.rolls.iter().filter_map(|roll| {
        let size = (roll.width, roll.margin);
        if seen.contains(&size) {
            return None;
        }
        seen.push(size);
        let key = (piece.points(), size.0.as_mm(), size.1.as_mm(), settings.0.as_mm(), settings.1);
        *studio.results.get("nested alone", &key, || strip(&piece, roll, settings))
    });
    film.reduce(Area::min).map(|f| f.max(area))
}

fn strip(piece: &Outline, roll: &Roll, (side, value): (Length, f64)) -> Option<Area> {
    let container = Container {
        id: "roll".into(),
        kind: ContainerKind::Roll {
            width: roll.width,
            length_left: Length::m(8.0),
            margin: roll.margin,
            bad_spots: Vec::new(),
        },
    };
    let piece = nest::Piece {
        id: "piece".into(),
        outline: piece.clone(),
        count: 1,
        rotations: Rotations::Free,
        mirrorable: false,
        together: None,
        priority: 0,
    };
    let instance = Instance {
        pieces: vec![piece.clone()],
        containers: vec![container],
        gap: Length::ZERO,
        locked: Vec::new(),
    };
    let outcome = nest::nest(&instance, &Config::default(), &Effort::steps(NEST_EFFORT));
    if !outcome.is_complete() {
        return None;
    }
    let length = outcome.layout.used.first()?.length;
    let pose: Pose = outcome.layout.placements.first()?.pose;
    let across = piece.outline.placed(&pose).bounds().height();
    let beside = (roll.width - roll.margin * 2.0 - across).max(Length::ZERO);
    let offcut = if beside >= side { beside * length } else { Area::ZERO };
    Some(length * roll.width - offcut * value)
}
