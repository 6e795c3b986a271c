//! The search, from the outside.

use crate::verify::figures;
use crate::work::Nester;
use crate::{Config, Instance, InstanceFlaw, Layout, Placement};
use effort::Effort;
use units::Length;

/// Clearance added at each try after a layout failed the check, mm: rounding of the search is far below.
const WIDENING: [f64; 4] = [0.0, 0.01, 0.1, 1.0];

/// What came of it: always a layout that passed the check, and reasons for what is not in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// Verified; complete when there are no reasons.
    pub layout: Layout,
    /// Why pieces are missing.
    pub reasons: Vec<Reason>,
}

impl Outcome {
    /// Whether every piece lies in the layout.
    pub fn is_complete(&self) -> bool {
        self.reasons.is_empty()
    }
}

/// Why a piece is not in the layout, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Reason {
    /// The job makes no sense as given.
    #[error("{0}")]
    Instance(InstanceFlaw),
    /// Larger than everything there is.
    #[error("piece '{piece}' needs at least {:.1} mm across; the widest film '{container}' gives {:.1} mm inside its margins: split the piece with a seam, or take wider film", needed.as_mm(), given.as_mm())]
    TooLarge {
        /// The piece.
        piece: String,
        /// Its least width over the turns it may take.
        needed: Length,
        /// The widest container.
        container: String,
        /// Its width inside the margins.
        given: Length,
    },
    /// No film is long enough for it.
    #[error(
        "piece '{piece}' is longer than what is left on every roll wide enough for it: split the piece with a seam, or open a new roll"
    )]
    TooLong {
        /// The piece.
        piece: String,
    },
    /// No room left.
    #[error("no room for {copies} × piece '{piece}': add film, or nest the rest on another roll")]
    NoRoom {
        /// The piece.
        piece: String,
        /// How many copies are missing.
        copies: u32,
    },
    /// Locked pieces that are not where they may be.
    #[error("the locked pieces do not lie right: {0}; unlock or move them")]
    Locked(crate::Flaw),
}

/// Packs the pieces: offcuts first, then as little of the rolls as possible.
///
/// Stops when the effort is used up or cancelled and gives the best layout so far; a first one is always made, however
/// small the effort. One step of effort is one sampled position. Every layout is checked against the original
/// outlines before it is returned; should one fail, the search is done again with a wider gap.
pub fn nest(instance: &Instance, config: &Config, effort: &Effort) -> Outcome {
    if let Err(flaw) = instance.check() {
        return Outcome { layout: Layout::default(), reasons: vec![Reason::Instance(flaw)] };
    }
    if let Some(flaw) = config.start.iter().find_map(|p| instance.known(p).err()) {
        return Outcome { layout: Layout::default(), reasons: vec![Reason::Instance(flaw)] };
    }
    let locked = layout_of(instance, instance.locked.clone());
    if let Err(flaw) = locked.verify_placed(instance) {
        return Outcome { layout: Layout::default(), reasons: vec![Reason::Locked(flaw)] };
    }
    for widening in WIDENING {
        let (placements, reasons) = Nester::new(instance, config, effort, widening).run();
        let layout = layout_of(instance, placements);
        let checked =
            if reasons.is_empty() { layout.verify(instance) } else { layout.verify_placed(instance) };
        if checked.is_ok() {
            return Outcome { layout, reasons };
        }
    }
    // nothing may leave unchecked: what is locked is right, the rest is said to be missing
    let missing = |p: &crate::Piece| {
        let there = instance.locked.iter().filter(|l| l.piece == p.id).count() as u32;
        (p.count > there).then(|| Reason::NoRoom { piece: p.id.clone(), copies: p.count - there })
    };
    Outcome { layout: locked, reasons: instance.pieces.iter().filter_map(missing).collect() }
}

/// With its figures; for placements of known pieces.
fn layout_of(instance: &Instance, mut placements: Vec<Placement>) -> Layout {
    let rank = |p: &Placement| (instance.pieces.iter().position(|q| q.id == p.piece), p.copy);
    placements.sort_by_key(rank);
    match figures(instance, &placements) {
        Ok((used, density, smallest_gap)) => Layout { placements, used, density, smallest_gap },
        Err(_) => Layout::default(),
    }
}
