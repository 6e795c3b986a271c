//! Scans from files: OBJ, PLY, STL, glTF.

mod gltf;
mod obj;
mod ply;
mod stl;
mod unit;

pub use obj::write_obj;
pub use unit::{Unit, UnitGuess};

use crate::Mesh;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

/// Most bytes of a file that is read.
pub const LARGEST_FILE: usize = 256 << 20;
/// Most vertices of a scan.
pub const MOST_VERTICES: usize = 4_000_000;
/// Most triangles of a scan.
pub const MOST_TRIANGLES: usize = 8_000_000;

/// A format of mesh files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Format {
    /// Wavefront OBJ, text.
    Obj,
    /// Polygon file format, text or binary.
    Ply,
    /// Stereolithography, text or binary.
    Stl,
    /// glTF 2.0, as JSON or as GLB.
    Gltf,
}

impl Format {
    /// By the first bytes where they say it, else by the ending of the file's name.
    pub fn of(bytes: &[u8], name: &str) -> Option<Self> {
        let ending = name.rsplit_once('.').map(|(_, e)| e.to_ascii_lowercase()).unwrap_or_default();
        if bytes.starts_with(b"glTF") {
            return Some(Self::Gltf);
        }
        if bytes.starts_with(b"ply\n") || bytes.starts_with(b"ply\r") {
            return Some(Self::Ply);
        }
        if stl::is_binary(bytes) {
            return Some(Self::Stl);
        }
        match ending.as_str() {
            "obj" => Some(Self::Obj),
            "ply" => Some(Self::Ply),
            "stl" => Some(Self::Stl),
            "gltf" | "glb" => Some(Self::Gltf),
            _ if bytes.starts_with(b"solid") => Some(Self::Stl),
            _ => None,
        }
    }
}

/// What a file holds, in the file's own unit: polygons parted into triangles, nothing mended.
#[derive(Clone, Debug, PartialEq)]
pub struct Scan {
    /// Its format.
    pub format: Format,
    /// Where each vertex lies, in the file's unit.
    pub vertices: Vec<[f64; 3]>,
    /// Three vertices each.
    pub triangles: Vec<[u32; 3]>,
}

impl Scan {
    /// As a mesh in millimeters.
    pub fn in_unit(self, unit: Unit) -> Mesh {
        let mm = unit.in_mm();
        // multiplying by 1 changes no digit, so a file in millimeters comes through as it is
        let vertices = self.vertices.into_iter().map(|v| v.map(|c| c * mm)).collect();
        Mesh { vertices, triangles: self.triangles }
    }

    /// The unit that the file is most likely in, and why.
    pub fn guess_unit(&self) -> UnitGuess {
        unit::guess(self.format, &self.vertices)
    }
}

/// Why a file is not read: where, what, what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadFlaw {
    /// Line or part of the file; empty where it is the whole file.
    pub place: String,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub hint: String,
}

impl std::fmt::Display for ReadFlaw {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.place.as_str() {
            "" => write!(f, "{}: {}", self.what, self.hint),
            place => write!(f, "{} ({place}): {}", self.what, self.hint),
        }
    }
}

impl std::error::Error for ReadFlaw {}

impl ReadFlaw {
    fn new(place: impl Into<String>, what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { place: place.into(), what: what.into(), hint: hint.into() }
    }

    fn line(line: usize, what: impl Into<String>) -> Self {
        Self::new(format!("line {line}"), what, "export the mesh again")
    }
}

/// Reads a scan. `beside` gives the bytes of a file that the scan names (glTF keeps its numbers in such files); whoever
/// calls decides which names are allowed.
///
/// Memory stays within a few times the file's size, whatever its header promises.
///
/// # Errors
/// When the format is unknown, the file is damaged, or it is too large.
pub fn read(bytes: &[u8], name: &str, beside: &dyn Fn(&str) -> Option<Vec<u8>>) -> Result<Scan, ReadFlaw> {
    if bytes.len() > LARGEST_FILE {
        let what = format!("the file has {} MB, {} are read", bytes.len() >> 20, LARGEST_FILE >> 20);
        return Err(ReadFlaw::new("", what, "export fewer triangles: 100,000 are plenty for a panel"));
    }
    let format = Format::of(bytes, name).ok_or_else(|| {
        ReadFlaw::new(
            "",
            "this is no mesh file that is known here",
            "export it as OBJ, PLY, STL, glTF or GLB",
        )
    })?;
    let mut soup = Soup::default();
    match format {
        Format::Obj => obj::read(bytes, &mut soup)?,
        Format::Ply => ply::read(bytes, &mut soup)?,
        Format::Stl => stl::read(bytes, &mut soup)?,
        Format::Gltf => gltf::read(bytes, beside, &mut soup)?,
    }
    if soup.triangles.is_empty() {
        let hint = "export the scan as a mesh of triangles, not as points or curves";
        return Err(ReadFlaw::new("", "there is no triangle in the file", hint));
    }
    let known = soup.vertices.len();
    if let Some(corner) = soup.triangles.iter().flatten().find(|v| **v as usize >= known) {
        let what = format!("a triangle names vertex {corner} (counted from 0) of {known}");
        return Err(ReadFlaw::new("", what, "export the mesh again"));
    }
    Ok(Scan { format, vertices: soup.vertices, triangles: soup.triangles })
}

/// What has been read so far, with its limits.
#[derive(Default)]
struct Soup {
    vertices: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    seen: HashMap<[u64; 3], u32>,
}

impl Soup {
    fn vertex(&mut self, at: [f64; 3]) -> Result<u32, &'static str> {
        if !at.iter().all(|c| c.is_finite()) {
            return Err("a coordinate is no finite number");
        }
        if self.vertices.len() >= MOST_VERTICES {
            return Err("there are more than 4,000,000 vertices");
        }
        self.vertices.push(at);
        Ok(self.vertices.len() as u32 - 1)
    }

    /// For formats that repeat a vertex at every triangle: one number for equal coordinates.
    fn shared_vertex(&mut self, at: [f64; 3]) -> Result<u32, &'static str> {
        // adding zero makes −0 and 0 one place
        let key = at.map(|c| (c + 0.0).to_bits());
        if let Some(known) = self.seen.get(&key) {
            return Ok(*known);
        }
        let number = self.vertex(at)?;
        self.seen.insert(key, number);
        Ok(number)
    }

    fn triangle(&mut self, corners: [u32; 3]) -> Result<(), &'static str> {
        if self.triangles.len() >= MOST_TRIANGLES {
            return Err("there are more than 8,000,000 triangles");
        }
        self.triangles.push(corners);
        Ok(())
    }

    /// A polygon as a fan about its first corner.
    fn polygon(&mut self, corners: &[u32]) -> Result<(), &'static str> {
        for k in 2..corners.len() {
            self.triangle([corners[0], corners[k - 1], corners[k]])?;
        }
        Ok(())
    }
}
