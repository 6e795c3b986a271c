//! The network drawn many times: hours of labor, time in the shop, and what drives their risk.

use crate::course::{Course, mean_labor};
use crate::{JobNetwork, PriceError};
use effort::Effort;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Duration, Explained, Seed};

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
    /// Labor hours below which 0, 0.5, 1, … 100 % of the draws lie: for drawing, and for
    /// [`HoursRisk::chance_of_labor_within`].
    pub labor_curve: Vec<Duration>,
    /// The same for the time in the shop.
    pub elapsed_curve: Vec<Duration>,
    /// Draws made.
    pub draws: usize,
    /// How it was computed.
    pub explained: Vec<Explained>,
}

impl HoursRisk {
    /// Chance that the work is through within a working time.
    pub fn chance_within(&self, elapsed: Duration) -> f64 {
        chance(&self.elapsed_curve, elapsed)
    }

    /// Chance that all labor stays within these hours.
    pub fn chance_of_labor_within(&self, labor: Duration) -> f64 {
        chance(&self.labor_curve, labor)
    }
}

/// Where a time lies on a curve of even steps, straight between them.
fn chance(curve: &[Duration], time: Duration) -> f64 {
    let above = curve.partition_point(|t| *t <= time);
    let Some(last) = curve.len().checked_sub(1) else { return f64::NAN };
    if above == 0 || above > last {
        return if above == 0 { 0.0 } else { 1.0 };
    }
    let (low, high) = (curve[above - 1], curve[above]);
    ((above - 1) as f64 + (time - low) / (high - low)) / last as f64
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
        let (labor_sorted, elapsed_sorted) = (sorted(&self.labor), sorted(&self.elapsed));
        let labor = span(&self.labor, &labor_sorted);
        let elapsed = span(&self.elapsed, &elapsed_sorted);
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
            rooms: self
                .room_names
                .iter()
                .cloned()
                .zip(self.rooms.iter().map(|r| span(r, &sorted(r))))
                .collect(),
            tasks,
            shared,
            merge_bias: Duration::hours(elapsed.mean.as_hours() - self.single_pass),
            labor_curve: curve(&labor_sorted),
            elapsed_curve: curve(&elapsed_sorted),
            draws,
            explained,
        }
    }
}

fn span(hours: &[f64], sorted: &[f64]) -> Span {
    let n = hours.len() as f64;
    let mean = hours.iter().sum::<f64>() / n;
    let variance = hours.iter().map(|h| (h - mean).powi(2)).sum::<f64>() / n;
    let at = |q| Duration::hours(quantile(sorted, q));
    Span {
        mean: Duration::hours(mean),
        deviation: Duration::hours(variance.sqrt()),
        p50: at(0.5),
        p80: at(0.8),
        p95: at(0.95),
    }
}

fn sorted(hours: &[f64]) -> Vec<f64> {
    let mut sorted = hours.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
}

fn curve(sorted: &[f64]) -> Vec<Duration> {
    (0..=200).map(|i| Duration::hours(quantile(sorted, f64::from(i) / 200.0))).collect()
}

/// As `stats::quantile`, of values already sorted: a curve takes two hundred of them.
pub(crate) fn quantile(sorted: &[f64], q: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let at = q.clamp(0.0, 1.0) * last as f64;
    let low = at.floor() as usize;
    let high = (low + 1).min(last);
    sorted[low] + (sorted[high] - sorted[low]) * (at - low as f64)
}
