//! The change order: what turned up, what would be done, and what it costs, before anybody works on it.

use super::{Album, Photographs, car_of, findings, missing};
use crate::Template;
use crate::document::{Block, Cell, Column, Document, Fact, Section};
use crate::drawing::signature;
use crate::words::Words;
use job::{ChangeOrder, ChangeState, Finding, PictureId};
use studio::Figure;
use studio::view::CarView;
use units::{Duration, Money, Thickness};

/// Makes a change order. `figures` explain its money, hours and clear coat; without them the change order's
/// own are shown.
pub fn change(car: &CarView, change: &ChangeOrder, figures: &[Figure], album: Album<'_>) -> Document {
    let words = Words::of(&car.shop, &car.zone);
    let mut fields = vec![
        Fact::words("Change order", change.no.to_string()),
        Fact::words("Proposed", words.moment(change.at)),
        Fact::words("Customer", super::or_dash(&car.job.customer.name)),
        Fact::words("State", state(&change.state)),
    ];
    if !change.by.is_empty() {
        fields.push(Fact::words("By", change.by.clone()));
    }
    let mut doc = Document::new(Template::Change, car_of(car, Template::Change, fields));
    let reason = if change.reason.is_empty() {
        missing("No reason is written down. The customer needs one.")
    } else {
        Block::paragraph(change.reason.clone())
    };
    doc.section(Section::new("Why", vec![reason]));
    let list: Vec<&Finding> = change.findings.iter().filter_map(|no| car.job.finding(*no)).collect();
    if !list.is_empty() {
        let mut blocks = findings(&mut doc, car, &list, 78.0, &words);
        let pictures: Vec<(PictureId, String)> = list
            .iter()
            .flat_map(|f| f.pictures.iter().map(|p| (p.clone(), format!("{}: {}", f.no, f.kind.title()))))
            .collect();
        blocks.extend(Photographs::new(&car.job).block(&mut doc, album, &pictures, 3, 42.0));
        doc.section(Section::new("What turned up", blocks));
    }
    let mut rows: Vec<Fact> = if figures.is_empty() {
        own(change, &words)
    } else {
        figures.iter().map(|f| Fact { label: f.label.clone(), cell: words.figure(f) }).collect()
    };
    rows.push(Fact::words("Back then", change.back_by.map_or("as promised".to_owned(), |t| words.moment(t))));
    doc.section(Section::new("What it changes", vec![Block::Facts { columns: 4, rows }]));
    doc.section(Section::new("The whole scope then", vec![price(change, &words)]));
    let last = match &change.state {
        ChangeState::Agreed(s) => Block::Note {
            title: "Agreed.".into(),
            text: format!("{} agreed on {}.", s.name, words.moment(s.at)),
        },
        ChangeState::Declined(s) => Block::Note {
            title: "Declined.".into(),
            text: format!("{} declined on {}. The old scope stands.", s.name, words.moment(s.at)),
        },
        ChangeState::Proposed => Block::Signatures {
            names: vec!["Agreed: customer".into(), "Date".into(), "Declined: customer".into()],
        },
    };
    let note = Block::Quiet {
        text: "Nobody works on this before it is agreed. If it is declined, the old scope stands.".into(),
    };
    let mut blocks = vec![note];
    if !change.strokes.is_empty() {
        blocks.push(doc.drawing(signature(&change.strokes), 30.0, "Signature of the customer", ""));
    }
    blocks.push(last);
    doc.section(Section::new("Decision", blocks));
    doc
}

fn state(state: &ChangeState) -> &'static str {
    match state {
        ChangeState::Proposed => "waits for the customer",
        ChangeState::Agreed(_) => "agreed",
        ChangeState::Declined(_) => "declined",
    }
}

fn own(change: &ChangeOrder, words: &Words) -> Vec<Fact> {
    let sign = |more: bool| if more { "+" } else { "" };
    let money = format!("{}{}", sign(change.more > Money::ZERO), words.money(change.more));
    let less = change.more_hours < Duration::ZERO;
    let hours = words.duration(if less { -change.more_hours } else { change.more_hours });
    let hours = format!("{}{hours}", if less { "−" } else { "+" });
    let clear = format!("{}{:.1}", sign(change.more_clear > Thickness::ZERO), change.more_clear.as_um());
    vec![
        Fact {
            label: "To pay, tax included".into(),
            cell: Cell::Figure { value: money, pm: None, unit: None, strong: true },
        },
        Fact::words("Work", hours),
        Fact::words("Clear coat, panel that gives most", words.told(&format!("{clear} µm"))),
    ]
}

fn price(change: &ChangeOrder, words: &Words) -> Block {
    let quote = &change.quote;
    let mut rows: Vec<Vec<Cell>> = quote
        .lines
        .iter()
        .map(|l| {
            let quantity = Cell::Quiet { text: words.told(&l.quantity) };
            vec![Cell::text(words.told(&l.label)), quantity, Cell::figure(words.money(l.net), "")]
        })
        .collect();
    if !rows.is_empty() {
        rows.push(vec![
            Cell::Quiet { text: "Tax".into() },
            Cell::Blank,
            Cell::figure(words.money(quote.tax), ""),
        ]);
    }
    Block::Table {
        columns: vec![Column::words("What"), Column::wide("How much"), Column::figures("Amount")],
        total: (!rows.is_empty()).then(|| Fact {
            label: "To pay in all".into(),
            cell: Cell::Figure { value: words.money(quote.gross), pm: None, unit: None, strong: true },
        }),
        rows,
        caption: None,
        missing: "No price lines. The change is priced when it is proposed.".into(),
    }
}
