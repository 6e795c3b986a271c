//! Panels laid flat: the stretch that a piece takes, and the ways to cut it.

use crate::engine;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use job::{Job, JobId, PanelId, Piece, SeamChoice, Shop};
use units::Length;

/// A way to cut the film of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct SeamPlan {
    /// Its name: `uncut`, or what it cuts.
    pub name: String,
    /// Its name for reading.
    pub title: String,
    /// Length of the cuts.
    pub length: Length,
    /// The cuts, as lines over the panel, mm.
    pub cuts: Vec<Vec<[f64; 3]>>,
    /// Worst stretch, as a fraction.
    pub worst: f64,
    /// Its pieces.
    pub pieces: Vec<Piece>,
}

/// A panel whose shape was taken, laid flat.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatView {
    /// The panel.
    pub panel: PanelId,
    /// Its name.
    pub title: String,
    /// How its shape was taken, in words.
    pub origin: String,
    /// Worst stretch, bound, mean: each explained.
    pub figures: Vec<Figure>,
    /// Vertices of the surface, mm.
    pub points: Vec<[f64; 3]>,
    /// Triangles of the surface and of the flat piece.
    pub triangles: Vec<[u32; 3]>,
    /// Vertices on the flat piece, mm, y down, seen from outside.
    pub flat: Vec<[f64; 2]>,
    /// Vertices as the panel is seen from outside, mm, y down.
    pub seen: Vec<[f64; 2]>,
    /// Greatest stretch at each vertex, as a fraction.
    pub stretch: Vec<f64>,
    /// The worst stretch of all, as a fraction.
    pub worst: f64,
    /// What no uncut piece can beat, as a fraction.
    pub bound: f64,
    /// Ways to cut it, the uncut one first, then by length of the cuts.
    pub plans: Vec<SeamPlan>,
    /// The way that was chosen.
    pub chosen: Option<SeamChoice>,
    /// What was done to the scan.
    pub said: Vec<String>,
    /// Something to mind, loudly.
    pub warnings: Vec<String>,
}

/// A panel whose shape was taken: laid flat, or why not.
#[derive(Clone, Debug)]
pub struct ShapeView {
    /// The panel.
    pub panel: PanelId,
    /// How its shape was taken, in words.
    pub origin: String,
    /// The flat piece, or what stands in the way.
    pub flat: Result<FlatView, Refusal>,
}

/// All panels of a job whose shapes were taken.
pub(crate) fn shapes(studio: &Studio, job: &Job, shop: &Shop) -> Vec<ShapeView> {
    job.shapes
        .iter()
        .map(|shape| {
            let flat = engine::flatten::flat(studio, shape, shop.settings.wrap);
            let flat = (*flat).clone().map(|flat| FlatView {
                chosen: job.seams.iter().find(|s| s.panel == shape.panel).cloned(),
                ..flat
            });
            ShapeView { panel: shape.panel.clone(), origin: engine::flatten::origin(&shape.taken), flat }
        })
        .collect()
}

impl Studio {
    /// The panels of a job whose shapes were taken, laid flat.
    ///
    /// # Errors
    /// When there is no such job.
    pub fn shapes_view(&self, id: &JobId) -> Result<Vec<ShapeView>, Refusal> {
        let entry = self.job(id)?;
        Ok(shapes(self, &entry.job, &*self.shop()?))
    }
}
