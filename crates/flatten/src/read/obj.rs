//! Wavefront OBJ: vertices and faces; all else is passed over.
//!
//! Our own reader of two kinds of lines, since crates for it (tobj 4) part a file at groups and materials, number the
//! vertices anew, give no line number, refuse sound faces for a missing texture coordinate, and overflow on hostile
//! indices.

use super::{ReadFlaw, Soup};
use crate::Mesh;
use std::fmt::Write;

pub(super) fn read(bytes: &[u8], soup: &mut Soup) -> Result<(), ReadFlaw> {
    let text = String::from_utf8_lossy(bytes);
    // the farthest vertex that a face names, and the line where it does
    let mut farthest = (0i64, 0usize);
    let mut corners = Vec::new();
    let mut lines = text.lines().enumerate();
    let mut carried = String::new();
    while let Some((i, line)) = lines.next() {
        let mut line = line.trim();
        // a backslash at the end carries a statement on
        if line.ends_with('\\') {
            carried.clear();
            while let Some(part) = line.strip_suffix('\\') {
                carried.push_str(part);
                carried.push(' ');
                line = lines.next().map_or("", |(_, l)| l.trim());
            }
            carried.push_str(line);
            line = &carried;
        }
        let flaw = |what: &str| ReadFlaw::line(i + 1, what);
        let mut words = line.split_whitespace();
        match words.next() {
            Some("v") => {
                let mut at = [0.0; 3];
                for c in &mut at {
                    let word = words.next().ok_or_else(|| flaw("a vertex needs three coordinates"))?;
                    *c = word.parse().map_err(|_| flaw(&format!("'{}' is no number", short(word))))?;
                }
                soup.vertex(at).map_err(flaw)?;
            }
            Some("f") => {
                corners.clear();
                let known = soup.vertices.len() as i64;
                for word in words {
                    let number = word.split('/').next().unwrap_or_default();
                    let index: i64 =
                        number.parse().map_err(|_| flaw(&format!("'{}' names no vertex", short(word))))?;
                    // counted from 1, or backwards from the last one
                    let index = if index < 0 { known.saturating_add(index) } else { index - 1 };
                    if !(0..i64::from(u32::MAX)).contains(&index) {
                        return Err(flaw(&format!("'{}' names no vertex", short(word))));
                    }
                    if index > farthest.0 {
                        farthest = (index, i + 1);
                    }
                    corners.push(index as u32);
                }
                soup.polygon(&corners).map_err(flaw)?;
            }
            _ => {}
        }
    }
    if farthest.1 > 0 && farthest.0 >= soup.vertices.len() as i64 {
        let what = format!("a face names vertex {} of {}", farthest.0 + 1, soup.vertices.len());
        return Err(ReadFlaw::line(farthest.1, what));
    }
    Ok(())
}

/// The beginning of a word, for messages.
fn short(word: &str) -> String {
    word.chars().take(24).collect()
}

/// A mesh as OBJ in millimeters, vertices and triangles in their order, digits such that each number comes back as it
/// was.
pub fn write_obj(mesh: &Mesh) -> String {
    let mut text = String::with_capacity(mesh.vertices.len() * 60 + mesh.triangles.len() * 24);
    for [x, y, z] in &mesh.vertices {
        // writing into a string cannot fail
        let _ = writeln!(text, "v {x} {y} {z}");
    }
    for [a, b, c] in &mesh.triangles {
        let _ = writeln!(text, "f {} {} {}", a + 1, b + 1, c + 1);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::{Scan, read};
    use super::*;

    fn scan(text: &str) -> Result<Scan, ReadFlaw> {
        read(text.as_bytes(), "a.obj", &|_| None)
    }

    #[test]
    fn polygons_are_parted_and_indices_may_count_backwards() {
        let scan = scan(
            "# w\nv 0 0 0\nv 1 0 0\nv 1 1 0 0.5 0.5 0.5\nv 0 1 0\nf 1/1/1 2//2 3/3 \\\n 4\nf -4 -3 -2\n",
        );
        assert_eq!(scan.unwrap().triangles, [[0, 1, 2], [0, 2, 3], [0, 1, 2]]);
    }

    #[test]
    fn flaws_are_named_by_line() {
        let check = |text: &str, wanted: &str| assert_eq!(scan(text).unwrap_err().to_string(), wanted);
        check("v 0 0 0\nv 1 x 0\n", "'x' is no number (line 2): export the mesh again");
        check("v 0 0\n", "a vertex needs three coordinates (line 1): export the mesh again");
        check("v 0 0 0\nf 1 1 9\n", "a face names vertex 9 of 1 (line 2): export the mesh again");
        check("v 0 0 0\nf 1 1 0\n", "'0' names no vertex (line 2): export the mesh again");
        check("v 0 0 0\nf 1 1 -2\n", "'-2' names no vertex (line 2): export the mesh again");
        check("v 0 0 inf\n", "a coordinate is no finite number (line 1): export the mesh again");
        check(
            "v 0 0 0\n",
            "there is no triangle in the file: export the scan as a mesh of triangles, not as points or curves",
        );
    }

    #[test]
    fn what_is_written_comes_back_digit_for_digit() {
        let vertices = vec![[0.1, 1.0 / 3.0, -1e-17], [2e9, 5.5, 0.0], [7.0, 8.0, 9.0]];
        let mesh = Mesh { vertices, triangles: vec![[2, 0, 1]] };
        let back = scan(&write_obj(&mesh)).unwrap().in_unit(super::super::Unit::Mm);
        assert_eq!(back, mesh);
    }
}
