//! The stored form of events: a kind and a JSON text with the version of the form.

use crate::{CarEvent, JobEvent, Reading, ShopEvent};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the form in which events are written now.
const VERSION: u64 = 1;

/// Why a stored event cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum StoredError {
    /// Not JSON, or not an object.
    #[error("event '{kind}' is not readable: {why}. Restore the newest backup and run `shutline verify`")]
    Text {
        /// Kind of the event.
        kind: String,
        /// What the reader said.
        why: String,
    },
    /// Written by a newer program.
    #[error(
        "event '{kind}' has form {version}, this program knows forms up to {VERSION}: install the newer program"
    )]
    Newer {
        /// Kind of the event.
        kind: String,
        /// Version found.
        version: u64,
    },
}

/// The stored form of an event: its kind, and the rest as JSON text with the version as `v`.
///
/// # Errors
/// When it is no object with a kind. A number that is not finite is written as null: commands refuse such numbers.
pub fn encode<E: Serialize>(event: &E) -> Result<(String, String), StoredError> {
    let unreadable = |why: String| StoredError::Text { kind: String::new(), why };
    let mut value = serde_json::to_value(event).map_err(|e| unreadable(e.to_string()))?;
    let object = value.as_object_mut().ok_or_else(|| unreadable("an event is an object".into()))?;
    let kind = match object.remove("kind") {
        Some(Value::String(kind)) => kind,
        _ => return Err(unreadable("an event has a kind".into())),
    };
    object.insert("v".into(), VERSION.into());
    Ok((kind, value.to_string()))
}

/// An event that is kept in the journal.
pub trait Stored: Sized {
    /// Reads a stored event of any version.
    ///
    /// # Errors
    /// When the text is damaged or was written by a newer program.
    fn decode(kind: &str, body: &str) -> Result<Self, StoredError>;
}

// Not one generic function: the readers are then compiled here, as an engine is, not where they are called.
macro_rules! stored {
    ($($event:ty),*) => { $(impl Stored for $event {
        fn decode(kind: &str, body: &str) -> Result<Self, StoredError> {
            decode(kind, body)
        }
    })* };
}

stored!(CarEvent, ShopEvent);

impl Stored for JobEvent {
    fn decode(kind: &str, body: &str) -> Result<Self, StoredError> {
        /// Nine tenths of a journal: read straight, without the copy that an enum told apart by a field takes.
        #[derive(Deserialize)]
        struct Measured {
            readings: Vec<Reading>,
        }
        if kind != "measured" {
            return decode(kind, body);
        }
        check(kind, body)?;
        let Measured { readings } = serde_json::from_str(body).map_err(|e| unreadable(kind, &e))?;
        Ok(Self::Measured { readings })
    }
}

fn unreadable(kind: &str, why: &dyn std::fmt::Display) -> StoredError {
    StoredError::Text { kind: kind.to_owned(), why: why.to_string() }
}

#[derive(Deserialize)]
struct Version {
    v: Option<u64>,
}

/// Whether it is an object in a form that this program knows.
fn check(kind: &str, body: &str) -> Result<(), StoredError> {
    let version: Version = serde_json::from_str(body).map_err(|e| unreadable(kind, &e))?;
    match version.v {
        Some(VERSION) => Ok(()),
        Some(version) => Err(StoredError::Newer { kind: kind.to_owned(), version }),
        None => Err(unreadable(kind, &"no version")),
    }
}

fn decode<E: DeserializeOwned>(kind: &str, body: &str) -> Result<E, StoredError> {
    check(kind, body)?;
    // it has a version, so there is something after the brace
    let rest = body.trim_start().strip_prefix('{').ok_or_else(|| unreadable(kind, &"not an object"))?;
    let quoted = serde_json::to_string(kind).map_err(|e| unreadable(kind, &e))?;
    serde_json::from_str(&format!("{{\"kind\":{quoted},{rest}")).map_err(|e| unreadable(kind, &e))
}
