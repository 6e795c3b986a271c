//! In the bay: who may do what on a device, taps that can be taken back, timers that go on, two people on one job.

use crate::stage::{OWNER, Stage, stage};
use fantoccini::Locator;
use job::{JobId, Role, StepState};
use std::time::Duration;
use studio::{Stamp, Studio};

fn studio(stage: &Stage) -> Studio {
    Studio::open(&stage.studio).unwrap()
}

async fn type_in(stage: &Stage, css: &str, text: &str) {
    let field = stage.client.find(Locator::Css(css)).await.unwrap();
    field.clear().await.unwrap();
    field.send_keys(text).await.unwrap();
}

async fn sign_in(stage: &Stage, name: &str, pin: &str) {
    stage.open("/door").await;
    stage
        .client
        .find(Locator::Css(&format!("form#in input[name=name][value='{name}']")))
        .await
        .unwrap()
        .click()
        .await
        .unwrap();
    type_in(stage, "form#in input[name=pin]", pin).await;
    stage.client.find(Locator::Css("form#in button.main")).await.unwrap().click().await.unwrap();
    stage.until("somebody signed in", "return !!document.querySelector('details.who');").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn people_take_over_at_a_device_with_their_pin() {
    let Some(stage) = stage(820, 1180).await else { return };
    let name = {
        let studio = studio(&stage);
        let shop = studio.shop().unwrap();
        let person = shop.settings.people.iter().find(|p| p.role == Role::Technician).cloned();
        let person = person.unwrap_or_else(|| {
            let new = job::Person { name: "Ravi".into(), ..job::Person::default() };
            let mut settings = shop.settings.clone();
            settings.people.push(new.clone());
            studio.set_shop(&Stamp::by("Nadia"), &settings).unwrap();
            new
        });
        studio.set_pin(&person.name, "4826").unwrap();
        person.name
    };
    sign_in(&stage, &name, "4826").await;
    let top = stage.client.find(Locator::Css("header.top")).await.unwrap().text().await.unwrap();
    assert!(top.contains(&name) && !top.contains("Shop"), "{top}");
    stage.open("/cars/0001/offer").await;
    let text = stage.client.find(Locator::Css("#main")).await.unwrap().text().await.unwrap();
    assert!(text.contains("the owner and the front desk"), "{text}");
    sign_in(&stage, OWNER[0].1, OWNER[3].1).await;
    stage.open("/shop").await;
    assert!(stage.client.find(Locator::Css("#doors")).await.is_ok());
    stage.client.close().await.unwrap();
}

async fn first_step(stage: &Stage) -> String {
    let id = JobId("0001".into());
    let studio = studio(stage);
    studio.set_route(&id, &Stamp::by("Nadia")).unwrap();
    let view = studio.route_view(&id).unwrap();
    let step = view.steps.iter().find(|s| s.needs.is_empty()).unwrap();
    format!("/cars/0001/step/{}", step.planned.no)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_tap_can_be_taken_back_for_ten_seconds_and_timers_go_on() {
    let Some(stage) = stage(500, 900).await else { return };
    let card = first_step(&stage).await;
    stage.open(&card).await;
    let start = stage.client.find(Locator::Css(".taps button.giant.main")).await.unwrap();
    let (_, _, _, height) = start.rectangle().await.unwrap();
    assert!(height >= 64.0, "{height}");
    start.click().await.unwrap();
    stage.until("the way back", "return /Undo \\(\\d+\\)/.test(document.querySelector('[data-seconds] button')?.textContent ?? '');").await;
    stage.client.find(Locator::Css("[data-seconds] button")).await.unwrap().click().await.unwrap();
    stage
        .until("the step to be open again", "return !!document.querySelector('.taps input[value=start]');")
        .await;
    let no = job::StepNo(card.rsplit('/').next().unwrap().parse().unwrap());
    assert_eq!(studio(&stage).job(&JobId("0001".into())).unwrap().job.step_state(no), StepState::Todo);
    // Started again; after ten seconds the way back is behind its fold.
    stage.client.find(Locator::Css(".taps button.giant.main")).await.unwrap().click().await.unwrap();
    stage.until("the way back", "return !!document.querySelector('[data-seconds]');").await;
    // The taps stay at the foot of the screen: what lies behind them is scrolled out, as a hand does.
    stage.run("document.querySelector(\"[data-minutes='3']\").scrollIntoView({ block: 'center' }); return true;").await;
    stage.client.find(Locator::Css("[data-minutes='3']")).await.unwrap().click().await.unwrap();
    stage
        .until("the timer", "return /^2:5\\d/.test(document.querySelector('.timers b')?.textContent ?? '');")
        .await;
    tokio::time::sleep(Duration::from_secs(11)).await;
    assert!(stage.client.find(Locator::Css("[data-seconds]")).await.is_err());
    // Another page, and the timer goes on there.
    stage.open("/stock").await;
    stage
        .until(
            "the timer",
            "return /^2:[34]\\d/.test(document.querySelector('.timers b')?.textContent ?? '');",
        )
        .await;
    // It runs out, and sounds until it was heard.
    stage
        .run(
            "const list = JSON.parse(localStorage['shutline.timers']); list[0].end = Date.now() + 1500;\
             localStorage['shutline.timers'] = JSON.stringify(list); window.sounded = 0;\
             document.addEventListener('sounded', () => (window.sounded += 1)); return true;",
        )
        .await;
    stage.client.find(Locator::Css("h1")).await.unwrap().click().await.unwrap();
    stage.until("the sound", "return window.sounded > 0 && !!document.querySelector('.timers .over');").await;
    stage.client.find(Locator::Css(".timers button")).await.unwrap().click().await.unwrap();
    assert!(stage.client.find(Locator::Css(".timers")).await.is_err());
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn two_people_on_one_job_do_not_overwrite_one_another() {
    let Some(stage) = stage(820, 1180).await else { return };
    let id = JobId("0001".into());
    stage.open("/cars/0001/arrival").await;
    let form = stage.run("return document.querySelector('form input[name=before]').form.id;").await;
    let form = form.as_str().unwrap().to_owned();
    stage.run(&format!("const d = document.querySelector('#{form}').closest('details'); if (d) d.open = true; return true;")).await;
    type_in(&stage, &format!("#{form} [name=belongings]"), "child seat").await;
    // Meanwhile somebody else goes on with the same job.
    studio(&stage).note(&id, &Stamp::by("Ravi"), "moved to bay 2").unwrap();
    stage.until("word of it", "return !!document.querySelector('.overtaken');").await;
    stage.run(&format!("const f = document.querySelector('#{form}'); f.requestSubmit(f.querySelector('button')); return true;")).await;
    stage.until("what changed", "return /changed since this page was opened/.test(document.querySelector('[role=alert]')?.textContent ?? '');").await;
    let alert = stage.client.find(Locator::Css("[role=alert]")).await.unwrap().text().await.unwrap();
    assert!(alert.contains("noted by Ravi"), "{alert}");
    let kept = stage.client.find(Locator::Css(&format!("#{form} [name=belongings]"))).await.unwrap();
    let kept = kept.prop("value").await.unwrap().unwrap();
    assert_eq!(kept, "child seat");
    assert!(
        studio(&stage).job(&id).unwrap().job.arrival.as_ref().is_none_or(|a| a.belongings != "child seat")
    );
    stage.run(&format!("const f = document.querySelector('#{form}'); f.requestSubmit(f.querySelector('button')); return true;")).await;
    stage
        .until(
            "it to be saved",
            "return !document.querySelector('[role=alert]') && document.readyState === 'complete';",
        )
        .await;
    tokio::time::sleep(Duration::from_millis(500)).await;
    assert_eq!(studio(&stage).job(&id).unwrap().job.arrival.as_ref().unwrap().belongings, "child seat");
    stage.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_changes_under_the_eyes_of_who_only_looks() {
    let Some(stage) = stage(820, 1180).await else { return };
    stage.open("/cars/0001/work").await;
    studio(&stage).note(&JobId("0001".into()), &Stamp::by("Ravi"), "sunroof drips").unwrap();
    stage.until("the note", "return /sunroof drips/.test(document.querySelector('#main').innerText);").await;
    stage.client.close().await.unwrap();
}
