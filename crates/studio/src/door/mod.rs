//! Who may come in: people with their secrets, devices that the owner admitted, sessions, and links for customers.
//!
//! Who works here and in which role stands in the record, with the shop's settings. What is here may be wiped at any
//! time: then the owner sets passphrase and PINs anew. Tokens and secrets are kept as hashes only.

mod backup;
mod device;
mod link;
mod secret;
mod token;
mod wait;

pub use device::{Admitted, Device, Session};
pub use link::{Link, Shown};
pub use token::Token;

use crate::refusal::Refusal;
use crate::studio::{Stamp, Studio};
use job::{Person, Role};
use journal::Slate;
use secret::Secret;

/// Least signs of a passphrase.
pub const SHORTEST_PASSPHRASE: usize = 12;

impl Studio {
    /// Whether somebody is owner and has a passphrase: before that only the first start is possible.
    ///
    /// # Errors
    /// When journal or slate cannot be read.
    pub fn has_owner(&self) -> Result<bool, Refusal> {
        for person in self.shop()?.settings.people.iter().filter(|p| p.role == Role::Owner) {
            if self
                .slate()?
                .get(Secret::Passphrase.kind(), &person.name, self.now())
                .map_err(broken)?
                .is_some()
            {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// The first start: makes somebody the owner, with a passphrase for letting devices in and a PIN for the day.
    ///
    /// # Errors
    /// When there is an owner already, or name, passphrase or PIN cannot be used.
    pub fn make_owner(&self, name: &str, passphrase: &str, pin: &str) -> Result<(), Refusal> {
        let name = name.trim();
        if self.has_owner()? {
            return Err(Refusal::not_yet("This shop has an owner already", "Sign in as the owner."));
        }
        if name.is_empty() || name.chars().count() > 60 || name.chars().any(char::is_control) {
            return Err(Refusal::invalid("The name is missing or too long", "Enter your name."));
        }
        secret::check(Secret::Passphrase, passphrase)?;
        secret::check(Secret::Pin, pin)?;
        let mut settings = self.shop()?.settings.clone();
        match settings.people.iter_mut().find(|p| p.name == name) {
            Some(person) if person.role == Role::Owner => {}
            Some(person) => person.role = Role::Owner,
            None => {
                settings.people.push(Person {
                    name: name.to_owned(),
                    role: Role::Owner,
                    ..Person::default()
                });
            }
        }
        if settings != self.shop()?.settings {
            self.set_shop(&Stamp::by(name), &settings)?;
        }
        self.set_secret(Secret::Passphrase, name, passphrase)?;
        self.set_secret(Secret::Pin, name, pin)
    }

    /// Gives somebody a PIN.
    ///
    /// # Errors
    /// When nobody of that name works here, or the PIN cannot be used.
    pub fn set_pin(&self, name: &str, pin: &str) -> Result<(), Refusal> {
        secret::check(Secret::Pin, pin)?;
        self.role_of(name)?;
        self.set_secret(Secret::Pin, name, pin)
    }

    /// Gives an owner another passphrase.
    ///
    /// # Errors
    /// When it is too short, or this is no owner.
    pub fn set_passphrase(&self, name: &str, passphrase: &str) -> Result<(), Refusal> {
        secret::check(Secret::Passphrase, passphrase)?;
        if self.role_of(name)? != Role::Owner {
            return Err(Refusal::invalid(format!("{name} is no owner"), "Only owners have a passphrase."));
        }
        self.set_secret(Secret::Passphrase, name, passphrase)
    }

    /// Names of people who have a PIN and so can sign in.
    ///
    /// # Errors
    /// When the slate cannot be read.
    pub fn people_with_pin(&self) -> Result<Vec<String>, Refusal> {
        let lines = self.slate()?.list(Secret::Pin.kind(), self.now()).map_err(broken)?;
        let shop = self.shop()?;
        let works_here = |n: &String| shop.settings.people.iter().any(|p| p.name == *n);
        Ok(lines.into_iter().map(|(name, _)| name).filter(works_here).collect())
    }

    /// The role of somebody who works here.
    ///
    /// # Errors
    /// When nobody of that name does.
    pub fn role_of(&self, name: &str) -> Result<Role, Refusal> {
        let shop = self.shop()?;
        let person = shop.settings.people.iter().find(|p| p.name == name);
        person.map(|p| p.role).ok_or_else(|| {
            Refusal::not_found(
                format!("Nobody called '{name}' works here"),
                "Choose one of the people of the shop.",
            )
        })
    }

    /// Whether a secret is the right one. Each try counts before it is looked at, and misses make waiting longer.
    fn try_secret(&self, secret: Secret, name: &str, typed: &str, from: &str) -> Result<(), Refusal> {
        // One after the other: tries sent at once would else all be made before the first is counted, and each takes
        // 19 MiB of memory.
        let _one = secret::one_at_a_time();
        let sources =
            [(format!("{}/{from}/{name}", secret.kind()), 3), (format!("{}/{from}", secret.kind()), 10)];
        for (source, free) in &sources {
            self.count_miss(source, *free)?;
        }
        let kept = self.slate()?.get(secret.kind(), name, self.now()).map_err(broken)?;
        if !secret::holds(kept.as_deref(), typed) || self.role_of(name).is_err() {
            return Err(secret.wrong());
        }
        for (source, _) in &sources {
            self.forget_misses(source)?;
        }
        Ok(())
    }

    fn set_secret(&self, secret: Secret, name: &str, typed: &str) -> Result<(), Refusal> {
        let kept = secret::hashed(typed)?;
        self.slate()?.put(secret.kind(), name, &kept, None).map_err(broken)
    }

    fn line(&self, kind: &str, name: &str) -> Result<Option<String>, Refusal> {
        self.slate()?.get(kind, name, self.now()).map_err(broken)
    }
}

fn broken(e: impl std::fmt::Display) -> Refusal {
    Refusal::broken(e, "Is the studio's folder still there, and may the program write in it?")
}

fn as_text(value: &impl serde::Serialize) -> Result<String, Refusal> {
    serde_json::to_string(value).map_err(broken)
}

/// Opens the slate of a studio's folder.
pub(crate) fn open_slate(folder: &std::path::Path) -> Result<Slate, Refusal> {
    Slate::open(folder).map_err(broken)
}

#[cfg(test)]
mod tests;
