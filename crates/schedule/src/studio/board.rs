//! What is booked when: people, rooms, air and tools, slot by slot.

use super::model::{Job, Model, Want, enough};
use crate::problem::Air;

/// One slot: sets of people and rooms as bits.
#[derive(Clone, Copy)]
pub(super) struct Cell {
    /// People at work and not booked.
    pub(super) free: u64,
    /// Rooms that another car can enter.
    pub(super) open: u64,
    /// Rooms in which another task can go on.
    pub(super) roomy: u64,
    /// Rooms in which dusty work may go on.
    pub(super) dusty: u64,
    /// Rooms in which clean work may go on.
    pub(super) clean: u64,
}

/// Where a task goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Spot {
    pub start: i32,
    pub end: i32,
    /// The pattern by which it pauses; none when it does not.
    pub pattern: Option<usize>,
    pub people: u64,
    pub room: Option<usize>,
}

#[derive(Clone)]
pub(super) struct Board {
    pub(super) horizon: usize,
    pub(super) cells: Vec<Cell>,
    /// Per room and slot: cars and tasks in it.
    pub(super) cars: Vec<u8>,
    pub(super) inside: Vec<u8>,
    /// Per job and slot: the room its car is in (from 1) and the number of its tasks there.
    pub(super) place: Vec<u8>,
    pub(super) there: Vec<u8>,
    /// Per air group and slot: dusty and clean tasks within the changeover.
    pub(super) dust: Vec<u8>,
    pub(super) film: Vec<u8>,
    /// Per tool and slot: how many lie unused.
    pub(super) tools: Vec<u8>,
    /// Bookings so far end by this slot.
    pub(super) reach: usize,
    /// Rooms that the task now looked for should go to, where it can choose.
    pub wish: u64,
}

impl Board {
    pub fn new(model: &Model<'_>) -> Self {
        let h = model.horizon as usize;
        let all = (0..model.problem.rooms.len()).fold(0u64, |m, r| m | 1 << r);
        let mut enter = 0u64;
        for (r, room) in model.problem.rooms.iter().enumerate() {
            if room.places > 0 && room.at_once > 0 {
                enter |= 1 << r;
            }
        }
        let cells = (0..h).map(|t| Cell {
            free: model.working[t],
            open: model.unlocked[t] & enter,
            roomy: model.unlocked[t] & enter,
            dusty: all,
            clean: all,
        });
        let rooms = model.problem.rooms.len();
        Self {
            horizon: h,
            cells: cells.collect(),
            cars: vec![0; rooms * h],
            inside: vec![0; rooms * h],
            place: vec![0; model.jobs.len() * h],
            there: vec![0; model.jobs.len() * h],
            dust: vec![0; model.group_count * h],
            film: vec![0; model.group_count * h],
            tools: model.problem.tools.iter().flat_map(|k| vec![k.count.min(255) as u8; h]).collect(),
            reach: 0,
            wish: 0,
        }
    }

    /// Back to `other`, of which this is a copy with more bookings.
    pub fn reset(&mut self, other: &Self) {
        let (h, reach) = (self.horizon, self.reach.max(other.reach));
        let copy = |to: &mut [u8], from: &[u8]| {
            for (a, b) in to.chunks_mut(h).zip(from.chunks(h)) {
                a[..reach].copy_from_slice(&b[..reach]);
            }
        };
        self.cells[..reach].copy_from_slice(&other.cells[..reach]);
        copy(&mut self.cars, &other.cars);
        copy(&mut self.inside, &other.inside);
        copy(&mut self.place, &other.place);
        copy(&mut self.there, &other.there);
        copy(&mut self.dust, &other.dust);
        copy(&mut self.film, &other.film);
        copy(&mut self.tools, &other.tools);
        self.reach = other.reach;
    }

    /// The earliest place for a task that starts at `from` or later, with an end not before `end_from`.
    ///
    /// `latest` only saves work: nothing that starts later is looked for.
    pub fn find(&self, model: &Model<'_>, task: &Job, from: i32, end_from: i32, latest: i32) -> Option<Spot> {
        let latest = latest.min(model.horizon);
        if task.work == 0 {
            let start = from.max(end_from);
            if start > latest {
                return None;
            }
            return self.finish(model, task, (start, start), None, u64::MAX, u64::MAX);
        }
        if task.patterns.is_empty() {
            return self.find_whole(model, task, from.max(end_from - task.work), latest);
        }
        let mut best: Option<Spot> = None;
        for &p in &task.patterns {
            let until = best.map_or(latest, |b| latest.min(b.end - 1));
            if let Some(spot) = self.find_split(model, task, p, from, end_from, until)
                && best.is_none_or(|b| (spot.end, spot.start) < (b.end, b.start))
            {
                best = Some(spot);
            }
        }
        best
    }

    /// The place of a pinned task: this start, and these people and this room where given.
    pub fn find_pinned(
        &self,
        model: &Model<'_>,
        task: &Job,
        start: i32,
        people: u64,
        room: Option<usize>,
    ) -> Option<Spot> {
        let mut pinned = task.clone();
        if people != 0 {
            if people.count_ones() != task.crew || !enough(&task.halls, people) {
                return None;
            }
            pinned.wants = vec![Want { able: people, count: task.crew }];
            pinned.halls = pinned.wants.clone();
        }
        if let Some(r) = room {
            pinned.rooms &= 1 << r;
        }
        self.find(model, &pinned, start, 0, start).filter(|spot| spot.start == start)
    }

    fn find_whole(&self, model: &Model<'_>, task: &Job, from: i32, latest: i32) -> Option<Spot> {
        let last = latest.min(model.horizon - task.work);
        let table = task.table.map(|k| &model.tables[k][..]);
        let mut t = from.max(0);
        'start: loop {
            if t > last {
                return None;
            }
            if let Some(table) = table {
                t = table[t as usize];
                if t > last {
                    return None;
                }
            }
            let (mut people, mut rooms) = (u64::MAX, task.rooms);
            for c in (t..t + task.work).rev() {
                if !self.fits(task, c as usize, true, true, &mut people, &mut rooms) {
                    t = c + 1;
                    continue 'start;
                }
            }
            match self.finish(model, task, (t, t + task.work), None, people, rooms) {
                Some(spot) => return Some(spot),
                None => t += 1,
            }
        }
    }

    fn find_split(
        &self,
        model: &Model<'_>,
        task: &Job,
        p: usize,
        from: i32,
        end_from: i32,
        latest: i32,
    ) -> Option<Spot> {
        let pattern = &model.patterns[p];
        let mut t = pattern.next(from)?;
        'start: loop {
            if t > latest {
                return None;
            }
            let end = pattern.end(t, task.work)?;
            if end < end_from {
                t = pattern.next(t + 1)?;
                continue;
            }
            let (mut people, mut rooms) = (u64::MAX, task.rooms);
            for c in (t..end).rev() {
                let works = pattern.works[c as usize];
                if !self.fits(task, c as usize, works, works || task.holds, &mut people, &mut rooms) {
                    t = pattern.next(c + 1)?;
                    continue 'start;
                }
            }
            match self.finish(model, task, (t, end), Some(p), people, rooms) {
                Some(spot) => return Some(spot),
                None => t = pattern.next(t + 1)?,
            }
        }
    }

    /// Narrows who and where by slot `c`; false when nobody or nowhere is left.
    #[inline]
    fn fits(
        &self,
        task: &Job,
        c: usize,
        works: bool,
        occupies: bool,
        people: &mut u64,
        rooms: &mut u64,
    ) -> bool {
        let cell = &self.cells[c];
        if works && task.crew > 0 {
            *people &= cell.free;
            if !enough(&task.halls, *people) {
                return false;
            }
        }
        if occupies && task.needs_room {
            let place = self.place[task.job * self.horizon + c];
            let mut fit = if place == 0 { cell.open } else { 1u64 << (place - 1) & cell.roomy };
            match task.air {
                Air::Dusty => fit &= cell.dusty,
                Air::Clean => fit &= cell.clean,
                Air::Neutral => {}
            }
            *rooms &= fit;
            if *rooms == 0 {
                return false;
            }
        }
        task.tools.iter().all(|&(k, count)| self.tools[k * self.horizon + c] >= count)
    }

    /// Chooses people and room from those that are free throughout.
    fn finish(
        &self,
        model: &Model<'_>,
        task: &Job,
        (start, end): (i32, i32),
        pattern: Option<usize>,
        people: u64,
        rooms: u64,
    ) -> Option<Spot> {
        let people =
            if task.crew == 0 { 0 } else { self.choose_crew(model, task, start, end, pattern, people)? };
        let room = if task.needs_room && task.rooms & rooms != 0 {
            Some(self.choose_room(model, task, start, end, task.rooms & rooms))
        } else if task.needs_room {
            return None;
        } else {
            None
        };
        Some(Spot { start, end, pattern, people, room })
    }

    fn choose_crew(
        &self,
        model: &Model<'_>,
        task: &Job,
        start: i32,
        end: i32,
        pattern: Option<usize>,
        free: u64,
    ) -> Option<u64> {
        let free = if task.work == 0 { u64::MAX } else { free };
        let known = task.previous.map_or(0, |p| p.1);
        let busy = |t: i32| match self.cells.get(t as usize) {
            Some(cell) if t >= 0 => !cell.free,
            _ => 0,
        };
        let (before, after) = (busy(start - 1), busy(end));
        let mut crew = 0u64;
        for (i, want) in task.wants.iter().enumerate() {
            for taken in 0..want.count {
                let mut best: Option<(u32, usize)> = None;
                let mut open = want.able & free & !crew;
                while open != 0 {
                    let p = open.trailing_zeros() as usize;
                    open &= open - 1;
                    let bit = 1u64 << p;
                    let fit = u32::from(before & bit != 0) + u32::from(after & bit != 0);
                    let same_pause = pattern.is_none_or(|k| model.calendars[p] == k);
                    let rank = u32::from(known & bit == 0) << 28
                        | u32::from(!same_pause) << 27
                        | model.versatility[p].min(0xff_ffff) << 2
                        | (2 - fit);
                    // Taking somebody must leave enough for the wants that follow.
                    let better = best.is_none_or(|b| rank < b.0);
                    if better
                        && (task.wants.len() == 1 || leaves_enough(task, i, taken + 1, free & !crew & !bit))
                    {
                        best = Some((rank, p));
                    }
                }
                crew |= 1 << best?.1;
            }
        }
        if let Some(k) = pattern
            && !self.pauses_are_theirs(model, k, crew, start, end)
        {
            return None;
        }
        Some(crew)
    }

    /// Whether in every pause somebody of the crew is off.
    fn pauses_are_theirs(&self, model: &Model<'_>, pattern: usize, crew: u64, start: i32, end: i32) -> bool {
        let works = &model.patterns[pattern].works;
        (start..end).all(|t| works[t as usize] || model.working[t as usize] & crew != crew)
    }

    fn choose_room(&self, model: &Model<'_>, task: &Job, start: i32, end: i32, rooms: u64) -> usize {
        if rooms.count_ones() == 1 {
            return rooms.trailing_zeros() as usize;
        }
        let known = task.previous.and_then(|p| p.2);
        let row = task.job * self.horizon;
        let at = |t: i32| match self.place.get(row..row + self.horizon).and_then(|r| r.get(t as usize)) {
            Some(&place) if t >= 0 && place > 0 => Some(usize::from(place) - 1),
            _ => None,
        };
        let (before, after) = (at(start - 1), at(end));
        let mut best = (u32::MAX, 0);
        let mut open = rooms;
        while open != 0 {
            let r = open.trailing_zeros() as usize;
            open &= open - 1;
            let stays = u32::from(before != Some(r)) + u32::from(after != Some(r));
            let wished = self.wish >> r & 1 == 1;
            let rank = u32::from(!wished) << 29
                | u32::from(known != Some(r)) << 28
                | stays << 24
                | model.room_versatility[r].min(0xffff);
            if rank < best.0 {
                best = (rank, r);
            }
        }
        best.1
    }
}

/// Whether `free` can fill what is left when `taken` of want `at` and all wants before it are filled.
fn leaves_enough(task: &Job, at: usize, taken: u32, free: u64) -> bool {
    let rest = &task.wants[at..];
    let count = |k: usize| if k == 0 { rest[0].count - taken } else { rest[k].count };
    // Hall's condition over every set of the wants that are left; there are few.
    (1u32..1 << rest.len()).all(|set| {
        let members = (0..rest.len()).filter(|k| set >> k & 1 == 1);
        let (able, needed) = members.fold((0, 0), |(able, n), k| (able | rest[k].able, n + count(k)));
        (able & free).count_ones() >= needed
    })
}

/// Runs of working slots between `start` and `end`.
pub(super) fn pieces(works: &[bool], start: i32, end: i32) -> Vec<(i32, i32)> {
    let mut found: Vec<(i32, i32)> = Vec::new();
    for t in start..end {
        if works[t as usize] {
            match found.last_mut() {
                Some(last) if last.1 == t => last.1 = t + 1,
                _ => found.push((t, t + 1)),
            }
        }
    }
    found
}
