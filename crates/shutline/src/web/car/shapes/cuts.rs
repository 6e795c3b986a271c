//! Cuts of a panel: the front to choose from, the search, lines and zones drawn by hand.

use super::super::{Base, Refusal, Returned, Sheet, Typed, fold};
use crate::web::{form, layout};
use axum::response::Response;
use job::{CutState, CutZone, PanelId, ZoneRule};
use maud::{Markup, html};
use report::drawing::{self, Medium};
use report::sketch;
use studio::Stamp;
use studio::searching::SearchState;
use studio::view::{FlatView, SeamPlan};

/// Most places of a line or a loop: more is no drawing by hand.
const MOST: usize = 500;

/// The front, the list, the search, and what is drawn by hand.
pub(super) fn part(
    at: &Sheet,
    base: &Base,
    returned: &Returned,
    i: usize,
    flat: &FlatView,
    search: Option<&SearchState>,
) -> Markup {
    let words = &at.desk.words;
    let cut = base.car.job.cut.as_ref().is_some_and(|c| c.state == CutState::Cut);
    let free = base.car.job.is_open() && !cut;
    let refused = |what: &str| returned.refusal(&format!("{what}.{}", flat.panel));
    html! {
        h4 id={ "cuts-" (flat.panel) } { "Ways to cut it" }
        @if let Some(front) = sketch::seam_front(flat, words) {
            figure.slim { (layout::drawing(drawing::front(&front, Medium::Page { id: &format!("s{i}") }))) }
        }
        (list(at, flat, free))
        @if free {
            @for what in ["propose", "halt"] { (refused(what)) }
            (searching(at, flat, search))
            (drawn(at, returned, flat, &refused("draw")))
            (zones(at, returned, flat, html! { (refused("zone")) (refused("unzone")) }))
        }
        @if flat.chosen.is_none() && !cut {
            p { "Nothing is chosen yet: the layout above uses the planning outline of this panel." }
        }
    }
}

fn list(at: &Sheet, flat: &FlatView, free: bool) -> Markup {
    let words = &at.desk.words;
    let chosen = |p: &SeamPlan| flat.chosen.as_ref().filter(|c| c.plan == p.name);
    let partner = flat.panel.as_str().starts_with("left_") || flat.panel.as_str().starts_with("right_");
    let choose = |p: &SeamPlan, both: &'static str, label: &str| {
        let carries = [
            ("form", "seams"),
            ("panel", flat.panel.as_str()),
            ("plan", p.name.as_str()),
            ("both_sides", both),
        ];
        form::button(&at.path(), &carries, false, label)
    };
    html! {
        table.fold {
            thead { tr { th { "Cut" } th.n { "In sight" } th.n { "Length of cuts" } th.n { "Worst stretch" } th.n { "Pieces" } th.n { "Film" } th { "" } } }
            tbody { @for p in &flat.plans {
                @let ((length, unit), (seen, _)) = (words.small_length(p.length), words.small_length(p.in_sight));
                @let (area, area_unit) = words.area(p.areas.iter().copied().sum());
                tr.pick[chosen(p).is_some()] {
                    th { (p.title) }
                    td.n data-h="In sight" { (layout::quantity(seen, unit)) }
                    td.n data-h="Length of cuts" { (layout::quantity(length, unit)) }
                    td.n data-h="Worst stretch" { (layout::quantity(format!("{:.2}", p.worst * 100.0), "%")) }
                    td.n data-h="Pieces" { (p.areas.len()) }
                    td.n data-h="Film" { (layout::quantity(area, area_unit)) }
                    td {
                        @if let Some(c) = chosen(p) {
                            (layout::tag(if c.both_sides { "chosen, both sides" } else { "chosen" }))
                        } @else if !p.possible { (layout::tag("lies over itself")) }
                        @else if free {
                            div.acts {
                                (choose(p, "", "Cut it this way"))
                                @if partner { (choose(p, "on", "This way, both sides")) }
                            }
                        }
                    }
                }
            } }
        }
    }
}

fn searching(at: &Sheet, flat: &FlatView, state: Option<&SearchState>) -> Markup {
    let panel = flat.panel.as_str();
    let button = |what: &str, label: &str| at.button_with(&format!("{what}.{panel}"), &[], label);
    let back = format!("cuts-{panel}");
    html! {
        @match state.filter(|s| s.running) {
            Some(s) => {
                div data-search={ (at.path()) "/search?panel=" (layout::segment(panel)) } data-back=(back) {
                    p role="status" { "Searching relief cuts and seams. " span data-note { (s.note) } }
                    progress max="100" value={ (format!("{:.0}", s.done * 100.0)) } aria-label="How far the search for cuts is" {}
                    p.acts {
                        (button("halt", "Stop, keep what was found"))
                        a.btn href={ (at.path()) "#" (back) } { "Look again" }
                    }
                }
            }
            None => {
                @if let Some(s) = state.filter(|s| !s.ended.is_empty()) { p role="status" { (s.ended) } }
                @else if flat.plans.len() < 2 { p { "Relief cuts and seams can be searched: a meter of panel takes about half a minute." } }
                (button("propose", if flat.plans.len() < 2 { "Search cuts" } else { "Search cuts again" }))
            }
        }
    }
}

fn drawn(at: &Sheet, returned: &Returned, flat: &FlatView, refused: &Markup) -> Markup {
    let typed = returned.or(Typed::new(&format!("draw.{}", flat.panel)));
    let id = format!("drawfold-{}", flat.panel);
    let hint = "x y z of each place in mm, one place a line, an empty line between cuts. A cut begins at the edge of the panel; one that ends inside is a relief cut, one from edge to edge a seam.";
    fold(
        &id,
        "Draw cuts by hand",
        returned.is(typed.form()),
        html! {
            (refused)
            (at.form(&typed, html! {
                div data-points=(flat.panel) data-kind="cut" { (typed.area("lines", "Cuts", hint, 5)) }
                p.acts { button { "Lay it flat with these cuts" } }
            }))
        },
    )
}

fn zones(at: &Sheet, returned: &Returned, flat: &FlatView, refused: Markup) -> Markup {
    let typed = returned.or(Typed::new(&format!("zone.{}", flat.panel)));
    let id = format!("zonefold-{}", flat.panel);
    let rules = [("forbidden", "no cut here"), ("out_of_sight", "a cut here is out of sight")];
    let title = match flat.zones.len() {
        0 => "Zones where cuts are not free".to_owned(),
        n => format!("Zones where cuts are not free, {n} marked"),
    };
    fold(
        &id,
        &title,
        returned.is(typed.form()),
        html! {
            (refused)
            @if !flat.zones.is_empty() {
                ul { @for z in &flat.zones {
                    li { (if z.name.is_empty() { "Zone" } else { z.name.as_str() }) ": "
                        (if z.rule == ZoneRule::Forbidden { "no cut" } else { "out of sight" }) "." }
                } }
                (at.button_with(&format!("unzone.{}", flat.panel), &[], "Take all zones off"))
            }
            (at.form(&typed, html! {
                div.fields {
                    (typed.field("name", "What it is").hint("Eye line, badge, sensor."))
                    (typed.select("rule", "What holds there", &rules))
                }
                div data-points=(flat.panel) data-kind="zone" {
                    (typed.area("ring", "Places around it", "x y z of each place in mm, one place a line, in order around the zone.", 5))
                }
                p.acts { button { "Keep this zone" } }
                p.quiet { "Searched plans hold for the zones they were searched with: search again after a change." }
            }))
        },
    )
}

/// Cuts and zones for the module that turns the panel, as JSON.
pub(super) fn lines_for_module(flat: &FlatView) -> String {
    let cuts = match (&flat.laid, &flat.chosen) {
        (Some(_), Some(chosen)) => &chosen.cuts_mm[..],
        _ => &[],
    };
    let zones: Vec<_> = flat.zones.iter().map(|z| &z.ring_mm).collect();
    serde_json::json!({ "cuts": cuts, "zones": zones }).to_string()
}

/// Lines of places: three numbers each, lines parted by empty lines.
fn lines(text: &str) -> Result<Vec<Vec<[f64; 3]>>, Refusal> {
    let mut all = vec![Vec::new()];
    for (n, row) in text.lines().enumerate() {
        if row.trim().is_empty() {
            all.push(Vec::new());
            continue;
        }
        let numbers: Vec<f64> = row
            .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';'))
            .filter(|w| !w.is_empty())
            .filter_map(|w| w.parse().ok())
            .filter(|x: &f64| x.is_finite())
            .collect();
        let place = <[f64; 3]>::try_from(numbers).map_err(|_| {
            Refusal::invalid(
                format!("Line {}: a place needs three numbers", n + 1),
                "Write x, y and z, or tap on the panel.",
            )
        })?;
        all.last_mut().into_iter().for_each(|l| l.push(place));
    }
    all.retain(|l| !l.is_empty());
    if all.iter().map(Vec::len).sum::<usize>() > MOST {
        return Err(Refusal::invalid(
            format!("More than {MOST} places were drawn"),
            "Fewer do: lines are straight between them.",
        ));
    }
    Ok(all)
}

/// What the forms of a panel's cuts ask for; `what` is the form, `panel` follows its dot.
pub(in super::super) async fn act(
    at: &Sheet,
    typed: &mut Typed,
    what: &str,
    panel: &str,
) -> Result<Response, Refusal> {
    let back = format!("{}#cuts-{panel}", at.path());
    let panel = PanelId::from(panel);
    match what {
        "propose" | "halt" => {
            let (studio, stop) = (at.desk.shell.studio.clone(), what == "halt");
            at.save(typed, back, move |s, id, stamp| {
                if stop {
                    s.stop_cut_search(id, &panel);
                    return Ok(());
                }
                studio.begin_cut_search(id, &Stamp::by(&stamp.by), &panel)
            })
            .await
        }
        "draw" => {
            let lines = lines(&typed.text("lines"))?;
            at.save(typed, back, move |s, id, stamp| s.draw_cuts(id, stamp, &panel, &lines).map(drop)).await
        }
        "zone" => {
            let rule = match typed.get("rule") {
                "out_of_sight" => ZoneRule::OutOfSight,
                _ => ZoneRule::Forbidden,
            };
            let ring = lines(&typed.text("ring"))?.into_iter().flatten().collect();
            let zone = CutZone { name: typed.text("name"), ring_mm: ring, rule };
            at.save(typed, back, move |s, id, stamp| s.mark_zone(id, stamp, &panel, &zone).map(drop)).await
        }
        "unzone" => {
            at.save(typed, back, move |s, id, stamp| s.clear_zones(id, stamp, &panel).map(drop)).await
        }
        _ => Err(super::super::unknown(typed.form())),
    }
}
