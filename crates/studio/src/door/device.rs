//! Devices that the owner let in, and who is signed in at them.

use super::secret::Secret;
use super::{Token, as_text, broken};
use crate::refusal::Refusal;
use crate::studio::Studio;
use jiff::{SignedDuration, Timestamp};
use job::Role;
use serde::{Deserialize, Serialize};

const DEVICE: &str = "device";
const INVITATION: &str = "invitation";
const SESSION: &str = "session";

/// A device that was let in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Device {
    /// What the owner calls it.
    pub name: String,
    /// Who let it in.
    pub by: String,
    /// When.
    pub at: Timestamp,
}

/// A device with the name under which it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Admitted {
    /// Hash of its token.
    pub id: String,
    /// The device.
    pub device: Device,
}

/// Somebody signed in at a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// Who.
    pub who: String,
    /// Their role, as the shop has it now.
    pub role: Role,
}

#[derive(Serialize, Deserialize)]
struct Kept {
    who: String,
    device: String,
    since: Timestamp,
    seen: Timestamp,
}

/// A working day: then the PIN is asked for again.
const LONGEST_SESSION: SignedDuration = SignedDuration::from_hours(14);

/// Left alone for so long, a device asks for the PIN again.
const IDLE: SignedDuration = SignedDuration::from_hours(4);

/// How often it is written down that somebody is still there.
const NOTED: SignedDuration = SignedDuration::from_mins(5);

/// How long a device stays in: it is let in again once a year.
const STAYS: SignedDuration = SignedDuration::from_hours(24 * 366);

/// How long the code on a screen lets a device in.
const INVITED: SignedDuration = SignedDuration::from_mins(15);

impl Studio {
    /// Lets a device in with an owner's passphrase, typed on the device itself. `from` tells where the try came from,
    /// for the waits after misses.
    ///
    /// # Errors
    /// When name and passphrase do not belong together, or there were too many misses.
    pub fn admit(&self, from: &str, owner: &str, passphrase: &str, device: &str) -> Result<Token, Refusal> {
        self.try_secret(Secret::Passphrase, owner, passphrase, from)?;
        if self.role_of(owner)? != Role::Owner {
            return Err(Secret::Passphrase.wrong());
        }
        self.let_in(owner, device)
    }

    /// Lets the device in that the owner set the shop up on.
    ///
    /// # Errors
    /// When the slate cannot be written.
    pub fn admit_first(&self, owner: &str, device: &str) -> Result<Token, Refusal> {
        self.let_in(owner, device)
    }

    fn let_in(&self, by: &str, name: &str) -> Result<Token, Refusal> {
        let name: String = name.trim().chars().filter(|c| !c.is_control()).take(60).collect();
        let name = if name.is_empty() { "a device".to_owned() } else { name };
        let token = Token::new()?;
        let now = self.now();
        let device = Device { name, by: by.to_owned(), at: now };
        self.slate()?.put(DEVICE, &token.name(), &as_text(&device)?, Some(now + STAYS)).map_err(broken)?;
        Ok(token)
    }

    /// A token for one device to come in with, good once and for a quarter of an hour: shown as a code to be scanned.
    ///
    /// # Errors
    /// When the slate cannot be written.
    pub fn invite_device(&self, by: &str) -> Result<Token, Refusal> {
        let token = Token::new()?;
        let until = self.now() + INVITED;
        self.slate()?.put(INVITATION, &token.name(), by, Some(until)).map_err(broken)?;
        Ok(token)
    }

    /// Whether an invitation is good still.
    ///
    /// # Errors
    /// When the slate cannot be read.
    pub fn is_invited(&self, invitation: &Token) -> Result<bool, Refusal> {
        Ok(self.line(INVITATION, &invitation.name())?.is_some())
    }

    /// Lets a device in by its invitation, which is good no more afterwards.
    ///
    /// # Errors
    /// When the invitation is not good.
    pub fn admit_invited(&self, invitation: &Token, device: &str) -> Result<Token, Refusal> {
        let by = self.line(INVITATION, &invitation.name())?;
        let first = self.slate()?.wipe(INVITATION, &invitation.name()).map_err(broken)?;
        match by.filter(|_| first) {
            Some(by) => self.let_in(&by, device),
            None => Err(Refusal::not_found(
                "This code was used already, or it is older than a quarter of an hour",
                "Ask the owner for another one.",
            )),
        }
    }

    /// The device that holds a token, if it was let in.
    ///
    /// # Errors
    /// When the slate cannot be read.
    pub fn device(&self, token: &Token) -> Result<Option<Admitted>, Refusal> {
        let id = token.name();
        let line = self.line(DEVICE, &id)?;
        Ok(line.and_then(|t| serde_json::from_str(&t).ok()).map(|device| Admitted { id, device }))
    }

    /// All devices that were let in.
    ///
    /// # Errors
    /// When the slate cannot be read.
    pub fn devices(&self) -> Result<Vec<Admitted>, Refusal> {
        let lines = self.slate()?.list(DEVICE, self.now()).map_err(broken)?;
        let read = |(id, text): (String, String)| {
            serde_json::from_str(&text).ok().map(|device| Admitted { id, device })
        };
        Ok(lines.into_iter().filter_map(read).collect())
    }

    /// Shows a device the door: whoever is signed in at it is signed out.
    ///
    /// # Errors
    /// When there is no such device.
    pub fn dismiss_device(&self, id: &str) -> Result<(), Refusal> {
        if self.slate()?.wipe(DEVICE, id).map_err(broken)? {
            return Ok(());
        }
        Err(Refusal::not_found("There is no such device", "Open the page again."))
    }

    /// Signs somebody in at a device.
    ///
    /// # Errors
    /// When name and PIN do not belong together, or there were too many misses.
    pub fn sign_in(&self, at: &Admitted, name: &str, pin: &str) -> Result<Token, Refusal> {
        self.try_secret(Secret::Pin, name, pin, &at.id)?;
        self.begin_session(at, name)
    }

    /// Signs somebody in who has just shown in another way who they are.
    ///
    /// # Errors
    /// When the slate cannot be written.
    pub fn begin_session(&self, at: &Admitted, name: &str) -> Result<Token, Refusal> {
        let token = Token::new()?;
        let now = self.now();
        let kept = Kept { who: name.to_owned(), device: at.id.clone(), since: now, seen: now };
        self.keep_session(&token.name(), &kept)?;
        Ok(token)
    }

    fn keep_session(&self, name: &str, kept: &Kept) -> Result<(), Refusal> {
        let until = (kept.seen + IDLE).min(kept.since + LONGEST_SESSION);
        self.slate()?.put(SESSION, name, &as_text(kept)?, Some(until)).map_err(broken)
    }

    /// Who is signed in with a token at a device.
    ///
    /// # Errors
    /// When journal or slate cannot be read.
    pub fn session(&self, at: &Admitted, token: &Token) -> Result<Option<Session>, Refusal> {
        let name = token.name();
        let Some(text) = self.line(SESSION, &name)? else { return Ok(None) };
        // A token that was carried to another device is worth nothing there.
        let Some(mut kept) = serde_json::from_str::<Kept>(&text).ok().filter(|k| k.device == at.id) else {
            return Ok(None);
        };
        let Ok(role) = self.role_of(&kept.who) else { return Ok(None) };
        let now = self.now();
        if now.duration_since(kept.seen) > NOTED {
            kept.seen = now;
            self.keep_session(&name, &kept)?;
        }
        Ok(Some(Session { who: kept.who, role }))
    }

    /// Signs out.
    ///
    /// # Errors
    /// When the slate cannot be written.
    pub fn sign_out(&self, token: &Token) -> Result<(), Refusal> {
        self.slate()?.wipe(SESSION, &token.name()).map(drop).map_err(broken)
    }

    /// Signs somebody out everywhere: their PIN changed, or they work here no more.
    ///
    /// # Errors
    /// When the slate cannot be read or written.
    pub fn sign_out_everywhere(&self, who: &str) -> Result<(), Refusal> {
        for (name, text) in self.slate()?.list(SESSION, self.now()).map_err(broken)? {
            if serde_json::from_str::<Kept>(&text).is_ok_and(|k| k.who == who) {
                self.slate()?.wipe(SESSION, &name).map_err(broken)?;
            }
        }
        Ok(())
    }
}
