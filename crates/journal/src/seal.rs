//! Where the journal stands: the head beside the database, and the seal for paper.

use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use crate::error::{JournalError, Refusal};
use crate::hash::{self, Hash};

/// The last event and the last picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Head {
    pub seq: u64,
    pub hash: Hash,
    pub pictures: u64,
    pub picture_hash: Hash,
}

impl Head {
    /// Nothing yet.
    pub const EMPTY: Self = Self { seq: 0, hash: Hash::ZERO, pictures: 0, picture_hash: Hash::ZERO };

    /// The seal that fixes everything up to here.
    pub fn seal(&self) -> Seal {
        let digest = hash::seal(self.seq, self.hash, self.pictures, self.picture_hash);
        let mut half = [0; 16];
        half.copy_from_slice(&digest.0[..16]);
        Seal { events: self.seq, pictures: self.pictures, digest: half }
    }

    fn line(&self) -> String {
        let text = format!(
            "shutline-head 1 {:020} {} {:020} {}",
            self.seq, self.hash, self.pictures, self.picture_hash
        );
        let check = Hash::of(text.as_bytes()).to_string();
        format!("{text} {}\n", &check[..16])
    }

    fn parse(line: &str) -> Option<Self> {
        let fields: Vec<&str> = line.split_ascii_whitespace().collect();
        let [_, _, seq, hash, pictures, picture_hash, _] = fields[..] else { return None };
        let head = Self {
            seq: seq.parse().ok()?,
            hash: hash.parse().ok()?,
            pictures: pictures.parse().ok()?,
            picture_hash: picture_hash.parse().ok()?,
        };
        (head.line() == line).then_some(head)
    }
}

/// One line on paper that fixes everything written up to a moment: print it on a handover report, write it in a
/// book. [`crate::Journal::verify_against`] then finds any later change to what came before, even by somebody who
/// recomputes every hash and cuts the end off.
///
/// The digest is 128 bits: enough that no other history with the same seal can be found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seal {
    /// How many events it covers.
    pub events: u64,
    /// How many pictures it covers.
    pub pictures: u64,
    /// First half of the BLAKE3 hash over both numbers and both hashes.
    pub digest: [u8; 16],
}

impl fmt::Display for Seal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}.", self.events, self.pictures)?;
        for (i, pair) in self.digest.chunks(2).enumerate() {
            let dash = if i == 0 { "" } else { "-" };
            write!(f, "{dash}{:02x}{:02x}", pair[0], pair[1])?;
        }
        Ok(())
    }
}

impl FromStr for Seal {
    type Err = Refusal;

    /// Reads a seal copied by hand: dashes, spaces and case do not matter.
    fn from_str(s: &str) -> Result<Self, Refusal> {
        let parse = || {
            let mut parts = s.trim().splitn(3, '.');
            let events = parts.next()?.trim().parse().ok()?;
            let pictures = parts.next()?.trim().parse().ok()?;
            let digits: String = parts.next()?.chars().filter(|c| *c != '-' && !c.is_whitespace()).collect();
            if digits.len() != 32 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
                return None;
            }
            let digest = u128::from_str_radix(&digits, 16).ok()?.to_be_bytes();
            Some(Self { events, pictures, digest })
        };
        parse().ok_or_else(|| Refusal::Seal { text: s.chars().take(80).collect() })
    }
}

/// The file `journal.head`: the last acknowledged head, one line of fixed length written over in place.
///
/// It is written after each commit and before the acknowledgement, without a sync of its own: after a power cut
/// it may be behind the database, never ahead of it.
#[derive(Debug)]
pub(crate) struct HeadFile {
    path: PathBuf,
    file: Option<File>,
}

/// What the head file says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum HeadNote {
    /// There is none.
    Absent,
    /// There is one, but not in one piece.
    Unreadable,
    /// This was acknowledged.
    Says(Head),
}

impl HeadFile {
    pub fn new(folder: &Path) -> Self {
        Self { path: folder.join("journal.head"), file: None }
    }

    pub fn read(&self) -> Result<HeadNote, JournalError> {
        // Another process may be writing the line just now: look again before calling it broken.
        for _ in 0..5 {
            match fs::read(&self.path) {
                Ok(bytes) => {
                    if let Some(head) = std::str::from_utf8(&bytes).ok().and_then(Head::parse) {
                        return Ok(HeadNote::Says(head));
                    }
                }
                Err(e) if e.kind() == ErrorKind::NotFound => return Ok(HeadNote::Absent),
                Err(e) => return Err(JournalError::file(&self.path, "read the head", &e)),
            }
            std::thread::yield_now();
        }
        Ok(HeadNote::Unreadable)
    }

    pub fn write(&mut self, head: &Head) -> Result<(), JournalError> {
        let failed = |e: std::io::Error| JournalError::file(&self.path, "write the head", &e);
        let file = match &mut self.file {
            Some(file) => file,
            None => {
                let open = OpenOptions::new().create(true).truncate(false).write(true).open(&self.path);
                self.file.insert(open.map_err(failed)?)
            }
        };
        file.seek(SeekFrom::Start(0)).map_err(failed)?;
        file.write_all(head.line().as_bytes()).map_err(failed)
    }
}
