//! How many appends a second the journal acknowledges on this disk, and how long one waits.
//!
//! `cargo run --release -p journal --example appends [FOLDER]`: by default in a temporary folder, which on some
//! machines is in memory; name a folder on the disk that matters.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::time::Instant;

use journal::{Expected, Journal, JournalError, NewEvent, Stream};

fn main() -> Result<(), Box<dyn Error>> {
    let parent = std::env::args_os().nth(1).map_or_else(std::env::temp_dir, PathBuf::from);
    println!("writers  events  appends/s  median ms  p99 ms");
    for (writers, each) in [(1, 1000), (4, 500), (16, 250), (64, 100)] {
        let folder = tempfile::tempdir_in(&parent)?;
        let journal = Journal::open(folder.path())?;
        let began = now();
        let mut waits: Vec<f64> = std::thread::scope(|s| {
            let threads: Vec<_> = (0..writers)
                .map(|w| {
                    s.spawn({
                        let journal = journal.clone();
                        move || write(&journal, w, each)
                    })
                })
                .collect();
            threads.into_iter().flat_map(|t| t.join().unwrap_or_default()).collect()
        });
        let seconds = began.elapsed().as_secs_f64();
        waits.sort_by(f64::total_cmp);
        let at =
            |share: f64| waits.get(((waits.len() - 1) as f64 * share) as usize).map_or(f64::NAN, |s| s * 1e3);
        let n = writers * each;
        println!("{writers:>7}  {n:>6}  {:>9.0}  {:>9.2}  {:>6.2}", n as f64 / seconds, at(0.5), at(0.99));
        let began = now();
        let report = journal.verify()?;
        println!(
            "         verify: {:.0} rows/s, {} flaws",
            report.rows as f64 / began.elapsed().as_secs_f64(),
            report.flaws.len()
        );
    }
    read(&parent)
}

/// How long readers wait in a journal of 1,000 streams of 60 events.
fn read(parent: &Path) -> Result<(), Box<dyn Error>> {
    let folder = tempfile::tempdir_in(parent)?;
    let journal = Journal::open(folder.path())?;
    for job in 0..1000 {
        let stream = Stream::new(format!("job/{job}"))?;
        journal.append(&stream, Expected::New, &vec![measured(); 60], None)?;
    }
    let job = Stream::new("job/517")?;
    let wait = |what: &str, read: &dyn Fn() -> Result<usize, JournalError>| -> Result<(), JournalError> {
        let mut waits = Vec::new();
        let mut rows = 0;
        for _ in 0..200 {
            let began = now();
            rows = read()?;
            waits.push(began.elapsed().as_secs_f64() * 1e3);
        }
        waits.sort_by(f64::total_cmp);
        println!("{what:<28} {rows:>5} rows  median {:.3} ms  p99 {:.3} ms", waits[100], waits[198]);
        Ok(())
    };
    println!("reading, 60,000 events in 1,000 streams:");
    wait("one stream", &|| Ok(journal.load(&job, 0)?.len()))?;
    wait("its last event", &|| Ok(journal.load(&job, 59)?.len()))?;
    wait("a page of all", &|| Ok(journal.since(30_000, 500)?.len()))?;
    wait("all streams by name", &|| Ok(journal.streams("job/")?.len()))?;
    wait("the place of the last event", &|| Ok(journal.head()? as usize))?;
    Ok(())
}

/// Seconds that each append waited for its acknowledgement.
fn write(journal: &Journal, writer: usize, events: usize) -> Vec<f64> {
    let event = measured();
    let Ok(stream) = Stream::new(format!("job/{writer}")) else { return Vec::new() };
    let append = |_| {
        let began = now();
        journal.append(&stream, Expected::Any, std::slice::from_ref(&event), None).ok()?;
        Some(began.elapsed().as_secs_f64())
    };
    (0..events).map_while(append).collect()
}

fn measured() -> NewEvent {
    let body = format!(r#"{{"panel": "hood", "readings_um": [{}118]}}"#, "121, ".repeat(40));
    NewEvent { kind: "measured".into(), body, at: jiff::Timestamp::UNIX_EPOCH, by: "Robin".into() }
}

#[expect(clippy::disallowed_methods, reason = "a measure of time; nothing is decided by it")]
fn now() -> Instant {
    Instant::now()
}
