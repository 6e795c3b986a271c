//! The database: schema, opening, reading.

use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, OptionalExtension as _, Row, params};

use crate::error::JournalError;
use crate::event::{Recorded, Stream, StreamHead};
use crate::hash::Hash;
use crate::picture::PictureId;
use crate::seal::Head;

/// Marks the file as a journal of this program (`PRAGMA application_id`): "Shut" in ASCII.
pub(crate) const APPLICATION_ID: i64 = 0x5368_7574;

/// Form of the stored data (`PRAGMA user_version`). Raise it with any change and keep reading the older ones.
pub(crate) const FORM: i64 = 1;

/// The schema, described in `docs/journal-store.md`; a test compares the two.
pub(crate) const SCHEMA: &str = "\
CREATE TABLE events (
  seq INTEGER PRIMARY KEY,
  stream TEXT NOT NULL,
  version INTEGER NOT NULL,
  at TEXT NOT NULL,
  who TEXT NOT NULL,
  kind TEXT NOT NULL,
  key TEXT,
  body TEXT NOT NULL,
  prev BLOB NOT NULL,
  hash BLOB NOT NULL,
  UNIQUE (stream, version)
) STRICT;
CREATE INDEX events_by_key ON events (key) WHERE key IS NOT NULL;
CREATE TABLE pictures (
  n INTEGER PRIMARY KEY,
  id BLOB NOT NULL UNIQUE,
  bytes INTEGER NOT NULL,
  prev BLOB NOT NULL,
  hash BLOB NOT NULL
) STRICT;
CREATE TRIGGER events_stay BEFORE UPDATE ON events BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER events_remain BEFORE DELETE ON events BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;
CREATE TRIGGER pictures_stay BEFORE UPDATE ON pictures BEGIN SELECT RAISE(ABORT, 'pictures are never changed'); END;
CREATE TRIGGER pictures_remain BEFORE DELETE ON pictures BEGIN SELECT RAISE(ABORT, 'pictures are never deleted'); END;
";

/// How carefully the writer waits for the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sync {
    /// Every commit is on the disk before it is acknowledged.
    Full,
    /// The journal does not outlive the process.
    Off,
}

/// Opens the writing connection; makes the database when the file is missing or empty.
pub(crate) fn open_writer(path: &Path, sync: Sync) -> Result<Connection, JournalError> {
    let failed = |e: rusqlite::Error| JournalError::database("open journal.db", &e);
    let mut db = Connection::open(path).map_err(failed)?;
    db.busy_timeout(Duration::from_secs(10)).map_err(failed)?;
    let tables = count(&db, "SELECT count(*) FROM sqlite_schema").map_err(|e| not_a_journal(path, &e))?;
    if tables > 0 {
        check_form(&db, path)?;
    }
    db.pragma_update(None, "journal_mode", "WAL").map_err(failed)?;
    let synchronous = if sync == Sync::Full { "FULL" } else { "OFF" };
    db.pragma_update(None, "synchronous", synchronous).map_err(failed)?;
    // On macOS a plain fsync leaves the bytes in the drive's cache; elsewhere these two do nothing.
    db.pragma_update(None, "fullfsync", sync == Sync::Full).map_err(failed)?;
    db.pragma_update(None, "checkpoint_fullfsync", sync == Sync::Full).map_err(failed)?;
    if tables == 0 {
        make_schema(&mut db).map_err(failed)?;
    }
    Ok(db)
}

fn make_schema(db: &mut Connection) -> rusqlite::Result<()> {
    let tx = db.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    // another process may have been quicker
    if count(&tx, "SELECT count(*) FROM sqlite_schema")? == 0 {
        tx.execute_batch(SCHEMA)?;
        tx.pragma_update(None, "application_id", APPLICATION_ID)?;
        tx.pragma_update(None, "user_version", FORM)?;
    }
    tx.commit()
}

/// Refuses a database of something else or of a later program.
pub(crate) fn check_form(db: &Connection, path: &Path) -> Result<(), JournalError> {
    let application = count(db, "PRAGMA application_id").map_err(|e| not_a_journal(path, &e))?;
    if application != APPLICATION_ID {
        let found = format!("a database with application id {application:#x}");
        return Err(JournalError::NotAJournal { path: path.to_owned(), found });
    }
    let found = count(db, "PRAGMA user_version").map_err(|e| not_a_journal(path, &e))?;
    if found > FORM {
        return Err(JournalError::TooNew { path: path.to_owned(), found, known: FORM });
    }
    Ok(())
}

fn not_a_journal(path: &Path, error: &rusqlite::Error) -> JournalError {
    if error.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) {
        return JournalError::NotAJournal { path: path.to_owned(), found: "not a database".into() };
    }
    JournalError::database("open journal.db", error)
}

fn count(db: &Connection, sql: &str) -> rusqlite::Result<i64> {
    db.query_row(sql, [], |row| row.get(0))
}

/// Opens a connection that only reads.
pub(crate) fn open_reader(path: &Path) -> rusqlite::Result<Connection> {
    // Readers of a WAL database write to its shared-memory file, so the file is opened for writing.
    let db = Connection::open_with_flags(
        path,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )?;
    db.busy_timeout(Duration::from_secs(10))?;
    db.pragma_update(None, "query_only", true)?;
    Ok(db)
}

/// Reading connections, as many as there are readers at the same moment.
#[derive(Debug)]
pub(crate) struct Readers {
    path: PathBuf,
    idle: Mutex<Vec<Connection>>,
}

impl Readers {
    pub fn new(path: &Path) -> Self {
        Self { path: path.to_owned(), idle: Mutex::new(Vec::new()) }
    }

    /// A connection for one reader; given back when dropped.
    pub fn take(&self) -> Result<Reader<'_>, JournalError> {
        let idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let db = match idle {
            Some(db) => db,
            None => open_reader(&self.path)
                .map_err(|e| JournalError::database("open journal.db for reading", &e))?,
        };
        Ok(Reader { db: Some(db), home: self })
    }
}

/// A reading connection on loan.
pub(crate) struct Reader<'a> {
    db: Option<Connection>,
    home: &'a Readers,
}

impl Deref for Reader<'_> {
    type Target = Connection;

    fn deref(&self) -> &Connection {
        self.db.as_ref().expect("the connection is there until the reader is dropped")
    }
}

impl Drop for Reader<'_> {
    fn drop(&mut self) {
        if let Some(db) = self.db.take() {
            self.home.idle.lock().unwrap_or_else(PoisonError::into_inner).push(db);
        }
    }
}

const COLUMNS: &str = "seq, stream, version, at, who, kind, key, body, prev, hash";

/// Events of a stream after version `after`, oldest first.
pub(crate) fn load(db: &Connection, stream: &Stream, after: u64) -> Result<Vec<Recorded>, JournalError> {
    let sql = format!("SELECT {COLUMNS} FROM events WHERE stream = ?1 AND version > ?2 ORDER BY version");
    recorded(db, &sql, params![stream.as_str(), as_i64(after)])
}

/// At most `limit` events after place `seq`, oldest first.
pub(crate) fn since(db: &Connection, seq: u64, limit: usize) -> Result<Vec<Recorded>, JournalError> {
    let sql = format!("SELECT {COLUMNS} FROM events WHERE seq > ?1 ORDER BY seq LIMIT ?2");
    recorded(db, &sql, params![as_i64(seq), as_i64(limit as u64)])
}

fn recorded(
    db: &Connection,
    sql: &str,
    params: impl rusqlite::Params,
) -> Result<Vec<Recorded>, JournalError> {
    let failed = |e: rusqlite::Error| JournalError::database("read events", &e);
    let mut statement = db.prepare_cached(sql).map_err(failed)?;
    let mut rows = statement.query(params).map_err(failed)?;
    let mut events = Vec::new();
    while let Some(row) = rows.next().map_err(failed)? {
        events.push(event(row)?);
    }
    Ok(events)
}

fn event(row: &Row<'_>) -> Result<Recorded, JournalError> {
    let seq: i64 = row.get(0).map_err(|e| JournalError::database("read events", &e))?;
    let damaged = |what: String| JournalError::Damaged { place: format!("event {seq}"), what };
    let text = |i: usize| row.get::<_, String>(i).map_err(|e| damaged(e.to_string()));
    let hash = |i: usize| row.get::<_, [u8; 32]>(i).map(Hash).map_err(|e| damaged(e.to_string()));
    let version: i64 = row.get(2).map_err(|e| damaged(e.to_string()))?;
    Ok(Recorded {
        seq: seq.unsigned_abs(),
        stream: Stream::new(text(1)?).map_err(|e| damaged(e.to_string()))?,
        version: version.unsigned_abs(),
        at: text(3)?.parse().map_err(|e: jiff::Error| damaged(e.to_string()))?,
        by: text(4)?,
        kind: text(5)?,
        key: row.get(6).map_err(|e| damaged(e.to_string()))?,
        body: text(7)?,
        prev_hash: hash(8)?,
        hash: hash(9)?,
    })
}

/// Where both chains end.
pub(crate) fn head(db: &Connection) -> rusqlite::Result<Head> {
    let last = |sql: &str| {
        db.prepare_cached(sql)?
            .query_row([], |row| Ok((row.get::<_, i64>(0)?.unsigned_abs(), Hash(row.get(1)?))))
            .optional()
            .map(|found| found.unwrap_or((0, Hash::ZERO)))
    };
    let (seq, hash) = last("SELECT seq, hash FROM events ORDER BY seq DESC LIMIT 1")?;
    let (pictures, picture_hash) = last("SELECT n, hash FROM pictures ORDER BY n DESC LIMIT 1")?;
    Ok(Head { seq, hash, pictures, picture_hash })
}

/// Version of a stream, 0 when it has no event.
pub(crate) fn version(db: &Connection, stream: &Stream) -> rusqlite::Result<u64> {
    let sql = "SELECT version FROM events WHERE stream = ?1 ORDER BY version DESC LIMIT 1";
    let found =
        db.prepare_cached(sql)?.query_row([stream.as_str()], |row| row.get::<_, i64>(0)).optional()?;
    Ok(found.unwrap_or(0).unsigned_abs())
}

/// Streams whose name begins with `prefix`, by name.
pub(crate) fn streams(db: &Connection, prefix: &str) -> Result<Vec<StreamHead>, JournalError> {
    // Jumps from name to name in the index instead of reading every event. `~` and DEL sort after all characters
    // that a name may have.
    let sql = "
        WITH RECURSIVE name(stream) AS (
            SELECT (SELECT stream FROM events WHERE stream >= ?1 AND stream < ?2 ORDER BY stream LIMIT 1)
            UNION ALL
            SELECT (SELECT stream FROM events e WHERE e.stream > name.stream AND e.stream < ?2
                    ORDER BY e.stream LIMIT 1)
            FROM name WHERE name.stream IS NOT NULL
        )
        SELECT n.stream,
            (SELECT version FROM events e WHERE e.stream = n.stream ORDER BY version DESC LIMIT 1),
            (SELECT seq FROM events e WHERE e.stream = n.stream ORDER BY version DESC LIMIT 1),
            (SELECT hash FROM events e WHERE e.stream = n.stream ORDER BY version DESC LIMIT 1)
        FROM name n WHERE n.stream IS NOT NULL";
    let failed = |e: rusqlite::Error| JournalError::database("list streams", &e);
    let mut statement = db.prepare_cached(sql).map_err(failed)?;
    let mut rows = statement.query([prefix, &format!("{prefix}\u{7f}")]).map_err(failed)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next().map_err(failed)? {
        let name: String = row.get(0).map_err(failed)?;
        let number = |i| row.get::<_, i64>(i).map(i64::unsigned_abs).map_err(failed);
        let stream = Stream::new(name)
            .map_err(|e| JournalError::Damaged { place: "a stream".into(), what: e.to_string() })?;
        let hash = Hash(row.get(3).map_err(failed)?);
        found.push(StreamHead { stream, version: number(1)?, seq: number(2)?, hash });
    }
    Ok(found)
}

/// All listed pictures with their size in bytes, in the order they came.
pub(crate) fn pictures(db: &Connection) -> Result<Vec<(PictureId, u64)>, JournalError> {
    let failed = |e: rusqlite::Error| JournalError::database("list pictures", &e);
    let mut statement = db.prepare_cached("SELECT id, bytes FROM pictures ORDER BY n").map_err(failed)?;
    let rows = statement
        .query_map([], |row| {
            Ok((PictureId::from_hash(Hash(row.get(0)?)), row.get::<_, i64>(1)?.unsigned_abs()))
        })
        .map_err(failed)?;
    rows.collect::<Result<_, _>>().map_err(failed)
}

/// Whether a picture is listed.
pub(crate) fn lists_picture(db: &Connection, id: &PictureId) -> rusqlite::Result<bool> {
    let sql = "SELECT 1 FROM pictures WHERE id = ?1";
    Ok(db.prepare_cached(sql)?.query_row([id.hash().0], |_| Ok(())).optional()?.is_some())
}

/// Whether an event carries this key.
pub(crate) fn knows(db: &Connection, key: &str) -> rusqlite::Result<bool> {
    let sql = "SELECT 1 FROM events WHERE key = ?1 LIMIT 1";
    Ok(db.prepare_cached(sql)?.query_row([key], |_| Ok(())).optional()?.is_some())
}

/// A place or a limit as SQLite counts.
pub(crate) fn as_i64(n: u64) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}
