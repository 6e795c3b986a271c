//! Offer, route, film, work, handover and visits.

use super::{BAD, Desk, ID, NOT_YET, OK};
use axum::http::StatusCode;
use jiff::SignedDuration;
use job::{JobId, StepNo, StepState};

#[tokio::test]
async fn the_offer_is_agreed_by_name_and_changed_by_a_change_order() {
    let desk = Desk::hatchback();
    desk.send("offer", "accept", &[("offer", "1"), ("option", "asked"), ("name", "Ilse")])
        .await
        .says(StatusCode::NOT_FOUND, "There is no offer 1");
    desk.send(
        "offer",
        "order",
        &[("film", "panels"), ("finish", "gloss"), ("order_note", "As on the phone")],
    )
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
        ("film", "panels"),
        ("panels", "hood"),
        ("finish", "corrected"),
        ("reason", "Deeper marks than could be seen when dirty"),
        ("do", "reckon"),
    ];
    let page = desk.send("offer", "change", &wider).await;
    page.says(OK, "Nothing is proposed yet.")
        .says(OK, "More to pay")
        .says(OK, "Deeper marks than could be seen");
    assert!(desk.job().changes.is_empty());
    let propose: Vec<_> = wider.iter().map(|(n, v)| (*n, if *n == "do" { "propose" } else { v })).collect();
    desk.send("offer", "change", &propose).await.goes_to(&format!("/cars/{ID}/offer#changes"));
    desk.send("offer", "change", &propose).await.says(NOT_YET, "Change order 1 still waits for the customer");
    let first = desk.job().open_steps().next().unwrap().no;
    desk.send(&format!("step/{first}"), "start", &[])
        .await
        .says(NOT_YET, "Change order 1 waits for the customer");
    desk.studio.clock().advance(SignedDuration::from_mins(30));
    desk.send("offer", "answer-1", &[("no", "1"), ("do", "agree"), ("name", "")])
        .await
        .says(BAD, "There is no name under it");
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
    let page = desk
        .send(
            "route",
            "place",
            &[
                ("order", &listed(&open)),
                ("first", "1"),
                ("step", &open[0].to_string()),
                ("to", &(last + 5).to_string()),
            ],
        )
        .await;
    page.says(BAD, "among the open steps");
    let taken =
        [("order", order.as_str()), ("do", "take_on"), ("name", "Nadia"), ("reason", "A test of the page")];
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
    let crossed: [(&str, &str, &[u8]); 1] = [(
        "file",
        "hood.svg",
        b"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0L100 100L100 0L0 100Z'/></svg>",
    )];
    desk.upload("film", "outlines", &[("panel", "hood")], &crossed).await.says(BAD, "hood.svg: ");
    let svg = desk.page("cut/1.svg").await;
    assert_eq!((svg.status, svg.kind.as_str()), (OK, "image/svg+xml"));
    svg.says(OK, "PLANNING OUTLINES: NOT FOR CUTTING");
    desk.send("film", "cut", &[("planning_too", "on")]).await.goes_to(&format!("/cars/{ID}/film"));
    desk.page("film").await.says(OK, "What was cut");
    desk.page("cut/1.svg").await.says(OK, "PLANNING OUTLINES: NOT FOR CUTTING");
    desk.page("cut/9.svg").await.says(StatusCode::NOT_FOUND, "There is no cut file 9");
    desk.page("cut/1.pdf").await.says(StatusCode::NOT_FOUND, "There is no cut file '1.pdf'");
    desk.send("film", "undo", &[]).await.says(NOT_YET, "What is cut stays cut");

    let open: Vec<StepNo> = desk.job().open_steps().map(|s| s.no).collect();
    desk.page(&format!("step/{}", open[0])).await.says(OK, "Start this step").says(OK, "Why now");
    desk.page("step/999").await.says(StatusCode::NOT_FOUND, "There is no step 999");
    desk.send(&format!("step/{}", open[open.len() - 1]), "start", &[])
        .await
        .says(NOT_YET, "cannot begin yet");
    desk.send(&format!("step/{}", open[0]), "finish", &[]).await.says(NOT_YET, "was not started");
    desk.send("handover", "hand_over", &[("name", "Ilse")])
        .await
        .says(NOT_YET, "The car cannot be handed over yet");

    let first = format!("step/{}", open[0]);
    desk.send(&first, "start", &[]).await.goes_to(&format!("/cars/{ID}/{first}?undo=start"));
    desk.page(&first).await.says(OK, "data-left=").says(OK, "Done: finish the step");
    desk.send(&first, "pause", &[]).await.goes_to(&format!("/cars/{ID}/{first}?undo=pause"));
    desk.page(&first).await.says(OK, "Go on with it");
    desk.send(&first, "drop", &[("why", "")]).await.says(BAD, "No reason is given");
    work(&desk).await;
    assert!(desk.job().work.values().all(|r| r.state == StepState::Done));
    desk.page("work").await.says(OK, "On to the handover");

    desk.send("handover", "hand_over", &[("name", "Ilse")])
        .await
        .says(NOT_YET, "The final check is not complete");
    let checks = desk.studio.handover_view(&JobId(ID.into())).unwrap().checks;
    let mut fields: Vec<(&str, &str)> = checks.iter().map(|c| ("checked", c.as_str())).collect();
    fields.push(("name", ""));
    desk.send("handover", "hand_over", &fields).await.says(BAD, "There is no name under it");
    fields.last_mut().unwrap().1 = "Ilse";
    desk.send("handover", "hand_over", &fields).await.goes_to(&format!("/cars/{ID}/visits"));

    desk.send("visits", "visit-0", &[("index", "0"), ("seen", "Edges lie flat")])
        .await
        .goes_to(&format!("/cars/{ID}/visits#visits"));
    desk.send("visits", "visit-0", &[("index", "0")]).await.says(NOT_YET, "This visit is closed already");
    desk.send("visits", "claim", &[("panel", "hood"), ("what", "")])
        .await
        .says(BAD, "It is not said what failed");
    desk.send("visits", "claim", &[("panel", "hood"), ("what", "Edge lifts"), ("why", "Stone")])
        .await
        .goes_to(&format!("/cars/{ID}/visits#claim-1"));
    desk.page("visits").await.says(OK, "Edges lie flat").says(OK, "Edge lifts");
    claimed_and_reminded(&desk).await;
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

/// Claims on pieces of film, their answers, and the drafts for the customer.
async fn claimed_and_reminded(desk: &Desk) {
    let piece = desk.job().laid.iter().find(|p| p.panel.as_str() == "hood").unwrap().piece.clone();
    // The link of the map opens the form for this very piece, without scripts.
    let page = desk.page(&format!("visits?piece={piece}")).await;
    page.says(OK, &format!("data-piece=\"{piece}\"")).says(OK, "id=\"fold-claim\" open");
    // A piece says on which panel it lies, whatever else the form says.
    let fields = [
        ("piece", piece.as_str()),
        ("panel", "left_mirror"),
        ("kind", "chip"),
        ("since", "2026-05-01"),
        ("what", "Chip <b>through</b> the film"),
    ];
    desk.send("visits", "claim", &fields).await.goes_to(&format!("/cars/{ID}/visits#claim-2"));
    let claim = desk.job().claims[1].clone();
    assert_eq!((claim.panel.as_str(), claim.piece.as_deref()), ("hood", Some(piece.as_str())));
    assert_eq!((claim.kind, claim.spot), (Some(job::ClaimKind::Chip), None));
    desk.page("visits").await.says(OK, "Chip &lt;b&gt;through&lt;/b&gt; the film");
    desk.send("visits", "claim", &[("piece", "roof-9"), ("panel", "roof"), ("what", "x")])
        .await
        .says(StatusCode::NOT_FOUND, "No piece 'roof-9' lies on roof");
    desk.send("visits", "claim", &[("panel", "hood"), ("what", "x"), ("since", "2999-01-01")])
        .await
        .says(BAD, "seen since a day to come");
    // Both claims reach what is believed of film: the hood lies on the nose.
    let damage = desk.studio.learned_view().unwrap().damage;
    let claims = |zone| damage.iter().find(|d| d.zone == zone).unwrap().claims;
    assert_eq!(claims(job::FilmZone::Nose), 2);

    desk.send("visits", "answer-1", &[("index", "1"), ("text", "")]).await.says(BAD, "The answer is empty");
    desk.send("visits", "answer-7", &[("index", "7"), ("text", "x")])
        .await
        .says(StatusCode::NOT_FOUND, "There is no such claim");
    desk.send("visits", "answer-1", &[("index", "1"), ("text", "We renew the piece at our cost.")])
        .await
        .goes_to(&format!("/cars/{ID}/visits#claim-2"));
    let page = desk.page("visits").await;
    page.says(OK, "Dear Ilse Invented,")
        .says(OK, "We renew the piece at our cost.")
        .says(OK, "Nothing is sent by the program");
    // Kept as written, said to be sent, and then done with.
    let about = ("about", "claim-1");
    desk.send("visits", "remind-claim-1", &[about, ("text", "Dear Ilse, we renew it."), ("do", "keep")])
        .await
        .goes_to(&format!("/cars/{ID}/visits#reminders"));
    desk.page("visits").await.says(OK, "Dear Ilse, we renew it.").says(OK, "written anew, ");
    let sent = [about, ("text", "Dear Ilse, we renew it."), ("do", "sent")];
    desk.send("visits", "remind-claim-1", &sent).await.goes_to(&format!("/cars/{ID}/visits#reminders"));
    desk.send("visits", "remind-claim-1", &sent).await.says(NOT_YET, "done with already");
    desk.send("visits", "leave-visit-1", &[("about", "visit-1"), ("why", "")])
        .await
        .says(BAD, "No reason is given");
    desk.send("visits", "leave-visit-1", &[("about", "visit-1"), ("why", "moved away")])
        .await
        .goes_to(&format!("/cars/{ID}/visits#reminders"));
    desk.send("visits", "remind-nothing", &[("about", "nothing"), ("text", "x")])
        .await
        .says(StatusCode::NOT_FOUND, "There is no reminder 'nothing'");
    desk.page("visits").await.says(OK, "Sent or left, 2").says(OK, "moved away");
    // The board names what is due, until it is sent.
    desk.studio.clock().advance(SignedDuration::from_hours(24 * 365));
    desk.get("/").await.says(OK, "To be reminded").says(OK, "A year since the handover");
    desk.send("visits", "remind-year-1", &[("about", "year-1"), ("text", "Dear Ilse"), ("do", "sent")])
        .await
        .goes_to(&format!("/cars/{ID}/visits#reminders"));
    assert!(!desk.get("/").await.text().contains("A year since the handover"));
    desk.page("past").await.says(OK, "Reminder sent to the customer").says(OK, "Claim 2 answered");
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
        started.goes_to(&format!("/cars/{ID}/{path}?undo=start"));
        desk.studio.clock().advance(SignedDuration::from_mins(20));
        let checks = desk.studio.step_view(&JobId(ID.into()), step.no).unwrap().wanted;
        let checks = checks.iter().filter(|w| w.starts_with("Check: ")).count();
        if checks > 0 {
            desk.send(&path, "finish", &[]).await.says(BAD, "was not looked at yet");
        }
        let ticks: Vec<String> = (0..checks).map(|i| format!("check-{i}")).collect();
        let mut fields = vec![("note", "As planned")];
        fields.extend(ticks.iter().map(|t| (t.as_str(), "on")));
        desk.send(&path, "finish", &fields).await.goes_to(&format!("/cars/{ID}/{path}?undo=finish"));
    }
    panic!("the work does not come to its end");
}
