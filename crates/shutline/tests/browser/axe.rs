//! Rules for people who see, hear or move otherwise, by axe-core (see `tests/data/SOURCE.md`): nothing at the door, and
//! planted faults are found. All other pages are in `walk`.

use crate::stage::{Stage, closed};
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
