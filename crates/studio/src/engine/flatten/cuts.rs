//! Ways to cut a panel: searched, and drawn by hand.

use super::laid::{Way, laid};
use super::{EFFORT, UNCUT, surface, unusable};
use crate::refusal::Refusal;
use crate::studio::Studio;
use effort::Effort;
use flatten::{CutPlan, Options, ZonePart};
use job::{CutZone, PanelCuts, PanelShape, SeamPlanFound, ZoneRule};
use units::Length;

/// Each plan that is kept leaves at most this share of the worst stretch of the next shorter one: a longer cut that gains
/// less is not worth a choice.
const GAIN: f64 = 0.97;

/// Zones for the engine.
pub fn zones(zones: &[CutZone]) -> Vec<flatten::Zone> {
    zones
        .iter()
        .map(|z| flatten::Zone {
            part: ZonePart::Loop(z.ring_mm.clone()),
            rule: match z.rule {
                ZoneRule::Forbidden => flatten::ZoneRule::Forbidden,
                ZoneRule::OutOfSight => flatten::ZoneRule::OutOfSight,
            },
        })
        .collect()
}

/// What a plan cuts, in words.
pub fn title(plan: &SeamPlanFound) -> String {
    let (cuts, pieces) = (plan.cuts_mm.len(), plan.areas.len());
    let drawn = if plan.name.starts_with("drawn") { ", drawn by hand" } else { "" };
    let words = match (plan.name.as_str(), cuts, pieces) {
        (UNCUT, ..) => "One piece, uncut".to_owned(),
        (_, 1, 1) => "One relief cut".to_owned(),
        (_, n, 1) => format!("{n} relief cuts"),
        (_, 1, n) => format!("One seam, {n} pieces"),
        (_, m, n) => format!("{m} cuts, {n} pieces"),
    };
    words + drawn
}

/// What a search found.
pub struct Found {
    /// Plans, the uncut panel first, then by rising length in sight; each laid flat anew.
    pub plans: Vec<SeamPlanFound>,
    /// Whether it was stopped before its end.
    pub stopped: bool,
}

/// Searches relief cuts and seams of a panel and lays the plans worth a choice flat, for their true figures.
///
/// # Errors
/// When the scan cannot be laid flat at all.
pub fn search(
    studio: &Studio,
    shape: &PanelShape,
    known: &[CutZone],
    effort: &Effort,
    said: &dyn Fn(f64, String),
) -> Result<Found, Refusal> {
    let zones = zones(known);
    let closed = surface(studio, shape, &mut Vec::new())?;
    let front = flatten::relief_cuts(&closed.mesh, &zones, &Options::default(), effort);
    let front = front.map_err(|e| unusable(&e.to_string()))?;
    let stopped = effort.cancelled();
    if front.is_empty() && !stopped {
        // no uncut shape without overlap: the parted one is the only plan there is
        let parted = laid(studio, shape, &Way::Parted, &zones, Length::ZERO, &Effort::steps(EFFORT))?;
        let lines: Vec<_> = parted.seams.iter().map(|s| s.points.clone()).collect();
        let plans =
            if parted.pieces.is_empty() { Vec::new() } else { vec![found("parted", &lines, &parted)] };
        return Ok(Found { plans, stopped });
    }
    let chosen = worth(&front);
    let mut plans: Vec<SeamPlanFound> = Vec::new();
    for (n, plan) in chosen.iter().enumerate() {
        said(
            0.8 + 0.2 * n as f64 / chosen.len() as f64,
            format!("laying flat plan {} of {}", n + 1, chosen.len()),
        );
        let lines: Vec<Vec<[f64; 3]>> = plan.cuts.iter().map(|c| c.points.clone()).collect();
        let (name, way) = match lines.len() {
            0 => (UNCUT.to_owned(), Way::Uncut),
            _ => (format!("cuts_{}", plans.len()), Way::Along(lines.clone())),
        };
        // a plan that cannot be laid flat after all, or lies over itself, is none
        let Ok(done) = laid(studio, shape, &way, &zones, Length::ZERO, &Effort::steps(EFFORT)) else {
            continue;
        };
        let found = found(&name, &lines, &done);
        let gains = plans.last().is_none_or(|last| found.worst_percent < last.worst_percent);
        if !done.pieces.is_empty() && gains {
            plans.push(found);
        }
    }
    Ok(Found { plans, stopped })
}

/// A plan of lines that somebody drew.
///
/// # Errors
/// When a line leaves the panel, crosses another, runs through a forbidden zone, or a piece would lie over itself.
pub fn drawn(
    studio: &Studio,
    shape: &PanelShape,
    known: &PanelCuts,
    lines: &[Vec<[f64; 3]>],
) -> Result<SeamPlanFound, Refusal> {
    let way = Way::Along(lines.to_vec());
    let done = laid(studio, shape, &way, &zones(&known.zones), Length::ZERO, &Effort::steps(EFFORT))?;
    if done.pieces.is_empty() {
        return Err(Refusal::invalid(
            "Cut like this, a piece of film would lie over itself",
            "Draw a seam through the place where it does, or have the cuts searched.",
        ));
    }
    let number = known.plans.iter().filter_map(|p| p.name.strip_prefix("drawn_")?.parse().ok()).max();
    Ok(found(&format!("drawn_{}", number.unwrap_or(0_u32) + 1), lines, &done))
}

fn found(name: &str, lines: &[Vec<[f64; 3]>], done: &super::Laid) -> SeamPlanFound {
    SeamPlanFound {
        name: name.to_owned(),
        cuts_mm: lines
            .iter()
            .map(|l| l.iter().map(|p| p.map(|c| (c * 100.0).round() / 100.0)).collect())
            .collect(),
        length: done.length,
        in_sight: done.in_sight,
        worst_percent: done.flattenings.iter().map(|f| f.worst).fold(0.0, f64::max) * 100.0,
        areas: done.flattenings.iter().map(|f| f.area).collect(),
    }
}

/// The plans of a front that are worth a choice.
fn worth(front: &[CutPlan]) -> Vec<&CutPlan> {
    let mut kept: Vec<&CutPlan> = Vec::new();
    for plan in front {
        if kept.last().is_none_or(|last| plan.worst <= GAIN * last.worst) {
            kept.push(plan);
        }
    }
    kept
}
