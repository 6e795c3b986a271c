//! Reminders to customers: drafts in plain words, each about a visit, a year gone by, or a claim that was answered.
//! The program sends nothing.

use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Studio, zone_of};
use crate::times::Times;
use crate::view::CarTag;
use jiff::{ToSpan, civil::Date};
use job::{Claim, Job, JobId, Reminder, ReminderState, Shop, Visit, VisitState};
use std::collections::BTreeMap;

/// A draft is due so many days before what it is about. Common practice, no source.
const AHEAD: i64 = 7;
/// A draft that nobody sent is off the day board so many days after it was due; it stays on the car's sheet.
const KEPT: i64 = 90;
/// Years after the handover for which a yearly word is drafted.
const YEARS: usize = 5;

/// A reminder about one thing.
#[derive(Clone, Debug, PartialEq)]
pub struct ReminderRow {
    /// What it is about: `visit-0`, `claim-1`, `year-2`.
    pub about: String,
    /// In a few words.
    pub title: String,
    /// From when it should be sent.
    pub due: Date,
    /// Subject of the message.
    pub subject: String,
    /// The message: as the program drafts it, or as a person wrote it.
    pub text: String,
    /// What a person did with it, if anything.
    pub had: Option<Reminder>,
}

impl ReminderRow {
    /// Whether it waits to be sent.
    pub fn waits(&self) -> bool {
        self.had.as_ref().is_none_or(|r| r.state == ReminderState::Draft)
    }
}

/// A customer to be reminded.
#[derive(Clone, Debug, PartialEq)]
pub struct DueReminder {
    /// The car.
    pub car: CarTag,
    /// What it is about.
    pub about: String,
    /// In a few words.
    pub title: String,
    /// Since when it should be sent.
    pub due: Date,
}

/// Days from which reminders of finished jobs wait: what the day board looks through instead of all jobs.
#[derive(Default)]
pub(crate) struct Owed(BTreeMap<JobId, Vec<Date>>);

impl Owed {
    /// Takes in the days of a job.
    pub fn set(&mut self, id: &JobId, days: Vec<Date>) {
        if days.is_empty() {
            self.0.remove(id);
        } else {
            self.0.insert(id.clone(), days);
        }
    }

    /// Jobs with something due from one day to another, by number.
    pub fn between(&self, from: Date, to: Date) -> impl Iterator<Item = &JobId> {
        self.0.iter().filter(move |(_, days)| days.iter().any(|d| (from..=to).contains(d))).map(|(id, _)| id)
    }
}

/// Days from which reminders of a job wait.
pub(crate) fn days_owed(job: &Job) -> Vec<Date> {
    waiting(job).map(|(_, due)| due).collect()
}

/// What a reminder is about.
#[derive(Clone, Copy, Debug)]
enum About<'a> {
    Visit(usize, &'a Visit),
    Claim(usize, &'a Claim),
    Year(usize),
}

impl About<'_> {
    fn key(self) -> String {
        match self {
            Self::Visit(i, _) => format!("visit-{i}"),
            Self::Claim(i, _) => format!("claim-{i}"),
            Self::Year(n) => format!("year-{n}"),
        }
    }
}

/// Everything that a customer could be told after the handover, with the day from which.
fn all(job: &Job) -> impl Iterator<Item = (About<'_>, Date)> {
    // The day by UTC is near enough for a word that may come a week early.
    let utc = |at: jiff::Timestamp| at.to_zoned_datetime(jiff::tz::TimeZone::UTC).date();
    let over = job.handover.as_ref().map(|h| utc(h.at));
    let ahead = |day: Date| day.checked_sub(AHEAD.days()).unwrap_or(day);
    let visits = job.visits.iter().enumerate();
    let visits = visits
        .filter(|(_, v)| v.state == VisitState::Due)
        .map(move |(i, v)| (About::Visit(i, v), ahead(v.due)));
    let claims = job.claims.iter().enumerate();
    let claims = claims.filter_map(move |(i, c)| Some((About::Claim(i, c), utc(c.answer.as_ref()?.at))));
    let years = (1..=YEARS)
        .filter_map(move |n| Some((About::Year(n), ahead(over?.checked_add((n as i64).years()).ok()?))));
    let wanted = over.is_some() && job.called_off.is_none();
    visits.chain(claims).chain(years).filter(move |_| wanted)
}

/// Those that nobody has sent or left yet.
fn waiting(job: &Job) -> impl Iterator<Item = (About<'_>, Date)> {
    all(job).filter(|(about, _)| {
        let key = about.key();
        job.reminders.iter().find(|r| r.about == key).is_none_or(|r| r.state == ReminderState::Draft)
    })
}

impl Studio {
    /// Reminders of a job: those that wait, soonest first, then what was sent or left. A yearly word shows when its year
    /// is the next one.
    ///
    /// # Errors
    /// When there is no such job, or the step library is broken.
    pub fn reminders(&self, id: &JobId) -> Result<Vec<ReminderRow>, Refusal> {
        let entry = self.job(id)?;
        let job = &*entry.job;
        let shop = self.shop()?;
        let today = self.now().to_zoned_datetime(zone_of(&shop)).date();
        let advice = Advice::of(self, &shop)?;
        let mut next_year = false;
        let mut rows = Vec::new();
        for (about, due) in all(job) {
            let key = about.key();
            let had = job.reminders.iter().find(|r| r.about == key).cloned();
            if let About::Year(_) = about
                && had.is_none()
            {
                let over = due < today.checked_sub(KEPT.days()).unwrap_or(today);
                if over || next_year {
                    continue;
                }
                next_year = true;
            }
            let (title, subject, text) = draft(job, &shop, about, &advice);
            let text =
                had.as_ref().filter(|r| r.state != ReminderState::Left).map_or(text, |r| r.text.clone());
            rows.push(ReminderRow { about: key, title, due, subject, text, had });
        }
        rows.sort_by(|a, b| b.waits().cmp(&a.waits()).then(a.due.cmp(&b.due)).then(a.about.cmp(&b.about)));
        Ok(rows)
    }

    /// Customers to be reminded today: what became due in the last quarter of a year and was neither sent nor left.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub(crate) fn reminders_due(&self, shop: &Shop) -> Result<Vec<DueReminder>, Refusal> {
        let today = self.now().to_zoned_datetime(zone_of(shop)).date();
        let from = today.checked_sub(KEPT.days()).unwrap_or(today);
        let mut rows = Vec::new();
        for entry in self.owed(from, today)? {
            for (about, due) in waiting(&entry.job).filter(|(_, due)| (from..=today).contains(due)) {
                rows.push(DueReminder {
                    car: CarTag::of(&entry.id, &entry.job),
                    about: about.key(),
                    title: title_of(about),
                    due,
                });
            }
        }
        rows.sort_by(|a, b| a.due.cmp(&b.due).then(a.car.id.cmp(&b.car.id)).then(a.about.cmp(&b.about)));
        Ok(rows)
    }
}

fn title_of(about: About<'_>) -> String {
    match about {
        About::Visit(_, visit) => visit.what.clone(),
        About::Claim(_, claim) => format!("Answer to the claim on {}", claim.panel.title().to_lowercase()),
        About::Year(1) => "A year since the handover".to_owned(),
        About::Year(n) => format!("{n} years since the handover"),
    }
}

/// A sentence of advice for each kind of care of the step library.
struct Advice(BTreeMap<String, &'static str>);

impl Advice {
    fn of(studio: &Studio, shop: &Shop) -> Result<Self, Refusal> {
        let library = engine::route::library(studio, shop)?;
        let known = library.care().iter().filter_map(|c| Some((c.what.clone(), advice(&c.id)?)));
        Ok(Self(known.collect()))
    }
}

/// What the customer should know about a kind of care. Common practice, no source.
fn advice(care: &str) -> Option<&'static str> {
    Some(match care {
        "first_wash_after_film" => {
            "By then the film has settled and the car can be washed for the first time: by hand, with two buckets and a soft mitt, the pressure washer a forearm's length from edges and seams."
        }
        "film_inspection" => {
            "We look along every edge and seam of the film. What begins to lift is easily pressed down again while it is clean."
        }
        "exterior_coating" => {
            "We wash the car, look where water no longer runs off, and top the coating up there. Until then: bird lime off the same day, no automatic brushes."
        }
        "soft_top_proofing" => {
            "When water no longer stands in beads on the soft top, it soaks in: it is cleaned and proofed again."
        }
        "leather_coating" => {
            "The coating of leather wears on the driver's seat first: it is cleaned, wiped and coated again."
        }
        "fabric_proofing" => {
            "Fabric is cleaned and proofed again, so that what is spilled stays on top of it."
        }
        "interior_cleaning" => {
            "Grit in carpets and seams works like sandpaper: it comes out before it does harm."
        }
        _ => return None,
    })
}

/// Title, subject and message.
fn draft(job: &Job, shop: &Shop, about: About<'_>, advice: &Advice) -> (String, String, String) {
    let times = Times::of(shop);
    let name = if job.car.name.trim().is_empty() { "car" } else { job.car.name.trim() };
    let car = match job.car.plate.trim() {
        "" => format!("your {name}"),
        plate => format!("your {name} ({plate})"),
    };
    let title = title_of(about);
    let (subject, body) = match about {
        About::Visit(_, visit) => {
            let day = times.date(visit.due);
            let said = advice.0.get(&visit.what).map(|a| format!(" {a}")).unwrap_or_default();
            let body = format!(
                "from {day} on it is time for this at {car}: {}.{said}\n\nWrite or call, and we find a day that suits you.",
                lower(&visit.what)
            );
            (format!("{title}: {car}"), body)
        }
        About::Claim(_, claim) => {
            let answer = claim.answer.as_ref().map(|a| a.text.trim().to_owned()).unwrap_or_default();
            let on = times.date(times.day_of(claim.at));
            let body = format!(
                "you told us that something failed at {car}, {}: {}\nWe wrote it down on {on} and have looked into it.\n\n{answer}\n\nIf anything about this is not clear, write or call.",
                claim.panel.title().to_lowercase(),
                stopped(&claim.what)
            );
            (format!("Our answer to your claim: {car}"), body)
        }
        About::Year(n) => {
            let years = if n == 1 { "a year".to_owned() } else { format!("{n} years") };
            let body = format!(
                "it is {years} since we gave {car} back to you. Bring it by when it suits you: we wash it, look at the film, the coatings and the paint under light, and tell you what should be done and what need not. Polishing takes clear coat that never comes back, so please ask us before anybody polishes it.\n\nWrite or call, and we find a day that suits you."
            );
            (format!("Yearly care: {car}"), body)
        }
    };
    let dear = match job.customer.name.trim() {
        "" => "Hello,".to_owned(),
        name => format!("Dear {name},"),
    };
    let shop_lines: Vec<&str> = [shop.settings.name.trim(), shop.settings.address.trim()]
        .into_iter()
        .filter(|l| !l.is_empty())
        .collect();
    let text = format!("{dear}\n\n{body}\n\n{}", shop_lines.join("\n"));
    (title, subject, text.trim_end().to_owned())
}

/// First letter small, unless a word in capitals begins.
fn lower(text: &str) -> String {
    let mut chars = text.chars();
    match (chars.next(), chars.clone().next()) {
        (Some(first), Some(second)) if first.is_uppercase() && second.is_lowercase() => {
            first.to_lowercase().chain(chars).collect()
        }
        _ => text.to_owned(),
    }
}

/// With a full stop at its end.
fn stopped(text: &str) -> String {
    let text = text.trim();
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}
