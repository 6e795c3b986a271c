//! A first valid layout: pieces one by one, the largest first, each as far left as samples find.

use super::board::{Board, Spot};
use super::descent::{Seeker, side_shape, turned};
use super::form::Form;
use super::shape::Place;
use units::Sequence;

/// Places tried for each piece.
const SAMPLES: usize = 400;
/// Steps of the slide to the left.
const SLIDES: usize = 40;

/// Order of placing: hull area times diameter, largest first.
pub(crate) fn by_size(board: &Board<'_>) -> Vec<usize> {
    let mut order: Vec<usize> = (0..board.len()).filter(|&i| !board.items[i].fixed).collect();
    let size = |i: usize| board.shape_of(i).hull_area * board.shape_of(i).diameter;
    order.sort_by(|&a, &b| size(b).total_cmp(&size(a)));
    order
}

/// Takes back from `placed` what lies outside the space or in the way of others.
pub(crate) fn keep_clear(board: &mut Board<'_>, placed: &mut [bool]) {
    for i in 0..board.len() {
        if !placed[i] || board.items[i].fixed {
            continue;
        }
        placed[i] = false;
        let (form, place) = (board.items[i].form.clone(), board.items[i].place);
        placed[i] = board.free_at(&form, place.x, place.y, placed);
    }
}

/// Lays items in `order` on a strip as long as it takes, around those in `placed`; gives back the length
/// reached, or the items that do not fit across at any turn tried.
pub(crate) fn lay(
    board: &mut Board<'_>,
    order: &[usize],
    mut placed: Vec<bool>,
    chance: &mut Sequence,
) -> Result<f64, Vec<usize>> {
    let mut misfits = Vec::new();
    let mut room = Form::default();
    let mut reach = board.space.low[0];
    for (i, _) in placed.iter().enumerate().filter(|(_, there)| **there) {
        reach = reach.max(board.box_of(i)[2]);
    }
    let end = board.space.high[0];
    for &i in order {
        board.space.high[0] = f64::INFINITY;
        let mut best: Option<(f64, Spot)> = None;
        for k in 0..SAMPLES {
            let mut spot = turned(board, i, chance);
            let form = side_shape(board, i, spot.side).form(&spot.place, &mut room);
            let low = [0, 1].map(|a| board.space.low[a] - f64::from(form.low[a]));
            let top = board.space.high[1] - f64::from(form.high[1]);
            if top < low[1] {
                continue;
            }
            // the last samples look beyond everything, where there is always room
            let x_end = (reach - f64::from(form.low[0])).max(low[0]);
            spot.place.x =
                if best.is_none() && k + 8 >= SAMPLES { x_end } else { chance.between(low[0], x_end) };
            spot.place.y = chance.between(low[1], top);
            let score = spot.place.x + f64::from(form.high[0]);
            if best.is_some_and(|(b, _)| score >= b)
                || !board.free_at(form, spot.place.x, spot.place.y, &placed)
            {
                continue;
            }
            slide(board, form, &mut spot.place, &placed);
            best = Some((spot.place.x + f64::from(form.high[0]), spot));
        }
        // at fixed turns chance may never have hit one that fits
        if best.is_none() {
            best = beyond(board, i, reach, &mut room);
        }
        match best {
            Some((score, spot)) => {
                board.shift(i, &spot);
                placed[i] = true;
                reach = reach.max(score);
            }
            None => misfits.push(i),
        }
    }
    board.space.high[0] = end;
    if misfits.is_empty() { Ok(reach) } else { Err(misfits) }
}

/// A place right of everything, at the turn that fits across and is shortest along.
fn beyond(board: &Board<'_>, i: usize, reach: f64, room: &mut Form) -> Option<(f64, Spot)> {
    let mut best: Option<(f64, Spot)> = None;
    for spot in telling_spots(board, i) {
        let form = side_shape(board, i, spot.side).form(&spot.place, room);
        let end = reach + f64::from(form.width());
        if f64::from(form.height()) <= board.space.size(1) && best.is_none_or(|(b, _)| end < b) {
            let x = reach - f64::from(form.low[0]);
            let y = board.space.low[1] - f64::from(form.low[1]);
            best = Some((end, Spot { place: Place { x, y, ..spot.place }, ..spot }));
        }
    }
    best
}

/// All turns that decide whether an item fits, at the origin.
fn telling_spots(board: &Board<'_>, i: usize) -> Vec<Spot> {
    let shapes = board.items[i].shapes;
    let sides = if shapes[0] == shapes[1] { 1 } else { 2 };
    let spots =
        |side| side_shape(board, i, side).telling_places().into_iter().map(move |place| Spot { side, place });
    (0..sides).flat_map(spots).collect()
}

/// A place in the space where nothing is in the way, as low and left as the samples find; none where they find none.
pub(crate) fn free_spot(
    board: &mut Board<'_>,
    i: usize,
    samples: usize,
    placed: &[bool],
    seeker: &mut Seeker,
    chance: &mut Sequence,
) -> Option<Spot> {
    let mut room = Form::default();
    let mut best: Option<(f64, Spot)> = None;
    // turns that chance may never hit, in the corner and one place by chance
    let mut tries: Vec<Spot> = telling_spots(board, i)
        .into_iter()
        .flat_map(|spot| {
            [seeker.within(board, i, spot, None), seeker.within(board, i, spot, Some(&mut *chance))]
        })
        .flatten()
        .collect();
    tries.extend((0..samples).filter_map(|_| seeker.far(board, i, chance)));
    for mut spot in tries {
        let form = side_shape(board, i, spot.side).form(&spot.place, &mut room);
        let score = |place: &Place| place.x + f64::from(form.high[0]) + (place.y + f64::from(form.high[1]));
        if best.is_some_and(|(b, _)| score(&spot.place) >= b)
            || !board.free_at(form, spot.place.x, spot.place.y, placed)
        {
            continue;
        }
        slide(board, form, &mut spot.place, placed);
        best = Some((score(&spot.place), spot));
    }
    best.map(|(_, spot)| spot)
}

/// Slides left, then down, by halving steps, as far as there is room.
fn slide(board: &mut Board<'_>, form: &Form, place: &mut Place, placed: &[bool]) {
    let mut step = f64::from(form.width());
    for _ in 0..SLIDES {
        let moved = [(-step, 0.0), (0.0, -step)].into_iter().any(|(dx, dy)| {
            let free = board.free_at(form, place.x + dx, place.y + dy, placed);
            if free {
                place.x += dx;
                place.y += dy;
            }
            free
        });
        if !moved {
            step /= 2.0;
        }
    }
}
