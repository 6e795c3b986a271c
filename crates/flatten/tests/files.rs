//! Files of another program: see `data/SOURCE.md`.
#![allow(clippy::unwrap_used, reason = "tests")]

use flatten::read::{Format, Scan, Unit, read};
use flatten::repair::{RepairConfig, repair};
use flatten::{Disk, Mesh};
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/scans")
}

fn scan(name: &str) -> Scan {
    let bytes = std::fs::read(folder().join(name)).unwrap();
    read(&bytes, name, &|beside| std::fs::read(folder().join(beside)).ok()).unwrap()
}

fn vertex(x: u32, y: u32) -> [f64; 3] {
    let (x, y) = (f64::from(x) * 50.0, f64::from(y) * 50.0);
    [x, y, -(x - 200.0).powi(2) / 3000.0 - (y - 150.0).powi(2) / 2000.0]
}

/// Area as trimesh 5.2.0 has it, and every corner where the formula has it, to the digits of 32-bit numbers.
fn check(name: &str, format: Format, unit: Unit) -> Mesh {
    let scan = scan(name);
    assert_eq!(scan.format, format, "{name}");
    let guess = scan.guess_unit();
    assert_eq!(guess.unit, unit, "{name}: {}", guess.reason);
    let mesh = scan.in_unit(unit);
    assert_eq!((mesh.vertices.len(), mesh.triangles.len()), (63, 96), "{name}");
    assert!((mesh.area().as_mm2() / 120_783.980_552_099_82 - 1.0).abs() < 1e-6, "{name}: {:?}", mesh.area());
    let disk = Disk::new(mesh.clone()).unwrap();
    assert_eq!(disk.rim().len(), 28, "{name}");
    for y in 0..7 {
        for x in 0..9 {
            let wanted = vertex(x, y);
            let near = |v: &&[f64; 3]| (0..3).all(|k| (v[k] - wanted[k]).abs() < 1e-4);
            assert_eq!(mesh.vertices.iter().filter(near).count(), 1, "{name}: {wanted:?}");
        }
    }
    assert!((0..96).all(|t| mesh.cross(t)[2] > 0.0), "{name}: triangles face up");
    let (mended, report) = repair(&mesh, &RepairConfig::default()).unwrap();
    assert!(report.is_clean() && mended == mesh, "{name}: {report:?}");
    mesh
}

#[test]
fn all_formats_of_another_program_give_the_same_patch() {
    check("patch.obj", Format::Obj, Unit::Mm);
    check("patch_text.ply", Format::Ply, Unit::Mm);
    check("patch_little.ply", Format::Ply, Unit::Mm);
    check("patch_text.stl", Format::Stl, Unit::Mm);
    check("patch_binary.stl", Format::Stl, Unit::Mm);
    check("patch.glb", Format::Gltf, Unit::M);
    check("patch.gltf", Format::Gltf, Unit::M);
}

#[test]
fn formats_with_numbered_vertices_keep_their_order() {
    for name in ["patch.obj", "patch_text.ply", "patch_little.ply"] {
        let scan = scan(name);
        assert_eq!(scan.triangles[..2], [[0, 1, 10], [0, 10, 9]], "{name}");
    }
}

#[test]
fn a_file_under_a_wrong_name_is_known_by_its_beginning() {
    for name in ["patch.glb", "patch_little.ply", "patch_binary.stl"] {
        let bytes = std::fs::read(folder().join(name)).unwrap();
        assert!(read(&bytes, "scan.obj", &|_| None).is_ok(), "{name}");
    }
    let said = read(b"%PDF-1.7", "scan.pdf", &|_| None).unwrap_err().to_string();
    assert_eq!(said, "this is no mesh file that is known here: export it as OBJ, PLY, STL, glTF or GLB");
}
