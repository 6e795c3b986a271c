//! Seams on the sides: what each choice costs now and later and shows, and what not seeing them is worth to the customer.

use super::{Base, Fault, Returned, Sheet, Typed, counted, dressed};
use crate::web::assets;
use crate::web::form;
use crate::web::layout::{self, Room};
use crate::web::scale::Scale;
use crate::web::shell::Desk;
use axum::extract::{Path, Query};
use axum::response::{Html, IntoResponse, Response};
use job::Stage;
use maud::{Markup, html};
use report::drawing::{Front, FrontDot, Medium, front};
use serde::Deserialize;
use studio::view::{SideChoice, SidesView};
use units::Money;

/// A price of a meter of seam that is only tried.
#[derive(Deserialize)]
pub(super) struct Tried {
    unseen: Option<String>,
}

pub(super) async fn open(
    desk: Desk,
    Path(id): Path<String>,
    Query(tried): Query<Tried>,
) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Offer);
    let unseen = tried.unseen.and_then(|text| Money::parse(&text).ok()).map(|m| at.scale().cost_long_from(m));
    page(&at, &Returned::none(), unseen).await
}

pub(super) async fn send(desk: Desk, Path(id): Path<String>, typed: Typed) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Offer);
    let mut typed = typed.named("sides");
    let unseen = at.scale().cost_long_from(typed.money("unseen"));
    let seams: Vec<String> =
        typed.get("seams").split(',').filter(|s| !s.is_empty()).map(str::to_owned).collect();
    let to = path(&at);
    let answer = match typed.sound() {
        Err(refusal) => Err(refusal),
        Ok(()) => {
            at.save(&typed, to, move |s, id, stamp| s.plan_sides(id, stamp, &seams, unseen).map(drop)).await
        }
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => page(&at, &Returned::refused(typed, refusal), Some(unseen)).await,
    }
}

fn path(at: &Sheet) -> String {
    format!("{}/sides", at.car_path())
}

async fn page(at: &Sheet, returned: &Returned, tried: Option<Money>) -> Result<Response, Fault> {
    let (base, view): (Base, SidesView) = at.ask(|s, id| s.sides_view(id)).await?;
    let car = &base.car;
    let unseen = tried.unwrap_or(view.unseen_m).max(Money::ZERO);
    let body = html! {
        (dressed())
        script type="module" src=(assets::url("sides.js")) {}
        (super::block(at, car))
        (layout::stages(car, Some(Stage::Offer)))
        (layout::head(
            "Seams on the sides",
            html! { "One large piece, or several with seams that are meant: price now, renewals later, and how much seam is seen." },
            html! { a.btn href=(at.to(Stage::Offer)) { "Back to the offer" } },
        ))
        (returned.refusal("sides"))
        @match &view.nothing {
            Some(nothing) => { (layout::empty(html! { p { (nothing) } })) }
            None => { (choices(at, &base, &view, unseen)) }
        }
    };
    let page = layout::page(
        &at.desk,
        Room::Cars,
        &format!("{}, seams on the sides", car.tag.name),
        returned.above(body),
    );
    Ok((returned.status(), Html(page.into_string())).into_response())
}

/// The end of the slider: half as much again as the price at which the choice with least seam wins, in round numbers.
fn most(view: &SidesView, unseen: Money, scale: Scale) -> u32 {
    let mut at = 50u32;
    let least = view.choices.iter().map(|c| c.in_sight.as_m()).fold(f64::INFINITY, f64::min);
    let seen = |money: u32| {
        let best = view.cheapest(scale.cost_long_from(Money::cents(i64::from(money) * 100)))?;
        Some(view.choices[best].in_sight.as_m())
    };
    while at < 2000
        && (seen(at).is_some_and(|s| s > least + 1e-9)
            || f64::from(at) < scale.cost_long(unseen).as_estimate())
    {
        at *= 2;
    }
    at
}

fn choices(at: &Sheet, base: &Base, view: &SidesView, unseen: Money) -> Markup {
    let words = &at.desk.words;
    let best = view.cheapest(unseen);
    let code = at.desk.shop.settings.prices.currency.code();
    let scale = at.scale();
    let most = most(view, unseen, scale);
    let open = base.car.job.is_open() && base.car.job.acceptance.is_none();
    let whole = format!("{:.0}", scale.cost_long(unseen).as_estimate());
    let length = scale.long_in_full();
    let step = if scale.0 == job::UnitSystem::Metric { "5" } else { "1" };
    html! {
        section data-sides {
            h2 { "What is it worth not to see a " (length) " of seam?" }
            form.slider method="get" action=(path(at)) {
                label for="unseen" { "Worth to the customer, " (code) " a " (length) }
                div {
                    input #unseen type="range" name="unseen" min="0" max=(most) step=(step) value=(whole) aria-describedby="said";
                    output for="unseen" data-worth { (whole) }
                    button { "Try it" }
                }
            }
            p #said role="status" data-said { (said(at, view, best)) }
            div.even {
                div { (drawn(at, view, best)) }
                div {
                    @if view.stretch.is_empty() { p.small.quiet { "Worst stretch is not known: no shape of a panel was taken. Pieces are drawn from the planning outline, never for cutting." } }
                    @else { h3 { "Worst stretch of the shapes taken" } ul { @for s in &view.stretch { li { (s) } } } }
                    (layout::figures(words, &view.how))
                    p.small.quiet { "Prices as the customer pays them, margin and tax in"
                        @if view.sides > 1.5 { ", for both sides together" } ". The price of the whole offer comes from its own layout of all pieces." }
                }
            }
            table.fold {
                thead { tr { th { "Seams on each side" } th.n { "Pieces" } th.n { "Now" } th.n { (format!("Renewals, {:.0} years", view.years)) } th.n { "One renewal" } th.n { "Seam in sight" } th.n { "In all" } td {} } }
                tbody { @for (i, c) in view.choices.iter().enumerate() { (row(at, view, c, best == Some(i), unseen, open)) } }
            }
            p.small.quiet { "A piece is renewed whole: one damaged piece of several is cheaper to renew than one large piece. Chips gather behind the wheels, so pieces there are renewed more often. Common practice, no source, until this shop's claims say better." }
        }
    }
}

fn said(at: &Sheet, view: &SidesView, best: Option<usize>) -> Markup {
    html! { @if let Some(c) = best.map(|i| &view.choices[i]) {
        "Best at this: " b { (name(c)) } ", " (at.desk.words.money(c.install)) " now, " (seen(at, c.in_sight)) " of seam in sight."
    } }
}

/// A length of seam in the shop's units.
fn seen(at: &Sheet, length: units::Length) -> String {
    at.desk.words.told(&format!("{:.2} m", length.as_m()))
}

fn name(choice: &SideChoice) -> String {
    match choice.titles.len() {
        0 => "no seam but at the shut lines".to_owned(),
        n => counted(n, "seam", "seams"),
    }
}

fn row(at: &Sheet, view: &SidesView, c: &SideChoice, best: bool, unseen: Money, open: bool) -> Markup {
    let words = &at.desk.words;
    let typed = Typed::new("").with("unseen", at.scale().cost_long(unseen).amount().normalize());
    html! {
        tr.best[best] data-install=(c.install.amount()) data-renewals=(c.renewals.amount()) data-sight=(format!("{:.4}", at.scale().long_of(c.in_sight))) data-seen=(seen(at, c.in_sight)) data-name=(name(c)) data-now=(words.money(c.install)) {
            th scope="row" { (name(c)) " " span data-best hidden[!best] { (layout::tag("best at this")) } @if c.holds { " " (layout::tag(if view.chosen.is_some() { "chosen" } else { "as drawn" })) }
                @if !c.titles.is_empty() { br; small.quiet { (c.titles.join("; ")) } }
            }
            td.n data-h="Pieces" { (c.pieces) }
            td.n data-h="Now" { (words.money(c.install)) }
            td.n data-h="Renewals" { (words.money(c.renewals)) br; small.quiet { (format!("{:.2}", c.expected)) " pieces" } }
            td.n data-h="One renewal" { (words.money(c.one_renewal)) }
            td.n data-h="Seam in sight" { (seen(at, c.in_sight)) }
            td.n data-h="In all" { span data-total { (words.money(c.total(unseen).rounded(at.desk.shop.settings.prices.currency.digits(), units::Rounding::HalfUp))) } }
            td { @if open && !(c.holds && view.chosen.is_some()) {
                (form::form(&path(at), &typed, html! {
                    input type="hidden" name="seams" value=(c.seams.join(","));
                    input type="hidden" name="unseen" value=(at.scale().cost_long(unseen).amount().normalize()) data-keep-worth;
                    button aria-label={ "Choose " (name(c)) } { "Choose" }
                }))
            } }
        }
    }
}

/// The front: price now against seam in sight.
fn drawn(at: &Sheet, view: &SidesView, best: Option<usize>) -> Markup {
    let code = at.desk.shop.settings.prices.currency.code();
    let base = view.choices.first().map_or(0.0, |c| c.install.as_estimate());
    let mut dots: Vec<FrontDot> = view
        .choices
        .iter()
        .enumerate()
        .map(|(i, c)| FrontDot {
            x: c.install.as_estimate() - base,
            y: at.scale().long_of(c.in_sight),
            allowed: true,
            advised: best == Some(i),
            beaten: false,
            words: format!(
                "{}: {} now, {:.2} pieces renewed, {} in sight",
                name(c),
                at.desk.words.money(c.install),
                c.expected,
                seen(at, c.in_sight)
            ),
        })
        .collect();
    let all = dots.clone();
    for dot in &mut dots {
        // what it is dearer for, fewer renewals, is not in this drawing
        dot.beaten = all.iter().any(|d| d.x <= dot.x && d.y <= dot.y && (d.x < dot.x || d.y < dot.y));
    }
    dots.sort_by(|a, b| a.x.total_cmp(&b.x));
    let drawing = Front {
        title: "Price now against seam in sight".into(),
        across: format!("dearer now than the cheapest choice, {code}"),
        up: format!("seam in sight, {}", at.scale().long()),
        dots,
        wanted: None,
        most: None,
    };
    layout::drawing(front(&drawing, Medium::Page { id: "sides" }))
}

/// The link on the offer page, with what is chosen.
pub(super) fn part(at: &Sheet, base: &Base) -> Markup {
    let job = &base.car.job;
    html! {
        @if job.order.film != job::Coverage::None {
            p { "Seams on the sides: "
                @match &job.sides {
                    Some(s) => { (counted(s.seams.len(), "seam", "seams")) " on each, " (seen(at, s.in_sight)) " in sight in all. " }
                    None => { "none but at the shut lines. " }
                }
                a.act href=(path(at)) { "Weigh seams" }
            }
        }
    }
}
