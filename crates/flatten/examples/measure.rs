//! Flattens OBJ files and prints the figures with CPU seconds: for measuring the engine alone.
use effort::Effort;
use flatten::{Mesh, Options, flatten};

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

fn main() {
    let mut options = Options { as_is: true, ..Options::default() };
    for word in std::env::args().skip(1) {
        if let Some(limit) = word.strip_prefix("--limit=") {
            options.limit = limit.parse().ok().map(|l: f64| l / 100.0);
            continue;
        }
        if word == "--clean" {
            options.as_is = false;
            continue;
        }
        let mesh = read(&word);
        let (begin, mut last, mut stages) = (cpu(), cpu(), String::new());
        let result = flatten(&mesh, &options, &Effort::steps(u64::MAX), &mut |stage| {
            let now = cpu();
            stages += &format!(" {} {:.3}", stage.name(), now - last);
            last = now;
        });
        let total = cpu() - begin;
        match result {
            Ok(f) => println!(
                "{word} t {} worst {:.4}% p995 {:.4}% mean {:.4}% least {:.4}% bound {:.4}% cpu {total:.3}:{stages} {:?}",
                f.surface.triangles.len(),
                100.0 * f.worst,
                100.0 * f.p995,
                100.0 * f.mean,
                100.0 * f.least_worst,
                100.0 * f.lower_bound,
                f.notes
            ),
            Err(why) => println!("{word}: {why}"),
        }
    }
}
