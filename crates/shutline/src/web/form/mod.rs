//! Forms: what was typed, read with care and never lost; fields that put it back.

mod body;
mod field;
mod returned;

use super::layout;
use super::scale::plain;
use axum::body::Bytes;
use jiff::{SignedDuration, Timestamp, civil, tz::TimeZone};
use maud::{Markup, html};
use std::collections::BTreeMap;
use std::fmt::Display;
use std::hash::{BuildHasher, Hasher, RandomState};
use studio::Refusal;
use units::Money;

pub use returned::Returned;

/// Most bytes of a form without files.
pub const LARGEST_FORM: usize = 2 << 20;

/// Most bytes of a form with pictures or other files.
pub const LARGEST_UPLOAD: usize = 64 << 20;

/// A file that was sent along.
#[derive(Clone, Debug)]
pub struct Upload {
    /// Name of the field.
    pub field: String,
    /// Name of the file as the device says it; for messages only.
    pub name: String,
    /// What is in it.
    pub bytes: Bytes,
}

/// What was typed into a form. Take it as the last extractor of a handler.
#[derive(Clone, Debug, Default)]
pub struct Typed {
    form: String,
    values: Vec<(String, String)>,
    files: Vec<Upload>,
    complaints: BTreeMap<String, String>,
}

impl Typed {
    /// An empty form. Its name sets its fields apart from those of other forms on the page.
    pub fn new(form: &str) -> Self {
        Self { form: form.to_owned(), ..Self::default() }
    }

    /// The same values under a form's name.
    pub fn named(mut self, form: &str) -> Self {
        form.clone_into(&mut self.form);
        self
    }

    /// With a value in a field; several values of one field for ticks.
    pub fn with(mut self, name: &str, value: impl Display) -> Self {
        self.values.push((name.to_owned(), value.to_string()));
        self
    }

    /// With a field ticked or not.
    pub fn ticked(self, name: &str, yes: bool) -> Self {
        if yes { self.with(name, "on") } else { self }
    }

    /// With the version of the job that the person has before their eyes: overwriting newer work is refused.
    pub fn with_seen(self, version: u64) -> Self {
        self.with("seen", version)
    }

    /// The same without some fields: secrets never go back into a page.
    pub fn without(mut self, names: &[&str]) -> Self {
        self.values.retain(|(n, _)| !names.contains(&n.as_str()));
        self
    }

    /// The name of the form.
    pub fn form(&self) -> &str {
        &self.form
    }

    /// The value of a field without blanks around it; empty when it is not there.
    pub fn get(&self, name: &str) -> &str {
        self.values.iter().find(|(n, _)| n == name).map_or("", |(_, v)| v.trim())
    }

    /// Text of a field as typed, line ends made plain.
    pub fn text(&self, name: &str) -> String {
        self.get(name).replace("\r\n", "\n")
    }

    /// Text of a field, or none when it is empty.
    pub fn some(&self, name: &str) -> Option<String> {
        Some(self.text(name)).filter(|t| !t.is_empty())
    }

    /// All values of a field: ticks and repeated rows, in the order of the page.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.values.iter().filter(move |(n, _)| n == name).map(|(_, v)| v.trim())
    }

    /// Whether a field has this value among its values.
    pub fn holds(&self, name: &str, value: &str) -> bool {
        self.all(name).any(|v| v == value)
    }

    /// Whether a tick is set.
    pub fn on(&self, name: &str) -> bool {
        self.values.iter().any(|(n, _)| n == name)
    }

    /// Files sent along in a field; empty fields are left out.
    pub fn files<'a>(&'a self, field: &'a str) -> impl Iterator<Item = &'a Upload> {
        self.files.iter().filter(move |f| f.field == field)
    }

    /// Whether any file was sent along.
    pub fn has_files(&self) -> bool {
        !self.files.is_empty()
    }

    /// The version that the person had before their eyes.
    pub fn seen(&self) -> Option<u64> {
        self.get("seen").parse().ok()
    }

    /// How long ago it was done: it waited on a device for the connection. Two weeks at most.
    pub fn ago(&self) -> SignedDuration {
        const MOST: i64 = 14 * 24 * 3600;
        SignedDuration::from_secs(self.get("ago").parse::<i64>().unwrap_or(0).clamp(0, MOST))
    }

    /// The key under which this form is done only once.
    pub fn key(&self) -> Option<String> {
        let key = self.get("key");
        let sound =
            (8..=80).contains(&key.len()) && key.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        sound.then(|| key.to_owned())
    }

    /// Notes that a field cannot be used; the first complaint about a field stands.
    pub fn complain(&mut self, name: &str, what: impl Into<String>) {
        self.complaints.entry(name.to_owned()).or_insert_with(|| what.into());
    }

    /// Text that must be there.
    pub fn required(&mut self, name: &str) -> String {
        let text = self.text(name);
        if text.is_empty() {
            self.complain(name, "Nothing is entered here.");
        }
        text
    }

    /// A number, or none when the field is empty. A comma is read as a point unless it could stand for thousands.
    pub fn number(&mut self, name: &str) -> Option<f64> {
        let text = self.get(name).to_owned();
        if text.is_empty() {
            return None;
        }
        match read_number(&text) {
            Ok(n) => Some(n),
            Err(why) => {
                self.complain(name, why);
                None
            }
        }
    }

    /// A number that must be there; 0 with a complaint when it is not.
    pub fn needed(&mut self, name: &str) -> f64 {
        if self.get(name).is_empty() {
            self.complain(name, "Enter a number.");
        }
        self.number(name).unwrap_or_default()
    }

    /// A number within bounds that must be there.
    pub fn within(&mut self, name: &str, least: f64, most: f64) -> f64 {
        let n = self.needed(name);
        if !(least..=most).contains(&n) {
            self.complain(name, format!("Enter a number from {} to {}.", plain(least), plain(most)));
        }
        n
    }

    /// A whole number, or none when the field is empty.
    pub fn whole(&mut self, name: &str) -> Option<u32> {
        let text = self.get(name).to_owned();
        if text.is_empty() {
            return None;
        }
        let read = text.parse().ok();
        if read.is_none() {
            self.complain(name, format!("'{text}' is no whole number."));
        }
        read
    }

    /// An amount of money that must be there.
    pub fn money(&mut self, name: &str) -> Money {
        let text = self.get(name).to_owned();
        Money::parse(&text).unwrap_or_else(|e| {
            self.complain(name, sentence(&e.to_string()));
            Money::ZERO
        })
    }

    /// A day, or none when the field is empty.
    pub fn date(&mut self, name: &str) -> Option<civil::Date> {
        self.parsed(name, "a day such as 2026-05-14")
    }

    /// A time of day, or none when the field is empty.
    pub fn time(&mut self, name: &str) -> Option<civil::Time> {
        self.parsed(name, "a time such as 8:30 (two digits for the hour: 08:30)")
    }

    /// Day and time on the shop's clock, or none when the field is empty. A time that the clock skips or shows twice
    /// is taken as the later or the earlier one.
    pub fn moment(&mut self, name: &str, zone: &TimeZone) -> Option<Timestamp> {
        let at: civil::DateTime = self.parsed(name, "a day and time such as 2026-05-14T16:00")?;
        let read = at.to_zoned_datetime(zone.clone()).ok().map(|z| z.timestamp());
        if read.is_none() {
            self.complain(name, "This day lies outside the calendar.");
        }
        read
    }

    fn parsed<T: std::str::FromStr>(&mut self, name: &str, wanted: &str) -> Option<T> {
        let text = self.get(name).to_owned();
        if text.is_empty() {
            return None;
        }
        let read = text.parse().ok();
        if read.is_none() {
            self.complain(name, format!("'{text}' is not {wanted}."));
        }
        read
    }

    /// One of a list of choices by its stored name; the first, with a complaint, when it is none of them.
    pub fn one_of<T: Clone>(&mut self, name: &str, choices: &[(&str, T)]) -> Option<T> {
        let text = self.get(name).to_owned();
        let found = choices.iter().find(|(n, _)| *n == text).map(|(_, c)| c.clone());
        if found.is_none() {
            self.complain(name, "Choose one of these.");
        }
        found
    }

    /// Whether all fields could be read; else a refusal that names the first of them. Labels say what people call a
    /// field.
    ///
    /// # Errors
    /// When there is a complaint.
    pub fn sound(&self) -> Result<(), Refusal> {
        match self.complaints.len() {
            0 => Ok(()),
            n => {
                let fields = if n == 1 { "One field".to_owned() } else { format!("{n} fields") };
                let first = self.complaints.values().next().cloned().unwrap_or_default();
                Err(Refusal::invalid(
                    format!("{fields} cannot be read: {first}"),
                    "It is marked below. Mend it and save again; nothing typed is lost.",
                ))
            }
        }
    }
}

/// A form with its hidden parts: the version that was seen and the key under which it is done only once. A form
/// that was refused keeps its key only if nothing was done under it, so it gets a new one.
pub fn form(action: &str, typed: &Typed, body: Markup) -> Markup {
    framed(action, typed, None, body)
}

/// As [`form`], for files.
pub fn upload_form(action: &str, typed: &Typed, body: Markup) -> Markup {
    framed(action, typed, Some("multipart/form-data"), body)
}

/// Forms that a device keeps until they are sent, by name: what is done in the bay goes on when the connection is away.
const KEPT: [(&str, &str); 8] = [
    ("note", "Note"),
    ("find", "Finding"),
    ("one", "Reading"),
    ("pictures", "Pictures"),
    ("finish", "Step finished"),
    ("add_pictures", "Pictures"),
    ("mark", "Mark on a picture"),
    ("voice", "Spoken note"),
];

fn framed(action: &str, typed: &Typed, enctype: Option<&str>, body: Markup) -> Markup {
    let kept = KEPT.iter().find(|(name, _)| *name == typed.form).map(|(_, words)| *words);
    html! {
        form method="post" action=(action) enctype=[enctype] data-keep=[kept] data-then=[(typed.form == "finish").then_some("finished")] id=[(!typed.form.is_empty()).then_some(&typed.form)] {
            input type="hidden" name="key" value=(fresh_key());
            @if let Some(seen) = typed.seen() { input type="hidden" name="seen" value=(seen); }
            (body)
        }
    }
}

/// A form that is one button, with what it carries along.
pub fn button(action: &str, carries: &[(&str, &str)], main: bool, words: &str) -> Markup {
    html! {
        form.one method="post" action=(action) {
            input type="hidden" name="key" value=(fresh_key());
            @for (name, value) in carries { input type="hidden" name=(name) value=(value); }
            button.main[main] { (words) }
        }
    }
}

/// A key that no other form has.
pub fn fresh_key() -> String {
    // Each state is seeded anew from the system's randomness; guessing a key would gain nobody anything.
    let part = || RandomState::new().build_hasher().finish();
    format!("web-{:016x}{:016x}", part(), part())
}

fn read_number(text: &str) -> Result<f64, String> {
    let plain: String = text.chars().filter(|c| !matches!(c, ' ' | '\u{a0}' | '\u{202f}')).collect();
    let plain = plain.replace('−', "-");
    let pointed = match (plain.matches(',').count(), plain.contains('.')) {
        (1, false) => {
            let after = plain.split(',').nth(1).map_or(0, str::len);
            if after == 3 {
                return Err(format!("'{text}' could mean two numbers: write it without a comma."));
            }
            plain.replace(',', ".")
        }
        _ => plain,
    };
    match pointed.parse::<f64>() {
        Ok(n) if n.is_finite() => Ok(n),
        _ => Err(format!("'{text}' is no number.")),
    }
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let capital = chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect());
    format!("{capital}.")
}

/// A moment as a field for day and time wants it, on the shop's clock.
pub fn moment_text(at: Timestamp, zone: &TimeZone) -> String {
    at.to_zoned_datetime(zone.clone()).strftime("%Y-%m-%dT%H:%M").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_people_type_them() {
        assert_eq!(read_number("12.5"), Ok(12.5));
        assert_eq!(read_number(" 12,5"), Ok(12.5));
        assert_eq!(read_number("1 240"), Ok(1240.0));
        assert_eq!(read_number("−3"), Ok(-3.0));
        assert!(read_number("1,240").is_err());
        assert!(read_number("1e999").is_err());
        assert!(read_number("NaN").is_err());
        assert!(read_number("12 mm").is_err());
    }

    #[test]
    fn keys_differ_and_are_sound() {
        let (a, b) = (fresh_key(), fresh_key());
        assert_ne!(a, b);
        assert_eq!(Typed::new("f").with("key", &a).key(), Some(a));
        assert_eq!(Typed::new("f").with("key", "short").key(), None);
        assert_eq!(Typed::new("f").with("key", "no blanks or <signs>").key(), None);
    }

    #[test]
    fn a_time_that_the_clock_skips_is_the_later_one() {
        // US rule: clocks go from 2:00 to 3:00 on the second Sunday of March (2026-03-08).
        let zone = TimeZone::get("America/Chicago").unwrap();
        let mut typed = Typed::new("f").with("at", "2026-03-08T02:30");
        let at = typed.moment("at", &zone).unwrap();
        assert_eq!(at.to_string(), "2026-03-08T08:30:00Z");
        assert_eq!(moment_text(at, &zone), "2026-03-08T03:30");
        assert!(typed.sound().is_ok());
        let mut typed = Typed::new("f").with("at", "tomorrow");
        assert_eq!(typed.moment("at", &zone), None);
        assert!(typed.sound().is_err());
    }
}
