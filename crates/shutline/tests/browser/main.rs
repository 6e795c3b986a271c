//! Pages in a real browser: Chromium through its driver, on a studio made from the example job folder.
//!
//! Without Chromium these are skipped with a word; on a machine that nobody looks at (`CI`) that is a failure.
#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "tests")]

mod axe;
mod bay;
mod keys;
mod offline;
mod pictures;
mod stage;
mod visits;
mod walk;

use fantoccini::Locator;
use fantoccini::actions::{InputSource, MOUSE_BUTTON_LEFT, PointerAction, TouchActions};
use stage::stage;
use std::time::Duration;

#[tokio::test(flavor = "multi_thread")]
async fn a_finding_is_put_on_the_drawing_by_tapping() {
    let Some(stage) = stage(1280, 1400).await else { return };
    let client = &stage.client;
    client.goto(&format!("{}/cars/0001/arrival", stage.base)).await.unwrap();
    let roof = client.find(Locator::Css("svg [data-view=top] [data-panel=roof]")).await.unwrap();
    roof.click().await.unwrap();
    let said = client.find(Locator::Css(".tapped")).await.unwrap().text().await.unwrap();
    assert!(said.to_lowercase().contains("roof"), "{said}");
    client
        .execute(
            "const place = document.querySelector('[data-place]');\
             place.querySelector('select[name=kind]').value = 'dent';\
             place.querySelector('textarea[name=note]').value = 'found by the browser';\
             const severity = place.querySelector('[name=severity][value=marked]');\
             if (severity) severity.checked = true;",
            vec![],
        )
        .await
        .unwrap();
    client
        .execute(
            "const form = document.querySelector('[data-place]').closest('form');\
             form.requestSubmit(form.querySelector('button'));",
            vec![],
        )
        .await
        .unwrap();
    client
        .wait()
        .at_most(Duration::from_secs(20))
        .for_element(Locator::XPath("//td[contains(., 'found by the browser')]"))
        .await
        .unwrap();
    let row = client
        .find(Locator::XPath("//tr[td[contains(., 'found by the browser')]]"))
        .await
        .unwrap()
        .text()
        .await
        .unwrap();
    assert!(row.contains("Roof") && row.contains("Dent") && row.contains("marked"), "{row}");
    // It was tapped, so it has its spot: the list does not say that it is all over the panel.
    assert!(!row.contains("all of it"), "{row}");
    stage.client.close().await.unwrap();
}

/// Dragged to the right by a finger, px, in three moves.
fn by_finger(on: &fantoccini::elements::Element, by: f64) -> TouchActions {
    let step = PointerAction::MoveBy { duration: Some(Duration::from_millis(50)), x: by / 3.0, y: 0.0 };
    TouchActions::new("finger".into())
        .then(PointerAction::MoveToElement { element: on.clone(), duration: None, x: 0.0, y: 0.0 })
        .then(PointerAction::Down { button: MOUSE_BUTTON_LEFT })
        .then(step.clone())
        .then(step.clone())
        .then(step)
        .then(PointerAction::Up { button: MOUSE_BUTTON_LEFT })
}

#[tokio::test(flavor = "multi_thread")]
async fn a_finger_moves_an_entry_of_the_calendar() {
    let Some(stage) = stage(1280, 1000).await else { return };
    let client = &stage.client;
    visits::equipped(&keys::studio(&stage));
    keys::studio(&stage).keep_plan(&studio::Stamp::by("Nadia")).unwrap();
    client.goto(&format!("{}/calendar", stage.base)).await.unwrap();
    let entry = client.find(Locator::Css("[data-entry]")).await.unwrap();
    let scroll = "arguments[0].scrollIntoView({ block: 'center', inline: 'center' })";
    client.execute(scroll, vec![serde_json::to_value(&entry).unwrap()]).await.unwrap();
    client.perform_actions(by_finger(&entry, 60.0)).await.unwrap();
    // dropped on another entry it asks to swap, on a free place to be put there; either way it was dragged
    let asked = Locator::XPath("//h1[contains(., 'with this change')]");
    client.wait().at_most(Duration::from_secs(20)).for_element(asked).await.unwrap();
    assert!(client.current_url().await.unwrap().path() == "/calendar/try");
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_piece_of_film_is_dragged_and_kept() {
    let Some(stage) = stage(1280, 1400).await else { return };
    let client = &stage.client;
    client.goto(&format!("{}/stock", stage.base)).await.unwrap();
    let roll = "const form = document.querySelector('form[action=\"/stock/roll\"]');\
        const roll = { id: 'R-1', film: 'clear', width: '1520', left: '15', margin: '8', cost: '58' };\
        for (const [name, value] of Object.entries(roll)) form.elements[name].value = value;\
        form.requestSubmit();";
    client.execute(roll, vec![]).await.unwrap();
    let there = Locator::Css("#roll-R-1");
    client.wait().at_most(Duration::from_secs(20)).for_element(there).await.unwrap();
    client.goto(&format!("{}/cars/0001/film", stage.base)).await.unwrap();
    client.execute("document.querySelector('#fold-by-hand').open = true", vec![]).await.unwrap();
    let piece = client.find(Locator::Css("[data-hand] .piece")).await.unwrap();
    let scroll = "arguments[0].scrollIntoView({ block: 'center', inline: 'center' })";
    client.execute(scroll, vec![serde_json::to_value(&piece).unwrap()]).await.unwrap();
    // by a finger, as on a tablet: a browser that takes it for scrolling cancels it
    client.perform_actions(by_finger(&piece, 30.0)).await.unwrap();
    let said = Locator::XPath("//p[@data-said][contains(., 'Lies at') or contains(., 'cannot lie')]");
    client.wait().at_most(Duration::from_secs(20)).for_element(said).await.unwrap();
    client
        .execute(
            "const [piece] = arguments; piece.focus();\
             piece.dispatchEvent(new KeyboardEvent('keydown', { key: 'l', bubbles: true }));",
            vec![serde_json::to_value(&piece).unwrap()],
        )
        .await
        .unwrap();
    let locked = Locator::Css("[data-hand] .piece.locked");
    client.wait().at_most(Duration::from_secs(20)).for_element(locked).await.unwrap();
    let keep = client.find(Locator::Css("button[name=do][value=keep]")).await.unwrap();
    keep.click().await.unwrap();
    let kept = Locator::XPath("//*[contains(., 'Laid out and kept, not accepted yet')]");
    client.wait().at_most(Duration::from_secs(20)).for_element(kept).await.unwrap();
    let locked = client.find_all(Locator::Css("[data-hand] .piece.locked")).await.unwrap();
    assert_eq!(locked.len(), 1, "the lock is kept");
    stage.client.close().await.unwrap();
}
