//! STL, text and binary. Corners at equal coordinates become one vertex.
//!
//! Our own reader, since the crate for it (stl_io 0.11) takes a binary file whose header begins with "solid" for text,
//! refuses text whose normals are not finite (many programs write such normals for triangles without area), and gives
//! no line number. Normals are passed over: the order of the corners says which way a triangle faces.

use super::{ReadFlaw, Soup};

/// Whether the length is what the count at byte 80 demands.
pub(super) fn is_binary(bytes: &[u8]) -> bool {
    count(bytes).is_some_and(|n| bytes.len() as u64 == 84 + 50 * u64::from(n))
}

fn count(bytes: &[u8]) -> Option<u32> {
    let field = bytes.get(80..84)?;
    Some(u32::from_le_bytes(field.try_into().ok()?))
}

pub(super) fn read(bytes: &[u8], soup: &mut Soup) -> Result<(), ReadFlaw> {
    let text = bytes.trim_ascii_start().get(..5).is_some_and(|w| w.eq_ignore_ascii_case(b"solid"));
    if text && !is_binary(bytes) { read_text(bytes, soup) } else { read_binary(bytes, soup) }
}

fn read_binary(bytes: &[u8], soup: &mut Soup) -> Result<(), ReadFlaw> {
    let again = "export or copy it again";
    let Some(count) = count(bytes) else {
        return Err(ReadFlaw::new("", "the file ends within its header", again));
    };
    let found = (bytes.len() - 84) / 50;
    if (found as u64) < u64::from(count) {
        let what = format!("the file ends after {found} of {count} triangles");
        return Err(ReadFlaw::new("", what, again));
    }
    for (t, record) in bytes[84..].chunks_exact(50).take(count as usize).enumerate() {
        let flaw = |what: &str| ReadFlaw::new(format!("triangle {}", t + 1), what, "export the mesh again");
        let mut corners = [0; 3];
        for (k, corner) in corners.iter_mut().enumerate() {
            let number = |i: usize| {
                let at = 12 + 12 * k + 4 * i;
                f64::from(f32::from_le_bytes([record[at], record[at + 1], record[at + 2], record[at + 3]]))
            };
            *corner = soup.shared_vertex([number(0), number(1), number(2)]).map_err(flaw)?;
        }
        soup.triangle(corners).map_err(flaw)?;
    }
    Ok(())
}

fn read_text(bytes: &[u8], soup: &mut Soup) -> Result<(), ReadFlaw> {
    let text = String::from_utf8_lossy(bytes);
    let mut corners: Vec<u32> = Vec::new();
    let mut ended = false;
    for (i, line) in text.lines().enumerate() {
        let flaw = |what: &str| ReadFlaw::line(i + 1, what);
        let mut words = line.split_ascii_whitespace();
        let Some(word) = words.next() else { continue };
        ended = false;
        if word.eq_ignore_ascii_case("vertex") {
            let mut at = [0.0; 3];
            for c in &mut at {
                *c = words
                    .next()
                    .and_then(|w| w.parse().ok())
                    .ok_or_else(|| flaw("a vertex needs three numbers"))?;
            }
            let number = soup.shared_vertex(at).map_err(flaw)?;
            corners.push(number);
            if corners.len() > 3 {
                return Err(flaw("a facet has more than three corners"));
            }
        } else if word.eq_ignore_ascii_case("endfacet") {
            let triangle = corners.as_slice().try_into().map_err(|_| flaw("a facet needs three corners"))?;
            soup.triangle(triangle).map_err(flaw)?;
            corners.clear();
        } else if word.eq_ignore_ascii_case("endsolid") {
            ended = true;
        } else if !["solid", "facet", "outer", "endloop"].iter().any(|w| word.eq_ignore_ascii_case(w)) {
            let word: String = word.chars().take(24).collect();
            return Err(flaw(&format!("'{word}' does not belong in an STL file")));
        }
    }
    if !ended {
        return Err(ReadFlaw::new("", "the file ends without 'endsolid'", "export or copy it again"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{Scan, read};
    use super::*;

    fn scan(bytes: &[u8]) -> Result<Scan, ReadFlaw> {
        read(bytes, "a.stl", &|_| None)
    }

    fn binary(header: &[u8], triangles: &[[[f32; 3]; 3]]) -> Vec<u8> {
        let mut bytes = header.to_vec();
        bytes.resize(80, b' ');
        bytes.extend((triangles.len() as u32).to_le_bytes());
        for t in triangles {
            bytes.extend([0; 12]);
            t.iter().flatten().for_each(|c| bytes.extend(c.to_le_bytes()));
            bytes.extend([0; 2]);
        }
        bytes
    }

    const TWO: [[[f32; 3]; 3]; 2] = [
        [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]],
        [[1.0, 0.0, -0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0]],
    ];

    #[test]
    fn a_binary_file_that_says_solid_is_binary() {
        let scan = scan(&binary(b"solid by some program", &TWO)).unwrap();
        assert_eq!((scan.vertices.len(), scan.triangles), (4, vec![[0, 1, 2], [1, 3, 2]]));
    }

    #[test]
    fn text_with_normals_that_are_no_numbers_is_read() {
        let text = "SOLID\nfacet normal nan nan nan\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid";
        assert_eq!(scan(text.as_bytes()).unwrap().triangles, [[0, 1, 2]]);
    }

    #[test]
    fn what_is_cut_off_is_said() {
        let whole = binary(b"", &TWO);
        let said = scan(&whole[..150]).unwrap_err().to_string();
        assert_eq!(said, "the file ends after 1 of 2 triangles: export or copy it again");
        let said = scan(b"solid\nfacet normal 0 0 1\nvertex 0 0\n").unwrap_err().to_string();
        assert_eq!(said, "a vertex needs three numbers (line 3): export the mesh again");
    }
}
