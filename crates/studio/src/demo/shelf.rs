//! The demo's people, bays, film and chemicals. Invented; amounts and costs are plausible, not quoted from anyone.

use crate::folder::ShopFile;
use jiff::{Timestamp, ToSpan, civil, tz::TimeZone};
use job::{Bay, Lot, Person, Product, Role, Roll, ShopSettings, Tool};
use std::collections::BTreeSet;
use units::{Length, Money, Volume};

/// Products of the step library: name, cost of a liter in cents, share of alcohol.
const PRODUCTS: [(&str, i64, f64); 34] = [
    ("wheel cleaner, acid-free", 900, 0.0),
    ("tar and adhesive remover", 2200, 0.0),
    ("insect remover", 1200, 0.0),
    ("snow foam", 750, 0.0),
    ("hand wash shampoo", 1100, 0.0),
    ("alkaline pre-wash", 1000, 0.0),
    ("clay lubricant", 900, 0.0),
    ("iron remover", 1600, 0.0),
    ("water spot remover, mild acid", 1800, 0.0),
    ("soft top cleaner", 1200, 0.0),
    ("plain polymer drying aid", 1400, 0.0),
    ("coating-type drying aid", 2600, 0.0),
    ("finishing polish", 4800, 0.0),
    ("cutting polish", 5200, 0.0),
    ("one-stage polish", 5000, 0.0),
    ("plastic polish", 4400, 0.0),
    ("glass polish", 4600, 0.0),
    ("isopropyl alcohol wipe", 800, 0.2),
    ("distilled water", 120, 0.0),
    ("baby shampoo", 1000, 0.0),
    ("slip solution", 130, 0.0),
    ("tack solution, isopropyl alcohol", 400, 0.15),
    ("ceramic coating", 90000, 0.0),
    ("trim coating", 70000, 0.0),
    ("glass coating", 60000, 0.0),
    ("wheel coating", 80000, 0.0),
    ("fabric proofing", 6000, 0.0),
    ("leather cleaner", 2000, 0.0),
    ("interior cleaner", 1200, 0.0),
    ("fabric shampoo", 1400, 0.0),
    ("leather preparation, alcohol-based", 3000, 0.3),
    ("leather coating", 45000, 0.0),
    ("waterless wash", 1800, 0.0),
    ("tire and trim dressing", 2400, 0.0),
];

/// The demo's shop file.
pub fn shop(time_zone: &str, now: Timestamp) -> ShopFile {
    let zone = TimeZone::get(time_zone).unwrap_or(TimeZone::UTC);
    let today = now.to_zoned_datetime(zone).date();
    let settings = ShopSettings {
        name: "Saltmarsh Paint Studio".into(),
        address: "12 Harbor Row, Fenwick (invented)".into(),
        time_zone: time_zone.into(),
        demo: true,
        people: vec![
            person("Nadia", Role::Owner, &["desk", "film", "correction", "driver"]),
            person("Oskar", Role::Technician, &["wash", "correction", "driver", "interior"]),
            person("Mei", Role::Technician, &["film", "coating", "correction"]),
            person("Ravi", Role::Technician, &["wash", "interior", "coating", "desk"]),
            person("Juno", Role::FrontDesk, &["desk"]),
        ],
        bays: vec![
            bay("Bay 1", &["wash_bay"], "", 160.0, 4.0, 0.6),
            bay("Bay 2", &["correction_bay"], "hall", 180.0, 6.0, 0.5),
            bay("Bay 3", &["clean_room"], "film room", 140.0, 10.0, 0.7),
            bay("Bay 4", &[], "hall", 120.0, 6.0, 0.5),
        ],
        tools: vec![
            Tool { name: "polisher".into(), count: 2 },
            Tool { name: "lift".into(), count: 1 },
        ],
        warranty: "Film: 5 years against yellowing and lifting edges. Coatings: as their sheets say. Chips, accidents and automatic brushes are not covered. (Invented text of the demo.)".into(),
        ..ShopSettings::default()
    };
    let days_ago = |d: i64| today.checked_sub(d.days()).unwrap_or(today);
    ShopFile {
        settings,
        rolls: vec![
            roll("R-1520-A", 1520.0, 15.0, "B-2291 (invented)", days_ago(380)),
            roll("R-1520-B", 1520.0, 30.0, "B-2410 (invented)", days_ago(60)),
            roll("R-760-A", 760.0, 15.0, "B-2377 (invented)", days_ago(90)),
        ],
        offcuts: Vec::new(),
        products: PRODUCTS.iter().enumerate().map(|(i, p)| product(i, p, today)).collect(),
    }
}

fn person(name: &str, role: Role, skills: &[&str]) -> Person {
    Person {
        name: name.into(),
        role,
        skills: skills.iter().map(|s| (*s).to_owned()).collect(),
        ..Person::default()
    }
}

fn bay(name: &str, kinds: &[&str], air: &str, m3: f64, changes: f64, mixing: f64) -> Bay {
    Bay {
        name: name.into(),
        kinds: kinds.iter().map(|k| (*k).to_owned()).collect::<BTreeSet<_>>(),
        places: 1,
        air: air.into(),
        volume: Volume::m3(m3),
        air_changes: changes,
        mixing,
    }
}

fn roll(id: &str, width: f64, meters: f64, lot: &str, since: civil::Date) -> Roll {
    Roll {
        id: id.into(),
        film: "clear, 190 µm".into(),
        lot: lot.into(),
        width: Length::mm(width),
        left: Length::m(meters),
        cost_m2: Money::cents(5800),
        margin: Length::mm(8.0),
        since,
        ..Roll::default()
    }
}

fn product(i: usize, (name, cents, alcohol): &(&str, i64, f64), today: civil::Date) -> Product {
    let expires = today.checked_add(((200 + 17 * i) as i64).days()).ok();
    Product {
        name: (*name).into(),
        cost_l: Money::cents(*cents),
        alcohol: *alcohol,
        sheet: format!("Binder on the wall, sheet {} (invented)", i + 1),
        lots: vec![Lot {
            lot: format!("L{:03}", 101 + 3 * i),
            left: Volume::l(if *cents > 40_000 { 1.5 } else { 60.0 }),
            expires,
        }],
    }
}
