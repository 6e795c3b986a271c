//! Pictures at the sizes of pages and documents: made once, kept under the studio's folder. They can be thrown away at any
//! time; the picture in the record is the evidence.

use super::{heic, jpeg, shown, sound};
use crate::refusal::Refusal;
use crate::studio::Studio;
use image::DynamicImage;
use job::PictureId;
use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

/// Sizes in which pictures are shown, px on the longer side.
pub const SIZES: [u32; 4] = [320, 640, 1280, LARGEST];

/// The largest of them.
const LARGEST: u32 = 2560;

/// One picture is made small at a time: a large one takes hundreds of megabytes while it is decoded.
pub(super) static MAKING: Mutex<()> = Mutex::new(());

impl Studio {
    /// A picture of the record as JPEG, upright, without the camera's notes, at most `size` pixels (one of [`SIZES`], or
    /// the next larger) on its longer side.
    ///
    /// # Errors
    /// When there is no such picture or it cannot be decoded.
    pub fn picture_shown(&self, id: &PictureId, size: u32) -> Result<Vec<u8>, Refusal> {
        let sound = !id.0.is_empty() && id.0.bytes().all(|b| b.is_ascii_alphanumeric());
        if !sound {
            return Err(Refusal::not_found("There is no such picture", "Open the page again."));
        }
        let size = SIZES.into_iter().find(|s| *s >= size).unwrap_or(LARGEST);
        if let Ok(bytes) = fs::read(self.shown_at(id, size)) {
            return Ok(bytes);
        }
        let _one = MAKING.lock().unwrap_or_else(PoisonError::into_inner);
        if let Ok(bytes) = fs::read(self.shown_at(id, size)) {
            return Ok(bytes);
        }
        // What is slow to decode was decoded when it came in; smaller ones are made from that.
        let made = match fs::read(self.shown_at(id, LARGEST)) {
            Ok(large) => shown(&large, size)?,
            Err(_) => {
                let original = self.picture_bytes(id)?;
                if heic::is_one(&original) {
                    let large = self.viewable(id, &original)?;
                    if size == LARGEST { return Ok(large) } else { shown(&large, size)? }
                } else {
                    shown(&original, size)?
                }
            }
        };
        self.keep_shown(id, size, &made);
        Ok(made)
    }

    /// Looks at a picture that comes in, before anything is written. Of a HEIC picture the viewable JPEG is made here,
    /// once.
    ///
    /// # Errors
    /// As [`super::check`].
    pub fn look_at_picture(&self, name: &str, bytes: &[u8]) -> Result<(), Refusal> {
        sound(name, bytes)?;
        if !heic::is_one(bytes) {
            return Ok(());
        }
        let id = PictureId(journal::PictureId::of(bytes).to_string());
        let _one = MAKING.lock().unwrap_or_else(PoisonError::into_inner);
        if self.shown_at(&id, LARGEST).is_file() {
            return Ok(());
        }
        self.viewable(&id, bytes).map_err(|e| e.at(name)).map(drop)
    }

    fn viewable(&self, id: &PictureId, bytes: &[u8]) -> Result<Vec<u8>, Refusal> {
        let mut picture = heic::decode(bytes)?;
        if picture.width().max(picture.height()) > LARGEST {
            picture = DynamicImage::ImageRgb8(picture).thumbnail(LARGEST, LARGEST).into_rgb8();
        }
        let made = jpeg(&picture, 88)?;
        self.keep_shown(id, LARGEST, &made);
        Ok(made)
    }

    fn shown_at(&self, id: &PictureId, size: u32) -> PathBuf {
        self.folder().join("shown").join(format!("{id}-{size}.jpg"))
    }

    fn keep_shown(&self, id: &PictureId, size: u32, bytes: &[u8]) {
        let folder = self.folder().join("shown");
        // Without a place to keep it, it is made anew each time: slower, not wrong.
        let _ = fs::create_dir_all(&folder)
            .and_then(|()| tempfile::NamedTempFile::new_in(&folder))
            .and_then(|mut file| file.write_all(bytes).map(|()| file))
            .and_then(|file| file.persist(self.shown_at(id, size)).map_err(|e| e.error));
    }
}
