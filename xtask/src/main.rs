//! Chores: `cargo xtask test` runs everything, `cargo xtask check` all but the tests, `cargo xtask graph` prints
//! the crate graph.

mod bench;
mod features;
mod graph;
mod rooms;
mod steps;
mod tools;

use std::io::Write as _;
use std::process::ExitCode;

const USAGE: &str = "\
cargo xtask test [ARGS]   install Chromium when missing and possible, then check everything and run all tests;
                          ARGS are handed to `cargo test --release --workspace`
cargo xtask check         crate graph, features, format, lints, documentation; no tests
cargo xtask graph         print the crate graph
cargo xtask bench NAME [ARGS]
                          measure against the references of `bench/requirements.txt`, as `bench/NAME.py` does;
                          writes docs/bench-NAME.md";

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let done = match args.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["test", ..] => steps::test(&args[1..]),
        ["check"] => steps::check(),
        ["graph"] => graph::Graph::of_workspace().map(|graph| print!("{graph}")),
        ["bench", name, ..] => bench::run(name, &args[2..]),
        ["help" | "--help" | "-h"] => {
            println!("{USAGE}");
            Ok(())
        }
        _ => Err(format!("xtask: no such chore\n{USAGE}")),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            // nobody is left to tell when this fails too
            let _ = writeln!(std::io::stderr(), "{why}");
            ExitCode::FAILURE
        }
    }
}
