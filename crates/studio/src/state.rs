//! The folded journal. What closed jobs are found by and what they teach is remembered beside the record, so that a start
//! need not read the whole past; the rest of such a job is folded when somebody asks for it.

use crate::engine::learn::{Lessons, Past};
use crate::refusal::Refusal;
use crate::studio::{JobEntry, SHOP, broken, read, stream};
use crate::view::{Owed, SearchIndex, days_owed, text_of};
use jiff::civil::Date;
use job::{CarEvent, CarHistory, JobEvent, JobId, Shop, ShopEvent};
use journal::{Hash, Journal, Recorded, Slate, StreamHead};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Rows taken from the journal at once while catching up.
const CATCH_UP: usize = 4096;
/// With more jobs than this to be read, reading the journal from its beginning is quicker than job by job.
const JOB_BY_JOB: usize = 400;
/// The slate's name for what is remembered, and the form that it is written in: another form is not read. It changes with
/// the way in which jobs are folded, too.
const REMEMBERED: &str = "closed job";
const FORM: u32 = 2;

/// The folded journal.
#[derive(Default)]
pub(crate) struct State {
    pub(crate) seq: u64,
    pub(crate) shop: Arc<Shop>,
    pub(crate) shop_version: u64,
    /// Every job; those of the past that nobody asked for yet are not folded.
    jobs: BTreeMap<JobId, Option<JobEntry>>,
    /// Those of them that are open: few, however many there have been.
    pub(crate) open: BTreeSet<JobId>,
    /// Jobs that changed since lists and lessons were made.
    changed: BTreeSet<JobId>,
    index: SearchIndex,
    past: Past,
    owed: Owed,
    /// Cars that were asked for, or met while the journal was read.
    cars: BTreeMap<String, (u64, Arc<CarHistory>)>,
}

/// What is remembered of a closed job.
#[derive(Debug, Serialize, Deserialize)]
struct Remembered {
    form: u32,
    /// Hash of its last event: with it the whole job is fixed.
    last: String,
    text: String,
    owner: String,
    lessons: Lessons,
    /// Days from which reminders wait.
    owed: Vec<Date>,
}

impl State {
    /// The journal folded as far as must be, with what the slate remembers; nothing when it remembers too little.
    pub(crate) fn remembered(journal: &Journal, slate: &Slate) -> Result<Option<Self>, Refusal> {
        let lines = slate.list(REMEMBERED, jiff::Timestamp::UNIX_EPOCH).map_err(broken)?;
        if lines.is_empty() {
            return Ok(None);
        }
        // what is remembered in another form counts as forgotten
        let mut known: BTreeMap<JobId, Remembered> = lines
            .into_iter()
            .filter_map(|(name, text)| Some((JobId(name), serde_json::from_str(&text).ok()?)))
            .filter(|(_, r): &(JobId, Remembered)| r.form == FORM)
            .collect();
        let heads = journal.streams("").map_err(broken)?;
        let mut state = Self { seq: heads.iter().map(|h| h.seq).max().unwrap_or(0), ..Self::default() };
        let mut unknown = Vec::new();
        for (id, head) in heads.iter().filter_map(|head| Some((job_of(head)?, head))) {
            match known.remove(&id).filter(|r| r.last == head.hash.to_string()) {
                Some(r) => {
                    state.index.set(&id, r.text, r.owner);
                    state.past.learn(&id, r.lessons);
                    state.owed.set(&id, r.owed);
                    state.jobs.insert(id, None);
                }
                None => unknown.push(id),
            }
        }
        if unknown.len() > JOB_BY_JOB {
            return Ok(None);
        }
        for row in journal.load(&stream(SHOP)?, 0).map_err(broken)? {
            let event: ShopEvent = read(&row)?;
            Arc::make_mut(&mut state.shop).apply(&event);
            state.shop_version = row.version;
        }
        for id in unknown {
            state.fold(journal, &id)?;
        }
        Ok(Some(state))
    }

    /// Lines for the slate: of the closed jobs that had to be read, since it did not remember them as they are.
    pub(crate) fn forgotten(&mut self, journal: &Journal) -> Result<Vec<(String, String)>, Refusal> {
        self.settle();
        let read = |id: &JobId| self.jobs.get(id)?.as_ref().filter(|_| !self.open.contains(id));
        if !self.jobs.keys().any(|id| read(id).is_some()) {
            return Ok(Vec::new());
        }
        let mut lines = Vec::new();
        for head in journal.streams("job/").map_err(broken)? {
            // what somebody writes just now is read at the next start
            let entry = job_of(&head).and_then(|id| read(&id)).filter(|e| e.version == head.version);
            if let Some(entry) = entry {
                lines.push((entry.id.0.clone(), self.remember(entry, head.hash)?));
            }
        }
        Ok(lines)
    }

    fn remember(&self, entry: &JobEntry, last: Hash) -> Result<String, Refusal> {
        let (text, owner) = text_of(entry);
        let lessons = self.past.of(&entry.id).cloned().unwrap_or_default();
        let owed = days_owed(&entry.job);
        let remembered = Remembered { form: FORM, last: last.to_string(), text, owner, lessons, owed };
        serde_json::to_string(&remembered).map_err(broken)
    }

    /// A job; folded now when it was not yet.
    pub(crate) fn job(&mut self, journal: &Journal, id: &JobId) -> Result<Option<JobEntry>, Refusal> {
        match self.jobs.get(id) {
            None => Ok(None),
            Some(Some(entry)) => Ok(Some(entry.clone())),
            Some(None) => self.fold(journal, id).map(Some),
        }
    }

    /// Numbers of all jobs, in their order.
    pub(crate) fn ids(&self) -> Vec<JobId> {
        self.jobs.keys().cloned().collect()
    }

    /// Jobs of these numbers.
    pub(crate) fn jobs<'a>(
        &mut self,
        journal: &Journal,
        ids: impl IntoIterator<Item = &'a JobId>,
    ) -> Result<Vec<JobEntry>, Refusal> {
        ids.into_iter().filter_map(|id| self.job(journal, id).transpose()).collect()
    }

    /// A car over all its jobs, by the name of its stream.
    pub(crate) fn car(&mut self, journal: &Journal, name: &str) -> Result<Arc<CarHistory>, Refusal> {
        if let Some((_, history)) = self.cars.get(name) {
            return Ok(history.clone());
        }
        let (mut version, mut history) = (0, CarHistory::default());
        for row in journal.load(&stream(name)?, 0).map_err(broken)? {
            let event: CarEvent = read(&row)?;
            history.apply(&event);
            version = row.version;
        }
        let history = Arc::new(history);
        self.cars.insert(name.to_owned(), (version, history.clone()));
        Ok(history)
    }

    /// What the jobs can be found by.
    pub(crate) fn index(&mut self) -> &SearchIndex {
        self.settle();
        &self.index
    }

    /// What the jobs teach.
    pub(crate) fn past(&mut self) -> &mut Past {
        self.settle();
        &mut self.past
    }

    /// Jobs with a reminder due from one day to another, by number.
    pub(crate) fn owed(&mut self, from: Date, to: Date) -> Vec<JobId> {
        self.settle();
        self.owed.between(from, to).cloned().collect()
    }

    /// Brings lists and lessons up to date.
    fn settle(&mut self) {
        for id in std::mem::take(&mut self.changed) {
            if let Some(Some(entry)) = self.jobs.get(&id) {
                self.index.take_in(entry);
                self.past.learn(&id, Lessons::of(&entry.job));
                self.owed.set(&id, days_owed(&entry.job));
            }
        }
    }

    fn fold(&mut self, journal: &Journal, id: &JobId) -> Result<JobEntry, Refusal> {
        let mut entry = JobEntry { id: id.clone(), version: 0, job: Arc::default() };
        let job = Arc::make_mut(&mut entry.job);
        for row in journal.load(&stream(&crate::studio::job_stream(id))?, 0).map_err(broken)? {
            let event: JobEvent = read(&row)?;
            job.apply(&event);
            entry.version = row.version;
        }
        self.set(entry.clone());
        Ok(entry)
    }

    fn set(&mut self, entry: JobEntry) {
        if entry.job.is_open() {
            self.open.insert(entry.id.clone());
        } else {
            self.open.remove(&entry.id);
        }
        self.changed.insert(entry.id.clone());
        self.jobs.insert(entry.id.clone(), Some(entry));
    }

    /// Takes in what was written since.
    pub(crate) fn catch_up(&mut self, journal: &Journal) -> Result<(), Refusal> {
        loop {
            if journal.head().map_err(broken)? <= self.seq {
                return Ok(());
            }
            let mut rows = read_on(journal, self.seq)?;
            if rows.is_empty() {
                return Ok(());
            }
            // a whole history is read by other threads while this one takes it in; its numbers have no gaps
            while let Some(last) = rows.last().map(|row| row.seq) {
                let starts =
                    if rows.len() >= CATCH_UP { vec![last, last + CATCH_UP as u64] } else { Vec::new() };
                rows = std::thread::scope(|scope| {
                    let ahead: Vec<_> =
                        starts.into_iter().map(|seq| scope.spawn(move || read_on(journal, seq))).collect();
                    rows.into_iter().try_for_each(|row| self.take_in(journal, row))?;
                    let (mut next, mut end): (Vec<Happened>, u64) = (Vec::new(), last);
                    for thread in ahead {
                        let read = thread.join().unwrap_or_else(|_| Err(broken("reading stopped")))?;
                        // what was written between the two reads would leave a gap: it is read in the next round
                        if read.first().is_some_and(|row| row.seq == end + 1) {
                            end = read.last().map_or(end, |row| row.seq);
                            next.extend(read);
                        }
                    }
                    Ok::<_, Refusal>(next)
                })?;
            }
        }
    }

    /// Takes in a row. What was folded on its own may know the row already.
    fn take_in(&mut self, journal: &Journal, row: Happened) -> Result<(), Refusal> {
        match row.what {
            What::Shop(event) => {
                Arc::make_mut(&mut self.shop).apply(&event);
                self.shop_version = row.version;
            }
            What::Job(id, event) => {
                let fresh = || Some(JobEntry { id: id.clone(), version: 0, job: Arc::default() });
                match self.jobs.entry(id.clone()).or_insert_with(fresh) {
                    None => {
                        self.fold(journal, &id)?;
                    }
                    Some(entry) if entry.version < row.version => {
                        Arc::make_mut(&mut entry.job).apply(&event);
                        entry.version = row.version;
                        if entry.job.is_open() {
                            self.open.insert(id.clone());
                        } else {
                            self.open.remove(&id);
                        }
                        self.changed.insert(id);
                    }
                    Some(_) => {}
                }
            }
            What::Car(name, event) => {
                // a car that nobody asked for is read when somebody does; its first event needs no reading
                let known = match self.cars.get_mut(&name) {
                    None if row.version == 1 => self.cars.entry(name).or_default(),
                    None => return self.done(row.seq),
                    Some(known) => known,
                };
                if known.0 < row.version {
                    Arc::make_mut(&mut known.1).apply(&event);
                    known.0 = row.version;
                }
            }
            What::Other => {}
        }
        self.done(row.seq)
    }

    fn done(&mut self, seq: u64) -> Result<(), Refusal> {
        self.seq = seq;
        Ok(())
    }
}

/// Remembers closed jobs for the next start. What stands on the slate may be wiped: a start then reads everything.
pub(crate) fn remember(slate: &Slate, lines: &[(String, String)]) -> Result<(), Refusal> {
    slate.put_all(REMEMBERED, lines).map_err(broken)
}

fn job_of(head: &StreamHead) -> Option<JobId> {
    head.stream.as_str().strip_prefix("job/").map(|id| JobId(id.to_owned()))
}

/// The next events of the journal.
fn read_on(journal: &Journal, seq: u64) -> Result<Vec<Happened>, Refusal> {
    journal.since(seq, CATCH_UP).map_err(broken)?.iter().map(Happened::read).collect()
}

/// A row of the journal, read.
struct Happened {
    seq: u64,
    version: u64,
    what: What,
}

enum What {
    Shop(Box<ShopEvent>),
    Job(JobId, Box<JobEvent>),
    Car(String, Box<CarEvent>),
    /// Of a stream that this program does not know.
    Other,
}

impl Happened {
    fn read(row: &Recorded) -> Result<Self, Refusal> {
        let name = row.stream.as_str();
        let what = if name == SHOP {
            What::Shop(Box::new(read(row)?))
        } else if let Some(id) = name.strip_prefix("job/") {
            What::Job(JobId(id.to_owned()), Box::new(read(row)?))
        } else if name.starts_with("car/") {
            What::Car(name.to_owned(), Box::new(read(row)?))
        } else {
            What::Other
        };
        Ok(Self { seq: row.seq, version: row.version, what })
    }
}
