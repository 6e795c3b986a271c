//! Seals as text.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

mod events;

use events::{event, stream};
use journal::{Expected, Journal, Seal};

#[test]
fn a_seal_can_be_copied_by_hand() {
    let journal = Journal::temporary().unwrap();
    journal.append(&stream("x"), Expected::New, &[event("a", "{}")], None).unwrap();
    let seal = journal.seal().unwrap();
    let text = seal.to_string();
    assert_eq!(text.len(), "1.0.0123-4567-89ab-cdef-0123-4567-89ab-cdef".len());
    assert_eq!(text.parse(), Ok(seal));
    assert_eq!(text.replace('-', " ").to_uppercase().parse(), Ok(seal));
    for wrong in [
        "",
        "1.0",
        "1.0.",
        "1.0.12",
        "x.0.0123-4567-89ab-cdef-0123-4567-89ab-cdef",
        "1.0.+123456789abcdef0123456789abcdef",
        "1.0.ä",
    ] {
        assert!(wrong.parse::<Seal>().is_err(), "{wrong}");
    }
}

#[test]
fn a_seal_holds_while_the_journal_grows() {
    let journal = Journal::temporary().unwrap();
    let mut seals = vec![journal.seal().unwrap()];
    for n in 0..5u8 {
        journal.append(&stream("x"), Expected::Any, &[event("a", "{}")], None).unwrap();
        journal.put_picture(&[n]).unwrap();
        seals.push(journal.seal().unwrap());
    }
    assert!(journal.verify_against(&seals).unwrap().is_sound());
    let mut wrong = seals[3];
    wrong.digest[15] ^= 1;
    assert_eq!(journal.verify_against(&[wrong]).unwrap().flaws.len(), 1);
}
