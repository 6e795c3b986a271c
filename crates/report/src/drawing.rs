//! Drawings as SVG text: ink lines, hatches, numbers.
//!
//! A drawing lands on a [`Medium`]: in a page it carries classes only and takes its colors from the
//! page's variables through [`STYLE`]; on its own (in a document, in a file) it carries explicit
//! colors and line widths. Both hold the same elements in the same places.

mod calendar;
mod car;
mod drawn;
mod film_map;
mod front;
mod hatch;
mod label;
mod marks;
mod nest;
mod panel;
mod pen;
mod signature;
mod stretch;
mod strip;

pub use calendar::{Bar, BarKind, Calendar, Day, Row, calendar};
pub use car::{Mark, car_mini, car_panels, car_sheet, car_view};
pub use film_map::{FilmPiece, film_sheet, film_view};
pub use front::{Front, FrontDot, front};
pub use hatch::{Hatch, key_swatch};
pub use marks::{mark_overlay, mark_words, marked_photograph};
pub use nest::{NestPiece, NestSheet, Remainder, nest};
pub use panel::{Contour, PanelMap, Spot, panel_map, sheet_map};
pub use pen::STYLE;
pub use signature::{signature, signature_path};
pub use stretch::{StretchLevels, StretchMap, stretch_map};
pub use strip::{Strip, StripLine, change_cell, common_range, range_cell, strip};

/// Where a drawing will stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Medium<'a> {
    /// Inside a web page that carries [`STYLE`]; `id` sets its hatches apart from those of other
    /// drawings on the same page and must be unique there (letters, digits, `-`).
    Page {
        /// Prefix of every id in the drawing.
        id: &'a str,
    },
    /// A file of its own, or a picture in a document: black ink on white.
    Alone,
}

/// How bad a finding is; drawn by the density of its hatch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Polish or wash.
    Light,
    /// Reduce, or cover.
    Marked,
    /// Not worked on without consent.
    Deep,
}

impl Severity {
    /// Its hatch.
    pub const fn hatch(self) -> Hatch {
        match self {
            Self::Light => Hatch::Light,
            Self::Marked => Hatch::Marked,
            Self::Deep => Hatch::Deep,
        }
    }
}
