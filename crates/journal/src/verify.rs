//! Whether every row and every picture is what was written.

use std::collections::BTreeMap;
use std::fmt;
use std::path::Path;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row};

use crate::error::JournalError;
use crate::hash::{EventFields, Hash, picture_row};
use crate::journal::{DATABASE, PICTURES};
use crate::picture::{PictureId, Pictures};
use crate::seal::{Head, HeadFile, HeadNote, Seal};
use crate::sqlite::{self, SCHEMA};

/// What a check found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// How many events were read.
    pub rows: u64,
    /// How many pictures are listed.
    pub pictures: u64,
    /// Where the journal stood: write it down, and a later check can be made against it.
    pub seal: Seal,
    /// What is wrong, in the order found.
    pub flaws: Vec<Flaw>,
    /// What is worth knowing but not wrong.
    pub notes: Vec<String>,
}

impl Report {
    /// Whether nothing is wrong.
    pub fn is_sound(&self) -> bool {
        self.flaws.is_empty()
    }
}

/// Something wrong: where, what, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flaw {
    /// Where.
    pub place: Place,
    /// What.
    pub fault: Fault,
}

/// Where a flaw is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// The database file as a whole, in its own words.
    Database(String),
    /// Tables, indexes and triggers.
    Schema,
    /// One event, by its place in the whole journal.
    Event(u64),
    /// Several events that follow each other.
    Events {
        /// The first.
        first: u64,
        /// The last.
        last: u64,
    },
    /// Rows of the list of pictures that follow each other.
    PictureRows {
        /// The first.
        first: u64,
        /// The last.
        last: u64,
    },
    /// A picture's file.
    Picture(PictureId),
    /// What a seal covers.
    Sealed(Seal),
}

/// What is wrong there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// It is not there.
    Missing,
    /// It is not what was written.
    Changed,
    /// It does not follow what stands before it.
    OutOfPlace,
    /// It was acknowledged and is gone from the end.
    CutOff,
    /// It cannot be read.
    Unreadable,
}

impl Flaw {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match (&self.place, self.fault) {
            (Place::Picture(_), _) => "Put the same picture in again, or restore a backup",
            (_, Fault::CutOff) => {
                "If journal.db was copied without journal.db-wal, put that file beside it; else restore a backup"
            }
            (Place::Schema, _) => "Ask who changed the database; restore a backup when in doubt",
            (Place::Sealed(_), _) => {
                "Check that the seal was copied rightly; then compare with a backup from the time of the seal"
            }
            _ => "Keep this folder as it is and restore the last sound backup into a new one",
        }
    }
}

impl fmt::Display for Flaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.place {
            Place::Database(words) => write!(f, "database file ({words})")?,
            Place::Schema => f.write_str("tables and triggers")?,
            Place::Event(seq) => write!(f, "event {seq}")?,
            Place::Events { first, last } => write!(f, "events {first} to {last}")?,
            Place::PictureRows { first, last } if first == last => write!(f, "picture list, row {first}")?,
            Place::PictureRows { first, last } => write!(f, "picture list, rows {first} to {last}")?,
            Place::Picture(id) => write!(f, "picture {id}")?,
            Place::Sealed(seal) => write!(f, "what seal {seal} covers")?,
        }
        let what = match self.fault {
            Fault::Missing => "missing",
            Fault::Changed => "changed or moved: does not match its hash",
            Fault::OutOfPlace => "out of place: does not follow what stands before it",
            Fault::CutOff => "cut off: had been acknowledged",
            Fault::Unreadable => "cannot be read",
        };
        write!(f, ": {what}. {}", self.remedy())
    }
}

/// Checks the journal in `folder`.
pub(crate) fn verify(folder: &Path, seals: &[Seal]) -> Result<Report, JournalError> {
    let path = folder.join(DATABASE);
    if !path.is_file() {
        return Err(JournalError::NotAJournal { path, found: "there is no such file".into() });
    }
    // Read before the rows are: what is acknowledged meanwhile is no flaw.
    let acknowledged = HeadFile::new(folder).read()?;
    let failed = |e: rusqlite::Error| JournalError::database("open journal.db for a check", &e);
    let db = sqlite::open_reader(&path).map_err(failed)?;
    sqlite::check_form(&db, &path)?;
    // one transaction, so that all is seen as of one moment
    db.execute_batch("BEGIN").map_err(failed)?;
    let pictures = Pictures::at(&folder.join(PICTURES));
    let mut verifier = Verifier::new(seals, acknowledged);
    verifier.database(&db);
    verifier.schema(&db);
    verifier.events(&db);
    let listed = verifier.picture_list(&db);
    verifier.acknowledged();
    verifier.seals();
    verifier.picture_files(&pictures, listed);
    Ok(verifier.report())
}

/// The hashes at the places that a head or a seal names.
type Marks = BTreeMap<u64, Option<Hash>>;

/// The hash found at a marked place.
fn mark(marks: &Marks, n: u64) -> Option<Hash> {
    if n == 0 { Some(Hash::ZERO) } else { marks.get(&n).copied().flatten() }
}

struct Verifier<'a> {
    seals: &'a [Seal],
    acknowledged: HeadNote,
    event_marks: Marks,
    picture_marks: Marks,
    rows: u64,
    pictures: u64,
    head: Head,
    flaws: Vec<Flaw>,
    notes: Vec<String>,
}

impl<'a> Verifier<'a> {
    fn new(seals: &'a [Seal], acknowledged: HeadNote) -> Self {
        let mut event_marks: Marks = seals.iter().map(|s| (s.events, None)).collect();
        let mut picture_marks: Marks = seals.iter().map(|s| (s.pictures, None)).collect();
        if let HeadNote::Says(head) = acknowledged {
            event_marks.insert(head.seq, None);
            picture_marks.insert(head.pictures, None);
        }
        Self {
            seals,
            acknowledged,
            event_marks,
            picture_marks,
            rows: 0,
            pictures: 0,
            head: Head::EMPTY,
            flaws: Vec::new(),
            notes: Vec::new(),
        }
    }

    fn flaw(&mut self, place: Place, fault: Fault) {
        self.flaws.push(Flaw { place, fault });
    }

    /// The file's own structure: pages, indexes, types.
    fn database(&mut self, db: &Connection) {
        let read = || -> rusqlite::Result<Vec<String>> {
            let mut statement = db.prepare("PRAGMA integrity_check(20)")?;
            statement.query_map([], |row| row.get(0))?.collect()
        };
        match read() {
            Ok(words) if words == ["ok"] => {}
            Ok(words) => {
                for w in words {
                    self.flaw(Place::Database(w), Fault::Changed);
                }
            }
            Err(e) => self.flaw(Place::Database(e.to_string()), Fault::Unreadable),
        }
    }

    fn schema(&mut self, db: &Connection) {
        let wanted = Connection::open_in_memory().and_then(|db| {
            db.execute_batch(SCHEMA)?;
            schema(&db)
        });
        match (schema(db), wanted) {
            (Ok(found), Ok(wanted)) if found == wanted => {}
            (Ok(_), _) => self.flaw(Place::Schema, Fault::Changed),
            (Err(_), _) => self.flaw(Place::Schema, Fault::Unreadable),
        }
    }

    fn events(&mut self, db: &Connection) {
        let mut chain = Chain::default();
        let mut versions: BTreeMap<Vec<u8>, u64> = BTreeMap::new();
        let sql =
            "SELECT seq, prev, hash, stream, version, at, who, kind, key, body FROM events ORDER BY seq";
        let outcome = each(db, sql, |row| {
            let seq = number(row, 0).unwrap_or(0);
            let fields = event_fields(row);
            let whole = fields.is_some_and(|fields| Some(fields.hash()) == hash(row, 2));
            let step = chain.step(seq, hash(row, 1), hash(row, 2), whole);
            self.note_step(step, |first, last| match first == last {
                true => Place::Event(first),
                false => Place::Events { first, last },
            });
            if let Some(fields) = fields {
                let version = versions.entry(fields.stream.to_vec()).or_default();
                // After a gap or a changed row a stream's count is off for that reason alone.
                if *version + 1 != fields.version && !chain.broken {
                    self.flaw(Place::Event(seq), Fault::OutOfPlace);
                }
                *version = fields.version;
            }
            if let Some(mark) = self.event_marks.get_mut(&seq) {
                *mark = hash(row, 2);
            }
            self.rows += 1;
        });
        (self.head.seq, self.head.hash) = (chain.last, chain.hash);
        if outcome.is_err() {
            self.flaw(Place::Events { first: chain.last + 1, last: u64::MAX }, Fault::Unreadable);
        }
    }

    fn picture_list(&mut self, db: &Connection) -> Vec<PictureId> {
        let mut chain = Chain::default();
        let mut listed = Vec::new();
        let outcome = each(db, "SELECT n, prev, hash, id, bytes FROM pictures ORDER BY n", |row| {
            let n = number(row, 0).unwrap_or(0);
            let id = hash(row, 3).map(PictureId::from_hash);
            let whole = match (hash(row, 1), &id, number(row, 4)) {
                (Some(prev), Some(id), Some(bytes)) => Some(picture_row(prev, n, id, bytes)) == hash(row, 2),
                _ => false,
            };
            let step = chain.step(n, hash(row, 1), hash(row, 2), whole);
            self.note_step(step, |first, last| Place::PictureRows { first, last });
            listed.extend(id);
            if let Some(mark) = self.picture_marks.get_mut(&n) {
                *mark = hash(row, 2);
            }
            self.pictures += 1;
        });
        (self.head.pictures, self.head.picture_hash) = (chain.last, chain.hash);
        if outcome.is_err() {
            self.flaw(Place::PictureRows { first: chain.last + 1, last: u64::MAX }, Fault::Unreadable);
        }
        listed
    }

    fn note_step(&mut self, step: Step, place: impl Fn(u64, u64) -> Place) {
        if let Some((first, last)) = step.missing {
            self.flaw(place(first, last), Fault::Missing);
        }
        if let Some((at, fault)) = step.fault {
            self.flaw(place(at, at), fault);
        }
    }

    /// What was acknowledged last must still be there, and be the same.
    fn acknowledged(&mut self) {
        match self.acknowledged {
            HeadNote::Absent => {
                self.notes.push("There is no journal.head: a cut at the end would show only against a seal.".into());
            }
            HeadNote::Unreadable => self.notes.push(
                "journal.head cannot be read, as a power cut may leave it: a cut at the end would show only against \
                 a seal. The next write renews it."
                    .into(),
            ),
            HeadNote::Says(wanted) => {
                if wanted.seq > self.head.seq {
                    let (first, last) = (self.head.seq + 1, wanted.seq);
                    self.flaw(Place::Events { first, last }, Fault::CutOff);
                }
                if wanted.pictures > self.head.pictures {
                    let (first, last) = (self.head.pictures + 1, wanted.pictures);
                    self.flaw(Place::PictureRows { first, last }, Fault::CutOff);
                }
                let other = |marks: &Marks, n: u64, hash| mark(marks, n).is_some_and(|found| found != hash);
                let event = Flaw { place: Place::Event(wanted.seq), fault: Fault::Changed };
                if other(&self.event_marks, wanted.seq, wanted.hash) && !self.flaws.contains(&event) {
                    self.flaws.push(event);
                }
                let (first, last) = (wanted.pictures, wanted.pictures);
                let picture = Flaw { place: Place::PictureRows { first, last }, fault: Fault::Changed };
                if other(&self.picture_marks, wanted.pictures, wanted.picture_hash) && !self.flaws.contains(&picture) {
                    self.flaws.push(picture);
                }
            }
        }
    }

    fn seals(&mut self) {
        for seal in self.seals {
            let at = |marks: &Marks, n: u64| {
                if n == 0 { Some(Hash::ZERO) } else { marks.get(&n).copied().flatten() }
            };
            let fault = match (at(&self.event_marks, seal.events), at(&self.picture_marks, seal.pictures)) {
                (Some(hash), Some(picture_hash)) => {
                    let then = Head { seq: seal.events, hash, pictures: seal.pictures, picture_hash };
                    (then.seal() != *seal).then_some(Fault::Changed)
                }
                _ => Some(Fault::Missing),
            };
            if let Some(fault) = fault {
                self.flaw(Place::Sealed(*seal), fault);
            }
        }
    }

    fn picture_files(&mut self, pictures: &Pictures, mut listed: Vec<PictureId>) {
        for id in &listed {
            match pictures.get(id) {
                Ok(_) => {}
                Err(JournalError::NoPicture(_)) => self.flaw(Place::Picture(*id), Fault::Missing),
                Err(JournalError::PictureChanged(_)) => self.flaw(Place::Picture(*id), Fault::Changed),
                Err(_) => self.flaw(Place::Picture(*id), Fault::Unreadable),
            }
        }
        listed.sort();
        match pictures.strays(&listed) {
            Ok(strays) => self.notes.extend(strays.iter().map(|path| {
                format!(
                    "{}: not in the list of pictures. An interrupted upload leaves such a file; no record needs it.",
                    path.display()
                )
            })),
            Err(e) if listed.is_empty() => self.notes.push(e.to_string()),
            // its pictures are reported one by one
            Err(_) => {}
        }
    }

    fn report(self) -> Report {
        Report {
            rows: self.rows,
            pictures: self.pictures,
            seal: self.head.seal(),
            flaws: self.flaws,
            notes: self.notes,
        }
    }
}

/// A chain of rows, each holding the hash of the one before.
#[derive(Default)]
struct Chain {
    last: u64,
    hash: Hash,
    /// Whether a row so far was missing, changed or out of place.
    broken: bool,
}

/// What one row told.
struct Step {
    missing: Option<(u64, u64)>,
    fault: Option<(u64, Fault)>,
}

impl Chain {
    fn step(&mut self, n: u64, prev: Option<Hash>, hash: Option<Hash>, whole: bool) -> Step {
        let missing = (n > self.last + 1).then(|| (self.last + 1, n - 1));
        let fault = if !whole {
            Some((n, Fault::Changed))
        } else if missing.is_none() && (prev != Some(self.hash) || n != self.last + 1) {
            Some((n, Fault::OutOfPlace))
        } else {
            None
        };
        self.broken |= missing.is_some() || fault.is_some();
        self.last = n;
        self.hash = hash.unwrap_or(Hash::ZERO);
        Step { missing, fault }
    }
}

fn each(db: &Connection, sql: &str, mut visit: impl FnMut(&Row<'_>)) -> rusqlite::Result<()> {
    let mut statement = db.prepare(sql)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        visit(row);
    }
    Ok(())
}

fn schema(db: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement =
        db.prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY type, name")?;
    statement.query_map([], |row| row.get(0))?.collect()
}

fn event_fields<'a>(row: &'a Row<'_>) -> Option<EventFields<'a>> {
    Some(EventFields {
        prev: hash(row, 1)?,
        seq: number(row, 0)?,
        stream: text(row, 3)?,
        version: number(row, 4)?,
        at: text(row, 5)?,
        by: text(row, 6)?,
        kind: text(row, 7)?,
        key: match row.get_ref(8).ok()? {
            ValueRef::Null => None,
            _ => Some(text(row, 8)?),
        },
        body: text(row, 9)?,
    })
}

fn text<'a>(row: &'a Row<'_>, i: usize) -> Option<&'a [u8]> {
    match row.get_ref(i) {
        Ok(ValueRef::Text(bytes)) => Some(bytes),
        _ => None,
    }
}

fn number(row: &Row<'_>, i: usize) -> Option<u64> {
    match row.get_ref(i) {
        Ok(ValueRef::Integer(n)) => u64::try_from(n).ok(),
        _ => None,
    }
}

fn hash(row: &Row<'_>, i: usize) -> Option<Hash> {
    match row.get_ref(i) {
        Ok(ValueRef::Blob(bytes)) => bytes.try_into().ok().map(Hash),
        _ => None,
    }
}
