//! A route is set anew while somebody works: what is in hand goes on under its number.
#![allow(clippy::unwrap_used, reason = "tests")]

use jiff::SignedDuration;
use job::{
    Arrival, Car, Customer, Finding, FindingKind, FindingNo, JobId, Order, Place, Severity, StepNo, StepState,
};
use studio::command::{Finished, NewJob};
use studio::{Clock, Stamp, Studio};

const TAR: &str = "Lay on tar remover and let it work";

fn tar(panel: &str) -> Finding {
    Finding::new(FindingKind::Tar, Severity::Light, Place::spot(panel, 0.5, 0.5))
}

/// A van with tar on a sill, worked on until the remover lies on it.
fn with_tar_remover_on() -> (Studio, JobId, StepNo, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let now = "2026-05-13T14:05:00Z".parse().unwrap();
    let studio = Studio::open_at(folder.path(), Clock::at(now)).unwrap();
    let by = Stamp::by("Nadia");
    studio.set_up(&by, &studio::demo::shop_text("UTC", now).unwrap()).unwrap();
    let new = NewJob {
        car: Car { plate: "TST 5".into(), body: "van".into(), ..Car::default() },
        customer: Customer { name: "Ilse Invented".into(), ..Customer::default() },
        order: Order::default(),
        promised: None,
        expected: None,
    };
    let id = studio.book(&by, new).unwrap();
    studio.arrive(&id, &by, &Arrival::default()).unwrap();
    studio.find(&id, &by, &tar("left_rocker")).unwrap();
    studio.sign_arrival(&id, &by, "Ilse Invented").unwrap();
    studio.set_route(&id, &by).unwrap();
    for _ in 0..20 {
        let job = studio.job(&id).unwrap().job;
        let step = job.open_steps().next().unwrap().clone();
        studio.start_step(&id, &by, step.no).unwrap();
        if step.title == TAR {
            return (studio, id, step.no, folder);
        }
        studio.clock().advance(SignedDuration::from_mins(10));
        let wanted = studio.step_view(&id, step.no).unwrap().wanted;
        let checked = wanted.iter().filter_map(|w| w.strip_prefix("Check: ")).map(str::to_owned).collect();
        studio.finish_step(&id, &by, step.no, &Finished { checked, ..Finished::default() }).unwrap();
    }
    panic!("no step '{TAR}'");
}

#[test]
fn a_step_in_hand_takes_over_what_was_found_meanwhile() {
    let (studio, id, no, _folder) = with_tar_remover_on();
    let by = Stamp::by("Ravi");
    studio.find(&id, &by, &tar("right_rocker")).unwrap();
    studio.set_route(&id, &by).unwrap();
    let job = studio.job(&id).unwrap().job;
    let route = job.route.as_ref().unwrap();
    let with_tar: Vec<_> = route.steps.iter().filter(|s| s.title == TAR).collect();
    assert_eq!(with_tar.iter().filter(|s| s.no == no).count(), 1, "{with_tar:?}");
    let record = &job.work[&no];
    assert_eq!(record.state, StepState::Running);
    assert_eq!(record.planned.panels, vec!["left_rocker".into(), "right_rocker".into()]);
    // Its card is still there, and its end counts for both sills: nothing is laid on a second time.
    assert_eq!(studio.step_view(&id, no).unwrap().state, StepState::Running);
    studio.clock().advance(SignedDuration::from_mins(10));
    studio.finish_step(&id, &by, no, &Finished::default()).unwrap();
    let view = studio.route_view(&id).unwrap();
    assert!(view.stale.is_none() && view.breaches.is_empty(), "{:?} {:?}", view.stale, view.breaches);
    studio.set_route(&id, &by).unwrap();
    let job = studio.job(&id).unwrap().job;
    assert!(job.open_steps().all(|s| s.title != TAR));
}

#[test]
fn a_step_in_hand_stays_although_nothing_asks_for_it_any_more() {
    let (studio, id, no, _folder) = with_tar_remover_on();
    let by = Stamp::by("Ravi");
    studio.withdraw_finding(&id, &by, FindingNo(1), "It was a shadow.").unwrap();
    studio.set_route(&id, &by).unwrap();
    let job = studio.job(&id).unwrap().job;
    assert_eq!(job.route.as_ref().unwrap().steps.first().map(|s| s.no), Some(no));
    assert_eq!(job.work[&no].planned.panels, vec!["left_rocker".into()]);
    assert_eq!(studio.step_view(&id, no).unwrap().state, StepState::Running);
    studio.clock().advance(SignedDuration::from_mins(5));
    studio.finish_step(&id, &by, no, &Finished::default()).unwrap();
    assert_eq!(studio.job(&id).unwrap().job.work[&no].state, StepState::Done);
}
