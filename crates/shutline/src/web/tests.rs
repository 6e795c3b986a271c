//! The door, every page and every form of the rooms around the cars.

use super::shell::Shell;
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use jiff::{SignedDuration, Timestamp};
use job::{Arrival, Car, Customer, JobId, Order, StepState};
use std::sync::Arc;
use studio::command::NewJob;
use studio::{Clock, Stamp, Studio};
use tower::ServiceExt;

/// Script text and markup that must come out as text wherever it goes in.
const NASTY: &str = "<script>alert(1)</script>\"><img src=x onerror=alert(1)>&amp;'";

/// A studio of our own invention behind its pages.
struct House {
    studio: Arc<Studio>,
    pages: Router,
    _folder: tempfile::TempDir,
}

/// What came back.
struct Answer {
    status: StatusCode,
    headers: HeaderMap,
    bytes: Vec<u8>,
}

impl Answer {
    fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }

    fn header(&self, name: &str) -> &str {
        self.headers.get(name).and_then(|v| v.to_str().ok()).unwrap_or_default()
    }

    /// A page with this status that says these words.
    #[track_caller]
    fn says(self, status: StatusCode, words: &str) -> Self {
        let text = self.text();
        assert_eq!(self.status, status, "{}", notes(&text));
        assert!(text.contains(words), "'{words}' is not said: {}", notes(&text));
        self
    }

    #[track_caller]
    fn goes_to(self, path: &str) -> Self {
        let text = self.text();
        assert_eq!((self.status, self.header("location")), (StatusCode::SEE_OTHER, path), "{}", notes(&text));
        self
    }
}

/// The notes of a page, for messages of failed tests.
fn notes(text: &str) -> String {
    text.split("class=\"note")
        .skip(1)
        .map(|n| n.chars().take(500).collect::<String>())
        .collect::<Vec<_>>()
        .join("\n")
}

const FORM: &str = "application/x-www-form-urlencoded";

impl House {
    /// The shop of the demo without cars.
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let now: Timestamp = "2026-05-13T14:05:00Z".parse().unwrap();
        let studio = Studio::open_at(folder.path(), Clock::at(now)).unwrap();
        let text = studio::demo::shop_text("America/Chicago", now).unwrap();
        studio.set_up(&Stamp::by("Nadia"), &text).unwrap();
        let studio = Arc::new(studio);
        Self { pages: super::router(studio.clone()), studio, _folder: folder }
    }

    /// A studio in which nothing was set up.
    fn bare() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let studio = Arc::new(Studio::open(folder.path()).unwrap());
        Self { pages: super::router(studio.clone()), studio, _folder: folder }
    }

    /// With one car whose cleaning is planned.
    fn with_car() -> (Self, JobId) {
        let house = Self::new();
        let by = Stamp::by("Nadia");
        let new = NewJob {
            car: Car {
                plate: "TST 100".into(),
                name: "Heron van".into(),
                body: "van".into(),
                color: "white".into(),
                ..Car::default()
            },
            customer: Customer { name: "Ilse Invented".into(), ..Customer::default() },
            order: Order::default(),
            promised: Some(house.studio.now() + SignedDuration::from_hours(72)),
            expected: None,
        };
        let id = house.studio.book(&by, new).unwrap();
        house.studio.arrive(&id, &by, &Arrival::default()).unwrap();
        house.studio.sign_arrival(&id, &by, "Ilse Invented").unwrap();
        house.studio.set_route(&id, &by).unwrap();
        house.studio.keep_plan(&by).unwrap();
        (house, id)
    }

    async fn ask(&self, request: Request<Body>) -> Answer {
        let response = self.pages.clone().oneshot(request).await.unwrap();
        let (parts, body) = response.into_parts();
        let bytes = to_bytes(body, 64 << 20).await.unwrap().to_vec();
        Answer { status: parts.status, headers: parts.headers, bytes }
    }

    async fn get(&self, path: &str) -> Answer {
        self.ask(Request::get(path).header(header::HOST, "localhost").body(Body::empty()).unwrap()).await
    }

    async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        self.post_as("", path, fields).await
    }

    /// Sends a form with somebody's name in the cookie.
    async fn post_as(&self, who: &str, path: &str, fields: &[(&str, &str)]) -> Answer {
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let request = Request::post(path)
            .header(header::HOST, "127.0.0.1:8480")
            .header(header::ORIGIN, "http://127.0.0.1:8480")
            .header("sec-fetch-site", "same-origin")
            .header(header::COOKIE, format!("other=1; who={who}"))
            .header(header::CONTENT_TYPE, FORM)
            .body(Body::from(body));
        self.ask(request.unwrap()).await
    }
}

const PAGES: [&str; 13] = [
    "/",
    "/cars",
    "/cars?q=heron",
    "/cars/new",
    "/calendar",
    "/calendar?from=2026-06-01",
    "/calendar/again",
    "/stock",
    "/shop",
    "/shop/steps",
    "/shop/methods",
    "/record",
    "/record?before=3",
];

const POSTS: [&str; 20] = [
    "/who",
    "/day/step",
    "/day/air",
    "/cars/new",
    "/calendar/keep",
    "/calendar/pin",
    "/stock/roll",
    "/stock/count",
    "/stock/offcut",
    "/stock/discard",
    "/stock/product",
    "/stock/lot",
    "/shop/general",
    "/shop/person",
    "/shop/bay",
    "/shop/hours",
    "/shop/prices",
    "/shop/limits",
    "/shop/steps",
    "/shop/methods",
];

/// What a page must not hold: script or style of its own, or anything from elsewhere.
#[track_caller]
fn strict(path: &str, answer: &Answer) {
    let text = answer.text();
    assert!(text.contains("<h1>"), "{path} has no title");
    for bad in ["<style", "javascript:", "src=\"http", "href=\"http"] {
        assert!(!text.contains(bad), "{path} holds {bad}");
    }
    // What people typed is text between tags or stands in quotes; what is left of a tag is ours.
    for tag in text.split('<').skip(1).filter_map(|t| t.split('>').next()) {
        let names: String = tag.split('"').step_by(2).collect();
        assert!(!names.contains(" on") && !names.contains(" style="), "{path} holds <{tag}>");
    }
    for script in text.split("<script").skip(1) {
        assert!(script.starts_with(" type=\"module\" src=\"/assets/"), "{path} holds a script of its own");
    }
    let mut ids: Vec<&str> = text.split(" id=\"").skip(1).filter_map(|t| t.split('"').next()).collect();
    ids.sort_unstable();
    let twice: Vec<_> = ids.windows(2).filter(|w| w[0] == w[1]).map(|w| w[0]).collect();
    assert!(twice.is_empty(), "{path} has ids twice: {twice:?}");
    guarded(path, answer);
}

#[track_caller]
fn guarded(path: &str, answer: &Answer) {
    let policy = answer.header("content-security-policy");
    for part in [
        "default-src 'self'",
        "frame-ancestors 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "base-uri 'none'",
    ] {
        assert!(policy.contains(part), "{path}: {policy}");
    }
    assert!(!policy.contains("unsafe"), "{path}");
    assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
    assert_eq!(answer.header("referrer-policy"), "same-origin", "{path}");
    assert_eq!(answer.header("x-frame-options"), "DENY", "{path}");
    assert!(!answer.header("cache-control").is_empty(), "{path}");
}

#[tokio::test]
async fn every_page_opens_with_cars_and_without() {
    for house in [House::with_car().0, House::new(), House::bare()] {
        for path in PAGES {
            let answer = house.get(path).await;
            assert_eq!(answer.status, StatusCode::OK, "{path}: {}", notes(&answer.text()));
            strict(path, &answer);
        }
    }
}

#[tokio::test]
async fn what_cannot_be_asked_for_gets_a_page_with_a_way_on() {
    let house = House::new();
    for path in POSTS.iter().filter(|p| !PAGES.contains(p)) {
        house.get(path).await.says(StatusCode::METHOD_NOT_ALLOWED, "Open the page itself");
    }
    for path in ["/", "/calendar", "/stock", "/record", "/live", "/shop"] {
        house.post(path, &[]).await.says(StatusCode::METHOD_NOT_ALLOWED, "Open the page itself");
    }
    for path in [
        "/nowhere",
        "/cars/9999",
        "/calendar/bay/Nobody.ics",
        "/calendar/person/x",
        "/stock/../shop/secret",
        "/%00",
    ] {
        let answer = house.get(path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        guarded(path, &answer);
        assert!(answer.text().contains("href=\"/cars\""), "{path}");
    }
    let answer =
        house.get(&format!("/{}", "<script>alert(1)</script>".replace('<', "%3C").replace('>', "%3E"))).await;
    assert!(!answer.text().contains("<script>alert"));
}

#[tokio::test]
async fn empty_and_senseless_forms_are_refused_in_words() {
    let house = House::new();
    for path in POSTS.iter().filter(|p| **p != "/calendar/keep") {
        for fields in [
            &[][..],
            &[("act", "dance"), ("bay", "x"), ("step", "-1"), ("left", "1e999"), ("at", "noon")][..],
        ] {
            let answer = house.post(path, fields).await;
            assert!(answer.status.is_client_error(), "{path} {fields:?}: {}", answer.status);
            assert!(answer.text().contains("role=\"alert\""), "{path}: no refusal in sight");
        }
    }
}

#[tokio::test]
async fn strangers_names_and_sites_are_turned_away() {
    let house = House::new();
    let ask = |host: Option<&str>| {
        let mut request = Request::get("/");
        if let Some(host) = host {
            request = request.header(header::HOST, host);
        }
        house.ask(request.body(Body::empty()).unwrap())
    };
    for host in [Some("shop.example"), Some("127.0.0.1.shop.example"), Some("10.0.0.7:8480"), Some(""), None]
    {
        ask(host).await.says(StatusCode::MISDIRECTED_REQUEST, "names of this machine");
    }
    for host in ["localhost:8480", "127.0.0.1", "[::1]:8480"] {
        assert_eq!(ask(Some(host)).await.status, StatusCode::OK, "{host}");
    }
    for (name, value) in [
        ("origin", "http://shop.example"),
        ("origin", "null"),
        ("origin", "http://localhost:9"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
    ] {
        let request = Request::post("/stock/discard")
            .header(header::HOST, "localhost:8480")
            .header(name, value)
            .header(header::CONTENT_TYPE, FORM)
            .body(Body::from("id=O1"));
        let answer = house.ask(request.unwrap()).await.says(StatusCode::FORBIDDEN, "another site");
        guarded(value, &answer);
    }
}

#[tokio::test]
async fn too_large_and_wrong_bodies_get_a_clear_page() {
    let house = House::new();
    let send = |kind: &str, body: Vec<u8>| {
        let request =
            Request::post("/stock/roll").header(header::HOST, "localhost").header(header::CONTENT_TYPE, kind);
        house.ask(request.body(Body::from(body)).unwrap())
    };
    send(FORM, vec![b'a'; (2 << 20) + 1]).await.says(StatusCode::PAYLOAD_TOO_LARGE, "larger than 2 MB");
    let mut parts =
        b"--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a.jpg\"\r\n\r\n".to_vec();
    parts.resize((64 << 20) + 100, 0);
    send("multipart/form-data; boundary=edge", parts)
        .await
        .says(StatusCode::PAYLOAD_TOO_LARGE, "larger than 64 MB");
    send("multipart/form-data; boundary=edge", b"no parts at all".to_vec())
        .await
        .says(StatusCode::BAD_REQUEST, "damaged");
    send("multipart/form-data", b"x".to_vec()).await.says(StatusCode::BAD_REQUEST, "damaged");
    send("application/json", b"{}".to_vec()).await.says(StatusCode::UNSUPPORTED_MEDIA_TYPE, "Send the form");
    send(FORM, vec![0xff, 0xfe, 0x00, b'=', 0xc3])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "Nothing is entered here");
}

#[tokio::test]
async fn a_booking_that_is_refused_keeps_what_was_typed() {
    let house = House::new();
    let fields = [
        ("plate", ""),
        ("name", "Heron"),
        ("customer", "Ilse"),
        ("body", "van"),
        ("film", "whole"),
        ("finish", "gloss"),
        ("drive", "electric"),
        ("paint", "clear"),
        ("coatings", "film"),
        ("promised", "2026-05-20T16:00"),
        ("year", "12"),
        ("interior", "on"),
    ];
    let page = house
        .post("/cars/new", &fields)
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "Enter a year with four digits")
        .text();
    for kept in [
        "value=\"Heron\"",
        "value=\"Ilse\"",
        "value=\"2026-05-20T16:00\"",
        "value=\"12\"",
        "value=\"electric\" selected",
    ] {
        assert!(page.contains(kept), "{kept} is lost");
    }
    for ticked in [
        "name=\"body\" value=\"van\" checked",
        "name=\"film\" value=\"whole\" checked",
        "name=\"coatings\" value=\"film\" checked",
        "name=\"interior\" value=\"on\" checked",
    ] {
        assert!(page.contains(ticked), "{ticked} is lost");
    }
    assert!(house.studio.jobs().unwrap().is_empty());
    let early = [
        ("plate", "A"),
        ("body", "van"),
        ("film", "none"),
        ("finish", "clean"),
        ("drive", "hybrid"),
        ("paint", "matte"),
        ("expected", "2026-05-20T16:00"),
        ("promised", "2026-05-20T15:00"),
    ];
    house.post("/cars/new", &early).await.says(StatusCode::UNPROCESSABLE_ENTITY, "lies before the arrival");
    let wrong_panel = [
        ("plate", "A"),
        ("body", "coupe"),
        ("film", "panels"),
        ("panels", "left_bed_side"),
        ("finish", "clean"),
        ("drive", "hybrid"),
        ("paint", "matte"),
    ];
    house.post("/cars/new", &wrong_panel).await.says(StatusCode::UNPROCESSABLE_ENTITY, "has no panel");
}

#[tokio::test]
async fn a_double_tap_books_one_car() {
    let house = House::new();
    let fields = [
        ("key", "web-0123456789abcdef"),
        ("plate", "TST 1"),
        ("body", "suv"),
        ("film", "front"),
        ("finish", "best"),
        ("drive", "combustion"),
        ("paint", "clear"),
    ];
    let (a, b) = tokio::join!(house.post("/cars/new", &fields), house.post("/cars/new", &fields));
    a.goes_to("/cars/0001");
    b.goes_to("/cars/0001");
    assert_eq!(house.studio.jobs().unwrap().len(), 1);
    // The program was started again in between: the journal knows the key.
    let again = House {
        pages: super::app(Shell::new(house.studio.clone())),
        studio: house.studio.clone(),
        _folder: tempfile::tempdir().unwrap(),
    };
    again.post("/cars/new", &fields).await.goes_to("/cars/0001");
    assert_eq!(house.studio.jobs().unwrap().len(), 1);
    // A time on the shop's clock: 16:00 in Chicago in May is 21:00 UTC (America/Chicago, UTC−5 in summer).
    let timed = [
        ("plate", "TST 2"),
        ("body", "suv"),
        ("film", "none"),
        ("finish", "clean"),
        ("drive", "combustion"),
        ("paint", "clear"),
        ("promised", "2026-05-20T16:00"),
    ];
    house.post("/cars/new", &timed).await.goes_to("/cars/0002");
    let promised = house.studio.job(&JobId("0002".into())).unwrap().job.promised;
    assert_eq!(promised, Some("2026-05-20T21:00:00Z".parse().unwrap()));
}

#[tokio::test]
async fn markup_in_every_field_comes_out_as_text() {
    let house = House::new();
    let booking = [
        ("plate", NASTY),
        ("name", NASTY),
        ("color", NASTY),
        ("vin", NASTY),
        ("customer", NASTY),
        ("phone", NASTY),
        ("email", NASTY),
        ("car_note", NASTY),
        ("customer_note", NASTY),
        ("order_note", NASTY),
        ("body", "van"),
        ("film", "none"),
        ("finish", "clean"),
        ("drive", "combustion"),
        ("paint", "clear"),
    ];
    house.post("/cars/new", &booking).await.goes_to("/cars/0001");
    house.studio.arrive(&JobId("0001".into()), &Stamp::by(NASTY), &Arrival::default()).unwrap();
    house
        .post(
            "/stock/roll",
            &[
                ("id", NASTY),
                ("film", NASTY),
                ("lot", NASTY),
                ("width", "1520"),
                ("left", "15"),
                ("margin", "5"),
                ("cost", "40.00"),
            ],
        )
        .await
        .goes_to("/stock#rolls");
    house
        .post(
            "/stock/offcut",
            &[
                ("id", NASTY),
                ("film", NASTY),
                ("lot", NASTY),
                ("roll", NASTY),
                ("length", "500"),
                ("width", "300"),
            ],
        )
        .await
        .goes_to("/stock#offcuts");
    house
        .post(
            "/stock/product",
            &[("form", "product"), ("name", NASTY), ("cost", "9"), ("alcohol", "70"), ("sheet", NASTY)],
        )
        .await
        .goes_to("/stock#chemicals");
    house
        .post("/stock/lot", &[("product", NASTY), ("lot", NASTY), ("left", "500"), ("expires", "2026-05-01")])
        .await
        .goes_to("/stock#chemicals");
    house
        .post("/shop/person", &[("form", "person"), ("name", NASTY), ("skills", "wash")])
        .await
        .goes_to("/shop#people");
    house
        .post(
            "/shop/bay",
            &[
                ("form", "bay"),
                ("name", &format!("b{NASTY}")),
                ("places", "1"),
                ("air", NASTY),
                ("volume", "90"),
                ("changes", "6"),
                ("mixing", "1"),
            ],
        )
        .await
        .goes_to("/shop#bays");
    house
        .post(
            "/shop/general",
            &[
                ("name", NASTY),
                ("address", NASTY),
                ("zone", "UTC"),
                ("units", "us"),
                ("paper", "a4"),
                ("warranty", NASTY),
            ],
        )
        .await
        .goes_to("/shop#general-head");
    let query = format!("/cars?q={}", form_urlencoded::byte_serialize(NASTY.as_bytes()).collect::<String>());
    for path in PAGES.iter().copied().chain([query.as_str()]) {
        let answer = house.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        let text = answer.text();
        assert!(!text.contains("<script>alert"), "{path} runs what was typed");
        assert!(!text.contains("<img"), "{path} shows what was typed");
        strict(path, &answer);
    }
    for path in POSTS {
        let fields = [
            "form", "id", "name", "bay", "job", "act", "who", "back", "plate", "product", "at", "seal",
            "text", "currency", "closed", "year",
        ]
        .map(|f| (f, NASTY));
        let text = house.post(path, &fields).await.text();
        assert!(!text.contains("<script>alert") && !text.contains("<img"), "{path}");
    }
    let text = house.get("/cars").await.text();
    assert!(text.contains("&lt;script&gt;alert(1)"), "the name is shown as text");
}

#[tokio::test]
async fn steps_start_pause_and_finish_on_the_board() {
    let (house, id) = House::with_car();
    let no = house.studio.job(&id).unwrap().job.route.as_ref().unwrap().steps[0].no;
    let text = no.to_string();
    let act = |what: &'static str| [("job", id.as_str()), ("no", text.as_str()), ("act", what)];
    let state = || house.studio.job(&id).unwrap().job.step_state(no);
    house.post("/day/step", &act("start")).await.says(StatusCode::CONFLICT, "Nobody is named yet");
    house.post_as("Nadia", "/day/step", &act("start")).await.goes_to("/");
    assert_eq!(state(), StepState::Running);
    let board = house.get("/").await.text();
    assert!(board.contains("value=\"finish\"") && board.contains("value=\"pause\""));
    house.post_as("Nadia", "/day/step", &act("pause")).await.goes_to("/");
    assert_eq!(state(), StepState::Paused);
    house.post_as("Nadia", "/day/step", &act("start")).await.goes_to("/");
    house.post_as("Nadia", "/day/step", &act("finish")).await.goes_to(&format!("/?undo={id}.{no}"));
    assert_eq!(state(), StepState::Done);
    house.get(&format!("/?undo={id}.{no}")).await.says(StatusCode::OK, "Undo");
    house.post("/day/step", &act("undo")).await.goes_to("/");
    assert_eq!(state(), StepState::Running);
    let last = house.studio.record_of(&id).unwrap();
    assert!(last.iter().any(|r| r.by == "Nadia" && r.kind == "step_started"));
    house
        .post_as("Nadia", "/day/step", &[("job", id.as_str()), ("no", "999"), ("act", "start")])
        .await
        .says(StatusCode::NOT_FOUND, "no step");
    house.get("/?undo=nonsense").await.says(StatusCode::OK, "Bays");
}

#[tokio::test]
async fn air_is_read_on_the_board_and_a_wrong_reading_stays_in_its_field() {
    let house = House::new();
    let bay = house.studio.shop().unwrap().settings.bays[0].name.clone();
    let fields = |air: &'static str, humidity: &'static str| {
        [
            ("bay", bay.clone()),
            ("index", "0".to_owned()),
            ("air", air.to_owned()),
            ("humidity", humidity.to_owned()),
        ]
    };
    let send = async |air, humidity| {
        let fields = fields(air, humidity);
        house.post("/day/air", &fields.iter().map(|(n, v)| (*n, v.as_str())).collect::<Vec<_>>()).await
    };
    send("21,5", "48").await.goes_to("/#bay-0");
    let reading = house.studio.shop().unwrap().air[&bay].clone();
    assert_eq!((reading.air.as_celsius(), reading.humidity_percent), (21.5, 48.0));
    house.get("/").await.says(StatusCode::OK, "Dew point");
    let page = send("warm", "480").await.says(StatusCode::UNPROCESSABLE_ENTITY, "is no number").text();
    assert!(
        page.contains("value=\"warm\"")
            && page.contains("value=\"480\"")
            && page.contains("aria-invalid=\"true\"")
    );
    house
        .post("/day/air", &[("bay", "Attic"), ("index", "0"), ("air", "20"), ("humidity", "50")])
        .await
        .says(StatusCode::NOT_FOUND, "Attic");
}

#[tokio::test]
async fn who_is_at_it_is_remembered_and_goes_into_the_record() {
    let house = House::new();
    let answer = house.post("/who", &[("who", "Nadia"), ("back", "/stock?x=1")]).await.goes_to("/stock?x=1");
    let cookie = answer.header("set-cookie").to_owned();
    for part in ["who=Nadia", "SameSite=Strict", "HttpOnly", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    for back in ["//shop.example/", "https://shop.example/", "/\\shop.example", "javascript:alert(1)", ""] {
        house.post("/who", &[("who", "Nadia"), ("back", back)]).await.goes_to("/");
    }
    house
        .post("/who", &[("who", "Stranger"), ("back", "/")])
        .await
        .says(StatusCode::NOT_FOUND, "Nobody called");
    house
        .post_as(
            "Nadia",
            "/stock/offcut",
            &[("id", "Z1"), ("film", "clear"), ("length", "500"), ("width", "300")],
        )
        .await
        .goes_to("/stock#offcuts");
    house.post_as("Mallory", "/stock/discard", &[("id", "Z1")]).await.goes_to("/stock#offcuts");
    let rows = house.studio.journal().since(house.studio.journal().head().unwrap() - 2, 2).unwrap();
    assert_eq!([rows[0].by.as_str(), rows[1].by.as_str()], ["Nadia", "somebody"]);
}

#[tokio::test]
async fn stock_is_received_counted_and_thrown_away() {
    let house = House::new();
    let roll = [
        ("id", "R-77"),
        ("film", "clear gloss"),
        ("lot", "B1"),
        ("width", "1520"),
        ("left", "15"),
        ("margin", "5"),
        ("cost", "41.50"),
        ("since", "2026-05-01"),
    ];
    house.post("/stock/roll", &roll).await.goes_to("/stock#rolls");
    house.post("/stock/roll", &roll).await.says(StatusCode::UNPROCESSABLE_ENTITY, "on the shelf already");
    house.post("/stock/count", &[("id", "R-77"), ("left", "12.4")]).await.goes_to("/stock#rolls");
    let shop = house.studio.shop().unwrap();
    let kept = shop.rolls.iter().find(|r| r.id == "R-77").unwrap();
    assert_eq!((kept.left.as_m(), kept.width.as_mm(), kept.lot.as_str()), (12.4, 1520.0, "B1"));
    house
        .post("/stock/count", &[("id", "R-0"), ("left", "1")])
        .await
        .says(StatusCode::NOT_FOUND, "no roll R-0");
    house
        .post(
            "/stock/roll",
            &[
                ("id", "R-78"),
                ("film", "x"),
                ("width", "1,520"),
                ("left", "15"),
                ("margin", "5"),
                ("cost", "a lot"),
            ],
        )
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "could mean two numbers");
    house.post("/stock/discard", &[("id", "nothing")]).await.says(StatusCode::NOT_FOUND, "no offcut");
    house
        .post("/stock/lot", &[("product", "Nectar"), ("lot", "1"), ("left", "5")])
        .await
        .says(StatusCode::NOT_FOUND, "no product");
}

#[tokio::test]
async fn settings_made_from_older_ones_are_not_saved_over_newer_ones() {
    let house = House::new();
    let seen = |page: &str, form: &str| {
        let form = page.split(&format!("id=\"{form}\"")).nth(1).unwrap();
        form.split("name=\"seen\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
    };
    let page = house.get("/shop").await.text();
    let old = seen(&page, "general");
    let mut general = vec![
        ("name", "Shut & Line"),
        ("zone", "Europe/Lisbon"),
        ("units", "us"),
        ("paper", "us-letter"),
        ("seen", old.as_str()),
    ];
    house.post("/shop/general", &general).await.goes_to("/shop#general-head");
    assert_eq!(house.studio.shop().unwrap().settings.time_zone, "Europe/Lisbon");
    general[0].1 = "Mine";
    let page = house
        .post("/shop/general", &general)
        .await
        .says(StatusCode::CONFLICT, "changed since this page")
        .text();
    assert!(page.contains("value=\"Mine\""), "what was typed is kept");
    // Saving again from the page that told of it keeps it.
    let new = seen(&page, "general");
    general[4].1 = new.as_str();
    house.post("/shop/general", &general).await.goes_to("/shop#general-head");
    assert_eq!(house.studio.shop().unwrap().settings.name, "Mine");
    house
        .post("/shop/general", &[("name", "x"), ("zone", "Mars/Olympus"), ("units", "us"), ("paper", "a4")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "no time zone");
}

#[tokio::test]
async fn limits_and_prices_come_back_as_typed_in_either_unit() {
    let house = House::new();
    let limits = [
        ("floor", "1.25"),
        ("allowance", "0.3"),
        ("risk", "0.5"),
        ("gap", "0.125"),
        ("wrap", "0.25"),
        ("offcut_side", "10"),
        ("offcut_area", "1.5"),
        ("changeover", "25"),
        ("dust", "50"),
    ];
    house
        .post("/shop/general", &[("name", "x"), ("zone", "UTC"), ("units", "us"), ("paper", "a4")])
        .await
        .goes_to("/shop#general-head");
    house.post("/shop/limits", &limits).await.goes_to("/shop#limits-head");
    // 1.25 mil of 25.4 µm; an eighth of an inch of 25.4 mm.
    let s = house.studio.shop().unwrap().settings.clone();
    assert!((s.floor.as_um() - 31.75).abs() < 1e-9 && (s.gap.as_mm() - 3.175).abs() < 1e-9);
    let page = house.get("/shop").await.text();
    for (name, value) in limits {
        assert!(
            page.contains(&format!(
                "id=\"limits-{name}\" name=\"{name}\" type=\"text\" inputmode=\"decimal\" value=\"{value}\""
            )),
            "{name}"
        );
    }
    house
        .post(
            "/shop/prices",
            &[
                ("currency", "euro"),
                ("hour", "70"),
                ("bay_hour", "9"),
                ("consumables", "4"),
                ("margin", "30"),
                ("tax", "7"),
                ("tax_rule", "line"),
                ("rounding", "down"),
                ("held", "80"),
                ("deposit", "20"),
                ("offer_days", "10"),
            ],
        )
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "three capital letters");
    house
        .post(
            "/shop/hours",
            &[("days", "1"), ("from", "17:00"), ("to", "09:00"), ("closed", "2026-12-24, 2026-12-25")],
        )
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "ends before it begins");
    house
        .post(
            "/shop/hours",
            &[
                ("days", "1"),
                ("from", "07:00"),
                ("to", "09:00"),
                ("break_from", "08:00"),
                ("break_to", "08:00"),
                ("closed", "Christmas"),
            ],
        )
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "is no day");
}

#[tokio::test]
async fn an_own_step_library_is_checked_line_by_line() {
    let house = House::new();
    let file = house.get("/shop/steps.toml").await;
    assert_eq!(file.status, StatusCode::OK);
    let text = file.text();
    house
        .post("/shop/steps", &[("act", "own"), ("text", "[[step]]\nid = \"a\"\nbogus = 1\n")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "line ");
    house.post("/shop/steps", &[("act", "own"), ("text", &text)]).await.goes_to("/shop/steps");
    assert!(house.studio.shop().unwrap().settings.steps.is_some());
    house.post("/shop/steps", &[("act", "built_in")]).await.goes_to("/shop/steps");
    assert!(house.studio.shop().unwrap().settings.steps.is_none());
    let table = house.get("/shop/methods.json").await.text();
    house.post("/shop/methods", &[("act", "own"), ("text", &table)]).await.goes_to("/shop/methods");
    house
        .post("/shop/methods", &[("act", "own"), ("text", "[{\"id\":\n 3}]")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "cannot be read");
    house
        .post("/shop/methods", &[("act", "own"), ("text", "[\n{,")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "line 2");
}

#[tokio::test]
async fn the_plan_is_shown_kept_and_pinned() {
    let (house, id) = House::with_car();
    house.get("/calendar").await.says(StatusCode::OK, "Heron van");
    house.get("/calendar/again").await.says(StatusCode::OK, "Keep this plan");
    house.post_as("Nadia", "/calendar/keep", &[]).await.goes_to("/calendar");
    let step = house.studio.shop().unwrap().plan[0].step.to_string();
    let pin = |act: &'static str, at: &'static str| {
        [("job", id.as_str()), ("step", step.as_str()), ("act", act), ("at", at)]
    };
    house.post("/calendar/pin", &pin("pin", "2026-05-14T10:00")).await.goes_to("/calendar#words");
    let plan = house.studio.shop().unwrap().plan.clone();
    assert!(plan.iter().any(|b| b.pinned && b.from == "2026-05-14T15:00:00Z".parse().unwrap()));
    house
        .post("/calendar/pin", &pin("pin", ""))
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "Enter day and time");
    house.post("/calendar/pin", &pin("free", "")).await.goes_to("/calendar#words");
    assert!(!house.studio.shop().unwrap().plan.iter().any(|b| b.pinned));
    for from in ["yesterday", "9999-12-31", "-9999-01-01", "2026-02-30"] {
        assert_eq!(house.get(&format!("/calendar?from={from}")).await.status, StatusCode::OK, "{from}");
    }
}

#[tokio::test]
async fn calendar_files_follow_rfc_5545() {
    let (house, _) = House::with_car();
    let shop = house.studio.shop().unwrap();
    let person = &shop.plan.iter().find(|b| !b.people.is_empty()).unwrap().people[0];
    let file = house.get(&format!("/calendar/person/{}.ics", super::layout::segment(person))).await;
    assert_eq!(file.status, StatusCode::OK);
    assert!(file.header("content-type").starts_with("text/calendar"));
    let text = file.text();
    // Section 3.1: lines end with CRLF and should be no longer than 75 octets; 3.6: VERSION, PRODID; 3.6.1: UID, DTSTAMP.
    assert!(text.split("\r\n").all(|l| l.len() <= 75 && !l.contains('\n')), "{text}");
    for part in [
        "BEGIN:VCALENDAR\r\n",
        "VERSION:2.0\r\n",
        "PRODID:",
        "BEGIN:VEVENT\r\n",
        "UID:",
        "DTSTAMP:",
        "DTSTART",
        "END:VCALENDAR\r\n",
    ] {
        assert!(text.contains(part), "{part} is missing");
    }
}

#[tokio::test]
async fn the_record_is_shown_and_checked() {
    let (house, id) = House::with_car();
    house.get("/record").await.says(StatusCode::OK, &format!("job {id}"));
    house.post("/record/verify", &[]).await.says(StatusCode::OK, "The record is whole.");
    let seal = house.studio.journal().seal().unwrap().to_string();
    house
        .post("/record/verify", &[("seal", &seal)])
        .await
        .says(StatusCode::OK, "what the seal covers is still the same");
    let forged = seal.replace(|c: char| c.is_ascii_digit() && c != '0', "0");
    assert_ne!(seal, forged);
    house.post("/record/verify", &[("seal", &forged)]).await;
    house
        .post("/record/verify", &[("seal", "not a seal")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "value=\"not a seal\"");
    let (a, b) = seal.rsplit_once('.').unwrap();
    let other = if b.starts_with('0') { '1' } else { '0' };
    let wrong = format!("{a}.{other}{}", &b[1..]);
    house
        .post("/record/verify", &[("seal", &wrong)])
        .await
        .says(StatusCode::OK, "The record is not what was written.");
}

#[tokio::test]
async fn search_finds_a_car_by_any_of_its_words() {
    let (house, id) = House::with_car();
    for query in ["tst100", "TST-100", "heron", "white+van", "invented", id.as_str()] {
        house.get(&format!("/cars?q={query}")).await.says(StatusCode::OK, "Heron van");
    }
    let none = house.get("/cars?q=zebra").await.says(StatusCode::OK, "Try fewer words").text();
    assert!(!none.contains("Heron van") && none.contains("value=\"zebra\""));
}

#[tokio::test]
async fn assets_are_kept_by_their_digest_alone() {
    let house = House::bare();
    let page = house.get("/").await.text();
    for name in ["shutline.css", "live.js", "mark.svg"] {
        let url =
            page.split('"').find(|p| p.starts_with("/assets/") && p.ends_with(name)).unwrap().to_owned();
        let answer = house.get(&url).await;
        assert_eq!(answer.status, StatusCode::OK, "{url}");
        assert!(answer.header("cache-control").contains("immutable"), "{url}");
        guarded(&url, &answer);
        assert!(!answer.text().contains("http://") || name.ends_with("svg") || name.ends_with("js"), "{url}");
        let old = format!("/assets/0000000000000000/{name}");
        assert_eq!(house.get(&old).await.header("cache-control"), "no-cache");
    }
    assert_eq!(house.get("/assets/x/secret.txt").await.status, StatusCode::NOT_FOUND);
    assert_eq!(house.get("/assets/x/..%2f..%2fCargo.toml").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn pages_are_packed_and_news_are_not() {
    let house = House::new();
    let get = |path: &str| {
        Request::get(path)
            .header(header::HOST, "localhost")
            .header(header::ACCEPT_ENCODING, "gzip")
            .body(Body::empty())
            .unwrap()
    };
    assert_eq!(house.ask(get("/")).await.header("content-encoding"), "gzip");
    let response = house.pages.clone().oneshot(get("/live?after=0")).await.unwrap();
    assert_eq!(response.headers().get(header::CONTENT_TYPE).unwrap(), "text/event-stream");
    assert!(response.headers().get(header::CONTENT_ENCODING).is_none());
}

#[tokio::test]
async fn news_of_a_write_reach_who_listens() {
    use futures_util::StreamExt;
    let house = House::new();
    let head = house.studio.journal().head().unwrap();
    let request = Request::get(format!("/live?after={head}"))
        .header(header::HOST, "localhost")
        .body(Body::empty())
        .unwrap();
    let mut body = house.pages.clone().oneshot(request).await.unwrap().into_body().into_data_stream();
    house
        .post("/stock/offcut", &[("id", "N1"), ("film", "clear"), ("length", "500"), ("width", "300")])
        .await
        .goes_to("/stock#offcuts");
    let news = tokio::time::timeout(std::time::Duration::from_secs(20), body.next())
        .await
        .unwrap()
        .unwrap()
        .unwrap();
    assert_eq!(String::from_utf8_lossy(&news), format!("event: news\ndata: {}\n\n", head + 1));
}

#[tokio::test]
async fn a_page_that_breaks_says_so() {
    let routes =
        Router::new().route("/broken", axum::routing::get(|| async { panic!("on purpose") as String }));
    let request = Request::get("/broken").header(header::HOST, "localhost").body(Body::empty()).unwrap();
    let response = super::guard::guarded(routes).oneshot(request).await.unwrap();
    assert_eq!(response.status(), StatusCode::INTERNAL_SERVER_ERROR);
    let bytes = to_bytes(response.into_body(), 1 << 20).await.unwrap();
    let text = String::from_utf8_lossy(&bytes);
    assert!(text.contains("Nothing was lost") && !text.contains("on purpose"));
}

#[tokio::test]
async fn heads_are_answered_without_a_body() {
    let house = House::new();
    let request = Request::builder()
        .method(Method::HEAD)
        .uri("/")
        .header(header::HOST, "localhost")
        .body(Body::empty())
        .unwrap();
    let answer = house.ask(request).await;
    assert_eq!((answer.status, answer.bytes.len()), (StatusCode::OK, 0));
}

/// WCAG 2.2, relative luminance and contrast ratio; the example pairs there: black on white 21:1, and #767676 on white
/// 4.54:1 (understanding success criterion 1.4.3; from memory).
fn contrast(a: &str, b: &str) -> f64 {
    let luminance = |hex: &str| {
        let long: String =
            if hex.len() == 3 { hex.chars().flat_map(|c| [c, c]).collect() } else { hex.to_owned() };
        let part = |i: usize| {
            let c = f64::from(u8::from_str_radix(&long[i..i + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn the_palette_can_be_read_by_day_and_by_night() {
    assert!((contrast("000000", "ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("767676", "ffffff") - 4.54).abs() < 0.005);
    let css = include_str!("../../assets/shutline.css");
    let palettes: Vec<&str> = css.split(":root{").skip(1).map(|p| p.split('}').next().unwrap()).collect();
    assert_eq!(palettes.len(), 3, "day, night, print");
    for palette in palettes {
        let color = |name: &str| {
            palette.split(&format!("--{name}:#")).nth(1).unwrap().split([';', '\n']).next().unwrap()
        };
        for ground in ["paper", "sheet"] {
            for text in ["ink", "ink2", "blue"] {
                let ratio = contrast(color(text), color(ground));
                assert!(ratio >= 4.5, "{text} on {ground}: {ratio:.2}");
            }
            let ratio = contrast(color("edge"), color(ground));
            assert!(ratio >= 3.0, "edge on {ground}: {ratio:.2}");
        }
        assert!(contrast(color("on-blue"), color("blue")) >= 4.5);
    }
}
