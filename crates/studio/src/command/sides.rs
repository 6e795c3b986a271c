//! Where the seams on a car's sides lie.

use super::book::still_open;
use super::film::still_free;
use crate::refusal::Refusal;
use crate::studio::{Before, Stamp, Studio};
use job::{JobEvent, JobId, SidePlan};
use units::Money;

impl Studio {
    /// Chooses the seams of the sides, by name; the film sheet and the offer follow.
    ///
    /// # Errors
    /// When a seam is none of those that can be chosen, a piece fits no roll, or film is set aside or cut already.
    pub fn plan_sides(
        &self,
        id: &JobId,
        stamp: &Stamp,
        seams: &[String],
        unseen_m: Money,
    ) -> Result<u64, Refusal> {
        if !(Money::ZERO..=Money::cents(1_000_000)).contains(&unseen_m) {
            return Err(Refusal::invalid(
                "The price of a meter of seam is out of range",
                "Enter from 0 to 10,000.",
            ));
        }
        let view = self.sides_view(id)?;
        if let Some(nothing) = view.nothing {
            return Err(Refusal::not_yet("There are no seams to choose", nothing));
        }
        let same = |c: &&crate::view::SideChoice| {
            c.seams.len() == seams.len() && c.seams.iter().all(|s| seams.contains(s))
        };
        let choice = view.choices.iter().find(same).ok_or_else(|| {
            Refusal::not_found(
                "This choice of seams is not on the list",
                "Open the page again: prices may have moved.",
            )
        })?;
        self.decide(id, stamp, |Before { job, now, .. }| {
            still_open(job)?;
            if job.acceptance.is_some() {
                return Err(Refusal::not_yet(
                    "An offer was accepted with the seams that it has",
                    "Seams are chosen before the customer agrees.",
                ));
            }
            still_free(job)?;
            let plan = SidePlan {
                seams: choice.seams.clone(),
                pieces: choice.pieces as u32,
                unseen_m,
                install: choice.install,
                renewals: choice.renewals,
                expected: choice.expected,
                in_sight: choice.in_sight,
                at: now,
                by: stamp.by.clone(),
            };
            Ok(JobEvent::SidesPlanned { plan }.into())
        })
    }
}
