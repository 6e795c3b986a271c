//! News: pages under people's eyes learn that the record went on.

use super::shell::Shell;
use axum::extract::{Query, State};
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{Stream, unfold};
use serde::Deserialize;
use std::collections::BTreeSet;
use std::convert::Infallible;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Weak};
use std::time::Duration;
use studio::Studio;
use tokio::sync::{broadcast, watch};

/// What happened at once: how far the journal is now, and which streams went on.
#[derive(Clone, Debug)]
struct Moved {
    head: u64,
    streams: Arc<BTreeSet<String>>,
}

/// One watcher of the journal for all pages that listen.
pub struct News {
    studio: Weak<Studio>,
    moved: broadcast::Sender<Moved>,
    closing: watch::Sender<bool>,
    watched: AtomicBool,
}

/// How long the watcher sleeps at most before it looks whether anybody still listens.
const LOOK: Duration = Duration::from_millis(1000);

/// Moves that a slow listener may be behind; one who is further behind is told of all streams.
const BEHIND: usize = 256;

/// Events that are looked through for their streams; of more, all streams count as moved on.
const LOOKED_THROUGH: usize = 2000;

impl News {
    pub(super) fn new(studio: Weak<Studio>) -> Self {
        Self {
            studio,
            moved: broadcast::Sender::new(BEHIND),
            closing: watch::Sender::new(false),
            watched: AtomicBool::new(false),
        }
    }

    /// Ends all streams, so that the program can end.
    pub(super) fn close(&self) {
        self.closing.send_replace(true);
    }

    /// Turns true when the program ends.
    pub(super) fn closing(&self) -> watch::Receiver<bool> {
        self.closing.subscribe()
    }

    /// The moves of the journal from now on.
    fn listen(self: &Arc<Self>) -> broadcast::Receiver<Moved> {
        let receiver = self.moved.subscribe();
        if !self.watched.swap(true, Ordering::SeqCst) {
            let news = Arc::downgrade(self);
            let head = self.studio.upgrade().and_then(|s| s.journal().head().ok()).unwrap_or(0);
            // A thread of its own: the journal's wait blocks.
            std::thread::spawn(move || watch_journal(&news, head));
        }
        receiver
    }
}

fn watch_journal(news: &Weak<News>, mut seen: u64) {
    // It ends with the shell or with the studio.
    while let Some(news) = news.upgrade()
        && let Some(studio) = news.studio.upgrade()
    {
        match studio.journal().wait_past(seen, LOOK) {
            Ok(head) if head > seen => {
                let moved = since(&studio, seen);
                seen = moved.as_ref().map_or(head, |m| m.head.max(seen));
                if let Some(moved) = moved {
                    // Nobody listens: nobody needs to be told.
                    let _ = news.moved.send(moved);
                }
            }
            Ok(_) => {}
            Err(e) => {
                tracing::warn!("the journal cannot be watched: {e}");
                std::thread::sleep(LOOK);
            }
        }
    }
}

/// What went on after a place of the journal; no streams when it was too much to name them.
fn since(studio: &Studio, seen: u64) -> Option<Moved> {
    let rows = studio.journal().since(seen, LOOKED_THROUGH).ok()?;
    let last = rows.last()?.seq;
    if rows.len() == LOOKED_THROUGH {
        let head = studio.journal().head().ok()?;
        return Some(Moved { head, streams: Arc::default() });
    }
    let streams = rows.iter().map(|r| r.stream.as_str().to_owned()).collect();
    Some(Moved { head: last, streams: Arc::new(streams) })
}

/// From where a page listens.
#[derive(Deserialize)]
pub struct After {
    #[serde(default)]
    after: u64,
}

/// A stream of `news` events: how far the journal is, then the streams that went on, when that lies past what the page
/// shows.
pub async fn live(
    State(shell): State<Shell>,
    Query(after): Query<After>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    // First listen, then look at what happened before: nothing falls between.
    let moved = shell.news.listen();
    let missed = shell.ask(move |s| Ok(since(s, after.after))).await.ok().flatten();
    let closing = shell.news.closing();
    let state = (moved, closing, after.after, missed);
    let events = unfold(state, |(mut moved, mut closing, seen, missed)| async move {
        let news = match missed {
            Some(missed) => missed,
            None => loop {
                let news = tokio::select! {
                    _ = closing.wait_for(|c| *c) => return None,
                    news = moved.recv() => news,
                };
                match news {
                    Ok(news) if news.head > seen => break news,
                    Ok(_) => {}
                    Err(broadcast::error::RecvError::Lagged(_)) => {
                        break Moved { head: seen + 1, streams: Arc::default() };
                    }
                    Err(broadcast::error::RecvError::Closed) => return None,
                }
            },
        };
        let mut said = news.head.to_string();
        for stream in news.streams.iter() {
            said.push(' ');
            said.push_str(stream);
        }
        let event = Event::default().event("news").data(said);
        Some((Ok(event), (moved, closing, news.head, None)))
    });
    Sse::new(events).keep_alive(KeepAlive::new().interval(Duration::from_secs(15)))
}
