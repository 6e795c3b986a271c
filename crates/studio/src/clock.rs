//! The one place where the program reads the time.

use jiff::{SignedDuration, Timestamp};
use std::sync::{Arc, Mutex};

/// Where the time comes from.
#[derive(Clone, Debug, Default)]
pub enum Clock {
    /// The machine's clock.
    #[default]
    System,
    /// A time that stands still until it is moved: for tests and for the demo's past.
    Set(Arc<Mutex<Timestamp>>),
}

impl Clock {
    /// A clock that stands at `at`.
    pub fn at(at: Timestamp) -> Self {
        Self::Set(Arc::new(Mutex::new(at)))
    }

    /// Now, to the millisecond: finer digits would only make the record longer.
    pub fn now(&self) -> Timestamp {
        match self {
            // The engines may not; this is the place.
            #[allow(clippy::disallowed_methods)]
            Self::System => {
                let now = std::time::SystemTime::now();
                let now = Timestamp::try_from(now).unwrap_or(Timestamp::UNIX_EPOCH);
                Timestamp::from_millisecond(now.as_millisecond()).unwrap_or(now)
            }
            Self::Set(at) => *at.lock().unwrap_or_else(std::sync::PoisonError::into_inner),
        }
    }

    /// Moves a clock that stands; the machine's clock goes by itself.
    pub fn advance(&self, by: SignedDuration) {
        if let Self::Set(at) = self {
            let mut at = at.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            *at = at.checked_add(by).unwrap_or(*at);
        }
    }

    /// Puts a standing clock to a time.
    pub fn set(&self, to: Timestamp) {
        if let Self::Set(at) = self {
            *at.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = to;
        }
    }
}
