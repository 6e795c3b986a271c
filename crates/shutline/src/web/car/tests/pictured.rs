//! Pictures on the car's pages: HEIC, marks, before and after, and notes that are spoken.

use super::{BAD, Desk, ID, OK};
use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use job::{JobId, MarkShape};

const HEIC: &[u8] = include_bytes!("../../../../../studio/tests/data/heic/turned.heic");

/// The first bytes of a WebM file, as a browser's recorder begins it; nothing here decodes sound.
const SPOKEN: &[u8] = b"\x1a\x45\xdf\xa3\x9f\x42\x86\x81\x01hum-of-the-bay";

impl Desk {
    /// A picture of the hood from the arrival, by the page; its id.
    async fn pictured(&self, name: &str, bytes: &[u8]) -> String {
        self.upload(
            "survey",
            "find",
            &[("panel", "hood"), ("kind", "chip"), ("severity", "light")],
            &[("files", name, bytes)],
        )
        .await
        .goes_to(&format!("/cars/{ID}/survey#findings"));
        self.job().pictures.last().unwrap().picture.0.clone()
    }
}

#[tokio::test]
async fn a_heic_picture_is_taken_in_and_shown_and_a_damaged_one_leaves_nothing() {
    let desk = Desk::hatchback();
    desk.arrived().await;
    let id = desk.pictured("hood.heic", HEIC).await;
    let shown = desk.get(&format!("/picture/{id}?size=320")).await;
    assert_eq!((shown.status, shown.kind.as_str()), (OK, "image/jpeg"));
    assert!(shown.bytes.starts_with(&[0xff, 0xd8]));
    let findings = desk.job().findings.len();
    let answer = desk
        .upload(
            "survey",
            "find",
            &[("panel", "roof"), ("kind", "dent"), ("severity", "light")],
            &[("files", "cut.heic", &HEIC[..400])],
        )
        .await;
    answer.says(BAD, "cut.heic").says(BAD, "HEIC").says(BAD, "JPEG");
    assert_eq!(desk.job().findings.len(), findings, "the finding is not written without its picture");
    assert!(desk.page("survey").await.text().contains(".heic,.heif"));
}

#[tokio::test]
async fn marks_are_drawn_by_numbers_listed_shown_and_taken_off() {
    let desk = Desk::hatchback();
    desk.arrived().await;
    let id = desk.pictured("hood.heic", HEIC).await;
    let page = format!("picture/{id}");
    let here = format!("/cars/{ID}/{page}");
    assert!(desk.page("survey").await.text().contains(&format!("href=\"{here}\"")));
    desk.page(&page).await.says(OK, "Nothing is marked on this picture yet");
    let ring = [("shape", "ring"), ("x", "50"), ("y", "25,5"), ("r", "10"), ("text", "chip <b>")];
    desk.send(&page, "mark", &ring).await.goes_to(&here);
    let arrow = [("shape", "arrow"), ("x", "10"), ("y", "10"), ("to_x", "40"), ("to_y", "40")];
    desk.send(&page, "mark", &arrow).await.goes_to(&here);
    // The picture stands upright, 64 wide and 96 high: down goes to 1500 thousandths of the width.
    let job = desk.job();
    let of = &job.marked[0];
    assert_eq!((of.picture.as_str(), of.tall), (id.as_str(), 1500));
    assert_eq!(of.marks[0].shape, MarkShape::Ring { x: 500, y: 383, r: 100 });
    assert_eq!(of.marks[1].shape, MarkShape::Arrow { x: 100, y: 150, to_x: 400, to_y: 600 });
    let text = desk.page(&page).await.text();
    assert!(text.contains("viewBox=\"0 0 1000 1500\"") && text.contains("cx=\"500\" cy=\"383\" r=\"100\""));
    assert!(text.contains("chip &lt;b&gt;") && !text.contains("chip <b>"));
    assert!(text.contains("Marks: 1: chip"), "said to those who do not see it");
    // Over the small picture on the survey too; the bytes of the picture are as they came.
    assert!(desk.page("survey").await.text().contains("cx=\"500\" cy=\"383\" r=\"100\""));
    assert_eq!(desk.studio.picture_bytes(&of.picture).unwrap(), HEIC);
    desk.send(&page, "unmark", &[("no", "1")]).await.goes_to(&here);
    assert!(!desk.page(&page).await.text().contains("cx=\"500\" cy=\"383\""));
    // A number is never given twice.
    desk.send(&page, "unmark", &[("no", "2")]).await.goes_to(&here);
    desk.send(&page, "mark", &ring).await.goes_to(&here);
    assert_eq!(desk.job().marked[0].marks[0].no, 3);
    desk.page("past").await.says(OK, "Mark 3 drawn on a picture").says(OK, "Mark 1 taken off");
}

#[tokio::test]
async fn senseless_marks_pairs_and_recordings_are_refused_in_words() {
    let desk = Desk::hatchback();
    desk.arrived().await;
    let id = desk.pictured("hood.heic", HEIC).await;
    let page = format!("picture/{id}");
    let before = desk.studio.job(&JobId(ID.into())).unwrap().version;
    for fields in [
        &[][..],
        &[("shape", "ring")],
        &[("shape", "ring"), ("x", "50"), ("y", "50"), ("r", "0")],
        &[("shape", "ring"), ("x", "101"), ("y", "50"), ("r", "5")],
        &[("shape", "ring"), ("x", "NaN"), ("y", "1e999"), ("r", "5")],
        &[("shape", "arrow"), ("x", "50"), ("y", "50"), ("to_x", "50"), ("to_y", "50.1")],
        &[("shape", "cloud"), ("x", "50"), ("y", "50"), ("r", "5")],
    ] {
        let answer = desk.send(&page, "mark", fields).await;
        assert_eq!(answer.status, BAD, "{fields:?}");
        assert!(answer.text().contains("role=\"alert\""), "{fields:?}");
    }
    let long = "x".repeat(201);
    desk.send(&page, "mark", &[("shape", "ring"), ("x", "5"), ("y", "5"), ("r", "5"), ("text", &long)])
        .await
        .says(BAD, "longer than 200");
    desk.send(&page, "unmark", &[("no", "7")]).await.says(StatusCode::NOT_FOUND, "no mark 7");
    desk.send(&page, "dance", &[]).await.says(StatusCode::NOT_FOUND, "no form");
    for other in ["00ff", "x", "..%2F..%2Fjournal.db", "%00"] {
        let answer = desk.page(&format!("picture/{other}")).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{other}");
        let answer = desk.get(&format!("/voice/{other}")).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{other}");
    }
    let same = [("before", id.as_str()), ("after", id.as_str())];
    desk.send("handover", "pair", &same).await.says(BAD, "the same picture");
    let foreign = [("before", id.as_str()), ("after", "00ff")];
    desk.send("handover", "pair", &foreign).await.says(StatusCode::NOT_FOUND, "not part of the job");
    desk.send("handover", "part", &foreign).await.says(StatusCode::NOT_FOUND, "not part of the job");
    desk.send("handover", "pair", &[]).await.says(BAD, "Nothing is entered");
    desk.send("arrival", "voice", &[]).await.says(BAD, "Nothing was recorded");
    desk.upload("arrival", "voice", &[], &[("files", "a.webm", HEIC)]).await.says(BAD, "not a recording");
    // A picture is no sound, and a sound no picture.
    desk.get(&format!("/voice/{id}")).await.says(StatusCode::NOT_FOUND, "no such recording");
    assert_eq!(desk.studio.job(&JobId(ID.into())).unwrap().version, before, "nothing was written");
}

#[tokio::test]
async fn before_and_after_are_suggested_kept_parted_and_stand_side_by_side_without_scripts() {
    let desk = Desk::hatchback();
    desk.agreed().await;
    let hood = Some(&job::Place::panel("hood"));
    let (id, by) = (JobId(ID.into()), studio::Stamp::by("Mei"));
    let add = |seed: u64, stage: job::Stage| {
        let bytes = studio::picture::stand_in(seed).unwrap();
        let entry = job::JobEvent::Pictured {
            picture: job::PictureId(desk.studio.journal().put_picture(&bytes).unwrap().to_string()),
            name: format!("{seed}.jpg"),
            place: hood.cloned(),
            stage,
            finding: None,
            step: None,
        };
        let job::JobEvent::Pictured { picture, .. } = &entry else { unreachable!() };
        let picture = picture.clone();
        desk.studio.decide(&id, &by, |_| Ok(entry.clone().into())).unwrap();
        picture.0
    };
    let before = add(1, job::Stage::Survey);
    let after = [add(2, job::Stage::Work), add(3, job::Stage::Work)];
    let text = desk.page("handover").await.text();
    let part = &text[text.find("id=\"pairs\"").unwrap()..text.find("id=\"photos\"").unwrap()];
    // The first of before, the last of after; both are whole pictures in the page, and the slider waits for its module.
    let (one, two) = (
        part.find(&format!("/picture/{before}?size=1280")),
        part.find(&format!("/picture/{}?size=1280", after[1])),
    );
    assert!(one.unwrap() < two.unwrap() && part.contains("suggested"));
    assert!(part.contains("class=\"slide\" hidden") && part.contains("type=\"range\""));
    let both = [("before", before.as_str()), ("after", after[1].as_str()), ("panel", "hood")];
    desk.send("handover", "pair", &both).await.goes_to(&format!("/cars/{ID}/handover#pairs"));
    assert_eq!(desk.job().pairs.len(), 1);
    let text = desk.page("handover").await.text();
    assert!(text.contains("Take them apart") && !text.contains("suggested"));
    // Parted, the next is suggested; the one that was parted is not.
    desk.send("handover", "part", &both[..2]).await.goes_to(&format!("/cars/{ID}/handover#pairs"));
    let text = desk.page("handover").await.text();
    assert!(text.contains("suggested") && text.contains(&format!("/picture/{}?size=1280", after[0])));
    assert!(!text.contains(&format!("/picture/{}?size=1280", after[1])));
    // By hand, without naming a panel: it is what the picture was taken of.
    let both = [("before", before.as_str()), ("after", after[0].as_str())];
    desk.send("handover", "pair", &both).await.goes_to(&format!("/cars/{ID}/handover#pairs"));
    assert_eq!(desk.job().pairs[0].panel.as_ref().unwrap().as_str(), "hood");
    desk.page("past").await.says(OK, "Before and after put together: hood");
}

#[tokio::test]
async fn a_spoken_note_is_kept_heard_by_the_shop_and_never_leaves_it() {
    let desk = Desk::hatchback();
    desk.agreed().await;
    desk.upload("survey", "voice", &[("text", "rear edge")], &[("files", "note.webm", SPOKEN)])
        .await
        .goes_to(&format!("/cars/{ID}/survey#notes"));
    let step = desk.job().route.as_ref().unwrap().steps[0].no;
    let card = format!("step/{step}");
    desk.upload(&card, "voice", &[], &[("files", "note.webm", &[SPOKEN, b"2"].concat())])
        .await
        .goes_to(&format!("/cars/{ID}/{card}"));
    let voices = desk.job().voices.clone();
    assert_eq!((voices.len(), voices[0].text.as_str(), voices[1].step), (2, "rear edge", Some(step)));
    let sound = voices[0].sound.0.clone();
    desk.page("arrival").await.says(OK, &format!("src=\"/voice/{sound}\"")).says(OK, "rear edge");
    let on_card = desk.page(&card).await.text();
    assert!(on_card.contains(voices[1].sound.as_str()) && !on_card.contains(&sound), "a card has its own");
    let heard = desk.get(&format!("/voice/{sound}")).await;
    assert_eq!((heard.status, heard.kind.as_str(), heard.bytes.as_slice()), (OK, "audio/webm", SPOKEN));
    let request = Request::get(format!("/voice/{sound}"))
        .header(header::HOST, "localhost")
        .header(header::RANGE, "bytes=4-7")
        .body(Body::empty());
    let piece = desk.ask(request.unwrap()).await;
    assert_eq!((piece.status, piece.bytes.as_slice()), (StatusCode::PARTIAL_CONTENT, &SPOKEN[4..8]));
    // Neither in a document, nor behind a customer's link, nor in an exported folder.
    let (id, studio) = (JobId(ID.into()), &desk.studio);
    let token = studio.give_link("Nadia", &id, studio::door::Shown::Report, 7).unwrap();
    let look = desk.get(&format!("/look/{}", token.as_str())).await;
    look.says(OK, "Handover");
    assert!(
        !look.text().contains("rear edge")
            && !look.text().contains("<audio")
            && !look.text().contains("/voice/")
    );
    let out = tempfile::tempdir().unwrap();
    studio.export(&id, out.path(), studio::folder::Pictures::Originals).unwrap();
    let mut folders = vec![out.path().to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
            if entry.is_dir() {
                folders.push(entry);
            } else {
                let bytes = std::fs::read(&entry).unwrap();
                assert!(
                    !bytes.windows(14).any(|w| w == b"hum-of-the-bay"),
                    "{} holds the sound",
                    entry.display()
                );
            }
        }
    }
}
