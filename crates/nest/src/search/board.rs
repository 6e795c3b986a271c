//! The state of a search: shapes in a rectangle, what overlaps, and how much that counts.

use super::form::{Form, Scratch};
use super::shape::{Place, Shape};

/// The rectangle within which grown shapes must lie, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Space {
    pub low: [f64; 2],
    pub high: [f64; 2],
}

impl Space {
    pub(crate) fn size(&self, axis: usize) -> f64 {
        self.high[axis] - self.low[axis]
    }
}

/// A shape at its place.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    /// Shapes it may take: one, or two with the mirror image.
    pub shapes: [usize; 2],
    /// Which of them it is.
    pub side: usize,
    pub place: Place,
    pub form: Form,
    pub fixed: bool,
}

/// A place with the side of the film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Spot {
    pub side: usize,
    pub place: Place,
}

pub(crate) struct Board<'a> {
    pub shapes: &'a [Shape],
    pub space: Space,
    pub items: Vec<Item>,
    /// Boxes of the items, in one row each for quick looking through.
    boxes: Vec<[f64; 4]>,
    /// Loss of each pair, by `i * n + j`, both ways; diagonal: against the edge of the space.
    loss: Vec<f32>,
    /// How much each pair counts, likewise.
    weight: Vec<f32>,
    scratch: Scratch,
}

impl<'a> Board<'a> {
    pub(crate) fn new(shapes: &'a [Shape], space: Space, items: Vec<Item>) -> Self {
        let n = items.len();
        let mut board = Self {
            shapes,
            space,
            boxes: items.iter().map(box_of).collect(),
            items,
            loss: vec![0.0; n * n],
            weight: vec![1.0; n * n],
            scratch: Scratch::default(),
        };
        board.reckon();
        board
    }

    pub(crate) fn len(&self) -> usize {
        self.items.len()
    }

    pub(crate) fn shape_of(&self, i: usize) -> &'a Shape {
        &self.shapes[self.items[i].shapes[self.items[i].side]]
    }

    pub(crate) fn spot(&self, i: usize) -> Spot {
        Spot { side: self.items[i].side, place: self.items[i].place }
    }

    pub(crate) fn spots(&self) -> Vec<Spot> {
        (0..self.len()).map(|i| self.spot(i)).collect()
    }

    pub(crate) fn restore(&mut self, spots: &[Spot]) {
        for (i, spot) in spots.iter().enumerate() {
            self.seat(i, spot);
        }
        self.reckon();
    }

    pub(crate) fn set_space(&mut self, space: Space) {
        self.space = space;
        let n = self.len();
        for i in 0..n {
            self.loss[i * n + i] = self.edge_loss_of(i);
        }
    }

    /// Largest x of any movable shape.
    pub(crate) fn reach(&self) -> f64 {
        self.boxes
            .iter()
            .zip(&self.items)
            .filter(|(_, t)| !t.fixed)
            .map(|(b, _)| b[2])
            .fold(self.space.low[0], f64::max)
    }

    pub(crate) fn box_of(&self, i: usize) -> [f64; 4] {
        self.boxes[i]
    }

    fn seat(&mut self, i: usize, spot: &Spot) {
        let item = &mut self.items[i];
        item.side = spot.side;
        item.place = spot.place;
        let shape = &self.shapes[item.shapes[item.side]];
        if shape.is_free() {
            item.form.turn_from(&shape.base, spot.place.angle);
        } else {
            let mut unused = Form::default();
            item.form.clone_from(shape.form(&spot.place, &mut unused));
        }
        self.boxes[i] = box_of(&self.items[i]);
    }

    /// Moves an item and renews its losses.
    pub(crate) fn shift(&mut self, i: usize, spot: &Spot) {
        self.seat(i, spot);
        self.reckon_row(i);
    }

    fn reckon(&mut self) {
        for i in 0..self.len() {
            self.reckon_row(i);
        }
    }

    fn reckon_row(&mut self, i: usize) {
        let n = self.len();
        for j in 0..n {
            if j == i {
                continue;
            }
            let loss =
                if meet(&self.boxes[i], &self.boxes[j]) && !(self.items[i].fixed && self.items[j].fixed) {
                    let (a, b) = (&self.items[i], &self.items[j]);
                    let pair = (self.shape_of(i), self.shape_of(j));
                    let (dx, dy) = ((a.place.x - b.place.x) as f32, (a.place.y - b.place.y) as f32);
                    pair_loss(pair, &a.form, &b.form, dx, dy, f32::INFINITY, &mut self.scratch)
                } else {
                    0.0
                };
            self.loss[i * n + j] = loss;
            self.loss[j * n + i] = loss;
        }
        self.loss[i * n + i] = self.edge_loss_of(i);
    }

    fn edge_loss_of(&self, i: usize) -> f32 {
        if self.items[i].fixed { 0.0 } else { edge_loss(&self.space, &self.boxes[i], self.shape_of(i)) }
    }

    /// All overlap, unweighted.
    pub(crate) fn total(&self) -> f64 {
        let n = self.len();
        (0..n).map(|i| self.loss[i * n + i..(i + 1) * n].iter().map(|l| f64::from(*l)).sum::<f64>()).sum()
    }

    /// Overlap of one item, weighted.
    pub(crate) fn weighted(&self, i: usize) -> f32 {
        let row = i * self.len()..(i + 1) * self.len();
        self.loss[row.clone()].iter().zip(&self.weight[row]).map(|(l, w)| l * w).sum()
    }

    /// Overlap of one item, unweighted.
    pub(crate) fn overlap(&self, i: usize) -> f32 {
        self.loss[i * self.len()..(i + 1) * self.len()].iter().sum()
    }

    /// Pairs that overlap count more next time, the others a little less.
    pub(crate) fn reweigh(&mut self, least: f32, most: f32, fade: f32) {
        let worst = self.loss.iter().copied().fold(0.0, f32::max);
        if worst <= 0.0 {
            return;
        }
        for (w, l) in self.weight.iter_mut().zip(&self.loss) {
            let factor = if *l > 0.0 { least + (most - least) * l / worst } else { fade };
            *w = (*w * factor).max(1.0);
        }
    }

    pub(crate) fn forget_weights(&mut self) {
        self.weight.fill(1.0);
    }

    /// Weighted overlap that item `i` would have elsewhere; stops early once it exceeds `bound`.
    pub(crate) fn try_at(&mut self, i: usize, shape: &Shape, form: &Form, x: f64, y: f64, bound: f32) -> f32 {
        let n = self.items.len();
        let own = [
            x + f64::from(form.low[0]),
            y + f64::from(form.low[1]),
            x + f64::from(form.high[0]),
            y + f64::from(form.high[1]),
        ];
        let mut sum = edge_loss(&self.space, &own, shape) * self.weight[i * n + i];
        if sum > bound {
            return sum;
        }
        for j in 0..n {
            if !meet(&own, &self.boxes[j]) || j == i {
                continue;
            }
            let other = &self.items[j];
            let (dx, dy) = ((x - other.place.x) as f32, (y - other.place.y) as f32);
            let pair = (shape, &self.shapes[other.shapes[other.side]]);
            let weight = self.weight[i * n + j];
            let enough = (bound - sum) / weight;
            sum += weight * pair_loss(pair, form, &other.form, dx, dy, enough, &mut self.scratch);
            if sum > bound {
                return sum;
            }
        }
        sum
    }

    /// Whether a form would lie in the space, clear of all items in `placed`.
    pub(crate) fn free_at(&mut self, form: &Form, x: f64, y: f64, placed: &[bool]) -> bool {
        let own = [
            x + f64::from(form.low[0]),
            y + f64::from(form.low[1]),
            x + f64::from(form.high[0]),
            y + f64::from(form.high[1]),
        ];
        let s = &self.space;
        if own[0] < s.low[0] || own[1] < s.low[1] || own[2] > s.high[0] || own[3] > s.high[1] {
            return false;
        }
        for ((other, other_box), _) in
            self.items.iter().zip(&self.boxes).zip(placed).filter(|(_, there)| **there)
        {
            if !meet(&own, other_box) {
                continue;
            }
            let (dx, dy) = ((x - other.place.x) as f32, (y - other.place.y) as f32);
            if form.collides(&other.form, dx, dy, &mut self.scratch) {
                return false;
            }
        }
        true
    }
}

fn box_of(item: &Item) -> [f64; 4] {
    let (f, p) = (&item.form, &item.place);
    [
        p.x + f64::from(f.low[0]),
        p.y + f64::from(f.low[1]),
        p.x + f64::from(f.high[0]),
        p.y + f64::from(f.high[1]),
    ]
}

fn meet(a: &[f64; 4], b: &[f64; 4]) -> bool {
    (a[0] < b[2]) & (b[0] < a[2]) & (a[1] < b[3]) & (b[1] < a[3])
}

/// Loss of a pair; once it is sure to exceed `enough`, a lower bound above that.
fn pair_loss(
    pair: (&Shape, &Shape),
    a: &Form,
    b: &Form,
    dx: f32,
    dy: f32,
    enough: f32,
    scratch: &mut Scratch,
) -> f32 {
    if !a.collides(b, dx, dy, scratch) {
        return 0.0;
    }
    let factor = pair.0.weight * pair.1.weight;
    a.depth(b, dx, dy, pair.0.diameter.max(pair.1.diameter), enough / factor) * factor
}

/// Loss over the edge of the space: root of the area of the box that lies outside, twice counted.
fn edge_loss(space: &Space, own: &[f64; 4], shape: &Shape) -> f32 {
    let (w, h) = (own[2] - own[0], own[3] - own[1]);
    let over =
        |axis: usize| (space.low[axis] - own[axis]).max(0.0) + (own[axis + 2] - space.high[axis]).max(0.0);
    let (ox, oy) = (over(0), over(1));
    if ox <= 0.0 && oy <= 0.0 {
        return 0.0;
    }
    let outside = w * h - (w - ox.min(w)) * (h - oy.min(h)) + 1e-4 * w * h;
    // farther outside counts more, so that there is a slope back
    let far = (ox - w).max(0.0) + (oy - h).max(0.0);
    (2.0 * outside.sqrt() + far) as f32 * shape.weight * shape.weight
}
