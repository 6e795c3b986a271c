//! Benchmarks beside their references, which live in a Python environment of their own under `target/`.

use std::path::{Path, PathBuf};
use std::process::Command;

/// The workspace's folder.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap_or(Path::new(".")).to_owned()
}

/// Runs `bench/NAME.py`, after the references of `bench/requirements.txt` are there in the versions named.
pub fn run(name: &str, args: &[String]) -> Result<(), String> {
    let bench = root().join("bench");
    let script = bench.join(format!("{name}.py"));
    if !script.is_file() {
        let known: Vec<String> = std::fs::read_dir(&bench)
            .into_iter()
            .flatten()
            .flatten()
            .filter_map(|e| Some(e.file_name().to_str()?.strip_suffix(".py")?.to_owned()))
            .collect();
        return Err(format!("xtask: there is no benchmark '{name}'; there are: {}", known.join(", ")));
    }
    let python = environment(&bench.join("requirements.txt"))?;
    done(Command::new(python).arg(script).args(args))
}

/// The interpreter of the environment, made or brought up to date when the requirements changed.
fn environment(requirements: &Path) -> Result<PathBuf, String> {
    let folder = root().join("target").join("bench-references");
    let python = folder.join("bin").join("python");
    let wanted = std::fs::read_to_string(requirements)
        .map_err(|e| format!("xtask: {} cannot be read: {e}", requirements.display()))?;
    let mark = folder.join("requirements.txt");
    if std::fs::read_to_string(&mark).is_ok_and(|have| have == wanted) && python.exists() {
        return Ok(python);
    }
    done(Command::new("python3").args(["-m", "venv"]).arg(&folder))?;
    done(Command::new(&python).args(["-m", "pip", "install", "--quiet", "-r"]).arg(requirements))?;
    std::fs::write(&mark, wanted).map_err(|e| format!("xtask: {} cannot be written: {e}", mark.display()))?;
    Ok(python)
}

fn done(command: &mut Command) -> Result<(), String> {
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("xtask: {command:?} ended with {status}")),
        Err(e) => Err(format!("xtask: {command:?} could not be started: {e}")),
    }
}
