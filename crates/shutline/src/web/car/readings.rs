//! Readings: pasted, sent as a file, or typed one by one; what could not be read comes back by line.

use super::{Refusal, Returned, Sheet, Typed, finding, fold, panels, section};
use axum::response::Response;
use job::{Moment, Reading, Stage};
use maud::{Markup, html};
use std::sync::{Arc, Mutex, PoisonError};
use studio::command::ReadingsAnswer;
use studio::view::CarView;
use units::Thickness;

/// What came of a table of readings in which some rows could not be read.
pub(super) struct Rejected {
    answer: ReadingsAnswer,
    /// The heading and the rows that could not be read, to be mended.
    left: String,
    moment: Moment,
}

/// Most characters of a table of readings.
const LARGEST: usize = 1 << 20;

fn moments() -> [(&'static str, Moment, &'static str); 2] {
    [("before", Moment::Before, "Before correction"), ("after", Moment::After, "After correction")]
}

/// The moment of readings that are taken now.
fn usual(car: &CarView) -> &'static str {
    if car.job.stage() >= Stage::Work { "after" } else { "before" }
}

/// The ways in which readings come in.
pub(super) fn ways(at: &Sheet, car: &CarView, returned: &Returned, rejected: Option<&Rejected>) -> Markup {
    let begins = match rejected {
        Some(r) => Typed::new("csv")
            .with("csv", &r.left)
            .with("moment", if r.moment == Moment::After { "after" } else { "before" }),
        None => Typed::new("csv").with("moment", usual(car)),
    };
    let csv = returned.or(begins);
    let one = returned.or(Typed::new("one").with("moment", usual(car)));
    let choices: Vec<(&str, &str)> = moments().iter().map(|(w, _, t)| (*w, *t)).collect();
    let unit = at.scale().thickness();
    let gauges: Vec<&str> = car.shop.gauges.keys().map(String::as_str).collect();
    section(
        "readings",
        "Readings",
        html! {
            @if let Some(r) = rejected { (said(r)) }
            (fold("csv", "Paste or send a table", returned.is("csv") || rejected.is_some(), html! {
                (returned.refusal("csv"))
                (at.upload(&csv, html! {
                    div.fields {
                        (csv.area("csv", "Table of readings", "First line: panel, reading_um (or reading_mil), and u, v where known: 0 to 1 across and down the panel's drawing.", 6))
                        (csv.file("file", "Or a CSV file", "", ".csv,.txt,text/csv,text/plain"))
                        (csv.choice("moment", "When", &choices))
                    }
                    p.acts { button { "Take the readings in" } }
                }))
                details.how { summary { span.v { "An example" } } pre.example { "panel,reading_um,u,v\nhood,118,0.20,0.35\nhood,121,0.55,0.40\nleft_front_door,112,0.50,0.50" } }
            }))
            (fold("one", "Type a reading", returned.is("one"), html! {
                (returned.refusal("one"))
                (at.form(&one, html! {
                    div.fields data-place {
                        (finding::spot(&one))
                        (one.select("panel", "Panel", &with_none(panels::painted(car.body))))
                        (one.field("value", "Reading").unit(unit))
                        (one.field("clear", "Clear coat alone").unit(unit).hint("Only from a gauge that tells layers apart."))
                        (one.field("gauge", "Gauge").list(&gauges))
                        (one.field("spot", "Name of the spot").hint("The same name before and after correction."))
                        (one.field("u", "Across, 0 to 1").numeric().hint("Or tap the drawing."))
                        (one.field("v", "Down, 0 to 1").numeric())
                        (one.choice("moment", "When", &choices))
                    }
                    p.acts { button { "Take the reading in" } }
                }))
            }))
            p.acts {
                @for (word, moment, title) in moments() {
                    @if car.job.readings_at(moment).next().is_some() {
                        a.btn href={ (at.car_path()) "/readings.csv?moment=" (word) } { (title) ", CSV" }
                    }
                }
            }
        },
    )
}

fn with_none(mut list: Vec<(String, String)>) -> Vec<(String, String)> {
    list.insert(0, (String::new(), "Choose a panel, or tap the drawing".to_owned()));
    list
}

fn said(r: &Rejected) -> Markup {
    let rows = r.answer.rejected.len();
    html! {
        div.note.error role="alert" {
            p { b { (r.answer.kept) " readings were taken in, " (super::counted(rows, "row", "rows")) " could not be read." } }
            ul { @for row in r.answer.rejected.iter().take(40) {
                li { @if row.line > 0 { "Line " (row.line) ": " } (row.reason) }
            } @if rows > 40 { li { "and " (rows - 40) " more" } } }
            p { "The rows that were left out stand below with their heading. Mend them and send them again: what was taken in is not taken in twice." }
        }
    }
}

/// Takes a table in. Rows that cannot be read are named by line; the others are kept.
pub(super) async fn table(at: &Sheet, typed: &mut Typed) -> Result<Result<Response, Rejected>, Refusal> {
    let moment = moment(typed);
    let mut text = typed.text("csv");
    if let Some(file) = typed.files("file").next() {
        if !text.is_empty() {
            return Err(Refusal::invalid(
                "There are both a pasted table and a file",
                "Send one of them, then the other.",
            ));
        }
        text = plain(&file.bytes).map_err(|e| e.at(file.name.clone()))?;
    }
    typed.sound()?;
    if text.trim().is_empty() {
        return Err(Refusal::invalid(
            "Nothing was pasted and no file was chosen",
            "Paste the table, or choose the file of the gauge.",
        ));
    }
    if text.len() > LARGEST {
        return Err(Refusal::invalid(
            format!("The table has {} kB", text.len() >> 10),
            "Send at most 1 MB: a survey has some hundred readings.",
        ));
    }
    let answer: Arc<Mutex<Option<ReadingsAnswer>>> = Arc::default();
    let (sent, slot) = (text.clone(), answer.clone());
    let gone = at
        .save(typed, format!("{}#readings", at.path()), move |s, id, stamp| {
            let answer = s.measure_csv(id, stamp, &sent, moment)?;
            *slot.lock().unwrap_or_else(PoisonError::into_inner) = Some(answer);
            Ok(())
        })
        .await?;
    // A form that was sent twice has no answer of its own: it leads back to the page.
    let answer = answer.lock().unwrap_or_else(PoisonError::into_inner).take();
    Ok(match answer {
        Some(answer) if !answer.rejected.is_empty() => {
            let left = left(&text, &answer);
            Err(Rejected { answer, left, moment })
        }
        _ => Ok(gone),
    })
}

/// The heading with the rows that were left out.
fn left(text: &str, answer: &ReadingsAnswer) -> String {
    let is_left = |i: usize| answer.rejected.iter().any(|r| r.line == i as u64 + 1);
    let lines = text.lines().enumerate().filter(|(i, _)| *i == 0 || is_left(*i));
    lines.map(|(_, l)| l).collect::<Vec<_>>().join("\n")
}

/// Text of a file; says what it is when it is none.
fn plain(bytes: &[u8]) -> Result<String, Refusal> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if bytes.is_empty() {
        return Err(Refusal::invalid("The file is empty", "Choose the file that the gauge wrote."));
    }
    let text = std::str::from_utf8(bytes).ok().filter(|t| !t.contains('\0'));
    text.map(str::to_owned).ok_or_else(|| {
        let what = match bytes {
            [b'P', b'K', 3, 4, ..] => "a spreadsheet or a ZIP archive",
            [b'%', b'P', b'D', b'F', ..] => "a PDF document",
            _ => "no plain text",
        };
        Refusal::invalid(
            format!("This is {what}, not a CSV file"),
            "Save it as CSV in UTF-8, then send that file.",
        )
    })
}

fn moment(typed: &mut Typed) -> Moment {
    let choices: Vec<(&str, Moment)> = moments().iter().map(|(w, m, _)| (*w, *m)).collect();
    typed.one_of("moment", &choices).unwrap_or_default()
}

/// Takes one typed reading in.
pub(super) async fn one(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    let id = at.id.clone();
    let car = at.desk.shell.ask(move |s| s.car_view(&id)).await?;
    let moment = moment(typed);
    let mut place = panels::place(typed, car.body, None);
    let (u, v) = (typed.number("u"), typed.number("v"));
    match (u, v) {
        (Some(_), Some(_)) => (place.u, place.v) = (u, v),
        (None, None) => {}
        (None, _) => typed.complain("u", "Give both, or neither."),
        (_, None) => typed.complain("v", "Give both, or neither."),
    }
    let value = typed.needed("value");
    let clear = typed.number("clear").map(|n| at.scale().thickness_from(n));
    let (gauge, spot) = (typed.some("gauge"), typed.some("spot"));
    let total = at.scale().thickness_from(value);
    if clear.is_some_and(|c| c > total || c <= Thickness::ZERO) {
        typed.complain("clear", "Between zero and the reading: check the two.");
    }
    typed.sound()?;
    let reading = Reading { place, total, clear, spot, repeat: None, gauge, substrate: None, moment };
    at.save(typed, format!("{}#readings", at.path()), move |s, id, stamp| {
        s.measure(id, stamp, std::slice::from_ref(&reading)).map(drop)
    })
    .await
}
