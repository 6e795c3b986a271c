//! What stands behind every page: the studio, who is at the desk, and how the shop writes.

use super::door::{House, Turned, Visitor, who_asks};
use super::form::Typed;
use super::live::News;
use super::{fault::Fault, scale::Scale, upload};
use axum::extract::FromRequestParts;
use axum::http::{HeaderMap, request::Parts};
use axum::response::{IntoResponse, Redirect, Response};
use job::{Role, Shop};
use report::words::Words;
use std::collections::{BTreeMap, VecDeque};
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use studio::{Refusal, RefusalKind, Stamp, Studio, zone_of};
use tokio::sync::OnceCell;

/// The state behind every route.
#[derive(Clone)]
pub struct Shell {
    pub(super) studio: Arc<Studio>,
    pub(super) news: Arc<News>,
    pub(super) house: Arc<House>,
    pub(super) turned: Arc<Turned>,
    once: Arc<Mutex<Once>>,
}

/// Answers to forms that were sent lately, by their key: a double tap gets the first answer again.
#[derive(Default)]
struct Once {
    answers: BTreeMap<String, Arc<OnceCell<String>>>,
    order: VecDeque<String>,
}

/// Answers that are remembered at most.
const REMEMBERED: usize = 2000;

impl Shell {
    /// A shell around a studio.
    pub fn new(studio: Arc<Studio>, house: House) -> Self {
        let news = Arc::new(News::new(Arc::downgrade(&studio)));
        Self { studio, news, house: Arc::new(house), turned: Arc::default(), once: Arc::default() }
    }

    /// Who asks, by address and cookies.
    ///
    /// # Errors
    /// When the studio cannot be read.
    pub async fn ask_who(&self, from: Option<IpAddr>, headers: HeaderMap) -> Result<Visitor, Refusal> {
        let house = self.house.clone();
        self.ask(move |studio| who_asks(studio, &house, from, &headers)).await
    }

    /// Asks the studio something on a thread that may block.
    ///
    /// # Errors
    /// The studio's own refusal; a panic in it becomes one.
    pub async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&Studio) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let studio = self.studio.clone();
        let answer = tokio::task::spawn_blocking(move || question(&studio)).await;
        answer.unwrap_or_else(|e| {
            tracing::error!("a computation broke off: {e}");
            Err(Refusal::broken(
                "The program made a mistake while computing this",
                "Nothing was lost. Go back and try another way; the program's log says more.",
            ))
        })
    }

    fn answer(&self, key: &str) -> Arc<OnceCell<String>> {
        let mut once = self.once.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(cell) = once.answers.get(key) {
            return cell.clone();
        }
        if once.order.len() >= REMEMBERED
            && let Some(oldest) = once.order.pop_front()
        {
            once.answers.remove(&oldest);
        }
        let cell = Arc::<OnceCell<String>>::default();
        once.answers.insert(key.to_owned(), cell.clone());
        once.order.push_back(key.to_owned());
        cell
    }
}

/// One request's place: the shell, who is at it, and how the shop writes. Take it as an extractor.
#[derive(Clone)]
pub struct Desk {
    /// The state behind every route.
    pub shell: Shell,
    /// The shop as it is now.
    pub shop: Arc<Shop>,
    /// How the shop writes days, amounts and figures.
    pub words: Words,
    /// How the shop's units are typed and shown.
    pub scale: Scale,
    /// Who is at it; none in the open demo until somebody says so.
    pub who: Option<String>,
    /// In which role.
    pub role: Role,
    /// Whether the device shows pages by day or by night; none for as it is set itself.
    pub theme: Option<&'static str>,
    /// Path and query of this request.
    pub path: String,
    /// Place of the journal's last event when this page was asked for.
    pub seq: u64,
}

impl Desk {
    /// Asks the studio something on a thread that may block; a refusal becomes a page.
    ///
    /// # Errors
    /// The studio's refusal, ready to be shown.
    pub async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&Studio) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Fault> {
        self.shell.ask(question).await.map_err(|r| self.fault(r))
    }

    /// A refusal as a page of this desk.
    pub fn fault(&self, refusal: Refusal) -> Fault {
        Fault::at(self, self.told(refusal))
    }

    /// A refusal with its quantities in the shop's units.
    fn told(&self, refusal: Refusal) -> Refusal {
        Refusal { what: self.words.told(&refusal.what), remedy: self.words.told(&refusal.remedy), ..refusal }
    }

    /// Does what a form asks for, once: the same form sent again gets the first answer. `work` says where to go
    /// from here; the stamp's key is good for one write only, so a second write inside `work` takes a stamp
    /// without one.
    ///
    /// # Errors
    /// The studio's refusal: show the form again with what was typed.
    pub async fn save(
        &self,
        typed: &Typed,
        work: impl FnOnce(&Studio, &Stamp) -> Result<String, Refusal> + Send + 'static,
    ) -> Result<Response, Refusal> {
        let stamp = Stamp { by: self.by(), seen: typed.seen(), key: typed.key(), ago: typed.ago() };
        let sent: Vec<String> = typed.all("sent").map(str::to_owned).collect();
        let run = || {
            self.shell.ask(move |studio| {
                let to = work(studio, &stamp)?;
                upload::forget(studio, sent.iter().map(String::as_str));
                Ok(to)
            })
        };
        let to = match typed.key() {
            None => run().await.map_err(|r| self.told(r))?,
            Some(key) => {
                let cell = self.shell.answer(&key);
                cell.get_or_try_init(run).await.map_err(|r| self.told(r))?.clone()
            }
        };
        Ok(Redirect::to(&to).into_response())
    }

    /// Whether prices and costs are shown here.
    pub fn sees_prices(&self) -> bool {
        self.role.sees_prices()
    }

    /// Whether it is shown here who a car's owner is.
    pub fn sees_customers(&self) -> bool {
        self.role.sees_customers()
    }

    /// The name that goes into the record.
    pub fn by(&self) -> String {
        self.who.clone().unwrap_or_default()
    }

    /// The shop's time zone.
    pub fn zone(&self) -> &jiff::tz::TimeZone {
        &self.words.times.zone
    }
}

impl FromRequestParts<Shell> for Desk {
    type Rejection = Fault;

    async fn from_request_parts(parts: &mut Parts, shell: &Shell) -> Result<Self, Fault> {
        let (shop, seq) = shell
            .ask(|s| {
                let seq = s.journal().head().map_err(|e| Refusal::broken(e, "Is the folder still there?"))?;
                Ok((s.shop()?, seq))
            })
            .await
            .map_err(Fault::bare)?;
        // The door has let somebody in before a page is made; without a visitor nobody has.
        let visitor = parts.extensions.get::<Visitor>().cloned().unwrap_or_default();
        let role = visitor.role.ok_or_else(|| {
            Fault::bare(Refusal::new(RefusalKind::Forbidden, "Nobody is signed in", "Sign in first."))
        })?;
        Ok(Self {
            shell: shell.clone(),
            words: Words::of(&shop, &zone_of(&shop)),
            scale: Scale(shop.settings.units),
            who: visitor.who,
            theme: visitor.theme,
            role,
            path: parts.uri.path_and_query().map_or_else(|| "/".to_owned(), ToString::to_string),
            seq,
            shop,
        })
    }
}

/// In the open demo: the cookie that remembers who is at it. A convenience for the record's sake, no proof of anything.
pub const WHO: &str = "who";
