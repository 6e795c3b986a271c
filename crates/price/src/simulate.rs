//! The network drawn many times: hours of labor, time in the shop, and what drives their risk.

use crate::{JobNetwork, Law, PriceError, SharedSpread};
use effort::Effort;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Duration, Explained, Seed, Sequence};

/// A time with its chance.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// Mean of all draws.
    pub mean: Duration,
    /// Standard deviation over the draws.
    pub deviation: Duration,
    /// Half of the draws are shorter.
    pub p50: Duration,
    /// Eight in ten are shorter.
    pub p80: Duration,
    /// Nineteen in twenty are shorter.
    pub p95: Duration,
}

/// What one task brings to the risk.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TaskShare {
    /// The task.
    pub id: String,
    /// Its kind of step.
    pub kind: String,
    /// Its mean hours of labor.
    pub labor: Duration,
    /// Share of the variance of all labor hours, covariance with the total over variance; shares add up to 1.
    pub share: f64,
    /// How often it lay on the chain that set the finish.
    pub critical: f64,
}

/// What something not known about several tasks at once brings to the risk.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SharedShare {
    /// A kind of step, or the shop's pace.
    pub name: String,
    /// Squared correlation with all labor hours.
    pub share: f64,
}

/// The hours of a job with their risk.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HoursRisk {
    /// Hours of labor, all people together.
    pub labor: Span,
    /// Working time from the first task to the last. Nights and weekends come from the schedule.
    pub elapsed: Span,
    /// Hours that each room is taken.
    pub rooms: BTreeMap<String, Span>,
    /// Every task's part, the largest first.
    pub tasks: Vec<TaskShare>,
    /// What moves several tasks together, the largest first.
    pub shared: Vec<SharedShare>,
    /// Mean elapsed time over what one pass with mean times gives: what adding up a single chain overlooks.
    pub merge_bias: Duration,
    /// Draws made.
    pub draws: usize,
    /// How it was computed.
    pub explained: Vec<Explained>,
}

/// Fewer draws than this say nothing about a P95.
const FEWEST_DRAWS: usize = 200;

/// Draws the network `draws` times. The same seed and task names give the same draws, whatever else the network holds:
/// two options differ by what differs in them, not by luck.
///
/// Effort: one step a draw. Stopped early, the draws so far are told.
///
/// # Errors
/// When the network makes no sense, `draws` is not from 200 to 1 000 000, or it was stopped before 200.
pub fn simulate(
    network: &JobNetwork,
    draws: usize,
    seed: Seed,
    effort: &Effort,
) -> Result<HoursRisk, PriceError> {
    Ok(Sample::draw(network, draws, seed, effort)?.told(network))
}

/// All draws, in hours; kept inside the engine for pricing.
pub(crate) struct Sample {
    pub(crate) labor: Vec<f64>,
    pub(crate) elapsed: Vec<f64>,
    /// By room, in the order of `room_names`.
    pub(crate) rooms: Vec<Vec<f64>>,
    pub(crate) room_names: Vec<String>,
    task_labor: Vec<Moments>,
    critical: Vec<u32>,
    shared: Vec<(String, Moments)>,
    single_pass: f64,
}

/// Running sums of a variable beside the total labor.
#[derive(Clone, Copy, Default)]
struct Moments {
    x: f64,
    xx: f64,
    xy: f64,
}

impl Moments {
    fn add(&mut self, x: f64, y: f64) {
        self.x += x;
        self.xx += x * x;
        self.xy += x * y;
    }
}

impl Sample {
    pub(crate) fn draw(
        network: &JobNetwork,
        draws: usize,
        seed: Seed,
        effort: &Effort,
    ) -> Result<Self, PriceError> {
        if !(FEWEST_DRAWS..=1_000_000).contains(&draws) {
            return Err(PriceError::Value {
                place: "the simulation".into(),
                what: "the number of draws",
                got: draws.to_string(),
                allowed: "200 to 1 000 000",
            });
        }
        let mut course = Course::new(network, seed)?;
        let n = network.tasks.len();
        let mut sample = Self {
            labor: Vec::with_capacity(draws),
            elapsed: Vec::with_capacity(draws),
            rooms: vec![Vec::with_capacity(draws); course.room_names.len()],
            room_names: course.room_names.clone(),
            task_labor: vec![Moments::default(); n],
            critical: vec![0; n],
            shared: course.factors.iter().map(|f| (f.name.clone(), Moments::default())).collect(),
            single_pass: course.single_pass(),
        };
        for _ in 0..draws {
            course.next();
            sample.take(&course);
            if !effort.spend(1) {
                break;
            }
        }
        if sample.labor.len() < FEWEST_DRAWS {
            return Err(PriceError::Stopped(sample.labor.len()));
        }
        Ok(sample)
    }

    fn take(&mut self, course: &Course) {
        // tasks are measured against the centered total, or the sums of a long job lose digits
        let total: f64 = course.labor().sum();
        let centered = total - course.mean_labor;
        self.labor.push(total);
        for (moments, x) in self.task_labor.iter_mut().zip(course.labor()) {
            moments.add(x, centered);
        }
        for ((_, moments), factor) in self.shared.iter_mut().zip(&course.factors) {
            moments.add(factor.value, centered);
        }
        self.elapsed.push(course.finish);
        for (hours, room) in self.rooms.iter_mut().zip(0..) {
            hours.push(course.room_hours(room));
        }
        let mut at = course.last;
        while let Some(i) = at {
            self.critical[i] += 1;
            at = course.blocker[i];
        }
    }

    pub(crate) fn told(&self, network: &JobNetwork) -> HoursRisk {
        let draws = self.labor.len();
        let n = draws as f64;
        let labor = span(&self.labor);
        let elapsed = span(&self.elapsed);
        let variance = labor.deviation.as_hours().powi(2);
        // `xy` used the total less a constant; the rest of its mean is taken off here
        let rest = |m: &Moments, centered_mean: f64| m.xy / n - m.x / n * centered_mean;
        let centered_mean = labor.mean.as_hours() - mean_labor(network);
        let mut tasks: Vec<_> = network
            .tasks
            .iter()
            .zip(&self.task_labor)
            .zip(&self.critical)
            .map(|((task, m), critical)| TaskShare {
                id: task.id.clone(),
                kind: task.kind.clone(),
                labor: Duration::hours(m.x / n),
                share: if variance > 0.0 { rest(m, centered_mean) / variance } else { 0.0 },
                critical: f64::from(*critical) / n,
            })
            .collect();
        tasks.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.id.cmp(&b.id)));
        let mut shared: Vec<_> = self
            .shared
            .iter()
            .map(|(name, m)| {
                let own = m.xx / n - (m.x / n).powi(2);
                let share = if variance * own > 0.0 {
                    rest(m, centered_mean).powi(2) / (variance * own)
                } else {
                    0.0
                };
                SharedShare { name: name.clone(), share }
            })
            .collect();
        shared.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.name.cmp(&b.name)));
        let explained = vec![
            Explained::new(
                "Hours",
                "each task drawn by its law, what is not known about kinds and pace drawn once for all; people × time, added up",
                "simulation with a fixed seed",
            )
            .with("draws", draws.to_string())
            .with("tasks", network.tasks.len().to_string())
            .with("P50", format!("{:.1} h", labor.p50.as_hours()))
            .with("P80", format!("{:.1} h", labor.p80.as_hours())),
            Explained::new(
                "Time in the shop",
                "each task starts when all before it, its people and its room are free; the last finish counts",
                "simulation of the whole network, not its longest chain alone",
            )
            .with("crew", network.crew.map_or("as many as wanted".into(), |c| c.to_string()))
            .with("one pass with mean times", format!("{:.1} h", self.single_pass))
            .with("mean of the draws", format!("{:.1} h", elapsed.mean.as_hours())),
        ];
        HoursRisk {
            labor,
            elapsed,
            rooms: self.room_names.iter().cloned().zip(self.rooms.iter().map(|r| span(r))).collect(),
            tasks,
            shared,
            merge_bias: Duration::hours(elapsed.mean.as_hours() - self.single_pass),
            draws,
            explained,
        }
    }
}

fn span(hours: &[f64]) -> Span {
    let n = hours.len() as f64;
    let mean = hours.iter().sum::<f64>() / n;
    let variance = hours.iter().map(|h| (h - mean).powi(2)).sum::<f64>() / n;
    let mut sorted = hours.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |q| Duration::hours(quantile(&sorted, q));
    Span {
        mean: Duration::hours(mean),
        deviation: Duration::hours(variance.sqrt()),
        p50: at(0.5),
        p80: at(0.8),
        p95: at(0.95),
    }
}

/// Of sorted values, straight between neighbors (type 7 of Hyndman and Fan 1996).
pub(crate) fn quantile(sorted: &[f64], q: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let at = q.clamp(0.0, 1.0) * last as f64;
    let low = at.floor() as usize;
    let high = (low + 1).min(last);
    sorted[low] + (sorted[high] - sorted[low]) * (at - low as f64)
}

fn mean_labor(network: &JobNetwork) -> f64 {
    network.tasks.iter().map(|t| t.chance * f64::from(t.people) * t.law.mean().as_hours()).sum()
}

/// Something drawn once for several tasks.
struct Factor {
    name: String,
    stream: Sequence,
    value: f64,
}

/// One task, ready to be drawn.
struct Runner {
    law: Law,
    chance: f64,
    people: u32,
    stream: Sequence,
    needed: Sequence,
    shared: SharedSpread,
    kind_factor: Option<usize>,
    room: Option<usize>,
    after: Vec<usize>,
    hours: f64,
}

/// One pass over the network after the other.
struct Course {
    order: Vec<usize>,
    runners: Vec<Runner>,
    factors: Vec<Factor>,
    room_names: Vec<String>,
    /// Free times of each person and of each place of each room, with the task that was there last.
    crew: Vec<(f64, Option<usize>)>,
    places: Vec<Vec<(f64, Option<usize>)>>,
    finishes: Vec<f64>,
    blocker: Vec<Option<usize>>,
    finish: f64,
    last: Option<usize>,
    mean_labor: f64,
}

const PACE: &str = "pace of the shop";

impl Course {
    fn new(network: &JobNetwork, seed: Seed) -> Result<Self, PriceError> {
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
    fn next(&mut self) {
        for factor in &mut self.factors {
            factor.value = factor.stream.normal();
        }
        for runner in &mut self.runners {
            let moved = runner.shared.pace * self.factors[0].value
                + runner.kind_factor.map_or(0.0, |k| runner.shared.kind * self.factors[k].value);
            let hours = draw(&runner.law, &mut runner.stream, moved);
            let needed = runner.chance >= 1.0 || runner.needed.uniform() < runner.chance;
            runner.hours = if needed { hours } else { 0.0 };
        }
        self.place();
    }

    /// One pass with mean times; a task that may not be needed counts by its chance.
    fn single_pass(&mut self) -> f64 {
        for runner in &mut self.runners {
            let s = runner.shared;
            let moved = if matches!(runner.law, Law::LogNormal { .. }) {
                (0.5 * (s.kind * s.kind + s.pace * s.pace)).exp()
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

    fn labor(&self) -> impl Iterator<Item = f64> + '_ {
        self.runners.iter().map(|r| r.hours * f64::from(r.people))
    }

    fn room_hours(&self, room: usize) -> f64 {
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
