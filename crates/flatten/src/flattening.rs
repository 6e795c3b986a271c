use crate::bound;
use crate::certificate;
use crate::clean;
use crate::cut::{Cut, CutFlaw, cut_open, onto_flat};
use crate::disk::{Disk, NotADisk};
use crate::energy::SymmetricDirichlet;
use crate::film;
use crate::mesh::Mesh;
use crate::newton::{Flat, Newton};
use crate::parted;
use crate::relief::{self, CutPlan, Zone};
use crate::rest::Rest;
use crate::retile;
use crate::sparse::NotSolvable;
use crate::start;
use crate::verify::{Flaw, Stretches, overlap};
use effort::Effort;
use serde::{Deserialize, Serialize};
use units::{Area, Length};

/// What is asked of a flattening.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Options {
    /// The most the shop lets film stretch, as a fraction; none: the least worst stretch, whatever the mean.
    pub limit: Option<f64>,
    /// Flatten the mesh as it is: no cleaning, no new triangles.
    pub as_is: bool,
    /// Noise shorter than about this is smoothed away; 8 to 15 mm suits phone scans.
    pub smoothing: Length,
    /// Side of the new triangles; never shorter than those of the scan.
    pub side: Length,
}

impl Default for Options {
    fn default() -> Self {
        Self { limit: None, as_is: false, smoothing: Length::mm(12.0), side: Length::mm(8.0) }
    }
}

/// A panel laid flat: film of this shape, stretched back, covers the panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flattening {
    /// The surface that was flattened: the mesh given, cleaned and with new triangles unless taken as it is.
    pub surface: Mesh,
    /// Where each vertex of the surface lies on the film, mm; scaled so that film is never compressed.
    pub flat: Vec<[f64; 2]>,
    /// How far film is stretched on each triangle, greatest and least, as factors: 1.02 is 2 %.
    pub stretch: Vec<[f64; 2]>,
    /// The worst stretch, as a fraction: 0.02 is 2 %.
    pub worst: f64,
    /// The stretch that 99.5 % of the area stays below, as a fraction.
    pub p995: f64,
    /// The mean over the area of the greatest stretch on each triangle, as a fraction.
    pub mean: f64,
    /// The least worst stretch that the search for it reached, as a fraction: what this piece is measured against.
    pub least_worst: f64,
    /// No uncut piece of this panel can do better than this, as a fraction.
    pub lower_bound: f64,
    /// Area of film.
    pub area: Area,
    /// Sides of the rim that cuts made, as pairs of vertices in the rim's direction; the others are the panel's own edge.
    #[serde(default)]
    pub cut_sides: Vec<[u32; 2]>,
    /// What should be known about it.
    pub notes: Vec<Note>,
}

impl Flattening {
    /// Whether the flat piece lies over itself: such a piece cannot be cut from film.
    pub fn overlaps(&self) -> bool {
        self.notes.iter().any(|n| matches!(n, Note::Overlap { .. }))
    }
}

/// What should be known about a flattening that is sound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Note {
    /// The effort ended before the search for the least worst stretch did.
    Unfinished,
    /// The limit cannot be kept without a cut; this is the least worst stretch found.
    LimitNotReached {
        /// What was asked, as a fraction.
        limit: f64,
    },
    /// The flat piece lies over itself in places: it needs a seam before it can be cut from film.
    Overlap {
        /// Where, mm on the film.
        at: [f64; 2],
    },
}

/// Why there is no flattening.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// The mesh is no disk.
    #[error(transparent)]
    NotADisk(#[from] NotADisk),
    /// Stopped before the first sound result.
    #[error("stopped before there was a first result")]
    Stopped,
    /// No flat start without flipped triangles was found: the triangles are too thin or the panel is closed up.
    #[error(
        "no flat shape without flipped triangles was found: choose a smaller region or let the mesh be cleaned"
    )]
    NoStart,
    /// A cut runs through a zone where none may be.
    #[error("a cut runs through a zone where none may be: draw it around the zone")]
    Forbidden,
    /// Cuts are placed on the flat shape of the whole, which lies over itself.
    #[error("uncut, the flat piece lies over itself, so no line can be placed on it: let it be parted first")]
    LiesOver,
    /// Every way of parting it that was tried left a piece that lies over itself.
    #[error("the flat piece lies over itself and parting it did not mend that: choose a smaller region")]
    TooCoiled,
    /// It cannot be cut like that.
    #[error(transparent)]
    Cut(#[from] CutFlaw),
    /// An option is out of its range.
    #[error("{what} must be {range}")]
    Option {
        /// Which one.
        what: &'static str,
        /// What it may be.
        range: &'static str,
    },
    /// The check found the result unsound.
    #[error("the result did not pass the check: {0}")]
    Unsound(#[from] Flaw),
}

impl From<NotSolvable> for Refusal {
    fn from(_: NotSolvable) -> Self {
        Self::NoStart
    }
}

/// The parts of the work, in their order; each is told when it is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// Noise smoothed away.
    Clean,
    /// New triangles of even size.
    Remesh,
    /// A first flat shape without flips.
    Start,
    /// Average stretch made least: a first result.
    SymmetricDirichlet,
    /// Worst stretch made least.
    Certificate,
    /// Mean stretch made least under the limit.
    Film,
    /// What no uncut piece can beat.
    LowerBound,
    /// Everything recomputed from the two meshes.
    Check,
}

impl Stage {
    /// Its name in results.
    pub fn name(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Remesh => "remesh",
            Self::Start => "start",
            Self::SymmetricDirichlet => "symmetric_dirichlet",
            Self::Certificate => "certificate",
            Self::Film => "film",
            Self::LowerBound => "lower_bound",
            Self::Check => "check",
        }
    }
}

/// Lays a panel flat; `done` hears of each stage as it ends, so that the caller can measure it.
///
/// One step of effort is one Newton iteration on a thousand triangles; when it ends early the best so far is
/// returned, with a note.
pub fn flatten(
    mesh: &Mesh,
    options: &Options,
    effort: &Effort,
    done: &mut dyn FnMut(Stage),
) -> Result<Flattening, Refusal> {
    check(options)?;
    let disk = Disk::new(mesh.clone())?;
    Work { options, effort, done }.whole(disk)
}

/// Cuts a panel and lays every piece flat, in the order of their sheets; the triangles are new, along the cuts.
pub fn flatten_pieces(
    mesh: &Mesh,
    cuts: &[Cut],
    options: &Options,
    effort: &Effort,
    done: &mut dyn FnMut(Stage),
) -> Result<Vec<Flattening>, Refusal> {
    Ok(flatten_drawn(mesh, cuts, &[], options, effort, done)?.pieces)
}

/// A panel laid flat along cuts that somebody drew.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drawn {
    /// Its pieces.
    pub pieces: Vec<Flattening>,
    /// Length of the cuts.
    pub length: Length,
    /// The part of it in sight.
    pub in_sight: Length,
}

/// The same with the length of the cuts; refused where one runs through a forbidden zone.
pub fn flatten_drawn(
    mesh: &Mesh,
    cuts: &[Cut],
    zones: &[Zone],
    options: &Options,
    effort: &Effort,
    done: &mut dyn FnMut(Stage),
) -> Result<Drawn, Refusal> {
    check(options)?;
    let disk = Disk::new(mesh.clone())?;
    let mut work = Work { options, effort, done };
    let (disk, flat) = work.whole_flat(disk)?;
    if overlap(disk.mesh(), &flat).is_some() {
        return Err(Refusal::LiesOver);
    }
    let lines = onto_flat(&disk, &flat, cuts)?;
    let in_sight = |zones| relief::drawn_in_sight(&disk, &flat, cuts, zones);
    let length = in_sight(&[]).ok_or(CutFlaw::Cross)?;
    let in_sight = in_sight(zones).ok_or(Refusal::Forbidden)?;
    let side = side(&disk, Length::ZERO);
    let pieces = cut_open(&disk, &flat, &lines, side)?;
    let laid = pieces.into_iter().map(|piece| work.piece(piece.disk, Some(piece.flat), piece.cut_sides));
    Ok(Drawn { pieces: laid.collect::<Result<_, _>>()?, length, in_sight })
}

/// A panel laid flat in parts that do not lie over themselves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Parted {
    /// The pieces.
    pub pieces: Vec<Flattening>,
    /// The seams between them.
    pub seams: Vec<Cut>,
}

/// Lays a panel flat whose flat piece would lie over itself: parted by seams half way between the places that would meet,
/// as often as it takes. A panel that can lie flat in one piece stays in one.
pub fn flatten_parted(
    mesh: &Mesh,
    options: &Options,
    effort: &Effort,
    done: &mut dyn FnMut(Stage),
) -> Result<Parted, Refusal> {
    /// Pieces at most: a panel is no coil of film.
    const MOST: usize = 16;
    check(options)?;
    let mut work = Work { options, effort, done };
    let (disk, flat) = work.whole_flat(Disk::new(mesh.clone())?)?;
    let mut left = vec![(disk, flat, Vec::new())];
    let mut parted = Parted { pieces: Vec::new(), seams: Vec::new() };
    while let Some((disk, known, cut_sides)) = left.pop() {
        let piece = work.piece(disk, Some(known), cut_sides)?;
        if !piece.overlaps() {
            parted.pieces.push(piece);
            continue;
        }
        if parted.pieces.len() + left.len() + 2 > MOST {
            return Err(Refusal::TooCoiled);
        }
        let (halves, seam) = parted::parted(&piece).ok_or(Refusal::TooCoiled)?;
        parted.seams.push(seam);
        left.extend(halves);
    }
    Ok(parted)
}

/// Relief cuts and seams worth having: the front of cut length in sight against worst stretch, the uncut panel first,
/// all figures on a coarse mesh.
pub fn relief_cuts(
    mesh: &Mesh,
    zones: &[Zone],
    options: &Options,
    effort: &Effort,
) -> Result<Vec<CutPlan>, Refusal> {
    check(options)?;
    let disk = Disk::new(mesh.clone())?;
    let mut work = Work { options, effort, done: &mut |_| {} };
    let (disk, flat) = work.whole_flat(disk)?;
    Ok(relief::front(&disk, &flat, zones, effort)?)
}

/// A panel cut so that its film keeps a limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Relieved {
    /// The front of cut length in sight against worst stretch, the uncut panel first; empty where no uncut piece can lie
    /// flat without lying over itself.
    pub front: Vec<CutPlan>,
    /// The cuts that were chosen; none where the uncut panel does.
    pub cuts: Vec<Cut>,
    /// Its pieces, laid flat.
    pub pieces: Vec<Flattening>,
}

impl Relieved {
    /// The worst stretch of all pieces, as a fraction.
    pub fn worst(&self) -> f64 {
        self.pieces.iter().map(|p| p.worst).fold(0.0, f64::max)
    }
}

/// The plan that shows the least length of cuts and keeps `options.limit`, by the figure of its pieces laid flat on fine
/// triangles and not by that of the search; the one with the least worst stretch, with a note, where none keeps it.
/// Without a limit the panel stays uncut, or is parted where its flat piece would lie over itself.
pub fn relieve(
    mesh: &Mesh,
    zones: &[Zone],
    options: &Options,
    effort: &Effort,
    done: &mut dyn FnMut(Stage),
) -> Result<Relieved, Refusal> {
    /// Plans laid flat at most.
    const TRIALS: usize = 6;
    /// A coarse figure above the limit by this factor is not worth laying flat.
    const NEAR: f64 = 1.02;
    let mut front = relief_cuts(mesh, zones, options, effort)?;
    let limit = options.limit.unwrap_or(f64::INFINITY);
    let mut best: Option<(Vec<Cut>, Vec<Flattening>)> = None;
    let mut worst_of_best = f64::INFINITY;
    let near: Vec<usize> = (0..front.len()).filter(|k| front[*k].worst <= limit * NEAR).collect();
    // The shortest that should do, each next one only where the one before did not; the last resort at the end.
    let last = front.len().checked_sub(1).filter(|last| !near.contains(last));
    for k in near.into_iter().take(TRIALS - 1).chain(last) {
        if effort.cancelled() {
            return Err(Refusal::Stopped);
        }
        let cuts = front[k].cuts.clone();
        let pieces = match cuts.len() {
            0 => vec![flatten(mesh, options, effort, done)?],
            _ => flatten_pieces(mesh, &cuts, options, effort, done)?,
        };
        let least = pieces.iter().map(|p| p.least_worst).fold(0.0, f64::max);
        front[k].laid = Some(least);
        if pieces.iter().any(Flattening::overlaps) {
            continue;
        }
        if least < worst_of_best {
            worst_of_best = least;
            best = Some((cuts, pieces));
        }
        if worst_of_best <= limit {
            break;
        }
    }
    if let Some((cuts, pieces)) = best {
        return Ok(Relieved { front, cuts, pieces });
    }
    let parted = flatten_parted(mesh, options, effort, done)?;
    Ok(Relieved { front, cuts: parted.seams, pieces: parted.pieces })
}

fn check(options: &Options) -> Result<(), Refusal> {
    let within = |x: f64, low: f64, high: f64| (low..=high).contains(&x);
    if options.limit.is_some_and(|limit| !within(limit, 1e-4, 1.0)) {
        return Err(Refusal::Option { what: "the stretch limit", range: "between 0.01 % and 100 %" });
    }
    if !within(options.smoothing.as_mm(), 0.0, 1000.0) {
        return Err(Refusal::Option { what: "the smoothing length", range: "between 0 and 1000 mm" });
    }
    if !within(options.side.as_mm(), 0.1, 1000.0) {
        return Err(Refusal::Option { what: "the side of triangles", range: "between 0.1 and 1000 mm" });
    }
    Ok(())
}

/// New triangles are of this side, but not shorter than those there are, and not more than can be handled.
fn side(disk: &Disk, wanted: Length) -> f64 {
    const MOST: f64 = 300_000.0;
    let least = (disk.mesh().area().as_mm2() / MOST * 4.0 / 3.0_f64.sqrt()).sqrt();
    wanted.max(disk.mesh().mean_edge()).as_mm().max(least)
}

struct Work<'a> {
    options: &'a Options,
    effort: &'a Effort,
    done: &'a mut dyn FnMut(Stage),
}

impl Work<'_> {
    fn whole(&mut self, disk: Disk) -> Result<Flattening, Refusal> {
        let (disk, known) = if self.options.as_is { (disk, None) } else { self.prepared(disk)? };
        self.piece(disk, known, Vec::new())
    }

    /// The whole panel with a flat shape, before it is cut.
    fn whole_flat(&mut self, disk: Disk) -> Result<(Disk, Flat), Refusal> {
        let (disk, known) = if self.options.as_is { (disk, None) } else { self.prepared(disk)? };
        let rest = Rest::new(disk.mesh());
        let mut newton = Newton::new(&rest)?;
        let flat = self.first(&disk, &rest, &mut newton, known)?;
        Ok((disk, flat))
    }

    fn piece(
        &mut self,
        disk: Disk,
        known: Option<Flat>,
        cut_sides: Vec<[u32; 2]>,
    ) -> Result<Flattening, Refusal> {
        let rest = Rest::new(disk.mesh());
        let mut newton = Newton::new(&rest)?;
        let flat = self.first(&disk, &rest, &mut newton, known)?;
        let (least, finished) = certificate::least_worst(&rest, &mut newton, &flat, self.effort)?;
        (self.done)(Stage::Certificate);
        let mut notes = Vec::new();
        if !finished {
            notes.push(Note::Unfinished);
        }
        let least_worst = Stretches::of(disk.mesh(), &least)?.ratio();
        let mut flat = least;
        if let Some(limit) = self.options.limit {
            let film = film::within(&rest, &mut newton, &flat, limit, self.effort)?;
            (self.done)(Stage::Film);
            match film {
                Some(film) => flat = film,
                // So near the limit that there is nothing to gain: the least worst stretch keeps it.
                None if least_worst <= limit && self.effort.goes_on() => {}
                None if least_worst <= limit => notes.push(Note::Unfinished),
                None => notes.push(Note::LimitNotReached { limit }),
            }
        }
        let lower_bound = bound::lower_bound(&disk, &rest, &flat, least_worst, self.effort);
        (self.done)(Stage::LowerBound);
        let made = self.released(disk.into_mesh(), flat, least_worst, lower_bound, notes)?;
        Ok(Flattening { cut_sides, ..made })
    }

    /// Noise smoothed away and new triangles, with their flat shape where there are new ones.
    fn prepared(&mut self, mut disk: Disk) -> Result<(Disk, Option<Flat>), Refusal> {
        if self.options.smoothing.as_mm() > 0.0 {
            disk = Disk::new(clean::clean(&disk, self.options.smoothing)?)?;
        }
        (self.done)(Stage::Clean);
        let rest = Rest::new(disk.mesh());
        let mut newton = Newton::new(&rest)?;
        // Part of making new triangles, so its stages are not told.
        let mut silent = Work { options: self.options, effort: self.effort, done: &mut |_| {} };
        let flat = silent.first(&disk, &rest, &mut newton, None)?;
        let side = side(&disk, self.options.side);
        // A flat shape that lies over itself, or is too narrow, keeps its triangles.
        let level = retile::retile(disk.mesh(), disk.rim(), &flat, side);
        let tiled = level.and_then(|level| Some((Disk::new(level.mesh).ok()?, level.flat)));
        (self.done)(Stage::Remesh);
        Ok(match tiled {
            Some((disk, flat)) => (disk, Some(flat)),
            None => (disk, Some(flat)),
        })
    }

    /// A start without flips, its average stretch made least.
    fn first(
        &mut self,
        disk: &Disk,
        rest: &Rest,
        newton: &mut Newton<'_>,
        known: Option<Flat>,
    ) -> Result<Flat, Refusal> {
        let energy = SymmetricDirichlet;
        let mut flat = match known {
            Some(flat) => flat,
            None => start::conformal(disk, rest, newton)?,
        };
        let mut rough = false;
        if !newton.energy(&energy, &flat).is_finite() {
            flat = start::onto_circle(disk, rest)?;
            rough = true;
            if !newton.energy(&energy, &flat).is_finite() {
                return Err(Refusal::NoStart);
            }
        }
        (self.done)(Stage::Start);
        let steps = if rough { 200 } else { 40 };
        for _ in 0..steps {
            if self.effort.cancelled() {
                return Err(Refusal::Stopped);
            }
            self.effort.spend(rest.triangles.len() as u64 / 1000 + 1);
            let step = newton.step(&energy, 1e-9, &mut flat)?;
            if step.length == 0.0 || step.promised < 1e-3 * (step.after - 4.0).max(1e-9) {
                break;
            }
        }
        (self.done)(Stage::SymmetricDirichlet);
        Ok(flat)
    }

    /// Scaled so that nothing is compressed, measured, checked.
    fn released(
        &mut self,
        surface: Mesh,
        mut flat: Flat,
        least_worst: f64,
        lower_bound: f64,
        mut notes: Vec<Note>,
    ) -> Result<Flattening, Refusal> {
        let least = Stretches::of(&surface, &flat)?.least();
        flat.iter_mut().for_each(|p| *p = p.map(|c| c * least));
        let stretches = Stretches::of(&surface, &flat)?;
        if let Some(at) = overlap(&surface, &flat) {
            notes.push(Note::Overlap { at });
        }
        let flattening = Flattening {
            worst: stretches.worst(),
            p995: stretches.quantile(0.995),
            mean: stretches.mean(),
            least_worst: least_worst.min(stretches.worst()),
            lower_bound,
            area: stretches.flat_area(),
            stretch: stretches.into_factors(),
            cut_sides: Vec::new(),
            surface,
            flat,
            notes,
        };
        flattening.verify()?;
        (self.done)(Stage::Check);
        Ok(flattening)
    }
}
