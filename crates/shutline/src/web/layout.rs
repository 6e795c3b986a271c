//! The frame of every page and its parts: title block, notes, figures that explain themselves, keys of hatches.

use super::assets;
use super::shell::Desk;
use jiff::Timestamp;
use job::{Role, Stage};
use maud::{DOCTYPE, Markup, PreEscaped, Render, html};
use report::drawing::{Hatch, Medium, key_swatch};
use report::words::Words;
use studio::view::{CarTag, CarView, Caution, StageState};
use studio::{Figure, Refusal};
use units::{Duration, Money};

/// The rooms of the house, as the top line names them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Room {
    /// What happens today.
    Day,
    /// Days to come.
    Calendar,
    /// Cars and their jobs.
    Cars,
    /// The shelf.
    Stock,
    /// People, bays, prices.
    Shop,
    /// No room: an error, say.
    None,
}

const ROOMS: [(Room, &str, &str); 5] = [
    (Room::Day, "/", "Day"),
    (Room::Calendar, "/calendar", "Calendar"),
    (Room::Cars, "/cars", "Cars"),
    (Room::Stock, "/stock", "Stock"),
    (Room::Shop, "/shop", "Shop"),
];

/// A whole page: top line, body, foot.
pub fn page(desk: &Desk, room: Room, title: &str, body: Markup) -> Markup {
    let shop = &desk.shop.settings;
    let name = if shop.name.is_empty() { "Shutline" } else { &shop.name };
    let top = html! {
        header.top {
            a.house href="/" { (name) }
            nav aria-label="Rooms" {
                @for (of, href, word) in ROOMS.into_iter().filter(|(of, ..)| *of != Room::Shop || desk.role == Role::Owner) {
                    a href=(href) aria-current=[(of == room).then_some("page")] { (word) }
                }
            }
            a.help href=(help_path(room)) { "Help" }
            (who(desk))
        }
    };
    let foot = html! {
        @if shop.demo { p { "Invented demo: no real cars, customers or products." } }
        (themes(desk))
        p {
            "General cautions on these pages are no substitute for a product's safety data sheet, its maker's "
            "instructions, local law or a licensed trade."
        }
    };
    frame(title, name, &top, &body, &foot, Some(desk))
}

/// A page without a shop around it.
pub fn bare(title: &str, body: Markup) -> Markup {
    let top = html! { header.top { a.house href="/" { "Shutline" } } };
    frame(title, "Shutline", &top, &body, &html! {}, None)
}

/// A page for people who are not inside: the shop's name leads nowhere.
pub fn bare_of(title: &str, shop: &str, body: Markup) -> Markup {
    let name = if shop.is_empty() { "Shutline" } else { shop };
    let top = html! { header.top { span.house { (name) } } };
    frame(title, name, &top, &body, &html! {}, None)
}

fn frame(
    title: &str,
    house: &str,
    top: &Markup,
    body: &Markup,
    foot: &Markup,
    desk: Option<&Desk>,
) -> Markup {
    let seq = desk.map(|d| d.seq);
    let theme = desk.and_then(|d| d.theme);
    html! {
        (DOCTYPE)
        html lang="en" data-theme=[theme] {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width,initial-scale=1";
                title { (title) " · " (house) }
                link rel="stylesheet" href=(assets::url("shutline.css"));
                link rel="icon" href=(assets::url("mark.svg")) type="image/svg+xml";
                script type="module" src=(assets::url("live.js")) {}
                script type="module" src=(assets::url("keep.js")) {}
                script type="module" src=(assets::url("count.js")) {}
            }
            body {
                a.skip href="#main" { "To the content" }
                (top)
                p.awaynote role="status" { "No connection to the shop's server: this page is as it was. What you do is kept on this device." }
                aside.unsent data-unsent hidden aria-live="polite" aria-label="Not sent yet" {}
                main #main data-seq=[seq] { (body) }
                footer.foot { (foot) }
            }
        }
    }
}

/// The part of the help that is about a room.
fn help_path(room: Room) -> &'static str {
    match room {
        Room::Day => "/help#day",
        Room::Calendar => "/help#calendar",
        Room::Cars => "/help#cars",
        Room::Stock => "/help#stock",
        Room::Shop => "/help#shop",
        Room::None => "/help",
    }
}

/// By day, by night, or as the device has it.
fn themes(desk: &Desk) -> Markup {
    html! {
        form.themes method="post" action="/theme" {
            input type="hidden" name="back" value=(desk.path);
            span { "Pages: " }
            @for (value, words) in [("", "as the device"), ("day", "by day"), ("night", "by night")] {
                button name="theme" value=(value) aria-pressed=(desk.theme.unwrap_or_default() == value) { (words) }
            }
        }
    }
}

/// Who is at it, in the top line, and how somebody else takes over.
fn who(desk: &Desk) -> Markup {
    if desk.shell.house.open {
        return choose(desk);
    }
    let name = desk.by();
    html! {
        details.who {
            summary { span.small.quiet { "At it: " } b { (name) } }
            div.drop {
                p.small.quiet { "Signed in as " (desk.role.title()) "." }
                a.btn href="/door" { "Somebody else" }
                form method="post" action="/door/out" { button { "Sign out" } }
            }
        }
    }
}

/// In the open demo anybody can be chosen, to see what each role sees.
fn choose(desk: &Desk) -> Markup {
    html! {
        details.who {
            summary { @match &desk.who {
                Some(name) => { span.small.quiet { "At it: " } b { (name) } }
                None => { "Who is at it?" }
            } }
            form.drop method="post" action="/who" {
                input type="hidden" name="back" value=(desk.path);
                @for person in &desk.shop.settings.people {
                    button name="who" value=(person.name) aria-pressed=(desk.who.as_ref() == Some(&person.name)) { (person.name) span.small.quiet { ", " (person.role.title()) } }
                }
                @if desk.shop.settings.people.is_empty() {
                    p.small { "Nobody works here yet. " a href="/shop#people" { "Enter the people of the shop" } }
                }
                p.small.quiet { "The demo's door stands open: choose anybody and see what their role may see and do. Under " code { "shutline serve" } " people sign in with a PIN." }
            }
        }
    }
}

/// The head of a page: title, a quiet line under it, what can be done on the right.
pub fn head(title: &str, lead: Markup, acts: Markup) -> Markup {
    html! {
        div.head {
            div { h1 { (title) } @if !is_empty(&lead) { p.quiet { (lead) } } }
            @if !is_empty(&acts) { div.acts { (acts) } }
        }
    }
}

fn is_empty(markup: &Markup) -> bool {
    markup.0.is_empty()
}

/// The title block of a drawing: what, which job, which sheet. The first fact gets most of the room.
pub fn block(facts: &[(&str, Markup)]) -> Markup {
    html! {
        dl.block {
            @for (i, (label, fact)) in facts.iter().enumerate() {
                div.wide[i == 0] { dt { (label) } dd { (fact) } }
            }
        }
    }
}

/// Labels with what they stand for, in columns.
pub fn facts(facts: &[(&str, Markup)]) -> Markup {
    html! { dl.facts.cols { @for (label, fact) in facts { div { dt { (label) } dd { (fact) } } } } }
}

/// The line of stages of a car's job; `here` is the sheet that is open.
pub fn stages(car: &CarView, here: Option<Stage>) -> Markup {
    html! {
        nav aria-label="Stages of the job" { ol.stages {
            @for mark in &car.stages {
                li class=(match mark.state { StageState::Done => "done", StageState::Now => "now", StageState::Ahead => "ahead" }) {
                    a href=(stage_path(&car.tag, mark.stage)) aria-current=[(here == Some(mark.stage)).then_some("page")] {
                        (mark.stage.title())
                        small { @if mark.note.is_empty() { "\u{a0}" } @else { (mark.note) } }
                    }
                }
            }
        } }
    }
}

/// Where a stage of a car's job has its sheet.
pub fn stage_path(car: &CarTag, stage: Stage) -> String {
    format!("{}/{}", car_path(car), stage.title().to_lowercase())
}

/// Where a car has its page.
pub fn car_path(car: &CarTag) -> String {
    format!("/cars/{}", segment(car.id.as_str()))
}

/// A car's name that leads to its page.
pub fn car_link(car: &CarTag) -> Markup {
    html! { a.car href=(car_path(car)) { (car.name) } }
}

/// A text as one part of an address.
pub fn segment(text: &str) -> String {
    // What form_urlencoded leaves as `+` is a space, which a path writes otherwise.
    form_urlencoded::byte_serialize(text.as_bytes()).collect::<String>().replace('+', "%20")
}

/// A figure with its unit and range; how it was computed lies one tap behind it, its warning beside it.
pub fn figure(words: &Words, figure: &Figure) -> Markup {
    let how = &figure.how;
    let silent = how.formula.is_empty() && how.inputs.is_empty() && how.source.is_empty();
    html! {
        span.figure {
            @if silent { (value(words, figure)) } @else {
                details.how {
                    summary title="How this is computed" { (value(words, figure)) }
                    div.account {
                        p { b { "How this is computed: " } (figure.label.to_lowercase()) }
                        @if !how.formula.is_empty() { p { (how.formula) } }
                        @if !how.inputs.is_empty() {
                            dl { @for (name, value) in &how.inputs { div { dt { (words.told(name)) } dd { (words.told(value)) } } } }
                        }
                        @if !how.source.is_empty() { p.quiet { "Source: " (how.source) } }
                    }
                }
            }
            @if let Some(warning) = &figure.warning { span.warn { (words.told(warning)) } }
        }
    }
}

/// A figure with its label above it, for lists of facts.
pub fn labeled(words: &Words, f: &Figure) -> Markup {
    html! { div { dt { (f.label) } dd { (figure(words, f)) } } }
}

/// Several figures in columns.
pub fn figures(words: &Words, list: &[Figure]) -> Markup {
    html! { dl.facts.cols { @for f in list { (labeled(words, f)) } } }
}

/// Value, range and unit of a figure in the shop's units, without its account.
pub fn value(words: &Words, figure: &Figure) -> Markup {
    let line = words.figure_text(figure);
    let (number, unit) = match line.rsplit_once('\u{a0}') {
        Some((number, unit)) if !figure.unit.is_empty() => (number, unit),
        _ => (line.as_str(), ""),
    };
    let (number, pm) = match number.split_once(" ± ") {
        Some((number, pm)) if figure.plus_minus.is_some() => (number, Some(pm)),
        _ => (number, None),
    };
    html! { span.v { (number) @if let Some(pm) = pm { span.pm { " ± " (pm) } } (unit_of(unit)) } }
}

/// A plain number with its unit; the two never part at a line's end.
pub fn quantity(number: impl Render, unit: &str) -> Markup {
    html! { span.v { (number) (unit_of(unit)) } }
}

fn unit_of(unit: &str) -> Markup {
    html! { @if !unit.is_empty() { span.u { "\u{a0}" (unit) } } }
}

/// An amount in the shop's currency.
pub fn money(words: &Words, amount: Money) -> Markup {
    html! { span.v { (words.money(amount)) } }
}

/// A span of time in words.
pub fn duration(words: &Words, time: Duration) -> Markup {
    html! { span.v { (words.duration(time)) } }
}

/// A moment as people say it beside now: `today 18:00`, `Thu 9:00`, `Fri, May 23, 16:00`.
pub fn moment(words: &Words, now: Timestamp, at: Timestamp) -> Markup {
    let times = &words.times;
    let days = (times.day_of(at) - times.day_of(now)).get_days();
    let clock = times.clock(at);
    let said = match days {
        0 => format!("today {clock}"),
        1 => format!("tomorrow {clock}"),
        -1 => format!("yesterday {clock}"),
        -6..=6 => times.near(at),
        _ => times.moment(at),
    };
    html! { time datetime=(at) title=(words.moment(at)) { (said) } }
}

/// The clock time of a moment today, or as [`moment`] says it on other days.
pub fn clock(words: &Words, now: Timestamp, at: Timestamp) -> Markup {
    if words.times.day_of(now) == words.times.day_of(at) {
        html! { time datetime=(at) { (words.clock(at)) } }
    } else {
        moment(words, now, at)
    }
}

/// A refusal in its double frame: what, where, the way on. It takes the focus, so that it is seen and read out.
pub fn refusal(refusal: &Refusal) -> Markup {
    html! {
        div.note.error role="alert" tabindex="-1" autofocus {
            p {
                b { @if let Some(place) = &refusal.place { (place) ": " } (sentence(&refusal.what)) }
            }
            @if !refusal.remedy.is_empty() { p { (refusal.remedy) } }
        }
    }
}

fn sentence(text: &str) -> String {
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

/// A caution with its strip. It stands before the button that it concerns.
pub fn caution(caution: &Caution) -> Markup {
    html! {
        div.note.caution role="note" {
            p { b { (sentence(&caution.title)) } " " (caution.text) }
        }
    }
}

/// Cautions one under the other, with the reminder that the data sheet comes first.
pub fn cautions(list: &[Caution]) -> Markup {
    html! {
        @if !list.is_empty() {
            div.cautions {
                @for c in list { (caution(c)) }
                p.small.quiet { "General cautions. The product's safety data sheet, its maker's instructions and local law come first." }
            }
        }
    }
}

/// Who did it, as the rest of a sentence; nothing when nobody said who is at the device.
pub fn by(name: &str) -> String {
    if name.is_empty() { String::new() } else { format!(" by {name}") }
}

/// A plain note.
pub fn note(body: Markup) -> Markup {
    html! { div.note { (body) } }
}

/// A note with something to do at its right.
pub fn note_with(body: Markup, acts: Markup) -> Markup {
    html! { div.note.side { div { (body) } div.acts { (acts) } } }
}

/// An empty place: says what will come, or how to put something there.
pub fn empty(body: Markup) -> Markup {
    html! { div.empty { (body) } }
}

/// Late, in ink reversed, with the amount in words.
pub fn late(words: &str) -> Markup {
    html! { span.late { (words) } }
}

/// A state in a word.
pub fn tag(word: &str) -> Markup {
    html! { span.tag { (word) } }
}

/// The key of the hatches that a page uses; `id` sets its swatches apart from those of other keys on the page.
pub fn key(id: &str, parts: &[(Hatch, &str)]) -> Markup {
    html! {
        ul.key {
            @for (i, (hatch, words)) in parts.iter().enumerate() {
                li { (swatch(&format!("{id}-k{i}"), *hatch)) (words) }
            }
        }
    }
}

/// One swatch of a hatch, for tables.
pub fn swatch(id: &str, hatch: Hatch) -> Markup {
    PreEscaped(key_swatch(hatch, Medium::Page { id }))
}

/// A drawing of `report`, which is markup already.
pub fn drawing(svg: String) -> Markup {
    PreEscaped(svg)
}

/// A drawing that may be wider than the page: it scrolls in its own frame, also by keyboard.
pub fn wide_drawing(name: &str, svg: String) -> Markup {
    html! { div.scroll role="region" aria-label=(name) tabindex="0" { (PreEscaped(svg)) } }
}
