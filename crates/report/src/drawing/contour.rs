//! Regions of a grid under a level: marching squares with straight cuts, closed at the rim.

/// Rings, in `u`, `v` from 0 to 1, round the places where the value is under `level`. The grid has
/// `columns` by `rows` points, row by row from the top, the outer ones on the rim. A place that is not a
/// number counts as not under the level. Rings are filled even-odd; holes are rings of their own.
///
/// Lorensen and Cline (1987) in two dimensions; at a saddle the middle of the four corners decides.
pub fn contours(values: &[f64], columns: usize, rows: usize, level: f64) -> Vec<Vec<(f64, f64)>> {
    if columns < 2 || rows < 2 || values.len() != columns * rows {
        return Vec::new();
    }
    let grid = Grid { values, columns, rows, level };
    let mut segments = Vec::new();
    // One ring of cells outside the rim, whose outer corners are over the level, closes every region.
    for j in 0..=rows {
        for i in 0..=columns {
            grid.cell(i, j, &mut segments);
        }
    }
    joined(segments).into_iter().map(|ring| ring.into_iter().map(|e| grid.place(e)).collect()).collect()
}

/// An edge between two neighboring points of the padded grid: the point, and whether it goes down.
type Edge = (usize, usize, bool);

struct Grid<'a> {
    values: &'a [f64],
    columns: usize,
    rows: usize,
    level: f64,
}

impl Grid<'_> {
    /// How far a padded point is under the level; negative over it.
    fn under(&self, i: usize, j: usize) -> f64 {
        let inside = i >= 1 && j >= 1 && i <= self.columns && j <= self.rows;
        let value = if inside { self.values[(j - 1) * self.columns + i - 1] } else { f64::INFINITY };
        if value.is_nan() { f64::NEG_INFINITY } else { self.level - value }
    }

    /// Segments of the line through one cell, the region at their left.
    fn cell(&self, i: usize, j: usize, out: &mut Vec<(Edge, Edge)>) {
        let corners =
            [self.under(i, j), self.under(i + 1, j), self.under(i + 1, j + 1), self.under(i, j + 1)];
        let (top, right, bottom, left) = ((i, j, false), (i + 1, j, true), (i, j + 1, false), (i, j, true));
        let mask = corners.iter().enumerate().map(|(k, c)| usize::from(*c > 0.0) << k).sum::<usize>();
        let middle = corners.iter().sum::<f64>() > 0.0;
        match mask {
            1 => out.push((top, left)),
            2 => out.push((right, top)),
            3 => out.push((right, left)),
            4 => out.push((bottom, right)),
            6 => out.push((bottom, top)),
            7 => out.push((bottom, left)),
            8 => out.push((left, bottom)),
            9 => out.push((top, bottom)),
            11 => out.push((right, bottom)),
            12 => out.push((left, right)),
            13 => out.push((top, right)),
            14 => out.push((left, top)),
            5 if middle => out.extend([(top, right), (bottom, left)]),
            5 => out.extend([(top, left), (bottom, right)]),
            10 if middle => out.extend([(left, top), (right, bottom)]),
            10 => out.extend([(right, top), (left, bottom)]),
            _ => {}
        }
    }

    /// Where the level is crossed on an edge. Beyond the rim the region ends on the rim.
    fn place(&self, (i, j, down): Edge) -> (f64, f64) {
        let (i2, j2) = if down { (i, j + 1) } else { (i + 1, j) };
        let (a, b) = (self.under(i, j), self.under(i2, j2));
        let t = match (a.is_finite(), b.is_finite()) {
            (true, true) => a / (a - b),
            (true, false) => 0.0,
            (false, _) => 1.0,
        };
        let x = i as f64 + if down { 0.0 } else { t };
        let y = j as f64 + if down { t } else { 0.0 };
        ((x - 1.0) / (self.columns - 1) as f64, (y - 1.0) / (self.rows - 1) as f64)
    }
}

/// Segments joined end to start into rings.
fn joined(segments: Vec<(Edge, Edge)>) -> Vec<Vec<Edge>> {
    let mut next: std::collections::BTreeMap<Edge, Edge> = segments.into_iter().collect();
    let mut rings = Vec::new();
    while let Some((start, second)) = next.pop_first() {
        let mut ring = vec![start];
        let mut at = second;
        while at != start {
            ring.push(at);
            match next.remove(&at) {
                Some(after) => at = after,
                None => break,
            }
        }
        rings.push(ring);
    }
    rings
}

#[cfg(test)]
mod tests {
    use super::contours;

    fn area(rings: &[Vec<(f64, f64)>]) -> f64 {
        let ring = |r: &Vec<(f64, f64)>| {
            let next = r.iter().skip(1).chain(r.first());
            r.iter().zip(next).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
        };
        rings.iter().map(ring).sum::<f64>().abs()
    }

    fn grid(n: usize, f: impl Fn(f64, f64) -> f64) -> Vec<f64> {
        let at = |k: usize| k as f64 / (n - 1) as f64;
        (0..n * n).map(|k| f(at(k % n), at(k / n))).collect()
    }

    #[test]
    fn a_disc_has_the_area_of_a_disc() {
        let values = grid(101, |u, v| (u - 0.5).hypot(v - 0.5));
        let rings = contours(&values, 101, 101, 0.3);
        assert_eq!(rings.len(), 1);
        // π r²; the chords of a 0.01 grid lose under 0.1 %.
        let wanted = std::f64::consts::PI * 0.09;
        assert!((area(&rings) / wanted - 1.0).abs() < 1e-3, "{} against {wanted}", area(&rings));
    }

    #[test]
    fn a_ring_has_a_hole_that_turns_the_other_way() {
        let values = grid(101, |u, v| ((u - 0.5).hypot(v - 0.5) - 0.3).abs());
        let rings = contours(&values, 101, 101, 0.1);
        assert_eq!(rings.len(), 2);
        let wanted = std::f64::consts::PI * (0.16 - 0.04);
        assert!((area(&rings) / wanted - 1.0).abs() < 2e-3, "{} against {wanted}", area(&rings));
    }

    #[test]
    fn a_region_at_the_rim_ends_there() {
        let all = contours(&grid(5, |_, _| 1.0), 5, 5, 2.0);
        assert!((area(&all) - 1.0).abs() < 1e-12);
        let half = contours(&grid(5, |u, _| u), 5, 5, 0.5);
        assert!((area(&half) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn nothing_and_nonsense_give_no_region() {
        assert!(contours(&grid(5, |_, _| 1.0), 5, 5, 0.5).is_empty());
        assert!(contours(&[f64::NAN; 9], 3, 3, 0.5).is_empty());
        assert!(contours(&[1.0, 2.0], 1, 2, 0.5).is_empty());
        assert!(contours(&[1.0, 2.0], 9, 9, 0.5).is_empty());
    }

    #[test]
    fn a_saddle_neither_loses_nor_crosses_lines() {
        let rings = contours(&[0.0, 1.0, 1.0, 0.0], 2, 2, 0.4);
        assert_eq!(rings.len(), 2);
        let rings = contours(&[0.0, 1.0, 1.0, 0.0], 2, 2, 0.6);
        assert_eq!(rings.len(), 1);
    }
}
