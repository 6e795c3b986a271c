//! What a document holds: a sheet with its title block, and sections of plain blocks. The house style
//! says how each block looks; this says only what it is.

use crate::drawing::Hatch;
use crate::{Picture, ReportError, Template, typeset};
use serde::Serialize;

/// Paper of the shop.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub enum Paper {
    /// 210 by 297 mm.
    #[default]
    #[serde(rename = "a4")]
    A4,
    /// 8.5 by 11 in.
    #[serde(rename = "us-letter")]
    Letter,
}

/// The sheet a document is drawn on, and its title block.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Sheet {
    /// Names the document for good: job, kind and revision, such as `0412 arrival 1`.
    pub id: String,
    /// What it is, such as `Arrival record`.
    pub title: String,
    /// What it is about, such as `Juniper estate, dark green`.
    pub subject: String,
    /// Which job.
    pub job: String,
    /// The day it was made, for people.
    pub date: String,
    /// The moment it was made, RFC 3339; dates the PDF.
    pub moment: String,
    /// Name of the shop.
    pub shop: String,
    /// Its address and how to reach it, line by line.
    pub address: Vec<String>,
    /// Head of the record when this was made: the hash of its last entry, shortened for people.
    pub seal: Option<String>,
    /// Paper.
    pub paper: Paper,
    /// Whether the long side lies across.
    pub landscape: bool,
    /// Whether all content is invented.
    pub demo: bool,
    /// Facts under the title.
    pub fields: Vec<Fact>,
}

impl Sheet {
    /// Width and height for text, mm; the margins are those of the house style.
    fn text_area(&self) -> (f64, f64) {
        let (short, long) = match self.paper {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        };
        let (w, h) = if self.landscape { (long, short) } else { (short, long) };
        (w - 30.0, h - 38.0)
    }
}

/// Height over width of a drawing, from its `viewBox`.
fn shape(svg: &str) -> Option<f64> {
    let (_, rest) = svg.split_once("viewBox=\"")?;
    let mut numbers = rest.split_once('"')?.0.split(' ').skip(2).map(str::parse::<f64>);
    let (w, h) = (numbers.next()?.ok()?, numbers.next()?.ok()?);
    (w > 0.0).then(|| h / w)
}

/// A label with what it says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fact {
    /// Label.
    pub label: String,
    /// What it says.
    pub cell: Cell,
}

impl Fact {
    /// A label with plain words.
    pub fn words(label: &str, text: impl Into<String>) -> Self {
        Self { label: label.to_owned(), cell: Cell::text(text) }
    }
}

/// What stands in a cell of a table, or beside a label.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(tag = "k", rename_all = "snake_case")]
pub enum Cell {
    /// Words.
    Text {
        /// The words.
        text: String,
    },
    /// Words that name the row, with a note below.
    Strong {
        /// The words.
        text: String,
        /// The note.
        note: Option<String>,
    },
    /// Words of less weight.
    Quiet {
        /// The words.
        text: String,
    },
    /// A figure with half-width and unit, already rounded to what the half-width allows.
    Figure {
        /// The value.
        value: String,
        /// Half-width of the 95 % range.
        pm: Option<String>,
        /// The unit.
        unit: Option<String>,
        /// Whether it is the figure that matters.
        strong: bool,
    },
    /// A number in a disc, as on the drawings.
    Number {
        /// The number.
        text: String,
    },
    /// A hatch and its word.
    Hatch {
        /// Name of the hatch in the house style.
        hatch: &'static str,
        /// The word.
        text: String,
    },
    /// A state in a word.
    Tag {
        /// The word.
        text: String,
    },
    /// Late, tight, over: ink reversed.
    Late {
        /// By how much, in words.
        text: String,
    },
    /// An empty box to tick by hand.
    Tick,
    /// A small drawing.
    Picture {
        /// Which picture.
        img: usize,
        /// What it shows, for who cannot see it.
        alt: String,
        /// Width, mm of paper.
        width: f64,
    },
    /// Several, one below the other.
    Lines {
        /// From top to bottom.
        parts: Vec<Cell>,
    },
    /// Nothing.
    #[default]
    Blank,
}

impl Cell {
    /// Words.
    pub fn text(text: impl Into<String>) -> Self {
        Self::Text { text: text.into() }
    }

    /// Words that name the row.
    pub fn strong(text: impl Into<String>) -> Self {
        Self::Strong { text: text.into(), note: None }
    }

    /// A value with its unit.
    pub fn figure(value: impl Into<String>, unit: &str) -> Self {
        let unit = if unit.is_empty() { None } else { Some(unit.to_owned()) };
        Self::Figure { value: value.into(), pm: None, unit, strong: false }
    }

    /// A value with its half-width and unit.
    pub fn estimate(value: impl Into<String>, pm: impl Into<String>, unit: &str) -> Self {
        let unit = if unit.is_empty() { None } else { Some(unit.to_owned()) };
        Self::Figure { value: value.into(), pm: Some(pm.into()), unit, strong: false }
    }

    /// A hatch and its word.
    pub fn hatch(hatch: Hatch, text: impl Into<String>) -> Self {
        Self::Hatch { hatch: hatch_name(hatch), text: text.into() }
    }
}

/// The name of a hatch in the house style.
pub(crate) const fn hatch_name(hatch: Hatch) -> &'static str {
    match hatch {
        Hatch::Light => "light",
        Hatch::Marked => "marked",
        Hatch::Deep => "deep",
        Hatch::Film => "film",
        Hatch::Cure => "cure",
        Hatch::Dust => "dust",
        Hatch::Offcut => "offcut",
        Hatch::Glass | Hatch::Fabric => "plain",
    }
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Column {
    /// Its heading.
    pub title: String,
    /// Whether it holds figures, which stand right.
    pub right: bool,
    /// `auto`, or a share of what is left, such as `1fr`.
    pub width: &'static str,
}

impl Column {
    /// Words, as wide as they need.
    pub fn words(title: &str) -> Self {
        Self { title: title.to_owned(), right: false, width: "auto" }
    }

    /// Words that share what room is left, so many parts of it.
    pub fn share(title: &str, width: &'static str) -> Self {
        Self { title: title.to_owned(), right: false, width }
    }

    /// Words that take what room is left.
    pub fn wide(title: &str) -> Self {
        Self { title: title.to_owned(), right: false, width: "1fr" }
    }

    /// Figures.
    pub fn figures(title: &str) -> Self {
        Self { title: title.to_owned(), right: true, width: "auto" }
    }
}

/// A step of a route.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct StepRow {
    /// Its place in the order.
    pub number: u32,
    /// What is done.
    pub title: String,
    /// On which panels.
    pub panels: String,
    /// With what: product, lot, dilution, tool.
    pub what: String,
    /// Why now.
    pub why: String,
    /// Cautions that apply.
    pub cautions: Vec<String>,
    /// How long.
    pub time: Cell,
    /// Under the time: who, or when.
    pub note: Option<String>,
}

/// An option of an offer.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Card {
    /// Its name.
    pub title: String,
    /// A state in a word, such as `chosen`.
    pub tag: Option<String>,
    /// A line below the name.
    pub note: String,
    /// A drawing.
    pub picture: Option<Image>,
    /// The price.
    pub price: String,
    /// Its upper figure, such as `to $4,840`.
    pub range: String,
    /// What the two figures mean.
    pub price_note: String,
    /// Facts, one a row.
    pub rows: Vec<Fact>,
    /// Whether this is the one that was chosen, or advised.
    pub chosen: bool,
}

/// Two photographs of the same place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pair {
    /// What they show.
    pub title: String,
    /// Before the work.
    pub before: Image,
    /// After it.
    pub after: Image,
}

/// A picture in a document.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Image {
    /// Which picture.
    pub img: usize,
    /// What it shows, for who cannot see it.
    pub alt: String,
    /// Words below.
    pub caption: Option<String>,
}

/// A hatch of a key, with what it means here.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct KeyPart {
    /// Name of the hatch in the house style.
    pub hatch: &'static str,
    /// What it means.
    pub text: String,
}

/// A part of a section.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "k", rename_all = "snake_case")]
pub enum Block {
    /// Running words.
    Paragraph {
        /// The words.
        text: String,
    },
    /// Small words of less weight.
    Quiet {
        /// The words.
        text: String,
    },
    /// Short lines with dashes.
    List {
        /// The lines.
        parts: Vec<String>,
    },
    /// A heading inside a section.
    Heading {
        /// The words.
        text: String,
    },
    /// Labels with what they say, in columns.
    Facts {
        /// How many beside each other.
        columns: usize,
        /// The facts.
        rows: Vec<Fact>,
    },
    /// Rows that are compared.
    Table {
        /// Columns.
        columns: Vec<Column>,
        /// Rows, each as long as there are columns.
        rows: Vec<Vec<Cell>>,
        /// Words above.
        caption: Option<String>,
        /// A sum below, at the right.
        total: Option<Fact>,
        /// What to say instead when there are no rows.
        missing: String,
    },
    /// A drawing.
    Drawing {
        /// Which picture.
        img: usize,
        /// What it shows, for who cannot see it.
        alt: String,
        /// Words below.
        caption: Option<String>,
        /// Share of the width, percent.
        width: f64,
    },
    /// Photographs beside each other, never cropped.
    Photographs {
        /// How many beside each other.
        columns: usize,
        /// Height of each, mm of paper.
        height: f64,
        /// The photographs.
        parts: Vec<Image>,
    },
    /// Photographs of the same place before and after, each two beside each other.
    Pairs {
        /// Height of each, mm of paper.
        height: f64,
        /// The pairs.
        pairs: Vec<Pair>,
    },
    /// A caution, with a hatched strip at its left.
    Caution {
        /// First words.
        title: String,
        /// The rest.
        text: String,
    },
    /// Several cautions in one frame, with a hatched strip at its left.
    Cautions {
        /// Title and text of each.
        parts: Vec<Fact>,
    },
    /// A note.
    Note {
        /// First words.
        title: String,
        /// The rest.
        text: String,
    },
    /// What is not here yet, and how it comes here.
    Missing {
        /// The words.
        text: String,
    },
    /// The hatches used, with their meanings.
    Key {
        /// The hatches.
        parts: Vec<KeyPart>,
    },
    /// Steps of a route.
    Steps {
        /// The steps.
        rows: Vec<StepRow>,
        /// What to say instead when there are none.
        missing: String,
    },
    /// Options side by side.
    Cards {
        /// The options.
        cards: Vec<Card>,
    },
    /// Lines to sign on.
    Signatures {
        /// Who signs.
        names: Vec<String>,
    },
    /// Two columns.
    SideBySide {
        /// Left and right.
        sides: [Vec<Block>; 2],
    },
    /// What follows begins on a new page.
    PageBreak,
}

impl Block {
    /// Running words.
    pub fn paragraph(text: impl Into<String>) -> Self {
        Self::Paragraph { text: text.into() }
    }

    /// A caution.
    pub fn caution(title: impl Into<String>, text: impl Into<String>) -> Self {
        Self::Caution { title: title.into(), text: text.into() }
    }

    /// A table without caption and sum.
    pub fn table(columns: Vec<Column>, rows: Vec<Vec<Cell>>, missing: impl Into<String>) -> Self {
        Self::Table { columns, rows, caption: None, total: None, missing: missing.into() }
    }

    /// A key of hatches with their meanings.
    pub fn key(parts: &[(Hatch, &str)]) -> Self {
        let part =
            |(hatch, text): &(Hatch, &str)| KeyPart { hatch: hatch_name(*hatch), text: (*text).to_owned() };
        Self::Key { parts: parts.iter().map(part).collect() }
    }
}

/// A part of a document with a heading.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Section {
    /// The heading; empty for none.
    pub title: String,
    /// Whether it begins on a new page.
    pub new_page: bool,
    /// What it holds.
    pub blocks: Vec<Block>,
}

impl Section {
    /// A heading with what it holds.
    pub fn new(title: impl Into<String>, blocks: Vec<Block>) -> Self {
        Self { title: title.into(), new_page: false, blocks }
    }
}

/// A document ready to be set.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// Which.
    pub template: Template,
    /// Its sheet.
    pub sheet: Sheet,
    /// Its sections.
    pub sections: Vec<Section>,
    /// Its pictures, by number.
    pub pictures: Vec<Picture>,
}

impl Document {
    /// An empty document.
    pub fn new(template: Template, sheet: Sheet) -> Self {
        Self { template, sheet, sections: Vec::new(), pictures: Vec::new() }
    }

    /// Takes a picture in; returns its number.
    pub fn picture(&mut self, bytes: Picture) -> usize {
        self.pictures.push(bytes);
        self.pictures.len() - 1
    }

    /// A drawing, `width` percent of the text, or less where it would be higher than the page. `alt` says
    /// what it shows to who cannot see it.
    pub fn drawing(&mut self, svg: String, width: f64, alt: &str, caption: &str) -> Block {
        let page = self.sheet.text_area();
        let most = shape(&svg).map_or(100.0, |ratio| 100.0 * 0.82 * page.1 / (ratio * page.0));
        let img = self.picture(svg.into_bytes());
        let caption = if caption.is_empty() { None } else { Some(caption.to_owned()) };
        Block::Drawing { img, alt: alt.to_owned(), caption, width: width.min(most).max(5.0) }
    }

    /// A small drawing for a cell, so many mm wide.
    pub fn small_drawing(&mut self, svg: String, alt: &str, width: f64) -> Cell {
        Cell::Picture { img: self.picture(svg.into_bytes()), alt: alt.to_owned(), width }
    }

    /// Adds a section.
    pub fn section(&mut self, section: Section) {
        self.sections.push(section);
    }

    /// The data that the template reads.
    ///
    /// # Errors
    /// When it cannot be written as JSON.
    pub fn data(&self) -> Result<serde_json::Value, ReportError> {
        #[derive(Serialize)]
        struct Data<'a> {
            sheet: &'a Sheet,
            sections: &'a [Section],
        }
        serde_json::to_value(Data { sheet: &self.sheet, sections: &self.sections })
            .map_err(|e| ReportError::Data { document: self.sheet.title.clone(), reason: e.to_string() })
    }

    /// Sets it as PDF.
    ///
    /// # Errors
    /// See [`typeset`].
    pub fn pdf(&self) -> Result<Vec<u8>, ReportError> {
        typeset(self.template, &self.data()?, &self.pictures)
    }
}
