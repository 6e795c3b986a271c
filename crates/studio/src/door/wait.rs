//! Misses at the door, and how long one must wait after them.

use super::{as_text, broken};
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::Studio;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

const KIND: &str = "misses";

/// The longest wait.
const LONGEST: i64 = 15 * 60;

#[derive(Serialize, Deserialize)]
struct Misses {
    count: u32,
    last: Timestamp,
}

/// Seconds to wait after so many misses, of which the first `free` cost nothing: 2, 4, 8 and so on.
fn seconds(misses: u32, free: u32) -> i64 {
    match misses.checked_sub(free) {
        None => 0,
        Some(over) => (2i64 << over.min(20)).min(LONGEST),
    }
}

impl Studio {
    /// Counts a try as a miss before it is made, unless one has to wait still.
    pub(super) fn count_miss(&self, source: &str, free: u32) -> Result<(), Refusal> {
        let now = self.now();
        let old: Option<Misses> = self.line(KIND, source)?.and_then(|t| serde_json::from_str(&t).ok());
        if let Some(old) = &old {
            let over = old.last + SignedDuration::from_secs(seconds(old.count, free));
            if over > now {
                let left = over.duration_since(now).as_secs() + 1;
                return Err(Refusal::new(
                    RefusalKind::TooMany,
                    format!("Too many misses: wait {left} s"),
                    "Every miss makes the wait longer, up to 15 min. The owner can give another PIN.",
                ));
            }
        }
        let misses = Misses { count: old.map_or(0, |o| o.count).saturating_add(1), last: now };
        let until = now + SignedDuration::from_hours(24);
        self.slate()?.put(KIND, source, &as_text(&misses)?, Some(until)).map_err(broken)
    }

    pub(super) fn forget_misses(&self, source: &str) -> Result<(), Refusal> {
        self.slate()?.wipe(KIND, source).map(drop).map_err(broken)
    }
}

#[cfg(test)]
mod tests {
    use super::seconds;

    #[test]
    fn waits_double_up_to_a_quarter_of_an_hour() {
        assert_eq!([1, 2, 3, 4, 5].map(|n| seconds(n, 3)), [0, 0, 2, 4, 8]);
        assert_eq!(seconds(11, 3), 512);
        assert_eq!(seconds(12, 3), 900);
        assert_eq!(seconds(u32::MAX, 3), 900);
    }
}
