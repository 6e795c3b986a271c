//! One pass over the network after the other: each task drawn by its law and placed in time.

use crate::{JobNetwork, Law, Mishaps, PriceError, SharedSpread};
use units::{Seed, Sequence};

/// Something drawn once for several tasks.
pub(crate) struct Factor {
    pub(crate) name: String,
    stream: Sequence,
    pub(crate) value: f64,
}

/// One task, ready to be drawn.
struct Runner {
    law: Law,
    chance: f64,
    people: u32,
    stream: Sequence,
    needed: Sequence,
    mishap: Sequence,
    shared: SharedSpread,
    kind_factor: Option<usize>,
    room: Option<usize>,
    after: Vec<usize>,
    hours: f64,
}

/// The network under way.
pub(crate) struct Course {
    order: Vec<usize>,
    runners: Vec<Runner>,
    mishaps: Option<Mishaps>,
    pub(crate) factors: Vec<Factor>,
    pub(crate) room_names: Vec<String>,
    /// Free times of each person and of each place of each room, with the task that was there last.
    crew: Vec<(f64, Option<usize>)>,
    places: Vec<Vec<(f64, Option<usize>)>>,
    finishes: Vec<f64>,
    pub(crate) blocker: Vec<Option<usize>>,
    pub(crate) finish: f64,
    pub(crate) last: Option<usize>,
    pub(crate) mean_labor: f64,
}

const PACE: &str = "pace of the shop";

impl Course {
    pub(crate) fn new(network: &JobNetwork, seed: Seed) -> Result<Self, PriceError> {
        let order = network.order()?;
        let stream = |what: &str, name: &str| seed.part(digest(what, name)).sequence();
        let mut factors = vec![Factor { name: PACE.into(), stream: stream("pace", ""), value: 0.0 }];
        for kind in network.shared.keys().filter(|k| network.tasks.iter().any(|t| &t.kind == *k)) {
            factors.push(Factor { name: kind.clone(), stream: stream("kind", kind), value: 0.0 });
        }
        let mut room_names: Vec<String> = network.tasks.iter().filter_map(|t| t.room.clone()).collect();
        room_names.sort();
        room_names.dedup();
        let runners = network
            .tasks
            .iter()
            .map(|task| Runner {
                law: task.law,
                chance: task.chance,
                people: task.people,
                stream: stream("task", &task.id),
                needed: stream("needed", &task.id),
                mishap: stream("mishap", &task.id),
                shared: network.shared.get(&task.kind).copied().unwrap_or_default(),
                kind_factor: factors.iter().skip(1).position(|f| f.name == task.kind).map(|p| p + 1),
                room: task.room.as_ref().and_then(|r| room_names.iter().position(|n| n == r)),
                after: task.after.clone(),
                hours: 0.0,
            })
            .collect();
        let n = network.tasks.len();
        Ok(Self {
            order,
            runners,
            mishaps: network.mishaps,
            factors,
            crew: vec![(0.0, None); network.crew.unwrap_or(0) as usize],
            places: room_names
                .iter()
                .map(|r| vec![(0.0, None); network.rooms.get(r).copied().unwrap_or(0) as usize])
                .collect(),
            room_names,
            finishes: vec![0.0; n],
            blocker: vec![None; n],
            finish: 0.0,
            last: None,
            mean_labor: mean_labor(network),
        })
    }

    /// Draws every task and places it.
    pub(crate) fn next(&mut self) {
        for factor in &mut self.factors {
            factor.value = factor.stream.normal();
        }
        for runner in &mut self.runners {
            let moved = runner.shared.pace * self.factors[0].value
                + runner.kind_factor.map_or(0.0, |k| runner.shared.kind * self.factors[k].value);
            let mut hours = draw(&runner.law, &mut runner.stream, moved);
            if let Some(mishaps) = self.mishaps
                && matches!(runner.law, Law::LogNormal { .. })
                && runner.mishap.uniform() < mishaps.chance
            {
                hours *= mishaps.times;
            }
            let needed = runner.chance >= 1.0 || runner.needed.uniform() < runner.chance;
            runner.hours = if needed { hours } else { 0.0 };
        }
        self.place();
    }

    /// One pass with mean times; a task that may not be needed counts by its chance.
    pub(crate) fn single_pass(&mut self) -> f64 {
        for runner in &mut self.runners {
            let s = runner.shared;
            let moved = if matches!(runner.law, Law::LogNormal { .. }) {
                (0.5 * (s.kind * s.kind + s.pace * s.pace)).exp() * lengthened(self.mishaps)
            } else {
                1.0
            };
            runner.hours = runner.law.mean().as_hours() * moved * runner.chance;
        }
        self.place();
        self.finish
    }

    /// Serial generation in the given order, without going back to fill gaps.
    fn place(&mut self) {
        self.crew.iter_mut().for_each(|p| *p = (0.0, None));
        self.places.iter_mut().flatten().for_each(|p| *p = (0.0, None));
        (self.finish, self.last) = (0.0, None);
        for &i in &self.order {
            let runner = &self.runners[i];
            let (mut start, mut blocker) = (0.0, None);
            let mut wait = |time: f64, task: Option<usize>| {
                if time > start {
                    (start, blocker) = (time, task);
                }
            };
            for &a in &runner.after {
                wait(self.finishes[a], Some(a));
            }
            // a task not needed takes nobody and no room, and only passes the baton
            let (people, room) = if runner.hours > 0.0 {
                (runner.people as usize, runner.room.filter(|r| !self.places[*r].is_empty()))
            } else {
                (0, None)
            };
            let people = people.min(self.crew.len());
            if people > 0 {
                self.crew.sort_by(|a, b| a.0.total_cmp(&b.0));
                wait(self.crew[people - 1].0, self.crew[people - 1].1);
            }
            if let Some(r) = room {
                self.places[r].sort_by(|a, b| a.0.total_cmp(&b.0));
                wait(self.places[r][0].0, self.places[r][0].1);
            }
            let end = start + runner.hours;
            self.crew.iter_mut().take(people).for_each(|p| *p = (end, Some(i)));
            if let Some(r) = room {
                self.places[r][0] = (end, Some(i));
            }
            self.finishes[i] = end;
            self.blocker[i] = blocker;
            if end > self.finish {
                (self.finish, self.last) = (end, Some(i));
            }
        }
    }

    pub(crate) fn labor(&self) -> impl Iterator<Item = f64> + '_ {
        self.runners.iter().map(|r| r.hours * f64::from(r.people))
    }

    pub(crate) fn room_hours(&self, room: usize) -> f64 {
        self.runners.iter().filter(|r| r.room == Some(room)).map(|r| r.hours).sum()
    }
}

fn draw(law: &Law, stream: &mut Sequence, moved: f64) -> f64 {
    match *law {
        Law::Fixed(t) => t.as_hours(),
        Law::LogNormal { median, spread } => median.as_hours() * (spread * stream.normal() + moved).exp(),
        Law::BetaPert { least, likely, most } => {
            let (a, m, b) = (least.as_hours(), likely.as_hours(), most.as_hours());
            if b <= a {
                return a;
            }
            let alpha = 1.0 + 4.0 * (m - a) / (b - a);
            let beta = 1.0 + 4.0 * (b - m) / (b - a);
            let (x, y) = (gamma(alpha, stream), gamma(beta, stream));
            a + (b - a) * x / (x + y)
        }
    }
}

/// Gamma with unit scale and shape of at least 1 (Marsaglia and Tsang 2000).
fn gamma(shape: f64, stream: &mut Sequence) -> f64 {
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let z = stream.normal();
        let v = (1.0 + c * z).powi(3);
        if v > 0.0 && (1.0 - stream.uniform()).ln() < 0.5 * z * z + d - d * v + d * v.ln() {
            return d * v;
        }
    }
}

/// FNV-1a over a name: a number that depends on the name alone.
fn digest(what: &str, name: &str) -> u64 {
    what.bytes()
        .chain([0])
        .chain(name.bytes())
        .fold(0xCBF2_9CE4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01B3))
}

/// By how much mishaps lengthen a task on average.
pub(crate) fn lengthened(mishaps: Option<Mishaps>) -> f64 {
    mishaps.map_or(1.0, |m| 1.0 + m.chance * (m.times - 1.0))
}

/// Labor hours to expect without what is shared.
pub(crate) fn mean_labor(network: &JobNetwork) -> f64 {
    network.tasks.iter().map(|t| t.chance * f64::from(t.people) * t.law.mean().as_hours()).sum()
}
