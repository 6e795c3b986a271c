//! Arrival: the car at the door, before anything is touched.

use super::{
    Base, Fault, Refusal, Returned, Sheet, Typed, before, counted, document, energy_label, finding, fold,
    framed, odometer_km, odometer_text, odometer_unit, pictures, section, unknown, word,
};
use crate::web::layout;
use axum::response::Response;
use job::{Arrival, PictureId, Soil, Stage};
use maud::{Markup, html};

const SOILS: [(Soil, &str); 3] = [
    (Soil::Light, "Light: dust and road film"),
    (Soil::Heavy, "Heavy: road dirt all over"),
    (Soil::VeryHeavy, "Very heavy: mud, salt or transport grime"),
];

pub(super) async fn page(at: &Sheet, returned: Returned) -> Result<Response, Fault> {
    let (base, ()) = at.ask(|_, _| Ok(())).await?;
    let job = &base.car.job;
    let signed = job.arrival.as_ref().and_then(|a| a.signed.as_ref());
    let acts = html! {
        (document(at, "arrival", "Arrival record, PDF"))
        @if signed.is_some() && job.is_open() && job.survey_closed.is_none() {
            a.btn.main href=(at.to(Stage::Survey)) { "On to the survey" }
        }
    };
    let lead = match signed {
        Some(s) => html! { "Signed by " (s.name) ", " (at.desk.words.moment(s.at)) "." },
        None if job.arrival.is_some() => html! { "Recorded, not signed yet." },
        None => html! { "Record its state before anything is touched." },
    };
    let body = html! {
        (state(at, &base, &returned))
        (finding::findings(at, &base, &returned))
        (walk_round(at, &base, &returned))
        (sign(at, &base, &returned))
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

/// The record: to be filled at first, then to be read and mended.
fn state(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let job = &base.car.job;
    section(
        "state",
        if job.arrival.is_some() { "As it came in" } else { "As it comes in" },
        html! {
            @match &job.arrival {
                Some(a) => {
                    (recorded(at, a))
                    @if job.is_open() { (fold("record", "Mend the record", returned.is("record"), record(at, base, returned))) }
                }
                None if job.is_open() => { (record(at, base, returned)) }
                None => { (layout::empty(html! { p { "The arrival was not recorded." } })) }
            }
        },
    )
}

fn record(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let scale = at.scale();
    let drive = base.car.job.car.drive;
    let arrived = base.car.job.arrival.as_ref();
    let a = arrived.cloned().unwrap_or_default();
    let text = |n: Option<String>| n.unwrap_or_default();
    let begins = Typed::new("record")
        .with("odometer", text(a.odometer_km.map(|km| odometer_text(scale, km))))
        .with("energy", text(a.energy_percent.map(|p| p.to_string())))
        .with("keys", text(arrived.map(|a| a.keys.to_string())))
        .with("belongings", &a.belongings)
        .with("lamps", &a.lamps)
        .with("soil", word(&a.soil))
        .with("note", &a.note);
    let typed = returned.or(begins);
    let soils: Vec<(String, &str)> = SOILS.iter().map(|(s, t)| (word(s), *t)).collect();
    html! {
        (returned.refusal("record"))
        (at.form(&typed, html! {
            (before(&base.car))
            div.fields {
                (typed.field("odometer", "Odometer").unit(odometer_unit(scale)).hint("Says nothing about the paint."))
                (typed.field("energy", energy_label(drive)).unit("%"))
                (typed.field("keys", "Keys handed over").numeric())
                (typed.field("lamps", "Warning lamps that are lit").hint("As they are called in the car, or none."))
                (typed.choice("soil", "How dirty", &soils))
                (typed.area("belongings", "Belongings left in the car", "", 2))
                (typed.area("note", "Anything else", "", 2))
            }
            @if base.car.job.arrival.as_ref().is_some_and(|a| a.signed.is_some()) {
                p.small.quiet { "A changed record has to be signed again." }
            }
            p.acts { button.main[arrived.is_none()] { @if arrived.is_none() { "Record the arrival" } @else { "Keep the record" } } }
        }))
    }
}

fn recorded(at: &Sheet, a: &Arrival) -> Markup {
    let soil = SOILS.iter().find(|(s, _)| *s == a.soil).map_or("", |(_, t)| t);
    let or_dash = |t: &str| html! { @if t.is_empty() { "–" } @else { (t) } };
    layout::facts(&[
        ("Came in", html! { (at.desk.words.moment(a.at)) }),
        ("Keys", html! { (counted(usize::from(a.keys), "key", "keys")) }),
        ("Warning lamps", or_dash(&a.lamps)),
        ("Dirt", html! { (soil) }),
        ("Belongings", or_dash(&a.belongings)),
        ("Note", or_dash(&a.note)),
    ])
}

fn walk_round(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let list: Vec<PictureId> = base
        .car
        .job
        .pictures
        .iter()
        .filter(|p| p.finding.is_none() && p.stage <= Stage::Arrival)
        .map(|p| p.picture.clone())
        .collect();
    let typed = returned.or(Typed::new("pictures"));
    section(
        "photos",
        "Walk-round",
        html! {
            @if list.is_empty() {
                (layout::empty(html! { p { "No pictures yet. Go once round the car before anything is touched: each side, each corner, wheels, interior." } }))
            } @else { (pictures::thumbs(at, &base.car.job, &list, "Walk-round")) }
            @if base.car.job.is_open() {
                (returned.refusal("pictures"))
                (at.upload(&typed, html! { (pictures::fields(&typed)) p.acts { button { "Add the pictures" } } }))
            }
        },
    )
}

fn sign(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let job = &base.car.job;
    let Some(a) = &job.arrival else {
        return section(
            "signing",
            "Signature",
            layout::empty(
                html! { p { "Comes when the arrival is recorded: the customer signs what was found." } },
            ),
        );
    };
    if let Some(s) = &a.signed {
        return section(
            "signing",
            "Signature",
            html! {
                p { b { (s.name) } " signed for the state recorded here, " (at.desk.words.moment(s.at)) "." }
                p.small.quiet { "What is found later is shown with a price and a date before anybody works on it." }
            },
        );
    }
    let typed = returned.or(Typed::new("sign").with("name", &job.customer.name));
    section(
        "signing",
        "Signature",
        html! {
            p { "The customer signs for the state recorded here: " (counted(job.standing().count(), "finding", "findings")) ". What is found later is shown with a price and a date before anybody works on it." }
            (returned.refusal("sign"))
            (at.form(&typed, html! {
                (typed.field("name", "Name of the customer").required())
                p.acts { button.main { "Sign the arrival record" } }
            }))
        },
    )
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    match typed.form() {
        "record" => {
            let arrival = read(typed, at)?;
            at.save(typed, format!("{}#findings", at.path()), move |s, id, stamp| {
                s.arrive(id, stamp, &arrival).map(drop)
            })
            .await
        }
        "pictures" => pictures::act(at, typed).await,
        "sign" => {
            let name = typed.text("name");
            at.save(typed, at.to(Stage::Survey), move |s, id, stamp| {
                s.sign_arrival(id, stamp, &name).map(drop)
            })
            .await
        }
        other => Err(unknown(other)),
    }
}

fn read(typed: &mut Typed, at: &Sheet) -> Result<Arrival, Refusal> {
    let odometer = typed.number("odometer");
    if odometer.is_some_and(|n| !(0.0..=9_999_999.0).contains(&n)) {
        typed.complain("odometer", "Enter a number from 0 to 9999999.");
    }
    let energy = typed.whole("energy");
    if energy.is_some_and(|p| p > 100) {
        typed.complain("energy", "Enter a number from 0 to 100.");
    }
    let keys = typed.whole("keys").unwrap_or(0);
    if keys > 20 {
        typed.complain("keys", "Enter a number from 0 to 20.");
    }
    let soils: Vec<(String, Soil)> = SOILS.iter().map(|(s, _)| (word(s), *s)).collect();
    let soils: Vec<(&str, Soil)> = soils.iter().map(|(w, s)| (w.as_str(), *s)).collect();
    let soil = typed.one_of("soil", &soils);
    typed.sound()?;
    Ok(Arrival {
        odometer_km: odometer.map(|n| odometer_km(at.scale(), n)),
        energy_percent: energy.map(|p| p as u8),
        keys: keys as u8,
        belongings: typed.text("belongings"),
        lamps: typed.text("lamps"),
        soil: soil.unwrap_or_default(),
        note: typed.text("note"),
        ..Arrival::default()
    })
}
