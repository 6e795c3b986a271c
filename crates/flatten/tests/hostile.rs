//! Broken and hostile mesh files through all readers and the repair: no panic, no runaway memory.
#![allow(clippy::unwrap_used, reason = "tests")]

use flatten::read::{Unit, read};
use flatten::region::region;
use flatten::repair::{RepairConfig, close_holes, repair};
use flatten::{Disk, Topology};
use std::path::PathBuf;
use units::{Length, Seed, Sequence};

const NAMES: [&str; 7] = [
    "patch.obj",
    "patch_text.ply",
    "patch_little.ply",
    "patch_text.stl",
    "patch_binary.stl",
    "patch.glb",
    "patch.gltf",
];

/// Numbers that readers stumble over, as text.
const WORDS: [&str; 22] = [
    "0",
    "-1",
    "1",
    "4294967295",
    "4294967296",
    "18446744073709551615",
    "-9223372036854775808",
    "1e400",
    "nan",
    "inf",
    "-inf",
    "1e-320",
    "255",
    "65536",
    "2147483648",
    "0.1",
    "/",
    "//",
    "\\",
    "{}",
    "[[[[[[[[",
    "\u{fffd}",
];

struct Dice(Sequence);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0.below(n)
    }

    /// A file with one to eight faults.
    fn spoil(&mut self, file: &[u8], other: &[u8]) -> Vec<u8> {
        let mut bytes = file.to_vec();
        for _ in 0..1 + self.below(8) {
            let at = self.below(bytes.len());
            match self.below(10) {
                0 => bytes.truncate(at),
                1 if !bytes.is_empty() => bytes[at] ^= 1 << self.below(8),
                2 if !bytes.is_empty() => bytes[at] = self.below(256) as u8,
                3 => {
                    let word = [0u32, 1, 0x7fff_ffff, 0x8000_0000, u32::MAX, 0x7f80_0000, 0x7fc0_0000]
                        [self.below(7)];
                    let end = (at + 4).min(bytes.len());
                    bytes.splice(at..end, word.to_le_bytes());
                }
                4 => {
                    let end = (at + self.below(200)).min(bytes.len());
                    bytes.drain(at..end);
                }
                5 => {
                    let end = (at + self.below(400)).min(bytes.len());
                    let piece = bytes[at..end].to_vec();
                    let to = self.below(bytes.len());
                    bytes.splice(to..to, piece);
                }
                6 => {
                    let from = self.below(other.len());
                    let end = (from + self.below(300)).min(other.len());
                    bytes.splice(at..at, other[from..end].iter().copied());
                }
                // a number of a text replaced
                _ => {
                    let digit = |b: &u8| b.is_ascii_digit() || matches!(b, b'.' | b'-');
                    if let Some(start) = bytes[at..].iter().position(digit).map(|k| at + k) {
                        let end =
                            bytes[start..].iter().position(|b| !digit(b)).map_or(bytes.len(), |k| start + k);
                        let word = WORDS[self.below(WORDS.len())];
                        bytes.splice(start..end, word.bytes());
                    }
                }
            }
        }
        bytes
    }
}

/// Most memory that this process has held so far, kB, where the system tells.
fn peak_kb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?.split_whitespace().next()?.parse().ok()
}

fn storm(files: usize, seed: u64) {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/scans");
    let sound: Vec<Vec<u8>> = NAMES.iter().map(|n| std::fs::read(folder.join(n)).unwrap()).collect();
    let beside = |name: &str| {
        let known = ["gltf_buffer_0.bin", "gltf_buffer_1.bin"].contains(&name);
        known.then(|| std::fs::read(folder.join(name)).ok()).flatten()
    };
    let mut dice = Dice(Seed(seed).sequence());
    let (mut opened, mut mended, mut disks) = (0, 0, 0);
    for i in 0..files {
        let k = i % NAMES.len();
        let other = dice.below(sound.len());
        let bytes = dice.spoil(&sound[k], &sound[other]);
        let Ok(scan) = read(&bytes, NAMES[k], &beside) else { continue };
        opened += 1;
        let unit = Unit::ALL[dice.below(4)];
        let guess = scan.guess_unit();
        assert!(!guess.reason.is_empty());
        let mesh = scan.in_unit(unit);
        let Ok((mesh, mut report)) = repair(&mesh, &RepairConfig::default()) else { continue };
        mended += 1;
        // what comes out of the repair is a surface, whatever went in
        let topology = Topology::of(&mesh).unwrap_or_else(|e| panic!("file {i} of seed {seed}: {e}"));
        assert_eq!(topology.sheet_count(), 1, "file {i} of seed {seed}");
        if !topology.rims.is_empty() {
            let closed = close_holes(&mesh, Length::mm(100.0), &mut report);
            let closed = closed.unwrap_or_else(|e| panic!("file {i} of seed {seed}: {e}"));
            let topology =
                Topology::of(&closed.mesh).unwrap_or_else(|e| panic!("file {i} of seed {seed}: {e}"));
            assert_eq!(topology.rims.len(), 1, "file {i} of seed {seed}");
            disks += usize::from(Disk::new(closed.mesh).is_ok());
        }
        if i % 5 == 0 {
            let points: Vec<[f64; 3]> =
                (0..3 + dice.below(4)).map(|_| mesh.vertices[dice.below(mesh.vertices.len())]).collect();
            if let Ok(found) = region(&mesh, &points, None) {
                assert!(Topology::of(&found.mesh).is_ok(), "file {i} of seed {seed}");
            }
        }
    }
    println!("{files} files: {opened} opened, {mended} mended, {disks} disks");
    // the storm must reach past the readers
    assert!(opened > files / 20 && disks > files / 50, "{opened} {mended} {disks}");
    if let Some(peak) = peak_kb() {
        println!("peak memory {} MB", peak / 1024);
        assert!(peak < 600 * 1024, "{peak} kB");
    }
}

#[test]
fn broken_files_do_no_harm() {
    storm(3_000, 1);
}

#[test]
#[ignore = "takes minutes"]
fn a_hundred_thousand_broken_files_do_no_harm() {
    storm(100_000, 2);
}

#[test]
fn headers_that_promise_the_world_cost_nothing() {
    let hostile: Vec<(&str, Vec<u8>)> = vec![
        ("a.ply", b"ply\nformat binary_little_endian 1.0\nelement vertex 4294967295\nproperty double x\nproperty double y\nproperty double z\nend_header\n".to_vec()),
        ("a.ply", b"ply\nformat binary_big_endian 1.0\nelement face 18446744073709551615\nproperty list uint uint vertex_indices\nend_header\n\xff\xff\xff\xff".to_vec()),
        ("a.ply", b"ply\nformat ascii 1.0\nelement face 1\nproperty list uint int vertex_indices\nend_header\n4000000000 1\n".to_vec()),
        ("a.ply", b"ply\nformat binary_little_endian 1.0\nelement face 1\nproperty list uint int vertex_indices\nend_header\n\xff\xff\xff\x7f".to_vec()),
        ("a.stl", [&[0u8; 80][..], &u32::MAX.to_le_bytes()].concat()),
        ("a.glb", [&b"glTF\x02\0\0\0"[..], &u32::MAX.to_le_bytes(), &u32::MAX.to_le_bytes(), b"JSON"].concat()),
        ("a.glb", b"glTF\x02\0\0\0\0\0\0\0".to_vec()),
        ("a.gltf", format!("{{\"asset\":{{\"version\":\"2.0\"}},\"nodes\":[{}{{}}]}}", "{},".repeat(2_000_000)).into_bytes()),
        ("a.gltf", "[".repeat(1_000_000).into_bytes()),
        ("a.obj", format!("f {}\n", "1 ".repeat(2_000_000)).into_bytes()),
        ("a.obj", "\\\n".repeat(1_000_000).into_bytes()),
    ];
    for (name, bytes) in &hostile {
        let what = String::from_utf8_lossy(&bytes[..bytes.len().min(60)]).into_owned();
        assert!(read(bytes, name, &|_| None).is_err(), "{what}");
    }
    if let Some(peak) = peak_kb() {
        assert!(peak < 600 * 1024, "{peak} kB");
    }
}
