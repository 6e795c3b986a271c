//! Offers reckoned beside everything else: a page shows how far they are instead of waiting for them.

use crate::refusal::Refusal;
use crate::studio::{Studio, broken};
use crate::view::OfferView;
use jiff::{SignedDuration, Timestamp};
use job::JobId;
use std::collections::BTreeMap;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long dates that were reckoned are shown, while nothing is written: the plan begins now, and now moves on.
const GOOD_FOR: SignedDuration = SignedDuration::from_secs(120);

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
    running: bool,
    /// What came of it, the journal's last row that it knew, and when it was begun.
    ended: Option<(Result<OfferView, Refusal>, u64, Timestamp)>,
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
        if !told.running {
            if let Some(view) = self.still_good(&told)? {
                return view.map(|view| OfferState::Ready(Box::new(view)));
            }
            *told = Told { running: true, ..Told::default() };
            let (studio, id, work) = (self.clone(), id.clone(), reckoning.clone());
            std::thread::spawn(move || studio.reckon(&id, &work));
        }
        let waited = reckoning.end.wait_timeout_while(told, patience, |t| t.running);
        let (told, _) = waited.unwrap_or_else(PoisonError::into_inner);
        let head = self.journal.head().map_err(broken)?;
        match &told.ended {
            // what somebody else began may not know what was written since: the next look begins anew
            Some((_, known, _)) if *known != head => Ok(OfferState::Reckoning(0, 0)),
            Some((view, ..)) => view.clone().map(|view| OfferState::Ready(Box::new(view))),
            None => Ok(OfferState::Reckoning(told.done.0, told.done.1)),
        }
    }

    /// What was reckoned, if nothing was written since and its dates are not stale.
    fn still_good(&self, told: &Told) -> Result<Option<Result<OfferView, Refusal>>, Refusal> {
        let Some((view, head, begun)) = &told.ended else { return Ok(None) };
        let fresh =
            self.journal.head().map_err(broken)? == *head && self.now().duration_since(*begun) < GOOD_FOR;
        Ok(fresh.then(|| view.clone()))
    }

    fn reckon(&self, id: &JobId, work: &Reckoning) {
        let step = |done, count| work.told().done = (done, count);
        let (head, begun) = (self.journal.head().unwrap_or_default(), self.now());
        // one that breaks off must not seem to run for ever
        let run = std::panic::AssertUnwindSafe(|| self.offer_view_told(id, &step));
        let ended = std::panic::catch_unwind(run)
            .unwrap_or_else(|_| Err(Refusal::broken("The reckoning broke off", "Open the page again.")));
        let mut told = work.told();
        told.ended = Some((ended, head, begun));
        told.running = false;
        drop(told);
        work.end.notify_all();
    }
}
