//! The example job in a studio that is served, its owner signed in, and a browser.

use fantoccini::wd::Capabilities;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::json;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A process that ends with the test.
pub struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

pub fn free_port() -> u16 {
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

pub struct Stage {
    pub client: Client,
    /// Where the pages are asked for.
    pub base: String,
    pub studio: PathBuf,
    _processes: [Running; 2],
    _folder: tempfile::TempDir,
}

/// The owner of the studio on stage.
pub const OWNER: [(&str, &str); 4] = [
    ("name", "Nadia"),
    ("passphrase", "heron lamp gravel noon"),
    ("again", "heron lamp gravel noon"),
    ("pin", "2580"),
];

/// The example job in a studio that is served, and a browser.
pub async fn stage(width: u32, height: u32) -> Option<Stage> {
    let stage = closed(width, height, |port| port).await?;
    stage.begin().await;
    Some(stage)
}

/// The same before anybody is the owner. The browser asks for pages at the port that `through` names.
pub async fn closed(width: u32, height: u32, through: impl FnOnce(u16) -> u16) -> Option<Stage> {
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
    let seen = through(port);
    let mut options = json!({ "args": [
        "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
        "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
        // A microphone that hums, allowed without a question.
        "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
        format!("--user-data-dir={}", folder.path().join("browser").display()),
        format!("--window-size={width},{height}"),
    ] });
    // No window is narrower than 500 px: a phone is a screen that the browser plays.
    if width < 500 {
        options["mobileEmulation"] = json!({
            "deviceMetrics": { "width": width, "height": height, "pixelRatio": 2.0, "mobile": true, "touch": true },
        });
    }
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
    let base = format!("http://127.0.0.1:{seen}");
    Some(Stage { client, base, studio, _processes: processes, _folder: folder })
}

impl Stage {
    /// The first start, as a person makes it.
    pub async fn begin(&self) {
        self.client.goto(&self.base).await.unwrap();
        for (name, value) in OWNER {
            let field = self.client.find(Locator::Css(&format!("form#first [name={name}]"))).await.unwrap();
            field.clear().await.unwrap();
            field.send_keys(value).await.unwrap();
        }
        self.client.find(Locator::Css("form#first button.main")).await.unwrap().click().await.unwrap();
        self.client
            .wait()
            .at_most(Duration::from_secs(20))
            .for_element(Locator::Css("details.who"))
            .await
            .unwrap();
    }

    /// Opens a page of the studio.
    pub async fn open(&self, path: &str) {
        self.client.goto(&format!("{}{path}", self.base)).await.unwrap();
    }

    /// Runs a script in the page.
    pub async fn run(&self, script: &str) -> serde_json::Value {
        self.client.execute(script, vec![]).await.unwrap()
    }

    /// Asks a script again and again until it answers `true`.
    pub async fn until(&self, what: &str, script: &str) {
        for _ in 0..400 {
            if self.client.execute(script, vec![]).await.is_ok_and(|v| v == true) {
                return;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        let text = self.run("return document.body.innerText.slice(0, 2000)").await;
        panic!("{what} did not come: {text}");
    }
}
