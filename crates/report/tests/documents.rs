//! The seven documents: from full and from empty views, on both papers.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use body::{Body, Style};
use jiff::{Timestamp, civil::date, tz::TimeZone};
use job::*;
use report::documents;
use report::{Document, Picture};
use std::sync::Arc;
use studio::view::*;
use studio::{Clock, Figure, Studio};
use units::{Area, Duration, Length, Money, Thickness};

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

fn none(_: &PictureId) -> Option<Picture> {
    None
}

/// A car's view with this job; everything in it is invented.
fn car(job: Job, settings: ShopSettings) -> CarView {
    let body = Body::of(Style::Estate);
    CarView {
        tag: CarTag::of(&"0412".into(), &job),
        version: 1,
        history: Arc::default(),
        shop: Arc::new(Shop { settings, ..Shop::default() }),
        job: Arc::new(job),
        body,
        stages: Vec::new(),
        ready: Some(at("2025-05-23T14:00:00Z")),
        late: Some("70 min".into()),
        cautions: vec![Caution { title: "High voltage".into(), text: "No jet into the charge port.".into() }],
        now: at("2025-05-23T15:00:00Z"),
        zone: TimeZone::UTC,
        seal: "3fa901c75e2b88d0ffee".into(),
    }
}

fn shop(paper: &str) -> ShopSettings {
    ShopSettings {
        name: "Quayside Paint Works".into(),
        address: "1 Invented Street\ninvented@example.org".into(),
        paper: paper.into(),
        demo: true,
        ..ShopSettings::default()
    }
}

fn signed(name: &str) -> Signature {
    Signature { name: name.into(), at: at("2025-05-14T08:30:00Z") }
}

fn order() -> Order {
    Order {
        film: Coverage::FrontAndSides,
        finish: Finish::Corrected,
        coatings: [CoatTarget::Film, CoatTarget::Wheels].into(),
        remove_film: vec!["hood".into()],
        interior: true,
        note: "Please mind the dog hair.".into(),
    }
}

fn quote(gross: i64) -> Quote {
    Quote {
        lines: vec![
            OfferLine {
                label: "Work".into(),
                quantity: "22.5 h at $72.00".into(),
                net: Money::cents(162_000),
            },
            OfferLine {
                label: "Film".into(),
                quantity: "8.02 m² at $61.00".into(),
                net: Money::cents(48_922),
            },
        ],
        net: Money::cents(gross * 93),
        tax: Money::cents(gross * 7),
        gross: Money::cents(gross * 100),
        likely: Money::cents(gross * 92),
        held: 0.8,
        hours_p50: Duration::hours(21.0),
        hours_p80: Duration::hours(24.4),
        film: Area::m2(8.02),
        replaced: 0.4,
        clear: Thickness::um(1.4),
    }
}

fn option(id: &str, gross: i64, advised: bool) -> OfferOption {
    OfferOption {
        id: id.into(),
        title: id.replace('_', " "),
        buys: "Where most chips land.".into(),
        order: order(),
        quote: quote(gross),
        back_by: Some(at("2025-05-23T16:00:00Z")),
        advised,
    }
}

fn finding(no: u32, kind: FindingKind, severity: Severity, place: Place) -> Finding {
    Finding {
        no: FindingNo(no),
        size: Some(Length::mm(140.0)),
        count: Some(3),
        depth: Some(Thickness::um(6.0)),
        note: "felt by nail, from transport, about 60 cm above the ground".into(),
        by: "Bea".into(),
        at: at("2025-05-14T09:00:00Z"),
        ..Finding::new(kind, severity, place)
    }
}

fn step(no: u32, title: &str, panels: &[&str]) -> PlannedStep {
    PlannedStep {
        no: StepNo(no),
        step: "iron_remover".into(),
        title: title.into(),
        panels: panels.iter().map(|p| (*p).into()).collect(),
        area: Area::m2(2.43),
        work: Duration::minutes(25.0),
        people: 1,
        products: vec![ProductUse {
            product: "Iron remover".into(),
            amount: units::Volume::ml(190.0),
            parts_water: Some(4.0),
        }],
        wait: Duration::minutes(90.0),
        why: vec!["Loose dirt is off and the paint is cool.".into(), "Iron remover comes after clay.".into()],
        ..PlannedStep::default()
    }
}

fn record(no: u32, title: &str, panels: &[&str]) -> StepRecord {
    StepRecord {
        planned: step(no, title, panels),
        state: StepState::Done,
        spans: vec![Span {
            from: at("2025-05-15T08:00:00Z"),
            to: Some(at("2025-05-15T08:31:00Z")),
            by: "Tomas".into(),
        }],
        lots: vec![LotUse {
            product: "Iron remover".into(),
            lot: "24-081".into(),
            amount: units::Volume::ml(180.0),
        }],
        notes: vec!["Sill needed twice.".into()],
        checked: Vec::new(),
        pictures: Vec::new(),
    }
}

fn laid(panel: &str) -> LaidPiece {
    LaidPiece {
        piece: format!("{panel}-1"),
        panel: panel.into(),
        roll: "A-118".into(),
        lot: "B7741".into(),
        at: at("2025-05-20T10:00:00Z"),
        by: "Bea".into(),
    }
}

/// A job with something on every sheet.
fn full_job() -> Job {
    let mut job = Job {
        booked: at("2025-05-01T08:00:00Z"),
        car: Car {
            plate: "INV 0412".into(),
            name: "Juniper estate".into(),
            body: "estate".into(),
            color: "dark green".into(),
            year: Some(2025),
            vin: Some("INVENTED000000412".into()),
            drive: Drive::Electric,
            ..Car::default()
        },
        customer: Customer { name: "Ada Invented".into(), ..Customer::default() },
        order: order(),
        promised: Some(at("2025-05-23T14:00:00Z")),
        arrival: Some(Arrival {
            at: at("2025-05-14T08:05:00Z"),
            odometer_km: Some(1240),
            energy_percent: Some(62),
            keys: 2,
            belongings: "Child seat, umbrella".into(),
            lamps: String::new(),
            soil: Soil::Heavy,
            signed: Some(signed("Ada Invented")),
            note: "Came on a truck".into(),
        }),
        ..Job::default()
    };
    use FindingKind as K;
    use Severity as S;
    job.findings = vec![
        finding(1, K::Swirls, S::Light, Place::panel("hood")),
        finding(2, K::Scratch, S::Marked, Place::spot("left_front_door", 0.4, 0.5)),
        finding(3, K::Refinished, S::Deep, Place::panel("left_quarter_panel")),
        finding(4, K::Iron, S::Light, Place::spot("roof", 0.5, 0.3)),
        finding(5, K::Chip, S::Marked, Place::spot("front_bumper", 0.3, 0.5)),
        finding(6, K::Leather, S::Light, Place::panel("driver_seat")),
    ];
    job.offers = vec![Offer {
        no: OfferNo(1),
        at: at("2025-05-14T11:00:00Z"),
        by: "Nadia".into(),
        valid_until: at("2025-05-28T11:00:00Z"),
        options: vec![
            option("front", 2480, false),
            option("front_and_sides", 4350, true),
            option("whole", 7900, false),
        ],
        not_attempted: vec![
            "Sanding the left quarter panel: repainted and uneven, sanding could break through.".into(),
        ],
    }];
    job.changes = vec![ChangeOrder {
        strokes: Default::default(),
        no: ChangeNo(1),
        at: at("2025-05-16T10:00:00Z"),
        by: "Bea".into(),
        reason: "Under the old film on the hood lie marks that it hid.".into(),
        findings: vec![FindingNo(1)],
        order: order(),
        quote: quote(4710),
        more: Money::cents(36_000),
        more_hours: Duration::minutes(130.0),
        more_clear: Thickness::um(0.8),
        back_by: Some(at("2025-05-24T14:00:00Z")),
        state: ChangeState::Proposed,
    }];
    for (no, title) in [(1, "Foam wash"), (2, "Iron remover"), (3, "Film, hood")] {
        job.work.insert(StepNo(no), record(no, title, &["hood", "left_front_door"]));
    }
    job.laid = ["hood", "front_bumper", "left_front_fender", "right_front_fender", "left_front_door"]
        .map(laid)
        .into();
    job
}

fn survey() -> SurveyView {
    let mut seed = units::Seed(5).sequence();
    let panels = ["hood", "roof", "left_front_door", "left_quarter_panel"];
    let body = Body::of(Style::Estate);
    SurveyView {
        panels: panels
            .iter()
            .map(|id| {
                let panel = body.panel(id).unwrap();
                PanelSurvey {
                    id: (*id).into(),
                    title: panel.title.into(),
                    area: panel.area,
                    width: panel.width,
                    height: panel.height,
                    readable: true,
                    readings: (0..12)
                        .map(|i| {
                            let at = (i != 5).then(|| (seed.between(0.15, 0.85), seed.between(0.2, 0.8)));
                            (at, Thickness::um(seed.between(95.0, 120.0)), Moment::Before)
                        })
                        .collect(),
                    estimate: None,
                    figures: vec![
                        Figure::new("Total", "108", "µm").plus_minus("4"),
                        Figure::new("Clear coat", "41", "µm").plus_minus("4"),
                        Figure::new("Least clear coat", "31", "µm").warn("near the floor"),
                    ],
                    warnings: vec![("refinished".into(), "ask the owner".into())],
                    findings: Vec::new(),
                    correction: None,
                    outliers: vec![],
                    edge_correction: None,
                    contours: vec![],
                    test_spots: vec![],
                    taken: None,
                }
            })
            .collect(),
        missing: Vec::new(),
        unknown: Vec::new(),
        methods: vec![],
    }
}

fn offer_view() -> OfferView {
    let job = full_job();
    let covered: Vec<PanelId> =
        ["hood", "front_bumper", "left_front_fender", "right_front_fender", "left_front_door"]
            .map(PanelId::from)
            .into();
    OfferView {
        draft: job.offers[0]
            .options
            .iter()
            .map(|o| DraftOption {
                option: o.clone(),
                covered: covered.clone(),
                rows: [
                    ("Guards", "Nose, doors, sills, behind the wheels"),
                    ("Film", "8.0 m², one seam of 0.34 m"),
                    ("Look after it", "No wash for a week"),
                ]
                .map(|(a, b)| (a.to_owned(), b.to_owned()))
                .into(),
                figures: Vec::new(),
                problem: (o.id == "whole").then(|| "No roll is long enough: order 12 m.".into()),
            })
            .collect(),
        not_attempted: Vec::new(),
        terms: vec!["The price is fixed.".into(), "Tax 7.5 %, on the whole, rounded once.".into()],
        deposit: "Deposit 20 % on acceptance.".into(),
    }
}

fn route_view() -> RouteView {
    let step_view = |no: u32| StepView {
        planned: step(
            no,
            ["Foam wash", "Iron remover", "Clay", "Polish, one stage"][no as usize % 4],
            &[
                "hood",
                "roof",
                "left_front_door",
                "left_rear_door",
                "right_front_door",
                "right_rear_door",
                "tailgate",
            ][..1 + no as usize % 7],
        ),
        state: if no == 1 { StepState::Done } else { StepState::Todo },
        record: (no == 1).then(|| record(1, "Foam wash", &["hood"])),
        booking: (no > 1).then(|| Booking {
            job: "0412".into(),
            step: StepNo(no),
            from: at("2025-05-15T08:00:00Z"),
            to: at("2025-05-15T09:00:00Z"),
            people: vec!["Tomas".into()],
            bay: Some("Bay 1".into()),
            pinned: false,
        }),
        ready_at: None,
        needs: Vec::new(),
        cautions: vec![Caution {
            title: "Gloves and goggles".into(),
            text: "Irritates skin, smells. Air the bay.".into(),
        }],
        figures: Vec::new(),
        lots: vec![(
            "Iron remover".into(),
            vec![Lot { lot: "24-081".into(), left: units::Volume::l(1.0), expires: None }],
        )],
        warnings: if no == 3 { vec!["Surface only 2 °C above the dew point.".into()] } else { Vec::new() },
        wanted: vec!["Picture: sill".into()],
    };
    RouteView {
        steps: (1..=23).map(step_view).collect(),
        work: Duration::hours(21.5),
        set: true,
        problem: None,
        breaches: vec!["Clay before the wash would drag grit over the paint: wash first.".into()],
        stale: Some("A change order was agreed since this route was set: set it anew.".into()),
        library: Vec::new(),
    }
}

fn film_view() -> FilmView {
    let rect = |x: f64, y: f64, w: f64, h: f64| vec![(x, y), (x + w, y), (x + w, y + h), (x, y + h)];
    let piece = |number: usize, title: &str, corners: Vec<(f64, f64)>| CutPiece {
        number,
        title: title.into(),
        corners_mm: corners,
        at: CutPlacement::default(),
    };
    let drawing = |container: &str, offcut: bool, there: f64, used: f64, pieces: Vec<CutPiece>| CutDrawing {
        container: container.into(),
        offcut,
        width: Length::mm(if offcut { 600.0 } else { 1520.0 }),
        there: Length::mm(there),
        used: Length::mm(used),
        rests: if offcut {
            Vec::new()
        } else {
            vec![CutRest {
                corners_mm: vec![
                    (3600.0, 1200.0),
                    (5240.0, 1200.0),
                    (5240.0, 1497.0),
                    (3850.0, 1497.0),
                    (3600.0, 1300.0),
                ],
                rectangle_mm: [3850.0, 1200.0, 1390.0, 297.0],
            }]
        },
        pieces,
        outline_mm: Vec::new(),
        bad_mm: Vec::new(),
    };
    FilmView {
        shapes: Vec::new(),
        pieces: (1..=6)
            .map(|n| PieceRow {
                number: n,
                id: format!("p{n}"),
                title: format!("Piece {n}"),
                panel: "left_front_fender".into(),
                count: 1,
                area: Area::m2(1.74),
                size: (Length::mm(1402.0), Length::mm(1492.0)),
                planning_only: n == 2,
                origin: "pieces/hood.svg".into(),
            })
            .collect(),
        drawings: vec![
            drawing("C-7", true, 1300.0, 1300.0, vec![piece(6, "Piece 6", rect(20.0, 20.0, 1200.0, 500.0))]),
            drawing(
                "A-118",
                false,
                15000.0,
                5240.0,
                vec![
                    piece(1, "Hood", rect(5.0, 10.0, 1400.0, 1490.0)),
                    piece(2, "Bumper", rect(1420.0, 900.0, 1850.0, 547.0)),
                    piece(3, "Fender", rect(1420.0, 10.0, 1200.0, 690.0)),
                    piece(4, "Sill", rect(1420.0, 720.0, 2198.0, 90.0)),
                    piece(5, "Door", rect(3850.0, 10.0, 688.0, 1180.0)),
                ],
            ),
        ],
        plan: None,
        figures: vec![Figure::new("Used length", "5.24", "m"), Figure::new("Covered by pieces", "66.4", "%")],
        problem: None,
        warnings: vec![
            "Outlines drawn from the body drawing are for planning film, never for cutting.".into(),
        ],
        ..FilmView::default()
    }
}

fn handover_view() -> HandoverView {
    let um = Thickness::um;
    let panel = |id: &str, title: &str, before: f64, after: Option<f64>| CorrectedPanel {
        id: id.into(),
        title: title.into(),
        before: Some((um(before), um(2.1))),
        after: after.map(|a| (um(a), um(2.4))),
        taken: Figure::new("Clear coat taken", "1.4", "µm").plus_minus("0.9"),
        left: Some(Figure::new("Least clear coat left", "31", "µm")),
    };
    let job = full_job();
    HandoverView {
        panels: vec![panel("hood", "Hood", 108.0, Some(106.5)), panel("roof", "Roof", 112.0, None)],
        film: job.laid.clone(),
        lots: vec![LotRow {
            product: "Iron remover".into(),
            lot: "24-081".into(),
            used: "Iron remover".into(),
        }],
        done: job.work.values().cloned().collect(),
        care: vec![
            CareRow {
                what: "First week".into(),
                due: None,
                advice: "No washing, no pressure washer on edges.".into(),
            },
            CareRow { what: "Film check".into(), due: Some(date(2025, 8, 23)), advice: String::new() },
        ],
        cautions: vec![Caution {
            title: "Brakes".into(),
            text: "After washing, brake gently a few times.".into(),
        }],
        missing: vec!["A step is open: final check.".into()],
        checks: vec!["Walked round under light with the arrival record in hand".into()],
        warranty: String::new(),
    }
}

fn calendar_view() -> CalendarView {
    let day = |d: i8| date(2025, 5, d);
    let open = |d: i8| {
        let hour = |h: i8| day(d).at(h, 0, 0, 0).in_tz("UTC").unwrap().timestamp();
        (day(d), (d < 17).then(|| (hour(8), hour(17))))
    };
    let tag = CarTag::of(&"0412".into(), &full_job());
    let stretch = |from: &str, to: &str, what: &str, kind| Stretch {
        from: at(from),
        to: at(to),
        car: (kind != StretchKind::Changeover).then(|| tag.clone()),
        step: Some(StepNo(1)),
        what: what.into(),
        kind,
        late: kind == StretchKind::Clean,
        begun: false,
    };
    let lane = |kind, name: &str, stretches: Vec<Stretch>| Lane {
        kind,
        name: name.into(),
        about: "wash".into(),
        stretches,
    };
    use StretchKind as S;
    CalendarView {
        from: day(12),
        days: 7,
        now: at("2025-05-14T10:42:00Z"),
        zone: TimeZone::UTC,
        hours: (12..19).map(open).collect(),
        lanes: vec![
            lane(
                LaneKind::Bay,
                "Bay 1",
                vec![
                    stretch("2025-05-12T08:00:00Z", "2025-05-12T12:00:00Z", "foam wash", S::Work),
                    stretch("2025-05-14T08:00:00Z", "2025-05-14T12:00:00Z", "film, hood", S::Clean),
                    stretch("2025-05-14T12:00:00Z", "2025-05-16T09:00:00Z", "rests or cures", S::Rest),
                ],
            ),
            lane(
                LaneKind::Air,
                "Air, hall",
                vec![stretch("2025-05-13T08:00:00Z", "2025-05-13T16:00:00Z", "dusty", S::Dusty)],
            ),
            lane(
                LaneKind::Person,
                "Tomas",
                vec![stretch("2025-05-12T08:00:00Z", "2025-05-12T12:00:00Z", "foam wash", S::Work)],
            ),
        ],
        promises: vec![(
            tag.clone(),
            Some(at("2025-05-23T14:00:00Z")),
            Some(at("2025-05-23T15:10:00Z")),
            Some("70 min".into()),
        )],
        quality: "Within 2 % of the bound.".into(),
        problem: None,
        moves: vec!["Juniper estate, film: 40 min later.".into()],
        clashes: Vec::new(),
        kept: false,
    }
}

/// A gray square, for photographs: PNG of one pixel, written by hand from the PNG specification.
fn gray(_: &PictureId) -> Option<Picture> {
    Some(vec![
        0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 13, b'I', b'H', b'D', b'R', 0, 0, 0, 1, 0,
        0, 0, 1, 8, 0, 0, 0, 0, 0x3a, 0x7e, 0x9b, 0x55, 0, 0, 0, 10, b'I', b'D', b'A', b'T', 0x78, 0x9c,
        0x63, 0x68, 0, 0, 0, 0x82, 0, 0x81, 0x77, 0xcd, 0x72, 0xb6, 0, 0, 0, 0, b'I', b'E', b'N', b'D', 0xae,
        0x42, 0x60, 0x82,
    ])
}

fn all_full(paper: &str) -> Vec<Document> {
    let mut job = full_job();
    for f in &mut job.findings {
        f.pictures = vec![format!("before-{}", f.no).as_str().into()];
    }
    for r in job.work.values_mut() {
        r.pictures = vec![format!("after-{}", r.planned.no).as_str().into()];
        r.planned.panels.truncate(1);
    }
    let view = HandoverView { done: job.work.values().cloned().collect(), ..handover_view() };
    let change = job.changes[0].clone();
    let car = car(job, shop(paper));
    let mut job2 = full_job();
    job2.acceptance = Some(Acceptance {
        offer: OfferNo(1),
        option: "front".into(),
        signed: signed("Ada Invented"),
        drawn: None,
        strokes: job::Strokes::default(),
    });
    vec![
        documents::arrival(&car, &survey(), &gray),
        documents::offer(&car, &offer_view()),
        documents::route(&car, &route_view()),
        documents::cut(&car, &film_view()),
        documents::schedule(&car.shop, &calendar_view(), &car.seal),
        documents::handover(&car, &view, &survey(), &gray),
        documents::change(&car, &change, &[], &gray),
    ]
}

fn keep(name: &str, pdf: &[u8]) {
    std::fs::write(std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name), pdf).unwrap();
}

/// All words of a document, in order.
fn words_of(doc: &Document) -> String {
    fn gather(value: &serde_json::Value, out: &mut String) {
        match value {
            serde_json::Value::String(s) => {
                out.push_str(s);
                out.push('\n');
            }
            serde_json::Value::Array(list) => list.iter().for_each(|v| gather(v, out)),
            serde_json::Value::Object(map) => map.values().for_each(|v| gather(v, out)),
            _ => {}
        }
    }
    let mut out = String::new();
    gather(&doc.data().unwrap(), &mut out);
    out
}

#[test]
fn full_documents_can_be_set_and_archived() {
    for paper in ["a4", "us-letter"] {
        for doc in all_full(paper) {
            let pdf = doc.pdf().unwrap_or_else(|e| panic!("{e}"));
            keep(&format!("{}-{paper}.pdf", doc.template.name()), &pdf);
            assert!(String::from_utf8_lossy(&pdf).contains("<pdfuaid:part>1"), "{}", doc.template.title());
        }
    }
}

#[test]
fn pairs_stand_side_by_side_with_their_marks() {
    let mut job = full_job();
    let mut events = Vec::new();
    let pictured = |name: &str, stage: Stage| job::JobEvent::Pictured {
        picture: name.into(),
        name: format!("{name}.jpg"),
        place: Some(Place::panel("hood")),
        stage,
        finding: None,
        step: None,
    };
    for (name, stage) in [("one", Stage::Survey), ("two", Stage::Work), ("three", Stage::Work)] {
        events.push(pictured(name, stage));
    }
    let mark = job::PictureMark {
        no: 1,
        shape: job::MarkShape::Ring { x: 500, y: 300, r: 80 },
        text: "chip".into(),
        at: at("2026-05-13T12:00:00Z"),
        by: "Mei".into(),
    };
    events.push(job::JobEvent::PictureMarked { picture: "one".into(), tall: 667, mark });
    // The last of after would be suggested; somebody chose another.
    let pair = job::PicturePair { before: "one".into(), after: "two".into(), panel: Some("hood".into()) };
    events.push(job::JobEvent::PicturesPaired { pair });
    job.findings.clear();
    job.work.clear();
    events.iter().for_each(|e| job.apply(e));
    let photograph = studio::picture::stand_in(9).unwrap();
    let album = |_: &PictureId| Some(photograph.clone());
    let doc = documents::handover(&car(job, shop("a4")), &HandoverView::default(), &survey(), &album);
    let pairs: Vec<_> = doc
        .sections
        .iter()
        .flat_map(|s| &s.blocks)
        .filter_map(|b| match b {
            report::document::Block::Pairs { pairs, .. } => Some(pairs),
            _ => None,
        })
        .flatten()
        .collect();
    assert_eq!(pairs.len(), 1);
    assert_eq!(pairs[0].before.caption.as_deref(), Some("Hood, before. 1: chip"));
    assert_eq!(pairs[0].after.caption.as_deref(), Some("Hood, after"));
    let marked = String::from_utf8_lossy(&doc.pictures[pairs[0].before.img]).into_owned();
    assert!(marked.starts_with("<svg") && marked.contains("cx=\"500\" cy=\"300\" r=\"80\""));
    assert_eq!(doc.pictures[pairs[0].after.img], photograph, "what has no marks is the photograph itself");
    let pdf = doc.pdf().unwrap();
    keep("handover-pairs.pdf", &pdf);
    // Both photographs and the third, each once, lie in the file as the JPEGs they are.
    let held = pdf.windows(9).filter(|w| w == b"DCTDecode").count();
    assert!(held >= 1, "{held}");
}

#[test]
fn empty_documents_say_what_is_missing() {
    let car = car(Job::default(), ShopSettings::default());
    let calendar = CalendarView {
        lanes: Vec::new(),
        hours: Vec::new(),
        promises: Vec::new(),
        moves: Vec::new(),
        ..calendar_view()
    };
    let docs = [
        (documents::arrival(&car, &SurveyView::default(), &none), "has not been received"),
        (documents::offer(&car, &OfferView::default()), "No options yet"),
        (documents::route(&car, &RouteView::default()), "No steps yet"),
        (documents::cut(&car, &FilmView::default()), "needs no film"),
        (documents::schedule(&car.shop, &calendar, ""), "Nothing is planned"),
        (
            documents::handover(&car, &HandoverView::default(), &SurveyView::default(), &none),
            "No film lies on this car",
        ),
        (documents::change(&car, &ChangeOrder::default(), &[], &none), "No reason is written down"),
    ];
    for (doc, said) in docs {
        assert!(words_of(&doc).contains(said), "{} does not say '{said}'", doc.template.title());
        keep(&format!("{}-empty.pdf", doc.template.name()), &doc.pdf().unwrap_or_else(|e| panic!("{e}")));
    }
}

#[test]
fn a_photograph_that_is_gone_is_said_and_stops_nothing() {
    let mut job = full_job();
    job.findings[0].pictures = vec!["gone".into()];
    let doc = documents::arrival(&car(job, shop("a4")), &survey(), &none);
    assert!(words_of(&doc).contains("1 of these photographs could not be read"));
    doc.pdf().unwrap();
}

#[test]
fn an_accepted_offer_shows_the_price_of_that_option_alone() {
    let mut job = full_job();
    job.acceptance = Some(Acceptance {
        offer: OfferNo(1),
        option: "front".into(),
        signed: signed("Ada Invented"),
        drawn: None,
        strokes: job::Strokes::default(),
    });
    let doc = documents::offer(&car(job, shop("a4")), &offer_view());
    let words = words_of(&doc);
    assert!(words.contains("taken") && words.contains("Ada Invented agreed on Wed, May 14, 8:30."));
    assert!(!words.contains("advised"));
    keep("offer-taken.pdf", &doc.pdf().unwrap());
}

#[test]
fn a_hundred_steps_and_fifty_findings_fit_on_more_sheets() {
    let mut job = full_job();
    job.findings = (1..=50)
        .map(|n| {
            finding(n, FindingKind::Chip, Severity::Marked, Place::spot("hood", f64::from(n) / 51.0, 0.5))
        })
        .collect();
    let car = car(job, shop("a4"));
    keep("arrival-fifty.pdf", &documents::arrival(&car, &survey(), &none).pdf().unwrap());
    let one = route_view();
    let steps = one.steps.iter().cycle().take(100).cloned().collect();
    keep("route-hundred.pdf", &documents::route(&car, &RouteView { steps, ..one }).pdf().unwrap());
}

#[test]
#[ignore = "makes a whole demo studio, minutes of computing; writes its documents for people to look at"]
fn documents_of_the_demo() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("demo");
    let now = at("2025-05-14T08:42:00Z");
    let made = folder.join("journal.db").exists() || studio::demo::make(&folder, now, "UTC").is_ok();
    println!("demo made: {made}");
    let studio = Studio::open_at(&folder, Clock::at(now)).unwrap();
    let album = |id: &PictureId| {
        let bytes = studio.picture_bytes(id).ok()?;
        studio::picture::shown(&bytes, 1400).ok()
    };
    for entry in studio.jobs().unwrap() {
        let id = &entry.id;
        let car = studio.car_view(id).unwrap();
        let survey = studio.survey_view(id).unwrap();
        let mut docs = vec![
            documents::arrival(&car, &survey, &album),
            documents::offer(&car, &studio.offer_view(id).unwrap()),
            documents::route(&car, &studio.route_view(id).unwrap()),
            documents::cut(&car, &studio.film_view(id).unwrap()),
            documents::handover(&car, &studio.handover_view(id).unwrap(), &survey, &album),
        ];
        docs.extend(car.job.changes.iter().map(|c| documents::change(&car, c, &[], &album)));
        for doc in docs {
            let start = Timestamp::now();
            let pdf = doc.pdf().unwrap_or_else(|e| panic!("{e}"));
            println!(
                "{id} {}: {} ms, {} kB",
                doc.template.name(),
                Timestamp::now().duration_since(start).as_millis(),
                pdf.len() / 1024
            );
            keep(&format!("demo-{id}-{}.pdf", doc.template.name()), &pdf);
        }
    }
    let calendar = studio.calendar_view(None, 7, true).unwrap();
    let car = studio.car_view(&studio.jobs().unwrap()[0].id).unwrap();
    keep("demo-schedule.pdf", &documents::schedule(&car.shop, &calendar, &car.seal).pdf().unwrap());
}
