//! What can go wrong: where, what, and what to do about it.

use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::event::{Expected, Recorded, Stream};
use crate::picture::PictureId;

/// The journal could not be read or written.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum JournalError {
    /// The operating system refused.
    #[error("{}: could not {doing}: {why}. {hint}", path.display())]
    File {
        /// The file or folder.
        path: PathBuf,
        /// What was tried.
        doing: &'static str,
        /// The system's words.
        why: String,
        /// What to do.
        hint: &'static str,
    },
    /// The database refused.
    #[error("journal: could not {doing}: {why}. {hint}")]
    Database {
        /// What was tried.
        doing: &'static str,
        /// The database's words.
        why: String,
        /// What to do.
        hint: &'static str,
    },
    /// The file is something else.
    #[error("{}: not a journal ({found}). Name a folder that holds a journal, or an empty one", path.display())]
    NotAJournal {
        /// The file.
        path: PathBuf,
        /// What it looks like.
        found: String,
    },
    /// A later version of this program wrote it.
    #[error(
        "{}: written in form {found}, this program reads up to form {known}. Use a later version of the program",
        path.display()
    )]
    TooNew {
        /// The file.
        path: PathBuf,
        /// Form of the file.
        found: i64,
        /// Latest form that this program reads.
        known: i64,
    },
    /// Events at the end that had been acknowledged are gone.
    #[error(
        "{}: ends after event {found}, but event {wanted} had been acknowledged. \
         If `journal.db` was copied without `journal.db-wal`, put that file beside it; \
         otherwise restore a backup. To go on without the lost events, remove `journal.head`",
        path.display()
    )]
    CutShort {
        /// The folder.
        path: PathBuf,
        /// Last event acknowledged.
        wanted: u64,
        /// Last event found.
        found: u64,
    },
    /// A row cannot be understood.
    #[error("journal: {place} is damaged: {what}. Run `verify`, then restore a backup")]
    Damaged {
        /// Which row.
        place: String,
        /// What is wrong with it.
        what: String,
    },
    /// There is no such picture.
    #[error("picture {0} is not in the journal. Restore a backup or put the picture in again")]
    NoPicture(PictureId),
    /// A picture's bytes are not the ones that were put in.
    #[error("picture {0} was changed or damaged on disk. Restore a backup or put the picture in again")]
    PictureChanged(PictureId),
    /// Nothing may be overwritten.
    #[error("{}: not empty, and nothing is overwritten. Name a new or empty folder", path.display())]
    NotEmpty {
        /// The folder.
        path: PathBuf,
    },
    /// A backup folder belongs to another journal.
    #[error("{}: holds a backup of another journal. Name another folder", path.display())]
    OtherJournal {
        /// The folder.
        path: PathBuf,
    },
    /// The writer has ended.
    #[error("journal: the writer has stopped. Restart the program")]
    Stopped,
}

impl JournalError {
    /// The system refused to do something with a file.
    pub(crate) fn file(path: &Path, doing: &'static str, error: &std::io::Error) -> Self {
        use std::io::ErrorKind as K;
        let hint = match error.kind() {
            K::StorageFull | K::QuotaExceeded => "Free space on the disk; nothing written before is lost",
            K::PermissionDenied | K::ReadOnlyFilesystem => "Check who may write there",
            K::NotFound => "Check that the folder is there and the disk is attached",
            _ => "Check the disk",
        };
        Self::File { path: path.to_owned(), doing, why: error.to_string(), hint }
    }

    /// The database refused to do something.
    pub(crate) fn database(doing: &'static str, error: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as C;
        let hint = match error.sqlite_error_code() {
            Some(C::DiskFull) => "Free space on the disk; nothing written before is lost",
            Some(C::DatabaseBusy | C::DatabaseLocked) => "Another program holds the journal; try again",
            Some(C::ReadOnly | C::PermissionDenied | C::CannotOpen) => "Check who may write to the folder",
            Some(C::DatabaseCorrupt | C::NotADatabase) => "Run `verify`, then restore a backup",
            _ => "Check the disk; nothing acknowledged before is lost",
        };
        Self::Database { doing, why: error.to_string(), hint }
    }
}

/// Something handed in that the journal does not take.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Refusal {
    /// A stream's name.
    #[error("stream name {name:?}: use 1 to 200 of the ASCII letters, digits and - _ . /")]
    StreamName {
        /// The name.
        name: String,
    },
    /// A kind, a person or a key.
    #[error("{field} {text:?}: use 1 to 200 bytes without control characters")]
    Word {
        /// Which field.
        field: &'static str,
        /// What was given, shortened.
        text: String,
    },
    /// A body that is not JSON.
    #[error("body of {kind:?} is not JSON: {why}")]
    BodyNotJson {
        /// The event's kind.
        kind: String,
        /// The parser's words, with line and column.
        why: String,
    },
    /// A body beyond the limit.
    #[error("body of {kind:?} has {bytes} bytes, the limit is 16 MiB: keep pictures and files apart")]
    BodyTooLarge {
        /// The event's kind.
        kind: String,
        /// Its size.
        bytes: usize,
    },
    /// A picture's name.
    #[error("picture name {text:?}: expected 64 hexadecimal digits")]
    PictureName {
        /// What was given, shortened.
        text: String,
    },
    /// A seal as text.
    #[error("seal {text:?}: expected EVENTS.PICTURES. and 32 hexadecimal digits, such as 12.3.0123-4567-…")]
    Seal {
        /// What was given, shortened.
        text: String,
    },
}

/// Another writer was first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The stream.
    pub stream: Stream,
    /// What the writer expected.
    pub expected: Expected,
    /// The version found.
    pub found: u64,
    /// The events that the writer had not seen, oldest first.
    pub since: Vec<Recorded>,
}

/// Why an append was not made. Nothing of it was written.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum AppendError {
    /// Another writer was first: look at what they wrote, then decide again.
    #[error(
        "{}: expected {}, found version {}. Look at what was written meanwhile and try again",
        .0.stream, .0.expected, .0.found
    )]
    Conflict(Box<Conflict>),
    /// The key was used for something else.
    #[error("key {key:?} was used for other events at {first}. Use a new key for a new request")]
    KeyReused {
        /// The key.
        key: String,
        /// Place of the first event written under it.
        first: u64,
    },
    /// The journal does not take it.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// It could not be written.
    #[error(transparent)]
    Journal(#[from] JournalError),
}
