//! Findings: put on the drawing, described, listed, mended and taken back.

use super::{
    Base, Fault, Returned, Sheet, Typed, before, capital, choice, counted, dressed, fold, panels, part,
    pictures, section, word,
};
use crate::web::layout::{self, Room};
use crate::web::shell::Desk;
use axum::extract::Path;
use axum::response::{Html, IntoResponse, Response};
use body::View;
use job::{Finding, FindingKind, FindingNo, Job, PanelId, Place, Severity, Stage};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, car_sheet, car_view};
use report::sketch;
use studio::Refusal;
use studio::engine::WHOLE_CAR;
use studio::view::CarView;

/// What severities mean, as the key says it.
const KEY: [(Hatch, &str); 3] = [
    (Hatch::Light, "light: polish or wash"),
    (Hatch::Marked, "marked: reduce, or cover"),
    (Hatch::Deep, "deep: not worked on without consent"),
];

/// Drawing, form and table of a car's findings.
pub(super) fn findings(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let car = &base.car;
    let list: Vec<&Finding> = car.job.standing().collect();
    let back: Vec<&Finding> = car.job.findings.iter().filter(|f| !f.stands()).collect();
    let title = if list.is_empty() { "Findings".to_owned() } else { format!("Findings, {}", list.len()) };
    section(
        "findings",
        &title,
        html! {
            (drawing(car, &list))
            @if car.job.is_open() { (adding(at, car, returned)) }
            @if list.is_empty() {
                (layout::empty(html! { p { "No findings yet. Tap a spot on the drawing, or choose a panel from the list." } }))
            } @else { (table(at, &car.job, &list)) }
            @if !back.is_empty() {
                (fold("back", &format!("Taken back, {}", back.len()), false, html! {
                    ul { @for f in back {
                        li { (f.no) ": " (f.kind.title()) ", " (f.place.panel.title()) ". " (f.withdrawn.clone().unwrap_or_default()) }
                    } }
                }))
            }
        },
    )
}

/// The form for a new finding behind its fold.
pub(super) fn adding(at: &Sheet, car: &CarView, returned: &Returned) -> Markup {
    let typed = returned.or(begun(None));
    fold(
        "find",
        "Add a finding",
        returned.is("find"),
        html! {
            (returned.refusal("find"))
            (at.upload(&typed, html! {
                (fields(at, car, &typed))
                (pictures::fields(&typed))
                p.acts { button { "Record the finding" } }
            }))
        },
    )
}

/// The form of a new finding as it begins.
pub(super) fn begun(panel: Option<&PanelId>) -> Typed {
    let typed = Typed::new("find").with("severity", word(&Severity::Light));
    panel.into_iter().fold(typed, |t, p| t.with("panel", p))
}

/// The drawing that can be tapped: the whole sheet where there is room, single views on a phone.
pub(super) fn drawing(car: &CarView, list: &[&Finding]) -> Markup {
    let marks: Vec<_> = list
        .iter()
        .map(|f| {
            let mut mark = sketch::mark(f);
            mark.href = Some(format!("#finding-{}", f.no));
            mark
        })
        .collect();
    let title = format!("{}, {}", car.tag.name, counted(list.len(), "finding", "findings"));
    tapped(
        car_sheet(car.body, &title, &marks, Medium::Page { id: "car" }),
        |view, name, id| car_view(car.body, view, name, &marks, Medium::Page { id: &format!("v-{id}") }),
        "Tap a spot to put something there.",
        layout::key("sev", &KEY),
    )
}

/// A drawing that can be tapped, or gone over by a cross from the keyboard: the whole sheet where there is room, single views
/// on a phone. `one` draws a view under its name and id.
pub(super) fn tapped(
    sheet: String,
    one: impl Fn(View, &str, &str) -> String,
    hint: &str,
    key: Markup,
) -> Markup {
    let views = [
        (View::Left, "Left side"),
        (View::Top, "From above"),
        (View::Right, "Right side"),
        (View::Front, "Front"),
        (View::Rear, "Rear"),
    ];
    html! {
        figure.tap {
            div.wide-only { (layout::drawing(sheet)) }
            div.phone.views role="region" aria-label="Views of the car, side by side" tabindex="0" {
                @for (view, name) in views {
                    div {
                        (layout::drawing(one(view, name, view.name())))
                        p.small.quiet { (name) @if view != View::Rear { ", next view to the right" } }
                    }
                }
            }
            figcaption {
                span.tapped role="status" { (hint) }
                " " button.slim.onscreen type="button" hidden data-keys { "Place it by keyboard" }
            }
            (key)
        }
    }
}

/// Hidden fields that the drawing fills when it is tapped.
pub(super) fn spot(typed: &Typed) -> Markup {
    html! {
        @for name in ["view", "x", "y"] { input type="hidden" name=(name) value=(typed.get(name)) data-spot=(name); }
    }
}

/// Where, what, how bad.
pub(super) fn fields(at: &Sheet, car: &CarView, typed: &Typed) -> Markup {
    let kinds: Vec<(String, &str)> = FindingKind::ALL.iter().map(|k| (word(k), k.title())).collect();
    let severities = [Severity::Light, Severity::Marked, Severity::Deep];
    let severities: Vec<(String, String)> =
        severities.iter().zip(KEY).map(|(s, (_, says))| (word(s), capital(says))).collect();
    let scale = at.scale();
    html! {
        div.fields data-place {
            (spot(typed))
            (typed.select("panel", "Where", &panels::all(car.body)))
            (typed.select("kind", "What", &kinds))
            (typed.choice("severity", "How bad", &severities))
            (typed.field("size", "Size").unit(scale.small()))
            (typed.field("depth", "Depth, if measured").unit(scale.thickness()))
            (typed.field("count", "How many").numeric())
            (typed.tick("edge", "On an edge or a body line"))
            (typed.area("note", "What was seen", "", 2))
        }
    }
}

fn read(typed: &mut Typed, at: &Sheet, car: &CarView, known: Option<&Place>) -> Result<Finding, Refusal> {
    let place = panels::place(typed, car.body, known);
    let kind: Option<FindingKind> = choice(typed.get("kind"));
    if kind.is_none() {
        typed.complain("kind", "Choose what it is.");
    }
    let severity: Option<Severity> = choice(typed.get("severity"));
    if severity.is_none() {
        typed.complain("severity", "Choose how bad it is.");
    }
    let mut finding = Finding::new(kind.unwrap_or_default(), severity.unwrap_or_default(), place);
    finding.size = typed.number("size").map(|n| at.scale().small_from(n));
    finding.depth = typed.number("depth").map(|n| at.scale().thickness_from(n));
    finding.count = typed.whole("count");
    finding.edge = typed.on("edge");
    finding.note = typed.text("note");
    typed.sound()?;
    Ok(finding)
}

/// Records a new finding with its pictures.
pub(super) async fn find(at: &Sheet, typed: &mut Typed, to: String) -> Result<Response, Refusal> {
    let id = at.id.clone();
    let car = at.desk.shell.ask(move |s| s.car_view(&id)).await?;
    let finding = read(typed, at, &car, None)?;
    let uploads = pictures::checked(at, typed).await?;
    at.save(typed, to, move |studio, id, stamp| {
        studio.find(id, stamp, &finding)?;
        if uploads.is_empty() {
            return Ok(());
        }
        let job = studio.job(id)?.job;
        let no = job
            .findings
            .iter()
            .rev()
            .find(|f| f.place == finding.place && f.kind == finding.kind)
            .map(|f| f.no);
        for (i, file) in uploads.iter().enumerate() {
            studio.add_picture(id, &part(stamp, i), &file.name, &file.bytes, Some(&finding.place), no)?;
        }
        Ok(())
    })
    .await
}

fn table(at: &Sheet, job: &Job, list: &[&Finding]) -> Markup {
    let words = &at.desk.words;
    html! {
        table.fold.flow.findings {
            thead { tr { th { "Finding" } th { "Panel" } th { "Severity" } th { "What was seen" } th { "Pictures" } th { "Found" } th { span.unseen { "Mend" } } } }
            tbody { @for f in list {
                tr id={ "finding-" (f.no) } {
                    th { span.no { (f.no) } " " (f.kind.title()) }
                    td data-h="Panel" { (f.place.panel.title()) @if f.place.u.is_none() && f.place.panel.as_str() != WHOLE_CAR { span.quiet { ", all of it" } } }
                    td data-h="Severity" { span.v { (layout::swatch(&format!("f{}", f.no), sketch::severity(f.severity).hatch())) " " (f.severity.title()) } }
                    td.all data-h="Seen" { (seen(at, f)) }
                    td.all data-h="Pictures" { @if !f.pictures.is_empty() { (pictures::thumbs(at, job, &f.pictures, &format!("Finding {}, {}", f.no, f.kind.title()))) } }
                    td data-h="Found" { small.quiet { (f.found.title()) ", " (f.by) @if !f.by.is_empty() { ", " } (words.moment(f.at)) } }
                    td data-h="" { a.act href=(path(at, f.no)) { "Mend" span.unseen { " finding " (f.no) } } }
                }
            } }
        }
    }
}

fn path(at: &Sheet, no: FindingNo) -> String {
    format!("{}/finding/{no}", at.car_path())
}

/// Size, depth, count and words of a finding.
pub(super) fn seen(at: &Sheet, f: &Finding) -> Markup {
    let words = &at.desk.words;
    let mut parts: Vec<String> = Vec::new();
    parts.extend(f.count.map(|n| format!("{n} of them")));
    parts.extend(f.size.map(|s| {
        let (value, unit) = words.small_length(s);
        format!("{value}\u{a0}{unit}")
    }));
    parts.extend(f.depth.map(|d| format!("{}\u{a0}{} deep", words.thickness(d), words.thickness_unit())));
    if !f.note.is_empty() {
        parts.push(f.note.clone());
    }
    html! { (parts.join(", ")) }
}

/// One finding, to be mended.
pub(super) async fn open(desk: Desk, Path((id, no)): Path<(String, u32)>) -> Result<Response, Fault> {
    mend(&Sheet::new(desk, id, Stage::Survey), FindingNo(no), Returned::none()).await
}

async fn mend(at: &Sheet, no: FindingNo, returned: Returned) -> Result<Response, Fault> {
    let (base, ()) = at.ask(|_, _| Ok(())).await?;
    let car = &base.car;
    let Some(f) = car.job.finding(no) else {
        return Err(at.desk.fault(Refusal::not_found(
            format!("There is no finding {no}"),
            "Look at the list on the survey.",
        )));
    };
    let scale = at.scale();
    let begins = Typed::new("change")
        .with("panel", &f.place.panel)
        .with("kind", word(&f.kind))
        .with("severity", word(&f.severity))
        .with("size", f.size.map(|s| scale.small_text(s)).unwrap_or_default())
        .with("depth", f.depth.map(|d| scale.thickness_text(d)).unwrap_or_default())
        .with("count", f.count.map(|c| c.to_string()).unwrap_or_default())
        .with("note", &f.note);
    let change = returned.or(begins);
    let more = returned.or(Typed::new("pictures"));
    let withdraw = returned.or(Typed::new("withdraw"));
    let here = path(at, no);
    let title = format!("Finding {no}, {}", f.kind.title().to_lowercase());
    let form = |typed: &Typed, body: Markup| {
        crate::web::form::upload_form(&here, typed, html! { (super::named(typed)) (body) })
    };
    let parts = html! {
        div.even {
            div { (drawing(car, &[f])) }
            div {
                (returned.refusal("change"))
                (form(&change, html! {
                    (before(car))
                    (fields(at, car, &change))
                    p.acts { button.main { "Keep this" } a.btn href={ (at.path()) "#finding-" (no) } { "Back" } }
                }))
            }
        }
        (section("photos", "Pictures", html! {
            @if f.pictures.is_empty() { (layout::empty(html! { p { "No picture of it yet." } })) }
            @else { (pictures::thumbs(at, &car.job, &f.pictures, &title)) }
            (returned.refusal("pictures"))
            (form(&more, html! { (pictures::fields(&more)) p.acts { button { "Add the pictures" } } }))
        }))
        @if f.stands() {
            section.behind {
                (fold("withdraw", "Take this finding back", returned.is("withdraw"), html! {
                    (returned.refusal("withdraw"))
                    (form(&withdraw, html! {
                        (withdraw.area("why", "Reason", "The finding and the reason stay in the record.", 2))
                        p.acts { button { "Take it back" } }
                    }))
                }))
            }
        }
    };
    let body = html! {
        (dressed())
        (super::block(at, car))
        (layout::stages(car, None))
        (layout::head(&title, html! { (f.place.panel.title()) ", found at " (f.found.title().to_lowercase()) (layout::by(&f.by)) ", " (at.desk.words.moment(f.at)) }, html! {}))
        (super::unshown(at, &returned, &[&parts]))
        @if let Some(why) = &f.withdrawn { (layout::note(html! { p { b { "Taken back. " } (why) } })) }
        (parts)
    };
    let page = layout::page(&at.desk, Room::Cars, &format!("{}, {title}", car.tag.name), body);
    Ok((returned.status(), Html(page.into_string())).into_response())
}

/// Mends a finding, adds pictures to it or takes it back.
pub(super) async fn send(
    desk: Desk,
    Path((id, no)): Path<(String, u32)>,
    typed: Typed,
) -> Result<Response, Fault> {
    let form = typed.get("form").to_owned();
    let at = Sheet::new(desk, id, Stage::Survey).sent(&form);
    let no = FindingNo(no);
    let mut typed = typed.named(&form);
    match act(&at, no, &mut typed).await {
        Ok(response) => Ok(response),
        Err(refusal) => mend(&at, no, Returned::refused(typed, refusal)).await,
    }
}

async fn act(at: &Sheet, no: FindingNo, typed: &mut Typed) -> Result<Response, Refusal> {
    let to = format!("{}#finding-{no}", at.path());
    match typed.form() {
        "change" => {
            let id = at.id.clone();
            let car = at.desk.shell.ask(move |s| s.car_view(&id)).await?;
            let known = car.job.finding(no).map(|f| f.place.clone());
            let mut finding = read(typed, at, &car, known.as_ref())?;
            finding.no = no;
            at.save(typed, to, move |s, id, stamp| s.change_finding(id, stamp, &finding).map(drop)).await
        }
        "pictures" => {
            let uploads = pictures::some(at, typed).await?;
            let to = path(at, no);
            at.save(typed, to, move |studio, id, stamp| {
                let place = studio.job(id)?.job.finding(no).map(|f| f.place.clone());
                for (i, file) in uploads.iter().enumerate() {
                    studio.add_picture(
                        id,
                        &part(stamp, i),
                        &file.name,
                        &file.bytes,
                        place.as_ref(),
                        Some(no),
                    )?;
                }
                Ok(())
            })
            .await
        }
        "withdraw" => {
            let why = typed.text("why");
            at.save(typed, format!("{}#findings", at.path()), move |s, id, stamp| {
                s.withdraw_finding(id, stamp, no, &why).map(drop)
            })
            .await
        }
        other => Err(super::unknown(other)),
    }
}
