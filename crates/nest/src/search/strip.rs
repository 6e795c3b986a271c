//! The shortest strip: shrink in haste while that comes easily, then with patience, stirred when stuck; press at the end.

use super::board::{Board, Spot};
use super::separate::{Patience, Worker};

/// Shares of the strip by which the first, short attempts shrink: at the most, and when they are over.
const SPRINT: (f64, f64) = (0.02, 0.0003);
const HASTE: Patience = Patience { passes: 30, strikes: 1 };
/// Share by which patient exploration shrinks.
const STEP: f64 = 0.001;
const EXPLORE: Patience = Patience { passes: 200, strikes: 3 };
const PRESS: Patience = Patience { passes: 100, strikes: 5 };
/// Shares by which the final pressing shrinks, first and last.
const PRESSING: (f64, f64) = (0.0005, 0.00001);
/// Share of the effort that goes to exploration.
const EXPLORATION: f64 = 0.8;

/// A valid layout of a strip.
#[derive(Clone, Debug)]
pub(crate) struct Packed {
    pub spots: Vec<Spot>,
    /// The right edge that the grown shapes keep, mm.
    pub end: f64,
}

/// Shortens the strip while the effort lasts. The board must be free of overlap.
/// `shortest`: no shorter than this makes sense.
pub(crate) fn shorten(
    board: &mut Board<'_>,
    worker: &mut Worker<'_>,
    shortest: f64,
    tell: &dyn Fn(f64),
) -> Packed {
    let (from, until) = (worker.effort.used(), worker.until);
    worker.until = from + (until - from) * EXPLORATION;
    let mut best = Packed { spots: board.spots(), end: tight(board, shortest) };
    explore(board, worker, &mut best, shortest, tell);
    worker.until = until;
    press(board, worker, &mut best, shortest, tell);
    board.restore(&best.spots);
    best
}

fn tight(board: &Board<'_>, shortest: f64) -> f64 {
    board.reach().max(shortest)
}

fn cut_to(board: &mut Board<'_>, end: f64) {
    let mut space = board.space;
    space.high[0] = end;
    board.set_space(space);
}

/// First in short attempts, then with patience.
fn explore(
    board: &mut Board<'_>,
    worker: &mut Worker<'_>,
    best: &mut Packed,
    shortest: f64,
    tell: &dyn Fn(f64),
) {
    sprint(board, worker, best, shortest, tell);
    board.restore(&best.spots);
    let origin = board.space.low[0];
    let mut pool: Vec<(f64, Vec<Spot>)> = Vec::new();
    let end = shrunk(board, worker, best.end, origin, STEP).max(shortest);
    cut_to(board, end);
    while worker.goes_on() && best.end > shortest + 1e-9 {
        match worker.separate(board, &EXPLORE) {
            Ok(()) => {
                *best = Packed { spots: board.spots(), end: tight(board, shortest) };
                tell(best.end);
                pool.clear();
                let end = shrunk(board, worker, best.end, origin, STEP).max(shortest);
                cut_to(board, end);
            }
            Err((loss, spots)) => {
                let at = pool.partition_point(|p| p.0 <= loss);
                pool.insert(at, (loss, spots));
                // low losses are taken more often: the distance from the best is half-normal
                let pick = (worker.chance.normal().abs() * 0.25 * pool.len() as f64) as usize;
                let state = pool[pick.min(pool.len() - 1)].1.clone();
                board.restore(&state);
                stir(board, worker);
            }
        }
    }
}

/// Shortens in short attempts, each from the best layout so far and about a new line, by more where it comes easily and
/// by less where not, until even small steps fail.
fn sprint(
    board: &mut Board<'_>,
    worker: &mut Worker<'_>,
    best: &mut Packed,
    shortest: f64,
    tell: &dyn Fn(f64),
) {
    let mut share = SPRINT.0;
    while share >= SPRINT.1 && worker.goes_on() && best.end > shortest + 1e-9 {
        let shorter = attempt(board, worker, best, shortest, share, &HASTE, tell);
        share = if shorter { (share * 1.5).min(SPRINT.0) } else { share * 0.7 };
    }
}

/// One attempt to shorten the best layout by a share; whether it came.
fn attempt(
    board: &mut Board<'_>,
    worker: &mut Worker<'_>,
    best: &mut Packed,
    shortest: f64,
    share: f64,
    patience: &Patience,
    tell: &dyn Fn(f64),
) -> bool {
    board.restore(&best.spots);
    let origin = board.space.low[0];
    let end = shrunk(board, worker, best.end, origin, share).max(shortest);
    cut_to(board, end);
    let shorter = worker.separate(board, patience).is_ok();
    if shorter {
        *best = Packed { spots: board.spots(), end: tight(board, shortest) };
        tell(best.end);
    }
    shorter
}

/// Shortens to a share less; pieces right of a random line move left by as much.
fn shrunk(board: &mut Board<'_>, worker: &mut Worker<'_>, end: f64, origin: f64, share: f64) -> f64 {
    let by = (end - origin) * share;
    let line = worker.chance.between(origin, end);
    for i in 0..board.len() {
        let b = board.box_of(i);
        if !board.items[i].fixed && (b[0] + b[2]) / 2.0 > line {
            let mut spot = board.spot(i);
            spot.place.x = (spot.place.x - by).max(spot.place.x - b[0] + origin);
            board.shift(i, &spot);
        }
    }
    end - by
}

/// Swaps two large pieces of unlike size, with what lies within their boxes left where it is.
fn stir(board: &mut Board<'_>, worker: &mut Worker<'_>) {
    let order = super::start::by_size(board);
    let total: f32 = order.iter().map(|&i| board.shape_of(i).hull_area).sum();
    let mut sum = 0.0;
    let large: Vec<usize> = order
        .into_iter()
        .take_while(|&i| {
            let before = sum;
            sum += board.shape_of(i).hull_area;
            before < 0.75 * total
        })
        .collect();
    if large.len() < 2 {
        return;
    }
    let a = large[worker.chance.below(large.len())];
    let unlike: Vec<usize> = large
        .iter()
        .copied()
        .filter(|&b| {
            board.items[b].shapes != board.items[a].shapes && {
                let ratio = board.shape_of(b).hull_area / board.shape_of(a).hull_area;
                !(0.99..=1.01).contains(&ratio)
            }
        })
        .collect();
    let pool = if unlike.is_empty() { large } else { unlike };
    let b = pool[worker.chance.below(pool.len())];
    if a == b {
        return;
    }
    let (mut at_a, mut at_b) = (board.spot(a), board.spot(b));
    std::mem::swap(&mut at_a.place.x, &mut at_b.place.x);
    std::mem::swap(&mut at_a.place.y, &mut at_b.place.y);
    board.shift(a, &at_a);
    board.shift(b, &at_b);
}

fn press(
    board: &mut Board<'_>,
    worker: &mut Worker<'_>,
    best: &mut Packed,
    shortest: f64,
    tell: &dyn Fn(f64),
) {
    let from = worker.effort.used();
    while worker.goes_on() && best.end > shortest + 1e-9 {
        let done = ((worker.effort.used() - from) / (worker.until - from).max(1e-9)).clamp(0.0, 1.0);
        let share = PRESSING.0 * (PRESSING.1 / PRESSING.0).powf(done);
        attempt(board, worker, best, shortest, share, &PRESS, tell);
    }
}
