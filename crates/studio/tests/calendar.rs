//! The demo's plans: nobody stands in two places at once, unless somebody truly does; then it is said.
#![allow(clippy::unwrap_used, reason = "tests")]

use jiff::{SignedDuration, Timestamp};
use job::StepState;
use studio::view::{CalendarView, LaneKind, Stretch};
use studio::{Clock, Stamp, Studio};

/// Pairs of stretches in which one person is at two things at one time, found from what is drawn. Everybody in the
/// demo works the same hours, so no work rests while part of its crew is free.
fn doubled(view: &CalendarView) -> Vec<String> {
    let words = |s: &Stretch| format!("{} {} to {}", s.what, s.from, s.to);
    let mut found = Vec::new();
    for lane in view.lanes.iter().filter(|l| l.kind == LaneKind::Person) {
        for (i, a) in lane.stretches.iter().enumerate() {
            for b in lane.stretches[i + 1..].iter().filter(|b| a.from < b.to && b.from < a.to) {
                found.push(format!("{}: {} and {}", lane.name, words(a), words(b)));
            }
        }
    }
    found
}

fn check(studio: &Studio, kept: bool, when: &str) {
    let view = studio.calendar_view(None, 14, kept).unwrap();
    assert_eq!(doubled(&view), Vec::<String>::new(), "{when}, kept: {kept}");
    assert_eq!(view.clashes, Vec::new(), "{when}, kept: {kept}");
}

fn demo(now: &str) -> (tempfile::TempDir, Studio) {
    let folder = tempfile::tempdir().unwrap();
    let now: Timestamp = now.parse().unwrap();
    studio::demo::make(folder.path(), now, "UTC").unwrap();
    let studio = Studio::open_at(folder.path(), Clock::at(now)).unwrap();
    (folder, studio)
}

/// In the morning, shortly before the shop closes, on a Sunday.
#[test]
fn nobody_stands_in_two_places_at_once_in_any_plan_of_the_demo() {
    for now in ["2026-05-20T10:42:00Z", "2026-05-21T16:50:00Z", "2026-05-24T11:00:00Z"] {
        let (_folder, studio) = demo(now);
        check(&studio, true, now);
        // The known plan grows old while work runs on; the one that follows from how things stand is sound.
        for hours in [3, 21] {
            studio.clock().advance(SignedDuration::from_hours(hours));
            check(&studio, false, &format!("{now} and {hours} h"));
            studio.keep_plan(&Stamp::by("Nadia")).unwrap();
            check(&studio, true, &format!("{now} and {hours} h, planned again"));
        }
    }
}

#[test]
fn somebody_who_truly_works_in_two_places_is_named() {
    let (_folder, studio) = demo("2026-05-20T10:42:00Z");
    let ravi = Stamp::by("Ravi");
    let mut begun = 0;
    for entry in studio.jobs().unwrap() {
        let running = entry.job.work.iter().find(|(_, r)| r.state == StepState::Running);
        if let Some((no, _)) = running {
            studio.pause_step(&entry.id, &ravi, *no).unwrap();
            studio.start_step(&entry.id, &ravi, *no).unwrap();
            begun += 1;
        }
    }
    assert!(begun >= 2, "only {begun} steps run");
    for kept in [true, false] {
        let view = studio.calendar_view(None, 7, kept).unwrap();
        assert!(!doubled(&view).is_empty());
        let clash = view.clashes.iter().find(|c| c.who == "Ravi" && c.begun).unwrap();
        assert!(clash.from <= view.now && view.now < clash.to, "{clash:?}");
        assert_ne!(clash.what[0], clash.what[1]);
    }
}
