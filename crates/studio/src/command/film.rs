//! Outlines, cut plans and laid pieces.

use super::book::{known_panel, still_open};
use crate::compute::Results;
use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Before, Changes, Stamp, Studio, zone_of};
use body::Style;
use job::{
    CarEvent, CutPlacement, CutState, JobEvent, JobId, LaidPiece, LayoutWish, PanelId, Piece, ShopEvent,
};
use units::Length;

impl Studio {
    /// Takes in outlines from an SVG or DXF file for a panel, and mirrored for the panel on the other side where that is
    /// wanted; they take the place of planning outlines.
    ///
    /// # Errors
    /// When the panel is unknown, an outline is open or crosses itself, or a panel in the middle is to be mirrored.
    pub fn load_outlines(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        file: &str,
        text: &str,
        both_sides: bool,
    ) -> Result<u64, Refusal> {
        let mut pieces = engine::film::read_outlines(text, file, panel)?;
        if both_sides {
            let others = engine::film::mirrored(&pieces);
            if others.is_empty() {
                return Err(Refusal::invalid(
                    format!("{} has no partner on the other side", panel.title()),
                    "Load its outline for this panel alone.",
                ));
            }
            pieces.extend(others);
        }
        self.set_pieces(id, stamp, &pieces)
    }

    /// Chooses how pieces are laid out: offcuts, batches, roll. What was put by hand is laid out anew.
    ///
    /// # Errors
    /// When film is set aside or cut already, or the roll is not on the shelf.
    pub fn wish_layout(&self, id: &JobId, stamp: &Stamp, wish: &LayoutWish) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, shop, .. }| {
            still_free(job)?;
            if let Some(roll) = &wish.roll
                && !shop.rolls.iter().any(|r| r.id == *roll)
            {
                return Err(Refusal::not_found(format!("There is no roll {roll}"), "Choose another roll."));
            }
            let wish = LayoutWish { placements: Vec::new(), locked: Vec::new(), ..wish.clone() };
            Ok(JobEvent::LayoutWished { wish: Box::new(wish) }.into())
        })
    }

    /// Where a piece would come to lie that is dropped somewhere, after other pieces were moved: there, pulled up to its
    /// neighbors, or at the nearest free place. The last of `moves` is the piece that is dropped.
    ///
    /// # Errors
    /// When nothing near is free, with what is wrong; when film is set aside or cut already.
    pub fn try_place(&self, id: &JobId, moves: &[CutPlacement]) -> Result<CutPlacement, Refusal> {
        let (entry, shop) = (self.job(id)?, self.shop()?);
        still_free(&entry.job)?;
        let (mut placements, instance) = self.laid(id, &entry.job, &shop)?;
        let mut moved = None;
        for one in moves {
            let wanted = engine::film::to_place(one);
            let at = find(&mut placements, one)?;
            let mut others = placements.clone();
            others.remove(at);
            let placed = nest::place_near(&instance, &others, &wanted, SNAP, REACH).map_err(no_room)?;
            moved = Some(engine::film::to_cut(&placed));
            placements[at] = placed;
        }
        moved.ok_or_else(|| Refusal::invalid("No piece was moved", "Choose a piece."))
    }

    /// Puts pieces where a hand has put them and keeps the whole layout; `locked` stay when the rest is laid out again.
    ///
    /// # Errors
    /// When the layout is not sound then: says which pieces and by how much.
    pub fn place(
        &self,
        id: &JobId,
        stamp: &Stamp,
        moves: &[CutPlacement],
        locked: &[(String, u32)],
    ) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, shop, .. }| {
            still_free(job)?;
            let (mut placements, instance) = self.laid(id, job, shop)?;
            for one in moves {
                let at = find(&mut placements, one)?;
                placements[at] = engine::film::to_place(one);
            }
            let layout = nest::Layout::of(&instance, placements).map_err(no_room)?;
            layout.verify(&instance).map_err(no_room)?;
            let wish = LayoutWish {
                placements: layout.placements.iter().map(engine::film::to_cut).collect(),
                locked: locked.to_vec(),
                ..job.wish.clone()
            };
            Ok(JobEvent::LayoutWished { wish: Box::new(wish) }.into())
        })
    }

    /// Everything that lies where, complete, and the engine's job for it with nothing locked.
    fn laid(
        &self,
        id: &JobId,
        job: &job::Job,
        shop: &job::Shop,
    ) -> Result<(Vec<nest::Placement>, nest::Instance), Refusal> {
        let nothing = || {
            Refusal::not_yet("There is no complete layout to move pieces in", "Look at the film sheet again.")
        };
        let (_, laid) = engine::film::current(&self.results, id, job, shop).ok_or_else(nothing)?;
        let instance = nest::Instance { locked: Vec::new(), ..laid.instance };
        let wanted: usize = instance.pieces.iter().map(|p| p.count as usize).sum();
        if laid.placements.len() < wanted { Err(nothing()) } else { Ok((laid.placements, instance)) }
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
            changes.shop.extend(plan.further.into_iter().map(|r| ShopEvent::FilmReserved {
                job: id.clone(),
                roll: r.roll,
                length: r.length,
                offcuts: Vec::new(),
            }));
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
            changes.shop.extend(plan.further.iter().map(|r| ShopEvent::FilmCut {
                job: id.clone(),
                roll: r.roll.clone(),
                length: r.length,
                kept: Vec::new(),
            }));
            Ok(changes)
        })
    }

    /// Pieces were laid on panels: they go into the record with the batch of their roll or offcut.
    ///
    /// # Errors
    /// When no film was cut or set aside, or a panel has no piece in the plan.
    pub fn lay(&self, id: &JobId, stamp: &Stamp, panels: &[PanelId]) -> Result<u64, Refusal> {
        self.decide(id, stamp, |before| lay(&self.results, id, before, &stamp.by, panels))
    }
}

/// A dropped piece is pulled up to what is nearer than this.
const SNAP: Length = Length::mm(12.0);
/// A piece dropped on another goes to the nearest free place within this.
const REACH: Length = Length::mm(120.0);

/// Whether the layout may still be changed.
pub(crate) fn still_free(job: &job::Job) -> Result<(), Refusal> {
    still_open(job)?;
    match job.cut.as_ref().map(|c| c.state) {
        Some(CutState::Reserved) => Err(Refusal::not_yet(
            "This layout is accepted: film is set aside for it",
            "Undo the layout first, then change it.",
        )),
        Some(CutState::Cut) => {
            Err(Refusal::not_yet("The film is cut already", "Count the roll anew if that is wrong."))
        }
        _ => Ok(()),
    }
}

fn find(placements: &mut [nest::Placement], one: &CutPlacement) -> Result<usize, Refusal> {
    placements.iter().position(|p| p.piece == one.piece && p.copy == one.copy).ok_or_else(|| {
        Refusal::not_found(
            format!("There is no piece {} {} in the layout", one.piece, one.copy + 1),
            "Open the film sheet again.",
        )
    })
}

fn no_room(flaw: nest::Flaw) -> Refusal {
    Refusal::invalid(format!("It cannot lie there: {flaw}"), "Move it to a free place.")
}

/// Events for pieces laid on panels.
pub(crate) fn lay(
    results: &Results,
    id: &JobId,
    before: Before<'_>,
    by: &str,
    panels: &[PanelId],
) -> Result<Changes, Refusal> {
    let Before { job, shop, now, .. } = before;
    let Some(plan) = job.cut.as_ref().filter(|c| c.state != CutState::Undone) else {
        return Err(Refusal::not_yet(
            "No film was laid out for this job",
            "Accept a layout under film first.",
        ));
    };
    let all = engine::film::pieces(results, job, &job.order, shop);
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
            // an offcut that is cut up is gone from the shelf, but not from the plan
            let offcut = plan.offcuts.iter().chain(&shop.offcuts).find(|o| o.id == *container);
            let roll = plan.rolls().find(|r| r.roll == *container);
            laid.push(LaidPiece {
                piece: piece.id.clone(),
                panel: panel.clone(),
                roll: container.clone(),
                lot: offcut
                    .map(|o| o.lot.clone())
                    .or(roll.map(|r| r.lot))
                    .unwrap_or_else(|| plan.lot.clone()),
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
