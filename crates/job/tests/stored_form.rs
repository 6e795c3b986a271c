//! The stored form of events is fixed: `docs/journal-format.md` shows every kind as it is written, line for line.
//! A change of the form without the page, or of the page without the form, fails here.
#![allow(clippy::unwrap_used, reason = "tests")]

use jiff::{Timestamp, civil::date};
use job::*;
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Debug;
use units::{Area, Duration, Length, Money, Temperature, Thickness, Volume};

const PAGE: &str = include_str!("../../../docs/journal-format.md");

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn noon() -> Timestamp {
    at("2026-05-13T12:00:00Z")
}

fn signed() -> Signature {
    Signature { name: "Ilse Marchetti".into(), at: noon() }
}

fn finding() -> Finding {
    Finding {
        no: FindingNo(1),
        size: Some(Length::mm(140.0)),
        depth: Some(Thickness::um(2.5)),
        count: Some(3),
        note: "felt by nail".into(),
        at: noon(),
        by: "Mei".into(),
        ..Finding::new(FindingKind::Scratch, Severity::Marked, Place::spot("left_rear_door", 0.55, 0.45))
    }
}

fn quote() -> Quote {
    Quote {
        lines: vec![OfferLine {
            label: "Labor".into(),
            quantity: "12.5 h".into(),
            net: Money::cents(90_000),
        }],
        net: Money::cents(90_000),
        tax: Money::cents(6_750),
        gross: Money::cents(96_750),
        likely: Money::cents(91_000),
        held: 0.8,
        hours_p50: Duration::hours(12.5),
        hours_p80: Duration::hours(14.0),
        film: Area::m2(4.5),
        replaced: 0.4,
        clear: Thickness::um(1.5),
    }
}

fn order() -> Order {
    Order {
        film: Coverage::Panels(vec!["hood".into()]),
        finish: Finish::Corrected,
        coatings: BTreeSet::from([CoatTarget::Film]),
        remove_film: vec!["hood".into()],
        interior: true,
        note: "as agreed by phone".into(),
    }
}

fn step() -> PlannedStep {
    PlannedStep {
        no: StepNo(7),
        step: "clay".into(),
        title: "Clay with lubricant".into(),
        panels: vec!["hood".into()],
        area: Area::m2(1.8),
        work: Duration::minutes(45.0),
        skill: Some("wash".into()),
        people: 1,
        room: "wash_bay".into(),
        air: "neutral".into(),
        tools: vec!["lift".into()],
        products: vec![ProductUse {
            product: "clay lubricant".into(),
            amount: Volume::ml(120.0),
            parts_water: Some(10.0),
        }],
        after: vec![After {
            step: StepNo(6),
            least: Duration::minutes(5.0),
            most: Some(Duration::hours(1.0)),
        }],
        wait: Duration::ZERO,
        cautions: vec!["wet_floor".into()],
        why: vec!["Grit is left".into()],
        pictures: true,
        check: false,
    }
}

fn job_events() -> Vec<JobEvent> {
    let car =
        Car { plate: "HLM 2207".into(), name: "Heron wagon".into(), body: "estate".into(), ..Car::default() };
    let customer = Customer { name: "Ilse Marchetti".into(), ..Customer::default() };
    let no = StepNo(7);
    let piece = Piece {
        id: "hood".into(),
        panel: "hood".into(),
        outline_mm: vec![[0.0, 0.0], [1400.0, 0.0], [1400.0, 900.5]],
        count: 1,
        planning_only: false,
        origin: "hood.svg".into(),
        inner_mm: vec![vec![[500.0, 300.0], [520.0, 300.0], [520.0, 320.0]]],
        marks_mm: vec![[[500.0, 310.0], [508.0, 310.0]]],
    };
    let wish = LayoutWish {
        no_offcuts: true,
        one_lot: OneLot::Sides,
        roll: Some("R-1".into()),
        locked: vec![("hood".into(), 0)],
        placements: vec![CutPlacement {
            piece: "hood".into(),
            container: "R-1".into(),
            ..CutPlacement::default()
        }],
    };
    let placement = CutPlacement {
        piece: "hood".into(),
        copy: 0,
        container: "R-1".into(),
        x_mm: 10.0,
        y_mm: 12.5,
        degrees: 90.0,
        mirrored: false,
    };
    let laid = LaidPiece {
        piece: "hood".into(),
        panel: "hood".into(),
        roll: "R-1".into(),
        lot: "B-1".into(),
        at: noon(),
        by: "Mei".into(),
    };
    vec![
        JobEvent::Booked {
            at: noon(),
            car: car.clone(),
            customer: customer.clone(),
            order: order(),
            promised: Some(at("2026-05-20T16:00:00Z")),
            expected: None,
        },
        JobEvent::CarChanged { car },
        JobEvent::CustomerChanged { customer },
        JobEvent::OrderChanged { order: Order::default() },
        JobEvent::Promised { promised: None },
        JobEvent::Arrived {
            arrival: Arrival {
                at: noon(),
                odometer_km: Some(38),
                energy_percent: Some(62),
                keys: 2,
                belongings: "cable".into(),
                lamps: "none".into(),
                soil: Soil::VeryHeavy,
                signed: None,
                note: String::new(),
            },
        },
        JobEvent::ArrivalSigned { signed: signed() },
        JobEvent::Found { finding: finding() },
        JobEvent::FindingChanged { finding: Finding { severity: Severity::Deep, ..finding() } },
        JobEvent::FindingWithdrawn { no: FindingNo(1), why: "was dirt".into() },
        JobEvent::Measured {
            readings: vec![Reading {
                place: Place::spot("hood", 0.25, 0.5),
                total: Thickness::um(112.3),
                clear: Some(Thickness::um(45.0)),
                spot: Some("a".into()),
                repeat: Some(1),
                gauge: Some("gauge 1".into()),
                substrate: Some(Material::Steel),
                moment: Moment::Before,
            }],
        },
        JobEvent::ReadingsWithdrawn {
            place: Place::panel("hood"),
            moment: Moment::After,
            why: "gauge not zeroed".into(),
        },
        JobEvent::TestSpotted {
            spot: TestSpot {
                panel: "hood".into(),
                method: "Fine polish".into(),
                passes: 2,
                pairs: vec![SpotPair { before: Thickness::um(121.0), after: Thickness::um(119.5) }],
                at: noon(),
                by: "Mei".into(),
            },
        },
        JobEvent::TestSpotWithdrawn { index: 0, why: "wrong pad".into() },
        JobEvent::SurveyClosed { signed: signed() },
        JobEvent::Pictured {
            picture: "00ff".into(),
            name: "hood.jpg".into(),
            place: Some(Place::panel("hood")),
            stage: Stage::Survey,
            finding: Some(FindingNo(1)),
            step: None,
        },
        JobEvent::PictureMarked {
            picture: "00ff".into(),
            tall: 750,
            mark: PictureMark {
                no: 1,
                shape: MarkShape::Ring { x: 420, y: 310, r: 60 },
                text: "chip by the badge".into(),
                at: noon(),
                by: "Mei".into(),
            },
        },
        JobEvent::PictureMarkRemoved { picture: "00ff".into(), no: 1 },
        JobEvent::PicturesPaired {
            pair: PicturePair { before: "00ff".into(), after: "0ff0".into(), panel: Some("hood".into()) },
        },
        JobEvent::PicturesParted { before: "00ff".into(), after: "0ff0".into() },
        JobEvent::Offered {
            offer: Offer {
                no: OfferNo(1),
                at: noon(),
                by: "Nadia".into(),
                valid_until: at("2026-05-27T12:00:00Z"),
                options: vec![OfferOption {
                    id: "front".into(),
                    title: "Front".into(),
                    buys: "Where most chips land.".into(),
                    order: order(),
                    quote: quote(),
                    back_by: Some(at("2026-05-20T16:00:00Z")),
                    advised: true,
                }],
                not_attempted: vec!["Dents stay.".into()],
            },
        },
        JobEvent::Accepted {
            acceptance: Acceptance {
                offer: OfferNo(1),
                option: "front".into(),
                signed: signed(),
                drawn: None,
                strokes: Strokes(vec![vec![[10, 20], [30, 5]]]),
            },
        },
        JobEvent::ChangeProposed {
            change: ChangeOrder {
                no: ChangeNo(1),
                at: noon(),
                by: "Nadia".into(),
                reason: "marks under old film".into(),
                findings: vec![FindingNo(1)],
                order: order(),
                quote: quote(),
                more: Money::cents(41_000),
                more_hours: Duration::hours(3.5),
                more_clear: Thickness::um(1.0),
                back_by: None,
                state: ChangeState::Proposed,
                strokes: Strokes::default(),
            },
        },
        JobEvent::ChangeAgreed { no: ChangeNo(1), signed: signed(), strokes: Strokes(vec![vec![[10, 20]]]) },
        JobEvent::ChangeDeclined { no: ChangeNo(1), signed: signed(), strokes: Strokes::default() },
        JobEvent::RouteSet {
            route: RouteSheet {
                at: noon(),
                steps: vec![step()],
                overrides: vec![Override {
                    rule: "clay on soil".into(),
                    reason: "none".into(),
                    signed: signed(),
                }],
            },
        },
        JobEvent::StepStarted { no, at: noon(), by: "Ravi".into() },
        JobEvent::StepPaused { no, at: noon() },
        JobEvent::StepFinished {
            no,
            at: noon(),
            by: "Ravi".into(),
            note: "two spots left".into(),
            lots: vec![LotUse {
                product: "clay lubricant".into(),
                lot: "L101".into(),
                amount: Volume::ml(120.0),
            }],
            checked: Vec::new(),
        },
        JobEvent::StepUndone { no, at: noon() },
        JobEvent::StepDropped { no, why: "not needed".into() },
        JobEvent::PiecesSet { pieces: vec![piece] },
        JobEvent::LayoutWished { wish: Box::new(wish) },
        JobEvent::ShapeTaken {
            shape: PanelShape {
                panel: "hood".into(),
                taken: Taken::Scan {
                    mesh: "00ff".into(),
                    name: "hood.obj".into(),
                    unit: "mm".into(),
                    turned: false,
                },
                at: noon(),
                by: "Ravi".into(),
            },
        },
        JobEvent::ShapeTaken {
            shape: PanelShape {
                panel: "roof".into(),
                taken: Taken::Tapes {
                    along: vec![Tape { at: 0.5, arc: Length::mm(1200.0), sag: Length::mm(42.0) }],
                    across: vec![Tape { at: 0.5, arc: Length::mm(1050.5), sag: Length::mm(18.0) }],
                },
                at: noon(),
                by: "Ravi".into(),
            },
        },
        JobEvent::SeamChosen {
            choice: SeamChoice {
                panel: "hood".into(),
                plan: "one relief cut".into(),
                cuts_mm: vec![vec![[0.0, 0.0, 0.0], [120.5, 3.0, -1.5]]],
                length: Length::mm(120.5),
                worst_percent: 1.25,
                bound_percent: 1.34,
                at: noon(),
                by: "Ravi".into(),
                ..SeamChoice::default()
            },
        },
        JobEvent::SeamChosen {
            choice: SeamChoice {
                panel: "left_front_fender".into(),
                plan: "cuts_1".into(),
                cuts_mm: vec![vec![[0.0, 0.0, 0.0], [0.0, 282.0, 4.0]]],
                length: Length::mm(282.0),
                worst_percent: 1.28,
                bound_percent: 1.63,
                at: noon(),
                by: "Ravi".into(),
                in_sight: Some(Length::mm(240.0)),
                both_sides: true,
            },
        },
        JobEvent::CutsConsidered {
            cuts: PanelCuts {
                panel: "hood".into(),
                zones: vec![CutZone {
                    name: "badge".into(),
                    ring_mm: vec![[0.0, 0.0, 0.0], [60.0, 0.0, 1.0], [30.0, 50.0, 2.0]],
                    rule: ZoneRule::Forbidden,
                }],
                plans: vec![SeamPlanFound {
                    name: "cuts_1".into(),
                    cuts_mm: vec![vec![[0.0, 0.0, 0.0], [0.0, 282.0, 4.0]]],
                    length: Length::mm(282.0),
                    in_sight: Length::mm(240.0),
                    worst_percent: 1.28,
                    areas: vec![Area::m2(0.71)],
                }],
            },
        },
        JobEvent::SidesPlanned {
            plan: SidePlan {
                seams: vec!["front_fender/flare".into()],
                pieces: 6,
                unseen_m: Money::cents(20_00),
                install: Money::cents(90_000),
                renewals: Money::cents(80_00),
                expected: 0.4,
                in_sight: Length::mm(410.0),
                at: noon(),
                by: "Nadia".into(),
            },
        },
        JobEvent::CutPlanned {
            plan: CutPlan {
                at: noon(),
                roll: "R-1".into(),
                lot: "B-1".into(),
                roll_width: Length::mm(1520.0),
                length: Length::mm(1480.0),
                pieces_area: Area::m2(1.3),
                placements: vec![placement],
                state: CutState::Reserved,
                offcuts: vec![Offcut { id: "o".into(), ..Offcut::default() }],
                further: vec![RollCut {
                    roll: "R-2".into(),
                    lot: "B-2".into(),
                    width: Length::mm(1520.0),
                    length: Length::mm(640.0),
                }],
            },
        },
        JobEvent::CutDone { at: noon() },
        JobEvent::CutUndone { at: noon() },
        JobEvent::Laid { pieces: vec![laid] },
        JobEvent::HandedOver {
            handover: Handover {
                at: noon(),
                by: "Nadia".into(),
                signed: Some(signed()),
                checked: vec!["under light".into()],
                pictures: vec!["00ff".into()],
                note: String::new(),
            },
        },
        JobEvent::VisitsPlanned {
            visits: vec![Visit { what: "inspection".into(), due: date(2026, 8, 13), state: VisitState::Due }],
        },
        JobEvent::VisitDone { index: 0, seen: "all well".into() },
        JobEvent::Claimed {
            claim: Claim {
                panel: "hood".into(),
                piece: Some("hood".into()),
                what: "torn".into(),
                why: "stone".into(),
                at: noon(),
                pictures: Vec::new(),
                ..Claim::default()
            },
        },
        JobEvent::Claimed {
            claim: Claim {
                panel: "hood".into(),
                piece: Some("hood-2".into()),
                what: "chip through the film".into(),
                why: String::new(),
                at: noon(),
                pictures: vec!["00ff".into()],
                kind: Some(ClaimKind::Chip),
                spot: Some([0.25, 0.5]),
                since: Some(date(2026, 5, 1)),
                answer: None,
            },
        },
        JobEvent::ClaimAnswered {
            index: 1,
            answer: ClaimAnswer { at: noon(), by: "Nadia".into(), text: "we renew the piece".into() },
        },
        JobEvent::ReminderSet {
            reminder: Reminder {
                about: "visit-0".into(),
                text: "Dear Ilse".into(),
                state: ReminderState::Sent,
                at: noon(),
                by: "Nadia".into(),
            },
        },
        JobEvent::Noted { note: Note { at: noon(), by: "Nadia".into(), text: "call before ten".into() } },
        JobEvent::Spoken {
            voice: VoiceNote {
                sound: "0aa0".into(),
                text: "rear edge".into(),
                step: Some(StepNo(3)),
                at: noon(),
                by: "Mei".into(),
            },
        },
        JobEvent::CalledOff { why: "sold".into() },
    ]
}

fn car_events() -> Vec<CarEvent> {
    let removal = Removal {
        job: "0001".into(),
        on: date(2026, 5, 20),
        taken: Thickness::um(1.5),
        sd: Thickness::um(0.3),
        measured: true,
    };
    let piece = LaidPiece { piece: "hood".into(), panel: "hood".into(), at: noon(), ..LaidPiece::default() };
    vec![
        CarEvent::JobOpened { job: "0001".into() },
        CarEvent::ClearTaken { panel: "hood".into(), removal },
        CarEvent::FilmLaid { job: "0001".into(), piece },
        CarEvent::FilmOff { panel: "hood".into(), on: date(2027, 5, 20), why: "torn".into() },
    ]
}

fn shop_events() -> Vec<ShopEvent> {
    let roll = Roll {
        id: "R-1".into(),
        film: "clear".into(),
        lot: "B-1".into(),
        width: Length::mm(1520.0),
        left: Length::m(15.0),
        cost_m2: Money::cents(58_00),
        margin: Length::mm(8.0),
        since: date(2026, 5, 1),
        grain: Grain::Both,
        bad_spots_mm: vec![[900.0, 0.0, 40.0, 25.0]],
        ..Roll::default()
    };
    let offcut = Offcut {
        id: "0001-1".into(),
        roll: "R-1".into(),
        length: Length::mm(700.0),
        width: Length::mm(300.0),
        since: date(2026, 5, 20),
        outline_mm: vec![[0.0, 0.0], [700.0, 0.0], [0.0, 300.0]],
        bad_spots_mm: vec![[10.0, 10.0, 30.0, 5.0]],
        ..Offcut::default()
    };
    let lot = Lot { lot: "L101".into(), left: Volume::l(5.0), expires: Some(date(2027, 1, 31)) };
    let product = Product {
        name: "iron remover".into(),
        cost_l: Money::cents(16_00),
        lots: vec![lot.clone()],
        ..Product::default()
    };
    let settings = ShopSettings {
        name: "Saltmarsh".into(),
        clock: ClockForm::Hours12,
        dates: DateForm::Iso,
        people: vec![Person { name: "Mei".into(), ..Person::default() }],
        estimates: Estimates { learn_times: false, ..Estimates::default() },
        bays: vec![Bay { name: "Bay 1".into(), places: 1, volume: Volume::m3(160.0), ..Bay::default() }],
        ..ShopSettings::default()
    };
    let reading = AirReading {
        bay: "Bay 3".into(),
        at: noon(),
        air: Temperature::celsius(21.4),
        surface: None,
        humidity_percent: 48.0,
    };
    let booking = Booking {
        job: "0001".into(),
        step: StepNo(7),
        from: noon(),
        to: at("2026-05-13T12:45:00Z"),
        people: vec!["Ravi".into()],
        bay: Some("Bay 1".into()),
        pinned: false,
    };
    vec![
        ShopEvent::SettingsSet { settings: Box::new(settings) },
        ShopEvent::JobNumbered { number: 1 },
        ShopEvent::RollReceived { roll },
        ShopEvent::FilmReserved {
            job: "0001".into(),
            roll: "R-1".into(),
            length: Length::mm(1480.0),
            offcuts: vec!["o".into()],
        },
        ShopEvent::FilmReleased { job: "0001".into() },
        ShopEvent::FilmCut {
            job: "0001".into(),
            roll: "R-1".into(),
            length: Length::mm(1480.0),
            kept: vec![offcut.clone()],
        },
        ShopEvent::OffcutKept { offcut },
        ShopEvent::OffcutDiscarded { id: "0001-1".into() },
        ShopEvent::ProductSet { product },
        ShopEvent::LotReceived { product: "iron remover".into(), lot },
        ShopEvent::LotDisposed { product: "iron remover".into(), lot: "L100".into(), why: "expired".into() },
        ShopEvent::ProductUsed {
            product: "iron remover".into(),
            lot: "L101".into(),
            amount: Volume::ml(190.0),
            job: "0001".into(),
        },
        ShopEvent::AirRead { reading },
        ShopEvent::GaugeChecked {
            check: GaugeCheck {
                gauge: "gauge 1".into(),
                at: noon(),
                by: "Mei".into(),
                foils: vec![FoilReading { nominal: Thickness::um(122.0), read: Thickness::um(123.5) }],
            },
        },
        ShopEvent::GaugeStudied {
            study: GaugeStudy {
                gauge: "gauge 1".into(),
                at: noon(),
                by: "Mei".into(),
                readings: vec![StudyReading {
                    operator: "Mei".into(),
                    part: "a".into(),
                    reading: Thickness::um(122.5),
                }],
            },
        },
        ShopEvent::PlanKept { at: noon(), plan: vec![booking] },
    ]
}

/// The lines of the page for these events, and that each reads back as it was.
fn lines<E: Serialize + Stored + PartialEq + Debug>(events: &[E]) -> Vec<String> {
    events
        .iter()
        .map(|event| {
            let (kind, body) = encode(event).unwrap();
            let back = E::decode(&kind, &body).unwrap();
            assert_eq!(&back, event);
            format!("`{kind}` `{body}`")
        })
        .collect()
}

fn section(name: &str) -> Vec<String> {
    let start =
        PAGE.find(&format!("## {name}\n")).unwrap_or_else(|| panic!("the page has no section {name}"));
    let rest = &PAGE[start + 3..];
    let end = rest.find("\n## ").unwrap_or(rest.len());
    rest[..end].lines().filter_map(|l| l.strip_prefix("- ")).map(str::to_owned).collect()
}

fn check(name: &str, written: &[String]) {
    let page = section(name);
    if page != written {
        let wanted: Vec<String> = written.iter().map(|l| format!("- {l}")).collect();
        panic!(
            "docs/journal-format.md, section {name}, is not what is written. If the change is meant, keep reading the old form, then put these lines there:\n{}",
            wanted.join("\n")
        );
    }
}

#[test]
fn job_events_are_written_as_the_page_says() {
    check("A job", &lines(&job_events()));
}

#[test]
fn car_events_are_written_as_the_page_says() {
    check("A car", &lines(&car_events()));
}

#[test]
fn shop_events_are_written_as_the_page_says() {
    check("The shop", &lines(&shop_events()));
}

#[test]
fn a_newer_or_damaged_form_is_refused_with_a_way_on() {
    let newer = JobEvent::decode("noted", r#"{"v":2,"note":{}}"#).unwrap_err();
    assert!(newer.to_string().contains("install the newer program"), "{newer}");
    for body in ["", "[]", "{}", r#"{"v":1}"#, r#"{"v":1,"note":3}"#] {
        let error = JobEvent::decode("noted", body).unwrap_err();
        assert!(error.to_string().contains("not readable"), "{body}: {error}");
    }
    assert!(JobEvent::decode("no_such_kind", r#"{"v":1}"#).is_err());
}

#[test]
fn a_number_that_json_cannot_hold_reads_back_as_absent() {
    let event = JobEvent::Found { finding: Finding { size: Some(Length::mm(f64::NAN)), ..finding() } };
    // JSON has no NaN: it is written as null. Commands refuse such sizes before they become events.
    let (kind, body) = encode(&event).unwrap();
    let back = JobEvent::decode(&kind, &body).unwrap();
    let JobEvent::Found { finding } = back else { panic!("another event") };
    assert_eq!(finding.size, None);
}
