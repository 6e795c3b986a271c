//! Pieces of film for an order, laid out on rolls and offcuts.

use super::WHOLE_CAR;
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::{Studio, body_of};
use crate::view::{CutDrawing, CutPiece, FilmView, PieceRow};
use body::{Body, PanelKind};
use effort::Effort;
use job::{Coverage, CutPlacement, CutPlan, Job, Offcut, Order, PanelId, Piece, Roll, Shop};
use nest::{Config, Container, ContainerKind, Instance, Outcome, Reason, RemainderRule, Rotations};
use plane::{Outline, Point, Pose};
use serde::Serialize;
use units::{Area, Length};

/// Steps of work a layout may take: about a second.
const EFFORT: u64 = 250_000;

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
pub fn pieces(job: &Job, order: &Order, shop: &Shop) -> Vec<Piece> {
    let body = body_of(job);
    let widest = shop.rolls.iter().map(|r| r.width - r.margin * 2.0).reduce(Length::max);
    let mut all = Vec::new();
    for panel in covered(order, body) {
        let own: Vec<&Piece> = job.pieces.iter().filter(|p| p.panel == panel).collect();
        if own.is_empty() {
            all.extend(planning_pieces(body, &panel, shop.settings.wrap, widest));
        } else {
            all.extend(own.into_iter().cloned());
        }
    }
    all
}

/// A planning outline: the panel as drawn, scaled to its developed area, grown by the wrap-round allowance, and parted
/// in strips where it is wider than the widest roll. Good for reckoning film, never for cutting.
fn planning_pieces(body: &Body, panel: &PanelId, wrap: Length, widest: Option<Length>) -> Vec<Piece> {
    let Some((outline, known)) = body.outline(panel.as_str()).zip(body.panel(panel.as_str())) else {
        return Vec::new();
    };
    let points: Vec<Point> = outline.iter().map(|p| Point { x: p.x, y: p.y }).collect();
    let Ok(drawn) = Outline::new(points) else { return Vec::new() };
    let factor = (known.area / drawn.area()).max(1.0).sqrt();
    let center = drawn.centroid();
    let scaled = drawn
        .points()
        .iter()
        .map(|p| Point { x: (p.x - center.x) * factor, y: (p.y - center.y) * factor })
        .collect();
    let Ok(scaled) = Outline::new(scaled) else { return Vec::new() };
    let grown = scaled.grown(wrap);
    let parts = match widest {
        Some(widest) if narrowest(&grown) > widest && widest > Length::ZERO => strips(&grown, widest),
        _ => vec![grown],
    };
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
            origin: if several {
                "drawing of the body, parted by a seam: wider than the widest roll".into()
            } else {
                "drawing of the body".into()
            },
        })
        .collect()
}

/// Least width of an outline over all turns, by steps of two degrees.
fn narrowest(outline: &Outline) -> Length {
    (0..90)
        .map(|i| {
            let bounds = outline.placed(&Pose { degrees: 2.0 * f64::from(i), ..Pose::default() }).bounds();
            let size = (bounds.high.x - bounds.low.x).min(bounds.high.y - bounds.low.y);
            Length::mm(size)
        })
        .reduce(Length::min)
        .unwrap_or(Length::ZERO)
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

fn round(mm: f64) -> f64 {
    (mm * 100.0).round() / 100.0
}

/// Everything a layout depends on.
#[derive(Clone, Debug, Serialize)]
struct Layout {
    pieces: Vec<Piece>,
    roll: Option<Roll>,
    offcuts: Vec<Offcut>,
    gap: Length,
}

/// Lays an order's pieces out on the shelf as it is; film set aside for this job counts as free.
pub fn film(studio: &Studio, id: &job::JobId, job: &Job, order: &Order, shop: &Shop) -> FilmView {
    let pieces = pieces(job, order, shop);
    if pieces.is_empty() {
        return FilmView::default();
    }
    let offcuts: Vec<Offcut> =
        shop.offcuts.iter().filter(|o| o.reserved.as_ref().is_none_or(|j| j == id)).cloned().collect();
    let mut rolls: Vec<Roll> = shop.rolls.clone();
    for roll in &mut rolls {
        roll.reserved_mm.remove(id);
        roll.left = roll.free();
        roll.reserved_mm.clear();
    }
    rolls.retain(|r| r.left > r.margin * 2.0);
    // The oldest roll that can hold everything, else the one that holds most.
    let need: Area = pieces.iter().map(|p| area_of(p) * f64::from(p.count)).sum();
    let wide = pieces
        .iter()
        .filter_map(outline_of)
        .map(|o| narrowest(&o))
        .reduce(Length::max)
        .unwrap_or(Length::ZERO);
    let fits = |r: &Roll| r.width - r.margin * 2.0 >= wide;
    rolls.sort_by(|a, b| (!fits(a)).cmp(&!fits(b)).then(a.since.cmp(&b.since)).then(a.id.cmp(&b.id)));
    let holds = |r: &&Roll| fits(r) && r.left * r.width * 1.0 >= need * 1.45;
    let roll = rolls.iter().find(holds).or_else(|| {
        rolls.iter().filter(|r| fits(r)).max_by(|a, b| a.left.total_cmp(&b.left)).or_else(|| rolls.first())
    });
    let layout = Layout { pieces, roll: roll.cloned(), offcuts, gap: shop.settings.gap };
    let view = studio.results.get("film", &layout, || lay_out(&layout, &shop.settings));
    (*view).clone()
}

/// An outline for the engine; none when the corners form none (refused on the way in).
pub fn outline_of(piece: &Piece) -> Option<Outline> {
    Outline::new(piece.outline_mm.iter().map(|[x, y]| Point { x: *x, y: *y }).collect()).ok()
}

fn area_of(piece: &Piece) -> Area {
    outline_of(piece).map_or(Area::ZERO, |o| o.area())
}

fn lay_out(layout: &Layout, settings: &job::ShopSettings) -> FilmView {
    let mut view = FilmView { pieces: rows(&layout.pieces), ..FilmView::default() };
    if layout.pieces.iter().any(|p| p.planning_only) {
        view.warnings.push(
            "Planning outlines from the body drawing: good for reckoning film, not for cutting. Load measured outlines before cutting.".into(),
        );
    }
    let Some(roll) = &layout.roll else {
        view.problem =
            Some("There is no roll with film left. Receive a roll under stock, then lay out again.".into());
        return view;
    };
    let Some(instance) = instance(layout, roll) else {
        view.problem = Some("A piece has no proper outline. Load its outline again.".into());
        return view;
    };
    let outcome = nest::nest(&instance, &Config::default(), &Effort::steps(EFFORT));
    if !outcome.is_complete() {
        view.problem = Some(problem(&outcome, roll));
    }
    let kept = kept_rests(&instance, &outcome, settings);
    view.drawings = drawings(layout, roll, &outcome, &kept, &view.pieces);
    if outcome.is_complete() {
        let plan = plan(layout, roll, &outcome);
        view.figures = figures(&plan, &outcome, layout, roll);
        view.plan = Some(plan);
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

fn instance(layout: &Layout, roll: &Roll) -> Option<Instance> {
    let pieces = layout
        .pieces
        .iter()
        .map(|p| {
            Some(nest::Piece {
                id: p.id.clone(),
                outline: outline_of(p)?,
                count: p.count,
                rotations: Rotations::Free,
                mirrorable: false,
                together: None,
                priority: 0,
            })
        })
        .collect::<Option<Vec<_>>>()?;
    let mut containers = Vec::new();
    for offcut in &layout.offcuts {
        containers.push(Container {
            id: offcut.id.clone(),
            kind: ContainerKind::Offcut {
                outline: Outline::rectangle(offcut.length, offcut.width).ok()?,
                bad_spots: Vec::new(),
                margin: Length::mm(2.0),
                value: (offcut.length * offcut.width).as_m2(),
            },
        });
    }
    containers.push(Container {
        id: roll.id.clone(),
        kind: ContainerKind::Roll {
            width: roll.width,
            length_left: roll.left,
            margin: roll.margin,
            bad_spots: Vec::new(),
        },
    });
    Some(Instance { pieces, containers, gap: layout.gap, locked: Vec::new() })
}

fn problem(outcome: &Outcome, roll: &Roll) -> String {
    let mut said: Vec<String> = outcome.reasons.iter().map(ToString::to_string).collect();
    if outcome.reasons.iter().any(|r| matches!(r, Reason::NoRoom { .. })) {
        said.push(format!(
            "Roll {} has {:.2} m free: receive another roll, or free film that other jobs have set aside.",
            roll.id,
            roll.left.as_m()
        ));
    }
    said.join(" ")
}

fn kept_rests(instance: &Instance, outcome: &Outcome, settings: &job::ShopSettings) -> Vec<nest::Remainder> {
    let long = Length::mm(
        (settings.offcut_area.as_mm2() / settings.offcut_side.as_mm().max(1.0))
            .max(settings.offcut_side.as_mm()),
    );
    let rule = RemainderRule { short_side: settings.offcut_side, long_side: long };
    nest::remainders(instance, &outcome.layout, &rule)
}

fn drawings(
    layout: &Layout,
    roll: &Roll,
    outcome: &Outcome,
    rests: &[nest::Remainder],
    rows: &[PieceRow],
) -> Vec<CutDrawing> {
    let used_of = |id: &str| {
        let used = outcome.layout.used.iter().find(|u| u.container == id);
        used.map_or(Length::ZERO, |u| u.length)
    };
    let offcuts = layout.offcuts.iter().map(|o| (o.id.as_str(), true, o.width, o.length));
    offcuts
        .chain([(roll.id.as_str(), false, roll.width, roll.left)])
        .filter_map(|(id, offcut, width, there)| {
            let pieces: Vec<CutPiece> = outcome
                .layout
                .placements
                .iter()
                .filter(|p| p.container == id)
                .filter_map(|p| {
                    let row = rows.iter().find(|r| r.id == p.piece)?;
                    let outline = outline_of(layout.pieces.iter().find(|q| q.id == p.piece)?)?;
                    let corners = outline.placed(&p.pose).points().iter().map(|q| (q.x, q.y)).collect();
                    Some(CutPiece { number: row.number, title: row.title.clone(), corners_mm: corners })
                })
                .collect();
            if pieces.is_empty() {
                return None;
            }
            let rests_mm = rests
                .iter()
                .filter(|r| r.container == id)
                .map(|r| {
                    let b = r.outline.bounds();
                    [b.low.x, b.low.y, r.length.as_mm(), r.width.as_mm()]
                })
                .collect();
            let used = if offcut { there } else { used_of(id) };
            Some(CutDrawing { container: id.to_owned(), offcut, width, there, used, pieces, rests_mm })
        })
        .collect()
}

fn plan(layout: &Layout, roll: &Roll, outcome: &Outcome) -> CutPlan {
    let used = outcome.layout.used.iter().find(|u| u.container == roll.id).map_or(Length::ZERO, |u| u.length);
    CutPlan {
        at: jiff::Timestamp::UNIX_EPOCH,
        roll: roll.id.clone(),
        lot: roll.lot.clone(),
        roll_width: roll.width,
        length: Length::mm(used.as_mm().ceil()),
        pieces_area: layout.pieces.iter().map(|p| area_of(p) * f64::from(p.count)).sum(),
        placements: outcome
            .layout
            .placements
            .iter()
            .map(|p| CutPlacement {
                piece: p.piece.clone(),
                copy: p.copy,
                container: p.container.clone(),
                x_mm: p.pose.x.as_mm(),
                y_mm: p.pose.y.as_mm(),
                degrees: p.pose.degrees,
                mirrored: p.pose.mirrored,
            })
            .collect(),
        state: job::CutState::Reserved,
    }
}

fn figures(plan: &CutPlan, outcome: &Outcome, layout: &Layout, roll: &Roll) -> Vec<Figure> {
    let used = plan.length;
    let bound = layout_bound(plan, layout);
    let mut figures = vec![
        Figure::new("Length used", format!("{:.2}", used.as_m()), "m")
            .by(
                "from the loose end of the roll to the cut across it, margin included",
                "computed layout, checked piece by piece against the outlines",
            )
            .from(
                "Roll",
                format!("{} ({:.0} mm wide, {:.2} m free)", roll.id, roll.width.as_mm(), roll.left.as_m()),
            )
            .from("No layout on this roll alone is shorter than", format!("{:.2} m", bound.as_m())),
        Figure::new("Covered by pieces", format!("{:.1}", outcome.layout.density * 100.0), "%")
            .by("area of the pieces over the area of the film used", "computed layout")
            .from("Pieces", format!("{:.2} m²", plan.pieces_area.as_m2())),
    ];
    if let Some(gap) = outcome.layout.smallest_gap {
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
    let rests = view.drawings.iter().flat_map(|d| d.rests_mm.iter().map(move |r| (d, r)));
    rests
        .enumerate()
        .map(|(i, (drawing, [_, _, length, width]))| Offcut {
            id: format!("{id}-{}", i + 1),
            roll: plan.roll.clone(),
            film: film.to_owned(),
            lot: if drawing.offcut { String::new() } else { plan.lot.clone() },
            length: Length::mm(length.floor()),
            width: Length::mm(width.floor()),
            reserved: None,
            since: on,
        })
        .collect()
}

/// Reads outlines from SVG for a panel.
///
/// # Errors
/// When the text is no SVG, or an outline is open or crosses itself: says which and where.
pub fn read_outlines(text: &str, file: &str, panel: &PanelId) -> Result<Vec<Piece>, Refusal> {
    let found = plane::svg::read_outlines(text, Length::mm(0.05))
        .map_err(|e| Refusal::invalid(e.to_string(), "Mend the drawing and load it again.").at(file))?;
    let several = found.len() > 1;
    Ok(found
        .into_iter()
        .enumerate()
        .map(|(i, named)| Piece {
            id: if several { format!("{panel}-{}", i + 1) } else { panel.0.clone() },
            panel: panel.clone(),
            outline_mm: named.outline.points().iter().map(|p| [p.x, p.y]).collect(),
            count: 1,
            planning_only: false,
            origin: file.to_owned(),
        })
        .collect())
}

/// The layout as a cut file: SVG in millimeters, a group for each roll or offcut, cuts and labels apart.
pub fn cut_file(view: &FilmView) -> String {
    let length: f64 = view.drawings.iter().map(|d| d.used.as_mm()).fold(0.0, f64::max);
    let height: f64 = view.drawings.iter().map(|d| d.width.as_mm() + 50.0).sum();
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{length:.2}mm\" height=\"{height:.2}mm\" viewBox=\"0 0 {length:.2} {height:.2}\">\n"
    );
    if view.pieces.iter().any(|p| p.planning_only) {
        svg.push_str("<!-- PLANNING OUTLINES: NOT FOR CUTTING -->\n");
    }
    let mut y = 0.0;
    for drawing in &view.drawings {
        let id = escape(&drawing.container);
        svg.push_str(&format!("<g id=\"{id}\" transform=\"translate(0 {y:.2})\">\n<g id=\"cut\" fill=\"none\" stroke=\"black\" stroke-width=\"0.1\">\n"));
        for piece in &drawing.pieces {
            let points: Vec<String> =
                piece.corners_mm.iter().map(|(x, y)| format!("{x:.3},{y:.3}")).collect();
            svg.push_str(&format!("<polygon points=\"{}\"/>\n", points.join(" ")));
        }
        svg.push_str("</g>\n<g id=\"labels\" font-size=\"30\" fill=\"gray\">\n");
        for piece in &drawing.pieces {
            let n = piece.corners_mm.len().max(1) as f64;
            let (x, y) = piece.corners_mm.iter().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
            svg.push_str(&format!(
                "<text x=\"{x:.1}\" y=\"{y:.1}\">{} {}</text>\n",
                piece.number,
                escape(&piece.title)
            ));
        }
        svg.push_str("</g>\n</g>\n");
        y += drawing.width.as_mm() + 50.0;
    }
    svg.push_str("</svg>\n");
    svg
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}
