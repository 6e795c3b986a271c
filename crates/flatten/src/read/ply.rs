//! PLY, text and binary in both byte orders, by the crate `ply-rs-bw` 4.
//!
//! Elements are read one by one into our own arrays and those of other kinds dropped at once, and a header that
//! promises more elements than the file has bytes for is refused before anything is read: the crate's own list of
//! elements would grow with the promise.

use super::{ReadFlaw, Soup};
use ply_rs_bw::parser::{Parser, Reader};
use ply_rs_bw::ply::{
    ElementDef, Encoding, Property, PropertyAccess, PropertyAccessResult, PropertyType, ScalarType,
};
use std::io::{BufRead, Cursor};

/// One element: what of it is a place or a list of corners.
#[derive(Default)]
struct Element {
    at: [f64; 3],
    corners: Vec<i64>,
    strips: bool,
}

impl PropertyAccess for Element {
    fn new() -> Self {
        Self::default()
    }

    fn set_property(&mut self, name: &str, property: Property) -> PropertyAccessResult {
        match name {
            "x" => self.at[0] = number(&property),
            "y" => self.at[1] = number(&property),
            "z" => self.at[2] = number(&property),
            "vertex_indices" | "vertex_index" => match list(property) {
                Some(corners) => self.corners = corners,
                None => return PropertyAccessResult::UnsupportedType,
            },
            "tristrips" => self.strips = true,
            _ => return PropertyAccessResult::Ignored,
        }
        PropertyAccessResult::Set
    }
}

fn number(property: &Property) -> f64 {
    match property {
        Property::Char(v) => f64::from(*v),
        Property::UChar(v) => f64::from(*v),
        Property::Short(v) => f64::from(*v),
        Property::UShort(v) => f64::from(*v),
        Property::Int(v) => f64::from(*v),
        Property::UInt(v) => f64::from(*v),
        Property::Float(v) => f64::from(*v),
        Property::Double(v) => *v,
        _ => f64::NAN,
    }
}

fn list(property: Property) -> Option<Vec<i64>> {
    Some(match property {
        Property::ListChar(l) => l.into_iter().map(i64::from).collect(),
        Property::ListUChar(l) => l.into_iter().map(i64::from).collect(),
        Property::ListShort(l) => l.into_iter().map(i64::from).collect(),
        Property::ListUShort(l) => l.into_iter().map(i64::from).collect(),
        Property::ListInt(l) => l.into_iter().map(i64::from).collect(),
        Property::ListUInt(l) => l.into_iter().map(i64::from).collect(),
        _ => return None,
    })
}

pub(super) fn read(bytes: &[u8], soup: &mut Soup) -> Result<(), ReadFlaw> {
    let parser = Parser::<Element>::new();
    let mut reader = Reader::new(Cursor::new(bytes));
    let again = "export or copy it again";
    let header = parser.read_header(&mut reader).map_err(|e| {
        let place = e.line().map(|l| format!("line {l}")).unwrap_or_default();
        ReadFlaw::new(place, format!("the header is damaged: {}", first_line(&e.to_string())), again)
    })?;
    // the reader stands before the first line of data
    let mut line = reader.line().saturating_sub(1);
    let mut rest = reader.into_inner();
    let mut text = String::new();
    for (name, element) in &header.elements {
        let left = bytes.len() as u64 - rest.position().min(bytes.len() as u64);
        let least = least_bytes(element, header.encoding);
        if (element.count as u64).saturating_mul(least) > left.saturating_add(1)
            || (least == 0 && element.count > 0)
        {
            let what =
                format!("the header promises {} of '{name}', the file is too short for them", element.count);
            return Err(ReadFlaw::new("", what, again));
        }
        if name == "vertex" && !["x", "y", "z"].iter().all(|c| element.properties.contains_key(*c)) {
            return Err(ReadFlaw::new("header", "vertices without x, y and z", "export the mesh again"));
        }
        for i in 0..element.count {
            let read = match header.encoding {
                Encoding::Ascii => {
                    text.clear();
                    let got = rest.read_line(&mut text);
                    line += 1;
                    match got {
                        Ok(0) | Err(_) => {
                            return Err(ReadFlaw::line(
                                line,
                                "the file ends, or is no text, before its last element",
                            ));
                        }
                        Ok(_) => parser.read_ascii_element(&text, element),
                    }
                }
                Encoding::BinaryLittleEndian => parser.read_little_endian_element(&mut rest, element),
                Encoding::BinaryBigEndian => parser.read_big_endian_element(&mut rest, element),
            };
            let place = || match header.encoding {
                Encoding::Ascii => format!("line {line}"),
                _ => format!("'{name}' {} of {}", i + 1, element.count),
            };
            let read = read.map_err(|e| ReadFlaw::new(place(), first_line(&e.to_string()), again))?;
            take(name, &read, soup).map_err(|what| ReadFlaw::new(place(), what, "export the mesh again"))?;
        }
    }
    Ok(())
}

fn take(name: &str, element: &Element, soup: &mut Soup) -> Result<(), String> {
    if name == "vertex" {
        soup.vertex(element.at)?;
    } else if name == "face" {
        let corners: Result<Vec<u32>, _> = element.corners.iter().map(|c| u32::try_from(*c)).collect();
        let corners = corners.map_err(|_| "a face names a vertex below 0".to_owned())?;
        soup.polygon(&corners)?;
    } else if element.strips {
        return Err("triangle strips are not read: export triangles".into());
    }
    Ok(())
}

/// Bytes that an element takes at the least.
fn least_bytes(element: &ElementDef, encoding: Encoding) -> u64 {
    let size = |s: &ScalarType| match s {
        ScalarType::Char | ScalarType::UChar => 1,
        ScalarType::Short | ScalarType::UShort => 2,
        ScalarType::Int | ScalarType::UInt | ScalarType::Float => 4,
        ScalarType::Double => 8,
    };
    element
        .properties
        .iter()
        .map(|(_, p)| match (&p.data_type, encoding) {
            // a digit and a space or line's end
            (_, Encoding::Ascii) => 2,
            (PropertyType::Scalar(s) | PropertyType::List(s, _), _) => size(s),
        })
        .sum()
}

/// The first line of what the crate says; the rest repeats the file.
fn first_line(text: &str) -> String {
    text.lines().next().unwrap_or_default().chars().take(160).collect()
}

#[cfg(test)]
mod tests {
    use super::super::{Scan, read};
    use super::*;

    fn scan(bytes: &[u8]) -> Result<Scan, ReadFlaw> {
        read(bytes, "a.ply", &|_| None)
    }

    const HEAD: &str = "element vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n";

    #[test]
    fn all_three_encodings_give_the_same() {
        let text = format!("ply\nformat ascii 1.0\ncomment w\n{HEAD}0 0 0\n1 0 0\n0 1 0.5\n3 0 1 2\n");
        let wanted = scan(text.as_bytes()).unwrap();
        assert_eq!((wanted.vertices.len(), &wanted.triangles), (3, &vec![[0, 1, 2]]));
        let numbers = [0f32, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.5];
        let mut little = format!("ply\nformat binary_little_endian 1.0\n{HEAD}").into_bytes();
        numbers.iter().for_each(|c| little.extend(c.to_le_bytes()));
        little.push(3);
        [0i32, 1, 2].iter().for_each(|c| little.extend(c.to_le_bytes()));
        assert_eq!(scan(&little).unwrap(), wanted);
        let mut big = format!("ply\nformat binary_big_endian 1.0\n{HEAD}").into_bytes();
        numbers.iter().for_each(|c| big.extend(c.to_be_bytes()));
        big.push(3);
        [0i32, 1, 2].iter().for_each(|c| big.extend(c.to_be_bytes()));
        assert_eq!(scan(&big).unwrap(), wanted);
    }

    #[test]
    fn a_header_that_promises_too_much_is_refused_at_once() {
        for promise in ["element vertex 4000000000", "element vertex 18446744073709551615"] {
            let head = HEAD.replace("element vertex 3", promise);
            let said = scan(format!("ply\nformat binary_little_endian 1.0\n{head}").as_bytes()).unwrap_err();
            assert!(said.what.contains("too short"), "{said}");
        }
        let empty = "ply\nformat ascii 1.0\nelement nothing 4000000000\nend_header\n";
        assert!(scan(empty.as_bytes()).unwrap_err().what.contains("too short"));
    }

    #[test]
    fn flaws_are_named_by_line() {
        let text = format!("ply\nformat ascii 1.0\n{HEAD}0 0 0\n1 0 zero\n0 1 0.5\n3 0 1 2\n");
        assert_eq!(scan(text.as_bytes()).unwrap_err().place, "line 11");
    }
}
