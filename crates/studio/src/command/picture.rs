//! Marks on pictures, and pictures that belong together.

use crate::picture;
use crate::refusal::Refusal;
use crate::studio::{Before, Stamp, Studio};
use job::{Job, JobEvent, JobId, MarkShape, PictureId, PictureMark, PicturePair, Thousandths};

/// A mark as somebody draws it: in shares of the upright picture, 0 to 1 from its left and upper edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drawn {
    /// A ring.
    Ring {
        /// Center, across and down.
        at: [f64; 2],
        /// Radius, as a share of the picture's width.
        radius: f64,
    },
    /// An arrow.
    Arrow {
        /// Where it begins.
        from: [f64; 2],
        /// Its point.
        to: [f64; 2],
    },
}

/// Most marks on one picture.
const MOST_MARKS: usize = 40;

/// Most letters beside a mark.
const LONGEST: usize = 200;

impl Studio {
    /// Draws a mark over a picture; it gets the next number. The picture stays as it is.
    ///
    /// # Errors
    /// When the picture is none of this job's, the mark lies off it or is too small to be seen, or there are too many.
    pub fn mark_picture(
        &self,
        id: &JobId,
        stamp: &Stamp,
        picture: &PictureId,
        drawn: Drawn,
        text: &str,
    ) -> Result<u64, Refusal> {
        let text = text.trim();
        if text.chars().count() > LONGEST {
            return Err(Refusal::invalid(
                format!("The words beside the mark are longer than {LONGEST} letters"),
                "Say it shorter, or write a note.",
            ));
        }
        part_of(&self.job(id)?.job, picture)?;
        let (width, height) = picture::size(&self.picture_shown(picture, 2560)?)?;
        let tall = f64::from(height) / f64::from(width);
        let shape = placed(drawn, tall)?;
        let tall = thousandths(tall);
        self.decide(id, stamp, |Before { job, now, .. }| {
            part_of(job, picture)?;
            let of = job.marked.iter().find(|m| m.picture == *picture);
            if of.is_some_and(|m| m.marks.len() >= MOST_MARKS) {
                return Err(Refusal::invalid(
                    format!("There are {MOST_MARKS} marks on this picture"),
                    "Take some off, or take another picture, closer.",
                ));
            }
            let no = of.map_or(0, |m| m.given) + 1;
            let (text, by) = (text.to_owned(), stamp.by.clone());
            let mark = PictureMark { no, shape, text, at: now, by };
            Ok(JobEvent::PictureMarked { picture: picture.clone(), tall, mark }.into())
        })
    }

    /// Takes a mark off a picture; it stays in the record.
    ///
    /// # Errors
    /// When there is no such mark.
    pub fn unmark_picture(
        &self,
        id: &JobId,
        stamp: &Stamp,
        picture: &PictureId,
        no: u32,
    ) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| {
            let there = job.marks_of(picture).is_some_and(|m| m.marks.iter().any(|m| m.no == no));
            if !there {
                return Err(Refusal::not_found(
                    format!("There is no mark {no} on this picture"),
                    "Open the picture again: somebody may have taken it off.",
                ));
            }
            Ok(JobEvent::PictureMarkRemoved { picture: picture.clone(), no }.into())
        })
    }

    /// Says that two pictures show the same place, before and after.
    ///
    /// # Errors
    /// When one is none of this job's, or both are the same.
    pub fn pair_pictures(&self, id: &JobId, stamp: &Stamp, pair: &PicturePair) -> Result<u64, Refusal> {
        if pair.before == pair.after {
            return Err(Refusal::invalid(
                "Before and after are the same picture",
                "Choose a picture from the arrival or the survey, and one from after the work.",
            ));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            part_of(job, &pair.before)?;
            part_of(job, &pair.after)?;
            Ok(JobEvent::PicturesPaired { pair: pair.clone() }.into())
        })
    }

    /// Says that two pictures do not belong together: a pair, or what was suggested.
    ///
    /// # Errors
    /// When one is none of this job's.
    pub fn part_pictures(
        &self,
        id: &JobId,
        stamp: &Stamp,
        before: &PictureId,
        after: &PictureId,
    ) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| {
            part_of(job, before)?;
            part_of(job, after)?;
            Ok(JobEvent::PicturesParted { before: before.clone(), after: after.clone() }.into())
        })
    }
}

fn part_of(job: &Job, picture: &PictureId) -> Result<(), Refusal> {
    if job.shows(picture) {
        return Ok(());
    }
    Err(Refusal::not_found("This picture is not part of the job", "Open it from the car's page."))
}

fn thousandths(share: f64) -> Thousandths {
    (share * 1000.0).round().clamp(0.0, f64::from(Thousandths::MAX)) as Thousandths
}

/// The mark in thousandths of the picture's width.
fn placed(drawn: Drawn, tall: f64) -> Result<MarkShape, Refusal> {
    let spot = |[x, y]: [f64; 2]| {
        let on = (0.0..=1.0).contains(&x) && (0.0..=1.0).contains(&y);
        on.then(|| (thousandths(x), thousandths(y * tall))).ok_or_else(|| {
            Refusal::invalid("The mark lies off the picture", "Give percent from 0 to 100, across and down.")
        })
    };
    match drawn {
        Drawn::Ring { at, radius } => {
            let (x, y) = spot(at)?;
            if !(0.005..=1.0).contains(&radius) {
                return Err(Refusal::invalid(
                    "The ring is too small or too large",
                    "Give a radius from 0.5 to 100 percent of the picture's width.",
                ));
            }
            Ok(MarkShape::Ring { x, y, r: thousandths(radius) })
        }
        Drawn::Arrow { from, to } => {
            let ((x, y), (to_x, to_y)) = (spot(from)?, spot(to)?);
            let long = (f64::from(to_x) - f64::from(x)).hypot(f64::from(to_y) - f64::from(y));
            if long < 20.0 {
                return Err(Refusal::invalid(
                    "The arrow is too short to be seen",
                    "Draw it at least 2 percent of the picture's width long.",
                ));
            }
            Ok(MarkShape::Arrow { x, y, to_x, to_y })
        }
    }
}
