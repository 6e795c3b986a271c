//! DXF of a sheet: release 12, which every cutter reads; units in the header for programs that look for them.

use super::{Drawing, Layer, Stroke};
use crate::Point;
use std::fmt::Write;

pub(super) fn write(drawing: &Drawing) -> String {
    let mut out = Pairs(String::new());
    let size = Point::mm(drawing.window.width().as_mm(), drawing.window.height().as_mm());
    out.text(0, "SECTION").text(2, "HEADER");
    out.text(9, "$ACADVER").text(1, "AC1009");
    out.text(9, "$INSUNITS").text(70, "4"); // millimeters
    out.text(9, "$EXTMIN").point(Point::default()).text(9, "$EXTMAX").point(size);
    out.text(0, "ENDSEC");
    out.text(0, "SECTION").text(2, "TABLES").text(0, "TABLE").text(2, "LAYER").text(70, "3");
    for layer in Layer::ALL {
        let color = match layer {
            Layer::Cut => "1",
            Layer::Marks => "5",
            Layer::Labels => "7",
        };
        out.text(0, "LAYER").text(2, layer.name()).text(70, "0").text(62, color).text(6, "CONTINUOUS");
    }
    out.text(0, "ENDTAB").text(0, "ENDSEC");
    out.text(0, "SECTION").text(2, "ENTITIES");
    for layer in Layer::ALL {
        for stroke in drawing.strokes.iter().filter(|s| s.layer == layer) {
            polyline(&mut out, drawing, stroke);
        }
    }
    for label in &drawing.labels {
        let at = drawing.upright(label.at);
        out.text(0, "TEXT").text(8, Layer::Labels.name()).point(at).number(40, label.height.as_mm());
        out.text(1, &plain(&label.text))
            .text(72, "1")
            .number(11, at.x)
            .number(21, at.y)
            .number(31, 0.0)
            .text(73, "2");
    }
    out.text(0, "ENDSEC").text(0, "EOF");
    out.0
}

fn polyline(out: &mut Pairs, drawing: &Drawing, stroke: &Stroke) {
    let layer = stroke.layer.name();
    out.text(0, "POLYLINE").text(8, layer).text(66, "1").point(Point::default());
    out.text(70, if stroke.closed { "1" } else { "0" });
    for p in &stroke.points {
        out.text(0, "VERTEX").text(8, layer).point(drawing.upright(*p));
    }
    out.text(0, "SEQEND").text(8, layer);
}

/// One line, no control characters, and only what release 12 knows.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii() && !c.is_ascii_control() { c } else { '?' }).collect()
}

/// Group codes and values, one line each.
struct Pairs(String);

impl Pairs {
    fn text(&mut self, code: u16, value: &str) -> &mut Self {
        let _ = writeln!(self.0, "{code:>3}\n{value}");
        self
    }

    fn number(&mut self, code: u16, value: f64) -> &mut Self {
        let _ = writeln!(self.0, "{code:>3}\n{:.6}", value + 0.0);
        self
    }

    fn point(&mut self, p: Point) -> &mut Self {
        self.number(10, p.x).number(20, p.y).number(30, 0.0)
    }
}
