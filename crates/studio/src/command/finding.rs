//! Findings and pictures.

use super::book::{known_panel, still_open};
use crate::refusal::Refusal;
use crate::studio::{Before, Stamp, Studio};
use body::Style;
use job::{Finding, FindingNo, Job, JobEvent, JobId, PictureId, Place, Stage, StepNo};

impl Studio {
    /// Records a finding; its number and stage are given here.
    ///
    /// # Errors
    /// When the panel is unknown, the spot lies off it, or the car was handed over.
    pub fn find(&self, id: &JobId, stamp: &Stamp, finding: &Finding) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, now, .. }| {
            still_open(job)?;
            check_place(job, &finding.place)?;
            check_sizes(finding)?;
            let mut finding = finding.clone();
            finding.no = job.next_finding();
            finding.found = found_at(job);
            finding.at = now;
            finding.by.clone_from(&stamp.by);
            Ok(JobEvent::Found { finding }.into())
        })
    }

    /// Describes a finding better. What it is and where is kept beside the older description in the record.
    ///
    /// # Errors
    /// When there is no such finding, or as for a new one.
    pub fn change_finding(&self, id: &JobId, stamp: &Stamp, finding: &Finding) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| {
            let old = job.finding(finding.no).ok_or_else(|| no_finding(finding.no))?;
            check_place(job, &finding.place)?;
            check_sizes(finding)?;
            let mut finding = finding.clone();
            finding.found = old.found;
            finding.at = old.at;
            finding.by.clone_from(&old.by);
            finding.pictures.clone_from(&old.pictures);
            Ok(JobEvent::FindingChanged { finding }.into())
        })
    }

    /// Takes a finding back, with the reason. It stays in the record.
    ///
    /// # Errors
    /// When there is no such finding or no reason.
    pub fn withdraw_finding(
        &self,
        id: &JobId,
        stamp: &Stamp,
        no: FindingNo,
        why: &str,
    ) -> Result<u64, Refusal> {
        if why.trim().is_empty() {
            return Err(Refusal::invalid("No reason is given", "Say why the finding is taken back."));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            job.finding(no).ok_or_else(|| no_finding(no))?;
            Ok(JobEvent::FindingWithdrawn { no, why: why.trim().to_owned() }.into())
        })
    }

    /// Takes a picture into the record.
    ///
    /// # Errors
    /// When the file is no picture that can be read, or is too large.
    pub fn add_picture(
        &self,
        id: &JobId,
        stamp: &Stamp,
        name: &str,
        bytes: &[u8],
        place: Option<&Place>,
        finding: Option<FindingNo>,
    ) -> Result<PictureId, Refusal> {
        self.put_in(id, stamp, name, bytes, place, finding, None)
    }

    /// Puts a picture into the record that was taken during a step; it shows the step's panel when there is only one.
    ///
    /// # Errors
    /// When it is no picture, or there is no such step.
    pub fn add_step_picture(
        &self,
        id: &JobId,
        stamp: &Stamp,
        no: StepNo,
        name: &str,
        bytes: &[u8],
    ) -> Result<PictureId, Refusal> {
        let entry = self.job(id)?;
        let planned = entry.job.planned(no).ok_or_else(|| {
            Refusal::not_found(format!("There is no step {no} on the route"), "Open the route again.")
        })?;
        let place = match planned.panels.as_slice() {
            [one] => Some(Place::panel(one.as_str())),
            _ => None,
        };
        self.put_in(id, stamp, name, bytes, place.as_ref(), None, Some(no))
    }

    #[allow(clippy::too_many_arguments, reason = "what is known of a picture, in one private place")]
    fn put_in(
        &self,
        id: &JobId,
        stamp: &Stamp,
        name: &str,
        bytes: &[u8],
        place: Option<&Place>,
        finding: Option<FindingNo>,
        step: Option<StepNo>,
    ) -> Result<PictureId, Refusal> {
        self.look_at_picture(name, bytes)?;
        let entry = self.job(id)?;
        if let Some(place) = place {
            check_place(&entry.job, place)?;
        }
        let stored = self.journal.put_picture(bytes).map_err(crate::studio::broken)?;
        let picture = PictureId(stored.to_string());
        self.decide(id, stamp, |Before { job, .. }| {
            if let Some(no) = finding {
                job.finding(no).ok_or_else(|| no_finding(no))?;
            }
            Ok(JobEvent::Pictured {
                picture: picture.clone(),
                name: name.to_owned(),
                place: place.cloned(),
                stage: found_at(job),
                finding,
                step,
            }
            .into())
        })?;
        Ok(picture)
    }
}

/// The stage in which something found now belongs.
fn found_at(job: &Job) -> Stage {
    match job.stage() {
        Stage::Arrival => Stage::Arrival,
        Stage::Survey | Stage::Offer => Stage::Survey,
        Stage::Visits => Stage::Visits,
        _ => Stage::Work,
    }
}

pub(crate) fn check_place(job: &Job, place: &Place) -> Result<(), Refusal> {
    let style = Style::from_name(&job.car.body).unwrap_or(Style::Saloon);
    known_panel(style, &place.panel)?;
    for (name, value) in [("u", place.u), ("v", place.v)] {
        if value.is_some_and(|x| !(0.0..=1.0).contains(&x)) {
            return Err(Refusal::invalid(
                format!("{name} lies off the panel"),
                "Tap on the panel, or give numbers from 0 to 1 across and down its drawing.",
            ));
        }
    }
    Ok(())
}

fn check_sizes(finding: &Finding) -> Result<(), Refusal> {
    let bad_size = finding.size.is_some_and(|s| !(s.as_mm() > 0.0 && s.as_mm() < 10_000.0));
    let bad_depth = finding.depth.is_some_and(|d| !(d.as_um() > 0.0 && d.as_um() < 5_000.0));
    if bad_size || bad_depth {
        return Err(Refusal::invalid(
            "Size or depth of the finding is out of range",
            "Give the size in mm (above 0, below 10000) and the depth in µm (above 0, below 5000), or leave them out.",
        ));
    }
    Ok(())
}

fn no_finding(no: FindingNo) -> Refusal {
    Refusal::not_found(format!("There is no finding {no}"), "Look at the list below the drawing.")
}
