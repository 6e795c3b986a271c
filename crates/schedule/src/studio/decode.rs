//! From an order of blocks to a schedule: serial generation, with un-scheduling inside blocks
//! (Franck, Neumann and Schwindt 2001 for maximum lags).

use super::board::{Board, Spot};
use super::kept::Kept;
use super::model::{FAR, Fixed, Link, Model};
use crate::problem::Price;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Restarts of one block before it is given up.
const RESTARTS: usize = 400;

/// What a schedule is worth: broken limits first, then cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Worth {
    /// Slots by which limits set by pins are broken, and a large number for every task left out.
    pub broken: i64,
    pub cost: i64,
    /// Sum of ends, each weighed by what a delay of its job costs: leads the search over plateaus.
    pub ends: i64,
}

/// What the decoder is told.
#[derive(Clone)]
pub(super) struct Genes {
    /// Per block: smaller goes first.
    pub keys: Vec<i64>,
    /// Per task: not before its start in the previous plan.
    pub anchored: Vec<bool>,
    /// Per task: not before, however early it could; only for studios in which going as early as possible
    /// breaks a limit.
    pub floors: Vec<i32>,
    /// Per task: rooms that it prefers, as bits.
    pub wishes: Vec<u64>,
}

pub(super) struct Decoder<'a> {
    pub model: &'a Model<'a>,
    pub(super) base: Board,
    pub(super) board: Board,
    pub(super) fixed: Vec<Option<Spot>>,
    /// The base with the previous spots of anchored tasks booked, so that what has to move goes around
    /// what can stay. Each is given free when its task is placed.
    pub(super) reserved_board: Board,
    pub(super) reserved: Vec<Option<Spot>>,
    reserved_for: Vec<bool>,
    /// Where each task went in the last decoding.
    pub spots: Vec<Option<Spot>>,
    from: Vec<i32>,
    end_from: Vec<i32>,
    wish: Vec<u64>,
    waiting: Vec<u32>,
    heap: BinaryHeap<Reverse<(i64, usize)>>,
    /// Blocks in the order in which they are placed.
    pub(super) order: Vec<usize>,
    /// Broken limits of each block.
    pub(super) broken: Vec<i64>,
    /// Where the order first differs from the kept one.
    pub(super) differs: usize,
    pub(super) kept: Kept,
    /// Pins that found no place as they are.
    pub misplaced: Vec<usize>,
    /// Latest end of each task that the horizon and pins allow.
    deadline: Vec<i32>,
    /// What the end of each task weighs in [`Worth::ends`], times 1024.
    pull: Vec<i64>,
    job_start: Vec<i32>,
    job_end: Vec<i32>,
}

impl<'a> Decoder<'a> {
    pub fn new(model: &'a Model<'a>) -> Self {
        let n = model.tasks.len();
        let board = Board::new(model);
        let mut decoder = Self {
            model,
            base: board.clone(),
            reserved_board: board.clone(),
            reserved: vec![None; n],
            reserved_for: vec![false; n],
            board,
            fixed: vec![None; n],
            spots: vec![None; n],
            from: vec![0; n],
            end_from: vec![0; n],
            wish: vec![0; n],
            waiting: vec![0; model.blocks.len()],
            heap: BinaryHeap::new(),
            order: Vec::with_capacity(model.blocks.len()),
            broken: vec![0; model.blocks.len()],
            differs: 0,
            kept: Kept::default(),
            misplaced: Vec::new(),
            deadline: vec![model.horizon; n],
            pull: pulls(model),
            job_start: vec![0; model.jobs.len()],
            job_end: vec![0; model.jobs.len()],
        };
        decoder.book_fixed();
        decoder.find_deadlines();
        decoder
    }

    /// Facts first, then pins; both stay in every schedule.
    fn book_fixed(&mut self) {
        for (i, task) in self.model.tasks.iter().enumerate() {
            if let Fixed::Fact { start, pieces, people, room, done } = &task.fixed {
                let end = pieces.last().map_or(*start, |p| p.1);
                self.fixed[i] =
                    Some(Spot { start: *start, end, pattern: None, people: *people, room: *room });
                if !done {
                    self.base.book_fact(self.model, task, pieces, *people, *room);
                }
            }
        }
        // Pins with everything given go before those that leave a choice.
        let mut pins: Vec<usize> = Vec::new();
        for (i, task) in self.model.tasks.iter().enumerate() {
            if matches!(task.fixed, Fixed::Pin { .. }) {
                pins.push(i);
            }
        }
        pins.sort_by_key(|&i| match self.model.tasks[i].fixed {
            Fixed::Pin { people, room, start } => {
                (u8::from(people == 0) + u8::from(room.is_none()), start, i)
            }
            _ => (0, 0, i),
        });
        for i in pins {
            let Fixed::Pin { start, people, room } = self.model.tasks[i].fixed else { continue };
            match self.base.find_pinned(self.model, &self.model.tasks[i], start, people, room) {
                Some(spot) => {
                    self.base.book(self.model, &self.model.tasks[i], &spot);
                    self.fixed[i] = Some(spot);
                }
                None => self.misplaced.push(i),
            }
        }
        self.board = self.base.clone();
        self.reserved_board = self.base.clone();
    }

    /// Backwards over lags from pins: by when each task has to end.
    fn find_deadlines(&mut self) {
        let links = &self.model.links;
        for _ in 0..self.model.tasks.len() {
            let mut changed = false;
            for link in links {
                if self.fixed[link.from].is_some() {
                    continue;
                }
                let start_by = |i: usize| match self.fixed[i] {
                    Some(spot) => spot.start,
                    None => self.deadline[i] - self.model.tasks[i].work,
                };
                if let Some(least) = link.least {
                    let by = start_by(link.to) - least;
                    if by < self.deadline[link.from] {
                        self.deadline[link.from] = by;
                        changed = true;
                    }
                }
            }
            for link in links {
                // start(to) <= end(from) + most
                if let Some(most) = link.most
                    && self.fixed[link.to].is_none()
                    && self.model.tasks[link.to].patterns.is_empty()
                {
                    let end = self.fixed[link.from].map_or(self.deadline[link.from], |s| s.end);
                    let by = end.saturating_add(most).saturating_add(self.model.tasks[link.to].work);
                    if by < self.deadline[link.to] {
                        self.deadline[link.to] = by;
                        changed = true;
                    }
                }
            }
            if !changed {
                break;
            }
        }
    }

    /// When a job ends in the last schedule.
    pub fn end_of(&self, job: usize) -> i32 {
        self.job_end[job]
    }

    pub fn is_fixed(&self, i: usize) -> bool {
        self.fixed[i].is_some()
    }

    /// Builds the schedule of `genes`; none when it is the kept one.
    pub fn decode(&mut self, genes: &Genes) -> Option<Worth> {
        let model = self.model;
        let blocks = model.blocks.len();
        self.reserve(genes);
        self.read_order(genes);
        self.differs = self.first_difference(genes);
        if self.differs == blocks && blocks == self.kept.order.len() {
            return None;
        }
        let from = if self.kept.order.is_empty() {
            self.board.reset(&self.reserved_board);
            self.spots.copy_from_slice(&self.fixed);
            0
        } else {
            self.restore()
        };
        for at in from..blocks {
            let b = self.order[at];
            self.release(b);
            if at < self.differs {
                self.rebook(b);
            } else if let [only] = model.blocks[b][..] {
                self.broken[b] = if self.fixed[only].is_none() { self.place_alone(only, genes) } else { 0 };
            } else {
                self.broken[b] = self.place_block(b, genes);
            }
        }
        Some(self.worth(self.broken.iter().sum()))
    }

    /// Blocks by key, each after those that it has to follow.
    pub(super) fn read_order(&mut self, genes: &Genes) {
        let model = self.model;
        self.order.clear();
        self.heap.clear();
        for b in 0..model.blocks.len() {
            self.waiting[b] = model.before[b].len() as u32;
            if self.waiting[b] == 0 {
                self.heap.push(Reverse((genes.keys[b], b)));
            }
        }
        while let Some(Reverse((_, b))) = self.heap.pop() {
            self.order.push(b);
            for &next in &model.after[b] {
                self.waiting[next] -= 1;
                if self.waiting[next] == 0 {
                    self.heap.push(Reverse((genes.keys[next], next)));
                }
            }
        }
    }

    /// Books the previous spots of anchored tasks, earliest first, as far as they are still possible.
    fn reserve(&mut self, genes: &Genes) {
        if self.reserved_for == genes.anchored {
            return;
        }
        let model = self.model;
        self.reserved_for.clone_from(&genes.anchored);
        self.reserved.fill(None);
        self.reserved_board.reset(&self.base);
        let mut known: Vec<(i32, usize)> = Vec::new();
        for (i, task) in model.tasks.iter().enumerate() {
            if let Some((start, _, _)) = task.previous
                && genes.anchored[i]
                && self.fixed[i].is_none()
                && start >= task.earliest
            {
                known.push((start, i));
            }
        }
        known.sort();
        for (start, i) in known {
            let task = &model.tasks[i];
            let Some((_, people, room)) = task.previous else { continue };
            if let Some(spot) = self.reserved_board.find_pinned(model, task, start, people, room) {
                self.reserved_board.book(model, task, &spot);
                self.reserved[i] = Some(spot);
            }
        }
    }

    /// Gives the previous spots of a block's tasks free.
    pub(super) fn release(&mut self, b: usize) {
        for &i in &self.model.blocks[b] {
            if let Some(spot) = &self.reserved[i] {
                self.board.free(self.model, &self.model.tasks[i], spot);
            }
        }
    }

    /// Not before: earliest, previous start when anchored, and lags from what is placed.
    fn floor(&self, i: usize) -> (i32, i32) {
        let (mut from, mut end_from) = (self.from[i], self.end_from[i]);
        for &l in &self.model.touching[i] {
            let Link { from: a, to: b, least, most } = self.model.links[l];
            if b == i
                && let (Some(least), Some(spot)) = (least, &self.spots[a])
            {
                from = from.max(spot.end + least);
            }
            if a == i
                && a != b
                && let (Some(most), Some(spot)) = (most, &self.spots[b])
            {
                end_from = end_from.max(spot.start - most);
            }
        }
        (from, end_from)
    }

    fn set_floor(&mut self, i: usize, genes: &Genes) {
        let task = &self.model.tasks[i];
        let known = match task.previous {
            Some((start, _, _)) if genes.anchored[i] => start,
            _ => 0,
        };
        self.from[i] = task.earliest.max(known).max(genes.floors[i]);
        self.end_from[i] = 0;
        self.wish[i] = genes.wishes[i];
    }

    fn place_alone(&mut self, i: usize, genes: &Genes) -> i64 {
        self.set_floor(i, genes);
        let (from, end_from) = self.floor(i);
        let task = &self.model.tasks[i];
        self.board.wish = self.wish[i];
        match self.board.find(self.model, task, from, end_from, FAR) {
            Some(spot) => {
                self.board.book(self.model, task, &spot);
                self.spots[i] = Some(spot);
                i64::from((spot.end - self.deadline[i]).max(0)) + self.too_far(i, &spot)
            }
            None => 1_000_000,
        }
    }

    /// By how much the spot is further from fixed tasks than maximum lags allow.
    fn too_far(&self, i: usize, spot: &Spot) -> i64 {
        let mut broken = 0;
        for &l in &self.model.touching[i] {
            let link = self.model.links[l];
            if link.to == i
                && let (Some(most), Some(from)) = (link.most, &self.spots[link.from])
            {
                broken += i64::from((spot.start - from.end - most).max(0));
            }
        }
        broken
    }

    fn place_block(&mut self, b: usize, genes: &Genes) -> i64 {
        let model = self.model;
        for &i in &model.blocks[b] {
            self.set_floor(i, genes);
        }
        for _ in 0..RESTARTS {
            let Some(culprit) = self.try_block(b) else { return self.block_broken(b) };
            for &i in &model.blocks[b] {
                if self.fixed[i].is_none()
                    && let Some(spot) = self.spots[i].take()
                {
                    self.board.free(model, &model.tasks[i], &spot);
                }
            }
            if culprit == usize::MAX {
                break;
            }
        }
        1_000_000 * model.blocks[b].len() as i64
    }

    fn block_broken(&self, b: usize) -> i64 {
        let mut broken = 0;
        for &i in &self.model.blocks[b] {
            if self.fixed[i].is_none()
                && let Some(spot) = &self.spots[i]
            {
                broken += i64::from((spot.end - self.deadline[i]).max(0)) + self.too_far(i, spot);
            }
        }
        broken
    }

    /// Places the members one after the other. When one cannot follow soon enough, raises the floor of
    /// the member that is too early and names it; `usize::MAX` when a member finds no place at all.
    fn try_block(&mut self, b: usize) -> Option<usize> {
        let model = self.model;
        for k in 0..model.blocks[b].len() {
            let i = model.blocks[b][k];
            if self.fixed[i].is_some() {
                continue;
            }
            let (from, end_from) = self.floor(i);
            self.board.wish = self.wish[i];
            let Some(spot) = self.board.find(model, &model.tasks[i], from, end_from, FAR) else {
                return Some(usize::MAX);
            };
            for &l in &model.touching[i] {
                let link = model.links[l];
                if link.to == i
                    && let (Some(most), Some(early)) = (link.most, self.spots[link.from])
                {
                    let end_from = spot.start - most;
                    if early.end < end_from && self.fixed[link.from].is_none() {
                        self.end_from[link.from] = self.end_from[link.from].max(end_from);
                        return Some(link.from);
                    }
                }
                if link.from == i
                    && link.to != i
                    && let (Some(least), Some(early)) = (link.least, self.spots[link.to])
                {
                    let from = spot.end + least;
                    if early.start < from && self.fixed[link.to].is_none() {
                        self.from[link.to] = self.from[link.to].max(from);
                        return Some(link.to);
                    }
                }
            }
            self.board.book(model, &model.tasks[i], &spot);
            self.spots[i] = Some(spot);
        }
        None
    }

    fn worth(&mut self, broken: i64) -> Worth {
        let model = self.model;
        self.job_start.fill(FAR);
        self.job_end.fill(-1);
        let (mut ends, mut moved) = (0i64, 0i64);
        let (mut waiting, mut movers) = (0usize, 0usize);
        let price = &model.problem.price;
        for (i, (task, spot)) in model.tasks.iter().zip(&self.spots).enumerate() {
            let Some(spot) = spot else { continue };
            self.job_start[task.job] = self.job_start[task.job].min(spot.start);
            self.job_end[task.job] = self.job_end[task.job].max(spot.end);
            ends += i64::from(spot.end) * self.pull[i];
            if let Some((start, people, room)) = task.previous
                && !matches!(task.fixed, Fixed::Fact { .. })
            {
                waiting += 1;
                if start != spot.start || people != spot.people || room != spot.room {
                    movers += 1;
                    moved += i64::from(price.move_task)
                        + i64::from(price.move_slot) * i64::from((start - spot.start).abs());
                }
            }
        }
        moved += i64::from(price.upheaval) * movers.saturating_sub(Price::calm(waiting)) as i64;
        let last = self.job_end.iter().copied().max().unwrap_or(0).max(0);
        let mut cost = moved + i64::from(price.makespan) * i64::from(last);
        for &(job, by, weight) in &model.dues {
            cost += weight * i64::from((self.job_end[job] - by).max(0));
        }
        if price.stay > 0 {
            for (s, e) in self.job_start.iter().zip(&self.job_end) {
                cost += i64::from(price.stay) * i64::from((e - s).max(0));
            }
        }
        Worth { broken, cost, ends }
    }
}

/// The cost of a delayed job spread over its tasks.
fn pulls(model: &Model<'_>) -> Vec<i64> {
    let mut weight = vec![i64::from(model.problem.price.makespan.max(1)); model.jobs.len()];
    let mut count = vec![0i64; model.jobs.len()];
    for &(job, _, w) in &model.dues {
        weight[job] += w;
    }
    for task in &model.tasks {
        count[task.job] += 1;
    }
    model.tasks.iter().map(|t| 1024 * weight[t.job] / count[t.job]).collect()
}
