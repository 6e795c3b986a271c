//! Film: pieces, the layout on the roll, what it takes.

use crate::engine;
use crate::engine::film::CutFormat;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use crate::view::ShapeView;
use job::{CutPlacement, CutPlan, JobId, LayoutWish, PanelId};
use units::{Area, Length, Money};

/// A piece in the list.
#[derive(Clone, Debug)]
pub struct PieceRow {
    /// Number on the drawing, from 1.
    pub number: usize,
    /// Its id.
    pub id: String,
    /// Its name.
    pub title: String,
    /// Its panel.
    pub panel: PanelId,
    /// How many.
    pub count: u32,
    /// Area of one.
    pub area: Area,
    /// Size of its box.
    pub size: (Length, Length),
    /// Only good for planning film: drawn from the body drawing.
    pub planning_only: bool,
    /// Where its outline came from.
    pub origin: String,
}

/// A piece as it lies on a roll or offcut, in mm along and across it.
#[derive(Clone, Debug)]
pub struct CutPiece {
    /// Number in the list.
    pub number: usize,
    /// Its name.
    pub title: String,
    /// Corners.
    pub corners_mm: Vec<(f64, f64)>,
    /// Which copy of which piece, and how its outline came here.
    pub at: CutPlacement,
}

/// What is left over and goes on the shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct CutRest {
    /// Its corners, in mm.
    pub corners_mm: Vec<(f64, f64)>,
    /// The largest rectangle in it: x, y, length, width, in mm.
    pub rectangle_mm: [f64; 4],
}

impl CutRest {
    /// Whether it is more than its rectangle.
    pub fn is_odd(&self) -> bool {
        let [x, y, length, width] = self.rectangle_mm;
        let inside = |p: &(f64, f64)| {
            (x - 0.5..=x + length + 0.5).contains(&p.0) && (y - 0.5..=y + width + 0.5).contains(&p.1)
        };
        !self.corners_mm.iter().all(inside)
    }

    /// The box around it: x, y, length, width, in mm.
    pub fn around_mm(&self) -> [f64; 4] {
        let low = self.corners_mm.iter().fold([f64::INFINITY; 2], |m, p| [m[0].min(p.0), m[1].min(p.1)]);
        let high = self.corners_mm.iter().fold([f64::NEG_INFINITY; 2], |m, p| [m[0].max(p.0), m[1].max(p.1)]);
        [low[0], low[1], high[0] - low[0], high[1] - low[1]]
    }
}

/// One roll or offcut with what lies on it.
#[derive(Clone, Debug)]
pub struct CutDrawing {
    /// Roll or offcut.
    pub container: String,
    /// Whether it is an offcut.
    pub offcut: bool,
    /// Width.
    pub width: Length,
    /// Length there is.
    pub there: Length,
    /// Length used.
    pub used: Length,
    /// Pieces.
    pub pieces: Vec<CutPiece>,
    /// Rests worth keeping.
    pub rests: Vec<CutRest>,
    /// Corners of an offcut that is no rectangle.
    pub outline_mm: Vec<(f64, f64)>,
    /// Places that cannot be used: x, y, length, width, in mm.
    pub bad_mm: Vec<[f64; 4]>,
}

/// Where a layout comes from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LayoutSource {
    /// The program laid it out just now.
    #[default]
    Computed,
    /// A longer search or a hand put it there.
    Kept,
    /// It was accepted: film is set aside.
    Accepted,
    /// It was cut.
    Cut,
}

/// What one way of laying out costs in film.
#[derive(Clone, Debug, Default)]
pub struct FilmChoice {
    /// What it is.
    pub title: String,
    /// The wish that asks for it.
    pub wish: LayoutWish,
    /// Whether it is what is wished for now.
    pub chosen: bool,
    /// Whether it has been searched.
    pub known: bool,
    /// Whether everything fits.
    pub complete: bool,
    /// The roll.
    pub roll: String,
    /// Length taken from it.
    pub length: Length,
    /// Film taken from it.
    pub film: Area,
    /// What that film costs.
    pub cost: Option<Money>,
    /// Offcuts used.
    pub offcuts: usize,
}

/// The film sheet.
#[derive(Clone, Debug, Default)]
pub struct FilmView {
    /// Pieces that the order needs.
    pub pieces: Vec<PieceRow>,
    /// The layout, roll last; empty when nothing needs film or nothing fits.
    pub drawings: Vec<CutDrawing>,
    /// The cut plan that would be accepted now; none when nothing fits.
    pub plan: Option<CutPlan>,
    /// Used length, covered share, smallest gap: each explained.
    pub figures: Vec<Figure>,
    /// Why there is no layout: which piece, which roll, what to do.
    pub problem: Option<String>,
    /// Something to mind, loudly: planning outlines are not for cutting.
    pub warnings: Vec<String>,
    /// Something to know.
    pub notes: Vec<String>,
    /// Where the layout comes from.
    pub source: LayoutSource,
    /// How it was wished for; plain once it is accepted.
    pub wish: LayoutWish,
    /// Panels whose shapes were taken, laid flat.
    pub shapes: Vec<ShapeView>,
}

impl Studio {
    /// The film sheet of a job under its order as it stands.
    ///
    /// # Errors
    /// When there is no such job.
    pub fn film_view(&self, id: &JobId) -> Result<FilmView, Refusal> {
        let entry = self.job(id)?;
        let shop = self.shop()?;
        let view = engine::film::film(self, id, &entry.job, &entry.job.order, &shop);
        Ok(FilmView { shapes: super::shapes(self, &entry.job, &shop), ..view })
    }

    /// What each way of laying out would cost in film, as far as it has been searched.
    ///
    /// # Errors
    /// When there is no such job.
    pub fn film_choices(&self, id: &JobId) -> Result<Vec<FilmChoice>, Refusal> {
        let (entry, shop) = (self.job(id)?, self.shop()?);
        let pieces = engine::film::pieces(&self.results, &entry.job, &entry.job.order, &shop);
        Ok(engine::film::choices(self, id, &pieces, &shop, &entry.job.wish, &|_, _| false))
    }

    /// The cut file of one roll or offcut, counted from 1 in the order of the view.
    ///
    /// # Errors
    /// When there is no layout, or none of that number.
    pub fn cut_file(&self, id: &JobId, number: usize, format: CutFormat) -> Result<String, Refusal> {
        let (entry, shop) = (self.job(id)?, self.shop()?);
        let view = engine::film::film(self, id, &entry.job, &entry.job.order, &shop);
        if view.drawings.is_empty() {
            let why = view.problem.unwrap_or_else(|| "The order has no film.".to_owned());
            return Err(Refusal::not_yet("There is no layout to cut", why));
        }
        let pieces = engine::film::pieces(&self.results, &entry.job, &entry.job.order, &shop);
        let settings = &shop.settings;
        number
            .checked_sub(1)
            .and_then(|i| view.drawings.get(i))
            .and_then(|d| engine::film::cut_file(&view, d, &pieces, settings.gap, &settings.cutter, format))
            .ok_or_else(|| {
                Refusal::not_found(format!("There is no cut file {number}"), "Open the film sheet again.")
            })
    }
}
