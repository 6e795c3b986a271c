//! Reminders to the customer: drafted by the program, sent by people.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// Where a reminder stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReminderState {
    /// A person wrote it anew; not sent.
    #[default]
    Draft,
    /// A person says that they sent it. The program sends nothing.
    Sent,
    /// It is not to be sent.
    Left,
}

/// A reminder that a person has had in hands. One that nobody touched is not kept: the program drafts it afresh.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Reminder {
    /// What it is about: `visit-0`, `claim-1` (counted from 0 as in the job), `year-2` (years after the handover).
    pub about: String,
    /// The message; why, when it is not to be sent.
    pub text: String,
    /// Where it stands.
    pub state: ReminderState,
    /// Since when.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
}
