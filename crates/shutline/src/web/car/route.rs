//! Route: the steps in their order, and why.

use super::{Base, Fault, Refusal, Returned, Sheet, Typed, counted, document, fold, framed, panels, unknown};
use crate::web::{form, layout};
use axum::response::Response;
use job::{PanelId, Stage, StepNo, StepState};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, car_mini};
use report::sketch;
use report::words::Words;
use studio::view::{RouteView, StepView};

pub(super) async fn page(at: &Sheet, returned: Returned) -> Result<Response, Fault> {
    let (base, view) = at.ask(|s, id| s.route_view(id)).await?;
    let job = &base.car.job;
    let done = view.steps.iter().filter(|s| over(&s.state)).count();
    let lead = html! {
        (counted(view.steps.len(), "step", "steps")) ", " (layout::duration(&at.desk.words, view.work)) " of work"
        @if done > 0 { ", " (done) " done" } "."
    };
    let settled = job.acceptance.is_none() || job.route_follows_consent();
    let fresh = view.set && view.stale.is_none() && settled;
    let acts = html! {
        (document(at, "route", "Route sheet, PDF"))
        @if job.is_open() && view.problem.is_none() {
            @if !view.set { (at.button("set", true, "Set the route")) }
            @else { (at.button("set", !fresh, "Set it anew")) }
        }
        @if fresh && job.acceptance.is_some() && job.is_open() {
            @if job.order.film != job::Coverage::None && job.cut.is_none() { a.btn.main href=(at.to(Stage::Film)) { "On to the film" } }
            @else { a.btn.main href=(at.to(Stage::Work)) { "On to the work" } }
        }
    };
    let body = html! {
        (returned.refusal("set"))
        @if let Some(problem) = &view.problem { div.note.error { p { b { "There is no valid route." } } p { (at.desk.words.told(problem)) } } }
        @if let Some(stale) = &view.stale { div.note.error { p { b { "This route is out of date." } } p { (at.desk.words.told(stale)) } } }
        (broken(&at.desk.words, view.stale.is_some(), &view.breaches))
        @for o in job.route.iter().flat_map(|r| &r.overrides) {
            div.note.caution { p { b { "Taken on by " (o.signed.name) ", " (at.desk.words.moment(o.signed.at)) ". " } (o.rule) " Reason: " (o.reason) } }
        }
        @if !view.set && view.problem.is_none() && !view.steps.is_empty() {
            (layout::note(html! { p { b { "Not set yet. " } "This is what would be set now"
                @if job.acceptance.is_none() { ": cleaning and survey, as far as one may go before the customer agrees" } "." } }))
        }
        (refused(at, &returned))
        (steps(at, &base, &view))
        @if job.is_open() && view.set {
            (place(at, &view, &returned))
            (add(at, &base, &view, &returned))
            (leave_out(at, &view, &returned))
        }
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

/// Rules that the route breaks: loudly one by one, while they can be taken in; a route that is out of date misses most of what
/// the new order asks for, and tells it in one place.
fn broken(words: &Words, stale: bool, breaches: &[String]) -> Markup {
    const AT_ONCE: usize = 4;
    let (loud, rest) = breaches.split_at(if stale { 0 } else { breaches.len().min(AT_ONCE) });
    let more = match (stale, rest.len()) {
        (_, 0) => {
            return html! { @for breach in loud { div.note.error { p { b { "A rule is broken. " } (words.told(breach)) } } } };
        }
        (true, n) => {
            format!("As it stands it breaks a rule or leaves a goal open {}", counted(n, "time", "times"))
        }
        (false, n) => format!("And {}", counted(n, "more", "more")),
    };
    html! {
        @for breach in loud { div.note.error { p { b { "A rule is broken. " } (words.told(breach)) } } }
        div.note.error { details { summary { b { (more) } } ul { @for breach in rest { li { (words.told(breach)) } } } } }
    }
}

fn over(state: &StepState) -> bool {
    matches!(state, StepState::Done | StepState::Dropped(_))
}

/// The sequence, drawn as a line with numbered stations: what is done, then what is to do.
fn steps(at: &Sheet, base: &Base, view: &RouteView) -> Markup {
    if view.steps.is_empty() {
        return layout::empty(html! { p { "No steps. The route follows from the findings and the order." } });
    }
    let open: Vec<StepNo> = view.steps.iter().filter(|s| !over(&s.state)).map(|s| s.planned.no).collect();
    let sortable = view.set && base.car.job.is_open();
    let (done, todo): (Vec<_>, Vec<_>) = view.steps.iter().enumerate().partition(|(_, s)| over(&s.state));
    let groups = [(format!("Done, {}", done.len()), done), (format!("To do, {}", todo.len()), todo)];
    html! {
        section #steps {
            h2.unseen { "Steps" }
            @for (title, list) in groups.iter().filter(|(_, list)| !list.is_empty()) {
                h3.day { (title) }
                ol.sequence { @for (i, s) in list { (step(at, base, i + 1, s, view, sortable.then_some(&open))) } }
            }
        }
    }
}

fn step(
    at: &Sheet,
    base: &Base,
    n: usize,
    s: &StepView,
    view: &RouteView,
    open: Option<&Vec<StepNo>>,
) -> Markup {
    let words = &at.desk.words;
    let p = &s.planned;
    let class = match s.state {
        StepState::Done => "done",
        StepState::Running | StepState::Paused => "running",
        StepState::Dropped(_) => "dropped",
        StepState::Todo => "todo",
    };
    let times = html! {
        @match (s.record.as_ref().and_then(|r| r.spans.first()), &s.booking) {
            (Some(span), _) => { (layout::moment(words, base.car.now, span.from)) ", " }
            (None, Some(b)) => { (layout::moment(words, base.car.now, b.from)) ", " }
            (None, None) => {}
        }
        (layout::duration(words, p.work))
        @if p.wait.as_minutes() > 0.0 { ", then " (words.duration(p.wait)) " rest" }
    };
    let room = if p.room == "any" {
        "Anywhere".to_owned()
    } else if p.room == "bench" {
        "At the bench".to_owned()
    } else {
        super::capital(&p.room.replace('_', " "))
    };
    let bay = s.booking.as_ref().and_then(|b| b.bay.clone()).unwrap_or(room);
    let who = match &s.record {
        Some(r) if !r.spans.is_empty() => {
            let mut names: Vec<&str> = r.spans.iter().map(|x| x.by.as_str()).collect();
            names.dedup();
            names.join(", ")
        }
        _ => match s.booking.as_ref().filter(|b| !b.people.is_empty()) {
            Some(b) => b.people.join(", "),
            None if p.skill.is_some() => counted(p.people.max(1) as usize, "person", "people"),
            None => "nobody needed".to_owned(),
        },
    };
    let movable = open.filter(|_| !over(&s.state));
    let after = after(view, s);
    html! {
        li class=(class) id={ "step-" (p.no) } {
            span.disc aria-hidden="true" { (n) }
            div.station {
                a.what href={ (at.car_path()) "/step/" (p.no) } {
                    b { span.unseen { "Step " (n) ": " } (p.title) }
                    span.quiet { (panels::line(&p.panels)) }
                }
                div.where_ { span { (bay) } span.quiet { (who) } }
                div.when { (times) @match &s.state {
                    StepState::Done => { " " (layout::tag("done")) }
                    StepState::Running => { " " (layout::tag("running")) }
                    StepState::Paused => { " " (layout::tag("paused")) }
                    StepState::Dropped(why) => { " " (layout::tag("left out")) " " small { (why) } }
                    StepState::Todo => {}
                } }
                details.how.why { summary { span.v { "Why here" } }
                    div.account {
                        @if !p.panels.is_empty() { div.stepcar { (layout::drawing(car_mini(base.car.body, &p.title, &sketch::hatched(&p.panels, Hatch::Film), false, Medium::Page { id: &format!("s{}", p.no) }))) } }
                        @for why in &p.why { p { (at.desk.words.told(why)) } }
                        @if !after.is_empty() { p.small { "Comes after " (after) "." } }
                        @for w in &s.warnings { p.loud { (at.desk.words.told(w)) } }
                    }
                }
                @if let Some(open) = movable { (moves(at, p.no, &p.title, open)) }
            }
        }
    }
}

/// What must be over first, in words.
fn after(view: &RouteView, s: &StepView) -> String {
    let named = s.planned.after.iter().filter_map(|a| {
        let i = view.steps.iter().position(|x| x.planned.no == a.step)?;
        let least = a.least.as_minutes();
        let wait = if least > 0.0 {
            format!(" and {} rest", studio::engine::minutes_in_words(least))
        } else {
            String::new()
        };
        Some(format!("step {} ({}){wait}", i + 1, view.steps[i].planned.title))
    });
    named.collect::<Vec<_>>().join(", ")
}

/// Buttons that move a step by one place.
fn moves(at: &Sheet, no: StepNo, title: &str, open: &[StepNo]) -> Markup {
    let Some(i) = open.iter().position(|n| *n == no) else { return html! {} };
    html! {
        form.moves method="post" action=(at.path()) {
            input type="hidden" name="form" value="sort";
            input type="hidden" name="key" value=(form::fresh_key());
            @if i > 0 {
                input type="hidden" name="up" value=(listed(&moved(open, i, i - 1)));
                button name="do" value="up" aria-label={ "Move " (title) " up" } { "↑" }
            }
            @if i + 1 < open.len() {
                input type="hidden" name="down" value=(listed(&moved(open, i, i + 1)));
                button name="do" value="down" aria-label={ "Move " (title) " down" } { "↓" }
            }
        }
    }
}

fn moved(open: &[StepNo], from: usize, to: usize) -> Vec<StepNo> {
    let mut list = open.to_vec();
    let step = list.remove(from);
    list.insert(to.min(list.len()), step);
    list
}

fn listed(list: &[StepNo]) -> String {
    list.iter().map(ToString::to_string).collect::<Vec<_>>().join(",")
}

fn numbers(text: &str) -> Vec<StepNo> {
    text.split(',').filter_map(|n| n.trim().parse().ok()).map(StepNo).collect()
}

/// A change that was refused, to be taken on by name all the same: the same form again, with name and reason.
fn refused(at: &Sheet, returned: &Returned) -> Markup {
    let Some(form) = ["sort", "add", "leave_out"].into_iter().find(|f| returned.is(f)) else {
        return html! {};
    };
    let typed = returned.or(Typed::new(form)).with("name", at.desk.by());
    html! {
        (returned.refusal(form))
        div.note {
            p { b { "Take it on all the same?" } " Name and reason stay in the record, beside the rule that is broken." }
            (at.form(&typed, html! {
                @if form == "sort" { input type="hidden" name="order" value=(wanted(&typed)); }
                @for field in ["no", "add", "before"] {
                    @if form != "sort" { input type="hidden" name=(field) value=(typed.get(field)); }
                }
                @for panel in typed.all("panels") { input type="hidden" name="panels" value=(panel); }
                div.fields {
                    (typed.field("name", "Your name"))
                    (typed.field("reason", "Reason").wide())
                }
                p.acts { button name="do" value="take_on" { "I take it on" } a.btn href=(at.path()) { "Keep the derived order" } }
            }))
        }
    }
}

/// The order that a form asks for.
fn wanted(typed: &Typed) -> String {
    let field = match typed.get("do") {
        "up" => "up",
        "down" => "down",
        _ => "order",
    };
    typed.get(field).to_owned()
}

/// A step put to a place by number.
fn place(at: &Sheet, view: &RouteView, returned: &Returned) -> Markup {
    let open: Vec<(usize, &StepView)> =
        view.steps.iter().enumerate().filter(|(_, s)| !over(&s.state)).map(|(i, s)| (i + 1, s)).collect();
    let choices: Vec<(String, String)> =
        open.iter().map(|(i, s)| (s.planned.no.to_string(), format!("{i}: {}", s.planned.title))).collect();
    let typed = returned.or(Typed::new("place"));
    let order: Vec<StepNo> = open.iter().map(|(_, s)| s.planned.no).collect();
    let first = open.first().map_or(1, |(i, _)| *i);
    html! { @if open.len() > 2 {
        section.behind {
            (fold("place", "Put a step to another place", returned.is("place"), html! {
                (returned.refusal("place"))
                (at.form(&typed, html! {
                    input type="hidden" name="order" value=(listed(&order));
                    input type="hidden" name="first" value=(first);
                    div.fields {
                        (typed.select("step", "Step", &choices))
                        (typed.field("to", "To place").numeric().hint("Its number on the line."))
                    }
                    p.acts { button { "Put it there" } }
                }))
            }))
        }
    } }
}

/// A step of the library put in by hand.
fn add(at: &Sheet, base: &Base, view: &RouteView, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("add"));
    let steps: Vec<(&str, &str)> =
        view.library.iter().map(|(id, title)| (id.as_str(), title.as_str())).collect();
    let open = view.steps.iter().filter(|s| !over(&s.state));
    let before: Vec<(String, String)> = std::iter::once((String::new(), "At the end".to_owned()))
        .chain(open.map(|s| (s.planned.no.to_string(), format!("Before {}", s.planned.title))))
        .collect();
    let panels: Vec<(String, String)> =
        base.car.body.panels().iter().map(|p| (p.id.to_owned(), p.title.to_owned())).collect();
    html! {
        section.behind {
            (fold("add", "Put in a step", false, html! {
                (at.form(&typed, html! {
                    div.fields {
                        (typed.select("add", "Step", &steps))
                        (typed.select("before", "Where", &before))
                    }
                    (typed.ticks("panels", "On these panels, when it is about panels", &panels))
                    p.acts { button { "Put it in" } }
                }))
            }))
        }
    }
}

/// A step taken off the route.
fn leave_out(at: &Sheet, view: &RouteView, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("leave_out"));
    let todo = view.steps.iter().enumerate().filter(|(_, s)| s.state == StepState::Todo);
    let choices: Vec<(String, String)> =
        todo.map(|(i, s)| (s.planned.no.to_string(), format!("{}: {}", i + 1, s.planned.title))).collect();
    html! { @if !choices.is_empty() {
        section.behind {
            (fold("leave_out", "Leave a step out", false, html! {
                (at.form(&typed, html! {
                    div.fields { (typed.select("no", "Step", &choices)) }
                    p.acts { button { "Leave it out" } }
                }))
            }))
        }
    } }
}

/// Name and reason of somebody who takes a broken rule on.
fn taken_on(typed: &Typed) -> Result<Option<(String, String)>, Refusal> {
    if typed.get("do") != "take_on" {
        return Ok(None);
    }
    let (name, reason) = (typed.text("name"), typed.text("reason"));
    if name.is_empty() || reason.is_empty() {
        return Err(Refusal::invalid("Name or reason is missing", "Write who takes it on, and why."));
    }
    Ok(Some((name, reason)))
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    match typed.form() {
        "set" => {
            at.save(typed, format!("{}#steps", at.path()), |s, id, stamp| s.set_route(id, stamp).map(drop))
                .await
        }
        "sort" => {
            let order = numbers(&wanted(typed));
            let by = taken_on(typed)?;
            sort(at, typed, order, by).await
        }
        "add" => {
            let by = taken_on(typed)?;
            let step = typed.text("add");
            let panels: Vec<PanelId> = typed.all("panels").map(PanelId::from).collect();
            let before = typed.get("before").parse().ok().map(StepNo);
            at.save(typed, format!("{}#steps", at.path()), move |s, id, stamp| {
                let take_on = by.as_ref().map(|(n, r)| (n.as_str(), r.as_str()));
                s.add_to_route(id, stamp, (&step, &panels), before, take_on).map(drop)
            })
            .await
        }
        "leave_out" => {
            let by = taken_on(typed)?;
            let no = StepNo(typed.whole("no").unwrap_or_default());
            at.save(typed, format!("{}#steps", at.path()), move |s, id, stamp| {
                let take_on = by.as_ref().map(|(n, r)| (n.as_str(), r.as_str()));
                s.take_off_route(id, stamp, no, take_on).map(drop)
            })
            .await
        }
        "place" => {
            let mut order = numbers(typed.get("order"));
            let no = StepNo(typed.whole("step").unwrap_or_default());
            let first = typed.whole("first").unwrap_or(1) as usize;
            let to = typed.needed("to") as usize;
            typed.sound()?;
            let Some(from) = order.iter().position(|n| *n == no) else {
                return Err(Refusal::not_found("This step is not open", "Open the route again."));
            };
            if to < first || to >= first + order.len() {
                return Err(Refusal::invalid(
                    format!("There is no place {to} among the open steps"),
                    format!("Choose a number from {first} to {}.", first + order.len() - 1),
                ));
            }
            order = moved(&order, from, to - first);
            let mut sent = Typed::new("sort").with("order", listed(&order));
            if let Some(key) = typed.key() {
                sent = sent.with("key", key);
            }
            *typed = sent;
            sort(at, typed, order, None).await
        }
        other => Err(unknown(other)),
    }
}

async fn sort(
    at: &Sheet,
    typed: &Typed,
    order: Vec<StepNo>,
    by: Option<(String, String)>,
) -> Result<Response, Refusal> {
    at.save(typed, format!("{}#steps", at.path()), move |s, id, stamp| {
        let take_on = by.as_ref().map(|(n, r)| (n.as_str(), r.as_str()));
        s.reorder_route(id, stamp, &order, take_on).map(drop)
    })
    .await
}
