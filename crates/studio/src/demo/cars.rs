//! The demo's cars. All invented.

use super::story::Story;
use crate::command::{Drawn, NewJob};
use crate::engine::WHOLE_CAR;
use crate::refusal::Refusal;
use crate::studio::{Stamp, Studio, zone_of};
use jiff::{SignedDuration, Timestamp, ToSpan, civil};
use job::{
    AirReading, Arrival, Car, CoatTarget, Coverage, Customer, Drive, Finding, FindingKind, Finish, JobId,
    Moment, Order, PictureId, PicturePair, Place, Severity, Soil,
};
use std::collections::BTreeSet;
use units::{Length, Temperature, Thickness};

/// Tells all cars up to `now`.
pub fn tell(studio: &Studio, now: Timestamp) -> Result<(), Refusal> {
    van_last_year(studio, now)?;
    studio.clock().set(workday(studio, now, 4, civil::time(8, 5, 0, 0))?);
    pickup(studio, now)?;
    studio.clock().set(workday(studio, now, 3, civil::time(8, 5, 0, 0))?);
    let wagon = wagon(studio, now)?;
    studio.clock().set(workday(studio, now, 2, civil::time(8, 5, 0, 0))?);
    hatchback(studio)?;
    studio.clock().set(workday(studio, now, 1, civil::time(14, 5, 0, 0))?);
    let van = van(studio)?;
    suv(studio, now)?;
    studio.clock().set(now - SignedDuration::from_mins(35));
    studio.keep_plan(&Stamp::by(super::OWNER))?;
    for id in [wagon, van] {
        Story { studio, id }.start_next()?;
    }
    studio.clock().set(now);
    for (bay, air, surface, humidity) in [("Bay 2", 20.4, 20.1, 49.0), ("Bay 3", 21.4, 20.8, 48.0)] {
        let reading = AirReading {
            bay: bay.into(),
            air: Temperature::celsius(air),
            surface: Some(Temperature::celsius(surface)),
            humidity_percent: humidity,
            ..AirReading::default()
        };
        studio.read_air(&Stamp::by(super::OWNER), &reading)?;
    }
    studio.keep_plan(&Stamp::by(super::OWNER))
}

/// A working day, counted back from a time (or that day, or the next on which the shop works), at a time of the shop.
fn workday(studio: &Studio, now: Timestamp, back: u32, time: civil::Time) -> Result<Timestamp, Refusal> {
    let shop = studio.shop()?;
    let zone = zone_of(&shop);
    let mut day = now.to_zoned_datetime(zone.clone()).date();
    let works = |day: civil::Date| shop.settings.shift.days.contains(&day.weekday().to_monday_one_offset());
    let mut left = back;
    while back == 0 && !works(day) {
        day = day.checked_add(1.days()).unwrap_or(day);
    }
    while left > 0 {
        day = day.checked_sub(1.days()).unwrap_or(day);
        if works(day) {
            left -= 1;
        }
    }
    Ok(day.to_datetime(time).to_zoned_datetime(zone).map_or(now, |z| z.timestamp()))
}

fn customer(name: &str) -> Customer {
    Customer { name: name.into(), note: "Invented.".into(), ..Customer::default() }
}

fn arrival(studio: &Studio, story: &Story<'_>, soil: Soil, km: u32, belongings: &str) -> Result<(), Refusal> {
    let arrival = Arrival {
        odometer_km: Some(km),
        energy_percent: Some(62),
        keys: 2,
        belongings: belongings.into(),
        lamps: "none".into(),
        soil,
        ..Arrival::default()
    };
    studio.arrive(&story.id, &story.by(), &arrival)?;
    Ok(())
}

fn signed(studio: &Studio, story: &Story<'_>) -> Result<(), Refusal> {
    story.wait(10);
    let name = studio.job(&story.id)?.job.customer.name.clone();
    studio.sign_arrival(&story.id, &story.by(), &name)?;
    Ok(())
}

fn on(kind: FindingKind, severity: Severity, panel: &str, u: f64, v: f64, note: &str) -> Finding {
    Finding { note: note.into(), ..Finding::new(kind, severity, Place::spot(panel, u, v)) }
}

fn all_over(kind: FindingKind, severity: Severity, note: &str) -> Finding {
    Finding { note: note.into(), ..Finding::new(kind, severity, Place::panel(WHOLE_CAR)) }
}

fn sized(mm: f64, finding: Finding) -> Finding {
    Finding { size: Some(Length::mm(mm)), ..finding }
}

/// Fresh from transport: adhesive, grit, rust specks and marks; electric.
fn wagon(studio: &Studio, now: Timestamp) -> Result<JobId, Refusal> {
    let new = NewJob {
        car: Car {
            plate: "HLM 2207".into(),
            name: "Heron wagon".into(),
            body: "estate".into(),
            color: "sage green".into(),
            drive: Drive::Electric,
            year: Some(2026),
            history_known: true,
            note: "New from transport.".into(),
            ..Car::default()
        },
        customer: customer("Ilse Marchetti"),
        order: Order {
            film: Coverage::FrontAndSides,
            finish: Finish::Corrected,
            coatings: BTreeSet::from([CoatTarget::Film, CoatTarget::Wheels]),
            note: "Front and sides in film, shine over all.".into(),
            ..Order::default()
        },
        promised: Some(workday(
            studio,
            now + SignedDuration::from_hours(24 * 11),
            0,
            civil::time(16, 0, 0, 0),
        )?),
        expected: Some(studio.now()),
    };
    let story = Story { studio, id: studio.book(&Stamp::by(super::OWNER), new)? };
    arrival(studio, &story, Soil::VeryHeavy, 38, "charging cable, first-aid kit")?;
    story.find(&[
        sized(
            380.0,
            on(FindingKind::Adhesive, Severity::Marked, "hood", 0.35, 0.5, "Strips of transport film glue."),
        ),
        sized(240.0, on(FindingKind::Adhesive, Severity::Light, "left_front_door", 0.5, 0.4, "Label glue.")),
        on(FindingKind::OldFilm, Severity::Light, "roof", 0.6, 0.4, "Corner of transport film left."),
    ])?;
    // The corner of transport film turned out to be nothing but glue.
    studio.withdraw_finding(
        &story.id,
        &story.by(),
        job::FindingNo(3),
        "Was only glue, recorded as adhesive.",
    )?;
    story.find(&[on(FindingKind::Adhesive, Severity::Light, "roof", 0.6, 0.4, "Glue of transport film.")])?;
    picture(studio, &story, 1, 11, "hood-glue.jpg")?;
    signed(studio, &story)?;
    studio.set_route(&story.id, &story.by())?;
    story.work(&[])?;
    story.find(&[
        all_over(FindingKind::BondedGrit, Severity::Light, "Felt by touch on every upper surface."),
        Finding {
            count: Some(30),
            ..on(FindingKind::Iron, Severity::Light, "roof", 0.4, 0.6, "Rust specks from rail transport.")
        },
        on(FindingKind::Swirls, Severity::Light, "hood", 0.3, 0.4, "Fine swirls of a dealer wash."),
        on(FindingKind::Swirls, Severity::Light, "left_front_fender", 0.5, 0.5, "Fine swirls."),
        sized(
            90.0,
            on(
                FindingKind::SandingMarks,
                Severity::Light,
                "right_rear_door",
                0.4,
                0.5,
                "Factory sanding marks, one spot.",
            ),
        ),
        sized(
            140.0,
            on(FindingKind::Scratch, Severity::Marked, "left_rear_door", 0.55, 0.45, "Felt by nail."),
        ),
    ])?;
    let door = picture(studio, &story, 8, 12, "rear-door-marks.jpg")?;
    let arrow = Drawn::Arrow { from: [0.72, 0.78], to: [0.47, 0.5] };
    studio.mark_picture(&story.id, &story.by(), &door, arrow, "felt by nail, here")?;
    story.read(41, Moment::Before, |panel| Some((if panel == "roof" { 112.0 } else { 124.0 }, 2.2)))?;
    story.agree()?;
    studio.accept_cut(&story.id, &story.by())?;
    story.work(&["clay"])?;
    Ok(story.id)
}

/// One door was painted again.
fn hatchback(studio: &Studio) -> Result<(), Refusal> {
    let new = NewJob {
        car: Car {
            plate: "KDN 518".into(),
            name: "Copper hatchback".into(),
            body: "hatchback".into(),
            color: "copper orange".into(),
            year: Some(2021),
            ..Car::default()
        },
        customer: customer("Tobias Aldana"),
        order: Order {
            finish: Finish::Corrected,
            coatings: BTreeSet::from([CoatTarget::Paint, CoatTarget::Leather]),
            interior: true,
            ..Order::default()
        },
        promised: None,
        expected: Some(studio.now()),
    };
    let story = Story { studio, id: studio.book(&Stamp::by(super::OWNER), new)? };
    arrival(studio, &story, Soil::Heavy, 41_800, "umbrella")?;
    story.find(&[
        on(FindingKind::Tar, Severity::Light, "left_rocker", 0.5, 0.5, "Tar behind the front wheel."),
        Finding {
            count: Some(7),
            ..on(FindingKind::Chip, Severity::Marked, "hood", 0.15, 0.5, "Down to primer.")
        },
        on(
            FindingKind::Leather,
            Severity::Light,
            "left_front_door",
            0.2,
            0.2,
            "Driver's seat bolster shines.",
        ),
    ])?;
    signed(studio, &story)?;
    studio.set_route(&story.id, &story.by())?;
    story.work(&[])?;
    story.find(&[
        all_over(FindingKind::Swirls, Severity::Marked, "Wash swirls all over."),
        on(
            FindingKind::Refinished,
            Severity::Marked,
            "right_rear_door",
            0.5,
            0.5,
            "Orange peel differs, tape line at the frame.",
        ),
        sized(
            60.0,
            on(FindingKind::Scratch, Severity::Deep, "right_rear_door", 0.3, 0.6, "Through the clear coat."),
        ),
    ])?;
    picture(studio, &story, 5, 13, "door-tape-line.jpg")?;
    // Nobody knows what was polished off this car before: a gauge that tells layers apart makes up for it.
    story.read_layers(52, |panel| match panel {
        "right_rear_door" => Some((232.0, 11.0, 61.0)),
        "roof" => Some((98.0, 2.0, 33.0)),
        _ => Some((116.0, 2.4, 45.0)),
    })?;
    studio.close_survey(&story.id, &story.by(), super::OWNER)?;
    story.wait(30);
    studio.make_offer(&story.id, &story.by())?;
    Ok(())
}

/// Old film hides a finding until it comes off.
fn pickup(studio: &Studio, now: Timestamp) -> Result<(), Refusal> {
    let new = NewJob {
        car: Car {
            plate: "PRX 904".into(),
            name: "Slate pickup".into(),
            body: "pickup".into(),
            color: "slate blue".into(),
            year: Some(2023),
            history_known: true,
            ..Car::default()
        },
        customer: customer("Benedikt Osei"),
        order: Order {
            film: Coverage::Panels(vec![
                "hood".into(),
                "left_front_fender".into(),
                "right_front_fender".into(),
            ]),
            finish: Finish::Gloss,
            remove_film: vec!["hood".into()],
            coatings: BTreeSet::from([CoatTarget::Film]),
            note: "Old film on the hood off, new on.".into(),
            ..Order::default()
        },
        promised: Some(workday(
            studio,
            now + SignedDuration::from_hours(24 * 4),
            0,
            civil::time(17, 0, 0, 0),
        )?),
        expected: Some(studio.now()),
    };
    let story = Story { studio, id: studio.book(&Stamp::by(super::OWNER), new)? };
    arrival(studio, &story, Soil::Light, 61_200, "")?;
    story.find(&[on(FindingKind::OldFilm, Severity::Marked, "hood", 0.5, 0.5, "Yellowed, edges lift.")])?;
    signed(studio, &story)?;
    studio.set_route(&story.id, &story.by())?;
    story.work(&[])?;
    story.find(&[on(FindingKind::Swirls, Severity::Light, "left_front_fender", 0.5, 0.5, "Fine swirls.")])?;
    story.read(63, Moment::Before, |panel| (panel != "hood").then_some((118.0, 2.3)))?;
    story.agree()?;
    story.work(&["remove_old_film"])?;
    story.wait(15);
    story.find(&[
        sized(
            320.0,
            on(
                FindingKind::SandingMarks,
                Severity::Marked,
                "hood",
                0.45,
                0.35,
                "Hidden by the old film: sanded by hand, never refined.",
            ),
        ),
        Finding {
            depth: Some(Thickness::um(2.5)),
            ..on(FindingKind::Etching, Severity::Light, "hood", 0.7, 0.6, "Glue has etched a ring.")
        },
    ])?;
    picture(studio, &story, 3, 14, "under-film.jpg")?;
    story.read(64, Moment::Before, |panel| (panel == "hood").then_some((127.0, 1.8)))?;
    let order = Order { finish: Finish::Corrected, ..studio.job(&story.id)?.job.order.clone() };
    let reason = "Under the old film the hood was sanded by hand. It needs correction before new film.";
    studio.propose_change(&story.id, &story.by(), &order, reason)?;
    Ok(())
}

/// A year ago: the whole job, done and handed over.
fn van_last_year(studio: &Studio, now: Timestamp) -> Result<(), Refusal> {
    studio.clock().set(workday(
        studio,
        now - SignedDuration::from_hours(24 * 366),
        0,
        civil::time(8, 10, 0, 0),
    )?);
    let new = NewJob {
        car: van_car(),
        customer: customer("Greta Lindqvist-Rao"),
        order: Order {
            film: Coverage::Panels(vec![
                "hood".into(),
                "front_bumper".into(),
                "left_mirror".into(),
                "right_mirror".into(),
            ]),
            finish: Finish::Gloss,
            coatings: BTreeSet::from([CoatTarget::Film]),
            ..Order::default()
        },
        promised: None,
        expected: None,
    };
    let story = Story { studio, id: studio.book(&Stamp::by(super::OWNER), new)? };
    arrival(studio, &story, Soil::Light, 9_400, "")?;
    story.find(&[on(FindingKind::Swirls, Severity::Light, "hood", 0.4, 0.5, "Fine swirls.")])?;
    let before = picture(studio, &story, 1, 16, "hood-swirls.jpg")?;
    let ring = Drawn::Ring { at: [0.42, 0.41], radius: 0.14 };
    studio.mark_picture(&story.id, &story.by(), &before, ring, "swirls around the lamp's light")?;
    signed(studio, &story)?;
    studio.set_route(&story.id, &story.by())?;
    story.work(&[])?;
    story.read(71, Moment::Before, |_| Some((126.0, 2.2)))?;
    story.agree()?;
    studio.accept_cut(&story.id, &story.by())?;
    story.work(&["cut_pieces"])?;
    studio.cut(&story.id, &story.by(), true)?;
    story.work(&[])?;
    story.read(72, Moment::After, |panel| (panel == "hood").then_some((125.2, 2.2)))?;
    let (bytes, hood) = (crate::picture::stand_in_after(16)?, Place::panel("hood"));
    let after =
        studio.add_picture(&story.id, &story.by(), "hood-corrected.jpg", &bytes, Some(&hood), None)?;
    let pair = PicturePair { before, after, panel: Some("hood".into()) };
    studio.pair_pictures(&story.id, &story.by(), &pair)?;
    let checks = studio.handover_view(&story.id)?.checks;
    story.wait(20);
    studio.hand_over(
        &story.id,
        &story.by(),
        "Greta Lindqvist-Rao",
        &checks,
        "Washed by hand once a week, she says.",
    )?;
    Ok(())
}

fn van_car() -> Car {
    Car {
        plate: "VSB 77".into(),
        name: "Chalk van".into(),
        body: "van".into(),
        color: "chalk white".into(),
        year: Some(2024),
        drive: Drive::Hybrid,
        history_known: true,
        ..Car::default()
    }
}

/// Back for its yearly visit with a damaged piece of film.
fn van(studio: &Studio) -> Result<JobId, Refusal> {
    let first = JobId("0001".into());
    let claim = job::Claim {
        panel: "front_bumper".into(),
        piece: Some("front_bumper".into()),
        what: "Torn at the left corner, about 90 mm.".into(),
        why: "Touched a post while parking.".into(),
        kind: Some(job::ClaimKind::Tear),
        spot: Some([0.12, 0.5]),
        ..job::Claim::default()
    };
    studio.claim(&first, &Stamp::by(super::OWNER), &claim)?;
    let new = NewJob {
        car: van_car(),
        customer: customer("Greta Lindqvist-Rao"),
        order: Order {
            film: Coverage::Panels(vec!["front_bumper".into()]),
            remove_film: vec!["front_bumper".into()],
            finish: Finish::Clean,
            interior: true,
            note: "Yearly visit: renew the torn piece, clean inside.".into(),
            ..Order::default()
        },
        promised: None,
        expected: Some(studio.now()),
    };
    let story = Story { studio, id: studio.book(&Stamp::by(super::OWNER), new)? };
    arrival(studio, &story, Soil::Light, 31_050, "tool bag in the rear")?;
    story.find(&[sized(
        90.0,
        on(FindingKind::FilmDamage, Severity::Marked, "front_bumper", 0.12, 0.5, "Torn at the left corner."),
    )])?;
    picture(studio, &story, 1, 15, "bumper-film.jpg")?;
    signed(studio, &story)?;
    studio.set_route(&story.id, &story.by())?;
    Ok(story.id)
}

/// Booked, not here yet.
fn suv(studio: &Studio, now: Timestamp) -> Result<(), Refusal> {
    let tomorrow = workday(studio, now + SignedDuration::from_hours(24 * 3), 0, civil::time(9, 0, 0, 0))?;
    let new = NewJob {
        car: Car {
            plate: "MQT 330".into(),
            name: "Plum SUV".into(),
            body: "suv".into(),
            color: "plum red".into(),
            year: Some(2025),
            ..Car::default()
        },
        customer: customer("Anselm Duarte"),
        order: Order {
            film: Coverage::Front,
            finish: Finish::Gloss,
            coatings: BTreeSet::from([CoatTarget::Paint, CoatTarget::Glass]),
            ..Order::default()
        },
        promised: None,
        expected: Some(tomorrow),
    };
    studio.book(&Stamp::by(super::OWNER), new)?;
    Ok(())
}

/// A picture for the demo: drawn by the program, a stand-in for a photograph.
fn picture(
    studio: &Studio,
    story: &Story<'_>,
    finding: u32,
    seed: u64,
    name: &str,
) -> Result<PictureId, Refusal> {
    let bytes = crate::picture::stand_in(seed)?;
    let no = job::FindingNo(finding);
    let place = studio.job(&story.id)?.job.finding(no).map(|f| f.place.clone());
    studio.add_picture(&story.id, &story.by(), name, &bytes, place.as_ref(), Some(no))
}
