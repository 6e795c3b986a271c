//! Thickness before and after: a bar for the 95 % range, a point, a heavy line at the floor.

use super::Medium;
use super::pen::{Anchor, Pen, Text};
use units::Thickness;

/// One row of a [`Strip`].
#[derive(Clone, Debug, PartialEq)]
pub struct StripLine {
    /// What it is, such as `before`.
    pub name: String,
    /// Lower end of the 95 % range.
    pub low: Thickness,
    /// Best estimate.
    pub point: Thickness,
    /// Upper end of the 95 % range.
    pub high: Thickness,
    /// The figure in words, as it stands at the right, such as `41 ± 4 µm`.
    pub words: String,
}

/// Thickness of one panel, before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// Which panel.
    pub title: String,
    /// Rows, from top to bottom.
    pub lines: Vec<StripLine>,
    /// The least that must stay, with its words, such as `floor 30 µm`.
    pub floor: Option<(Thickness, String)>,
    /// Both ends of the scale; `None` fits it to the rows. Give the same to strips that are compared.
    pub range: Option<(Thickness, Thickness)>,
}

const NAME: f64 = 64.0;
const PLOT: f64 = 260.0;
const WORDS: f64 = 130.0;
const ROW: f64 = 24.0;

/// Draws the strip, 454 px wide with 24 px a row.
pub fn strip(strip: &Strip, medium: Medium<'_>) -> String {
    let (low, high) = strip.range.unwrap_or_else(|| fitted(strip));
    let at = scale(low, high, NAME, NAME + PLOT);
    let mut pen = Pen::new(medium, 1.0);
    let head = if strip.floor.is_some() { 16.0 } else { 0.0 };
    let bottom = head + ROW * strip.lines.len() as f64;
    for (i, line) in strip.lines.iter().enumerate() {
        let y = head + ROW * (i as f64 + 0.5);
        let base = y + 4.5;
        pen.line("ln soft", NAME, y + 8.0, NAME + PLOT, y + 8.0);
        pen.text(Text { x: 0.0, y: base, size: 13.0, anchor: Anchor::Start, class: "t2", text: &line.name });
        range_bar(&mut pen, &at, line, y);
        let x = NAME + PLOT + WORDS;
        pen.text(Text { x, y: base, size: 13.0, anchor: Anchor::End, class: "b", text: &line.words });
    }
    if let Some((floor, words)) = &strip.floor {
        let x = at(*floor);
        pen.line("ln fat", x, head, x, bottom);
        let start = Text { x: x + 4.0, y: 11.0, size: 12.0, anchor: Anchor::Start, class: "t2", text: words };
        let fits = pen.extent(start).x + pen.extent(start).w < NAME + PLOT + WORDS;
        pen.text(if fits { start } else { Text { x: x - 4.0, anchor: Anchor::End, ..start } });
        pen.line("ln fat", x, 4.0, x, head);
    }
    let words = described(strip);
    pen.finish([0.0, 0.0, NAME + PLOT + WORDS, bottom + 2.0], "strip", &strip.title, &words)
}

/// The range of one estimate alone, 150 by 22 px, for a cell of a table.
pub fn range_cell(
    line: &StripLine,
    floor: Option<Thickness>,
    range: (Thickness, Thickness),
    medium: Medium<'_>,
) -> String {
    let at = scale(range.0, range.1, 4.0, 146.0);
    let mut pen = Pen::new(medium, 1.0);
    pen.line("ln soft", 0.0, 16.5, 150.0, 16.5);
    if let Some(floor) = floor {
        let x = at(floor);
        pen.line("ln fat", x, 3.0, x, 20.0);
    }
    range_bar(&mut pen, &at, line, 11.0);
    let floor = floor.map_or(String::new(), |f| format!(", floor {:.0} µm", f.as_um()));
    let plain = format!(
        "{:.0} µm, 95 % range {:.0} to {:.0} µm{floor}",
        line.point.as_um(),
        line.low.as_um(),
        line.high.as_um()
    );
    let words = if line.words.is_empty() { plain } else { line.words.clone() };
    pen.finish([0.0, 0.0, 150.0, 22.0], "cell fixed", &line.name, &words)
}

/// Two ranges one over the other, before and after, 150 by 26 px, for a cell of a table.
pub fn change_cell(
    title: &str,
    before: Option<&StripLine>,
    after: Option<&StripLine>,
    range: (Thickness, Thickness),
    medium: Medium<'_>,
) -> String {
    let at = scale(range.0, range.1, 4.0, 146.0);
    let mut pen = Pen::new(medium, 1.0);
    let mut said = Vec::new();
    for (line, y) in [(before, 7.0), (after, 18.0)] {
        if let Some(line) = line {
            range_bar(&mut pen, &at, line, y);
            said.push(format!("{}: {}", line.name, line.words));
        }
    }
    if before.is_some() {
        // Before is open, after is filled.
        let x = before.map_or(0.0, |l| at(l.point));
        pen.circle("ln fill", x, 7.0, 3.0);
    }
    pen.line("ln soft", 0.0, 24.5, 150.0, 24.5);
    let said = if said.is_empty() { "not measured".to_owned() } else { said.join("; ") };
    pen.finish([0.0, 0.0, 150.0, 26.0], "cell fixed", title, &said)
}

/// A scale in whole fives that holds all of some ends.
pub fn common_range(ends: impl IntoIterator<Item = Thickness>) -> (Thickness, Thickness) {
    let (low, high) = ends
        .into_iter()
        .filter(|t| t.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), t| (a.min(t.as_um()), b.max(t.as_um())));
    if low > high {
        return (Thickness::ZERO, Thickness::um(100.0));
    }
    (Thickness::um((low / 5.0 - 0.6).floor() * 5.0), Thickness::um((high / 5.0 + 0.6).ceil() * 5.0))
}

fn range_bar(pen: &mut Pen<'_>, at: &impl Fn(Thickness) -> f64, line: &StripLine, y: f64) {
    let (low, high) = (at(line.low), at(line.high));
    pen.line("ln mean", low, y, high, y);
    for x in [low, high] {
        pen.line("ln mean", x, y - 4.0, x, y + 4.0);
    }
    pen.circle("solid", at(line.point), y, 3.4);
}

/// Maps a thickness onto the drawing; what lies off the scale stands at its end.
fn scale(low: Thickness, high: Thickness, from: f64, to: f64) -> impl Fn(Thickness) -> f64 {
    let span = (high - low).as_um().max(1e-9);
    move |t| {
        let share = ((t - low).as_um() / span).clamp(0.0, 1.0);
        from + if share.is_finite() { share } else { 0.0 } * (to - from)
    }
}

/// A scale that holds every row and the floor.
fn fitted(strip: &Strip) -> (Thickness, Thickness) {
    let floor = strip.floor.iter().map(|f| f.0);
    common_range(strip.lines.iter().flat_map(|l| [l.low, l.high]).chain(floor))
}

fn described(strip: &Strip) -> String {
    let mut parts: Vec<String> = strip.lines.iter().map(|l| format!("{}: {}", l.name, l.words)).collect();
    parts.extend(strip.floor.iter().map(|f| f.1.clone()));
    parts.join("; ")
}
