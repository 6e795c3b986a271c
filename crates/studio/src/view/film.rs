//! Film: pieces, the layout on the roll, what it takes.

use crate::engine;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use job::{CutPlan, JobId, PanelId};
use units::{Area, Length};

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
    /// Rests worth keeping: x, y, length, width, in mm.
    pub rests_mm: Vec<[f64; 4]>,
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
}

impl Studio {
    /// The film sheet of a job under its order as it stands.
    ///
    /// # Errors
    /// When there is no such job.
    pub fn film_view(&self, id: &JobId) -> Result<FilmView, Refusal> {
        let entry = self.job(id)?;
        Ok(engine::film::film(self, id, &entry.job, &entry.job.order, &*self.shop()?))
    }
}
