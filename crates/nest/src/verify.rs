//! The check before release: f64, original outlines, nothing of the search.

use crate::{Container, ContainerKind, Flaw, Instance, Layout, Piece, Placement, RollUse, Rotations};
use plane::{Outline, Pose};
use std::collections::BTreeMap;
use units::{Area, Length};

/// Rounding of f64 coordinates, mm; far below anything that can be cut or measured.
const ROUNDING: f64 = 1e-6;
/// Rounding of turns, degrees.
const TURN: f64 = 1e-9;

impl Layout {
    /// Checks the layout against the original outlines, in f64, apart from the search: every piece there
    /// as often as ordered, allowed turns, inside with margin, gap kept, bad spots clear, lots together.
    /// Distances may fall short by a nanometer, which is rounding.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn verify(&self, instance: &Instance) -> Result<(), Flaw> {
        self.verify_count(instance)?;
        self.verify_placed(instance)
    }

    fn verify_count(&self, instance: &Instance) -> Result<(), Flaw> {
        let mut found: BTreeMap<&str, Vec<u32>> = BTreeMap::new();
        for p in &self.placements {
            found.entry(&p.piece).or_default().push(p.copy);
        }
        for piece in &instance.pieces {
            let mut copies = found.remove(piece.id.as_str()).unwrap_or_default();
            copies.sort_unstable();
            copies.dedup();
            let right = copies.len() == piece.count as usize && copies.iter().all(|c| *c < piece.count);
            if !right {
                let found = copies.len() as u32;
                return Err(Flaw::Count { piece: piece.id.clone(), wanted: piece.count, found });
            }
        }
        Ok(())
    }

    /// The same for what is placed, whether or not that is everything.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn verify_placed(&self, instance: &Instance) -> Result<(), Flaw> {
        let placed = self.outlines(instance)?;
        self.verify_copies()?;
        for (placement, piece, _, outline) in &placed {
            verify_turn(piece, &placement.pose)?;
            let container = find_container(instance, &placement.container)?;
            let used = self.used.iter().find(|u| u.container == container.id);
            verify_inside(placement, container, outline, used.map_or(Length::ZERO, |u| u.length))?;
            verify_spots(placement, container, outline, instance.gap)?;
        }
        verify_gaps(&placed, instance.gap)?;
        verify_lots(&placed)?;
        self.verify_locked(instance)?;
        self.verify_figures(instance)
    }

    fn verify_copies(&self) -> Result<(), Flaw> {
        let mut seen: Vec<(&str, u32)> = self.placements.iter().map(|p| (p.piece.as_str(), p.copy)).collect();
        seen.sort_unstable();
        match seen.windows(2).find(|w| w[0] == w[1]) {
            Some(w) => Err(Flaw::Count { piece: w[0].0.to_owned(), wanted: 1, found: 2 }),
            None => Ok(()),
        }
    }

    /// Every placement with its piece, its index and its outline where it lies.
    pub(crate) fn outlines<'a>(&'a self, instance: &'a Instance) -> Result<Vec<Placed<'a>>, Flaw> {
        let place = |(i, p): (usize, &'a Placement)| {
            let piece = instance.pieces.iter().find(|q| q.id == p.piece);
            let piece = piece.ok_or_else(|| Flaw::Unknown { id: p.piece.clone() })?;
            Ok((p, piece, i, piece.outline.placed(&p.pose)))
        };
        self.placements.iter().enumerate().map(|(i, p)| place((i, p))).collect()
    }

    fn verify_locked(&self, instance: &Instance) -> Result<(), Flaw> {
        let moved = instance.locked.iter().find(|lock| !self.placements.contains(lock));
        moved.map_or(Ok(()), |lock| Err(Flaw::Moved { piece: lock.piece.clone() }))
    }

    fn verify_figures(&self, instance: &Instance) -> Result<(), Flaw> {
        let (used, density, smallest_gap) = figures(instance, &self.placements)?;
        let differ = |what, said: String, found: String| Err(Flaw::Figure { what, said, found });
        let same = used.len() == self.used.len()
            && used.iter().zip(&self.used).all(|(a, b)| {
                a.container == b.container && (a.length.as_mm() - b.length.as_mm()).abs() <= ROUNDING
            });
        if !same {
            return differ("length used", format!("{:?}", self.used), format!("{used:?}"));
        }
        if (density - self.density).abs() > 1e-9 {
            return differ("density", self.density.to_string(), density.to_string());
        }
        let gap = |g: Option<Length>| g.map_or(-1.0, Length::as_mm);
        if (gap(smallest_gap) - gap(self.smallest_gap)).abs() > ROUNDING {
            return differ("smallest gap", format!("{:?}", self.smallest_gap), format!("{smallest_gap:?}"));
        }
        Ok(())
    }
}

/// A placement, its piece, its index, its outline where it lies.
pub(crate) type Placed<'a> = (&'a Placement, &'a Piece, usize, Outline);

fn find_container<'a>(instance: &'a Instance, id: &str) -> Result<&'a Container, Flaw> {
    instance.containers.iter().find(|c| c.id == id).ok_or_else(|| Flaw::Unknown { id: id.to_owned() })
}

/// The checks of one placement beside others: turn, inside with `end` as the end of a roll, bad spots, gaps.
pub(crate) fn verify_one(
    placement: &Placement,
    piece: &Piece,
    container: &Container,
    end: Length,
    others: &[Placed<'_>],
    gap: Length,
) -> Result<(), Flaw> {
    verify_turn(piece, &placement.pose)?;
    let outline = piece.outline.placed(&placement.pose);
    verify_inside(placement, container, &outline, end)?;
    verify_spots(placement, container, &outline, gap)?;
    for (other, _, _, theirs) in others.iter().filter(|o| o.0.container == placement.container) {
        verify_gap(placement, &outline, other, theirs, gap)?;
    }
    Ok(())
}

/// Inside with its margin; `end` is where a roll is cut across.
fn verify_inside(
    placement: &Placement,
    container: &Container,
    outline: &Outline,
    end: Length,
) -> Result<(), Flaw> {
    let over = match &container.kind {
        ContainerKind::Roll { width, margin, length_left, .. } => {
            let m = margin.as_mm();
            let b = outline.bounds();
            let ends = [m - b.low.x, m - b.low.y, b.high.x + m - end.as_mm(), b.high.y + m - width.as_mm()];
            ends.into_iter().fold(end.as_mm() - length_left.as_mm(), f64::max)
        }
        ContainerKind::Offcut { outline: edge, margin, .. } => {
            let out = edge.protrusion(outline).as_mm();
            if out > 0.0 || margin.as_mm() <= 0.0 {
                out
            } else {
                margin.as_mm() - edge.ring_distance(outline).as_mm()
            }
        }
    };
    if over <= ROUNDING {
        return Ok(());
    }
    Err(Flaw::Edge { piece: placement.piece.clone(), container: container.id.clone(), by_mm: over })
}

fn verify_turn(piece: &Piece, pose: &Pose) -> Result<(), Flaw> {
    let turned = match &piece.rotations {
        Rotations::Free => pose.degrees.is_finite(),
        Rotations::Steps(steps) => {
            steps.iter().any(|s| ((s - pose.degrees + 180.0).rem_euclid(360.0) - 180.0).abs() <= TURN)
        }
    };
    let finite = pose.x.is_finite() && pose.y.is_finite();
    if finite && turned && (piece.mirrorable || !pose.mirrored) {
        return Ok(());
    }
    Err(Flaw::Orientation { piece: piece.id.clone(), degrees: pose.degrees, mirrored: pose.mirrored })
}

fn verify_spots(
    placement: &Placement,
    container: &Container,
    outline: &Outline,
    gap: Length,
) -> Result<(), Flaw> {
    let (ContainerKind::Roll { bad_spots, .. } | ContainerKind::Offcut { bad_spots, .. }) = &container.kind;
    for spot in bad_spots {
        let found = apart(outline, spot, gap);
        if found < gap.as_mm() - ROUNDING {
            let (piece, container) = (placement.piece.clone(), container.id.clone());
            return Err(Flaw::BadSpot { piece, container, found_mm: found });
        }
    }
    Ok(())
}

/// Distance of two outlines, mm; with no gap asked for, touching is 0 and overlap is negative.
fn apart(one: &Outline, other: &Outline, gap: Length) -> f64 {
    let distance = one.distance(other).as_mm();
    if gap > Length::ZERO || distance > 0.0 { distance } else { -one.penetration(other).as_mm() }
}

fn verify_gaps(placed: &[Placed<'_>], gap: Length) -> Result<(), Flaw> {
    for (i, (p, _, _, one)) in placed.iter().enumerate() {
        for (q, _, _, other) in &placed[i + 1..] {
            if p.container == q.container {
                verify_gap(p, one, q, other, gap)?;
            }
        }
    }
    Ok(())
}

fn verify_gap(p: &Placement, one: &Outline, q: &Placement, other: &Outline, gap: Length) -> Result<(), Flaw> {
    if one.bounds().distance(&other.bounds()) > gap {
        return Ok(());
    }
    let found = apart(one, other, gap);
    if found >= gap.as_mm() - ROUNDING {
        return Ok(());
    }
    let (one, other, wanted_mm) = (p.piece.clone(), q.piece.clone(), gap.as_mm());
    Err(Flaw::Gap { one, other, found_mm: found, wanted_mm })
}

fn verify_lots(placed: &[Placed<'_>]) -> Result<(), Flaw> {
    let mut lots: BTreeMap<&str, &str> = BTreeMap::new();
    for (placement, piece, _, _) in placed {
        let Some(group) = &piece.together else { continue };
        let one = *lots.entry(group).or_insert(&placement.container);
        if one != placement.container {
            let (one, other) = (one.to_owned(), placement.container.clone());
            return Err(Flaw::Lot { group: group.clone(), one, other });
        }
    }
    Ok(())
}

type Figures = (Vec<RollUse>, f64, Option<Length>);

/// Lengths used, density and smallest gap, from the original outlines.
pub(crate) fn figures(instance: &Instance, placements: &[Placement]) -> Result<Figures, Flaw> {
    let layout = Layout { placements: placements.to_vec(), ..Layout::default() };
    let placed = layout.outlines(instance)?;
    let mut used = Vec::new();
    let mut film = Area::ZERO;
    for container in &instance.containers {
        let mut here =
            placed.iter().filter(|p| p.0.container == container.id).map(|p| p.3.bounds().high.x).peekable();
        if here.peek().is_none() {
            continue;
        }
        match &container.kind {
            ContainerKind::Roll { width, margin, .. } => {
                let length = Length::mm(here.fold(0.0, f64::max)) + *margin;
                film += *width * length;
                used.push(RollUse { container: container.id.clone(), length });
            }
            ContainerKind::Offcut { outline, .. } => film += outline.area(),
        }
    }
    let pieces: Area = placed.iter().map(|p| p.1.outline.area()).sum();
    let density = if film > Area::ZERO { pieces / film } else { 0.0 };
    Ok((used, density, smallest_gap(&placed)))
}

fn smallest_gap(placed: &[Placed<'_>]) -> Option<Length> {
    let mut least: Option<Length> = None;
    for (i, (p, _, _, one)) in placed.iter().enumerate() {
        for (q, _, _, other) in &placed[i + 1..] {
            if p.container == q.container && least.is_none_or(|l| one.bounds().distance(&other.bounds()) < l)
            {
                let d = one.distance(other);
                least = Some(least.map_or(d, |l| if d < l { d } else { l }));
            }
        }
    }
    least
}
