//! A scope of work as the price engine sees it, and its answer as a quote.

use super::{Case, WHOLE_CAR, learn, minutes_in_words, paint, seams};
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::body_of;
use crate::view::FilmView;
use ::price::{
    Deposit, Discount, FilmUse, JobNetwork, Law, LineKind, Material, OptionPrice, Quantity, Renewals, Scope,
    ShopRules, Task, TaxBasis, TaxRule, Taxed, TimeModel, totals,
};
use effort::Effort;
use job::{Coverage, Moment, OfferLine, Order, PlannedStep, Quote, Shop};
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use units::{Area, Duration, Length, Money, Seed, Thickness};

/// Draws of a price.
const DRAWS: usize = 4000;

/// A scope with everything that its price rests on.
pub struct Priced {
    /// The engine's answer.
    pub price: OptionPrice,
    /// The same as a job keeps it.
    pub quote: Quote,
    /// Its figures, explained.
    pub figures: Vec<Figure>,
}

/// Prices a scope of work.
///
/// # Errors
/// When the shop's prices make no sense.
pub fn price(
    case: Case<'_>,
    title: &str,
    order: &Order,
    steps: &[PlannedStep],
    film: &FilmView,
) -> Result<Priced, Refusal> {
    let Case { studio, shop, .. } = case;
    let scope = scope(case, title, order, steps, film)?;
    let rules = rules(shop, steps)?;
    let inputs = (&scope, &rules);
    let result = studio
        .results
        .get("price", &inputs, || ::price::offer(&scope, &rules, &Effort::steps(2 * DRAWS as u64)));
    let price = match &*result {
        Ok(price) => price.clone(),
        Err(e) => return Err(Refusal::invalid(e.to_string(), "Change it under shop, prices.")),
    };
    let quote = quote(&price, shop)?;
    let figures = figures(&price, &quote, shop, learn::times(studio, shop)?.timed);
    Ok(Priced { price, quote, figures })
}

fn decimal(value: f64) -> Decimal {
    // Through text: 7.5 is to be 7.5, not the nearest binary fraction.
    format!("{value}").parse().unwrap_or_default()
}

fn rules(shop: &Shop, steps: &[PlannedStep]) -> Result<ShopRules, Refusal> {
    let prices = &shop.settings.prices;
    let hundred = Decimal::ONE_HUNDRED;
    let rooms: BTreeMap<String, Money> =
        steps.iter().filter(|s| !s.room.is_empty()).map(|s| (room_name(&s.room), prices.bay_hour)).collect();
    Ok(ShopRules {
        currency: prices.currency,
        labor_hour: prices.hour,
        overhead_hour: Money::ZERO,
        consumables_hour: prices.consumables_hour,
        rooms,
        margin: decimal(prices.margin_percent) / hundred,
        holds: prices.held,
        tax: tax_rule(shop),
        rounding: prices.rounding,
        deposit: Deposit::Share(decimal(prices.deposit_percent) / hundred),
        valid: Duration::days(f64::from(prices.offer_days)),
        draws: DRAWS,
        seed: Seed::default(),
    })
}

fn tax_rule(shop: &Shop) -> TaxRule {
    let prices = &shop.settings.prices;
    TaxRule {
        standard: decimal(prices.tax_percent) / Decimal::ONE_HUNDRED,
        by_kind: BTreeMap::new(),
        basis: match prices.tax_rule {
            job::TaxRule::Invoice => TaxBasis::PerInvoice,
            job::TaxRule::Line => TaxBasis::PerLine,
        },
        rounding: prices.rounding,
    }
}

fn room_name(kind: &str) -> String {
    let words = kind.replace('_', " ");
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn scope(
    case: Case<'_>,
    title: &str,
    order: &Order,
    steps: &[PlannedStep],
    film: &FilmView,
) -> Result<Scope, Refusal> {
    let Case { studio, job, history, shop } = case;
    let survey = paint::survey(studio, job, history, shop, Moment::Before)?;
    let body = body_of(job);
    let clear_coat = paint::painted(body)
        .filter_map(|panel| {
            let plan = paint::correction(studio, job, shop, order.finish, survey.panel(panel.id)?, panel)?;
            Some(paint::planned_removal(&plan)?.mean)
        })
        .reduce(Thickness::max)
        .unwrap_or(Thickness::ZERO);
    let film_use = film.plan.as_ref().map_or(FilmUse::default(), |p| FilmUse {
        length: p.film_length(),
        used: p.film_area(),
        on_car: p.pieces_area,
    });
    let outlook = match order.film {
        Coverage::None => None,
        _ => seams::outlook(case, order)?,
    };
    Ok(Scope {
        name: title.to_owned(),
        network: network(order, steps, shop, &learn::times(studio, shop)?.model)?,
        materials: materials(shop, steps, film),
        film: film_use,
        renewals: outlook.as_ref().map(|o| renewals(o, shop)),
        clear_coat,
        seam_in_sight: outlook.map_or(Length::ZERO, |o| o.in_sight),
        discount: Discount::None,
        not_attempted: Vec::new(),
    })
}

fn network(
    order: &Order,
    steps: &[PlannedStep],
    shop: &Shop,
    model: &TimeModel,
) -> Result<JobNetwork, Refusal> {
    let estimates = &shop.settings.estimates;
    let mut network = JobNetwork {
        crew: Some(2),
        mishaps: model.mishaps(),
        shared: model.shared(),
        ..JobNetwork::default()
    };
    for (i, step) in steps.iter().enumerate() {
        let after: Vec<usize> = step
            .after
            .iter()
            .filter_map(|a| steps.iter().position(|s| s.no == a.step))
            .filter(|j| *j != i)
            .collect();
        let mut task =
            Task::new(format!("{}-{}", step.step, i), step.step.clone(), step.work, estimates.spread)
                .after(after);
        // a step that the library no longer has keeps the time that it was planned with
        if let Ok(forecast) = model.forecast(&step.step, step.work.as_minutes(), 1.0) {
            task.law = Law::LogNormal { median: forecast.median, spread: forecast.spread };
        }
        task.people = if step.skill.is_some() { step.people.max(1) } else { 0 };
        if !step.room.is_empty() {
            task = task.in_room(room_name(&step.room));
        }
        network.tasks.push(task);
    }
    network.shared.retain(|kind, _| steps.iter().any(|s| s.step == *kind));
    if !order.remove_film.is_empty() {
        // What old film hides is not known before it is off: its work is drawn with its chance, so that the price
        // carries the risk, and the rest is left to a change order.
        let panels = order.remove_film.iter().filter(|p| p.as_str() != WHOLE_CAR).count().max(1);
        let mut task = Task::new("hidden-marks", "hidden_marks", estimates.hidden_panel * panels as f64, 0.5);
        task.chance = estimates.hidden_share;
        network.tasks.push(task);
    }
    Ok(network)
}

fn materials(shop: &Shop, steps: &[PlannedStep], film: &FilmView) -> Vec<Material> {
    let mut materials = Vec::new();
    for taken in film.plan.iter().flat_map(|p| p.rolls()).filter(|r| r.length > Length::ZERO) {
        let cost = shop.rolls.iter().find(|r| r.id == taken.roll).map_or(Money::ZERO, |r| r.cost_m2);
        materials.push(Material {
            label: format!("Film, {:.2} m of a {:.0} mm roll", taken.length.as_m(), taken.width.as_mm()),
            kind: LineKind::Film,
            quantity: Quantity::Area(taken.length * taken.width),
            unit_cost: cost,
        });
    }
    let mut amounts: BTreeMap<&str, units::Volume> = BTreeMap::new();
    for used in steps.iter().flat_map(|s| &s.products) {
        *amounts.entry(used.product.as_str()).or_default() += used.amount;
    }
    for (name, amount) in amounts {
        let cost = shop.products.iter().find(|p| p.name == name).map_or(Money::ZERO, |p| p.cost_l);
        if cost > Money::ZERO {
            materials.push(Material {
                label: name.to_owned(),
                kind: LineKind::Chemical,
                quantity: Quantity::Volume(amount),
                unit_cost: cost,
            });
        }
    }
    materials
}

fn renewals(outlook: &::price::SeamPlan, shop: &Shop) -> Renewals {
    let prices = &shop.settings.prices;
    Renewals {
        expected: outlook.expected_renewals,
        horizon: Duration::days(365.25 * shop.settings.estimates.years),
        present_value: outlook.renewals.rounded(prices.currency.digits(), prices.rounding),
    }
}

fn quote(price: &OptionPrice, shop: &Shop) -> Result<Quote, Refusal> {
    let prices = &shop.settings.prices;
    let factor = Decimal::ONE + decimal(prices.tax_percent) / Decimal::ONE_HUNDRED;
    let lines = grouped(price);
    // Tax by line is the tax on the lines that the customer reads: chemicals and rooms stand together there.
    let rule = tax_rule(shop);
    let taxed: Vec<Taxed> = lines.iter().map(|l| Taxed { net: l.net, rate: rule.standard }).collect();
    let sums = totals(&taxed, &rule, prices.currency.digits());
    Ok(Quote {
        lines,
        net: sums.net,
        tax: sums.tax,
        gross: sums.gross,
        likely: (price.net_p50 * factor).rounded(prices.currency.digits(), prices.rounding),
        held: price.holds,
        hours_p50: price.hours.labor.p50,
        hours_p80: price.hours.labor.p80,
        film: price.film.used,
        replaced: price.renewals.map_or(0.0, |r| r.expected),
        clear: price.clear_coat,
    })
}

/// Lines as a customer reads them: chemicals together and rooms together; the sum stays to the last digit.
fn grouped(price: &OptionPrice) -> Vec<OfferLine> {
    let mut lines: Vec<OfferLine> = Vec::new();
    for line in &price.lines {
        let quantity =
            || line.quantity.number().map_or_else(String::new, |n| format!("{n} {}", line.quantity.unit()));
        let (label, quantity) = match line.kind {
            LineKind::Chemical => ("Chemicals".to_owned(), String::new()),
            LineKind::Room => ("Bays and rooms".to_owned(), String::new()),
            LineKind::Reserve => (line.label.clone(), String::new()),
            _ => (line.label.clone(), quantity()),
        };
        match lines.iter_mut().find(|l| l.label == label) {
            Some(sum) => sum.net += line.net,
            None => lines.push(OfferLine { label, quantity, net: line.net }),
        }
    }
    lines
}

fn figures(price: &OptionPrice, quote: &Quote, shop: &Shop, finished: usize) -> Vec<Figure> {
    let currency = shop.settings.prices.currency;
    let how = |label: &str| price.explained.iter().find(|e| e.label.to_lowercase().contains(label)).cloned();
    let mut figures = Vec::new();
    let mut fixed = Figure::new("Price", quote.gross.display(currency), "");
    if let Some(e) = how("net price") {
        fixed = fixed.how(e);
    }
    for line in &quote.lines {
        fixed = fixed.from(format!("{} {}", line.label, line.quantity), line.net.display(currency));
    }
    figures.push(fixed.from("Tax", quote.tax.display(currency)));
    let mut hours = Figure::new(
        "Work",
        format!("{:.1} to {:.1}", quote.hours_p50.as_hours(), quote.hours_p80.as_hours()),
        "h",
    );
    if let Some(e) = how("labor").or_else(|| how("hours")) {
        hours = hours.how(e);
    }
    hours = hours.by(
        "half of such jobs take at most the first figure, eight of ten at most the second; the whole network of steps is drawn, not only its longest chain",
        if shop.settings.estimates.learn_times && finished > 0 {
            "Simulation; times of the step library (common practice, no source), moved by this shop's finished steps"
        } else {
            "Simulation; times of the step library: common practice, no source"
        },
    );
    if shop.settings.estimates.learn_times {
        hours = hours.from("Finished steps learnt from", finished.to_string());
    }
    for task in price.hours.tasks.iter().take(5) {
        hours = hours.from(
            format!("Drives the risk: {}", task.kind.replace('_', " ")),
            format!("{:.0} %", task.share * 100.0),
        );
    }
    figures.push(hours);
    if price.film.used > Area::ZERO {
        figures.push(
            Figure::new("Film", format!("{:.1}", price.film.used.as_m2()), "m²")
                .by("length taken from the roll × its width", "computed layout")
                .from("On the car", format!("{:.1} m²", price.film.on_car.as_m2()))
                .from("Length", format!("{:.2} m", price.film.length.as_m())),
        );
    }
    if let Some(renewals) = price.renewals {
        figures.push(
            Figure::new(
                format!("Pieces renewed in {:.0} years", shop.settings.estimates.years),
                format!("{:.1}", renewals.expected),
                "",
            )
            .by(
                "damage rate of the zone × area × years, summed over the pieces; a piece is renewed whole",
                "Zone rates: common practice, no source, until the shop's own claims say better",
            )
            .from("In today's money about", renewals.present_value.display(currency)),
        );
    }
    if price.seam_in_sight > Length::ZERO {
        figures.push(Figure::new("Seam in sight", format!("{:.2}", price.seam_in_sight.as_m()), "m").by(
            "length of the chosen seams on the sides × the share of each that is seen",
            "Seams chosen for this car; planning drawing: common practice, no source",
        ));
    }
    if quote.clear > Thickness::ZERO {
        figures.push(Figure::new("Clear coat spent", format!("{:.1}", quote.clear.as_um()), "µm").by(
            "expected removal of the correction plan, on the panel that gives most",
            "Correction plan; it never comes back",
        ));
    }
    figures.push(
        Figure::new("Price holds", format!("{:.0}", quote.held * 100.0), "of 100 such jobs")
            .by(
                "share of simulated jobs in which hours and rooms cost no more than the price allows for",
                "Simulation",
            )
            .from("Half of such jobs would come to", quote.likely.display(currency))
            .from("Costs the shop, on average", price.cost.display(currency))
            .from(
                "Working time in the shop, 8 of 10",
                minutes_in_words(price.hours.elapsed.p80.as_minutes()),
            ),
    );
    figures
}
