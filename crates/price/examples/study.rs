//! Measures what the README states: how often P80 holds, how fast a slower shop is learnt, how long draws take.
//!
//! `cargo run --release -p price --example study`

#![allow(
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a measurement prints and reads the clock"
)]

use effort::Effort;
use price::{Belief, Finished, JobNetwork, MishapPrior, PriceError, Task, TimeModel, TimePrior, simulate};
use std::collections::BTreeMap;
use std::time::Instant;
use units::{Duration, Seed, Sequence};

/// An invented step table.
fn table() -> BTreeMap<String, TimePrior> {
    [
        ("wash", 90.0, 0.20),
        ("decontaminate", 80.0, 0.25),
        ("correct a panel", 40.0, 0.30),
        ("clean for film", 60.0, 0.25),
        ("film a panel", 75.0, 0.35),
        ("coat", 100.0, 0.25),
        ("check", 45.0, 0.20),
    ]
    .into_iter()
    .map(|(step, minutes, spread)| {
        (step.to_owned(), TimePrior::new("unit", Duration::minutes(minutes), spread, "invented"))
    })
    .collect()
}

/// A standardized deviation of ln time.
type Scatter = fn(&mut Sequence) -> f64;

/// Quantities of a job, random but alike.
fn job(random: &mut Sequence, table: &BTreeMap<String, TimePrior>) -> Vec<(String, f64)> {
    table
        .keys()
        .map(|step| {
            let panels = if step.ends_with("panel") { 2.0 + random.below(9) as f64 } else { 1.0 };
            (step.clone(), panels)
        })
        .collect()
}

/// A shop as the priors think shops are: its pace, each step's own deviation and own scatter.
struct Shop {
    steps: BTreeMap<String, (f64, f64)>,
    /// In which share of its tasks something goes wrong.
    mishaps: f64,
}

/// What the model believes of mishaps.
fn belief() -> Belief {
    Belief { mishaps: Some(MishapPrior::default()), ..Belief::default() }
}

impl Shop {
    fn drawn(random: &mut Sequence, table: &BTreeMap<String, TimePrior>) -> Self {
        let pace = 0.25 * random.normal();
        let steps = table.iter().map(|(step, p)| {
            // precision by its gamma prior, as a sum of squares of `spread_weight` normals
            let squares: f64 = (0..p.spread_weight as usize).map(|_| random.normal().powi(2)).sum();
            let variance = p.spread_weight * p.spread * p.spread / squares;
            let own = (variance / p.weight).sqrt() * random.normal();
            (step.clone(), (p.per_unit.as_minutes().ln() + pace + own, variance.sqrt()))
        });
        let steps = steps.collect();
        // Beta(2, 48), the prior's mean and weight: the second smallest of 49 even numbers
        let mut even: Vec<f64> = (0..49).map(|_| random.uniform()).collect();
        even.sort_by(f64::total_cmp);
        Self { steps, mishaps: even[1] }
    }

    fn slower(table: &BTreeMap<String, TimePrior>, by: f64) -> Self {
        let steps = table.iter().map(|(s, p)| (s.clone(), ((p.per_unit.as_minutes() * by).ln(), p.spread)));
        Self { steps: steps.collect(), mishaps: 0.0 }
    }

    /// Minutes of a task; `scatter` gives a standardized deviation.
    fn take(&self, step: &str, quantity: f64, scatter: f64) -> f64 {
        let (mean, spread) = self.steps[step];
        // nobody works eight times too long without somebody asking
        quantity * (mean + (spread * scatter).clamp(-2.0, 2.0)).exp()
    }

    /// 2 when something goes wrong, else 1.
    fn longer(&self, random: &mut Sequence) -> f64 {
        if self.mishaps > 0.0 && random.uniform() < self.mishaps { 2.0 } else { 1.0 }
    }

    fn history(
        &self,
        jobs: usize,
        random: &mut Sequence,
        table: &BTreeMap<String, TimePrior>,
        scatter: Scatter,
    ) -> Vec<Finished> {
        let mut history = Vec::new();
        for _ in 0..jobs {
            for (step, quantity) in job(random, table) {
                let took = self.take(&step, quantity, scatter(random)) * self.longer(random);
                let took = Duration::minutes(took);
                history.push(Finished { step, quantity, condition: 1.0, took });
            }
        }
        history
    }
}

fn normal(random: &mut Sequence) -> f64 {
    random.normal()
}

/// Student's t with 3 degrees of freedom, as wide in its middle half as the normal: only its tails are heavier.
fn heavy(random: &mut Sequence) -> f64 {
    0.674_490 / 0.764_892 * wide(random)
}

/// Student's t with 3 degrees of freedom, not rescaled: three times the model's variance.
fn wide(random: &mut Sequence) -> f64 {
    let squares: f64 = (0..3).map(|_| random.normal().powi(2)).sum();
    random.normal() / (squares / 3.0).sqrt()
}

/// One task in twelve goes wrong and takes twice as long.
fn mishaps(random: &mut Sequence) -> f64 {
    let mishap = if random.below(12) == 0 { 2f64.ln() / 0.3 } else { 0.0 };
    random.normal() + mishap
}

fn network(model: &TimeModel, job: &[(String, f64)]) -> Result<JobNetwork, PriceError> {
    let tasks = job
        .iter()
        .enumerate()
        .map(|(i, (step, quantity))| Ok(model.task(step, step, *quantity, 1.0, 1)?.after(i.checked_sub(1))))
        .collect::<Result<Vec<_>, PriceError>>()?;
    Ok(JobNetwork { tasks, shared: model.shared(), mishaps: model.mishaps(), ..JobNetwork::default() })
}

/// Share of 20,000 jobs in 400 shops whose hours stay within the simulated P50, P80, P95.
fn coverage(jobs_before: usize, scatter: Scatter, own: bool) -> Result<[f64; 3], PriceError> {
    let table = table();
    let (shops, each) = (400, 50);
    let mut within = [0usize; 3];
    for s in 0..shops {
        let mut random = Seed(s).sequence();
        let mut shop = Shop::drawn(&mut random, &table);
        if !own {
            shop.mishaps = 0.0;
        }
        let history = shop.history(jobs_before, &mut random, &table, scatter);
        let model = TimeModel::learn_with(&table, &history, &belief())?;
        for _ in 0..each {
            let job = job(&mut random, &table);
            let risk =
                simulate(&network(&model, &job)?, 1000, Seed(random.bits()), &Effort::steps(u64::MAX))?;
            let took: f64 = job
                .iter()
                .map(|(step, q)| shop.take(step, *q, scatter(&mut random)) * shop.longer(&mut random))
                .sum();
            for (count, bound) in within.iter_mut().zip([risk.labor.p50, risk.labor.p80, risk.labor.p95]) {
                *count += usize::from(took <= bound.as_minutes());
            }
        }
    }
    Ok(within.map(|w| w as f64 / (shops as f64 * f64::from(each))))
}

/// Mean error of hours for shops 25 % slower than the table: of the expected hours, and of single jobs.
fn learning(jobs_before: usize) -> Result<(f64, f64, f64), PriceError> {
    let table = table();
    let (shops, each) = (200, 20);
    let (mut signed, mut expected, mut single) = (0.0, 0.0, 0.0);
    for s in 0..shops {
        let mut random = Seed(5000 + s).sequence();
        let shop = Shop::slower(&table, 1.25);
        let history = shop.history(jobs_before, &mut random, &table, normal);
        let model = TimeModel::learn_with(&table, &history, &belief())?;
        for _ in 0..each {
            let job = job(&mut random, &table);
            let mut told = 0.0;
            let (mut mean, mut took) = (0.0, 0.0);
            for (step, q) in &job {
                told += model.forecast(step, *q, 1.0)?.mean.as_minutes();
                mean += shop.take(step, *q, 0.0) * (0.5 * table[step].spread.powi(2)).exp();
                took += shop.take(step, *q, random.normal());
            }
            signed += told / mean - 1.0;
            expected += (told / mean - 1.0).abs();
            single += (told / took - 1.0).abs();
        }
    }
    let n = shops as f64 * f64::from(each);
    Ok((signed / n, expected / n, single / n))
}

fn model_mishaps() -> Option<price::Mishaps> {
    Some(price::Mishaps { chance: 0.04, times: 2.0 })
}

fn main() -> Result<(), PriceError> {
    println!("share of 20,000 jobs within P50, P80, P95");
    let laws: [(&str, Scatter, bool); 5] = [
        ("as the model", normal, true),
        ("as the model, but nothing goes wrong", normal, false),
        ("t of 3 degrees, same middle half", heavy, false),
        ("t of 3 degrees, as it is", wide, false),
        ("one in twelve goes wrong", mishaps, false),
    ];
    for (name, scatter, own) in laws {
        for jobs in [0, 5, 30] {
            let [p50, p80, p95] = coverage(jobs, scatter, own)?;
            println!("  {name}, {jobs} finished jobs: {p50:.3} {p80:.3} {p95:.3}");
        }
    }
    println!("a shop 25 % slower than the table: bias, mean error of expected hours, of single jobs");
    for jobs in [0, 5, 10, 30, 100] {
        let (signed, expected, single) = learning(jobs)?;
        println!(
            "  {jobs} finished jobs: {:+.1} %, {:.1} %, {:.1} %",
            signed * 100.0,
            expected * 100.0,
            single * 100.0
        );
    }
    let tasks = (0..60)
        .map(|i: usize| {
            let task = Task::new(
                format!("t{i}"),
                format!("k{}", i % 12),
                Duration::hours(1.0 + (i % 5) as f64),
                0.3,
            );
            task.after(if i < 4 { vec![] } else { vec![i - 4, i - 3] }).in_room(if i.is_multiple_of(3) {
                "bay"
            } else {
                "film room"
            })
        })
        .collect();
    let shared = (0..12).map(|k| (format!("k{k}"), price::SharedSpread { kind: 0.1, pace: 0.1 })).collect();
    let rooms = [("bay".to_owned(), 2), ("film room".to_owned(), 1)].into();
    let big = JobNetwork { tasks, shared, crew: Some(4), rooms, mishaps: model_mishaps() };
    let start = Instant::now();
    let risk = simulate(&big, 10_000, Seed(1), &Effort::steps(u64::MAX))?;
    println!(
        "10,000 draws of 60 tasks, crew of 4, two rooms: {:.3} s (P80 {:.1} h in the shop)",
        start.elapsed().as_secs_f64(),
        risk.elapsed.p80.as_hours()
    );
    Ok(())
}
