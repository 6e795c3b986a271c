//! Cut files of a layout, as the shop's cutter wants them.

use super::{outline_of, to_place};
use crate::view::{CutDrawing, FilmView};
use job::{Cutter, Piece};
use nest::{Container, ContainerKind, CutSettings, Instance, PieceDetail, Rotations};
use plane::drawing::{Drawing, Label};
use plane::{Outline, Point};
use std::collections::BTreeMap;
use units::Length;

/// Forms of cut files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CutFormat {
    /// SVG in millimeters.
    Svg,
    /// DXF of release 12 in millimeters.
    Dxf,
    /// HPGL, 40 units to the millimeter.
    Hpgl,
}

impl CutFormat {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Svg, Self::Dxf, Self::Hpgl];

    /// How its files end.
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Svg => "svg",
            Self::Dxf => "dxf",
            Self::Hpgl => "plt",
        }
    }

    /// How it is called.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Svg => "SVG",
            Self::Dxf => "DXF",
            Self::Hpgl => "HPGL",
        }
    }

    /// By the ending of a file's name.
    pub fn from_ending(ending: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.ending() == ending)
    }
}

/// The cut file of one roll or offcut: cuts inside a piece before its outline, pieces in an order of short travel, numbers
/// and names written on them. None where no sheet comes of it.
pub fn cut_file(
    view: &FilmView,
    drawing: &CutDrawing,
    pieces: &[Piece],
    gap: Length,
    cutter: &Cutter,
    format: CutFormat,
) -> Option<String> {
    let mut sheet = sheet(view, drawing, pieces, gap, cutter)?;
    let planning = view.pieces.iter().any(|p| p.planning_only);
    if planning {
        let at = Point::mm(sheet.window.center().x, sheet.window.center().y);
        let text = "PLANNING OUTLINES: NOT FOR CUTTING".to_owned();
        sheet.labels.push(Label { at, height: Length::mm(40.0), text });
    }
    Some(match format {
        CutFormat::Svg => sheet.to_svg(),
        CutFormat::Dxf => sheet.to_dxf(),
        CutFormat::Hpgl => sheet.to_hpgl(),
    })
}

fn sheet(
    view: &FilmView,
    drawing: &CutDrawing,
    pieces: &[Piece],
    gap: Length,
    cutter: &Cutter,
) -> Option<Drawing> {
    let ring = |corners: &[[f64; 2]]| Outline::new(corners.iter().map(|p| Point::from(*p)).collect()).ok();
    let mut details = BTreeMap::new();
    let mut shapes = Vec::new();
    for piece in pieces {
        let row = view.pieces.iter().find(|r| r.id == piece.id)?;
        let inner = piece.inner_mm.iter().filter_map(|r| ring(r)).collect();
        let label = Some(format!("{} {}", row.number, row.title));
        let marks = piece.marks_mm.iter().map(|[a, b]| (Point::from(*a), Point::from(*b))).collect();
        details.insert(piece.id.clone(), PieceDetail { inner, marks, label });
        shapes.push(nest::Piece {
            id: piece.id.clone(),
            outline: outline_of(piece)?,
            count: piece.count,
            rotations: Rotations::Free,
            mirrorable: true,
            together: None,
            priority: 0,
        });
    }
    let (id, bad_spots, margin) = (drawing.container.clone(), Vec::new(), Length::ZERO);
    let kind = if drawing.offcut {
        let outline = if drawing.outline_mm.is_empty() {
            Outline::rectangle(drawing.there, drawing.width).ok()?
        } else {
            Outline::new(drawing.outline_mm.iter().map(|(x, y)| Point::mm(*x, *y)).collect()).ok()?
        };
        ContainerKind::Offcut { outline, bad_spots, margin, value: 0.0 }
    } else {
        ContainerKind::Roll { width: drawing.width, length_left: drawing.there, margin, bad_spots }
    };
    let containers = vec![Container { id: id.clone(), kind }];
    let instance = Instance { pieces: shapes, containers, gap, locked: Vec::new() };
    let layout = nest::Layout {
        placements: drawing.pieces.iter().map(|p| to_place(&p.at)).collect(),
        used: vec![nest::RollUse { container: id.clone(), length: drawing.used }],
        ..nest::Layout::default()
    };
    let labels = Some(cutter.label).filter(|h| *h > Length::ZERO);
    let settings = CutSettings { overcut: cutter.overcut, lead_in: cutter.lead_in, labels };
    nest::cut_sheet(&instance, &layout, &id, &details, &settings).ok()
}
