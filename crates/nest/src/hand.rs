//! Pieces put somewhere by hand: what is wrong there, and the nearest place where nothing is.

use crate::verify::{Placed, figures, verify_one};
use crate::{ContainerKind, Flaw, Instance, Layout, Placement};
use plane::Pose;
use units::Length;

/// Steps of the ring of places tried around where a piece was dropped, mm.
const RING: f64 = 2.0;
/// Directions tried on a ring.
const DIRECTIONS: usize = 48;
/// Halvings when a piece is pulled up to its neighbor: finer than a cutter.
const HALVINGS: usize = 24;

impl Layout {
    /// Placements with their figures, checked; complete or not.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn of(instance: &Instance, placements: Vec<Placement>) -> Result<Self, Flaw> {
        let (used, density, smallest_gap) = figures(instance, &placements)?;
        let layout = Self { placements, used, density, smallest_gap };
        layout.verify_placed(instance)?;
        Ok(layout)
    }
}

/// Where a piece comes to lie that is dropped at `wanted`: there, pulled up to what is nearer than `snap` along or across,
/// or at the nearest free place within `reach`. The other placements stay where they are.
///
/// # Errors
/// What is wrong at the wanted place, when nothing near it is free.
pub fn place_near(
    instance: &Instance,
    others: &[Placement],
    wanted: &Placement,
    snap: Length,
    reach: Length,
) -> Result<Placement, Flaw> {
    let layout = Layout { placements: others.to_vec(), ..Layout::default() };
    let placed = layout.outlines(instance)?;
    let free = |pose: Pose| flaw_at(instance, &placed, &Placement { pose, ..wanted.clone() }).is_none();
    let pose = match flaw_at(instance, &placed, wanted) {
        None => wanted.pose,
        Some(flaw) => nearest(wanted.pose, reach.as_mm(), &free).ok_or(flaw)?,
    };
    let mut pose = pulled(pose, snap.as_mm(), (1.0, 0.0), &free);
    pose = pulled(pose, snap.as_mm(), (0.0, 1.0), &free);
    Ok(Placement { pose, ..wanted.clone() })
}

fn flaw_at(instance: &Instance, others: &[Placed<'_>], placement: &Placement) -> Option<Flaw> {
    let Some(piece) = instance.pieces.iter().find(|p| p.id == placement.piece) else {
        return Some(Flaw::Unknown { id: placement.piece.clone() });
    };
    let Some(container) = instance.containers.iter().find(|c| c.id == placement.container) else {
        return Some(Flaw::Unknown { id: placement.container.clone() });
    };
    // the roll is cut where it has to be: only what is left of it bounds the piece
    let end = match &container.kind {
        ContainerKind::Roll { length_left, .. } => *length_left,
        ContainerKind::Offcut { .. } => Length::ZERO,
    };
    verify_one(placement, piece, container, end, others, instance.gap).err()
}

fn shifted(pose: Pose, dx: f64, dy: f64) -> Pose {
    Pose { x: Length::mm(pose.x.as_mm() + dx), y: Length::mm(pose.y.as_mm() + dy), ..pose }
}

/// The nearest free pose on rings around, refined towards the middle.
fn nearest(pose: Pose, reach: f64, free: &impl Fn(Pose) -> bool) -> Option<Pose> {
    let rings = (reach / RING).ceil() as usize;
    for ring in 1..=rings {
        let radius = RING * ring as f64;
        for k in 0..DIRECTIONS {
            let (dy, dx) = (std::f64::consts::TAU * k as f64 / DIRECTIONS as f64).sin_cos();
            if free(shifted(pose, radius * dx, radius * dy)) {
                let back = |t: f64| shifted(pose, (radius - t) * dx, (radius - t) * dy);
                return Some(back(farthest(RING, &|t| free(back(t)))));
            }
        }
    }
    None
}

/// Moved along an axis up to whatever is nearer than `snap`, on the nearer side; as it is where nothing is.
fn pulled(pose: Pose, snap: f64, (ax, ay): (f64, f64), free: &impl Fn(Pose) -> bool) -> Pose {
    let moved = |sign: f64, t: f64| shifted(pose, sign * t * ax, sign * t * ay);
    let way = |sign: f64| {
        let t = farthest(snap, &|t| free(moved(sign, t)));
        (t < snap).then_some((t, sign))
    };
    let nearer = [-1.0, 1.0].into_iter().filter_map(way).min_by(|a, b| a.0.total_cmp(&b.0));
    nearer.map_or(pose, |(t, sign)| moved(sign, t))
}

/// How far on from 0 it is free, up to `most`, by even steps and then by halving. Free at 0.
fn farthest(most: f64, free: &impl Fn(f64) -> bool) -> f64 {
    let steps = 8;
    let step = most / f64::from(steps);
    let mut low = 0.0;
    for k in 1..=steps {
        let t = step * f64::from(k);
        if free(t) {
            low = t;
            continue;
        }
        let mut high = t;
        for _ in 0..HALVINGS {
            let middle = (low + high) / 2.0;
            if free(middle) { low = middle } else { high = middle }
        }
        return low;
    }
    most
}
