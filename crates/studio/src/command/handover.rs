//! Handover, visits and claims.

use super::book::{signer, still_open};
use super::finding::check_place;
use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Before, Changes, Stamp, Studio, zone_of};
use job::{CarEvent, Claim, Handover, JobEvent, JobId, Place, ShopEvent, Signature, VisitState};

impl Studio {
    /// Gives the car back: books the clear coat spent to the car, plans the visits to come.
    ///
    /// # Errors
    /// When steps are open, checks are not ticked, or no name is given.
    pub fn hand_over(
        &self,
        id: &JobId,
        stamp: &Stamp,
        name: &str,
        checked: &[String],
        note: &str,
    ) -> Result<u64, Refusal> {
        let name = signer(name)?;
        let view = self.handover_view(id)?;
        if !view.missing.is_empty() {
            return Err(Refusal::not_yet("The car cannot be handed over yet", view.missing.join(" ")));
        }
        let unticked: Vec<&str> =
            view.checks.iter().filter(|c| !checked.contains(c)).map(String::as_str).collect();
        if !unticked.is_empty() {
            return Err(Refusal::not_yet(
                "The final check is not complete",
                format!("Still to check: {}.", unticked.join("; ")),
            ));
        }
        self.decide(id, stamp, |Before { job, shop, now, history }| {
            still_open(job)?;
            let handover = Handover {
                at: now,
                by: stamp.by.clone(),
                signed: Some(Signature { name: name.clone(), at: now }),
                checked: checked.to_vec(),
                pictures: Vec::new(),
                note: note.trim().to_owned(),
            };
            let visits = engine::route::visits(job, shop, now)?;
            let mut changes =
                Changes::from(vec![JobEvent::HandedOver { handover }, JobEvent::VisitsPlanned { visits }]);
            for (panel, removal) in crate::view::removals(self, id, job, history, shop, now)? {
                changes.car.push(CarEvent::ClearTaken { panel, removal });
            }
            changes.shop.push(ShopEvent::FilmReleased { job: id.clone() });
            Ok(changes)
        })
    }

    /// A visit happened.
    ///
    /// # Errors
    /// When there is no such visit or it is not to come any more.
    pub fn visit_done(&self, id: &JobId, stamp: &Stamp, index: usize, seen: &str) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| match job.visits.get(index) {
            Some(visit) if visit.state == VisitState::Due => {
                Ok(JobEvent::VisitDone { index, seen: seen.trim().to_owned() }.into())
            }
            Some(_) => Err(Refusal::not_yet("This visit is closed already", "")),
            None => Err(Refusal::not_found("There is no such visit", "Open the page again.")),
        })
    }

    /// Something failed after the handover.
    ///
    /// # Errors
    /// When the panel is unknown or nothing is said.
    pub fn claim(&self, id: &JobId, stamp: &Stamp, claim: &Claim) -> Result<u64, Refusal> {
        if claim.what.trim().is_empty() {
            return Err(Refusal::invalid("It is not said what failed", "Say what was seen."));
        }
        if claim.spot.is_some_and(|s| s.iter().any(|x| !(0.0..=1.0).contains(x))) {
            return Err(Refusal::invalid("The spot lies off its panel", "Tap the drawing again."));
        }
        self.decide(id, stamp, |Before { job, now, shop, .. }| {
            check_place(job, &Place::panel(claim.panel.as_str()))?;
            if let Some(piece) = &claim.piece
                && !job.laid.iter().any(|p| p.piece == *piece && p.panel == claim.panel)
            {
                return Err(Refusal::not_found(
                    format!("No piece '{piece}' lies on {}", claim.panel.title().to_lowercase()),
                    "Choose a piece of this car's film, or none.",
                ));
            }
            let today = now.to_zoned_datetime(zone_of(shop)).date();
            if claim.since.is_some_and(|s| s > today) {
                return Err(Refusal::invalid("It is seen since a day to come", "Enter today or earlier."));
            }
            Ok(JobEvent::Claimed { claim: Claim { at: now, answer: None, ..claim.clone() } }.into())
        })
    }
}
