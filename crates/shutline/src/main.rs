//! The program: command line and web pages.
fn main() {}
