//! Film on a car, piece by piece: each piece can be tapped, or reached by keyboard, in a page.

use super::Medium;
use super::car::{Draw, Mark};
use super::drawn::{self, DrawnPath};
use super::hatch::Hatch;
use super::pen::{Pen, escaped, num};
use body::{Body, Spot, View};
use units::Length;

/// A piece of film on the drawing of a car.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmPiece {
    /// Its name.
    pub piece: String,
    /// The panel on which it lies.
    pub panel: String,
    /// Its corners on the upright drawing of the panel's main view, from the drawing's top left corner; none where the
    /// whole panel stands for it.
    pub corners: Vec<(Length, Length)>,
    /// How it is hatched.
    pub hatch: Hatch,
    /// In words, such as `Film on the hood, piece hood`.
    pub words: String,
    /// Where a tap leads, in a page.
    pub href: Option<String>,
}

/// A car's full sheet with its film and with numbered spots.
pub fn film_sheet(
    body: &Body,
    title: &str,
    film: &[FilmPiece],
    marks: &[Mark],
    medium: Medium<'_>,
) -> String {
    let drawn = drawn::sheet(body, true);
    Draw { body, drawn, unit: drawn.width / 1000.0, full: true, film }.on_sheet(title, marks, medium)
}

/// One upright view of a car with its film; for narrow screens.
pub fn film_view(
    body: &Body,
    view: View,
    title: &str,
    film: &[FilmPiece],
    marks: &[Mark],
    medium: Medium<'_>,
) -> String {
    let drawn = drawn::upright(body, view, true);
    let draw = Draw { body, drawn, unit: drawn.width / 480.0, full: false, film };
    draw.on_view(view, title, marks, medium)
}

impl Draw<'_> {
    /// The pieces that are seen in a view, over its panels.
    pub(super) fn film(&self, pen: &mut Pen<'_>, view: View, own: &[&DrawnPath]) {
        for piece in self.film {
            let main = self.body.panel(&piece.panel).is_some_and(|p| p.main_view == view);
            let shapes: Vec<String> = match (piece.corners.as_slice(), main) {
                ([], _) => own
                    .iter()
                    .filter(|p| p.panel == piece.panel && p.is_closed())
                    .map(|p| p.d.clone())
                    .collect(),
                (corners, true) => vec![self.outline(view, corners)],
                (_, false) => Vec::new(),
            };
            for (i, d) in shapes.iter().enumerate() {
                // A piece is one stop of the keyboard, however often it is drawn.
                self.piece(pen, piece, d, main && i == 0);
            }
        }
    }

    fn piece(&self, pen: &mut Pen<'_>, piece: &FilmPiece, d: &str, first: bool) {
        let href = piece.href.as_deref().filter(|_| pen.is_page());
        if let Some(href) = href {
            let stop = if first { "" } else { " tabindex=\"-1\" aria-hidden=\"true\"" };
            pen.raw(&format!(
                "<a href=\"{}\" data-piece=\"{}\" aria-label=\"{}\"{stop}>",
                escaped(href),
                escaped(&piece.piece),
                escaped(&piece.words)
            ));
        }
        let panel =
            if pen.is_page() { format!(" data-panel=\"{}\"", escaped(&piece.panel)) } else { String::new() };
        let fill = pen.hatch(piece.hatch);
        pen.raw(&format!("<path class=\"ed\" fill=\"{fill}\"{panel} d=\"{d}\"/>"));
        if href.is_some() {
            pen.raw("</a>");
        }
    }

    fn outline(&self, view: View, corners: &[(Length, Length)]) -> String {
        let mut d = String::new();
        for (i, (x, y)) in corners.iter().enumerate() {
            let (x, y) = if self.full { self.body.on_sheet(Spot { view, x: *x, y: *y }) } else { (*x, *y) };
            d.push(if i == 0 { 'M' } else { 'L' });
            d.push_str(&format!("{} {}", num(x.as_mm()), num(y.as_mm())));
        }
        d.push('Z');
        d
    }
}
