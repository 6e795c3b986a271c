//! The shape of a panel: a scan attached, tape measures typed, the way to cut chosen.

use super::*;
use job::{CutState, Taken};

/// An invented bulging patch of 9 × 7 vertices, 400 × 300 mm, as OBJ.
fn scan() -> String {
    let mut text = String::new();
    for j in 0..7 {
        for i in 0..9 {
            let (x, y) = (f64::from(i) * 50.0, f64::from(j) * 50.0);
            let z = -(x - 200.0).powi(2) / 3000.0 - (y - 150.0).powi(2) / 2000.0;
            text.push_str(&format!("v {x} {y} {z}\n"));
        }
    }
    for j in 0..6 {
        for i in 0..8 {
            let a = j * 9 + i + 1;
            text.push_str(&format!("f {a} {} {} {}\n", a + 1, a + 10, a + 9));
        }
    }
    text
}

#[tokio::test]
async fn a_scan_is_laid_flat_and_its_piece_takes_the_place_of_the_planning_outline() {
    let desk = Desk::hatchback();
    let film = desk.page("film").await;
    film.says(OK, "Attach a scan of a panel");
    assert!(film.text().matches("drawing of the body").count() >= 2);
    desk.upload(
        "film",
        "scan",
        &[("panel", "hood"), ("unit", "")],
        &[("file", "hood.obj", scan().as_bytes())],
    )
    .await
    .goes_to(&format!("/cars/{ID}/film#shapes"));
    let page = desk.page("film").await;
    page.says(OK, "Panels laid flat")
        .says(OK, "Worst stretch")
        .says(OK, "No uncut piece can do better")
        .says(OK, "Nothing is chosen yet")
        .says(OK, "Hood, flat piece with its stretch");
    let Taken::Scan { unit, name, .. } = &desk.job().shapes[0].taken else { panic!("no scan") };
    assert_eq!((unit.as_str(), name.as_str()), ("mm", "hood.obj"));
    desk.send("film", "seams", &[("panel", "hood"), ("plan", "uncut")])
        .await
        .goes_to(&format!("/cars/{ID}/film#shapes"));
    let job = desk.job();
    assert_eq!((job.seams[0].plan.as_str(), job.pieces.len()), ("uncut", 1));
    assert!(!job.pieces[0].planning_only && job.seams[0].worst_percent >= job.seams[0].bound_percent);
    let page = desk.page("film").await;
    page.says(OK, "chosen").says(OK, "scan hood.obj, laid flat, worst stretch");
    assert_eq!(page.text().matches("drawing of the body").count(), 1, "the mirror alone is planned");
    // the surface for the module that turns it
    let solid = desk.page("shape/hood").await;
    assert_eq!((solid.status, solid.kind.as_str()), (OK, "application/octet-stream"));
    let count = |at: usize| u32::from_le_bytes(solid.bytes[at..at + 4].try_into().unwrap()) as usize;
    assert_eq!(solid.bytes.len(), 8 + 16 * count(0) + 12 * count(4));
    // the cut sheet shows it
    assert_eq!(desk.page("doc/cut.pdf").await.kind, "application/pdf");
    assert!(job.cut.is_none() || job.cut.as_ref().is_some_and(|c| c.state != CutState::Cut));
}

#[tokio::test]
async fn tape_measures_do_where_there_is_no_scan() {
    let desk = Desk::hatchback();
    let middle = [
        ("panel", "hood"),
        ("along_2_arc", "1200"),
        ("along_2_sag", "42"),
        ("across_2_arc", "800"),
        ("across_2_sag", "15"),
    ];
    desk.send("film", "tapes", &middle).await.goes_to(&format!("/cars/{ID}/film#shapes"));
    desk.page("film").await.says(OK, "2 tape measures, laid flat").says(OK, "knows no crease");
    desk.send("film", "tapes", &[("panel", "hood"), ("along_2_arc", "1200"), ("along_2_sag", "60")])
        .await
        .says(BAD, "One to three tapes across are needed");
    desk.send("film", "tapes", &[("panel", "hood"), ("along_1_sag", "9")])
        .await
        .says(BAD, "The arc of this tape is missing");
}

#[tokio::test]
async fn what_is_no_scan_is_refused_with_a_way_on() {
    let desk = Desk::hatchback();
    let sent = |name: &'static str, bytes: &'static [u8]| {
        let desk = &desk;
        async move { desk.upload("film", "scan", &[("panel", "hood")], &[("file", name, bytes)]).await }
    };
    sent("hood.pdf", b"%PDF-1.7").await.says(BAD, "This is no mesh file that is known here");
    sent("hood.obj", b"v 0 0 0\nv x\n").await.says(BAD, "hood.obj, line 2");
    desk.upload("film", "scan", &[("panel", "hood")], &[]).await.says(BAD, "No file was chosen");
    desk.send("film", "seams", &[("panel", "hood"), ("plan", "uncut")])
        .await
        .says(StatusCode::NOT_FOUND, "has no scan and no measures");
    assert!(desk.job().shapes.is_empty());
}

#[tokio::test]
async fn cuts_drawn_by_hand_keep_out_of_zones_and_carry_marks_to_the_pieces() {
    let desk = Desk::hatchback();
    desk.upload(
        "film",
        "scan",
        &[("panel", "hood"), ("unit", "mm")],
        &[("file", "hood.obj", scan().as_bytes())],
    )
    .await
    .goes_to(&format!("/cars/{ID}/film#shapes"));
    let line = "0 150 -13.3\n150 150 -0.8";
    desk.send("film", "draw.hood", &[("lines", line)]).await.goes_to(&format!("/cars/{ID}/film#cuts-hood"));
    let plans = studio::view::seam_plans(&desk.job(), &"hood".into());
    assert_eq!((plans.len(), plans[0].name.as_str(), plans[0].areas.len()), (1, "drawn_1", 1));
    assert!((plans[0].in_sight.as_mm() - 151.0).abs() < 3.0, "{:?}", plans[0].in_sight);
    desk.page("film")
        .await
        .says(OK, "One relief cut, drawn by hand")
        .says(OK, "cuts in sight against worst stretch");
    desk.send("film", "seams", &[("panel", "hood"), ("plan", "drawn_1")])
        .await
        .goes_to(&format!("/cars/{ID}/film#shapes"));
    let job = desk.job();
    assert_eq!((job.seams[0].plan.as_str(), job.pieces.len()), ("drawn_1", 1));
    assert!(!job.pieces[0].marks_mm.is_empty());
    assert!(job.seams[0].in_sight.is_some_and(|l| (l.as_mm() - 151.0).abs() < 3.0));
    desk.page("film").await.says(OK, "Hood, cut, flat pieces with their stretch");
    // the marks go to the cutter
    let file = desk.page("cut/1.dxf").await;
    assert!(file.text().to_lowercase().contains("marks"), "a layer of marks");
    // a zone across the line
    let ring = "80 120 -5\n120 120 -2\n120 180 -2\n80 180 -5";
    desk.send("film", "zone.hood", &[("name", "badge"), ("rule", "forbidden"), ("ring", ring)])
        .await
        .goes_to(&format!("/cars/{ID}/film#cuts-hood"));
    desk.page("film").await.says(OK, "badge: no cut");
    desk.send("film", "draw.hood", &[("lines", line)]).await.says(BAD, "zone where none may be");
    desk.send("film", "draw.hood", &[("lines", "0 150")]).await.says(BAD, "a place needs three numbers");
    desk.send("film", "draw.hood", &[("lines", "100 100 -4\n200 100 -1")])
        .await
        .says(BAD, "does not begin at the rim");
    desk.send("film", "draw.hood", &[("lines", "0 150 -13.3")]).await.says(BAD, "two places");
    // what lies out of sight is not counted
    desk.send("film", "unzone.hood", &[]).await.goes_to(&format!("/cars/{ID}/film#cuts-hood"));
    desk.send("film", "zone.hood", &[("name", "under the badge"), ("rule", "out_of_sight"), ("ring", ring)])
        .await
        .goes_to(&format!("/cars/{ID}/film#cuts-hood"));
    desk.send("film", "draw.hood", &[("lines", line)]).await.goes_to(&format!("/cars/{ID}/film#cuts-hood"));
    let plans = studio::view::seam_plans(&desk.job(), &"hood".into());
    let hidden = plans[0].length.as_mm() - plans[0].in_sight.as_mm();
    assert!((hidden - 40.0).abs() < 6.0, "{hidden} mm out of sight");
}

#[tokio::test]
async fn cuts_are_searched_beside_everything_else_and_kept_with_the_job() {
    let desk = Desk::hatchback();
    let fields = [("panel", "left_front_fender"), ("unit", "mm")];
    desk.upload("film", "scan", &fields, &[("file", "fender.obj", scan().as_bytes())]).await;
    let panel = "left_front_fender".into();
    desk.send("film", "propose.left_front_fender", &[])
        .await
        .goes_to(&format!("/cars/{ID}/film#cuts-left_front_fender"));
    let mut waited = 0;
    while desk.studio.cut_search_state(&JobId(ID.into()), &panel).is_some_and(|s| s.running) {
        waited += 1;
        assert!(waited < 6000, "the search does not end");
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    let job = desk.job();
    let plans = studio::view::seam_plans(&job, &panel);
    assert!(plans.len() >= 2 && plans[0].cuts.is_empty(), "{} plans", plans.len());
    assert!(plans.windows(2).all(|p| p[1].worst < p[0].worst && p[1].in_sight > p[0].in_sight));
    desk.page("film").await.says(OK, "ways to cut it were found").says(OK, "This way, both sides");
    // both sides: the partner gets the mirrored pieces and the same choice
    let plan = plans[1].name.clone();
    desk.send("film", "seams", &[("panel", "left_front_fender"), ("plan", &plan), ("both_sides", "on")])
        .await
        .goes_to(&format!("/cars/{ID}/film#shapes"));
    let job = desk.job();
    let of =
        |side: &str| job.pieces.iter().filter(|p| p.panel.as_str() == format!("{side}_front_fender")).count();
    assert_eq!((of("left"), of("right")), (plans[1].areas.len(), plans[1].areas.len()));
    assert_eq!(job.seams.len(), 2);
}
