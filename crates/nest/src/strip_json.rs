//! Strip-packing instances in the JSON form that open research code uses (ESICUP sets).

use crate::{Container, ContainerKind, Instance, Piece, Rotations};
use plane::{OutlineFlaw, Point, repair::repair};
use serde::Deserialize;
use units::Length;

/// Why a file is no instance.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StripJsonFlaw {
    /// Not JSON of this form.
    #[error(
        "this is no strip-packing instance: {0}; it needs name, strip_height, and items with id, demand and shape"
    )]
    Form(String),
    /// A shape that is no outline.
    #[error("item {item}: {flaw}")]
    Outline {
        /// Its id.
        item: String,
        /// What is wrong.
        flaw: OutlineFlaw,
    },
}

#[derive(Deserialize)]
struct ExtStrip {
    items: Vec<ExtItem>,
    strip_height: f64,
}

#[derive(Deserialize)]
struct ExtItem {
    id: serde_json::Value,
    demand: u32,
    /// Absent means free.
    allowed_orientations: Option<Vec<f64>>,
    shape: ExtShape,
}

#[derive(Deserialize)]
#[serde(tag = "type", content = "data", rename_all = "snake_case")]
enum ExtShape {
    SimplePolygon(Vec<[f64; 2]>),
    Polygon { outer: Vec<[f64; 2]> },
    Rectangle { x_min: f64, y_min: f64, width: f64, height: f64 },
}

/// Name of the one roll of such an instance.
pub const STRIP: &str = "strip";

/// Reads an instance; its units are taken for millimeters, its strip for a roll of endless length.
///
/// # Errors
/// When the text has another form, or a shape is no outline.
pub fn read_strip_json(text: &str, gap: Length, margin: Length) -> Result<Instance, StripJsonFlaw> {
    let ext: ExtStrip = serde_json::from_str(text).map_err(|e| StripJsonFlaw::Form(e.to_string()))?;
    let pieces = ext.items.into_iter().map(piece).collect::<Result<_, _>>()?;
    let kind = ContainerKind::Roll {
        width: Length::mm(ext.strip_height),
        length_left: Length::mm(1e6),
        margin,
        bad_spots: Vec::new(),
    };
    let containers = vec![Container { id: STRIP.to_owned(), kind }];
    Ok(Instance { pieces, containers, gap, locked: Vec::new() })
}

fn piece(item: ExtItem) -> Result<Piece, StripJsonFlaw> {
    let id = item.id.as_str().map_or_else(|| item.id.to_string(), ToOwned::to_owned);
    let ring = match item.shape {
        ExtShape::SimplePolygon(data) | ExtShape::Polygon { outer: data } => data,
        ExtShape::Rectangle { x_min: x, y_min: y, width: w, height: h } => {
            vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]]
        }
    };
    let ring: Vec<Point> = ring.into_iter().map(Point::from).collect();
    let (outline, _) = repair(&ring).map_err(|flaw| StripJsonFlaw::Outline { item: id.clone(), flaw })?;
    Ok(Piece {
        id,
        outline,
        count: item.demand,
        rotations: item.allowed_orientations.map_or(Rotations::Free, Rotations::Steps),
        mirrorable: false,
        together: None,
        priority: 0,
    })
}
