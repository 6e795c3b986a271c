//! What holds for the whole shop: name and units, hours, prices, limits of paint and film.

use super::{answer, begin, days, days_text};
use crate::web::fault::Fault;
use crate::web::form::{self, Returned, Typed};
use crate::web::scale::plain;
use crate::web::shell::Desk;
use axum::response::Response;
use jiff::civil;
use job::{ClockForm, Cutter, DateForm, PriceList, Shift, Shop, TaxRule, UnitSystem};
use maud::{Markup, html};
use studio::Times;
use units::{Currency, Duration, Rounding};

pub(super) fn general_form(shop: &Shop, returned: &Returned) -> Markup {
    let s = &shop.settings;
    let typed = returned.or(begin("general", shop)
        .with("name", &s.name)
        .with("address", &s.address)
        .with("zone", &s.time_zone)
        .with("units", if s.units == UnitSystem::Us { "us" } else { "metric" })
        .with("clock", if s.clock == ClockForm::Hours12 { "12" } else { "24" })
        .with("dates", DATES.iter().find(|(_, form, _)| *form == s.dates).map_or("", |(name, ..)| name))
        .with("paper", &s.paper)
        .with("warranty", &s.warranty));
    html! {
        section aria-labelledby="general-head" {
            h2 #general-head { "Name, units, documents" }
            (returned.refusal("general"))
            (form::form("/shop/general", &typed, html! {
                div.fields {
                    (typed.field("name", "Name of the shop"))
                    (typed.field("zone", "Time zone").hint("such as America/Chicago or Europe/Lisbon").required())
                    (typed.select("units", "Units", &[("metric", "Metric: mm, m², µm, L, °C"), ("us", "US: in, ft², mil, fl oz, °F")]))
                    (typed.select("clock", "Times of day", &[("24", "24 hours: 16:05"), ("12", "12 hours: 4:05 pm")]))
                    (typed.select("dates", "Days", &DATES.map(|(name, _, words)| (name, words))))
                    (typed.select("paper", "Paper of documents", &[("a4", "A4"), ("us-letter", "US letter")]))
                    (typed.area("address", "Address, for documents", "", 3))
                    (typed.area("warranty", "Warranty, for the handover report", "", 4))
                }
                div.acts { button { "Save" } }
            }))
        }
    }
}

/// Ways of writing days: name in the form, what it is, an example.
const DATES: [(&str, DateForm, &str); 3] = [
    ("month", DateForm::MonthFirst, "Month first: Fri, May 23, 2025"),
    ("day", DateForm::DayFirst, "Day first: Fri 23 May 2025"),
    ("iso", DateForm::Iso, "ISO 8601: Fri 2025-05-23"),
];

pub(super) async fn general(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("general");
    let (name, address, zone, warranty) =
        (typed.text("name"), typed.text("address"), typed.required("zone"), typed.text("warranty"));
    let units = typed.one_of("units", &[("metric", UnitSystem::Metric), ("us", UnitSystem::Us)]);
    // A page that was opened under an older program asks for neither: both stay as they are.
    let clocks = [("24", ClockForm::Hours24), ("12", ClockForm::Hours12)];
    let clock = if typed.get("clock").is_empty() { None } else { typed.one_of("clock", &clocks) };
    let forms = DATES.map(|(name, form, _)| (name, form));
    let dates = if typed.get("dates").is_empty() { None } else { typed.one_of("dates", &forms) };
    let paper = typed.one_of("paper", &[("a4", "a4"), ("us-letter", "us-letter")]);
    answer(desk, typed, "general-head", move |s| {
        s.name = name;
        s.address = address;
        s.time_zone = zone;
        s.warranty = warranty;
        s.units = units.unwrap_or_default();
        s.clock = clock.unwrap_or(s.clock);
        s.dates = dates.unwrap_or(s.dates);
        paper.unwrap_or("a4").clone_into(&mut s.paper);
        Ok(())
    })
    .await
}

const WEEK: [(&str, &str); 7] = [
    ("1", "Monday"),
    ("2", "Tuesday"),
    ("3", "Wednesday"),
    ("4", "Thursday"),
    ("5", "Friday"),
    ("6", "Saturday"),
    ("7", "Sunday"),
];

pub(super) fn with_shift(typed: Typed, shift: &Shift) -> Typed {
    let clock = |t: civil::Time| t.strftime("%H:%M").to_string();
    let typed = typed
        .with("from", clock(shift.from))
        .with("to", clock(shift.to))
        .with("break_from", clock(shift.break_from))
        .with("break_to", clock(shift.break_to));
    shift.days.iter().fold(typed, |t, d| t.with("days", d))
}

pub(super) fn shift_fields(typed: &Typed) -> Markup {
    html! {
        div.fields {
            (typed.ticks("days", "Working days", &WEEK))
            (typed.field("from", "Begin").kind("time"))
            (typed.field("to", "End").kind("time"))
            (typed.field("break_from", "Break from").kind("time"))
            (typed.field("break_to", "Break to").kind("time"))
        }
    }
}

pub(super) fn read_shift(typed: &mut Typed) -> Shift {
    let from = needed_time(typed, "from");
    let to = needed_time(typed, "to");
    let break_from = typed.time("break_from");
    let break_to = typed.time("break_to").or(break_from).unwrap_or(from);
    let break_from = break_from.unwrap_or(break_to);
    let days: std::collections::BTreeSet<i8> =
        typed.all("days").filter_map(|d| d.parse().ok()).filter(|d| (1..=7).contains(d)).collect();
    if days.is_empty() {
        typed.complain("days", "Choose at least one day.");
    }
    Shift { days, from, to, break_from, break_to }
}

fn needed_time(typed: &mut Typed, name: &str) -> civil::Time {
    if typed.get(name).is_empty() {
        typed.complain(name, "Enter a time.");
    }
    typed.time(name).unwrap_or_default()
}

pub(super) fn shift_words(shift: &Shift, times: &Times) -> String {
    let days: Vec<&str> = WEEK
        .iter()
        .filter(|(n, _)| shift.days.iter().any(|d| d.to_string() == *n))
        .map(|(_, name)| name.get(..3).unwrap_or(name))
        .collect();
    format!("{}, {} to {}", days.join(" "), times.time(shift.from), times.time(shift.to))
}

pub(super) fn hours_form(shop: &Shop, returned: &Returned) -> Markup {
    let typed = returned.or(with_shift(begin("hours", shop), &shop.settings.shift)
        .with("closed", days_text(&shop.settings.closed)));
    html! {
        section aria-labelledby="hours-head" {
            h2 #hours-head { "Hours" }
            (returned.refusal("hours"))
            (form::form("/shop/hours", &typed, html! {
                (shift_fields(&typed))
                div.fields { (typed.area("closed", "Closed on", "one day on each line, such as 2026-12-24", 3)) }
                div.acts { button { "Save the hours" } }
            }))
        }
    }
}

pub(super) async fn hours(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("hours");
    let shift = read_shift(&mut typed);
    let closed = days(&mut typed, "closed");
    answer(desk, typed, "hours-head", move |s| {
        s.shift = shift;
        s.closed = closed;
        Ok(())
    })
    .await
}

pub(super) fn prices_form(shop: &Shop, returned: &Returned) -> Markup {
    let p = &shop.settings.prices;
    let code = p.currency.code().to_owned();
    let typed = returned.or(begin("prices", shop)
        .with("currency", &code)
        .with("hour", p.hour.amount())
        .with("bay_hour", p.bay_hour.amount())
        .with("consumables", p.consumables_hour.amount())
        .with("margin", plain(p.margin_percent))
        .with("tax", plain(p.tax_percent))
        .with("tax_rule", if p.tax_rule == TaxRule::Line { "line" } else { "invoice" })
        .with(
            "rounding",
            match p.rounding {
                Rounding::HalfUp => "half_up",
                Rounding::HalfEven => "half_even",
                Rounding::Down => "down",
            },
        )
        .with("held", plain(p.held * 100.0))
        .with("deposit", plain(p.deposit_percent))
        .with("offer_days", p.offer_days));
    html! {
        section aria-labelledby="prices-head" {
            h2 #prices-head { "Prices and tax" }
            (returned.refusal("prices"))
            (form::form("/shop/prices", &typed, html! {
                div.fields {
                    (typed.field("currency", "Currency").hint("three capital letters, such as USD").required())
                    (typed.field("hour", "Hour of work").unit(&code).required())
                    (typed.field("bay_hour", "Hour of a bay").unit(&code).required())
                    (typed.field("consumables", "Consumables for an hour of work").unit(&code).hint("cloths, pads, blades, tape").required())
                    (typed.field("margin", "Margin over costs").unit("% of the net price").required())
                    (typed.field("tax", "Tax").unit("%").required())
                    (typed.select("tax_rule", "Tax is reckoned", &[("invoice", "on the whole, once"), ("line", "on each line")]))
                    (typed.select("rounding", "Halves are rounded", &[("half_up", "up"), ("half_even", "to the even neighbor"), ("down", "away, down")]))
                    (typed.field("held", "A fixed price covers").unit("% of such jobs").hint("the rest of them cost more than the price").required())
                    (typed.field("deposit", "Deposit").unit("% of the gross price").required())
                    (typed.field("offer_days", "An offer stands for").unit("days").required())
                }
                div.acts { button { "Save the prices" } }
            }))
        }
    }
}

pub(super) async fn prices(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("prices");
    let currency = Currency::from_code(typed.get("currency")).unwrap_or_else(|e| {
        typed.complain("currency", e.to_string());
        Currency::USD
    });
    let prices = PriceList {
        currency,
        hour: typed.money("hour"),
        bay_hour: typed.money("bay_hour"),
        consumables_hour: typed.money("consumables"),
        margin_percent: typed.within("margin", 0.0, 95.0),
        tax_percent: typed.within("tax", 0.0, 100.0),
        tax_rule: typed
            .one_of("tax_rule", &[("invoice", TaxRule::Invoice), ("line", TaxRule::Line)])
            .unwrap_or_default(),
        rounding: typed
            .one_of(
                "rounding",
                &[("half_up", Rounding::HalfUp), ("half_even", Rounding::HalfEven), ("down", Rounding::Down)],
            )
            .unwrap_or_default(),
        held: typed.within("held", 50.0, 99.0) / 100.0,
        deposit_percent: typed.within("deposit", 0.0, 100.0),
        offer_days: typed.within("offer_days", 1.0, 366.0) as i32,
    };
    answer(desk, typed, "prices-head", move |s| {
        s.prices = prices;
        Ok(())
    })
    .await
}

pub(super) fn limits_form(desk: &Desk, shop: &Shop, returned: &Returned) -> Markup {
    let (s, scale) = (&shop.settings, desk.scale);
    let typed = returned.or(begin("limits", shop)
        .with("floor", scale.thickness_text(s.floor))
        .with("allowance", scale.thickness_text(s.allowance))
        .with("risk", plain(s.risk * 100.0))
        .with("gap", scale.small_text(s.gap))
        .with("wrap", scale.small_text(s.wrap))
        .with("overcut", scale.small_text(s.cutter.overcut))
        .with("lead_in", scale.small_text(s.cutter.lead_in))
        .with("label", scale.small_text(s.cutter.label))
        .with("offcut_side", scale.small_text(s.offcut_side))
        .with("offcut_area", scale.area_text(s.offcut_area))
        .with("changeover", plain(s.changeover.as_minutes()))
        .with("dust", plain(s.dust_ratio)));
    html! {
        section aria-labelledby="limits-head" {
            h2 #limits-head { "Paint, film, air" }
            p.quiet { "What stands here at first is common practice without a source: set what your shop answers for." }
            (returned.refusal("limits"))
            (form::form("/shop/limits", &typed, html! {
                div.fields {
                    (typed.field("floor", "Clear coat that must stay, at least").unit(scale.thickness()).required())
                    (typed.field("allowance", "Clear coat taken over a car's life, at most").unit(scale.thickness()).required())
                    (typed.field("risk", "Accepted risk of going under the floor").unit("%").required())
                    (typed.field("gap", "Gap between pieces on the cutter").unit(scale.small()).required())
                    (typed.field("wrap", "Film beyond an edge that is wrapped").unit(scale.small()).required())
                    (typed.field("overcut", "A cut goes on over its start by").unit(scale.small()).hint("so that no bridge is left; 0 for none").required())
                    (typed.field("lead_in", "A cut begins beside the line by").unit(scale.small()).hint("in the waste, at most half the gap; 0 for none").required())
                    (typed.field("label", "Height of numbers and names on pieces").unit(scale.small()).hint("0 for none").required())
                    (typed.field("offcut_side", "An offcut is kept from a side of").unit(scale.small()).required())
                    (typed.field("offcut_area", "and an area of").unit(scale.area()).required())
                    (typed.field("changeover", "Changeover between dusty and clean work").unit("min").required())
                    (typed.field("dust", "Dust after polishing against before").unit(": 1").hint("how far the count must fall again before film").required())
                }
                div.acts { button { "Save the limits" } }
            }))
        }
    }
}

pub(super) async fn limits(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("limits");
    let scale = desk.scale;
    let floor = scale.thickness_from(typed.needed("floor"));
    let allowance = scale.thickness_from(typed.needed("allowance"));
    let risk = typed.within("risk", 0.001, 49.0) / 100.0;
    let gap = scale.small_from(typed.within("gap", 0.0, 100.0));
    let wrap = scale.small_from(typed.within("wrap", 0.0, 200.0));
    let cutter = Cutter {
        overcut: scale.small_from(typed.within("overcut", 0.0, 50.0)),
        lead_in: scale.small_from(typed.within("lead_in", 0.0, 50.0)),
        label: scale.small_from(typed.within("label", 0.0, 100.0)),
    };
    let side = scale.small_from(typed.within("offcut_side", 0.0, 10_000.0));
    let area = scale.area_from(typed.within("offcut_area", 0.0, 1000.0));
    let changeover = Duration::minutes(typed.within("changeover", 0.0, 1440.0));
    let dust = typed.within("dust", 1.0, 1e6);
    answer(desk, typed, "limits-head", move |s| {
        s.floor = floor;
        s.allowance = allowance;
        s.risk = risk;
        s.gap = gap;
        s.wrap = wrap;
        s.cutter = cutter;
        s.offcut_side = side;
        s.offcut_area = area;
        s.changeover = changeover;
        s.dust_ratio = dust;
        Ok(())
    })
    .await
}
