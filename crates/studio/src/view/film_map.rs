//! The pieces of film that lie on a car, each where it lies on the drawing.

use crate::engine::sides;
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of};
use job::{Job, JobId, LaidPiece, PanelId};
use plane::Outline;
use std::collections::BTreeMap;

/// A piece on the car.
#[derive(Clone, Debug, PartialEq)]
pub struct OnCar {
    /// The piece.
    pub laid: LaidPiece,
    /// Its outline in mm on the upright drawing of its panel's main view; empty where the whole panel stands for it,
    /// because it covers the panel or because nothing says which part of it.
    pub outline_mm: Vec<[f64; 2]>,
}

impl Studio {
    /// Film of a job as it lies on the car, in the order in which it was laid.
    ///
    /// # Errors
    /// When there is no such job.
    pub fn film_on_car(&self, id: &JobId) -> Result<Vec<OnCar>, Refusal> {
        Ok(on_car(&self.job(id)?.job))
    }
}

fn on_car(job: &Job) -> Vec<OnCar> {
    let body = body_of(job);
    let seams = job.sides.as_ref().map(|s| s.seams.as_slice()).unwrap_or_default();
    let mut count: BTreeMap<&PanelId, usize> = BTreeMap::new();
    job.laid.iter().for_each(|p| *count.entry(&p.panel).or_default() += 1);
    let parted: BTreeMap<&PanelId, Vec<Outline>> = count
        .into_iter()
        .filter(|(_, count)| *count > 1)
        .filter_map(|(panel, count)| {
            Some((panel, sides::pieces_of(body, panel, seams).filter(|parts| parts.len() == count)?))
        })
        .collect();
    // Pieces of a panel that seams part are numbered in the order of its parts.
    let outline = |laid: &LaidPiece| {
        let number: usize = laid.piece.rsplit_once('-')?.1.parse().ok()?;
        let part = parted.get(&laid.panel)?.get(number.checked_sub(1)?)?;
        Some(part.points().iter().map(|p| [p.x, p.y]).collect())
    };
    job.laid
        .iter()
        .map(|laid| OnCar { laid: laid.clone(), outline_mm: outline(laid).unwrap_or_default() })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::{Car, SidePlan};

    #[test]
    fn pieces_between_seams_lie_beside_one_another_on_their_panel() {
        let car = Car { body: "saloon".into(), ..Car::default() };
        let body = body_of(&Job { car: car.clone(), ..Job::default() });
        let panel: job::PanelId = "left_front_fender".into();
        let lines = sides::parted(body, std::slice::from_ref(&panel)).lines;
        assert!(!lines.is_empty(), "the fender can be parted");
        let seams: Vec<String> = lines.iter().map(|l| l.name.clone()).collect();
        let laid: Vec<LaidPiece> = (1..=seams.len() + 1)
            .map(|i| LaidPiece {
                piece: format!("{panel}-{i}"),
                panel: panel.clone(),
                ..LaidPiece::default()
            })
            .collect();
        let sides = Some(SidePlan { seams, ..SidePlan::default() });
        let mut job = Job { car, laid, sides, ..Job::default() };
        let parts = on_car(&job);
        let area = |p: &OnCar| {
            let n = p.outline_mm.len();
            let twice: f64 = (0..n)
                .map(|i| {
                    let ([x0, y0], [x1, y1]) = (p.outline_mm[i], p.outline_mm[(i + 1) % n]);
                    x0 * y1 - x1 * y0
                })
                .sum();
            twice.abs() / 2.0
        };
        let whole = plane::Outline::new(body.outline(panel.as_str()).unwrap_or_default())
            .map(|o| o.area().as_m2() * 1e6)
            .unwrap_or_default();
        let sum: f64 = parts.iter().map(area).sum();
        assert!(parts.iter().all(|p| area(p) > 0.0) && (sum / whole - 1.0).abs() < 0.02, "{sum} of {whole}");
        // a piece that was laid apart from that plan stands for its panel
        job.laid.truncate(1);
        assert!(on_car(&job)[0].outline_mm.is_empty());
    }
}
