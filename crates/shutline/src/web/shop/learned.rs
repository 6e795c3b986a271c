//! What we learnt: times, removal and damage, believed before and known now; and the beliefs, to be changed.

use super::{begin, set};
use crate::web::fault::Fault;
use crate::web::form::{self, Returned, Typed};
use crate::web::layout::{self, Room};
use crate::web::scale::{Scale, four_digits, plain};
use crate::web::shell::{Desk, Shell};
use axum::Router;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use job::{FilmZone, SeamTimes, Shop, ShopSettings, ZoneRate};
use maud::{Markup, html};
use report::words::Words;
use studio::view::LearnedView;
use studio::{Refusal, Studio};
use units::Duration;

const PATH: &str = "/shop/learned";

pub(super) fn routes() -> Router<Shell> {
    Router::new().route("/shop/learned", get(open).post(send))
}

async fn open(desk: Desk) -> Result<Response, Fault> {
    page(&desk, &Returned::none()).await
}

async fn page(desk: &Desk, returned: &Returned) -> Result<Response, Fault> {
    let view = desk.ask(Studio::learned_view).await?;
    let shop = &desk.shop;
    let body = html! {
        (layout::head(
            "What we learnt",
            html! { "What prices and plans of correction rest on: what is believed, what this shop's own work says, and how sure that is." },
            html! { a.btn href="/shop" { "Back to the shop" } a.btn href="/shop/margins" { "Margins" } },
        ))
        (switches(shop, returned))
        (times(desk, &view, shop))
        (removal(&view, shop, &desk.words))
        (damage(&view, shop, desk.scale))
        (beliefs(shop, returned))
        (zones(shop, returned, desk.scale))
        (seams(shop, returned, desk.scale))
    };
    let page = layout::page(desk, Room::Shop, "What we learnt", returned.above(body));
    Ok((returned.status(), Html(page.into_string())).into_response())
}

fn named(name: &str) -> Markup {
    html! { input type="hidden" name="form" value=(name); }
}

fn switches(shop: &Shop, returned: &Returned) -> Markup {
    let e = &shop.settings.estimates;
    let typed = returned.or(begin("switches", shop)
        .ticked("times", e.learn_times)
        .ticked("removal", e.learn_removal)
        .ticked("damage", e.learn_damage));
    html! {
        section {
            h2 { "Learn from" }
            (returned.refusal("switches"))
            (form::form(PATH, &typed, html! {
                (named("switches"))
                div.fields.checks {
                    (typed.tick("times", "Finished steps, for times"))
                    (typed.tick("removal", "Test spots on other cars, for what a pass takes"))
                    (typed.tick("damage", "Claims, for damage of film"))
                }
                p.acts { button { "Keep" } }
            }))
            p.small.quiet { "What is switched off is still shown, but nothing rests on it." }
        }
    }
}

fn off(on: bool) -> Markup {
    html! { @if !on { " " (layout::tag("switched off")) } }
}

fn times(desk: &Desk, view: &LearnedView, shop: &Shop) -> Markup {
    let on = shop.settings.estimates.learn_times;
    let (known, rest): (Vec<_>, Vec<_>) = view.times.iter().partition(|t| t.finished > 0);
    let row = |t: &studio::view::TimeRow| {
        html! {
            tr {
                th scope="row" { (t.title) }
                td.say data-h="Library" { (super::library::time(&desk.words, t.library)) }
                td.n.say data-h="Finished" { (t.finished) @if t.outliers > 0 { " " span.small.quiet { "(" (t.outliers) " far out)" } } }
                td.n.say data-h="Takes here" { "× " (format!("{:.2}", t.factor)) }
                td.n.say data-h="95 %" { (format!("{:.2} to {:.2}", t.bounds.0, t.bounds.1)) }
                td.n.say data-h="One step varies by" { "± " (format!("{:.0}", 100.0 * t.spread)) " %" }
            }
        }
    };
    let head = html! { thead { tr { th { "Step" } th { "Library" } th.n { "Finished" } th.n { "Takes here" } th.n { "95 %" } th.n { "One step varies by" } } } };
    html! {
        section #times {
            h2 { "Times" (off(on)) }
            (layout::figures(&desk.words, &view.figures))
            @if known.is_empty() {
                (layout::empty(html! { p { "No step with a clock was finished yet, or learning is off: the step library speaks." } }))
            } @else {
                table.fold.flow { (head) tbody { @for t in known { (row(t)) } } }
            }
            @if !rest.is_empty() {
                details.more { summary { (rest.len()) " kinds of step without finished ones" }
                    div { table.fold.flow { (head) tbody { @for t in rest { (row(t)) } } } } }
            }
            p.small.quiet { "The rate of a step is a factor on the library's time: log-normal, moved by this shop's pace and by the step's own finished tasks (normal-gamma on logarithms). " (view.timed) " finished steps were timed; " (view.left_out) " were not (tapped afterwards, or left running) and teach nothing." }
        }
    }
}

fn removal(view: &LearnedView, shop: &Shop, words: &Words) -> Markup {
    let um = |(mean, sd): (f64, f64)| words.told(&format!("{mean:.2} ± {:.2} µm", 1.96 * sd));
    html! {
        section #removal {
            h2 { "What a pass takes" (off(shop.settings.estimates.learn_removal)) }
            table.fold.flow {
                thead { tr { th { "Method" } th.n { "Table" } th.n { "Test spots" } th.n { "On the next car" } } }
                tbody { @for r in &view.removal { tr {
                    th scope="row" { (r.name) }
                    td.n.say data-h="Table" { (um(r.before)) }
                    td.n.say data-h="Test spots" { (r.spots) }
                    td.n.say data-h="On the next car" { (um(r.now)) }
                } } }
            }
            p.small.quiet { "Mean removal per pass with its 95 % range. Paints differ: however many spots, half of the table's variance stays (common practice, no source). A car's own test spots come on top." }
        }
    }
}

fn damage(view: &LearnedView, shop: &Shop, scale: Scale) -> Markup {
    // rates are per area and year, film in use is area times years
    let (rate, area) = (|r: f64| scale.per_area(r), scale.area());
    let digits = if area == "m²" { 3 } else { 4 };
    html! {
        section #damage {
            h2 { "Damage of film" (off(shop.settings.estimates.learn_damage)) }
            table.fold.flow {
                thead { tr { th { "Zone" } th.n { "Believed" } th.n { "Claims" } th.n { "Film in use" } th.n { "Now" } th.n { "95 %" } } }
                tbody { @for d in &view.damage { tr {
                    th scope="row" { (d.zone.title()) }
                    td.n.say data-h="Believed" { (format!("{:.digits$}", rate(d.before))) }
                    td.n.say data-h="Claims" { (d.claims) }
                    td.n.say data-h="Film in use" { (layout::quantity(format!("{:.1}", scale.areas(d.exposure)), &format!("{area}·years"))) }
                    td.n.say data-h="Now" { (format!("{:.digits$}", rate(d.now))) }
                    td.n.say data-h="95 %" { @match d.bounds { Some((a, b)) => { (format!("{:.digits$} to {:.digits$}", rate(a), rate(b))) } None => { "–" } } }
                } } }
            }
            p.small.quiet { "Damages a " (area) " and year that make a piece be renewed: claims over film in use, the belief counted as film already seen (Gamma–Poisson). A claim counts in the zone of its spot on the film map; one without a spot, on a panel of several zones, where damage gathers: behind the wheels." }
        }
    }
}

fn beliefs(shop: &Shop, returned: &Returned) -> Markup {
    let e = &shop.settings.estimates;
    let typed = returned.or(begin("beliefs", shop)
        .with("spread", plain(e.spread * 100.0))
        .with("pace", plain(e.pace * 100.0))
        .with("mishap_share", plain(e.mishap_share * 100.0))
        .with("mishap_times", plain(e.mishap_times))
        .with("hidden_share", plain(e.hidden_share * 100.0))
        .with("hidden_panel", plain(e.hidden_panel.as_minutes()))
        .with("years", plain(e.years))
        .with("interest", plain(e.interest_percent)));
    super::folded(
        "beliefs",
        "Beliefs about times",
        returned,
        PATH,
        &typed,
        html! {
            (named("beliefs"))
            p { "They hold until this shop's own work says better. All are common practice, no source." }
            div.fields {
                (typed.field("spread", "One step varies by").unit("± %").required())
                (typed.field("pace", "Our pace against the library, before anything is known").unit("± %").required())
                (typed.field("mishap_share", "Something goes wrong").unit("% of steps").hint("0: nothing is reckoned with").required())
                (typed.field("mishap_times", "Such a step takes").unit("times as long").required())
                (typed.field("hidden_share", "Old film hides marks").unit("% of cars").required())
                (typed.field("hidden_panel", "That makes work, each panel").unit("min").required())
                (typed.field("years", "Renewals are reckoned over").unit("years").required())
                (typed.field("interest", "Interest on what is paid later").unit("% a year").required())
            }
            p.acts { button { "Keep these beliefs" } }
        },
    )
}

fn zones(shop: &Shop, returned: &Returned, scale: Scale) -> Markup {
    let e = &shop.settings.estimates;
    let names: Vec<(String, String)> =
        FilmZone::ALL.iter().map(|z| (format!("rate_{}", z.name()), format!("worth_{}", z.name()))).collect();
    let typed = FilmZone::ALL.iter().zip(&names).fold(begin("zones", shop), |t, (zone, (often, worth))| {
        let belief = e.zone(*zone);
        t.with(often, four_digits(scale.per_area(belief.a_m2_year)))
            .with(worth, plain(scale.areas(belief.worth_m2_years)))
    });
    let a_year = format!("a {} and year", scale.area());
    let years = format!("{}·years of our own film", scale.area());
    let typed = returned.or(typed);
    super::folded(
        "zones",
        "Beliefs about damage by zone",
        returned,
        PATH,
        &typed,
        html! {
            (named("zones"))
            p { "How often film is damaged so that it is renewed. Chips gather behind the wheels. Common practice, no source." }
            div.fields { @for (zone, (often, worth)) in FilmZone::ALL.iter().zip(&names) {
                @let title = capital(zone.title());
                @let worth_title = format!("{title}: worth");
                (typed.field(often, &title).unit(&a_year).required())
                (typed.field(worth, &worth_title).unit(&years).required())
            } }
            p.acts { button { "Keep these rates" } }
        },
    )
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn seams(shop: &Shop, returned: &Returned, scale: Scale) -> Markup {
    let s = &shop.settings.estimates.seams;
    let code = shop.settings.prices.currency.code();
    let typed = returned.or(begin("seam_times", shop)
        .with("piece", plain(s.piece.as_minutes()))
        .with("m2", four_digits(scale.per_area(s.m2.as_minutes())))
        .with("seam_m", four_digits(scale.per_long(s.seam_m.as_minutes())))
        .with("removal_m2", four_digits(scale.per_area(s.removal_m2.as_minutes())))
        .with("renewal", plain(s.renewal.as_minutes()))
        .with("flaws", four_digits(scale.per_area(s.flaws_m2)))
        .with("offcut", plain(s.offcut_value * 100.0))
        .with("unseen", scale.cost_long(s.unseen_m).amount().normalize()));
    let (area, length) = (scale.area(), scale.long_in_full());
    let (fitting, removing) = (format!("Fitting, each {area}"), format!("Taking old film off, each {area}"));
    let (seam, a_area) = (format!("Working a seam, each {length}"), format!("a {area}"));
    let unseen = format!("A {length} of seam not seen is worth, to the usual customer");
    super::folded(
        "seam_times",
        "Beliefs about pieces and seams",
        returned,
        PATH,
        &typed,
        html! {
            (named("seam_times"))
            p { "What fitting and renewing a piece takes, for choosing seams. Common practice, no source." }
            div.fields {
                (typed.field("piece", "Fitting, each piece").unit("min").required())
                (typed.field("m2", &fitting).unit("min").required())
                (typed.field("seam_m", &seam).unit("min").required())
                (typed.field("removal_m2", &removing).unit("min").required())
                (typed.field("renewal", "Around each renewal").unit("min").hint("booking, washing, handover").required())
                (typed.field("flaws", "Flaws that force a fresh start").unit(&a_area).required())
                (typed.field("offcut", "An offcut is worth").unit("% of fresh film").required())
                (typed.field("unseen", &unseen).unit(code).required())
            }
            p.acts { button { "Keep these times" } }
        },
    )
}

async fn send(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let form = typed.get("form").to_owned();
    let mut typed = typed.named(&form);
    let seen = typed.seen();
    let change = read(&form, &mut typed, desk.scale);
    let answer = match typed.sound().and(change) {
        Err(refusal) => Err(refusal),
        Ok(change) => {
            desk.save(&typed, move |studio, stamp| {
                set(studio, stamp, seen, |s| {
                    change(s);
                    Ok(())
                })
                .map(|()| PATH.to_owned())
            })
            .await
        }
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => {
            // The form's fingerprint is taken from the shop as it is now, so that saving again works.
            let shop = desk.ask(Studio::shop).await?;
            page(&Desk { shop, ..desk }, &Returned::refused(typed, refusal)).await
        }
    }
}

type Change = Box<dyn FnOnce(&mut ShopSettings) + Send>;

fn read(form: &str, typed: &mut Typed, scale: Scale) -> Result<Change, Refusal> {
    let change: Change = match form {
        "switches" => {
            let (times, removal, damage) = (typed.on("times"), typed.on("removal"), typed.on("damage"));
            Box::new(move |s: &mut ShopSettings| {
                let e = &mut s.estimates;
                (e.learn_times, e.learn_removal, e.learn_damage) = (times, removal, damage);
            })
        }
        "beliefs" => {
            let spread = typed.within("spread", 1.0, 150.0) / 100.0;
            let pace = typed.within("pace", 0.0, 100.0) / 100.0;
            let share = typed.within("mishap_share", 0.0, 50.0) / 100.0;
            let times = typed.within("mishap_times", 1.1, 10.0);
            let hidden = typed.within("hidden_share", 0.0, 100.0) / 100.0;
            let panel = Duration::minutes(typed.within("hidden_panel", 0.0, 1000.0));
            let years = typed.within("years", 1.0, 30.0);
            let interest = typed.within("interest", 0.0, 30.0);
            Box::new(move |s: &mut ShopSettings| {
                let e = &mut s.estimates;
                (e.spread, e.pace, e.mishap_share, e.mishap_times) = (spread, pace, share, times);
                (e.hidden_share, e.hidden_panel, e.years, e.interest_percent) =
                    (hidden, panel, years, interest);
            })
        }
        "zones" => {
            let read: Vec<(FilmZone, ZoneRate)> = FilmZone::ALL
                .into_iter()
                .map(|z| {
                    let (least, most) = (scale.per_area(0.0001), scale.per_area(5.0));
                    let often = typed.within(&format!("rate_{}", z.name()), least, most);
                    let (least, most) = (scale.areas(0.1), scale.areas(100_000.0));
                    let worth = typed.within(&format!("worth_{}", z.name()), least, most);
                    let a_m2_year = scale.per_area_from(often);
                    let worth_m2_years = scale.areas_from(worth);
                    (z, ZoneRate { a_m2_year, worth_m2_years })
                })
                .collect();
            Box::new(move |s: &mut ShopSettings| s.estimates.zones = read.into_iter().collect())
        }
        "seam_times" => {
            let mut minutes = |name: &str| Duration::minutes(typed.within(name, 0.0, 2000.0));
            let (piece, m2, seam_m) = (minutes("piece"), minutes("m2"), minutes("seam_m"));
            let (removal_m2, renewal) = (minutes("removal_m2"), minutes("renewal"));
            let seams = SeamTimes {
                piece,
                m2: m2 / scale.per_area(1.0),
                seam_m: seam_m / scale.per_long(1.0),
                removal_m2: removal_m2 / scale.per_area(1.0),
                renewal,
                flaws_m2: scale.per_area_from(typed.within("flaws", 0.0, scale.per_area(2.0))),
                offcut_value: typed.within("offcut", 0.0, 100.0) / 100.0,
                unseen_m: scale.cost_long_from(typed.money("unseen")),
            };
            Box::new(move |s: &mut ShopSettings| s.estimates.seams = seams)
        }
        other => {
            return Err(Refusal::not_found(
                format!("There is no form '{other}' on this page"),
                "Open the page again and send it from there.",
            ));
        }
    };
    Ok(change)
}
