//! SVG text of a body.

use crate::{Body, View};
use std::collections::BTreeMap;
use units::Length;

/// What a drawing shows.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetOptions {
    /// A whole document with its own style sheet, for looking at alone; otherwise a fragment of `<g>`
    /// elements without any style, for a page that brings its own.
    pub standalone: bool,
    /// `id` attributes: the panel's name in its main view, `hood--left` elsewhere. Leave them out if a page
    /// shows the same body twice.
    pub ids: bool,
    /// Fine lines: handles, spokes, plates, the center line.
    pub detail: bool,
    /// Further classes of panels by their id, such as `film` or `s2`, in every view.
    pub classes: BTreeMap<String, String>,
}

impl Default for SheetOptions {
    fn default() -> Self {
        SheetOptions { standalone: true, ids: true, detail: true, classes: BTreeMap::new() }
    }
}

/// SVG markup with the size of its space; one unit is one millimeter of the car.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// `<g>` elements without style; each path has the class of its kind and `data-panel`.
    pub markup: String,
    /// Width of the drawing.
    pub width: Length,
    /// Height of the drawing.
    pub height: Length,
}

impl Drawing {
    /// The value of a `viewBox` attribute that shows all of it.
    pub fn view_box(&self) -> String {
        format!("0 0 {} {}", self.width.as_mm(), self.height.as_mm())
    }
}

impl Body {
    /// The full sheet: the plan in the middle, the other views unfolded round it.
    pub fn sheet_svg(&self, _options: &SheetOptions) -> String {
        String::new()
    }

    /// The full sheet as a fragment for a page that brings its own style; `standalone` is not regarded.
    pub fn sheet_svg_fragment(&self, _options: &SheetOptions) -> Drawing {
        Drawing { markup: String::new(), width: Length::ZERO, height: Length::ZERO }
    }

    /// One view, upright, as a fragment without ids and style.
    pub fn view_svg_fragment(&self, view: View) -> Drawing {
        self.view_svg_with(view, &SheetOptions { ids: false, ..SheetOptions::default() })
    }

    /// One view, upright, as a fragment; `standalone` is not regarded.
    pub fn view_svg_with(&self, _view: View, _options: &SheetOptions) -> Drawing {
        Drawing { markup: String::new(), width: Length::ZERO, height: Length::ZERO }
    }
}
