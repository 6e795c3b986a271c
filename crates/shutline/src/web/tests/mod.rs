//! The door, every page, news and assets; the forms of the rooms are in `rooms`.

mod door;
mod rooms;
mod us;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use jiff::{SignedDuration, Timestamp};
use job::{Arrival, Car, Customer, JobId, Order};
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

const PAGES: [&str; 17] = [
    "/",
    "/cars",
    "/cars?q=heron",
    "/cars/new",
    "/calendar",
    "/calendar?from=2026-06-01",
    "/calendar/again",
    "/calendar/when",
    "/calendar/when?body=van&film=whole&finish=best&coating=film&interior=on&from=2026-06-01T09:00",
    "/stock",
    "/shop",
    "/shop/steps",
    "/shop/methods",
    "/shop/learned",
    "/shop/margins",
    "/record",
    "/record?before=3",
];

const POSTS: [&str; 25] = [
    "/who",
    "/day/step",
    "/day/air",
    "/cars/new",
    "/calendar/keep",
    "/calendar/change",
    "/calendar/slip",
    "/calendar/pin",
    "/stock/roll",
    "/stock/count",
    "/stock/offcut",
    "/stock/discard",
    "/stock/product",
    "/stock/lot",
    "/stock/dispose",
    "/shop/general",
    "/shop/person",
    "/shop/bay",
    "/shop/tools",
    "/shop/hours",
    "/shop/prices",
    "/shop/limits",
    "/shop/steps",
    "/shop/methods",
    "/shop/learned",
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
    assert!(["same-origin", "no-referrer"].contains(&answer.header("referrer-policy")), "{path}");
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
    assert_eq!(String::from_utf8_lossy(&news), format!("event: news\ndata: {} shop\n\n", head + 1));
}

#[tokio::test]
async fn a_page_that_breaks_says_so() {
    let routes =
        Router::new().route("/broken", axum::routing::get(|| async { panic!("on purpose") as String }));
    let request = Request::get("/broken").header(header::HOST, "localhost").body(Body::empty()).unwrap();
    let response = super::guard::guarded(routes, [].into(), false).oneshot(request).await.unwrap();
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
    let css = include_str!("../../../assets/shutline.css");
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
