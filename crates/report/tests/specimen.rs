//! An invented handover report with every block of the house style, for the tests of documents.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use jiff::Timestamp;
use report::document::{
    Block, Card, Cell, Column, Document, Fact, Image, KeyPart, Paper, Section, Sheet, StepRow,
};
use report::drawing::{Hatch, Medium, Strip, StripLine, range_cell, strip};
use report::{ReportError, Template, typeset};
use units::Thickness;

fn sheet(paper: Paper) -> Sheet {
    Sheet {
        id: "0412 handover 1".into(),
        title: "Handover report".into(),
        subject: "Estate, dark green, electric".into(),
        job: "0412".into(),
        date: "Fri, May 23, 2025".into(),
        moment: "2025-05-23T14:30:00Z".into(),
        shop: "Quayside Paint Works".into(),
        address: vec![
            "Quayside Paint Works".into(),
            "1 Invented Street".into(),
            "invented@example.org".into(),
        ],
        seal: Some("3fa9 01c7 5e2b 88d0".into()),
        paper,
        landscape: false,
        demo: true,
        fields: vec![
            Fact::words("Car", "Estate, dark green"),
            Fact { label: "Odometer".into(), cell: Cell::figure("1 240", "km") },
            Fact::words("In", "Wed, May 14, 8:05"),
            Fact::words("Out", "Fri, May 23, 16:00"),
            Fact { label: "State".into(), cell: Cell::Late { text: "70 min late".into() } },
        ],
    }
}

fn line(name: &str, low: f64, point: f64, high: f64) -> StripLine {
    StripLine {
        name: name.into(),
        low: Thickness::um(low),
        point: Thickness::um(point),
        high: Thickness::um(high),
        words: format!("{point:.0} ± {:.0} µm", (high - low) / 2.0),
    }
}

fn handover(paper: Paper) -> Document {
    let mut doc = Document::new(Template::Handover, sheet(paper));
    let bars = strip(
        &Strip {
            title: "Hood, clear coat".into(),
            lines: vec![line("before", 37.0, 41.0, 45.0), line("after", 34.5, 39.0, 43.5)],
            floor: Some((Thickness::um(30.0), "floor 30 µm".into())),
            range: None,
        },
        Medium::Alone,
    );
    let drawing = doc.drawing(
        bars,
        60.0,
        "Clear coat of the hood before and after",
        "Bar: 95 % range. Heavy line: floor.",
    );
    let mut rows = Vec::new();
    for (i, panel) in
        ["Hood", "Roof", "Left front door", "Left quarter panel"].iter().cycle().take(40).enumerate()
    {
        let cell = range_cell(
            &line(panel, 36.0, 40.0 + i as f64 / 10.0, 44.0),
            Some(Thickness::um(30.0)),
            (Thickness::um(25.0), Thickness::um(55.0)),
            Medium::Alone,
        );
        rows.push(vec![
            Cell::Number { text: (i + 1).to_string() },
            Cell::Strong { text: (*panel).into(), note: (i == 1).then(|| "measured twice".into()) },
            Cell::figure("12", ""),
            Cell::estimate("108", "4", "µm"),
            doc.small_drawing(cell, "95 % range", 26.0),
            Cell::hatch(Hatch::Marked, "marked"),
            if i == 2 { Cell::Late { text: "tight".into() } } else { Cell::Blank },
        ]);
    }
    let columns = vec![
        Column::words(""),
        Column::wide("Panel"),
        Column::figures("Spots"),
        Column::figures("Total"),
        Column::words("25 to 55 µm"),
        Column::words("Severity"),
        Column::words(""),
    ];
    doc.section(Section::new(
        "Thickness",
        vec![
            drawing,
            Block::key(&[
                (Hatch::Light, "light: polish or wash"),
                (Hatch::Marked, "marked: reduce, or cover"),
                (Hatch::Deep, "deep: not worked on without consent"),
            ]),
            Block::Table {
                columns: columns.clone(),
                rows,
                caption: Some("40 panels, gauge ± (1 µm + 1 %).".into()),
                total: Some(Fact { label: "Film, in all".into(), cell: Cell::figure("8.0", "m²") }),
                missing: "No readings.".into(),
            },
            Block::table(
                columns,
                Vec::new(),
                "No readings yet. Measure at least 6 spots on each panel, or mark it as plastic.",
            ),
        ],
    ));
    let photo = doc.picture(one_pixel_png());
    let image =
        |caption: &str| Image { img: photo, alt: "A gray square".into(), caption: Some(caption.into()) };
    doc.section(Section::new(
        "Before and after",
        vec![Block::Photographs { columns: 2, height: 40.0, parts: vec![image("before"), image("after")] }],
    ));
    doc.section(Section::new(
        "Cautions",
        vec![
            Block::caution(
                "Gloves and goggles.",
                "Irritates skin, smells. Air the bay. The product's data sheet comes first.",
            ),
            Block::Note {
                title: "No wash for a week.".into(),
                text: "Film cures; water under its edge lifts it.".into(),
            },
            Block::SideBySide {
                sides: [
                    vec![
                        Block::Heading { text: "What we will not do".into() },
                        Block::paragraph("Sand the left quarter panel."),
                    ],
                    vec![
                        Block::Heading { text: "If something turns up".into() },
                        Block::List { parts: vec!["We stop.".into(), "We show you a picture.".into()] },
                    ],
                ],
            },
            Block::Steps {
                rows: vec![StepRow {
                    number: 7,
                    title: "Iron remover".into(),
                    panels: "left side".into(),
                    what: "Iron remover, lot 24-081, undiluted, about 190 mL".into(),
                    why: "Loose dirt is off and the paint is cool.".into(),
                    cautions: vec!["No jet into the charge port.".into()],
                    time: Cell::estimate("25", "5", "min"),
                    note: Some("Tomas".into()),
                }],
                missing: "No steps yet.".into(),
            },
            Block::Cards {
                cards: (1..=3)
                    .map(|i| Card {
                        title: format!("Option {i}"),
                        tag: (i == 2).then(|| "chosen".into()),
                        note: "Where most chips land.".into(),
                        picture: None,
                        price: "$4,350".into(),
                        range: "to $4,840".into(),
                        price_note: "Nine in ten such jobs end in this range. Tax included.".into(),
                        rows: vec![
                            Fact::words("Guards", "Nose, doors, sills, behind the wheels"),
                            Fact { label: "Film".into(), cell: Cell::figure("8.0", "m²") },
                        ],
                        chosen: i == 2,
                    })
                    .collect(),
            },
            Block::Quiet { text: "Every figure is explained on the screen.".into() },
            Block::Missing { text: "No visits are planned.".into() },
            Block::Key { parts: vec![KeyPart { hatch: "cure", text: "cure".into() }] },
            Block::Facts {
                columns: 3,
                rows: vec![Fact::words("Lot", "24-081"), Fact { label: "Check".into(), cell: Cell::Tick }],
            },
            Block::Signatures { names: vec!["For the shop".into(), "Customer".into()] },
        ],
    ));
    doc
}

/// The smallest gray PNG: one pixel, written by hand from the PNG specification, second edition.
fn one_pixel_png() -> Vec<u8> {
    vec![
        0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 13, b'I', b'H', b'D', b'R', 0, 0, 0, 1, 0,
        0, 0, 1, 8, 0, 0, 0, 0, 0x3a, 0x7e, 0x9b, 0x55, 0, 0, 0, 10, b'I', b'D', b'A', b'T', 0x78, 0x9c,
        0x63, 0x68, 0, 0, 0, 0x82, 0, 0x81, 0x77, 0xcd, 0x72, 0xb6, 0, 0, 0, 0, b'I', b'E', b'N', b'D', 0xae,
        0x42, 0x60, 0x82,
    ]
}

fn out(name: &str, bytes: &[u8]) {
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(path, bytes).unwrap();
}

#[test]
fn every_block_can_be_set_on_both_papers() {
    for (paper, name) in [(Paper::A4, "a4"), (Paper::Letter, "letter")] {
        let pdf = handover(paper).pdf().unwrap();
        assert!(pdf.starts_with(b"%PDF-"));
        out(&format!("specimen-{name}.pdf"), &pdf);
    }
}

#[test]
fn the_same_data_gives_the_same_bytes() {
    let first = handover(Paper::A4).pdf().unwrap();
    let second = handover(Paper::A4).pdf().unwrap();
    assert_eq!(first, second);
}

#[test]
fn a_document_is_archivable_and_readable_aloud() {
    let pdf = handover(Paper::A4).pdf().unwrap();
    let text = String::from_utf8_lossy(&pdf);
    assert!(text.contains("<pdfaid:part>2</pdfaid:part>"), "PDF/A-2");
    assert!(text.contains("<pdfuaid:part>1</pdfuaid:part>"), "PDF/UA-1");
}

#[test]
fn a_picture_that_is_no_picture_is_named() {
    let mut doc = handover(Paper::A4);
    let img = doc.picture(b"not a picture".to_vec());
    doc.section(Section::new(
        "Proof",
        vec![Block::Drawing { img, alt: "proof".into(), caption: None, width: 50.0 }],
    ));
    let error = doc.pdf().unwrap_err();
    assert!(matches!(&error, ReportError::Picture { number, .. } if *number == img + 1), "{error}");
}

#[test]
fn a_fault_in_the_data_names_its_place() {
    let error = typeset(Template::Offer, &serde_json::json!({"sheet": {}}), &[]).unwrap_err();
    assert!(matches!(&error, ReportError::Typeset { place, .. } if place.contains(".typ line")), "{error}");
}

#[test]
fn too_many_pictures_are_refused() {
    let many = vec![Vec::new(); report::MOST_PICTURES + 1];
    let error = typeset(Template::Offer, &serde_json::json!({}), &many).unwrap_err();
    assert!(matches!(error, ReportError::TooManyPictures { .. }));
}

#[test]
fn text_of_any_script_does_not_stop_a_document() {
    let mut sheet = sheet(Paper::A4);
    sheet.subject = "Žluťoučký kůň, 漢字, 🚗, #set *bold* $x$ @ref <a>".into();
    let pdf = Document::new(Template::Change, sheet).pdf().unwrap();
    out("scripts.pdf", &pdf);
}

#[test]
#[ignore = "prints times for people; run with --nocapture"]
fn times() {
    let doc = handover(Paper::A4);
    for i in 0..5 {
        let start = Timestamp::now();
        let pdf = doc.pdf().unwrap();
        let took = Timestamp::now().duration_since(start);
        println!("run {i}: {:?}, {} kB", took, pdf.len() / 1024);
    }
    let body = body::Body::of(body::Style::Estate);
    let mark = |n: u32| report::drawing::Mark {
        number: n,
        panel: "hood".into(),
        u: f64::from(n) / 13.0,
        v: 0.5,
        size: None,
        whole_panel: false,
        severity: report::drawing::Severity::Light,
        hatch: None,
        words: "Swirls".into(),
        href: None,
    };
    let marks: Vec<_> = (1..=12).map(mark).collect();
    for i in 0..5 {
        let start = Timestamp::now();
        let svg = report::drawing::car_sheet(body, "Findings", &marks, Medium::Alone);
        println!("sheet {i}: {:?}, {} kB", Timestamp::now().duration_since(start), svg.len() / 1024);
    }
}
