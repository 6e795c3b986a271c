//! Arrival, findings, pictures, readings.

use super::{BAD, Desk, ID, NOT_YET, OK};
use axum::http::StatusCode;
use job::JobId;

#[tokio::test]
async fn the_car_leads_to_the_sheet_it_is_at() {
    let desk = Desk::hatchback();
    desk.get(&format!("/cars/{ID}")).await.goes_to(&format!("/cars/{ID}/arrival"));
    desk.arrived().await;
    desk.get(&format!("/cars/{ID}")).await.goes_to(&format!("/cars/{ID}/survey"));
    desk.get("/cars/9999").await.says(StatusCode::NOT_FOUND, "There is no job 9999");
    desk.page("nowhere").await.says(StatusCode::NOT_FOUND, "A car has no sheet 'nowhere'");
    for sheet in ["arrival", "survey", "offer", "route", "film", "work", "handover", "visits"] {
        let page = desk.page(sheet).await;
        page.says(OK, "Heron hatch, sage green").says(OK, "1\u{202f}240").says(OK, "High voltage.");
    }
}

#[tokio::test]
async fn an_arrival_that_cannot_be_read_keeps_what_was_typed() {
    let desk = Desk::hatchback();
    let fields = [
        ("odometer", "12x"),
        ("energy", "120"),
        ("keys", "2"),
        ("soil", "light"),
        ("belongings", "Umbrella & <map>"),
    ];
    let page = desk.send("arrival", "record", &fields).await;
    page.says(BAD, "'12x' is no number.")
        .says(BAD, "Enter a number from 0 to 100.")
        .says(BAD, "value=\"12x\"")
        .says(BAD, "Umbrella & &lt;map&gt;");
    assert!(desk.job().arrival.is_none());
    desk.send("arrival", "sign", &[("name", "Ilse")]).await.says(NOT_YET, "Nothing is recorded yet");
    desk.send("arrival", "record", &[("soil", "light")])
        .await
        .goes_to(&format!("/cars/{ID}/arrival#findings"));
    desk.send("arrival", "sign", &[("name", " ")]).await.says(BAD, "There is no name under it");
    desk.send("arrival", "nonsense", &[]).await.says(StatusCode::NOT_FOUND, "There is no form 'nonsense'");
}

#[tokio::test]
async fn what_somebody_else_changed_is_not_overwritten_unseen() {
    let desk = Desk::hatchback();
    let seen = desk.studio.job(&JobId(ID.into())).unwrap().version.to_string();
    desk.send("survey", "note", &[("text", "Came by truck.")]).await;
    let fields = [("soil", "light"), ("note", "Mine."), ("before", seen.as_str())];
    let page = desk.send("arrival", "record", &fields).await;
    page.says(StatusCode::CONFLICT, "changed since this page was opened").says(StatusCode::CONFLICT, "Mine.");
    // The page that came back knows the newer state: sent again, it goes through.
    let newer = desk.studio.job(&JobId(ID.into())).unwrap().version.to_string();
    page.says(StatusCode::CONFLICT, &format!("name=\"before\" value=\"{newer}\""));
    let fields = [("soil", "light"), ("note", "Mine."), ("before", newer.as_str())];
    desk.send("arrival", "record", &fields).await.goes_to(&format!("/cars/{ID}/arrival#findings"));
}

#[tokio::test]
async fn a_tap_on_the_drawing_becomes_a_place_on_the_panel() {
    let desk = Desk::hatchback();
    let body = body::Body::of(body::Style::Hatchback);
    let spot = body.point("left_front_door", 0.4, 0.6).unwrap();
    let (x, y) = (format!("{:.1}", spot.x.as_mm()), format!("{:.1}", spot.y.as_mm()));
    let tap = [("view", "left"), ("x", x.as_str()), ("y", y.as_str())];
    let what = [("kind", "scratch"), ("severity", "marked"), ("size", "140"), ("note", "Felt by nail")];
    let fields: Vec<_> = tap.iter().chain(&what).copied().collect();
    let key = [fields.clone(), vec![("key", "web-0123456789")]].concat();
    desk.send("arrival", "find", &key).await.goes_to(&format!("/cars/{ID}/arrival#findings"));
    // The same form once more is a double tap, not a second scratch.
    desk.send("arrival", "find", &key).await.goes_to(&format!("/cars/{ID}/arrival#findings"));
    let job = desk.job();
    assert_eq!(job.findings.len(), 1);
    let place = &job.findings[0].place;
    assert_eq!(place.panel.as_str(), "left_front_door");
    assert!((place.u.unwrap() - 0.4).abs() < 2e-3 && (place.v.unwrap() - 0.6).abs() < 2e-3);
    // The list has the last word on the panel; a spot that lies elsewhere does not count.
    let other = [fields, vec![("panel", "hood")]].concat();
    desk.send("arrival", "find", &other).await;
    assert_eq!(desk.job().findings[1].place, job::Place::panel("hood"));
    desk.page("survey").await.says(OK, "Felt by nail").says(OK, "id=\"finding-2\"");
    let nowhere = [("kind", "scratch"), ("severity", "marked"), ("note", "Where?")];
    let page = desk.send("arrival", "find", &nowhere).await;
    page.says(BAD, "Choose a panel, or tap the drawing.").says(BAD, "Where?");
    desk.send("survey", "find", &[("panel", "wing"), ("kind", "dent"), ("severity", "deep")])
        .await
        .says(BAD, "The hatchback has no panel 'wing'");
    let far = [("panel", "hood"), ("kind", "dent"), ("severity", "deep"), ("size", "-4")];
    desk.send("survey", "find", &far).await.says(BAD, "Size or depth of the finding is out of range");
}

#[tokio::test]
async fn a_finding_is_mended_and_taken_back_with_a_reason() {
    let desk = Desk::hatchback();
    desk.send("arrival", "find", &[("panel", "hood"), ("kind", "chip"), ("severity", "light")]).await;
    desk.page("finding/1").await.says(OK, "Finding 1, stone chip");
    let fields = [("panel", "hood"), ("kind", "chip"), ("severity", "deep"), ("count", "3")];
    desk.send("finding/1", "change", &fields).await.goes_to(&format!("/cars/{ID}/survey#finding-1"));
    assert_eq!(desk.job().findings[0].count, Some(3));
    desk.send("finding/1", "withdraw", &[("why", "")]).await.says(BAD, "No reason is given");
    desk.send("finding/1", "withdraw", &[("why", "It was a leaf")])
        .await
        .goes_to(&format!("/cars/{ID}/survey#findings"));
    desk.page("survey").await.says(OK, "It was a leaf").says(OK, "Taken back, 1");
    desk.page("finding/7").await.says(StatusCode::NOT_FOUND, "There is no finding 7");
}

#[tokio::test]
async fn pictures_are_looked_at_before_anything_is_kept() {
    let desk = Desk::hatchback();
    let fields = [("panel", "hood"), ("kind", "chip"), ("severity", "light"), ("note", "Three of them")];
    let no_picture: (&str, &str, &[u8]) = ("files", "offer.jpg", b"%PDF-1.7 not a picture");
    let page = desk.upload("arrival", "find", &fields, &[no_picture]).await;
    page.says(BAD, "This is not a picture that can be read: it is a PDF document")
        .says(BAD, "Choose again: offer.jpg.")
        .says(BAD, "Three of them");
    assert!(desk.job().findings.is_empty());
    let picture = studio::picture::stand_in(7).unwrap();
    let files: [(&str, &str, &[u8]); 2] = [("camera", "a.jpg", &picture), ("files", "b.jpg", &picture)];
    desk.upload("arrival", "find", &fields, &files).await.goes_to(&format!("/cars/{ID}/arrival#findings"));
    desk.upload("arrival", "pictures", &[], &files[..1]).await.goes_to(&format!("/cars/{ID}/arrival#photos"));
    desk.upload("arrival", "pictures", &[], &[]).await.says(BAD, "No picture was chosen");
    let job = desk.job();
    let id = &job.findings[0].pictures[0];
    let small = desk.get(&format!("/picture/{id}?size=320")).await;
    assert_eq!((small.status, small.kind.as_str()), (OK, "image/jpeg"));
    assert!(small.bytes.starts_with(&[0xff, 0xd8]) && small.bytes.len() < picture.len());
    assert!(desk.studio.folder().join(format!("shown/{id}-320.jpg")).exists());
    desk.get("/picture/..%2Fjournal.db").await.says(StatusCode::NOT_FOUND, "There is no such picture");
}

#[tokio::test]
async fn rows_that_cannot_be_read_come_back_by_line() {
    let desk = Desk::hatchback();
    let csv = "panel,reading_um\nhood,118\nhood,abc\nhood,121\n";
    let page = desk.send("survey", "csv", &[("csv", csv), ("moment", "before")]).await;
    page.says(OK, "2 readings were taken in, 1 row could not be read.")
        .says(OK, "Line 3: ")
        .says(OK, "hood,abc");
    assert_eq!(desk.job().readings.len(), 2);
    let page =
        desk.send("survey", "csv", &[("csv", "panel,reading_um\nhood,abc\n"), ("moment", "before")]).await;
    page.says(BAD, "No reading can be used.").says(BAD, "hood,abc");
    desk.send("survey", "csv", &[("csv", ""), ("moment", "before")]).await.says(BAD, "Nothing was pasted");
    let sheet: [(&str, &str, &[u8]); 1] = [("file", "gauge.xlsx", b"PK\x03\x04rest\0")];
    desk.upload("survey", "csv", &[("moment", "before")], &sheet)
        .await
        .says(BAD, "gauge.xlsx: This is a spreadsheet or a ZIP archive, not a CSV file");
    let file: [(&str, &str, &[u8]); 1] = [("file", "gauge.csv", b"panel,reading_um\nroof,119\n")];
    desk.upload("survey", "csv", &[("moment", "before")], &file)
        .await
        .goes_to(&format!("/cars/{ID}/survey#readings"));
    let one = [("panel", "roof"), ("value", "121,5"), ("moment", "before")];
    desk.send("survey", "one", &one).await.goes_to(&format!("/cars/{ID}/survey#readings"));
    desk.send("survey", "one", &[("panel", "roof"), ("value", "9000"), ("moment", "before")])
        .await
        .says(BAD, "9000 µm is no thickness of paint");
    desk.send("survey", "one", &[("panel", "roof"), ("value", "120"), ("u", "0.5"), ("moment", "before")])
        .await
        .says(BAD, "Give both, or neither.");
    desk.page("readings.csv?moment=before").await.says(OK, "roof,,,121.5");
}

#[tokio::test]
async fn the_survey_says_what_is_missing() {
    let desk = Desk::hatchback();
    desk.page("survey")
        .await
        .says(OK, "The survey cannot be closed yet.")
        .says(OK, "The arrival record is not signed");
    desk.send("survey", "close", &[("name", "Nadia")]).await.says(NOT_YET, "The survey cannot be closed yet");
    desk.arrived().await;
    desk.send("survey", "close", &[("name", "Nadia")]).await.says(NOT_YET, "Measure at least 3 spots on");
    desk.send("survey", "material", &[("panel", "hood"), ("material", "composite")])
        .await
        .goes_to(&format!("/cars/{ID}/survey#materials"));
    desk.page("survey").await.says(OK, "Hood: composite: no reading possible");
    desk.send("offer", "offer", &[]).await.says(NOT_YET, "The survey is not closed");
    desk.page("offer").await.says(OK, "No offer can be made yet.");
}

#[tokio::test]
async fn a_job_is_called_off_with_a_reason() {
    let desk = Desk::hatchback();
    desk.send("arrival", "call_off", &[("why", "")]).await.says(BAD, "No reason is given");
    desk.send("arrival", "note", &[("text", "")]).await.says(BAD, "The note is empty");
    desk.send("arrival", "promise", &[("promised", "tomorrow")])
        .await
        .says(BAD, "'tomorrow' is not a day and time");
    desk.send("arrival", "promise", &[("promised", "2026-05-22T16:00")])
        .await
        .goes_to(&format!("/cars/{ID}/arrival"));
    desk.page("route").await.says(OK, "Fri, May 22, 16:00");
    desk.send("arrival", "call_off", &[("why", "Car was sold")])
        .await
        .goes_to(&format!("/cars/{ID}/arrival"));
    desk.page("arrival").await.says(OK, "This job was called off.").says(OK, "Car was sold");
    desk.send("arrival", "find", &[("panel", "hood"), ("kind", "chip"), ("severity", "light")])
        .await
        .says(NOT_YET, "The job was called off: Car was sold");
}
