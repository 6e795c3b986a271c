//! The film sheet: choices, longer searches, pieces moved by hand, outlines, cut files, and what was cut.

use super::*;
use job::{CutPlacement, CutState, OneLot};
use std::time::Duration;
use studio::view::FilmView;

impl Desk {
    fn film(&self) -> FilmView {
        self.studio.film_view(&JobId(ID.into())).unwrap()
    }

    fn placements(&self) -> Vec<CutPlacement> {
        self.film().drawings.iter().flat_map(|d| &d.pieces).map(|p| p.at.clone()).collect()
    }

    /// Waits for a search to end; what came of it.
    async fn searched(&self) -> String {
        loop {
            match self.studio.search_state(&JobId(ID.into())) {
                Some(state) if !state.running => return state.ended,
                _ => tokio::time::sleep(Duration::from_millis(20)).await,
            }
        }
    }

    async fn tried(&self, moves: &[CutPlacement]) -> serde_json::Value {
        let moves = serde_json::to_string(moves).unwrap();
        let answer = self.send("film/try", "", &[("moves", &moves)]).await;
        assert_eq!(answer.status, OK);
        serde_json::from_slice(&answer.bytes).unwrap()
    }
}

/// Apart from what a round trip through text may change.
fn same(a: &CutPlacement, b: &CutPlacement) -> bool {
    (&a.piece, a.copy, &a.container) == (&b.piece, b.copy, &b.container)
        && (a.x_mm - b.x_mm).abs() < 1e-6
        && (a.y_mm - b.y_mm).abs() < 1e-6
        && (a.degrees - b.degrees).abs() < 1e-9
}

#[tokio::test]
async fn each_choice_is_reckoned_and_one_is_chosen() {
    let desk = Desk::hatchback();
    desk.page("film").await.says(OK, "Reckon what each choice costs");
    desk.send("film", "search", &[("kind", "choices")]).await.goes_to(&format!("/cars/{ID}/film#search"));
    assert_eq!(desk.searched().await, "");
    desk.page("film").await.says(OK, "From the roll alone").says(OK, "each side from one batch");
    let choice = [("offcuts", "no"), ("one_lot", "sides"), ("roll", "")];
    desk.send("film", "choose", &choice).await.goes_to(&format!("/cars/{ID}/film#layout"));
    assert!(desk.job().wish.no_offcuts && desk.job().wish.one_lot == OneLot::Sides);
    desk.send("film", "choose", &[("roll", "R-none")])
        .await
        .says(StatusCode::NOT_FOUND, "There is no roll R-none");
}

#[tokio::test]
async fn a_piece_is_moved_by_hand_locked_and_the_rest_laid_out_around_it() {
    let desk = Desk::hatchback();
    let before = desk.placements();
    let hood = before.iter().find(|p| p.piece == "hood").unwrap();
    let mirror = before.iter().find(|p| p.piece == "left_mirror").unwrap();
    // far down the roll there is room
    let moved = CutPlacement { x_mm: hood.x_mm + 3000.0, ..hood.clone() };
    let tried = desk.tried(std::slice::from_ref(&moved)).await;
    assert_eq!(tried["ok"], true, "{tried}");
    let lies: CutPlacement = serde_json::from_value(tried["place"].clone()).unwrap();
    assert!(desk.job().wish.placements.is_empty(), "trying keeps nothing");
    let outside = desk.tried(&[CutPlacement { y_mm: hood.y_mm + 4000.0, ..hood.clone() }]).await;
    assert_eq!(outside["ok"], false);
    assert!(outside["said"].as_str().unwrap().contains("too close to the edge"), "{outside}");

    let moves = serde_json::to_string(&[&lies]).unwrap();
    desk.send("film", "hand", &[("moves", &moves), ("locked", "0 hood"), ("do", "keep")])
        .await
        .goes_to(&format!("/cars/{ID}/film#layout"));
    desk.page("film").await.says(OK, "Laid out and kept, not accepted yet");
    assert!(desk.placements().iter().any(|p| same(p, &lies)));
    assert!(desk.placements().iter().any(|p| same(p, mirror)), "the other piece stays");

    // one on the other is refused and changes nothing
    let middle =
        desk.film().drawings.iter().flat_map(|d| &d.pieces).find(|p| p.at.piece == "hood").map(|p| {
            let n = p.corners_mm.len() as f64;
            p.corners_mm.iter().fold((0.0, 0.0), |(a, b), c| (a + c.0 / n, b + c.1 / n))
        });
    let (x, y) = middle.unwrap();
    let onto = CutPlacement { container: lies.container.clone(), x_mm: x, y_mm: y, ..mirror.clone() };
    let moves = serde_json::to_string(&[onto]).unwrap();
    desk.send("film", "hand", &[("moves", &moves)]).await.says(BAD, "It cannot lie there");
    assert!(desk.placements().iter().any(|p| same(p, mirror)));
    desk.send("film", "hand", &[("moves", "{]")]).await.says(BAD, "The moves cannot be read");

    desk.send("film", "hand", &[("locked", "0 hood"), ("do", "again")])
        .await
        .goes_to(&format!("/cars/{ID}/film#search"));
    desk.studio.stop_search(&JobId(ID.into()));
    let ended = desk.searched().await;
    assert!(ended.contains("locked pieces") || ended.contains("saved"), "{ended}");
    assert!(desk.placements().iter().any(|p| same(p, &lies)), "what is locked stays");
}

#[tokio::test]
async fn a_piece_is_moved_by_numbers_without_scripts() {
    let desk = Desk::hatchback();
    let hood = desk.placements().into_iter().find(|p| p.piece == "hood").unwrap();
    let numbers = [("piece", "0 hood"), ("along", "2500"), ("across", "0"), ("turn", "180")];
    desk.send("film", "move", &numbers).await.goes_to(&format!("/cars/{ID}/film#layout"));
    let now = desk.placements().into_iter().find(|p| p.piece == "hood").unwrap();
    assert!(((now.degrees - hood.degrees).rem_euclid(360.0) - 180.0).abs() < 1e-6, "{now:?}");
    desk.send("film", "move", &[("piece", "0 nothing")]).await.says(StatusCode::NOT_FOUND, "no such piece");
}

#[tokio::test]
async fn a_longer_search_shows_how_far_it_is_and_stops_on_demand() {
    let desk = Desk::hatchback();
    let length = |v: &FilmView| v.plan.as_ref().unwrap().length.as_mm();
    let first = length(&desk.film());
    desk.send("film", "search", &[("kind", "shorter")]).await.goes_to(&format!("/cars/{ID}/film#search"));
    // twice is once
    desk.send("film", "search", &[("kind", "shorter")]).await.goes_to(&format!("/cars/{ID}/film#search"));
    let request = Request::get(format!("/cars/{ID}/film/search")).header(header::HOST, "localhost");
    let stream = desk.pages.clone().oneshot(request.body(Body::empty()).unwrap()).await.unwrap();
    assert_eq!(stream.headers()[header::CONTENT_TYPE], "text/event-stream");
    desk.send("film", "stop", &[]).await.goes_to(&format!("/cars/{ID}/film#search"));
    let told = to_bytes(stream.into_body(), 1 << 20).await.unwrap();
    assert!(String::from_utf8_lossy(&told).contains("event: end"), "the stream ends with the search");
    let ended = desk.searched().await;
    assert!(ended.contains("saved") || ended.contains("No shorter layout"), "{ended}");
    assert!(length(&desk.film()) <= first);
}

#[tokio::test]
async fn what_was_accepted_is_what_is_drawn_and_cut() {
    let desk = Desk::hatchback();
    let hood = desk.placements().into_iter().find(|p| p.piece == "hood").unwrap();
    let numbers = [("piece", "0 hood"), ("along", "1700"), ("across", "0"), ("turn", "0")];
    desk.send("film", "move", &numbers).await;
    let by_hand = desk.placements();
    assert!(!by_hand.iter().any(|p| same(p, &hood)));
    desk.send("film", "accept", &[]).await.goes_to(&format!("/cars/{ID}/film#cutting"));
    let all_same = |now: &[CutPlacement]| {
        now.len() == by_hand.len() && now.iter().zip(&by_hand).all(|(a, b)| same(a, b))
    };
    assert!(all_same(&desk.placements()));
    desk.send("film", "choose", &[("offcuts", "no")]).await.says(NOT_YET, "This layout is accepted");
    desk.send("film", "search", &[("kind", "shorter")]).await.says(NOT_YET, "This layout is accepted");
    let left = |desk: &Desk| {
        let shop = desk.studio.shop().unwrap();
        let roll = desk.job().cut.clone().unwrap().roll;
        shop.rolls.iter().find(|r| r.id == roll).map(|r| (r.left.as_mm(), r.free().as_mm())).unwrap()
    };
    let plan = desk.job().cut.clone().unwrap();
    let (before, free) = left(&desk);
    assert!((before - free - plan.length.as_mm()).abs() < 1e-6, "film is set aside");
    desk.send("film", "cut", &[("planning_too", "on")]).await.goes_to(&format!("/cars/{ID}/film"));
    let (after, _) = left(&desk);
    assert!((before - after - plan.length.as_mm()).abs() < 1e-6, "the length is booked");
    assert_eq!(desk.job().cut.as_ref().unwrap().state, CutState::Cut);
    assert!(all_same(&desk.placements()), "the sheet shows what was cut, not what would be laid out now");
    desk.page("film").await.says(OK, "What was cut").says(OK, "Cut file, DXF");
    let pdf = desk.page("doc/cut.pdf").await;
    assert!(pdf.bytes.starts_with(b"%PDF"));
    // what is left is on the shelf with its batch
    let shop = desk.studio.shop().unwrap();
    let kept: Vec<_> = shop.offcuts.iter().filter(|o| o.id.starts_with("0001-")).collect();
    assert!(!kept.is_empty() && kept.iter().all(|o| o.lot == plan.lot && o.roll == plan.roll), "{kept:?}");
}

#[tokio::test]
async fn film_comes_from_two_rolls_where_one_does_not_hold_all() {
    let desk = Desk::hatchback();
    let stamp = studio::Stamp { by: "Ines".into(), ..studio::Stamp::default() };
    let choice = [("offcuts", "no"), ("one_lot", "no"), ("roll", "")];
    desk.send("film", "choose", &choice).await.goes_to(&format!("/cars/{ID}/film#layout"));
    let hoods = job::Piece {
        id: "hood".into(),
        panel: "hood".into(),
        outline_mm: vec![[0.0, 0.0], [1300.0, 0.0], [1300.0, 1400.0], [0.0, 1400.0]],
        count: 2,
        ..job::Piece::default()
    };
    desk.studio.set_pieces(&JobId(ID.into()), &stamp, &[hoods]).unwrap();
    let need = desk.film().plan.unwrap().length;
    // every roll is counted anew, with less than all pieces need
    for roll in desk.studio.shop().unwrap().rolls.clone() {
        let short = job::Roll { left: need * 0.75, film: "clear".into(), ..roll };
        desk.studio.receive_roll(&stamp, &short).unwrap();
    }
    let view = desk.film();
    assert_eq!(view.problem, None);
    let plan = view.plan.unwrap();
    assert_eq!(plan.further.len(), 1, "{plan:?}");
    assert!(plan.rolls().all(|r| r.length > units::Length::ZERO && r.length <= need * 0.75));
    desk.send("film", "accept", &[]).await.goes_to(&format!("/cars/{ID}/film#cutting"));
    let id = JobId(ID.into());
    let shop = desk.studio.shop().unwrap();
    let before: Vec<_> =
        plan.rolls().map(|r| shop.rolls.iter().find(|s| s.id == r.roll).unwrap().clone()).collect();
    assert!(before.iter().all(|r| r.reserved_mm.contains_key(&id)), "film is set aside on both");
    desk.page("film").await.says(OK, &plan.roll).says(OK, &plan.further[0].roll);
    desk.send("film", "cut", &[("planning_too", "on")]).await.goes_to(&format!("/cars/{ID}/film"));
    let shop = desk.studio.shop().unwrap();
    for (taken, was) in plan.rolls().zip(&before) {
        let now = shop.rolls.iter().find(|r| r.id == taken.roll).unwrap();
        assert!((was.left.as_mm() - now.left.as_mm() - taken.length.as_mm()).abs() < 1e-6);
        assert!(now.reserved_mm.is_empty());
    }
    desk.page("film").await.says(OK, "What was cut").says(OK, "Taken from rolls");
}

#[tokio::test]
async fn an_accepted_layout_is_undone_before_cutting() {
    let desk = Desk::hatchback();
    desk.send("film", "accept", &[]).await;
    desk.send("film", "undo", &[]).await.goes_to(&format!("/cars/{ID}/film"));
    let shop = desk.studio.shop().unwrap();
    assert!(shop.rolls.iter().all(|r| r.reserved_mm.is_empty()));
    desk.page("film").await.says(OK, "Laid out, not accepted yet");
}

#[tokio::test]
async fn outlines_come_as_dxf_and_for_both_sides() {
    let desk = Desk::hatchback();
    let dxf = b"0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n8\nfilm\n70\n1\n10\n0\n20\n0\n10\n300\n20\n0\n10\n280\n20\n200\n0\nCIRCLE\n8\nfilm\n10\n250\n20\n50\n40\n8\n0\nENDSEC\n0\nEOF\n";
    let file: [(&str, &str, &[u8]); 1] = [("file", "mirror.dxf", dxf)];
    desk.upload("film", "outlines", &[("panel", "left_mirror"), ("both_sides", "on")], &file)
        .await
        .goes_to(&format!("/cars/{ID}/film#pieces"));
    let job = desk.job();
    let piece = |id: &str| job.pieces.iter().find(|p| p.id == id).unwrap();
    let (left, right) = (piece("left_mirror"), piece("right_mirror"));
    assert_eq!((left.inner_mm.len(), right.inner_mm.len()), (1, 1));
    assert!(right.outline_mm.iter().all(|[x, y]| left.outline_mm.contains(&[-x, *y])));
    desk.upload("film", "outlines", &[("panel", "hood"), ("both_sides", "on")], &file)
        .await
        .says(BAD, "has no partner on the other side");
    // the hole is cut too
    let cut = desk.page("cut/1.dxf").await;
    assert_eq!((cut.status, cut.kind.as_str()), (OK, "image/vnd.dxf"));
    desk.page("cut/1.plt").await.says(OK, "IN;PA;").says(OK, "SP1;");
}
