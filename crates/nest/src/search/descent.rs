//! The best place for one piece: samples near and far, the best of them walked downhill.

use super::board::{Board, Spot};
use super::form::Form;
use super::shape::{Place, Shape, Turns};
use std::f64::consts::TAU;
use units::Sequence;

/// How many places are tried.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Samples {
    /// Over the whole space.
    pub far: usize,
    /// Near where the piece lies.
    pub near: usize,
    /// How many of the best are walked downhill.
    pub walks: usize,
}

/// Step sizes of a walk, as shares of the shape's shorter side; turns in radians.
struct Stride {
    first: f64,
    last: f64,
    first_turn: f64,
    last_turn: f64,
}

const COARSE: Stride = Stride { first: 0.5, last: 0.02, first_turn: 0.09, last_turn: 0.009 };
const FINE: Stride = Stride { first: 0.01, last: 0.001, first_turn: 0.009, last_turn: 0.0009 };

/// A tried spot with its loss.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Tried {
    pub spot: Spot,
    pub loss: f32,
}

/// Looks for places for one item after another; keeps its working room.
pub(crate) struct Seeker {
    form: Form,
    /// Which shape `form` is, at which angle, so that steps without a turn need none made.
    formed: Option<(usize, f64)>,
    best: Vec<Tried>,
    /// Places tried so far.
    pub tried: u64,
}

impl Seeker {
    pub(crate) fn new() -> Self {
        Self { form: Form::default(), formed: None, best: Vec::new(), tried: 0 }
    }

    /// The best spot found for item `i`, none better than where it lies being `None`.
    pub(crate) fn seek(
        &mut self,
        board: &mut Board<'_>,
        i: usize,
        samples: &Samples,
        chance: &mut Sequence,
    ) -> Option<Tried> {
        let here = Tried { spot: board.spot(i), loss: board.weighted(i) };
        self.best.clear();
        let keep = samples.walks.max(1);
        self.offer(here, keep);
        for _ in 0..samples.near {
            let spot = near(board, i, chance);
            self.sample(board, i, spot, keep);
        }
        for _ in 0..samples.far {
            if let Some(spot) = self.far(board, i, chance) {
                self.sample(board, i, spot, keep);
            }
        }
        let mut winner = here;
        for k in 0..self.best.len() {
            let end = self.walk(board, i, self.best[k], &COARSE, chance);
            if end.loss < winner.loss {
                winner = end;
            }
        }
        winner = self.walk(board, i, winner, &FINE, chance);
        (winner.loss < here.loss).then_some(winner)
    }

    fn sample(&mut self, board: &mut Board<'_>, i: usize, spot: Spot, keep: usize) {
        let bound = if self.best.len() < keep { f32::INFINITY } else { self.best[self.best.len() - 1].loss };
        let loss = self.look(board, i, &spot, bound);
        if loss < bound {
            self.offer(Tried { spot, loss }, keep);
        }
    }

    fn look(&mut self, board: &mut Board<'_>, i: usize, spot: &Spot, bound: f32) -> f32 {
        self.tried += 1;
        let form = self.form_of(board, i, spot);
        let shape = side_shape(board, i, spot.side);
        board.try_at(i, shape, form, spot.place.x, spot.place.y, bound)
    }

    /// The form of item `i` at a spot: a stored one, the last one made, or made anew.
    fn form_of<'b>(&'b mut self, board: &Board<'b>, i: usize, spot: &Spot) -> &'b Form {
        let index = board.items[i].shapes[spot.side];
        match &board.shapes[index].turns {
            Turns::Steps(list) => &list[spot.place.step.min(list.len() - 1)].1,
            Turns::Free => {
                if self.formed != Some((index, spot.place.angle)) {
                    self.form.turn_from(&board.shapes[index].base, spot.place.angle);
                    self.formed = Some((index, spot.place.angle));
                }
                &self.form
            }
        }
    }

    /// The weighted overlap item `i` would have at a spot.
    pub(crate) fn loss(&mut self, board: &mut Board<'_>, i: usize, spot: &Spot) -> f32 {
        self.look(board, i, spot, f32::INFINITY)
    }

    fn offer(&mut self, tried: Tried, keep: usize) {
        let at = self.best.partition_point(|t| t.loss <= tried.loss);
        self.best.insert(at, tried);
        self.best.truncate(keep);
    }

    /// A place anywhere in the space at any allowed turn; none where the shape does not fit at that turn.
    pub(crate) fn far(&mut self, board: &Board<'_>, i: usize, chance: &mut Sequence) -> Option<Spot> {
        let spot = turned(board, i, chance);
        self.within(board, i, spot, Some(chance))
    }

    /// A place in the space at the turn of `spot`: by chance, or in the low corner; none where the shape does not fit.
    pub(crate) fn within(
        &mut self,
        board: &Board<'_>,
        i: usize,
        spot: Spot,
        mut chance: Option<&mut Sequence>,
    ) -> Option<Spot> {
        let form = self.form_of(board, i, &spot);
        let mut pick = |axis: usize| {
            let low = board.space.low[axis] - f64::from(form.low[axis]);
            let high = board.space.high[axis] - f64::from(form.high[axis]);
            (high >= low).then(|| chance.as_mut().map_or(low, |c| c.between(low, high)))
        };
        let (x, y) = (pick(0)?, pick(1)?);
        Some(Spot { place: Place { x, y, ..spot.place }, ..spot })
    }

    /// Coordinate descent: along x, y, a diagonal or the turn, chosen by chance, both ways; longer steps after a
    /// gain, shorter ones after none.
    fn walk(
        &mut self,
        board: &mut Board<'_>,
        i: usize,
        from: Tried,
        stride: &Stride,
        chance: &mut Sequence,
    ) -> Tried {
        let shape = side_shape(board, i, from.spot.side);
        let free = shape.is_free();
        let unit = f64::from(shape.least_side);
        let (mut step, mut turn) = (stride.first * unit, stride.first_turn);
        let mut best = from;
        while best.loss > 0.0 && (step > stride.last * unit || (free && turn > stride.last_turn)) {
            let turning = free && chance.below(5) == 0;
            let (dx, dy) = match chance.below(4) {
                0 => (step, 0.0),
                1 => (0.0, step),
                2 => (step, step),
                _ => (step, -step),
            };
            let mut gained = false;
            for sign in [1.0, -1.0] {
                let mut spot = best.spot;
                if turning {
                    spot.place.angle = best.spot.place.angle + sign * turn;
                } else {
                    spot.place.x += sign * dx;
                    spot.place.y += sign * dy;
                }
                let loss = self.look(board, i, &spot, best.loss);
                if loss < best.loss {
                    best = Tried { spot, loss };
                    gained = true;
                    break;
                }
            }
            let change = if gained { 1.1 } else { 0.5 };
            if turning {
                turn *= change
            } else {
                step *= change
            }
            if free && !gained && step <= stride.last * unit && turn > stride.last_turn {
                turn *= 0.5;
            }
        }
        best
    }
}

pub(crate) fn side_shape<'a>(board: &Board<'a>, i: usize, side: usize) -> &'a Shape {
    &board.shapes[board.items[i].shapes[side]]
}

/// An allowed side and turn, by chance; the position of the item is kept.
pub(crate) fn turned(board: &Board<'_>, i: usize, chance: &mut Sequence) -> Spot {
    let item = &board.items[i];
    let side = if item.shapes[0] == item.shapes[1] { 0 } else { chance.below(2) };
    let mut place = item.place;
    match &side_shape(board, i, side).turns {
        Turns::Free => place.angle = chance.between(0.0, TAU),
        Turns::Steps(list) => place.step = chance.below(list.len()),
    }
    Spot { side, place }
}

/// A place near the item's own, mostly at its own turn.
fn near(board: &Board<'_>, i: usize, chance: &mut Sequence) -> Spot {
    let mut spot = board.spot(i);
    let shape = side_shape(board, i, spot.side);
    if chance.below(3) == 0 {
        spot = turned(board, i, chance);
    } else if shape.is_free() {
        spot.place.angle += chance.normal() * 0.1;
    }
    let b = board.box_of(i);
    spot.place.x += chance.between(-0.5, 0.5) * (b[2] - b[0]);
    spot.place.y += chance.between(-0.5, 0.5) * (b[3] - b[1]);
    spot
}
