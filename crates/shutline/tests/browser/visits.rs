//! After the handover: claims put on the film map by tapping, by keyboard, and without scripts; the draft that follows.

use crate::stage::{Stage, stage};
use fantoccini::Locator;
use fantoccini::actions::{InputSource, MOUSE_BUTTON_LEFT, MouseActions, PointerAction};
use jiff::{SignedDuration, Timestamp};
use job::{Arrival, Car, Coverage, Customer, Finish, JobId, Order, PanelId, Roll, Strokes};
use std::path::Path;
use studio::command::{Finished, NewJob};
use studio::{Clock, Stamp, Studio};
use units::Length;

/// People and bays of the demo's shop, so that there is something to plan with.
pub fn equipped(studio: &Studio) {
    let by = Stamp::by("Nadia");
    let folder = tempfile::tempdir().unwrap();
    let demo = Studio::open(folder.path()).unwrap();
    demo.set_up(&by, &studio::demo::shop_text("UTC", studio.now()).unwrap()).unwrap();
    let demo = demo.shop().unwrap().settings.clone();
    let mut settings = studio.shop().unwrap().settings.clone();
    settings.bays = demo.bays;
    let known: Vec<String> = settings.people.iter().map(|p| p.name.clone()).collect();
    settings.people.extend(demo.people.into_iter().filter(|p| !known.contains(&p.name)));
    studio.set_shop(&by, &settings).unwrap();
}

/// A car whose work is done, twelve days before now at most, ready to be handed over; with film on a panel if one is named.
pub fn worked_on(folder: &Path, film: Option<&str>) -> JobId {
    let days_ago = Timestamp::now() - SignedDuration::from_hours(24 * 12);
    let studio = Studio::open_at(folder, Clock::at(days_ago)).unwrap();
    let by = Stamp::by("Nadia");
    equipped(&studio);
    if film.is_some() {
        let roll = Roll {
            id: "R-9".into(),
            film: "clear".into(),
            lot: "B-9".into(),
            width: Length::mm(1520.0),
            left: Length::m(15.0),
            margin: Length::mm(8.0),
            ..Roll::default()
        };
        studio.receive_roll(&by, &roll).unwrap();
    }
    let car = Car { plate: "TST 701".into(), name: "Done van".into(), body: "van".into(), ..Car::default() };
    let coverage = film.map_or(Coverage::None, |p| Coverage::Panels(vec![PanelId::from(p)]));
    let order = Order { film: coverage, finish: Finish::Clean, ..Order::default() };
    let customer =
        Customer { name: "Ilse Invented".into(), email: "ilse@example.org".into(), ..Customer::default() };
    let id = studio.book(&by, NewJob { car, customer, order, promised: None, expected: None }).unwrap();
    studio.arrive(&id, &by, &Arrival::default()).unwrap();
    studio.sign_arrival(&id, &by, "Ilse Invented").unwrap();
    let panels = studio.survey_view(&id).unwrap().panels;
    let mut table = String::from("panel,reading_um,u,v\n");
    for p in panels.iter().filter(|p| p.readable) {
        for (i, (u, v)) in [(0.2, 0.3), (0.8, 0.3), (0.5, 0.5), (0.3, 0.7), (0.7, 0.7)].iter().enumerate() {
            table.push_str(&format!("{},{},{u},{v}\n", p.id, 118 + i));
        }
    }
    studio.measure_csv(&id, &by, &table, job::Moment::Before).unwrap();
    studio.close_survey(&id, &by, "Nadia").unwrap();
    studio.make_offer(&id, &by).unwrap();
    let offer = studio.job(&id).unwrap().job.offers[0].clone();
    let option = offer.options.iter().find(|o| o.advised).or(offer.options.first()).unwrap().id.clone();
    studio.accept(&id, &by, offer.no, &option, "Ilse Invented", &Strokes::default()).unwrap();
    studio.set_route(&id, &by).unwrap();
    if film.is_some() {
        studio.accept_cut(&id, &by).unwrap();
        studio.cut(&id, &by, true).unwrap();
    }
    for _ in 0..500 {
        let job = studio.job(&id).unwrap().job;
        let Some(step) = job.open_steps().next().map(|s| s.no) else { return id };
        if studio.start_step(&id, &by, step).is_err() {
            studio.clock().advance(SignedDuration::from_mins(30));
            continue;
        }
        studio.clock().advance(SignedDuration::from_mins(15));
        let wanted = studio.step_view(&id, step).unwrap().wanted;
        let checked = wanted.iter().filter_map(|w| w.strip_prefix("Check: ")).map(str::to_owned).collect();
        studio.finish_step(&id, &by, step, &Finished { checked, ..Finished::default() }).unwrap();
    }
    panic!("the work does not end");
}

/// The same, handed over.
pub fn handed_over(folder: &Path, film: Option<&str>) -> JobId {
    let id = worked_on(folder, film);
    let studio = Studio::open(folder).unwrap();
    let checks = studio.handover_view(&id).unwrap().checks;
    studio.hand_over(&id, &Stamp::by("Nadia"), "Ilse Invented", &checks, "").unwrap();
    id
}

async fn claim(stage: &Stage, id: &JobId, piece: &str) -> String {
    stage.run("const f = document.querySelector('form#claim'); f.elements.what.value = 'a stone went in'; f.requestSubmit(f.querySelector('p.acts button')); return true;").await;
    stage.until("the claim", "return !!document.querySelector('#claim-1, #claim-2') && /a stone went in/.test(document.querySelector('#claims').innerText);").await;
    let claims = Studio::open(&stage.studio).unwrap().job(id).unwrap().job.claims.clone();
    let last = claims.last().unwrap();
    assert_eq!(last.piece.as_deref(), Some(piece), "{last:?}");
    format!("{:?}", last.spot)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_claim_is_put_on_its_piece_of_film_by_tapping_it() {
    let Some(stage) = stage(1280, 1100).await else { return };
    let id = handed_over(&stage.studio, Some("hood"));
    let laid = Studio::open(&stage.studio).unwrap().job(&id).unwrap().job.laid.clone();
    assert!(!laid.is_empty(), "film lies on the car");
    let piece = laid[0].piece.clone();

    // By a tap, on the spot.
    stage.open(&format!("/cars/{id}/visits")).await;
    let css = format!(".wide-only a[data-piece='{piece}']:not([tabindex]) path");
    let hood = stage.client.find(Locator::Css(&css)).await.unwrap();
    stage
        .client
        .execute(
            "arguments[0].scrollIntoView({ block: 'center' })",
            vec![serde_json::to_value(&hood).unwrap()],
        )
        .await
        .unwrap();
    let tap = MouseActions::new("finger".into())
        .then(PointerAction::MoveToElement { element: hood, duration: None, x: 6.0, y: 3.0 })
        .then(PointerAction::Down { button: MOUSE_BUTTON_LEFT })
        .then(PointerAction::Up { button: MOUSE_BUTTON_LEFT });
    stage.client.perform_actions(tap).await.unwrap();
    stage.until("the form", "return document.querySelector('#fold-claim').open && document.querySelector('form#claim [name=x]').value !== '';").await;
    assert_ne!(claim(&stage, &id, &piece).await, "None", "the spot is kept");

    // Without scripts the same link opens the form for this very piece.
    stage.open(&format!("/cars/{id}/visits?piece={piece}")).await;
    let chosen = stage.run("return document.querySelector('#fold-claim').open && document.querySelector('form#claim [name=piece]').value;").await;
    assert_eq!(chosen, piece.as_str());
    assert_eq!(claim(&stage, &id, &piece).await, "None");

    // It is on the map by its hatch, and what prices believe has moved.
    let hatch = stage.run(&format!("return document.querySelector(\"{css}\").getAttribute('fill');")).await;
    assert!(hatch.as_str().unwrap().ends_with("-s3)"), "{hatch}");
    let learned = Studio::open(&stage.studio).unwrap().learned_view().unwrap();
    let nose = learned.damage.iter().find(|d| d.zone == job::FilmZone::Nose).unwrap();
    assert_eq!(nose.claims, 2);

    // Answered, a draft for the customer stands there, with a mail link; sent, it is kept as sent.
    stage.run("document.querySelector('#claim-1 details').open = true; const f = document.querySelector('form#answer-0'); f.elements.text.value = 'we renew the piece on Friday'; f.requestSubmit(); return true;").await;
    stage.until("the draft", "return /we renew the piece on Friday/.test(document.querySelector('#reminder-claim-0 textarea')?.value ?? '');").await;
    let mail = stage.run("return document.querySelector('#reminder-claim-0 a.btn').href;").await;
    assert!(mail.as_str().unwrap().starts_with("mailto:ilse@example.org?subject=Our%20answer"), "{mail}");
    stage.run("const f = document.querySelector('#reminder-claim-0 form'); f.requestSubmit(f.querySelector('[value=sent]')); return true;").await;
    stage.until("it to be sent", "return !document.querySelector('#reminder-claim-0') && /Sent or left, 1/.test(document.querySelector('#reminders').innerText);").await;
    stage.client.close().await.unwrap();
}
