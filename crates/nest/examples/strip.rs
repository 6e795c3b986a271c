//! Packs one strip-packing instance: `strip FILE SECONDS SEED [GAP [MARGIN]]`; prints density and CPU seconds as JSON.
//! `OUT=file.svg|dxf|plt` writes the cut file; `VERBOSE=1` tells progress.

use effort::Effort;
use nest::{Config, CutSettings, STRIP, cut_sheet, nest, read_strip_json};
use serde_json::json;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use units::{Length, Seed};

/// CPU seconds of this thread, from the kernel's scheduler (Linux).
fn cpu_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    text.split_whitespace().next().and_then(|ns| ns.parse::<f64>().ok()).map_or(0.0, |ns| ns * 1e-9)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize| args.get(i).and_then(|a| a.parse::<f64>().ok());
    let file = args.first().ok_or("which file?")?;
    let seconds = number(1).unwrap_or(10.0);
    let seed = Seed(number(2).unwrap_or(1.0) as u64);
    let (gap, margin) = (Length::mm(number(3).unwrap_or(0.0)), Length::mm(number(4).unwrap_or(0.0)));
    let instance = read_strip_json(&std::fs::read_to_string(file)?, gap, margin)?;
    let verbose = std::env::var_os("VERBOSE").is_some();
    let start = cpu_seconds();
    // when the first valid layout was there
    let first = Arc::new(Mutex::new(None));
    let heard = first.clone();
    let effort = Effort::seconds(seconds, move || cpu_seconds() - start).with_listener(move |p| {
        heard.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert_with(|| cpu_seconds() - start);
        if verbose {
            println!("{:.2} s: {}", cpu_seconds() - start, p.note);
        }
    });
    let outcome = nest(&instance, &Config { seed, ..Config::default() }, &effort);
    let cpu = cpu_seconds() - start;
    if let Some(path) = std::env::var_os("OUT").map(std::path::PathBuf::from) {
        let sheet = cut_sheet(&instance, &outcome.layout, STRIP, &BTreeMap::new(), &CutSettings::default())?;
        let text = match path.extension().and_then(|e| e.to_str()) {
            Some("dxf") => sheet.to_dxf(),
            Some("plt") => sheet.to_hpgl(),
            _ => sheet.to_svg(),
        };
        std::fs::write(path, text)?;
    }
    for reason in &outcome.reasons {
        println!("{reason}");
    }
    let placements: Vec<_> = outcome
        .layout
        .placements
        .iter()
        .map(|p| json!({"piece": p.piece, "x": p.pose.x.as_mm(), "y": p.pose.y.as_mm(), "degrees": p.pose.degrees, "mirrored": p.pose.mirrored}))
        .collect();
    let answer = json!({
        "file": file,
        "seed": seed.0,
        "cpu_s": cpu,
        "first_s": *first.lock().unwrap_or_else(PoisonError::into_inner),
        "length": outcome.layout.used.first().map_or(0.0, |u| u.length.as_mm()),
        "density": outcome.layout.density,
        "smallest_gap": outcome.layout.smallest_gap.map(Length::as_mm),
        "samples": effort.spent(),
        "verified": outcome.layout.verify(&instance).is_ok(),
        "placements": placements,
    });
    println!("{answer}");
    Ok(())
}
