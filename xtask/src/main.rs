//! Chores: checks, benchmarks, fixtures, release.
fn main() {}
