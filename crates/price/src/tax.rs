//! Sums and tax in decimals, rounding as stated.

use crate::{TaxBasis, TaxRule};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Money, Rounding};

/// One amount with its rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Taxed {
    /// Net of tax.
    pub net: Money,
    /// 0.20 for 20 %.
    pub rate: Decimal,
}

/// The tax of one rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TaxGroup {
    /// The rate.
    pub rate: Decimal,
    /// Net amounts under it.
    pub net: Money,
    /// Its tax.
    pub tax: Money,
}

/// The foot of an invoice.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Totals {
    /// All nets.
    pub net: Money,
    /// By rate, the lowest first.
    pub groups: Vec<TaxGroup>,
    /// All taxes.
    pub tax: Money,
    /// To be paid.
    pub gross: Money,
}

/// Adds up nets and tax by the rule; `digits` after the point are the currency's.
pub fn totals(amounts: &[Taxed], rule: &TaxRule, digits: u32) -> Totals {
    let mut groups: BTreeMap<Decimal, (Money, Money)> = BTreeMap::new();
    for amount in amounts {
        // 0.2 and 0.20 are one rate
        let group = groups.entry(amount.rate.normalize()).or_default();
        group.0 += amount.net;
        if rule.basis == TaxBasis::PerLine {
            group.1 += (amount.net * amount.rate).rounded(digits, rule.rounding);
        }
    }
    let groups: Vec<_> = groups
        .into_iter()
        .map(|(rate, (net, by_line))| {
            let tax = match rule.basis {
                TaxBasis::PerLine => by_line,
                TaxBasis::PerInvoice => (net * rate).rounded(digits, rule.rounding),
            };
            TaxGroup { rate, net, tax }
        })
        .collect();
    let net = groups.iter().map(|g| g.net).sum();
    let tax = groups.iter().map(|g| g.tax).sum();
    Totals { net, tax, gross: net + tax, groups }
}

/// Net and tax inside an amount with tax; the two add up to it exactly.
pub fn from_gross(gross: Money, rate: Decimal, digits: u32, rounding: Rounding) -> Option<(Money, Money)> {
    let net = gross.amount().checked_div(Decimal::ONE + rate)?;
    let net = Money::new(net).rounded(digits, rounding);
    Some((net, gross - net))
}
