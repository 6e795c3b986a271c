//! Pieces moved by hand: a drawing to drag on, the same by numbers without scripts, locks, and laying out the rest anew.

use super::super::{Fault, Refusal, Returned, Sheet, Typed, fold, section};
use super::choices::coordinate;
use crate::web::layout;
use crate::web::shell::Desk;
use axum::extract::Path;
use axum::response::{IntoResponse, Json, Response};
use job::{CutPlacement, Stage};
use maud::{Markup, PreEscaped, html};
use std::fmt::Write;
use studio::Stamp;
use studio::searching::SearchKind;
use studio::view::{CutDrawing, CutPiece, FilmView};

/// Millimeters of film to a pixel of the drawing that is dragged on.
const MM_PER_PX: f64 = 4.0;
/// Room between the sheets of that drawing, mm.
const APART: f64 = 120.0;
/// Most pieces moved in one go.
const MOST_MOVES: usize = 500;

pub(super) fn part(at: &Sheet, view: &FilmView, returned: &Returned) -> Markup {
    let locked = view.wish.locked.iter().fold(Typed::new("hand"), |t, l| t.with("locked", key(&l.0, l.1)));
    let hand = returned.or(locked);
    let pieces: Vec<(String, String)> = all(view).map(|p| (key(&p.at.piece, p.at.copy), name(p))).collect();
    section(
        "hand",
        "Move pieces by hand",
        fold(
            "by-hand",
            "Move, turn and lock pieces",
            returned.is("hand") || returned.is("move"),
            html! {
                (returned.refusal("hand"))
                (returned.refusal("move"))
                p hidden data-scripted { "Drag a piece: it is pulled up to its neighbors, and refused where it cannot lie. With the keyboard: arrows move, R turns, L locks." }
                div.hand data-hand={ (at.path()) "/try" } {
                    (layout::wide_drawing("Pieces to be moved", drawing(view)))
                    p role="status" data-said {}
                    p.acts hidden data-scripted {
                        button type="button" data-turn="-15" { "Turn 15° left" }
                        button type="button" data-turn="15" { "Turn 15° right" }
                        button type="button" data-turn="90" { "Turn 90°" }
                        button type="button" data-lock { "Lock or unlock" }
                    }
                    (at.form(&hand, html! {
                        input type="hidden" name="moves" value=(hand.get("moves"));
                        (hand.ticks("locked", "Locked: these stay when the rest is laid out again", &pieces))
                        p.acts {
                            button name="do" value="keep" { "Keep this layout" }
                            button name="do" value="again" { "Keep it, lay out the rest anew" }
                        }
                    }))
                }
                (by_numbers(at, &pieces, returned))
            },
        ),
    )
}

fn by_numbers(at: &Sheet, pieces: &[(String, String)], returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("move"));
    let unit = at.scale().small();
    html! {
        details.more {
            summary { "Move one by numbers" }
            div {
                (at.form(&typed, html! {
                    div.fields {
                        (typed.select("piece", "Piece", pieces))
                        (typed.field("along", "Along the roll by").unit(unit).hint("minus: towards the loose end"))
                        (typed.field("across", "Across it by").unit(unit))
                        (typed.field("turn", "Turn by").unit("°"))
                    }
                    p.acts { button { "Put it there" } }
                }))
            }
        }
    }
}

fn all(view: &FilmView) -> impl Iterator<Item = &CutPiece> {
    view.drawings.iter().flat_map(|d| &d.pieces)
}

fn name(piece: &CutPiece) -> String {
    let copy = if piece.at.copy > 0 { format!(", copy {}", piece.at.copy + 1) } else { String::new() };
    format!("{} {}{copy}", piece.number, piece.title)
}

/// A piece and its copy in one word.
fn key(piece: &str, copy: u32) -> String {
    format!("{copy} {piece}")
}

fn read_key(text: &str) -> Option<(String, u32)> {
    let (copy, piece) = text.split_once(' ')?;
    Some((piece.to_owned(), copy.parse().ok()?))
}

/// Sheets below each other in millimeters, pieces as groups that a script moves.
fn drawing(view: &FilmView) -> String {
    // a hand needs room beyond the last piece
    let length =
        |d: &CutDrawing| if d.offcut { d.there } else { (d.used * 1.15).min(d.there) }.as_mm().max(1.0);
    let wide = view.drawings.iter().map(length).fold(1.0, f64::max);
    let high: f64 = view.drawings.iter().map(|d| d.width.as_mm() + APART).sum();
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"drawing fixed\" width=\"{:.0}\" height=\"{:.0}\" viewBox=\"-20 -60 {:.0} {high:.0}\">",
        (wide + 40.0) / MM_PER_PX,
        high / MM_PER_PX,
        wide + 40.0,
    );
    let mut top = 0.0;
    for d in &view.drawings {
        sheet(&mut svg, d, &view.wish.locked, top, length(d));
        top += d.width.as_mm() + APART;
    }
    svg.push_str("</svg>");
    svg
}

fn sheet(svg: &mut String, d: &CutDrawing, locked: &[(String, u32)], top: f64, length: f64) {
    let width = d.width.as_mm();
    let id = escaped(&d.container);
    let _ = write!(
        svg,
        "<g data-container=\"{id}\" data-top=\"{top:.1}\" data-width=\"{width:.1}\" transform=\"translate(0 {top:.1})\"><text class=\"t2\" x=\"0\" y=\"-14\" font-size=\"44\">{id}</text>"
    );
    if d.outline_mm.is_empty() {
        let _ = write!(svg, "<path class=\"ln\" d=\"M0 0H{length:.1}V{width:.1}H0Z\"/>");
    } else {
        let _ = write!(svg, "<path class=\"ln\" d=\"{}\"/>", path(&d.outline_mm));
    }
    for [x, y, l, w] in &d.bad_mm {
        let _ = write!(
            svg,
            "<path class=\"ln fat dash\" d=\"M{x:.1} {y:.1}h{l:.1}v{w:.1}h-{l:.1}Zl{l:.1} {w:.1}\"/>"
        );
    }
    for piece in &d.pieces {
        let at = &piece.at;
        let held = locked.iter().any(|(p, c)| *p == at.piece && *c == at.copy);
        let n = piece.corners_mm.len().max(1) as f64;
        let (x, y) = piece.corners_mm.iter().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
        let number_x = number_place(&piece.corners_mm, (x, y));
        let _ = write!(
            svg,
            "<g class=\"piece{}\" tabindex=\"0\" role=\"button\" aria-label=\"{}\" data-piece=\"{}\" data-copy=\"{}\" data-x=\"{}\" data-y=\"{}\" data-degrees=\"{}\" data-mirrored=\"{}\" data-cx=\"{x:.2}\" data-cy=\"{y:.2}\"><path class=\"ln fat fill\" d=\"{}\"/><text x=\"{number_x:.1}\" y=\"{y:.1}\" font-size=\"64\" text-anchor=\"middle\" dominant-baseline=\"central\">{}</text></g>",
            if held { " locked" } else { "" },
            escaped(&name(piece)),
            escaped(&at.piece),
            at.copy,
            at.x_mm,
            at.y_mm,
            at.degrees,
            at.mirrored,
            path(&piece.corners_mm),
            piece.number,
        );
    }
    svg.push_str("</g>");
}

/// Where across the sheet a number stands: in the middle of the widest stretch inside the piece at this height.
fn number_place(corners: &[(f64, f64)], (x, y): (f64, f64)) -> f64 {
    let next = corners.iter().skip(1).chain(corners.first());
    let mut cuts: Vec<f64> = corners
        .iter()
        .zip(next)
        .filter(|(a, b)| (a.1 > y) != (b.1 > y))
        .map(|(a, b)| a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0))
        .collect();
    cuts.sort_by(f64::total_cmp);
    let widest = cuts.chunks_exact(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
    widest.map_or(x, |w| (w[0] + w[1]) / 2.0)
}

fn path(corners: &[(f64, f64)]) -> String {
    let points: Vec<String> = corners.iter().map(|(x, y)| format!("{x:.2} {y:.2}")).collect();
    format!("M{}Z", points.join("L"))
}

fn escaped(text: &str) -> String {
    let PreEscaped(text) = html! { (text) };
    text
}

fn moves(typed: &Typed) -> Result<Vec<CutPlacement>, Refusal> {
    let text = typed.get("moves");
    if text.is_empty() {
        return Ok(Vec::new());
    }
    let read: Vec<CutPlacement> = serde_json::from_str(text).map_err(|_| unreadable())?;
    let sound = |p: &CutPlacement| p.x_mm.is_finite() && p.y_mm.is_finite() && p.degrees.is_finite();
    if read.len() > MOST_MOVES || !read.iter().all(sound) { Err(unreadable()) } else { Ok(read) }
}

fn unreadable() -> Refusal {
    Refusal::invalid("The moves cannot be read", "Open the film sheet again and move the pieces there.")
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    if typed.form() == "move" {
        return by_number(at, typed).await;
    }
    let moves = moves(typed)?;
    let locked: Vec<(String, u32)> = typed.all("locked").filter_map(read_key).collect();
    let again = typed.get("do") == "again";
    let studio = at.desk.shell.studio.clone();
    let place = if again { "search" } else { "layout" };
    at.save(typed, format!("{}#{place}", at.path()), move |s, id, stamp| {
        s.place(id, stamp, &moves, &locked)?;
        if again { studio.begin_search(id, &Stamp::by(&stamp.by), SearchKind::AroundLocked) } else { Ok(()) }
    })
    .await
}

async fn by_number(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let scale = at.scale();
    let along = scale.small_from(typed.number("along").unwrap_or_default()).as_mm();
    let across = scale.small_from(typed.number("across").unwrap_or_default()).as_mm();
    let turn = typed.number("turn").unwrap_or_default();
    typed.sound()?;
    let chosen = read_key(typed.get("piece"));
    at.save(typed, format!("{}#layout", at.path()), move |s, id, stamp| {
        let view = s.film_view(id)?;
        let found = all(&view).find(|p| Some((p.at.piece.clone(), p.at.copy)) == chosen);
        let piece = found.ok_or_else(|| {
            Refusal::not_found("There is no such piece in the layout", "Choose one from the list.")
        })?;
        let wanted = turned(piece, turn, along, across);
        let placed = s.try_place(id, &[wanted])?;
        s.place(id, stamp, &[placed], &view.wish.locked).map(drop)
    })
    .await
}

/// A placement turned about the middle of its corners, then shifted.
fn turned(piece: &CutPiece, degrees: f64, along: f64, across: f64) -> CutPlacement {
    let n = piece.corners_mm.len().max(1) as f64;
    let (cx, cy) = piece.corners_mm.iter().fold((0.0, 0.0), |(a, b), (x, y)| (a + x / n, b + y / n));
    let (sin, cos) = degrees.to_radians().sin_cos();
    let (dx, dy) = (piece.at.x_mm - cx, piece.at.y_mm - cy);
    CutPlacement {
        x_mm: cx + dx * cos - dy * sin + along,
        y_mm: cy + dx * sin + dy * cos + across,
        degrees: (piece.at.degrees + degrees).rem_euclid(360.0),
        ..piece.at.clone()
    }
}

/// Where a dropped piece comes to lie: asked by the drawing while pieces are dragged; nothing is kept.
pub async fn try_place(desk: Desk, Path(id): Path<String>, typed: Typed) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Film);
    let id = at.id.clone();
    let answer = match moves(&typed) {
        Err(refusal) => Err(refusal),
        Ok(moves) => at.desk.shell.ask(move |s| s.try_place(&id, &moves)).await,
    };
    let json = match answer {
        Ok(place) => {
            let said = format!(
                "Lies at {} along, {} across {}.",
                coordinate(&at, place.x_mm),
                coordinate(&at, place.y_mm),
                at.scale().small()
            );
            serde_json::json!({ "ok": true, "place": place, "said": said })
        }
        Err(refusal) => serde_json::json!({ "ok": false, "said": refusal.to_string() }),
    };
    Ok(Json(json).into_response())
}
