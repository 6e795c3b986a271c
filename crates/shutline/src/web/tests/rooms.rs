//! The forms of the rooms around the cars: what they do, and what they keep when they are refused.

use super::{House, NASTY, PAGES, POSTS, strict};
use axum::http::StatusCode;
use job::{Arrival, JobId, StepState};
use studio::Stamp;

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
        pages: crate::web::router(house.studio.clone()),
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
        .post("/shop/tools", &[("form", "tools"), ("tools", "polisher 2, lift 1")])
        .await
        .goes_to("/shop#tools-head");
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
    let spots = [("id", "R-77"), ("left", "12.4"), ("bad", "900 0 40 25\n2000 10.5 30 30")];
    house.post("/stock/count", &spots).await.goes_to("/stock#rolls");
    house.post("/stock/count", &[("id", "R-77"), ("left", "12.4")]).await.goes_to("/stock#rolls");
    let shop = house.studio.shop().unwrap();
    let kept = shop.rolls.iter().find(|r| r.id == "R-77").unwrap();
    assert_eq!(kept.bad_spots_mm, [[900.0, 0.0, 40.0, 25.0], [2000.0, 10.5, 30.0, 30.0]]);
    house
        .post("/stock/count", &[("id", "R-77"), ("left", "12.4"), ("bad", "900 0 40")])
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "not four numbers");
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
        ("overcut", "0.05"),
        ("lead_in", "0.06"),
        ("label", "0.5"),
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
async fn a_change_of_the_plan_is_shown_before_it_is_kept() {
    let (house, id) = House::with_car();
    house.studio.set_route(&id, &Stamp::by("Nadia")).unwrap();
    house.post_as("Nadia", "/calendar/keep", &[]).await.goes_to("/calendar");
    let shop = || house.studio.shop().unwrap();
    let known = shop().plan.clone();
    let first = known[0].clone();
    let sheet = house.get(&format!("/calendar/step/{id}/{}", first.step)).await;
    let sheet = sheet.says(StatusCode::OK, "Show what that does").text();
    assert!(sheet.contains("Pin it here") && sheet.contains("1 h longer"));
    // Two days later than planned: everything behind it moves, and nothing is kept by looking.
    let put = format!("/calendar/try?act=put&job={id}&step={}&at=2026-05-15T09:00&bay=", first.step);
    let look = house.get(&put).await.says(StatusCode::OK, "Keep this plan").text();
    assert!(look.contains("What moves") && look.contains("later"));
    assert_eq!(shop().plan, known);
    let step = first.step.to_string();
    let fields = |act: &'static str, at: &'static str, other: &str| {
        let pairs =
            [("act", act), ("job", id.as_str()), ("step", &step), ("at", at), ("bay", ""), ("other", other)];
        pairs.map(|(a, b)| (a, b.to_owned())).to_vec()
    };
    let send = async |fields: Vec<(&str, String)>| {
        let pairs: Vec<(&str, &str)> = fields.iter().map(|(a, b)| (*a, b.as_str())).collect();
        house.post_as("Nadia", "/calendar/change", &pairs).await
    };
    send(fields("put", "2026-05-15T09:00", "")).await.goes_to("/calendar");
    let moved = shop().plan.iter().find(|b| b.step == first.step).unwrap().clone();
    assert!(moved.pinned && moved.from == "2026-05-15T14:00:00Z".parse().unwrap());
    assert!(shop().plan.iter().filter(|b| b.step != first.step).all(|b| b.from >= moved.to));
    // At night nobody works: told why, and nothing is kept.
    let night = put.replace("T09:00", "T03:00");
    house.get(&night).await.says(StatusCode::OK, "There is no plan that holds everything");
    send(fields("put", "2026-05-15T03:00", ""))
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "no plan to keep");
    house
        .get("/calendar/try?act=swap&job=1&step=x")
        .await
        .says(StatusCode::UNPROCESSABLE_ENTITY, "No change");
    // Twice as long as planned: recorded, and the new plan shown.
    let job = house.studio.job(&id).unwrap().job;
    let planned = job.planned(first.step).unwrap().work.as_minutes();
    let longer = format!("{:.0}", planned * 2.0);
    let slip = [("job", id.as_str()), ("step", step.as_str()), ("to", longer.as_str())];
    house.post_as("Nadia", "/calendar/slip", &slip).await.goes_to("/calendar/again");
    let job = house.studio.job(&id).unwrap().job;
    assert!((job.planned(first.step).unwrap().work.as_minutes() - planned * 2.0).abs() < 1.0);
    house.get("/calendar/again").await.says(StatusCode::OK, "later");
}

#[tokio::test]
async fn what_a_new_car_would_take_is_told_with_odds() {
    let (house, _) = House::with_car();
    let asked = "/calendar/when?body=van&film=front&finish=gloss&coating=&from=";
    let page = house.get(asked).await.says(StatusCode::OK, "In 80 of 100 cases").text();
    assert!(page.contains("If everything takes as long as planned") && page.contains("Odds"));
    assert_eq!(house.studio.jobs().unwrap().len(), 1, "asking books nothing");
}

#[tokio::test]
async fn calendar_files_follow_rfc_5545() {
    let (house, _) = House::with_car();
    let shop = house.studio.shop().unwrap();
    let person = &shop.plan.iter().find(|b| !b.people.is_empty()).unwrap().people[0];
    let file = house.get(&format!("/calendar/person/{}.ics", crate::web::layout::segment(person))).await;
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
