//! What is wrong with what the engine was asked.

/// A question that cannot be priced: where, what, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PriceError {
    /// A value makes no sense.
    #[error("{place}: {what} is {got}; give {allowed}")]
    Value {
        /// Which task, option or setting.
        place: String,
        /// Which value.
        what: &'static str,
        /// As given.
        got: String,
        /// What would be accepted.
        allowed: &'static str,
    },
    /// Two tasks carry the same name.
    #[error("two tasks are called '{0}': give each its own name")]
    SameTask(String),
    /// A task waits for one that is not there.
    #[error("task '{task}' waits for task number {after}, but there are only {tasks}: correct its list")]
    NoSuchTask {
        /// The waiting task.
        task: String,
        /// What it waits for, from 0.
        after: usize,
        /// How many there are.
        tasks: usize,
    },
    /// Tasks wait for each other in a ring.
    #[error("task '{0}' waits for itself in a ring: take one of the waits out")]
    Ring(String),
    /// A step has no time in the step table.
    #[error("no time is known for the step '{0}': add it to the step table")]
    NoSuchStep(String),
    /// A room has no price or no place.
    #[error("the room '{0}' is not known: add it to the shop's rooms")]
    NoSuchRoom(String),
    /// A task needs more people than there are.
    #[error("task '{task}' needs {people} people, the crew has {crew}: add people or split the task")]
    Crew {
        /// The task.
        task: String,
        /// Needed.
        people: u32,
        /// There are.
        crew: u32,
    },
    /// Stopped before there was anything to tell.
    #[error("stopped after {0} draws, too few to tell: allow more effort")]
    Stopped(usize),
    /// An amount is beyond what decimals hold.
    #[error("{0} is beyond what can be reckoned: check the prices and quantities")]
    Amount(String),
}

/// `Ok` when the value is finite and within the closed range.
pub(crate) fn within(
    place: &str,
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    allowed: &'static str,
) -> Result<f64, PriceError> {
    if value.is_finite() && (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(PriceError::Value { place: place.to_owned(), what, got: format!("{value}"), allowed })
    }
}
