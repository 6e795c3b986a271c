//! The check of a drawing: what must hold of every body, whatever its numbers.

use crate::areas::crossings;
use crate::body::{Body, ShapeKind};
use crate::canvas::Canvas;
use crate::panel;
use crate::view::View;
use plane::curve::{Axis, JOIN_TOLERANCE, Point};
use std::collections::BTreeMap;
use units::{Area, Length};

/// Rows in which a view is counted, mm apart, from a little above its lowest point.
const ROW: f64 = 9.0;
const FIRST_ROW: f64 = 3.3;
/// Two panels overlap in a row from here, mm, and in a view from here, mm².
const OVERLAP: f64 = 0.6;
const OVERLAP_AREA: f64 = 100.0;
/// Share of a view's outline that may stay uncovered.
const UNCOVERED: f64 = 0.002;
/// Left and right agree to this, mm.
const MIRROR: f64 = 1e-6;
/// Steps of a bent segment.
const STEPS: usize = 16;

/// Something wrong with a drawing.
#[derive(Clone, Debug, PartialEq)]
pub enum Flaw {
    /// An outline does not end where it starts.
    Open {
        /// In which view.
        view: View,
        /// Of which panel.
        panel: &'static str,
        /// How far apart its ends are.
        gap: Length,
    },
    /// Two panels lie over each other.
    Overlap {
        /// In which view.
        view: View,
        /// Which panels.
        panels: [&'static str; 2],
        /// How much they share.
        area: Area,
    },
    /// The panels do not fill the outline of a view, or reach over it.
    Uncovered {
        /// Which view.
        view: View,
        /// How much is missing; negative where panels reach over the outline.
        area: Area,
        /// As a share of the outline.
        share: f64,
    },
    /// A left panel has no right one that is its mirror image.
    Unmirrored {
        /// In which view.
        view: View,
        /// Which panel.
        panel: &'static str,
    },
}

/// A panel's outline as a polygon.
type Polygon = (&'static str, Vec<Point>);

impl Body {
    /// What is wrong with the drawing; nothing for the eight styles.
    ///
    /// Outlines are closed within 0.05 mm; no two panels share more than 1 cm² of a view; panels fill the
    /// outline of each view within 0.2 %; left and right are mirror images to a nanometer in plan and at the
    /// ends (the right side is drawn from the left one). Wheels and mirrors stand before or behind the rest
    /// and are not counted. Where a cab and its bed stand apart there is no outline to fill.
    pub fn verify(&self) -> Vec<Flaw> {
        let apart = self.panel("bed_floor").is_some();
        let mut flaws = Vec::new();
        for canvas in self.canvases() {
            open(canvas, &mut flaws);
            overlaps(canvas, &mut flaws);
            if !(apart && canvas.view == View::Top) {
                uncovered(canvas, &mut flaws);
            }
            if !matches!(canvas.view, View::Left | View::Right) {
                unmirrored(canvas, &mut flaws);
            }
        }
        flaws
    }
}

fn open(canvas: &Canvas, flaws: &mut Vec<Flaw>) {
    for shape in &canvas.shapes {
        let gap = shape.path.start().distance(shape.path.end());
        if gap.is_nan() || gap > JOIN_TOLERANCE {
            flaws.push(Flaw::Open { view: canvas.view, panel: shape.panel, gap: Length::mm(gap) });
        }
    }
}

/// The panels that lie side by side in a view.
fn side_by_side(canvas: &Canvas) -> Vec<Polygon> {
    let flat = |kind: ShapeKind| !matches!(kind, ShapeKind::Wheel | ShapeKind::Over);
    canvas.shapes.iter().filter(|s| flat(s.kind)).map(|s| (s.panel, s.path.sampled(STEPS))).collect()
}

/// Heights at which panels are counted.
fn rows(panels: &[Polygon]) -> impl Iterator<Item = f64> + use<> {
    let ys = || panels.iter().flat_map(|(_, points)| points).map(|p| p.y);
    let (low, high) = (ys().fold(f64::INFINITY, f64::min), ys().fold(f64::NEG_INFINITY, f64::max));
    (0..).map(move |i| low + FIRST_ROW + f64::from(i) * ROW).take_while(move |y| *y < high)
}

/// The panels' stretches in a row: from, to, which.
fn stretches(panels: &[Polygon], y: f64) -> Vec<(f64, f64, &'static str)> {
    let mut out: Vec<_> = panels
        .iter()
        .flat_map(|(id, points)| {
            let xs = crossings(points, Axis::Y, y);
            xs.chunks_exact(2).map(|c| (c[0], c[1], *id)).collect::<Vec<_>>()
        })
        .collect();
    out.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    out
}

fn overlaps(canvas: &Canvas, flaws: &mut Vec<Flaw>) {
    let panels = side_by_side(canvas);
    let mut shared: BTreeMap<[&'static str; 2], f64> = BTreeMap::new();
    for y in rows(&panels) {
        for pair in stretches(&panels, y).windows(2) {
            let ((_, a1, a), (b0, b1, b)) = (pair[0], pair[1]);
            if a1 - b0 > OVERLAP {
                let mut key = [a, b];
                key.sort_unstable();
                *shared.entry(key).or_default() += (a1.min(b1) - b0) * ROW;
            }
        }
    }
    let found = shared.into_iter().filter(|(_, area)| *area > OVERLAP_AREA);
    flaws.extend(found.map(|(panels, area)| Flaw::Overlap {
        view: canvas.view,
        panels,
        area: Area::mm2(area),
    }));
}

fn uncovered(canvas: &Canvas, flaws: &mut Vec<Flaw>) {
    let Some(outline) = &canvas.outline else { return };
    let panels = side_by_side(canvas);
    let outline = outline.sampled(STEPS);
    let (mut inside, mut covered) = (0.0, 0.0);
    for y in rows(&panels) {
        let xs = crossings(&outline, Axis::Y, y);
        inside += xs.chunks_exact(2).map(|c| c[1] - c[0]).sum::<f64>() * ROW;
        covered += stretches(&panels, y).iter().map(|s| s.1 - s.0).sum::<f64>() * ROW;
    }
    let gap: f64 = inside - covered;
    if gap.abs() > UNCOVERED * inside {
        let (view, area) = (canvas.view, Area::mm2(gap));
        flaws.push(Flaw::Uncovered { view, area, share: gap / inside });
    }
}

fn unmirrored(canvas: &Canvas, flaws: &mut Vec<Flaw>) {
    let points = |id: &str| {
        let shape = canvas.shapes.iter().find(|s| s.panel == id);
        shape.map(|s| s.path.sampled(8))
    };
    for shape in canvas.shapes.iter().filter(|s| s.panel.starts_with("left_")) {
        let mirror = canvas.mirrored(&shape.path).sampled(8);
        let right = points(panel::mirror(shape.panel)).unwrap_or_default();
        let far = |(a, b): (&Point, &Point)| a.distance(*b).is_nan() || a.distance(*b) > MIRROR;
        if right.len() != mirror.len() || mirror.iter().zip(&right).any(far) {
            flaws.push(Flaw::Unmirrored { view: canvas.view, panel: shape.panel });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Style;
    use plane::curve::{Edge, pt};

    #[test]
    fn the_eight_styles_have_no_flaw() {
        for style in Style::ALL {
            assert_eq!(Body::of(style).verify(), [], "{}", style.name());
        }
    }

    /// What a change to the saloon's plan or front is found to be.
    fn check(view: View, change: impl Fn(&mut Canvas)) -> Vec<Flaw> {
        let mut canvas = Body::of(Style::Saloon).canvases().iter().find(|c| c.view == view).unwrap().clone();
        change(&mut canvas);
        let mut flaws = Vec::new();
        open(&canvas, &mut flaws);
        overlaps(&canvas, &mut flaws);
        uncovered(&canvas, &mut flaws);
        unmirrored(&canvas, &mut flaws);
        flaws
    }

    fn index(canvas: &Canvas, id: &str) -> usize {
        canvas.shapes.iter().position(|s| s.panel == id).unwrap()
    }

    #[test]
    fn a_missing_panel_is_found() {
        let flaws = check(View::Top, |c| {
            c.shapes.remove(index(c, "left_front_door"));
        });
        assert!(matches!(flaws[..], [Flaw::Uncovered { share, .. }] if share > 0.002), "{flaws:?}");
    }

    #[test]
    fn a_panel_over_its_neighbor_is_found() {
        let flaws = check(View::Front, |c| {
            let i = index(c, "hood");
            let low = Edge::rounded_rectangle(pt(-300.0, 800.0), 600.0, 500.0, 10.0);
            c.shapes[i].path = low;
        });
        let over = |f: &Flaw| matches!(f, Flaw::Overlap { panels: ["hood", "windshield"], .. });
        assert!(flaws.iter().any(over), "{flaws:?}");
    }

    #[test]
    fn an_open_outline_is_found() {
        let flaws = check(View::Top, |c| {
            let i = index(c, "left_mirror");
            let cut = c.shapes[i].path.segments().len() - 1;
            c.shapes[i].path = c.shapes[i].path.split(cut).0;
        });
        let open = |f: &Flaw| matches!(f, Flaw::Open { panel: "left_mirror", .. });
        assert!(flaws.iter().any(open), "{flaws:?}");
    }

    #[test]
    fn a_right_panel_that_is_no_mirror_image_is_found() {
        let flaws = check(View::Top, |c| {
            let (left, right) = (index(c, "left_mirror"), index(c, "right_mirror"));
            c.shapes[right].path = c.shapes[left].path.clone();
        });
        assert_eq!(flaws, [Flaw::Unmirrored { view: View::Top, panel: "left_mirror" }]);
    }
}
