//! Fills a studio folder with many invented jobs, for measuring: `many FOLDER JOBS`.
#![allow(clippy::unwrap_used, reason = "an example")]

use jiff::{SignedDuration, Timestamp};
use job::{Arrival, Car, Customer, Finding, FindingKind, Material, Moment, Order, Place, Reading, Severity};
use std::path::Path;
use studio::command::NewJob;
use studio::{Clock, Stamp, Studio};
use units::{Seed, Thickness};

fn main() {
    let mut args = std::env::args().skip(1);
    let (folder, jobs) = (args.next().unwrap(), args.next().unwrap().parse::<u32>().unwrap());
    let start: Timestamp = "2026-01-05T08:00:00Z".parse().unwrap();
    let clock = Clock::at(start);
    let studio = Studio::open_at(Path::new(&folder), clock.clone()).unwrap();
    let by = Stamp::by("maker");
    studio.set_up(&by, &studio::demo::shop_text("UTC", start).unwrap()).unwrap();
    let mut chance = Seed(9).sequence();
    let bodies: Vec<_> = body::Style::ALL.iter().map(|s| s.name()).collect();
    for n in 0..jobs {
        clock.advance(SignedDuration::from_mins(90));
        let car = Car {
            plate: format!("INV {n}"),
            name: format!("Invented car {n}"),
            body: bodies[n as usize % bodies.len()].into(),
            color: ["sand", "teal", "rust", "slate"][n as usize % 4].into(),
            ..Car::default()
        };
        let customer = Customer { name: format!("Invented customer {n}"), ..Customer::default() };
        let new = NewJob { car, customer, order: Order::default(), promised: None, expected: None };
        let id = studio.book(&by, new).unwrap();
        studio.arrive(&id, &by, &Arrival::default()).unwrap();
        studio.sign_arrival(&id, &by, "customer").unwrap();
        for kind in [FindingKind::Swirls, FindingKind::Chip, FindingKind::Tar] {
            studio
                .find(&id, &by, &Finding::new(kind, Severity::Light, Place::spot("hood", 0.4, 0.5)))
                .unwrap();
        }
        let readings: Vec<Reading> = (0..30)
            .map(|_| Reading {
                place: Place::spot("hood", chance.between(0.1, 0.9), chance.between(0.1, 0.9)),
                total: Thickness::um(118.0 + 3.0 * chance.normal()),
                clear: None,
                spot: None,
                repeat: None,
                gauge: None,
                substrate: Some(Material::Steel),
                moment: Moment::Before,
            })
            .collect();
        studio.measure(&id, &by, &readings).unwrap();
        if n + 6 < jobs {
            studio.call_off(&id, &by, "made up").unwrap();
        }
    }
    println!("{} events", studio.journal().head().unwrap());
}
