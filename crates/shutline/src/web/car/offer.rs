//! Offer: ways to go on side by side, consent, and change orders.

use super::{
    Base, Fault, Refusal, Returned, Sheet, Typed, document, fold, framed, order, section, sides, sign,
    unknown,
};
use crate::web::{assets, layout};
use axum::http::{HeaderValue, header};
use axum::response::Response;
use job::{ChangeNo, ChangeOrder, ChangeState, Offer, OfferNo, OfferOption, Stage};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, car_mini};
use report::sketch;
use std::time::Duration;
use studio::command::NewJob;
use studio::reckoning::OfferState;
use studio::view::{ChangeView, DraftOption, OfferView};

/// What came of a form.
pub(super) enum Answer {
    /// It is done: go on.
    Gone(Response),
    /// A change was reckoned, to be looked at before it is proposed.
    Reckoned(Box<Reckoned>),
}

/// A change as it would be proposed now, with what was typed.
pub(super) struct Reckoned {
    typed: Typed,
    view: ChangeView,
}

/// How long a page waits for options that are being reckoned, before it shows how far they are. Tests wait for them.
const PATIENCE: Duration = if cfg!(test) { Duration::from_secs(600) } else { Duration::from_millis(400) };

pub(super) async fn page(
    at: &Sheet,
    returned: Returned,
    reckoned: Option<Reckoned>,
) -> Result<Response, Fault> {
    let studio = at.desk.shell.studio.clone();
    // What somebody typed and what was refused is answered whole, however long it takes.
    let patience =
        if returned.is(&at.sent) || reckoned.is_some() { Duration::from_secs(600) } else { PATIENCE };
    let (base, state) = at.ask(move |_, id| studio.offer_soon(id, patience)).await?;
    let view = match state {
        OfferState::Ready(view) => *view,
        OfferState::Reckoning(done, count) => return Ok(reckoning(at, &base, &returned, done, count)),
    };
    let job = &base.car.job;
    let made = job.offers.last();
    let lead = match (job.acceptance.as_ref(), made) {
        (Some(a), _) => {
            html! { (a.signed.name) " agreed to offer " (a.offer) ", " (at.desk.words.moment(a.signed.at)) "." }
        }
        (None, Some(o)) => {
            html! { "Offer " (o.no) " of " (at.desk.words.moment(o.at)) ", valid until " (at.desk.words.moment(o.valid_until)) "." }
        }
        (None, None) => html! { "Not offered yet: the options as they are reckoned now." },
    };
    let acts = html! {
        (document(at, "offer", "Offer, PDF"))
        @if job.acceptance.is_some() && job.is_open() && !job.route_follows_consent() {
            a.btn.main href=(at.to(Stage::Route)) { "On to the route" }
        }
    };
    let body = html! {
        script type="module" src=(assets::url("sign.js")) {}
        @if job.survey_closed.is_none() && job.is_open() {
            div.note.error {
                p { b { "No offer can be made yet." } " It rests on what was found and read." }
                p { a href={ (at.to(Stage::Survey)) "#missing" } { "Close the survey" } }
            }
        }
        @match (made, job.acceptance.is_some()) {
            (Some(offer), true) => { (agreed(at, &base, &view, offer)) (changes(at, &base, &returned, reckoned.as_ref())) }
            (Some(offer), false) => { (choice(at, &base, &view, offer, &returned)) (again(at, &base, &view, &returned)) }
            (None, _) => { (draft(at, &base, &view, &returned)) }
        }
        @if job.is_open() && job.acceptance.is_none() { (sides::part(at, &base)) }
        (limits(at, &view, made))
        @if job.acceptance.is_none() && job.is_open() { (wanted(at, &base, &returned)) }
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

/// How far the options are, while they are being reckoned: the page asks again by itself.
fn reckoning(at: &Sheet, base: &Base, returned: &Returned, done: usize, count: usize) -> Response {
    let body = section(
        "options",
        "Ways to go on",
        html! {
            p role="status" { "Reckoning the options" @if count > 0 { ": " (done + 1) " of " (count) } "." }
            progress max=(count.max(1)) value=(done) aria-label="How many options are done" {}
            p.quiet { "Steps, film, hours and dates of each are worked out. It takes a few seconds the first time; this page goes on by itself." }
            p { a.btn href=(at.path()) { "Look again" } }
        },
    );
    let mut response = framed(at, base, returned, html! { "Being reckoned." }, html! {}, body);
    response.headers_mut().insert(header::REFRESH, HeaderValue::from_static("1"));
    response
}

/// One option on its card. What is explained comes from the draft, if the draft is still the same.
struct Card<'a> {
    option: &'a OfferOption,
    draft: Option<&'a DraftOption>,
    /// Whether it is put before the customer, and so stands.
    made: bool,
}

/// Cards side by side, their rows on common lines.
fn cards(at: &Sheet, base: &Base, list: &[Card<'_>], foot: impl Fn(&Card<'_>) -> Markup) -> Markup {
    // All rows that any of them has, in the order in which they first come.
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in list.iter().filter_map(|c| c.draft).flat_map(|d| &d.rows) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    html! { div.offers { @for c in list { (card(at, base, c, &names, foot(c))) } } }
}

fn card(at: &Sheet, base: &Base, c: &Card<'_>, names: &[&str], foot: Markup) -> Markup {
    let words = &at.desk.words;
    let car = &base.car;
    let quote = &c.option.quote;
    let taken = car.job.acceptance.as_ref().is_some_and(|a| a.option == c.option.id);
    let covered = studio::engine::film::covered(&c.option.order, car.body);
    let hatched = sketch::hatched(&covered, Hatch::Film);
    let title = format!("What film covers: {}", c.option.title);
    let id = format!("o-{}", c.option.id);
    let problem = c.draft.filter(|_| !c.made).and_then(|d| d.problem.as_ref());
    let row = |name: &str| {
        c.draft
            .and_then(|d| d.rows.iter().find(|(n, _)| n == name))
            .map_or_else(|| "–".to_owned(), |(_, text)| words.told(text))
    };
    let deposit = studio::view::deposit(quote.gross, &car.shop.settings.prices);
    let back = c.option.back_by.map(|t| words.moment(t));
    let open = car.job.acceptance.is_none() && car.job.is_open();
    html! {
        article.card.now[taken || (c.option.advised && car.job.acceptance.is_none())] {
            header { h3 { (c.option.title) } @if taken { (layout::tag("agreed")) } @else if c.option.advised { (layout::tag("as asked for")) } }
            p.quiet { (c.option.buys) }
            (layout::drawing(car_mini(car.body, &title, &hatched, true, Medium::Page { id: &id })))
            @if problem.is_some() && quote.gross == units::Money::ZERO { p {} p {} }
            @else {
                p.price { b { (words.money(quote.gross)) } }
                p.small.quiet {
                    "Fixed, tax included; holds in " (format!("{:.0}", quote.held * 100.0)) " of 100 such jobs. Half of them come to "
                    span.v { (words.money(quote.likely)) } " or less."
                    @if deposit > units::Money::ZERO { " Deposit on acceptance: " span.v { (words.money(deposit)) } "." }
                }
            }
            dl.facts.rows { @for name in names {
                div { dt { (name) } dd { @if *name == "Back" && c.made { (back.as_deref().unwrap_or("–")) } @else { (row(name)) } } }
            } }
            @if let Some(later) = c.draft.filter(|_| c.made && open).and_then(|d| later(c.option, &d.option)) {
                p.loud { b { "Not by then. " } "As the shop is planned now, back " (words.moment(later)) "." }
            }
            div.computed { @if let Some(d) = c.draft {
                details.how { summary { span.v { "How this is computed" } }
                    div.account { (layout::figures(words, &d.figures)) (lines(at, c.option)) }
                }
            } }
            div.foot {
                @if let Some(p) = problem { div.note.error { p { b { "Cannot be offered as it stands." } } p { (words.told(p)) } } }
                (foot)
            }
        }
    }
}

/// What the price is made of.
fn lines(at: &Sheet, option: &OfferOption) -> Markup {
    let words = &at.desk.words;
    html! {
        table.lines {
            caption { "What the price is made of" }
            tbody {
                @for l in &option.quote.lines { tr { th { (words.told(&l.label)) } td.quiet { (words.told(&l.quantity)) } td.n { (words.money(l.net)) } } }
                tr { th { "Tax" } td {} td.n { (words.money(option.quote.tax)) } }
                tr { th { "To pay" } td {} td.n { b { (words.money(option.quote.gross)) } } }
            }
        }
    }
}

/// Options as they would be offered now.
fn draft(at: &Sheet, base: &Base, view: &OfferView, returned: &Returned) -> Markup {
    let list: Vec<Card<'_>> =
        view.draft.iter().map(|d| Card { option: &d.option, draft: Some(d), made: false }).collect();
    let can = base.car.job.survey_closed.is_some()
        && base.car.job.is_open()
        && view.draft.iter().any(|d| d.problem.is_none());
    section(
        "options",
        "Ways to go on",
        html! {
            (cards(at, base, &list, |_| html! {}))
            (returned.refusal("offer"))
            @if can { p.acts { (at.button("offer", true, "Make the offer")) } }
        },
    )
}

/// The options of an offer, to be chosen from.
fn choice(at: &Sheet, base: &Base, view: &OfferView, offer: &Offer, returned: &Returned) -> Markup {
    let begins = offer.options.iter().find(|o| o.advised).map(|o| o.id.as_str()).unwrap_or_default();
    let typed =
        returned.or(Typed::new("accept").with("option", begins).with("name", &base.car.job.customer.name));
    let list: Vec<Card<'_>> = offer
        .options
        .iter()
        .map(|o| Card { option: o, draft: view.draft.iter().find(|d| d.option.id == o.id), made: true })
        .collect();
    let out = offer.valid_until < base.car.now;
    let open = base.car.job.is_open() && !out;
    section(
        "options",
        "Ways to go on",
        html! {
            @if out { div.note.error { p { b { "This offer has run out." } " Prices and dates may have moved: make it anew." } } }
            (returned.refusal("accept"))
            (at.form(&typed, html! {
                input type="hidden" name="offer" value=(offer.no);
                (cards(at, base, &list, |c| html! { @if open {
                    label.tick { input type="radio" name="option" value=(c.option.id) checked[typed.holds("option", &c.option.id)]; b { "Take " (c.option.title.to_lowercase()) } }
                } }))
                @if open {
                    div.fields.agree {
                        (typed.field("name", "Name of the customer").required())
                        (sign::field("sign-accept"))
                    }
                    p.acts { button.main { "Agree to the marked option" } }
                }
            }))
        },
    )
}

/// When the car would be back as things stand now, if that is later than what was offered.
fn later(offered: &OfferOption, now: &OfferOption) -> Option<jiff::Timestamp> {
    now.back_by.zip(offered.back_by).filter(|(now, offered)| now > offered).map(|(now, _)| now)
}

fn again(at: &Sheet, base: &Base, view: &OfferView, returned: &Returned) -> Markup {
    let Some(made) = base.car.job.offers.last() else { return html! {} };
    let moved = view.draft.iter().any(|d| {
        made.options
            .iter()
            .find(|o| o.id == d.option.id)
            .is_none_or(|o| o.quote.gross != d.option.quote.gross || later(o, &d.option).is_some())
    });
    html! { @if base.car.job.is_open() {
        (returned.refusal("offer"))
        (layout::note_with(
            html! { @if moved { p { b { "Prices, scope or dates have moved since this offer was made." } " Made anew, it takes the place of this one." } }
                @else { p { "Nothing has moved since this offer was made." } } },
            at.button("offer", made.valid_until < base.car.now, "Make the offer anew"),
        ))
    } }
}

fn agreed(at: &Sheet, base: &Base, view: &OfferView, offer: &Offer) -> Markup {
    let job = &base.car.job;
    let Some(option) = job.accepted() else { return html! {} };
    let draft = view.draft.iter().find(|d| d.option.id == option.id);
    let others: Vec<&OfferOption> = offer.options.iter().filter(|o| o.id != option.id).collect();
    section(
        "options",
        "Agreed",
        html! {
            (cards(at, base, &[Card { option, draft, made: true }], |_| html! {
                @if let Some(a) = &job.acceptance { (sign::shown(&a.strokes, &a.signed.name)) }
            }))
            @if !others.is_empty() {
                p.small.quiet { "Also offered: " @for (i, o) in others.iter().enumerate() { @if i > 0 { ", " } (o.title.to_lowercase()) " for " (at.desk.words.money(o.quote.gross)) } "." }
            }
        },
    )
}

fn limits(at: &Sheet, view: &OfferView, made: Option<&Offer>) -> Markup {
    let not = made.map_or(&view.not_attempted, |o| &o.not_attempted);
    html! {
        section.even {
            div { h2 { "What we will not do" }
                @if not.is_empty() { p { "Nothing that was asked for is left out." } }
                @else { ul { @for n in not { li { (at.desk.words.told(n)) } } } }
            }
            div { h2 { "Terms" } ul { @for t in &view.terms { li { (t) } } @if !view.deposit.is_empty() { li { (view.deposit) } } } }
        }
    }
}

/// The order, to be changed before consent.
fn wanted(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let typed = returned.or(order::typed("order", &base.car.job.order));
    section(
        "wanted",
        "What was asked for",
        html! {
            (fold("order", "Change the order", returned.is("order"), html! {
                (returned.refusal("order"))
                (at.form(&typed, html! {
                    (super::before(&base.car))
                    (order::fields(&typed, base.car.body))
                    p.acts { button { "Keep this order" } }
                }))
            }))
        },
    )
}

/// Change orders: answered ones, the one that waits, and a new one.
fn changes(at: &Sheet, base: &Base, returned: &Returned, reckoned: Option<&Reckoned>) -> Markup {
    let job = &base.car.job;
    let typed = reckoned.map_or_else(|| returned.or(order::typed("change", &job.order)), |r| r.typed.clone());
    section(
        "changes",
        "Change orders",
        html! {
            @if job.changes.is_empty() {
                (layout::empty(html! { p { "None. If something turns up, it is shown with a price and a date, and agreed before it is worked on." } }))
            }
            @for c in job.changes.iter().rev() { (change(at, base, c, returned)) }
            @if job.is_open() && job.open_change().is_none() {
                (fold("change", "Propose a change", returned.is("change") || reckoned.is_some(), html! {
                    (returned.refusal("change"))
                    (at.form(&typed, html! {
                        (order::fields(&typed, base.car.body))
                        (typed.area("reason", "Why, in a sentence for the customer", "", 2))
                        @if let Some(r) = reckoned { (figures(at, r)) }
                        p.acts {
                            button.main[reckoned.is_none()] name="do" value="reckon" { "Reckon it" }
                            @if reckoned.is_some() { button.main name="do" value="propose" { "Propose it to the customer" } }
                        }
                    }))
                }))
            }
        },
    )
}

/// What a change would bring, before it is proposed.
fn figures(at: &Sheet, r: &Reckoned) -> Markup {
    let words = &at.desk.words;
    let change = &r.view.change;
    html! {
        div.note #reckoned tabindex="-1" autofocus {
            p { b { "What this change would bring" } ", reckoned from where the car stands now. Nothing is proposed yet." }
            (layout::figures(words, &r.view.figures))
            (layout::facts(&[
                ("Whole scope then", html! { (words.money(change.quote.gross)) }),
                ("Back", html! { (change.back_by.map_or("not known".to_owned(), |t| words.moment(t))) }),
            ]))
        }
    }
}

fn change(at: &Sheet, base: &Base, c: &ChangeOrder, returned: &Returned) -> Markup {
    let words = &at.desk.words;
    let form = format!("answer-{}", c.no);
    let typed = returned.or(Typed::new(&form).with("name", &base.car.job.customer.name));
    let state = match &c.state {
        ChangeState::Proposed => "waits for the customer".to_owned(),
        ChangeState::Agreed(s) => format!("agreed by {}, {}", s.name, words.moment(s.at)),
        ChangeState::Declined(s) => format!("declined by {}, {}", s.name, words.moment(s.at)),
    };
    let less = c.more < units::Money::ZERO;
    html! {
        article.card.now[c.state == ChangeState::Proposed] #{ "change-" (c.no) } {
            header { h3 { "Change order " (c.no) } (layout::tag(&state)) }
            p { (c.reason) }
            (layout::facts(&[
                (if less { "Less to pay" } else { "More to pay" }, html! { (words.money(c.more)) }),
                ("More work", layout::quantity(format!("{:.1}", c.more_hours.as_hours()), "h")),
                ("More clear coat", layout::quantity(words.thickness(c.more_clear), words.thickness_unit())),
                ("Whole scope then", html! { (words.money(c.quote.gross)) }),
                ("Back", html! { (c.back_by.map_or("–".to_owned(), |t| words.moment(t))) }),
                ("Findings behind it", html! { @if c.findings.is_empty() { "–" } @for no in &c.findings { a.no href={ (at.to(Stage::Survey)) "#finding-" (no) } { (no) } " " } }),
            ]))
            (sign::shown(&c.strokes, "the customer"))
            p.small.quiet { "Proposed" (layout::by(&c.by)) ", " (words.moment(c.at)) "." }
            @if c.state == ChangeState::Proposed && base.car.job.is_open() {
                (returned.refusal(&form))
                (at.form(&typed, html! {
                    input type="hidden" name="no" value=(c.no);
                    div.fields {
                        (typed.field("name", "Name of the customer").required())
                        (sign::field(&format!("sign-{form}")))
                    }
                    p.acts {
                        button.main name="do" value="agree" { "The customer agrees" }
                        button name="do" value="decline" { "The customer declines" }
                    }
                }))
            }
            p.acts { (document(at, &format!("change-{}", c.no), "Change order, PDF")) }
        }
    }
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Answer, Refusal> {
    let form = typed.form().to_owned();
    let gone = match form.as_str() {
        "order" => {
            let order = order::read(typed);
            typed.sound()?;
            at.save(typed, format!("{}#options", at.path()), move |s, id, stamp| {
                let job = s.job(id)?.job;
                let new = NewJob {
                    car: job.car.clone(),
                    customer: job.customer.clone(),
                    order,
                    promised: job.promised,
                    expected: job.expected,
                };
                s.change_booking(id, stamp, &new).map(drop)
            })
            .await?
        }
        "offer" => {
            at.save(typed, format!("{}#options", at.path()), |s, id, stamp| s.make_offer(id, stamp).map(drop))
                .await?
        }
        "accept" => {
            let offer = OfferNo(typed.whole("offer").unwrap_or_default());
            let (option, name) = (typed.get("option").to_owned(), typed.text("name"));
            if option.is_empty() {
                return Err(Refusal::invalid("No option is marked", "Mark one of them, then agree."));
            }
            let strokes = sign::read(typed)?;
            at.save(typed, at.to(Stage::Route), move |s, id, stamp| {
                s.accept(id, stamp, offer, &option, &name, &strokes).map(drop)
            })
            .await?
        }
        "change" => {
            let order = order::read(typed);
            let reason = typed.text("reason");
            typed.sound()?;
            if typed.get("do") != "propose" {
                let id = at.id.clone();
                let view = at.desk.shell.ask(move |s| s.change_view(&id, &order, &reason)).await?;
                return Ok(Answer::Reckoned(Box::new(Reckoned { typed: typed.clone(), view })));
            }
            at.save(typed, format!("{}#changes", at.path()), move |s, id, stamp| {
                s.propose_change(id, stamp, &order, &reason).map(drop)
            })
            .await?
        }
        other if other.starts_with("answer-") => {
            let no = ChangeNo(typed.whole("no").unwrap_or_default());
            let (agreed, name) = (typed.get("do") == "agree", typed.text("name"));
            let to = if agreed { at.to(Stage::Route) } else { format!("{}#changes", at.path()) };
            let strokes = sign::read(typed)?;
            at.save(typed, to, move |s, id, stamp| {
                s.answer_change(id, stamp, no, agreed, &name, &strokes).map(drop)
            })
            .await?
        }
        other => return Err(unknown(other)),
    };
    Ok(Answer::Gone(gone))
}
