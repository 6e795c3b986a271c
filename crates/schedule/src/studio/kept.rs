//! The schedule that the search stands on, with boards along its order: what is equal is not decoded again.

use super::board::{Board, Spot};
use super::decode::{Decoder, Genes};

/// The schedule that the search stands on: new orders are decoded only from where they differ.
#[derive(Default)]
pub(super) struct Kept {
    pub(super) order: Vec<usize>,
    pub(super) spots: Vec<Option<Spot>>,
    pub(super) broken: Vec<i64>,
    pub(super) anchored: Vec<bool>,
    pub(super) floors: Vec<i32>,
    pub(super) wishes: Vec<u64>,
    /// The board at equal distances along the order.
    pub(super) boards: Vec<Board>,
}

/// Boards kept along the order, at most: never more than there are blocks, so that only the first stands at
/// the beginning.
const BOARDS: usize = 8;

impl Decoder<'_> {
    /// Makes the schedule just decoded the kept one, its blocks in the order of `genes`: usually that of
    /// their starts, in which the same schedule could have been placed.
    pub fn keep(&mut self, genes: &Genes) {
        let model = self.model;
        // A task may stand on what another, placed before it, had reserved: then only the order in which
        // they were placed gives the same board again.
        if self.reserved.iter().all(Option::is_none) {
            self.read_order(genes);
        }
        self.differs = self.first_move(genes);
        self.kept.spots.clone_from(&self.spots);
        self.kept.broken.clone_from(&self.broken);
        self.kept.anchored.clone_from(&genes.anchored);
        self.kept.floors.clone_from(&genes.floors);
        self.kept.wishes.clone_from(&genes.wishes);
        self.kept.order.clone_from(&self.order);
        if self.kept.boards.is_empty() {
            self.kept.boards = vec![self.base.clone(); self.boards()];
        }
        self.kept.boards[0].reset(&self.reserved_board);
        let first = self.board_before(self.differs);
        self.board.reset(&self.kept.boards[first]);
        let mut k = first + 1;
        for at in self.place_of(first)..model.blocks.len() {
            if k == self.boards() {
                break;
            }
            if at == self.place_of(k) {
                self.kept.boards[k].reset(&self.board);
                k += 1;
            }
            self.release(self.order[at]);
            self.rebook(self.order[at]);
        }
    }

    /// How many boards are kept.
    fn boards(&self) -> usize {
        self.model.blocks.len().clamp(1, BOARDS)
    }

    /// Where along the order board `k` was kept.
    fn place_of(&self, k: usize) -> usize {
        k * self.model.blocks.len() / self.boards()
    }

    /// The last board kept at or before this place.
    fn board_before(&self, place: usize) -> usize {
        (0..self.boards()).rev().find(|&k| self.place_of(k) <= place).unwrap_or(0)
    }

    /// Board and spots as they were before the first difference, or a little earlier; says where.
    pub(super) fn restore(&mut self) -> usize {
        let k = self.board_before(self.differs);
        // The first board holds what is reserved now, which other anchors than the kept ones change.
        let board = if k == 0 { &self.reserved_board } else { &self.kept.boards[k] };
        self.board.reset(board);
        self.spots.copy_from_slice(&self.fixed);
        let place = self.place_of(k);
        for at in 0..place {
            let b = self.order[at];
            self.broken[b] = self.kept.broken[b];
            for &i in &self.model.blocks[b] {
                self.spots[i] = self.kept.spots[i];
            }
        }
        place
    }

    /// Books a block where it was in the kept schedule.
    pub(super) fn rebook(&mut self, b: usize) {
        self.broken[b] = self.kept.broken[b];
        for &i in &self.model.blocks[b] {
            self.spots[i] = self.kept.spots[i];
            if self.fixed[i].is_none()
                && let Some(spot) = &self.spots[i]
            {
                self.board.book(self.model, &self.model.tasks[i], spot);
            }
        }
    }

    /// Where along the order a block first differs from the kept schedule in place or spot.
    fn first_move(&self, genes: &Genes) -> usize {
        let until = self.first_difference(genes);
        let moved = |at: &usize| {
            self.model.blocks[self.order[*at]].iter().any(|&i| self.spots[i] != self.kept.spots[i])
        };
        if self.kept.spots.is_empty() { 0 } else { (0..until).find(moved).unwrap_or(until) }
    }

    pub(super) fn first_difference(&self, genes: &Genes) -> usize {
        if self.kept.order.is_empty()
            || self.kept.anchored != genes.anchored
            || self.kept.floors != genes.floors
            || self.kept.wishes != genes.wishes
        {
            return 0;
        }
        (0..self.order.len()).find(|&at| self.order[at] != self.kept.order[at]).unwrap_or(self.order.len())
    }
}
