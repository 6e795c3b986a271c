//! Whether the program and the tests run on the same compiled libraries.
//!
//! A dev-dependency that turns on one more feature of a shared library makes cargo compile that library, and all that
//! stand on it, a second time for the tests: minutes on a small machine.

use std::collections::{BTreeMap, BTreeSet};

use crate::graph::output;
use crate::steps::cargo;

type Built = BTreeMap<String, BTreeSet<String>>;

/// Libraries that `cargo test --release --workspace` compiles with other features than `cargo run --release`.
pub fn differences() -> Result<Vec<String>, String> {
    let tree = |scope: &[&str]| {
        output(cargo().arg("tree").args(scope).args(["--prefix", "none", "--format", "{p}|{f}"]))
    };
    let program = tree(&["--package", "shutline", "--edges", "normal,build"])?;
    let tests = tree(&["--workspace", "--edges", "normal,build,dev"])?;
    Ok(compare(&built(&program), &built(&tests)))
}

/// Feature sets that each library is built with; one has two when it is also built for build scripts.
fn built(tree: &str) -> Built {
    let mut built = Built::new();
    for line in tree.lines() {
        let line = line.trim_end_matches("(*)").trim_end();
        if let Some((package, features)) = line.split_once('|') {
            built.entry(package.trim().to_owned()).or_default().insert(features.trim().to_owned());
        }
    }
    built
}

fn compare(program: &Built, tests: &Built) -> Vec<String> {
    let mut differences = Vec::new();
    for (package, sets) in program {
        let Some(others) = tests.get(package) else { continue };
        for set in others.difference(sets) {
            let was: Vec<&str> = sets.iter().map(String::as_str).collect();
            differences
                .push(format!("{package}: tests need [{set}], the program has [{}]", was.join("] and [")));
        }
    }
    differences
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_feature_only_for_tests_is_found() {
        let program = built("a v1.0.0|default,std\nb v2.0.0|\na v1.0.0|default,std (*)\n");
        let tests =
            built("a v1.0.0|default,std\na v1.0.0|default,extra,std (*)\nb v2.0.0|\nonly-tests v1.0.0|x\n");
        assert_eq!(
            compare(&program, &tests),
            ["a v1.0.0: tests need [default,extra,std], the program has [default,std]"]
        );
        assert_eq!(compare(&program, &program), [""; 0]);
    }
}
