//! Margin review: job by job, what was offered against what it took, and where money leaks.

use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::{JobEntry, Studio};
use crate::view::CarTag;
use job::{ChangeState, CutState, Job, Quote, Shop, StepState};
use price::{JobRecord, MarginReview, UnitCosts, review};
use units::{Area, Duration, Money};

/// A job in the review.
#[derive(Clone, Debug)]
pub struct MarginRow {
    /// The car.
    pub car: CarTag,
    /// What it was reckoned from.
    pub record: JobRecord,
    /// Net less costs.
    pub margin: Money,
    /// That over the net price, percent; none when nothing is paid.
    pub percent: Option<f64>,
    /// Hours beyond the offer, at their cost; negative when fewer.
    pub hours_leak: Money,
    /// Film beyond the offer, at its cost.
    pub film_leak: Money,
    /// Work done again, at its cost.
    pub refit_leak: Money,
    /// Steps that were not timed: their planned time stands for them.
    pub untimed: usize,
}

/// The review.
#[derive(Clone, Debug, Default)]
pub struct MarginsView {
    /// Jobs that were handed over, the thinnest margin first.
    pub rows: Vec<MarginRow>,
    /// Sums: each explained.
    pub figures: Vec<Figure>,
    /// Where most money leaks, and what to look at.
    pub hint: Option<String>,
}

impl Studio {
    /// All jobs that were handed over: offered against actual.
    ///
    /// # Errors
    /// When the journal cannot be read or a figure makes no sense.
    pub fn margins_view(&self) -> Result<MarginsView, Refusal> {
        let shop = self.shop()?;
        let done: Vec<JobEntry> = self
            .jobs()?
            .into_iter()
            .filter(|e| e.job.handover.is_some() && e.job.accepted().is_some())
            .collect();
        let records: Vec<(JobRecord, usize)> = done.iter().map(|e| record(e, &shop)).collect();
        let costs = unit_costs(&shop);
        let list: Vec<JobRecord> = records.iter().map(|(r, _)| r.clone()).collect();
        let review = review(&list, &costs)
            .map_err(|e| Refusal::broken(e, "Look at the job that is named: a time or film of it is off."))?;
        let rows = review
            .jobs
            .iter()
            .filter_map(|j| {
                let at = list.iter().position(|r| r.job == j.job)?;
                Some(MarginRow {
                    car: CarTag::of(&done[at].id, &done[at].job),
                    record: list[at].clone(),
                    margin: j.margin,
                    percent: j.margin_share.map(|s| Money::new(s).as_estimate() * 100.0),
                    hours_leak: j.hours_leak,
                    film_leak: j.film_leak,
                    refit_leak: j.refit_leak,
                    untimed: records[at].1,
                })
            })
            .collect();
        Ok(MarginsView { rows, figures: figures(&review, &shop, &costs), hint: review.hint.clone() })
    }
}

/// What an hour and a square meter cost the shop.
fn unit_costs(shop: &Shop) -> UnitCosts {
    let prices = &shop.settings.prices;
    let film = shop.rolls.first().map_or(Money::ZERO, |r| r.cost_m2);
    UnitCosts { labor_hour: prices.hour + prices.consumables_hour, film_m2: film }
}

/// The price that holds: the option taken, or the last change that was agreed.
pub(super) fn agreed_quote(job: &Job) -> Option<&Quote> {
    let changed = job.changes.iter().rev().find(|c| matches!(c.state, ChangeState::Agreed(_)));
    changed.map(|c| &c.quote).or_else(|| job.accepted().map(|o| &o.quote))
}

fn record(entry: &JobEntry, shop: &Shop) -> (JobRecord, usize) {
    let job = &entry.job;
    let taken = job.accepted().map(|o| o.quote.clone()).unwrap_or_default();
    // a change is priced from where the car stood: what it adds stands in it
    let agreed = job.changes.iter().filter(|c| matches!(c.state, ChangeState::Agreed(_)));
    let more = agreed.fold((Money::ZERO, Duration::ZERO), |sum, c| {
        let net = c.quote.net.amount().checked_div(c.quote.gross.amount()).unwrap_or_default();
        (sum.0 + Money::new((c.more.amount() * net).round_dp(2)), sum.1 + c.more_hours)
    });
    let now = job.handover.as_ref().map_or(job.booked, |h| h.at);
    let (mut actual, mut again, mut untimed) = (Duration::ZERO, Duration::ZERO, 0);
    let mut bays = Duration::ZERO;
    let mut seen: Vec<(&str, &job::PanelId)> = Vec::new();
    for record in job.work.values().filter(|r| r.state == StepState::Done) {
        let planned = record.planned.work;
        let mut took = record.worked(now);
        // a tap afterwards is no time: the plan stands for it, and the page says how often
        if took < planned * 0.2 || took > planned * 5.0 {
            took = planned;
            untimed += 1;
        }
        let people = f64::from(if record.planned.skill.is_some() { record.planned.people.max(1) } else { 0 });
        actual += took * people;
        if !record.planned.room.is_empty() {
            bays += took;
        }
        // the same film step on the same panel a second time is work done again
        let pairs: Vec<(&str, &job::PanelId)> =
            record.planned.panels.iter().map(|p| (record.planned.step.as_str(), p)).collect();
        if record.planned.step == "lay_film" && pairs.iter().any(|p| seen.contains(p)) {
            again += took * people;
        }
        seen.extend(pairs);
    }
    let film_offered = taken.film;
    let cut = job.cut.as_ref().filter(|c| c.state == CutState::Cut);
    let film_actual = cut.map_or(Area::ZERO, |c| c.film_area());
    let chemicals: Money = job
        .work
        .values()
        .flat_map(|r| &r.lots)
        .filter_map(|used| {
            let cost = shop.products.iter().find(|p| p.name == used.product)?.cost_l;
            Money::from_estimate(cost.as_estimate() * used.amount.as_l())
        })
        .sum();
    let bay_cost = Money::from_estimate(shop.settings.prices.bay_hour.as_estimate() * bays.as_hours())
        .unwrap_or_default();
    let record = JobRecord {
        job: entry.id.to_string(),
        net: taken.net + more.0,
        hours_offered: taken.hours_p50 + more.1,
        hours_actual: actual,
        hours_refit: again,
        film_offered,
        film_actual,
        film_refit: Area::ZERO,
        other_costs: (chemicals + bay_cost).rounded(2, shop.settings.prices.rounding),
    };
    (record, untimed)
}

fn figures(review: &MarginReview, shop: &Shop, costs: &UnitCosts) -> Vec<Figure> {
    let show = |m: Money| m.display(shop.settings.prices.currency);
    let leak = |label: &str, amount: Money, formula: &str| {
        Figure::new(label, show(amount), "").by(formula, "Journal of this shop; costs under Shop, Prices")
    };
    let mut figures = vec![
        leak("Paid, net", review.net, "option taken, with the changes that were agreed; tax left out"),
        leak("Left over", review.margin, "net − hours × cost of an hour − film × cost − chemicals − bays")
            .from("An hour, with consumables", show(costs.labor_hour))
            .from("A square meter of film", show(costs.film_m2)),
        leak(
            "Hours beyond the offers",
            review.hours_leak,
            "(hours that it took, refits left out − hours at P50 of the offer) × cost of an hour; below zero: fewer",
        ),
        leak(
            "Film beyond the offers",
            review.film_leak,
            "(film cut − film of the offer) × its cost; below zero: less",
        ),
        leak(
            "Work done again",
            review.refit_leak,
            "hours of film steps that were done a second time on the same panel × cost of an hour",
        ),
    ];
    if let Some(ratio) = review.hours_ratio {
        figures.push(
            Figure::new("Hours against the offers", format!("{ratio:.2}"), "×")
                .by("hours that it took over hours offered", "Journal of this shop"),
        );
    }
    figures
}
