//! Rings and arrows over a photograph, with their numbers.
//!
//! On a photograph no color of the page is sure to be seen: every line is dark with a light rim.

use super::pen::escaped;
use crate::font;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use job::{MarkShape, MarkedPicture};
use std::fmt::Write;

/// Width of the field, thousandths of the picture's width.
const WIDE: f64 = 1000.0;

/// Dark and light of the lines.
const LINES: [(&str, f64); 2] = [("#fff", 13.0), ("#1d45b0", 6.0)];

/// The marks as a drawing that lies over the picture in a page; it says nothing to screen readers, [`mark_words`] does.
pub fn mark_overlay(of: &MarkedPicture) -> String {
    format!(
        "<svg class=\"marks\" viewBox=\"0 0 1000 {}\" aria-hidden=\"true\" focusable=\"false\">{}</svg>",
        of.tall.max(1),
        shapes(of)
    )
}

/// The photograph with its marks as one picture, for documents: the JPEG as it is, the marks over it.
pub fn marked_photograph(jpeg: &[u8], of: &MarkedPicture) -> Vec<u8> {
    let tall = of.tall.max(1);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1000 {tall}\" width=\"1000\" height=\"{tall}\">\
         <image href=\"data:image/jpeg;base64,{}\" width=\"1000\" height=\"{tall}\" preserveAspectRatio=\"none\"/>{}</svg>",
        STANDARD.encode(jpeg),
        shapes(of)
    )
    .into_bytes()
}

/// The marks in words: `1: chip by the badge; 2`.
pub fn mark_words(of: &MarkedPicture) -> String {
    let one = |m: &job::PictureMark| match m.text.as_str() {
        "" => m.no.to_string(),
        text => format!("{}: {text}", m.no),
    };
    of.marks.iter().map(one).collect::<Vec<_>>().join("; ")
}

fn shapes(of: &MarkedPicture) -> String {
    let mut out = String::new();
    for mark in &of.marks {
        let (line, head, at) = match mark.shape {
            MarkShape::Ring { x, y, r } => {
                let [x, y, r] = [x, y, r].map(f64::from);
                let leg = r * std::f64::consts::FRAC_1_SQRT_2;
                (format!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>"), String::new(), [x + leg, y - leg])
            }
            MarkShape::Arrow { x, y, to_x, to_y } => {
                let [x, y, to_x, to_y] = [x, y, to_x, to_y].map(f64::from);
                (format!("<path d=\"M{x} {y}L{to_x} {to_y}\"/>"), head([x, y], [to_x, to_y]), [x, y])
            }
        };
        for (color, width) in LINES {
            // writing to a text cannot fail
            let _ = write!(
                out,
                "<g fill=\"none\" stroke=\"{color}\" stroke-width=\"{width}\" stroke-linecap=\"round\" stroke-linejoin=\"round\">{line}{head}</g>"
            );
        }
        let [x, y] =
            [at[0].clamp(24.0, WIDE - 24.0), at[1].clamp(24.0, (f64::from(of.tall) - 24.0).max(24.0))];
        let _ = write!(
            out,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"22\" fill=\"#1d45b0\" stroke=\"#fff\" stroke-width=\"4\"/>\
             <text x=\"{x:.1}\" y=\"{:.1}\" font-size=\"28\" font-family=\"{}, sans-serif\" font-weight=\"700\" text-anchor=\"middle\" fill=\"#fff\">{}</text>",
            y + 10.0,
            escaped(font::FAMILY),
            mark.no
        );
    }
    out
}

/// Two strokes at an arrow's point.
fn head([x, y]: [f64; 2], [to_x, to_y]: [f64; 2]) -> String {
    let along = (to_y - y).atan2(to_x - x);
    let long = ((to_x - x).hypot(to_y - y) * 0.5).min(45.0);
    let end = |turn: f64| {
        let a = along + std::f64::consts::PI + turn;
        format!("{:.1} {:.1}", to_x + long * a.cos(), to_y + long * a.sin())
    };
    format!("<path d=\"M{}L{to_x} {to_y}L{}\"/>", end(0.5), end(-0.5))
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::PictureMark;

    fn marked() -> MarkedPicture {
        let at = jiff::Timestamp::UNIX_EPOCH;
        let mark = |no, shape, text: &str| PictureMark { no, shape, text: text.into(), at, by: "Mei".into() };
        MarkedPicture {
            picture: "00ff".into(),
            tall: 667,
            marks: vec![
                mark(1, MarkShape::Ring { x: 500, y: 300, r: 100 }, "chip <small>"),
                mark(3, MarkShape::Arrow { x: 100, y: 100, to_x: 200, to_y: 100 }, ""),
            ],
            given: 3,
        }
    }

    #[test]
    fn marks_lie_where_they_were_drawn() {
        let svg = mark_overlay(&marked());
        assert!(svg.contains("viewBox=\"0 0 1000 667\"") && svg.contains("cx=\"500\" cy=\"300\" r=\"100\""));
        assert!(svg.contains("M100 100L200 100") && svg.contains(">1</text>") && svg.contains(">3</text>"));
        // The head's strokes end behind the point, on both sides of the line: 45 long, half a radian off.
        assert!(svg.contains("M160.5 78.4L200 100L160.5 121.6"), "{svg}");
        assert_eq!(mark_words(&marked()), "1: chip <small>; 3");
    }

    #[test]
    fn a_marked_photograph_holds_the_jpeg_as_it_is() {
        let jpeg = studio::picture::stand_in(2).unwrap_or_default();
        let svg = String::from_utf8(marked_photograph(&jpeg, &marked())).unwrap_or_default();
        let start = svg.find("base64,").map_or(0, |i| i + 7);
        let end = svg[start..].find('"').map_or(start, |i| start + i);
        assert_eq!(STANDARD.decode(&svg[start..end]).ok(), Some(jpeg));
    }
}
