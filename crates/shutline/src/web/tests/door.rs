//! The door: every route with everybody, secrets, sessions, forged tokens, what each role sees, links of customers.

use super::{Answer, FORM, House, NASTY, strict};
use crate::web::door::House as Served;
use crate::web::door::table::{May, ROUTES};
use crate::web::shell::Shell;
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, StatusCode, header};
use job::{JobId, Role};
use std::net::SocketAddr;
use std::sync::Arc;
use studio::door::{Shown, Token};
use studio::{Stamp, Studio};

const PHRASE: &str = "heron lamp gravel noon";

/// A house whose door is shut, and one who stands before it.
struct Shut {
    house: House,
    studio: Arc<Studio>,
    id: JobId,
    shell: Shell,
}

/// Cookies of somebody.
type Cookies = String;

impl Shut {
    fn new() -> Self {
        let (house, id) = House::with_car();
        let studio = house.studio.clone();
        studio.make_owner("Nadia", PHRASE, "2580").unwrap();
        let shell = Shell::new(studio.clone(), Served::default());
        let pages: Router = crate::web::app(shell.clone());
        Self { house: House { pages, ..house }, studio, id, shell }
    }

    fn signed_in(&self, name: &str) -> Cookies {
        let device = self.studio.admit_first("Nadia", "test").unwrap();
        let at = self.studio.device(&device).unwrap().unwrap();
        let session = self.studio.begin_session(&at, name).unwrap();
        format!("device={}; session={}", device.as_str(), session.as_str())
    }

    async fn ask(&self, method: &str, path: &str, cookies: &str, fields: &[(&str, &str)]) -> Answer {
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let mut request = Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, "localhost:8480")
            .header(header::ORIGIN, "http://localhost:8480")
            .header(header::COOKIE, cookies);
        if method == "POST" {
            request = request.header(header::CONTENT_TYPE, FORM);
        }
        self.house.ask(request.body(Body::from(body)).unwrap()).await
    }

    async fn get(&self, path: &str, cookies: &str) -> Answer {
        self.ask("GET", path, cookies, &[]).await
    }
}

/// A path that fits a row of the table.
fn path_of(pattern: &str) -> String {
    let mut path = pattern.replacen("/cars/{}", "/cars/0001", 1);
    path = path.replace("/step/{}", "/step/1").replace("/finding/{}", "/finding/1");
    path = path
        .replace("/cars/0001/{}", "/cars/0001/work")
        .replace("/calendar/bay/{}", "/calendar/bay/Bay 1.ics");
    path.replace("{}", "x").replace(' ', "%20")
}

#[tokio::test]
async fn every_route_is_for_those_whom_the_table_names() {
    let shut = Shut::new();
    let people = [
        (None, String::new()),
        (Some(Role::Owner), shut.signed_in("Nadia")),
        (Some(Role::Technician), shut.signed_in("Mei")),
        (Some(Role::FrontDesk), shut.signed_in("Juno")),
    ];
    // A form that says nothing changes nothing, so each row can be asked by everybody in turn. Two do something without
    // a word: they are asked elsewhere.
    let streams = ["/live", "/cars/{}/film/search"];
    let acts = ["/calendar/keep", "/door/out", "/shop/invite"];
    for row in ROUTES
        .iter()
        .filter(|r| r.method != "POST" || !acts.contains(&r.path))
        .filter(|r| !streams.contains(&r.path))
    {
        for (role, cookies) in &people {
            let answer = shut.ask(row.method, &path_of(row.path), cookies, &[]).await;
            let what = format!("{} {} by {role:?}: {}", row.method, row.path, answer.status);
            if row.may == May::Anybody {
                assert_ne!(answer.status, StatusCode::UNAUTHORIZED, "{what}");
                assert!(!answer.header("location").starts_with("/door?"), "{what}");
            } else if role.is_none() && row.method == "GET" {
                assert_eq!(answer.status, StatusCode::SEE_OTHER, "{what}");
                assert!(answer.header("location").starts_with("/door"), "{what}");
                assert!(!answer.text().contains("TST 100"), "{what} tells something");
            } else if role.is_none() {
                assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{what}");
            } else if row.may.admits(*role) {
                assert!(![401, 403, 405].contains(&answer.status.as_u16()), "{what}: {}", answer.text());
            } else {
                assert_eq!(answer.status, StatusCode::FORBIDDEN, "{what}");
                assert!(answer.text().contains(row.may.words()), "{what} says not for whom it is");
            }
            assert_ne!(answer.status, StatusCode::INTERNAL_SERVER_ERROR, "{what}");
        }
    }
    // What was refused is in the log and before the owner's eyes.
    assert!(!shut.shell.turned.lines().is_empty());
}

/// Paths that the program's own code serves. Whoever adds a route adds a row to the table: without one the door stays
/// shut, and this test says so.
#[test]
fn every_route_of_the_code_stands_in_the_table() {
    use crate::web::door::table::{Said, look_up};
    let sources = [
        include_str!("../mod.rs"),
        include_str!("../day.rs"),
        include_str!("../cars.rs"),
        include_str!("../car/mod.rs"),
        include_str!("../calendar/mod.rs"),
        include_str!("../stock.rs"),
        include_str!("../record.rs"),
        include_str!("../shop/mod.rs"),
        include_str!("../shop/library.rs"),
        include_str!("../shop/learned.rs"),
        include_str!("../shop/margins.rs"),
        include_str!("../shop/gauges.rs"),
        include_str!("../door/page.rs"),
        include_str!("../door/settings.rs"),
        include_str!("../door/look.rs"),
        include_str!("../upload.rs"),
        include_str!("../help.rs"),
    ];
    let mut seen = 0;
    for source in sources {
        for call in source.split(".route(").skip(1) {
            let path = call.split('"').nth(1).unwrap();
            let verbs = call.split(".route(").next().unwrap();
            let path: String = path
                .split('/')
                .map(|part| if part.starts_with('{') { "x" } else { part })
                .collect::<Vec<_>>()
                .join("/");
            let rest = &verbs[..verbs.find(")\n").unwrap_or(verbs.len())];
            for (verb, method) in [("get(", "GET"), ("post(", "POST")] {
                if rest.contains(verb) {
                    assert!(matches!(look_up(method, &path), Said::For(_)), "{method} {path}");
                    seen += 1;
                }
            }
        }
    }
    assert!(seen > 50, "{seen} routes were found in the code");
}

#[tokio::test]
async fn the_first_start_makes_an_owner_here_and_nowhere_else() {
    let house = House::bare();
    let shell =
        Shell::new(house.studio.clone(), Served { names: vec!["10.0.0.2".into()], ..Served::default() });
    let pages = crate::web::app(shell);
    let house = House { pages, ..house };
    let fields = [
        ("name", "Nadia"),
        ("passphrase", PHRASE),
        ("again", PHRASE),
        ("pin", "2580"),
        ("back", "//evil.example"),
    ];
    let ask = |from: &str, fields: &[(&str, &str)]| {
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
        let from: SocketAddr = format!("{from}:4000").parse().unwrap();
        let request = Request::post("/door/first")
            .header(header::HOST, "localhost")
            .header(header::CONTENT_TYPE, FORM)
            .extension(ConnectInfo(from))
            .body(Body::from(body));
        house.ask(request.unwrap())
    };
    house.get("/").await.goes_to("/door");
    strict("/door", &house.get("/door").await.says(StatusCode::OK, "The first start"));
    ask("10.0.0.9", &fields).await.says(StatusCode::FORBIDDEN, "at the machine on which the program runs");
    let mut wrong = fields;
    wrong[2].1 = "something else entirely";
    let page = ask("127.0.0.1", &wrong).await.says(StatusCode::UNPROCESSABLE_ENTITY, "differ").text();
    assert!(page.contains("value=\"Nadia\"") && !page.contains(PHRASE), "the name stays, secrets do not");
    let done = ask("127.0.0.1", &fields).await.goes_to("/");
    let cookies: Vec<&str> =
        done.headers.get_all(header::SET_COOKIE).iter().map(|c| c.to_str().unwrap()).collect();
    assert_eq!(cookies.len(), 2);
    for cookie in &cookies {
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    }
    let sent = cookies.iter().map(|c| c.split(';').next().unwrap()).collect::<Vec<_>>().join("; ");
    let request = Request::get("/shop").header(header::HOST, "localhost").header(header::COOKIE, sent);
    house.ask(request.body(Body::empty()).unwrap()).await.says(StatusCode::OK, "At the door");
    ask("127.0.0.1", &fields).await.says(StatusCode::CONFLICT, "has an owner already");
}

#[tokio::test]
async fn people_sign_in_with_a_pin_where_the_owner_let_the_device_in() {
    let shut = Shut::new();
    shut.studio.set_pin("Mei", "4826").unwrap();
    let page = shut.get("/door", "").await.says(StatusCode::OK, "This device is new here").text();
    assert!(!page.contains("Mei") && !page.contains("Nadia"), "names are not told to strangers");
    shut.ask("POST", "/door/in", "", &[("name", "Mei"), ("pin", "4826")])
        .await
        .says(StatusCode::FORBIDDEN, "was not let in");
    shut.ask("POST", "/door/admit", "", &[("owner", "Nadia"), ("passphrase", "wrong wrong wrong")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "do not belong together");
    let fields = [("owner", "Nadia"), ("passphrase", PHRASE), ("device", "tablet"), ("back", "/stock")];
    let done = shut.ask("POST", "/door/admit", "", &fields).await.goes_to("/stock");
    let device = done.header("set-cookie").split(';').next().unwrap().to_owned();
    assert!(device.starts_with("device="));
    let page = shut.get("/door", &device).await.says(StatusCode::OK, "Who is at it?");
    strict("/door", &page);
    shut.ask("POST", "/door/in", &device, &[("name", "Mei"), ("pin", "0000")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "do not belong together");
    let done = shut.ask("POST", "/door/in", &device, &[("name", "Mei"), ("pin", "4826")]).await.goes_to("/");
    let session = done.header("set-cookie").split(';').next().unwrap().to_owned();
    let both = format!("{device}; {session}");
    shut.get("/stock", &both).await.says(StatusCode::OK, "Mei");
    // Cookies of one without the other, forged or cut short open nothing.
    let forged = Token::new().unwrap();
    for cookies in [
        session.clone(),
        device.clone(),
        format!("{device}; session={}", forged.as_str()),
        format!("device={}; {session}", forged.as_str()),
        format!("{device}; {}", &session[..session.len() - 1]),
        format!("{device}; session=' OR 1=1 --"),
        "who=Nadia".to_owned(),
    ] {
        let answer = shut.get("/stock", &cookies).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{cookies}");
    }
    // What was done is under the name of whoever signed in.
    shut.ask("POST", "/cars/0001/work", &both, &[("form", "note"), ("text", "seen"), ("who", "Nadia")]).await;
    assert_eq!(shut.studio.job(&shut.id).unwrap().job.notes[0].by, "Mei");
    shut.ask("POST", "/door/out", &both, &[]).await.goes_to("/door");
    assert_eq!(shut.get("/stock", &both).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn many_misses_are_told_to_wait() {
    let shut = Shut::new();
    let device = shut.studio.admit_first("Nadia", "test").unwrap();
    let cookies = format!("device={}", device.as_str());
    for _ in 0..3 {
        shut.ask("POST", "/door/in", &cookies, &[("name", "Nadia"), ("pin", "0000")])
            .await
            .says(StatusCode::UNPROCESSABLE_ENTITY, "do not belong together");
    }
    shut.ask("POST", "/door/in", &cookies, &[("name", "Nadia"), ("pin", "2580")])
        .await
        .says(StatusCode::TOO_MANY_REQUESTS, "Too many misses");
    assert!(shut.shell.turned.lines().iter().any(|l| l.contains("Too many misses")));
}

#[tokio::test]
async fn a_technician_sees_neither_customers_nor_prices() {
    let shut = Shut::new();
    let customer = job::Customer {
        name: "Xanthe Marwood".into(),
        phone: "+99 5551234".into(),
        email: "xanthe@mail.invalid".into(),
        note: "pays late".into(),
    };
    let car = job::Car { plate: "TST 200".into(), body: "coupe".into(), ..job::Car::default() };
    let new = studio::command::NewJob {
        car,
        customer,
        order: job::Order { film: job::Coverage::Front, ..job::Order::default() },
        promised: None,
        expected: None,
    };
    let by = Stamp::by("Nadia");
    let id = shut.studio.book(&by, new).unwrap();
    shut.studio.arrive(&id, &by, &job::Arrival::default()).unwrap();
    shut.studio.sign_arrival(&id, &by, "Xanthe Marwood").unwrap();
    let (owner, technician) = (shut.signed_in("Nadia"), shut.signed_in("Mei"));
    let mut pages: Vec<String> =
        ["/", "/cars", "/cars?q=xanthe", "/calendar", "/stock"].map(str::to_owned).into();
    for sheet in ["arrival", "survey", "route", "film", "work", "handover", "visits", "past"] {
        pages.push(format!("/cars/{id}/{sheet}"));
    }
    let mut told = 0;
    for path in &pages {
        let words = ["Xanthe", "Marwood", "5551234", "xanthe@", "pays late", "$"];
        let seen = |text: &str| words.iter().filter(|w| text.contains(**w)).count();
        let text =
            shut.get(path, &technician).await.text().replace("value=\"xanthe\"", "").replace("“xanthe”", "");
        for word in words {
            assert!(!text.contains(word), "{path} tells a technician '{word}'");
        }
        told += seen(&shut.get(path, &owner).await.text());
    }
    assert!(told > 3, "the owner is told {told} times, so there is something to hide");
    shut.get(&format!("/cars/{id}/offer"), &technician)
        .await
        .says(StatusCode::FORBIDDEN, "the owner and the front desk");
    shut.ask("POST", &format!("/cars/{id}/work"), &technician, &[("form", "call_off"), ("why", "x")])
        .await
        .says(StatusCode::FORBIDDEN, "the owner and the front desk");
    for pdf in ["offer", "handover", "arrival"] {
        let answer = shut.get(&format!("/cars/{id}/doc/{pdf}.pdf"), &technician).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{pdf}");
    }
}

#[tokio::test]
async fn a_link_opens_one_page_of_one_car_and_nothing_else() {
    let shut = Shut::new();
    let token = shut.studio.give_link("Nadia", &shut.id, Shown::Report, 14).unwrap();
    let base = format!("/look/{}", token.as_str());
    let page = shut.get(&base, "").await.says(StatusCode::OK, "TST 100");
    strict(&base, &page);
    assert_eq!(page.header("referrer-policy"), "no-referrer");
    assert_eq!(page.header("cache-control"), "no-store");
    assert!(!page.text().contains("<form"), "nothing can be changed");
    let pdf = shut.get(&format!("{base}/report.pdf"), "").await;
    assert!(pdf.bytes.starts_with(b"%PDF-"));
    let ics = shut.get(&format!("{base}/care.ics"), "").await;
    assert!(ics.text().contains("BEGIN:VCALENDAR"));
    for path in ["/offer.pdf", "/../../shop", "/picture/9999", "/picture/-1", "/x"] {
        let answer = shut.get(&format!("{base}{path}"), "").await;
        assert!(!answer.status.is_success(), "{path}: {}", answer.status);
    }
    let forged = Token::new().unwrap();
    for bad in [forged.as_str(), "x", &token.as_str()[1..], "..%2f..%2fshop"] {
        let answer = shut.get(&format!("/look/{bad}"), "").await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{bad}");
        assert!(!answer.text().contains("TST 100"));
    }
    let (name, _) = shut.studio.links_of(&shut.id).unwrap().remove(0);
    let desk = shut.signed_in("Juno");
    let path = format!("/cars/{}/links", shut.id);
    shut.ask("POST", &path, &desk, &[("form", "withdraw"), ("name", &name)]).await;
    assert_eq!(shut.get(&base, "").await.status, StatusCode::NOT_FOUND);
    shut.ask("POST", &path, &desk, &[("form", "give"), ("shown", "report"), ("days", "14")])
        .await
        .says(StatusCode::OK, "/look/");
    shut.ask("POST", &path, &desk, &[("form", "give"), ("shown", "report"), ("days", "4000")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "cannot be good for");
}

#[tokio::test]
async fn hostile_names_paths_and_bodies_do_no_harm_to_whoever_is_signed_in() {
    let shut = Shut::new();
    let owner = shut.signed_in("Nadia");
    for path in [
        "/cars/..%2f..%2f..%2fetc%2fpasswd",
        "/cars/0001/..%2f..%2fshop",
        "/picture/..%2f..%2fslate.db",
        "/picture/%2e%2e%2fjournal.db",
        "/assets/..%2f..%2f/slate.db",
        "/calendar/person/..%2f..%2fx.ics",
        "/cars/0001/doc/..%2f..%2fslate.db",
        "/cars/%00",
    ] {
        let answer = shut.get(path, &owner).await;
        assert!(
            answer.status.is_client_error() || answer.status.is_redirection(),
            "{path}: {}",
            answer.status
        );
        assert!(!answer.text().contains("root:") && !answer.bytes.starts_with(b"SQLite"), "{path}");
    }
    for (path, field) in
        [("/door/in", "name"), ("/door/admit", "owner"), ("/door/first", "name"), ("/shop/pin", "name")]
    {
        let answer =
            shut.ask("POST", path, &owner, &[(field, NASTY), ("pin", NASTY), ("passphrase", NASTY)]).await;
        assert!(answer.status.is_client_error(), "{path}: {}", answer.status);
        assert!(!answer.text().contains("<script>alert") && !answer.text().contains("<img src=x"), "{path}");
    }
    for line in shut.shell.turned.lines() {
        assert!(!line.contains('\n'), "{line}");
    }
}

#[test]
fn the_table_says_who_is_the_only_one_who_may_set_the_shop() {
    for row in ROUTES.iter().filter(|r| r.path.starts_with("/shop")) {
        assert_eq!(row.may, May::Owner, "{}", row.path);
    }
}
