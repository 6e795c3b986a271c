//! What every store behind a journal must do. Each fact takes a maker of empty journals, so that another store
//! runs the same suite: `conformance_suite!(|| open_the_other_store());`

use std::collections::BTreeMap;
use std::sync::Barrier;
use std::thread;
use std::time::Duration;

use super::events::{event, stream};
use jiff::Timestamp;
use journal::{AppendError, Expected, Hash, Journal, JournalError, NewEvent, PictureId, Refusal, Stream};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};

pub type Make<'a> = &'a dyn Fn() -> Journal;

/// One test for each fact.
#[macro_export]
macro_rules! conformance_suite {
    ($make:expr) => {
        $crate::conformance_suite!(@ $make;
            a_stream_counts_from_one,
            an_event_comes_back_byte_for_byte,
            who_saw_an_older_version_is_told_what_came_since,
            a_new_stream_must_not_exist,
            any_takes_whatever_version_there_is,
            an_append_without_events_only_checks,
            several_streams_are_written_all_or_nothing,
            the_same_key_gets_the_first_answer,
            a_key_is_not_used_for_something_else,
            the_same_key_from_many_threads_is_written_once,
            many_writers_of_one_stream_lose_nothing,
            bad_input_is_refused_with_a_reason,
            streams_are_listed_by_prefix,
            readers_page_through_everything_in_order,
            a_waiting_reader_is_woken,
            a_subscriber_sees_each_move_once,
            pictures_are_kept_once_under_their_hash,
            each_row_holds_the_hash_of_the_row_before,
            any_sequence_of_appends_agrees_with_a_plain_list,
        );
    };
    (@ $make:expr; $($fact:ident),* $(,)?) => {
        $(#[test] fn $fact() { conformance::$fact(&$make) })*
    };
}

fn kinds(journal: &Journal, name: &str) -> Vec<String> {
    journal.load(&stream(name), 0).unwrap().into_iter().map(|e| e.kind).collect()
}

pub fn a_stream_counts_from_one(make: Make<'_>) {
    let journal = make();
    assert_eq!(journal.head().unwrap(), 0);
    assert_eq!(journal.load(&stream("job/1"), 0).unwrap(), []);
    let first =
        journal.append(&stream("job/1"), Expected::New, &[event("a", "{}"), event("b", "{}")], None).unwrap();
    assert_eq!((first.version, first.seq, first.repeated), (2, 2, false));
    let other = journal.append(&stream("job/2"), Expected::New, &[event("c", "{}")], None).unwrap();
    assert_eq!((other.version, other.seq), (1, 3));
    let second = journal.append(&stream("job/1"), Expected::Version(2), &[event("d", "{}")], None).unwrap();
    assert_eq!((second.version, second.seq), (3, 4));
    assert_eq!(kinds(&journal, "job/1"), ["a", "b", "d"]);
    let later = journal.load(&stream("job/1"), 2).unwrap();
    assert_eq!(later.iter().map(|e| (e.version, e.seq)).collect::<Vec<_>>(), [(3, 4)]);
}

pub fn an_event_comes_back_byte_for_byte(make: Make<'_>) {
    let bodies = [
        "{}",
        "null",
        "3",
        r#""Ünïcödé 漆 🚗 \u0000 \ud83d\ude97""#,
        "{ \"a\" : 1.10 ,\n\t\"a\": 1e400, \"big\": 12345678901234567890123 }",
        &format!("[{}0]", "0,".repeat(200_000)),
    ];
    let times = ["2026-03-02T08:30:00Z", "1969-12-31T23:59:59.999999999Z", "-009999-01-02T01:59:59Z"];
    let journal = make();
    for (i, body) in bodies.iter().enumerate() {
        let at: Timestamp = times[i % times.len()].parse().unwrap();
        let new = NewEvent {
            kind: "größe gemessen".into(),
            body: (*body).into(),
            at,
            by: "Renée O'Neil; --".into(),
        };
        journal
            .append(&stream("x"), Expected::Any, std::slice::from_ref(&new), Some(&format!("key {i}")))
            .unwrap();
        let back = journal.load(&stream("x"), i as u64).unwrap().remove(0);
        assert_eq!((back.kind, back.body, back.at, back.by), (new.kind, new.body, new.at, new.by));
        assert_eq!(back.key, Some(format!("key {i}")));
    }
}

pub fn who_saw_an_older_version_is_told_what_came_since(make: Make<'_>) {
    let journal = make();
    let car = stream("job/1");
    journal.append(&car, Expected::New, &[event("a", "{}")], None).unwrap();
    journal.append(&car, Expected::Version(1), &[event("b", "{}"), event("c", "{}")], None).unwrap();
    let late = journal.append(&car, Expected::Version(1), &[event("mine", "{}")], None);
    let Err(AppendError::Conflict(conflict)) = late else { panic!("{late:?}") };
    assert_eq!((conflict.expected, conflict.found), (Expected::Version(1), 3));
    assert_eq!(conflict.stream, car);
    assert_eq!(conflict.since, journal.load(&car, 1).unwrap());
    assert_eq!(kinds(&journal, "job/1"), ["a", "b", "c"], "nothing of the late request was written");
    // a version that is not there yet is a conflict too
    let early = journal.append(&car, Expected::Version(9), &[event("mine", "{}")], None);
    let Err(AppendError::Conflict(conflict)) = early else { panic!("{early:?}") };
    assert_eq!((conflict.found, conflict.since.len()), (3, 0));
    assert_eq!(
        AppendError::Conflict(conflict).to_string(),
        "job/1: expected version 9, found version 3. Look at what was written meanwhile and try again"
    );
}

pub fn a_new_stream_must_not_exist(make: Make<'_>) {
    let journal = make();
    journal.append(&stream("job/1"), Expected::New, &[event("a", "{}")], None).unwrap();
    let again = journal.append(&stream("job/1"), Expected::New, &[event("b", "{}")], None);
    let Err(AppendError::Conflict(conflict)) = again else { panic!("{again:?}") };
    assert_eq!((conflict.found, conflict.since.len()), (1, 1));
    journal.append(&stream("job/2"), Expected::Version(0), &[event("a", "{}")], None).unwrap();
}

pub fn any_takes_whatever_version_there_is(make: Make<'_>) {
    let journal = make();
    for n in 1..=3 {
        let answer = journal.append(&stream("shop"), Expected::Any, &[event("a", "{}")], None).unwrap();
        assert_eq!(answer.version, n);
    }
}

pub fn an_append_without_events_only_checks(make: Make<'_>) {
    let journal = make();
    journal.append(&stream("job/1"), Expected::New, &[event("a", "{}")], None).unwrap();
    let answer = journal.append(&stream("job/1"), Expected::Version(1), &[], None).unwrap();
    assert_eq!((answer.version, answer.seq), (1, 1));
    assert!(matches!(
        journal.append(&stream("job/1"), Expected::Version(0), &[], None),
        Err(AppendError::Conflict(_))
    ));
    assert_eq!(journal.head().unwrap(), 1);
    assert_eq!(journal.append_all(vec![], None).unwrap(), []);
}

pub fn several_streams_are_written_all_or_nothing(make: Make<'_>) {
    let journal = make();
    let write = |name: &str, expected, kind: &str| (stream(name), expected, vec![event(kind, "{}")]);
    let both = vec![write("job/1", Expected::New, "piece cut"), write("roll/7", Expected::New, "film used")];
    let answers = journal.append_all(both, None).unwrap();
    assert_eq!(
        answers.iter().map(|a| (a.stream.as_str(), a.version, a.seq)).collect::<Vec<_>>(),
        [("job/1", 1, 1), ("roll/7", 1, 2)]
    );
    // the second half conflicts: the first half must not stay
    let half =
        vec![write("job/1", Expected::Version(1), "piece cut"), write("roll/7", Expected::New, "film used")];
    let Err(AppendError::Conflict(conflict)) = journal.append_all(half, None) else { panic!("no conflict") };
    assert_eq!(conflict.stream.as_str(), "roll/7");
    assert_eq!((journal.head().unwrap(), kinds(&journal, "job/1").len()), (2, 1));
    // the same stream twice in one request: the second sees what the first wrote
    let twice = vec![write("job/1", Expected::Version(1), "x"), write("job/1", Expected::Version(2), "y")];
    let answers = journal.append_all(twice, None).unwrap();
    assert_eq!(answers.iter().map(|a| a.version).collect::<Vec<_>>(), [2, 3]);
    assert!(journal.verify().unwrap().is_sound());
}

pub fn the_same_key_gets_the_first_answer(make: Make<'_>) {
    let journal = make();
    let request = |body: &str| {
        vec![
            (stream("job/1"), Expected::New, vec![event("a", body), event("b", body)]),
            (stream("roll/7"), Expected::Any, vec![]),
            (stream("roll/8"), Expected::Any, vec![event("c", body)]),
        ]
    };
    let first = journal.append_all(request("1"), Some("form 17")).unwrap();
    journal.append(&stream("roll/8"), Expected::Any, &[event("later", "{}")], None).unwrap();
    // another body, as a form that is sent again has another time in it; and a version that is long past
    let again = journal.append_all(request("2"), Some("form 17")).unwrap();
    assert!(again.iter().all(|a| a.repeated));
    for (first, again) in [(&first[0], &again[0]), (&first[2], &again[2])] {
        assert_eq!((&first.stream, first.version, first.seq), (&again.stream, again.version, again.seq));
    }
    assert_eq!(journal.head().unwrap(), 4);
    assert_eq!(journal.load(&stream("job/1"), 0).unwrap()[0].body, "1");
}

pub fn a_key_is_not_used_for_something_else(make: Make<'_>) {
    let journal = make();
    journal.append(&stream("job/1"), Expected::New, &[event("a", "{}")], Some("form 17")).unwrap();
    let other = journal.append(&stream("job/1"), Expected::Any, &[event("b", "{}")], Some("form 17"));
    assert_eq!(other, Err(AppendError::KeyReused { key: "form 17".into(), first: 1 }));
    // a conflict uses no key up
    let late = journal.append(&stream("job/1"), Expected::New, &[event("c", "{}")], Some("form 18"));
    assert!(matches!(late, Err(AppendError::Conflict(_))));
    let retry =
        journal.append(&stream("job/1"), Expected::Version(1), &[event("c", "{}")], Some("form 18")).unwrap();
    assert_eq!((retry.version, retry.repeated), (2, false));
}

pub fn the_same_key_from_many_threads_is_written_once(make: Make<'_>) {
    let journal = make();
    let start = Barrier::new(8);
    let answers: Vec<_> = thread::scope(|s| {
        let send = || {
            start.wait();
            journal.append(&stream("job/1"), Expected::New, &[event("a", "{}")], Some("form 17")).unwrap()
        };
        let threads: Vec<_> = (0..8).map(|_| s.spawn(send)).collect();
        threads.into_iter().map(|t| t.join().unwrap()).collect()
    });
    assert_eq!(answers.iter().filter(|a| !a.repeated).count(), 1);
    assert!(answers.iter().all(|a| (a.version, a.seq) == (1, 1)));
    assert_eq!(journal.head().unwrap(), 1);
}

/// Every writer reads the sum, adds one and appends; who is late looks again. No addition may get lost.
pub fn many_writers_of_one_stream_lose_nothing(make: Make<'_>) {
    const WRITERS: u64 = 6;
    const EACH: u64 = 15;
    let journal = make();
    let sum = stream("sum");
    let start = Barrier::new(WRITERS as usize);
    let late: u64 = thread::scope(|s| {
        let add = || {
            start.wait();
            let (mut version, mut value, mut late) = (0, 0, 0);
            let mut done = 0;
            while done < EACH {
                let next = event("sum", &(value + 1).to_string());
                match journal.append(&sum, Expected::Version(version), &[next], None) {
                    Ok(answer) => {
                        (version, value) = (answer.version, value + 1);
                        done += 1;
                    }
                    Err(AppendError::Conflict(c)) => {
                        version = c.found;
                        value = c.since.last().unwrap().body.parse::<u64>().unwrap();
                        late += 1;
                    }
                    Err(e) => panic!("{e}"),
                }
            }
            late
        };
        let threads: Vec<_> = (0..WRITERS).map(|_| s.spawn(add)).collect();
        threads.into_iter().map(|t| t.join().unwrap()).sum()
    });
    let last = journal.load(&sum, 0).unwrap().pop().unwrap();
    assert_eq!((last.version, last.body), (WRITERS * EACH, (WRITERS * EACH).to_string()));
    assert!(late > 0, "the writers never met: the test shows nothing");
    assert!(journal.verify().unwrap().is_sound());
}

pub fn bad_input_is_refused_with_a_reason(make: Make<'_>) {
    let journal = make();
    let refuse = |change: fn(&mut NewEvent), wanted: &str| {
        let mut new = event("a", "{}");
        change(&mut new);
        let refused = journal.append(&stream("x"), Expected::Any, &[event("good", "{}"), new], None);
        assert_eq!(refused.unwrap_err().to_string(), wanted);
    };
    refuse(|e| e.body.clear(), "body of \"a\" is not JSON: EOF while parsing a value at line 1 column 0");
    refuse(|e| e.body.push('}'), "body of \"a\" is not JSON: trailing characters at line 1 column 3");
    refuse(
        |e| e.body = "{\"x\": NaN}".into(),
        "body of \"a\" is not JSON: expected value at line 1 column 7",
    );
    refuse(
        |e| e.body = format!("\"{}\"", "x".repeat(NewEvent::LARGEST_BODY)),
        "body of \"a\" has 16777218 bytes, the limit is 16 MiB: keep pictures and files apart",
    );
    refuse(|e| e.kind.clear(), "kind \"\": use 1 to 200 bytes without control characters");
    refuse(|e| e.by = "a\nb".into(), "by \"a\\nb\": use 1 to 200 bytes without control characters");
    let key = journal.append(&stream("x"), Expected::Any, &[event("a", "{}")], Some(""));
    assert!(matches!(key, Err(AppendError::Refused(Refusal::Word { field: "key", .. }))));
    for name in ["", "a b", "ä", "a%", &"x".repeat(201)] {
        assert!(matches!(Stream::new(name), Err(Refusal::StreamName { .. })), "{name}");
    }
    assert_eq!(journal.head().unwrap(), 0, "nothing of all this was written");
}

pub fn streams_are_listed_by_prefix(make: Make<'_>) {
    let journal = make();
    for name in ["job/2", "job/10", "roll/7", "job/2", "job", "jobs", "job/2/notes", "Job/1"] {
        journal.append(&stream(name), Expected::Any, &[event("a", "{}")], None).unwrap();
    }
    let list = |prefix: &str| {
        let found = journal.streams(prefix).unwrap();
        found.into_iter().map(|s| (s.stream.to_string(), s.version, s.seq)).collect::<Vec<_>>()
    };
    let own = |name: &str, version, seq| (name.to_owned(), version, seq);
    assert_eq!(list("job/"), [own("job/10", 1, 2), own("job/2", 2, 4), own("job/2/notes", 1, 7)]);
    assert_eq!(list("").len(), 7);
    assert_eq!(list("roll/8"), []);
    assert_eq!(list("it's \"%_"), []);
}

pub fn readers_page_through_everything_in_order(make: Make<'_>) {
    let journal = make();
    for n in 0..25 {
        journal
            .append(&stream(&format!("s/{}", n % 3)), Expected::Any, &[event("n", &n.to_string())], None)
            .unwrap();
    }
    let (mut seq, mut all) = (0, Vec::new());
    loop {
        let page = journal.since(seq, 7).unwrap();
        let Some(last) = page.last() else { break };
        seq = last.seq;
        all.extend(page);
    }
    assert_eq!(all.iter().map(|e| e.seq).collect::<Vec<_>>(), (1..=25).collect::<Vec<_>>());
    assert_eq!(
        all.iter().map(|e| e.body.parse().unwrap()).collect::<Vec<u64>>(),
        (0..25).collect::<Vec<_>>()
    );
    assert_eq!(journal.since(25, 7).unwrap(), []);
    assert_eq!(journal.since(u64::MAX, 7).unwrap(), []);
    assert_eq!(journal.since(0, usize::MAX).unwrap().len(), 25);
}

pub fn a_waiting_reader_is_woken(make: Make<'_>) {
    let journal = make();
    assert_eq!(journal.wait_past(0, Duration::ZERO).unwrap(), 0);
    thread::scope(|s| {
        // far longer than the test may take: only a wake-up ends it in time
        let waiting = s.spawn(|| journal.wait_past(0, Duration::from_secs(600)).unwrap());
        journal.append(&stream("x"), Expected::Any, &[event("a", "{}")], None).unwrap();
        assert_eq!(waiting.join().unwrap(), 1);
    });
}

pub fn a_subscriber_sees_each_move_once(make: Make<'_>) {
    let journal = make();
    let mut news = journal.subscribe(0);
    assert_eq!(news.wait(Duration::ZERO).unwrap(), None);
    journal.append(&stream("x"), Expected::Any, &[event("a", "{}"), event("b", "{}")], None).unwrap();
    assert_eq!(news.wait(Duration::ZERO).unwrap(), Some(2));
    assert_eq!(news.wait(Duration::ZERO).unwrap(), None);
}

pub fn pictures_are_kept_once_under_their_hash(make: Make<'_>) {
    let journal = make();
    let empty = journal.put_picture(b"").unwrap();
    let bytes: Vec<u8> = (0..100_000u32).map(|i| (i % 251) as u8).collect();
    let id = journal.put_picture(&bytes).unwrap();
    assert_eq!(journal.put_picture(&bytes).unwrap(), id);
    assert_eq!(journal.picture(&id).unwrap(), bytes);
    assert_eq!(journal.pictures().unwrap(), [(empty, 0), (id, 100_000)]);
    assert!(journal.has_picture(&id).unwrap());
    let unknown = PictureId::of(b"never put");
    assert!(!journal.has_picture(&unknown).unwrap());
    assert_eq!(journal.picture(&unknown), Err(JournalError::NoPicture(unknown)));
    for name in ["", "../../../etc/passwd", &"g".repeat(64), &"a".repeat(63)] {
        assert!(matches!(name.parse::<PictureId>(), Err(Refusal::PictureName { .. })), "{name}");
    }
    assert_eq!(id.to_string().to_uppercase().parse(), Ok(id));
    assert!(journal.verify().unwrap().is_sound());
}

pub fn each_row_holds_the_hash_of_the_row_before(make: Make<'_>) {
    let journal = make();
    for n in 0..10 {
        journal
            .append(&stream(&format!("s/{}", n % 4)), Expected::Any, &[event("same", "{}")], None)
            .unwrap();
    }
    let rows = journal.since(0, 100).unwrap();
    assert_eq!(rows[0].prev_hash, Hash::ZERO);
    assert!(rows.windows(2).all(|w| w[1].prev_hash == w[0].hash));
    let report = journal.verify().unwrap();
    assert_eq!((report.rows, report.pictures, report.flaws.len()), (10, 0, 0));
    // the same events give the same hashes in another journal
    let twin = make();
    for row in &rows {
        twin.append(&row.stream, Expected::Any, &[event("same", "{}")], None).unwrap();
    }
    assert_eq!(twin.since(0, 100).unwrap(), rows);
    assert_eq!(twin.seal().unwrap(), journal.seal().unwrap());
}

/// Random requests against a list that anybody can check by reading.
pub fn any_sequence_of_appends_agrees_with_a_plain_list(make: Make<'_>) {
    let write = || (0..3usize, prop_oneof![Just(None), (0..6u64).prop_map(Some)], 0..3usize);
    let request = (proptest::collection::vec(write(), 0..3), proptest::option::of(0..4u8));
    let requests = proptest::collection::vec(request, 0..25);
    let mut runner = TestRunner::new(Config { cases: 24, failure_persistence: None, ..Config::default() });
    let outcome = runner.run(&requests, |requests| {
        let journal = make();
        let mut list: Vec<(usize, u64)> = Vec::new();
        let mut used: BTreeMap<u8, usize> = BTreeMap::new();
        for (writes, key) in requests {
            let before = list.len();
            let version = |list: &[(usize, u64)], s| list.iter().filter(|e| e.0 == s).count() as u64;
            let mut wanted = list.clone();
            let mut conflict = false;
            for (s, expected, n) in &writes {
                conflict |= expected.is_some_and(|e| e != version(&wanted, *s));
                for _ in 0..*n {
                    wanted.push((*s, version(&wanted, *s) + 1));
                }
            }
            let number: usize = writes.iter().map(|w| w.2).sum();
            let request = writes.iter().map(|(s, expected, n)| {
                let expected = expected.map_or(Expected::Any, Expected::Version);
                (stream(&format!("s/{s}")), expected, vec![event("e", "{}"); *n])
            });
            let answer = journal.append_all(request.collect(), key.map(|k| format!("k{k}")).as_deref());
            match key.and_then(|k| used.get(&k)) {
                Some(first) if *first == number => prop_assert!(answer.unwrap().iter().all(|a| a.repeated)),
                Some(_) => {
                    let reused = matches!(answer, Err(AppendError::KeyReused { .. }));
                    prop_assert!(reused, "key {:?} taken twice", key);
                }
                None if conflict => {
                    let conflicts = matches!(answer, Err(AppendError::Conflict(_)));
                    prop_assert!(conflicts);
                }
                None => {
                    prop_assert!(answer.is_ok());
                    list = wanted;
                    if let Some(key) = key.filter(|_| list.len() > before) {
                        used.insert(key, number);
                    }
                }
            }
        }
        let rows = journal.since(0, 1000).unwrap();
        let found: Vec<_> = rows.iter().map(|r| (r.stream.to_string(), r.version)).collect();
        let wanted: Vec<_> = list.iter().map(|(s, v)| (format!("s/{s}"), *v)).collect();
        prop_assert_eq!(found, wanted);
        prop_assert!(journal.verify().unwrap().is_sound());
        Ok(())
    });
    outcome.unwrap();
}
