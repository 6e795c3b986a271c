//! The chores, step by step.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use crate::features;
use crate::graph::Graph;
use crate::tools;

/// Everything but the tests.
pub fn check() -> Result<(), String> {
    graph()?;
    shared_features()?;
    format()?;
    lint()?;
    document()
}

/// Everything; `cargo test` comes last, so that its closing lines are the last ones.
pub fn test(args: &[String]) -> Result<(), String> {
    let browser = tools::provide()?;
    graph()?;
    shared_features()?;
    format()?;
    lint()?;
    announce("tests");
    let mut command = cargo();
    command.args(["test", "--release", "--workspace"]).args(args);
    if let Some(path) = browser.chromium {
        command.env("CHROMIUM", path);
    }
    if let Some(path) = browser.driver {
        command.env("CHROMEDRIVER", path);
    }
    run(&mut command)
}

fn graph() -> Result<(), String> {
    announce("crate graph");
    match Graph::of_workspace()?.flaws() {
        flaws if flaws.is_empty() => Ok(()),
        flaws => Err(format!("The crate graph breaks the design:\n  {}", flaws.join("\n  "))),
    }
}

fn shared_features() -> Result<(), String> {
    announce("features shared by program and tests");
    match features::differences()? {
        found if found.is_empty() => Ok(()),
        found => Err(format!(
            "These libraries would be compiled twice, once for the program and once for the tests; turn the feature \
             on for both in [workspace.dependencies], or off in the dev-dependency:\n  {}",
            found.join("\n  ")
        )),
    }
}

fn format() -> Result<(), String> {
    if !component("rustfmt", "fmt")? {
        return Ok(());
    }
    announce("format");
    run(cargo().args(["fmt", "--all", "--check"]))
}

fn lint() -> Result<(), String> {
    if !component("clippy", "clippy")? {
        return Ok(());
    }
    let timer = Timer::start();
    announce("lints");
    run(cargo().args([
        "clippy",
        "--release",
        "--workspace",
        "--all-targets",
        "--quiet",
        "--",
        "-D",
        "warnings",
    ]))?;
    timer.tell("lints");
    Ok(())
}

fn document() -> Result<(), String> {
    announce("documentation");
    let mut command = cargo();
    command
        .args(["doc", "--release", "--workspace", "--no-deps", "--quiet"])
        .env("RUSTDOCFLAGS", "-D warnings");
    run(&mut command)
}

/// Whether a part of the Rust installation is there, after trying to add it.
fn component(name: &str, subcommand: &str) -> Result<bool, String> {
    let there = || succeeds(cargo().args([subcommand, "--version"]));
    if there() || (succeeds(Command::new("rustup").args(["component", "add", name])) && there()) {
        return Ok(true);
    }
    let what = format!("{name} is missing: `rustup component add {name}` adds it");
    if tools::in_ci() {
        return Err(what);
    }
    announce(&format!("SKIPPED: {what}"));
    Ok(false)
}

/// The cargo that started this program, free of what it set for this one package.
pub fn cargo() -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    for (name, _) in std::env::vars_os() {
        let text = name.to_string_lossy();
        if text.starts_with("CARGO_PKG_") || text.starts_with("CARGO_MANIFEST_") {
            command.env_remove(&name);
        }
    }
    if let Some(mine) = std::env::var_os("CARGO_MANIFEST_DIR") {
        command.current_dir(Path::new(&mine).join(".."));
    }
    command.stdin(Stdio::null());
    command
}

fn run(command: &mut Command) -> Result<(), String> {
    let status = command.stdin(Stdio::null()).status().map_err(|e| format!("{command:?}: {e}"))?;
    let words: Vec<_> = command.get_args().map(|a| a.to_string_lossy()).collect();
    if status.success() { Ok(()) } else { Err(format!("cargo {}: failed", words.join(" "))) }
}

fn succeeds(command: &mut Command) -> bool {
    let quiet = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    quiet.status().is_ok_and(|s| s.success())
}

/// Says what goes on.
pub fn announce(what: &str) {
    println!("xtask: {what}");
}

/// Measures a step for whoever looks on.
struct Timer(Instant);

impl Timer {
    #[expect(clippy::disallowed_methods, reason = "shown to a person; nothing is decided by it")]
    fn start() -> Self {
        Self(Instant::now())
    }

    fn tell(&self, what: &str) {
        announce(&format!("{what} took {:.0} s", self.0.elapsed().as_secs_f64()));
    }
}
