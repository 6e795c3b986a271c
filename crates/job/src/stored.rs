//! The stored form of events: a kind and a JSON text with the version of the form.

use serde::Serialize;
use serde::de::DeserializeOwned;
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

/// Reads a stored event of any version.
///
/// # Errors
/// When the text is damaged or was written by a newer program.
pub fn decode<E: DeserializeOwned>(kind: &str, body: &str) -> Result<E, StoredError> {
    let text = |why: String| StoredError::Text { kind: kind.to_owned(), why };
    let mut value: Value = serde_json::from_str(body).map_err(|e| text(e.to_string()))?;
    let object = value.as_object_mut().ok_or_else(|| text("not an object".into()))?;
    match object.remove("v").and_then(|v| v.as_u64()) {
        Some(VERSION) => {}
        Some(version) => return Err(StoredError::Newer { kind: kind.to_owned(), version }),
        None => return Err(text("no version".into())),
    }
    object.insert("kind".into(), kind.into());
    serde_json::from_value(value).map_err(|e| text(e.to_string()))
}
