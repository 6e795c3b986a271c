//! Longer searches: a button, a bar that moves, a button that stops it.

use super::super::{Refusal, Sheet, Typed, section};
use crate::web::shell::{Desk, Shell};
use axum::extract::{Path, Query, State};
use axum::response::Response;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{Stream, unfold};
use job::{PanelId, Stage};
use maud::{Markup, html};
use report::words::Words;
use serde::Deserialize;
use std::convert::Infallible;
use std::time::Duration;
use studio::Stamp;
use studio::searching::{SearchKind, SearchState};

/// How often a page that watches a search hears of it.
const BEAT: Duration = Duration::from_millis(300);

pub(super) fn part(at: &Sheet, state: Option<&SearchState>) -> Markup {
    section(
        "search",
        "Search longer",
        html! {
            @match state.filter(|s| s.running) {
                Some(s) => {
                    div data-search={ (at.path()) "/search" } {
                        p role="status" { (title(s.kind)) " " span data-note { (at.desk.words.told(&s.note)) } }
                        progress max="100" value={ (format!("{:.0}", s.done * 100.0)) } aria-label="How far the search is" {}
                        p.acts {
                            (at.button("stop", false, "Stop, keep the best so far"))
                            a.btn href={ (at.path()) "#search" } { "Look again" }
                        }
                    }
                }
                None => {
                    @if let Some(s) = state.filter(|s| !s.ended.is_empty()) { p role="status" { (at.desk.words.told(&s.ended)) } }
                    p { "The layout above was found in about a second. Twenty times as long usually saves a little film." }
                    (at.button_with("search", &[("kind", "shorter")], "Search for a shorter layout"))
                }
            }
        },
    )
}

fn title(kind: SearchKind) -> &'static str {
    match kind {
        SearchKind::Shorter => "Searching for a shorter layout.",
        SearchKind::AroundLocked => "Laying out the rest around the locked pieces.",
        SearchKind::Choices => "Reckoning what each choice costs.",
        SearchKind::Cuts => "Searching cuts.",
    }
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let kind = match typed.get("kind") {
        "choices" => SearchKind::Choices,
        _ => SearchKind::Shorter,
    };
    let stop = typed.form() == "stop";
    let studio = at.desk.shell.studio.clone();
    at.save(typed, format!("{}#search", at.path()), move |s, id, stamp| {
        if stop {
            s.stop_search(id);
            return Ok(());
        }
        studio.begin_search(id, &Stamp::by(&stamp.by), kind)
    })
    .await
}

/// Which search is watched: the layout's, or that for the cuts of a panel.
#[derive(Deserialize)]
pub struct Watched {
    panel: Option<String>,
}

/// A stream of `progress` events while a search runs, then one `end`.
pub async fn watch(
    desk: Desk,
    State(shell): State<Shell>,
    Path(id): Path<String>,
    Query(watched): Query<Watched>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let words = desk.words.clone();
    let id = Sheet::new(desk, id, Stage::Film).id;
    let closing = shell.news.closing();
    let panel = watched.panel.map(PanelId);
    let start = (shell.studio.clone(), (id, panel, words), closing, true, false);
    let events = unfold(start, |(studio, topic, mut closing, first, over)| async move {
        if over {
            return None;
        }
        if !first {
            tokio::select! {
                _ = closing.wait_for(|c| *c) => return None,
                () = tokio::time::sleep(BEAT) => {}
            }
        }
        let state = match &topic.1 {
            Some(panel) => studio.cut_search_state(&topic.0, panel),
            None => studio.search_state(&topic.0),
        };
        let (event, over) = told(state, &topic.2);
        Some((Ok(event), (studio, topic, closing, false, over)))
    });
    Sse::new(events).keep_alive(KeepAlive::new().interval(Duration::from_secs(15)))
}

fn told(state: Option<SearchState>, words: &Words) -> (Event, bool) {
    match state.filter(|s| s.running) {
        Some(s) => {
            let data = serde_json::json!({ "done": (s.done * 100.0).round(), "note": words.told(&s.note) });
            (Event::default().event("progress").data(data.to_string()), false)
        }
        None => (Event::default().event("end").data("{}"), true),
    }
}
