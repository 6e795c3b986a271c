//! Notes that are spoken.

use crate::refusal::Refusal;
use crate::sound;
use crate::studio::{Before, Stamp, Studio, broken};
use job::{JobEvent, JobId, PictureId, StepNo, VoiceNote};

impl Studio {
    /// Keeps a spoken note. It is for the shop alone: no document, no link of a customer, no exported folder has it.
    ///
    /// # Errors
    /// When the file is no recording that browsers can play, or is too large.
    pub fn speak(
        &self,
        id: &JobId,
        stamp: &Stamp,
        name: &str,
        bytes: &[u8],
        text: &str,
        step: Option<StepNo>,
    ) -> Result<u64, Refusal> {
        sound::check(name, bytes)?;
        let text = text.trim();
        if text.chars().count() > 200 {
            return Err(Refusal::invalid(
                "The line beside the recording is longer than 200 letters",
                "Say it shorter, or write a note.",
            ));
        }
        self.job(id)?;
        let stored = self.journal().put_picture(bytes).map_err(broken)?;
        self.decide(id, stamp, |Before { now, .. }| {
            let voice = VoiceNote {
                sound: PictureId(stored.to_string()),
                text: text.to_owned(),
                step,
                at: now,
                by: stamp.by.clone(),
            };
            Ok(JobEvent::Spoken { voice }.into())
        })
    }

    /// A recording and its media type.
    ///
    /// # Errors
    /// When there is none of that name, or what is there is no recording.
    pub fn sound(&self, id: &PictureId) -> Result<(Vec<u8>, &'static str), Refusal> {
        let bytes = self.picture_bytes(id)?;
        let kind = sound::kind(&bytes)
            .ok_or_else(|| Refusal::not_found("There is no such recording", "Open the car's page again."))?;
        Ok((bytes, kind))
    }
}
