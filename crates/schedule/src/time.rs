//! Time as whole slots of one grid.

use serde::{Deserialize, Serialize};
use units::Duration;

/// A point on the time grid: the number of whole slots since the start of the plan. The slot `n` runs
/// from point `n` to point `n + 1`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Slot(pub i32);

impl Slot {
    /// This many slots later (earlier when negative).
    pub const fn plus(self, slots: i32) -> Self {
        Self(self.0.saturating_add(slots))
    }
}

/// From `start` up to, not including, `end`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Span {
    /// First slot.
    pub start: Slot,
    /// First slot after it.
    pub end: Slot,
}

impl Span {
    /// From slot `start` up to, not including, slot `end`.
    pub const fn new(start: i32, end: i32) -> Self {
        Self { start: Slot(start), end: Slot(end) }
    }

    /// Number of slots, never negative.
    pub const fn slots(self) -> i32 {
        if self.end.0 > self.start.0 { self.end.0 - self.start.0 } else { 0 }
    }
}

/// The width of one slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Grid {
    minutes: u32,
}

impl Default for Grid {
    fn default() -> Self {
        Self { minutes: 15 }
    }
}

impl Grid {
    /// Slots of this many minutes, at least one.
    pub const fn minutes(minutes: u32) -> Self {
        Self { minutes: if minutes == 0 { 1 } else { minutes } }
    }

    /// The width of one slot.
    pub fn slot(self) -> Duration {
        Duration::minutes(f64::from(self.minutes))
    }

    /// The fewest slots that hold this span of time; 0 for none, negative or NaN.
    pub fn slots(self, span: Duration) -> u32 {
        // 1e-9: a span computed as 4 × 0.1 h must not cost one slot more than 24 min typed.
        (span.as_minutes() / f64::from(self.minutes) - 1e-9).ceil().max(0.0) as u32
    }

    /// The span of this many slots.
    pub fn span(self, slots: i32) -> Duration {
        Duration::minutes(f64::from(self.minutes) * f64::from(slots))
    }

    /// A number of slots in words: "2 h 15 min".
    pub fn words(self, slots: i32) -> String {
        let minutes = i64::from(slots) * i64::from(self.minutes);
        let (days, hours, rest) = (minutes / 1440, minutes % 1440 / 60, minutes % 60);
        let mut parts = Vec::new();
        for (n, unit) in [(days, "d"), (hours, "h"), (rest, "min")] {
            if n != 0 {
                parts.push(format!("{n} {unit}"));
            }
        }
        if parts.is_empty() { "0 min".into() } else { parts.join(" ") }
    }

    /// A point on the grid in words, counted from the start of the plan: "day 2, 09:15".
    pub fn point(self, slot: Slot) -> String {
        let minutes = i64::from(slot.0) * i64::from(self.minutes);
        let (day, rest) = (minutes.div_euclid(1440), minutes.rem_euclid(1440));
        format!("day {}, {:02}:{:02}", day + 1, rest / 60, rest % 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_round_up_to_whole_slots() {
        let grid = Grid::minutes(15);
        assert_eq!(grid.slots(Duration::minutes(15.0)), 1);
        assert_eq!(grid.slots(Duration::minutes(16.0)), 2);
        assert_eq!(grid.slots(Duration::hours(0.1 * 3.0 + 0.2)), 2);
        assert_eq!(grid.slots(Duration::minutes(-5.0)), 0);
        assert_eq!(grid.slots(Duration::minutes(f64::NAN)), 0);
    }

    #[test]
    fn times_read_like_times() {
        let grid = Grid::minutes(15);
        assert_eq!(grid.words(9), "2 h 15 min");
        assert_eq!(grid.words(0), "0 min");
        assert_eq!(grid.point(Slot(96 + 37)), "day 2, 09:15");
    }
}
