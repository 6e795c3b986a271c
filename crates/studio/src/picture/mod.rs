//! Pictures as they come from phones and cameras: checked on the way in, made small and upright on the way out.

mod heic;
mod kept;
mod stand_in;
mod whole;

use crate::refusal::Refusal;
use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, RgbImage};
use std::io::Cursor;
use std::sync::PoisonError;

pub use kept::SIZES;
pub use stand_in::{stand_in, stand_in_after};

/// Largest file taken.
pub const LARGEST_BYTES: usize = 60 << 20;

/// Most pixels taken: a 100-megapixel camera passes, a picture made to fill the memory does not.
const MOST_PIXELS: u64 = 110_000_000;

/// Looks at a file as far as it must: a JPEG picture is followed to its end without being decoded, all others are
/// decoded, since nothing less shows whether they can be.
///
/// # Errors
/// When it is no JPEG, PNG, WebP or HEIC picture, damaged, or too large; says what it is instead where that can be seen.
pub fn check(name: &str, bytes: &[u8]) -> Result<(), Refusal> {
    sound(name, bytes)?;
    if heic::is_one(bytes) {
        heic::decode(bytes).map_err(|e| e.at(name))?;
    }
    Ok(())
}

/// The same without decoding a HEIC picture.
fn sound(name: &str, bytes: &[u8]) -> Result<(), Refusal> {
    quick(name, bytes)?;
    if heic::is_one(bytes) {
        return Ok(());
    }
    if reader(bytes).format() != Some(ImageFormat::Jpeg) {
        let _one = kept::MAKING.lock().unwrap_or_else(PoisonError::into_inner);
        return upright(bytes, u32::MAX).map(drop).map_err(|e| e.at(name));
    }
    if !whole::has_its_end(bytes) {
        return Err(damaged("its end is missing, it was cut off on its way").at(name));
    }
    Ok(())
}

/// The same by its first bytes alone.
fn quick(name: &str, bytes: &[u8]) -> Result<(), Refusal> {
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
    if heic::is_one(bytes) {
        return Ok(());
    }
    let reader = reader(bytes);
    let known = matches!(reader.format(), Some(ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP));
    if !known {
        return Err(Refusal::invalid(
            format!("This is not a picture that can be read{}", what_instead(bytes)),
            "Send JPEG, PNG, WebP or HEIC; most phones can be set to save JPEG.",
        )
        .at(name));
    }
    let decoder = reader.into_decoder().map_err(|e| damaged(&e.to_string()).at(name))?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(too_many(width, height).at(name));
    }
    Ok(())
}

/// A picture for showing: upright, at most `side` pixels on its longer side, as JPEG, without the camera's notes (and
/// so without the place where it was taken).
///
/// # Errors
/// When it cannot be decoded.
pub fn shown(bytes: &[u8], side: u32) -> Result<Vec<u8>, Refusal> {
    let mut picture = upright(bytes, side)?;
    if picture.width().max(picture.height()) > side {
        picture = DynamicImage::ImageRgb8(picture).thumbnail(side, side).to_rgb8();
    }
    jpeg(&picture, 82)
}

/// What may leave the shop of a picture: the file as it is when the camera wrote no notes into it, or else the same
/// picture as JPEG without them, so that it does not say where it was taken.
///
/// # Errors
/// When it carries notes and cannot be decoded.
pub fn without_notes(bytes: &[u8]) -> Result<Option<Vec<u8>>, Refusal> {
    // How notes begin in JPEG, PNG, WebP and HEIC (Exif, XMP, IPTC, and pictures within the picture). Chance finds
    // one of these in compressed data very seldom, and then the copy is made for nothing.
    const NOTES: [&[u8]; 7] =
        [b"Exif", b"exif", b"eXIf", b"http://ns.adobe.com/", b"XMP ", b"Photoshop 3.0", b"MPF\0"];
    let noted = heic::is_one(bytes)
        || NOTES.iter().any(|n| bytes.windows(n.len()).any(|w| w == *n))
        // what a phone hangs on behind the picture
        || bytes.starts_with(&[0xff, 0xd8]) && !bytes.ends_with(&[0xff, 0xd9]);
    if !noted {
        return Ok(None);
    }
    jpeg(&upright(bytes, u32::MAX)?, 92).map(Some)
}

/// Width and height of the upright picture, px.
///
/// # Errors
/// When it cannot be read.
pub fn size(bytes: &[u8]) -> Result<(u32, u32), Refusal> {
    let unread = |e: image::ImageError| damaged(&e.to_string());
    let mut decoder = reader(bytes).into_decoder().map_err(unread)?;
    let (width, height) = decoder.dimensions();
    let mut turned = DynamicImage::ImageLuma8(image::GrayImage::new(1, 2));
    turned.apply_orientation(decoder.orientation().map_err(unread)?);
    Ok(if turned.width() > turned.height() { (height, width) } else { (width, height) })
}

/// The pixels, upright. What is larger than `side` may come smaller, but not below it.
fn upright(bytes: &[u8], side: u32) -> Result<RgbImage, Refusal> {
    if heic::is_one(bytes) {
        return heic::decode(bytes);
    }
    let unread = |e: image::ImageError| damaged(&e.to_string());
    let mut decoder = reader(bytes).into_decoder().map_err(unread)?;
    let turn = decoder.orientation().map_err(unread)?;
    let mut picture = DynamicImage::from_decoder(decoder).map_err(unread)?;
    if picture.width().max(picture.height()) > side {
        picture = picture.thumbnail(side, side);
    }
    picture.apply_orientation(turn);
    Ok(picture.into_rgb8())
}

fn jpeg(picture: &RgbImage, quality: u8) -> Result<Vec<u8>, Refusal> {
    let mut out = Cursor::new(Vec::new());
    let encoder = JpegEncoder::new_with_quality(&mut out, quality);
    picture.write_with_encoder(encoder).map_err(|e| damaged(&e.to_string()))?;
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

fn damaged(why: &str) -> Refusal {
    Refusal::invalid(format!("The picture is damaged: {why}"), "Take or send it again.")
}

fn too_many(width: u32, height: u32) -> Refusal {
    Refusal::invalid(
        format!("The picture has {width} × {height} pixels"),
        "Send it smaller: 100 megapixels are enough.",
    )
}

fn what_instead(bytes: &[u8]) -> &'static str {
    match bytes {
        [b'%', b'P', b'D', b'F', ..] => ": it is a PDF document",
        [b'P', b'K', 3, 4, ..] => ": it is a ZIP archive",
        [_, _, _, _, b'f', b't', b'y', b'p', b'a', b'v', b'i', b'f', ..] => ": it is an AVIF picture",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => ": it is a film",
        [b'<', ..] => ": it is text",
        _ => "",
    }
}
