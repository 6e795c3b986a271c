//! The journal: one folder with a database and pictures.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use crate::backup;
use crate::error::{AppendError, JournalError, Refusal};
use crate::event::{Appended, Expected, NewEvent, Recorded, Stream, StreamHead};
use crate::picture::{PictureId, Pictures, make_folder, sync_folder};
use crate::seal::{HeadFile, HeadNote, Seal};
use crate::sqlite::{self, Readers, Sync};
use crate::verify::{self, Report};
use crate::writer::{Bell, Writer};

/// An append-only store of opaque events and of pictures. Cloned freely; all clones share one writer, which ends
/// with the last of them.
///
/// Every method blocks until the disk has answered; from asynchronous code call it on a blocking thread.
///
/// ```
/// use journal::{Expected, Journal, NewEvent, Stream};
///
/// let journal = Journal::temporary()?;
/// let car = Stream::new("job/1")?;
/// let arrived = NewEvent {
///     kind: "arrived".into(),
///     body: r#"{"odometer_km": 12}"#.into(),
///     at: "2026-03-02T08:30:00Z".parse()?,
///     by: "Robin".into(),
/// };
/// let answer = journal.append(&car, Expected::New, &[arrived], None)?;
/// assert_eq!((answer.version, answer.seq), (1, 1));
/// assert_eq!(journal.load(&car, 0)?[0].kind, "arrived");
/// assert!(journal.verify()?.is_sound());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Journal {
    inner: Arc<Inner>,
}

#[derive(Debug)]
struct Inner {
    // dropped in this order: the readers, the writer, then the folder of a temporary journal
    readers: Readers,
    writer: Writer,
    bell: Arc<Bell>,
    pictures: Pictures,
    folder: PathBuf,
    _temporary: Option<tempfile::TempDir>,
}

impl Journal {
    /// Opens the journal in `folder`, or begins one when there is none.
    ///
    /// Refuses a database of something else, one of a later program, and one that ends before what was
    /// acknowledged ([`JournalError::CutShort`]).
    pub fn open(folder: impl AsRef<Path>) -> Result<Self, JournalError> {
        Self::open_with(folder.as_ref(), Sync::Full, None)
    }

    /// A journal that is deleted with its last clone: for tests and trials. It does not wait for the disk.
    pub fn temporary() -> Result<Self, JournalError> {
        let place = std::env::temp_dir();
        let folder = tempfile::Builder::new()
            .prefix("journal-")
            .tempdir_in(&place)
            .map_err(|e| JournalError::file(&place, "make a temporary folder", &e))?;
        let path = folder.path().to_owned();
        Self::open_with(&path, Sync::Off, Some(folder))
    }

    fn open_with(
        folder: &Path,
        sync: Sync,
        temporary: Option<tempfile::TempDir>,
    ) -> Result<Self, JournalError> {
        make_folder(folder)?;
        let path = folder.join(DATABASE);
        let db = sqlite::open_writer(&path, sync)?;
        let head = HeadFile::new(folder);
        if let HeadNote::Says(acknowledged) = head.read()? {
            let found = sqlite::head(&db).map_err(|e| JournalError::database("read the last event", &e))?;
            // a history that was replaced rather than cut opens, and `verify` names it
            if found.seq < acknowledged.seq || found.pictures < acknowledged.pictures {
                let path = folder.to_owned();
                return Err(JournalError::CutShort { path, wanted: acknowledged.seq, found: found.seq });
            }
        }
        let pictures = Pictures::open(&folder.join(PICTURES))?;
        sync_folder(folder)?;
        let bell = Arc::new(Bell::default());
        let writer = Writer::start(db, head, bell.clone())?;
        let readers = Readers::new(&path);
        let folder = folder.to_owned();
        Ok(Self { inner: Arc::new(Inner { readers, writer, bell, pictures, folder, _temporary: temporary }) })
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.inner.folder
    }

    /// Appends events to a stream; returns after they are on the disk. All are written or none.
    ///
    /// With a `key` the request can be sent again without harm: the same key gets the first answer. Without events
    /// it only checks the expectation.
    pub fn append(
        &self,
        stream: &Stream,
        expected: Expected,
        events: &[NewEvent],
        key: Option<&str>,
    ) -> Result<Appended, AppendError> {
        let answers = self.append_all(vec![(stream.clone(), expected, events.to_vec())], key)?;
        answers.into_iter().next().ok_or(AppendError::Journal(JournalError::Stopped))
    }

    /// Appends to several streams at once, all or nothing; one answer for each, in the order handed in.
    pub fn append_all(
        &self,
        writes: Vec<(Stream, Expected, Vec<NewEvent>)>,
        key: Option<&str>,
    ) -> Result<Vec<Appended>, AppendError> {
        writes.iter().flat_map(|(_, _, events)| events).try_for_each(NewEvent::check)?;
        if let Some(key) = key
            && (key.is_empty() || key.len() > 200 || key.chars().any(char::is_control))
        {
            return Err(Refusal::Word { field: "key", text: key.chars().take(60).collect() }.into());
        }
        self.inner.writer.append(writes, key.map(str::to_owned))
    }

    /// The events of a stream after version `after` (0 for all of them), oldest first.
    pub fn load(&self, stream: &Stream, after: u64) -> Result<Vec<Recorded>, JournalError> {
        sqlite::load(&*self.inner.readers.take()?, stream, after)
    }

    /// At most `limit` events of all streams after place `seq` (0 for the beginning), oldest first.
    pub fn since(&self, seq: u64, limit: usize) -> Result<Vec<Recorded>, JournalError> {
        sqlite::since(&*self.inner.readers.take()?, seq, limit)
    }

    /// Whether something was appended under a key.
    pub fn knows(&self, key: &str) -> Result<bool, JournalError> {
        let db = self.inner.readers.take()?;
        sqlite::knows(&db, key).map_err(|e| JournalError::database("look up a key", &e))
    }

    /// Place of the last event, 0 when there is none.
    pub fn head(&self) -> Result<u64, JournalError> {
        Ok(self.read_head()?.seq)
    }

    /// The streams whose name begins with `prefix`, by name.
    pub fn streams(&self, prefix: &str) -> Result<Vec<StreamHead>, JournalError> {
        sqlite::streams(&*self.inner.readers.take()?, prefix)
    }

    /// Waits until the journal goes past place `seq`, at most for `timeout`; returns the place of the last event.
    ///
    /// Events of this process are noticed at once, those of another process within a second.
    pub fn wait_past(&self, seq: u64, timeout: Duration) -> Result<u64, JournalError> {
        let mut left = timeout;
        loop {
            let head = self.head()?;
            if head > seq || left.is_zero() {
                return Ok(head);
            }
            let slice = left.min(Duration::from_secs(1));
            self.inner.bell.wait_past(seq, slice);
            left -= slice;
        }
    }

    /// Notice of events after place `seq`, one reader's place kept.
    pub fn subscribe(&self, seq: u64) -> Notices {
        Notices { journal: self.clone(), seen: seq }
    }

    /// Keeps a picture; returns its name after file and list are on the disk. The same bytes are kept once, and
    /// putting them again repairs a file that was damaged.
    pub fn put_picture(&self, bytes: &[u8]) -> Result<PictureId, JournalError> {
        let id = self.inner.pictures.put(bytes)?;
        self.inner.writer.list(id, bytes.len() as u64)?;
        Ok(id)
    }

    /// The bytes of a picture, checked against its name.
    pub fn picture(&self, id: &PictureId) -> Result<Vec<u8>, JournalError> {
        self.inner.pictures.get(id)
    }

    /// Whether the picture is in the journal's list.
    pub fn has_picture(&self, id: &PictureId) -> Result<bool, JournalError> {
        let db = self.inner.readers.take()?;
        sqlite::lists_picture(&db, id).map_err(|e| JournalError::database("look up a picture", &e))
    }

    /// All pictures with their size in bytes, in the order they came.
    pub fn pictures(&self) -> Result<Vec<(PictureId, u64)>, JournalError> {
        sqlite::pictures(&*self.inner.readers.take()?)
    }

    /// The seal of this moment: a line for paper that fixes everything up to here.
    pub fn seal(&self) -> Result<Seal, JournalError> {
        Ok(self.read_head()?.seal())
    }

    /// Checks every row and every picture.
    pub fn verify(&self) -> Result<Report, JournalError> {
        self.verify_against(&[])
    }

    /// Checks every row and every picture, and that what each seal covers is still the same.
    pub fn verify_against(&self, seals: &[Seal]) -> Result<Report, JournalError> {
        verify::verify(self.folder(), seals)
    }

    /// Checks a journal or a backup without opening it for writing, also one that [`Journal::open`] refuses.
    pub fn verify_folder(folder: impl AsRef<Path>, seals: &[Seal]) -> Result<Report, JournalError> {
        verify::verify(folder.as_ref(), seals)
    }

    /// Copies the journal as it is at this moment into `to` while writing goes on, then checks the copy.
    ///
    /// `to` is new, empty, or an earlier backup of this journal, which is brought up to date. Damaged pictures are
    /// not copied; the report names them.
    pub fn backup(&self, to: impl AsRef<Path>) -> Result<Report, JournalError> {
        let db = self.inner.readers.take()?;
        backup::backup(&db, &self.inner.folder, &self.inner.pictures, to.as_ref())
    }

    /// Copies a backup into the new or empty folder `to` and checks the copy. Nothing is overwritten.
    pub fn restore(from: impl AsRef<Path>, to: impl AsRef<Path>) -> Result<Report, JournalError> {
        backup::restore(from.as_ref(), to.as_ref())
    }

    fn read_head(&self) -> Result<crate::seal::Head, JournalError> {
        let db = self.inner.readers.take()?;
        sqlite::head(&db).map_err(|e| JournalError::database("read the last event", &e))
    }
}

/// One reader's place in the journal.
#[derive(Clone, Debug)]
pub struct Notices {
    journal: Journal,
    seen: u64,
}

impl Notices {
    /// Waits for news, at most for `timeout`: the place of the last event when it moved on, else nothing.
    pub fn wait(&mut self, timeout: Duration) -> Result<Option<u64>, JournalError> {
        let head = self.journal.wait_past(self.seen, timeout)?;
        let moved = head > self.seen;
        self.seen = self.seen.max(head);
        Ok(moved.then_some(head))
    }
}

/// The database's file in the folder.
pub(crate) const DATABASE: &str = "journal.db";

/// The folder of pictures.
pub(crate) const PICTURES: &str = "pictures";
