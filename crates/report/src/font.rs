//! The one type of the house, carried in the program: DejaVu Sans, with widths for drawings.

use std::sync::LazyLock;
use typst::foundations::Bytes;
use typst::layout::Abs;
use typst::text::{
    Font, FontBook, FontInstance, FontStretch, FontStyle, FontVariant, FontVariations, FontWeight,
};
use typst::utils::LazyHash;

/// Family name, as templates and drawings ask for it.
pub(crate) const FAMILY: &str = "DejaVu Sans";

/// Every face the typesetter may use.
pub(crate) struct Faces {
    pub(crate) book: LazyHash<FontBook>,
    pub(crate) fonts: Vec<Font>,
}

/// The faces: regular and bold, and both again narrower for tables.
pub(crate) static FACES: LazyLock<Faces> = LazyLock::new(|| {
    let files: [&'static [u8]; 5] = [
        dejavu::sans::regular(),
        dejavu::sans::bold(),
        dejavu::sans_condensed::regular(),
        dejavu::sans_condensed::bold(),
        dejavu::sans_mono::regular(),
    ];
    let fonts: Vec<Font> = files.into_iter().flat_map(|file| Font::iter(Bytes::new(file))).collect();
    Faces { book: LazyHash::new(FontBook::from_fonts(&fonts)), fonts }
});

/// The two faces that drawings use, ready to be measured.
static MEASURED: LazyLock<[Option<FontInstance>; 2]> = LazyLock::new(|| {
    [FontWeight::REGULAR, FontWeight::BOLD].map(|weight| {
        let variant = FontVariant { style: FontStyle::Normal, weight, stretch: FontStretch::NORMAL };
        let index = FACES.book.select(&FAMILY.to_lowercase(), variant)?;
        Some(FACES.fonts.get(index)?.clone().instantiate(variant, Abs::pt(10.0), &FontVariations::default()))
    })
});

/// Width of a line of text in ems, without kerning. A page may show it in another sans, which is
/// seldom wider than this one.
pub(crate) fn width_em(text: &str, bold: bool) -> f64 {
    let Some(face) = &MEASURED[usize::from(bold)] else { return 0.65 * text.chars().count() as f64 };
    text.chars()
        .map(|c| {
            let glyph = face.ttf().glyph_index(c).map_or(0, |g| g.0);
            face.x_advance(glyph).map_or(0.65, |em| em.get())
        })
        .sum()
}
