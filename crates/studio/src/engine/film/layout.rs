//! From the shelf and the wishes of a job to an instance of the nesting engine, and back.

use super::{narrowest, outline_of};
use crate::compute::Results;
use effort::Effort;
use job::{CutPlacement, Grain, Job, JobId, LayoutWish, Offcut, OneLot, Piece, Roll, Shop};
use nest::{Config, Container, ContainerKind, Instance, Outcome, Placement, Rotations};
use plane::{Outline, Point, Pose};
use serde::Serialize;
use std::sync::Arc;
use units::{Area, Length};

/// Steps of work that a layout may take: about a second.
const EFFORT: u64 = 250_000;
/// Kept free along the edge of an offcut, which was cut by hand.
const OFFCUT_MARGIN: Length = Length::mm(2.0);
/// A roll that is to hold everything has so much more film than the pieces cover.
const WASTE: f64 = 1.45;

/// Everything that a layout depends on.
#[derive(Clone, Debug, Serialize)]
pub struct Layout {
    pub(super) pieces: Vec<Piece>,
    /// The roll to cut from; further ones where it does not hold everything.
    pub(super) rolls: Vec<Roll>,
    pub(super) offcuts: Vec<Offcut>,
    pub(super) gap: Length,
    pub(super) one_lot: OneLot,
    pub(super) locked: Vec<CutPlacement>,
}

/// A layout ready for the engine, with what lies where.
pub struct Laid {
    /// The job of the engine.
    pub instance: Instance,
    /// Where everything lies.
    pub placements: Vec<Placement>,
}

impl Layout {
    /// The shelf as it is for this job: film set aside for it counts as free.
    pub fn on_shelf(id: &JobId, pieces: Vec<Piece>, shop: &Shop, wish: &LayoutWish) -> Self {
        let needs = Needs::of(&pieces);
        Self::for_needs(id, pieces, needs, shop, wish)
    }

    /// The same when the needs of the pieces are known.
    pub(super) fn for_needs(
        id: &JobId,
        pieces: Vec<Piece>,
        needs: Needs,
        shop: &Shop,
        wish: &LayoutWish,
    ) -> Self {
        let mut offcuts: Vec<Offcut> =
            shop.offcuts.iter().filter(|o| o.reserved.as_ref().is_none_or(|j| j == id)).cloned().collect();
        // whoever has it is not what a layout depends on
        offcuts.iter_mut().for_each(|o| o.reserved = None);
        if wish.no_offcuts {
            offcuts.clear();
        }
        let rolls = pick_rolls(rolls(id, shop), needs, wish.roll.as_deref());
        let there = |p: &&CutPlacement| {
            let locked = wish.locked.iter().any(|(piece, copy)| *piece == p.piece && *copy == p.copy);
            let piece = pieces.iter().any(|q| q.id == p.piece && p.copy < q.count);
            let on = rolls.iter().any(|r| r.id == p.container) || offcuts.iter().any(|o| o.id == p.container);
            locked && piece && on
        };
        let locked = wish.placements.iter().filter(there).cloned().collect();
        Self { pieces, rolls, offcuts, gap: shop.settings.gap, one_lot: wish.one_lot, locked }
    }

    /// The engine's job; none where a piece has no outline or there is no roll.
    pub fn instance(&self) -> Option<Instance> {
        let roll = self.rolls.first()?;
        let pieces: Option<Vec<nest::Piece>> = self.pieces.iter().map(|p| self.piece(p, roll)).collect();
        let mut containers: Vec<Container> = self.offcuts.iter().filter_map(offcut_of).collect();
        containers.extend(self.rolls.iter().map(roll_of));
        let locked = self.locked.iter().map(to_place).collect();
        Some(Instance { pieces: pieces?, containers, gap: self.gap, locked })
    }

    fn piece(&self, piece: &Piece, roll: &Roll) -> Option<nest::Piece> {
        let side = ["left_", "right_"].into_iter().find(|s| piece.panel.as_str().starts_with(s));
        let together = match self.one_lot {
            OneLot::No => None,
            OneLot::Sides => side.map(str::to_owned),
            OneLot::All => Some("all".to_owned()),
        };
        let rotations = match roll.grain {
            Grain::None => Rotations::Free,
            Grain::Both => Rotations::Steps(vec![0.0, 180.0]),
            Grain::One => Rotations::Steps(vec![0.0]),
        };
        // film has a sticky side: a piece is never turned over
        Some(nest::Piece {
            id: piece.id.clone(),
            outline: outline_of(piece)?,
            count: piece.count,
            rotations,
            mirrorable: false,
            together,
            priority: 0,
        })
    }

    /// The outcome of a search of about a second; computed once.
    pub(super) fn outcome(&self, results: &Results) -> Option<Arc<Outcome>> {
        let instance = self.instance()?;
        let work = || nest::nest(&instance, &Config::default(), &Effort::steps(EFFORT));
        Some(results.get(RESULT, self, work))
    }

    /// The same where it is known already.
    pub(super) fn known(&self, results: &Results) -> Option<Arc<Outcome>> {
        results.peek(RESULT, self)
    }
}

/// Name under which outcomes are kept.
const RESULT: &str = "nest";

fn rolls(id: &JobId, shop: &Shop) -> Vec<Roll> {
    let mut rolls: Vec<Roll> = shop.rolls.clone();
    for roll in &mut rolls {
        roll.reserved_mm.remove(id);
        roll.left = roll.free();
        roll.reserved_mm.clear();
    }
    rolls.retain(|r| r.left > r.margin * 2.0);
    rolls
}

/// The roll that was asked for, else the oldest that can hold everything, else the one that holds most; and after it, as
/// long as they do not hold everything, further rolls of the same film, the oldest first.
fn pick_rolls(mut rolls: Vec<Roll>, needs: Needs, wanted: Option<&str>) -> Vec<Roll> {
    let Needs { area: need, wide } = needs;
    let fits = |r: &Roll| r.width - r.margin * 2.0 >= wide;
    rolls.sort_by(|a, b| (!fits(a)).cmp(&!fits(b)).then(a.since.cmp(&b.since)).then(a.id.cmp(&b.id)));
    let holds = |r: &&Roll| fits(r) && r.left * r.width >= need * WASTE;
    let most = || rolls.iter().filter(|r| fits(r)).max_by(|a, b| a.left.total_cmp(&b.left));
    let asked = rolls.iter().find(|r| Some(r.id.as_str()) == wanted);
    let first = asked.or_else(|| rolls.iter().find(holds)).or_else(most).or_else(|| rolls.first());
    let Some(first) = first.cloned() else { return Vec::new() };
    let alike = |r: &&Roll| r.id != first.id && r.film == first.film && r.grain == first.grain && fits(r);
    let mut held = first.left * first.width;
    let further = rolls.iter().filter(alike).take_while(|r| {
        let short = held < need * WASTE;
        held += r.left * r.width;
        short
    });
    let further: Vec<Roll> = further.cloned().collect();
    std::iter::once(first).chain(further).collect()
}

/// What pieces need of a roll.
#[derive(Clone, Copy)]
pub(super) struct Needs {
    /// Their area in all.
    area: Area,
    /// Least width of the piece that needs most.
    pub(super) wide: Length,
}

impl Needs {
    pub(super) fn of(pieces: &[Piece]) -> Self {
        let mut needs = Self { area: Area::ZERO, wide: Length::ZERO };
        for (piece, outline) in pieces.iter().filter_map(|p| Some((p, outline_of(p)?))) {
            needs.area += outline.area() * f64::from(piece.count);
            needs.wide = needs.wide.max(narrowest(&outline));
        }
        needs
    }
}

pub(super) fn roll_of(roll: &Roll) -> Container {
    Container {
        id: roll.id.clone(),
        kind: ContainerKind::Roll {
            width: roll.width,
            length_left: roll.left,
            margin: roll.margin,
            bad_spots: spots(&roll.bad_spots_mm),
        },
    }
}

/// An offcut for the engine; one whose outline is none is left out.
pub(super) fn offcut_of(offcut: &Offcut) -> Option<Container> {
    let outline = if offcut.outline_mm.is_empty() {
        Outline::rectangle(offcut.length, offcut.width).ok()?
    } else {
        Outline::new(offcut.outline_mm.iter().map(|p| Point::from(*p)).collect()).ok()?
    };
    let value = outline.area().as_m2();
    let bad_spots = spots(&offcut.bad_spots_mm);
    let kind = ContainerKind::Offcut { outline, bad_spots, margin: OFFCUT_MARGIN, value };
    Some(Container { id: offcut.id.clone(), kind })
}

fn spots(spots_mm: &[[f64; 4]]) -> Vec<Outline> {
    let corners = |[x, y, l, w]: &[f64; 4]| {
        vec![Point::mm(*x, *y), Point::mm(x + l, *y), Point::mm(x + l, y + w), Point::mm(*x, y + w)]
    };
    spots_mm.iter().filter_map(|s| Outline::new(corners(s)).ok()).collect()
}

/// A stored placement for the engine.
pub fn to_place(p: &CutPlacement) -> Placement {
    let pose =
        Pose { x: Length::mm(p.x_mm), y: Length::mm(p.y_mm), degrees: p.degrees, mirrored: p.mirrored };
    Placement { piece: p.piece.clone(), copy: p.copy, container: p.container.clone(), pose }
}

/// A placement of the engine as it is stored.
pub fn to_cut(p: &Placement) -> CutPlacement {
    CutPlacement {
        piece: p.piece.clone(),
        copy: p.copy,
        container: p.container.clone(),
        x_mm: p.pose.x.as_mm(),
        y_mm: p.pose.y.as_mm(),
        degrees: p.pose.degrees,
        mirrored: p.pose.mirrored,
    }
}

/// What lies where under a job's wish: as it was put, or as the program finds it. None where nothing can be laid out.
pub fn current(results: &Results, id: &JobId, job: &Job, shop: &Shop) -> Option<(Layout, Laid)> {
    let pieces = super::pieces(results, job, &job.order, shop);
    let layout = Layout::on_shelf(id, pieces, shop, &job.wish);
    let instance = layout.instance()?;
    let put: Vec<Placement> = job.wish.placements.iter().map(to_place).collect();
    if is_whole(&instance, &put) {
        return Some((layout, Laid { instance, placements: put }));
    }
    let outcome = layout.outcome(results)?;
    let placements = outcome.layout.placements.clone();
    Some((layout, Laid { instance, placements }))
}

/// Whether placements are a complete layout that passes the check.
pub(super) fn is_whole(instance: &Instance, placements: &[Placement]) -> bool {
    !placements.is_empty()
        && nest::Layout::of(instance, placements.to_vec()).is_ok_and(|l| l.verify(instance).is_ok())
}
