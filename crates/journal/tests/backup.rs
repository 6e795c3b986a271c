//! Backups taken while others write, and brought back.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

mod events;

use std::fs;
use std::sync::atomic::{AtomicBool, Ordering};

use events::{event, stream};
use journal::{Expected, Journal, JournalError};

fn filled(folder: &std::path::Path, events: usize) -> Journal {
    let journal = Journal::open(folder).unwrap();
    for n in 0..events {
        journal.append(&stream("x"), Expected::Any, &[event("n", &n.to_string())], None).unwrap();
    }
    journal.put_picture(b"a picture").unwrap();
    journal
}

#[test]
fn a_backup_brought_back_is_the_same_journal() {
    let place = tempfile::tempdir().unwrap();
    let [origin, copy, back] = ["origin", "copy", "back"].map(|n| place.path().join(n));
    let journal = filled(&origin, 20);
    let report = journal.backup(&copy).unwrap();
    assert!(report.is_sound());
    assert_eq!((report.rows, report.pictures, report.seal), (20, 1, journal.seal().unwrap()));
    let mut files: Vec<_> = fs::read_dir(&copy).unwrap().map(|f| f.unwrap().file_name()).collect();
    files.sort();
    assert_eq!(files, ["journal.db", "journal.head", "pictures"]);

    let report = Journal::restore(&copy, &back).unwrap();
    assert!(report.is_sound());
    let again = Journal::open(&back).unwrap();
    assert_eq!(again.since(0, 100).unwrap(), journal.since(0, 100).unwrap());
    assert_eq!(again.pictures().unwrap(), journal.pictures().unwrap());
    assert_eq!(again.seal().unwrap(), journal.seal().unwrap());
    again.append(&stream("x"), Expected::Version(20), &[event("goes on", "{}")], None).unwrap();
}

#[test]
fn a_backup_taken_while_others_write_is_one_moment() {
    let place = tempfile::tempdir().unwrap();
    let journal = filled(&place.path().join("origin"), 1);
    let stop = AtomicBool::new(false);
    std::thread::scope(|s| {
        for writer in 0..2 {
            let (journal, stop) = (&journal, &stop);
            s.spawn(move || {
                let mut n = 0u64;
                while !stop.load(Ordering::Relaxed) {
                    let both = ["a", "b"].map(|k| {
                        (stream(&format!("{k}{writer}")), Expected::Version(n), vec![event("e", "{}")])
                    });
                    journal.append_all(both.into(), None).unwrap();
                    n += 1;
                    if n.is_multiple_of(10) {
                        journal.put_picture(format!("{writer} {n}").as_bytes()).unwrap();
                    }
                }
            });
        }
        // the same folder again and again: each brings the backup up to date
        let mut rows = 0;
        for _ in 0..5 {
            let report = journal.backup(place.path().join("copy")).unwrap();
            assert!(report.is_sound(), "{:?}", report.flaws);
            assert!(report.rows >= rows);
            rows = report.rows;
            let back = tempfile::tempdir().unwrap();
            Journal::restore(place.path().join("copy"), back.path()).unwrap();
            let copy = Journal::open(back.path()).unwrap();
            for writer in 0..2 {
                let version = |k: &str| copy.load(&stream(&format!("{k}{writer}")), 0).unwrap().len();
                assert_eq!(version("a"), version("b"), "half a request was copied");
            }
        }
        stop.store(true, Ordering::Relaxed);
    });
}

#[test]
fn nothing_is_overwritten() {
    let place = tempfile::tempdir().unwrap();
    let [origin, other, copy, taken] = ["origin", "other", "copy", "taken"].map(|n| place.path().join(n));
    let journal = filled(&origin, 3);
    let stranger = Journal::open(&other).unwrap();
    stranger.append(&stream("y"), Expected::New, &[event("other", "{}")], None).unwrap();
    stranger.backup(&copy).unwrap();
    assert!(matches!(journal.backup(&copy), Err(JournalError::OtherJournal { .. })));
    assert!(matches!(journal.backup(&origin), Err(JournalError::NotEmpty { .. })));
    fs::create_dir(&taken).unwrap();
    fs::write(taken.join("letter.txt"), "dear").unwrap();
    assert!(matches!(journal.backup(&taken), Err(JournalError::NotEmpty { .. })));
    assert!(matches!(Journal::restore(&copy, &taken), Err(JournalError::NotEmpty { .. })));
    assert!(matches!(Journal::restore(&copy, &origin), Err(JournalError::NotEmpty { .. })));
    assert!(matches!(
        Journal::restore(&taken, place.path().join("new")),
        Err(JournalError::NotAJournal { .. })
    ));
    assert_eq!(fs::read_to_string(taken.join("letter.txt")).unwrap(), "dear");
    assert_eq!(fs::read_dir(&taken).unwrap().count(), 1);
}

#[test]
fn an_older_journal_does_not_replace_a_later_backup() {
    let place = tempfile::tempdir().unwrap();
    let [early, late, origin] = ["early", "late", "origin"].map(|n| place.path().join(n));
    let journal = filled(&origin, 3);
    journal.backup(&early).unwrap();
    journal.append(&stream("x"), Expected::Any, &[event("later", "{}")], None).unwrap();
    journal.backup(&late).unwrap();
    let old = place.path().join("old");
    Journal::restore(&early, &old).unwrap();
    let old = Journal::open(&old).unwrap();
    assert!(matches!(old.backup(&late), Err(JournalError::OtherJournal { .. })));
}

#[test]
fn a_damaged_picture_stops_no_backup_and_is_named() {
    let place = tempfile::tempdir().unwrap();
    let journal = filled(&place.path().join("origin"), 3);
    let sound = journal.put_picture(b"another").unwrap();
    let damaged = journal.put_picture(b"a third").unwrap();
    let name = damaged.to_string();
    fs::write(journal.folder().join("pictures").join(&name[..2]).join(&name), "a thirD").unwrap();
    let report = journal.backup(place.path().join("copy")).unwrap();
    assert_eq!(report.flaws.len(), 1);
    assert!(report.flaws[0].to_string().contains(&name), "{}", report.flaws[0]);
    let report = Journal::restore(place.path().join("copy"), place.path().join("back")).unwrap();
    assert_eq!(report.flaws.len(), 1);
    assert!(Journal::open(place.path().join("back")).unwrap().picture(&sound).is_ok());
}

#[test]
fn a_backup_that_was_opened_as_a_journal_is_brought_up_to_date() {
    let place = tempfile::tempdir().unwrap();
    let [origin, copy, torn] = ["origin", "copy", "torn"].map(|n| place.path().join(n));
    let journal = filled(&origin, 5);
    journal.backup(&copy).unwrap();
    // opened, so that it has a write-ahead log, and copied as it was then: as after a kill
    let opened = Journal::open(&copy).unwrap();
    fs::create_dir(&torn).unwrap();
    for file in ["journal.db", "journal.db-wal", "journal.db-shm", "journal.head"] {
        fs::copy(copy.join(file), torn.join(file)).unwrap();
    }
    journal.append(&stream("x"), Expected::Any, &[event("later", "{}")], None).unwrap();
    let report = journal.backup(&torn).unwrap();
    assert!(report.is_sound(), "{:?}", report.flaws);
    assert!(!torn.join("journal.db-wal").exists());
    assert_eq!(report.rows, 6);
    // one that somebody writes to has gone its own way
    opened.append(&stream("x"), Expected::Any, &[event("elsewhere", "{}")], None).unwrap();
    assert!(matches!(journal.backup(&copy), Err(JournalError::OtherJournal { .. })));
}

#[cfg(unix)]
#[test]
fn others_may_read_what_the_mask_lets_them_read() {
    use std::os::unix::fs::MetadataExt as _;
    let place = tempfile::tempdir().unwrap();
    let usual = place.path().join("usual");
    fs::write(&usual, "x").unwrap();
    let journal = filled(&place.path().join("origin"), 1);
    let (id, _) = journal.pictures().unwrap()[0];
    let name = id.to_string();
    let picture = journal.folder().join("pictures").join(&name[..2]).join(&name);
    assert_eq!(fs::metadata(picture).unwrap().mode(), fs::metadata(usual).unwrap().mode());
}
