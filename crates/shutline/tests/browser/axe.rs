//! Rules for people who see, hear or move otherwise, by axe-core (see `tests/data/SOURCE.md`): nothing on any page, by day
//! and by night, and planted faults are found.

use crate::PAGES;
use crate::stage::{Stage, closed, stage};
use serde_json::Value;

const AXE: &str = include_str!("../data/axe.min.js");

/// What the rules find on the page that is open: rule, where, why.
pub async fn found(stage: &Stage) -> Vec<String> {
    // The driver runs scripts outside the page's policy, as a person's own tools do.
    stage.run(&format!("{AXE}; return true;")).await;
    let script = r#"
        const done = arguments[arguments.length - 1];
        axe.run(document, { resultTypes: ["violations"] }).then(
          (r) => done(r.violations.flatMap((v) => v.nodes.map((n) =>
            `${v.id}: ${n.html.slice(0, 160)} (${(n.any[0] ?? n.all[0] ?? n.none[0])?.message ?? ""})`))),
          (e) => done([String(e)]));
    "#;
    let list = stage.client.execute_async(script, vec![]).await.unwrap();
    list.as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect()
}

/// Opens all folds: what lies behind them is looked at too.
pub const UNFOLD: &str =
    "document.querySelectorAll('main details').forEach((d) => (d.open = true)); return true;";

async fn pages(width: u32, scheme: &str) {
    let Some(stage) = stage(width, 1100).await else { return };
    let mut faults = Vec::new();
    // The example's route is set, so that there is a step to look at.
    stage.open("/cars/0001/route").await;
    let _ = stage
        .run("const f = document.querySelector('form input[name=form][value=set]'); if (f) f.form.requestSubmit(); return !!f;")
        .await;
    tokio::time::sleep(std::time::Duration::from_millis(1500)).await;
    let more =
        ["/cars/0001/step/1", "/cars/0001/past", "/door", "/help", "/cars?q=nothing-has-this", "/nowhere"];
    let over = crate::visits::handed_over(&stage.studio, Some("hood"));
    let visits = format!("/cars/{over}/visits?piece=hood");
    for page in PAGES.iter().chain(&more).copied().chain([visits.as_str()]) {
        stage.open(page).await;
        if scheme == "dark" {
            stage.run("document.documentElement.dataset.theme = 'night'; return true;").await;
        }
        stage.run(UNFOLD).await;
        faults.extend(found(&stage).await.into_iter().map(|f| format!("{page}: {f}")));
    }
    stage.client.clone().close().await.unwrap();
    faults.sort();
    faults.dedup();
    assert!(
        faults.is_empty(),
        "{} faults\n{}",
        faults.len(),
        faults.iter().take(40).cloned().collect::<Vec<_>>().join("\n")
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_found_on_any_page_at_a_desk() {
    pages(1280, "light").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_found_on_any_page_on_a_phone_at_night() {
    pages(500, "dark").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_found_at_the_door_before_the_first_start() {
    let Some(stage) = closed(820, 1100, |port| port).await else { return };
    stage.open("/").await;
    assert_eq!(found(&stage).await, Vec::<String>::new());
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn planted_faults_are_found() {
    let Some(stage) = closed(820, 1100, |port| port).await else { return };
    stage.open("/").await;
    stage
        .run(
            "document.querySelector('main').innerHTML = `<h1>Bad</h1><img src='/assets/x/mark.svg'><input name='x'>\
             <button></button><p id='pale'>Pale words that nobody can read</p><a href='/'></a>\
             <div role='checkbox'>x</div>`;\
             const pale = document.getElementById('pale');\
             pale.style.color = '#999'; pale.style.background = '#aaa'; return true;",
        )
        .await;
    let found = found(&stage).await.join("\n");
    for rule in ["image-alt", "label", "button-name", "color-contrast", "link-name", "aria-required-attr"] {
        assert!(found.contains(&format!("{rule}:")), "{rule} is not found in\n{found}");
    }
    stage.client.close().await.unwrap();
}
