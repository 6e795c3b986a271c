//! The arrival record: what came in, and in which state, before anything was touched.

use super::maps::maps;
use super::{Album, Photographs, car_of, cautions, findings, missing, or_dash};
use crate::Template;
use crate::document::{Block, Cell, Column, Document, Fact, Section};
use crate::drawing::{Medium, StripLine, common_range, range_cell};
use crate::sketch;
use crate::words::{Words, capital, counted};
use job::{Coverage, Finding, Moment, PictureId, Soil, Stage};
use std::collections::BTreeMap;
use studio::view::{CarView, PanelSurvey, SurveyView};
use units::Thickness;

/// Makes the arrival record: car, order, findings on the drawing, readings, photographs, signatures.
pub fn arrival(car: &CarView, survey: &SurveyView, album: Album<'_>) -> Document {
    let words = Words::of(&car.shop, &car.zone);
    let arrived = car.job.arrival.as_ref();
    let mut fields = vec![Fact::words("Customer", or_dash(&car.job.customer.name))];
    fields.push(Fact::words("In", arrived.map_or("not yet".to_owned(), |a| words.moment(a.at))));
    fields.push(Fact::words("Promised back", car.job.promised.map_or("–".to_owned(), |p| words.moment(p))));
    if let Some(km) = arrived.and_then(|a| a.odometer_km) {
        let (value, unit) = words.odometer(km);
        fields.push(Fact { label: "Odometer".into(), cell: Cell::figure(value, unit) });
    }
    if let Some(percent) = arrived.and_then(|a| a.energy_percent) {
        fields.push(Fact { label: "Fuel or charge".into(), cell: Cell::figure(percent.to_string(), "%") });
    }
    let mut doc = Document::new(Template::Arrival, car_of(car, Template::Arrival, fields));
    doc.section(Section::new("As it came in", state(car, &words)));
    doc.section(Section::new("The order", vec![order(car)]));
    let list: Vec<&Finding> = car.job.standing().filter(|f| f.found <= Stage::Survey).collect();
    let title = if list.is_empty() { "Findings".to_owned() } else { format!("Findings, {}", list.len()) };
    let blocks = findings(&mut doc, car, &list, 100.0, &words);
    doc.section(Section::new(title, blocks));
    let blocks = readings(&mut doc, car, survey, &words);
    doc.section(Section::new("Paint thickness", blocks));
    if survey.panels.iter().any(|p| p.readings.iter().any(|r| r.0.is_some())) {
        // Panels with something to mind come first.
        let mut list: Vec<&PanelSurvey> = survey.panels.iter().collect();
        list.sort_by_key(|p| p.warnings.is_empty());
        let blocks = maps(&mut doc, car, list.into_iter().map(|p| (p, Moment::Before)), &words);
        doc.section(Section::new("Panel maps", blocks));
    }
    let blocks = photographs(&mut doc, car, album);
    doc.section(Section::new("Photographs", blocks));
    let signed = arrived.and_then(|a| a.signed.as_ref());
    let customer =
        signed.map_or("Customer".to_owned(), |s| format!("Signed by {}, {}", s.name, words.moment(s.at)));
    let text = "Signed for the state recorded here. What is found later is shown with a price and a date before anybody works on it.";
    let note = Block::Quiet { text: text.into() };
    let lines = Block::Signatures { names: vec!["For the shop".into(), customer] };
    doc.section(Section::new("", vec![note, lines]));
    doc
}

fn state(car: &CarView, words: &Words) -> Vec<Block> {
    let Some(a) = &car.job.arrival else {
        return vec![missing(
            "The car has not been received. Its state is written down at the door, before anything is touched.",
        )];
    };
    let soil = match a.soil {
        Soil::Light => "light: dust and road film",
        Soil::Heavy => "heavy: road dirt all over",
        Soil::VeryHeavy => "very heavy: mud, salt or transport grime",
    };
    let mut rows = vec![
        Fact::words("Dirt", soil),
        Fact::words("Keys", counted(usize::from(a.keys), "key", "keys")),
        Fact::words("Warning lamps lit", or_dash(&a.lamps)),
        Fact::words("Belongings left in it", or_dash(&a.belongings)),
        Fact::words("VIN", or_dash(car.job.car.vin.as_deref().unwrap_or_default())),
        Fact::words("Year", car.job.car.year.map_or("–".to_owned(), |y| y.to_string())),
    ];
    if !a.note.is_empty() {
        rows.push(Fact::words("Note", a.note.clone()));
    }
    let mut blocks = vec![Block::Facts { columns: 3, rows }];
    blocks.extend(cautions(&car.cautions, words));
    blocks
}

fn order(car: &CarView) -> Block {
    let order = &car.job.order;
    let film = match &order.film {
        Coverage::None => "no film".to_owned(),
        Coverage::Front => "front".to_owned(),
        Coverage::FrontAndSides => "front and sides".to_owned(),
        Coverage::Whole => "whole car".to_owned(),
        Coverage::Panels(list) => super::panels(list),
    };
    let coatings: Vec<&str> = order.coatings.iter().map(|c| c.title()).collect();
    let mut rows = vec![
        Fact::words("Film", film),
        Fact::words("Correction", order.finish.title()),
        Fact::words("Coating", or_dash(&coatings.join(", "))),
        Fact::words("Old film to come off", or_dash(&super::panels(&order.remove_film))),
        Fact::words("Interior", if order.interior { "cleaned" } else { "–" }),
    ];
    if !order.note.is_empty() {
        rows.push(Fact::words("In the customer's words", order.note.clone()));
    }
    Block::Facts { columns: 3, rows }
}

/// One row for each panel that has readings or is worth a word.
pub(super) fn readings(doc: &mut Document, car: &CarView, survey: &SurveyView, words: &Words) -> Vec<Block> {
    let read: Vec<&PanelSurvey> = survey.panels.iter().filter(|p| !p.readings.is_empty()).collect();
    if read.is_empty() {
        return vec![missing(
            "No readings yet. They are taken in the survey, after the first wash, and stand in the handover \
             report too.",
        )];
    }
    let floor = car.shop.settings.floor;
    let line = |p: &PanelSurvey| -> Option<StripLine> {
        let e = p.estimate.as_ref()?;
        let half = e.clear.sd * 1.96;
        Some(StripLine {
            name: format!("{}, clear coat", p.title),
            low: e.clear.mean - half,
            point: e.clear.mean,
            high: e.clear.mean + half,
            words: sketch::range_words(e.clear.mean, e.clear.mean - half, e.clear.mean + half, floor, words),
        })
    };
    let lines: Vec<StripLine> = read.iter().filter_map(|p| line(p)).collect();
    let range = common_range(lines.iter().flat_map(|l| [l.low, l.high]).chain([floor]));
    let rows = read
        .iter()
        .map(|p| {
            let figure = |label: &str| {
                p.figures.iter().find(|f| f.label == label).map_or(Cell::Blank, |f| words.figure(f))
            };
            let strip = line(p).map_or(Cell::Blank, |l| {
                let alt = format!("{}: bar from {:.0} to {:.0} µm", l.name, l.low.as_um(), l.high.as_um());
                let alt = words.told(&alt);
                doc.small_drawing(range_cell(&l, Some(floor), range, Medium::Alone), &alt, 30.0)
            });
            vec![
                Cell::strong(p.title.clone()),
                Cell::figure(p.readings.len().to_string(), ""),
                figure("Total"),
                figure("Clear coat"),
                strip,
                figure("Least clear coat"),
            ]
        })
        .collect();
    let unit = words.thickness_unit();
    let scale = |t: Thickness| words.thickness(t);
    let columns = vec![
        Column::wide("Panel"),
        Column::figures("Spots"),
        Column::figures("Total"),
        Column::figures("Clear coat"),
        Column::words(&format!("{} to {} {unit}", scale(range.0), scale(range.1))),
        Column::figures("At least"),
    ];
    let bare: Vec<&str> = survey
        .panels
        .iter()
        .filter(|p| p.readings.is_empty() && p.readable)
        .map(|p| p.title.as_str())
        .collect();
    let mut blocks = vec![Block::Table {
        columns,
        rows,
        caption: Some(format!(
            "Clear coat is estimated from the total; the bar is the 95 % range, the heavy line the floor of {} \
             {unit}. \"At least\" is a one-sided bound for the thinnest place.",
            scale(floor)
        )),
        total: None,
        missing: String::new(),
    }];
    // What to mind is said once, with all the panels it is true of.
    let mut mind: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for p in &read {
        for (what, _) in &p.warnings {
            mind.entry(what).or_default().push(&p.title);
        }
    }
    if !mind.is_empty() {
        let parts = mind.iter().map(|(what, on)| {
            format!("{}: {}", capital(&words.told(what)).trim_end_matches('.'), on.join(", "))
        });
        blocks.push(Block::List { parts: parts.collect() });
    }
    if !bare.is_empty() {
        blocks.push(Block::Quiet { text: format!("Not measured: {}.", bare.join(", ")) });
    }
    blocks
}

fn photographs(doc: &mut Document, car: &CarView, album: Album<'_>) -> Vec<Block> {
    let mut list: Vec<(PictureId, String)> = Vec::new();
    for f in car.job.standing().filter(|f| f.found <= Stage::Survey) {
        let caption = format!("{}: {}, {}", f.no, f.kind.title(), f.place.panel.title());
        list.extend(f.pictures.iter().map(|p| (p.clone(), caption.clone())));
    }
    for entry in car.job.pictures.iter().filter(|e| e.stage <= Stage::Survey) {
        if list.iter().all(|(p, _)| *p != entry.picture) {
            let place = entry.place.as_ref().map_or(entry.name.clone(), |p| p.panel.title());
            list.push((entry.picture.clone(), place));
        }
    }
    if list.is_empty() {
        return vec![missing("No photographs were taken on arrival.")];
    }
    Photographs::new(&car.job).block(doc, album, &list, 3, 42.0)
}
