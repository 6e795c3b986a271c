//! What was agreed, for the bookkeeper: deposits, balances and lines, as data. No payments are handled here.

use super::margins::agreed_quote;
use crate::refusal::Refusal;
use crate::studio::{Studio, zone_of};
use jiff::civil::Date;
use job::{ChangeState, PriceList, TaxRule};
use rust_decimal::Decimal;
use serde::Serialize;
use serde_json::{Value, json};
use units::Money;

/// One line of what was agreed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoneyLine {
    /// What.
    pub label: String,
    /// How much of it, in words.
    pub quantity: String,
    /// Net.
    pub net: Money,
}

/// What one job owes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoneyEntry {
    /// The job.
    pub job: String,
    /// The car.
    pub car: String,
    /// The customer.
    pub customer: String,
    /// When it was agreed.
    pub agreed: Date,
    /// When the car was handed over.
    pub handed_over: Option<Date>,
    /// Lines that add up to the net.
    pub lines: Vec<MoneyLine>,
    /// Net.
    pub net: Money,
    /// Rate of tax, percent.
    pub tax_percent: f64,
    /// Tax.
    pub tax: Money,
    /// Net and tax.
    pub gross: Money,
    /// Asked for before work begins.
    pub deposit: Money,
    /// The rest.
    pub balance: Money,
}

/// What is to be paid on acceptance of a price, tax included, by the shop's rule.
pub fn deposit(gross: Money, prices: &PriceList) -> Money {
    let share = Decimal::from_f64_retain(prices.deposit_percent / 100.0).unwrap_or_default().round_dp(6);
    (gross * share).rounded(prices.currency.digits(), prices.rounding)
}

impl Studio {
    /// Every job that somebody agreed to, oldest first: as it stands with the changes that were agreed.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn money(&self) -> Result<Vec<MoneyEntry>, Refusal> {
        let shop = self.shop()?;
        let zone = zone_of(&shop);
        let prices = &shop.settings.prices;
        let digits = prices.currency.digits();
        let day = |at: jiff::Timestamp| at.to_zoned_datetime(zone.clone()).date();
        let mut entries: Vec<MoneyEntry> = Vec::new();
        for entry in self.jobs()? {
            let job = &entry.job;
            let (Some(acceptance), Some(taken)) = (&job.acceptance, job.accepted()) else { continue };
            // A change stands with what it adds: priced from where the car stood, its own lines would count work twice.
            let mut lines: Vec<MoneyLine> = taken
                .quote
                .lines
                .iter()
                .map(|l| MoneyLine { label: l.label.clone(), quantity: l.quantity.clone(), net: l.net })
                .collect();
            let (mut net, mut tax) = (taken.quote.net, taken.quote.tax);
            for change in job.changes.iter().filter(|c| matches!(c.state, ChangeState::Agreed(_))) {
                let share = change.quote.net.amount().checked_div(change.quote.gross.amount());
                let more = change.more * share.unwrap_or(Decimal::ONE);
                let more = more.rounded(digits, prices.rounding);
                let label = format!("Change order {}: {}", change.no, change.reason);
                lines.push(MoneyLine { label, quantity: String::new(), net: more });
                net += more;
                tax += change.more - more;
            }
            let rate = agreed_quote(job).and_then(|q| q.tax.amount().checked_div(q.net.amount()));
            let percent =
                rate.map_or(0.0, |r| Money::new((r * Decimal::ONE_HUNDRED).round_dp(2)).as_estimate());
            let gross = net + tax;
            let deposit = deposit(taken.quote.gross, prices);
            entries.push(MoneyEntry {
                job: entry.id.to_string(),
                car: format!("{} {}", job.car.name, job.car.plate).trim().to_owned(),
                customer: job.customer.name.clone(),
                agreed: day(acceptance.signed.at),
                handed_over: job.handover.as_ref().map(|h| day(h.at)),
                lines,
                net,
                tax_percent: percent,
                tax,
                gross,
                deposit,
                balance: gross - deposit,
            });
        }
        entries.sort_by(|a, b| a.agreed.cmp(&b.agreed).then_with(|| a.job.cmp(&b.job)));
        Ok(entries)
    }
}

/// As CSV: one row for each job, amounts with a decimal point. Text that a table program would take for a formula begins
/// with an apostrophe.
pub fn money_csv(entries: &[MoneyEntry], currency: units::Currency) -> String {
    let mut out = String::from(
        "job,car,customer,agreed,handed_over,currency,net,tax_percent,tax,gross,deposit,balance\r\n",
    );
    let amount = |m: Money| m.rounded(currency.digits(), units::Rounding::HalfUp).amount().to_string();
    for e in entries {
        let handed = e.handed_over.map(|d| d.to_string()).unwrap_or_default();
        let cells = [
            quoted(&e.job),
            quoted(&e.car),
            quoted(&e.customer),
            e.agreed.to_string(),
            handed,
            currency.code().to_owned(),
            amount(e.net),
            format!("{}", e.tax_percent),
            amount(e.tax),
            amount(e.gross),
            amount(e.deposit),
            amount(e.balance),
        ];
        out.push_str(&cells.join(","));
        out.push_str("\r\n");
    }
    out
}

/// A text cell (RFC 4180).
fn quoted(text: &str) -> String {
    let safe =
        if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.to_owned() };
    if safe.contains([',', '"', '\n', '\r']) { format!("\"{}\"", safe.replace('"', "\"\"")) } else { safe }
}

/// As JSON: jobs with their lines; amounts are decimals as text.
pub fn money_json(entries: &[MoneyEntry], currency: units::Currency, rule: TaxRule) -> Value {
    json!({
        "currency": currency.code(),
        "tax": match rule { TaxRule::Invoice => "on the whole, rounded once", TaxRule::Line => "on each line, rounded each time" },
        "jobs": entries,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_quoted_by_rfc_4180_and_no_formula_gets_through() {
        assert_eq!(quoted("Heron, \"sage\""), "\"Heron, \"\"sage\"\"\"");
        assert_eq!(quoted("=1+1"), "'=1+1");
        assert_eq!(quoted("plain"), "plain");
    }
}
