//! The route sheet: the steps in their order, each with its panels, products, time and reason.

use super::{car_of, cautions, missing};
use crate::Template;
use crate::document::{Block, Cell, Document, Fact, Section, StepRow};
use crate::words::{Words, counted};
use job::{Booking, StepState};
use studio::view::{CarView, Caution, RouteView, StepView};

/// Makes the route sheet.
pub fn route(car: &CarView, view: &RouteView) -> Document {
    let words = Words::of(&car.shop, &car.zone);
    let mut fields = vec![
        Fact::words("Steps", view.steps.len().to_string()),
        Fact::words("Work in all", words.duration(view.work)),
        Fact::words("Ready by the plan", car.ready.map_or("not planned".to_owned(), |t| words.moment(t))),
        Fact::words("Promised", car.job.promised.map_or("–".to_owned(), |t| words.moment(t))),
    ];
    if let Some(late) = &car.late {
        fields.push(Fact { label: "Late by".into(), cell: Cell::Late { text: late.clone() } });
    }
    let mut doc = Document::new(Template::Route, car_of(car, Template::Route, fields));
    let mut first = Vec::new();
    if !view.set {
        first.push(Block::Note {
            title: "A draft.".into(),
            text: "This route has not been set. It is what would be set now.".into(),
        });
    }
    for text in view.problem.iter().chain(&view.stale) {
        first.push(Block::Note { title: "To mind.".into(), text: words.told(text) });
    }
    for breach in &view.breaches {
        first.push(Block::caution("A rule is broken.", words.told(breach)));
    }
    for o in car.job.route.iter().flat_map(|r| &r.overrides) {
        let text = format!("{} Reason: {} Signed by {}.", o.rule, o.reason, o.signed.name);
        first.push(Block::caution("Done against a rule, by decision.", text));
    }
    first.extend(cautions(&car.cautions, &words));
    if !first.is_empty() {
        doc.section(Section::new("Before the first step", first));
    }
    let mut all: Vec<Caution> = view.steps.iter().flat_map(|s| s.cautions.iter().cloned()).collect();
    all.sort();
    all.dedup();
    if !all.is_empty() {
        let parts =
            all.iter().map(|c| Fact::words(c.title.trim_end_matches('.'), words.told(&c.text))).collect();
        let general = "These are general and stand once for all steps, which name them. The products' safety \
                       data sheets, the makers' instructions and local codes come first.";
        let blocks = vec![Block::Quiet { text: general.into() }, Block::Cautions { parts }];
        doc.section(Section::new("Cautions on this route", blocks));
    }
    let rows: Vec<StepRow> =
        view.steps.iter().enumerate().map(|(i, s)| row(i as u32 + 1, s, &words)).collect();
    let done = view.steps.iter().filter(|s| s.state == StepState::Done).count();
    let title = if done > 0 { format!("Steps, {done} of {} done", rows.len()) } else { "Steps".to_owned() };
    let blocks = if rows.is_empty() {
        vec![missing("No steps yet. The route follows from the findings and the order.")]
    } else {
        vec![Block::Steps { rows, missing: String::new() }]
    };
    doc.section(Section::new(title, blocks));
    doc
}

fn row(number: u32, step: &StepView, words: &Words) -> StepRow {
    let planned = &step.planned;
    // Lots that were used stand for the amounts that were planned.
    let recorded = step.record.iter().any(|r| !r.lots.is_empty());
    let mut with: Vec<String> = planned
        .products
        .iter()
        .filter(|_| !recorded)
        .map(|p| {
            let amount = format!("about {}", words.volume(p.amount));
            let mix = p.parts_water.map_or(String::new(), |w| format!(", 1 to {w:.0} with water"));
            let lots =
                step.lots.iter().filter(|(product, _)| *product == p.product).flat_map(|(_, lots)| lots);
            let lots: Vec<&str> = lots.map(|l| l.lot.as_str()).collect();
            let lots = if lots.is_empty() { String::new() } else { format!(", lot {}", lots.join(" or ")) };
            format!("{} {amount}{mix}{lots}", p.product)
        })
        .collect();
    let used = step.record.iter().flat_map(|r| &r.lots);
    with.extend(used.map(|l| format!("used {} of {}, lot {}", words.volume(l.amount), l.product, l.lot)));
    with.extend(step.wanted.iter().map(|w| words.told(w)));
    // The first reason is the one nearest to the work; the page has them all.
    let mut why: Vec<String> = planned.why.first().into_iter().map(|w| words.told(w)).collect();
    if planned.wait.as_minutes() > 0.0 {
        why.push(format!("Then wait {}.", words.duration(planned.wait)));
    }
    let mut warnings: Vec<String> = step.warnings.iter().map(|w| words.told(w)).collect();
    let titles: Vec<&str> = step.cautions.iter().map(|c| c.title.trim_end_matches('.')).collect();
    if !titles.is_empty() {
        warnings.push(titles.join(" · "));
    }
    let area = if planned.panels.is_empty() {
        String::new()
    } else if planned.area <= units::Area::ZERO {
        // Wheels and tires count by the piece.
        super::panels(&planned.panels)
    } else {
        let (value, unit) = words.area(planned.area);
        format!("{}, {value} {unit}", super::panels(&planned.panels))
    };
    StepRow {
        number,
        title: planned.title.clone(),
        panels: area,
        what: with.join("; "),
        why: why.join(" "),
        cautions: warnings,
        time: time(step, words),
        note: note(step, words),
    }
}

fn time(step: &StepView, words: &Words) -> Cell {
    match &step.state {
        StepState::Done => Cell::Tag { text: "done".into() },
        StepState::Dropped(_) => Cell::Tag { text: "dropped".into() },
        StepState::Running => Cell::Tag { text: "running".into() },
        StepState::Paused => Cell::Tag { text: "paused".into() },
        StepState::Todo => Cell::text(words.duration(step.planned.work)),
    }
}

/// Who, where and when, as planned or as it was.
fn note(step: &StepView, words: &Words) -> Option<String> {
    if let StepState::Dropped(why) = &step.state {
        return Some(why.clone());
    }
    if let Some(record) = step.record.as_ref().filter(|r| !r.spans.is_empty()) {
        let mut who: Vec<&str> =
            record.spans.iter().map(|s| s.by.as_str()).filter(|b| !b.is_empty()).collect();
        who.dedup();
        let from = record.spans.iter().map(|s| s.from).min()?;
        return Some(format!("{} {}", words.moment(from), who.join(", ")).trim().to_owned());
    }
    step.booking.as_ref().map(|b| booked(b, words))
}

fn booked(b: &Booking, words: &Words) -> String {
    let place = b.bay.as_deref().unwrap_or_default();
    let who =
        if b.people.len() > 2 { counted(b.people.len(), "person", "people") } else { b.people.join(", ") };
    let parts = [words.moment(b.from), place.to_owned(), who];
    parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", ")
}
