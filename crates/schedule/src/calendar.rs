//! When somebody works: shifts, breaks, days off and holidays as working spans.

use crate::time::{Slot, Span};
use serde::{Deserialize, Serialize};

/// Working spans: sorted, apart from each other, none empty. What lies between them is free time.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(from = "Vec<Span>", into = "Vec<Span>")]
pub struct Calendar {
    spans: Vec<Span>,
}

impl From<Vec<Span>> for Calendar {
    fn from(mut spans: Vec<Span>) -> Self {
        spans.retain(|s| s.slots() > 0);
        spans.sort();
        let mut merged: Vec<Span> = Vec::with_capacity(spans.len());
        for s in spans {
            match merged.last_mut() {
                Some(last) if s.start <= last.end => last.end = last.end.max(s.end),
                _ => merged.push(s),
            }
        }
        Self { spans: merged }
    }
}

impl From<Calendar> for Vec<Span> {
    fn from(calendar: Calendar) -> Self {
        calendar.spans
    }
}

impl Calendar {
    /// The same shifts on every one of `days` days of `day` slots, without the given days (from 0).
    pub fn daily(day: u32, days: u32, shifts: &[Span], off: &[u32]) -> Self {
        let mut spans = Vec::new();
        for d in (0..days).filter(|d| !off.contains(d)) {
            let base = (d * day) as i32;
            spans.extend(shifts.iter().map(|s| Span { start: s.start.plus(base), end: s.end.plus(base) }));
        }
        spans.into()
    }

    /// The working spans in order.
    pub fn spans(&self) -> &[Span] {
        &self.spans
    }

    /// Without the time in `off`: a holiday, an appointment.
    pub fn without(&self, off: Span) -> Self {
        let mut spans = Vec::new();
        for s in &self.spans {
            spans.push(Span { start: s.start, end: s.end.min(off.start) });
            spans.push(Span { start: s.start.max(off.end), end: s.end });
        }
        spans.into()
    }

    /// Whether slot `slot` is working time.
    pub fn works_at(&self, slot: Slot) -> bool {
        let after = self.spans.partition_point(|s| s.start <= slot);
        after > 0 && slot < self.spans[after - 1].end
    }

    /// Whether all of `span` is working time; an empty span is.
    pub fn covers(&self, span: Span) -> bool {
        if span.slots() == 0 {
            return true;
        }
        let after = self.spans.partition_point(|s| s.start <= span.start);
        after > 0 && span.end <= self.spans[after - 1].end
    }

    /// Working slots within `span`.
    pub fn slots_within(&self, span: Span) -> i32 {
        self.spans
            .iter()
            .map(|s| Span { start: s.start.max(span.start), end: s.end.min(span.end) }.slots())
            .sum()
    }

    /// The longest working span, in slots.
    pub fn longest(&self) -> i32 {
        self.spans.iter().map(|s| s.slots()).max().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_sorted_merged_and_never_empty() {
        let c = Calendar::from(vec![Span::new(8, 10), Span::new(3, 3), Span::new(0, 4), Span::new(4, 6)]);
        assert_eq!(c.spans(), [Span::new(0, 6), Span::new(8, 10)]);
        assert!(c.covers(Span::new(1, 6)) && !c.covers(Span::new(5, 9)));
        assert!(c.works_at(Slot(9)) && !c.works_at(Slot(6)) && !c.works_at(Slot(10)));
        assert_eq!(c.slots_within(Span::new(4, 9)), 3);
    }

    #[test]
    fn a_week_has_shifts_breaks_and_days_off() {
        let c = Calendar::daily(96, 7, &[Span::new(32, 48), Span::new(52, 68)], &[5, 6]);
        assert_eq!(c.spans().len(), 10);
        assert_eq!(c.longest(), 16);
        let holiday = c.without(Span::new(96, 192));
        assert_eq!(holiday.spans().len(), 8);
    }
}
