//! The studio: one open journal, its folded state, and the door through which events go in.

use crate::clock::Clock;
use crate::compute::Results;
use crate::engine::learn::{AllDone, Filmed};
use crate::reckoning::Reckonings;
use crate::refusal::{Refusal, RefusalKind};
use crate::searching::Searches;
use crate::state::State;
use body::{Body, Style};
use jiff::{SignedDuration, Timestamp, civil::Date, tz::TimeZone};
use job::{CarEvent, CarHistory, Job, JobEvent, JobId, Shop, ShopEvent, Stored};
use journal::{AppendError, Expected, Journal, NewEvent, Recorded, Slate, Stream};
use serde::Serialize;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

/// How often a decision is taken again when somebody else wrote in between.
const TRIES: u32 = 8;

/// Who does something, and what they had seen of it.
#[derive(Clone, Debug, Default)]
pub struct Stamp {
    /// Who.
    pub by: String,
    /// The job's version that they had before their eyes, where overwriting newer work would be wrong.
    pub seen: Option<u64>,
    /// A key under which the same thing is done only once.
    pub key: Option<String>,
    /// How long ago it was done: it waited on a device until the connection was back.
    pub ago: SignedDuration,
}

impl Stamp {
    /// By somebody, whatever they had seen.
    pub fn by(name: &str) -> Self {
        Self { by: name.to_owned(), ..Self::default() }
    }
}

/// Events that a decision leads to.
#[derive(Debug, Default)]
pub struct Changes {
    /// For the job.
    pub job: Vec<JobEvent>,
    /// For the car's history.
    pub car: Vec<CarEvent>,
    /// For the shop.
    pub shop: Vec<ShopEvent>,
}

impl From<JobEvent> for Changes {
    fn from(event: JobEvent) -> Self {
        Self { job: vec![event], ..Self::default() }
    }
}

impl From<Vec<JobEvent>> for Changes {
    fn from(job: Vec<JobEvent>) -> Self {
        Self { job, ..Self::default() }
    }
}

/// A folded job with its place in the journal.
#[derive(Clone, Debug)]
pub struct JobEntry {
    /// Its number.
    pub id: JobId,
    /// Version of its stream.
    pub version: u64,
    /// Its state.
    pub job: Arc<Job>,
}

/// What a decision may look at.
#[derive(Clone, Copy, Debug)]
pub struct Before<'a> {
    /// The job.
    pub job: &'a Job,
    /// The car over all its jobs.
    pub history: &'a CarHistory,
    /// The shop.
    pub shop: &'a Shop,
    /// When it is done: now, or earlier when it waited on a device.
    pub now: Timestamp,
}

/// One open studio. Cheap to share: put it in an `Arc`.
pub struct Studio {
    pub(crate) journal: Journal,
    pub(crate) results: Results,
    pub(crate) searches: Searches,
    pub(crate) reckonings: Reckonings,
    clock: Clock,
    folder: PathBuf,
    state: Mutex<State>,
    slate: OnceLock<Slate>,
}

impl Studio {
    /// Opens a studio folder, making it when it is not there.
    ///
    /// # Errors
    /// When the folder cannot be used, or the journal in it cannot be read.
    pub fn open(folder: &Path) -> Result<Self, Refusal> {
        Self::open_at(folder, Clock::System)
    }

    /// Opens a studio folder under a clock of one's own.
    ///
    /// # Errors
    /// When the folder cannot be used, or the journal in it cannot be read.
    pub fn open_at(folder: &Path, clock: Clock) -> Result<Self, Refusal> {
        let journal = Journal::open(folder).map_err(broken)?;
        let studio = Self {
            journal,
            results: Results::default(),
            searches: Searches::default(),
            reckonings: Reckonings::default(),
            clock,
            folder: folder.to_owned(),
            state: Mutex::new(State::default()),
            slate: OnceLock::new(),
        };
        studio.begin()?;
        Ok(studio)
    }

    /// Folds the journal, and remembers for the next start what of it is closed. The slate is only a help: without one
    /// everything is read.
    fn begin(&self) -> Result<(), Refusal> {
        let begun = self.journal.head().map_err(broken)? > 0;
        let slate = if begun { self.slate().ok() } else { None };
        if let Some(slate) = slate
            && let Some(state) = State::remembered(&self.journal, slate)?
        {
            *self.state.lock().unwrap_or_else(PoisonError::into_inner) = state;
        }
        let mut state = self.state()?;
        if let Some(slate) = slate {
            let lines = state.forgotten(&self.journal)?;
            drop(state);
            if !lines.is_empty() {
                let _ = crate::state::remember(slate, &lines);
            }
        }
        Ok(())
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The journal behind it, for backup, verification and notices of change.
    pub fn journal(&self) -> &Journal {
        &self.journal
    }

    /// What stands beside the record and may be wiped; opened when it is first needed.
    pub(crate) fn slate(&self) -> Result<&Slate, Refusal> {
        if let Some(slate) = self.slate.get() {
            return Ok(slate);
        }
        let slate = crate::door::open_slate(&self.folder)?;
        Ok(self.slate.get_or_init(|| slate))
    }

    /// The clock.
    pub fn clock(&self) -> &Clock {
        &self.clock
    }

    /// Now.
    pub fn now(&self) -> Timestamp {
        self.clock.now()
    }

    /// The shop.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn shop(&self) -> Result<Arc<Shop>, Refusal> {
        Ok(self.state()?.shop.clone())
    }

    /// The shop's time zone; UTC when its name is not known.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn time_zone(&self) -> Result<TimeZone, Refusal> {
        Ok(zone_of(&*self.shop()?))
    }

    /// A job.
    ///
    /// # Errors
    /// When there is no such job, or the journal cannot be read.
    pub fn job(&self, id: &JobId) -> Result<JobEntry, Refusal> {
        self.state()?.job(&self.journal, id)?.ok_or_else(|| no_job(id))
    }

    /// All jobs, by number.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn jobs(&self) -> Result<Vec<JobEntry>, Refusal> {
        let mut state = self.state()?;
        let ids = state.ids();
        state.jobs(&self.journal, &ids)
    }

    /// Open jobs, by number.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn open_jobs(&self) -> Result<Vec<JobEntry>, Refusal> {
        let mut state = self.state()?;
        let open = state.open.clone();
        state.jobs(&self.journal, &open)
    }

    /// Open jobs and those that stand in the known plan, by number.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn current_jobs(&self) -> Result<Vec<JobEntry>, Refusal> {
        let mut state = self.state()?;
        let planned = state.shop.plan.iter().map(|b| &b.job);
        let ids: BTreeSet<JobId> = state.open.iter().chain(planned).cloned().collect();
        state.jobs(&self.journal, &ids)
    }

    /// Jobs on which a correction method was tried, by number.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn tested_jobs(&self) -> Result<Vec<JobEntry>, Refusal> {
        let mut state = self.state()?;
        let tested = state.past().tested();
        state.jobs(&self.journal, &tested)
    }

    /// Jobs under which film was laid, with their cars' histories, by number.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn filmed(&self) -> Result<Vec<(JobId, Filmed, Arc<CarHistory>)>, Refusal> {
        let mut state = self.state()?;
        let filmed = state.past().filmed();
        let with_history = |(id, filmed): (JobId, Filmed)| {
            let history = state.car(&self.journal, &car_stream(&filmed.plate))?;
            Ok((id, filmed, history))
        };
        filmed.into_iter().map(with_history).collect()
    }

    /// Every finished step of the shop.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn finished_steps(&self) -> Result<Arc<AllDone>, Refusal> {
        Ok(self.state()?.past().all())
    }

    /// Jobs that hold every word, open ones first, newest first: those from `skip` on, at most `most`; and how many
    /// there are.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn found(
        &self,
        words: &[String],
        owners: bool,
        skip: usize,
        most: usize,
    ) -> Result<(Vec<JobEntry>, usize), Refusal> {
        let mut state = self.state()?;
        let ids = state.ids();
        let index = state.index();
        let found: Vec<JobId> =
            ids.into_iter().rev().filter(|id| words.is_empty() || index.holds(id, words, owners)).collect();
        let (open, closed): (Vec<JobId>, Vec<JobId>) =
            found.into_iter().partition(|id| state.open.contains(id));
        let count = open.len() + closed.len();
        let shown: Vec<JobId> = open.into_iter().chain(closed).skip(skip).take(most).collect();
        Ok((state.jobs(&self.journal, &shown)?, count))
    }

    /// Jobs of which a customer could be reminded on one of these days, by number.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn owed(&self, from: Date, to: Date) -> Result<Vec<JobEntry>, Refusal> {
        let mut state = self.state()?;
        let owed = state.owed(from, to);
        state.jobs(&self.journal, &owed)
    }

    /// A car over all its jobs, by its plate.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn history(&self, plate: &str) -> Result<Arc<CarHistory>, Refusal> {
        self.state()?.car(&self.journal, &car_stream(plate))
    }

    /// What was written about a job, oldest first.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn record_of(&self, id: &JobId) -> Result<Vec<Recorded>, Refusal> {
        self.journal.load(&stream(&job_stream(id))?, 0).map_err(broken)
    }

    /// Whether something was written under a key.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn knows(&self, key: &str) -> Result<bool, Refusal> {
        self.journal.knows(key).map_err(broken)
    }

    /// Decides on a job and writes what comes of it, all or nothing. When somebody else writes in between, the
    /// decision is taken again on the new state, unless `stamp.seen` says that this state was not seen.
    ///
    /// # Errors
    /// The decision's own refusal, a conflict, or a failing journal.
    pub fn decide(
        &self,
        id: &JobId,
        stamp: &Stamp,
        decision: impl Fn(Before<'_>) -> Result<Changes, Refusal>,
    ) -> Result<u64, Refusal> {
        for _ in 0..TRIES {
            let (entry, shop, shop_version) = {
                let mut state = self.state()?;
                let entry = state.job(&self.journal, id)?.ok_or_else(|| no_job(id))?;
                (entry, state.shop.clone(), state.shop_version)
            };
            if let Some(seen) = stamp.seen
                && seen != entry.version
            {
                return Err(self.overtaken(id, seen));
            }
            let history = self.history(&entry.job.car.plate)?;
            // The row says when it was written, the event when it was done.
            let now = self.now();
            let then = now.checked_sub(stamp.ago).unwrap_or(now).max(entry.job.booked.min(now));
            let before = Before { job: &entry.job, history: &history, shop: &shop, now: then };
            let changes = decision(before)?;
            let mut batch = Vec::new();
            if !changes.job.is_empty() {
                let events = rows(&changes.job, now, &stamp.by)?;
                batch.push((stream(&job_stream(id))?, Expected::Version(entry.version), events));
            }
            if !changes.car.is_empty() {
                let name = car_stream(&entry.job.car.plate);
                batch.push((stream(&name)?, Expected::Any, rows(&changes.car, now, &stamp.by)?));
            }
            if !changes.shop.is_empty() {
                let events = rows(&changes.shop, now, &stamp.by)?;
                batch.push((stream(SHOP)?, Expected::Version(shop_version), events));
            }
            if batch.is_empty() {
                return Ok(entry.version);
            }
            match self.journal.append_all(batch, stamp.key.as_deref()) {
                Ok(_) => return Ok(self.job(id)?.version),
                Err(AppendError::Conflict { .. }) => {}
                Err(other) => return Err(broken(other)),
            }
        }
        Err(busy())
    }

    /// Decides on the shop and writes what comes of it.
    ///
    /// # Errors
    /// The decision's own refusal, or a failing journal.
    pub fn decide_shop(
        &self,
        stamp: &Stamp,
        decision: impl Fn(&Shop, Timestamp) -> Result<Vec<ShopEvent>, Refusal>,
    ) -> Result<(), Refusal> {
        for _ in 0..TRIES {
            let (shop, version) = {
                let state = self.state()?;
                (state.shop.clone(), state.shop_version)
            };
            let now = self.now();
            let events = decision(&shop, now)?;
            if events.is_empty() {
                return Ok(());
            }
            let batch = vec![(stream(SHOP)?, Expected::Version(version), rows(&events, now, &stamp.by)?)];
            match self.journal.append_all(batch, stamp.key.as_deref()) {
                Ok(_) => return Ok(()),
                Err(AppendError::Conflict { .. }) => {}
                Err(other) => return Err(broken(other)),
            }
        }
        Err(busy())
    }

    /// Opens a job under the next free number with its first events.
    ///
    /// # Errors
    /// When the journal fails.
    pub(crate) fn open_job(&self, stamp: &Stamp, plate: &str, events: &[JobEvent]) -> Result<JobId, Refusal> {
        for _ in 0..TRIES {
            let (number, version) = {
                let state = self.state()?;
                (state.shop.jobs + 1, state.shop_version)
            };
            let id = JobId(format!("{number:04}"));
            let now = self.now();
            let opened = [CarEvent::JobOpened { job: id.clone() }];
            let batch = vec![
                (stream(&job_stream(&id))?, Expected::New, rows(events, now, &stamp.by)?),
                (stream(&car_stream(plate))?, Expected::Any, rows(&opened, now, &stamp.by)?),
                (
                    stream(SHOP)?,
                    Expected::Version(version),
                    rows(&[ShopEvent::JobNumbered { number }], now, &stamp.by)?,
                ),
            ];
            match self.journal.append_all(batch, stamp.key.as_deref()) {
                Ok(answers) => {
                    // The same key again: the first answer names the job that was opened then.
                    let name =
                        answers.first().map(|a| a.stream.as_str().trim_start_matches("job/").to_owned());
                    return Ok(name.map_or(id, JobId));
                }
                Err(AppendError::Conflict { .. }) => {}
                Err(other) => return Err(broken(other)),
            }
        }
        Err(busy())
    }

    /// Writes rows exactly as they were recorded elsewhere, under a new stream.
    ///
    /// # Errors
    /// When the stream is there already or the journal fails.
    pub(crate) fn write_rows(&self, name: &str, events: Vec<NewEvent>) -> Result<(), Refusal> {
        match self.journal.append_all(vec![(stream(name)?, Expected::New, events)], None) {
            Ok(_) => Ok(()),
            Err(AppendError::Conflict { .. }) => Err(Refusal::new(
                RefusalKind::Conflict,
                format!("{name} is in this studio already"),
                "Import into an empty studio, or remove `history.jsonl` to import it as a new job.",
            )),
            Err(other) => Err(broken(other)),
        }
    }

    fn overtaken(&self, id: &JobId, seen: u64) -> Refusal {
        let newer = self.record_of(id).unwrap_or_default();
        let what: Vec<String> = newer
            .iter()
            .filter(|r| r.version > seen)
            .map(|r| format!("{} by {}", r.kind.replace('_', " "), r.by))
            .collect();
        Refusal::new(
            RefusalKind::Conflict,
            format!("Job {id} changed since this page was opened: {}", what.join(", ")),
            "Look at what changed; what you typed is still below. Save again to keep it.",
        )
    }

    /// The state, up to the journal's last row.
    fn state(&self) -> Result<MutexGuard<'_, State>, Refusal> {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.catch_up(&self.journal)?;
        Ok(state)
    }
}

/// The shop's stream.
pub(crate) const SHOP: &str = "shop";

/// A job's stream.
pub(crate) fn job_stream(id: &JobId) -> String {
    format!("job/{id}")
}

/// A car's stream: its plate in lower case, other signs than letters and digits as their numbers.
pub(crate) fn car_stream(plate: &str) -> String {
    let mut name = String::from("car/");
    for c in plate.trim().to_lowercase().chars().filter(|c| !c.is_whitespace() && *c != '-') {
        if c.is_ascii_alphanumeric() {
            name.push(c);
        } else {
            name.push_str(&format!("_{:x}", u32::from(c)));
        }
    }
    name
}

/// The body drawing of a car; a saloon when the style is not known (commands refuse unknown styles).
pub fn body_of(job: &Job) -> &'static Body {
    body_named(&job.car.body)
}

/// The same by the name of its style.
pub(crate) fn body_named(style: &str) -> &'static Body {
    Body::of(Style::from_name(style).unwrap_or(Style::Saloon))
}

/// The time zone that the shop set.
pub fn zone_of(shop: &Shop) -> TimeZone {
    TimeZone::get(&shop.settings.time_zone).unwrap_or(TimeZone::UTC)
}

pub(crate) fn stream(name: &str) -> Result<Stream, Refusal> {
    Stream::new(name).map_err(|e| Refusal::invalid(e.to_string(), "Use a shorter plate."))
}

fn rows<E: Serialize>(events: &[E], at: Timestamp, by: &str) -> Result<Vec<NewEvent>, Refusal> {
    let by = if by.trim().is_empty() { "somebody" } else { by.trim() };
    events
        .iter()
        .map(|event| {
            let (kind, body) = job::encode(event).map_err(|e| Refusal::invalid(e.to_string(), ""))?;
            Ok(NewEvent { kind, body, at, by: by.to_owned() })
        })
        .collect()
}

pub(crate) fn read<E: Stored>(row: &Recorded) -> Result<E, Refusal> {
    E::decode(&row.kind, &row.body).map_err(|e| broken(e).at(format!("journal row {}", row.seq)))
}

pub(crate) fn broken(error: impl std::fmt::Display) -> Refusal {
    Refusal::broken(error, "")
}

fn no_job(id: &JobId) -> Refusal {
    Refusal::not_found(format!("There is no job {id}"), "Look it up in the list of cars.")
}

fn busy() -> Refusal {
    Refusal::new(RefusalKind::Conflict, "Too many people write at once", "Try again.")
}
