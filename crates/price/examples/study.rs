//! Measures what the README states, part by part: how often P80 holds, how fast a slower shop is learnt, draws, seams.
//! `bench/price.py` runs it and compares.
//!
//! `cargo run --release -p price --example study -- own 400`

#![allow(clippy::print_stdout, reason = "a measurement prints")]

use effort::Effort;
use price::{
    AreaYears, Belief, CandidateSeam, Finished, JobNetwork, MishapPrior, PriceError, SeamPrices, SeamProblem,
    Section, Task, TimeModel, TimePrior, Zone, choose_seams, simulate,
};
use std::collections::BTreeMap;
use units::{Area, Duration, Length, Money, Seed, Sequence};

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

/// Share of jobs, fifty in each shop, whose hours stay within the simulated P50, P80, P95.
fn coverage(shops: u64, jobs_before: usize, scatter: Scatter, own: bool) -> Result<[f64; 3], PriceError> {
    let table = table();
    let each = 50;
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

/// An invented chain of 31 sections with 30 candidate seams, as a text that another program can read.
fn chain(random: &mut Sequence) -> (SeamProblem, String) {
    let (mut at, mut text) = (0.0, String::new());
    let sections: Vec<Section> = (0..31)
        .map(|i| {
            let (long, high) = (random.between(0.15, 0.5), random.between(0.3, 0.7));
            let (from, low) = (at, random.between(0.0, 0.3));
            at += long;
            let (area, zone) = (long * high * random.between(0.6, 0.95), random.below(2));
            text.push_str(&format!(" {area} {zone} {from} {at} {low} {}", low + high));
            Section {
                name: format!("s{i}"),
                zone,
                area: Area::m2(area),
                along: (Length::m(from), Length::m(at)),
                across: (Length::m(low), Length::m(low + high)),
            }
        })
        .collect();
    let seams = (0..30)
        .map(|i| {
            let length = random.between(0.2, 0.7);
            let seen = length * random.between(0.0, 1.0);
            text.push_str(&format!(" {length} {seen}"));
            CandidateSeam { between: (i, i + 1), length: Length::m(length), in_sight: Length::m(seen) }
        })
        .collect();
    let rate = |claims, years| price::DamageRate { claims, exposure: AreaYears::m2_years(years) };
    let zones = vec![
        Zone { name: "side".into(), rate: rate(2.0, 200.0) },
        Zone { name: "behind the wheels".into(), rate: rate(9.0, 60.0) },
    ];
    let prices = SeamPrices {
        rolls: vec![Length::m(0.61), Length::m(0.76), Length::m(1.52)],
        trim: Length::mm(15.0),
        film_m2: Money::cents(6500),
        offcut_value: 0.3,
        labor_hour: Money::cents(7500),
        per_piece: Duration::minutes(25.0),
        per_m2: Duration::minutes(70.0),
        per_seam_m: Duration::minutes(8.0),
        removal_m2: Duration::minutes(40.0),
        per_renewal: Duration::minutes(90.0),
        flaws_m2: 0.12,
        horizon: Duration::days(365.25 * 6.0),
        interest: 0.03,
        unseen_m: Money::cents(2000),
    };
    (SeamProblem { sections, seams, zones, nested: Vec::new(), prices }, text)
}

/// Twenty chains: the problem, the cost of the best plan found, whether it is proved.
fn seams() -> Result<(), PriceError> {
    for seed in 0..20 {
        let (problem, text) = chain(&mut Seed(9000 + seed).sequence());
        let choice = choose_seams(&problem, &Effort::steps(u64::MAX))?;
        let total = choice.best.map_or(f64::NAN, |b| b.total.as_estimate());
        println!("chain {seed} {total} {}{text}", choice.proven);
    }
    Ok(())
}

/// 60 tasks, a crew of four, two rooms.
fn sixty() -> JobNetwork {
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
    JobNetwork { tasks, shared, crew: Some(4), rooms, mishaps: model_mishaps() }
}

fn main() -> Result<(), PriceError> {
    let part = std::env::args().nth(1).unwrap_or_default();
    let shops: u64 = std::env::args().nth(2).and_then(|n| n.parse().ok()).unwrap_or(400);
    let laws: [(&str, Scatter, bool); 5] = [
        ("as the model", normal, true),
        ("as the model, but nothing goes wrong", normal, false),
        ("t of 3 degrees, same middle half", heavy, false),
        ("t of 3 degrees, as it is", wide, false),
        ("one in twelve goes wrong", mishaps, false),
    ];
    match part.as_str() {
        "own" | "other" => {
            for (name, scatter, own) in laws.into_iter().filter(|l| l.2 == (part == "own")) {
                for jobs in [0, 5, 30] {
                    let [p50, p80, p95] = coverage(shops, jobs, scatter, own)?;
                    println!("coverage|{name}|{jobs}|{}|{p50:.4}|{p80:.4}|{p95:.4}", shops * 50);
                }
            }
        }
        "learning" => {
            for jobs in [0, 5, 10, 30, 100] {
                let (signed, expected, single) = learning(jobs)?;
                println!("learning|{jobs}|{:.4}|{:.4}|{:.4}", signed, expected, single);
            }
        }
        "draws" => {
            let risk = simulate(&sixty(), 10_000, Seed(1), &Effort::steps(u64::MAX))?;
            println!("draws|{:.2}", risk.elapsed.p80.as_hours());
        }
        "seams" => seams()?,
        other => println!("No part '{other}': own, other, learning, draws, seams; then the number of shops."),
    }
    Ok(())
}
