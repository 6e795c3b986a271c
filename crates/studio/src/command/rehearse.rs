//! Playing a job through without its customer: what would be if the advised option were agreed to now.

use crate::refusal::Refusal;
use crate::studio::{Stamp, Studio};
use job::{Arrival, JobEvent, JobId, Signature};

impl Studio {
    /// Plays a job through to a set route, a layout of its film and a plan, taking the advised option. What stands in the
    /// way of the real thing is told, not hidden. For studios that nobody works in: the plain folder form.
    ///
    /// # Errors
    /// When the journal fails or the job is unknown.
    pub fn rehearse(&self, id: &JobId, stamp: &Stamp) -> Result<Vec<String>, Refusal> {
        let mut notes = Vec::new();
        let signed = Signature { name: stamp.by.clone(), at: self.now() };
        let job = self.job(id)?.job;
        if job.arrival.is_none() {
            notes.push(
                "No arrival is recorded: reckoned as if the car came in now, lightly soiled.".to_owned(),
            );
            self.arrive(id, stamp, &Arrival::default())?;
        }
        if self.job(id)?.job.arrival.as_ref().is_some_and(|a| a.signed.is_none()) {
            self.decide(id, stamp, |_| Ok(JobEvent::ArrivalSigned { signed: signed.clone() }.into()))?;
        }
        let missing = self.survey_view(id)?.missing;
        if job.survey_closed.is_none() {
            notes.extend(missing.into_iter().map(|m| format!("The survey could not be closed yet: {m}")));
            self.decide(id, stamp, |_| Ok(JobEvent::SurveyClosed { signed: signed.clone() }.into()))?;
        }
        if self.job(id)?.job.acceptance.is_none() {
            match self.make_offer(id, stamp) {
                Err(refusal) => {
                    notes.push(refusal.to_string());
                    return Ok(notes);
                }
                Ok(offer) => {
                    let job = self.job(id)?.job;
                    let options = job.offers.last().map(|o| o.options.clone()).unwrap_or_default();
                    if let Some(chosen) = options.iter().find(|o| o.advised).or(options.first()) {
                        notes.push(format!("Reckoned as if '{}' were agreed to.", chosen.title));
                        self.accept(id, stamp, offer, &chosen.id, &stamp.by, &job::Strokes::default())?;
                    }
                }
            }
        }
        if let Err(refusal) = self.set_route(id, stamp) {
            notes.push(refusal.to_string());
        }
        if self.job(id)?.job.order.film != job::Coverage::None
            && let Err(refusal) = self.accept_cut(id, stamp)
        {
            notes.push(refusal.to_string());
        }
        if let Err(refusal) = self.keep_plan(stamp) {
            notes.push(refusal.to_string());
        }
        Ok(notes)
    }
}
