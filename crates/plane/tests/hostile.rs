//! Readers meet broken files: an answer every time, no panic. Files are damaged at random from good ones.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use units::{Length, Seed, Sequence};

const SVG: &str = "<?xml version='1.0'?><svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='20cm' viewBox='0 0 100 200' preserveAspectRatio='xMidYMid meet'>
<defs><path id='p' d='M0 0h10v10z'/></defs><g transform='translate(10,20) rotate(30 5 5) scale(2) skewX(10) matrix(1 0 0 1 5 5)'>
<path id='a' d='M10 50A20 20 0 0 1 50 50Q60 70 80 50T90 10C5 60 15 60 20 50S35 40 40 50L40 100V90H0Z m5 5 l1 1 1-1z'/>
<rect x='1' y='2' width='30' height='20' rx='5' ry='2'/><circle cx='50' cy='60' r='40'/><ellipse cx='5' cy='6' rx='4' ry='1e1'/>
<polygon points='0,0 30,0 30,40'/><polyline points='0,0 30,0 30,40 0,0'/><use href='#p' x='5' y='6'/><line x1='0' x2='5'/></g></svg>";

const DXF: &str = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n8\na\n90\n3\n70\n1\n10\n0\n20\n0\n42\n0.5\n10\n2\n20\n0\n10\n1\n20\n3\n0\nPOLYLINE\n8\nb\n66\n1\n70\n1\n0\nVERTEX\n10\n0\n20\n0\n0\nVERTEX\n10\n2\n20\n0\n42\n1\n0\nSEQEND\n0\nCIRCLE\n8\nc\n10\n5\n20\n6\n40\n10\n0\nELLIPSE\n8\nd\n10\n0\n20\n0\n11\n20\n21\n0\n40\n0.5\n41\n0\n42\n6.283185307179586\n0\nARC\n8\ne\n10\n0\n20\n0\n40\n10\n50\n0\n51\n180\n0\nLINE\n8\ne\n10\n10\n20\n0\n11\n-10\n21\n0\n0\nSPLINE\n8\nf\n70\n0\n71\n3\n40\n0\n40\n0\n40\n0\n40\n0\n40\n1\n40\n1\n40\n1\n40\n1\n10\n0\n20\n0\n10\n7\n20\n13\n10\n13\n20\n13\n10\n20\n20\n0\n0\nLINE\n8\nf\n10\n0\n20\n0\n11\n20\n21\n0\n0\nENDSEC\n0\nEOF\n";

/// Pieces of text that break things.
const POISON: [&str; 24] = [
    "1e308",
    "-1e308",
    "NaN",
    "inf",
    "1e-320",
    "0",
    "-",
    "99999999999999999999",
    "Z",
    "M",
    "<",
    ">",
    "'",
    "&",
    "\n",
    "\0",
    "é",
    "8192",
    "EOF",
    "SEQEND",
    "#p",
    "0,0",
    "A0 0 0 0 0",
    "e",
];

/// Characters cut out, doubled, replaced, moved, or poison put in.
fn damaged(text: &str, chance: &mut Sequence) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for _ in 0..1 + chance.below(6) {
        if chars.is_empty() {
            break;
        }
        let (from, length) = (chance.below(chars.len()), 1 + chance.below(12));
        let to = (from + length).min(chars.len());
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
    let (mut good, mut bad) = (0, 0);
    for seed in 0..count {
        let mut chance = Seed(seed).sequence();
        let tolerance = Length::mm([0.01, 0.1, 1.0][chance.below(3)]);
        let read = if seed % 2 == 0 {
            plane::svg::read_outlines(&damaged(SVG, &mut chance), tolerance).map_err(|e| e.to_string())
        } else {
            plane::dxf::read_outlines(&damaged(DXF, &mut chance), tolerance).map_err(|e| e.to_string())
        };
        match read {
            Ok(outlines) => {
                good += 1;
                // what is accepted is sound
                for o in outlines {
                    let points = o.outline.points().to_vec();
                    assert_eq!(plane::Outline::new(points).unwrap(), o.outline, "seed {seed}");
                }
            }
            Err(text) => {
                bad += 1;
                assert!(!text.is_empty(), "seed {seed}");
            }
        }
    }
    assert!(good > 0 && bad > 0, "{good} {bad}");
}

#[test]
fn damaged_files_get_an_answer() {
    damage(4_000);
}

#[test]
#[ignore = "two million files take minutes; run by hand before a release"]
fn two_million_damaged_files_get_an_answer() {
    damage(2_000_000);
}
