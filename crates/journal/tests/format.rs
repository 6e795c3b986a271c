//! The stored form is the one that `docs/journal-store.md` describes.
//!
//! The example's hash on that page was computed by a Python script from the page's words alone.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use journal::{Expected, Journal, NewEvent, PictureId, Stream};

const PAGE: &str = include_str!("../../../docs/journal-store.md");

/// The text between a code fence of this language and its end.
fn fence(language: &str) -> &'static str {
    let (_, rest) = PAGE.split_once(&format!("```{language}\n")).unwrap();
    rest.split_once("```").unwrap().0
}

fn job() -> Stream {
    Stream::new("job/1").unwrap()
}

fn example() -> NewEvent {
    NewEvent {
        kind: "arrived".into(),
        body: r#"{"odometer_km": 12}"#.into(),
        at: "2026-03-02T08:30:00Z".parse().unwrap(),
        by: "Robin".into(),
    }
}

#[test]
fn the_page_shows_the_schema_that_is_stored() {
    let journal = Journal::temporary().unwrap();
    let db = rusqlite::Connection::open(journal.folder().join("journal.db")).unwrap();
    let mut statement =
        db.prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY rowid").unwrap();
    let stored: Vec<String> =
        statement.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    let stored = stored.join(";\n") + ";\n";
    assert_eq!(
        stored,
        fence("sql"),
        "change docs/journal-store.md with the schema, and raise the form number"
    );
    let pragma =
        |name: &str| db.query_row(&format!("PRAGMA {name}"), [], |row| row.get::<_, i64>(0)).unwrap();
    assert!(PAGE.contains(&format!("`PRAGMA application_id` {:#x}", pragma("application_id"))));
    assert!(PAGE.contains(&format!("`PRAGMA user_version` {} (the form)", pragma("user_version"))));
}

#[test]
fn the_page_shows_the_bytes_under_a_hash() {
    let journal = Journal::temporary().unwrap();
    journal.append(&job(), Expected::New, &[example()], Some("form 17")).unwrap();
    let row = journal.load(&job(), 0).unwrap().remove(0);
    let digits: Vec<char> = fence("hex").chars().filter(|c| !c.is_whitespace()).collect();
    let bytes: Vec<u8> = digits
        .chunks(2)
        .map(|pair| u8::from_str_radix(&pair.iter().collect::<String>(), 16).unwrap())
        .collect();
    assert_eq!(journal::Hash::of(&bytes), row.hash);
    let said = format!("Its hash is `{}`, the seal after it `{}`.", row.hash, journal.seal().unwrap());
    assert!(PAGE.contains(&said), "the page should say: {said}");
}

#[test]
fn the_head_beside_the_database_has_the_form_on_the_page() {
    let journal = Journal::temporary().unwrap();
    journal.append(&job(), Expected::New, &[example()], None).unwrap();
    let row = journal.load(&job(), 0).unwrap().remove(0);
    let zero = "0".repeat(64);
    let line = format!("shutline-head 1 00000000000000000001 {} 00000000000000000000 {zero}", row.hash);
    let check = journal::Hash::of(line.as_bytes()).to_string();
    let stored = std::fs::read_to_string(journal.folder().join("journal.head")).unwrap();
    assert_eq!(stored, format!("{line} {}\n", &check[..16]));
}

/// First 32 bytes of the output for inputs of these lengths, the bytes 0 to 250 over and over.
///
/// Source: BLAKE3 team, `test_vectors/test_vectors.json` of the reference implementation
/// (<https://github.com/BLAKE3-team/BLAKE3>, commit 2f6f56f; CC0-1.0 or Apache-2.0), field `hash`; copied from the
/// file.
#[test]
fn hashes_are_blake3_by_its_authors_test_vectors() {
    for (length, wanted) in [
        (0, "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262"),
        (1, "2d3adedff11b61f14c886e35afa036736dcd87a74d27b5c1510225d0f592e213"),
        (1025, "d00278ae47eb27b34faecf67b4fe263f82d5412916c1ffd97c8cb7fb814b8444"),
        (5121, "628bd2cb2004694adaab7bbd778a25df25c47b9d4155a55f8fbd79f2fe154cff"),
    ] {
        let bytes: Vec<u8> = (0..length).map(|i: u32| (i % 251) as u8).collect();
        assert_eq!(PictureId::of(&bytes).to_string(), wanted, "{length} bytes");
    }
}
