//! Documents and files of a car: PDF, cut file, readings, calendar.

use super::{Fault, Refusal, Sheet};
use crate::web::shell::Desk;
use axum::extract::{Path, Query};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use job::{ChangeNo, JobId, Moment, PictureId, Stage};
use report::document::Document;
use report::documents as make;
use serde::Deserialize;
use studio::Studio;
use studio::engine::film::CutFormat;
use studio::ics::Whose;

/// Photographs in documents, px on the longer side: enough for a third of a page at 300 dots an inch.
const PHOTOGRAPH: u32 = 1280;

/// A document as PDF.
pub(super) async fn document(
    desk: Desk,
    Path((id, file)): Path<(String, String)>,
) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Arrival);
    let job = at.id.clone();
    let name = file.strip_suffix(".pdf").unwrap_or(&file).to_owned();
    let title = format!("{job}-{name}.pdf");
    let pdf = at
        .desk
        .ask(move |studio| {
            let made = made(studio, &job, &name)?;
            made.pdf().map_err(|e| {
                Refusal::broken(e, "The record itself is sound. Report this to whoever keeps the program.")
            })
        })
        .await?;
    Ok(file_of("application/pdf", &title, false, pdf))
}

fn made(studio: &Studio, id: &JobId, name: &str) -> Result<Document, Refusal> {
    let car = studio.car_view(id)?;
    let album = |picture: &PictureId| studio.picture_shown(picture, PHOTOGRAPH).ok();
    let unknown = || {
        Refusal::not_found(
            format!("There is no document '{name}'"),
            "There are: arrival, offer, change-1 and so on, route, cut, handover.",
        )
    };
    Ok(match name {
        "arrival" => make::arrival(&car, &studio.survey_view(id)?, &album),
        "offer" => make::offer(&car, &studio.offer_view(id)?),
        "route" => make::route(&car, &studio.route_view(id)?),
        "cut" => make::cut(&car, &studio.film_view(id)?),
        "handover" => make::handover(&car, &studio.handover_view(id)?, &studio.survey_view(id)?, &album),
        _ => {
            let no: u32 = name.strip_prefix("change-").and_then(|n| n.parse().ok()).ok_or_else(unknown)?;
            let change = car.job.changes.iter().find(|c| c.no == ChangeNo(no)).ok_or_else(|| {
                Refusal::not_found(format!("There is no change order {no}"), "Open the offer sheet again.")
            })?;
            make::change(&car, change, &[], &album)
        }
    })
}

/// Outlines of one roll or offcut as they lie, for the cutter: `1.svg`, `1.dxf`, `1.plt` and so on.
pub(super) async fn cut_file(
    desk: Desk,
    Path((id, file)): Path<(String, String)>,
) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Film);
    let job = at.id.clone();
    let parts = file.split_once('.');
    let wanted =
        parts.and_then(|(n, ending)| Some((n.parse::<usize>().ok()?, CutFormat::from_ending(ending)?)));
    let Some((number, format)) = wanted else {
        return Err(at.desk.fault(Refusal::not_found(
            format!("There is no cut file '{file}'"),
            "Cut files end in .svg, .dxf or .plt: open the film sheet.",
        )));
    };
    let title = format!("{job}-cut-{file}");
    let text = at.desk.ask(move |studio| studio.cut_file(&job, number, format)).await?;
    let kind = match format {
        CutFormat::Svg => "image/svg+xml",
        CutFormat::Dxf => "image/vnd.dxf",
        CutFormat::Hpgl => "application/vnd.hp-hpgl",
    };
    Ok(file_of(kind, &title, true, text.into_bytes()))
}

/// Which readings are wanted.
#[derive(Deserialize)]
pub(super) struct Which {
    #[serde(default)]
    moment: Moment,
}

/// Readings of one moment as a table, in the form in which they can be sent again.
pub(super) async fn readings(
    desk: Desk,
    Path(id): Path<String>,
    Query(which): Query<Which>,
) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Survey);
    let id = at.id.clone();
    let when = if which.moment == Moment::After { "after" } else { "before" };
    let title = format!("{id}-readings-{when}.csv");
    let csv = at.desk.ask(move |s| Ok(studio::folder::readings_csv(&s.job(&id)?.job, which.moment))).await?;
    Ok(file_of("text/csv; charset=utf-8", &title, true, csv.into_bytes()))
}

/// The plan and the visits of this job as a calendar file.
pub(super) async fn calendar(desk: Desk, Path(id): Path<String>) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Visits);
    let job = at.id.clone();
    let title = format!("{job}.ics");
    let ics = at.desk.ask(move |studio| studio.calendar_file(&Whose::Job(job))).await?;
    Ok(file_of("text/calendar; charset=utf-8", &title, true, ics.into_bytes()))
}

/// A file with its kind and name; `keep` has the browser save it instead of showing it.
fn file_of(kind: &'static str, name: &str, keep: bool, bytes: Vec<u8>) -> Response {
    let name: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() || "-.".contains(c) { c } else { '_' }).collect();
    let how = if keep { "attachment" } else { "inline" };
    let disposition = format!("{how}; filename=\"{name}\"");
    ([(header::CONTENT_TYPE, kind.to_owned()), (header::CONTENT_DISPOSITION, disposition)], bytes)
        .into_response()
}
