#![doc = include_str!("../README.md")]

mod cli;
mod web;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    tracing_subscriber::fmt()
        .with_env_filter(
            tracing_subscriber::EnvFilter::try_from_env("SHUTLINE_LOG")
                .unwrap_or_else(|_| "warn,shutline=info".into()),
        )
        .with_writer(std::io::stderr)
        .with_target(false)
        .init();
    cli::run(cli::Cli::parse())
}
