//! Tokens: 256 random bits that a browser or a customer holds, of which only the hash is kept here.

use crate::refusal::Refusal;
use std::fmt;

/// What somebody holds to show that they were let in. Unguessable; its hash alone is kept.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

impl Token {
    /// A new one, from the system's randomness.
    ///
    /// # Errors
    /// When the system has none.
    pub fn new() -> Result<Self, Refusal> {
        let mut bytes = [0u8; 32];
        getrandom::fill(&mut bytes)
            .map_err(|e| Refusal::broken(format!("The system has no randomness: {e}"), "Start it again."))?;
        Ok(Self(bytes.iter().map(|b| format!("{b:02x}")).collect()))
    }

    /// As it came from a browser; none when it cannot be one.
    pub fn read(text: &str) -> Option<Self> {
        let sound =
            text.len() == 64 && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
        sound.then(|| Self(text.to_owned()))
    }

    /// The text to hand out.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The name under which it is kept: its hash.
    pub fn name(&self) -> String {
        journal::Hash::of(self.0.as_bytes()).to_string()
    }
}

/// Not in logs.
impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(…)")
    }
}
