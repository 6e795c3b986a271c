//! A stand-in for a photograph.

use super::jpeg;
use crate::refusal::Refusal;

/// A stand-in for a photograph, for the demo: light falling on a panel, with fine arcs. Same seed, same picture.
///
/// # Errors
/// Never with the built-in encoder.
pub fn stand_in(seed: u64) -> Result<Vec<u8>, Refusal> {
    drawn(seed, 26.0)
}

/// The same place after correction: the arcs are gone, the light is as it was.
///
/// # Errors
/// Never with the built-in encoder.
pub fn stand_in_after(seed: u64) -> Result<Vec<u8>, Refusal> {
    drawn(seed, 0.0)
}

/// `depth` is how far an arc stands out of the panel, in steps of gray.
fn drawn(seed: u64, depth: f64) -> Result<Vec<u8>, Refusal> {
    let (width, height) = (1200u32, 800u32);
    let mut chance = units::Seed(seed).sequence();
    let arcs: Vec<(f64, f64, f64)> = (0..60)
        .map(|_| {
            (chance.between(-200.0, 1400.0), chance.between(-200.0, 1000.0), chance.between(80.0, 500.0))
        })
        .collect();
    let tone = [chance.between(40.0, 90.0), chance.between(70.0, 110.0), chance.between(90.0, 130.0)];
    let picture = image::RgbImage::from_fn(width, height, |x, y| {
        let (x, y) = (f64::from(x), f64::from(y));
        let light = 90.0 * (-((x - 500.0).powi(2) + (y - 330.0).powi(2)) / 90_000.0).exp();
        let near = arcs.iter().map(|(cx, cy, r)| ((x - cx).hypot(y - cy) - r).abs()).fold(f64::MAX, f64::min);
        let mark = if near < 1.2 { depth * (light / 90.0) } else { 0.0 };
        image::Rgb(tone.map(|t| (t + light + mark + 0.02 * y).clamp(0.0, 255.0) as u8))
    });
    jpeg(&picture, 80)
}
