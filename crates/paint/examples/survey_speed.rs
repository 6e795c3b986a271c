//! Benchmark: 5,000 readings over 40 panels analyzed with maps, and one panel with 500 readings.
//!
//! `cargo run --release -p paint --example survey_speed`

use paint::{History, PanelInfo, Reading, Settings, Substrate, analyze, analyze_with_maps, map};
use std::time::Instant;
use units::{Length, Seed, Thickness};

fn panel(id: &str) -> PanelInfo {
    PanelInfo {
        id: id.into(),
        width: Length::mm(1200.0),
        height: Length::mm(800.0),
        outline: Vec::new(),
        substrate: Substrate::Steel,
        matte: false,
        single_stage: false,
        history: History::Unknown,
    }
}

/// Invented readings: a level for the panel, a wave over it, gauge noise.
fn readings(id: &str, n: usize, seed: Seed) -> Vec<Reading> {
    let mut chance = seed.sequence();
    let level = if chance.below(8) == 0 { 230.0 } else { 122.0 + 8.0 * chance.normal() };
    (0..n)
        .map(|_| {
            let (u, v) = (chance.uniform(), chance.uniform());
            let wave = 3.0 * (5.0 * u).sin() * (4.0 * v).cos();
            Reading {
                panel: id.into(),
                at: Some((u, v)),
                value: Thickness::um(level + wave + 2.0 * chance.normal()),
                spot: None,
                repeat: None,
                gauge: None,
                time: None,
                substrate: Substrate::Steel,
                clear: None,
            }
        })
        .collect()
}

/// CPU seconds of this thread so far, where the system tells them (Linux).
fn cpu() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    Some(text.split_whitespace().next()?.parse::<f64>().ok()? / 1e9)
}

#[allow(clippy::disallowed_methods, reason = "a benchmark measures time")]
fn timed<T>(what: &str, work: impl FnOnce() -> T) -> T {
    let (start, before) = (Instant::now(), cpu());
    let result = work();
    let wall = start.elapsed().as_secs_f64();
    match (before, cpu()) {
        (Some(before), Some(after)) => println!("{what}: {:.3} s of CPU, {wall:.3} s", after - before),
        _ => println!("{what}: {wall:.3} s"),
    }
    result
}

fn main() -> Result<(), paint::SettingsError> {
    let settings = Settings::default();
    let panels: Vec<PanelInfo> = (0..40).map(|i| panel(&format!("panel {i}"))).collect();
    let all: Vec<Reading> =
        panels.iter().zip(0..).flat_map(|(p, i)| readings(&p.id, 125, Seed(7).part(i))).collect();
    println!("{} readings over {} panels", all.len(), panels.len());
    timed("estimates", || analyze(&all, &panels, &settings))?;
    timed("estimates with maps", || analyze_with_maps(&all, &panels, &settings))?;
    let (one, many) = (panel("hood"), readings("hood", 500, Seed(9)));
    timed("one panel with 500 readings, estimate", || analyze(&many, std::slice::from_ref(&one), &settings))?;
    timed("one panel with 500 readings, map", || map(&many, &one, &settings))?;
    Ok(())
}
