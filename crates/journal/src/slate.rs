//! The slate: what stands beside the journal and may be wiped, such as who is signed in at which device.

use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension as _, params};

use crate::error::JournalError;
use crate::picture::make_folder;

const SCHEMA: &str = "\
CREATE TABLE IF NOT EXISTS lines (
  kind TEXT NOT NULL,
  name TEXT NOT NULL,
  text TEXT NOT NULL,
  until_ms INTEGER,
  PRIMARY KEY (kind, name)
) STRICT, WITHOUT ROWID;
";

/// Named lines of opaque text, each of a kind, some of them only good until a moment. Nothing of the record is here:
/// whoever loses the slate loses no history. It lies in a database of its own, `slate.db`, beside the journal's, and
/// the journal's backup leaves it out.
///
/// ```
/// use journal::Slate;
///
/// let folder = tempfile::tempdir()?;
/// let slate = Slate::open(folder.path())?;
/// let now = "2026-03-02T08:30:00Z".parse()?;
/// slate.put("session", "abc", "Robin", Some("2026-03-02T20:00:00Z".parse()?))?;
/// assert_eq!(slate.get("session", "abc", now)?.as_deref(), Some("Robin"));
/// assert_eq!(slate.get("session", "abc", "2026-03-02T20:00:00Z".parse()?)?, None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct Slate {
    db: Mutex<Connection>,
}

impl Slate {
    /// Opens the slate in `folder`, or begins one. Others than the owner of the folder cannot read its file.
    pub fn open(folder: &Path) -> Result<Self, JournalError> {
        make_folder(folder)?;
        let path = folder.join("slate.db");
        private(&path)?;
        let open = || {
            let db = Connection::open(&path)?;
            db.busy_timeout(Duration::from_secs(10))?;
            db.pragma_update(None, "journal_mode", "WAL")?;
            db.pragma_update(None, "synchronous", "FULL")?;
            db.execute_batch(SCHEMA)?;
            Ok(db)
        };
        let db = open().map_err(|e| JournalError::database("open slate.db", &e))?;
        Ok(Self { db: Mutex::new(db) })
    }

    /// The text of a line that is there and still good at `now`.
    pub fn get(&self, kind: &str, name: &str, now: Timestamp) -> Result<Option<String>, JournalError> {
        let sql =
            "SELECT text FROM lines WHERE kind = ?1 AND name = ?2 AND (until_ms IS NULL OR until_ms > ?3)";
        let read = |db: &Connection| {
            db.prepare_cached(sql)?
                .query_row(params![kind, name, now.as_millisecond()], |row| row.get(0))
                .optional()
        };
        read(&self.db()).map_err(|e| JournalError::database("read the slate", &e))
    }

    /// Writes a line, in place of the one of that kind and name.
    pub fn put(
        &self,
        kind: &str,
        name: &str,
        text: &str,
        until: Option<Timestamp>,
    ) -> Result<(), JournalError> {
        let sql = "INSERT INTO lines (kind, name, text, until_ms) VALUES (?1, ?2, ?3, ?4)
                   ON CONFLICT (kind, name) DO UPDATE SET text = excluded.text, until_ms = excluded.until_ms";
        let until = until.map(Timestamp::as_millisecond);
        let write = |db: &Connection| db.prepare_cached(sql)?.execute(params![kind, name, text, until]);
        write(&self.db()).map(drop).map_err(|e| JournalError::database("write on the slate", &e))
    }

    /// Writes many lines of a kind, name and text, that have no end: all of them or none.
    pub fn put_all(&self, kind: &str, lines: &[(String, String)]) -> Result<(), JournalError> {
        let sql = "INSERT INTO lines (kind, name, text, until_ms) VALUES (?1, ?2, ?3, NULL)
                   ON CONFLICT (kind, name) DO UPDATE SET text = excluded.text, until_ms = NULL";
        let write = |db: &mut Connection| {
            let all = db.transaction()?;
            {
                let mut statement = all.prepare_cached(sql)?;
                for (name, text) in lines {
                    statement.execute(params![kind, name, text])?;
                }
            }
            all.commit()
        };
        write(&mut self.db()).map_err(|e| JournalError::database("write on the slate", &e))
    }

    /// Writes a line only if there is none of that kind and name that is good at `now`; tells whether it did.
    pub fn put_new(
        &self,
        kind: &str,
        name: &str,
        text: &str,
        until: Option<Timestamp>,
        now: Timestamp,
    ) -> Result<bool, JournalError> {
        let sql = "INSERT INTO lines (kind, name, text, until_ms) VALUES (?1, ?2, ?3, ?4)
                   ON CONFLICT (kind, name) DO UPDATE SET text = excluded.text, until_ms = excluded.until_ms
                   WHERE lines.until_ms IS NOT NULL AND lines.until_ms <= ?5";
        let until = until.map(Timestamp::as_millisecond);
        let write = |db: &Connection| {
            db.prepare_cached(sql)?.execute(params![kind, name, text, until, now.as_millisecond()])
        };
        let written = write(&self.db()).map_err(|e| JournalError::database("write on the slate", &e))?;
        Ok(written > 0)
    }

    /// Wipes a line; tells whether there was one. Of two that wipe the same line, one is told so.
    pub fn wipe(&self, kind: &str, name: &str) -> Result<bool, JournalError> {
        let sql = "DELETE FROM lines WHERE kind = ?1 AND name = ?2";
        let wipe = |db: &Connection| db.prepare_cached(sql)?.execute(params![kind, name]);
        let wiped = wipe(&self.db()).map_err(|e| JournalError::database("wipe the slate", &e))?;
        Ok(wiped > 0)
    }

    /// All lines of a kind that are good at `now`: name and text, by name.
    pub fn list(&self, kind: &str, now: Timestamp) -> Result<Vec<(String, String)>, JournalError> {
        let sql = "SELECT name, text FROM lines WHERE kind = ?1 AND (until_ms IS NULL OR until_ms > ?2) ORDER BY name";
        let read = |db: &Connection| -> rusqlite::Result<Vec<(String, String)>> {
            let mut statement = db.prepare_cached(sql)?;
            let rows = statement
                .query_map(params![kind, now.as_millisecond()], |row| Ok((row.get(0)?, row.get(1)?)))?;
            rows.collect()
        };
        read(&self.db()).map_err(|e| JournalError::database("read the slate", &e))
    }

    /// Wipes what is not good any more; tells how many lines.
    pub fn sweep(&self, now: Timestamp) -> Result<usize, JournalError> {
        let sql = "DELETE FROM lines WHERE until_ms <= ?1";
        self.db()
            .execute(sql, [now.as_millisecond()])
            .map_err(|e| JournalError::database("sweep the slate", &e))
    }

    fn db(&self) -> MutexGuard<'_, Connection> {
        self.db.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Makes the file readable for its owner alone before anything is written into it; SQLite gives its log the same rights.
fn private(path: &Path) -> Result<(), JournalError> {
    let mut options = std::fs::OpenOptions::new();
    options.create(true).append(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(drop).map_err(|e| JournalError::file(path, "make the file", &e))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(second).unwrap()
    }

    #[test]
    fn many_lines_are_written_at_once_in_place_of_those_there() {
        let folder = tempfile::tempdir().unwrap();
        let slate = Slate::open(folder.path()).unwrap();
        slate.put("a", "x", "1", Some(at(100))).unwrap();
        let lines = [("x".to_owned(), "2".to_owned()), ("y".into(), "3".into())];
        slate.put_all("a", &lines).unwrap();
        assert_eq!(slate.list("a", at(200)).unwrap(), lines);
    }

    #[test]
    fn lines_stay_until_their_time_and_are_wiped_once() {
        let folder = tempfile::tempdir().unwrap();
        let slate = Slate::open(folder.path()).unwrap();
        slate.put("a", "x", "1", None).unwrap();
        slate.put("a", "y", "2", Some(at(100))).unwrap();
        slate.put("b", "x", "3", None).unwrap();
        assert_eq!(
            slate.list("a", at(99)).unwrap(),
            [("x".into(), "1".into()), ("y".into(), "2".to_string())]
        );
        assert_eq!(slate.get("a", "y", at(100)).unwrap(), None);
        assert!(!slate.put_new("a", "y", "4", None, at(99)).unwrap());
        assert!(slate.put_new("a", "y", "4", Some(at(200)), at(100)).unwrap());
        assert_eq!(slate.get("a", "y", at(150)).unwrap().as_deref(), Some("4"));
        assert_eq!(slate.sweep(at(200)).unwrap(), 1);
        assert!(slate.wipe("a", "x").unwrap());
        assert!(!slate.wipe("a", "x").unwrap());
        // Another process, or the next start, reads the same.
        assert_eq!(Slate::open(folder.path()).unwrap().get("b", "x", at(0)).unwrap().as_deref(), Some("3"));
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_can_read_its_file() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let slate = Slate::open(folder.path()).unwrap();
        slate.put("secret", "x", "1", None).unwrap();
        for name in ["slate.db", "slate.db-wal"] {
            let mode = std::fs::metadata(folder.path().join(name)).unwrap().permissions().mode();
            assert_eq!(mode & 0o077, 0, "{name} {mode:o}");
        }
    }
}
