//! The one writer: a thread that commits what it is handed and answers after the commit.
//!
//! Requests that arrive while a commit waits for the disk go together into the next one, so that many writers
//! share one sync.

use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension as _, Transaction, TransactionBehavior, params};

use crate::error::{AppendError, Conflict, JournalError};
use crate::event::{Appended, Expected, NewEvent, Stream};
use crate::hash::{EventFields, picture_row};
use crate::picture::PictureId;
use crate::seal::{Head, HeadFile};
use crate::sqlite::{self, as_i64};

/// At most this many requests share a commit.
const GROUP: usize = 256;

/// Events for one stream and what the writer expects of it.
pub(crate) type Write = (Stream, Expected, Vec<NewEvent>);

enum Order {
    Append { writes: Vec<Write>, key: Option<String>, answer: Sender<Result<Vec<Appended>, AppendError>> },
    List { id: PictureId, bytes: u64, answer: Sender<Result<(), JournalError>> },
}

/// An answer that waits for the commit.
enum Answer {
    Append(Sender<Result<Vec<Appended>, AppendError>>, Result<Vec<Appended>, AppendError>),
    List(Sender<Result<(), JournalError>>),
}

/// The way to the writer's thread.
#[derive(Debug)]
pub(crate) struct Writer {
    orders: Option<Sender<Order>>,
    thread: Option<JoinHandle<()>>,
}

impl Writer {
    pub fn start(db: Connection, head: HeadFile, bell: Arc<Bell>) -> Result<Self, JournalError> {
        let (orders, inbox) = mpsc::channel();
        let mut desk = Desk { db, head, bell };
        let thread = thread::Builder::new()
            .name("journal".into())
            .spawn(move || desk.work(&inbox))
            .map_err(|_| JournalError::Stopped)?;
        Ok(Self { orders: Some(orders), thread: Some(thread) })
    }

    pub fn append(&self, writes: Vec<Write>, key: Option<String>) -> Result<Vec<Appended>, AppendError> {
        let (answer, wait) = mpsc::channel();
        self.hand_in(Order::Append { writes, key, answer })?;
        wait.recv().map_err(|_| JournalError::Stopped)?
    }

    pub fn list(&self, id: PictureId, bytes: u64) -> Result<(), JournalError> {
        let (answer, wait) = mpsc::channel();
        self.hand_in(Order::List { id, bytes, answer })?;
        wait.recv().map_err(|_| JournalError::Stopped)?
    }

    fn hand_in(&self, order: Order) -> Result<(), JournalError> {
        let orders = self.orders.as_ref().ok_or(JournalError::Stopped)?;
        orders.send(order).map_err(|_| JournalError::Stopped)
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        drop(self.orders.take());
        if let Some(thread) = self.thread.take() {
            // a writer that panicked has answered its callers with `Stopped` already
            let _ = thread.join();
        }
    }
}

/// The writer's own side.
struct Desk {
    db: Connection,
    head: HeadFile,
    bell: Arc<Bell>,
}

impl Desk {
    fn work(&mut self, inbox: &Receiver<Order>) {
        while let Ok(first) = inbox.recv() {
            let group = std::iter::once(first).chain(inbox.try_iter().take(GROUP - 1)).collect();
            self.commit(group);
        }
    }

    fn commit(&mut self, group: Vec<Order>) {
        let mut answers = Vec::with_capacity(group.len());
        match Self::write(&mut self.db, group, &mut answers) {
            Ok(head) => {
                // The events are safe already. A head that lags behind only shortens what `verify` can say about
                // a cut at the end, and the next commit writes it anew.
                let _ = self.head.write(&head);
                self.bell.ring(head.seq);
                for answer in answers {
                    match answer {
                        Answer::Append(to, result) => drop(to.send(result)),
                        Answer::List(to) => drop(to.send(Ok(()))),
                    }
                }
            }
            Err(error) => {
                // Nothing was written, and what conflicts were found may hang on events that were not written.
                for answer in answers {
                    match answer {
                        Answer::Append(to, _) => drop(to.send(Err(error.clone().into()))),
                        Answer::List(to) => drop(to.send(Err(error.clone()))),
                    }
                }
            }
        }
    }

    /// Writes a group in one transaction. Every order has its answer in `answers` afterwards, also on error.
    fn write(
        db: &mut Connection,
        group: Vec<Order>,
        answers: &mut Vec<Answer>,
    ) -> Result<Head, JournalError> {
        let failed = |e: rusqlite::Error| JournalError::database("write events", &e);
        let mut trouble = None;
        let begun = db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed);
        let mut page = match begun.and_then(|tx| Page::open(tx).map_err(failed)) {
            Ok(page) => Some(page),
            Err(e) => {
                trouble = Some(e);
                None
            }
        };
        for order in group {
            match order {
                Order::Append { writes, key, answer } => {
                    // After trouble SQLite may have rolled back by itself: nothing more may run.
                    let result = match &mut page {
                        Some(page) if trouble.is_none() => page.append(&writes, key.as_deref()),
                        _ => Ok(Vec::new()),
                    };
                    if let Err(AppendError::Journal(e)) = &result {
                        trouble = Some(e.clone());
                    }
                    answers.push(Answer::Append(answer, result));
                }
                Order::List { id, bytes, answer } => {
                    if let Some(page) = &mut page
                        && trouble.is_none()
                        && let Err(e) = page.list(&id, bytes)
                    {
                        trouble = Some(failed(e));
                    }
                    answers.push(Answer::List(answer));
                }
            }
        }
        match (page, trouble) {
            (_, Some(e)) => Err(e),
            (None, None) => Err(JournalError::Stopped),
            (Some(page), None) => {
                let head = page.head;
                page.tx.commit().map_err(failed)?;
                Ok(head)
            }
        }
    }
}

/// A transaction being filled.
struct Page<'a> {
    tx: Transaction<'a>,
    head: Head,
}

impl<'a> Page<'a> {
    fn open(tx: Transaction<'a>) -> rusqlite::Result<Self> {
        let head = sqlite::head(&tx)?;
        Ok(Self { tx, head })
    }

    /// All writes of one request or none of them.
    fn append(&mut self, writes: &[Write], key: Option<&str>) -> Result<Vec<Appended>, AppendError> {
        if let Some(key) = key
            && let Some(answer) = self.repeated(writes, key)?
        {
            return Ok(answer);
        }
        let before = self.head;
        self.tx.execute_batch("SAVEPOINT request").map_err(database)?;
        let result: Result<Vec<_>, AppendError> = writes.iter().map(|write| self.write(write, key)).collect();
        if result.is_err() {
            self.head = before;
            self.tx.execute_batch("ROLLBACK TO request").map_err(database)?;
        }
        self.tx.execute_batch("RELEASE request").map_err(database)?;
        result
    }

    fn write(&mut self, write: &Write, key: Option<&str>) -> Result<Appended, AppendError> {
        let (stream, expected, events) = write;
        let mut version = sqlite::version(&self.tx, stream).map_err(database)?;
        if expected.version().is_some_and(|wanted| wanted != version) {
            return Err(self.conflict(stream, *expected, version)?);
        }
        for event in events {
            version += 1;
            self.insert(stream, version, event, key).map_err(database)?;
        }
        Ok(Appended { stream: stream.clone(), version, seq: self.head.seq, repeated: false })
    }

    fn conflict(&self, stream: &Stream, expected: Expected, found: u64) -> Result<AppendError, JournalError> {
        let since = sqlite::load(&self.tx, stream, expected.version().unwrap_or(0))?;
        let stream = stream.clone();
        Ok(AppendError::Conflict(Box::new(Conflict { stream, expected, found, since })))
    }

    fn insert(
        &mut self,
        stream: &Stream,
        version: u64,
        event: &NewEvent,
        key: Option<&str>,
    ) -> rusqlite::Result<()> {
        let at = event.at.to_string();
        let seq = self.head.seq + 1;
        let fields = EventFields {
            prev: self.head.hash,
            seq,
            stream: stream.as_str().as_bytes(),
            version,
            at: at.as_bytes(),
            by: event.by.as_bytes(),
            kind: event.kind.as_bytes(),
            key: key.map(str::as_bytes),
            body: event.body.as_bytes(),
        };
        let hash = fields.hash();
        let sql = "INSERT INTO events (seq, stream, version, at, who, kind, key, body, prev, hash)
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)";
        self.tx.prepare_cached(sql)?.execute(params![
            as_i64(seq),
            stream.as_str(),
            as_i64(version),
            at,
            event.by,
            event.kind,
            key,
            event.body,
            self.head.hash.0,
            hash.0
        ])?;
        self.head.seq = seq;
        self.head.hash = hash;
        Ok(())
    }

    /// The first answer to a request whose key is known. The request is taken for the same when it writes as many
    /// events of the same kinds: times and made-up names may differ when a form is sent twice.
    fn repeated(&self, writes: &[Write], key: &str) -> Result<Option<Vec<Appended>>, AppendError> {
        let rows = self.rows_of(key).map_err(database)?;
        let Some((first, ..)) = rows.first() else { return Ok(None) };
        let kinds = || writes.iter().flat_map(|(_, _, events)| events).map(|e| &e.kind);
        if !kinds().eq(rows.iter().map(|(_, _, _, kind)| kind)) {
            return Err(AppendError::KeyReused { key: key.to_owned(), first: *first });
        }
        let mut answers = Vec::with_capacity(writes.len());
        let mut rest = &rows[..];
        for (stream, _, events) in writes {
            let (mine, others) = rest.split_at(events.len());
            rest = others;
            answers.push(match mine.last() {
                Some((seq, name, version, _)) => Appended {
                    stream: Stream::new(name.as_str())?,
                    version: *version,
                    seq: *seq,
                    repeated: true,
                },
                None => Appended {
                    stream: stream.clone(),
                    version: sqlite::version(&self.tx, stream).map_err(database)?,
                    seq: self.head.seq,
                    repeated: true,
                },
            });
        }
        Ok(Some(answers))
    }

    fn rows_of(&self, key: &str) -> rusqlite::Result<Vec<(u64, String, u64, String)>> {
        let mut statement = self
            .tx
            .prepare_cached("SELECT seq, stream, version, kind FROM events WHERE key = ?1 ORDER BY seq")?;
        let number = |n: i64| n.unsigned_abs();
        let rows = statement.query_map([key], |row| {
            Ok((row.get(0).map(number)?, row.get(1)?, row.get(2).map(number)?, row.get(3)?))
        })?;
        rows.collect()
    }

    fn list(&mut self, id: &PictureId, bytes: u64) -> rusqlite::Result<()> {
        let known = self
            .tx
            .prepare_cached("SELECT 1 FROM pictures WHERE id = ?1")?
            .query_row([id.hash().0], |_| Ok(()))
            .optional()?;
        if known.is_some() {
            return Ok(());
        }
        let n = self.head.pictures + 1;
        let prev = self.head.picture_hash;
        let hash = picture_row(prev, n, id, bytes);
        self.tx
            .prepare_cached("INSERT INTO pictures (n, id, bytes, prev, hash) VALUES (?1, ?2, ?3, ?4, ?5)")?
            .execute(params![as_i64(n), id.hash().0, as_i64(bytes), prev.0, hash.0])?;
        self.head.pictures = n;
        self.head.picture_hash = hash;
        Ok(())
    }
}

fn database(error: rusqlite::Error) -> AppendError {
    JournalError::database("write events", &error).into()
}

/// Tells readers that something was written.
#[derive(Debug, Default)]
pub(crate) struct Bell {
    last: Mutex<u64>,
    rung: Condvar,
}

impl Bell {
    fn ring(&self, seq: u64) {
        *self.last.lock().unwrap_or_else(PoisonError::into_inner) = seq;
        self.rung.notify_all();
    }

    /// Waits until something past `seq` was written by this process, or for `timeout`.
    pub fn wait_past(&self, seq: u64, timeout: Duration) {
        let last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        drop(self.rung.wait_timeout_while(last, timeout, |last| *last <= seq));
    }
}
