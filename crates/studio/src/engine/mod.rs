//! Where jobs meet engines: from nouns of the trade to an engine's input, from its answer back to nouns.

pub mod air;
pub mod film;
pub mod flatten;
pub mod learn;
pub mod paint;
pub mod price;
pub mod route;
pub mod schedule;
pub mod seams;
pub mod sides;

use crate::studio::Studio;
use jiff::SignedDuration;
use job::{CarHistory, Job, Shop};
use units::Duration;

/// What most questions to an engine are about: a job, the car behind it, the shop.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    /// Keeps results.
    pub studio: &'a Studio,
    /// The job.
    pub job: &'a Job,
    /// The car over all its jobs.
    pub history: &'a CarHistory,
    /// The shop.
    pub shop: &'a Shop,
}

/// A finding or reading that speaks for every painted panel.
pub const WHOLE_CAR: &str = "whole_car";

/// A span of time on the clock.
pub(crate) fn span(duration: Duration) -> SignedDuration {
    SignedDuration::from_secs((duration.as_minutes() * 60.0).round() as i64)
}

/// Minutes in words: `40 min`, `3 h 20 min`, `2 d 4 h`.
pub fn minutes_in_words(minutes: f64) -> String {
    let all = minutes.round().max(0.0) as i64;
    let (days, hours, rest) = (all / 1440, all % 1440 / 60, all % 60);
    match (days, hours, rest) {
        (0, 0, m) => format!("{m} min"),
        (0, h, 0) => format!("{h} h"),
        (0, h, m) => format!("{h} h {m} min"),
        (d, 0, _) => format!("{d} d"),
        (d, h, _) => format!("{d} d {h} h"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_read_as_people_say_them() {
        assert_eq!(minutes_in_words(40.2), "40 min");
        assert_eq!(minutes_in_words(200.0), "3 h 20 min");
        assert_eq!(minutes_in_words(180.0), "3 h");
        assert_eq!(minutes_in_words(3120.0), "2 d 4 h");
    }
}
