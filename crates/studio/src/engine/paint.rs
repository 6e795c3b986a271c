//! A job's readings and findings for the paint engine, and its answers as figures.

use super::WHOLE_CAR;
use crate::command::substrate;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use ::paint::{
    Advice, CorrectionPlan, Flag, GaugeSettings, History, Method, PanelEstimate, PanelInfo, PanelMap,
    PlanRequest, Settings, Spread, Surface, Survey,
};
use body::{Body, PanelKind};
use job::{
    CarHistory, Finding, FindingKind, Finish, Job, Material, Moment, PaintFinish, PanelId, Place, Reading,
    Severity, Shop,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use units::{Length, Thickness};

/// The shop's settings in the engine's words.
pub fn settings(shop: &Shop) -> Settings {
    Settings {
        floor: shop.settings.floor,
        allowance: shop.settings.allowance,
        alpha: shop.settings.risk,
        ..Settings::default()
    }
}

/// What the foils say of a gauge; none when too few were read.
pub fn gauge_check(check: &job::GaugeCheck) -> Option<::paint::GaugeCheck> {
    let foil = |f: &job::FoilReading| ::paint::Foil { nominal: f.nominal, read: f.read };
    ::paint::check_gauge(&check.foils.iter().map(foil).collect::<Vec<_>>()).ok()
}

/// The settings with what foils said of the gauges that read this car: of several gauges, the least sure one speaks.
fn settings_of(job: &Job, shop: &Shop) -> Settings {
    let settings = settings(shop);
    let names: BTreeSet<Option<&String>> = job.readings.iter().map(|r| r.gauge.as_ref()).collect();
    let checked = names.into_iter().map(|name| {
        let check = name.and_then(|n| shop.gauges.get(n)).and_then(gauge_check);
        check.map_or(settings.gauge, |c| c.applied(&settings.gauge))
    });
    let least_sure = checked.reduce(|a, b| GaugeSettings {
        fixed: a.fixed.max(b.fixed),
        offset_sd: a.offset_sd.max(b.offset_sd),
        ..a
    });
    Settings { gauge: least_sure.unwrap_or(settings.gauge), ..settings }
}

/// The shop's correction methods with what test spots on other cars and on this one showed.
pub fn methods_on(studio: &Studio, job: &Job, shop: &Shop) -> Vec<Method> {
    let gauge = settings_of(job, shop).gauge;
    let learned = super::learn::methods(studio, shop, Some(job));
    let mut methods: Vec<Method> =
        learned.map_or_else(|_| methods(shop), |list| list.into_iter().map(|(m, _)| m).collect());
    for spot in &job.test_spots {
        if let Some(method) = methods.iter_mut().find(|m| m.name == spot.method) {
            *method = ::paint::test_spot(method, &pairs(spot), spot.passes, &gauge).method;
        }
    }
    methods
}

/// Each test spot with what it says, on top of those before it.
pub fn test_spots(job: &Job, shop: &Shop) -> Vec<(job::TestSpot, Option<::paint::TestSpot>)> {
    let gauge = settings_of(job, shop).gauge;
    let mut methods = methods(shop);
    let mut said = Vec::new();
    for spot in &job.test_spots {
        let result = methods.iter_mut().find(|m| m.name == spot.method).map(|method| {
            let result = ::paint::test_spot(method, &pairs(spot), spot.passes, &gauge);
            *method = result.method.clone();
            result
        });
        said.push((spot.clone(), result));
    }
    said
}

fn pairs(spot: &job::TestSpot) -> Vec<::paint::Pair> {
    spot.pairs.iter().map(|p| ::paint::Pair { before: p.before, after: p.after }).collect()
}

/// Places to be read before and after a pass of each method so that its removal is told from the gauge's scatter, on
/// paint of this thickness.
pub fn pairs_needed(
    studio: &Studio,
    job: &Job,
    shop: &Shop,
    total: Thickness,
) -> Vec<(String, Thickness, usize)> {
    let gauge = settings_of(job, shop).gauge;
    let row = |m: Method| {
        let removal = m.removal_per_pass.mean;
        let needed = ::paint::pairs_needed(removal, total, &gauge);
        (m.name, removal, needed)
    };
    methods_on(studio, job, shop).into_iter().map(row).collect()
}

/// The shop's correction methods.
pub fn methods(shop: &Shop) -> Vec<Method> {
    let own = shop.settings.methods.as_ref().and_then(|value| methods_from(value).ok());
    own.unwrap_or_else(::paint::default_methods)
}

/// Reads a table of methods.
///
/// # Errors
/// When it is no table of methods.
pub fn methods_from(value: &serde_json::Value) -> Result<Vec<Method>, Refusal> {
    serde_json::from_value(value.clone()).map_err(|e| {
        Refusal::invalid(
            format!("The table of methods cannot be read: {e}"),
            "Start from the built-in table.",
        )
    })
}

/// What a panel is made of: as the car says, or as such bodies usually are.
pub fn material(job: &Job, body: &Body, panel: &PanelId) -> Material {
    job.car.materials.get(panel).copied().unwrap_or_else(|| {
        match body.panel(panel.as_str()).map(|p| p.usual_material) {
            Some(body::Material::Plastic) => Material::Plastic,
            Some(body::Material::Glass) => Material::Glass,
            _ => Material::Steel,
        }
    })
}

/// Painted panels of a body, as the engine wants to know them.
pub fn panel_infos(job: &Job, history: &CarHistory, body: &Body) -> Vec<PanelInfo> {
    painted(body)
        .map(|panel| {
            let id: PanelId = panel.id.into();
            let taken = history.taken_from(&id);
            PanelInfo {
                id: panel.id.to_owned(),
                width: panel.width,
                height: panel.height,
                outline: outline(body, panel.id),
                substrate: substrate(material(job, body, &id)),
                matte: job.car.paint == PaintFinish::Matte,
                single_stage: job.car.paint == PaintFinish::SingleStage,
                history: if job.car.history_known || taken > Thickness::ZERO {
                    History::Known { removed: taken }
                } else {
                    History::Unknown
                },
            }
        })
        .collect()
}

/// Outline of a panel in its drawing, u and v; empty when this body has no such panel.
pub fn outline(body: &Body, panel: &str) -> Vec<(f64, f64)> {
    let ring = body.outline(panel).unwrap_or_default();
    let span = |of: fn(&plane::Point) -> f64| {
        let low = ring.iter().map(of).fold(f64::INFINITY, f64::min);
        (low, ring.iter().map(of).fold(f64::NEG_INFINITY, f64::max) - low)
    };
    let ((left, wide), (top, high)) = (span(|p| p.x), span(|p| p.y));
    ring.iter().map(|p| ((p.x - left) / wide, (p.y - top) / high)).collect()
}

/// Painted panels of a body.
pub fn painted(body: &Body) -> impl Iterator<Item = &body::Panel> {
    body.panels().iter().filter(|p| p.kind == PanelKind::Paint)
}

/// A job's readings of one moment, without the offset of gauges whose foils were read.
pub fn readings(job: &Job, shop: &Shop, moment: Moment) -> Vec<::paint::Reading> {
    let checks: BTreeMap<&String, ::paint::GaugeCheck> =
        shop.gauges.iter().filter_map(|(name, check)| Some((name, gauge_check(check)?))).collect();
    let corrected = |r: ::paint::Reading| match r.gauge.as_ref().and_then(|g| checks.get(g)) {
        Some(check) => check.corrected(&r),
        None => r,
    };
    job.readings_at(moment)
        .map(|r| ::paint::Reading {
            panel: r.place.panel.0.clone(),
            at: r.place.u.zip(r.place.v),
            value: r.total,
            spot: r.spot.clone(),
            repeat: r.repeat,
            gauge: r.gauge.clone(),
            time: None,
            substrate: r.substrate.map_or(::paint::Substrate::Unknown, substrate),
            clear: r.clear,
        })
        .map(corrected)
        .collect()
}

/// A reading as the job keeps it.
pub fn reading_back(reading: &::paint::Reading, moment: Moment) -> Reading {
    let (u, v) = reading.at.unzip();
    Reading {
        place: Place { panel: reading.panel.as_str().into(), u, v },
        total: reading.value,
        clear: reading.clear,
        spot: reading.spot.clone(),
        repeat: reading.repeat,
        gauge: reading.gauge.clone(),
        substrate: match reading.substrate {
            ::paint::Substrate::Steel => Some(Material::Steel),
            ::paint::Substrate::Aluminum => Some(Material::Aluminum),
            ::paint::Substrate::Plastic => Some(Material::Plastic),
            ::paint::Substrate::Composite => Some(Material::Composite),
            ::paint::Substrate::Unknown => None,
        },
        moment,
    }
}

/// What the readings of one moment say; kept under the digest of its inputs.
///
/// # Errors
/// When the shop's settings cannot be used.
pub fn survey(
    studio: &Studio,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
    moment: Moment,
) -> Result<Arc<Survey>, Refusal> {
    let body = crate::studio::body_of(job);
    let inputs = (readings(job, shop, moment), panel_infos(job, history, body), settings_of(job, shop));
    let result = studio.results.get("survey", &inputs, || ::paint::analyze(&inputs.0, &inputs.1, &inputs.2));
    match &*result {
        Ok(survey) => Ok(Arc::new(survey.clone())),
        Err(e) => Err(Refusal::invalid(e.to_string(), "Change it under shop, paint.")),
    }
}

/// The map of one panel; none without enough placed readings.
pub fn map(
    studio: &Studio,
    job: &Job,
    history: &CarHistory,
    shop: &Shop,
    panel: &str,
    moment: Moment,
) -> Option<PanelMap> {
    let body = crate::studio::body_of(job);
    let info = panel_infos(job, history, body).into_iter().find(|p| p.id == panel)?;
    let readings: Vec<_> = readings(job, shop, moment).into_iter().filter(|r| r.panel == panel).collect();
    if readings.iter().filter(|r| r.at.is_some()).count() < 3 {
        return None;
    }
    let inputs = (readings, info, settings_of(job, shop));
    let result =
        studio.results.get("map", &inputs, || ::paint::map(&inputs.0, &inputs.1, &inputs.2).ok().flatten());
    (*result).clone()
}

/// Depth of a mark, where it was not measured: common practice, no source; a measured depth takes its place.
pub fn mark_depth(finding: &Finding) -> Thickness {
    if let Some(depth) = finding.depth {
        return depth;
    }
    let by_severity = |light: f64, marked: f64, deep: f64| match finding.severity {
        Severity::Light => light,
        Severity::Marked => marked,
        Severity::Deep => deep,
    };
    Thickness::um(match finding.kind {
        FindingKind::Swirls => by_severity(1.5, 2.5, 4.0),
        FindingKind::Scratch => by_severity(2.0, 4.0, 12.0),
        FindingKind::SandingMarks => by_severity(2.0, 3.0, 5.0),
        FindingKind::Etching => by_severity(1.5, 3.0, 8.0),
        _ => 0.0,
    })
}

/// Deepest mark that may remain under an order; none when the order asks for no machine work.
pub fn wanted(finish: Finish, settings: &Settings) -> Option<Thickness> {
    let index = match finish {
        Finish::Clean => return None,
        Finish::Gloss => 0,
        Finish::Corrected => 1,
        Finish::Best => 2,
    };
    settings.finish_levels.get(index).or(settings.finish_levels.last()).map(|level| level.mark)
}

/// Marks on a panel: findings on it and findings that speak for the whole car.
pub fn marks_on<'a>(job: &'a Job, panel: &'a str) -> impl Iterator<Item = &'a Finding> {
    job.standing().filter(move |f| f.kind.is_mark() && [panel, WHOLE_CAR].contains(&f.place.panel.as_str()))
}

/// A mark closer to the rim of its panel than this lies on an edge, where paint is thinner than any gauge shows.
/// Common practice, no source.
const EDGE: Length = Length::mm(25.0);

/// Whether a mark lies on an edge or a body line: as was said of it, or by its place.
pub fn on_edge(finding: &Finding, body: &Body) -> bool {
    let by_place = || {
        let (u, v) = (finding.place.u?, finding.place.v?);
        let panel = body.panel(finding.place.panel.as_str())?;
        let mm = |(u, v): (f64, f64)| (u * panel.width.as_mm(), v * panel.height.as_mm());
        let ring: Vec<(f64, f64)> = outline(body, panel.id).into_iter().map(mm).collect();
        let next = ring.iter().skip(1).chain(ring.first());
        Some(ring.iter().zip(next).any(|(a, b)| to_segment(mm((u, v)), *a, *b) < EDGE.as_mm()))
    };
    finding.edge || by_place().unwrap_or(false)
}

/// Distance of a point from a segment.
fn to_segment(p: (f64, f64), a: (f64, f64), b: (f64, f64)) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 { ((p.0 - a.0) * dx + (p.1 - a.1) * dy) / length } else { 0.0 };
    let t = t.clamp(0.0, 1.0);
    (p.0 - a.0 - t * dx).hypot(p.1 - a.1 - t * dy)
}

/// The correction plan of a panel under an order: of its face, or of its edges when only they are marked; none when no
/// machine work is ordered or no mark stands.
pub fn correction(
    studio: &Studio,
    job: &Job,
    shop: &Shop,
    finish: Finish,
    estimate: &PanelEstimate,
    panel: &body::Panel,
) -> Option<CorrectionPlan> {
    let case = (studio, job, shop);
    plan_of(case, finish, estimate, panel, false).or_else(|| plan_of(case, finish, estimate, panel, true))
}

/// The plan of a panel's edges and body lines, where marks lie there and on its face too: half the allowance holds there.
pub fn edge_correction(
    studio: &Studio,
    job: &Job,
    shop: &Shop,
    finish: Finish,
    estimate: &PanelEstimate,
    panel: &body::Panel,
) -> Option<CorrectionPlan> {
    let case = (studio, job, shop);
    plan_of(case, finish, estimate, panel, false).and_then(|_| plan_of(case, finish, estimate, panel, true))
}

fn plan_of(
    (studio, job, shop): (&Studio, &Job, &Shop),
    finish: Finish,
    estimate: &PanelEstimate,
    panel: &body::Panel,
    edge: bool,
) -> Option<CorrectionPlan> {
    let settings = settings_of(job, shop);
    let wanted = wanted(finish, &settings)?;
    let body = crate::studio::body_of(job);
    let marks = marks_on(job, panel.id).filter(|f| on_edge(f, body) == edge);
    let deepest = marks.map(mark_depth).reduce(Thickness::max)?;
    // One fine pass takes out what a fine pass takes out: deeper marks stay and are named so.
    let mark = if finish == Finish::Gloss { deepest.min(Thickness::um(1.0) + wanted) } else { deepest };
    let request = PlanRequest {
        estimate: estimate.clone(),
        mark,
        wanted,
        area: panel.area,
        methods: methods_on(studio, job, shop),
        near_edge: edge,
        edge_share: settings.edge_share,
        floor: settings.floor,
        allowance_left: estimate.removable.allowance_left,
        alpha: settings.alpha,
        max_passes: 6,
    };
    Some((*studio.results.get("correction", &request, || ::paint::plan(&request))).clone())
}

/// What a plan takes; none when the panel is left.
pub fn planned_removal(plan: &CorrectionPlan) -> Option<Spread> {
    match &plan.advice {
        Advice::Correct(c) => Some(c.removal),
        Advice::LeaveIt(l) => l.best_safe.as_ref().map(|c| c.removal),
        Advice::NothingToDo => None,
    }
}

/// How a place of the map stands to the floor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Nearness {
    /// Under the floor.
    Under,
    /// Within 5 µm over it.
    Near,
    /// A level of the map, nothing to mind.
    Level,
}

/// The part of a panel whose clear coat is, on average, under a level.
#[derive(Clone, Debug, PartialEq)]
pub struct ClearContour {
    /// The level.
    pub under: Thickness,
    /// Rings in u, v, filled together by the even-odd rule.
    pub rings: Vec<Vec<(f64, f64)>>,
    /// How it stands to the floor.
    pub nearness: Nearness,
}

/// A little over the floor: what is hatched lightly. Common practice, no source.
pub const NEAR_FLOOR: Thickness = Thickness::um(5.0);

/// A map's clear coat in contours, the highest first: round levels of whole micrometers, for the estimate is no finer; a
/// little over the floor; the floor.
pub fn contours(map: &PanelMap, floor: Thickness) -> Vec<ClearContour> {
    let near = floor + NEAR_FLOOR;
    let contour = |under: Thickness, nearness| ClearContour {
        under,
        rings: map.below(Surface::Clear, Some(under)),
        nearness,
    };
    let levels =
        map.levels(Surface::Clear).into_iter().rev().filter(|l| *l > near && l.as_um().fract() == 0.0);
    levels
        .map(|l| contour(l, Nearness::Level))
        .chain([contour(near, Nearness::Near), contour(floor, Nearness::Under)])
        .filter(|c| !c.rings.is_empty())
        .collect()
}

/// The figures of a panel.
pub fn figures(estimate: &PanelEstimate, settings: &Settings) -> Vec<Figure> {
    let um = |t: Thickness| format!("{:.0}", t.as_um());
    let pm = |sd: Thickness| format!("{:.0}", 1.96 * sd.as_um());
    let mut figures = Vec::new();
    if let Some(total) = &estimate.total {
        let mut f = Figure::new("Total", um(total.mean), "µm")
            .by(
                "mean of the readings; ± is the half-width of its 95 % t interval",
                "NIST/SEMATECH e-Handbook 1.3.5.2",
            )
            .from("Readings", estimate.n.to_string());
        if let Some(sd) = total.sd {
            f = f.from("Standard deviation", format!("{:.1} µm", sd.as_um()));
        }
        if let Some(i) = total.interval {
            f = f.plus_minus(format!("{:.1}", (i.high - i.low).as_um() / 2.0));
        }
        figures.push(f);
        if let Some(bound) = total.bound {
            figures.push(
                Figure::new("At least", um(bound.value), "µm")
                    .by(
                        format!(
                            "mean − k × sd: {:.0} % of the panel is at least this thick, with {:.0} % confidence",
                            bound.coverage * 100.0,
                            bound.confidence * 100.0
                        ),
                        "Exact one-sided tolerance bound by the non-central t distribution (Natrella, NBS Handbook 91)",
                    )
                    .from("k", format!("{:.3}", bound.factor)),
            );
        }
    }
    let guess = estimate.has(Flag::NoReadingPossible) || estimate.has(Flag::NoReadings);
    let mut clear = Figure::new("Clear coat", um(estimate.clear.mean), "µm")
        .plus_minus(pm(estimate.clear.sd))
        .by(
            "layers as a joint normal by kind of finish, conditioned on the total with the gauge's noise",
            "Bayes' rule; layer priors of the shop: common practice, no source",
        )
        .from("Factory", share(estimate.kind.factory))
        .from("Refinished", share(estimate.kind.refinished))
        .from("Filled", share(estimate.kind.filled))
        .from("Thinned", share(estimate.kind.thinned));
    if guess {
        clear = clear.warn("guess from other cars, not measured");
    }
    figures.push(clear);
    let mut least = Figure::new("Least clear coat", um(estimate.least_clear.lower), "µm")
        .by(
            format!(
                "the thinnest place of the panel is at least this, with {:.0} % confidence",
                estimate.least_clear.confidence * 100.0
            ),
            "Distribution of the least value over the panel's map",
        )
        .from("Mean of the least", format!("{:.1} µm", estimate.least_clear.mean.as_um()))
        .from("Floor", format!("{:.0} µm", settings.floor.as_um()));
    if estimate.least_clear.lower < settings.floor {
        least = least.warn("below the floor");
    } else if guess {
        least = least.warn("guess, not measured");
    }
    figures.push(least);
    let removable = &estimate.removable;
    let mut amount = Figure::new("Removable", format!("{:.1}", removable.amount.as_um()), "µm")
        .by(
            "the smaller of: least clear coat − floor; lifetime allowance − already taken",
            "Shop's rule: common practice, no source",
        )
        .from("Least clear coat − floor", format!("{:.1} µm", removable.above_floor.as_um()))
        .from("Allowance left", format!("{:.1} µm", removable.allowance_left.as_um()));
    if removable.amount <= Thickness::ZERO {
        amount = amount.warn("nothing may be taken");
    }
    figures.push(amount);
    figures
}

fn share(p: f64) -> String {
    format!("{:.0} %", p * 100.0)
}
