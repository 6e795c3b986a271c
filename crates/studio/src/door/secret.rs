//! Passphrases and PINs: what is asked of them, and their hashes.

use super::SHORTEST_PASSPHRASE;
use crate::refusal::Refusal;
use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Which secret.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Secret {
    /// Of an owner: lets devices in.
    Passphrase,
    /// Of everybody: on a device that was let in.
    Pin,
}

impl Secret {
    pub const fn kind(self) -> &'static str {
        match self {
            Self::Passphrase => "passphrase",
            Self::Pin => "pin",
        }
    }

    pub fn wrong(self) -> Refusal {
        match self {
            Self::Passphrase => Refusal::invalid(
                "Name and passphrase do not belong together",
                "Type them again. Every miss makes the next wait longer.",
            ),
            Self::Pin => Refusal::invalid(
                "Name and PIN do not belong together",
                "Type the PIN again. Whoever forgot it gets another from the owner.",
            ),
        }
    }
}

/// What is asked of a new secret.
pub(super) fn check(secret: Secret, typed: &str) -> Result<(), Refusal> {
    match secret {
        Secret::Passphrase => {
            let signs = typed.chars().count();
            if !(SHORTEST_PASSPHRASE..=200).contains(&signs) {
                return Err(Refusal::invalid(
                    format!("The passphrase has {signs} signs"),
                    format!(
                        "Use at least {SHORTEST_PASSPHRASE}: four unconnected words are easy to remember."
                    ),
                ));
            }
        }
        Secret::Pin => {
            let digits: Vec<u8> = typed.bytes().collect();
            if !(4..=10).contains(&digits.len()) || !digits.iter().all(u8::is_ascii_digit) {
                return Err(Refusal::invalid("A PIN has 4 to 10 digits", "Type digits alone."));
            }
            let step = |d: i16| digits.windows(2).all(|w| i16::from(w[1]) - i16::from(w[0]) == d);
            if step(0) || step(1) || step(-1) {
                return Err(Refusal::invalid(
                    "This PIN is guessed first",
                    "Take one that is no row and no single digit.",
                ));
            }
        }
    }
    Ok(())
}

/// The hash that is kept: Argon2id, version 19, 19 MiB, 2 passes, one lane, a random salt. These are the second of the
/// settings that RFC 9106, section 4, and the common guidance built on it call sound for a server (from memory).
pub(super) fn hashed(typed: &str) -> Result<String, Refusal> {
    let hash = Argon2::default().hash_password(typed.as_bytes());
    hash.map(|h| h.to_string()).map_err(|e| Refusal::broken(e, "Free some memory and try again."))
}

/// Whether the secret is the kept one. An unknown name takes as long as a known one.
pub(super) fn holds(kept: Option<&str>, typed: &str) -> bool {
    let known = kept.and_then(|k| PasswordHash::new(k).ok());
    match known {
        Some(hash) => Argon2::default().verify_password(typed.as_bytes(), &hash).is_ok(),
        None => {
            let _ = Argon2::default().hash_password(typed.as_bytes());
            false
        }
    }
}

static TRYING: Mutex<()> = Mutex::new(());

pub(super) fn one_at_a_time() -> MutexGuard<'static, ()> {
    TRYING.lock().unwrap_or_else(PoisonError::into_inner)
}
