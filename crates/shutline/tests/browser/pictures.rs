//! Pictures and spoken notes in a browser: many at once over a torn connection, marks by finger and keyboard, before and
//! after with a slider, a recording with the connection away.

use crate::offline::{ALL_SENT, on_a_wire};
use crate::stage::{Stage, stage};
use fantoccini::Locator;
use fantoccini::actions::{InputSource, MOUSE_BUTTON_LEFT, MouseActions, PointerAction};
use fantoccini::key::Key;
use job::{JobId, MarkShape, PictureId, Place};
use serde_json::json;
use std::time::Duration;
use studio::{Stamp, Studio};

fn id() -> JobId {
    JobId("0001".into())
}

/// Puts a picture of the hood into the studio on stage, as before the work.
fn picture(stage: &Stage, seed: u64, name: &str) -> PictureId {
    let studio = Studio::open(&stage.studio).unwrap();
    let bytes = studio::picture::stand_in(seed).unwrap();
    studio.add_picture(&id(), &Stamp::by("Nadia"), name, &bytes, Some(&Place::panel("hood")), None).unwrap()
}

/// Three pictures that no packing makes small, put into the walk-round's form and sent.
const THREE: &str = r##"
    const done = arguments[arguments.length - 1];
    const files = new DataTransfer();
    let n = 7;
    const one = (i) => new Promise((made) => {
      const canvas = document.createElement("canvas");
      canvas.width = 1400; canvas.height = 1000;
      const brush = canvas.getContext("2d");
      const noise = brush.createImageData(1400, 1000);
      for (let k = 0; k < noise.data.length; k += 1) {
        n = (Math.imul(n, 1664525) + 1013904223) >>> 0;
        noise.data[k] = k % 4 === 3 ? 255 : n >>> 24;
      }
      brush.putImageData(noise, 0, 0);
      canvas.toBlob((blob) => { files.items.add(new File([blob], `walk-${i}.png`, { type: "image/png" })); made(); }, "image/png");
    });
    // Where each piece begins, and what the page says meanwhile.
    window.pieces = [];
    window.told = new Set();
    const whole = window.fetch;
    window.fetch = (path, options) => {
      const from = /^\/upload\/(.*)\?from=(\d+)/.exec(String(path));
      if (from) window.pieces.push([from[1], Number(from[2])]);
      return whole(path, options);
    };
    new MutationObserver(() => {
      const bar = document.querySelector("[data-unsent] progress");
      if (bar) window.told.add(bar.getAttribute("aria-label"));
    }).observe(document.querySelector("[data-unsent]"), { subtree: true, childList: true });
    (async () => {
      for (const i of [1, 2, 3]) await one(i);
      const form = document.querySelector("form#walk, form#pictures, form#add_pictures");
      for (let d = form.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
      form.querySelector("input[name=files]").files = files.files;
      form.requestSubmit(form.querySelector("button"));
      done([...files.files].map((f) => f.size));
    })();
"##;

/// Bytes that wait in the studio, by picture.
fn waiting(stage: &Stage) -> Vec<(String, u64)> {
    let entries = std::fs::read_dir(stage.studio.join("incoming")).into_iter().flatten().flatten();
    let mut list: Vec<_> =
        entries.filter_map(|e| Some((e.file_name().into_string().ok()?, e.metadata().ok()?.len()))).collect();
    list.sort();
    list
}

#[tokio::test(flavor = "multi_thread")]
async fn three_pictures_arrive_once_although_the_connection_is_cut_in_the_middle_of_one() {
    let Some((stage, wire)) = on_a_wire().await else { return };
    stage.open("/cars/0001/arrival").await;
    let sizes = stage.client.execute_async(THREE, vec![]).await.unwrap();
    let sizes: Vec<u64> = sizes.as_array().unwrap().iter().filter_map(serde_json::Value::as_u64).collect();
    assert!(sizes.iter().all(|s| *s > 3 << 20), "{sizes:?}: each should come in many pieces");
    // Cut when the second one is on its way: the first is there whole, the second in part.
    let mut looks = 0;
    let at_cut = loop {
        let list = waiting(&stage);
        if let [_, (_, part)] = list.as_slice()
            && *part > 1 << 20
        {
            wire.cut();
            break waiting(&stage);
        }
        looks += 1;
        assert!(looks < 20_000, "the second picture never came: {list:?}");
        tokio::time::sleep(Duration::from_millis(2)).await;
    };
    tokio::time::sleep(Duration::from_millis(1500)).await;
    let there = waiting(&stage);
    let torn = &there[1];
    assert!(torn.1 < sizes[1], "{there:?} was not cut in the middle; at the cut {at_cut:?}");
    let sent = stage.run("return window.pieces.length").await.as_u64().unwrap() as usize;
    wire.mend();
    stage.until("everything to be sent", ALL_SENT).await;
    tokio::time::sleep(Duration::from_millis(500)).await;
    let studio = Studio::open(&stage.studio).unwrap();
    let job = studio.job(&id()).unwrap().job;
    let came: Vec<u64> = job
        .pictures
        .iter()
        .filter(|p| p.name.starts_with("walk-"))
        .map(|p| studio.picture_bytes(&p.picture).unwrap().len() as u64)
        .collect();
    assert_eq!(came, sizes, "each once, whole, in order");
    assert!(waiting(&stage).is_empty(), "nothing is left waiting");
    // The page may have gone on by itself; then its list is gone with it, and the studio has said enough.
    let pieces = stage.run("return window.pieces ?? null").await;
    if let Some(list) = pieces.as_array() {
        let after: Vec<(String, u64)> = list[sent..]
            .iter()
            .map(|p| (p[0].as_str().unwrap().to_owned(), p[1].as_u64().unwrap()))
            .collect();
        assert!(after.iter().all(|(name, _)| *name != there[0].0), "the first was sent again: {after:?}");
        let resumed = after.iter().find(|(name, _)| *name == torn.0).unwrap();
        assert_eq!(resumed.1, torn.1, "it goes on where it was cut: {after:?}");
        let told = stage.run("return [...window.told]").await.to_string();
        for n in 1..=3 {
            assert!(told.contains(&format!("walk-{n}.png")), "progress of each file is told: {told}");
        }
    } else {
        panic!("the page went on by itself: nothing was seen of its pieces");
    }
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_picture_is_marked_by_finger_and_by_keyboard() {
    let Some(stage) = stage(1280, 1100).await else { return };
    let picture = picture(&stage, 21, "hood.jpg");
    let path = format!("/cars/0001/picture/{picture}");
    stage.open(&path).await;
    stage.until("the tools", "return !!document.querySelector('svg.draft') && document.querySelector('.marking img').complete;").await;
    let client = &stage.client;
    // By finger: from the middle outward, a tenth of the width.
    stage.run("const r = document.querySelector('[name=shape][value=ring]'); r.click(); return true;").await;
    stage
        .run("document.querySelector('.marking figure').scrollIntoView({ block: 'start' }); return true;")
        .await;
    let wide = stage.run("return document.querySelector('svg.draft').getBoundingClientRect().width").await;
    let wide = wide.as_f64().unwrap();
    let field = client.find(Locator::Css("svg.draft")).await.unwrap();
    let drag = MouseActions::new("finger".into())
        .then(PointerAction::MoveToElement { element: field, duration: None, x: 0.0, y: 0.0 })
        .then(PointerAction::Down { button: MOUSE_BUTTON_LEFT })
        .then(PointerAction::MoveBy { duration: Some(Duration::from_millis(80)), x: wide / 10.0, y: 0.0 })
        .then(PointerAction::Up { button: MOUSE_BUTTON_LEFT });
    client.perform_actions(drag).await.unwrap();
    let send = "document.querySelector('#mark [name=text]').value = arguments[0]; const f = document.querySelector('form#mark'); f.requestSubmit(f.querySelector('button.main')); return true;";
    client.execute(send, vec![json!("chip")]).await.unwrap();
    stage.until("the mark", "return /chip/.test(document.querySelector('.marklist')?.textContent ?? '') && !document.body.inert;").await;
    // By keyboard: a ring stands in the middle, goes three steps right and one up, grows once; then an arrow is taken away.
    stage.until("the tools", "return !!document.querySelector('svg.draft');").await;
    stage.run("document.querySelector('[name=shape][value=ring]').click(); document.querySelector('svg.draft').focus(); return true;").await;
    let field = client.find(Locator::Css("svg.draft")).await.unwrap();
    for key in [Key::Right, Key::Right, Key::Right, Key::Up] {
        field.send_keys(&key.to_string()).await.unwrap();
    }
    field.send_keys("+").await.unwrap();
    let said = stage.run("return document.querySelector('[data-said]').textContent").await;
    assert_eq!(said, "Ring 53 % across, 49 % down, radius 6.9 %.");
    client.execute(send, vec![json!("by keyboard")]).await.unwrap();
    stage.until("the mark", "return /by keyboard/.test(document.querySelector('.marklist').textContent) && !document.body.inert;").await;
    stage.until("the tools", "return !!document.querySelector('svg.draft');").await;
    stage.run("document.querySelector('[name=shape][value=arrow]').click(); document.querySelector('svg.draft').focus(); return true;").await;
    assert_eq!(stage.run("return document.querySelectorAll('svg.draft path').length").await, 2);
    client.find(Locator::Css("svg.draft")).await.unwrap().send_keys(&Key::Delete.to_string()).await.unwrap();
    assert_eq!(stage.run("return document.querySelectorAll('svg.draft path').length").await, 0);
    assert_eq!(stage.run("return document.querySelector('[name=x]').value").await, "");
    stage.client.clone().close().await.unwrap();
    let job = Studio::open(&stage.studio).unwrap().job(&id()).unwrap().job;
    let of = job.marks_of(&picture).unwrap();
    let near = |a: u16, b: u16| a.abs_diff(b) <= 4;
    let MarkShape::Ring { x, y, r } = of.marks[0].shape else { panic!("{:?}", of.marks) };
    assert!(near(x, 500) && near(y, of.tall / 2) && near(r, 100), "{:?}", of.marks);
    assert_eq!(of.tall, 667, "1200 by 800");
    assert_eq!(of.marks[1].shape, MarkShape::Ring { x: 530, y: 327, r: 69 });
}

/// The example's car after some work: before and after of the hood, a mark, a spoken note, a link for the customer.
pub fn worked(stage: &Stage) -> (PictureId, String) {
    let studio = Studio::open(&stage.studio).unwrap();
    let by = Stamp::by("Nadia");
    let before = picture(stage, 31, "hood-before.jpg");
    let ring = studio::command::Drawn::Ring { at: [0.4, 0.4], radius: 0.08 };
    studio.mark_picture(&id(), &by, &before, ring, "chip").unwrap();
    let bytes = studio::picture::stand_in(32).unwrap();
    let after =
        studio.add_picture(&id(), &by, "hood-after.jpg", &bytes, Some(&Place::panel("hood")), None).unwrap();
    let pair = job::PicturePair { before: before.clone(), after, panel: Some("hood".into()) };
    studio.pair_pictures(&id(), &by, &pair).unwrap();
    studio.speak(&id(), &by, "note.webm", b"\x1a\x45\xdf\xa3\x9f", "rear edge", None).unwrap();
    let link = studio.give_link("Nadia", &id(), studio::door::Shown::Report, 7).unwrap();
    (before, format!("/look/{}", link.as_str()))
}

#[tokio::test(flavor = "multi_thread")]
async fn before_and_after_lie_in_one_frame_with_a_slider() {
    let Some(stage) = stage(820, 1100).await else { return };
    let (_, look) = worked(&stage);
    for page in ["/cars/0001/handover".to_owned(), look] {
        stage.open(&page).await;
        stage.until("the slider", "return !!document.querySelector('.compare.stacked');").await;
        stage.run("document.querySelector('.compare').scrollIntoView(); document.querySelectorAll('.compare img').forEach((i) => (i.loading = 'eager')); return true;").await;
        stage.until("the pictures", "return [...document.querySelectorAll('.compare img')].every((i) => i.complete && i.naturalWidth > 0);").await;
        let slider = stage.client.find(Locator::Css(".compare input[type=range]")).await.unwrap();
        for _ in 0..5 {
            slider.send_keys(&Key::Right.to_string()).await.unwrap();
        }
        let seen = stage
            .run(
                "const c = document.querySelector('.compare'); const [a, b] = [...c.querySelectorAll('img')].map((i) => i.getBoundingClientRect());\
                 return [getComputedStyle(c.querySelector('.new')).clipPath, c.querySelector('input').getAttribute('aria-valuetext'), Math.abs(a.left - b.left) + Math.abs(a.top - b.top) + Math.abs(a.width - b.width) < 3];",
            )
            .await;
        assert_eq!(seen, json!(["inset(0px 0px 0px 55%)", "55 % before, 45 % after", true]), "{page}");
    }
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_note_is_spoken_with_the_connection_away_and_heard_later() {
    let Some((stage, wire)) = on_a_wire().await else { return };
    stage.open("/cars/0001/arrival").await;
    stage.run("const d = document.querySelector('#fold-voice'); d.open = true; return true;").await;
    stage.until("the recorder", "return !!document.querySelector('[data-voice]') && !document.querySelector('[data-voice]').hidden;").await;
    wire.cut();
    stage.run("document.querySelector('[data-record]').click(); return true;").await;
    stage
        .until(
            "the recording",
            "return /Recording, [2-9]/.test(document.querySelector('[data-voice] [data-said]').textContent);",
        )
        .await;
    stage.run("document.querySelector('[data-record]').click(); return true;").await;
    stage.until("the end of it", "return !document.querySelector('[data-heard]').hidden;").await;
    stage
        .run("const f = document.querySelector('form#voice'); f.querySelector('[name=text]').value = 'spoken in the bay'; f.requestSubmit(f.querySelector('.acts:last-child button')); return true;")
        .await;
    stage
        .until("the count", "return /^1 not sent/.test(document.querySelector('[data-unsent]').innerText);")
        .await;
    assert!(Studio::open(&stage.studio).unwrap().job(&id()).unwrap().job.voices.is_empty());
    wire.mend();
    stage.until("it to be sent", ALL_SENT).await;
    let (sound, kind) = {
        let studio = Studio::open(&stage.studio).unwrap();
        let job = studio.job(&id()).unwrap().job;
        assert_eq!((job.voices.len(), job.voices[0].text.as_str()), (1, "spoken in the bay"));
        let (bytes, kind) = studio.sound(&job.voices[0].sound).unwrap();
        (bytes.len(), kind)
    };
    assert!(sound > 1000 && kind == "audio/webm", "{sound} bytes of {kind}");
    // The browser plays back what it gets from the car's page, under the page's policy.
    stage.open("/cars/0001/survey").await;
    let heard = stage
        .client
        .execute_async(
            "const done = arguments[arguments.length - 1]; const a = document.querySelector('.spoken audio');\
             a.addEventListener('loadeddata', () => done('heard')); a.addEventListener('error', () => done('error ' + a.error.message));\
             a.preload = 'auto'; a.load();",
            vec![],
        )
        .await
        .unwrap();
    assert_eq!(heard, "heard");
    stage.client.close().await.unwrap();
}
