//! Outlines, cut plans and laid pieces.

use super::book::{known_panel, still_open};
use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Before, Changes, Stamp, Studio, zone_of};
use body::Style;
use job::{CarEvent, CutState, JobEvent, JobId, LaidPiece, PanelId, Piece, ShopEvent};

impl Studio {
    /// Takes in outlines from an SVG file for a panel; they take the place of planning outlines.
    ///
    /// # Errors
    /// When the panel is unknown or an outline is open or crosses itself.
    pub fn load_outlines(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        file: &str,
        svg: &str,
    ) -> Result<u64, Refusal> {
        let pieces = engine::film::read_outlines(svg, file, panel)?;
        self.set_pieces(id, stamp, &pieces)
    }

    /// Takes in pieces.
    ///
    /// # Errors
    /// When a panel is unknown or an outline is none.
    pub fn set_pieces(&self, id: &JobId, stamp: &Stamp, pieces: &[Piece]) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            let style = Style::from_name(&job.car.body).unwrap_or(Style::Saloon);
            for piece in pieces {
                known_panel(style, &piece.panel)?;
                if engine::film::outline_of(piece).is_none() || piece.count == 0 {
                    return Err(Refusal::invalid(
                        "The outline is open, crosses itself or encloses nothing, or its count is 0",
                        "Mend the drawing and load it again.",
                    )
                    .at(piece.id.clone()));
                }
            }
            Ok(JobEvent::PiecesSet { pieces: pieces.to_vec() }.into())
        })
    }

    /// Accepts the layout as it would be cut now: film is set aside.
    ///
    /// # Errors
    /// When there is no complete layout, or film is cut already.
    pub fn accept_cut(&self, id: &JobId, stamp: &Stamp) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, shop, now, .. }| {
            still_open(job)?;
            if job.cut.as_ref().is_some_and(|c| c.state == CutState::Cut) {
                return Err(Refusal::not_yet(
                    "The film is cut already",
                    "Count the roll anew if that is wrong.",
                ));
            }
            let view = engine::film::film(self, id, job, &job.order, shop);
            let Some(mut plan) = view.plan else {
                let why = view.problem.unwrap_or_else(|| "The order has no film.".into());
                return Err(Refusal::new(crate::RefusalKind::Impossible, "There is no complete layout", why));
            };
            plan.at = now;
            let offcuts = view.drawings.iter().filter(|d| d.offcut).map(|d| d.container.clone()).collect();
            let mut changes = Changes::from(JobEvent::CutPlanned { plan: plan.clone() });
            if job.cut.as_ref().is_some_and(|c| c.state == CutState::Reserved) {
                changes.shop.push(ShopEvent::FilmReleased { job: id.clone() });
            }
            changes.shop.push(ShopEvent::FilmReserved {
                job: id.clone(),
                roll: plan.roll,
                length: plan.length,
                offcuts,
            });
            Ok(changes)
        })
    }

    /// Undoes an accepted layout before cutting.
    ///
    /// # Errors
    /// When nothing is set aside.
    pub fn undo_cut(&self, id: &JobId, stamp: &Stamp) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, now, .. }| match &job.cut {
            Some(cut) if cut.state == CutState::Reserved => {
                let mut changes = Changes::from(JobEvent::CutUndone { at: now });
                changes.shop.push(ShopEvent::FilmReleased { job: id.clone() });
                Ok(changes)
            }
            Some(cut) if cut.state == CutState::Cut => {
                Err(Refusal::not_yet("The film is cut", "What is cut stays cut: count the roll anew."))
            }
            _ => Err(Refusal::not_yet("No film is set aside for this job", "")),
        })
    }

    /// The film was cut: the roll gets shorter, useful rests go on the shelf.
    ///
    /// # Errors
    /// When nothing is set aside, or pieces are only planning outlines.
    pub fn cut(&self, id: &JobId, stamp: &Stamp, planning_too: bool) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, shop, now, .. }| {
            let Some(plan) = job.cut.as_ref().filter(|c| c.state == CutState::Reserved) else {
                return Err(Refusal::not_yet("No film is set aside for this job", "Accept a layout first."));
            };
            let view = engine::film::film(self, id, job, &job.order, shop);
            if !planning_too && view.pieces.iter().any(|p| p.planning_only) {
                return Err(Refusal::not_yet(
                    "Some outlines are only planning outlines from the body drawing: they do not fit a car",
                    "Load measured outlines for them, or confirm that the film was cut by other outlines.",
                ));
            }
            let film = shop.rolls.iter().find(|r| r.id == plan.roll).map_or("", |r| r.film.as_str());
            let today = now.to_zoned_datetime(zone_of(shop)).date();
            let kept = engine::film::offcuts_of(&view, plan, film, id, today);
            let mut changes = Changes::from(JobEvent::CutDone { at: now });
            changes.shop.push(ShopEvent::FilmCut {
                job: id.clone(),
                roll: plan.roll.clone(),
                length: plan.length,
                kept,
            });
            Ok(changes)
        })
    }

    /// Pieces were laid on panels: they go into the record with the batch of their roll or offcut.
    ///
    /// # Errors
    /// When no film was cut or set aside, or a panel has no piece in the plan.
    pub fn lay(&self, id: &JobId, stamp: &Stamp, panels: &[PanelId]) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, shop, now, .. }| lay(id, job, shop, now, &stamp.by, panels))
    }
}

/// Events for pieces laid on panels.
pub(crate) fn lay(
    id: &JobId,
    job: &job::Job,
    shop: &job::Shop,
    now: jiff::Timestamp,
    by: &str,
    panels: &[PanelId],
) -> Result<Changes, Refusal> {
    let Some(plan) = job.cut.as_ref().filter(|c| c.state != CutState::Undone) else {
        return Err(Refusal::not_yet(
            "No film was laid out for this job",
            "Accept a layout under film first.",
        ));
    };
    let all = engine::film::pieces(job, &job.order, shop);
    let mut changes = Changes::default();
    let mut laid = Vec::new();
    for panel in panels {
        let pieces: Vec<_> = all.iter().filter(|p| p.panel == *panel).collect();
        if pieces.is_empty() {
            return Err(Refusal::invalid(
                format!("{} has no piece in the plan", panel.title()),
                "Choose a panel with film.",
            ));
        }
        for piece in pieces.into_iter().filter(|p| !job.laid.iter().any(|l| l.piece == p.id)) {
            let container =
                plan.placements.iter().find(|p| p.piece == piece.id).map_or(&plan.roll, |p| &p.container);
            let offcut = shop.offcuts.iter().find(|o| o.id == *container);
            laid.push(LaidPiece {
                piece: piece.id.clone(),
                panel: panel.clone(),
                roll: container.clone(),
                lot: offcut.map_or_else(|| plan.lot.clone(), |o| o.lot.clone()),
                at: now,
                by: by.to_owned(),
            });
        }
    }
    changes.car.extend(laid.iter().map(|piece| CarEvent::FilmLaid { job: id.clone(), piece: piece.clone() }));
    if !laid.is_empty() {
        changes.job.push(JobEvent::Laid { pieces: laid });
    }
    Ok(changes)
}
