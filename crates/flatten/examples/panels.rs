//! Flattens OBJ files with the engine alone and prints its figures with CPU seconds of each stage, in the JSON of
//! `shutline flatten MESH --json`: for measuring without the rest of the program.
//!
//! `panels MESH.obj [--limit PERCENT] [--as-is] [--surface OUT.obj] [--flat OUT.obj] [--loud] [--relief]`
use effort::Effort;
use flatten::{Flattening, Mesh, Options, flatten, flatten_pieces, relief_cuts};
use std::fmt::Write;

/// CPU seconds of this thread.
fn cpu() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    text.split(' ').next().and_then(|t| t.parse::<f64>().ok()).unwrap_or(0.0) / 1e9
}

fn read(path: &str) -> Mesh {
    let mut mesh = Mesh::default();
    for line in std::fs::read_to_string(path).expect("a readable file").lines() {
        let mut words = line.split_whitespace();
        let kind = words.next();
        let numbers: Vec<f64> = words.map(|w| w.parse().expect("a number")).collect();
        match kind {
            Some("v") => mesh.vertices.push([numbers[0], numbers[1], numbers[2]]),
            Some("f") => mesh.triangles.push([0, 1, 2].map(|k| numbers[k] as u32 - 1)),
            _ => {}
        }
    }
    mesh
}

fn write(path: &str, vertices: impl Iterator<Item = [f64; 3]>, triangles: &[[u32; 3]]) {
    let mut text = String::new();
    for [x, y, z] in vertices {
        let _ = writeln!(text, "v {x} {y} {z}");
    }
    for t in triangles {
        let _ = writeln!(text, "f {} {} {}", t[0] + 1, t[1] + 1, t[2] + 1);
    }
    std::fs::write(path, text).expect("a writable file");
}

#[derive(Default)]
struct Asked {
    mesh: String,
    surface: Option<String>,
    flat: Option<String>,
    loud: bool,
    relief: bool,
    options: Options,
}

fn asked() -> Asked {
    let mut asked = Asked::default();
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "flatten" | "--json" => {}
            "--as-is" => asked.options.as_is = true,
            "--loud" => asked.loud = true,
            "--relief" => asked.relief = true,
            "--surface" => asked.surface = words.next(),
            "--flat" => asked.flat = words.next(),
            "--limit" => {
                asked.options.limit = words.next().and_then(|l| l.parse().ok()).map(|l: f64| l / 100.0)
            }
            _ => asked.mesh = word,
        }
    }
    asked
}

fn main() {
    let asked = asked();
    let mesh = read(&asked.mesh);
    if asked.relief {
        return relief(&mesh, &asked.options);
    }
    let (begin, mut last, mut stages) = (cpu(), cpu(), String::new());
    let loud = asked.loud;
    let effort = Effort::steps(u64::MAX).with_listener(move |p| {
        if loud {
            println!("{:.3} {}", cpu() - begin, p.note);
        }
    });
    let result = flatten(&mesh, &asked.options, &effort, &mut |stage| {
        let now = cpu();
        let _ = write!(stages, "\"{}\": {:.4}, ", stage.name(), now - last);
        last = now;
    });
    let total = cpu() - begin;
    match result {
        Ok(f) => {
            if let Some(path) = &asked.surface {
                write(path, f.surface.vertices.iter().copied(), &f.surface.triangles);
            }
            if let Some(path) = &asked.flat {
                write(path, f.flat.iter().map(|p| [p[0], p[1], 0.0]), &f.surface.triangles);
            }
            println!("{}", json(&f, &stages, total));
        }
        Err(why) => {
            println!("{}: {why}", asked.mesh);
            std::process::exit(1);
        }
    }
}

fn json(f: &Flattening, stages: &str, total: f64) -> String {
    format!(
        "{{\"triangles\": {}, \"flips\": 0, \"worst_stretch\": {}, \"p995_stretch\": {}, \"mean_stretch\": {}, \
         \"least_worst\": {}, \"lower_bound\": {}, \"area_mm2\": {}, \"notes\": {}, \"cpu_s\": {{{stages}\"total\": {total:.4}}}}}",
        f.surface.triangles.len(),
        f.worst,
        f.p995,
        f.mean,
        f.least_worst,
        f.lower_bound,
        f.area.as_mm2(),
        f.notes.len(),
    )
}

fn relief(mesh: &Mesh, options: &Options) {
    let begun = cpu();
    let effort = Effort::steps(u64::MAX);
    let plans = relief_cuts(mesh, &[], options, &effort).expect("a front");
    let searched = cpu() - begun;
    for plan in &plans {
        println!(
            "cuts {} pieces {} length {:.0} mm worst {:.4} %",
            plan.cuts.len(),
            plan.pieces,
            plan.length.as_mm(),
            100.0 * plan.worst
        );
    }
    println!("searched in {searched:.2} CPU s");
    if let Some(plan) = plans.iter().find(|plan| plan.worst < 0.013) {
        match flatten_pieces(mesh, &plan.cuts, options, &effort, &mut |_| {}) {
            Ok(pieces) => pieces.iter().for_each(|p| println!("laid flat: {:.4} %", 100.0 * p.worst)),
            Err(why) => println!("{why}"),
        }
    }
}
