//! Pictures as they come from phones and cameras: checked on the way in, made small and upright on the way out.

use crate::refusal::Refusal;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use std::io::Cursor;

/// Largest file taken.
pub const LARGEST_BYTES: usize = 60 << 20;

/// Most pixels taken: a 100-megapixel camera passes, a picture made to fill the memory does not.
const MOST_PIXELS: u64 = 110_000_000;

/// Looks at a file without decoding all of it.
///
/// # Errors
/// When it is no JPEG, PNG or WebP picture, or too large; says what it is instead where that can be seen.
pub fn check(name: &str, bytes: &[u8]) -> Result<(), Refusal> {
    if bytes.is_empty() {
        return Err(Refusal::invalid("The file is empty", "Choose the picture again.").at(name));
    }
    if bytes.len() > LARGEST_BYTES {
        return Err(Refusal::invalid(
            format!("The file has {} MB", bytes.len() >> 20),
            format!("Send pictures of at most {} MB.", LARGEST_BYTES >> 20),
        )
        .at(name));
    }
    let reader = reader(bytes);
    let known = matches!(reader.format(), Some(ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP));
    if !known {
        return Err(Refusal::invalid(
            format!("This is not a picture that can be read{}", what_instead(bytes)),
            "Send JPEG, PNG or WebP; most phones can be set to save JPEG.",
        )
        .at(name));
    }
    let decoder = reader.into_decoder().map_err(|e| damaged(name, &e.to_string()))?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(Refusal::invalid(
            format!("The picture has {width} × {height} pixels"),
            "Send it smaller: 100 megapixels are enough.",
        )
        .at(name));
    }
    Ok(())
}

/// A picture for showing: upright, at most `side` pixels on its longer side, as JPEG, without the camera's notes (and
/// so without the place where it was taken).
///
/// # Errors
/// When it cannot be decoded.
pub fn shown(bytes: &[u8], side: u32) -> Result<Vec<u8>, Refusal> {
    let mut decoder = reader(bytes).into_decoder().map_err(|e| damaged("picture", &e.to_string()))?;
    let turn = decoder.orientation().map_err(|e| damaged("picture", &e.to_string()))?;
    let mut picture = DynamicImage::from_decoder(decoder).map_err(|e| damaged("picture", &e.to_string()))?;
    if picture.width().max(picture.height()) > side {
        picture = picture.thumbnail(side, side);
    }
    picture.apply_orientation(turn);
    let mut out = Cursor::new(Vec::new());
    let plain = DynamicImage::ImageRgb8(picture.to_rgb8());
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 82);
    plain.write_with_encoder(encoder).map_err(|e| damaged("picture", &e.to_string()))?;
    Ok(out.into_inner())
}

fn reader(bytes: &[u8]) -> ImageReader<Cursor<&[u8]>> {
    let mut reader = ImageReader::new(Cursor::new(bytes));
    let mut limits = Limits::default();
    limits.max_alloc = Some(1 << 30);
    reader.limits(limits);
    // Reading from memory cannot fail; a guess that fails leaves the format open.
    reader.with_guessed_format().unwrap_or_else(|_| ImageReader::new(Cursor::new(bytes)))
}

fn damaged(name: &str, why: &str) -> Refusal {
    Refusal::invalid(format!("The picture is damaged: {why}"), "Take or send it again.").at(name)
}

fn what_instead(bytes: &[u8]) -> &'static str {
    match bytes {
        [b'%', b'P', b'D', b'F', ..] => ": it is a PDF document",
        [b'P', b'K', 3, 4, ..] => ": it is a ZIP archive",
        [_, _, _, _, b'f', b't', b'y', b'p', b'h', b'e', ..] => ": it is a HEIC picture",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => ": it is a film",
        [b'<', ..] => ": it is text",
        _ => "",
    }
}

/// A stand-in for a photograph, for the demo: light falling on a panel, with fine arcs. Same seed, same picture.
///
/// # Errors
/// Never with the built-in encoder.
pub fn stand_in(seed: u64) -> Result<Vec<u8>, Refusal> {
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
        let mark = if near < 1.2 { 26.0 * (light / 90.0) } else { 0.0 };
        image::Rgb(tone.map(|t| (t + light + mark + 0.02 * y).clamp(0.0, 255.0) as u8))
    });
    let mut out = Cursor::new(Vec::new());
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 80);
    picture.write_with_encoder(encoder).map_err(|e| damaged("stand-in", &e.to_string()))?;
    Ok(out.into_inner())
}
