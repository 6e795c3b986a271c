//! As many pieces as possible into a space of fixed size: an offcut, or what is left of a roll.

use super::board::{Board, Item, Space};
use super::descent::Seeker;
use super::separate::{Patience, Worker};
use super::shape::Shape;
use super::start;

/// A try that fails so often for pieces of one kind is not repeated for that kind.
const PATIENCE: Patience = Patience { passes: 40, strikes: 2 };
/// Places tried before pieces are pushed aside.
const FREE_SAMPLES: usize = 300;

/// Pieces that go in together or not at all.
pub(crate) struct Unit {
    pub items: Vec<Item>,
    /// Area of the original pieces, mm².
    pub area: f64,
}

/// Puts units in, in the order given, as long as they fit; says which went in. The board's
/// items are the fixed ones first, then those of the units that went in.
pub(crate) fn fill(
    shapes: &[Shape],
    space: Space,
    fixed: &[Item],
    units: &[Unit],
    worker: &mut Worker<'_>,
) -> (Vec<usize>, Vec<Item>) {
    let mut items = fixed.to_vec();
    let mut taken = Vec::new();
    let mut refused: Vec<Vec<[usize; 2]>> = Vec::new();
    let mut room = free_area(shapes, space, fixed);
    for (u, unit) in units.iter().enumerate() {
        let kind: Vec<[usize; 2]> = unit.items.iter().map(|i| i.shapes).collect();
        if unit.area > room || refused.contains(&kind) {
            continue;
        }
        match with_unit(shapes, space, &items, unit, worker) {
            Some(grown) => {
                items = grown;
                room -= unit.area;
                taken.push(u);
            }
            None => refused.push(kind),
        }
    }
    (taken, items)
}

fn free_area(shapes: &[Shape], space: Space, fixed: &[Item]) -> f64 {
    let blocked: f64 = fixed.iter().map(|t| shapes[t.shapes[t.side]].area).sum();
    space.size(0) * space.size(1) - blocked
}

/// The items with those of the unit between them, free of overlap; none when they cannot be fitted in.
fn with_unit(
    shapes: &[Shape],
    space: Space,
    items: &[Item],
    unit: &Unit,
    worker: &mut Worker<'_>,
) -> Option<Vec<Item>> {
    let all = [items, &unit.items[..]].concat();
    let mut board = Board::new(shapes, space, all);
    let mut placed: Vec<bool> = (0..board.len()).map(|i| i < items.len()).collect();
    let mut pushing = false;
    for i in items.len()..board.len() {
        let free =
            start::free_spot(&mut board, i, FREE_SAMPLES, &placed, &mut worker.seeker, &mut worker.chance);
        worker.effort.spend(FREE_SAMPLES as u64);
        let spot = match free {
            Some(spot) => spot,
            None if !worker.goes_on() => return None,
            None => {
                pushing = true;
                least_overlap(&mut board, i, &mut worker.seeker, &mut worker.chance)?
            }
        };
        board.shift(i, &spot);
        placed[i] = true;
    }
    if pushing && worker.separate(&mut board, &PATIENCE).is_err() {
        return None;
    }
    (board.total() <= 0.0).then_some(board.items)
}

fn least_overlap(
    board: &mut Board<'_>,
    i: usize,
    seeker: &mut Seeker,
    chance: &mut units::Sequence,
) -> Option<super::board::Spot> {
    (0..50)
        .filter_map(|_| {
            let spot = seeker.far(board, i, chance)?;
            let loss = seeker.loss(board, i, &spot);
            Some((loss, spot))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, spot)| spot)
}
