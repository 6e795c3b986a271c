//! Pieces on the roll or the offcut, to scale: numbers, the used length, what is left over.

use super::Medium;
use super::hatch::Hatch;
use super::label::{self, Rect};
use super::pen::{Anchor, Pen, Text, num};
use crate::font;
use plane::{Bounds, Outline, Point};
use units::Length;

/// One piece where it lies; x runs along the roll from its loose end, y across it.
#[derive(Clone, Debug, PartialEq)]
pub struct NestPiece {
    /// Its number, as in the table beside the drawing.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// Its outline, placed.
    pub outline: Outline,
}

/// An empty part that is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Remainder {
    /// Its edge.
    pub outline: Outline,
    /// The largest rectangle in it, where its words stand.
    pub rectangle: Bounds,
    /// Its words, such as `offcut 1390 × 297 mm`.
    pub words: String,
}

/// A roll or an offcut with its pieces. Words are given ready, in the shop's units.
#[derive(Clone, Debug, PartialEq)]
pub struct NestSheet {
    /// What it is, such as `Roll A-118, 1520 mm wide`.
    pub title: String,
    /// Across the roll, or the height of the offcut.
    pub width: Length,
    /// What is left of the roll before cutting, or the length of the offcut; `None` if not known.
    pub length: Option<Length>,
    /// From the loose end to the cut across the roll.
    pub used: Length,
    /// Words of the used length, such as `used 5.24 m`.
    pub used_words: String,
    /// Words of what stays, such as `stays on the roll: 9.76 m`; empty if nothing stays.
    pub rest_words: String,
    /// A length for the scale bar with its words, such as 1 m.
    pub scale: (Length, String),
    /// What the drawing's width stands for at least; the same for sheets that are compared, so that they
    /// have one scale.
    pub span: Length,
    /// The pieces.
    pub pieces: Vec<NestPiece>,
    /// What is kept.
    pub remainders: Vec<Remainder>,
    /// The edge of an offcut that is no rectangle.
    pub edge: Option<Outline>,
    /// Places that cannot be used.
    pub bad: Vec<Bounds>,
}

/// Width of the drawing, px.
const WIDE: f64 = 1000.0;
/// Room left and right of the film, px.
const SIDE: f64 = 16.0;
/// Room above each row for dimensions, px.
const HEAD: f64 = 40.0;
/// Radius of a number, px.
const DISC: f64 = 10.0;
/// Size of the words for what stays on the roll, px.
const REST_SIZE: f64 = 12.0;

/// Draws a roll or an offcut with its pieces. A long roll is broken into rows, each no longer than three
/// and a half times its width, so that pieces stay large enough to read; a piece that the break
/// cuts is drawn in both rows.
pub fn nest(sheet: &NestSheet, medium: Medium<'_>) -> String {
    let across = sheet.width.as_mm().max(1.0);
    let used = sheet.used.as_mm().max(1.0);
    let total = sheet.length.map_or(used, |l| l.as_mm().max(used));
    let rest = if sheet.rest_words.is_empty() { 0.0 } else { total - used };
    let longest = (3.5 * across).max(sheet.span.as_mm());
    let rows = (used / longest).ceil().clamp(1.0, 40.0);
    let each = used / rows;
    // A short rest is drawn to scale; a long one broken off.
    let share = (REST_SIZE * font::width_em(&sheet.rest_words, false) + 24.0) / (WIDE - 2.0 * SIDE);
    let shown_rest = if rest <= 0.0 { 0.0 } else { rest.min(each * share.min(0.4) / (1.0 - share.min(0.4))) };
    let unit = ((each + shown_rest).max(sheet.span.as_mm()) / (WIDE - 2.0 * SIDE)).max(across / 560.0);
    let mut pen = Pen::new(medium, unit);
    let pitch = across + (HEAD + 22.0) * unit;
    let rows = rows as usize;
    for row in 0..rows {
        let window = Window {
            from: each * row as f64,
            to: each * (row + 1) as f64,
            rest: if row + 1 == rows { shown_rest } else { 0.0 },
            broken: rest > shown_rest + 1.0,
            top: HEAD * unit + pitch * row as f64,
            across,
            first: row == 0,
            last: row + 1 == rows,
        };
        draw_row(&mut pen, sheet, &window);
    }
    let bottom = pitch * rows as f64;
    let (bar, words) = &sheet.scale;
    let y = bottom + 2.0 * unit;
    pen.dimension(SIDE * unit, SIDE * unit + bar.as_mm(), y, 12.0, words);
    let height = bottom + 14.0 * unit;
    let list: Vec<String> = sheet.pieces.iter().map(|p| format!("{} {}", p.number, p.name)).collect();
    let rest = if sheet.rest_words.is_empty() { String::new() } else { format!(" {}.", sheet.rest_words) };
    let said = format!("{} pieces: {}. {}.{rest}", list.len(), list.join(", "), sheet.used_words);
    pen.finish([0.0, 0.0, WIDE * unit, height], "nest", &sheet.title, &said)
}

/// One row of the drawing: a stretch of the roll.
struct Window {
    from: f64,
    to: f64,
    rest: f64,
    broken: bool,
    top: f64,
    across: f64,
    first: bool,
    last: bool,
}

impl Window {
    fn x(&self, along: f64, unit: f64) -> f64 {
        SIDE * unit + along - self.from
    }
}

fn draw_row(pen: &mut Pen<'_>, sheet: &NestSheet, w: &Window) {
    let u = pen.unit();
    let (left, cut) = (w.x(w.from, u), w.x(w.to, u));
    let right = cut + w.rest;
    let (top, bottom) = (w.top, w.top + w.across);
    film(pen, w, left, cut, right);
    let several = !(w.first && w.last);
    let clip = format!("{}-r{}", pen.id(), num(w.top));
    if several {
        pen.raw(&format!(
            "<clipPath id=\"{clip}\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath><g clip-path=\"url(#{clip})\">",
            num(left),
            num(top - 2.0 * u),
            num(cut - left),
            num(w.across + 4.0 * u)
        ));
    }
    let mut taken: Vec<Rect> = Vec::new();
    for r in &sheet.remainders {
        let b = r.outline.bounds();
        if b.high.x > w.from && b.low.x < w.to {
            let path = outline_path(&r.outline, w, u);
            pen.hatched_path(&path, Hatch::Offcut);
            pen.path("ln hair dash", &path);
        }
    }
    if let Some(edge) = &sheet.edge {
        pen.path("ln", &outline_path(edge, w, u));
    }
    for b in &sheet.bad {
        let (x0, x1) = (b.low.x.max(w.from), b.high.x.min(w.to));
        if x0 < x1 {
            let (y0, h) = (top + b.low.y, b.height().as_mm());
            pen.hatched_rect(w.x(x0, u), y0, x1 - x0, h, Hatch::Deep);
            pen.rect("ln hair", w.x(x0, u), y0, x1 - x0, h);
        }
    }
    for piece in &sheet.pieces {
        let b = piece.outline.bounds();
        if b.high.x > w.from && b.low.x < w.to {
            pen.path("ln fat fill", &outline_path(&piece.outline, w, u));
        }
    }
    if several {
        pen.raw("</g>");
    }
    numbers(pen, sheet, w, &mut taken);
    for r in &sheet.remainders {
        let (x0, x1) = (r.rectangle.low.x.max(w.from), r.rectangle.high.x.min(w.to));
        let wide = (x1 - x0) * 2.0 >= r.rectangle.width().as_mm();
        if wide {
            remainder_words(pen, r, w, (x0 + x1) / 2.0, x1 - x0, &mut taken);
        }
    }
    dimensions(pen, sheet, w, left, cut, right, bottom);
}

/// The film itself: two long edges, the loose end, the cut, and a break where it goes on.
fn film(pen: &mut Pen<'_>, w: &Window, left: f64, cut: f64, right: f64) {
    let u = pen.unit();
    let (top, bottom) = (w.top, w.top + w.across);
    let ends = right.max(cut);
    pen.path(
        "ln hair",
        &format!("M{} {}H{}M{} {}H{}", num(left), num(top), num(ends), num(left), num(bottom), num(ends)),
    );
    let wave = |x: f64| {
        let (q, a) = (w.across / 4.0, 5.0 * u);
        format!(
            "M{} {}C{} {} {} {} {} {}S{} {} {} {}",
            num(x),
            num(top),
            num(x + a),
            num(top + q),
            num(x + a),
            num(top + q),
            num(x),
            num(top + 2.0 * q),
            num(x - a),
            num(top + 3.0 * q),
            num(x),
            num(bottom)
        )
    };
    if w.first {
        pen.line("ln", left, top, left, bottom);
    } else {
        pen.path("ln hair", &wave(left));
    }
    if !w.last {
        pen.path("ln hair", &wave(cut));
    } else if w.rest > 0.0 {
        if w.broken {
            pen.path("ln hair", &wave(right));
        } else {
            pen.line("ln", right, top, right, bottom);
        }
    }
}

fn dimensions(
    pen: &mut Pen<'_>,
    sheet: &NestSheet,
    w: &Window,
    left: f64,
    cut: f64,
    right: f64,
    bottom: f64,
) {
    let u = pen.unit();
    let y = w.top - 18.0 * u;
    if w.last {
        pen.line("ln fat bl", cut, w.top - 8.0 * u, cut, bottom + 8.0 * u);
        let words = if w.first { sheet.used_words.clone() } else { format!("… {}", sheet.used_words) };
        let place = pen.dimension(left, cut, y, 13.0, &words);
        if w.rest > 0.0 {
            let beside = Text {
                x: cut + 12.0 * u,
                y: y + 0.35 * REST_SIZE * u,
                size: REST_SIZE,
                anchor: Anchor::Start,
                class: "t2",
                text: &sheet.rest_words,
            };
            // A rest too short for its words has them below the film, ending with it.
            let spot = pen.extent(beside);
            let fits = spot.x + spot.w <= WIDE * u && !spot.meets(&place);
            let below = Text { x: right, y: bottom + 22.0 * u, anchor: Anchor::End, ..beside };
            let rest = if fits { beside } else { below };
            pen.text(rest);
        }
    } else {
        let words = Text { x: cut, y, size: 12.0, anchor: Anchor::End, class: "t2", text: "goes on below" };
        pen.text(words);
    }
}

fn outline_path(outline: &Outline, w: &Window, u: f64) -> String {
    let mut d = String::new();
    for (i, p) in outline.points().iter().enumerate() {
        d.push(if i == 0 { 'M' } else { 'L' });
        d.push_str(&num(w.x(p.x, u)));
        d.push(' ');
        d.push_str(&num(w.top + p.y));
    }
    d.push('Z');
    d
}

/// Numbers of the pieces whose larger part lies in this row: inside their piece, as far from its edge as
/// can be, none on another.
fn numbers(pen: &mut Pen<'_>, sheet: &NestSheet, w: &Window, taken: &mut Vec<Rect>) {
    let u = pen.unit();
    let own: Vec<&NestPiece> = sheet
        .pieces
        .iter()
        .filter(|p| {
            let mid = p.outline.bounds().center().x;
            (mid >= w.from || w.first) && (mid < w.to || w.last)
        })
        .collect();
    let candidates: Vec<Vec<(Point, f64, f64)>> =
        own.iter().map(|p| places_inside(&p.outline, w, DISC * u)).collect();
    let chosen = label::settle(&candidates, |_, (c, clear, aside), others| {
        let crowded =
            others.iter().filter(|(_, (o, ..))| c.distance(*o).as_mm() < (2.0 * DISC + 3.0) * u).count();
        crowded as f64 * 1e4 - clear.min(3.0 * DISC * u) / u + aside / u / 100.0
    });
    for (piece, place) in own.iter().zip(chosen) {
        let center = place.map_or(piece.outline.centroid(), |(p, ..)| p);
        let (x, y) = (w.x(center.x, u), w.top + center.y);
        let number = piece.number.to_string();
        let size = if number.len() > 2 { 9.0 } else { 12.0 };
        pen.disc(x, y, DISC * u, size, &number);
        taken.push(Rect::around(x, y, 2.0 * DISC * u, 2.0 * DISC * u));
    }
}

/// Places inside a piece and inside the row, with their distances to the nearest edge, farthest first, and
/// to the middle. For
/// a piece narrower than a number these are the places along its middle.
fn places_inside(outline: &Outline, w: &Window, r: f64) -> Vec<(Point, f64, f64)> {
    let b = outline.bounds();
    let (x0, x1) = (b.low.x.max(w.from), b.high.x.min(w.to));
    let mut places = Vec::new();
    for j in 1..24 {
        for i in 1..24 {
            let p = Point::mm(
                x0 + (x1 - x0) * f64::from(i) / 24.0,
                b.low.y + (b.high.y - b.low.y) * f64::from(j) / 24.0,
            );
            let whole =
                p.x - r >= w.from && p.x + r <= w.to + w.rest && p.y - r >= 0.0 && p.y + r <= w.across;
            if whole && outline.contains(p) {
                let clear = outline
                    .edges()
                    .map(|(a, c)| label::off_line([a.x, a.y, c.x, c.y], p.x, p.y))
                    .fold(f64::INFINITY, f64::min);
                places.push((p, clear, p.distance(b.center()).as_mm()));
            }
        }
    }
    places.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.2.total_cmp(&b.2)));
    places.truncate(60);
    places
}

/// The words of a remainder on a plain patch, if they fit without touching a number.
fn remainder_words(pen: &mut Pen<'_>, r: &Remainder, w: &Window, mid: f64, wide: f64, taken: &mut Vec<Rect>) {
    let u = pen.unit();
    let y = w.top + r.rectangle.center().y + 4.5 * u;
    let words = Text { x: w.x(mid, u), y, size: 12.0, anchor: Anchor::Middle, class: "", text: &r.words };
    let place = pen.extent(words).grown(2.0 * u);
    let fits = place.w < wide && place.h < r.rectangle.height().as_mm();
    if fits && !taken.iter().any(|t| t.meets(&place)) {
        pen.patched(words);
        taken.push(place);
    }
}
