//! Margin review: what was offered against what it took, job by job, and where money leaks.

use crate::PriceError;
use crate::error::within;
use crate::rules::payable;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use units::{Area, Duration, Money};

/// A finished job's figures, offered and actual.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JobRecord {
    /// The job.
    pub job: String,
    /// Net price that was paid.
    pub net: Money,
    /// Hours of labor that the price was made for.
    pub hours_offered: Duration,
    /// Hours that it took.
    pub hours_actual: Duration,
    /// Of these, spent on work done again.
    pub hours_refit: Duration,
    /// Film that the price was made for.
    pub film_offered: Area,
    /// Film used up.
    pub film_actual: Area,
    /// Of this, used on work done again.
    pub film_refit: Area,
    /// Everything else it cost: chemicals, rooms.
    pub other_costs: Money,
}

/// What an hour and a square meter cost the shop.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct UnitCosts {
    /// An hour of labor with all it carries.
    pub labor_hour: Money,
    /// A square meter of film.
    pub film_m2: Money,
}

/// A job reviewed. Leaks are positive when money was lost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JobReview {
    /// The job.
    pub job: String,
    /// Net price less all costs.
    pub margin: Money,
    /// That over the net price; `None` when nothing was paid.
    pub margin_share: Option<Decimal>,
    /// Hours above the offered ones, refits left out, at their cost.
    pub hours_leak: Money,
    /// Film above the offered, refits left out, at its cost.
    pub film_leak: Money,
    /// Work done again: hours and film.
    pub refit_leak: Money,
}

/// All jobs together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MarginReview {
    /// Job by job, the thinnest margin first.
    pub jobs: Vec<JobReview>,
    /// Sum of the nets.
    pub net: Money,
    /// Sum of the margins.
    pub margin: Money,
    /// Sum of the hours' leaks.
    pub hours_leak: Money,
    /// Sum of the film's leaks.
    pub film_leak: Money,
    /// Sum of the refits.
    pub refit_leak: Money,
    /// Actual over offered hours, refits left out; the pace at which offers were beaten or missed. `None` without hours.
    pub hours_ratio: Option<f64>,
    /// Where most money leaks, and what to look at; `None` when nothing does.
    pub hint: Option<String>,
}

/// Reviews finished jobs.
///
/// # Errors
/// When a time, an area or a cost is negative or no number, or refits are more than the whole.
pub fn review(records: &[JobRecord], costs: &UnitCosts) -> Result<MarginReview, PriceError> {
    payable("the cost of an hour", costs.labor_hour)?;
    payable("the cost of film", costs.film_m2)?;
    let mut jobs = records.iter().map(|r| r.review(costs)).collect::<Result<Vec<_>, _>>()?;
    jobs.sort_by(|a, b| a.margin_share.cmp(&b.margin_share).then_with(|| a.job.cmp(&b.job)));
    let sum = |part: fn(&JobReview) -> Money| jobs.iter().map(part).sum::<Money>();
    let (hours_leak, film_leak, refit_leak) =
        (sum(|j| j.hours_leak), sum(|j| j.film_leak), sum(|j| j.refit_leak));
    let offered: Duration = records.iter().map(|r| r.hours_offered).sum();
    let first_time: Duration = records.iter().map(|r| r.hours_actual - r.hours_refit).sum();
    let leaks = [
        (
            hours_leak,
            "Hours beyond the offers leak most: correct the step table, or let it learn from finished tasks.",
        ),
        (
            film_leak,
            "Film beyond the offers leaks most: nest before offering, use offcuts first, check the trim.",
        ),
        (
            refit_leak,
            "Work done again leaks most: look at dust, waiting times and the pieces that were refitted.",
        ),
    ];
    let most = leaks.into_iter().max_by_key(|l| l.0).filter(|l| l.0 > Money::ZERO);
    Ok(MarginReview {
        net: records.iter().map(|r| r.net).sum(),
        margin: sum(|j| j.margin),
        hours_leak,
        film_leak,
        refit_leak,
        hours_ratio: (offered > Duration::ZERO).then(|| first_time / offered),
        hint: most.map(|l| l.1.to_owned()),
        jobs,
    })
}

impl JobRecord {
    fn review(&self, costs: &UnitCosts) -> Result<JobReview, PriceError> {
        let place = format!("job '{}'", self.job);
        let time = |what, t: Duration, most: f64| {
            within(&place, what, t.as_hours(), 0.0, most, "0 or more hours, refits within the whole")
        };
        let area = |what, a: Area, most: f64| {
            within(&place, what, a.as_m2(), 0.0, most, "0 or more m², refits within the whole")
        };
        let offered = time("the hours offered", self.hours_offered, 1e5)?;
        let actual = time("the hours it took", self.hours_actual, 1e5)?;
        let again = time("the hours of refits", self.hours_refit, actual)?;
        let film_offered = area("the film offered", self.film_offered, 1e5)?;
        let film_actual = area("the film used", self.film_actual, 1e5)?;
        let film_again = area("the film of refits", self.film_refit, film_actual)?;
        payable("the other costs", self.other_costs)?;
        payable("the net price", self.net)?;
        let cost = |unit: Money, number: f64| {
            // hours and areas are measured, not counted: three decimals are more than a stopwatch gives
            let number = Decimal::from_f64_retain(number).map(|d| d.round_dp(3));
            number
                .and_then(|n| unit.amount().checked_mul(n))
                .map(|d| Money::new(d.round_dp(2)))
                .ok_or_else(|| PriceError::Amount(place.clone()))
        };
        let spent = cost(costs.labor_hour, actual)? + cost(costs.film_m2, film_actual)? + self.other_costs;
        let margin = self.net - spent;
        Ok(JobReview {
            job: self.job.clone(),
            margin,
            margin_share: margin.amount().checked_div(self.net.amount()).map(|d| d.round_dp(4).normalize()),
            hours_leak: cost(costs.labor_hour, actual - again - offered)?,
            film_leak: cost(costs.film_m2, film_actual - film_again - film_offered)?,
            refit_leak: cost(costs.labor_hour, again)? + cost(costs.film_m2, film_again)?,
        })
    }
}
