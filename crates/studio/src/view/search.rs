//! The list of cars.

use crate::refusal::Refusal;
use crate::studio::{JobEntry, Studio};
use crate::view::CarTag;
use jiff::Timestamp;
use job::Stage;

/// A row of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct CarRow {
    /// The car.
    pub car: CarTag,
    /// Whose it is.
    pub customer: String,
    /// Where its job stands.
    pub stage: Stage,
    /// Whether the job is open.
    pub open: bool,
    /// Promised.
    pub promised: Option<Timestamp>,
    /// What waits, in words.
    pub note: String,
}

impl Studio {
    /// Cars whose plate, name, color, owner or notes hold every word of the query; open jobs first, newest first. An
    /// empty query lists all. Without `customers` their names are neither searched nor told.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn cars(&self, query: &str, customers: bool) -> Result<Vec<CarRow>, Refusal> {
        let words: Vec<String> = query.split_whitespace().map(str::to_lowercase).collect();
        let mut rows: Vec<CarRow> =
            self.jobs()?.iter().filter(|e| holds(e, &words, customers)).map(row).collect();
        if !customers {
            rows.iter_mut().for_each(|r| r.customer.clear());
        }
        rows.sort_by(|a, b| b.open.cmp(&a.open).then(b.car.id.cmp(&a.car.id)));
        Ok(rows)
    }
}

fn holds(entry: &JobEntry, words: &[String], customers: bool) -> bool {
    if words.is_empty() {
        return true;
    }
    let job = &entry.job;
    let owner = if customers { job.customer.name.as_str() } else { "" };
    let mut text = format!(
        "{} {} {} {} {} {} {}",
        entry.id, job.car.plate, job.car.name, job.car.color, job.car.body, owner, job.car.note
    );
    for note in &job.notes {
        text.push(' ');
        text.push_str(&note.text);
    }
    let text = text.to_lowercase();
    let tight: String = text.chars().filter(|c| !c.is_whitespace() && *c != '-').collect();
    words.iter().all(|w| text.contains(w.as_str()) || tight.contains(&w.replace('-', "")))
}

fn row(entry: &JobEntry) -> CarRow {
    let job = &entry.job;
    let note = if let Some(why) = &job.called_off {
        format!("called off: {why}")
    } else if let Some(change) = job.open_change() {
        format!("waits for an answer: {}", change.reason)
    } else if job.acceptance.is_none() && !job.offers.is_empty() {
        "offer waits for the customer".into()
    } else if !job.claims.is_empty() && job.handover.is_some() {
        format!("{} claim(s)", job.claims.len())
    } else {
        String::new()
    };
    CarRow {
        car: CarTag::of(&entry.id, job),
        customer: job.customer.name.clone(),
        stage: job.stage(),
        open: job.is_open(),
        promised: job.promised,
        note,
    }
}
