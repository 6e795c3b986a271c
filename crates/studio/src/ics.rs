//! The plan as a calendar file (RFC 5545).

use crate::refusal::Refusal;
use crate::studio::Studio;
use crate::view::{CarTag, day};
use icalendar::{Calendar, Component, Event, EventLike};
use job::{Booking, JobId};

/// Whose calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Whose {
    /// Everything of a job, its visits included.
    Job(JobId),
    /// The visits of a job alone: for its customer.
    Visits(JobId),
    /// What a person does.
    Person(String),
    /// What stands in a bay.
    Bay(String),
}

impl Studio {
    /// The plan that people know as a calendar file; times in UTC, so that it means the same everywhere.
    ///
    /// # Errors
    /// When there is no such job, person or bay.
    pub fn calendar_file(&self, whose: &Whose) -> Result<String, Refusal> {
        let shop = self.shop()?;
        let jobs = self.current_jobs()?;
        let mine = |b: &&Booking| match whose {
            Whose::Job(id) => b.job == *id,
            Whose::Visits(_) => false,
            Whose::Person(name) => b.people.contains(name),
            Whose::Bay(name) => b.bay.as_ref() == Some(name),
        };
        let known = match whose {
            Whose::Job(id) | Whose::Visits(id) => self.job(id).is_ok(),
            Whose::Person(name) => shop.settings.people.iter().any(|p| p.name == *name),
            Whose::Bay(name) => shop.settings.bays.iter().any(|b| b.name == *name),
        };
        if !known {
            return Err(Refusal::not_found(
                "There is no such calendar",
                "Choose a person, a bay or a job of this shop.",
            ));
        }
        let title = match whose {
            Whose::Job(id) => format!("Job {id}"),
            Whose::Visits(_) => "Care of the car".to_owned(),
            Whose::Person(name) | Whose::Bay(name) => name.clone(),
        };
        let mut calendar = Calendar::new();
        calendar.name(&title);
        let stamp = utc(shop.planned.unwrap_or(self.now()));
        for booking in shop.plan.iter().filter(mine) {
            let mut event = Event::new();
            event
                .uid(&format!("{}-{}@shutline", booking.job, booking.step))
                .summary(&day::name_of(&jobs, &booking.job, booking.step))
                .add_property("DTSTAMP", &stamp)
                .add_property("DTSTART", utc(booking.from))
                .add_property("DTEND", utc(booking.to));
            if let Some(bay) = &booking.bay {
                event.location(bay);
            }
            if !booking.people.is_empty() {
                event.description(&booking.people.join(", "));
            }
            calendar.push(event.done());
        }
        if let Whose::Job(id) | Whose::Visits(id) = whose
            && let Ok(entry) = self.job(id)
        {
            let car = CarTag::of(id, &entry.job).name;
            for (i, visit) in entry.job.visits.iter().enumerate() {
                let mut event = Event::new();
                event
                    .uid(&format!("{id}-visit-{i}@shutline"))
                    .summary(&format!("{car}: {}", visit.what))
                    .add_property("DTSTAMP", &stamp)
                    .append_property(
                        icalendar::Property::new("DTSTART", visit.due.strftime("%Y%m%d").to_string())
                            .add_parameter("VALUE", "DATE")
                            .done(),
                    );
                calendar.push(event.done());
            }
        }
        Ok(calendar.done().to_string())
    }
}

fn utc(at: jiff::Timestamp) -> String {
    at.strftime("%Y%m%dT%H%M%SZ").to_string()
}
