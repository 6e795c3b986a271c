//! Longer searches for layouts of film and for cuts of panels: one for each job, and one for each of its panels, at a time,
//! beside everything else, with progress, and stopped by a button. What they find is kept with the job.

use crate::command::film::still_free;
use crate::command::shape::{cuts_of, shape_of};
use crate::engine;
use crate::engine::film::{self, choices};
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::{Stamp, Studio};
use effort::{Cancel, Effort};
use job::{JobEvent, JobId, LayoutWish, PanelCuts, PanelId};
use nest::{Config, Outcome};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use units::{Length, Seed};

/// Steps of a longer search: twenty times those of the first layout.
const LONG: u64 = 5_000_000;

/// Steps that a search for cuts may take, and those that it takes as a rule, for its bar.
const CUTS: u64 = 60_000;
const USUAL: f64 = 8_000.0;

/// What is searched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SearchKind {
    /// A shorter layout, from the one there is.
    Shorter,
    /// The rest of the pieces around those that are locked.
    AroundLocked,
    /// What each way of laying out costs.
    Choices,
    /// Relief cuts and seams of a panel.
    Cuts,
}

/// How a search stands.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchState {
    /// What it is for.
    pub kind: SearchKind,
    /// Share done, 0 to 1.
    pub done: f64,
    /// The best so far, in words.
    pub note: String,
    /// Whether it still runs.
    pub running: bool,
    /// What came of it.
    pub ended: String,
}

struct Search {
    cancel: Cancel,
    state: Mutex<SearchState>,
}

impl Search {
    fn state(&self) -> MutexGuard<'_, SearchState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The searches of all jobs.
#[derive(Default)]
pub struct Searches(Mutex<BTreeMap<Topic, Arc<Search>>>);

/// What a search is about: a job's layout, or the cuts of one of its panels.
type Topic = (JobId, Option<PanelId>);

impl Searches {
    fn of(&self, id: &JobId, panel: Option<&PanelId>) -> Option<Arc<Search>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&(id.clone(), panel.cloned())).cloned()
    }

    /// A new search, unless one about the same runs already.
    fn begin(&self, topic: Topic, kind: SearchKind) -> Option<Arc<Search>> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if all.get(&topic).is_some_and(|s| s.state().running) {
            return None;
        }
        let state = SearchState { kind, done: 0.0, note: String::new(), running: true, ended: String::new() };
        let search = Arc::new(Search { cancel: Cancel::default(), state: Mutex::new(state) });
        all.insert(topic, search.clone());
        Some(search)
    }
}

impl Search {
    /// Runs it on a thread of its own; `work` gives the words about how it ended.
    fn run(
        self: Arc<Self>,
        broken: &'static str,
        work: impl FnOnce(&Arc<Self>) -> Result<String, Refusal> + Send + 'static,
    ) {
        std::thread::spawn(move || {
            // a search that breaks off must not seem to run for ever
            let run = std::panic::AssertUnwindSafe(|| work(&self));
            let ended = match std::panic::catch_unwind(run) {
                Ok(Ok(words)) => words,
                Ok(Err(refusal)) => refusal.to_string(),
                Err(_) => broken.to_owned(),
            };
            let mut state = self.state();
            state.ended = ended;
            state.done = 1.0;
            state.running = false;
        });
    }
}

impl Studio {
    /// Begins a search for a job; one that runs for it already goes on instead.
    ///
    /// # Errors
    /// When there is nothing to lay out, or film is set aside or cut already.
    pub fn begin_search(
        self: &Arc<Self>,
        id: &JobId,
        stamp: &Stamp,
        kind: SearchKind,
    ) -> Result<(), Refusal> {
        still_free(&self.job(id)?.job)?;
        let Some(search) = self.searches.begin((id.clone(), None), kind) else { return Ok(()) };
        let (studio, id, by) = (self.clone(), id.clone(), Stamp::by(&stamp.by));
        search.run("The search broke off; the layout is as it was.", move |search| {
            studio.search(&id, &by, kind, search)
        });
        Ok(())
    }

    /// Begins a search for relief cuts and seams of a panel; one that runs for it already goes on instead. The plans it finds
    /// take the place of those it found before; drawn ones stay.
    ///
    /// # Errors
    /// When the panel has no shape.
    pub fn begin_cut_search(
        self: &Arc<Self>,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
    ) -> Result<(), Refusal> {
        let entry = self.job(id)?;
        shape_of(&entry.job, panel)?;
        let topic = (id.clone(), Some(panel.clone()));
        let Some(search) = self.searches.begin(topic, SearchKind::Cuts) else { return Ok(()) };
        let (studio, id, by, panel) = (self.clone(), id.clone(), Stamp::by(&stamp.by), panel.clone());
        search.run("The search broke off; nothing was changed.", move |search| {
            studio.search_cuts(&id, &by, &panel, search)
        });
        Ok(())
    }

    fn search_cuts(
        &self,
        id: &JobId,
        stamp: &Stamp,
        panel: &PanelId,
        search: &Arc<Search>,
    ) -> Result<String, Refusal> {
        let entry = self.job(id)?;
        let (shape, begun) = (shape_of(&entry.job, panel)?.clone(), cuts_of(&entry.job, panel));
        let say = |done: f64, note: String| {
            let mut state = search.state();
            // the bar never goes back
            state.done = state.done.max(done);
            state.note = note;
        };
        let heard = search.clone();
        let effort = Effort::steps(CUTS).with_cancel(search.cancel.clone()).with_listener(move |progress| {
            let mut state = heard.state();
            let share = (progress.done * CUTS as f64 / USUAL).min(1.0);
            state.done = state.done.max(0.8 * share);
            if !progress.note.starts_with("worst") {
                state.note = progress.note;
            }
        });
        let found = engine::flatten::search(self, &shape, &begun.zones, &effort, &say)?;
        let count = found.plans.iter().filter(|p| !p.cuts_mm.is_empty()).count();
        self.decide(id, stamp, |before| {
            let now = cuts_of(before.job, panel);
            if shape_of(before.job, panel)? != &shape || now.zones != begun.zones {
                return Err(Refusal::new(
                    RefusalKind::Conflict,
                    "The shape or its zones were changed while this was searched: what was found is left out",
                    "Search again.",
                ));
            }
            let mut plans = found.plans.clone();
            plans.extend(now.plans.into_iter().filter(|p| p.name.starts_with("drawn")));
            Ok(JobEvent::CutsConsidered { cuts: PanelCuts { plans, ..now } }.into())
        })?;
        let stopped = if found.stopped { "Stopped. " } else { "" };
        Ok(match count {
            0 => format!("{stopped}No cut was found that helps."),
            1 => format!("{stopped}One way to cut it was found."),
            n => format!("{stopped}{n} ways to cut it were found."),
        })
    }

    /// How the last search for a job stands; none since the program began.
    pub fn search_state(&self, id: &JobId) -> Option<SearchState> {
        self.searches.of(id, None).map(|s| s.state().clone())
    }

    /// How the last search for cuts of a panel stands; none since the program began.
    pub fn cut_search_state(&self, id: &JobId, panel: &PanelId) -> Option<SearchState> {
        self.searches.of(id, Some(panel)).map(|s| s.state().clone())
    }

    /// Stops a search for cuts; what it has found is kept.
    pub fn stop_cut_search(&self, id: &JobId, panel: &PanelId) {
        if let Some(search) = self.searches.of(id, Some(panel)) {
            search.cancel.press();
        }
    }

    /// Stops a search; the best it has found is kept.
    pub fn stop_search(&self, id: &JobId) {
        if let Some(search) = self.searches.of(id, None) {
            search.cancel.press();
        }
    }

    fn search(
        &self,
        id: &JobId,
        stamp: &Stamp,
        kind: SearchKind,
        search: &Arc<Search>,
    ) -> Result<String, Refusal> {
        let (entry, shop) = (self.job(id)?, self.shop()?);
        if kind == SearchKind::Choices {
            let pieces = film::pieces(&self.results, &entry.job, &entry.job.order, &shop);
            let step = |i: usize, count: usize| {
                let mut state = search.state();
                state.done = i as f64 / count as f64;
                state.note = format!("{i} of {count}");
                !search.cancel.pressed()
            };
            choices(self, id, &pieces, &shop, &entry.job.wish, &step);
            return Ok(String::new());
        }
        let nothing = || Refusal::not_yet("There is nothing to lay out", "Look at the film sheet again.");
        let (_, laid) = film::current(&self.results, id, &entry.job, &shop).ok_or_else(nothing)?;
        let heard = search.clone();
        let effort = Effort::steps(LONG).with_cancel(search.cancel.clone()).with_listener(move |progress| {
            let mut state = heard.state();
            state.done = progress.done;
            state.note = progress.note;
        });
        let mut instance = laid.instance.clone();
        if kind == SearchKind::Shorter {
            instance.locked.clear();
        }
        let config =
            Config { seed: Seed(entry.version), start: laid.placements.clone(), ..Config::default() };
        let outcome = nest::nest(&instance, &config, &effort);
        let before = nest::Layout::of(&instance, laid.placements).ok().map(|l| film_of(&l));
        self.keep_found(id, stamp, kind, &outcome, before, &entry.job.wish)
    }

    fn keep_found(
        &self,
        id: &JobId,
        stamp: &Stamp,
        kind: SearchKind,
        outcome: &Outcome,
        before: Option<Length>,
        begun: &LayoutWish,
    ) -> Result<String, Refusal> {
        if !outcome.is_complete() {
            let why: Vec<String> = outcome.reasons.iter().map(ToString::to_string).collect();
            return Ok(format!("The layout stays as it was. {}", why.join(" ")));
        }
        let found = film_of(&outcome.layout);
        let gain = before.map_or(Length::ZERO, |b| b - found);
        if kind == SearchKind::Shorter && before.is_some() && gain < Length::mm(0.5) {
            return Ok("No shorter layout was found: it stays as it was.".to_owned());
        }
        self.decide(id, stamp, |before| {
            still_free(before.job)?;
            if before.job.wish != *begun {
                return Err(Refusal::new(
                    RefusalKind::Conflict,
                    "The layout was changed while this was searched: what was found is left out",
                    "Search again.",
                ));
            }
            let wish = LayoutWish {
                placements: outcome.layout.placements.iter().map(film::to_cut).collect(),
                ..before.job.wish.clone()
            };
            Ok(JobEvent::LayoutWished { wish: Box::new(wish) }.into())
        })?;
        Ok(if gain >= Length::mm(0.5) {
            format!(
                "{:.0} mm of film saved: {:.2} m instead of {:.2} m.",
                gain.as_mm(),
                found.as_m(),
                (found + gain).as_m()
            )
        } else {
            format!("Laid out around the locked pieces: {:.2} m.", found.as_m())
        })
    }
}

fn film_of(layout: &nest::Layout) -> Length {
    layout.used.iter().map(|u| u.length).sum()
}
