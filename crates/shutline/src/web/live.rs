//! News: pages under people's eyes learn that the record went on.

use super::shell::Shell;
use axum::extract::{Query, State};
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{Stream, unfold};
use serde::Deserialize;
use std::convert::Infallible;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Weak};
use std::time::Duration;
use studio::Studio;
use tokio::sync::watch;

/// One watcher of the journal for all pages that listen.
pub struct News {
    studio: Weak<Studio>,
    head: watch::Sender<u64>,
    closing: watch::Sender<bool>,
    watched: AtomicBool,
}

/// How long the watcher sleeps at most before it looks whether anybody still listens.
const LOOK: Duration = Duration::from_millis(1000);

impl News {
    pub(super) fn new(studio: Weak<Studio>) -> Self {
        Self {
            studio,
            head: watch::Sender::new(0),
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

    /// The place of the journal's last event, as it moves on.
    fn listen(self: &Arc<Self>) -> watch::Receiver<u64> {
        if !self.watched.swap(true, Ordering::SeqCst) {
            let news = Arc::downgrade(self);
            // A thread of its own: the journal's wait blocks.
            std::thread::spawn(move || watch_journal(&news));
        }
        self.head.subscribe()
    }
}

fn watch_journal(news: &Weak<News>) {
    let mut seen = 0;
    // It ends with the shell or with the studio.
    while let Some(news) = news.upgrade()
        && let Some(studio) = news.studio.upgrade()
    {
        match studio.journal().wait_past(seen, LOOK) {
            Ok(head) if head > seen => {
                seen = head;
                news.head.send_replace(head);
            }
            Ok(_) => {}
            Err(e) => {
                tracing::warn!("the journal cannot be watched: {e}");
                std::thread::sleep(LOOK);
            }
        }
    }
}

/// From where a page listens.
#[derive(Deserialize)]
pub struct After {
    #[serde(default)]
    after: u64,
}

/// A stream of `news` events, each the place of the journal's last event, when it lies past what the page shows.
pub async fn live(
    State(shell): State<Shell>,
    Query(after): Query<After>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let head = shell.news.listen();
    let closing = shell.news.closing();
    // The first wait looks at the value that is there already.
    let events = unfold((head, closing, after.after), |(mut head, mut closing, seen)| async move {
        let news = tokio::select! {
            _ = closing.wait_for(|c| *c) => return None,
            moved = head.wait_for(|h| *h > seen) => *moved.ok()?,
        };
        let event = Event::default().event("news").data(news.to_string());
        Some((Ok(event), (head, closing, news)))
    });
    Sse::new(events).keep_alive(KeepAlive::new().interval(Duration::from_secs(15)))
}
