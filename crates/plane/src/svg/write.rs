//! SVG text in millimeters.

use crate::{Bounds, Outline, Point};
use std::fmt::Write;

/// A coordinate in SVG text: to a tenth of a micrometer, without a tail of zeros.
pub(crate) fn coordinate(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// The path data of a closed ring.
pub fn path_data(points: &[Point]) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        let command = if i == 0 { "M" } else { "L" };
        let _ = write!(d, "{command}{} {}", coordinate(p.x), coordinate(p.y));
    }
    d.push('Z');
    d
}

/// Text safe inside an attribute or element.
pub fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// The opening tag of a drawing whose user unit is one millimeter.
pub fn open_tag(window: Bounds) -> String {
    let (x, y) = (coordinate(window.low.x), coordinate(window.low.y));
    let (w, h) = (coordinate(window.width().as_mm()), coordinate(window.height().as_mm()));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"{x} {y} {w} {h}\">\n"
    )
}

pub(super) fn write<'a>(outlines: impl IntoIterator<Item = (&'a str, &'a Outline)>) -> String {
    let mut body = String::new();
    let mut window: Option<Bounds> = None;
    for (name, outline) in outlines {
        let b = outline.bounds();
        window = Some(window.map_or(b, |w| w.and(b)));
        let d = path_data(outline.points());
        let _ = writeln!(
            body,
            "<path id=\"{}\" d=\"{d}\" fill=\"none\" stroke=\"black\" stroke-width=\"0.2\"/>",
            escaped(name)
        );
    }
    let empty = Bounds { low: Point::default(), high: Point::mm(1.0, 1.0) };
    format!("{}{body}</svg>\n", open_tag(window.unwrap_or(empty)))
}
