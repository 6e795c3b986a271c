//! Facts packed into words: what a condition looks at, and how a step changes a word.

use crate::library::{Change, Level, Library};
use crate::validate::bits;
use std::collections::BTreeMap;

/// Where a fact sits in a word, and which levels are allowed there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Range {
    pub(crate) shift: u32,
    pub(crate) mask: u8,
    pub(crate) least: u8,
    pub(crate) most: u8,
}

impl Range {
    pub(crate) fn holds(self, word: u128) -> bool {
        let level = (word >> self.shift) as u8 & self.mask;
        self.least <= level && level <= self.most
    }
}

/// How a step changes a word.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Turn {
    pub(crate) clear: u128,
    pub(crate) set: u128,
    pub(crate) down: Vec<(u32, u8)>,
}

impl Turn {
    /// Whether it can bring a word to where a condition wants it.
    pub(crate) fn can_bring(&self, range: Range) -> bool {
        let field = u128::from(range.mask) << range.shift;
        if self.clear & field == field {
            range.holds(self.set)
        } else {
            self.down.iter().any(|d| d.0 == range.shift)
        }
    }

    /// Whether it writes the fact that a condition looks at.
    pub(crate) fn touches(&self, range: Range) -> bool {
        let field = u128::from(range.mask) << range.shift;
        self.clear & field != 0 || self.down.iter().any(|d| d.0 == range.shift)
    }

    /// Whether a condition that holds may fail after it.
    pub(crate) fn may_break(&self, range: Range) -> bool {
        self.breaks(range) || (range.least > 0 && self.down.iter().any(|d| d.0 == range.shift))
    }

    /// Whether the order of two changes shows.
    pub(crate) fn clashes(&self, other: &Self) -> bool {
        let down =
            |t: &Self| t.down.iter().fold(0u128, |all, &(shift, mask)| all | u128::from(mask) << shift);
        let (a, b) = (down(self), down(other));
        (self.set ^ other.set) & self.clear & other.clear != 0
            || a & (other.clear | b) != 0
            || b & self.clear != 0
    }

    /// Whether it surely breaks a condition.
    pub(crate) fn breaks(&self, range: Range) -> bool {
        let field = u128::from(range.mask) << range.shift;
        self.clear & field == field && !range.holds(self.set)
    }

    pub(crate) fn of(&self, word: u128) -> u128 {
        let mut after = word & !self.clear | self.set;
        for &(shift, mask) in &self.down {
            if (word >> shift) as u8 & mask > 0 {
                after -= 1 << shift;
            }
        }
        after
    }
}

/// Adds a change of one fact.
pub(crate) fn turn(change: &mut Turn, (shift, mask): (u32, u8), to: Change) {
    match to {
        Change::To(n) => {
            change.clear |= u128::from(mask) << shift;
            change.set |= u128::from(n) << shift;
        }
        Change::Down => change.down.push((shift, mask)),
    }
}

/// Where each fact sits in the word of its level, by index in the library.
pub(crate) fn layout(library: &Library) -> Vec<(u32, u8)> {
    let mut next: BTreeMap<Level, u32> = BTreeMap::new();
    library
        .facts
        .iter()
        .map(|fact| {
            let shift = next.entry(fact.level).or_default();
            let at = (*shift, if fact.top() > 1 { 3 } else { 1 });
            *shift += bits(fact.top()) as u32;
            at
        })
        .collect()
}
