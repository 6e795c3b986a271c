//! Fills a studio folder with many invented jobs, for measuring: `many FOLDER JOBS`.
//!
//! The demo's studio, and then its past over and over under other plates: of five further jobs two were done wholly and
//! handed over, one was called off half-way and two soon after arrival; about forty events each.
#![allow(clippy::unwrap_used, reason = "an example")]

use jiff::Timestamp;
use journal::{Expected, Journal, NewEvent, Recorded, Stream};
use std::path::Path;

/// What one further job repeats: a job of the demo, and whether it is called off at the end.
const REPEATED: [(&str, bool); 5] =
    [("0001", false), ("0005", true), ("0001", false), ("0002", true), ("0005", true)];
const COLORS: [&str; 4] = ["sand", "teal", "rust", "slate"];

fn main() {
    let mut args = std::env::args().skip(1);
    let (folder, jobs) = (args.next().unwrap(), args.next().unwrap().parse::<u32>().unwrap());
    let now: Timestamp = "2026-01-05T08:00:00Z".parse().unwrap();
    studio::demo::make(Path::new(&folder), now, "UTC").unwrap();
    let journal = Journal::open(&folder).unwrap();
    let stream = |name: &str| Stream::new(name).unwrap();
    let rows = |name: &str| journal.load(&stream(name), 0).unwrap();
    let mine: Vec<Vec<Recorded>> = REPEATED.iter().map(|(of, _)| rows(&format!("job/{of}"))).collect();
    let bodies: Vec<_> = body::Style::ALL.iter().map(|s| s.name()).collect();
    let has = journal.streams("job/").unwrap().len() as u32;
    for number in has + 1..=jobs {
        let which = number as usize % REPEATED.len();
        let (of, ended) = REPEATED[which];
        let (id, plate) = (format!("{number:04}"), format!("INV {number}"));
        let again = |row: &Recorded| NewEvent {
            kind: row.kind.clone(),
            body: row.body.replace(&format!("\"job\":\"{of}\""), &format!("\"job\":\"{id}\"")),
            at: row.at,
            by: row.by.clone(),
        };
        let mut told: Vec<NewEvent> = mine[which].iter().map(again).collect();
        told[0].body = booked(&told[0].body, number, &plate, bodies[number as usize % bodies.len()]);
        if ended {
            let body = r#"{"v":1,"why":"made up"}"#.to_owned();
            told.push(NewEvent { kind: "called_off".into(), body, ..told[0].clone() });
        }
        let car = format!("car/{}", plate.to_lowercase().replace(' ', ""));
        let past: Vec<NewEvent> = match of {
            "0001" => rows("car/vsb77").iter().filter(|r| r.body.contains("0001")).map(again).collect(),
            _ => vec![NewEvent {
                kind: "job_opened".into(),
                body: format!(r#"{{"job":"{id}","v":1}}"#),
                ..told[0].clone()
            }],
        };
        let numbered = NewEvent {
            kind: "job_numbered".into(),
            body: format!(r#"{{"number":{number},"v":1}}"#),
            ..told[0].clone()
        };
        let writes = vec![
            (stream(&format!("job/{id}")), Expected::New, told),
            (stream(&car), Expected::Any, past),
            (stream("shop"), Expected::Any, vec![numbered]),
        ];
        journal.append_all(writes, None).unwrap();
    }
    println!("{jobs} jobs, {} events", journal.head().unwrap());
}

/// The booking with a car and a customer of its own.
fn booked(body: &str, number: u32, plate: &str, style: &str) -> String {
    let mut event: serde_json::Value = serde_json::from_str(body).unwrap();
    let car = &mut event["car"];
    car["plate"] = plate.into();
    car["name"] = format!("Invented car {number}").into();
    car["body"] = style.into();
    car["color"] = COLORS[number as usize % COLORS.len()].into();
    event["customer"]["name"] = format!("Invented customer {number}").into();
    event.to_string()
}
