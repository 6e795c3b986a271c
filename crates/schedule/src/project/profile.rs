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
        match *needs {
            [] => {}
            [(w, need)] => {
                t = self.scan(t, duration as usize, |row| ((row[w] | GUARD) - need) & GUARD == GUARD);
            }
            _ => {
                t = self.scan(t, duration as usize, |row| {
                    needs.iter().all(|&(w, need)| ((row[w] | GUARD) - need) & GUARD == GUARD)
                });
            }
        }
        t as i32
    }

    /// The first `t` on whose `d` periods all fit. Windows are looked through from their end, so that a
    /// period without room skips all windows that hold it; no period is looked at twice.
    #[inline]
    fn scan(&self, mut t: usize, d: usize, fits: impl Fn(&[u64]) -> bool) -> usize {
        let mut seen = t;
        'window: while t < self.reach {
            let end = (t + d).min(self.reach);
            for c in (seen..end).rev() {
                if !fits(&self.left[c * self.words..(c + 1) * self.words]) {
                    t = c + 1;
                    seen = end;
                    continue 'window;
                }
            }
            break;
        }
        t
    }

    /// The last start up to `until` at which `needs` fit for `duration` periods; `from` when there is no
    /// later one.
    pub fn last_fit(&self, needs: &[(usize, u64)], duration: i32, from: i32, until: i32) -> i32 {
        if duration == 0 || needs.is_empty() {
            return until;
        }
        let fits = |c: i32| {
            let at = c as usize * self.words;
            c as usize >= self.reach
                || needs.iter().all(|&(w, need)| ((self.left[at + w] | GUARD) - need) & GUARD == GUARD)
        };
        let mut t = until;
        while t > from {
            match (t..t + duration).find(|c| !fits(*c)) {
                Some(full) => t = full - duration,
                None => return t,
            }
        }
        from
    }

    /// Gives back what was taken.
    pub fn give(&mut self, needs: &[(usize, u64)], duration: i32, start: i32) {
        let (a, b) = (start as usize, (start + duration) as usize);
        for &(w, need) in needs {
            for c in a..b {
                self.left[c * self.words + w] += need;
            }
        }
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
}
