//! Every kind of page that links lead to, at a desk, on a tablet and on a phone at night: nothing scrolls sideways, no
//! target is too low, nothing comes from outside, and axe-core finds nothing.

use crate::axe;
use crate::pictures::worked;
use crate::stage::{Stage, stage};
use crate::visits::handed_over;
use fantoccini::wd::TimeoutConfiguration;
use serde_json::Value;
use std::time::Duration;

/// What is wrong with a page on its screen: it scrolls sideways, a target is too low, something comes from outside.
const LOOK: &str = r#"
const flaws = [];
const root = document.documentElement;
if (root.scrollWidth > root.clientWidth + 1) flaws.push(`scrolls sideways: ${root.scrollWidth} > ${root.clientWidth}`);
for (const target of document.querySelectorAll('button, .btn, select, input[type=text], input[type=number], textarea')) {
  const box = target.getBoundingClientRect();
  if (box.width > 0 && box.height > 0 && box.height < 47.5) flaws.push(`${target.tagName} '${(target.textContent || target.name).trim().slice(0, 30)}' is ${box.height} px high`);
}
for (const entry of performance.getEntriesByType('resource')) {
  if (!entry.name.startsWith(location.origin)) flaws.push(`asks for ${entry.name}`);
}
if (!document.title) flaws.push('has no title');
if (document.querySelectorAll('h1').length !== 1) flaws.push(`has ${document.querySelectorAll('h1').length} main headings`);
for (const field of document.querySelectorAll('input:not([type=hidden]), select, textarea')) {
  const named = field.labels?.length || field.getAttribute('aria-label') || field.getAttribute('aria-labelledby');
  if (!named) flaws.push(`field ${field.name} has no label`);
}
return flaws;
"#;

/// Some beginnings, and one page of each kind that following all links from them finds: kinds differ in more than numbers
/// and names.
const WALK: &str = r#"
const [begin, done] = [arguments[0], arguments[arguments.length - 1]];
const kind = (u) => [
  u.pathname.replace(/[^/]*\d[^/]*/g, '*').replace(/(person|bay|look)\/[^/]+/, '$1/*'),
  ...new Set([...u.searchParams.keys()].sort()),
].join(' ');
const kinds = new Map();
const queue = [];
const add = (href, from) => {
  const u = new URL(href, new URL(from, location.origin));
  if (u.origin !== location.origin || /\.[a-z]+$/.test(u.pathname) || /^\/(picture|voice|assets|look\/[^/]+\/picture)\//.test(u.pathname)) return;
  if (kinds.has(kind(u))) return;
  kinds.set(kind(u), u.pathname + u.search);
  queue.push(u.pathname + u.search);
};
(async () => {
  begin.forEach((path) => add(path, '/'));
  const all = new Set(begin);
  while (queue.length) {
    const path = queue.shift();
    const answer = await fetch(path);
    const html = (answer.headers.get('content-type') ?? '').includes('html');
    if (!html) throw new Error(`${path} is no page`);
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    page.querySelectorAll('a[href], form[method=get][action]').forEach((a) => add(a.getAttribute('href') ?? a.getAttribute('action'), path));
  }
  kinds.forEach((path) => all.add(path));
  done([...all]);
})().catch((e) => done(String(e)));
"#;

/// A studio with a car in work, pictures, and a car that was handed over; where a walk through its pages begins.
fn furnished(stage: &Stage) -> Vec<String> {
    let by = studio::Stamp::by("Nadia");
    let studio = studio::Studio::open(&stage.studio).unwrap();
    let id = job::JobId("0001".into());
    studio.set_route(&id, &by).unwrap();
    drop(studio);
    let (_, look) = worked(stage);
    let over = handed_over(&stage.studio, Some("hood"));
    studio::Studio::open(&stage.studio).unwrap().keep_plan(&by).unwrap();
    let stages = ["arrival", "survey", "offer", "sides", "route", "film", "work", "handover", "visits"];
    let open = stages.map(|s| format!("/cars/{id}/{s}"));
    let closed = ["offer", "handover", "visits?piece=hood"].map(|s| format!("/cars/{over}/{s}"));
    let other = ["/", &look, "/door", "/cars?q=nothing-has-this", "/nowhere"].map(str::to_owned);
    other.into_iter().chain(open).chain(closed).collect()
}

async fn kinds(stage: &Stage, begin: &[String]) -> Vec<String> {
    let patient = TimeoutConfiguration::new(Some(Duration::from_secs(180)), None, None);
    stage.client.update_timeouts(patient).await.unwrap();
    let found = stage.client.execute_async(WALK, vec![begin.into()]).await.unwrap();
    let list = found.as_array().unwrap_or_else(|| panic!("{found}"));
    list.iter().filter_map(Value::as_str).map(str::to_owned).collect()
}

/// Goes through all pages, as they open and with all folds open.
async fn sound(width: u32, height: u32, theme: &str) {
    let Some(stage) = stage(width, height).await else { return };
    let begin = furnished(&stage);
    let pages = kinds(&stage, &begin).await;
    assert!(pages.len() > 40, "{} kinds of pages: {pages:?}", pages.len());
    for room in ["/calendar/when", "/cars/new", "/help", "/record", "/shop/gauges", "/shop/learned", "/stock"]
    {
        assert!(pages.iter().any(|p| p == room), "no link leads to {room}: {pages:?}");
    }
    let mut faults = Vec::new();
    for page in &pages {
        stage.open(page).await;
        let mut found: Vec<String> = flaws(&stage).await;
        stage.run(&format!("document.documentElement.dataset.theme = '{theme}'; return true;")).await;
        stage.run(axe::UNFOLD).await;
        // on the page of a picture: what comes with the choice of a mark
        stage.run("document.querySelector('[name=shape][value=ring]')?.click(); return true;").await;
        // what stands in folds is held to the same
        found.extend(flaws(&stage).await);
        found.extend(axe::found(&stage).await);
        faults.extend(found.into_iter().map(|f| format!("{page}: {f}")));
    }
    stage.client.clone().close().await.unwrap();
    faults.sort();
    faults.dedup();
    let first: Vec<String> = faults.iter().take(40).cloned().collect();
    assert!(faults.is_empty(), "{} faults on {} pages\n{}", faults.len(), pages.len(), first.join("\n"));
}

/// What [`LOOK`] finds on the page that is open.
pub async fn flaws(stage: &Stage) -> Vec<String> {
    let found = stage.run(LOOK).await;
    found.as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_at_a_desk() {
    sound(1280, 1000, "day").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_tablet() {
    sound(820, 1180, "day").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_phone_at_night() {
    sound(400, 860, "night").await;
}
