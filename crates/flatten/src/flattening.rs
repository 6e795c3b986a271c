use crate::certificate;
use crate::disk::{Disk, NotADisk};
use crate::energy::SymmetricDirichlet;
use crate::mesh::Mesh;
use crate::newton::{Flat, Newton};
use crate::rest::Rest;
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
    /// What should be known about it.
    pub notes: Vec<Note>,
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

fn check(options: &Options) -> Result<(), Refusal> {
    let within = |x: f64, low: f64, high: f64| x >= low && x <= high;
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

struct Work<'a> {
    options: &'a Options,
    effort: &'a Effort,
    done: &'a mut dyn FnMut(Stage),
}

impl Work<'_> {
    fn whole(&mut self, disk: Disk) -> Result<Flattening, Refusal> {
        let rest = Rest::new(disk.mesh());
        let mut newton = Newton::new(&rest)?;
        let flat = self.first(&disk, &rest, &mut newton)?;
        let mut notes = Vec::new();
        let (flat, finished) = certificate::least_worst(&rest, &mut newton, flat, self.effort)?;
        (self.done)(Stage::Certificate);
        if !finished {
            notes.push(Note::Unfinished);
        }
        self.released(disk.into_mesh(), flat, 0.0, notes)
    }

    /// A start without flips, its average stretch made least.
    fn first(&mut self, disk: &Disk, rest: &Rest, newton: &mut Newton<'_>) -> Result<Flat, Refusal> {
        let energy = SymmetricDirichlet;
        let mut flat = start::conformal(disk, rest, newton)?;
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
            least_worst: stretches.worst(),
            lower_bound,
            area: stretches.flat_area(),
            stretch: stretches.into_factors(),
            surface,
            flat,
            notes,
        };
        flattening.verify()?;
        (self.done)(Stage::Check);
        Ok(flattening)
    }
}
