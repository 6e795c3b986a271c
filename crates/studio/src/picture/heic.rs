//! HEIC pictures, as many phones save them: a HEIF container (ISO/IEC 23008-12) with one picture coded by HEVC.
//!
//! Turn and mirror stand in the container (`irot`, `imir`) and are applied in its order; the same in the camera's notes is
//! left aside, as the standard wants it: applied twice, a picture would lie on its side.

use super::{MOST_PIXELS, too_many};
use crate::refusal::Refusal;
use heifer::heifer_isobmff::HeifFile;
use heifer::{Error, Options};
use image::RgbImage;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Whether the file says that it is one.
pub(super) fn is_one(bytes: &[u8]) -> bool {
    let brand = bytes.get(4..12);
    matches!(brand, Some(b"ftypheic" | b"ftypheix" | b"ftypheim" | b"ftypheis" | b"ftypmif1" | b"ftypmif2"))
}

/// The pixels, upright, in sRGB.
pub(super) fn decode(bytes: &[u8]) -> Result<RgbImage, Refusal> {
    // A fault in the decoder is a damaged picture, not the end of the page.
    catch_unwind(AssertUnwindSafe(|| read(bytes)))
        .unwrap_or_else(|_| Err(unreadable("its data contradict each other")))
}

fn read(bytes: &[u8]) -> Result<RgbImage, Refusal> {
    let file = HeifFile::parse(bytes).map_err(|e| unreadable(&e.to_string()))?;
    if let Ok(Some((width, height))) = file.image_size(file.primary_id)
        && u64::from(width) * u64::from(height) > MOST_PIXELS
    {
        return Err(too_many(width, height));
    }
    let options = Options { max_threads: 2, max_pixels: MOST_PIXELS };
    let picture = match heifer::decode_srgb_rgba8(bytes, &options) {
        // A color space that cannot be brought into sRGB: a little off in tone is better than not seen.
        Err(Error::Unsupported(_)) => heifer::decode_rgba8(bytes, &options),
        other => other,
    }
    .map_err(|e| unreadable(&e.to_string()))?;
    let (width, height) = (picture.width, picture.height);
    RgbImage::from_raw(width, height, picture.into_rgb8()).ok_or_else(|| unreadable("it is cut short"))
}

fn unreadable(why: &str) -> Refusal {
    Refusal::invalid(
        format!("This HEIC picture cannot be read: {why}"),
        "Send it again; if that does not help, send it as JPEG: phones offer that when a picture is shared, or in the \
         settings of the camera.",
    )
}
