//! The list of cars.

use crate::refusal::Refusal;
use crate::studio::{JobEntry, Studio};
use crate::view::CarTag;
use jiff::Timestamp;
use job::{JobId, Stage};
use std::collections::BTreeMap;

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

/// A part of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct CarList {
    /// The rows asked for.
    pub rows: Vec<CarRow>,
    /// How many jobs there are in the whole list.
    pub count: usize,
}

impl Studio {
    /// Cars whose plate, name, color, owner or notes hold every word of the query; open jobs first, newest first: at
    /// most `most` of them after the first `skip`. An empty query lists all. Without `customers` their names are neither
    /// searched nor told.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn cars(&self, query: &str, customers: bool, skip: usize, most: usize) -> Result<CarList, Refusal> {
        let words: Vec<String> = query.split_whitespace().map(str::to_lowercase).collect();
        let (found, count) = self.found(&words, customers, skip, most)?;
        let mut rows: Vec<CarRow> = found.iter().map(row).collect();
        if !customers {
            rows.iter_mut().for_each(|r| r.customer.clear());
        }
        Ok(CarList { rows, count })
    }
}

/// What the jobs can be found by.
#[derive(Debug, Default)]
pub(crate) struct SearchIndex {
    texts: BTreeMap<JobId, SearchText>,
}

/// In small letters; tight: without spaces and hyphens, as plates are typed.
#[derive(Debug, Default)]
struct SearchText {
    text: String,
    tight: String,
    owner: String,
    owner_tight: String,
}

impl SearchIndex {
    /// Takes in a job as it stands.
    pub(crate) fn take_in(&mut self, entry: &JobEntry) {
        let (text, owner) = text_of(entry);
        self.set(&entry.id, text, owner);
    }

    /// Takes in what a job can be found by: text and owner, in small letters.
    pub(crate) fn set(&mut self, id: &JobId, text: String, owner: String) {
        let tight = |text: &str| text.chars().filter(|c| !c.is_whitespace() && *c != '-').collect();
        let known = SearchText { tight: tight(&text), owner_tight: tight(&owner), text, owner };
        self.texts.insert(id.clone(), known);
    }

    /// Whether a job holds every word.
    pub(crate) fn holds(&self, id: &JobId, words: &[String], owners: bool) -> bool {
        let Some(t) = self.texts.get(id) else { return false };
        words.iter().all(|w| {
            let plain = w.replace('-', "");
            t.text.contains(w.as_str())
                || t.tight.contains(&plain)
                || owners && (t.owner.contains(w.as_str()) || t.owner_tight.contains(&plain))
        })
    }
}

/// What a job can be found by, and its owner, in small letters.
pub(crate) fn text_of(entry: &JobEntry) -> (String, String) {
    let job = &entry.job;
    let mut text = format!(
        "{} {} {} {} {} {}",
        entry.id, job.car.plate, job.car.name, job.car.color, job.car.body, job.car.note
    );
    for note in &job.notes {
        text.push(' ');
        text.push_str(&note.text);
    }
    (text.to_lowercase(), job.customer.name.to_lowercase())
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
