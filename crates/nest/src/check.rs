//! Whether an instance makes sense.

use crate::{ContainerKind, Instance, InstanceFlaw, Placement, Rotations};
use std::collections::BTreeSet;
use units::Length;

/// Most copies in one job.
const MOST_COPIES: u64 = 5_000;

impl Instance {
    /// Checks names, sizes and references.
    ///
    /// # Errors
    /// The first thing that makes no sense.
    pub fn check(&self) -> Result<(), InstanceFlaw> {
        let copies: u64 = self.pieces.iter().map(|p| u64::from(p.count)).sum();
        if copies == 0 {
            return Err(InstanceFlaw::NoPieces);
        }
        if self.containers.is_empty() {
            return Err(InstanceFlaw::NoContainers);
        }
        if copies > MOST_COPIES {
            let of = "all pieces".to_owned();
            return Err(InstanceFlaw::Size {
                what: "count",
                of,
                found: copies.to_string(),
                wanted: "at most 5,000; split the job",
            });
        }
        unique(self.pieces.iter().map(|p| p.id.as_str()))?;
        unique(self.containers.iter().map(|c| c.id.as_str()))?;
        length("gap", "the job", self.gap, false)?;
        for piece in &self.pieces {
            if let Rotations::Steps(steps) = &piece.rotations {
                let bad = steps.iter().find(|s| !s.is_finite());
                if steps.is_empty() || bad.is_some() {
                    return Err(InstanceFlaw::Size {
                        what: "allowed turns",
                        of: piece.id.clone(),
                        found: bad.map_or("an empty list".to_owned(), f64::to_string),
                        wanted: "one or more angles in degrees",
                    });
                }
            }
        }
        for container in &self.containers {
            let id = &container.id;
            match &container.kind {
                ContainerKind::Roll { width, length_left, margin, .. } => {
                    length("width", id, *width, true)?;
                    length("length left", id, *length_left, true)?;
                    length("margin", id, *margin, false)?;
                }
                ContainerKind::Offcut { margin, value, .. } => {
                    length("margin", id, *margin, false)?;
                    if !value.is_finite() {
                        return Err(InstanceFlaw::Size {
                            what: "value",
                            of: id.clone(),
                            found: value.to_string(),
                            wanted: "a number",
                        });
                    }
                }
            }
        }
        self.locked.iter().try_for_each(|p| self.known(p))
    }

    /// Whether a placement names a piece, copy and container of this job.
    pub(crate) fn known(&self, placement: &Placement) -> Result<(), InstanceFlaw> {
        let piece = self.pieces.iter().any(|p| p.id == placement.piece && placement.copy < p.count);
        let container = self.containers.iter().any(|c| c.id == placement.container);
        let pose = &placement.pose;
        let placed = pose.degrees.is_finite() && pose.x.is_finite() && pose.y.is_finite();
        if piece && container && placed {
            Ok(())
        } else {
            Err(InstanceFlaw::Unknown { id: placement.piece.clone() })
        }
    }
}

fn unique<'a>(ids: impl Iterator<Item = &'a str>) -> Result<(), InstanceFlaw> {
    let mut seen = BTreeSet::new();
    for id in ids {
        if !seen.insert(id) {
            return Err(InstanceFlaw::Twice { id: id.to_owned() });
        }
    }
    Ok(())
}

fn length(what: &'static str, of: &str, value: Length, positive: bool) -> Result<(), InstanceFlaw> {
    let mm = value.as_mm();
    let right = mm.is_finite() && mm <= 1e6 && if positive { mm > 0.0 } else { mm >= 0.0 };
    if right {
        return Ok(());
    }
    let wanted = if positive { "above 0 and at most a kilometer" } else { "0 or more, at most a kilometer" };
    Err(InstanceFlaw::Size { what, of: of.to_owned(), found: format!("{mm} mm"), wanted })
}
