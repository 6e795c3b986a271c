//! The search, from the outside.

use crate::verify::figures;
use crate::work::Nester;
use crate::{Config, ContainerKind, Instance, InstanceFlaw, Layout, Placement};
use effort::Effort;
use units::{Area, Length, Seed};

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
///
/// Where a layout that uses offcuts is not provably shorter than every layout without them, the job is searched a second
/// time, without them and with the same effort again: offcuts never cost film, against the same search without them.
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
    let first = side_by_side(instance, config, effort, &locked, true);
    if !is_saving_in_doubt(instance, &first.layout) {
        return first;
    }
    // offcuts that take little can cost film: the rest packs by chance worse than the whole
    let second = side_by_side(instance, config, &effort.again(), &locked, false);
    if worth(instance, &second) < worth(instance, &first) { second } else { first }
}

/// Several searches from different seeds; the best of them, the first of equals.
fn side_by_side(
    instance: &Instance,
    config: &Config,
    effort: &Effort,
    locked: &Layout,
    offcuts: bool,
) -> Outcome {
    let others = u64::from(config.threads.max(1)) - 1;
    std::thread::scope(|scope| {
        let handles: Vec<_> = (1..=others)
            .map(|k| {
                let effort = effort.again();
                let seed = Seed(config.seed.0 ^ k.wrapping_mul(0x9E37_79B9_7F4A_7C15));
                let config = Config { seed, ..config.clone() };
                scope.spawn(move || search(instance, &config, &effort, locked, offcuts))
            })
            .collect();
        let own = search(instance, config, effort, locked, offcuts);
        let found = handles.into_iter().filter_map(|h| h.join().ok());
        found.fold(
            own,
            |best, next| {
                if worth(instance, &next) < worth(instance, &best) { next } else { best }
            },
        )
    })
}

fn search(instance: &Instance, config: &Config, effort: &Effort, locked: &Layout, offcuts: bool) -> Outcome {
    for widening in WIDENING {
        let (placements, reasons) = Nester::new(instance, config, effort, widening).run(offcuts);
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
    Outcome { layout: locked.clone(), reasons: instance.pieces.iter().filter_map(missing).collect() }
}

/// What counts, less is better: pieces missing, then film taken from rolls.
fn worth(instance: &Instance, outcome: &Outcome) -> (usize, Area) {
    let wanted: usize = instance.pieces.iter().map(|p| p.count as usize).sum();
    (wanted - outcome.layout.placements.len().min(wanted), film(instance, &outcome.layout))
}

/// Area of film taken from rolls.
fn film(instance: &Instance, layout: &Layout) -> Area {
    let width = |id: &str| {
        instance.containers.iter().find_map(|c| match &c.kind {
            ContainerKind::Roll { width, .. } if c.id == id => Some(*width),
            _ => None,
        })
    };
    layout.used.iter().filter_map(|u| Some(width(&u.container)? * u.length)).sum()
}

/// Whether a layout on rolls alone could take less film than this one, which uses offcuts.
fn is_saving_in_doubt(instance: &Instance, layout: &Layout) -> bool {
    let lies_there = |c: &crate::Container| layout.placements.iter().any(|p| p.container == c.id);
    let (rolls, offcuts): (Vec<_>, Vec<_>) =
        instance.containers.iter().partition(|c| matches!(c.kind, ContainerKind::Roll { .. }));
    if rolls.is_empty() || !offcuts.iter().any(|c| lies_there(c)) {
        return false;
    }
    match &rolls[..] {
        [roll] => film(instance, layout) > least_film(instance, roll),
        _ => true,
    }
}

/// No layout of all pieces on this roll alone takes less: pieces grown by half the gap lie apart in a strip that is
/// wider by the gap than what is inside the margins.
fn least_film(instance: &Instance, roll: &crate::Container) -> Area {
    let ContainerKind::Roll { width, margin, .. } = &roll.kind else { return Area::ZERO };
    let (gap, margin) = (instance.gap, *margin);
    // a hair less than half the gap, since growing rounds corners on the far side
    let half = Length::mm(gap.as_mm() * 0.498);
    let grown: Area = instance
        .pieces
        .iter()
        .map(|p| if half > Length::ZERO { p.outline.grown(half).area() } else { p.outline.area() } * f64::from(p.count))
        .sum();
    let inside = *width - margin * 2.0 + gap;
    let long = Length::mm(grown.as_mm2() / inside.as_mm().max(1.0)) + margin * 2.0 - gap;
    *width * long
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
