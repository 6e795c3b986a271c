//! Booking a spot on the board, and taking it back.

use super::board::{Board, Spot, pieces};
use super::model::{Job, Model};
use crate::problem::Air;

impl Board {
    /// Books a spot.
    pub fn book(&mut self, model: &Model<'_>, task: &Job, spot: &Spot) {
        self.mark(model, task, spot, true);
    }

    /// Takes a booking back.
    pub fn free(&mut self, model: &Model<'_>, task: &Job, spot: &Spot) {
        self.mark(model, task, spot, false);
    }

    fn mark(&mut self, model: &Model<'_>, task: &Job, spot: &Spot, on: bool) {
        let (start, end) = (spot.start.max(0), spot.end.min(self.horizon as i32));
        if start >= end {
            return;
        }
        match spot.pattern {
            None => {
                self.mark_people(start, end, spot.people, on);
                self.mark_room(model, task, spot.room, start, end, on);
            }
            Some(k) => {
                for (a, b) in pieces(&model.patterns[k].works, start, end) {
                    self.mark_people(a, b, spot.people, on);
                    if !task.holds {
                        self.mark_room(model, task, spot.room, a, b, on);
                    }
                }
                if task.holds {
                    self.mark_room(model, task, spot.room, start, end, on);
                }
            }
        }
        self.mark_tools(task, start, end, on);
    }

    /// Books the pieces of something that has happened, whether it fits or not.
    pub fn book_fact(
        &mut self,
        model: &Model<'_>,
        task: &Job,
        pieces: &[(i32, i32)],
        people: u64,
        room: Option<usize>,
    ) {
        let h = self.horizon as i32;
        let clip = |(a, b): (i32, i32)| (a.clamp(0, h), b.clamp(0, h));
        let whole = match (pieces.first(), pieces.last()) {
            (Some(first), Some(last)) => clip((first.0, last.1)),
            _ => return,
        };
        for piece in pieces {
            let (a, b) = clip(*piece);
            self.mark_people(a, b, people, true);
            if !task.holds {
                self.mark_room(model, task, room, a, b, true);
            }
        }
        if task.holds {
            self.mark_room(model, task, room, whole.0, whole.1, true);
        }
        self.mark_tools(task, whole.0, whole.1, true);
    }

    fn mark_people(&mut self, start: i32, end: i32, people: u64, on: bool) {
        self.reach = self.reach.max(end as usize);
        for cell in &mut self.cells[start as usize..end as usize] {
            if on {
                cell.free &= !people;
            } else {
                cell.free |= people;
            }
        }
    }

    fn mark_tools(&mut self, task: &Job, start: i32, end: i32, on: bool) {
        for &(k, count) in &task.tools {
            let row = k * self.horizon;
            for used in &mut self.tools[row + start as usize..row + end as usize] {
                *used = if on { used.saturating_sub(count) } else { *used + count };
            }
        }
        self.reach = self.reach.max(end as usize);
    }

    fn mark_room(
        &mut self,
        model: &Model<'_>,
        task: &Job,
        room: Option<usize>,
        start: i32,
        end: i32,
        on: bool,
    ) {
        let Some(r) = room else { return };
        if start >= end {
            return;
        }
        let h = self.horizon;
        let (bit, spec) = (1u64 << r, &model.problem.rooms[r]);
        for t in start as usize..end as usize {
            let (mine, here) = (task.job * h + t, r * h + t);
            if on {
                self.inside[here] += 1;
                self.there[mine] += 1;
                if self.there[mine] == 1 {
                    self.place[mine] = r as u8 + 1;
                    self.cars[here] += 1;
                }
            } else {
                self.inside[here] -= 1;
                self.there[mine] -= 1;
                if self.there[mine] == 0 {
                    self.place[mine] = 0;
                    self.cars[here] -= 1;
                }
            }
            let cell = &mut self.cells[t];
            let roomy = u32::from(self.inside[here]) < spec.at_once && model.unlocked[t] & bit != 0;
            let open = roomy && u32::from(self.cars[here]) < spec.places;
            cell.roomy = if roomy { cell.roomy | bit } else { cell.roomy & !bit };
            cell.open = if open { cell.open | bit } else { cell.open & !bit };
        }
        self.reach = self.reach.max(end as usize);
        let counts = match task.air {
            Air::Dusty => &mut self.dust,
            Air::Clean => &mut self.film,
            Air::Neutral => return,
        };
        let change = model.problem.changeover as i32;
        let (from, to) = ((start - change).max(0) as usize, (end + change).min(h as i32) as usize);
        let g = model.groups[r];
        let bits = model.group_rooms[g];
        for t in from..to {
            let count = &mut counts[g * h + t];
            *count = if on { *count + 1 } else { *count - 1 };
            let cell = &mut self.cells[t];
            let barred = if task.air == Air::Dusty { &mut cell.clean } else { &mut cell.dusty };
            *barred = if *count == 0 { *barred | bits } else { *barred & !bits };
        }
        self.reach = self.reach.max(to);
    }
}
