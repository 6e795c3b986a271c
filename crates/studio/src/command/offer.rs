//! Offers, consent and change orders.

use super::book::{check_order, signer, still_open};
use crate::refusal::Refusal;
use crate::studio::{Before, Stamp, Studio, zone_of};
use jiff::{Timestamp, ToSpan};
use job::{
    Acceptance, ChangeNo, ChangeOrder, ChangeState, JobEvent, JobId, Offer, OfferNo, Order, Signature,
    Strokes,
};

impl Studio {
    /// Puts the options, as they are priced now, before the customer.
    ///
    /// # Errors
    /// When the survey is not closed, or no option can be offered.
    pub fn make_offer(&self, id: &JobId, stamp: &Stamp) -> Result<OfferNo, Refusal> {
        let view = self.offer_view(id)?;
        let no = self.job(id)?.job.offers.len() as u32 + 1;
        self.decide(id, stamp, |Before { job, shop, now, .. }| {
            still_open(job)?;
            if job.survey_closed.is_none() {
                return Err(Refusal::not_yet(
                    "The survey is not closed",
                    "An offer rests on what was found and read: close the survey first.",
                ));
            }
            let options: Vec<_> =
                view.draft.iter().filter(|d| d.problem.is_none()).map(|d| d.option.clone()).collect();
            if options.is_empty() {
                let why = view.draft.iter().find_map(|d| d.problem.clone()).unwrap_or_default();
                return Err(Refusal::new(
                    crate::RefusalKind::Impossible,
                    "No option can be offered as things stand",
                    why,
                ));
            }
            let left_out = view.draft.iter().filter_map(|d| {
                Some(format!("{} cannot be offered. {}", d.option.title, d.problem.as_ref()?))
            });
            let until = now
                .to_zoned_datetime(zone_of(shop))
                .checked_add(shop.settings.prices.offer_days.days())
                .map_or(now, |z| z.timestamp());
            let offer = Offer {
                no: OfferNo(no),
                at: now,
                by: stamp.by.clone(),
                valid_until: until,
                options,
                not_attempted: left_out.chain(view.not_attempted.iter().cloned()).collect(),
            };
            Ok(JobEvent::Offered { offer }.into())
        })?;
        Ok(OfferNo(no))
    }

    /// The customer agrees to an option, by name and, where there are strokes, by a drawn signature.
    ///
    /// # Errors
    /// When offer or option are unknown, the offer has run out, another was accepted, or the drawing makes no sense.
    pub fn accept(
        &self,
        id: &JobId,
        stamp: &Stamp,
        offer: OfferNo,
        option: &str,
        name: &str,
        strokes: &Strokes,
    ) -> Result<u64, Refusal> {
        let name = signer(name)?;
        check_strokes(strokes)?;
        self.decide(id, stamp, |Before { job, now, .. }| {
            still_open(job)?;
            if job.acceptance.is_some() {
                return Err(Refusal::not_yet(
                    "An option was accepted already",
                    "Propose a change order for another scope.",
                ));
            }
            let made = job.offers.iter().find(|o| o.no == offer).ok_or_else(|| {
                Refusal::not_found(format!("There is no offer {offer}"), "Open the offer again.")
            })?;
            if made.valid_until < now {
                return Err(Refusal::not_yet(
                    "This offer has run out",
                    "Make a new one: prices and dates may have moved.",
                ));
            }
            if job.offers.iter().any(|o| o.no > offer) {
                return Err(Refusal::not_yet("There is a newer offer", "Show the customer the newer one."));
            }
            let chosen = made.options.iter().find(|o| o.id == option).ok_or_else(|| {
                Refusal::not_found(
                    format!("Offer {offer} has no option '{option}'"),
                    "Choose one of its options.",
                )
            })?;
            let signed = Signature { name: name.clone(), at: now };
            let acceptance = Acceptance {
                offer,
                option: option.to_owned(),
                signed,
                drawn: None,
                strokes: strokes.clone(),
            };
            let mut events = vec![JobEvent::Accepted { acceptance }];
            if job.promised.is_none() && chosen.back_by.is_some() {
                events.push(JobEvent::Promised { promised: chosen.back_by });
            }
            Ok(events.into())
        })
    }

    /// Proposes a change of scope, priced and dated as things stand now.
    ///
    /// # Errors
    /// When nothing was accepted yet, another change waits, no reason is given, or nothing would change.
    pub fn propose_change(
        &self,
        id: &JobId,
        stamp: &Stamp,
        order: &Order,
        reason: &str,
    ) -> Result<ChangeNo, Refusal> {
        if reason.trim().is_empty() {
            return Err(Refusal::invalid(
                "No reason is given",
                "Say in a sentence for the customer what was found.",
            ));
        }
        let entry = self.job(id)?;
        check_order(&entry.job.car, order)?;
        let view = self.change_view(id, order, reason)?;
        let no = view.change.no;
        let stamp = Stamp { seen: Some(entry.version), ..stamp.clone() };
        self.decide(id, &stamp, |Before { job, now, .. }| {
            still_open(job)?;
            if job.acceptance.is_none() {
                return Err(Refusal::not_yet(
                    "No offer was accepted yet",
                    "Change the order and make a new offer instead.",
                ));
            }
            if let Some(open) = job.open_change() {
                return Err(Refusal::not_yet(
                    format!("Change order {} still waits for the customer", open.no),
                    "Have it agreed or declined first.",
                ));
            }
            let change = ChangeOrder { at: now, by: stamp.by.clone(), ..view.change.clone() };
            Ok(JobEvent::ChangeProposed { change }.into())
        })?;
        Ok(no)
    }

    /// The customer answers a change order, by name and, where there are strokes, by a drawn signature.
    ///
    /// # Errors
    /// When it is unknown or answered already, no name is given, or the drawing makes no sense.
    pub fn answer_change(
        &self,
        id: &JobId,
        stamp: &Stamp,
        no: ChangeNo,
        agreed: bool,
        name: &str,
        strokes: &Strokes,
    ) -> Result<u64, Refusal> {
        let name = signer(name)?;
        check_strokes(strokes)?;
        self.decide(id, stamp, |Before { job, now, .. }| {
            let change: &ChangeOrder = job.changes.iter().find(|c| c.no == no).ok_or_else(|| {
                Refusal::not_found(format!("There is no change order {no}"), "Open the offer page again.")
            })?;
            if change.state != ChangeState::Proposed {
                return Err(Refusal::not_yet(format!("Change order {no} was answered already"), ""));
            }
            let signed = Signature { name: name.clone(), at: now };
            Ok(if agreed {
                JobEvent::ChangeAgreed { no, signed, strokes: strokes.clone() }
            } else {
                JobEvent::ChangeDeclined { no, signed, strokes: strokes.clone() }
            }
            .into())
        })
    }

    /// Promises another handover.
    ///
    /// # Errors
    /// When the job is closed.
    pub fn promise(&self, id: &JobId, stamp: &Stamp, promised: Option<Timestamp>) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            Ok(JobEvent::Promised { promised }.into())
        })
    }
}

/// Most points of a signature: a long name drawn slowly has about a thousand.
const MOST_POINTS: usize = 6000;

fn check_strokes(strokes: &Strokes) -> Result<(), Refusal> {
    let [wide, high] = Strokes::FIELD;
    let points: usize = strokes.0.iter().map(Vec::len).sum();
    if points > MOST_POINTS || strokes.0.iter().flatten().any(|[x, y]| *x > wide || *y > high) {
        return Err(Refusal::invalid(
            "The drawn signature cannot be read",
            "Draw it again, or let the name stand alone.",
        ));
    }
    Ok(())
}
