//! A front of choices: what each costs against what it leaves, and which of them are allowed.

use super::Medium;
use super::pen::{Anchor, Pen, Text, num};

/// One choice.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontDot {
    /// What it costs, in the unit of the axis across.
    pub x: f64,
    /// What it leaves, in the unit of the axis up.
    pub y: f64,
    /// Whether it is allowed: a filled dot; else an open one.
    pub allowed: bool,
    /// Whether it is the one that is advised: a ring around it.
    pub advised: bool,
    /// Whether another choice is better in both: a dot beside the line.
    pub beaten: bool,
    /// The choice in words, for those who do not see the drawing.
    pub words: String,
}

/// Choices between two goods.
#[derive(Clone, Debug, PartialEq)]
pub struct Front {
    /// What is chosen, such as `Hood: removal against remaining mark`.
    pub title: String,
    /// Words of the axis across with its unit.
    pub across: String,
    /// Words of the axis up with its unit.
    pub up: String,
    /// Choices, by rising `x`.
    pub dots: Vec<FrontDot>,
    /// What is wanted of `y`: a dashed line with its words.
    pub wanted: Option<(f64, String)>,
    /// Most of `x` that is there: a heavy line with its words.
    pub most: Option<(f64, String)>,
}

const WIDE: f64 = 360.0;
const HIGH: f64 = 170.0;
const LEFT: f64 = 34.0;
const TOP: f64 = 22.0;
const FOOT: f64 = 36.0;

/// Draws the front, 360 by 170 px.
pub fn front(front: &Front, medium: Medium<'_>) -> String {
    let mut pen = Pen::new(medium, 1.0);
    let xs = front.dots.iter().map(|d| d.x).chain(front.most.iter().map(|m| m.0));
    let ys = front.dots.iter().map(|d| d.y).chain(front.wanted.iter().map(|w| w.0));
    let (step_x, end_x) = axis(xs.fold(0.0, f64::max));
    let (step_y, end_y) = axis(ys.fold(0.0, f64::max));
    let at = |x: f64, y: f64| {
        let across = LEFT + x / end_x * (WIDE - LEFT - 14.0);
        (across, HIGH - FOOT - y / end_y * (HIGH - FOOT - TOP))
    };
    let (x0, y0) = at(0.0, 0.0);
    let (x1, y1) = at(end_x, end_y);
    pen.line("ln", x0, y0, x1, y0);
    pen.line("ln", x0, y0, x0, y1);
    for i in 0..=(end_x / step_x).round() as usize {
        let (x, y) = at(i as f64 * step_x, 0.0);
        pen.line("ln hair", x, y, x, y + 4.0);
        pen.text(small(x, y + 16.0, Anchor::Middle, &num(i as f64 * step_x)));
    }
    for i in 1..=(end_y / step_y).round() as usize {
        let (x, y) = at(0.0, i as f64 * step_y);
        pen.line("ln hair", x - 4.0, y, x, y);
        pen.text(small(x - 7.0, y + 4.0, Anchor::End, &num(i as f64 * step_y)));
    }
    pen.text(small(x1, HIGH - 4.0, Anchor::End, &front.across));
    pen.text(small(0.0, 12.0, Anchor::Start, &front.up));
    if let Some((x, words)) = &front.most {
        let (x, _) = at(*x, 0.0);
        pen.line("ln fat", x, y1 - 4.0, x, y0);
        let beside =
            Text { x: x - 5.0, y: y1 + 6.0, size: 12.0, anchor: Anchor::End, class: "", text: words };
        let fits = pen.extent(beside).x > x0 + 4.0;
        pen.patched(if fits { beside } else { Text { x: x + 5.0, anchor: Anchor::Start, ..beside } });
    }
    if let Some((y, words)) = &front.wanted {
        let (_, y) = at(0.0, *y);
        pen.line("ln dash", x0, y, x1, y);
        pen.patched(Text { x: x1, y: y - 5.0, size: 12.0, anchor: Anchor::End, class: "", text: words });
    }
    let line: Vec<&FrontDot> = front.dots.iter().filter(|d| !d.beaten).collect();
    for pair in line.windows(2) {
        let ((ax, ay), (bx, by)) = (at(pair[0].x, pair[0].y), at(pair[1].x, pair[1].y));
        pen.path("ln hair", &format!("M{} {}H{}V{}", num(ax), num(ay), num(bx), num(by)));
    }
    for dot in &front.dots {
        let (x, y) = at(dot.x, dot.y);
        pen.circle(if dot.allowed { "solid" } else { "ln fill" }, x, y, 4.0);
        if dot.advised {
            pen.circle("ln mean", x, y, 8.0);
        }
    }
    let words: Vec<&str> = front.dots.iter().map(|d| d.words.as_str()).collect();
    pen.finish([0.0, 0.0, WIDE, HIGH], "front", &front.title, &format!("{}.", words.join("; ")))
}

fn small(x: f64, y: f64, anchor: Anchor, text: &str) -> Text<'_> {
    Text { x, y, size: 12.0, anchor, class: "t2", text }
}

/// Step and end of an axis from zero that holds `most`: steps of 1, 2 or 5 times a power of ten, five of them at most.
fn axis(most: f64) -> (f64, f64) {
    if !(most.is_finite() && most > 0.0) {
        return (1.0, 1.0);
    }
    let magnitude = 10f64.powf((most / 5.0).log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * magnitude).into_iter().find(|s| most / s <= 5.0);
    let step = step.unwrap_or(10.0 * magnitude);
    (step, (most / step).ceil() * step)
}
