//! A car from the door to its visits through the pages, and what each page says when it cannot do what was asked.

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode, header};
use jiff::{SignedDuration, Timestamp};
use job::{Car, CoatTarget, Coverage, Customer, Drive, Finish, JobId, Order, StepNo, StepState};
use std::collections::BTreeSet;
use std::sync::Arc;
use studio::command::NewJob;
use studio::{Clock, Stamp, Studio};
use tower::ServiceExt;

/// A studio of our own invention behind its pages.
struct Desk {
    studio: Arc<Studio>,
    pages: Router,
    /// The studio's folder goes with the test.
    _folder: tempfile::TempDir,
}

/// What came back.
struct Answer {
    status: StatusCode,
    to: String,
    kind: String,
    bytes: Vec<u8>,
}

impl Answer {
    fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).replace("&quot;", "\"").replace("&amp;", "&")
    }

    /// The page says this, with this status.
    #[track_caller]
    fn says(&self, status: StatusCode, words: &str) -> &Self {
        assert_eq!(self.status, status, "{}", self.notes());
        assert!(self.text().contains(words), "'{words}' is not said: {}", self.notes());
        self
    }

    /// It was done, and the way goes on here.
    #[track_caller]
    fn goes_to(&self, path: &str) -> &Self {
        assert_eq!((self.status, self.to.as_str()), (StatusCode::SEE_OTHER, path), "{}", self.notes());
        self
    }

    /// What stands in notes of the page, for messages of failed tests.
    fn notes(&self) -> String {
        let text = self.text();
        let notes = text.split("class=\"note").skip(1).map(|n| n.chars().take(600).collect::<String>());
        notes.collect::<Vec<_>>().join("\n")
    }
}

const ID: &str = "0001";

impl Desk {
    fn new(car: Car, order: Order) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let now: Timestamp = "2026-05-13T14:05:00Z".parse().unwrap();
        let studio = Studio::open_at(folder.path(), Clock::at(now)).unwrap();
        let by = Stamp::by("Nadia");
        studio.set_up(&by, &studio::demo::shop_text("America/Chicago", now).unwrap()).unwrap();
        let customer = Customer { name: "Ilse Invented".into(), ..Customer::default() };
        let id = studio.book(&by, NewJob { car, customer, order, promised: None, expected: None }).unwrap();
        assert_eq!(id.as_str(), ID);
        let studio = Arc::new(studio);
        Self { pages: crate::web::router(studio.clone()), studio, _folder: folder }
    }

    /// A hatchback that is to be corrected, with film in front.
    fn hatchback() -> Self {
        let car = Car {
            plate: "TST 100".into(),
            name: "Heron hatch".into(),
            body: "hatchback".into(),
            color: "sage green".into(),
            drive: Drive::Electric,
            history_known: true,
            ..Car::default()
        };
        let order = Order {
            film: Coverage::Panels(vec!["hood".into(), "left_mirror".into()]),
            finish: Finish::Gloss,
            coatings: BTreeSet::from([CoatTarget::Film]),
            ..Order::default()
        };
        Self::new(car, order)
    }

    fn job(&self) -> Arc<job::Job> {
        self.studio.job(&JobId(ID.into())).unwrap().job
    }

    async fn ask(&self, request: Request<Body>) -> Answer {
        let response = self.pages.clone().oneshot(request).await.unwrap();
        let text = |name: header::HeaderName| {
            response.headers().get(name).and_then(|v| v.to_str().ok()).unwrap_or_default().to_owned()
        };
        let (to, kind, status) = (text(header::LOCATION), text(header::CONTENT_TYPE), response.status());
        let bytes = to_bytes(response.into_body(), 64 << 20).await.unwrap().to_vec();
        Answer { status, to, kind, bytes }
    }

    async fn get(&self, path: &str) -> Answer {
        self.ask(Request::get(path).header(header::HOST, "localhost").body(Body::empty()).unwrap()).await
    }

    /// The page of a path under the car.
    async fn page(&self, path: &str) -> Answer {
        self.get(&format!("/cars/{ID}/{path}")).await
    }

    /// Sends a form of a page under the car.
    async fn send(&self, path: &str, form: &str, fields: &[(&str, &str)]) -> Answer {
        let mut body = form_urlencoded::Serializer::new(String::new());
        body.append_pair("form", form).extend_pairs(fields);
        let request = Request::post(format!("/cars/{ID}/{path}"))
            .header(header::HOST, "localhost")
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(body.finish()));
        self.ask(request.unwrap()).await
    }

    /// Sends a form with files: field, name, bytes.
    async fn upload(&self, path: &str, form: &str, fields: &[(&str, &str)], files: &[(&str, &str, &[u8])]) -> Answer {
        let mut body = Vec::new();
        for (name, value) in fields.iter().chain(&[("form", form)]) {
            let head = format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
            body.extend_from_slice(head.as_bytes());
        }
        for (field, name, bytes) in files {
            let head = format!("--edge\r\nContent-Disposition: form-data; name=\"{field}\"; filename=\"{name}\"\r\n\r\n");
            body.extend_from_slice(head.as_bytes());
            body.extend_from_slice(bytes);
            body.extend_from_slice(b"\r\n");
        }
        body.extend_from_slice(b"--edge--\r\n");
        let request = Request::post(format!("/cars/{ID}/{path}"))
            .header(header::HOST, "localhost")
            .header(header::CONTENT_TYPE, "multipart/form-data; boundary=edge")
            .body(Body::from(body));
        self.ask(request.unwrap()).await
    }

    /// The arrival, recorded and signed.
    async fn arrived(&self) {
        self.send("arrival", "record", &[("odometer", "1240"), ("energy", "62"), ("keys", "2"), ("soil", "heavy")])
            .await
            .goes_to(&format!("/cars/{ID}/arrival#findings"));
        self.send("arrival", "sign", &[("name", "Ilse Invented")]).await.goes_to(&format!("/cars/{ID}/survey"));
    }

    /// Five readings on every panel that a gauge can read, as a table.
    fn table(&self) -> String {
        let panels = self.studio.survey_view(&JobId(ID.into())).unwrap().panels;
        let mut csv = String::from("panel,reading_um,u,v\n");
        for p in panels.iter().filter(|p| p.readable) {
            for (i, (u, v)) in [(0.2, 0.3), (0.8, 0.3), (0.5, 0.5), (0.3, 0.7), (0.7, 0.7)].iter().enumerate() {
                csv.push_str(&format!("{},{},{u},{v}\n", p.id, 118 + i));
            }
        }
        csv
    }

    /// Up to a set route: the advised option agreed.
    async fn agreed(&self) {
        self.arrived().await;
        self.send("survey", "csv", &[("csv", &self.table()), ("moment", "before")])
            .await
            .goes_to(&format!("/cars/{ID}/survey#readings"));
        self.send("survey", "close", &[("name", "Nadia")]).await.goes_to(&format!("/cars/{ID}/offer"));
        self.send("offer", "offer", &[]).await.goes_to(&format!("/cars/{ID}/offer#options"));
        let advised = self.job().offers[0].options.iter().find(|o| o.advised).unwrap().id.clone();
        self.send("offer", "accept", &[("offer", "1"), ("option", &advised), ("name", "Ilse Invented")])
            .await
            .goes_to(&format!("/cars/{ID}/route"));
        self.send("route", "set", &[]).await.goes_to(&format!("/cars/{ID}/route#steps"));
    }
}

const OK: StatusCode = StatusCode::OK;
const BAD: StatusCode = StatusCode::UNPROCESSABLE_ENTITY;
const NOT_YET: StatusCode = StatusCode::CONFLICT;

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
    let fields = [("odometer", "12x"), ("energy", "120"), ("keys", "2"), ("soil", "light"), ("belongings", "Umbrella & <map>")];
    let page = desk.send("arrival", "record", &fields).await;
    page.says(BAD, "'12x' is no number.")
        .says(BAD, "Enter a number from 0 to 100.")
        .says(BAD, "value=\"12x\"")
        .says(BAD, "Umbrella & &lt;map&gt;");
    assert!(desk.job().arrival.is_none());
    desk.send("arrival", "sign", &[("name", "Ilse")]).await.says(NOT_YET, "Nothing is recorded yet");
    desk.send("arrival", "record", &[("soil", "light")]).await.goes_to(&format!("/cars/{ID}/arrival#findings"));
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
    desk.send("finding/1", "withdraw", &[("why", "It was a leaf")]).await.goes_to(&format!("/cars/{ID}/survey#findings"));
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
    page.says(OK, "2 readings were taken in, 1 row could not be read.").says(OK, "Line 3: ").says(OK, "hood,abc");
    assert_eq!(desk.job().readings.len(), 2);
    let page = desk.send("survey", "csv", &[("csv", "panel,reading_um\nhood,abc\n"), ("moment", "before")]).await;
    page.says(BAD, "No reading can be used.").says(BAD, "hood,abc");
    desk.send("survey", "csv", &[("csv", ""), ("moment", "before")]).await.says(BAD, "Nothing was pasted");
    let sheet: [(&str, &str, &[u8]); 1] = [("file", "gauge.xlsx", b"PK\x03\x04rest\0")];
    desk.upload("survey", "csv", &[("moment", "before")], &sheet)
        .await
        .says(BAD, "gauge.xlsx: This is a spreadsheet or a ZIP archive, not a CSV file");
    let file: [(&str, &str, &[u8]); 1] = [("file", "gauge.csv", b"panel,reading_um\nroof,119\n")];
    desk.upload("survey", "csv", &[("moment", "before")], &file).await.goes_to(&format!("/cars/{ID}/survey#readings"));
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
    desk.page("survey").await.says(OK, "The survey cannot be closed yet.").says(OK, "The arrival record is not signed");
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
async fn the_offer_is_agreed_by_name_and_changed_by_a_change_order() {
    let desk = Desk::hatchback();
    desk.send("offer", "accept", &[("offer", "1"), ("option", "asked"), ("name", "Ilse")])
        .await
        .says(StatusCode::NOT_FOUND, "There is no offer 1");
    desk.send("offer", "order", &[("film", "panels"), ("finish", "gloss"), ("order_note", "As on the phone")])
        .await
        .says(BAD, "Choose at least one panel, or another coverage.")
        .says(BAD, "As on the phone");
    let change = [("film", "none"), ("finish", "gloss"), ("reason", "x")];
    desk.send("offer", "change", &change).await.says(NOT_YET, "No offer was accepted yet");
    desk.agreed().await;
    let page = desk.page("offer").await;
    page.says(OK, "of 100 such jobs").says(OK, "Change orders").says(OK, "agreed");
    desk.send("offer", "accept", &[("offer", "1"), ("option", "asked"), ("name", "Ilse")])
        .await
        .says(NOT_YET, "An option was accepted already");
    // Reckoned first: nothing is proposed, figures are shown, what was typed stays.
    let wider = [
        ("film", "panels"), ("panels", "hood"), ("finish", "corrected"),
        ("reason", "Deeper marks than could be seen when dirty"), ("do", "reckon"),
    ];
    let page = desk.send("offer", "change", &wider).await;
    page.says(OK, "Nothing is proposed yet.").says(OK, "More to pay").says(OK, "Deeper marks than could be seen");
    assert!(desk.job().changes.is_empty());
    let propose: Vec<_> = wider.iter().map(|(n, v)| (*n, if *n == "do" { "propose" } else { v })).collect();
    desk.send("offer", "change", &propose).await.goes_to(&format!("/cars/{ID}/offer#changes"));
    desk.send("offer", "change", &propose).await.says(NOT_YET, "Change order 1 still waits for the customer");
    let first = desk.job().open_steps().next().unwrap().no;
    desk.send(&format!("step/{first}"), "start", &[]).await.says(NOT_YET, "Change order 1 waits for the customer");
    desk.studio.clock().advance(SignedDuration::from_mins(30));
    desk.send("offer", "answer-1", &[("no", "1"), ("do", "agree"), ("name", "")]).await.says(BAD, "There is no name under it");
    desk.send("offer", "answer-1", &[("no", "1"), ("do", "agree"), ("name", "Ilse")])
        .await
        .goes_to(&format!("/cars/{ID}/route"));
    desk.page("route").await.says(OK, "This route is out of date.");
}

#[tokio::test]
async fn a_harmful_order_of_work_is_refused_or_taken_on_by_name() {
    let desk = Desk::hatchback();
    desk.agreed().await;
    let open: Vec<StepNo> = desk.job().open_steps().map(|s| s.no).collect();
    let listed = |l: &[StepNo]| l.iter().map(ToString::to_string).collect::<Vec<_>>().join(",");
    let mut back: Vec<StepNo> = open.clone();
    back.reverse();
    let order = listed(&back);
    let page = desk.send("route", "sort", &[("down", &order), ("do", "down")]).await;
    page.says(BAD, "This order does harm.").says(BAD, "Take it on all the same?").says(BAD, &order);
    desk.send("route", "sort", &[("order", &order), ("do", "take_on"), ("name", "Nadia"), ("reason", "")])
        .await
        .says(BAD, "Name or reason is missing");
    let last = open.len();
    let page = desk.send("route", "place", &[("order", &listed(&open)), ("first", "1"), ("step", &open[0].to_string()), ("to", &(last + 5).to_string())]).await;
    page.says(BAD, "among the open steps");
    let taken = [("order", order.as_str()), ("do", "take_on"), ("name", "Nadia"), ("reason", "A test of the page")];
    desk.send("route", "sort", &taken).await.goes_to(&format!("/cars/{ID}/route#steps"));
    desk.page("route").await.says(OK, "Taken on by Nadia").says(OK, "A test of the page");
}

#[tokio::test]
async fn from_the_route_to_the_visits() {
    let desk = Desk::hatchback();
    desk.agreed().await;
    desk.page("route").await.says(OK, "Why here");
    desk.page("film").await.says(OK, "not for cutting");
    desk.send("film", "cut", &[]).await.says(NOT_YET, "No film is set aside for this job");
    desk.send("film", "accept", &[]).await.goes_to(&format!("/cars/{ID}/film#cutting"));
    desk.send("film", "cut", &[]).await.says(NOT_YET, "Some outlines are only planning outlines");
    let crossed: [(&str, &str, &[u8]); 1] =
        [("file", "hood.svg", b"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0L100 100L100 0L0 100Z'/></svg>")];
    desk.upload("film", "outlines", &[("panel", "hood")], &crossed).await.says(BAD, "hood.svg: ");
    let svg = desk.page("cut.svg").await;
    assert_eq!((svg.status, svg.kind.as_str()), (OK, "image/svg+xml"));
    svg.says(OK, "PLANNING OUTLINES: NOT FOR CUTTING");
    desk.send("film", "cut", &[("planning_too", "on")]).await.goes_to(&format!("/cars/{ID}/film"));
    desk.page("film").await.says(OK, "What was cut");
    desk.page("cut.svg").await.says(NOT_YET, "The film is cut already");
    desk.send("film", "undo", &[]).await.says(NOT_YET, "What is cut stays cut");

    let open: Vec<StepNo> = desk.job().open_steps().map(|s| s.no).collect();
    desk.page(&format!("step/{}", open[0])).await.says(OK, "Start this step").says(OK, "Why now");
    desk.page("step/999").await.says(StatusCode::NOT_FOUND, "There is no step 999");
    desk.send(&format!("step/{}", open[open.len() - 1]), "start", &[]).await.says(NOT_YET, "cannot begin yet");
    desk.send(&format!("step/{}", open[0]), "finish", &[]).await.says(NOT_YET, "was not started");
    desk.send("handover", "hand_over", &[("name", "Ilse")]).await.says(NOT_YET, "The car cannot be handed over yet");

    let first = format!("step/{}", open[0]);
    desk.send(&first, "start", &[]).await.goes_to(&format!("/cars/{ID}/{first}"));
    desk.page(&first).await.says(OK, "data-left=").says(OK, "Done: finish the step");
    desk.send(&first, "pause", &[]).await.goes_to(&format!("/cars/{ID}/{first}"));
    desk.page(&first).await.says(OK, "Go on with it");
    desk.send(&first, "drop", &[("why", "")]).await.says(BAD, "No reason is given");
    work(&desk).await;
    assert!(desk.job().work.values().all(|r| r.state == StepState::Done));
    desk.page("work").await.says(OK, "On to the handover");

    desk.send("handover", "hand_over", &[("name", "Ilse")]).await.says(NOT_YET, "The final check is not complete");
    let checks = desk.studio.handover_view(&JobId(ID.into())).unwrap().checks;
    let mut fields: Vec<(&str, &str)> = checks.iter().map(|c| ("checked", c.as_str())).collect();
    fields.push(("name", ""));
    desk.send("handover", "hand_over", &fields).await.says(BAD, "There is no name under it");
    fields.last_mut().unwrap().1 = "Ilse";
    desk.send("handover", "hand_over", &fields).await.goes_to(&format!("/cars/{ID}/visits"));

    desk.send("visits", "visit-0", &[("index", "0"), ("seen", "Edges lie flat")]).await.goes_to(&format!("/cars/{ID}/visits#visits"));
    desk.send("visits", "visit-0", &[("index", "0")]).await.says(NOT_YET, "This visit is closed already");
    desk.send("visits", "claim", &[("panel", "hood"), ("what", "")]).await.says(BAD, "It is not said what failed");
    desk.send("visits", "claim", &[("panel", "hood"), ("what", "Edge lifts"), ("why", "Stone")])
        .await
        .goes_to(&format!("/cars/{ID}/visits#claims"));
    desk.page("visits").await.says(OK, "Edges lie flat").says(OK, "Edge lifts");
    desk.send("visits", "book", &[("expected", "soon")]).await.says(BAD, "'soon' is not a day and time");
    desk.send("visits", "book", &[("what", "Torn film")]).await.goes_to("/cars/0002");
    desk.page("calendar.ics").await.says(OK, "BEGIN:VCALENDAR");
    desk.page("past").await.says(OK, "Handed over to Ilse").says(OK, "Finished: ");
    desk.send("survey", "find", &[("panel", "hood"), ("kind", "chip"), ("severity", "light")])
        .await
        .says(NOT_YET, "The car was handed over");
    for name in ["arrival", "offer", "route", "cut", "handover"] {
        let pdf = desk.page(&format!("doc/{name}.pdf")).await;
        assert_eq!((pdf.status, pdf.kind.as_str()), (OK, "application/pdf"), "{name}");
        assert!(pdf.bytes.starts_with(b"%PDF-"), "{name}");
    }
    desk.page("doc/bill.pdf").await.says(StatusCode::NOT_FOUND, "There is no document 'bill'");
    desk.page("doc/change-4.pdf").await.says(StatusCode::NOT_FOUND, "There is no change order 4");
}

/// Does all open steps, letting rests pass.
async fn work(desk: &Desk) {
    for _ in 0..400 {
        let job = desk.job();
        let Some(step) = job.open_steps().next() else { return };
        let path = format!("step/{}", step.no);
        let started = desk.send(&path, "start", &[]).await;
        if started.status == StatusCode::CONFLICT {
            desk.studio.clock().advance(SignedDuration::from_hours(1));
            continue;
        }
        started.goes_to(&format!("/cars/{ID}/{path}"));
        desk.studio.clock().advance(SignedDuration::from_mins(20));
        desk.send(&path, "finish", &[("note", "As planned")]).await.goes_to(&format!("/cars/{ID}/{path}"));
    }
    panic!("the work does not come to its end");
}

#[tokio::test]
async fn a_job_is_called_off_with_a_reason() {
    let desk = Desk::hatchback();
    desk.send("arrival", "call_off", &[("why", "")]).await.says(BAD, "No reason is given");
    desk.send("arrival", "note", &[("text", "")]).await.says(BAD, "The note is empty");
    desk.send("arrival", "promise", &[("promised", "tomorrow")]).await.says(BAD, "'tomorrow' is not a day and time");
    desk.send("arrival", "promise", &[("promised", "2026-05-22T16:00")]).await.goes_to(&format!("/cars/{ID}/arrival"));
    desk.page("route").await.says(OK, "Fri, May 22, 16:00");
    desk.send("arrival", "call_off", &[("why", "Car was sold")]).await.goes_to(&format!("/cars/{ID}/arrival"));
    desk.page("arrival").await.says(OK, "This job was called off.").says(OK, "Car was sold");
    desk.send("arrival", "find", &[("panel", "hood"), ("kind", "chip"), ("severity", "light")])
        .await
        .says(NOT_YET, "The job was called off: Car was sold");
}
