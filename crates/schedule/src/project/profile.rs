//! What is left of every resource in every period, four resources to a word.

use super::network::Network;

const GUARD: u64 = 0x8000_8000_8000_8000;

#[derive(Clone)]
pub(super) struct Profile {
    words: usize,
    full: Vec<u64>,
    left: Vec<u64>,
    /// Periods before this one may be in use.
    reach: usize,
}

impl Profile {
    pub fn new(net: &Network<'_>) -> Self {
        Self { words: net.full.len().max(1), full: net.full.clone(), left: Vec::new(), reach: 0 }
    }

    /// Everything free again.
    pub fn clear(&mut self) {
        if self.words == 1 {
            let full = self.full.first().copied().unwrap_or(0);
            let reach = self.reach.min(self.left.len());
            self.left[..reach].fill(full);
        } else {
            for row in self.left.chunks_mut(self.words).take(self.reach) {
                row.copy_from_slice(&self.full);
            }
        }
        self.reach = 0;
    }

    fn grow(&mut self, periods: usize) {
        while self.left.len() < periods * self.words {
            if self.full.is_empty() {
                self.left.push(0);
            } else {
                self.left.extend_from_slice(&self.full);
            }
        }
    }

    /// The first start from `from` on at which `needs` fit for `duration` periods.
    pub fn first_fit(&self, needs: &[(usize, u64)], duration: i32, from: i32) -> i32 {
        let mut t = from.max(0) as usize;
        if duration == 0 {
            return t as i32;
        }
        let d = duration as usize;
        match *needs {
            [] => {}
            [(w, need)] => 'start: loop {
                if t >= self.reach {
                    break;
                }
                let end = (t + d).min(self.reach);
                for c in (t..end).rev() {
                    if ((self.left[c * self.words + w] | GUARD) - need) & GUARD != GUARD {
                        t = c + 1;
                        continue 'start;
                    }
                }
                break;
            },
            _ => 'start: loop {
                if t >= self.reach {
                    break;
                }
                let end = (t + d).min(self.reach);
                for c in (t..end).rev() {
                    let row = &self.left[c * self.words..(c + 1) * self.words];
                    if needs.iter().any(|&(w, need)| ((row[w] | GUARD) - need) & GUARD != GUARD) {
                        t = c + 1;
                        continue 'start;
                    }
                }
                break;
            },
        }
        t as i32
    }

    pub fn take(&mut self, needs: &[(usize, u64)], duration: i32, start: i32) {
        if duration == 0 {
            return;
        }
        let (a, b) = (start as usize, (start + duration) as usize);
        self.grow(b);
        self.reach = self.reach.max(b);
        for &(w, need) in needs {
            for c in a..b {
                self.left[c * self.words + w] -= need;
            }
        }
    }

    pub fn give(&mut self, needs: &[(usize, u64)], duration: i32, start: i32) {
        for &(w, need) in needs {
            for c in start as usize..(start + duration) as usize {
                self.left[c * self.words + w] += need;
            }
        }
    }
}
