//! A start that remembers closed jobs shows the same as one that reads the whole journal.
#![allow(clippy::unwrap_used, reason = "tests")]

use jiff::{SignedDuration, Timestamp};
use job::JobId;
use std::path::Path;
use studio::{Clock, Stamp, Studio};

fn now() -> Timestamp {
    "2026-03-02T08:00:00Z".parse().unwrap()
}

fn open(folder: &Path) -> Studio {
    Studio::open_at(folder, Clock::at(now() + SignedDuration::from_hours(1))).unwrap()
}

/// Everything that lists, searches, lessons and jobs show.
fn shown(studio: &Studio) -> String {
    let mut all = String::new();
    for query in ["", "van", "vsb 77", "lindqvist"] {
        all += &format!("{query}: {:#?}\n", studio.cars(query, true, 0, 50).unwrap());
    }
    all += &format!("{:#?}\n", studio.learned_view().unwrap());
    all += &format!("{:#?}\n", studio.open_jobs().unwrap());
    for entry in studio.jobs().unwrap() {
        let history = studio.history(&entry.job.car.plate).unwrap();
        all += &format!("{entry:#?} {history:#?}\n");
    }
    all
}

#[test]
fn what_is_remembered_shows_the_same_as_what_is_read() {
    let folder = tempfile::tempdir().unwrap();
    studio::demo::make(folder.path(), now(), "UTC").unwrap();
    // the first start reads and remembers, the second remembers
    let read = shown(&open(folder.path()));
    let slate = journal::Slate::open(folder.path()).unwrap();
    assert_eq!(slate.list("closed job", now()).unwrap().len(), 1, "the demo has one car handed over");
    drop(slate);
    let remembered = open(folder.path());
    assert!(shown(&remembered) == read);

    // a closed job that changes, one that is closed, and the car of a closed one back again
    let (first, fourth) = (JobId("0001".into()), JobId("0004".into()));
    let by = Stamp::by("Nadia");
    drop(remembered);
    let changing = open(folder.path());
    changing.note(&first, &by, "Asked for the winter wheels.").unwrap();
    changing.call_off(&fourth, &by, "sold").unwrap();
    let live = shown(&changing);
    assert!(live.contains("winter wheels") && live != read);
    drop(changing);
    let again = open(folder.path());
    assert_eq!(again.cars("winter", true, 0, 50).unwrap().count, 1);
    assert!(shown(&again) == live);
    drop(again);

    // what is remembered may be wiped
    for file in ["slate.db", "slate.db-wal", "slate.db-shm"] {
        let _ = std::fs::remove_file(folder.path().join(file));
    }
    assert!(shown(&open(folder.path())) == live);
}

#[test]
fn what_somebody_else_writes_is_seen_in_jobs_and_cars_that_nobody_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    studio::demo::make(folder.path(), now(), "UTC").unwrap();
    drop(open(folder.path()));
    let (here, there) = (open(folder.path()), open(folder.path()));
    let (first, by) = (JobId("0001".into()), Stamp::by("Nadia"));
    there.note(&first, &by, "Rang about a stone chip.").unwrap();
    assert_eq!(here.cars("stone chip", true, 0, 50).unwrap().count, 1);
    assert_eq!(here.job(&first).unwrap().version, there.job(&first).unwrap().version);
    assert!(shown(&here) == shown(&there));
}
