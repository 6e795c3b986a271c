//! A panel from a few tape measures, without a scan.
//!
//! A tape laid over the panel gives the length of an arc, a straight edge over the same two points the sag under it.
//! Measured along and across, they become a smooth patch: a biquadratic Bézier surface whose lines at the measured
//! places have these arcs and sags. Twelve measures at most for its 27 coordinates: of all patches that fit, the one
//! nearest to a plain bulge is taken (Gauss–Newton with least steps).

use crate::Mesh;
use crate::mesh::{add, cross, dot, norm, scale, sub};
use serde::{Deserialize, Serialize};
use stats::{Cholesky, SquareMatrix};
use units::Length;

/// One tape over the panel, and the sag under a straight edge between its ends.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tape {
    /// Where it lies across its direction: 0 and 1 are the edges, 0.5 the middle.
    #[serde(default = "half")]
    pub at: f64,
    /// Length of the arc.
    #[serde(rename = "arc_mm")]
    pub arc: Length,
    /// Greatest gap under a straight edge from end to end; negative where the panel is hollow.
    #[serde(rename = "sag_mm")]
    pub sag: Length,
}

const fn half() -> f64 {
    0.5
}

/// The measures of a panel: one to three tapes each way.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Tapes {
    /// Along the panel.
    pub along: Vec<Tape>,
    /// Across it.
    pub across: Vec<Tape>,
}

/// A measure and what the patch has there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// Which tape, in words.
    pub tape: String,
    /// As measured.
    pub asked: Tape,
    /// On the patch.
    pub got: Tape,
}

/// A patch from tape measures.
#[derive(Clone, Debug, PartialEq)]
pub struct Patch {
    /// Its surface in millimeters; `along` runs in x, `across` in y, outside is up.
    pub mesh: Mesh,
    /// How well each measure is kept.
    pub kept: Vec<Kept>,
}

/// Why measures make no patch.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TapeFlaw {
    /// Too few or too many.
    #[error(
        "one to three tapes {direction} are needed, there are {found}: measure one in the middle, and the edges where they differ"
    )]
    Count {
        /// "along" or "across".
        direction: &'static str,
        /// How many there are.
        found: usize,
    },
    /// A number that cannot be.
    #[error("{tape}: {what}")]
    Tape {
        /// Which tape.
        tape: String,
        /// What is wrong and what to do.
        what: &'static str,
    },
    /// They contradict each other.
    #[error("no smooth panel has these measures together: {tape} misses by {:.1} mm; measure it again", .off.as_mm())]
    NoFit {
        /// The tape that fits worst.
        tape: String,
        /// By how much.
        off: Length,
    },
}

/// Measures are kept to this, mm.
const CLOSE: f64 = 1e-3;

/// The smooth patch with these measures, as triangles with sides of about `edge`.
///
/// # Errors
/// When a measure cannot be, or they contradict each other.
pub fn patch(tapes: &Tapes, edge: Length) -> Result<Patch, TapeFlaw> {
    let lines = lines(tapes)?;
    let mut net = start(tapes);
    for _ in 0..60 {
        let off: Vec<f64> = residuals(&net, &lines);
        if off.iter().all(|r| r.abs() < 0.1 * CLOSE) {
            break;
        }
        let Some(step) = least_step(&net, &lines, &off) else { break };
        // half steps where the whole one makes it worse
        let worse = |net: &Net| residuals(net, &lines).iter().map(|r| r * r).sum::<f64>();
        let now = worse(&net);
        let mut share = 1.0;
        let mut next = moved(&net, &step, share);
        while worse(&next) > now && share > 1e-4 {
            share *= 0.5;
            next = moved(&net, &step, share);
        }
        net = next;
    }
    let off = residuals(&net, &lines);
    let worst = (0..off.len()).max_by(|a, b| off[*a].abs().total_cmp(&off[*b].abs())).unwrap_or(0);
    if !off.iter().all(|r| r.abs() < CLOSE) || folded(&net) {
        return Err(TapeFlaw::NoFit { tape: lines[worst / 2].words(), off: Length::mm(off[worst].abs()) });
    }
    let kept = lines
        .iter()
        .map(|line| {
            let [arc, sag] = measured(&net, line);
            let got = Tape { at: line.tape.at, arc: Length::mm(arc), sag: Length::mm(sag) };
            Kept { tape: line.words(), asked: line.tape, got }
        })
        .collect();
    Ok(Patch { mesh: meshed(&net, tapes, edge), kept })
}

/// Control points P[i][j]: i along, j across.
type Net = [[[f64; 3]; 3]; 3];

struct Line {
    along: bool,
    tape: Tape,
}

impl Line {
    fn words(&self) -> String {
        let direction = if self.along { "along" } else { "across" };
        format!("the tape {direction} at {}", self.tape.at)
    }
}

fn lines(tapes: &Tapes) -> Result<Vec<Line>, TapeFlaw> {
    let mut lines = Vec::new();
    for (direction, list, along) in [("along", &tapes.along, true), ("across", &tapes.across, false)] {
        if !(1..=3).contains(&list.len()) {
            return Err(TapeFlaw::Count { direction, found: list.len() });
        }
        for (i, tape) in list.iter().enumerate() {
            let line = Line { along, tape: *tape };
            let bad = |what| Err(TapeFlaw::Tape { tape: line.words(), what });
            let (arc, sag) = (tape.arc.as_mm(), tape.sag.as_mm().abs());
            if !(0.0..=1.0).contains(&tape.at) {
                return bad("its place must be between 0, one edge, and 1, the other");
            }
            if list[..i].iter().any(|t| (t.at - tape.at).abs() < 0.05) {
                return bad(
                    "another tape lies at nearly the same place: measure elsewhere, or leave one out",
                );
            }
            if !(20.0..=10_000.0).contains(&arc) || !sag.is_finite() {
                return bad("an arc of 20 mm to 10 m is needed: measures are in millimeters");
            }
            // a half circle has a sag of arc/π = 0.318 of its arc; no panel bends that far
            if sag > 0.3 * arc {
                return bad(
                    "the sag is too large for the arc: a panel bent that far is cut in two and measured twice",
                );
            }
            lines.push(line);
        }
    }
    Ok(lines)
}

/// Values at 0, ½ and 1 through one to three measures: level, straight or quadratic.
fn through(list: &[Tape], value: impl Fn(&Tape) -> f64) -> [f64; 3] {
    [0.0, 0.5, 1.0].map(|x| {
        (0..list.len())
            .map(|i| {
                let others = list.iter().enumerate().filter(|(j, _)| *j != i);
                let weight: f64 = others.map(|(_, t)| (x - t.at) / (list[i].at - t.at)).product();
                weight * value(&list[i])
            })
            .sum()
    })
}

/// Chord of a shallow parabola with this arc and sag; close enough to begin with.
fn chord(tape: &Tape) -> f64 {
    let (arc, sag) = (tape.arc.as_mm(), tape.sag.as_mm());
    arc - 8.0 * sag * sag / (3.0 * arc)
}

/// The plain bulge: lines in upright planes, heights added.
fn start(tapes: &Tapes) -> Net {
    let wide = through(&tapes.along, chord);
    let high = through(&tapes.across, chord);
    let (up, over) = (through(&tapes.along, |t| t.sag.as_mm()), through(&tapes.across, |t| t.sag.as_mm()));
    let place = |i: usize, j: usize| {
        let (u, v) = (i as f64 / 2.0, j as f64 / 2.0);
        [
            wide[j] * (u - 0.5),
            high[i] * (v - 0.5),
            up[j] * 4.0 * u * (1.0 - u) + over[i] * 4.0 * v * (1.0 - v),
        ]
    };
    // from values at 0, ½, 1 to Bézier control points, first one way, then the other
    let controls = |p: [[f64; 3]; 3]| -> [[f64; 3]; 3] {
        [p[0], [0, 1, 2].map(|k| 2.0 * p[1][k] - (p[0][k] + p[2][k]) / 2.0), p[2]]
    };
    let mut net: Net = [0, 1, 2].map(|i| controls([0, 1, 2].map(|j| place(i, j))));
    for j in 0..3 {
        let column = controls([net[0][j], net[1][j], net[2][j]]);
        (0..3).for_each(|i| net[i][j] = column[i]);
    }
    net
}

const fn bernstein(t: f64) -> [f64; 3] {
    [(1.0 - t) * (1.0 - t), 2.0 * t * (1.0 - t), t * t]
}

fn blended(p: &[[f64; 3]; 3], t: f64) -> [f64; 3] {
    let b = bernstein(t);
    [0, 1, 2].map(|k| b[0] * p[0][k] + b[1] * p[1][k] + b[2] * p[2][k])
}

fn place(net: &Net, u: f64, v: f64) -> [f64; 3] {
    blended(&[0, 1, 2].map(|i| blended(&net[i], v)), u)
}

/// The control points of a line of the patch.
fn curve(net: &Net, line: &Line) -> [[f64; 3]; 3] {
    if line.along {
        [0, 1, 2].map(|i| blended(&net[i], line.tape.at))
    } else {
        [0, 1, 2].map(|j| blended(&[net[0][j], net[1][j], net[2][j]], line.tape.at))
    }
}

/// The patch's normal at a place.
fn normal(net: &Net, u: f64, v: f64) -> [f64; 3] {
    let h = 1e-4;
    let along = sub(place(net, u + h, v), place(net, u - h, v));
    let across = sub(place(net, u, v + h), place(net, u, v - h));
    let n = cross(along, across);
    scale(n, 1.0 / norm(n).max(1e-300))
}

/// Arc and sag of a line of the patch, mm. The greatest gap of a quadratic curve under its chord lies at its middle:
/// there its tangent is parallel to the chord. It is measured squarely to the panel: a bow of an edge within the panel
/// is no sag.
fn measured(net: &Net, line: &Line) -> [f64; 2] {
    let [a, b, c] = curve(net, line);
    // Gauss–Legendre, 8 points: nodes and weights of Abramowitz and Stegun (1964), table 25.4
    const NODES: [(f64, f64); 4] = [
        (0.183_434_642_495_649_8, 0.362_683_783_378_362),
        (0.525_532_409_916_329, 0.313_706_645_877_887_3),
        (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
        (0.960_289_856_497_536_3, 0.101_228_536_290_376_3),
    ];
    let speed = |t: f64| norm(add(scale(sub(b, a), 2.0 * (1.0 - t)), scale(sub(c, b), 2.0 * t)));
    let arc = NODES.iter().map(|(x, w)| w / 2.0 * (speed((1.0 - x) / 2.0) + speed((1.0 + x) / 2.0))).sum();
    let bow = scale(sub(b, scale(add(a, c), 0.5)), 0.5);
    let along = sub(c, a);
    let bow = sub(bow, scale(along, dot(bow, along) / dot(along, along).max(1e-12)));
    let at = line.tape.at;
    let n = if line.along { normal(net, 0.5, at) } else { normal(net, at, 0.5) };
    [arc, dot(bow, n)]
}

fn residuals(net: &Net, lines: &[Line]) -> Vec<f64> {
    lines
        .iter()
        .flat_map(|line| {
            let [arc, sag] = measured(net, line);
            [arc - line.tape.arc.as_mm(), sag - line.tape.sag.as_mm()]
        })
        .collect()
}

fn moved(net: &Net, step: &[f64; 27], share: f64) -> Net {
    let mut next = *net;
    next.iter_mut().flatten().flatten().zip(step).for_each(|(c, s)| *c += share * s);
    next
}

/// The least change of the control points that takes the residuals away to first order.
fn least_step(net: &Net, lines: &[Line], off: &[f64]) -> Option<[f64; 27]> {
    let n = off.len();
    let h = 1e-4;
    let mut slope = vec![[0.0; 27]; n];
    for k in 0..27 {
        let mut e = [0.0; 27];
        e[k] = h;
        let (up, down) = (residuals(&moved(net, &e, 1.0), lines), residuals(&moved(net, &e, -1.0), lines));
        (0..n).for_each(|r| slope[r][k] = (up[r] - down[r]) / (2.0 * h));
    }
    let product = |a: &[f64; 27], b: &[f64; 27]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let mut square = SquareMatrix::symmetric(n, |r, c| product(&slope[r], &slope[c]));
    (0..n).for_each(|r| square.add_to_diagonal(r, 1e-9));
    let mut weights = off.to_vec();
    Cholesky::of(square)?.solve(&mut weights);
    Some(std::array::from_fn(|k| -(0..n).map(|r| slope[r][k] * weights[r]).sum::<f64>()))
}

/// Whether the patch turns under somewhere.
fn folded(net: &Net) -> bool {
    let steps = 16;
    let at = |i: usize, j: usize| place(net, i as f64 / f64::from(steps), j as f64 / f64::from(steps));
    let steps = steps as usize;
    (0..steps).any(|i| {
        (0..steps).any(|j| {
            let n = cross(sub(at(i + 1, j), at(i, j)), sub(at(i, j + 1), at(i, j)));
            n[2].is_nan() || n[2] <= 0.0
        })
    })
}

fn meshed(net: &Net, tapes: &Tapes, edge: Length) -> Mesh {
    let count = |list: &[Tape]| {
        let longest = list.iter().map(|t| t.arc.as_mm()).fold(0.0, f64::max);
        ((longest / edge.as_mm().max(1.0)).ceil() as usize).clamp(8, 600)
    };
    let (nu, nv) = (count(&tapes.along), count(&tapes.across));
    let vertices = (0..=nv)
        .flat_map(|j| (0..=nu).map(move |i| (i, j)))
        .map(|(i, j)| place(net, i as f64 / nu as f64, j as f64 / nv as f64))
        .collect();
    let v = |i: usize, j: usize| (j * (nu + 1) + i) as u32;
    let triangles = (0..nv)
        .flat_map(|j| (0..nu).map(move |i| (i, j)))
        .flat_map(|(i, j)| {
            let [a, b, c, d] = [v(i, j), v(i + 1, j), v(i + 1, j + 1), v(i, j + 1)];
            // diagonals alternate, so that no direction is favored
            if (i + j) % 2 == 0 { [[a, b, c], [a, c, d]] } else { [[a, b, d], [b, c, d]] }
        })
        .collect();
    Mesh { vertices, triangles }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Disk;

    fn tape(at: f64, arc: f64, sag: f64) -> Tape {
        Tape { at, arc: Length::mm(arc), sag: Length::mm(sag) }
    }

    /// Arc and sag of a row of vertices, straight from the triangles.
    fn on_mesh(mesh: &Mesh, row: &[usize]) -> [f64; 2] {
        let at = |k: usize| mesh.vertices[row[k]];
        let last = row.len() - 1;
        let arc = (0..last).map(|k| norm(sub(at(k + 1), at(k)))).sum();
        let chord = sub(at(last), at(0));
        // squarely to the panel at the middle of the row
        let middle = row[last / 2];
        let near = (0..mesh.triangles.len()).filter(|t| mesh.triangles[*t].contains(&(middle as u32)));
        let n = near.fold([0.0; 3], |n, t| add(n, mesh.cross(t)));
        let n = scale(n, 1.0 / norm(n));
        let gap = |k: usize| {
            let d = sub(at(k), at(0));
            dot(sub(d, scale(chord, dot(d, chord) / dot(chord, chord))), n).abs()
        };
        [arc, (0..=last).map(gap).fold(0.0, f64::max)]
    }

    fn check(along: &[Tape], across: &[Tape]) -> Patch {
        let tapes = Tapes { along: along.to_vec(), across: across.to_vec() };
        let patch = patch(&tapes, Length::mm(8.0)).unwrap();
        for kept in &patch.kept {
            assert!((kept.asked.arc - kept.got.arc).as_mm().abs() < CLOSE, "{kept:?}");
            assert!((kept.asked.sag - kept.got.sag).as_mm().abs() < CLOSE, "{kept:?}");
        }
        assert!(Disk::new(patch.mesh.clone()).is_ok());
        // and on the triangles: chords of 8 mm miss an arc of radius 500 mm by 1e-5
        let (longest, widest) = (
            along.iter().map(|t| t.arc.as_mm()).fold(0.0, f64::max),
            across.iter().map(|t| t.arc.as_mm()).fold(0.0, f64::max),
        );
        let (nu, nv) = ((longest / 8.0).ceil() as usize, (widest / 8.0).ceil() as usize);
        // at an edge the triangles lie on one side alone: their normal is tilted by h/2R = 8/(2 · 1700), and the edge
        // bows up to 76 mm within the panel
        let near = |t: &Tape| if t.at == 0.0 || t.at == 1.0 { 0.3 } else { 0.05 };
        for t in along.iter().filter(|t| (t.at * nv as f64).fract() == 0.0) {
            let j = (t.at * nv as f64) as usize;
            let row: Vec<usize> = (0..=nu).map(|i| j * (nu + 1) + i).collect();
            let [arc, sag] = on_mesh(&patch.mesh, &row);
            assert!((arc / t.arc.as_mm() - 1.0).abs() < 3e-5, "{arc} for {t:?}");
            assert!((sag - t.sag.as_mm().abs()).abs() < near(t), "{sag} for {t:?}");
        }
        for t in across.iter().filter(|t| (t.at * nu as f64).fract() == 0.0) {
            let i = (t.at * nu as f64) as usize;
            let row: Vec<usize> = (0..=nv).map(|j| j * (nu + 1) + i).collect();
            let [arc, sag] = on_mesh(&patch.mesh, &row);
            assert!((arc / t.arc.as_mm() - 1.0).abs() < 3e-5, "{arc} for {t:?}");
            assert!((sag - t.sag.as_mm().abs()).abs() < near(t), "{sag} for {t:?}");
        }
        patch
    }

    #[test]
    fn one_tape_each_way_is_kept() {
        check(&[tape(0.5, 1200.0, 42.0)], &[tape(0.5, 800.0, 15.0)]);
    }

    #[test]
    fn three_tapes_each_way_are_kept() {
        check(
            &[tape(0.0, 1010.0, 12.0), tape(0.5, 1200.0, 42.0), tape(1.0, 1104.0, 20.0)],
            &[tape(0.0, 640.0, 9.0), tape(0.5, 800.0, 25.0), tape(1.0, 720.0, 11.0)],
        );
        check(
            &[tape(0.0, 1208.0, -6.0), tape(1.0, 1216.0, 4.0)],
            &[tape(0.25, 400.0, 60.0), tape(0.75, 440.0, 55.0)],
        );
    }

    #[test]
    fn flat_is_flat() {
        let patch = check(&[tape(0.5, 800.0, 0.0)], &[tape(0.5, 400.0, 0.0)]);
        assert!(patch.mesh.vertices.iter().all(|v| v[2].abs() < 1e-6));
        assert!((patch.mesh.area().as_mm2() - 320_000.0).abs() < 1.0);
    }

    #[test]
    fn measures_that_cannot_be_are_refused() {
        let said = |along: &[Tape], across: &[Tape]| {
            let tapes = Tapes { along: along.to_vec(), across: across.to_vec() };
            patch(&tapes, Length::mm(8.0)).unwrap_err().to_string()
        };
        let fine = tape(0.5, 800.0, 10.0);
        assert!(said(&[], &[fine]).starts_with("one to three tapes along are needed, there are 0"));
        assert!(said(&[tape(0.5, 800.0, 300.0)], &[fine]).contains("too large for the arc"));
        assert!(said(&[tape(0.5, 0.8, 0.01)], &[fine]).contains("in millimeters"));
        assert!(said(&[fine, tape(0.52, 700.0, 10.0)], &[fine]).contains("nearly the same place"));
        assert!(said(&[tape(1.5, 700.0, 10.0)], &[fine]).contains("between 0"));
        assert!(said(&[tape(0.5, f64::NAN, 1.0)], &[fine]).contains("in millimeters"));
    }
}
