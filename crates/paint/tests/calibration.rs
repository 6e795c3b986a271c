//! Does the bound hold as often as it says? Panels are drawn from the shop's own priors with known truth:
//! layers, correlated thickness, repeats, a gauge with an offset that drifts, unknown histories. The
//! simulator shares nothing with the estimator but the settings.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use paint::*;
use stats::{Cholesky, SquareMatrix};
use std::collections::BTreeMap;
use units::{Area, Length, Seed, Sequence, Thickness};

/// A panel with its truth: the least clear coat on a grid finer than the estimator's.
struct Drawn {
    info: PanelInfo,
    readings: Vec<Reading>,
    least: f64,
    /// What sort of case it is: kind of finish, and how it was read.
    sorts: Vec<&'static str>,
}

/// What the readings are like beside the standard mix.
#[derive(Clone, Copy, Default)]
struct Twist {
    /// Standard deviation of a straight slope of the clear coat from edge to edge, µm: not in the model.
    slope: f64,
}

const FINE: (usize, usize) = (21, 14);

fn lognormal(chance: &mut Sequence, median: f64, factor: f64) -> f64 {
    median * factor.powf(chance.normal())
}

fn draw(settings: &Settings, twist: Twist, chance: &mut Sequence) -> Drawn {
    let kinds = &settings.finishes;
    let kinds = [&kinds.factory, &kinds.refinished, &kinds.filled, &kinds.thinned];
    let whole: f64 = kinds.iter().map(|k| k.share).sum();
    let mut at = chance.uniform() * whole;
    let kind = kinds
        .iter()
        .find(|k| {
            at -= k.share;
            at < 0.0
        })
        .unwrap_or(&kinds[0]);
    let (width, height) = (chance.between(600.0, 1600.0), chance.between(500.0, 1200.0));

    // Levels: one common normal, one of each layer's own.
    let common = chance.normal();
    let level = |layer: &Layer, chance: &mut Sequence| {
        let z = kind.correlation.sqrt() * common + (1.0 - kind.correlation).sqrt() * chance.normal();
        layer.level.mean.as_um() + layer.level.sd.as_um() * z
    };
    let known = chance.below(2) == 0;
    let removed = if known {
        chance.between(0.0, 6.0)
    } else {
        settings.unknown_history.mean.as_um() + settings.unknown_history.sd.as_um() * chance.normal()
    };
    let clear_level = level(&kind.clear, chance) - removed;
    let beneath_level: f64 = kind.beneath.iter().map(|l| level(l, chance)).sum();

    // Fields: the same correlation, each layer its own; beneath is the sum of independent layers.
    let factor = lognormal(chance, 1.0, settings.field.spread_factor);
    let length = lognormal(chance, settings.field.length.as_mm(), settings.field.length_factor)
        .clamp(settings.field.shortest.as_mm(), settings.field.longest.as_mm());
    let n = 6 + chance.below(25);
    let spots: Vec<(f64, f64)> = (0..n).map(|_| (chance.uniform(), chance.uniform())).collect();
    let fine = (0..FINE.0 * FINE.1)
        .map(|i| ((i % FINE.0) as f64 / (FINE.0 - 1) as f64, (i / FINE.0) as f64 / (FINE.1 - 1) as f64));
    let places: Vec<(f64, f64)> = spots.iter().copied().chain(fine).collect();
    let matern = |a: (f64, f64), b: (f64, f64)| {
        let x = 3f64.sqrt() * ((a.0 - b.0) * width).hypot((a.1 - b.1) * height) / length;
        (1.0 + x) * (-x).exp()
    };
    let covariance = SquareMatrix::symmetric(places.len(), |i, j| {
        matern(places[i], places[j]) + if i == j { 1e-8 } else { 0.0 }
    });
    let root = Cholesky::of(covariance).unwrap();
    let mut field = |sd: f64| {
        let z: Vec<f64> = places.iter().map(|_| chance.normal()).collect();
        root.lower_times(&z).into_iter().map(|x| x * sd).collect::<Vec<f64>>()
    };
    let clear = field(factor * kind.clear.within.as_um());
    let beneath_sd = kind.beneath.iter().map(|l| l.within.as_um().powi(2)).sum::<f64>().sqrt();
    let beneath = field(factor * beneath_sd);
    let (slope, turn) = (twist.slope * chance.normal(), chance.uniform() * std::f64::consts::TAU);
    let clear_at = |i: usize| {
        let (u, v) = places[i];
        clear_level + clear[i] + slope * ((u - 0.5) * turn.cos() + (v - 0.5) * turn.sin())
    };

    // The gauge: an offset that drifts over the job, scatter, whole micrometers; sometimes repeats,
    // layered readings, or no places.
    let offset = settings.gauge.offset_sd.as_um() * 0.9 * chance.normal();
    let drift = settings.gauge.offset_sd.as_um() * 0.5 * chance.normal();
    let (repeats, layered, placed) =
        (if chance.below(5) == 0 { 3 } else { 1 }, chance.below(8) == 0, chance.below(10) > 0);
    let mut readings = Vec::new();
    for (i, spot) in spots.iter().enumerate() {
        let truth = clear_at(i) + beneath_level + beneath[i];
        for repeat in 0..repeats {
            let sd = settings.gauge.fixed.as_um() + settings.gauge.relative * truth;
            let wander = offset + drift * (i as f64 / n as f64 - 0.5);
            let seen = (truth + wander + sd * chance.normal()).round().max(1.0);
            let ultrasonic = clear_at(i) + settings.gauge.layered_sd.as_um() * chance.normal();
            readings.push(Reading {
                panel: "p".into(),
                at: placed.then_some(*spot),
                value: Thickness::um(seen),
                spot: Some(i.to_string()),
                repeat: Some(repeat + 1),
                gauge: None,
                time: None,
                substrate: Substrate::Steel,
                clear: (layered && i % 4 == 0 && ultrasonic > 0.0 && ultrasonic < seen)
                    .then_some(Thickness::um(ultrasonic)),
            });
        }
    }
    let info = PanelInfo {
        id: "p".into(),
        width: Length::mm(width),
        height: Length::mm(height),
        outline: Vec::new(),
        substrate: Substrate::Steel,
        matte: false,
        single_stage: false,
        history: if known { History::Known { removed: Thickness::um(removed) } } else { History::Unknown },
    };
    // Normal priors reach below zero, paint does not.
    let least = (n..places.len()).map(clear_at).fold(f64::INFINITY, f64::min).max(0.0);
    let name = ["factory", "refinished", "filled", "thinned"];
    let number = kinds.iter().position(|k| std::ptr::eq(*k, *kind)).unwrap_or(0);
    let mut sorts = vec![name[number], if known { "history known" } else { "history unknown" }];
    sorts.push(if n < 12 {
        "6 to 11 spots"
    } else if n < 20 {
        "12 to 19 spots"
    } else {
        "20 to 30 spots"
    });
    sorts.push(if length < 200.0 {
        "short"
    } else if length < 600.0 {
        "middling"
    } else {
        "long"
    });
    sorts.extend(layered.then_some("layered readings"));
    sorts.extend((!placed).then_some("no places"));
    sorts.extend((repeats > 1).then_some("repeats"));
    Drawn { info, readings, least, sorts }
}

/// What a study counted.
#[derive(Debug, Default)]
struct Study {
    panels: usize,
    /// Panels on which the bound held.
    held: usize,
    /// Panels with something to remove by the floor, and how many broke it when all of it was removed.
    with_budget: usize,
    budget_broken: usize,
    /// Plans that use at least half of the accepted risk: how many, their stated risk, how many broke the floor.
    tight: usize,
    tight_stated: f64,
    tight_broken: usize,
    /// All plans.
    plans: usize,
    stated: f64,
    broken: usize,
    /// Sum of (truth − bound), µm.
    slack: f64,
    /// Sum of what may be removed, µm.
    removable: f64,
    /// How many truths lay below each of [`LEVELS`] of their distribution.
    below: [usize; LEVELS.len()],
    /// By sort of case: bounds that held, cases.
    sorts: BTreeMap<&'static str, (usize, usize)>,
}

/// Probabilities at which the distribution of the least clear coat is compared with the truth.
const LEVELS: [f64; 9] = [0.001, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99];

fn study(panels: u64, twist: Twist, seed: Seed) -> Study {
    let settings = Settings::default();
    let mut s = Study::default();
    for number in 0..panels {
        let mut chance = seed.part(number).sequence();
        let drawn = draw(&settings, twist, &mut chance);
        let e = analyze(&drawn.readings, &[drawn.info], &settings).unwrap().panels.remove(0);
        s.panels += 1;
        let held = usize::from(drawn.least >= e.least_clear.lower.as_um());
        s.held += held;
        let place = e.least_clear.below(Thickness::um(drawn.least));
        for (count, level) in s.below.iter_mut().zip(LEVELS) {
            *count += usize::from(place < level);
        }
        for sort in drawn.sorts {
            let counted = s.sorts.entry(sort).or_default();
            counted.0 += held;
            counted.1 += 1;
        }
        s.slack += drawn.least - e.least_clear.lower.as_um();
        s.removable += e.removable.amount.as_um();
        let budget = e.removable.above_floor.as_um();
        if budget > 0.0 {
            s.with_budget += 1;
            s.budget_broken += usize::from(drawn.least - budget < settings.floor.as_um());
        }
        let request = PlanRequest {
            estimate: e,
            mark: Thickness::um(chance.between(0.5, 15.0)),
            wanted: Thickness::um(0.4),
            area: Area::m2(1.0),
            methods: default_methods(),
            near_edge: false,
            edge_share: settings.edge_share,
            floor: settings.floor,
            allowance_left: Thickness::um(100.0),
            alpha: settings.alpha,
            max_passes: 6,
        };
        let plan = plan(&request);
        let work = match &plan.advice {
            Advice::Correct(c) => c,
            Advice::LeaveIt(LeaveIt { best_safe: Some(c), .. }) => c,
            _ => continue,
        };
        let taken: f64 = work
            .steps
            .iter()
            .map(|step| {
                let r = request.methods.iter().find(|m| m.id == step.method).unwrap().removal_per_pass;
                let mean = r.mean.as_um() + r.unsure.as_um() * chance.normal();
                (0..step.passes).map(|_| mean + r.scatter.as_um() * chance.normal()).sum::<f64>()
            })
            .sum();
        let broken = usize::from(drawn.least - taken < settings.floor.as_um());
        s.plans += 1;
        s.stated += work.risk;
        s.broken += broken;
        if work.risk >= 0.5 * settings.alpha {
            s.tight += 1;
            s.tight_stated += work.risk;
            s.tight_broken += broken;
        }
    }
    s
}

impl Study {
    fn print(&self, name: &str) {
        let share = |a: usize, b: usize| 100.0 * a as f64 / b.max(1) as f64;
        println!(
            "{name}: bound held {:.2} % of {} ({:.1} µm below the truth on average, {:.2} µm removable); budget spent whole breaks the floor in {:.2} % of {}; tight plans state {:.2} %, break {:.2} % of {}; all plans state {:.3} %, break {:.3} % of {}",
            share(self.held, self.panels),
            self.panels,
            self.slack / self.panels as f64,
            self.removable / self.panels as f64,
            share(self.budget_broken, self.with_budget),
            self.with_budget,
            100.0 * self.tight_stated / self.tight.max(1) as f64,
            share(self.tight_broken, self.tight),
            self.tight,
            100.0 * self.stated / self.plans.max(1) as f64,
            share(self.broken, self.plans),
            self.plans,
        );
        for (count, level) in self.below.iter().zip(LEVELS) {
            println!("  below its {:.1} % point: {:.2} %", 100.0 * level, share(*count, self.panels));
        }
        for (sort, (held, cases)) in &self.sorts {
            println!("  {sort}: {:.2} % of {cases}", share(*held, *cases));
        }
    }
}

/// The stated 99 % bound holds in 98.5 to 99.5 % of 10,000 panels, and the accepted risk of 1 % is neither
/// broken nor more than three times too cautious.
#[test]
#[ignore = "10,000 panels take minutes; measured figures stand in the README"]
fn the_bound_holds_as_often_as_it_says() {
    // The benchmark hands over a seed that was not used for tuning.
    let given = |name: &str| std::env::var(name).ok().and_then(|v| v.parse::<u64>().ok());
    let panels = given("CALIBRATION_PANELS").unwrap_or(10_000);
    let s = study(panels, Twist::default(), Seed(given("CALIBRATION_SEED").unwrap_or(41)));
    s.print("standard mix");
    let held = s.held as f64 / s.panels as f64;
    assert!((0.985..=0.995).contains(&held), "{held}");
    // Three standard errors of the share counted.
    let error = (0.01 * 0.99 / s.with_budget as f64).sqrt();
    let broken = s.budget_broken as f64 / s.with_budget as f64;
    assert!((0.01 / 3.0..=0.01 + 3.0 * error).contains(&broken), "{broken}");
}

/// What happens when paint does what the model does not know: a straight slope of the clear coat.
#[test]
#[ignore = "takes minutes; measured figures stand in the README"]
fn a_slope_that_the_model_does_not_know() {
    study(5_000, Twist { slope: 3.0 }, Seed(42)).print("slope of 3 µm (sd) from edge to edge");
}

/// A small study on every run: 150 panels, on which the bound must not fail grossly.
#[test]
fn the_bound_holds_on_a_small_study() {
    let s = study(150, Twist::default(), Seed(43));
    // 99 % promised: more than 7 failures of 150 would happen once in ten thousand runs.
    assert!(s.panels - s.held <= 7, "{s:?}");
    assert!(s.plans > 20, "{s:?}");
}
