//! The schedule: bays, air and people over some days, and the same in words.

use super::{missing, shop_of};
use crate::Template;
use crate::document::{Block, Cell, Column, Document, Section};
use crate::drawing::{Hatch, Medium, calendar};
use crate::sketch;
use crate::words::Words;
use job::Shop;
use studio::view::{CalendarView, LaneKind, StretchKind};

/// Makes the schedule of some days. `seal` is the head of the record.
pub fn schedule(shop: &Shop, view: &CalendarView, seal: &str) -> Document {
    let words = Words::of(shop, &view.zone);
    let mut sheet = shop_of(shop, Template::Schedule, view.now, &words, seal);
    sheet.landscape = true;
    sheet.subject = format!("{} days from {}", view.days, words.date(view.from));
    let mut doc = Document::new(Template::Schedule, sheet);
    let mut first = Vec::new();
    if let Some(problem) = &view.problem {
        first.push(Block::Note { title: "To mind.".into(), text: words.told(problem) });
    }
    let chart = sketch::calendar(view, 1240.0, &words, |_, _| None);
    if chart.rows.is_empty() {
        first.push(missing("No bays and no people are set up. They are added in the shop's settings."));
    } else {
        let alt = "Bays, air and people over the days; the table below says the same in words";
        first.push(doc.drawing(calendar(&chart, Medium::Alone), 100.0, alt, ""));
        first.push(Block::key(&[
            (Hatch::Cure, "cures or rests, nobody needed; runs through the night"),
            (Hatch::Dust, "dusty: no film"),
        ]));
        first.push(Block::Quiet {
            text: format!(
                "Nights and closed days are squeezed and tinted. Heavy frame: late. {}",
                view.quality
            ),
        });
    }
    doc.section(Section::new("", first));
    doc.section(Section::new("Promises", vec![promises(view, &words)]));
    if !view.moves.is_empty() {
        let moves = vec![Block::List { parts: view.moves.clone() }];
        doc.section(Section::new("What would move against the plan that people know", moves));
    }
    doc.section(Section::new("In words", vec![in_words(view, &words)]));
    doc
}

fn promises(view: &CalendarView, words: &Words) -> Block {
    let rows = view
        .promises
        .iter()
        .map(|(car, promised, end, late)| {
            let moment = |t: &Option<_>| t.map_or("–".to_owned(), |t| words.moment(t));
            vec![
                Cell::Strong {
                    text: car.name.clone(),
                    note: (!car.plate.is_empty()).then(|| car.plate.clone()),
                },
                Cell::text(car.id.to_string()),
                Cell::text(moment(promised)),
                Cell::text(moment(end)),
                late.as_ref().map_or(Cell::Blank, |l| Cell::Late { text: format!("{l} late") }),
            ]
        })
        .collect();
    let columns = vec![
        Column::words("Car"),
        Column::words("Job"),
        Column::words("Promised"),
        Column::words("Ready by this plan"),
        Column::wide(""),
    ];
    Block::table(columns, rows, "No open jobs.")
}

/// Stretches of the bays, by time, each once.
fn in_words(view: &CalendarView, words: &Words) -> Block {
    let mut list: Vec<_> = view
        .lanes
        .iter()
        .filter(|l| l.kind == LaneKind::Bay)
        .flat_map(|l| l.stretches.iter().map(move |s| (l, s)))
        .collect();
    list.sort_by(|a, b| a.1.from.cmp(&b.1.from).then(a.0.name.cmp(&b.0.name)));
    let who = |car: &Option<studio::view::CarTag>, step: &Option<job::StepNo>| -> String {
        let names = view.lanes.iter().filter(|l| l.kind == LaneKind::Person).filter(|l| {
            let same = |s: &studio::view::Stretch| {
                s.step == *step && s.car.as_ref().map(|c| &c.id) == car.as_ref().map(|c| &c.id)
            };
            l.stretches.iter().any(same)
        });
        names.map(|l| l.name.as_str()).collect::<Vec<_>>().join(", ")
    };
    let rows = list
        .into_iter()
        .map(|(lane, s)| {
            let people =
                if s.kind == StretchKind::Rest { "nobody needed".to_owned() } else { who(&s.car, &s.step) };
            vec![
                Cell::text(words.span(s.from, s.to)),
                Cell::strong(s.car.as_ref().map_or("–", |c| c.name.as_str())),
                Cell::text(s.what.clone()),
                Cell::text(lane.name.clone()),
                Cell::text(people),
                if s.late { Cell::Late { text: "late".into() } } else { Cell::Blank },
            ]
        })
        .collect();
    let columns = vec![
        Column::words("When"),
        Column::share("Car", "2fr"),
        Column::share("What", "4fr"),
        Column::share("Where", "1fr"),
        Column::share("Who", "2fr"),
        Column::words(""),
    ];
    Block::table(columns, rows, "Nothing is planned in these days.")
}
