//! A step on its card, for a phone in wet hands.

mod acts;

use super::work::state;
use super::{
    Base, Fault, Refusal, Returned, Sheet, Typed, capital, dressed, finding, fold, named, panels, part,
    pictures, unknown, voice,
};
use crate::web::form;
use crate::web::layout::{self, Room};
use crate::web::shell::Desk;
use axum::extract::{Path, Query};
use axum::response::{Html, IntoResponse, Response};
use body::View;
use jiff::{SignedDuration, Timestamp};
use job::{Stage, StepNo, StepState};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, car_mini};
use report::sketch;
use serde::Deserialize;
use studio::view::{RouteView, StepView};

/// The card of a step.
pub(super) async fn open(
    desk: Desk,
    Path((id, no)): Path<(String, u32)>,
    Query(asked): Query<Asked>,
) -> Result<Response, Fault> {
    page(&Sheet::new(desk, id, Stage::Work), StepNo(no), asked, Returned::none()).await
}

/// What the address asks for besides the step.
#[derive(Clone, Default, Deserialize)]
pub(super) struct Asked {
    /// Size of the bucket at hand, in the shop's unit of liquids by the bucket (liters, or gallons).
    #[serde(default)]
    bucket: String,
    /// What was just tapped, so that it can be taken back at once.
    #[serde(default)]
    undo: String,
}

async fn page(at: &Sheet, no: StepNo, asked: Asked, returned: Returned) -> Result<Response, Fault> {
    let (base, view) = at.ask(|s, id| s.route_view(id)).await?;
    let Some(i) = view.steps.iter().position(|s| s.planned.no == no) else {
        return Err(at.desk.fault(Refusal::not_found(
            format!("There is no step {no} on the route"),
            "Open the route again: it may have been set anew.",
        )));
    };
    let s = &view.steps[i];
    let card = Card { at, base: &base, view: &view, s, i, returned: &returned, asked: &asked };
    let inner = html! {
        (dressed())
        div data-live={ "job/" (at.id) } data-car=(base.car.tag.name) {}
        div.stepcard { (card.body()) }
    };
    let page =
        layout::page(&at.desk, Room::Cars, &format!("{}, {}", base.car.tag.name, s.planned.title), inner);
    Ok((returned.status(), Html(page.into_string())).into_response())
}

struct Card<'a> {
    at: &'a Sheet,
    base: &'a Base,
    view: &'a RouteView,
    s: &'a StepView,
    i: usize,
    returned: &'a Returned,
    asked: &'a Asked,
}

impl Card<'_> {
    fn path(&self) -> String {
        format!("{}/step/{}", self.at.car_path(), self.s.planned.no)
    }

    fn form(&self, typed: &Typed, body: Markup) -> Markup {
        form::form(&self.path(), typed, html! { (named(typed)) (body) })
    }

    fn upload(&self, typed: &Typed, body: Markup) -> Markup {
        form::upload_form(&self.path(), typed, html! { (named(typed)) (body) })
    }

    fn open_job(&self) -> bool {
        self.base.car.job.is_open() && self.view.set
    }

    fn body(&self) -> Markup {
        let p = &self.s.planned;
        let bay = self
            .s
            .booking
            .as_ref()
            .and_then(|b| b.bay.clone())
            .unwrap_or_else(|| capital(&p.room.replace('_', " ")));
        let acts = html! { (self.actions()) (self.wanted()) (self.why()) (self.more()) };
        html! {
            header.stephead {
                p.small.quiet { (bay) " · " a href=(self.at.to(Stage::Work)) { (self.base.car.tag.name) } " · step " (self.i + 1) " of " (self.view.steps.len()) }
                h1 { (p.title) }
                p { (state(self.s)) }
            }
            (super::unshown(self.at, self.returned, &[&acts]))
            (self.place())
            (self.facts())
            @for w in &self.s.warnings { div.note.error { p { b { (self.at.desk.words.told(w)) } } } }
            (self.mix())
            (self.clock())
            (self.timer())
            (layout::cautions(&self.cautions()))
            (acts)
        }
    }

    /// Where on the car.
    fn place(&self) -> Markup {
        let p = &self.s.planned;
        let body = self.base.car.body;
        let above =
            p.panels.iter().any(|id| body.panel(id.as_str()).is_some_and(|x| x.main_view == View::Top));
        let hatched = sketch::hatched(&p.panels, Hatch::Film);
        let (area, unit) = self.at.desk.words.area(p.area);
        html! {
            figure.where_ {
                @if !p.panels.is_empty() { (layout::drawing(car_mini(body, &p.title, &hatched, above, Medium::Page { id: "step" }))) }
                figcaption { (panels::headline(&p.panels)) @if p.area.as_m2() > 0.0 { ", " (layout::quantity(area, unit)) } "." }
            }
        }
    }

    fn facts(&self) -> Markup {
        let words = &self.at.desk.words;
        let p = &self.s.planned;
        let now = self.base.car.now;
        let people = self.s.booking.as_ref().map(|b| b.people.join(", ")).filter(|n| !n.is_empty());
        html! {
            dl.facts.pair {
                div { dt { "Planned" } dd { (layout::duration(words, p.work)) } }
                @if let Some(r) = self.s.record.as_ref().filter(|r| !r.spans.is_empty()) {
                    div { dt { "Worked" } dd { (layout::duration(words, r.worked(now))) } }
                }
                @if p.wait.as_minutes() > 0.0 { div { dt { "Then rest" } dd { (layout::duration(words, p.wait)) } } }
                @if let Some(names) = people { div { dt { "Planned for" } dd { (names) } } }
                @for f in &self.s.figures { (layout::labeled(words, f)) }
            }
        }
    }

    /// What goes into the bucket at hand.
    fn mix(&self) -> Markup {
        let mixed: Vec<_> =
            self.s.planned.products.iter().filter_map(|u| u.parts_water.map(|parts| (u, parts))).collect();
        if mixed.is_empty() {
            return html! {};
        }
        let us = self.at.scale().0 == job::UnitSystem::Us;
        let (unit, sizes): (&str, [&str; 5]) =
            if us { ("gal", ["0.25", "1", "2", "3.5", "5"]) } else { ("L", ["1", "5", "10", "15", "20"]) };
        let size =
            self.asked.bucket.replace(',', ".").parse::<f64>().ok().filter(|n| (0.05..=1000.0).contains(n));
        let size = size.unwrap_or(if us { 3.5 } else { 10.0 });
        // The US gallon is 3.785411784 L.
        let bucket = units::Volume::l(if us { size * 3.785_411_784 } else { size });
        let typed = Typed::new("mix").with("bucket", crate::web::scale::plain(size));
        html! {
            section.mix aria-labelledby="mix" {
                h2 #mix { "In the bucket" }
                @for (used, parts) in &mixed {
                    @let product = bucket / (1.0 + parts);
                    p.big2 { (used.product) ": " b { (self.poured(product)) } " and " (self.poured(bucket - product)) " of water" }
                    p.small.quiet { "1 part to " (crate::web::scale::plain(*parts)) " parts of water, " (crate::web::scale::plain(size)) " " (unit) " in all. The product's sheet comes first." }
                }
                form.pick method="get" action=(self.path()) {
                    (typed.field("bucket", "Bucket at hand").unit(unit).list(&sizes))
                    button { "Mix for this" }
                }
            }
        }
    }

    fn poured(&self, v: units::Volume) -> Markup {
        match self.at.scale().0 {
            job::UnitSystem::Metric => layout::quantity(format!("{:.0}", v.as_ml()), "mL"),
            // a US gallon is 128 fluid ounces
            job::UnitSystem::Us if v.as_fl_oz() >= 128.0 => {
                layout::quantity(format!("{:.2}", v.as_fl_oz() / 128.0), "gal")
            }
            job::UnitSystem::Us => layout::quantity(format!("{:.1}", v.as_fl_oz()), "fl oz"),
        }
    }

    /// A clock for what soaks or flashes off: set with a tap, it sounds, and it goes on after the page was closed.
    fn timer(&self) -> Markup {
        if !self.open_job() || !matches!(self.s.state, StepState::Running | StepState::Paused) {
            return html! {};
        }
        let id = format!("{}.{}", self.at.id, self.s.planned.no);
        html! {
            section.timer hidden data-timer=(id) data-name={ (self.base.car.tag.name) ": " (self.s.planned.title) } aria-label="Timer" {
                p.small.quiet { "Timer, for what soaks or flashes off" }
                p.acts { @for minutes in [1, 3, 5, 10, 20] { button type="button" data-minutes=(minutes) { (minutes) " min" } } }
            }
        }
    }

    /// What runs: a wait before, the step itself, a rest after it. The time left is reckoned here; a module counts it down.
    fn clock(&self) -> Markup {
        let now = self.base.car.now;
        match (&self.s.state, self.s.ready_at) {
            (StepState::Todo | StepState::Paused, Some(ready)) if ready > now => {
                counter("Can begin in", &format!("at {}", self.said(ready)), ready, now)
            }
            (StepState::Running, _) => {
                let Some(since) = self.s.record.as_ref().and_then(|r| r.spans.last()).map(|x| x.from) else {
                    return html! {};
                };
                let worked = self.s.record.as_ref().map_or(0.0, |r| r.worked(now).as_minutes());
                let left = self.s.planned.work.as_minutes() - worked;
                counter(
                    "Planned time left",
                    &format!("running since {}", self.said(since)),
                    later(now, left),
                    now,
                )
            }
            (StepState::Done, _) if self.s.planned.wait.as_minutes() > 0.0 => {
                let Some(end) = self.s.record.as_ref().and_then(|r| r.spans.last()).and_then(|x| x.to) else {
                    return html! {};
                };
                let free = later(end, self.s.planned.wait.as_minutes());
                if free > now {
                    counter("Rests for another", &format!("until {}", self.said(free)), free, now)
                } else {
                    html! {}
                }
            }
            _ => html! {},
        }
    }

    fn said(&self, t: Timestamp) -> String {
        let words = &self.at.desk.words;
        let day = |t: Timestamp| words.day(t);
        if day(t) == day(self.base.car.now) { words.clock(t) } else { words.moment(t) }
    }

    fn cautions(&self) -> Vec<studio::view::Caution> {
        let mut list = self.s.cautions.clone();
        list.extend(
            self.base
                .car
                .cautions
                .iter()
                .filter(|c| !self.s.cautions.iter().any(|x| x.title == c.title))
                .cloned(),
        );
        list
    }

    fn wanted(&self) -> Markup {
        let list = self.record_pictures();
        let typed = self.returned.or(Typed::new("pictures"));
        let asked = !self.s.wanted.is_empty();
        html! {
            @if asked { section { h2 { "Wanted" } ul { @for w in &self.s.wanted { li { (self.at.desk.words.told(w)) } } } } }
            @if !list.is_empty() { (pictures::thumbs(self.at, &self.base.car.job, &list, &self.s.planned.title)) }
            @if self.open_job() {
                (fold("pictures", "Add pictures", self.returned.is("pictures") || (asked && self.s.state == StepState::Running), html! {
                    (self.returned.refusal("pictures"))
                    (self.upload(&typed, html! { (pictures::fields(&typed)) p.acts { button { "Add the pictures" } } }))
                }))
            }
        }
    }

    /// Pictures of this step's panels that were taken during the work.
    fn record_pictures(&self) -> Vec<job::PictureId> {
        let p = &self.s.planned;
        if let Some(taken) = self.s.record.as_ref().map(|r| &r.pictures).filter(|l| !l.is_empty()) {
            return taken.clone();
        }
        // Older records do not say in which step a picture was taken.
        let [one] = p.panels.as_slice() else { return Vec::new() };
        let of = |e: &&job::PictureEntry| {
            e.stage == Stage::Work && e.place.as_ref().is_some_and(|x| x.panel == *one)
        };
        self.base.car.job.pictures.iter().filter(of).map(|e| e.picture.clone()).collect()
    }

    fn why(&self) -> Markup {
        let link = |i: usize, s: &StepView| html! { a href={ (self.at.car_path()) "/step/" (s.planned.no) } { "Step " (i + 1) ", " (s.planned.title.to_lowercase()) } };
        html! {
            section {
                h2 { "Why now" }
                @for why in &self.s.planned.why { p { (self.at.desk.words.told(why)) } }
                p.small {
                    @if self.i > 0 { "Before: " (link(self.i - 1, &self.view.steps[self.i - 1])) }
                    @if self.i > 0 && self.i + 1 < self.view.steps.len() { " · " }
                    @if let Some(next) = self.view.steps.get(self.i + 1) { "After: " (link(self.i + 1, next)) }
                }
            }
        }
    }

    /// A finding, a note, undo, leaving it out.
    fn more(&self) -> Markup {
        let note = self.returned.or(Typed::new("note"));
        let drop = self.returned.or(Typed::new("drop"));
        let begun = self.s.state != StepState::Todo;
        html! { @if self.open_job() {
            section.behind {
                (voice::heard(self.at, self.base.car.job.voices.iter().filter(|v| v.step == Some(self.s.planned.no))))
                (self.found())
                (fold("note", "Write a note", self.returned.is("note"), html! {
                    (self.returned.refusal("note"))
                    (self.form(&note, html! { (note.area("text", "Note", "", 2)) p.acts { button { "Keep the note" } } }))
                }))
                (voice::adding(self.returned, |typed, body| self.upload(typed, body)))
                @if begun { (fold("undo", "A slip of the hand", false, html! {
                    p { "Takes back the last start, pause or finish of this step." }
                    (self.one("undo", "", false, "Take it back"))
                })) }
                @if !matches!(self.s.state, StepState::Done | StepState::Dropped(_)) {
                    (fold("drop", "Leave this step out", self.returned.is("drop"), html! {
                        (self.returned.refusal("drop"))
                        (self.form(&drop, html! {
                            (drop.area("why", "Reason", "It stays in the record.", 2))
                            p.acts { button { "Leave it out" } }
                        }))
                    }))
                }
            }
        } }
    }

    fn found(&self) -> Markup {
        let typed = self.returned.or(finding::begun(self.s.planned.panels.first()));
        fold(
            "find",
            "Found something",
            self.returned.is("find"),
            html! {
                p { "What changes time, price or risk is shown to the customer and agreed before it is worked on." }
                (self.returned.refusal("find"))
                (finding::drawing(&self.base.car, &self.base.car.job.standing().collect::<Vec<_>>()))
                (self.upload(&typed, html! {
                    (finding::fields(self.at, &self.base.car, &typed))
                    (pictures::fields(&typed))
                    p.acts { button { "Record the finding" } }
                }))
                p { a href={ (self.at.to(Stage::Offer)) "#changes" } { "Propose a change order" } }
            },
        )
    }
}

fn later(at: Timestamp, minutes: f64) -> Timestamp {
    at.checked_add(SignedDuration::from_secs((minutes * 60.0).round() as i64)).unwrap_or(at)
}

/// Time left, large; `until` in words stands below.
fn counter(what: &str, below: &str, until: Timestamp, now: Timestamp) -> Markup {
    let seconds = until.duration_since(now).as_secs();
    html! {
        div.card.now.counter {
            span.small.quiet { (what) }
            span.big data-left=(seconds) data-name=(what) { (clock_text(seconds)) }
            span.small.quiet { (below) }
        }
    }
}

/// Hours, minutes and seconds; what is over counts on with a minus.
fn clock_text(seconds: i64) -> String {
    let sign = if seconds < 0 { "−" } else { "" };
    let s = seconds.unsigned_abs();
    match s / 3600 {
        0 => format!("{sign}{}:{:02}", s / 60, s % 60),
        h => format!("{sign}{h}:{:02}:{:02}", s / 60 % 60, s % 60),
    }
}

/// Does what a step's card asks for.
pub(super) async fn send(
    desk: Desk,
    Path((id, no)): Path<(String, u32)>,
    typed: Typed,
) -> Result<Response, Fault> {
    let form = typed.get("form").to_owned();
    let at = Sheet::new(desk, id, Stage::Work).sent(&form);
    let no = StepNo(no);
    let mut typed = typed.named(&form);
    match act(&at, no, &mut typed).await {
        Ok(response) => Ok(response),
        Err(refusal) => page(&at, no, Asked::default(), Returned::refused(typed, refusal)).await,
    }
}

async fn act(at: &Sheet, no: StepNo, typed: &mut Typed) -> Result<Response, Refusal> {
    let here = format!("{}/step/{no}", at.car_path());
    // What was tapped can be taken back for some seconds.
    let tapped = |what: &str| format!("{here}?undo={what}");
    match typed.form() {
        "start" => {
            at.save(typed, tapped("start"), move |s, id, stamp| s.start_step(id, stamp, no).map(drop)).await
        }
        "pause" => {
            at.save(typed, tapped("pause"), move |s, id, stamp| s.pause_step(id, stamp, no).map(drop)).await
        }
        "undo" => at.save(typed, here, move |s, id, stamp| s.undo_step(id, stamp, no).map(drop)).await,
        "finish" => {
            let id = at.id.clone();
            let step = at.desk.shell.ask(move |s| s.step_view(&id, no)).await?;
            let done = acts::finished(typed, at, &step)?;
            at.save(typed, tapped("finish"), move |s, id, stamp| {
                s.finish_step(id, stamp, no, &done).map(drop)
            })
            .await
        }
        "drop" => {
            let why = typed.text("why");
            at.save(typed, at.to(Stage::Work), move |s, id, stamp| s.drop_step(id, stamp, no, &why).map(drop))
                .await
        }
        "note" => {
            let text = typed.text("text");
            at.save(typed, here, move |s, id, stamp| s.note(id, stamp, &text).map(drop)).await
        }
        "voice" => voice::keep(at, typed, here, Some(no)).await,
        "find" => finding::find(at, typed, here).await,
        "pictures" => {
            let uploads = pictures::some(at, typed).await?;
            at.save(typed, here, move |studio, id, stamp| {
                for (i, file) in uploads.iter().enumerate() {
                    studio.add_step_picture(id, &part(stamp, i), no, &file.name, &file.bytes)?;
                }
                Ok(())
            })
            .await
        }
        other => Err(unknown(other)),
    }
}
