//! The connection is cut between the browser and the program, again and again or for minutes: what was done arrives once,
//! in order, and is in sight until then.

use crate::axe;
use crate::stage::{Stage, closed};
use crate::walk;
use fantoccini::Locator;
use job::{JobId, Stage as Sheet};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;
use studio::{Stamp, Studio};
use tokio::io::copy_bidirectional;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;
use units::Seed;

/// A wire between browser and program that can be cut at any byte.
#[derive(Clone)]
pub struct Wire {
    whole: watch::Sender<bool>,
    port: u16,
    /// Connections that were cut while they were open.
    torn: Arc<AtomicUsize>,
}

impl Wire {
    /// A wire to the program at a port.
    fn to(port: u16) -> Self {
        let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        listener.set_nonblocking(true).unwrap();
        let own = listener.local_addr().unwrap().port();
        let wire = Self { whole: watch::Sender::new(true), port: own, torn: Arc::default() };
        let (state, torn) = (wire.whole.clone(), wire.torn.clone());
        tokio::spawn(async move {
            let listener = TcpListener::from_std(listener).unwrap();
            while let Ok((mut near, _)) = listener.accept().await {
                let mut state = state.subscribe();
                let torn = torn.clone();
                tokio::spawn(async move {
                    if !*state.borrow() {
                        return;
                    }
                    let Ok(mut far) = TcpStream::connect(("127.0.0.1", port)).await else { return };
                    tokio::select! {
                        _ = copy_bidirectional(&mut near, &mut far) => {}
                        _ = state.wait_for(|whole| !*whole) => { torn.fetch_add(1, Ordering::Relaxed); }
                    }
                });
            }
        });
        wire
    }

    pub fn cut(&self) {
        self.whole.send_replace(false);
    }

    pub fn mend(&self) {
        self.whole.send_replace(true);
    }
}

pub async fn on_a_wire() -> Option<(Stage, Wire)> {
    let mut wire = None;
    let stage = closed(820, 1180, |port| {
        let new = Wire::to(port);
        let own = new.port;
        wire = Some(new);
        own
    })
    .await?;
    stage.begin().await;
    Some((stage, wire.unwrap()))
}

const READY: &str = "return document.readyState === 'complete' && !document.body.inert && !!document.querySelector('#note textarea') && !document.querySelector('#note').dataset.busy;";
pub const ALL_SENT: &str = "return document.querySelector('[data-unsent]')?.dataset.count === '0';";

#[tokio::test(flavor = "multi_thread")]
async fn a_hundred_notes_arrive_once_and_in_order_over_twenty_cuts() {
    let Some((stage, wire)) = on_a_wire().await else { return };
    stage.open("/cars/0001/work").await;
    // Opened twice, so that the worker has the page and its modules for when the wire is cut.
    stage.until("the page", READY).await;
    stage
        .until("the worker", "return !navigator.serviceWorker || !!navigator.serviceWorker.controller;")
        .await;
    stage.open("/cars/0001/work").await;
    let cuts = tokio::spawn({
        let wire = wire.clone();
        async move {
            let mut chance = Seed(20).sequence();
            for _ in 0..20 {
                tokio::time::sleep(Duration::from_millis(chance.between(150.0, 900.0) as u64)).await;
                wire.cut();
                tokio::time::sleep(Duration::from_millis(chance.between(100.0, 1200.0) as u64)).await;
                wire.mend();
            }
        }
    });
    let mut waited = 0;
    for n in 1..=100 {
        stage.until("the form", READY).await;
        let script = format!(
            "const f = document.querySelector('#note'); f.querySelector('textarea').value = 'note {n}';\
             f.requestSubmit(f.querySelector('button')); return (document.querySelector('[data-unsent]')?.dataset.count ?? '0') !== '0';"
        );
        waited += usize::from(stage.run(&script).await == true);
        // The next one is typed when this one is kept or sent.
        tokio::time::sleep(Duration::from_millis(120)).await;
    }
    cuts.await.unwrap();
    stage.until("everything to be sent", ALL_SENT).await;
    stage.client.clone().close().await.unwrap();
    let notes = Studio::open(&stage.studio).unwrap().job(&JobId("0001".into())).unwrap().job.notes.clone();
    let notes: Vec<&str> = notes.iter().map(|n| n.text.as_str()).filter(|t| t.starts_with("note ")).collect();
    let wanted: Vec<String> = (1..=100).map(|n| format!("note {n}")).collect();
    assert_eq!(notes, wanted, "{} arrived", notes.len());
    assert!(waited > 0, "none of them had to wait: the wire was not cut while something was done");
    eprintln!(
        "{waited} of 100 were written while others waited; {} connections were torn",
        wire.torn.load(Ordering::Relaxed)
    );
}

/// A picture as a camera would hand it over.
const PICTURE: &str = r##"
    const done = arguments[arguments.length - 1];
    const canvas = document.createElement("canvas");
    canvas.width = 1000; canvas.height = 700;
    const brush = canvas.getContext("2d");
    const noise = brush.createImageData(1000, 700);
    // Knuth's numbers: nothing that packing makes small.
    let n = 1;
    for (let i = 0; i < noise.data.length; i += 1) {
      n = (Math.imul(n, 1664525) + 1013904223) >>> 0;
      noise.data[i] = i % 4 === 3 ? 255 : n >>> 24;
    }
    brush.putImageData(noise, 0, 0);
    canvas.toBlob((blob) => {
      const files = new DataTransfer();
      files.items.add(new File([blob], "bay.png", { type: "image/png" }));
      const form = document.querySelector("#pictures");
      form.closest("details").open = true;
      form.querySelector("input[name=files]").files = files.files;
      form.requestSubmit(form.querySelector("button"));
      done(blob.size);
    }, "image/png");
"##;

#[tokio::test(flavor = "multi_thread")]
async fn minutes_without_the_connection_lose_nothing_that_was_done_in_the_bay() {
    let Some((stage, wire)) = on_a_wire().await else { return };
    let id = JobId("0001".into());
    let step = {
        let studio = Studio::open(&stage.studio).unwrap();
        studio.set_route(&id, &Stamp::by("Nadia")).unwrap();
        let view = studio.route_view(&id).unwrap();
        view.steps.iter().find(|s| s.needs.is_empty()).unwrap().planned.no
    };
    let card = format!("/cars/0001/step/{step}");
    stage.open(&card).await;
    stage
        .until("the worker", "return !navigator.serviceWorker || !!navigator.serviceWorker.controller;")
        .await;
    stage.open(&card).await;
    wire.cut();
    let tap = |name: &'static str| {
        format!(
            "const f = document.querySelector('.taps input[name=form][value={name}]').form; f.requestSubmit(f.querySelector('button.giant')); return true;"
        )
    };
    let shows = |name: &'static str| {
        format!("return !!document.querySelector('.taps input[name=form][value={name}]');")
    };
    stage.run(&tap("start")).await;
    stage.until("the card to go on", &shows("pause")).await;
    stage.run(&tap("pause")).await;
    stage.until("the card to go on", &shows("start")).await;
    stage.run(&tap("start")).await;
    stage.until("the card to go on", &shows("pause")).await;
    stage
        .until("the count", "return /^3 not sent/.test(document.querySelector('[data-unsent]').innerText);")
        .await;
    let size = stage.client.execute_async(PICTURE, vec![]).await.unwrap().as_u64().unwrap();
    assert!(size > 1 << 20, "the picture has {size} bytes: it should come in several pieces");
    stage
        .until("the count", "return /^4 not sent/.test(document.querySelector('[data-unsent]').innerText);")
        .await;
    // The tablet is put away and taken up again: the page opens as it was, and what waits is in sight.
    stage.open(&card).await;
    stage
        .until(
            "what waits",
            "return /^4 not sent/.test(document.querySelector('[data-unsent]')?.innerText ?? '');",
        )
        .await;
    stage
        .run(
            "const f = document.querySelector('#find'); f.closest('details').open = true;\
             f.querySelector('[name=panel]').value = 'hood'; f.querySelector('[name=kind]').value = 'dent';\
             f.querySelector('[name=note]').value = 'found without a connection';\
             const s = f.querySelector('[name=severity]'); if (s) s.checked = true;\
             f.requestSubmit(f.querySelector('button')); return true;",
        )
        .await;
    stage
        .until("the count", "return /^5 not sent/.test(document.querySelector('[data-unsent]').innerText);")
        .await;
    // What waits is told without spoiling the page, looked at with all of it unfolded.
    stage.run("document.querySelector('[data-unsent] details').open = true; return true;").await;
    let mut faults = walk::flaws(&stage).await;
    faults.extend(axe::found(&stage).await);
    let paper = "return ['html', 'body', '#main'].map((e) => getComputedStyle(document.querySelector(e)).backgroundColor);";
    let waiting = stage.run(paper).await;
    assert_eq!(faults, Vec::<String>::new());
    tokio::time::sleep(Duration::from_secs(125)).await;
    let before = Studio::open(&stage.studio).unwrap().job(&id).unwrap().job;
    assert!(before.work.is_empty() && before.pictures.is_empty(), "nothing can have arrived");
    wire.mend();
    stage.until("everything to be sent", ALL_SENT).await;
    assert_eq!(stage.run(paper).await, waiting, "the page is the same paper with and without things to send");
    let client = stage.client.clone();
    assert!(client.find(Locator::Css("#main")).await.is_ok());
    client.close().await.unwrap();
    let studio = Studio::open(&stage.studio).unwrap();
    let job = studio.job(&id).unwrap().job;
    let record = &job.work[&step];
    assert_eq!(record.spans.len(), 2, "started, paused, started again");
    assert_eq!(record.pictures.len(), 1);
    assert_eq!(studio.picture_bytes(&record.pictures[0]).unwrap().len() as u64, size);
    assert!(job.findings.iter().any(|f| f.note == "found without a connection"));
    assert!(job.pictures.iter().all(|p| p.stage != Sheet::Visits));
    // The record says when it was done, not when it arrived: before the two minutes.
    let age = studio.now().duration_since(record.spans[0].from).as_secs();
    assert!((120..600).contains(&age), "{age} s");
}
