//! Pages in a real browser: Chromium through its driver, on a studio made from the example job folder.
//!
//! Without Chromium these are skipped with a word; on a machine that nobody looks at (`CI`) that is a failure.
#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "tests")]

use fantoccini::actions::{InputSource, MOUSE_BUTTON_LEFT, MouseActions, PointerAction};
use fantoccini::wd::Capabilities;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::json;
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A process that ends with the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn wait_for(port: u16) {
    for _ in 0..600 {
        if std::net::TcpStream::connect(("127.0.0.1", port)).is_ok() {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("nothing listens on port {port}");
}

fn driver() -> Option<String> {
    let named = std::env::var("CHROMEDRIVER").ok();
    let usual = Path::new("/usr/bin/chromedriver").exists().then(|| "/usr/bin/chromedriver".to_owned());
    let found = named.or(usual);
    if found.is_none() {
        assert!(
            std::env::var_os("CI").is_none(),
            "chromedriver is missing on a machine that nobody looks at"
        );
        eprintln!("skipped: chromedriver is not installed");
    }
    found
}

struct Stage {
    client: Client,
    base: String,
    _processes: [Running; 2],
    _folder: tempfile::TempDir,
}

/// The example job in a studio that is served, and a browser.
async fn stage(width: u32, height: u32) -> Option<Stage> {
    let driver = driver()?;
    let folder = tempfile::tempdir().unwrap();
    let studio = folder.path().join("studio");
    let program = env!("CARGO_BIN_EXE_shutline");
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/amber-saloon");
    let made = Command::new(program).arg("import").arg(example).arg("--dir").arg(&studio).output().unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let (port, driver_port) = (free_port(), free_port());
    let serve = Command::new(program)
        .args(["serve", "--port", &port.to_string(), "--dir"])
        .arg(&studio)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let driving = Command::new(driver)
        .arg(format!("--port={driver_port}"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let processes = [Running(serve), Running(driving)];
    wait_for(port);
    wait_for(driver_port);
    let mut options = json!({ "args": [
        "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
        "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
        format!("--user-data-dir={}", folder.path().join("browser").display()),
        format!("--window-size={width},{height}"),
    ] });
    if let Ok(chromium) = std::env::var("CHROMIUM") {
        options["binary"] = chromium.into();
    }
    let mut wanted = Capabilities::new();
    wanted.insert("goog:chromeOptions".into(), options);
    let client = ClientBuilder::new(HttpConnector::new())
        .capabilities(wanted)
        .connect(&format!("http://127.0.0.1:{driver_port}"))
        .await
        .unwrap();
    Some(Stage { client, base: format!("http://127.0.0.1:{port}"), _processes: processes, _folder: folder })
}

const PAGES: [&str; 15] = [
    "/",
    "/calendar",
    "/cars",
    "/cars/new",
    "/stock",
    "/shop",
    "/record",
    "/cars/0001/arrival",
    "/cars/0001/survey",
    "/cars/0001/offer",
    "/cars/0001/route",
    "/cars/0001/film",
    "/cars/0001/work",
    "/cars/0001/handover",
    "/cars/0001/visits",
];

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
    let drag = MouseActions::new("mouse".into())
        .then(PointerAction::MoveToElement { element: piece.clone(), duration: None, x: 0.0, y: 0.0 })
        .then(PointerAction::Down { button: MOUSE_BUTTON_LEFT })
        .then(PointerAction::MoveBy { duration: Some(Duration::from_millis(50)), x: 30.0, y: 0.0 })
        .then(PointerAction::Up { button: MOUSE_BUTTON_LEFT });
    client.perform_actions(drag).await.unwrap();
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

/// What is wrong with a page on a narrow screen: it scrolls sideways, a target is too low, something comes from outside.
const LOOK: &str = r#"
const flaws = [];
const root = document.documentElement;
if (root.scrollWidth > root.clientWidth + 1) flaws.push(`scrolls sideways: ${root.scrollWidth} > ${root.clientWidth}`);
for (const target of document.querySelectorAll('button, .btn, select, input[type=text], input[type=number], textarea')) {
  const box = target.getBoundingClientRect();
  if (box.width > 0 && box.height > 0 && box.height < 47.5) flaws.push(`${target.tagName} '${(target.textContent || target.name).trim().slice(0, 30)}' is ${box.height} px high`);
}
for (const entry of performance.getEntriesByType('resource')) {
  if (!entry.name.startsWith(location.origin)) flaws.push(`asks for ${entry.name}`);
}
if (!document.title) flaws.push('has no title');
if (document.querySelectorAll('h1').length !== 1) flaws.push(`has ${document.querySelectorAll('h1').length} main headings`);
for (const field of document.querySelectorAll('input:not([type=hidden]), select, textarea')) {
  const named = field.labels?.length || field.getAttribute('aria-label') || field.getAttribute('aria-labelledby');
  if (!named) flaws.push(`field ${field.name} has no label`);
}
return flaws;
"#;

async fn every_page_is_sound(width: u32, height: u32) {
    let Some(stage) = stage(width, height).await else { return };
    let mut flaws = Vec::new();
    for page in PAGES {
        stage.client.goto(&format!("{}{page}", stage.base)).await.unwrap();
        let found = stage.client.execute(LOOK, vec![]).await.unwrap();
        flaws.extend(
            found.as_array().unwrap().iter().map(|f| format!("{page}: {}", f.as_str().unwrap_or_default())),
        );
    }
    stage.client.close().await.unwrap();
    assert!(flaws.is_empty(), "{}", flaws.join("\n"));
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_desk() {
    every_page_is_sound(1280, 1000).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_tablet() {
    every_page_is_sound(820, 1180).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_sound_on_a_narrow_screen() {
    // Headless Chromium makes no window narrower than 500 px; the pages' rules for phones hold below 620 px.
    every_page_is_sound(500, 900).await;
}
