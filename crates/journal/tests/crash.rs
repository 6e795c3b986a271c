//! The writing process is killed at random moments; nothing that was acknowledged may be missing afterwards.
//!
//! SIGKILL ends the process, not the machine: what the system holds in memory survives. That a commit is on the
//! disk before it is acknowledged rests on SQLite's `synchronous=FULL`; cuts of the write-ahead log at any byte,
//! as a power cut may leave it, are in `corruption.rs`.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

mod events;

use std::collections::BTreeMap;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use events::{event, stream};
use journal::{Expected, Journal, PictureId};
use proptest::test_runner::{RngAlgorithm, TestRng};

const FOLDER: &str = "JOURNAL_TO_CRASH";

#[test]
fn nothing_acknowledged_is_lost_when_the_writer_is_killed_25_times() {
    kill(25);
}

#[test]
#[ignore = "takes a minute; the normal run kills 25 times"]
fn nothing_acknowledged_is_lost_when_the_writer_is_killed_200_times() {
    kill(200);
}

/// What the child said had been acknowledged.
#[derive(Default)]
struct Acknowledged {
    /// Body by stream and version.
    events: BTreeMap<(String, u64), String>,
    pictures: Vec<PictureId>,
}

fn kill(times: usize) {
    let folder = tempfile::tempdir().unwrap();
    let mut random = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut known = Acknowledged::default();
    let mut seals = Vec::new();
    let mut quiet = 0;
    for round in 0..times {
        let before = known.events.len();
        let moment = Duration::from_micros(2_000 + below(&mut random, 120_000));
        run_and_kill(folder.path(), round, moment, &mut known);
        quiet += usize::from(known.events.len() == before);

        let journal = Journal::open(folder.path()).unwrap();
        for ((name, version), body) in &known.events {
            let found = journal.load(&stream(name), version - 1).unwrap();
            assert_eq!(found.first().map(|e| &e.body), Some(body), "round {round}: {name} version {version}");
        }
        for id in &known.pictures {
            assert!(
                journal.picture(id).is_ok() && journal.has_picture(id).unwrap(),
                "round {round}: picture {id}"
            );
        }
        let report = journal.verify_against(&seals).unwrap();
        assert!(report.is_sound(), "round {round}: {:?}", report.flaws);
        seals = vec![report.seal];
        // all of it was looked at: from here on the seal stands for it
        known.events.clear();
        known.pictures.clear();
    }
    assert!(quiet * 2 <= times, "children that had written said nothing: {quiet} of {times}");
    let journal = Journal::open(folder.path()).unwrap();
    println!(
        "{times} kills, {quiet} before the first acknowledgement; {} events and {} pictures survive",
        journal.head().unwrap(),
        journal.pictures().unwrap().len()
    );
}

fn run_and_kill(folder: &Path, round: usize, moment: Duration, known: &mut Acknowledged) {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--ignored", "--exact", "write_until_killed", "--nocapture"])
        .env(FOLDER, folder)
        .env("ROUND", round.to_string())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = BufReader::new(child.stdout.take().unwrap());
    let (heard, first_word) = mpsc::channel();
    thread::scope(|s| {
        s.spawn(move || {
            let mut line = String::new();
            // a line without its end was not said
            while said.read_line(&mut line).unwrap() > 0 && line.ends_with('\n') {
                if note(line.trim(), known) {
                    // nobody listens after the first
                    let _ = heard.send(());
                }
                line.clear();
            }
        });
        // Every other child is killed a moment after its first acknowledgement, however slow the machine is; the
        // rest a moment after their start, which may be while the journal is being opened.
        if round.is_multiple_of(2) {
            first_word.recv().unwrap();
        }
        thread::sleep(moment);
        child.kill().unwrap();
        child.wait().unwrap();
    });
}

/// Whether the line tells of something acknowledged.
fn note(line: &str, known: &mut Acknowledged) -> bool {
    match line.split(' ').collect::<Vec<_>>()[..] {
        ["event", name, version, body] => {
            known.events.insert((name.into(), version.parse().unwrap()), body.into());
        }
        ["picture", id] => known.pictures.push(id.parse().unwrap()),
        _ => return false,
    }
    true
}

fn below(random: &mut TestRng, n: u64) -> u64 {
    use proptest::prelude::Rng as _;
    random.next_u64() % n
}

#[test]
#[ignore = "the child of the tests above, started by them"]
fn write_until_killed() {
    let Ok(folder) = std::env::var(FOLDER) else {
        println!("started by hand: no folder to write to");
        return;
    };
    let round = std::env::var("ROUND").unwrap();
    let journal = Journal::open(folder).unwrap();
    thread::scope(|s| {
        for writer in 0..3 {
            let (journal, round) = (&journal, &round);
            s.spawn(move || {
                let name = stream(&format!("writer/{writer}"));
                for n in 0.. {
                    let body = format!("\"{round}-{writer}-{n}-{}\"", "x".repeat(n * 37 % 3000));
                    let answer = journal.append(&name, Expected::Any, &[event("e", &body)], None).unwrap();
                    say(&format!("event {name} {} {body}", answer.version));
                    if n % 7 == writer {
                        let id = journal.put_picture(body.repeat(20).as_bytes()).unwrap();
                        say(&format!("picture {id}"));
                    }
                }
            });
        }
    });
}

fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    out.write_all(format!("{line}\n").as_bytes()).unwrap();
    out.flush().unwrap();
}
