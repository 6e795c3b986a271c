//! Reminders: written anew, said to be sent, or left.

use crate::refusal::Refusal;
use crate::studio::{Before, Stamp, Studio};
use job::{ClaimAnswer, JobEvent, JobId, Reminder, ReminderState};

/// Longest message that is kept.
const LONGEST: usize = 10_000;

impl Studio {
    /// Keeps what a person did with a reminder: wrote it anew, sent it, or left it. The program itself sends nothing.
    ///
    /// # Errors
    /// When there is no such reminder, it was sent already, or nothing is written in it.
    pub fn set_reminder(
        &self,
        id: &JobId,
        stamp: &Stamp,
        about: &str,
        state: ReminderState,
        text: &str,
    ) -> Result<u64, Refusal> {
        let text = text.trim();
        if text.chars().count() > LONGEST {
            return Err(Refusal::invalid(
                format!("The message has more than {LONGEST} letters"),
                "Shorten it; pictures and documents go along with the message itself.",
            ));
        }
        if text.is_empty() {
            return Err(match state {
                ReminderState::Left => {
                    Refusal::invalid("No reason is given", "Say why it is not to be sent.")
                }
                _ => Refusal::invalid("The message is empty", "Write it, or say that it is not to be sent."),
            });
        }
        let known = self.reminders(id)?;
        let Some(row) = known.iter().find(|r| r.about == about) else {
            return Err(Refusal::not_found(
                format!("There is no reminder '{about}'"),
                "Open the page again: the visit may have happened meanwhile.",
            ));
        };
        if !row.waits() {
            return Err(Refusal::not_yet(
                "This reminder is done with already",
                "It was sent or left. Open the page again.",
            ));
        }
        self.decide(id, stamp, |Before { now, .. }| {
            let reminder = Reminder {
                about: about.to_owned(),
                text: text.to_owned(),
                state,
                at: now,
                by: stamp.by.clone(),
            };
            Ok(vec![JobEvent::ReminderSet { reminder }].into())
        })
    }

    /// Answers a claim. A later answer takes the place of an earlier one; both stay in the record.
    ///
    /// # Errors
    /// When there is no such claim or nothing is said.
    pub fn answer_claim(&self, id: &JobId, stamp: &Stamp, index: usize, text: &str) -> Result<u64, Refusal> {
        let text = text.trim();
        if text.is_empty() {
            return Err(Refusal::invalid("The answer is empty", "Say what will be done, or why nothing."));
        }
        self.decide(id, stamp, |Before { job, now, .. }| {
            if job.claims.get(index).is_none() {
                return Err(Refusal::not_found("There is no such claim", "Open the page again."));
            }
            let answer = ClaimAnswer { at: now, by: stamp.by.clone(), text: text.to_owned() };
            Ok(vec![JobEvent::ClaimAnswered { index, answer }].into())
        })
    }
}
