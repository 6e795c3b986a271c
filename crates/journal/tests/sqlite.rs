//! The conformance suite on SQLite, and what only SQLite has.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

mod conformance;
mod events;

use events::{event, stream};
use journal::{AppendError, Expected, Journal, JournalError};

conformance_suite!(|| Journal::temporary().unwrap());

#[test]
fn a_journal_is_there_when_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("not").join("there yet");
    let journal = Journal::open(&place).unwrap();
    journal.append(&stream("job/1"), Expected::New, &[event("a", "{}")], None).unwrap();
    let id = journal.put_picture(b"a picture").unwrap();
    let (rows, seal) = (journal.since(0, 9).unwrap(), journal.seal().unwrap());
    drop(journal);
    let journal = Journal::open(&place).unwrap();
    assert_eq!(journal.since(0, 9).unwrap(), rows);
    assert_eq!(journal.seal().unwrap(), seal);
    assert_eq!(journal.picture(&id).unwrap(), b"a picture");
    let next = journal.append(&stream("job/1"), Expected::Version(1), &[event("b", "{}")], None).unwrap();
    assert_eq!((next.version, next.seq), (2, 2));
    assert!(journal.verify_against(&[seal]).unwrap().is_sound());
}

#[test]
fn two_processes_in_one_folder_see_each_other_and_conflict() {
    // two openings have connections, writers and locks of their own, as two processes have
    let folder = tempfile::tempdir().unwrap();
    let (ours, theirs) = (Journal::open(folder.path()).unwrap(), Journal::open(folder.path()).unwrap());
    ours.append(&stream("x"), Expected::New, &[event("a", "{}")], None).unwrap();
    assert_eq!(theirs.head().unwrap(), 1);
    let late = theirs.append(&stream("x"), Expected::New, &[event("b", "{}")], None);
    assert!(matches!(late, Err(AppendError::Conflict(_))));
    theirs.append(&stream("x"), Expected::Version(1), &[event("b", "{}")], None).unwrap();
    ours.append(&stream("y"), Expected::New, &[event("c", "{}")], None).unwrap();
    std::thread::scope(|s| {
        let waiting = s.spawn(|| ours.wait_past(3, std::time::Duration::from_secs(60)).unwrap());
        theirs.append(&stream("y"), Expected::Any, &[event("d", "{}")], None).unwrap();
        assert_eq!(waiting.join().unwrap(), 4);
    });
    assert!(ours.verify().unwrap().is_sound());
}

#[test]
fn what_is_no_journal_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("journal.db");
    std::fs::write(&file, "These are my notes, not a database. ".repeat(50)).unwrap();
    let refused = Journal::open(folder.path()).unwrap_err();
    assert!(matches!(refused, JournalError::NotAJournal { .. }), "{refused}");
    assert!(std::fs::read_to_string(&file).unwrap().starts_with("These are my notes"));

    std::fs::remove_file(&file).unwrap();
    rusqlite::Connection::open(&file).unwrap().execute_batch("CREATE TABLE songs (title TEXT)").unwrap();
    let refused = Journal::open(folder.path()).unwrap_err();
    assert!(matches!(refused, JournalError::NotAJournal { .. }), "{refused}");
    assert!(refused.to_string().contains("application id 0x0"), "{refused}");
}

#[test]
fn a_journal_of_a_later_program_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    drop(Journal::open(folder.path()).unwrap());
    let db = rusqlite::Connection::open(folder.path().join("journal.db")).unwrap();
    db.pragma_update(None, "user_version", 2).unwrap();
    drop(db);
    assert!(matches!(Journal::open(folder.path()), Err(JournalError::TooNew { found: 2, known: 1, .. })));
}

#[test]
fn a_folder_that_is_a_file_is_an_error_that_names_it() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    std::fs::write(&file, "x").unwrap();
    let error = Journal::open(file.join("inside")).unwrap_err();
    assert!(error.to_string().contains("file"), "{error}");
}

#[test]
fn rows_cannot_be_changed_or_deleted_by_a_slip() {
    let journal = Journal::temporary().unwrap();
    journal.append(&stream("x"), Expected::New, &[event("a", "{}")], None).unwrap();
    journal.put_picture(b"a picture").unwrap();
    let db = rusqlite::Connection::open(journal.folder().join("journal.db")).unwrap();
    for (sql, wanted) in [
        ("UPDATE events SET body = '1'", "events are never changed"),
        ("DELETE FROM events", "events are never deleted"),
        ("UPDATE pictures SET bytes = 1", "pictures are never changed"),
        ("DELETE FROM pictures", "pictures are never deleted"),
    ] {
        assert_eq!(db.execute(sql, []).unwrap_err().to_string(), wanted);
    }
}

#[test]
fn a_full_disk_is_an_answer_and_nothing_is_half_written() {
    use std::process::{Command, Stdio};
    if !cfg!(unix) {
        return;
    }
    // The child may write files of at most 512 KiB (bash counts in KiB): the system refuses what goes beyond, as a
    // full disk does.
    let folder = tempfile::tempdir().unwrap();
    let me = std::env::current_exe().unwrap();
    let script = "trap '' XFSZ; ulimit -f 512; exec \"$0\" --ignored --exact fill_the_disk --nocapture";
    let child = Command::new("bash")
        .args(["-c", script])
        .arg(me)
        .env("JOURNAL_TO_FILL", folder.path())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let said = String::from_utf8(child.stdout).unwrap();
    let acknowledged: u64 =
        said.lines().filter_map(|l| l.strip_prefix("ack ")).next_back().unwrap().parse().unwrap();
    let refused = said.lines().find_map(|l| l.strip_prefix("refused ")).unwrap();
    assert!(refused.starts_with("journal: could not write events: "), "{refused}");
    let journal = Journal::open(folder.path()).unwrap();
    assert_eq!(journal.head().unwrap(), acknowledged);
    assert!(journal.verify().unwrap().is_sound());
    journal
        .append(&stream("x"), Expected::Version(acknowledged), &[event("space again", "{}")], None)
        .unwrap();
}

#[test]
#[ignore = "the child of `a_full_disk_is_an_answer_and_nothing_is_half_written`, started by it"]
fn fill_the_disk() {
    let Ok(folder) = std::env::var("JOURNAL_TO_FILL") else {
        println!("started by hand: nothing to fill");
        return;
    };
    let journal = Journal::open(folder).unwrap();
    let body = format!("\"{}\"", "x".repeat(20_000));
    loop {
        match journal.append(&stream("x"), Expected::Any, &[event("a", &body)], None) {
            Ok(answer) => println!("ack {}", answer.seq),
            Err(e) => {
                println!("refused {e}");
                // refused again, and still no crash
                assert!(journal.append(&stream("x"), Expected::Any, &[event("a", &body)], None).is_err());
                return;
            }
        }
    }
}
