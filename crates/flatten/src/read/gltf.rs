//! glTF 2.0 (Khronos; ISO/IEC 12113:2022), as JSON with its numbers beside or within, or as GLB.
//!
//! Our own reader of the few parts that hold geometry, over `serde_json`: the crate `gltf` 1.4 overflows on an accessor
//! of length 0, panics on sparse accessors that end early, follows nodes that contain themselves, and makes hundreds of
//! bytes of every `{}` in a hostile file. Here every list is capped, every range is checked, every node is met once.

use super::{ReadFlaw, Soup};
use base64::Engine;
use serde::de::{Deserialize, Deserializer, Error, SeqAccess, Visitor};
use std::borrow::Cow;
use std::marker::PhantomData;

/// Most entries of a list of nodes, meshes, accessors and the like.
const MOST: usize = 65_536;

/// A list with a limit.
struct Capped<T>(Vec<T>);

impl<T> Default for Capped<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Capped<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct List<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for List<T> {
            type Value = Capped<T>;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a list")
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut entries: A) -> Result<Capped<T>, A::Error> {
                let mut list = Vec::new();
                while let Some(entry) = entries.next_element()? {
                    if list.len() == MOST {
                        return Err(A::Error::custom(format!("a list has more than {MOST} entries")));
                    }
                    list.push(entry);
                }
                Ok(Capped(list))
            }
        }
        from.deserialize_seq(List(PhantomData))
    }
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "camelCase")]
struct Root<'a> {
    asset: Asset,
    scene: Option<u32>,
    #[serde(default)]
    scenes: Capped<Scene>,
    #[serde(default)]
    nodes: Capped<Node>,
    #[serde(default)]
    meshes: Capped<Mesh>,
    #[serde(default)]
    accessors: Capped<Accessor>,
    #[serde(default)]
    buffer_views: Capped<View>,
    #[serde(default, borrow)]
    buffers: Capped<Buffer<'a>>,
    #[serde(default)]
    extensions_required: Capped<String>,
}

#[derive(serde::Deserialize)]
struct Asset {
    version: String,
}

#[derive(serde::Deserialize)]
struct Scene {
    #[serde(default)]
    nodes: Capped<u32>,
}

#[derive(serde::Deserialize)]
struct Node {
    mesh: Option<u32>,
    #[serde(default)]
    children: Capped<u32>,
    matrix: Option<Box<[f64; 16]>>,
    translation: Option<Box<[f64; 3]>>,
    rotation: Option<Box<[f64; 4]>>,
    scale: Option<Box<[f64; 3]>>,
}

#[derive(serde::Deserialize)]
struct Mesh {
    #[serde(default)]
    primitives: Capped<Primitive>,
}

#[derive(serde::Deserialize)]
struct Primitive {
    attributes: Attributes,
    indices: Option<u32>,
    #[serde(default = "triangles")]
    mode: u32,
}

const fn triangles() -> u32 {
    4
}

#[derive(serde::Deserialize)]
struct Attributes {
    #[serde(rename = "POSITION")]
    position: Option<u32>,
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "camelCase")]
struct Accessor {
    buffer_view: Option<u32>,
    #[serde(default)]
    byte_offset: u64,
    component_type: u32,
    #[serde(default)]
    normalized: bool,
    count: u64,
    #[serde(rename = "type")]
    shape: String,
    sparse: Option<serde::de::IgnoredAny>,
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "camelCase")]
struct View {
    buffer: u32,
    #[serde(default)]
    byte_offset: u64,
    byte_length: u64,
    byte_stride: Option<u64>,
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "camelCase")]
struct Buffer<'a> {
    #[serde(default, borrow)]
    uri: Option<Cow<'a, str>>,
    byte_length: u64,
}

fn flaw(place: impl Into<String>, what: impl Into<String>) -> ReadFlaw {
    ReadFlaw::new(place, what, "export the mesh again, without compression")
}

pub(super) fn read(
    bytes: &[u8],
    beside: &dyn Fn(&str) -> Option<Vec<u8>>,
    soup: &mut Soup,
) -> Result<(), ReadFlaw> {
    let (json, within) = if bytes.starts_with(b"glTF") { chunks(bytes)? } else { (bytes, None) };
    let root: Root<'_> = serde_json::from_slice(json).map_err(|e| flaw("JSON", e.to_string()))?;
    if !root.asset.version.starts_with("2.") {
        return Err(flaw("asset", format!("glTF {} is not read, 2.0 is", short(&root.asset.version))));
    }
    if let Some(extension) =
        root.extensions_required.0.iter().find(|e| e.contains("compression") || e.contains("draco"))
    {
        return Err(flaw("", format!("the geometry is compressed ({})", short(extension))));
    }
    let buffers = buffers(&root, within, beside)?;
    let file = File { root: &root, buffers: &buffers };
    file.scene(soup)
}

fn short(text: &str) -> String {
    text.chars().take(40).collect()
}

/// JSON and binary chunk of a GLB.
fn chunks(bytes: &[u8]) -> Result<(&[u8], Option<&[u8]>), ReadFlaw> {
    let ends = || ReadFlaw::new("", "the file ends early", "export or copy it again");
    let word =
        |at: usize| -> Option<u32> { Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?)) };
    let version = word(4).ok_or_else(ends)?;
    if version != 2 {
        return Err(flaw("", format!("glTF {version} is not read, 2.0 is")));
    }
    let (mut json, mut binary, mut at) = (None, None, 12);
    while at < bytes.len() && (json.is_none() || binary.is_none()) {
        let length = word(at).ok_or_else(ends)? as usize;
        let kind = word(at + 4).ok_or_else(ends)?.to_le_bytes();
        let chunk = bytes.get(at + 8..).and_then(|rest| rest.get(..length)).ok_or_else(ends)?;
        match &kind {
            b"JSON" if json.is_none() => json = Some(chunk),
            b"BIN\0" if binary.is_none() => binary = Some(chunk),
            _ => {}
        }
        at = at + 8 + length;
    }
    Ok((json.ok_or_else(ends)?, binary))
}

fn buffers<'a>(
    root: &Root<'_>,
    within: Option<&'a [u8]>,
    beside: &dyn Fn(&str) -> Option<Vec<u8>>,
) -> Result<Vec<Cow<'a, [u8]>>, ReadFlaw> {
    let mut buffers: Vec<Cow<'a, [u8]>> = Vec::new();
    let mut total = 0;
    for (i, buffer) in root.buffers.0.iter().enumerate() {
        let place = format!("buffer {i}");
        let bytes: Cow<'a, [u8]> = match buffer.uri.as_deref() {
            None => Cow::Borrowed(within.filter(|_| i == 0).unwrap_or_default()),
            Some(uri) if uri.starts_with("data:") => {
                let text = uri.split_once(";base64,").map(|(_, t)| t);
                let decode = |t: &str| base64::engine::general_purpose::STANDARD.decode(t).ok();
                text.and_then(decode).ok_or_else(|| flaw(&place, "its data are no base64"))?.into()
            }
            Some(uri) => {
                let hint = "put it beside the scan, or export as GLB, which is one file";
                beside(uri)
                    .ok_or_else(|| {
                        ReadFlaw::new(&place, format!("the file '{}' is missing", short(uri)), hint)
                    })?
                    .into()
            }
        };
        if (bytes.len() as u64) < buffer.byte_length {
            return Err(flaw(place, format!("it has {} bytes of {}", bytes.len(), buffer.byte_length)));
        }
        total += bytes.len();
        if total > super::LARGEST_FILE {
            return Err(flaw(place, "the buffers are too large together"));
        }
        buffers.push(bytes);
    }
    Ok(buffers)
}

struct File<'a> {
    root: &'a Root<'a>,
    buffers: &'a [Cow<'a, [u8]>],
}

/// Rows of an affine map: three of the turn, with the shift as fourth number.
type Affine = [[f64; 4]; 3];

const STILL: Affine = [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0]];

impl File<'_> {
    /// The nodes of the scene, or all meshes where there is no scene.
    fn scene(&self, soup: &mut Soup) -> Result<(), ReadFlaw> {
        let scene = self.root.scenes.0.get(self.root.scene.unwrap_or(0) as usize);
        let Some(scene) = scene else {
            return (0..self.root.meshes.0.len()).try_for_each(|m| self.mesh(m as u32, &STILL, soup));
        };
        let mut met = vec![false; self.root.nodes.0.len()];
        let mut open: Vec<(u32, Affine)> = scene.nodes.0.iter().rev().map(|n| (*n, STILL)).collect();
        while let Some((n, above)) = open.pop() {
            let place = format!("node {n}");
            let node = self.root.nodes.0.get(n as usize).ok_or_else(|| flaw(&place, "it does not exist"))?;
            if std::mem::replace(&mut met[n as usize], true) {
                return Err(flaw(place, "it is used twice, or contains itself"));
            }
            let here = product(&above, &local(node));
            if let Some(m) = node.mesh {
                self.mesh(m, &here, soup)?;
            }
            open.extend(node.children.0.iter().rev().map(|c| (*c, here)));
        }
        Ok(())
    }

    fn mesh(&self, m: u32, place: &Affine, soup: &mut Soup) -> Result<(), ReadFlaw> {
        let at = format!("mesh {m}");
        let mesh = self.root.meshes.0.get(m as usize).ok_or_else(|| flaw(&at, "it does not exist"))?;
        let turned = determinant(place) < 0.0;
        for primitive in mesh.primitives.0.iter().filter(|p| (4..=6).contains(&p.mode)) {
            let Some(positions) = primitive.attributes.position else { continue };
            let vertices = self.positions(positions, place, soup)?;
            let corners = match primitive.indices {
                Some(indices) => self.indices(indices)?,
                None => (0..vertices.len() as u32).collect(),
            };
            let corner = |i: usize| {
                let v = *corners.get(i)?;
                vertices.get(v as usize).copied()
            };
            let n = corners.len();
            let triples: Box<dyn Iterator<Item = [usize; 3]>> = match primitive.mode {
                4 => Box::new((0..n / 3).map(|t| [3 * t, 3 * t + 1, 3 * t + 2])),
                5 => Box::new((2..n).map(|i| if i % 2 == 0 { [i - 2, i - 1, i] } else { [i - 1, i - 2, i] })),
                _ => Box::new((2..n).map(|i| [0, i - 1, i])),
            };
            for [a, b, c] in triples {
                let [b, c] = if turned { [c, b] } else { [b, c] };
                let triangle = corner(a).zip(corner(b)).zip(corner(c));
                let Some(((a, b), c)) = triangle else {
                    return Err(flaw(at, "a triangle names a vertex that does not exist"));
                };
                soup.triangle([a, b, c]).map_err(|what| flaw(&at, what))?;
            }
        }
        Ok(())
    }

    fn positions(&self, a: u32, place: &Affine, soup: &mut Soup) -> Result<Vec<u32>, ReadFlaw> {
        let at = format!("accessor {a}");
        let (accessor, bytes, stride) = self.accessor(a, "VEC3", 3)?;
        let read: fn(&[u8]) -> f64 = match (accessor.component_type, accessor.normalized) {
            (5126, _) => |b| f64::from(f32::from_le_bytes([b[0], b[1], b[2], b[3]])),
            (5120, false) => |b| f64::from(b[0] as i8),
            (5121, false) => |b| f64::from(b[0]),
            (5122, false) => |b| f64::from(i16::from_le_bytes([b[0], b[1]])),
            (5123, false) => |b| f64::from(u16::from_le_bytes([b[0], b[1]])),
            (5120, true) => |b| (f64::from(b[0] as i8) / 127.0).max(-1.0),
            (5121, true) => |b| f64::from(b[0]) / 255.0,
            (5122, true) => |b| (f64::from(i16::from_le_bytes([b[0], b[1]])) / 32767.0).max(-1.0),
            (5123, true) => |b| f64::from(u16::from_le_bytes([b[0], b[1]])) / 65535.0,
            _ => return Err(flaw(at, "positions of an unknown kind of number")),
        };
        let size = component(accessor.component_type);
        let mut numbers = Vec::new();
        for i in 0..accessor.count as usize {
            let row = &bytes[i * stride..];
            let p = [0, 1, 2].map(|k| read(&row[k * size..]));
            let q = place.map(|r| r[0] * p[0] + r[1] * p[1] + r[2] * p[2] + r[3]);
            numbers.push(soup.shared_vertex(q).map_err(|what| flaw(&at, what))?);
        }
        Ok(numbers)
    }

    fn indices(&self, a: u32) -> Result<Vec<u32>, ReadFlaw> {
        let (accessor, bytes, stride) = self.accessor(a, "SCALAR", 1)?;
        let read: fn(&[u8]) -> u32 = match accessor.component_type {
            5121 => |b| u32::from(b[0]),
            5123 => |b| u32::from(u16::from_le_bytes([b[0], b[1]])),
            5125 => |b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]),
            _ => return Err(flaw(format!("accessor {a}"), "indices of an unknown kind of number")),
        };
        if accessor.count > 3 * super::MOST_TRIANGLES as u64 {
            return Err(flaw(format!("accessor {a}"), "there are more than 8,000,000 triangles"));
        }
        Ok((0..accessor.count as usize).map(|i| read(&bytes[i * stride..])).collect())
    }

    /// An accessor, the bytes from its first entry on, and the step between entries; all entries lie within the bytes.
    fn accessor(&self, a: u32, shape: &str, width: usize) -> Result<(&Accessor, &[u8], usize), ReadFlaw> {
        let place = format!("accessor {a}");
        let bad = |what: &str| flaw(&place, what);
        let accessor = self.root.accessors.0.get(a as usize).ok_or_else(|| bad("it does not exist"))?;
        if accessor.sparse.is_some() {
            return Err(bad("sparse accessors are not read"));
        }
        if accessor.shape != shape {
            return Err(bad("it has the wrong shape"));
        }
        let view = accessor.buffer_view.and_then(|v| self.root.buffer_views.0.get(v as usize));
        let view = view.ok_or_else(|| bad("it has no data"))?;
        let buffer =
            self.buffers.get(view.buffer as usize).ok_or_else(|| bad("its buffer does not exist"))?;
        let size = component(accessor.component_type) * width;
        let stride = view.byte_stride.map_or(size, |s| s as usize);
        if size == 0 || stride < size || stride > 252 {
            return Err(bad("its entries lie in an impossible way"));
        }
        let short = || bad("it reaches beyond its buffer");
        let from = usize::try_from(view.byte_offset).map_err(|_| short())?;
        let length = usize::try_from(view.byte_length).map_err(|_| short())?;
        let bytes = buffer.get(from..).and_then(|b| b.get(..length)).ok_or_else(short)?;
        let first = usize::try_from(accessor.byte_offset).map_err(|_| short())?;
        let bytes = bytes.get(first..).ok_or_else(short)?;
        let count = usize::try_from(accessor.count).map_err(|_| short())?;
        let needed = match count {
            0 => 0,
            n => (n - 1).checked_mul(stride).and_then(|b| b.checked_add(size)).ok_or_else(short)?,
        };
        if needed > bytes.len() {
            return Err(short());
        }
        Ok((accessor, bytes, stride))
    }
}

/// Bytes of one number.
const fn component(kind: u32) -> usize {
    match kind {
        5120 | 5121 => 1,
        5122 | 5123 => 2,
        5125 | 5126 => 4,
        _ => 0,
    }
}

fn local(node: &Node) -> Affine {
    if let Some(m) = &node.matrix {
        // column by column
        return [0, 1, 2].map(|r| [m[r], m[4 + r], m[8 + r], m[12 + r]]);
    }
    let [x, y, z, w] = node.rotation.as_deref().copied().unwrap_or([0.0, 0.0, 0.0, 1.0]);
    let s = node.scale.as_deref().copied().unwrap_or([1.0; 3]);
    let t = node.translation.as_deref().copied().unwrap_or([0.0; 3]);
    let turn = [
        [1.0 - 2.0 * (y * y + z * z), 2.0 * (x * y - z * w), 2.0 * (x * z + y * w)],
        [2.0 * (x * y + z * w), 1.0 - 2.0 * (x * x + z * z), 2.0 * (y * z - x * w)],
        [2.0 * (x * z - y * w), 2.0 * (y * z + x * w), 1.0 - 2.0 * (x * x + y * y)],
    ];
    [0, 1, 2].map(|r| [turn[r][0] * s[0], turn[r][1] * s[1], turn[r][2] * s[2], t[r]])
}

fn product(a: &Affine, b: &Affine) -> Affine {
    a.map(|row| {
        let mut out = [0.0; 4];
        for (k, o) in out.iter_mut().enumerate() {
            *o = row[0] * b[0][k] + row[1] * b[1][k] + row[2] * b[2][k] + if k == 3 { row[3] } else { 0.0 };
        }
        out
    })
}

fn determinant(m: &Affine) -> f64 {
    m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
        + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
}

#[cfg(test)]
mod tests {
    use super::super::{Scan, Unit, read};
    use super::*;

    fn text(nodes: &str, accessor: &str) -> String {
        let bytes: Vec<u8> =
            [0f32, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0].iter().flat_map(|c| c.to_le_bytes()).collect();
        let data = base64::engine::general_purpose::STANDARD.encode(&bytes);
        format!(
            r#"{{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[0]}}],"nodes":[{nodes}],
            "meshes":[{{"primitives":[{{"attributes":{{"POSITION":0}}}}]}}],
            "accessors":[{{"bufferView":0,"componentType":5126,"type":"VEC3",{accessor}}}],
            "bufferViews":[{{"buffer":0,"byteLength":36}}],
            "buffers":[{{"byteLength":36,"uri":"data:application/octet-stream;base64,{data}"}}]}}"#
        )
    }

    fn scan(text: &str) -> Result<Scan, ReadFlaw> {
        read(text.as_bytes(), "a.gltf", &|_| None)
    }

    #[test]
    fn nodes_move_turn_and_mirror() {
        let nodes = r#"{"children":[1],"translation":[0,0,5],"rotation":[0,0,0.7071067811865476,0.7071067811865476]},{"mesh":0,"scale":[-2,1,1]}"#;
        let scan = scan(&text(nodes, r#""count":3"#)).unwrap();
        assert_eq!(scan.guess_unit().unit, Unit::M);
        // (1,0,0) → (−2,0,0) → a quarter turn: (0,−2,0), up by 5
        let at = scan.vertices[1];
        assert!((at[0]).abs() < 1e-12 && (at[1] + 2.0).abs() < 1e-12 && at[2] == 5.0, "{at:?}");
        // mirrored, so the corners run the other way around
        assert_eq!(scan.triangles, [[0, 2, 1]]);
    }

    #[test]
    fn hostile_files_are_refused() {
        let check = |nodes: &str, accessor: &str, wanted: &str| {
            let said = scan(&text(nodes, accessor)).unwrap_err();
            assert!(said.to_string().contains(wanted), "{said}");
        };
        let one = r#"{"mesh":0}"#;
        check(r#"{"mesh":0,"children":[0]}"#, r#""count":3"#, "contains itself");
        check(one, r#""count":4"#, "beyond its buffer");
        check(one, r#""count":18446744073709551615"#, "beyond its buffer");
        check(one, r#""count":0"#, "no triangle");
        check(one, r#""count":3,"sparse":{"count":1}"#, "sparse");
        check(one, r#""count":3,"byteOffset":18446744073709551610"#, "beyond its buffer");
        check(&vec![one; 70_000].join(","), r#""count":3"#, "more than 65536");
    }

    #[test]
    fn a_file_beside_is_asked_for_by_name() {
        let start = "data:application/octet-stream;base64,";
        let whole = text(r#"{"mesh":0}"#, r#""count":3"#);
        let (before, after) = whole.split_once(start).unwrap();
        let (_, after) = after.split_once('"').unwrap();
        let named = format!("{before}scan.bin\"{after}");
        let bytes: Vec<u8> =
            [0f32, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0].iter().flat_map(|c| c.to_le_bytes()).collect();
        let beside = |name: &str| (name == "scan.bin").then(|| bytes.clone());
        assert!(read(named.as_bytes(), "a.gltf", &beside).is_ok());
        assert!(scan(&named).unwrap_err().what.contains("'scan.bin' is missing"));
    }
}
