//! Pictures from phones: HEIC as libheif reads it (`data/heic/SOURCE.md`), made viewable once, without the place; damaged
//! files are refused and break nothing.
#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "tests")]

use job::{JobId, Place};
use std::fs;
use std::path::{Path, PathBuf};
use studio::folder::Pictures;
use studio::{Clock, Stamp, Studio, picture};
use units::Seed;

fn data(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/heic").join(name)).unwrap()
}

/// Name, width, height, colors at the middles of the quarters.
fn expected() -> Vec<(String, u32, u32, Vec<[i32; 3]>)> {
    let text = String::from_utf8(data("expected.txt")).unwrap();
    let row = |line: &str| {
        let parts: Vec<&str> = line.split(' ').collect();
        let color = |t: &&str| {
            let c: Vec<i32> = t.split(',').map(|n| n.parse().unwrap()).collect();
            [c[0], c[1], c[2]]
        };
        let colors = parts[3..].iter().map(color).collect();
        (parts[0].to_owned(), parts[1].parse().unwrap(), parts[2].parse().unwrap(), colors)
    };
    text.lines().map(row).collect()
}

fn quarters(jpeg: &[u8]) -> (u32, u32, Vec<[i32; 3]>) {
    let seen = image::load_from_memory(jpeg).unwrap().to_rgb8();
    let (w, h) = seen.dimensions();
    let middles = [(1, 1), (3, 1), (1, 3), (3, 3)];
    (w, h, middles.iter().map(|(x, y)| seen.get_pixel(w * x / 4, h * y / 4).0.map(i32::from)).collect())
}

fn near(a: &[[i32; 3]], b: &[[i32; 3]], within: i32) -> bool {
    a.iter().flatten().zip(b.iter().flatten()).all(|(x, y)| (x - y).abs() <= within)
}

fn studio_with_a_job() -> (tempfile::TempDir, Studio, JobId) {
    let folder = tempfile::tempdir().unwrap();
    let studio = Studio::open_at(folder.path(), Clock::at("2026-05-13T08:00:00Z".parse().unwrap())).unwrap();
    let shop = studio::demo::shop_text("UTC", studio.now()).unwrap();
    studio.set_up(&Stamp::by("owner"), &shop).unwrap();
    let example: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/amber-saloon");
    let id = studio.import(&Stamp::by("Mei"), &example).unwrap().id;
    (folder, studio, id)
}

#[test]
fn heic_pictures_stand_upright_as_libheif_shows_them() {
    for (name, width, height, colors) in expected() {
        let bytes = data(&name);
        picture::check(&name, &bytes).unwrap();
        let (w, h, seen) = quarters(&picture::shown(&bytes, 320).unwrap());
        assert_eq!((w, h), (width, height), "{name}");
        assert!(near(&seen, &colors, 8), "{name}: {seen:?}, libheif: {colors:?}");
    }
}

#[test]
fn a_heic_picture_is_evidence_as_it_came_and_made_viewable_once() {
    let (folder, studio, id) = studio_with_a_job();
    let bytes = data("turned.heic");
    let picture = studio
        .add_picture(&id, &Stamp::by("Mei"), "door.heic", &bytes, Some(&Place::panel("hood")), None)
        .unwrap();
    assert_eq!(studio.picture_bytes(&picture).unwrap(), bytes, "the original is kept, byte for byte");
    let kept = |size: u32| folder.path().join("shown").join(format!("{picture}-{size}.jpg"));
    assert!(kept(2560).is_file(), "the viewable picture is made when the picture comes in");
    let shown = studio.picture_shown(&picture, 320).unwrap();
    assert_eq!(quarters(&shown).0, 64, "upright");
    // Once made it is taken as it is: another file in its place is shown instead.
    let other = picture::stand_in(4).unwrap();
    for size in [320, 2560] {
        fs::write(kept(size), &other).unwrap();
        assert_eq!(studio.picture_shown(&picture, size).unwrap(), other);
    }
    // Smaller ones come from the viewable picture, not from the original.
    assert_eq!(quarters(&studio.picture_shown(&picture, 640).unwrap()).0, 640);
}

#[test]
fn small_pictures_are_made_once() {
    let (folder, studio, id) = studio_with_a_job();
    let bytes = picture::stand_in(5).unwrap();
    let picture = studio.add_picture(&id, &Stamp::by("Mei"), "hood.jpg", &bytes, None, None).unwrap();
    let file = folder.path().join("shown").join(format!("{picture}-320.jpg"));
    assert!(!file.exists());
    let first = studio.picture_shown(&picture, 300).unwrap();
    let made = fs::metadata(&file).unwrap().modified().unwrap();
    // Many at once, and again later: the file stays the one that was made.
    std::thread::scope(|all| {
        for _ in 0..8 {
            all.spawn(|| assert_eq!(studio.picture_shown(&picture, 320).unwrap(), first));
        }
    });
    assert_eq!(fs::metadata(&file).unwrap().modified().unwrap(), made);
    assert_eq!(fs::read_dir(folder.path().join("shown")).unwrap().count(), 1);
}

#[test]
fn what_leaves_the_shop_does_not_say_where_a_picture_was_taken() {
    let (_folder, studio, id) = studio_with_a_job();
    let noted = [("a.heic", data("turned.heic")), ("b.jpg", data("place.jpg"))];
    let plain = picture::stand_in(6).unwrap();
    for (name, bytes) in &noted {
        assert!(bytes.windows(4).any(|w| w == b"Exif"), "{name} must have notes for this test");
        let picture = studio.add_picture(&id, &Stamp::by("Mei"), name, bytes, None, None).unwrap();
        let shown = studio.picture_shown(&picture, 640).unwrap();
        assert!(!shown.windows(4).any(|w| w == b"Exif"), "{name}");
        assert!(near(
            &quarters(&shown).2,
            &[[40, 60, 210], [220, 30, 30], [240, 240, 240], [30, 180, 60]],
            12
        ));
    }
    studio.add_picture(&id, &Stamp::by("Mei"), "c.jpg", &plain, None, None).unwrap();
    let out = tempfile::tempdir().unwrap();
    studio.export(&id, out.path(), Pictures::WithoutNotes).unwrap();
    let mut files: Vec<PathBuf> =
        fs::read_dir(out.path().join("pictures")).unwrap().map(|f| f.unwrap().path()).collect();
    files.sort();
    let names: Vec<String> =
        files.iter().map(|f| f.file_name().unwrap().to_str().unwrap()[4..].to_owned()).collect();
    assert_eq!(names, ["a.jpg", "b.jpg", "c.jpg"]);
    for file in &files[..2] {
        let bytes = fs::read(file).unwrap();
        assert!(!bytes.windows(4).any(|w| w == b"Exif" || w == b"GPS\0"));
        let (w, h, seen) = quarters(&bytes);
        assert_eq!((w, h), (64, 96), "upright without the notes");
        assert!(near(&seen, &[[40, 60, 210], [220, 30, 30], [240, 240, 240], [30, 180, 60]], 12), "{seen:?}");
    }
    assert_eq!(fs::read(&files[2]).unwrap(), plain, "what says nothing is written as it is");
    let all = tempfile::tempdir().unwrap();
    studio.export(&id, all.path(), Pictures::Originals).unwrap();
    assert_eq!(fs::read(all.path().join("pictures/001-a.heic")).unwrap(), noted[0].1);
    // Into another studio the copies go in where the originals did not come along.
    let apart = tempfile::tempdir().unwrap();
    let other = Studio::open(apart.path()).unwrap();
    let back = other.import(&Stamp::by("Mei"), out.path()).unwrap();
    assert_eq!(other.job(&back.id).unwrap().job.pictures.len(), 5, "three of the history and two copies");
    // Where the originals are, copies add nothing: the store holds them from another car.
    let apart = tempfile::tempdir().unwrap();
    let other = Studio::open(apart.path()).unwrap();
    for (_, bytes) in &noted {
        other.journal().put_picture(bytes).unwrap();
    }
    let back = other.import(&Stamp::by("Mei"), out.path()).unwrap();
    assert_eq!(other.job(&back.id).unwrap().job.pictures.len(), 3);
}

#[test]
fn a_damaged_or_foreign_heic_picture_is_refused_with_a_way_on() {
    let whole = data("plain.heic");
    let mut avif = whole.clone();
    avif[8..12].copy_from_slice(b"avif");
    for (name, bytes) in [("cut.heic", whole[..500].to_vec()), ("head.heic", whole[..30].to_vec())] {
        let refusal = picture::check(name, &bytes).unwrap_err().to_string();
        assert!(refusal.contains(name) && refusal.contains("HEIC") && refusal.contains("JPEG"), "{refusal}");
    }
    let refusal = picture::check("x.avif", &avif).unwrap_err().to_string();
    assert!(refusal.contains("AVIF"), "{refusal}");
    let (folder, studio, id) = studio_with_a_job();
    let before = studio.job(&id).unwrap().version;
    studio.add_picture(&id, &Stamp::by("Mei"), "cut.heic", &whole[..500], None, None).unwrap_err();
    assert_eq!(studio.job(&id).unwrap().version, before);
    assert!(!folder.path().join("shown").exists(), "nothing is left of it");
}

/// A file, damaged: bytes altered, cut out, doubled, or cut short.
fn damaged(whole: &[u8], chance: &mut units::Sequence) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    let below = |n: usize, chance: &mut units::Sequence| (chance.between(0.0, n as f64) as usize).min(n - 1);
    for _ in 0..1 + below(6, chance) {
        let (at, kind) = (below(bytes.len(), chance), below(8, chance));
        match kind {
            0 => bytes.truncate(at.max(13)),
            1 => {
                let to = (at + 1 + below(40, chance)).min(bytes.len());
                bytes.drain(at..to);
            }
            2 => {
                let to = (at + 1 + below(40, chance)).min(bytes.len());
                let again = bytes[at..to].to_vec();
                bytes.splice(at..at, again);
            }
            3 => bytes[at] = 0xff,
            4 => bytes[at] = 0,
            _ => bytes[at] ^= 1 << below(8, chance),
        }
        if bytes.len() < 13 {
            bytes.resize(13, 0);
        }
    }
    bytes
}

/// `SHUTLINE_DAMAGED=50000` tries that many instead.
#[test]
fn thousands_of_damaged_pictures_break_nothing() {
    let many: u64 = std::env::var("SHUTLINE_DAMAGED").ok().and_then(|n| n.parse().ok()).unwrap_or(3_000);
    let wholes = [
        data("plain.heic"),
        data("mirrored-turned.heic"),
        data("place.jpg"),
        picture::shown(&picture::stand_in(1).unwrap(), 90).unwrap(),
    ];
    let mut chance = Seed(7).sequence();
    let (mut taken, mut refused) = (0, 0);
    for n in 0..many {
        let bytes = damaged(&wholes[(n % 4) as usize], &mut chance);
        let sound = picture::check("x", &bytes).is_ok();
        let shown = picture::shown(&bytes, 64);
        let copied = picture::without_notes(&bytes);
        let _ = picture::size(&bytes);
        if let Ok(shown) = &shown {
            image::load_from_memory(shown).unwrap();
        }
        drop(copied);
        *(if sound { &mut taken } else { &mut refused }) += 1;
    }
    eprintln!("{many} damaged files: {taken} still a picture, {refused} refused");
    assert!(taken > many / 50 && refused > many / 50, "{taken} taken, {refused} refused: not much of a test");
}

/// JPEG, PNG and WebP of libraries apart from what checks them: cut anywhere, they are refused before anything is written.
#[test]
fn pictures_that_were_cut_off_are_refused_on_entry() {
    let (_folder, studio, id) = studio_with_a_job();
    let drawn = image::load_from_memory(&picture::stand_in(3).unwrap()).unwrap().thumbnail(240, 160);
    let mut chance = Seed(41).sequence();
    for format in [image::ImageFormat::Jpeg, image::ImageFormat::Png, image::ImageFormat::WebP] {
        let mut whole = std::io::Cursor::new(Vec::new());
        drawn.write_to(&mut whole, format).unwrap();
        let whole = whole.into_inner();
        studio.look_at_picture("whole", &whole).unwrap();
        // what a phone hangs on behind the picture is no fault
        studio.look_at_picture("more", &[&whole[..], b"behind it"].concat()).unwrap();
        for _ in 0..60 {
            let cut = chance.below(whole.len() - 12);
            let refused = studio.look_at_picture("cut", &whole[..cut]);
            assert!(refused.is_err(), "{format:?} cut after {cut} of {} bytes", whole.len());
        }
    }
    let before = studio.job(&id).unwrap().job.pictures.len();
    let cut = &picture::stand_in(4).unwrap()[..20_000];
    let refused = studio.look_at_picture("cut.jpg", cut).unwrap_err().to_string();
    assert!(refused.contains("cut.jpg") && refused.contains("cut off"), "{refused}");
    assert_eq!(studio.job(&id).unwrap().job.pictures.len(), before);
}
