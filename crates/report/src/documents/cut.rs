//! The cut sheet: pieces on rolls and offcuts to scale, and the list of pieces.

use super::{car_of, missing};
use crate::Template;
use crate::document::{Block, Cell, Column, Document, Fact, Section};
use crate::drawing::{Hatch, Medium, StretchLevels, nest, stretch_map};
use crate::sketch;
use crate::words::{Words, counted};
use job::CutState;
use studio::view::{CarView, FilmView};
use units::Length;

/// Makes the cut sheet.
pub fn cut(car: &CarView, view: &FilmView) -> Document {
    let words = Words::of(&car.shop, &car.zone);
    let copies: u32 = view.pieces.iter().map(|p| p.count).sum();
    let mut fields = vec![Fact::words("Pieces", copies.to_string())];
    let plan = car.job.cut.as_ref().or(view.plan.as_ref());
    if let Some(plan) = plan.filter(|p| !p.roll.is_empty()) {
        let rolls: Vec<job::RollCut> = plan.rolls().collect();
        let listed = |of: fn(&job::RollCut) -> &str| rolls.iter().map(of).collect::<Vec<_>>().join(", ");
        fields.push(Fact::words("Roll", listed(|r| &r.roll)));
        fields.push(Fact::words("Batch", super::or_dash(&listed(|r| &r.lot))));
    }
    fields.push(Fact::words("State", state(car)));
    let mut doc = Document::new(Template::Cut, car_of(car, Template::Cut, fields));
    let mut first: Vec<Block> =
        view.warnings.iter().map(|w| Block::caution("Mind this.", words.told(w))).collect();
    if let Some(problem) = &view.problem {
        first.push(Block::Note { title: "Nothing can be cut yet.".into(), text: words.told(problem) });
    }
    if view.drawings.is_empty() && view.problem.is_none() {
        first.push(missing("This order needs no film, so nothing is laid out."));
    }
    // One scale for all, unless a roll is so long that it is broken into rows.
    let span = view.drawings.iter().map(|d| d.used).fold(Length::ZERO, Length::max).min(Length::mm(5300.0));
    for cut in &view.drawings {
        let sheet = sketch::nest_sheet(cut, span, &words);
        first.push(Block::Heading { text: sheet.title.clone() });
        let alt = format!("{} to scale with {}", sheet.title, counted(cut.pieces.len(), "piece", "pieces"));
        first.push(doc.drawing(nest(&sheet, Medium::Alone), 100.0, &alt, ""));
    }
    if view.drawings.iter().any(|d| !d.rests.is_empty()) {
        first.push(Block::key(&[(Hatch::Offcut, "rest that is kept: write roll, batch and size on it")]));
    }
    doc.section(Section::new("On the film", first));
    if !view.figures.is_empty() {
        let rows = view.figures.iter().map(|f| Fact { label: f.label.clone(), cell: words.figure(f) });
        doc.section(Section::new("Figures", vec![Block::Facts { columns: 4, rows: rows.collect() }]));
    }
    stretched(&mut doc, view, &words);
    let rows = view
        .pieces
        .iter()
        .map(|p| {
            let ((w, unit), (h, _)) = (words.small_length(p.size.0), words.small_length(p.size.1));
            let (area, area_unit) = words.area(p.area);
            vec![
                Cell::Number { text: p.number.to_string() },
                Cell::strong(p.title.clone()),
                Cell::text(p.panel.title()),
                Cell::figure(p.count.to_string(), ""),
                Cell::figure(format!("{w} × {h}"), unit),
                Cell::figure(area, area_unit),
                if p.planning_only { Cell::Late { text: "planning only".into() } } else { Cell::Blank },
                Cell::Quiet { text: p.origin.clone() },
                Cell::Tick,
            ]
        })
        .collect();
    let columns = vec![
        Column::words(""),
        Column::share("Piece", "2fr"),
        Column::share("Panel", "2fr"),
        Column::figures("Count"),
        Column::figures("Size"),
        Column::figures("Area of one"),
        Column::words(""),
        Column::share("Outline from", "2fr"),
        Column::words("Cut"),
    ];
    let nothing = "No pieces. Load outlines into the job, or choose a coverage that has them.";
    doc.section(Section::new("Pieces", vec![Block::table(columns, rows, nothing)]));
    doc
}

/// Panels that were laid flat: where their film is stretched, and the way to cut it that was chosen.
fn stretched(doc: &mut Document, view: &FilmView, words: &Words) {
    let mut blocks = Vec::new();
    for flat in view.shapes.iter().filter_map(|s| s.flat.as_ref().ok()) {
        blocks.push(Block::Heading { text: flat.title.clone() });
        let map = sketch::flat_map(flat, words);
        let alt = format!("{}, worst {:.2} %", map.title, map.worst * 100.0);
        blocks.push(doc.drawing(stretch_map(&map, Medium::Alone), 100.0, &alt, ""));
        let key = StretchLevels::of(map.worst).key();
        let key: Vec<(Hatch, &str)> = key.iter().map(|(h, w)| (*h, w.as_str())).collect();
        if !key.is_empty() {
            blocks.push(Block::key(&key));
        }
        if let Some(chosen) = &flat.chosen {
            let (length, unit) = words.small_length(chosen.length);
            let (seen, _) = words.small_length(chosen.in_sight.unwrap_or(chosen.length));
            let rows = vec![
                Fact::words(
                    "Cut",
                    flat.plans
                        .iter()
                        .find(|p| p.name == chosen.plan)
                        .map_or_else(|| chosen.plan.clone(), |p| p.title.clone()),
                ),
                Fact { label: "Length of cuts".into(), cell: Cell::figure(length, unit) },
                Fact { label: "of it in sight".into(), cell: Cell::figure(seen, unit) },
                Fact {
                    label: "Worst stretch".into(),
                    cell: Cell::figure(format!("{:.2}", chosen.worst_percent), "%"),
                },
            ];
            blocks.push(Block::Facts { columns: 4, rows });
        }
        if flat.laid.is_none() {
            let rows = flat.figures.iter().map(|f| Fact { label: f.label.clone(), cell: words.figure(f) });
            blocks.push(Block::Facts { columns: 4, rows: rows.collect() });
        }
    }
    if !blocks.is_empty() {
        doc.section(Section::new("Stretch", blocks));
    }
}

fn state(car: &CarView) -> &'static str {
    match car.job.cut.as_ref().map(|c| c.state) {
        Some(CutState::Reserved) => "accepted, film set aside",
        Some(CutState::Cut) => "cut",
        Some(CutState::Undone) => "undone",
        None => "draft, film not set aside",
    }
}
