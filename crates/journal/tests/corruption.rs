//! Damaged files: every change must be found and named, and none may bring the program down.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

mod events;

use std::fs;
use std::path::{Path, PathBuf};

use events::{event, stream};
use journal::{Expected, Journal, JournalError, Recorded, Seal};
use rusqlite::Connection;
use tempfile::TempDir;

const TRIGGERS: [&str; 4] = ["events_stay", "events_remain", "pictures_stay", "pictures_remain"];

/// A journal of 12 events in three streams and 3 pictures, closed.
struct Sound {
    folder: TempDir,
    rows: Vec<Recorded>,
    seal: Seal,
}

impl Sound {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let journal = Journal::open(folder.path()).unwrap();
        for n in 0..12 {
            let key = (n % 5 == 0).then(|| format!("key {n}"));
            let new = event("measured", &format!(r#"{{"reading_um": {}}}"#, 100 + n));
            journal
                .append(&stream(&format!("job/{}", n % 3)), Expected::Any, &[new], key.as_deref())
                .unwrap();
        }
        for n in 0..3u8 {
            journal.put_picture(&[n; 5000]).unwrap();
        }
        let (rows, seal) = (journal.since(0, 100).unwrap(), journal.seal().unwrap());
        Self { folder, rows, seal }
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn pictures(&self) -> Vec<PathBuf> {
        let mut files: Vec<PathBuf> = fs::read_dir(self.path().join("pictures"))
            .unwrap()
            .flat_map(|f| fs::read_dir(f.unwrap().path()).unwrap())
            .map(|f| f.unwrap().path())
            .collect();
        files.sort();
        files
    }

    /// Changes rows as somebody would who takes the triggers away and puts them back.
    fn change(&self, sql: &str) {
        let db = Connection::open(self.path().join("journal.db")).unwrap();
        let triggers = TRIGGERS.map(|t| {
            let read = "SELECT sql FROM sqlite_schema WHERE name = ?1";
            db.query_row(read, [t], |row| row.get::<_, String>(0)).unwrap()
        });
        for t in TRIGGERS {
            db.execute_batch(&format!("DROP TRIGGER {t}")).unwrap();
        }
        db.execute_batch(sql).unwrap();
        for t in triggers {
            db.execute_batch(&t).unwrap();
        }
    }

    fn flaws(&self, seals: &[Seal]) -> Vec<String> {
        let report = Journal::verify_folder(self.path(), seals).unwrap();
        let name =
            |flaw: &journal::Flaw| flaw.to_string().split(['.', '(']).next().unwrap().trim().to_owned();
        report.flaws.iter().map(name).collect()
    }
}

fn check(change: &str, wanted: &[&str]) {
    let sound = Sound::new();
    assert_eq!(sound.flaws(&[sound.seal]), [""; 0]);
    sound.change(change);
    assert_eq!(sound.flaws(&[]), wanted, "{change}");
}

const CHANGED: &str = "changed or moved: does not match its hash";
const OUT: &str = "out of place: does not follow what stands before it";

#[test]
fn any_changed_column_is_found() {
    for change in [
        "body = replace(body, '105', '205')",
        "at = '2026-03-02T08:30:01Z'",
        "who = 'Sam'",
        "kind = 'Measured'",
        "stream = 'job/9'",
        "key = NULL",
        "key = 'key 6'",
        "prev = zeroblob(32)",
        "hash = zeroblob(32)",
        "hash = x'00'",
    ] {
        let sound = Sound::new();
        sound.change(&format!("UPDATE events SET {change} WHERE seq = 6"));
        let flaws = sound.flaws(&[]);
        assert_eq!(flaws[0], format!("event 6: {CHANGED}"), "{change}");
    }
    check("UPDATE events SET version = 99 WHERE seq = 12", &[&format!("event 12: {CHANGED}")]);
}

#[test]
fn a_removed_row_is_found() {
    check("DELETE FROM events WHERE seq = 6", &["event 6: missing"]);
    check("DELETE FROM events WHERE seq BETWEEN 3 AND 8", &["events 3 to 8: missing"]);
    check("DELETE FROM events WHERE seq = 1", &["event 1: missing"]);
}

#[test]
fn rows_moved_up_over_a_gap_are_found() {
    check(
        "DELETE FROM events WHERE seq = 10;
         UPDATE events SET seq = seq - 1 WHERE seq > 10;
         INSERT INTO events SELECT 12, stream, version + 1, at, who, kind, key, body, prev, hash FROM events WHERE seq = 11",
        &[&format!("event 10: {CHANGED}"), &format!("event 11: {CHANGED}"), &format!("event 12: {CHANGED}")],
    );
}

#[test]
fn exchanged_rows_are_found() {
    check(
        "UPDATE events SET seq = 99 WHERE seq = 4; UPDATE events SET seq = 4 WHERE seq = 7;
         UPDATE events SET seq = 7 WHERE seq = 99",
        &[
            &format!("event 4: {CHANGED}"),
            &format!("event 5: {OUT}"),
            &format!("event 7: {CHANGED}"),
            &format!("event 8: {OUT}"),
        ],
    );
}

#[test]
fn an_inserted_row_is_found() {
    check(
        "INSERT INTO events SELECT 13, 'job/9', 1, at, who, kind, NULL, body, hash, zeroblob(32) FROM events WHERE seq = 12",
        &[&format!("event 13: {CHANGED}")],
    );
}

#[test]
fn a_cut_at_the_end_is_found_and_the_journal_is_not_written_to() {
    let sound = Sound::new();
    sound.change("DELETE FROM events WHERE seq > 9; DELETE FROM pictures WHERE n = 3");
    assert_eq!(
        sound.flaws(&[]),
        [
            "events 10 to 12: cut off: had been acknowledged",
            "picture list, row 3: cut off: had been acknowledged"
        ]
    );
    let refused = Journal::open(sound.path()).unwrap_err();
    assert!(matches!(refused, JournalError::CutShort { wanted: 12, found: 9, .. }), "{refused}");
    // without the head nothing is left to tell by, except a seal
    fs::remove_file(sound.path().join("journal.head")).unwrap();
    assert_eq!(sound.flaws(&[]), [""; 0]);
    assert_eq!(
        sound.flaws(&[sound.seal]),
        [format!("what seal {} covers: missing", sound.seal).split('.').next().unwrap().to_owned()]
    );
    // the way on that the error names
    let journal = Journal::open(sound.path()).unwrap();
    assert_eq!(journal.since(0, 100).unwrap(), sound.rows[..9]);
}

#[test]
fn a_history_with_all_hashes_made_anew_is_found_against_a_seal() {
    let sound = Sound::new();
    let forged = Sound::new();
    fs::remove_dir_all(forged.path()).unwrap();
    let journal = Journal::open(forged.path()).unwrap();
    for row in &sound.rows {
        let body = row.body.replace("105", "205");
        let new = journal::NewEvent { kind: row.kind.clone(), body, at: row.at, by: row.by.clone() };
        journal.append(&row.stream, Expected::Any, &[new], row.key.as_deref()).unwrap();
    }
    for n in 0..3u8 {
        journal.put_picture(&[n; 5000]).unwrap();
    }
    assert!(journal.verify().unwrap().is_sound(), "by itself the forgery is sound: the page says so");
    assert_eq!(journal.verify_against(&[sound.seal]).unwrap().flaws.len(), 1);
    // who forgets the head beside the database is found without a seal
    fs::copy(sound.path().join("journal.head"), forged.path().join("journal.head")).unwrap();
    let flaws = journal.verify().unwrap().flaws;
    assert_eq!((flaws.len(), &flaws[0].place), (1, &journal::Place::Event(12)));
}

#[test]
fn missing_triggers_are_found() {
    let sound = Sound::new();
    let db = Connection::open(sound.path().join("journal.db")).unwrap();
    db.execute_batch("DROP TRIGGER events_stay").unwrap();
    drop(db);
    assert_eq!(sound.flaws(&[]), [format!("tables and triggers: {CHANGED}")]);
}

#[test]
fn changed_and_missing_pictures_are_found_and_can_be_put_again() {
    let sound = Sound::new();
    let files = sound.pictures();
    let name = |i: usize| files[i].file_name().unwrap().to_str().unwrap();
    let mut bytes = fs::read(&files[0]).unwrap();
    bytes[4321] ^= 1;
    fs::write(&files[0], &bytes).unwrap();
    fs::remove_file(&files[1]).unwrap();
    let cut = fs::read(&files[2]).unwrap();
    fs::write(&files[2], &cut[..4999]).unwrap();
    let mut wanted = [
        format!("picture {}: {CHANGED}", name(0)),
        format!("picture {}: missing", name(1)),
        format!("picture {}: {CHANGED}", name(2)),
    ];
    let mut found = sound.flaws(&[]);
    wanted.sort();
    found.sort();
    assert_eq!(found, wanted);

    let journal = Journal::open(sound.path()).unwrap();
    let id = name(0).parse().unwrap();
    assert_eq!(journal.picture(&id), Err(JournalError::PictureChanged(id)));
    for n in 0..3u8 {
        journal.put_picture(&[n; 5000]).unwrap();
    }
    let report = journal.verify_against(&[sound.seal]).unwrap();
    assert_eq!((report.flaws, report.pictures), (vec![], 3));
}

#[test]
fn a_row_of_the_picture_list_changed_or_removed_is_found() {
    check("UPDATE pictures SET bytes = 1 WHERE n = 2", &[&format!("picture list, row 2: {CHANGED}")]);
    check("DELETE FROM pictures WHERE n = 2", &["picture list, row 2: missing"]);
}

#[test]
fn what_an_interrupted_upload_leaves_is_a_note_and_no_flaw() {
    let sound = Sound::new();
    let folder = sound.pictures()[0].parent().unwrap().to_owned();
    fs::write(folder.join("incoming-x7f"), "half a pict").unwrap();
    let report = Journal::verify_folder(sound.path(), &[]).unwrap();
    assert!(report.is_sound());
    assert!(report.notes[0].contains("incoming-x7f"), "{:?}", report.notes);
}

#[test]
fn a_folder_without_its_pictures_or_its_head_is_still_checked() {
    let sound = Sound::new();
    fs::remove_dir_all(sound.path().join("pictures")).unwrap();
    fs::write(sound.path().join("journal.head"), "\0\0\0").unwrap();
    let report = Journal::verify_folder(sound.path(), &[]).unwrap();
    assert_eq!((report.rows, report.flaws.len()), (12, 3));
    assert!(report.notes[0].starts_with("journal.head cannot be read"), "{:?}", report.notes);
    fs::remove_file(sound.path().join("journal.db")).unwrap();
    assert!(matches!(Journal::verify_folder(sound.path(), &[]), Err(JournalError::NotAJournal { .. })));
}

/// Flips bits all over the file: either the check says so, or every row still reads as written.
#[test]
fn no_flipped_bit_changes_a_row_unnoticed() {
    flip_bits(97);
}

#[test]
#[ignore = "every byte of the file; the normal run takes every 97th"]
fn no_flipped_bit_anywhere_changes_a_row_unnoticed() {
    flip_bits(1);
}

fn flip_bits(stride: usize) {
    let sound = Sound::new();
    let file = sound.path().join("journal.db");
    let whole = fs::read(&file).unwrap();
    assert!(!sound.path().join("journal.db-wal").exists(), "closed: all is in one file");
    let (mut noticed, mut harmless) = (0, 0);
    for at in (0..whole.len()).step_by(stride) {
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << (at % 8);
        fs::write(&file, &bytes).unwrap();
        match Journal::verify_folder(sound.path(), &[]) {
            Ok(report) if report.is_sound() => {
                let copy = tempfile::tempdir().unwrap();
                fs::copy(&file, copy.path().join("journal.db")).unwrap();
                let journal = Journal::open(copy.path()).unwrap();
                assert_eq!(journal.since(0, 100).unwrap(), sound.rows, "byte {at}");
                assert_eq!(journal.seal().unwrap(), sound.seal, "byte {at}");
                harmless += 1;
            }
            _ => noticed += 1,
        }
        for left in ["journal.db-wal", "journal.db-shm"] {
            let _ = fs::remove_file(sound.path().join(left));
        }
    }
    println!("{noticed} noticed, {harmless} in unused bytes");
    assert!(noticed > 20);
}

/// Cuts the database short at many lengths.
#[test]
fn a_database_cut_short_is_noticed_and_brings_nothing_down() {
    let sound = Sound::new();
    let file = sound.path().join("journal.db");
    let whole = fs::read(&file).unwrap();
    for length in (0..whole.len()).step_by(499) {
        fs::write(&file, &whole[..length]).unwrap();
        let noticed = match Journal::verify_folder(sound.path(), &[]) {
            Ok(report) => !report.is_sound(),
            Err(_) => true,
        };
        assert!(noticed, "cut at byte {length}");
        for left in ["journal.db-wal", "journal.db-shm"] {
            let _ = fs::remove_file(sound.path().join(left));
        }
    }
}

/// Cuts the write-ahead log at many bytes, as a power cut may leave it: what is left is a beginning of what was
/// written, whole and sound; and with the head beside it the loss is known.
#[test]
fn a_write_ahead_log_cut_at_any_byte_leaves_a_sound_beginning() {
    let origin = tempfile::tempdir().unwrap();
    let journal = Journal::open(origin.path()).unwrap();
    for n in 0..10 {
        let new = event("e", &format!("\"{}\"", "x".repeat(n * 300)));
        journal.append(&stream("x"), Expected::Any, &[new.clone(), new], None).unwrap();
    }
    let rows = journal.since(0, 100).unwrap();
    // copied while open: the events are still in the log
    let [db, log, head] =
        ["journal.db", "journal.db-wal", "journal.head"].map(|f| fs::read(origin.path().join(f)).unwrap());
    let mut lengths_seen = std::collections::BTreeSet::new();
    for cut in (0..=log.len()).rev().step_by(509) {
        let copy = tempfile::tempdir().unwrap();
        let put = |name: &str, bytes: &[u8]| fs::write(copy.path().join(name), bytes).unwrap();
        put("journal.db", &db);
        put("journal.db-wal", &log[..cut]);
        put("journal.head", &head);
        match Journal::open(copy.path()) {
            Ok(_) => assert_eq!(cut, log.len()),
            Err(JournalError::CutShort { wanted: 20, .. }) => {}
            // the schema itself is in the log
            Err(JournalError::NotAJournal { .. }) => {}
            Err(e) => panic!("cut at byte {cut}: {e}"),
        }
        fs::remove_file(copy.path().join("journal.head")).unwrap();
        let journal = Journal::open(copy.path()).unwrap();
        let left = journal.since(0, 100).unwrap();
        assert_eq!(left, rows[..left.len()], "cut at byte {cut}");
        assert_eq!(left.len() % 2, 0, "cut at byte {cut}: half a request");
        assert!(journal.verify().unwrap().is_sound());
        lengths_seen.insert(left.len());
    }
    assert_eq!(lengths_seen.len(), 11, "every number of whole requests was met: {lengths_seen:?}");
}
