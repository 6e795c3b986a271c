#![doc = include_str!("../README.md")]

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Tells a running engine to stop; cloned freely, pressed from anywhere.
#[derive(Clone, Debug, Default)]
pub struct Cancel(Arc<AtomicBool>);

impl Cancel {
    /// Stop at once.
    pub fn press(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether it was pressed.
    pub fn pressed(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// How far an engine has come.
#[derive(Clone, Debug, PartialEq)]
pub struct Progress {
    /// Share of the work done, 0 to 1.
    pub done: f64,
    /// What is going on or the best found so far, in a few words.
    pub note: String,
}

type Listener = Arc<dyn Fn(Progress) + Send + Sync>;
type Stopwatch = Arc<dyn Fn() -> f64 + Send + Sync>;

#[derive(Clone)]
enum Limit {
    /// Steps of work, as the engine counts them: the same answer every time.
    Steps(u64),
    /// CPU or wall seconds by a stopwatch handed in from outside: for commands and benchmarks.
    Seconds { limit: f64, watch: Stopwatch },
}

/// The leave to work: a limit, a way to stop, an ear for progress.
///
/// Engines read no clock. With [`Effort::steps`] the same input and seed give the same answer; with
/// [`Effort::seconds`] the caller brings a stopwatch and the answer depends on the machine.
pub struct Effort {
    limit: Limit,
    spent: AtomicU64,
    cancel: Cancel,
    listener: Option<Listener>,
}

impl Effort {
    /// At most `steps` steps of work.
    pub fn steps(steps: u64) -> Self {
        Self {
            limit: Limit::Steps(steps),
            spent: AtomicU64::new(0),
            cancel: Cancel::default(),
            listener: None,
        }
    }

    /// Until the stopwatch shows `limit` seconds.
    pub fn seconds(limit: f64, watch: impl Fn() -> f64 + Send + Sync + 'static) -> Self {
        Self {
            limit: Limit::Seconds { limit, watch: Arc::new(watch) },
            spent: AtomicU64::new(0),
            cancel: Cancel::default(),
            listener: None,
        }
    }

    /// The same limit once more, counted from now, with the same button and ear: for a second search of the same job.
    pub fn again(&self) -> Self {
        let limit = match &self.limit {
            Limit::Steps(limit) => Limit::Steps(*limit),
            Limit::Seconds { limit, watch } => {
                let (watch, start) = (watch.clone(), watch());
                Limit::Seconds { limit: *limit, watch: Arc::new(move || watch() - start) }
            }
        };
        Self { limit, spent: AtomicU64::new(0), cancel: self.cancel.clone(), listener: self.listener.clone() }
    }

    /// With a button that stops it.
    pub fn with_cancel(mut self, cancel: Cancel) -> Self {
        self.cancel = cancel;
        self
    }

    /// With an ear for progress.
    pub fn with_listener(mut self, listener: impl Fn(Progress) + Send + Sync + 'static) -> Self {
        self.listener = Some(Arc::new(listener));
        self
    }

    /// Books `steps` steps of work and says whether to go on.
    pub fn spend(&self, steps: u64) -> bool {
        self.spent.fetch_add(steps, Ordering::Relaxed);
        self.goes_on()
    }

    /// Whether the engine may go on.
    pub fn goes_on(&self) -> bool {
        !self.cancel.pressed() && self.used() < 1.0
    }

    /// Share of the limit used up, 0 to 1 or a little more.
    pub fn used(&self) -> f64 {
        match &self.limit {
            Limit::Steps(0) => 1.0,
            Limit::Steps(limit) => self.spent() as f64 / *limit as f64,
            Limit::Seconds { limit, watch } => watch() / limit.max(1e-9),
        }
    }

    /// Steps booked so far.
    pub fn spent(&self) -> u64 {
        self.spent.load(Ordering::Relaxed)
    }

    /// Whether somebody pressed the button.
    pub fn cancelled(&self) -> bool {
        self.cancel.pressed()
    }

    /// Tells whoever listens how far the work is.
    pub fn tell(&self, note: impl Into<String>) {
        if let Some(listener) = &self.listener {
            listener(Progress { done: self.used().min(1.0), note: note.into() });
        }
    }
}

impl fmt::Debug for Effort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Effort")
            .field("spent", &self.spent())
            .field("used", &self.used())
            .finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn work_stops_at_the_limit() {
        let effort = Effort::steps(10);
        assert!(effort.spend(9));
        assert!(!effort.spend(1));
        assert!(!Effort::steps(0).goes_on());
    }

    #[test]
    fn the_button_stops_it_at_once() {
        let cancel = Cancel::default();
        let effort = Effort::steps(1000).with_cancel(cancel.clone());
        assert!(effort.goes_on());
        cancel.press();
        assert!(!effort.goes_on());
    }

    #[test]
    fn a_stopwatch_from_outside_can_be_the_limit() {
        let now = Arc::new(AtomicU64::new(0));
        let watch = now.clone();
        let effort = Effort::seconds(2.0, move || watch.load(Ordering::Relaxed) as f64);
        assert!(effort.goes_on());
        now.store(2, Ordering::Relaxed);
        assert!(!effort.goes_on());
    }

    #[test]
    fn a_second_search_has_the_same_limit_and_the_same_button() {
        let first = Effort::steps(10);
        first.spend(10);
        let second = first.again();
        assert!(second.spend(9) && !second.spend(1));
        let now = Arc::new(AtomicU64::new(5));
        let watch = now.clone();
        let cancel = Cancel::default();
        let timed = Effort::seconds(2.0, move || watch.load(Ordering::Relaxed) as f64)
            .with_cancel(cancel.clone())
            .again();
        assert!(timed.goes_on());
        now.store(7, Ordering::Relaxed);
        assert!(!timed.goes_on());
        cancel.press();
        assert!(timed.cancelled() && second.again().spend(0));
    }

    #[test]
    fn progress_is_heard() {
        let heard = Arc::new(Mutex::new(Vec::new()));
        let ear = heard.clone();
        let effort = Effort::steps(4).with_listener(move |p| ear.lock().unwrap().push(p));
        effort.spend(2);
        effort.tell("halfway");
        assert_eq!(*heard.lock().unwrap(), [Progress { done: 0.5, note: "halfway".into() }]);
    }
}
