//! What the shop has settled about money.

use crate::PriceError;
use crate::error::within;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Currency, Duration, Money, Rounding, Seed};

/// What a line is for; the tax may differ by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LineKind {
    /// Hours of people.
    Labor,
    /// Film.
    Film,
    /// Chemicals.
    Chemical,
    /// Pads, cloths, gloves, blades.
    Consumable,
    /// Bays and rooms.
    Room,
    /// What makes a fixed price hold.
    Reserve,
    /// Anything else.
    Other,
}

/// How tax is rounded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TaxBasis {
    /// Each line's tax is rounded, then added up.
    PerLine,
    /// Lines of one rate are added up, then the tax is rounded once.
    #[default]
    PerInvoice,
}

/// The shop's tax. What is right where the shop stands, its tax adviser knows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TaxRule {
    /// On everything not listed below: 0.20 for 20 %.
    pub standard: Decimal,
    /// By kind of line, where it differs.
    pub by_kind: BTreeMap<LineKind, Decimal>,
    /// Rounded by line or by invoice.
    pub basis: TaxBasis,
    /// How halves are rounded.
    pub rounding: Rounding,
}

impl TaxRule {
    /// One rate on everything, rounded once.
    pub fn flat(standard: Decimal) -> Self {
        Self { standard, by_kind: BTreeMap::new(), basis: TaxBasis::PerInvoice, rounding: Rounding::HalfUp }
    }

    /// On a kind of line.
    pub fn rate(&self, kind: LineKind) -> Decimal {
        self.by_kind.get(&kind).copied().unwrap_or(self.standard)
    }
}

/// Taken off the whole price, spread over the lines so that each rate of tax gets its part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Discount {
    /// Nothing.
    #[default]
    None,
    /// A share of the net price, 0.05 for 5 %.
    Share(Decimal),
    /// An amount, net of tax.
    Amount(Money),
}

/// What is paid before work begins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Deposit {
    /// Nothing.
    #[default]
    None,
    /// A share of the price with tax, 0.30 for 30 %.
    Share(Decimal),
    /// An amount with tax, at most the price.
    Amount(Money),
}

/// How the shop prices.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShopRules {
    /// Of all prices.
    pub currency: Currency,
    /// What an hour of a person costs the shop.
    pub labor_hour: Money,
    /// Rent, insurance, office, carried by each hour of labor.
    pub overhead_hour: Money,
    /// Pads, cloths, gloves, used up by each hour of labor.
    pub consumables_hour: Money,
    /// What an hour of each room costs; a room not listed is an error, so that none is forgotten.
    pub rooms: BTreeMap<String, Money>,
    /// Share of the net price that is left over costs: 0.25 for 25 %.
    pub margin: Decimal,
    /// How often a fixed price is to hold: 0.8 unless the shop says otherwise.
    pub holds: f64,
    /// Tax.
    pub tax: TaxRule,
    /// How line amounts are rounded.
    pub rounding: Rounding,
    /// Before work begins.
    pub deposit: Deposit,
    /// How long an offer stands.
    pub valid: Duration,
    /// Draws of the simulation.
    pub draws: usize,
    /// Its seed.
    pub seed: Seed,
}

impl ShopRules {
    pub(crate) fn check(&self) -> Result<(), PriceError> {
        let place = "the shop's prices";
        let share = |what, value: Decimal, high: f64, allowed| {
            within(place, what, value.to_f64().unwrap_or(f64::NAN), 0.0, high, allowed).map(drop)
        };
        share("the margin", self.margin, 0.95, "a share from 0 to 0.95")?;
        share("the tax", self.tax.standard, 1.0, "a share from 0 to 1, such as 0.20")?;
        for rate in self.tax.by_kind.values() {
            share("a tax by kind of line", *rate, 1.0, "a share from 0 to 1")?;
        }
        within(place, "how often a price is to hold", self.holds, 0.5, 0.99, "0.5 to 0.99, such as 0.8")?;
        match self.deposit {
            Deposit::Share(s) => share("the deposit", s, 1.0, "a share from 0 to 1")?,
            Deposit::Amount(a) => payable("the deposit", a)?,
            Deposit::None => {}
        }
        for amount in
            [self.labor_hour, self.overhead_hour, self.consumables_hour].iter().chain(self.rooms.values())
        {
            payable("a cost per hour", *amount)?;
        }
        Ok(())
    }
}

/// `Ok` from nothing to a thousand million: so far from the ends of decimals that no sum of a job runs over.
pub(crate) fn payable(what: &'static str, amount: Money) -> Result<(), PriceError> {
    if (Money::ZERO..=Money::cents(100_000_000_000)).contains(&amount) {
        return Ok(());
    }
    Err(PriceError::Value {
        place: "the shop's prices".into(),
        what,
        got: amount.amount().to_string(),
        allowed: "0 to 1 000 000 000",
    })
}
