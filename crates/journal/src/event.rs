//! Streams, events before and after they are written, and what a writer expects to find.

use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Refusal;
use crate::hash::Hash;

/// The name of a row of events that belong together: a car's job, a car's history, the shop's rolls.
///
/// 1 to 200 characters out of ASCII letters, digits and `- _ . /`; the journal gives the parts no meaning.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Stream(String);

impl Stream {
    /// The longest name, in bytes.
    pub const LONGEST: usize = 200;

    /// A stream of this name; refused when empty, too long or with other characters.
    pub fn new(name: impl Into<String>) -> Result<Self, Refusal> {
        let name = name.into();
        let fits = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | '/');
        if name.is_empty() || name.len() > Self::LONGEST || !name.chars().all(fits) {
            return Err(Refusal::StreamName { name });
        }
        Ok(Self(name))
    }

    /// The name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Stream {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for Stream {
    type Err = Refusal;

    fn from_str(s: &str) -> Result<Self, Refusal> {
        Self::new(s)
    }
}

impl TryFrom<String> for Stream {
    type Error = Refusal;

    fn try_from(s: String) -> Result<Self, Refusal> {
        Self::new(s)
    }
}

impl From<Stream> for String {
    fn from(s: Stream) -> String {
        s.0
    }
}

/// An event that somebody wants to write.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewEvent {
    /// What kind of event, in the caller's words; 1 to 200 bytes without control characters.
    pub kind: String,
    /// The event itself as JSON text, kept byte for byte; at most [`NewEvent::LARGEST_BODY`] bytes.
    pub body: String,
    /// When it happened, by the caller's clock: the journal reads none.
    pub at: Timestamp,
    /// Who says so; 1 to 200 bytes without control characters.
    pub by: String,
}

impl NewEvent {
    /// The largest body, in bytes (pictures are kept apart, so 16 MiB is ample).
    pub const LARGEST_BODY: usize = 16 << 20;

    /// Whether the journal will take it.
    pub(crate) fn check(&self) -> Result<(), Refusal> {
        let word = |field: &'static str, text: &str| {
            if text.is_empty() || text.len() > 200 || text.chars().any(char::is_control) {
                return Err(Refusal::Word { field, text: text.chars().take(60).collect() });
            }
            Ok(())
        };
        word("kind", &self.kind)?;
        word("by", &self.by)?;
        if self.body.len() > Self::LARGEST_BODY {
            return Err(Refusal::BodyTooLarge { kind: self.kind.clone(), bytes: self.body.len() });
        }
        serde_json::from_str::<serde::de::IgnoredAny>(&self.body)
            .map_err(|e| Refusal::BodyNotJson { kind: self.kind.clone(), why: e.to_string() })?;
        Ok(())
    }
}

/// An event as it stands in the journal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// Place in the whole journal, from 1 without gaps.
    pub seq: u64,
    /// The stream that it belongs to.
    pub stream: Stream,
    /// Place in its stream, from 1 without gaps.
    pub version: u64,
    /// When it happened, as the writer said.
    pub at: Timestamp,
    /// Who said so.
    pub by: String,
    /// What kind of event.
    pub kind: String,
    /// The event itself, the same bytes that were handed in.
    pub body: String,
    /// The key under which it was appended, if any.
    pub key: Option<String>,
    /// Hash of the row before it in the whole journal; [`Hash::ZERO`] for the first.
    pub prev_hash: Hash,
    /// Hash of this row; see [`crate::hash`].
    pub hash: Hash,
}

/// What a writer expects of a stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expected {
    /// It has exactly this many events: nobody wrote since I looked. `Version(0)` is [`Expected::New`].
    Version(u64),
    /// It has no event yet.
    New,
    /// Whatever it has.
    Any,
}

impl Expected {
    /// The version that must be found, if it matters.
    pub fn version(self) -> Option<u64> {
        match self {
            Self::Version(v) => Some(v),
            Self::New => Some(0),
            Self::Any => None,
        }
    }
}

impl fmt::Display for Expected {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.version() {
            Some(0) => f.write_str("a new stream"),
            Some(v) => write!(f, "version {v}"),
            None => f.write_str("any version"),
        }
    }
}

/// The answer to an append: where the stream stands now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Appended {
    /// The stream written to.
    pub stream: Stream,
    /// Its version after the append: the version of the last event written.
    pub version: u64,
    /// Place of the last event written in the whole journal.
    pub seq: u64,
    /// Whether the answer is an earlier one, because the key was known already.
    pub repeated: bool,
}

/// A stream and how far it has come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StreamHead {
    /// The stream.
    pub stream: Stream,
    /// Its version: how many events it has.
    pub version: u64,
    /// Place of its last event in the whole journal.
    pub seq: u64,
    /// Hash of that event: with it everything before is fixed.
    pub hash: Hash,
}
