//! Copies of a journal: made while it is in use, and brought back.

use std::ffi::c_int;
use std::fs::{self, File};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::backup::Backup;

use crate::error::JournalError;
use crate::hash::Hash;
use crate::journal::{DATABASE, PICTURES};
use crate::picture::{Pictures, make_folder, sync_folder, with_usual_rights};
use crate::seal::{Head, HeadFile};
use crate::sqlite::{self, as_i64};
use crate::verify::{self, Report};

/// The copy of the database until it is whole.
const INCOMING: &str = "journal.db.incoming";

pub(crate) fn backup(
    db: &Connection,
    folder: &Path,
    pictures: &Pictures,
    to: &Path,
) -> Result<Report, JournalError> {
    make_folder(to)?;
    if same_folder(folder, to) {
        return Err(JournalError::NotEmpty { path: to.to_owned() });
    }
    check_target(db, to)?;
    let incoming = to.join(INCOMING);
    let head = copy_database(db, &incoming)?;
    let copies = Pictures::open(&to.join(PICTURES))?;
    let listed = open_copy(&incoming).and_then(|copy| sqlite::pictures(&copy))?;
    for (id, _) in listed {
        // A picture that is damaged here must not stop the rest; the report names it.
        if let Ok(bytes) = pictures.get(&id) {
            copies.put(&bytes)?;
        }
    }
    rename(&incoming, &to.join(DATABASE))?;
    HeadFile::new(to).write(&head)?;
    sync_file(&to.join("journal.head"))?;
    sync_folder(to)?;
    verify::verify(to, &[])
}

pub(crate) fn restore(from: &Path, to: &Path) -> Result<Report, JournalError> {
    let database = from.join(DATABASE);
    if !database.is_file() {
        return Err(JournalError::NotAJournal { path: database, found: "there is no such file".into() });
    }
    if !is_empty(to)? {
        return Err(JournalError::NotEmpty { path: to.to_owned() });
    }
    let parent = match to.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
        _ => PathBuf::from("."),
    };
    make_folder(&parent)?;
    // Beside the target, so that a restore that is interrupted leaves the target as it was.
    let incoming = with_usual_rights(tempfile::Builder::new().prefix("restoring-"), 0o777)
        .tempdir_in(&parent)
        .map_err(|e| JournalError::file(&parent, "make a folder", &e))?;
    copy_files(from, incoming.path())?;
    let report = verify::verify(incoming.path(), &[])?;
    let whole = incoming.keep();
    match fs::remove_dir(to) {
        Ok(()) => {}
        Err(e) if e.kind() == ErrorKind::NotFound => {}
        Err(e) => return Err(JournalError::file(to, "replace the empty folder", &e)),
    }
    rename(&whole, to)?;
    sync_folder(&parent)?;
    Ok(report)
}

/// An empty folder, or an earlier backup of the same journal.
fn check_target(db: &Connection, to: &Path) -> Result<(), JournalError> {
    let earlier = to.join(DATABASE);
    if earlier.is_file() {
        let failed = |e: rusqlite::Error| JournalError::database("look into the earlier backup", &e);
        let copy = open_copy(&earlier)?;
        sqlite::check_form(&copy, &earlier)?;
        let old = sqlite::head(&copy).map_err(failed)?;
        let ours = hash_at(db, old.seq).map_err(failed)?;
        if ours != Some(old.hash) {
            return Err(JournalError::OtherJournal { path: to.to_owned() });
        }
        drop(copy);
        return fold_log(&earlier);
    }
    let begun = to.join(INCOMING).is_file();
    if !begun && !is_empty(to)? {
        return Err(JournalError::NotEmpty { path: to.to_owned() });
    }
    Ok(())
}

/// Takes a write-ahead log that an opened backup may have into its database: left beside a new database it would be
/// read as a part of that one.
fn fold_log(path: &Path) -> Result<(), JournalError> {
    let failed = |e: rusqlite::Error| JournalError::database("take the earlier backup out of use", &e);
    let db = Connection::open(path).map_err(failed)?;
    db.pragma_update(None, "journal_mode", "DELETE").map_err(failed)?;
    let log = path.with_file_name("journal.db-wal");
    if log.exists() {
        return Err(JournalError::Database {
            doing: "take the earlier backup out of use",
            why: "its write-ahead log is still there".into(),
            hint: "Close the program that has it open, or name another folder",
        });
    }
    Ok(())
}

fn hash_at(db: &Connection, seq: u64) -> rusqlite::Result<Option<Hash>> {
    use rusqlite::OptionalExtension as _;
    if seq == 0 {
        return Ok(Some(Hash::ZERO));
    }
    db.query_row("SELECT hash FROM events WHERE seq = ?1", [as_i64(seq)], |row| row.get(0).map(Hash))
        .optional()
}

/// SQLite's online backup: one moment of the journal in one file, while others write.
fn copy_database(db: &Connection, incoming: &Path) -> Result<Head, JournalError> {
    let failed = |e: rusqlite::Error| JournalError::database("copy journal.db", &e);
    match fs::remove_file(incoming) {
        Err(e) if e.kind() != ErrorKind::NotFound => {
            return Err(JournalError::file(incoming, "replace an unfinished copy", &e));
        }
        _ => {}
    }
    let mut copy = Connection::open(incoming).map_err(failed)?;
    Backup::new(db, &mut copy)
        // all pages in one step: a copy in several would begin anew whenever another process writes
        .and_then(|b| b.run_to_completion(c_int::MAX, Duration::from_millis(50), None))
        .map_err(failed)?;
    // one file without a write-ahead log beside it, so that it can be carried anywhere
    copy.pragma_update(None, "journal_mode", "DELETE").map_err(failed)?;
    let head = sqlite::head(&copy).map_err(failed)?;
    drop(copy);
    sync_file(incoming)?;
    Ok(head)
}

fn open_copy(path: &Path) -> Result<Connection, JournalError> {
    sqlite::open_reader(path).map_err(|e| JournalError::database("open the copy", &e))
}

fn copy_files(from: &Path, to: &Path) -> Result<(), JournalError> {
    for name in [DATABASE, "journal.db-wal", "journal.head"] {
        if from.join(name).is_file() {
            copy_file(&from.join(name), &to.join(name))?;
        }
    }
    let there = Pictures::at(&from.join(PICTURES));
    let here = Pictures::open(&to.join(PICTURES))?;
    let listed = sqlite::pictures(&open_copy(&to.join(DATABASE))?)?;
    for (id, _) in listed {
        if let Ok(bytes) = there.get(&id) {
            here.put(&bytes)?;
        }
    }
    sync_folder(to)
}

fn copy_file(from: &Path, to: &Path) -> Result<(), JournalError> {
    fs::copy(from, to).map_err(|e| JournalError::file(from, "copy the file", &e))?;
    sync_file(to)
}

fn sync_file(path: &Path) -> Result<(), JournalError> {
    File::options()
        .write(true)
        .open(path)
        .and_then(|f| f.sync_all())
        .map_err(|e| JournalError::file(path, "sync the file", &e))
}

fn rename(from: &Path, to: &Path) -> Result<(), JournalError> {
    fs::rename(from, to).map_err(|e| JournalError::file(to, "give the copy its name", &e))
}

fn same_folder(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

/// Whether the folder holds nothing or is not there.
fn is_empty(folder: &Path) -> Result<bool, JournalError> {
    match fs::read_dir(folder) {
        Ok(mut entries) => Ok(entries.next().is_none()),
        Err(e) if e.kind() == ErrorKind::NotFound => Ok(true),
        Err(e) => Err(JournalError::file(folder, "look into the folder", &e)),
    }
}
