//! Working time as tables, so that the decoder looks up what it would have to count.

use crate::calendar::Calendar;

/// The working slots of a calendar, or of two people together.
#[derive(Clone, PartialEq, Eq)]
pub(super) struct Pattern {
    /// Per slot, whether it is working time.
    pub works: Vec<bool>,
    /// Per slot, the number of working slots before it.
    before: Vec<u32>,
    /// The working slots in order.
    slots: Vec<i32>,
}

impl Pattern {
    pub fn of(calendar: &Calendar, horizon: i32) -> Self {
        let mut works = vec![false; horizon as usize];
        for s in calendar.spans() {
            for t in s.start.0.max(0)..s.end.0.min(horizon) {
                works[t as usize] = true;
            }
        }
        Self::from_works(works)
    }

    pub fn and(&self, other: &Self) -> Self {
        Self::from_works(self.works.iter().zip(&other.works).map(|(a, b)| *a && *b).collect())
    }

    fn from_works(works: Vec<bool>) -> Self {
        let mut before = Vec::with_capacity(works.len() + 1);
        let mut slots = Vec::new();
        for (t, w) in works.iter().enumerate() {
            before.push(slots.len() as u32);
            if *w {
                slots.push(t as i32);
            }
        }
        before.push(slots.len() as u32);
        Self { works, before, slots }
    }

    /// The first working slot from `t` on.
    pub fn next(&self, t: i32) -> Option<i32> {
        let k = *self.before.get(t.max(0) as usize)?;
        self.slots.get(k as usize).copied()
    }

    /// Where `work` working slots that begin with working slot `start` end.
    pub fn end(&self, start: i32, work: i32) -> Option<i32> {
        let k = self.before[start as usize] as usize + work as usize - 1;
        self.slots.get(k).map(|t| t + 1)
    }
}
