//! Seams on the sides, signatures that are drawn, and what the bookkeeper gets.

use super::{BAD, Desk, ID, OK};
use axum::http::StatusCode;
use job::{Car, Coverage, Finish, JobId, Order};
use units::{Length, Money};

/// An estate with film on front and sides.
fn sided() -> Desk {
    let car = Car {
        plate: "TST 200".into(),
        name: "Heron wagon".into(),
        body: "estate".into(),
        history_known: true,
        ..Car::default()
    };
    Desk::new(car, Order { film: Coverage::FrontAndSides, finish: Finish::Clean, ..Order::default() })
}

#[tokio::test]
async fn seams_are_weighed_chosen_and_followed() {
    let desk = sided();
    let page = desk.page("sides").await;
    page.says(OK, "What is it worth not to see a meter of seam?")
        .says(OK, "Best at this")
        .says(OK, "as drawn");
    let id = JobId(ID.into());
    let view = desk.studio.sides_view(&id).unwrap();
    // Two methods that must agree: the engine's front, and a look at every pair of choices.
    for (i, a) in view.choices.iter().enumerate().filter(|(_, c)| !c.holds) {
        let beaten = view.choices.iter().enumerate().any(|(j, b)| {
            i != j && b.install < a.install && b.renewals < a.renewals && b.in_sight < a.in_sight
        });
        assert!(!beaten, "choice {i} is beaten");
    }
    // The dearer a seam in sight, the less of it: a slider never shows more.
    let sights: Vec<f64> = [0, 20, 80, 400, 5000]
        .map(|m| view.choices[view.cheapest(Money::cents(m * 100)).unwrap()].in_sight.as_m())
        .to_vec();
    assert!(sights.is_sorted_by(|a, b| a >= b), "{sights:?}");
    let many = view.choices.iter().max_by_key(|c| c.seams.len()).unwrap().clone();
    assert!(!many.seams.is_empty());
    let pieces = desk.studio.film_view(&id).unwrap().pieces.len();
    let send = |seams: String, unseen: &'static str| {
        let desk = &desk;
        async move { desk.send("sides", "sides", &[("seams", &seams), ("unseen", unseen)]).await }
    };
    send("front_fender/nowhere".into(), "20").await.says(StatusCode::NOT_FOUND, "not on the list");
    send(many.seams.join(","), "x").await.says(BAD, "cannot be read");
    send(many.seams.join(","), "35").await.goes_to(&format!("/cars/{ID}/sides"));
    desk.page("sides").await.says(OK, "chosen");
    // Film and offer follow: two sides, one more piece for each seam.
    let parted = desk.studio.film_view(&id).unwrap().pieces.len();
    assert_eq!(parted, pieces + 2 * many.seams.len());
    let offer = desk.studio.offer_view(&id).unwrap();
    let asked = offer.draft.iter().find(|d| d.option.advised).unwrap();
    let sight = asked.figures.iter().find(|f| f.label == "Seam in sight").unwrap();
    let told: f64 = sight.value.parse().unwrap();
    assert!((told - many.in_sight.as_m()).abs() < 0.02, "{told} {}", many.in_sight.as_m());
    assert!(many.in_sight > Length::ZERO);
    desk.page("past").await.says(OK, "Seams on the sides chosen");
}

#[tokio::test]
async fn a_drawn_signature_stays_with_the_consent_and_the_bookkeeper_gets_what_was_agreed() {
    let desk = Desk::hatchback();
    desk.arrived().await;
    desk.send("survey", "csv", &[("csv", &desk.table()), ("moment", "before")]).await;
    desk.send("survey", "close", &[("name", "Nadia")]).await;
    desk.send("offer", "offer", &[]).await;
    desk.page("offer").await.says(OK, "Signature, if wanted");
    let accept = |strokes: &'static str| {
        [("offer", "1"), ("option", "asked"), ("name", "Ilse Invented"), ("strokes", strokes)]
    };
    desk.send("offer", "accept", &accept("[[[1,2],[3")).await.says(BAD, "The drawn signature cannot be read");
    desk.send("offer", "accept", &accept("[[[9000,2]]]"))
        .await
        .says(BAD, "The drawn signature cannot be read");
    desk.send("offer", "accept", &accept("[[[10,20],[500,200]],[[7,7]]]"))
        .await
        .goes_to(&format!("/cars/{ID}/route"));
    desk.page("offer").await.says(OK, "M10 20L500 200M7 7h1");
    // Who must not see the customer does not see the signature either.
    assert!(desk.job().without_customer().acceptance.unwrap().strokes.is_empty());
    let pdf = desk.page("doc/offer.pdf").await;
    assert!(pdf.bytes.starts_with(b"%PDF-"));
    // The bookkeeper's sums, added up anew.
    let text = desk.get("/money.json").await.text();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let amount = |v: &serde_json::Value| Money::parse(v.as_str().unwrap()).unwrap();
    let entry = &value["jobs"][0];
    let sum: Money = entry["lines"].as_array().unwrap().iter().map(|l| amount(&l["net"])).sum();
    assert_eq!(sum, amount(&entry["net"]));
    assert_eq!(amount(&entry["net"]) + amount(&entry["tax"]), amount(&entry["gross"]));
    assert_eq!(amount(&entry["deposit"]) + amount(&entry["balance"]), amount(&entry["gross"]));
    let csv = desk.get("/money.csv").await.text();
    assert_eq!(csv.lines().count(), 2);
    assert!(csv.lines().nth(1).unwrap().contains("TST 100"), "{csv}");
    desk.get("/shop/margins").await.says(OK, "No car with an accepted offer was handed over yet");
}

#[tokio::test]
async fn what_was_learnt_is_shown_and_can_be_switched_off() {
    let desk = sided();
    desk.get("/shop/learned").await.says(OK, "the step library speaks").says(OK, "behind the wheels");
    let post = |fields: Vec<(&'static str, &'static str)>| {
        let desk = &desk;
        async move {
            let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
            let request = axum::http::Request::post("/shop/learned")
                .header(axum::http::header::HOST, "localhost")
                .header(axum::http::header::CONTENT_TYPE, "application/x-www-form-urlencoded")
                .body(axum::body::Body::from(body));
            desk.ask(request.unwrap()).await
        }
    };
    post(vec![("form", "switches"), ("removal", "on"), ("damage", "on")]).await.goes_to("/shop/learned");
    assert!(!desk.studio.shop().unwrap().settings.estimates.learn_times);
    desk.get("/shop/learned").await.says(OK, "switched off");
    let zones = [
        ("form", "zones"),
        ("rate_nose", "0.06"),
        ("worth_nose", "40"),
        ("rate_behind_wheels", "0.5"),
        ("worth_behind_wheels", "40"),
        ("rate_sides", "x"),
        ("worth_sides", "50"),
        ("rate_upper", "0.01"),
        ("worth_upper", "50"),
    ];
    post(zones.to_vec()).await.says(BAD, "is no number");
    let before = desk.studio.offer_view(&JobId(ID.into())).unwrap().draft[1].option.quote.replaced;
    let sound = zones.map(|(n, v)| (n, if v == "x" { "0.012" } else { v }));
    post(sound.to_vec()).await.goes_to("/shop/learned");
    let after = desk.studio.offer_view(&JobId(ID.into())).unwrap().draft[1].option.quote.replaced;
    assert!(after > before, "more damage behind the wheels, more renewals: {before} {after}");
}
