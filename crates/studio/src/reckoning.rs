//! Offers reckoned beside everything else: a page shows how far they are instead of waiting for them.

use crate::refusal::Refusal;
use crate::studio::Studio;
use crate::view::OfferView;
use job::JobId;
use std::collections::BTreeMap;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How an offer stands.
#[derive(Clone, Debug)]
pub enum OfferState {
    /// It is being reckoned: options done, and how many there are.
    Reckoning(usize, usize),
    /// It is there.
    Ready(Box<OfferView>),
}

#[derive(Default)]
struct Told {
    done: (usize, usize),
    /// Taken by the first who asks after the end; what was computed on the way is kept with the results.
    ended: Option<Result<OfferView, Refusal>>,
    running: bool,
}

#[derive(Default)]
struct Reckoning {
    told: Mutex<Told>,
    end: Condvar,
}

impl Reckoning {
    fn told(&self) -> MutexGuard<'_, Told> {
        self.told.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The offers of all jobs that are being reckoned.
#[derive(Default)]
pub struct Reckonings(Mutex<BTreeMap<JobId, Arc<Reckoning>>>);

impl Studio {
    /// The offer of a job if it is there within `patience`; else how far it is. It goes on in the background.
    ///
    /// # Errors
    /// As [`Studio::offer_view`].
    pub fn offer_soon(self: &Arc<Self>, id: &JobId, patience: Duration) -> Result<OfferState, Refusal> {
        let reckoning = {
            let mut all = self.reckonings.0.lock().unwrap_or_else(PoisonError::into_inner);
            all.entry(id.clone()).or_default().clone()
        };
        let mut told = reckoning.told();
        // What somebody else waited for may be older than what was written since: only what runs now is joined.
        if !told.running {
            *told = Told { running: true, ..Told::default() };
            let (studio, id, work) = (self.clone(), id.clone(), reckoning.clone());
            std::thread::spawn(move || studio.reckon(&id, &work));
        }
        let waited = reckoning.end.wait_timeout_while(told, patience, |t| t.running);
        let (mut told, _) = waited.unwrap_or_else(PoisonError::into_inner);
        if told.running {
            return Ok(OfferState::Reckoning(told.done.0, told.done.1));
        }
        match told.ended.take() {
            Some(ended) => ended.map(|view| OfferState::Ready(Box::new(view))),
            None => {
                // somebody else took it: everything that took long is kept, so this is quick
                drop(told);
                self.offer_view(id).map(|view| OfferState::Ready(Box::new(view)))
            }
        }
    }

    fn reckon(&self, id: &JobId, work: &Reckoning) {
        let step = |done, count| work.told().done = (done, count);
        // one that breaks off must not seem to run for ever
        let run = std::panic::AssertUnwindSafe(|| self.offer_view_told(id, &step));
        let ended = std::panic::catch_unwind(run)
            .unwrap_or_else(|_| Err(Refusal::broken("The reckoning broke off", "Open the page again.")));
        let mut told = work.told();
        told.ended = Some(ended);
        told.running = false;
        drop(told);
        work.end.notify_all();
    }
}
