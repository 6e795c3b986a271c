//! Pulling overlapping pieces apart: guided local search over pair weights.

use super::board::{Board, Spot};
use super::descent::{Samples, Seeker};
use effort::Effort;
use units::Sequence;

/// When to give up.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patience {
    /// Passes without a gain.
    pub passes: usize,
    /// Times that these pass before giving up.
    pub strikes: usize,
}

/// Weights grow by these factors where pieces overlap, and fade elsewhere.
const GROW: (f32, f32) = (1.1, 1.3);
const FADE: f32 = 0.95;
/// A gain counts when it is at least this share.
const GAIN: f64 = 0.98;

/// Where the search works, and with what.
pub(crate) struct Worker<'e> {
    pub seeker: Seeker,
    pub chance: Sequence,
    pub effort: &'e Effort,
    pub samples: Samples,
    /// Share of the effort after which work must stop.
    pub until: f64,
}

impl Worker<'_> {
    pub(crate) fn goes_on(&self) -> bool {
        self.effort.goes_on() && self.effort.used() < self.until
    }

    /// One pass: every overlapping piece, in random order, goes to the best place found for it.
    fn pass(&mut self, board: &mut Board<'_>) -> bool {
        let mut order: Vec<usize> =
            (0..board.len()).filter(|&i| !board.items[i].fixed && board.overlap(i) > 0.0).collect();
        self.chance.shuffle(&mut order);
        for i in order {
            if board.overlap(i) <= 0.0 {
                continue;
            }
            let before = self.seeker.tried;
            let found = self.seeker.seek(board, i, &self.samples, &mut self.chance);
            if let Some(better) = found {
                board.shift(i, &better.spot);
            }
            self.effort.spend(self.seeker.tried - before);
            if !self.goes_on() {
                return false;
            }
        }
        true
    }

    /// Whether all overlap is gone; if not, the board is left in the best state found, and that is returned too.
    pub(crate) fn separate(
        &mut self,
        board: &mut Board<'_>,
        patience: &Patience,
    ) -> Result<(), (f64, Vec<Spot>)> {
        board.forget_weights();
        let mut best = (board.total(), board.spots());
        let mut strikes = 0;
        while strikes < patience.strikes && best.0 > 0.0 {
            let at_start = best.0;
            let mut without_gain = 0;
            while without_gain < patience.passes {
                let finished = self.pass(board);
                let total = board.total();
                if total <= 0.0 {
                    return Ok(());
                }
                if total < best.0 {
                    without_gain = if total < best.0 * GAIN { 0 } else { without_gain + 1 };
                    best = (total, board.spots());
                } else {
                    without_gain += 1;
                }
                if !finished {
                    board.restore(&best.1);
                    return Err(best);
                }
                board.reweigh(GROW.0, GROW.1, FADE);
            }
            strikes = if best.0 < at_start * GAIN { 0 } else { strikes + 1 };
            board.restore(&best.1);
        }
        if best.0 <= 0.0 { Ok(()) } else { Err(best) }
    }
}
