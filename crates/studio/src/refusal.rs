//! Why something was not done: what, where, and the way on.

use serde::Serialize;
use std::fmt;

/// What kind of refusal; decides the answer's status on the web and the exit code on the command line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RefusalKind {
    /// There is no such thing.
    NotFound,
    /// What was handed in cannot be used.
    Invalid,
    /// Somebody else changed it meanwhile.
    Conflict,
    /// It is not the time for it: something else must happen first.
    NotYet,
    /// It cannot be done as wanted; the remedy names a way.
    Impossible,
    /// Too often, or too soon again.
    TooMany,
    /// Not for this person.
    Forbidden,
    /// The journal, a file or a library failed.
    Broken,
}

/// A refusal in words for people.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Refusal {
    /// What kind.
    pub kind: RefusalKind,
    /// What is wrong.
    pub what: String,
    /// Where: a file and line, a panel, a field.
    pub place: Option<String>,
    /// What to do.
    pub remedy: String,
}

impl Refusal {
    /// A refusal without place.
    pub fn new(kind: RefusalKind, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { kind, what: what.into(), place: None, remedy: remedy.into() }
    }

    /// Something handed in cannot be used.
    pub fn invalid(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(RefusalKind::Invalid, what, remedy)
    }

    /// It is not the time for it.
    pub fn not_yet(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(RefusalKind::NotYet, what, remedy)
    }

    /// There is no such thing.
    pub fn not_found(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(RefusalKind::NotFound, what, remedy)
    }

    /// Something failed that should not.
    pub fn broken(what: impl fmt::Display, remedy: impl Into<String>) -> Self {
        Self::new(RefusalKind::Broken, what.to_string(), remedy)
    }

    /// With its place.
    pub fn at(mut self, place: impl Into<String>) -> Self {
        self.place = Some(place.into());
        self
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        write!(f, "{}", self.what)?;
        if !self.what.ends_with(['.', '!', '?']) {
            f.write_str(".")?;
        }
        if !self.remedy.is_empty() {
            write!(f, " {}", self.remedy)?;
        }
        Ok(())
    }
}

impl std::error::Error for Refusal {}
