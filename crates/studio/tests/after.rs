//! Air, stock and what comes after a handover, as the studio tells it.
#![allow(clippy::unwrap_used, reason = "tests")]

use jiff::{SignedDuration, Timestamp};
use job::{AirReading, Claim, ClaimKind, ClockForm, DateForm, FilmZone, JobId, Lot, Product, ReminderState};
use studio::{Clock, Stamp, Studio};
use units::{Money, Temperature, Volume};

fn shop(now: &str) -> (Studio, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let now: Timestamp = now.parse().unwrap();
    let studio = Studio::open_at(folder.path(), Clock::at(now)).unwrap();
    studio.set_up(&Stamp::by("Nadia"), &studio::demo::shop_text("America/Chicago", now).unwrap()).unwrap();
    (studio, folder)
}

#[test]
fn the_dew_point_is_minded_in_every_bay_but_those_for_washing() {
    let (studio, _folder) = shop("2026-05-13T14:05:00Z");
    let by = Stamp::by("Nadia");
    // 20 °C at 60 % has its dew point at 12.0 °C (Magnus formula; ASHRAE's table of moist air gives the same to a tenth,
    // from memory); a panel of 13 °C is closer to it than the 3 K of ISO 8502-4.
    let read = |bay: &str, surface: f64| AirReading {
        bay: bay.into(),
        at: Timestamp::UNIX_EPOCH,
        air: Temperature::celsius(20.0),
        surface: Some(Temperature::celsius(surface)),
        humidity_percent: 60.0,
    };
    let warned = |bay: &str| {
        let view = studio.day_view().unwrap();
        view.bays.iter().find(|b| b.bay == bay).unwrap().warning.clone()
    };
    let bays = studio.shop().unwrap().settings.bays.clone();
    let of = |kind: &str| bays.iter().find(|b| b.kinds.iter().all(|k| k == kind)).unwrap().name.clone();
    let (wash, correction, film) = (of("wash_bay"), of("correction_bay"), of("clean_room"));
    for bay in [&wash, &correction, &film] {
        studio.read_air(&by, &read(bay, 13.0)).unwrap();
    }
    assert_eq!(warned(&wash), None);
    for bay in [&correction, &film] {
        assert!(warned(bay).unwrap().contains("dew point 12.0 °C"), "{bay}: {:?}", warned(bay));
    }
    // A cool dry panel: too cool for film, no matter elsewhere.
    for bay in [&correction, &film] {
        studio.read_air(&by, &read(bay, 16.0)).unwrap();
    }
    assert_eq!(warned(&correction), None);
    assert!(warned(&film).unwrap().contains("film wants 18 to 25"));
}

#[test]
fn a_lot_leaves_the_shelf_with_its_reason() {
    let (studio, _folder) = shop("2026-05-13T14:05:00Z");
    let by = Stamp::by("Nadia");
    let product = Product { name: "test soap".into(), cost_l: Money::cents(500), ..Product::default() };
    studio.set_product(&by, &product).unwrap();
    let lot = Lot { lot: "L-7".into(), left: Volume::l(1.0), expires: None };
    studio.receive_lot(&by, "test soap", &lot).unwrap();
    let left = || {
        let shop = studio.shop().unwrap();
        shop.products.iter().find(|p| p.name == "test soap").unwrap().lots.len()
    };
    assert_eq!(left(), 1);
    assert!(studio.dispose_lot(&by, "test soap", "L-7", " ").is_err());
    assert!(studio.dispose_lot(&by, "test soap", "L-8", "expired").is_err());
    studio.dispose_lot(&by, "test soap", "L-7", "expired").unwrap();
    assert_eq!(left(), 0);
}

#[test]
fn customers_are_reminded_when_it_is_due_and_only_until_somebody_did_it() {
    let folder = tempfile::tempdir().unwrap();
    let now: Timestamp = "2026-05-13T14:05:00Z".parse().unwrap();
    let place = folder.path().join("demo");
    studio::demo::make(&place, now, "America/Chicago").unwrap();
    let studio = Studio::open_at(&place, Clock::at(now)).unwrap();
    let (id, by) = (JobId("0001".into()), Stamp::by("Nadia"));
    let handed = studio.job(&id).unwrap().job.handover.clone().unwrap().at;
    // A year after the handover the yearly word is due, a week ahead.
    let week_before = handed + SignedDuration::from_hours(24 * (365 - 6));
    studio.clock().advance(week_before.duration_since(now).max(SignedDuration::ZERO));
    let due = || -> Vec<String> {
        let view = studio.day_view().unwrap();
        view.remind.iter().filter(|r| r.car.id == id).map(|r| r.about.clone()).collect()
    };
    assert!(due().contains(&"year-1".to_owned()), "{:?}", due());
    let rows = studio.reminders(&id).unwrap();
    let year = rows.iter().find(|r| r.about == "year-1").unwrap();
    assert!(year.text.contains("it is a year since"), "{}", year.text);
    assert!(year.text.starts_with("Dear "), "{}", year.text);
    studio.set_reminder(&id, &by, "year-1", ReminderState::Sent, &year.text).unwrap();
    assert!(!due().contains(&"year-1".to_owned()));
    // A studio opened anew knows it too.
    drop(rows);
    let again = Studio::open_at(&place, Clock::at(studio.now())).unwrap();
    assert!(!again.day_view().unwrap().remind.iter().any(|r| r.car.id == id && r.about == "year-1"));
}

#[test]
fn a_claim_counts_in_the_zone_of_its_spot() {
    let folder = tempfile::tempdir().unwrap();
    let now: Timestamp = "2026-05-13T14:05:00Z".parse().unwrap();
    let place = folder.path().join("demo");
    studio::demo::make(&place, now, "America/Chicago").unwrap();
    let studio = Studio::open_at(&place, Clock::at(now)).unwrap();
    let id = JobId("0001".into());
    let laid = studio.job(&id).unwrap().job.laid[0].clone();
    let claims = |zone| studio.learned_view().unwrap().damage.iter().find(|d| d.zone == zone).unwrap().claims;
    let before: Vec<_> = FilmZone::ALL.into_iter().map(claims).collect();
    let claim = Claim {
        panel: laid.panel.clone(),
        piece: Some(laid.piece.clone()),
        what: "chip".into(),
        kind: Some(ClaimKind::Chip),
        spot: Some([0.5, 0.5]),
        ..Claim::default()
    };
    studio.claim(&id, &Stamp::by("Nadia"), &claim).unwrap();
    let after: Vec<_> = FilmZone::ALL.into_iter().map(claims).collect();
    assert_eq!(after.iter().sum::<u32>(), before.iter().sum::<u32>() + 1, "{before:?} {after:?}");
    let off = Claim { spot: Some([1.5, 0.5]), ..claim };
    assert!(studio.claim(&id, &Stamp::by("Nadia"), &off).is_err());
}

#[test]
fn views_write_times_as_the_shop_does() {
    let (studio, _folder) = shop("2026-05-13T14:05:00Z");
    let by = Stamp::by("Nadia");
    assert!(studio.day_view().unwrap().shift.starts_with("Shift 8:00 to "));
    let mut settings = studio.shop().unwrap().settings.clone();
    settings.clock = ClockForm::Hours12;
    settings.dates = DateForm::DayFirst;
    studio.set_shop(&by, &settings).unwrap();
    let shift = studio.day_view().unwrap().shift.replace('\u{a0}', " ");
    assert!(shift.starts_with("Shift 8:00 am to "), "{shift}");
}
