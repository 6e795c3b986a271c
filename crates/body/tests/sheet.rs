//! The full sheets, character for character.

use body::{Body, SheetOptions, Style};

/// `tests/golden` holds the sheets of the first implementation of these drawings, written in another
/// language: two programs that draw the same eight bodies from the same numbers.
#[test]
fn sheets_are_those_of_the_first_implementation() {
    for style in Style::ALL {
        let path = format!("{}/tests/golden/{}.svg", env!("CARGO_MANIFEST_DIR"), style.name());
        let expected = std::fs::read_to_string(&path).unwrap();
        let drawn = Body::of(style).sheet_svg(&SheetOptions::default());
        for (i, (a, b)) in drawn.lines().zip(expected.lines()).enumerate() {
            assert_eq!(a, b, "{} line {}", style.name(), i + 1);
        }
        assert_eq!(drawn, expected, "{}", style.name());
    }
}
