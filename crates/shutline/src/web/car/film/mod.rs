//! Film: pieces on the roll to scale, choices, longer searches, pieces moved by hand, outlines, cutting.

mod choices;
mod hand;
mod search;

use super::{
    Base, Fault, Refusal, Returned, Sheet, Typed, counted, document, fold, framed, panels, section, shapes,
    unknown,
};
use crate::web::{assets, layout};
use axum::response::Response;
use job::{CutPlan, CutState, PanelId, Stage};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, nest};
use report::sketch;
use std::collections::BTreeSet;
use studio::engine::film::CutFormat;
use studio::view::{CutDrawing, FilmView, LayoutSource};
use units::Length;

pub(super) use hand::try_place;
pub(super) use search::watch;

/// Most bytes of a file of outlines.
const LARGEST: usize = 8 << 20;

pub(super) async fn page(at: &Sheet, returned: Returned) -> Result<Response, Fault> {
    let (base, (mut view, choices, searched, cut_searches)) = at
        .ask(|s, id| {
            let view = s.film_view(id)?;
            let cuts: Vec<_> = view.shapes.iter().map(|v| s.cut_search_state(id, &v.panel)).collect();
            Ok((view, s.film_choices(id)?, s.search_state(id), cuts))
        })
        .await?;
    let flat = std::mem::take(&mut view.shapes).into_iter().zip(cut_searches);
    let flat: Vec<shapes::Shown> = flat.map(|(view, search)| shapes::Shown { view, search }).collect();
    let job = &base.car.job;
    let cut = job.cut.as_ref();
    let state = cut.map(|c| c.state);
    let lead = match (state, cut) {
        (Some(CutState::Cut), Some(c)) => html! { "Cut from " (rolls_of(c)) "." },
        (Some(CutState::Reserved), Some(c)) => {
            html! { "Layout accepted, film set aside on " (rolls_of(c)) "." }
        }
        _ if view.pieces.is_empty() => html! { "This order has no film." },
        _ if view.source == LayoutSource::Kept => html! { "Laid out and kept, not accepted yet." },
        _ => html! { "Laid out, not accepted yet." },
    };
    let laid = state.is_some_and(|s| s != CutState::Undone);
    let acts = html! { @if !view.pieces.is_empty() {
        (document(at, "cut", "Cut sheet, PDF"))
        @if job.is_open() && view.plan.is_some() && !laid { (at.button("accept", true, "Accept this layout")) }
        @if job.is_open() && state == Some(CutState::Cut) { a.btn.main href=(at.to(Stage::Work)) { "On to the work" } }
    } };
    let body = html! {
        @for form in ["accept", "undo", "search", "stop", "choose"] { (returned.refusal(form)) }
        @if let Some(problem) = &view.problem { div.note.error { p { b { "Nothing can be cut as it stands." } } p { (at.desk.words.told(problem)) } } }
        @for w in &view.warnings { div.note.error { p { b { (at.desk.words.told(w)) } } } }
        @for n in &view.notes { div.note { p { (at.desk.words.told(n)) } } }
        @if view.pieces.is_empty() {
            (layout::empty(html! { p { "Nothing to lay out. Film is part of the order: change it on the offer." } }))
        } @else {
            @if let Some(plan) = cut.filter(|c| c.state == CutState::Cut) { (was_cut(at, plan)) }
            (sheets(at, &view))
            @if job.is_open() && !laid && view.plan.is_some() {
                (search::part(at, searched.as_ref()))
                (choices::part(at, &choices))
                (hand::part(at, &view, &returned))
            }
            script type="module" src=(assets::url("film.js")) {}
            (section("pieces", &counted(view.pieces.len(), "piece", "pieces"), pieces(at, &view)))
            @if job.is_open() { (cutting(at, &base, &view, &returned)) }
        }
        (shapes::sections(at, &base, &returned, &flat))
        @if job.is_open() { (outlines(at, &base, &returned)) }
        @if flat.iter().any(|s| s.view.flat.is_ok()) { (shapes::module()) }
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

fn rolls_of(plan: &CutPlan) -> String {
    let rolls: Vec<String> = plan.rolls().map(|r| format!("roll {}, batch {}", r.roll, r.lot)).collect();
    rolls.join("; ")
}

/// What was cut.
fn was_cut(at: &Sheet, plan: &CutPlan) -> Markup {
    let words = &at.desk.words;
    let (length, unit) = words.long_length(plan.film_length());
    let (area, area_unit) = words.area(plan.pieces_area);
    let offcuts: BTreeSet<&str> =
        plan.placements.iter().map(|p| p.container.as_str()).filter(|c| !plan.is_roll(c)).collect();
    section(
        "layout",
        "What was cut",
        html! {
            (layout::facts(&[
                (if plan.further.is_empty() { "Roll" } else { "Rolls" }, html! { @for (i, r) in plan.rolls().enumerate() {
                    @let (width, unit) = words.small_length(r.width);
                    @let (length, length_unit) = words.long_length(r.length);
                    @if i > 0 { br; }
                    (r.roll) ", " (layout::quantity(width, unit)) " wide, batch " (r.lot) ": " (layout::quantity(length, length_unit))
                } }),
                ("Taken from rolls", layout::quantity(length, unit)),
                ("Pieces", html! { (plan.placements.len()) ", " (layout::quantity(area, area_unit)) }),
                ("Offcuts used", html! { @if offcuts.is_empty() { "none" } @else { (offcuts.into_iter().collect::<Vec<_>>().join(", ")) } }),
                ("Accepted", html! { (words.moment(plan.at)) }),
            ]))
        },
    )
}

/// Rolls and offcuts with what lies on them, and the figures.
fn sheets(at: &Sheet, view: &FilmView) -> Markup {
    let words = &at.desk.words;
    // One scale for all, unless a roll is so long that it is broken into rows.
    let span = view.drawings.iter().map(|d| d.used).fold(Length::ZERO, Length::max).min(Length::mm(5300.0));
    html! { @if !view.drawings.is_empty() {
        section #layout {
            h2 { "On the film" }
            @for (i, d) in view.drawings.iter().enumerate() {
                @let sheet = sketch::nest_sheet(d, span, words);
                h3 { (sheet.title) }
                (layout::wide_drawing(&sheet.title, nest(&sheet, Medium::Page { id: &format!("n{i}") })))
                (files(at, i + 1, d))
            }
            @if view.drawings.iter().any(|d| !d.bad_mm.is_empty()) {
                (layout::key("bad", &[(Hatch::Deep, "bad spot: nothing is cut from it")]))
            }
            @if view.drawings.iter().any(|d| !d.rests.is_empty()) {
                (layout::key("rest", &[(Hatch::Offcut, "rest that is kept: write roll, batch and size on it")]))
            }
            (layout::figures(words, &view.figures))
        }
    } }
}

/// Links to the cut files of one roll or offcut.
fn files(at: &Sheet, number: usize, drawing: &CutDrawing) -> Markup {
    html! {
        p.acts {
            @for format in CutFormat::ALL {
                a.btn download href={ (at.car_path()) "/cut/" (number) "." (format.ending()) }
                    aria-label={ "Cut file, " (format.title()) ", of " (drawing.container) } { "Cut file, " (format.title()) }
            }
        }
    }
}

fn pieces(at: &Sheet, view: &FilmView) -> Markup {
    let words = &at.desk.words;
    html! {
        table.fold.flow {
            thead { tr { th { "Piece" } th { "Panel" } th.n { "Count" } th.n { "Size" } th.n { "Area of one" } th { "Outline from" } } }
            tbody { @for p in &view.pieces {
                @let ((w, unit), (h, _)) = (words.small_length(p.size.0), words.small_length(p.size.1));
                @let (area, area_unit) = words.area(p.area);
                tr {
                    th { span.no { (p.number) } " " (p.title) }
                    td data-h="Panel" { (p.panel.title()) }
                    td.n.say data-h="Count" { (p.count) }
                    td.n data-h="Size" { (layout::quantity(format!("{w} × {h}"), unit)) }
                    td.n data-h="Area of one" { (layout::quantity(area, area_unit)) }
                    td data-h="Outline" { (p.origin) @if p.planning_only { " " (layout::late("not for cutting")) } }
                }
            } }
        }
    }
}

/// What can be done with the layout as it stands.
fn cutting(at: &Sheet, base: &Base, view: &FilmView, returned: &Returned) -> Markup {
    let job = &base.car.job;
    let planning = view.pieces.iter().any(|p| p.planning_only);
    let typed = returned.or(Typed::new("cut"));
    html! { @if job.cut.as_ref().is_some_and(|c| c.state == CutState::Reserved) {
        section #cutting {
            h2 { "Cutting" }
            div.note.caution { p { b { "Blades. " } "Cut off the car wherever it can be done. Mind hands and cutter; the cutter's manual comes first." } }
            (returned.refusal("cut"))
            (at.form(&typed, html! {
                @if planning {
                    div.note.error {
                        p { b { "Planning outlines are NOT for cutting: " } "they are drawn from a generic body and fit no car." }
                        (typed.tick("planning_too", "The film was cut by other, measured outlines: book it as cut"))
                    }
                }
                p.acts { button.main { "The film is cut" } }
            }))
            (at.button("undo", false, "Undo the layout, set the film free"))
        }
    } }
}

fn outlines(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("outlines"));
    section(
        "measured",
        "Measured outlines",
        html! {
            (fold("outlines", "Load an outline for a panel", returned.is("outlines"), html! {
                (returned.refusal("outlines"))
                (at.upload(&typed, html! {
                    div.fields {
                        (typed.select("panel", "Panel", &panels::filmable(base.car.body)))
                        (typed.file("file", "SVG or DXF file, in mm", "Closed outlines. They take the place of the planning outline; rings inside are cuts in the piece.", ".svg,image/svg+xml,.dxf,image/vnd.dxf"))
                    }
                    (typed.tick("both_sides", "Also for the same panel on the other side, mirrored"))
                    p.acts { button { "Load it" } }
                }))
            }))
        },
    )
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    match typed.form() {
        "accept" => {
            at.save(typed, format!("{}#cutting", at.path()), |s, id, stamp| s.accept_cut(id, stamp).map(drop))
                .await
        }
        "undo" => at.save(typed, at.path(), |s, id, stamp| s.undo_cut(id, stamp).map(drop)).await,
        "cut" => {
            let planning_too = typed.on("planning_too");
            at.save(typed, at.path(), move |s, id, stamp| s.cut(id, stamp, planning_too).map(drop)).await
        }
        "outlines" => {
            let panel = PanelId::from(typed.get("panel"));
            let Some(file) = typed.files("file").next().cloned() else {
                return Err(Refusal::invalid("No file was chosen", "Choose the file with the outline."));
            };
            if file.bytes.len() > LARGEST {
                return Err(Refusal::invalid(
                    "The file is larger than 8 MB",
                    "An outline takes some kilobytes: save it without pictures.",
                )
                .at(file.name));
            }
            let Ok(text) = String::from_utf8(file.bytes.to_vec()) else {
                return Err(Refusal::invalid(
                    "This is neither an SVG nor an ASCII DXF file",
                    "Save the drawing as plain SVG or as DXF text, then load it.",
                )
                .at(file.name));
            };
            let both = typed.on("both_sides");
            at.save(typed, format!("{}#pieces", at.path()), move |s, id, stamp| {
                s.load_outlines(id, stamp, &panel, &file.name, &text, both).map(drop)
            })
            .await
        }
        "search" | "stop" => search::act(at, typed).await,
        "choose" => choices::act(at, typed).await,
        "move" | "hand" => hand::act(at, typed).await,
        "scan" | "tapes" | "seams" => shapes::act(at, typed).await,
        other => match other.to_owned().split_once('.') {
            Some((what, panel)) => shapes::cuts::act(at, typed, what, panel).await,
            None => Err(unknown(other)),
        },
    }
}
