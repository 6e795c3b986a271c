//! The shelf: rolls, offcuts, chemicals with their lots.

use super::fault::Fault;
use super::form::{self, Returned, Typed};
use super::layout::{self, Room};
use super::scale::Scale;
use super::shell::{Desk, Shell};
use axum::Router;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use jiff::civil::Date;
use job::{Grain, Lot, Offcut, Product, Roll};
use maud::{Markup, html};
use std::collections::{BTreeMap, BTreeSet};
use studio::view::{Caution, StockView};
use studio::{Refusal, Stamp, Studio};
use units::Length;

/// Routes of the shelf.
pub fn routes() -> Router<Shell> {
    Router::new()
        .route("/stock", get(shelf))
        .route("/stock/roll", post(roll))
        .route("/stock/count", post(count))
        .route("/stock/offcut", post(offcut))
        .route("/stock/discard", post(discard))
        .route("/stock/product", post(product))
        .route("/stock/lot", post(lot))
        .route("/stock/dispose", post(dispose))
}

async fn shelf(desk: Desk) -> Result<Response, Fault> {
    page(&desk, &Returned::none()).await
}

async fn page(desk: &Desk, returned: &Returned) -> Result<Response, Fault> {
    let (view, today, names) = desk
        .ask(|s| {
            let shop = s.shop()?;
            let today = s.now().to_zoned_datetime(studio::zone_of(&shop)).date();
            // Products go by the names that steps use, so that a step finds its lots.
            let library = studio::engine::route::library(s, &shop)?;
            let names: BTreeSet<String> =
                library.steps().iter().flat_map(|s| &s.products).map(|p| p.name.clone()).collect();
            Ok((s.stock_view()?, today, names))
        })
        .await?;
    let body = html! {
        (layout::head("Stock", html! { "Film, offcuts and chemicals, with their batches." }, html! {}))
        @for w in &view.warnings {
            (layout::note(html! { p { b { (desk.words.told(&w.what)) } " " (w.remedy) } }))
        }
        (rolls(desk, &view, today, returned))
        (offcuts(desk, &view, today, returned))
        (chemicals(desk, &view, today, &names, returned))
    };
    Ok((
        returned.status(),
        Html(layout::page(desk, Room::Stock, "Stock", returned.above(body)).into_string()),
    )
        .into_response())
}

fn rolls(desk: &Desk, view: &StockView, today: Date, returned: &Returned) -> Markup {
    let (words, scale) = (&desk.words, desk.scale);
    let long = |l: Length| {
        let (n, unit) = words.long_length(l);
        layout::quantity(n, unit)
    };
    html! {
        section aria-labelledby="rolls" {
            h2 #rolls { "Rolls" }
            @if view.rolls.is_empty() {
                (layout::empty(html! { p { "No film on the shelf. Receive a roll below; layouts are made on the rolls that are here." } }))
            } @else {
                table.fold.flow {
                    thead { tr { th { "Roll" } th { "Film" } th { "Batch" } th.n { "Width" } th.n { "Left" } th.n { "Free" } th { "Set aside for" } @if desk.sees_prices() { th.n { "Cost" } } th.n { "Since" } th { span.unseen { "Do" } } } }
                    tbody { @for r in &view.rolls { tr id={ "roll-" (r.id) } {
                        th scope="row" { (r.id) }
                        td data-h="Film" { (r.film) @if !r.bad_spots_mm.is_empty() { br; small.quiet { (r.bad_spots_mm.len()) " bad " @if r.bad_spots_mm.len() == 1 { "spot" } @else { "spots" } } } @if !r.grain.is_none() { br; small.quiet { "has a direction" } } }
                        td.say data-h="Batch" { (r.lot) }
                        td.n.say data-h="Width" { (layout::quantity(scale.small_text(r.width), scale.small())) }
                        td.n.say data-h="Left" { (long(r.left)) }
                        td.n.say data-h="Free" { (long(r.free())) }
                        td.say data-h="Set aside for" { @for (i, job) in r.reserved_mm.keys().enumerate() {
                            @if i > 0 { ", " } a href={ "/cars/" (layout::segment(job.as_str())) "/film" } { (job) }
                        } }
                        @if desk.sees_prices() { td.n.say data-h="Cost" { (layout::money(words, scale.cost_area(r.cost_m2))) span.u { "\u{a0}/ " (scale.area()) } } }
                        td.n.say data-h="Since" { (words.date(r.since)) }
                        td data-h="" { (count_form(desk, r, returned)) }
                    } } }
                }
            }
            (roll_form(desk, today, returned))
        }
    }
}

fn count_form(desk: &Desk, roll: &Roll, returned: &Returned) -> Markup {
    let name = format!("count-{}", roll.id);
    let typed = returned.or(Typed::new(&name)
        .with("left", desk.scale.long_text(roll.left))
        .with("bad", spots_text(desk.scale, &roll.bad_spots_mm)));
    html! {
        details.fold.small-fold open[returned.is(&name)] {
            summary { "Count anew" }
            (returned.refusal(&name))
            (form::form("/stock/count", &typed, html! {
                input type="hidden" name="id" value=(roll.id);
                (typed.field("left", "Left on it").unit(desk.scale.long()).required())
                (typed.area("bad", "Bad spots", &bad_hint(desk.scale), 2))
                div.acts { button { "Save the count" } }
            }))
        }
    }
}

fn roll_form(desk: &Desk, today: Date, returned: &Returned) -> Markup {
    let scale = desk.scale;
    let typed = returned
        .or(Typed::new("roll").with("since", today).with("margin", scale.small_text(Length::mm(5.0))));
    html! {
        @if desk.sees_prices() { details.fold open[returned.is("roll")] {
            summary { "Receive a roll" }
            (returned.refusal("roll"))
            (form::form("/stock/roll", &typed, html! {
                div.fields {
                    (typed.field("id", "Name on the shelf").hint("written on the core, unique").required())
                    (typed.field("film", "Kind of film").required())
                    (typed.field("lot", "Batch").hint("from the label; goes into the handover report"))
                    (typed.field("width", "Width").unit(scale.small()).required())
                    (typed.field("left", "Length on it").unit(scale.long()).required())
                    (typed.field("margin", "Edge that cannot be used, each side").unit(scale.small()).required())
                    (typed.field("cost", scale.area_in_full()).unit(desk.words.currency.code()).required())
                    (typed.field("since", "Came on").kind("date"))
                    (typed.select("grain", "Which way film may lie", &GRAINS))
                    (typed.area("bad", "Bad spots", &bad_hint(scale), 2))
                }
                div.acts { button { "Put the roll on the shelf" } }
            }))
        } }
    }
}

fn offcuts(desk: &Desk, view: &StockView, today: Date, returned: &Returned) -> Markup {
    let scale = desk.scale;
    html! {
        section aria-labelledby="offcuts" {
            h2 #offcuts { "Offcuts" }
            (returned.refusal("discard"))
            @if view.offcuts.is_empty() {
                (layout::empty(html! { p { "No offcuts. Useful rests come here by themselves when film is cut; layouts use them first." } }))
            } @else {
                table.fold.flow {
                    thead { tr { th { "Offcut" } th { "Film" } th { "Batch" } th.n { "Length × width" } th { "From roll" } th { "Set aside for" } th.n { "Since" } th { span.unseen { "Do" } } } }
                    tbody { @for o in &view.offcuts { tr id={ "offcut-" (o.id) } {
                        th scope="row" { (o.id) }
                        td data-h="Film" { (o.film) }
                        td.say data-h="Batch" { (o.lot) }
                        td.n.say data-h="Length × width" { (layout::quantity(format!("{} × {}", scale.small_text(o.length), scale.small_text(o.width)), scale.small())) }
                        td.say data-h="From roll" { (o.roll) @if !o.outline_mm.is_empty() { br; small.quiet { "no rectangle" } } @if !o.bad_spots_mm.is_empty() { br; small.quiet { "with bad spots" } } }
                        td.say data-h="Set aside for" { @if let Some(job) = &o.reserved { a href={ "/cars/" (layout::segment(job.as_str())) "/film" } { (job) } } }
                        td.n.say data-h="Since" { (desk.words.date(o.since)) }
                        td data-h="" { @if o.reserved.is_none() { (form::button("/stock/discard", &[("id", &o.id)], false, "Throw away")) } }
                    } } }
                }
            }
            (offcut_form(desk, today, returned))
        }
    }
}

fn offcut_form(desk: &Desk, today: Date, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("offcut").with("since", today));
    let scale = desk.scale;
    html! {
        details.fold open[returned.is("offcut")] {
            summary { "Put an offcut on the shelf" }
            (returned.refusal("offcut"))
            (form::upload_form("/stock/offcut", &typed, html! {
                div.fields {
                    (typed.field("id", "Name on the shelf").hint("written on it, unique").required())
                    (typed.field("film", "Kind of film").required())
                    (typed.field("lot", "Batch"))
                    (typed.field("roll", "From roll"))
                    (typed.field("length", "Length, along the roll").unit(scale.small()).hint("not needed with an outline"))
                    (typed.field("width", "Width, across the roll").unit(scale.small()).hint("not needed with an outline"))
                    (typed.field("since", "Cut on").kind("date"))
                    (typed.area("bad", "Bad spots", &bad_hint(scale), 2))
                    (typed.file("outline", "Outline, where it is no rectangle", "SVG or DXF in mm, x along the roll; rings inside are bad spots", ".svg,image/svg+xml,.dxf,image/vnd.dxf"))
                }
                div.acts { button { "Put it on the shelf" } }
            }))
        }
    }
}

fn chemicals(
    desk: &Desk,
    view: &StockView,
    today: Date,
    names: &BTreeSet<String>,
    returned: &Returned,
) -> Markup {
    html! {
        section aria-labelledby="chemicals" {
            h2 #chemicals { "Chemicals" }
            @if view.products.is_empty() {
                (layout::empty(html! { p { "No products yet. Enter a product below, then receive its lots; steps book what they use." } }))
            } @else {
                table.fold.flow {
                    thead { tr { th { "Product" } th { "Lots" } @if desk.sees_prices() { th.n { "Cost" } } th.n { "Alcohol" } th { "Data sheet" } th { span.unseen { "Do" } } } }
                    tbody { @for (i, p) in view.products.iter().enumerate() { tr id={ "product-" (i) } {
                        th scope="row" { (p.name) }
                        td data-h="Lots" {
                            @if p.lots.is_empty() { span.quiet { "none" } }
                            @for l in &p.lots { div {
                                (l.lot) ", " (liquid(desk, l.left))
                                @if let Some(day) = l.expires {
                                    @if day < today { " " (layout::late(&format!("expired {}", desk.words.date(day)))) } @else { span.quiet { ", to " (desk.words.date(day)) } }
                                }
                            } }
                        }
                        @if desk.sees_prices() { td.n.say data-h="Cost" { (layout::money(&desk.words, desk.scale.cost_liquid(p.cost_l))) span.u { "\u{a0}/ " (desk.scale.bulk()) } } }
                        td.n.say data-h="Alcohol" { @if p.alcohol > 0.0 { (layout::quantity(super::scale::plain(p.alcohol * 100.0), "%")) } @else { "none" } }
                        td.say data-h="Data sheet" { (p.sheet) }
                        td data-h="" { (product_form(desk, Some((i, p)), names, returned)) }
                    } } }
                }
            }
            (lot_form(desk, view, returned))
            (dispose_form(view, returned))
            (product_form(desk, None, names, returned))
            (layout::caution(&Caution {
                title: "Read the data sheet first".into(),
                text: "Store acids apart from bases and alcohol away from heat. Never pour one product into another's bottle. Rags with solvent go into a closed metal bin.".into(),
            }))
        }
    }
}

/// An amount on the shelf.
fn liquid(desk: &Desk, amount: units::Volume) -> Markup {
    let (value, unit) = desk.words.liquid(amount);
    layout::quantity(value, unit)
}

fn lot_form(desk: &Desk, view: &StockView, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("lot"));
    let products: Vec<(&str, &str)> =
        view.products.iter().map(|p| (p.name.as_str(), p.name.as_str())).collect();
    html! {
        @if !products.is_empty() {
            details.fold open[returned.is("lot")] {
                summary { "Receive a lot" }
                (returned.refusal("lot"))
                (form::form("/stock/lot", &typed, html! {
                    div.fields {
                        (typed.select("product", "Product", &products))
                        (typed.field("lot", "Lot number").required())
                        (typed.field("left", "Amount").unit(desk.scale.liquid()).required())
                        (typed.field("expires", "Not to be used after").kind("date"))
                    }
                    div.acts { button { "Put the lot on the shelf" } }
                }))
            }
        }
    }
}

/// A lot that will not be used leaves the shelf.
fn dispose_form(view: &StockView, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("dispose"));
    let lots: Vec<(String, String)> = view
        .products
        .iter()
        .flat_map(|p| p.lots.iter().map(|l| (lot_key(&p.name, &l.lot), format!("{}, lot {}", p.name, l.lot))))
        .collect();
    html! {
        @if !lots.is_empty() {
            details.fold open[returned.is("dispose")] {
                summary { "Take a lot off the shelf" }
                (returned.refusal("dispose"))
                (form::form("/stock/dispose", &typed, html! {
                    div.fields {
                        (typed.select("which", "Lot", &lots))
                        (typed.field("why", "Why").hint("expired, spoilt, given away; it stays in the record").required())
                    }
                    (layout::caution(&Caution {
                        title: "Waste".into(),
                        text: "Dispose of it by its safety data sheet and local rules, never into the drain.".into(),
                    }))
                    div.acts { button { "Take it off the shelf" } }
                }))
            }
        }
    }
}

/// Product and lot in one value of a form.
fn lot_key(product: &str, lot: &str) -> String {
    serde_json::json!([product, lot]).to_string()
}

async fn dispose(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("dispose");
    let why = typed.required("why");
    let which: (String, String) = serde_json::from_str(typed.get("which")).unwrap_or_else(|_| {
        typed.complain("which", "Choose a lot.");
        Default::default()
    });
    answer(desk, typed, move |studio, stamp| {
        studio.dispose_lot(stamp, &which.0, &which.1, &why)?;
        Ok("/stock#chemicals".to_owned())
    })
    .await
}

fn product_form(
    desk: &Desk,
    old: Option<(usize, &Product)>,
    names: &BTreeSet<String>,
    returned: &Returned,
) -> Markup {
    let name = old.map_or_else(|| "product".to_owned(), |(i, _)| format!("product{i}"));
    let begins = match old {
        Some((_, p)) => Typed::new(&name)
            .with("name", &p.name)
            .with("cost", desk.scale.cost_liquid(p.cost_l).amount().round_dp(4).normalize())
            .with("alcohol", super::scale::plain(p.alcohol * 100.0))
            .with("sheet", &p.sheet),
        None => Typed::new(&name).with("alcohol", 0),
    };
    let typed = returned.or(begins);
    let list: Vec<&str> = names.iter().map(String::as_str).collect();
    html! {
        @if desk.sees_prices() { details.fold.small-fold[old.is_some()] open[returned.is(&name)] {
            summary { @if old.is_some() { "Change" } @else { "Enter a product" } }
            (returned.refusal(&name))
            (form::form("/stock/product", &typed, html! {
                input type="hidden" name="form" value=(name);
                div.fields {
                    @if old.is_some() { input type="hidden" name="name" value=(typed.get("name")); } @else {
                        (typed.field("name", "Name").hint("as the steps name it, so that they find it").list(&list).required())
                    }
                    (typed.field("cost", desk.scale.bulk_in_full()).unit(desk.words.currency.code()).required())
                    (typed.field("alcohol", "Isopropyl alcohol").unit("%").hint("0 for none; vapor is computed from it").required())
                    (typed.field("sheet", "Safety data sheet").hint("where it lies").wide())
                }
                div.acts { button { "Save the product" } }
            }))
        } }
    }
}

async fn answer(
    desk: Desk,
    typed: Typed,
    work: impl FnOnce(&Studio, &Stamp) -> Result<String, Refusal> + Send + 'static,
) -> Result<Response, Fault> {
    let answer = match typed.sound() {
        Err(refusal) => Err(refusal),
        Ok(()) => desk.save(&typed, work).await,
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => page(&desk, &Returned::refused(typed, refusal)).await,
    }
}

async fn roll(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("roll");
    let scale = desk.scale;
    let roll = Roll {
        id: typed.required("id"),
        film: typed.required("film"),
        lot: typed.text("lot"),
        width: scale.small_from(typed.needed("width")),
        left: scale.long_from(typed.needed("left")),
        reserved_mm: BTreeMap::new(),
        cost_m2: scale.cost_area_from(typed.money("cost")),
        margin: scale.small_from(typed.needed("margin")),
        since: typed.date("since").unwrap_or_default(),
        grain: grain(&mut typed),
        bad_spots_mm: spots(&mut typed, scale),
    };
    answer(desk, typed, move |studio, stamp| {
        if studio.shop()?.rolls.iter().any(|r| r.id == roll.id) {
            return Err(Refusal::invalid(
                format!("Roll {} is on the shelf already", roll.id),
                "Give this one another name, or count the old one anew.",
            ));
        }
        studio.receive_roll(stamp, &roll)?;
        Ok("/stock#rolls".to_owned())
    })
    .await
}

async fn count(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let id = typed.text("id");
    let mut typed = typed.named(&format!("count-{id}"));
    let left = desk.scale.long_from(typed.needed("left"));
    let scale = desk.scale;
    let bad_spots = typed.on("bad").then(|| spots(&mut typed, scale));
    answer(desk, typed, move |studio, stamp| {
        let shop = studio.shop()?;
        let Some(old) = shop.rolls.iter().find(|r| r.id == id) else {
            return Err(Refusal::not_found(format!("There is no roll {id}"), "Receive it first."));
        };
        let bad_spots_mm = bad_spots.unwrap_or_else(|| old.bad_spots_mm.clone());
        studio.receive_roll(stamp, &Roll { left, bad_spots_mm, ..old.clone() })?;
        Ok("/stock#rolls".to_owned())
    })
    .await
}

async fn offcut(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("offcut");
    let scale = desk.scale;
    let file = typed.files("outline").find(|f| !f.bytes.is_empty()).cloned();
    let mut offcut = Offcut {
        id: typed.required("id"),
        roll: typed.text("roll"),
        film: typed.required("film"),
        lot: typed.text("lot"),
        since: typed.date("since").unwrap_or_default(),
        bad_spots_mm: spots(&mut typed, scale),
        ..Offcut::default()
    };
    if file.is_none() {
        offcut.length = scale.small_from(typed.needed("length"));
        offcut.width = scale.small_from(typed.needed("width"));
    }
    answer(desk, typed, move |studio, stamp| {
        if let Some(file) = &file {
            let text = String::from_utf8_lossy(&file.bytes);
            studio::engine::film::shape_offcut(&mut offcut, &text, &file.name)?;
        }
        studio.keep_offcut(stamp, &offcut)?;
        Ok("/stock#offcuts".to_owned())
    })
    .await
}

/// Which way film may lie, as it is chosen.
const GRAINS: [(&str, &str); 3] = [
    ("none", "any way: plain film"),
    ("both", "along the roll, either way round: a texture"),
    ("one", "along the roll, one way only: a direction"),
];

fn grain(typed: &mut Typed) -> Grain {
    let choices = [("none", Grain::None), ("both", Grain::Both), ("one", Grain::One)];
    if typed.get("grain").is_empty() {
        Grain::None
    } else {
        typed.one_of("grain", &choices).unwrap_or_default()
    }
}

fn bad_hint(scale: Scale) -> String {
    format!("one on each line, in {}: from the loose end, from the edge, length, width", scale.small())
}

fn spots_text(scale: Scale, spots: &[[f64; 4]]) -> String {
    let line = |s: &[f64; 4]| s.map(|mm| scale.small_text(Length::mm(mm))).join(" ");
    spots.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// Bad spots as they are typed, in mm.
fn spots(typed: &mut Typed, scale: Scale) -> Vec<[f64; 4]> {
    let mut spots = Vec::new();
    for line in typed.text("bad").lines().map(str::trim).filter(|l| !l.is_empty()) {
        let numbers: Vec<f64> = line
            .split([' ', ';', '\t'])
            .filter(|n| !n.is_empty())
            .filter_map(|n| n.parse().ok())
            .map(|n| scale.small_from(n).as_mm())
            .collect();
        match numbers[..] {
            [x, y, l, w] if l > 0.0 && w > 0.0 && [x, y, l, w].iter().all(|n| n.abs() < 1e6) => {
                spots.push([x, y, l, w]);
            }
            _ => typed.complain("bad", format!("'{line}' is not four numbers, the last two above 0.")),
        }
    }
    spots
}

async fn discard(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let typed = typed.named("discard");
    let id = typed.text("id");
    answer(desk, typed, move |studio, stamp| {
        studio.discard_offcut(stamp, &id)?;
        Ok("/stock#offcuts".to_owned())
    })
    .await
}

async fn product(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let form = typed.text("form");
    let mut typed = typed.named(&form);
    let product = Product {
        name: typed.required("name"),
        cost_l: desk.scale.cost_liquid_from(typed.money("cost")),
        alcohol: typed.within("alcohol", 0.0, 100.0) / 100.0,
        sheet: typed.text("sheet"),
        lots: Vec::new(),
    };
    answer(desk, typed, move |studio, stamp| {
        studio.set_product(stamp, &product)?;
        Ok("/stock#chemicals".to_owned())
    })
    .await
}

async fn lot(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("lot");
    let product = typed.required("product");
    let lot = Lot {
        lot: typed.required("lot"),
        left: desk.scale.liquid_from(typed.needed("left")),
        expires: typed.date("expires"),
    };
    answer(desk, typed, move |studio, stamp| {
        studio.receive_lot(stamp, &product, &lot)?;
        Ok("/stock#chemicals".to_owned())
    })
    .await
}
