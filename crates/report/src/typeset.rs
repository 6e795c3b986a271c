//! Typst as a library: a small world with our templates, our type, the data and the pictures of one
//! document, and nothing else.
//!
//! All documents share the house style; what they hold and in which order is their data.

use crate::ReportError;
use crate::font::FACES;
use std::sync::LazyLock;
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World, WorldExt};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

/// Most pictures that one document may carry. Their virtual names are interned for the life of the
/// program, so they are few and fixed.
pub const MOST_PICTURES: usize = 600;

/// A picture of a document: SVG, JPEG, PNG, WebP or GIF, told by its first bytes.
pub type Picture = Vec<u8>;

/// Which document.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Template {
    /// What came in, in which state.
    Arrival,
    /// Options side by side.
    Offer,
    /// Steps in their order.
    Route,
    /// Pieces on rolls and offcuts.
    Cut,
    /// Bays and people over days.
    Schedule,
    /// What was done, and how to look after it.
    Handover,
    /// What changes, and what it costs.
    Change,
}

impl Template {
    /// All of them.
    pub const ALL: [Self; 7] =
        [Self::Arrival, Self::Offer, Self::Route, Self::Cut, Self::Schedule, Self::Handover, Self::Change];

    /// Its name for people.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Arrival => "Arrival record",
            Self::Offer => "Offer",
            Self::Route => "Route sheet",
            Self::Cut => "Cut sheet",
            Self::Schedule => "Schedule",
            Self::Handover => "Handover report",
            Self::Change => "Change order",
        }
    }

    /// Its name in files, such as `arrival`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Arrival => "arrival",
            Self::Offer => "offer",
            Self::Route => "route",
            Self::Cut => "cut",
            Self::Schedule => "schedule",
            Self::Handover => "handover",
            Self::Change => "change",
        }
    }
}

/// Sets a document as PDF. The same template, data and pictures give the same bytes.
///
/// The data is what the template reads; `sheet.id` names the document for good (the PDF's identifier)
/// and `sheet.moment`, an RFC 3339 instant, dates it. The PDF is tagged and made to PDF/A-2a and PDF/UA-1
/// where its content allows, so that it can be kept and read aloud; otherwise it is a plain tagged PDF.
///
/// # Errors
/// Too many pictures, a picture that cannot be printed, or a fault in a template, with its place.
pub fn typeset(
    template: Template,
    data: &serde_json::Value,
    pictures: &[Picture],
) -> Result<Vec<u8>, ReportError> {
    if pictures.len() > MOST_PICTURES {
        return Err(ReportError::TooManyPictures { given: pictures.len(), most: MOST_PICTURES });
    }
    let bytes = serde_json::to_vec(data).map_err(|e| ReportError::Data {
        document: template.title().to_lowercase(),
        reason: e.to_string(),
    })?;
    let desk = Desk {
        main: file("document.typ"),
        data: Bytes::new(bytes),
        pictures: pictures.iter().map(|p| Bytes::new(p.clone())).collect(),
    };
    let answer = desk.pdf(template, data);
    // Results of the last few documents stay, so that the templates are not read again each time.
    typst::comemo::evict(8);
    answer
}

/// Everything one document may read.
struct Desk {
    main: FileId,
    data: Bytes,
    pictures: Vec<Bytes>,
}

/// A fixed virtual file. Names come from this file alone, so the interner stays small.
fn file(name: &str) -> FileId {
    // A name of ours is always a valid path; the root stands in for one that is not.
    let path = VirtualPath::new(name).or_else(|_| VirtualPath::new("/"));
    match path {
        Ok(path) => RootedPath::new(VirtualRoot::Project, path).intern(),
        Err(_) => unreachable!("the root is a valid path"),
    }
}

/// The templates, parsed once.
static SOURCES: LazyLock<Vec<Source>> = LazyLock::new(|| {
    macro_rules! source {
        ($name:literal) => {
            Source::new(file($name), include_str!(concat!("../templates/", $name)).to_owned())
        };
    }
    vec![source!("house.typ"), source!("document.typ")]
});

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &FACES.book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        SOURCES.iter().find(|s| s.id() == id).cloned().ok_or_else(|| FileError::NotFound(name_of(id).into()))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let name = name_of(id);
        if name == "data.json" {
            return Ok(self.data.clone());
        }
        name.strip_prefix("img/")
            .and_then(|n| n.parse::<usize>().ok())
            .and_then(|n| self.pictures.get(n))
            .cloned()
            .ok_or_else(|| FileError::NotFound(name.into()))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FACES.fonts.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None // dates come with the data, so that a document can be made again
    }
}

fn name_of(id: FileId) -> &'static str {
    id.get().vpath().get_without_slash()
}

impl Desk {
    fn pdf(&self, template: Template, data: &serde_json::Value) -> Result<Vec<u8>, ReportError> {
        let fault = |errors: &[SourceDiagnostic]| self.explained(template, errors);
        let document = typst::compile::<PagedDocument>(self).output.map_err(|e| fault(&e))?;
        let text = |key: &str| data.get("sheet").and_then(|s| s.get(key)).and_then(|v| v.as_str());
        let options = |standards: PdfStandards| PdfOptions {
            ident: text("id").map_or(Smart::Auto, |id| Smart::Custom(id.to_owned())),
            creator: Smart::Custom(Some("Shutline".to_owned())),
            timestamp: text("moment").and_then(timestamp),
            standards,
            ..PdfOptions::default()
        };
        if let Ok(standards) = PdfStandards::new(&[PdfStandard::A_2a, PdfStandard::Ua_1])
            && let Ok(pdf) = typst_pdf::pdf(&document, &options(standards))
        {
            return Ok(pdf);
        }
        typst_pdf::pdf(&document, &options(PdfStandards::default())).map_err(|e| fault(&e))
    }

    /// The first error in our own words: a picture is the shop's, everything else is ours.
    fn explained(&self, template: Template, errors: &[SourceDiagnostic]) -> ReportError {
        let Some(first) = errors.first() else {
            return self.fault(template, "an unknown place", "no reason was given");
        };
        let place = first.span.id().map_or_else(
            || "an unknown place".to_owned(),
            |id| {
                let line = self.source(id).ok().and_then(|s| {
                    let at = self.range(first.span)?;
                    s.lines().byte_to_line(at.start).map(|l| l + 1)
                });
                line.map_or_else(|| name_of(id).to_owned(), |line| format!("{} line {line}", name_of(id)))
            },
        );
        let bad = self.pictures.iter().position(|p| !is_printable(p));
        if let Some(index) = bad {
            return ReportError::Picture {
                number: index + 1,
                reason: first.message.to_string(),
                hint: "take it out of the document, or save it again as JPEG or PNG and add it anew"
                    .to_owned(),
            };
        }
        self.fault(template, &place, &first.message)
    }

    fn fault(&self, template: Template, place: &str, reason: &str) -> ReportError {
        ReportError::Typeset {
            document: template.title().to_lowercase(),
            place: place.to_owned(),
            reason: reason.to_owned(),
            hint: "this is a fault of the program; the page on the screen shows the same content".to_owned(),
        }
    }
}

/// Whether the typesetter can read a picture.
fn is_printable(bytes: &Bytes) -> bool {
    use typst::visualize::{ExchangeFormat, RasterFormat, RasterImage, SvgImage};
    match ExchangeFormat::detect(bytes) {
        Some(format) => RasterImage::plain(bytes.clone(), RasterFormat::Exchange(format)).is_ok(),
        None => SvgImage::new(bytes.clone()).is_ok(),
    }
}

/// An RFC 3339 instant as PDF metadata, in UTC.
fn timestamp(moment: &str) -> Option<Timestamp> {
    let at: jiff::Timestamp = moment.parse().ok()?;
    let at = at.to_zoned_datetime(jiff::tz::TimeZone::UTC);
    let part = |v: i8| u8::try_from(v).ok();
    Datetime::from_ymd_hms(
        i32::from(at.year()),
        part(at.month())?,
        part(at.day())?,
        part(at.hour())?,
        part(at.minute())?,
        part(at.second())?,
    )
    .map(Timestamp::new_utc)
}
