//! From scope to offer: a price that carries its risk.

use crate::rules::payable;
use crate::simulate::{Sample, quantile};
use crate::tax::{Taxed, Totals, totals};
use crate::{
    Deposit, Discount, FilmUse, HoursRisk, LineKind, PriceError, Quantity, Refusal, Renewals, Scope,
    ShopRules,
};
use effort::Effort;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use units::{Duration, Explained, Length, Money, Thickness};

/// One line of an offer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// What for.
    pub kind: LineKind,
    /// As the customer reads it.
    pub label: String,
    /// How much.
    pub quantity: Quantity,
    /// Selling price of one unit, net of tax.
    pub unit_price: Money,
    /// This line's part of the discount.
    pub discount: Money,
    /// Quantity × unit price − discount, rounded.
    pub net: Money,
    /// Rate of its tax.
    pub tax_rate: Decimal,
}

/// One option, priced.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OptionPrice {
    /// As the customer reads it.
    pub name: String,
    /// Lines that add up to the net price to the last digit.
    pub lines: Vec<Line>,
    /// Net, taxes by rate, gross.
    pub totals: Totals,
    /// Before work begins, with tax.
    pub deposit: Money,
    /// After it, with tax.
    pub balance: Money,
    /// Net price that would hold in half of all cases, after discount.
    pub net_p50: Money,
    /// Net price that would hold in eight of ten.
    pub net_p80: Money,
    /// Share of the draws in which hours and rooms cost no more than the offered price allows for, margin kept.
    pub holds: f64,
    /// Share of the draws in which the price covers the costs, margin used up.
    pub covers_costs: f64,
    /// What the job costs the shop, mean of the draws.
    pub cost: Money,
    /// The hours and their risk.
    pub hours: HoursRisk,
    /// Film.
    pub film: FilmUse,
    /// What to expect over the years.
    pub renewals: Option<Renewals>,
    /// Clear coat spent for good.
    pub clear_coat: Thickness,
    /// Seams that are seen.
    pub seam_in_sight: Length,
    /// What will not be tried and why.
    pub not_attempted: Vec<Refusal>,
    /// How long the offer stands.
    pub valid: Duration,
    /// How its figures were computed.
    pub explained: Vec<Explained>,
}

/// Options side by side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OptionSet {
    /// In the order given.
    pub options: Vec<OptionPrice>,
    /// What is wanting when there are fewer than three; a customer should have a choice.
    pub hint: Option<String>,
}

/// Prices one option.
///
/// Costs per draw: labor × (labor + overhead + consumables an hour) + rooms + materials. The net price is the cost's
/// quantile at the shop's rule over (1 − margin). Lines stand at the hours of P50; what is wanting to the quantile is a
/// line of its own, the reserve.
///
/// # Errors
/// When scope or rules make no sense, a room has no price, or the effort was too small.
pub fn offer(scope: &Scope, rules: &ShopRules, effort: &Effort) -> Result<OptionPrice, PriceError> {
    rules.check()?;
    let sample = Sample::draw(&scope.network, rules.draws, rules.seed, effort)?;
    let hours = sample.told(&scope.network);
    Offerer { scope, rules, sample, hours }.price()
}

/// Prices options side by side with common random numbers: their difference is what differs in them, not luck.
///
/// # Errors
/// As [`offer`], at the first option that cannot be priced.
pub fn options(scopes: &[Scope], rules: &ShopRules, effort: &Effort) -> Result<OptionSet, PriceError> {
    let options = scopes.iter().map(|scope| offer(scope, rules, effort)).collect::<Result<Vec<_>, _>>()?;
    let hint = (options.len() < 3).then(|| {
        format!(
            "Only {} to choose from: add options, such as less coverage, other seams or a milder finish.",
            options.len()
        )
    });
    Ok(OptionSet { options, hint })
}

struct Offerer<'a> {
    scope: &'a Scope,
    rules: &'a ShopRules,
    sample: Sample,
    hours: HoursRisk,
}

impl Offerer<'_> {
    fn price(self) -> Result<OptionPrice, PriceError> {
        let costs = self.costs()?;
        let keep = 1.0 - to_f64(self.rules.margin);
        let mut lines = self.lines()?;
        let base: Money = lines.iter().map(|l| l.net).sum();
        let at = |q: f64| estimate(quantile(&costs, q) / keep, "the price");
        let wanted = self.round_up(at(self.rules.holds)?);
        if wanted > base {
            lines.push(self.line(
                LineKind::Reserve,
                format!("Reserve, so that the price holds in {:.0} of 100 cases", self.rules.holds * 100.0),
                Quantity::Pieces(1.0),
                wanted - base,
            )?);
        }
        let full: Money = lines.iter().map(|l| l.net).sum();
        let off = self.take_off(&mut lines, full)?;
        let totals = self.totals(&lines);
        let deposit = self.deposit(totals.gross)?;
        let full_f = full.as_estimate();
        let holds = share(&costs, full_f * keep);
        let covers_costs = share(&costs, totals.net.as_estimate());
        let cost = self.round(estimate(costs.iter().sum::<f64>() / costs.len() as f64, "the cost")?);
        let (net_p50, net_p80) = (self.round_up(at(0.5)?) - off, self.round_up(at(0.8)?) - off);
        let explained = self.explained(&totals, base, full, net_p50, holds);
        Ok(OptionPrice {
            name: self.scope.name.clone(),
            lines,
            deposit,
            balance: totals.gross - deposit,
            totals,
            net_p50,
            net_p80,
            holds,
            covers_costs,
            cost,
            hours: self.hours,
            film: self.scope.film,
            renewals: self.scope.renewals,
            clear_coat: self.scope.clear_coat,
            seam_in_sight: self.scope.seam_in_sight,
            not_attempted: self.scope.not_attempted.clone(),
            valid: self.rules.valid,
            explained,
        })
    }

    /// What an hour of labor costs with all it carries.
    fn labor_hour(&self) -> Money {
        self.rules.labor_hour + self.rules.overhead_hour + self.rules.consumables_hour
    }

    fn room_hour(&self, room: &str) -> Result<Money, PriceError> {
        self.rules.rooms.get(room).copied().ok_or_else(|| PriceError::NoSuchRoom(room.to_owned()))
    }

    /// Cost of each draw, sorted. Estimates, not money: only their quantiles become money.
    fn costs(&self) -> Result<Vec<f64>, PriceError> {
        let mut materials = Money::ZERO;
        for m in &self.scope.materials {
            payable("the cost of a material", m.unit_cost)?;
            materials += times(m.unit_cost, number(&m.quantity, &m.label)?, &m.label)?;
        }
        let (fixed, labor) = (materials.as_estimate(), self.labor_hour().as_estimate());
        let mut costs: Vec<f64> = self.sample.labor.iter().map(|h| fixed + h * labor).collect();
        for (name, hours) in self.sample.room_names.iter().zip(&self.sample.rooms) {
            let hour = self.room_hour(name)?.as_estimate();
            costs.iter_mut().zip(hours).for_each(|(c, h)| *c += h * hour);
        }
        costs.sort_by(f64::total_cmp);
        Ok(costs)
    }

    /// Lines at the hours of P50, selling price = cost / (1 − margin).
    fn lines(&self) -> Result<Vec<Line>, PriceError> {
        let mut lines = vec![self.line(
            LineKind::Labor,
            "Labor".into(),
            Quantity::Time(self.hours.labor.p50),
            self.selling(self.labor_hour())?,
        )?];
        for m in &self.scope.materials {
            // cheap per unit (milliliters, blades) keeps its digits: only the line is rounded
            lines.push(self.line(m.kind, m.label.clone(), m.quantity, self.selling(m.unit_cost)?)?);
        }
        for (room, span) in &self.hours.rooms {
            let price = self.selling(self.room_hour(room)?)?;
            lines.push(self.line(LineKind::Room, room.clone(), Quantity::Time(span.p50), price)?);
        }
        Ok(lines)
    }

    /// Cost over (1 − margin), to four decimals more than nothing is lost by.
    fn selling(&self, cost: Money) -> Result<Money, PriceError> {
        let price = cost.amount().checked_div(Decimal::ONE - self.rules.margin);
        let price = price.ok_or_else(|| PriceError::Amount("a selling price".into()))?;
        Ok(Money::new(price).rounded(self.rules.currency.digits() + 2, self.rules.rounding))
    }

    fn line(
        &self,
        kind: LineKind,
        label: String,
        quantity: Quantity,
        unit_price: Money,
    ) -> Result<Line, PriceError> {
        let net = self.round(times(unit_price, number(&quantity, &label)?, &label)?);
        let tax_rate = self.rules.tax.rate(kind);
        Ok(Line { kind, label, quantity, unit_price, discount: Money::ZERO, net, tax_rate })
    }

    /// Spreads the discount over the lines by their nets; the cents left over go to the largest lines first.
    fn take_off(&self, lines: &mut [Line], full: Money) -> Result<Money, PriceError> {
        let wrong = |got: Decimal| PriceError::Value {
            place: format!("option '{}'", self.scope.name),
            what: "the discount",
            got: got.to_string(),
            allowed: "from nothing up to the whole price",
        };
        let off = match self.scope.discount {
            Discount::None => return Ok(Money::ZERO),
            Discount::Share(s) if (Decimal::ZERO..=Decimal::ONE).contains(&s) => self.round(full * s),
            Discount::Amount(a) if (Money::ZERO..=full).contains(&a) => self.round(a),
            Discount::Share(s) => return Err(wrong(s)),
            Discount::Amount(a) => return Err(wrong(a.amount())),
        };
        let ratio = off.amount().checked_div(full.amount()).unwrap_or_default();
        let digits = self.rules.currency.digits();
        let cent = Money::new(Decimal::new(1, digits));
        let mut left = off;
        for line in lines.iter_mut() {
            line.discount = (line.net * ratio).rounded(digits, units::Rounding::Down);
            left = left - line.discount;
        }
        let mut by_net: Vec<usize> = (0..lines.len()).collect();
        by_net.sort_by_key(|i| std::cmp::Reverse(lines[*i].net));
        for i in by_net.into_iter().cycle().take(lines.len() * 2) {
            if left < cent {
                break;
            }
            if lines[i].net - lines[i].discount >= cent {
                lines[i].discount += cent;
                left = left - cent;
            }
        }
        for line in lines {
            line.net = line.net - line.discount;
        }
        Ok(off)
    }

    fn totals(&self, lines: &[Line]) -> Totals {
        let amounts: Vec<_> = lines.iter().map(|l| Taxed { net: l.net, rate: l.tax_rate }).collect();
        totals(&amounts, &self.rules.tax, self.rules.currency.digits())
    }

    fn deposit(&self, gross: Money) -> Result<Money, PriceError> {
        Ok(match self.rules.deposit {
            Deposit::None => Money::ZERO,
            Deposit::Share(s) => self.round(gross * s),
            Deposit::Amount(a) => a.min(gross),
        })
    }

    fn round(&self, amount: Money) -> Money {
        amount.rounded(self.rules.currency.digits(), self.rules.rounding)
    }

    /// To the next cent above: a price rounded down would not hold as often as it says.
    fn round_up(&self, amount: Money) -> Money {
        let digits = self.rules.currency.digits();
        let down = amount.rounded(digits, units::Rounding::Down);
        if down < amount { down + Money::new(Decimal::new(1, digits)) } else { down }
    }

    fn explained(&self, totals: &Totals, base: Money, full: Money, p50: Money, holds: f64) -> Vec<Explained> {
        let show = |m: Money| m.display(self.rules.currency);
        let percent = |d: Decimal| format!("{} %", (d * Decimal::ONE_HUNDRED).normalize());
        let mut explained = self.hours.explained.clone();
        explained.push(
            Explained::new(
                "Net price",
                "quantile of (labor × hourly costs + rooms + materials) over the draws, divided by (1 − margin); lines at P50, the rest is the reserve",
                "costs, margin and quantile set by the shop",
            )
            .with("hour of labor, with overhead and consumables", show(self.labor_hour()))
            .with("margin", percent(self.rules.margin))
            .with("lines at P50", show(base))
            .with("price to hold", format!("in {:.0} of 100 draws: {}", self.rules.holds * 100.0, show(full)))
            .with("held", format!("in {:.1} of 100 draws", holds * 100.0))
            .with("after discount, P50", show(p50)),
        );
        let basis = match self.rules.tax.basis {
            crate::TaxBasis::PerLine => "net × rate, rounded on each line, then added up",
            crate::TaxBasis::PerInvoice => "lines of one rate added up, × rate, rounded once",
        };
        let mut tax = Explained::new("Tax", basis, "rates and rounding set by the shop");
        for group in &totals.groups {
            tax = tax.with(format!("{} on {}", percent(group.rate), show(group.net)), show(group.tax));
        }
        explained.push(tax);
        explained
    }
}

/// Share of sorted costs at or below an amount; a hair of room for the six decimals of an estimate.
fn share(sorted: &[f64], amount: f64) -> f64 {
    sorted.partition_point(|c| *c <= amount + 1e-5) as f64 / sorted.len() as f64
}

fn number(quantity: &Quantity, label: &str) -> Result<Decimal, PriceError> {
    quantity.number().filter(|d| *d >= Decimal::ZERO).ok_or_else(|| PriceError::Value {
        place: format!("line '{label}'"),
        what: "the quantity",
        got: format!("{quantity:?}"),
        allowed: "a number of 0 or more",
    })
}

fn times(price: Money, quantity: Decimal, label: &str) -> Result<Money, PriceError> {
    let most = Decimal::from(1_000_000_000_000u64);
    let amount = price.amount().checked_mul(quantity).filter(|a| *a <= most);
    amount.map(Money::new).ok_or_else(|| PriceError::Amount(format!("line '{label}'")))
}

fn estimate(value: f64, what: &str) -> Result<Money, PriceError> {
    Money::from_estimate(value).ok_or_else(|| PriceError::Amount(what.into()))
}

fn to_f64(d: Decimal) -> f64 {
    Money::new(d).as_estimate()
}
