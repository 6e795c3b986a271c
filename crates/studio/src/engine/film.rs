//! Pieces of film for an order, laid out on rolls and offcuts.

mod drawn;
mod layout;
mod sheet;

pub(crate) use drawn::choices;
pub use drawn::offcuts_of;
pub use layout::{Laid, Layout, current, to_cut, to_place};
pub use sheet::{CutFormat, cut_file};

use super::WHOLE_CAR;
use crate::compute::Results;
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of};
use crate::view::FilmView;
use body::{Body, PanelKind};
use job::{Coverage, CutState, Job, LayoutWish, Offcut, Order, PanelId, Piece, Shop};
use plane::svg::NamedOutline;
use plane::{Outline, Point};
use units::{Area, Length};

/// Panels that an order covers with film, in the order of the drawing. Common practice, no source: the shop can name
/// panels one by one instead.
pub fn covered(order: &Order, body: &Body) -> Vec<PanelId> {
    let wanted = |id: &str, kind: PanelKind| -> bool {
        let nose = ["front_bumper", "hood"].contains(&id)
            || ["_front_fender", "_mirror", "_headlamp"].iter().any(|end| id.ends_with(end));
        let sides = ["_door", "_rocker", "_quarter_panel", "_bed_side"].iter().any(|end| id.ends_with(end));
        match &order.film {
            Coverage::None => false,
            Coverage::Front => nose,
            Coverage::FrontAndSides => nose || sides,
            Coverage::Whole => nose || kind == PanelKind::Paint,
            Coverage::Panels(panels) => panels.iter().any(|p| p.as_str() == id || p.as_str() == WHOLE_CAR),
        }
    };
    body.panels()
        .iter()
        .filter(|p| matches!(p.kind, PanelKind::Paint | PanelKind::Lamp) && wanted(p.id, p.kind))
        .map(|p| p.id.into())
        .collect()
}

/// Pieces that an order needs: the job's own outlines where there are any, else planning outlines from the drawing.
pub fn pieces(results: &Results, job: &Job, order: &Order, shop: &Shop) -> Vec<Piece> {
    let body = body_of(job);
    let widest = shop.rolls.iter().map(|r| r.width - r.margin * 2.0).reduce(Length::max);
    let mut all = Vec::new();
    for panel in covered(order, body) {
        let own: Vec<&Piece> = job.pieces.iter().filter(|p| p.panel == panel).collect();
        if own.is_empty() {
            let seams = job.sides.as_ref().map_or(&[][..], |s| s.seams.as_slice());
            let inputs = (body.style().name(), &panel, shop.settings.wrap, widest, seams);
            let made = results.get("planning pieces", &inputs, || {
                planning_pieces(body, &panel, shop.settings.wrap, widest, seams)
            });
            all.extend(made.iter().cloned());
        } else {
            all.extend(own.into_iter().cloned());
        }
    }
    all
}

/// A planning outline: the panel as drawn, scaled to its developed area, grown by the wrap-round allowance, and parted
/// in strips where it is wider than the widest roll. Good for reckoning film, never for cutting.
fn planning_pieces(
    body: &Body,
    panel: &PanelId,
    wrap: Length,
    widest: Option<Length>,
    seams: &[String],
) -> Vec<Piece> {
    let Some((outline, known)) = body.outline(panel.as_str()).zip(body.panel(panel.as_str())) else {
        return Vec::new();
    };
    let points: Vec<Point> = outline.iter().map(|p| Point { x: p.x, y: p.y }).collect();
    let Ok(drawn) = Outline::new(points) else { return Vec::new() };
    let factor = (known.area / drawn.area()).max(1.0).sqrt();
    let center = drawn.centroid();
    let scaled = |drawn: &Outline| {
        let at = |p: &Point| Point { x: (p.x - center.x) * factor, y: (p.y - center.y) * factor };
        Outline::new(drawn.points().iter().map(at).collect()).ok()
    };
    // seams chosen on the sides part the panel first
    let pieces = super::sides::pieces_of(body, panel, seams).unwrap_or_else(|| vec![drawn.clone()]);
    let fitted = |piece: &Outline| {
        let grown = scaled(piece)?.grown(wrap);
        Some(match widest {
            Some(widest) if narrowest(&grown) > widest && widest > Length::ZERO => strips(&grown, widest),
            _ => vec![grown],
        })
    };
    let parts: Vec<Outline> = pieces.iter().filter_map(fitted).flatten().collect();
    let several = parts.len() > 1;
    parts
        .iter()
        .enumerate()
        .map(|(i, part)| Piece {
            id: if several { format!("{panel}-{}", i + 1) } else { panel.0.clone() },
            panel: panel.clone(),
            outline_mm: part.points().iter().map(|p| [round(p.x), round(p.y)]).collect(),
            count: 1,
            planning_only: true,
            inner_mm: Vec::new(),
            marks_mm: Vec::new(),
            origin: if several {
                "drawing of the body, parted by seams: as chosen for the sides, or wider than the widest roll"
                    .into()
            } else {
                "drawing of the body".into()
            },
        })
        .collect()
}

/// Least width of an outline over all turns, by steps of two degrees.
pub(super) fn narrowest(outline: &Outline) -> Length {
    let width = |i: i32| {
        let (sin, cos) = (2.0 * f64::from(i)).to_radians().sin_cos();
        let across = outline.points().iter().map(|p| p.x * cos + p.y * sin);
        let (low, high) = across.fold((f64::MAX, f64::MIN), |(low, high), at| (low.min(at), high.max(at)));
        Length::mm(high - low)
    };
    (0..90).map(width).reduce(Length::min).unwrap_or(Length::ZERO)
}

/// Parts an outline in equal strips across its shorter side.
fn strips(outline: &Outline, widest: Length) -> Vec<Outline> {
    let b = outline.bounds();
    let (wide, high) = (b.high.x - b.low.x, b.high.y - b.low.y);
    let across_x = wide < high;
    let side = wide.min(high);
    let n = (side / widest.as_mm()).ceil().max(2.0) as usize;
    let far = 10.0 * (wide + high);
    let mut parts = Vec::new();
    for i in 0..n {
        let from = side * i as f64 / n as f64;
        let to = side * (i + 1) as f64 / n as f64;
        // Everything outside the strip is cut away by two large rectangles.
        let cut = |low: f64, high: f64| {
            let corners = if across_x {
                [(low, -far), (high, -far), (high, far), (low, far)]
            } else {
                [(-far, low), (far, low), (far, high), (-far, high)]
            };
            Outline::new(corners.iter().map(|(x, y)| Point { x: *x, y: *y }).collect())
        };
        let base = if across_x { b.low.x } else { b.low.y };
        let (Ok(before), Ok(after)) = (cut(base - far, base + from), cut(base + to, base + far)) else {
            continue;
        };
        let mut cuts = Vec::new();
        if i > 0 {
            cuts.push(before);
        }
        if i + 1 < n {
            cuts.push(after);
        }
        parts.extend(outline.without(&cuts));
    }
    parts
}

pub(super) fn round(mm: f64) -> f64 {
    (mm * 100.0).round() / 100.0
}

/// Lays an order's pieces out: as it was accepted or cut, as somebody put them, or as the program finds it now. Film set
/// aside for this job counts as free.
pub fn film(studio: &Studio, id: &job::JobId, job: &Job, order: &Order, shop: &Shop) -> FilmView {
    let pieces = pieces(&studio.results, job, order, shop);
    if pieces.is_empty() {
        return FilmView::default();
    }
    let own = *order == job.order;
    let accepted = job.cut.as_ref().filter(|c| own && c.state != CutState::Undone);
    if let Some(plan) = accepted {
        let inputs = (plan, &pieces, &shop.rolls, &shop.offcuts, &shop.settings);
        let view = studio.results.get("accepted film", &inputs, || drawn::accepted(plan, &pieces, shop));
        return (*view).clone();
    }
    let plain = LayoutWish::default();
    let wish = if own { &job.wish } else { &plain };
    let layout = Layout::on_shelf(id, pieces, shop, wish);
    let inputs = (&layout, wish, &shop.settings);
    let view = studio.results.get("proposed film", &inputs, || drawn::proposed(studio, &layout, wish, shop));
    (*view).clone()
}

/// An outline for the engine; none when the corners form none (refused on the way in).
pub fn outline_of(piece: &Piece) -> Option<Outline> {
    Outline::new(piece.outline_mm.iter().map(|[x, y]| Point { x: *x, y: *y }).collect()).ok()
}

fn area_of(piece: &Piece) -> Area {
    outline_of(piece).map_or(Area::ZERO, |o| o.area())
}

/// Reads outlines from an SVG or DXF drawing for a panel; rings inside an outline are cuts in it, and what was mended is
/// told with where the outline came from.
///
/// # Errors
/// When the text is neither, or an outline is open or crosses itself: says which and where.
pub fn read_outlines(text: &str, file: &str, panel: &PanelId) -> Result<Vec<Piece>, Refusal> {
    let found = read_shapes(text, file)?;
    let several = found.len() > 1;
    let corners = |o: &Outline| o.points().iter().map(|p| [p.x, p.y]).collect::<Vec<[f64; 2]>>();
    Ok(found
        .into_iter()
        .enumerate()
        .map(|(i, named)| {
            let mended: Vec<String> = named.repairs.iter().map(ToString::to_string).collect();
            Piece {
                id: if several { format!("{panel}-{}", i + 1) } else { panel.0.clone() },
                panel: panel.clone(),
                outline_mm: corners(&named.outline),
                count: 1,
                planning_only: false,
                origin: if mended.is_empty() {
                    file.to_owned()
                } else {
                    format!("{file}; mended: {}", mended.join(", "))
                },
                inner_mm: named.inner.iter().map(corners).collect(),
                marks_mm: Vec::new(),
            }
        })
        .collect())
}

/// Closed shapes of an SVG or DXF drawing, told apart by their text.
///
/// # Errors
/// When the text is neither, or a shape is open or crosses itself.
pub fn read_shapes(text: &str, file: &str) -> Result<Vec<NamedOutline>, Refusal> {
    let tolerance = Length::mm(0.05);
    let read = if text.trim_start().starts_with('<') {
        plane::svg::read_outlines(text, tolerance).map_err(|e| e.to_string())
    } else {
        plane::dxf::read_outlines(text, tolerance).map_err(|e| e.to_string())
    };
    read.map_err(|why| Refusal::invalid(why, "Mend the drawing and load it again.").at(file))
}

/// Gives an offcut the outline of a drawing, moved to its corner; rings inside are bad spots, as their boxes.
///
/// # Errors
/// When the text is no drawing, or does not hold exactly one outline.
pub fn shape_offcut(offcut: &mut Offcut, text: &str, file: &str) -> Result<(), Refusal> {
    let shapes = read_shapes(text, file)?;
    let [shape] = &shapes[..] else {
        return Err(Refusal::invalid(
            format!("The drawing holds {} outlines", shapes.len()),
            "Draw one offcut; bad spots are rings inside it.",
        )
        .at(file));
    };
    let b = shape.outline.bounds();
    let (x, y) = (b.low.x, b.low.y);
    offcut.length = b.width();
    offcut.width = b.height();
    offcut.outline_mm = shape.outline.points().iter().map(|p| [round(p.x - x), round(p.y - y)]).collect();
    offcut.bad_spots_mm.extend(shape.inner.iter().map(|hole| {
        let h = hole.bounds();
        [h.low.x - x, h.low.y - y, h.width().as_mm(), h.height().as_mm()]
    }));
    Ok(())
}

/// The same pieces for the panel on the other side of the car, mirrored; none for panels in the middle.
pub fn mirrored(pieces: &[Piece]) -> Vec<Piece> {
    let across = |name: &str| {
        name.strip_prefix("left_")
            .map(|rest| format!("right_{rest}"))
            .or_else(|| name.strip_prefix("right_").map(|rest| format!("left_{rest}")))
    };
    let flip = |ring: &[[f64; 2]]| ring.iter().rev().map(|[x, y]| [-x, *y]).collect::<Vec<[f64; 2]>>();
    pieces
        .iter()
        .filter_map(|p| {
            Some(Piece {
                id: across(&p.id)?,
                panel: PanelId(across(p.panel.as_str())?),
                outline_mm: flip(&p.outline_mm),
                inner_mm: p.inner_mm.iter().map(|r| flip(r)).collect(),
                marks_mm: p.marks_mm.iter().map(|m| m.map(|[x, y]| [-x, y])).collect(),
                origin: format!("{}, mirrored", p.origin),
                ..p.clone()
            })
        })
        .collect()
}
