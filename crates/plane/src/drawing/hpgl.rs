//! HPGL of a sheet: one plotter unit is 0.025 mm (printer language technical reference manual, table 17-7).

use super::{Drawing, Layer};
use crate::Point;
use std::fmt::Write;

/// Plotter units to the millimeter.
const UNITS_PER_MM: f64 = 40.0;

pub(super) fn write(drawing: &Drawing) -> String {
    let at = |p: Point| {
        let p = drawing.upright(p);
        format!("{:.0},{:.0}", p.x * UNITS_PER_MM + 0.0, p.y * UNITS_PER_MM + 0.0).replace("-0,", "0,")
    };
    let mut out = String::from("IN;PA;\n");
    for layer in Layer::ALL {
        let strokes: Vec<_> =
            drawing.strokes.iter().filter(|s| s.layer == layer && s.points.len() > 1).collect();
        let labels = if layer == Layer::Labels { &drawing.labels[..] } else { &[] };
        if strokes.is_empty() && labels.is_empty() {
            continue;
        }
        let _ = writeln!(out, "SP{};", layer.pen());
        for stroke in strokes {
            let _ = write!(out, "PU{};PD", at(stroke.points[0]));
            let closing = stroke.closed.then(|| stroke.points[0]);
            let rest: Vec<String> = stroke.points[1..].iter().copied().chain(closing).map(&at).collect();
            let _ = writeln!(out, "{};PU;", rest.join(","));
        }
        for label in labels {
            // SI: width and height of a character in cm; LO5: the text is centered; LB ends with ETX
            let height = label.height.as_mm() / 10.0;
            let text: String = label
                .text
                .chars()
                .map(|c| if c.is_ascii() && !c.is_ascii_control() { c } else { '?' })
                .collect();
            let _ = writeln!(out, "PU{};SI{:.3},{height:.3};LO5;LB{text}\u{3};", at(label.at), height * 0.7);
        }
    }
    out.push_str("PU0,0;SP0;\n");
    out
}
