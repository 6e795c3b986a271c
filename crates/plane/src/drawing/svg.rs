//! SVG of a sheet.

use super::{Drawing, Layer};
use crate::svg::write::coordinate;
use crate::svg::{escaped, open_tag};
use std::fmt::Write;

pub(super) fn write(drawing: &Drawing) -> String {
    let mut out = open_tag(drawing.window);
    for layer in Layer::ALL {
        let color = match layer {
            Layer::Cut => "#d00",
            Layer::Marks => "#00c",
            Layer::Labels => "#000",
        };
        let _ = writeln!(
            out,
            "<g id=\"{}\" fill=\"none\" stroke=\"{color}\" stroke-width=\"0.2\">",
            layer.name()
        );
        for stroke in drawing.strokes.iter().filter(|s| s.layer == layer) {
            let mut d = String::new();
            for (i, p) in stroke.points.iter().enumerate() {
                let command = if i == 0 { "M" } else { "L" };
                let _ = write!(d, "{command}{} {}", coordinate(p.x), coordinate(p.y));
            }
            if stroke.closed {
                d.push('Z');
            }
            let _ = writeln!(out, "<path data-name=\"{}\" d=\"{d}\"/>", escaped(&stroke.name));
        }
        if layer == Layer::Labels {
            for label in &drawing.labels {
                let (x, y, h) =
                    (coordinate(label.at.x), coordinate(label.at.y), coordinate(label.height.as_mm()));
                let _ = writeln!(
                    out,
                    "<text x=\"{x}\" y=\"{y}\" font-size=\"{h}\" font-family=\"sans-serif\" text-anchor=\"middle\" dominant-baseline=\"central\" fill=\"{color}\" stroke=\"none\">{}</text>",
                    escaped(&label.text)
                );
            }
        }
        out.push_str("</g>\n");
    }
    out.push_str("</svg>\n");
    out
}
