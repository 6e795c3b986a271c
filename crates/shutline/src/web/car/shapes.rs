//! Shapes of panels: scans and tape measures taken in, laid flat, the way to cut them chosen.

pub(super) mod cuts;

use super::{Base, Fault, Refusal, Returned, Sheet, Typed, capital, fold, panels, section};
use crate::web::assets;
use crate::web::layout;
use crate::web::scale::Scale;
use crate::web::shell::Desk;
use axum::extract::Path;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use job::{JobId, PanelId, Tape};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, StretchLevels, stretch_map};
use report::sketch;
use studio::searching::SearchState;
use studio::view::{FlatView, ShapeView};

/// Everything about shapes on the film sheet.
pub(super) fn sections(at: &Sheet, base: &Base, returned: &Returned, shapes: &[Shown]) -> Markup {
    let open = base.car.job.is_open();
    html! {
        @if !shapes.is_empty() {
            section #shapes {
                h2 { "Panels laid flat" }
                (returned.refusal("seams"))
                @for (i, shown) in shapes.iter().enumerate() { (one(at, base, returned, i, shown)) }
            }
        }
        @if open { (taking(at, base, returned)) }
    }
}

/// A panel with its shape, and how the search for its cuts stands.
pub(super) struct Shown {
    pub view: ShapeView,
    pub search: Option<SearchState>,
}

fn one(at: &Sheet, base: &Base, returned: &Returned, i: usize, shown: &Shown) -> Markup {
    let shape = &shown.view;
    html! {
        h3 id={ "shape-" (shape.panel) } { (shape.panel.title()) }
        p.quiet { (capital(&shape.origin)) "." }
        @match &shape.flat {
            Err(refusal) => { (layout::refusal(refusal)) }
            Ok(flat) => {
                (laid(at, i, flat))
                (cuts::part(at, base, returned, i, flat, shown.search.as_ref()))
                @if !flat.said.is_empty() {
                    (fold(&format!("said{i}"), "What was done to the scan", false, html! { ul { @for s in &flat.said { li { (s) } } } }))
                }
            }
        }
    }
}

fn laid(at: &Sheet, i: usize, flat: &FlatView) -> Markup {
    let words = &at.desk.words;
    let map = sketch::flat_map(flat, words);
    let levels = StretchLevels::of(flat.worst);
    let level = |n: usize| levels.hatched.get(n).map(|(l, _)| l.to_string());
    let step = levels.levels.first().map(ToString::to_string);
    let data = format!("{}/shape/{}", at.car_path(), layout::segment(flat.panel.as_str()));
    let keyed = |id: String, worst: f64| {
        let key = StretchLevels::of(worst).key();
        let key: Vec<(Hatch, &str)> = key.iter().map(|(h, w)| (*h, w.as_str())).collect();
        html! { @if !key.is_empty() { (layout::key(&id, &key)) } }
    };
    let about = format!("{}, seen from outside, with its stretch", flat.title);
    let lines = cuts::lines_for_module(flat);
    html! {
        @for w in &flat.warnings { div.note.error { p { b { (w) } } } }
        (layout::figures(words, &flat.figures))
        div.even {
            figure {
                (layout::drawing(stretch_map(&map, Medium::Page { id: &format!("f{i}") })))
                (keyed(format!("fk{i}"), map.worst))
                figcaption.quiet {
                    @if flat.laid.is_some() { "The pieces as they are cut, seen from outside. Lines join places of equal stretch." }
                    @else { "The flat piece, seen from outside. Lines join places of equal stretch." }
                }
            }
            figure {
                div.solid data-solid=(data) data-panel=(flat.panel) data-lines=(lines) data-about=(about) data-step=[step] data-light=[level(0)] data-dense=[level(1)] {
                    (layout::drawing(stretch_map(&sketch::seen_map(flat), Medium::Page { id: &format!("v{i}") })))
                }
                (keyed(format!("vk{i}"), flat.worst))
                figcaption.quiet {
                    "The panel with the stretch of one piece, uncut."
                    @if flat.laid.is_some() { " Dashed: the cuts that were chosen." }
                    @if !flat.zones.is_empty() { " Dotted: zones." }
                }
            }
        }
    }
}

/// Forms for a scan and for tape measures.
fn taking(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let scan = returned.or(Typed::new("scan"));
    let tapes = returned.or(Typed::new("tapes"));
    let units = [("", "guess from its size"), ("mm", "mm"), ("cm", "cm"), ("m", "m"), ("inch", "inch")];
    let list = panels::filmable(base.car.body);
    let unit = at.scale().small();
    let (arc_in, gap_in) = (format!("Arc, {unit}"), format!("Gap, {unit}"));
    section(
        "taking",
        "Shape of a panel",
        html! {
            (fold("scan", "Attach a scan of a panel", returned.is("scan"), html! {
                (returned.refusal("scan"))
                (at.upload(&scan, html! {
                    div.fields {
                        (scan.select("panel", "Panel", &list))
                        (scan.file("file", "Scan", "OBJ, PLY, STL or GLB of this panel alone, up to 60 MB.", ".obj,.ply,.stl,.glb,.gltf"))
                        (scan.select("unit", "Unit of the scan", &units))
                        (scan.tick("turned", "It was scanned from inside: turn it over"))
                    }
                    p.acts { button { "Lay it flat" } }
                }))
            }))
            (fold("tapes", "Type tape measures of a panel", returned.is("tapes"), html! {
                p { "Lay a tape over the panel and read the arc; lay a straight edge over the same two points and read the largest gap under it. One line each way is enough, the edges make it better. A hollow has a gap below 0." }
                (returned.refusal("tapes"))
                (at.form(&tapes, html! {
                    div.fields { (tapes.select("panel", "Panel", &list)) }
                    table.fold {
                        thead { tr { th { "Tape" } th { (arc_in) } th { (gap_in) } } }
                        tbody { @for (name, words) in TAPES {
                            tr {
                                th { (words) }
                                td data-h=(arc_in) { (tapes.field(&format!("{name}_arc"), &format!("{words}, arc")).unit(unit)) }
                                td data-h=(gap_in) { (tapes.field(&format!("{name}_sag"), &format!("{words}, gap")).unit(unit)) }
                            }
                        } }
                    }
                    p.acts { button { "Lay it flat" } }
                }))
            }))
        },
    )
}

/// Tapes that can be typed: field and words.
const TAPES: [(&str, &str); 6] = [
    ("along_2", "Along, in the middle"),
    ("along_1", "Along, at the left edge"),
    ("along_3", "Along, at the right edge"),
    ("across_2", "Across, in the middle"),
    ("across_1", "Across, at the near edge"),
    ("across_3", "Across, at the far edge"),
];

fn typed_tapes(typed: &mut Typed, direction: &str, scale: Scale) -> Vec<Tape> {
    let mut tapes = Vec::new();
    for (n, at) in [(1, 0.0), (2, 0.5), (3, 1.0)] {
        let arc = typed.number(&format!("{direction}_{n}_arc"));
        let sag = typed.number(&format!("{direction}_{n}_sag"));
        match (arc, sag) {
            (None, None) => {}
            (None, Some(_)) => {
                typed.complain(&format!("{direction}_{n}_arc"), "The arc of this tape is missing.")
            }
            (Some(arc), sag) => {
                let sag = scale.small_from(sag.unwrap_or_default());
                tapes.push(Tape { at, arc: scale.small_from(arc), sag });
            }
        }
    }
    tapes
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let panel = PanelId::from(typed.get("panel"));
    let back = format!("{}#shapes", at.path());
    match typed.form() {
        "scan" => {
            let Some(file) = typed.files("file").next().cloned() else {
                return Err(Refusal::invalid("No file was chosen", "Choose the scan of the panel."));
            };
            let unit = typed.some("unit");
            let turned = typed.on("turned");
            at.save(typed, back, move |s, id, stamp| {
                let scan = (file.name.as_str(), &file.bytes[..]);
                s.take_scan(id, stamp, &panel, scan, unit.as_deref(), turned).map(drop)
            })
            .await
        }
        "tapes" => {
            let scale = at.scale();
            let (along, across) = (typed_tapes(typed, "along", scale), typed_tapes(typed, "across", scale));
            typed.sound()?;
            at.save(typed, back, move |s, id, stamp| s.take_tapes(id, stamp, &panel, along, across).map(drop))
                .await
        }
        _ => {
            let (plan, both) = (typed.text("plan"), typed.on("both_sides"));
            at.save(typed, back, move |s, id, stamp| s.choose_seams(id, stamp, &panel, &plan, both).map(drop))
                .await
        }
    }
}

/// The surface of a panel for the module that turns it: see `assets/solid.js` for the form.
pub(super) async fn solid(desk: Desk, Path((id, panel)): Path<(String, String)>) -> Result<Response, Fault> {
    let flat = desk
        .ask(move |studio| {
            let shapes = studio.shapes_view(&JobId(id))?;
            let shape = shapes.into_iter().find(|s| s.panel.as_str() == panel);
            shape
                .ok_or_else(|| Refusal::not_found("This panel has no shape", "Attach a scan first."))
                .and_then(|s| s.flat)
        })
        .await?;
    let mut bytes = Vec::with_capacity(8 + flat.points.len() * 16 + flat.triangles.len() * 12);
    bytes.extend((flat.points.len() as u32).to_le_bytes());
    bytes.extend((flat.triangles.len() as u32).to_le_bytes());
    flat.points.iter().flatten().for_each(|c| bytes.extend((*c as f32).to_le_bytes()));
    flat.stretch.iter().for_each(|s| bytes.extend((*s as f32).to_le_bytes()));
    flat.triangles.iter().flatten().for_each(|c| bytes.extend(c.to_le_bytes()));
    let head = [(header::CONTENT_TYPE, "application/octet-stream"), (header::CACHE_CONTROL, "no-cache")];
    Ok((head, bytes).into_response())
}

/// The module that turns panels.
pub(super) fn module() -> Markup {
    html! {
        script type="module" src=(assets::url("solid.js")) {}
        script type="module" src=(assets::url("film.js")) {}
    }
}
