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
