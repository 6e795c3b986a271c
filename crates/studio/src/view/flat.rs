//! Panels laid flat: the stretch that a piece takes, and the ways to cut it.

use crate::engine;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use flatten::heat;
use flatten::region::Places;
use job::{CutZone, Job, JobId, PanelId, PanelShape, SeamChoice, SeamPlanFound, Shop};
use units::{Area, Length};

/// A way to cut the film of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct SeamPlan {
    /// Its name: `uncut`, or what it cuts.
    pub name: String,
    /// Its name for reading.
    pub title: String,
    /// Length of the cuts.
    pub length: Length,
    /// The part of it in sight.
    pub in_sight: Length,
    /// The cuts, as lines over the panel, mm.
    pub cuts: Vec<Vec<[f64; 3]>>,
    /// Worst stretch, as a fraction.
    pub worst: f64,
    /// Areas of its pieces, without allowances.
    pub areas: Vec<Area>,
    /// Whether it can be cut: no piece lies over itself.
    pub possible: bool,
}

impl SeamPlan {
    fn of(found: &SeamPlanFound) -> Self {
        Self {
            name: found.name.clone(),
            title: engine::flatten::title(found),
            length: found.length,
            in_sight: found.in_sight,
            cuts: found.cuts_mm.clone(),
            worst: found.worst_percent / 100.0,
            areas: found.areas.clone(),
            possible: true,
        }
    }
}

/// The ways to cut the film of a panel that are on record, by rising length in sight: what each shows, what it leaves, and
/// its pieces. Empty until they were searched or drawn.
pub fn seam_plans(job: &Job, panel: &PanelId) -> Vec<SeamPlan> {
    let cuts = job.cuts.iter().find(|c| c.panel == *panel);
    let mut plans: Vec<SeamPlan> = cuts.iter().flat_map(|c| &c.plans).map(SeamPlan::of).collect();
    plans.sort_by(|a, b| a.in_sight.total_cmp(&b.in_sight).then(b.worst.total_cmp(&a.worst)));
    plans
}

/// The pieces of a plan side by side, with their stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct LaidView {
    /// Vertices of all pieces, mm, y down.
    pub flat: Vec<[f64; 2]>,
    /// Triangles of all pieces.
    pub triangles: Vec<[u32; 3]>,
    /// Greatest stretch at each vertex, as a fraction.
    pub stretch: Vec<f64>,
    /// The worst stretch of all, as a fraction.
    pub worst: f64,
    /// Outlines with their allowances, and cut-outs.
    pub outlines: Vec<Vec<[f64; 2]>>,
    /// The cuts on the view of the panel from outside, mm, y down.
    pub cuts_seen: Vec<Vec<[f64; 2]>>,
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
    /// The outline of the uncut piece with its allowance, mm, y down; none where it lies over itself.
    pub outlines: Vec<Vec<[f64; 2]>>,
    /// Ways to cut it, the uncut one first, then by length of the cuts in sight.
    pub plans: Vec<SeamPlan>,
    /// Zones where cuts are not free.
    pub zones: Vec<CutZone>,
    /// The way that was chosen.
    pub chosen: Option<SeamChoice>,
    /// The pieces of the way that was chosen, where it cuts.
    pub laid: Option<LaidView>,
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
            let flat = (*flat).clone().map(|flat| with_cuts(studio, job, shape, shop, flat));
            ShapeView { panel: shape.panel.clone(), origin: engine::flatten::origin(&shape.taken), flat }
        })
        .collect()
}

/// What is on record about cuts, and the pieces of the chosen way.
fn with_cuts(studio: &Studio, job: &Job, shape: &PanelShape, shop: &Shop, mut flat: FlatView) -> FlatView {
    let cuts = job.cuts.iter().find(|c| c.panel == shape.panel);
    flat.zones = cuts.map(|c| c.zones.clone()).unwrap_or_default();
    let on_record = seam_plans(job, &shape.panel);
    flat.plans.extend(on_record.into_iter().filter(|p| p.name != engine::flatten::UNCUT));
    flat.chosen = job.seams.iter().find(|s| s.panel == shape.panel).cloned();
    let way = flat.chosen.as_ref().and_then(|c| engine::flatten::way(&c.plan, &c.cuts_mm));
    if let Some(way) = way.filter(|w| *w != engine::flatten::Way::Uncut)
        && let Ok(laid) = &*engine::flatten::pieces(studio, shape, &way, shop.settings.wrap)
    {
        let lines = flat.chosen.as_ref().map(|c| c.cuts_mm.clone()).unwrap_or_default();
        flat.laid = Some(side_by_side(laid, &flat, &lines));
    }
    flat
}

/// From one piece to the next on the drawing, mm.
const BETWEEN: f64 = 40.0;

fn side_by_side(laid: &engine::flatten::Laid, whole: &FlatView, lines: &[Vec<[f64; 3]>]) -> LaidView {
    let mut view = LaidView {
        flat: Vec::new(),
        triangles: Vec::new(),
        stretch: Vec::new(),
        worst: laid.flattenings.iter().map(|f| f.worst).fold(0.0, f64::max),
        outlines: Vec::new(),
        cuts_seen: Vec::new(),
    };
    let mut right = 0.0;
    for (piece, (outline, holes)) in laid.flattenings.iter().zip(&laid.outlines) {
        let ends = |k: fn(f64, f64) -> f64, from| outline.iter().map(|p| p[0]).fold(from, k);
        let shift = right - ends(f64::min, f64::INFINITY);
        right = ends(f64::max, f64::NEG_INFINITY) + shift + BETWEEN;
        let from = view.flat.len() as u32;
        view.flat.extend(piece.flat.iter().map(|[x, y]| [x + shift, -y]));
        view.triangles.extend(piece.surface.triangles.iter().map(|t| t.map(|v| v + from)));
        view.stretch.extend(heat::at_vertices(piece));
        let moved = |ring: &Vec<[f64; 2]>| ring.iter().map(|p| [p[0] + shift, p[1]]).collect();
        view.outlines.extend(std::iter::once(outline).chain(holes).map(moved));
    }
    view.cuts_seen = seen_lines(whole, lines);
    view
}

/// Lines over the panel as they are seen from outside, mm, y down.
pub fn seen_lines(flat: &FlatView, lines: &[Vec<[f64; 3]>]) -> Vec<Vec<[f64; 2]>> {
    if lines.is_empty() {
        return Vec::new();
    }
    let surface = flatten::Mesh { vertices: flat.points.clone(), triangles: flat.triangles.clone() };
    let places = Places::of(&surface);
    let seen = |p: &[f64; 3]| {
        let placed = places.nearest(*p)?;
        let [a, b, c] = flat.triangles[placed.triangle as usize].map(|v| flat.seen[v as usize]);
        Some(placed.among([a, b, c]))
    };
    lines.iter().map(|line| line.iter().filter_map(seen).collect()).collect()
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
