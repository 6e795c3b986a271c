use super::*;
use crate::clock::Clock;
use crate::refusal::RefusalKind;
use jiff::SignedDuration;

struct House {
    studio: Studio,
    clock: Clock,
    _folder: tempfile::TempDir,
}

const PHRASE: &str = "heron lamp gravel noon";

fn house() -> House {
    let folder = tempfile::tempdir().unwrap();
    let clock = Clock::at("2026-05-13T08:00:00Z".parse().unwrap());
    let studio = Studio::open_at(folder.path(), clock.clone()).unwrap();
    studio.make_owner("Nadia", PHRASE, "2580").unwrap();
    let mut settings = studio.shop().unwrap().settings.clone();
    settings.people.push(Person { name: "Ravi".into(), ..Person::default() });
    studio.set_shop(&Stamp::by("Nadia"), &settings).unwrap();
    House { studio, clock, _folder: folder }
}

fn device(studio: &Studio) -> Admitted {
    let token = studio.admit("10.0.0.5", "Nadia", PHRASE, "tablet").unwrap();
    studio.device(&token).unwrap().unwrap()
}

#[test]
fn the_first_start_happens_once_and_asks_for_sound_secrets() {
    let folder = tempfile::tempdir().unwrap();
    let studio = Studio::open(folder.path()).unwrap();
    assert!(!studio.has_owner().unwrap());
    for (name, phrase, pin) in [
        ("", PHRASE, "2580"),
        ("Nadia", "short", "2580"),
        ("Nadia", PHRASE, "1234"),
        ("Nadia", PHRASE, "7777"),
        ("Nadia", PHRASE, "25a0"),
        ("Nadia", PHRASE, "258"),
    ] {
        assert_eq!(studio.make_owner(name, phrase, pin).unwrap_err().kind, RefusalKind::Invalid, "{pin}");
        assert!(!studio.has_owner().unwrap());
    }
    studio.make_owner("Nadia", PHRASE, "2580").unwrap();
    assert!(studio.has_owner().unwrap());
    assert_eq!(studio.role_of("Nadia").unwrap(), Role::Owner);
    assert!(studio.make_owner("Eve", PHRASE, "2580").is_err());
}

#[test]
fn somebody_signs_in_at_a_device_that_was_let_in_and_nowhere_else() {
    let House { studio, .. } = house();
    let here = device(&studio);
    studio.set_pin("Ravi", "4826").unwrap();
    assert!(studio.sign_in(&here, "Ravi", "4827").is_err());
    let token = studio.sign_in(&here, "Ravi", "4826").unwrap();
    let session = studio.session(&here, &token).unwrap().unwrap();
    assert_eq!((session.who.as_str(), session.role), ("Ravi", Role::Technician));
    // Neither a made-up token nor a token carried to another device is worth anything.
    assert!(studio.session(&here, &Token::new().unwrap()).unwrap().is_none());
    assert!(studio.session(&device(&studio), &token).unwrap().is_none());
    studio.sign_out(&token).unwrap();
    assert!(studio.session(&here, &token).unwrap().is_none());
}

#[test]
fn a_session_ends_when_left_alone_at_the_end_of_the_day_and_with_the_person() {
    let House { studio, clock, .. } = house();
    let here = device(&studio);
    let hours = SignedDuration::from_hours;
    let token = studio.sign_in(&here, "Nadia", "2580").unwrap();
    for _ in 0..4 {
        clock.advance(hours(3));
        assert!(studio.session(&here, &token).unwrap().is_some());
    }
    clock.advance(hours(3));
    assert!(studio.session(&here, &token).unwrap().is_none(), "15 hours are more than a day");
    let token = studio.sign_in(&here, "Nadia", "2580").unwrap();
    clock.advance(hours(5));
    assert!(studio.session(&here, &token).unwrap().is_none(), "nobody was there for 5 hours");
    let token = studio.begin_session(&here, "Ravi").unwrap();
    let mut settings = studio.shop().unwrap().settings.clone();
    settings.people.retain(|p| p.name != "Ravi");
    studio.set_shop(&Stamp::by("Nadia"), &settings).unwrap();
    assert!(studio.session(&here, &token).unwrap().is_none(), "works here no more");
}

#[test]
fn misses_make_waits_longer_also_for_the_right_pin_and_for_names_in_turn() {
    let House { studio, clock, .. } = house();
    let here = device(&studio);
    for _ in 0..3 {
        assert_eq!(studio.sign_in(&here, "Nadia", "0000").unwrap_err().kind, RefusalKind::Invalid);
    }
    assert_eq!(studio.sign_in(&here, "Nadia", "2580").unwrap_err().kind, RefusalKind::TooMany);
    clock.advance(SignedDuration::from_secs(2));
    studio.sign_in(&here, "Nadia", "2580").unwrap();
    // A name that does not exist counts too.
    for i in 0..10 {
        let name = format!("Nobody {i}");
        assert_eq!(studio.sign_in(&here, &name, "9182").unwrap_err().kind, RefusalKind::Invalid);
    }
    assert_eq!(studio.sign_in(&here, "Nadia", "2580").unwrap_err().kind, RefusalKind::TooMany);
    // Another device does not suffer from it.
    studio.sign_in(&device(&studio), "Nadia", "2580").unwrap();
}

#[test]
fn the_passphrase_lets_a_device_in_and_a_code_does_once() {
    let House { studio, clock, .. } = house();
    assert!(studio.admit("10.0.0.6", "Nadia", "wrong wrong wrong", "x").is_err());
    assert!(studio.admit("10.0.0.6", "Ravi", PHRASE, "x").is_err());
    let code = studio.invite_device("Nadia").unwrap();
    let token = studio.admit_invited(&code, "phone").unwrap();
    assert_eq!(studio.device(&token).unwrap().unwrap().device.name, "phone");
    assert_eq!(studio.admit_invited(&code, "phone").unwrap_err().kind, RefusalKind::NotFound);
    let code = studio.invite_device("Nadia").unwrap();
    clock.advance(SignedDuration::from_mins(16));
    assert!(studio.admit_invited(&code, "phone").is_err());
    let id = studio.device(&token).unwrap().unwrap().id;
    studio.dismiss_device(&id).unwrap();
    assert!(studio.device(&token).unwrap().is_none());
    assert!(studio.dismiss_device(&id).is_err());
}

#[test]
fn a_link_shows_its_job_until_its_day() {
    let House { studio, clock, .. } = house();
    let new = crate::command::NewJob {
        car: job::Car { plate: "TST 1".into(), body: "van".into(), ..job::Car::default() },
        customer: job::Customer::default(),
        order: job::Order::default(),
        promised: None,
        expected: None,
    };
    let id = studio.book(&Stamp::by("Nadia"), new).unwrap();
    assert!(studio.give_link("Nadia", &id, Shown::Offer, 0).is_err());
    let token = studio.give_link("Nadia", &id, Shown::Offer, 14).unwrap();
    assert_eq!(studio.link(&token).unwrap().unwrap().job, id);
    assert!(studio.link(&Token::new().unwrap()).unwrap().is_none());
    let (name, _) = studio.links_of(&id).unwrap().remove(0);
    assert_ne!(name, token.as_str(), "the token itself is not kept");
    let other = studio.give_link("Nadia", &id, Shown::Report, 365).unwrap();
    studio.withdraw_link(&id, &name).unwrap();
    assert!(studio.link(&token).unwrap().is_none());
    clock.advance(SignedDuration::from_hours(24 * 365));
    assert!(studio.link(&other).unwrap().is_none());
}

#[test]
fn nothing_that_lets_anybody_in_lies_in_the_folder() {
    let House { studio, _folder, .. } = house();
    let here = device(&studio);
    let token = studio.sign_in(&here, "Nadia", "2580").unwrap();
    for name in ["slate.db", "slate.db-wal", "journal.db", "journal.db-wal"] {
        let bytes = std::fs::read(studio.folder().join(name)).unwrap_or_default();
        for secret in [PHRASE, token.as_str()] {
            assert!(!bytes.windows(secret.len()).any(|w| w == secret.as_bytes()), "{name}");
        }
    }
}
