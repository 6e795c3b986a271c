//! A car from the door to its visits through the pages, and what each page says when it cannot do what was asked.

mod booked;
mod film;
mod found;
mod measured;
mod pictured;
mod shapes;
mod sides;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode, header};
use jiff::Timestamp;
use job::{Car, CoatTarget, Coverage, Customer, Drive, Finish, JobId, Order};
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
    async fn upload(
        &self,
        path: &str,
        form: &str,
        fields: &[(&str, &str)],
        files: &[(&str, &str, &[u8])],
    ) -> Answer {
        let mut body = Vec::new();
        for (name, value) in fields.iter().chain(&[("form", form)]) {
            let head =
                format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
            body.extend_from_slice(head.as_bytes());
        }
        for (field, name, bytes) in files {
            let head = format!(
                "--edge\r\nContent-Disposition: form-data; name=\"{field}\"; filename=\"{name}\"\r\n\r\n"
            );
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
        self.send(
            "arrival",
            "record",
            &[("odometer", "1240"), ("energy", "62"), ("keys", "2"), ("soil", "heavy")],
        )
        .await
        .goes_to(&format!("/cars/{ID}/arrival#findings"));
        self.send("arrival", "sign", &[("name", "Ilse Invented")])
            .await
            .goes_to(&format!("/cars/{ID}/survey"));
    }

    /// Five readings on every panel that a gauge can read, as a table.
    fn table(&self) -> String {
        let panels = self.studio.survey_view(&JobId(ID.into())).unwrap().panels;
        let mut csv = String::from("panel,reading_um,u,v\n");
        for p in panels.iter().filter(|p| p.readable) {
            for (i, (u, v)) in [(0.2, 0.3), (0.8, 0.3), (0.5, 0.5), (0.3, 0.7), (0.7, 0.7)].iter().enumerate()
            {
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
