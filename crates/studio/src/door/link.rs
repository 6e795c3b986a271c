//! Links for customers: unguessable, good until a day, for looking at an offer or a report and at nothing else.

use super::{Token, as_text, broken};
use crate::refusal::Refusal;
use crate::studio::Studio;
use jiff::{SignedDuration, Timestamp};
use job::JobId;
use serde::{Deserialize, Serialize};

pub(super) const KIND: &str = "link";

/// Most days that a link is good for.
pub const MOST_DAYS: i64 = 366;

/// What a link shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// The options of the newest offer.
    Offer,
    /// The handover report.
    Report,
}

/// A link that was given to a customer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Link {
    /// The job.
    pub job: JobId,
    /// What it shows.
    pub shown: Shown,
    /// Good until then.
    pub until: Timestamp,
    /// Who gave it.
    pub by: String,
}

impl Studio {
    /// Gives a link that is good for some days. It is told once: only its hash is kept.
    ///
    /// # Errors
    /// When there is no such job, or the days make no sense.
    pub fn give_link(&self, by: &str, job: &JobId, shown: Shown, days: i64) -> Result<Token, Refusal> {
        if !(1..=MOST_DAYS).contains(&days) {
            return Err(Refusal::invalid(
                format!("A link cannot be good for {days} days"),
                format!("Choose from 1 to {MOST_DAYS}."),
            ));
        }
        self.job(job)?;
        let token = Token::new()?;
        let until = self.now() + SignedDuration::from_hours(24 * days);
        let link = Link { job: job.clone(), shown, until, by: by.to_owned() };
        self.slate()?.put(KIND, &token.name(), &as_text(&link)?, Some(until)).map_err(broken)?;
        Ok(token)
    }

    /// What a link leads to, while it is good.
    ///
    /// # Errors
    /// When the slate cannot be read.
    pub fn link(&self, token: &Token) -> Result<Option<Link>, Refusal> {
        Ok(self.line(KIND, &token.name())?.and_then(|t| serde_json::from_str(&t).ok()))
    }

    /// Links of a job that are good, each with the name under which it is kept.
    ///
    /// # Errors
    /// When the slate cannot be read.
    pub fn links_of(&self, job: &JobId) -> Result<Vec<(String, Link)>, Refusal> {
        let lines = self.slate()?.list(KIND, self.now()).map_err(broken)?;
        let read = |(name, text): (String, String)| Some((name, serde_json::from_str::<Link>(&text).ok()?));
        Ok(lines.into_iter().filter_map(read).filter(|(_, l)| l.job == *job).collect())
    }

    /// Takes a link of a job back.
    ///
    /// # Errors
    /// When the job has no such link.
    pub fn withdraw_link(&self, job: &JobId, name: &str) -> Result<(), Refusal> {
        let known = self.links_of(job)?.iter().any(|(n, _)| n == name);
        if known && self.slate()?.wipe(KIND, name).map_err(broken)? {
            return Ok(());
        }
        Err(Refusal::not_found("There is no such link", "It may have run out. Open the page again."))
    }
}
