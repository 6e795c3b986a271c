//! A car's page: eight sheets, one for each stage of its job, under one title block.

mod arrival;
mod documents;
mod film;
mod finding;
mod handover;
mod links;
mod marks;
mod offer;
mod order;
mod pairs;
mod panels;
mod past;
mod pictures;
mod readings;
mod route;
mod shapes;
mod sides;
mod sign;
mod step;
mod survey;
mod test_spot;
mod visits;
mod voice;
mod work;

use super::assets;
use super::door::table::may_send;
use super::fault::Fault;
use super::form::{self, Returned, Typed};
use super::layout::{self, Room};
use super::scale::Scale;
use super::shell::{Desk, Shell};
use axum::Router;
use axum::extract::Path;
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use job::{Drive, Job, JobId, PictureId, Stage};
use journal::Recorded;
use maud::{Markup, html};
use report::words::MILE_KM;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::sync::Arc;
use studio::door::Link;
use studio::view::{CarView, Taken};
use studio::{Refusal, RefusalKind, Stamp, Studio};

/// Routes under `/cars/{id}`, and the pictures.
pub fn routes() -> Router<Shell> {
    Router::new()
        .route("/cars/{id}", get(front))
        .route("/cars/{id}/{stage}", get(open).post(send))
        .route("/cars/{id}/step/{no}", get(step::open).post(step::send))
        .route("/cars/{id}/finding/{no}", get(finding::open).post(finding::send))
        .route("/cars/{id}/picture/{picture}", get(marks::open).post(marks::send))
        .route("/cars/{id}/sides", get(sides::open).post(sides::send))
        .route("/cars/{id}/past", get(past::open))
        .route("/cars/{id}/links", post(links::act))
        .route("/cars/{id}/doc/{file}", get(documents::document))
        .route("/cars/{id}/cut/{file}", get(documents::cut_file))
        .route("/cars/{id}/film/try", post(film::try_place))
        .route("/cars/{id}/film/search", get(film::watch))
        .route("/cars/{id}/shape/{panel}", get(shapes::solid))
        .route("/cars/{id}/readings.csv", get(documents::readings))
        .route("/cars/{id}/calendar.ics", get(documents::calendar))
        .route("/picture/{id}", get(pictures::picture))
        .route("/voice/{id}", get(voice::sound))
}

/// Which sheet of which car, and who looks at it.
#[derive(Clone)]
struct Sheet {
    desk: Desk,
    id: JobId,
    stage: Stage,
    /// Name of the form that was sent; empty when the page is only looked at.
    sent: String,
}

/// What every sheet shows.
struct Base {
    car: CarView,
    past: Vec<Recorded>,
    links: Vec<(String, Link)>,
    /// Whether it is shown who the car's owner is.
    customers: bool,
}

impl Sheet {
    fn new(desk: Desk, id: String, stage: Stage) -> Self {
        Self { desk, id: JobId(id), stage, sent: String::new() }
    }

    fn sent(mut self, form: &str) -> Self {
        form.clone_into(&mut self.sent);
        self
    }

    /// Where the car has its page.
    fn car_path(&self) -> String {
        format!("/cars/{}", layout::segment(self.id.as_str()))
    }

    /// Where this sheet lies.
    fn path(&self) -> String {
        self.to(self.stage)
    }

    /// Where the sheet of a stage lies.
    fn to(&self, stage: Stage) -> String {
        format!("{}/{}", self.car_path(), stage.title().to_lowercase())
    }

    /// Asks for what every sheet shows, and for what this one shows.
    async fn ask<T: Send + 'static>(
        &self,
        question: impl FnOnce(&Studio, &JobId) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<(Base, T), Fault> {
        let id = self.id.clone();
        let customers = self.desk.sees_customers();
        self.desk
            .ask(move |studio| {
                let (car, past) = (studio.car_view(&id)?, studio.record_of(&id)?);
                let mut base = Base { car, past, links: Vec::new(), customers };
                if customers {
                    base.links = studio.links_of(&id)?;
                } else {
                    base.car.job = Arc::new(base.car.job.without_customer());
                }
                Ok((base, question(studio, &id)?))
            })
            .await
    }

    /// Does what a form asks for and goes on to `to`.
    async fn save(
        &self,
        typed: &Typed,
        to: String,
        work: impl FnOnce(&Studio, &JobId, &Stamp) -> Result<(), Refusal> + Send + 'static,
    ) -> Result<Response, Refusal> {
        let id = self.id.clone();
        // A form that came back after a conflict shows the newer state and says so: its own field is the newer one.
        let seen = typed.get("before").parse().ok();
        // A form with files is written part by part: each part looks at its own key.
        let whole = !typed.has_files();
        self.desk
            .save(typed, move |studio, stamp| {
                // A device that did not hear the answer sends again: what is in the record already is done.
                if whole
                    && let Some(key) = &stamp.key
                    && studio.knows(key)?
                {
                    return Ok(to);
                }
                let stamp = Stamp { seen, ..stamp.clone() };
                work(studio, &id, &stamp).map(|()| to)
            })
            .await
    }

    /// A form of this sheet.
    fn form(&self, typed: &Typed, body: Markup) -> Markup {
        form::form(&self.path(), typed, html! { (named(typed)) (body) })
    }

    /// A form of this sheet with files.
    fn upload(&self, typed: &Typed, body: Markup) -> Markup {
        form::upload_form(&self.path(), typed, html! { (named(typed)) (body) })
    }

    /// A form of this sheet that is one button.
    fn button(&self, name: &str, main: bool, words: &str) -> Markup {
        form::button(&self.path(), &[("form", name)], main, words)
    }

    /// A form of this sheet that is one button and carries something along.
    fn button_with(&self, name: &str, carries: &[(&str, &str)], words: &str) -> Markup {
        let carries: Vec<(&str, &str)> =
            [("form", name)].into_iter().chain(carries.iter().copied()).collect();
        form::button(&self.path(), &carries, false, words)
    }

    fn scale(&self) -> Scale {
        self.desk.scale
    }
}

/// A stamp for the parts of a form that are written one by one, such as several pictures: each has a key of its own, so
/// that sending the form again adds what is missing and nothing twice.
fn part(stamp: &Stamp, i: usize) -> Stamp {
    let key = stamp.key.as_ref().map(|k| format!("{k}-{i}"));
    Stamp { by: stamp.by.clone(), seen: None, key, ago: stamp.ago }
}

/// The field that tells a sheet which of its forms was sent.
fn named(typed: &Typed) -> Markup {
    html! { input type="hidden" name="form" value=(typed.form()); }
}

/// The field that holds the version of the job that a page showed: overwriting newer work is refused.
fn before(car: &CarView) -> Markup {
    html! { input type="hidden" name="before" value=(car.version); }
}

async fn front(desk: Desk, Path(id): Path<String>) -> Result<Redirect, Fault> {
    let at = Sheet::new(desk, id, Stage::Arrival);
    let id = at.id.clone();
    let stage = at.desk.ask(move |s| Ok(s.job(&id)?.job.stage())).await?;
    // Who sees no prices is led to what was found instead.
    let stage = if stage == Stage::Offer && !at.desk.sees_prices() { Stage::Survey } else { stage };
    Ok(Redirect::to(&at.to(stage)))
}

fn stage_named(name: &str) -> Option<Stage> {
    Stage::ALL.into_iter().find(|s| s.title().to_lowercase() == name)
}

fn sheet(desk: Desk, id: String, stage: &str) -> Result<Sheet, Fault> {
    match stage_named(stage) {
        Some(stage) => Ok(Sheet::new(desk, id, stage)),
        None => Err(desk.fault(Refusal::not_found(
            format!("A car has no sheet '{stage}'"),
            "Its sheets are: arrival, survey, offer, route, film, work, handover, visits.",
        ))),
    }
}

async fn open(desk: Desk, Path((id, stage)): Path<(String, String)>) -> Result<Response, Fault> {
    page(&sheet(desk, id, &stage)?, Returned::none()).await
}

async fn page(at: &Sheet, returned: Returned) -> Result<Response, Fault> {
    match at.stage {
        Stage::Arrival => arrival::page(at, returned).await,
        Stage::Survey => survey::page(at, returned, None).await,
        Stage::Offer => offer::page(at, returned, None).await,
        Stage::Route => route::page(at, returned).await,
        Stage::Film => film::page(at, returned).await,
        Stage::Work => work::page(at, returned).await,
        Stage::Handover => handover::page(at, returned).await,
        Stage::Visits => visits::page(at, returned).await,
    }
}

async fn send(
    desk: Desk,
    Path((id, stage)): Path<(String, String)>,
    typed: Typed,
) -> Result<Response, Fault> {
    let form = typed.get("form").to_owned();
    let at = sheet(desk, id, &stage)?.sent(&form);
    let mut typed = typed.named(&form);
    if let Some(may) = may_send(&form)
        && !may.admits(Some(at.desk.role))
    {
        let refusal = Refusal::new(
            RefusalKind::Forbidden,
            format!("This is for {}", may.words()),
            "Ask one of them, or sign in as somebody who may.",
        );
        at.desk.shell.turned.note(format!("form '{form}' of job {} by {}", at.id, at.desk.by()));
        return page(&at, Returned::refused(typed, refusal)).await;
    }
    let done = match (form.as_str(), at.stage) {
        ("note" | "voice" | "call_off" | "promise", _) => common(&at, &mut typed).await,
        ("find", _) => finding::find(&at, &mut typed, format!("{}#findings", at.path())).await,
        (_, Stage::Arrival) => arrival::act(&at, &mut typed).await,
        (_, Stage::Survey) => match survey::act(&at, &mut typed).await {
            Ok(survey::Answer::Gone(response)) => Ok(response),
            Ok(survey::Answer::Rejected(answer)) => {
                return survey::page(&at, Returned::none(), Some(answer)).await;
            }
            Err(refusal) => Err(refusal),
        },
        (_, Stage::Offer) => match offer::act(&at, &mut typed).await {
            Ok(offer::Answer::Gone(response)) => Ok(response),
            Ok(offer::Answer::Reckoned(change)) => {
                return offer::page(&at, Returned::none(), Some(*change)).await;
            }
            Err(refusal) => Err(refusal),
        },
        (_, Stage::Route) => route::act(&at, &mut typed).await,
        (_, Stage::Film) => film::act(&at, &mut typed).await,
        (_, Stage::Work) => Err(unknown(&form)),
        (_, Stage::Handover) => handover::act(&at, &mut typed).await,
        (_, Stage::Visits) => visits::act(&at, &mut typed).await,
    };
    match done {
        Ok(response) => Ok(response),
        Err(refusal) => page(&at, Returned::refused(typed, refusal)).await,
    }
}

/// No form of that name: sent by hand, or from a page of an older program.
fn unknown(form: &str) -> Refusal {
    Refusal::not_found(
        format!("There is no form '{form}' on this sheet"),
        "Open the page again and send it from there.",
    )
}

/// What can be done on every sheet.
async fn common(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let back = format!("{}#notes", at.path());
    match typed.form() {
        "note" => {
            let text = typed.text("text");
            at.save(typed, back, move |s, id, stamp| s.note(id, stamp, &text).map(drop)).await
        }
        "voice" => voice::keep(at, typed, back, None).await,
        "promise" => {
            let zone = at.desk.zone().clone();
            let promised = typed.moment("promised", &zone);
            typed.sound()?;
            at.save(typed, at.path(), move |s, id, stamp| s.promise(id, stamp, promised).map(drop)).await
        }
        _ => {
            let why = typed.text("why");
            at.save(typed, at.path(), move |s, id, stamp| s.call_off(id, stamp, &why).map(drop)).await
        }
    }
}

/// The page of a sheet: title block, stages, cautions, head, body, notes and record.
fn framed(
    at: &Sheet,
    base: &Base,
    returned: &Returned,
    lead: Markup,
    acts: Markup,
    body: Markup,
) -> Response {
    let car = &base.car;
    let title = at.stage.title();
    let foot = foot(at, base, returned);
    let inner = html! {
        (dressed())
        div data-live={ "job/" (at.id) } data-car=(car.tag.name) {}
        (block(at, car))
        (layout::stages(car, Some(at.stage)))
        @if let Some(why) = &car.job.called_off {
            div.note.error { p { b { "This job was called off." } " " (why) } p { "What is recorded stays. Book the car again to work on it." } }
        }
        (layout::head(title, lead, acts))
        (unshown(at, returned, &[&body, &foot]))
        (layout::cautions(&car.cautions))
        (body)
        (foot)
    };
    let page =
        layout::page(&at.desk, Room::Cars, &format!("{}, {}", car.tag.name, title.to_lowercase()), inner);
    (returned.status(), Html(page.into_string())).into_response()
}

/// Style and modules of the car's page.
fn dressed() -> Markup {
    html! {
        link rel="stylesheet" href=(assets::url("car.css"));
        script type="module" src=(assets::url("draw.js")) {}
    }
}

/// The refusal of a form that the page does not show any more: somebody else was quicker, or the page was old.
fn unshown(at: &Sheet, returned: &Returned, parts: &[&Markup]) -> Markup {
    let said = returned.refusal(&at.sent);
    let shown = parts.iter().any(|p| p.0.contains(&said.0));
    if shown {
        html! {}
    } else {
        said
    }
}

/// The title block of the drawing.
fn block(at: &Sheet, car: &CarView) -> Markup {
    let words = &at.desk.words;
    let job = &car.job;
    let tag = &car.tag;
    let dash = || html! { span.quiet { "–" } };
    let mut name = tag.name.clone();
    if !tag.color.is_empty() && !name.to_lowercase().contains(&tag.color.to_lowercase()) {
        name = format!("{name}, {}", tag.color);
    }
    let came = job.arrival.as_ref().map(|a| html! { (words.moment(a.at)) });
    let came = came.or_else(|| job.expected.map(|t| html! { span.quiet { "expected " } (words.moment(t)) }));
    let ready = html! {
        @match car.ready { Some(t) => { (words.moment(t)) } None => { (dash()) } }
        @if let Some(late) = &car.late { " " (layout::late(&format!("{late} late"))) }
    };
    let promised = job.promised.map_or_else(dash, |t| html! { (words.moment(t)) });
    let km = job.arrival.as_ref().and_then(|a| a.odometer_km);
    let energy = job.arrival.as_ref().and_then(|a| a.energy_percent);
    let number = Stage::ALL.iter().position(|s| *s == at.stage).map_or(1, |i| i + 1);
    let mut facts: Vec<(&str, Markup)> = vec![
        ("Car", html! { (name) @if !tag.plate.is_empty() { ", " span.v { (tag.plate) } } }),
        ("Job", html! { (tag.id) }),
        ("In", came.unwrap_or_else(dash)),
        ("Promised", promised),
    ];
    if job.is_open() {
        facts.push(("Ready by the plan", ready));
    }
    facts.push((
        "Odometer",
        km.map_or_else(dash, |km| {
            let (value, unit) = at.desk.words.odometer(km);
            layout::quantity(value, unit)
        }),
    ));
    facts.push((energy_label(job.car.drive), energy.map_or_else(dash, |p| layout::quantity(p, "%"))));
    facts.push(("Sheet", html! { (number) " of " (Stage::ALL.len()) }));
    layout::block(&facts)
}

/// Fuel or charge, by what drives the car.
fn energy_label(drive: Drive) -> &'static str {
    match drive {
        Drive::Combustion => "Fuel",
        Drive::Hybrid => "Fuel or charge",
        Drive::Electric => "Charge",
    }
}

/// Unit of odometers.
fn odometer_unit(scale: Scale) -> &'static str {
    if scale.0 == job::UnitSystem::Us { "mi" } else { "km" }
}

/// An odometer as it is typed.
fn odometer_text(scale: Scale, km: u32) -> String {
    match odometer_unit(scale) {
        "mi" => format!("{:.0}", f64::from(km) / MILE_KM),
        _ => km.to_string(),
    }
}

/// Kilometers of a typed odometer.
fn odometer_km(scale: Scale, typed: f64) -> u32 {
    let km = if odometer_unit(scale) == "mi" { typed * MILE_KM } else { typed };
    km.round().clamp(0.0, f64::from(u32::MAX)) as u32
}

/// Notes, documents, promise, calling off, and what happened: at the foot of every sheet.
fn foot(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let car = &base.car;
    let words = &at.desk.words;
    let zone = at.desk.zone();
    let note = returned.or(Typed::new("note"));
    let call_off = returned.or(Typed::new("call_off"));
    let promised = car.job.promised.map(|t| form::moment_text(t, zone)).unwrap_or_default();
    let promise = returned.or(Typed::new("promise").with("promised", promised));
    html! {
        section.behind #notes {
            h2 { "Notes and record" }
            @for n in car.job.notes.iter().rev().take(6) {
                p.said { (n.text) " " small.quiet { (n.by) @if !n.by.is_empty() { ", " } (words.moment(n.at)) } }
            }
            (voice::heard(at, car.job.voices.iter()))
            (fold("note", "Write a note", returned.is("note"), html! {
                (returned.refusal("note"))
                (at.form(&note, html! {
                    (note.area("text", "Note", "", 2))
                    p.acts { button { "Keep the note" } }
                }))
            }))
            (voice::adding(returned, |typed, body| at.upload(typed, body)))
            @if at.desk.sees_customers() { (links::fold_of(at, base)) }
            (fold("past", &format!("What happened, {}", counted(base.past.len(), "entry", "entries")), false, past::latest(at, base)))
            @if car.job.is_open() && at.desk.sees_customers() {
                (fold("promise", "Promise another handover", returned.is("promise"), html! {
                    (returned.refusal("promise"))
                    (at.form(&promise, html! {
                        (promise.field("promised", "Promised handover").kind("datetime-local").hint("Empty: nothing is promised."))
                        p.acts { button { "Keep this promise" } }
                    }))
                }))
                (fold("call_off", "Call the job off", returned.is("call_off"), html! {
                    (returned.refusal("call_off"))
                    (at.form(&call_off, html! {
                        (call_off.area("why", "Reason", "It stays in the record. Film that was set aside is free again.", 2))
                        p.acts { button { "Call it off" } }
                    }))
                }))
            }
        }
    }
}

/// A part of a page behind a line that opens it.
fn fold(id: &str, title: &str, open: bool, body: Markup) -> Markup {
    html! { details.more id={ "fold-" (id) } open[open] { summary { (title) } div { (body) } } }
}

/// A section with a heading that can be linked to.
fn section(id: &str, title: &str, body: Markup) -> Markup {
    html! { section id=(id) { h2 { (title) } (body) } }
}

/// The stored name of a choice: `front_and_sides`.
fn word<T: Serialize>(choice: &T) -> String {
    match serde_json::to_value(choice) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

/// The choice of a stored name.
fn choice<T: DeserializeOwned>(word: &str) -> Option<T> {
    serde_json::from_value(serde_json::Value::String(word.to_owned())).ok()
}

/// First letter large.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Counted thing: `1 piece`, `3 pieces`.
fn counted(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// What a picture shows, in a line: panel and finding, or the name of its file.
fn part_title(job: &Job, picture: &PictureId) -> String {
    let found = job.findings.iter().find(|f| f.pictures.contains(picture));
    let entry = job.pictures.iter().find(|e| e.picture == *picture);
    match (found, entry) {
        (Some(f), _) => {
            format!("Finding {}, {}, {}", f.no, f.kind.title().to_lowercase(), f.place.panel.title())
        }
        (None, Some(e)) => {
            let place = e.place.as_ref().map_or_else(String::new, |p| format!("{}, ", p.panel.title()));
            format!("{place}{}, {}", e.name, e.stage.title().to_lowercase())
        }
        (None, None) => "A picture of the work".to_owned(),
    }
}

/// Pictures to choose one from.
fn choice_of_pictures(job: &Job, typed: &Typed, name: &str, label: &str, list: &[Taken]) -> Markup {
    html! {
        fieldset.field.broad.pickture {
            legend { (label) }
            div.ticks { @for t in list { label.tick {
                input type="radio" name=(name) value=(t.picture) checked[typed.get(name) == t.picture.as_str()];
                span { (pictures::photo(job, &t.picture, 320, "")) (t.title) }
            } } }
        }
    }
}

/// A link to a document of this car.
fn document(at: &Sheet, file: &str, words: &str) -> Markup {
    html! { a.btn href={ (at.car_path()) "/doc/" (file) ".pdf" } { (words) } }
}

#[cfg(test)]
mod tests;
