//! From a layout to what is shown of it: pieces on rolls and offcuts, figures, rests, what each choice costs.

use super::layout::{Layout, Needs, is_whole, offcut_of, roll_of, to_cut, to_place};
use super::{area_of, outline_of, round};
use crate::figure::Figure;
use crate::studio::Studio;
use crate::view::{CutDrawing, CutPiece, CutRest, FilmChoice, FilmView, LayoutSource, PieceRow};
use job::{
    CutPlacement, CutPlan, CutState, LayoutWish, Offcut, OneLot, Piece, Roll, RollCut, Shop, ShopSettings,
};
use nest::{Container, ContainerKind, Instance, Outcome, Placement, Reason, RemainderRule};
use units::{Area, Length, Money};

/// The layout as it was accepted or cut.
pub(super) fn accepted(plan: &CutPlan, pieces: &[Piece], shop: &Shop) -> FilmView {
    let mut view = begun(pieces);
    let cut = plan.state == CutState::Cut;
    view.source = if cut { LayoutSource::Cut } else { LayoutSource::Accepted };
    let then = |taken: RollCut| {
        let known = shop.rolls.iter().find(|r| r.id == taken.roll);
        let left = known.map_or(taken.length, |r| if cut { r.left + taken.length } else { r.left });
        Roll {
            id: taken.roll,
            lot: taken.lot,
            width: taken.width,
            left: left.max(taken.length),
            margin: known.map_or(Length::ZERO, |r| r.margin),
            // of a roll that is cut, what was there is gone with the film
            bad_spots_mm: known.filter(|_| !cut).map_or_else(Vec::new, |r| r.bad_spots_mm.clone()),
            grain: known.map_or_else(Default::default, |r| r.grain),
            ..Roll::default()
        }
    };
    let on = |id: &str| plan.placements.iter().any(|p| p.container == id);
    let mut offcuts = plan.offcuts.clone();
    // plans of older programs do not hold their offcuts
    let missing = |o: &&Offcut| on(&o.id) && !plan.offcuts.iter().any(|q| q.id == o.id);
    offcuts.extend(shop.offcuts.iter().filter(missing).cloned());
    let layout = Layout {
        pieces: pieces.to_vec(),
        rolls: plan.rolls().map(then).collect(),
        offcuts,
        gap: shop.settings.gap,
        one_lot: OneLot::No,
        locked: Vec::new(),
    };
    view.plan = Some(plan.clone());
    let Some(mut instance) = layout.instance() else { return view };
    let placements: Vec<Placement> = plan
        .placements
        .iter()
        .map(to_place)
        .filter(|p| instance.pieces.iter().any(|q| q.id == p.piece))
        .filter(|p| instance.containers.iter().any(|c| c.id == p.container))
        .collect();
    // the gap may have been another one then
    instance.gap = Length::ZERO;
    let sound = nest::Layout::of(&instance, placements.clone());
    let complete = sound.as_ref().is_ok_and(|l| l.verify(&instance).is_ok());
    if !complete && !cut {
        view.warnings.push(
            "Outlines or film have changed since this layout was accepted: undo it, then accept it anew."
                .into(),
        );
    }
    let drawn = sound.unwrap_or_else(|_| nest::Layout { placements, ..nest::Layout::default() });
    instance.gap = shop.settings.gap;
    let rests = kept_rests(&instance, &drawn, &shop.settings);
    view.drawings = drawings(&layout, &drawn, &rests, &view.pieces, Some(plan));
    view.figures = figures(plan, &drawn, &layout);
    view
}

/// The layout that would be accepted now: as somebody put it, or as the program finds it.
pub(super) fn proposed(studio: &Studio, layout: &Layout, wish: &LayoutWish, shop: &Shop) -> FilmView {
    let mut view = begun(&layout.pieces);
    view.wish = wish.clone();
    if layout.rolls.is_empty() {
        view.problem =
            Some("There is no roll with film left. Receive a roll under stock, then lay out again.".into());
        return view;
    }
    let Some(instance) = layout.instance() else {
        view.problem = Some("A piece has no proper outline. Load its outline again.".into());
        return view;
    };
    let put: Vec<Placement> = wish.placements.iter().map(to_place).collect();
    let whole = is_whole(&instance, &put);
    let drawn = if whole {
        view.source = LayoutSource::Kept;
        nest::Layout::of(&instance, put).unwrap_or_default()
    } else {
        if !put.is_empty() {
            view.notes.push(
                "The layout that was kept here no longer fits the pieces or the shelf: this one is laid out anew."
                    .into(),
            );
        }
        let Some(outcome) = layout.outcome(&studio.results) else { return view };
        if !outcome.is_complete() {
            view.problem = Some(problem(&outcome, &layout.rolls));
        }
        outcome.layout.clone()
    };
    let rests = kept_rests(&instance, &drawn, &shop.settings);
    view.drawings = drawings(layout, &drawn, &rests, &view.pieces, None);
    if view.problem.is_none()
        && let Some(plan) = plan(layout, &drawn)
    {
        view.figures = figures(&plan, &drawn, layout);
        view.plan = Some(plan);
    }
    view
}

/// What each choice costs in film. A choice that was not searched yet has no answer, unless `search`.
pub(crate) fn choices(
    studio: &Studio,
    id: &job::JobId,
    pieces: &[Piece],
    shop: &Shop,
    wish: &LayoutWish,
    search: &dyn Fn(usize, usize) -> bool,
) -> Vec<FilmChoice> {
    let bare = LayoutWish { placements: Vec::new(), locked: Vec::new(), ..wish.clone() };
    let mut wishes: Vec<(String, LayoutWish)> = vec![
        ("Offcuts first".into(), LayoutWish { no_offcuts: false, one_lot: OneLot::No, ..bare.clone() }),
        ("From the roll alone".into(), LayoutWish { no_offcuts: true, one_lot: OneLot::No, ..bare.clone() }),
        (
            "Offcuts first, each side from one batch".into(),
            LayoutWish { no_offcuts: false, one_lot: OneLot::Sides, ..bare.clone() },
        ),
    ];
    let needs = Needs::of(pieces);
    let wide = needs.wide;
    let own =
        Layout::for_needs(id, pieces.to_vec(), needs, shop, &bare).rolls.into_iter().next().map(|r| r.id);
    let others = shop.rolls.iter().filter(|r| {
        r.width - r.margin * 2.0 >= wide && r.free() > r.margin * 2.0 && Some(&r.id) != own.as_ref()
    });
    for roll in others.take(3) {
        let other = LayoutWish {
            roll: Some(roll.id.clone()),
            no_offcuts: false,
            one_lot: OneLot::No,
            ..bare.clone()
        };
        wishes.push((format!("Offcuts first, then roll {}", roll.id), other));
    }
    let count = wishes.len();
    wishes
        .into_iter()
        .enumerate()
        .map(|(i, (title, wish))| {
            let layout = Layout::for_needs(id, pieces.to_vec(), needs, shop, &wish);
            let outcome = if search(i, count) {
                layout.outcome(&studio.results)
            } else {
                layout.known(&studio.results)
            };
            let chosen = wish == bare;
            let Some(outcome) = outcome else {
                return FilmChoice { title, wish, chosen, ..FilmChoice::default() };
            };
            let used: Vec<(&Roll, Length)> = layout
                .rolls
                .iter()
                .map(|r| (r, used_on(&outcome.layout, &r.id)))
                .filter(|u| u.1 > Length::ZERO)
                .collect();
            let names: Vec<&str> = used.iter().map(|(r, _)| r.id.as_str()).collect();
            let price = |(roll, length): &(&Roll, Length)| {
                let real = shop.rolls.iter().find(|r| r.id == roll.id)?;
                Money::from_estimate(real.cost_m2.as_estimate() * (*length * roll.width).as_m2())
            };
            let costs: Option<Vec<Money>> = used.iter().map(price).collect();
            let on = |o: &&Offcut| outcome.layout.placements.iter().any(|p| p.container == o.id);
            FilmChoice {
                title,
                wish,
                chosen,
                known: true,
                complete: outcome.is_complete(),
                roll: names.join(", "),
                length: used.iter().map(|u| u.1).sum(),
                film: used.iter().map(|(r, length)| *length * r.width).sum(),
                cost: costs.map(|c| c.into_iter().sum()),
                offcuts: layout.offcuts.iter().filter(on).count(),
            }
        })
        .collect()
}

fn begun(pieces: &[Piece]) -> FilmView {
    let mut view = FilmView { pieces: rows(pieces), ..FilmView::default() };
    if pieces.iter().any(|p| p.planning_only) {
        view.warnings.push(
            "Planning outlines from the body drawing: good for reckoning film, not for cutting. Load measured outlines before cutting.".into(),
        );
    }
    view
}

fn rows(pieces: &[Piece]) -> Vec<PieceRow> {
    pieces
        .iter()
        .enumerate()
        .map(|(i, piece)| {
            let outline = outline_of(piece);
            let size = outline.as_ref().map_or((Length::ZERO, Length::ZERO), |o| {
                let b = o.bounds();
                (Length::mm(b.high.x - b.low.x), Length::mm(b.high.y - b.low.y))
            });
            let part = piece.id.rsplit_once('-').filter(|(p, _)| *p == piece.panel.as_str()).map(|(_, n)| n);
            let title = match part {
                Some(n) => format!("{}, part {n}", piece.panel.title()),
                None if piece.id == piece.panel.as_str() => piece.panel.title(),
                None => piece.id.clone(),
            };
            PieceRow {
                number: i + 1,
                id: piece.id.clone(),
                title,
                panel: piece.panel.clone(),
                count: piece.count,
                area: area_of(piece),
                size,
                planning_only: piece.planning_only,
                origin: piece.origin.clone(),
            }
        })
        .collect()
}

fn problem(outcome: &Outcome, rolls: &[Roll]) -> String {
    let mut said: Vec<String> = outcome.reasons.iter().map(ToString::to_string).collect();
    if outcome.reasons.iter().any(|r| matches!(r, Reason::NoRoom { .. })) {
        let free: Vec<String> =
            rolls.iter().map(|r| format!("roll {} has {:.2} m free", r.id, r.left.as_m())).collect();
        said.push(format!(
            "Of this film {}: receive another roll, or free film that other jobs have set aside.",
            free.join(", ")
        ));
    }
    said.join(" ")
}

fn kept_rests(instance: &Instance, layout: &nest::Layout, settings: &ShopSettings) -> Vec<nest::Remainder> {
    let long = Length::mm(
        (settings.offcut_area.as_mm2() / settings.offcut_side.as_mm().max(1.0))
            .max(settings.offcut_side.as_mm()),
    );
    let rule = RemainderRule { short_side: settings.offcut_side, long_side: long };
    nest::remainders(instance, layout, &rule)
}

fn used_on(layout: &nest::Layout, roll: &str) -> Length {
    layout.used.iter().find(|u| u.container == roll).map_or(Length::ZERO, |u| u.length)
}

fn drawings(
    layout: &Layout,
    laid: &nest::Layout,
    rests: &[nest::Remainder],
    rows: &[PieceRow],
    booked: Option<&CutPlan>,
) -> Vec<CutDrawing> {
    let containers: Vec<Container> =
        layout.offcuts.iter().filter_map(offcut_of).chain(layout.rolls.iter().map(roll_of)).collect();
    containers
        .iter()
        .filter_map(|container| {
            let id = &container.id;
            let pieces: Vec<CutPiece> = laid
                .placements
                .iter()
                .filter(|p| p.container == *id)
                .filter_map(|p| {
                    let row = rows.iter().find(|r| r.id == p.piece)?;
                    let outline = outline_of(layout.pieces.iter().find(|q| q.id == p.piece)?)?;
                    let corners = outline.placed(&p.pose).points().iter().map(|q| (q.x, q.y)).collect();
                    let number = row.number;
                    Some(CutPiece { number, title: row.title.clone(), corners_mm: corners, at: to_cut(p) })
                })
                .collect();
            if pieces.is_empty() {
                return None;
            }
            let rests = rests
                .iter()
                .filter(|r| r.container == *id)
                .map(|r| {
                    let b = r.rectangle;
                    CutRest {
                        corners_mm: r.outline.points().iter().map(|p| (p.x, p.y)).collect(),
                        rectangle_mm: [b.low.x, b.low.y, b.width().as_mm(), b.height().as_mm()],
                    }
                })
                .collect();
            Some(match &container.kind {
                ContainerKind::Roll { width, length_left, .. } => CutDrawing {
                    container: id.clone(),
                    offcut: false,
                    width: *width,
                    there: *length_left,
                    used: booked
                        .and_then(|plan| plan.rolls().find(|r| r.roll == *id))
                        .map_or_else(|| used_on(laid, id), |r| r.length),
                    pieces,
                    rests,
                    outline_mm: Vec::new(),
                    bad_mm: layout
                        .rolls
                        .iter()
                        .find(|r| r.id == *id)
                        .map_or_else(Vec::new, |r| r.bad_spots_mm.clone()),
                },
                ContainerKind::Offcut { outline, .. } => {
                    let known = layout.offcuts.iter().find(|o| o.id == *id);
                    let odd = known.is_some_and(|o| !o.outline_mm.is_empty());
                    let corners = outline.points().iter().map(|q| (q.x, q.y));
                    CutDrawing {
                        container: id.clone(),
                        offcut: true,
                        width: known.map_or(Length::ZERO, |o| o.width),
                        there: known.map_or(Length::ZERO, |o| o.length),
                        used: known.map_or(Length::ZERO, |o| o.length),
                        pieces,
                        rests,
                        outline_mm: if odd { corners.collect() } else { Vec::new() },
                        bad_mm: known.map_or_else(Vec::new, |o| o.bad_spots_mm.clone()),
                    }
                }
            })
        })
        .collect()
}

/// None without a roll.
fn plan(layout: &Layout, laid: &nest::Layout) -> Option<CutPlan> {
    let taken = |r: &Roll| RollCut {
        roll: r.id.clone(),
        lot: r.lot.clone(),
        width: r.width,
        length: Length::mm(used_on(laid, &r.id).as_mm().ceil()),
    };
    // the first roll that is cut stands first; where all lies on offcuts, the one that would be
    let mut rolls: Vec<RollCut> = layout.rolls.iter().map(taken).collect();
    rolls.sort_by_key(|r| r.length <= Length::ZERO);
    let mut rolls = rolls.into_iter();
    let first = rolls.next()?;
    let on = |o: &&Offcut| laid.placements.iter().any(|p| p.container == o.id);
    Some(CutPlan {
        at: jiff::Timestamp::UNIX_EPOCH,
        roll: first.roll,
        lot: first.lot,
        roll_width: first.width,
        length: first.length,
        further: rolls.filter(|r| r.length > Length::ZERO).collect(),
        pieces_area: layout.pieces.iter().map(|p| area_of(p) * f64::from(p.count)).sum(),
        placements: laid.placements.iter().map(to_cut).collect::<Vec<CutPlacement>>(),
        state: CutState::Reserved,
        offcuts: layout.offcuts.iter().filter(on).cloned().collect(),
    })
}

fn figures(plan: &CutPlan, laid: &nest::Layout, layout: &Layout) -> Vec<Figure> {
    let mut used = Figure::new("Length used", format!("{:.2}", plan.film_length().as_m()), "m").by(
        "from the loose end of each roll to the cut across it, margin included",
        "computed layout, checked piece by piece against the outlines",
    );
    for taken in plan.rolls() {
        let free = layout.rolls.iter().find(|r| r.id == taken.roll).map_or(taken.length, |r| r.left);
        used = used.from(
            "Roll",
            format!(
                "{} ({:.0} mm wide, {:.2} m free): {:.2} m",
                taken.roll,
                taken.width.as_mm(),
                free.as_m(),
                taken.length.as_m()
            ),
        );
    }
    if plan.further.is_empty() {
        let bound = layout_bound(plan, layout);
        used = used.from("No layout on this roll alone is shorter than", format!("{:.2} m", bound.as_m()));
    }
    let mut figures = vec![
        used,
        Figure::new("Covered by pieces", format!("{:.1}", laid.density * 100.0), "%")
            .by("area of the pieces over the area of the film used", "computed layout")
            .from("Pieces", format!("{:.2} m²", plan.pieces_area.as_m2())),
    ];
    if let Some(gap) = laid.smallest_gap {
        figures.push(
            Figure::new("Smallest gap", format!("{:.1}", gap.as_mm()), "mm")
                .by(
                    "least distance between two pieces, by an independent check of the layout",
                    "computed layout",
                )
                .from("Asked for", format!("{:.1} mm", layout.gap.as_mm())),
        );
    }
    figures
}

/// Area of pieces that lie on the roll over its width: no layout of them is shorter.
fn layout_bound(plan: &CutPlan, layout: &Layout) -> Length {
    let on_roll: Area = plan
        .placements
        .iter()
        .filter(|p| p.container == plan.roll)
        .filter_map(|p| layout.pieces.iter().find(|q| q.id == p.piece))
        .map(area_of)
        .sum();
    Length::mm(on_roll.as_mm2() / plan.roll_width.as_mm().max(1.0))
}

/// Rests of a cut plan that are worth keeping, as offcuts for the shelf.
pub fn offcuts_of(
    view: &FilmView,
    plan: &CutPlan,
    film: &str,
    id: &job::JobId,
    on: jiff::civil::Date,
) -> Vec<Offcut> {
    let rests = view.drawings.iter().flat_map(|d| d.rests.iter().map(move |r| (d, r)));
    rests
        .enumerate()
        .map(|(i, (drawing, rest))| {
            let [x, y, length, width] = rest.around_mm();
            let corner = |(px, py): &(f64, f64)| [round(px - x), round(py - y)];
            let odd = rest.is_odd();
            // a rest of an offcut stays of the roll and batch that the offcut was of
            let from = plan.offcuts.iter().find(|o| drawing.offcut && o.id == drawing.container);
            Offcut {
                id: format!("{id}-{}", i + 1),
                roll: from.map_or_else(|| drawing.container.clone(), |o| o.roll.clone()),
                film: from.map_or_else(|| film.to_owned(), |o| o.film.clone()),
                lot: match from {
                    Some(offcut) => offcut.lot.clone(),
                    None => {
                        plan.rolls().find(|r| r.roll == drawing.container).map_or_else(String::new, |r| r.lot)
                    }
                },
                // a rectangle is cut to whole millimeters
                length: Length::mm(if odd { length } else { length.floor() }),
                width: Length::mm(if odd { width } else { width.floor() }),
                since: on,
                outline_mm: if odd { rest.corners_mm.iter().map(corner).collect() } else { Vec::new() },
                ..Offcut::default()
            }
        })
        .collect()
}
