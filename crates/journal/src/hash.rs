//! BLAKE3 hashes and the byte layouts that they are taken over.
//!
//! Numbers are unsigned 64-bit little-endian; a text is its length in bytes as such a number, then its UTF-8
//! bytes. `docs/journal-store.md` says the same in words and with an example.

use std::fmt;
use std::str::FromStr;

use crate::picture::PictureId;

/// A BLAKE3 hash.
#[derive(Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hash(pub [u8; 32]);

impl Hash {
    /// What stands before the first row.
    pub const ZERO: Self = Self([0; 32]);

    /// The hash of some bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(*blake3::hash(bytes).as_bytes())
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|b| write!(f, "{b:02x}"))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

impl FromStr for Hash {
    type Err = ();

    fn from_str(s: &str) -> Result<Self, ()> {
        blake3::Hash::from_hex(s).map(|h| Self(*h.as_bytes())).map_err(|_| ())
    }
}

/// The columns of an event's row that its hash covers, as they are stored.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EventFields<'a> {
    pub prev: Hash,
    pub seq: u64,
    pub stream: &'a [u8],
    pub version: u64,
    pub at: &'a [u8],
    pub by: &'a [u8],
    pub kind: &'a [u8],
    pub key: Option<&'a [u8]>,
    pub body: &'a [u8],
}

impl EventFields<'_> {
    /// The row's hash.
    pub fn hash(&self) -> Hash {
        let mut h = Layout::new("shutline-event-1");
        h.hash(self.prev).number(self.seq).text(self.stream).number(self.version);
        h.text(self.at).text(self.by).text(self.kind);
        match self.key {
            None => h.bytes(&[0]),
            Some(key) => h.bytes(&[1]).text(key),
        };
        h.text(self.body).finish()
    }
}

/// The hash of a row in the list of pictures.
pub(crate) fn picture_row(prev: Hash, n: u64, id: &PictureId, bytes: u64) -> Hash {
    Layout::new("shutline-picture-1").hash(prev).number(n).hash(id.hash()).number(bytes).finish()
}

/// The digest behind a seal: the last event and the last picture at that moment.
pub(crate) fn seal(events: u64, last_event: Hash, pictures: u64, last_picture: Hash) -> Hash {
    Layout::new("shutline-seal-1")
        .number(events)
        .hash(last_event)
        .number(pictures)
        .hash(last_picture)
        .finish()
}

/// Bytes on their way into a hash, each layout starting with its own name.
struct Layout(blake3::Hasher);

impl Layout {
    fn new(name: &str) -> Self {
        let mut layout = Self(blake3::Hasher::new());
        layout.text(name.as_bytes());
        layout
    }

    fn bytes(&mut self, bytes: &[u8]) -> &mut Self {
        self.0.update(bytes);
        self
    }

    fn number(&mut self, n: u64) -> &mut Self {
        self.bytes(&n.to_le_bytes())
    }

    fn text(&mut self, text: &[u8]) -> &mut Self {
        self.number(text.len() as u64).bytes(text)
    }

    fn hash(&mut self, hash: Hash) -> &mut Self {
        self.bytes(&hash.0)
    }

    fn finish(&self) -> Hash {
        Hash(*self.0.finalize().as_bytes())
    }
}
