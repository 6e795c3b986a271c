//! The fold from events to a job.
#![allow(clippy::unwrap_used, reason = "tests")]

use jiff::Timestamp;
use job::*;
use units::{Duration, Length};

fn minute(n: i64) -> Timestamp {
    Timestamp::from_second(1_800_000_000 + 60 * n).unwrap()
}

fn signed(n: i64) -> Signature {
    Signature { name: "Owner".into(), at: minute(n) }
}

fn step(no: u32, after: &[u32]) -> PlannedStep {
    PlannedStep {
        no: StepNo(no),
        step: format!("step_{no}"),
        title: format!("Step {no}"),
        after: after.iter().map(|n| After { step: StepNo(*n), ..After::default() }).collect(),
        ..PlannedStep::default()
    }
}

fn booked() -> Vec<JobEvent> {
    vec![JobEvent::Booked {
        at: minute(0),
        car: Car { plate: "A 1".into(), body: "coupe".into(), ..Car::default() },
        customer: Customer::default(),
        order: Order { film: Coverage::Front, ..Order::default() },
        promised: None,
        expected: None,
    }]
}

/// A job with a route of steps 1 and 2, in work.
fn in_work() -> Vec<JobEvent> {
    let mut events = booked();
    let option = OfferOption {
        id: "whole".into(),
        order: Order { film: Coverage::Whole, ..Order::default() },
        ..OfferOption::default()
    };
    let offer = Offer { no: OfferNo(1), options: vec![option], ..Offer::default() };
    let acceptance = Acceptance {
        offer: OfferNo(1),
        option: "whole".into(),
        signed: signed(4),
        drawn: None,
        strokes: Strokes::default(),
    };
    let route = RouteSheet { at: minute(5), steps: vec![step(1, &[]), step(2, &[1])], overrides: Vec::new() };
    events.extend([
        JobEvent::Arrived { arrival: Arrival { at: minute(1), ..Arrival::default() } },
        JobEvent::ArrivalSigned { signed: signed(2) },
        JobEvent::SurveyClosed { signed: signed(3) },
        JobEvent::Offered { offer },
        JobEvent::Accepted { acceptance },
        JobEvent::RouteSet { route },
        JobEvent::CutPlanned { plan: CutPlan::default() },
    ]);
    events
}

#[test]
fn the_stage_is_the_first_that_is_not_finished() {
    let events = in_work();
    let stages: Vec<Stage> = (1..=events.len()).map(|n| Job::fold(&events[..n]).stage()).collect();
    assert_eq!(
        stages,
        [
            Stage::Arrival,
            Stage::Arrival,
            Stage::Survey,
            Stage::Offer,
            Stage::Offer,
            Stage::Route,
            Stage::Film,
            Stage::Work
        ]
    );
}

#[test]
fn a_route_from_before_consent_is_not_the_route_of_the_job() {
    let mut events = booked();
    events.push(JobEvent::RouteSet {
        route: RouteSheet { at: minute(1), steps: vec![step(1, &[])], overrides: Vec::new() },
    });
    events.extend(in_work().into_iter().skip(1).take(5));
    let job = Job::fold(&events);
    assert_eq!(job.stage(), Stage::Route);
    assert!(!job.route_follows_consent());
}

#[test]
fn an_accepted_option_becomes_the_order() {
    assert_eq!(Job::fold(&in_work()).order.film, Coverage::Whole);
}

#[test]
fn a_declined_change_leaves_the_order_and_an_agreed_one_replaces_it() {
    let change = ChangeOrder {
        no: ChangeNo(1),
        order: Order { finish: Finish::Best, ..Order::default() },
        back_by: Some(minute(900)),
        ..ChangeOrder::default()
    };
    let mut declined = in_work();
    declined.push(JobEvent::ChangeProposed { change });
    assert!(Job::fold(&declined).open_change().is_some());
    let mut agreed = declined.clone();
    declined.push(JobEvent::ChangeDeclined {
        no: ChangeNo(1),
        signed: signed(9),
        strokes: Strokes::default(),
    });
    agreed.push(JobEvent::ChangeAgreed { no: ChangeNo(1), signed: signed(9), strokes: Strokes::default() });
    let (declined, agreed) = (Job::fold(&declined), Job::fold(&agreed));
    assert_eq!((declined.order.finish, declined.promised), (Finish::Clean, None));
    assert_eq!((agreed.order.finish, agreed.promised), (Finish::Best, Some(minute(900))));
    assert!(agreed.open_change().is_none());
}

#[test]
fn time_worked_is_the_sum_of_its_stretches() {
    let no = StepNo(1);
    let mut events = in_work();
    events.extend([
        JobEvent::StepStarted { no, at: minute(10), by: "Ravi".into() },
        JobEvent::StepPaused { no, at: minute(25) },
        JobEvent::StepStarted { no, at: minute(40), by: "Mei".into() },
    ]);
    let job = Job::fold(&events);
    assert_eq!(job.work[&no].worked(minute(45)), Duration::minutes(20.0));
    assert_eq!(job.step_state(no), StepState::Running);
}

#[test]
fn undo_takes_back_a_start_a_pause_and_a_finish() {
    let no = StepNo(1);
    let start = |n| JobEvent::StepStarted { no, at: minute(n), by: "Ravi".into() };
    let finish = |n| JobEvent::StepFinished {
        no,
        at: minute(n),
        by: "Ravi".into(),
        note: String::new(),
        lots: Vec::new(),
        checked: Vec::new(),
    };
    let undo = |n| JobEvent::StepUndone { no, at: minute(n) };
    let after = |events: &[JobEvent]| {
        let mut all = in_work();
        all.extend(events.to_vec());
        Job::fold(&all).step_state(no)
    };
    assert_eq!(after(&[start(1), undo(2)]), StepState::Todo);
    assert_eq!(after(&[start(1), JobEvent::StepPaused { no, at: minute(2) }, undo(3)]), StepState::Running);
    assert_eq!(after(&[start(1), finish(5), undo(6)]), StepState::Running);
    assert_eq!(after(&[JobEvent::StepDropped { no, why: "x".into() }, undo(2)]), StepState::Todo);
}

#[test]
fn events_that_make_no_sense_any_more_leave_the_state_as_it_was() {
    let job = Job::fold(&in_work());
    for event in [
        JobEvent::StepPaused { no: StepNo(99), at: minute(1) },
        JobEvent::StepUndone { no: StepNo(1), at: minute(1) },
        JobEvent::FindingWithdrawn { no: FindingNo(9), why: "x".into() },
        JobEvent::ChangeAgreed { no: ChangeNo(4), signed: signed(1), strokes: Strokes::default() },
        JobEvent::VisitDone { index: 7, seen: "x".into() },
    ] {
        let mut after = job.clone();
        after.apply(&event);
        assert_eq!(after, job, "{event:?}");
    }
}

#[test]
fn a_withdrawn_finding_stays_in_the_record_and_counts_no_more() {
    let mut finding = Finding::new(FindingKind::Chip, Severity::Light, Place::panel("hood"));
    finding.no = FindingNo(1);
    let mut events = booked();
    events.extend([
        JobEvent::Found { finding },
        JobEvent::FindingWithdrawn { no: FindingNo(1), why: "was a fly".into() },
    ]);
    let job = Job::fold(&events);
    assert_eq!((job.findings.len(), job.standing().count(), job.next_finding()), (1, 0, FindingNo(2)));
}

#[test]
fn film_of_a_roll_is_reserved_released_and_cut() {
    let roll = Roll {
        id: "R".into(),
        left: Length::m(10.0),
        bad_spots_mm: vec![[500.0, 0.0, 40.0, 30.0], [9000.0, 0.0, 40.0, 30.0]],
        ..Roll::default()
    };
    let mut shop = Shop::fold(&[ShopEvent::RollReceived { roll }]);
    let reserve = ShopEvent::FilmReserved {
        job: "1".into(),
        roll: "R".into(),
        length: Length::m(3.0),
        offcuts: Vec::new(),
    };
    shop.apply(&reserve);
    assert_eq!(shop.rolls[0].free(), Length::m(7.0));
    shop.apply(&ShopEvent::FilmReleased { job: "1".into() });
    assert_eq!(shop.rolls[0].free(), Length::m(10.0));
    shop.apply(&reserve);
    let kept = vec![Offcut { id: "o".into(), ..Offcut::default() }];
    shop.apply(&ShopEvent::FilmCut { job: "1".into(), roll: "R".into(), length: Length::m(3.0), kept });
    assert_eq!(
        (shop.rolls[0].left, shop.rolls[0].free(), shop.offcuts.len()),
        (Length::m(7.0), Length::m(7.0), 1)
    );
    // the loose end is three meters further in: one spot is gone, the other nearer
    assert_eq!(shop.rolls[0].bad_spots_mm, [[6000.0, 0.0, 40.0, 30.0]]);
}

#[test]
fn the_clear_coat_ledger_adds_up_over_jobs() {
    use units::Thickness;
    let taken = |um| CarEvent::ClearTaken {
        panel: "hood".into(),
        removal: Removal {
            job: "1".into(),
            on: jiff::civil::date(2026, 1, 1),
            taken: Thickness::um(um),
            sd: Thickness::um(0.2),
            measured: true,
        },
    };
    let history = CarHistory::fold(&[taken(1.5), taken(2.0)]);
    assert_eq!(history.taken_from(&"hood".into()), Thickness::um(3.5));
    assert_eq!(history.taken_from(&"roof".into()), Thickness::ZERO);
}
