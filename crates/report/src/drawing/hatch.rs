//! The hatches: what a place or a stretch of time is. Denser is worse; none is an ornament.

use super::Medium;
use super::pen::Pen;

/// A hatch with a fixed meaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hatch {
    /// Severity light; stretch over the first level.
    Light,
    /// Severity marked; stretch over the second level.
    Marked,
    /// Severity deep.
    Deep,
    /// A whole panel that is covered, or that this step is about.
    Film,
    /// Time in which nobody is needed: cure, rest.
    Cure,
    /// Air not fit for film.
    Dust,
    /// An offcut that is kept.
    Offcut,
    /// Glass, on large drawings.
    Glass,
    /// Soft top and other fabric.
    Fabric,
}

/// How a hatch is drawn, in screen px before scaling.
pub(super) struct Lay {
    /// Ending of the pattern's id.
    pub(super) name: &'static str,
    /// Distance between lines.
    pub(super) pitch: f64,
    /// Weight of a line.
    pub(super) weight: f64,
    /// Turn of the whole, degrees.
    pub(super) turn: f64,
    /// What one tile holds.
    pub(super) tile: Tile,
}

/// What one tile of a hatch holds.
pub(super) enum Tile {
    /// One line.
    Line,
    /// Two crossing lines.
    Cross,
    /// A dot.
    Dot,
    /// A short dash.
    Dash,
}

impl Hatch {
    /// All of them, in the order of the keys.
    pub const ALL: [Self; 9] = [
        Self::Light,
        Self::Marked,
        Self::Deep,
        Self::Film,
        Self::Cure,
        Self::Dust,
        Self::Offcut,
        Self::Glass,
        Self::Fabric,
    ];

    pub(super) const fn lay(self) -> Lay {
        let (name, pitch, weight, turn, tile) = match self {
            Self::Light => ("s1", 10.0, 0.9, 45.0, Tile::Line),
            Self::Marked => ("s2", 5.5, 1.1, 45.0, Tile::Line),
            Self::Deep => ("s3", 5.0, 1.3, 45.0, Tile::Cross),
            Self::Film => ("film", 6.0, 1.1, 45.0, Tile::Line),
            Self::Cure => ("cure", 9.0, 0.6, -45.0, Tile::Line),
            Self::Dust => ("dust", 6.0, 0.9, 45.0, Tile::Dot),
            Self::Offcut => ("off", 8.0, 0.5, 0.0, Tile::Cross),
            Self::Glass => ("glass", 16.0, 0.5, 45.0, Tile::Line),
            Self::Fabric => ("fabric", 5.0, 0.5, 0.0, Tile::Dash),
        };
        Lay { name, pitch, weight, turn, tile }
    }

    /// In a word, for keys that give no better one.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Marked => "marked",
            Self::Deep => "deep",
            Self::Film => "film",
            Self::Cure => "cures or rests, nobody needed",
            Self::Dust => "dusty: no film",
            Self::Offcut => "offcut, kept",
            Self::Glass => "glass",
            Self::Fabric => "fabric",
        }
    }
}

/// A swatch of a hatch for a key, 34 by 18 px. It is hidden from screen readers: the word beside it
/// says the same.
pub fn key_swatch(hatch: Hatch, medium: Medium<'_>) -> String {
    let mut pen = Pen::new(medium, 1.0);
    pen.hatched_rect(0.5, 0.5, 33.0, 17.0, hatch);
    pen.rect("ln", 0.5, 0.5, 33.0, 17.0);
    pen.swatch(34.0, 18.0)
}
