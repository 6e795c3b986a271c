//! A change order: what a new scope changes in time, money, clear coat and date.

use crate::{LineKind, OptionPrice};
use serde::{Deserialize, Serialize};
use units::{Duration, Explained, Money, Thickness};

/// One line before and after.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineChange {
    /// What for.
    pub kind: LineKind,
    /// The line.
    pub label: String,
    /// Net before; nothing when it is new.
    pub before: Money,
    /// Net after; nothing when it fell away.
    pub after: Money,
    /// After − before.
    pub change: Money,
}

/// The difference of two priced scopes; agreed before work goes on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChangePrice {
    /// Hours of labor at P50.
    pub labor_p50: Duration,
    /// Hours of labor at P80.
    pub labor_p80: Duration,
    /// Working time in the shop at P80.
    pub elapsed_p80: Duration,
    /// Net of tax.
    pub net: Money,
    /// Tax.
    pub tax: Money,
    /// To be paid more (or less).
    pub gross: Money,
    /// Clear coat spent more.
    pub clear_coat: Thickness,
    /// How far the handover moves, as the schedule says; `None` while it has not been planned.
    pub handover: Option<Duration>,
    /// Lines that differ, in the order of the new scope.
    pub lines: Vec<LineChange>,
    /// How it was computed.
    pub explained: Explained,
}

/// What changes from `before` to `after`. `handover` comes from the schedule, by the caller.
pub fn difference(before: &OptionPrice, after: &OptionPrice, handover: Option<Duration>) -> ChangePrice {
    let labor = |p: &OptionPrice| p.hours.labor;
    let net = after.totals.net - before.totals.net;
    let explained = Explained::new(
        "Change order",
        "new price − old price; both drawn with the same chances, so that only what differs counts",
        "agreed before the work goes on",
    )
    .with("old net", before.totals.net.amount().to_string())
    .with("new net", after.totals.net.amount().to_string())
    .with("old hours, P80", format!("{:.1} h", labor(before).p80.as_hours()))
    .with("new hours, P80", format!("{:.1} h", labor(after).p80.as_hours()));
    ChangePrice {
        labor_p50: labor(after).p50 - labor(before).p50,
        labor_p80: labor(after).p80 - labor(before).p80,
        elapsed_p80: after.hours.elapsed.p80 - before.hours.elapsed.p80,
        net,
        tax: after.totals.tax - before.totals.tax,
        gross: after.totals.gross - before.totals.gross,
        clear_coat: after.clear_coat - before.clear_coat,
        handover,
        lines: line_changes(before, after),
        explained,
    }
}

fn line_changes(before: &OptionPrice, after: &OptionPrice) -> Vec<LineChange> {
    let sum = |option: &OptionPrice, kind: LineKind, label: &str| -> Money {
        option.lines.iter().filter(|l| l.kind == kind && l.label == label).map(|l| l.net).sum()
    };
    let mut names: Vec<(LineKind, &str)> = Vec::new();
    for line in after.lines.iter().chain(&before.lines) {
        if !names.contains(&(line.kind, line.label.as_str())) {
            names.push((line.kind, &line.label));
        }
    }
    names
        .into_iter()
        .map(|(kind, label)| {
            let (b, a) = (sum(before, kind, label), sum(after, kind, label));
            LineChange { kind, label: label.to_owned(), before: b, after: a, change: a - b }
        })
        .filter(|line| line.change != Money::ZERO)
        .collect()
}
