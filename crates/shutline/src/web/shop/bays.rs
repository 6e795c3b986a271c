//! Bays and rooms: what they are for, and their air.

use super::{answer, begin, folded};
use crate::web::fault::Fault;
use crate::web::form::{Returned, Typed};
use crate::web::layout;
use crate::web::scale::plain;
use crate::web::shell::Desk;
use axum::response::Response;
use job::{Bay, Shop};
use maud::{Markup, html};
use studio::Refusal;
use studio::engine::air;
use studio::engine::route::ROOMS;
use units::Volume;

pub(super) fn list(desk: &Desk, shop: &Shop, returned: &Returned) -> Markup {
    let bays = &shop.settings.bays;
    html! {
        section aria-labelledby="bays" {
            h2 #bays { "Bays and rooms" }
            @if bays.is_empty() { (layout::empty(html! { p { "No bays yet. Without them nothing can be planned." } })) }
            @else {
                table.fold {
                    thead { tr { th { "Bay" } th { "For" } th.n { "Places" } th { "Air shared as" } th.n { "Volume" } th.n { "Air changes" } th { "Clear after dust" } } }
                    tbody { @for b in bays { tr {
                        th scope="row" { (b.name) }
                        td data-h="For" { (b.kinds.iter().map(|k| k.replace('_', " ")).collect::<Vec<_>>().join(", ")) }
                        td.n data-h="Places" { (b.places) }
                        td data-h="Air shared as" { @if b.air.is_empty() { span.quiet { "its own" } } @else { (b.air) } }
                        td.n data-h="Volume" { @if b.volume > Volume::ZERO { (layout::quantity(desk.scale.room_text(b.volume), desk.scale.room())) } @else { span.quiet { "not known" } } }
                        td.n data-h="Air changes" { @if b.air_changes > 0.0 { (layout::quantity(plain(b.air_changes), "/ h")) } @else { span.quiet { "not known" } } }
                        td data-h="Clear after dust" { @if let Some(f) = air::clearing(b, shop) { (layout::figure(&desk.words, &f)) } @else { span.quiet { "enter volume and air changes" } } }
                    } } }
                }
            }
            div.folds {
                @for (i, b) in bays.iter().enumerate() { (bay_form(desk, shop, Some((i, b)), returned)) }
                (bay_form(desk, shop, None, returned))
            }
        }
    }
}

fn bay_form(desk: &Desk, shop: &Shop, old: Option<(usize, &Bay)>, returned: &Returned) -> Markup {
    let name = old.map_or_else(|| "bay".to_owned(), |(i, _)| format!("bay{i}"));
    let begins = match old {
        Some((_, b)) => {
            let t = begin(&name, shop)
                .with("name", &b.name)
                .with("places", b.places)
                .with("air", &b.air)
                .with("volume", desk.scale.room_text(b.volume))
                .with("changes", plain(b.air_changes))
                .with("mixing", plain(b.mixing));
            b.kinds.iter().fold(t, |t, k| t.with("kinds", k))
        }
        None => begin(&name, shop).with("places", 1).with("volume", 0).with("changes", 0).with("mixing", 1),
    };
    let typed = returned.or(begins);
    let summary = old.map_or_else(|| "Add a bay".to_owned(), |(_, b)| format!("Change {}", b.name));
    let kinds: Vec<(&str, String)> = ROOMS.iter().map(|k| (*k, k.replace('_', " "))).collect();
    folded(
        &name,
        &summary,
        returned,
        "/shop/bay",
        &typed,
        html! {
            input type="hidden" name="form" value=(name);
            input type="hidden" name="old" value=[old.map(|(_, b)| &b.name)];
            div.fields {
                (typed.field("name", "Name").required())
                (typed.field("places", "Cars it holds").numeric().required())
                (typed.ticks("kinds", "For", &kinds))
                (typed.field("air", "Shares its air as").hint("bays with the same word here: no dusty work beside film"))
                (typed.field("volume", "Volume of air").unit(desk.scale.room()).hint("0 if not known"))
                (typed.field("changes", "Air changes an hour").numeric().hint("of filtered or outside air; 0 if not known"))
                (typed.field("mixing", "How well it mixes").numeric().hint("1 is perfect, 0.3 poor"))
            }
            div.acts {
                button name="act" value="save" { "Save" }
                @if old.is_some() { button name="act" value="remove" formnovalidate { "Take this bay away" } }
            }
        },
    )
}

pub(super) async fn bay(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let form = typed.text("form");
    let mut typed = typed.named(&form);
    let old = typed.some("old");
    if typed.get("act") == "remove" {
        return answer(desk, typed, "bays", move |settings| {
            let before = settings.bays.len();
            settings.bays.retain(|b| Some(&b.name) != old.as_ref());
            if settings.bays.len() == before {
                return Err(gone(old.as_deref().unwrap_or_default()));
            }
            Ok(())
        })
        .await;
    }
    let bay = Bay {
        name: typed.required("name"),
        kinds: typed.all("kinds").filter(|k| ROOMS.contains(k)).map(str::to_owned).collect(),
        places: typed.whole("places").unwrap_or(0),
        air: typed.text("air"),
        volume: desk.scale.room_from(typed.within("volume", 0.0, 1e6)),
        air_changes: typed.within("changes", 0.0, 200.0),
        mixing: typed.within("mixing", 0.0, 1.0),
    };
    answer(desk, typed, "bays", move |settings| {
        match old {
            Some(old) => match settings.bays.iter_mut().find(|b| b.name == old) {
                Some(place) => *place = bay,
                None => return Err(gone(&old)),
            },
            None => settings.bays.push(bay),
        }
        Ok(())
    })
    .await
}

fn gone(name: &str) -> Refusal {
    Refusal::not_found(format!("There is no bay '{name}'"), "Open the page again.")
}
