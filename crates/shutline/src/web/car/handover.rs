//! Handover: what was done, with proof, and the signature.

use super::{
    Base, Fault, Refusal, Returned, Sheet, Typed, counted, document, framed, pairs, pictures, section,
    unknown,
};
use crate::web::layout;
use axum::response::Response;
use job::{PictureId, Stage};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, car_panels, change_cell, common_range};
use report::sketch;
use studio::view::HandoverView;
use units::Thickness;

pub(super) async fn page(at: &Sheet, returned: Returned) -> Result<Response, Fault> {
    let (base, view) = at.ask(|s, id| s.handover_view(id)).await?;
    let job = &base.car.job;
    let lead = match &job.handover {
        Some(h) => {
            html! { "Handed over" (layout::by(&h.by)) @if let Some(s) = &h.signed { " to " (s.name) } ", " (at.desk.words.moment(h.at)) "." }
        }
        None if view.missing.is_empty() => html! { "Everything is done: check it with the customer." },
        None => html! { "Not ready yet." },
    };
    let acts = html! {
        (document(at, "handover", "Handover report, PDF"))
        @if job.handover.is_none() && view.missing.is_empty() && job.is_open() { a.btn href="#signing" { "Hand the car over" } }
        @if job.handover.is_some() { a.btn.main href=(at.to(Stage::Visits)) { "On to the visits" } }
    };
    let body = html! {
        @if !view.missing.is_empty() && job.is_open() {
            div.note.error {
                p { b { "The car cannot be handed over yet." } }
                ul { @for m in &view.missing { li { (m) } } }
                p { a href=(at.to(Stage::Work)) { "To the work" } " · " a href=(at.to(Stage::Route)) { "To the route" } }
            }
        }
        (done(at, &view))
        (thickness(at, &view))
        (film(at, &base, &view))
        (lots(&view))
        (pairs::beside(at, &base, &view, &returned))
        (taken(at, &base, &returned))
        (after(at, &view))
        (sign(at, &base, &view, &returned))
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

fn done(at: &Sheet, view: &HandoverView) -> Markup {
    let words = &at.desk.words;
    section(
        "done",
        "What was done",
        html! {
            @if view.done.is_empty() { (layout::empty(html! { p { "No step is finished yet. Finished steps stand here with who did them and when." } })) }
            @else {
                table.fold.flow {
                    thead { tr { th { "Step" } th { "On" } th { "Finished" } th { "By" } th.n { "Time" } } }
                    tbody { @for r in &view.done {
                        @let end = r.spans.iter().filter_map(|s| s.to).max();
                        tr {
                            th { (r.planned.title) @if !r.notes.is_empty() { " " small.quiet { (r.notes.join(" ")) } } }
                            td.all data-h="On" { (super::panels::headline(&r.planned.panels)) }
                            td data-h="Finished" { span.v { (end.map(|t| words.moment(t)).unwrap_or_default()) } }
                            td data-h="By" { (by(r)) }
                            td.n data-h="Time" { @if let Some(e) = end { (words.duration(r.worked(e))) } }
                        }
                    } }
                }
            }
        },
    )
}

fn by(r: &job::StepRecord) -> String {
    let mut names: Vec<&str> = r.spans.iter().map(|s| s.by.as_str()).filter(|n| !n.is_empty()).collect();
    names.sort_unstable();
    names.dedup();
    names.join(", ")
}

/// Thickness before and after, each panel on the same scale.
fn thickness(at: &Sheet, view: &HandoverView) -> Markup {
    let words = &at.desk.words;
    let unit = words.thickness_unit();
    let lines = view.panels.iter().flat_map(|p| sketch::totals(p, words)).flatten();
    let range = common_range(lines.flat_map(|l| [l.low, l.high]));
    let total = |t: Option<(Thickness, Thickness)>| {
        html! { @match t.map(|t| words.thickness_within(t)) {
            Some((mean, half)) => { (layout::quantity(html! { (mean) span.pm { " ± " (half) } }, unit)) }
            None => { span.quiet { "not measured" } }
        } }
    };
    section(
        "thickness",
        "Thickness before and after",
        html! {
            @if view.panels.is_empty() { (layout::empty(html! { p { "No panel was corrected, so no clear coat was taken." } })) }
            @else {
                table.fold {
                    caption { "Open point: before; filled: after; bars are 95 % ranges of the mean, from " (words.thickness(range.0)) " to " (words.thickness(range.1)) " " (unit) ". Clear coat that was taken never comes back: it stands in the car's ledger." }
                    thead { tr { th { "Panel" } th.n { "Before" } th.n { "After" } th { span.unseen { "Range" } } th.n { "Clear coat taken" } th.n { "Least clear coat left" } } }
                    tbody { @for p in &view.panels {
                        @let [before, after] = sketch::totals(p, words);
                        tr {
                            th { (p.title) }
                            td.n data-h="Before" { (total(p.before)) }
                            td.n data-h="After" { (total(p.after)) }
                            td data-h="" { (layout::drawing(change_cell(&format!("{}, total thickness", p.title), before.as_ref(), after.as_ref(), range, Medium::Page { id: &format!("c-{}", p.id) }))) }
                            td.n data-h="Taken" { (layout::figure(words, &p.taken)) }
                            td.n data-h="Left" { @if let Some(f) = &p.left { (layout::figure(words, f)) } @else { span.quiet { "not known" } } }
                        }
                    } }
                }
            }
        },
    )
}

fn film(at: &Sheet, base: &Base, view: &HandoverView) -> Markup {
    let old: Vec<&job::LaidPiece> = base
        .car
        .history
        .film
        .iter()
        .filter(|f| {
            f.off.is_none() && view.film.iter().all(|l| l.piece != f.piece.piece || l.panel != f.piece.panel)
        })
        .map(|f| &f.piece)
        .collect();
    let mut hatched = sketch::hatched(old.iter().map(|p| &p.panel), Hatch::Cure);
    hatched.extend(sketch::hatched(view.film.iter().map(|p| &p.panel), Hatch::Film));
    let words = &at.desk.words;
    section(
        "film",
        "Film on the car",
        html! {
            @if hatched.is_empty() { (layout::empty(html! { p { "No film lies on this car." } })) }
            @else {
                div.filmmap { (layout::wide_drawing("Film on the car", car_panels(base.car.body, "Film on the car", &hatched, Medium::Page { id: "film" }))) }
                (layout::key("filmkey", &[(Hatch::Film, "laid in this job"), (Hatch::Cure, "laid before")][..if old.is_empty() { 1 } else { 2 }]))
                table.fold {
                    thead { tr { th { "Panel" } th { "Piece" } th { "Roll" } th { "Batch" } th { "Laid" } th { "By" } } }
                    tbody { @for p in view.film.iter().chain(old) { tr {
                        th { (p.panel.title()) } td data-h="Piece" { (p.piece) } td data-h="Roll" { (p.roll) } td data-h="Batch" { (p.lot) }
                        td data-h="Laid" { (words.moment(p.at)) } td data-h="By" { (p.by) }
                    } } }
                }
            }
        },
    )
}

fn lots(view: &HandoverView) -> Markup {
    section(
        "lots",
        "Products and lots",
        html! {
            @if view.lots.is_empty() { (layout::empty(html! { p { "No lots were written down. They are chosen when a step is finished." } })) }
            @else {
                table.fold {
                    thead { tr { th { "Product" } th { "Lot or batch" } th { "Used for" } } }
                    tbody { @for l in &view.lots { tr { th { (l.product) } td data-h="Lot" { (l.lot) } td data-h="Used for" { (l.used) } } } }
                }
            }
        },
    )
}

/// Pictures of the finished work.
fn taken(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let list: Vec<PictureId> =
        base.car.job.pictures.iter().filter(|p| p.stage == Stage::Work).map(|p| p.picture.clone()).collect();
    let typed = returned.or(Typed::new("pictures"));
    section(
        "photos",
        "Pictures of the work",
        html! {
            @if list.is_empty() { (layout::empty(html! { p { "No pictures were taken after the work. They stand beside those of the arrival in the report." } })) }
            @else { (pictures::thumbs(at, &base.car.job, &list, "After the work")) }
            @if base.car.job.is_open() {
                (returned.refusal("pictures"))
                (at.upload(&typed, html! { (pictures::fields(&typed)) p.acts { button { "Add the pictures" } } }))
            }
        },
    )
}

fn after(at: &Sheet, view: &HandoverView) -> Markup {
    let words = &at.desk.words;
    html! {
        (section("care", "How to look after it", html! {
            dl.care { @for c in view.care.iter().filter(|c| c.due.is_none()) { div { dt { (c.what) } dd { (c.advice) } } } }
            @for c in &view.cautions { (layout::caution(c)) }
        }))
        (section("next", "Next visits", html! {
            ul { @for c in &view.care { @if let Some(due) = c.due { li { b { (c.what) } ", from " (words.date(due)) } } } }
        }))
        (section("warranty", "Warranty", html! {
            @if view.warranty.trim().is_empty() { (layout::empty(html! { p { "The shop has not written its warranty terms. They are set under Shop." } })) }
            @else { p { (view.warranty) } }
        }))
    }
}

fn sign(at: &Sheet, base: &Base, view: &HandoverView, returned: &Returned) -> Markup {
    let job = &base.car.job;
    if let Some(h) = &job.handover {
        return section(
            "signing",
            "Final check",
            html! {
                ul { @for c in &h.checked { li { (c) } } }
                @if !h.note.is_empty() { p { (h.note) } }
                @if let Some(s) = &h.signed { p { b { (s.name) } " signed, " (at.desk.words.moment(s.at)) "." } }
            },
        );
    }
    let typed = returned.or(Typed::new("hand_over").with("name", &job.customer.name));
    let checks: Vec<(&String, &String)> = view.checks.iter().map(|c| (c, c)).collect();
    section(
        "signing",
        "Final check",
        html! {
            @if !job.is_open() { p { "This job is closed." } } @else {
                (returned.refusal("hand_over"))
                (at.form(&typed, html! {
                    div.fields.checks {
                        (typed.ticks("checked", &format!("{}, each under the light", counted(checks.len(), "check", "checks")), &checks))
                        (typed.area("note", "Remark", "", 2))
                        (typed.field("name", "Name of the customer").required())
                    }
                    p.acts { button.main[view.missing.is_empty()] { "Hand the car over" } }
                }))
            }
        },
    )
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    match typed.form() {
        "hand_over" => {
            let checked: Vec<String> = typed.all("checked").map(str::to_owned).collect();
            let (name, note) = (typed.text("name"), typed.text("note"));
            at.save(typed, at.to(Stage::Visits), move |s, id, stamp| {
                s.hand_over(id, stamp, &name, &checked, &note).map(drop)
            })
            .await
        }
        "pictures" => pictures::act(at, typed).await,
        "pair" | "part" => pairs::act(at, typed).await,
        other => Err(unknown(other)),
    }
}
