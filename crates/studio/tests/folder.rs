//! Job folders: into the journal and out again, nothing lost; and what is said about bad ones.
#![allow(clippy::unwrap_used, reason = "tests")]

use jiff::Timestamp;
use job::{Finding, FindingKind, Job, JobId, Place, Severity};
use std::fs;
use std::path::{Path, PathBuf};
use studio::folder::Pictures;
use studio::{Clock, Refusal, Stamp, Studio};

const NOW: &str = "2026-05-18T08:00:00Z";

fn example() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/amber-saloon")
}

fn studio(folder: &Path) -> Studio {
    let now: Timestamp = NOW.parse().unwrap();
    let studio = Studio::open_at(folder, Clock::at(now)).unwrap();
    studio.set_up(&Stamp::by("owner"), &studio::demo::shop_text("UTC", now).unwrap()).unwrap();
    studio
}

fn by() -> Stamp {
    Stamp::by("tester")
}

/// All files below a folder with their bytes.
fn files(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut all = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                all.push((path.strip_prefix(folder).unwrap().to_owned(), fs::read(&path).unwrap()));
            }
        }
    }
    all.sort();
    all
}

fn write_job(folder: &Path, job: &str) {
    fs::create_dir_all(folder).unwrap();
    fs::write(folder.join("job.toml"), job).unwrap();
}

fn refused(job: &str) -> Refusal {
    let (source, own) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    write_job(source.path(), job);
    studio(own.path()).import(&by(), source.path()).unwrap_err()
}

const CAR: &str = "[car]\nplate = \"A 1\"\nbody = \"coupe\"\n";

#[test]
fn what_goes_in_by_hand_comes_out_and_goes_in_again_the_same() {
    let (one, two, out, again) = (
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
    );
    let first = studio(one.path());
    let imported = first.import(&by(), &example()).unwrap();
    assert_eq!(imported.warnings, Vec::<String>::new());
    let bytes = studio::picture::stand_in(3).unwrap();
    first
        .add_picture(&imported.id, &by(), "hood front.jpg", &bytes, Some(&Place::panel("hood")), None)
        .unwrap();
    first.rehearse(&imported.id, &by()).unwrap();
    let to = out.path().join("folder");
    first.export(&imported.id, &to, Pictures::WithoutNotes).unwrap();

    let second = studio(two.path());
    let back = second.import(&by(), &to).unwrap();
    assert_eq!(back.id, imported.id);
    assert_eq!(*second.job(&back.id).unwrap().job, *first.job(&imported.id).unwrap().job);
    let to_again = again.path().join("folder");
    second.export(&back.id, &to_again, Pictures::WithoutNotes).unwrap();
    // The shelf is the studio's, not the job's: what the first studio set aside is in its own shop.toml only.
    let of_the_job = |folder: &Path| {
        let mut all = files(folder);
        all.retain(|(path, _)| path != Path::new("shop.toml"));
        all
    };
    let (one, two) = (of_the_job(&to), of_the_job(&to_again));
    assert_eq!(one.iter().map(|f| &f.0).collect::<Vec<_>>(), two.iter().map(|f| &f.0).collect::<Vec<_>>());
    for ((path, bytes), (_, again)) in one.iter().zip(&two) {
        assert!(bytes == again, "{} differs", path.display());
    }
}

#[test]
fn an_edit_in_an_exported_folder_becomes_a_new_entry_of_the_record() {
    let (one, two, out) =
        (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let first = studio(one.path());
    let id = first.import(&by(), &example()).unwrap().id;
    let to = out.path().join("folder");
    first.export(&id, &to, Pictures::WithoutNotes).unwrap();
    let text = fs::read_to_string(to.join("job.toml")).unwrap();
    fs::write(to.join("job.toml"), text + "\n[[finding]]\nkind = \"dent\"\npanel = \"roof\"\n").unwrap();
    let second = studio(two.path());
    second.import(&by(), &to).unwrap();
    let (before, after) = (first.job(&id).unwrap().job, second.job(&id).unwrap().job);
    assert_eq!(after.findings.len(), before.findings.len() + 1);
    assert_eq!(after.findings.last().unwrap().kind, FindingKind::Dent);
    assert_eq!(&after.findings[..before.findings.len()], &before.findings[..]);
}

#[test]
fn bad_rows_of_readings_are_named_by_line_and_the_rest_is_kept() {
    let (source, own) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    write_job(source.path(), CAR);
    let csv = "panel,reading_um\nhood,112\nhood,twelve\nwing,110\nroof,108\n";
    fs::write(source.path().join("readings.csv"), csv).unwrap();
    let studio = studio(own.path());
    let imported = studio.import(&by(), source.path()).unwrap();
    assert_eq!(studio.job(&imported.id).unwrap().job.readings.len(), 2);
    let all = imported.warnings.join("\n");
    assert!(all.contains("readings.csv, line 3"), "{all}");
    assert!(all.contains("'wing'"), "{all}");
}

#[test]
fn an_empty_job_is_refused_with_what_to_enter() {
    let refusal = refused("");
    assert!(refusal.to_string().contains("no [car]"), "{refusal}");
}

#[test]
fn a_missing_job_file_is_refused() {
    let (source, own) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let refusal = studio(own.path()).import(&by(), source.path()).unwrap_err();
    assert!(refusal.to_string().contains("no job.toml"), "{refusal}");
}

#[test]
fn a_misspelt_key_is_refused_with_its_line() {
    let refusal = refused("promissed = \"2026-05-22T15:00:00Z\"\n[car]\nplate = \"A 1\"\nbody = \"coupe\"\n");
    assert!(refusal.to_string().contains("promissed") && refusal.to_string().contains("line 1"), "{refusal}");
}

#[test]
fn an_unknown_body_names_those_that_there_are() {
    let refusal = refused("[car]\nplate = \"A 1\"\nbody = \"rocket\"\n");
    assert!(
        refusal.to_string().contains("'rocket'") && refusal.to_string().contains("hatchback"),
        "{refusal}"
    );
}

#[test]
fn an_unknown_panel_names_the_nearest() {
    let refusal = refused(&format!("{CAR}[[finding]]\nkind = \"chip\"\npanel = \"left_frnt_door\"\n"));
    assert!(refusal.to_string().contains("Did you mean 'left_front_door'"), "{refusal}");
    assert_eq!(refusal.place.as_deref(), Some("job.toml, finding 1"));
}

#[test]
fn a_promise_before_the_arrival_is_refused() {
    let refusal =
        refused(&format!("expected = \"2026-05-22T15:00:00Z\"\npromised = \"2026-05-21T15:00:00Z\"\n{CAR}"));
    assert!(refusal.to_string().contains("before the arrival"), "{refusal}");
}

#[test]
fn an_impossible_date_is_refused_with_its_line() {
    let refusal = refused(&format!("promised = \"2026-02-30T15:00:00Z\"\n{CAR}"));
    assert!(refusal.to_string().contains("line 1"), "{refusal}");
}

#[test]
fn outlines_that_are_open_or_cross_themselves_are_refused_with_their_file() {
    for (path, word) in [
        ("M 0 0 L 300 0 L 300 200 L 0 200", "open"),
        ("M 0 0 L 300 200 L 300 0 L 0 200 Z", "cross"),
        ("M 0 0 Z", ""),
    ] {
        let (source, own) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        write_job(source.path(), CAR);
        fs::create_dir_all(source.path().join("pieces")).unwrap();
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400mm\" height=\"300mm\" viewBox=\"0 0 400 300\"><path id=\"p\" d=\"{path}\"/></svg>"
        );
        fs::write(source.path().join("pieces/hood.svg"), svg).unwrap();
        let refusal = studio(own.path()).import(&by(), source.path()).unwrap_err();
        assert_eq!(refusal.place.as_deref(), Some("pieces/hood.svg"));
        assert!(refusal.to_string().contains(word), "{path}: {refusal}");
        assert!(!refusal.remedy.is_empty());
    }
}

#[test]
fn a_picture_that_is_none_is_left_out_and_named() {
    let (source, own) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    write_job(source.path(), CAR);
    fs::create_dir_all(source.path().join("pictures")).unwrap();
    fs::write(source.path().join("pictures/door.jpg"), b"%PDF-1.7 not a picture").unwrap();
    fs::write(source.path().join("pictures/roof.jpg"), studio::picture::stand_in(1).unwrap()).unwrap();
    let studio = studio(own.path());
    let imported = studio.import(&by(), source.path()).unwrap();
    assert_eq!(studio.job(&imported.id).unwrap().job.pictures.len(), 1);
    assert!(
        imported.warnings[0].contains("pictures/door.jpg") && imported.warnings[0].contains("PDF"),
        "{:?}",
        imported.warnings
    );
}

#[test]
fn nothing_is_written_over_by_an_export() {
    let (own, out) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let studio = studio(own.path());
    let id = studio.import(&by(), &example()).unwrap().id;
    fs::write(out.path().join("mine.txt"), "mine").unwrap();
    let refusal = studio.export(&id, out.path(), Pictures::WithoutNotes).unwrap_err();
    assert!(refusal.to_string().contains("not empty"), "{refusal}");
    assert_eq!(files(out.path()).len(), 1);
}

#[test]
fn two_writers_are_told_of_each_other() {
    let own = tempfile::tempdir().unwrap();
    let studio = studio(own.path());
    let id = studio.import(&by(), &example()).unwrap().id;
    let seen = studio.job(&id).unwrap().version;
    let chip = Finding::new(FindingKind::Chip, Severity::Light, Place::panel("roof"));
    studio.find(&id, &Stamp::by("Mei"), &chip).unwrap();
    let stamp = Stamp { seen: Some(seen), ..Stamp::by("Ravi") };
    let refusal = studio.note(&id, &stamp, "late note").unwrap_err();
    assert_eq!(refusal.kind, studio::RefusalKind::Conflict);
    assert!(refusal.what.contains("found by Mei"), "{refusal}");
}

#[test]
fn the_same_key_does_a_thing_once() {
    let own = tempfile::tempdir().unwrap();
    let studio = studio(own.path());
    let id = studio.import(&by(), &example()).unwrap().id;
    let stamp = Stamp { key: Some("tap-1".into()), ..by() };
    let before = studio.job(&id).unwrap().job.notes.len();
    studio.note(&id, &stamp, "once").unwrap();
    studio.note(&id, &stamp, "once").unwrap();
    assert_eq!(studio.job(&id).unwrap().job.notes.len(), before + 1);
}

#[test]
fn what_was_written_is_read_again_after_a_restart() {
    let own = tempfile::tempdir().unwrap();
    let (id, before): (JobId, Job) = {
        let studio = studio(own.path());
        let id = studio.import(&by(), &example()).unwrap().id;
        let job = (*studio.job(&id).unwrap().job).clone();
        (id, job)
    };
    let again = Studio::open_at(own.path(), Clock::at(NOW.parse().unwrap())).unwrap();
    assert_eq!(*again.job(&id).unwrap().job, before);
}

#[test]
fn shapes_of_panels_go_in_and_out() {
    let (one, two, source, out) = (
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
    );
    let tapes = "[[shape]]\npanel = \"roof\"\n\
        [[shape.along]]\nat = 0.5\narc_mm = 1200.0\nsag_mm = 42.0\n\
        [[shape.across]]\nat = 0.5\narc_mm = 1000.0\nsag_mm = 18.0\n";
    write_job(source.path(), &format!("{CAR}{tapes}"));
    fs::create_dir_all(source.path().join("shapes")).unwrap();
    let scan = "v 0 0 0\nv 400 0 0\nv 400 300 5\nv 0 300 5\nf 1 2 3 4\n";
    fs::write(source.path().join("shapes/hood.obj"), scan).unwrap();
    let first = studio(one.path());
    let id = first.import(&by(), source.path()).unwrap().id;
    let job = first.job(&id).unwrap().job;
    let mut panels: Vec<&str> = job.shapes.iter().map(|s| s.panel.as_str()).collect();
    panels.sort_unstable();
    assert_eq!(panels, ["hood", "roof"]);
    let to = out.path().join("folder");
    first.export(&id, &to, Pictures::WithoutNotes).unwrap();
    assert_eq!(fs::read_to_string(to.join("shapes/hood-hood.obj")).unwrap(), scan);
    let second = studio(two.path());
    let back = second.import(&by(), &to).unwrap();
    assert_eq!(second.job(&back.id).unwrap().job.shapes, job.shapes);

    let bad = format!("{CAR}{}", tapes.replace("sag_mm = 42.0", "sag_mm = 900.0"));
    let said = refused(&bad).to_string();
    assert!(said.contains("too large for the arc") && said.contains("shape 1"), "{said}");
}
