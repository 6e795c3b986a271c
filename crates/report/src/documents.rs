//! The documents of a job and of the shop, made from what the application shows. They add no rule of the
//! trade: what is not in a view is not in a document, and an empty part says what will come.

mod arrival;
mod change;
mod cut;
mod handover;
mod maps;
mod offer;
mod route;
mod schedule;

pub use arrival::arrival;
pub use change::change;
pub use cut::cut;
pub use handover::handover;
pub use offer::offer;
pub use route::route;
pub use schedule::schedule;

use crate::document::{Block, Cell, Column, Document, Fact, Image, Paper, Sheet};
use crate::drawing::{Hatch, Medium, car_sheet};
use crate::drawing::{mark_words, marked_photograph};
use crate::sketch;
use crate::words::Words;
use crate::{Picture, Template};
use jiff::Timestamp;
use job::{Finding, Job, PictureId, Shop};
use std::collections::BTreeMap;
use studio::view::{CarView, Caution};

/// Where photographs come from: upright and small enough to print, or nothing if it is not there.
pub type Album<'a> = &'a dyn Fn(&PictureId) -> Option<Picture>;

/// Most photographs in one document; the others are named as kept in the record.
const MOST_PHOTOGRAPHS: usize = 24;

/// The sheet of a document about a car.
fn car_of(car: &CarView, template: Template, fields: Vec<Fact>) -> Sheet {
    let mut subject = car.tag.name.clone();
    let color = car.tag.color.as_str();
    if !color.is_empty() && !subject.to_lowercase().contains(&color.to_lowercase()) {
        subject = format!("{subject}, {color}");
    }
    if !car.tag.plate.is_empty() {
        subject = format!("{subject}, {}", car.tag.plate);
    }
    let words = Words::of(&car.shop, &car.zone);
    let mut sheet = shop_of(&car.shop, template, car.now, &words, &car.seal);
    sheet.id = format!("{} {} {}", car.tag.id, template.name(), car.seal);
    sheet.subject = subject;
    sheet.job = car.tag.id.0.clone();
    sheet.fields = fields;
    sheet
}

/// The sheet of a document of the shop.
fn shop_of(shop: &Shop, template: Template, now: Timestamp, words: &Words, seal: &str) -> Sheet {
    let settings = &shop.settings;
    let name = if settings.name.is_empty() { "Studio" } else { settings.name.as_str() };
    let address = settings.address.split(['\n', ';']).map(str::trim).filter(|l| !l.is_empty());
    Sheet {
        id: format!("{} {seal}", template.name()),
        title: template.title().to_owned(),
        subject: name.to_owned(),
        job: "–".to_owned(),
        date: words.day(now),
        moment: now.to_string(),
        shop: name.to_owned(),
        address: std::iter::once(name).chain(address).map(str::to_owned).collect(),
        seal: short_seal(seal),
        paper: if settings.paper.contains("letter") { Paper::Letter } else { Paper::A4 },
        landscape: false,
        demo: settings.demo,
        fields: Vec::new(),
    }
}

/// Sixteen digits of a hash in groups of four: enough for people to compare.
fn short_seal(seal: &str) -> Option<String> {
    let digits: Vec<char> = seal.chars().filter(char::is_ascii_alphanumeric).take(16).collect();
    let groups: Vec<String> = digits.chunks(4).map(|c| c.iter().collect()).collect();
    (!groups.is_empty()).then(|| groups.join(" "))
}

/// Words, or a dash.
fn or_dash(text: &str) -> String {
    if text.trim().is_empty() { "–".to_owned() } else { text.trim().to_owned() }
}

/// A section's words when there is nothing to show.
fn missing(text: &str) -> Block {
    Block::Missing { text: text.to_owned() }
}

fn cautions(list: &[Caution], words: &Words) -> Vec<Block> {
    list.iter()
        .map(|c| Block::caution(format!("{}.", c.title.trim_end_matches('.')), words.told(&c.text)))
        .collect()
}

/// What was seen of a finding: size, depth, count, note.
fn seen(finding: &Finding, words: &Words) -> String {
    let mut parts = Vec::new();
    if let Some(count) = finding.count {
        parts.push(format!("{count} of them"));
    }
    if let Some(size) = finding.size {
        let (value, unit) = words.small_length(size);
        parts.push(format!("{value} {unit}"));
    }
    if let Some(depth) = finding.depth {
        parts.push(format!("{} {} deep", words.thickness(depth), words.thickness_unit()));
    }
    if !finding.note.is_empty() {
        parts.push(finding.note.clone());
    }
    parts.join(", ")
}

/// Findings on the drawing of the car (`width` percent of the text), the key of severities, and the table.
fn findings(doc: &mut Document, car: &CarView, list: &[&Finding], width: f64, words: &Words) -> Vec<Block> {
    if list.is_empty() {
        return vec![missing("No findings are recorded. What is found is put on the drawing of the car.")];
    }
    let marks: Vec<_> = list.iter().map(|f| sketch::mark(f)).collect();
    let drawing = car_sheet(car.body, "Findings on the car", &marks, Medium::Alone);
    let alt =
        format!("The car in five views with {} numbered findings; the table below names them", marks.len());
    let rows = list.iter().map(|f| {
        vec![
            Cell::Number { text: f.no.to_string() },
            Cell::strong(f.kind.title()),
            Cell::text(f.place.panel.title()),
            Cell::hatch(sketch::severity(f.severity).hatch(), f.severity.title()),
            Cell::text(seen(f, words)),
            Cell::Quiet { text: found(f, words) },
        ]
    });
    let columns = vec![
        Column::words(""),
        Column::share("Finding", "2fr"),
        Column::share("Panel", "2fr"),
        Column::words("Severity"),
        Column::share("What was seen", "5fr"),
        Column::share("Found", "3fr"),
    ];
    vec![
        doc.drawing(drawing, width, &alt, ""),
        Block::key(&[
            (Hatch::Light, "light: polish or wash"),
            (Hatch::Marked, "marked: reduce, or cover"),
            (Hatch::Deep, "deep: not worked on without consent"),
        ]),
        Block::table(columns, rows.collect(), ""),
    ]
}

fn found(finding: &Finding, words: &Words) -> String {
    let mut text = finding.found.title().to_owned();
    if finding.at != Timestamp::UNIX_EPOCH {
        text = words.moment(finding.at);
    }
    if !finding.by.is_empty() {
        text = format!("{text}, {}", finding.by);
    }
    text
}

/// Photographs with their captions, each picture in the file once.
struct Photographs<'a> {
    job: &'a Job,
    known: BTreeMap<PictureId, usize>,
}

impl<'a> Photographs<'a> {
    fn new(job: &'a Job) -> Self {
        Self { job, known: BTreeMap::new() }
    }

    fn image(
        &mut self,
        doc: &mut Document,
        album: Album<'_>,
        id: &PictureId,
        caption: &str,
    ) -> Option<Image> {
        let marks = self.job.marks_of(id);
        let caption = match marks {
            Some(of) => format!("{caption}. {}", mark_words(of)),
            None => caption.to_owned(),
        };
        let img = match self.known.get(id) {
            Some(img) => *img,
            None => {
                let photograph = album(id)?;
                let img = doc.picture(match marks {
                    Some(of) if photograph.starts_with(&[0xff, 0xd8]) => marked_photograph(&photograph, of),
                    _ => photograph,
                });
                self.known.insert(id.clone(), img);
                img
            }
        };
        Some(Image { img, alt: format!("Photograph: {caption}"), caption: Some(caption) })
    }

    /// A block of photographs, and a note on what is not shown.
    fn block(
        &mut self,
        doc: &mut Document,
        album: Album<'_>,
        list: &[(PictureId, String)],
        columns: usize,
        height: f64,
    ) -> Vec<Block> {
        let mut parts = Vec::new();
        let mut lost = 0;
        for (id, caption) in list.iter().take(MOST_PHOTOGRAPHS) {
            match self.image(doc, album, id, caption) {
                Some(image) => parts.push(image),
                None => lost += 1,
            }
        }
        let mut blocks = Vec::new();
        if !parts.is_empty() {
            blocks.push(Block::Photographs { columns, height, parts });
        }
        if lost > 0 {
            blocks.push(missing(&format!(
                "{lost} of these photographs could not be read from the store. The record still names them: \
                 check the store with verify."
            )));
        }
        if list.len() > MOST_PHOTOGRAPHS {
            let more = list.len() - MOST_PHOTOGRAPHS;
            blocks.push(Block::Quiet { text: format!("{more} more photographs are kept in the record.") });
        }
        blocks
    }
}

/// Names of panels in a line; many are counted.
fn panels(list: &[job::PanelId]) -> String {
    match list {
        [] => String::new(),
        few if few.len() <= 5 => few.iter().map(|p| p.title()).collect::<Vec<_>>().join(", "),
        many => format!("{} and {} more", panels(&many[..4]), many.len() - 4),
    }
}
