//! Ways to change an order: tasks, windows, cars and tails of cars.

use super::decode::Genes;
use super::search::{Climber, FINE};

impl Climber<'_> {
    /// Changes an order a little, in one of several ways.
    pub(super) fn perturb(&mut self, genes: &mut Genes) {
        let pick = self.chance.below(100);
        if self.model.problem.previous.is_some() && self.chance.below(3) == 0 {
            self.loosen(genes);
        }
        if self.best.broken > 0 && self.chance.below(2) == 0 {
            self.delay(genes);
        }
        if !self.choosy.is_empty() && self.chance.below(if self.best.broken > 0 { 2 } else { 10 }) == 0 {
            self.wish(genes);
        }
        match pick {
            0..40 => self.move_one(genes),
            40..65 => self.shuffle_window(genes),
            65..80 => self.move_job(genes),
            80..95 => self.move_tail(genes),
            _ => self.swap_jobs(genes),
        }
    }

    /// Lets some tasks leave their previous start, or ties them to it again.
    fn loosen(&mut self, genes: &mut Genes) {
        let value = self.chance.below(2) == 0;
        if self.chance.below(2) == 0 {
            let b = self.movable[self.chance.below(self.movable.len())];
            for &i in &self.model.blocks[b] {
                genes.anchored[i] = value;
            }
        } else {
            let list = self.chance.below(self.of_job.len());
            let after = self.chance.below(self.model.horizon as usize) as i64 * FINE;
            for &b in &self.of_job[list] {
                if genes.keys[b] >= after {
                    for &i in &self.model.blocks[b] {
                        genes.anchored[i] = value;
                    }
                }
            }
        }
    }

    /// Lets a task wait although it need not, or wait no longer.
    fn delay(&mut self, genes: &mut Genes) {
        let b = self.movable[self.chance.below(self.movable.len())];
        let i = self.model.blocks[b][self.chance.below(self.model.blocks[b].len())];
        let most = (self.reach() / FINE) as usize + 2;
        let wait = self.chance.below(most) as i32;
        let now = self.decoder.spots[i].map_or(self.heads.starts[i], |spot| spot.start);
        genes.floors[i] = if self.chance.below(3) == 0 { 0 } else { (now + wait).min(self.model.horizon) };
    }

    /// Lets a task that could go to several rooms prefer one, or none.
    fn wish(&mut self, genes: &mut Genes) {
        let i = self.choosy[self.chance.below(self.choosy.len())];
        let rooms = self.model.tasks[i].rooms;
        let nth = self.chance.below(rooms.count_ones() as usize + 1);
        let mut left = rooms;
        for _ in 0..nth {
            left &= left - 1;
        }
        genes.wishes[i] = left & left.wrapping_neg();
    }

    /// A span of time: short ones more often than long ones.
    pub(super) fn reach(&mut self) -> i64 {
        let most = f64::from(self.model.horizon).ln();
        let slots = (self.chance.uniform() * most * 0.8).exp();
        (slots * FINE as f64) as i64 + 1
    }

    fn signed(&mut self, reach: i64) -> i64 {
        self.chance.below(2 * reach as usize + 1) as i64 - reach
    }

    fn move_one(&mut self, genes: &mut Genes) {
        for _ in 0..1 + self.chance.below(3) {
            let b = self.movable[self.chance.below(self.movable.len())];
            let reach = self.reach();
            genes.keys[b] += self.signed(reach);
        }
    }

    fn shuffle_window(&mut self, genes: &mut Genes) {
        let centre = genes.keys[self.movable[self.chance.below(self.movable.len())]];
        let reach = self.reach().min(FINE * 64);
        for k in 0..self.movable.len() {
            let b = self.movable[k];
            if (genes.keys[b] - centre).abs() <= reach {
                genes.keys[b] = centre + self.signed(reach);
            }
        }
    }

    fn move_job(&mut self, genes: &mut Genes) {
        let (list, by) = self.pick_job();
        for &b in &self.of_job[list] {
            genes.keys[b] += by;
        }
    }

    /// A job and by how much to move it: late jobs more often, and earlier.
    fn pick_job(&mut self) -> (usize, i64) {
        let reach = self.reach();
        let by = self.signed(reach);
        if !self.late.is_empty() && self.chance.below(2) == 0 {
            let list = self.late[self.chance.below(self.late.len())];
            return (list, -by.abs());
        }
        (self.chance.below(self.of_job.len()), by)
    }

    /// Which jobs are late in the schedule that the search stands on.
    pub(super) fn find_late(&mut self) {
        self.late.clear();
        for (list, blocks) in self.of_job.iter().enumerate() {
            let job = self.model.tasks[self.model.blocks[blocks[0]][0]].job;
            if self
                .model
                .dues
                .iter()
                .any(|&(j, by, weight)| j == job && weight > 0 && self.decoder.end_of(j) > by)
            {
                self.late.push(list);
            }
        }
    }

    fn swap_jobs(&mut self, genes: &mut Genes) {
        let (a, b) = (self.chance.below(self.of_job.len()), self.chance.below(self.of_job.len()));
        let centre = |list: &[usize]| list.iter().map(|&b| genes.keys[b]).sum::<i64>() / list.len() as i64;
        let by = centre(&self.of_job[b]) - centre(&self.of_job[a]);
        for (list, by) in [(a, by), (b, -by)] {
            for &block in &self.of_job[list] {
                genes.keys[block] += by;
            }
        }
    }

    fn move_tail(&mut self, genes: &mut Genes) {
        let (list, by) = self.pick_job();
        let at = self.of_job[list][self.chance.below(self.of_job[list].len())];
        let from = genes.keys[at];
        let later = self.chance.below(2) == 0;
        for &b in &self.of_job[list] {
            if (genes.keys[b] >= from) == later {
                genes.keys[b] += by;
            }
        }
    }
}
