//! Where film is stretched, and how much: a surface with level lines, hatches over the upper levels, and numbers. The
//! same drawing serves the flat piece and a view of the panel.

use super::Medium;
use super::hatch::Hatch;
use super::label::{self, Rect};
use super::pen::{Anchor, Pen, Text, num};
use std::collections::BTreeMap;
use units::Length;

/// A surface laid on the sheet, with its stretch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StretchMap {
    /// What is shown, such as `Hood, flat piece`.
    pub title: String,
    /// Vertices on the sheet, mm, y down.
    pub points: Vec<(f64, f64)>,
    /// Three vertices each.
    pub triangles: Vec<[u32; 3]>,
    /// Stretch at each vertex, as a fraction: 0.02 is 2 %.
    pub stretch: Vec<f64>,
    /// The worst stretch of all triangles, as a fraction.
    pub worst: f64,
    /// Lines around it that are cut: outline, cut-outs.
    pub outlines: Vec<Vec<(f64, f64)>>,
    /// Relief cuts and seams on it.
    pub cuts: Vec<Vec<(f64, f64)>>,
    /// A length for the scale bar with its words; none for a view that is not to scale.
    pub scale: Option<(Length, String)>,
}

/// The levels of a map and the hatches over them.
#[derive(Clone, Debug, PartialEq)]
pub struct StretchLevels {
    /// Levels, lowest first, as fractions.
    pub levels: Vec<f64>,
    /// Level over which a place is hatched lightly, and the one over which it is hatched densely.
    pub hatched: Vec<(f64, Hatch)>,
}

impl StretchLevels {
    /// For a worst stretch: three to six even steps. Over 5 and 7 % hatches mean what they mean everywhere; where the
    /// worst stays below, the two highest levels are hatched, and the key says which they are.
    pub fn of(worst: f64) -> Self {
        const STEPS: [f64; 10] = [1e-5, 5e-5, 1e-4, 5e-4, 1e-3, 2e-3, 5e-3, 1e-2, 2e-2, 5e-2];
        let step = STEPS.into_iter().find(|s| worst / s <= 6.5).unwrap_or(worst / 6.0);
        let levels: Vec<f64> = (1..=6).map(|k| step * f64::from(k)).filter(|l| *l < worst * 0.995).collect();
        let hatched = if worst > 0.05 {
            [(0.05, Hatch::Light), (0.07, Hatch::Marked)].into_iter().filter(|(l, _)| *l < worst).collect()
        } else {
            let n = levels.len();
            let upper = [(n.checked_sub(2), Hatch::Light), (n.checked_sub(1), Hatch::Marked)];
            upper.into_iter().filter_map(|(i, h)| Some((*levels.get(i?)?, h))).collect()
        };
        Self { levels, hatched }
    }

    /// Rows of a key: each hatch with its words.
    pub fn key(&self) -> Vec<(Hatch, String)> {
        self.hatched.iter().map(|(l, h)| (*h, format!("over {}", percent(*l)))).collect()
    }
}

/// A stretch in percent with as many digits as it needs.
fn percent(stretch: f64) -> String {
    let p = stretch * 100.0;
    let digits = if p >= 10.0 {
        0
    } else if p >= 0.1 {
        1
    } else {
        3
    };
    let text = format!("{p:.digits$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{text} %")
}

/// Widest and highest that the drawing gets, px.
const ROOM: (f64, f64) = (720.0, 420.0);
const SIDE: f64 = 14.0;

/// Draws a map of stretch. A map without triangles is an empty frame.
pub fn stretch_map(map: &StretchMap, medium: Medium<'_>) -> String {
    let all = map.points.iter().chain(map.outlines.iter().flatten());
    let bounds = all.fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |[l, t, r, b], p| {
        [l.min(p.0), t.min(p.1), r.max(p.0), b.max(p.1)]
    });
    let [l, t, r, b] = if bounds[0] <= bounds[2] { bounds } else { [0.0, 0.0, 1.0, 1.0] };
    let (w, h) = ((r - l).max(1.0), (b - t).max(1.0));
    let unit = (w / (ROOM.0 - 2.0 * SIDE)).max(h / (ROOM.1 - 2.0 * SIDE));
    let mut pen = Pen::new(medium, unit);
    let at = |p: (f64, f64)| (p.0 - l + SIDE * unit, p.1 - t + SIDE * unit);
    let placed = StretchMap { points: map.points.iter().map(|p| at(*p)).collect(), ..map.clone() };
    let levels = StretchLevels::of(map.worst);
    let rim = rim(&placed.triangles);
    let whole: String = joined(rim.iter().map(|[a, b]| (Key::Vertex(*a), Key::Vertex(*b))).collect())
        .iter()
        .map(|ring| ring_path(ring.iter().filter_map(|k| placed.place(*k, 0.0))))
        .collect();
    pen.path("ed fill", &whole);
    for (level, hatch) in &levels.hatched {
        let d = placed.over(*level, &rim);
        if !d.is_empty() {
            let fill = pen.hatch(*hatch);
            pen.raw(&format!("<path class=\"hx\" fill=\"{fill}\" fill-rule=\"evenodd\" d=\"{d}\"/>"));
        }
    }
    let mut lines = Vec::new();
    for level in &levels.levels {
        for line in placed.lines(*level) {
            pen.path("ln hair", &line_path(&line));
            lines.push((*level, line));
        }
    }
    for outline in &map.outlines {
        pen.path("ln fat", &ring_path(outline.iter().map(|p| at(*p))));
    }
    if map.outlines.is_empty() {
        pen.path("ln fat", &whole);
    }
    for cut in &map.cuts {
        let line: Vec<_> = cut.iter().map(|p| at(*p)).collect();
        pen.path("ln mean dash bl", &line_path(&line));
    }
    numbers(&mut pen, &placed, &lines, [w, h]);
    let mut bottom = h + 2.0 * SIDE * unit;
    if let Some((length, words)) = &map.scale {
        let from = SIDE * unit;
        pen.dimension(from, from + length.as_mm().min(w), bottom + 8.0 * unit, 12.0, words);
        bottom += 22.0 * unit;
    }
    let said = described(map, &levels);
    pen.finish([0.0, 0.0, w + 2.0 * SIDE * unit, bottom], "stretch", &map.title, &said)
}

fn described(map: &StretchMap, levels: &StretchLevels) -> String {
    let key: Vec<String> =
        levels.key().into_iter().map(|(h, words)| format!("{} hatch {words}", h.title())).collect();
    format!("Level lines of stretch, the worst is {}. {}", percent(map.worst), key.join(", "))
}

/// A corner of a level line: a vertex, or a place on the edge between two.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Vertex(u32),
    Edge(u32, u32),
}

impl Key {
    fn edge(a: u32, b: u32) -> Self {
        Self::Edge(a.min(b), a.max(b))
    }
}

impl StretchMap {
    fn value(&self, v: u32) -> f64 {
        self.stretch.get(v as usize).copied().filter(|s| s.is_finite()).unwrap_or(0.0)
    }

    fn place(&self, key: Key, level: f64) -> Option<(f64, f64)> {
        match key {
            Key::Vertex(v) => self.points.get(v as usize).copied(),
            Key::Edge(a, b) => {
                let (p, q) = (self.points.get(a as usize)?, self.points.get(b as usize)?);
                let (x, y) = (self.value(a), self.value(b));
                let t = ((level - x) / (y - x)).clamp(0.0, 1.0);
                Some((p.0 + (q.0 - p.0) * t, p.1 + (q.1 - p.1) * t))
            }
        }
    }

    /// Pieces of the level line, one per triangle, with what is over the level on their left where triangles turn left.
    fn segments(&self, level: f64) -> Vec<(Key, Key)> {
        let mut segments = Vec::new();
        for t in &self.triangles {
            let over = t.map(|v| self.value(v) > level);
            // the corner that stands alone, if one does
            let Some(k) = (0..3).find(|k| over[*k] != over[(k + 1) % 3] && over[*k] != over[(k + 2) % 3])
            else {
                continue;
            };
            let (v, next, last) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
            let (a, b) = (Key::edge(v, next), Key::edge(v, last));
            segments.push(if over[k] { (a, b) } else { (b, a) });
        }
        segments
    }

    /// Rings around the region over a level, its parts along the rim included.
    fn over(&self, level: f64, rim: &[[u32; 2]]) -> String {
        let mut segments = self.segments(level);
        for [a, b] in rim {
            match (self.value(*a) > level, self.value(*b) > level) {
                (true, true) => segments.push((Key::Vertex(*a), Key::Vertex(*b))),
                (true, false) => segments.push((Key::Vertex(*a), Key::edge(*a, *b))),
                (false, true) => segments.push((Key::edge(*a, *b), Key::Vertex(*b))),
                (false, false) => {}
            }
        }
        joined(segments).iter().map(|r| ring_path(r.iter().filter_map(|k| self.place(*k, level)))).collect()
    }

    /// The level's lines, open where they end at the rim.
    fn lines(&self, level: f64) -> Vec<Vec<(f64, f64)>> {
        chains(self.segments(level))
            .into_iter()
            .map(|c| c.into_iter().filter_map(|k| self.place(k, level)).collect())
            .collect()
    }
}

/// Directed edges that only one triangle has.
fn rim(triangles: &[[u32; 3]]) -> Vec<[u32; 2]> {
    let mut sides = BTreeMap::new();
    for [a, b, c] in triangles {
        for (p, q) in [(*a, *b), (*b, *c), (*c, *a)] {
            sides.insert((p, q), ());
        }
    }
    sides.keys().filter(|(p, q)| !sides.contains_key(&(*q, *p))).map(|(p, q)| [*p, *q]).collect()
}

/// Segments joined end to start into rings; what does not close is left out.
fn joined(segments: Vec<(Key, Key)>) -> Vec<Vec<Key>> {
    let mut next: BTreeMap<Key, Key> = segments.into_iter().collect();
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

/// Segments joined into lines: those with a loose start first, then rings.
fn chains(segments: Vec<(Key, Key)>) -> Vec<Vec<Key>> {
    let mut next: BTreeMap<Key, Key> = segments.into_iter().collect();
    let ends: std::collections::BTreeSet<Key> = next.values().copied().collect();
    let starts: Vec<Key> = next.keys().copied().filter(|k| !ends.contains(k)).collect();
    let mut lines = Vec::new();
    let mut follow = |start: Key, next: &mut BTreeMap<Key, Key>| {
        let mut line = vec![start];
        let mut at = start;
        while let Some(after) = next.remove(&at) {
            line.push(after);
            at = after;
        }
        lines.push(line);
    };
    for start in starts {
        follow(start, &mut next);
    }
    while let Some(start) = next.keys().next().copied() {
        follow(start, &mut next);
    }
    lines
}

fn line_path(points: &[(f64, f64)]) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        d.push(if i == 0 { 'M' } else { 'L' });
        d.push_str(&num(p.0));
        d.push(' ');
        d.push_str(&num(p.1));
    }
    d
}

fn ring_path(points: impl Iterator<Item = (f64, f64)>) -> String {
    let points: Vec<_> = points.collect();
    if points.len() < 3 { String::new() } else { line_path(&points) + "Z" }
}

/// Words, the places where they may stand, and their class.
type Label<'a> = (String, Vec<(f64, f64)>, &'a str);

/// The number of each level on its longest lines, where it meets no other number; the worst beside its place.
fn numbers(pen: &mut Pen<'_>, map: &StretchMap, lines: &[(f64, Vec<(f64, f64)>)], [w, h]: [f64; 2]) {
    let unit = pen.unit();
    let length =
        |line: &[(f64, f64)]| line.windows(2).map(|p| (p[1].0 - p[0].0).hypot(p[1].1 - p[0].1)).sum::<f64>();
    let room = Rect { x: 0.0, y: 0.0, w: w + 2.0 * SIDE * unit, h: h + 2.0 * SIDE * unit };
    let mut words: Vec<Label<'_>> = Vec::new();
    let worst = (0..map.points.len() as u32).max_by(|a, b| map.value(*a).total_cmp(&map.value(*b)));
    if let Some(place) = worst.and_then(|v| map.place(Key::Vertex(v), 0.0)) {
        let (dx, dy) = (34.0 * unit, 14.0 * unit);
        let around =
            [(0.0, -dy), (0.0, dy), (dx, 0.0), (-dx, 0.0), (dx, dy), (-dx, dy), (dx, -dy), (-dx, -dy)];
        let near = around.iter().map(|(x, y)| (place.0 + x, place.1 + y)).collect();
        words.push((format!("worst {}", percent(map.worst)), near, "b tb"));
        pen.circle("solidb", place.0, place.1, 2.6 * unit);
    }
    let mut level = f64::NAN;
    let mut count = 0;
    let mut order: Vec<&(f64, Vec<(f64, f64)>)> = lines.iter().collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(length(&b.1).total_cmp(&length(&a.1))));
    for (l, line) in order {
        count = if *l == level { count + 1 } else { 1 };
        level = *l;
        if count > 2 || length(line) < 60.0 * unit {
            continue;
        }
        let spots = (1..8).map(|k| line[line.len() * k / 8]).collect();
        words.push((percent(*l), spots, ""));
    }
    let candidates: Vec<Vec<(Rect, f64)>> = words
        .iter()
        .map(|(text, spots, class)| {
            let probe = Text { x: 0.0, y: 0.0, size: 12.0, anchor: Anchor::Start, class, text };
            let e = pen.extent(probe).grown(1.5 * unit);
            let rects = spots.iter().map(|p| Rect::around(p.0, p.1, e.w, e.h));
            // the middle of the line is best
            rects.filter(|r| room.holds(r)).enumerate().map(|(i, r)| (r, (i as f64 - 3.0).abs())).collect()
        })
        .collect();
    let chosen = label::settle(&candidates, |_, (r, bias), others| {
        others.iter().filter(|(_, (o, _))| o.meets(&r)).count() as f64 * 1e3 + bias
    });
    for (i, place) in chosen.iter().enumerate() {
        let Some((r, _)) = place else { continue };
        if chosen[..i].iter().flatten().any(|(o, _)| o.meets(r)) {
            continue;
        }
        pen.rect("patch", r.x, r.y, r.w, r.h);
        let (x, y) = (r.x + r.w / 2.0, r.y + r.h / 2.0 + 0.33 * 12.0 * unit);
        pen.text(Text { x, y, size: 12.0, anchor: Anchor::Middle, class: words[i].2, text: &words[i].0 });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of 100 mm whose stretch grows from its middle outwards as f(r).
    fn square(n: u32, f: impl Fn(f64) -> f64) -> StretchMap {
        let at = |k: u32| 100.0 * f64::from(k) / f64::from(n);
        let points: Vec<(f64, f64)> =
            (0..=n).flat_map(|j| (0..=n).map(move |i| (i, j))).map(|(i, j)| (at(i), at(j))).collect();
        let stretch: Vec<f64> = points.iter().map(|p| f((p.0 - 50.0).hypot(p.1 - 50.0))).collect();
        let v = |i: u32, j: u32| j * (n + 1) + i;
        let triangles = (0..n)
            .flat_map(|j| (0..n).map(move |i| (i, j)))
            .flat_map(|(i, j)| {
                [[v(i, j), v(i + 1, j), v(i + 1, j + 1)], [v(i, j), v(i + 1, j + 1), v(i, j + 1)]]
            })
            .collect();
        let worst = stretch.iter().copied().fold(0.0, f64::max);
        StretchMap { title: "Square".into(), points, triangles, stretch, worst, ..StretchMap::default() }
    }

    fn area(map: &StretchMap, level: f64) -> f64 {
        let rim = rim(&map.triangles);
        let mut segments = map.segments(level);
        for [a, b] in &rim {
            match (map.value(*a) > level, map.value(*b) > level) {
                (true, true) => segments.push((Key::Vertex(*a), Key::Vertex(*b))),
                (true, false) => segments.push((Key::Vertex(*a), Key::edge(*a, *b))),
                (false, true) => segments.push((Key::edge(*a, *b), Key::Vertex(*b))),
                (false, false) => {}
            }
        }
        joined(segments)
            .iter()
            .map(|ring| {
                let p: Vec<_> = ring.iter().filter_map(|k| map.place(*k, level)).collect();
                (0..p.len())
                    .map(|i| {
                        let q = p[(i + 1) % p.len()];
                        (p[i].0 * q.1 - p[i].1 * q.0) / 2.0
                    })
                    .sum::<f64>()
            })
            .sum()
    }

    #[test]
    fn the_region_over_a_level_has_its_area() {
        // over r = 30 mm: the square without a disk, a ring with a hole
        let map = square(80, |r| r * 1e-3);
        let wanted = 10_000.0 - std::f64::consts::PI * 900.0;
        assert!((area(&map, 0.03) / wanted - 1.0).abs() < 1e-3, "{} for {wanted}", area(&map, 0.03));
        // under it: the disk alone
        let map = square(80, |r| 0.1 - r * 1e-3);
        let wanted = std::f64::consts::PI * 900.0;
        assert!((area(&map, 0.07) / wanted - 1.0).abs() < 2e-3, "{} for {wanted}", area(&map, 0.07));
    }

    #[test]
    fn level_lines_close_inside_and_end_at_the_rim() {
        let map = square(40, |r| r * 1e-3);
        let inside = map.lines(0.03);
        assert_eq!(inside.len(), 1);
        assert_eq!(inside[0].first(), inside[0].last());
        // r = 60 meets each side twice and leaves the corners: four open lines
        let cut = map.lines(0.06);
        assert_eq!(cut.len(), 4);
        assert!(cut.iter().all(|l| l.first() != l.last()));
    }

    #[test]
    fn levels_are_even_and_hatches_keep_their_meaning() {
        let levels = StretchLevels::of(0.0186);
        assert_eq!(levels.levels.len(), 3);
        assert_eq!(levels.key(), [(Hatch::Light, "over 1 %".into()), (Hatch::Marked, "over 1.5 %".into())]);
        let steep = StretchLevels::of(0.081);
        assert_eq!(steep.key(), [(Hatch::Light, "over 5 %".into()), (Hatch::Marked, "over 7 %".into())]);
        assert!(StretchLevels::of(0.0).levels.is_empty());
    }

    #[test]
    fn a_map_of_nothing_is_a_frame() {
        assert!(stretch_map(&StretchMap::default(), Medium::Alone).starts_with("<svg"));
    }
}
