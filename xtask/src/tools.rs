//! Programs that the tests use and that do not come with Rust.

use std::path::PathBuf;
use std::process::{Command, Stdio};

use crate::steps::announce;

/// A program, where it may be found, and what it is for.
struct Tool {
    names: &'static [&'static str],
    package: &'static str,
    needed_by: &'static str,
}

const TOOLS: &[Tool] = &[
    Tool {
        names: &["chromium", "chromium-browser"],
        package: "chromium",
        needed_by: "tests of the pages in a browser",
    },
    Tool {
        names: &["chromedriver"],
        package: "chromium-driver",
        needed_by: "tests of the pages in a browser",
    },
    Tool { names: &["pdftotext"], package: "poppler-utils", needed_by: "tests that read documents back" },
];

/// Where the browser and its driver are, for the tests' environment.
#[derive(Debug, Default)]
pub struct Browser {
    pub chromium: Option<PathBuf>,
    pub driver: Option<PathBuf>,
}

/// Installs what is missing when that is possible; says plainly what is skipped when it is not, and fails in CI.
pub fn provide() -> Result<Browser, String> {
    let missing: Vec<&Tool> = missing();
    if !missing.is_empty() {
        let packages: Vec<&str> = missing.iter().map(|t| t.package).collect();
        if let Err(why) = install(&packages) {
            announce(&format!("{} not installed: {why}", packages.join(", ")));
        }
    }
    for tool in self::missing() {
        let what = format!("{} is missing: {}", tool.names[0], tool.needed_by);
        if in_ci() {
            return Err(format!("{what} cannot run. CI must have it: install the package {}", tool.package));
        }
        announce(&format!("{what} are SKIPPED. To run them install the package {}", tool.package));
    }
    Ok(Browser { chromium: find("CHROMIUM", TOOLS[0].names), driver: find("CHROMEDRIVER", TOOLS[1].names) })
}

/// Whether a machine runs this without a person looking on.
pub fn in_ci() -> bool {
    std::env::var("CI").is_ok_and(|v| v == "true" || v == "1")
}

fn missing() -> Vec<&'static Tool> {
    let variable = |t: &Tool| match t.package {
        "chromium" => "CHROMIUM",
        "chromium-driver" => "CHROMEDRIVER",
        _ => "",
    };
    TOOLS.iter().filter(|t| find(variable(t), t.names).is_none()).collect()
}

/// The file that an environment variable names, or a program of one of these names on the path.
fn find(variable: &str, names: &[&str]) -> Option<PathBuf> {
    let named = std::env::var_os(variable).map(PathBuf::from).filter(|p| p.is_file());
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut places = std::env::split_paths(&path).flat_map(|folder| {
        names.iter().map(move |n| folder.join(format!("{n}{}", std::env::consts::EXE_SUFFIX)))
    });
    named.or_else(|| places.find(|p| p.is_file()))
}

/// Debian's package manager, as root or by a `sudo` that asks nothing.
fn install(packages: &[&str]) -> Result<(), String> {
    if find("", &["apt-get"]).is_none() {
        return Err("there is no apt-get on this machine".into());
    }
    let prefix: &[&str] = if quiet("id", &["-u"]).is_some_and(|out| out.trim() == "0") {
        &["env"]
    } else if quiet("sudo", &["-n", "true"]).is_some() {
        &["sudo", "-n", "env"]
    } else {
        return Err("that needs root, or a sudo without a password".into());
    };
    announce(&format!("installing {}", packages.join(", ")));
    let apt = |args: &[&str]| {
        let status = Command::new(prefix[0])
            .args(&prefix[1..])
            .args(["DEBIAN_FRONTEND=noninteractive", "apt-get", "-qq", "-y"])
            .args(args)
            .stdin(Stdio::null())
            .status();
        match status {
            Ok(s) if s.success() => Ok(()),
            _ => Err(format!("apt-get {} failed", args[0])),
        }
    };
    apt(&["update"])?;
    let mut args = vec!["install", "--no-install-recommends"];
    args.extend(packages);
    apt(&args)
}

/// What a command says when it succeeds.
fn quiet(program: &str, args: &[&str]) -> Option<String> {
    let output = Command::new(program).args(args).stdin(Stdio::null()).stderr(Stdio::null()).output().ok()?;
    output.status.success().then(|| String::from_utf8_lossy(&output.stdout).into_owned())
}
