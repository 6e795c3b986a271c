//! Booking, arrival, and what is known of car and customer.

use crate::refusal::Refusal;
use crate::studio::{Before, Changes, Stamp, Studio};
use body::Style;
use jiff::Timestamp;
use job::{Arrival, Car, Customer, Job, JobEvent, JobId, Note, Order, PanelId, Signature};

/// A car to be booked in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NewJob {
    /// The car.
    pub car: Car,
    /// Its owner.
    pub customer: Customer,
    /// What is wanted.
    pub order: Order,
    /// Promised handover.
    pub promised: Option<Timestamp>,
    /// When the car is expected.
    pub expected: Option<Timestamp>,
}

impl Studio {
    /// Books a car in and gives it a job number.
    ///
    /// # Errors
    /// When plate or name are missing, the body style is unknown, or a promise lies before the arrival.
    pub fn book(&self, stamp: &Stamp, new: NewJob) -> Result<JobId, Refusal> {
        check_car(&new.car)?;
        check_order(&new.car, &new.order)?;
        check_promise(new.expected, new.promised)?;
        let NewJob { car, customer, order, promised, expected } = new;
        let plate = car.plate.clone();
        let booked = JobEvent::Booked { at: self.now(), car, customer, order, promised, expected };
        self.open_job(stamp, &plate, &[booked])
    }

    /// Changes what is known of the car, its owner and the order, all at once, as a form does.
    ///
    /// # Errors
    /// As for booking; the plate cannot change; the order cannot change once an offer was accepted.
    pub fn change_booking(&self, id: &JobId, stamp: &Stamp, new: &NewJob) -> Result<u64, Refusal> {
        check_car(&new.car)?;
        check_order(&new.car, &new.order)?;
        check_promise(new.expected, new.promised)?;
        self.decide(id, stamp, |Before { job, .. }| {
            if job.car.plate != new.car.plate {
                return Err(Refusal::invalid(
                    "The plate of a booked car stays",
                    "Call this job off and book the other car.",
                ));
            }
            let mut events = Vec::new();
            if job.car != new.car {
                events.push(JobEvent::CarChanged { car: new.car.clone() });
            }
            if job.customer != new.customer {
                events.push(JobEvent::CustomerChanged { customer: new.customer.clone() });
            }
            if job.order != new.order {
                if job.acceptance.is_some() {
                    return Err(Refusal::not_yet(
                        "The customer has agreed to this scope already",
                        "Propose a change order instead: it is priced and agreed before work goes on.",
                    ));
                }
                events.push(JobEvent::OrderChanged { order: new.order.clone() });
            }
            if job.promised != new.promised {
                events.push(JobEvent::Promised { promised: new.promised });
            }
            Ok(events.into())
        })
    }

    /// Records the car at the door.
    ///
    /// # Errors
    /// When it has been handed over already, or a number makes no sense.
    pub fn arrive(&self, id: &JobId, stamp: &Stamp, arrival: &Arrival) -> Result<u64, Refusal> {
        if arrival.energy_percent.is_some_and(|p| p > 100) {
            return Err(Refusal::invalid("Fuel or charge is over 100 %", "Enter a number from 0 to 100."));
        }
        self.decide(id, stamp, |Before { job, now, .. }| {
            still_open(job)?;
            let mut arrival = arrival.clone();
            if arrival.at == Timestamp::UNIX_EPOCH {
                arrival.at = job.arrival.as_ref().map_or(now, |a| a.at);
            }
            // A signature stands under what was signed: a changed record has to be signed again.
            arrival.signed = None;
            Ok(JobEvent::Arrived { arrival }.into())
        })
    }

    /// The customer signs the arrival record.
    ///
    /// # Errors
    /// When nothing was recorded yet, or no name is given.
    pub fn sign_arrival(&self, id: &JobId, stamp: &Stamp, name: &str) -> Result<u64, Refusal> {
        let name = signer(name)?;
        self.decide(id, stamp, |Before { job, now, .. }| {
            if job.arrival.is_none() {
                return Err(Refusal::not_yet("Nothing is recorded yet", "Record the arrival, then sign it."));
            }
            Ok(JobEvent::ArrivalSigned { signed: Signature { name: name.clone(), at: now } }.into())
        })
    }

    /// Writes a remark.
    ///
    /// # Errors
    /// When it is empty.
    pub fn note(&self, id: &JobId, stamp: &Stamp, text: &str) -> Result<u64, Refusal> {
        if text.trim().is_empty() {
            return Err(Refusal::invalid("The note is empty", "Write something, then save."));
        }
        self.decide(id, stamp, |Before { now, .. }| {
            let note = Note { at: now, by: stamp.by.clone(), text: text.trim().to_owned() };
            Ok(JobEvent::Noted { note }.into())
        })
    }

    /// Calls a job off.
    ///
    /// # Errors
    /// When it was handed over or no reason is given.
    pub fn call_off(&self, id: &JobId, stamp: &Stamp, why: &str) -> Result<u64, Refusal> {
        if why.trim().is_empty() {
            return Err(Refusal::invalid("No reason is given", "Say why the job is called off."));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            let mut changes = Changes::from(JobEvent::CalledOff { why: why.trim().to_owned() });
            changes.shop.push(job::ShopEvent::FilmReleased { job: id.clone() });
            Ok(changes)
        })
    }
}

/// A name under something.
pub(super) fn signer(name: &str) -> Result<String, Refusal> {
    let name = name.trim();
    if name.is_empty() {
        return Err(Refusal::invalid("There is no name under it", "Write the name of who signs."));
    }
    Ok(name.to_owned())
}

pub(super) fn still_open(job: &Job) -> Result<(), Refusal> {
    if let Some(why) = &job.called_off {
        return Err(Refusal::not_yet(format!("The job was called off: {why}"), "Book the car again."));
    }
    if job.handover.is_some() {
        return Err(Refusal::not_yet("The car was handed over", "Book it again for a visit."));
    }
    Ok(())
}

pub(crate) fn check_car(car: &Car) -> Result<(), Refusal> {
    if car.plate.trim().is_empty() {
        return Err(Refusal::invalid(
            "The car has no plate",
            "Enter the plate, or a name that tells it apart.",
        ));
    }
    let Some(style) = Style::from_name(&car.body) else {
        let known: Vec<_> = Style::ALL.iter().map(|s| s.name()).collect();
        return Err(Refusal::invalid(
            format!("There is no body style '{}'", car.body),
            format!("Use one of: {}.", known.join(", ")),
        ));
    };
    for panel in car.materials.keys() {
        known_panel(style, panel)?;
    }
    Ok(())
}

pub(crate) fn check_order(car: &Car, order: &Order) -> Result<(), Refusal> {
    let Some(style) = Style::from_name(&car.body) else { return Ok(()) };
    if let job::Coverage::Panels(panels) = &order.film {
        panels.iter().try_for_each(|p| known_panel(style, p))?;
    }
    order.remove_film.iter().try_for_each(|p| known_panel(style, p))
}

/// Refuses panels that a body does not have, naming the nearest that it has.
pub(crate) fn known_panel(style: Style, panel: &PanelId) -> Result<(), Refusal> {
    let body = body::Body::of(style);
    if panel.as_str() == crate::engine::WHOLE_CAR || body.panel(panel.as_str()).is_some() {
        return Ok(());
    }
    let nearest = body
        .panels()
        .iter()
        .max_by_key(|p| likeness(p.id, panel.as_str()))
        .map_or_else(String::new, |p| format!("Did you mean '{}'? ", p.id));
    Err(Refusal::invalid(
        format!("The {} has no panel '{panel}'", style.name()),
        format!("{nearest}The drawing of the car names its panels."),
    ))
}

/// Shared pairs of letters, as a rough likeness of two names.
fn likeness(a: &str, b: &str) -> usize {
    let pairs = |s: &str| s.to_lowercase().as_bytes().windows(2).map(<[u8]>::to_vec).collect::<Vec<_>>();
    let of_b = pairs(b);
    pairs(a).iter().filter(|p| of_b.contains(p)).count()
}

fn check_promise(expected: Option<Timestamp>, promised: Option<Timestamp>) -> Result<(), Refusal> {
    match (expected, promised) {
        (Some(expected), Some(promised)) if promised <= expected => Err(Refusal::invalid(
            "The promised handover lies before the arrival",
            "Move the promise, or let the car come earlier.",
        )),
        _ => Ok(()),
    }
}
