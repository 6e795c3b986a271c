//! Broken and excessive input: an answer every time, no panic, nothing unchecked let through. Files are damaged at random
//! from good ones.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use effort::Effort;
use nest::*;
use plane::{Outline, Point};
use units::{Length, Seed, Sequence};

const GOOD: &str = r#"{"name":"t","items":[
{"id":0,"demand":2,"allowed_orientations":[0.0,90.0],"shape":{"type":"simple_polygon","data":[[0.0,0.0],[20.5,1e0],[18,12],[0.0,0.0]]}},
{"id":"b","demand":1,"shape":{"type":"polygon","data":{"outer":[[0,0],[9,0],[9,-7.25],[4,-3],[0,-7]]}}},
{"id":2,"demand":3,"allowed_orientations":null,"shape":{"type":"rectangle","data":{"x_min":1,"y_min":2,"width":8,"height":4}}}
],"strip_height":40.0}"#;

/// Pieces of text that break things.
const POISON: [&str; 16] = [
    "1e308",
    "-1e308",
    "NaN",
    "1e-320",
    "0",
    "-",
    "99999999999999999999",
    "null",
    "[",
    "]",
    "{",
    "}",
    "\"",
    "\\u0000",
    "4294967295",
    "é",
];

fn damaged(text: &str, chance: &mut Sequence) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for _ in 0..1 + chance.below(3) {
        if chars.is_empty() {
            break;
        }
        let from = chance.below(chars.len());
        let to = (from + 1 + chance.below(12)).min(chars.len());
        match chance.below(5) {
            0 => drop(chars.drain(from..to)),
            1 => {
                let part: Vec<char> = chars[from..to].to_vec();
                let at = chance.below(chars.len());
                chars.splice(at..at, part);
            }
            2 => chars[from] = char::from(32 + chance.below(95) as u8),
            3 => {
                let poison = POISON[chance.below(POISON.len())];
                // a whole number is replaced where one stands there
                let end = (from..chars.len()).find(|i| !chars[*i].is_ascii_digit()).unwrap_or(chars.len());
                chars.splice(from..end, poison.chars());
            }
            _ => chars.truncate(from),
        }
    }
    chars.into_iter().collect()
}

fn damage(count: u64) {
    let (mut good, mut bad, mut laid) = (0, 0, 0);
    for seed in 0..count {
        let mut chance = Seed(seed).sequence();
        match read_strip_json(&damaged(GOOD, &mut chance), Length::mm(1.0), Length::mm(2.0)) {
            Err(flaw) => {
                bad += 1;
                assert!(!flaw.to_string().is_empty(), "seed {seed}");
            }
            Ok(instance) => {
                good += 1;
                for piece in &instance.pieces {
                    let points = piece.outline.points().to_vec();
                    assert_eq!(Outline::new(points).unwrap(), piece.outline, "seed {seed}");
                }
                // now and then what was accepted is laid out too, as far as a job of that size is worth it
                let copies: u64 = instance.pieces.iter().map(|p| u64::from(p.count)).sum();
                if good % 16 == 1 && copies < 60 {
                    laid += 1;
                    let outcome = nest(&instance, &Config::default(), &Effort::steps(1));
                    outcome.layout.verify_placed(&instance).unwrap();
                    if outcome.is_complete() {
                        outcome.layout.verify(&instance).unwrap();
                    }
                }
            }
        }
    }
    assert!(good > 0 && bad > 0 && laid > 0, "{good} {bad} {laid}");
}

#[test]
fn damaged_instances_get_an_answer() {
    damage(3_000);
}

#[test]
#[ignore = "a million files take minutes; run by hand before a release"]
fn a_million_damaged_instances_get_an_answer() {
    damage(1_000_000);
}

fn piece(id: &str, points: Vec<Point>) -> Piece {
    Piece {
        id: id.into(),
        outline: Outline::new(points).unwrap(),
        count: 1,
        rotations: Rotations::Free,
        mirrorable: false,
        together: None,
        priority: 0,
    }
}

fn on_a_roll(pieces: Vec<Piece>) -> Instance {
    let kind = ContainerKind::Roll {
        width: Length::mm(1520.0),
        length_left: Length::m(15.0),
        margin: Length::mm(5.0),
        bad_spots: Vec::new(),
    };
    let containers = vec![Container { id: "R".into(), kind }];
    Instance { pieces, containers, gap: Length::mm(4.0), locked: Vec::new() }
}

/// A wavy ring of so many points.
fn wavy(points: usize, radius: f64) -> Vec<Point> {
    (0..points)
        .map(|i| {
            let angle = std::f64::consts::TAU * i as f64 / points as f64;
            let r = radius * (1.0 + 0.1 * (37.0 * angle).sin());
            Point::mm(r * angle.cos(), r * angle.sin())
        })
        .collect()
}

#[test]
fn an_outline_of_a_hundred_thousand_points_is_laid_out_and_checked() {
    let instance = on_a_roll(vec![piece("fine", wavy(100_000, 400.0)), piece("plain", wavy(40, 200.0))]);
    let outcome = nest(&instance, &Config::default(), &Effort::steps(2_000));
    assert_eq!(outcome.reasons, []);
    outcome.layout.verify(&instance).unwrap();
}

#[test]
fn pieces_that_cannot_fit_are_named_with_what_they_need() {
    let instance = on_a_roll(vec![piece("roof", wavy(40, 900.0)), piece("hood", wavy(40, 300.0))]);
    let outcome = nest(&instance, &Config::default(), &Effort::steps(2_000));
    let said = outcome.reasons[0].to_string();
    assert!(said.contains("'roof'") && said.contains("1510.0 mm inside its margins"), "{said}");
    // the other one lies there all the same
    assert_eq!(outcome.layout.placements.len(), 1);
}

#[test]
fn zero_areas_repeated_points_and_absurd_counts_are_answered() {
    let read = |shape: &str, demand: u64| {
        let text = format!(
            r#"{{"items":[{{"id":7,"demand":{demand},"shape":{{"type":"simple_polygon","data":{shape}}}}}],"strip_height":100}}"#
        );
        read_strip_json(&text, Length::ZERO, Length::ZERO)
    };
    let line = read("[[0,0],[5,5],[10,10]]", 1).unwrap_err().to_string();
    assert!(line.starts_with("item 7: ") && line.contains("no area"), "{line}");
    assert!(read("[[1,1],[1,1],[1,1],[1,1]]", 1).unwrap_err().to_string().contains("different points"));
    assert!(read("[]", 1).is_err());
    // repeated points are mended
    assert!(read("[[0,0],[0,0],[9,0],[9,0],[9,9],[0,0]]", 1).is_ok());
    let many = read("[[0,0],[9,0],[9,9]]", 4_000_000_000).unwrap();
    let said = nest(&many, &Config::default(), &Effort::steps(1)).reasons[0].to_string();
    assert!(said.contains("count") && said.contains("4000000000"), "{said}");
}
