//! What happened on a job: who, when, what, as the journal holds it.

use super::{Base, Fault, Sheet, capital, counted, dressed};
use crate::web::layout::{self, Room};
use crate::web::shell::Desk;
use axum::extract::Path;
use axum::response::{Html, IntoResponse, Response};
use job::{JobEvent, Signature, Stage, Stored as _};
use journal::Recorded;
use maud::{Markup, html};

/// The newest entries, with the way to all of them.
pub(super) fn latest(at: &Sheet, base: &Base) -> Markup {
    let newest: Vec<&Recorded> = base.past.iter().rev().take(15).collect();
    html! {
        (table(at, base, &newest))
        p { a href={ (at.car_path()) "/past" } { "All entries with their seals" } }
    }
}

fn table(at: &Sheet, base: &Base, rows: &[&Recorded]) -> Markup {
    html! {
        table.fold {
            thead { tr { th { "What" } th { "Who" } th { "When" } } }
            tbody { @for r in rows { tr {
                th { (what(base, r)) }
                td data-h="Who" { (r.by) }
                td data-h="When" { (at.desk.words.moment(r.at)) }
            } } }
        }
    }
}

/// All entries.
pub(super) async fn open(desk: Desk, Path(id): Path<String>) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Arrival);
    let (base, ()) = at.ask(|_, _| Ok(())).await?;
    let car = &base.car;
    let lead = html! { (counted(base.past.len(), "entry", "entries")) ", oldest first. Entries are never changed or deleted; each seals the one before it." };
    let body = html! {
        (dressed())
        (super::block(&at, car))
        (layout::stages(car, None))
        (layout::head("What happened", lead, html! {}))
        table.fold {
            caption { "Newest seal of the whole record: " code { (car.seal) } }
            thead { tr { th { "What" } th { "Who" } th { "When" } th { "Seal" } } }
            tbody { @for r in &base.past { tr {
                th { (what(&base, r)) }
                td data-h="Who" { (r.by) }
                td data-h="When" { (at.desk.words.moment(r.at)) }
                td data-h="Seal" { code.small { (r.hash.to_string().chars().take(16).collect::<String>()) } }
            } } }
        }
    };
    let page = layout::page(&at.desk, Room::Cars, &format!("{}, what happened", car.tag.name), body);
    Ok(Html(page.into_string()).into_response())
}

/// An entry in words; by its kind where this program is too old to read it.
fn what(base: &Base, row: &Recorded) -> String {
    match JobEvent::decode(&row.kind, &row.body) {
        Ok(event) => said(base, &event),
        Err(_) => capital(&row.kind.replace('_', " ")),
    }
}

fn said(base: &Base, event: &JobEvent) -> String {
    let step = |no: &job::StepNo| {
        let job = &base.car.job;
        let title = job.planned(*no).map(|s| s.title.clone());
        title
            .or_else(|| job.work.get(no).map(|r| r.planned.title.clone()))
            .unwrap_or_else(|| format!("step {no}"))
    };
    // Who does not see customers does not read their names here either.
    let by = |s: &Signature| if base.customers { s.name.clone() } else { "the customer".to_owned() };
    match event {
        JobEvent::Booked { .. } => "Booked in".into(),
        JobEvent::CarChanged { .. } => "Car described anew".into(),
        JobEvent::CustomerChanged { .. } => "Owner described anew".into(),
        JobEvent::OrderChanged { .. } => "Order changed".into(),
        JobEvent::Promised { promised: Some(_) } => "Handover promised".into(),
        JobEvent::Promised { promised: None } => "Promise taken back".into(),
        JobEvent::Arrived { .. } => "Arrival recorded".into(),
        JobEvent::ArrivalSigned { signed } => format!("Arrival signed by {}", by(signed)),
        JobEvent::Found { finding } => {
            format!(
                "Finding {}: {}, {}",
                finding.no,
                finding.kind.title().to_lowercase(),
                finding.place.panel.title().to_lowercase()
            )
        }
        JobEvent::FindingChanged { finding } => format!("Finding {} described anew", finding.no),
        JobEvent::FindingWithdrawn { no, why } => format!("Finding {no} taken back: {why}"),
        JobEvent::Measured { readings } => {
            format!("{} taken", counted(readings.len(), "reading", "readings"))
        }
        JobEvent::ReadingsWithdrawn { place, why, .. } => {
            format!("Readings of {} taken back: {why}", place.panel.title().to_lowercase())
        }
        JobEvent::TestSpotted { spot } => format!(
            "Test spot on {}: {}, {}",
            spot.panel.title().to_lowercase(),
            spot.method,
            counted(spot.pairs.len(), "place", "places")
        ),
        JobEvent::TestSpotWithdrawn { why, .. } => format!("Test spot taken back: {why}"),
        JobEvent::SurveyClosed { signed } => format!("Survey closed by {}", signed.name),
        JobEvent::Pictured { finding: Some(no), .. } => format!("Picture of finding {no}"),
        JobEvent::Pictured { stage, .. } => format!("Picture, {}", stage.title().to_lowercase()),
        JobEvent::PictureMarked { mark, .. } if mark.text.is_empty() => {
            format!("Mark {} drawn on a picture", mark.no)
        }
        JobEvent::PictureMarked { mark, .. } => format!("Mark {} drawn on a picture: {}", mark.no, mark.text),
        JobEvent::PictureMarkRemoved { no, .. } => format!("Mark {no} taken off a picture"),
        JobEvent::PicturesPaired { pair } => match &pair.panel {
            Some(panel) => format!("Before and after put together: {}", panel.title().to_lowercase()),
            None => "Before and after put together".into(),
        },
        JobEvent::PicturesParted { .. } => "Before and after taken apart".into(),
        JobEvent::Offered { offer } => {
            format!("Offer {} made, {}", offer.no, counted(offer.options.len(), "option", "options"))
        }
        JobEvent::Accepted { acceptance } => format!(
            "Offer {} agreed by {}: {}",
            acceptance.offer,
            by(&acceptance.signed),
            acceptance.option.replace('_', " ")
        ),
        JobEvent::ChangeProposed { change } => {
            format!("Change order {} proposed: {}", change.no, change.reason)
        }
        JobEvent::ChangeAgreed { no, signed, .. } => format!("Change order {no} agreed by {}", by(signed)),
        JobEvent::ChangeDeclined { no, signed, .. } => {
            format!("Change order {no} declined by {}", by(signed))
        }
        JobEvent::RouteSet { route } => format!("Route set, {}", counted(route.steps.len(), "step", "steps")),
        JobEvent::StepStarted { no, .. } => format!("Started: {}", step(no)),
        JobEvent::StepPaused { no, .. } => format!("Paused: {}", step(no)),
        JobEvent::StepFinished { no, .. } => format!("Finished: {}", step(no)),
        JobEvent::StepUndone { no, .. } => format!("Taken back: {}", step(no)),
        JobEvent::StepDropped { no, why } => format!("Left out: {}. {why}", step(no)),
        JobEvent::PiecesSet { pieces } => {
            format!("Outlines loaded, {}", counted(pieces.len(), "piece", "pieces"))
        }
        JobEvent::LayoutWished { wish } if wish.placements.is_empty() => "Way of laying out chosen".into(),
        JobEvent::LayoutWished { .. } => "Layout kept".into(),
        JobEvent::ShapeTaken { shape } => match &shape.taken {
            job::Taken::Scan { name, .. } => format!("{}: scan {name} taken in", shape.panel.title()),
            job::Taken::Tapes { .. } => format!("{}: tape measures taken in", shape.panel.title()),
        },
        JobEvent::CutsConsidered { cuts } => match cuts.plans.len() {
            0 => format!("{}: zones for cuts marked", cuts.panel.title()),
            n => {
                format!("{}: {} reckoned", cuts.panel.title(), counted(n, "way to cut it", "ways to cut it"))
            }
        },
        JobEvent::SeamChosen { choice } => {
            format!("{}: to be cut '{}'", choice.panel.title(), choice.plan)
        }
        JobEvent::SidesPlanned { plan } => {
            format!("Seams on the sides chosen, {} on each", counted(plan.pieces as usize, "piece", "pieces"))
        }
        JobEvent::CutPlanned { .. } => "Layout accepted, film set aside".into(),
        JobEvent::CutDone { .. } => "Film cut".into(),
        JobEvent::CutUndone { .. } => "Layout undone".into(),
        JobEvent::Laid { pieces } => format!("Film laid, {}", counted(pieces.len(), "piece", "pieces")),
        JobEvent::HandedOver { handover } => match &handover.signed {
            Some(s) => format!("Handed over to {}", by(s)),
            None => "Handed over".into(),
        },
        JobEvent::VisitsPlanned { visits } => format!("{} planned", counted(visits.len(), "visit", "visits")),
        JobEvent::VisitDone { .. } => "Visit recorded".into(),
        JobEvent::Claimed { claim } => {
            format!("Claim on {}: {}", claim.panel.title().to_lowercase(), claim.what)
        }
        JobEvent::ClaimAnswered { index, .. } => format!("Claim {} answered", index + 1),
        JobEvent::ReminderSet { reminder } => match reminder.state {
            job::ReminderState::Draft => "Reminder written anew".into(),
            job::ReminderState::Sent => "Reminder sent to the customer".into(),
            job::ReminderState::Left => "Reminder left".into(),
        },
        JobEvent::Noted { .. } => "Note".into(),
        JobEvent::Spoken { voice } if voice.text.is_empty() => "Spoken note".into(),
        JobEvent::Spoken { voice } => format!("Spoken note: {}", voice.text),
        JobEvent::CalledOff { why } => format!("Called off: {why}"),
    }
}
